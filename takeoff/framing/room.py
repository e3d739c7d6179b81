"""The room that is left in a wall while it is framed, and what of a piece finds place in it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.solids import polygons_of
from takeoff.framing.pieces import DECIMALS, LEAST_AREA, TOUCH, Piece, extents


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What is still free in the elevation of a wall.

    shape: (x, z), m. grid: m, to which cuts are rounded, None in a wall of level and plumb edges alone. There touching
    pieces share their edges bit for bit; two cuts along one rake would leave a crack of rounding, and the grid, which
    costs five times as much, closes it.
    """

    shape: Polygon | MultiPolygon
    grid: float | None

    @property
    def is_empty(self) -> bool:
        """True where nothing is left."""
        return bool(self.shape.is_empty)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """x_min, z_min, x_max, z_max, m; NaN where nothing is left."""
        return self.shape.bounds

    def parts(self) -> list[Polygon]:
        """Its connected parts."""
        return polygons_of(self.shape)

    def common(self, shape: BaseGeometry) -> list[Polygon]:
        """The parts of a shape that lie in this room, scraps left out."""
        return _parts(shapely.intersection(self.shape, shape, grid_size=self.grid))

    def common_of_each(self, shapes: Sequence[Polygon] | NDArray[np.object_]) -> list[list[Polygon]]:
        """The parts of each shape that lie in this room, scraps left out.

        A strip wholly inside, as most studs are, is found so by one cheap test and not cut at all.
        """
        if self.is_empty or len(shapes) == 0:
            return [[] for _ in shapes]
        shapely.prepare(self.shape)
        found = np.array(shapes, dtype=object)
        whole = shapely.covers(self.shape, found)
        found[~whole] = shapely.intersection(found[~whole], self.shape, grid_size=self.grid)
        return [[shape] if inside else _parts(part) for shape, part, inside in zip(shapes, found, whole, strict=True)]

    def less(self, pieces: Sequence[Piece]) -> Room:
        """The room without what some pieces cover."""
        return self.less_shapes([piece.outline for piece in pieces])

    def less_shapes(self, shapes: Sequence[BaseGeometry]) -> Room:
        """The room without some shapes."""
        if self.is_empty or not shapes:
            return self
        return Room(as_one(without(self.shape, shapes, self.grid)), self.grid)


def room_of(shape: Polygon | MultiPolygon) -> Room:
    """A wall, or a part of one, as the room in which nothing stands yet."""
    return Room(shape, None if is_upright(shape) else 10.0**-DECIMALS)


def is_upright(shape: BaseGeometry) -> bool:
    """True where every edge is level or plumb."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    bent = (np.diff(points, axis=0) != 0.0).all(axis=1) & (np.diff(ring) == 0)
    return not bool(bent.any())


def without(shape: BaseGeometry, taken: Sequence[BaseGeometry], grid: float | None = None) -> list[Polygon]:
    """The parts of a shape that none of the taken shapes covers, scraps left out."""
    if taken:
        shape = shapely.difference(shape, union_of(taken), grid_size=grid)
    return _parts(shape)


def union_of(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """The union of shapes most of which lie apart: members of a frame do, and this is many times faster for them."""
    return shapes[0] if len(shapes) == 1 else shapely.disjoint_subset_union_all(list(shapes))


def apart(pieces: Sequence[Piece], grid: float | None) -> list[Piece]:
    """The same pieces, a later one cut back where an earlier one already lies."""
    if len(pieces) < 2:
        return list(pieces)
    box = extents([piece.outline for piece in pieces])
    overlaps = (box[:, None, :2] < box[None, :, 2:] - TOUCH).all(axis=2)
    meets = np.tril(overlaps & overlaps.T, -1)
    kept: list[Piece] = []
    for number, piece in enumerate(pieces):
        earlier = [pieces[index].outline for index in np.flatnonzero(meets[number]).tolist()]
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


def _parts(shape: BaseGeometry) -> list[Polygon]:
    return [part for part in polygons_of(shape) if part.area > LEAST_AREA]
