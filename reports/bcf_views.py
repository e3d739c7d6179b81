"""Where a viewer stands to see what a finding is about: square before it on its fill side, as near as it fits the view
and no farther than the next wall."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.frames import LocalAxes
from geometry.solids import Mesh, as_mesh, bounds, moved_to_world
from takeoff.building import Model, ModelWall
from takeoff.finding import Finding
from takeoff.model import LayerTakeoff
from takeoff.result import Takeoff

FIELD_OF_VIEW = 60.0
"""Degrees, upright; BCF 2.1 allows 45 to 60."""
_SIDEWAYS = 4.0 / 3.0
"""Width over height of a view that shows all; most windows are wider."""
_MARGIN = 1.35
"""So much farther off than what just fits, so that one sees what stands around."""
_NEAREST = 0.8
"""m; nearer than this nobody stands to look at a wall."""
_CLEAR = 0.15
"""m kept to what stands before the wall."""
_NEAR_BY = 0.5
"""m; an element of a wall is looked at as far as it lies this near to its studs."""
_AROUND_PLACE = 2.0
"""m; what is looked at round a place that is no element."""
_SAMPLES = 9
"""Points along an element, so that one that bends is seen whole."""
_UP = np.array([0.0, 0.0, 1.0])
_GLOBAL_ID = re.compile("[0-3][0-9A-Za-z_$]{21}")

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A perspective camera: (3,) float64 each, m and unit vectors, world."""

    position: Points
    direction: Points
    up: Points


@dataclass(frozen=True, slots=True, eq=False)
class Viewpoint:
    """What is selected, where one stands, and which walls are hidden because they stand between.

    selected, hidden: GlobalIds. view: None where nothing is known of the place.
    """

    selected: tuple[str, ...]
    view: View | None
    hidden: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """What is looked at. centre: (3,), m, on the near face. away: (3,) unit, to the viewer. points: (n, 3), m."""

    centre: Points
    away: Points
    points: Points
    own_depth: float
    """m; how far the wall itself reaches towards the viewer from the centre."""


