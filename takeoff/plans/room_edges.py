"""Edges of rooms where neither a wall nor another room stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from geometry.frames import Axes
from geometry.solids import Mesh, areal, moved, polygons_of, section
from takeoff.building import Model, ModelSpace
from takeoff.envelope.orientation import azimuth, compass
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.walls.surroundings import Room, Surroundings, plan_of

_STEP = 0.1
"""m between the places of an edge that are looked at."""
_INWARD = 0.4
"""m; a room may be drawn to the middle or the outer face of its walls."""
_OUTWARD = 0.8
"""m from a room's edge to what bounds it: the thickest walls and linings."""
_LEVELS = ((0.3, 0.25), (1.0, 0.5))
"""m above the floor, and at most that share of the room's height: below window sills and parapets, and above them."""
_UPRIGHT = 0.05
"""m; an edge that has moved farther at the upper level slopes: a roof closes the room there."""
_LYING = Axes(np.zeros(3), np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]))
"""Axes whose depth is the world's height, so that a section across the depth is a plan (x, -y)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Obstacles:
    """What may close a room, in plan: shapes with the heights (n, 2) m between which they stand."""

    tree: STRtree
    heights: NDArray[np.float64]
    roofs: tuple[Mesh, ...] = ()
    """World axes; a roof that slopes closes a room only where it passes, so it is cut at each level."""


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of a room's edge that nothing closes."""

    room: Room
    length: float
    """m"""
    middle: tuple[float, float]
    """World x, y in m."""
    facing: str
    """Eighth of the compass that the stretch faces."""


def room_gaps(model: Model, job: Job) -> tuple[Finding, ...]:
    """Rooms with a stretch of edge that has neither a wall nor another room beyond it, a finding for each stretch.

    Doors and windows that stand by themselves, curtain walls and columns close a room too. Stretches shorter than the
    job's `least_gap` are not told. Rooms drawn to the outside of a porch or a gallery show up here as well, so it is a
    thing to look at, not a fault.
    """
    if not model.spaces or not model.walls:
        return ()
    rooms = {room.global_id: room for room in Surroundings(model.spaces, ()).rooms}
    obstacles = _obstacles(model, tuple(rooms.values()))
    found = []
    for space in model.spaces:
        room = rooms.get(space.global_id)
        if room is not None and not room.external:
            gaps = _gaps(space, room, obstacles, model.true_north)
            found += [_finding(gap) for gap in gaps if gap.length >= job.plan_check.least_gap]
    return tuple(found)


def _obstacles(model: Model, rooms: Sequence[Room]) -> _Obstacles:
    shapes: list[Any] = []
    heights: list[tuple[float, float]] = []
    for mesh in _solids_that_close(model):
        shape = plan_of(mesh)
        if not shape.is_empty:
            shapes.append(shape)
            heights.append((float(mesh.vertices[:, 2].min()), float(mesh.vertices[:, 2].max())))
    for points in model.curtain_walls:
        shapes.append(shapely.convex_hull(shapely.multipoints(points[:, :2])))
        heights.append((float(points[:, 2].min()), float(points[:, 2].max())))
    for room in rooms:
        shapes.append(room.footprint)
        heights.append((room.z_min, room.z_max))
    roofs = tuple(mesh for roof in model.roofs for mesh in roof.solids)
    return _Obstacles(STRtree(shapes), np.array(heights).reshape(-1, 2), roofs)


def _solids_that_close(model: Model) -> Iterator[Mesh]:
    """Everything upright that the model holds: walls, their parts and openings, loose parts, doors and windows."""
    for wall in model.walls:
        yield from wall.body
        for part in wall.parts:
            yield from part.solids
        for opening in wall.openings:
            yield from opening.solids
    for loose in (*model.loose_parts, *model.loose_openings):
        yield from loose.solids


