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
from geometry.sight import strictly_inside, visible

FloatArray = NDArray[np.float64]
Polygonal = Polygon | MultiPolygon

SNAP = 1e-8
"""m; grid on which outlines of reaches are brought together before they are cut into cells. A cell edge moves by less
than this, so a 3 m outline changes by 3e-8 m2 at most."""
POLYGON, MULTI_POLYGON = 3, 6
"""Type numbers of the geometry engine."""
SAMPLES = 24
"""Sample lines each way over a polygon when reaches are compared; every find is then confirmed exactly."""
SAME_AREA = 1e-9
"""m2; a reach that sticks out of another one by less is held to lie in it."""
TINY_SHARE = 1e-6
"""Where all candidates together reach less than the allowance, one is still taken if it reaches this share."""
ROUNDS = 3
"""Rounds of exchanges for a cheaper choice; the first does nearly all of it."""


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


def reached(polygon: Polygonal, points: ArrayLike, reach: Reach) -> NDArray[np.object_]:
    """What each point reaches of a polygon, (k,) Polygon, from points (k, 2) float64, m.

    Empty for a point that is not strictly inside. Of a polygon in several parts a point reaches its own part only.
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    seen = np.full(len(points), Polygon(), dtype=object)
    for part in shapely.get_parts(polygon):
        own = np.flatnonzero(strictly_inside(part, points))
        seen[own] = np.asarray(part, dtype=object) if _is_convex(part) else visible(part, points[own])
    x, z = points.T
    window = shapely.box(x - reach.sideways, z - reach.down, x + reach.sideways, z + reach.up)
    return only_polygons(shapely.intersection(seen, window))


def fewest_points(
    polygon: Polygonal, candidates: ArrayLike, reach: Reach, *, share: float = 0.999, cost: ArrayLike | None = None
) -> Selection:
    """The fewest candidates (k, 2) that together reach `share` of the polygon's area.

    Where all candidates together fall short of that share, the same allowance applies to what they can reach at all:
    at most (1 - share) of the polygon's area may be given up against using every candidate.

    Candidates whose whole reach another one has are set aside; the outlines of the other reaches cut the polygon into
    cells, and each candidate reaches a cell wholly or not at all, so the search over cells is exact (`geometry.cover`
    says when it gives way to a greedy one and what bound then holds). cost (k,) decides between equally small choices:
    the cheapest of single points, of several one that is made cheaper by exchanging single points.

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
    kept = _maximal(polygon, reaches, areas)
    member, weight = _cells(polygon, reaches[kept])
    reachable = float(weight[member.any(axis=0)].sum())
    needed = share * polygon.area
    if reachable < needed:
        needed = max(reachable - (1.0 - share) * polygon.area, min(reachable, TINY_SHARE * polygon.area))
    cover = fewest_sets(member, weight, needed)
    chosen = [int(kept[i]) for i in cover.chosen]
    if cost is not None:
        chosen = _cheaper(chosen, reaches, costs, needed)
    return _selection(polygon, reaches, tuple(sorted(chosen)), cover.lower_bound)


