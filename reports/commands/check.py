"""`bayfill check`."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from reports.check_files import CHECK, write_check
from reports.check_summary import check_summary
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
from reports.files import check_target
from takeoff.model import Status
from takeoff.plans.declared_areas import load_declared_areas
from takeoff.plans.plan_check import check_plans


class Paper(StrEnum):
    """Paper of the statement."""

    A4 = "a4"
    LETTER = "letter"


def check(
    model: ModelPath,
    declared: Annotated[
        Path | None,
        typer.Option("--declared", metavar="AREAS.csv", help="Areas and values that the plans declare, as CSV."),
    ] = None,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the check's files; default MODEL-check.")
    ] = None,
    other: OtherPaths = None,
    paper: Annotated[Paper, typer.Option("--paper", help="Paper of the statement.", case_sensitive=False)] = Paper.A4,
    no_ifc: Annotated[
        bool, typer.Option("--no-ifc", help="Leave out the copy of the model that holds the takeoff.")
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Check a model against the plans: insulated areas, U-values, targets, and what the model itself declares."""
    with one_line_errors():
        folder = out if out is not None else Path(f"{model.stem}-check")
        check_target(folder, CHECK)
        lines = load_declared_areas(declared) if declared is not None else ()
        read, result = taken_off(model, job_from(job), tuple(other or ()))
        found = check_plans(read, result, lines, declared.name if declared is not None else "")
        write_check(read, found, folder, paper.value, copy=not no_ifc)
        if not quiet:
            console = plain_console()
            console.print(check_summary(read, found, result.job.report.units))
            tell_letters(
                console,
                (text for row in result.results for text in (row.wall.name, row.wall.type_name, row.wall.storey)),
                "The statement",
            )
            console.print(f"Check files: {folder}", soft_wrap=True)
    if result.results and all(row.status is Status.FAILED for row in result.results):
        complain(f"{model.name}: none of its {len(result.results)} walls could be read; findings.csv says why for each")
        raise typer.Exit(NOTHING_READ)
