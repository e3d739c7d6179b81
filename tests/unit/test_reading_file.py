"""Opening model files and understanding their units."""

from __future__ import annotations

import pickle
import re
import zipfile

import ifcopenshell
import numpy as np
import pytest

from takeoff.errors import ReadingError, TakeoffError
from takeoff.reading import opening_file, read_model
from takeoff.reading.faults import ElementFault
from takeoff.reading.units_of_file import factor, read_units
from tests.ifc_builder import UNITS, Builder


def height_of(wall):
    return float(np.ptp(wall.body[0].vertices[:, 2]))


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3"])
@pytest.mark.parametrize("unit", UNITS)
def test_metres_come_out_of_any_schema_and_unit(tmp_path, schema, unit):
    model = Builder(schema, unit)
    wall = model.wall("North", layers=[("Gypsum", 0.0125), ("Pine", 0.1875)], at=(1.0, 2.0, 0.5), angle=30)
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    model.member(wall, size=(0.038, 0.14, 2.4))
    read = read_model(model.save(tmp_path / "wall.ifc"))
    (found,) = read.walls
    assert read.schema == schema
    assert read.length_unit_m == pytest.approx(UNITS[unit], rel=1e-12)
    assert height_of(found) == pytest.approx(2.5, abs=1e-9)
    assert found.placement[:3, 3] == pytest.approx([1.0, 2.0, 0.5], abs=1e-9)
    assert [layer.thickness for layer in found.layers.layers] == pytest.approx([0.0125, 0.1875])
    assert np.ptp(found.parts[0].solids[0].vertices, axis=0)[2] == pytest.approx(2.4, abs=1e-9)
    assert np.ptp(found.openings[0].solids[0].vertices, axis=0)[2] == pytest.approx(1.2, abs=1e-9)


def test_unit_is_named_as_the_file_names_it(tmp_path):
    for unit, name in (("MILLIMETRE", "MILLIMETRE"), ("INCH", "INCH")):
        model = Builder("IFC4", unit)
        model.wall()
        assert read_model(model.save(tmp_path / f"{unit}.ifc")).length_unit == name


def test_area_units_take_the_prefix_of_their_metre():
    file = ifcopenshell.file()
    assert factor(file.create_entity("IfcSIUnit", UnitType="AREAUNIT", Prefix="MILLI", Name="SQUARE_METRE")) == 1e-6
    assert factor(file.create_entity("IfcSIUnit", UnitType="VOLUMEUNIT", Prefix="DECI", Name="CUBIC_METRE")) == (
        pytest.approx(1e-3)
    )


def test_derived_units_multiply_out():
    file = ifcopenshell.file()
    kilo = file.create_entity("IfcSIUnit", UnitType="POWERUNIT", Prefix="KILO", Name="WATT")
    metre = file.create_entity("IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE")
    elements = [
        file.create_entity("IfcDerivedUnitElement", kilo, 1),
        file.create_entity("IfcDerivedUnitElement", metre, -1),
    ]
    derived = file.create_entity("IfcDerivedUnit", Elements=elements, UnitType="THERMALCONDUCTANCEUNIT")
    assert factor(derived) == pytest.approx(1e6)


def test_a_conversion_that_refers_to_itself_is_a_fault():
    model = Builder("IFC4", "INCH")
    unit = model.file.by_type("IfcConversionBasedUnit")[0]
    unit.ConversionFactor.UnitComponent = unit
    with pytest.raises(ElementFault):
        factor(unit)


def test_a_file_without_a_length_unit_is_refused():
    with pytest.raises(ReadingError, match="no length unit"):
        read_units(Builder(with_units=False).file, "x.ifc")


@pytest.mark.parametrize("unit", ["MEGAMETRE", "NANOMETRE"])
def test_a_length_unit_in_which_nobody_draws_is_refused(unit):
    with pytest.raises(ReadingError, match="implausible"):
        read_units(Builder("IFC4", unit).file, "x.ifc")


