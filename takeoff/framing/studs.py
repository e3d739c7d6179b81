"""Upright members away from openings: end studs, studs on the layout, cripples, and the layout lines themselves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from takeoff.framing.pieces import (
    TOUCH,
    Form,
    Outline,
    Piece,
    boxes_of_outlines,
    outlines_of,
    rectangle,
    upright_strips,
)
from takeoff.framing.plates import SIDE, Edges, following
from takeoff.framing.room import Room
from takeoff.framing.rough_openings import RoughOpening
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole

_LEAST_STEP = 0.15
"""m; a plumb edge of the outline shorter than this gets no stud of its own (our rule)."""
_BENT = np.cos(np.radians(20.0))
"""Side edges that turn less than 20 degrees from one to the next are one bent side (our rule)."""
_MOST_LINES = 200_000
"""More layout lines than this mean a wrong unit, not a wall."""


def layout_lines(x_min: float, x_max: float, datum: float, spacing: float) -> NDArray[np.float64]:
    """Where the centres of layout studs fall between two ends, m: the datum plus whole spacings. (n,) float64.

    The first stud stands with its edge at the datum, so the datum itself is no line.
    """
    first = max(1, math.ceil((x_min - datum) / spacing - 1e-9))
    last = math.floor((x_max - datum) / spacing + 1e-9)
    count = min(max(last - first + 1, 0), _MOST_LINES)
    return datum + spacing * np.arange(first, first + count, dtype=np.float64)


def end_studs(edges: Edges, free: Room, rules: FramingRules) -> list[Piece]:
    """Studs flush with the plumb or leaning sides of a wall's outline, cut to the plates. They may overlap."""
    if not rules.end_studs or (box := free.extent) is None:
        return []
    _, low, _, high = box
    ends = following(edges.points)
    sides = _sides_with_studs(edges)
    strips = [
        _strip_along(edges.points[n], ends[n], low, high, math.copysign(rules.stud_thickness, edges.inward[n, 0]))
        for n in sides
    ]
    pieces: list[Piece] = []
    for index, parts in zip(sides, free.common_of_each(strips), strict=True):
        at_start = edges.inward[index, 0] > 0.0
        form = Form.STUD_OPEN_RIGHT if at_start else Form.STUD_OPEN_LEFT
        reason = "stud at the wall's start" if at_start else "stud at the wall's end"
        z_low, z_high = sorted((edges.points[index, 1], ends[index, 1]))
        for part in parts:
            if min(part.z_max, z_high) - max(part.z_min, z_low) > TOUCH:
                pieces.append(Piece(part, MemberRole.STUD, reason, form))
    return sorted(pieces, key=lambda piece: piece.outline[:4])


def _sides_with_studs(edges: Edges) -> list[int]:
    """Side edges that get a stud: of the facets of a bent side, the longest alone."""
    sides = np.flatnonzero((edges.kinds == SIDE) & (edges.lengths > _LEAST_STEP - 1e-6))
    if len(sides) == 0:
        return []
    turn = np.einsum("ij,ij->i", edges.inward[sides[1:]], edges.inward[sides[:-1]])
    runs = np.split(sides, np.flatnonzero((np.diff(sides) != 1) | (turn < _BENT)) + 1)
    return [int(run[np.argmax(edges.lengths[run])]) for run in runs]


def _strip_along(
    start: NDArray[np.float64], stop: NDArray[np.float64], low: float, high: float, thick: float
) -> Outline:
    """A band beside an edge, carried on upward and downward in the edge's own direction."""
    lean = (stop[0] - start[0]) / (stop[1] - start[1])
    if abs(lean) < 1e-9:
        return rectangle(min(start[0], start[0] + thick), low, max(start[0], start[0] + thick), high)
    x_low, x_high = start[0] + lean * (low - start[1]), start[0] + lean * (high - start[1])
    # Thickness is square to the edge, so along x it is wider by the edge's slope.
    across = thick * math.hypot(1.0, lean)
    corners = [(x_low, low), (x_low + across, low), (x_high + across, high), (x_high, high)]
    return outlines_of([Polygon(corners)])[0]


