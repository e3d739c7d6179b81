"""External or internal, and from which side a stud layer is filled."""

from __future__ import annotations

import numpy as np
import pytest

from takeoff.finding import Severity
from takeoff.job import default_job
from takeoff.wall_rules import NO_RULE, WallRule
from takeoff.walls.layer_places import LayerBook, judged_layers
from takeoff.walls.sides import Sides, fill_side, sides_of
from takeoff.walls.surroundings import Surroundings
from tests.wall_builder import LENGTH, THICKNESS, WORLD, layer_set, room, wall

BOX = np.array([[0.0, 0.0, 0.0], [LENGTH, THICKNESS, 2.4]])
NEAR = room("Kitchen", (0.0, -3.0, 0.0, 4.0, 0.0, 2.4))
FAR = room("Bath", (0.0, THICKNESS, 0.0, 4.0, 3.0, 2.4))
TERRACE = room("Terrace", (0.0, THICKNESS, 0.0, 4.0, 3.0, 2.4), external=True)
NO_ROOMS = Sides(((), ()), (False, False), external=True, external_reason="")
SYMMETRIC = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("Gypsum board", 0.0125))


def sides(*spaces, rule=NO_RULE, **changes) -> Sides:
    one = wall(**changes)
    return sides_of(one, WORLD, BOX, rule, Surroundings(spaces, (one,)))


def layers_of(layers):
    return judged_layers(wall(layers=layer_set(layers)), NO_RULE, LayerBook(default_job()), has_frame=False)


def side_of(layers, found: Sides = NO_ROOMS, rule=NO_RULE):
    placed = layers_of(layers)
    number = next(n for n, layer in enumerate(placed) if layer.role == "stud_layer")
    return fill_side(wall(), placed, number, found, rule)


# ---------------------------------------------------------------- external or internal


def test_what_the_model_says_goes_before_the_rooms():
    assert sides(NEAR, FAR, external=True).external is True
    assert sides(NEAR, external=False).external is False
    assert sides(NEAR, external=False).external_reason == "the model says so (Pset_WallCommon.IsExternal)"


def test_what_the_job_file_says_goes_before_the_model():
    found = sides(NEAR, FAR, external=True, rule=WallRule(external=False))
    assert (found.external, found.external_reason) == (False, "the job file says so")
    assert found.findings == ()


@pytest.mark.parametrize(
    ("stated", "spaces", "severity"),
    [
        (True, (NEAR, FAR), Severity.INFO),
        (False, (NEAR,), Severity.WARNING),
        (False, (FAR,), Severity.WARNING),
        (True, (NEAR,), None),
        (False, (NEAR, FAR), None),
        (False, (), None),
        (None, (NEAR,), None),
    ],
)
def test_rooms_that_speak_against_the_model_are_told(stated, spaces, severity):
    found = sides(*spaces, external=stated)
    assert [(each.code, each.severity) for each in found.findings] == (
        [("external-against-rooms", severity)] if severity else []
    )


@pytest.mark.parametrize(
    ("spaces", "external", "inner"),
    [((NEAR, FAR), False, None), ((NEAR,), True, 0), ((FAR,), True, 1), ((NEAR, TERRACE), True, 0), ((), True, None)],
)
def test_rooms_tell_where_the_model_is_silent(spaces, external, inner):
    found = sides(*spaces)
    assert (found.external, found.inner) == (external, inner)
    assert found.external_reason.startswith("the model does not say")


@pytest.mark.parametrize(
    ("begins", "external", "inner", "told"),
    [(2.6, True, 0, True), (1.3, False, None, True), (0.3, False, None, False), (0.0, False, None, False)],
)
def test_a_wall_with_rooms_along_part_of_a_side_is_judged_by_its_longer_part_and_told(begins, external, inner, told):
    """A garage behind part of a facade does not make an inside wall of all of it."""
    found = sides(NEAR, room("Garage", (begins, THICKNESS, 0.0, 4.0, 3.0, 2.4)))
    assert (found.external, found.inner) == (external, inner)
    assert [each.code for each in found.findings] == (["wall-partly-outside"] if told else [])
    if told:
        assert found.findings[0].measured == pytest.approx(begins / LENGTH, abs=0.06)


