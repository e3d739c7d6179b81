"""Which elements are walls, parts of walls, and loose things in them."""

from __future__ import annotations

import numpy as np
import pytest

from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.fixture(name="read")
def _read(tmp_path):
    def read(model, **options):
        return read_model(model.save(tmp_path / "model.ifc"), **options)

    return read


def codes(model):
    return [finding.code for finding in model.findings]


def test_parts_are_found_at_any_depth_and_by_both_relations(read):
    model = Builder()
    wall = model.wall(body=False)
    frame = model.element("IfcElementAssembly", name="frame", whole=wall)
    model.frame(frame)
    board = model.element("IfcBuildingElementPart", [model.box((3.6, 0.0125, 2.4))], name="board")
    model.aggregate(wall, [board], "IfcRelNests")
    (found,) = read(model).walls
    assert len(found.parts) == 9
    assert {part.ifc_class for part in found.parts} == {"IfcMember", "IfcBuildingElementPart"}
    assert {part.wall_id for part in found.parts} == {found.global_id}
    assert found.problem == ""
    assert [part.global_id for part in found.parts] == sorted(part.global_id for part in found.parts)


def test_parts_that_only_a_type_holds_and_that_have_no_body_are_no_parts(read):
    # As in an example of the IFC4 specification: the type aggregates members without a shape.
    model = Builder()
    wall = model.wall(body=False)
    model.frame(wall)
    kind = model.type_for([wall], "IfcWallType", "framed")
    model.aggregate(kind, [model.root("IfcMember", "pattern")])
    found = read(model)
    assert len(found.walls[0].parts) == 8
    assert not found.loose_parts


def test_a_part_says_type_predefined_type_and_material(read):
    model = Builder()
    wall = model.wall()
    stud = model.member(wall, size=(0.04, 0.14, 2.4), PredefinedType="STUD")
    plate = model.member(wall, size=(3.0, 0.14, 0.04))
    special = model.member(wall, size=(3.0, 0.14, 0.04), PredefinedType="USERDEFINED", ObjectType="let-in brace")
    kind = model.type_for([stud, plate], "IfcMemberType", "2x6", PredefinedType="PLATE")
    timber = model.file.create_entity("IfcMaterial", Name="C24")
    profile = model.file.create_entity(
        "IfcMaterialProfile",
        Material=timber,
        Profile=model.file.create_entity("IfcRectangleProfileDef", "AREA", None, None, 38.0, 140.0),
    )
    model.material([kind], model.file.create_entity("IfcMaterialProfileSet", MaterialProfiles=[profile]))
    parts = {part.global_id: part for part in read(model).walls[0].parts}
    assert (parts[stud.GlobalId].type_name, parts[stud.GlobalId].predefined_type) == ("2x6", "STUD")
    assert (parts[plate.GlobalId].predefined_type, parts[plate.GlobalId].material) == ("PLATE", "C24")
    assert parts[special.GlobalId].predefined_type == "let-in brace"


def test_a_body_around_parts_with_bodies_is_not_a_part(read):
    model = Builder()
    wall = model.wall()
    panel = model.element("IfcElementAssembly", [model.box((3.6, 0.14, 2.4))], whole=wall)
    model.frame(panel)
    assert {part.ifc_class for part in read(model).walls[0].parts} == {"IfcMember"}


def test_a_wall_inside_a_wall_is_a_part_of_it(read):
    model = Builder()
    outer = model.wall("outer")
    layer = model.wall("layer", whole=outer)
    (found,) = read(model).walls
    assert found.global_id == outer.GlobalId
    assert [(part.global_id, part.ifc_class) for part in found.parts] == [(layer.GlobalId, "IfcWall")]


def test_a_wall_that_only_groups_walls_leaves_them_walls(read):
    model = Builder()
    group = model.wall("group", body=False)
    model.wall("a", whole=group)
    model.wall("b", whole=group, at=(0.0, 4.0, 0.0), angle=90)
    walls = read(model).walls
    assert [wall.name for wall in walls] == ["group", "a", "b"]
    assert "only groups" in walls[0].problem
    assert [wall.problem for wall in walls[1:]] == ["", ""]


def test_a_curtain_wall_is_accounted_for_without_parts(read):
    model = Builder()
    model.wall()
    curtain = model.element("IfcCurtainWall", name="glass", at=(0.0, 5.0, 0.0))
    model.member(curtain, size=(0.05, 0.05, 3.0))
    found = read(model)
    assert [wall.ifc_class for wall in found.walls] == ["IfcWall", "IfcCurtainWall"]
    assert (found.walls[1].parts, found.walls[1].body, found.walls[1].problem) == ((), (), "")


