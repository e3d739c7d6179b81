"""What a point sees of a polygon with holes: an angular sweep, exact to rounding, over many points at once."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

FloatArray = NDArray[np.float64]

ANGLE_TOLERANCE = 1e-12
"""rad; sectors narrower than this hold no area at the size of a building (1e-11 m2 at 5 m)."""
EDGE = 1e-9
"""m; a point nearer than this to the outline counts as on it: rounding could not tell on which side it stands."""
SHORTEST_EDGE = 1e-12
"""m; an edge shorter than this has no direction worth the name and is left out of the sweep."""
CHUNK = 1_000_000
"""Ray and edge pairs handled at once, to bound memory (a few arrays of 8 MB)."""


def visible(polygon: Polygon, points: ArrayLike) -> NDArray[np.object_]:
    """What each point sees of a polygon with holes.

    points: (k, 2) float64, m. Returns (k,) Polygon; empty for a point that is not strictly inside (`EDGE`).

    Angular sweep: the directions to the vertices divide the circle into sectors in which the nearest edge does not
    change. One ray through the middle of each sector finds that edge; the two directions that bound the sector cut it
    off. No direction is nudged, so corners come out exact to rounding.

    >>> import shapely
    >>> float(visible(shapely.box(0, 0, 2, 3), [[1.0, 1.0]])[0].area)
    6.0
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    result = np.full(len(points), Polygon(), dtype=object)
    if polygon.is_empty:
        return result
    start, end = _edges(polygon)
    inside = np.flatnonzero(strictly_inside(polygon, points))
    step = max(1, CHUNK // len(start) ** 2)
    for first in range(0, len(inside), step):
        index = inside[first : first + step]
        result[index] = _sweep(start, end, points[index])
    return result


def strictly_inside(polygon: Polygon, points: FloatArray) -> NDArray[np.bool_]:
    """Which points (k, 2) lie inside a polygon and farther than `EDGE` from its outline, (k,) bool."""
    inside = shapely.contains_xy(polygon, points[:, 0], points[:, 1])
    start, end = _edges(polygon)
    edge = end - start
    offset = points[inside][:, None] - start[None]
    along = np.clip((offset * edge).sum(axis=2) / (edge * edge).sum(axis=1), 0.0, 1.0)
    away = offset - along[..., None] * edge
    inside[inside] = (np.hypot(away[..., 0], away[..., 1]) > EDGE).all(axis=1)
    return inside


def _edges(polygon: Polygon) -> tuple[FloatArray, FloatArray]:
    """Start and end (e, 2) of every edge of the shell and the holes."""
    coordinates, ring = shapely.get_coordinates(shapely.get_rings(polygon), return_index=True)
    joined = ring[1:] == ring[:-1]
    start, end = coordinates[:-1][joined], coordinates[1:][joined]
    solid = np.abs(end - start).max(axis=1) > SHORTEST_EDGE
    return start[solid], end[solid]


def _cross(a: FloatArray, b: FloatArray) -> FloatArray:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _sweep(start: FloatArray, end: FloatArray, points: FloatArray) -> NDArray[np.object_]:
    """Visibility polygons (k,) of points (k, 2) strictly inside the edges (e, 2) of a polygon."""
    offset = start[None] - points[:, None]
    edge = (end - start)[None, None]
    angle = np.sort(np.arctan2(offset[..., 1], offset[..., 0]), axis=1)
    after = np.concatenate([angle[:, 1:], angle[:, :1] + 2.0 * np.pi], axis=1)
    middle = _direction(0.5 * (angle + after))[:, :, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = _cross(middle, edge)
        distance = _cross(offset, edge[0])[:, None] / slope
        along = _cross(offset[:, None], middle) / slope
        hit = (along >= -1e-9) & (along <= 1.0 + 1e-9) & (distance > 0.0)
    distance = np.where(hit, distance, np.inf)
    nearest = np.argmin(distance, axis=2)
    wide = (after - angle > ANGLE_TOLERANCE) & np.isfinite(distance.min(axis=2))
    corners = np.stack([_cut(start, end, points, nearest, angle), _cut(start, end, points, nearest, after)], axis=2)
    owner = np.repeat(np.arange(len(points)), 2 * wide.sum(axis=1))
    polygons = _polygons(corners[wide].reshape(-1, 2), owner, len(points))
    crossed = np.flatnonzero(~shapely.is_valid(polygons))
    polygons[crossed] = [_largest(shapely.make_valid(polygon)) for polygon in polygons[crossed]]
    return polygons


def _polygons(corners: FloatArray, owner: NDArray[np.intp], count: int) -> NDArray[np.object_]:
    """Polygons (count,) from the corners (n, 2) of one ring after the other; corners that coincide are one.

    Corners a rounding apart would make edges of no length, on which overlays and distances go wrong.
    """
    starts = np.searchsorted(owner, np.arange(count))
    ends = np.searchsorted(owner, np.arange(count), side="right")
    before = np.arange(len(corners)) - 1
    before[starts[starts < ends]] = ends[starts < ends] - 1
    kept = np.abs(corners - corners[before]).max(axis=1) > EDGE
    enough = np.bincount(owner[kept], minlength=count) >= 3
    kept &= enough[owner]
    polygons = np.full(count, Polygon(), dtype=object)
    index = np.unique(owner[kept], return_inverse=True)[1]
    polygons[enough] = shapely.polygons(shapely.linearrings(corners[kept], indices=index))
    return polygons


def _direction(angle: FloatArray) -> FloatArray:
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _cut(
    start: FloatArray, end: FloatArray, points: FloatArray, nearest: NDArray[np.intp], angle: FloatArray
) -> FloatArray:
    """Where the ray of each angle (k, s) meets the edge named by `nearest` (k, s); kept on that edge. (k, s, 2)"""
    first, last = start[nearest], end[nearest]
    edge = last - first
    ray = _direction(angle)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = _cross(first - points[:, None], ray) / _cross(ray, edge)
    along = np.nan_to_num(along, nan=0.0)[..., None]
    near = EDGE / np.hypot(edge[..., 0], edge[..., 1])[..., None]
    met = np.where(along >= 1.0 - near, last, first + along * edge)
    return np.where(along <= near, first, met)


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shapely.get_parts(shape)) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())
