"""A plan of even thickness parted into straight lengths: a broken line that was thickened.

Such a plan shows pairs of parallel edges, one pair to each straight length. The four ends of a pair are the corners of
that length; between two lengths they lie on the bisector, so that nothing is counted twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.solids import Mesh, areal, doubled_areas

SNAP = 1e-5
"""m; corners and edges of a plan agree within this after tessellation and turning."""
PARALLEL = np.cos(np.radians(0.2))
SAME_THICKNESS = 0.002
"""m; lengths of one plan are equally thick within this."""
_FEWEST_CHORDS = 4
_ON_CIRCLE = 0.002
"""m; corners of a curve drawn in chords lie on its circle within this."""


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """A straight length in plan: corners (4, 2) m, relative to the plan's zero; first two along one side, last two back
    along the other. Before they are sorted by side either may be the first."""

    corners: NDArray[np.float64]

    @property
    def plan(self) -> Polygon:
        return Polygon(self.corners)

    @property
    def across(self) -> NDArray[np.float64]:
        """Unit (2,) from the first side to the second."""
        along = self.corners[1] - self.corners[0]
        along = along / np.linalg.norm(along)
        return np.array([-along[1], along[0]])

    @property
    def thickness(self) -> float:
        """m"""
        return float((self.corners[2] - self.corners[0]) @ self.across)

    @property
    def length(self) -> float:
        """m, midway between its sides."""
        return float(self.plan.area) / self.thickness

    def turned(self) -> Facet:
        """The same with its sides exchanged."""
        return Facet(self.corners[[2, 3, 0, 1]])


def plan_of(body: Sequence[Mesh], zero: NDArray[np.float64]) -> Polygon | None:
    """What a body covers in plan, m from zero; None where that is not one piece."""
    pieces: list[Polygon] = []
    for mesh in body:
        corners = (mesh.vertices - zero)[mesh.faces][:, :, :2]
        pieces += np.atleast_1d(np.asarray(shapely.polygons(corners[np.abs(doubled_areas(corners)) > 1e-10]))).tolist()
    whole = shapely.buffer(areal(shapely.union_all(pieces, grid_size=1e-8)), SNAP / 10.0, join_style="mitre")
    whole = shapely.buffer(whole, -SNAP / 10.0, join_style="mitre")
    plain = shapely.simplify(shapely.normalize(whole), SNAP, preserve_topology=True)
    if not isinstance(plain, Polygon) or plain.is_empty:
        return None
    rings = [_without_idle_corners(np.array(ring.coords)) for ring in (plain.exterior, *plain.interiors)]
    return shapely.orient_polygons(Polygon(rings[0], rings[1:]))


def _without_idle_corners(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """A closed ring (n, 2) without corners on straight edges, its first one too, which simplifying keeps."""
    points = ring[:-1]
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    base, off = after - before, points - before
    length = np.maximum(np.linalg.norm(base, axis=1), SNAP)
    idle = np.abs(base[:, 0] * off[:, 1] - base[:, 1] * off[:, 0]) <= SNAP * length
    return points[~idle] if (~idle).sum() >= 3 else points


def facets_of(plan: Polygon, total: float) -> list[Facet]:
    """Straight lengths: pairs of parallel edges that face each other through the wall at its thickness."""
    starts, stops = _edges(plan)
    along = stops - starts
    lengths = np.linalg.norm(along, axis=1)
    along = along / lengths[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    apart = ((starts[None] - starts[:, None]) * inward[:, None]).sum(axis=2)
    first = ((stops[None] - starts[:, None]) * along[:, None]).sum(axis=2)
    last = ((starts[None] - starts[:, None]) * along[:, None]).sum(axis=2)
    shared = np.minimum(last, lengths[:, None]) - np.maximum(first, 0.0)
    facing = (along @ along.T < -PARALLEL) & (apart > SNAP) & (shared > 0.5 * np.minimum(lengths[:, None], lengths))
    if not facing.any():
        return []
    nearest = np.where(facing, apart, np.inf).min(axis=1)
    seen = np.isfinite(nearest)
    thickness = _weighted_median(nearest[seen], lengths[seen])
    if total > 0.0 and (facing & (np.abs(apart - total) <= SAME_THICKNESS)).any():
        thickness = total
    pairs = np.argwhere(np.triu(facing & (np.abs(apart - thickness) <= SAME_THICKNESS)))
    return [Facet(np.array([starts[i], stops[i], starts[j], stops[j]])) for i, j in pairs]


def _edges(plan: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Starts and stops (n, 2) of the edges of all rings, the inside to their left, m."""
    rings = [np.array(ring.coords) for ring in (plan.exterior, *plan.interiors)]
    return np.concatenate([ring[:-1] for ring in rings]), np.concatenate([ring[1:] for ring in rings])


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values, kind="stable")
    sums = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(sums, 0.5 * sums[-1]))])


