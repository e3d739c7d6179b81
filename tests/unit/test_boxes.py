"""A rectangle less rectangles, by hand and against general overlays."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, box

from geometry.boxes import areas_within, as_boxes, beyond, cut_boxes

NONE = np.empty((0, 4))


def shapes(*boxes: tuple[float, float, float, float]) -> np.ndarray:
    return np.array([box(*each) for each in boxes], dtype=object)


def test_a_stud_between_plates_leaves_two_bays() -> None:
    whole = np.array([0.0, 0.0, 1.0, 2.5])
    members = np.array([(0.0, 0.0, 1.0, 0.04), (0.0, 2.46, 1.0, 2.5), (0.48, 0.04, 0.52, 2.46)])
    cut = cut_boxes(whole, NONE, members)
    assert [piece.bounds for piece in cut.pieces] == [(0.0, 0.04, 0.48, 2.46), (0.52, 0.04, 1.0, 2.46)]
    assert cut.gross == pytest.approx(2.5, abs=1e-15)
    assert cut.taken == pytest.approx(0.08 + 0.04 * 2.42, abs=1e-15)
    assert cut.left == pytest.approx(2 * 0.48 * 2.42, abs=1e-15)


def test_an_opening_goes_before_the_member_that_stands_in_it() -> None:
    cut = cut_boxes(np.array([0, 0, 4, 3.0]), np.array([(1, 0, 2, 2.0)]), np.array([(1.5, 0, 3, 1.0)]))
    assert (cut.open_, cut.taken, cut.left) == (2.0, 1.0, 9.0)
    (piece,) = cut.pieces
    assert piece.equals(box(0, 0, 4, 3) - box(1, 0, 2, 2) - box(1.5, 0, 3, 1))


def test_pieces_that_meet_only_at_a_corner_stay_apart() -> None:
    cut = cut_boxes(np.array([0, 0, 2, 2.0]), NONE, np.array([(0, 1, 1, 2.0), (1, 0, 2, 1.0)]))
    assert [piece.bounds for piece in cut.pieces] == [(0, 0, 1, 1), (1, 1, 2, 2)]


def test_a_ring_around_an_opening_is_one_piece_with_a_hole() -> None:
    cut = cut_boxes(np.array([0, 0, 3, 3.0]), np.array([(1, 1, 2, 2.0)]), NONE)
    (piece,) = cut.pieces
    assert len(piece.interiors) == 1
    assert piece.area == 8.0


def test_what_covers_everything_leaves_nothing() -> None:
    cut = cut_boxes(np.array([0, 0, 1, 1.0]), NONE, np.array([(-1, -1, 2, 2.0)]))
    assert (cut.pieces, cut.taken, cut.left) == ([], 1.0, 0.0)


def test_only_level_and_plumb_rectangles_are_boxes() -> None:
    assert as_boxes(shapes((0, 0, 1, 2), (3, 0, 4, 1))) == pytest.approx(np.array([(0, 0, 1, 2), (3, 0, 4, 1)]))
    assert as_boxes(np.array([Polygon([(0, 0), (1, 0), (1, 1), (0, 0.999)])], dtype=object)) is None
    assert as_boxes(np.array([box(0, 0, 3, 3) - box(1, 1, 2, 2)], dtype=object)) is None
    assert as_boxes(np.array([], dtype=object)) is not None


sides = st.integers(-2, 12)
rectangles = st.tuples(sides, sides, st.integers(1, 6), st.integers(1, 6)).map(
    lambda row: (row[0], row[1], row[0] + row[2], row[1] + row[3])
)


@given(st.lists(rectangles, max_size=4), st.lists(rectangles, max_size=14))
def test_it_is_what_general_overlays_give(open_: list, taken: list) -> None:
    """Reference: shapely (GEOS), a general-purpose geometry library, on the same rectangles."""
    scale = 0.0381  # no binary fraction, so that sides are not exact
    whole = np.array([0, 0, 10, 10]) * scale
    cut = cut_boxes(whole, np.array(open_).reshape(-1, 4) * scale, np.array(taken).reshape(-1, 4) * scale)
    holes = shapely.union_all([box(*(np.array(each) * scale)) for each in open_])
    solids = shapely.union_all([box(*(np.array(each) * scale)) for each in taken])
    left = box(*whole) - holes - solids
    assert cut.open_ == pytest.approx((box(*whole) & holes).area, abs=1e-12)
    assert cut.taken == pytest.approx(((box(*whole) & solids) - holes).area, abs=1e-12)
    assert cut.left == pytest.approx(left.area, abs=1e-12)
    assert cut.gross == pytest.approx(cut.open_ + cut.taken + cut.left, abs=1e-12)
    parts = [part for part in shapely.get_parts(left) if part.area > 1e-9]
    assert len(cut.pieces) == len(parts)
    assert shapely.symmetric_difference(shapely.union_all(cut.pieces), left).area < 1e-12
    assert all(piece.is_valid for piece in cut.pieces)


@given(st.tuples(*[st.integers(0, 4)] * 4), st.lists(rectangles, max_size=4), st.lists(rectangles, max_size=8))
def test_a_rectangle_and_what_is_beyond_it_share_out_all_there_is(
    margins: tuple[int, int, int, int], open_: list, taken: list
) -> None:
    whole = np.array([0.0, 0.0, 10.0, 10.0])
    part = whole + np.array([1, 1, -1, -1]) * margins
    around = beyond(whole, part)
    assert np.prod(around[:, 2:] - around[:, :2], axis=1).sum() == 100.0 - box(*part).area
    assert all((each[:2] >= 0.0).all() and (each[2:] <= 10.0).all() for each in around)
    apart = itertools.combinations([part, *around], 2)
    assert all(box(*one).intersection(box(*other)).area == 0.0 for one, other in apart)
    holes, solids = np.array(open_).reshape(-1, 4), np.array(taken).reshape(-1, 4)
    shares = [areas_within(each, holes, solids) for each in (part, *around)]
    cut = cut_boxes(whole, holes, solids)
    assert np.sum(shares, axis=0) == pytest.approx((cut.open_, cut.taken), abs=1e-12)
