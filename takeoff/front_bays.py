"""The bays into which members at the fill face part the front of a cavity, as the front studs of double-stud walls do.

The hose could reach from one such bay behind the stud into the next, but the netting is fastened to every stud that it
passes, and fibre that has to find its way round a stud is not blown but hoped for: each bay gets holes of its own
(common practice, no published source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.reach import reached, union_of
from geometry.solids import areal, polygons_of
from takeoff.hole_positions import HoleRule, Placement, has_room, place_holes

Shape = Polygon | MultiPolygon
Bay = tuple[Shape, Shape]
"""Outline and front, (x, z), m."""
Points = NDArray[np.float64]

_NOTHING = Polygon()
_BEYOND = 1.0
"""m; the first and the last bay of a cavity reach to its ends, with room to spare."""
_CROWDED = 4.0
"""Times the clearance of a hole: two holes of a bay nearer than this leave hardly any netting between their slits."""


@dataclass(frozen=True, slots=True, eq=False)
class _Parted:
    """A cavity as bays side by side, left to right. cuts: (n - 1,) float64, m, x between them."""

    cuts: NDArray[np.float64]
    bays: tuple[Bay, ...]


def place_holes_by_bays(
    outlines: Sequence[Shape], fronts: Sequence[Shape], rule: HoleRule, close: Shape = _NOTHING
) -> list[Placement]:
    """The holes of each cavity of one wall: as `place_holes` places them, in every bay of its front by itself.

    outlines, fronts: (x, z), m, wall axes. close: what stands so close behind the fill face that no hose gets in before
    it, as the rear studs of a staggered-stud wall do; in bays side by side no hole is cut there while there is room
    beside it.
    """
    parted = [_parted(outline, front, rule.clearance, close) for outline, front in zip(outlines, fronts, strict=True)]
    placed = iter(_placed([bay for cavity in parted for bay in cavity.bays], rule))
    by_bays = [[next(placed) for _ in cavity.bays] for cavity in parted]
    return [
        found[0] if len(cavity.bays) == 1 else _joined((outline, front), found, cavity.cuts, rule)
        for outline, front, cavity, found in zip(outlines, fronts, parted, by_bays, strict=True)
    ]


def _placed(bays: Sequence[Bay], rule: HoleRule) -> list[Placement]:
    outlines, fronts = (np.array(shapes, dtype=object) for shapes in zip(*bays, strict=True))
    return place_holes(outlines, fronts, rule)


def _parted(outline: Shape, front: Shape, clearance: float, close: Shape) -> _Parted:
    """A cavity cut half-way between the parts of its front that stand side by side, as far as a hole fits into each."""
    spans = _spans(front, clearance)
    if len(spans) < 2:
        return _Parted(np.empty(0), ((outline, front),))
    x_min, z_min, x_max, z_max = outline.bounds
    cuts = np.array([0.5 * (one[1] + other[0]) for one, other in pairwise(spans)])
    sides = np.array([x_min - _BEYOND, *cuts, x_max + _BEYOND])
    heights = np.full((2, len(spans)), [[z_min - _BEYOND], [z_max + _BEYOND]])
    strips = shapely.box(sides[:-1], heights[0], sides[1:], heights[1])
    wholes, opens = shapely.intersection(outline, strips), shapely.intersection(front, strips)
    clear = shapely.difference(opens, close)
    beside = has_room(clear, clearance)
    opens[beside] = clear[beside]
    return _Parted(cuts, tuple((areal(whole), areal(open_)) for whole, open_ in zip(wholes, opens, strict=True)))


def _spans(front: Shape, clearance: float) -> list[list[float]]:
    """Where along the wall the bays of a front lie, lowest and highest x, m; parts above each other are one bay."""
    if not isinstance(front, MultiPolygon):
        return []
    parts = polygons_of(front)
    boxes = shapely.bounds(parts)[has_room(np.array(parts, dtype=object), clearance)]
    spans: list[list[float]] = []
    for low, high in sorted(boxes[:, [0, 2]].tolist()):
        if spans and low < spans[-1][1]:
            spans[-1][1] = max(spans[-1][1], high)
        else:
            spans.append([low, high])
    return spans


def _joined(cavity: Bay, placements: Sequence[Placement], cuts: NDArray[np.float64], rule: HoleRule) -> Placement:
    """The holes of all bays of a cavity; what they reach behind the members between the bays counts too."""
    outline = cavity[0]
    points = np.concatenate([placement.points for placement in placements])
    reaches = reached(outline, points, rule.reach).tolist() if len(points) else []
    least = sum(placement.lower_bound for placement in placements)
    if _area_of(reaches) < rule.share * outline.area:
        points, reaches = _completed(cavity, points, reaches, rule)
    kept = _uncrowded(outline, points, reaches, np.searchsorted(cuts, points[:, 0]), rule)
    order = [kept[place] for place in np.lexsort((points[kept, 0], points[kept, 1])).tolist()]
    return Placement(
        points[order],
        tuple(reaches[number] for number in order),
        min(_area_of([reaches[number] for number in order]) / outline.area, 1.0),
        min(least, len(order)),
        tuple(np.searchsorted(cuts, points[order, 0]).tolist()),
    )


def _completed(cavity: Bay, points: Points, reaches: Sequence[Shape], rule: HoleRule) -> tuple[Points, Sequence[Shape]]:
    """With holes for the whole cavity besides, where those of its bays by themselves do not reach enough of it."""
    (whole,) = _placed([cavity], rule)
    more = list(reaches)
    for point, reach in zip(whole.points, whole.reaches, strict=True):
        if _area_of([*more, reach]) > _area_of(more) + (1.0 - rule.share) * cavity[0].area:
            points, more = np.concatenate([points, point[None]]), [*more, reach]
    return points, more


def _uncrowded(
    outline: Shape, points: Points, reaches: Sequence[Shape], bays: NDArray[np.intp], rule: HoleRule
) -> list[int]:
    """Numbers of the holes without those close to another one of their bay that the cavity can do without."""
    kept = list(range(len(points)))
    enough = min(rule.share, _area_of(reaches) / outline.area - 1e-9) * outline.area
    for number in np.argsort(-points[:, 1], kind="stable").tolist():
        others = [other for other in kept if other != number]
        apart = np.linalg.norm(points[others] - points[number], axis=1)
        crowded = bool(((apart < _CROWDED * rule.clearance) & (bays[others] == bays[number])).any())
        if crowded and _area_of([reaches[other] for other in others]) >= enough:
            kept = others
    return kept


def _area_of(reaches: Sequence[Shape]) -> float:
    return float(union_of(reaches).area) if reaches else 0.0
