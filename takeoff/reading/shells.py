"""Split a stream of triangles into closed shells, by counting edges."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.connected import labels_of
from takeoff.reading.closing import close_flat_gaps
from takeoff.reading.touching import edge_keys, solid_labels

WELD = 1e-6
"""m; corners nearer than this are one. Kernels repeat a corner per face with errors of about 1e-9 m, and no building
part has edges of a micrometre."""
MAX_ROUNDS = 3
"""Mending a face given twice may leave a split edge to be closed in a second round."""

Vertices = NDArray[np.float64]
Faces = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """One skin of triangles, or a skin with the skins of the voids inside it.

    vertices: (n, 3) float64. faces: (m, 3) int64. closed: every edge is met an even number of times.
    mended: a flat gap was closed, or a face given twice was taken out, to make it so.
    """

    vertices: Vertices
    faces: Faces
    closed: bool
    mended: bool = False


def split_into_shells(vertices: Vertices, faces: Faces) -> tuple[Shell, ...]:
    """The closed shells in a stream of triangles, in the order of the stream.

    vertices: (n, 3) float64, m. faces: (m, 3) integers. A shell ends where every edge so far has been met an even
    number of times, so solids that touch each other stay apart as long as the stream gives them one after the other;
    shells whose triangles are mixed are told apart by their shared edges (`touching.py`). Triangles that have shrunk to
    a line of two corners are dropped, and so is a triangle that a shell holds twice. A shell strictly inside another is
    the skin of a void and stays with it. A part that does not close is mended if its gaps are flat (`closing.py`); what
    still does not close comes last, in one piece per connected part, with closed=False.
    """
    faces = _without_collapsed(np.asarray(faces, dtype=np.int64))
    if len(faces) == 0:
        return ()
    shells = _split(vertices, faces)
    if shells is None:
        vertices, faces = weld(vertices, faces)
        if len(faces) == 0:
            return ()
        shells = _split(vertices, faces)
    if shells is None:
        faces = _each_once(faces)
        shells = _split(vertices, faces)
    return _by_parts(vertices, faces) if shells is None else _with_voids(shells)


_FARTHEST_CELL = 2.0**62
"""Cells of the welding grid from zero, as far as whole numbers go."""


def weld(vertices: Vertices, faces: Faces, tolerance: float = WELD) -> tuple[Vertices, Faces]:
    """The same triangles with corners nearer than `tolerance` made one; collapsed triangles are dropped.

    A corner takes the place of the first one met in its cell of the grid or in a cell next to it.
    """
    # Senseless coordinates are told by the caller; here they only must not overflow.
    cells = np.clip(np.floor(vertices / tolerance + 0.5), -_FARTHEST_CELL, _FARTHEST_CELL).astype(np.int64)
    first: dict[tuple[int, int, int], int] = {}
    target = np.empty(len(vertices), dtype=np.int64)
    kept: list[int] = []
    for index, (i, j, k) in enumerate(cells.tolist()):
        found = first.get((i, j, k))
        if found is None:
            found = _near(first, (i, j, k), vertices, kept, index, tolerance)
        if found is None:
            found = len(kept)
            kept.append(index)
        first[(i, j, k)] = found
        target[index] = found
    return vertices[kept], _without_collapsed(target[np.asarray(faces, dtype=np.int64)])


def _near(
    first: dict[tuple[int, int, int], int],
    cell: tuple[int, int, int],
    vertices: Vertices,
    kept: list[int],
    index: int,
    tolerance: float,
) -> int | None:
    i, j, k = cell
    for di in (-1, 0, 1):
        for dj in (-1, 0, 1):
            for dk in (-1, 0, 1):
                found = first.get((i + di, j + dj, k + dk))
                if found is not None and float(np.abs(vertices[kept[found]] - vertices[index]).max()) <= tolerance:
                    return found
    return None


def _without_collapsed(faces: Faces) -> Faces:
    collapsed = faces == faces[:, [1, 2, 0]]
    return faces[~collapsed.any(axis=1)] if collapsed.any() else faces


def _each_once(faces: Faces) -> Faces:
    _, first = np.unique(np.sort(faces, axis=1), axis=0, return_index=True)
    return faces[np.sort(first)]


def _closings(edges: list[list[int]]) -> list[int]:
    """After how many triangles of a stream, each with the keys of its edges, every edge has been met an even number of
    times. The last is the whole stream where that closes."""
    # For boxes, which most bodies are, a set is far quicker than arrays; for large bodies it is not much slower.
    open_edges: set[int] = set()
    found = []
    for number, triangle in enumerate(edges, 1):
        for edge in triangle:
            if edge in open_edges:
                open_edges.remove(edge)
            else:
                open_edges.add(edge)
        if not open_edges:
            found.append(number)
    return found


def _edges(faces: Faces, size: int) -> list[list[int]]:
    """The keys of the three edges of each triangle."""
    return edge_keys(faces, size).reshape(-1, 3).tolist()


def _closes(faces: Faces, size: int) -> bool:
    ends = _closings(_edges(faces, size))
    return bool(ends) and ends[-1] == len(faces)


def _split(vertices: Vertices, faces: Faces) -> list[Shell] | None:
    """The shells of a stream, in its order; None where it does not close."""
    edges = _edges(faces, len(vertices))
    ends = _closings(edges)
    if not ends or ends[-1] != len(faces):
        return None
    shells: list[Shell] = []
    for start, end in zip([0, *ends[:-1]], ends, strict=True):
        count = len(set(chain.from_iterable(edges[start:end])))
        shells += _told_apart(vertices, faces[start:end], count)
    return shells


def _odd_edges(faces: Faces, size: int) -> NDArray[np.int64]:
    """(e, 2) the edges that are met an odd number of times."""
    keys, counts = np.unique(edge_keys(faces, size), return_counts=True)
    odd = keys[counts % 2 == 1]
    return np.stack([odd // size, odd % size], axis=1)


def _compact(vertices: Vertices, faces: Faces, closed: bool) -> Shell:
    used = np.zeros(len(vertices), dtype=bool)
    used[faces] = True
    if used.all():
        return Shell(vertices, faces, closed)
    places = np.cumsum(used) - 1
    return Shell(vertices[used], places[faces], closed)


def _told_apart(vertices: Vertices, faces: Faces, edges: int) -> list[Shell]:
    """A chunk of the stream that closes only as a whole: one shell, or several whose triangles are mixed.

    edges: how many different ones it has.
    """
    shell = _compact(vertices, faces, closed=True)
    # For one closed surface V - E + F <= 2 and E = 3 F / 2; more corners than that, or fewer edges, since some are met
    # more than twice, can only be several surfaces, or one that touches itself.
    if 2 * len(shell.vertices) - len(faces) <= 4 and 2 * edges == 3 * len(faces):
        return [shell]
    labels = solid_labels(vertices, faces)
    return [_compact(vertices, faces[labels == label], closed=True) for label in _in_order(labels)]


def _by_parts(vertices: Vertices, faces: Faces) -> tuple[Shell, ...]:
    labels = _connected(faces, len(vertices))
    closed: list[Shell] = []
    left: list[Shell] = []
    for label in _in_order(labels):
        part = faces[labels == label]
        found = _split(vertices, part)
        if found is not None:
            closed += found
        else:
            shell = _compact(vertices, part, closed=False)
            mended = _mended(shell)
            if mended is not None:
                closed.append(mended)
            else:
                left.append(shell)
    return (*_with_voids(closed), *left)


def _mended(shell: Shell) -> Shell | None:
    """The shell with its flat gaps closed, or None where they are not flat."""
    faces, size = shell.faces, len(shell.vertices)
    for _ in range(MAX_ROUNDS):
        closed = close_flat_gaps(shell.vertices, faces, _odd_edges(faces, size))
        if closed is None or len(closed) == 0:
            return None
        faces = closed
        if _closes(faces, size):
            return replace(_compact(shell.vertices, faces, closed=True), mended=True)
    return None


def _in_order(labels: NDArray[np.int64]) -> NDArray[np.int64]:
    values, first = np.unique(labels, return_index=True)
    return values[np.argsort(first)]


def _connected(faces: Faces, size: int) -> NDArray[np.int64]:
    """(m,) label of the part that each triangle belongs to; triangles that share an edge are of one part."""
    keys = np.unique(edge_keys(faces, size), return_inverse=True)[1].reshape(-1, 3)
    pairs = [(a, other) for a, b, c in keys.tolist() for other in (b, c)]
    return np.array(labels_of(int(keys.max()) + 1, pairs), dtype=np.int64)[keys[:, 0]]


def _with_voids(shells: list[Shell]) -> tuple[Shell, ...]:
    """Join each shell that lies strictly inside another to it: it is the skin of a void."""
    if len(shells) < 2:
        return tuple(shells)
    lows = np.array([shell.vertices.min(axis=0) for shell in shells])
    highs = np.array([shell.vertices.max(axis=0) for shell in shells])
    inside = np.all((lows[:, None, :] > lows[None, :, :]) & (highs[:, None, :] < highs[None, :, :]), axis=2)
    if not inside.any():
        return tuple(shells)
    depths, holders = _nesting(shells, inside)
    members = {index: [index] for index in range(len(shells)) if depths[index] % 2 == 0}
    for index, depth in enumerate(depths):
        if depth % 2:
            members[holders[index]].append(index)
    return tuple(joined([shells[index] for index in indices]) for indices in members.values())


def _nesting(shells: list[Shell], inside: NDArray[Any]) -> tuple[list[int], list[int]]:
    """How many shells each shell lies in, and the innermost of them (-1 for none)."""
    around = [
        [other for other in np.flatnonzero(inside[index]).tolist() if _holds(shells[other], shells[index].vertices[0])]
        for index in range(len(shells))
    ]
    depths = [len(found) for found in around]
    holders = [max(found, key=lambda other: depths[other], default=-1) for found in around]
    return depths, holders


def _holds(shell: Shell, point: NDArray[np.float64]) -> bool:
    """Whether a point lies inside a closed shell: a ray in a direction that no model is drawn along is cut oddly."""
    direction = np.array([0.5377, 0.2619, 0.8014])
    corners = shell.vertices[shell.faces]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(direction, second)
    scale = np.einsum("ij,ij->i", first, across)
    crossing = np.abs(scale) > 0.0
    scale = np.where(crossing, scale, 1.0)
    offset = point - corners[:, 0]
    u = np.einsum("ij,ij->i", offset, across) / scale
    turned = np.cross(offset, first)
    v = turned @ direction / scale
    far = np.einsum("ij,ij->i", second, turned) / scale
    return bool(np.count_nonzero(crossing & (u >= 0) & (v >= 0) & (u + v <= 1) & (far > 0)) % 2)


def joined(shells: list[Shell]) -> Shell:
    """Several shells as one: a skin with the skins of its voids."""
    if len(shells) == 1:
        return shells[0]
    starts = np.cumsum([0] + [len(shell.vertices) for shell in shells[:-1]])
    return Shell(
        np.concatenate([shell.vertices for shell in shells]),
        np.concatenate([shell.faces + start for shell, start in zip(shells, starts, strict=True)]),
        closed=all(shell.closed for shell in shells),
        mended=any(shell.mended for shell in shells),
    )
