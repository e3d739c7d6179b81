"""What the truck carries, as net quantities: netting, fibre, batts, staples. No waste, no reserve, no packaging yet."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

from takeoff.density import ANY_DEPTH, SINGLE_VALUE, CavityMass, DensityRow, cavity_masses
from takeoff.fill import FillPlan
from takeoff.fill_order import Preparation, PreparationKind
from takeoff.job import Job
from takeoff.model import Cavity, LayerTakeoff, Method, WallTakeoff
from takeoff.netting_lines import NettingLines, netting_lines
from takeoff.schedule import netting_is_glued, staples_along
from takeoff.schedule_basis import studs_of

WIDTH_STEP, DEPTH_STEP = 0.05, 0.005
"""m; batts are listed by width to the next 5 cm and depth to the next 5 mm, so that like pieces come together. Own
choice."""


@dataclass(frozen=True, slots=True)
class Batts:
    """Pieces to be placed by hand that have one width and depth."""

    width: float
    """m, the shorter side of the place in elevation, to the next 5 cm"""
    depth: float
    """m, to the next 5 mm"""
    pieces: int
    length: float
    """m, all pieces together, each as long as its place"""
    longest: float
    """m"""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Pieces cut to fit. length: m, all together. area: m2, 0 where nobody knows it."""

    number: int
    length: float
    area: float


NO_PIECES = Pieces(0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Fastening:
    """How netting is held, as the schedule counts it: the job's way, on steel studs always glued."""

    stapled_length: float
    """m; lines stapled all along"""
    glued_length: float
    """m; lines glued all along"""
    glued_top_plate: float
    """m; of these, the top plates, which are stapled too"""
    staples: int


def fastening_of(layer: LayerTakeoff, lines: NettingLines, job: Job) -> Fastening:
    """How the netting of one stud layer is held."""
    glued = netting_is_glued(studs_of(layer), job)
    count = staples_along(lines.total, lines.top_plate, glued, job)
    return Fastening(0.0, lines.total, lines.top_plate, count) if glued else Fastening(lines.total, 0.0, 0.0, count)


@dataclass(frozen=True, slots=True)
class TruckLoad:
    """Net quantities of a job."""

    netting_area: float
    """m2"""
    fastening: Fastening
    """Of the netting."""
    fibre_volume: float
    """m3, in place"""
    fibre_mass: float
    """kg"""
    batts: tuple[Batts, ...]
    baffles: Pieces = NO_PIECES
    """Eave baffles, their length along the wall."""
    blockers: Pieces = NO_PIECES
    """Blockers, the length of the sides that they close."""


def density_table(job: Job) -> tuple[DensityRow, ...]:
    """The job's densities as a table for `takeoff.density`: design values of the job, limits 10 % either side."""
    fibre = job.fibre
    steps = [(step.depth_to, step.density) for step in fibre.by_depth]
    rows: list[DensityRow] = []
    over = 0.0
    for upto, density in [*steps, (ANY_DEPTH, fibre.density)]:
        low, high = density * (1.0 - SINGLE_VALUE), density * (1.0 + SINGLE_VALUE)
        source = "job file; limits 10 % either side (own assumption)"
        rows.append(
            DensityRow(fibre.name, over, upto + (1e-9 if upto < ANY_DEPTH else 0.0), low, density, high, source)
        )
        over = rows[-1].upto
    return tuple(rows)


def job_masses(plan: FillPlan, cavities: Sequence[Cavity], job: Job) -> dict[str, CavityMass]:
    """The fibre that every blown cavity takes at the job's design density, by cavity id."""
    masses = cavity_masses(plan, cavities, job.fibre.name, density_table(job))
    return {mass.cavity_id: mass for mass in masses}


def netted_layers(plan: FillPlan, results: Iterable[WallTakeoff]) -> tuple[LayerTakeoff, ...]:
    """The stud layers in which something is blown, in order of the results."""
    blown = {fill.layer_key for fill in plan.cavities if fill.n_holes}
    return tuple(layer for wall in results for layer in wall.layers if layer.frame.layer.key in blown)


def truck_load(
    plan: FillPlan,
    results: Sequence[WallTakeoff],
    job: Job,
    preparations: Sequence[Preparation] = (),
) -> TruckLoad:
    """Net quantities of the whole job. preparations: all of it, for baffles and blockers."""
    cavities = [cavity for wall in results for layer in wall.layers for cavity in layer.cavities]
    netted = netted_layers(plan, results)
    lines = [netting_lines(layer) for layer in netted]
    held = [fastening_of(layer, each, job) for layer, each in zip(netted, lines, strict=True)]
    masses = job_masses(plan, cavities, job).values()
    return TruckLoad(
        netting_area=sum(each.area for each in lines),
        fastening=Fastening(
            sum(each.stapled_length for each in held),
            sum(each.glued_length for each in held),
            sum(each.glued_top_plate for each in held),
            sum(each.staples for each in held),
        ),
        fibre_volume=sum(mass.volume for mass in masses),
        fibre_mass=sum(mass.mass for mass in masses),
        batts=batt_pieces(plan, cavities),
        baffles=_pieces(preparations, PreparationKind.EAVE_BAFFLE),
        blockers=_pieces(preparations, PreparationKind.BLOCKER),
    )


def _pieces(preparations: Sequence[Preparation], kind: PreparationKind) -> Pieces:
    """One piece for each place."""
    here = [item for item in preparations if item.kind is kind]
    return Pieces(len(here), sum(item.length for item in here), sum(item.area for item in here))


def batt_pieces(plan: FillPlan, cavities: Sequence[Cavity]) -> tuple[Batts, ...]:
    """Places filled by hand or before sheathing, grouped by width and depth, widest first.

    Each counts as one piece; a long one may take several batts end to end, which `length` covers.
    """
    by_id = {cavity.cavity_id: cavity for cavity in cavities}
    groups: dict[tuple[int, int], list[float]] = {}
    for part in plan.hand_fills:
        if part.method is Method.SEAL or part.outline.is_empty:
            continue
        cavity = by_id[part.cavity_id]
        x0, z0, x1, z1 = part.outline.bounds
        short, long = sorted((x1 - x0, z1 - z0))
        key = (_steps(short, WIDTH_STEP), _steps(cavity.y_max - cavity.y_min, DEPTH_STEP))
        groups.setdefault(key, []).append(long)
    return tuple(
        Batts(width * WIDTH_STEP, depth * DEPTH_STEP, len(heights), sum(heights), max(heights))
        for (width, depth), heights in sorted(groups.items(), reverse=True)
    )


def _steps(size: float, step: float) -> int:
    """Size in steps, upwards."""
    return ceil(size / step - 1e-6)
