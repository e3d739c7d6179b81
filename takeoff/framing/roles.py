"""The role of every piece of a modelled frame: from its shape and place, and from words only to break a tie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from takeoff.building import ModelPart
from takeoff.framing.contacts import Contacts, between_passing_studs, contacts_of
from takeoff.framing.envelopes import lower_envelope, upper_envelope
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance, columns_of
from takeoff.framing.non_members import board_rows, face_pieces, obstruction_reasons
from takeoff.framing.opening_members import headers, sills, upright_roles
from takeoff.framing.role_words import role_in_words
from takeoff.model import MemberRole, Opening

Role = tuple[MemberRole, str]
"""A role and the reason for it, one sentence without a full stop."""

BOARD = "a board inside the stud layer"
PLATE_PLACES = np.array([0.1, 0.3, 0.5, 0.7, 0.9])
"""Where along a piece it is compared with the outline of the frame."""
WHOLE_FRAME = 0.5
"""A single solid whose box covers more of the frame's box than this, with cut-outs, is a whole frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where the pieces stand. outline: of the frame, (x, z), m. depth: of the stud layer, m."""

    outline: Polygon | MultiPolygon
    openings: tuple[Opening, ...]
    depth: float


def assign_roles(
    shapes: Shapes,
    parts: Sequence[ModelPart],
    place: Place,
    settings: FrameSettings = DEFAULT_FRAME_SETTINGS,
    *,
    reasons: Sequence[str] | None = None,
) -> tuple[Role, ...]:
    """Role and reason of every piece, in the order of `shapes`.

    parts: the element that each row belongs to (its class, types and names break ties). reasons: why each is an
    obstruction, '' where it is none, if that is known already.
    """
    roles: list[Role | None] = [None] * len(shapes)
    known = obstruction_reasons(shapes, parts, place.depth, settings) if reasons is None else reasons
    for row, reason in enumerate(known):
        if reason:
            roles[row] = (MemberRole.OBSTRUCTION, reason)
    _fill(roles, _whole_frames(shapes, place))
    framing = shapes.taken(np.array([role is None for role in roles], dtype=bool))
    rows = [row for row, role in enumerate(roles) if role is None]
    if rows:
        found = _framing_roles(framing, [parts[row] for row in rows], place, settings)
        for row, role in zip(rows, found, strict=True):
            roles[row] = role
    return tuple(role if role is not None else (MemberRole.OTHER, "its place tells no role") for role in roles)


def _fill(roles: list[Role | None], found: Sequence[Role | None]) -> None:
    """Set roles where none is set yet."""
    for row, role in enumerate(found):
        if roles[row] is None:
            roles[row] = role


def _whole_frames(shapes: Shapes, place: Place) -> list[Role | None]:
    """Pieces with cut-outs that cover most of the frame: a frame drawn as one solid."""
    x_min, z_min, x_max, z_max = place.outline.bounds
    box = (shapes.high[:, 0] - shapes.low[:, 0]) * (shapes.high[:, 2] - shapes.low[:, 2])
    wide = (box >= WHOLE_FRAME * (x_max - x_min) * (z_max - z_min)) & (shapes.filled < 0.7)
    return [(MemberRole.OTHER, "several members of the frame drawn as one solid") if one else None for one in wide]


