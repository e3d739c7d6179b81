"""What a price covers: areas by storey and wall type, the billed area, the resistance offered, and alternates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum

from takeoff.density import sample_size
from takeoff.job import Job
from takeoff.model import Method, Source, Status
from takeoff.pricing import Priced, priced
from takeoff.schedule import cavity_mass
from takeoff.schedule_basis import Basis, BasisWall, parted
from takeoff.schedule_job import Alternate
from takeoff.thermal import fibre_named, fibre_resistance
from takeoff.wall_rules import matches


@dataclass(frozen=True, slots=True)
class ScopeRow:
    """Insulated walls of one type and depth on one storey. Areas m2, depth m."""

    storey: str
    type_name: str
    depth: float
    walls: int
    gross_area: float
    opening_area: float
    net_area: float
    """Insulated area: openings deducted, framing included."""
    billed_area: float
    """By the measurement rule of the job."""
    cavities: int
    """Blown or filled by hand."""
    fill_volume: float
    """m3 of these"""
    fibre_mass: float
    """kg, net, of the blown ones"""
    resistance: float | None
    """m2 K/W of the fibre at this depth; None where nothing says it, and where nothing is blown."""
    modelled: float
    """Part of the net area whose frame is modelled."""


@dataclass(frozen=True, slots=True, eq=False)
class AlternatePrice:
    """An alternate with what it would cost and offer."""

    alternate: Alternate
    priced: Priced
    scope: tuple[ScopeRow, ...]


def opening_is_deducted(area: float, job: Job) -> bool:
    """Whether the job's measurement rule deducts an opening of that area (m2) from the billed area."""
    if job.quote.billed_area == "net":
        return True
    return job.quote.billed_area == "openings_over_size" and area > job.quote.opening_size + 1e-9


def billed_area(wall: BasisWall, job: Job) -> float:
    """m2 of a wall by the measurement rule of the job; 0 where nothing of it is filled.

    Source of the rule with a size: see [quote] opening_size in the job file.
    """
    if wall.net_area <= 0.0:
        return 0.0
    return wall.net_area + fsum(
        area for area in parted(wall.opening_areas) if not opening_is_deducted(area, job)
    )  # fmt: skip


def offered_resistance(job: Job, depth: float) -> float | None:
    """m2 K/W of the fibre in a cavity of a depth (m): charted where the job has a chart, else depth over conductivity.

    Of a chart's step a shallower cavity gets its share by depth. None where the fibre of [thermal] does not cover it.
    """
    if job.thermal.fibre != "stated":
        return fibre_resistance(fibre_named(job.thermal.fibre), depth).value
    for step in job.fibre.by_depth:
        if depth <= step.depth_to + 1e-9:
            if step.resistance is not None:
                return step.resistance * depth / step.depth_to
            break
    return depth / job.fibre.conductivity


def scope_rows(basis: Basis, job: Job) -> tuple[ScopeRow, ...]:
    """The insulated walls by storey, type and depth, in the order of the walls."""
    groups: dict[tuple[str, str, float], list[BasisWall]] = {}
    for wall in basis.walls:
        if wall.net_area > 0.0:
            groups.setdefault((wall.storey, wall.type_name, round(wall.depth, 6)), []).append(wall)
    return tuple(_scope_row(walls, basis, job) for walls in groups.values())


def _scope_row(walls: Sequence[BasisWall], basis: Basis, job: Job) -> ScopeRow:
    ids = {wall.wall_id for wall in walls}
    keys = {layer.layer_key for layer in basis.layers if layer.wall_id in ids}
    filled = [cavity for cavity in basis.cavities if cavity.layer_key in keys and cavity.method != "seal"]
    blown = [cavity for cavity in filled if cavity.lower_holes + cavity.upper_holes]
    net = fsum(wall.net_area for wall in walls)
    modelled = fsum(wall.net_area for wall in walls if wall.source == Source.MODELLED)
    depth = walls[0].depth
    return ScopeRow(
        storey=walls[0].storey,
        type_name=walls[0].type_name,
        depth=depth,
        walls=len(walls),
        gross_area=fsum(wall.gross_area for wall in walls),
        opening_area=fsum(area for wall in walls for area in parted(wall.opening_areas)),
        net_area=net,
        billed_area=fsum(billed_area(wall, job) for wall in walls),
        cavities=len(filled),
        fill_volume=fsum(cavity.volume for cavity in filled),
        fibre_mass=fsum(cavity_mass(cavity, job) for cavity in blown),
        resistance=offered_resistance(job, depth) if depth > 0.0 and blown else None,
        modelled=modelled / net if net else 0.0,
    )


# ---------------------------------------------------------------- alternates


def alternate_prices(main: Priced) -> tuple[AlternatePrice, ...]:
    """Every alternate of the job that changes something, priced as the main offer is.

    Another fibre changes nothing where none is blown.
    """
    found: list[AlternatePrice] = []
    for alternate in main.job.quote.alternates:
        basis, job = with_alternate(main.basis, main.job, alternate)
        if basis == main.basis and (
            job == main.job or not any(each.lower_holes + each.upper_holes for each in basis.cavities)
        ):
            continue
        found.append(AlternatePrice(alternate, priced(basis, job, main.book), scope_rows(basis, job)))
    return tuple(found)