def sill_cripples(sills: Sequence[Piece], free: Room, rules: FramingRules) -> list[Piece]:
    """Short studs under both ends of each sill, down to what lies below. They may overlap end studs."""
    if not rules.sill_end_cripples or (box := free.extent) is None:
        return []
    foot = box[1]
    strips: list[Outline] = []
    forms: list[Form] = []
    for sill in sills:
        x_min, z_min, x_max, _, _ = sill.outline
        if z_min <= foot:
            continue
        thick = min(rules.stud_thickness, 0.5 * (x_max - x_min))
        strips += [rectangle(x_min, foot, x_min + thick, z_min), rectangle(x_max - thick, foot, x_max, z_min)]
        forms += [Form.STUD_OPEN_RIGHT, Form.STUD_OPEN_LEFT]
    return [
        Piece(part, MemberRole.CRIPPLE, "cripple under the sill's end", form)
        for strip, form, parts in zip(strips, forms, free.common_of_each(strips), strict=True)
        for part in parts
        if abs(part.z_max - strip.z_max) < TOUCH
    ]


def layout_studs(lines: NDArray[np.float64], free: Room, rules: FramingRules) -> list[Outline]:
    """Uprights on layout lines (n,), m, in a room: whole strips, and those that must slide against a neighbour.

    A strip that something already standing cuts lengthwise is left out where that carries the line, and slides
    until it touches it where it does not, so that the edge of a board on the line always finds a stud.
    """
    if len(lines) == 0 or (box := free.extent) is None:
        return []
    half = 0.5 * rules.stud_thickness
    _, low, _, high = box
    places = upright_strips(lines - half, lines + half, low, high)
    studs: list[Outline] = []
    for line, parts in zip(lines.tolist(), free.common_of_each(places), strict=True):
        for part in parts:
            # What is not taller than it is thick is no stud: such a gap stays a space of its own.
            if part.z_max - part.z_min <= rules.stud_thickness:
                continue
            if part.x_max - part.x_min > 2.0 * half - TOUCH:
                studs.append(part)
            elif part.x_max - part.x_min > half:
                studs.extend(_slid(part, line, half, free))
    return studs


def _slid(cut: Outline, line: float, half: float, free: Room) -> list[Outline]:
    """The stud moved along the wall until it touches what stands in its way."""
    left = cut.x_max - 2.0 * half if cut.x_max < line + half - TOUCH else cut.x_min
    moved = free.common(rectangle(left, cut.z_min, left + 2.0 * half, cut.z_max))
    return [
        part
        for part in moved
        if part.x_max - part.x_min > 2.0 * (half - TOUCH) and part.z_max - part.z_min > 2.0 * half
    ]


def named_uprights(
    studs: Sequence[Outline],
    roughs: Sequence[RoughOpening],
    reaches: Sequence[tuple[float, float]],
    rules: FramingRules,
) -> list[Piece]:
    """Uprights on the layout with their roles: cripples over headers and under sills, else studs."""
    if not studs:
        return []
    box = boxes_of_outlines(studs)
    reason = np.full(len(studs), "", dtype=object)
    for rough, (start, stop) in zip(roughs, reaches, strict=True):
        within = (box[:, 0] > start - TOUCH) & (box[:, 2] < stop + TOUCH)
        over, under = box[:, 1] > rough.z_max - TOUCH, box[:, 3] < rough.z_min + TOUCH
        inside = (box[:, 1] > rough.z_min - TOUCH) & (box[:, 3] < rough.z_max + TOUCH)
        reason[within & inside] = "cripple inside a merged opening"
        reason[within & under] = "cripple under the sill"
        reason[within & over] = "cripple over the opening"
    return [
        Piece(
            stud,
            MemberRole.CRIPPLE if why else MemberRole.STUD,
            why or "stud on the layout",
            Form.STUD_OPEN_RIGHT,
        )
        for stud, why in zip(studs, reason, strict=True)
        if rules.cripples or not why
    ]
