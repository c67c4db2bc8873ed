"""Balance of forces between plates that press, part and slide: conjugate gradients on a potential.

The law acts at the quadrature points of matching face pairs. With the jump of displacement from
the lower to the upper side, g its normal part plus the initial gap and s its tangential part since
the last load step,

    p = max(0, λ − ε g),     t = λ_t + ε s,  shortened to μ p where it is longer,

are the pressure on, and the friction between, the plates (Alart & Curnier, Comput. Methods Appl.
Mech. Engng 92 (1991) 353; Wriggers, Computational Contact Mechanics, 2nd ed., ch. 6).

The balance of forces is found by conjugate gradients on the potential itself (Polak & Ribière): an
iteration makes one multigrid cycle of the stack as contact stands, and goes along the direction to
where the potential is least, which costs products at the interfaces alone. So contact moves with
each cycle, and no linear system is solved for a contact that will not last. The bound μ p of
friction is held meanwhile: then forces derive from a convex potential. It is taken anew as the
residual falls: where much sticks, a bound that follows each step throws the next one back. From
rest it is held at nothing, so that plates which nothing presses together find their places
without friction first. Where steps have to be cut short, what resists the free motion of such
plates in the cycle is raised. Once the forces balance, λ ← p and λ_t ← t (augmented Lagrangian),
until nothing of note penetrates, presses across a gap, or creeps while it sticks. Where that takes
many updates the penalty is made harder. A penalty that had to be softened on the way is hardened
again before anything is accepted: under a soft one a multiplier presses across a gap as far as λ/ε.

Matching faces carry the same quadratic functions, so a uniform pressure is met exactly and a closed
interface does not lock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from platestack.fea.numerics import solvers
from platestack.fea.numerics.elasticity import QuadraticSpace
from platestack.fea.numerics.krylov import inner
from platestack.fea.numerics.system import System
from platestack.fea.solid.contact.faces import Interfaces
from platestack.fea.solid.contact.law import FLOOR, Law, Memory, State
from platestack.fea.solid.contact.linear import ContactCycle, Ready
from platestack.fea.solid.contact.point import Point
from platestack.fea.support.errors import NotConverged

STIFFNESS = 2.0
"""Penalty ε as a multiple of E over the thinnest plate's thickness."""

MOST_ITERATIONS = 1500
"""Iterations before it is given up."""

MOST_UPDATES = 25
"""Updates of the multipliers; what then still penetrates must be tolerable."""

TOLERABLE = 1e-2
"""Complementarity error, and part of the force that crosses gaps, above which it is given up."""

WIDE = 1e-2
"""A gap that no force may cross, as a part of the work done over the force that passes."""

PATIENT = 40
"""Iterations without halving the residual after which something is done. The residual often
grows while contact moves from one place to another; what each step lessens is the potential."""

HOPELESS, NEAR = 400, 1e-3
"""Iterations without halving it, whatever was done, after which a residual that has never come near
is given up: plates hang by a few points in gaps as wide as they are bowed, and move on without
end. Near the end slippery ones take more."""

LONG = 60
"""Iterations to a balance of forces after which thin plates are looked for."""

SETTLED = 0.1
"""Part of the residual at which a held bound of friction is taken anew."""

ROUNDING = 4.0
"""Rounding of forces that add up over steps and through both sides, over that of one product."""

NEGLIGIBLE = 4e-4
"""Work of the tractions on penetration and creep, and that on gaps, to leave alone: each as a part
of the work done."""

BALANCED = 0.01
"""Residual, as a part of the load, at which the multipliers are checked, as a multiple of the
work to leave alone. What is out of balance then enters the multipliers, and updates take short
waves of it out only slowly: a tenth of it stays in a pressure that should be even."""

SLOW = 0.3
"""Part of that work left by an update above which the penalty is hardened."""

FAR = 5.0
"""Multiple of the work to leave alone above which it is hardened. A penalty as given softens the
rims of stiff bodies, where pressure has no finite value; a harder one lets it swing there."""

ADVICE = (
    "try a finer mesh.size, more rods.preload or another friction, or look for a plate that "
    "nothing holds"
)


