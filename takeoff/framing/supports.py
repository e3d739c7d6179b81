"""What stands beside openings: jacks and kings, shared in narrow piers and cut short of a wall's end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from takeoff.finding import Finding, Severity
from takeoff.framing.pieces import LEAST_AREA, Form
from takeoff.framing.rough_openings import RoughOpening
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole

_PACKING = 0.001
"""m; a rest narrower than this needs no packing piece of its own."""


@dataclass(frozen=True, slots=True)
class Support:
    """One upright beside an opening: its place along the wall, m, and what it is."""

    x_min: float
    x_max: float
    role: MemberRole
    reason: str
    form: Form


@dataclass(frozen=True, slots=True)
class Supports:
    """Uprights at both sides of one rough opening, and how far the header bears on each side, m."""

    uprights: tuple[Support, ...]
    bearing_left: float
    bearing_right: float


@dataclass(frozen=True, slots=True)
class _Side:
    """The room beside an opening: to the next opening's side, or to the wall's end (`other` None)."""

    gap: float
    other: int | None


def supports_beside(
    part: Polygon, roughs: Sequence[RoughOpening], heads: NDArray[np.float64], jacks: Sequence[int], rules: FramingRules
) -> tuple[list[Supports], list[Finding]]:
    """Supports for each rough opening of one wall outline, and the piers and wall ends too narrow for them.

    heads: (n,) float64, m, the z up to which each opening's header reaches. jacks: jack studs each side by the table.
    """
    lefts, rights = _sides(part, roughs, heads)
    made: list[Supports] = []
    findings: list[Finding] = []
    for index, rough in enumerate(roughs):
        uprights: list[Support] = []
        bearings: list[float] = []
        for side, direction in ((lefts[index], -1.0), (rights[index], 1.0)):
            edge = rough.x_min if direction < 0.0 else rough.x_max
            other = None if side.other is None else jacks[side.other]
            bearing, strips = _side(side.gap, jacks[index], other, owner=direction > 0.0, rules=rules)
            bearings.append(bearing)
            uprights.extend(_placed(strips, edge, direction, rules))
            if other is None or direction > 0.0:
                findings.extend(_shortage(rough, side, jacks[index] + (other or 0), rules))
        made.append(Supports(tuple(uprights), bearings[0], bearings[1]))
    return made, findings


def _shortage(rough: RoughOpening, side: _Side, jacks: int, rules: FramingRules) -> list[Finding]:
    """A finding where a side has no room for its jacks and kings."""
    need = (jacks + rules.king_studs * (1 if side.other is None else 2)) * rules.stud_thickness
    if side.gap >= need - 1e-6:
        return []
    if side.other is not None:
        code, text = "narrow-pier", "The pier between two openings is too narrow for their studs and is framed solid"
    elif side.gap < _PACKING:
        code, text = "opening-at-wall-end", "The opening touches the end of the wall; nothing carries its header there"
    else:
        code, text = "opening-near-wall-end", "The wall's end beside the opening is too narrow for its jacks and kings"
    return [
        Finding(
            code,
            Severity.WARNING,
            f"{text}; check the opening's place, or have the framing drawn.",
            element_id=rough.opening_id,
            element_name=rough.name,
            measured=round(side.gap, 6),
            limit=round(need, 6),
            unit="m",
        )
    ]


def _sides(
    part: Polygon, roughs: Sequence[RoughOpening], heads: NDArray[np.float64]
) -> tuple[list[_Side], list[_Side]]:
    """For each opening the nearest neighbour at its height, or the wall's end, to the left and to the right."""
    box = np.array([[rough.x_min, rough.z_min, rough.x_max] for rough in roughs])
    level = (box[:, None, 1] < heads[None]) & (box[None, :, 1] < heads[:, None])
    lefts: list[_Side] = []
    rights: list[_Side] = []
    for index, rough in enumerate(roughs):
        start, stop = _wall_ends(part, rough)
        beside = level[index] & (np.arange(len(roughs)) != index)
        lefts.append(_nearest(rough.x_min - box[:, 2], beside, max(rough.x_min - start, 0.0)))
        rights.append(_nearest(box[:, 0] - rough.x_max, beside, max(stop - rough.x_max, 0.0)))
    return lefts, rights


