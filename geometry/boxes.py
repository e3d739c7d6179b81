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
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    return boxes if (shapely.area(shapes) >= areas * (1.0 - _SAME_AREA)).all() else None


def cut_boxes(whole: BoxArray, open_: BoxArray, taken: BoxArray) -> BoxCuts:
    """What rectangles leave of a rectangle. whole: (4,). open_, taken: (n, 4); where both lie, it is open."""
    open_, taken = _clipped(open_, whole), _clipped(taken, whole)
    every = np.concatenate([whole[None], open_, taken])
    xs, zs = np.unique(every[:, [0, 2]]), np.unique(every[:, [1, 3]])
    is_open = _covered(open_, xs, zs)
    is_taken = _covered(taken, xs, zs) & ~is_open
    cells = np.diff(xs)[:, None] * np.diff(zs)[None, :]
    pieces = _pieces(_rectangles(~(is_open | is_taken)), xs, zs)
    return BoxCuts(
        pieces,
        gross=float((whole[2] - whole[0]) * (whole[3] - whole[1])),
        open_=float(cells[is_open].sum()),
        taken=float(cells[is_taken].sum()),
        left=float(shapely.area(pieces).sum()) if pieces else 0.0,
    )


def _clipped(boxes: BoxArray, whole: BoxArray) -> BoxArray:
    """Boxes as far as they lie in the whole, those outside left out."""
    inside = np.clip(boxes, whole[[0, 1, 0, 1]], whole[[2, 3, 2, 3]])
    return inside[(inside[:, 2] > inside[:, 0]) & (inside[:, 3] > inside[:, 1])]


def _covered(boxes: BoxArray, xs: NDArray[np.float64], zs: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which cells of the grid some box covers: (len(xs) - 1, len(zs) - 1) bool."""
    depth = np.zeros((len(xs), len(zs)), dtype=np.int64)
    x0, x1 = np.searchsorted(xs, boxes[:, 0]), np.searchsorted(xs, boxes[:, 2])
    z0, z1 = np.searchsorted(zs, boxes[:, 1]), np.searchsorted(zs, boxes[:, 3])
    # Each box adds one from its lower left corner on and takes it away beyond its other sides.
    for x, z, change in ((x0, z0, 1), (x1, z0, -1), (x0, z1, -1), (x1, z1, 1)):
        np.add.at(depth, (x, z), change)
    return depth.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0


def _rectangles(free: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Free cells as rectangles of whole columns' runs: (n, 4) numbers of x_min, z_min, x_max, z_max among the sides."""
    edge = np.zeros((free.shape[0], 1), dtype=np.int8)
    steps = np.diff(np.concatenate([edge, free.astype(np.int8), edge], axis=1), axis=1)
    column, low = np.nonzero(steps == 1)
    high = np.nonzero(steps == -1)[1]
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
    pieces: list[Polygon] = []
    for group in groups_of(len(rectangles), pairs):
        pieces += [shapes[group[0]]] if len(group) == 1 else _joined(shapes[group])
    return pieces


def _joined(shapes: NDArray[np.object_]) -> list[Polygon]:
    joined: Polygon | MultiPolygon = shapely.union_all(shapes)  # pyright: ignore[reportAssignmentType]
    return polygons_of(joined)
