"""Rooms, and which walls bound them."""

from __future__ import annotations

from typing import Any

from takeoff.building import ModelSpace
from takeoff.reading.attributes import attribute, word
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import storey_of
from takeoff.reading.sharing import read_each


def read_spaces(model: ModelFile) -> tuple[ModelSpace, ...]:
    """Every room of a model in file order; one whose shape cannot be read comes without solids, with a finding."""
    return read_each(model, "rooms", model.of_class("IfcSpace"), lambda space: _read_space(model, space))


def _read_space(model: ModelFile, space: Any) -> ModelSpace:
    body = model.bodies.of(space)
    if body.fault:
        model.findings.add("room-shape-unreadable", f"its shape is missing: {body.fault}.", space)
    storey, name, long_name, external = "", "", "", False
    try:
        name, long_name = word(space, "Name"), word(space, "LongName")
        level = storey_of(space)
        storey = word(level, "Name") if level is not None else ""
        # IFC2X3 says it in InteriorOrExteriorSpace, IFC4 in PredefinedType.
        external = "EXTERNAL" in (
            attribute(space, "PredefinedType"),
            attribute(space, "InteriorOrExteriorSpace"),
        )
    except BROKEN_ENTITY as error:
        model.findings.add("room-data-unreadable", f"it is broken ({error}); export the model again.", space)
    model.bodies.forget(space)
    return ModelSpace(model.identities.of(space), name, long_name, storey, body.solids, external)


def rooms_by_element(model: ModelFile) -> dict[int, list[str]]:
    """GlobalIds of the rooms that each element bounds, by the element's step number, in file order."""
    found: dict[int, list[str]] = {}
    for relation in model.of_class("IfcRelSpaceBoundary"):
        try:
            space, element = relation.RelatingSpace, relation.RelatedBuildingElement
        except BROKEN_ENTITY:
            continue
        if space is None or element is None or not space.is_a("IfcSpace"):
            continue
        rooms = found.setdefault(element.id(), [])
        identity = model.identities.of(space)
        if identity not in rooms:
            rooms.append(identity)
    return found


def rooms_of(elements: tuple[Any, ...], by_element: dict[int, list[str]]) -> tuple[str, ...]:
    """Rooms that any of the elements (a wall and its parts) bounds, each once."""
    return tuple(dict.fromkeys(room for element in elements for room in by_element.get(element.id(), ())))
