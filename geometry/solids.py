"""Closed solids in local axes: prisms extruded along the depth where they are, meshes where they are not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.frames import LocalAxes

ROUNDING = 10
"""Decimals of a metre kept in sections: noise of turning and adding goes, no building dimension does."""
HAIR = 1e-8
"""m; outlines show nothing finer."""


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


def moved(mesh: Mesh, axes: LocalAxes) -> Mesh:
    """A world mesh in the local axes."""
    return Mesh(axes.to_local(mesh.vertices), mesh.faces)


def moved_to_world(mesh: Mesh, axes: LocalAxes) -> Mesh:
    """A local mesh in the world."""
    return Mesh(axes.to_world(mesh.vertices), mesh.faces)


def bounds(solid: Solid) -> NDArray[np.float64]:
    """Box around a solid: (2, 3) float64, m, rows lowest and highest (x, y, z)."""
    if isinstance(solid, Prism):
        x_min, z_min, x_max, z_max = solid.outline.bounds
        return np.array([[x_min, solid.y_min, z_min], [x_max, solid.y_max, z_max]])
    if len(solid.vertices) == 0:
        return np.full((2, 3), np.nan)
    return np.stack([solid.vertices.min(axis=0), solid.vertices.max(axis=0)])


def boxes_of(solids: Sequence[Solid]) -> NDArray[np.float64]:
    """Boxes around many solids, as `bounds` gives each: (n, 2, 3) float64, m; nan for an empty one."""
    boxes = np.full((len(solids), 2, 3), np.nan)
    prisms = [(row, solid) for row, solid in enumerate(solids) if isinstance(solid, Prism)]
    if prisms:
        rows = [row for row, _ in prisms]
        boxes[rows, :, ::2] = shapely.bounds([prism.outline for _, prism in prisms]).reshape(-1, 2, 2)
        boxes[rows, :, 1] = [(prism.y_min, prism.y_max) for _, prism in prisms]
    meshes = [(row, solid) for row, solid in enumerate(solids) if isinstance(solid, Mesh) and len(solid.vertices)]
    if meshes:
        rows = [row for row, _ in meshes]
        vertices = np.concatenate([mesh.vertices for _, mesh in meshes])
        starts = np.cumsum([0, *(len(mesh.vertices) for _, mesh in meshes[:-1])])
        boxes[rows, 0] = np.minimum.reduceat(vertices, starts, axis=0)
        boxes[rows, 1] = np.maximum.reduceat(vertices, starts, axis=0)
    return boxes


def depth_range(solid: Solid) -> tuple[float, float]:
    """Nearest and farthest depth y, m."""
    if isinstance(solid, Prism):
        return solid.y_min, solid.y_max
    return float(solid.vertices[:, 1].min()), float(solid.vertices[:, 1].max())


def volume(solid: Solid) -> float:
    """Volume in m3. For a mesh the signed tetrahedra are summed, so its triangles must all point one way."""
    if isinstance(solid, Prism):
        return solid.volume
    corners = solid.vertices[solid.faces] - solid.vertices.mean(axis=0)
    return abs(float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum())) / 6.0


def extruded(outline: Polygon, y_min: float, y_max: float) -> Mesh:
    """The closed mesh of a prism, its triangles pointing outwards.

    outline: section in (x, z), m, holes allowed.
    """
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.orient_polygons(outline)))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    spin = doubled_areas(corners)
    corners = np.where((spin > 0)[:, None, None], corners, corners[:, ::-1])  # anticlockwise in (x, z) now
    points, index = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    cap = index.reshape(-1, 3)
    edges = np.concatenate([cap[:, [0, 1]], cap[:, [1, 2]], cap[:, [2, 0]]])
    keys = edges[:, 0] * len(points) + edges[:, 1]
    edges = edges[~np.isin(keys, edges[:, 1] * len(points) + edges[:, 0])]
    n = len(points)
    vertices = np.concatenate(
        [np.insert(points, 1, y_min, axis=1), np.insert(points, 1, y_max, axis=1)]
    )  # near cap first, then far cap
    a, b = edges[:, 0], edges[:, 1]
    faces = np.concatenate(
        [cap, cap[:, ::-1] + n, np.stack([b, a, a + n], axis=1), np.stack([b, a + n, b + n], axis=1)]
    )
    return Mesh(vertices, faces)


def as_mesh(solid: Solid) -> Mesh:
    """A solid as one closed mesh (the parts of a prism's multipolygon become shells of it)."""
    if isinstance(solid, Mesh):
        return solid
    shells = [extruded(part, solid.y_min, solid.y_max) for part in polygons_of(solid.outline)]
    starts = np.cumsum([0, *(len(shell.vertices) for shell in shells)])
    return Mesh(
        np.concatenate([shell.vertices for shell in shells]),
        np.concatenate([shell.faces + start for shell, start in zip(shells, starts, strict=False)]),
    )


def doubled_areas(triangles: NDArray[np.float64]) -> NDArray[np.float64]:
    """Twice the signed area of plane triangles (m, 3, 2), positive where they run anticlockwise. (m,) float64."""
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    return first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]