@dataclass(frozen=True)
class Contact:
    """A solution with contact: displacements (3n,), state, and what it took."""

    displacement: np.ndarray
    state: State
    solver: solvers.MultigridSolver
    """Of the linear system at the solution, for error estimates."""
    slope: np.ndarray
    """Slope of the law there, (k, q, 3, 3) in N/m³ in the frames of the faces."""
    changes: int
    """How often the multigrid cycle followed the contact."""
    iterations: int
    residual: float
    updates: int
    work: float
    """Twice the elastic energy (J)."""
    lost: float
    """Work (J) of the tractions on gaps, on penetration, and on creep while stuck; at a solution
    of the continuous problem each of these products is zero."""
    across_gaps: float
    """Part of the force between the plates that crosses gaps wider than `WIDE` says."""
    nodal: State
    """The state at the nodes of the faces."""
    memory: Memory
    dissipated: float
    """Work (J) taken up by friction in this load step."""
    eased: tuple[str, ...]
    """What was done where steps got nowhere."""

    @property
    def ready(self) -> Ready:
        """What the next load step may begin with."""
        return self.solver, self.slope

    @property
    def complementarity(self) -> float:
        """The work `lost` over the work done."""
        return self.lost / (self.work or 1.0)


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
    progress : told after each iteration.

    Raises
    ------
    NotConverged
        If forces do not come into balance, or cross gaps, with advice.
    """
    law, at = _begun(system, faces, load, before)
    scale = max(float(np.linalg.norm(load)), at.size) or 1.0
    cycle = ContactCycle(system, space, faces, law.first_slope(), before.ready if before else None)
    target, size = max(tol, BALANCED * penetration), at.size / scale
    iterations, since, updates, left, stalled = 0, 0, 0, np.inf, False
    watch, hope, way = _Watch(size), _Watch(size, HOPELESS), _Direction()
    while True:
        if size <= target:
            at = at.unbound(system, law)
            way, size = _Direction(), at.size / scale
            if size <= target:
                earlier, left = left, max(law.works(at.state)) / (at.work(system) or 1.0)
                progress(f"penetration, gaps or creep leave {left:.1e} of the work")
                if law.softened:
                    law.update(at.jump, harder=True)
                    at, left = at.again(system, law), np.inf
                elif left > penetration and updates < MOST_UPDATES:
                    law.update(at.jump, harder=left > max(SLOW * earlier, FAR * penetration))
                    at, updates = at.again(system, law), updates + 1
                elif target > tol:
                    target = tol
                else:
                    break
            cycle.harden(law.slope(at.state), law.penalty)
            size, since = at.size / scale, iterations
            watch, hope = _Watch(size), _Watch(size, HOPELESS)
            if size <= target:
                continue
        if iterations >= MOST_ITERATIONS or (hope.stalls(size) and hope.best > NEAR):
            raise NotConverged(iterations, size, target, _advice(law, at))
        if iterations - since > LONG:
            cycle.slowed()
        if iterations or before:
            cycle.follow(law.slope(at.state), law.penalty)
        at = at.searched(system, law, way.towards(at.residual, cycle(at.residual)))
        iterations, size = iterations + 1, at.size / scale
        progress(f"contact iteration {iterations}: residual {size:.1e}")
        if target < size <= SETTLED * watch.start:
            at = at.unbound(system, law)
            way, size = _Direction(), at.size / scale
            watch = _Watch(size)
        if watch.stalls(size):
            if size <= ROUNDING * system.rounding(at.u) / scale:
                tol, target = max(tol, size), max(target, size)
            else:
                if stalled and law.eased(updates):
                    at = at.again(system, law)
                cycle.renew(law.slope(at.state))
                stalled = True
            size, way = at.size / scale, _Direction()
            watch = _Watch(size)
    return _completed(system, law, cycle, at, (iterations, size, updates))


class _Direction:
    """Conjugate directions to go in, by the formula of Polak and Ribière.

    It forgets the last one where that no longer helps, and takes a cycle that changes (Notay, SIAM
    J. Sci. Comput. 22 (2000) 1444).
    """

    def __init__(self) -> None:
        self._last = self._residual = np.zeros(0)
        self._size = 0.0

    def towards(self, residual: np.ndarray, step: np.ndarray) -> np.ndarray:
        """The direction after a residual (3n,) and the step (3n,) that a cycle would take."""
        size = inner(residual, step)
        if self._size:
            turn = (size - inner(self._residual, step)) / self._size
            if turn > 0:
                step = step + turn * self._last
                if inner(residual, step) <= 0:
                    step -= turn * self._last
        self._last, self._residual, self._size = step, residual, size
        return step


def _begun(
    system: System, faces: Interfaces, load: np.ndarray, before: Contact | None
) -> tuple[Law, Point]:
    """Where a load step starts: from rest, or from the step before."""
    law = Law(faces, before.memory if before else None)
    at = Point.of(system, law, load, before.displacement if before else None)
    law.bound = at.state.bound
    return law, at


def resisted(system: System, faces: Interfaces, found: Contact | None) -> np.ndarray:
    """Forces (3n,) in N that elasticity, ties and contact put up in a solution; none from rest."""
    if found is None:
        return np.zeros(system.size)
    pressed = faces.forces(Law(faces).traction(found.state))
    return np.where(system.free, system.apply(found.displacement) + pressed, 0.0)


def _completed(
    system: System, law: Law, cycle: ContactCycle, at: Point, cost: tuple[int, float, int]
) -> Contact:
    """The solution, from `iterations` to `updates` at this cost, if its state is a true one."""
    law.floor = FLOOR
    work = at.work(system)
    lost = sum(law.works(at.state))
    across = law.across_gaps(at.state, WIDE * work)
    for name, found in (
        ("complementarity error", lost / (work or 1.0)),
        ("force across gaps", across),
    ):
        if found > TOLERABLE:
            raise NotConverged(
                cost[0], found, TOLERABLE, f"The {name} is too large: {_advice(law, at)}"
            )
    changes = cycle.changes
    solver, slope = cycle.completed(law.slope(at.state))
    iterations, residual, updates = cost
    return Contact(
        displacement=at.u,
        state=at.state,
        solver=solver,
        slope=slope,
        changes=changes,
        iterations=iterations,
        residual=residual,
        updates=updates,
        work=work,
        lost=lost,
        across_gaps=across,
        nodal=law.nodal(at.jump),
        memory=Memory(at.jump, at.state.pressure, at.state.friction),
        dissipated=law.dissipated(at.state),
        eased=tuple(law.eases),
    )


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

    def __init__(self, size: float, patience: int = PATIENT):
        self.start = self.best = size
        self._since, self._patience = 0, patience

    def stalls(self, size: float) -> bool:
        """Take note of a residual; whether nothing has come of the last steps."""
        if size < self.best / 2:
            self.best, self._since = size, 0
        else:
            self._since += 1
        return self._since >= self._patience
