"""Upper and lower edge of shapes in elevation, as straight pieces with exact breaks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import merged_values, polygons_of

SAME_X = 1e-9
"""m. Breaks nearer than this are one: it is far below any modelling and above rounding."""
MOST_CELLS = 4_000_000
"""Size of the largest table held at once: intervals times edges."""

# The outline of a frame is asked for its edges from many sides, hence the memory of the last ones below.


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """The highest edge over every x.

    x: (m + 1,) float64, m, ascending breaks. left, right: (m,) float64, m, height at both ends of each interval;
    nan where there is nothing.
    """

    x: NDArray[np.float64]
    left: NDArray[np.float64]
    right: NDArray[np.float64]

    def at(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights at any x, (n,) m; beyond the ends the height of the end itself."""
        row = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, len(self.left) - 1)
        share = np.clip((x - self.x[row]) / (self.x[row + 1] - self.x[row]), 0.0, 1.0)
        return self.left[row] + share * (self.right[row] - self.left[row])

    def mirrored(self) -> Envelope:
        """The same seen from behind: x reversed."""
        return Envelope(-self.x[::-1], self.right[::-1], self.left[::-1])

    def negated(self) -> Envelope:
        """The same upside down: z reversed."""
        return Envelope(self.x, -self.left, -self.right)


@lru_cache(maxsize=64)
def upper_envelope(shape: shapely.Geometry) -> Envelope:
    """Highest edge of the polygons of a shape whose parts do not overlap (a union). Raises ValueError if empty."""
    return _envelope(_edges(shape), 1.0)


@lru_cache(maxsize=64)
def lower_envelope(shape: shapely.Geometry) -> Envelope:
    """Lowest edge of the polygons of a shape whose parts do not overlap (a union). Raises ValueError if empty."""
    return _envelope(_edges(shape), -1.0)


def _edges(shape: shapely.Geometry) -> NDArray[np.float64]:
    """Edges that are not plumb, from left to right: (n, 4) float64, x, z, x, z in m."""
    rings = [np.asarray(part.exterior.coords) for part in polygons_of(shape)]
    if not rings:
        raise ValueError("an empty shape has no envelope")
    edges = np.concatenate([np.concatenate([ring[:-1, :2], ring[1:, :2]], axis=1) for ring in rings])
    edges = edges[np.abs(edges[:, 2] - edges[:, 0]) > SAME_X]
    backwards = edges[:, 2] < edges[:, 0]
    edges[backwards] = edges[backwards][:, [2, 3, 0, 1]]
    return edges


def _envelope(edges: NDArray[np.float64], sign: float) -> Envelope:
    x = merged_values(edges[:, [0, 2]].ravel(), SAME_X)
    middle = (x[:-1] + x[1:]) / 2.0
    best = np.full(len(middle), -1)
    step = max(1, MOST_CELLS // len(edges))
    slope = (edges[:, 3] - edges[:, 1]) / (edges[:, 2] - edges[:, 0])
    for start in range(0, len(middle), step):
        part = middle[start : start + step, None]
        height = sign * (edges[:, 1] + (part - edges[:, 0]) * slope)
        height[(part < edges[:, 0]) | (part > edges[:, 2])] = -np.inf
        found = np.argmax(height, axis=1)
        best[start : start + step] = np.where(np.isfinite(height[np.arange(len(found)), found]), found, -1)
    left = edges[best, 1] + (x[:-1] - edges[best, 0]) * slope[best]
    right = edges[best, 1] + (x[1:] - edges[best, 0]) * slope[best]
    left[best < 0] = np.nan
    right[best < 0] = np.nan
    return Envelope(x, left, right)
