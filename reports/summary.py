"""The summary of a takeoff: what a person reads first, in the units that the job asks for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich import box
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from reports.cautions import CAUTIONS, FIRST
from takeoff.job_rules import RuleGroup, rule_groups
from takeoff.model import CavityKind, Method, Status
from takeoff.plurals import plural
from takeoff.result import Takeoff
from takeoff.totals import (
    FindingGroup,
    Outcome,
    Totals,
    cavity_groups,
    finding_groups,
    outcomes,
    storey_sums,
    totals,
)
from takeoff.units import UnitSystem, format_area, format_volume

MOST_ROWS = 12
"""Rows of a grouped list; the rest is counted in one line, and stands in the files."""

KIND_WORDS = {kind: str(kind).replace("_", " ") for kind in CavityKind}
METHOD_WORDS = {
    Method.BLOW: "blow",
    Method.BATT: "batt, by hand",
    Method.SEAL: "seal",
    Method.BEFORE_SHEATHING: "before sheathing",
    Method.NONE: "none",
}


def summary(takeoff: Takeoff, system: UnitSystem) -> Group:
    """The whole summary as rich blocks, to be printed without markup."""
    sums = totals(takeoff.results)
    blocks: list[RenderableType] = [Text(headline(takeoff)), Text("")]
    blocks += _section("Walls", wall_lines(sums))
    if sums.taken_off:
        blocks += _section("Quantities", quantity_lines(sums, system))
        blocks += _titled("Cavities by kind and method", cavity_table(takeoff, system))
        blocks += _titled("By storey", storey_table(takeoff, system))
    missing = outcomes(takeoff.results)
    if missing:
        blocks += _titled("Walls left out or failed", outcome_table(missing, system))
    rules = rule_groups(takeoff.results)
    if rules:
        blocks += _titled("Rules of the job file for walls (walls.csv, job_rules, has each)", rule_table(rules))
    found = finding_groups(takeoff.findings)
    if found:
        blocks += _titled("Findings (findings.csv has each)", finding_table(found))
    blocks += _section("Mind", (FIRST, *CAUTIONS))
    return Group(*blocks)


def headline(takeoff: Takeoff) -> str:
    """Model, schema, unit and project in one line."""
    project = f", project {takeoff.project_name}" if takeoff.project_name else ""
    return f"{takeoff.model_name}: {takeoff.schema}, lengths in {takeoff.length_unit.lower()}{project}"


def wall_lines(sums: Totals) -> tuple[str, ...]:
    """How many walls came to what."""
    failed = f", {sums.failed} failed" if sums.failed else ""
    return (
        f"{plural(sums.walls, 'wall')} in the model: {sums.taken_off} taken off, {sums.left_out} left out{failed}",
        f"insulated, of those taken off: {sums.insulated_walls}",
    )


def quantity_lines(sums: Totals, system: UnitSystem) -> tuple[str, ...]:
    """Insulated area, volume, framing fraction, how much rests on a laid-out frame, and the balance."""
    lines = [
        f"insulated area  {format_area(sums.insulated_area, system)} (openings deducted, framing included)",
        f"fill volume     {format_volume(sums.fill_volume, system)} in {plural(sums.fill_cavities, 'cavity')}",
    ]
    fraction = sums.insulated_framing_fraction if sums.insulated_walls else sums.framing_fraction
    if fraction is not None:
        scope = "insulated walls" if sums.insulated_walls else "walls taken off"
        lines.append(f"framing         {100 * fraction:.1f} % of the net area of the {scope}")
    if sums.insulated_area > 0.0:
        share = 100 * sums.insulated_area_modelled / sums.insulated_area
        lines.append(f"frames          {share:.0f} % of that area modelled, {100 - share:.0f} % laid out by rule")
    if sums.unbalanced:
        lines.append(
            f"volume balance  {plural(sums.unbalanced, 'wall')} do not add up: see balance_residual in walls.csv"
        )
    elif sums.worst_residual is not None:
        lines.append(f"volume balance  every wall adds up; worst residual {sums.worst_residual:.0e} of its volume")
    return tuple(lines)


def cavity_table(takeoff: Takeoff, system: UnitSystem) -> Table:
    """Cavities, slivers and opening gaps by kind and method."""
    table = _table(("kind", "left"), ("method", "left"), ("count", "right"), ("area", "right"), ("volume", "right"))
    for group in cavity_groups(takeoff.results):
        table.add_row(
            KIND_WORDS[group.kind],
            METHOD_WORDS[group.method],
            str(group.count),
            format_area(group.area, system),
            format_volume(group.volume, system),
        )
    return table


def storey_table(takeoff: Takeoff, system: UnitSystem) -> Table:
    """What each storey takes, lowest first."""
    table = _table(("storey", "left"), ("cavities to fill", "right"), ("insulated area", "right"), ("fill", "right"))
    for row in storey_sums(takeoff.results):
        table.add_row(
            row.storey or "(no storey)",
            str(row.fill_cavities),
            format_area(row.insulated_area, system),
            format_volume(row.fill_volume, system),
        )
    return table


def outcome_table(rows: Sequence[Outcome], system: UnitSystem) -> Table:
    """Walls that were left out or failed, by reason."""
    table = _table(("walls", "right"), ("area", "right"), ("why", "left"), ("types", "left"))
    for row in rows[:MOST_ROWS]:
        area = format_area(row.area, system) if row.area > 0.0 else "unknown"
        failed = "failed: " if row.status is Status.FAILED else ""
        table.add_row(str(row.count), area, failed + row.reason, _few(row.names))
    if len(rows) > MOST_ROWS:
        rest = rows[MOST_ROWS:]
        area = format_area(sum(row.area for row in rest), system)
        table.add_row(str(sum(row.count for row in rest)), area, f"{len(rest)} other reasons, see walls.csv", "")
    return table


def rule_table(rows: Sequence[RuleGroup]) -> Table:
    """Blocks of the job file that hold, with the number of walls and some of their names."""
    table = _table(("walls", "right"), ("rule", "left"), ("which", "left"))
    for row in rows[:MOST_ROWS]:
        table.add_row(str(len(row.walls)), row.text, _few(row.walls))
    if len(rows) > MOST_ROWS:
        table.add_row("", f"{len(rows) - MOST_ROWS} other rules, see walls.csv", "")
    return table


def finding_table(rows: Sequence[FindingGroup]) -> Table:
    """Findings by code with the first message of each."""
    table = _table(
        ("severity", "left"), ("count", "right"), ("walls", "right"), ("code", "left"), ("for example", "left")
    )
    for row in rows[:MOST_ROWS]:
        table.add_row(str(row.severity), str(row.count), str(row.walls or ""), row.code, row.example)
    if len(rows) > MOST_ROWS:
        rest = rows[MOST_ROWS:]
        table.add_row("", str(sum(row.count for row in rest)), "", f"{len(rest)} other codes", "")
    return table


def _table(*columns: tuple[str, str]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name, side in columns:
        table.add_column(name, justify="right" if side == "right" else "left", no_wrap=side == "right")
    return table


def _section(title: str, lines: Iterable[str]) -> list[RenderableType]:
    return _titled(title, Group(*(Text(line) for line in lines)))


def _titled(title: str, block: RenderableType) -> list[RenderableType]:
    return [Text(title, style="bold"), Padding(block, (0, 0, 1, 2), expand=False)]


def _few(names: Sequence[str]) -> str:
    shown = ", ".join(name for name in names[:3] if name)
    return shown + (f" and {len(names) - 3} more" if len(names) > 3 else "")
