"""Solids, sections and silhouettes, on shapes that can be checked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.frames import Axes, axes_from_directions
from geometry.solids import (
    Mesh,
    Prism,
    as_mesh,
    depth_breaks,
    extruded,
    is_constant_between,
    moved,
    moved_to_world,
    section,
    silhouette,
    to_prism,
    volume,
)


def tapered() -> Mesh:
    """A block 1 x 0.1 x 1 whose right end slopes back to 0.8 at the far face."""
    body = extruded(shapely.box(0, 0, 1, 1), 0.0, 0.1)
    vertices = body.vertices.copy()
    vertices[(vertices[:, 0] == 1.0) & (vertices[:, 1] > 0.0), 0] = 0.8
    return Mesh(vertices, body.faces)


def test_axes_are_right_handed_and_seen_from_the_fill_side() -> None:
    axes = axes_from_directions([1, 2, 3], [0, 1, 0], [0, 0, 1])
    assert axes.directions.tolist() == [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
    assert axes.to_local([[2, 2, 3]]).tolist() == [[1, 0, 0]]
    assert axes.turned_about().to_local([[2, 3, 4]]).tolist() == [[-1, -1, 1]]


def test_axes_refuse_a_left_handed_frame() -> None:
    with pytest.raises(ValueError, match="right-handed"):
        Axes(np.zeros(3), np.diag([1.0, -1.0, 1.0]))


def test_axes_refuse_a_depth_that_points_up() -> None:
    with pytest.raises(ValueError, match="parallel"):
        axes_from_directions([0, 0, 0], [0, 0, 2], [0, 0, 1])


def test_a_box_comes_back_from_its_mesh_as_the_same_prism() -> None:
    prism = to_prism(extruded(shapely.box(0.2, 0.1, 1.4, 2.5), 0.01, 0.15))
    assert prism is not None
    assert (prism.y_min, prism.y_max) == (0.01, 0.15)
    assert prism.outline.equals(shapely.box(0.2, 0.1, 1.4, 2.5))
    assert len(prism.outline.exterior.coords) == 5  # type: ignore[union-attr]


def test_an_extruded_outline_keeps_its_hole() -> None:
    ring = shapely.box(0, 0, 2, 2).difference(shapely.box(0.5, 0.5, 1.5, 1.5))
    mesh = extruded(ring, 0.0, 0.5)
    assert volume(mesh) == pytest.approx(1.5, rel=1e-12)
    assert section(mesh, 0.25).equals(ring)


def test_a_tapered_block_is_no_prism_and_varies() -> None:
    mesh = tapered()
    assert to_prism(mesh) is None
    assert not is_constant_between(mesh, 0.0, 0.1, 1e-7)
    assert section(mesh, 0.05).area == pytest.approx(0.9, rel=1e-12)
    assert silhouette(mesh).area == pytest.approx(1.0, rel=1e-12)


def test_a_c_section_has_constant_sections_between_its_faces() -> None:
    web, flange, lip, steel = 0.1, 0.04, 0.012, 0.001
    outer = shapely.box(0, 0, flange, web)
    hollow = shapely.box(steel, steel, flange, web - steel).difference(shapely.box(flange - steel, 0, flange, lip))
    hollow = hollow.difference(shapely.box(flange - steel, web - lip, flange, web))
    profile = outer.difference(hollow)
    flat = extruded(profile, 0.0, 2.4)  # profile in (x, depth), then turned so that the stud stands
    stud = Mesh(flat.vertices[:, [0, 2, 1]], flat.faces[:, ::-1])
    assert depth_breaks(stud, 1e-7) == pytest.approx([0.0, steel, lip, web - lip, web - steel, web])
    assert section(stud, web / 2).area == pytest.approx(steel * 2.4)
    assert section(stud, lip / 2).area == pytest.approx(2 * steel * 2.4)
    assert section(stud, steel / 2).area == pytest.approx(flange * 2.4)


def test_triangles_that_point_the_wrong_way_or_come_twice_change_no_section() -> None:
    body = extruded(shapely.box(0, 0, 1, 2), 0.0, 0.3)
    muddled = body.faces.copy()
    muddled[::2] = muddled[::2, ::-1]
    doubled = Mesh(body.vertices, np.concatenate([muddled, body.faces]))
    assert section(doubled, 0.1).equals(shapely.box(0, 0, 1, 2))


def test_a_section_beside_the_solid_is_empty() -> None:
    assert section(tapered(), 0.2).is_empty
    assert section(Prism(shapely.box(0, 0, 1, 1), 0.0, 0.1), 0.2).is_empty


def test_moving_to_the_world_and_back_keeps_a_mesh() -> None:
    turn = np.radians(33.0)
    axes = Axes(
        np.array([400.0, -70.0, 12.0]),
        np.array([[np.cos(turn), np.sin(turn), 0], [-np.sin(turn), np.cos(turn), 0], [0, 0, 1]]),
    )
    mesh = tapered()
    assert np.abs(moved(moved_to_world(mesh, axes), axes).vertices - mesh.vertices).max() < 1e-12


def test_a_prism_of_two_parts_becomes_one_closed_mesh() -> None:
    two = shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(2, 0, 3, 1)])
    assert volume(as_mesh(Prism(two, 0.0, 0.5))) == pytest.approx(1.0, rel=1e-12)


def test_a_body_given_with_both_sides_in_other_triangles_has_its_section() -> None:
    corners = np.array([(x, y, z) for x in (0.0, 4.0) for y in (0.0, 1.0) for z in (0.0, 2.0)])
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d), (b, d, c), (b, a, d))]
    both = Mesh(corners, np.array(faces))
    for y in (0.1, 0.5, 0.9):
        assert section(both, y).equals(shapely.box(0, 0, 4, 2)), y
    prism = to_prism(both)
    assert prism is not None
    assert prism.outline.equals(shapely.box(0, 0, 4, 2))


def test_shells_that_touch_round_a_hole_leave_the_hole_open() -> None:
    around = [shapely.box(0, 0, 1, 3), shapely.box(2, 0, 3, 3), shapely.box(1, 0, 2, 1), shapely.box(1, 2, 2, 3)]
    mesh = as_mesh(Prism(shapely.MultiPolygon(around), 0.0, 1.0))
    assert section(mesh, 0.4).equals(shapely.box(0, 0, 3, 3).difference(shapely.box(1, 1, 2, 2)))


def test_shells_that_overlap_have_the_section_of_both() -> None:
    mesh = as_mesh(Prism(shapely.MultiPolygon([shapely.box(0, 0, 2, 1), shapely.box(1, 0, 3, 1)]), 0.0, 1.0))
    assert section(mesh, 0.5).area == pytest.approx(3.0)
