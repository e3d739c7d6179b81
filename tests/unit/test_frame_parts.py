"""Frames of several depths: which parts of one frame are rows of studs of their own, and which are one."""

from __future__ import annotations

import pytest

from geometry.solids import silhouette
from takeoff.framing.frame_parts import FramePart, parts_of_frame
from tests.frame_builder import DEPTH, HEIGHT, Piece, T, at_depth, piece, plain, plates, shifted, studs

SHALLOW = 0.089
LENGTH = 4.0


def raised(pieces: list[Piece], up: float) -> list[Piece]:
    return shifted(pieces, 0.0, up)


def parts(*pieces: Piece) -> list[tuple[float, float, tuple[float, ...]]]:
    return [_told(part) for part in parts_of_frame([solid for _, solid in pieces])]


def _told(part: FramePart) -> tuple[float, float, tuple[float, ...]]:
    return round(part.low, 9), round(part.high, 9), tuple(round(value, 9) for value in part.outline.bounds)


DEEP = plain(LENGTH)
FLAT = at_depth(plain(LENGTH), 0.0, SHALLOW)


def test_a_shallow_frame_on_a_deep_one_is_a_part_of_its_own():
    above = (0.0, HEIGHT, LENGTH, 2 * HEIGHT)
    assert parts(*DEEP, *raised(FLAT, HEIGHT)) == [
        (0.0, DEPTH, (0.0, 0.0, LENGTH, HEIGHT)),
        (0.0, SHALLOW, above),
    ]


def test_of_frames_side_by_side_each_is_a_part_however_often_the_depth_changes():
    row = [*DEEP, *shifted(FLAT, LENGTH, 0.0), *shifted(DEEP, 2 * LENGTH, 0.0)]
    found = parts(*row)
    assert [depth for _, depth, _ in found] == [DEPTH, SHALLOW, DEPTH]
    assert [place[0] for _, _, place in found] == pytest.approx([0.0, LENGTH, 2 * LENGTH])
    assert sum(part.outline.area for part in parts_of_frame([solid for _, solid in row])) == pytest.approx(
        3 * LENGTH * HEIGHT
    )


def test_parts_that_share_the_stud_between_them_meet_at_it():
    beside = [one for one in shifted(FLAT, LENGTH, 0.0) if silhouette(one[1]).bounds[0] > LENGTH or one[0] != "stud"]
    assert [place for _, _, place in parts(*DEEP, *beside)] == [
        (0.0, 0.0, LENGTH, HEIGHT),
        (LENGTH, 0.0, 2 * LENGTH, HEIGHT),
    ]


def test_two_frames_of_one_depth_stay_together_where_a_third_stands_on_them():
    below = [*DEEP, *shifted(DEEP, LENGTH + 1.0, 0.0)]
    roof = at_depth(raised(plain(2 * LENGTH + 1.0), HEIGHT), 0.0, SHALLOW)
    assert parts(*below, *roof) == [
        (0.0, DEPTH, (0.0, 0.0, 2 * LENGTH + 1.0, HEIGHT)),
        (0.0, SHALLOW, (0.0, HEIGHT, 2 * LENGTH + 1.0, 2 * HEIGHT)),
    ]


def test_pieces_of_a_third_depth_belong_to_the_part_that_they_stand_in():
    """A block on the flat below and a post as deep as the lower frame above make no parts."""
    block = ("block", piece(0.6 + T, 1.2, 1.2, 1.2 + T, 0.0, 0.089))
    post = ("post", piece(0.8, HEIGHT + T, 0.9, 2 * HEIGHT - T, 0.0, DEPTH))
    assert [part[:2] for part in parts(*DEEP, block, *raised(FLAT, HEIGHT), post)] == [(0.0, DEPTH), (0.0, SHALLOW)]


@pytest.mark.parametrize(
    "pieces",
    [
        pytest.param(DEEP, id="one depth"),
        pytest.param([*DEEP, *shifted(DEEP, LENGTH + 0.3, 0.0)], id="two frames of one depth"),
        pytest.param([*DEEP, *at_depth(DEEP, 0.2, 0.34)], id="two rows behind each other"),
        pytest.param([*DEEP, *raised(at_depth(DEEP, 0.004, DEPTH), HEIGHT)], id="crooked by 4 mm"),
        pytest.param(
            [*DEEP, *[("batten", piece(x, 0.0, x + 0.05, HEIGHT, DEPTH, DEPTH + 0.03)) for x in (0.0, 0.6, 1.2)]],
            id="battens on it",
        ),
        pytest.param(
            [
                *plates(LENGTH, [(1.0, 2.0)]),
                *studs([0.0, 1.0 - 2 * T, 1.0 - T, 2.0, 2.0 + T, LENGTH - T]),
                ("header", piece(1.0, 2.05, 2.0, 2.15, 0.0, SHALLOW)),
                ("cripple", piece(1.3, 2.15, 1.3 + T, HEIGHT - 2 * T, 0.0, SHALLOW)),
                ("cripple", piece(1.6, 2.15, 1.6 + T, HEIGHT - 2 * T, 0.0, SHALLOW)),
                ("cap", piece(1.0, HEIGHT - 2 * T, 2.0, HEIGHT - T, 0.0, SHALLOW)),
            ],
            id="a shallow header with its cripples",
        ),
        pytest.param([], id="nothing"),
    ],
)
def test_a_frame_of_one_depth_has_no_parts(pieces: list[Piece]):
    assert parts(*pieces) == []
