"""What must not change an answer: ``python -m tests.figures.invariance``.

A stack on one mesh is solved again scaled, turned, mirrored, renumbered and on other threads. The
same sums are then made in another order, or with other units, so that only rounding and what the
solver leaves over may differ: solved to 1e-11, all figures must agree to 1e-9. With contact, solved
to 1e-10, they agree to 1e-6 or so, as a point on the verge of opening may fall to either side.
Largest relative differences are printed.
"""

from __future__ import annotations

import dataclasses
import functools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.solid import contact, pressing
from platestack.fea.solid.pressing import Pressing
from platestack.fea.solid.stress import recover
from platestack.fea.solid.stress.estimate import Body
from platestack.fea.support import parallel
from platestack.geometry import case as case_file
from platestack.geometry import layout, mesher
from platestack.geometry.mesh import EDGES, Sizes, StackMesh
from platestack.geometry.parts import Material, Press, Stack, TieRod

CONTACT = 1e-10
"""Tightest residual asked of contact."""

CASES = Path(__file__).parents[2] / "cases"
AREAS, FORCES = {"stress_area"}, {"preload", "capacity"}
PURE = {"friction", "yield_safety_factor", "rod_safety_factor", "working_pressure"}


@dataclass(frozen=True)
class Set:
    """A stack with its press and mesh: all that a solution needs."""

    press: Press
    stack: Stack
    mesh: StackMesh


def coarse(name: str, which: str, kind: str) -> Set:
    """A stack of a case without mirrors, on a coarse mesh."""
    press = layout.build(case_file.read(CASES / name / f"{name}.toml"))
    stack = replace(getattr(press, which), interface=kind)
    xs = [rod.at[0] for rod in press.rods]
    sizes = Sizes((max(xs) - min(xs)) / 5, 10, ring_divisions=1, patch_divisions=4)
    return Set(press, stack, mesher.make(stack, press.rods, frozenset(), sizes))


def figures(given: Set, tol: float = 1e-11) -> dict[str, float]:
    """Deflection, energy, rod forces and peak stress, solved to `tol`."""

    def linear(system: Any, space: Any) -> Any:
        made = solvers.solver(system, space)
        return mock.Mock(wraps=made, solve=functools.partial(made.solve, tol=tol))

    solve = contact.solve

    def pressed(*args: Any, **more: Any) -> Any:
        return solve(*args, **more | {"tol": max(tol, CONTACT)})

    with (
        mock.patch.object(pressing, "solvers", mock.Mock(solver=linear)),
        mock.patch.object(pressing.contact, "solve", pressed),
    ):
        solved = Pressing(given.press, given.stack, given.mesh, lambda step: None)
    body = Body.of(solved.space, solved.young, solved.poisson)
    nodes = recover.PlateNodes.of(solved.mesh)
    local = body.stress(solved.pressed.displacement, recover.NODES_OF_REFERENCE)
    stress = recover.averaged(nodes, local, recover.volumes(solved.mesh))
    return {
        "deflection": solved.deflection()[0],
        "work": solved.work,
        "largest rod force": float(max(rod.nut for rod in solved.pressed.rods)),
        "peak stress": float(recover.von_mises(stress).max()),
    }


def scaled(given: Set, factor: float) -> Set:
    """All lengths times a factor, forces times its square: the same stresses."""

    def grow(thing: Any, name: str = "") -> Any:
        if isinstance(thing, Material) or name in PURE:
            return thing
        if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
            fields = [f for f in dataclasses.fields(thing) if f.init]
            return replace(thing, **{f.name: grow(getattr(thing, f.name), f.name) for f in fields})
        if isinstance(thing, tuple):
            return tuple(grow(item, name) for item in thing)
        if isinstance(thing, float):
            return thing * factor ** (2 if name in AREAS | FORCES else 1)
        return thing

    class Scaled(TieRod):
        """Its thread is not a standard one any more, but yields as one of its size would."""

        @property
        def end_compliance(self) -> float:
            return given.press.rods[0].end_compliance / factor

    press = grow(replace(given.press, cylinder=None))
    rods = tuple(Scaled(**{f.name: getattr(r, f.name) for f in dataclasses.fields(r)})
                 for r in press.rods)  # fmt: skip
    press = replace(press, rods=rods)
    mesh = replace(given.mesh, nodes=given.mesh.nodes * factor)
    return Set(press, grow(given.stack), mesh)


def turned(given: Set, angle: float) -> Set:
    """Turned about the press axis by an angle (rad)."""
    cos, sin = math.cos(angle), math.sin(angle)
    return _placed(given, np.array([[cos, -sin], [sin, cos]]))


