"""`bayfill survey`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reports.commands.shared import JobPath, ModelPath, job_from, one_line_errors, plain_console, taken_off
from reports.files import OutputError, check_new, write_text
from reports.ids_check import requests_of
from reports.ids_out import write_ids
from reports.survey import request_blocks, survey_blocks
from takeoff.job_writer import commented_job
from takeoff.wall_types import wall_types


def survey(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="JOB.toml", help="Write a commented job file to correct.")
    ] = None,
    ids: Annotated[
        Path | None, typer.Option("--ids", metavar="FILE.ids", help="Write what a model needs as IDS 1.0, to pass on.")
    ] = None,
) -> None:
    """Survey a model: list its wall types, how each was understood, and what it lacks; write a job file to correct."""
    with one_line_errors():
        for target in (out, ids):
            if target is not None:
                check_new(target)
        if out is not None and out == ids:
            raise OutputError(f"{out} cannot be the job file and the IDS file at once: name two files")
        chosen = job_from(job)
        read, result = taken_off(model, chosen)
        types = wall_types(read, result)
        console = plain_console()
        console.print(survey_blocks(result, types, chosen.report.units))
        requests = requests_of(model, read)
        if requests:
            console.print(request_blocks(requests))
        if out is None:
            console.print("What was misunderstood is set right in a job file: add --out JOB.toml to write one.")
        else:
            write_text(out, commented_job(chosen, types))
            console.print(f"Job file: {out}", soft_wrap=True)
        if ids is not None:
            write_ids(ids)
            console.print(f"IDS file: {ids}", soft_wrap=True)
