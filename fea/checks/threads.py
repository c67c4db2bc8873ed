"""Threads of the tie rods in shear, and what their washers press on."""

from __future__ import annotations

from platestack.fea.checks.alike import most
from platestack.fea.checks.tilt import rod_bending
from platestack.fea.checks.use import Use, life_facts
from platestack.fea.hand import fatigue, threads
from platestack.fea.hand.record import Check, Fact, Input
from platestack.fea.solid.model import Solution
from platestack.geometry import tables
from platestack.geometry.parts import Stack, TieRod
from platestack.geometry.units import quantity

_SOURCE = (
    "FED-STD-H28 areas at least material; Alexander 1977 (C1); VDI 2230-1 (0.58), not verified"
)
_CAUTIONS = (
    "The first threads carry two to four times the mean while all is elastic (Sopwith 1948); the "
    "check counts on yielding to level that out, as nut standards do. Fatigue is not included.",
    "The nut is taken to be of the rod's steel and strength.",
)


def thread_shear(solution: Solution) -> list[Check]:
    """Shear in the threads of the most loaded rod and of its nut."""
    rod, force = _worst(solution)
    thread, factor = tables.rod_thread(rod.thread), solution.press.rod_safety_factor
    # One pitch is lost to the chamfers of the nut (common practice, no source).
    length = rod.engaged - thread.pitch
    ratio = min(max(rod.nut_across_flats / thread.d, 1.4), 1.9)
    left = threads.dilation_factor(ratio * thread.d, thread.d)
    areas = {
        "rod": threads.rod_shear_area(thread, length),
        "nut": threads.nut_shear_area(thread, length),
    }
    return [
        Check(
            rod.name, f"thread of the {part} in shear",
            force / (left * area),
            threads.SHEAR_OVER_TENSION * rod.material.yield_strength / factor, "Pa",
            f"0.58 × yield of {rod.material.grade} / {factor:g}",
            "F / (C_1·A_shear) ≤ 0.58·R_e / S", _SOURCE,
            f"{rod.thread}; engaged over the nut's height, stacks at their highest, less one pitch",
            (Input("F", force, "N"), Input("C_1", left, "1"), Input("A_shear", area, "m²"),
             Input("R_e", rod.material.yield_strength, "Pa"), Input("S", factor, "1")),
            _CAUTIONS,
            method=f"A_shear at least material over {quantity(length, 'm')}; C_1 for what widening "
            "of the nut leaves",
        )
        for part, area in areas.items()
    ]  # fmt: skip


def thread_ends(solution: Solution) -> list[Check]:
    """Thread beyond the nut over the highest stack, and left below it over the lowest."""
    rod = solution.press.rods[0]
    pitch, (low, high) = tables.rod_thread(rod.thread).pitch, rod.deviation
    left = rod.thread_length - rod.projection - rod.nut_height
    if rod.seat == "inner nuts":  # the thread goes on to the inner nut, and through it
        left -= max(end_depth(rod, stack) for stack in solution.press.stacks) + rod.nut_height
    turn = Input("P", pitch, "m")
    outside = (Input("u", rod.projection, "m"), Input("e_upper", high, "m"), turn)
    inside = (Input("b", left, "m"), Input("e_lower", low, "m"), turn)
    return [
        Check("press", "rod thread beyond the nut, stack at its highest",
              rod.projection - high, pitch, "m",
              "pitch of the thread", "u − e_upper ≥ P",
              "EN 1090-2:2018, 8.2.2, not verified against the standard",
              "plates at their upper deviations", outside,
              sense="at least", by_design=True),
        Check("press", "rod thread left below the nut, stack at its lowest", left + low, pitch, "m",
              "pitch of the thread", "b + e_lower ≥ P", "common practice, no source",
              "plates at their lower deviations; beyond, the nut would run into the run-out",
              inside, sense="at least", by_design=True,
              method="b: thread below the nut, and the inner nut where there is one"),
    ]  # fmt: skip