def _gaps(space: ModelSpace, room: Room, obstacles: _Obstacles, north: tuple[float, float]) -> Iterator[Gap]:
    """Gaps along the upright sides of a room: a roof that slopes down to the floor needs no wall."""
    height = room.z_max - room.z_min
    levels = [room.z_min + min(level, share * height) for level, share in _LEVELS]
    low, high = (_plan_at(space.solids, level) for level in levels)
    roof = shapely.union_all([_plan_at(obstacles.roofs, level) for level in levels])
    for polygon in polygons_of(low):
        rings = [(polygon.exterior, True), *((ring, False) for ring in polygon.interiors)]
        for ring, outer in rings:
            inside_left = ring.is_ccw is outer
            points = np.asarray(ring.coords)[:, :2]
            yield from _ring_gaps(
                points, inside_left, _Look(room, levels, obstacles, north, shapely.boundary(high), roof)
            )


def _plan_at(solids: Sequence[Mesh], level: float) -> Polygon | MultiPolygon:
    """What solids cover in plan at a height of the world, m."""
    reaching = [mesh for mesh in solids if mesh.vertices[:, 2].min() < level < mesh.vertices[:, 2].max()]
    cut = shapely.union_all([section(moved(mesh, _LYING), level) for mesh in reaching])
    return areal(shapely.transform(cut, lambda points: points * np.array([1.0, -1.0])))


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What is needed to look along the edge of one room."""

    room: Room
    levels: list[float]
    """World heights in m."""
    obstacles: _Obstacles
    north: tuple[float, float]
    upper_edge: Any
    """Edge of the room at the upper of the levels, in plan."""
    roof: Any
    """What roofs cover in plan at the levels."""


def _ring_gaps(points: NDArray[np.float64], inside_left: bool, look: _Look) -> Iterator[Gap]:
    """Gaps along one ring (n, 2) m of a room, edge by edge."""
    for start, end in pairwise(points):
        length = float(np.hypot(*(end - start)))
        if length < _STEP:
            continue
        along = (end - start) / length
        outward = np.array([along[1], -along[0]]) * (1.0 if inside_left else -1.0)
        count = max(2, round(length / _STEP))
        at = (np.arange(count) + 0.5) * length / count
        places = start + at[:, None] * along
        upright = shapely.distance(shapely.points(places), look.upper_edge) <= _UPRIGHT
        for first, last in _runs(upright & ~_closed(places, outward, look)):
            middle = start + along * 0.5 * (at[first] + at[last])
            facing = compass(azimuth(np.array([outward[0], outward[1], 0.0]), look.north))
            run = (last - first + 1) * length / count
            yield Gap(look.room, run, (float(middle[0]), float(middle[1])), facing)


def _closed(places: NDArray[np.float64], outward: NDArray[np.float64], look: _Look) -> NDArray[np.bool_]:
    """Whether a wall, or another room, is met on the way out of a room at each place (n, 2) of its edge."""
    lines = shapely.linestrings(np.stack([places - _INWARD * outward, places + _OUTWARD * outward], axis=1))
    line, shape = look.obstacles.tree.query(lines, predicate="intersects")
    own = np.array([look.obstacles.tree.geometries[n] is look.room.footprint for n in shape], dtype=bool)
    low, high = look.obstacles.heights[shape].T
    level = np.array(look.levels)[:, None]
    met = ~own & ((low <= level + 0.05) & (high >= level - 0.05)).any(axis=0)
    return np.isin(np.arange(len(places)), line[met]) | shapely.intersects(lines, look.roof)


def _runs(open_: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], open_.astype(np.int8), [0]])))
    return [(int(first), int(last) - 1) for first, last in edges.reshape(-1, 2)]


def _finding(gap: Gap) -> Finding:
    room = gap.room
    return Finding(
        "room-without-wall", Severity.WARNING,
        f"Room '{room.label}' has neither a wall nor another room along a stretch of its edge that faces {gap.facing}. "
        "If a wall is missing there, have it modelled: nothing of it is counted.",
        "", room.global_id, "IfcSpace", room.label, gap.length, None, "m",
        (*gap.middle, 0.5 * (room.z_min + room.z_max)),
    )  # fmt: skip
