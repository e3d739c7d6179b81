"""Where to cut along the depth: planes at which anything changes, and the depths between them at which to look.

Between two depths at which corners, edges or faces of a set of closed polyhedra meet, every corner of every section,
and of every union, difference or intersection of sections, runs along a straight line as the depth changes. The area of
any such combination is therefore a polynomial of degree two at most in the depth, which Gauss's rule with two points
integrates exactly (Gauss-Legendre, exact to degree three). Where all sections are constant one look in the middle is
enough. Planes are set at all corners and wherever an edge passes through a face; the rarer depths at which three faces
of three solids meet in a point are found afterwards, and so are those of a round body's many planes that are not needed
at all: `doubts` tells which slabs have to be cut in two.
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
_FEW = 16
"""A mesh with corners at no more depths than this is plain: all its planes are cut. Of all the others' planes so many
are cut first. A round pipe of 30 facets is still plain."""
_MOST_CROSSINGS = 200
"""More depths at which plain solids meet are cut only as far as needed."""


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Depths at which sections are taken.

    depths: (n,) float64, m, ascending. weights: (n,) float64, m: the depth that each look stands for (0 for a look that
    only shows how far the shapes reach, or how well the others stand for the slab). slabs: (n,) int64: number of the
    slab that each look lies in. planes: (s + 1,) float64, m: the slabs' borders. spare: (k,) float64, m, ascending:
    depths of corners that are no borders. exact: False where the areas are not known to be integrated closely enough.
    coincident: m, the tolerance they were made with.
    """

    depths: NDArray[np.float64]
    weights: NDArray[np.float64]
    slabs: NDArray[np.int64]
    planes: NDArray[np.float64]
    spare: NDArray[np.float64]
    exact: bool
    coincident: float


def looks_between(solids: Sequence[Solid], low: float, high: float, tolerances: Tolerances) -> Looks:
    """Looks that integrate every boolean combination of the solids' sections over low <= y <= high.

    Where `spare` is empty the result is exact for polyhedra but for points where three faces meet.
    """
    coincident = tolerances.coincident
    meshes = [solid for solid in solids if isinstance(solid, Mesh) and len(solid.faces)]
    slanted = [(mesh, mask) for mesh in meshes if (mask := slanted_faces(mesh, coincident)).any()]
    if not slanted:
        planes = _planes(np.concatenate([[low, high], *_flat(solids, coincident)]), low, high, coincident)
        return _looks(planes, np.zeros(len(planes) - 1, dtype=bool), np.empty(0), coincident)
    breaks = [depth_breaks(mesh, coincident) for mesh in meshes]
    plain = {id(mesh) for mesh, depths in zip(meshes, breaks, strict=True) if len(depths) <= _FEW}
    firm = [np.array([low, high]), *_flat(solids, coincident)]
    firm += [depths if len(depths) <= _FEW else depths[[0, -1]] for depths in breaks]
    soft = [np.empty(0), *(depths for depths in breaks if len(depths) > _FEW)]
    # Where a finely faceted body meets others is found as its facets are: by cutting in two where it matters.
    crossings = merged_values(
        _crossing_depths(
            [pair for pair in slanted if id(pair[0]) in plain],
            [solid for solid in solids if isinstance(solid, Prism) or id(solid) in plain],
            coincident,
        ),
        coincident,
    )
    (firm if len(crossings) <= _MOST_CROSSINGS else soft).append(crossings)
    planes = _planes(np.concatenate(firm), low, high, coincident)
    spare = _apart(np.concatenate(soft), planes, coincident)
    chosen = np.unique(np.linspace(0, len(spare) - 1, min(_FEW, len(spare)) + 2).round().astype(np.int64)[1:-1])
    planes, spare = np.sort(np.concatenate([planes, spare[chosen]])), np.delete(spare, chosen)
    return _looks(planes, _varying(planes, slanted, coincident), spare, coincident)


def _flat(solids: Sequence[Solid], coincident: float) -> list[NDArray[np.float64]]:
    ends = [(solid.y_min, solid.y_max) for solid in solids if isinstance(solid, Prism)]
    values = [np.array(ends).ravel()]
    for solid in solids:
        if isinstance(solid, Mesh) and len(solid.faces):
            depths = solid.vertices[solid.faces][:, :, 1]
            values.append(depths[np.ptp(depths, axis=1) <= coincident, 0])
    return values


