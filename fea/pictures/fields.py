"""The fields that can be shown: their names, units, colours, and how the run's data gives them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np

from platestack.fea.pictures.scene import unknown
from platestack.geometry.errors import UsageError
from platestack.geometry.units import shown_in

Array = np.ndarray


@dataclass(frozen=True)
class Field:
    """A scalar to show.

    `source` names the point data that it is taken from, `read` turns these data and the
    reference displacement of the stack (m) into numbers of the SI unit `si`. A signed field gets a
    diverging map with zero in the middle.
    """

    name: str
    label: str
    si: str
    source: str
    read: Callable[[Array, float], Array]
    kind: Literal["magnitude", "signed"] = "signed"

    @property
    def unit(self) -> str:
        """Unit in which it is shown."""
        return shown_in(self.si).name

    def values(self, data: Array, reference: float) -> Array:
        """Numbers of `unit` from point data and the reference displacement of the stack (m)."""
        return self.read(data, reference) / shown_in(self.si).scale

    @property
    def words(self) -> str:
        """Label with its unit in brackets."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


def _itself(data: Array, reference: float) -> Array:
    return data


def _component(data: Array, reference: float, index: int) -> Array:
    return data[:, index]


def _deflection(data: Array, reference: float) -> Array:
    return data[:, 2] - reference


def _movement(data: Array, reference: float) -> Array:
    return np.linalg.norm(data, axis=1)


STRESSES = ("xx", "yy", "zz", "xy", "yz", "xz")

_FIELDS = (
    Field(
        "von_mises", "von Mises stress", "Pa", "von_mises", _itself, "magnitude",
    ),
    Field(
        "deflection", "deflection relative to the nuts", "m", "displacement",
        _deflection,
    ),
    Field("displacement", "displacement", "m", "displacement", _movement, "magnitude"),
    *(
        Field(
            f"principal {i + 1}", f"principal stress {i + 1}", "Pa", "principal",
            partial(_component, index=i),
        )
        for i in range(3)
    ),
    *(
        Field(
            f"stress {name}", f"stress {name}", "Pa", "stress",
            partial(_component, index=i),
        )
        for i, name in enumerate(STRESSES)
    ),
    Field("utilisation", "utilisation", "1", "utilisation", _itself, "magnitude"),
)  # fmt: skip


def find_field(name: str, available: Iterable[str]) -> Field:
    """Find a field by name; spaces, hyphens, underscores and case do not matter.

    Raises
    ------
    UsageError
        For an unknown name, or one whose point data are not among those `available`.
    """
    present = set(available)
    fields = [field for field in _FIELDS if field.source in present]
    for field in fields:
        short = field.name.removeprefix("stress ")
        if _plain(name) in (_plain(field.name), _plain(short)):
            return field
    raise UsageError(unknown("field", name, [field.name for field in fields]))


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", "", name).casefold()


def mirror_signs(name: str, axis: int) -> Array | float:
    """Sign of each component of the point data `name` under reflection in coordinate `axis`.

    A vector changes the sign of one component, a symmetric tensor (xx, yy, zz, xy, yz, xz) that
    of the two shears with the axis in their name; scalars and principal values do not change.
    """
    letter = "xyz"[axis]
    if name == "displacement":
        return np.where(np.arange(3) == axis, -1.0, 1.0)
    if name == "stress":
        return np.array([-1.0 if pair.count(letter) == 1 else 1.0 for pair in STRESSES])
    return 1.0


@dataclass(frozen=True)
class Scale:
    """A colour scale: ends and ticks in the field's unit; `clipped` where values go beyond."""

    low: float
    high: float
    ticks: tuple[float, ...]
    clipped: bool
    signed: bool

    def text(self, tick: float) -> str:
        """Label of one tick."""
        beyond = self.clipped and tick in (self.ticks[0], self.ticks[-1]) and tick != 0
        sign = ("≥ " if tick > 0 else "≤ ") if beyond else ""
        return f"{sign}{tick:.6g}".replace("-", "−")


def scale_for(values: Array, weights: Array, signed: bool) -> Scale:
    """Choose round ends and about five ticks.

    Where the largest value is far above what all but 0.2 % of the surface shows (a singular edge),
    the scale ends at the latter, so that one point does not take the colour from all the rest.

    Parameters
    ----------
    values, weights : (n,) arrays
        Values on pieces of the surface and the area of each.
    """
    size = np.abs(values)
    largest = float(size.max(initial=0.0))
    if not 1e-12 < largest < np.inf:
        largest = 1.0
    order = np.argsort(size)
    total = np.cumsum(weights[order])
    index = min(int(np.searchsorted(total, 0.998 * total[-1])), len(size) - 1)
    usual = float(size[order[index]])
    clipped = usual > 1e-12 and largest > 1.6 * usual
    top = usual if clipped else largest
    step = round_up(top / 5)
    count = int(np.ceil(top / step - 1e-9))
    ticks = [float(f"{step * i:.10g}") for i in range(-count if signed else 0, count + 1)]
    return Scale(float(ticks[0]), float(ticks[-1]), tuple(ticks), clipped, signed)


def round_up(value: float) -> float:
    """Smallest 1, 2, 2.5 or 5 times a power of ten that is not below `value` (> 0)."""
    power = 10.0 ** np.floor(np.log10(value) + 1e-12)
    factor = next(f for f in (1.0, 2.0, 2.5, 5.0, 10.0) if f * power >= value * (1 - 1e-9))
    return float(factor * power)


def magnification(largest: float, size: float, wanted: float = 0.06) -> float:
    """Round number (1, 2 or 5 times a power of ten) by which to exaggerate displacements.

    The one that makes the `largest` displacement look nearest, as a ratio, to `wanted` times
    `size`; 1 where nothing moves.
    """
    if not largest > 0 or not size > 0:
        return 1.0
    target = wanted * size / largest
    power = np.floor(np.log10(target))
    candidates = [f * 10.0**p for p in (power - 1, power, power + 1) for f in (1.0, 2.0, 5.0)]
    return float(min(candidates, key=lambda c: abs(np.log(c / target))))
