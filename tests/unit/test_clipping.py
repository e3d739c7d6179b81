"""Meshes cut to a range of depth, against volumes worked by hand and closed-mesh booleans."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from geometry.booleans import boolean_voids
from geometry.clipping import clipped
from geometry.solids import Mesh, extruded, section, silhouette, volume
from tests.wall_builder import standing, turned


def edges_meet_in_pairs(mesh: Mesh) -> bool:
    edges = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    _, counts = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    return bool((counts % 2 == 0).all())


def capped_volume(mesh: Mesh) -> float:
    """m3, by sections: a mitred body changes evenly, so Simpson's rule is exact."""
    low, high = mesh.vertices[:, 1].min(), mesh.vertices[:, 1].max()
    areas = [section(mesh, y).area for y in (low + 1e-9, 0.5 * (low + high), high - 1e-9)]
    return (high - low) * (areas[0] + 4.0 * areas[1] + areas[2]) / 6.0


MITRED = standing(shapely.Polygon([(0.0, 0.0), (4.0, 0.0), (3.6, 0.4), (0.4, 0.4)]), 0.0, 2.5)


def test_a_mitred_wall_keeps_only_its_middle_layer():
    part = clipped(MITRED, 0.1, 0.3)
    assert edges_meet_in_pairs(part)
    # 3.8 m long at 0.1, 3.4 m at 0.3
    assert capped_volume(part) == pytest.approx((3.8 + 3.4) / 2.0 * 0.2 * 2.5, rel=1e-8)
    assert silhouette(part).bounds == pytest.approx((0.1, 0.0, 3.9, 2.5))
    assert (part.vertices[:, 1].min(), part.vertices[:, 1].max()) == (0.1, 0.3)


def test_what_lies_within_comes_back_unchanged_and_what_lies_without_is_nothing():
    assert clipped(MITRED, -1.0, 1.0).faces.shape == MITRED.faces.shape
    assert len(clipped(MITRED, 0.5, 1.0).faces) == 0
    assert len(clipped(MITRED, 0.4, 1.0).faces) == 0, "it only touches the plane"


def test_a_face_within_rounding_of_a_plane_is_on_it():
    part = clipped(MITRED, 1e-8, 0.4 - 1e-8)
    assert edges_meet_in_pairs(part)
    assert part.vertices[:, 1].min() == 1e-8


def test_holes_stay_holes():
    plate = extruded(shapely.box(0, 0, 4, 3).difference(shapely.box(1, 1, 2, 2)), 0.0, 1.0)
    for degrees in (0.0, 30.0, 45.0, 90.0):
        mesh = turned(plate, degrees)
        assert volume(mesh) == pytest.approx(11.0)
        low, high = float(mesh.vertices[:, 1].min()), float(mesh.vertices[:, 1].max())
        part = clipped(mesh, low + 0.2, high - 0.3)
        assert edges_meet_in_pairs(part), degrees
        wanted = sum(boolean_voids(mesh, [], (low + 0.2, high - 0.3)))
        assert sum(boolean_voids(part, [], (low - 1.0, high + 1.0))) == pytest.approx(wanted, rel=1e-8)


def test_cuts_of_crooked_polyhedra_have_the_volume_of_closed_mesh_booleans():
    # scipy's hulls give corners in general position; their faces are turned outwards for the boolean engine.
    from scipy.spatial import ConvexHull

    draw = np.random.default_rng(7)
    for _ in range(25):
        points = draw.random((10, 3))
        hull = ConvexHull(points)
        middle = points.mean(axis=0)
        faces = np.array(
            [f if np.dot(eq[:3], np.cross(points[f[1]] - points[f[0]], points[f[2]] - points[f[0]])) > 0 else f[::-1]
             for f, eq in zip(hull.simplices, hull.equations, strict=True)]
        )  # fmt: skip
        mesh = Mesh(points, faces)
        assert volume(mesh) == pytest.approx(hull.volume, rel=1e-9)
        low, high = sorted((middle[1] - 0.3 * draw.random(), middle[1] + 0.3 * draw.random()))
        part = clipped(mesh, low, high)
        assert edges_meet_in_pairs(part)
        assert volume(part) == pytest.approx(sum(boolean_voids(mesh, [], (low, high))), abs=1e-9)
