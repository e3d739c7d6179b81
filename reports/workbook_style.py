"""How the workbook looks: fills, number formats, frozen heads, filters, print set-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from takeoff.units import UnitSystem, unit_of_report

INPUT_FILL = "#FFF4C2"
HEAD_FILL = "#E7E9EC"
LETTER_WIDTH = 1.05
BOLD = 1.1
"""How much wider than others bold letters are."""
WIDEST = 48
"""Letters of a column; longer words are wrapped."""
NARROWEST = 8
LINE_HEIGHT = 12.5
"""Points of a line of text."""


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula with its value, so that a program that does not recalculate shows it."""

    text: str
    value: float | str


def number_style(unit: str, system: UnitSystem) -> str:
    """Style of a number of an SI unit in the units of the report."""
    if unit in ("m", "m3") and system == "metric":
        return "three"
    return "three" if unit == "1" else "two"


def column_head(name: str, unit: str, system: UnitSystem) -> str:
    """Head of a column of a result table: its name with the unit of the report.

    >>> column_head("gross_area_m2", "m2", "us")
    'gross area (ft2)'
    """
    sign = unit_of_report(unit, system)[1]
    words = name
    if unit in ("m", "m2", "m3") and name.endswith(f"_{unit}"):
        words = name.removesuffix(f"_{unit}")
        return f"{words.replace('_', ' ')} ({sign})"
    return words.replace("_", " ")


def _two_lines(name: str) -> int:
    """Letters of the longer line where a head is broken in two.

    >>> _two_lines("stud depth (ft)"), _two_lines("height")
    (10, 6)
    """
    words = name.split(" ")
    return min(max(len(" ".join(words[:cut])), len(" ".join(words[cut:]))) for cut in range(1, max(len(words), 2)))


def _lines(value: Any) -> int:
    """Lines that a text takes in the widest column."""
    return ceil(len(value) / (WIDEST - 4)) if isinstance(value, str) and len(value) > WIDEST else 1


def counted_in(unit: str) -> bool:
    """Whether a quantity of that unit is a whole number."""
    return unit in ("piece", "crew")


class Styles:
    """The formats of a workbook, each made once."""

    def __init__(self, book: Any, decimals: int, letter: bool) -> None:
        self.paper = 1 if letter else 9
        """Number of the paper in a workbook: Letter or A4."""
        money = "#,##0." + "0" * decimals if decimals else "#,##0"
        base: dict[str, Any] = {"font_name": "Liberation Sans", "font_size": 9, "valign": "vcenter"}
        input_: dict[str, Any] = {"bg_color": INPUT_FILL, "border": 1, "border_color": "#B8B8B8", "locked": False}
        strong: dict[str, Any] = {"bold": True, "top": 1}
        head: dict[str, Any] = {"bold": True, "bg_color": HEAD_FILL, "bottom": 1, "text_wrap": True}
        kinds: Mapping[str, dict[str, Any]] = {
            "text": {"align": "left", "indent": 1},
            "wrapped": {"align": "left", "indent": 1, "text_wrap": True},
            "strong": {"bold": True, "align": "left", "indent": 1},
            "title": {"bold": True, "font_size": 13},
            "note": {"italic": True, "font_color": "#555555"},
            "head": {**head, "align": "left", "indent": 1},
            "head_of_numbers": {**head, "align": "right"},
            "count": {"num_format": "#,##0"},
            "one": {"num_format": "#,##0.0"},
            "two": {"num_format": "#,##0.00"},
            "three": {"num_format": "#,##0.000"},
            "share": {"num_format": "0.0%"},
            "money": {"num_format": money},
            "money_strong": {"num_format": money, **strong},
            "text_strong": {"align": "left", "indent": 1, **strong},
            "input": {"num_format": "#,##0.00", **input_},
            "input_text": {"align": "left", "indent": 1, **input_},
            "input_count": {"num_format": "#,##0", **input_},
            "input_share": {"num_format": "0.0%", **input_},
            "input_money": {"num_format": money, **input_},
        }
        self._made = {name: book.add_format({**base, **kind}) for name, kind in kinds.items()}

    def __getitem__(self, name: str) -> Any:
        return self._made[name]


