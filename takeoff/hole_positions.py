"""Where the holes of each cavity go: columns of holes in closed form where the shape allows, a search where not."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.affinity import translate

from geometry.boxes import are_boxes
from geometry.reach import Reach, candidate_points, fewest_points, only_polygons, reached, union_of
from takeoff.hole_rows import Columns, RowWish, row_heights, slots_of

FloatArray = NDArray[np.float64]
Shapes = NDArray[np.object_]
Polygonal = Polygon | MultiPolygon

SHAPE_TOLERANCE = 1e-6
"""Relative area by which a shape may differ from its bounding box (or convex hull) and still be taken for it: a
thousandth of what a share of 99.9 % leaves open."""


GRID_PLACES, PLACES_PER_REACH, PLACES_PER_PART, PARTS_AT_ONCE, REFINEMENTS = 120, 8, 24, 12, 4
"""Sizes of the search: places on the grid of a cavity, the same for each area that one hole reaches in a large one,
places added for each unreached part, such parts taken at once, and how often. More makes the search slower, not wrong.
"""


@dataclass(frozen=True, slots=True)
class HoleRule:
    """What holds for every hole of a wall, m.

    clearance: radius of the hole plus its margin. share: part of a cavity's area that must be reached.
    """

    reach: Reach
    clearance: float
    share: float
    wish: RowWish


@dataclass(frozen=True, slots=True, eq=False)
class Placement:
    """The holes of one cavity.

    points: (n, 2) float64, m, (x, z) in wall axes, bottom to top, then left to right. reaches: what each reaches.
    share: reached part of the area. lower_bound: fewer holes than this cannot do it (after a search: no fewer of the
    places tried). bays: number of the bay of the cavity's front in which each hole stands; empty where the front is
    one.
    """

    points: FloatArray
    reaches: tuple[Polygonal, ...]
    share: float
    lower_bound: int
    bays: tuple[int, ...] = ()


NOWHERE = Placement(np.empty((0, 2)), (), 0.0, 0)
"""No hole fits."""
NOTHING = Polygon()


def hole_zones(fronts: Shapes, clearance: float) -> Shapes:
    """Where the centre of a hole may stand: fronts (n,) drawn in by the clearance, m."""
    bounds, plain = _plain(fronts)
    zones = np.empty(len(fronts), dtype=object)
    zones[plain] = _boxes(bounds[plain] + clearance * np.array([1.0, 1.0, -1.0, -1.0]))
    zones[~plain] = _drawn_in(fronts[~plain], clearance)
    return zones


def has_room(fronts: Shapes, clearance: float) -> NDArray[np.bool_]:
    """Whether something of a radius `clearance`, m, fits into each front (n,): where its `hole_zones` are not empty."""
    bounds, plain = _plain(fronts)
    room = (bounds[:, 2:] - clearance) - (bounds[:, :2] + clearance)
    fits = (room[:, 0] > 0.0) & (room[:, 1] > 0.0)
    fits[~plain] = ~shapely.is_empty(_drawn_in(fronts[~plain], clearance))
    return fits


def _plain(shapes: Shapes) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Bounds (n, 4) and which shapes fill them: nearly every front is a rectangle, whose sides are simply moved in."""
    bounds = shapely.bounds(shapes).reshape(-1, 4)
    return bounds, are_boxes(shapely.area(shapes), bounds)


def _drawn_in(shapes: Shapes, clearance: float) -> Shapes:
    return shapely.buffer(shapes, -clearance, join_style="mitre", mitre_limit=10.0)


def place_holes(outlines: Shapes, fronts: Shapes, rule: HoleRule) -> list[Placement]:
    """The fewest holes for each cavity of one wall, in common rows where that costs no hole.

    outlines, fronts: (n,) Polygon or MultiPolygon, m, wall axes. Every cavity that may do with one column of holes, and
    every rectangle, is first taken as columns of holes in closed form; these set the rows. That answer stands where it
    reaches the share and no fewer holes could. The rest is searched, rows first; cavities of one shape once.
    """
    zones = hole_zones(fronts, rule.clearance)
    placements: list[Placement] = [NOWHERE] * len(outlines)
    bays = _bays(outlines, zones, rule)
    slots = slots_of(bays.columns, rule.reach, rule.share)
    heights = row_heights(slots, rule.wish)
    served = np.flatnonzero(slots.count > 0)
    for bay, placement in zip(served, _columns_of_holes(outlines, bays, heights, served, rule), strict=True):
        placements[bays.index[bay]] = placement
    rows = set(heights[~np.isnan(heights)].tolist())
    found: dict[bytes, Placement] = {}
    for index in np.flatnonzero(~shapely.is_empty(zones)).tolist():
        known = placements[index]
        if known.share >= rule.share and known.lower_bound == len(known.points):
            continue
        left = float(outlines[index].bounds[0])
        key = _shape_key(outlines[index], zones[index], left)
        if key in found:
            searched = _moved(found[key], left)
        else:
            searched = search_holes(outlines[index], zones[index], rule, sorted(rows))
            found[key] = _moved(searched, -left)
        if known.share < rule.share or len(searched.points) < len(known.points):
            placements[index] = searched
            rows.update(float(z) for z in searched.points[:, 1])
        else:
            proved = min(max(known.lower_bound, searched.lower_bound), len(known.points))
            placements[index] = replace(known, lower_bound=proved)
    return placements


