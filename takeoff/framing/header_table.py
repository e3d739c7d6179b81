"""Header depth and jack studs by span: the table of the code as data, and the choice made from it."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from takeoff.framing.rules import FramingRules
from takeoff.units import FOOT, INCH


@dataclass(frozen=True, slots=True)
class HeaderRow:
    """One row: the header carries this much over this clear width with so many jack studs each end."""

    carries: str
    header: str
    depth: float
    """m"""
    span: float
    """m"""
    jack_studs: int
    source: str


@dataclass(frozen=True, slots=True)
class HeaderChoice:
    """The header of one opening. `beyond` is True where the opening is wider than the table goes."""

    row: HeaderRow
    jack_studs: int
    beyond: bool


@cache
def header_table() -> tuple[HeaderRow, ...]:
    """All rows, shallowest first for each load. Source: IRC 2021 Table R602.7(1), as each row says."""
    text = (files("takeoff") / "data" / "framing_headers.csv").read_text(encoding="utf-8")
    return tuple(
        HeaderRow(
            carries=row["carries"],
            header=row["header"],
            depth=float(row["depth_in"]) * INCH,
            span=float(row["span_ft"]) * FOOT + float(row["span_in"]) * INCH,
            jack_studs=int(row["jack_studs"]),
            source=row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def header_for(span: float, rules: FramingRules) -> HeaderChoice:
    """The shallowest header that carries the rules' load over a clear width, m, with its jack studs each side.

    Beyond the table the deepest row is taken and marked; such a header has to be engineered.
    """
    rows = [row for row in header_table() if row.carries == rules.header_carries]
    fitting = [row for row in rows if span <= row.span + 1e-6]
    row = fitting[0] if fitting else rows[-1]
    return HeaderChoice(row, _jack_studs(span, row, rules), beyond=not fitting)


def _jack_studs(span: float, row: HeaderRow, rules: FramingRules) -> int:
    if rules.jack_rule == "none":
        return 0
    if rules.jack_rule == "by_width":
        return 1 if span <= rules.one_jack_width + 1e-6 else 2
    return row.jack_studs
