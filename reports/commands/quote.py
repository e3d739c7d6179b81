"""`bayfill quote`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reports.commands.shared import (
    JobPath,
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
from reports.quote import out_of_date, quote_notes, quote_work
from reports.quote_files import QUOTES, write_quote
from reports.quote_summary import quote_summary
from reports.takeoff_json import takeoff_json
from takeoff.errors import TakeoffError
from takeoff.job import load_job
from takeoff.model import Status
from takeoff.price_book import load_price_book
from takeoff.schedule_stored import StoredTakeoff, read_stored, stored_takeoff, with_job

JSON_ENDING = ".json"


def quote(
    source: Annotated[
        Path, typer.Argument(metavar="MODEL", help="Building model, .ifc or .ifczip, or a takeoff.json made from one.")
    ],
    prices: Annotated[Path, typer.Option("--prices", metavar="BOOK.toml", help="Price book: packages, prices, rates.")],
    job: JobPath = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for the quote; default MODEL-quote.")
    ] = None,
    other: OtherPaths = None,
    show_risk: Annotated[
        bool, typer.Option("--show-risk", help="Print the simulated range of the price in quote.pdf too.")
    ] = False,
    quiet: Quiet = False,
) -> None:
    """Price a takeoff: materials, labour, truck loads, quote.pdf for the builder, takeoff.xlsx with live formulas."""
    with one_line_errors():
        folder = out if out is not None else Path(f"{_stem(source)}-quote")
        check_target(folder, QUOTES)
        book = load_price_book(prices)
        stored = _stored(source, job, tuple(other or ()))
        work = quote_work(stored, book)
        write_quote(work, folder, show_risk=show_risk)
        if not quiet:
            console = plain_console()
            console.print(quote_summary(work))
            for note in quote_notes(work):
                console.print(f"Mind: {note}")
            tell_letters(
                console, (text for wall in stored.basis.walls for text in (wall.type_name, wall.storey)), "quote.pdf"
            )
            console.print(f"Quote: {folder}", soft_wrap=True)
    if not work.main.price.holds:
        complain(out_of_date(work.main))
    walls = stored.basis.walls
    if walls and all(wall.status == Status.FAILED for wall in walls):
        complain(f"{source.name}: none of its {len(walls)} walls could be read, so nothing is priced")
        raise typer.Exit(NOTHING_READ)


def _stem(source: Path) -> str:
    """What the folder is named after: of a takeoff.json, the folder that it lies in."""
    if source.suffix == JSON_ENDING and source.stem == "takeoff":
        return source.absolute().parent.name.removesuffix("-takeoff") or "takeoff"
    return source.stem


def _stored(source: Path, job: Path | None, others: tuple[Path, ...]) -> StoredTakeoff:
    """The takeoff as stored; a model is taken off first, and then goes the same way."""
    if source.suffix != JSON_ENDING:
        _, result = taken_off(source, job_from(job), others)
        return stored_takeoff(takeoff_json(result))
    if others:
        raise TakeoffError(f"{source} is taken off already, so --with has no effect: take the model off again")
    stored = read_stored(source)
    return stored if job is None else with_job(stored, load_job(job))
