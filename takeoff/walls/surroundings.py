"""What lies on either side of a wall: rooms, or the enclosure that the other walls make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from geometry.solids import Mesh, areal
from takeoff.building import ModelSpace, ModelWall

_RAYS = 12
_SIGHT = 40.0
"""m; how far a ray looks for another wall: longer than any room of a house, shorter than the way to the next one."""
_ENCLOSED = 0.75
"""Share of rays from one side that must meet a wall for that side to be inside: a room has a wall all round but for
what other storeys, glazing and missing walls leave open."""

_THICKEST = 0.8
"""m; a wall whose box in plan is thicker on average than this is not straight, or is a solid worth a closer look."""


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """A space in plan."""

    global_id: str
    label: str
    footprint: Polygon | MultiPolygon
    z_min: float
    z_max: float
    external: bool


class Surroundings:
    """Rooms and walls in plan, made once for a model; look-ups only, nothing changes after it is made."""

    def __init__(self, spaces: Sequence[ModelSpace], walls: Sequence[ModelWall]) -> None:
        self.rooms = tuple(room for space in spaces if (room := _room(space)) is not None)
        self._tree = STRtree([room.footprint for room in self.rooms])
        self._walls = tuple(walls)

    @cached_property
    def _wall_lines(self) -> tuple[STRtree, NDArray[np.float64], tuple[str, ...]]:
        """Walls in plan (boxes along their longest direction where they are straight), heights (n, 2) and ids."""
        shapes, heights, ids = [], [], []
        for wall in self._walls:
            meshes = wall.body or tuple(solid for part in wall.parts for solid in part.solids)
            if not meshes:
                continue
            points = np.concatenate([mesh.vertices for mesh in meshes])
            shapes.append(_standing_plan(wall, meshes, points))
            heights.append((points[:, 2].min(), points[:, 2].max()))
            ids.append(wall.global_id)
        return STRtree(shapes), np.array(heights).reshape(-1, 2), tuple(ids)

    def rooms_at(self, points: NDArray[np.float64]) -> list[Room | None]:
        """The room that holds each world point (n, 3), the smallest where rooms overlap; None where none does."""
        found: list[Room | None] = [None] * len(points)
        if not self.rooms:
            return found
        for point, number in self._tree.query(shapely.points(points[:, :2]), predicate="intersects").T.tolist():
            room, best = self.rooms[number], found[point]
            if not room.z_min - 0.05 <= points[point, 2] <= room.z_max + 0.05:
                continue
            if best is None or (room.footprint.area, number) < (best.footprint.area, self.rooms.index(best)):
                found[point] = room
        return found

    def enclosure(self, wall_id: str, points: NDArray[np.float64], outward: NDArray[np.float64]) -> float:
        """Share of rays from points (n, 3), spread about plan directions (n, 3), that meet a wall.

        A wall that bends walls in a place by itself too, so this one counts as well, but not where its plan holds the
        ray's own start (a wall that leans over it).
        """
        tree, heights, ids = self._wall_lines
        if len(ids) < 2:
            return 0.0
        headings = np.arctan2(outward[:, 1], outward[:, 0])
        angles = (headings[:, None] + np.radians(np.linspace(-75.0, 75.0, _RAYS))).reshape(-1)
        starts = np.repeat(points, _RAYS, axis=0)
        ends = starts[:, :2] + _SIGHT * np.stack([np.cos(angles), np.sin(angles)], axis=1)
        rays = np.asarray(shapely.linestrings(np.stack([starts[:, :2], ends], axis=1)), dtype=object)
        ray, wall = tree.query(rays, predicate="intersects")
        own = np.array([ids[n] == wall_id for n in wall], dtype=bool)
        own[own] = shapely.intersects_xy(tree.geometries[wall[own]], starts[ray[own], 0], starts[ray[own], 1])
        level = (heights[wall, 0] <= starts[ray, 2]) & (heights[wall, 1] >= starts[ray, 2])
        return len(np.unique(ray[level & ~own])) / len(rays)

    def is_inside(self, wall_id: str, points: NDArray[np.float64], outward: NDArray[np.float64]) -> bool:
        """True where the place beside a wall is walled all round."""
        return self.enclosure(wall_id, points, outward) >= _ENCLOSED


def _room(space: ModelSpace) -> Room | None:
    if not space.solids:
        return None
    footprint = areal(shapely.union_all([plan_of(mesh) for mesh in space.solids]))
    if footprint.is_empty:
        return None
    heights = np.concatenate([mesh.vertices[:, 2] for mesh in space.solids])
    return Room(space.global_id, space.label, footprint, float(heights.min()), float(heights.max()), space.external)


def _standing_plan(wall: ModelWall, meshes: Sequence[Mesh], points: NDArray[np.float64]) -> Any:
    """What a wall covers in plan. The box of a curved or bent one would take the room inside it for wall."""
    box: Any = shapely.minimum_rotated_rectangle(shapely.multipoints(points[:, :2]))
    if wall.cylinder is None and box.area <= _THICKEST * box.length / 2.0:
        return box
    return areal(shapely.union_all([plan_of(mesh) for mesh in meshes]))


def plan_of(mesh: Mesh) -> Polygon | MultiPolygon:
    """What a solid covers in plan; empty where all its faces stand upright."""
    corners = mesh.vertices[mesh.faces][:, :, :2]
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    wide = np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) > 1e-9
    if not wide.any():
        return Polygon()
    return areal(shapely.union_all(shapely.polygons(corners[wide])))
