"""What of a shape lies inside another and what outside, with areas that add up.

Where edges run within rounding of each other, an overlay at full floating precision can lose a face or keep it, and
says nothing. So each result is measured, and an overlay that does not add up is made again on a fine grid, where it is
sound, though its corners move by up to the size of the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal

Shape = Polygon | MultiPolygon

SAME_AREA = 1e-10
"""Share of an area that rounding of an overlay may take; what a lost face takes is far larger."""

_GRIDS = (1e-12, 1e-11, 1e-10, 1e-9)
"""m; the finest that mends an overlay is used. The coarsest moves a corner by less than models can say."""


def parted(whole: Shape, cutter: Shape) -> tuple[Shape, Shape]:
    """The part of `whole` inside `cutter` and the part outside; their areas add up to that of `whole`."""
    inside, outside = parted_each([whole], cutter)
    return areal(inside[0]), areal(outside[0])


def outside_of(whole: Shape, cutter: Shape) -> Shape:
    """`whole` less `cutter`."""
    return parted(whole, cutter)[1]


def parted_each(wholes: Sequence[Shape], cutter: Shape) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """The same for many shapes and one cutter. Returns (n,) object twice: parts inside, parts outside."""
    array = np.array(wholes, dtype=object)
    inside, outside = shapely.intersection(array, cutter), shapely.difference(array, cutter)
    for row in np.flatnonzero(_off(array, inside, outside) > SAME_AREA).tolist():
        inside[row], outside[row] = _on_a_grid(array[row], cutter, inside[row], outside[row])
    return inside, outside


def _off(wholes: Any, inside: Any, outside: Any) -> NDArray[np.float64]:
    """Share of each area by which its parts miss it; 1 where a part is no valid polygon."""
    areas = shapely.area(wholes)
    off = np.abs(areas - shapely.area(inside) - shapely.area(outside)) / np.maximum(areas, np.finfo(float).tiny)
    sound = shapely.is_valid(inside) & shapely.is_valid(outside)
    return np.where(areas > 0.0, np.where(sound, off, 1.0), 0.0)


def _on_a_grid(whole: Shape, cutter: Shape, inside: Any, outside: Any) -> tuple[Any, Any]:
    best, least = (inside, outside), float(_off(whole, inside, outside))
    for grid in _GRIDS:
        pair = tuple(overlay(whole, cutter, grid_size=grid) for overlay in (shapely.intersection, shapely.difference))
        off = float(_off(whole, *pair))
        if off < least:
            best, least = (pair[0], pair[1]), off
        if off <= SAME_AREA:
            break
    return best
