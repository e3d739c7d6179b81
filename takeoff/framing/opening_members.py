"""Members around openings: headers, sills, king and jack studs, cripples, and the plain studs beside them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from takeoff.framing.contacts import Contacts, between_passing_studs
from takeoff.framing.envelopes import lower_envelope, upper_envelope
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.gaps import FRAMES_APART, RIM
from takeoff.framing.member_shapes import Shapes, Stance
from takeoff.model import MemberRole, Opening

Role = tuple[MemberRole, str]
OVERLAP = 0.05
"""m. How far an opening element may reach into the members around it."""
BESIDE = 0.03
"""m. An upright this near to an opening stands beside it: less than the thickness of a stud."""
LEAST_SPAN = 0.8
"""Share of an opening's width that a header or a sill spans."""


class FramePlace(Protocol):
    """Outline of the frame in (x, z) and its openings."""

    @property
    def outline(self) -> Polygon | MultiPolygon: ...

    @property
    def openings(self) -> tuple[Opening, ...]: ...


def headers(
    shapes: Shapes,
    touching: Contacts,
    openings: Sequence[Opening],
    inside: NDArray[np.bool_],
    settings: FrameSettings,
) -> list[Role | None]:
    """Header for every piece that spans an opening right above it, and for what lies on such a header.

    inside: (n,) bool, not on the outline of the frame; a piece on the outline is a header only where it is clearly
    deeper than a plate.
    """
    found = np.zeros(len(shapes), dtype=bool)
    flat = shapes.stance != Stance.UPRIGHT
    plates = shapes.across[~inside & flat]
    plate = float(np.median(plates)) if len(plates) else 0.045
    allowed = flat & (inside | (shapes.across > 1.6 * plate))
    framed = between_passing_studs(shapes, touching)
    for box in _boxes(openings):
        spans = allowed & _spans(shapes, box, framed, settings)
        gap = shapes.low[:, 2] - box[3]
        first = spans & (gap >= -OVERLAP) & (gap <= settings.shim)
        found |= first
        for _ in range(4):  # boards laid on each other
            first = spans & (touching.on & first[None, :]).any(axis=1) & ~found
            found |= first
    return [(MemberRole.HEADER, "spans an opening right above it") if one else None for one in found.tolist()]


def sills(
    shapes: Shapes, touching: Contacts, openings: Sequence[Opening], settings: FrameSettings
) -> list[Role | None]:
    """Sill for every piece that closes an opening below, and for what lies under such a sill."""
    found = np.zeros(len(shapes), dtype=bool)
    flat = shapes.stance != Stance.UPRIGHT
    framed = between_passing_studs(shapes, touching)
    for box in _boxes(openings):
        spans = flat & _spans(shapes, box, framed, settings)
        gap = box[1] - shapes.high[:, 2]
        first = spans & (gap >= -OVERLAP) & (gap <= settings.shim)
        found |= first
        under = spans & (touching.on & first[:, None]).any(axis=0) & ~found
        found |= under
    return [(MemberRole.SILL, "closes an opening below") if one else None for one in found.tolist()]


def _boxes(openings: Sequence[Opening]) -> list[tuple[float, float, float, float]]:
    """Boxes of the openings that pass through the wall, each with what is left of its gap around it."""
    boxes: dict[str, tuple[float, float, float, float]] = {}
    for opening in openings:
        if opening.solid is not None or opening.outline.is_empty or opening.evidence == FRAMES_APART:
            continue
        name = opening.opening_id.removesuffix(RIM)
        x_min, z_min, x_max, z_max = opening.outline.bounds
        other = boxes.get(name, (x_min, z_min, x_max, z_max))
        boxes[name] = (min(x_min, other[0]), min(z_min, other[1]), max(x_max, other[2]), max(z_max, other[3]))
    return list(boxes.values())


def _spans(
    shapes: Shapes, box: tuple[float, float, float, float], framed: NDArray[np.bool_], settings: FrameSettings
) -> NDArray[np.bool_]:
    """Pieces that reach over an opening's width, or lie within it as one length of a longer header, (n,) bool.

    framed: (n,) bool, pieces between two uprights that go on past them; only these may span several openings.
    """
    shared = np.minimum(shapes.high[:, 0], box[2]) - np.maximum(shapes.low[:, 0], box[0])
    width = box[2] - box[0]
    length = shapes.high[:, 0] - shapes.low[:, 0]
    most = width + 2.0 * settings.header_overhang
    long_enough = (shared >= LEAST_SPAN * width) & ((length <= most) | framed)
    return long_enough | ((shared >= LEAST_SPAN * length) & (length >= 0.5 * width) & (length <= most))


