"""How a tie rod holds a stack: what its nut, its seat and its bending do, edge by edge.

A stack meets a rod at four *stations*: the height of its nut, two tilts, and the height of its
seat, all counted outwards, from the loaded face to the nut. Members lead from them to the other
stack (*across*), or to a point of the rod at its seat, which has a height and two tilts of its own:

- a sleeve is a ring of struts from stack to stack, with the tube's EA/L and EI/L, and the rod runs
  beside it from nut to nut, its ends turned by the stacks (EI/L);
- a shoulder or an inner nut is a ring of struts between the stack and the rod's own point. From
  there the rod leads to the nut through the stack, and to the other stack.

Struts only press. So a ring opens at one edge where the eccentricity of its force exceeds its kern,
(D² + d²) / 8D of an annulus (Roark's Formulas for Stress and Strain, not verified; re-derived in
the tests), and goes on pressing at the other. Struts stand at the points of a rule that is exact
for second moments and has points on the rim, so that kern and largest lever are the annulus's.

A stack alone is held against its mirror image, which a member across meets half way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from platestack.geometry.parts import TieRod

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

NUT, SEAT, STATIONS, OWN = 0, 3, 4, 4
"""Places of nut, seat and the first of the rod's own; the tilts are between nut and seat."""
UNKNOWNS = 7

TURNS = 12
RULE = np.array([[0.0, 1 / 6], [0.5, 2 / 3], [1.0, 1 / 6]])
"""Simpson's rule over the area of a ring: parts of it within a radius, and weights."""
STRUTS = TURNS * len(RULE)
"""Struts of a ring."""

MOST_CHANGES = 50
"""Changes of what presses in search of the balance of a rod's own point."""


