"""Wall frames among members that no wall holds, and what is none."""

from __future__ import annotations

import math

import pytest

import takeoff
from reports.ifc_out import write_ifc
from takeoff.finding import Severity
from takeoff.reading import read_model
from tests.ifc_builder import Builder


@pytest.fixture
def read(tmp_path):
    return lambda model: read_model(model.save(tmp_path / "model.ifc"))


def codes(found):
    return [finding.code for finding in found.findings]


def turned(model, members, at, angle):
    """The members of a frame brought to another place in plan; angle in degrees."""
    turn = math.radians(angle)
    place = model.local_placement(model.level.ObjectPlacement, at, (math.cos(turn), math.sin(turn), 0.0))
    for member in members:
        member.ObjectPlacement.PlacementRelTo = place


def test_loose_members_that_form_a_frame_beside_other_walls_are_a_wall(tmp_path):
    model = Builder()
    model.frame(model.wall("framed", body=False))
    loose = model.frame(None)
    turned(model, loose, (2.0, 9.0, 0.0), 25.0)
    result = takeoff.take_off(model.save(tmp_path / "two.ifc"))
    walls = result.walls
    assert list(walls.status) == ["taken_off", "taken_off"]
    assert list(walls.ifc_class) == ["IfcWall", "IfcMember"]
    assert walls.cavity_volume_m3.iloc[1] == pytest.approx(walls.cavity_volume_m3.iloc[0], rel=1e-9)
    assert walls.storey.iloc[1] == "Ground floor"
    assert walls.wall_id.iloc[1] == loose[0].GlobalId
    assert "frame-of-loose-members" in codes(result)


def test_a_model_of_loose_members_alone_has_walls(read):
    model = Builder()
    model.frame(None)
    found = read(model)
    assert [(wall.name, len(wall.parts)) for wall in found.walls] == [("loose frame Bottom plate", 8)]


def test_an_assembly_of_four_walls_without_walls_in_it_is_four(read):
    model = Builder("IFC4", "INCH")
    module = model.element("IfcElementAssembly", name="module", at=(5.0, 5.0, 0.0))
    for at, angle in (((0, 0, 0), 0), ((3.74, 0, 0), 90), ((3.74, 3.74, 0), 180), ((0, 3.74, 0), 270)):
        turn = math.radians(angle)
        place = model.local_placement(module.ObjectPlacement, at, (math.cos(turn), math.sin(turn), 0.0))
        for member in model.frame(module):
            member.ObjectPlacement.PlacementRelTo = place
    for count in range(7):
        model.member(module, size=(3.74, 0.06, 0.24), at=(0.0, 0.6 * count, -0.26), ifc_class="IfcBeam")
    found = read(model)
    assert [len(wall.parts) for wall in found.walls] == [8, 8, 8, 8]


def test_members_round_an_opening_and_a_second_top_plate_belong_to_the_frame(read):
    model = Builder()
    stud = 0.038
    model.frame(None)
    model.member(None, size=(3.6, 0.14, stud), at=(0.0, 0.0, 2.4), name="Upper top plate")
    model.member(None, size=(0.562, 0.14, 0.2), at=(0.638, 0.0, 2.0), name="Header")
    model.member(None, size=(stud, 0.14, 0.124), at=(0.9, 0.0, 2.2), name="Cripple")
    model.member(None, size=(0.562, 0.14, stud), at=(0.638, 0.0, 0.9), name="Sill")
    (wall,) = read(model).walls
    assert {part.name for part in wall.parts} >= {"Upper top plate", "Header", "Cripple", "Sill"}
    assert len(wall.parts) == 12


def test_a_frame_on_a_frame_is_another_wall(read):
    model = Builder()
    model.frame(None)
    turned(model, model.frame(None), (0.0, 0.0, 2.4), 0.0)
    assert [len(wall.parts) for wall in read(model).walls] == [8, 8]


def test_loose_members_in_a_wall_stay_its_frame(read):
    model = Builder()
    model.wall("sheet", length=3.6, height=2.4, thickness=0.14)
    model.frame(None)
    found = read(model)
    assert [wall.name for wall in found.walls] == ["sheet"]
    assert len(found.loose_parts) == 8
    assert codes(found) == []


def test_loose_members_between_the_layer_parts_of_a_wall_without_a_body_stay_its_frame(read):
    model = Builder()
    wall = model.wall("parts", body=False)
    for y in (-0.0125, 0.14):
        model.element(
            "IfcBuildingElementPart", [model.box((3.6, 0.0125, 2.4), (0.0, y, 0.0))], name="Gypsum", whole=wall
        )
    model.frame(None)
    assert [found.name for found in read(model).walls] == ["parts"]


def posts_and_beam(model):
    for x in (0.0, 3.0, 6.0):
        model.member(None, size=(0.14, 0.14, 2.4), at=(x, 9.0, 0.0), ifc_class="IfcColumn")
    model.member(None, size=(6.2, 0.14, 0.24), at=(0.0, 9.0, 2.4), ifc_class="IfcBeam")


