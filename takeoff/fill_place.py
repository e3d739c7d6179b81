"""What the fill plan must know of where cavities lie: the floor, and what stands before and behind the fill face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.frames import LocalAxes
from geometry.solids import Prism, areal, depth_breaks, depth_range, section, silhouette
from takeoff.model import LayerTakeoff, Member, Wall
from takeoff.walls.standing import floors_near, foot_and_height

AT_FACE = 1e-5
"""m; what stands before the fill face by less is in its plane."""


@dataclass(frozen=True, slots=True, eq=False)
class FillPlace:
    """What the plan must know of the stud layer that cavities lie in.

    floor: m, z of the floor in wall axes. insulated_reason: why the wall is insulated or not. storey: whose floor that
    is, where it is that of the wall's own storey. before: what members cover before the fill face (x, z), m: the legs
    of tracks and the flanges of studs that wrap others; no hole can be cut there. behind: members that begin behind it,
    nearest first: how far, m, and their elevation.
    """

    wall_id: str
    layer_key: str
    axes: LocalAxes
    insulated: bool = True
    insulated_reason: str = ""
    floor: float = 0.0
    storey: str = ""
    before: Polygon | MultiPolygon = field(default_factory=Polygon)
    behind: tuple[tuple[float, Polygon | MultiPolygon], ...] = ()


def fill_place(wall: Wall, taken: LayerTakeoff, floors: Sequence[float] = ()) -> FillPlace:
    """What the plan must know of one stud layer of a wall. floors: m, elevations of all storeys of the model.

    The floor is that of the wall's own storey; of a wall that stands far from it (drawn from the storey below), the
    storey nearest to its underside; of one near none, or one that mostly hangs below, its underside itself. A stud
    layer that stands on another one of its wall, near no floor of its own, has the floor of the lowest.
    """
    layer = taken.frame.layer
    floor, storey = 0.0, ""
    for layers in ((layer,), (layer, *wall.stud_layers)):
        foot, height = foot_and_height(layers)
        own = floors_near(foot, height, () if wall.storey_elevation is None else (wall.storey_elevation,))
        near = [each - foot for each in own or floors_near(foot, height, floors)]
        floor = foot - float(layer.axes.origin[2]) + min(near, key=abs, default=0.0)
        storey = wall.storey if own else ""
        if near:
            break
    members = taken.frame.members
    return FillPlace(
        wall.wall_id, layer.key, layer.axes, wall.insulated, wall.insulated_reason, floor, storey,
        standing_before(members), _standing_behind(members, layer.depth),
    )  # fmt: skip


def standing_before(members: Sequence[Member]) -> Polygon | MultiPolygon:
    """Elevation (x, z), m, of what members cover before the fill face (y < 0)."""
    covered: list[Polygon | MultiPolygon] = []
    for member in members:
        near, far = depth_range(member.solid)
        if near >= -AT_FACE:
            continue
        if isinstance(member.solid, Prism):
            covered.append(member.solid.outline)
            continue
        depths = np.unique([*np.clip(depth_breaks(member.solid, AT_FACE), near, 0.0), min(far, 0.0)])
        covered += [section(member.solid, float(depth)) for depth in 0.5 * (depths[:-1] + depths[1:])]
    return areal(shapely.union_all(covered)) if covered else Polygon()


def _standing_behind(members: Sequence[Member], depth: float) -> tuple[tuple[float, Polygon | MultiPolygon], ...]:
    """Members that begin behind the fill face and within the studs' depth, nearest first."""
    nearest = [(depth_range(member.solid)[0], member) for member in members]
    behind = sorted((near, number) for number, (near, _) in enumerate(nearest) if AT_FACE < near < depth)
    return tuple((near, silhouette(nearest[number][1].solid)) for near, number in behind)
