"""How wide a shape is: the diameter of the largest circle inside it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

_STEPS = 14
_QUARTER = 16
"""Segments of a quarter circle when shrinking: the width comes out at most 0.12 % too large at inward corners."""


def inscribed_diameters(shapes: Sequence[Polygon | MultiPolygon] | NDArray[np.object_]) -> NDArray[np.float64]:
    """Diameter of the largest circle inside each shape, m: (n,) float64; 0 for an empty one.

    Upright rectangles have their shorter side, exactly. Others are shrunk until nothing is left; the radius at which
    that happens is found by halving, to the shorter side of the box over 2^15.
    """
    array = np.array(shapes, dtype=object)
    if len(array) == 0:
        return np.empty(0)
    boxes = np.nan_to_num(shapely.bounds(array).reshape(-1, 4))
    sides = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    odd = np.flatnonzero(shapely.area(array) < areas * (1.0 - 1e-9))
    low, high = np.zeros(len(odd)), sides[odd] / 2.0
    for _ in range(_STEPS if len(odd) else 0):
        middle = (low + high) / 2.0
        fits = ~shapely.is_empty(shapely.buffer(array[odd], -middle, quad_segs=_QUARTER))
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    sides[odd] = low + high
    return sides
