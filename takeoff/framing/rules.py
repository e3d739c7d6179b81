"""Rule sets by which a frame is laid out where the model has layers only: each default with its unit and source.

Everything is SI. `PRESETS` holds rule sets named by what they are; a job file starts from one and changes fields.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields, replace
from types import MappingProxyType
from typing import Any

from takeoff.errors import TakeoffError
from takeoff.units import INCH

PRACTICE = "common practice, no published source"
LUMBER = "PS 20 dry lumber, nominal 2 in = 1-1/2 in (read in a secondary source)"
STEEL = "362S162-43: 1-5/8 in flange, 1/2 in lip, 0.0451 in design thickness (designator rule; lip from memory)"
IRC_HEADERS = "IRC 2021 Table R602.7(1), 30 psf snow, 24 ft building (read in one transcription)"
IRC_FIRE = (
    "IRC R302.11: fireblocking at floor and ceiling levels and horizontally at 10 ft at most (read in paraphrase)"
)

CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "material": ("wood", "steel"),
        "spacing_datum": ("wall_start", "building_corner"),
        "header_carries": ("roof_and_ceiling", "one_floor", "two_floors"),
        "jack_rule": ("header_table", "by_width", "none"),
        "header_depth_rule": ("by_span", "full_depth_to_plate"),
        "header_face": ("far", "fill"),
        "corner": ("three_stud", "two_stud_clips", "none"),
        "backing": ("channel", "ladder", "none"),
        "jamb": ("boxed", "doubled"),
    }
)
"""The allowed words of every field that is a choice."""


class RuleError(TakeoffError, ValueError):
    """A rule set asks for something that cannot be framed, or names a preset or field that does not exist."""


def _rule(default: Any, unit: str, source: str) -> Any:
    return field(default=default, metadata={"unit": unit, "source": source})


@dataclass(frozen=True, slots=True, kw_only=True)
class FramingRules:
    """How a stud layer is framed. The metadata of each field hold its unit and the source of its default.

    Layout: the edge of the first stud stands at the datum, the centres of the next at whole multiples of the spacing
    from the datum, and the last stud is flush with the wall's end. Each of these layout lines is carried by a member:
    a stud that would overlap a king, jack or end stud is left out where that member carries its line, and stands
    against that member where it does not.
    """

    name: str = _rule("wood-16in", "", "name of the rule set")
    material: str = _rule("wood", "wood | steel", PRACTICE)
    spacing: float = _rule(
        16 * INCH, "m", "IRC R602.3(5): 16 in under a floor and roof (read in paraphrase); steel: common practice"
    )
    spacing_datum: str = _rule(
        "wall_start", "wall_start | building_corner", PRACTICE + "; building_corner starts at the outside of the corner"
    )
    stud_thickness: float = _rule(1.5 * INCH, "m", LUMBER + "; for steel the flange width, as seen in elevation")
    plate_thickness: float = _rule(1.5 * INCH, "m", LUMBER + "; for steel the thickness of the track's web")
    bottom_plates: int = _rule(1, "count", PRACTICE)
    top_plates: int = _rule(2, "count", "IRC R602.3.2 double top plate (read in paraphrase)")
    end_studs: bool = _rule(True, "yes | no", PRACTICE)
    """Studs kept flush at both ends of the wall and at steps of its outline."""
    king_studs: int = _rule(1, "count each side", PRACTICE)
    jack_rule: str = _rule(
        "header_table", "header_table | by_width | none", IRC_HEADERS + "; none where headers hang on brackets"
    )
    one_jack_width: float = _rule(
        6 * 12 * INCH, "m", "county sheet after an older state code, 602.6.3: one jack to 6 ft, wider two"
    )
    """Used by `jack_rule` by_width only: openings up to this width have one jack stud each side, wider ones two."""
    header_carries: str = _rule("roof_and_ceiling", "roof_and_ceiling | one_floor | two_floors", IRC_HEADERS)
    header_depth_rule: str = _rule("by_span", "by_span | full_depth_to_plate", IRC_HEADERS)
    header_depth_limit: float = _rule(
        11.25 * INCH, "m", LUMBER + "; a space to the plate that is deeper than a 2x12 takes the header by span"
    )
    header_plies: int = _rule(2, "count", IRC_HEADERS)
    header_ply_thickness: float = _rule(1.5 * INCH, "m", LUMBER)
    insulated_header: bool = _rule(False, "yes | no", PRACTICE + "; no means packed out to the depth of the studs")
    """Yes: the plies alone take depth, the rest of the depth is a space for insulation."""
    header_face: str = _rule("far", "far | fill", PRACTICE + "; an insulated header stands at the outside")
    sill_plates: int = _rule(1, "count", PRACTICE)
    least_framed_hole: float = _rule(
        6 * INCH, "m", PRACTICE + "; a smaller hole is drilled between studs, without header, sill or studs of its own"
    )
    """A hole without a door or window in it that is smaller than this both ways is kept clear of members, no more."""
    cripples: bool = _rule(True, "yes | no", PRACTICE + "; cripples stand on the layout of the studs")
    sill_end_cripples: bool = _rule(True, "yes | no", PRACTICE)
    corner: str = _rule(
        "three_stud",
        "three_stud | two_stud_clips | none",
        PRACTICE + "; a three-stud corner leaves a pocket (read in paraphrase)",
    )
    backing: str = _rule("channel", "channel | ladder | none", PRACTICE)
    backing_nailing: float = _rule(1.0 * INCH, "m", PRACTICE + "; face left for the lining's edge beside a wall")
    ladder_spacing: float = _rule(24 * INCH, "m", PRACTICE)
    ladder_block_height: float = _rule(3.5 * INCH, "m", LUMBER + "; a flat 2x4")
    blocking_above: float = _rule(
        10 * 12 * INCH, "m", "IRC R602.3(5): studs to 10 ft (read in paraphrase); a row above that is common practice"
    )
    """Bays higher than this get level rows of blocking, so that no part is higher. `inf` for none."""
    blocking_heights: tuple[float, ...] = _rule((), "m above the wall's underside", IRC_FIRE)
    """Rows at stated heights (middle of the block), for fire stops at floor and ceiling levels."""
    flange: float = _rule(1.625 * INCH, "m", STEEL + "; steel only")
    lip: float = _rule(0.5 * INCH, "m", STEEL + "; steel only")
    steel_thickness: float = _rule(0.0451 * INCH, "m", STEEL + "; steel only")
    jamb: str = _rule(
        "boxed", "boxed | doubled", PRACTICE + "; steel only: jack and king lips together, or all one way"
    )
    rows: int = _rule(1, "count", "one row of studs, or two")
    row_depth: float = _rule(3.5 * INCH, "m", LUMBER + "; two rows only: 2x4 studs")
    """Depth of each of two rows; the space between them is what the stud layer's depth leaves."""
    row_offset: float = _rule(0.0, "m", PRACTICE + "; two rows only: how far the far row's studs stand along the wall")
    rows_share_plates: bool = _rule(False, "yes | no", PRACTICE + "; yes for staggered studs on one wide plate")
    fire_stop_interval: float = _rule(math.inf, "m along the wall", IRC_FIRE)
    """Two rows only: the shared space is closed by an upright stop at least this often. `inf` for none."""
    fire_stop_thickness: float = _rule(
        23 / 32 * INCH, "m", "IRC R302.11.1: 23/32 in wood structural panel (from memory, to be confirmed)"
    )

    def __post_init__(self) -> None:
        for name, words in CHOICES.items():
            if getattr(self, name) not in words:
                raise RuleError(f"rule {name!r} is {getattr(self, name)!r}; write one of {', '.join(words)}")
        for name in _POSITIVE:
            if not getattr(self, name) > 0.0 or math.isnan(getattr(self, name)):
                raise RuleError(f"rule {name!r} is {getattr(self, name)!r}; write a length above zero")
        if not self.least_framed_hole >= 0.0:
            raise RuleError(f"rule 'least_framed_hole' is {self.least_framed_hole!r}; write a length, 0 to frame all")
        for name in _COUNTS:
            if getattr(self, name) < 0 or getattr(self, name) > 6:
                raise RuleError(f"rule {name!r} is {getattr(self, name)!r}; write a count from 0 to 6")
        if self.blocking_above < 4.0 * self.stud_thickness:
            raise RuleError(f"rule 'blocking_above' is {self.blocking_above} m; write at least four stud thicknesses")
        if any(math.isnan(height) or math.isinf(height) for height in self.blocking_heights):
            raise RuleError(f"rule 'blocking_heights' is {self.blocking_heights!r}; write heights in metres")
        if self.rows not in (1, 2):
            raise RuleError(f"rule 'rows' is {self.rows!r}; write 1 or 2")
        if self.spacing < 2.0 * self.stud_thickness or math.isinf(self.spacing):
            raise RuleError(f"rule 'spacing' is {self.spacing} m; write at least twice the stud thickness")


