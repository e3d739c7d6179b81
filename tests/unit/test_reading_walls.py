"""What a wall record says: storey, layers, properties, quantities, rooms, joints, curves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from takeoff.building import DeclaredQuantity
from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.fixture(name="read")
def _read(tmp_path):
    def read(model, **options):
        return read_model(model.save(tmp_path / "model.ifc"), **options)

    return read


def only_wall(model):
    (wall,) = model.walls
    return wall


# ---------------------------------------------------------------- storey


def test_storey_comes_from_containment_and_its_elevation_in_metres(read):
    model = Builder("IFC4", "FOOT")
    model.level = model.storey("Upper floor", 3.1)
    wall = only_wall(read(model) if model.wall() else None)
    assert wall.storey == "Upper floor"
    assert wall.storey_elevation == pytest.approx(3.1)


def test_storey_is_found_through_a_room_and_through_an_assembly(read):
    model = Builder()
    room = model.space("Room", size=(3.0, 3.0, 2.5))
    in_room = model.wall("in room")
    in_room.ContainedInStructure[0].RelatingStructure = room
    assembly = model.element("IfcElementAssembly", name="module")
    model.wall("in module", whole=assembly)
    assert [wall.storey for wall in read(model).walls] == ["Ground floor", "Ground floor"]


def test_a_wall_contained_in_the_site_has_no_storey(read):
    model = Builder()
    model.wall().ContainedInStructure[0].RelatingStructure = model.site
    wall = only_wall(read(model))
    assert (wall.storey, wall.storey_elevation) == ("", None)


def test_a_storey_without_elevation_gives_the_height_of_its_placement(read):
    model = Builder("IFC4", "INCH")
    model.level = model.storey("Loft", 5.2)
    model.level.Elevation = None
    model.wall()
    assert only_wall(read(model)).storey_elevation == pytest.approx(5.2)


# ---------------------------------------------------------------- layers


@pytest.mark.parametrize(
    ("sense", "offset", "y", "along"), [("POSITIVE", -0.1, 1.0, -0.1), ("NEGATIVE", 0.1, -1.0, -0.1)]
)
def test_direction_runs_from_the_first_layer_and_offset_along_it(read, sense, offset, y, along):
    model = Builder("IFC4", "INCH")
    wall = model.wall(angle=90)
    model.layer_usage([wall], model.layer_set([("A", 0.05), ("B", 0.15)]), sense=sense, offset=offset)
    layers = only_wall(read(model)).layers
    # The wall is turned by 90 degrees: its y points to world -x.
    assert layers.direction == pytest.approx([-y, 0.0, 0.0], abs=1e-12)
    assert layers.offset == pytest.approx(along)
    assert [(layer.material, round(layer.thickness, 9)) for layer in layers.layers] == [("A", 0.05), ("B", 0.15)]
    assert layers.name == "Layers"


def test_layers_stacked_along_the_third_axis_point_up(read):
    model = Builder()
    wall = model.wall()
    model.layer_usage([wall], model.layer_set([("A", 0.1)]), axis="AXIS3")
    assert only_wall(read(model)).layers.direction == pytest.approx([0.0, 0.0, 1.0])


@pytest.mark.parametrize("on_type", [False, True])
def test_a_bare_layer_set_gives_layers_without_a_direction(read, on_type):
    model = Builder()
    wall = model.wall()
    kind = model.type_for([wall], "IfcWallType", "Stud wall", PredefinedType="PARTITIONING")
    model.material([kind if on_type else wall], model.layer_set([("A", 0.1), ("B", 0.2)]))
    found = only_wall(read(model))
    assert len(found.layers.layers) == 2
    assert found.layers.direction is None
    assert found.layers.offset is None
    assert (found.type_name, found.predefined_type) == ("Stud wall", "PARTITIONING")


def test_the_usage_of_the_wall_goes_before_the_set_of_its_type(read):
    model = Builder()
    wall = model.wall(layers=[("own", 0.2)])
    kind = model.type_for([wall], "IfcWallType", None)
    model.material([kind], model.layer_set([("type's", 0.3)]))
    assert [layer.material for layer in only_wall(read(model)).layers.layers] == ["own"]


def test_layers_say_category_ventilation_and_conductivity(read):
    model = Builder()
    wall = model.wall(layers=[("Air", 0.04), ("Wool", 0.14), ("", 0.01)])
    air, wool, nothing = model.file.by_type("IfcMaterialLayer")
    air.IsVentilated = True
    wool.Material.Category = "wool"
    wool.Category = "Insulation"
    wool.Name = "between studs"
    nothing.Material = None
    model.file.create_entity(
        "IfcMaterialProperties",
        Name="Pset_MaterialThermal",
        Material=wool.Material,
        Properties=[
            model.file.create_entity(
                "IfcPropertySingleValue",
                Name="ThermalConductivity",
                NominalValue=model.value("IfcThermalConductivityMeasure", 0.035),
            )
        ],
    )
    first, second, third = only_wall(read(model)).layers.layers
    assert wall.is_a("IfcWall")
    assert (first.ventilated, second.ventilated) == (True, False)
    assert (second.category, second.name, second.conductivity) == ("wool, Insulation", "between studs", 0.035)
    assert (third.material, third.conductivity) == ("", None)


def test_thermal_properties_of_the_older_schema_are_read(read):
    model = Builder("IFC2X3")
    model.wall(layers=[("Wool", 0.2)])
    model.file.create_entity(
        "IfcThermalMaterialProperties", model.file.by_type("IfcMaterial")[0], ThermalConductivity=0.04
    )
    assert only_wall(read(model)).layers.layers[0].conductivity == 0.04


def test_lists_constituents_and_single_materials_have_no_order(read):
    model = Builder()
    brick, wool = (model.file.create_entity("IfcMaterial", Name=name) for name in ("Brick", "Wool"))
    a, b, c = model.wall("a"), model.wall("b"), model.wall("c")
    model.material([a], model.file.create_entity("IfcMaterialList", [brick, wool]))
    model.material([b], wool)
    constituents = [
        model.file.create_entity("IfcMaterialConstituent", Name=name, Material=made, Category="loadbearing")
        for name, made in (("outer", brick), ("inner", wool))
    ]
    model.material(
        [c], model.file.create_entity("IfcMaterialConstituentSet", Name="Set", MaterialConstituents=constituents)
    )
    width = model.file.create_entity("IfcQuantityLength", Name="Width", LengthValue=102.5)
    complex_quantity = model.file.create_entity(
        "IfcPhysicalComplexQuantity", Name="outer", HasQuantities=[width], Discrimination="layer"
    )
    quantities = model.root("IfcElementQuantity", "Qto_WallBaseQuantities", Quantities=[complex_quantity])
    model.root("IfcRelDefinesByProperties", RelatedObjects=[c], RelatingPropertyDefinition=quantities)
    walls = read(model).walls
    assert [[layer.material for layer in wall.materials] for wall in walls] == [
        ["Brick", "Wool"],
        ["Wool"],
        ["Brick", "Wool"],
    ]
    assert all(wall.layers is None for wall in walls)
    assert [layer.thickness for layer in walls[2].materials] == pytest.approx([0.1025, 0.0])
    assert walls[2].materials[0].category == "loadbearing"


# ---------------------------------------------------------------- properties and quantities


def test_properties_come_from_the_wall_and_then_from_its_type(read):
    model = Builder()
    wall = model.wall()
    kind = model.type_for([wall], "IfcWallType", "T")
    model.properties(wall, None, {"IsExternal": model.value("IfcBoolean", False)})
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    model.properties(
        kind,
        "Pset_WallCommon",
        {
            "IsExternal": model.value("IfcBoolean", False),
            "AcousticRating": model.value("IfcLabel", "Rw 52"),
            "ThermalTransmittance": model.value("IfcThermalTransmittanceMeasure", 0.24),
        },
    )
    found = only_wall(read(model))
    assert (found.external, found.acoustic_rating, found.thermal_transmittance) == (True, "Rw 52", 0.24)


def test_silence_is_none(read):
    model = Builder()
    model.wall(None)
    found = only_wall(read(model))
    assert (found.external, found.acoustic_rating, found.thermal_transmittance) == (None, "", None)
    assert (found.name, found.type_name, found.layers, found.materials) == ("", "", None, ())


def test_quantities_are_turned_to_si_by_the_units_of_the_file(read):
    model = Builder("IFC4", "FOOT")
    wall = model.wall()
    areas = next(unit for unit in model.file.by_type("IfcSIUnit") if unit.UnitType == "AREAUNIT")
    areas.Prefix = "CENTI"
    model.quantities(
        wall,
        "Qto_WallBaseQuantities",
        [
            ("IfcQuantityLength", "Length", 10.0),
            ("IfcQuantityArea", "NetSideArea", 25000.0),
            ("IfcQuantityVolume", "NetVolume", 2.0),
        ],
    )
    model.quantities(wall, "Something else", [("IfcQuantityLength", "Other", 1.0)])
    quantities = only_wall(read(model)).quantities
    assert [(q.name, q.unit) for q in quantities] == [("Length", "m"), ("NetSideArea", "m2"), ("NetVolume", "m3")]
    assert [q.value for q in quantities] == pytest.approx([3.048, 2.5, 2.0])


def test_a_quantity_brings_its_own_unit_before_that_of_the_file(read):
    model = Builder("IFC4", "FOOT")
    wall = model.wall()
    model.quantities(wall, "BaseQuantities", [("IfcQuantityLength", "Width", 200.0)])
    model.file.by_type("IfcQuantityLength")[0].Unit = model.file.create_entity(
        "IfcSIUnit", UnitType="LENGTHUNIT", Prefix="MILLI", Name="METRE"
    )
    assert only_wall(read(model)).quantities == (DeclaredQuantity("Width", pytest.approx(0.2), "m"),)


def test_a_quantity_without_any_unit_is_left_out_with_a_finding(read):
    model = Builder()
    wall = model.wall()
    units = model.project.UnitsInContext
    units.Units = [unit for unit in units.Units if unit.UnitType != "AREAUNIT"]
    model.quantities(wall, "BaseQuantities", [("IfcQuantityArea", "NetSideArea", 10.0)])
    found = read(model)
    assert only_wall(found).quantities == ()
    assert [finding.code for finding in found.findings] == ["quantity-without-unit"]


# ---------------------------------------------------------------- rooms, joints, north


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3"])
def test_rooms_come_with_shape_and_the_walls_that_bound_them(read, schema):
    model = Builder(schema)
    wall = model.wall()
    stud = model.member(wall, size=(0.04, 0.1, 2.0))
    room = model.space("101", size=(3.0, 4.0, 2.5), at=(0.0, 0.2, 0.0), bounds=[wall])
    hall = model.space("102", size=(3.0, 4.0, 2.5), at=(0.0, -4.0, 0.0), bounds=[stud])
    room.LongName = "Bedroom"
    if schema == "IFC2X3":
        hall.InteriorOrExteriorSpace = "EXTERNAL"
    else:
        hall.PredefinedType = "EXTERNAL"
    found = read(model)
    assert [(space.name, space.long_name, space.storey, space.external) for space in found.spaces] == [
        ("101", "Bedroom", "Ground floor", False),
        ("102", "", "Ground floor", True),
    ]
    assert only_wall(found).space_ids == (room.GlobalId, hall.GlobalId)
    assert np.ptp(found.spaces[0].solids[0].vertices, axis=0) == pytest.approx([3.0, 4.0, 2.5])


def test_path_connections_join_walls(read):
    model = Builder()
    a, b = model.wall("a"), model.wall("b", at=(4.0, 0.0, 0.0))
    model.root(
        "IfcRelConnectsPathElements",
        RelatingElement=a,
        RelatedElement=b,
        RelatingPriorities=[],
        RelatedPriorities=[],
        RelatingConnectionType="ATEND",
        RelatedConnectionType="ATSTART",
    )
    (joint,) = read(model).connections
    assert (joint.wall_id, joint.wall_end, joint.other_id, joint.other_end) == (
        a.GlobalId,
        "ATEND",
        b.GlobalId,
        "ATSTART",
    )


def test_true_north_is_a_unit_direction_and_north_where_silent(read):
    model = Builder()
    model.wall()
    assert read(model).true_north == (0.0, 1.0)
    model.context.TrueNorth = model.direction((3.0, 4.0))
    assert read(model).true_north == pytest.approx((0.6, 0.8))


# ---------------------------------------------------------------- curved walls


def arc(model, radius, start, end):
    circle = model.file.create_entity(
        "IfcCircle",
        model.file.create_entity("IfcAxis2Placement2D", model.file.create_entity("IfcCartesianPoint", (1000.0, 0.0))),
        radius / model.scale,
    )
    trims = [[model.value("IfcParameterValue", angle)] for angle in (start, end)]
    return model.file.create_entity("IfcTrimmedCurve", circle, trims[0], trims[1], True, "PARAMETER")


def curved_wall(model):
    line = model.file.create_entity(
        "IfcPolyline", [model.file.create_entity("IfcCartesianPoint", p) for p in ((0.0, 0.0), (1.0, 0.0))]
    )
    segments = [arc(model, 5.1, 0.0, 1.0), line, arc(model, 4.9, 0.0, 1.0), line]
    curve = model.file.create_entity(
        "IfcCompositeCurve",
        [model.file.create_entity("IfcCompositeCurveSegment", "CONTINUOUS", True, segment) for segment in segments],
        False,
    )
    profile = model.file.create_entity("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curve)
    return model.element("IfcWall", [model.extruded_profile(profile, 2.5)], at=(2.0, 3.0, 0.0), angle=90)


def check_cylinder(found, radius):
    assert found.radius == pytest.approx(radius)
    # One metre along the wall's x, which points to world y.
    assert found.centre[:2] == pytest.approx([2.0, 4.0])
    assert np.abs(found.axis) == pytest.approx([0.0, 0.0, 1.0])


@pytest.mark.parametrize("wrapped", [False, True])
def test_an_axis_of_one_arc_gives_the_cylinder(read, wrapped):
    model = Builder("IFC4", "MILLIMETRE")
    wall = model.wall(at=(2.0, 3.0, 0.0), angle=90)
    curve = arc(model, 5.0, 0.0, 1.0)
    if wrapped:
        curve = model.file.create_entity(
            "IfcCompositeCurve",
            [model.file.create_entity("IfcCompositeCurveSegment", "CONTINUOUS", True, curve)],
            False,
        )
    wall.Representation.Representations = [
        model.representation([curve], "Axis", "Curve2D"),
        *wall.Representation.Representations,
    ]
    check_cylinder(only_wall(read(model)).cylinder, 5.0)


def test_an_axis_of_three_points_on_an_arc_gives_the_cylinder(read):
    model = Builder("IFC4", "MILLIMETRE")
    wall = model.wall(at=(2.0, 3.0, 0.0), angle=90)
    points = [(1000.0 + 5000.0 * math.cos(t), 5000.0 * math.sin(t)) for t in (0.2, 0.7, 1.4)]
    curve = model.file.create_entity(
        "IfcIndexedPolyCurve",
        model.file.create_entity("IfcCartesianPointList2D", points),
        [model.value("IfcArcIndex", (1, 2, 3))],
    )
    wall.Representation.Representations = [
        model.representation([curve], "Axis", "Curve2D"),
        *wall.Representation.Representations,
    ]
    check_cylinder(only_wall(read(model)).cylinder, 5.0)


def test_without_an_axis_the_profile_between_two_arcs_gives_the_cylinder(read):
    model = Builder("IFC4", "MILLIMETRE")
    curved_wall(model)
    check_cylinder(only_wall(read(model)).cylinder, 5.0)


def test_a_straight_wall_has_no_cylinder(read):
    model = Builder()
    model.wall()
    assert only_wall(read(model)).cylinder is None


def test_whether_true_north_was_stated_is_kept(read):
    model = Builder()
    model.wall()
    assert not read(model).true_north_stated
    model.context.TrueNorth = model.direction((0.0, 1.0))
    assert read(model).true_north_stated
