"""Rooms and walls in plan: what lies beside a point, and whether it is walled all round."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from takeoff.building import Cylinder
from takeoff.walls.surroundings import Surroundings
from tests.wall_builder import box, part, room, standing, turned, wall

KITCHEN = room("Kitchen", (0.0, 0.0, 0.0, 4.0, 3.0, 2.4))
LARDER = room("Larder", (3.0, 0.0, 0.0, 4.0, 1.0, 2.4))
UPSTAIRS = room("Bedroom", (0.0, 0.0, 2.7, 4.0, 3.0, 5.1))


def ring(size: float = 5.0, thick: float = 0.2, height: float = 2.4):
    """Four walls round a place from 0 to size."""
    return (
        wall(box((0.0, -thick, 0.0, size, 0.0, height)), global_id="S"),
        wall(box((size, 0.0, 0.0, size + thick, size, height)), global_id="E"),
        wall(box((0.0, size, 0.0, size, size + thick, height)), global_id="N"),
        wall(box((-thick, 0.0, 0.0, 0.0, size, height)), global_id="W"),
    )


def names(surroundings: Surroundings, *points: tuple[float, float, float]) -> list[str | None]:
    return [None if found is None else found.label for found in surroundings.rooms_at(np.array(points))]


def test_a_point_is_in_the_room_around_it_and_at_its_height():
    places = Surroundings((KITCHEN, UPSTAIRS), ())
    assert names(places, (1.0, 1.0, 1.0), (1.0, 1.0, 3.0), (9.0, 1.0, 1.0), (1.0, 1.0, 2.55)) == [
        "Kitchen",
        "Bedroom",
        None,
        None,
    ]


@pytest.mark.parametrize("order", [(KITCHEN, LARDER), (LARDER, KITCHEN)])
def test_where_rooms_overlap_the_smallest_counts(order):
    assert names(Surroundings(order, ()), (3.5, 0.5, 1.0)) == ["Larder"]


def test_a_room_without_a_body_is_nowhere_and_harms_nobody():
    empty = room("Ghost", (0.0, 0.0, 0.0, 0.0, 0.0, 0.0))
    assert names(Surroundings((empty, KITCHEN), ()), (1.0, 1.0, 1.0)) == ["Kitchen"]
    assert names(Surroundings((), ()), (1.0, 1.0, 1.0)) == [None]


def test_labels_join_number_and_name():
    named = replace(KITCHEN, name="0.1", long_name="Kitchen and dining")
    assert names(Surroundings((named,), ()), (1.0, 1.0, 1.0)) == ["0.1 Kitchen and dining"]
    nameless = replace(KITCHEN, name="", long_name="")
    assert names(Surroundings((nameless,), ()), (1.0, 1.0, 1.0)) == ["Kitchen"], "its id"


def test_inside_a_ring_of_walls_is_inside_and_outside_it_is_not():
    places = Surroundings((), ring())
    beside = np.array([[1.25, 0.3, 1.0], [2.5, 0.3, 1.0], [3.75, 0.3, 1.0]])
    inwards = np.tile([0.0, 1.0, 0.0], (3, 1))
    # Three walls round a point in a square room stand within 75 degrees of straight ahead for all of the rays.
    assert places.enclosure("S", beside, inwards) == 1.0
    assert places.is_inside("S", beside, inwards)
    outside = beside - [0.0, 0.8, 0.0]
    assert places.enclosure("S", outside, -inwards) == 0.0
    assert not places.is_inside("S", outside, -inwards)


def test_a_wall_does_not_wall_itself_in():
    places = Surroundings((), ring()[:1])
    assert places.enclosure("S", np.array([[2.5, 0.3, 1.0]]), np.array([[0.0, -1.0, 0.0]])) == 0.0


def test_walls_of_another_storey_enclose_nothing():
    upper = [wall(turned(each.body[0], 0.0, (0.0, 0.0, 3.0)), global_id=each.global_id) for each in ring()]
    places = Surroundings((), (ring()[0], *upper[1:]))
    assert places.enclosure("S", np.array([[2.5, 0.3, 1.0]]), np.array([[0.0, 1.0, 0.0]])) == 0.0


def test_the_hollow_of_an_angular_wall_is_not_taken_for_wall():
    # one wall object round three sides; a box around it would hide the other walls
    plan = shapely.Polygon([(0, 0), (5, 0), (5, 5), (4.8, 5), (4.8, 0.2), (0, 0.2)])
    bent = wall(standing(plan, 0.0, 2.4), global_id="L")
    other = wall(box((0.0, 4.0, 0.0, 4.8, 4.2, 2.4)), global_id="N")
    places = Surroundings((), (bent, other))
    found = places.enclosure("N", np.array([[2.4, 3.5, 1.0]]), np.array([[0.0, -1.0, 0.0]]))
    assert 0.5 < found < 1.0, "the west is open"


def test_a_curved_wall_covers_its_arc_and_not_the_room_inside_it():
    angles = np.linspace(0.0, np.pi, 37)
    outer = [(5 * np.cos(a), 5 * np.sin(a)) for a in angles]
    inner = [(4.8 * np.cos(a), 4.8 * np.sin(a)) for a in angles[::-1]]
    arc = wall(
        standing(shapely.Polygon(outer + inner), 0.0, 2.4),
        global_id="ARC",
        cylinder=Cylinder(np.zeros(3), np.array([0.0, 0.0, 1.0]), 4.9),
    )
    straight = wall(box((-5.0, -0.2, 0.0, 5.0, 0.0, 2.4)), global_id="S")
    places = Surroundings((), (arc, straight))
    point, north = np.array([[0.0, 2.0, 1.0]]), np.array([[0.0, 1.0, 0.0]])
    assert places.enclosure("S", point, north) == 1.0
    assert places.enclosure("ARC", point, north) == 1.0, "a wall that bends walls in a place by itself"


def test_walls_with_parts_and_no_body_enclose_too():
    framed = wall(global_id="N", body=(), parts=(part("STUD", (0.0, 3.0, 0.0, 4.0, 3.2, 2.4)),))
    places = Surroundings((), (framed, wall(global_id="S")))
    assert places.enclosure("S", np.array([[2.0, 2.9, 1.0]]), np.array([[0.0, 1.0, 0.0]])) > 0.9
