"""Balance of forces between plates that press, part and slide, by Newton's method.

The law acts at the quadrature points of matching face pairs. With the jump of displacement from
the lower to the upper side, g its normal part plus the initial gap and s its tangential part since
the last load step,

    p = max(0, λ − ε g),     t = λ_t + ε s,  shortened to μ p where it is longer,

are the pressure on, and the friction between, the plates (Alart & Curnier, Comput. Methods Appl.
Mech. Engng 92 (1991) 353; Wriggers, Computational Contact Mechanics, 2nd ed., ch. 6).

The balance of forces is found by Newton's method, with each linear system solved to a part of its
right-hand side (Eisenstat & Walker, SIAM J. Sci. Comput. 17 (1996) 16). Within a step the bound μ p
of friction is held: then the systems are symmetric, and the forces derive from a convex potential,
along which the step is shortened or stretched. At first, or where steps cycle, it is held for
several steps, until the forces nearly balance: where much sticks, a bound that follows each step
throws the next one back. From rest it is held at nothing, so that plates which nothing presses
together find their places without friction first. Where steps have to be cut short, what resists
the free motion of such plates is raised for the next one. Once the forces balance, λ ← p and
λ_t ← t (augmented Lagrangian), until nothing of note penetrates, presses across a gap, or creeps
while it sticks. Where that takes many updates the penalty is made harder. A penalty that had to be
softened on the way is hardened again before anything is accepted: under a soft one a multiplier
presses across a gap as far as λ/ε.

Matching faces carry the same quadratic functions, so a uniform pressure is met exactly and a closed
interface does not lock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import Interfaces
from platestack.fea.solid.contact.law import FLOOR, Law, Memory, State
from platestack.fea.solid.contact.linear import NewtonLinearSolver
from platestack.fea.solid.contact.point import Point
from platestack.fea.support.errors import NotConverged

STIFFNESS = 2.0
"""Penalty ε as a multiple of E over the thinnest plate's thickness."""

MOST_STEPS = 150
"""Newton steps and updates of the multipliers before it is given up."""

MOST_UPDATES = 25
"""Updates of the multipliers; what then still penetrates must be tolerable."""

TOLERABLE = 1e-2
"""Complementarity error, and part of the force that crosses gaps, above which it is given up."""

WIDE = 1e-2
"""A gap that no force may cross, as a part of the work done over the force that passes."""

PATIENT = 15
"""Newton steps without halving the residual after which something is done. The residual often
grows while contact moves from one place to another; what each step lessens is the potential."""

SETTLED = 0.1
"""Part of the residual at which a held bound of friction is taken anew."""

ROUNDING = 4.0
"""Rounding of forces that add up over steps and through both sides, over that of one product."""

NEGLIGIBLE = 4e-4
"""Work of the tractions on penetration and creep, and that on gaps, to leave alone: each as a part
of the work done."""

BALANCED = 0.01
"""Residual, as a part of the load, at which the multipliers are judged, as a multiple of the
work to leave alone. What is out of balance then enters the multipliers, and updates take short
waves of it out only slowly: a tenth of it stays in a pressure that should be even."""

SLOW = 0.3
"""Part of that work left by an update above which the penalty is hardened."""

FAR = 5.0
"""Multiple of the work to leave alone above which it is hardened. A penalty as given softens the
rims of stiff bodies, where pressure has no finite value; a harder one lets it swing there."""

LOOSE = 0.05
"""Loosest tolerance of a linear solve."""

ADVICE = (
    "try a finer mesh.size, more rods.preload or another friction, or look for a plate that "
    "nothing holds"
)


@dataclass(frozen=True)
class Contact:
    """A solution with contact: displacements (3n,), state, and what it took."""

    displacement: np.ndarray
    state: State
    tangent: System
    """The linear system at the solution, for error estimates."""
    solver: solvers.MultigridSolver
    made_for: np.ndarray
    """Slope of the law, (k, q, 3, 3) in N/m³, for which the solver's preconditioner was made."""
    steps: int
    iterations: int
    residual: float
    updates: int
    complementarity: float
    """Work of the tractions on gaps, on penetration, and on creep while stuck, over the work
    done; at a solution of the continuous problem each of these products is zero."""
    across_gaps: float
    """Part of the force between the plates that crosses gaps wider than `WIDE` says."""
    nodal: State
    """The state at the nodes of the faces."""
    memory: Memory
    dissipated: float
    """Work (J) taken up by friction in this load step."""
    eased: tuple[str, ...]
    """What was done where steps got nowhere."""


