"""Faces of solids that lie across the depth, or nearly: between two of them that stand close a gap is a sliver."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import Mesh, Prism, Solid, areal, doubled_areas, merged_values

LEVEL = np.cos(np.radians(6.0))
"""A face that lies no more than 6 degrees out counts as level: a stud is set that far out at worst, while a round pipe
bends away sooner (our rule)."""


@dataclass(frozen=True, slots=True, eq=False)
class LevelFaces:
    """Where level faces lie, and what bends away from them.

    depths: (n,) float64, m, of the ends of prisms and of the corners of level faces. steep: (m, 3, 3) float64, m: the
    triangles of faces that neither are level nor run along the depth.
    """

    depths: NDArray[np.float64]
    steep: NDArray[np.float64]

    def steep_between(self, low: float, high: float) -> Polygon | MultiPolygon:
        """What the steep faces that reach between two depths, m, cover in elevation (x, z)."""
        depths = self.steep[:, :, 1]
        reaching = self.steep[(depths.min(axis=1) < high) & (depths.max(axis=1) > low)] if len(depths) else self.steep
        return areal(shapely.union_all(shapely.polygons(reaching[:, :, ::2]))) if len(reaching) else Polygon()


def near_level(mesh: Mesh) -> NDArray[np.bool_]:
    """Which triangles of a mesh lie across the depth, or nearly: (m,) bool."""
    corners = mesh.vertices[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    return (size > 0.0) & (np.abs(normals[:, 1]) >= LEVEL * size)


def level_faces(solids: Sequence[Solid], coincident: float) -> LevelFaces:
    """The level faces of solids in one set of local axes. coincident: m, depths nearer than this are the same."""
    depths = [np.array([(solid.y_min, solid.y_max) for solid in solids if isinstance(solid, Prism)]).ravel()]
    steep = [np.empty((0, 3, 3))]
    for solid in solids:
        if not isinstance(solid, Mesh) or not len(solid.faces):
            continue
        corners = solid.vertices[solid.faces]
        level = (np.ptp(corners[:, :, 1], axis=1) <= coincident) | near_level(solid)
        depths.append(corners[level][:, :, 1].ravel())
        # What shows in elevation by less than a hair runs along the depth.
        longest = np.ptp(corners, axis=1).max(axis=1)
        shown = np.abs(doubled_areas(corners[:, :, ::2])) > coincident * np.maximum(longest, coincident)
        steep.append(corners[~level & shown])
    return LevelFaces(merged_values(np.concatenate(depths), coincident), np.concatenate(steep))
