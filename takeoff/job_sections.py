"""The sections of a job file: each value with its unit, its default, what it means and where the default is from.

The sections are frozen; nothing in the program changes a job once it is read.
"""

from __future__ import annotations

import itertools
from typing import Annotated, Any, Literal

from pydantic import (
    Field,
    StrictBool,
    field_validator,
    model_validator,
)

from takeoff.job_values import (
    CHOICE,
    LONGEST_WORD,
    LOOSE_FILL,
    OWN,
    PRACTICE,
    Conductivity,
    Density,
    Length,
    Mass,
    Resistance,
    Section,
    Share,
    Volume,
    Words,
    clean_words,
    optional_value_of,
    value_of,
)
from takeoff.units import (
    UnitSystem,
)


class Report(Section):
    """How results are shown; inside everything is SI."""

    units: UnitSystem = value_of(
        "metric", "metric | us", "Units of the reports; files for other programs stay in SI.", CHOICE
    )


class Insulate(Section):
    """Which framed walls are filled."""

    walls: Literal["external", "all", "none"] = value_of(
        "external", "external | all | none", "Framed walls that are filled.", PRACTICE
    )
    rated_internal: StrictBool = value_of(
        True,
        "true | false",
        "Internal walls with an acoustic rating in the model (Pset_WallCommon.AcousticRating) are filled too.",
        PRACTICE,
    )


