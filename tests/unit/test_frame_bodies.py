"""Walls whose own body is their frame, and bodies in pieces that are none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from takeoff.building import ModelLayer, ModelWall
from takeoff.walls.frame_bodies import with_frame_bodies_told
from tests.wall_builder import Box, box, model, part, wall

DEPTH, LENGTH, HEIGHT, T = 0.14, 3.6, 2.4, 0.04
PLATES = [(0.0, 0.0, 0.0, LENGTH, DEPTH, T), (0.0, 0.0, HEIGHT - T, LENGTH, DEPTH, HEIGHT)]
STUDS = [(x, 0.0, T, x + T, DEPTH, HEIGHT - T) for x in (0.0, 0.6, 1.2, 1.8, 2.4, 3.0, LENGTH - T)]


def of(*boxes: Box, **changes: object) -> ModelWall:
    return wall(*[box(each) for each in boxes], layers=None, **changes)


def told(one: ModelWall) -> tuple[ModelWall, list[str]]:
    result = with_frame_bodies_told(model(one))
    return result.walls[0], [finding.code for finding in result.findings]


def test_plates_and_studs_for_a_body_are_the_walls_members():
    given = of(*PLATES, *STUDS, materials=(ModelLayer("Pine", "", 0.0),))
    one, codes = told(given)
    assert (one.body, codes) == ((), ["body-is-frame"])
    (frame,) = one.parts
    assert frame.solids == given.body
    assert (frame.global_id, frame.wall_id, frame.material) == ("WALL", "WALL", "Pine")


def test_boards_among_the_solids_change_nothing():
    boards = [(0.0, -0.012, 0.0, LENGTH, 0.0, HEIGHT), (0.0, DEPTH, 0.0, LENGTH, DEPTH + 0.012, HEIGHT)]
    assert told(of(*boards, *PLATES, *STUDS))[1] == ["body-is-frame"]


@pytest.mark.parametrize(
    "boxes",
    [
        pytest.param(
            [
                (0.0, 0.0, 0.0, 1.2, DEPTH, HEIGHT),
                (2.4, 0.0, 0.0, 3.6, DEPTH, HEIGHT),
                (1.2, 0.0, 2.0, 2.4, DEPTH, 2.4),
            ],
            id="piers and a lintel",
        ),
        pytest.param(
            [(0.0, y, 0.0, LENGTH, y + 0.1, HEIGHT) for y in (0.0, 0.1, 0.2)],
            id="a solid per layer",
        ),
        pytest.param(
            [(0.2 * n, 0.0, 0.0, 0.2 * n + 0.2, DEPTH, HEIGHT) for n in range(10)] + PLATES[1:],
            id="logs on end without a bay between them",
        ),
        pytest.param([*PLATES, *STUDS[::3]], id="posts too far apart"),
        pytest.param(STUDS, id="nothing across the studs"),
        pytest.param([*PLATES, *STUDS][:2], id="two solids"),
    ],
)
def test_other_bodies_in_pieces_stay_bodies(boxes: list[Box]):
    given = of(*boxes)
    assert told(given) == (given, [])


def test_a_wall_that_has_members_keeps_its_body():
    given = of(*PLATES, *STUDS, parts=(part("A", *STUDS),))
    assert told(given) == (given, [])
    assert told(replace(given, parts=(), problem="its body is broken"))[1] == []
