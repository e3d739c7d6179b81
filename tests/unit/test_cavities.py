"""Cavities, slivers and gaps of a framed stud layer, and the balance of its volumes.

Frames are those of `frame_builder`: pieces 38 mm thick, 2.4 m high, 140 mm deep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import shapely

from geometry.cylinders import Developed
from geometry.solids import Prism, silhouette
from geometry.tolerances import Tolerances
from takeoff.cavities import CavityPlace, take_off_layer
from takeoff.cavity_kinds import FillLimits
from takeoff.framing.modelled import read_frame
from takeoff.model import CavityKind, Frame, LayerTakeoff, Member, MemberRole, Method, Opening, Source
from tests import frame_builder as fb
from tests.wall_builder import WORLD, rotation

LIMITS = FillLimits(0.1, 0.025, insulated=True, why="outside wall")
T, DEPTH, HEIGHT = fb.T, fb.DEPTH, fb.HEIGHT


def place(limits: FillLimits = LIMITS, rooms: Sequence[str] = ()) -> CavityPlace:
    """rooms: the name at every point asked for, by its x in the world (4 m of wall shared out evenly)."""

    def room_of(points: np.ndarray) -> list[str]:
        return [rooms[int(x // (4.0 / len(rooms)))] if rooms else "" for x in points[:, 0]]

    return CavityPlace("Ground floor", limits, room_of)


def frame_of(pieces: Sequence[fb.Piece], openings: Sequence[Opening] = (), **changes: object) -> Frame:
    """The frame as the reader would make it, without its judgement: roles are those of the pieces' names."""
    layer = replace(fb.layer_of(fb.parts_of(pieces), openings=openings), **changes)  # type: ignore[arg-type]
    members = tuple(
        Member(f"{name}-{n}", MemberRole(name), "by hand", Source.MODELLED, solid)
        for n, (name, solid) in enumerate(pieces)
    )
    return Frame(layer, members, Source.MODELLED, "by hand", tuple(openings))


def taken(
    pieces: Sequence[fb.Piece], openings: Sequence[Opening] = (), where: CavityPlace | None = None
) -> LayerTakeoff:
    return take_off_layer(frame_of(pieces, openings), where or place(), Tolerances())


def volumes(result: LayerTakeoff) -> list[float]:
    return [cavity.volume for cavity in result.cavities]


# ---------------------------------------------------------------- bays


def test_bays_between_studs_have_the_volume_of_their_boxes():
    result = taken(fb.plain(2.4))
    # studs at 0, 0.6, 1.2, 1.8 and 2.362
    widths = [0.6 - T, 0.6 - T, 0.6 - T, 2.4 - T - 1.8 - T]
    assert volumes(result) == pytest.approx([width * (HEIGHT - 2 * T) * DEPTH for width in widths])
    assert {(cavity.kind, cavity.method) for cavity in result.cavities} == {(CavityKind.FULL_HEIGHT, Method.BLOW)}
    assert [cavity.clear_width for cavity in result.cavities] == pytest.approx(widths)


def test_areas_are_volumes_over_the_depth():
    result = taken(fb.plain(2.4))
    assert result.gross_area == pytest.approx(2.4 * HEIGHT)
    assert result.framing_area == pytest.approx((2 * 2.4 + 5 * (HEIGHT - 2 * T)) * T)
    assert result.opening_area == 0.0
    assert result.balance.residual < 1e-12


def test_cavities_are_numbered_left_to_right_then_bottom_to_top():
    blocks = [("blocking", fb.piece(x, 1.2, x + 0.562, 1.2 + T)) for x in (0.038, 0.638)]
    result = taken([*fb.plain(1.838), *blocks])
    assert [cavity.cavity_id for cavity in result.cavities] == [f"wall/c0{n}" for n in (1, 2, 3, 4, 5)]
    lefts = [(round(c.outline.bounds[0], 3), round(c.outline.bounds[1], 3)) for c in result.cavities]
    assert lefts == sorted(lefts)


def test_the_centroid_is_told_in_the_world():
    axes = replace(WORLD, origin=np.array([10.0, 20.0, 3.0]), directions=rotation(90.0).T)
    result = take_off_layer(frame_of(fb.plain(1.2), axes=axes), place(), Tolerances())
    first = result.cavities[0]
    x, z = (0.6 + T) / 2, HEIGHT / 2
    assert first.centroid == pytest.approx((10.0 - DEPTH / 2, 20.0 + x, 3.0 + z))


