"""Columns and tables: one list says a table's names, units, meanings and values, and rows, CSV and frames follow it."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from json.encoder import encode_basestring
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    import pandas

Cell = str | int | float | bool | None
"""None is unknown: an empty cell, never 0."""

Record = TypeVar("Record")

SIGNIFICANT_DIGITS = 12
"""Digits that a number keeps in tables and in takeoff.json: far below any tolerance here, above the noise of floats."""

NOISE = 1e-12
"""A number nearer to 0 than this is written as 0 (m, m2, m3 or a ratio)."""


class Kind(StrEnum):
    """What a column holds."""

    TEXT = "text"
    NUMBER = "number"
    COUNT = "count"
    TRUTH = "truth"


FRAME_TYPES = {Kind.TEXT: "string", Kind.NUMBER: "float64", Kind.COUNT: "Int64", Kind.TRUTH: "boolean"}
"""The pandas dtype of each kind; the last two can hold unknowns."""


@dataclass(frozen=True, slots=True)
class Column(Generic[Record]):
    """One column: `value` takes the table's record and gives the raw cell."""

    name: str
    kind: Kind
    unit: str
    meaning: str
    value: Callable[[Record], Cell]


@dataclass(frozen=True, slots=True)
class Table(Generic[Record]):
    """A table's schema: its columns in order, what one row is, and how rows are sorted."""

    name: str
    """File name without `.csv`."""
    row_meaning: str
    order: str
    columns: tuple[Column[Record], ...]

    @property
    def column_names(self) -> tuple[str, ...]:
        """Names in order."""
        return tuple(column.name for column in self.columns)


def text(name: str, meaning: str, value: Callable[[Record], str]) -> Column[Record]:
    """A column of words; unknown is the empty text."""
    return Column(name, Kind.TEXT, "", meaning, value)


def number(name: str, unit: str, meaning: str, value: Callable[[Record], float | None]) -> Column[Record]:
    """A column of numbers in one SI unit ('1' for a ratio)."""
    return Column(name, Kind.NUMBER, unit, meaning, value)


def count(name: str, meaning: str, value: Callable[[Record], int | None]) -> Column[Record]:
    """A column of whole numbers."""
    return Column(name, Kind.COUNT, "", meaning, value)


def truth(name: str, meaning: str, value: Callable[[Record], bool | None]) -> Column[Record]:
    """A column of true and false."""
    return Column(name, Kind.TRUTH, "", meaning, value)


def tidy_number(value: float | None) -> float | None:
    """The number as it is written everywhere: 12 significant digits, noise as 0.0; None where it is not finite.

    >>> tidy_number(2.4000000000000004), tidy_number(-1e-17), tidy_number(float("nan"))
    (2.4, 0.0, None)
    """
    if value is None or not math.isfinite(value):
        return None
    if abs(value) < NOISE:
        return 0.0
    return float(f"{value:.{SIGNIFICANT_DIGITS}g}")


def _number_text(value: Any) -> str:
    if value is None or not math.isfinite(value):
        return ""
    if abs(value) < NOISE:
        return "0"
    return f"{value:.{SIGNIFICANT_DIGITS}g}"


def _text_text(value: Any) -> str:
    words = str(value or "")
    if words.isprintable():
        return words
    return "".join(letter if letter.isprintable() else " " for letter in words)


def _count_text(value: Any) -> str:
    return "" if value is None else str(int(value))


def _truth_text(value: Any) -> str:
    return "" if value is None else ("true" if value else "false")


_AS_TEXT: dict[Kind, Callable[[Any], str]] = {
    Kind.TEXT: _text_text,
    Kind.NUMBER: _number_text,
    Kind.COUNT: _count_text,
    Kind.TRUTH: _truth_text,
}
_AS_VALUE: dict[Kind, Callable[[Any], Cell]] = {
    Kind.TEXT: _text_text,
    Kind.NUMBER: tidy_number,
    Kind.COUNT: lambda value: None if value is None else int(value),
    Kind.TRUTH: lambda value: None if value is None else bool(value),
}


def cell_texts(table: Table[Record], records: Sequence[Record]) -> list[tuple[str, ...]]:
    """The table as rows of texts, the form that files hold; the empty text is unknown."""
    if not records:
        return []
    return list(
        zip(
            *(list(map(_AS_TEXT[column.kind], map(column.value, records))) for column in table.columns),
            strict=True,
        )
    )


def csv_text(table: Table[Any], rows: Iterable[Sequence[str]]) -> str:
    """Rows of texts as CSV: a head line, commas, `\\n` ends, quotes only where needed, no pandas."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.column_names)
    writer.writerows(rows)
    return out.getvalue()


def json_rows(table: Table[Any], rows: Iterable[Sequence[str]], without: frozenset[str] = frozenset()) -> list[str]:
    """Rows of texts as the insides of JSON objects (`"name": value, ...`), unknown numbers and truths as null.

    without: columns to leave out.
    """
    kept = [
        (i, f"{json.dumps(column.name)}: ", column.kind is Kind.TEXT)
        for i, column in enumerate(table.columns)
        if column.name not in without
    ]
    return [
        ", ".join([head + (encode_basestring(row[i]) if is_text else row[i] or "null") for i, head, is_text in kept])
        for row in rows
    ]


def frame(table: Table[Record], records: Sequence[Record]) -> pandas.DataFrame:
    """The table as a new pandas frame with the schema's dtypes: the same values as the CSV."""
    import pandas

    return pandas.DataFrame(
        {
            column.name: pandas.Series(
                [_AS_VALUE[column.kind](column.value(record)) for record in records],
                dtype=FRAME_TYPES[column.kind],  # type: ignore[call-overload]
            )
            for column in table.columns
        }
    )