def share_aside(facets: Sequence[Facet]) -> float:
    """Share of the lengths' plan that lies out of line with the longest; 0 for a straight wall."""
    if len(facets) < 2:
        return 0.0
    areas = np.array([facet.plan.area for facet in facets])
    across = np.array([facet.across for facet in facets])
    aside = np.abs(across @ across[int(np.argmax(areas))]) < PARALLEL
    return float(areas[aside].sum() / areas.sum())


def circle_of(facets: Sequence[Facet], longest: float) -> tuple[NDArray[np.float64], float] | None:
    """Centre (2,) and middle radius of the circle in whose chords the lengths are drawn, m; None where they are not.

    longest: m; a chord longer than this is a straight length of its own.
    """
    if len(facets) < _FEWEST_CHORDS or max(facet.length for facet in facets) > longest:
        return None
    ordered = sorted_by_side(facets)
    if ordered is None:
        return None
    sides = [np.concatenate([facet.corners[rows] for facet in ordered]) for rows in ([0, 1], [2, 3])]
    points = np.concatenate(sides)
    # Circles about one centre: x^2 + y^2 = 2 x cx + 2 y cy + k, with a k for each side.
    owner = np.repeat([[1.0, 0.0], [0.0, 1.0]], [len(sides[0]), len(sides[1])], axis=0)
    found, *_ = np.linalg.lstsq(np.hstack([2.0 * points, owner]), (points**2).sum(axis=1), rcond=None)
    centre = found[:2]
    radii = [np.linalg.norm(side - centre, axis=1) for side in sides]
    if max(float(np.ptp(each)) for each in radii) > _ON_CIRCLE:
        return None
    return centre, 0.5 * float(radii[0].mean() + radii[1].mean())


def sorted_by_side(facets: Sequence[Facet]) -> list[Facet] | None:
    """The lengths one after the other, their first sides all on one side; None where they do not hang together."""
    known = {0: facets[0]}
    waiting = [0]
    while waiting:
        here = known[waiting.pop()]
        for number, facet in enumerate(facets):
            if number in known:
                continue
            for turned in (facet, facet.turned()):
                if follows(here, turned) or follows(turned, here):
                    known[number] = turned
                    waiting.append(number)
                    break
    return in_line(list(known.values())) if len(known) == len(facets) else None


def in_line(facets: Sequence[Facet]) -> list[Facet]:
    """Lengths sorted by side in the order in which they follow each other; a ring starts with the first given."""
    after = [next((n for n, other in enumerate(facets) if follows(facet, other)), None) for facet in facets]
    start = next((n for n in range(len(facets)) if n not in after), 0)
    order = [start]
    while (number := after[order[-1]]) is not None and number not in order:
        order.append(number)
    rest = [n for n in range(len(facets)) if n not in order]
    return [facets[n] for n in (*order, *rest)]


def follows(one: Facet, other: Facet) -> bool:
    """Whether a length begins where another ends, first side at first side."""
    ends = np.linalg.norm(one.corners[[1, 2]] - other.corners[[0, 3]], axis=1)
    return bool((ends <= 10.0 * SNAP).all())
