"""Walls drawn into each other: what two stud layers both claim is counted once, and said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.cylinders import Developed
from geometry.overlays import outside_of
from geometry.solids import Mesh, Prism, areal, bounds, silhouette
from takeoff.framing.junctions import Junction
from takeoff.model import Finding, Severity, StudLayer, Wall
from takeoff.walls.stud_layers import with_zero_moved

_SHARED = 0.005
"""m; walls drawn less far into each other only touch: models are rounded."""
_SQUARE = 0.996
"""Sine of the least angle (85 degrees) at which a straight cut across one wall parts it from the other."""
_SAME_LINE = 0.26
"""Sine of the greatest angle (15 degrees) at which two walls run in one line."""
_ASKEW = 1e-4
"""m3; walls that meet at another angle and claim less than this together only touch."""
_SAME_PLACE = 0.05
"""Share of the smaller of two stud layers in one line that lies within the other before it is said."""

Junctions = Mapping[str, tuple[Junction, ...]]


def without_overlaps(walls: Sequence[Wall], junctions: Junctions) -> tuple[Wall, ...]:
    """The same walls with the stud layers that reach into others cut back to them, and findings that say so.

    At a corner the layer that does not run through ends at the one that does. Walls in one line that stand in the same
    place are left as they are: nobody but the model's author knows which of them is meant.
    """
    layers = {layer.key: layer for wall in walls for layer in wall.stud_layers}
    names = {wall.wall_id: wall.name for wall in walls}
    notes = _uncut_overlaps(list(layers.values()), names)
    result: list[Wall] = []
    for wall in walls:
        made: list[StudLayer] = []
        findings = list(notes.get(wall.wall_id, ()))
        for layer in wall.stud_layers:
            cut, other = _cut_back(layer, layers, junctions)
            made.append(cut)
            if other is not None:
                findings.append(_cut_finding(wall, layers[other], names))
        changed = findings or any(new is not old for new, old in zip(made, wall.stud_layers, strict=True))
        result.append(replace(wall, stud_layers=tuple(made), findings=(*wall.findings, *findings)) if changed else wall)
    return tuple(result)


def _cut_back(layer: StudLayer, layers: Mapping[str, StudLayer], junctions: Junctions) -> tuple[StudLayer, str | None]:
    """A layer without what others that run through take of it, and the key of one of those (None: of none)."""
    outline = layer.outline
    if not isinstance(outline, Prism) or layer.parts:
        return layer, None
    shape, by = outline.outline, None
    for junction in junctions.get(layer.key, ()):
        other = layers[junction.other_key]
        if junction.through or not _reach_into_each_other(layer, junction, other, junctions):
            continue
        left = outside_of(shape, areal(_zone(junction, shape)))
        if not left.is_empty and left.area < shape.area:
            shape, by = left, other.key
    if by is None:
        return layer, None
    x_min, z_min, _, _ = shape.bounds
    return with_zero_moved(replace(layer, outline=Prism(shape, outline.y_min, outline.y_max)), x_min, z_min), by


def _reach_into_each_other(layer: StudLayer, junction: Junction, other: StudLayer, junctions: Junctions) -> bool:
    back = next((each for each in junctions.get(other.key, ()) if each.other_key == layer.key), None)
    return (
        back is not None
        and _sine(layer, other) >= _SQUARE
        and _covered(layer, junction) > _SHARED
        and _covered(other, back) > _SHARED
    )


def _sine(one: StudLayer, other: StudLayer) -> float:
    """Sine of the angle between two layers in plan."""
    (ax, ay), (bx, by) = one.axes.directions[0, :2].tolist(), other.axes.directions[0, :2].tolist()
    return abs(ax * by - ay * bx)


def _covered(layer: StudLayer, junction: Junction) -> float:
    """How much of the range that another layer takes along this one is really within it, m."""
    low, high = bounds(layer.outline)[:, 0].tolist()
    return min(junction.x_max, high) - max(junction.x_min, low)


def _zone(junction: Junction, shape: Polygon | MultiPolygon) -> Polygon:
    """What the other layer takes of an elevation, and at an end what lies beyond it."""
    x_min, _, x_max, _ = shape.bounds
    left = x_min - 1.0 if junction.at == "start" else junction.x_min
    right = x_max + 1.0 if junction.at == "end" else junction.x_max
    return shapely.box(left, junction.z_min, right, junction.z_max)


def _uncut_overlaps(layers: Sequence[StudLayer], names: Mapping[str, str]) -> dict[str, tuple[Finding, ...]]:
    """Findings, by wall, about stud layers that stand in the same place as another wall's and are not cut back:
    those in one line, and those that meet askew."""
    straight = [layer for layer in layers if not isinstance(layer.axes, Developed)]
    if len(straight) < 2:
        return {}
    plans = [_plan(layer) for layer in straight]
    tree = shapely.STRtree(plans)
    found: dict[str, tuple[Finding, ...]] = {}
    for first, second in sorted(map(tuple, tree.query(plans, predicate="intersects").T.tolist())):
        one, other = straight[first], straight[second]
        if first >= second or one.wall_id == other.wall_id:
            continue
        if _SAME_LINE < _sine(one, other) < _SQUARE:
            both = float(plans[first].intersection(plans[second]).area) * _shared_height(one, other)
            said = _askew_finding(other, one, both, names) if both > _ASKEW else None
        else:
            share = _shared(one, other)
            said = _same_finding(other, one, share, names) if share > _SAME_PLACE else None
        if said is not None:
            found[other.wall_id] = (*found.get(other.wall_id, ()), said)
    return found


def _shared_height(one: StudLayer, other: StudLayer) -> float:
    """Height that both stand in, m; of boxes, so at most too much."""
    spans = [bounds(layer.outline)[:, 2] + layer.axes.origin[2] for layer in (one, other)]
    return max(0.0, float(min(spans[0][1], spans[1][1]) - max(spans[0][0], spans[1][0])))


def _shared(one: StudLayer, other: StudLayer) -> float:
    """Share of the smaller of two layers that both take, 0 where they do not run in one line."""
    if _sine(one, other) > _SAME_LINE:
        return 0.0
    shape, other_shape = silhouette(one.outline), silhouette(other.outline)
    middle = 0.5 * other.depth

    def seen(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return one.axes.to_local(other.axes.to_world(np.insert(points, 1, middle, axis=1)))[:, [0, 2]]

    common = shapely.transform(other_shape, seen).buffer(0).intersection(shape).area
    centre = other_shape.centroid
    at = one.axes.to_local(other.axes.to_world([[centre.x, middle, centre.y]]))[0, 1]
    deep = min(at + middle, one.depth) - max(at - middle, 0.0)
    smaller = min(shape.area * one.depth, other_shape.area * other.depth)
    return float(common * deep / smaller) if deep > 0.0 and smaller > 0.0 else 0.0


def _plan(layer: StudLayer) -> BaseGeometry:
    """The layer from above, in world axes; a mitred end counts."""
    if isinstance(layer.outline, Mesh):
        return shapely.MultiPoint(layer.axes.to_world(layer.outline.vertices)[:, :2]).convex_hull
    (x_min, y_min, _), (x_max, y_max, _) = bounds(layer.outline)
    corners = [[x_min, y_min, 0.0], [x_max, y_min, 0.0], [x_max, y_max, 0.0], [x_min, y_max, 0.0]]
    return shapely.Polygon(layer.axes.to_world(corners)[:, :2])


def _called(wall_id: str, names: Mapping[str, str]) -> str:
    return f"{names[wall_id]} ({wall_id})" if names.get(wall_id) else wall_id


def _cut_finding(wall: Wall, other: StudLayer, names: Mapping[str, str]) -> Finding:
    return Finding(
        "walls-overlap", Severity.INFO,
        f"Its studs' layer was drawn into that of wall {_called(other.wall_id, names)}; it was taken to end there, so "
        "that nothing is counted twice. Have the walls joined in the model.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name,
    )  # fmt: skip


def _askew_finding(layer: StudLayer, other: StudLayer, volume: float, names: Mapping[str, str]) -> Finding:
    return Finding(
        "walls-overlap-askew", Severity.WARNING,
        f"Its studs' layer reaches into that of wall {_called(other.wall_id, names)} at an angle, and what both claim "
        "is counted in both. Have the walls joined in the model.",
        layer.wall_id, layer.wall_id, "", names.get(layer.wall_id, ""), volume, _ASKEW, "m3",
    )  # fmt: skip


def _same_finding(layer: StudLayer, other: StudLayer, share: float, names: Mapping[str, str]) -> Finding:
    return Finding(
        "walls-in-one-place", Severity.WARNING,
        f"Its studs stand in the same place as those of wall {_called(other.wall_id, names)}, and both are counted. "
        "Delete one in the model, or leave it out in the job file.",
        layer.wall_id, layer.wall_id, "", names.get(layer.wall_id, ""), share, _SAME_PLACE, "of the smaller",
    )  # fmt: skip
