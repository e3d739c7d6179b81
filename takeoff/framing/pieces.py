"""A piece of a frame while it is being set out: an elevation outline with what it is for, before it gets its depth."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

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


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece in elevation (x, z), m."""

    outline: Polygon
    role: MemberRole
    reason: str
    form: Form = Form.BOARD
    place: Place = Place.THROUGH

    def cut_to(self, outline: Polygon) -> Piece:
        """The same piece with another outline."""
        return replace(self, outline=outline)


def rectangle(x_min: float, z_min: float, x_max: float, z_max: float) -> Polygon:
    """An upright rectangle of the elevation, m."""
    return shapely.box(round(x_min, DECIMALS), round(z_min, DECIMALS), round(x_max, DECIMALS), round(z_max, DECIMALS))


def upright_strips(
    x_min: NDArray[np.float64], x_max: NDArray[np.float64], low: float, high: float
) -> NDArray[np.object_]:
    """Upright rectangles (n,) of one height, m, made in one call."""
    lows, highs = np.full(len(x_min), round(low, DECIMALS)), np.full(len(x_min), round(high, DECIMALS))
    return shapely.box(np.round(x_min, DECIMALS), lows, np.round(x_max, DECIMALS), highs)


def extents(shapes: Iterable[BaseGeometry]) -> NDArray[np.float64]:
    """(n, 4) float64, m: x_min, z_min, x_max, z_max of each shape."""
    return np.asarray(shapely.bounds(list(shapes)), dtype=np.float64).reshape(-1, 4)
