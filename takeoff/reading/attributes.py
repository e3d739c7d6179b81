"""Attributes of entities: quickly, and those too that a class has in some schemas and not in others."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import ifcopenshell

ENTITY = ifcopenshell.entity_instance


def attribute(entity: Any, name: str, default: Any = None) -> Any:
    """The value of an attribute or inverse, or the default where the entity has none of that name or is no entity.

    Plain `getattr` with a default would do the same, but asking for a missing attribute makes the library load the
    rules of the whole schema, which costs more than reading a small model.
    """
    if not isinstance(entity, ENTITY):
        return default
    place = _places_of(entity.is_a(True)).get(name)
    if place is None:
        return default
    return getattr(entity, name) if place == _BY_NAME else entity[place]


def value_of(entity: Any, name: str) -> Any:
    """What `getattr` gives, or raises, but an attribute that is asked for by its place comes in half the time."""
    place = _places_of(entity.is_a(True)).get(name, _BY_NAME)
    return getattr(entity, name) if place == _BY_NAME else entity[place]


_BY_NAME = -1
"""Stands for the place of what is not stored with the entity: its inverses, and attributes that are derived."""


@lru_cache(maxsize=4096)
def _places_of(schema_and_class: str) -> dict[str, int]:
    """The places of a class's attributes among those of an entity, by name."""
    schema, name = schema_and_class.split(".")
    declaration = ifcopenshell.schema_by_name(schema).declaration_by_name(name).as_entity()
    if declaration is None:
        return {}
    stored = zip(declaration.all_attributes(), declaration.derived(), strict=True)
    places = {item.name(): _BY_NAME if derived else place for place, (item, derived) in enumerate(stored)}
    return {item.name(): _BY_NAME for item in declaration.all_inverse_attributes()} | places


def word(entity: Any, name: str) -> str:
    """A text attribute; empty where it is missing, unset or, in a broken file, no text."""
    value = attribute(entity, name)
    return value if isinstance(value, str) else ""


def linked(entity: Any, name: str, kind: str) -> tuple[Any, ...]:
    """The entities of a class that an attribute or inverse holds; whatever else stands there is passed over.

    A broken file may hold a text or an entity of any class in any place.
    """
    value = attribute(entity, name)
    if value is None:
        return ()
    members = value if isinstance(value, tuple) else (value,)
    return tuple([member for member in members if isinstance(member, ENTITY) and member.is_a(kind)])
