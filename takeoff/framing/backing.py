"""Extra studs and blocks where another wall meets: corners, and backing for a partition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.framing.junctions import Junction
from takeoff.framing.pieces import TOUCH, Form, Outline, Piece, Place, rectangle
from takeoff.framing.room import Extent, Room, without
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole

_SPACER_HEIGHT = 0.3048
"""m; spacer blocks of a three-stud corner are offcuts about 12 in long (common practice, no published source)."""
_LEAST_BACKED = 0.5
"""Share of the meeting's height: where an opening leaves less room, its own studs are the backing (our rule)."""
_FLAT_GAP = 0.002
"""m; the flat stud of a channel is left out where less room than this remains for it."""


@dataclass(frozen=True, slots=True, eq=False)
class Corners:
    """The pieces of three-stud corners, and the pockets between end stud and third stud, in which no other stud goes.

    pockets: rectangles in (x, z), m.
    """

    pieces: list[Piece]
    pockets: list[Outline]


def corner_studs(junctions: Sequence[Junction], free: Room, rules: FramingRules) -> Corners:
    """The third stud of each three-stud corner, with its spacer blocks, in the wall that runs through the corner."""
    corners = [junction for junction in junctions if junction.kind == "corner" and junction.through]
    if rules.corner != "three_stud" or not corners or (box := free.bounds) is None:
        return Corners([], [])
    thick = rules.stud_thickness
    pieces: list[Piece] = []
    pockets: list[Outline] = []
    for junction in corners:
        at_start = junction.at == "start"
        # The stud shows the nailing width beside the other wall, for the edge of the lining.
        inner = junction.x_max + rules.backing_nailing if at_start else junction.x_min - rules.backing_nailing
        left = inner - thick if at_start else inner
        form = Form.STUD_OPEN_RIGHT if at_start else Form.STUD_OPEN_LEFT
        stud = _upright(junction, (left, left + thick), free, box, pieces)
        pieces += [Piece(part, MemberRole.BACKING, "third stud of a corner", form) for part in stud]
        for x_min, z_min, x_max, z_max, _ in stud:
            end = box[0] if at_start else box[2]
            gap = (end, x_min) if at_start else (x_max, end)
            if gap[1] - gap[0] < TOUCH:
                continue
            pockets.append(rectangle(gap[0], z_min, gap[1], z_max))
            if rules.material == "wood":
                pieces += _spacers(gap, (z_min, z_max), free, pieces)
    return Corners(pieces, pockets)


def _upright(
    junction: Junction, side: tuple[float, float], free: Room, box: Extent, taken: Sequence[Piece]
) -> list[Outline]:
    """Whole-width parts of an upright in the free room that back the other wall over half of its height at least.

    side: x_min and x_max of the upright, m. box: bounds of the free room.
    """
    (x_min, x_max), (_, low, _, high) = side, box
    needed = _LEAST_BACKED * (min(junction.z_max, high) - max(junction.z_min, low))
    found: list[Outline] = []
    for part in free.common(rectangle(x_min, low, x_max, high)):
        for rest in without(part, [piece.outline for piece in taken], free.grid):
            wide = rest.x_max - rest.x_min > x_max - x_min - 2.0 * TOUCH
            if wide and min(rest.z_max, junction.z_max) - max(rest.z_min, junction.z_min) > needed:
                found.append(rest)
    return found


def _spacers(gap: tuple[float, float], height: tuple[float, float], free: Room, taken: Sequence[Piece]) -> list[Piece]:
    """Three blocks between the end stud and the third stud: bottom, middle and top."""
    low, high = height
    tall = min(_SPACER_HEIGHT, (high - low) / 3.0)
    blocks: list[Piece] = []
    for start in (low, 0.5 * (low + high) - 0.5 * tall, high - tall):
        for part in free.common(rectangle(gap[0], start, gap[1], start + tall)):
            for rest in without(part, [piece.outline for piece in taken], free.grid):
                blocks.append(Piece(rest, MemberRole.BLOCKING, "spacer block of a corner", Form.BOARD))
    return blocks


def channel_studs(junctions: Sequence[Junction], free: Room, rules: FramingRules) -> list[Piece]:
    """Channels for partitions: a stud on edge at both sides and a flat stud at the face that the partition meets."""
    meeting = [junction for junction in junctions if junction.at == "path"]
    if rules.backing != "channel" or not meeting or (box := free.bounds) is None:
        return []
    thick = rules.stud_thickness
    pieces: list[Piece] = []
    for junction in meeting:
        sides = (
            (junction.x_min - thick, junction.x_min, Form.STUD_OPEN_LEFT),
            (junction.x_max, junction.x_max + thick, Form.STUD_OPEN_RIGHT),
        )
        for x_min, x_max, form in sides:
            for part in _upright(junction, (x_min, x_max), free, box, pieces):
                pieces.append(Piece(part, MemberRole.BACKING, "side stud of a partition channel", form))
        if junction.x_max - junction.x_min < _FLAT_GAP:
            continue
        middle = _upright(junction, (junction.x_min, junction.x_max), free, box, pieces)
        for place in _faces(junction):
            for part in middle:
                pieces.append(Piece(part, MemberRole.BACKING, "flat stud of a partition channel", Form.BOARD, place))
    return pieces


def ladder_blocks(junctions: Sequence[Junction], bays: Room, rules: FramingRules) -> list[Piece]:
    """Ladder backing for partitions: flat blocks between the neighbouring studs, one above the other."""
    meeting = [junction for junction in junctions if junction.at == "path"]
    if rules.backing != "ladder" or not meeting or (box := bays.bounds) is None:
        return []
    blocks: list[Piece] = []
    for junction in meeting:
        low = max(junction.z_min, box[1])
        high = min(junction.z_max, box[3])
        level = low + 0.5 * rules.ladder_spacing
        reach = (junction.x_min - rules.backing_nailing, junction.x_max + rules.backing_nailing)
        while level + 0.5 * rules.ladder_block_height < high:
            blocks.extend(_rung(level, reach, junction, bays, rules))
            level += rules.ladder_spacing
    return blocks


def _rung(level: float, reach: tuple[float, float], junction: Junction, bays: Room, rules: FramingRules) -> list[Piece]:
    half = 0.5 * rules.ladder_block_height
    wide = rules.spacing + rules.stud_thickness
    band = rectangle(reach[0] - wide, level - half, reach[1] + wide, level + half)
    return [
        Piece(part, MemberRole.BACKING, "ladder block behind a partition", Form.BOARD, place)
        for part in bays.common(band)
        if part.x_min < reach[1] - TOUCH and part.x_max > reach[0] + TOUCH
        for place in _faces(junction)
    ]


def _faces(junction: Junction) -> tuple[Place, ...]:
    if junction.face == "both":
        return (Place.FILL_FACE, Place.FAR_FACE)
    return (Place.FILL_FACE,) if junction.face == "fill" else (Place.FAR_FACE,)