def test_an_opening_takes_its_volume_through_the_whole_depth():
    window = fb.opening(0.7, 0.9, 1.1, 2.0)
    result = taken(fb.plain(1.838), [window])
    assert result.opening_area == pytest.approx(0.4 * 1.1)
    assert result.balance.residual < 1e-12


def test_a_recess_takes_only_its_own_depth():
    shape = shapely.box(0.7, 0.9, 1.1, 2.0)
    recess = Opening("R", shape, "", "", "recess", Prism(shape, 0.0, 0.05))
    result = taken(fb.plain(1.838), [recess])
    assert result.balance.openings == pytest.approx(0.44 * 0.05)
    assert result.opening_area == pytest.approx(0.44 * 0.05 / DEPTH)
    assert result.balance.residual < 1e-12
    bay = result.cavities[1]
    assert bay.volume == pytest.approx((0.6 - T) * (HEIGHT - 2 * T) * DEPTH - 0.44 * 0.05)


# ---------------------------------------------------------------- slivers and gaps


def test_a_gap_of_two_millimetres_is_a_sliver_to_seal_with_its_length():
    pieces = [*fb.plates(1.0), *fb.studs([0.0, 0.3, 0.3 + T + 0.002, 1.0 - T])]
    result = taken(pieces)
    (sliver,) = [cavity for cavity in result.cavities if cavity.kind is CavityKind.SLIVER]
    assert (sliver.method, sliver.cavity_id) == (Method.SEAL, "wall/s01")
    assert sliver.volume == pytest.approx(0.002 * (HEIGHT - 2 * T) * DEPTH)
    assert sliver.reason.startswith("gap of 2.0 mm over 2324 mm")
    assert result.balance.slivers == pytest.approx(sliver.volume)


def test_members_that_touch_to_a_tenth_of_a_millimetre_leave_nothing_to_list():
    pieces = [*fb.plates(1.0), *fb.studs([0.0, 0.3, 0.3 + T + 0.0001, 1.0 - T])]
    result = taken(pieces)
    assert all(cavity.kind is not CavityKind.SLIVER for cavity in result.cavities)
    assert result.balance.slivers == pytest.approx(0.0001 * (HEIGHT - 2 * T) * DEPTH)
    assert result.balance.residual < 1e-12


def test_a_sliver_is_listed_once_however_many_slabs_it_runs_through():
    # blocks of many depths cut the wall into slabs; the gap beside them runs through all
    blocks = [("blocking", fb.piece(0.6, 0.5 + 0.2 * n, 0.8, 0.55 + 0.2 * n, 0.0, 0.02 + 0.02 * n)) for n in range(5)]
    pieces = [*fb.plates(1.0), *fb.studs([0.0, 0.3, 0.3 + T + 0.003, 1.0 - T]), *blocks]
    slivers = [cavity for cavity in taken(pieces).cavities if cavity.kind is CavityKind.SLIVER]
    assert [sliver.volume for sliver in slivers] == [pytest.approx(0.003 * (HEIGHT - 2 * T) * DEPTH)]


def test_an_opening_that_is_only_a_gap_in_the_frame_is_listed_and_not_insulated():
    pieces = fb.door([fb.header(1.2, 2.2)])
    frame = read_frame(fb.layer_of(fb.parts_of(pieces)))
    assert frame is not None
    result = take_off_layer(frame, place(), Tolerances())
    (gap,) = [cavity for cavity in result.cavities if cavity.kind is CavityKind.OPENING_GAP]
    assert (gap.method, gap.cavity_id) == (Method.NONE, "wall/g01")
    assert gap.area == pytest.approx(1.0 * fb.HEAD, abs=0.05)
    assert "an opening is not insulated" in gap.reason
    assert result.balance.residual < 1e-9
    assert sum(volumes(result)) - gap.volume == pytest.approx(result.balance.cavities + result.balance.slivers)


# ---------------------------------------------------------------- rooms, obstructions, findings