# ---------------------------------------------------------------- assemblies


def test_an_assembly_that_holds_a_frame_is_a_wall(read):
    model = Builder("IFC4", "INCH")
    panel = model.element("IfcElementAssembly", name="panel", at=(3.0, 1.0, 0.0), angle=25)
    model.frame(panel)
    (found,) = read(model).walls
    assert (found.ifc_class, found.name, len(found.parts)) == ("IfcElementAssembly", "panel", 8)
    assert (found.body, found.problem, found.storey) == ((), "", "Ground floor")


def test_one_member_that_holds_all_the_pieces_is_a_frame_too(read):
    model = Builder()
    panel = model.element("IfcElementAssembly", name="panel")
    pieces = [model.box((0.04, 0.14, 2.4), (0.6 * count, 0.0, 0.0)) for count in range(5)]
    model.element("IfcMember", [*pieces, model.box((2.44, 0.14, 0.04), (0.0, 0.0, 2.4))], whole=panel)
    assert len(read(model).walls) == 1


def flat_floor(model):
    floor = model.element("IfcElementAssembly", name="floor")
    for count in range(6):
        model.member(floor, size=(4.0, 0.04, 0.24), at=(0.0, 0.6 * count, 3.0))


def truss(model):
    roof = model.element("IfcElementAssembly", name="truss")
    model.member(roof, size=(8.0, 0.04, 0.1))
    for count in range(6):
        web = model.member(roof, size=(1.5, 0.04, 0.1), at=(1.2 * count, 0.0, 0.0))
        place = web.ObjectPlacement.RelativePlacement
        place.Axis = model.direction((-0.6, 0.0, 0.8))
        place.RefDirection = model.direction((0.8, 0.0, 0.6))
    for count in range(3):
        model.member(roof, size=(0.1, 0.04, 1.0), at=(2.0 * count, 0.0, 0.0))


def stair(model):
    made = model.element("IfcElementAssembly", name="stair")
    for side in (0.0, 0.9):
        for count in range(4):
            model.member(made, size=(0.05, 0.05, 0.9), at=(0.3 * count, side, 0.2 * count))
    for count in range(8):
        model.member(made, size=(0.3, 0.9, 0.04), at=(0.3 * count, 0.0, 0.2 * count))


def built_up_post(model):
    made = model.element("IfcElementAssembly", name="post")
    for count in range(3):
        model.member(made, size=(0.04, 0.14, 2.4), at=(0.04 * count, 0.0, 0.0))


@pytest.mark.parametrize("build", [flat_floor, truss, stair, built_up_post])
def test_floors_trusses_stairs_and_posts_are_no_walls(read, build):
    model = Builder()
    model.wall(at=(0.0, 50.0, 0.0))
    build(model)
    assert [wall.ifc_class for wall in read(model).walls] == ["IfcWall"]


def test_an_assembly_called_a_truss_is_none_whatever_its_shape(read):
    model = Builder()
    model.wall(at=(0.0, 50.0, 0.0))
    model.frame(model.element("IfcElementAssembly", PredefinedType="TRUSS"))
    assert len(read(model).walls) == 1


def test_a_module_of_frames_is_as_many_walls_as_it_has_frames(read):
    model = Builder()
    module = model.element("IfcElementAssembly", name="module")
    model.frame(model.element("IfcElementAssembly", name="a", whole=module))
    model.frame(model.element("IfcElementAssembly", name="b", whole=module, angle=90))
    assert [wall.name for wall in read(model).walls] == ["a", "b"]


def test_a_frame_that_holds_one_wall_object_is_described_by_it(read):
    model = Builder()
    panel = model.element("IfcElementAssembly", name="panel")
    model.frame(panel)
    model.wall("sheet", whole=panel, length=3.6, thickness=0.2, layers=[("Board", 0.0125), ("Stud", 0.14)])
    (found,) = read(model).walls
    assert found.ifc_class == "IfcElementAssembly"
    assert [layer.material for layer in found.layers.layers] == ["Board", "Stud"]
    assert found.layers.direction == pytest.approx([0.0, 1.0, 0.0])
    assert len(found.body) == 1
    assert {part.ifc_class for part in found.parts} == {"IfcMember"}


