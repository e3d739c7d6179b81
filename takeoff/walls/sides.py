"""External or internal, which side is inside, and from which side a stud layer is filled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.frames import LocalAxes
from takeoff.building import ModelWall
from takeoff.finding import Finding, Severity
from takeoff.model import Layer, LayerRole
from takeoff.wall_rules import WallRule
from takeoff.walls.surroundings import Room, Surroundings

_BESIDE = 0.3
"""m from the wall's face to where the room beside it is looked for: past linings and skirtings, within any room."""
_STANDING = 1.0
"""m above the wall's foot: within the room even where a gable rises above its ceiling."""
_QUARTERS = (0.25, 0.5, 0.75)
_ALONG = tuple(0.1 * number for number in range(1, 10))
"""Parts of a wall's length at which the rooms beside it are looked for; its ends lie in the walls that it meets."""
_MOSTLY = 0.5
"""Share of a side's length without a room from which the wall is taken as an outside wall there."""
_WORTH_TELLING = 1.0
"""m; a wall with rooms on both sides but for less than this may as well meet a shaft or a thick wall there."""
_MEMBRANE = 0.006
"""m; a layer up to this thickness (membrane, paint, paper) keeps nobody from hanging netting."""


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Both sides of a wall in its raw axes: index 0 is the side of low y, 1 that of high y."""

    rooms: tuple[tuple[Room, ...], tuple[Room, ...]]
    inside: tuple[bool, bool]
    """Whether each side is a room, or walled all round."""
    external: bool
    external_reason: str
    findings: tuple[Finding, ...] = ()

    @property
    def inner(self) -> int | None:
        """The side that is inside where the other is not."""
        return None if self.inside[0] == self.inside[1] else int(self.inside[1])


def sides_of(
    wall: ModelWall, axes: LocalAxes, extent: NDArray[np.float64], rule: WallRule, surroundings: Surroundings
) -> Sides:
    """Look at both sides of a wall. extent: (2, 3) float64, m, its box in raw axes."""
    found = surroundings.rooms_at(np.concatenate(_points_beside(axes, extent, _ALONG)))
    beside = found[: len(_ALONG)], found[len(_ALONG) :]
    rooms = (_each_once(beside[0]), _each_once(beside[1]))
    indoors = tuple(any(not room.external for room in side) for side in rooms)
    by_rooms = any(indoors) or any(rooms[0] + rooms[1])

    def walled_in(side: int) -> bool:
        points = _points_beside(axes, extent, _QUARTERS)
        outward = points[1] - points[0]
        return surroundings.is_inside(wall.global_id, points[side], outward if side else -outward)

    sure = by_rooms and any(indoors)
    shares = [_share_outside(side) if all(indoors) else 0.0 for side in beside]
    outside = [share if share and not walled_in(side) else 0.0 for side, share in enumerate(shares)]
    roomy = tuple(indoor and share < _MOSTLY for indoor, share in zip(indoors, outside, strict=True))
    inside = (roomy[0], roomy[1]) if sure else (walled_in(0), walled_in(1))
    external, reason = _external(wall, rule, inside, by_rooms=sure)
    doubted = sure and rule.external is None and wall.external is all(inside)
    # What lies between linings and a shaft has no room either, but other walls round it.
    doubts = _doubts(wall) if doubted and (wall.external or not walled_in(int(inside[0]))) else ()
    silent = rule.external is None and wall.external is None
    length = max(outside) * float(extent[1, 0] - extent[0, 0])
    if silent and length >= _WORTH_TELLING:
        doubts = (*doubts, _partly_outside(wall, max(outside), external=external))
    return Sides((rooms[0], rooms[1]), inside, external, reason, doubts)


def _points_beside(
    axes: LocalAxes, extent: NDArray[np.float64], along: Sequence[float]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """World points beside the low and the high face: each (n, 3) m, at n parts of the length."""
    low, high = extent
    x = low[0] + (high[0] - low[0]) * np.array(along)
    z = np.full(len(x), low[2] + min(_STANDING, (high[2] - low[2]) / 2.0))
    near = axes.to_world(np.stack([x, np.full(len(x), low[1] - _BESIDE), z], axis=1))
    far = axes.to_world(np.stack([x, np.full(len(x), high[1] + _BESIDE), z], axis=1))
    return near, far


def _share_outside(beside: Sequence[Room | None]) -> float:
    """Share of a side's places that no room holds, or one that the model calls outdoors."""
    return sum(room is None or room.external for room in beside) / len(beside)


def _each_once(found: Sequence[Room | None]) -> tuple[Room, ...]:
    return tuple({room.global_id: room for room in found if room is not None}.values())


