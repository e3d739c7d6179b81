"""Roofs of a model: what is one, and that the parts of one count."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from takeoff.building import ModelRoof
from takeoff.reading import read_model
from tests.ifc_builder import Builder


def roofs(model: Builder, folder: Path) -> tuple[ModelRoof, ...]:
    model.wall()
    return read_model(model.save(folder / "model.ifc")).roofs


def test_a_slab_that_is_a_roof_is_one_and_a_floor_is_none(tmp_path):
    model = Builder()
    model.element("IfcSlab", [model.box((4.0, 3.0, 0.2))], name="Roof", PredefinedType="ROOF")
    model.element("IfcSlab", [model.box((4.0, 3.0, 0.2))], name="Floor", PredefinedType="FLOOR")
    (roof,) = roofs(model, tmp_path)
    assert (roof.name, roof.ifc_class) == ("Roof", "IfcSlab")
    assert np.ptp(roof.solids[0].vertices, axis=0) == pytest.approx([4.0, 3.0, 0.2])


def test_slabs_of_a_roof_count_once_and_its_rafters_do_not(tmp_path):
    model = Builder()
    whole = model.element("IfcRoof", name="Roof")
    slab = model.box((4.0, 3.0, 0.2))
    model.element("IfcSlab", [slab], name="South", whole=whole, PredefinedType="ROOF")
    model.element("IfcMember", [model.box((0.05, 3.0, 0.2))], name="Rafter", whole=whole)
    assert [roof.name for roof in roofs(model, tmp_path)] == ["South"]


def test_a_roof_with_a_body_of_its_own_is_read(tmp_path):
    model = Builder("IFC2X3")
    model.element("IfcRoof", [model.box((4.0, 3.0, 0.2))], name="Flat", ShapeType="FLAT_ROOF")
    assert [roof.name for roof in roofs(model, tmp_path)] == ["Flat"]


def test_a_model_without_a_roof_has_none(tmp_path):
    assert roofs(Builder(), tmp_path) == ()
