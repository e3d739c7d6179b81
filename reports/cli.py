"""The command `bayfill`: its parts stand in reports/commands, each parses, calls library functions, prints.

Exit codes: 0 the run came to its end; 1 it ran, but no wall of the model could be read; 2 bad input or no place to
write; 130 interrupted. Anything wrong is one line on stderr, never a traceback.
"""

from __future__ import annotations

import gc
from typing import Annotated

import typer

from reports.commands.check import check
from reports.commands.quote import quote
from reports.commands.sheets import sheets
from reports.commands.survey import survey
from reports.commands.takeoff import takeoff

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="Takes off the cavities of framed walls from a building model, for blown-in insulation behind netting.",
)
for command in (takeoff, survey, sheets, quote, check):
    app.command()(command)


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


def main() -> None:
    """Runs the command."""
    # There are records by the hundred thousand and next to no cycles; to look for these took a sixteenth of a run.
    gc.disable()
    app(prog_name="bayfill")
