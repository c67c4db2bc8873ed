"""Tightening rods one after another, or a few at once, on the frame.

A nut that is turned does not move again until its turn comes: the *advance* of every other rod
stays as it is, and its force changes by what the structure gives. Where the advances end decides
the forces at the end, not the order; the order decides what each rod bears on the way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fea.errors import SolveError
from fea.frame import Frame
from geometry.parts import Point

MOST_ROUNDS = 60
"""Rounds of the usual way after which it is given up."""

MOST_PASSES = 10
"""Passes of a schedule."""


CLOSE = 4e-3
"""How closely the part of the way, and the part of the limits, that passes take are found."""

LOOSE = -1.0
"""Advance (m) of a nut that nobody has brought to touch yet."""


class Unreachable(SolveError):
    """The rods cannot be brought to their preload without going past what they bear."""


@dataclass(frozen=True)
class Step:
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
class Pass:
    """Every rod tightened once."""

    steps: tuple[Step, ...]

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
) -> tuple[Pass, ...]:
    """The usual way: every rod to its target in turn, round after round, until all are within."""
    rounds: list[Pass] = []
    advance = bench.loose
    while not rounds or scatter(rounds[-1].forces, targets) > limit:
        if len(rounds) == MOST_ROUNDS:
            break
        steps = []
        for rods in groups:
            before = advance
            advance = bench.advance_for(advance, rods, targets[list(rods)])
            steps.append(_step(bench, rods, before, advance))
        rounds.append(Pass(tuple(steps)))
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
) -> tuple[Pass, ...]:
    """Fewest passes that end with every rod at its target, none beyond its limit on the way.

    The advances at which all rods have their target are found first. Each pass brings every nut
    to the same part of that, the last to the whole: nothing needs to be set twice, and rods set
    early in a pass are overshot by just what the later ones take from them. Of all ways with so
    many passes, that is taken on which rods bear least.

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
    count = passes
    if count is None:
        found = way.passes(limits, MOST_PASSES)
        count = MOST_PASSES if found is None else max(fewest, len(found))
    least, done = way.gentlest(limits, count)
    if least > 1 + 1e-9:
        raise Unreachable(
            f"Tightening in {count} passes takes a rod to {least:.0%} of what it may "
            "bear on the way. Allow more passes, tighten more rods at once, or lower rods.preload"
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
    """From the advances `begin` to `end`, group by group."""

    bench: Bench
    begin: np.ndarray
    end: np.ndarray
    groups: Sequence[tuple[int, ...]]

    def passes(self, limits: np.ndarray | float, most: int) -> tuple[Pass, ...] | None:
        """Passes that each go as far as limits allow; None if `most` of them do not get there."""
        done: list[Pass] = []
        reached, part = self.begin, 0.0
        while part < 1:
            found = self._farthest(reached, part, limits) if len(done) < most else None
            if found is None:
                return None
            part, one = found
            done.append(one)
            reached = self._at(part)
        return tuple(done)

    def gentlest(self, limits: np.ndarray | float, most: int) -> tuple[float, tuple[Pass, ...]]:
        """Least part of the limits that `most` passes get along with, and those passes."""
        best: tuple[Pass, ...] = (_one_pass(self.bench, self.begin, self.end, self.groups),)
        low, high = 0.0, best[0].use(limits)
        while high - low > CLOSE * high:
            middle = (low + high) / 2
            found = self.passes(middle * limits, most)
            if found is None:
                low = middle
            else:
                high, best = middle, found
        return max(each.use(limits) for each in best), best

    def _at(self, part: float) -> np.ndarray:
        """Advances at a part of the way; a loose nut begins where all touch."""
        start = np.where(self.begin == LOOSE, 0.0, self.begin)
        return np.asarray(start + part * (self.end - start))

    def _farthest(
        self, reached: np.ndarray, part: float, limits: np.ndarray | float
    ) -> tuple[float, Pass] | None:
        """The largest part of the way that one pass gets to within limits, if it gets on at all."""
        whole = _one_pass(self.bench, reached, self._at(1.0), self.groups)
        if whole.use(limits) <= 1 + 1e-12:
            return 1.0, whole
        low, high, best = part, 1.0, None
        while high - low > CLOSE:
            middle = (low + high) / 2
            one = _one_pass(self.bench, reached, self._at(middle), self.groups)
            if one.use(limits) <= 1:
                low, best = middle, one
            else:
                high = middle
        return None if best is None else (low, best)


def _one_pass(
    bench: Bench, begin: np.ndarray, end: np.ndarray, groups: Sequence[tuple[int, ...]]
) -> Pass:
    """Turn the nuts of each group in turn from one set of advances to another."""
    advance, steps = begin, []
    for rods in groups:
        before = advance
        advance = before.copy()
        advance[list(rods)] = end[list(rods)]
        steps.append(_step(bench, rods, before, advance))
    return Pass(tuple(steps))


def _step(bench: Bench, rods: tuple[int, ...], before: np.ndarray, after: np.ndarray) -> Step:
    index = list(rods)
    turned = after - bench.touching(before)
    return Step(
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
