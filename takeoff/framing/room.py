"""The room that is left in a wall while it is framed, and what of a piece finds place in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.solids import polygons_of
from takeoff.framing.pieces import (
    DECIMALS,
    LEAST_AREA,
    TOUCH,
    Outline,
    Piece,
    boxes_of_outlines,
    extents,
    outlines_of,
    polygons_of_outlines,
)
from takeoff.framing.rectangles import clipped, left_of_rectangle, surely_reaches

Extent = tuple[float, float, float, float]
"""x_min, z_min, x_max, z_max, m."""


@dataclass(frozen=True, slots=True, eq=False)
class PlainRoom:
    """What is still free in an upright rectangle from which upright rectangles were taken: nearly every wall.

    Nothing is cut before somebody asks what of a piece finds place. whole: all there was. taken: as they came; they may
    overlap and reach beyond it.
    """

    whole: Outline
    taken: tuple[Outline, ...] = ()

    @property
    def grid(self) -> None:
        """Level and plumb cuts need no rounding."""
        return None

    @property
    def extent(self) -> Extent:
        """A box outside which nothing is free, not always the narrowest one."""
        return self.whole[:4]

    @property
    def bounds(self) -> Extent | None:
        """The narrowest such box; None where nothing is left."""
        if not self.taken or all(surely_reaches(side, self.whole, self.taken) for side in range(4)):
            return self.extent
        parts = boxes_of_outlines(self.parts())
        if not len(parts):
            return None
        x_min, z_min, x_max, z_max = *parts[:, :2].min(axis=0).tolist(), *parts[:, 2:].max(axis=0).tolist()
        return x_min, z_min, x_max, z_max

    @property
    def shape(self) -> Polygon | MultiPolygon:
        """What is free, (x, z), m."""
        return as_one(polygons_of_outlines(self.parts()).tolist())

    def parts(self) -> list[Outline]:
        """Its connected parts."""
        return [part for part in left_of_rectangle(self.whole, self.taken) if part.area > LEAST_AREA]

    def feet_at(self, x: float) -> list[float]:
        """Heights at which the free stretches over a place x along the wall begin, m."""
        if not self.whole.x_min <= x <= self.whole.x_max:
            return []
        free = left_of_rectangle(Outline(x, self.whole.z_min, x, self.whole.z_max), self.taken)
        return [stretch.z_min for stretch in free if stretch.z_max - stretch.z_min > TOUCH]

    def common(self, strip: Outline) -> list[Outline]:
        """The parts of a strip that lie in this room, scraps left out."""
        if strip.shape is not None:
            return ShapedRoom(self.shape, None).common(strip)
        inside = clipped(strip, self.whole)
        parts = left_of_rectangle(inside, self.taken) if inside is not None else []
        return [part for part in parts if part.area > LEAST_AREA]

    def common_of_each(self, strips: Sequence[Outline]) -> list[list[Outline]]:
        """The parts of each strip that lie in this room, scraps left out."""
        return [self.common(strip) for strip in strips]

    def less(self, pieces: Sequence[Piece]) -> Room:
        """The room without what some pieces cover."""
        return self.less_outlines([piece.outline for piece in pieces])

    def less_outlines(self, outlines: Sequence[Outline]) -> Room:
        """The room without some outlines."""
        if all(outline.shape is None for outline in outlines):
            return PlainRoom(self.whole, (*self.taken, *outlines)) if outlines else self
        return ShapedRoom(self.shape, None).less_outlines(outlines)


@dataclass(frozen=True, slots=True, eq=False)
class ShapedRoom:
    """What is still free in the elevation of a wall of any shape.

    shape: (x, z), m. grid: m, to which cuts are rounded, None in a wall of level and plumb edges alone. There touching
    pieces share their edges bit for bit; two cuts along one rake would leave a crack of rounding, and the grid, which
    costs five times as much, closes it.
    """

    shape: Polygon | MultiPolygon
    grid: float | None

    @property
    def bounds(self) -> Extent | None:
        """The box around it; None where nothing is left."""
        return None if self.shape.is_empty else self.shape.bounds

    extent = bounds

    def parts(self) -> list[Outline]:
        """Its connected parts."""
        return outlines_of(polygons_of(self.shape))

    def feet_at(self, x: float) -> list[float]:
        """Heights at which the free stretches over a place x along the wall begin, m."""
        if self.shape.is_empty:
            return []
        _, low, _, high = self.shape.bounds
        upright = shapely.linestrings([[x, low - 1.0], [x, high + 1.0]])
        stretches = extents(shapely.get_parts(shapely.intersection(self.shape, upright)))
        return stretches[stretches[:, 3] - stretches[:, 1] > TOUCH, 1].tolist()

    def common(self, strip: Outline) -> list[Outline]:
        """The parts of a strip that lie in this room, scraps left out."""
        return _parts(shapely.intersection(self.shape, strip.polygon, grid_size=self.grid))

    def common_of_each(self, strips: Sequence[Outline]) -> list[list[Outline]]:
        """The parts of each strip that lie in this room, scraps left out.

        A strip wholly inside, as most studs are, is found so by one cheap test and not cut at all.
        """
        if self.shape.is_empty or len(strips) == 0:
            return [[] for _ in strips]
        shapely.prepare(self.shape)
        found = polygons_of_outlines(strips)
        whole = shapely.covers(self.shape, found)
        found[~whole] = shapely.intersection(found[~whole], self.shape, grid_size=self.grid)
        return [[strip] if inside else _parts(part) for strip, part, inside in zip(strips, found, whole, strict=True)]

    def less(self, pieces: Sequence[Piece]) -> ShapedRoom:
        """The room without what some pieces cover."""
        return self.less_outlines([piece.outline for piece in pieces])

    def less_outlines(self, outlines: Sequence[Outline]) -> ShapedRoom:
        """The room without some outlines."""
        if self.shape.is_empty or not outlines:
            return self
        return ShapedRoom(as_one(_polygons(_difference(self.shape, outlines, self.grid))), self.grid)


Room = PlainRoom | ShapedRoom


def room_of(shape: Polygon | MultiPolygon) -> ShapedRoom:
    """A wall, or a part of one, as the room in which nothing stands yet."""
    return ShapedRoom(shape, None if is_upright(shape) else 10.0**-DECIMALS)


def room_within(outlines: Sequence[Outline], grid: float | None) -> ShapedRoom:
    """Outlines that lie apart as one room."""
    return ShapedRoom(as_one(polygons_of_outlines(outlines).tolist()), grid)


def is_upright(shape: BaseGeometry) -> bool:
    """True where every edge is level or plumb."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    bent = (np.diff(points, axis=0) != 0.0).all(axis=1) & (np.diff(ring) == 0)
    return not bool(bent.any())


