"""The hole that a door or window takes in a wall, from its own shape in elevation."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, polygons_of

BOARD = 0.05
"""m; what sticks out of a frame and is thinner than this is a board (a window board, a drip, an ear of a casing), and
no member makes room for it (common practice, no published source)."""
_BAND = 1e-6
"""m; heights nearer than this are one."""
_GRID = 1e-7
"""m; bands are joined on this grid, since their ends were reckoned."""


def filling_outline(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """The hole for a door or window whose bodies show as `shape` in elevation, (x, z), m.

    What lies level between two of its parts belongs to it, such as the passage between the jambs of a door frame
    without a threshold or the glass that nobody modelled. Boards that stick out are left off.
    """
    filled = _filled_level(shape)
    solid = filled.buffer(-BOARD / 2.0, join_style="mitre").buffer(BOARD / 2.0, join_style="mitre")
    bare = areal(shapely.intersection(solid, filled))
    # Of a thin frame, such as a pane of glass seen nearly edge on, nothing would be left.
    return bare if bare.area >= 0.5 * filled.area else filled


def _filled_level(shape: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """The shape with all that lies between its left and right edge at each height."""
    if shape.area >= (1.0 - 1e-9) * shape.convex_hull.area:
        return shape
    corners = shapely.get_coordinates(shape)
    low, high = float(corners[:, 0].min()) - 1.0, float(corners[:, 0].max()) + 1.0
    heights = np.unique(np.round(corners[:, 1] / _BAND)) * _BAND
    bands: list[Polygon] = []
    for below, above in pairwise(heights.tolist()):
        ends = []
        for height in (below + 0.01 * (above - below), above - 0.01 * (above - below)):
            across = shape.intersection(shapely.LineString([(low, height), (high, height)]))
            if across.is_empty:
                break
            ends.append((across.bounds[0], across.bounds[2]))
        if len(ends) < 2:
            continue
        # Straight edges run on to the band's own ends.
        (left, right), (left_above, right_above) = ends
        lean = np.array([left_above - left, right_above - right]) / 98.0
        foot, head = np.sort([left - lean[0], right - lean[1]]), np.sort([left_above + lean[0], right_above + lean[1]])
        bands.append(Polygon([(foot[0], below), (foot[1], below), (head[1], above), (head[0], above)]))
    joined = areal(shapely.union_all([*polygons_of(shape), *bands], grid_size=_GRID))
    return areal(shapely.simplify(joined, _BAND))
