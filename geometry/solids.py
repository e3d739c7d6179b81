"""Closed solids in local axes: prisms extruded along the depth where they are, meshes where they are not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """A solid of one constant section between two depths.

    outline: section in the plane (x, z), m.
    y_min, y_max: m.
    """

    outline: Polygon | MultiPolygon
    y_min: float
    y_max: float

    @property
    def volume(self) -> float:
        """m3"""
        return float(self.outline.area) * (self.y_max - self.y_min)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """A closed polyhedron as triangles.

    vertices: (n, 3) float64, m. faces: (m, 3) int64 indices into vertices.
    Triangles may point either way: sections use even-odd parity, never the orientation.
    """

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]

    def __post_init__(self) -> None:
        vertices = np.array(self.vertices, dtype=np.float64).reshape(-1, 3)
        faces = np.array(self.faces, dtype=np.int64).reshape(-1, 3)
        vertices.flags.writeable = False
        faces.flags.writeable = False
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)


Solid = Prism | Mesh
