"""Axes that run along an arc, and meshes given corners to bend."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.cylinders import Developed, refined
from geometry.solids import Mesh, Prism, extruded, moved, moved_to_world, to_prism, volume
from geometry.tolerances import DEFAULT_TOLERANCES
from geometry.voids import find_voids


def developed(*, outward: bool = True, radius: float = 3.0, face: float = 2.9) -> Developed:
    return Developed(
        centre=np.array([10.0, -4.0, 1.5]),
        start=np.array([0.6, 0.8, 0.0]),
        radius=radius,
        face=face,
        outward=outward,
        middle=0.9,
    )


@pytest.mark.parametrize("outward", [True, False])
def test_points_go_to_the_world_and_back(outward: bool):
    axes = developed(outward=outward)
    local = np.array([[0.0, 0.0, 0.0], [2.5, 0.1, 1.0], [6.0, -0.3, 2.0], [-1.0, 0.14, 0.3]])
    assert axes.to_local(axes.to_world(local)) == pytest.approx(local, abs=1e-12)


@pytest.mark.parametrize("outward", [True, False])
def test_directions_are_right_handed_and_those_of_small_steps(outward: bool):
    axes = developed(outward=outward, radius=2.9)
    step = 1e-7
    here = axes.to_world([[0.0, 0.0, 0.0]])[0]
    steps = axes.to_world(step * np.eye(3)) - here
    assert here == pytest.approx(axes.origin)
    assert steps / step == pytest.approx(axes.directions, abs=1e-6)
    assert np.linalg.det(axes.directions) == pytest.approx(1.0)


def test_shifted_axes_measure_from_the_new_zero():
    axes = developed()
    offset = np.array([1.2, 0.05, 0.4])
    points = axes.to_world([[0.3, 0.1, 0.2], [5.0, 0.0, 1.0]])
    assert axes.shifted(offset).to_local(points) == pytest.approx(axes.to_local(points) - offset, abs=1e-12)


def test_seen_from_the_other_side_x_and_depth_are_reversed():
    axes = developed()
    points = axes.to_world([[0.3, 0.1, 0.2], [5.0, 0.0, 1.0]])
    turned = axes.turned_about()
    assert turned.to_local(points) == pytest.approx(axes.to_local(points) * [-1.0, -1.0, 1.0], abs=1e-12)
    assert np.linalg.det(turned.directions) == pytest.approx(1.0)


def test_x_is_the_arc_length_at_the_depth_asked_for():
    axes = developed(radius=3.0, face=2.9).true_at(0.07)
    ends = axes.to_world([[0.0, 0.07, 0.0], [1.5, 0.07, 0.0]]) - axes.centre
    angle = np.arccos(float(ends[0, :2] @ ends[1, :2]) / np.prod(np.linalg.norm(ends[:, :2], axis=1)))
    assert angle * 2.97 == pytest.approx(1.5)
    assert axes.stretch([0.07])[0] == pytest.approx(1.0)


@pytest.mark.parametrize("outward", [True, False])
def test_a_half_turn_on_either_side_of_the_middle_is_told_apart(outward: bool):
    axes = developed(outward=outward)
    reach = 3.0 * (np.pi - 0.01)
    local = np.array([[3.0 * 0.9 - reach, 0.0, 0.0], [3.0 * 0.9 + reach, 0.0, 0.0]])
    assert axes.to_local(axes.to_world(local)) == pytest.approx(local, abs=1e-12)


def test_level_unit_starts_and_positive_radii_are_demanded():
    for bad in ({"start": np.array([0.0, 0.6, 0.8])}, {"start": np.array([1.0, 1.0, 0.0])}, {"radius": 0.0}):
        facts = {"centre": np.zeros(3), "start": np.array([1.0, 0.0, 0.0]), "radius": 1.0, "face": 1.0}
        with pytest.raises(ValueError, match="developed axes"):
            Developed(**{**facts, **bad}, outward=True, middle=0.0)


def sector(inner: float, outer: float, angle: float, height: float, facets: int) -> Mesh:
    """An annulus sector from world x anticlockwise about the origin, standing on z = 0; corners on the true arcs."""
    angles = np.linspace(0.0, angle, facets + 1)
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    plan = extruded(shapely.Polygon(np.concatenate([outer * ring, inner * ring[::-1]])), 0.0, height)
    return Mesh(plan.vertices[:, [0, 2, 1]], plan.faces)


@pytest.mark.parametrize("facets", [5, 24])
def test_an_annulus_sector_becomes_an_exact_prism(facets: int):
    # Closed form: area of an annulus sector (R^2 - r^2) a / 2.
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 3.0, 3.1, outward=False, middle=0.5).true_at(0.1)
    prism = to_prism(moved(sector(2.9, 3.1, 1.2, 2.5, facets), axes))
    assert prism is not None
    assert (prism.y_min, prism.y_max) == pytest.approx((0.0, 0.2), abs=1e-12)
    assert prism.outline.bounds == pytest.approx((0.0, 0.0, 3.0 * 1.2, 2.5), abs=1e-9)
    found = find_voids(prism, [], [], (0.0, 0.2), DEFAULT_TOLERANCES, stretch=axes.stretch)
    assert found.void_volume == pytest.approx((3.1**2 - 2.9**2) * 1.2 / 2.0 * 2.5, rel=1e-12)
    assert found.gross == pytest.approx(found.void_volume, rel=1e-12)


@pytest.mark.parametrize("outward", [True, False])
def test_half_the_depth_counts_with_its_own_radius(outward: bool):
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 2.0, 2.0, outward=outward, middle=0.5)
    region = Prism(shapely.box(0.0, 0.0, 2.0, 1.0), 0.0, 0.4)
    plate = Prism(shapely.box(-1.0, -1.0, 5.0, 5.0), 0.2, 0.4)
    found = find_voids(region, [], [plate], (0.0, 0.4), DEFAULT_TOLERANCES, stretch=axes.stretch)
    inner, outer = (2.0, 2.2) if outward else (1.8, 2.0)
    assert found.void_volume == pytest.approx((outer**2 - inner**2) / 2.0, rel=1e-12)


def test_a_wedge_across_the_depth_is_integrated_exactly():
    # A top that falls linearly from 2 to 1 over the depth: height 2 - 5 y, radius 3 + y, both integrated by hand.
    block = extruded(shapely.box(0.0, 0.0, 3.0, 2.0), 0.0, 0.2)
    vertices = block.vertices.copy()
    vertices[(vertices[:, 2] > 1.0) & (vertices[:, 1] > 0.1), 2] = 1.0
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 3.0, 3.0, outward=True, middle=0.5)
    found = find_voids(Mesh(vertices, block.faces), [], [], (0.0, 0.2), DEFAULT_TOLERANCES, stretch=axes.stretch)
    by_hand = (2.0 * 3.0 * 0.2) + (2.0 - 15.0) * 0.2**2 / 2.0 - 5.0 * 0.2**3 / 3.0
    assert found.void_volume == pytest.approx(by_hand, rel=1e-9)


def test_refining_keeps_a_closed_mesh_closed_and_its_volume():
    box = extruded(shapely.box(0.0, 0.0, 1.3, 2.0), 0.0, 0.4)
    axes = Developed(np.array([0.0, -3.0, 0.0]), np.array([0.0, 1.0, 0.0]), 3.0, 3.0, outward=True, middle=0.0)
    fine = refined(box, axes, 1e-4)
    pairs = np.sort(np.concatenate([fine.faces[:, [0, 1]], fine.faces[:, [1, 2]], fine.faces[:, [2, 0]]]), axis=1)
    _, counts = np.unique(pairs, axis=0, return_counts=True)
    assert (counts == 2).all()
    assert volume(fine) == pytest.approx(1.3 * 2.0 * 0.4, rel=1e-12)
    local = axes.to_local(fine.vertices)[pairs].mean(axis=1)
    assert np.abs(axes.to_local(fine.vertices[pairs].mean(axis=1)) - local).max() <= 1e-4


def test_a_mesh_that_is_fine_enough_stays_as_it_is():
    box = extruded(shapely.box(0.0, 0.0, 0.1, 2.0), 2.9, 3.1)
    axes = Developed(np.zeros(3), np.array([0.0, 1.0, 0.0]), 3.0, 2.9, outward=True, middle=0.0)
    assert len(refined(box, axes, 1e-3).faces) == len(box.faces)


def test_chords_of_a_round_face_stand_for_the_arc_and_longer_ones_are_straight():
    body = sector(2.9, 3.1, 1.2, 2.5, 12)
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 3.0, 2.9, outward=True, middle=-0.6)
    rise = 3.1 * (1.0 - np.cos(0.05))
    assert refined(body, axes, 1e-4, arc_chord=1.01 * rise) is body
    assert volume(refined(body, axes, 1e-4)) == pytest.approx(volume(body), rel=1e-12)
    assert len(refined(body, axes, 1e-4).faces) > len(body.faces)


def test_new_corners_on_a_round_face_lie_on_its_arc():
    body = sector(2.9, 3.1, 1.2, 2.5, 12)
    vertices = body.vertices.copy()
    vertices[(vertices[:, 2] > 1.0) & (vertices[:, 0] > 2.0), 2] = 1.5  # a top that is not level must be bent
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 3.0, 2.9, outward=True, middle=-0.6)
    fine = refined(Mesh(vertices, body.faces), axes, 1e-4, arc_chord=0.004)
    assert len(fine.faces) > len(body.faces)
    radii = np.hypot(fine.vertices[:, 0], fine.vertices[:, 1])
    upright = (fine.vertices[:, 2] > 0.0) & (fine.vertices[:, 2] < 1.0) & (fine.vertices[:, 1] > 1e-9)
    away_from_end = np.arctan2(fine.vertices[:, 1], fine.vertices[:, 0]) < 1.2 - 1e-9
    round_ones = radii[upright & away_from_end]
    assert len(round_ones) > 0
    assert np.minimum(np.abs(round_ones - 2.9), np.abs(round_ones - 3.1)).max() < 1e-9


def test_a_flat_board_bends_to_its_true_volume():
    # A straight board laid in a ring of 1 m radius, measured in rolled-out axes, keeps its own volume.
    board = extruded(shapely.box(-0.2, 0.0, 0.2, 0.3), 1.0, 1.05)
    axes = Developed(np.zeros(3), np.array([0.0, 1.0, 0.0]), 1.0, 0.9, outward=True, middle=0.0)
    local = moved(refined(board, axes, 1e-3), axes)
    region = Prism(shapely.box(-0.5, -0.1, 0.5, 0.5), 0.0, 0.3)
    found = find_voids(region, [], [local], (0.0, 0.3), DEFAULT_TOLERANCES, stretch=axes.stretch)
    assert found.solids == pytest.approx(0.4 * 0.3 * 0.05, rel=1e-3)
    assert volume(moved_to_world(local, axes)) == pytest.approx(0.4 * 0.3 * 0.05, rel=1e-9)
