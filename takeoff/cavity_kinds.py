"""What kind of place a void is, from its shape and from what bounds it, and what that says of filling it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import boxes_of, polygons_of
from geometry.voids import Void
from geometry.widths import inscribed_diameters
from takeoff.model import CavityKind, Member, MemberRole, Method, Opening

_UPRIGHT = (
    MemberRole.STUD, MemberRole.KING_STUD, MemberRole.JACK_STUD, MemberRole.CRIPPLE, MemberRole.BACKING,
)  # fmt: skip
_PLATES = {MemberRole.BOTTOM_PLATE, MemberRole.TOP_PLATE}
_TOUCH = 0.012
"""m; a member whose edge lies this near to a void's edge bounds it: slack for members that stop millimetres short."""
_CRACK = 0.02
"""m; a bay that shows no wider front than this is a closed pocket (common practice, no published source)."""
_SLOPING = 0.02
"""A top edge that rises more than this share of its length is a rake."""


@dataclass(frozen=True, slots=True)
class FillLimits:
    """What kinds are told by. least_width: m, what the hose needs; hand_width: m, narrowest place that takes a batt.
    insulated: whether this wall is filled; why: the reason."""

    least_width: float
    hand_width: float
    insulated: bool
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Bounding:
    """Members and openings of a stud layer as boxes (n, 4) float64, m: x_min, z_min, x_max, z_max.

    member_depths: (n, 2) float64, m: nearest and farthest y.
    """

    member_boxes: NDArray[np.float64]
    member_depths: NDArray[np.float64]
    roles: tuple[MemberRole, ...]
    upright: NDArray[np.bool_]
    opening_boxes: NDArray[np.float64]


