"""Solids drawn a hair out of true, set straight: faces that rounding has tilted lie across the depth again.

A model file gives points to so many decimals and directions to fewer, so the face of a stud in a wall that stands askew
comes out tilted by hundredths of a millimetre. Taken as it is, the wedge before it would join two bays, and every
member would bring depths of its own. Depths that lie close together, and far from all others for how close, are one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geometry.level_faces import near_level
from geometry.solids import Mesh

OUT_OF_TRUE = 3e-4
"""m; depths of one face are no further apart. Lumber is neither sawn nor set truer, and the thinnest sheet of which
studs are rolled is thicker (common practice, no published source)."""
_CLEAR = 4.0
"""Depths that are one keep so many times their spread from every other. The corners of a circle, whose distances from
its tangent grow by three to one at least, so never become one; nor do the two faces of a sheet."""
_EXACT = 1e-9
"""m; what turning a point leaves of a zero."""
_MARGIN = 1e-7
"""m; limits are met with this to spare, so that steps of just that size fall out alike however the model is turned."""
_MOST_CORNERS = 400
"""Solids with more corners are no plain pieces of lumber and are not paired corner by corner."""


def trued(meshes: Sequence[Mesh], planes: Sequence[float] = ()) -> list[Mesh]:
    """Meshes in wall axes with the depths of their level faces made one where they nearly are, in each and among all.

    planes: depths to keep to where faces nearly lie there, m. A solid whose near and far corners then stand behind each
    other to within `OUT_OF_TRUE` becomes an exact prism. Nothing is moved by more than that, for its own face and again
    for those of all; a mesh of which nothing moves is the same object.
    """
    own = [_own_depths(mesh) for mesh in meshes]
    firm = np.asarray(planes, dtype=np.float64)
    levels = np.unique(np.concatenate([firm, *(depths[on_level] for depths, on_level in own)]))
    shared = dict(zip(levels.tolist(), _at_one_depth(levels, firm).tolist(), strict=True))
    result: list[Mesh] = []
    for mesh, (depths, _) in zip(meshes, own, strict=True):
        points = mesh.vertices.copy()
        points[:, 1] = [shared.get(depth, depth) for depth in depths.tolist()]
        _pair(points)
        moved = len(points) > 0 and float(np.abs(points - mesh.vertices).max()) > _EXACT
        result.append(Mesh(points, mesh.faces) if moved else mesh)
    return result


def _own_depths(mesh: Mesh) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Depth of each corner with those of one level face made one, (n,) float64, m, and whether it is one of such a
    face, (n,) bool. Corners that only chance to lie at nearly one depth, as on two round pipes, keep theirs."""
    depths = mesh.vertices[:, 1]
    level = np.zeros(len(depths), dtype=bool)
    tilted = mesh.faces[near_level(mesh)]
    made = _at_one_depth(depths)
    flat = tilted[np.ptp(made[tilted], axis=1) == 0.0]
    level[flat.ravel()] = True
    return np.where(np.isin(made, made[level]), made, depths), level


def _at_one_depth(values: NDArray[np.float64], firm: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
    """Depths (n,) with those of one face replaced by one, m: a firm one where it is among them."""
    levels, index = np.unique(values, return_inverse=True)
    placed = levels.copy()
    todo = [(np.arange(len(levels)), OUT_OF_TRUE)]
    while todo:
        rows, reach = todo.pop()
        for group in np.split(rows, np.flatnonzero(np.diff(levels[rows]) > reach + _MARGIN) + 1):
            if len(group) < 2:
                continue
            spread = float(levels[group[-1]] - levels[group[0]])
            before = levels[group[0]] - levels[group[0] - 1] if group[0] > 0 else np.inf
            after = levels[group[-1] + 1] - levels[group[-1]] if group[-1] + 1 < len(levels) else np.inf
            if spread <= OUT_OF_TRUE + _MARGIN and min(before, after) >= _CLEAR * spread - _MARGIN:
                placed[group] = _level(levels[group], firm)
            elif reach > _MARGIN:
                todo.append((group, min(reach, spread) / 2.0))
    return placed[index.reshape(-1)]


def _level(levels: NDArray[np.float64], firm: NDArray[np.float64] | None) -> float:
    """One depth for all, (n,) m, ascending: the firm one among them, else half-way, however many there are of each."""
    kept = levels[:0] if firm is None else levels[np.isin(levels, firm)]
    return float(kept[0]) if len(kept) else 0.5 * float(levels[0] + levels[-1])


def _pair(points: NDArray[np.float64]) -> None:
    """Sets near and far corners (n, 3) behind each other, in place, where all of them nearly are."""
    depths = np.unique(points[:, 1])
    if len(depths) != 2 or len(points) > _MOST_CORNERS:
        return
    near, far = (np.flatnonzero(points[:, 1] == depth) for depth in depths)
    apart = np.abs(points[near][:, None, ::2] - points[far][None, :, ::2]).max(axis=2)
    partner = apart.argmin(axis=1)
    if len(near) != len(far) or len(np.unique(partner)) != len(far):
        return
    if float(apart[np.arange(len(near)), partner].max()) > OUT_OF_TRUE + _MARGIN:
        return
    middle = 0.5 * (points[near][:, ::2] + points[far[partner]][:, ::2])
    points[near[:, None], [0, 2]] = middle
    points[far[partner][:, None], [0, 2]] = middle
