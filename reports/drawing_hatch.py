"""Hatches as strokes clipped to a polygon: they look alike in every backend and print without grey or colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from reports.drawing import On, Pen, Strokes, rings_of

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Hatch:
    """Parallel lines in one or more directions. angles: degrees from the x axis. spacing: mm."""

    angles: tuple[float, ...]
    spacing: float
    pen: Pen


def hatched(shape: Polygon | MultiPolygon, hatch: Hatch) -> Strokes | None:
    """The hatch of a polygon in page mm; None where no line meets it.

    Lines lie at whole multiples of the spacing from the page's zero, so that neighbouring areas go together.
    """
    if shape.is_empty:
        return None
    ends = [_strokes(shape, np.radians(angle), hatch.spacing) for angle in hatch.angles]
    table = np.concatenate(ends) if ends else np.empty((0, 4))
    if not len(table):
        return None
    strokes = tuple((a, b, c, d) for a, b, c, d in table.tolist())
    return Strokes(strokes, On.HATCHING, hatch.pen, rings_of(shape), hatch.angles, hatch.spacing)


def _strokes(shape: Polygon | MultiPolygon, angle: float, spacing: float) -> FloatArray:
    """Strokes (n, 4) of one direction."""
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    x0, y0, x1, y1 = shape.bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    reach, offsets = corners @ along, corners @ across
    steps = np.arange(np.ceil(offsets.min() / spacing), np.floor(offsets.max() / spacing) + 1.0) * spacing
    if not len(steps):
        return np.empty((0, 4))
    start = across * steps[:, None] + along * (reach.min() - 1.0)
    end = across * steps[:, None] + along * (reach.max() + 1.0)
    lines = shapely.linestrings(np.stack([start, end], axis=1))
    pieces = shapely.get_parts(shapely.intersection(lines, shape))
    pieces = pieces[(shapely.get_type_id(pieces) == 1) & (shapely.length(pieces) > 0.05)]
    points, owner = shapely.get_coordinates(pieces, return_index=True)
    first = np.searchsorted(owner, np.arange(len(pieces)))
    last = np.searchsorted(owner, np.arange(len(pieces)), side="right") - 1
    return np.hstack([points[first], points[last]])
