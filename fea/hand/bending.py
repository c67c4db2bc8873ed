"""Plates as a Timoshenko beam on springs: statics without a mesh.

A patch loads the beam with a line load, its pressure times its chord across x; each spring holds
the beam through the same spread over the patch it bears on, tied to that patch's mean
displacement. Sections are taken net of holes and grooves (`fea.hand.section`).

With w and the load positive along the force, Timoshenko's equations (Timoshenko, Phil. Mag. 41
(1921) 744; statics only) read

    V' = q,   M' = V,   θ' = M / EI,   w' = θ − V / κGA

and are integrated from the left end to the right: the rods' forces follow from their springs and
from the balance of forces and moments (force method). Within each of the short elements the
section is constant and the integration exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from platestack.fea.hand import section
from platestack.fea.hand.joint import support_stiffness
from platestack.geometry.errors import PlatestackError
from platestack.geometry.parts import Patch, Plate, TieRod

FloatArray = npt.NDArray[np.float64]

STEPS = 400
"""Elements along a beam, at least; halving changes the deflection by less than 1e-4."""

_SAME = 1e-6
"""Rods whose x differ by less (m) stand in one row."""


class NotABeam(PlatestackError):
    """A stack that beam theory along x cannot describe."""


@dataclass(frozen=True)
class BeamSupport:
    """Springs that share a row: where they bear, and what they set against displacement."""

    x: float
    patches: tuple[Patch, ...]
    stiffness: tuple[float, ...]
    """Of each, in N/m."""


@dataclass(frozen=True)
class Load:
    """A force (N) spread evenly over a patch."""

    patch: Patch
    force: float


@dataclass(frozen=True)
class Curve:
    """A bent beam, its n elements and their n + 1 nodes."""

    x: FloatArray
    """Nodes (n + 1,) (m)."""
    deflection: FloatArray
    """Positive along the force, (n + 1,) (m)."""
    moment: FloatArray
    """M = EI θ' at the nodes, (n + 1,) (N m): negative where a force between supports bends."""
    stiffness: section.Stiffness
    """Of the elements, (n,) each."""
    forces: FloatArray
    """Of the rows of supports (N), positive against the force."""
    loaded: float
    """Mean deflection of the loaded patches, weighted by their forces (m)."""
    supported: float
    """Mean deflection of all bearing patches (m)."""

    def at(self, x: float) -> float:
        """Deflection at x relative to the bearing patches (m)."""
        return float(np.interp(x, self.x, self.deflection)) - self.supported

    @property
    def turn(self) -> float:
        """Change of slope by bending from end to end: ∫ M / EI dx."""
        return float(np.sum(self._mean_moment * np.diff(self.x) / self.stiffness.bending))

    @property
    def bending_work(self) -> float:
        """∫ M² / EI dx (N m): twice the strain energy of bending."""
        a, b = self.moment[:-1], self.moment[1:]
        per_length = (a * a + a * b + b * b) / (3 * self.stiffness.bending)
        return float(np.sum(per_length * np.diff(self.x)))

    def curvature(self, x: float) -> float:
        """M / EI at x (1/m)."""
        middle = (self.x[1:] + self.x[:-1]) / 2
        return float(np.interp(x, middle, self._mean_moment / self.stiffness.bending))

    @property
    def _mean_moment(self) -> FloatArray:
        mean: FloatArray = (self.moment[1:] + self.moment[:-1]) / 2
        return mean


