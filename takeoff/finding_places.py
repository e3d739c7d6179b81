"""Where to look at a finding: its storey, a point in the model's own axes, and what stands there, seen from which side.

The findings themselves know what they are about; here that is looked up in what was taken off and, for elements that
belong to no stud layer, in the model as read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from geometry.solids import Mesh, bounds
from takeoff.building import Model, ModelSpace
from takeoff.finding import Finding, Spot
from takeoff.model import LayerTakeoff, WallTakeoff

WHOLE_MODEL = "the whole model"

Points = NDArray[np.float64]


def located(findings: Iterable[Finding], model: Model, results: Sequence[WallTakeoff]) -> tuple[Finding, ...]:
    """The findings in their order, each with its spot."""
    listed = tuple(findings)
    places = _Places(model, results, {finding.element_id for finding in listed} - {""})
    return tuple(replace(finding, spot=places.spot(finding)) for finding in listed)


class _Places:
    """Walls, rooms and elements of a model by their ids."""

    def __init__(self, model: Model, results: Sequence[WallTakeoff], wanted: set[str]) -> None:
        """wanted: ids of elements that may be asked for."""
        self._walls = {row.wall.wall_id: row for row in results}
        self._in_layers: dict[str, tuple[LayerTakeoff, Points, str]] = {}
        for row in results:
            for layer in row.layers:
                for element_id, box, what in _elements(layer, wanted):
                    self._in_layers.setdefault(element_id, (layer, box, what))
        self._rooms = {space.global_id: space for space in model.spaces}
        self._bodies = {wall.global_id: wall.body for wall in model.walls}
        self._others = _other_elements(model, wanted)

    def spot(self, finding: Finding) -> Spot:
        """Where to look at a finding; without a point where nothing is known of its place."""
        row = self._walls.get(finding.wall_id)
        storey = row.wall.storey if row is not None else ""
        layers = row.layers if row is not None else ()
        known = self._in_layers.get(finding.element_id)
        if known is not None and (not layers or known[0] in layers):
            return _in_layer(storey, *known)
        room = self._rooms.get(finding.element_id)
        if finding.place is not None:
            return self._at_place(finding.place, storey, layers, room)
        if room is not None:
            return Spot(room.storey or storey, _middle(room.solids), f"room {room.label}, from inside it")
        solids = self._others.get(finding.element_id, ())
        if solids and finding.element_id != finding.wall_id:
            side = f", from {_fill_side(layers[0])}" if layers else ""
            return Spot(storey, _middle(solids), f"{_called(finding)}{side}")
        if layers:
            return _in_layer(storey, layers[0], bounds(layers[0].frame.layer.outline), "the whole wall")
        if row is not None:
            body = self._bodies.get(row.wall.wall_id, ()) or row.wall.body
            return Spot(storey, _middle(body), "the whole wall")
        return Spot(storey, None, _called(finding) if finding.element_id else WHOLE_MODEL)

    def _at_place(
        self,
        place: tuple[float, float, float],
        storey: str,
        layers: Sequence[LayerTakeoff],
        room: ModelSpace | None,
    ) -> Spot:
        if room is not None:
            return Spot(room.storey or storey, place, f"edge of room {room.label}, from inside it")
        if not layers:
            return Spot(storey, place, "the wall there")
        x, _, z = layers[0].frame.layer.axes.to_local([place])[0].tolist()
        side = _fill_side(layers[0])
        return Spot(storey, place, f"{x:.2f} m along and {z:.2f} m up in wall axes, from {side}")


def _elements(layer: LayerTakeoff, wanted: set[str]) -> list[tuple[str, Points, str]]:
    """Ids, boxes in wall axes (2, 3), m, and names of cavities, openings and members of a stud layer."""
    depth = layer.frame.layer.depth
    found: list[tuple[str, Points, str]] = []
    for cavity in layer.cavities:
        if cavity.cavity_id in wanted:
            x_min, z_min, x_max, z_max = cavity.outline.bounds
            box = np.array([[x_min, cavity.y_min, z_min], [x_max, cavity.y_max, z_max]])
            found.append((cavity.cavity_id, box, f"cavity {cavity.cavity_id.rsplit('/', 1)[-1]}"))
    for opening in layer.frame.openings:
        if opening.opening_id in wanted and not opening.outline.is_empty:
            x_min, z_min, x_max, z_max = opening.outline.bounds
            found.append((opening.opening_id, np.array([[x_min, 0.0, z_min], [x_max, depth, z_max]]), "opening"))
    for member in layer.frame.members:
        for element_id in {member.member_id, member.element_id} & wanted:
            found.append((element_id, bounds(member.solid), str(member.role).replace("_", " ")))
    return found


def _other_elements(model: Model, wanted: set[str]) -> dict[str, tuple[Mesh, ...]]:
    """Solids in the world of elements that the model's walls or no walls hold, and of roofs."""
    elements = [*model.loose_parts, *model.loose_openings, *model.roofs]
    for wall in model.walls:
        elements += [*wall.parts, *wall.openings]
    return {each.global_id: each.solids for each in elements if each.global_id in wanted and each.solids}


def _in_layer(storey: str, layer: LayerTakeoff, box: Points, what: str) -> Spot:
    """A box in wall axes (2, 3), m, with its middle in the world."""
    x, y, z = layer.frame.layer.axes.to_world(box.mean(axis=0).reshape(1, 3))[0].tolist()
    (x_min, _, z_min), (x_max, _, z_max) = box.tolist()
    where = ""
    if what != "the whole wall":
        where = f", {x_min:.2f} to {x_max:.2f} m along and {z_min:.2f} to {z_max:.2f} m up in wall axes"
    return Spot(storey, (x, y, z), f"{what}{where}, from {_fill_side(layer)}")


def _fill_side(layer: LayerTakeoff) -> str:
    rooms = layer.frame.layer.rooms
    return f"its fill side ({rooms[0]})" if rooms else "its fill side"


def _called(finding: Finding) -> str:
    named = finding.element_name or finding.element_id
    return f"{finding.element_class} {named}" if finding.element_class else named


def _middle(solids: Sequence[Mesh]) -> tuple[float, float, float] | None:
    """Middle of the box around solids in the world, m."""
    if not solids:
        return None
    points = np.concatenate([mesh.vertices for mesh in solids])
    x, y, z = ((points.min(axis=0) + points.max(axis=0)) / 2.0).tolist()
    return x, y, z