def _nearest(gaps: NDArray[np.float64], beside: NDArray[np.bool_], to_end: float) -> _Side:
    allowed = np.where(beside & (gaps > -1e-6), gaps, np.inf)
    other = int(np.argmin(allowed))
    if allowed[other] < to_end:
        return _Side(max(float(allowed[other]), 0.0), other)
    return _Side(to_end, None)


def _wall_ends(part: Polygon, rough: RoughOpening) -> tuple[float, float]:
    """Where the wall begins and ends at the middle of an opening, m."""
    x_min, z_min, x_max, z_max = part.bounds
    if abs(part.area - (x_max - x_min) * (z_max - z_min)) < LEAST_AREA:
        return x_min, x_max
    middle = 0.5 * (rough.z_min + rough.z_max)
    line = shapely.intersection(LineString([(x_min - 1.0, middle), (x_max + 1.0, middle)]), part)
    centre = 0.5 * (rough.x_min + rough.x_max)
    for piece in shapely.get_parts(line):
        left, _, right, _ = piece.bounds
        if left <= centre <= right:
            return left, right
    return rough.x_min, rough.x_max


def _side(
    gap: float, jacks: int, other: int | None, *, owner: bool, rules: FramingRules
) -> tuple[float, list[tuple[float, float, MemberRole, str]]]:
    """Bearing, m, and the uprights of one side as (from, to, role, reason), m from the opening's edge.

    A pier with room for all has ordinary uprights. A narrower one is solid: jacks first, the rest a shared king that
    the left opening owns. At a wall's end the last upright is the wall's end stud.
    """
    thick, kings = rules.stud_thickness, rules.king_studs
    if other is None:
        need = (jacks + kings + int(rules.end_studs)) * thick
        bearing = min(jacks * thick, gap)
        rest = gap - bearing
    else:
        need = (jacks + other + 2 * kings) * thick
        bearing = min(jacks * thick, gap * jacks / (jacks + other)) if jacks + other else 0.0
        rest = gap - min((jacks + other) * thick, gap)
    strips = _solid(0.0, bearing, thick, MemberRole.JACK_STUD, "jack stud beside the opening")
    if gap >= need - 1e-9:
        strips += _solid(bearing, bearing + kings * thick, thick, MemberRole.KING_STUD, "king stud beside the opening")
    elif owner or other is None:
        reason = "king stud shared by a narrow pier" if other is not None else "king stud at the wall's end"
        strips += _solid(bearing, bearing + rest, thick, MemberRole.KING_STUD, reason)
    return bearing, strips


def _solid(
    start: float, stop: float, thick: float, role: MemberRole, reason: str
) -> list[tuple[float, float, MemberRole, str]]:
    """A stretch filled with whole studs, and a packing piece for the rest."""
    count = int((stop - start + _PACKING) / thick)
    strips = [(start + thick * n, start + thick * (n + 1), role, reason) for n in range(count)]
    end = start + thick * count
    if stop - end > _PACKING:
        strips.append((end, stop, role, f"packing: {reason}"))
    elif strips:
        # A rest below the packing limit goes into the last stud, so that a pier meant solid has no crack.
        strips[-1] = (strips[-1][0], stop, role, reason)
    return strips


def _placed(
    strips: list[tuple[float, float, MemberRole, str]], edge: float, direction: float, rules: FramingRules
) -> list[Support]:
    """Strips at their place along the wall. Steel: the web of the upright at the opening faces it."""
    away = Form.STUD_OPEN_RIGHT if direction > 0.0 else Form.STUD_OPEN_LEFT
    towards = Form.STUD_OPEN_LEFT if direction > 0.0 else Form.STUD_OPEN_RIGHT
    placed: list[Support] = []
    for number, (near, far, role, reason) in enumerate(strips):
        form = towards if rules.jamb == "boxed" and number % 2 else away
        low, high = sorted((edge + direction * near, edge + direction * far))
        placed.append(Support(low, high, role, reason, form))
    return placed
