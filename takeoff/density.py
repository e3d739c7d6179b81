"""Design density of loose-fill fibre, the mass each cavity takes, and a plan for checking what was installed.

A density check cuts a core of known diameter through the depth of the fill and weighs it: sample mass over known
volume (method of a draft ASTM guide on blown density, source read as a draft page).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, pi, sqrt

import numpy as np
import shapely

from takeoff.fill import CavityFill, FillPlan, Hole, Pass
from takeoff.model import Cavity

HANDBOOK = "ASHRAE Handbook Fundamentals (SI) 2021, chapter 26 table 1, at 24 C mean (source read, transcription)"
ANY_DEPTH = 10.0
"""m; beyond any wall."""


class DensityError(ValueError):
    """A fibre or depth that the table does not hold."""


@dataclass(frozen=True, slots=True)
class DensityRow:
    """Density of one fibre in closed or netted cavities of a range of depths.

    low, design, high: kg/m3; a core between low and high passes. over, upto: m, depth over < d <= upto.
    """

    fibre: str
    over: float
    upto: float
    low: float
    design: float
    high: float
    source: str


LOST_DEPTH = 0.25
"""Part of the depth of a cavity that members may take before cores are cut elsewhere. Own assumption."""
SINGLE_VALUE = 0.10
"""Tolerance either side of a published single density. Own assumption, no published source."""

DEFAULT_TABLE = (
    DensityRow(
        "glass fibre",
        0.0,
        ANY_DEPTH,
        29.0,
        33.0,
        37.0,
        f"{HANDBOOK}: closed cavity 29 to 37 kg/m3; the middle is the design value (own choice); the table knows no "
        "depth and does not speak of netting",
    ),
    DensityRow(
        "rock and slag wool",
        0.0,
        ANY_DEPTH,
        64.0 * (1.0 - SINGLE_VALUE),
        64.0,
        64.0 * (1.0 + SINGLE_VALUE),
        f"{HANDBOOK}: closed cavity 64 kg/m3; +-10 % is an own assumption",
    ),
    DensityRow(
        "cellulose",
        0.0,
        ANY_DEPTH,
        56.0,
        56.0 * (1.0 + SINGLE_VALUE),
        56.0 * (1.0 + 2.0 * SINGLE_VALUE),
        f"{HANDBOOK}: dense packed in walls 56 kg/m3; 3.5 lb/ft3 is a minimum (Building America report 1109, Standard "
        "Work Specifications 4.1103.1, source read), so the design value stands 10 % above it (own assumption)",
    ),
)


@dataclass(frozen=True, slots=True)
class CavityMass:
    """What one cavity must take when blown, kg."""

    cavity_id: str
    volume: float
    """m3, blown part"""
    depth: float
    """m, volume over elevation area"""
    density: float
    """kg/m3"""
    mass: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class CoreSize:
    """The tool. diameter: m. Default 4 in (own assumption): in 2x4 studs that takes some 24 g of glass fibre."""

    diameter: float = 4 * 0.0254


@dataclass(frozen=True, slots=True)
class Core:
    """One core to cut and weigh."""

    cavity_id: str
    layer_key: str
    storey: str
    room: str
    fill_pass: Pass
    x: float
    z: float
    """m, wall axes: middle of the core"""
    diameter: float
    depth: float
    """m; where the core turns out shorter, its limits shrink in proportion"""
    mass: float
    """kg, at the design density"""
    least: float
    most: float
    """kg, limits within which it passes"""


def density_row(fibre: str, depth: float, table: Sequence[DensityRow] = DEFAULT_TABLE) -> DensityRow:
    """The row of a fibre for a cavity depth in m.

    Raises DensityError for a fibre or depth that the table does not hold.

    >>> density_row("glass fibre", 0.089).design
    33.0
    """
    rows = [row for row in table if row.fibre == fibre]
    if not rows:
        known = ", ".join(sorted({row.fibre for row in table}))
        raise DensityError(f"no density is known for the fibre {fibre!r}; name one of: {known}, or add a row")
    for row in rows:
        if row.over < depth <= row.upto:
            return row
    raise DensityError(f"the density table has no row for {fibre!r} in a cavity {depth:.3f} m deep; add one")


def mean_depth(cavity: Cavity) -> float:
    """m; volume over elevation area, so that what takes part of the depth counts."""
    return cavity.volume / cavity.outline.area


def cavity_masses(
    plan: FillPlan, cavities: Sequence[Cavity], fibre: str, table: Sequence[DensityRow] = DEFAULT_TABLE
) -> tuple[CavityMass, ...]:
    """The mass of every blown cavity, in the order of the plan. Raises DensityError as `density_row` does."""
    by_id = {cavity.cavity_id: cavity for cavity in cavities}
    masses: list[CavityMass] = []
    for fill in plan.cavities:
        if not fill.n_holes:
            continue
        depth = mean_depth(by_id[fill.cavity_id])
        row = density_row(fibre, depth, table)
        volume = fill.blown_volume
        masses.append(
            CavityMass(
                fill.cavity_id, volume, depth, row.design, volume * row.design, volume * row.low, volume * row.high
            )
        )
    return tuple(masses)


def sample_size(n_cavities: int) -> int:
    """How many cavities to check: the square root of their number, plus one, rounded up, all where there are fewer.

    The rule is an old one of goods inspection (from memory; it claims no statistical confidence).

    >>> [sample_size(n) for n in (0, 1, 3, 100, 400)]
    [0, 1, 3, 11, 21]
    """
    return min(n_cavities, ceil(sqrt(n_cavities) - 1e-9) + 1) if n_cavities else 0


def sampling_plan(
    plan: FillPlan,
    cavities: Sequence[Cavity],
    fibre: str,
    core: CoreSize | None = None,
    table: Sequence[DensityRow] = DEFAULT_TABLE,
) -> tuple[Core, ...]:
    """Which cavities to check, where, and what the core should weigh.

    Cavities that can be cored are put in the order storey, room, stud layer, left to right, and taken at equal
    distances in that list, so that walls and rooms are met in proportion to their cavities and the choice needs no
    chance. Lower and upper pass take turns where a cavity has both. Raises DensityError as `density_row` does.
    """
    core = core or CoreSize()
    by_id = {cavity.cavity_id: cavity for cavity in cavities}
    holes: dict[str, list[Hole]] = {}
    for hole in plan.holes:
        if _can_be_cored(by_id[hole.cavity_id]):
            holes.setdefault(hole.cavity_id, []).append(hole)
    order = sorted(
        (fill for fill in plan.cavities if fill.cavity_id in holes),
        key=lambda fill: (
            fill.storey,
            fill.room,
            fill.layer_key,
            by_id[fill.cavity_id].outline.bounds[0],
            fill.cavity_id,
        ),
    )
    number = sample_size(len(order))
    cores: list[Core] = []
    tried: set[int] = set()
    for turn in range(number):
        start = int((turn + 0.5) * len(order) / number)
        for index in (*range(start, len(order)), *range(start)):
            if index in tried:
                continue
            tried.add(index)
            cavity = by_id[order[index].cavity_id]
            spot = _spot(cavity, holes[cavity.cavity_id], core, upper=turn % 2 == 1)
            if spot is not None:
                depth = cavity.y_max - cavity.y_min
                cores.append(_core(order[index], depth, spot, core, density_row(fibre, depth, table)))
                break
    return tuple(cores)


def _can_be_cored(cavity: Cavity) -> bool:
    """True where a core in the open front very likely goes through the whole depth.

    Obstructions rule a cavity out; so do members that take more than `LOST_DEPTH` of it (thin ones, such as the lips of
    steel studs, do not).
    """
    return not cavity.obstructions and mean_depth(cavity) >= (1.0 - LOST_DEPTH) * (cavity.y_max - cavity.y_min)


@dataclass(frozen=True, slots=True)
class _Spot:
    hole: Hole
    x: float
    z: float


def _spot(cavity: Cavity, holes: Sequence[Hole], core: CoreSize, *, upper: bool) -> _Spot | None:
    """Place of a core in the open front, None where it has no room.

    Far from the hole the fill is thinnest, so the check looks half way between the hole (the last or the first of the
    cavity) and the far end of its reach; where there is no room, at the hole itself.
    """
    hole = holes[-1] if upper else holes[0]
    low, high = hole.reached.bounds[1], hole.reached.bounds[3]
    far = low if hole.z - low >= high - hole.z else high
    room = shapely.buffer(cavity.front, -0.4999 * core.diameter, join_style="mitre")
    for z in (0.5 * (hole.z + far), hole.z):
        if room.covers(shapely.Point(hole.x, z)):
            return _Spot(hole, hole.x, z)
    return None


def _core(fill: CavityFill, depth: float, spot: _Spot, core: CoreSize, row: DensityRow) -> Core:
    volume = 0.25 * pi * core.diameter**2 * depth
    return Core(
        cavity_id=fill.cavity_id,
        layer_key=fill.layer_key,
        storey=fill.storey,
        room=fill.room,
        fill_pass=spot.hole.fill_pass,
        x=spot.x,
        z=spot.z,
        diameter=core.diameter,
        depth=depth,
        mass=volume * row.design,
        least=volume * row.low,
        most=volume * row.high,
    )


def total_mass(masses: Sequence[CavityMass]) -> float:
    """kg"""
    return float(np.sum([mass.mass for mass in masses]))
