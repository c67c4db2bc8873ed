"""Systems of units in which a user reads: one decides, at one time, for everything that is shown.

A case names its system (``units = "US"``), an option of a command outranks it. What a system does
not name is shown in SI's units of the workshop: mm, kN, MPa, kg, L.
"""

from __future__ import annotations

import contextvars
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal, get_args

from platestack.geometry.errors import UsageError
from platestack.geometry.units.kinds import FOOT, GALLON, INCH, LB, LBF

SystemName = Literal["SI", "mm", "US"]
NAMES: tuple[SystemName, ...] = get_args(SystemName)

PSI = LBF / INCH**2


@dataclass(frozen=True)
class Shown:
    """A unit in which numbers are shown, used from a smallest SI value on."""

    name: str
    scale: float
    """SI value of one."""
    least: float = 0.0
    zero: float = 0.0
    """Number shown where the SI value is 0: degrees Fahrenheit count from elsewhere."""


_SI: dict[str, tuple[Shown, ...]] = {
    "Pa": (Shown("MPa", 1e6),),
    "m": (Shown("mm", 1e-3),),
    "N": (Shown("kN", 1e3),),
    "kg": (Shown("kg", 1.0),),
    "J": (Shown("J", 1.0),),
    "W": (Shown("kW", 1e3),),
    "m³": (Shown("L", 1e-3),),
    "m/s": (Shown("mm/s", 1e-3),),
    "m³/s": (Shown("L/min", 1e-3 / 60),),
    "m/m": (Shown("mm/m", 1e-3),),
    "N m": (Shown("kN·m", 1e3),),
    "run": (Shown("m", 1.0),),
    "heavy": (Shown("t", 1e3),),
    "Pa √m": (Shown("MPa √m", 1e6),),
    "1": (Shown("", 1.0),),
}
_TF = {"N": (Shown("tf", 9806.65, 9806.65), Shown("kgf", 9.80665))}
_US = {
    "Pa": (Shown("ksi", 1e3 * PSI, 15e3 * PSI), Shown("psi", PSI)),
    "m": (Shown("in", INCH),),
    "N": (Shown("kip", 1e3 * LBF, 1e3 * LBF), Shown("lbf", LBF)),
    "kg": (Shown("lb", LB),),
    "J": (Shown("ft·lbf", FOOT * LBF),),
    "W": (Shown("hp", 550 * FOOT * LBF),),
    "m³": (Shown("gal", GALLON, 0.1 * GALLON), Shown("in³", INCH**3)),
    "m/s": (Shown("in/s", INCH),),
    "m/m": (Shown("in/ft", 1 / 12),),
    "N m": (Shown("lbf·ft", LBF * FOOT),),
    "run": (Shown("ft", FOOT),),
    "heavy": (Shown("lb", LB),),
    "m²": (Shown("ft²", FOOT**2, FOOT**2), Shown("in²", INCH**2)),
    "Pa √m": (Shown("ksi √in", 1e3 * PSI * INCH**0.5),),
    "m³/s": (Shown("gal/min", GALLON / 60),),
    "kg/m³": (Shown("lb/in³", LB / INCH**3),),
    "°C": (Shown("°F", 5 / 9, zero=32.0),),
    "m/N": (Shown("in/kip", INCH / (1e3 * LBF)),),
    "N/m": (Shown("kip/in", 1e3 * LBF / INCH),),
    "m/s²": (Shown("ft/s²", FOOT),),
    "J/(kg K)": (Shown("Btu/(lb °F)", 4186.8),),
}
SYSTEMS: dict[str, dict[str, tuple[Shown, ...]]] = {"SI": _SI, "mm": _SI | _TF, "US": _SI | _US}
"""Name -> SI unit -> units in which it is shown, largest first.

A `run` is a length of cut, weld or bar or a height in a room, in m; `heavy` a mass of tonnes, in
kg. US oil pressures are small enough for psi, stresses are mostly in ksi.
"""


_default: SystemName = "SI"
_forced: SystemName | None = None
_here: contextvars.ContextVar[SystemName | None] = contextvars.ContextVar("units", default=None)


def system() -> SystemName:
    """Name of the system in which quantities are shown now."""
    return _forced or _here.get() or _default


def market() -> SystemName:
    """Name of the system of the case at hand, by which steel is sold: however it is shown."""
    return _here.get() or _default


def named(text: str, key: str) -> SystemName:
    """Return the system of a name, capitals or not. Raises `UsageError`."""
    found = next((name for name in NAMES if name.casefold() == text.strip().casefold()), None)
    if found is None:
        raise UsageError(f'{key}: given "{text:.60}"; allowed: {", ".join(NAMES)}')
    return found


def choose(name: SystemName, *, over_all: bool = False) -> None:
    """Show in a system from now on, in the whole process; `over_all`: whatever a case says."""
    global _default, _forced
    if over_all:
        _forced = name
    else:
        _default = name


def reset() -> None:
    """Show in SI again, as at the start of a process."""
    global _default, _forced
    _default, _forced = "SI", None
    _here.set(None)


@contextmanager
def using(name: SystemName) -> Iterator[None]:
    """Show in a system within a block, in this thread."""
    token = _here.set(name)
    try:
        yield
    finally:
        _here.reset(token)


def shown_in(unit: str, size: float | None = None) -> Shown:
    """Return the unit in which an SI unit is shown now.

    Parameters
    ----------
    unit : str
        SI unit, such as ``"Pa"``.
    size : float, optional
        SI value to be shown, or the largest of those that share a column or an axis. Without it
        the largest unit.
    """
    key = unit.replace("^3", "³").replace("^2", "²")
    steps = SYSTEMS[system()].get(key, (Shown(unit, 1.0),))
    if size is None:
        return steps[0]
    return next((s for s in steps if abs(size) * (1 + 1e-9) >= s.least), steps[-1])


def shown_units() -> dict[str, tuple[float, str]]:
    """SI unit -> SI value and name of the largest unit in which it is shown now."""
    return {unit: (steps[0].scale, steps[0].name) for unit, steps in SYSTEMS[system()].items()}


def metric(unit: str) -> Shown:
    """Return the unit in which an SI unit is shown where no other system is chosen."""
    return _SI.get(unit, (Shown(unit, 1.0),))[0]
