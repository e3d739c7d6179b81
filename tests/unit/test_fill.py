"""The fill plan on cavities made by hand: method and reason, holes, rows, passes, what is left to the hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import translate

from geometry.frames import Axes
from geometry.reach import Reach
from geometry.solids import Mesh, Prism, extruded
from takeoff.fill import Pass, plan_fill, plan_layer
from takeoff.fill_place import FillPlace, fill_place, standing_before
from takeoff.hole_rows import Columns, RowWish, row_heights, slots_of
from takeoff.hose import LONG_HOSE, SHORT_HOSE, HoseSettings
from takeoff.model import CavityKind, Member, MemberRole, Method, Source
from tests.records_builder import cavity, plain_wall, wall_axes

KEY = "WALL-A"
PLACE = FillPlace(KEY, KEY, wall_axes())
BOTTOM, TOP = 0.038, 2.391
"""m; a bay of an 8 ft wall between its plates."""


def bay(number, left=0.0, top=TOP, width=0.37, **changes):
    return cavity(number, box(left, BOTTOM, left + width, top), KEY, **changes)


def planned(cavities, hose=SHORT_HOSE, place=PLACE):
    """The plan, and the fill of its first cavity."""
    plan = plan_layer(cavities if isinstance(cavities, list) else [cavities], place, hose)
    return plan, plan.cavities[0]


def circle(hole, hose=SHORT_HOSE):
    """The hole with its margin, less a rounding."""
    return shapely.Point(hole.x, hole.z).buffer(hose.clearance - 1e-6)


# ---------------------------------------------------------------- method


@pytest.mark.parametrize(
    ("changes", "method", "says"),
    [
        ({}, Method.BLOW, "hose reaches"),
        ({"clear_width": 0.090}, Method.BATT, "0.090 m is less than the 0.096 m"),
        ({"y_max": 0.045}, Method.BATT, "depth 0.045 m"),
        ({"volume": 0.002}, Method.BATT, "volume 0.0020 m3"),
        ({"kind": CavityKind.SLIVER, "reason": "5 mm wide"}, Method.SEAL, "5 mm wide"),
        ({"kind": CavityKind.OPENING_GAP, "reason": "door"}, Method.NONE, "door"),
        ({"kind": CavityKind.CLOSED_POCKET, "reason": "boxed in"}, Method.BEFORE_SHEATHING, "boxed in"),
        ({"front": Polygon()}, Method.BEFORE_SHEATHING, "open on the fill side"),
        ({"front": box(0, BOTTOM, 0.02, TOP)}, Method.BEFORE_SHEATHING, "narrower than 0.025 m"),
        ({"front": box(0, BOTTOM, 0.09, 0.2)}, Method.BEFORE_SHEATHING, "less than 10 %"),
        ({"front": box(0, BOTTOM, 0.09, TOP)}, Method.BATT, "nowhere 0.096 m wide"),
    ],
)
def test_each_rule_gives_its_method_and_its_reason(changes, method, says):
    _, fill = planned(bay(1, **changes))
    assert fill.method is method
    assert says in fill.reason


def test_a_wall_that_is_not_insulated_is_left_alone_and_says_why():
    plan, fill = planned(bay(1), place=replace(PLACE, insulated=False, insulated_reason="inside wall"))
    assert (fill.method, plan.holes, plan.hand_fills) == (Method.NONE, (), ())
    assert "inside wall" in fill.reason


def test_a_thicker_hose_needs_a_wider_cavity():
    thick = replace(SHORT_HOSE, outside_diameter=4 * 0.0254)
    narrow = bay(1, width=0.11)
    assert planned(narrow)[1].method is Method.BLOW
    assert planned(narrow, thick)[1].method is Method.BATT


def test_every_cavity_is_in_the_plan_and_no_volume_is_lost():
    cavities = [bay(1), bay(2, 0.5, clear_width=0.05), bay(3, 1.0, kind=CavityKind.CLOSED_POCKET)]
    plan, _ = planned(cavities)
    assert [fill.cavity_id for fill in plan.cavities] == [one.cavity_id for one in cavities]
    for fill, one in zip(plan.cavities, cavities, strict=True):
        assert fill.blown_volume + fill.hand_volume == pytest.approx(one.volume, rel=1e-12)


# ---------------------------------------------------------------- holes


def test_holes_stand_in_the_world_at_the_face_of_the_studs():
    axes = Axes(np.array([5.0, 6.0, 7.0]), np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]))
    plan, _ = planned(bay(1, 1.0), place=replace(PLACE, axes=axes))
    assert len(plan.holes) == 2
    for hole in plan.holes:
        assert hole.world == pytest.approx((5.0, 6.0 + hole.x, 7.0 + hole.z))
        assert hole.x == pytest.approx(1.185)


def test_heights_count_from_the_floor():
    raised, _ = planned(bay(1, top=1.0), place=replace(PLACE, floor=-0.2))
    assert [hole.height - hole.z for hole in raised.holes] == pytest.approx([0.2])


def test_the_floor_of_a_storey_sets_the_heights_of_its_holes():
    hole = plan_fill([plain_wall(storey_elevation=-0.3)]).holes[0]
    assert hole.height == pytest.approx(hole.z + 0.3)


def test_a_storey_far_from_the_wall_is_not_its_floor():
    hole = plan_fill([plain_wall(storey_elevation=100.0)]).holes[0]
    assert hole.height == hole.z


def test_every_hole_keeps_clear_of_members():
    step = Polygon([(0, 0), (0.4, 0), (0.4, 2.3), (0.25, 2.3), (0.25, 2.4), (0, 2.4)])
    rake = Polygon([(1, 0), (1.4, 0), (1.4, 1.7), (1, 2.1)])
    cavities = [cavity(1, step, KEY), cavity(2, rake, KEY)]
    plan, _ = planned(cavities)
    front = {one.cavity_id: one.front for one in cavities}
    assert {hole.cavity_id for hole in plan.holes} == set(front)
    assert all(front[hole.cavity_id].covers(circle(hole)) for hole in plan.holes)


def test_holes_keep_to_the_open_front_of_a_partly_covered_cavity():
    # A flat board covers the left half of the front; the cavity goes on behind it.
    front = box(0.2, BOTTOM, 0.37, TOP)
    plan, fill = planned(bay(1, front=front))
    assert fill.reached_share >= 0.999
    assert all(front.covers(circle(hole)) for hole in plan.holes)


def test_holes_keep_clear_of_what_stands_before_the_fill_face():
    # The legs of a track, 1 mm of sheet before the face, run 32 mm down and up the studs.
    legs = [Prism(box(0, TOP - 0.032, 3, TOP), -0.001, 0.0), Prism(box(0, BOTTOM, 3, BOTTOM + 0.032), -0.001, 0.0)]
    members = [Member(f"leg {n}", MemberRole.OTHER, "", Source.MODELLED, leg) for n, leg in enumerate(legs)]
    place = replace(PLACE, before=standing_before(members))
    low = bay(1, top=BOTTOM + 0.032 + 0.1 + 0.032)
    legs_there = box(0, low.outline.bounds[3] - 0.032, 3, low.outline.bounds[3])
    plan, fill = planned(low, place=replace(place, before=place.before.union(legs_there)))
    assert fill.method is Method.BLOW
    (hole,) = plan.holes
    assert not circle(hole).intersects(place.before.union(legs_there))
    assert hole.z == pytest.approx(BOTTOM + 0.032 + 0.05, abs=0.003)
    assert planned(bay(1), place=place)[1].n_holes == planned(bay(1))[1].n_holes


def test_only_the_part_of_a_member_before_the_fill_face_counts():
    # A track with one leg: an angle in (y, z), 3 m long.
    profile = extruded(
        Polygon([(-0.001, 2.36), (0, 2.36), (0, 2.39), (0.14, 2.39), (0.14, 2.391), (-0.001, 2.391)]), 0, 3
    )
    track = Mesh(profile.vertices[:, [1, 0, 2]], profile.faces[:, ::-1])
    inside = Member("stud", MemberRole.STUD, "", Source.MODELLED, Prism(box(0, 0, 0.04, 2.4), 0.0, 0.14))
    found = standing_before([Member("track", MemberRole.TOP_PLATE, "", Source.MODELLED, track), inside])
    assert found.bounds == pytest.approx((0, 2.36, 3, 2.391))
    assert standing_before([inside]).is_empty


def test_a_hole_may_stand_in_either_part_of_a_divided_front():
    front = MultiPolygon([box(0, BOTTOM, 0.37, 1.1), box(0, 1.3, 0.37, TOP)])
    plan, fill = planned(bay(1, front=front))
    assert (fill.n_holes, fill.fewest_proved) == (2, True)
    assert all(front.covers(circle(hole)) for hole in plan.holes)


def test_holes_are_numbered_from_below():
    plan, _ = planned(bay(1, top=4.0))
    assert [hole.number for hole in plan.holes] == [1, 2, 3]
    assert sorted(hole.z for hole in plan.holes) == [hole.z for hole in plan.holes]


def test_a_wide_cavity_gets_holes_side_by_side():
    plan, fill = planned(bay(1, width=1.6, top=1.3))
    assert (fill.n_holes, fill.fewest_proved) == (2, True)
    assert [hole.x for hole in plan.holes] == pytest.approx([0.4, 1.2])
    assert {hole.fill_pass for hole in plan.holes} == {Pass.LOWER}


def test_a_brace_across_a_bay_asks_for_holes_on_both_sides():
    brace = Polygon([(-0.1, 0.7), (-0.1, 0.6), (0.6, 1.5), (0.6, 1.6)])
    halves = shapely.get_parts(box(0, 0, 0.5, 2.2).difference(brace))
    assert len(halves) == 2
    plan, _ = planned([cavity(number, half, KEY) for number, half in enumerate(halves, 1)])
    assert all(fill.n_holes >= 1 and fill.reached_share >= 0.99 for fill in plan.cavities)


def test_fewest_holes_are_kept_whatever_the_neighbours():
    odd = cavity(9, Polygon([(5, 0), (5.4, 0), (5.4, 2.0), (5.2, 2.0), (5.2, 2.3), (5, 2.3)]), KEY)
    alone, _ = planned(odd)
    among, _ = planned([bay(1), bay(2, 0.5), bay(3, 1.0, top=1.0), odd])
    assert among.cavities[3].n_holes == alone.cavities[0].n_holes


def test_a_large_odd_cavity_is_reached_all_over():
    # 12 m of two stud rows with a shared space, three windows in it: too many places for a coarse grid.
    windows = shapely.union_all([box(1, 0.9, 2.2, 2.1), box(4, 0, 5, 2.1), box(7, 0.9, 9, 2.1)])
    _, fill = planned(cavity(1, box(0, 0.04, 12, 2.4).difference(windows), KEY))
    assert fill.reached_share >= 0.999
    assert fill.hand_volume == 0.0


def test_a_hose_without_throw_still_serves_its_own_width():
    hose = HoseSettings(throw_down=0.0, throw_up=0.0, throw_sideways=0.0)
    assert hose.reach.sideways == hose.reach.up == pytest.approx(0.0381)
    assert planned(bay(1, top=0.6), hose)[1].n_holes > 1


# ---------------------------------------------------------------- passes and rows


def test_the_upper_hole_belongs_to_the_upper_pass_with_or_without_a_ladder():
    low, _ = planned(bay(1))
    assert [(hole.fill_pass, hole.ladder) for hole in low.holes] == [(Pass.LOWER, False), (Pass.UPPER, False)]
    high, _ = planned(bay(1, top=2.9))
    assert [(hole.fill_pass, hole.ladder) for hole in high.holes] == [(Pass.LOWER, False), (Pass.UPPER, True)]


def test_a_hole_out_of_reach_is_an_upper_one_even_if_it_is_the_only_one():
    plan, _ = planned(cavity(1, box(0, 2.2, 0.37, 2.6), KEY))
    assert [(hole.fill_pass, hole.ladder) for hole in plan.holes] == [(Pass.UPPER, True)]


def test_bays_of_one_height_share_their_rows():
    plan, _ = planned([bay(number, 0.4 * number) for number in range(1, 9)])
    assert [row.n_holes for row in plan.rows] == [8, 8]


def test_bays_of_different_height_share_a_row_where_that_costs_nothing():
    plan, _ = planned([bay(1), bay(2, 0.5, top=2.2), bay(3, 1.0, top=1.2), bay(4, 1.5)])
    assert [fill.n_holes for fill in plan.cavities] == [2, 2, 1, 2]
    assert [row.n_holes for row in plan.rows] == [4, 3]


def test_raked_bays_share_the_lower_row():
    bays = [
        cavity(number, Polygon([(x, 0), (x + 0.37, 0), (x + 0.37, 2.37 + x), (x, 2.0 + x)]), KEY)
        for number, x in enumerate((0.0, 0.4, 0.8), 1)
    ]
    plan, _ = planned(bays)
    assert plan.rows[0].n_holes == 3
    assert all(fill.reached_share >= 0.999 for fill in plan.cavities)


def test_equal_odd_bays_get_equal_holes():
    shape = Polygon([(0, 0), (0.4, 0), (0.4, 2.3), (0.25, 2.3), (0.25, 2.4), (0, 2.4)])
    cavities = [cavity(number, translate(shape, 0.5 * number), KEY) for number in range(1, 5)]
    plan, _ = planned(cavities)
    places = [
        [(hole.x - 0.5 * number, hole.z) for hole in plan.holes if hole.cavity_id == one.cavity_id]
        for number, one in enumerate(cavities, 1)
    ]
    assert all(np.allclose(place, places[0], atol=1e-9) for place in places)


def test_row_heights_are_whole_centimetres_where_there_is_room():
    plan, _ = planned([bay(1), bay(2, 0.5, top=2.2)])
    assert all(abs(row.z / 0.01 - round(row.z / 0.01)) < 1e-6 for row in plan.rows)


def test_the_plan_does_not_change_from_run_to_run():
    cavities = [bay(number, 0.4 * number, top=TOP - 0.1 * (number % 3)) for number in range(1, 20)]
    first, _ = planned(cavities)
    second, _ = planned(cavities)
    assert [(h.cavity_id, h.x, h.z) for h in first.holes] == [(h.cavity_id, h.x, h.z) for h in second.holes]


# ---------------------------------------------------------------- what no hole reaches


def hooked(**changes):
    """A bay with a pocket beside it, behind a neck 0.05 m wide: no hole finds room in either."""
    main, neck, pocket = box(0, 0, 0.4, 1.2), box(0.4, 0.1, 0.6, 0.15), box(0.6, 0.1, 0.66, 0.9)
    return cavity(1, main.union(neck).union(pocket), KEY, **changes)


def test_a_part_round_the_corner_is_filled_by_hand_with_its_volume():
    one = hooked()
    plan, fill = planned(one)
    parts = plan.hand_fills
    assert parts
    assert not any(part.whole for part in parts)
    assert {part.method for part in parts} <= {Method.BATT, Method.SEAL}
    assert sum(part.area for part in parts) > 0.03
    assert fill.blown_volume + fill.hand_volume == pytest.approx(one.volume, rel=1e-12)
    for part in parts:
        assert part.volume == pytest.approx(one.volume * part.area / one.outline.area)
        assert not any(hole.reached.intersection(part.outline).area > 1e-9 for hole in plan.holes)
    assert "cavity-not-reached-by-holes" in {finding.code for finding in plan.findings}


def test_a_part_hidden_from_the_front_is_filled_before_sheathing():
    plan, _ = planned(hooked(front=box(0, 0, 0.4, 1.2)))
    assert Method.BEFORE_SHEATHING in {part.method for part in plan.hand_fills}


def test_what_is_said_of_unreached_parts_is_what_hand_fills_say_of_them():
    hidden, _ = planned(hooked(front=box(0, 0, 0.4, 1.2)))
    told = next(one.message for one in hidden.findings if one.code == "cavity-not-reached-by-holes")
    assert {part.method for part in hidden.hand_fills} == {Method.BEFORE_SHEATHING}
    assert "before the wall is sheathed" in told
    assert "longer hose" not in told
    open_parts, _ = planned(hooked())
    told = next(one.message for one in open_parts.findings if one.code == "cavity-not-reached-by-holes")
    by_hand = sum(part.volume for part in open_parts.hand_fills if part.method is Method.BATT)
    assert "by hand before the netting goes up" in told
    assert "sheathed" not in told
    assert ("that part" in told) is (by_hand == sum(part.volume for part in open_parts.hand_fills))


def test_a_whole_cavity_by_hand_is_listed_once():
    plan, fill = planned(bay(1, clear_width=0.05))
    assert [(part.whole, part.volume) for part in plan.hand_fills] == [(True, fill.hand_volume)]


def test_a_cavity_shallower_than_the_hose_is_pointed_out():
    plan, _ = planned(bay(1, y_max=0.06))
    assert [finding.code for finding in plan.findings] == ["hose-thicker-than-cavity"]
    assert plan.findings[0].message.startswith(("1 blown cavity of", "2 blown cavities of"))


def test_no_cavity_gives_an_empty_plan():
    plan = plan_layer([], PLACE)
    assert (plan.cavities, plan.holes, plan.rows) == ((), (), ())
    assert plan_fill([]).cavities == ()


# ---------------------------------------------------------------- rows of holes


def columns(*rows):
    bottom, top, low, high = np.array(rows, dtype=float).T
    return Columns(bottom, top, low, high)


def test_a_column_without_a_place_low_enough_has_no_closed_form():
    found = slots_of(columns((0.0, 3.0, 2.5, 2.9)), SHORT_HOSE.reach, 0.999)
    assert found.count.tolist() == [0]
    assert np.isnan(row_heights(found, RowWish(1.2, 2.0))).all()


@pytest.mark.parametrize("count", [2, 3, 5, 9])
@pytest.mark.parametrize("base", [-2.83, 0.0, 0.1, 1.77])
def test_slots_of_no_width_come_to_an_end(base, count):
    # The height is a whole number of reaches, so that no hole can move and rounding decides which end is higher.
    for down, up in ((0.7, 0.3), (1.1, 0.4), (0.6, 1.0 / 3.0)):
        top = base + count * (down + up)
        found = slots_of(columns((base, top, base + 0.048, top - 0.048)), Reach(down, up, 0.5), 0.999)
        heights = row_heights(found, RowWish(1.2, 2.0))
        assert not np.isnan(heights[0, : found.count[0]]).any()


@pytest.mark.parametrize("seed", range(20))
def test_holes_of_a_column_never_leave_a_gap(seed):
    rng = np.random.default_rng(seed)
    bottom = rng.uniform(-1, 1, 30)
    top = bottom + rng.uniform(0.2, 6.0, 30)
    reach = LONG_HOSE.reach if seed % 2 else SHORT_HOSE.reach
    given = Columns(bottom, top, bottom + 0.048, top - 0.048)
    found = slots_of(given, reach, 1.0)
    heights = row_heights(found, RowWish(1.2, 2.0))
    for index in range(30):
        own = heights[index][~np.isnan(heights[index])]
        assert len(own) == found.count[index]
        assert own[0] - reach.down <= bottom[index] + 1e-6
        assert own[-1] + reach.up >= top[index] - 1e-6
        assert (np.diff(own) <= reach.height + 1e-6).all()
        assert ((own >= given.low[index] - 1e-9) & (own <= given.high[index] + 1e-9)).all()


def test_a_hole_beyond_the_reach_of_a_ladder_is_a_finding():
    tall = bay(1, top=6.0, clear_width=0.37)
    plan, fill = planned(tall)
    (finding,) = [each for each in plan.findings if each.code == "hole-beyond-ladder-reach"]
    highest = max(hole.height for hole in plan.holes)
    assert (finding.measured, finding.limit) == (pytest.approx(highest), SHORT_HOSE.ladder_reach)
    assert highest > SHORT_HOSE.ladder_reach
    assert fill.reached_share > 0.999
    reaching = replace(SHORT_HOSE, ladder_reach=highest)
    assert not any(each.code == "hole-beyond-ladder-reach" for each in planned(tall, reaching)[0].findings)
    assert not any(each.code == "hole-beyond-ladder-reach" for each in planned(bay(1))[0].findings)


def test_a_wall_drawn_from_the_storey_below_stands_on_the_floor_that_is_nearest():
    # its own storey lies 2.6 m under it, the next one 0.5 m above its underside
    wall = plain_wall(storey_elevation=-2.6)
    (taken,) = wall.layers
    assert fill_place(wall.wall, taken, (-2.6, 0.5, 3.6)).floor == pytest.approx(0.5)
    assert fill_place(wall.wall, taken, (-2.6, 3.6)).floor == 0.0
    hanging = plain_wall(storey_elevation=1.3)  # 1.3 m of its 2.4 m lie below
    assert fill_place(hanging.wall, hanging.layers[0], (1.3,)).floor == 0.0
    near = plain_wall(storey_elevation=-0.3)
    assert fill_place(near.wall, near.layers[0], (0.0,)).floor == pytest.approx(-0.3)


def test_holes_below_the_floor_are_a_finding():
    low = [bay(1, top=0.45), bay(2, 0.5)]
    sunk = replace(PLACE, floor=0.5, storey="Upper")
    (finding,) = [each for each in planned(low, place=sunk)[0].findings if each.code == "hole-below-floor"]
    assert finding.measured is not None
    assert finding.measured < 0.0
    assert "below the floor of storey 'Upper'" in finding.message
    (finding,) = [each for each in planned(low[:1], place=sunk)[0].findings if each.code == "hole-below-floor"]
    assert finding.message.startswith("1 hole of stud layer")
    assert not any(each.code == "hole-below-floor" for each in planned(low)[0].findings)
