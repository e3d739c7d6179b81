"""The framing of openings: headers, sills, jacks, kings and the short studs at a sill's ends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from takeoff.finding import Finding, Severity
from takeoff.framing.header_table import HeaderChoice, header_for
from takeoff.framing.pieces import LEAST_AREA, TOUCH, Form, Outline, Piece, rectangle
from takeoff.framing.room import Room, apart, room_within, without
from takeoff.framing.rough_openings import RoughOpening
from takeoff.framing.rules import FramingRules
from takeoff.framing.supports import Supports, supports_beside
from takeoff.model import MemberRole

_THRESHOLD = 0.025
"""m; a hole that ends this little above the bottom plate reaches the floor: a door on a floor build-up (our rule)."""
_LEAST_HEADER = 0.5
"""Share of its depth that a header must have room for, else the finding says so (our rule)."""


@dataclass(frozen=True, slots=True, eq=False)
class OpeningFraming:
    """The framing of all openings of one wall outline.

    pieces: headers, sills, jacks, kings, fillings. free: what they and the holes leave between the plates.
    holes: what no member may enter. breaks: where the bottom plate is cut away below a hole that reaches the floor.
    reaches: per rough opening the x range from bearing to bearing, m.
    """

    pieces: tuple[Piece, ...]
    free: Room
    holes: tuple[Outline, ...]
    breaks: tuple[Outline, ...]
    reaches: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]


def frame_openings(
    part: Polygon,
    core: Room,
    roughs: Sequence[RoughOpening],
    slivers: Sequence[Outline],
    rules: FramingRules,
) -> OpeningFraming:
    """Frame the rough openings of one wall outline; core is the wall between its plates."""
    if not roughs:
        return OpeningFraming((), core.less_outlines(slivers), tuple(slivers), (), (), ())
    holes = [*(rectangle(*hole) for rough in roughs for hole in rough.holes), *slivers]
    edges = [hole for rough in roughs for hole in rough.holes.tolist()]
    choices = [header_for(rough.width, rules) for rough in roughs]
    room = core.less_outlines(holes)
    depths = [
        min(_header_depth(rough, choice, room, rules), _clear_over(rough, choice, edges, rules))
        for rough, choice in zip(roughs, choices, strict=True)
    ]
    heads = np.array([rough.z_max + depth for rough, depth in zip(roughs, depths, strict=True)])
    supports, findings = supports_beside(part, roughs, heads, [choice.jack_studs for choice in choices], rules)
    headers: list[Piece] = []
    for rough, support, choice, depth in zip(roughs, supports, choices, depths, strict=True):
        piece, notes = _header(rough, support, choice, depth, room, rules)
        headers.extend(piece)
        findings.extend(notes)
    headers = apart(headers, core.grid)
    sills, breaks = _sills(core, roughs, room, rules)
    sills += [piece for rough in roughs if len(rough.holes) > 1 for piece in _inner_framing(rough, room, rules)]
    flat = apart([*headers, *sills], core.grid)
    room = room.less(flat)
    uprights = _uprights(roughs, supports, room)
    reaches = tuple(
        (rough.x_min - support.bearing_left, rough.x_max + support.bearing_right)
        for rough, support in zip(roughs, supports, strict=True)
    )
    free = room.less(uprights)
    return OpeningFraming((*flat, *uprights), free, tuple(holes), tuple(breaks), reaches, tuple(findings))


def _space_over(rough: RoughOpening, room: Room) -> float:
    """Height from an opening's head to what lies above it (plate or another hole), m; the least over its width."""
    _, _, _, top = room.extent or (0.0, 0.0, 0.0, rough.z_max)
    inset = min(0.001, 0.1 * rough.width)
    above = room.common(rectangle(rough.x_min + inset, rough.z_max, rough.x_max - inset, top + TOUCH))
    touching = [piece for piece in above if piece.z_min < rough.z_max + 1e-4]
    if not touching:
        return 0.0
    column = max(touching, key=lambda piece: piece.area)
    return float(column.z_max - rough.z_max)


def _header_depth(rough: RoughOpening, choice: HeaderChoice, room: Room, rules: FramingRules) -> float:
    """Depth of a header in elevation, m, before it is clipped by what lies above."""
    if rules.header_depth_rule == "full_depth_to_plate":
        space = _space_over(rough, room)
        if space <= rules.header_depth_limit + 1e-6:
            return space
    return choice.row.depth


def _clear_over(rough: RoughOpening, choice: HeaderChoice, holes: Sequence[list[float]], rules: FramingRules) -> float:
    """Height up to the next hole above an opening and its jacks, m; holes as of the rough openings.

    A header is level along its whole length: it never rises beside the hole above.
    """
    bearing = choice.jack_studs * rules.stud_thickness
    start, stop = rough.x_min - bearing + TOUCH, rough.x_max + bearing - TOUCH
    over = (low for left, low, right, _ in holes if left < stop and right > start and low > rough.z_max - TOUCH)
    return min((low - rough.z_max for low in over), default=math.inf)