def without(outline: Outline, taken: Sequence[Outline], grid: float | None = None) -> list[Outline]:
    """The parts of an outline that none of the taken ones covers, scraps left out."""
    if outline.shape is None and grid is None and all(other.shape is None for other in taken):
        return [part for part in left_of_rectangle(outline, taken) if part.area > LEAST_AREA]
    return _parts(_difference(outline.polygon, taken, grid))


def _difference(shape: BaseGeometry, taken: Sequence[Outline], grid: float | None) -> BaseGeometry:
    return shapely.difference(shape, union_of(taken), grid_size=grid) if taken else shape


def union_of(outlines: Sequence[Outline]) -> BaseGeometry:
    """The union of outlines most of which lie apart: members of a frame do, and this is many times faster for them."""
    shapes = polygons_of_outlines(outlines)
    return shapes[0] if len(shapes) == 1 else shapely.disjoint_subset_union_all(shapes)


def apart(pieces: Sequence[Piece], grid: float | None) -> list[Piece]:
    """The same pieces, a later one cut back where an earlier one already lies."""
    if len(pieces) < 2:
        return list(pieces)
    box = boxes_of_outlines([piece.outline for piece in pieces])
    overlaps = (box[:, None, :2] < box[None, :, 2:] - TOUCH).all(axis=2)
    before: dict[int, list[Outline]] = {}
    for later, earlier in np.argwhere(overlaps & overlaps.T).tolist():
        if earlier < later:
            before.setdefault(later, []).append(pieces[earlier].outline)
    kept: list[Piece] = []
    for number, piece in enumerate(pieces):
        earlier = before.get(number)
        if earlier:
            kept.extend(piece.cut_to(rest) for rest in without(piece.outline, earlier, grid))
        else:
            kept.append(piece)
    return kept


def as_one(parts: Iterable[Polygon]) -> Polygon | MultiPolygon:
    """Disjoint parts as one shape, without a union."""
    found = list(parts)
    return found[0] if len(found) == 1 else MultiPolygon(found)


def rounded(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """The same shape with its points rounded to the decimals kept."""
    return shapely.transform(shape, lambda points: np.round(points, DECIMALS))


def _parts(shape: BaseGeometry) -> list[Outline]:
    return outlines_of(_polygons(shape))


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [part for part in polygons_of(shape) if part.area > LEAST_AREA]
