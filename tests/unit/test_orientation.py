"""Which way a wall faces."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from geometry.solids import extruded
from takeoff.building import ModelSpace
from takeoff.envelope.orientation import COMPASS, azimuth, compass, faces_of, outside_is_far, outward
from takeoff.model import Layer, LayerRole
from takeoff.walls.surroundings import Surroundings
from tests.records_builder import DEPTH, ORIGIN, stud_layer

NOWHERE = Surroundings((), ())


def room(y_min: float, y_max: float, *, external: bool = False) -> ModelSpace:
    """A room along the plain wall, between two places across it (wall axes lie along the world's)."""
    x, y, z = ORIGIN
    lying = extruded(box(x, z, x + 2.4, z + 2.4), y + y_min, y + y_max)
    return ModelSpace("ROOM", "Room", "", "Ground floor", (lying,), external)


@pytest.mark.parametrize(
    ("direction", "angle", "side"),
    [((0, 1), 0, "N"), ((1, 1), 45, "NE"), ((1, 0), 90, "E"), ((0, -1), 180, "S"), ((-1, 0), 270, "W"),
     ((-1, 1), 315, "NW")],
)  # fmt: skip
def test_the_compass_runs_clockwise_from_north(direction: tuple[int, int], angle: float, side: str) -> None:
    found = azimuth(np.array([*direction, 0.0]), (0.0, 1.0))
    assert found == pytest.approx(angle)
    assert compass(found) == side


@given(st.floats(0.0, 359.0), st.floats(0.0, 359.0))
def test_turning_wall_and_north_together_changes_nothing(heading: float, turn: float) -> None:
    def unit(degrees: float) -> tuple[float, float]:
        return sin(radians(degrees)), cos(radians(degrees))

    found = azimuth(np.array([*unit(heading + turn), 0.0]), unit(turn))
    assert (found - heading + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-6)


@given(st.floats(0.0, 360.0, exclude_max=True))
def test_every_angle_has_one_eighth_whose_middle_is_nearest(angle: float) -> None:
    middle = 45.0 * COMPASS.index(compass(angle))
    assert abs((angle - middle + 180.0) % 360.0 - 180.0) <= 22.5


def test_a_room_says_which_side_is_inside() -> None:
    layer = stud_layer("WALL")
    assert outside_is_far(layer, Surroundings((room(-3.0, -0.0125),), ()))
    assert not outside_is_far(layer, Surroundings((room(DEPTH + 0.012, 3.0),), ()))


def test_an_outside_space_is_no_room() -> None:
    layer = stud_layer("WALL")
    spaces = (room(-3.0, -0.0125), replace(room(DEPTH + 0.012, 3.0, external=True), global_id="PORCH"))
    assert outside_is_far(layer, Surroundings(spaces, ()))


def test_without_rooms_cladding_says_it_and_else_the_fill_side_is_inside() -> None:
    layer = stud_layer("WALL")
    assert outside_is_far(layer, NOWHERE)
    clad = Layer("siding", "", 0.02, LayerRole.CLADDING, "", -0.0325, -0.0125)
    assert not outside_is_far(replace(layer, layers=(clad, *layer.layers)), NOWHERE)
    both = (clad, *layer.layers, replace(clad, y_min=0.112, y_max=0.132))
    assert outside_is_far(replace(layer, layers=both), NOWHERE)


def test_outward_points_away_from_the_inside() -> None:
    layer = stud_layer("WALL")
    assert outward(layer, outside_far=True).tolist() == [0.0, 1.0, 0.0]
    assert outward(layer, outside_far=False).tolist() == [0.0, -1.0, 0.0]


def test_the_faces_of_a_wall_are_those_of_its_layers() -> None:
    layer = stud_layer("WALL")
    assert faces_of(layer) == pytest.approx((-0.0125, DEPTH + 0.012))
    assert faces_of(replace(layer, layers=())) == (0.0, DEPTH)
