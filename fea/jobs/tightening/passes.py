"""Tightening rods one after another, or a few at once, on the frame.

A nut that is turned does not move again until its turn comes: the *advance* of every other rod
stays as it is, and its force changes by what the structure gives. Where the advances end decides
the forces at the end, not the order; the order decides what each rod bears on the way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

from platestack.fea.solid.frame import Frame, SpringState
from platestack.fea.support.errors import SolveError
from platestack.geometry.parts import Point
from platestack.geometry.units import percent

MOST_ROUNDS = 60
"""Rounds of the usual way after which it is given up."""

MOST_PASSES = 10
"""Passes of a schedule."""


CLOSE = 1e-4
"""How closely the part of the limits that passes take is found."""

EARLY = 1e-3
"""What the part of the limits may cost that nuts go as much of their way as they can early."""

LOOSE = -1.0
"""Advance (m) of a nut that nobody has brought to touch yet."""


class Unreachable(SolveError):
    """The rods cannot be brought to their preload without going past what they bear."""


@dataclass(frozen=True)
class NutStep:
    """Rods tightened at one go, and the forces (m,) of all rods after it, in N.

    `advance` is how far (m) the nuts of `rods` stand beyond the place where all nuts touch and
    nothing bears; `turned` how far they were turned in this step, from where they touch if they
    were loose.
    """

    rods: tuple[int, ...]
    advance: tuple[float, ...]
    turned: tuple[float, ...]
    forces: np.ndarray

    @property
    def set_to(self) -> tuple[float, ...]:
        """Force (N) to which each of `rods` is brought."""
        return tuple(float(self.forces[rod]) for rod in self.rods)


@dataclass(frozen=True)
class TighteningPass:
    """Every rod tightened once."""

    steps: tuple[NutStep, ...]

    @property
    def forces(self) -> np.ndarray:
        """Force of every rod at the end (N)."""
        return self.steps[-1].forces

    def use(self, limits: np.ndarray | float) -> float:
        """Largest part of its limit (N) that any rod bears on the way."""
        return max(float((step.forces / limits).max()) for step in self.steps)


@dataclass(frozen=True)
class Bench:
    """The first `count` springs of a frame as rods to be tightened, under a steady `load` (n,)."""

    frame: Frame
    count: int
    load: np.ndarray | None = None

    def forces(self, advance: np.ndarray) -> np.ndarray:
        """Force of every rod (N) for the advances (m,) of all springs."""
        return self.frame.solve(advance, self.load).forces[: self.count]

    def advance_for(
        self, advance: np.ndarray, rods: Sequence[int], targets: np.ndarray
    ) -> np.ndarray:
        """Advances (m,) after some rods are brought to target forces (N), the others left alone."""
        frame, index = self.frame, list(rods)
        pull = frame.rows[index].T @ targets
        load = -pull if self.load is None else self.load - pull
        state = frame.solve(advance, load, without=index)
        after = advance.copy()
        after[index] = targets / frame.springs[index] - frame.rows[index] @ state.displacement
        return after

    @property
    def loose(self) -> np.ndarray:
        """Advances (m,) before any rod is tightened: no nut touches, seats do."""
        advance = np.zeros(len(self.frame.springs))
        advance[: self.count] = LOOSE
        return advance

    def touching(self, advance: np.ndarray) -> np.ndarray:
        """Advances (m,) with every loose nut run on by hand until it touches."""
        state = self.frame.solve(advance, self.load)
        return np.where(advance == LOOSE, -(self.frame.rows @ state.displacement), advance)

    def influence(self, advance: np.ndarray) -> np.ndarray:
        """Change of each rod's force (row) per force put into another (column), others left alone.

        Of the state with all rods at work; the diagonal is 1.
        """
        state = self.frame.solve(advance, self.load)
        stiffness = self.slope(state.forces > 0)[: self.count, : self.count]
        return np.asarray(stiffness / np.diag(stiffness))

    def slope(self, active: np.ndarray) -> np.ndarray:
        """Change of force per advance (m, m) in N/m with the `active` springs at work; symmetric.

        Its inverse is the flexibility of rods and structure together.
        """
        frame = self.frame
        springs = np.where(active, frame.springs, 0.0)
        matrix = frame.stiffness + frame.rows.T @ (springs[:, None] * frame.rows)
        inner = frame.rows @ np.linalg.pinv(matrix, rcond=1e-11, hermitian=True) @ frame.rows.T
        return np.asarray(np.diag(springs) - springs[:, None] * inner * springs[None, :])


def scatter(forces: np.ndarray, targets: np.ndarray) -> float:
    """Largest departure from the target, as a part of it."""
    return float(np.abs(forces / targets - 1).max())


def equal_rounds(
    bench: Bench, targets: np.ndarray, groups: Sequence[tuple[int, ...]], limit: float
) -> tuple[TighteningPass, ...]:
    """The usual way: every rod to its target in turn, round after round, until all are within."""
    rounds: list[TighteningPass] = []
    advance = bench.loose
    while not rounds or scatter(rounds[-1].forces, targets) > limit:
        if len(rounds) == MOST_ROUNDS:
            break
        steps = []
        for rods in groups:
            before = advance
            advance = bench.advance_for(advance, rods, targets[list(rods)])
            steps.append(_step(bench, rods, before, advance))
        rounds.append(TighteningPass(tuple(steps)))
    return tuple(rounds)


def schedule(
    bench: Bench,
    targets: np.ndarray,
    groups: Sequence[tuple[int, ...]],
    limits: np.ndarray | float,
    *,
    passes: int | None = None,
    fewest: int = 1,
    start: np.ndarray | None = None,
) -> tuple[TighteningPass, ...]:
    """Fewest passes that end with every rod at its target, none beyond its limit on the way.

    The advances at which all rods have their target are found first. In each pass every nut goes
    a part of its own way there, never back, in the last the whole: rods set early in a pass are
    overshot by just what the later ones take from them. Of all ways with so many passes, that is
    taken on which rods bear least, and on it nuts go as far as they can early.

    Parameters
    ----------
    targets : (count,) in N. groups : rods tightened at one go, in order.
    limits : force that no rod may pass (N), for all or for each.
    passes : how many are allowed; as few as possible if None, but not less than `fewest`: what the
        frame says of rods acting on each other counts in the last pass by its part of the way only.
    start : advances (m,) that the rods already have; loose if None.

    Raises
    ------
    Unreachable
        If even `MOST_PASSES` go past the limit.
    """
    way = _way(bench, targets, groups, start)
    count = fewest if passes is None else passes
    least, done = way.gentlest(limits, count)
    while passes is None and least > 1 + 1e-9 and count < MOST_PASSES:
        count += 1
        least, done = way.gentlest(limits, count)
    if least > 1 + 1e-9:
        raise Unreachable(
            f"Tightening in {count} passes takes a rod to {percent(least)} of what it or its "
            "sleeve "
            "may bear on the way. Allow more passes, tighten more rods at once, or lower "
            "rods.preload"
        )
    return done


def least_limit(
    bench: Bench,
    targets: np.ndarray,
    groups: Sequence[tuple[int, ...]],
    limits: np.ndarray | float,
    passes: int,
    start: np.ndarray | None = None,
) -> float:
    """Part of the limits that rods would have to bear if so many passes were to do."""
    return _way(bench, targets, groups, start).gentlest(limits, passes)[0]


def _way(
    bench: Bench,
    targets: np.ndarray,
    groups: Sequence[tuple[int, ...]],
    start: np.ndarray | None,
) -> _Way:
    """From loose nuts, or the advances at the start, to where all rods have their target."""
    begin = bench.loose if start is None else start
    return _Way(bench, begin, bench.advance_for(begin, range(bench.count), targets), groups)


@dataclass(frozen=True)
class _Way:
    """From the advances `begin` to `end`, group by group.

    `parts` (passes, count) below are the parts of their way that nuts have gone after each pass.
    """

    bench: Bench
    begin: np.ndarray
    end: np.ndarray
    groups: Sequence[tuple[int, ...]]

    def gentlest(
        self, limits: np.ndarray | float, count: int
    ) -> tuple[float, tuple[TighteningPass, ...]]:
        """Least part of the limits that `count` passes get along with, and those passes.

        Forces are straight in the advances as long as the same springs are at work. So a linear
        programme on the slopes along one way finds the next, until none is better; where springs
        let go, it may go less far at a time.
        """
        parts = np.tile(np.linspace(0, 1, count + 1)[1:, None], self.bench.count)
        cost, reach = self._cost(parts, limits), 1.0
        while count > 1 and reach > CLOSE:
            hoped, wish = self._better(parts, limits, reach)
            if hoped > cost - CLOSE:
                break
            found = self._cost(wish, limits)
            if found < cost:
                parts, cost = wish, found
            else:
                reach /= 4
        reached, done = self.begin, []
        for part in parts:
            done.append(_one_pass(self.bench, reached, self._at(part), self.groups))
            reached = self._at(part)
        return max(one.use(limits) for one in done), tuple(done)

    def _at(self, part: np.ndarray | float) -> np.ndarray:
        """Advances at a part of the way (count,); a loose nut begins where all touch."""
        start = np.where(self.begin == LOOSE, 0.0, self.begin)
        gone = np.ones(len(start))
        gone[: self.bench.count] = part
        return np.asarray(start + gone * (self.end - start))

    def states(self, parts: np.ndarray) -> Iterator[tuple[np.ndarray, SpringState]]:
        """Step by step: in which pass each nut was turned last (count,), -1 if never; the state."""
        advance, turned = self.begin.copy(), np.full(self.bench.count, -1)
        for number, part in enumerate(parts):
            for rods in map(list, self.groups):
                advance[rods], turned[rods] = self._at(part)[rods], number
                yield turned, self.bench.frame.solve(advance, self.bench.load)

    def _cost(self, parts: np.ndarray, limits: np.ndarray | float) -> float:
        """Largest part of the limits, and what of the way is left after all passes but the last."""
        count = self.bench.count
        most = max((state.forces[:count] / limits).max() for _, state in self.states(parts))
        return float(most + EARLY * (1 - parts).mean())

    def _better(
        self, parts: np.ndarray, limits: np.ndarray | float, reach: float
    ) -> tuple[float, np.ndarray]:
        """What it would cost, and parts at most `reach` away, by the slopes along the way."""
        count, size = self.bench.count, parts.size
        way = (self.end - self._at(0.0))[:count]
        known: dict[bytes, np.ndarray] = {}
        rows, most = [], []
        for turned, state in self.states(parts):
            active = state.forces > 0
            if active.tobytes() not in known:
                known[active.tobytes()] = self.bench.slope(active)[:count, :count] * way
            row = np.zeros((count, size))
            moved = np.flatnonzero(turned >= 0)
            row[:, turned[moved] * count + moved] = known[active.tobytes()][:, moved]
            rest = state.forces[:count] - row @ parts.ravel()
            rows.append(np.column_stack([row, np.zeros(count) - limits]) / np.mean(limits))
            most.append(-rest / np.mean(limits))
        # No nut is turned back: its part does not shrink from one pass to the next.
        back = np.eye(size, size + 1) - np.eye(size, size + 1, k=count)
        rows.append(back[:-count])
        most.append(np.zeros(size - count))
        low, high = np.maximum(parts - reach, 0), np.minimum(parts + reach, 1)
        low[-1] = 1.0
        price = np.append(np.full(size, -EARLY / size), 1.0)
        span = [*zip(low.ravel(), high.ravel(), strict=True), (0, None)]
        found = linprog(price, np.vstack(rows), np.concatenate(most), bounds=span, method="highs")
        if found.x is None:
            return math.inf, parts
        return float(found.fun + EARLY), found.x[:-1].reshape(parts.shape)


def _one_pass(
    bench: Bench, begin: np.ndarray, end: np.ndarray, groups: Sequence[tuple[int, ...]]
) -> TighteningPass:
    """Turn the nuts of each group in turn from one set of advances to another."""
    advance, steps = begin, []
    for rods in groups:
        before = advance
        advance = before.copy()
        advance[list(rods)] = end[list(rods)]
        steps.append(_step(bench, rods, before, advance))
    return TighteningPass(tuple(steps))


def _step(bench: Bench, rods: tuple[int, ...], before: np.ndarray, after: np.ndarray) -> NutStep:
    index = list(rods)
    turned = after - bench.touching(before)
    return NutStep(
        rods,
        tuple(after[index].tolist()),
        tuple(turned[index].tolist()),
        bench.forces(after),
    )


def star_order(places: Sequence[Point], jacks: int = 1) -> tuple[tuple[int, ...], ...]:
    """Crosswise order of rods: next always the one opposite, else the farthest from those done.

    With several jacks the rods of a group are as far apart, too.
    """
    left = list(range(len(places)))
    order = [left.pop(0)]
    while left:
        x, y = places[order[-1]]
        across = [i for i in left if math.dist(places[i], (-x, -y)) < 1e-6]
        open_pair = len(order) % 2 == 1
        if across and open_pair:
            chosen = across[0]
        else:
            chosen = max(left, key=lambda i: min(math.dist(places[i], places[j]) for j in order))
        left.remove(chosen)
        order.append(chosen)
    return tuple(tuple(order[i : i + jacks]) for i in range(0, len(order), jacks))
