"""`bayfill survey`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reports.commands.shared import JobPath, ModelPath, job_from, one_line_errors, plain_console, taken_off
from reports.files import write_text
from reports.survey import survey_blocks
from takeoff.job_writer import commented_job
from takeoff.wall_types import wall_types


def survey(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="JOB.toml", help="Write a commented job file to correct.")
    ] = None,
) -> None:
    """Survey a model: list its wall types and how each was understood; write a job file to correct."""
    with one_line_errors():
        chosen = job_from(job)
        read, result = taken_off(model, chosen)
        types = wall_types(read, result)
        console = plain_console()
        console.print(survey_blocks(result, types, chosen.report.units))
        if out is None:
            console.print("What was misunderstood is set right in a job file: add --out JOB.toml to write one.")
        else:
            write_text(out, commented_job(chosen, types))
            console.print(f"Job file: {out}", soft_wrap=True)
