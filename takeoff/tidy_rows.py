"""Rows of plain values as files hold them: numbers without the noise of floats, words on one line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any, TypeVar

import numpy as np

from takeoff.columns import NOISE, SIGNIFICANT_DIGITS, one_line, tidy_number
from takeoff.records import values_of

Row = TypeVar("Row")


def tidied(rows: Iterable[Row]) -> tuple[Row, ...]:
    """Records of one class, their numbers and words tidied."""
    rows = list(rows)
    if not rows:
        return ()
    columns = zip(*map(values_of(type(rows[0])), rows), strict=True)
    return _tidy_rows(type(rows[0]), columns)


def tidied_columns(kind: type[Row], **columns: Sequence[Any]) -> tuple[Row, ...]:
    """Records of a class from the values of their fields, tidied: as many of each as there are records."""
    return _tidy_rows(kind, [columns[field.name] for field in fields(kind)])  # type: ignore[arg-type]


def _tidy_rows(kind: type[Row], columns: Iterable[Sequence[Any]]) -> tuple[Row, ...]:
    # A column at a time: a large model has tens of thousands of rows.
    return tuple(kind(*row) for row in zip(*map(_tidied, columns), strict=True))


def _tidied(column: Sequence[Any]) -> Sequence[Any]:
    kinds = set(map(type, column))
    if kinds == {str}:
        return column if "".join(column).isprintable() else [one_line(words) for words in column]
    if kinds == {float}:
        return _tidy_numbers(column)
    return [_tidy(value) for value in column]


def _tidy_numbers(column: Sequence[float]) -> Sequence[float | None]:
    """Each as `tidy_number` gives it."""
    different = list(dict.fromkeys(column))
    numbers = np.array(different)
    if not np.isfinite(numbers).all():
        return [tidy_number(value) for value in column]
    numbers[np.abs(numbers) < NOISE] = 0.0
    texts = (f"%.{SIGNIFICANT_DIGITS}g " * len(numbers) % tuple(numbers.tolist())).split()
    tidy = dict(zip(different, map(float, texts), strict=True))
    return [tidy[value] for value in column]


def _tidy(value: Any) -> Any:
    if isinstance(value, float):
        return tidy_number(value)
    return one_line(value) if isinstance(value, str) else value
