"""Upright members away from openings: end studs, studs on the layout, cripples, and the layout lines themselves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import polygons_of
from takeoff.framing.pieces import (
    LEAST_AREA,
    TOUCH,
    Form,
    Piece,
    as_one,
    common,
    cut_away,
    extents,
    rectangle,
    strips_in,
    without,
)
from takeoff.framing.plates import SIDE, Edges
from takeoff.framing.rough_openings import RoughOpening
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole

Space = Polygon | MultiPolygon

_LEAST_STEP = 0.15
"""m; a plumb edge of the outline shorter than this gets no stud of its own (our rule)."""
_BENT = np.cos(np.radians(20.0))
"""Side edges that turn less than 20 degrees from one to the next are one bent side (our rule)."""
_MOST_LINES = 200_000


def layout_lines(x_min: float, x_max: float, datum: float, spacing: float) -> NDArray[np.float64]:
    """Where the centres of layout studs fall strictly between two ends, m: the datum plus whole spacings. (n,) float64.

    The first stud stands with its edge at the datum, so the datum itself is no line.
    """
    first = max(1, math.ceil((x_min - datum) / spacing - 1e-9))
    last = math.floor((x_max - datum) / spacing + 1e-9)
    count = min(max(last - first + 1, 0), _MOST_LINES)
    return datum + spacing * np.arange(first, first + count, dtype=np.float64)


def end_studs(edges: Edges, free: Space, rules: FramingRules) -> list[Piece]:
    """Studs flush with the plumb or leaning sides of a wall's outline, cut to the plates."""
    if not rules.end_studs or free.is_empty:
        return []
    _, low, _, high = free.bounds
    ends = np.roll(edges.points, -1, axis=0)
    pieces: list[Piece] = []
    for index in _sides_with_studs(edges):
        start, stop = edges.points[index], ends[index]
        strip = _strip_along(start, stop, low, high, rules.stud_thickness * np.sign(edges.inward[index, 0]))
        at_start = edges.inward[index, 0] > 0.0
        form = Form.STUD_OPEN_RIGHT if at_start else Form.STUD_OPEN_LEFT
        reason = "stud at the wall's start" if at_start else "stud at the wall's end"
        z_low, z_high = sorted((start[1], stop[1]))
        for part in common(strip, free):
            if min(part.bounds[3], z_high) - max(part.bounds[1], z_low) > TOUCH:
                pieces.append(Piece(part, MemberRole.STUD, reason, form))
    pieces.sort(key=lambda piece: piece.outline.bounds)
    kept: list[Piece] = []
    for piece in pieces:
        for rest in without(piece.outline, [other.outline for other in kept]):
            kept.append(Piece(rest, piece.role, piece.reason, piece.form))
    return kept


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
) -> Polygon:
    """A band beside an edge, carried on upward and downward in the edge's own direction."""
    lean = (stop[0] - start[0]) / (stop[1] - start[1])
    x_low, x_high = start[0] + lean * (low - start[1]), start[0] + lean * (high - start[1])
    # Thickness is square to the edge, so along x it is wider by the edge's slope.
    across = thick * math.hypot(1.0, lean)
    return Polygon([(x_low, low), (x_low + across, low), (x_high + across, high), (x_high, high)])


def sill_cripples(wanted: Sequence[Piece], free: Space) -> list[Piece]:
    """Strips under sill ends cut to the room: the part that touches the sill."""
    kept: list[Piece] = []
    for piece in wanted:
        top = piece.outline.bounds[3]
        for part in common(piece.outline, free):
            if abs(part.bounds[3] - top) < 1e-4 and part.bounds[3] - part.bounds[1] > LEAST_AREA:
                kept.extend(
                    Piece(rest, piece.role, piece.reason, piece.form)
                    for rest in without(part, [other.outline for other in kept])
                )
    return kept


def layout_studs(lines: NDArray[np.float64], free: Space, rules: FramingRules) -> list[Polygon]:
    """Uprights on layout lines (n,), m, in a room: whole strips, and those that must slide against a neighbour.

    A strip that something already standing cuts lengthwise is left out where that carries the line, and slides
    until it touches it where it does not, so that the edge of a board on the line always finds a stud.
    """
    if len(lines) == 0 or free.is_empty:
        return []
    half = 0.5 * rules.stud_thickness
    _, low, _, high = free.bounds
    studs: list[Polygon] = []
    strips = [rectangle(line - half, low, line + half, high) for line in lines.tolist()]
    for line, parts in zip(lines.tolist(), strips_in(strips, free), strict=True):
        for part in parts:
            box = part.bounds
            if box[2] - box[0] > 2.0 * half - TOUCH:
                studs.append(part)
            elif box[2] - box[0] > half:
                studs.extend(_slid(box, line, half, free))
    # What is not taller than it is thick is no stud: such a gap stays a space of its own.
    return [stud for stud in studs if stud.bounds[3] - stud.bounds[1] > rules.stud_thickness]


def _slid(box: tuple[float, ...], line: float, half: float, free: Space) -> list[Polygon]:
    """The stud moved along the wall until it touches what stands in its way."""
    left = box[2] - 2.0 * half if box[2] < line + half - TOUCH else box[0]
    moved = common(rectangle(left, box[1], left + 2.0 * half, box[3]), free)
    return [part for part in moved if part.bounds[2] - part.bounds[0] > 2.0 * half - 2.0 * TOUCH]


def named_uprights(
    studs: Sequence[Polygon],
    roughs: Sequence[RoughOpening],
    reaches: Sequence[tuple[float, float]],
    rules: FramingRules,
) -> list[Piece]:
    """Uprights on the layout with their roles: cripples over headers and under sills, else studs."""
    if not studs:
        return []
    box = extents(studs)
    over = np.zeros(len(studs), dtype=bool)
    under = np.zeros(len(studs), dtype=bool)
    inside = np.zeros(len(studs), dtype=bool)
    for rough, (start, stop) in zip(roughs, reaches, strict=True):
        within = (box[:, 0] > start - TOUCH) & (box[:, 2] < stop + TOUCH)
        over |= within & (box[:, 1] > rough.z_max - TOUCH)
        under |= within & (box[:, 3] < rough.z_min + TOUCH)
        inside |= within & (box[:, 1] > rough.z_min - TOUCH) & (box[:, 3] < rough.z_max + TOUCH)
    pieces: list[Piece] = []
    for number, stud in enumerate(studs):
        if over[number] or under[number] or inside[number]:
            if not rules.cripples:
                continue
            reason = "cripple under the sill" if under[number] else "cripple inside a merged opening"
            reason = "cripple over the opening" if over[number] else reason
            pieces.append(Piece(stud, MemberRole.CRIPPLE, reason, Form.STUD_OPEN_RIGHT))
        else:
            pieces.append(Piece(stud, MemberRole.STUD, "stud on the layout", Form.STUD_OPEN_RIGHT))
    return pieces


def room_left(space: Space, taken: Sequence[Piece]) -> Space:
    """A room less the pieces that stand in it."""
    if not taken or space.is_empty:
        return space
    return as_one(polygons_of(cut_away(space, [piece.outline for piece in taken])))
