"""Attributes that a class has in some schemas and not in others."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import ifcopenshell


def attribute(entity: Any, name: str, default: Any = None) -> Any:
    """The value of an attribute or inverse, or the default where the class of the entity has none of that name.

    Plain `getattr` with a default would do the same, but asking for a missing attribute makes the library load the
    rules of the whole schema, which costs more than reading a small model.
    """
    return getattr(entity, name) if name in _names_of(entity.is_a(True)) else default


@lru_cache(maxsize=4096)
def _names_of(schema_and_class: str) -> frozenset[str]:
    schema, name = schema_and_class.split(".")
    declaration = ifcopenshell.schema_by_name(schema).declaration_by_name(name).as_entity()
    if declaration is None:
        return frozenset()
    return frozenset(item.name() for item in (*declaration.all_attributes(), *declaration.all_inverse_attributes()))


def word(entity: Any, name: str) -> str:
    """A text attribute; empty where it is missing, unset or, in a broken file, no text."""
    value = attribute(entity, name)
    return value if isinstance(value, str) else ""
