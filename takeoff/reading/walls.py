"""One wall of a model as a record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from takeoff.building import Cylinder, DeclaredQuantity, ModelLayer, ModelLayers, ModelPart, ModelWall
from takeoff.reading.attributes import word
from takeoff.reading.bodies import Body
from takeoff.reading.curves import cylinder_of
from takeoff.reading.discovery import Group
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.model_file import ModelFile
from takeoff.reading.openings import read_openings
from takeoff.reading.parts import read_part
from takeoff.reading.placements import Matrix
from takeoff.reading.properties import declared_quantities, flag, number, properties_of, text
from takeoff.reading.related import predefined_type, storey_of, type_name
from takeoff.reading.spaces import rooms_of

COMMON = "Pset_WallCommon"

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """What a wall says of itself without its shape."""

    type_name: str
    predefined_type: str
    storey: str
    storey_elevation: float | None
    layers: ModelLayers | None
    materials: tuple[ModelLayer, ...]
    external: bool | None
    acoustic_rating: str
    thermal_transmittance: float | None
    quantities: tuple[DeclaredQuantity, ...]


def read_wall(model: ModelFile, group: Group, rooms: dict[int, list[str]]) -> ModelWall:
    """A wall with its parts and openings; what is broken in it becomes its `problem` or a finding, never an error.

    rooms: rooms by the step number of the element that they meet.
    """
    if group.axes is not None:
        return _read_loose_frame(model, group, group.axes, rooms)
    wall = group.wall
    wall_id = model.identities.of(wall)
    try:
        placement, misplaced = model.placements.of(wall), ""
    except ElementFault as error:
        placement, misplaced = np.eye(4), str(error)
    except BROKEN_ENTITY as error:
        placement, misplaced = np.eye(4), f"its placement is broken ({error}); export the model again"
    inner = () if group.envelope is None else (group.envelope,)
    body = model.bodies.of(group.envelope or wall)
    parts = tuple(part for part in (read_part(model, element, wall_id) for element in group.parts) if part is not None)
    facts = _facts(model, group, placement, wall_id)
    _note_body(model, wall, body, wall_id)
    openings = read_openings(model, wall, (*inner, *group.parts), wall_id)
    for element in (wall, *inner, *group.parts):
        model.bodies.forget(element)
    return ModelWall(
        global_id=wall_id,
        ifc_class=wall.is_a(),
        name=word(wall, "Name"),
        type_name=facts.type_name,
        storey=facts.storey,
        storey_elevation=facts.storey_elevation,
        placement=placement,
        body=body.solids,
        layers=facts.layers,
        materials=facts.materials,
        openings=openings,
        parts=parts,
        external=facts.external,
        acoustic_rating=facts.acoustic_rating,
        thermal_transmittance=facts.thermal_transmittance,
        quantities=facts.quantities,
        space_ids=rooms_of((wall, *inner, *group.parts), rooms),
        cylinder=_cylinder(model, wall, placement),
        predefined_type=facts.predefined_type,
        problem=_problem(group, body, parts, misplaced),
        only_groups=group.only_groups_walls,
    )


def _read_loose_frame(model: ModelFile, group: Group, axes: Matrix, rooms: dict[int, list[str]]) -> ModelWall:
    """A wall of loose members: what the member that stands for it says of itself is not said of the wall."""
    plate, wall_id = group.wall, model.identities.of(group.wall)
    read = [read_part(model, element, wall_id) for element in group.parts]
    openings = read_openings(model, plate, group.parts, wall_id)
    storey = _safely(model, plate, "storey", lambda: storey_of(plate), None)
    for element in group.parts:
        model.bodies.forget(element)
    return ModelWall(
        global_id=wall_id,
        ifc_class=plate.is_a(),
        name=" ".join(filter(None, ("loose frame", word(plate, "Name")))),
        type_name="",
        storey="" if storey is None else word(storey, "Name"),
        storey_elevation=_safely(model, plate, "storey", lambda: _elevation(model, storey), None),
        placement=axes,
        body=(),
        layers=None,
        materials=(),
        openings=openings,
        parts=tuple(part for part in read if part is not None),
        external=None,
        acoustic_rating="",
        thermal_transmittance=None,
        quantities=(),
        space_ids=rooms_of(group.parts, rooms),
    )


def _problem(group: Group, body: Body, parts: tuple[ModelPart, ...], misplaced: str) -> str:
    if group.wall.is_a("IfcCurtainWall"):
        return ""
    if misplaced:
        return misplaced
    if group.only_groups_walls:
        return "it only groups other walls, which are read by themselves; nothing to mend"
    # A frame can be read without the body around it, so a missing body is then no reason to give up; and a body that
    # is only incomplete has its finding.
    return "" if parts or body.solids else body.fault


def _note_body(model: ModelFile, wall: Any, body: Body, wall_id: str) -> None:
    if body.n_open:
        model.findings.add(
            "body-not-closed", f"{body.n_open} of its solids do not close; model it as solids.", wall, wall_id
        )
    if body.n_mended:
        model.findings.add(
            "body-mended",
            f"{body.n_mended} of its solids had a flat gap or a face given twice and were closed; check its shape.",
            wall,
            wall_id,
        )
    if body.solids and body.fault:
        model.findings.add("body-incomplete", f"a part of its body is missing: {body.fault}.", wall, wall_id)


def _facts(model: ModelFile, group: Group, placement: Matrix, wall_id: str) -> Facts:
    wall = group.wall
    # An assembly around a frame and its wall is described by that wall where it says nothing itself.
    tellers = [(wall, placement)]
    if group.envelope is not None:
        place = _safely(model, wall, "placement", lambda: model.placements.of(group.envelope), placement)
        tellers.append((group.envelope, place))
    units = model.units

    def first(what: str, read: Callable[[Any, Matrix], Value], empty: Value) -> Value:
        for teller, place in tellers:
            found = _safely(model, teller, what, lambda teller=teller, place=place: read(teller, place), empty)
            if found != empty:
                return found
        return empty

    storey = _safely(model, wall, "storey", lambda: storey_of(wall), None)
    quantities, unknown = first("quantities", lambda teller, _: declared_quantities(teller, units), ((), ()))
    if unknown:
        model.findings.add(
            "quantity-without-unit",
            f"its quantities {', '.join(unknown)} were left out, since the file has no unit for them.",
            wall,
            wall_id,
        )
    common = first("properties", lambda teller, _: properties_of(teller, COMMON), {})
    layers = first("layers", lambda teller, place: model.materials.layers(teller, place), None)
    return Facts(
        type_name=first("type", lambda teller, _: type_name(teller), ""),
        predefined_type=first("type", lambda teller, _: predefined_type(teller), ""),
        storey="" if storey is None else word(storey, "Name"),
        storey_elevation=_safely(model, wall, "storey", lambda: _elevation(model, storey), None),
        layers=layers,
        materials=()
        if layers is not None
        else first("materials", lambda teller, _: model.materials.without_order(teller), ()),
        external=flag(common, "IsExternal"),
        acoustic_rating=text(common, "AcousticRating"),
        thermal_transmittance=_safely(
            model, wall, "properties", lambda: number(common, "ThermalTransmittance", units.transmittance), None
        ),
        quantities=quantities,
    )


def _elevation(model: ModelFile, storey: Any | None) -> float | None:
    """Height of a storey's floor in the world, m.

    That of its placement, as the walls are placed by it; the storey's own figure is measured from the building's
    zero. Only where the placement stands at zero, as in files that place every wall by itself, does the figure count.
    """
    if storey is None:
        return None
    stated = None if storey.Elevation is None else float(storey.Elevation) * model.units.length
    if storey.ObjectPlacement is None:
        return stated
    placed = float(model.placements.of(storey)[2, 3])
    return stated if stated is not None and abs(placed) < 1e-6 else placed


def _cylinder(model: ModelFile, wall: Any, placement: Matrix) -> Cylinder | None:
    return _safely(model, wall, "axis", lambda: cylinder_of(wall, placement, model.units.length), None)


def _safely(model: ModelFile, element: Any, what: str, read: Callable[[], Value], empty: Value) -> Value:
    """What `read` gives; where the element's data are broken, `empty` and a finding."""
    try:
        return read()
    except (ElementFault, *BROKEN_ENTITY) as error:
        model.findings.add("wall-data-unreadable", f"its {what} cannot be read ({error}); export it again.", element)
        return empty
