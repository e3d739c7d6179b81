"""The whole check: U-values, targets, and everything declared held against what was found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from takeoff.building import Model
from takeoff.envelope.groups import AreaGroup, area_groups
from takeoff.envelope.options import options_of
from takeoff.envelope.settings import target_of
from takeoff.envelope.tables import WallValue, wall_values
from takeoff.envelope.walls import Envelope, envelope_of, once_each
from takeoff.finding import Finding, Severity
from takeoff.finding_places import located
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.plans.declared_areas import DeclaredArea
from takeoff.plans.declared_compare import compare_declared
from takeoff.plans.drawn_twice import drawn_twice
from takeoff.plans.insulation_gaps import insulation_findings, opening_findings
from takeoff.plans.model_claims import IMPLAUSIBLE, model_claims
from takeoff.plans.room_edges import room_gaps
from takeoff.plans.space_boundaries import boundary_comparisons
from takeoff.result import Takeoff
from takeoff.thermal import Target, Verdict
from takeoff.wall_faults import WALL_FAULTS

CHECKED = frozenset(
    {"external-against-rooms", "walls-in-one-place", "layers-face-the-other-way", "opening-without-element"}
)
"""Codes of the takeoff that belong to the check too."""
Made = tuple[Sequence[Comparison], Sequence[Finding]]
"""What a step of the check gives."""
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
    values = tuple(wall_values(envelope, target, options_of(job)))
    steps: tuple[tuple[str, Callable[[], Made]], ...] = (
        ("declared areas", lambda: _declared(declared, declared_name, (model, takeoff, envelope))),
        ("figures of the model", lambda: _claims(model, takeoff, envelope)),
        ("space boundaries", lambda: boundary_comparisons(model, results)),
        ("insulation", lambda: ((), insulation_findings(model, results, envelope, job))),
        ("targets", lambda: ((), _missed_targets(values))),
        ("walls drawn twice", lambda: ((), drawn_twice(model, results))),
        ("openings", lambda: ((), opening_findings(model, results, job))),
        ("edges of rooms", lambda: ((), room_gaps(model, job))),
    )
    comparisons: list[Comparison] = []
    findings = list(envelope.findings)
    for name, step in steps:
        made, said = _guarded(name, step)
        comparisons += made
        findings += said
    return PlanCheck(
        takeoff=takeoff,
        envelope=envelope,
        target=target,
        values=values,
        groups=area_groups(envelope, target),
        comparisons=tuple(comparisons),
        findings=located(findings, model, results),
        declared_name=declared_name if declared else "",
    )


def _guarded(name: str, step: Callable[[], Made]) -> Made:
    """What a step gives; where some odd geometry stops it, a finding, and the other steps go on."""
    try:
        return step()
    except WALL_FAULTS as fault:
        detail = " ".join(str(fault).split())[:160] or type(fault).__name__
        said = Finding(
            "check-step-failed", Severity.ERROR,
            f"This part of the check came to nothing: {name} ({detail}). The others stand; export the model again.",
        )  # fmt: skip
        return (), (said,)


def _declared(lines: Sequence[DeclaredArea], name: str, site: tuple[Model, Takeoff, Envelope]) -> Made:
    model, takeoff, envelope = site
    if not lines:
        return (), ()
    made = compare_declared(name, lines, model, takeoff.results, envelope, takeoff.job)
    return made.comparisons, made.findings


def _claims(model: Model, takeoff: Takeoff, envelope: Envelope) -> Made:
    made = model_claims(model, takeoff.results, envelope, takeoff.job)
    odd = [finding for finding in made.findings if finding.code == IMPLAUSIBLE]
    rest = (finding for finding in made.findings if finding.code != IMPLAUSIBLE)
    return made.comparisons, (*once_each(odd), *rest)


def _missed_targets(values: Sequence[WallValue]) -> tuple[Finding, ...]:
    """A finding for each wall type that misses the target, with its worst wall."""
    missed: dict[str, list[tuple[WallValue, Verdict]]] = {}
    for row in values:
        if row.verdict is not None and not row.verdict.passes:
            missed.setdefault(row.part.type_label, []).append((row, row.verdict))
    return once_each(_missed(rows) for rows in missed.values())


def _missed(rows: Sequence[tuple[WallValue, Verdict]]) -> Finding:
    """What is said of the walls of one type that miss the target, at least one."""
    row, verdict = max(rows, key=lambda one: one[1].found)
    wall, target = row.part.wall.wall, verdict.target
    mark = f"; {target.warning}" if target.warning else ""
    met = [each.option for each, _ in rows if each.option is not None and each.option.passes]
    complies = len(met) == len(rows)
    mend = (
        f"Their insulation alone meets the same code's R-value option {met[0].option.published}, which complies too."
        if complies
        else "Look at its framing fraction and at layers that count as nothing first."
    )
    return Finding(
        "target-missed", Severity.INFO if complies else Severity.WARNING,
        f"Walls of type '{row.part.type_label}' miss {target.name}{mark}; this is the worst of them. {mend}",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, verdict.found, target.u, "W/(m2 K)",
        row.part.centre,
    )  # fmt: skip