def _header(
    rough: RoughOpening,
    support: Supports,
    choice: HeaderChoice,
    depth: float,
    room: Room,
    rules: FramingRules,
) -> tuple[list[Piece], list[Finding]]:
    """The header over one opening, clipped to the wall, with what is wrong with it."""
    wanted = rectangle(
        rough.x_min - support.bearing_left, rough.z_max, rough.x_max + support.bearing_right, rough.z_max + depth
    )
    parts = room.common(wanted) if wanted.area > LEAST_AREA else []
    parts = [part for part in parts if part.z_min < rough.z_max + 1e-4]
    available = sum(part.area for part in parts) / max(wanted.x_max - wanted.x_min, 1e-9)
    findings: list[Finding] = []
    if choice.beyond:
        findings.append(_about(rough, "header-beyond-table", _BEYOND, rough.width, choice.row.span))
    needed = choice.row.depth
    if available < 0.005:
        findings.append(_about(rough, "no-room-for-header", _NO_ROOM, available, needed))
    elif available < _LEAST_HEADER * needed:
        findings.append(_about(rough, "header-clipped", _CLIPPED, available, needed))
    full = rules.header_depth_rule == "full_depth_to_plate" and depth != choice.row.depth
    reason = "header up to the plate" if full else f"header {choice.row.header} by span"
    if rules.material == "steel":
        reason = "box header up to the track" if full else "box header, depth by span"
    return [Piece(part, MemberRole.HEADER, reason, Form.HEADER) for part in parts], findings


_BEYOND = "The opening is wider than the header table goes; the deepest header was taken and has to be engineered."
_NO_ROOM = "The opening reaches the top plate, so there is no room for a header; the plate or a beam above must carry."
_CLIPPED = "There is room for less than half of the header's depth over the opening; check its head height."


def _about(rough: RoughOpening, code: str, text: str, measured: float, limit: float) -> Finding:
    return Finding(
        code,
        Severity.WARNING,
        text,
        element_id=rough.opening_id,
        element_name=rough.name,
        measured=round(float(measured), 6),
        limit=round(float(limit), 6),
        unit="m",
    )


def _sills(
    core: Room, roughs: Sequence[RoughOpening], room: Room, rules: FramingRules
) -> tuple[list[Piece], list[Outline]]:
    """Sill plates below windows with short studs at their ends; and where a hole breaks the bottom plate."""
    thick = rules.sill_plates * rules.plate_thickness
    plates = rules.bottom_plates * rules.plate_thickness
    pieces: list[Piece] = []
    breaks: list[Outline] = []
    for rough in roughs:
        for (x_min, z_min, x_max, _), door in zip(rough.holes, rough.doors, strict=True):
            below = _floor_below(core, x_min, x_max, z_min)
            # A hole that cuts into the plate, and a door wherever it stands on it, parts the plate.
            if below < (_THRESHOLD if door else -TOUCH):
                breaks.append(rectangle(x_min, z_min - plates - _THRESHOLD, x_max, z_min + TOUCH))
                continue
            if thick <= 0.0 or below <= TOUCH:
                continue
            for number in range(rules.sill_plates):
                top = z_min - number * rules.plate_thickness
                board = rectangle(x_min, top - rules.plate_thickness, x_max, top)
                for shape in room.common(board):
                    pieces.append(Piece(shape, MemberRole.SILL, "sill below the opening", Form.TRACK))
    return pieces, breaks


def _floor_below(core: Room, x_min: float, x_max: float, z: float) -> float:
    """Height of a hole's lower edge above the bottom plate under its middle, m; negative where it cuts the plate."""
    lows = core.feet_at(0.5 * (x_min + x_max))
    under = [low for low in lows if low <= z + TOUCH]
    if under:
        return z - max(under)
    return z - min(lows) if lows else -1.0


def _inner_framing(rough: RoughOpening, room: Room, rules: FramingRules) -> list[Piece]:
    """Pieces that line the single holes inside a merged rough opening where they leave wall between them."""
    rest = without(rectangle(rough.x_min, rough.z_min, rough.x_max, rough.z_max), [rectangle(*h) for h in rough.holes])
    if not rest:
        return []
    inside = room_within([part for each in rest for part in room.common(each)], room.grid)
    thick, plate = rules.stud_thickness, rules.plate_thickness
    lining: list[Piece] = []
    for x_min, z_min, x_max, z_max in rough.holes:
        for shape in inside.common(rectangle(x_min, z_max, x_max, z_max + plate)):
            lining.append(Piece(shape, MemberRole.BLOCKING, "head over a lower part of a merged opening", Form.TRACK))
        for left, form in ((x_min - thick, Form.STUD_OPEN_LEFT), (x_max, Form.STUD_OPEN_RIGHT)):
            for shape in inside.common(rectangle(left, z_min, left + thick, z_max)):
                lining.append(Piece(shape, MemberRole.CRIPPLE, "trimmer inside a merged opening", form))
    return lining


def _uprights(roughs: Sequence[RoughOpening], supports: Sequence[Supports], free: Room) -> list[Piece]:
    """Jacks up to the headers and kings from plate to plate, wherever the room is free."""
    _, low, _, high = free.extent or (0.0, 0.0, 0.0, 0.0)
    wanted: list[tuple[Piece, RoughOpening]] = []
    for role in (MemberRole.JACK_STUD, MemberRole.KING_STUD):
        for rough, support in zip(roughs, supports, strict=True):
            for upright in support.uprights:
                if upright.role != role:
                    continue
                top = rough.z_max if role == MemberRole.JACK_STUD else high
                strip = rectangle(upright.x_min, low, upright.x_max, max(top, low))
                wanted.append((Piece(strip, role, upright.reason, upright.form), rough))
    if not wanted:
        return []
    pieces: list[Piece] = []
    cut = free.common_of_each([piece.outline for piece, _ in wanted])
    for parts, (piece, rough) in zip(cut, wanted, strict=True):
        for part in parts:
            if min(part.z_max, rough.z_max) - max(part.z_min, rough.z_min) > TOUCH:
                pieces.append(piece.cut_to(part))
    return apart(pieces, free.grid)