def test_an_error_survives_pickling_and_is_one_sentence():
    error = ReadingError("a.ifc", "it is broken", "export it again", "IfcWall 0 'N'")
    twin = pickle.loads(pickle.dumps(error))
    assert str(twin) == str(error) == "a.ifc: IfcWall 0 'N': it is broken; export it again."
    assert (twin.path, twin.element, twin.mend) == ("a.ifc", "IfcWall 0 'N'", "export it again")
    assert isinstance(twin, TakeoffError)
    assert isinstance(twin, ValueError)


@pytest.mark.parametrize(
    ("schema", "named"),
    [("IFC4X3", "IFC4X3"), ("IFC4X3", "IFC4X3_TC1"), ("IFC4X3", "IFC4X3_ADD1"), ("IFC4", "IFC4_ADD2"),
     ("IFC4", "ifc4_add1"), ("IFC2X3", "IFC2X3_TC1")],
)  # fmt: skip
def test_a_header_that_names_an_addendum_is_read(tmp_path, schema, named):
    # Addenda and corrigenda as buildingSMART's list of schemas names them.
    model = Builder(schema)
    model.wall()
    path = model.save(tmp_path / "m.ifc")
    path.write_text(re.sub(r"FILE_SCHEMA\(\('[^']*'", f"FILE_SCHEMA(('{named}'", path.read_text()))
    read = read_model(path)
    assert (read.schema, len(read.walls)) == (schema, 1)


@pytest.mark.parametrize("named", ["IFC4X1", "IFC4X2", "IFC4X3_RC4", "IFC2X2", "IFC9"])
def test_a_schema_that_cannot_be_read_is_named(tmp_path, named):
    model = Builder()
    model.wall()
    path = model.save(tmp_path / "m.ifc")
    path.write_text(path.read_text().replace("FILE_SCHEMA(('IFC4'", f"FILE_SCHEMA(('{named}'"))
    with pytest.raises(ReadingError, match=f"the schema '{named}' is not supported"):
        read_model(path)


def test_a_zipped_model_reads_like_the_plain_one(tmp_path):
    model = Builder()
    model.wall()
    plain = model.save(tmp_path / "m.ifc")
    packed = tmp_path / "m.ifczip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(plain, "folder/m.ifc")
        archive.writestr("texture.png", b"x")
    one, other = read_model(plain), read_model(packed)
    assert [wall.global_id for wall in one.walls] == [wall.global_id for wall in other.walls]
    assert np.array_equal(one.walls[0].body[0].vertices, other.walls[0].body[0].vertices)


def test_a_zip_never_writes_where_its_names_point(tmp_path):
    model = Builder()
    model.wall()
    plain = model.save(tmp_path / "m.ifc")
    packed = tmp_path / "inner" / "m.ifczip"
    packed.parent.mkdir()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.write(plain, "../../escaped.ifc")
    assert len(read_model(packed).walls) == 1
    assert not list(tmp_path.rglob("escaped.ifc"))


def test_a_zip_that_unpacks_beyond_the_bound_is_refused(tmp_path):
    packed = tmp_path / "bomb.ifczip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("m.ifc", b" " * 3_000_000)
    with pytest.raises(ReadingError, match="unpacks to more than"):
        opening_file.open_model_file(packed, max_bytes=1_000_000)


@pytest.mark.parametrize(("names", "message"), [(["a.ifc", "b.ifc"], "2 .ifc files"), (["a.txt"], "0 .ifc files")])
def test_a_zip_needs_exactly_one_model(tmp_path, names, message):
    packed = tmp_path / "m.ifczip"
    with zipfile.ZipFile(packed, "w") as archive:
        for name in names:
            archive.writestr(name, b"x")
    with pytest.raises(ReadingError, match=message):
        read_model(packed)


def test_a_zip_of_many_files_is_refused(tmp_path):
    packed = tmp_path / "m.ifczip"
    with zipfile.ZipFile(packed, "w") as archive:
        for number in range(opening_file.MAX_ZIP_MEMBERS + 1):
            archive.writestr(f"{number}.txt", b"x")
    with pytest.raises(ReadingError, match="holds 101 files"):
        read_model(packed)


def test_a_file_over_the_bound_is_refused(tmp_path):
    path = Builder().save(tmp_path / "m.ifc")
    with pytest.raises(ReadingError, match="more than the"):
        opening_file.open_model_file(path, max_bytes=100)