class Scene:
    """The walls of a takeoff as bodies that hide each other, and what can be looked at by its id."""

    def __init__(self, takeoff: Takeoff, model: Model | None) -> None:
        """model: as read; without it only walls that were taken off are known, by their stud layers."""
        self._layers: dict[str, tuple[LayerTakeoff, ...]] = {row.wall.wall_id: row.layers for row in takeoff.results}
        self._walls: dict[str, ModelWall] = {} if model is None else {wall.global_id: wall for wall in model.walls}
        self._loose = _loose_solids(model)
        self._fillings = _fillings(model)
        self._rooms = [] if model is None else [_box(space.solids) for space in model.spaces if space.solids]
        self._owners, self._corners = _bodies(self._walls, self._layers)

    def viewpoint(self, finding: Finding) -> Viewpoint:
        """Where to look at what a finding is about."""
        selected = self._selected(finding)
        target = self._target(finding)
        if target is None:
            return Viewpoint(selected, None)
        distance = _fitting_distance(target)
        faces = self._faces_before(target, finding.wall_id)
        # What an odd number of faces follows lies inside that wall: one that abuts just where one has to look.
        counts = Counter(owner for _, owner in faces)
        around = [owner for owner, count in counts.items() if count % 2 and owner != finding.wall_id]
        before = [(reach, owner) for reach, owner in faces if owner not in around and reach <= distance + _CLEAR]
        room = min((reach for reach, _ in before), default=np.inf) - _CLEAR
        between: list[str] = []
        if room < min(distance, max(_NEAREST, target.own_depth)):
            between = [owner for _, owner in before if owner != finding.wall_id]
        else:
            distance = min(distance, room)
        hidden = tuple(guid for owner in dict.fromkeys([*around, *between]) if (guid := global_id(owner)))
        return Viewpoint(selected, View(target.centre + distance * target.away, -target.away, _up(target.away)), hidden)

    def _selected(self, finding: Finding) -> tuple[str, ...]:
        ids = (finding.wall_id, finding.element_id, self._fillings.get(finding.element_id, ""))
        return tuple(dict.fromkeys(guid for each in ids if (guid := global_id(each))))

    # ------------------------------------------------------------ what is looked at

    def _target(self, finding: Finding) -> _Target | None:
        layers = self._layers.get(finding.wall_id, ())
        for layer in layers:
            box = _box_in_layer(layer, finding.element_id)
            if box is not None:
                return self._in_layer(layer, box)
        if finding.place is not None:
            return self._at_place(np.asarray(finding.place), layers, self._loose.get(finding.element_id))
        if layers and (not finding.element_id or finding.element_id == finding.wall_id):
            return self._in_layer(layers[0], bounds(layers[0].frame.layer.outline))
        loose = self._loose.get(finding.element_id)
        if layers:
            return self._in_layer(layers[0], self._of_part(layers[0], loose))
        wall = self._walls.get(finding.wall_id)
        if loose is not None:
            return self._square_to(loose, None if wall is None else wall.placement[:3, 1])
        if wall is not None and wall.body:
            return self._square_to(wall.body, wall.placement[:3, 1])
        return None

    def _at_place(self, place: Points, layers: tuple[LayerTakeoff, ...], solids: tuple[Mesh, ...] | None) -> _Target:
        """A place in a wall, seen from its fill side; else one at the edge of a room, seen from the room's middle."""
        if layers:
            x, y, z = layers[0].frame.layer.axes.to_local(place.reshape(1, 3))[0].tolist()
            half = _AROUND_PLACE / 2.0
            return self._in_layer(
                layers[0], np.array([[x - half, min(y, 0.0), z - half], [x + half, max(y, 0.0), z + half]])
            )
        points = place.reshape(1, 3) if not solids else np.concatenate([mesh.vertices for mesh in solids])
        away = (points.min(axis=0) / 2.0 + points.max(axis=0) / 2.0 - place) * np.array([1.0, 1.0, 0.0])
        length = float(np.linalg.norm(away))
        away = away / length if length > 1e-6 else np.array([1.0, 0.0, 0.0])
        aside = np.cross(away, _UP)
        corners = [(a, b) for a in (-0.5, 0.5) for b in (-0.5, 0.5)]
        around = np.array([place + _AROUND_PLACE * (a * aside + b * _UP) for a, b in corners])
        return _Target(place, away, around, 0.02)

    def _of_part(self, layer: LayerTakeoff, solids: tuple[Mesh, ...] | None) -> Points:
        """Box of other solids of the wall in its axes, as far as they lie near it; else that of the stud layer."""
        own = bounds(layer.frame.layer.outline)
        if not solids:
            return own
        local = layer.frame.layer.axes.to_local(np.concatenate([mesh.vertices for mesh in solids]))
        # A groove that runs on round a corner is looked at where it is this wall's.
        low = np.maximum(local.min(axis=0), own[0] - _NEAR_BY)
        high = np.minimum(local.max(axis=0), own[1] + _NEAR_BY)
        return np.stack([low, high]) if (low < high).all() else np.stack([local.min(axis=0), local.max(axis=0)])

    def _in_layer(self, layer: LayerTakeoff, box: Points) -> _Target:
        stud = layer.frame.layer
        front = min((row.y_min for row in stud.layers), default=0.0)
        near = min(float(box[0, 1]), 0.0)
        middle = box.mean(axis=0)
        centre, before = stud.axes.to_world([[middle[0], near, middle[2]], [middle[0], near - 0.01, middle[2]]])
        away = before - centre
        return _Target(centre, away / np.linalg.norm(away), _grid(box, stud.axes), max(near - front, 0.0) + 0.02)

    def _square_to(self, solids: Sequence[Mesh], across: Points | None) -> _Target:
        """Looking at bodies outside any stud layer: level, square to the wall, from the room where there is one."""
        points = np.concatenate([mesh.vertices for mesh in solids])
        middle = points.min(axis=0) / 2.0 + points.max(axis=0) / 2.0
        if across is None or abs(float(across[2])) > 0.9:
            spans = np.ptp(points[:, :2], axis=0)
            across = np.array([1.0, 0.0, 0.0]) if spans[0] < spans[1] else np.array([0.0, 1.0, 0.0])
        across = across * np.array([1.0, 1.0, 0.0])
        across = across / np.linalg.norm(across)
        half = float(np.abs((points - middle) @ across).max())
        if not self._in_room(middle - (half + 0.5) * across) or self._in_room(middle + (half + 0.5) * across):
            away = across
        else:
            away = -across
        return _Target(middle + half * away, away, points, 0.02)

    def _in_room(self, point: Points) -> bool:
        return any(bool(((low <= point) & (point <= high)).all()) for low, high in self._rooms)

    # ------------------------------------------------------------ what stands between

    def _faces_before(self, target: _Target, wall_id: str) -> list[tuple[float, str]]:
        """Faces of walls before the target, (distance, wall); the near side of its own wall does not count."""
        reaches, rows = _crossings(target.centre, target.away, self._corners)
        # A face is two triangles or more: a ray through the edge between them meets it once.
        found = {(round(reach, 6), self._owners[row]) for reach, row in zip(reaches.tolist(), rows, strict=True)}
        return sorted((reach, owner) for reach, owner in found if owner != wall_id or reach > target.own_depth)


def global_id(text: str) -> str:
    """The GlobalId in an id of ours (which may add the step number of an element that repeats one), else empty."""
    return text[:22] if _GLOBAL_ID.match(text) and (len(text) == 22 or text[22] in "#/") else ""


