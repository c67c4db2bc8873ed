"""Units at the edge: text with a unit in, SI float out, and back.

Everything behind the case file and before the report is a plain float in SI. `parse` is the only
way in; `show`, `quantity` and their like are the only way out, in the one system that
`geometry.units.systems` holds.
"""

from platestack.geometry.units.kinds import (
    BOW,
    COMMON,
    DENSITY,
    DISTANCE,
    DURATION,
    FLOW,
    FOOT,
    FORCE,
    GAP,
    INCH,
    LB,
    LBF,
    LENGTH,
    LOAD,
    MASS,
    OFFSET,
    POWER,
    PRESSURE,
    SLOPE,
    STIFFNESS,
    TEMPERATURE,
    VOLUME,
    WRITTEN,
    Kind,
    registry,
    scale,
)
from platestack.geometry.units.reading import UnitError, allowed, nearest, parse
from platestack.geometry.units.showing import (
    ROUNDING,
    WithError,
    bare,
    capacity,
    column,
    dimension,
    figure,
    fixed,
    fraction,
    in_columns,
    percent,
    place,
    plain,
    quantity,
    show,
    stock,
)
from platestack.geometry.units.systems import (
    NAMES,
    SYSTEMS,
    Shown,
    SystemName,
    choose,
    market,
    named,
    reset,
    shown_in,
    shown_units,
    system,
    using,
)
