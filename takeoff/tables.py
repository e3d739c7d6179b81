"""All result tables in one list: schema and rows of each, for CSV files, frames, JSON and the README's check."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from takeoff.columns import Table, column_texts, number, text
from takeoff.fill import FillPlan
from takeoff.fill_order import Preparation
from takeoff.finding import Finding
from takeoff.hole_tables import HAND_FILLS, HOLES, hand_fill_rows
from takeoff.model import WallTakeoff
from takeoff.piece_tables import CAVITIES, MEMBERS, OPENINGS, cavity_rows, member_rows, opening_rows
from takeoff.preparation_tables import PREPARATIONS
from takeoff.wall_tables import BUILD_UP, STUD_LAYERS, WALLS, build_up_rows, layer_rows

FINDINGS: Table[Finding] = Table(
    "findings",
    "One flaw, or one decision worth the estimator's eye.",
    "findings of the model first, then wall by wall as walls.csv",
    (
        text("code", "stable code (DEVELOPERS.md lists them)", lambda f: f.code),
        text("severity", "info, warning or error", lambda f: f.severity),
        text("wall_id", "GlobalId of the wall, empty where it is the model's", lambda f: f.wall_id),
        text("element_id", "GlobalId of the element", lambda f: f.element_id),
        text("element_class", "class in the model", lambda f: f.element_class),
        text("element_name", "name in the model", lambda f: f.element_name),
        text("message", "what was found and what would mend it", lambda f: f.message),
        number("measured", "", "measured value, in the unit of the row", lambda f: f.measured),
        number("limit", "", "limit it was held against", lambda f: f.limit),
        text("unit", "unit of both", lambda f: f.unit),
        text("storey", "storey of the wall or room", lambda f: "" if f.spot is None else f.spot.storey),
        number("x_m", "m", "where to look, in the model's own world axes", lambda f: _coordinate(f, 0)),
        number("y_m", "m", "the same, y", lambda f: _coordinate(f, 1)),
        number("z_m", "m", "the same, z upwards", lambda f: _coordinate(f, 2)),
        text("look_at", "what stands there, from which side", lambda f: "" if f.spot is None else f.spot.look_at),
    ),
)


def _coordinate(finding: Finding, axis: int) -> float | None:
    if finding.spot is None or finding.spot.point is None:
        return None
    return finding.spot.point[axis]


@dataclass(frozen=True, slots=True, eq=False)
class FilledTable:
    """A schema with the records of one takeoff and its columns of texts, as files hold them."""

    table: Table[Any]
    records: Sequence[Any]
    columns: Sequence[Sequence[str]]

    def column(self, name: str) -> Sequence[str]:
        """One column of texts."""
        return self.columns[self.table.column_names.index(name)]


_ROWS: tuple[tuple[Table[Any], Callable[[Sequence[WallTakeoff]], Sequence[Any]]], ...] = (
    (WALLS, lambda results: results),
    (CAVITIES, cavity_rows),
    (MEMBERS, member_rows),
    (OPENINGS, opening_rows),
    (STUD_LAYERS, layer_rows),
    (BUILD_UP, build_up_rows),
)

_PLAN_ROWS: tuple[tuple[Table[Any], Callable[[FillPlan], Sequence[Any]]], ...] = (
    (HOLES, lambda plan: plan.holes),
    (HAND_FILLS, lambda plan: hand_fill_rows(plan.hand_fills)),
)

TABLES: tuple[Table[Any], ...] = (*(table for table, _ in (*_ROWS, *_PLAN_ROWS)), PREPARATIONS, FINDINGS)
"""Every result table, in the order of the README."""


def filled_tables(
    results: Sequence[WallTakeoff],
    findings: Sequence[Finding],
    plan: FillPlan,
    preparations: Sequence[Preparation] = (),
) -> dict[str, FilledTable]:
    """Every table of a takeoff by its name. `results` in the order that walls.csv shall have, all else likewise."""
    filled = {table.name: _filled(table, rows(results)) for table, rows in _ROWS}
    filled |= {table.name: _filled(table, rows(plan)) for table, rows in _PLAN_ROWS}
    filled[PREPARATIONS.name] = _filled(PREPARATIONS, preparations)
    return {**filled, FINDINGS.name: _filled(FINDINGS, findings)}


def _filled(table: Table[Any], records: Sequence[Any]) -> FilledTable:
    return FilledTable(table, records, column_texts(table, records))
