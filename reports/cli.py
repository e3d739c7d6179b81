"""The command `bayfill`: its parts stand in reports/commands, each parses, calls library functions, prints.

Exit codes: 0 the run came to its end; 1 it ran, but no wall of the model could be read; 2 bad input or no place to
write; 130 interrupted. Anything wrong is one line on stderr, never a traceback.
"""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from collections.abc import Iterable
from importlib import import_module
from typing import Annotated, NoReturn, TextIO

import typer

from reports.complaints import BAD_INPUT, INTERRUPTED, STOPPED, complain

COMMANDS = ("takeoff", "survey", "sheets", "quote", "check")
"""Each is the function of its own name in the module of its own name in reports/commands."""


def application(names: Iterable[str] = COMMANDS) -> typer.Typer:
    """The program with these of its commands."""
    app = typer.Typer(
        add_completion=False,
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        help="Takes off the cavities of framed walls from a building model, for blown-in insulation behind netting.",
    )
    app.callback()(options)
    for name in names:
        app.command()(getattr(import_module(f"reports.commands.{name}"), name))
    return app


def _version(wanted: bool) -> None:
    if wanted:
        from importlib import metadata  # only here: it costs 0.03 s

        try:
            print(f"bayfill {metadata.version('bayfill')}")
        except metadata.PackageNotFoundError:
            print("bayfill, run from its source folder")
        raise typer.Exit


def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and stop.")
    ] = False,
) -> None:
    """Takes off the cavities of framed walls from a building model, for blown-in insulation behind netting."""


def run() -> None:
    """Runs the command that the first word names; only its modules are loaded, all of them where it names none.

    Raises SystemExit with the exit code.
    """
    # There are records by the hundred thousand and next to no cycles; to look for these took a sixteenth of a run.
    gc.disable()
    first = sys.argv[1:2]
    application(first if first and first[0] in COMMANDS else COMMANDS)(prog_name="bayfill")


def main() -> NoReturn:
    """Runs the command and ends the process."""
    # A stream that the caller has closed takes what is written, and nobody reads it.
    sys.stdout, sys.stderr = sys.stdout or _nowhere(), sys.stderr or _nowhere()
    code: object = None
    try:
        run()
    except SystemExit as ended:
        code = ended.code
    except KeyboardInterrupt:  # while modules were still loaded
        complain(STOPPED)
        code = INTERRUPTED
    except OSError as error:  # no room for what it has to say
        complain(f"stopped by the system: {error}")
        code = BAD_INPUT
    # At once: everything is written, and to take a large model's records apart one by one takes a twelfth of a run.
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError):  # whoever read it may be gone, or it was closed
            stream.flush()
    os._exit(code if isinstance(code, int) else int(code is not None))


def _nowhere() -> TextIO:
    return open(os.devnull, "w", encoding="utf-8")  # open until the process ends
