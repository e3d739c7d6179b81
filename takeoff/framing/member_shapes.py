"""What the solids of a frame look like, measured all at once: boxes, silhouettes, which way each one stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import ROUNDING, Mesh, Prism, Solid, areal, boxes_of, doubled_areas, silhouette, volume

LEVEL_LIMIT = np.radians(15.0)
"""Members up to this slope lie, those within the same angle of the plumb line stand; the rest are sloped."""
THIN_WALLED = 0.35
"""A solid that fills less of its own box than this is thin-walled (a C-section fills 5 to 15 %) or openwork."""


class Stance(IntEnum):
    LEVEL = 0
    UPRIGHT = 1
    SLOPED = 2


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """One row per solid, wall axes, m.

    low, high: (n, 3) float64, corners of the axis-parallel boxes.
    silhouettes: (n,) object, Polygon or MultiPolygon in (x, z).
    along, across: (n,) float64, sides of the smallest turned rectangle around the silhouette, the longer first.
    slope: (n,) float64, rad, of the longer side against the horizontal, -pi/2 < slope <= pi/2.
    stance: (n,) int, a `Stance`.
    middle: (n, 2) float64, m, middle of that rectangle in (x, z).
    volume: (n,) float64, m3. fill: (n,) float64, share of the turned box that is solid.
    filled: (n,) float64, share of the turned rectangle that the silhouette covers.
    round: (n,) bool, round in section: a pipe or a pole.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    silhouettes: NDArray[np.object_]
    along: NDArray[np.float64]
    across: NDArray[np.float64]
    slope: NDArray[np.float64]
    stance: NDArray[np.int64]
    middle: NDArray[np.float64]
    volume: NDArray[np.float64]
    fill: NDArray[np.float64]
    filled: NDArray[np.float64]
    round: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.low)

    def ends(self) -> NDArray[np.float64]:
        """Middles of both ends of each piece, (n, 2, 2) float64, m: the lower (left) end first, then x and z."""
        half = np.stack([np.cos(self.slope), np.sin(self.slope)], axis=1) * self.along[:, None] / 2.0
        half *= np.where((self.stance == Stance.UPRIGHT) & (half[:, 1] < 0.0), -1.0, 1.0)[:, None]
        return np.stack([self.middle - half, self.middle + half], axis=1)

    def sides_at(self, z: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Left and right side x of each piece at heights z, m; of a leaning upright where it is at that height.

        z: (n,) or (n, k) float64, m, first axis by piece. Returns two arrays of that shape.
        """
        upright = self.stance == Stance.UPRIGHT
        lean = np.where(upright, np.cos(self.slope) / np.where(upright, np.sin(self.slope), 1.0), 0.0)
        half = np.where(upright, self.across / 2.0 / np.abs(np.sin(np.where(upright, self.slope, 1.0))), 0.0)
        low, high = self.low[:, 0], self.high[:, 0]
        straight = ~upright | (np.abs(lean) < 1e-6)
        middle, height = self.middle[:, 0], self.middle[:, 1]
        if z.ndim == 2:
            low, high, lean, half, straight, middle, height = (
                one[:, None] for one in (low, high, lean, half, straight, middle, height)
            )
        centre = middle + (z - height) * lean
        return np.where(straight, low, centre - half), np.where(straight, high, centre + half)

    @property
    def depth(self) -> NDArray[np.float64]:
        """(n,) float64, m, across the wall."""
        return self.high[:, 1] - self.low[:, 1]

    def taken(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Shapes:
        """Only these rows."""
        return Shapes(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


def shapes_of(solids: Sequence[Solid]) -> Shapes:
    """Measure solids given in wall axes. Empty solids get a box of nan and an empty silhouette."""
    boxes = boxes_of(solids)
    low, high = boxes[:, 0], boxes[:, 1]
    seen = np.empty(len(solids), dtype=object)
    seen[:] = [_seen(solid, box) for solid, box in zip(solids, boxes, strict=True)]
    shapes = _measured(low, high, _tidied(seen, low, high), np.array([volume(solid) for solid in solids]))
    return replace(shapes, round=_round_sections(solids, shapes.silhouettes, shapes.slope))


def _seen(solid: Solid, box: NDArray[np.float64]) -> Polygon | MultiPolygon:
    """Silhouette of a solid. box: (2, 3) float64, m.

    Where the nearest or the farthest side of a mesh fills its box, as a flange of a C-section does, it is that box.
    """
    if isinstance(solid, Mesh) and len(solid.faces):
        corners = solid.vertices[solid.faces]
        whole = float((box[1, 0] - box[0, 0]) * (box[1, 2] - box[0, 2]))
        for y in box[:, 1]:
            side = corners[(np.abs(corners[:, :, 1] - y) <= 1e-7).all(axis=1)][:, :, [0, 2]]
            if abs(float(np.abs(doubled_areas(side)).sum()) / 2.0 - whole) <= 1e-9 * whole:
                return shapely.box(box[0, 0], box[0, 2], box[1, 0], box[1, 2])
    return silhouette(solid)


def joined_shapes(shapes: Shapes, groups: Sequence[NDArray[np.int64]]) -> Shapes:
    """One row for each group of rows, as if the solids of a group were one."""
    low = np.array([shapes.low[rows].min(axis=0) for rows in groups]).reshape(-1, 3)
    high = np.array([shapes.high[rows].max(axis=0) for rows in groups]).reshape(-1, 3)
    seen = np.empty(len(groups), dtype=object)
    seen[:] = [
        shapes.silhouettes[rows[0]] if len(rows) == 1 else areal(shapely.union_all(shapes.silhouettes[rows]))
        for rows in groups
    ]
    volumes = np.array([shapes.volume[rows].sum() for rows in groups])
    rounds = np.array([len(rows) == 1 and bool(shapes.round[rows[0]]) for rows in groups], dtype=bool)
    return replace(_measured(low, high, _tidied(seen, low, high), volumes), round=rounds)


def _measured(
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    seen: NDArray[np.object_],
    volumes: NDArray[np.float64],
) -> Shapes:
    """Everything that follows from boxes, silhouettes and volumes; nothing is round yet."""
    along, across, slope, middle = _turned_rectangles(seen)
    rectangle = along * across
    with np.errstate(divide="ignore", invalid="ignore"):
        fill = np.nan_to_num(volumes / (rectangle * (high[:, 1] - low[:, 1])))
        filled = np.nan_to_num(shapely.area(seen) / rectangle)
    stance = np.where(
        np.abs(slope) <= LEVEL_LIMIT,
        Stance.LEVEL,
        np.where(np.abs(slope) >= np.pi / 2 - LEVEL_LIMIT, Stance.UPRIGHT, Stance.SLOPED),
    )
    return Shapes(
        low, high, seen, along, across, slope, stance, middle, volumes, fill, filled, np.zeros(len(low), dtype=bool)
    )


def section_text(shapes: Shapes, row: int) -> str:
    """The section of one member in words, e.g. '38 x 140 mm', 'diameter 50 mm', '41 x 92 mm, thin-walled'.

    Empty for openwork, which has no one section.
    """
    if shapes.filled[row] < THIN_WALLED:
        return ""
    sides = sorted((float(shapes.across[row]), float(shapes.depth[row])))
    if shapes.round[row]:
        return f"diameter {sides[0] * 1000.0:.0f} mm"
    thin = ", thin-walled" if shapes.fill[row] < THIN_WALLED else ""
    return f"{sides[0] * 1000.0:.0f} x {sides[1] * 1000.0:.0f} mm{thin}"


def columns_of(shapes: NDArray[np.object_], x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lowest and highest z of each shape on its own plumb line.

    shapes: (n,) object, polygons in (x, z). x: (n,) float64, m, one line per shape. Returns (n, 2) float64, m; nan
    where the line misses the shape.
    """
    seen = shapes
    boxes = shapely.bounds(seen).reshape(-1, 4)
    result = boxes[:, [1, 3]].copy()
    plain = _fills_box(seen, boxes)
    outside = ~((x >= boxes[:, 0]) & (x <= boxes[:, 2]))
    odd = ~plain & ~outside
    if odd.any():
        ends = np.stack([np.stack([x[odd], boxes[odd, 1] - 1.0], 1), np.stack([x[odd], boxes[odd, 3] + 1.0], 1)], 1)
        cuts = shapely.bounds(shapely.intersection(seen[odd], shapely.linestrings(ends))).reshape(-1, 4)
        result[odd] = cuts[:, [1, 3]]
    result[outside] = np.nan
    return result


def _fills_box(seen: NDArray[np.object_], boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
    return shapely.area(seen) >= (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]) * (1.0 - 1e-9)


def _tidied(seen: NDArray[np.object_], low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.object_]:
    """Plain rectangles instead of silhouettes that are rectangles but for idle points."""
    plain = _fills_box(seen, np.stack([low[:, 0], low[:, 2], high[:, 0], high[:, 2]], axis=1))
    result = seen.copy()
    sides = np.round(np.stack([low[plain, 0], low[plain, 2], high[plain, 0], high[plain, 2]]), ROUNDING)
    result[plain] = shapely.box(*sides)
    return result


def _turned_rectangles(
    seen: NDArray[np.object_],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Longer and shorter side (m), slope (rad), (n,) each, and middle (n, 2) of the smallest turned rectangles."""
    boxes = shapely.bounds(seen).reshape(-1, 4)
    width, height = boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]
    upright = height > width
    along, across = np.where(upright, height, width), np.where(upright, width, height)
    slope = np.where(upright, np.pi / 2, 0.0)
    middle = (boxes[:, :2] + boxes[:, 2:]) / 2.0
    for row in np.flatnonzero(~_fills_box(seen, boxes) & ~shapely.is_empty(seen)):
        corners = _smallest_rectangle(shapely.get_coordinates(shapely.convex_hull(seen[row])))
        sides = corners[1:3] - corners[:2]
        lengths = np.hypot(sides[:, 0], sides[:, 1])
        longer = int(np.argmax(lengths))
        if lengths.prod() > width[row] * height[row] * (1.0 - 1e-9):
            continue
        along[row], across[row] = lengths[longer], lengths[1 - longer]
        angle = float(np.arctan2(sides[longer, 1], sides[longer, 0]))
        slope[row] = angle - np.pi * np.ceil(angle / np.pi - 0.5)
        middle[row] = corners.mean(axis=0)
    return along, across, slope, middle


def _smallest_rectangle(hull: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners (4, 2) in order of the rectangle of least area around a closed convex ring (n, 2), m.

    One of its sides lies along an edge of the ring (Freeman and Shapira, 1975; from memory). Edges that are rounding, a
    millionth of the whole, say nothing about a direction.
    """
    edges = np.diff(hull, axis=0)
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    kept = lengths > 1e-6 * lengths.sum()
    ways = edges[kept] / lengths[kept, None]
    turned = np.stack([ways, np.stack([-ways[:, 1], ways[:, 0]], axis=1)], axis=1)  # (e, 2, 2), rows along and across
    places = hull @ np.swapaxes(turned, 1, 2)  # (e, n, 2)
    low, high = places.min(axis=1), places.max(axis=1)
    best = int(np.argmin((high - low).prod(axis=1)))
    (x_min, y_min), (x_max, y_max) = low[best], high[best]
    return np.array([[x_min, y_min], [x_max, y_min], [x_max, y_max], [x_min, y_max]]) @ turned[best]


def _round_sections(
    solids: Sequence[Solid], seen: NDArray[np.object_], slope: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Which solids are round across their length: the hull fills about pi/4 of its box and has many corners."""
    result = np.zeros(len(solids), dtype=bool)
    meshes = [row for row, solid in enumerate(solids) if isinstance(solid, Mesh) and len(solid.vertices) >= 16]
    if meshes:
        flat = [_across_length(solids[row], slope[row]) for row in meshes]
        index = np.repeat(np.arange(len(meshes)), [len(points) for points in flat])
        points = np.asarray(shapely.points(np.concatenate(flat)))
        clouds = np.asarray(shapely.multipoints(points, indices=index))
        result[meshes] = _is_round(clouds)
    prisms = [row for row, solid in enumerate(solids) if isinstance(solid, Prism)]
    many = [row for row in prisms if shapely.get_num_coordinates(seen[row]) >= 9]
    if many:
        result[many] = _is_round(seen[many])
    return result


def _across_length(solid: Solid, slope: float) -> NDArray[np.float64]:
    """Vertices of a mesh seen along its length: (n, 2) float64, m."""
    assert isinstance(solid, Mesh)
    x, y, z = solid.vertices.T
    return np.stack([y, z * np.cos(slope) - x * np.sin(slope)], axis=1)


def _is_round(clouds: NDArray[np.object_]) -> NDArray[np.bool_]:
    hulls = shapely.convex_hull(clouds)
    boxes = shapely.bounds(hulls).reshape(-1, 4)
    width, height = boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = shapely.area(hulls) / (width * height)
    even = np.minimum(width, height) > 0.7 * np.maximum(width, height)
    return (shapely.get_num_coordinates(hulls) >= 9) & (share > 0.68) & (share < 0.88) & even