def polygons_of(shape: Any) -> list[Polygon]:
    """The polygons with an area in any geometry, in order; other parts are dropped."""
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shape]
    parts = shapely.get_parts(shape, return_index=False)
    found: list[Polygon] = []
    for part in parts:
        if isinstance(part, Polygon):
            if not part.is_empty:
                found.append(part)
        elif hasattr(part, "geoms"):
            found.extend(polygons_of(part))
    return found


def areal(shape: Any) -> Polygon | MultiPolygon:
    """Only the polygons of a geometry, as one polygon or multipolygon."""
    if isinstance(shape, Polygon | MultiPolygon):
        return shape
    parts = polygons_of(shape)
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def depth_breaks(mesh: Mesh, coincident: float) -> NDArray[np.float64]:
    """The depths at which a mesh has a vertex, ascending, those nearer than `coincident` merged. (n,) float64, m."""
    return merged_values(mesh.vertices[np.unique(mesh.faces), 1], coincident)


def merged_values(values: NDArray[np.float64], coincident: float) -> NDArray[np.float64]:
    """Sorted values with every run of neighbours nearer than `coincident` replaced by its first."""
    ordered = np.unique(values)
    if len(ordered) == 0:
        return ordered
    return ordered[np.concatenate([[True], np.diff(ordered) > coincident])]


def slanted_faces(mesh: Mesh, coincident: float) -> NDArray[np.bool_]:
    """Triangles neither upright along y nor in one depth: those that make the section vary. (m,) bool."""
    corners = mesh.vertices[mesh.faces]
    spread = np.ptp(corners[:, :, 1], axis=1)
    flat = corners[:, :, [0, 2]]
    projected = np.abs(doubled_areas(flat))
    longest = np.max(np.linalg.norm(flat - np.roll(flat, 1, axis=1), axis=2), axis=1)
    return (spread > coincident) & (projected > coincident * np.maximum(longest, coincident))


def is_constant_between(mesh: Mesh, low: float, high: float, coincident: float) -> bool:
    """True where no slanted triangle reaches into the open depth interval, so that every section there is the same."""
    slanted = slanted_faces(mesh, coincident)
    if not slanted.any():
        return True
    depths = mesh.vertices[mesh.faces[slanted], 1]
    return not bool(((depths.min(axis=1) < high - coincident) & (depths.max(axis=1) > low + coincident)).any())


def to_prism(mesh: Mesh, coincident: float = 1e-6) -> Prism | None:
    """The same solid as a prism along y, or None where it is none (tapered, stepped, open or empty)."""
    if len(mesh.faces) == 0:
        return None
    box = _as_box(mesh, coincident)
    if box is not None:
        return box
    breaks = depth_breaks(mesh, coincident)
    if len(breaks) != 2 or slanted_faces(mesh, coincident).any():
        return None
    outline = section(mesh, float(breaks.mean()))
    if outline.is_empty or not isinstance(outline, Polygon):
        return None
    return Prism(outline, float(breaks[0]), float(breaks[-1]))


def _as_box(mesh: Mesh, coincident: float) -> Prism | None:
    """An upright box, told from its eight corners; most members and openings are one."""
    if len(mesh.vertices) != 8 or len(mesh.faces) != 12:
        return None
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    at_low, at_high = mesh.vertices - low <= coincident, high - mesh.vertices <= coincident
    if not (at_low ^ at_high).all() or len(set((at_high @ np.array([1, 2, 4])).tolist())) != 8:
        return None
    x_min, z_min, x_max, z_max = np.round([low[0], low[2], high[0], high[2]], ROUNDING).tolist()
    return Prism(shapely.box(x_min, z_min, x_max, z_max), float(low[1]), float(high[1]))


