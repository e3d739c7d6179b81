"""Holes through the flat faces of a closed mesh: found, measured, and filled where they are wanted filled.

A hole is a piece of the surface whose whole border lies in inner loops of flat faces: the wall of a bore or a slot with
its two mouths, the inside of a pipe, or of a box that is open on one side (one mouth).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.solids import Mesh

_FLAT = 1.0 - 1e-9
"""Cosine above which two neighbouring triangles lie in one face."""
_ROUNDS = 4
"""Holes with steps (the sockets of a pipe) are filled from the inside, a step at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class Hole:
    """One hole, by its first mouth.

    axis: (3,) float64, unit, across the face that it opens in. width: m, measured along the depth y (along x where the
    face lies across the depth); length: m, at right angles to it in the face. face_width: m, of the whole face,
    measured as the width is. reach: m, from mouth to mouth, or to its ground. mouths: how many.
    """

    axis: NDArray[np.float64]
    width: float
    length: float
    face_width: float
    reach: float
    mouths: int


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """A mesh with some holes filled. filled, left: the holes of both kinds."""

    mesh: Mesh
    filled: tuple[Hole, ...]
    left: tuple[Hole, ...]


def has_handles(mesh: Mesh) -> bool:
    """Whether a closed mesh of one shell has a hole that goes through (Euler: V - E + F = 2 where it has none)."""
    edges = np.unique(_edge_keys(mesh.faces, len(mesh.vertices)))
    return len(np.unique(mesh.faces)) - len(edges) + len(mesh.faces) < 2


def without_holes(mesh: Mesh, wanted: Callable[[Hole], bool]) -> Filled:
    """Fill the holes that are wanted filled. A mesh that is not closed is given back as it is."""
    filled: list[Hole] = []
    left: tuple[Hole, ...] = ()
    for _ in range(_ROUNDS):
        surface = _surface(mesh)
        found = _holes(surface) if surface is not None else []
        chosen = [one for one in found if wanted(one[0])]
        left = tuple(hole for hole, _ in found if not any(hole is one[0] for one in chosen))
        if surface is None or not chosen:
            break
        mesh = _closed(surface, np.concatenate([faces for _, faces in chosen]))
        filled += [hole for hole, _ in chosen]
    return Filled(mesh, tuple(filled), left)


def without_inner_shells(mesh: Mesh) -> Mesh:
    """A mesh without the shells that lie inside another one's box: a closed vessel as if it were full."""
    label = _components(len(mesh.vertices), mesh.faces[:, [0, 0]].ravel(), mesh.faces[:, [1, 2]].ravel())
    shells = np.unique(label[mesh.faces[:, 0]])
    if len(shells) < 2:
        return mesh
    boxes = np.array([[part.min(axis=0), part.max(axis=0)] for part in (mesh.vertices[label == one] for one in shells)])
    within = (boxes[:, None, 0] > boxes[None, :, 0]).all(axis=2) & (boxes[:, None, 1] < boxes[None, :, 1]).all(axis=2)
    inner = within @ np.ones(len(shells)) > 0.0
    kept = np.isin(label[mesh.faces[:, 0]], shells[~inner])
    return _compact(mesh.vertices, mesh.faces[kept])


# ---------------------------------------------------------------- faces and their borders


@dataclass(frozen=True, slots=True, eq=False)
class _Surface:
    """A closed mesh with its flat faces.

    normals: (f, 3) unit. pairs: (e, 2) triangles on both sides of each edge. ends: (e, 2) vertices of each edge.
    region: (f,) number of the flat face of each triangle. loop: (e, 2) for each side of an edge that borders a flat
    face the number of the loop it belongs to there, -1 inside a face.
    """

    mesh: Mesh
    normals: NDArray[np.float64]
    pairs: NDArray[np.int64]
    ends: NDArray[np.int64]
    region: NDArray[np.int64]
    loop: NDArray[np.int64]