def test_each_cavity_has_the_room_before_it():
    layer = {"rooms": ("Kitchen", "Hall")}
    where = place(rooms=["Kitchen", "Hall"])
    result = take_off_layer(frame_of(fb.plain(4.0), **layer), where, Tolerances())
    assert [cavity.room for cavity in result.cavities] == ["Kitchen"] * 3 + ["Hall"] * (len(result.cavities) - 3)


def test_where_nobody_is_found_before_a_cavity_the_nearest_room_is_named():
    result = take_off_layer(frame_of(fb.plain(4.0), rooms=("Kitchen", "Hall")), place(rooms=[""]), Tolerances())
    assert {cavity.room for cavity in result.cavities} == {"Kitchen"}


def test_a_pocket_before_another_wall_takes_the_room_of_the_nearest_bay():
    # the last bay of a corner stands before the wall that meets this one, where no room is
    layer = {"rooms": ("Kitchen", "Hall")}
    where = place(rooms=["", "Kitchen", "Kitchen", "Kitchen", "Hall", "Hall", "Hall", ""])
    result = take_off_layer(frame_of(fb.plain(4.0), **layer), where, Tolerances())
    assert [cavity.room for cavity in result.cavities] == ["Kitchen"] * 3 + ["Hall"] * (len(result.cavities) - 3)


def test_a_sliver_takes_the_room_of_the_bay_beside_it():
    pieces = [*fb.plates(4.0), *fb.studs([0.0, 2.0, 3.6, 3.6 + T + 0.002, 4.0 - T])]
    where = place(rooms=["Kitchen", "Hall", "Hall", ""])
    result = take_off_layer(frame_of(pieces, rooms=("Kitchen", "Hall")), where, Tolerances())
    (sliver,) = [cavity for cavity in result.cavities if cavity.kind is CavityKind.SLIVER]
    assert sliver.room == "Hall"


def test_a_box_is_named_at_the_bay_that_it_takes_room_from():
    box = ("obstruction", fb.piece(0.2, 1.0, 0.3, 1.1, 0.0, 0.05))
    result = taken([*fb.plain(1.838), box])
    named = [cavity.obstructions for cavity in result.cavities]
    assert len(named[0]) == 1
    assert named[0][0].startswith("obstruction")
    assert named[1:] == [()] * (len(named) - 1)
    assert result.cavities[0].volume == pytest.approx((0.6 - T) * (HEIGHT - 2 * T) * DEPTH - 0.1 * 0.1 * 0.05)


def test_nothing_is_found_about_a_layer_that_balances():
    assert taken(fb.plain(2.4)).findings == ()


def test_a_developed_layer_has_the_volume_of_its_arc():
    axes = Developed(np.zeros(3), np.array([0.0, -1.0, 0.0]), 5.07, 5.0, True, 0.0)
    frame = frame_of(fb.plain(2.4), axes=axes)
    result = take_off_layer(frame, place(), Tolerances())
    # x is true at a radius of 5.07, the middle of the depth: an annulus sector has the volume of its middle
    assert result.balance.gross == pytest.approx(2.4 * HEIGHT * DEPTH)
    assert result.balance.residual < 1e-12
    off = replace(frame, layer=replace(frame.layer, axes=replace(axes, radius=5.0)))
    assert take_off_layer(off, place(), Tolerances()).balance.gross == pytest.approx(2.4 * HEIGHT * DEPTH * 5.07 / 5.0)


def test_a_wall_that_is_not_insulated_has_the_same_cavities_and_fills_none():
    cold = FillLimits(0.1, 0.025, insulated=False, why="inside wall")
    result = taken(fb.plain(2.4), where=place(cold))
    assert volumes(result) == pytest.approx(volumes(taken(fb.plain(2.4))))
    assert {(cavity.method, cavity.reason) for cavity in result.cavities} == {(Method.NONE, "not filled: inside wall")}


def test_a_layer_without_members_is_one_cavity():
    layer = fb.layer_of(fb.parts_of(fb.plain(2.4)))
    result = take_off_layer(Frame(layer, (), Source.LAID_OUT, "", ()), place(), Tolerances())
    assert volumes(result) == pytest.approx([2.4 * HEIGHT * DEPTH])
    assert silhouette(layer.outline).equals(result.cavities[0].outline)
