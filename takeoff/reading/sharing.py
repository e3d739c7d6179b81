"""Elements of a model read among several processes: the same records and findings in the same order, sooner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from takeoff.finding import Finding
from takeoff.reading.model_file import ModelFile
from takeoff.shares import LEAST_SHARED, in_shares

Item = TypeVar("Item")
Record = TypeVar("Record")


def read_each(
    model: ModelFile, stage: str, items: Sequence[Item], read: Callable[[Item], Record]
) -> tuple[Record, ...]:
    """`read` of each item in order; what it finds of flaws is added to the model's findings in that order too.

    read: may note findings and fill the model's caches, and no more, since what another process notes is not seen
    here. stage: told to the progress of the reading.
    """

    def work(number: int) -> tuple[Record, list[Finding]]:
        findings = model.findings.found
        before = len(findings)
        record = read(items[number])
        told = findings[before:]
        del findings[before:]
        return record, told

    def begun(number: int) -> None:
        model.report(stage, number, len(items))

    shared = model.processes > 1 and len(items) >= LEAST_SHARED and model.ids_differ()
    done = in_shares(work, len(items), model.processes if shared else 1, begun)
    if items:
        begun(len(items))
    for _, told in done:
        model.findings.found.extend(told)
    return tuple(record for record, _ in done)
