"""Where to cut along the depth: planes at which anything changes, and the depths between them at which to look.

Between two depths at which corners, edges or faces of a set of closed polyhedra meet, every corner of every section,
and of every union, difference or intersection of sections, runs along a straight line as the depth changes. The area of
any such combination is therefore a polynomial of degree two at most in the depth, which Gauss's rule with two points
integrates exactly (Gauss-Legendre, exact to degree three). Where all sections are constant one look in the middle is
enough. Planes are set at all corners and wherever an edge passes through a face; the rarer depths at which three faces
of three solids meet in a point are found afterwards: `departure_from_quadratic` tells which slabs must be halved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import Mesh, Prism, Solid, bounds, depth_breaks, merged_values, slanted_faces
from geometry.tolerances import Tolerances

_GAUSS = 0.5 - 0.5 / np.sqrt(3.0)
_PAIRS_AT_ONCE = 2_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Depths at which sections are taken.

    depths: (n,) float64, m, ascending. weights: (n,) float64, m: the depth that each look stands for (0 for a look that
    only shows how far the shapes reach). slabs: (n,) int64: number of the slab that each look lies in.
    planes: (s + 1,) float64, m: the slabs' borders. exact: False where planes had to be thinned out.
    coincident: m, the tolerance they were made with.
    """

    depths: NDArray[np.float64]
    weights: NDArray[np.float64]
    slabs: NDArray[np.int64]
    planes: NDArray[np.float64]
    exact: bool
    coincident: float


def looks_between(
    solids: Sequence[Solid], low: float, high: float, tolerances: Tolerances, *, most_planes: int = 400
) -> Looks:
    """Looks that integrate every boolean combination of the solids' sections over low <= y <= high.

    The result is exact for polyhedra unless more than `most_planes` planes would be needed (finely faceted bodies);
    then planes are spread evenly among them and `exact` is False.
    """
    coincident = tolerances.coincident
    meshes = [solid for solid in solids if isinstance(solid, Mesh) and len(solid.faces)]
    values = [np.array([low, high])]
    values += [np.array([solid.y_min, solid.y_max]) for solid in solids if isinstance(solid, Prism)]
    values += [depth_breaks(mesh, coincident) for mesh in meshes]
    slanted = [(mesh, mask) for mesh in meshes if (mask := slanted_faces(mesh, coincident)).any()]
    if slanted:
        values.append(_crossing_depths(slanted, solids, coincident))
    planes = _planes(np.concatenate(values), low, high, coincident)
    exact = len(planes) <= most_planes
    if not exact:
        planes = planes[np.unique(np.linspace(0, len(planes) - 1, most_planes).round().astype(np.int64))]
    varying = _varying(planes, slanted, coincident)
    return _looks(planes, varying, exact, coincident)


def flat_depths(solids: Sequence[Solid], coincident: float) -> NDArray[np.float64]:
    """Depths at which some solid has a face across the depth, such as the end of a prism. (n,) float64, m."""
    values = [np.array([solid.y_min, solid.y_max]) for solid in solids if isinstance(solid, Prism)]
    for solid in solids:
        if isinstance(solid, Mesh) and len(solid.faces):
            depths = solid.vertices[solid.faces][:, :, 1]
            values.append(depths[np.ptp(depths, axis=1) <= coincident, 0])
    return merged_values(np.concatenate(values), coincident) if values else np.empty(0)