def _framing_roles(
    shapes: Shapes, parts: Sequence[ModelPart], place: Place, settings: FrameSettings
) -> list[Role | None]:
    touching = contacts_of(shapes, settings)
    roles: list[Role | None] = [None] * len(shapes)
    on_bottom, on_top = plates_on_lines(shapes, place.outline, settings)
    _fill(roles, headers(shapes, touching, place.openings, ~(on_bottom | on_top), settings))
    board = (MemberRole.OTHER, BOARD)
    _fill(roles, [board if one else None for one in board_rows(shapes).tolist()])
    _fill(roles, face_pieces(shapes, place.depth, settings))
    _fill(roles, [_line_role(bool(low), bool(high)) for low, high in zip(on_bottom, on_top, strict=True)])
    _fill(roles, _blocks(shapes, touching, settings))
    _fill(roles, sills(shapes, touching, place.openings, settings))
    _fill_second_plates(roles, shapes, touching)
    _fill_by_studs_met(roles, shapes, touching)
    _fill_second_plates(roles, shapes, touching)
    uprights = upright_roles(shapes, touching, [role[0] if role else None for role in roles], place, settings)
    _fill(roles, uprights)
    _fill(roles, [None if role else _level_role(row, shapes, touching) for row, role in enumerate(roles)])
    return [_by_words(row, role, shapes, parts[row]) for row, role in enumerate(roles)]


