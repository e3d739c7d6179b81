"""Small models with frames that are modelled in odd ways, each with its answer by independent arithmetic.

A plain frame is 3.6 m long and 2.4 m high, with plates and studs 45 mm thick, studs centred 0.6 m apart.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from takeoff import Takeoff
from takeoff.model import CavityKind, Source, Status, WallTakeoff
from tests.ifc_builder import BOX_FACES, Builder, box_corners

Box = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Corner and size, m."""
T = 0.045
LENGTH, HEIGHT, DEEP, SHALLOW = 3.6, 2.4, 0.14, 0.09
ENDS, INNER = 0.6 - 1.5 * T, 0.6 - T
"""Clear widths of the first and last bay, and of those between, m."""


def frame(
    length: float = LENGTH, height: float = HEIGHT, depth: float = DEEP, *, x: float = 0.0, z: float = 0.0
) -> list[Box]:
    """Plates and studs of a plain frame: bottom plate, top plate, then the studs from left to right."""
    middles = [T / 2, *(0.6 * step for step in range(1, round(length / 0.6))), length - T / 2]
    plates: list[Box] = [((x, 0.0, up), (length, depth, T)) for up in (z, z + height - T)]
    studs: list[Box] = [((x + middle - T / 2, 0.0, z + T), (T, depth, height - 2 * T)) for middle in middles]
    return [*plates, *studs]


def bays(length: float = LENGTH, height: float = HEIGHT, depth: float = DEEP) -> list[float]:
    """m3 of the bays of a plain frame, from left to right."""
    widths = [ENDS, *[INNER] * (round(length / 0.6) - 2), ENDS]
    return [width * (height - 2 * T) * depth for width in widths]


def framed(model: Builder, boxes: list[Box], name: str = "Framed", **place: Any) -> Any:
    """A wall that has its frame for parts and no body."""
    wall = model.wall(name, body=False, **place)
    for at, size in boxes:
        model.member(wall, size=size, at=at)
    return wall


def only(result: Takeoff) -> WallTakeoff:
    (row,) = result.results
    assert row.status is Status.TAKEN_OFF
    return row


def volumes(row: WallTakeoff) -> list[float]:
    """m3 of the cavities of a wall, stud layer by stud layer."""
    assert all(layer.balance.residual <= 1e-9 for layer in row.layers)
    kept_out = (CavityKind.SLIVER, CavityKind.OPENING_GAP)
    return [one.volume for layer in row.layers for one in layer.cavities if one.kind not in kept_out]


def codes(result: Takeoff) -> set[str]:
    return {finding.code for finding in result.findings}


def table(result: Takeoff) -> Any:
    (row,) = result.walls.itertuples()
    return row


# ---------------------------------------------------------------- frames of two depths


@pytest.mark.parametrize("angle", [0.0, 33.0])
def test_a_shallow_frame_on_a_deep_one_has_nothing_behind_its_studs(run, angle):
    model = Builder()
    framed(model, [*frame(), *frame(height=1.2, depth=SHALLOW, z=HEIGHT)], angle=angle, at=(7.0, 5.0, 0.0))
    result = run(model)
    expected = [*bays(), *bays(height=1.2, depth=SHALLOW)]
    assert volumes(only(result)) == pytest.approx(expected, rel=1e-6)
    assert "open-ended-bay" not in codes(result)
    row = table(result)
    assert row.stud_depth_m == pytest.approx(DEEP)
    assert row.gross_area_m2 == pytest.approx(LENGTH * (HEIGHT + 1.2))
    assert row.insulated_area_m2 == pytest.approx(LENGTH * (HEIGHT + 1.2))
    assert [one.measured for one in result.findings if one.code == "frame-of-several-depths"] == [
        pytest.approx(SHALLOW)
    ]


def test_holes_of_a_frame_on_another_count_from_the_floor_below_both(run):
    """The upper frame stands 2.4 m over the floor, so its holes are higher than that and need a ladder."""
    model = Builder()
    framed(model, [*frame(), *frame(height=1.2, depth=SHALLOW, z=HEIGHT)])
    result = run(model)
    upper = only(result).layers[1].frame.layer.key
    holes = result.holes[result.holes.layer_key == upper]
    assert len(holes) >= 6
    assert (holes.height_above_floor_m - holes.world_z_m).abs().max() <= 1e-9
    assert holes.height_above_floor_m.min() > HEIGHT
    assert holes.ladder.all()


