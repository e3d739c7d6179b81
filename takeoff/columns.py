"""Columns and tables: one list says a table's names, units, meanings and values, and rows, CSV and frames follow it."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
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


def one_line(words: str) -> str:
    """Text on one line: names come from a model and may hold anything."""
    return words if words.isprintable() else "".join(letter if letter.isprintable() else " " for letter in words)


_AS_VALUE: dict[Kind, Callable[[Any], Cell]] = {
    Kind.TEXT: lambda value: one_line(str(value)),
    Kind.NUMBER: tidy_number,
    Kind.COUNT: lambda value: None if value is None else int(value),
    Kind.TRUTH: lambda value: None if value is None else bool(value),
}


# A model of a thousand walls has a million cells: below, whole columns are turned into text by one call each.


def column_texts(table: Table[Record], records: Sequence[Record]) -> list[list[str]]:
    """The table as columns of texts, the form that files hold; the empty text is unknown."""
    return [_COLUMN_TEXTS[column.kind](list(map(column.value, records))) for column in table.columns]


def _number_texts(values: list[Any]) -> list[str]:
    # Depths, heights and spacings come again from bay to bay: each is turned into text once.
    different = list(dict.fromkeys(values))
    tidy = map(_settled, different)
    texts = (f"%.{SIGNIFICANT_DIGITS}g " * len(different) % tuple(tidy)).split()
    text_of = {value: "" if text == "nan" else text for value, text in zip(different, texts, strict=True)}
    return [text_of[value] for value in values]


def _settled(value: float | None) -> float:
    """Unknown and infinite as NaN, noise as 0."""
    if value is None:
        return math.nan
    if value >= NOISE or value <= -NOISE:
        return value if -math.inf < value < math.inf else math.nan
    return 0.0 if value == value else value


def _text_texts(values: list[Any]) -> list[str]:
    return values if "".join(values).isprintable() else [one_line(value) for value in values]


def _count_texts(values: list[Any]) -> list[str]:
    return ["" if value is None else str(int(value)) for value in values]


def _truth_texts(values: list[Any]) -> list[str]:
    return ["" if value is None else ("true" if value else "false") for value in values]


_COLUMN_TEXTS: dict[Kind, Callable[[list[Any]], list[str]]] = {
    Kind.TEXT: _text_texts,
    Kind.NUMBER: _number_texts,
    Kind.COUNT: _count_texts,
    Kind.TRUTH: _truth_texts,
}


def csv_text(table: Table[Any], columns: Sequence[Sequence[str]]) -> str:
    """Columns of texts as CSV: a head line, commas, `\\n` ends, quotes only where needed, no pandas."""
    return csv_head(table) + csv_rows(columns)


def csv_head(table: Table[Any]) -> str:
    """The head line of a CSV file."""
    return csv_rows([[name] for name in table.column_names])


def csv_rows(columns: Sequence[Sequence[str]]) -> str:
    """The lines of a CSV file below its head; texts stand on one line each (see `column_texts`)."""
    # A column at a time, several times faster than the standard library's writer, which looks at every letter.
    lines = [",".join(row) for row in zip(*map(_quoted, columns), strict=True)]
    return "\n".join([*lines, ""])


QUOTE = '"'


def _quoted(texts: Sequence[str]) -> Sequence[str]:
    """A column with its commas and quotes made safe, as RFC 4180 has it."""
    letters = "".join(texts)
    if "," not in letters and QUOTE not in letters:
        return texts
    return [f'"{text.replace(QUOTE, 2 * QUOTE)}"' if "," in text or QUOTE in text else text for text in texts]


def json_rows(table: Table[Any], columns: Sequence[Sequence[str]], without: frozenset[str] = frozenset()) -> list[str]:
    """Columns of texts as the insides of one JSON object a row (`"name": value, ...`), unknown as null.

    without: columns to leave out.
    """
    kept = [(column, texts) for column, texts in zip(table.columns, columns, strict=True) if column.name not in without]
    template = ", ".join(f"{json.dumps(column.name)}: %s" for column, _ in kept)
    cells = [
        map(encode_basestring, texts) if column.kind is Kind.TEXT else [text or "null" for text in texts]
        for column, texts in kept
    ]
    return [template % row for row in zip(*cells, strict=True)]


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
