"""Close the flat gaps of a skin: a missing face, a face given twice, an edge that is split on one side only.

All three leave edges that are met an odd number of times, and those edges run in loops. Over a flat loop the right
cover is found by parity: if the skin covers the region k times, it has to be covered k + 1 times, and of these an
even number cancel.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

FLAT = 1e-3
"""m; a loop whose corners lie within this of a plane is flat: faces drawn in millimetres are rounded by half of one."""
THIN = 1e-6
"""m; a loop narrower than this is a line: an edge split on one side only."""
MAX_LOOP = 2000
"""Corners of a loop; a longer one is a torn surface, not a gap."""

Vertices = NDArray[np.float64]
Faces = NDArray[np.int64]


def close_flat_gaps(vertices: Vertices, faces: Faces, odd: NDArray[np.int64]) -> Faces | None:
    """Faces with every flat gap closed, or None where one is not flat.

    vertices: (n, 3) float64, m. faces: (m, 3) int64. odd: (e, 2) int64, the edges met an odd number of times.
    """
    loops = _loops(odd)
    if loops is None:
        return None
    for loop in loops:
        closed = _close(vertices, faces, loop)
        if closed is None:
            return None
        faces = closed
    return faces


def _loops(odd: NDArray[np.int64]) -> list[list[int]] | None:
    """The odd edges walked as loops; None where they do not run in loops of a sensible length."""
    neighbours: dict[int, list[int]] = {}
    for a, b in odd.tolist():
        neighbours.setdefault(a, []).append(b)
        neighbours.setdefault(b, []).append(a)
    loops = []
    for start in sorted(neighbours):
        while neighbours[start]:
            loop = [start]
            while True:
                current = loop[-1]
                following = neighbours[current].pop()
                neighbours[following].remove(current)
                if following == start:
                    break
                loop.append(following)
                if len(loop) > MAX_LOOP:
                    return None
            loops.append(loop)
    return loops


def _close(vertices: Vertices, faces: Faces, loop: list[int]) -> Faces | None:
    points = vertices[loop]
    centre = points.mean(axis=0)
    spread = points - centre
    _, _, directions = np.linalg.svd(spread, full_matrices=False)
    if len(directions) < 3 or float(np.abs(spread @ directions[1]).max()) < THIN:
        return _joined(faces, _fan(loop))
    if float(np.abs(spread @ directions[2]).max()) > FLAT:
        return None
    flat = spread @ directions[:2].T
    region = shapely.Polygon(flat)
    if not region.is_valid:
        return _joined(faces, _fan(loop))
    inside = _lying_in(vertices, faces, centre, directions, region)
    corners = vertices[faces[inside]]
    covered = 0.5 * float(
        np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    )
    times = covered / region.area
    if abs(times - round(times)) > 1e-3:
        return None
    rest = faces[~inside]
    return rest if round(times) % 2 else _joined(rest, _cover(region, flat, loop))


def _lying_in(
    vertices: Vertices,
    faces: Faces,
    centre: NDArray[np.float64],
    directions: NDArray[np.float64],
    region: shapely.Polygon,
) -> NDArray[np.bool_]:
    """(m,) which triangles lie in the plane of the loop and inside it."""
    local = (vertices - centre) @ directions.T
    in_plane = (np.abs(local[faces, 2]) <= FLAT).all(axis=1)
    middles = local[faces][:, :, :2].mean(axis=1)
    return in_plane & shapely.contains_xy(region, middles[:, 0], middles[:, 1])


def _cover(region: shapely.Polygon, flat: NDArray[np.float64], loop: list[int]) -> Faces:
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    nearest = np.linalg.norm(corners[:, :, None, :] - flat[None, None, :, :], axis=3).argmin(axis=2)
    return np.asarray(loop, dtype=np.int64)[nearest]


def _joined(faces: Faces, cover: Faces) -> Faces:
    """Faces and cover together, the cover turned so that most of its edges run against those of the faces."""
    size = int(max(faces.max(initial=0), cover.max(initial=0))) + 1
    ahead = (faces[:, [0, 1, 2]] * size + faces[:, [1, 2, 0]]).ravel()
    edges = (cover[:, [0, 1, 2]].ravel(), cover[:, [1, 2, 0]].ravel())
    same = np.isin(edges[0] * size + edges[1], ahead).sum()
    against = np.isin(edges[1] * size + edges[0], ahead).sum()
    return np.concatenate([faces, cover[:, ::-1] if same > against else cover])


def _fan(loop: list[int]) -> Faces:
    return np.array([(loop[0], b, c) for b, c in pairwise(loop[1:])], dtype=np.int64).reshape(-1, 3)
