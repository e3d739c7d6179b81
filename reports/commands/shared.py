"""What the commands share: arguments, reading with progress, the console, and errors as one line."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console

from reports.complaints import BAD_INPUT, INTERRUPTED, STOPPED, complain
from reports.drawing_text import is_covered
from reports.progress import progress_bar
from takeoff.building import Model
from takeoff.errors import TakeoffError
from takeoff.job import Job, default_job, load_job
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from takeoff.result import Takeoff
from takeoff.shares import processes_here

PIPE_WIDTH = 110
"""Characters a line, where output does not go to a terminal that has a width of its own."""

ModelPath = Annotated[Path, typer.Argument(metavar="MODEL", help="Building model, .ifc or .ifczip.")]
JobPath = Annotated[
    Path | None,
    typer.Option("--job", metavar="JOB.toml", help="Job file with your assumptions; built-in defaults else."),
]
OtherPaths = Annotated[
    list[Path] | None,
    typer.Option("--with", metavar="OTHER.ifc", help="Model of another trade to deduct (repeat for more)."),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]


def job_from(path: Path | None) -> Job:
    """The job file, or the built-in defaults."""
    return load_job(path) if path is not None else default_job()


def taken_off(path: Path, job: Job, others: tuple[Path, ...] = ()) -> tuple[Model, Takeoff]:
    """The model as read and its takeoff, with progress on stderr."""
    with progress_bar(sys.stderr) as progress:
        model = read_model(path, with_paths=others, progress=progress, processes=processes_here())
        return model, take_off_model(model, job, progress=progress, processes=processes_here())


class _PlainConsole(Console):
    def on_broken_pipe(self) -> None:
        """Ends the command as done: who reads the summary has read enough, and the files stand before it is told."""
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # or the last flush would fail again
        raise typer.Exit


def plain_console() -> Console:
    """Plain console: names from a model are never read as markup."""
    width = None if sys.stdout.isatty() else PIPE_WIDTH
    return _PlainConsole(markup=False, emoji=False, highlight=False, width=width)


def tell_letters(console: Console, names: Iterable[str], pdf: str) -> None:
    """One line where names of the model have letters that the shipped font has not: on paper they may be boxes."""
    odd = [name for name in dict.fromkeys(names) if not is_covered(name)]
    if odd:
        console.print(
            f"{pdf} needs a font of this machine for the letters of {odd[0]!r}"
            f"{f' and {len(odd) - 1} more names' if len(odd) > 1 else ''}: look whether they are printed.",
            soft_wrap=True,
        )


@contextmanager
def one_line_errors() -> Iterator[None]:
    """Turns what the user has to mend into one line and an exit code."""
    try:
        yield
    except TakeoffError as error:
        complain(str(error))
        raise typer.Exit(BAD_INPUT) from None
    except KeyboardInterrupt:
        complain(STOPPED)
        raise typer.Exit(INTERRUPTED) from None
