"""Curved walls end to end: developed along the arc of the studs, against closed forms and finely faceted solids."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from geometry.booleans import boolean_voids
from geometry.cylinders import Developed, divided
from geometry.solids import Mesh, Prism, as_mesh, moved_to_world, silhouette, volume
from takeoff.framing.junctions import find_junctions
from takeoff.model import CavityKind, Status, StudLayer, WallTakeoff
from takeoff.pipeline import take_off
from tests.ifc_builder import BOX_FACES, Builder, box_corners
from tests.odd_wall_builder import LINED, THICKNESS, curved_wall, only_wall, sector, taken_off

RADIUS, SWEEP, HEIGHT = 4.0, 1.3, 2.6
MODELS = Path(__file__).resolve().parents[2].parent / "shared" / "models"


def one_curved_wall(folder: Path, *, towards_centre: bool = True, unit: str = "MILLIMETRE", **place) -> WallTakeoff:
    model = Builder("IFC4", unit)
    curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED, towards_centre=towards_centre, **place)
    return only_wall(taken_off(model, folder))


def axes_of(layer: StudLayer) -> Developed:
    assert isinstance(layer.axes, Developed)
    return layer.axes


def stud_radii(*, towards_centre: bool) -> tuple[float, float]:
    near, far = 0.0125, 0.1525
    return (RADIUS - far, RADIUS - near) if towards_centre else (RADIUS + near, RADIUS + far)


@pytest.mark.parametrize("towards_centre", [True, False])
def test_the_stud_layer_has_the_closed_form_of_an_annulus_sector(tmp_path: Path, towards_centre: bool):
    wall = one_curved_wall(tmp_path, towards_centre=towards_centre)
    inner, outer = stud_radii(towards_centre=towards_centre)
    balance = wall.layers[0].balance
    assert balance.gross == pytest.approx((outer**2 - inner**2) / 2.0 * SWEEP * HEIGHT, rel=1e-9)
    assert balance.residual < 1e-9
    middle = 0.5 * (inner + outer)
    assert wall.wall.length == pytest.approx(middle * SWEEP, rel=1e-9)
    assert wall.wall.gross_area == pytest.approx(middle * SWEEP * HEIGHT, rel=1e-9)
    assert wall.layers[0].gross_area == pytest.approx(middle * SWEEP * HEIGHT, rel=1e-9)
    assert [finding.code for finding in wall.wall.findings] == ["curved-wall-developed"]


@pytest.mark.parametrize("towards_centre", [True, False])
def test_layers_lie_where_the_layer_set_says(tmp_path: Path, towards_centre: bool):
    # The lining is the first layer: the fill face is 12.5 mm from the axis, whichever way the wall bends.
    layer = one_curved_wall(tmp_path, towards_centre=towards_centre).wall.stud_layers[0]
    axes = axes_of(layer)
    assert axes.outward is not towards_centre
    face = RADIUS - 0.0125 if towards_centre else RADIUS + 0.0125
    assert axes.face == pytest.approx(face, abs=1e-9)
    assert [row.material for row in layer.layers] == [material for material, _ in LINED]
    assert layer.layers[0].y_min == pytest.approx(-0.0125, abs=1e-9)


def test_cavity_centroids_lie_in_the_wall(tmp_path: Path):
    wall = one_curved_wall(tmp_path, at=(7.0, -2.0, 1.0), angle=30.0)
    inner, outer = stud_radii(towards_centre=True)
    turn = math.radians(30.0)
    centre = np.array([7.0 - RADIUS * math.sin(turn), -2.0 + RADIUS * math.cos(turn)])
    for cavity in wall.layers[0].cavities:
        reach = float(np.linalg.norm(np.array(cavity.centroid[:2]) - centre))
        assert inner < reach < outer
        assert 1.0 < cavity.centroid[2] < 1.0 + HEIGHT


@pytest.mark.parametrize("towards_centre", [True, False])
def test_studs_keep_their_spacing_along_the_arc(tmp_path: Path, towards_centre: bool):
    wall = one_curved_wall(tmp_path, towards_centre=towards_centre)
    bays = [cavity for cavity in wall.layers[0].cavities if cavity.kind is CavityKind.FULL_HEIGHT]
    starts = sorted(bay.outline.bounds[0] for bay in bays)
    assert len(starts) > 5
    assert np.diff(starts)[1:] == pytest.approx(np.full(len(starts) - 2, starts[2] - starts[1]), abs=1e-6)


def in_the_world(solid: Prism | Mesh, axes: Developed) -> Mesh:
    """A solid in rolled-out axes as a finely faceted one in the world."""
    fine = divided(as_mesh(solid), lambda ends: np.abs(ends[:, 0, 0] - ends[:, 1, 0]) > 0.05)
    return moved_to_world(fine, axes)


@pytest.mark.parametrize("towards_centre", [True, False])
def test_cavities_have_the_volume_of_finely_faceted_solids(tmp_path: Path, towards_centre: bool):
    wall = one_curved_wall(tmp_path, towards_centre=towards_centre)
    (taken,) = wall.layers
    axes = axes_of(taken.frame.layer)
    inner, outer = stud_radii(towards_centre=towards_centre)
    region = in_the_world(Prism(silhouette(taken.frame.layer.outline), 0.0, taken.frame.layer.depth), axes)
    assert volume(region) == pytest.approx((outer**2 - inner**2) / 2.0 * SWEEP * HEIGHT, rel=5e-5)
    members = [in_the_world(member.solid, axes) for member in taken.frame.members]
    left = sum(boolean_voids(region, members, (-100.0, 100.0)))
    # Facets of length c take (c / R)^2 / 6 of a sector: 3e-5 for 50 mm on 4 m.
    assert sum(cavity.volume for cavity in taken.cavities) == pytest.approx(left, rel=5e-5)


def test_a_straight_window_takes_the_volume_it_takes_of_the_world(tmp_path: Path):
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    # A box through the wall near the middle of the arc, its sides parallel and so not radial.
    turn = 0.6
    box = model.box((1.2, 2.0, 1.0))
    box.Position = model.place(
        (RADIUS * math.sin(turn) - 1.3, RADIUS * (1.0 - math.cos(turn)) - 1.0, 0.9),
        x=(math.cos(turn), math.sin(turn), 0.0),
    )
    model.opening(wall, x=0.0, y=0.0, z=0.0, width=0.0, height=0.0, items=[box])
    (taken,) = only_wall(taken_off(model, tmp_path)).layers
    inner, outer = stud_radii(towards_centre=True)
    # The same in the wall's own axes: centre at (0, R), angles from its start.
    body = sector(inner, outer, (-math.pi / 2.0, SWEEP - math.pi / 2.0), HEIGHT, 3000)
    plain = box_mesh((1.2, 2.0, 1.0))
    cos, sin = math.cos(turn), math.sin(turn)
    turned = plain.vertices @ np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])
    shifted = turned + np.array([RADIUS * sin - 1.3, RADIUS * (1.0 - cos) - 1.0 - RADIUS, 0.9])
    left = sum(boolean_voids(body, [Mesh(shifted, plain.faces)], (-100.0, 100.0)))
    assert len(taken.frame.openings) == 1
    assert taken.balance.gross - taken.balance.openings == pytest.approx(left, rel=1e-4)


def box_mesh(size: tuple[float, float, float]) -> Mesh:
    faces = [triangle for a, b, c, d in BOX_FACES for triangle in ((a, b, c), (a, c, d))]
    return Mesh(np.array(box_corners(size)), np.array(faces))


def test_modelled_studs_and_plates_round_an_arc_are_read(tmp_path: Path):
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    inner, outer = stud_radii(towards_centre=True)
    stud = 0.045

    def member(name: str, low: float, high: float, z: float, height: float) -> None:
        """A member of the full depth between two angles: 40 facets with corners on the arcs."""
        mesh = sector(inner, outer, (low - math.pi / 2.0, high - math.pi / 2.0), height, 40)
        points = (mesh.vertices + np.array([0.0, RADIUS, z])).tolist()
        model.element("IfcMember", [model.faceted(points, mesh.faces.tolist())], name=name, whole=wall)

    middle = 0.5 * (inner + outer)
    member("Plate", 0.0, SWEEP, 0.0, stud)
    member("Plate", 0.0, SWEEP, HEIGHT - stud, stud)
    places = np.linspace(0.0, SWEEP - stud / middle, 9)
    for place in places:
        member("Stud", place, place + stud / middle, stud, HEIGHT - 2.0 * stud)
    (taken,) = only_wall(taken_off(model, tmp_path)).layers
    assert taken.frame.source.value == "modelled"
    bays = [cavity for cavity in taken.cavities if cavity.kind is CavityKind.FULL_HEIGHT]
    clear = (SWEEP - 9.0 * stud / middle) / 8.0
    expected = (outer**2 - inner**2) / 2.0 * clear * (HEIGHT - 2.0 * stud)
    assert [bay.volume for bay in bays] == pytest.approx([expected] * 8, rel=1e-6)


def test_straight_studs_in_a_curved_wall_keep_their_volume(tmp_path: Path):
    # Boxes of 45 x 140 mm set radially: their faces are flat, the studs' layer is round.
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    inner, outer = stud_radii(towards_centre=True)
    for turn in np.linspace(0.02, SWEEP - 0.02, 6):
        box = model.box((0.045, 0.14, HEIGHT))
        cos, sin = math.cos(turn), math.sin(turn)
        corner = (outer * sin - 0.0225 * cos, RADIUS - outer * cos - 0.0225 * sin, 0.0)
        box.Position = model.place(corner, x=(cos, sin, 0.0))
        model.element("IfcMember", [box], name="Stud", whole=wall)
    (taken,) = only_wall(taken_off(model, tmp_path)).layers
    assert taken.frame.source.value == "modelled"
    assert taken.balance.framing == pytest.approx(6 * 0.045 * 0.14 * HEIGHT, rel=1e-3)
    assert taken.balance.gross == pytest.approx((outer**2 - inner**2) / 2.0 * SWEEP * HEIGHT, rel=1e-9)
    assert taken.balance.residual < 1e-6


def test_a_roof_plane_cuts_a_curved_wall_exactly(tmp_path: Path):
    # z <= 2 + 0.4 x + 0.3 y with x = r sin t, y = R - r cos t, integrated over the sector by hand.
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=5.0, layers=LINED)
    body = wall.Representation.Representations[1]
    plane = model.file.create_entity("IfcPlane", model.place((0.0, 0.0, 2.0), x=(1.0, 0.0, 0.4), z=(-0.4, -0.3, 1.0)))
    half = model.file.create_entity("IfcHalfSpaceSolid", plane, False)
    body.Items = [model.file.create_entity("IfcBooleanClippingResult", "DIFFERENCE", body.Items[0], half)]
    (taken,) = only_wall(taken_off(model, tmp_path)).layers
    inner, outer = stud_radii(towards_centre=True)
    area, moment = (outer**2 - inner**2) / 2.0, (outer**3 - inner**3) / 3.0
    expected = (
        area * SWEEP * (2.0 + 0.3 * RADIUS) + 0.4 * moment * (1.0 - math.cos(SWEEP)) - 0.3 * moment * math.sin(SWEEP)
    )
    # The cut runs straight from corner to corner of chords that rise 1 mm at most.
    assert taken.balance.gross == pytest.approx(expected, rel=5e-5)
    assert taken.balance.residual < 1e-6


def test_straight_plates_between_radial_studs_are_bent_and_keep_their_volume(tmp_path: Path):
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    inner, outer = stud_radii(towards_centre=True)

    def member(name: str, size: tuple[float, float, float], turn: float, behind: float, z: float) -> float:
        """A box set radially at an angle, its near face so far behind the outer one in its middle."""
        box = model.box(size)
        cos, sin, reach = math.cos(turn), math.sin(turn), outer - behind
        corner = (reach * sin - size[0] / 2.0 * cos, RADIUS - reach * cos - size[0] / 2.0 * sin, z)
        box.Position = model.place(corner, x=(cos, sin, 0.0))
        model.element("IfcMember", [box], name=name, whole=wall)
        return size[0] * size[1] * size[2]

    turns = np.linspace(0.02, SWEEP - 0.02, 9)
    total = sum(member("Stud", (0.045, 0.14, HEIGHT - 0.09), turn, 0.0, 0.045) for turn in turns)
    chord = 2.0 * inner * math.sin((turns[1] - turns[0]) / 2.0)
    for turn in 0.5 * (turns[:-1] + turns[1:]):
        total += sum(member("Plate", (chord, 0.12, 0.045), turn, 0.01, z) for z in (0.0, HEIGHT - 0.045))
    (taken,) = only_wall(taken_off(model, tmp_path)).layers
    assert taken.balance.residual < 1e-6
    # 0.7 mm of a stud's corners stick out of the round layer; plates are bent in steps of 1 mm.
    assert taken.balance.framing == pytest.approx(total, rel=1e-3)


def test_a_flat_wall_beside_a_curved_one_is_taken_off_as_if_alone(tmp_path: Path):
    alone = Builder()
    alone.wall(length=3.0, height=HEIGHT, layers=LINED, thickness=THICKNESS)
    flat = only_wall(taken_off(alone, tmp_path))
    model = Builder()
    model.wall(length=3.0, height=HEIGHT, layers=LINED, thickness=THICKNESS)
    curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED, at=(3.0, 0.0, 0.0))
    both = taken_off(model, tmp_path).results
    assert [wall.status for wall in both] == [Status.TAKEN_OFF] * 2
    beside = next(wall for wall in both if wall.wall.name == "Wall")
    assert beside.layers[0].balance.cavities == pytest.approx(flat.layers[0].balance.cavities, rel=1e-9)


def test_a_partition_that_meets_a_curved_wall_is_a_tee_of_both(tmp_path: Path):
    model = Builder()
    curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    turn = 0.65
    foot = (RADIUS * math.sin(turn), RADIUS * (1.0 - math.cos(turn)), 0.0)
    model.wall(
        "Partition", length=2.0, height=HEIGHT, thickness=THICKNESS, layers=LINED, at=foot,
        angle=math.degrees(turn) - 90.0,
    )  # fmt: skip
    walls = [wall.wall for wall in taken_off(model, tmp_path).results]
    bent = next(wall for wall in walls if wall.name == "Curved")
    straight = next(wall for wall in walls if wall.name == "Partition")
    junctions = find_junctions(walls)
    (here,) = junctions[bent.wall_id]
    (there,) = junctions[straight.wall_id]
    assert (here.kind, here.at, there.kind) == ("tee", "path", "tee")
    assert here.x_max - here.x_min == pytest.approx(0.14, abs=0.005)
    # The partition's studs lie from 12.5 to 152.5 mm to the left of its line: seen along the arc, after it.
    axes = axes_of(bent.stud_layers[0])
    ends = axes.to_world([[0.5 * (here.x_min + here.x_max), 0.0, 0.0]])[0]
    assert math.atan2(ends[0], RADIUS - ends[1]) == pytest.approx(turn + 0.0825 / axes.face, abs=2e-3)


def test_a_room_inside_a_curved_wall_is_the_fill_side(tmp_path: Path):
    # Alike layers on both sides: only the room tells. The centre lies at (0, R) from the wall's start.
    model = Builder()
    layers = (("Gypsum board", 0.0125), ("Timber studs", 0.14), ("Gypsum board", 0.0125))
    curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=layers, towards_centre=False)
    model.space("Hall", size=(3.2, 3.0, 2.6), at=(-0.2, -4.0, 0.0))
    wall = only_wall(taken_off(model, tmp_path))
    layer = wall.wall.stud_layers[0]
    assert layer.rooms == ("Hall",)
    assert "inside" in layer.fill_side
    assert axes_of(layer).outward


def test_without_a_sense_of_the_layers_the_choice_is_told(tmp_path: Path):
    model = Builder()
    wall = curved_wall(model, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED)
    # Placed at the centre of its arc, where no direction points along a radius.
    shift = wall.ObjectPlacement.RelativePlacement
    shift.Location = model.point((0.0, RADIUS, 0.0))
    # Without its axis it has no path either, that would say from which side to which its layers are stacked.
    (body,) = (each for each in wall.Representation.Representations if each.RepresentationIdentifier == "Body")
    wall.Representation.Representations = [body]
    body.Items[0].Position = model.place((0.0, -RADIUS, 0.0))
    found = only_wall(taken_off(model, tmp_path))
    assert found.status is Status.TAKEN_OFF
    assert "layer-order-assumed" in [finding.code for finding in found.wall.findings]


def test_a_full_ring_is_left_out_with_its_area(tmp_path: Path):
    model = Builder()
    curved_wall(model, radius=RADIUS, sweep=2.0 * math.pi - 0.05, height=HEIGHT, layers=LINED)
    nearly = only_wall(taken_off(model, tmp_path))
    assert nearly.status is Status.TAKEN_OFF
    ring = Builder()
    wall = curved_wall(ring, radius=RADIUS, sweep=1.0, height=HEIGHT, layers=LINED)
    body = sector(RADIUS - THICKNESS, RADIUS, (0.0, 2.0 * math.pi), HEIGHT, 90)
    item = ring.faceted((body.vertices + np.array([0.0, RADIUS, 0.0])).tolist(), body.faces.tolist())
    wall.Representation.Representations[1].Items = [item]
    found = only_wall(taken_off(ring, tmp_path))
    assert found.status is Status.LEFT_OUT
    assert "closes on itself" in found.reason
    assert found.wall.gross_area == pytest.approx(2.0 * math.pi * (RADIUS - THICKNESS / 2.0) * HEIGHT, rel=2e-3)


@pytest.mark.skipif(not MODELS.is_dir(), reason="the shared models are not here")
def test_the_curved_wall_of_the_shared_models_needs_a_stud_layer_from_the_job(tmp_path: Path):
    path = MODELS / "curved-wall.ifc"
    left = only_wall(take_off(path))
    assert left.status is Status.LEFT_OUT
    assert "no stud layer" in left.reason
    # Axis of 3 m radius over half a turn, 2.5 m high (figures of the file).
    assert left.wall.gross_area == pytest.approx(3.0 * math.pi * 2.5, rel=1e-9)
    job = tmp_path / "job.toml"
    job.write_text('[[wall]]\nname = "*"\nstud_layer = 1\n', encoding="utf-8")
    (taken,) = only_wall(take_off(path, job)).layers
    assert taken.balance.gross == pytest.approx((3.075**2 - 2.925**2) / 2.0 * math.pi * 2.5, rel=1e-9)
    assert len(taken.frame.openings) == 2


@pytest.mark.skipif(not MODELS.is_dir(), reason="the shared models are not here")
def test_both_stud_layers_of_the_large_curved_wall_are_developed():
    takeoff = take_off(MODELS / "two-stud-layers.ifc")
    curved = next(wall for wall in takeoff.results if "ACM" in wall.wall.type_name)
    assert [layer.frame.layer.key[-2:] for layer in curved.layers][1] == "#2"
    first, second = (layer.frame.layer for layer in curved.layers)
    # The path has a radius of 65.00519 m and runs anticlockwise, so the layers are stacked towards the centre, from
    # 0.2921 m outside it. Studs begin 98.4 and 415.9 mm behind the face and are 152.4 mm deep. (The placement points
    # the other way; that the path is right is seen by the 63.5 mm deep grooves, which then lie in the cladding.)
    face = 65.00519 + 0.2921
    radii = (face - 0.0984 - 0.0762, face - 0.4159 - 0.0762)
    assert (axes_of(first).radius, axes_of(second).radius) == pytest.approx(radii, abs=1e-4)
    assert all(opening.solid is None for layer in curved.layers for opening in layer.frame.openings)
    for taken in curved.layers:
        assert taken.balance.residual < 1e-9


@pytest.mark.parametrize("towards_centre", [True, False])
def test_the_path_and_not_the_placement_says_to_which_side_layers_are_stacked(tmp_path: Path, towards_centre: bool):
    # IFC wants x of the placement along the path at its start. Here the placement is turned half round and what is
    # drawn in it is turned back, so the wall is the same and only the placement points the other way.
    model, plain = Builder(), Builder()
    for each in (model, plain):
        curved_wall(each, radius=RADIUS, sweep=SWEEP, height=HEIGHT, layers=LINED, towards_centre=towards_centre)
    (wall,) = model.file.by_type("IfcWall")
    wall.ObjectPlacement.RelativePlacement = model.place(x=(-1.0, 0.0, 0.0), z=(0.0, 0.0, 1.0))
    for representation in wall.Representation.Representations:
        (item,) = representation.Items
        if item.is_a("IfcExtrudedAreaSolid"):
            item.Position = model.place(x=(-1.0, 0.0, 0.0), z=(0.0, 0.0, 1.0))
        else:
            item.Points.CoordList = [(-x, -y) for x, y in item.Points.CoordList]
    turned, usual = only_wall(taken_off(model, tmp_path)), only_wall(taken_off(plain, tmp_path))
    assert turned.layers[0].balance.gross == pytest.approx(usual.layers[0].balance.gross, rel=1e-9)
    axes, same = axes_of(turned.layers[0].frame.layer), axes_of(usual.layers[0].frame.layer)
    assert axes.outward is same.outward
    assert axes.origin == pytest.approx(same.origin, abs=1e-9)
