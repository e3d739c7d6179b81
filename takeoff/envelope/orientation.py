"""Which way a wall faces: where its outside is, and what the compass says."""

from __future__ import annotations

from math import atan2, degrees

import numpy as np
from numpy.typing import NDArray

from geometry.cylinders import Developed
from geometry.solids import bounds
from takeoff.model import LayerRole, StudLayer
from takeoff.walls.surroundings import Surroundings

COMPASS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")
"""Eighths of the circle, each named by its middle."""
INSIDE = "inside"
"""Word for a wall that has no outside."""
_BESIDE = 0.3
"""m from a face to where a room beside it is looked for."""
_STANDING = 1.0
"""m above the foot of the wall."""


def faces_of(layer: StudLayer) -> tuple[float, float]:
    """Nearest and farthest y of the wall in wall axes, m, by its material layers."""
    near = min((row.y_min for row in layer.layers), default=0.0)
    far = max((row.y_max for row in layer.layers), default=layer.depth)
    return min(near, 0.0), max(far, layer.depth)


def points_beside(
    layer: StudLayer, along: NDArray[np.float64], *, far: bool, beside: float = _BESIDE
) -> NDArray[np.float64]:
    """World points (n, 3) m beside one face of the wall, at places (n,) along it, a standing height up.

    beside: m from the face; far: beside the face away from the fill side.
    """
    low, high = bounds(layer.outline)
    near_y, far_y = faces_of(layer)
    y = far_y + beside if far else near_y - beside
    z = float(low[2]) + min(_STANDING, 0.5 * float(high[2] - low[2]))
    return layer.axes.to_world(np.stack([along, np.full(len(along), y), np.full(len(along), z)], axis=1))


def outside_is_far(layer: StudLayer, surroundings: Surroundings) -> bool:
    """True where the outside air is on the side away from the fill side.

    Rooms decide; then cladding, which only the outside has; else the wall is taken to be filled from inside.
    """
    low, high = bounds(layer.outline)
    along = float(low[0]) + float(high[0] - low[0]) * np.array([0.25, 0.5, 0.75])
    indoors = [_has_room(surroundings, points_beside(layer, along, far=far)) for far in (False, True)]
    if indoors[0] != indoors[1]:
        return indoors[0]
    clad = [
        any(row.role is LayerRole.CLADDING and (row.y_min >= layer.depth - 1e-9) is far for row in layer.layers)
        for far in (False, True)
    ]
    return not (clad[0] and not clad[1])


def _has_room(surroundings: Surroundings, points: NDArray[np.float64]) -> bool:
    return any(room is not None and not room.external for room in surroundings.rooms_at(points))


def outward(layer: StudLayer, *, outside_far: bool) -> NDArray[np.float64]:
    """(3,) world direction from the wall to the outside, at the middle of its length."""
    low, high = bounds(layer.outline)
    axes = layer.axes
    rows = axes.directions_at(float(low[0] + high[0]) / 2.0) if isinstance(axes, Developed) else axes.directions
    return rows[1] if outside_far else -rows[1]


def azimuth(direction: NDArray[np.float64], true_north: tuple[float, float]) -> float:
    """Degrees clockwise from true north, 0 <= a < 360, of a world direction (3,).

    >>> azimuth(np.array([1.0, 0.0, 0.0]), (0.0, 1.0))
    90.0
    """
    north_x, north_y = true_north
    x, y = float(direction[0]), float(direction[1])
    angle = degrees(atan2(x * north_y - y * north_x, x * north_x + y * north_y)) % 360.0
    return 0.0 if angle >= 360.0 else angle


def compass(angle: float) -> str:
    """The eighth of the compass that an azimuth in degrees lies in.

    >>> compass(337.5), compass(22.4), compass(180.0)
    ('N', 'N', 'S')
    """
    return COMPASS[int((angle + 22.5) % 360.0 // 45.0)]
