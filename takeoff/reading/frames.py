"""Tell whether the parts of an assembly make up a wall frame: flat, upright, mostly studs and plates."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import Mesh

MAX_THICKNESS = 0.6
"""m; a double-stud wall with linings and furring stays below."""
MIN_HEIGHT = 0.5
"""m; a knee wall; lower things are curbs and sills."""
LONG = 4.0
"""A member is at least so many times as long as it is wide; a 2x4 block between studs at 16 in is 4.1 times."""
UPRIGHT = 0.97
"""Least |z| of the direction of an upright: it may lean 14 degrees."""
LEVEL = 0.26
"""Greatest |z| of the direction of a plate or a block: 15 degrees."""
NOT_WALLS = frozenset({"TRUSS", "ARCH", "GIRDER", "SLAB_FIELD", "REINFORCEMENT_UNIT", "ACCESSORY_ASSEMBLY", "PIER",
                       "ABUTMENT", "CROSS_BRACING", "DECK", "MAST", "TRACTION_SWITCHING_ASSEMBLY",
                       "SIGNALASSEMBLY"})  # fmt: skip
"""Predefined types of assemblies that are no wall, whatever their shape."""


def is_wall_frame(solids: list[Mesh]) -> bool:
    """Whether solids (world axes, m) form a flat upright frame with studs and at least one plate.

    At least a third of them must be long and thin (boards, and blocks between deep studs, are not). Of these two or
    more stand upright, no fewer than run aslant (a truss has more diagonals than posts), and one lies level or aslant
    (a built-up post has none). Together they are thin, upright and longer than thick.
    """
    if len(solids) < 3:
        return False
    points = np.concatenate([solid.vertices for solid in solids])
    height = float(np.ptp(points[:, 2]))
    thickness, length = _plan_size(points)
    if height < MIN_HEIGHT or thickness > MAX_THICKNESS or length < 1.2 * thickness:
        return False
    steepness = [_steepness(solid.vertices) for solid in solids]
    members = [value for value in steepness if value is not None]
    if 3 * len(members) < len(solids):
        return False
    upright = sum(value >= UPRIGHT for value in members)
    aslant = sum(LEVEL < value < UPRIGHT for value in members)
    return upright >= 2 and upright >= aslant and len(members) > upright


def _plan_size(points: NDArray[np.float64]) -> tuple[float, float]:
    """Short and long side of the smallest rectangle around points in plan, m."""
    plan = points[:, :2] - points[:, :2].mean(axis=0)
    hull = shapely.convex_hull(shapely.multipoints(plan))
    if hull.geom_type != "Polygon":
        return 0.0, float(shapely.length(hull))
    ring = shapely.get_coordinates(shapely.get_exterior_ring(hull))
    edges = np.diff(ring, axis=0)
    edges /= np.linalg.norm(edges, axis=1)[:, None]
    # The smallest rectangle shares a side with the hull (rotating calipers).
    along = np.ptp(ring @ edges.T, axis=0)
    across = np.ptp(ring @ np.stack([-edges[:, 1], edges[:, 0]]), axis=0)
    best = int(np.argmin(np.minimum(along, across)))
    return float(min(along[best], across[best])), float(max(along[best], across[best]))


def _steepness(vertices: NDArray[np.float64]) -> float | None:
    """|z| of the long direction of a solid, None where it is not long and thin."""
    centred = vertices - vertices.mean(axis=0)
    _, _, directions = np.linalg.svd(centred, full_matrices=False)
    spans = np.ptp(centred @ directions.T, axis=0)
    order = np.argsort(spans)[::-1]
    if len(spans) < 3 or spans[order[0]] < LONG * spans[order[1]]:
        return None
    return abs(float(directions[order[0], 2]))
