"""Bolts that are tightened: preload, torque, stiffness, what is left under load.

Formulae of VDI 2230-1 (edition 2015, unverified unless stated). Lengths in m, forces in
N, stresses in Pa, torques in N m, resiliences in m/N.
"""

from __future__ import annotations

import math

from platestack.geometry import tables
from platestack.geometry.tables import Thread, TrapezoidalThread
from platestack.geometry.units import quantity

UTILISATION = 0.9
"""Part of the yield strength that tightening may use, VDI 2230."""

SCATTER = {"torque wrench": 1.6, "hydraulic": 1.4}
"""Greatest over least preload by way of tightening, α_A; VDI 2230 Table A8, not verified."""

SLIP_FACTOR = 1.25
"""Partial factor of slip resistance, γ_M3 of EN 1993-1-8, 3.9.1."""

FACE_PRESSURE = 1.4
"""Allowed pressure under a bolt over tensile strength of the plate. VDI 2230-1 Table A9 has p_G of
490 MPa for 340 MPa (S235) and 760 MPa for 490 MPa (S355): 1.44 and 1.55; not verified."""

_COS = math.cos(math.pi / 6)


def assembly_preload(
    thread: Thread, yield_strength: float, friction: float, use: float = UTILISATION
) -> float:
    """Return the preload (N) at which tension and torsion together use a part of yield.

    A_s ν R_e / √(1 + 3 (3/2 d2/d_0 (P/(π d2) + 1.155 μ))²), d_0 the diameter of A_s.

    Raises
    ------
    ValueError
        Unless strength, friction and part are positive, the part at most 1.
    """
    _positive(yield_strength=yield_strength, friction=friction, use=use)
    if use > 1:
        raise ValueError(f"part of yield {use:g}; allowed: at most 1")
    mean = (thread.d2 + thread.d3) / 2
    twist = thread.pitch / (math.pi * thread.d2) + friction / _COS
    torsion = 1.5 * thread.d2 / mean * twist
    return thread.stress_area * use * yield_strength / math.sqrt(1 + 3 * torsion**2)


def class_preload(designation: str, property_class: str, friction: float) -> float:
    """Return the preload (N) that a property class allows a thread, by `assembly_preload`."""
    thread = tables.thread(designation)
    strength = tables.property_class(property_class, thread.d).yield_strength
    return assembly_preload(thread, strength, friction)


def torque(
    thread: Thread | TrapezoidalThread,
    force: float,
    friction: float,
    bearing_outer: float,
    hole: float,
) -> float:
    """Return the tightening torque (N m): F (P/2π + μ d2/(2 cos β) + μ D_Km/2).

    `friction` acts in the thread, whose flanks stand at β (30° metric, 15° trapezoidal), and under
    the nut, on the mean of bearing face and hole.
    """
    flank, under = thread.d2 / (2 * math.cos(thread.flank)), (bearing_outer + hole) / 4
    return force * (thread.pitch / (2 * math.pi) + friction * (flank + under))


def bolt_resilience(thread: Thread, length: float, young: float) -> float:
    """Resilience (m/N) of a stud or bolt with a shank of nominal diameter between its nuts.

    l/(E A) of the shank, at each end 0.5 d of thread over A_3 and 0.4 d of nut over A; a head
    counts as a nut.
    """
    _positive(length=length, young=young)
    shank = math.pi / 4 * thread.d**2
    root = math.pi / 4 * thread.d3**2
    ends = 2 * (0.5 * thread.d / root + 0.4 * thread.d / shank)
    return (length / shank + ends) / young


def plate_resilience(
    bearing: float, hole: float, length: float, young: float, tangent: float = math.tan(math.pi / 6)
) -> float:
    """Resilience (m/N) of clamped plates: two cones of pressure from bearing face to mid-height.

    2 ln[(dw + dh)(dw + l tan φ − dh) / ((dw − dh)(dw + l tan φ + dh))] / (E π dh tan φ); Rötscher's
    cones with φ = 30°, where VDI 2230 has tan φ by a fit. Plates must be wider than the cones.

    Raises
    ------
    ValueError
        Unless bearing > hole > 0 and length, modulus and tangent are positive.
    """
    _positive(hole=hole, length=length, young=young, tangent=tangent)
    if not bearing > hole:
        raise ValueError(f"bearing {bearing:g} m, hole {hole:g} m; allowed: bearing > hole")
    wide = bearing + length * tangent
    ratio = (bearing + hole) * (wide - hole) / ((bearing - hole) * (wide + hole))
    return 2 * math.log(ratio) / (young * math.pi * hole * tangent)


def load_factor(bolt: float, plates: float) -> float:
    """Part of an outer force that the bolt feels, Φ = δ_P / (δ_P + δ_S); force under the nuts."""
    return plates / (plates + bolt)


def endurance_amplitude(d: float) -> float:
    """Endurable stress amplitude (Pa) of a thread rolled before heat treatment, on A_s.

    0.85 (150 mm/d + 45) MPa for d (m) from 8 to 40 mm, more than 2·10⁶ cycles, VDI 2230 (5.5).

    Raises
    ------
    ValueError
        If the diameter is outside that range.
    """
    if not 0.008 * (1 - 1e-9) <= d <= 0.040 * (1 + 1e-9):
        raise ValueError(f"d = {quantity(d, 'm', 6)}; allowed: 8 to 40 mm")
    return 0.85e6 * (0.150 / d + 45)


def slip_resistance(preloads: float, friction: float, scatter: float) -> float:
    """Force (N) that one friction face holds: μ ΣF / (α_A γ_M3), EN 1993-1-8 3.9.1."""
    return friction * preloads / (scatter * SLIP_FACTOR)


def mass(
    thread: Thread, clamped: float, across_flats: float, nut_height: float, density: float
) -> float:
    """Mass (kg) of a hexagon bolt with its nut through plates `clamped` (m) thick.

    Hexagons without chamfers, the head 0.625 d high (ISO 4014, not verified); the shank at nominal
    diameter, a pitch beyond the nut.
    """
    hexagon = math.sqrt(3) / 2 * across_flats**2
    shank = math.pi / 4 * thread.d**2
    return density * (hexagon * (nut_height + 0.625 * thread.d) + shank * (clamped + thread.pitch))


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not 0 < value < math.inf:
            raise ValueError(f"{name.replace('_', ' ')} {value:g}; allowed: more than 0")