def _shape_key(outline: Polygonal, zone: Polygonal, left: float) -> bytes:
    """Equal for shapes that differ by a move along the wall only (to 0.1 mm)."""
    corners = np.concatenate([shapely.get_coordinates(outline), shapely.get_coordinates(zone)])
    return np.round((corners - (left, 0.0)) * 1e4).astype(np.int64).tobytes()


def _moved(placement: Placement, along: float) -> Placement:
    reaches = tuple(translate(shape, along, 0.0) for shape in placement.reaches)
    return Placement(placement.points + np.array([along, 0.0]), reaches, placement.share, placement.lower_bound)


def search_holes(outline: Polygonal, zone: Polygonal, rule: HoleRule, rows: list[float]) -> Placement:
    """The fewest holes out of a grid of places, for any outline; heights in `rows` are preferred among equals.

    Where the grid leaves something unreached, places from which that might be reached are added and the choice is made
    anew, until it gains nothing (`REFINEMENTS` at most).
    """
    heights = np.array([*rows, rule.wish.comfortable, rule.wish.standing])
    spread = outline.area / (2.0 * rule.reach.sideways * rule.reach.height)
    limit = max(GRID_PLACES, int(PLACES_PER_REACH * spread))
    candidates = candidate_points(outline, zone, rule.reach, heights=heights, limit=limit)
    if not len(candidates):
        return NOWHERE
    found = _search(outline, zone, candidates, rule, heights[: len(rows)])
    for _ in range(REFINEMENTS):
        more = _places_near(unreached(outline, found), zone, rule) if found.share < rule.share else np.empty((0, 2))
        if not len(more):
            break
        candidates = np.concatenate([candidates, more])
        better = _search(outline, zone, candidates, rule, heights[: len(rows)])
        gained = better.share - found.share
        found = better if gained > 0.0 else found
        if gained < 0.1 * (1.0 - rule.share):
            break
    return found


def _search(outline: Polygonal, zone: Polygonal, candidates: FloatArray, rule: HoleRule, rows: FloatArray) -> Placement:
    """The fewest of the candidates (k, 2); among equals on a row, within standing reach, near the middle."""
    middle = 0.5 * (zone.bounds[0] + zone.bounds[2])
    on_row = np.isclose(candidates[:, 1, None], rows[None], rtol=0.0, atol=1e-9).any(axis=1)
    ladder = candidates[:, 1] > rule.wish.standing + 1e-9
    away = np.abs(candidates[:, 1] - rule.wish.comfortable)
    cost = 100.0 * ~on_row + 10.0 * ladder + away + 0.1 * np.abs(candidates[:, 0] - middle)
    selection = fewest_points(outline, candidates, rule.reach, share=rule.share, cost=cost)
    points = candidates[list(selection.chosen)]
    order = np.lexsort((points[:, 0], points[:, 1]))
    reaches = tuple(selection.reaches[i] for i in order)
    return Placement(points[order], reaches, selection.share, selection.lower_bound)


def _places_near(rest: Polygonal, zone: Polygonal, rule: HoleRule) -> FloatArray:
    """Places in the zone from which the largest parts of `rest` lie within reach, (k, 2)."""
    parts = sorted(shapely.get_parts(rest), key=lambda part: -part.area)[:PARTS_AT_ONCE]
    reach = rule.reach
    found: list[FloatArray] = []
    for part in parts:
        x_min, z_min, x_max, z_max = part.bounds
        around = shapely.box(x_min - reach.sideways, z_min - reach.up, x_max + reach.sideways, z_max + reach.down)
        near = only_polygons(np.array([zone.intersection(around)], dtype=object))[0]
        found.append(candidate_points(part, near, reach, limit=PLACES_PER_PART))
    return np.concatenate(found) if found else np.empty((0, 2))


def unreached(outline: Polygonal, placement: Placement) -> Polygonal:
    """What no hole reaches, (x, z), m."""
    rest = np.array([outline.difference(union_of(placement.reaches))], dtype=object)
    return only_polygons(rest)[0]


# ---------------------------------------------------------------- closed form


