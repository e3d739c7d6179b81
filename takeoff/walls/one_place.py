"""Walls in one line that are drawn into each other: the place that two claim is given to one of them.

Two walls cannot both have their studs and fibre in one place. Drawn members keep their place before those that a rule
would set out; else the deeper studs keep it, since the place of shallower ones lies in theirs; else the longer wall, as
the one that runs through keeps its length where walls meet; else the wall that comes first in the model. The other's
stud layer ends where the first one's begins. Where the shallower studs share less than half of their depth, two walls
stand beside each other and were drawn too near: both are real, both are counted whole, and none parts the other's bays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.cylinders import Developed
from geometry.solids import Mesh, Prism, areal, bounds, depth_range, moved, moved_to_world, silhouette
from takeoff.finding import Finding, Severity
from takeoff.model import StudLayer, Wall
from takeoff.walls.cutting_back import Claimed, called, cut_back, is_wider, stands_in, with_places_left

SAME_LINE = 0.26
"""Sine of the greatest angle (15 degrees) at which two walls run in one line."""
_PARALLEL = 0.0872
"""Sine of the greatest angle (5 degrees) at which what one wall takes of another is the same at each depth."""
_SHARED = 0.005
"""m; walls drawn less far into each other only touch: models are rounded."""
_HALF = 0.5
"""Share of the shallower studs' depth from which on two walls stand in one place, not beside each other (own rule)."""
_SAME_PLACE = 0.05
"""Share of the smaller of two stud layers in one line that lies within the other before it is a warning."""
_UPRIGHT = 1.0 - 1e-12
"""Cosine of the greatest lean, about a thousandth of a millimetre in each metre, of a layer that stands upright."""
_FLUSH = 0.001
"""m; a member that sticks out of its own studs' layer less than this lies within it."""


class _Relation(Enum):
    """How two stud layers in one line that claim one place stand to each other."""

    ONE_PLACE = auto()
    """The one leaves it to the other."""
    BESIDE = auto()
    """Both are whole; they were drawn too near."""
    UNSETTLED = auto()
    """Members of both are drawn there, or they run askew: both are counted as they stand."""


@dataclass(frozen=True, slots=True, eq=False)
class _Claim:
    """A place that two stud layers claim.

    loser, winner: numbers in the list of layers. zone: in the loser's elevation (x, z), m. share: of the smaller layer,
    1.
    """

    loser: int
    winner: int
    zone: Polygon | MultiPolygon
    share: float
    relation: _Relation


def each_place_once(walls: Sequence[Wall]) -> tuple[Wall, ...]:
    """The same walls, each place of those in one line left to one of them, and findings that say so."""
    layers = [layer for wall in walls for layer in wall.stud_layers if not isinstance(layer.axes, Developed)]
    claims = _claims(layers)
    if not claims:
        return tuple(walls)
    names = {wall.wall_id: wall.name for wall in walls}
    filled = {wall.wall_id for wall in walls if wall.insulated}
    changed = _without_members_beside(layers, claims)
    claimed: dict[str, Claimed] = {}
    notes: dict[str, list[Finding]] = {}
    for number, layer in enumerate(changed):
        lost = [claim for claim in claims if claim.loser == number]
        left = [claim for claim in lost if claim.relation is _Relation.ONE_PLACE]
        cut = cut_back(layer, areal(shapely.union_all([claim.zone for claim in left]))) if left else layer
        was_cut = cut is not layer
        if cut is not layers[number]:
            largest = max(lost, key=lambda claim: float(claim.zone.area), default=None)
            claimed[layer.key] = Claimed(cut, "" if largest is None else layers[largest.winner].key)
        for claim in lost:
            settled = was_cut and claim.relation is _Relation.ONE_PLACE
            if settled or claim.share > _SAME_PLACE:
                lost_fill = settled and layer.wall_id in filled and layers[claim.winner].wall_id not in filled
                count = "both are counted" if not settled else "it is counted there only"
                count += ", where nothing is filled: state in the job file which is" if lost_fill else ""
                told = _finding(layers[number], layers[claim.winner], claim, count, names)
                notes.setdefault(layer.wall_id, []).append(told)
    return tuple(with_places_left(wall, claimed, notes.get(wall.wall_id, ()), names) for wall in walls)


