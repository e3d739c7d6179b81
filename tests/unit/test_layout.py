"""Laid-out frames of walls whose members can be worked out with a tape measure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from geometry.solids import Prism
from takeoff.framing.layout import lay_out, member_number
from takeoff.framing.rules import PRESETS, preset, with_changes
from takeoff.framing.studs import layout_lines
from takeoff.model import MemberRole, Source
from tests.layout_builder import INCH, boxes, codes, opening, outlines, overlap_volume, prism_of, stud_layer

STUD, PLATE = 0.05, 0.05
ROUND = with_changes(
    preset("wood-16in"),
    name="round numbers",
    spacing=0.5,
    stud_thickness=STUD,
    plate_thickness=PLATE,
    top_plates=1,
    sill_end_cripples=False,
    blocking_above=3.0,
)
"""Round numbers: studs and plates 50 mm, spacing 0.5 m, one plate each side."""


def test_plain_wall_has_plates_end_studs_and_studs_on_whole_spacings() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.2, 2.5)), ROUND)
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == [(0, 0, 2.2, 0.05)]
    assert boxes(frame, MemberRole.TOP_PLATE) == [(0, 2.45, 2.2, 2.5)]
    centres = [0.025, 0.5, 1.0, 1.5, 2.0, 2.175]
    assert boxes(frame, MemberRole.STUD) == [(round(c - 0.025, 4), 0.05, round(c + 0.025, 4), 2.45) for c in centres]
    assert frame.findings == ()
    assert {member.source for member in frame.members} == {Source.LAID_OUT}
    assert frame.rule == "round numbers"


def test_members_are_numbered_left_to_right_then_bottom_to_top() -> None:
    frame = lay_out(stud_layer(box(0, 0, 1.2, 2.5), key="W#2"), ROUND)
    assert [member.member_id for member in frame.members] == [f"W#2/m{n}" for n in range(1, 7)]
    assert [member.role for member in frame.members][:3] == ["bottom_plate", "stud", "top_plate"]


def test_layout_lines_are_whole_spacings_from_the_datum_and_skip_the_first_stud() -> None:
    assert layout_lines(0.0, 2.0, 0.0, 0.5) == pytest.approx([0.5, 1.0, 1.5, 2.0])
    assert layout_lines(3.0, 4.1, 2.9, 0.5) == pytest.approx([3.4, 3.9])
    assert len(layout_lines(0.0, 0.3, 0.0, 0.5)) == 0


def test_layout_stud_gives_way_to_an_end_stud_that_carries_its_line() -> None:
    # The line at 2.0 falls on the end stud from 1.98 to 2.03; that at 1.5 stays.
    frame = lay_out(stud_layer(box(0, 0, 2.03, 2.5)), ROUND)
    assert [b[0] for b in boxes(frame, MemberRole.STUD)] == [0.0, 0.475, 0.975, 1.475, 1.98]


def test_layout_stud_slides_against_a_neighbour_that_misses_its_line() -> None:
    # The end stud starts at 2.01, so the line at 2.0 would have nothing to nail to.
    frame = lay_out(stud_layer(box(0, 0, 2.06, 2.5)), ROUND)
    assert [b[0] for b in boxes(frame, MemberRole.STUD)] == [0.0, 0.475, 0.975, 1.475, 1.96, 2.01]


def test_window_has_king_and_jack_each_side_header_sill_and_cripples_on_the_layout() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.0))]), ROUND)
    # 1.0 m is under 4 ft 7 in: a 2-2x6 on one jack each side.
    assert boxes(frame, MemberRole.HEADER) == [(1.15, 2.0, 2.25, 2.1397)]
    assert boxes(frame, MemberRole.JACK_STUD) == [(1.15, 0.05, 1.2, 2.0), (2.2, 0.05, 2.25, 2.0)]
    assert boxes(frame, MemberRole.KING_STUD) == [(1.1, 0.05, 1.15, 2.45), (2.25, 0.05, 2.3, 2.45)]
    assert boxes(frame, MemberRole.SILL) == [(1.2, 0.85, 2.2, 0.9)]
    assert boxes(frame, MemberRole.CRIPPLE) == [
        (1.475, 0.05, 1.525, 0.85),
        (1.475, 2.1397, 1.525, 2.45),
        (1.975, 0.05, 2.025, 0.85),
        (1.975, 2.1397, 2.025, 2.45),
    ]
    assert {b[0] for b in boxes(frame, MemberRole.STUD)} == {0.0, 0.475, 0.975, 2.475, 2.975, 3.475, 3.95}


def test_sill_has_a_short_stud_under_each_end_where_the_rules_say_so() -> None:
    rules = with_changes(ROUND, sill_end_cripples=True)
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.0))]), rules)
    ends = [b for b in boxes(frame, MemberRole.CRIPPLE) if b[3] == 0.85 and b[0] in (1.2, 2.15)]
    assert ends == [(1.2, 0.05, 1.25, 0.85), (2.15, 0.05, 2.2, 0.85)]


def test_small_hole_without_a_filling_is_kept_clear_of_members_and_not_framed() -> None:
    hole = opening(box(0.7, 1.0, 0.8, 1.1), filled=False)
    rules = with_changes(ROUND, least_framed_hole=0.15)
    frame = lay_out(stud_layer(box(0, 0, 2.2, 2.5), [hole]), rules)
    plain = lay_out(stud_layer(box(0, 0, 2.2, 2.5)), rules)
    assert outlines(frame) == outlines(plain)
    # One that meets a stud's line cuts the stud and still takes no header.
    across = lay_out(stud_layer(box(0, 0, 2.2, 2.5), [opening(box(0.95, 1.0, 1.05, 1.1), filled=False)]), rules)
    assert {member.role for member in across.members} == {member.role for member in plain.members}
    assert not any(member.solid.outline.intersects(box(0.951, 1.001, 1.049, 1.099)) for member in across.members)
    # A window of that size, a larger hole, and any hole where the rule is 0 are framed.
    window = opening(box(0.7, 1.0, 0.8, 1.1))
    assert boxes(lay_out(stud_layer(box(0, 0, 2.2, 2.5), [window]), rules), MemberRole.HEADER)
    long = opening(box(0.7, 1.0, 0.86, 1.1), filled=False)
    assert boxes(lay_out(stud_layer(box(0, 0, 2.2, 2.5), [long]), rules), MemberRole.HEADER)
    every = with_changes(rules, least_framed_hole=0.0)
    assert boxes(lay_out(stud_layer(box(0, 0, 2.2, 2.5), [hole]), every), MemberRole.HEADER)


def test_door_breaks_the_bottom_plate_and_has_no_sill() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.0, 2.2, 2.0), door=True)]), ROUND)
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == [(0, 0, 1.2, 0.05), (2.2, 0, 4, 0.05)]
    assert boxes(frame, MemberRole.SILL) == []


@pytest.mark.parametrize("threshold", [0.0, 0.02, 0.05, 0.07])
def test_door_on_a_floor_build_up_still_breaks_the_plate(threshold: float) -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, threshold, 2.2, 2.0), door=True)]), ROUND)
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == [(0, 0, 1.2, 0.05), (2.2, 0, 4, 0.05)]


def test_window_that_stands_on_the_bottom_plate_keeps_it_as_its_sill() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.05, 2.2, 2.0))]), ROUND)
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == [(0, 0, 4, 0.05)]
    assert boxes(frame, MemberRole.SILL) == []


def test_wide_opening_has_two_jacks_each_side_by_the_table() -> None:
    # 2.0 m is over 5 ft 9 in and under 6 ft 10 in: a 2-2x10 on two jacks.
    frame = lay_out(stud_layer(box(0, 0, 5, 2.7), [opening(box(1.2, 0.0, 3.2, 2.0), door=True)]), ROUND)
    assert boxes(frame, MemberRole.HEADER) == [(1.1, 2.0, 3.3, 2.2349)]
    assert [b[0] for b in boxes(frame, MemberRole.JACK_STUD)] == [1.1, 1.15, 3.2, 3.25]


def test_jacks_by_width_and_no_jacks_follow_their_rules() -> None:
    layer = stud_layer(box(0, 0, 5, 2.7), [opening(box(1.2, 0.0, 3.2, 2.0), door=True)])
    wide = lay_out(layer, with_changes(ROUND, jack_rule="by_width", one_jack_width=1.9))
    narrow = lay_out(layer, with_changes(ROUND, jack_rule="by_width", one_jack_width=2.1))
    hung = lay_out(layer, with_changes(ROUND, jack_rule="none"))
    counts = [len(boxes(frame, MemberRole.JACK_STUD)) for frame in (wide, narrow, hung)]
    assert counts == [4, 2, 0]
    assert boxes(hung, MemberRole.HEADER)[0][::2] == (1.2, 3.2)


def test_opening_wider_than_the_table_takes_the_deepest_header_and_a_finding() -> None:
    frame = lay_out(stud_layer(box(0, 0, 6, 3.0), [opening(box(1, 0, 5, 2.0), door=True)]), ROUND)
    assert codes(frame) == ["header-beyond-table"]
    assert frame.findings[0].measured == pytest.approx(4.0)
    assert boxes(frame, MemberRole.HEADER)[0][3] == pytest.approx(2.0 + 11.25 * INCH, abs=1e-4)


def test_full_depth_header_fills_the_space_to_the_plate() -> None:
    rules = with_changes(ROUND, header_depth_rule="full_depth_to_plate")
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.2))]), rules)
    assert boxes(frame, MemberRole.HEADER) == [(1.15, 2.2, 2.25, 2.45)]
    tall = lay_out(stud_layer(box(0, 0, 4, 4.5), [opening(box(1.2, 0.9, 2.2, 2.2))]), rules)
    assert boxes(tall, MemberRole.HEADER) == [(1.15, 2.2, 2.25, 2.3397)]


def test_insulated_header_takes_its_plies_at_the_far_face_alone() -> None:
    rules = with_changes(ROUND, insulated_header=True)
    layer = stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.0))], depth=0.14)
    header = next(m for m in lay_out(layer, rules).members if m.role == MemberRole.HEADER)
    assert (prism_of(header).y_min, prism_of(header).y_max) == pytest.approx((0.14 - 3 * INCH, 0.14))
    near = next(m for m in lay_out(layer, with_changes(rules, header_face="fill")).members if m.role == "header")
    assert (prism_of(near).y_min, prism_of(near).y_max) == pytest.approx((0.0, 3 * INCH))


def test_opening_up_to_the_plate_has_no_header_and_says_so() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.45))]), ROUND)
    assert boxes(frame, MemberRole.HEADER) == []
    assert codes(frame) == ["no-room-for-header"]
    assert boxes(frame, MemberRole.TOP_PLATE) == [(0, 2.45, 4, 2.5)]


def test_opening_with_too_little_room_over_it_clips_the_header() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.4))]), ROUND)
    assert boxes(frame, MemberRole.HEADER) == [(1.15, 2.4, 2.25, 2.45)]
    assert codes(frame) == ["header-clipped"]


def test_opening_into_the_top_plate_cuts_it_and_says_so() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(box(1.2, 0.9, 2.2, 2.5))]), ROUND)
    assert boxes(frame, MemberRole.TOP_PLATE) == [(0, 2.45, 1.2, 2.5), (2.2, 2.45, 4, 2.5)]
    assert "opening-cuts-top-plate" in codes(frame)


def test_pier_narrower_than_its_studs_is_solid_with_no_piece_of_negative_size() -> None:
    holes = [opening(box(0.8, 0.9, 1.6, 2.0), 1), opening(box(1.72, 0.9, 2.6, 2.0), 2)]
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), holes), ROUND)
    pier = [b for b in boxes(frame, MemberRole.KING_STUD, MemberRole.JACK_STUD) if 1.6 <= b[0] < 1.72]
    # Two jacks and a packing piece of 20 mm: no king fits between.
    assert sorted((b[0], b[2]) for b in pier) == [(1.6, 1.65), (1.65, 1.67), (1.67, 1.72)]
    assert "narrow-pier" in codes(frame)
    assert overlap_volume(frame) == pytest.approx(0.0, abs=1e-12)


def test_pier_with_room_for_one_king_shares_it() -> None:
    holes = [opening(box(0.8, 0.9, 1.6, 2.0), 1), opening(box(1.75, 0.9, 2.6, 2.0), 2)]
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), holes), ROUND)
    assert [b for b in boxes(frame, MemberRole.KING_STUD) if 1.6 < b[0] < 1.75] == [(1.65, 0.05, 1.7, 2.45)]


def test_opening_at_the_wall_end_has_no_trimmer_beyond_the_wall() -> None:
    frame = lay_out(stud_layer(box(0, 0, 3, 2.5), [opening(box(2.0, 0.9, 3.0, 2.0))]), ROUND)
    assert max(b[2] for b in boxes(frame)) == 3.0
    assert codes(frame) == ["opening-at-wall-end"]
    assert boxes(frame, MemberRole.HEADER) == [(1.95, 2.0, 3.0, 2.1397)]


def test_opening_near_the_wall_end_uses_the_end_stud_as_its_king() -> None:
    frame = lay_out(stud_layer(box(0, 0, 3, 2.5), [opening(box(1.9, 0.9, 2.9, 2.0))]), ROUND)
    assert [b[0] for b in boxes(frame, MemberRole.JACK_STUD, MemberRole.KING_STUD) if b[0] > 2.8] == [2.9, 2.95]
    assert codes(frame) == []
    assert [b for b in boxes(frame, MemberRole.STUD) if b[2] == 3.0] == []


def test_opening_wider_than_the_wall_leaves_what_fits_and_findings() -> None:
    frame = lay_out(stud_layer(box(0, 0, 3, 2.5), [opening(box(-1, 0, 4, 2.0), door=True)]), ROUND)
    assert set(codes(frame)) == {"opening-clipped", "header-beyond-table", "opening-at-wall-end"}
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == []
    assert boxes(frame, MemberRole.HEADER)[0][::2] == (0.0, 3.0)


def test_opening_outside_the_wall_is_named_and_frames_nothing() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.2, 2.5), [opening(box(5, 0, 6, 2))]), ROUND)
    assert codes(frame) == ["opening-outside-wall"]
    assert len(frame.members) == len(lay_out(stud_layer(box(0, 0, 2.2, 2.5)), ROUND).members)


def test_stacked_openings_are_each_framed_and_jacks_do_not_enter_the_other() -> None:
    holes = [opening(box(1.2, 0, 2.2, 2.0), 1, door=True), opening(box(1.0, 2.8, 2.4, 4.0), 2)]
    frame = lay_out(stud_layer(box(0, 0, 4, 5.0), holes), ROUND)
    assert len(boxes(frame, MemberRole.HEADER)) == 2
    assert len(boxes(frame, MemberRole.SILL)) == 1
    kings = boxes(frame, MemberRole.KING_STUD)
    # The door's kings stop under the window's sill; the window's run from plate to plate.
    assert (1.1, 0.05, 1.15, 2.75) in kings
    assert (0.9, 0.05, 0.95, 4.95) in kings


def test_header_between_stacked_openings_is_level_and_as_low_as_the_gap() -> None:
    holes = [opening(box(1.2, 0.9, 2.2, 1.5), 1), opening(box(1.2, 1.56, 2.2, 2.1), 2)]
    frame = lay_out(stud_layer(box(0, 0, 4, 2.6), holes), ROUND)
    assert boxes(frame, MemberRole.HEADER) == [(1.15, 1.5, 2.25, 1.56), (1.15, 2.1, 2.25, 2.2397)]
    assert codes(frame) == ["header-clipped"]
    assert boxes(frame, MemberRole.SILL) == [(1.2, 0.85, 2.2, 0.9)]


def test_recess_is_named_only_where_it_lies_in_the_stud_layer() -> None:
    inside = replace(opening(box(1, 1, 2, 2)), solid=Prism(box(1, 1, 2, 2), 0.0, 0.05))
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [inside]), ROUND)
    assert codes(frame) == ["recess-not-framed"]
    assert boxes(frame, MemberRole.HEADER) == []


def test_overlapping_openings_are_framed_as_one_with_a_lining_inside() -> None:
    holes = [opening(box(1.0, 0, 2.0, 2.0), 1, door=True), opening(box(1.9, 0.9, 2.6, 2.0), 2)]
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), holes), ROUND)
    assert codes(frame) == ["openings-merged"]
    assert len(boxes(frame, MemberRole.HEADER)) == 1
    assert boxes(frame, MemberRole.BOTTOM_PLATE) == [(0, 0, 1.0, 0.05), (2.0, 0, 4, 0.05)]
    assert (2.0, 0.85, 2.6, 0.9) in boxes(frame, MemberRole.SILL)
    assert any("trimmer inside" in member.reason for member in frame.members)


def test_round_opening_is_framed_by_its_bounding_square_and_keeps_its_corners_free() -> None:
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(Point(2, 1.5).buffer(0.4))]), ROUND)
    assert boxes(frame, MemberRole.HEADER)[0][:2] == (1.55, 1.9)
    square = box(1.6, 1.1, 2.4, 1.9)
    assert sum(shapely.intersection(outline, square).area for outline in outlines(frame)) == 0.0


def test_rake_cuts_studs_plumb_and_lays_plates_square_to_the_edge() -> None:
    gable = Polygon([(0, 0), (4, 0), (4, 1), (2, 3), (0, 1)])
    frame = lay_out(stud_layer(gable), with_changes(ROUND, top_plates=2))
    plates = outlines(frame, MemberRole.TOP_PLATE)
    assert len(plates) == 4
    # Each plate is a band of 50 mm along an edge of length 2 sqrt 2, mitred at the ridge and plumb at the eaves.
    assert shapely.union_all(plates).area == pytest.approx(2 * 2 * np.sqrt(8) * 0.05, rel=0.03)
    assert [round(o.bounds[2], 6) for o in plates[:2]] == [2.0, 2.0]
    studs = outlines(frame, MemberRole.STUD)
    at_one = next(o for o in studs if abs(o.bounds[0] - 0.975) < 1e-6)
    # Height at x = 1 less both plates measured plumb (x sqrt 2) and the bottom plate.
    assert at_one.area == pytest.approx(0.05 * (2.0 - 0.1 * np.sqrt(2) - 0.05), rel=1e-6)
    assert len(shapely.get_coordinates(at_one)) == 5


def test_gable_studs_stand_on_the_layout_all_the_way_up_the_rake() -> None:
    frame = lay_out(stud_layer(Polygon([(0, 0), (4, 0), (4, 1), (2, 3), (0, 1)])), ROUND)
    assert [b[0] for b in boxes(frame, MemberRole.STUD)] == [0, 0.475, 0.975, 1.475, 1.975, 2.475, 2.975, 3.475, 3.95]


def test_stepped_top_has_a_stud_through_at_the_step_and_plates_on_both_levels() -> None:
    wall = Polygon([(0, 0), (4, 0), (4, 3), (2.2, 3), (2.2, 2), (0, 2)])
    frame = lay_out(stud_layer(wall), ROUND)
    assert boxes(frame, MemberRole.TOP_PLATE) == [(0, 1.95, 2.2, 2.0), (2.2, 2.95, 4, 3.0)]
    assert (2.2, 0.05, 2.25, 2.95) in boxes(frame, MemberRole.STUD)


def test_stepped_bottom_has_plates_on_both_levels() -> None:
    wall = Polygon([(0, 0.5), (2, 0.5), (2, 0), (4, 0), (4, 2.5), (0, 2.5)])
    assert boxes(lay_out(stud_layer(wall), ROUND), MemberRole.BOTTOM_PLATE) == [
        (0, 0.5, 2, 0.55),
        (2, 0, 4, 0.05),
    ]


def test_round_top_is_one_bent_plate_with_studs_cut_to_it() -> None:
    angles = np.linspace(0, np.pi, 41)
    wall = Polygon([(0, 0), (4, 0), *[(2 + 2 * np.cos(a), 2 + np.sin(a)) for a in angles]])
    frame = lay_out(stud_layer(wall), ROUND)
    assert len(boxes(frame, MemberRole.TOP_PLATE)) == 1
    assert max(o.bounds[3] for o in outlines(frame, MemberRole.STUD)) == pytest.approx(2.95, abs=0.01)
    assert len([b for b in boxes(frame, MemberRole.STUD) if b[0] == 0.0 or b[2] == 4.0]) == 2


def test_leaning_side_has_a_stud_that_leans_with_it() -> None:
    frame = lay_out(stud_layer(Polygon([(0, 0), (4, 0), (3.8, 2.5), (0.2, 2.5)])), ROUND)
    first = outlines(frame, MemberRole.STUD)[0]
    assert first.bounds[0] < 0.01
    assert first.bounds[2] > 0.2
    # Measured square to its length it is as thick as any stud.
    assert first.area == pytest.approx(0.05 * 2.4 * np.hypot(1, 0.08), rel=1e-3)


def test_blocking_parts_bays_higher_than_the_rule_allows_in_equal_heights() -> None:
    frame = lay_out(stud_layer(box(0, 0, 1.0, 6.1)), with_changes(ROUND, blocking_above=2.5))
    # 6.0 m between plates: two rows at 2.05 and 4.05.
    assert boxes(frame, MemberRole.BLOCKING) == [
        (0.05, 2.025, 0.475, 2.075),
        (0.05, 4.025, 0.475, 4.075),
        (0.525, 2.025, 0.95, 2.075),
        (0.525, 4.025, 0.95, 4.075),
    ]
    low = lay_out(stud_layer(box(0, 0, 1.0, 2.6)), with_changes(ROUND, blocking_above=2.5))
    assert boxes(low, MemberRole.BLOCKING) == []


def test_blocking_at_stated_heights_counts_from_the_underside_of_the_wall() -> None:
    frame = lay_out(stud_layer(box(0, -1.0, 1.0, 1.5)), with_changes(ROUND, blocking_heights=(1.2,)))
    assert {b[1::2] for b in boxes(frame, MemberRole.BLOCKING)} == {(0.175, 0.225)}


def test_row_by_height_gives_way_to_stated_rows_that_part_the_bay_well_enough() -> None:
    rules = with_changes(ROUND, blocking_above=2.5, blocking_heights=(2.3,))
    assert {b[1] for b in boxes(lay_out(stud_layer(box(0, 0, 1.0, 4.8)), rules), MemberRole.BLOCKING)} == {2.275}
    # 3.7 m remain above it: one row more, half way.
    tall = lay_out(stud_layer(box(0, 0, 1.0, 6.05)), rules)
    assert {b[1] for b in boxes(tall, MemberRole.BLOCKING)} == {2.275, 4.125}


def test_steel_stud_is_a_web_two_flanges_and_two_lips_open_the_same_way() -> None:
    rules = preset("steel-16in")
    frame = lay_out(stud_layer(box(0, 0, 1.0, 2.4), depth=6.0 * INCH), rules)
    numbers = {member_number(m.member_id) for m in frame.members if m.role == MemberRole.STUD}
    assert len(numbers) == 4
    second = [prism_of(m) for m in frame.members if member_number(m.member_id) == "wall/m4"]
    assert len(second) == 5
    web = min(second, key=lambda p: p.outline.bounds[2])
    left = 16 * INCH - 0.5 * 1.625 * INCH
    assert web.outline.bounds[0] == pytest.approx(left)
    assert web.outline.bounds[2] - web.outline.bounds[0] == pytest.approx(0.0451 * INCH)
    # Square-cornered section of 600S162-43: t x (web + 2 flanges + 2 lips) less the corners counted once.
    t = 0.0451 * INCH
    area = t * (6.0 * INCH + 2 * (1.625 * INCH - t) + 2 * (0.5 * INCH - t))
    height = 2.4 - 2 * t
    assert sum(p.volume for p in second) == pytest.approx(area * height, rel=1e-9)
    # Published gross area 0.447 in2 (from memory, with rounded corners): square corners add about 3 %.
    assert area / INCH**2 == pytest.approx(0.447, rel=0.04)


def test_last_steel_stud_turns_its_web_to_the_wall_end() -> None:
    frame = lay_out(stud_layer(box(0, 0, 1.0, 2.4), depth=6.0 * INCH), preset("steel-16in"))
    webs = [prism_of(m).outline.bounds for m in frame.members if m.role == "stud" and prism_of(m).y_max > 0.14]
    assert max(b[2] for b in webs) == 1.0
    last = [prism_of(m) for m in frame.members if m.role == "stud" and prism_of(m).outline.bounds[0] > 0.95]
    web = next(p for p in last if p.y_max - p.y_min > 5 * INCH)
    assert web.outline.bounds[2] == 1.0


def test_steel_header_is_a_box_with_a_hollow() -> None:
    layer = stud_layer(box(0, 0, 3, 2.7), [opening(box(1, 0, 2, 2.0), door=True)], depth=6.0 * INCH)
    header = [prism_of(m) for m in lay_out(layer, preset("steel-16in")).members if m.role == MemberRole.HEADER]
    assert len(header) == 12
    solid = 1.0825 * 5.5 * INCH * 6.0 * INCH
    assert 0.02 < sum(p.volume for p in header) / solid < 0.1


def test_double_stud_wall_has_two_rows_and_a_gap_across_both() -> None:
    frame = lay_out(stud_layer(box(0, 0, 3, 2.5), depth=0.3), preset("double-stud"))
    depths = {(round(prism_of(m).y_min, 4), round(prism_of(m).y_max, 4)) for m in frame.members}
    assert depths == {(0.0, 0.0889), (0.2111, 0.3)}
    assert len(boxes(frame, MemberRole.BOTTOM_PLATE)) == 2


def test_double_stud_wall_longer_than_ten_feet_has_an_upright_stop_between_its_rows() -> None:
    frame = lay_out(stud_layer(box(0, 0, 7, 2.5), depth=0.3), preset("double-stud"))
    stops = [m for m in frame.members if m.role == MemberRole.BLOCKING]
    assert [round(float(np.mean(prism_of(m).outline.bounds[::2])), 4) for m in stops] == [3.048, 6.096]
    assert {(round(prism_of(m).y_min, 4), round(prism_of(m).y_max, 4)) for m in stops} == {(0.0889, 0.2111)}


def test_stated_fire_stop_closes_the_space_between_two_rows_as_well() -> None:
    rules = with_changes(preset("double-stud"), blocking_heights=(2.4, 2.41))
    frame = lay_out(stud_layer(box(0, 0, 3, 5.0), depth=0.3), rules)
    between = [prism_of(m) for m in frame.members if prism_of(m).y_min == pytest.approx(0.0889)]
    assert [tuple(round(v, 4) for v in p.outline.bounds) for p in between] == [(0.0, 2.3909, 3.0, 2.4091)]
    assert overlap_volume(frame) == pytest.approx(0.0, abs=1e-12)


def test_staggered_studs_alternate_on_one_wide_plate() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.0, 2.5), depth=5.5 * INCH), preset("staggered-stud"))
    studs = [(prism_of(m), m) for m in frame.members if m.role == MemberRole.STUD]
    near = [round(float(np.mean(p.outline.bounds[::2])), 4) for p, _ in studs if p.y_max < 0.1]
    far = [round(float(np.mean(p.outline.bounds[::2])), 4) for p, _ in studs if p.y_min > 0.01]
    assert near == [0.4064, 0.8128, 1.2192, 1.6256]
    assert far == [0.2032, 0.6096, 1.016, 1.4224]
    assert {(prism_of(m).y_min, prism_of(m).y_max) for m in frame.members if "plate" in m.role} == {(0.0, 5.5 * INCH)}


@pytest.mark.parametrize(
    ("name", "depth", "told"),
    [
        ("staggered-stud", 0.095, True),
        ("staggered-stud", 5.5 * INCH, False),
        ("double-stud", 0.184, True),
        ("double-stud", 0.241, False),
    ],
)
def test_rows_that_nearly_touch_are_told_of(name: str, depth: float, told: bool) -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.0, 2.5), depth=depth), preset(name))
    assert codes(frame) == (["stud-rows-nearly-touch"] if told else [])
    if told:
        assert frame.findings[0].measured == pytest.approx(
            depth - (0.089 if name == "staggered-stud" else 0.178), abs=5e-4
        )


def test_rows_that_do_not_fit_become_one_row_with_a_finding() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.0, 2.5), depth=0.14), preset("double-stud"))
    assert codes(frame) == ["stud-rows-do-not-fit"]
    assert {prism_of(m).y_max for m in frame.members} == {0.14}


@pytest.mark.parametrize("name", sorted(PRESETS))
@pytest.mark.parametrize(
    "outline",
    [
        box(0, 0, 0.02, 2.4),
        box(0, 0, 0.06, 2.4),
        box(0, 0, 3, 0.02),
        box(0, 0, 3, 0.1),
        box(0, 0, 0.01, 0.01),
        Polygon([(0, 0), (3, 0), (0, 0.05)]),
        Polygon([(0, 0), (3, 0), (0, 2.4)]),
        Polygon([(0, 0), (3, 2.4), (0, 2.4)]),
        MultiPolygon([box(0, 0, 1, 2.4), box(2, 0, 3, 2.4)]),
        Polygon(),
    ],
)
def test_degenerate_walls_yield_what_fits_and_never_raise(outline: Polygon, name: str) -> None:
    frame = lay_out(stud_layer(outline, [opening(box(-0.01, 0.0, 0.02, 0.03))]), preset(name))
    assert all(prism_of(m).volume > 0.0 for m in frame.members)
    assert overlap_volume(frame) < 1e-9
    if outline.is_empty:
        assert "nothing-to-frame" in codes(frame)
    elif outline.area > 1e-3:
        assert frame.members


def test_wall_shorter_than_its_studs_or_lower_than_its_plates_is_named() -> None:
    assert codes(lay_out(stud_layer(box(0, 0, 0.06, 2.4)), ROUND)) == ["wall-shorter-than-studs"]
    assert codes(lay_out(stud_layer(box(0, 0, 2.0, 0.08)), ROUND)) == ["wall-lower-than-plates"]


def test_hole_in_the_body_without_an_opening_is_framed_and_named() -> None:
    wall = shapely.difference(box(0, 0, 4, 2.5), box(1.2, 0.9, 2.2, 2.0))
    frame = lay_out(stud_layer(wall), ROUND)
    assert codes(frame) == ["hole-in-outline"]
    assert len(boxes(frame, MemberRole.HEADER)) == 1
    assert [hole.evidence for hole in frame.openings] == ["hole through the body of the stud layer"]
    # A body that comes with its openings already cut tells nothing new.
    known = lay_out(stud_layer(wall, [opening(box(1.2, 0.9, 2.2, 2.0))]), ROUND)
    assert codes(known) == []
    assert boxes(known) == boxes(frame)


def test_opening_whose_outline_crosses_itself_is_framed_all_the_same() -> None:
    bow = Polygon([(1.2, 0.9), (2.2, 2.0), (2.2, 0.9), (1.2, 2.0)])
    frame = lay_out(stud_layer(box(0, 0, 4, 2.5), [opening(bow)]), ROUND)
    assert len(boxes(frame, MemberRole.HEADER)) == 1
    assert overlap_volume(frame) == pytest.approx(0.0, abs=1e-12)


def test_layer_without_depth_has_no_members() -> None:
    assert lay_out(stud_layer(box(0, 0, 4, 2.5), depth=0.0), ROUND).members == ()


def test_findings_carry_the_wall_they_belong_to() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.0, 0.08), key="2hQBAVPOr5VxhS3Jl0O47h#2"), ROUND)
    assert {finding.wall_id for finding in frame.findings} == {"2hQBAVPOr5VxhS3Jl0O47h"}


def test_section_of_a_member_is_told_in_words() -> None:
    frame = lay_out(stud_layer(box(0, 0, 2.0, 2.4), depth=0.14), ROUND)
    assert {member.section for member in frame.members} == {"50 x 140 mm"}
    steel = lay_out(stud_layer(box(0, 0, 2.0, 2.4), depth=0.1524), preset("steel-16in"))
    assert {m.section for m in steel.members if m.role == "stud"} == {"41 x 152 mm, thin-walled"}