def with_alternate(basis: Basis, job: Job, alternate: Alternate) -> tuple[Basis, Job]:
    """Basis and job of an alternate: another fibre or density, another depth of studs, or both.

    With another depth the volumes change in proportion; members, holes and netting stay as they are.
    """
    changes: dict[str, object] = {}
    if alternate.fibre is not None:
        changes["name"] = alternate.fibre
    if alternate.density is not None:
        changes |= {"density": alternate.density, "by_depth": ()}
    if alternate.conductivity is not None:
        changes["conductivity"] = alternate.conductivity
    other = job
    if changes:
        thermal = job.thermal.model_copy(update={"fibre": "stated"})
        other = job.model_copy(update={"fibre": job.fibre.model_copy(update=changes), "thermal": thermal})
    return (basis if alternate.depth is None else with_depth(basis, alternate.depth, alternate.wall_type)), other


def with_depth(basis: Basis, depth: float, wall_type: str | None = None) -> Basis:
    """The basis with studs of one depth (m), volumes in proportion. wall_type: pattern of the types that change."""
    layers = {
        layer.layer_key: depth / layer.depth
        for layer in basis.layers
        if wall_type is None or matches(wall_type, layer.type_name)
    }
    walls = {layer.wall_id: layers[layer.layer_key] for layer in basis.layers if layer.layer_key in layers}

    def factor(key: str) -> float:
        return layers.get(key, 1.0)

    return replace(
        basis,
        layers=tuple(replace(each, depth=each.depth * factor(each.layer_key)) for each in basis.layers),
        walls=tuple(replace(wall, depth=wall.depth * walls.get(wall.wall_id, 1.0)) for wall in basis.walls),
        cavities=tuple(
            replace(
                each,
                depth=each.depth * factor(each.layer_key),
                volume=each.volume * factor(each.layer_key),
                blown_volume=each.blown_volume * factor(each.layer_key),
            )
            for each in basis.cavities
        ),
        hand_fills=tuple(
            replace(each, depth=each.depth * factor(each.layer_key), volume=each.volume * factor(each.layer_key))
            for each in basis.hand_fills
        ),
    )


@dataclass(frozen=True, slots=True)
class ScopeTotals:
    """Sums of a scope, and counts of the work in it. Areas m2, lengths m."""

    walls: int
    gross_area: float
    opening_area: float
    net_area: float
    billed_area: float
    modelled_area: float
    blown_cavities: int
    blown_volume: float
    """m3"""
    hand_places: int
    """Filled by hand, those before sheathing included."""
    early_places: int
    """Filled before sheathing."""
    sealed_length: float
    blockers: int
    eave_baffles: int
    holes: int
    checks: int
    """Cores of the density check."""


def scope_totals(basis: Basis, rows: Sequence[ScopeRow]) -> ScopeTotals:
    """The sums of a scope."""
    blown = [cavity for cavity in basis.cavities if cavity.lower_holes + cavity.upper_holes]
    methods = [each.method for each in basis.hand_fills]
    return ScopeTotals(
        walls=sum(row.walls for row in rows),
        gross_area=fsum(row.gross_area for row in rows),
        opening_area=fsum(row.opening_area for row in rows),
        net_area=fsum(row.net_area for row in rows),
        billed_area=fsum(row.billed_area for row in rows),
        modelled_area=fsum(row.net_area * row.modelled for row in rows),
        blown_cavities=len(blown),
        blown_volume=fsum(cavity.blown_volume for cavity in blown),
        hand_places=methods.count(Method.BATT) + methods.count(Method.BEFORE_SHEATHING),
        early_places=methods.count(Method.BEFORE_SHEATHING),
        sealed_length=fsum(each.length for each in basis.hand_fills if each.method == Method.SEAL),
        blockers=sum(piece.kind == "blocker" for piece in basis.pieces),
        eave_baffles=sum(piece.kind == "eave_baffle" for piece in basis.pieces),
        holes=sum(cavity.lower_holes + cavity.upper_holes for cavity in blown),
        checks=sample_size(len(blown)),
    )


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Walls that the price does not cover, with one reason."""

    reason: str
    walls: int
    area: float
    """m2 of the bodies or stud layers that could be measured"""
    failed: bool


def walls_left_out(basis: Basis) -> tuple[LeftOut, ...]:
    """Walls of the model that nothing is filled in, by reason, the most area first; every wall of the model is here or
    in the scope."""
    groups: dict[tuple[str, bool], list[BasisWall]] = {}
    for wall in basis.walls:
        if wall.net_area <= 0.0:
            reason = wall.reason or (wall.insulated_reason if not wall.insulated else "nothing in it can be filled")
            groups.setdefault((reason, wall.status == Status.FAILED), []).append(wall)
    rows = [
        LeftOut(reason, len(walls), fsum(wall.gross_area for wall in walls), failed)
        for (reason, failed), walls in groups.items()
    ]
    return tuple(sorted(rows, key=lambda row: (not row.failed, -row.area, row.reason)))
