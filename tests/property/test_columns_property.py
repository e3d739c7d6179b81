"""Tables as text, a column at a time, against the standard library and against one cell at a time."""

from __future__ import annotations

import csv
import io
from dataclasses import astuple, dataclass

from hypothesis import given
from hypothesis import strategies as st

from takeoff.columns import Table, column_texts, csv_rows, number, text, tidy_number
from takeoff.tidy_rows import tidied, tidied_columns

words = st.text(st.characters(codec="utf-8") | st.sampled_from(',"\n '))
numbers = st.none() | st.floats() | st.integers(-5, 5) | st.sampled_from([0.1 + 0.2, -0.0, 1e-12, -1e-13, 2.5])


@dataclass(frozen=True)
class Line:
    words: str
    number: float | None
    measure: float


LINES: Table[Line] = Table(
    "lines",
    "One line.",
    "as given",
    (
        text("words", "words", lambda line: line.words),
        number("number", "m", "a number", lambda line: line.number),
        number("measure", "m", "a number that is known", lambda line: line.measure),
    ),
)
lines = st.lists(st.builds(Line, words, numbers, st.floats()))


@given(lines)
def test_csv_lines_are_those_of_the_standard_library(rows):
    columns = column_texts(LINES, rows)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(zip(*columns, strict=True))
    assert csv_rows(columns) == out.getvalue()


@given(lines)
def test_a_column_of_numbers_has_the_text_of_each(rows):
    told = [tidy_number(line.number) for line in rows]
    assert column_texts(LINES, rows)[1] == ["" if value is None else f"{value:.12g}" for value in told]


@given(lines)
def test_tidied_rows_hold_what_each_value_tidied_is(rows):
    expected = [
        (
            "".join(letter if letter.isprintable() else " " for letter in line.words),
            tidy_number(line.number) if isinstance(line.number, float) else line.number,
            tidy_number(line.measure),
        )
        for line in rows
    ]
    found = [astuple(line) for line in tidied(rows)]
    columns = {name: [getattr(line, name) for line in rows] for name in ("words", "number", "measure")}
    assert [astuple(line) for line in tidied_columns(Line, **columns)] == found
    assert found == expected
    assert [list(map(type, row)) for row in found] == [list(map(type, row)) for row in expected]