@dataclass(frozen=True)
class Support:
    """A rod's members at one stack, m of them: the nut's spring first, the ring's struts last.

    Attributes
    ----------
    rows : (m, 7) stretch of each, or how far a strut is pressed, by stations and the rod's own.
    stiffness : (m,) in N/m, N m where a tilt turns it. across : (m,) bool.
    ring : (m,) part of the seat that a strut is; 0 of what is none.
    preload : of the nut's spring and the whole ring (N).
    rest : (m,) force in each while all stations are where they stand, in N; a strut that is
        negative is open.
    """

    rows: FloatArray
    stiffness: FloatArray
    across: BoolArray
    ring: FloatArray
    preload: float
    rest: FloatArray

    @classmethod
    def of(cls, rod: TieRod, depth: float) -> Support:
        """The members of a rod with `depth` (m) from nut to seat, its ring pressed evenly."""
        young = rod.material.young
        if rod.seat == "none":
            found = [(_row(nut=1), rod.stiffness, True, 0.0)]
        elif rod.seat == "sleeve":
            tube = young * rod.sleeve_area / rod.between
            found = [
                (_row(nut=1), rod.stiffness, True, 0.0),
                *((row, bending(rod), True, 0.0) for row in _tilts()),
                *((_row(seat=-1, tilts=-arm), w * tube, True, w) for arm, w in ring(rod)),
            ]
        else:
            through = 1 / (depth / (young * rod.area) + rod.end_compliance)
            inside = young * rod.area**2 / (4 * math.pi) / depth
            shank = young * rod.area_between / rod.between
            found = [
                (_row(nut=1, own=-1), through, False, 0.0),
                (_row(own=1), shank, True, 0.0),
                *(
                    (row - turned, inside, False, 0.0)
                    for row, turned in zip(*_turned(), strict=True)
                ),
                *((row, bending(rod), True, 0.0) for row in _turned()[1]),
                *(
                    (_row(seat=-1, tilts=-arm, own=1, turned=arm), w * rod.seat_stiffness, False, w)
                    for arm, w in ring(rod)
                ),
            ]
        rows, stiffness, across, parts = (np.array(column) for column in zip(*found, strict=True))
        rest = rod.preload * parts
        rest[0] = rod.preload
        return cls(rows, stiffness, across, parts, rod.preload, rest)

    @cached_property
    def half(self) -> FloatArray:
        """Stiffness (m,) of each against the mirror image of its stack."""
        return np.where(self.across, 2.0, 1.0) * self.stiffness

    @property
    def pressed(self) -> BoolArray:
        """Which members (m,) work while nothing has moved."""
        return (self.ring == 0) | (self.rest > 0)

    def condensed(self, at_work: BoolArray) -> tuple[FloatArray, FloatArray]:
        """Stiffness (4, 4) of the stations, and forces (4,) on it at rest, the own point freed."""
        own, matrix, force = self._own(at_work)
        kept = range(STATIONS)
        follows = np.linalg.solve(matrix[np.ix_(own, own)], np.column_stack([
            matrix[np.ix_(own, kept)], force[own]
        ]))  # fmt: skip
        across = matrix[np.ix_(kept, own)]
        return matrix[:STATIONS, :STATIONS] - across @ follows[:, :-1], (
            force[:STATIONS] - across @ follows[:, -1]
        )

    def at_work(self, moved: FloatArray, start: BoolArray) -> BoolArray:
        """Which members (m,) work when the stations have moved by (4,) from rest."""
        working = start
        for _ in range(MOST_CHANGES):
            now = (self.ring == 0) | (self.forces(moved, working) > 0)
            if (now == working).all():
                break
            working = now
        return working

    def forces(self, moved: FloatArray, at_work: BoolArray) -> FloatArray:
        """Force (m,) in each member, if those at work are, after stations have moved by (4,)."""
        own, matrix, force = self._own(at_work)
        place = np.concatenate([moved, np.zeros(UNKNOWNS - STATIONS)])
        place[own] = np.linalg.solve(
            matrix[np.ix_(own, own)], -force[own] - matrix[own, :STATIONS] @ moved
        )
        return np.asarray(self.rest + self.half * (self.rows @ place))

    def _own(self, at_work: BoolArray) -> tuple[list[int], FloatArray, FloatArray]:
        """Unknowns of the rod's own, stiffness (7, 7) of all, and forces (7,) at rest."""
        rows = self.rows[at_work]
        own = [OWN, OWN + 1, OWN + 2] if self.rows[0, OWN] else []
        return own, rows.T @ (self.half[at_work, None] * rows), rows.T @ self.rest[at_work]

    def squeezed(self, at_work: BoolArray) -> tuple[FloatArray, FloatArray]:
        """Stiffness (2, 2) against tilts while the preload is given, and moments (2,) on no tilt.

        The ring presses with the preload, however it is spread.
        """
        own, matrix, force = self._spread(at_work)
        follows = np.linalg.solve(matrix[np.ix_(own, own)], np.column_stack([
            matrix[np.ix_(own, (1, 2))], force[own]
        ]))  # fmt: skip
        across = matrix[np.ix_((1, 2), own)]
        return matrix[1:3, 1:3] - across @ follows[:, :2], across @ follows[:, 2]

    def pressing(self, tilt: FloatArray) -> BoolArray:
        """Which members (m,) work at rest with the stack tilted by (2,)."""
        return self.at_work(np.array([0.0, *tilt, 0.0]), self.pressed)

    def tightened(self, tilt: FloatArray, start: BoolArray) -> Support:
        """The same at rest under its preload, with the stack tilted by (2,) at the seat."""
        working = start
        for _ in range(MOST_CHANGES):
            own, matrix, force = self._spread(working)
            place = np.zeros(UNKNOWNS)
            place[1:3] = tilt
            place[own] = np.linalg.solve(
                matrix[np.ix_(own, own)], force[own] - matrix[own, 1:3] @ tilt
            )
            found = self.half * (self._evenly @ place)
            now = (self.ring == 0) | (found > 0)
            if (now == working).all():
                break
            working = now
        # Tilts count from nothing, so that what they bend is in the rows already: of the struts'
        # forces at rest only how far all of them were pressed together is left.
        rest = np.where(self.ring > 0, self.half * place[OWN], self.rest)
        return replace(self, rest=rest)

    @property
    def _evenly(self) -> FloatArray:
        """Rows (m, 7) of tilts, of an even pressing of the ring, and of the rod's own tilts."""
        rows = self.rows.copy()
        rows[:, [NUT, SEAT]] = 0.0
        rows[:, OWN] = self.ring > 0
        return rows

    def _spread(self, at_work: BoolArray) -> tuple[list[int], FloatArray, FloatArray]:
        """Unknowns of the rod's own, stiffness (7, 7) and forces (7,) under the preload."""
        rows = self._evenly[at_work]
        own = [OWN, OWN + 1, OWN + 2] if self.rows[0, OWN] else [OWN]
        force = np.zeros(UNKNOWNS)
        force[OWN] = self.preload
        return own, rows.T @ (self.half[at_work, None] * rows), force

    def springs(self) -> list[tuple[FloatArray, float]]:
        """Rows (4,) and stiffness of springs that act as the stations' stiffness, all pressing.

        Between nut and seat, from either to the other stack, and against each tilt.
        """
        matrix = self.condensed(np.ones(len(self.ring), dtype=bool))[0]
        both = -matrix[NUT, SEAT]
        found = [
            (_row(nut=1, seat=-1), both),
            (_row(nut=1), matrix[NUT, NUT] - both),
            (_row(seat=1), matrix[SEAT, SEAT] - both),
            *zip(_tilts(), (matrix[1, 1], matrix[2, 2]), strict=True),
        ]
        least = 1e-9 * np.abs(matrix[[NUT, SEAT], [NUT, SEAT]]).max()
        return [
            (row[:STATIONS], float(stiffness))
            for row, stiffness in found
            if stiffness > (0.0 if row[1:3].any() else least)
        ]


def bending(rod: TieRod) -> float:
    """EI/L of a rod between the places where both stacks turn it (N m)."""
    area = rod.area_between if rod.seated_itself else rod.area
    length = rod.between if rod.seated_itself else rod.free_length
    return rod.material.young * area**2 / (4 * math.pi) / length


def ring(rod: TieRod) -> list[tuple[FloatArray, float]]:
    """Places (2,) of the struts of a seat from the rod's axis (m), and what part of it each is."""
    annulus = rod.seat_annulus
    assert annulus is not None
    inner = rod.sleeve_inner if rod.seat == "sleeve" else annulus.inner
    low, high = (inner / 2) ** 2, (annulus.length / 2) ** 2
    turns = 2 * math.pi * np.arange(TURNS) / TURNS
    return [
        (
            math.sqrt(low + part * (high - low)) * np.array([math.cos(turn), math.sin(turn)]),
            w / TURNS,
        )
        for part, w in RULE
        for turn in turns
    ]


def _row(
    nut: float = 0.0,
    seat: float = 0.0,
    own: float = 0.0,
    tilts: FloatArray | tuple[float, float] = (0.0, 0.0),
    turned: FloatArray | tuple[float, float] = (0.0, 0.0),
) -> FloatArray:
    return np.array([nut, *tilts, seat, own, *turned], dtype=float)


def _tilts() -> tuple[FloatArray, ...]:
    return _turned()[0]


def _turned() -> tuple[tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Rows of the stack's tilts, and of the rod's own."""
    ends = (1.0, 0.0), (0.0, 1.0)
    return tuple(_row(tilts=end) for end in ends), tuple(_row(turned=end) for end in ends)