def _external(wall: ModelWall, rule: WallRule, inside: tuple[bool, bool], *, by_rooms: bool) -> tuple[bool, str]:
    if rule.external is not None:
        return rule.external, "the job file says so"
    if wall.external is not None:
        return wall.external, "the model says so (Pset_WallCommon.IsExternal)"
    way = "rooms" if by_rooms else "walls all round"
    if all(inside):
        return False, f"the model does not say; it has {way} on both sides"
    if any(inside):
        return True, f"the model does not say; it has {way} on one side only"
    return True, "the model does not say; taken as external since nothing shows a room on either side"


def _doubts(wall: ModelWall) -> tuple[Finding, ...]:
    """What is said where the model's rooms speak against what it says of a wall; what it says still counts."""
    if wall.external:
        severity = Severity.INFO
        said = (
            "The model calls it an outside wall, but it has rooms on both sides (a wall between dwellings may be meant)"
        )
    else:
        severity = Severity.WARNING
        said = "The model calls it an inside wall, but it has a room on one side only; it may be an outside wall"
    return (
        Finding(
            "external-against-rooms", severity,
            f"{said}. If that is wrong, mend IsExternal in the model or state external in the job file.",
            wall.global_id, wall.global_id, wall.ifc_class, wall.name,
        ),
    )  # fmt: skip


def _partly_outside(wall: ModelWall, share: float, *, external: bool) -> Finding:
    taken = "an outside wall" if external else "an inside wall"
    return Finding(
        "wall-partly-outside", Severity.WARNING,
        f"Rooms lie on both sides of it, but along {share:.0%} of its length there is none on one side; it was taken "
        f"as {taken} as a whole. Have it parted in the model where the room ends, or state external in the job file.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, share, _MOSTLY, "of its length",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class FillSide:
    """From which side a stud layer is filled: 0 for low y in raw axes, 1 for high y."""

    side: int
    reason: str
    findings: tuple[Finding, ...] = ()


def fill_side(wall: ModelWall, layers: Sequence[Layer], number: int | None, sides: Sides, rule: WallRule) -> FillSide:
    """From which side a stud layer is filled.

    layers: placed, in the order of raw y. number: position of the stud layer among them, None where the model has no
    layers. The netting hangs on the studs before the lining is on, so the side with nothing but linings is filled
    from; sheathing, cladding, masonry or other studs are in place by then. Rooms decide where the layers do not.
    """
    stated = _stated(sides, rule)
    if stated is not None:
        return stated
    if number is None or not layers:
        return _by_rooms(sides, "the model has no layers to tell the sides apart")
    closed = [_closed(layers[:number]), _closed(layers[number + 1 :])]
    lined = [any(layer.role is LayerRole.LINING for layer in part) for part in (layers[:number], layers[number + 1 :])]
    if closed[0] != closed[1]:
        side = int(closed[0])
        reason = (
            "only linings lie on this side of the studs" if lined[side] else "nothing covers the studs on this side"
        )
        if sides.external and sides.inner is not None and sides.inner != side:
            return _against_rooms(wall, sides.inner)
        return FillSide(side, reason)
    if sides.inner is not None and (sides.external or lined[0] == lined[1]):
        return FillSide(sides.inner, "the inside of the wall")
    if lined[0] != lined[1] and not any(closed):
        return FillSide(int(lined[1]), "the side with the lining")
    return _by_rooms(sides, "its layers are alike on both sides")


def _stated(sides: Sides, rule: WallRule) -> FillSide | None:
    if rule.fill_side is None:
        return None
    if rule.fill_side in ("first_layer", "last_layer"):
        return FillSide(int(rule.fill_side == "last_layer"), "the job file says so")
    if sides.inner is None:
        return None
    side = sides.inner if rule.fill_side == "inside" else 1 - sides.inner
    return FillSide(side, f"the job file says {rule.fill_side}")


def _closed(layers: Sequence[Layer]) -> bool:
    return any(layer.role is not LayerRole.LINING and layer.thickness > _MEMBRANE for layer in layers)


def _by_rooms(sides: Sides, why: str) -> FillSide:
    if sides.inner is not None:
        return FillSide(sides.inner, f"the inside of the wall; {why}")
    named = [bool(rooms) for rooms in sides.rooms]
    if named[0] != named[1]:
        return FillSide(int(named[1]), f"the side with a room; {why}")
    return FillSide(0, f"either side would do; {why}")


def _against_rooms(wall: ModelWall, side: int) -> FillSide:
    finding = Finding(
        "layers-face-the-other-way",
        Severity.WARNING,
        "The layers put the lining outside and the cladding inside; the wall is filled from the inside. "
        "Have the wall turned round in the model, or state fill_side in the job file.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name,
    )  # fmt: skip
    return FillSide(side, "the inside of the wall, against its layers", (finding,))
