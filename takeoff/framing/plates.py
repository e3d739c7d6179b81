"""Plates along the outline of a wall: level, stepped, raked or faceted, mitred where they meet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from takeoff.framing.pieces import DECIMALS, LEAST_AREA, Outline, outlines_of, rectangle
from takeoff.framing.room import PlainRoom, Room, ShapedRoom, room_of, without
from takeoff.framing.rules import FramingRules

SIDE, TOP, BOTTOM = 0, 1, 2

_PLUMB = 0.2
"""An edge within 11.5 degrees of plumb is the wall's side and gets a stud, not a plate (our rule)."""
_SHORT = 0.15
"""m; a steep edge shorter than this is a facet of a round top or a small step: too short for a stud of its own."""
_SHORT_PLUMB = 0.02
_FACET = 0.3
"""m; edges shorter than this that turn little are facets of one bent plate."""
_FACET_TURN = np.cos(np.radians(10.0))


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """The edges of an outline, anticlockwise.

    points: (n, 2) float64, m: where each edge starts. inward: (n, 2) float64 unit normals into the wall.
    lengths: (n,) float64, m. kinds: (n,) int64, SIDE, TOP or BOTTOM.
    """

    points: NDArray[np.float64]
    inward: NDArray[np.float64]
    lengths: NDArray[np.float64]
    kinds: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Plates:
    """Bands of plate and what they leave.

    top, bottom: one tuple per plate, outermost first, of the bands along the edges. core: the wall between plates.
    complete: False where the wall is too low for all of its plates.
    """

    top: tuple[tuple[Outline, ...], ...]
    bottom: tuple[tuple[Outline, ...], ...]
    core: Room
    complete: bool


def following(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """For each row of a ring (n, ...) the next one, around its end."""
    return np.concatenate([ring[1:], ring[:1]])


def _preceding(ring: NDArray[Any]) -> NDArray[Any]:
    return np.concatenate([ring[-1:], ring[:-1]])


def edges_of(part: Polygon) -> Edges:
    """Edges of the outer ring of a polygon, told apart into top, bottom and side; starting at the lower left side."""
    points = np.asarray(shapely.get_coordinates(shapely.orient_polygons(part).exterior), dtype=np.float64)[:-1]
    along = following(points) - points
    lengths = np.hypot(along[:, 0], along[:, 1])
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1) / lengths[:, None]
    limit = np.where(lengths < _SHORT - 1e-6, _SHORT_PLUMB, _PLUMB)
    kinds = np.where(inward[:, 1] < -limit, TOP, np.where(inward[:, 1] > limit, BOTTOM, SIDE))
    first = _first_of_a_run(kinds)
    order = np.concatenate([np.arange(first, len(kinds)), np.arange(first)])
    return Edges(points[order], inward[order], lengths[order], kinds[order])


def _first_of_a_run(kinds: NDArray[np.int64]) -> int:
    """Index of an edge whose predecessor is of another kind, so that no run of plates is cut by the ring's start."""
    changes = np.flatnonzero(kinds != _preceding(kinds))
    return int(changes[0]) if len(changes) else 0


def offset_points(edges: Edges, widths: NDArray[np.float64]) -> NDArray[np.float64]:
    """The ring moved inward by a width of its own for each edge (n,), m, mitred at the corners. (n, 2) float64, m."""
    before, after = _preceding(edges.inward), edges.inward
    width_before, width_after = _preceding(widths), widths
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    straight = np.abs(turn) < 1e-6
    safe = np.where(straight, 1.0, turn)
    x = (width_before * after[:, 1] - width_after * before[:, 1]) / safe
    z = (width_after * before[:, 0] - width_before * after[:, 0]) / safe
    middle = 0.5 * (width_before[:, None] * before + width_after[:, None] * after)
    return np.round(edges.points + np.where(straight[:, None], middle, np.stack([x, z], axis=1)), DECIMALS)


def plates_along(part: Polygon, edges: Edges, rules: FramingRules) -> Plates:
    """The plates of one wall outline by rule, bands of plate thickness measured square to each edge."""
    return _level(part, rules) or _mitred(part, edges, rules) or _butted(part, edges, rules)


def _level(part: Polygon, rules: FramingRules) -> Plates | None:
    """Plates of a plain upright rectangle, as most walls are: the same as by mitring, but at a tenth of the cost."""
    x_min, z_min, x_max, z_max = part.bounds
    foot = z_min + rules.bottom_plates * rules.plate_thickness
    head = z_max - rules.top_plates * rules.plate_thickness
    box = rectangle(x_min, z_min, x_max, z_max)
    if head - foot <= LEAST_AREA or shapely.get_num_coordinates(part) != 5 or not shapely.equals(part, box.polygon):
        return None
    thick = rules.plate_thickness
    tops = [z_max - number * thick for number in range(rules.top_plates)]
    feet = [z_min + number * thick for number in range(rules.bottom_plates)]
    return Plates(
        tuple((rectangle(x_min, top - thick, x_max, top),) for top in tops),
        tuple((rectangle(x_min, low, x_max, low + thick),) for low in feet),
        PlainRoom(rectangle(x_min, foot, x_max, head)),
        complete=True,
    )


