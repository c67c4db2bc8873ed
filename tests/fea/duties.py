"""Duties from 20 to 2,000 tf, two to eight rods, flat and on edge: what sizing is tried on."""

from __future__ import annotations

from platestack.fea.jobs import sizing

# Capacity, pressure, daylight, and what else is asked for.
DUTIES = {
    "20 tf, two rods": ("20 tf", "20 MPa", "250 mm", {"rods": 2}),
    "30 tf, two rods on edge": ("30 tf", "28 MPa", "300 mm", {"rods": 2, "layout": "on edge"}),
    "50 tf": ("50 tf", "25 MPa", "300 mm", {}),
    "100 tf welded": ("100 tf", "28 MPa", "400 mm", {"interface": "welded"}),
    "160 tf on edge": ("160 tf", "28 MPa", "500 mm", {"layout": "on edge"}),
    "200 tf, pump": ("200 tf", None, "450 mm", {"pump": "700 bar"}),
    "250 tf, bed given": ("250 tf", "32 MPa", "450 mm", {"length": "1.1 m", "width": "700 mm"}),
    "300 tf, six rods on edge": (
        "300 tf", "32 MPa", "500 mm", {"rods": 6, "layout": "on edge"}),
    "400 tf, six rods": ("400 tf", "32 MPa", "600 mm", {"rods": 6}),
    "500 tf": ("500 tf", "450 atm", "300 mm", {"stroke": "200 mm", "cycles": 5000}),
    "800 tf on edge": ("800 tf", "40 MPa", "600 mm", {"layout": "on edge", "cycles": 5000}),
    "1000 tf, six rods": ("1000 tf", "40 MPa", "800 mm", {"rods": 6, "interface": "welded"}),
    "2000 tf, eight rods": (
        "2000 tf", "45 MPa", "800 mm", {"rods": 8, "interface": "welded", "cycles": 5000}),
}  # fmt: skip


def duty_of(
    capacity: str, pressure: str | None, daylight: str, more: dict[str, object]
) -> sizing.Duty:
    """The duty as the command would read it."""
    given = {"capacity": capacity, "pressure": pressure, "daylight": daylight, **more}
    return sizing.read(None, given)