def bounding_of(members: Sequence[Member], openings: Sequence[Opening]) -> Bounding:
    """Boxes of everything that can bound a void in elevation."""
    boxes = boxes_of([member.solid for member in members])
    holes = [opening for opening in openings if opening.solid is None and not opening.beyond_frame]
    through = [opening.outline for opening in holes if not opening.outline.is_empty]
    return Bounding(
        np.concatenate([boxes[:, 0][:, [0, 2]], boxes[:, 1][:, [0, 2]]], axis=1),
        boxes[:, :, 1],
        tuple(member.role for member in members),
        np.array([member.role in _UPRIGHT for member in members], dtype=bool),
        shapely.bounds(through).reshape(-1, 4) if through else np.empty((0, 4)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Measures:
    """Voids measured all at once. Every array has one row a void.

    boxes: (n, 4) float64, m, x_min, z_min, x_max, z_max. plain: (n,) bool, the outline is an upright rectangle.
    widths, fronts: (n,) float64, m, clear width of the outline and of what is open in front (0 where nothing is).
    """

    voids: tuple[Void, ...]
    boxes: NDArray[np.float64]
    plain: NDArray[np.bool_]
    widths: NDArray[np.float64]
    fronts: NDArray[np.float64]


def measured(voids: Sequence[Void]) -> Measures:
    """Boxes and clear widths of voids."""
    outlines = np.array([void.outline for void in voids], dtype=object)
    fronts = np.array([void.front for void in voids], dtype=object)
    boxes = np.array([void.box for void in voids]).reshape(-1, 4)
    sides = boxes[:, 2:] - boxes[:, :2]
    plain = shapely.area(outlines) >= sides[:, 0] * sides[:, 1] * (1.0 - 1e-9)
    widths = sides.min(axis=1, initial=np.inf)
    widths[~plain] = inscribed_diameters(outlines[~plain])
    other = np.array([void.front is not void.outline for void in voids], dtype=bool)
    front_widths = widths.copy()
    front_widths[other] = inscribed_diameters(fronts[other])
    return Measures(tuple(voids), boxes, plain, widths, front_widths)


def kinds_of(measures: Measures, place: Bounding, limits: FillLimits) -> list[CavityKind]:
    """Kinds of voids that are no slivers."""
    below, above = _bounds_from(measures, place, 3, 1), _bounds_from(measures, place, 1, 3)
    within = _uprights_within(measures, place, limits.least_width)
    around = _round_openings(measures, place)
    kinds: list[CavityKind] = []
    sizes = zip(measures.widths.tolist(), measures.fronts.tolist(), measures.plain.tolist(), strict=True)
    for number, (width, front, plain) in enumerate(sizes):
        outline = measures.voids[number].outline
        if front < min(_CRACK, 0.3 * width) or front <= 0.0:
            kinds.append(CavityKind.CLOSED_POCKET)
        elif width < limits.least_width - 1e-6:
            kinds.append(CavityKind.NARROW)
        elif around[number] or any(
            _parts_in_two(outline, place.member_boxes[n], limits.least_width) for n in within[number]
        ):
            kinds.append(CavityKind.JOINED)
        else:
            kinds.append(_by_place(below[number], above[number], raked=not plain and _is_raked(outline)))
    return kinds


def _by_place(below: set[MemberRole | None], above: set[MemberRole | None], *, raked: bool) -> CavityKind:
    if MemberRole.HEADER in below or (below == {None} and MemberRole.SILL not in above):
        return CavityKind.OVER_HEADER
    if MemberRole.SILL in above or above == {None}:
        return CavityKind.UNDER_SILL
    # What lies on a plate bounds the bay no more than the plate does.
    parted = any(MemberRole.OBSTRUCTION in side and not side & _PLATES for side in (below, above))
    if MemberRole.BLOCKING in below | above or parted:
        return CavityKind.BETWEEN_BLOCKINGS
    return CavityKind.RAKED if raked else CavityKind.FULL_HEIGHT


def _bounds_from(measures: Measures, place: Bounding, side: int, other: int) -> list[set[MemberRole | None]]:
    """For each void the roles of what bounds it over half its width; None stands for an opening.

    side, other: column of the boxes that faces the void (3: tops, from below; 1: feet, from above) and the void's own.
    """
    boxes = measures.boxes
    half = (boxes[:, 2] - boxes[:, 0]) / 2.0

    def facing(others: NDArray[np.float64]) -> list[list[int]]:
        """Pairs of a void and what bounds it."""
        void, one = np.nonzero(np.abs(others[None, :, side] - boxes[:, None, other]) < _TOUCH)
        across = np.minimum(others[one, 2], boxes[void, 2]) - np.maximum(others[one, 0], boxes[void, 0])
        return np.column_stack([void, one])[across > half[void]].tolist()

    found: list[set[MemberRole | None]] = [set() for _ in measures.voids]
    for void, member in facing(place.member_boxes):
        found[void].add(place.roles[member])
    if len(place.opening_boxes):
        for void in {void for void, _ in facing(place.opening_boxes)}:
            found[void] = found[void] or {None}
    return found


def _round_openings(measures: Measures, place: Bounding) -> NDArray[np.bool_]:
    """Which voids run round an opening, beside it over half its height and over or under it on both sides, (n,) bool:
    the hollows of steel studs beside a door, joined over its header."""
    boxes, holes = measures.boxes[:, None], place.opening_boxes[None]
    spans = (boxes[..., 0] < holes[..., 0] - _TOUCH) & (boxes[..., 2] > holes[..., 2] + _TOUCH)
    if not spans.any():
        return np.zeros(len(measures.voids), dtype=bool)
    beside = np.minimum(boxes[..., 3], holes[..., 3]) - np.maximum(boxes[..., 1], holes[..., 1])
    return np.any(spans & (beside > 0.5 * (holes[..., 3] - holes[..., 1])), axis=1)


def _uprights_within(measures: Measures, place: Bounding, room: float) -> list[list[int]]:
    """For each void the uprights that stand within its breadth, at its depth and over half its height.

    room: m that must be left on both sides. The hollow of a C-stud belongs to its bay and is narrower than any hose, so
    its flanges and lips part no bays.
    """
    boxes, others = measures.boxes[:, None], place.member_boxes[None]
    found: list[list[int]] = [[] for _ in measures.voids]
    inside = (others[..., 0] > boxes[..., 0] + room) & (others[..., 2] < boxes[..., 2] - room) & place.upright
    if not inside.any():
        return found
    depths = np.array([(void.y_min, void.y_max) for void in measures.voids]).reshape(-1, 1, 2)
    high = np.minimum(others[..., 3], boxes[..., 3]) - np.maximum(others[..., 1], boxes[..., 1])
    deep = np.minimum(place.member_depths[None, :, 1], depths[..., 1]) - np.maximum(
        place.member_depths[None, :, 0], depths[..., 0]
    )
    inside &= (high > 0.5 * (boxes[..., 3] - boxes[..., 1])) & (deep > 0.0)
    for void, member in np.argwhere(inside).tolist():
        found[void].append(member)
    return found


def _parts_in_two(outline: Polygon | MultiPolygon, upright: NDArray[np.float64], room: float) -> bool:
    """Whether an upright's box (x_min, z_min, x_max, z_max) has more than `room` (m) of the outline on both sides."""
    x_min, z_min, x_max, z_max = outline.bounds
    low, high = max(upright[1], z_min), min(upright[3], z_max)
    left = shapely.box(x_min, low, upright[0], high).intersection(outline).area
    right = shapely.box(upright[2], low, x_max, high).intersection(outline).area
    return min(left, right) > room * 0.5 * (high - low)


def _is_raked(outline: Polygon | MultiPolygon) -> bool:
    """True where edges of the upper boundary slope over at least a third of the outline's breadth."""
    x_min, _, x_max, _ = outline.bounds
    sloping = 0.0
    for part in polygons_of(outline):
        points = shapely.get_coordinates(shapely.orient_polygons(part).exterior)
        run, rise = np.diff(points[:, 0]), np.diff(points[:, 1])
        upper = run < 0.0  # anticlockwise: the upper boundary runs from right to left
        sloping += float(-run[upper & (np.abs(rise) > _SLOPING * np.abs(run))].sum())
    return sloping > (x_max - x_min) / 3.0


def method_of(kind: CavityKind, clear_width: float, limits: FillLimits) -> tuple[Method, str]:
    """What the kind of a void alone says of how it is filled, and why. clear_width: m.

    Whether a place that can be filled from the front is blown or filled by hand is for the fill plan to decide
    (`takeoff.fill`), which knows the hose; until then it is to be blown.
    """
    if not limits.insulated:
        return Method.NONE, f"not filled: {limits.why}"
    if kind is CavityKind.OPENING_GAP:
        return Method.NONE, "an opening is not insulated"
    if kind is CavityKind.SLIVER:
        return Method.SEAL, "too narrow for fibre; to be sealed"
    if kind is CavityKind.CLOSED_POCKET:
        return Method.BEFORE_SHEATHING, "closed on the fill side; fill it before sheathing, or say that it stays empty"
    if kind is CavityKind.NARROW and clear_width < limits.hand_width:
        return Method.SEAL, f"clear width {clear_width * 1000:.0f} mm takes no batt; to be sealed"
    return Method.BLOW, "open on the fill side"