def _loose_solids(model: Model | None) -> dict[str, tuple[Mesh, ...]]:
    if model is None:
        return {}
    found: dict[str, tuple[Mesh, ...]] = {}
    for element in (*model.loose_parts, *model.loose_openings, *model.spaces):
        found.setdefault(element.global_id, element.solids)
    for wall in model.walls:
        for element in (*wall.parts, *wall.openings):
            found.setdefault(element.global_id, element.solids)
    return {key: solids for key, solids in found.items() if solids}


def _fillings(model: Model | None) -> dict[str, str]:
    """The door or window of each opening element, which a viewer shows where it hides the opening itself."""
    if model is None:
        return {}
    return {opening.global_id: opening.filling_id for wall in model.walls for opening in wall.openings}


def _bodies(walls: Mapping[str, ModelWall], layers: Mapping[str, tuple[LayerTakeoff, ...]]) -> tuple[list[str], Points]:
    """Triangles (n, 3, 3), m, world, of all walls and the wall of each; stud layers where no body is known."""
    owners: list[str] = []
    corners: list[Points] = []
    for wall_id, taken in layers.items():
        wall = walls.get(wall_id)
        meshes = [] if wall is None else [*wall.body]
        if not meshes:
            meshes = [moved_to_world(as_mesh(row.frame.layer.outline), row.frame.layer.axes) for row in taken]
        for mesh in meshes:
            owners += [wall_id] * len(mesh.faces)
            corners.append(mesh.vertices[mesh.faces])
    return owners, np.concatenate(corners) if corners else np.empty((0, 3, 3))


def _box(solids: Sequence[Mesh]) -> Points:
    points = np.concatenate([mesh.vertices for mesh in solids])
    return np.stack([points.min(axis=0), points.max(axis=0)])


def _box_in_layer(layer: LayerTakeoff, element_id: str) -> Points | None:
    """Box in wall axes of a cavity, member or opening of a stud layer, None where it is none of them."""
    depth = layer.frame.layer.depth
    for cavity in layer.cavities:
        if cavity.cavity_id == element_id:
            x_min, z_min, x_max, z_max = cavity.outline.bounds
            return np.array([[x_min, cavity.y_min, z_min], [x_max, cavity.y_max, z_max]])
    for opening in layer.frame.openings:
        if opening.opening_id == element_id and not opening.outline.is_empty:
            x_min, z_min, x_max, z_max = opening.outline.bounds
            return np.array([[x_min, 0.0, z_min], [x_max, depth, z_max]])
    boxes = [
        bounds(member.solid)
        for member in layer.frame.members
        if element_id and element_id in (member.element_id, member.member_id)
    ]
    if not boxes:
        return None
    return np.stack([np.min([box[0] for box in boxes], axis=0), np.max([box[1] for box in boxes], axis=0)])


def _grid(box: Points, axes: LocalAxes) -> Points:
    """Points of a box in wall axes, in the world: (n, 3)."""
    along = np.linspace(box[0, 0], box[1, 0], _SAMPLES)
    x, y, z = np.meshgrid(along, box[:, 1], box[:, 2], indexing="ij")
    return axes.to_world(np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1))


def _up(away: Points) -> Points:
    """World's up, square to the line of sight."""
    up = _UP - float(_UP @ away) * away
    length = float(np.linalg.norm(up))
    return up / length if length > 1e-6 else np.array([0.0, 1.0, 0.0])


def _fitting_distance(target: _Target) -> float:
    """m from the centre, at which all points of the target lie in the field of view."""
    up = _up(target.away)
    offsets = target.points - target.centre
    high, wide = np.abs(offsets @ up), np.abs(offsets @ np.cross(target.away, up))
    half = np.tan(np.radians(FIELD_OF_VIEW / 2.0))
    needed = np.maximum(high / half, wide / (half * _SIDEWAYS)) + offsets @ target.away
    return max(_MARGIN * float(needed.max()), _NEAREST)


def _crossings(start: Points, direction: Points, corners: Points) -> tuple[Points, NDArray[np.int64]]:
    """Distances, m, at which a ray meets triangles (n, 3, 3) and the numbers of these (the usual solution of
    start + t d = a + u (b - a) + v (c - a) by determinants)."""
    if len(corners) == 0:
        return np.empty(0), np.empty(0, dtype=np.int64)
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    normal = np.cross(direction, second)
    scale = np.einsum("ij,ij->i", first, normal)
    scale[np.abs(scale) < 1e-12] = np.nan
    offset = start - corners[:, 0]
    u = np.einsum("ij,ij->i", offset, normal) / scale
    turned = np.cross(offset, first)
    v = (turned @ direction) / scale
    reach = np.einsum("ij,ij->i", second, turned) / scale
    met = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (reach > 1e-6)
    return reach[met], np.flatnonzero(met)
