"""Order of work: storeys, rooms, passes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import box

from takeoff.fill import plan_fill
from takeoff.fill_order import OrderSettings, Preparation, PreparationKind, Task, order_work, plan_preparations
from takeoff.model import CavityKind, WallTakeoff
from tests.records_builder import cavity, layer_takeoff, plain_wall


def room_wall(key: str, room: str, storey: str, elevation: float, place: tuple[float, float]) -> WallTakeoff:
    """A wall of three bays in one room, the third one a closed pocket, the second too narrow for the hose."""
    where = (*place, elevation)
    bays = (
        cavity(1, box(0, 0.05, 0.4, 2.35), key, room=room, storey=storey, centroid=where),
        cavity(2, box(0.5, 0.05, 0.55, 2.35), key, room=room, storey=storey, centroid=where),
        cavity(
            3, box(0.6, 0.05, 0.8, 2.35), key, room=room, storey=storey, centroid=where, kind=CavityKind.CLOSED_POCKET
        ),
    )
    base = plain_wall(key, storey=storey, storey_elevation=elevation)
    return replace(base, layers=(replace(layer_takeoff(key), cavities=bays),))


HOUSE = (
    room_wall("W-UP", "Bedroom", "Upper floor", 2.7, (0, 0)),
    room_wall("W-10", "Room 10", "Ground floor", 0.0, (2, 0)),
    room_wall("W-2", "Room 2", "Ground floor", 0.0, (0, 0)),
    room_wall("W-9", "Room 9", "Ground floor", 0.0, (9, 0)),
    room_wall("W-0", "", "Ground floor", 0.0, (1, 0)),
)


def steps_of(walls=HOUSE, **options):
    return order_work(plan_fill(walls), walls, **options)


def test_storeys_go_from_below_and_rooms_to_the_nearest_next():
    order = [step.rooms for step in steps_of(settings=OrderSettings(1)) if step.task is Task.NETTING]
    assert order == [("Room 2",), ("Room 10",), ("Room 9",), ("",), ("Bedroom",)]


def test_a_room_or_two_is_released_together_but_never_over_two_storeys():
    order = [step.rooms for step in steps_of() if step.task is Task.NETTING]
    assert order == [("Room 2", "Room 10"), ("Room 9",), ("",), ("Bedroom",)]


def test_each_release_goes_from_preparation_to_check():
    tasks = [step.task for step in steps_of() if step.release == 1]
    assert tasks == [Task.BEFORE_NETTING, Task.NETTING, Task.LOWER_PASS, Task.UPPER_PASS, Task.CHECK]


def test_pockets_come_before_everything_else():
    steps = steps_of()
    assert [step.task for step in steps[:2]] == [Task.BEFORE_SHEATHING] * 2
    assert all(step.task is not Task.BEFORE_SHEATHING for step in steps[2:])
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))


def test_every_hole_is_filled_exactly_once():
    plan = plan_fill(HOUSE)
    done = [hole for step in order_work(plan, HOUSE) for hole in step.holes]
    assert sorted(done) == sorted((hole.cavity_id, hole.number) for hole in plan.holes)


def test_every_hand_filled_place_is_prepared_exactly_once():
    plan = plan_fill(HOUSE)
    prepared = [item.cavity_id for step in order_work(plan, HOUSE) for item in step.preparations]
    assert sorted(prepared) == sorted(part.cavity_id for part in plan.hand_fills)


def test_a_baffle_from_outside_comes_before_the_netting_of_its_room():
    baffle = Preparation(PreparationKind.EAVE_BAFFLE, "Upper floor", "Bedroom", "W-UP", "the wall meets a vented eave")
    steps = steps_of(preparations=[*plan_preparations(plan_fill(HOUSE)), baffle])
    step = next(step for step in steps if baffle in step.preparations)
    assert (step.task, step.rooms) == (Task.BEFORE_NETTING, ("Bedroom",))


def test_a_baffle_in_a_room_without_cavities_is_not_lost():
    baffle = Preparation(PreparationKind.EAVE_BAFFLE, "Attic", "Loft", "W-X", "the wall meets a vented eave")
    everything = [*plan_preparations(plan_fill(HOUSE)), baffle]
    assert any(baffle in step.preparations for step in steps_of(preparations=everything))


def test_walls_of_a_room_follow_one_another_to_the_right_seen_from_inside():
    # From above, inside a room facing north, to the right is east: clockwise.
    places = {"W-N": (0, 5), "W-E": (5, 0), "W-S": (0, -5), "W-W": (-5, 0)}
    walls = [room_wall(key, "Hall", "Ground floor", 0.0, places[key]) for key in ("W-N", "W-S", "W-E", "W-W")]
    netting = next(step for step in steps_of(walls) if step.task is Task.NETTING)
    assert netting.layer_keys == ("W-N", "W-E", "W-S", "W-W")


def test_holes_of_a_wall_go_from_left_to_right():
    bays = tuple(cavity(n, box(x, 0.05, x + 0.4, 2.35), "W") for n, x in enumerate(np.arange(3, 0, -0.5), 1))
    wall = replace(plain_wall("W"), layers=(replace(layer_takeoff("W"), cavities=bays),))
    plan = plan_fill([wall])
    x_of = {(hole.cavity_id, hole.number): hole.x for hole in plan.holes}
    lower = next(step for step in order_work(plan, [wall]) if step.task is Task.LOWER_PASS)
    marks = [x_of[hole] for hole in lower.holes]
    assert marks == sorted(marks)
    assert len(marks) == 6


def test_nothing_to_do_gives_no_steps():
    assert order_work(plan_fill([]), []) == ()