def test_a_frame_on_another_that_reaches_a_floor_of_its_own_is_filled_from_there(run):
    model = Builder()
    model.storey("Upper floor", HEIGHT)
    framed(model, [*frame(), *frame(depth=SHALLOW, z=HEIGHT)])
    model.element("IfcWall", [model.box((3.0, 0.2, 2.4), (0.0, 5.0, HEIGHT))], name="Upstairs")
    model.file.by_type("IfcRelContainedInSpatialStructure")[-1].RelatingStructure = model.file.by_type(
        "IfcBuildingStorey"
    )[-1]
    result = run(model)
    upper = next(row for row in result.results if row.wall.name == "Framed").layers[1].frame.layer.key
    holes = result.holes[result.holes.layer_key == upper]
    assert (holes.world_z_m - holes.height_above_floor_m).tolist() == pytest.approx([HEIGHT] * len(holes))


@pytest.mark.parametrize("own_studs", [True, False])
def test_of_a_deep_and_a_shallow_frame_side_by_side_each_keeps_its_depth(run, own_studs):
    """own_studs: else the shallow frame has no first stud and ends at the last one of the deep frame."""
    model = Builder()
    beside = frame(depth=SHALLOW, x=LENGTH)
    if not own_studs:
        del beside[2]
    framed(model, [*frame(), *beside])
    result = run(model)
    expected = [*bays(), *bays(depth=SHALLOW)]
    if not own_studs:
        expected[6] += T * (HEIGHT - 2 * T) * SHALLOW
    assert volumes(only(result)) == pytest.approx(expected, rel=1e-6)
    assert "open-ended-bay" not in codes(result)
    assert table(result).insulated_area_m2 == pytest.approx(2 * LENGTH * HEIGHT)
    assert table(result).stud_depth_m == pytest.approx(DEEP)


def test_parts_filled_from_the_other_side_are_the_same_seen_from_there(run):
    model = Builder()
    beside = frame(depth=SHALLOW, x=LENGTH)
    del beside[3]
    framed(model, [*frame(), *beside])
    model.space("Room", size=(2 * LENGTH, 3.0, HEIGHT), at=(0.0, DEEP, 0.0))
    result = run(model)
    left, right = only(result).layers
    joined = ENDS + T + INNER
    height = HEIGHT - 2 * T
    expected = [INNER, INNER, INNER, ENDS, joined]
    assert [one.volume for one in left.cavities] == pytest.approx(bays(), rel=1e-6)
    assert sorted(one.volume for one in right.cavities) == pytest.approx(
        sorted(width * height * SHALLOW for width in expected), rel=1e-6
    )
    assert right.cavities[-1].outline.bounds == pytest.approx((LENGTH - T - joined, T, LENGTH - T, HEIGHT - T))


def test_shallow_studs_may_stand_on_the_plate_of_the_deep_frame(run):
    model = Builder()
    above = frame(height=1.2, depth=SHALLOW, z=HEIGHT)
    above = [above[1], *[((x, y, HEIGHT), (dx, dy, dz + T)) for (x, y, _), (dx, dy, dz) in above[2:]]]
    framed(model, [*frame(), *above])
    result = run(model)
    low = [volume * (1.2 - T) / (1.2 - 2 * T) for volume in bays(height=1.2, depth=SHALLOW)]
    assert volumes(only(result)) == pytest.approx([*bays(), *low], rel=1e-6)
    assert "open-ended-bay" not in codes(result)


def test_an_opening_belongs_to_the_part_of_the_frame_that_it_lies_in(run):
    model = Builder()
    wall = framed(model, [*frame(), *frame(depth=SHALLOW, x=LENGTH)])
    # between the second and third stud of the shallow frame, from plate to plate
    model.opening(wall, x=LENGTH + 0.6 + T / 2, z=T, width=INNER, height=HEIGHT - 2 * T, filling="IfcDoor")
    result = run(model)
    expected = [*bays(), *bays(depth=SHALLOW)]
    gone = expected.pop(7)
    assert volumes(only(result)) == pytest.approx(expected, rel=1e-6)
    assert codes(result) == {"frame-of-several-depths"}
    assert [layer.balance.openings for layer in only(result).layers] == pytest.approx([0.0, gone])


def test_two_rows_of_studs_behind_each_other_are_one_stud_layer_still(run):
    model = Builder()
    rear = [((x, 0.2, z), size) for (x, _, z), size in frame(depth=SHALLOW)]
    framed(model, [*frame(depth=SHALLOW), *rear])
    result = run(model)
    assert len(only(result).layers) == 1
    assert table(result).stud_depth_m == pytest.approx(0.29)


# ---------------------------------------------------------------- a frame in one shape


@pytest.mark.parametrize("kind", ["brep", "polygons", "triangles"])
@pytest.mark.parametrize("order", ["box by box", "mixed"])
def test_a_frame_in_one_shape_has_a_member_for_every_solid_that_touches_others(run, kind, order):
    """Plates and end studs share their corners, so that edges belong to two solids."""
    model = Builder()
    boxes = frame()
    corners = [corner for at, size in boxes for corner in box_corners(size, at)]
    faces = [[8 * number + corner for corner in face] for number in range(len(boxes)) for face in BOX_FACES]
    if order == "mixed":
        faces = [faces[row] for row in np.random.default_rng(7).permutation(len(faces))]
    wall = model.wall("Framed", body=False)
    model.element("IfcMember", [one_shape(model, kind, corners, faces)], whole=wall)
    result = run(model)
    assert len(only(result).layers[0].frame.members) == len(boxes) == 9
    assert volumes(only(result)) == pytest.approx(bays(), rel=1e-6)
    assert codes(result) == set()


