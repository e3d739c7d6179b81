"""A stud layer without the place that another wall's studs take, and the wall that is left."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.booleans import common_part
from geometry.cylinders import Developed
from geometry.overlays import outside_of
from geometry.solids import Prism, Solid, areal, depth_range, polygons_of, silhouette, to_prism
from takeoff.finding import Finding
from takeoff.framing.modelled import read_frame
from takeoff.model import Status, StudLayer, Wall
from takeoff.walls.measured import may_frame
from takeoff.walls.stud_layers import joined, reaching_in, with_zero_moved

_NARROWEST = 0.03
"""m; a piece narrower or lower than this that a cut leaves holds neither a stud nor fibre (common practice, no
published source: studs are 32 mm wide and more)."""
_STANDS_THERE = 1e-4
"""m2; own members that share more of a place than this stand in it."""
_TOUCH = 1e-6
"""m2; an opening that shares less of the elevation lies outside it."""


@dataclass(frozen=True, slots=True, eq=False)
class Claimed:
    """A place that one stud layer leaves to another: what is left of the layer (None: nothing), and the other's key."""

    left: StudLayer | None
    by: str


def stands_in(layer: StudLayer, place: Polygon | MultiPolygon) -> bool:
    """Whether the model draws a frame for this wall itself that stands in a place of its elevation (x, z), m."""
    own = [part for part in layer.parts if part.wall_id == layer.wall_id or may_frame(part)]
    there = any(silhouette(solid).intersection(place).area > _STANDS_THERE for part in own for solid in part.solids)
    return there and read_frame(replace(layer, parts=tuple(own))) is not None


def cut_back(layer: StudLayer, zone: Polygon | MultiPolygon) -> StudLayer | None:
    """A straight stud layer less a part of its elevation, with its zero at its own end again.

    zone: (x, z), m. The very same layer where the zone takes nothing of it, or where it is curved or not closed and
    cannot be cut; None where nothing is left that holds a stud. Openings and parts of other walls that only stood in
    the zone go with it.
    """
    elevation = silhouette(layer.outline)
    if isinstance(layer.axes, Developed) or elevation.intersection(zone).area <= _TOUCH:
        return layer
    try:
        body = _outside(layer.outline, zone)
    except ValueError:
        return layer
    if body is None:
        return None
    left = silhouette(body)
    openings = tuple(
        opening
        for opening in layer.openings
        if opening.outline.intersection(left).area > _TOUCH or opening.outline.intersection(zone).area <= _TOUCH
    )
    made = replace(layer, outline=body, openings=openings, parts=reaching_in(layer.parts, body, left, layer.wall_id))
    x_min, z_min, _, _ = left.bounds
    return with_zero_moved(made, x_min, z_min)


def _outside(body: Solid, zone: Polygon | MultiPolygon) -> Solid | None:
    """A body without the zone, its pieces that are wide enough; None where there are none. Raises ValueError where the
    body is not closed."""
    if isinstance(body, Prism):
        rest = outside_of(body.outline, zone)
        pieces = [piece for piece in polygons_of(rest) if is_wider(piece, _NARROWEST)]
        return Prism(areal(shapely.union_all(pieces)), body.y_min, body.y_max) if pieces else None
    near, far = depth_range(body)
    cutters = [Prism(piece, near - 1.0, far + 1.0) for piece in polygons_of(zone)]
    solids = [piece for piece in common_part([body], body, cutters) if is_wider(silhouette(piece), _NARROWEST)]
    return joined([to_prism(piece) or piece for piece in solids]) if solids else None


def is_wider(piece: BaseGeometry, width: float) -> bool:
    """Whether a shape is wider than `width`, m, somewhere: a thin frame around a notch is not."""
    return not shapely.buffer(piece, -0.5 * width, quad_segs=2).is_empty


def with_places_left(
    wall: Wall, claimed: Mapping[str, Claimed], findings: Sequence[Finding], names: Mapping[str, str]
) -> Wall:
    """A wall whose stud layers have left places to others; left out where none of them is left.

    claimed: by the key of the layer. names: what to call the other walls, by their ids.
    """
    if not findings and not any(layer.key in claimed for layer in wall.stud_layers):
        return wall
    kept = [claimed[layer.key].left if layer.key in claimed else layer for layer in wall.stud_layers]
    layers = tuple(layer for layer in kept if layer is not None)
    changed = replace(wall, stud_layers=layers, findings=(*wall.findings, *findings))
    if layers or not wall.stud_layers:
        return changed
    takers = dict.fromkeys(claimed[layer.key].by.split("#")[0] for layer in wall.stud_layers)
    told = " and ".join(f"wall {names.get(taker) or taker}" for taker in takers)
    return replace(
        changed, status=Status.LEFT_OUT, reason=f"its studs would stand where those of {told} do, and are counted there"
    )


def called(wall_id: str, names: Mapping[str, str]) -> str:
    """What a wall is called in a sentence: 'wall', its name, and its id."""
    return f"wall {names[wall_id]} ({wall_id})" if names.get(wall_id) else f"wall {wall_id}"
