"""Roofs, for the walls that meet their eaves."""

from __future__ import annotations

from typing import Any

from takeoff.building import ModelRoof
from takeoff.reading.attributes import word
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, predefined_type

SURFACES = ("IfcSlab", "IfcPlate", "IfcCovering", "IfcRoof")
"""Parts of a roof that lie in its plane."""


def read_roofs(model: ModelFile) -> tuple[ModelRoof, ...]:
    """Every roof with a shape, in file order. One that cannot be read is passed over: no quantity needs it."""
    found: dict[int, Any] = {}
    for roof in model.of_class("IfcRoof"):
        parts = [part for part in _parts(roof) if any(part.is_a(name) for name in SURFACES)]
        found |= {element.id(): element for element in (roof, *parts)}
    found |= {slab.id(): slab for slab in model.of_class("IfcSlab") if _is_roof(slab)}
    roofs: list[ModelRoof] = []
    for key in sorted(found):
        element = found[key]
        body = model.bodies.of(element)
        if body.solids:
            roofs.append(ModelRoof(model.identities.of(element), element.is_a(), word(element, "Name"), body.solids))
        model.bodies.forget(element)
    return tuple(roofs)


def _parts(roof: Any) -> list[Any]:
    try:
        return list(all_parts_of(roof))
    except BROKEN_ENTITY:
        return []


def _is_roof(slab: Any) -> bool:
    try:
        return predefined_type(slab) == "ROOF"
    except BROKEN_ENTITY:
        return False