def end_depth(rod: TieRod, stack: Stack) -> float:
    """From the nut, through washer and stack, to the seat of a rod (m)."""
    assert rod.seat_annulus is not None
    face = stack.seat_face(rod.seat_annulus)
    seat = stack.load_face if face is None else face
    return rod.washer_thickness + abs(stack.nut_face - seat)


def washer_bearing(solution: Solution) -> list[Check]:
    """Mean pressure under the washer of the most loaded rod on each stack."""
    rod, force = _worst(solution)
    factor = solution.press.yield_safety_factor
    checks = []
    for stack in solution.press.stacks:
        bearing = [
            plate
            for plate in stack.plates
            if min(abs(end[2] - stack.nut_face) for end in plate.bounds) < 1e-9
        ]
        plate = min(bearing, key=lambda plate: plate.material.yield_strength)
        checks.append(
            Check(
                f"{stack.name} {plate.name}", "pressure under the washer",
                force / rod.annulus.area, plate.material.yield_strength / factor, "Pa",
                f"yield of {plate.material.grade} at this thickness / {factor:g}",
                "F / A_annulus ≤ R_eH / S", plate.material.source,
                f"{rod.name}; mean over the annulus, its edges see more",
                (Input("F", force, "N"), Input("A_annulus", rod.annulus.area, "m²"),
                 Input("R_eH", plate.material.yield_strength, "Pa"), Input("S", factor, "1")),
            )
        )  # fmt: skip
    return checks


def thread_fatigue(solution: Solution) -> list[Check]:
    """Stress range in the thread of the rod that pressing stretches most."""
    rod, force, bending = thread_range(solution)
    inner, use = rod.seat == "inner nuts", Use.of(solution.case)
    least = "preload" if rod.preload and not inner else "no force"
    size = fatigue.size_factor(tables.rod_thread(rod.thread).d)
    category = fatigue.THREAD_CATEGORY * size
    return [
        Check(
            rod.name,
            "fatigue of the thread",
            force / rod.stress_area + bending,
            use.allowed(category),
            "Pa",
            f"category 50, {use.words}",
            f"ΔF / A_s + σ_b ≤ k_s·{use.strength}",
            "EN 1993-1-9:2005 7.1, Table 8.1, not verified against the standard",
            f"{rod.thread}; stress range from {least} to capacity",
            (
                Input("ΔF", force, "N"), Input("A_s", rod.stress_area, "m²"),
                Input("σ_b", bending, "Pa"), Input("k_s", size, "1"),
                Input("Δσ_C", fatigue.THREAD_CATEGORY, "Pa"), Input("N", use.equivalent(), "1"),
                Input("γ_Mf", use.factor, "1"),
            ),
            (
                "Counts on the preload: once it is lost, the whole working force alternates."
                if least == "preload"
                else "The whole working force alternates: below the inner nut no preload is left."
                if inner
                else "The whole working force alternates: the rods have no preload.",
                "Bending by the tilt of the plates is included, by faces out of square it is not.",
            ),
        )
    ]  # fmt: skip


def thread_facts(solution: Solution) -> list[Fact]:
    """Miner's sum of the most tired thread, and the years until it is one."""
    rod, force, bending = thread_range(solution)
    category = fatigue.THREAD_CATEGORY * fatigue.size_factor(tables.rod_thread(rod.thread).d)
    stress = force / rod.stress_area + bending
    return life_facts(f"{rod.name}, thread", Use.of(solution.case), category, stress)


def thread_range(solution: Solution) -> tuple[TieRod, float, float]:
    """The rod whose thread pressing stretches most, the force it adds (N), and bending (Pa)."""
    # Between inner nuts nothing relieves the thread: it bears the working force alone.
    inner = solution.press.rods[0].seat == "inner nuts"
    alternates = solution.rod_force if inner else solution.alternating_force
    rod = most(solution.press.rods, alternates)
    return rod, alternates(rod), rod_bending(solution, rod).stress


def _worst(solution: Solution) -> tuple[TieRod, float]:
    """The most loaded rod, and its force (N): at capacity or as tightened."""

    def force(rod: TieRod) -> float:
        return max(solution.nut_force(rod), rod.preload)

    rod = most(solution.press.rods, force)
    return rod, force(rod)
