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
GUARD_HEIGHT = 1.4
"""m; a guard is at least 36 in high (IRC R312.1.2), commonly up to 1.2 m (common practice, no published source)."""
GUARD_GAP = 0.13
"""m; bars of a guard leave no more between them (IRC R312.1.3: a sphere of 4 in, at stairs 4 3/8 in, must not pass)."""
FEWEST_BARS = 4
BUILT_UP = 0.005
"""m; members nearer than this are plies of one."""
NOT_WALLS = frozenset({"TRUSS", "ARCH", "GIRDER", "SLAB_FIELD", "REINFORCEMENT_UNIT", "ACCESSORY_ASSEMBLY", "PIER",
                       "ABUTMENT", "CROSS_BRACING", "DECK", "MAST", "TRACTION_SWITCHING_ASSEMBLY",
                       "SIGNALASSEMBLY"})  # fmt: skip
"""Predefined types of assemblies that are no wall, whatever their shape."""


def is_wall_frame(solids: list[Mesh]) -> bool:
    """Whether solids (world axes, m) form a flat upright frame with studs and at least one plate.

    At least a third of them must be long and thin (boards, and blocks between deep studs, are not). Of these two or
    more stand upright, and three for each two that run aslant (a truss has about as many diagonals as posts) but for
    the two slopes of a gable; one lies level or aslant (a built-up post has none). Together they are thin, upright,
    longer than thick, and no railing.
    """
    if len(solids) < 3:
        return False
    points = np.concatenate([solid.vertices for solid in solids])
    height = float(np.ptp(points[:, 2]))
    length, thickness = np.ptp(points @ plan_axes(points).T, axis=0)[:2].tolist()
    if height < MIN_HEIGHT or thickness > MAX_THICKNESS or length < 1.2 * thickness:
        return False
    slopes = [steepness(solid.vertices) for solid in solids]
    members = [value for value in slopes if value is not None]
    if 3 * len(members) < len(solids):
        return False
    upright = sum(value >= UPRIGHT for value in members)
    aslant = sum(LEVEL < value < UPRIGHT for value in members)
    return upright >= 2 and _few_aslant(aslant, upright) and len(members) > upright and not is_guard(solids)


def _few_aslant(aslant: int, upright: int) -> bool:
    return 3 * aslant <= 2 * upright or aslant <= min(2, upright)


def is_guard(solids: list[Mesh]) -> bool:
    """Whether solids (world axes, m) form a railing: low, and its uprights or its rails as close as bars of a guard."""
    points = np.concatenate([solid.vertices for solid in solids])
    if float(np.ptp(points[:, 2])) > GUARD_HEIGHT:
        return False
    axes = plan_axes(points)
    spans = {True: [], False: []}
    for solid in solids:
        slope = steepness(solid.vertices)
        if slope is not None and (slope >= UPRIGHT or slope <= LEVEL):
            own = solid.vertices @ axes.T
            axis = 0 if slope >= UPRIGHT else 2
            spans[slope >= UPRIGHT].append((float(own[:, axis].min()), float(own[:, axis].max())))
    return any(len(bars) >= FEWEST_BARS and _usual_gap(sorted(bars)) <= GUARD_GAP for bars in spans.values())


def _usual_gap(spans: list[tuple[float, float]]) -> float:
    """Median clear space between members that follow each other, plies of one apart, m; infinite where there is none.

    spans: lowest and highest place of each, sorted, m.
    """
    gaps, reached = [], spans[0][1]
    for low, high in spans[1:]:
        if low - reached > BUILT_UP:
            gaps.append(low - reached)
        reached = max(reached, high)
    return float(np.median(gaps)) if len(gaps) >= FEWEST_BARS - 1 else np.inf


def plan_axes(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(3, 3) rows: along, across and up for the narrowest rectangle around points (n, 3) in plan."""
    plan = points[:, :2] - points[:, :2].mean(axis=0)
    hull = shapely.convex_hull(shapely.multipoints(plan))
    if hull.geom_type == "Point":
        return np.eye(3)
    ring = shapely.get_coordinates(hull)
    edges = np.diff(ring, axis=0)
    edges /= np.linalg.norm(edges, axis=1)[:, None]
    turned = np.stack([-edges[:, 1], edges[:, 0]], axis=1)
    # The narrowest rectangle shares a side with the hull (rotating calipers).
    along, across = np.ptp(ring @ edges.T, axis=0), np.ptp(ring @ turned.T, axis=0)
    best = int(np.argmin(np.minimum(along, across)))
    x, y = edges[best] if along[best] >= across[best] else turned[best]
    return np.array([[x, y, 0.0], [-y, x, 0.0], [0.0, 0.0, 1.0]])


def steepness(vertices: NDArray[np.float64], times_as_long: float = LONG) -> float | None:
    """|z| of the long direction of a solid, None where it is not so many times as long as it is wide."""
    centred = vertices - vertices.mean(axis=0)
    _, _, directions = np.linalg.svd(centred, full_matrices=False)
    spans = np.ptp(centred @ directions.T, axis=0)
    order = np.argsort(spans)[::-1]
    if len(spans) < 3 or spans[order[0]] < times_as_long * spans[order[1]]:
        return None
    return abs(float(directions[order[0], 2]))
