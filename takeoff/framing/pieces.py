"""A piece of a frame while it is being set out: an elevation outline with what it is for, before it gets its depth."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.solids import polygons_of
from takeoff.model import MemberRole

LEAST_AREA = 1e-6
"""m2; a scrap of elevation smaller than 1 mm2 is rounding, not a piece of wood."""

TOUCH = 1e-6
"""m; edges nearer than this are the same edge. Model files carry about seven decimals of a metre."""


DECIMALS = 9
"""Places are kept to this many decimals of a metre, so that two members that touch share their edge bit for bit."""


class Place(StrEnum):
    """Which part of the stud layer's depth a piece takes."""

    THROUGH = "through"
    """The whole depth, or each row of studs where the rows have plates of their own."""
    FIRST_ROW = "first_row"
    SECOND_ROW = "second_row"
    FILL_FACE = "fill_face"
    """Flat against the fill face, one stud thickness deep."""
    FAR_FACE = "far_face"
    BETWEEN_ROWS = "between_rows"


class Form(StrEnum):
    """The section of a piece: only a steel frame tells them apart."""

    BOARD = "board"
    STUD_OPEN_RIGHT = "stud_open_right"
    STUD_OPEN_LEFT = "stud_open_left"
    TRACK = "track"
    HEADER = "header"


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece in elevation (x, z), m."""

    outline: Polygon
    role: MemberRole
    reason: str
    form: Form = Form.BOARD
    place: Place = Place.THROUGH


def rectangle(x_min: float, z_min: float, x_max: float, z_max: float) -> Polygon:
    """An upright rectangle of the elevation, m."""
    return shapely.box(round(x_min, DECIMALS), round(z_min, DECIMALS), round(x_max, DECIMALS), round(z_max, DECIMALS))


def without(shape: BaseGeometry, taken: Iterable[BaseGeometry]) -> list[Polygon]:
    """The parts of a shape that none of the taken shapes covers, scraps left out."""
    taken = list(taken)
    if taken:
        shape = cut_away(shape, taken)
    return [part for part in polygons_of(shape) if part.area > LEAST_AREA]


def union_of(shapes: Sequence[BaseGeometry]) -> BaseGeometry:
    """The union of shapes most of which lie apart: members of a frame do, and this is many times faster for them."""
    return shapes[0] if len(shapes) == 1 else shapely.disjoint_subset_union_all(list(shapes))


def rounded(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """The same shape with its points rounded to the decimals kept."""
    return shapely.transform(shape, lambda points: np.round(points, DECIMALS))


def cut_away(shape: BaseGeometry, taken: Sequence[BaseGeometry]) -> BaseGeometry:
    """A shape less other shapes. Raked cuts are rounded to a grid, or two of them would leave a crack of rounding.

    Upright shapes share their edges bit for bit and need no grid, which costs five times as much.
    """
    if is_upright(shape):
        return shapely.difference(shape, union_of(taken))
    return shapely.difference(shape, union_of(taken), grid_size=10.0**-DECIMALS)


def is_upright(shape: BaseGeometry) -> bool:
    """True where every edge is level or plumb."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(shape)), return_index=True)
    bent = (np.diff(points, axis=0) != 0.0).all(axis=1) & (np.diff(ring) == 0)
    return not bool(bent.any())


def common(shape: BaseGeometry, other: BaseGeometry) -> list[Polygon]:
    """The parts that two shapes share, scraps left out."""
    grid = None if is_upright(shape) and is_upright(other) else 10.0**-DECIMALS
    return [part for part in polygons_of(shapely.intersection(shape, other, grid_size=grid)) if part.area > LEAST_AREA]


def strips_in(strips: Sequence[Polygon], space: BaseGeometry) -> list[list[Polygon]]:
    """For each of several shapes the parts that a space leaves of it, scraps left out.

    A strip wholly inside the space, as most studs are, is found so by one cheap test and not cut at all.
    """
    if space.is_empty:
        return [[] for _ in strips]
    shapely.prepare(space)
    shapes = np.array(strips, dtype=object)
    whole = shapely.covers(space, shapes)
    grid = None if is_upright(space) else 10.0**-DECIMALS
    shapes[~whole] = shapely.intersection(shapes[~whole], space, grid_size=grid)
    return [
        [strip] if inside else [part for part in polygons_of(shape) if part.area > LEAST_AREA]
        for strip, shape, inside in zip(strips, shapes, whole, strict=True)
    ]


def as_one(parts: Iterable[Polygon]) -> Polygon | MultiPolygon:
    """Disjoint parts as one shape, without a union."""
    found = list(parts)
    return found[0] if len(found) == 1 else MultiPolygon(found)


def extents(shapes: Iterable[BaseGeometry]) -> NDArray[np.float64]:
    """(n, 4) float64, m: x_min, z_min, x_max, z_max of each shape."""
    return np.asarray(shapely.bounds(list(shapes)), dtype=np.float64).reshape(-1, 4)