def share(patch: Patch, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fraction of a patch's area below each x, and that fraction's integral over x.

    Parameters
    ----------
    patch : Patch
    x : (n,) array
        m.

    Returns
    -------
    fraction, integral : (n,) arrays
        From 0 to 1, and its integral from −∞ to x (m).
    """
    u = x - patch.centre[0]
    if patch.shape == "rectangle":
        half = patch.length / 2
        inside = np.clip(u, -half, half) + half
        return inside / patch.length, inside**2 / (2 * patch.length) + np.maximum(u - half, 0.0)
    below, integral = _disc_share(u, patch.length / 2)
    if patch.inner > 0:
        hole = _disc_share(u, patch.inner / 2)
        part = (patch.inner / patch.length) ** 2
        below = (below - part * hole[0]) / (1 - part)
        integral = (integral - part * hole[1]) / (1 - part)
    return below, integral


def supports(rods: Iterable[TieRod]) -> tuple[BeamSupport, ...]:
    """Rods as supports, row by row from −x to +x.

    Half of each rod belongs to either stack, with half of what holds its seats apart.
    """
    rows: dict[int, list[TieRod]] = {}
    for rod in rods:
        rows.setdefault(round(rod.at[0] / _SAME), []).append(rod)
    return tuple(
        BeamSupport(
            row[0].at[0],
            tuple(rod.annulus for rod in row),
            tuple(support_stiffness(rod) for rod in row),
        )
        for _, row in sorted(rows.items())
    )


def bend(
    plates: tuple[Plate, ...],
    loads: tuple[Load, ...],
    held: tuple[BeamSupport, ...],
    *,
    welded: bool,
    guided: bool = False,
    leaves: tuple[Plate, ...] = (),
    steps: int = STEPS,
) -> Curve:
    """Bend plates by forces spread over patches and carried by supports.

    Parameters
    ----------
    plates : tuple of Plate
        Those that bend; sections are taken along x.
    loads : tuple of Load
        Only their spread along x matters.
    held : tuple of Support
        Rows of springs.
    welded : bool
        One composite section, or leaves that share the deflection.
    guided : bool
        The beam cannot tilt as a whole, so that a single row may hold it.
    leaves : tuple of Plate
        Bodies that share the deflection of `plates`, loose in either case.
    steps : int
        Elements, at least.

    Returns
    -------
    Curve
        Deflection positive along the force.

    Raises
    ------
    NotABeam
        With a single row of supports and no guide, or where holes or gaps leave no section.
    """
    if len(held) < (1 if guided else 2):
        raise NotABeam("a beam along x needs rods in two rows along x at least")
    bearing = [patch for support in held for patch in support.patches]
    x = _nodes(plates, [*(load.patch for load in loads), *bearing], steps)
    middle, length = (x[1:] + x[:-1]) / 2, np.diff(x)
    stiff = section.stiffness(plates, middle, welded=welded)
    if leaves:
        stiff = section.side_by_side(stiff, section.stiffness(leaves, middle, welded=False))
    if not (stiff.bending > 0).all():
        gap = middle[np.argmin(stiff.bending)]
        raise NotABeam(f"no section is left at x = {1000 * gap:.1f} mm; beam theory cannot tell")
    weights = np.stack([_weights(support, x) for support in held], axis=1)
    applied = np.sum([load.force * lumped(load.patch, x) for load in loads], axis=0)
    shear = np.cumsum(np.column_stack([applied, -weights]), axis=0)[:-1]
    moment = _integral(shear * length[:, None])
    mean = (moment[1:] + moment[:-1]) / 2
    slope = _integral(mean * (length / stiff.bending)[:, None])
    sag = (2 * moment[:-1] + moment[1:]) / 6 * (length**2 / stiff.bending)[:, None]
    step = slope[:-1] * length[:, None] + sag - shear * (length / stiff.shear)[:, None]
    shapes = _integral(step)

    forces, motion = _balance(x, applied, weights, shapes, held, guided)
    deflection = shapes[:, 0] + shapes[:, 1:] @ forces + motion
    count = np.array([len(support.patches) for support in held])
    supported = float((weights.T @ deflection) @ count / count.sum())
    loaded = float(applied @ deflection / applied.sum())
    bending_moment = moment[:, 0] + moment[:, 1:] @ forces
    return Curve(x, deflection, bending_moment, stiff, forces, loaded, supported)


def _balance(
    x: FloatArray,
    applied: FloatArray,
    weights: FloatArray,
    shapes: FloatArray,
    held: tuple[BeamSupport, ...],
    guided: bool,
) -> tuple[FloatArray, FloatArray]:
    """Find the rows' forces (r,) and the rigid motion (n + 1,) of the beam.

    Unknown are R and a + b x. R = k × mean displacement of the row's
    patches; ΣR = F; ΣR x = F x_F, with the places that the lumped loads have, or b = 0 (guided).
    """
    rows = len(held)
    spring = np.array([sum(support.stiffness) for support in held])
    rigid = np.column_stack([np.ones_like(x), x])
    matrix = np.zeros((rows + 2, rows + 2))
    right = np.zeros(rows + 2)
    # Forces are counted in mean springs times metres, so that all unknowns are displacements.
    unit = spring.mean()
    matrix[:rows, :rows] = unit * (weights.T @ shapes[:, 1:] - np.diag(1 / spring))
    matrix[:rows, rows:] = weights.T @ rigid
    right[:rows] = -weights.T @ shapes[:, 0]
    matrix[rows:, :rows] = rigid.T @ weights
    right[rows:] = rigid.T @ applied / unit
    if guided:
        matrix[-1], right[-1] = 0.0, 0.0
        matrix[-1, -1] = 1.0
    unknown = np.linalg.solve(matrix, right)
    return unit * unknown[:rows], rigid @ unknown[rows:]


def _nodes(plates: Iterable[Plate], patches: Iterable[Patch], steps: int) -> FloatArray:
    """Nodes at every change of section or load, and evenly between."""
    boxes = [plate.outline.box for plate in plates]
    start, end = min(box[0] for box in boxes), max(box[2] for box in boxes)
    found = [x for plate in plates for x in section.breaks(plate)]
    for patch in patches:
        for width in (patch.length, patch.inner):
            found += [patch.centre[0] - width / 2, patch.centre[0] + width / 2]
    inside = np.clip(np.array(found), start, end)
    even = np.linspace(start, end, steps + 1)
    both = np.sort(np.concatenate([inside, even]))
    # Of nodes that coincide but for rounding, one is enough.
    return both[np.concatenate([[True], np.diff(both) > 1e-9 * (end - start)])]


def lumped(patch: Patch, x: FloatArray) -> FloatArray:
    """Share of a patch's force at each node (n + 1,); what overhangs the ends goes to them.

    Each element hands its part S₁ − S₀ to its two nodes by the lever: S₁ − S̄ to the right one and
    S̄ − S₀ to the left one, S̄ the mean over the element of the fraction S.
    """
    below, integral = share(patch, x)
    mean = np.diff(integral) / np.diff(x)
    nodal = np.zeros_like(x)
    nodal[1:] += below[1:] - mean
    nodal[:-1] += mean - below[:-1]
    nodal[0] += below[0]
    nodal[-1] += 1 - below[-1]
    return nodal


def _weights(support: BeamSupport, x: FloatArray) -> FloatArray:
    """Spread of a row's force over the nodes (n + 1,), its rods by their stiffness."""
    total = sum(support.stiffness)
    # Rods of a row differ in y alone, mostly: their spread along x is found once.
    shares: dict[Patch, float] = {}
    for patch, k in zip(support.patches, support.stiffness, strict=True):
        alike = replace(patch, centre=(patch.centre[0], 0.0))
        shares[alike] = shares.get(alike, 0.0) + k / total
    return np.sum([share * lumped(patch, x) for patch, share in shares.items()], axis=0)


def _integral(steps: FloatArray) -> FloatArray:
    """Sum up from zero: (n, m) increments to (n + 1, m) values."""
    return np.concatenate([np.zeros((1, steps.shape[1])), np.cumsum(steps, axis=0)])


def _disc_share(u: FloatArray, radius: float) -> tuple[FloatArray, FloatArray]:
    """Fraction of a disc below u, measured from its centre, and its integral (segment area)."""
    s = np.clip(u / radius, -1.0, 1.0)
    height = np.sqrt(1 - s * s)
    below = 0.5 + (s * height + np.arcsin(s)) / np.pi
    primitive = 0.5 * s + (s * np.arcsin(s) + height - height**3 / 3) / np.pi
    return below, radius * primitive + np.maximum(u - radius, 0.0)
