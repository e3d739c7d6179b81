"""What is done before the netting: each kind where it is needed, nowhere else, and nothing twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon, box

import takeoff
from geometry.solids import extruded
from takeoff import preparations
from takeoff.building import Model, ModelSpace
from takeoff.eaves import roof_surfaces
from takeoff.fill import plan_fill
from takeoff.fill_order import Preparation, PreparationKind
from takeoff.job import default_job, read_job
from takeoff.job_sections import Preparations
from takeoff.model import MemberRole, OpenSide, Source, WallTakeoff
from takeoff.preparations import Meets, is_box, meets_of, prepared
from takeoff.truck_load import truck_load
from tests.records_builder import cavity, layer_takeoff, member, mesh_member, plain_wall, takeoff_of

HOUSE = Path(__file__).resolve().parents[2] / "sample_models" / "two_storey_house.ifc"
NOTHING = Meets(roof_surfaces(()), {}, Preparations())
BAY = box(0.05, 0.05, 0.45, 2.35)


def bays(*cavities, **changes: object) -> WallTakeoff:
    """An outside wall with these cavities only."""
    layer = replace(layer_takeoff("W"), cavities=cavities or (cavity(1, BAY, "W"),), **changes)
    return replace(plain_wall("W"), layers=(layer,))


def found(wall: WallTakeoff, meets: Meets = NOTHING) -> list[Preparation]:
    return list(prepared([wall], plan_fill([wall]), meets)[0])


def kinds(wall: WallTakeoff, meets: Meets = NOTHING) -> Counter[PreparationKind]:
    return Counter(item.kind for item in found(wall, meets))


def meets(text: str = "", tops: dict[tuple[str, str], float] | None = None) -> Meets:
    return Meets(roof_surfaces(()), tops or {}, read_job(f"[preparations]\n{text}").preparations)


# ---------------------------------------------------------------- blockers


def test_an_open_side_of_a_blown_bay_gets_a_blocker_of_its_size():
    wall = bays(open_sides=(OpenSide("W/c01", "right", 2.3, 0.05, 2.35, 0.23),))
    (item,) = found(wall)
    assert (item.kind, item.cavity_id, item.room) == (PreparationKind.BLOCKER, "W/c01", "Kitchen")
    assert (item.length, item.area) == pytest.approx((2.3, 0.23))
    assert item.reason == "open at its right over 2.300 m"


def test_a_bay_that_is_batted_by_hand_needs_no_blocker():
    narrow = cavity(1, box(0.05, 0.05, 0.12, 2.35), "W")
    assert kinds(bays(narrow, open_sides=(OpenSide("W/c01", "right", 2.3, 0.05, 2.35, 0.23),))) == {
        PreparationKind.HAND_FILL: 1
    }


def test_a_bay_open_to_an_opening_says_so():
    (item,) = found(bays(open_sides=(OpenSide("W/c01", "opening", 1.2, 2.1, 2.1, 0.12),)))
    assert "to an opening" in item.reason


# ---------------------------------------------------------------- eaves


def test_walls_of_a_storey_named_in_the_job_file_get_a_baffle_over_each_bay():
    two = bays(cavity(1, BAY, "W"), cavity(2, box(0.5, 0.05, 0.9, 2.35), "W"))
    items = found(two, meets('eave_storeys = "Ground*"'))
    assert [(item.kind, item.cavity_id) for item in items] == [
        (PreparationKind.EAVE_BAFFLE, "W/c01"),
        (PreparationKind.EAVE_BAFFLE, "W/c02"),
    ]
    assert [item.length for item in items] == pytest.approx([0.4, 0.4])


def test_walls_of_a_type_named_in_the_job_file_get_baffles_too():
    assert kinds(bays(), meets('eave_wall_types = ["w1 *"]')) == {PreparationKind.EAVE_BAFFLE: 1}
    assert kinds(bays(), meets('eave_wall_types = ["W2*"]')) == {}


def test_inside_walls_and_unvented_eaves_get_no_baffles():
    inside = bays()
    inside = replace(inside, wall=replace(inside.wall, external=False))
    assert kinds(inside, meets('eave_storeys = "*"')) == {}
    assert kinds(bays(), meets('vented_eaves = false\neave_storeys = "*"')) == {}


def test_a_bay_under_a_sill_gets_no_baffle():
    low = cavity(1, box(0.05, 0.05, 0.45, 0.9), "W")
    assert kinds(bays(low), meets('eave_storeys = "*"')) == {}


def test_a_wall_that_is_not_filled_needs_nothing():
    cold = bays(open_sides=(OpenSide("W/c01", "right", 2.3, 0.05, 2.35, 0.23),))
    cold = replace(cold, wall=replace(cold.wall, insulated=False))
    assert found(cold, meets('eave_storeys = "*"', {("Ground floor", "Kitchen"): 2.0})) == []


# ---------------------------------------------------------------- boxes, ceilings


def framed(*members) -> dict[str, object]:
    return {"frame": replace(layer_takeoff("W").frame, members=members)}


def test_a_box_at_the_fill_face_is_masked_and_a_pipe_in_the_depth_is_not():
    socket = replace(
        member(1, MemberRole.OBSTRUCTION, box(0.1, 0.4, 0.2, 0.5), "W", Source.MODELLED), element_name="Socket"
    )
    pipe = mesh_member("W")
    with_both = cavity(1, BAY, "W", obstructions=(socket.member_id, pipe.member_id))
    (item,) = found(bays(with_both, **framed(socket, pipe)))
    assert item.kind is PreparationKind.BOX
    assert "Socket" in item.reason
    assert is_box(socket)
    assert not is_box(pipe)


def test_a_duct_up_the_whole_bay_is_no_box():
    assert not is_box(member(1, MemberRole.OBSTRUCTION, box(0.1, 0.0, 0.2, 2.4), "W"))


@pytest.mark.parametrize(("top", "told"), [(2.35, False), (2.21, False), (2.19, True), (2.0, True), (0.0, False)])
def test_a_room_lower_than_a_bay_is_told_from_the_drop_of_the_job_file_on(top, told):
    items = found(bays(), meets('ceiling_drop = "150 mm"', {("Ground floor", "Kitchen"): top}))
    assert [item.kind for item in items] == [PreparationKind.CEILING] * told
    if told:
        assert f"{2.35 - top:.3f} m below" in items[0].reason


def test_a_bay_below_the_ceiling_is_not_told():
    low = cavity(1, box(0.05, 0.05, 0.45, 0.9), "W")
    assert found(bays(low), meets("", {("Ground floor", "Kitchen"): 2.0})) == []


def test_the_height_of_a_room_is_its_highest_point_and_its_name_that_of_the_results():
    low, high = extruded(box(0, 0, 1, 2.0), 0.0, 1.0), extruded(box(0, 0, 1, 2.5), 1.0, 2.0)
    model = replace(_model(), spaces=(ModelSpace("S", "1", "Kitchen", "Ground floor", (low, high)),))
    tops = meets_of(model, Preparations()).room_tops
    assert tops == {("Ground floor", "1 Kitchen"): pytest.approx(2.5)}


def _model():
    return Model("m", "IFC4", "METRE", 1.0, (0.0, 1.0), "", (), (), (), (), (), ())


# ---------------------------------------------------------------- whole models


def test_the_house_has_baffles_over_every_bay_under_its_eaves_and_under_no_gable():
    result = takeoff.take_off(HOUSE)
    names = {wall.wall.wall_id: wall.wall.name for wall in result.results}
    baffled = {item.layer_key for item in result.preparations if item.kind is PreparationKind.EAVE_BAFFLE}
    assert {names[key] for key in baffled} == {"South 1", "North 1"}
    assert all(item.storey == "Upper floor" for item in result.preparations if item.layer_key in baffled)


def test_all_that_the_plan_fills_by_hand_is_prepared_once_and_the_load_counts_the_pieces():
    result = takeoff.take_off(HOUSE)
    by_plan = (PreparationKind.HAND_FILL, PreparationKind.SEAL, PreparationKind.BEFORE_SHEATHING)
    prepared = Counter(item.cavity_id for item in result.preparations if item.kind in by_plan)
    assert prepared == Counter(part.cavity_id for part in result.fill.hand_fills)
    load = truck_load(result.fill, result.results, default_job(), preparations=result.preparations)
    baffles = [item for item in result.preparations if item.kind is PreparationKind.EAVE_BAFFLE]
    assert load.baffles.number == len(baffles) > 0
    assert load.baffles.length == pytest.approx(sum(item.length for item in baffles))
    assert load.blockers.number == 0


def test_preparations_stand_in_the_order_of_the_cavities():
    result = takeoff_of()
    order = [cavity.cavity_id for wall in result.results for layer in wall.layers for cavity in layer.cavities]
    places = [order.index(item.cavity_id) for item in result.preparations]
    assert places == sorted(places)
    assert np.isfinite([item.length for item in result.preparations]).all()


def test_parts_of_a_takeoff_share_its_preparations_out():
    result = takeoff_of()
    parts = result.parts(1)
    assert [item for part in parts for item in part.preparations] == list(result.preparations)


def test_a_bay_with_no_front_is_still_prepared():
    hidden = cavity(1, BAY, "W", front=Polygon())
    assert kinds(bays(hidden)) == {PreparationKind.BEFORE_SHEATHING: 1}


def test_a_wall_whose_surroundings_cannot_be_judged_keeps_what_the_plan_asks_for_and_says_so(monkeypatch):
    def failing(*_):
        raise ValueError("a roof without faces")

    monkeypatch.setattr(preparations, "eaves_of", failing)
    narrow = bays(cavity(1, box(0.05, 0.05, 0.12, 2.35), "W"))
    items, (finding,) = prepared([narrow], plan_fill([narrow]), NOTHING)
    assert [item.kind for item in items] == [PreparationKind.HAND_FILL]
    assert (finding.code, finding.wall_id) == ("preparations-not-found", "W")
    assert "a roof without faces" in finding.message
