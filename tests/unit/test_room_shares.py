"""How a wall's areas are shared out to the rooms beside it."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from shapely import box

from geometry.solids import extruded
from takeoff.building import ModelSpace
from takeoff.envelope.rooms import room_shares
from takeoff.model import LayerTakeoff
from takeoff.walls.surroundings import Surroundings
from tests.records_builder import ORIGIN, layer_takeoff


def surroundings(*rooms: tuple[str, float, float]) -> Surroundings:
    """Rooms (name, from, to) along the plain wall on its fill side; m in wall axes."""
    x, y, z = ORIGIN
    spaces = [
        ModelSpace(name, name, "", "", (extruded(box(x + left, z, x + right, z + 2.4), y - 3.0, y - 0.0125),))
        for name, left, right in rooms
    ]
    return Surroundings(spaces, ())


def shares(
    rooms: Sequence[tuple[str, float, float]], taken: LayerTakeoff | None = None
) -> dict[str, tuple[float, ...]]:
    found = room_shares(taken or layer_takeoff("WALL"), surroundings(*rooms), inside_far=False)
    return {share.room: (share.gross, share.opening, share.framing) for share in found}


def test_one_room_gets_the_whole_wall_and_so_does_no_room() -> None:
    taken = layer_takeoff("WALL")
    whole = (taken.gross_area, taken.opening_area, taken.framing_area)
    assert shares([("A", 0.0, 2.4)]) == {"A": whole}
    assert shares([]) == {"": whole}


def test_a_wall_is_cut_where_one_room_ends_and_the_next_begins() -> None:
    """Gross area is 2.4 m high; the door takes 1.4 to 2.4 m, 2 m high, so all of it lies beside the second room."""
    found = shares([("A", 0.0, 1.3), ("B", 1.3, 2.4)])
    assert found["A"][0] == pytest.approx(1.3 * 2.4, abs=0.01)
    assert found["B"][0] == pytest.approx(1.1 * 2.4, abs=0.01)
    assert found["A"][1] == 0.0
    assert found["B"][1] == pytest.approx(2.0)


@pytest.mark.parametrize(
    "rooms",
    [
        [("A", 0.0, 0.7), ("B", 0.8, 2.4)],
        [("A", 0.3, 0.9), ("B", 1.0, 1.5), ("A", 1.6, 2.2)],
        [("A", 0.0, 0.7), ("B", 0.7, 0.95), ("C", 0.95, 2.4)],
    ],
)
def test_shares_add_up_to_the_wall(rooms: list[tuple[str, float, float]]) -> None:
    taken = layer_takeoff("WALL")
    found = shares(rooms, taken)
    assert set(found) == {name for name, _, _ in rooms}
    total = [sum(column) for column in zip(*found.values(), strict=True)]
    assert total == pytest.approx([taken.gross_area, taken.opening_area, taken.framing_area])


def test_what_stands_before_a_partition_goes_half_to_either_room() -> None:
    found = shares([("A", 0.0, 0.9), ("B", 1.1, 2.4)])
    assert found["A"][0] == pytest.approx(1.0 * 2.4, abs=0.01)
