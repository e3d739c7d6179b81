"""Paper, and how a sheet is laid on it: the largest elevation with which everything fits on the fewest pages."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from reports.drawing import Drawing
from reports.drawing_scale import SCALES
from reports.drawing_text import text_width

PaperName = Literal["a4", "letter"]
PAPERS: dict[PaperName, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""mm, upright"""
SIDE, TOP, BOTTOM = 9.0, 15.0, 12.0
"""mm, margins; the head of a page stands in the upper one, its foot in the lower one."""

HEAD = 11.5
"""mm, title of a sheet with its line of facts."""
LINE = 3.7
"""mm, a line of a list."""
ROW = 3.9
"""mm, a row of the table of cavities."""
TALLEST_ROW = 5.5
TABLE_WIDTH = 90.5
"""mm, narrowest column of that table; 2.5 mm between two."""
CLOSE = 8.0
"""mm, the line of ticks at the end."""
LIST_TEXT = 2.65
"""mm, font of lists (7.5 pt)"""
READABLE_SCALE = 75.0
"""An elevation is not drawn smaller than this only to save a page."""
_FEWEST_ROWS = 4

Row = Mapping[str, str]
"""One row of the table of cavities as the template takes it."""


@dataclass(frozen=True, slots=True)
class Page:
    """One way of laying the paper. width, height: mm inside the margins."""

    landscape: bool
    width: float
    height: float

    @property
    def columns(self) -> int:
        """Columns of the table of cavities side by side."""
        return max(1, int((self.width + 2.5) / (TABLE_WIDTH + 2.5)))


@dataclass(frozen=True, slots=True)
class Block:
    """Rows of the table on one page, in columns."""

    new_page: bool
    columns: tuple[tuple[Row, ...], ...]
    row_height: float
    """mm; more than `ROW` where the page has room, since rows are ticked by hand"""


@dataclass(frozen=True, slots=True)
class Layout:
    """A sheet laid out."""

    page: Page
    drawing: Drawing
    blocks: tuple[Block, ...]
    spilled: int = 0
    """Pages that the lists need beyond the first; 0 but where they are longer than any page."""

    @property
    def n_pages(self) -> int:
        """Pages that the sheet is expected to take."""
        return 1 + self.spilled + sum(block.new_page for block in self.blocks)


def pages(paper: PaperName) -> tuple[Page, Page]:
    """Upright and across."""
    width, height = PAPERS[paper]
    return (
        Page(False, width - 2 * SIDE, height - TOP - BOTTOM),
        Page(True, height - 2 * SIDE, width - TOP - BOTTOM),
    )


def lines_height(texts: Sequence[str], width: float) -> float:
    """mm; height of a list of texts that wrap at a width, a little on the safe side."""
    return sum(LINE * max(1, ceil(text_width(text, LIST_TEXT) / (0.96 * width))) for text in texts)


def lay_out(
    paper: PaperName,
    draw: Callable[[Page, float], Drawing | None],
    lists: Callable[[Page], float],
    rows: Sequence[Row],
) -> Layout:
    """The layout with the fewest pages; between equals the largest elevation, upright before across.

    draw: the elevation for a page at a scale, None where it does not fit the page. lists: height of what stands between
    elevation and table on a page, mm.
    """
    found: list[tuple[tuple[int, int, float, bool], Layout]] = []
    for scale in (*SCALES, 150.0, 200.0, 500.0, 1000.0):
        if scale > READABLE_SCALE and any(not layout.spilled for _, layout in found):
            break
        for page in pages(paper):
            drawing = draw(page, scale)
            if drawing is None:
                continue
            left = page.height - HEAD - drawing.height - lists(page) - CLOSE
            spilled = ceil(max(0.0, -left) / page.height)
            layout = Layout(page, drawing, _blocks(rows, left + spilled * page.height, page), spilled)
            if layout.n_pages == 1:
                return layout
            found.append(((spilled, layout.n_pages, scale, page.landscape), layout))
    return min(found, key=lambda entry: entry[0])[1]


def _blocks(rows: Sequence[Row], left: float, page: Page) -> tuple[Block, ...]:
    """Rows shared out over the rest of the first page and further pages."""
    blocks: list[Block] = []
    start, room, new_page = 0, left, False
    while start < len(rows):
        most = int((room - 7.0) / ROW) - 1
        if most < min(_FEWEST_ROWS, ceil((len(rows) - start) / page.columns)) and not new_page:
            room, new_page = page.height - CLOSE, True
            continue
        share = rows[start : start + max(most, 1) * page.columns]
        each = ceil(len(share) / page.columns)
        columns = tuple(tuple(share[n : n + each]) for n in range(0, len(share), each))
        height = min(TALLEST_ROW, max(ROW, (room - 7.0) / (each + 1)))
        blocks.append(Block(new_page, columns, floor(100.0 * height) / 100.0))
        start += len(share)
        room, new_page = page.height - CLOSE, True
    return tuple(blocks)
