"""The bays into which members at the fill face part the front of a cavity, as the front studs of double-stud walls do.

The hose could reach from one such bay behind the stud into the next, but the netting is fastened to every stud that it
passes, and fibre that has to find its way round a stud is not blown but hoped for: each bay gets holes of its own
(common practice, no published source).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.reach import Reach, reached, union_of
from geometry.solids import areal, polygons_of
from takeoff.hole_positions import HoleRule, Placement, has_room, place_holes

Shape = Polygon | MultiPolygon
Bay = tuple[Shape, Shape]
"""Outline and front, (x, z), m."""

_BEYOND = 1.0
"""m; the first and the last bay of a cavity reach to its ends, with room to spare."""


def place_holes_by_bays(outlines: Sequence[Shape], fronts: Sequence[Shape], rule: HoleRule) -> list[Placement]:
    """The holes of each cavity of one wall: as `place_holes` places them, in every bay of its front by itself.

    outlines, fronts: (x, z), m, wall axes.
    """
    bays = [_bays(outline, front, rule.clearance) for outline, front in zip(outlines, fronts, strict=True)]
    placed = iter(_placed([bay for row in bays for bay in row], rule))
    by_bays = [[next(placed) for _ in row] for row in bays]
    return [
        found[0] if len(row) == 1 else _completed(outline, front, _joined(outline, found, rule.reach), rule)
        for outline, front, row, found in zip(outlines, fronts, bays, by_bays, strict=True)
    ]


def _placed(bays: Sequence[Bay], rule: HoleRule) -> list[Placement]:
    outlines, fronts = (np.array(shapes, dtype=object) for shapes in zip(*bays, strict=True))
    return place_holes(outlines, fronts, rule)


def _bays(outline: Shape, front: Shape, clearance: float) -> list[Bay]:
    """A cavity cut half-way between the parts of its front that stand side by side, as far as a hole fits into each."""
    if not isinstance(front, MultiPolygon):
        return [(outline, front)]
    parts = polygons_of(front)
    boxes = shapely.bounds(parts)[has_room(np.array(parts, dtype=object), clearance)]
    spans: list[list[float]] = []
    for low, high in sorted(boxes[:, [0, 2]].tolist()):
        if spans and low < spans[-1][1]:  # parts above each other are one bay
            spans[-1][1] = max(spans[-1][1], high)
        else:
            spans.append([low, high])
    if len(spans) < 2:
        return [(outline, front)]
    x_min, z_min, x_max, z_max = outline.bounds
    between = [0.5 * (one[1] + other[0]) for one, other in pairwise(spans)]
    sides = np.array([x_min - _BEYOND, *between, x_max + _BEYOND])
    heights = np.full((2, len(spans)), [[z_min - _BEYOND], [z_max + _BEYOND]])
    strips = shapely.box(sides[:-1], heights[0], sides[1:], heights[1])
    wholes, opens = shapely.intersection(outline, strips).tolist(), shapely.intersection(front, strips).tolist()
    return [(areal(whole), areal(open_)) for whole, open_ in zip(wholes, opens, strict=True)]


def _joined(outline: Shape, placements: Sequence[Placement], reach: Reach) -> Placement:
    """The holes of all bays of a cavity; what they reach behind the members between the bays counts too."""
    points = np.concatenate([placement.points for placement in placements])
    reaches = reached(outline, points, reach).tolist() if len(points) else []
    return _placement(outline, points, reaches, sum(placement.lower_bound for placement in placements))


def _placement(outline: Shape, points: NDArray[np.float64], reaches: Sequence[Shape], lower_bound: int) -> Placement:
    """Holes (n, 2) with what they reach, in their order."""
    order = np.lexsort((points[:, 0], points[:, 1])).tolist()
    share = min(_area_of(reaches) / outline.area, 1.0)
    return Placement(points[order], tuple(reaches[number] for number in order), share, lower_bound)


def _area_of(reaches: Sequence[Shape]) -> float:
    return float(union_of(reaches).area) if reaches else 0.0


def _completed(outline: Shape, front: Shape, found: Placement, rule: HoleRule) -> Placement:
    """With holes for the whole cavity besides, where those of its bays by themselves do not reach enough of it."""
    if found.share >= rule.share:
        return found
    (whole,) = _placed([(outline, front)], rule)
    points, reaches = list(found.points), list(found.reaches)
    for point, reach in zip(whole.points, whole.reaches, strict=True):
        if _area_of([*reaches, reach]) > _area_of(reaches) + (1.0 - rule.share) * outline.area:
            points, reaches = [*points, point], [*reaches, reach]
    return _placement(outline, np.array(points).reshape(-1, 2), reaches, found.lower_bound)