def doubts(looks: Looks, areas: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much the integral over each slab may be wrong because the areas there are no quadratic of the depth.

    areas: (n,) float64, m2, one per look. Returns (s,) float64, m3. A slab with four looks is tested by its third
    divided difference, which is zero for a quadratic; one with five, which may hide corners, by how far its two Gauss
    points differ from the curve of fourth degree through all five; a slab with one look is constant and exact.
    """
    found = np.zeros(len(looks.planes) - 1)
    counts = np.bincount(looks.slabs, minlength=len(found))
    thickness = np.diff(looks.planes)
    for number in (4, 5):
        slabs = np.flatnonzero(counts == number)
        if not len(slabs):
            continue
        here = counts[looks.slabs] == number
        values = areas[here].reshape(-1, number)
        places = (looks.depths[here].reshape(-1, number) - looks.planes[slabs, None]) / thickness[slabs, None]
        powers = places[:, None, :] ** np.arange(number)[None, :, None]  # (s, power, look)
        if number == 4:
            rule = np.broadcast_to(np.array([0.0, 0.0, 0.0, 1.0]), places.shape)
            plain = np.zeros(number)
        else:
            rule = np.broadcast_to(1.0 / np.arange(1.0, number + 1.0), places.shape)
            plain = np.array([0.0, 0.5, 0.0, 0.5, 0.0])
        weights = np.linalg.solve(powers, rule[..., None])[..., 0]
        found[slabs] = np.abs(((weights - plain) * values).sum(axis=1)) * thickness[slabs]
    return found


def refined(looks: Looks, slabs: NDArray[np.bool_]) -> Looks:
    """The same looks with every slab named by the mask (s,) cut in two: at the middle one of the spare depths in it,
    else half-way."""
    near, far = looks.planes[:-1][slabs], looks.planes[1:][slabs]
    first, last = np.searchsorted(looks.spare, near), np.searchsorted(looks.spare, far)
    chosen = np.minimum((first + last) // 2, max(len(looks.spare) - 1, 0))
    holds = last > first
    cuts = 0.5 * (near + far)
    cuts[holds] = looks.spare[chosen[holds]]
    varying = np.bincount(looks.slabs, minlength=len(slabs)) > 1
    starts = np.concatenate([looks.planes[:-1], cuts])
    kinds = np.concatenate([varying, varying[slabs]])
    order = np.argsort(starts, kind="stable")
    planes = np.concatenate([starts[order], looks.planes[-1:]])
    return _looks(planes, kinds[order], np.delete(looks.spare, chosen[holds]), looks.coincident)


def _apart(values: NDArray[np.float64], planes: NDArray[np.float64], coincident: float) -> NDArray[np.float64]:
    """Values between the first and the last plane that lie on none, ascending, coincident ones merged."""
    inside = merged_values(values[(values > planes[0]) & (values < planes[-1])], coincident)
    after = np.searchsorted(planes, inside)
    return inside[np.minimum(inside - planes[after - 1], planes[after] - inside) > coincident]


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


def _looks(
    planes: NDArray[np.float64], varying: NDArray[np.bool_], spare: NDArray[np.float64], coincident: float
) -> Looks:
    depths: list[float] = []
    weights: list[float] = []
    slabs: list[int] = []
    hiding = np.diff(np.searchsorted(spare, planes)) > 0
    for number, (near, far) in enumerate(zip(planes[:-1].tolist(), planes[1:].tolist(), strict=True)):
        thickness = far - near
        if not varying[number]:
            places, shares = [0.5], [1.0]
        else:
            # The outer two carry no weight: they show how far the shapes reach at the slab's faces.
            edge = min(coincident / thickness, 0.1)
            places, shares = [edge, _GAUSS, 1.0 - _GAUSS, 1.0 - edge], [0.0, 0.5, 0.5, 0.0]
            if hiding[number]:
                places.insert(2, 0.5)
                shares.insert(2, 0.0)
        depths += [near + place * thickness for place in places]
        weights += [share * thickness for share in shares]
        slabs += [number] * len(places)
    return Looks(np.array(depths), np.array(weights), np.array(slabs, dtype=np.int64), planes, spare, True, coincident)


def _crossing_depths(
    slanted: Sequence[tuple[Mesh, NDArray[np.bool_]]], solids: Sequence[Solid], coincident: float
) -> NDArray[np.float64]:
    """Depths at which an edge of one solid passes through a face of another, where either of them varies. (n,) m."""
    found: list[NDArray[np.float64]] = []
    boxes = np.array([bounds(solid) for solid in solids])
    for mesh, mask in slanted:
        # Only the slanted faces move with the depth; what lies clear of them meets nothing that moves.
        moving = mesh.vertices[mesh.faces[mask]]
        low, high = moving.min(axis=1)[:, None] - coincident, moving.max(axis=1)[:, None] + coincident
        near = np.flatnonzero(((boxes[:, 0] <= high) & (boxes[:, 1] >= low)).all(axis=2).any(axis=0)).tolist()
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
