"""The hole that a door or window without an opening element takes, by hand."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import Point, box, union_all

from takeoff.walls.filling_outline import filling_outline


def test_a_plain_window_is_its_own_outline():
    assert filling_outline(box(1.0, 0.9, 2.0, 2.0)).equals(box(1.0, 0.9, 2.0, 2.0))


def test_a_board_under_a_window_and_its_ears_are_left_off():
    window = union_all([box(1.0, 0.9, 2.0, 2.0), box(0.92, 0.88, 2.08, 0.9)])
    found = filling_outline(window)
    assert found.symmetric_difference(box(1.0, 0.88, 2.0, 2.0)).area < 1e-6


def test_the_passage_between_the_jambs_of_a_door_frame_belongs_to_it():
    frame = union_all([box(1.0, 0.0, 1.06, 2.1), box(1.94, 0.0, 2.0, 2.1), box(1.0, 2.04, 2.0, 2.1)])
    assert filling_outline(frame).symmetric_difference(box(1.0, 0.0, 2.0, 2.1)).area < 1e-6


def test_two_jambs_without_a_head_are_one_door():
    jambs = union_all([box(1.0, 0.0, 1.06, 2.1), box(1.94, 0.0, 2.0, 2.1)])
    assert filling_outline(jambs).symmetric_difference(box(1.0, 0.0, 2.0, 2.1)).area < 1e-6


def test_a_round_window_stays_round():
    # Area of a circle; 64 chords to the quarter take 0.01 % of it.
    found = filling_outline(Point(1.5, 1.5).buffer(0.4, quad_segs=64))
    assert found.area == pytest.approx(math.pi * 0.16, rel=3e-4)


def test_an_arched_head_stays_an_arch():
    arch = union_all([box(1.0, 0.0, 2.0, 2.0), Point(1.5, 2.0).buffer(0.5, quad_segs=32)])
    rim = arch.difference(arch.buffer(-0.06))
    legs = rim.difference(box(1.06, -0.1, 1.94, 0.06))
    found = filling_outline(legs)
    assert found.area == pytest.approx(arch.area, rel=2e-3)
    assert found.bounds == pytest.approx(arch.bounds, abs=2e-3)


def test_a_slim_pane_is_not_lost():
    pane = box(1.0, 0.9, 1.03, 2.0)
    assert shapely.equals(filling_outline(pane), pane)
