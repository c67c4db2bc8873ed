"""Clamp bolts on the mesh of a stack: they squeeze its plates and feel something of pressing.

Head and nut press uniformly on their annuli. While the stack is tightened the bolts are given
forces; from that state of rest on each is a spring between the mean displacements of its two
annuli, with the stiffness of the bolt between head and nut (VDI 2230-1, `fea.hand.bolts`). A bolt
that would have to push lies loose. In its clearance hole it carries no shear: what holds plates
together beside it is friction.

The force at rest is the least that the way of tightening leaves for sure, preload over its scatter
factor α_A: what a bolt may lack counts, when plates must not slip.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix, vstack

from platestack.fea.hand import bolts
from platestack.fea.numerics.system import Ties
from platestack.fea.solid.readings import face_weights
from platestack.geometry import tables
from platestack.geometry.mesh import StackMesh
from platestack.geometry.parts import ClampBolt, Stack


@dataclass(frozen=True)
class BoltForce:
    """Axial force of a clamp bolt (N): at rest, and at capacity, where 0 means that it is loose."""

    bolt: ClampBolt
    rest: float
    working: float

    @property
    def added(self) -> float:
        """What pressing adds (N)."""
        return self.working - self.rest


@dataclass(frozen=True)
class Clamps:
    """The clamp bolts of which a model has at least a part.

    Attributes
    ----------
    bolts : (b) of them.
    rows : (b, 3n) rows that read how far head and nut, or head and mirror, go apart.
    stiffness : (b,) N/m and initial : (b,) N, of the model's part.
    shares : (b,) part of each bolt's annulus that is in the model.
    """

    bolts: tuple[ClampBolt, ...]
    rows: csr_matrix
    stiffness: np.ndarray
    initial: np.ndarray
    shares: np.ndarray

    @property
    def load(self) -> np.ndarray:
        """Forces (3n,) of all bolts at rest on the stack, in N."""
        return np.asarray(-(self.initial @ self.rows))

    def without(self, names: Collection[str]) -> Clamps:
        """Those that are not loose."""
        kept = np.array([bolt.name not in names for bolt in self.bolts], dtype=bool)
        return Clamps(
            tuple(bolt for bolt, keep in zip(self.bolts, kept, strict=True) if keep),
            csr_matrix(self.rows[np.flatnonzero(kept)]),
            self.stiffness[kept],
            self.initial[kept],
            self.shares[kept],
        )

    def added_to(self, ties: Ties) -> Ties:
        """The ties, with the bolts as springs behind them."""
        if not self.bolts:
            return ties
        rows = csr_matrix(vstack([ties.rows, self.rows]))
        return Ties(rows, np.concatenate([ties.stiffness, self.stiffness]))

    def forces(self, moved: np.ndarray) -> list[BoltForce]:
        """Forces once the stack has moved by (3n,) m from its state at rest."""
        now = self.initial + self.stiffness * (self.rows @ moved)
        pairs = zip(self.bolts, self.initial / self.shares, now / self.shares, strict=True)
        return [BoltForce(bolt, float(rest), float(force)) for bolt, rest, force in pairs]


def least_preload(bolt: ClampBolt) -> float:
    """Force (N) that tightening leaves in a bolt for sure."""
    return most_preload(bolt) / bolts.SCATTER[bolt.tightening]


def most_preload(bolt: ClampBolt) -> float:
    """Preload (N) of a bolt as given, else what its class allows."""
    return bolt.preload or bolts.class_preload(
        bolt.thread, bolt.property_class, bolt.thread_friction
    )


def clamps(mesh: StackMesh, stack: Stack) -> Clamps:
    """Find the clamp bolts of a stack on its mesh.

    A bolt on a mirror plane is in the model in part. One that a mirror cuts across has one end in
    it, and half of its length.
    """
    found, rows, stiffness, initial, shares = [], [], [], [], []
    for bolt in stack.bolts:
        ends = [
            (sign, faces)
            for sign, end in ((-1, "low"), (1, "high"))
            if (faces := mesh.faces.get(f"{bolt.name} {end}")) is not None and len(faces)
        ]
        if not ends:
            continue
        row = np.zeros((len(mesh.nodes), 3))
        for sign, faces in ends:
            weights = face_weights(mesh.nodes, faces)
            row[:, "xyz".index(bolt.normal)] += sign * weights / weights.sum()
        in_plane = range(2) if bolt.normal == "z" else range(1)
        cut = [axis for axis in in_plane if "xy"[axis] in mesh.symmetry]
        share = 0.5 ** sum(abs(bolt.at[axis]) < 1e-9 for axis in cut)
        spring = 1 / bolts.bolt_resilience(
            tables.thread(bolt.thread),
            bolt.high - bolt.low,
            tables.steel_constants().youngs_modulus,
        )
        found.append(bolt)
        rows.append(csr_matrix(row.ravel()))
        stiffness.append(share * spring * (2 / len(ends)))
        initial.append(share * least_preload(bolt))
        shares.append(share)
    size = 3 * len(mesh.nodes)
    return Clamps(
        tuple(found),
        csr_matrix(vstack(rows)) if rows else csr_matrix((0, size)),
        np.array(stiffness),
        np.array(initial),
        np.array(shares),
    )


def near(stack: Stack, places: np.ndarray) -> np.ndarray:
    """Which of some places (k, 3) lie within a bearing diameter of a bolt's axis and of its end."""
    found = np.zeros(len(places), dtype=bool)
    for bolt in stack.bolts:
        along = "xyz".index(bolt.normal)
        in_plane = [axis for axis in range(3) if axis != along]
        off = np.linalg.norm(places[:, in_plane] - bolt.at, axis=1)
        ends = np.abs(places[:, [along]] - [bolt.low, bolt.high]).min(axis=1)
        found |= (off < bolt.bearing_outer) & (ends < bolt.bearing_outer)
    return found
