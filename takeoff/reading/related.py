"""Relations between elements, the same way for every schema, with loops and gaps in the data guarded."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import Any

from takeoff.reading.attributes import linked, word

MAX_PARTS = 100_000
"""Parts of one element at any depth; a long framed wall has a few hundred."""


def parts_of(element: Any) -> list[Any]:
    """Direct parts (aggregated or nested), in file order."""
    found: dict[int, Any] = {}
    for name in ("IsDecomposedBy", "IsNestedBy"):
        for relation in linked(element, name, "IfcRelDecomposes"):
            for part in linked(relation, "RelatedObjects", "IfcObjectDefinition"):
                found.setdefault(part.id(), part)
    return [found[key] for key in sorted(found)]


def all_parts_of(element: Any) -> Iterator[Any]:
    """Parts at any depth, each once, the element itself never: a circular aggregation comes to an end."""
    seen = {element.id()}
    waiting = parts_of(element)
    while waiting and len(seen) <= MAX_PARTS:
        part = waiting.pop(0)
        if part.id() in seen:
            continue
        seen.add(part.id())
        yield part
        waiting += parts_of(part)


def wholes_of(element: Any) -> Iterator[Any]:
    """What the element is a part of, nearest first, each once."""
    seen = {element.id()}
    current = element
    while True:
        current = next(
            (
                whole
                for name in ("Decomposes", "Nests")
                for relation in linked(current, name, "IfcRelDecomposes")
                for whole in linked(relation, "RelatingObject", "IfcObjectDefinition")
            ),
            None,
        )
        if current is None or current.id() in seen:
            return
        seen.add(current.id())
        yield current


def type_of(element: Any) -> Any | None:
    """The type of an occurrence."""
    for name in ("IsTypedBy", "IsDefinedBy"):
        for relation in linked(element, name, "IfcRelDefinesByType"):
            for kind in linked(relation, "RelatingType", "IfcTypeObject"):
                return kind
    return None


def with_type(element: Any) -> Iterator[Any]:
    """An occurrence and, when it is asked for, its type: what the first does not say, the other may."""
    yield element
    kind = type_of(element)
    if kind is not None:
        yield kind


def type_name(element: Any) -> str:
    """Name of the type, else empty."""
    found = type_of(element)
    return word(found, "Name") if found is not None else ""


def predefined_type(element: Any) -> str:
    """PredefinedType of the occurrence, else of its type; for a user-defined one the user's own word."""
    own = word(element, "PredefinedType")
    if own == "USERDEFINED":
        return word(element, "ObjectType") or own
    if own and own != "NOTDEFINED":
        return own
    kind = type_of(element)
    given = word(kind, "PredefinedType")
    if given == "USERDEFINED":
        return word(kind, "ElementType") or given
    return given if given != "NOTDEFINED" else ""


def storey_of(element: Any) -> Any | None:
    """The storey that an element stands in: by its own containment, else by that of what it is a part of."""
    for holder in chain((element,), wholes_of(element)):
        if holder.is_a("IfcBuildingStorey"):
            return holder
        for relation in linked(holder, "ContainedInStructure", "IfcRelContainedInSpatialStructure"):
            for place in linked(relation, "RelatingStructure", "IfcObjectDefinition"):
                # A wall may be contained in a room, which is a part of the storey.
                levels = chain((place,), wholes_of(place))
                return next((level for level in levels if level.is_a("IfcBuildingStorey")), None)
    return None


def is_within(element: Any, kinds: tuple[str, ...]) -> bool:
    """Whether the element is a part, at any depth, of something of one of the classes."""
    return any(whole.is_a(kind) for whole in wholes_of(element) for kind in kinds)
