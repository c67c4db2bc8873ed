"""Unknowns, memory and time that a case will take, told before it is meshed; made to fit.

The first mesh is counted (`geometry.mesher.counting`). Refinement goes on from there until the
accuracy is reached, or `mesh.most_unknowns`. What a run usually takes and what it may take at most
are told apart: the first is shown, the second must fit. Memory and time are straight lines in the
unknowns, measured on the presses in `cases/` (`tests/figures/forecast.py` prints how they hold)
and on stacks of thin plates.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass

from platestack.fea.solid.stack import mesh_plan
from platestack.fea.support import machine, parallel
from platestack.fea.support.machine import Room
from platestack.geometry.errors import PlatestackError
from platestack.geometry.mesher.counting import count
from platestack.geometry.parts import Press, Stack
from platestack.geometry.schema import Case
from platestack.geometry.units import LENGTH, show

log = logging.getLogger(__name__)

BASE = 250e6
"""Memory (bytes) that compiled kernels, results and pictures take besides what is there already."""

PER_UNKNOWN = {"welded": 2700.0, "loose": 4000.0, "clamped": 6000.0}
"""Memory (bytes) for each unknown of a stack, at its peak."""

SECONDS = {"welded": 50e-6, "loose": 150e-6, "clamped": 300e-6}
"""Seconds of one thread for each unknown of a mesh: made, solved, read, its errors estimated."""

THIN = 1 / 3
"""Thickness over the length of the elements below which plates bend in ways that solver and
contact find slowly."""

THIN_SECONDS = {"welded": 2.5, "loose": 6.0, "clamped": 6.0}
THIN_MEMORY = {"welded": 1.0, "loose": 1.5, "clamped": 1.5}
"""Factors on time and memory for stacks of such plates."""

TWO_THREADS = 0.7
"""Time on two threads or more over that on one: meshing and reading have but one."""

START = 3.0
"""Seconds besides: hand calculations, results, pictures."""

USUAL_LAST, USUAL_ALL = 1.5, 2.0
"""Unknowns of the last mesh, and of all meshes together, over those of the first, usually."""

OVERSHOOT = 1.25
"""Unknowns of a refined mesh over those it was to have, at most."""

SHARE = 0.85
"""Part of the free memory that is planned with."""

COARSER = (1.0, 1.25, 1.6, 2.0, 2.5)
"""Factors on the element size that are tried to make a first mesh fit."""


class TooLarge(PlatestackError):
    """The case does not fit into the memory of this machine."""


@dataclass(frozen=True)
class Expected:
    """Unknowns of one stack: of the first mesh, of the last usually, and at most."""

    first: float
    usual: float
    most: float
    per_unknown: float
    """Memory (bytes) for each."""
    seconds: float
    """Of one thread for each."""

    def memory(self, unknowns: float) -> float:
        """Memory (bytes) taken at so many unknowns."""
        return BASE + self.per_unknown * unknowns


@dataclass(frozen=True)
class Forecast:
    """What a case will take on this machine; the case itself made to fit, if it had to be."""

    case: Case
    stacks: dict[str, Expected]
    room: Room
    occupied: float
    """Memory (bytes) that the program occupies before it begins."""
    seconds: float
    coarsened: str = ""
    """What was done to the first mesh, in a sentence."""
    shortened: str = ""
    """What was done to the refinement, in a sentence."""

    @property
    def unknowns(self) -> tuple[float, float]:
        """Of both stacks, usually and at most."""
        stacks = self.stacks.values()
        return sum(stack.usual for stack in stacks), sum(stack.most for stack in stacks)

    @property
    def memory(self) -> tuple[float, float]:
        """Memory in bytes, usually and at most; stacks are solved one after the other."""
        stacks = self.stacks.values()
        usual, most = (
            self.occupied + max(stack.memory(getattr(stack, which)) for stack in stacks)
            for which in ("usual", "most")
        )
        return usual, most

    def words(self) -> str:
        """One line on what is expected."""
        (usual, most), (memory, bound) = self.unknowns, self.memory
        return (
            f"expects {rounded(usual)} unknowns, about {_gb(memory)}, about "
            f"{rounded(self.seconds)} s; refinement may take up to {rounded(most)} unknowns and "
            f"{_gb(bound)}, of {_gb(self.room.free)} free ({self.room.why})"
        )


def of(press: Press, case: Case) -> Forecast:
    """What a case will take, with its mesh made coarser where it would not fit.

    Refinement is cut short first. Where the first mesh is too large already its elements are made
    larger, unless the case says their size: that is for the user to change.

    Raises
    ------
    TooLarge
        If the case does not fit all the same.
    """
    room = machine.room()
    given = case.mesh.size
    for factor in COARSER if given is None else COARSER[:1]:
        fitted = _coarser(press, case, factor)
        first: dict[str, float] = {s.name: _first(press, s, fitted) for s in press.stacks}
        allowed: dict[str, float] = {
            s.name: max(SHARE * room.free - BASE, 0.0) / _prices(press, s, fitted)[0]
            for s in press.stacks
        }
        if all(first[name] <= allowed[name] for name in first):
            break
    else:
        raise TooLarge(_refusal(press, case, first, room))
    cap = int(min(case.mesh.most_unknowns, *(most / OVERSHOOT for most in allowed.values())))
    stacks: dict[str, Expected] = {
        s.name: Expected(
            first[s.name],
            min(USUAL_LAST * first[s.name], max(first[s.name], case.mesh.most_unknowns)),
            max(first[s.name], OVERSHOOT * cap),
            *_prices(press, s, fitted),
        )
        for s in press.stacks
    }
    coarsened = shortened = ""
    if factor > 1:
        coarsened = (
            f"The first mesh was made coarser, elements of {show(fitted.mesh.size or 0, LENGTH)}, "
            f"to fit into {_size(room)}."
        )
    if cap < case.mesh.most_unknowns:
        shortened = (
            f"Refinement may go to {rounded(cap)} unknowns of a stack in place of "
            f"{case.mesh.most_unknowns:,}, to fit into {_size(room)}."
        )
        wish = fitted.mesh.model_copy(update={"most_unknowns": max(cap, 1000)})
        fitted = fitted.model_copy(update={"mesh": wish})
    pace = machine.pace() * (TWO_THREADS if parallel.threads() > 1 else 1.0)
    seconds = START + pace * sum(
        stack.seconds * USUAL_ALL * stack.first for stack in stacks.values()
    )
    found = Forecast(fitted, stacks, room, machine.resident(), seconds, coarsened, shortened)
    for words in filter(None, (found.words(), coarsened, shortened)):
        log.info(words)
    return found


def rounded(number: float) -> str:
    """A number to two digits, with separators."""
    digits = max(0, len(str(int(number))) - 2)
    return f"{round(number, -digits):,.0f}"


def _prices(press: Press, stack: Stack, case: Case) -> tuple[float, float]:
    """Memory (bytes) and seconds for each unknown of a stack, by its costliest interface.

    That is one between plates or under pads.
    """
    kind = max([stack.interface, *(pad.kind for pad in stack.pads)], key=PER_UNKNOWN.__getitem__)
    thinnest = min(plate.thickness for plate in stack.plates)
    if thinnest < THIN * mesh_plan(press, stack, case)[1].body:
        return THIN_MEMORY[kind] * PER_UNKNOWN[kind], THIN_SECONDS[kind] * SECONDS[kind]
    return PER_UNKNOWN[kind], SECONDS[kind]


def _first(press: Press, stack: Stack, case: Case) -> float:
    """Unknowns of a stack's first mesh."""
    return count(stack, press.rods, *mesh_plan(press, stack, case)).unknowns


def _coarser(press: Press, case: Case, factor: float) -> Case:
    if factor == 1:
        return case
    size = factor * max(mesh_plan(press, stack, case)[1].body for stack in press.stacks)
    return case.model_copy(update={"mesh": case.mesh.model_copy(update={"size": size})})


def _refusal(press: Press, case: Case, first: dict[str, float], room: Room) -> str:
    prices = {stack.name: _prices(press, stack, case)[0] for stack in press.stacks}
    needed = max(BASE + prices[name] * first[name] for name in prices)
    size = case.mesh.size
    advice = (
        "give it more memory"
        if size is None
        else f"give a mesh.size over {show(size, LENGTH)}, or more memory"
    )
    return (
        f"the case does not fit this machine: its first mesh, about "
        f"{rounded(max(first.values()))} unknowns, takes about {_gb(needed)} of "
        f"{_size(room)}; {advice}"
    )


def _size(room: Room) -> str:
    return f"{_gb(room.free)} ({room.why})"


def _gb(size: float) -> str:
    return f"{size / 1e9:.2g} GB"