def test_an_assembly_around_walls_with_frames_of_their_own_only_groups_them(read):
    model = Builder()
    module = model.element("IfcElementAssembly", name="module")
    model.frame(model.wall("framed", whole=module, layers=[("Pine", 0.2)]))
    (found,) = read(model).walls
    assert (found.name, len(found.parts)) == ("framed", 8)


def test_a_frame_that_stands_in_a_wall_unrelated_is_not_counted_twice(read):
    model = Builder()
    model.wall("architect's", at=(1.0, 1.0, 0.0), angle=30)
    model.frame(model.element("IfcElementAssembly", name="engineer's", at=(1.0, 1.0, 0.0), angle=30))
    found = read(model)
    assert [wall.name for wall in found.walls] == ["architect's"]
    assert len(found.loose_parts) == 8
    assert codes(found) == ["frame-stands-in-wall"]


def test_a_circular_aggregation_comes_to_an_end(read):
    model = Builder()
    wall = model.wall()
    stud = model.member(wall, size=(0.04, 0.14, 2.4))
    inner = model.member(stud, size=(0.02, 0.14, 1.0))
    model.aggregate(inner, [stud])
    model.aggregate(stud, [wall])
    assert len(read(model).walls) == 1


def test_walls_that_hold_each_other_both_stay_walls(read):
    model = Builder()
    a = model.wall("a")
    b = model.wall("b", whole=a)
    model.aggregate(b, [a])
    assert [wall.name for wall in read(model).walls] == ["a", "b"]


def test_a_wall_that_holds_itself_is_not_said_to_group_others(read):
    model = Builder()
    wall = model.wall("self", body=False)
    model.aggregate(wall, [wall])
    (found,) = read(model).walls
    assert not found.only_groups
    assert found.problem.startswith("it has no body")


def test_members_without_any_shape_are_told(read):
    model = Builder()
    wall = model.wall()
    model.frame(wall)
    empty = model.element("IfcMember", name="empty", whole=wall)
    model.element("IfcElementAssembly", name="group of nothing", whole=wall)
    found = read(model)
    (told,) = found.findings
    assert told.code == "part-without-shape"
    assert f"1 member in it without any shape (IfcMember {empty.GlobalId} 'empty')" in told.message
    assert len(found.walls[0].parts) == 8


# ---------------------------------------------------------------- loose elements


def test_loose_elements_that_touch_a_wall_are_read_and_others_are_not(read):
    model = Builder()
    model.wall(angle=45)
    model.member(None, size=(0.04, 0.1, 2.0), at=(1.0, 1.05, 0.0), name="in the wall")
    model.member(None, size=(0.04, 0.1, 2.0), at=(2.5, 0.1, 0.0), name="in its world box only")
    model.member(None, size=(0.04, 0.1, 2.0), at=(9.0, 9.0, 0.0), name="far away")
    model.element("IfcFlowSegment", [model.cylinder(0.05, 2.0)], name="pipe", at=(1.4, 1.5, 0.0))
    model.element("IfcFlowTerminal", [model.box((0.1, 0.06, 0.1))], name="box", at=(0.5, 0.6, 1.0))
    model.element("IfcBuildingElementProxy", [model.box((0.1, 0.1, 0.1))], name="thing", at=(2.0, 2.1, 1.0))
    model.element("IfcFurnishingElement", [model.box((0.1, 0.1, 0.1))], name="chair", at=(2.0, 2.1, 1.0))
    loose = read(model).loose_parts
    assert [part.name for part in loose] == ["in the wall", "pipe", "box", "thing"]
    assert {(part.wall_id, part.source) for part in loose} == {("", "")}


def test_a_pipe_that_crosses_a_wall_with_its_placement_far_away_is_not_missed(read):
    model = Builder()
    model.wall()
    model.element("IfcPipeSegment", [model.cylinder(0.02, 60.0, (30.0, 20.0, 0.0))], at=(-28.0, -19.9, -30.0))
    assert len(read(model).loose_parts) == 1


def test_parts_of_curtain_walls_stairs_and_windows_are_not_loose(read):
    model = Builder()
    model.wall()
    for ifc_class in ("IfcCurtainWall", "IfcStair", "IfcRailing"):
        model.member(model.element(ifc_class), size=(0.05, 0.05, 2.0), at=(1.0, 0.1, 0.0))
    assert read(model).loose_parts == ()


def test_fasteners_are_left_out_with_a_finding(read):
    model = Builder()
    wall = model.wall()
    model.frame(wall)
    for _ in range(3):
        model.element("IfcMechanicalFastener", [model.cylinder(0.002, 0.09)], whole=wall)
    found = read(model)
    assert len(found.walls[0].parts) == 8
    assert codes(found) == ["fasteners-not-read"]


