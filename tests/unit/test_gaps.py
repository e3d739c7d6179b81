"""Openings that are only gaps in a frame."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
import shapely
from shapely import box

from geometry.solids import silhouette
from takeoff.finding import Severity
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.framing.gaps import Gaps, gap_openings
from takeoff.framing.member_shapes import shapes_of
from takeoff.model import Opening
from tests.frame_builder import (
    DEPTH,
    HEAD,
    HEIGHT,
    Piece,
    T,
    around,
    door,
    header,
    joined,
    opening,
    piece,
    plain,
    plates,
    shifted,
    studs,
    window,
)

DOOR = box(1.2, 0.0, 2.2, HEAD)
WINDOW = box(1.2, 0.9, 2.2, HEAD)


def gaps_of(pieces: Sequence[Piece], known: Sequence[Opening] = (), standing: Sequence[Opening] = ()) -> Gaps:
    solids = [solid for _, solid in pieces]
    return gap_openings(outline_of_frame([silhouette(one) for one in solids]), shapes_of(solids), known, standing)


def assert_openings(gaps: Gaps, *expected: shapely.Geometry) -> None:
    assert len(gaps.openings) == len(expected), [one.evidence for one in gaps.openings]
    for found, shape in zip(gaps.openings, expected, strict=True):
        assert shapely.equals_exact(shapely.normalize(found.outline), shapely.normalize(shape), 1e-9), found.outline


def test_door_is_known_by_header_trimmers_and_broken_plate():
    gaps = gaps_of(door([header(1.2, 2.2)]))
    assert_openings(gaps, DOOR)
    evidence = gaps.openings[0].evidence
    assert "header" in evidence
    assert "trimmers on both sides" in evidence
    assert "bottom plate is interrupted" in evidence
    assert [finding.code for finding in gaps.findings] == ["opening-is-a-gap"]


def test_window_is_known_with_and_without_cripples():
    for over, under in (((1.4, 1.8), (1.4, 1.8)), ((), ()), ((), (1.2, 2.2 - T)), ((1.7,), ())):
        assert_openings(gaps_of(window(over, under)), WINDOW)


def test_wide_space_over_a_window_is_no_opening_and_is_not_doubted():
    gaps = gaps_of(window(over=()))
    assert_openings(gaps, WINDOW)
    assert [finding.code for finding in gaps.findings] == ["opening-is-a-gap"]


def test_half_depth_beam_over_a_door_bounds_the_opening():
    assert_openings(gaps_of(door([header(1.2, 2.2, 0.2, 0.0, 0.07)])), DOOR)


def test_beam_between_studs_without_trimmers_bounds_the_opening():
    pieces = [*plates(4.0, [(1.2, 2.2)]), *studs([0.0, 0.6, 1.2 - T, 2.2, 2.8, 3.4, 4.0 - T])]
    assert_openings(gaps_of([*pieces, ("header", piece(1.2, HEAD, 2.2, 2.25, 0.0, 0.07))]), DOOR)


def test_door_in_a_wall_whose_plate_runs_through():
    pieces = [one for one in door([header(1.2, 2.2)]) if one[0] != "bottom_plate"]
    gaps = gaps_of([*pieces, ("bottom_plate", piece(0, 0, 4, T))])
    assert_openings(gaps, box(1.2, T, 2.2, HEAD))


def test_gap_without_header_is_an_opening_where_the_plate_is_broken_for_it():
    pieces = [*plates(4.0, [(1.2, 2.0)]), *studs([0.0, 0.6, 1.2 - T, 2.0, 2.6, 3.2, 4.0 - T])]
    gaps = gaps_of(pieces)
    assert_openings(gaps, box(1.2, 0.0, 2.0, HEIGHT - T))
    assert gaps.findings[0].severity is Severity.WARNING


def test_bay_whose_plate_is_missing_stays_a_cavity_and_is_doubted():
    gaps = gaps_of([*plates(4.0, [(1.238, 1.8)]), *studs([0.0, 0.6, 1.2, 1.8, 2.4, 3.0, 3.5, 4.0 - T])])
    assert gaps.openings == ()
    assert [(one.code, one.severity) for one in gaps.findings] == [("gap-may-be-opening", Severity.WARNING)]


def test_wide_bay_is_no_opening_but_is_told():
    for block in ([], [("blocking", piece(0.838, 1.2, 2.0, 1.2 + T))], [("b", piece(0.838, 1.2, 2.0, 1.34, 0.0, T))]):
        gaps = gaps_of([*plates(4.0), *studs([0.0, 0.4, 0.8, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0 - T]), *block])
        assert gaps.openings == ()
        assert {one.code for one in gaps.findings} == {"gap-may-be-opening"}


def test_wide_bay_at_a_corner_is_no_opening():
    assert gaps_of([*plates(4.0), *studs([0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 2.4, 4.0 - T])]).openings == ()


def test_narrow_door_is_known_by_a_flat_header_on_jacks_over_a_whole_plate():
    for width, told in ((0.73, Severity.INFO), (0.5, Severity.WARNING)):
        right = 1.2 + width
        pieces = [*plates(4.0), *around(1.2, right)]
        pieces += studs([0.0, 0.562, right + 2 * T + 0.562, 3.1, 3.5, 4.0 - T])
        for near, far in ((0.0, DEPTH), (0.0, T), (DEPTH / 2, DEPTH)):
            gaps = gaps_of([*pieces, header(1.2, right, T, near, far)])
            assert_openings(gaps, box(1.2, T, right, HEAD))
            assert "trimmers on both sides" in gaps.openings[0].evidence
            assert [(one.code, one.severity) for one in gaps.findings] == [("opening-is-a-gap", told)]
            assert f"({width * (HEAD - T):.3f} m2)" in gaps.findings[0].message


def test_panel_that_is_only_a_door_is_known_by_the_header_on_its_jacks():
    pieces = shifted([piece for piece in door([]) if piece[0] in ("king_stud", "jack_stud")], -1.2 + 2 * T, 0.0)
    length = 1.0 + 4 * T
    deep = ("header", piece(T, HEAD, length - T, HEIGHT - T))
    assert_openings(gaps_of([*plates(length), *pieces, deep]), box(2 * T, T, 1.0 + 2 * T, HEAD))


def test_piece_on_one_short_stud_or_between_two_studs_is_doubted_at_a_doors_height_only():
    for head, expected in ((HEAD, ["gap-may-be-opening"]), (1.1, [])):
        for short in ([], [("jack_stud", piece(1.2, T, 1.2 + T, head))]):
            pieces = [*plates(4.0), *studs([0.0, 0.6, 1.2 - T, 2.0, 2.6, 3.2, 4.0 - T]), *short]
            gaps = gaps_of([*pieces, ("b", piece(1.2, head, 2.0, head + T))])
            assert gaps.openings == ()
            assert [one.code for one in gaps.findings] == expected
            assert all(one.severity is Severity.WARNING for one in gaps.findings)


def test_two_blockings_in_a_usual_bay_are_no_window():
    gaps = gaps_of([*plain(), ("b", piece(1.238, 0.9, 1.8, 0.9 + T)), ("b", piece(1.238, 1.9, 1.8, 1.9 + T))])
    assert gaps.openings == ()
    assert gaps.findings == ()


def test_window_standing_between_two_blockings_makes_an_opening_to_the_members():
    pieces = [*plain(), ("b", piece(1.238, 0.9, 1.8, 0.9 + T)), ("b", piece(1.238, 1.9, 1.8, 1.9 + T))]
    gaps = gaps_of(pieces, standing=[opening(1.26, 0.96, 1.78, 1.88)])
    assert_openings(gaps, box(1.238, 0.9 + T, 1.8, 1.9))
    assert "window stands in the frame" in gaps.openings[0].evidence


def test_door_without_a_header_takes_the_gap_up_to_its_head():
    pieces = [*plates(4.0), *studs([0.0, 0.6, 1.2 - T, 2.2, 2.8, 3.4, 4.0 - T])]
    gaps = gaps_of(pieces, standing=[opening(1.21, 0.0, 2.19, HEAD, "IfcDoor")])
    assert_openings(gaps, box(1.2, T, 2.2, HEAD))
    assert "gap-larger-than-opening" in {one.code for one in gaps.findings}


def test_door_in_a_frame_that_is_not_cut_is_an_opening_all_the_same():
    gaps = gaps_of(plain(), standing=[opening(1.4, 0.1, 2.3, HEAD, "IfcDoor")])
    assert_openings(gaps, box(1.4, 0.1, 2.3, HEAD))


def test_known_opening_is_not_found_again_and_its_packing_joins_it():
    assert gaps_of(window(), known=[opening(1.2, 0.9, 2.2, HEAD)]).openings == ()
    packed = gaps_of(window(), known=[opening(1.23, 0.92, 2.17, HEAD - 0.03)])
    assert_openings(packed, WINDOW.difference(box(1.23, 0.92, 2.17, HEAD - 0.03)))
    assert packed.findings == ()


def test_rest_of_a_framed_gap_belongs_to_a_smaller_opening_and_is_told():
    gaps = gaps_of(window(), known=[opening(1.22, 0.92, 2.18, 1.6)])
    assert_openings(gaps, WINDOW.difference(box(1.22, 0.92, 2.18, 1.6)))
    assert [finding.code for finding in gaps.findings] == ["gap-larger-than-opening"]


def test_door_and_window_that_stand_in_a_known_opening_are_not_counted_twice():
    known = opening(1.2, 0.9, 2.2, HEAD)
    assert gaps_of(window(), known=[known], standing=[opening(1.25, 0.95, 2.15, 2.0)]).openings == ()


def test_plates_of_an_upper_frame_are_no_header_over_a_wide_bay():
    low = [*plates(4.0), *studs([0.0, 0.4, 0.8, 2.0, 2.4, 2.8, 3.2, 3.6, 4.0 - T])]
    assert gaps_of([*low, *shifted(plain(), 0.0, HEIGHT)]).openings == ()


def test_gap_between_stacked_frames_is_told_and_not_filled():
    gaps = gaps_of([*plain(), *shifted(plain(), 0.0, HEIGHT + 0.3)])
    assert_openings(gaps, box(0.0, HEIGHT, 4.0, HEIGHT + 0.3))
    assert "gap-between-frames" in {one.code for one in gaps.findings}


def test_frame_drawn_as_one_solid_shows_its_window():
    assert_openings(gaps_of([("all", joined(window()))]), WINDOW)


def test_door_and_transom_above_it_are_two_openings():
    pieces = [
        *plates(4.0, [(1.2, 2.2)]),
        *studs([0.0, 0.6, 1.2 - 2 * T, 2.2 + T, 2.8, 3.4, 4.0 - T], top=2.8 - T),
        *[("jack_stud", piece(x, T, x + T, 2.55)) for x in (1.2 - T, 2.2)],
        ("mullion", piece(1.2, HEAD, 2.2, HEAD + T)),
        ("header", piece(1.2 - T, 2.55, 2.2 + T, 2.7)),
    ]
    pieces[2] = ("top_plate", piece(0.0, 2.8 - T, 4.0, 2.8))
    gaps = gaps_of(pieces)
    assert_openings(gaps, DOOR, box(1.2, HEAD + T, 2.2, 2.55))


def test_header_that_stops_short_does_not_join_the_bays():
    pieces = window()
    pieces[[name for name, _ in pieces].index("header")] = ("header", piece(1.17, HEAD, 2.205, 2.2))
    assert_openings(gaps_of(pieces), WINDOW)


@pytest.mark.parametrize("spacing", [0.3048, 0.4064, 0.4, 0.6096, 0.6, 0.625])
def test_a_plain_frame_of_any_usual_spacing_has_no_gap_worth_a_word(spacing: float):
    count = int(3.6 / spacing)
    length = count * spacing + T
    gaps = gaps_of([*plates(length), *studs([n * spacing for n in range(count + 1)])])
    assert gaps == Gaps((), ())
