"""Openings that a wall's body comes with: the outline is filled in again and the hole is the opening."""

from __future__ import annotations

import pytest
import shapely
from shapely import Polygon

from geometry.solids import Mesh, Prism, Solid, section, silhouette
from takeoff.model import Opening
from takeoff.walls.cut_openings import Restored, holes_as_openings, lies_in_gap, notch_findings
from takeoff.walls.cut_openings import restored as fill_in
from takeoff.walls.stud_layers import body_outline
from tests.wall_builder import BOARD, HEIGHT, STUDS, THICKNESS, WORLD, standing, wall

AXES = WORLD.shifted([0.0, BOARD, 0.0])
WHOLE = shapely.box(0, 0, 4, 2.4)


def prism(solid: Solid) -> Prism:
    assert isinstance(solid, Prism)
    return solid


def hole(x_min: float, z_min: float, x_max: float, z_max: float, name: str = "O") -> Opening:
    return Opening(name, shapely.box(x_min, z_min, x_max, z_max), "IfcDoor", "", "opening element")


def filled(shape: Polygon, *openings: Opening) -> Restored:
    return fill_in(Prism(shape, 0.0, STUDS), openings, STUDS)


def restored(shape: Polygon, *openings: Opening) -> tuple[Solid, float]:
    made = filled(shape, *openings)
    return made.outline, made.area


def test_a_window_cut_out_of_the_body_is_filled_in_again():
    window = hole(1, 0.9, 2, 2.1)
    outline, area = restored(WHOLE.difference(window.outline), window)
    assert prism(outline).outline.equals(WHOLE)
    assert area == pytest.approx(1.2)


def test_a_body_that_is_whole_stays_as_it_is():
    body = Prism(WHOLE, 0.0, STUDS)
    made = fill_in(body, [hole(1, 0.9, 2, 2.1)], STUDS)
    assert (made.outline, made.area) == (body, 0.0)


def test_a_door_cut_out_at_the_end_of_a_wall_is_filled_in_whole():
    door = hole(3, 0, 4, 2.1)
    outline, area = restored(WHOLE.difference(door.outline), door)
    assert prism(outline).outline.equals(WHOLE)
    assert area == pytest.approx(2.1)


def test_an_opening_wider_than_what_was_cut_restores_only_the_wall():
    # the door sticks out below the floor and beyond the end
    door = hole(3, -0.3, 4.5, 2.1)
    outline, _ = restored(WHOLE.difference(door.outline), door)
    assert prism(outline).outline.equals(WHOLE)


def test_an_opening_that_rises_over_a_rake_restores_nothing_above_it():
    gable = Polygon([(0, 0), (4, 0), (4, 1), (0, 3)])
    window = hole(2, 1.2, 3, 3.0)
    cut = gable.difference(window.outline)
    outline, area = restored(cut, window)
    assert silhouette(outline).difference(gable).area < 1e-9
    assert area <= gable.intersection(window.outline).area + 1e-9


def test_a_recess_is_not_filled_in():
    recess = Opening("R", shapely.box(1, 1, 2, 2), "", "", "recess", Prism(shapely.box(1, 1, 2, 2), 0.0, 0.05))
    cut = WHOLE.difference(shapely.box(1, 1, 2, 2))
    assert restored(cut, recess)[1] == 0.0


def test_a_window_cut_out_of_a_mitred_body_is_filled_in_too():
    plan = Polygon([(0, 0), (4, 0), (4 - THICKNESS, THICKNESS), (THICKNESS, THICKNESS)])
    pieces = [
        standing(plan.intersection(shapely.box(0, 0, 1, 1)), 0.0, HEIGHT),
        standing(plan.intersection(shapely.box(2, 0, 4, 1)), 0.0, HEIGHT),
        standing(plan.intersection(shapely.box(1, 0, 2, 1)), 0.0, 0.9),
        standing(plan.intersection(shapely.box(1, 0, 2, 1)), 2.1, HEIGHT),
    ]
    outline = body_outline(pieces, AXES, STUDS)
    assert isinstance(outline, Mesh)
    made = fill_in(outline, [hole(1, 0.9, 2, 2.1)], STUDS)
    assert made.area == pytest.approx(1.2)
    for y in (0.01, 0.13):
        assert section(made.outline, y).area == pytest.approx((4.0 - 2 * (BOARD + y)) * HEIGHT)


