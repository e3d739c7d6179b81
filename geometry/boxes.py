"""A rectangle less rectangles: the case of nearly every framed wall, settled on the grid of their sides.

All sides are level or plumb, so between two neighbouring sides nothing changes: the grid of all sides has cells that
are wholly free or wholly taken, and no overlay has to find where edges cross.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.connected import groups_of
from geometry.solids import polygons_of

BoxArray = NDArray[np.float64]
"""(n, 4) float64: x_min, z_min, x_max, z_max of rectangles, m."""

_SAME_AREA = 1e-13
"""Share by which a rectangle may fall short of its box: rounding of its area."""


@dataclass(frozen=True, slots=True, eq=False)
class BoxCuts:
    """Connected pieces left of a rectangle, left to right, and the areas of all there is: m2.

    gross, open_, taken: from the grid; left: measured on the pieces, so that the sum is a check of them.
    """

    pieces: list[Polygon]
    gross: float
    open_: float
    taken: float
    left: float


def as_boxes(shapes: NDArray[np.object_]) -> BoxArray | None:
    """Bounds of shapes (n,) that are all rectangles with level and plumb sides; None where any is not."""
    boxes = shapely.bounds(shapes).reshape(-1, 4)
    return boxes if are_boxes(shapely.area(shapes), boxes).all() else None


def are_boxes(areas: NDArray[np.float64], boxes: BoxArray, slack: float = _SAME_AREA) -> NDArray[np.bool_]:
    """Which shapes with these areas (n,), m2, fill the boxes around them (n, 4): rectangles with level and plumb sides.

    slack: share of its box by which a shape may fall short of it.
    """
    return areas >= (1.0 - slack) * (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])


def cut_boxes(whole: BoxArray, open_: BoxArray, taken: BoxArray) -> BoxCuts:
    """What rectangles leave of a rectangle. whole: (4,). open_, taken: (n, 4); where both lie, it is open."""
    xs, zs, is_open, is_taken = _grid(whole, open_, taken)
    pieces = _pieces(_rectangles(~(is_open | is_taken)), xs, zs)
    return BoxCuts(
        pieces,
        gross=float((whole[2] - whole[0]) * (whole[3] - whole[1])),
        open_=_area(is_open, xs, zs),
        taken=_area(is_taken, xs, zs),
        left=float(shapely.area(pieces).sum()) if pieces else 0.0,
    )


def areas_within(whole: BoxArray, open_: BoxArray, taken: BoxArray) -> tuple[float, float]:
    """What is open and what is taken within a rectangle (4,), m2; else as `cut_boxes`."""
    xs, zs, is_open, is_taken = _grid(whole, open_, taken)
    return _area(is_open, xs, zs), _area(is_taken, xs, zs)


def _grid(
    whole: BoxArray, open_: BoxArray, taken: BoxArray
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
    """Sides along x and along z, and which cells between them are open and which are taken."""
    open_, taken = _clipped(open_, whole), _clipped(taken, whole)
    every = np.concatenate([whole[None], open_, taken])
    xs, zs = _distinct(every[:, ::2]), _distinct(every[:, 1::2])
    is_open = _covered(open_, xs, zs)
    return xs, zs, is_open, _covered(taken, xs, zs) & ~is_open


def _area(cells: NDArray[np.bool_], xs: NDArray[np.float64], zs: NDArray[np.float64]) -> float:
    return float(((xs[1:] - xs[:-1])[:, None] * (zs[1:] - zs[:-1])[None, :])[cells].sum())


def beyond(whole: BoxArray, part: BoxArray) -> BoxArray:
    """The rectangle `whole` (4,) less a rectangle `part` (4,) in it, as rectangles (n, 4) that overlap nowhere."""
    x0, z0, x1, z1 = whole
    left, low, right, high = part
    around = np.array([(x0, z0, left, z1), (right, z0, x1, z1), (left, z0, right, low), (left, high, right, z1)])
    return around[(around[:, 2] > around[:, 0]) & (around[:, 3] > around[:, 1])]


def _clipped(boxes: BoxArray, whole: BoxArray) -> BoxArray:
    """Boxes as far as they lie in the whole, those outside left out."""
    inside = np.minimum(np.maximum(boxes, whole[[0, 1, 0, 1]]), whole[[2, 3, 2, 3]])
    return inside[(inside[:, 2] > inside[:, 0]) & (inside[:, 3] > inside[:, 1])]


def _distinct(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """The distinct values, ascending."""
    values = np.sort(values, axis=None)
    fresh = np.ones(len(values), dtype=bool)
    np.not_equal(values[1:], values[:-1], out=fresh[1:])
    return values[fresh]


def _covered(boxes: BoxArray, xs: NDArray[np.float64], zs: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which cells of the grid some box covers: (len(xs) - 1, len(zs) - 1) bool."""
    covered = np.zeros((len(xs) - 1, len(zs) - 1), dtype=bool)
    x, z = xs.searchsorted(boxes[:, ::2]).tolist(), zs.searchsorted(boxes[:, 1::2]).tolist()
    for (x0, x1), (z0, z1) in zip(x, z, strict=True):
        covered[x0:x1, z0:z1] = True
    return covered


def _rectangles(free: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Free cells as rectangles of whole columns' runs: (n, 4) numbers of x_min, z_min, x_max, z_max among the sides."""
    columns, rows = free.shape
    bordered = np.zeros((columns, rows + 2), dtype=bool)
    bordered[:, 1:-1] = free
    turns = np.flatnonzero(bordered[:, 1:] != bordered[:, :-1])
    column, low = np.divmod(turns[::2], rows + 1)
    high = turns[1::2] - column * (rows + 1)
    # Runs of one height in columns side by side are one rectangle.
    order = np.lexsort((column, high, low))
    column, low, high = column[order], low[order], high[order]
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (low[1:] != low[:-1]) | (high[1:] != high[:-1]) | (column[1:] != column[:-1] + 1)
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(order)) - 1 if len(first) else first
    found = np.column_stack([column[first], low[first], column[last] + 1, high[first]])
    return found[np.lexsort((found[:, 1], found[:, 0]))]


def _pieces(rectangles: NDArray[np.int64], xs: NDArray[np.float64], zs: NDArray[np.float64]) -> list[Polygon]:
    """Rectangles that share a part of a side, as one polygon each."""
    shapes = shapely.box(xs[rectangles[:, 0]], zs[rectangles[:, 1]], xs[rectangles[:, 2]], zs[rectangles[:, 3]])
    x0, low, x1, high = rectangles.T
    # Sorted by their left sides, those that begin where one ends stand together. Above each other two never touch: a
    # run is as high as it can be.
    starts, stops = np.searchsorted(x0, x1), np.searchsorted(x0, x1, side="right")
    pairs: list[tuple[int, int]] = []
    for one in np.flatnonzero(stops > starts).tolist():
        beside = np.arange(starts[one], stops[one])
        pairs += [(one, other) for other in beside[(low[beside] < high[one]) & (high[beside] > low[one])].tolist()]
    if not pairs:
        return shapes.tolist()
    pieces: list[Polygon] = []
    for group in groups_of(len(rectangles), pairs):
        pieces += [shapes[group[0]]] if len(group) == 1 else _joined(shapes[group])
    return pieces


def _joined(shapes: NDArray[np.object_]) -> list[Polygon]:
    joined: Polygon | MultiPolygon = shapely.union_all(shapes)  # pyright: ignore[reportAssignmentType]
    return polygons_of(joined)
