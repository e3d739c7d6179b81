"""Where netting is fastened: along plates, stud lines, wall ends and openings, with the length of each.

Netting is taken to cover the whole face of a stud layer that is blown, openings cut out. How it is held, and by how
many staples, `takeoff.schedule` says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, depth_range, polygons_of, silhouette
from takeoff.model import LayerTakeoff, MemberRole

FloatArray = NDArray[np.float64]

UPRIGHT = frozenset({MemberRole.STUD, MemberRole.KING_STUD, MemberRole.JACK_STUD, MemberRole.CRIPPLE})
"""Roles whose face is a stud line."""
AT_FACE = 0.005
"""m; a member whose nearest point is deeper than this behind the fill face holds no staple."""
ON_EDGE = 0.010
"""m; a side of a member nearer than this to the edge of the netting lies along it."""
LEAST_LINE = 0.05
"""m; a shorter piece of line is not counted."""


@dataclass(frozen=True, slots=True)
class NettingLines:
    """Area of the netting of one stud layer, m2, and the length of the lines that hold it, m."""

    layer_key: str
    area: float
    top_plate: float
    bottom_plate: float
    ends: float
    """Upright edges at the corners and ends of the wall."""
    openings: float
    """Around openings, where the netting ends."""
    stud_lines: float
    """Studs inside the netting; studs that touch count as one line, studs along an edge are counted with the edge."""
    n_stud_lines: int

    @property
    def edge(self) -> float:
        """m; all around."""
        return self.top_plate + self.bottom_plate + self.ends + self.openings

    @property
    def total(self) -> float:
        """m; every line."""
        return self.edge + self.stud_lines


def netting_lines(layer: LayerTakeoff) -> NettingLines:
    """The netting of one stud layer: its area and lines."""
    face = areal(silhouette(layer.frame.layer.outline))
    holes = [areal(opening.outline) for opening in layer.frame.openings if opening.solid is None]
    cut = areal(shapely.union_all(holes)) if holes else Polygon()
    netting = areal(shapely.difference(face, cut))
    top, bottom, ends, around = _edges(netting, cut)
    uprights = _stud_lines(layer, netting)
    return NettingLines(
        layer.frame.layer.key, float(netting.area), top, bottom, ends, around, float(sum(uprights)), len(uprights)
    )


def _edges(netting: Polygon | MultiPolygon, cut: Polygon | MultiPolygon) -> tuple[float, float, float, float]:
    """Lengths of the netting's edge, m: top, bottom, ends, around openings. They add up to all of it."""
    start, end = _sides(netting)
    if not len(start):
        return 0.0, 0.0, 0.0, 0.0
    length = np.hypot(*(end - start).T)
    middle = 0.5 * (start + end)
    at_opening = np.zeros(len(length), dtype=bool)
    if not cut.is_empty:
        at_opening = shapely.distance(shapely.points(middle), cut.boundary) < 1e-6
    # Outer rings run anticlockwise and holes clockwise, so the netting always lies to the left of a side.
    along = (end - start) / np.maximum(length, 1e-12)[:, None]
    upright = np.abs(along[:, 1]) > np.cos(np.radians(15.0))
    top = ~upright & (along[:, 0] < 0.0)
    sums = [float(length[mask & ~at_opening].sum()) for mask in (top, ~upright & ~top, upright)]
    return sums[0], sums[1], sums[2], float(length[at_opening].sum())


def _sides(shape: Polygon | MultiPolygon) -> tuple[FloatArray, FloatArray]:
    """Start and end of every side, (n, 2) float64 each, the shape to the left."""
    starts, ends = [np.empty((0, 2))], [np.empty((0, 2))]
    for part in polygons_of(shape):
        turned = shapely.geometry.polygon.orient(part)
        for ring in (turned.exterior, *turned.interiors):
            points = shapely.get_coordinates(ring)
            starts.append(points[:-1])
            ends.append(points[1:])
    return np.concatenate(starts), np.concatenate(ends)


def _stud_lines(layer: LayerTakeoff, netting: Polygon | MultiPolygon) -> list[float]:
    """Length of each stud line inside the netting, m."""
    faces = [
        silhouette(member.solid)
        for member in layer.frame.members
        if member.role in UPRIGHT and depth_range(member.solid)[0] < AT_FACE
    ]
    if not faces or netting.is_empty:
        return []
    edge = areal(shapely.buffer(netting.boundary, ON_EDGE, join_style="mitre", cap_style="flat"))
    x0, z0, x1, z1 = _side_by_side(shapely.bounds(np.array(faces, dtype=object))).T
    middle = 0.5 * (x0 + x1)
    inside = _heights(middle, (z0, z1), netting)
    # Where a side or the middle of it lies along the edge of the netting, the edge's own line fastens it already.
    along = _heights(np.concatenate([x0, middle, x1]), (np.tile(z0, 3), np.tile(z1, 3)), edge)
    lines: list[float] = []
    for index, spans in enumerate(inside):
        left = _without(spans, [taken for each in along[index :: len(inside)] for taken in each])
        length = sum(high - low for low, high in left if high - low >= LEAST_LINE)
        if length > 0.0:
            lines.append(float(length))
    return lines


def _side_by_side(boxes: FloatArray) -> FloatArray:
    """Boxes (n, 4) of studs, those that touch as one (m, 4); a crack between two boards is no bay. m"""
    x0, z0, x1, z1 = (boxes[:, column] for column in range(4))
    near = (x0[:, None] <= x1 + ON_EDGE) & (x0 <= x1[:, None] + ON_EDGE)
    near &= (z0[:, None] <= z1 + ON_EDGE) & (z0 <= z1[:, None] + ON_EDGE)
    home = np.arange(len(boxes))
    while True:
        # Each takes the lowest number among those it touches, until nothing moves.
        lowest = np.where(near, home, len(boxes)).min(axis=1)
        if (lowest == home).all():
            break
        home = lowest
    groups = [boxes[home == number] for number in np.unique(home)]
    return np.array([[*group[:, :2].min(axis=0), *group[:, 2:].max(axis=0)] for group in groups])


def _heights(
    x: FloatArray, ends: tuple[FloatArray, FloatArray], shape: Polygon | MultiPolygon
) -> list[list[tuple[float, float]]]:
    """For upright lines at x (n,) between their ends (n,) each, the heights at which they lie in the shape, m, rising.

    A line enters and leaves a shape at its sides in turn, so its crossings with them, sorted, come in pairs.
    """
    start, end = _sides(shape)
    crossed = (start[:, 0] <= x[:, None]) != (end[:, 0] <= x[:, None])
    width = end[:, 0] - start[:, 0]
    slope = np.divide(end[:, 1] - start[:, 1], width, out=np.zeros(len(width)), where=width != 0.0)
    at = start[:, 1] + (x[:, None] - start[:, 0]) * slope
    at[~crossed] = np.inf
    at.sort(axis=1)
    at = np.clip(at[:, : crossed.sum(axis=1).max(initial=0)], ends[0][:, None], ends[1][:, None])
    # Beyond a line's last crossing both of a pair stand at its upper end, and fall out.
    return [
        [(first, last) for first, last in zip(turns[::2], turns[1::2], strict=True) if last > first]
        for turns in at.tolist()
    ]


def _without(spans: list[tuple[float, float]], taken: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What is left of the spans where those taken are cut out, m."""
    left = spans
    for start, end in taken:
        left = [
            piece
            for low, high in left
            for piece in ((low, min(high, start)), (max(low, end), high))
            if piece[1] > piece[0]
        ]
    return left
