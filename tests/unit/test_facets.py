"""Plans of even thickness parted into straight lengths."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from geometry.facets import circle_of, facets_of, follows, plan_of, share_aside, sorted_by_side
from geometry.solids import Mesh, extruded
from tests.odd_wall_builder import bent_plan

LINE = ((0.0, 0.0), (4.0, 0.0), (6.0, 1.5), (6.0, 4.0))


def body_of(plan: shapely.Polygon, far: float = 0.0) -> Mesh:
    """A plan 2.5 m high, far from the world's zero where asked."""
    mesh = extruded(plan, 0.0, 2.5)
    return Mesh(mesh.vertices[:, [0, 2, 1]] + far, mesh.faces)


@pytest.mark.parametrize("far", [0.0, 4.0e5])
def test_lengths_fill_a_thickened_line_and_overlap_nowhere(far: float):
    drawn = bent_plan(LINE, 0.2)
    body = body_of(drawn, far)
    plan = plan_of([body], body.vertices[0])
    assert plan is not None
    facets = facets_of(plan, 0.2)
    assert len(facets) == 3
    assert sum(facet.plan.area for facet in facets) == pytest.approx(drawn.area, rel=1e-7)
    assert shapely.union_all([facet.plan for facet in facets]).area == pytest.approx(drawn.area, rel=1e-7)
    assert [facet.thickness for facet in facets] == pytest.approx([0.2] * 3, abs=1e-7)


def test_without_a_stated_thickness_the_plan_shows_it():
    plan = plan_of([body_of(bent_plan(LINE, 0.2))], np.zeros(3))
    assert plan is not None
    assert [facet.thickness for facet in facets_of(plan, 0.0)] == pytest.approx([0.2] * 3)


def test_lengths_follow_each_other_with_their_sides_alike():
    plan = plan_of([body_of(bent_plan(LINE, 0.2))], np.zeros(3))
    assert plan is not None
    ordered = sorted_by_side(facets_of(plan, 0.2)[::-1])
    assert ordered is not None
    assert all(follows(one, other) for one, other in pairwise(ordered))


def test_a_straight_plan_has_one_length_and_none_aside():
    plan = plan_of([body_of(shapely.box(0.0, 0.0, 4.0, 0.2))], np.zeros(3))
    assert plan is not None
    facets = facets_of(plan, 0.2)
    assert len(facets) == 1
    assert share_aside(facets) == 0.0


def test_corners_on_straight_edges_are_no_corners():
    plan = plan_of([body_of(shapely.box(0.0, 0.0, 2.0, 0.2)), body_of(shapely.box(2.0, 0.0, 4.0, 0.2))], np.zeros(3))
    assert plan is not None
    assert len(plan.exterior.coords) == 5


def test_bodies_apart_have_no_common_plan():
    assert (
        plan_of([body_of(shapely.box(0.0, 0.0, 2.0, 0.2)), body_of(shapely.box(3.0, 0.0, 4.0, 0.2))], np.zeros(3))
        is None
    )


def test_chords_of_a_circle_give_its_centre_and_middle_radius():
    turns = np.linspace(0.2, 1.4, 12)
    ring = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    drawn = shapely.Polygon(np.concatenate([3.1 * ring, 2.9 * ring[::-1]]))
    plan = plan_of([body_of(drawn)], np.zeros(3))
    assert plan is not None
    found = circle_of(facets_of(plan, 0.0), longest=0.6)
    assert found is not None
    centre, radius = found
    assert centre == pytest.approx([0.0, 0.0], abs=1e-6)
    assert radius == pytest.approx(3.0, abs=1e-6)
    assert circle_of(facets_of(plan, 0.0), longest=0.2) is None


def test_equal_lengths_that_lie_on_no_circle_are_no_curve():
    line = [(0.0, 0.0), (0.5, 0.0), (0.9, 0.3), (1.4, 0.3), (1.8, 0.0), (2.3, 0.0)]
    plan = plan_of([body_of(bent_plan(line, 0.1))], np.zeros(3))
    assert plan is not None
    facets = facets_of(plan, 0.1)
    assert len(facets) == 5
    assert circle_of(facets, longest=0.6) is None
