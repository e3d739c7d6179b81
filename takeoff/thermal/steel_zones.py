"""Steel studs by zones: the overall thermal zone method of AISI S250 and the handbook's modified zone method."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum

import numpy as np

from takeoff.thermal.assembly import (
    Assembly,
    HeatPath,
    Part,
    PartKind,
    Plane,
    SteelStuds,
    Transmittance,
    TransmittanceMethod,
    missing_note,
    plane_resistance,
)
from takeoff.thermal.errors import MethodNotApplicableError, ThermalError
from takeoff.thermal.steel import cavity_parts
from takeoff.thermal.tables import needed, table
from takeoff.units import R_US

SPACING_SLACK = 0.02
"""Relative: studs at 400 or 600 mm take the coefficients of 16 or 24 in (1.6 % wider). Own rule; the standard itself
knows only 6, 12, 16 and 24 in."""

CAVITY_AIR = 0.91 * R_US
"""m2 K/W of the air in an empty cavity; 0.91 h ft2 F/Btu. AISI S250-21 with Supplement 1, B3.1.1, read in a
transcription."""

ZONES_SOURCE = "AISI S250-21 with Supplement 1 (2022), B3.1.1 to B3.1.8 (coefficients read in a transcription)"
MODIFIED_SOURCE = "ASHRAE Handbook-Fundamentals (SI) 2021, chapter 27, modified zone method (read in a transcription)"


@dataclass(frozen=True, slots=True)
class ZoneResult:
    """One cavity by the overall thermal zone method."""

    u: float
    """W/(m2 K)"""
    zone_width: float
    """m, the strip that one stud disturbs"""
    stud_share: float
    """Zone width over spacing, at most 1."""
    stud_path: float
    """m2 K/W"""
    cavity_path: float
    """m2 K/W"""


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What lies before and behind a steel-framed layer, m2 K/W."""

    continuous_insulation: float
    """Outside insulation that no stud crosses; wood and gypsum panels are not among it."""
    others: float
    """Films, cladding, sheathing and linings."""


def zone_transmittance(studs: SteelStuds, cavity: float | None, surroundings: Surroundings) -> ZoneResult:
    """U of a wall with steel studs by the overall thermal zone method.

    `cavity` is the resistance of insulation that fills the whole depth, m2 K/W; None for an empty cavity, which counts
    as air. Zone = C0 + C1 Rc + C2 Ri + C3 Rc^2 + C4 Ri^2 + C5 Rc Ri; stud share = zone/spacing;
    U = (1 - share)/R_cavity_path + share/R_stud_path. Coefficients and steel conductivity by designation thickness
    are interpolated linearly, never beyond the table. A zone is never taken narrower than the flange (own rule: the
    polynomial turns down for resistances far beyond a wall's).

    Source: AISI S250-21 with Supplement 1, B3.1.1 to B3.1.8 (`steel_zone_coefficients.csv`). A cavity filled in part
    only is not covered here: the term for its air space was not read.

    Raises MethodNotApplicableError for a spacing or thickness outside the table, ThermalError for a bad figure.
    """
    if cavity is not None and cavity <= 0.0:
        raise ThermalError("A filled cavity needs a positive resistance; give None for an empty one.")
    if min(surroundings.continuous_insulation, surroundings.others) < 0.0:
        raise ThermalError("Resistances around the studs cannot be negative.")
    coefficients, conductivity = _coefficients(studs)
    rc = CAVITY_AIR if cavity is None else cavity
    ri = surroundings.continuous_insulation
    zone = max(float(np.dot(coefficients, [1.0, rc, ri, rc * rc, ri * ri, rc * ri])), studs.flange)
    share = min(zone / studs.spacing, 1.0)
    around = ri + surroundings.others
    if cavity is None:
        at_stud = 0.0
    else:
        web_share = studs.thickness / studs.flange
        at_stud = 1.0 / ((1.0 - web_share) / cavity + web_share / (studs.depth / conductivity))
    stud_path, cavity_path = around + at_stud, around + rc
    if stud_path <= 0.0:
        raise ThermalError("The path at the stud has no resistance at all; give the surface films.")
    return ZoneResult((1.0 - share) / cavity_path + share / stud_path, zone, share, stud_path, cavity_path)


def steel_by_zones(assembly: Assembly) -> Transmittance:
    """U of a wall with one steel-framed plane by the overall thermal zone method, its cavities weighted by area.

    Raises MethodNotApplicableError where the wall has no steel-framed plane or more than one, or the standard does
    not cover its studs.
    """
    framed = [plane for plane in assembly.planes if plane.studs is not None]
    if len(framed) != 1 or framed[0].studs is None:
        raise MethodNotApplicableError(
            f"The zone method covers one layer of steel studs with known spacing; the wall has {len(framed)}."
        )
    plane, studs = framed[0], framed[0].studs
    surroundings = _around(assembly, plane)
    paths: list[HeatPath] = []
    notes: list[str] = []
    for part in cavity_parts(plane):
        u = _part_transmittance(part, studs, surroundings, notes)
        paths.append(HeatPath(part.name, part.fraction, 1.0 / u))
    u = fsum(path.fraction / path.resistance for path in paths)
    return Transmittance(
        TransmittanceMethod.STEEL_ZONES,
        u,
        1.0 / u,
        "Steel C-shaped studs cross the insulation: no parallel path; each stud gathers heat from a zone.",
        ZONES_SOURCE,
        paths=tuple(paths),
        notes=(*notes, *missing_note(assembly)),
    )


