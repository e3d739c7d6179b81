"""Steel studs by table: the effective resistance of insulation and studs together, and what the table covers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from takeoff.thermal.assembly import (
    Assembly,
    Part,
    PartKind,
    Plane,
    SteelStuds,
    Transmittance,
    TransmittanceMethod,
    heat_paths,
    missing_note,
)
from takeoff.thermal.errors import MethodNotApplicableError, ThermalError
from takeoff.thermal.parallel_path import paths_transmittance
from takeoff.thermal.tables import needed, table

DEPTH_SLACK = 0.001
"""m by which a stud may be shallower than the table's row: 89 mm is 3.5 in. Own rule."""

SPACING_SLACK = 0.01
"""m by which a spacing may be closer than the table's row: 400 mm studs are read as 16 in (406.4 mm), at 0.5 % to 1 %
of the effective resistance. Own rule."""

TABLE_SOURCE = "ANSI/ASHRAE/IES 90.1 Table A9.2-2 (2022, read in a transcription)"


@dataclass(frozen=True, slots=True)
class EffectiveResistance:
    """What insulation between steel studs is worth together with the studs."""

    value: float
    """m2 K/W"""
    factor: float
    """Effective over rated resistance, dimensionless; 0 for an empty cavity."""
    reason: str
    """Which rows were used and how."""


def effective_resistance(studs: SteelStuds, rated: float) -> EffectiveResistance:
    """Effective resistance of insulation of the `rated` resistance (m2 K/W) between steel studs.

    Source: ASHRAE 90.1 Table A9.2-2. The table has spacings of 16 and 24 in, depths of 3.5, 6 and 8 in, and two or
    three ratings for each. Between its rows, own rules, each on the safe side:

    - depth: the next shallower row (a deeper stud has the longer web, so it loses less);
    - rating: linear between the rows of that depth and from nothing at nothing; above the highest row, that row;
    - spacing: linear between 16 and 24 in; wider counts as 24 in.

    Raises MethodNotApplicableError for studs closer than 16 in or shallower than 3.5 in, ThermalError for a negative
    rating.
    """
    if rated < 0.0:
        raise ThermalError("The rated resistance of insulation cannot be negative.")
    rows = [
        (needed(row, "spacing_m"), needed(row, "depth_m"), needed(row, "rated_m2k_w"), needed(row, "effective_m2k_w"))
        for row in table("steel_effective_resistance")
    ]
    depths = sorted({depth for _, depth, _, _ in rows if depth <= studs.depth + DEPTH_SLACK})
    spacings = sorted({spacing for spacing, _, _, _ in rows})
    if not depths:
        raise MethodNotApplicableError(
            f"Steel studs {studs.depth * 1000:.0f} mm deep are shallower than any row of ASHRAE 90.1 Table A9.2-2."
        )
    if studs.spacing < spacings[0] - SPACING_SLACK:
        raise MethodNotApplicableError(
            f"Steel studs at {studs.spacing * 1000:.0f} mm are closer than any row of ASHRAE 90.1 Table A9.2-2; use "
            "the zone method."
        )
    by_spacing = []
    highest = np.inf
    for spacing in spacings:
        known = sorted((r, e) for s, d, r, e in rows if s == spacing and d == depths[-1] and r > 0.0)
        ratings, values = zip((0.0, 0.0), *known, strict=True)
        by_spacing.append(float(np.interp(rated, ratings, values)))
        highest = min(highest, ratings[-1])
    value = float(np.interp(studs.spacing, spacings, by_spacing))
    reason = f"row of {depths[-1] * 1000:.0f} mm studs at {studs.spacing * 1000:.0f} mm"
    if rated > highest:
        reason += f", rated resistance capped at the row's highest ({highest:.2f} m2 K/W)"
    return EffectiveResistance(value, value / rated if rated > 0.0 else 0.0, reason)


def corrected_by_factor(faces: float, insulation: float, factor: float) -> float:
    """Resistance of a metal-framed layer by a correction factor: R_faces + R_insulation x factor, m2 K/W.

    Source: ASHRAE Handbook-Fundamentals (SI) 2021, chapter 27, constructions containing metal.

    >>> corrected_by_factor(0.16, 1.94, 0.5)
    1.13
    """
    if not 0.0 <= factor <= 1.0:
        raise ThermalError(f"A correction factor lies between 0 and 1, not {factor:g}.")
    return faces + insulation * factor


def cavity_parts(plane: Plane) -> tuple[Part, ...]:
    """The parts of a steel-framed plane without its steel, as fractions of what is left.

    Published corrections cover the studs at their spacing, so the steel takes no share of its own.
    Raises ThermalError where nothing but steel is left.
    """
    kept = [part for part in plane.parts if part.kind is not PartKind.STEEL]
    total = sum(part.fraction for part in kept)
    if total <= 0.0:
        raise ThermalError(f"Layer '{plane.name}' is all steel: there is no cavity to correct.")
    return tuple(replace(part, fraction=part.fraction / total) for part in kept)


def steel_by_table(assembly: Assembly) -> Transmittance:
    """U of a wall with steel studs: every cavity's resistance is replaced by its effective one, then areas add up.

    Cavities filled, filled by hand and missed lie side by side as whole patches of wall, so their U-values add by
    area; within a patch the steel is in the effective resistance. Wood and headers keep their own resistance.

    Raises MethodNotApplicableError where no plane has steel studs with a spacing and a depth, or the table does not
    cover them.
    """
    planes: list[Plane] = []
    reasons: list[str] = []
    for plane in assembly.planes:
        if plane.studs is None:
            if any(part.kind is PartKind.STEEL for part in plane.parts):
                raise MethodNotApplicableError(
                    f"Layer '{plane.name}' is framed in steel, but the spacing and depth of its studs are not known."
                )
            planes.append(plane)
            continue
        parts, found = _effective_parts(plane, plane.studs)
        planes.append(Plane(plane.name, parts))
        reasons += found
    if not reasons:
        raise MethodNotApplicableError("The wall has no steel studs; the table for steel studs does not apply.")
    corrected = Assembly(tuple(planes), assembly.missing)
    u = paths_transmittance(corrected)
    return Transmittance(
        TransmittanceMethod.STEEL_TABLE,
        u,
        1.0 / u,
        "Steel studs cross the insulation: no parallel path; a published correction applies.",
        TABLE_SOURCE,
        paths=heat_paths(corrected),
        notes=(*_unique(reasons), *_steel_note(assembly.planes), *missing_note(assembly)),
    )


def _effective_parts(plane: Plane, studs: SteelStuds) -> tuple[tuple[Part, ...], list[str]]:
    parts: list[Part] = []
    reasons: list[str] = []
    for part in cavity_parts(plane):
        if part.kind in (PartKind.WOOD, PartKind.HEADER):
            parts.append(part)
            continue
        found = effective_resistance(studs, part.resistance if part.kind is not PartKind.UNFILLED else 0.0)
        parts.append(replace(part, resistance=found.value, source=TABLE_SOURCE))
        reasons.append(f"{part.name}: {found.reason}, factor {found.factor:.2f}")
    return tuple(parts), reasons or [f"{plane.name}: no cavity between its steel studs"]


def _steel_note(planes: Sequence[Plane]) -> tuple[str, ...]:
    steel = [part.fraction for plane in planes if plane.studs for part in plane.parts if part.kind is PartKind.STEEL]
    if not steel:
        return ()
    return (
        f"Steel covers {sum(steel):.1%} of the elevation; the table counts studs at their spacing only, not the extra "
        "steel at openings and corners.",
    )


def _unique(lines: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(lines))
