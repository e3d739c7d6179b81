"""What a point reaches, on shapes whose answer is plain, and the fewest points against all choices."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from geometry.cover import fewest_sets
from geometry.reach import Reach, candidate_points, fewest_points, reached
from geometry.sight import visible

L_SHAPE = Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
FAR = Reach(10.0, 10.0, 10.0)


def test_all_of_a_convex_polygon_is_visible():
    triangle = Polygon([(0, 0), (3, 0), (0, 2)])
    assert visible(triangle, [[0.4, 0.3]])[0].area == pytest.approx(3.0, rel=1e-12)


def test_a_step_shadows_a_triangle_of_known_area():
    # From (1.5, 0.5) the corner (1, 1) hides what lies above the line through both, which leaves at (0, 2).
    seen = visible(L_SHAPE, [[1.5, 0.5]])[0]
    assert seen.area == pytest.approx(3.0 - 0.5, rel=1e-12)
    assert seen.symmetric_difference(Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (0, 2)])).area < 1e-12


def test_a_post_throws_a_shadow_behind_it():
    room = box(0, 0, 4, 2).difference(box(1, 0.5, 2, 1.5))
    # From (0.5, 1): rays past the corners (1, 0.5) and (1, 1.5) reach z = 0 and 2 at x = 1.5.
    lit = Polygon([(0, 0), (1.5, 0), (1, 0.5), (1, 1.5), (1.5, 2), (0, 2)])
    assert visible(room, [[0.5, 1.0]])[0].symmetric_difference(lit).area < 1e-12


def test_a_point_in_line_with_an_edge_sees_along_it():
    seen = visible(L_SHAPE, [[0.5, 1.0]])[0]
    assert seen.area == pytest.approx(3.0 - 0.0, rel=1e-12)


@pytest.mark.parametrize("point", [(1.5, 1.5), (0.0, 0.5), (2.0, 1.0), (-1.0, 0.0)])
def test_a_point_outside_or_on_the_outline_sees_nothing(point):
    assert visible(L_SHAPE, [point])[0].is_empty


def test_nothing_is_seen_of_an_empty_polygon():
    assert visible(Polygon(), [[0.0, 0.0]])[0].is_empty
    assert reached(Polygon(), [[0.0, 0.0]], FAR)[0].is_empty


def test_reach_is_a_rectangle_that_hangs_on_the_point():
    got = reached(box(0, 0, 10, 10), [[5.0, 5.0]], Reach(3.0, 1.0, 0.5))[0]
    assert got.symmetric_difference(box(4.5, 2.0, 5.5, 6.0)).area < 1e-12


def test_a_point_reaches_only_its_own_part():
    apart = MultiPolygon([box(0, 0, 1, 1), box(2, 0, 3, 1)])
    assert reached(apart, [[0.5, 0.5]], FAR)[0].equals(box(0, 0, 1, 1))


def test_a_reach_of_nothing_is_refused():
    with pytest.raises(ValueError, match="greater than zero"):
        Reach(1.0, 0.0, 1.0)


def test_two_points_serve_a_bay_higher_than_one_reach():
    bay = box(0, 0, 0.4, 3.0)
    points = candidate_points(bay, bay.buffer(-0.05, join_style="mitre"), Reach(1.2, 0.4, 0.5))
    found = fewest_points(bay, points, Reach(1.2, 0.4, 0.5))
    assert len(found.chosen) == found.lower_bound == 2
    assert found.share >= 0.999


def test_an_unreachable_part_is_given_up_and_the_rest_served():
    bay = MultiPolygon([box(0, 0, 0.4, 1.0), box(0.5, 0, 0.9, 1.0)])
    found = fewest_points(bay, [[0.2, 0.5], [0.2, 0.6]], FAR)
    assert len(found.chosen) == 1
    assert found.share == pytest.approx(0.5)


def test_cost_decides_between_equal_choices():
    bay = box(0, 0, 1, 1)
    assert fewest_points(bay, [[0.2, 0.5], [0.8, 0.5]], FAR, cost=[2.0, 1.0]).chosen == (1,)


def test_no_candidate_gives_an_empty_choice():
    found = fewest_points(box(0, 0, 1, 1), np.empty((0, 2)), FAR)
    assert (found.chosen, found.share) == ((), 0.0)


def test_candidates_stay_in_their_zone_and_near_the_limit():
    rng = np.random.default_rng(3)
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    star = Polygon(np.column_stack([np.cos(angle), np.sin(angle)]) * rng.uniform(0.7, 1.0, 200)[:, None])
    zone = star.buffer(-0.05, join_style="mitre")
    points = candidate_points(star, zone, Reach(0.5, 0.5, 0.5), limit=100)
    assert 10 < len(points) <= 150
    assert shapely.covers(zone.buffer(1e-8), shapely.points(points)).all()


def test_asked_heights_are_among_the_candidates():
    bay = box(0, 0, 0.4, 3.0)
    points = candidate_points(bay, bay.buffer(-0.05), Reach(1.0, 1.0, 0.5), heights=[1.234567])
    assert np.isclose(points[:, 1], 1.234567, atol=1e-12).any()


# ---------------------------------------------------------------- fewest sets


def smallest_by_trying(member, weight, needed):
    for size in range(len(member) + 1):
        for choice in combinations(range(len(member)), size):
            if weight[member[list(choice)].any(axis=0)].sum() >= needed - 1e-12:
                return size
    return None


@pytest.mark.parametrize("seed", range(60))
def test_fewest_sets_equals_trying_all_choices(seed):
    rng = np.random.default_rng(seed)
    sets, atoms = int(rng.integers(3, 12)), int(rng.integers(3, 30))
    member = rng.random((sets, atoms)) < rng.choice([0.15, 0.3, 0.5])
    weight = rng.random(atoms)
    needed = float(rng.choice([0.7, 0.95, 1.0])) * weight[member.any(axis=0)].sum()
    cover = fewest_sets(member, weight, needed)
    assert weight[member[list(cover.chosen)].any(axis=0)].sum() >= needed - 1e-9
    assert cover.proved
    assert len(cover.chosen) == smallest_by_trying(member, weight, needed)


def test_a_search_cut_short_still_covers_and_keeps_an_honest_bound():
    rng = np.random.default_rng(7)
    member = rng.random((40, 200)) < 0.12
    weight = rng.random(200)
    needed = float(weight[member.any(axis=0)].sum())
    quick = fewest_sets(member, weight, needed, work_limit=5 * member.size)
    full = fewest_sets(member, weight, needed, work_limit=10**10)
    assert weight[member[list(quick.chosen)].any(axis=0)].sum() >= needed - 1e-9
    assert quick.lower_bound <= len(full.chosen) <= len(quick.chosen)


@pytest.mark.parametrize("seed", range(30))
def test_a_search_cut_short_at_once_takes_no_set_for_nothing(seed):
    """What the exchanges leave cannot be made smaller by taking three sets for two or two for one."""
    rng = np.random.default_rng(seed)
    member = rng.random((25, 60)) < 0.2
    weight = rng.random(60)
    needed = 0.98 * float(weight[member.any(axis=0)].sum())
    chosen = list(fewest_sets(member, weight, needed, work_limit=1).chosen)
    held = weight[member[chosen].any(axis=0)].sum()
    assert held >= needed - 1e-9
    for out in range(len(chosen)):
        rest = member[[index for place, index in enumerate(chosen) if place != out]].any(axis=0)
        assert weight[rest].sum() < needed
    for out in combinations(chosen, 2):
        kept = member[[index for index in chosen if index not in out]].any(axis=0)
        assert max(weight[kept | row].sum() for row in member) < needed
    full = fewest_sets(member, weight, needed, work_limit=10**10)
    assert len(chosen) <= len(full.chosen) + 1


def test_points_that_exchanges_make_needless_go():
    """A bay with two boxes in it, among bays whose rows add places: found by a property test, which got two holes in
    one place."""
    bay = box(0, 0, 0.4, 1.3).difference(box(0.1, 0.7, 0.2, 1.0)).difference(box(0.1, 0.1, 0.2, 0.2))
    zone = bay.buffer(-0.048, join_style="mitre")
    reach = Reach(0.5, 0.375, 0.5)
    points = candidate_points(bay, zone, reach, heights=[0.45, 0.5, 1.05, 1.2, 2.0])
    cost = 100.0 * ~np.isin(np.round(points[:, 1], 6), [0.5, 1.05]) + np.abs(points[:, 1] - 1.2)
    found = fewest_points(bay, points, reach, cost=cost)
    chosen = points[list(found.chosen)]
    assert found.share >= 0.999
    assert len(np.unique(np.round(chosen, 6), axis=0)) == len(chosen)
    assert len(chosen) == 3


def test_sets_that_weigh_too_little_are_refused():
    with pytest.raises(ValueError, match="less than the weight needed"):
        fewest_sets(np.array([[True, False]]), np.ones(2), 2.0)


def test_nothing_needed_takes_nothing():
    assert fewest_sets(np.zeros((0, 3), dtype=bool), np.ones(3), 0.0).chosen == ()


def test_points_are_seen_where_lines_say_so():
    room = box(0, 0, 4, 2).difference(box(1, 0.5, 2, 1.5))
    rng = np.random.default_rng(5)
    eye = (3.3, 0.4)
    seen = visible(room, [eye])[0]
    for x, z in rng.uniform((0, 0), (4, 2), (300, 2)):
        if room.contains(Point(x, z)) and seen.exterior.distance(Point(x, z)) > 1e-6:
            assert seen.contains(Point(x, z)) == room.covers(shapely.LineString([eye, (x, z)]))