def section(solid: Solid, y: float, *, distinct: bool = False) -> Polygon | MultiPolygon:
    """Section at a depth, in (x, z), m; an empty polygon where the solid does not reach.

    The depth should lie strictly between vertices of a mesh. Nesting is settled by even-odd parity, so triangles may
    point either way. Loops that do not close are dropped (the mesh is open there).
    distinct: the mesh is known to give no face twice (see `distinct_faces`).
    """
    if isinstance(solid, Prism):
        return solid.outline if solid.y_min < y < solid.y_max else Polygon()
    above = solid.vertices[:, 1] > y
    corner_above = above[solid.faces]
    crossing = solid.faces[corner_above.any(axis=1) & ~corner_above.all(axis=1)]
    if len(crossing) == 0:
        return Polygon()
    crossing = crossing if distinct else _unique_faces(crossing)
    ends = _edge_crossings(crossing, above)
    low, high = np.minimum(ends[..., 0], ends[..., 1]), np.maximum(ends[..., 0], ends[..., 1])
    start, stop = solid.vertices[low], solid.vertices[high]
    # Each edge is always run from its lower vertex number, so both of its triangles get the same point bit for bit.
    share = (y - start[..., 1]) / (stop[..., 1] - start[..., 1])
    points = np.round(start[..., [0, 2]] + share[..., None] * (stop[..., [0, 2]] - start[..., [0, 2]]), ROUNDING)
    long = np.abs(points[:, 0] - points[:, 1]).max(axis=1) > 0.0
    points, crossing = points[long], crossing[long]
    if len(points) == 0:
        return Polygon()
    if _runs_plainly(points):
        shape = _area_within(shapely.multilinestrings(np.asarray(shapely.linestrings(points), dtype=object)))
    else:
        # Shells that touch are cut one by one: what four of them enclose between them is none of them.
        owners = _shells(solid)[crossing[:, 0]]
        groups = [points[owners == owner] for owner in np.unique(owners)]
        lines = [shapely.union_all(np.asarray(shapely.linestrings(group), dtype=object)) for group in groups]
        shape = areal(shapely.union_all([_area_within(line) for line in lines]))
    return without_idle_points(shape)


def _area_within(lines: Any) -> Polygon | MultiPolygon:
    """What closed lines hold, by even-odd parity; where they cross each other, all that any of them holds."""
    shape = areal(shapely.build_area(lines))
    if shape.is_valid:
        return shape
    return areal(shapely.union_all([areal(shapely.make_valid(part)) for part in polygons_of(shape)]))


def _shells(mesh: Mesh) -> NDArray[np.int64]:
    """For each vertex the number of the shell that it belongs to: (n,) int64."""
    labels = np.arange(len(mesh.vertices))
    while True:
        least = labels[mesh.faces].min(axis=1)
        spread = labels.copy()
        np.minimum.at(spread, mesh.faces.ravel(), np.repeat(least, 3))
        spread = spread[spread]
        if np.array_equal(spread, labels):
            return labels
        labels = spread


def _runs_plainly(points: NDArray[np.float64]) -> bool:
    """Whether lines (n, 2, 2) meet two and two at every end. Where faces lie on faces (a body given with both sides,
    shells that share a side) they do not, and lie on each other in pieces."""
    ends = np.sort(points[..., 0].ravel() + 1j * points[..., 1].ravel())
    return bool((ends[0::2] == ends[1::2]).all() and (ends[1:-1:2] != ends[2::2]).all())


def without_idle_points(shape: Polygon | MultiPolygon, tolerance: float = 1e-10) -> Polygon | MultiPolygon:
    """The same shape without points on straight edges (a triangulated side leaves one where its diagonal was cut).

    tolerance: m that a point may lie off; far below any building part, it moves an area by less than that times the
    outline.
    """
    # normalize() starts each ring at its lowest corner, so that the fixed first point is never an idle one.
    return areal(shapely.simplify(shapely.normalize(shape), tolerance, preserve_topology=False))


def distinct_faces(mesh: Mesh) -> Mesh:
    """The mesh without faces that name the same three vertices again; the same object where there are none."""
    faces = _unique_faces(mesh.faces)
    return mesh if len(faces) == len(mesh.faces) else Mesh(mesh.vertices, faces)


def _unique_faces(faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Faces without those that name the same three vertices again (surfaces given with both sides)."""
    first: dict[tuple[int, ...], int] = {}
    for row, corners in enumerate(map(tuple, np.sort(faces, axis=1).tolist())):
        first.setdefault(corners, row)
    return faces if len(first) == len(faces) else faces[list(first.values())]


def _edge_crossings(faces: NDArray[np.int64], above: NDArray[np.bool_]) -> NDArray[np.int64]:
    """For triangles that a plane parts, the two edges it crosses: (m, 2, 2) vertex numbers."""
    side = above[faces]
    lone_above = side.sum(axis=1) == 1
    lone = np.where(lone_above, np.argmax(side, axis=1), np.argmin(side, axis=1))
    rows = np.arange(len(faces))
    apex = faces[rows, lone]
    left, right = faces[rows, (lone + 1) % 3], faces[rows, (lone + 2) % 3]
    return np.stack([np.stack([apex, left], axis=1), np.stack([apex, right], axis=1)], axis=1)


def silhouette(solid: Solid) -> Polygon | MultiPolygon:
    """Projection onto the elevation (x, z), m: what hides the plane behind when looked at along y."""
    if isinstance(solid, Prism):
        return solid.outline
    corners = solid.vertices[solid.faces][:, :, [0, 2]]
    size = np.abs(doubled_areas(corners))
    if not (size > 0.0).any():
        return Polygon()
    triangles = shapely.polygons(corners[size > 1e-12])
    return areal(shapely.union_all(triangles))
