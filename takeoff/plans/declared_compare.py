"""The file of declared areas held against the takeoff, line by line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from takeoff.building import Model
from takeoff.envelope.groups import Share, sums_of, whole
from takeoff.envelope.orientation import COMPASS
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.model import WallTakeoff
from takeoff.plans.comparison import Agreement, Comparison, compared, unit_slip
from takeoff.plans.declared_areas import DeclaredArea
from takeoff.plans.declared_match import Names, meant_by, names_of, set_aside, shares_of, unknown_names
from takeoff.plans.declared_values import value_comparison
from takeoff.plurals import plural
from takeoff.units import format_area

AREA = "insulated net area"
PLACE = "place in the model"
LINE = "line"


@dataclass(frozen=True, slots=True, eq=False)
class DeclaredCheck:
    """What came of a whole file."""

    comparisons: tuple[Comparison, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Site:
    """What every line is held against."""

    file: str
    envelope: Envelope
    results: Sequence[WallTakeoff]
    names: Names
    job: Job

    def source(self, line: DeclaredArea) -> str:
        """The line as an estimator finds it."""
        return f"{self.file} line {line.line}"


def compare_declared(
    file: str, lines: Sequence[DeclaredArea], model: Model, results: Sequence[WallTakeoff], envelope: Envelope, job: Job
) -> DeclaredCheck:
    """Every line against the insulated walls that it speaks of, then what is insulated and declared nowhere.

    file: name of the file, for what is said about it.
    """
    site = _Site(file, envelope, results, names_of(model, results, envelope), job)
    first: dict[tuple[object, ...], int] = {}
    rows: list[Comparison] = []
    findings: list[Finding] = []
    covered: set[tuple[str, int, str]] = set()
    for line in lines:
        before = first.setdefault((*meant_by(line, site.names), line.declares), line.line)
        if before != line.line:
            made, said = _repeated(line, before, site)
        else:
            shares = shares_of(line, envelope, site.names)
            covered |= {_place(share) for share in shares}
            made, said = _checked(line, shares, site)
        rows += made
        findings += said
    made, said = _undeclared(covered, site)
    return DeclaredCheck((*rows, *made), (*findings, *said))


def _place(share: Share) -> tuple[str, int, str]:
    """A piece of wall by wall, length and gross area: room shares of one length differ in it."""
    return share.part.wall.wall.wall_id, share.part.number, f"{share.gross:.6f}"


def _repeated(line: DeclaredArea, before: int, site: _Site) -> tuple[list[Comparison], list[Finding]]:
    reason = f"speaks of the same walls as line {before}; it was not compared: take one of the two out"
    row = Comparison(
        site.source(line), line.line, LINE, line.scope, line.net_area, None, None, "m2", Agreement.DIFFERS, reason
    )
    return [row], [_finding("declared-line-repeated", row, None)]


def _checked(line: DeclaredArea, shares: Sequence[Share], site: _Site) -> tuple[list[Comparison], list[Finding]]:
    unknown = unknown_names(line, site.names)
    if unknown:
        row = Comparison(
            site.source(line), line.line, PLACE, line.scope, line.net_area, None, None, "m2", Agreement.DIFFERS,
            "; ".join(unknown),
        )  # fmt: skip
        return [row], [_finding("declared-walls-unknown", row, None)]
    area = _area_comparison(line, shares, site)
    rows, findings = [area], []
    largest = max(shares, key=lambda share: share.net, default=None)
    if area.agreement is Agreement.DIFFERS:
        findings.append(_finding("declared-area-differs", area, largest))
    if line.u is not None:
        value = value_comparison(line, shares, site.source(line), site.job.plan_check.value_share)
        rows.append(value)
        if value.agreement is Agreement.DIFFERS:
            findings.append(_finding("declared-value-differs", value, largest))
    return rows, findings


# ---------------------------------------------------------------- areas


def _area_comparison(line: DeclaredArea, shares: Sequence[Share], site: _Site) -> Comparison:
    limits = site.job.plan_check
    sums = sums_of(shares)
    tolerance = max(limits.area_share * line.net_area, limits.least_area)
    agreement = compared(line.net_area, sums.insulated, tolerance)
    reason = "" if agreement is Agreement.AGREES else _cause(line, shares, tolerance, site)
    chosen = [share for share in shares if share.insulated > 0.0] or list(shares)
    return Comparison(
        site.source(line), line.line, AREA, line.scope, line.net_area, sums.insulated, tolerance, "m2", agreement,
        reason, *_elements(chosen),
    )  # fmt: skip


def _elements(shares: Sequence[Share]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """GlobalIds and names of the walls of some shares, each once."""
    walls = {share.part.wall.wall.wall_id: share.part.wall.wall.name for share in shares}
    return tuple(walls), tuple(walls.values())


def _cause(line: DeclaredArea, shares: Sequence[Share], tolerance: float, site: _Site) -> str:
    """Why an area may differ, the likeliest first; every sentence is a place to look."""
    sums = sums_of(shares)
    system = site.job.report.units
    causes: list[str] = []

    def near(area: float) -> bool:
        return abs(area - line.net_area) <= tolerance

    slip = unit_slip(line.net_area, sums.insulated)
    if slip:
        causes.append(f"as if {slip}: check area_unit")
    if line.orientation:
        for side in COMPASS:
            other = sums_of(shares_of(replace(line, orientation=side), site.envelope, site.names)).insulated
            if side != line.orientation and other > 0.0 and near(other):
                causes.append(f"the walls that face {side} have this area: check the orientation")
    unfilled = [share for share in shares if share.insulated <= 0.0]
    if unfilled:
        wall = unfilled[0].part.wall.wall
        area = format_area(sum(share.net for share in unfilled), system)
        causes.append(f"{area} of these walls are not filled ({wall.insulated_reason})")
    if sums.insulated > 0.0 and near(sums.gross) and not near(sums.insulated):
        causes.append("the area declared is that with the openings in")
    elif sums.insulated > 0.0 and near(sums.insulated - sums.framing):
        causes.append("the area declared is that without the framing")
    aside = set_aside(line, site.results, site.names)
    if aside:
        area = format_area(sum(result.wall.gross_area for result in aside), system)
        were = "was" if len(aside) == 1 else "were"
        causes.append(f"{plural(len(aside), 'such wall')} ({area} gross) {were} not taken off: {aside[0].reason}")
    if not shares and not aside:
        causes.append("the model has no such wall there")
    return "; ".join(causes) or "no single cause seen: compare the walls listed with the plan"


def _undeclared(covered: set[tuple[str, int, str]], site: _Site) -> tuple[list[Comparison], list[Finding]]:
    """Insulated outside walls that no line speaks of, by type and orientation."""
    groups: dict[tuple[str, str], list[Share]] = {}
    for part in site.envelope.parts:
        if part.insulated <= 0.0 or not part.wall.wall.external:
            continue
        if _place(whole(part)) in covered:
            continue
        rooms = [Share(part, row.gross, row.opening, row.framing) for row in part.rooms]
        left = [share for share in rooms if _place(share) not in covered]
        if left:
            groups.setdefault((part.type_label, part.orientation), []).extend(left)
    limit = site.job.plan_check.least_area
    rows: list[Comparison] = []
    findings: list[Finding] = []
    for (type_name, side), shares in groups.items():
        area = sum(share.insulated for share in shares)
        if area <= limit:
            continue
        scope = ", ".join(text for text in (type_name, side) if text)
        row = Comparison(
            site.file, None, AREA, scope, None, area, limit, "m2", Agreement.DIFFERS,
            "these insulated walls are declared in no line", *_elements(shares),
        )  # fmt: skip
        rows.append(row)
        findings.append(_finding("area-not-declared", row, max(shares, key=lambda share: share.net)))
    return rows, findings


# ---------------------------------------------------------------- findings


_WORDS: Mapping[str, str] = {
    "declared-line-repeated": "says the same twice",
    "declared-walls-unknown": "speaks of walls that are not there",
    "declared-area-differs": "declares another insulated area than was found",
    "declared-value-differs": "declares another value than was worked out",
    "area-not-declared": "leaves out insulated walls",
}


def _finding(code: str, row: Comparison, share: Share | None) -> Finding:
    wall = share.part.wall.wall if share is not None else None
    return Finding(
        code, Severity.WARNING, f"{row.source} ({row.scope}) {_WORDS[code]}: {row.reason}.",
        wall.wall_id if wall else "", wall.wall_id if wall else "", wall.ifc_class if wall else "",
        wall.name if wall else "", row.found, row.declared, row.unit, _centre(share),
    )  # fmt: skip


def _centre(share: Share | None) -> tuple[float, float, float] | None:
    part: WallPart | None = share.part if share is not None else None
    return part.centre if part is not None else None
