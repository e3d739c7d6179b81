"""Property sets and quantity sets of elements, in SI."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from takeoff.building import DeclaredQuantity
from takeoff.reading.attributes import attribute, value_of, word
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.related import with_type
from takeoff.reading.units_of_file import FileUnits, factor

QUANTITY_SETS = ("Qto_WallBaseQuantities", "BaseQuantities")
"""Names of the standard quantity sets: IFC4 and later, IFC2X3."""
QUANTITY_KINDS = {
    "IfcQuantityLength": ("LengthValue", "m"),
    "IfcQuantityArea": ("AreaValue", "m2"),
    "IfcQuantityVolume": ("VolumeValue", "m3"),
}
"""Attribute that holds the value, and unit, by class; no schema has classes under these."""


def properties_of(element: Any, set_name: str) -> dict[str, Any]:
    """The single-value properties of a set by name: the occurrence's, and its type's where it is silent."""
    found: dict[str, Any] = {}
    for holder in with_type(element):
        for definition in _definitions(holder):
            if not definition.is_a("IfcPropertySet") or value_of(definition, "Name") != set_name:
                continue
            for item in definition.HasProperties or ():
                if item.is_a("IfcPropertySingleValue") and value_of(item, "NominalValue") is not None:
                    found.setdefault(item.Name, item)
    return found


def flag(properties: dict[str, Any], name: str) -> bool | None:
    """A yes-or-no property; None where it is silent or unknown."""
    item = properties.get(name)
    value = None if item is None else item.NominalValue.wrappedValue
    return value if isinstance(value, bool) else None


def text(properties: dict[str, Any], name: str) -> str:
    """A text property, else empty; numbers come as they are written."""
    item = properties.get(name)
    value = None if item is None else item.NominalValue.wrappedValue
    return "" if value is None or isinstance(value, bool) else str(value).strip()


def number(properties: dict[str, Any], name: str, file_factor: float) -> float | None:
    """A number in SI; file_factor converts where the property has no unit of its own."""
    item = properties.get(name)
    if item is None:
        return None
    value = item.NominalValue.wrappedValue
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) * (file_factor if item.Unit is None else factor(item.Unit))


def declared_quantities(element: Any, units: FileUnits) -> tuple[tuple[DeclaredQuantity, ...], tuple[str, ...]]:
    """Lengths, areas and volumes of the standard quantity sets in SI, and the names of those left out.

    One is left out where neither it nor the file has a unit for it: an area without a unit is not guessed.
    """
    found: dict[str, DeclaredQuantity] = {}
    unknown: list[str] = []
    factors = {"m": units.length, "m2": units.area, "m3": units.volume}
    for definition in _definitions(element):
        if not definition.is_a("IfcElementQuantity") or definition.Name not in QUANTITY_SETS:
            continue
        for quantity in definition.Quantities or ():
            kind = QUANTITY_KINDS.get(quantity.is_a())
            name = word(quantity, "Name")
            if kind is None or name in found:
                continue
            value_name, unit = kind
            scale = _scale(value_of(quantity, "Unit"), factors[unit])
            value = attribute(quantity, value_name)
            if scale is None:
                unknown.append(name)
            elif value is not None:
                found[name] = DeclaredQuantity(name, float(value) * scale, unit)
    return tuple(found.values()), tuple(unknown)


def _scale(unit: Any | None, default: float | None) -> float | None:
    if unit is None:
        return default
    try:
        return factor(unit)
    except (ElementFault, *BROKEN_ENTITY):
        return None


def _definitions(holder: Any) -> Iterator[Any]:
    """Property and quantity sets of an occurrence or a type."""
    yield from attribute(holder, "HasPropertySets") or ()
    for relation in attribute(holder, "IsDefinedBy") or ():
        if not relation.is_a("IfcRelDefinesByProperties"):
            continue
        definition = value_of(relation, "RelatingPropertyDefinition")
        if definition is None:
            continue
        # IFC4 lets one relation point at a set of property sets.
        yield from (definition.wrappedValue if definition.is_a("IfcPropertySetDefinitionSet") else (definition,))
