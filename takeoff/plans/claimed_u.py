"""Why a U-value that the model states for a wall may differ from the one that was worked out."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

from takeoff.envelope.walls import WallPart
from takeoff.units import R_US, UnitSystem, format_transmittance

_NEAR = 0.03
"""Relative; a stated figure is taken for another where they agree so far. Own rule."""


def causes_of_u(declared: float, found: float, parts: Sequence[WallPart]) -> list[str]:
    """What the stated U-value may have been taken for, and what the found one lacks; U in W/(m2 K)."""
    causes = []
    through_fill = _u_of_fill(parts)
    if _is_near(declared, 1.0 / found):
        causes.append("as if a resistance were written as a U-value")
    elif _is_near(declared, found / R_US) or _is_near(declared, found * R_US):
        causes.append("as if the unit of one system were written for the other")
    elif through_fill is not None and _is_near(declared, through_fill):
        causes.append("that is the U-value through the fill, without the framing")
    missing = sorted({name for part in parts for name in part.heat.missing})
    if missing:
        causes.append(f"counted as nothing, since not known: {', '.join(missing)}")
    return causes


def how_u_came_about(declared: float, found: float, parts: Sequence[WallPart], system: UnitSystem) -> str:
    """What to compare where no single cause is seen: the U-value through the fill and the share of framing."""
    more = "more" if declared < found else "less"
    words = [f"the model promises {more} than was found; no single cause seen"]
    through_fill = _u_of_fill(parts)
    if through_fill is not None:
        share = fsum(part.framing for part in parts) / fsum(part.net for part in parts)
        words.append(
            f"found: {format_transmittance(through_fill, system)} through the fill, "
            f"{format_transmittance(found, system)} with {100.0 * share:.1f} % framing and what is not filled"
        )
    if any(part.heat.films and "ventilated" in part.heat.films[1].reason for part in parts):
        words.append("layers behind ventilated air do not count")
    return "; ".join([*words, "compare the build-up in layer_values.csv"])


def _is_near(value: float, other: float) -> bool:
    return abs(value / other - 1.0) <= _NEAR


def _u_of_fill(parts: Sequence[WallPart]) -> float | None:
    """W/(m2 K), air to air through the blown cavities, weighted by area; None where nothing is blown."""
    flows = [row.flow for part in parts for row in part.heat.cavities if row.flow.kind == "filled"]
    area = fsum(flow.area for flow in flows)
    return fsum(flow.area * flow.u for flow in flows) / area if area > 0.0 else None
