"""Walls bent in plan: straight lengths parted at the corners, nothing counted twice, nothing guessed."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from geometry.cylinders import Developed
from geometry.solids import Mesh, Prism, as_mesh, moved_to_world, volume
from takeoff.framing.junctions import find_junctions
from takeoff.model import Status, WallTakeoff
from tests.ifc_builder import Builder
from tests.odd_wall_builder import LINED, THICKNESS, bent_plan, bent_wall, only_wall, taken_off, upright

HEIGHT = 2.6
L_LINE = ((0.0, 0.0), (5.0, 0.0), (5.0, 3.0))
"""Layers lie to the left: the inside of the corner is at y > 0, x < 5."""


def stud_plan(line: tuple[tuple[float, float], ...], *, closed: bool = False) -> float:
    """Plan area of the studs between 12.5 and 152.5 mm left of a broken line, m2."""
    outer, inner = bent_plan(line, 0.1525, closed=closed), bent_plan(line, 0.0125, closed=closed)
    return shapely.difference(outer, inner).area


def gross(wall: WallTakeoff) -> float:
    return sum(layer.balance.gross for layer in wall.layers)


def check_whole(wall: WallTakeoff, lengths: int, expected: float) -> None:
    assert wall.status is Status.TAKEN_OFF, wall.reason
    assert len(wall.layers) == lengths
    assert gross(wall) == pytest.approx(expected, rel=1e-6)
    for layer in wall.layers:
        assert layer.balance.residual < 1e-6


LINES = [
    L_LINE,
    ((0.0, 0.0), (4.0, 0.0), (4.0, -3.0)),
    ((0.0, 0.0), (3.0, 0.0), (3.0, 4.0), (-1.0, 4.0)),
    ((0.0, 0.0), (3.0, 0.0), (5.0, 1.0), (8.0, 1.0)),
    ((0.0, 0.0), (2.5, 0.4), (4.5, 1.9), (5.0, 4.4), (3.0, 6.5)),
]


@pytest.mark.parametrize("line", LINES)
def test_each_straight_length_is_a_stud_layer_and_corners_count_once(tmp_path: Path, line):
    model = Builder()
    bent_wall(model, line, height=HEIGHT)
    wall = only_wall(taken_off(model, tmp_path))
    check_whole(wall, len(line) - 1, stud_plan(line) * HEIGHT)
    keys = [layer.frame.layer.key for layer in wall.layers]
    assert keys == [wall.wall.wall_id, *(f"{wall.wall.wall_id}#{n}" for n in range(2, len(line)))]
    assert "bent-wall-parted" in [finding.code for finding in wall.wall.findings]
    area = bent_plan(line, THICKNESS).area
    assert wall.wall.length == pytest.approx(area / THICKNESS, rel=1e-6)
    assert wall.wall.gross_area == pytest.approx(area / THICKNESS * HEIGHT, rel=1e-6)


@pytest.mark.parametrize("line", LINES)
def test_the_lining_lies_on_the_same_side_all_along(tmp_path: Path, line):
    model = Builder()
    bent_wall(model, line, height=HEIGHT)
    wall = only_wall(taken_off(model, tmp_path))
    facing = shapely.difference(bent_plan(line, 0.02), bent_plan(line, 0.0124)).buffer(1e-6)
    for layer in wall.layers:
        front = layer.frame.layer.axes.to_world([[0.5, 0.001, 1.0]])[0]
        assert facing.contains(shapely.points(front[:2]))
        assert [row.material for row in layer.frame.layer.layers] == [material for material, _ in LINED]


def test_a_wall_all_round_a_room_is_four_lengths(tmp_path: Path):
    corners = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
    model = Builder()
    bent_wall(model, corners, height=HEIGHT, closed=True)
    check_whole(only_wall(taken_off(model, tmp_path)), 4, stud_plan(corners, closed=True) * HEIGHT)


def test_a_wall_all_round_a_room_is_filled_from_inside(tmp_path: Path):
    # No rooms in the model and layers alike on both sides: the wall itself shows where inside is.
    corners = ((0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0))
    alike = (("Gypsum board", 0.0125), ("Timber studs", 0.14), ("Gypsum board", 0.0125))
    model = Builder()
    bent_wall(model, corners, height=HEIGHT, layers=alike, closed=True)
    model.wall(length=3.0, height=HEIGHT, at=(30.0, 30.0, 0.0))
    wall = next(each for each in taken_off(model, tmp_path).results if each.wall.name == "Bent")
    assert wall.wall.external
    for layer in wall.layers:
        axes = layer.frame.layer.axes
        (before,) = axes.to_world([[1.0, -0.3, 1.0]])
        assert shapely.box(0.0, 0.0, 6.0, 4.0).contains(shapely.points(before[:2]))


def test_a_body_of_two_boxes_is_parted_like_one(tmp_path: Path):
    # One box holds the corner, the other butts against it; a third model lets them overlap there.
    for short in (THICKNESS, 0.0):
        model = Builder()
        wall = bent_wall(model, L_LINE, height=HEIGHT)
        wall.Representation = model.shape(
            [
                model.box((5.0, THICKNESS, HEIGHT)),
                model.box((THICKNESS, 3.0 - short, HEIGHT), at=(5.0 - THICKNESS, short, 0.0)),
            ]
        )
        check_whole(only_wall(taken_off(model, tmp_path)), 2, stud_plan(L_LINE) * HEIGHT)


def test_a_sloping_top_is_cut_in_every_length(tmp_path: Path):
    # Top falls along y from 3.0 m at y = 0 by 0.2 m a metre: volume by integration over the plan.
    plan = bent_plan(L_LINE, THICKNESS)
    model = Builder()
    flat = as_mesh_of(plan, 1.0)
    vertices = flat.vertices.copy()
    top = vertices[:, 2] > 0.5
    vertices[top, 2] = 3.0 - 0.2 * vertices[top, 1]
    wall = bent_wall(model, L_LINE, height=1.0)
    wall.Representation = model.shape([model.faceted(vertices.tolist(), flat.faces.tolist())])
    taken = only_wall(taken_off(model, tmp_path))
    studs = shapely.difference(bent_plan(L_LINE, 0.1525), bent_plan(L_LINE, 0.0125))
    expected = studs.area * (3.0 - 0.2 * studs.centroid.y)
    check_whole(taken, 2, expected)


def as_mesh_of(plan: shapely.Geometry, height: float) -> Mesh:
    assert isinstance(plan, shapely.Polygon)
    vertices, faces = upright(plan, height)
    return Mesh(np.array(vertices), np.array(faces))


def test_openings_belong_to_the_length_they_cut(tmp_path: Path):
    model = Builder()
    wall = bent_wall(model, L_LINE, height=HEIGHT)
    model.opening(wall, x=1.0, z=0.0, width=1.0, height=2.1, filling="IfcDoor")
    # In the second length, which runs along y at x = 5: a box across it.
    model.opening(
        wall, x=4.0, y=1.0, z=0.9, width=0.0, height=0.0, filling="IfcWindow", items=[model.box((1.5, 1.2, 1.1))]
    )
    taken = only_wall(taken_off(model, tmp_path))
    first, second = (layer.frame.openings for layer in taken.layers)
    assert [opening.filling_class for opening in first] == ["IfcDoor"]
    assert [opening.filling_class for opening in second] == ["IfcWindow"]
    openings = sum(layer.balance.openings for layer in taken.layers)
    assert openings == pytest.approx((1.0 * 2.1 + 1.2 * 1.1) * 0.14, rel=1e-9)
    assert not {"opening-away-from-wall"} & {finding.code for finding in taken.wall.findings}


def test_a_window_round_the_corner_opens_both_lengths(tmp_path: Path):
    model = Builder()
    wall = bent_wall(model, L_LINE, height=HEIGHT)
    model.opening(
        wall, x=4.0, y=-0.2, z=1.0, width=0.0, height=0.0, items=[model.box((1.2, 1.2, 1.0))], filling="IfcWindow"
    )
    taken = only_wall(taken_off(model, tmp_path))
    assert [len(layer.frame.openings) for layer in taken.layers] == [1, 1]
    studs = shapely.difference(bent_plan(L_LINE, 0.1525), bent_plan(L_LINE, 0.0125))
    cut = studs.intersection(shapely.box(4.0, -0.2, 5.2, 1.0)).area
    assert sum(layer.balance.openings for layer in taken.layers) == pytest.approx(cut, rel=1e-6)


def test_modelled_members_are_read_in_the_length_they_stand_in(tmp_path: Path):
    model = Builder()
    wall = bent_wall(model, L_LINE, height=HEIGHT)
    stud = 0.038
    for x in np.arange(0.0, 4.8, 0.6):
        model.member(wall, size=(stud, 0.14, HEIGHT - 2 * stud), at=(float(x), 0.0125, stud), name="Stud")
    for z in (0.0, HEIGHT - stud):
        model.member(wall, size=(4.85, 0.14, stud), at=(0.0, 0.0125, z), name="Plate")
        model.member(wall, size=(0.14, 2.83, stud), at=(5.0 - 0.1525, 0.17, z), name="Plate")
    for y in np.arange(0.17, 3.0 - stud, 0.6):
        model.member(wall, size=(0.14, stud, HEIGHT - 2 * stud), at=(5.0 - 0.1525, float(y), stud), name="Stud")
    taken = only_wall(taken_off(model, tmp_path))
    assert [layer.frame.source.value for layer in taken.layers] == ["modelled", "modelled"]
    framing = sum(layer.balance.framing for layer in taken.layers)
    studs = 8 * stud * 0.14 * (HEIGHT - 2 * stud) + 5 * stud * 0.14 * (HEIGHT - 2 * stud)
    plates = 2 * stud * 0.14 * (4.85 + 2.83)
    corner = 2 * stud * 0.0025 * 0.14  # the plate runs 2.5 mm into the second length's studs
    assert framing == pytest.approx(studs + plates, abs=2.0 * corner)


def test_cavities_lie_in_the_wall_where_it_stands(tmp_path: Path):
    model = Builder("IFC4", "INCH")
    bent_wall(model, L_LINE, height=HEIGHT, at=(100.0, -40.0, 3.0), angle=35.0)
    taken = only_wall(taken_off(model, tmp_path))
    turn = math.radians(35.0)
    matrix = [math.cos(turn), -math.sin(turn), math.sin(turn), math.cos(turn), 100.0, -40.0]
    plan = shapely.affinity.affine_transform(bent_plan(L_LINE, THICKNESS), matrix)
    for layer in taken.layers:
        for cavity in layer.cavities:
            assert plan.contains(shapely.points(cavity.centroid[:2]))
            assert 3.0 < cavity.centroid[2] < 3.0 + HEIGHT
        for member in layer.frame.members:
            assert volume(moved_to_world(as_mesh(member.solid), layer.frame.layer.axes)) > 0.0


def test_a_curve_drawn_in_chords_is_developed(tmp_path: Path):
    turns = np.linspace(0.0, 1.5, 13)
    ring = np.stack([np.sin(turns), -np.cos(turns)], axis=1)
    # From the wall's placement at (0, 0), where x runs along the tangent and y to the centre at (0, 4).
    plan = shapely.Polygon(np.concatenate([4.0 * ring, (4.0 - THICKNESS) * ring[::-1]]) + np.array([0.0, 4.0]))
    model = Builder()
    mesh = as_mesh_of(plan, HEIGHT)
    bent_wall(model, L_LINE, height=HEIGHT, body=model.faceted(mesh.vertices.tolist(), mesh.faces.tolist()))
    taken = only_wall(taken_off(model, tmp_path))
    assert taken.status is Status.TAKEN_OFF, taken.reason
    (layer,) = taken.layers
    assert "curved-wall-developed" in [finding.code for finding in taken.wall.findings]
    axes = layer.frame.layer.axes
    assert isinstance(axes, Developed)
    assert not axes.outward
    assert (axes.face, axes.radius) == pytest.approx((4.0 - 0.0125, 4.0 - 0.0825), abs=1e-6)
    sector = ((4.0 - 0.0125) ** 2 - (4.0 - 0.1525) ** 2) / 2.0 * 1.5 * HEIGHT
    assert layer.balance.gross == pytest.approx(sector, rel=1e-6)


def test_a_tee_in_one_body_is_left_out_with_its_area(tmp_path: Path):
    plan = shapely.union(shapely.box(0.0, 0.0, 6.0, THICKNESS), shapely.box(3.0, 0.0, 3.0 + THICKNESS, 3.0))
    model = Builder()
    mesh = as_mesh_of(plan, HEIGHT)
    bent_wall(model, L_LINE, height=HEIGHT, body=model.faceted(mesh.vertices.tolist(), mesh.faces.tolist()))
    wall = only_wall(taken_off(model, tmp_path))
    assert wall.status is Status.LEFT_OUT
    assert "bent in plan" in wall.reason
    assert wall.wall.gross_area == pytest.approx(plan.area / THICKNESS * HEIGHT, rel=1e-6)


def test_a_wall_with_a_pier_stays_a_straight_wall(tmp_path: Path):
    plan = shapely.union(shapely.box(0.0, 0.0, 4.0, THICKNESS), shapely.box(1.0, 0.0, 1.4, 0.4))
    model = Builder()
    mesh = as_mesh_of(plan, HEIGHT)
    bent_wall(model, L_LINE, height=HEIGHT, body=model.faceted(mesh.vertices.tolist(), mesh.faces.tolist()))
    wall = only_wall(taken_off(model, tmp_path))
    assert wall.status is Status.TAKEN_OFF
    assert len(wall.layers) == 1
    assert wall.layers[0].balance.gross == pytest.approx(4.0 * 0.14 * HEIGHT, rel=1e-9)
    assert "layers-not-as-thick-as-body" in [finding.code for finding in wall.wall.findings]


def test_a_long_wall_with_a_short_return_is_two_lengths(tmp_path: Path):
    line = ((0.0, 0.0), (9.0, 0.0), (9.0, 0.6))
    model = Builder()
    bent_wall(model, line, height=HEIGHT)
    check_whole(only_wall(taken_off(model, tmp_path)), 2, stud_plan(line) * HEIGHT)


def test_a_square_corner_is_framed_with_one_length_running_through(tmp_path: Path):
    # The first length's studs reach to the outer corner of the studs, the second's begin at its inner face.
    model = Builder()
    bent_wall(model, L_LINE, height=HEIGHT)
    wall = only_wall(taken_off(model, tmp_path))
    first, second = (layer.frame.layer for layer in wall.layers)
    assert isinstance(first.outline, Prism)
    assert isinstance(second.outline, Prism)
    # Layers lie to the left of the line: studs from 12.5 to 152.5 mm of both lengths.
    assert first.outline.outline.area == pytest.approx((5.0 - 0.0125) * HEIGHT, rel=1e-9)
    assert second.outline.outline.area == pytest.approx((3.0 - 0.1525) * HEIGHT, rel=1e-9)
    corners = find_junctions([wall.wall])
    (here,), (there,) = corners[first.key], corners[second.key]
    assert (here.kind, here.through, there.kind, there.through) == ("corner", True, "corner", False)
    alone, plain = tmp_path / "alone", Builder()
    alone.mkdir()
    plain.wall(length=5.0 - 0.0125, height=HEIGHT, thickness=THICKNESS, layers=LINED)
    lone = only_wall(taken_off(plain, alone)).layers[0]
    assert len(wall.layers[0].frame.members) > len(lone.frame.members)


def test_a_slight_bend_is_seen(tmp_path: Path):
    line = ((0.0, 0.0), (3.0, 0.0), (6.0, 0.1))
    model = Builder()
    bent_wall(model, line, height=HEIGHT)
    check_whole(only_wall(taken_off(model, tmp_path)), 2, stud_plan(line) * HEIGHT)


def test_a_straight_and_a_curved_length_in_one_body_are_left_out(tmp_path: Path):
    turns = np.linspace(0.0, 1.2, 25)
    ring = np.stack([np.sin(turns), -np.cos(turns)], axis=1)
    curve = shapely.Polygon(np.concatenate([2.0 * ring, (2.0 - THICKNESS) * ring[::-1]]))
    straight = shapely.box(-3.0, -2.0, 0.0, -2.0 + THICKNESS)
    plan = shapely.union(curve, straight)
    assert isinstance(plan, shapely.Polygon)
    model = Builder()
    mesh = as_mesh_of(plan, HEIGHT)
    bent_wall(model, L_LINE, height=HEIGHT, body=model.faceted(mesh.vertices.tolist(), mesh.faces.tolist()))
    wall = only_wall(taken_off(model, tmp_path))
    assert wall.status is Status.LEFT_OUT
    assert "curve" in wall.reason