def test_what_the_model_or_the_job_file_says_of_such_a_wall_holds():
    garage = room("Garage", (2.6, THICKNESS, 0.0, 4.0, 3.0, 2.4))
    assert sides(NEAR, garage, external=True).findings == ()
    assert [each.code for each in sides(NEAR, garage, external=False).findings] == ["external-against-rooms"]
    assert sides(NEAR, garage, rule=WallRule(external=False)).findings == ()


def test_all_rooms_along_a_wall_are_named_once():
    left, right = room("A", (0.0, -3.0, 0.0, 1.5, 0.0, 2.4)), room("B", (1.5, -3.0, 0.0, 4.0, 0.0, 2.4))
    assert [found.label for found in sides(left, right).rooms[0]] == ["A", "B"]


def test_a_gable_is_looked_at_below_the_ceiling_of_its_room():
    one = wall()
    tall = np.array([[0.0, 0.0, 0.0], [LENGTH, THICKNESS, 6.0]])
    found = sides_of(one, WORLD, tall, NO_RULE, Surroundings((NEAR,), (one,)))
    assert found.inner == 0


def test_an_outside_space_is_no_room():
    assert sides(TERRACE).inside == (False, False)


# ---------------------------------------------------------------- the side that is filled from


def test_the_side_with_nothing_but_linings_is_filled_from():
    found = side_of((("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012)))
    assert (found.side, found.reason) == (0, "only linings lie on this side of the studs")
    found = side_of((("Brick", 0.1), ("OSB sheathing", 0.012), ("Wood studs", 0.14), ("Gypsum board", 0.0125)))
    assert found.side == 1


def test_bare_studs_are_filled_from_the_open_side():
    found = side_of((("OSB sheathing", 0.012), ("Wood studs", 0.14)))
    assert (found.side, found.reason) == (1, "nothing covers the studs on this side")


def test_a_membrane_keeps_nobody_from_hanging_netting():
    found = side_of((("Vapour barrier", 0.001), ("Wood studs", 0.14), ("OSB sheathing", 0.012)))
    assert found.side == 0


@pytest.mark.parametrize("inner", [0, 1])
def test_rooms_decide_where_layers_are_alike(inner):
    inside = (inner == 0, inner == 1)
    found = side_of(SYMMETRIC, Sides(((), ()), inside, external=True, external_reason=""))
    assert (found.side, found.reason) == (inner, "the inside of the wall")


def test_an_inside_wall_with_like_layers_may_be_filled_from_either_side():
    found = side_of(SYMMETRIC, Sides(((), ()), (True, True), external=False, external_reason=""))
    assert (found.side, found.findings) == (0, ())
    assert "either side" in found.reason


def test_an_outside_wall_drawn_inside_out_is_filled_from_inside_with_a_finding():
    turned = Sides(((), ()), (False, True), external=True, external_reason="")
    found = side_of((("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012)), turned)
    assert found.side == 1
    assert [finding.code for finding in found.findings] == ["layers-face-the-other-way"]


def test_an_inside_wall_follows_its_layers_and_not_the_rooms():
    found = side_of(
        (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012)),
        Sides(((), ()), (False, True), external=False, external_reason=""),
    )
    assert (found.side, found.findings) == (0, ())


def test_of_two_rows_of_studs_each_is_filled_from_its_own_lining():
    rows = (
        *(("Gypsum board", 0.0125), ("Wood studs", 0.09), ("Concrete block", 0.1)),
        *(("Wood studs", 0.09), ("Gypsum board", 0.0125)),
    )
    placed = layers_of(rows)
    numbers = [n for n, layer in enumerate(placed) if layer.role == "stud_layer"]
    assert [fill_side(wall(), placed, n, NO_ROOMS, NO_RULE).side for n in numbers] == [0, 1]


def test_the_job_file_states_the_side_by_layers_or_by_rooms():
    inside_far = Sides(((), ()), (False, True), external=True, external_reason="")
    for stated, side in (("first_layer", 0), ("last_layer", 1), ("inside", 1), ("outside", 0)):
        assert side_of(SYMMETRIC, inside_far, WallRule(fill_side=stated)).side == side
    # where nobody knows which side is inside the layers decide as if nothing had been stated
    lined = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012))
    assert side_of(lined, NO_ROOMS, WallRule(fill_side="outside")).side == 0


def test_a_wall_without_layers_is_filled_from_its_room():
    found = sides(FAR)
    assert fill_side(wall(), (), None, found, NO_RULE).side == 1
    assert fill_side(wall(), (), None, NO_ROOMS, NO_RULE).side == 0
