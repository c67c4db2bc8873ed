"""Pump, oil and energy: flows in m³/s, pressures in Pa, volumes in m³."""

from __future__ import annotations

from dataclasses import dataclass

GRAVITY = 9.80665


@dataclass(frozen=True)
class PumpFlow:
    """A stage of a pump: the whole flow up to a pressure."""

    flow: float
    pressure: float

    def power(self, efficiency: float) -> float:
        """At the shaft (W): pQ/η; raises ValueError unless 0 < η ≤ 1."""
        if not 0 < efficiency <= 1:
            raise ValueError(f"efficiency {efficiency:g}; allowed: over 0 up to 1")
        return self.pressure * self.flow / efficiency


@dataclass(frozen=True)
class Compliance:
    """What takes up oil as the pressure rises, each a volume at the pressure given (m³)."""

    pressure: float
    oil: float
    """Compression of the oil, pV/K."""
    wall: float
    """Growth of the bore."""
    frame: float
    """Bending and stretch of the frame: piston area times 2U/F."""

    @property
    def volume(self) -> float:
        """The sum (m³)."""
        return self.oil + self.wall + self.frame

    def time(self, stages: tuple[PumpFlow, ...]) -> float:
        """Seconds from touch to the pressure, each stage serving up to its own.

        The volume rises in proportion to the pressure. Raises ValueError if the last stage does
        not reach the pressure.
        """
        reached, seconds = 0.0, 0.0
        for stage in stages:
            top = min(stage.pressure, self.pressure)
            seconds += self.volume * (top - reached) / self.pressure / stage.flow
            reached = top
        if reached < self.pressure * (1 - 1e-9):
            raise ValueError(f"the pump ends at {reached:g} Pa; wanted: {self.pressure:g} Pa")
        return seconds


def compression(pressure: float, volume: float, modulus: float) -> float:
    """Volume (m³) by which oil shrinks, pV/K; raises ValueError for K not over 10 p."""
    if modulus <= 10 * pressure:
        raise ValueError(f"bulk modulus {modulus:g} Pa; allowed: over 10 times the pressure")
    return pressure * volume / modulus


def drop_height(energy: float, mass: float) -> float:
    """Height (m) from which a mass falls with this energy."""
    return energy / (mass * GRAVITY)


def heating(power: float, seconds: float, volume: float, density: float, heat: float) -> float:
    """Rise of the oil's temperature (K) if all power stays in the oil."""
    return power * seconds / (volume * density * heat)
