"""Bodies of elements: kernels, maps, placements, precision."""

from __future__ import annotations

import itertools

import ifcopenshell.geom
import numpy as np
import pytest

from takeoff.reading.bodies import Bodies
from takeoff.reading.kernel import Kernel, has_plane_faces
from takeoff.reading.placements import Placements
from tests.ifc_builder import BOX_FACES, Builder, box_corners


def bodies_of(model):
    return Bodies(Placements(model.scale), model.scale)


def box_of(body):
    points = np.concatenate([solid.vertices for solid in body.solids])
    return points.min(axis=0), points.max(axis=0)


def volume(body):
    total = 0.0
    for solid in body.solids:
        corners = solid.vertices[solid.faces] - solid.vertices[0]
        total += abs(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6)
    return total


def kernel_points(element, library="opencascade"):
    """Corners as the kernel itself places them, the second opinion."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    settings.set("disable-opening-subtractions", True)
    shape = ifcopenshell.geom.create_shape(settings, element, geometry_library=library)
    return np.array(shape.geometry.verts).reshape(-1, 3)


def same_points(a, b, tolerance=1e-9):
    """Whether each point of one set is in the other, both ways."""
    distance = np.linalg.norm(a[:, None] - b[None], axis=2)
    return distance.min(axis=1).max() < tolerance and distance.min(axis=0).max() < tolerance


def test_nested_and_turned_placements_agree_with_the_kernel():
    model = Builder("IFC4", "FOOT")
    outer = model.element("IfcElementAssembly", name="outer", at=(3.0, 4.0, 5.0), angle=37)
    inner = model.element("IfcElementAssembly", name="inner", at=(1.0, -2.0, 0.3), angle=-80, whole=outer)
    member = model.member(inner, size=(0.1, 0.2, 2.0), at=(0.5, 0.5, 0.0))
    member.ObjectPlacement.RelativePlacement.Axis = model.direction((0.3, 0.2, 0.9))
    member.ObjectPlacement.RelativePlacement.RefDirection = model.direction((0.9, -0.1, 0.4))
    found = bodies_of(model).of(member)
    assert same_points(found.solids[0].vertices, kernel_points(member))


def test_many_touching_solids_of_one_element_stay_apart():
    model = Builder()
    studs = [model.box((0.038, 0.14, 2.4), (0.038 * count, 0.0, 0.0)) for count in range(6)]
    body = bodies_of(model).of(model.element("IfcMember", studs))
    assert len(body.solids) == 6
    assert body.n_open == 0
    assert volume(body) == pytest.approx(6 * 0.038 * 0.14 * 2.4, rel=1e-9)


def test_one_mapped_shape_makes_many_solids_each_with_its_own_scales():
    model = Builder("IFC4", "INCH")
    unit_box = model.box((1.0, 1.0, 1.0))
    source = model.file.create_entity("IfcRepresentationMap", model.place(), model.representation([unit_box]))
    sizes = [(0.038, 0.14, 2.4), (3.6, 0.14, 0.038), (1.0, 1.0, 1.0), (0.5, 2.5, 1.0)]
    items = [model.mapped(source, at=(count * 5.0, 0.0, 0.0), scales=size) for count, size in enumerate(sizes)]
    body = bodies_of(model).of(model.element("IfcMember", items, at=(1.0, 2.0, 3.0)))
    assert len(body.solids) == 4
    for count, (size, solid) in enumerate(zip(sizes, body.solids, strict=True)):
        low, high = solid.vertices.min(axis=0), solid.vertices.max(axis=0)
        assert low == pytest.approx([1.0 + 5.0 * count, 2.0, 3.0], abs=1e-9)
        assert high - low == pytest.approx(size, abs=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_maps_of_maps_that_turn_scale_and_mirror_agree_with_the_exact_kernel(seed):
    random = np.random.default_rng(seed)
    model = Builder("IFC4", "MILLIMETRE")
    outline = [(0.0, 0.0), (1.0, 0.0), (1.2, 0.7), (0.4, 1.0)]
    inner = model.mapped(
        model.extrusion(outline, 0.8),
        at=random.uniform(-1, 1, 3),
        scales=(1.0, 1.0, 1.0),
        Axis1=random.uniform(-1, 1, 3),
        Axis3=random.uniform(-1, 1, 3),
    )
    outer = model.mapped(inner, at=random.uniform(-1, 1, 3), scales=random.uniform(0.3, 3, 3), Axis2=(0.0, -1.0, 0.0))
    element = model.element("IfcMember", [outer], at=random.uniform(-5, 5, 3), angle=float(random.uniform(0, 360)))
    body = bodies_of(model).of(element)
    assert same_points(body.solids[0].vertices, kernel_points(element, "cgal"), 1e-6)


def test_a_map_with_an_origin_of_its_own_agrees_with_the_kernel():
    model = Builder()
    source = model.file.create_entity(
        "IfcRepresentationMap",
        model.place((0.3, 0.4, 0.5), (0.6, 0.8, 0.0)),
        model.representation([model.box((0.1, 0.2, 1.0))]),
    )
    element = model.element("IfcMember", [model.mapped(source, at=(1.0, 1.0, 0.0))])
    assert same_points(bodies_of(model).of(element).solids[0].vertices, kernel_points(element))


def test_a_hollow_solid_is_one_solid_with_its_void():
    model = Builder()
    points = [*box_corners((3.0, 3.0, 3.0)), *box_corners((1.0, 1.0, 1.0), (1.0, 1.0, 1.0))]
    void = [[index + 8 for index in reversed(face)] for face in BOX_FACES]
    body = bodies_of(model).of(model.element("IfcBuildingElementProxy", [model.faceted(points, BOX_FACES, [void])]))
    (solid,) = body.solids
    assert len(solid.vertices) == 16
    assert volume(body) == pytest.approx(26.0, rel=1e-9)


def test_a_profile_with_a_hole_keeps_it():
    model = Builder()
    outlines = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)], [(0.5, 0.5), (0.5, 1.5), (1.5, 1.5), (1.5, 0.5)]
    ring = [
        model.file.create_entity("IfcPolyline", [model.point(corner) for corner in (*outline, outline[0])])
        for outline in outlines
    ]
    profile = model.file.create_entity(
        "IfcArbitraryProfileDefWithVoids", ProfileType="AREA", OuterCurve=ring[0], InnerCurves=[ring[1]]
    )
    body = bodies_of(model).of(model.element("IfcMember", [model.extruded_profile(profile, 1.0)]))
    assert len(body.solids) == 1
    assert volume(body) == pytest.approx(3.0, rel=1e-9)


def test_precision_is_kept_five_hundred_kilometres_from_the_origin():
    model = Builder("IFC4", "MILLIMETRE")
    place = (500_000.0, 4_000_000.0, 120.0)
    body = bodies_of(model).of(model.wall(at=place, length=3.0, thickness=0.1, height=2.4))
    low, high = box_of(body)
    assert low == pytest.approx(place, abs=1e-8)
    assert high - low == pytest.approx([3.0, 0.1, 2.4], abs=2e-9)


def test_a_body_drawn_far_from_its_own_placement_stays_closed_and_in_size():
    model = Builder("IFC4", "MILLIMETRE")
    far = (500_000.0, 200_000.0, 0.0)
    body = bodies_of(model).of(model.element("IfcWall", [model.faceted_box((3.0, 0.1, 2.4), far)]))
    assert body.n_open == 0
    low, high = box_of(body)
    assert low == pytest.approx(far, abs=1e-8)
    assert high - low == pytest.approx([3.0, 0.1, 2.4], abs=1e-6)


def test_round_solids_hold_what_round_solids_hold():
    model = Builder()
    body = bodies_of(model).of(model.element("IfcPipeSegment", [model.cylinder(0.05, 2.0)]))
    # A polygon of 63 sides or more inside the circle: at most 0.2 % less.
    assert np.pi * 0.05**2 * 2.0 * 0.998 < volume(body) < np.pi * 0.05**2 * 2.0


def test_a_clipped_solid_is_clipped():
    model = Builder()
    plane = model.file.create_entity("IfcPlane", model.place((0.0, 0.0, 2.0), z=(0.0, -0.6, 0.8), x=(1.0, 0.0, 0.0)))
    half = model.file.create_entity("IfcHalfSpaceSolid", plane, False)
    clipped = model.file.create_entity("IfcBooleanClippingResult", "DIFFERENCE", model.box((4.0, 0.2, 2.5)), half)
    body = bodies_of(model).of(model.element("IfcWall", [clipped]))
    # Above z = 2 + 0.75 y all is cut off: mean height 2 + 0.75 * 0.1.
    assert volume(body) == pytest.approx(4.0 * 0.2 * 2.075, rel=1e-9)


def test_several_body_representations_are_one_body():
    model = Builder()
    wall = model.wall()
    shapes = wall.Representation
    shapes.Representations = [
        model.representation([model.box((4.0, 0.2, 2.5))], "Clearance"),
        model.representation([model.box((9.0, 9.0, 9.0))], "Facetation", "Brep"),
        *shapes.Representations,
        model.representation([model.box((8.0, 8.0, 8.0))], "Box"),
        model.representation([model.box((7.0, 7.0, 7.0))], "Body"),
    ]
    assert volume(bodies_of(model).of(wall)) == pytest.approx(2.0, rel=1e-9)


def test_a_body_without_an_identifier_counts_by_its_type():
    model = Builder()
    wall = model.wall()
    wall.Representation.Representations[0].RepresentationIdentifier = None
    assert volume(bodies_of(model).of(wall)) == pytest.approx(2.0, rel=1e-9)


def test_an_open_surface_is_given_and_said_to_be_open():
    model = Builder()
    corners = box_corners((1.0, 1.0, 1.0))
    faces = [BOX_FACES[0], BOX_FACES[2], BOX_FACES[3]]
    body = bodies_of(model).of(model.element("IfcWall", [model.faceted(corners, faces)]))
    assert body.solids
    assert body.n_open == 1


def test_a_face_that_is_missing_is_closed_and_counted():
    model = Builder()
    body = bodies_of(model).of(model.element("IfcWall", [model.faceted_box((4.0, 0.2, 2.5), leave_out=1)]))
    assert (body.n_open, body.n_mended) == (0, 1)
    assert volume(body) == pytest.approx(2.0, rel=1e-9)


def test_what_is_wrong_with_a_body_is_said_in_a_clause():
    model = Builder()
    bodies = bodies_of(model)
    assert "no body" in bodies.of(model.wall(body=False)).fault
    flat = model.element("IfcWall", [model.extrusion([(0.0, 0.0), (0.0, 0.0), (0.0, 0.0)], 1.0)])
    assert bodies.of(flat).fault
    circular = model.element("IfcWall", [model.box((1.0, 1.0, 1.0))])
    circular.ObjectPlacement.PlacementRelTo = circular.ObjectPlacement
    assert "circular" in bodies.of(circular).fault
    item = model.mapped(model.box((1.0, 1.0, 1.0)))
    item.MappingSource.MappedRepresentation.Items = [item]
    assert "into itself" in bodies.of(model.element("IfcWall", [item])).fault
    boolean = model.file.create_entity("IfcBooleanResult", "UNION", model.box((1.0, 1.0, 1.0)), None)
    boolean.SecondOperand = boolean
    assert "refers to itself" in bodies.of(model.element("IfcWall", [boolean])).fault


def test_the_quick_kernel_is_used_for_plane_faces_only():
    model = Builder()
    assert has_plane_faces(model.box((1.0, 1.0, 1.0)))
    assert not has_plane_faces(model.cylinder(1.0, 1.0))
    rounded = model.file.create_entity(
        "IfcCShapeProfileDef", "AREA", None, None, 140.0, 40.0, 1.5, 12.0, InternalFilletRadius=2.0
    )
    assert not has_plane_faces(model.extruded_profile(rounded, 1.0))
    rounded.InternalFilletRadius = None
    assert has_plane_faces(model.extruded_profile(rounded, 1.0))


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("IfcRectangleProfileDef", (140.0, 38.0)),
        ("IfcCShapeProfileDef", (140.0, 40.0, 1.5, 12.0)),
        ("IfcLShapeProfileDef", (140.0, 40.0, 1.5)),
        ("IfcUShapeProfileDef", (140.0, 40.0, 1.5, 1.5)),
        ("IfcIShapeProfileDef", (140.0, 240.0, 6.0, 10.0)),
        ("IfcTShapeProfileDef", (140.0, 40.0, 6.0, 6.0)),
        ("IfcZShapeProfileDef", (140.0, 40.0, 1.5, 1.5)),
        ("IfcRectangleHollowProfileDef", (140.0, 80.0, 4.0)),
        ("IfcTrapeziumProfileDef", (140.0, 100.0, 50.0, 20.0)),
    ],
)
def test_both_kernels_agree_on_angular_profiles(kind, values):
    model = Builder("IFC4", "MILLIMETRE")
    profile = model.file.create_entity(kind, "AREA", None, None, *values)
    item = model.extruded_profile(profile, 2.4)
    (quick,) = Kernel().shells(item)
    element = model.element("IfcMember", [item])
    body = bodies_of(model).of(element)
    assert same_points(quick.vertices, kernel_points(element), 1e-9)
    assert body.n_open == 0


def test_a_rough_box_holds_the_body():
    model = Builder()
    shapes = itertools.chain([model.cylinder(0.5, 2.0)], [model.box((1.0, 2.0, 3.0))])
    for item in shapes:
        element = model.element("IfcPipeSegment", [item], angle=33)
        rough = bodies_of(model).rough_box(element)
        low, high = box_of(bodies_of(model).of(element))
        assert (rough.min(axis=0) <= low + 1e-9).all()
        assert (rough.max(axis=0) >= high - 1e-9).all()