@dataclass(frozen=True, slots=True, eq=False)
class _Bays:
    """Cavities taken as columns of holes, arrays over them (b,).

    index: place among the wall's cavities. bounds: (b, 4) of the outline, area: of the outline, box: is the outline a
    rectangle, clear: is all of it seen from anywhere in it. zones: where hole centres may stand; for a bay that one
    column serves, the strip of it from which both sides are reached. room: (b, 4) bounds of the zones. across: columns
    of holes side by side.
    """

    index: NDArray[np.intp]
    bounds: FloatArray
    area: FloatArray
    box: NDArray[np.bool_]
    clear: NDArray[np.bool_]
    zones: Shapes
    room: FloatArray
    box_zone: NDArray[np.bool_]
    across: NDArray[np.int64]

    @property
    def columns(self) -> Columns:
        return Columns(self.bounds[:, 1], self.bounds[:, 3], self.room[:, 1], self.room[:, 3])

    def kept(self, mask: NDArray[np.bool_]) -> _Bays:
        return _Bays(*(getattr(self, name)[mask] for name in self.__slots__))


def _bays(outlines: Shapes, zones: Shapes, rule: HoleRule) -> _Bays:
    """The cavities that columns of holes may serve: narrow ones of any shape, and rectangles of any width."""
    sideways = rule.reach.sideways
    bounds = shapely.bounds(outlines).reshape(-1, 4)
    area = shapely.area(outlines)
    across = np.maximum(1, np.ceil((bounds[:, 2] - bounds[:, 0]) / (2.0 * sideways) - 1e-9)).astype(np.int64)
    strips = bounds.copy()
    strips[:, 0] = np.where(across == 1, bounds[:, 2] - sideways, bounds[:, 0]) - 1e-9
    strips[:, 2] = np.where(across == 1, bounds[:, 0] + sideways, bounds[:, 2]) + 1e-9
    zones = _within(zones, strips)
    room = shapely.bounds(zones).reshape(-1, 4)
    box = are_boxes(area, bounds, SHAPE_TOLERANCE)
    clear = box.copy()
    clear[~box] = area[~box] >= (1.0 - SHAPE_TOLERANCE) * shapely.area(shapely.convex_hull(outlines[~box]))
    zone_area = shapely.area(zones)
    box_zone = are_boxes(zone_area, room, SHAPE_TOLERANCE)
    half = 0.5 * (bounds[:, 2] - bounds[:, 0]) / across
    even = (room[:, 0] <= bounds[:, 0] + half + 1e-9) & (room[:, 2] >= bounds[:, 2] - half - 1e-9)
    fits = ((across == 1) | (box & box_zone & even)) & (zone_area > 0.0)
    return _Bays(np.arange(len(outlines)), bounds, area, box, clear, zones, room, box_zone, across).kept(fits)


def _boxes(bounds: FloatArray) -> Shapes:
    """Rectangles of these bounds (n, 4); empty where nothing lies between two of them."""
    shapes = shapely.box(*bounds.T)
    shapes[(bounds[:, 2] <= bounds[:, 0]) | (bounds[:, 3] <= bounds[:, 1])] = NOTHING
    return shapes


def _within(zones: Shapes, strips: FloatArray) -> Shapes:
    """What of each zone (n,) lies in its strip, given by bounds (n, 4)."""
    bounds, plain = _plain(zones)
    cut = np.empty(len(zones), dtype=object)
    low, high = np.maximum(bounds[:, :2], strips[:, :2]), np.minimum(bounds[:, 2:], strips[:, 2:])
    cut[plain] = _boxes(np.concatenate([low, high], axis=1)[plain])
    cut[~plain] = only_polygons(shapely.intersection(zones[~plain], shapely.box(*strips[~plain].T)))
    return cut


def _columns_of_holes(
    outlines: Shapes, bays: _Bays, heights: FloatArray, served: NDArray[np.intp], rule: HoleRule
) -> list[Placement]:
    """Placements of the bays `served` from the heights of their rows (b, most); NOWHERE where a hole has no room."""
    bay, slot = np.nonzero(~np.isnan(heights))
    across = bays.across[bay]
    owner = np.repeat(bay, across)
    z = np.repeat(heights[bay, slot], across)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(across) - across, across)
    x, fits = _across(bays, owner, z, place)
    bounds, reach = bays.bounds[owner], rule.reach
    windows = shapely.box(
        np.maximum(x - reach.sideways, bounds[:, 0]),
        np.maximum(z - reach.down, bounds[:, 1]),
        np.minimum(x + reach.sideways, bounds[:, 2]),
        np.minimum(z + reach.up, bounds[:, 3]),
    )
    odd = ~bays.box[owner] & bays.clear[owner]
    windows[odd] = shapely.intersection(windows[odd], outlines[bays.index[owner[odd]]])
    points = np.column_stack([x, z])
    shaded = np.flatnonzero(~bays.clear[owner] & fits)
    for bay in np.unique(owner[shaded]):
        own = shaded[owner[shaded] == bay]
        outline: Polygonal = outlines[int(bays.index[bay])]  # pyright: ignore[reportAssignmentType]
        windows[own] = reached(outline, points[own], reach)
    least = _least_holes(bays, rule).tolist()
    first = np.searchsorted(owner, served).tolist()
    last = np.searchsorted(owner, served, side="right").tolist()
    crowded = set(owner[~fits].tolist())
    shares = _shares(bays, windows, owner)
    return [
        NOWHERE if bay in crowded else Placement(points[a:e], tuple(windows[a:e]), shares[bay], least[bay])
        for bay, a, e in zip(served.tolist(), first, last, strict=True)
    ]