def upright_roles(
    shapes: Shapes,
    touching: Contacts,
    known: Sequence[MemberRole | None],
    place: FramePlace,
    settings: FrameSettings,
) -> list[Role | None]:
    """Roles of the standing pieces that have none yet. known: role of each piece so far."""
    standing = shapes.stance == Stance.UPRIGHT
    upright = standing & np.array([role is None for role in known], dtype=bool)
    is_role = {role: np.array([one is role for one in known], dtype=bool) for role in set(known) if role is not None}
    none = np.zeros(len(shapes), dtype=bool)
    header, sill = is_role.get(MemberRole.HEADER, none), is_role.get(MemberRole.SILL, none)
    on_header, under_header = _meets(touching.first, header), _meets(touching.last, header)
    under_sill = _meets(touching.last, sill)
    beside, within = _by_openings(shapes, place.openings, settings)
    jack = _jacks(shapes, touching, upright, beside & ~within, under_header)
    whole = upright & _whole_height(shapes, touching, is_role, place.outline, settings)
    held = _meets((touching.first | touching.last).T, header)
    outer = _meets(touching.left | touching.right, jack)
    king = whole & ~jack & (outer | beside | held) & ~within
    roles: list[Role | None] = [None] * len(shapes)
    for row in np.flatnonzero(upright).tolist():
        if jack[row]:
            roles[row] = (MemberRole.JACK_STUD, "stands beside an opening and ends under its header")
        elif king[row]:
            roles[row] = (MemberRole.KING_STUD, "goes past the header beside an opening")
        elif on_header[row]:
            roles[row] = (MemberRole.CRIPPLE, "stands on a header")
        elif under_sill[row]:
            roles[row] = (MemberRole.CRIPPLE, "ends under a sill")
        elif whole[row]:
            roles[row] = (MemberRole.STUD, "stands from the bottom to the top line of the frame")
        else:
            roles[row] = _odd_upright(row, shapes, touching, place.outline)
    return roles


def _meets(touching: NDArray[np.bool_], others: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which rows touch any of the others, (n,) bool."""
    return np.asarray((touching & others[None, :]).any(axis=1))


def _by_openings(
    shapes: Shapes, openings: Sequence[Opening], settings: FrameSettings
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Uprights right beside an opening over most of its height, and uprights inside one, (n,) bool each."""
    beside = np.zeros(len(shapes), dtype=bool)
    within = np.zeros(len(shapes), dtype=bool)
    for x_min, z_min, x_max, z_max in _boxes(openings):
        shared = np.minimum(shapes.high[:, 2], z_max) - np.maximum(shapes.low[:, 2], z_min)
        tall = shared >= 0.5 * (z_max - z_min)
        own_left, own_right = shapes.sides_at(np.full(len(shapes), (z_min + z_max) / 2.0))
        left, right = x_min - own_right, own_left - x_max
        near = ((left >= -OVERLAP) & (left <= BESIDE)) | ((right >= -OVERLAP) & (right <= BESIDE))
        beside |= tall & near
        middle = (own_left + own_right) / 2.0
        within |= tall & (middle > x_min + OVERLAP) & (middle < x_max - OVERLAP)
    return beside, within


def _jacks(
    shapes: Shapes,
    touching: Contacts,
    upright: NDArray[np.bool_],
    beside: NDArray[np.bool_],
    under_header: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """Uprights beside an opening that end under its header, and their doubles, (n,) bool."""
    jack = upright & beside & under_header
    level = np.abs(shapes.high[:, None, 2] - shapes.high[None, :, 2]) <= OVERLAP
    for _ in range(3):  # trimmers are tripled or fourfold at most
        jack |= upright & under_header & ((touching.left | touching.right) & level & jack[None, :]).any(axis=1)
    return jack


def _whole_height(
    shapes: Shapes,
    touching: Contacts,
    is_role: dict[MemberRole, NDArray[np.bool_]],
    outline: Polygon | MultiPolygon,
    settings: FrameSettings,
) -> NDArray[np.bool_]:
    """Uprights that reach from a bottom plate or the bottom line to a top plate or the top line, (n,) bool."""
    none = np.zeros(len(shapes), dtype=bool)
    on_plate = (touching.first & is_role.get(MemberRole.BOTTOM_PLATE, none)[None, :]).any(axis=1)
    at_plate = (touching.last & is_role.get(MemberRole.TOP_PLATE, none)[None, :]).any(axis=1)
    ends = shapes.ends()
    # A plate may be missing, so an end within a plate's thickness of the line counts as well.
    near = settings.line + 0.05
    on_line = ends[:, 0, 1] - lower_envelope(outline).at(ends[:, 0, 0]) <= near
    at_line = upper_envelope(outline).at(ends[:, 1, 0]) - ends[:, 1, 1] <= near
    return (on_plate | on_line) & (at_plate | at_line)


def _odd_upright(row: int, shapes: Shapes, touching: Contacts, outline: Polygon | MultiPolygon) -> Role | None:
    """Uprights that stop short: studs where they are long, cripples where they stand between two lying pieces."""
    flat = shapes.stance != Stance.UPRIGHT
    x = shapes.middle[row : row + 1, 0]
    height = float((upper_envelope(outline).at(x) - lower_envelope(outline).at(x))[0])
    if shapes.along[row] >= 0.5 * height:
        return MemberRole.STUD, "stands over most of the height of the frame"
    if (touching.first[row] & flat).any() and (touching.last[row] & flat).any():
        return MemberRole.CRIPPLE, "short, stands between two lying members"
    if (touching.first[row] & flat).any() or (touching.last[row] & flat).any():
        return MemberRole.CRIPPLE, "short, one end at a lying member"
    return None