def solve(
    system: System,
    space: QuadraticSpace,
    faces: Interfaces,
    load: np.ndarray,
    *,
    tol: float = 1e-7,
    penetration: float = NEGLIGIBLE,
    before: Contact | None = None,
    progress: Callable[[str], None] = lambda words: None,
) -> Contact:
    """Bring loads, elasticity and contact into balance.

    Parameters
    ----------
    system : the elastic system without contact.
    faces : the interfaces.
    load : (3n,) in N.
    tol : residual force over the load at the end.
    penetration : work of the tractions on penetration and creep, and on gaps, to leave alone, each
        as a part of the work done.
    before : the solution of the load step before, whose friction is remembered.
    progress : told after each Newton step.

    Raises
    ------
    NotConverged
        If forces do not come into balance, or cross gaps, with advice.
    """
    law, linear, at = _begun(system, space, faces, load, before)
    scale = max(float(np.linalg.norm(load)), at.size) or 1.0
    tangent = law.first_tangent()
    target = max(tol, BALANCED * penetration)
    steps, iterations, updates, left = 0, 0, 0, np.inf
    size = last = at.size / scale
    watch, settled = _Watch(size), False
    while True:
        if size <= target:
            at = at.unbound(system, law)
            if at.size / scale <= target:
                earlier, left = left, max(law.works(at.state)) / (at.work(system) or 1.0)
                progress(f"penetration, gaps or creep leave {left:.1e} of the work")
                if law.softened:
                    law.update(at.jump, harder=True)
                    at, left = at.again(system, law), np.inf
                elif left > penetration and updates < MOST_UPDATES:
                    slow = left > max(SLOW * earlier, FAR * penetration)
                    law.update(at.jump, harder=slow)
                    at, updates = at.again(system, law), updates + 1
                elif target > tol:
                    target = tol
                else:
                    break
            tangent, size = law.tangent(at.state), at.size / scale
            watch, last = _Watch(size), size
            if size <= target:
                continue
        if steps + updates >= MOST_STEPS:
            raise NotConverged(steps, size, target, _advice(law, at))
        # Where the last step has changed no state it pays to solve to the end.
        wanted = max(0.3 * target / size, 0.0 if settled else 0.5 * (size / last) ** 2)
        answer = linear.solve(tangent, at.residual, min(LOOSE, wanted))
        iterations += answer.iterations
        was, at = at.state, at.searched(system, law, answer.displacement)
        settled = at.state.linear(was)
        last, size = size, at.size / scale
        steps += 1
        progress(f"contact step {steps}: residual {size:.1e}")
        if target < size <= SETTLED * watch.start:
            at = at.unbound(system, law)
            watch = _Watch(size := at.size / scale)
        tangent = law.tangent(at.state)
        if watch.stalls(size):
            if size <= ROUNDING * system.rounding(at.u) / scale:
                tol, target = max(tol, size), max(target, size)
            elif words := law.eased(updates):
                progress(words)
                at = at.again(system, law)
                tangent, size = law.tangent(at.state), at.size / scale
            watch = _Watch(size)
    return _completed(law, linear, at, (steps, iterations, size, updates))


def _begun(
    system: System,
    space: QuadraticSpace,
    faces: Interfaces,
    load: np.ndarray,
    before: Contact | None,
) -> tuple[Law, NewtonLinearSolver, Point]:
    """Where a load step starts: from rest, or from the step before."""
    memory, made, displacement = (
        (before.memory, (before.solver, before.made_for), before.displacement)
        if before
        else (None, None, None)
    )
    law = Law(faces, memory)
    at = Point.of(system, law, load, displacement)
    law.bound = at.state.bound
    return law, NewtonLinearSolver(system, space, faces, made), at


def resisted(system: System, faces: Interfaces, found: Contact | None) -> np.ndarray:
    """Forces (3n,) in N that elasticity, ties and contact put up in a solution; none from rest."""
    if found is None:
        return np.zeros(system.size)
    pressed = faces.forces(Law(faces).traction(found.state))
    return np.where(system.free, system.apply(found.displacement) + pressed, 0.0)


def _completed(
    law: Law, linear: NewtonLinearSolver, at: Point, cost: tuple[int, int, float, int]
) -> Contact:
    """The solution, from `steps` to `updates` at this cost, if its state is a true one."""
    law.floor = FLOOR
    solver, made_for = linear.ready(law.tangent(at.state))
    work = at.work(solver.system.with_extra(None))
    error = sum(law.works(at.state)) / (work or 1.0)
    across = law.across_gaps(at.state, WIDE * work)
    for name, found in (("complementarity error", error), ("force across gaps", across)):
        if found > TOLERABLE:
            raise NotConverged(
                cost[0], found, TOLERABLE, f"The {name} is too large: {_advice(law, at)}"
            )
    nodal = law.nodal(at.jump)
    memory = Memory(at.jump, at.state.pressure, at.state.friction)
    rest = nodal, memory, law.dissipated(at.state), tuple(law.eases)
    return Contact(at.u, at.state, solver.system, solver, made_for, *cost, error, across, *rest)


def _advice(law: Law, at: Point) -> str:
    """Where forces do not balance, and what to try."""
    faces, state = law.faces, at.state
    names = [name.replace(" | ", " and ") for name in faces.names]
    touching = np.bincount(faces.owner, state.closed.any(axis=1), len(names))
    if not touching.all():
        return f"Nothing presses {names[int(touching.argmin())]} together: {ADVICE}"
    nodal = np.linalg.norm(at.residual.reshape(-1, 3), axis=1)
    left = (nodal[faces.lower] + nodal[faces.upper]).sum(axis=1)
    worst = names[int(np.bincount(faces.owner, left, len(names)).argmax())]
    return f"Contact finds no balance, worst between {worst}: {ADVICE}"


class _Watch:
    """Notices when the residual has not halved for some steps."""

    def __init__(self, size: float):
        self.start = self._best = size
        self._since = 0

    def stalls(self, size: float) -> bool:
        """Take note of a residual; whether nothing has come of the last steps."""
        if size < self._best / 2:
            self._best, self._since = size, 0
        else:
            self._since += 1
        return self._since >= PATIENT