class Layers(Section):
    """More words that tell what a layer is, for models whose names the program does not know."""

    stud_layer: Words = value_of([], "words", "Words in a material's or layer's name that mean a stud layer.", CHOICE)
    sheathing: Words = value_of([], "words", "Words that mean sheathing.", CHOICE)
    lining: Words = value_of([], "words", "Words that mean lining.", CHOICE)
    cladding: Words = value_of([], "words", "Words that mean cladding.", CHOICE)
    air: Words = value_of([], "words", "Words that mean an air space.", CHOICE)
    other: Words = value_of([], "words", "Words that mean a layer without studs.", CHOICE)
    least_stud_depth: Length = value_of(
        "35 mm",
        "m",
        "A layer thinner than this is no stud layer, whatever its name says (words of this job file go before).",
        PRACTICE + ": 38 mm metal furring is the shallowest that is filled",
        ("5 mm", "1 m"),
    )
    greatest_stud_depth: Length = value_of(
        "400 mm",
        "m",
        "A layer thicker than this is no stud layer, whatever its name says.",
        PRACTICE + ": deep double-stud and truss walls reach it",
        ("50 mm", "2 m"),
    )

    @field_validator("stud_layer", "sheathing", "lining", "cladding", "air", "other", mode="after")
    @classmethod
    def _words(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        return clean_words(words)

    @model_validator(mode="after")
    def _in_order(self) -> Layers:
        if self.least_stud_depth >= self.greatest_stud_depth:
            raise ValueError("least_stud_depth is not below greatest_stud_depth")
        return self


class HoseReach(Section):
    """How far one kind of hose places fibre from a hole."""

    insertion: Length
    """m that the hose goes down into the cavity."""
    throw_down: Length
    """m that fibre packs beyond the end of the hose, downwards."""
    throw_up: Length
    """m above the hole, with the hose turned."""
    throw_sideways: Length
    """m to either side of the hole."""


def _throw(meaning: str) -> Any:
    return value_of(
        "1.5 ft", "m", meaning, OWN + ": with the insertion it gives the holes that crews cut", ("0 m", "10 m")
    )


class ShortHose(HoseReach):
    """Reach of the short hose."""

    insertion: Length = value_of(
        "2.5 ft", "m", "Length put down into the cavity.", PRACTICE + ": 2 to 3 ft", ("0 m", "20 m")
    )
    throw_down: Length = _throw("How far fibre packs beyond the end of the hose, downwards.")
    throw_up: Length = _throw("How far fibre packs above the hole, with the hose turned upwards.")
    throw_sideways: Length = _throw("How far fibre packs to either side of the hole.")


class LongHose(HoseReach):
    """Reach of the long hose, which is drawn out as the cavity fills."""

    insertion: Length = value_of(
        "5.5 ft",
        "m",
        "Length put down into the cavity.",
        OWN + ": with the throws, one hole in an 8 ft wall and a second near the top of a 9 ft wall",
        ("0 m", "20 m"),
    )
    throw_down: Length = _throw("How far fibre packs beyond the end of the hose, downwards.")
    throw_up: Length = _throw("How far fibre packs above the hole, with the hose turned upwards.")
    throw_sideways: Length = _throw("How far fibre packs to either side of the hole.")


class Hose(Section):
    """The hose, and where the crew reaches."""

    kind: Literal["short", "long"] = value_of("short", "short | long", "Kind of hose: see the tables below.", PRACTICE)
    outside_diameter: Length = value_of(
        "3 in", "m", "Outside diameter, which is also the hole's.", PRACTICE + ": 3 or 4 in", ("1 in", "12 in")
    )
    hole_margin: Length = value_of(
        "10 mm", "m", "Left between the edge of a hole and a member.", OWN, ("0 mm", "300 mm")
    )
    standing_reach: Length = value_of(
        "2 m", "m", "Highest hole above the floor that is blown without ladder or stilts.", OWN, ("0.5 m", "3 m")
    )
    ladder_reach: Length = value_of(
        "12 ft", "m", "Highest hole above the floor that is blown from a ladder or stilts.", OWN, ("0.5 m", "20 m")
    )
    comfortable_height: Length = value_of(
        "1.2 m", "m", "Height above the floor that a hole is kept near where it is free to move.", OWN, ("0 m", "3 m")
    )
    least_share: Share = value_of(
        0.999, "share", "Part of a cavity's elevation that its holes must reach.", OWN, ("0.5", "1")
    )
    short: ShortHose = ShortHose()
    long: LongHose = LongHose()

    @model_validator(mode="after")
    def _reachable(self) -> Hose:
        if self.ladder_reach < self.standing_reach:
            raise ValueError("ladder_reach is below standing_reach")
        return self


class DensityStep(Section):
    """Design density of cavities up to a depth."""

    depth_to: Length = Field(
        description="Greatest depth of cavity that this density is for.",
        json_schema_extra={"unit": "m", "limits": ["1 mm", "2 m"]},
    )
    density: Density = Field(
        description="Design density of the fibre in place.",
        json_schema_extra={"unit": "kg/m3", "limits": ["5 kg/m3", "300 kg/m3"]},
    )
    resistance: Resistance | None = Field(
        default=None,
        description="Resistance that the coverage chart prints for that depth; shallower cavities get their share.",
        json_schema_extra={"unit": "m2 K/W", "limits": ["0.1 m2 K/W", "100 m2 K/W"]},
    )


class Fibre(Section):
    """The loose fill, in place."""

    name: Annotated[str, Field(min_length=1, max_length=LONGEST_WORD)] = value_of(
        "loose-fill glass fibre", "text", "Name of the fibre on sheets.", CHOICE
    )
    density: Density = value_of(
        "33 kg/m3",
        "kg/m3",
        "Design density in place; check it against the coverage chart on the bag.",
        LOOSE_FILL + ": 29 to 37 kg/m3, the middle",
        ("5 kg/m3", "300 kg/m3"),
    )
    by_depth: Annotated[tuple[DensityStep, ...], Field(max_length=50)] = Field(
        default=(), description="Densities that hold up to a depth of cavity, where the coverage chart has them."
    )
    conductivity: Conductivity = value_of(
        "0.0355 W/(m K)",
        "W/(m K)",
        "Thermal conductivity at the design density, 24 degC mean.",
        LOOSE_FILL + ": 0.035 to 0.036 W/(m K), the middle",
        ("0.01 W/(m K)", "1 W/(m K)"),
    )
    bag_mass: Mass | None = optional_value_of(
        "25 lb",
        "kg",
        "Fibre in one bag: where it is set, takeoff.html counts the bags. A quote counts those of its price book.",
        CHOICE,
        ("1 kg", "500 kg"),
    )

    @model_validator(mode="after")
    def _rising(self) -> Fibre:
        depths = [step.depth_to for step in self.by_depth]
        if any(later <= earlier for earlier, later in itertools.pairwise(depths)):
            raise ValueError("by_depth is not in rising order of depth_to")
        return self


class Preparations(Section):
    """What is done before the netting goes up: eave baffles, and bays above ceilings."""

    vented_eaves: StrictBool = value_of(
        True,
        "true | false",
        "Eaves are vented: where a filled wall meets one, a baffle over each bay keeps its air path open. Eaves are "
        "found by the model's roofs.",
        PRACTICE,
    )
    eave_storeys: Words = value_of(
        [], "words", "Patterns of storeys whose outside walls meet an eave, where the model has no roof.", CHOICE
    )
    eave_wall_types: Words = value_of([], "words", "The same for wall types, such as 'Exterior*'.", CHOICE)
    ceiling_drop: Length = value_of(
        "150 mm",
        "m",
        "Where a room of the model ends this far below the top of a bay, fill above it before the ceiling hangs.",
        OWN,
        ("10 mm", "5 m"),
    )

    @field_validator("eave_storeys", "eave_wall_types", mode="after")
    @classmethod
    def _patterns(cls, patterns: tuple[str, ...]) -> tuple[str, ...]:
        if any(not pattern.strip() or len(pattern) > LONGEST_WORD for pattern in patterns):
            raise ValueError(f"has a pattern that is empty or longer than {LONGEST_WORD} characters")
        return patterns


class ToleranceSection(Section):
    """Below these a gap is no cavity."""

    sliver_width: Length = value_of(
        "6 mm",
        "m",
        "A gap narrower than this in elevation is sealed, not filled.",
        PRACTICE + ": loose fibre does not flow into it, sealant does",
        ("0 mm", "100 mm"),
    )
    sliver_depth: Length = value_of(
        "6 mm",
        "m",
        "The same for a gap across the depth, such as between the boards of a built-up header.",
        PRACTICE,
        ("0 mm", "100 mm"),
    )
    coincident: Length = value_of(
        "1e-7 m",
        "m",
        "Points and planes nearer than this are the same.",
        "model files carry about seven decimals of a metre",
        ("1e-9 m", "1 mm"),
    )


class Batt(Section):
    """What is filled by hand with batts."""

    clear_width_below: Length | None = value_of(
        None,
        "m",
        "Cavities of less clear width are filled by hand; where it is not set, what the hole needs.",
        "[hose] outside_diameter and twice hole_margin",
        ("0 mm", "1 m"),
    )
    depth_below: Length = value_of(
        "50 mm",
        "m",
        "Cavities of less depth are filled by hand.",
        OWN + ": a flexible hose flattens that far",
        ("0 mm", "1 m"),
    )
    volume_below: Volume = value_of(
        "3 L",
        "m3",
        "Cavities of less volume are filled by hand.",
        OWN + ": filled faster than a hole is cut and closed",
        ("0 m3", "1 m3"),
    )
    hand_width: Length = value_of(
        "25 mm", "m", "Narrowest opening on the fill side through which a batt is pushed.", OWN, ("0 mm", "300 mm")
    )
    open_share: Share = value_of(
        0.1, "share", "Least part of a cavity that must be open on the fill side to fill it by hand.", OWN, ("0", "1")
    )
