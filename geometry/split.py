"""Split a mesh along interfaces: plates that may part get nodes of their own.

The mesher gives neighbouring plates matching faces and common nodes. Where an interface is not
welded, each plate keeps its own copy of the nodes; faces still match one to one.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from platestack.geometry.mesh import StackMesh
from platestack.geometry.numbering import compact


@dataclass(frozen=True)
class FacePair:
    """An interface after splitting: matching faces (k, 6) of its lower and its upper side.

    `axis` is the coordinate across the interface; "upper" is the side towards which it grows.
    """

    name: str
    lower: np.ndarray
    upper: np.ndarray
    axis: int


def split(mesh: StackMesh, names: Collection[str]) -> tuple[StackMesh, tuple[FacePair, ...]]:
    """Split a mesh along the named interfaces.

    Plates joined by the other interfaces stay joined. Nodes are renumbered, corners first.

    Parameters
    ----------
    mesh : a mesh whose plates share nodes.
    names : interfaces to open, of ``mesh.interfaces``.

    Returns
    -------
    The mesh with doubled nodes (its named faces remapped, the opened interfaces left out), and the
    opened interfaces. Two plates that other interfaces hold together anyway are not parted.
    """
    body = _bodies(mesh, names)
    count = len(mesh.nodes)
    keys = body[mesh.plate][:, None].astype(np.int64) * count + mesh.tets
    unique, inverse = np.unique(keys, return_inverse=True)
    owner, node = np.divmod(unique, count)
    numbering = compact(inverse.reshape(mesh.tets.shape))
    owner, node = owner[numbering.nodes], node[numbering.nodes]
    place = np.full((body.max() + 1, count), -1, dtype=np.int64)
    place[owner, node] = np.arange(len(node))
    faces, pairs = {}, []
    covers = _covers(mesh, body)
    for name, nodes in mesh.faces.items():
        sides = [place[b][nodes] for b in range(body.max() + 1)]
        if name not in names:
            whole = [(s >= 0).all(axis=1) for s in sides]
            for cover in covers:
                whole[cover] &= np.sum(whole, axis=0) == 1
            faces[name] = np.concatenate([s[w] for s, w in zip(sides, whole, strict=True)])
            continue
        one, two = (int(body[mesh.plate_names.index(part)]) for part in name.split(" | "))
        if one != two:
            axis = int(np.ptp(mesh.nodes[nodes], axis=1).max(axis=0).argmin())
            lower, upper = _sides(mesh, name, axis)
            pairs.append(FacePair(name, place[body[lower]][nodes], place[body[upper]][nodes], axis))
    plate = mesh.plate[numbering.elements]
    opened = replace(mesh, nodes=mesh.nodes[node], tets=numbering.tets, plate=plate, faces=faces)
    return opened, tuple(pairs)


def _bodies(mesh: StackMesh, names: Collection[str]) -> np.ndarray:
    """Number of the body each plate belongs to when the named interfaces are open, (plates,)."""
    index = {name: i for i, name in enumerate(mesh.plate_names)}
    kept = [name.split(" | ") for name in mesh.interfaces if name not in names]
    one = [index[a] for a, _ in kept]
    two = [index[b] for _, b in kept]
    size = len(mesh.plate_names)
    graph = coo_matrix((np.ones(len(kept)), (one, two)), shape=(size, size))
    return np.asarray(connected_components(graph, directed=False)[1])


def _covers(mesh: StackMesh, body: np.ndarray) -> list[int]:
    """Bodies that only cover areas of what is under them: pads that may part, then the platen.

    What bears on a plate under the platen does not bear on the platen.
    """
    count = len(mesh.plate_names) - mesh.pads
    covers = sorted(set(body[count:].tolist()) - set(body[:count].tolist()))
    platen = [int(body[i]) for i, name in enumerate(mesh.plate_names) if name == "platen"]
    return covers + platen


def _sides(mesh: StackMesh, name: str, axis: int) -> tuple[int, int]:
    """Plates below and above an interface along its axis."""
    index = [mesh.plate_names.index(part) for part in name.split(" | ")]
    heights = [mesh.nodes[mesh.tets[mesh.plate == i, :4], axis].mean() for i in index]
    low, high = np.argsort(heights)
    return index[int(low)], index[int(high)]
