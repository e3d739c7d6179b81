"""Odd bays from IFC to volumes: closed forms worked by hand, and booleans of closed meshes on another road.

The bodies are made here, corner by corner, so that their volumes are known without the program. Formulas: prism, and
prismatoid (V = h (A0 + 4 Am + A1) / 6), in any handbook of mathematics; written down from memory.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import shapely

from geometry.booleans import boolean_voids
from geometry.solids import Mesh, Prism, Solid, as_mesh, moved
from takeoff.model import CavityKind, LayerTakeoff, Status, WallTakeoff
from tests.ifc_builder import Builder
from tests.odd_wall_builder import (
    LINED,
    STUDS,
    THICKNESS,
    Place,
    bent_top,
    leaning,
    odd_wall,
    only_wall,
    slab,
    solid_of,
    splayed,
    taken_off,
)

SHARP = """
[tolerances]
sliver_width = "0.02 mm"
sliver_depth = "0.02 mm"
"""
"""Slivers off: what is open counts as a cavity however narrow it is."""

PLACES = [Place(), Place((12.0, -7.0, 3.0), 35.0), Place((-250.0, 90.0, 0.4), 101.0, roll=8.0)]


def filled(taken: LayerTakeoff) -> float:
    """All that is open in the stud layer, m3."""
    return sum(cavity.volume for cavity in taken.cavities if cavity.kind is not CavityKind.OPENING_GAP)


def parts_left(taken: LayerTakeoff, body: Mesh, openings: Sequence[Mesh], grown: float = 0.0) -> tuple[float, ...]:
    """Connected parts of the body's stud layer less openings and members by mesh booleans, m3; crumbs left out.

    grown: m by which members are made larger all round.
    """
    layer = taken.frame.layer
    members = [as_mesh(_grown(member.solid, grown)) for member in taken.frame.members]
    local = [moved(mesh, layer.axes) for mesh in (body, *openings)]
    parts = boolean_voids(local[0], [*local[1:], *members], (0.0, layer.depth))
    return tuple(part for part in parts if part > 1e-7)


def _grown(solid: Solid, by: float) -> Solid:
    if by == 0.0 or not isinstance(solid, Prism):
        return solid
    outline = shapely.buffer(solid.outline, by, join_style="mitre")
    assert isinstance(outline, shapely.Polygon)
    return Prism(outline, solid.y_min - by, solid.y_max + by)


def check(taken: LayerTakeoff, body: Mesh, openings: Sequence[Mesh], within: float = 1e-6) -> None:
    """Volumes and number of cavities against booleans. within: relative to the gross volume."""
    assert taken.balance.residual < 1e-6
    gross = taken.balance.gross
    assert filled(taken) == pytest.approx(sum(parts_left(taken, body, openings)), abs=within * gross)
    # Studs cut to a rake end within 1e-10 m of it, and the booleans see daylight there: a hair more closes it.
    parts = parts_left(taken, body, openings, grown=1e-6)
    found = [cavity for cavity in taken.cavities if cavity.kind is not CavityKind.OPENING_GAP]
    assert len(found) == len(parts)
    volumes = sorted((cavity.volume for cavity in found), reverse=True)
    assert volumes == pytest.approx(list(parts), abs=1e-5 * gross)


def one_layer(model: Builder, folder: Path, job: str = SHARP) -> tuple[WallTakeoff, LayerTakeoff]:
    wall = only_wall(taken_off(model, folder, job))
    assert wall.status is Status.TAKEN_OFF, wall.reason
    (taken,) = wall.layers
    return wall, taken


def through(shape: shapely.Polygon) -> Mesh:
    """An opening of one outline (x, z) right through the wall."""
    return solid_of(shape, -0.3, THICKNESS + 0.3)


def arch(x: float, z: float, width: float, height: float) -> shapely.Polygon:
    """A door with half a circle on top."""
    turns = np.linspace(0.0, math.pi, 33)
    middle, radius = x + width / 2.0, width / 2.0
    top = np.stack([middle + radius * np.cos(turns), z + height - radius + radius * np.sin(turns)], axis=1)
    return shapely.Polygon([(x, z), (x + width, z), *top.tolist()])


def disc(x: float, z: float, radius: float) -> shapely.Polygon:
    turns = np.linspace(0.0, 2.0 * math.pi, 48, endpoint=False)
    return shapely.Polygon(np.stack([x + radius * np.cos(turns), z + radius * np.sin(turns)], axis=1))


ELEVATIONS = {
    "triangle": shapely.Polygon([(0, 0), (5.2, 0), (2.6, 2.9)]),
    "trapezium": shapely.Polygon([(0, 0), (4.8, 0), (4.8, 3.1), (0, 1.7)]),
    "gable": shapely.Polygon([(0, 0), (5.0, 0), (5.0, 1.4), (2.5, 3.4), (0, 1.4)]),
    "stepped": shapely.Polygon([(0, 0), (4.6, 0), (4.6, 2.0), (2.6, 2.0), (2.6, 3.0), (0, 3.0)]),
    "stepped foot": shapely.Polygon([(0, 0), (2.2, 0), (2.2, 0.45), (4.6, 0.45), (4.6, 2.7), (0, 2.7)]),
    "raked foot": shapely.Polygon([(0, 0.9), (4.4, 0), (4.4, 2.6), (0, 2.6)]),
    "leaning ends": shapely.Polygon([(0, 0), (4.4, 0), (4.0, 2.6), (0.5, 2.6)]),
}

HOLES = {
    "no opening": [],
    "arch": [arch(1.4, 0.0, 0.9, 1.6)],
    "round": [disc(2.4, 1.1, 0.35)],
    "sloping sill in elevation": [shapely.Polygon([(1.6, 0.6), (2.6, 0.8), (2.6, 1.5), (1.6, 1.5)])],
}


@pytest.mark.parametrize("place", PLACES, ids=["here", "turned", "rolled"])
@pytest.mark.parametrize("elevation", ELEVATIONS)
def test_odd_elevations_have_the_volumes_of_closed_mesh_booleans(tmp_path: Path, elevation: str, place: Place):
    outline = ELEVATIONS[elevation]
    model = Builder()
    body = slab(outline)
    odd_wall(model, body, place)
    _, taken = one_layer(model, tmp_path)
    assert taken.balance.gross == pytest.approx(outline.area * STUDS, rel=1e-9)
    check(taken, place.world(body), [])


@pytest.mark.parametrize("hole", [name for name in HOLES if HOLES[name]])
@pytest.mark.parametrize("elevation", ["gable", "trapezium", "stepped"])
def test_odd_openings_in_odd_elevations_take_what_they_take(tmp_path: Path, elevation: str, hole: str):
    place = PLACES[1]
    outline, shapes = ELEVATIONS[elevation], HOLES[hole]
    model = Builder()
    body, openings = slab(outline), [through(shape) for shape in shapes]
    odd_wall(model, body, place, openings)
    _, taken = one_layer(model, tmp_path)
    expected = sum(shape.intersection(outline).area for shape in shapes) * STUDS
    assert taken.balance.openings == pytest.approx(expected, rel=1e-9)
    check(taken, place.world(body), [place.world(mesh) for mesh in openings])


TOPS: dict[str, Callable[[float, float], float]] = {
    "across": lambda x, y: 2.5 - 1.2 * y,
    "along and across": lambda x, y: 1.6 + 0.35 * x + 1.5 * y,
    "steep across": lambda x, y: 2.8 - 6.0 * y,
}


@pytest.mark.parametrize("top", TOPS)
@pytest.mark.parametrize("place", PLACES, ids=["here", "turned", "rolled"])
def test_a_wall_under_a_hip_has_the_volume_of_its_prismatoid(tmp_path: Path, top: str, place: Place):
    # The top is a plane, so the mean height over the studs' rectangle in plan is the height at its middle.
    height = TOPS[top]
    model = Builder()
    body = bent_top(4.2, height)
    odd_wall(model, body, place)
    _, taken = one_layer(model, tmp_path)
    middle = height(2.1, 0.0125 + STUDS / 2.0)
    assert taken.balance.gross == pytest.approx(4.2 * STUDS * middle, rel=1e-7)
    check(taken, place.world(body), [])


@pytest.mark.parametrize("lean", [0.04, 0.12, 0.3])
@pytest.mark.parametrize("place", PLACES[:2], ids=["here", "turned"])
def test_a_leaning_wall_has_the_volume_of_its_sheared_slab(tmp_path: Path, lean: float, place: Place):
    # Shearing keeps the volume: length x level thickness of the studs x height. Square to the faces all is thinner.
    model = Builder()
    body = leaning(slab(shapely.box(0.0, 0.0, 4.2, 2.6)), lean)
    odd_wall(model, body, place)
    wall, taken = one_layer(model, tmp_path)
    share = 1.0 / math.hypot(1.0, lean)
    # A lean too small to tell from rounding of the layers leaves their thickness as it is.
    told = "layers-measured-level" in [finding.code for finding in wall.wall.findings]
    assert told == (THICKNESS * (1.0 - share) > 0.0015)
    assert taken.frame.layer.depth == pytest.approx(STUDS * share if told else STUDS, rel=1e-9)
    level = taken.frame.layer.depth / share
    assert taken.balance.gross == pytest.approx(4.2 * level * 2.6, rel=1e-7)
    check(taken, place.world(body), [])


def test_a_door_that_leans_with_its_gable_keeps_its_volume(tmp_path: Path):
    # Its head and foot are level in the world and so aslant to the wall; the members round it are square to the wall.
    place = PLACES[1]
    model = Builder()
    body = leaning(slab(ELEVATIONS["gable"]), 0.15)
    door = leaning(through(shapely.box(1.0, -0.1, 1.9, 2.0)), 0.15)
    odd_wall(model, body, place, [door])
    _, taken = one_layer(model, tmp_path)
    assert len(taken.frame.openings) == 1
    assert taken.balance.residual < 1e-6
    local = [moved(place.world(mesh), taken.frame.layer.axes) for mesh in (body, door)]
    left = sum(boolean_voids(local[0], [local[1]], (0.0, taken.frame.layer.depth)))
    gross = taken.balance.gross
    assert gross - taken.balance.openings == pytest.approx(left, abs=1e-6 * gross)


def test_a_level_window_in_a_leaning_wall_keeps_its_volume(tmp_path: Path):
    # The box is level, the wall leans: its section moves with the depth, its volume within the studs does not change.
    model = Builder()
    lean = 0.15
    body = leaning(slab(shapely.box(0.0, 0.0, 4.2, 2.6)), lean)
    window = solid_of(shapely.box(1.5, 0.9, 2.5, 1.9), -0.3, 1.2)
    odd_wall(model, body, Place(), [window])
    _, taken = one_layer(model, tmp_path)
    local = [moved(mesh, taken.frame.layer.axes) for mesh in (body, window)]
    depth = (0.0, taken.frame.layer.depth)
    left = sum(boolean_voids(local[0], [local[1]], depth))
    gross = taken.balance.gross
    assert gross - taken.balance.openings == pytest.approx(left, abs=1e-6 * gross)


def test_a_sill_that_slopes_across_the_depth_takes_the_mean(tmp_path: Path):
    # The sill falls outwards by 60 mm over the wall: a trapezium in section, mean of its two heights over the studs.
    model = Builder()
    body = slab(shapely.box(0.0, 0.0, 4.2, 2.6))
    window = splayed(shapely.box(1.5, 0.9, 2.5, 1.9), sill=-0.06 / THICKNESS)
    odd_wall(model, body, PLACES[1], [window])
    _, taken = one_layer(model, tmp_path)
    middle = 1.0 + 0.06 / THICKNESS * (0.0125 + STUDS / 2.0)
    assert taken.balance.openings == pytest.approx(1.0 * middle * STUDS, rel=1e-9)


def test_splayed_reveals_take_their_frustum(tmp_path: Path):
    # Jambs, sill and head open by 40 mm each over the wall. Prismatoid formula over the studs' depth.
    model = Builder()
    splay = 0.04 / THICKNESS
    window = splayed(shapely.box(1.5, 0.9, 2.5, 1.9), sill=-splay, head=splay, left=-splay, right=splay)
    odd_wall(model, slab(shapely.box(0.0, 0.0, 4.2, 2.6)), Place(), [window])
    _, taken = one_layer(model, tmp_path)
    sides = [1.0 + 2.0 * splay * (0.0125 + share * STUDS) for share in (0.0, 0.5, 1.0)]
    frustum = STUDS * (sides[0] ** 2 + 4.0 * sides[1] ** 2 + sides[2] ** 2) / 6.0
    gross = taken.balance.gross
    assert taken.balance.openings == pytest.approx(frustum, abs=1e-4 * gross)


def test_a_modelled_frame_in_a_rolled_wall_agrees_with_booleans(tmp_path: Path):
    place = Place((3.0, 2.0, 0.5), 25.0, roll=10.0)
    model = Builder()
    body = slab(shapely.box(0.0, 0.0, 3.6, 2.4))
    window = through(shapely.box(1.2, 0.9, 2.1, 1.9))
    model.frame(odd_wall(model, body, place, [window]), length=3.6, height=2.4)
    _, taken = one_layer(model, tmp_path)
    assert taken.frame.source.value == "modelled"
    # Two plates and six studs of 38 mm; the window takes a metre of each of two studs.
    framing = 2 * 0.038 * 3.6 + 6 * 0.038 * 2.324 - 2 * 0.038 * 1.0
    assert taken.balance.framing == pytest.approx(framing * STUDS, rel=1e-9)
    check(taken, place.world(body), [place.world(window)])


def test_mitred_ends_and_a_top_cut_aslant_are_exact(tmp_path: Path):
    # Ends cut at 45 degrees in plan, the top a plane: volume is the plan's area times the height at its centroid.
    plan = shapely.Polygon([(0.0, 0.0), (4.0, 0.0), (4.0 + THICKNESS, THICKNESS), (-THICKNESS, THICKNESS)])
    block = solid_of(shapely.Polygon(plan.exterior.coords), 0.0, 1.0)
    vertices = block.vertices[:, [0, 2, 1]].copy()
    top = vertices[:, 2] > 0.5
    vertices[top, 2] = 2.4 + 0.2 * vertices[top, 0] - 0.8 * vertices[top, 1]
    body = Mesh(vertices, block.faces[:, ::-1])
    model = Builder()
    odd_wall(model, body, PLACES[1])
    _, taken = one_layer(model, tmp_path)
    studs = shapely.intersection(plan, shapely.box(-1.0, 0.0125, 6.0, 0.0125 + STUDS))
    mean = 2.4 + 0.2 * studs.centroid.x - 0.8 * studs.centroid.y
    assert taken.balance.gross == pytest.approx(studs.area * mean, rel=1e-7)
    check(taken, PLACES[1].world(body), [])


def above(plane: Callable[[float, float], float]) -> Mesh:
    """All above a plane z = plane(x, y), as far as the wall reaches and farther."""
    block = solid_of(shapely.box(-1.0, 0.0, 6.0, 1.0), -1.0, 1.0)
    vertices = block.vertices.copy()
    for number, (x, y, z) in enumerate(block.vertices.tolist()):
        vertices[number, 2] = 12.0 if z > 0.5 else plane(x, y)
    return Mesh(vertices, block.faces)


def test_a_body_clipped_by_half_spaces_is_the_same_as_one_drawn_so(tmp_path: Path):
    # The usual export of a wall under a hip: an extruded box less everything above two roof planes.
    model = Builder()
    wall = model.wall(length=4.2, height=4.0, thickness=THICKNESS, layers=LINED)
    item = model.box((4.2, THICKNESS, 4.0))
    for at, normal in (((0.0, 0.0, 1.8), (-0.4, -0.5, 1.0)), ((4.2, 0.0, 2.2), (0.6, -0.3, 1.0))):
        plane = model.file.create_entity("IfcPlane", model.place(at, x=(0.0, 1.0, normal[1] * -1.0), z=normal))
        half = model.file.create_entity("IfcHalfSpaceSolid", plane, False)
        item = model.file.create_entity("IfcBooleanClippingResult", "DIFFERENCE", item, half)
    wall.Representation = model.shape([item])
    _, taken = one_layer(model, tmp_path)
    box = solid_of(shapely.box(0.0, 0.0, 4.2, 4.0), 0.0, THICKNESS)
    # z <= 1.8 + 0.4 x + 0.5 y and z <= 2.2 - 0.6 (x - 4.2) + 0.3 y: each half space as a wedge above its plane.
    tops = (lambda x, y: 1.8 + 0.4 * x + 0.5 * y, lambda x, y: 2.2 - 0.6 * (x - 4.2) + 0.3 * y)
    wedges = [above(top) for top in tops]
    layer = taken.frame.layer
    local = [moved(mesh, layer.axes) for mesh in (box, *wedges)]
    gross = sum(boolean_voids(local[0], local[1:], (0.0, layer.depth)))
    assert taken.balance.gross == pytest.approx(gross, rel=1e-6)
    members = [as_mesh(member.solid) for member in taken.frame.members]
    parts = boolean_voids(local[0], [*local[1:], *members], (0.0, layer.depth))
    assert filled(taken) == pytest.approx(sum(parts), abs=1e-6 * gross)
