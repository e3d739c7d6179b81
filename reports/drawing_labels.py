"""Finds places for labels: inside what they name where they fit, else beside it, else in a row outside with a leader.

Everything is in page mm. Nothing is drawn here. What stands already is kept in `Taken`; a place is free when its box
meets none of that.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from reports.drawing import Box, Point

FloatArray = NDArray[np.float64]

GAP = 0.3
"""mm kept between two labels."""
_LEVELS = (0.5, 0.6, 0.4, 0.7, 0.3, 0.8, 0.2, 0.87, 0.13, 0.93, 0.07)
"""Where in the height of a shape a label is tried, best first."""
_SHARES = (0.5, 0.3, 0.7, 0.15, 0.85)
"""Where in the width of a shape a leader may start, best first."""


class Taken:
    """Boxes that are in use, as one growing table."""

    def __init__(self) -> None:
        self._boxes: FloatArray = np.empty((0, 4))

    def add(self, box: Box) -> None:
        """Marks a box as used."""
        self._boxes = np.vstack([self._boxes, np.array(box)[None]])

    def free(self, boxes: FloatArray, gap: float = GAP) -> NDArray[np.bool_]:
        """Which of the boxes (n, 4) meet nothing that stands. (n,) bool."""
        tried = np.asarray(boxes, dtype=np.float64).reshape(-1, 4)
        return np.logical_not(np.any(self._meets(tried, gap), axis=1))

    def hits(self, boxes: FloatArray, gap: float = 0.0) -> NDArray[np.int64]:
        """How many used boxes each of the boxes (n, 4) meets. (n,) int64."""
        return self._meets(np.asarray(boxes, dtype=np.float64).reshape(-1, 4), gap).sum(axis=1)

    def _meets(self, tried: FloatArray, gap: float) -> NDArray[np.bool_]:
        a, b = tried[:, None, :], self._boxes[None, :, :]
        across = (a[..., 0] < b[..., 2] + gap) & (b[..., 0] < a[..., 2] + gap)
        return across & (a[..., 1] < b[..., 3] + gap) & (b[..., 1] < a[..., 3] + gap)


def boxes_around(points: FloatArray, width: float, height: float) -> FloatArray:
    """Boxes (n, 4) of one size about points (n, 2)."""
    half = np.array([0.5 * width, 0.5 * height])
    return np.hstack([points - half, points + half])


def place_inside(shape: Polygon | MultiPolygon, width: float, height: float, taken: Taken) -> Point | None:
    """Middle of a free box of that size inside the shape, in the widest stretch at its height; None where none fits."""
    points = _middles(shape)
    if not len(points):
        return None
    boxes = boxes_around(points, width, height)
    inside = shapely.covers(shape, shapely.box(*boxes.T))
    good = np.flatnonzero(inside & taken.free(boxes))
    return (float(points[good[0], 0]), float(points[good[0], 1])) if len(good) else None


def _middles(shape: Polygon | MultiPolygon) -> FloatArray:
    """Middle of the widest stretch of a shape at each level of its height (n, 2), best level first."""
    chords = _chords(shape)
    return np.column_stack([0.5 * (chords[:, 0] + chords[:, 1]), chords[:, 2]])


def _chords(shape: Polygon | MultiPolygon) -> FloatArray:
    """Widest stretch of a shape at each level: (n, 3) of x_min, x_max, y."""
    if shape.is_empty:
        return np.empty((0, 3))
    x0, y0, x1, y1 = shape.bounds
    levels = y0 + np.array(_LEVELS) * (y1 - y0)
    ends = [[(x0 - 1.0, level), (x1 + 1.0, level)] for level in levels]
    parts, of = shapely.get_parts(shapely.intersection(shapely.linestrings(ends), shape), return_index=True)
    found: list[tuple[float, float, float]] = []
    for index, level in enumerate(levels):
        own = parts[of == index]
        own = own[shapely.length(own) > 0.0]
        if len(own):
            a, _, b, _ = own[int(np.argmax(shapely.length(own)))].bounds
            found.append((a, b, float(level)))
    return np.array(found).reshape(-1, 3)


def place_beside(at: Point, width: float, height: float, taken: Taken, distance: float) -> Point:
    """Middle of a free box near a point: at its sides first, then farther and farther away all around.

    distance: mm from the point to the nearest edge of the box. The search ends, since paper is boundless here.
    """
    away = distance
    while True:
        x, y = away + 0.5 * width, away + 0.5 * height
        turns = ((x, 0.0), (-x, 0.0), (0.0, y), (0.0, -y), (x, y), (-x, y), (x, -y), (-x, -y))
        points = np.array([(at[0] + dx, at[1] + dy) for dx, dy in turns])
        good = np.flatnonzero(taken.free(boxes_around(points, width, height)))
        if len(good):
            return float(points[good[0], 0]), float(points[good[0], 1])
        away += 1.0


def spread(wished: Sequence[float], spacing: float, low: float, high: float) -> FloatArray:
    """Places (n,) float64 near the wished ones (ascending), at least `spacing` apart, between low and high.

    The sum of squared moves is smallest (pool adjacent violators). Where there is no room for all, they run beyond
    `high` at the spacing.

    >>> spread([1.0, 1.0, 9.0], 2.0, 0.0, 10.0).tolist()
    [0.0, 2.0, 9.0]
    """
    if not len(wished):
        return np.empty(0)
    steps = spacing * np.arange(len(wished))
    pools: list[list[float]] = []  # sum, count
    for value in np.asarray(wished, dtype=np.float64) - steps:
        pools.append([float(value), 1.0])
        while len(pools) > 1 and pools[-2][0] / pools[-2][1] >= pools[-1][0] / pools[-1][1]:
            total, count = pools.pop()
            pools[-1][0] += total
            pools[-1][1] += count
    level = np.concatenate([np.full(int(count), total / count) for total, count in pools])
    return (np.clip(level, low, max(low, high - steps[-1])) + steps).astype(np.float64)


def leader_start(shape: Polygon | MultiPolygon, edges: tuple[float, float], taken: Taken) -> tuple[Point, bool]:
    """Where a leader to a label outside starts in a shape, and whether it goes up.

    edges: y of the lower and the upper edge that the leader has to pass. The way straight up or down that crosses the
    fewest labels is taken; between equals the nearer edge.
    """
    low, high = edges
    starts = [(float(a + share * (b - a)), float(y)) for a, b, y in _chords(shape) for share in _SHARES]
    if not starts:
        middle = shape.representative_point()
        starts = [(middle.x, middle.y)]
    up = np.array([(x - 0.15, y, x + 0.15, max(high, y)) for x, y in starts])
    down = np.array([(x - 0.15, min(low, y), x + 0.15, y) for x, y in starts])
    hits = np.concatenate([taken.hits(up, 0.1), taken.hits(down, 0.1)])
    away = np.concatenate([up[:, 3] - up[:, 1], down[:, 3] - down[:, 1]])
    best = int(np.lexsort((np.round(away / 5.0), hits))[0])
    return starts[best % len(starts)], best < len(starts)
