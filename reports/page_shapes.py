"""Shapes as the page holds them: whole numbers of a tenth of a millimetre, rectangles as their four sides.

A rectangle is [x_min, z_min, x_max, z_max]; any other outline is a list of polygons, each a list of rings, each a flat
list x, z, x, z, ... without its closing point. A mesh is its corners x, y, z, ... and triangles as numbers of corners.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely

STEP = 1e-4
"""m; a tenth of a millimetre, finer than any saw and than any pixel."""
_SAME_AREA = 1e-7
"""m2; an outline whose area misses that of its box by less is that box."""


def steps(value: float) -> int:
    """A length in m in whole steps."""
    return round(value / STEP)


def outline_codes(texts: Sequence[str]) -> list[Any]:
    """Outlines as WKT (x z, m) in the page's form, all parsed in one call."""
    if not texts:
        return []
    shapes = np.atleast_1d(shapely.from_wkt(list(texts)))
    bounds = shapely.bounds(shapes)
    boxes = (bounds[:, 2] - bounds[:, 0]) * (bounds[:, 3] - bounds[:, 1])
    plain = np.abs(boxes - shapely.area(shapes)) < _SAME_AREA
    rounded = np.rint(np.nan_to_num(bounds) / STEP).astype(np.int64).tolist()
    return [
        box if is_box else _polygons(shape) for shape, is_box, box in zip(shapes, plain.tolist(), rounded, strict=True)
    ]


def _polygons(shape: Any) -> list[list[list[int]]]:
    """Rings of every polygon of a shape; lines and points, which bound no area, are passed over."""
    return [
        [_ring(ring) for ring in (part.exterior, *part.interiors)]
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def _ring(ring: Any) -> list[int]:
    """A closed ring without its last point and without points that fall together."""
    points = np.rint(shapely.get_coordinates(ring) / STEP).astype(np.int64)
    kept = np.append(True, (np.diff(points, axis=0) != 0).any(axis=1))
    points = points[kept]
    if len(points) > 1 and (points[0] == points[-1]).all():
        points = points[:-1]
    return points.reshape(-1).tolist()


def solid_codes(solids: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Solids of takeoff.json in the page's form: `o` outline with depths `y`, or corners `v` with triangles `f`."""
    codes = iter(outline_codes([solid["outline_wkt"] for solid in solids if solid["shape"] == "prism"]))
    return [
        {"o": next(codes), "y": [steps(solid["y_min_m"]), steps(solid["y_max_m"])]}
        if solid["shape"] == "prism"
        else mesh_code(solid)
        for solid in solids
    ]


def mesh_code(solid: Mapping[str, Any]) -> dict[str, Any]:
    """A mesh of takeoff.json in the page's form."""
    vertices = np.asarray(solid["vertices_m"], dtype=np.float64).reshape(-1)
    faces = np.asarray(solid["faces"], dtype=np.int64).reshape(-1)
    return {"v": np.rint(vertices / STEP).astype(np.int64).tolist(), "f": faces.tolist()}
