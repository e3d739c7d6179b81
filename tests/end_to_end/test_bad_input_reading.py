"""Model files that are broken, cut short, foreign or hostile: one clear line, or one wall left out."""

from __future__ import annotations

import zipfile

import pytest

from takeoff.errors import ReadingError
from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.fixture(name="good")
def _good(tmp_path):
    model = Builder()
    wall = model.wall("North", layers=[("Gypsum", 0.0125), ("Pine", 0.1875)])
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2)
    model.wall("South", at=(0.0, 5.0, 0.0))
    return model.save(tmp_path / "good.ifc").read_text()


def refused(tmp_path, text, name="bad.ifc"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(ReadingError) as caught:
        read_model(path)
    line = str(caught.value)
    assert line.startswith(str(path))
    assert "\n" not in line
    assert line.endswith(".")
    return line


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(ReadingError, match="no such file"):
        read_model(tmp_path / "none.ifc")
    with pytest.raises(ReadingError, match="a folder"):
        read_model(tmp_path)


def test_an_empty_file_is_refused(tmp_path):
    assert "empty" in refused(tmp_path, "")


@pytest.mark.parametrize("content", ["hello\n" * 100, "\0" * 1000, "%PDF-1.7 " * 50, "{}", "<html>"])
def test_what_is_not_ifc_is_refused(tmp_path, content):
    assert "not an IFC file" in refused(tmp_path, content)


def test_xml_is_refused_by_name(tmp_path):
    assert "XML" in refused(tmp_path, '<?xml version="1.0"?><ifcXML/>')


@pytest.mark.parametrize("part", [0.2, 0.5, 0.9, 0.99])
def test_a_file_cut_short_is_refused(tmp_path, good, part):
    assert "cut short" in refused(tmp_path, good[: int(len(good) * part)])


def test_a_file_broken_in_the_middle_is_refused_with_the_line(tmp_path, good):
    lines = good.splitlines()
    place = next(number for number, line in enumerate(lines) if "IFCWALL(" in line)
    number = lines[place].split("=")[0]
    lines[place] = f"{number}= IFCWALL('broken;"
    line = refused(tmp_path, "\n".join(lines))
    assert f"line {number}" in line


@pytest.mark.parametrize("schema", ["IFC2X_FINAL", "IFC2X2_FINAL", "IFC9", "AUTOMOTIVE_DESIGN"])
def test_an_unknown_schema_is_refused_by_name(tmp_path, good, schema):
    assert schema in refused(tmp_path, good.replace("'IFC4'", f"'{schema}'", 1))


def test_a_header_without_a_schema_is_refused(tmp_path, good):
    assert "schema" in refused(tmp_path, good.replace("FILE_SCHEMA", "FILE_SOMETHING", 1))


def test_a_model_without_walls_is_refused(tmp_path):
    model = Builder()
    model.member(None, size=(0.1, 0.1, 2.0))
    assert "no walls" in refused(tmp_path, model.save(tmp_path / "x.ifc").read_bytes())


def test_a_model_without_units_is_refused(tmp_path):
    model = Builder(with_units=False)
    model.wall()
    assert "no length unit" in refused(tmp_path, model.save(tmp_path / "x.ifc").read_bytes())


def test_a_model_without_a_project_is_refused(tmp_path, good):
    kept = [line for line in good.splitlines() if "IFCPROJECT(" not in line]
    assert "no IfcProject" in refused(tmp_path, "\n".join(kept))


@pytest.mark.parametrize("unit", ["KILOMETRE", "HECTOMETRE"])
def test_walls_of_a_senseless_size_tell_of_a_wrong_unit(tmp_path, unit):
    model = Builder("IFC4", unit)
    model.wall()
    assert "unit" in refused(tmp_path, model.save(tmp_path / "x.ifc").read_bytes())


@pytest.mark.parametrize("content", [b"PK\x03\x04" + b"\0" * 200, b"PK\x05\x06" + b"\0" * 18])
def test_a_damaged_zip_is_refused(tmp_path, content):
    refused(tmp_path, content, "bad.ifczip")


def test_a_zip_cut_short_is_refused(tmp_path, good):
    path = tmp_path / "m.ifczip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("m.ifc", good)
    refused(tmp_path, path.read_bytes()[:-40], "bad.ifczip")


def test_a_zip_whose_content_was_changed_is_refused(tmp_path, good):
    path = tmp_path / "m.ifczip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr("m.ifc", good)
    content = bytearray(path.read_bytes())
    content[500:520] = b"X" * 20
    assert "damaged" in refused(tmp_path, bytes(content), "bad.ifczip")


def test_references_to_nothing_spoil_only_the_wall_that_has_them(tmp_path, good):
    lines = good.splitlines()
    place = next(number for number, line in enumerate(lines) if "'North'" in line)
    fields = lines[place].split(",")
    fields[6] = "#999999"
    lines[place] = ",".join(fields)
    path = tmp_path / "dangling.ifc"
    path.write_text("\n".join(lines))
    model = read_model(path)
    assert [bool(wall.problem) for wall in model.walls] == [True, False]
    assert "file-has-faults" in [finding.code for finding in model.findings]


def test_classes_that_the_schema_does_not_have_are_passed_over_with_a_finding(tmp_path, good):
    path = tmp_path / "foreign.ifc"
    path.write_text(good.replace("IFCOPENINGELEMENT(", "IFCHOLE("))
    model = read_model(path)
    assert len(model.walls) == 2
    assert "file-has-faults" in [finding.code for finding in model.findings]


def test_attributes_of_the_wrong_kind_spoil_no_more_than_they_must(tmp_path, good):
    for attribute, wrong in (("IFCMATERIALLAYER(", "IFCMATERIALLAYER('x',"), ("IFCMATERIAL(", "IFCMATERIAL(12.5,")):
        path = tmp_path / "wrong.ifc"
        path.write_text(good.replace(attribute, wrong))
        model = read_model(path)
        assert [wall.problem for wall in model.walls] == ["", ""]
        assert all(wall.body for wall in model.walls)


def test_one_bad_wall_never_stops_the_others(tmp_path):
    model = Builder()
    walls = [model.wall(f"wall {number}", at=(0.0, 3.0 * number, 0.0)) for number in range(6)]
    walls[0].Representation = None
    walls[1].ObjectPlacement.PlacementRelTo = walls[1].ObjectPlacement
    walls[2].Representation.Representations[0].Items = [model.file.create_entity("IfcFacetedBrep")]
    walls[3].Representation.Representations[0].Items[0].Depth = 0.0
    walls[4].Representation.Representations[0].Items[0].SweptArea = None
    read = read_model(model.save(tmp_path / "walls.ifc"))
    assert [bool(wall.problem) for wall in read.walls] == [True, True, True, True, True, False]
    assert all(";" in wall.problem for wall in read.walls[:5])


def test_repeated_and_missing_global_ids_are_told_apart(tmp_path):
    model = Builder()
    a, b, c = (model.wall(name, at=(0.0, 3.0 * place, 0.0)) for place, name in enumerate("abc"))
    b.GlobalId = a.GlobalId
    path = model.save(tmp_path / "x.ifc")
    path.write_text(path.read_text().replace(f"'{c.GlobalId}'", "$"))
    read = read_model(path)
    assert read.walls[0].global_id == a.GlobalId
    assert len({wall.global_id for wall in read.walls}) == 3
    assert [finding.code for finding in read.findings if "parser" not in finding.message].count(
        "global-id-repeated"
    ) == 2
