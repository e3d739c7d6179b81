"""Where each material layer lies across a wall."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from geometry.cylinders import Developed
from takeoff.building import Cylinder
from takeoff.job import default_job
from takeoff.layer_roles import LayerSetFacts
from takeoff.model import LayerRole
from takeoff.wall_rules import NO_RULE, WallRule
from takeoff.walls.layer_places import LayerBook, LayerPlaces, judged_layers, placed_layers
from tests.wall_builder import BOARD, LAYERS, STUDS, THICKNESS, WORLD, layer_set, wall


def placed(model_wall, extent, rule=NO_RULE, axes=WORLD):
    judged = judged_layers(model_wall, rule, LayerBook(default_job()), has_frame=False)
    return placed_layers(model_wall, judged, axes, extent)


def faces(places: LayerPlaces) -> list[float]:
    return [places.layers[0].y_min, *(layer.y_max for layer in places.layers)]


def test_layers_fill_a_body_as_thick_as_they_are_from_face_to_face():
    places = placed(wall(), (0.0, THICKNESS))
    assert faces(places) == pytest.approx([0.0, BOARD, BOARD + STUDS, THICKNESS])
    assert [layer.role for layer in places.layers] == [LayerRole.LINING, LayerRole.STUD, LayerRole.SHEATHING]
    assert places.stud_numbers == (1,)
    assert places.findings == ()


def test_the_body_goes_before_the_reference_line_where_both_fit():
    # The offset says 0.3 m, but the body stands elsewhere: layers cannot lie outside it.
    shifted = wall(layers=layer_set(offset=0.3))
    assert faces(placed(shifted, (1.0, 1.0 + THICKNESS)))[0] == pytest.approx(1.0)


def test_a_millimetre_of_rounding_is_no_difference():
    places = placed(wall(), (0.0, THICKNESS + 0.001))
    assert places.findings == ()
    assert faces(places)[0] == 0.0


@pytest.mark.parametrize("offset", [0.0, -0.02, 0.03])
def test_the_reference_line_places_layers_that_are_not_as_thick_as_the_body(offset):
    places = placed(wall(layers=layer_set(offset=offset)), (0.0, 0.25))
    assert faces(places) == pytest.approx([offset, offset + BOARD, offset + BOARD + STUDS, offset + THICKNESS])
    (finding,) = places.findings
    assert (finding.code, finding.measured, finding.limit) == (
        "layers-not-as-thick-as-body",
        pytest.approx(0.25),
        pytest.approx(THICKNESS),
    )


def test_a_reference_line_beside_the_body_is_passed_over():
    places = placed(wall(layers=layer_set(offset=5.0)), (0.0, 0.25))
    assert faces(places)[0] == 0.0


def test_without_a_body_the_reference_line_places_the_layers():
    assert faces(placed(wall(layers=layer_set(offset=-0.07)), None))[0] == pytest.approx(-0.07)
    assert faces(placed(wall(layers=layer_set(direction=None, offset=None)), None))[0] == 0.0


def test_layers_that_run_the_other_way_are_placed_along_their_own_direction():
    # y of the raw axes runs against the world's: a wall whose layers run from y = 0 to y = -0.1645
    axes = WORLD.turned_about()
    model_wall = wall(layers=layer_set(direction=(0.0, -1.0, 0.0), offset=0.01))
    assert faces(placed(model_wall, (0.0, 0.25), axes=axes))[0] == pytest.approx(0.01)


def test_a_layer_without_thickness_stays_listed_and_takes_no_room():
    layers = (LAYERS[0], ("Vapour barrier", 0.0), *LAYERS[1:])
    places = placed(wall(layers=layer_set(layers)), (0.0, THICKNESS))
    assert faces(places) == pytest.approx([0.0, BOARD, BOARD, BOARD + STUDS, THICKNESS])
    assert places.stud_numbers == (2,)


def test_a_wall_without_layers_has_no_places():
    assert placed(wall(layers=None), (0.0, 0.2)) == LayerPlaces((), ())


def test_the_job_file_names_the_stud_layer():
    layers = (("Board", 0.02), ("Something", 0.1), ("Board", 0.02))
    places = placed(wall(layers=layer_set(layers)), (0.0, 0.14), WallRule(stud_layer=(2,)))
    assert places.stud_numbers == (1,)


def test_a_layer_set_is_judged_once_for_all_walls_that_share_it():
    book = LayerBook(default_job())
    layers, facts = layer_set().layers, LayerSetFacts()
    assert book.roles(layers, facts) is book.roles(tuple(replace(layer) for layer in layers), facts)


def test_layers_of_a_curved_wall_are_measured_from_its_own_axis():
    # its placement may lie anywhere; the axis lies on the cylinder
    cylinder = Cylinder(np.array([0.0, 5.0, 0.0]), np.array([0.0, 0.0, 1.0]), 5.0)
    curved = wall(cylinder=cylinder, layers=layer_set(direction=(0.0, 1.0, 0.0), offset=0.02))
    axes = Developed(np.array([0.0, 5.0, 0.0]), np.array([0.0, -1.0, 0.0]), 5.0, 5.1, False, 0.0)
    # towards the centre, y = 0 at a radius of 5.1: the axis at 5.0 is y = 0.1
    assert faces(placed(curved, (0.0, 0.4), axes=axes))[0] == pytest.approx(0.1 + 0.02)
