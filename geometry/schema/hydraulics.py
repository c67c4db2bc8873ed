"""Table ``[hydraulics]``: pump, oil, relief valve, hoses; all may be left out."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from platestack.geometry import tables
from platestack.geometry.schema.quantities import (
    Density,
    Duration,
    Flow,
    Modulus,
    Power,
    Pressure,
    Section,
    Volume,
)

OIL = tables.oil("ISO VG 46")
"""The usual oil of presses (common practice, no source)."""

Part = Annotated[float, Field(strict=True, gt=0.0, le=1.0)]


class PumpStage(Section):
    """A stage of the pump: the whole flow it delivers, up to its pressure."""

    flow: Flow
    pressure: Pressure


class Hydraulics(Section):
    """Pump and oil; `fea.checks.hydraulics` derives a pump where none is given."""

    stages: Annotated[tuple[PumpStage, ...], Field(min_length=1, max_length=2)] | None = None
    """From low to high pressure; the flow falls from stage to stage."""
    pump_efficiency: Part = 0.85
    motor: Power | None = None
    relief: Pressure | None = None
    """Setting of the relief valve; 1.1 times the working pressure."""
    hose_class: Pressure | None = None
    bulk_modulus: Modulus = OIL.bulk_modulus
    oil_density: Density = OIL.density
    oil_heat: Annotated[float, Field(strict=True, ge=1000.0, le=5000.0), "J/(kg K)"] = (
        OIL.specific_heat
    )
    """Specific heat of the oil, J/(kg K)."""
    dead_volume: Volume = 1e-3
    """Oil under pressure in hoses and valves."""
    tank: Volume | None = None
    hold: Duration = 30.0
    pump_at_hold: Literal["running", "stopped"] = "running"

    @model_validator(mode="after")
    def _rises(self) -> Hydraulics:
        if self.stages is not None and len(self.stages) == 2:
            low, high = self.stages
            if low.pressure >= high.pressure or low.flow <= high.flow:
                raise ValueError("allowed: two stages, the second of higher pressure and less flow")
        return self
