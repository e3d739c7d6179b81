"""Totals of a takeoff: pure sums over its walls."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from takeoff.finding import Finding, Severity
from takeoff.model import Cavity, CavityKind, Method, Source, Status, WallTakeoff
from takeoff.wall_tables import (
    FILLED,
    fill_volume,
    framing_fraction,
    insulated_area,
    real_cavities,
    wall_framing_source,
)

LARGEST_RESIDUAL = 1e-6
"""Of the gross volume; a stud layer whose volumes miss more than this does not balance."""


@dataclass(frozen=True, slots=True)
class Group:
    """Cavities of one kind and method together."""

    kind: CavityKind
    method: Method
    count: int
    area: float
    """m2 in elevation"""
    volume: float
    """m3"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """Walls with one status and one reason."""

    status: Status
    reason: str
    count: int
    area: float
    """m2, elevation of the bodies that could be measured"""
    names: tuple[str, ...]
    """Names of their types (of the walls, where they have no type), in the order of the model, each once."""


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """Findings with one code and severity."""

    code: str
    severity: Severity
    count: int
    walls: int
    """How many walls they concern."""
    example: str
    """Message of the first."""


@dataclass(frozen=True, slots=True)
class StoreySum:
    """What one storey takes."""

    storey: str
    fill_cavities: int
    insulated_area: float
    """m2"""
    fill_volume: float
    """m3"""


@dataclass(frozen=True, slots=True)
class Totals:
    """What the estimator reads first. Areas m2, volumes m3, fractions and residuals dimensionless."""

    walls: int
    taken_off: int
    left_out: int
    failed: int
    insulated_walls: int
    gross_area: float
    """Elevation of all stud layers, openings not deducted."""
    opening_area: float
    insulated_area: float
    """Net elevation of the walls that are filled, framing included; two stud layers count once."""
    insulated_area_modelled: float
    """The part of it whose frame the model holds."""
    insulated_area_laid_out: float
    """The part of it whose frame was laid out by rule."""
    cavities: int
    """Without slivers and openings."""
    fill_cavities: int
    fill_volume: float
    framing_fraction: float | None
    """Over all stud layers; None where nothing was taken off."""
    insulated_framing_fraction: float | None
    """Over the stud layers of insulated walls."""
    worst_residual: float | None
    worst_wall: str
    """GlobalId of the wall with the worst residual."""
    unbalanced: int
    """Walls whose volumes do not add up to within `LARGEST_RESIDUAL`."""
    members: int
    openings: int


def totals(results: Sequence[WallTakeoff]) -> Totals:
    """All sums of a takeoff's walls."""
    statuses = Counter(result.status for result in results)
    layers = [layer for result in results for layer in result.layers]
    insulated = [result for result in results if result.wall.insulated and result.layers]
    area = {source: _area_by_source(insulated, source) for source in Source}
    cavities = real_cavities(layers)
    worst, worst_wall = _worst(results)
    return Totals(
        walls=len(results),
        taken_off=statuses[Status.TAKEN_OFF],
        left_out=statuses[Status.LEFT_OUT],
        failed=statuses[Status.FAILED],
        insulated_walls=sum(insulated_area(result) > 0.0 for result in insulated),
        gross_area=sum(layer.gross_area for layer in layers),
        opening_area=sum(layer.opening_area for layer in layers),
        insulated_area=sum(area.values()),
        insulated_area_modelled=area[Source.MODELLED],
        insulated_area_laid_out=area[Source.LAID_OUT],
        cavities=len(cavities),
        fill_cavities=sum(cavity.method in FILLED for cavity in cavities),
        fill_volume=fill_volume(layers),
        framing_fraction=framing_fraction(layers),
        insulated_framing_fraction=framing_fraction(layer for result in insulated for layer in result.layers),
        worst_residual=worst,
        worst_wall=worst_wall,
        unbalanced=sum(any(layer.balance.residual > LARGEST_RESIDUAL for layer in row.layers) for row in results),
        members=sum(len(layer.frame.members) for layer in layers),
        openings=sum(len(layer.frame.openings) for layer in layers),
    )


def _area_by_source(results: Iterable[WallTakeoff], source: Source) -> float:
    return sum(insulated_area(result) for result in results if wall_framing_source(result) == source)


def _worst(results: Sequence[WallTakeoff]) -> tuple[float | None, str]:
    pairs = [(layer.balance.residual, result.wall.wall_id) for result in results for layer in result.layers]
    return max(pairs, key=lambda pair: pair[0], default=(None, ""))


def cavity_groups(results: Sequence[WallTakeoff]) -> tuple[Group, ...]:
    """Cavities, slivers and opening gaps by kind, then method, in the order of the vocabulary."""
    groups: dict[tuple[CavityKind, Method], list[Cavity]] = {}
    for result in results:
        for layer in result.layers:
            for cavity in layer.cavities:
                groups.setdefault((cavity.kind, cavity.method), []).append(cavity)
    return tuple(
        Group(kind, method, len(rows), sum(row.area for row in rows), sum(row.volume for row in rows))
        for kind in CavityKind
        for method in Method
        if (rows := groups.get((kind, method)))
    )


def outcomes(results: Sequence[WallTakeoff]) -> tuple[Outcome, ...]:
    """Walls that were left out or failed, grouped by reason: failures first, then the most walls first."""
    groups: dict[tuple[Status, str], list[WallTakeoff]] = {}
    for result in results:
        if result.status is not Status.TAKEN_OFF:
            groups.setdefault((result.status, result.reason), []).append(result)
    rows = [
        Outcome(
            status,
            reason,
            len(walls),
            sum(wall.wall.gross_area for wall in walls),
            tuple(dict.fromkeys(wall.wall.type_name or wall.wall.name for wall in walls)),
        )
        for (status, reason), walls in groups.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.status is not Status.FAILED, -row.count)))


def finding_groups(findings: Sequence[Finding]) -> tuple[FindingGroup, ...]:
    """Findings by code: errors first, then warnings, then the rest; within each the most first."""
    groups: dict[tuple[str, Severity], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.code, finding.severity), []).append(finding)
    rows = [
        FindingGroup(code, severity, len(rows), len({row.wall_id for row in rows if row.wall_id}), rows[0].message)
        for (code, severity), rows in groups.items()
    ]
    weight = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.INFO: 2}
    return tuple(sorted(rows, key=lambda row: (weight[row.severity], -row.count, row.code)))


def storey_sums(results: Sequence[WallTakeoff]) -> tuple[StoreySum, ...]:
    """What each storey takes, in the order of the results."""
    storeys: dict[str, list[WallTakeoff]] = {}
    for result in results:
        storeys.setdefault(result.wall.storey, []).append(result)
    return tuple(_storey_sum(name, walls) for name, walls in storeys.items())


def _storey_sum(name: str, walls: Sequence[WallTakeoff]) -> StoreySum:
    layers = [layer for wall in walls for layer in wall.layers]
    return StoreySum(
        name,
        sum(cavity.method in FILLED for cavity in real_cavities(layers)),
        sum(insulated_area(wall) for wall in walls),
        fill_volume(layers),
    )
