"""What a model needs, as an IDS 1.0 file and as requests in plain words.

The file is held against the standard's own schema (ids.xsd of IDS 1.0, which the general-purpose library ifctester
brings), the requests against models in which one thing is missing.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ifctester import ids
from typer.testing import CliRunner

from reports.cli import application
from reports.ids_check import Request, requests_of
from reports.ids_out import ids_bytes, made_ids, write_ids
from reports.ids_wishes import IFC2X3, IFC4, IFC4X3, WISHES
from reports.survey import request_blocks
from takeoff.reading import read_model
from tests.ifc_builder import Builder

LAYERS = [("Gypsum board", 0.0125), ("Timber studs", 0.14)]
SCHEMAS = ["IFC2X3", "IFC4", "IFC4X3"]


def good_model(schema: str = "IFC4", walls: int = 5) -> Builder:
    """A model that has all that is asked for."""
    model = Builder(schema)
    made = [model.wall(f"Wall {number}", layers=LAYERS, at=(0.0, 6.0 * number, 0.0)) for number in range(walls)]
    for wall in made:
        model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    typed = {} if schema == "IFC2X3" else {"PredefinedType": "SOLIDWALL"}
    model.type_for(made, "IfcWallType", "W1", **(typed or {"PredefinedType": "STANDARD"}))
    model.opening(made[0], x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    model.member(made[1], size=(0.038, 0.14, 2.4), at=(0.0, 0.0, 0.0))
    room = model.root("IfcSpace", "101", ObjectPlacement=model.local_placement())
    model.aggregate(model.level, [room])
    return model


def requests(model: Builder, folder: Path) -> dict[str, Request]:
    path = model.save(folder / "model.ifc")
    return {request.key: request for request in requests_of(path, read_model(path))}


def remove(model: Builder, ifc_class: str, keep: Callable[[Any], bool] = lambda _: False) -> None:
    for entity in [one for one in model.file.by_type(ifc_class) if not keep(one)]:
        model.file.remove(entity)


def unfill(model: Builder) -> None:
    remove(model, "IfcRelFillsElement")


def untype(model: Builder) -> None:
    remove(model, "IfcRelDefinesByType")
    for layer_set in model.file.by_type("IfcMaterialLayerSet"):
        layer_set.LayerSetName = None


def bare_member(model: Builder) -> None:
    model.file.by_type("IfcMember")[0].Representation = None


def nameless_room(model: Builder) -> None:
    model.file.by_type("IfcSpace")[0].Name = None


def number_for_u_value(model: Builder) -> None:
    value = model.file.create_entity(
        "IfcPropertySingleValue", Name="ThermalTransmittance", NominalValue=model.value("IfcReal", 0.2)
    )
    properties = model.file.by_type("IfcPropertySet")[0]
    properties.HasProperties = [*properties.HasProperties, value]


def unset_external(model: Builder) -> None:
    for relation in model.file.by_type("IfcRelDefinesByProperties"):
        if relation.RelatedObjects[0].Name in ("Wall 2", "Wall 3"):
            model.file.remove(relation)


DEFECTS: dict[str, tuple[Callable[[Builder], None], int, int]] = {
    "walls_in_storeys": (lambda model: remove(model, "IfcRelContainedInSpatialStructure"), 5, 5),
    "walls_external": (unset_external, 2, 5),
    "walls_of_layers": (lambda model: remove(model, "IfcRelAssociatesMaterial"), 4, 5),
    "walls_typed": (untype, 5, 5),
    "openings_by_element": (unfill, 1, 1),
    "members_have_bodies": (bare_member, 1, 1),
    "rooms": (lambda model: remove(model, "IfcSpace"), 0, 0),
}
"""What is broken, how many elements lack it, of how many. One wall has a member, so it is not asked for layers."""


@pytest.mark.parametrize("schema", SCHEMAS)
def test_a_model_that_has_it_all_is_asked_nothing(schema: str, tmp_path: Path) -> None:
    assert requests(good_model(schema), tmp_path) == {}
    assert not list(request_blocks(()).renderables)


@pytest.mark.parametrize("key", DEFECTS)
@pytest.mark.parametrize("schema", SCHEMAS)
def test_what_is_missing_is_asked_for_with_its_count(schema: str, key: str, tmp_path: Path) -> None:
    model = good_model(schema)
    defect, count, total = DEFECTS[key]
    defect(model)
    found = requests(model, tmp_path)
    assert key in found, found
    assert (found[key].count, found[key].total) == (count, total)
    assert found.keys() <= {key, "walls_in_storeys"}


def test_a_request_names_some_elements_and_says_how_many_there_are(tmp_path: Path) -> None:
    model = good_model(walls=5)
    unset_external(model)
    text = requests(model, tmp_path)["walls_external"].text
    assert text.startswith("Walls that do not say whether they are outside walls: 2 of 5 (Wall 2, Wall 3). Have ")
    remove(model, "IfcRelDefinesByProperties")
    text = requests(model, tmp_path)["walls_external"].text
    assert ": all 5, such as Wall 0, Wall 1, Wall 2. Have " in text


def test_a_room_without_a_name_and_a_u_value_of_the_wrong_kind_are_told(tmp_path: Path) -> None:
    model = good_model()
    nameless_room(model)
    number_for_u_value(model)
    found = requests(model, tmp_path)
    assert found["rooms"].count == 1
    assert found["walls_u_value"].count == 1


def test_a_door_of_a_curtain_wall_and_a_pattern_without_a_place_are_no_flaw(tmp_path: Path) -> None:
    model = good_model()
    curtain = model.element("IfcCurtainWall", name="Front")
    model.element("IfcDoor", [model.box((0.9, 0.05, 2.1))], whole=curtain)
    model.root("IfcMember", "Stud of a type")
    assert requests(model, tmp_path) == {}


def test_the_shipped_file_is_valid_and_says_what_the_wishes_say(tmp_path: Path) -> None:
    assert ids_bytes() == made_ids(), "run python -m tests.shipped_ids"
    write_ids(tmp_path / "needs.ids")
    read = ids.open(str(tmp_path / "needs.ids"), validate=True)
    assert ids_bytes() == (tmp_path / "needs.ids").read_bytes()
    assert {name for specification in read.specifications for name in specification.ifcVersion} == {
        IFC2X3,
        IFC4,
        IFC4X3,
    }
    assert {specification.name for specification in read.specifications} == {wish.title for wish in WISHES}


@pytest.mark.parametrize("schema", SCHEMAS)
def test_the_file_itself_finds_what_the_survey_finds(schema: str, tmp_path: Path) -> None:
    write_ids(tmp_path / "needs.ids")
    good, bad = good_model(schema), good_model(schema)
    unset_external(bad)
    for model, failing in ((good, set()), (bad, {"Every wall says whether it is an outside wall"})):
        read = ids.open(str(tmp_path / "needs.ids"))
        read.validate(model.file, should_filter_version=True)
        assert {one.name for one in read.specifications if one.status is False} == failing


def test_the_survey_asks_only_where_something_is_missing_and_writes_the_file(tmp_path: Path) -> None:
    good, bad = good_model(), good_model()
    unset_external(bad)
    for name, model in (("good", good), ("bad", bad)):
        model.save(tmp_path / f"{name}.ifc")
    runner = CliRunner()
    plain = runner.invoke(application(), ["survey", str(tmp_path / "good.ifc")])
    asking = runner.invoke(application(), ["survey", str(tmp_path / "bad.ifc"), "--ids", str(tmp_path / "needs.ids")])
    assert (plain.exit_code, asking.exit_code) == (0, 0)
    assert "To ask the architect for" not in plain.stdout
    assert "To ask the architect for" in asking.stdout
    assert "outside walls: 2 of 5" in " ".join(asking.stdout.split())
    assert (tmp_path / "needs.ids").read_bytes() == ids_bytes()
