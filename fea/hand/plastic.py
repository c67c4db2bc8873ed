"""Plastic moment of stacks as beams, and the force at which they give way."""

from __future__ import annotations

import numpy as np

from platestack.fea.hand import section
from platestack.fea.hand.bending import Load, bend, supports
from platestack.fea.hand.section import FloatArray
from platestack.geometry.parts import Plate, Stack, TieRod

_HALVINGS = 60


def plastic_moment(plates: tuple[Plate, ...], x: FloatArray, *, welded: bool) -> FloatArray:
    """Return the moment (N m) that fully yielded sections at stations x (n,) (m) bear.

    ∫ f_y |z − z_0| dA about the height that halves the force, of all plates as one or of each by
    itself (Baker, Horne and Heyman, The Steel Skeleton II, 1956). Shear is left out.
    """
    groups = [plates] if welded else [(plate,) for plate in plates]
    return np.asarray(sum(_one(group, x) for group in groups))


def _one(plates: tuple[Plate, ...], x: FloatArray) -> FloatArray:
    cuts = [section.cut(plate, x) for plate in plates]
    low, high = (np.concatenate([getattr(cut, end) for cut in cuts]) for end in ("low", "high"))
    flow = np.concatenate(
        [cut.width * plate.material.yield_strength for cut, plate in zip(cuts, plates, strict=True)]
    )
    whole = (flow * (high - low)).sum(axis=0)
    below, above = low.min(axis=0), high.max(axis=0)
    for _ in range(_HALVINGS):
        middle = (below + above) / 2
        force = (flow * (np.clip(middle, low, high) - low)).sum(axis=0)
        short = force < whole / 2
        below, above = np.where(short, middle, below), np.where(short, above, middle)
    up, down = high - above, low - above
    return np.asarray((flow * (np.abs(up) * up - np.abs(down) * down) / 2).sum(axis=0))


def collapse_force(stack: Stack, rods: tuple[TieRod, ...], force: float) -> float:
    """Return the pressing force (N) at which a stack gives way as a beam on its rods.

    The moments of the elastic beam, raised until a section yields throughout: by the static theorem
    no more than the limit load; on two rows of rods, where moments follow from statics, that load.

    Parameters
    ----------
    force : any pressing force (N) to begin with.

    Raises
    ------
    NotABeam
        If the stack is none.
    """
    plates, welded = section.bending_plates(stack.plates), stack.interface == "welded"
    curve = bend(plates, (Load(stack.patch, force),), supports(rods), welded=welded)
    middle = (curve.x[1:] + curve.x[:-1]) / 2
    moment = np.abs(curve.moment[1:] + curve.moment[:-1]) / 2
    borne = plastic_moment(plates, middle, welded=welded)
    bent = moment > 1e-9 * moment.max()
    return float(force * (borne[bent] / moment[bent]).min())
