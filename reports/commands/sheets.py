"""`bayfill sheets`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reports.commands.shared import (
    JobPath,
    ModelPath,
    OtherPaths,
    Quiet,
    job_from,
    one_line_errors,
    plain_console,
    taken_off,
    tell_letters,
)
from reports.complaints import NOTHING_READ, complain
from reports.crew_sheets import PDF_NAME
from reports.drawing_dxf import has_dxf
from reports.files import check_target
from reports.sheet_files import SHEETS, write_sheets
from reports.summary import plural
from takeoff.model import Status
from takeoff.shares import processes_here


class Paper(StrEnum):
    """Paper of the sheets."""

    A4 = "a4"
    LETTER = "letter"


def sheets(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the sheets; default MODEL-sheets.")
    ] = None,
    other: OtherPaths = None,
    paper: Annotated[Paper, typer.Option("--paper", help="Paper of the sheets.", case_sensitive=False)] = Paper.A4,
    quiet: Quiet = False,
) -> None:
    """Make crew sheets: a PDF to pin to the walls, elevations as drawings, tables of holes and hand-filled places."""
    with one_line_errors():
        folder = out if out is not None else Path(f"{model.stem}-sheets")
        check_target(folder, SHEETS)
        _, result = taken_off(model, job_from(job), tuple(other or ()))
        paths = write_sheets(result, folder, paper.value, processes_here())
        if not quiet:
            drawn = sum(path.suffix == ".svg" for path in paths)
            console = plain_console()
            console.print(f"Crew sheets: {folder / PDF_NAME}, {plural(drawn, 'elevation')} beside it", soft_wrap=True)
            tell_letters(
                console, (text for row in result.results for text in (row.wall.name, row.wall.storey)), PDF_NAME
            )
            if not has_dxf():
                console.print("Elevations are SVG only; for DXF too, install the package ezdxf: pip install ezdxf")
    if result.results and all(row.status is Status.FAILED for row in result.results):
        complain(f"{model.name}: none of its {len(result.results)} walls could be read; the cover says why for each")
        raise typer.Exit(NOTHING_READ)
