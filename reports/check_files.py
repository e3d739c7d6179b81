"""The folder of the check: tables, findings, statement, topics and a copy of the model, whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from reports.bcf_out import bcf_bytes
from reports.crew_pages import PaperName
from reports.files import FolderKind, begins_with, check_target, new_folder
from reports.ids_out import ids_bytes
from reports.ifc_out import write_ifc
from reports.statement import STATEMENT_NAME, statement_pdf
from takeoff.building import Model
from takeoff.columns import Table, column_texts, csv_text
from takeoff.envelope.tables import (
    AREA_GROUPS,
    CAVITY_VALUES,
    LAYER_VALUES,
    WALL_VALUES,
    cavity_values,
    layer_values,
)
from takeoff.plans.comparison import PLAN_CHECK
from takeoff.plans.plan_check import PlanCheck
from takeoff.tables import FINDINGS

CHECK_TABLES: tuple[Table[Any], ...] = (PLAN_CHECK, WALL_VALUES, AREA_GROUPS, LAYER_VALUES, CAVITY_VALUES)
"""Tables that only this folder has, in the order of the README."""
TOPICS_NAME = "findings.bcf"
NEEDS_NAME = "model_needs.ids"
COPY_NAME = "model_with_takeoff.ifc"
CHECK_NAMES = (
    *(f"{table.name}.csv" for table in (*CHECK_TABLES, FINDINGS)), STATEMENT_NAME, TOPICS_NAME, NEEDS_NAME, COPY_NAME,
)  # fmt: skip
"""Every file that the folder holds; the copy of the model may be left out."""

CHECK = FolderKind(
    frozenset(CHECK_NAMES),
    lambda folder: begins_with(folder / f"{PLAN_CHECK.name}.csv", ",".join(PLAN_CHECK.column_names[:3])),
)
"""The folder of `bayfill check`."""


def check_files(model: Model, check: PlanCheck, paper: PaperName = "a4") -> dict[str, str | bytes]:
    """Everything in the folder by name. Same model, job and declared areas, same bytes."""
    envelope = check.envelope
    columns: tuple[tuple[Table[Any], list[list[str]]], ...] = (
        (PLAN_CHECK, column_texts(PLAN_CHECK, check.comparisons)),
        (WALL_VALUES, column_texts(WALL_VALUES, check.values)),
        (AREA_GROUPS, column_texts(AREA_GROUPS, check.groups)),
        (LAYER_VALUES, column_texts(LAYER_VALUES, layer_values(envelope))),
        (CAVITY_VALUES, column_texts(CAVITY_VALUES, cavity_values(envelope))),
        (FINDINGS, column_texts(FINDINGS, check.all_findings)),
    )
    texts: dict[str, str | bytes] = {f"{table.name}.csv": csv_text(table, cells) for table, cells in columns}
    topics, _ = bcf_bytes(check.takeoff, check.all_findings, model)
    return {**texts, STATEMENT_NAME: statement_pdf(model, check, paper), TOPICS_NAME: topics, NEEDS_NAME: ids_bytes()}


def write_check(
    model: Model, check: PlanCheck, folder: Path, paper: PaperName = "a4", *, copy: bool = True
) -> tuple[Path, ...]:
    """Writes the folder and returns the paths in it.

    A folder of ours from an earlier run is replaced; one that holds anything else is refused. copy: with a copy of the
    model that holds the takeoff. Raises OutputError, StatementError where the statement cannot be made, and
    ReadingError where the model cannot be read again for its copy.
    """
    check_target(folder, CHECK)
    files = check_files(model, check, paper)
    with new_folder(folder) as draft:
        for name, content in files.items():
            (draft / name).write_bytes(content if isinstance(content, bytes) else content.encode("utf-8", "replace"))
        if copy:
            write_ifc(Path(model.path), check.takeoff, draft / COPY_NAME)
    return tuple(folder / name for name in CHECK_NAMES if copy or name != COPY_NAME)