def one_shape(model: Builder, kind: str, corners: list[Any], faces: list[list[int]]) -> Any:
    if kind == "brep":
        return model.faceted(corners, faces)
    points = model.file.create_entity(
        "IfcCartesianPointList3D", [[value / model.scale for value in corner] for corner in corners]
    )
    if kind == "polygons":
        loops = [model.file.create_entity("IfcIndexedPolygonalFace", [n + 1 for n in face]) for face in faces]
        return model.file.create_entity("IfcPolygonalFaceSet", points, True, loops, None)
    halves = [half for a, b, c, d in faces for half in ([a + 1, b + 1, c + 1], [a + 1, c + 1, d + 1])]
    return model.file.create_entity("IfcTriangulatedFaceSet", points, None, True, halves, None)


@pytest.mark.parametrize("layers", [(), (("Gypsum board", 0.0125), ("Wood studs", DEEP), ("OSB", 0.012))])
@pytest.mark.parametrize("boarded", [False, True])
def test_a_wall_may_be_its_own_frame(run, boarded, layers):
    """Plates and studs are the solids of the wall's own body; boarded: its boards are too."""
    model = Builder()
    items = [model.box(size, at) for at, size in frame()]
    if boarded:
        items += [model.box((LENGTH, 0.0125, HEIGHT), (0.0, y, 0.0)) for y in (-0.0125, DEEP)]
    wall = model.element("IfcWall", items, name="Frame")
    if layers:
        model.layer_usage([wall], model.layer_set(layers), offset=-0.0125)
    result = run(model)
    row = only(result)
    assert volumes(row) == pytest.approx(bays(), rel=1e-6)
    assert row.layers[0].frame.source is Source.MODELLED
    assert table(result).gross_area_m2 == pytest.approx(LENGTH * HEIGHT)
    assert codes(result) - {"parts-outside-stud-layer"} == {"body-is-frame"}


def test_a_wall_in_pieces_is_no_frame(run):
    """Two piers, a lintel and a sill of a layered wall with a window left between them."""
    model = Builder()
    layers = (("Gypsum board", 0.0125), ("Wood studs", DEEP), ("OSB", 0.0125))
    thick = DEEP + 0.025
    pieces = [((0.0, 0.0), (0.9, 2.4)), ((1.9, 0.0), (0.9, 2.4)), ((0.9, 2.1), (1.0, 0.3)), ((0.9, 0.0), (1.0, 0.9))]
    items = [model.box((dx, thick, dz), (x, 0.0, z)) for (x, z), (dx, dz) in pieces]
    wall = model.element("IfcWall", items, name="Pieces")
    model.layer_usage([wall], model.layer_set(layers))
    result = run(model)
    assert only(result).layers[0].frame.source is Source.LAID_OUT
    assert table(result).gross_area_m2 - table(result).opening_area_m2 == pytest.approx(2.8 * 2.4 - 1.0 * 1.2)


# ---------------------------------------------------------------- a wall that runs round a room


def test_opposite_sides_of_a_ring_are_no_rows_of_studs_behind_each_other(run):
    """5 x 4 m outside, 12.5 mm lining, 140 mm studs, 12.5 mm sheathing, 2.7 m high: the studs' ring is 4.975 x 3.975 m
    outside and 4.695 x 3.695 m inside."""
    model = Builder()
    points = [
        [(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)],
        [(0.165, 0.165), (4.835, 0.165), (4.835, 3.835), (0.165, 3.835)],
    ]
    rings = [[model.point(point) for point in ring] for ring in points]
    curves = [model.file.create_entity("IfcPolyline", [*ring, ring[0]]) for ring in rings]
    profile = model.file.create_entity("IfcArbitraryProfileDefWithVoids", "AREA", None, curves[0], [curves[1]])
    wall = model.element("IfcWall", [model.extruded_profile(profile, 2.7)], name="Ring")
    model.layer_usage([wall], model.layer_set([("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB", 0.0125)]))
    result = run(model)
    row = table(result)
    studs = (4.975 * 3.975 - 4.695 * 3.695) * 2.7
    assert row.gross_volume_m3 == pytest.approx(studs, rel=1e-6)
    assert row.stud_depth_m == pytest.approx(0.14)
    assert row.insulated_area_m2 == pytest.approx(studs / 0.14, rel=1e-6)
    assert row.stud_layers == 4