_POSITIVE = (
    "spacing",
    "stud_thickness",
    "plate_thickness",
    "one_jack_width",
    "header_depth_limit",
    "header_ply_thickness",
    "ladder_spacing",
    "ladder_block_height",
    "blocking_above",
    "flange",
    "lip",
    "steel_thickness",
    "row_depth",
    "fire_stop_interval",
    "fire_stop_thickness",
)
_COUNTS = ("bottom_plates", "top_plates", "king_studs", "header_plies", "sill_plates")

_ADVANCED = "advanced framing as the trade uses the word: common practice, no published source"
_METRIC = "45 mm timber: common practice, no published source"

_CHANGES: Mapping[str, tuple[dict[str, Any], str]] = {
    "wood-16in": ({}, "defaults"),
    "wood-24in-advanced": (
        {
            "spacing": 24 * INCH,
            "top_plates": 1,
            "insulated_header": True,
            "sill_end_cripples": False,
            "corner": "two_stud_clips",
            "backing": "ladder",
        },
        _ADVANCED,
    ),
    "wood-600mm": (
        {"spacing": 0.6, "stud_thickness": 0.045, "plate_thickness": 0.045, "backing": "ladder", "blocking_above": 2.4},
        _METRIC,
    ),
    "wood-400mm": (
        {"spacing": 0.4, "stud_thickness": 0.045, "plate_thickness": 0.045, "backing": "ladder", "blocking_above": 2.4},
        _METRIC,
    ),
    "steel-16in": (
        {
            "material": "steel",
            "stud_thickness": 1.625 * INCH,
            "plate_thickness": 0.0451 * INCH,
            "top_plates": 1,
            "sill_end_cripples": False,
            "backing": "channel",
            "blocking_above": math.inf,
        },
        STEEL + "; track top and bottom without a second plate; bridging channels in the punch-outs are not counted",
    ),
    "double-stud": (
        {
            "spacing": 24 * INCH,
            "rows": 2,
            "sill_end_cripples": False,
            "corner": "two_stud_clips",
            "backing": "ladder",
            "fire_stop_interval": 10 * 12 * INCH,
        },
        PRACTICE + "; stops every 10 ft: " + IRC_FIRE,
    ),
    "staggered-stud": (
        {
            "spacing": 16 * INCH,
            "rows": 2,
            "rows_share_plates": True,
            "row_offset": 8 * INCH,
            "backing": "ladder",
            "fire_stop_interval": 10 * 12 * INCH,
        },
        PRACTICE + "; stops every 10 ft: " + IRC_FIRE,
    ),
}