def _shares(bays: _Bays, windows: Shapes, owner: NDArray[np.intp]) -> list[float]:
    """Part of each bay's area that the windows (k,) of its holes cover, owner (k,) saying whose each is; holes of a bay
    stand together, bottom to top, then left to right."""
    covered = np.zeros(len(bays.index))
    # Over a rectangle, columns of holes reach the rows of it that one column reaches, over all its width.
    boxes = shapely.bounds(windows).reshape(-1, 4)
    column = np.flatnonzero(bays.box[owner])
    fresh = np.diff(owner[column], prepend=-1) != 0
    below = np.where(fresh, -np.inf, np.roll(boxes[column, 3], 1))
    gained = np.maximum(boxes[column, 3] - np.maximum(boxes[column, 1], below), 0.0)
    width = bays.bounds[:, 2] - bays.bounds[:, 0]
    covered += np.bincount(owner[column], weights=gained, minlength=len(covered)) * width
    odd = np.flatnonzero(~bays.box[owner])
    for bay in np.unique(owner[odd]).tolist():
        covered[bay] = union_of(windows[odd[owner[odd] == bay]]).area
    return np.minimum(covered / bays.area, 1.0).tolist()


def _least_holes(bays: _Bays, rule: HoleRule) -> NDArray[np.int64]:
    """A number of holes that no arrangement can undercut, (b,).

    Each hole reaches an area of 2 x sideways (or the width) by down + up at most. In a rectangle that needs m holes
    side by side and n above one another, m x n patches can be laid out so far apart that no hole touches two of them;
    with fewer holes one patch stays untouched, and if a patch is more than may be left, m x n is the least.
    """
    size = bays.bounds[:, 2:] - bays.bounds[:, :2]
    one = np.minimum(size[:, 0], 2.0 * rule.reach.sideways) * rule.reach.height
    by_area = np.maximum(1, np.ceil(rule.share * bays.area / one - 1e-9)).astype(np.int64)
    above = np.maximum(1, np.ceil(rule.share * size[:, 1] / rule.reach.height - 1e-9)).astype(np.int64)
    patch_width = (size[:, 0] - (bays.across - 1) * 2.0 * rule.reach.sideways) / bays.across
    patch_height = (size[:, 1] - (above - 1) * rule.reach.height) / above
    telling = bays.box & (patch_width * patch_height > (1.0 - rule.share) * bays.area)
    return np.where(telling, np.maximum(by_area, bays.across * above), by_area)


def _across(
    bays: _Bays, owner: NDArray[np.intp], z: FloatArray, place: NDArray[np.int64]
) -> tuple[FloatArray, NDArray[np.bool_]]:
    """x of each hole, and whether it has room: columns evenly over a rectangle, else the middle of the widest stretch
    of the zone at that height."""
    bounds, room = bays.bounds[owner], bays.room[owner]
    even = bounds[:, 0] + (place + 0.5) * (bounds[:, 2] - bounds[:, 0]) / bays.across[owner]
    x = np.clip(even, room[:, 0], room[:, 2])
    fits = np.ones(len(x), dtype=bool)
    odd = np.flatnonzero(~bays.box_zone[owner])
    if len(odd):
        level = np.clip(z[odd], room[odd, 1], room[odd, 3])
        left = np.column_stack([room[odd, 0] - 1.0, level])
        right = np.column_stack([room[odd, 2] + 1.0, level])
        lines = shapely.linestrings(np.stack([left, right], axis=1))
        parts, of = shapely.get_parts(shapely.intersection(lines, bays.zones[owner[odd]]), return_index=True)
        there = ~shapely.is_empty(parts)  # a line that misses the zone leaves an empty part
        of, chord = of[there], shapely.bounds(parts[there]).reshape(-1, 4)
        order = np.lexsort((chord[:, 0], chord[:, 0] - chord[:, 2], of))
        held, first = np.unique(of[order], return_index=True)
        widest = chord[order[first]]
        fits[odd] = False
        fits[odd[held]] = True
        x[odd[held]] = 0.5 * (widest[:, 0] + widest[:, 2])
    return x, fits
