"""`bayfill takeoff`."""

from __future__ import annotations

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
)
from reports.complaints import NOTHING_READ, complain
from reports.files import check_target, write_results
from reports.summary import summary
from takeoff.model import Status
from takeoff.shares import processes_here


def takeoff(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the result files; default MODEL-takeoff.")
    ] = None,
    other: OtherPaths = None,
    page: Annotated[
        bool, typer.Option("--page/--no-page", help="Write takeoff.html, the takeoff in 3D that opens offline.")
    ] = True,
    quiet: Quiet = False,
) -> None:
    """Take off a model: find its framed walls and their cavities, write result files, print a summary."""
    with one_line_errors():
        folder = out if out is not None else Path(f"{model.stem}-takeoff")
        check_target(folder)
        _, result = taken_off(model, job_from(job), tuple(other or ()))
        write_results(result, folder, page=page, processes=processes_here())
        if not quiet:
            console = plain_console()
            console.print(summary(result, result.job.report.units))
            console.print(f"Result files: {folder}", soft_wrap=True)
    if result.results and all(row.status is Status.FAILED for row in result.results):
        complain(f"{model.name}: none of its {len(result.results)} walls could be read; walls.csv says why for each")
        raise typer.Exit(NOTHING_READ)
