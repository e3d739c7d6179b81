"""The fill plan against brute force: sampled points and straight lines, choices of places tried one by one.

Nothing of `geometry.reach` or `geometry.sight` is used here: a hole reaches a point where the point lies within the
hose's rectangle and a straight line between them stays inside the cavity.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from takeoff.fill import FillPlan, plan_layer
from takeoff.fill_place import FillPlace
from takeoff.hose import SHORT_HOSE, HoseSettings
from takeoff.model import Method
from tests.property.test_reach_property import inner_points, stars, stepped
from tests.records_builder import cavity, wall_axes

PLACE = FillPlace("W", "W", wall_axes())
HOSES = (SHORT_HOSE, HoseSettings(insertion=0.3, throw_down=0.2, throw_up=0.25, throw_sideways=0.3))
SAMPLES = 300
CASES = st.one_of(st.tuples(stars(), st.just(SHORT_HOSE)), st.tuples(stepped(), st.sampled_from(HOSES)))


def seen_by_lines(outline, eyes, points, hose) -> np.ndarray:
    """(eyes, points) bool: within the rectangle of the hose, and a straight line between them stays inside."""
    step = points[None] - eyes[:, None]
    reach = hose.reach
    near = (np.abs(step[..., 0]) <= reach.sideways) & (step[..., 1] <= reach.up) & (step[..., 1] >= -reach.down)
    eye, point = np.nonzero(near)
    lines = shapely.linestrings(np.stack([eyes[eye], points[point]], axis=1)) if len(eye) else np.empty(0, object)
    near[eye, point] = shapely.covers(shapely.buffer(outline, 1e-9, join_style="mitre"), lines)
    return near


def planned(outline, hose, **changes) -> FillPlan:
    width = 2.0 * float(shapely.maximum_inscribed_circle(outline).length)
    return plan_layer([cavity(1, outline, "W", clear_width=width, **changes)], PLACE, hose)


@settings(max_examples=40, deadline=None)
@given(CASES, st.integers(0, 10**6))
def test_holes_reach_what_the_plan_says_and_the_rest_is_filled_by_hand(case, seed):
    outline, hose = case
    plan = planned(outline, hose)
    (fill,) = plan.cavities
    points = inner_points(outline, np.random.default_rng(seed), SAMPLES)
    if fill.method is not Method.BLOW:
        assert not plan.holes
        return
    eyes = np.array([(hole.x, hole.z) for hole in plan.holes])
    reached = seen_by_lines(outline, eyes, points, hose).any(axis=0)
    by_hand = shapely.union_all([part.outline for part in plan.hand_fills])
    near = shapely.distance(by_hand, shapely.points(points)) <= 1e-6 if not by_hand.is_empty else np.zeros(len(points))
    told = reached | near.astype(bool)
    # What is neither is the part of a cavity that may be left: of 99.9 %, and of crumbs below a hand's breadth.
    left = (1.0 - hose.share) * outline.area + 0.02
    assert (~told).mean() * outline.area <= left + 3.0 * np.sqrt(left * outline.area / max(len(points), 1))
    assert fill.blown_volume + fill.hand_volume == pytest.approx(outline.area * 0.1, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(CASES)
def test_no_hole_touches_what_bounds_its_cavity(case):
    outline, hose = case
    for hole in planned(outline, hose).holes:
        assert shapely.distance(outline.boundary, shapely.Point(hole.x, hole.z)) >= hose.clearance - 1e-6
        assert outline.contains(shapely.Point(hole.x, hole.z))


@settings(max_examples=40, deadline=None)
@given(stepped(), st.sampled_from(HOSES), st.floats(0.1, 0.9))
def test_a_covered_front_keeps_holes_to_what_is_open(outline, hose, share):
    x0, z0, x1, z1 = outline.bounds
    front = outline.intersection(box(x0, z0, x1, z0 + share * (z1 - z0)))
    if front.is_empty:
        return
    for hole in planned(outline, hose, front=front).holes:
        assert front.buffer(1e-6).covers(shapely.Point(hole.x, hole.z).buffer(hose.clearance - 1e-6))


SMALL = {
    "bay": box(0.0, 0.0, 0.4, 2.35),
    "low bay": box(0.0, 0.0, 0.4, 0.8),
    "wide bay": box(0.0, 0.0, 1.1, 0.6),
    "step": box(0.0, 0.0, 0.5, 1.2).difference(box(0.25, 0.5, 0.5, 1.2)),
    "corner": box(0.0, 0.0, 0.9, 0.9).difference(box(0.3, 0.3, 0.9, 0.9)),
    "notch": box(0.0, 0.0, 0.5, 1.4).difference(box(0.2, 0.6, 0.5, 0.7)),
    "rake": shapely.Polygon([(0, 0), (0.4, 0), (0.4, 1.6), (0, 2.2)]),
    "post": box(0.0, 0.0, 0.6, 1.2).difference(box(0.25, 0.4, 0.3, 0.8)),
    "brace": box(0.0, 0.0, 0.4, 1.6).difference(shapely.LineString([(0.14, 0.5), (0.26, 1.1)]).buffer(0.02)),
    "cross": box(0.3, 0.0, 0.6, 1.2).union(box(0.0, 0.45, 0.9, 0.75)),
}


@pytest.mark.parametrize("hose", HOSES, ids=["short hose", "stub of a hose"])
@pytest.mark.parametrize("name", SMALL)
def test_no_smaller_number_of_places_on_a_fine_grid_would_do(name, hose):
    """All choices of one hole fewer, out of places 4 cm apart, miss more sampled points than may be left."""
    outline = SMALL[name]
    plan = planned(outline, hose)
    (fill,) = plan.cavities
    assert fill.method is Method.BLOW
    n = len(plan.holes)
    x0, z0, x1, z1 = outline.bounds
    x, z = np.meshgrid(np.arange(x0 + 0.02, x1, 0.04), np.arange(z0 + 0.02, z1, 0.04))
    places = np.column_stack([x.ravel(), z.ravel()])
    room = shapely.buffer(outline, -hose.clearance, join_style="mitre")
    places = places[shapely.intersects_xy(room, places[:, 0], places[:, 1])]
    points = inner_points(outline, np.random.default_rng(1), 2500)
    seen = seen_by_lines(outline, places, points, hose)
    here = np.array([(hole.x, hole.z) for hole in plan.holes])
    reached = seen_by_lines(outline, here, points, hose).any(axis=0).mean()
    best = _best(seen, n - 1)
    assert reached >= min(hose.share, fill.reached_share) - 0.002
    assert best < min(hose.share, fill.reached_share), (name, n, best)


def _best(seen: np.ndarray, n: int) -> float:
    """Greatest share of the points (places, points) that n places reach, by trying every choice."""
    if n == 0:
        return 0.0
    rows = np.unique(seen, axis=0)
    inside = rows.astype(np.float32) @ (~rows).astype(np.float32).T  # points of row i that row j misses
    rows = rows[~((inside == 0) & ~np.eye(len(rows), dtype=bool)).any(axis=1)]
    if n == 1:
        return float(rows.mean(axis=1).max())
    sets = [int.from_bytes(np.packbits(row).tobytes(), "big") for row in rows]
    best = max(_union(choice).bit_count() for choice in combinations(sets, min(n, len(sets))))
    return best / seen.shape[1]


def _union(sets: tuple[int, ...]) -> int:
    union = 0
    for each in sets:
        union |= each
    return union
