"""A piece of a frame while it is being set out: an elevation outline with what it is for, before it gets its depth."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from takeoff.model import MemberRole

LEAST_AREA = 1e-6
"""m2; a scrap of elevation smaller than 1 mm2 is rounding, not a piece of wood."""

DECIMALS = 9
"""Places are kept to this many decimals of a metre, so that two members that touch share their edge bit for bit."""

TOUCH = 1e-6
"""m; edges nearer than this are the same edge. Model files carry about seven decimals of a metre."""


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


class Outline(NamedTuple):
    """The outline of a piece in elevation (x, z): the box around it, m, and its shape where that is no rectangle.

    Most pieces are upright rectangles. As four numbers they are cut and compared many times faster than as polygons.
    """

    x_min: float
    z_min: float
    x_max: float
    z_max: float
    shape: Polygon | None = None

    @property
    def polygon(self) -> Polygon:
        """The same as a polygon."""
        return self.shape or shapely.box(self.x_min, self.z_min, self.x_max, self.z_max)

    @property
    def area(self) -> float:
        """m2"""
        return (self.x_max - self.x_min) * (self.z_max - self.z_min) if self.shape is None else float(self.shape.area)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece in elevation."""

    outline: Outline
    role: MemberRole
    reason: str
    form: Form = Form.BOARD
    place: Place = Place.THROUGH

    def cut_to(self, outline: Outline) -> Piece:
        """The same piece with another outline."""
        return Piece(outline, self.role, self.reason, self.form, self.place)


def rectangle(x_min: float, z_min: float, x_max: float, z_max: float) -> Outline:
    """An upright rectangle of the elevation, m."""
    left, low = float(round(x_min, DECIMALS)), float(round(z_min, DECIMALS))
    right, high = float(round(x_max, DECIMALS)), float(round(z_max, DECIMALS))
    return Outline(left, low, right, high)


def upright_strips(x_min: NDArray[np.float64], x_max: NDArray[np.float64], low: float, high: float) -> list[Outline]:
    """Upright rectangles (n,) of one height, m, made in one call."""
    lefts, rights = np.round(x_min, DECIMALS).tolist(), np.round(x_max, DECIMALS).tolist()
    low, high = round(low, DECIMALS), round(high, DECIMALS)
    return [Outline(left, low, right, high) for left, right in zip(lefts, rights, strict=True)]


def meets(one: Outline, other: Outline) -> bool:
    """Whether the boxes of two outlines overlap or touch."""
    return one[0] <= other[2] and one[2] >= other[0] and one[1] <= other[3] and one[3] >= other[1]


def outlines_of(polygons: Sequence[Polygon]) -> list[Outline]:
    """Polygons as outlines."""
    boxes = extents(polygons).tolist()
    return [Outline(a, b, c, d, polygon) for (a, b, c, d), polygon in zip(boxes, polygons, strict=True)]


def polygons_of_outlines(outlines: Sequence[Outline]) -> NDArray[np.object_]:
    """Outlines as polygons, (n,) object, the rectangles among them made in one call."""
    shapes = np.empty(len(outlines), dtype=object)
    shapes[:] = [outline.shape for outline in outlines]
    plain = [number for number, outline in enumerate(outlines) if outline.shape is None]
    if plain:
        shapes[plain] = shapely.box(*boxes_of_outlines([outlines[number] for number in plain]).T)
    return shapes


def boxes_of_outlines(outlines: Sequence[Outline]) -> NDArray[np.float64]:
    """(n, 4) float64, m: x_min, z_min, x_max, z_max of each outline."""
    return np.array([outline[:4] for outline in outlines]).reshape(-1, 4)


def extents(shapes: Iterable[BaseGeometry]) -> NDArray[np.float64]:
    """(n, 4) float64, m: x_min, z_min, x_max, z_max of each shape."""
    return np.asarray(shapely.bounds(list(shapes)), dtype=np.float64).reshape(-1, 4)
