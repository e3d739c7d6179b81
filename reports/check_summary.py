"""The summary of a check: what the consultant reads first, in the units that the job asks for."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports.cautions import FIRST
from reports.statement_plans import counts_words
from reports.statement_walls import statement_facts
from reports.statement_words import NO_CERTIFICATE, cut, figure
from reports.summary import finding_table, headline
from takeoff.building import Model
from takeoff.envelope.groups import AreaGroup
from takeoff.plans.comparison import Agreement
from takeoff.plans.plan_check import PlanCheck
from takeoff.totals import finding_groups
from takeoff.units import UnitSystem, format_area, format_transmittance

MOST_ROWS = 12


def check_summary(model: Model, check: PlanCheck, system: UnitSystem) -> Group:
    """The whole summary as rich blocks, to be printed without markup."""
    blocks: list[RenderableType] = [Text(headline(check.takeoff)), Text("")]
    facts = statement_facts(check, system)
    width = max(len(what) for what, _ in facts)
    blocks += _titled("Outside walls", Group(*(Text(f"{what:<{width}}  {value}") for what, value in facts)))
    groups = [row for row in check.groups if row.grouped_by == "wall_type"]
    if groups:
        blocks += _titled("By wall type (area_groups.csv has storeys, orientations, rooms)", type_table(groups, system))
    blocks += _titled("Against the plans and the model (plan_check.csv has each)", comparison_table(check, system))
    found = finding_groups(check.to_look_at)
    if found:
        blocks += _titled("To look at (findings.csv and findings.bcf have each)", finding_table(found))
    if not model.true_north_stated:
        blocks += [Text("The model does not state true north: its y axis was taken as north."), Text("")]
    blocks += _titled("Mind", Group(Text(FIRST), Text(NO_CERTIFICATE)))
    return Group(*blocks)


def type_table(rows: Iterable[AreaGroup], system: UnitSystem) -> Table:
    """Areas, framing fraction, U-value and verdict of each wall type."""
    table = _table(
        ("type", "left"), ("", "left"), ("walls", "right"), ("insulated", "right"), ("framing", "right"),
        ("U-value", "right"), ("target", "left"),
    )  # fmt: skip
    for row in rows:
        fraction = row.sums.framing_fraction
        table.add_row(
            cut(row.name or "(no type)"),
            "outside" if row.external else "inside",
            str(row.sums.walls),
            format_area(row.sums.insulated, system),
            "" if fraction is None else f"{100 * fraction:.1f} %",
            "none" if row.sums.u is None else format_transmittance(row.sums.u, system),
            "" if row.verdict is None else ("meets" if row.verdict.passes else "MISSES"),
        )
    return table


def comparison_table(check: PlanCheck, system: UnitSystem) -> RenderableType:
    """How many comparisons came out how, and the first that differ."""
    line = Text(counts_words(check))
    rows = [row for row in check.comparisons if row.agreement is Agreement.DIFFERS]
    if not rows:
        return line
    table = _table(
        ("source", "left"), ("of", "left"), ("declared", "right"), ("found", "right"), ("likely cause", "left")
    )
    for row in rows[:MOST_ROWS]:
        declared, found = (figure(value, row.unit, system) for value in (row.declared, row.found))
        table.add_row(row.source, cut(row.scope), declared, found, row.reason)
    if len(rows) > MOST_ROWS:
        table.add_row(f"{len(rows) - MOST_ROWS} more", "", "", "", "")
    return Group(line, table)


def _table(*columns: tuple[str, str]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name, side in columns:
        table.add_column(name, justify="right" if side == "right" else "left", no_wrap=side == "right")
    return table


def _titled(title: str, block: RenderableType) -> list[RenderableType]:
    return [Text(title, style="bold"), Padding(block, (0, 0, 1, 2), expand=False)]
