"""The whole check: U-values, targets, and everything declared held against what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.envelope.groups import AreaGroup, area_groups
from takeoff.envelope.settings import target_of
from takeoff.envelope.tables import WallValue, wall_values
from takeoff.envelope.walls import Envelope, envelope_of, once_each
from takeoff.model import Finding, Model, Severity
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.plans.declared_areas import DeclaredArea
from takeoff.plans.declared_compare import compare_declared
from takeoff.plans.drawn_twice import drawn_twice
from takeoff.plans.insulation_gaps import insulation_findings, opening_findings
from takeoff.plans.model_claims import IMPLAUSIBLE, model_claims
from takeoff.plans.room_edges import room_gaps
from takeoff.plans.space_boundaries import boundary_comparisons
from takeoff.result import Takeoff
from takeoff.thermal import Target

CHECKED = frozenset(
    {"external-against-rooms", "walls-in-one-place", "layers-face-the-other-way", "opening-without-element"}
)
"""Codes of the takeoff that belong to the check too."""
_ASIDE = frozenset({"no-cavity-heat"})
"""Codes of the check that ask for nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class PlanCheck:
    """What the consultant gets. `findings` are those of the check alone; the takeoff has its own."""

    takeoff: Takeoff
    envelope: Envelope
    target: Target | None
    values: tuple[WallValue, ...]
    groups: tuple[AreaGroup, ...]
    comparisons: tuple[Comparison, ...]
    findings: tuple[Finding, ...]
    declared_name: str
    """Name of the file of declared areas; empty where there is none."""

    @property
    def all_findings(self) -> tuple[Finding, ...]:
        """Those of the takeoff, then those of the check."""
        return (*self.takeoff.findings, *self.findings)

    @property
    def to_look_at(self) -> tuple[Finding, ...]:
        """What the statement lists: the check's findings, and those of the takeoff that belong to it; worst first."""
        rank = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.INFO: 2}
        taken = (finding for finding in self.takeoff.findings if finding.code in CHECKED)
        own = (finding for finding in self.findings if finding.code not in _ASIDE)
        return tuple(sorted((*own, *taken), key=lambda finding: rank[finding.severity]))

    def count(self, agreement: Agreement) -> int:
        """How many comparisons came out so."""
        return sum(row.agreement is agreement for row in self.comparisons)


def check_plans(
    model: Model, takeoff: Takeoff, declared: Sequence[DeclaredArea] = (), declared_name: str = ""
) -> PlanCheck:
    """Works out U-values and compares. `declared`: lines of a file of declared areas, `declared_name` its name.

    Raises ThermalError where the job asks for a code minimum that is not tabulated.
    """
    job, results = takeoff.job, takeoff.results
    target = target_of(job)
    envelope = envelope_of(model, results, job)
    values = tuple(wall_values(envelope, target))
    comparisons: list[Comparison] = []
    findings = list(envelope.findings)
    if declared:
        made = compare_declared(declared_name, declared, model, results, envelope, job)
        comparisons += made.comparisons
        findings += made.findings
    claims = model_claims(model, results, envelope, job)
    boundaries, said = boundary_comparisons(model, results)
    comparisons += [*claims.comparisons, *boundaries]
    findings += [
        *once_each(finding for finding in claims.findings if finding.code == IMPLAUSIBLE),
        *(finding for finding in claims.findings if finding.code != IMPLAUSIBLE),
        *said,
        *insulation_findings(model, results, envelope, job),
        *_missed_targets(values),
        *drawn_twice(model, results),
        *opening_findings(model, results, job),
        *room_gaps(model, job),
    ]
    return PlanCheck(
        takeoff=takeoff,
        envelope=envelope,
        target=target,
        values=values,
        groups=area_groups(envelope, target),
        comparisons=tuple(comparisons),
        findings=tuple(findings),
        declared_name=declared_name if declared else "",
    )


def _missed_targets(values: Sequence[WallValue]) -> tuple[Finding, ...]:
    """A finding for each wall type that misses the target, with its worst wall."""
    worst: dict[str, WallValue] = {}
    for row in values:
        if row.verdict is not None and not row.verdict.passes:
            before = worst.setdefault(row.part.type_label, row)
            if before.verdict is not None and row.verdict.found > before.verdict.found:
                worst[row.part.type_label] = row
    return once_each(finding for row in worst.values() if (finding := _missed(row)) is not None)


def _missed(row: WallValue) -> Finding | None:
    if row.verdict is None:
        return None
    wall, target = row.part.wall.wall, row.verdict.target
    mark = f"; {target.warning}" if target.warning else ""
    return Finding(
        "target-missed", Severity.WARNING,
        f"Walls of type '{row.part.type_label}' miss {target.name}{mark}; this is the worst of them. Look at its "
        "framing fraction and at layers that count as nothing first.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, row.verdict.found, target.u, "W/(m2 K)",
        row.part.centre,
    )  # fmt: skip
