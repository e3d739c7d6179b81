"""What a wall must reach: code minimum by climate zone, or the project's own target; pass, fail and margin."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from takeoff.thermal.errors import ThermalError
from takeoff.thermal.tables import MEMORY, needed, reference, table

CHECK_LOCALLY = "check the edition in force locally"

SAME = 1e-9
"""Relative: a value equal to the target passes in spite of rounding in the last place."""


@dataclass(frozen=True, slots=True)
class Target:
    """A U-value that may not be exceeded."""

    name: str
    u: float
    """W/(m2 K), highest allowed"""
    source: str
    from_memory: bool
    """True where the figure was read nowhere."""
    warning: str
    """What must be said beside it; empty for a project's own target."""


@dataclass(frozen=True, slots=True)
class RValueOption:
    """One way to comply by insulation alone: cavity and continuous insulation, m2 K/W."""

    cavity: float
    continuous: float
    published: str
    """As the code prints it, e.g. '20&5ci'."""
    source: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a wall stands against its target."""

    target: Target
    found: float
    """W/(m2 K)"""
    passes: bool
    margin: float
    """W/(m2 K): target less found; negative where it fails."""
    margin_share: float
    """Margin over target, dimensionless."""


@dataclass(frozen=True, slots=True)
class OptionVerdict:
    """How insulation stands against one R-value option."""

    option: RValueOption
    passes: bool
    cavity_margin: float
    """m2 K/W: found less required"""
    continuous_margin: float


def climate_zone(text: str) -> str:
    """A climate zone as the tables write it: '0' to '8', or '4 marine'. The moisture letter counts only for 4C.

    Raises ThermalError for a text that is no climate zone.

    >>> climate_zone('4C'), climate_zone('5A'), climate_zone('zone 4 marine')
    ('4 marine', '5', '4 marine')
    """
    folded = " ".join(re.sub(r"[^a-z0-9]+", " ", text.casefold()).split())
    found = re.fullmatch(r"(?:climate )?(?:zone )?(?:(marine) )?([0-8]) ?([abc])?( marine)?( except marine)?", folded)
    if found is None:
        raise ThermalError(f"'{text}' is no climate zone; give 0 to 8, with the moisture letter if known (4C: marine).")
    before, digit, letter, after, _ = found.groups()
    marine = bool(before or after) or (letter == "c" and digit == "4")
    return "4 marine" if marine and digit == "4" else digit


def code_targets(zone: str, element: str = "wall") -> tuple[Target, ...]:
    """Every tabulated code minimum for a climate zone and an element ('wall', 'ceiling', 'floor'), table order.

    The first is the model code; later ones are places that changed it. Source and edition stand in each row; all
    carry the warning to check the edition in force locally.

    Raises ThermalError for an unknown zone or element.
    """
    wanted = climate_zone(zone)
    rows = [row for row in table("code_minimums") if row["zone"] == wanted and row["element"] == element]
    if not rows:
        raise ThermalError(f"No code minimum is tabulated for the element '{element}' in climate zone {wanted}.")
    return tuple(_target(row, wanted, element) for row in rows)


def code_target(zone: str, element: str = "wall", place: str = "model code") -> Target:
    """The code minimum for a zone and an element in one place. Raises ThermalError where none is tabulated."""
    wanted = climate_zone(zone)
    for row in table("code_minimums"):
        if (row["zone"], row["element"], row["place"]) == (wanted, element, place):
            return _target(row, wanted, element)
    raise ThermalError(f"No code minimum is tabulated for the element '{element}' in climate zone {wanted}, {place}.")


def project_target(name: str, *, u: float | None = None, resistance: float | None = None) -> Target:
    """The project's own target, as a U-value, W/(m2 K), or as a whole-wall resistance, m2 K/W.

    Raises ThermalError unless exactly one positive figure is given.
    """
    given = [value for value in (u, resistance) if value is not None]
    if len(given) != 1 or not isfinite(given[0]) or given[0] <= 0.0:
        raise ThermalError(f"Target '{name}' needs one positive figure: a U-value or a resistance.")
    value = u if u is not None else 1.0 / given[0]
    return Target(name, value, "the project's own target", False, "")


def judge(found: float, target: Target) -> Verdict:
    """Pass, fail and margin of a U-value, W/(m2 K); the figure is compared as it is, not rounded first.

    >>> judge(0.25, project_target('plans', u=0.26)).passes
    True
    """
    if not isfinite(found) or found <= 0.0:
        raise ThermalError("A U-value to judge must be a positive number.")
    margin = target.u - found
    return Verdict(target, found, margin >= -SAME * target.u, margin, margin / target.u)


def wall_options(zone: str) -> tuple[RValueOption, ...]:
    """The R-value options for walls in a climate zone, table order; any one of them complies.

    Source: IECC 2021 residential Table R402.1.3, as read (`code_wall_options.csv`).
    """
    wanted = climate_zone(zone)
    return tuple(
        RValueOption(
            needed(row, "cavity_m2k_w"), needed(row, "continuous_m2k_w"), row["published_option"], reference(row)
        )
        for row in table("code_wall_options")
        if row["zone"] == wanted
    )


def judge_option(cavity: float, continuous: float, option: RValueOption) -> OptionVerdict:
    """Whether insulation meets one R-value option. Only insulation counts: no films, no other layers (R402.1.2).

    `cavity` is the settled resistance of the blown fill and `continuous` that of uninterrupted insulation, m2 K/W.
    """
    cavity_margin, continuous_margin = cavity - option.cavity, continuous - option.continuous
    passes = cavity_margin >= -SAME and continuous_margin >= -SAME
    return OptionVerdict(option, passes, cavity_margin, continuous_margin)


def _target(row: Mapping[str, str], zone: str, element: str) -> Target:
    name = f"{row['edition']}, {row['place']}: {element}, climate zone {zone}"
    from_memory = row["status"] == MEMORY
    return Target(name, needed(row, "u_w_m2k"), reference(row), from_memory, CHECK_LOCALLY)
