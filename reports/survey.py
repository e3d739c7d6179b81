"""The survey of a model: its wall types, how each was understood, and a job file to correct."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports.ids_check import Request
from reports.summary import headline, plural
from takeoff.job_writer import WallTypeSummary
from takeoff.result import Takeoff
from takeoff.units import UnitSystem, format_area

MOST_EXAMPLES = 3
"""GlobalIds shown of a type."""


def survey_blocks(takeoff: Takeoff, types: Sequence[WallTypeSummary], system: UnitSystem) -> Group:
    """The survey as rich blocks, to be printed without markup."""
    walls = sum(row.count for row in types)
    blocks: list[RenderableType] = [
        Text(headline(takeoff)),
        Text(f"{plural(walls, 'wall')} of {plural(len(types), 'type')}"),
        Text(""),
    ]
    for row in types:
        blocks += type_block(row, system)
    return Group(*blocks)


def request_blocks(requests: Sequence[Request]) -> Group:
    """What to ask the architect for, as rich blocks; nothing where there is nothing to ask for."""
    if not requests:
        return Group()
    lines = [Padding(Text(f"- {request.text}"), (0, 0, 0, 2)) for request in requests]
    return Group(Text("To ask the architect for", style="bold"), *lines, Text(""))


def type_block(row: WallTypeSummary, system: UnitSystem) -> list[RenderableType]:
    """One wall type: its walls, layers, stud layer, frame, and whether it is filled."""
    area = format_area(row.area, system) if row.area > 0.0 else "area unknown"
    title = f"{row.type_name or '(walls without a type)'}: {plural(row.count, 'wall')}, {area}"
    facts = Table.grid(padding=(0, 2, 0, 0))
    if row.layer_set_name and row.layer_set_name != row.type_name:
        facts.add_row("layer set", row.layer_set_name)
    for number, line in enumerate(row.layers, start=1):
        facts.add_row("layers" if number == 1 else "", f"{number}. {line}")
    if not row.layers:
        facts.add_row("layers", "none in the model")
    facts.add_row("stud layer", row.stud_layer + (f": {row.reason}" if row.reason else ""))
    facts.add_row("frame", row.framing)
    if row.insulated:
        facts.add_row("filled", row.insulated)
    facts.add_row("such as", ", ".join(row.examples[:MOST_EXAMPLES]))
    return [Text(title, style="bold"), Padding(facts, (0, 0, 1, 2), expand=False)]