def plans_of(layers: Sequence[StudLayer]) -> list[BaseGeometry]:
    """Straight stud layers from above, in world axes; mitred ends count."""
    plans = np.empty(len(layers), dtype=object)
    prisms = [number for number, layer in enumerate(layers) if isinstance(layer.outline, Prism)]
    if prisms:
        plans[prisms] = shapely.polygons([_box_in_plan(layers[number]) for number in prisms])
    for number, layer in enumerate(layers):
        if isinstance(layer.outline, Mesh):
            plans[number] = shapely.MultiPoint(layer.axes.to_world(layer.outline.vertices)[:, :2]).convex_hull
    return plans.tolist()


def _box_in_plan(layer: StudLayer) -> NDArray[np.float64]:
    (x_min, y_min, _), (x_max, y_max, _) = bounds(layer.outline).tolist()
    corners = [[x_min, y_min, 0.0], [x_max, y_min, 0.0], [x_max, y_max, 0.0], [x_min, y_max, 0.0]]
    return layer.axes.to_world(corners)[:, :2]


def sine(one: StudLayer, other: StudLayer) -> float:
    """Sine of the angle between two layers in plan."""
    (ax, ay), (bx, by) = one.axes.directions[0, :2].tolist(), other.axes.directions[0, :2].tolist()
    return abs(ax * by - ay * bx)


# ---------------------------------------------------------------- who claims what


def _claims(layers: Sequence[StudLayer]) -> list[_Claim]:
    """Places that two layers of different walls claim, in the layers' order."""
    if len(layers) < 2:
        return []
    plans = plans_of(layers)
    heights = [_heights(layer) for layer in layers]
    pairs = shapely.STRtree(plans).query(plans, predicate="intersects").T.tolist()
    found: list[_Claim] = []
    for first, second in sorted(pair for pair in map(tuple, pairs) if pair[0] < pair[1]):
        one, other = layers[first], layers[second]
        (low, high), (other_low, other_high) = heights[first], heights[second]
        # Walls above each other have one plan, but no place in common: most pairs need no closer look.
        meet = min(high, other_high) - max(low, other_low) > 0.5 * _SHARED
        if meet and one.wall_id != other.wall_id and sine(one, other) <= SAME_LINE:
            claim = _claim(layers, first, second)
            if claim is not None:
                found.append(claim)
    return found


def _heights(layer: StudLayer) -> tuple[float, float]:
    """World z of an upright layer's lowest and highest point, m; without bounds for one that leans."""
    if layer.axes.directions[2, 2] < _UPRIGHT:
        return -np.inf, np.inf
    low, high = bounds(layer.outline)[:, 2].tolist()
    zero = float(layer.axes.origin[2])
    return zero + low, zero + high


def _claim(layers: Sequence[StudLayer], first: int, second: int) -> _Claim | None:
    """The place that two layers claim, or None where they only touch."""
    zones: dict[int, Polygon | MultiPolygon] = {}
    deep = np.inf
    for number, other in ((first, second), (second, first)):
        zones[number], shared = _shared(layers[number], layers[other])
        deep = min(deep, shared)
    if deep <= _SHARED or zones[first].is_empty or zones[second].is_empty:
        return None
    stands = {number: stands_in(layers[number], zone) for number, zone in zones.items()}

    def rank(number: int) -> tuple[bool, float, float, int]:
        # Depths and lengths count in millimetres: models are rounded.
        low, high = bounds(layers[number].outline)[:, 0].tolist()
        return not stands[number], -round(layers[number].depth, 3), -round(high - low, 3), number

    winner, loser = sorted(zones, key=rank)
    one, other = layers[first], layers[second]
    upright = float(one.axes.directions[2] @ other.axes.directions[2]) >= 1.0 - _PARALLEL**2
    if sine(one, other) > _PARALLEL or not upright:
        relation = _Relation.UNSETTLED
    elif deep < _HALF * min(one.depth, other.depth):
        relation = _Relation.BESIDE
    else:
        relation = _Relation.UNSETTLED if stands[loser] else _Relation.ONE_PLACE
    smaller = min(layer.depth * float(silhouette(layer.outline).area) for layer in (one, other))
    share = float(zones[loser].area) * deep / smaller if smaller > 0.0 else 0.0
    return _Claim(loser, winner, zones[loser], share, relation)