def _widths(edges: Edges, rules: FramingRules, number: int) -> NDArray[np.float64]:
    """Depth (n,), m, of the first `number` plates of each edge, as far as the rules have that many."""
    top = min(number, rules.top_plates) * rules.plate_thickness
    bottom = min(number, rules.bottom_plates) * rules.plate_thickness
    return np.where(edges.kinds == TOP, top, np.where(edges.kinds == BOTTOM, bottom, 0.0))


def _mitred(part: Polygon, edges: Edges, rules: FramingRules) -> Plates | None:
    """Plates with mitred joints; None where the outline is too low or too ragged for all of them."""
    count = max(rules.top_plates, rules.bottom_plates)
    rings = [offset_points(edges, _widths(edges, rules, number)) for number in range(count + 1)]
    core = Polygon(rings[-1]) if count else part
    if not core.is_valid or not core.exterior.is_ccw:
        return None
    total = core.area
    found: dict[int, list[tuple[Outline, ...]]] = {TOP: [], BOTTOM: []}
    for number in range(count):
        outer, inner = rings[number], rings[number + 1]
        quads = np.stack([outer, following(outer), following(inner), inner], axis=1)
        for kind, plates in ((TOP, rules.top_plates), (BOTTOM, rules.bottom_plates)):
            chosen = np.flatnonzero(edges.kinds == kind)
            if number >= plates:
                continue
            bands = np.asarray(shapely.polygons(quads[chosen]), dtype=object)
            if not bool(np.all(shapely.is_valid(bands) & shapely.is_ccw(shapely.get_exterior_ring(bands)))):
                return None
            total += float(shapely.area(bands).sum())
            found[kind].append(tuple(outlines_of(_joined_facets(bands, chosen, edges))))
    # Bands that cross each other or leave the wall do not add up to it with the core.
    if abs(total - part.area) > LEAST_AREA:
        return None
    return Plates(tuple(found[TOP]), tuple(found[BOTTOM]), ShapedRoom(core, room_of(part).grid), complete=True)


def _joined_facets(bands: NDArray[np.object_], chosen: NDArray[np.int64], edges: Edges) -> tuple[Polygon, ...]:
    """Bands of neighbouring facets as one bent plate."""
    follows = np.diff(chosen) == 1
    cosine = np.einsum("ij,ij->i", edges.inward[chosen[:-1]], edges.inward[chosen[1:]])
    short = np.minimum(edges.lengths[chosen[:-1]], edges.lengths[chosen[1:]]) < _FACET
    joined = follows & short & (cosine > _FACET_TURN)
    if not joined.any():
        return tuple(bands)
    groups = np.split(bands, np.flatnonzero(~joined) + 1)
    plates: list[Polygon] = []
    for group in groups:
        merged = shapely.union_all(group, grid_size=1e-9) if len(group) > 1 else group[0]
        plates.extend([merged] if isinstance(merged, Polygon) else list(group))
    return tuple(plates)


def _butted(part: Polygon, edges: Edges, rules: FramingRules) -> Plates:
    """Plates edge by edge, each ending where an earlier one lies: for outlines that mitring cannot follow."""
    found: dict[int, list[tuple[Outline, ...]]] = {BOTTOM: [], TOP: []}
    whole = room_of(part)
    taken: list[Outline] = []
    wanted = 0.0
    ends = following(edges.points)
    for kind, plates in ((BOTTOM, rules.bottom_plates), (TOP, rules.top_plates)):
        for number in range(plates):
            row: list[Outline] = []
            for index in np.flatnonzero(edges.kinds == kind):
                near = edges.inward[index] * rules.plate_thickness * number
                far = edges.inward[index] * rules.plate_thickness * (number + 1)
                start, stop = edges.points[index], ends[index]
                (band,) = outlines_of([Polygon([start + near, stop + near, stop + far, start + far])])
                wanted += band.area
                row.extend(piece for shared in whole.common(band) for piece in without(shared, taken + row, whole.grid))
            found[kind].append(tuple(row))
            taken.extend(row)
    core = whole.less_outlines(taken)
    placed = sum(piece.area for piece in taken)
    complete = core.bounds is not None and placed > 0.8 * wanted
    return Plates(tuple(found[TOP]), tuple(found[BOTTOM]), core, complete)