def _surface(mesh: Mesh) -> _Surface | None:
    faces = mesh.faces
    keys = _edge_keys(faces, len(mesh.vertices))
    order = np.argsort(keys, kind="stable")
    if len(keys) % 2 or (keys[order][0::2] != keys[order][1::2]).any() or (np.diff(keys[order][0::2]) == 0).any():
        return None
    pairs = np.tile(np.arange(len(faces)), 3)[order].reshape(-1, 2)
    corners = mesh.vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    if not (lengths > 0.0).all():
        return None
    normals /= lengths[:, None]
    flat = np.abs((normals[pairs[:, 0]] * normals[pairs[:, 1]]).sum(axis=1)) > _FLAT
    region = _components(len(faces), pairs[flat, 0], pairs[flat, 1])
    ends = np.stack([keys[order][0::2] // len(mesh.vertices), keys[order][0::2] % len(mesh.vertices)], axis=1)
    border = region[pairs[:, 0]] != region[pairs[:, 1]]
    return _Surface(mesh, normals, pairs, ends, region, _loops(region[pairs], ends, border, len(mesh.vertices)))


def _loops(
    regions: NDArray[np.int64], ends: NDArray[np.int64], border: NDArray[np.bool_], size: int
) -> NDArray[np.int64]:
    """Loops of border edges, connected within each flat face. regions: (e, 2) faces on both sides of each edge."""
    loop = np.full(regions.shape, -1)
    nodes = regions[border][:, :, None] * size + ends[border][:, None, :]  # (b, side, end)
    known, index = np.unique(nodes, return_inverse=True)
    index = index.reshape(nodes.shape)
    label = _components(len(known), index[:, :, 0].ravel(), index[:, :, 1].ravel())
    loop[border] = label[index[:, :, 0]]
    return loop


def _edge_keys(faces: NDArray[np.int64], size: int) -> NDArray[np.int64]:
    """A number for each edge of each triangle, the same from both sides: (3 f,) int64, first edges first."""
    low = np.minimum(faces, np.roll(faces, -1, axis=1))
    high = np.maximum(faces, np.roll(faces, -1, axis=1))
    return (low * size + high).T.ravel()


def _components(size: int, a: NDArray[np.int64], b: NDArray[np.int64]) -> NDArray[np.int64]:
    """Label of each of `size` nodes; nodes joined by the pairs (a, b) share the least of theirs."""
    label = np.arange(size)
    while True:
        least = np.minimum(label[a], label[b])
        spread = label.copy()
        np.minimum.at(spread, a, least)
        np.minimum.at(spread, b, least)
        spread = spread[spread]
        if (spread == label).all():
            return label
        label = spread


# ---------------------------------------------------------------- holes


def _holes(surface: _Surface) -> list[tuple[Hole, NDArray[np.int64]]]:
    """Every hole with the triangles of its wall."""
    inner, outlines = _inner_loops(surface)
    if not inner:
        return []
    hosts = np.isin(surface.region, list(outlines))
    inside = ~hosts[surface.pairs]
    through = inside.all(axis=1)
    part = _components(len(surface.region), surface.pairs[through, 0], surface.pairs[through, 1])
    found: list[tuple[Hole, NDArray[np.int64]]] = []
    at_mouth = inside.sum(axis=1) == 1
    walls = surface.pairs[at_mouth][inside[at_mouth]]
    mouths = surface.loop[at_mouth][~inside[at_mouth]]
    for one in np.unique(part[walls]).tolist():
        loops = np.unique(mouths[part[walls] == one])
        if all(loop in inner for loop in loops.tolist()):
            wall = np.flatnonzero(part == one)
            found.append((_measured(surface, [inner[loop] for loop in loops.tolist()], outlines, wall), wall))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Loop:
    """A closed border of a flat face: its vertices in order, and the face."""

    vertices: NDArray[np.int64]
    region: int


def _inner_loops(surface: _Surface) -> tuple[dict[int, _Loop], dict[int, _Loop]]:
    """Inner loops by number, and the outer loop of each flat face that has any, by face."""
    sides = surface.loop >= 0
    loops, regions = surface.loop[sides], surface.region[surface.pairs][sides]
    numbers, first = np.unique(loops, return_index=True)
    owners = regions[first]
    several = np.isin(owners, np.flatnonzero(np.bincount(owners) > 1))
    inner: dict[int, _Loop] = {}
    outlines: dict[int, _Loop] = {}
    for region in np.unique(owners[several]).tolist():
        mine: dict[int, _Loop] = {}
        for number in numbers[owners == region].tolist():
            edges = ((surface.loop == number) & (surface.region[surface.pairs] == region)).any(axis=1)
            ring = _in_order(surface.ends[edges])
            if ring is None:
                break
            mine[number] = _Loop(ring, region)
        else:
            sizes = {
                number: float(np.ptp(surface.mesh.vertices[one.vertices], axis=0).max()) for number, one in mine.items()
            }
            outer = max(sizes, key=lambda number: sizes[number])
            outlines[region] = mine.pop(outer)
            inner.update(mine)
    return inner, outlines


def _in_order(edges: NDArray[np.int64]) -> NDArray[np.int64] | None:
    """Vertices of a closed loop of edges (n, 2) one after the other; None where it touches itself."""
    follow: dict[int, list[int]] = {}
    for a, b in edges.tolist():
        follow.setdefault(a, []).append(b)
        follow.setdefault(b, []).append(a)
    if any(len(others) != 2 for others in follow.values()):
        return None
    start = int(edges[0, 0])
    ring, before = [start], follow[start][1]
    while True:
        here = ring[-1]
        nearby = follow[here]
        after = nearby[0] if nearby[0] != before else nearby[1]
        if after == start:
            break
        before = here
        ring.append(after)
    return np.array(ring) if len(ring) == len(follow) else None


def _plane(normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two unit directions (2, 3) in a plane: the first as near to the depth y as can be, else x."""
    guide = np.array([0.0, 1.0, 0.0]) if abs(normal[1]) < 0.7 else np.array([1.0, 0.0, 0.0])
    first = guide - float(guide @ normal) * normal
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(normal, first)])


def _measured(surface: _Surface, mouths: Sequence[_Loop], outlines: dict[int, _Loop], wall: NDArray[np.int64]) -> Hole:
    vertices, mouth = surface.mesh.vertices, mouths[0]
    normal = surface.normals[np.argmax(surface.region == mouth.region)]
    plane = _plane(normal)
    width, length = np.ptp(vertices[mouth.vertices] @ plane.T, axis=0).tolist()
    face = np.ptp(vertices[outlines[mouth.region].vertices] @ plane.T, axis=0)
    reach = np.ptp(vertices[surface.mesh.faces[wall]] @ normal)
    return Hole(normal, width, length, float(face[0]), float(reach), len(mouths))


def _closed(surface: _Surface, walls: NDArray[np.int64]) -> Mesh:
    """The mesh without the triangles of some holes' walls, the flat faces that they open in drawn anew without them."""
    inner, outlines = _inner_loops(surface)
    gone = np.zeros(len(surface.region), dtype=bool)
    gone[walls] = True
    touched = gone[surface.pairs]
    mouths = set(np.unique(surface.loop[touched.any(axis=1)][~touched[touched.any(axis=1)]]).tolist())
    kept = [~gone]
    drawn: list[NDArray[np.int64]] = []
    for region in sorted({inner[number].region for number in mouths if number in inner}):
        rest = [one for number, one in inner.items() if one.region == region and number not in mouths]
        kept.append(surface.region != region)
        drawn.append(_drawn(surface, outlines[region], rest))
    faces = surface.mesh.faces[np.logical_and.reduce(kept)]
    return _compact(surface.mesh.vertices, np.concatenate([faces, *drawn]))


def _drawn(surface: _Surface, outer: _Loop, inner: Sequence[_Loop]) -> NDArray[np.int64]:
    """Triangles of a flat face with some holes in it, pointing as its old ones did."""
    normal = surface.normals[np.argmax(surface.region == outer.region)]
    flat = surface.mesh.vertices @ _plane(normal).T
    used = np.concatenate([outer.vertices, *(one.vertices for one in inner)])
    number_at = {tuple(point): number for point, number in zip(flat[used].tolist(), used.tolist(), strict=True)}
    shape = Polygon(flat[outer.vertices], [flat[one.vertices] for one in inner])
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    faces = np.array([[number_at[tuple(point)] for point in corner] for corner in corners.tolist()])
    points = surface.mesh.vertices[faces]
    facing = np.cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0]) @ normal
    return np.where((facing > 0.0)[:, None], faces, faces[:, ::-1])


def _compact(vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> Mesh:
    used, index = np.unique(faces, return_inverse=True)
    return Mesh(vertices[used], index.reshape(-1, 3))