def test_an_opening_smaller_than_what_was_cut_for_it_grows_to_that():
    # reveals and linings: the body is cut 50 mm larger all round
    cut = WHOLE.difference(shapely.box(1, 0.9, 2, 2.1)).difference(shapely.box(2.5, 0, 3.4, 2.1))
    made = filled(cut, hole(1.05, 0.95, 1.95, 2.05, "W"), hole(2.55, 0, 3.35, 2.05, "D"))
    assert prism(made.outline).outline.equals(WHOLE)
    assert [each.outline.bounds for each in made.openings] == [(1, 0.9, 2, 2.1), (2.5, 0, 3.4, 2.1)]
    assert made.area == pytest.approx(1.2 + 0.9 * 2.1)


def test_an_opening_larger_than_what_was_cut_keeps_its_own_outline():
    window = hole(0.95, 0.85, 2.05, 2.15)
    made = filled(WHOLE.difference(shapely.box(1, 0.9, 2, 2.1)), window)
    assert prism(made.outline).outline.equals(WHOLE)
    assert made.openings[0].outline.equals(window.outline)


def test_two_windows_in_one_hole_share_what_lies_between_them():
    cut = WHOLE.difference(shapely.box(1, 0.9, 3, 2.1))
    made = filled(cut, hole(1, 0.9, 1.95, 2.1, "L"), hole(2.05, 0.9, 3, 2.1, "R"))
    assert prism(made.outline).outline.equals(WHOLE)
    assert shapely.union_all([each.outline for each in made.openings]).area == pytest.approx(2.4)


def test_a_window_that_rises_over_a_nearly_level_rake_fills_nothing_in():
    # the wedge between the rake and the level is 8 mm high, and the window covers most of it
    raked = Polygon([(0, 0), (1.5, 0), (1.5, 0.909), (0, 0.901)])
    made = filled(raked, hole(0.1, 0.4, 1.4, 1.1))
    assert made.area == 0.0
    assert prism(made.outline).outline.equals(raked)


def test_a_step_of_the_wall_beside_an_opening_stays_a_step():
    stepped = Polygon([(0, 0), (4, 0), (4, 1.2), (3, 1.2), (3, 2.4), (0, 2.4)])
    window = hole(2.7, 0.6, 3.1, 1.8)
    made = filled(stepped, window)
    assert silhouette(made.outline).difference(stepped).area < 0.1, "only what lies between its own parts"


def test_an_opening_lies_in_a_gap_that_was_made_for_it():
    notched = WHOLE.difference(shapely.box(2.5, 0, 3.4, 2.1))
    assert lies_in_gap(notched, shapely.box(2.52, 0, 3.38, 2.08))
    assert not lies_in_gap(notched, shapely.box(0.5, 0, 1.4, 2.1)), "there is wall"
    gable = Polygon([(0, 0), (4, 0), (4, 1), (2, 3), (0, 1)])
    assert not lies_in_gap(gable, shapely.box(0.0, 2.2, 0.5, 2.9)), "in the air over the rake"


def test_holes_that_nothing_explains_are_openings_too():
    outline, holes = holes_as_openings(Prism(WHOLE.difference(shapely.box(1, 1, 2, 2)), 0.0, STUDS), "WALL")
    assert prism(outline).outline.equals(WHOLE)
    assert [(each.opening_id, each.outline.area) for each in holes] == [("WALL/hole1", pytest.approx(1.0))]
    assert holes_as_openings(Prism(WHOLE, 0.0, STUDS), "WALL")[1] == ()


@pytest.mark.parametrize(
    ("notch", "told"),
    [
        (shapely.box(2.5, 0, 3.4, 2.1), True),
        (shapely.box(2.5, 0, 2.7, 2.1), False),
        (shapely.box(2.5, 0, 3.4, 0.3), False),
        (shapely.box(2.5, 1.0, 3.4, 2.4), False),
        (Polygon([(1, 0), (3, 0), (2, 2)]), False),
    ],
    ids=["a door", "too narrow", "too low", "at the top", "no rectangle"],
)
def test_a_notch_as_large_as_a_door_is_told(notch, told):
    findings = notch_findings(wall(), Prism(WHOLE.difference(notch), 0.0, STUDS))
    assert [finding.code for finding in findings] == ["notch-like-door"] * told
