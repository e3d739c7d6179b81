"""Where netting is fastened: along plates, stud lines, wall ends and openings, with the length of each.

Netting is taken to cover the whole face of a stud layer that is blown, openings cut out. How it is held, and by how
many staples, `takeoff.schedule` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.connected import groups_of
from geometry.solids import areal, depth_range, silhouette
from takeoff.model import LayerTakeoff, MemberRole

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.intp]
Polygonal = Polygon | MultiPolygon

UPRIGHT = frozenset({MemberRole.STUD, MemberRole.KING_STUD, MemberRole.JACK_STUD, MemberRole.CRIPPLE})
"""Roles whose face is a stud line."""
AT_FACE = 0.005
"""m; a member whose nearest point is deeper than this behind the fill face holds no staple."""
ON_EDGE = 0.010
"""m; a side of a member nearer than this to the edge of the netting lies along it."""
PAIRS_AT_ONCE = 200_000
"""Pairs of a line and a side that are compared at once, to bound memory (a few arrays of 2 MB)."""
LEAST_LINE = 0.05
"""m; a shorter piece of line is not counted."""


@dataclass(frozen=True, slots=True)
class NettingLines:
    """Area of the netting of one stud layer, m2, and the length of the lines that hold it, m."""

    layer_key: str
    area: float
    top_plate: float
    bottom_plate: float
    ends: float
    """Upright edges at the corners and ends of the wall."""
    openings: float
    """Around openings, where the netting ends."""
    stud_lines: float
    """Studs inside the netting; studs that touch count as one line, studs along an edge are counted with the edge."""
    n_stud_lines: int
    outline: Polygonal
    """The netting in elevation (x, z), m: the face of the layer less the openings that pass through it."""
    stud_places: tuple[float, ...]
    """x of the middle of every upright that shows at the face, m, rising; a netting's edge can be fastened there."""

    @property
    def edge(self) -> float:
        """m; all around."""
        return self.top_plate + self.bottom_plate + self.ends + self.openings

    @property
    def total(self) -> float:
        """m; every line."""
        return self.edge + self.stud_lines


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Straight sides of shapes, the shape to the left. start, end: (n, 2) float64, m; owner: (n,) number of the shape,
    rising."""

    start: FloatArray
    end: FloatArray
    owner: IndexArray


@dataclass(frozen=True, slots=True, eq=False)
class _Uprights:
    """Boxes of uprights. boxes: (n, 4) float64, m, x_min, z_min, x_max, z_max; owner: (n,) number of the stud layer,
    rising."""

    boxes: FloatArray
    owner: IndexArray


@dataclass(frozen=True, slots=True, eq=False)
class _Spans:
    """Stretches of upright lines. line: (n,) number of the line; at: (n, 2) float64, m, lower and upper end."""

    line: IndexArray
    at: FloatArray


def netting_lines(layer: LayerTakeoff) -> NettingLines:
    """The netting of one stud layer: its area and lines."""
    return netting_lines_of([layer])[0]


def netting_lines_of(layers: Sequence[LayerTakeoff]) -> list[NettingLines]:
    """The netting of each of some stud layers. All are worked out at once, which costs memory: some dozens are best."""
    cuts = np.array([_cut(layer) for layer in layers], dtype=object)
    faces = np.array([areal(silhouette(layer.frame.layer.outline)) for layer in layers], dtype=object)
    nettings, parted = faces.copy(), ~shapely.is_empty(cuts)
    nettings[parted] = [areal(shape) for shape in shapely.difference(faces[parted], cuts[parted])]
    sides, uprights = _sides(nettings), _uprights(layers)
    studs, lengths = _stud_lines(uprights, nettings, sides)
    n_lines = np.bincount(studs, minlength=len(layers)).tolist()
    total = np.bincount(studs, weights=lengths, minlength=len(layers)).tolist()
    areas, edges = shapely.area(nettings).tolist(), _edges(sides, cuts).tolist()
    found: list[NettingLines] = []
    for number, layer in enumerate(layers):
        top, bottom, ends, around = edges[number]
        places = _places(uprights.boxes[uprights.owner == number])
        found.append(
            NettingLines(
                layer.frame.layer.key, areas[number], top, bottom, ends, around,
                total[number], n_lines[number], nettings[number], places,
            )
        )  # fmt: skip
    return found


def _cut(layer: LayerTakeoff) -> Polygonal:
    """Openings that pass through the stud layer, (x, z), m."""
    holes = [areal(opening.outline) for opening in layer.frame.openings if opening.solid is None]
    return areal(shapely.union_all(holes)) if holes else Polygon()


def _uprights(layers: Sequence[LayerTakeoff]) -> _Uprights:
    """Uprights that show at the fill face."""
    faces = [
        (silhouette(member.solid), number)
        for number, layer in enumerate(layers)
        for member in layer.frame.members
        if member.role in UPRIGHT and depth_range(member.solid)[0] < AT_FACE
    ]
    boxes = shapely.bounds(np.array([face for face, _ in faces], dtype=object)).reshape(-1, 4)
    return _Uprights(boxes, np.array([number for _, number in faces], dtype=np.intp))


def _places(boxes: FloatArray) -> tuple[float, ...]:
    """Middles of boxes (n, 4), m, to the micrometre, rising, each once."""
    return tuple(sorted({round(x, 6) for x in (0.5 * (boxes[:, 0] + boxes[:, 2])).tolist()}))


def _edges(sides: _Sides, cuts: NDArray[np.object_]) -> FloatArray:
    """Lengths of each netting's edge, (n, 4) float64, m: top, bottom, ends, around its openings `cuts`. They add up to
    all of it."""
    run = sides.end - sides.start
    length = np.hypot(*run.T)
    middle = 0.5 * (sides.start + sides.end)
    at_opening = ~shapely.is_empty(cuts)[sides.owner]
    around = shapely.boundary(cuts)[sides.owner[at_opening]]
    at_opening[at_opening] = shapely.distance(shapely.points(middle[at_opening]), around) < 1e-6
    # Outer rings run anticlockwise and holes clockwise, so the netting always lies to the left of a side.
    along = run / np.maximum(length, 1e-12)[:, None]
    upright = np.abs(along[:, 1]) > np.cos(np.radians(15.0))
    top = ~upright & (along[:, 0] < 0.0)
    kinds = (top & ~at_opening, ~upright & ~top & ~at_opening, upright & ~at_opening, at_opening)
    sums = [np.bincount(sides.owner, weights=np.where(kind, length, 0.0), minlength=len(cuts)) for kind in kinds]
    return np.stack(sums, axis=1).astype(np.float64)


def _sides(shapes: NDArray[np.object_]) -> _Sides:
    parts, shape = shapely.get_parts(shapes, return_index=True)
    rings, part = shapely.get_rings(shapely.orient_polygons(parts), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    joined = ring[1:] == ring[:-1]
    return _Sides(points[:-1][joined], points[1:][joined], shape[part[ring[1:][joined]]])


def _stud_lines(
    uprights: _Uprights, nettings: NDArray[np.object_], sides: _Sides
) -> tuple[IndexArray, NDArray[np.float64]]:
    """Stud lines inside the nettings: number of the netting and length, m, of each."""
    studs = _side_by_side(uprights)
    x0, z0, x1, z1 = studs.boxes.T
    middle, ends = 0.5 * (x0 + x1), np.column_stack([z0, z1])
    edges = shapely.buffer(shapely.boundary(nettings), ON_EDGE, join_style="mitre", cap_style="flat")
    inside = _heights(middle, ends, studs.owner, sides)
    # Where a side or the middle of it lies along the edge of the netting, the edge's own line fastens it already.
    along = _heights(np.concatenate([x0, middle, x1]), np.tile(ends, (3, 1)), np.tile(studs.owner, 3), _sides(edges))
    lengths = _lengths_without(inside, _Spans(along.line % max(len(x0), 1), along.at), len(x0))
    return studs.owner[lengths > 0.0], lengths[lengths > 0.0]


def _side_by_side(uprights: _Uprights) -> _Uprights:
    """Uprights, those of a stud layer that touch as one; a crack between two boards is no bay."""
    rows, owner = uprights.boxes.tolist(), uprights.owner.tolist()
    pairs: list[tuple[int, int]] = []
    from_left = np.lexsort((uprights.boxes[:, 0], uprights.owner)).tolist()
    for place, one in enumerate(from_left):
        _, low, right, high = rows[one]
        for other in from_left[place + 1 :]:
            left, foot, _, head = rows[other]
            if owner[other] != owner[one] or left > right + ON_EDGE:
                break
            if foot <= high + ON_EDGE and low <= head + ON_EDGE:
                pairs.append((one, other))
    groups = groups_of(len(rows), pairs)
    if not groups:
        return uprights
    members = uprights.boxes[[number for group in groups for number in group]]
    first = np.cumsum([0, *(len(group) for group in groups[:-1])])
    low, high = np.minimum.reduceat(members, first, axis=0), np.maximum.reduceat(members, first, axis=0)
    boxes = np.concatenate([low[:, :2], high[:, 2:]], axis=1)
    return _Uprights(boxes, uprights.owner[[group[0] for group in groups]])


def _crossings(x: FloatArray, owner: IndexArray, sides: _Sides) -> tuple[IndexArray, IndexArray]:
    """Which upright lines at x (n,), m, and which sides of the shapes that own them (n,) cross: numbers of both, the
    lines rising."""
    first, last = np.searchsorted(sides.owner, owner), np.searchsorted(sides.owner, owner, side="right")
    tried = np.cumsum(last - first)
    blocks = np.flatnonzero(np.diff(tried // PAIRS_AT_ONCE, prepend=-1))
    lines: list[IndexArray] = [np.empty(0, dtype=np.intp)]
    crossed: list[IndexArray] = [np.empty(0, dtype=np.intp)]
    for start, stop in zip(blocks.tolist(), [*blocks[1:].tolist(), len(x)], strict=False):
        count = (last - first)[start:stop]
        line = np.repeat(np.arange(start, stop), count)
        side = np.arange(len(line)) + np.repeat(first[start:stop] - np.cumsum(count) + count, count)
        crosses = (sides.start[side, 0] <= x[line]) != (sides.end[side, 0] <= x[line])
        lines.append(line[crosses])
        crossed.append(side[crosses])
    return np.concatenate(lines), np.concatenate(crossed)


def _heights(x: FloatArray, ends: FloatArray, owner: IndexArray, sides: _Sides) -> _Spans:
    """For upright lines at x (n,), m, between their ends (n, 2), the stretches of them that lie in the shape that is
    their owner (n,), rising along each line.

    A line enters and leaves a shape at its sides in turn, so its crossings with them, sorted, come in pairs.
    """
    line, side = _crossings(x, owner, sides)
    start = sides.start[side]
    run = sides.end[side] - start
    at = start[:, 1] + (x[line] - start[:, 0]) * (run[:, 1] / run[:, 0])
    order = np.lexsort((at, line))
    line = line[order]
    at = np.clip(at[order], ends[line, 0], ends[line, 1])
    return _Spans(line[::2], at.reshape(-1, 2))


def _lengths_without(spans: _Spans, taken: _Spans, count: int) -> FloatArray:
    """Length (count,), m, of what is left of each line's spans, rising, where those taken are cut out; pieces shorter
    than `LEAST_LINE` do not count."""
    at = np.concatenate([spans.at, taken.at])
    # Going up a line, each end of a span begins or ends it; one taken weighs more than all spans together.
    weight = np.where(np.arange(len(at)) < len(spans.at), 1, -1 - len(spans.at))
    some = at[:, 1] > at[:, 0]
    line = np.repeat(np.concatenate([spans.line, taken.line])[some], 2)
    place, steps = at[some].ravel(), np.column_stack([weight[some], -weight[some]]).ravel()
    order = np.lexsort((place, line))
    line, place = line[order], place[order]
    # At the last place of a line all that began on it has ended.
    free = np.cumsum(steps[order]) > 0
    turns = np.diff(free, prepend=False)
    first, last = np.flatnonzero(turns & free), np.flatnonzero(turns & ~free)
    length = place[last] - place[first]
    kept = length >= LEAST_LINE
    return np.bincount(line[first][kept], weights=length[kept], minlength=count).astype(np.float64)
