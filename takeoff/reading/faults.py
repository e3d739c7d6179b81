"""What can be wrong with one element of a model, and how an element is named in a message."""

from __future__ import annotations

from typing import Any

from takeoff.errors import TakeoffError
from takeoff.reading.attributes import word

BROKEN_ENTITY = (AttributeError, IndexError, KeyError, RuntimeError, TypeError, ValueError, ZeroDivisionError)
"""What reading an entity raises when an attribute has the wrong kind of value or is missing: a model file is not
checked against its schema when it is opened, so each of these can come from the file alone."""


class ElementFault(TakeoffError, ValueError):
    """One element cannot be read; the text is one clause that names the fault and the mend."""


def described(entity: Any) -> str:
    """Class, GlobalId and name of an entity, e.g. `IfcWall 2O2Fr$t4X7Zf8NOew3FLOH 'North'`."""
    identity = word(entity, "GlobalId") or f"#{entity.id()}"
    name = word(entity, "Name")
    return f"{entity.is_a()} {identity} '{name}'" if name else f"{entity.is_a()} {identity}"
