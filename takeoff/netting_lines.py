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

from geometry.solids import areal, depth_range, silhouette
from takeoff.model import LayerTakeoff, MemberRole

FloatArray = NDArray[np.float64]
Sides = tuple[FloatArray, FloatArray]
"""Start and end of straight sides, (n, 2) float64 each, m."""

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
    cut = _cut(layer)
    netting = _face_less(layer, cut)
    sides = _sides(netting)
    top, bottom, ends, around = _edges(sides, cut)
    uprights = _stud_lines(upright_boxes(layer), netting, sides)
    return NettingLines(
        layer.frame.layer.key, float(netting.area), top, bottom, ends, around, float(uprights.sum()), len(uprights)
    )


def netting_outline(layer: LayerTakeoff) -> Polygon | MultiPolygon:
    """The face of a stud layer less the openings that pass through it, elevation (x z), m."""
    return _face_less(layer, _cut(layer))


def upright_boxes(layer: LayerTakeoff) -> FloatArray:
    """Boxes (n, 4) float64 of the uprights that show at the fill face: x_min, z_min, x_max, z_max; m."""
    faces = [
        silhouette(member.solid)
        for member in layer.frame.members
        if member.role in UPRIGHT and depth_range(member.solid)[0] < AT_FACE
    ]
    return shapely.bounds(np.array(faces, dtype=object)).reshape(-1, 4)


def _cut(layer: LayerTakeoff) -> Polygon | MultiPolygon:
    """Openings that pass through the stud layer, (x, z), m."""
    holes = [areal(opening.outline) for opening in layer.frame.openings if opening.solid is None]
    return areal(shapely.union_all(holes)) if holes else Polygon()


def _face_less(layer: LayerTakeoff, cut: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    face = areal(silhouette(layer.frame.layer.outline))
    return face if cut.is_empty else areal(shapely.difference(face, cut))


def _edges(sides: Sides, cut: Polygon | MultiPolygon) -> tuple[float, float, float, float]:
    """Lengths of the netting's edge, m: top, bottom, ends, around openings. They add up to all of it."""
    start, end = sides
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


def _sides(shape: Polygon | MultiPolygon) -> Sides:
    """Start and end of every side, the shape to the left."""
    rings = shapely.get_rings(shapely.orient_polygons(shapely.get_parts(shape)))
    points, ring = shapely.get_coordinates(rings, return_index=True)
    joined = ring[1:] == ring[:-1]
    return points[:-1][joined], points[1:][joined]


def _stud_lines(uprights: FloatArray, netting: Polygon | MultiPolygon, sides: Sides) -> FloatArray:
    """Length of each stud line inside the netting, m, from the boxes (n, 4) of uprights."""
    if not len(uprights) or netting.is_empty:
        return np.empty(0)
    edge = areal(shapely.buffer(netting.boundary, ON_EDGE, join_style="mitre", cap_style="flat"))
    x0, z0, x1, z1 = _side_by_side(uprights).T
    middle = 0.5 * (x0 + x1)
    inside = _heights(middle, (z0, z1), sides)
    # Where a side or the middle of it lies along the edge of the netting, the edge's own line fastens it already.
    along = _heights(np.concatenate([x0, middle, x1]), (np.tile(z0, 3), np.tile(z1, 3)), _sides(edge))
    taken = along.reshape(3, len(x0), -1, 2).transpose(1, 0, 2, 3).reshape(len(x0), -1, 2)
    lengths = _lengths_without(inside, taken)
    return lengths[lengths > 0.0]


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
    order = np.argsort(home, kind="stable")
    first = np.flatnonzero(np.diff(home[order], prepend=-1))
    low = np.minimum.reduceat(boxes[order, :2], first, axis=0)
    high = np.maximum.reduceat(boxes[order, 2:], first, axis=0)
    return np.concatenate([low, high], axis=1)


def _heights(x: FloatArray, ends: tuple[FloatArray, FloatArray], sides: Sides) -> FloatArray:
    """For upright lines at x (n,) between their ends (n,) each, the stretches of them that lie within sides: (n, k, 2)
    float64, m, lower and upper end, rising; of no length where a line has fewer than k.

    A line enters and leaves a shape at its sides in turn, so its crossings with them, sorted, come in pairs.
    """
    start, end = sides
    crossed = (start[:, 0] <= x[:, None]) != (end[:, 0] <= x[:, None])
    width = end[:, 0] - start[:, 0]
    slope = np.divide(end[:, 1] - start[:, 1], width, out=np.zeros(len(width)), where=width != 0.0)
    at = start[:, 1] + (x[:, None] - start[:, 0]) * slope
    at[~crossed] = np.inf
    at.sort(axis=1)
    at = np.clip(at[:, : crossed.sum(axis=1).max(initial=0)], ends[0][:, None], ends[1][:, None])
    return at.reshape(len(x), -1, 2)


def _lengths_without(spans: FloatArray, taken: FloatArray) -> FloatArray:
    """Length (n,), m, of what is left of each line's spans (n, k, 2), rising, where those taken (n, m, 2) are cut out;
    pieces shorter than `LEAST_LINE` do not count."""
    at = np.concatenate([spans, taken], axis=1)
    # Going up a line, each end of a span begins or ends it; one taken weighs more than all spans together.
    weight = np.where(np.arange(at.shape[1]) < spans.shape[1], 1, -1 - spans.shape[1])
    begun = np.where(at[..., 1] > at[..., 0], weight, 0)
    at, steps = at.reshape(len(at), -1), np.stack([begun, -begun], axis=2).reshape(len(at), -1)
    order = np.argsort(at, axis=1, kind="stable")
    at = np.take_along_axis(at, order, axis=1)
    free = np.take_along_axis(steps, order, axis=1).cumsum(axis=1) > 0
    # Whatever begins has ended at the last place.
    turns = np.diff(free, axis=1, prepend=False)
    line, first = np.nonzero(turns & free)
    last = np.nonzero(turns & ~free)[1]
    length = at[line, last] - at[line, first]
    kept = length >= LEAST_LINE
    return np.bincount(line[kept], weights=length[kept], minlength=len(at)).astype(np.float64)