def plates_on_lines(
    shapes: Shapes, outline: Polygon | MultiPolygon, settings: FrameSettings
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which lying or sloped pieces lie on the bottom line, and which on the top line of a frame, (n,) bool each."""
    flat = np.flatnonzero(shapes.stance != Stance.UPRIGHT)
    bottom = np.zeros(len(shapes), dtype=bool)
    top = np.zeros(len(shapes), dtype=bool)
    if len(flat) == 0:
        return bottom, top
    width = shapes.high[flat, 0] - shapes.low[flat, 0]
    x = shapes.low[flat, 0, None] + PLATE_PLACES * width[:, None]
    columns = columns_of(np.repeat(shapes.silhouettes[flat], len(PLATE_PLACES)), x.ravel()).reshape(*x.shape, 2)
    under, over = lower_envelope(outline), upper_envelope(outline)
    low = np.abs(columns[..., 0] - under.at(x.ravel()).reshape(x.shape)) <= settings.line
    high = np.abs(columns[..., 1] - over.at(x.ravel()).reshape(x.shape)) <= settings.line
    bottom[flat] = low.mean(axis=1) > 0.5
    top[flat] = high.mean(axis=1) > 0.5
    return bottom, top & ~bottom


def _line_role(low: bool, high: bool) -> Role | None:
    if low:
        return MemberRole.BOTTOM_PLATE, "lies on the bottom line of the frame"
    return (MemberRole.TOP_PLATE, "follows the top line of the frame") if high else None


def _blocks(shapes: Shapes, touching: Contacts, settings: FrameSettings) -> list[Role | None]:
    """Short pieces, judged by what they touch and not by which way they are longer."""
    short = (shapes.along < settings.block_length) & (shapes.along < 2.5 * shapes.across)
    short |= shapes.along < 0.25 * settings.block_length
    upright = np.asarray(shapes.stance == Stance.UPRIGHT)
    roles: list[Role | None] = [None] * len(shapes)
    for row in np.flatnonzero(short).tolist():
        between_studs = (touching.left[row] & upright).any() and (touching.right[row] & upright).any()
        if between_studs:
            roles[row] = (MemberRole.BLOCKING, "short, fills the space between two uprights")
        elif not upright[row] and touching.on[row].any() and touching.on[:, row].any():
            roles[row] = (MemberRole.CRIPPLE, "short, between two lying members")
    return roles


def _fill_by_studs_met(roles: list[Role | None], shapes: Shapes, touching: Contacts) -> None:
    """Roles of lying pieces inside the frame by the uprights that meet them between their ends.

    Between two uprights that go on past it a piece is a header where cripples stand on it and a sill where they end
    under it. Else it is a plate of one of several frames that stand above each other.
    """
    upright = shapes.stance == Stance.UPRIGHT
    inside = (shapes.middle[:, None, 0] > shapes.low[None, :, 0] + 0.05) & (
        shapes.middle[:, None, 0] < shapes.high[None, :, 0] - 0.05
    )
    ending = np.asarray((touching.last & inside & upright[:, None]).sum(axis=0))
    standing = np.asarray((touching.first & inside & upright[:, None]).sum(axis=0))
    framed = between_passing_studs(shapes, touching)
    for row in np.flatnonzero(~upright).tolist():
        if roles[row] is not None:
            continue
        if framed[row]:
            if standing[row] and not ending[row]:
                roles[row] = (MemberRole.HEADER, "between two longer uprights, cripples stand on it")
            elif ending[row] and not standing[row]:
                roles[row] = (MemberRole.SILL, "between two longer uprights, cripples end under it")
        elif ending[row] >= 2:
            roles[row] = (MemberRole.TOP_PLATE, f"{ending[row]} studs of a lower frame end under it")
        elif standing[row] >= 2:
            roles[row] = (MemberRole.BOTTOM_PLATE, f"{standing[row]} studs of an upper frame stand on it")


def _fill_second_plates(roles: list[Role | None], shapes: Shapes, touching: Contacts) -> None:
    for _ in range(3):  # plates are tripled at most
        _fill(roles, _second_plates(roles, shapes, touching))


def _second_plates(roles: Sequence[Role | None], shapes: Shapes, touching: Contacts) -> list[Role | None]:
    """Plates that lie under a top plate or on a bottom plate and are no thicker than about that plate."""
    top = np.array([role is not None and role[0] is MemberRole.TOP_PLATE for role in roles])
    bottom = np.array([role is not None and role[0] is MemberRole.BOTTOM_PLATE for role in roles])
    alike = shapes.across[:, None] <= 1.6 * shapes.across[None, :]
    under = np.asarray((touching.on.T & alike & top[None, :]).any(axis=1))
    over = np.asarray((touching.on & alike & bottom[None, :]).any(axis=1))
    found: list[Role | None] = []
    for row in range(len(shapes)):
        if under[row]:
            found.append((MemberRole.TOP_PLATE, "lies under a top plate along its length"))
        elif over[row]:
            found.append((MemberRole.BOTTOM_PLATE, "lies on a bottom plate along its length"))
        else:
            found.append(None)
    return found


def _level_role(row: int, shapes: Shapes, touching: Contacts) -> Role | None:
    """What is left of the lying and sloped pieces: blocking and braces."""
    upright = np.asarray(shapes.stance == Stance.UPRIGHT)
    if shapes.stance[row] == Stance.SLOPED:
        return (
            MemberRole.BRACE,
            f"sloped by {abs(np.degrees(shapes.slope[row])):.0f} degrees and on no edge of the frame",
        )
    if shapes.stance[row] != Stance.LEVEL:
        return None
    ends = int((touching.first[row] & upright).any()) + int((touching.last[row] & upright).any())
    sides = int((touching.left[row] & upright).any()) + int((touching.right[row] & upright).any())
    if max(ends, sides) == 2:
        return MemberRole.BLOCKING, "level, between two uprights"
    through = shapely.intersects(shapes.silhouettes[upright], shapes.silhouettes[row])
    if np.count_nonzero(through) >= 2:
        return MemberRole.BLOCKING, "level, runs through the studs in one piece"
    return (MemberRole.BLOCKING, "level, one end at an upright") if max(ends, sides) == 1 else None


def _by_words(row: int, role: Role | None, shapes: Shapes, part: ModelPart) -> Role | None:
    """The role by shape and place; where that leaves a tie, the words of the model decide."""
    tied = role is None or role[0] is MemberRole.BLOCKING
    if not tied:
        return role
    named = role_in_words(part.predefined_type, part.name, part.type_name)
    if named is None or (role is not None and named in {role[0], MemberRole.STUD}):
        return role
    upright = shapes.stance[row] == Stance.UPRIGHT
    lying = {MemberRole.HEADER, MemberRole.SILL, MemberRole.BACKING, MemberRole.FURRING, MemberRole.BLOCKING}
    if role is not None and (upright or named not in lying):
        return role
    word = part.name or part.type_name or part.predefined_type
    return named, f"place leaves it open; the model calls it '{word}'"
