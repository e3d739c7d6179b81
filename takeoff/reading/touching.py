"""Tell apart solids that touch along edges or faces although their triangles come mixed, by the faces around each edge.

Where an edge is met more than twice, several solids meet in it. Sorted by angle around the edge, faces open and close
solid sectors in turn; the two faces of one sector belong to one solid. Of two faces in one place the one that closes
comes first: solids touch there, nothing lies between them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geometry.connected import labels_of

SAME_ANGLE = 1e-3
"""rad; faces around an edge that agree to this lie on each other: rounded corners turn a face by about as much."""

Vertices = NDArray[np.float64]
Faces = NDArray[np.int64]


def edge_keys(faces: Faces, size: int) -> NDArray[np.int64]:
    """(3 m,) one number per edge of the stream, the same for both directions. size: number of vertices."""
    following = faces[:, [1, 2, 0]]
    return (np.minimum(faces, following) * size + np.maximum(faces, following)).ravel()


def solid_labels(vertices: Vertices, faces: Faces) -> NDArray[np.int64]:
    """(m,) label of the solid that each triangle belongs to.

    vertices: (n, 3) float64, m. faces: (m, 3) int64, of closed surfaces. Triangles are of one solid where they share an
    edge that no other meets, and of more those that bound one solid sector around it. That needs faces that all point
    out of their solids; surfaces that close by themselves are turned so where they do not. Around an edge where the
    sectors still do not add up, all are taken for one solid.
    """
    keys, edges = np.unique(edge_keys(faces, len(vertices)), return_inverse=True)
    edges = edges.reshape(-1, 3)
    counts = np.bincount(edges.ravel())
    joined = _pairs(edges, counts)
    crossed = np.flatnonzero(counts > 2)
    if not len(crossed):
        return _labels(len(faces), joined)
    if _swept(vertices, faces) < 0.0:
        faces = faces[:, ::-1]
    around = _faces_around(edges, crossed)
    ends = [(int(key) // len(vertices), int(key) % len(vertices)) for key in keys[crossed]]
    sectors = [_sectors(vertices, faces, *places) for places in zip(ends, around, strict=True)]
    if any(found is None for found in sectors):
        turned = _turned_out(vertices, faces, edges, counts, _labels(len(faces), joined))
        sectors = [_sectors(vertices, turned, *places) for places in zip(ends, around, strict=True)]
    for rows, found in zip(around, sectors, strict=True):
        joined += found if found is not None else [(rows[0], row) for row in rows[1:]]
    return _labels(len(faces), joined)


def _pairs(edges: NDArray[np.int64], counts: NDArray[np.int64]) -> list[tuple[int, int]]:
    """The triangles on both sides of every edge that just two meet."""
    order = np.argsort(edges.ravel(), kind="stable")
    order = order[counts[edges.ravel()[order]] == 2] // 3
    return [(one, other) for one, other in order.reshape(-1, 2).tolist()]


def _labels(count: int, pairs: list[tuple[int, int]]) -> NDArray[np.int64]:
    return np.array(labels_of(count, pairs), dtype=np.int64)


def _faces_around(edges: NDArray[np.int64], crossed: NDArray[np.int64]) -> list[list[int]]:
    """Triangles that meet each of these edges."""
    found: dict[int, list[int]] = {edge: [] for edge in crossed.tolist()}
    for row, corner in np.argwhere(np.isin(edges, crossed)).tolist():
        found[int(edges[row, corner])].append(row)
    return list(found.values())


def _sectors(vertices: Vertices, faces: Faces, edge: tuple[int, int], rows: list[int]) -> list[tuple[int, int]] | None:
    """Pairs of triangles that bound one solid sector around their common edge; None where they do not come in turn."""
    start, end = edge
    axis = vertices[end] - vertices[start]
    length = float(np.sqrt(axis @ axis))
    if length <= 0.0:
        return None
    apexes = [next(corner for corner in faces[row].tolist() if corner not in (start, end)) for row in rows]
    arms = vertices[apexes] - vertices[start]
    arms = arms - np.outer(arms @ axis, axis) / length**2
    right = arms[0]
    ahead = np.cross(axis / length, right)
    angles = np.arctan2(arms @ ahead, arms @ right)
    angles = np.where(angles < -SAME_ANGLE, angles + 2.0 * np.pi, angles)
    places = _told_apart(angles)
    # A triangle that runs from start to end has its solid behind it, seen the way that the angles grow: it closes one.
    closes = np.array([_runs(faces[row].tolist(), start, end) for row in rows])
    order = np.lexsort((~closes, places))
    if closes[order[0]]:
        order = np.roll(order, -1)
    turns = closes[order]
    if len(order) % 2 or turns[0::2].any() or not turns[1::2].all():
        return None
    return [(rows[one], rows[other]) for one, other in order.reshape(-1, 2).tolist()]


def _told_apart(angles: NDArray[np.float64]) -> NDArray[np.int64]:
    """Numbers of the places of angles in order, the same for those that agree."""
    order = np.argsort(angles, kind="stable")
    steps = np.concatenate([[0], np.cumsum(np.diff(angles[order]) > SAME_ANGLE)])
    places = np.empty(len(angles), dtype=np.int64)
    places[order] = steps
    return places


def _runs(face: list[int], start: int, end: int) -> bool:
    """Whether a triangle runs from one corner to the other, not back."""
    return face[(face.index(start) + 1) % 3] == end


def _turned_out(
    vertices: Vertices, faces: Faces, edges: NDArray[np.int64], counts: NDArray[np.int64], labels: NDArray[np.int64]
) -> Faces:
    """Triangles with every surface that closes by itself pointing outwards, one way all over."""
    turned = faces.copy()
    for label in np.unique(labels):
        rows = np.flatnonzero(labels == label)
        if (np.bincount(edges[rows].ravel(), minlength=len(counts)) % 2).any():
            continue
        own = _one_way(turned[rows], edges[rows], counts)
        turned[rows] = own if _swept(vertices, own) > 0.0 else own[:, ::-1]
    return turned


def _swept(vertices: Vertices, faces: Faces) -> float:
    """Six times the volume that closed surfaces hold, m3, negative where they point inwards."""
    corners = vertices[faces] - vertices[faces[0, 0]]
    return float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum())


def _one_way(faces: Faces, edges: NDArray[np.int64], counts: NDArray[np.int64]) -> Faces:
    """Triangles of one surface turned like its first, over the edges that just two meet."""
    found = faces.copy()
    beside: dict[int, list[int]] = {}
    for row, own in enumerate(edges.tolist()):
        for edge in own:
            if counts[edge] == 2:
                beside.setdefault(edge, []).append(row)
    done, waiting = {0}, [0]
    while waiting:
        row = waiting.pop()
        for edge in edges[row].tolist():
            for other in beside.get(edge, ()):
                if other in done:
                    continue
                start, end = sorted(set(found[row].tolist()) & set(found[other].tolist()))[:2]
                if _runs(found[row].tolist(), start, end) == _runs(found[other].tolist(), start, end):
                    found[other] = found[other, ::-1]
                done.add(other)
                waiting.append(other)
    return found
