"""Wall frames among members that no wall of the model holds: loose ones, and those of an assembly of several walls.

A frame shows in its plates: level members that several uprights meet, in one upright plane. What else stands in that
plane between the ends of the plates (headers, sills, cripples, blocks, further plates) is of the same frame. Whether it
is that of a wall is for `takeoff.reading.frames` to say; common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from takeoff.reading.assemblies import SHEET_ASSEMBLIES, OwnBoxes, is_part
from takeoff.reading.attributes import word
from takeoff.reading.faults import BROKEN_ENTITY, described
from takeoff.reading.frames import LEVEL, NOT_WALLS, UPRIGHT, is_guard, is_wall_frame, steepness
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, predefined_type, storey_of, wholes_of

FRAMING = ("IfcMember", "IfcBeam", "IfcColumn", "IfcPlate", "IfcBuildingElementPart")
"""Classes whose elements may be members of a wall frame."""
OF_OTHERS = frozenset({"RAFTER", "PURLIN", "STRINGER", "MULLION", "HOLLOWCORE", "JOIST"})
"""Predefined types of members that belong to roofs, floors, stairs and curtain walls."""
WIDEST_SPACING = 1.25
"""m between uprights, on average; farther apart they are posts, not studs."""
FEWEST_UPRIGHTS = 3
TOUCH = 0.02
"""m; a stud that stops so short of its plate stands on it all the same."""
PARALLEL = 0.9998
"""Cosine of 1 degree: plates of one wall run the same way."""
MOST_NAMED = 3
ROUGHLY = 0.8
"""Least |z| of the long direction of a rough box that may hold an upright."""


@dataclass(frozen=True, slots=True, eq=False)
class _Stick:
    """One element. points: (n, 3) float64, m, world. slope: |z| of its long direction, None where it is not long."""

    element: Any
    points: NDArray[np.float64]
    slope: float | None

    @property
    def upright(self) -> bool:
        return self.slope is not None and self.slope >= UPRIGHT

    @property
    def rises(self) -> bool:
        """Upright as far as a rough box tells."""
        return self.slope is not None and self.slope >= ROUGHLY

    @property
    def level(self) -> bool:
        return self.slope is not None and self.slope <= LEVEL


@dataclass(frozen=True, slots=True, eq=False)
class LooseFrame:
    """A wall frame of loose members.

    plate: its longest lowest plate, which names it. members: in file order. axes: (4, 4) float64, m, its own place in
    the world: x along the plate, z up.
    """

    plate: Any
    members: tuple[Any, ...]
    axes: NDArray[np.float64]


def find_loose_frames(model: ModelFile, taken: set[int], boxes: Callable[[], OwnBoxes]) -> list[LooseFrame]:
    """Frames among the framing members that are no parts of `taken` elements (step numbers) and stand in no wall.

    boxes: makes the boxes around the walls, if they are needed; members in them are the frames of these.
    """
    candidates = [element for element in _near_plates(model, taken) if _may_frame(element)]
    if len(candidates) < FEWEST_UPRIGHTS:
        return []
    walls = boxes()
    sticks = [stick for stick in _sticks(model, candidates) if not walls.hold(stick.points.mean(axis=0))]
    middles = _middles(sticks)
    found: list[LooseFrame] = []
    used: set[int] = set()
    for plates, uprights in _seeds(sticks):
        frame = _frame(model, _Seed(plates, uprights), sticks, middles, used)
        if frame is not None:
            found.append(frame)
            used |= {member.id() for member in frame.members}
    return found


def note_members_in_no_wall(model: ModelFile, elements: Sequence[tuple[Any, NDArray[np.float64]]]) -> None:
    """A finding, storey by storey, about members that stand neither in a wall nor in a frame of their own.

    elements: those that touch no wall, each with the points (n, 3) m of its rough box. Where none stands upright they
    are those of floors and roofs: nothing is said of them. Three uprights as near to each other as studs are a warning,
    posts are a remark.
    """
    rough = [_Stick(element, points, _rough_slope(points)) for element, points in elements if is_framing(element)]
    if not any(stick.rises for stick in rough):
        return
    storeys: dict[str, list[_Stick]] = {}
    for stick in _without_guards(model, [stick for stick in rough if stick.slope is not None]):
        storey = storey_of(stick.element)
        storeys.setdefault("" if storey is None else word(storey, "Name"), []).append(stick)
    for storey, sticks in storeys.items():
        standing = [stick for stick in sticks if stick.rises]
        if not standing:
            continue
        x, y, z = standing[0].points.mean(axis=0).tolist()
        named = ", ".join(described(stick.element) for stick in standing[:MOST_NAMED])
        more = f" and {len(standing) - MOST_NAMED} more" if len(standing) > MOST_NAMED else ""
        where = f"storey '{storey}'" if storey else "no storey"
        model.findings.add(
            "members-in-no-wall",
            f"{len(sticks)} member{'s' if len(sticks) > 1 else ''} of {where}, {len(standing)} of them upright "
            f"({named}{more}), stand in no wall and form no wall frame by themselves, so nothing was counted for "
            f"them; the middle of the first is at x {x:.2f}, y {y:.2f}, z {z:.2f} m. If they frame a wall, put them "
            "into it, with its plates.",
            warning=_stand_as_studs(standing),
            place=(x, y, z),
        )


def _without_guards(model: ModelFile, sticks: Sequence[_Stick]) -> list[_Stick]:
    """Those that may be framing, those of railings left out."""
    wholes: dict[int, list[_Stick]] = {}
    for stick in sticks:
        if _may_frame(stick.element):
            outer = [whole.id() for whole in wholes_of(stick.element) if whole.is_a("IfcElement")]
            wholes.setdefault(outer[-1] if outer else 0, []).append(stick)
    return [
        stick
        for number, group in wholes.items()
        if not number or not is_guard([solid for one in group for solid in model.bodies.of(one.element).solids])
        for stick in group
    ]


def _stand_as_studs(standing: Sequence[_Stick]) -> bool:
    """Whether three uprights at least have another one as near as studs stand."""
    places = np.asarray(shapely.points(_middles(standing)[:, :2]))
    near = shapely.STRtree(places).query(places, predicate="dwithin", distance=WIDEST_SPACING)
    return len(np.unique(near[0, near[0] != near[1]])) >= FEWEST_UPRIGHTS


def is_framing(element: Any) -> bool:
    """Whether an element is of a class whose elements may be members of a wall frame."""
    return any(element.is_a(kind) for kind in FRAMING)


def _near_plates(model: ModelFile, taken: set[int]) -> list[Any]:
    """Members that may belong to a frame by their rough boxes, which are far cheaper than bodies: level ones that two
    uprights or more may meet, these uprights, and what is near them."""
    rough = [
        (element, points)
        for element in model.of_class(*FRAMING)
        if element.id() not in taken and (points := _rough_box(model, element)) is not None
    ]
    if not rough:
        return []
    slopes = [_rough_slope(points) for _, points in rough]
    rises = np.array([slope is not None and slope >= ROUGHLY for slope in slopes])
    if rises.sum() < FEWEST_UPRIGHTS:
        return []
    lies = np.array([slope is not None and slope <= LEVEL for slope in slopes])
    boxes = np.array([_box(points) for _, points in rough])
    plates = [row for row in np.flatnonzero(lies).tolist() if (_touching(boxes, row) & rises).sum() >= 2]
    kept = np.zeros(len(rough), dtype=bool)
    for row in plates:
        kept |= _touching(boxes, row)
    for row in np.flatnonzero(kept & rises).tolist():
        kept |= _touching(boxes, row)
    return [element for (element, _), keep in zip(rough, kept.tolist(), strict=True) if keep]


def _touching(boxes: NDArray[np.float64], row: int) -> NDArray[np.bool_]:
    """Which of the boxes (n, 2, 3) one of them touches, (n,) bool."""
    return ((boxes[:, 0] <= boxes[row, 1]) & (boxes[:, 1] >= boxes[row, 0])).all(axis=1)


def _rough_box(model: ModelFile, element: Any) -> NDArray[np.float64] | None:
    try:
        return model.bodies.rough_box(element)
    except BROKEN_ENTITY:
        # Whoever reads it as a part says so.
        return None


def _rough_slope(points: NDArray[np.float64]) -> float | None:
    """|z| of the long direction of a rough box; None where it can hold nothing long."""
    return steepness(points, times_as_long=2.0)


def _may_frame(element: Any) -> bool:
    """Whether an element has a body and belongs to no wall, floor, roof, stair or the like."""
    try:
        wholes = list(wholes_of(element))
        return (
            is_part(element)
            and predefined_type(element).upper() not in OF_OTHERS
            and not any(whole.is_a(kind) for whole in wholes for kind in (*SHEET_ASSEMBLIES, "IfcWall"))
            and not any(predefined_type(whole).upper() in NOT_WALLS for whole in wholes)
            and not any(is_part(inner) and not _is_infill(inner) for inner in all_parts_of(element))
        )
    except BROKEN_ENTITY:
        # Whoever reads it as a part says so.
        return False


def _is_infill(part: Any) -> bool:
    """Whether a part of a member is insulation or a void: the copy of a model with a takeoff in it hangs them there."""
    return part.is_a("IfcVirtualElement") or "INSULATION" in (predefined_type(part), word(part, "ObjectType"))


def _sticks(model: ModelFile, elements: Iterable[Any]) -> list[_Stick]:
    made: list[_Stick] = []
    for element in elements:
        solids = model.bodies.of(element).solids
        if solids:
            points = np.concatenate([solid.vertices for solid in solids])
            made.append(_Stick(element, points, steepness(points)))
    return made


def _middles(sticks: Sequence[_Stick]) -> NDArray[np.float64]:
    """(n, 3) float64, m, world."""
    return np.array([stick.points.mean(axis=0) for stick in sticks]).reshape(-1, 3)


def _seeds(sticks: Sequence[_Stick]) -> list[tuple[list[_Stick], list[_Stick]]]:
    """Plates of one upright plane that share uprights, with the uprights that meet them, by the first plate's place."""
    uprights = [stick for stick in sticks if stick.upright]
    standing = _Standing.of(uprights)
    met = {row: set(rows) for row, stick in enumerate(sticks) if stick.level and len(rows := standing.at(stick)) >= 2}
    plates_at: dict[int, list[int]] = {}
    for plate, rows in met.items():
        for row in rows:
            plates_at.setdefault(row, []).append(plate)
    groups: list[tuple[list[_Stick], list[_Stick]]] = []
    waiting = dict.fromkeys(met)
    while waiting:
        first = next(iter(waiting))
        del waiting[first]
        plates, studs, reached = [first], set(met[first]), list(met[first])
        while reached:
            for other in plates_at[reached.pop()]:
                if other in waiting and _in_line(sticks[first], sticks[other]):
                    del waiting[other]
                    plates.append(other)
                    reached += met[other] - studs
                    studs |= met[other]
        if len(studs) >= FEWEST_UPRIGHTS:
            groups.append(([sticks[row] for row in plates], [uprights[row] for row in sorted(studs)]))
    return groups


