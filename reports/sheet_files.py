"""The folder of the crew sheets: what stands in it, and how it is written whole or not at all."""

from __future__ import annotations

import re
from pathlib import Path

from reports.crew_pages import PaperName
from reports.crew_sheets import ELEVATIONS, PDF_NAME, crew_sheet_files
from reports.files import FolderKind, begins_with, check_target, write_folder
from takeoff.columns import csv_text
from takeoff.hole_tables import HAND_FILLS, HOLES
from takeoff.preparation_tables import PREPARATIONS
from takeoff.result import Takeoff

SHEET_TABLES = (HOLES, HAND_FILLS, PREPARATIONS)
"""Tables that the folder holds beside the sheets: those of `bayfill takeoff`, word for word."""
_ELEVATION = re.compile(r"(unfilled-)?\d{3,}-[a-z0-9-]+\.(svg|dxf)")


def _is_ours(folder: Path) -> bool:
    """True where the table of holes is ours and nothing but our drawings stands among the elevations."""
    drawings = folder / ELEVATIONS
    names = [entry.name for entry in drawings.iterdir()] if drawings.is_dir() else []
    return begins_with(folder / f"{HOLES.name}.csv", ",".join(HOLES.column_names[:3])) and all(
        _ELEVATION.fullmatch(name) for name in names
    )


SHEETS = FolderKind(
    frozenset({PDF_NAME, ELEVATIONS, *(f"{table.name}.csv" for table in SHEET_TABLES)}),
    _is_ours,
)
"""The folder of `bayfill sheets`."""


def sheet_files(takeoff: Takeoff, paper: PaperName = "a4", processes: int = 1) -> dict[str, str | bytes]:
    """Everything in the folder, by path within it. Same takeoff, same bytes. Raises as `crew_sheet_files` does."""
    tables = takeoff.tables()
    texts = {f"{table.name}.csv": csv_text(table, tables[table.name].columns) for table in SHEET_TABLES}
    return {**crew_sheet_files(takeoff, paper, processes), **texts}


def write_sheets(takeoff: Takeoff, folder: Path, paper: PaperName = "a4", processes: int = 1) -> tuple[Path, ...]:
    """Writes the folder and returns the paths in it. processes: among how many the drawing is shared out.

    A folder of ours from an earlier run is replaced; one that holds anything else is refused. Raises OutputError, and
    CrewSheetError where the sheets cannot be made.
    """
    check_target(folder, SHEETS)
    files = sheet_files(takeoff, paper, processes)
    write_folder(folder, files)
    return tuple(folder / name for name in files)
