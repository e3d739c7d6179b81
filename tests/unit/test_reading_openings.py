"""Openings of walls and of their parts, recesses, borings, doors without an opening."""

from __future__ import annotations

import numpy as np
import pytest

from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.fixture(name="read")
def _read(tmp_path):
    return lambda model: read_model(model.save(tmp_path / "model.ifc"))


def test_an_opening_says_its_place_and_what_fills_it(read):
    model = Builder("IFC4", "INCH")
    wall = model.wall(at=(1.0, 0.0, 0.0))
    made = model.opening(wall, x=0.5, z=0.9, width=1.0, height=1.2, y=0.0, depth=0.2, filling="IfcWindow")
    (found,) = read(model).walls[0].openings
    assert found.global_id == made.GlobalId
    assert (found.filling_class, found.filling_name) == ("IfcWindow", "IfcWindow in it")
    assert found.solids[0].vertices.min(axis=0) == pytest.approx([1.5, 0.0, 0.9])
    assert np.ptp(found.solids[0].vertices, axis=0) == pytest.approx([1.0, 0.2, 1.2])
    assert (found.recess, found.problem) == (False, "")


def test_the_body_of_a_wall_does_not_have_its_openings_cut(read):
    model = Builder()
    wall = model.wall()
    model.opening(wall, x=1.0, z=0.0, width=1.0, height=2.0)
    assert len(read(model).walls[0].body[0].vertices) == 8


def test_a_door_goes_before_anything_else_that_fills_an_opening(read):
    model = Builder()
    wall = model.wall()
    opening = model.opening(wall, x=1.0, z=0.0, width=1.0, height=2.0, filling="IfcBuildingElementProxy")
    door = model.element("IfcDoor", name="door")
    model.root("IfcRelFillsElement", RelatingOpeningElement=opening, RelatedBuildingElement=door)
    assert read(model).walls[0].openings[0].filling_id == door.GlobalId


@pytest.mark.parametrize(
    ("schema", "attributes"), [("IFC4", {"PredefinedType": "RECESS"}), ("IFC2X3", {"ObjectType": "Recess"})]
)
def test_a_recess_is_called_one(read, schema, attributes):
    model = Builder(schema)
    model.opening(model.wall(), x=1.0, z=0.0, width=1.0, height=2.0, depth=0.1, **attributes)
    assert read(model).walls[0].openings[0].recess


def test_openings_of_the_parts_are_openings_of_the_wall_and_borings_are_not(read):
    model = Builder()
    wall = model.wall(body=False)
    plate, stud, *_ = model.frame(wall)
    door = model.opening(plate, x=1.0, z=-0.1, width=0.9, height=0.3, filling="IfcDoor")
    model.opening(stud, x=-0.1, z=1.0, width=0.5, height=0.04, y=0.05, depth=0.04)
    found = read(model)
    assert [opening.global_id for opening in found.walls[0].openings] == [door.GlobalId]
    assert [finding.code for finding in found.findings] == ["borings-not-read"]


def test_an_opening_whose_shape_is_missing_or_invalid_says_so_and_stops_nothing(read):
    model = Builder()
    wall = model.wall()
    good = model.opening(wall, x=0.2, z=0.0, width=0.9, height=2.0)
    empty = model.opening(wall, x=1.2, z=0.0, width=0.9, height=2.0, items=[])
    flat = model.opening(wall, x=2.2, z=0.0, width=0.0, height=2.0)
    openings = {opening.global_id: opening for opening in read(model).walls[0].openings}
    assert openings[good.GlobalId].problem == ""
    assert openings[empty.GlobalId].problem
    assert openings[flat.GlobalId].problem
    assert openings[flat.GlobalId].solids == ()


def test_an_opening_kept_for_reference_only_is_read(read):
    model = Builder()
    opening = model.opening(model.wall(), x=1.0, z=0.0, width=1.0, height=2.0)
    opening.Representation.Representations[0].RepresentationIdentifier = "Reference"
    assert len(read(model).walls[0].openings[0].solids) == 1


def test_a_door_that_stands_in_a_wall_without_an_opening_is_loose(read):
    model = Builder()
    model.wall()
    frame = [model.box((0.9, 0.1, 2.0))]
    door = model.element("IfcDoor", frame, name="door", at=(1.0, 0.05, 0.0))
    model.element("IfcDoor", frame, name="elsewhere", at=(1.0, 5.0, 0.0))
    model.element("IfcWindow", frame, name="in glass", whole=model.element("IfcCurtainWall"), at=(1.0, 0.05, 0.0))
    (found,) = read(model).loose_openings
    assert (found.global_id, found.ifc_class, found.filling_class) == (door.GlobalId, "IfcDoor", "IfcDoor")
    assert len(found.solids) == 1


def test_a_door_aggregated_under_a_wall_is_an_opening_and_no_part(read):
    model = Builder()
    wall = model.wall()
    model.element("IfcDoor", [model.box((0.9, 0.1, 2.0))], whole=wall, at=(1.0, 0.05, 0.0))
    found = read(model)
    assert found.walls[0].parts == ()
    assert len(found.loose_openings) == 1
