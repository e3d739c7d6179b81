"""Solids a hair out of true come out straight; what is really shaped so stays."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from shapely import box

from geometry.solids import Mesh, Prism, depth_range, extruded, to_prism, volume
from geometry.truing import OUT_OF_TRUE, trued

STUD = extruded(box(0.4, 0.038, 0.438, 2.4), 0.0, 0.14)


def turned(mesh: Mesh, degrees: float, axis: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> Mesh:
    """Turned about its own middle."""
    middle = mesh.vertices.mean(axis=0)
    turn = Rotation.from_rotvec(np.radians(degrees) * np.array(axis))
    return Mesh(turn.apply(mesh.vertices - middle) + middle, mesh.faces)


@pytest.mark.parametrize("axis", [(0, 0, 1), (1, 0, 0), (0, 1, 0)])
def test_a_stud_turned_by_what_directions_are_rounded_to_is_a_prism_again(axis) -> None:
    out = turned(STUD, 0.004, axis)
    straight = to_prism(trued([out])[0])
    assert isinstance(straight, Prism)
    assert straight.volume == pytest.approx(volume(STUD), rel=1e-6)


def test_a_twist_that_can_be_seen_stays() -> None:
    twisted = turned(STUD, 3.0)
    (same,) = trued([twisted])
    assert same is twisted


def test_a_straight_solid_is_the_same_object() -> None:
    assert trued([STUD], (0.0, 0.14))[0] is STUD


def test_faces_keep_to_the_faces_of_the_wall_and_to_each_other() -> None:
    proud = extruded(box(0.0, 0.0, 0.04, 2.4), -0.0001, 0.1398)
    other = extruded(box(0.6, 0.0, 0.64, 2.4), 0.00015, 0.1401)
    assert [depth_range(mesh) for mesh in trued([proud, other], (0.0, 0.14))] == [(0.0, 0.14)] * 2
    near = [depth_range(mesh)[0] for mesh in trued([proud, other])]
    assert near[0] == near[1] == pytest.approx(0.000025)


def test_a_step_of_a_millimetre_stays() -> None:
    back = extruded(box(0.6, 0.0, 0.64, 2.4), 0.001, 0.139)
    assert [depth_range(mesh) for mesh in trued([STUD, back], (0.0, 0.14))] == [(0.0, 0.14), (0.001, 0.139)]


@pytest.mark.parametrize("thickness", [0.00038, 0.00046, 0.00084, 0.00115])
def test_sheet_steel_keeps_its_thickness(thickness) -> None:
    """Base steel of 15, 18, 33 and 43 mil, from memory of the tables of cold-formed steel framing."""
    flange = extruded(box(0.0, 0.0, 0.041, 2.4), 0.0, thickness)
    rough = Mesh(flange.vertices + np.random.default_rng(1).uniform(-2e-5, 2e-5, flange.vertices.shape), flange.faces)
    (straight,) = trued([rough], (0.0,))
    low, high = depth_range(straight)
    assert low == 0.0
    assert high == pytest.approx(thickness, abs=4e-5)
    assert to_prism(straight) is not None


@pytest.mark.parametrize("facets", [8, 24, 64, 200])
def test_a_round_pipe_stays_round(facets) -> None:
    angle = 2 * np.pi * np.arange(facets) / facets
    ring = shapely.Polygon(np.column_stack([0.07 + 0.025 * np.cos(angle), 1.2 + 0.025 * np.sin(angle)]))
    lying = extruded(ring, 0.0, 1.0)
    along = Mesh(lying.vertices[:, [1, 0, 2]], lying.faces)  # its length now runs along the wall
    assert trued([along], (0.0, 0.14))[0] is along


@given(st.integers(0, 2**32 - 1), st.floats(1e-6, 1e-3))
def test_nothing_moves_further_than_it_may_be_out(seed, noise) -> None:
    rng = np.random.default_rng(seed)
    rough = [
        Mesh(mesh.vertices + rng.uniform(-noise, noise, mesh.vertices.shape), mesh.faces)
        for mesh in (STUD, extruded(box(0.0, 0.0, 2.0, 0.038), 0.0, 0.09), extruded(box(1, 1, 1.5, 1.04), 0.05, 0.14))
    ]
    for before, after in zip(rough, trued(rough, (0.0, 0.14)), strict=True):
        # Once to one depth for its own face and once to that of all.
        assert np.abs(after.vertices - before.vertices).max() <= 2 * OUT_OF_TRUE + 1e-6