@dataclass(frozen=True, slots=True, eq=False)
class _Standing:
    """Uprights: middles (n, 3), feet and heads (n,) float64, m, world."""

    middles: NDArray[np.float64]
    feet: NDArray[np.float64]
    heads: NDArray[np.float64]

    @classmethod
    def of(cls, uprights: Sequence[_Stick]) -> _Standing:
        ends = np.array([_box(stick.points)[:, 2] for stick in uprights]).reshape(-1, 2)
        return cls(_middles(uprights), ends[:, 0], ends[:, 1])

    def at(self, plate: _Stick) -> list[int]:
        """Rows of the uprights that stand on a level member, hang under it or are notched round it."""
        axes = _plan_axes(plate)
        low, high = _box(plate.points @ axes.T)
        own = self.middles @ axes.T
        meets = ((own[:, :2] >= low[:2] - TOUCH) & (own[:, :2] <= high[:2] + TOUCH)).all(axis=1)
        meets &= (self.feet <= high[2] + TOUCH) & (self.heads >= low[2] - TOUCH)
        return np.flatnonzero(meets).tolist()


def _in_line(plate: _Stick, other: _Stick) -> bool:
    """Whether two level members run the same way in one upright plane."""
    axes, turned = _plan_axes(plate), _plan_axes(other)
    if abs(float(axes[0] @ turned[0])) < PARALLEL:
        return False
    low, high = _box(plate.points @ axes.T)[:, 1]
    own_low, own_high = _box(other.points @ axes.T)[:, 1]
    return bool(own_low < high and own_high > low)


