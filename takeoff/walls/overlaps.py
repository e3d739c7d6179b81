"""Walls that meet and are drawn into each other: what two stud layers both claim is counted once, and said.

Walls in one line that stand in one place are the subject of `takeoff/walls/one_place.py`, which comes first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import shapely
from shapely import Polygon

from geometry.cylinders import Developed
from geometry.solids import Mesh, areal, bounds
from takeoff.finding import Finding, Severity
from takeoff.framing.junctions import Junction
from takeoff.model import StudLayer, Wall
from takeoff.walls.cutting_back import Claimed, called, cut_back, stands_in, with_places_left
from takeoff.walls.one_place import SAME_LINE, plans_of, sine

_SHARED = 0.005
"""m; walls drawn less far into each other only touch: models are rounded."""
_SQUARE = 0.996
"""Sine of the least angle (85 degrees) at which a straight cut across one wall parts it from the other."""
_ASKEW = 1e-4
"""m3; walls that meet at another angle and claim less than this together only touch."""

Junctions = Mapping[str, tuple[Junction, ...]]


def without_overlaps(walls: Sequence[Wall], junctions: Junctions) -> tuple[Wall, ...]:
    """The same walls with the stud layers that reach into others cut back to them, and findings that say so.

    At a corner the layer that does not run through ends at the one that does. What would come out of the other wall's
    studs but ends within its body, in the masonry behind them, is cut off too: no studs stand there.
    """
    layers = {layer.key: layer for wall in walls for layer in wall.stud_layers}
    names = {wall.wall_id: wall.name for wall in walls}
    notes = _askew_overlaps(list(layers.values()), names)
    result: list[Wall] = []
    for wall in walls:
        claimed: dict[str, Claimed] = {}
        findings = list(notes.get(wall.wall_id, ()))
        for layer in wall.stud_layers:
            found = _cut_back(layer, layers, junctions)
            if found is not None:
                claimed[layer.key] = found
                findings.append(_cut_finding(wall, layers[found.by], names))
        result.append(with_places_left(wall, claimed, findings, names))
    return tuple(result)


def _cut_back(layer: StudLayer, layers: Mapping[str, StudLayer], junctions: Junctions) -> Claimed | None:
    """A layer without what others that run through take of it, by the last of those; None where none takes anything.

    One with mitred ends shares nothing with the wall that it is mitred to, and where the model draws members of its own
    they stand as they are drawn.
    """
    if isinstance(layer.outline, Mesh):
        return None
    elevation = layer.outline.outline
    taking: list[tuple[Polygon, str]] = []
    for junction in junctions.get(layer.key, ()):
        other = layers[junction.other_key]
        if not junction.through and _reach_into_each_other(layer, junction, other, junctions):
            zone = _zone(junction, layer, other)
            if zone.intersection(elevation).area > 0.0 and not stands_in(layer, zone):
                taking.append((zone, other.key))
    if not taking:
        return None
    left = cut_back(layer, areal(shapely.union_all([zone for zone, _ in taking])))
    return None if left is layer else Claimed(left, taking[-1][1])


def _reach_into_each_other(layer: StudLayer, junction: Junction, other: StudLayer, junctions: Junctions) -> bool:
    back = next((each for each in junctions.get(other.key, ()) if each.other_key == layer.key), None)
    return (
        back is not None
        and sine(layer, other) >= _SQUARE
        and _covered(layer, junction) > _SHARED
        and _covered(other, back) > _SHARED
    )


def _covered(layer: StudLayer, junction: Junction) -> float:
    """How much of the range that another layer takes along this one is really within it, m."""
    low, high = bounds(layer.outline)[:, 0].tolist()
    return min(junction.x_max, high) - max(junction.x_min, low)


def _zone(junction: Junction, layer: StudLayer, other: StudLayer) -> Polygon:
    """What the other layer takes of an elevation, and at an end, or where this one ends within the other's wall, what
    lies beyond it."""
    low, high = bounds(layer.outline)[:, 0].tolist()
    body_low, body_high = _wall_around(junction, layer, other)
    start = junction.at == "start" or body_low - _SHARED <= low < junction.x_min
    end = junction.at == "end" or junction.x_max < high <= body_high + _SHARED
    left = low - 1.0 if start else junction.x_min
    right = high + 1.0 if end else junction.x_max
    return shapely.box(left, junction.z_min, right, junction.z_max)


def _wall_around(junction: Junction, layer: StudLayer, other: StudLayer) -> tuple[float, float]:
    """Range that the whole wall around another stud layer, all its material layers, takes along this one, m."""
    front = min([0.0, *(part.y_min for part in other.layers)])
    back = max([other.depth, *(part.y_max for part in other.layers)])
    if float(other.axes.directions[1] @ layer.axes.directions[0]) > 0.0:
        return junction.x_min + front, junction.x_min + back
    return junction.x_max - back, junction.x_max - front


def _askew_overlaps(layers: Sequence[StudLayer], names: Mapping[str, str]) -> dict[str, tuple[Finding, ...]]:
    """Findings, by wall, about stud layers that reach into another wall's at an angle and are not cut back."""
    straight = [layer for layer in layers if not isinstance(layer.axes, Developed)]
    if len(straight) < 2:
        return {}
    plans = plans_of(straight)
    tree = shapely.STRtree(plans)
    found: dict[str, tuple[Finding, ...]] = {}
    for first, second in sorted(map(tuple, tree.query(plans, predicate="intersects").T.tolist())):
        one, other = straight[first], straight[second]
        if first >= second or one.wall_id == other.wall_id or not SAME_LINE < sine(one, other) < _SQUARE:
            continue
        both = float(plans[first].intersection(plans[second]).area) * _shared_height(one, other)
        if both > _ASKEW:
            found[other.wall_id] = (*found.get(other.wall_id, ()), _askew_finding(other, one, both, names))
    return found


def _shared_height(one: StudLayer, other: StudLayer) -> float:
    """Height that both stand in, m; of boxes, so at most too much."""
    spans = [bounds(layer.outline)[:, 2] + layer.axes.origin[2] for layer in (one, other)]
    return max(0.0, float(min(spans[0][1], spans[1][1]) - max(spans[0][0], spans[1][0])))


def _cut_finding(wall: Wall, other: StudLayer, names: Mapping[str, str]) -> Finding:
    return Finding(
        "walls-overlap", Severity.INFO,
        f"Its studs' layer was drawn into that of {called(other.wall_id, names)}; it was taken to end there, so "
        "that nothing is counted twice. Have the walls joined in the model.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name,
    )  # fmt: skip


def _askew_finding(layer: StudLayer, other: StudLayer, volume: float, names: Mapping[str, str]) -> Finding:
    return Finding(
        "walls-overlap-askew", Severity.WARNING,
        f"Its studs' layer reaches into that of {called(other.wall_id, names)} at an angle, and what both claim "
        "is counted in both. Have the walls joined in the model.",
        layer.wall_id, layer.wall_id, "", names.get(layer.wall_id, ""), volume, _ASKEW, "m3",
    )  # fmt: skip
