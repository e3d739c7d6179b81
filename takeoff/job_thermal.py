"""The job file's sections on heat: fibre, method, targets, materials, and how far the plans may be off."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StrictStr, field_validator

from takeoff.errors import TakeoffError
from takeoff.job_values import (
    CHOICE,
    LONGEST_WORD,
    OWN,
    Area,
    Conductivity,
    Length,
    Section,
    Share,
    optional_value_of,
    value_of,
)
from takeoff.units import UnitError, parse_resistance, parse_transmittance

STATED = "stated"
"""Word for the fibre whose conductivity section [fibre] states."""
MOST_MATERIALS = 500
GAPS = "ISO 6946, corrections; BR 443 (2019) 4.8.1 (read in a transcription)"


def _target(text: str) -> float:
    try:
        return parse_transmittance(text)
    except UnitError:
        resistance = parse_resistance(text)
        if resistance <= 0.0:
            raise ValueError("is a resistance of nothing; write one above zero") from None
        return 1.0 / resistance


Target = Annotated[float, BeforeValidator(_target)]
"""W/(m2 K), written as a U-value or as a resistance."""


class MaterialValue(Section):
    """Conductivity of the materials whose names fit a pattern."""

    name: Annotated[StrictStr, Field(min_length=1, max_length=LONGEST_WORD)] = Field(
        description="Pattern of the material's name in the model, such as 'OSB*'."
    )
    conductivity: Conductivity = Field(
        description="Design thermal conductivity of these materials.",
        json_schema_extra={"unit": "W/(m K)", "limits": ["0.005 W/(m K)", "500 W/(m K)"]},
    )


class Thermal(Section):
    """How U-values are worked out and what they have to reach."""

    method: Literal["handbook", "iso_6946"] = value_of(
        "handbook",
        "handbook | iso_6946",
        "Whose method governs for walls without steel: parallel path with the films of the ASHRAE Handbook, or the "
        "combined method of ISO 6946 with its films. Steel studs always get a published correction.",
        CHOICE + "; ask which one the local code wants",
    )
    fibre: Annotated[str, Field(min_length=1, max_length=LONGEST_WORD)] = value_of(
        STATED,
        "text",
        "'stated' takes the conductivity of [fibre], or a resistance by depth where [[fibre.by_depth]] has one; else "
        "the key of a row of takeoff/thermal/data/loose_fill_fibre.csv, whose density range then has to hold.",
        CHOICE,
    )
    framing_conductivity: Conductivity | None = optional_value_of(
        "0.12 W/(m K)",
        "W/(m K)",
        "Conductivity of wood framing; where it is not set, by the name of the studs' material, softwood where that "
        "says nothing.",
        "takeoff/thermal/data/design_conductivities.csv, source in each row",
        ("0.05 W/(m K)", "1 W/(m K)"),
    )
    batt_conductivity: Conductivity | None = optional_value_of(
        "0.04 W/(m K)",
        "W/(m K)",
        "Conductivity of batts put in by hand; where it is not set, that of light glass-fibre batts.",
        "takeoff/thermal/data/design_conductivities.csv, row glass_wool",
        ("0.01 W/(m K)", "1 W/(m K)"),
    )
    air_layers: Literal["unventilated", "slightly_ventilated", "well_ventilated"] = value_of(
        "unventilated",
        "unventilated | slightly_ventilated | well_ventilated",
        "Air layers outside the studs. Of a ventilated one, it and all beyond it count for nothing; a layer that the "
        "model calls ventilated is taken as well ventilated.",
        OWN + ": models seldom say; ask for the detail",
    )
    air_gaps: Literal[0, 1, 2] = value_of(
        0, "0 | 1 | 2", "Level of air gaps in the insulation (iso_6946 only): added to U where it matters.", GAPS
    )
    grade: Literal["I", "II", "III"] = value_of(
        "I",
        "I | II | III",
        "Grade of installation: 0, 2 or 5 percent of the filled area count as voids.",
        "takeoff/thermal/data/installation_grades.csv (read in a transcription)",
    )
    climate_zone: Annotated[StrictStr, Field(max_length=LONGEST_WORD)] | None = optional_value_of(
        "5A",
        "text",
        "Climate zone for the code minimum, 0 to 8, with the moisture letter if known. By the model code walls of wood "
        "comply by their insulation alone too (R-value options). Check the edition in force locally.",
        "takeoff/thermal/data/code_minimums.csv and code_wall_options.csv, source and edition in each row",
    )
    place: Annotated[str, Field(min_length=1, max_length=LONGEST_WORD)] = value_of(
        "model code", "text", "Place whose code minimum counts, as the same table names it.", CHOICE
    )
    target: Target | None = optional_value_of(
        "0.25 W/(m2 K)",
        "W/(m2 K)",
        "The project's own target for whole walls, as a U-value or a resistance from air to air (4 m2 K/W, R-22); it "
        "goes before the code minimum.",
        "the project",
        ("0.01 W/(m2 K)", "10 W/(m2 K)"),
    )
    material: Annotated[tuple[MaterialValue, ...], Field(max_length=MOST_MATERIALS)] = Field(
        default=(), description="Conductivities of materials, which go before the model's own and the table's."
    )

    @field_validator("fibre", mode="after")
    @classmethod
    def _known_fibre(cls, key: str) -> str:
        if key != STATED:
            # Only here, and below: most jobs name neither, and a takeoff without them loads nothing on heat.
            from takeoff.thermal.fibre import fibre_named

            try:
                fibre_named(key)
            except TakeoffError as error:
                raise ValueError(f"is {key!r}. {error}") from None
        return key

    @field_validator("climate_zone", mode="after")
    @classmethod
    def _known_zone(cls, zone: str | None) -> str | None:
        if zone is not None:
            from takeoff.thermal.targets import climate_zone

            try:
                climate_zone(zone)
            except TakeoffError as error:
                raise ValueError(f"is {zone!r}. {error}") from None
        return zone


class PlanCheck(Section):
    """How far what was found may lie from what the plans and the model declare."""

    area_share: Share = value_of(
        0.02, "share", "Difference of an area, as a part of what is declared, that still agrees.", OWN, ("0", "0.5")
    )
    least_area: Area = value_of("0.1 m2", "m2", "Difference of an area that always agrees.", OWN, ("0 m2", "100 m2"))
    value_share: Share = value_of(
        0.03,
        "share",
        "Difference of a U- or R-value or of a length, as a part of what is declared, that still agrees.",
        OWN + ": plans print two digits",
        ("0", "0.5"),
    )
    window_slack: Length = value_of(
        "100 mm",
        "m",
        "How much wider or higher than its door or window an opening may be, both sides together.",
        OWN + ": twice the usual room for shims and frames",
        ("0 mm", "1 m"),
    )
    least_gap: Length = value_of(
        "0.5 m",
        "m",
        "A stretch of a room's edge with neither a wall nor another room is told from this length on.",
        OWN + ": narrower ones are corners and columns",
        ("50 mm", "20 m"),
    )
