"""What the check against the plans needs of a model file beside what the takeoff does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from takeoff.job import default_job
from takeoff.pipeline import take_off_model
from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.mark.parametrize(("schema", "unit"), [("IFC4", "MILLIMETRE"), ("IFC2X3", "INCH"), ("IFC4X3", "METRE")])
def test_the_stated_size_of_a_window_comes_in_metres(tmp_path: Path, schema: str, unit: str) -> None:
    model = Builder(schema, unit)
    wall = model.wall()
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    window = model.file.by_type("IfcWindow")[0]
    window.OverallWidth, window.OverallHeight = 0.95 / model.scale, 1.15 / model.scale
    (read,) = read_model(model.save(tmp_path / "wall.ifc")).walls
    assert read.openings[0].filling_size == pytest.approx((0.95, 1.15))


def test_no_size_is_taken_where_it_is_not_stated_or_two_fill_the_opening(tmp_path: Path) -> None:
    model = Builder()
    wall = model.wall()
    opening = model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    empty = model.opening(wall, x=2.5, z=0.9, width=0.5, height=0.5)
    sizes = {each.global_id: each.filling_size for each in read_model(model.save(tmp_path / "a.ifc")).walls[0].openings}
    assert sizes == {opening.GlobalId: None, empty.GlobalId: None}
    window = model.file.by_type("IfcWindow")[0]
    window.OverallWidth, window.OverallHeight = 950.0, 1150.0
    door = model.element("IfcDoor", name="Door beside it")
    model.root("IfcRelFillsElement", RelatingOpeningElement=opening, RelatedBuildingElement=door)
    (read,) = read_model(model.save(tmp_path / "b.ifc")).walls
    assert read.openings[0].filling_size is None


def test_curtain_walls_are_read_where_there_are_rooms(tmp_path: Path) -> None:
    model = Builder()
    model.wall()
    curtain = model.element("IfcCurtainWall", name="Front", at=(0.0, 5.0, 0.0))
    model.element("IfcPlate", [model.box((2.0, 0.03, 2.4))], name="Pane", whole=curtain)
    model.element("IfcCurtainWall", [model.box((1.0, 0.1, 2.4))], name="Whole", at=(0.0, 8.0, 0.0))
    model.element("IfcCurtainWall", name="Nothing")
    assert read_model(model.save(tmp_path / "no_rooms.ifc")).curtain_walls == ()
    model.space("Room", size=(3.0, 3.0, 2.4))
    found = read_model(model.save(tmp_path / "rooms.ifc")).curtain_walls
    boxes = sorted((points.min(axis=0).tolist(), points.max(axis=0).tolist()) for points in found)
    true = [([0.0, 5.0, 0.0], [2.0, 5.03, 2.4]), ([0.0, 8.0, 0.0], [1.0, 8.1, 2.4])]
    assert len(boxes) == 2
    for (low, high), (true_low, true_high) in zip(boxes, true, strict=True):
        # Rough boxes hold the body and are up to a tenth of its greatest size larger.
        assert (np.array(low) <= true_low).all()
        assert (np.array(high) >= true_high).all()
        assert np.abs(np.array([low, high]) - [true_low, true_high]).max() <= 0.25


def test_a_layer_that_the_model_calls_ventilated_stays_so(tmp_path: Path) -> None:
    model = Builder()
    wall = model.wall(thickness=0.2)
    layers = model.layer_set([("Gypsum board", 0.0125), ("Timber stud", 0.14), ("Air gap", 0.0225), ("Siding", 0.025)])
    layers.MaterialLayers[2].IsVentilated = True
    model.layer_usage([wall], layers)
    read = read_model(model.save(tmp_path / "wall.ifc"))
    (result,) = take_off_model(read, default_job()).results
    (stud,) = result.wall.stud_layers
    assert [layer.material for layer in stud.layers if layer.ventilated] == ["Air gap"]
