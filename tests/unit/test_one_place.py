"""Walls in one line drawn into each other: the place that two claim is left to one of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geometry.solids import Prism, as_mesh, bounds, silhouette, volume
from takeoff.building import ModelPart
from takeoff.model import Status, Wall
from takeoff.walls.one_place import each_place_once
from tests.frame_builder import part
from tests.layout_builder import opening, wall_of
from tests.unit.test_overlaps import DEPTH, LONG, straight
from tests.wall_builder import standing


def lengths(*walls: Wall) -> list[float]:
    """m of each stud layer that is left."""
    return [float(np.ptp(bounds(layer.outline)[:, 0])) for wall in walls for layer in wall.stud_layers]


def frame(wall_id: str, length: float, start: float = 0.0) -> tuple[ModelPart, ...]:
    """Studs every 0.5 m and a plate, as parts of a wall, in its axes."""
    spots = [*np.arange(start, start + length - 0.04, 0.5).tolist(), start + length - 0.04]
    studs = [Prism(shapely.box(x, 0.0, x + 0.04, 2.36), 0.0, DEPTH) for x in spots]
    plate = Prism(shapely.box(start, 2.36, start + length, 2.4), 0.0, DEPTH)
    return tuple(part(f"{wall_id}{number}", one, wall_id=wall_id) for number, one in enumerate([*studs, plate]))


def test_a_wall_given_twice_is_counted_once_and_told():
    first, second = each_place_once((LONG, straight("A2", 4.0, (0.0, 0.0))))
    assert first is LONG
    assert (second.status, second.stud_layers) == (Status.LEFT_OUT, ())
    assert second.reason == "its studs would stand where those of wall A do, and are counted there"
    (finding,) = second.findings
    assert (finding.code, finding.measured) == ("walls-in-one-place", pytest.approx(1.0))
    assert "counted there only" in finding.message
    assert finding.place == pytest.approx((2.0, DEPTH / 2, 1.2))


def test_the_longer_wall_keeps_the_place_and_the_other_begins_where_it_ends():
    first, second = each_place_once((straight("B", 2.0, (3.5, 0.0)), LONG))
    assert lengths(first, second) == pytest.approx([1.5, 4.0])
    (layer,) = first.stud_layers
    assert layer.axes.origin == pytest.approx([4.0, 0.0, 0.0])
    (finding,) = first.findings
    assert finding.measured == pytest.approx(0.25)
    assert second is LONG


def test_a_place_that_passes_from_a_filled_wall_to_an_empty_one_is_told_as_that():
    empty = replace(LONG, insulated=False)
    (finding,) = each_place_once((straight("B", 2.0, (3.5, 0.0)), empty))[0].findings
    assert "where nothing is filled" in finding.message
    (finding,) = each_place_once((straight("B", 2.0, (3.5, 0.0)), LONG))[0].findings
    assert "where nothing is filled" not in finding.message


def test_walls_that_follow_each_other_are_left_alone():
    walls = (LONG, straight("B", 2.0, (4.0, 0.0)), straight("C", 2.0, (5.997, 0.0)))
    assert each_place_once(walls) == walls


def test_deeper_studs_keep_the_place_of_shallower_ones_that_lie_in_them():
    deep = straight("D", 1.0, (1.0, -0.02))
    (layer,) = deep.stud_layers
    deep = wall_of(replace(layer, depth=0.2, outline=Prism(shapely.box(0.0, 0.0, 1.0, 2.4), 0.0, 0.2)))
    first, second = each_place_once((LONG, deep))
    assert second is deep
    assert [piece.bounds[::2] for piece in shapely.get_parts(silhouette(first.stud_layers[0].outline))] == [
        pytest.approx((0.0, 1.0)),
        pytest.approx((2.0, 4.0)),
    ]


def test_drawn_members_keep_their_place_before_those_of_a_rule():
    framed = straight("B", 2.0, (3.5, 0.0), parts=frame("B", 2.0))
    first, second = each_place_once((LONG, framed))
    assert lengths(first, second) == pytest.approx([3.5, 2.0])
    assert second is framed


def test_where_the_members_of_both_are_drawn_both_are_counted_and_told():
    one, other = (
        straight("A", 4.0, (0.0, 0.0), parts=frame("A", 4.0)),
        straight("B", 2.0, (3.5, 0.0), parts=frame("B", 2.0)),
    )
    first, second = each_place_once((one, other))
    assert lengths(first, second) == pytest.approx([4.0, 2.0])
    assert "both are counted" in second.findings[0].message


def test_a_body_is_cut_where_its_drawn_frame_ends_before_the_other_wall():
    one = straight("A", 4.0, (0.0, 0.0), parts=frame("A", 4.0))
    other = straight("B", 2.0, (3.5, 0.0), parts=(*frame("B", 1.5, 0.5), *frame("A", 0.5)))
    first, second = each_place_once((one, other))
    assert lengths(first, second) == pytest.approx([4.0, 1.5])
    # The members of A that stood in it are gone with the place.
    assert {each.wall_id for each in second.stud_layers[0].parts} == {"B"}


def test_walls_beside_each_other_drawn_too_near_are_both_whole_and_part_no_bay_of_the_other():
    intruding = frame("B", 3.0)
    one = straight("A", 4.0, (0.0, 0.0), parts=(*frame("A", 4.0), *_shifted(intruding, DEPTH - 0.02)))
    other = straight("B", 3.0, (0.5, DEPTH - 0.02), parts=intruding)
    first, second = each_place_once((one, other))
    assert lengths(first, second) == pytest.approx([4.0, 3.0])
    assert {each.wall_id for each in first.stud_layers[0].parts} == {"A"}
    (finding,) = second.findings
    assert "both are counted" in finding.message


def test_a_plate_over_two_rows_of_studs_stays_in_both():
    plate = part("PLATE", Prism(shapely.box(0.0, 2.36, 3.0, 2.4), -DEPTH + 0.02, DEPTH), wall_id="B")
    one = straight("A", 4.0, (0.0, 0.0), parts=_shifted((plate,), DEPTH - 0.02))
    other = straight("B", 3.0, (0.5, DEPTH - 0.02), parts=(plate,))
    first, _ = each_place_once((one, other))
    assert [each.global_id for each in first.stud_layers[0].parts] == ["PLATE"]


def _shifted(parts: tuple[ModelPart, ...], depth: float) -> tuple[ModelPart, ...]:
    moved, step = [], np.array([0.5, depth, 0.0])
    for each in parts:
        solids = tuple(replace(mesh, vertices=mesh.vertices + step) for mesh in each.solids)
        moved.append(replace(each, solids=solids))
    return tuple(moved)


def test_a_mitred_wall_given_twice_is_cut_as_a_body():
    mitred = standing(shapely.Polygon([(0, 0), (4, 0), (4 - DEPTH, DEPTH), (0, DEPTH)]), 0.0, 2.4)
    wall = wall_of(replace(LONG.stud_layers[0], key="M", wall_id="M", outline=mitred))
    short = straight("S", 1.0, (0.0, 0.0))
    first, second = each_place_once((short, wall))
    assert (first.status, second) == (Status.LEFT_OUT, wall)
    longer = straight("L", 5.0, (-3.0, 0.0))
    kept, cut = each_place_once((longer, wall))
    assert kept is longer
    # Of 4 m to the tip of the mitre 2 m are left, less half of the mitre.
    assert volume(as_mesh(cut.stud_layers[0].outline)) == pytest.approx((2.0 - DEPTH / 2) * DEPTH * 2.4)


def test_an_opening_goes_with_the_place_that_it_stood_in():
    windows = (opening(shapely.box(0.1, 0.9, 0.4, 2.1), 1), opening(shapely.box(1.0, 0.9, 1.5, 2.1), 2))
    wall = straight("B", 2.0, (3.5, 0.0), openings=windows)
    (layer,) = each_place_once((LONG, wall))[1].stud_layers
    (left,) = layer.openings
    assert left.opening_id == "opening2"
    assert left.outline.bounds == pytest.approx((0.5, 0.9, 1.0, 2.1))


def test_the_notch_of_a_wall_is_not_taken_for_wall():
    (layer,) = straight("N", 4.0, (0.0, 0.0)).stud_layers
    outline = Prism(shapely.box(0, 0, 4, 2.4).difference(shapely.box(1, 0, 3, 2.4)), 0.0, DEPTH)
    walls = (wall_of(replace(layer, outline=outline)), straight("F", 2.0, (1.0, 0.0)))
    assert each_place_once(walls) == walls


def test_walls_of_two_storeys_do_not_meet():
    (layer,) = straight("U", 3.0, (0.0, 0.0)).stud_layers
    walls = (LONG, wall_of(replace(layer, axes=layer.axes.shifted([0.0, 0.0, 2.4]))))
    assert each_place_once(walls) == walls


def test_walls_above_each_other_claim_what_they_share_in_height():
    (layer,) = straight("U", 3.0, (0.0, 0.0)).stud_layers
    above = wall_of(replace(layer, axes=layer.axes.shifted([0.0, 0.0, 2.3])))
    first, second = each_place_once((LONG, above))
    assert first is LONG
    (finding,) = second.findings
    assert finding.code == "walls-in-one-place"
    assert "0.30 m2" in finding.message
