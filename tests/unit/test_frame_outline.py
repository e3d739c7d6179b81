"""The outline of a frame from its members alone."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import Polygon, box

from geometry.solids import silhouette
from takeoff.framing.frame_outline import outline_of_frame
from tests.frame_builder import HEIGHT, T, door, header, piece, plain, plates, shifted, studs


def outline(pieces) -> Polygon:
    return outline_of_frame([silhouette(solid) for _, solid in pieces])


def assert_same(found: Polygon, expected: Polygon) -> None:
    assert shapely.equals_exact(found.normalize(), expected.normalize(), tolerance=1e-9), f"{found} is not {expected}"


def test_rectangle_is_exact():
    assert_same(outline(plain()), box(0.0, 0.0, 4.0, HEIGHT))


def test_door_without_a_plate_does_not_notch_the_bottom_line():
    assert_same(outline(door([header(1.2, 2.2)])), box(0.0, 0.0, 4.0, HEIGHT))


def test_door_whose_jacks_also_lack_a_plate_does_not_notch_the_bottom_line():
    pieces = [one for one in door([header(1.2, 2.2)]) if one[0] != "bottom_plate"]
    pieces += [("bottom_plate", piece(0.0, 0.0, 1.1, T)), ("bottom_plate", piece(2.3, 0.0, 4.0, T))]
    assert_same(outline(pieces), box(0.0, 0.0, 4.0, HEIGHT))


@pytest.mark.parametrize("gap", [0.003, 0.3, 0.6])
def test_missing_piece_of_top_plate_up_to_a_bay_is_bridged(gap: float):
    pieces = [one for one in plain() if one[0] != "top_plate"]
    pieces += [("t", piece(0.0, HEIGHT - T, 1.2, HEIGHT)), ("t", piece(1.2 + gap, HEIGHT - T, 4.0, HEIGHT))]
    assert_same(outline(pieces), box(0.0, 0.0, 4.0, HEIGHT))


def test_missing_top_plate_over_more_than_a_bay_stays_a_notch():
    pieces = [one for one in plain() if one[0] != "top_plate"]
    pieces += [("t", piece(0.0, HEIGHT - T, 1.2, HEIGHT)), ("t", piece(2.0, HEIGHT - T, 4.0, HEIGHT))]
    assert outline(pieces).area < 4.0 * HEIGHT - 0.02


def test_studs_without_any_plate_give_a_rectangle():
    assert_same(outline(studs([0.0, 0.4, 0.8, 1.2])), box(0.0, T, 1.2 + T, HEIGHT - T))


def test_rake_is_exact_and_bridged_along_its_slope():
    rake = Polygon([(0.0, 2.362), (3.0, 3.862), (3.0, 3.9), (0.0, 2.4)])
    pieces = [*plates(3.0)[:1], *studs([0.0, 0.6, 1.2, 1.8, 2.4, 3.0 - T])]
    whole = [*[silhouette(solid) for _, solid in pieces], rake]
    broken = [*[silhouette(solid) for _, solid in pieces], rake.difference(box(1.0, 0.0, 1.5, 5.0))]
    expected = Polygon([(0.0, 0.0), (3.0, 0.0), (3.0, 3.9), (0.0, 2.4)])
    assert_same(outline_of_frame(whole), expected)
    assert outline_of_frame(broken).symmetric_difference(expected).area < 1e-9


def test_valley_between_two_rakes_is_kept():
    left = Polygon([(0.0, 3.0), (1.0, 2.4), (1.0, 2.44), (0.0, 3.04)])
    right = Polygon([(1.0, 2.4), (2.0, 3.0), (2.0, 3.04), (1.0, 2.44)])
    found = outline_of_frame([box(0.0, 0.0, 2.0, T), left, right])
    assert_same(found, Polygon([(0, 0), (2, 0), (2, 3.04), (1, 2.44), (0, 3.04)]))


def test_two_heights_give_a_step():
    tall = shifted([*plates(2.0, height=2.9), *studs([0.0, 0.6, 1.2, 2.0 - T], top=2.9 - T)], 2.0, 0.0)
    low = [*plates(2.0), *studs([0.0, 0.6, 1.2, 2.0 - T])]
    expected = Polygon([(0, 0), (4, 0), (4, 2.9), (2, 2.9), (2, 2.4), (0, 2.4)])
    assert_same(outline([*low, *tall]), expected)


def test_a_few_millimetres_between_two_heights_go_with_the_lower():
    tall = shifted([*plates(2.0, height=2.9), *studs([0.0, 0.6, 1.2, 2.0 - T], top=2.9 - T)], 2.004, 0.0)
    low = [*plates(2.0), *studs([0.0, 0.6, 1.2, 2.0 - T])]
    expected = Polygon([(0, 0), (4.004, 0), (4.004, 2.9), (2.004, 2.9), (2.004, 2.4), (0, 2.4)])
    assert_same(outline([*low, *tall]), expected)


def test_frames_above_each_other_give_one_outline():
    assert_same(outline([*plain(), *shifted(plain(), 0.0, 2.7)]), box(0.0, 0.0, 4.0, 2.7 + HEIGHT))


def test_base_below_zero_keeps_its_level():
    assert_same(outline(shifted(plain(), 0.0, -0.35)), box(0.0, -0.35, 4.0, HEIGHT - 0.35))


def test_nothing_has_no_outline():
    with pytest.raises(ValueError, match="no member with an area"):
        outline_of_frame([Polygon()])


def test_outline_does_not_depend_on_the_order_of_members():
    shapes = [silhouette(solid) for _, solid in door([header(1.2, 2.2)])]
    order = np.random.default_rng(3).permutation(len(shapes))
    assert_same(outline_of_frame([shapes[n] for n in order]), outline_of_frame(shapes))