def departure_from_quadratic(looks: Looks, areas: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much the integral over each slab may be wrong because the areas there are no quadratic of the depth.

    areas: (n,) float64, m2, one per look. Returns (s,) float64, m3. A slab with four looks is tested by its third
    divided difference, which is zero for a quadratic; a slab with one look is constant and exact.
    """
    found = np.zeros(len(looks.planes) - 1)
    for slab in np.flatnonzero(np.bincount(looks.slabs, minlength=len(found)) == 4).tolist():
        here = looks.slabs == slab
        depths, values = looks.depths[here], areas[here]
        thickness = float(looks.planes[slab + 1] - looks.planes[slab])
        weights = [1.0 / np.prod(depths[n] - np.delete(depths, n)) for n in range(4)]
        found[slab] = abs(float(values @ np.array(weights))) * thickness**3 * thickness
    return found


def halved(looks: Looks, slabs: NDArray[np.bool_]) -> Looks:
    """The same looks with every slab named by the mask (s,) cut in two."""
    middles = 0.5 * (looks.planes[:-1] + looks.planes[1:])[slabs]
    varying = np.bincount(looks.slabs, minlength=len(slabs)) > 1
    starts = np.concatenate([looks.planes[:-1], middles])
    kinds = np.concatenate([varying, varying[slabs]])
    order = np.argsort(starts, kind="stable")
    planes = np.concatenate([starts[order], looks.planes[-1:]])
    return _looks(planes, kinds[order], looks.exact, looks.coincident)


def _planes(values: NDArray[np.float64], low: float, high: float, coincident: float) -> NDArray[np.float64]:
    inside = values[(values > low + coincident) & (values < high - coincident)]
    return np.concatenate([[low], merged_values(inside, coincident), [high]])


def _varying(
    planes: NDArray[np.float64], slanted: Sequence[tuple[Mesh, NDArray[np.bool_]]], coincident: float
) -> NDArray[np.bool_]:
    """Which slabs hold a slanted face of any mesh: (s,) bool."""
    varying = np.zeros(len(planes) - 1, dtype=bool)
    for mesh, mask in slanted:
        depths = mesh.vertices[mesh.faces[mask], 1]
        starts, ends = depths.min(axis=1)[:, None], depths.max(axis=1)[:, None]
        varying |= ((starts < planes[None, 1:] - coincident) & (ends > planes[None, :-1] + coincident)).any(axis=0)
    return varying


def _looks(planes: NDArray[np.float64], varying: NDArray[np.bool_], exact: bool, coincident: float) -> Looks:
    depths: list[float] = []
    weights: list[float] = []
    slabs: list[int] = []
    for number, (near, far) in enumerate(zip(planes[:-1].tolist(), planes[1:].tolist(), strict=True)):
        thickness = far - near
        if not varying[number]:
            places, shares = [0.5], [1.0]
        else:
            # The outer two carry no weight: they show how far the shapes reach at the slab's faces.
            edge = min(coincident / thickness, 0.1)
            places, shares = [edge, _GAUSS, 1.0 - _GAUSS, 1.0 - edge], [0.0, 0.5, 0.5, 0.0]
        depths += [near + place * thickness for place in places]
        weights += [share * thickness for share in shares]
        slabs += [number] * len(places)
    return Looks(np.array(depths), np.array(weights), np.array(slabs, dtype=np.int64), planes, exact, coincident)


def _crossing_depths(
    slanted: Sequence[tuple[Mesh, NDArray[np.bool_]]], solids: Sequence[Solid], coincident: float
) -> NDArray[np.float64]:
    """Depths at which an edge of one solid passes through a face of another, where either of them varies. (n,) m."""
    found: list[NDArray[np.float64]] = []
    boxes = np.array([bounds(solid) for solid in solids])
    for mesh, mask in slanted:
        # Only the slanted faces move with the depth; what lies clear of them meets nothing that moves.
        moving = mesh.vertices[mesh.faces[mask]]
        low, high = moving.min(axis=(0, 1)) - coincident, moving.max(axis=(0, 1)) + coincident
        near = np.flatnonzero(((boxes[:, 0] <= high) & (boxes[:, 1] >= low)).all(axis=1)).tolist()
        others = [solids[n] for n in near if solids[n] is not mesh]
        if not others:
            continue
        edges, faces = _sides([solid for solid in others if isinstance(solid, Prism)])
        meshes = [solid for solid in others if isinstance(solid, Mesh)]
        faces = np.concatenate([faces, *(other.vertices[other.faces] for other in meshes)])
        edges = np.concatenate([edges, *(_edges(other.vertices, other.faces) for other in meshes)])
        found.append(_edges_through_faces(_edges(mesh.vertices, mesh.faces[mask]), faces))
        found.append(_edges_through_faces(edges, moving))
    return np.concatenate(found) if found else np.empty(0)


def _sides(prisms: Sequence[Prism]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Edges along the depth (e, 2, 3) and side faces as triangles (f, 3, 3) of prisms, m."""
    if not prisms:
        return np.empty((0, 2, 3)), np.empty((0, 3, 3))
    rings, owners = shapely.get_rings(np.array([prism.outline for prism in prisms], dtype=object), return_index=True)
    points, ring_of = shapely.get_coordinates(rings, return_index=True)
    spans = np.array([(prism.y_min, prism.y_max) for prism in prisms])[owners[ring_of]]
    near = np.stack([points[:, 0], spans[:, 0], points[:, 1]], axis=1)
    far = np.stack([points[:, 0], spans[:, 1], points[:, 1]], axis=1)
    on = np.flatnonzero(ring_of[1:] == ring_of[:-1])
    a, b, c, d = near[on], near[on + 1], far[on + 1], far[on]
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return np.stack([near, far], axis=1), faces


def _edges(vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> NDArray[np.float64]:
    """Distinct edges at which a surface really turns: (n, 2, 3) m. Diagonals inside a flat face change no section."""
    corners = vertices[faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    pairs = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owners = np.tile(np.arange(len(faces)), 3)
    distinct, index, counts = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
    order = np.argsort(index.reshape(-1), kind="stable")
    starts = np.cumsum(counts) - counts
    first, last = owners[order[starts]], owners[order[starts + counts - 1]]
    flat = (counts == 2) & (np.abs((normals[first] * normals[last]).sum(axis=1)) > 1.0 - 1e-12)
    return vertices[distinct[~flat]]


def _edges_through_faces(edges: NDArray[np.float64], faces: NDArray[np.float64]) -> NDArray[np.float64]:
    """Depths y at which edges (e, 2, 3) pass through triangles (f, 3, 3), borders included. (n,) m."""
    rising = np.ptp(edges[:, :, 1], axis=1) > 0.0  # a level edge lies in a plane that is there already
    edges = edges[rising]
    step = max(1, _PAIRS_AT_ONCE // max(1, len(faces)))
    found = [_pairwise(edges[start : start + step], faces) for start in range(0, len(edges), step)]
    return np.concatenate(found) if found else np.empty(0)


def _pairwise(edges: NDArray[np.float64], faces: NDArray[np.float64]) -> NDArray[np.float64]:
    """Segment against triangle by the determinant form, all pairs. A slack of 1e-9 keeps hits on borders."""
    origin, direction = edges[:, None, 0], (edges[:, 1] - edges[:, 0])[:, None]
    first, second = (faces[:, 1] - faces[:, 0])[None], (faces[:, 2] - faces[:, 0])[None]
    normal = np.cross(first, second)
    determinant = -(direction * normal).sum(axis=2)
    scale = np.linalg.norm(direction, axis=2) * np.linalg.norm(normal, axis=2)
    usable = np.abs(determinant) > 1e-12 * scale
    determinant = np.where(usable, determinant, 1.0)
    offset = origin - faces[None, :, 0]
    along = (offset * normal).sum(axis=2) / determinant
    turned = np.cross(offset, direction)
    u = (second * turned).sum(axis=2) / determinant
    v = -(first * turned).sum(axis=2) / determinant
    slack = 1e-9
    hit = usable & (along >= -slack) & (along <= 1 + slack) & (u >= -slack) & (v >= -slack) & (u + v <= 1 + slack)
    depth = np.broadcast_to(edges[:, None, 0, 1], hit.shape) + along * direction[..., 1]
    return depth[hit]
