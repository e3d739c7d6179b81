"""Everything that `bayfill quote` writes, made from a takeoff.json: the same file gives the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reports.files import FolderKind, begins_with, check_target, write_folder
from reports.quote import QuoteWork, quote_pdf
from reports.workbook import workbook_bytes
from takeoff.columns import Table, column_texts, csv_head, csv_text
from takeoff.schedule_tables import (
    ALTERNATES,
    DAYS,
    FIGURES,
    LABOUR,
    LOADS,
    PIECES,
    PRICE,
    QUOTE_TABLES,
    RISK,
    ROOMS,
    SCHEDULE,
    SCOPE,
    SHARES,
    LineRow,
    ScopeLine,
    load_rows,
    money_rows,
    risk_rows,
    room_rows,
    share_rows,
)

PDF_NAME, WORKBOOK_NAME = "quote.pdf", "takeoff.xlsx"
QUOTE_NAMES = (PDF_NAME, WORKBOOK_NAME, *(f"{table.name}.csv" for table in QUOTE_TABLES))
"""Every file that a quote's folder holds."""
QUOTES = FolderKind(frozenset(QUOTE_NAMES), lambda folder: begins_with(folder / f"{PRICE.name}.csv", csv_head(PRICE)))
"""The folder of `bayfill quote`."""


def quote_files(work: QuoteWork, *, show_risk: bool = False) -> dict[str, str | bytes]:
    """Every file of a quote by name. Raises QuoteError where a writer is missing or fails."""
    pdf, figures = quote_pdf(work, show_risk=show_risk)
    texts = {
        f"{table.name}.csv": csv_text(table, column_texts(table, rows)) for table, rows in quote_rows(work, figures)
    }
    return {PDF_NAME: pdf, WORKBOOK_NAME: workbook_bytes(work), **texts}


def quote_rows(work: QuoteWork, figures: Sequence[tuple[str, str]]) -> list[tuple[Table[Any], Sequence[Any]]]:
    """Every table of a quote with its rows."""
    main, system = work.main, work.system
    layout = main.schedule.layout
    return [
        (FIGURES, figures),
        (SCHEDULE, [LineRow(line, system) for line in main.schedule.lines]),
        (SHARES, share_rows(main.schedule)),
        (ROOMS, room_rows(main.schedule)),
        (PIECES, [(strip, layout) for strip in layout.strips]),
        (LABOUR, main.items),
        (DAYS, main.days),
        (LOADS, load_rows(main.days)),
        (PRICE, money_rows(main)),
        (SCOPE, [ScopeLine(row, system) for row in work.scope]),
        (ALTERNATES, work.alternates),
        (RISK, risk_rows(work.risk)),
    ]


def write_quote(work: QuoteWork, folder: Path, *, show_risk: bool = False) -> tuple[Path, ...]:
    """Writes all files of a quote and returns their paths.

    A quote of ours from an earlier run is replaced; a folder that holds anything else is refused. Raises OutputError,
    and QuoteError as `quote_files` does.
    """
    check_target(folder, QUOTES)
    files = quote_files(work, show_risk=show_risk)
    write_folder(folder, files)
    return tuple(folder / name for name in files)
