"""Where the top of a wall meets an eave: a pitched roof that falls outwards over it and ends not far out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from geometry.frames import Axes
from geometry.solids import Mesh, Prism, extruded
from takeoff.building import ModelRoof
from takeoff.eaves import Eave, eaves_of, roof_surfaces, tops_at
from takeoff.model import StudLayer
from tests.records_builder import stud_layer

# The plain wall of records_builder: 2.4 m long, 2.4 m high; in these axes its fill side looks to -y.
ALONG_X = Axes(np.zeros(3), np.eye(3))


def wall(length: float = 2.4, top: float = 2.4) -> StudLayer:
    return replace(stud_layer("W"), axes=ALONG_X, outline=Prism(box(0.0, 0.0, length, top), 0.0, 0.1))


def slab(corners: list[tuple[float, float, float]], thickness: float = 0.2) -> Mesh:
    """A slab under four corners of its upper side, anticlockwise from above, straight down."""
    upper = np.array(corners)
    points = np.concatenate([upper, upper - [0.0, 0.0, thickness]])
    sides = [f for a in range(4) for b in [(a + 1) % 4] for f in ((a, a + 4, b + 4), (a, b + 4, b))]
    faces = [(0, 1, 2), (0, 2, 3), (4, 6, 5), (4, 7, 6), *sides]
    return Mesh(points, np.array(faces))


def roof(*meshes: Mesh, name: str = "Roof") -> tuple[ModelRoof, ...]:
    return (ModelRoof("R", "IfcSlab", name, meshes),)


def falling_outwards(edge: float = 0.6, x: tuple[float, float] = (-0.5, 2.9), heel: float = 0.2) -> Mesh:
    """At 45 degrees from a ridge 3 m inside, `heel` above the studs over their face, to `edge` beyond it."""
    low, high = 2.4 + heel - edge, 2.4 + heel + 3.0
    return slab([(x[0], -3.0, high), (x[0], edge, low), (x[1], edge, low), (x[1], -3.0, high)][::-1])


def found(layer: StudLayer, *meshes: Mesh) -> tuple[Eave, ...]:
    return eaves_of(layer, roof_surfaces(roof(*meshes)))


def test_a_slab_of_the_tests_is_a_closed_body_looking_out():
    mesh = falling_outwards()
    corners = mesh.vertices[mesh.faces]
    volume = float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) / 6.0
    assert volume == pytest.approx(3.4 * 3.6 * 0.2, rel=1e-9)


def test_a_roof_that_falls_outwards_over_a_wall_makes_an_eave_along_all_of_it():
    (eave,) = found(wall(), falling_outwards())
    assert (eave.low, eave.high, eave.words) == (pytest.approx(0.0), pytest.approx(2.4), "roof Roof")


def test_an_eave_reaches_as_far_as_its_roof():
    (eave,) = found(wall(), falling_outwards(x=(1.2, 2.9)))
    assert (eave.low, eave.high) == pytest.approx((1.2, 2.4), abs=0.11)


def test_a_roof_that_falls_along_the_wall_makes_no_eave():
    rake = slab([(-0.5, -3.0, 4.5), (-0.5, 0.6, 4.5), (2.9, 0.6, 2.5), (2.9, -3.0, 2.5)][::-1])
    assert found(wall(), rake) == ()


def test_a_flat_roof_makes_no_eave():
    flat = slab([(-0.5, -3.0, 2.6), (-0.5, 0.6, 2.6), (2.9, 0.6, 2.6), (2.9, -3.0, 2.6)][::-1])
    assert found(wall(), flat) == ()


def test_a_roof_that_ends_over_the_studs_makes_no_eave():
    assert found(wall(), falling_outwards(edge=0.05)) == ()


def test_a_roof_that_goes_on_far_beyond_the_wall_makes_no_eave_there():
    assert found(wall(), falling_outwards(edge=3.5)) == ()


def test_a_roof_a_storey_higher_makes_no_eave():
    assert found(wall(), falling_outwards(heel=3.0)) == ()


def test_raised_heels_and_notched_rafters_are_eaves_all_the_same():
    for heel in (-0.1, 0.0, 0.9):
        assert len(found(wall(), falling_outwards(heel=heel))) == 1, heel


def test_the_side_from_which_a_wall_is_filled_changes_nothing():
    layer = wall()
    behind = replace(layer, axes=ALONG_X.shifted((2.4, 0.1, 0.0)).turned_about(), layers=())
    (eave,) = found(behind, falling_outwards())
    assert (eave.low, eave.high) == pytest.approx((0.0, 2.4))


def test_a_model_without_roofs_has_no_eaves():
    assert eaves_of(wall(), roof_surfaces(())) == ()


def test_the_top_of_an_elevation_is_found_at_each_place():
    tops = tops_at(box(0.0, 0.0, 2.0, 1.0).union(box(1.0, 0.0, 2.0, 3.0)), np.array([0.5, 1.5, 2.5]))
    assert tops[:2].tolist() == [1.0, 3.0]
    assert np.isnan(tops[2])


def test_only_upper_sides_count_as_the_roof():
    surfaces = roof_surfaces(roof(extruded(box(0.0, 0.0, 1.0, 1.0), 0.0, 0.5)))
    assert (surfaces.normals[:, 2] > 0.9).all()
    assert len(surfaces.names) == len(surfaces.corners) == len(surfaces.normals)