def _shared(layer: StudLayer, other: StudLayer) -> tuple[Polygon | MultiPolygon, float]:
    """What another layer in one line takes of a layer's elevation (x, z), m, and of its depth, m."""
    shape, other_shape = silhouette(layer.outline), silhouette(other.outline)
    middle = 0.5 * other.depth

    def seen(points: NDArray[np.float64]) -> NDArray[np.float64]:
        placed = np.stack([points[:, 0], np.full(len(points), middle), points[:, 1]], axis=1)
        return layer.axes.to_local(other.axes.to_world(placed))[:, [0, 2]]

    common = shapely.transform(other_shape, seen).buffer(0).intersection(shape)
    wide = [piece for piece in shapely.get_parts(common).tolist() if is_wider(piece, _SHARED)]
    place = areal(shapely.union_all(wide))
    if place.is_empty:
        return place, 0.0
    # How deep the other stands where both are: walls that are not quite parallel stand elsewhere at their ends.
    centre = place.centroid
    through = layer.axes.to_world([[centre.x, depth, centre.y] for depth in (0.0, layer.depth)])
    near, far = sorted(other.axes.to_local(through)[:, 1].tolist())
    return place, min(far, other.depth) - max(near, 0.0)


def _without_members_beside(layers: Sequence[StudLayer], claims: Sequence[_Claim]) -> list[StudLayer]:
    """The layers without members that lie in the studs' layer of a wall beside them, drawn too near."""
    changed = list(layers)
    for claim in claims:
        if claim.relation is _Relation.BESIDE:
            for number, other in ((claim.loser, claim.winner), (claim.winner, claim.loser)):
                changed[number] = _without_members_of(changed[number], layers[other])
    return changed


def _without_members_of(layer: StudLayer, other: StudLayer) -> StudLayer:
    """The very same layer where it holds no member that lies in the other's depth."""
    kept = tuple(
        part for part in layer.parts if part.wall_id != other.wall_id or not _lies_in(part.solids, layer, other)
    )
    return layer if len(kept) == len(layer.parts) else replace(layer, parts=kept)


def _lies_in(solids: Sequence[Mesh], layer: StudLayer, other: StudLayer) -> bool:
    """Whether solids in the axes of one layer lie in the depth of another: a plate over both layers does not."""
    ranges = [depth_range(moved(moved_to_world(solid, layer.axes), other.axes)) for solid in solids]
    return all(near >= -_FLUSH and far <= other.depth + _FLUSH for near, far in ranges)


def _finding(layer: StudLayer, other: StudLayer, claim: _Claim, count: str, names: Mapping[str, str]) -> Finding:
    point = claim.zone.representative_point()
    x, y, z = layer.axes.to_world([[point.x, 0.5 * layer.depth, point.y]])[0].tolist()
    return Finding(
        "walls-in-one-place", Severity.WARNING if claim.share > _SAME_PLACE else Severity.INFO,
        f"{float(claim.zone.area):.2f} m2 of its studs' layer stand in the same place as that of "
        f"{called(other.wall_id, names)}, and {count}. Delete one of the two there, have the walls joined in the "
        "model, or leave one out in the job file.",
        layer.wall_id, layer.wall_id, "", names.get(layer.wall_id, ""), claim.share, _SAME_PLACE, "of the smaller",
        (x, y, z),
    )  # fmt: skip