def _presets() -> dict[str, FramingRules]:
    made = {name: FramingRules(name=name, **changes) for name, (changes, _) in _CHANGES.items()}
    made["steel-24in"] = replace(made["steel-16in"], name="steel-24in", spacing=24 * INCH)
    return made


PRESETS: Mapping[str, FramingRules] = MappingProxyType(_presets())
"""Rule sets by name."""

PRESET_SOURCES: Mapping[str, str] = MappingProxyType(
    {name: source for name, (_, source) in _CHANGES.items()} | {"steel-24in": _CHANGES["steel-16in"][1]}
)
"""Why a preset departs from the defaults."""


def preset(name: str) -> FramingRules:
    """The rule set of that name. Raises RuleError naming those that exist."""
    try:
        return PRESETS[name]
    except KeyError:
        raise RuleError(f"no framing rules are named {name!r}; choose from {', '.join(PRESETS)}") from None


def with_changes(rules: FramingRules, **changes: Any) -> FramingRules:
    """A copy of the rules with fields changed.

    Raises RuleError for an unknown field or a value that cannot be framed.
    """
    known = {rule.name for rule in fields(rules)}
    unknown = sorted(set(changes) - known)
    if unknown:
        raise RuleError(f"no framing rule is named {unknown[0]!r}; the rules are {', '.join(sorted(known))}")
    return replace(rules, **changes)


def rule_fields() -> tuple[Field[Any], ...]:
    """The fields of a rule set with their metadata `unit` and `source`, in order."""
    return fields(FramingRules)


def source_of(rules: FramingRules, name: str) -> str:
    """Where the value of one field comes from: the preset, the default, or the job file.

    Raises RuleError for an unknown field.
    """
    known = {rule.name: rule for rule in fields(rules)}
    if name not in known:
        raise RuleError(f"no framing rule is named {name!r}")
    value = getattr(rules, name)
    if value == known[name].default:
        return str(known[name].metadata["source"])
    if rules.name in PRESETS and getattr(PRESETS[rules.name], name) == value:
        return PRESET_SOURCES[rules.name]
    return "stated in the job file"
