"""Which way a wall's depth runs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from takeoff.walls.wall_axes import depth_direction, raw_axes, side_directions
from tests.wall_builder import HEIGHT, LENGTH, PLAIN, THICKNESS, box, rotation, standing, turned

PLACED = np.eye(4)


def test_opposite_faces_are_one_direction_and_the_largest_comes_first():
    directions, areas = side_directions([box(PLAIN)])
    assert np.abs(directions) == pytest.approx(np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]))
    assert areas == pytest.approx([2 * LENGTH * HEIGHT, 2 * THICKNESS * HEIGHT])


def test_tops_and_bottoms_are_no_sides():
    lying = box((0.0, 0.0, 0.0, 4.0, 3.0, 0.001))
    _, areas = side_directions([lying])
    assert areas.sum() == pytest.approx(2 * (4.0 + 3.0) * 0.001)


def test_a_wall_runs_along_its_length_whatever_its_placement_says():
    placement = np.eye(4)
    placement[:3, :3] = rotation(90.0)
    direction = depth_direction([box(PLAIN)], placement, None)
    assert np.abs(direction) == pytest.approx([0.0, 1.0, 0.0])


def test_layers_decide_where_a_wall_is_shorter_than_it_is_thick():
    pier = box((0.0, 0.0, 0.0, 0.1, 0.3, 2.4))
    assert np.abs(depth_direction([pier], PLACED, None)) == pytest.approx([1.0, 0.0, 0.0])
    assert np.abs(depth_direction([pier], PLACED, np.array([0.0, 1.0, 0.0]))) == pytest.approx([0.0, 1.0, 0.0])


def test_a_layer_direction_that_no_face_has_is_passed_over():
    aslant = np.array([0.6, 0.8, 0.0])
    assert np.abs(depth_direction([box(PLAIN)], PLACED, aslant)) == pytest.approx([0.0, 1.0, 0.0])


def test_mitred_ends_do_not_turn_the_axes():
    mitred = standing(shapely.Polygon([(0, 0), (4, 0), (4 - THICKNESS, THICKNESS), (THICKNESS, THICKNESS)]), 0, 2.4)
    assert np.abs(depth_direction([mitred], PLACED, None)) == pytest.approx([0.0, 1.0, 0.0])


def test_a_direction_within_rounding_of_the_placement_is_taken_as_written_there():
    placement = np.eye(4)
    placement[:3, :3] = rotation(33.3)
    # 700 km off, where a float64 keeps only 1e-10 m, so normals from coordinates wobble
    far = turned(box(PLAIN), 33.3, (500e3, -500e3, 0.0))
    assert np.array_equal(np.abs(depth_direction([far], placement, None)), np.abs(rotation(33.3)[:, 1]))


def test_a_surface_that_lies_flat_has_no_depth_direction():
    assert depth_direction([box((0.0, 0.0, 0.0, 4.0, 4.0, 0.0))], PLACED, None) is None


def test_raw_axes_start_at_the_lowest_corner_and_follow_the_layers():
    axes = raw_axes([box((2.0, 5.0, -1.0, 6.0, 5.2, 1.4))], PLACED, np.array([0.0, 1.0, 0.0]))
    assert axes is not None
    assert axes.origin == pytest.approx([2.0, 5.0, -1.0])
    assert axes.directions == pytest.approx(np.eye(3))


def test_raw_axes_turn_with_layers_that_run_the_other_way():
    axes = raw_axes([box((2.0, 5.0, -1.0, 6.0, 5.2, 1.4))], PLACED, np.array([0.0, -1.0, 0.0]))
    assert axes is not None
    assert axes.origin == pytest.approx([6.0, 5.2, -1.0])
    assert axes.directions == pytest.approx(np.diag([-1.0, -1.0, 1.0]))


@pytest.mark.parametrize("senseless", [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)])
@pytest.mark.parametrize("degrees", [0.0, 33.3, 180.0])
def test_layers_stacked_along_the_wall_or_upwards_leave_the_sense_to_the_placement(senseless, degrees):
    placement = np.eye(4)
    placement[:3, :3] = rotation(degrees)
    axes = raw_axes([turned(box(PLAIN), degrees)], placement, rotation(degrees) @ np.array(senseless))
    assert axes is not None
    assert axes.directions == pytest.approx(rotation(degrees).T, abs=1e-9)


def test_raw_axes_of_a_leaning_wall_lean_with_it():
    lean = np.radians(10.0)
    upright = box(PLAIN)
    matrix = np.array([[1, 0, 0], [0, np.cos(lean), np.sin(lean)], [0, -np.sin(lean), np.cos(lean)]])
    axes = raw_axes([type(upright)(upright.vertices @ matrix.T, upright.faces)], PLACED, None)
    assert axes is not None
    assert axes.directions[1] == pytest.approx([0.0, np.cos(lean), -np.sin(lean)])
    local = axes.to_local(upright.vertices @ matrix.T)
    assert np.ptp(local, axis=0) == pytest.approx([LENGTH, THICKNESS, HEIGHT])