def _part_transmittance(part: Part, studs: SteelStuds, around: Surroundings, notes: list[str]) -> float:
    if part.kind in (PartKind.WOOD, PartKind.HEADER):
        return 1.0 / (around.continuous_insulation + around.others + part.resistance)
    found = zone_transmittance(studs, None if part.kind is PartKind.UNFILLED else part.resistance, around)
    notes.append(
        f"{part.name}: zone of {found.zone_width * 1000:.0f} mm at each stud, {found.stud_share:.1%} of it all"
    )
    return found.u


def _around(assembly: Assembly, framed: Plane) -> Surroundings:
    rest = [plane for plane in assembly.planes if plane is not framed]
    insulating = fsum(plane_resistance(plane) for plane in rest if plane.continuous_insulation)
    return Surroundings(insulating, fsum(plane_resistance(plane) for plane in rest if not plane.continuous_insulation))


def _coefficients(studs: SteelStuds) -> tuple[np.ndarray, float]:
    """(6,) float64 coefficients C0..C5 in SI (m; m2 K/W) and the steel's conductivity, W/(m K)."""
    rows = table("steel_zone_coefficients")
    spacings = sorted({needed(row, "spacing_m") for row in rows})
    nearest = min(spacings, key=lambda spacing: abs(spacing - studs.spacing))
    if abs(nearest - studs.spacing) > SPACING_SLACK * nearest:
        raise MethodNotApplicableError(
            f"The zone method knows studs at {', '.join(f'{s * 1000:.0f}' for s in spacings)} mm, not at "
            f"{studs.spacing * 1000:.0f} mm."
        )
    chosen = [row for row in rows if needed(row, "spacing_m") == nearest]
    thicknesses = [needed(row, "thickness_m") for row in chosen]
    if not thicknesses[0] * (1 - 1e-6) <= studs.thickness <= thicknesses[-1] * (1 + 1e-6):
        raise MethodNotApplicableError(
            f"The zone method covers studs {thicknesses[0] * 1000:.3f} to {thicknesses[-1] * 1000:.3f} mm thick, not "
            f"{studs.thickness * 1000:.3f} mm."
        )
    columns = np.array([_row_figures(row) for row in chosen])
    found = [float(np.interp(studs.thickness, thicknesses, column)) for column in columns.T]
    return np.array(found[:6]), found[6]


def _row_figures(row: Mapping[str, str]) -> list[float]:
    return [needed(row, f"c{n}_si") for n in range(6)] + [needed(row, "conductivity_w_mk")]


@dataclass(frozen=True, slots=True)
class ModifiedZone:
    """A steel-stud wall as the handbook's modified zone method sees it."""

    studs: SteelStuds
    zone_factor: float
    """Dimensionless, read off the handbook's chart for the wall at hand; there is no formula for it here."""
    facing_thickness: float
    """m, all materials on the thicker side of the studs"""
    outside: float
    """m2 K/W, materials and film outside the studs"""
    inside: float
    """m2 K/W, materials and film inside the studs"""
    insulation_conductivity: float
    """W/(m K), of what fills the cavity"""
    steel_conductivity: float
    """W/(m K)"""


@dataclass(frozen=True, slots=True)
class ModifiedZoneResult:
    u: float
    """W/(m2 K)"""
    zone_width: float
    """m"""
    web: float
    """m2 K/W of the zone between the flanges"""
    zone_path: float
    """m2 K/W"""
    cavity_path: float
    """m2 K/W"""


def modified_zone(wall: ModifiedZone) -> ModifiedZoneResult:
    """U by the modified zone method: zone = flange + zone factor x facing thickness, then zone beside cavity.

    Source: ASHRAE Handbook-Fundamentals (SI) 2021, chapter 27, Example 5. The stud's depth is over its flanges.
    Raises ThermalError where the zone is wider than the spacing or a figure is not positive.
    """
    studs = wall.studs
    if min(studs.depth - 2.0 * studs.thickness, wall.insulation_conductivity, wall.steel_conductivity) <= 0.0:
        raise ThermalError("The modified zone method needs positive conductivities and a stud deeper than its flanges.")
    width = studs.flange + wall.zone_factor * wall.facing_thickness
    if not studs.flange <= width <= studs.spacing:
        raise ThermalError(f"A zone of {width * 1000:.0f} mm does not lie between the flange and the stud spacing.")
    between = studs.depth - 2.0 * studs.thickness
    web = _side_by_side(width, studs.thickness, between, wall)
    flange = _side_by_side(width, studs.flange, studs.thickness, wall)
    zone_path = wall.outside + wall.inside + web + 2.0 * flange
    cavity_path = wall.outside + wall.inside + studs.depth / wall.insulation_conductivity
    share = width / studs.spacing
    return ModifiedZoneResult(share / zone_path + (1.0 - share) / cavity_path, width, web, zone_path, cavity_path)


def _side_by_side(width: float, steel_width: float, thickness: float, wall: ModifiedZone) -> float:
    """Resistance of a slice of the zone where steel and insulation lie side by side, m2 K/W."""
    conducted = steel_width * wall.steel_conductivity + (width - steel_width) * wall.insulation_conductivity
    return thickness * width / conducted
