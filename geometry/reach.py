"""Which part of a polygon can be reached from a point inside it, and the fewest points that reach all of it.

A point reaches what it sees (the straight line to it stays in the polygon) and what lies in its `Reach`: a rectangle
that hangs on the point, `down` below it, `up` above it and `sideways` to either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely import MultiPolygon, Polygon

from geometry.cover import fewest_sets

FloatArray = NDArray[np.float64]
Polygonal = Polygon | MultiPolygon

ANGLE_TOLERANCE = 1e-12
"""rad; sectors narrower than this hold no area at the size of a building (1e-11 m2 at 5 m)."""
SNAP = 1e-8
"""m; grid on which outlines of reaches are brought together before they are cut into cells. A cell edge moves by less
than this, so a 3 m outline changes by 3e-8 m2 at most."""
CHUNK = 1_000_000
"""Ray and edge pairs handled at once, to bound memory (a few arrays of 8 MB)."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a point reaches, m, all > 0: a rectangle of width 2 x sideways and height down + up."""

    down: float
    up: float
    sideways: float

    def __post_init__(self) -> None:
        if min(self.down, self.up, self.sideways) <= 0.0:
            raise ValueError("a reach must be greater than zero in every direction")

    @property
    def height(self) -> float:
        """m"""
        return self.down + self.up


@dataclass(frozen=True, slots=True, eq=False)
class Selection:
    """The points chosen out of the candidates.

    chosen: indices into the candidates, ascending.
    reaches: what each chosen point reaches, in the same order.
    reached: union of the reaches. share: its area over the polygon's, exact.
    lower_bound: no fewer of these candidates would do. `proved` says whether the choice meets it.
    """

    chosen: tuple[int, ...]
    reaches: tuple[Polygonal, ...]
    reached: Polygonal
    share: float
    lower_bound: int

    @property
    def proved(self) -> bool:
        """True where no smaller choice of the candidates exists."""
        return len(self.chosen) == self.lower_bound


def visible(polygon: Polygon, points: ArrayLike) -> NDArray[np.object_]:
    """What each point sees of a polygon with holes.

    points: (k, 2) float64, m. Returns (k,) Polygon; empty for a point that is not strictly inside.

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
    inside = np.flatnonzero(shapely.contains_xy(polygon, points[:, 0], points[:, 1]))
    step = max(1, CHUNK // len(start) ** 2)
    for first in range(0, len(inside), step):
        index = inside[first : first + step]
        result[index] = _sweep(start, end, points[index])
    return result


def reached(polygon: Polygonal, points: ArrayLike, reach: Reach) -> NDArray[np.object_]:
    """What each point reaches of a polygon, (k,) Polygon, from points (k, 2) float64, m.

    Empty for a point that is not strictly inside. Of a polygon in several parts a point reaches its own part only.
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    seen = np.full(len(points), Polygon(), dtype=object)
    for part in shapely.get_parts(polygon):
        own = np.flatnonzero(shapely.contains_xy(part, points[:, 0], points[:, 1]))
        seen[own] = np.asarray(part, dtype=object) if _is_convex(part) else visible(part, points[own])
    x, z = points.T
    window = shapely.box(x - reach.sideways, z - reach.down, x + reach.sideways, z + reach.up)
    return shapely.intersection(seen, window)


def fewest_points(
    polygon: Polygonal, candidates: ArrayLike, reach: Reach, *, share: float = 0.999, cost: ArrayLike | None = None
) -> Selection:
    """The fewest candidates (k, 2) that together reach `share` of the polygon's area.

    Where all candidates together fall short of that share, the same allowance applies to what they can reach at all:
    at most (1 - share) of the polygon's area may be given up against using every candidate.

    The outlines of all reaches cut the polygon into cells; each candidate reaches a cell wholly or not at all, so the
    search over cells is exact. cost (k,) decides between equally small choices (see `geometry.cover`, which also says
    when the search gives way to a greedy one and what bound then holds).

    >>> import shapely
    >>> tall = shapely.box(0.0, 0.0, 0.4, 3.0)
    >>> fewest_points(tall, [[0.2, 0.9], [0.2, 1.5], [0.2, 2.1]], Reach(1.0, 1.0, 0.5)).chosen
    (0, 2)
    """
    points = np.asarray(candidates, dtype=np.float64).reshape(-1, 2)
    costs = np.zeros(len(points)) if cost is None else np.asarray(cost, dtype=np.float64)
    reaches = reached(polygon, points, reach)
    areas = shapely.area(reaches)
    if not (areas > 0.0).any():
        return Selection((), (), Polygon(), 0.0, 0)
    enough = np.flatnonzero(areas >= share * polygon.area)
    if len(enough):
        best = (int(enough[np.argmin(costs[enough])]),)
        return _selection(polygon, reaches, best, 1)
    useful = np.flatnonzero(areas > 0.0)
    member, weight = _cells(polygon, reaches[useful])
    reachable = float(weight[member.any(axis=0)].sum())
    needed = min(share * polygon.area, reachable - (1.0 - share) * polygon.area)
    if reachable >= share * polygon.area:
        needed = share * polygon.area
    cover = fewest_sets(member, weight, needed, cost=costs[useful])
    return _selection(polygon, reaches, tuple(int(useful[i]) for i in cover.chosen), cover.lower_bound)


