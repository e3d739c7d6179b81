"""The rooms that a model joins to its walls, held against those that lie beside them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geometry.solids import bounds
from takeoff.building import Model, ModelWall
from takeoff.envelope.orientation import points_beside
from takeoff.finding import Finding, Severity
from takeoff.layer_groups import groups_in_depth
from takeoff.model import WallTakeoff
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.walls.surroundings import Room, Surroundings, plan_of

_STEP = 0.1
"""m between the places along a wall that are looked at."""
_BESIDE = 0.03
"""m from the wall's face: what stands before the wall, such as a furring, parts it from the room."""
_FAR_FROM_WALL = 1.0
"""m; a room farther from a wall than this does not bound it."""
_LEAST_BESIDE = 0.5
"""m; a room that lies along less of a wall than this need not be in its boundaries."""


def boundary_comparisons(
    model: Model, results: Sequence[WallTakeoff]
) -> tuple[tuple[Comparison, ...], tuple[Finding, ...]]:
    """Rooms that the model's space boundaries join to a wall, against those that lie beside it.

    Only for walls that were taken off and of rooms that the model joins to some wall.
    """
    joined = {room for wall in model.walls for room in wall.space_ids}
    if not joined:
        return (), ()
    surroundings = Surroundings(model.spaces, ())
    rooms = {room.global_id: room for room in surroundings.rooms}
    sources = {wall.global_id: wall for wall in model.walls}
    rows: list[Comparison] = []
    findings: list[Finding] = []
    for result in results:
        source = sources.get(result.wall.wall_id)
        if source is None or not result.layers:
            continue
        beside = {room: length for room, length in _beside(result, surroundings).items() if room in joined}
        unsaid = [room for room, length in beside.items() if length >= _LEAST_BESIDE and room not in source.space_ids]
        far = [room for room in source.space_ids if room in rooms and _is_far(rooms[room], source)]
        row = _boundary_row(result, [rooms[room].label for room in unsaid], [rooms[room].label for room in far])
        rows.append(row)
        if row.agreement is Agreement.DIFFERS:
            wall = result.wall
            findings.append(
                Finding(
                    "space-boundaries-disagree", Severity.INFO,
                    f"The model's space boundaries of this wall do not fit its rooms: {row.reason}. Have them written "
                    "anew before areas by room are taken from them.",
                    wall.wall_id, wall.wall_id, wall.ifc_class, wall.name,
                )
            )  # fmt: skip
    return tuple(rows), tuple(findings)


def _boundary_row(result: WallTakeoff, unsaid: Sequence[str], far: Sequence[str]) -> Comparison:
    reasons = []
    if unsaid:
        reasons.append(f"beside it, but not said to bound it: {', '.join(unsaid)}")
    if far:
        reasons.append(f"said to bound it, but not beside it: {', '.join(far)}")
    wall = result.wall
    return Comparison(
        "IfcRelSpaceBoundary", None, "rooms beside the wall", wall.name or wall.wall_id, None, None, None, "",
        Agreement.DIFFERS if reasons else Agreement.AGREES, "; ".join(reasons), (wall.wall_id,), (wall.name,),
    )  # fmt: skip


def _beside(result: WallTakeoff, surroundings: Surroundings) -> dict[str, float]:
    """Length in m along which each room lies beside a wall, on either side, by GlobalId."""
    found: dict[str, float] = {}
    for group in groups_in_depth(result.layers):
        layer = group[0].frame.layer
        low, high = bounds(layer.outline)[:, 0].tolist()
        count = max(3, round((high - low) / _STEP))
        along = low + (np.arange(count) + 0.5) * (high - low) / count
        for far in (False, True):
            for room in surroundings.rooms_at(points_beside(layer, along, far=far, beside=_BESIDE)):
                if room is not None and not room.external:
                    found[room.global_id] = found.get(room.global_id, 0.0) + (high - low) / count
    return found


def _is_far(room: Room, wall: ModelWall) -> bool:
    shapes = [plan_of(mesh) for mesh in wall.body] or [plan_of(mesh) for part in wall.parts for mesh in part.solids]
    return bool(shapes) and all(room.footprint.distance(shape) > _FAR_FROM_WALL for shape in shapes)
