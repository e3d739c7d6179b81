"""Where the top of a wall meets the eave of a roof: told by the roof's own surfaces, or by the job file.

An eave is where a pitched roof passes over the outside of a wall, falls away from it and ends not far out. Whether it
is vented no model says; the job file does. Baffles at vented eaves: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import silhouette
from takeoff.building import ModelRoof
from takeoff.model import StudLayer

FloatArray = NDArray[np.float64]

STEP = 0.1
"""m along a wall from one place that is looked at to the next."""
MOST_PLACES = 400
PAST = 0.03
"""m beyond the wall's face at which the roof must still be."""
FARTHEST_EDGE = 2.5
"""m; a roof that goes on for longer covers something else than an eave (own assumption)."""
BELOW, ABOVE = 0.6, 1.2
"""m; so far below or above the top of the studs the roof's upper side may pass over the wall's face: rafters notched
over the plate, and raised heels (own assumption)."""
FLATTEST, STEEPEST = np.tan(np.radians(5.0)), np.tan(np.radians(75.0))
"""Slopes of a pitched roof."""
OUTWARDS = np.cos(np.radians(45.0))
"""A roof falls away from a wall where its fall is turned less than this from the wall's outward direction."""
SHORTEST = 0.3
"""m; shorter stretches are corners, not eaves."""


@dataclass(frozen=True, slots=True)
class Eave:
    """A stretch of a stud layer that meets an eave. low, high: m, x in wall axes. words: what says so."""

    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class RoofSurfaces:
    """The upper sides of all roofs. corners: (n, 3, 3) float64, m, world. normals: (n, 3) unit. names: of each."""

    corners: FloatArray
    normals: FloatArray
    names: tuple[str, ...]

    @property
    def pitched(self) -> NDArray[np.bool_]:
        """Which of them are steep enough to have an eave."""
        return np.linalg.norm(self.normals[:, :2], axis=1) > FLATTEST * self.normals[:, 2]


def roof_surfaces(roofs: Sequence[ModelRoof]) -> RoofSurfaces:
    """Every face of the roofs that looks up and is no steeper than a roof."""
    corners: list[FloatArray] = [np.empty((0, 3, 3))]
    names: list[str] = []
    for roof in roofs:
        for mesh in roof.solids:
            corners.append(mesh.vertices[mesh.faces])
            names += [roof.name or roof.global_id] * len(mesh.faces)
    found = np.concatenate(corners)
    normals = np.cross(found[:, 1] - found[:, 0], found[:, 2] - found[:, 0])
    length = np.linalg.norm(normals, axis=1)
    kept = normals[:, 2] > np.cos(np.arctan(STEEPEST)) * np.maximum(length, 1e-12)
    return RoofSurfaces(
        found[kept],
        normals[kept] / length[kept, None],
        tuple(name for name, keep in zip(names, kept, strict=True) if keep),
    )


def eaves_of(layer: StudLayer, roofs: RoofSurfaces) -> tuple[Eave, ...]:
    """Stretches of a stud layer under an eave of the model's roofs, from left to right."""
    pitched = roofs.corners[roofs.pitched]
    shape = silhouette(layer.outline)
    if not len(pitched) or shape.is_empty:
        return ()
    x_min, z_min, x_max, z_max = shape.bounds
    low, high = layer.axes.to_world([[x_min, 0.0, z_min], [x_min, 0.0, z_max]])[:, 2]
    if pitched[..., 2].max() < low - BELOW or pitched[..., 2].min() > high + ABOVE:
        return ()  # most walls of a house with storeys are far below its roof
    number = int(np.clip(np.ceil((x_max - x_min) / STEP), 1, MOST_PLACES))
    step = (x_max - x_min) / number
    x = np.asarray(x_min + step * (np.arange(number) + 0.5), dtype=np.float64)
    tops = tops_at(shape, x)
    far = max([layer.depth, *(each.y_max for each in layer.layers)])
    near = min([0.0, *(each.y_min for each in layer.layers)])
    over = np.full(number, -1)
    for face, sense in ((far, 1.0), (near, -1.0)):
        found = _eave_over(layer, (x, tops), (face, sense), roofs)
        over = np.where(over < 0, found, over)
    return tuple(
        Eave(x_min + step * first, x_min + step * last, f"roof {roofs.names[over[first]]}")
        for first, last in _runs(over >= 0)
        if step * (last - first) >= SHORTEST
    )


def tops_at(shape: Polygon | MultiPolygon, x: FloatArray) -> FloatArray:
    """Highest z (n,) of an elevation at each x (n,), m; NaN where it does not reach."""
    _, z_min, _, z_max = shape.bounds
    ends = np.stack([np.column_stack([x, np.full(len(x), z)]) for z in (z_min - 1.0, z_max + 1.0)], axis=1)
    return shapely.bounds(shapely.intersection(shapely.linestrings(ends), shape)).reshape(-1, 4)[:, 3]


def _eave_over(
    layer: StudLayer, places: tuple[FloatArray, FloatArray], side: tuple[float, float], roofs: RoofSurfaces
) -> NDArray[np.int64]:
    """For each place (x, top) the roof face that makes an eave over a face of the wall, else -1.

    side: y of the face, and the sense of y in which it looks.
    """
    x, tops = places
    face, sense = side
    just, beyond = (
        layer.axes.to_world(np.column_stack([x, np.full(len(x), face + sense * away), tops]))
        for away in (PAST, FARTHEST_EDGE)
    )
    outward = beyond[:, :2] - just[:, :2]
    outward = outward / np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-12)
    fall = roofs.normals[:, :2]
    steep = np.linalg.norm(fall, axis=1)
    downhill = fall / np.maximum(steep, 1e-12)[:, None]
    here = _above(just, roofs) & roofs.pitched & (outward @ downhill.T > OUTWARDS)
    goes_on = (_above(beyond, roofs, drop=FARTHEST_EDGE * STEEPEST)).any(axis=1)
    return np.where(here.any(axis=1) & ~goes_on, here.argmax(axis=1), -1)


def _above(points: FloatArray, roofs: RoofSurfaces, drop: float = 0.0) -> NDArray[np.bool_]:
    """Which faces pass over (or close under) which points: (points, faces). drop: m, how much lower they may be."""
    start, first, second = (roofs.corners[:, n, :2] for n in range(3))
    one, two = first - start, second - start
    size = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    away = points[:, None, :2] - start[None]
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (away[..., 0] * two[:, 1] - away[..., 1] * two[:, 0]) / size
        b = (one[:, 0] * away[..., 1] - one[:, 1] * away[..., 0]) / size
        height = roofs.corners[:, 0, 2] + a * (roofs.corners[:, 1, 2] - roofs.corners[:, 0, 2])
        height = height + b * (roofs.corners[:, 2, 2] - roofs.corners[:, 0, 2]) - points[:, None, 2]
        inside = (a >= -1e-9) & (b >= -1e-9) & (a + b <= 1.0 + 1e-9)
    return inside & (height >= -BELOW - drop) & (height <= ABOVE)


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past the last index of each run of true."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    return [(int(first), int(last)) for first, last in edges.reshape(-1, 2)]