def candidate_points(
    polygon: Polygonal, zone: Polygonal, reach: Reach, *, heights: ArrayLike = (), limit: int = 120
) -> FloatArray:
    """Points of `zone` worth trying when `polygon` is to be reached, (k, 2) float64, m, k near `limit` at most.

    They stand on a grid: columns through the corners of both shapes, the middle of the zone and a chain one width of
    reach apart; rows through the corners, one reach above or below them, along chains one height of reach apart and
    at `heights`, which are kept whatever is thinned out. The corners of the zone come on top. A polygon with many
    corners has neighbouring lines merged until the number of points fits.
    """
    if polygon.is_empty or zone.is_empty:
        return np.empty((0, 2))
    corners = shapely.get_coordinates(zone)
    outline = shapely.get_coordinates(polygon)
    x_min, z_min, x_max, z_max = polygon.bounds
    lo_x, lo_z, hi_x, hi_z = zone.bounds
    chain_x = np.arange(reach.sideways, x_max - x_min + reach.sideways, 2.0 * reach.sideways)
    chain_z = np.arange(0.0, z_max - z_min + reach.height, reach.height)
    columns = np.concatenate(
        [[0.5 * (lo_x + hi_x), lo_x, hi_x], x_min + chain_x, x_max - chain_x, corners[:, 0], outline[:, 0]]
    )
    rows = np.concatenate(
        [
            [0.5 * (lo_z + hi_z), lo_z, hi_z],
            z_min + reach.down + chain_z,
            z_max - reach.up - chain_z,
            corners[:, 1],
            outline[:, 1] + reach.down,
            outline[:, 1] - reach.up,
            outline[:, 1],
        ]
    )
    kept = np.unique(np.asarray(heights, dtype=np.float64))
    inner = shapely.buffer(zone, 1e-9, join_style="mitre")
    shapely.prepare(inner)
    merge = 1e-6
    grid = _grid_inside(inner, _thin(columns, merge), np.concatenate([kept, _thin(rows, merge)]))
    while len(grid) > limit and merge < 1.0:
        merge = max(0.002, 2.0 * merge)
        grid = _grid_inside(inner, _thin(columns, merge), np.concatenate([kept, _thin(rows, merge)]))
    if len(corners) <= limit // 2:
        grid = np.concatenate([grid, corners])
    _, first = np.unique(np.round(grid, 6), axis=0, return_index=True)
    return grid[np.sort(first)]


def union_of(shapes: Sequence[Polygonal]) -> Polygonal:
    """Union of polygons; lines and points that touching outlines leave behind are dropped."""
    union = shapely.union_all(list(shapes))
    if isinstance(union, Polygon | MultiPolygon):
        return union
    return MultiPolygon([part for part in shapely.get_parts(union) if isinstance(part, Polygon)])


def _edges(polygon: Polygon) -> tuple[FloatArray, FloatArray]:
    """Start and end (e, 2) of every edge of the shell and the holes."""
    coordinates, ring = shapely.get_coordinates(shapely.get_rings(polygon), return_index=True)
    joined = ring[1:] == ring[:-1]
    start, end = coordinates[:-1][joined], coordinates[1:][joined]
    solid = (start != end).any(axis=1)
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
    rings = shapely.linearrings(corners[wide].reshape(-1, 2), indices=owner)
    polygons = np.asarray(shapely.polygons(rings), dtype=object)
    crossed = np.flatnonzero(~shapely.is_valid(polygons))
    polygons[crossed] = [_largest(shapely.make_valid(polygon)) for polygon in polygons[crossed]]
    return polygons


def _direction(angle: FloatArray) -> FloatArray:
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1)


def _cut(
    start: FloatArray, end: FloatArray, points: FloatArray, nearest: NDArray[np.intp], angle: FloatArray
) -> FloatArray:
    """Where the ray of each angle (k, s) meets the edge named by `nearest` (k, s); kept on that edge. (k, s, 2)"""
    first = start[nearest]
    edge = end[nearest] - first
    ray = _direction(angle)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = _cross(first - points[:, None], ray) / _cross(ray, edge)
    along = np.clip(np.nan_to_num(along, nan=0.0), 0.0, 1.0)
    return first + along[..., None] * edge


def _largest(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in shapely.get_parts(shapely.get_parts(shape)) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())


def _is_convex(polygon: Polygon) -> bool:
    """True where rounding alone tells the polygon from its convex hull."""
    return not polygon.interiors and polygon.convex_hull.area - polygon.area <= 1e-12


def _cells(polygon: Polygonal, reaches: NDArray[np.object_]) -> tuple[NDArray[np.bool_], FloatArray]:
    """Cells into which the outlines of the reaches cut the polygon: membership (k, c) and areas (c,), m2."""
    outlines = np.array([*shapely.boundary(reaches), polygon.boundary], dtype=object)
    lines = shapely.union_all(outlines, grid_size=SNAP)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    inner = shapely.get_coordinates(shapely.point_on_surface(faces))
    kept = shapely.contains_xy(polygon, inner[:, 0], inner[:, 1])
    faces, inner = faces[kept], inner[kept]
    shapely.prepare(reaches)
    member = shapely.contains_xy(reaches[:, None], inner[None, :, 0], inner[None, :, 1])
    return member, shapely.area(faces)


def _selection(
    polygon: Polygonal, reaches: NDArray[np.object_], chosen: tuple[int, ...], lower_bound: int
) -> Selection:
    picked = tuple(reaches[i] for i in chosen)
    union = picked[0] if len(picked) == 1 else union_of(picked)
    return Selection(chosen, picked, union, union.area / polygon.area, lower_bound)


def _thin(values: FloatArray, merge: float) -> FloatArray:
    """Values sorted, one kept of each run that is closer than `merge`."""
    values = np.sort(values)
    kept = [float(values[0])]
    for value in values[1:]:
        if value - kept[-1] >= merge:
            kept.append(float(value))
    return np.array(kept)


def _grid_inside(zone: Polygonal, columns: FloatArray, rows: FloatArray) -> FloatArray:
    x, z = (side.ravel() for side in np.meshgrid(columns, rows))
    inside = shapely.contains_xy(zone, x, z)
    return np.column_stack([x, z])[inside]
