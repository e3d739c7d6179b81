"""takeoff.xlsx: the takeoff and its price as a workbook, with live formulas from quantities to totals.

Every formula carries its value, so a program that does not recalculate shows the same. Words from a model are written
as text: none is ever computed, whatever it begins with. The same input gives the same bytes.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reports.quote import QuoteError, QuoteWork, paper_of, quote_notes
from reports.workbook_price import PriceSheets, write_price_sheets
from reports.workbook_style import Sheet, Styles, column_head, number_style
from takeoff.columns import Kind, Table
from takeoff.hole_tables import HOLES
from takeoff.piece_tables import CAVITIES
from takeoff.tables import FINDINGS
from takeoff.units import UnitSystem, prose_in_units, unit_of_report
from takeoff.wall_tables import WALLS

PROSE = frozenset({"reason", "insulated_reason", "message"})
"""Columns of words that may hold measures."""
NO_DATE = datetime.datetime(2000, 1, 1)
"""Stands in the file's properties where the quote has no date: a clock would make other bytes each time."""
MOST_ACROSS = 16
"""Columns of a list that is printed on one page across; wider ones take two."""
MOST_ROWS = 1_000_000
"""Rows of a sheet; a workbook holds 1,048,576."""

WALL_COLUMNS = (
    "name", "type", "storey", "status", "insulated", "external", "length_m", "height_m", "stud_depth_m",
    "gross_area_m2", "opening_area_m2", "framing_area_m2", "cavity_area_m2", "insulated_area_m2", "cavity_volume_m3",
    "fill_volume_m3", "framing_fraction", "framing_source", "framing_rule", "rooms", "reason", "insulated_reason",
    "wall_id",
)  # fmt: skip
CAVITY_COLUMNS = (
    "storey", "room", "kind", "method", "x_min_m", "x_max_m", "z_min_m", "z_max_m", "clear_width_m", "depth_m",
    "area_m2", "volume_m3", "framing_source", "reason", "cavity_id",
)  # fmt: skip
HOLE_COLUMNS = (
    "hole", "pass", "x_m", "z_m", "height_above_floor_m", "ladder", "diameter_m", "cut_m", "reached_area_m2",
    "cavity_id",
)  # fmt: skip
FINDING_COLUMNS = (
    "severity", "code", "message", "measured", "limit", "unit", "element_class", "element_name", "element_id",
    "wall_id",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Listing:
    """A sheet that lists rows of a table. lead: a column before the table's own."""

    name: str
    title: str
    table: Table[Any]
    columns: tuple[str, ...]
    rows: Sequence[Mapping[str, Any]]
    lead: str = ""


def workbook_bytes(work: QuoteWork) -> bytes:
    """The workbook of a quote. Raises QuoteError where its writer is missing."""
    try:
        import xlsxwriter
    except ImportError as error:
        raise QuoteError(
            "takeoff.xlsx needs the package xlsxwriter: install it with 'pip install xlsxwriter'"
        ) from error
    buffer = io.BytesIO()
    options = {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False
    }  # fmt: skip
    book = xlsxwriter.Workbook(buffer, options)
    book.set_properties({"title": "Takeoff and price", "created": _date(work), "comments": _about(work)})
    book.set_calc_mode("auto")
    styles = Styles(book, work.main.book.book.decimals, paper_of(work.main.job) == "letter")
    # The summary stands first but points to the price, so its sheet is made first and filled last.
    summary = Sheet(book, "Summary", styles)
    listings = _listings(work.stored.data, work.system)
    for listing in listings[:3]:
        _write_listing(Sheet(book, listing.name, styles), listing, work.system)
    price = write_price_sheets(book, work, styles)
    _write_listing(Sheet(book, listings[3].name, styles), listings[3], work.system)
    _write_summary(summary, work, price)
    book.close()
    return buffer.getvalue()


def _date(work: QuoteWork) -> datetime.datetime:
    date = work.main.job.quote.date
    return datetime.datetime.fromisoformat(date) if date else NO_DATE


def _about(work: QuoteWork) -> str:
    invented = " The price book is invented." if work.main.book.book.invented else ""
    return f"Written by bayfill from {work.main.basis.model}.{invented}"


# ---------------------------------------------------------------- lists


def _in_units(finding: Mapping[str, Any], system: UnitSystem) -> dict[str, Any]:
    """A finding with its measures in the units of the report."""
    factor, sign = unit_of_report(finding["unit"], system)
    measures = {name: finding[name] / factor for name in ("measured", "limit") if finding[name] is not None}
    return {**finding, **measures, "unit": sign}


def _listings(data: Mapping[str, Any], system: UnitSystem) -> list[_Listing]:
    walls = data["walls"]
    names = {wall["wall_id"]: wall["name"] for wall in walls}
    layers = [(wall["wall_id"], layer) for wall in walls for layer in wall["layers"]]

    def nested(name: str) -> list[dict[str, Any]]:
        return [{"wall": names[wall], **row} for wall, layer in layers for row in layer[name]]

    return [
        _Listing("Walls", "Walls: every wall of the model, whatever came of it", WALLS, WALL_COLUMNS, walls),
        _Listing(
            "Cavities", "Cavities, slivers and openings of the stud layers", CAVITIES, CAVITY_COLUMNS,
            nested("cavities"), "wall",
        ),
        _Listing("Holes", "Holes in the netting", HOLES, HOLE_COLUMNS, nested("holes"), "wall"),
        _Listing(
            "Findings", "Findings: flaws of the model, and decisions", FINDINGS, FINDING_COLUMNS,
            [_in_units(row, system) for row in data["findings"]],
        ),
    ]  # fmt: skip


def _write_listing(sheet: Sheet, listing: _Listing, system: UnitSystem) -> None:
    columns = {column.name: column for column in listing.table.columns}
    chosen = [columns[name] for name in listing.columns]
    heads = [column_head(column.name, column.unit, system) for column in chosen]
    heads = [listing.lead, *heads] if listing.lead else heads
    sheet.title(listing.title)
    sheet.header(heads)
    for row in listing.rows[:MOST_ROWS]:
        cells: list[tuple[Any, str]] = [(row[listing.lead], "text")] if listing.lead else []
        for column in chosen:
            value = row.get(column.name)
            if column.kind is Kind.NUMBER and value is not None:
                value = value / unit_of_report(column.unit, system)[0]
            elif column.kind is Kind.TRUTH and value is not None:
                value = "yes" if value else "no"
            elif column.name in PROSE and value is not None:
                value = prose_in_units(value, system, names=listing.table is not CAVITIES)
            cells.append((value, number_style(column.unit, system) if column.kind is Kind.NUMBER else "text"))
        sheet.row(cells)
    sheet.finish(pages=(2, 0) if len(heads) > MOST_ACROSS else (1, 0))


# ---------------------------------------------------------------- summary


def _write_summary(sheet: Sheet, work: QuoteWork, price: PriceSheets) -> None:
    main, sums, system = work.main, work.sums, work.system
    facts = main.book.book
    sheet.title("Summary")
    if facts.invented:
        sheet.note("The price book of this workbook is invented: no name or price in it is real.")
    sheet.note("Cells with this fill are inputs: change them and all that rests on them follows.", style="input_text")
    sheet.header(["what", "value", "unit"])
    area, area_unit = unit_of_report("m2", system)
    volume, volume_unit = unit_of_report("m3", system)
    mass, mass_unit = unit_of_report("kg", system)
    fibre = main.schedule.line("fibre")
    rows: list[tuple[str, Any, str]] = [
        ("project", main.basis.project, ""),
        ("model", main.basis.model, ""),
        ("price book", facts.title, ""),
        ("walls in the model", len(main.basis.walls), ""),
        ("walls that are filled", sums.walls, ""),
        ("insulated area, openings deducted", sums.net_area / area, area_unit),
        ("billed area", sums.billed_area / area, area_unit),
        ("of the insulated area, frame modelled", sums.modelled_area / area, area_unit),
        ("blown cavities", sums.blown_cavities, ""),
        ("blown volume", sums.blown_volume / volume, volume_unit),
        ("fibre in place", (fibre.net if fibre is not None else 0.0) / mass, mass_unit),
        ("fill holes", sums.holes, ""),
        ("places filled by hand", sums.hand_places, ""),
        ("days of work", len(main.days), ""),
    ]
    for words, value, unit in rows:
        style = "text" if isinstance(value, str) else "count" if isinstance(value, int) else "two"
        sheet.row([(words, "text"), (value, style), (unit, "text")])
    currency = facts.currency
    sheet.row([("price before tax", "text"), (price.before_tax, "money"), (currency, "text")])
    words = "fixed price, with tax" if main.price.fixed else "NOT A FIXED PRICE: sum of what is priced, with tax"
    sheet.row([(words, "strong"), (price.total, "money_strong"), (currency, "text")])
    for note in quote_notes(work):
        sheet.note(note)
    sheet.widths([64, 34, 10])
    sheet.finish()
