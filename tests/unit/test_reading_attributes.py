"""Attributes asked for by their place are those that the library gives by name."""

from __future__ import annotations

from typing import Any

import ifcopenshell
import pytest

from takeoff.reading.attributes import attribute, linked, value_of
from tests.ifc_builder import Builder


def model_with_many_classes(schema: str) -> Builder:
    model = Builder(schema)
    wall = model.wall("W")
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    model.layer_usage([wall], model.layer_set([("Board", 0.0125), ("Stud", 0.14)]))
    model.space("Room", size=(3.0, 3.0, 2.4), bounds=[wall])
    return model


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3"])
def test_every_stored_attribute_and_inverse_is_what_the_library_gives_by_name(schema: str) -> None:
    model = model_with_many_classes(schema)
    asked = 0
    for entity in list(model.file):
        schema_name, class_name = entity.is_a(True).split(".")
        declaration: Any = ifcopenshell.schema_by_name(schema_name).declaration_by_name(class_name).as_entity()
        stored = zip(declaration.all_attributes(), declaration.derived(), strict=True)
        names = [item.name() for item, derived in stored if not derived]
        names += [item.name() for item in declaration.all_inverse_attributes()]
        for name in names:
            asked += 1
            assert attribute(entity, name) == getattr(entity, name)
            assert value_of(entity, name) == getattr(entity, name)
    assert asked > 300


def test_a_missing_attribute_gives_the_default_or_raises() -> None:
    wall: Any = Builder().wall("W")
    assert attribute(wall, "NoSuchName") is None
    assert attribute(wall, "NoSuchName", "x") == "x"
    assert attribute("no entity", "Name", "x") == "x"
    with pytest.raises(AttributeError):
        value_of(wall, "NoSuchName")
    with pytest.raises(AttributeError):
        value_of("no entity", "Name")


def test_what_the_schema_derives_is_computed() -> None:
    model = Builder()
    unit: Any = model.file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    # A metre has the dimension of a length alone (ISO 10303-41, dimensional_exponents).
    assert list(attribute(unit, "Dimensions"))[:2] == [1, 0]


def test_linked_entities_are_of_the_class_and_whatever_else_is_passed_over() -> None:
    model = model_with_many_classes("IFC4")
    wall: Any = model.file.by_type("IfcWall")[0]
    assert linked(wall, "HasOpenings", "IfcRelVoidsElement") == wall.HasOpenings
    assert linked(wall, "HasOpenings", "IfcRelFillsElement") == ()
    assert linked(wall, "Name", "IfcWall") == ()
    assert linked(wall, "Description", "IfcWall") == ()
    assert linked(wall, "ObjectPlacement", "IfcLocalPlacement") == (wall.ObjectPlacement,)