def candidate_points(
    polygon: Polygonal, zone: Polygonal, reach: Reach, *, heights: ArrayLike = (), limit: int = 120
) -> FloatArray:
    """Points of `zone` worth trying when `polygon` is to be reached, (k, 2) float64, m.

    They stand on a grid: columns through the corners of both shapes, the middle of the zone and a chain one width of
    reach apart; rows through the corners, one reach above or below them and along chains one height of reach apart.
    Where that gives more than `limit` points, neighbouring lines are merged until it does not. Rows at `heights` and
    the corners of the zone come on top, so that asking for a height never costs another candidate.
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
    inner = shapely.buffer(zone, 1e-9, join_style="mitre")
    shapely.prepare(inner)
    merge = 1e-6
    grid = _grid_inside(inner, _thin(columns, merge), _thin(rows, merge))
    while len(grid) > limit and merge < 1.0:
        merge = max(0.002, 2.0 * merge)
        grid = _grid_inside(inner, _thin(columns, merge), _thin(rows, merge))
    asked = np.unique(np.asarray(heights, dtype=np.float64))
    grid = np.concatenate([grid, _grid_inside(inner, _thin(columns, merge), asked)])
    if len(corners) <= limit // 2:
        grid = np.concatenate([grid, corners])
    _, first = np.unique(np.round(grid, 6), axis=0, return_index=True)
    return grid[np.sort(first)]


def only_polygons(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """Shapes (n,) without the lines and points that touching outlines leave behind in an overlay."""
    kinds = shapely.get_type_id(shapes)
    for index in np.flatnonzero((kinds != POLYGON) & (kinds != MULTI_POLYGON)):
        parts = [part for part in shapely.get_parts(shapes[index]) if isinstance(part, Polygon)]
        shapes[index] = parts[0] if len(parts) == 1 else MultiPolygon(parts)
    return shapes


def union_of(shapes: Sequence[Polygonal] | NDArray[np.object_]) -> Polygonal:
    """Union of polygons."""
    union = shapes[0] if len(shapes) == 1 else shapely.union_all(list(shapes))
    return only_polygons(np.array([union], dtype=object))[0]


def _is_convex(polygon: Polygon) -> bool:
    """True where rounding alone tells the polygon from its convex hull."""
    return not polygon.interiors and polygon.convex_hull.area - polygon.area <= 1e-12


def _maximal(polygon: Polygonal, reaches: NDArray[np.object_], areas: FloatArray) -> NDArray[np.intp]:
    """Indices of reaches that lie in no other one; of equal ones the first stays.

    Sample points say which reach may lie in which; the largest such holder is then tested exactly.
    """
    index = np.flatnonzero(areas > 0.0)
    x_min, z_min, x_max, z_max = polygon.bounds
    step = (np.arange(SAMPLES) + 0.5) / SAMPLES
    x, z = (side.ravel() for side in np.meshgrid(x_min + step * (x_max - x_min), z_min + step * (z_max - z_min)))
    shapely.prepare(reaches)
    member = shapely.contains_xy(reaches[index][:, None], x[None], z[None]).astype(np.float32)
    inside = member @ member.T >= member.sum(axis=1)[:, None] - 0.5
    larger = areas[index][None, :] - areas[index][:, None]
    order = np.arange(len(index))
    inside &= (larger > SAME_AREA) | ((np.abs(larger) <= SAME_AREA) & (order[None, :] < order[:, None]))
    holder = np.where(inside, areas[index][None, :], -1.0).argmax(axis=1)
    held = np.flatnonzero(inside.any(axis=1))
    out = shapely.area(shapely.difference(reaches[index[held]], reaches[index[holder[held]]]))
    return np.delete(index, held[out <= SAME_AREA])


def _cheaper(chosen: Sequence[int], reaches: NDArray[np.object_], cost: FloatArray, needed: float) -> list[int]:
    """Exchange one point after another for the cheapest that still reaches enough, dearest first.

    What the point alone reaches must be made up for by its substitute. Each exchange lowers the whole cost, so it
    ends; `ROUNDS` bounds the time on shapes with very many points.
    """
    chosen, areas = sorted(chosen, key=lambda index: -cost[index]), shapely.area(reaches)
    covered = union_of([reaches[index] for index in chosen]).area
    for _ in range(ROUNDS):
        before = list(chosen)
        for place, current in enumerate(chosen):
            trial = np.flatnonzero(cost < cost[current] - 1e-12)
            if not len(trial):
                continue
            others = reaches[[index for index in chosen if index != current]]
            near = others[shapely.intersects(others, reaches[current])]
            own = reaches[current].difference(union_of(near)) if len(near) else reaches[current]
            left = covered - own.area
            covered_by = left + shapely.area(shapely.intersection(reaches[trial], own))
            enough = covered_by >= needed * (1.0 - 1e-12)
            if enough.any():
                best = np.flatnonzero(enough)[np.argmin(cost[trial[enough]])]
                chosen[place], covered = int(trial[best]), float(covered_by[best])
        if chosen == before:
            break
    # Two may have been exchanged for points that make one of them needless.
    for current in sorted(chosen, key=lambda index: -cost[index]):
        others = reaches[[index for index in chosen if index != current]]
        near = others[shapely.intersects(others, reaches[current])]
        own = float(reaches[current].difference(union_of(near)).area) if len(near) else float(areas[current])
        if covered - own >= needed * (1.0 - 1e-12):
            chosen, covered = [index for index in chosen if index != current], covered - own
    return chosen


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
    union = union_of(picked)
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
