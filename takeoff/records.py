"""Many records of one class at once, a field at a time: several times faster than one record after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

Record = TypeVar("Record")


@cache
def values_of(kind: type[Any]) -> Callable[[Any], tuple[Any, ...]]:
    """Takes the values of a record of this class, which has several fields, in the order of the fields."""
    return attrgetter(*(field.name for field in fields(kind)))


def with_values(records: Sequence[Record], **values: Sequence[Any]) -> tuple[Record, ...]:
    """The records with other values in some fields, one for each record; as `dataclasses.replace` on each.

    >>> from takeoff.hole_rows import RowWish
    >>> with_values([RowWish(1.0, 1.8), RowWish(1.2, 1.9)], comfortable=[1.1, 1.3])
    (RowWish(comfortable=1.1, standing=1.8), RowWish(comfortable=1.3, standing=1.9))
    """
    if not records:
        return ()
    kind = type(records[0])
    names = (field.name for field in fields(kind))  # type: ignore[arg-type]
    columns: dict[str, Sequence[Any]] = dict(zip(names, zip(*map(values_of(kind), records), strict=True), strict=True))
    return tuple(kind(*row) for row in zip(*(columns | values).values(), strict=True))