def mirrored(given: Set) -> Set:
    """Mirrored at x = 0."""
    there = _placed(given, np.array([[-1.0, 0.0], [0.0, 1.0]]))
    # Swapping two corners, and the edges they end, turns the elements right side out again.
    order = [1, 0, 2, 3, 4, 6, 5, 8, 7, 9]
    return replace(there, mesh=replace(there.mesh, tets=there.mesh.tets[:, order]))


def renumbered(given: Set, seed: int) -> Set:
    """Corners and elements in random order; edge nodes follow, in the order of their corners.

    Half of the elements have their corners named in another order, too.
    """
    rng = np.random.default_rng(seed)
    mesh = given.mesh
    corners = int(mesh.tets[:, :4].max()) + 1
    cells = rng.permutation(len(mesh.tets))
    tets = mesh.tets[cells]
    half = rng.random(len(tets)) < 0.5
    tets[half] = tets[half][:, [1, 2, 0, 3, 5, 6, 4, 8, 9, 7]]
    new = np.empty(len(mesh.nodes), dtype=int)
    new[:corners] = rng.permutation(corners)
    ends = np.sort(new[tets[:, EDGES]], axis=2).reshape(-1, 2)
    _, inverse = np.unique(ends @ [corners, 1], return_inverse=True)
    new[tets[:, 4:].ravel()] = corners + inverse.ravel()
    nodes = np.empty_like(mesh.nodes)
    nodes[new] = mesh.nodes
    faces = {name: new[rng.permutation(nodes)] for name, nodes in mesh.faces.items()}
    changed = replace(mesh, nodes=nodes, tets=new[tets], plate=mesh.plate[cells], faces=faces)
    return replace(given, mesh=changed)


def on_threads(given: Set, count: int) -> dict[str, float]:
    """Figures computed on so many threads."""
    with mock.patch.object(parallel, "threads", return_value=count):
        return figures(given)


def _placed(given: Set, matrix: np.ndarray) -> Set:
    nodes = given.mesh.nodes.copy()
    nodes[:, :2] = nodes[:, :2] @ matrix.T
    rods = tuple(replace(rod, at=tuple((matrix @ rod.at).tolist())) for rod in given.press.rods)
    patch = replace(given.stack.patch, centre=tuple((matrix @ given.stack.patch.centre).tolist()))
    press = replace(given.press, rods=rods)
    return Set(press, replace(given.stack, patch=patch), replace(given.mesh, nodes=nodes))


def differences(
    one: dict[str, float],
    other: dict[str, float],
    powers: tuple[int, ...] = (0, 0, 0, 0),
    factor: float = 1.0,
) -> dict[str, float]:
    """Relative differences, the second taken back by ``factor ** power``."""
    return {
        name: abs(other[name] / factor**power / value - 1)
        for (name, value), power in zip(one.items(), powers, strict=True)
    }


SCALES = (1, 3, 2, 0)
"""Powers of the scale: deflection, work, force, stress."""

CHANGES: dict[str, Callable[[Set], Set]] = {
    "turned by 90°": lambda given: turned(given, math.pi / 2),
    "turned by 37°": lambda given: turned(given, math.radians(37)),
    "mirrored": mirrored,
    "nodes and elements renumbered": lambda given: renumbered(given, 1),
    "renumbered another way": lambda given: renumbered(given, 2),
}


def main() -> None:
    """Print the table."""
    names = ("deflection", "work", "largest rod force", "peak stress")
    for case, which, kind in (
        ("small", "crosshead", "welded"),
        ("small", "bed", "loose"),
        ("off_centre", "bed", "clamped"),
    ):
        given = coarse(case, which, kind)
        base = figures(given)
        print(f"\n{case}, {which}, {kind}: {given.mesh.unknowns:,} unknowns")
        print(f"{'relative difference':<34}" + "".join(f"{name:>20}" for name in names))
        rows: dict[str, dict[str, float]] = {
            f"scaled to {2 * factor * max(given.mesh.nodes[:, 0]):.3g} m": differences(
                base, figures(scaled(given, factor)), SCALES, factor
            )
            for factor in (0.01, 0.1, 3.0, 22.0)
        }
        rows |= {
            name: differences(base, figures(change(given))) for name, change in CHANGES.items()
        }
        rows |= {
            f"on {count} threads": differences(on_threads(given, 1), on_threads(given, count))
            for count in (2, 3)
        }
        for name, row in rows.items():
            print(f"{name:<34}" + "".join(f"{row[key]:>20.1e}" for key in names), flush=True)


if __name__ == "__main__":
    main()
