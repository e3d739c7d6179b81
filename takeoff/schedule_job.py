"""The job file's sections on materials, labour, the truck, the quote and its risk."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StrictBool, StrictInt, StrictStr, model_validator

from takeoff.job_values import (
    CHOICE,
    LONGEST_WORD,
    OWN,
    PRACTICE,
    Area,
    Conductivity,
    Density,
    Length,
    Mass,
    Number,
    Section,
    Share,
    Volume,
    value_of,
)

RECORDS = OWN + "; put in your own records"
LONGEST_TEXT = 400
MOST_ALTERNATES = 6
"""More than these fit on no page."""

Words = Annotated[StrictStr, Field(max_length=LONGEST_TEXT)]


def _day(value: object) -> object:
    """A date as TOML has it, or text."""
    return value.isoformat() if hasattr(value, "isoformat") else value  # type: ignore[union-attr]


Day = Annotated[StrictStr, BeforeValidator(_day), Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]


class Netting(Section):
    """How the netting is hung and held."""

    fastening: Literal["staples", "glue"] = value_of(
        "staples",
        "staples | glue",
        "How the netting is held: stapled along every line, or glued along the lines and stapled along the top plate. "
        "On steel studs it is always glued.",
        PRACTICE,
    )
    staple_spacing: Length = value_of(
        "1.75 in", "m", "Between staples along a line.", PRACTICE + ": 1 1/2 to 2 in", ("10 mm", "500 mm")
    )
    glued_staple_spacing: Length = value_of(
        "2 ft", "m", "Between staples along the top plate of glued netting.", PRACTICE, ("50 mm", "3 m")
    )
    lap: Length = value_of("50 mm", "m", "Overlap where two pieces of netting meet.", OWN, ("0 mm", "500 mm"))
    edge: Length = value_of(
        "25 mm", "m", "Netting beyond the outer edge on each side, trimmed after fastening.", OWN, ("0 mm", "500 mm")
    )
    close_holes: StrictBool = value_of(
        False, "true | false", "Whether a patch goes over every fill hole.", PRACTICE + ": a slit closes by itself"
    )
    plain_waste: Share = value_of(
        0.15,
        "share",
        "Waste of the rule of thumb for netting, which the layout is compared with: area of the walls, openings not "
        "deducted, and this part of it more.",
        RECORDS,
        ("0", "1"),
    )


def _waste(share: float, what: str) -> Share:
    return value_of(share, "share", f"{what}: waste as a part of the net quantity.", RECORDS, ("0", "1"))


class Waste(Section):
    """Waste of what is not laid out piece by piece."""

    fibre: Share = _waste(0.03, "Fibre, for what is swept up and does not go back")
    staples: Share = _waste(0.05, "Staples")
    adhesive: Share = _waste(0.1, "Adhesive")
    batts: Share = _waste(0.1, "Batts, by area")
    sealant: Share = _waste(0.1, "Sealant, by length")


def _minutes(default: float, meaning: str) -> Number:
    return value_of(default, "minutes", meaning, RECORDS, ("0", "600"))


class Labour(Section):
    """Crew and production rates. Rates are those of one person."""

    crew_size: StrictInt = value_of(3, "count", "People of the crew.", PRACTICE + ": 2 to 4", None)
    hours_per_day: Number = value_of(8.0, "hours", "Hours on site a day.", CHOICE, ("1", "16"))
    set_up_minutes: Number = _minutes(40.0, "Minutes of the whole crew a day for the machine, hose and clearing up.")
    netting_area_per_hour: Area = value_of(
        "9 m2", "m2", "Netting hung and fastened in a person-hour.", RECORDS, ("0.1 m2", "200 m2")
    )
    blown_volume_per_hour: Volume = value_of(
        "0.9 m3", "m3", "Volume blown in a person-hour, hole by hole.", RECORDS, ("0.01 m3", "50 m3")
    )
    minutes_per_hole: Number = _minutes(0.8, "Person-minutes to cut a hole, enter the hose and move on.")
    upper_factor: Number = value_of(
        1.4, "factor", "How much longer a hole above standing reach takes, from ladder or stilts.", RECORDS, ("1", "5")
    )
    minutes_per_hand_fill: Number = _minutes(6.0, "Person-minutes for a place that is filled by hand.")
    minutes_per_sealed_metre: Number = _minutes(2.0, "Person-minutes for a metre of sealant.")
    minutes_per_piece: Number = _minutes(5.0, "Person-minutes for a blocker or an eave baffle.")
    minutes_per_patch: Number = _minutes(0.3, "Person-minutes to patch a hole.")
    minutes_per_check: Number = _minutes(8.0, "Person-minutes for a density check, by core and scale.")
    move_minutes: Number = _minutes(15.0, "Minutes of the whole crew to move into a room.")

    @model_validator(mode="after")
    def _people(self) -> Labour:
        if not 1 <= self.crew_size <= 50:
            raise ValueError("crew_size is not between 1 and 50")
        if self.set_up_minutes >= 60.0 * self.hours_per_day:
            raise ValueError("set_up_minutes take the whole day")
        return self


def _pieces(default: float, what: str) -> Number:
    return value_of(default, "factor", what, RECORDS, ("0", "20"))


class Protection(Section):
    """Protective equipment that is used up."""

    goggles_per_person: Number = _pieces(1.0, "Closed goggles for each person and job.")
    respirators_per_person_day: Number = _pieces(1.0, "Particle masks or filter sets for each person and day.")
    gloves_per_person_day: Number = _pieces(1.0, "Pairs of gloves for each person and day.")
    coveralls_per_person_day: Number = _pieces(1.0, "Coveralls for each person and day.")


class Truck(Section):
    """What the truck carries besides machine, hose and crew."""

    volume: Volume = value_of("22 m3", "m3", "Room for materials.", RECORDS, ("0.5 m3", "200 m3"))
    mass: Mass = value_of("2200 kg", "kg", "Payload for materials.", RECORDS, ("50 kg", "40000 kg"))


class Alternate(Section):
    """Another fibre, density or depth that the builder may choose."""

    name: Annotated[StrictStr, Field(min_length=1, max_length=LONGEST_WORD)] = Field(
        description="Name on the quote, such as 'Cellulose'."
    )
    fibre: Annotated[StrictStr, Field(min_length=1, max_length=LONGEST_WORD)] | None = Field(
        default=None, description="Name of the fibre in the price book."
    )
    density: Density | None = Field(
        default=None,
        description="Design density in place.",
        json_schema_extra={"unit": "kg/m3", "limits": ["5 kg/m3", "300 kg/m3"]},
    )
    conductivity: Conductivity | None = Field(
        default=None,
        description="Conductivity at that density.",
        json_schema_extra={"unit": "W/(m K)", "limits": ["0.01 W/(m K)", "1 W/(m K)"]},
    )
    depth: Length | None = Field(
        default=None,
        description="Depth of the studs; volumes change in proportion, members and holes stay.",
        json_schema_extra={"unit": "m", "limits": ["30 mm", "1 m"]},
    )

    wall_type: Annotated[StrictStr, Field(min_length=1, max_length=LONGEST_WORD)] | None = Field(
        default=None, description="Pattern of the wall types whose depth changes, such as 'Outside*'; all without it."
    )

    @model_validator(mode="after")
    def _speaks(self) -> Alternate:
        if self.fibre is None and self.density is None and self.depth is None:
            raise ValueError("says nothing; give it a fibre, a density or a depth")
        if (self.fibre or self.density) and self.conductivity is None:
            raise ValueError("has no conductivity, so no R-value can be offered; add it")
        return self


class Quote(Section):
    """What the quote says besides what was counted."""

    reference: Words = value_of("", "text", "Your number of the quote.", CHOICE)
    date: Day = value_of("", "text", "Date of the quote, such as 2026-03-02; no date is printed without it.", CHOICE)
    client: Words = value_of("", "text", "Who asked for the quote: name and address, lines parted by ';'.", CHOICE)
    site: Words = value_of("", "text", "Where the building stands, lines parted by ';'.", CHOICE)
    paper: Literal["auto", "a4", "letter"] = value_of(
        "auto", "auto | a4 | letter", "Paper: auto is Letter where units are us, else A4.", CHOICE
    )
    billed_area: Literal["net", "gross", "openings_over_size"] = value_of(
        "net",
        "net | gross | openings_over_size",
        "Measurement rule of the billed area: all openings deducted, none, or those larger than opening_size. The "
        "material always follows the cavities.",
        CHOICE + "; contracts differ",
    )
    opening_size: Area = value_of(
        "2.5 m2",
        "m2",
        "Largest opening that openings_over_size does not deduct.",
        "German VOB/C, area items (DIN 18350 and others), as trade-press summaries give it",
        ("0 m2", "50 m2"),
    )
    alternates: Annotated[tuple[Alternate, ...], Field(max_length=MOST_ALTERNATES)] = Field(
        default=(), description="What the builder may choose instead, priced the same way."
    )


def _range(default: float, meaning: str, limits: tuple[str, str]) -> Number:
    return value_of(default, "factor", meaning, RECORDS, limits)


class Risk(Section):
    """Ranges over which the price is simulated: triangular, with 1 (or 0 more) as the likeliest value."""

    seed: StrictInt = value_of(1, "count", "Seed of the simulation: the same seed gives the same figures.", CHOICE)
    runs: StrictInt = value_of(2000, "count", "Number of simulated jobs, 100 to 100000.", CHOICE)
    spacing_low: Number = _range(0.85, "Stud spacing of laid-out frames, lowest, as a factor.", ("0.3", "1"))
    spacing_high: Number = _range(1.1, "The same, highest.", ("1", "3"))
    plates_low: Number = _range(0.0, "Plates more than laid out for each such wall, fewest.", ("-2", "0"))
    plates_high: Number = _range(1.0, "The same, most.", ("0", "4"))
    corner_studs_low: Number = _range(0.0, "Studs more than laid out for each such wall, fewest.", ("-4", "0"))
    corner_studs_high: Number = _range(3.0, "The same, most: corners, backing, point loads.", ("0", "20"))
    density_low: Number = _range(0.95, "Density reached, lowest, as a factor on the design density.", ("0.5", "1"))
    density_high: Number = _range(1.12, "The same, highest.", ("1", "2"))
    production_low: Number = _range(0.9, "Person-hours, lowest, as a factor.", ("0.3", "1"))
    production_high: Number = _range(1.3, "The same, highest.", ("1", "5"))
    netting_low: Number = _range(0.98, "Netting used, lowest, as a factor.", ("0.5", "1"))
    netting_high: Number = _range(1.08, "The same, highest.", ("1", "3"))

    @model_validator(mode="after")
    def _possible(self) -> Risk:
        if not 100 <= self.runs <= 100_000:
            raise ValueError("runs is not between 100 and 100000")
        if self.seed < 0:
            raise ValueError("seed is below zero")
        return self
