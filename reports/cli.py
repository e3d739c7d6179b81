"""The command: parse, call one library function, print, choose the exit code.

Exit codes: 0 the run came to its end; 1 it ran, but no wall of the model could be read; 2 bad input or no place to
write; 130 interrupted. Anything wrong is one line on stderr, never a traceback.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from reports.files import check_target, write_results, write_text
from reports.progress import progress_bar
from reports.summary import summary
from reports.survey import survey_blocks
from takeoff.errors import TakeoffError
from takeoff.job import Job, default_job, load_job
from takeoff.job_writer import commented_job
from takeoff.model import Model, Status
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from takeoff.result import Takeoff
from takeoff.wall_types import wall_types

NOTHING_READ = 1
BAD_INPUT = 2
INTERRUPTED = 130
PIPE_WIDTH = 110
"""Characters a line, where output does not go to a terminal that has a width of its own."""

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Takes off the cavities of framed walls from a building model, for blown-in insulation behind netting.",
)

ModelPath = Annotated[Path, typer.Argument(metavar="MODEL", help="Building model, .ifc or .ifczip.")]
JobPath = Annotated[
    Path | None,
    typer.Option("--job", metavar="JOB.toml", help="Job file with your assumptions; built-in defaults else."),
]


def _version(wanted: bool) -> None:
    if wanted:
        from importlib import metadata  # only here: it costs 0.03 s

        try:
            print(f"bayfill {metadata.version('bayfill')}")
        except metadata.PackageNotFoundError:
            print("bayfill, run from its source folder")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Takes off the cavities of framed walls from a building model, for blown-in insulation behind netting."""


@app.command()
def takeoff(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the result files; default MODEL-takeoff.")
    ] = None,
    other: Annotated[
        list[Path] | None,
        typer.Option("--with", metavar="OTHER.ifc", help="Model of another trade to deduct (repeat for more)."),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")] = False,
) -> None:
    """Take off a model: find its framed walls and their cavities, write result files, print a summary."""
    with _one_line_errors():
        folder = out if out is not None else Path(f"{model.stem}-takeoff")
        check_target(folder)
        _, result = _taken_off(model, _job(job), tuple(other or ()))
        write_results(result, folder)
        if not quiet:
            console = _console()
            console.print(summary(result, result.job.report.units))
            console.print(f"Result files: {folder}", soft_wrap=True)
    if result.results and all(row.status is Status.FAILED for row in result.results):
        _complain(f"{model.name}: none of its {len(result.results)} walls could be read; walls.csv says why for each")
        raise typer.Exit(NOTHING_READ)


@app.command()
def survey(
    model: ModelPath,
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="JOB.toml", help="Write a commented job file to correct.")
    ] = None,
) -> None:
    """Survey a model: list its wall types and how each was understood; write a job file to correct."""
    with _one_line_errors():
        chosen = _job(job)
        read, result = _taken_off(model, chosen)
        types = wall_types(read, result)
        console = _console()
        console.print(survey_blocks(result, types, chosen.report.units))
        if out is None:
            console.print("What was misunderstood is set right in a job file: add --out JOB.toml to write one.")
        else:
            write_text(out, commented_job(chosen, types))
            console.print(f"Job file: {out}", soft_wrap=True)


def _job(path: Path | None) -> Job:
    return load_job(path) if path is not None else default_job()


def _taken_off(path: Path, job: Job, others: tuple[Path, ...] = ()) -> tuple[Model, Takeoff]:
    with progress_bar(sys.stderr) as progress:
        model = read_model(path, with_paths=others, progress=progress)
        return model, take_off_model(model, job, progress=progress)


def _console() -> Console:
    """Plain console: names from a model are never read as markup."""
    width = None if sys.stdout.isatty() else PIPE_WIDTH
    return Console(markup=False, emoji=False, highlight=False, width=width)


def _complain(line: str) -> None:
    print(f"bayfill: {' '.join(line.split())}", file=sys.stderr)


@contextmanager
def _one_line_errors() -> Iterator[None]:
    """Turns what the user has to mend into one line and an exit code."""
    try:
        yield
    except TakeoffError as error:
        _complain(str(error))
        raise typer.Exit(BAD_INPUT) from None
    except KeyboardInterrupt:
        _complain("interrupted; nothing was written")
        raise typer.Exit(INTERRUPTED) from None


def main() -> None:
    """Runs the command."""
    app(prog_name="bayfill")