def _plan_axes(stick: _Stick) -> NDArray[np.float64]:
    """(3, 3) rows: along a member as seen in plan, across it, up."""
    plan = stick.points[:, :2] - stick.points[:, :2].mean(axis=0)
    x, y = np.linalg.svd(plan, full_matrices=False)[2][0]
    x, y = (x, y) if (round(x, 6), y) >= (0.0, 0.0) else (-x, -y)
    return np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]])


@dataclass(frozen=True, slots=True, eq=False)
class _Seed:
    """Plates with the uprights that meet them."""

    plates: Sequence[_Stick]
    uprights: Sequence[_Stick]


def _frame(
    model: ModelFile, seed: _Seed, sticks: Sequence[_Stick], middles: NDArray[np.float64], used: set[int]
) -> LooseFrame | None:
    """The frame around a seed, None where it is that of no wall. middles: (n, 3) of the sticks. used: step numbers."""
    axes = _plan_axes(max(seed.plates, key=lambda plate: float(np.ptp(plate.points @ _plan_axes(plate)[0]))))
    members = {one.element.id(): one for one in (*seed.plates, *seed.uprights) if one.element.id() not in used}
    if not members:
        return None
    reach = np.stack([_box(stick.points @ axes.T) for stick in members.values()])
    low, high = reach[:, 0].min(axis=0), reach[:, 1].max(axis=0)
    if high[0] - low[0] > WIDEST_SPACING * (len(seed.uprights) - 1):
        return None
    own = middles @ axes.T
    near = ((own[:, :2] >= low[:2]) & (own[:, :2] <= high[:2])).all(axis=1)
    others = [one for one in (sticks[row] for row in np.flatnonzero(near).tolist()) if one.element.id() not in used]
    outside = _Standing.of([one for one in others if one.upright and one.element.id() not in members])
    for _ in range(2):  # A plate over the plates, then one over that.
        for stick in others:
            # The plates of the storey above lie on this one's, but carry uprights of their own.
            if not (stick.level and len(outside.at(stick)) >= 2) and _is_within(stick, axes, low, high):
                members[stick.element.id()] = stick
        reach = np.stack([_box(stick.points @ axes.T) for stick in members.values()])
        low, high = reach[:, 0].min(axis=0), reach[:, 1].max(axis=0)
    chosen = [members[key] for key in sorted(members)]
    if not is_wall_frame([solid for stick in chosen for solid in model.bodies.of(stick.element).solids]):
        return None
    lowest = min(seed.plates, key=lambda one: (round(float(one.points[:, 2].min()), 3), one.element.id()))
    place = np.eye(4)
    place[:3, :3] = axes.T
    place[:3, 3] = axes.T @ low
    return LooseFrame(lowest.element, tuple(stick.element for stick in chosen), place)


def _is_within(stick: _Stick, axes: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
    """Whether a member lies in the plane of a frame and mostly between its ends, or on its plates."""
    own_low, own_high = _box(stick.points @ axes.T)
    shared = np.minimum(own_high, high) - np.maximum(own_low, low)
    size = own_high - own_low
    in_plane = own_low[1] >= low[1] - TOUCH and own_high[1] <= high[1] + TOUCH
    up = shared[2] >= 0.5 * size[2] or (stick.level and shared[2] >= -TOUCH)
    return bool(in_plane and shared[0] >= 0.5 * size[0] and up)


def _box(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(2, 3) lowest and highest of points (n, 3)."""
    return np.stack([points.min(axis=0), points.max(axis=0)])
