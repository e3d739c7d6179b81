"""The storey whose floor a wall really stands on, judged by elevations, where the model has it in another one.

Models often contain a wall in the storey that it was drawn from, with an offset that brings it to the next floor. Its
rooms and the heights of its holes belong to that floor, so that the crew works it there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from geometry.solids import bounds
from takeoff.finding import Finding, Severity
from takeoff.model import StudLayer, Wall

FLOOR_LIMIT = 1.5
"""m; a storey elevation farther than this from the underside of the wall is not taken for its floor."""
FLOOR_SHARE = 0.5
"""A wall of which more than this share lies below a storey's elevation does not stand on that floor."""
SAME_FLOOR = 0.6
"""m; a wall whose underside is nearer than this to its own storey's elevation stands there: steps in a floor, floor
structure and storeys for structure and finish apart are no other floor. Own assumption."""


def floors_near(foot: float, height: float, elevations: Sequence[float]) -> list[float]:
    """Those elevations, m, that may be the floor of a wall with this underside and height, m."""
    highest = min(FLOOR_LIMIT, FLOOR_SHARE * height)
    return [each for each in elevations if -FLOOR_LIMIT <= each - foot <= highest]


def foot_and_height(layers: Sequence[StudLayer]) -> tuple[float, float]:
    """Elevation of the lowest underside of stud layers, and how far the highest top lies over it, m."""
    foot = min(float(layer.axes.origin[2]) for layer in layers)
    top = max(float(layer.axes.origin[2] + bounds(layer.outline)[1, 2]) for layer in layers)
    return foot, top - foot


def told_where_they_stand(walls: Sequence[Wall]) -> tuple[Wall, ...]:
    """The walls, each in the storey whose floor it stands on, with a finding where that is not the model's storey.

    Storeys are those of the walls. Walls without stud layers or without a storey stay as they are, and so do those
    near no floor.
    """
    named: dict[float, Counter[str]] = {}
    for wall in walls:
        if wall.storey_elevation is not None:
            named.setdefault(wall.storey_elevation, Counter())[wall.storey] += 1
    storeys = {elevation: names.most_common(1)[0][0] for elevation, names in named.items()}
    return tuple(_told(wall, storeys) for wall in walls)


def _told(wall: Wall, storeys: Mapping[float, str]) -> Wall:
    own = wall.storey_elevation
    if own is None or not wall.stud_layers:
        return wall
    foot, height = foot_and_height(wall.stud_layers)
    if abs(own - foot) <= SAME_FLOOR:
        return wall
    floor = min(floors_near(foot, height, sorted(storeys)), key=lambda each: abs(each - foot), default=own)
    if storeys[floor] == wall.storey or abs(floor - foot) >= abs(own - foot):
        return wall
    told = Finding(
        "storey-against-elevations", Severity.WARNING,
        f"The model has it in storey '{wall.storey}' at {own:.2f} m, but it stands from {foot:.2f} to "
        f"{foot + height:.2f} m, on the floor of storey '{storeys[floor]}' at {floor:.2f} m: all tables and sheets "
        "have it there. Have it contained in that storey.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, measured=foot - own, limit=SAME_FLOOR, unit="m",
    )  # fmt: skip
    return replace(wall, storey=storeys[floor], storey_elevation=floor, findings=(*wall.findings, told))
