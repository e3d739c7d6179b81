"""Openings of walls, and doors and windows that stand in a wall without one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from geometry.solids import Mesh
from takeoff.building import ModelOpening
from takeoff.reading.attributes import attribute, linked, word
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.model_file import ModelFile
from takeoff.reading.parts import WallBoxes
from takeoff.reading.related import is_within, predefined_type

BORING = 0.15
"""m; an unfilled hole in a part that is narrower than this both ways in elevation is bored for a pipe or cable: it is
no opening of the wall."""


def read_openings(model: ModelFile, wall: Any, parts: tuple[Any, ...], wall_id: str) -> tuple[ModelOpening, ...]:
    """The openings of a wall and of its parts, in file order; borings in parts are left out with a finding."""
    found: dict[int, ModelOpening] = {}
    borings = 0
    inside = {part.id() for part in parts}
    for holder in (wall, *parts):
        for element in _voids_of(holder):
            if element.id() in found:
                continue
            opening = _read_opening(model, element, wall_id)
            if holder.id() in inside and not opening.filling_id and _is_boring(opening.solids):
                borings += 1
                continue
            found[element.id()] = opening
    if borings:
        model.findings.add(
            "borings-not-read",
            f"{borings} holes in its parts are too small for openings and were taken for borings.",
            wall,
            wall_id,
            warning=False,
        )
    return tuple(found[key] for key in sorted(found))


def read_loose_openings(model: ModelFile, boxes: WallBoxes | None) -> tuple[ModelOpening, ...]:
    """Doors and windows that fill no opening of an element and whose box touches a wall's."""
    if boxes is None:
        return ()
    found = []
    candidates = [element for element in model.of_class("IfcDoor", "IfcWindow") if not _fills_something(element)]
    for done, element in enumerate(candidates):
        model.report("doors and windows", done + 1, len(candidates))
        if is_within(element, ("IfcCurtainWall",)):
            continue
        points = model.bodies.rough_box(element)
        if points is None or not boxes.touch(points):
            continue
        body = model.bodies.of(element)
        if not body.solids:
            model.findings.add("opening-unreadable", f"its shape is missing: {body.fault}.", element)
        found.append(
            ModelOpening(
                global_id=model.identities.of(element),
                ifc_class=element.is_a(),
                name=word(element, "Name"),
                solids=body.solids,
                filling_id=model.identities.of(element),
                filling_class=element.is_a(),
                filling_name=word(element, "Name"),
                problem=body.fault,
            )
        )
    return tuple(found)


def _read_opening(model: ModelFile, element: Any, wall_id: str) -> ModelOpening:
    body = model.bodies.of(element)
    problem = body.fault
    filling: Any | None = None
    filling_size: tuple[float, float] | None = None
    recess = False
    name = ""
    try:
        name = word(element, "Name")
        fillings = _fillings(element)
        filling = _first_of(fillings)
        filling_size = _stated_size(fillings, model.units.length)
        recess = predefined_type(element).upper() == "RECESS" or word(element, "ObjectType").upper() == "RECESS"
    except BROKEN_ENTITY as error:
        problem = problem or f"its data are broken ({error}); export the model again"
    if body.n_open and not problem:
        model.findings.add(
            "body-not-closed", f"{body.n_open} of its solids do not close; model it as solids.", element, wall_id
        )
    model.bodies.forget(element)
    return ModelOpening(
        global_id=model.identities.of(element),
        ifc_class=element.is_a(),
        name=name,
        solids=body.solids,
        filling_id="" if filling is None else model.identities.of(filling),
        filling_class="" if filling is None else filling.is_a(),
        filling_name="" if filling is None else word(filling, "Name"),
        recess=recess,
        problem=problem,
        filling_size=filling_size,
    )


def _voids_of(element: Any) -> Iterator[Any]:
    for relation in linked(element, "HasOpenings", "IfcRelVoidsElement"):
        yield from linked(relation, "RelatedOpeningElement", "IfcFeatureElementSubtraction")


def _fillings(opening: Any) -> list[Any]:
    return [
        filling
        for relation in linked(opening, "HasFillings", "IfcRelFillsElement")
        for filling in linked(relation, "RelatedBuildingElement", "IfcElement")
    ]


def _stated_size(fillings: list[Any], length: float) -> tuple[float, float] | None:
    """Width and height in m of the one door or window in an opening; None where there are several, or no figures."""
    if len(fillings) != 1 or not _is_door_or_window(fillings[0]):
        return None
    width, height = (attribute(fillings[0], name) for name in ("OverallWidth", "OverallHeight"))
    if not width or not height:
        return None
    return float(width) * length, float(height) * length


def _first_of(fillings: list[Any]) -> Any | None:
    """What fills an opening: a door or window before anything else, the first in file order."""
    return min(fillings, key=lambda found: (not _is_door_or_window(found), found.id()), default=None)


def _is_door_or_window(element: Any) -> bool:
    return element.is_a("IfcDoor") or element.is_a("IfcWindow")


def _fills_something(element: Any) -> bool:
    """Whether a door or window fills an opening that is cut into something."""
    return any(
        linked(void, "RelatingBuildingElement", "IfcElement")
        for relation in linked(element, "FillsVoids", "IfcRelFillsElement")
        for opening in linked(relation, "RelatingOpeningElement", "IfcFeatureElementSubtraction")
        for void in linked(opening, "VoidsElements", "IfcRelVoidsElement")
    )


def _is_boring(solids: tuple[Mesh, ...]) -> bool:
    if not solids:
        return False
    points = np.concatenate([solid.vertices for solid in solids])
    spans = np.sort(np.ptp(points, axis=0))
    return bool(spans[1] < BORING)