def joists(model):
    for count in range(8):
        model.member(None, size=(4.0, 0.06, 0.24), at=(0.0, 9.0 + 0.6 * count, 2.6), ifc_class="IfcBeam")


def named_rafters(model):
    for member in model.frame(None):
        member.PredefinedType = "RAFTER"
    turned(model, model.file.by_type("IfcMember"), (0.0, 9.0, 0.0), 0.0)


def loose_truss(model):
    members = [model.member(None, size=(6.0, 0.06, 0.1)), model.member(None, size=(6.0, 0.06, 0.1), at=(0, 0, 0.9))]
    for count in range(7):
        members.append(model.member(None, size=(0.06, 0.06, 0.8), at=(0.99 * count, 0.0, 0.1)))
        web = model.member(None, size=(0.06, 0.06, 1.15), at=(0.99 * count + 0.06, 0.0, 0.1))
        web.ObjectPlacement.RelativePlacement.Axis = model.direction((0.7071, 0.0, 0.7071))
        web.ObjectPlacement.RelativePlacement.RefDirection = model.direction((0.7071, 0.0, -0.7071))
        members.append(web)
    turned(model, members, (0.0, 9.0, 2.6), 0.0)


@pytest.mark.parametrize("build", [posts_and_beam, joists, named_rafters, loose_truss])
def test_posts_floors_and_roofs_are_no_loose_frames(read, build):
    model = Builder()
    model.wall(at=(0.0, 50.0, 0.0))
    build(model)
    found = read(model)
    assert [wall.ifc_class for wall in found.walls] == ["IfcWall"]
    assert "frame-of-loose-members" not in codes(found)


def test_studs_without_plates_in_no_wall_are_told_with_place_and_names(read):
    model = Builder()
    model.wall()
    studs = [model.member(None, size=(0.038, 0.14, 2.4), at=(5.0 + 0.6 * n, 9.0, 0.0), name="Stud") for n in range(6)]
    (told,) = read(model).findings
    assert (told.code, told.severity) == ("members-in-no-wall", Severity.WARNING)
    assert told.message.startswith("6 members of storey 'Ground floor', 6 of them upright (IfcMember ")
    assert studs[0].GlobalId in told.message
    assert "and 3 more" in told.message
    assert told.place == pytest.approx((5.019, 9.07, 1.2))


def test_posts_of_a_porch_are_a_remark_and_joists_are_none(read):
    model = Builder()
    model.wall()
    posts_and_beam(model)
    (told,) = read(model).findings
    assert (told.code, told.severity) == ("members-in-no-wall", Severity.INFO)
    alone = Builder()
    alone.wall()
    joists(alone)
    assert codes(read(alone)) == []


def railing(model, *, posts, rails, height=1.0):
    made = model.element("IfcElementAssembly", name="railing", at=(0.0, 9.0, 0.0))
    for x in posts:
        model.member(made, size=(0.02, 0.04, height - 0.08), at=(x, 0.0, 0.04))
    for z in rails:
        model.member(made, size=(3.0, 0.04, 0.04), at=(0.0, 0.0, z))


def test_a_railing_of_balusters_is_no_wall(read):
    # IRC R312.1.3: openings of a guard let no sphere of 4 in (102 mm) through; 100 mm between bars here.
    model = Builder()
    model.wall()
    railing(model, posts=[0.12 * count for count in range(25)], rails=(0.0, 0.96))
    found = read(model)
    assert [wall.ifc_class for wall in found.walls] == ["IfcWall"]
    assert codes(found) == []


def test_a_railing_of_level_bars_is_no_wall(read):
    model = Builder()
    model.wall()
    railing(model, posts=(0.0, 1.0, 2.0, 2.98), rails=[0.12 * count for count in range(9)])
    assert [wall.ifc_class for wall in read(model).walls] == ["IfcWall"]


def test_a_knee_wall_as_low_as_a_railing_is_a_wall(read):
    model = Builder()
    model.wall()
    railing(model, posts=[0.4 * count for count in range(8)], rails=(0.0, 0.96))
    assert [wall.ifc_class for wall in read(model).walls] == ["IfcWall", "IfcElementAssembly"]


def test_the_copy_of_a_model_with_a_loose_frame_takes_off_the_same(tmp_path):
    model = Builder()
    model.wall(at=(0.0, 50.0, 0.0))
    model.frame(None)
    path = model.save(tmp_path / "model.ifc")
    first = takeoff.take_off(path)
    added = write_ifc(path, first, tmp_path / "copy.ifc")
    assert added == {"IfcBuildingElementPart": 6}
    again = takeoff.take_off(tmp_path / "copy.ifc")
    assert list(again.walls.cavity_volume_m3.dropna()) == pytest.approx(list(first.walls.cavity_volume_m3.dropna()))
    assert list(again.walls.wall_id) == list(first.walls.wall_id)
