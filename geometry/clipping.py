"""Closed meshes cut to a range of depth, and closed again where they were cut."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.solids import ROUNDING, Mesh, areal, doubled_areas, polygons_of


def clipped(mesh: Mesh, low: float, high: float, coincident: float = 1e-6) -> Mesh:
    """The part of a closed mesh at low <= y <= high, m; no faces where it does not reach there.

    Corners nearer than `coincident` to a plane are put onto it. Where the triangles of the mesh all point one way,
    those of the result do too.
    """
    vertices = mesh.vertices.copy()
    for plane in (low, high):
        vertices[np.abs(vertices[:, 1] - plane) <= coincident, 1] = plane
    result = Mesh(vertices, mesh.faces)
    outwards = _signed_volume(result) >= 0.0
    for plane, sign in ((low, 1.0), (high, -1.0)):
        result = _half(result, plane, sign, anticlockwise=outwards is (sign > 0.0))
    return result


def _signed_volume(mesh: Mesh) -> float:
    """m3, positive where the triangles of a closed mesh point outwards."""
    corners = mesh.vertices[mesh.faces] - mesh.vertices.mean(axis=0)
    return float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) / 6.0


def _half(mesh: Mesh, plane: float, sign: float, *, anticlockwise: bool) -> Mesh:
    """What lies on one side of a plane across the depth: y >= plane where sign is 1, y <= plane where it is -1.

    anticlockwise: how the triangles that close it run in (x, z); seen along y that is outwards on the near side.
    """
    heights = sign * (mesh.vertices[:, 1] - plane)
    if len(mesh.faces) == 0 or (heights >= 0.0).all():
        return mesh
    above = heights[mesh.faces] > 0.0
    whole = (heights[mesh.faces] >= 0.0).all(axis=1) & above.any(axis=1)
    parted = ~whole & above.any(axis=1)
    corners = mesh.vertices[mesh.faces]
    kept = np.concatenate([corners[whole], _parted(corners[parted], heights[mesh.faces[parted]], plane)])
    cap = _cap(kept, plane)
    return _welded(np.concatenate([kept, cap if anticlockwise else cap[:, ::-1]]))


def _parted(corners: NDArray[np.float64], heights: NDArray[np.float64], plane: float) -> NDArray[np.float64]:
    """The upper parts of triangles (n, 3, 3) that reach below a plane, as triangles (m, 3, 3)."""
    lone_above = (heights > 0.0).sum(axis=1) == 1
    lone = np.where(lone_above, np.argmax(heights, axis=1), np.argmin(heights, axis=1))
    rows = np.arange(len(corners))[:, None]
    order = (lone[:, None] + np.arange(3)) % 3
    corners, heights = corners[rows, order], heights[rows, order]
    apex, left, right = corners[:, 0], corners[:, 1], corners[:, 2]
    to_left = _crossing(apex, left, heights[:, 0], heights[:, 1], plane)
    to_right = _crossing(apex, right, heights[:, 0], heights[:, 2], plane)
    tips = np.stack([apex, to_left, to_right], axis=1)[lone_above]
    stump = ~lone_above
    lower = np.stack([to_left, left, right], axis=1)[stump]
    upper = np.stack([to_left, right, to_right], axis=1)[stump]
    return np.concatenate([tips, lower, upper])


def _crossing(
    one: NDArray[np.float64],
    other: NDArray[np.float64],
    one_height: NDArray[np.float64],
    other_height: NDArray[np.float64],
    plane: float,
) -> NDArray[np.float64]:
    """Points (n, 3) at which segments pass through the plane, the same bit for bit whichever end comes first."""
    swap = one_height > other_height
    start, stop = np.where(swap[:, None], other, one), np.where(swap[:, None], one, other)
    first, last = np.where(swap, other_height, one_height), np.where(swap, one_height, other_height)
    points = start + (first / (first - last))[:, None] * (stop - start)
    points[:, 1] = plane
    return points


def _cap(kept: NDArray[np.float64], plane: float) -> NDArray[np.float64]:
    """Triangles (n, 3, 3), anticlockwise in (x, z), that close kept triangles (m, 3, 3) where they end on the plane."""
    sides = np.concatenate([kept[:, [0, 1]], kept[:, [1, 2]], kept[:, [2, 0]]])
    sides = sides[(sides[:, :, 1] == plane).all(axis=1)][:, :, [0, 2]]
    sides = np.round(sides, ROUNDING)
    sides = sides[np.abs(sides[:, 0] - sides[:, 1]).max(axis=1) > 0.0]
    if len(sides) == 0:
        return np.empty((0, 3, 3))
    lines = shapely.union_all(np.asarray(shapely.linestrings(sides), dtype=object))
    shape = areal(shapely.build_area(lines))
    found: list[NDArray[np.float64]] = [np.empty((0, 3, 2))]
    for part in polygons_of(shape):
        found.append(_triangles(part))
    return np.insert(np.concatenate(found), 1, plane, axis=2)


def _triangles(part: Polygon) -> NDArray[np.float64]:
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(part))
    corners = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]
    spin = doubled_areas(corners)
    return np.where((spin > 0.0)[:, None, None], corners, corners[:, ::-1])[spin != 0.0]


def _welded(triangles: NDArray[np.float64]) -> Mesh:
    """Loose triangles (n, 3, 3) as a mesh that shares its corners; those without an area go."""
    corners, index = np.unique(np.round(triangles.reshape(-1, 3), ROUNDING), axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    distinct = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Mesh(corners, faces[distinct])
