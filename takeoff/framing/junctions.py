"""Where walls meet: corners, partitions and crossings, from the model's connections or from the walls' places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.cylinders import Developed
from geometry.solids import bounds
from takeoff.building import ModelConnection
from takeoff.model import LayerRole, StudLayer, Wall


@dataclass(frozen=True, slots=True)
class Junction:
    """A place where another stud layer meets this one, in the wall axes of this one, m.

    kind: 'corner' (ends meet), 'tee' (an end meets the other's middle), 'cross' (both run on).
    at: 'start', 'end' or 'path': where along this layer.
    x_min, x_max: what the other stud layer's depth takes along this one. It may lie beyond this layer's own end.
    z_min, z_max: heights over which both stand. face: 'fill', 'far' or 'both': from which side the other comes.
    through: True where this layer runs past the other one and so carries the corner's third stud.
    evidence: 'connection' where the model joins the walls, 'geometry' where only their places say so.
    """

    kind: str
    at: str
    x_min: float
    x_max: float
    z_min: float
    z_max: float
    face: str
    through: bool
    other_key: str
    evidence: str


_REACH = 0.03
"""m; a wall that stops this short of another's layers still meets it (our rule: finish and tolerance)."""
_CONNECTED_REACH = 0.5
"""m; the same where the model itself joins the two walls."""
_LEAST_ANGLE = np.sin(np.radians(15.0))
"""Walls nearer to one line than 15 degrees run on into each other and need no corner (our rule)."""
_LEAST_SHARED_HEIGHT = 0.5
"""Share of the lower layer's height over which both must stand: a slab's thickness of overlap is no meeting."""
_ARC_STEP = 0.1
"""m; steps in which a curved wall's plan is taken as straight."""
_STUB = 0.5
"""m; where one of two walls is curved, so much of each to both sides of their meeting is taken as straight."""
_BEYOND = 0.1
"""m; how far a wall must run on past another's far face to be called crossing (our rule)."""


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """A stud layer in plan and height.

    start, stop: extent along x, m. front, back: y of the nearest faces of the wall around it (linings included), m.
    low, high: world z, m. up: world z of the layer's own z = 0. foot: its own z at which its plan is taken (a leaning
    wall's foot). flat: False for a curved wall, whose x runs along its arc.
    """

    layer: StudLayer
    start: float
    stop: float
    front: float
    back: float
    low: float
    high: float
    up: float
    foot: float
    flat: bool

    def plan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """World plan points (n, 2) as (x, y) of this layer, m."""
        return self.layer.axes.to_local(_at_height(points, self.low))[:, :2]

    def world(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(x, y) of this layer (n, 2) as world plan points, m."""
        return self.layer.axes.to_world(_at_height(points, self.foot))[:, :2]

    def outline(self) -> NDArray[np.float64]:
        """Ring (n, 2) of the whole wall around the layer in the world plan, m."""
        count = 2 if self.flat else max(2, int((self.stop - self.start) / _ARC_STEP) + 2)
        x = np.linspace(self.start, self.stop, count)
        front, back = np.column_stack([x, np.full(count, self.front)]), np.column_stack([x, np.full(count, self.back)])
        return self.world(np.concatenate([front, back[::-1]]))

    def ring_near(self, other: _Placed) -> NDArray[np.float64]:
        """World plan corners (4, 2), m, of this layer's studs where it meets another, taken as straight.

        Two flat layers count whole; where one is curved it is the stretch where they are nearest, along its tangent.
        """
        depth, axes = self.layer.depth, self.layer.axes
        if self.flat and other.flat:
            return self.world(_rectangle(self.start, 0.0, self.stop, depth))
        middle = 0.5 * other.layer.depth
        points = other.world(np.array([[x, middle] for x in np.linspace(other.start, other.stop, 33)]))
        near = self.plan(points)
        beside = np.maximum(np.maximum(-near[:, 1], near[:, 1] - depth), 0.0)
        beyond = np.maximum(np.maximum(self.start - near[:, 0], near[:, 0] - self.stop), 0.0)
        at = float(np.clip(near[np.argmin(np.hypot(beside, beyond)), 0], self.start, self.stop))
        before, after = min(_STUB, at - self.start), min(_STUB, self.stop - at)
        if not isinstance(axes, Developed):
            return self.world(_rectangle(at - before, 0.0, at + after, depth))
        along, into, _ = axes.directions_at(at)
        stretch = _rectangle(-before, 0.0, after, depth)
        return self.world(np.array([[at, 0.0]])) + stretch[:, :1] * along[:2] + stretch[:, 1:] * into[:2]


def _at_height(points: NDArray[np.float64], z: float) -> NDArray[np.float64]:
    """Points (n, 2) as points (n, 3) at one height; many times quicker than the library's insertion."""
    found = np.empty((len(points), 3))
    found[:, :2] = points
    found[:, 2] = z
    return found


def find_junctions(
    walls: Sequence[Wall], connections: Sequence[ModelConnection] = ()
) -> Mapping[str, tuple[Junction, ...]]:
    """Junctions of every stud layer, keyed by the layer's key, from its start to its end.

    Walls meet where their bodies touch in plan and stand side by side in height; a connection of the model bridges a
    gap in plan, but never a storey. Walls that run on in one line, and rows of studs side by side, do not meet; the
    lengths of a wall that bends do.
    """
    placed = [found for wall in walls for layer in wall.stud_layers if (found := _placed(layer)) is not None]
    joined = {frozenset((c.wall_id, c.other_id)) for c in connections}
    junctions: dict[str, list[Junction]] = {layer.key: [] for wall in walls for layer in wall.stud_layers}
    for first, second in _near_pairs(placed, joined):
        a, b = placed[first], placed[second]
        connected = frozenset((a.layer.wall_id, b.layer.wall_id)) in joined
        for mine, other in _meeting(a, b, connected=connected):
            junctions[mine.layer.key].append(other)
    return {
        key: tuple(sorted(found, key=lambda j: (j.x_min, j.z_min, j.other_key))) for key, found in junctions.items()
    }


def _placed(layer: StudLayer) -> _Placed | None:
    """The layer in plan; None where it is empty or lies flat."""
    box = np.asarray(bounds(layer.outline), dtype=np.float64).reshape(2, 3)
    directions = layer.axes.directions
    level = np.linalg.norm(directions[:2, :2], axis=1)
    if not np.isfinite(box).all() or level.min() < 0.5:
        return None
    front, back = _faces(layer)
    start, stop, foot = box[0, 0], box[1, 0], box[0, 2]
    # The plan of a leaning wall is taken at its foot.
    low = float(layer.axes.to_world(np.array([[start, 0.0, foot]]))[0, 2])
    high = low + float((box[1, 2] - foot) * directions[2, 2])
    flat = not isinstance(layer.axes, Developed)
    return _Placed(layer, start, stop, front, back, low, high, float(layer.axes.origin[2]), foot, flat)


def _faces(layer: StudLayer) -> tuple[float, float]:
    """y of the nearest and farthest face that linings and claddings beside the stud layer reach, m.

    A second stud layer of the same wall ends the count: who meets that layer does not meet this one.
    """
    front, back = 0.0, layer.depth
    others = [part for part in layer.layers if part.role is LayerRole.STUD and _apart(part.y_min, part.y_max, layer)]
    limit_front = max((part.y_max for part in others if part.y_max <= 1e-6), default=-np.inf)
    limit_back = min((part.y_min for part in others if part.y_min >= layer.depth - 1e-6), default=np.inf)
    for part in layer.layers:
        if part.role is LayerRole.STUD:
            continue
        if limit_front - 1e-6 <= part.y_min < front:
            front = part.y_min
        if back < part.y_max <= limit_back + 1e-6:
            back = part.y_max
    return front, back


def _apart(y_min: float, y_max: float, layer: StudLayer) -> bool:
    return y_max <= 1e-6 or y_min >= layer.depth - 1e-6


def _near_pairs(placed: Sequence[_Placed], joined: set[frozenset[str]]) -> list[tuple[int, int]]:
    """Pairs of layers whose plans lie within reach, each pair once."""
    if len(placed) < 2:
        return []
    rings = [p.outline() for p in placed]
    numbers = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    plans = np.asarray(shapely.polygons(shapely.linearrings(np.concatenate(rings), indices=numbers)), dtype=object)
    tree = shapely.STRtree(plans)
    near = tree.query(plans, predicate="dwithin", distance=_REACH)
    pairs = set(map(tuple, near.T.tolist()))
    if joined:
        far = tree.query(plans, predicate="dwithin", distance=_CONNECTED_REACH)
        ids = [p.layer.wall_id for p in placed]
        pairs |= {(i, j) for i, j in far.T.tolist() if frozenset((ids[i], ids[j])) in joined}
    return sorted((i, j) for i, j in pairs if i < j)


def _rectangle(x_min: float, y_min: float, x_max: float, y_max: float) -> NDArray[np.float64]:
    return np.array([[x_min, y_min], [x_max, y_min], [x_max, y_max], [x_min, y_max]])


def _meeting(a: _Placed, b: _Placed, *, connected: bool) -> list[tuple[_Placed, Junction]]:
    """The junction as each of two layers sees it; empty where they do not meet."""
    low, high = max(a.low, b.low), min(a.high, b.high)
    if high - low < _LEAST_SHARED_HEIGHT * min(a.high - a.low, b.high - b.low):
        return []
    reach = _CONNECTED_REACH if connected else _REACH
    seen_a = _seen(a, b, reach)
    seen_b = None if seen_a is None else _seen(b, a, reach)
    if seen_a is None or seen_b is None:
        return []
    kind = _kind(seen_a, seen_b)
    through = _through(seen_a, seen_b, a.layer.key < b.layer.key)
    evidence = "connection" if connected else "geometry"
    return [
        (
            mine,
            Junction(
                kind,
                seen.at,
                seen.x_min,
                seen.x_max,
                low - mine.up,
                high - mine.up,
                seen.face,
                runs,
                other.layer.key,
                evidence,
            ),
        )
        for mine, other, seen, runs in ((a, b, seen_a, through), (b, a, seen_b, not through and seen_b.covers > 0.5))
    ]


@dataclass(frozen=True, slots=True)
class _Seen:
    """Another layer as it lies along this one: its x range, where that is, from which side, and how much of it this
    layer's length covers (0 to 1)."""

    x_min: float
    x_max: float
    at: str
    face: str
    covers: float


def _seen(mine: _Placed, other: _Placed, reach: float) -> _Seen | None:
    """How the other stud layer meets this one, or None where it passes it by."""
    ring = mine.plan(other.ring_near(mine))
    along = ring[1] - ring[0]
    run = along / np.linalg.norm(along)
    if abs(run[1]) < _LEAST_ANGLE:
        return None
    y_low, y_high = ring[:, 1].min(), ring[:, 1].max()
    if y_high < mine.front - reach or y_low > mine.back + reach:
        return None
    slope = run[0] / run[1]
    # Where the other's two faces, carried on, cross the middle of this layer.
    middle = 0.5 * mine.layer.depth
    faces = ring[[0, 3]]
    crossing = faces[:, 0] + slope * (middle - faces[:, 1])
    x_min, x_max = float(crossing.min()), float(crossing.max())
    # Beyond the end lie at most this wall's reach and the other wall's own linings.
    slack = reach + max(-other.front, other.back - other.layer.depth)
    if x_max < mine.start - slack or x_min > mine.stop + slack:
        return None
    covered = min(x_max, mine.stop) - max(x_min, mine.start)
    covers = float(min(max(covered / max(x_max - x_min, 1e-9), 0.0), 1.0))
    return _Seen(x_min, x_max, _where(x_min, x_max, mine), _side(y_low, y_high, mine), covers)


def _where(x_min: float, x_max: float, mine: _Placed) -> str:
    """Start or end where the other lies within its own depth of that end, else the path."""
    centre, width = 0.5 * (x_min + x_max), x_max - x_min
    if min(centre - mine.start, mine.stop - centre) > width:
        return "path"
    return "start" if centre - mine.start <= mine.stop - centre else "end"


def _side(y_low: float, y_high: float, mine: _Placed) -> str:
    before, behind = -y_low, y_high - mine.layer.depth
    if before > _BEYOND - mine.front and behind > _BEYOND + mine.back - mine.layer.depth:
        return "both"
    return "fill" if before >= behind else "far"


def _kind(a: _Seen, b: _Seen) -> str:
    paths = (a.at == "path") + (b.at == "path")
    return ("corner", "tee", "cross")[paths]


def _through(a: _Seen, b: _Seen, a_is_first: bool) -> bool:
    """Whether the first of two layers runs past the other: it covers more of it; mitred ends go by their keys."""
    if a.at == "path" or b.at == "path":
        return a.at == "path"
    if abs(a.covers - b.covers) > 0.25:
        return a.covers > b.covers and a.covers > 0.5
    return a_is_first and a.covers > 0.5
