"""The fill plan in the results: methods, findings, failures, order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from takeoff import fill_results
from takeoff.fill import plan_fill
from takeoff.fill_results import plan_of, planned, plans_by_walls
from takeoff.hose import SHORT_HOSE
from takeoff.model import CavityKind, Method, Status
from tests.records_builder import double_wall, failed_wall, house, plain_wall, takeoff_of


def test_cavities_take_method_and_reason_from_the_plan():
    wall = plain_wall()
    (layer,) = wall.layers
    doubted = tuple(replace(cavity, method=Method.BLOW, reason="not planned yet") for cavity in layer.cavities)
    wall = replace(wall, layers=(replace(layer, cavities=doubted),))
    done = planned(wall, SHORT_HOSE)
    fills = {fill.cavity_id: fill for plan in done.plans for fill in plan.cavities}
    for cavity in done.result.layers[0].cavities:
        assert (cavity.method, cavity.reason) == (fills[cavity.cavity_id].method, fills[cavity.cavity_id].reason)
        if cavity.kind is not CavityKind.SLIVER:  # why a gap is a sliver is known before
            assert cavity.reason != "not planned yet"


def test_a_wall_whose_plan_fails_is_reported_and_keeps_no_numbers(monkeypatch):
    def failing(*_):
        raise ValueError("a ring crosses itself")

    monkeypatch.setattr(fill_results, "plan_layer", failing)
    done = planned(plain_wall(), SHORT_HOSE)
    assert done.result.status is Status.FAILED
    assert done.result.layers == ()
    assert "its holes could not be placed (a ring crosses itself)" in done.result.reason
    assert [finding.code for finding in done.result.findings] == ["wall-failed"]
    assert done.plans == ()


def test_a_mistake_of_our_own_is_not_taken_for_a_flaw_of_the_wall(monkeypatch):
    def failing(*_):
        raise TypeError("our own")

    monkeypatch.setattr(fill_results, "plan_layer", failing)
    with pytest.raises(TypeError, match="our own"):
        planned(plain_wall(), SHORT_HOSE)


def test_walls_without_layers_pass_through():
    done = planned(failed_wall(), SHORT_HOSE)
    assert done.result.status is Status.FAILED
    assert plan_of([done], SHORT_HOSE).cavities == ()


def test_the_plan_of_a_takeoff_follows_its_walls():
    takeoff = takeoff_of()
    order = [cavity.cavity_id for wall in takeoff.results for layer in wall.layers for cavity in layer.cavities]
    assert [fill.cavity_id for fill in takeoff.fill.cavities] == order
    assert set(takeoff.fill.findings) <= set(takeoff.findings)


def test_parts_of_a_plan_add_up_to_it():
    walls = house()
    plan = plan_fill(walls)
    parts = plans_by_walls(plan, [walls[:2], walls[2:]])
    assert [cavity for part in parts for cavity in part.cavities] == list(plan.cavities)
    assert [hole for part in parts for hole in part.holes] == list(plan.holes)
    assert {fill.wall_id for fill in parts[1].cavities} == {double_wall().wall.wall_id, "WALL-M"}