# ---------------------------------------------------------------- other disciplines


def services(unit, at=(0.0, 0.0, 0.0)):
    model = Builder("IFC4", unit)
    x, y, z = at
    model.element("IfcDuctSegment", [model.box((0.2, 0.1, 2.0))], name="duct", at=(1.0 + x, 0.05 + y, z))
    model.element("IfcDuctSegment", [model.box((0.2, 0.1, 2.0))], name="far duct", at=(1.0 + x, 30.0 + y, z))
    return model


def test_elements_of_another_file_come_in_metres_with_their_source(read, tmp_path):
    model = Builder("IFC4", "MILLIMETRE")
    model.wall()
    other = services("FOOT").save(tmp_path / "services.ifc")
    found = read(model, with_paths=[other])
    (duct,) = found.loose_parts
    assert (duct.name, duct.source) == ("duct", "services.ifc")
    assert duct.solids[0].vertices.min(axis=0) == pytest.approx([1.0, 0.05, 0.0])
    assert np.ptp(duct.solids[0].vertices, axis=0) == pytest.approx([0.2, 0.1, 2.0])
    assert codes(found) == ["shared-origin-assumed"]


def conversion(model, east, north, height, turn, system="EPSG:32632"):
    crs = model.file.create_entity("IfcProjectedCRS", Name=system)
    model.file.create_entity(
        "IfcMapConversion",
        SourceCRS=model.context,
        TargetCRS=crs,
        Eastings=east / model.scale,
        Northings=north / model.scale,
        OrthogonalHeight=height / model.scale,
        XAxisAbscissa=np.cos(np.radians(turn)),
        XAxisOrdinate=np.sin(np.radians(turn)),
        Scale=1.0,
    )


def test_two_models_on_one_map_are_brought_to_the_origin_of_the_first(read, tmp_path):
    model = Builder("IFC4", "MILLIMETRE")
    model.wall()
    conversion(model, 500_000.0, 5_000_000.0, 100.0, 0.0)
    # The other model's origin lies 10 m east and 3 m up, and its x points north.
    other = Builder("IFC4", "FOOT")
    other.element("IfcDuctSegment", [other.box((0.1, 0.2, 2.0))], name="duct", at=(0.05, 8.0, -3.0))
    conversion(other, 500_010.0, 5_000_000.0, 103.0, 90.0)
    found = read(model, with_paths=[other.save(tmp_path / "services.ifc")])
    (duct,) = found.loose_parts
    # Local (0.05 to 0.15, 8 to 8.2) turns to (-8.2 to -8, 0.05 to 0.15), then moves 10 m east.
    assert duct.solids[0].vertices.min(axis=0) == pytest.approx([1.8, 0.05, 0.0], abs=1e-6)
    assert duct.solids[0].vertices.max(axis=0) == pytest.approx([2.0, 0.15, 2.0], abs=1e-6)
    assert codes(found) == []


def test_models_on_different_maps_are_taken_to_share_their_origin_with_a_finding(read, tmp_path):
    model = Builder()
    model.wall()
    conversion(model, 500_000.0, 5_000_000.0, 100.0, 0.0)
    other = services("METRE")
    conversion(other, 0.0, 0.0, 0.0, 0.0, system="EPSG:25832")
    found = read(model, with_paths=[other.save(tmp_path / "services.ifc")])
    assert len(found.loose_parts) == 1
    assert codes(found) == ["shared-origin-assumed"]


def test_an_element_that_is_in_both_files_is_taken_once(read, tmp_path):
    model = Builder()
    model.wall()
    model.member(None, size=(0.1, 0.1, 2.0), at=(1.0, 0.0, 0.0))
    twin = model.save(tmp_path / "twin.ifc")
    found = read(model, with_paths=[twin])
    assert len(found.loose_parts) == 1
    assert "part-in-both-models" in codes(found)


def test_an_assembly_of_one_wall_object_only_groups_it(read):
    model = Builder()
    panel = model.element("IfcElementAssembly", name="panel")
    pieces = [model.box((0.04, 0.14, 2.4), (0.6 * count, 0.0, 0.0)) for count in range(5)]
    model.element("IfcWall", [*pieces, model.box((2.44, 0.14, 0.04), (0.0, 0.0, 2.4))], name="all of it", whole=panel)
    assert [wall.name for wall in read(model).walls] == ["all of it"]
