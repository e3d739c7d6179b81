"""A model read among several processes gives the records and findings of one."""

from __future__ import annotations

import numpy as np
import pytest

from takeoff.building import Model
from takeoff.reading import read_model
from takeoff.shares import LEAST_SHARED
from tests.ifc_builder import Builder

COUNT = LEAST_SHARED + 6


def many(tmp_path, broken: int | None = None, twice: bool = False):
    """Walls side by side, one of them without a body, or two of them with one GlobalId."""
    model = Builder()
    walls = [model.wall(f"W{number}", at=(number * 5.0, 0.0, 0.0)) for number in range(COUNT)]
    model.opening(walls[3], x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    if broken is not None:
        walls[broken].Representation = None
        walls[broken + 1].ObjectPlacement = None
    if twice:
        walls[-1].GlobalId = walls[2].GlobalId
    return model.save(tmp_path / "many.ifc")


def assert_same(one: Model, other: Model) -> None:
    assert one.findings == other.findings
    for wall, again in zip(one.walls, other.walls, strict=True):
        assert (wall.global_id, wall.name, wall.problem) == (again.global_id, again.name, again.problem)
        assert [each.global_id for each in wall.openings] == [each.global_id for each in again.openings]
        assert np.array_equal(wall.placement, again.placement)
        for mesh, copy in zip(wall.body, again.body, strict=True):
            assert np.array_equal(mesh.vertices, copy.vertices)
            assert np.array_equal(mesh.faces, copy.faces)


@pytest.mark.parametrize("broken", [None, 0, 12])
def test_records_and_findings_are_those_of_one_process(tmp_path, broken) -> None:
    path = many(tmp_path, broken)
    one = read_model(path)
    assert len(one.walls) == COUNT
    assert_same(one, read_model(path, processes=3))


def test_a_global_id_given_twice_goes_to_the_same_wall(tmp_path) -> None:
    path = many(tmp_path, twice=True)
    one = read_model(path)
    assert len({wall.global_id for wall in one.walls}) == COUNT
    assert_same(one, read_model(path, processes=3))


def test_progress_is_told_in_order(tmp_path) -> None:
    told: list[int] = []
    read_model(many(tmp_path), processes=3, progress=lambda _, done, __: told.append(done))
    assert told == sorted(told)
    assert told[-1] == COUNT