class Sheet:
    """One sheet that is written from the top down."""

    def __init__(self, book: Any, name: str, styles: Styles) -> None:
        self.name = name
        self._sheet, self._styles = book.add_worksheet(name), styles
        self.next_row = 0
        self._head_row: int | None = None
        self._last_row, self._title = 0, name
        self._columns = 0
        self._heads: list[str] = []
        self._numbers: set[int] = set()
        """Columns that hold numbers."""
        self._widths: dict[int, float] = {}

    def title(self, words: str) -> None:
        """A line in large letters."""
        self._title = words
        self._sheet.set_row(self.next_row, 20)
        self._sheet.write_string(self.next_row, 0, words, self._styles["title"])
        self.next_row += 1

    def note(self, words: str, style: str = "note") -> None:
        """A line of words."""
        self._sheet.write_string(self.next_row, 0, words, self._styles[style])
        self.next_row += 1

    def header(self, names: Sequence[str]) -> None:
        """The heads of the columns; what is above and this row stay in sight."""
        self._head_row, self._columns, self._heads = self.next_row, len(names), list(names)
        self._sheet.set_row(self.next_row, 27)
        for column, name in enumerate(names):
            self._sheet.write_string(self.next_row, column, name, self._styles["head"])
            self._wide(column, _two_lines(name) * BOLD + 4)
        self.next_row += 1
        self._last_row = self._head_row
        self._sheet.freeze_panes(self.next_row, 1)

    def row(self, cells: Sequence[tuple[Any, str]]) -> int:
        """One row of values or formulas with their styles; None is an empty cell. Returns its number from 0."""
        lines = max((_lines(value) for value, style in cells if style == "text"), default=1)
        if lines > 1:
            self._sheet.set_row(self.next_row, lines * LINE_HEIGHT)
        for column, (value, style) in enumerate(cells):
            self.put(self.next_row, column, value, style)
        self._last_row = self.next_row
        self.next_row += 1
        return self.next_row - 1

    def put(self, row: int, column: int, value: Any, style: str) -> None:
        """One cell: text is text, whatever it begins with."""
        made = self._styles[style]
        if value is None:
            self._sheet.write_blank(row, column, None, made)
        elif isinstance(value, Formula):
            if not isinstance(value.value, str):
                self._numbers.add(column)
            self._sheet.write_formula(row, column, value.text, made, value.value)
            self._wide(column, len(value.value) + 2 if isinstance(value.value, str) else len(f"{value.value:,.3f}"))
        elif isinstance(value, bool | str):
            text = str(value)[:32000]
            if style == "text" and len(text) > WIDEST:
                made = self._styles["wrapped"]
            self._sheet.write_string(row, column, text, made)
            self._wide(column, len(text) + 2)
        else:
            self._numbers.add(column)
            self._sheet.write_number(row, column, value, made)
            self._wide(column, len(f"{value:,.3f}"))

    def _wide(self, column: int, letters: float) -> None:
        self._widths[column] = max(self._widths.get(column, NARROWEST), min(letters * LETTER_WIDTH, WIDEST))

    def widths(self, widths: Sequence[float]) -> None:
        """Widths of columns, in letters, in place of those that fit."""
        self._widths |= dict(enumerate(widths))

    def finish(self, *, pages: tuple[int, int] = (1, 0)) -> None:
        """Filters, widths, and how it prints: landscape, heads on every page. pages: across and down, 0 as needed."""
        sheet = self._sheet
        if self._head_row is not None:
            for column in sorted(self._numbers):
                head = self._heads[column]
                sheet.write_string(self._head_row, column, head, self._styles["head_of_numbers"])
            # An empty list keeps its filter: a program adds rows to it as it does to any other.
            sheet.autofilter(self._head_row, 0, max(self._last_row, self._head_row + 1), self._columns - 1)
        for column, width in self._widths.items():
            sheet.set_column(column, column, width)
        sheet.set_landscape()
        sheet.set_paper(self._styles.paper)
        sheet.fit_to_pages(*pages)
        if pages[0] > 1 and self._head_row is not None:
            # The title would be cut where the first column is repeated, so it stands over the page.
            sheet.repeat_columns(0)
            sheet.print_area(self._head_row, 0, max(self._last_row, self._head_row), self._columns - 1)
            sheet.set_header(f'&L&13&"-,Bold"{self._title}')
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.6)
        sheet.set_footer("&L&8&A&R&8page &P of &N")
        sheet.hide_gridlines(2)
        if self._head_row is not None:
            sheet.repeat_rows(self._head_row)
