"""Holes through webs: closed up to the size of a punch-out, left open and told beyond it; hollow ware is full."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
import trimesh

from geometry.booleans import boolean_voids
from geometry.perforations import has_handles, without_holes
from geometry.solids import Mesh, Prism, as_mesh, volume
from geometry.tolerances import DEFAULT_TOLERANCES
from geometry.voids import Voids, find_voids
from takeoff.building import ModelPart
from takeoff.framing.modelled import obstructions_of, read_frame
from takeoff.model import Frame, MemberRole
from tests.frame_builder import (
    DEPTH,
    HEIGHT,
    c_section,
    codes,
    layer_of,
    lying_section,
    part,
    parts_of,
    piece,
    plain,
    upright_section,
)

SHEET = 0.0012
SPACING = 0.6
BAYS = 3
LENGTH = BAYS * SPACING + 0.041


def cut(mesh: Mesh, tools: list[trimesh.Trimesh]) -> Mesh:
    """A closed mesh less tools, by the boolean engine: welded and triangulated as it likes."""
    import manifold3d

    def engine(one: trimesh.Trimesh) -> manifold3d.Manifold:
        return manifold3d.Manifold(
            manifold3d.Mesh64(
                vert_properties=np.asarray(one.vertices, dtype=np.float64),
                tri_verts=np.asarray(one.faces, dtype=np.uint64),
            )
        )

    body = trimesh.Trimesh(mesh.vertices, mesh.faces, process=True)
    if body.volume < 0.0:
        body.invert()
    made = engine(body) - manifold3d.Manifold.batch_boolean([engine(tool) for tool in tools], manifold3d.OpType.Add)
    result = made.to_mesh64()
    return Mesh(np.asarray(result.vert_properties), np.asarray(result.tri_verts).astype(np.int64))


def oblong(x: float, y: float, z: float, width: float, height: float) -> trimesh.Trimesh:
    """A slot with round ends, cut along the wall: the usual punch-out."""
    run = trimesh.creation.box(extents=[0.02, width, height - width])
    run.apply_translation([x, y, z])
    ends = []
    for side in (-1.0, 1.0):
        end = trimesh.creation.cylinder(radius=width / 2.0, height=0.02, sections=24)
        end.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2.0, [0, 1, 0]))
        end.apply_translation([x, y, z + side * (height - width) / 2.0])
        ends.append(end)
    return trimesh.boolean.union([run, *ends], engine="manifold")


def slot(x: float, y: float, z: float, width: float, height: float) -> trimesh.Trimesh:
    """A rectangular hole along the wall."""
    tool = trimesh.creation.box(extents=[0.06, width, height])
    tool.apply_translation([x, y, z])
    return tool


def punched(x: float, shape=slot, width: float = 0.038, height: float = 0.1) -> Mesh:
    """A C-stud with punch-outs 38 x 100 mm at 600 mm in the middle of its web."""
    stud = upright_section(c_section(), x, SHEET, HEIGHT - SHEET)
    return cut(stud, [shape(x + SHEET / 2, DEPTH / 2, z, width, height) for z in (0.3, 0.9, 1.5, 2.1)])


def steel_parts(studs: list[Mesh]) -> list[ModelPart]:
    track = c_section(width=0.04, lip=SHEET)
    return [
        *(part(f"stud-{n}", stud) for n, stud in enumerate(studs)),
        part("bottom_plate-0", lying_section(track, 0.0, LENGTH, 0.0)),
        part("top_plate-0", lying_section(track, 0.0, LENGTH, HEIGHT, down=True)),
    ]


def plain_stud(x: float) -> Mesh:
    return upright_section(c_section(), x, SHEET, HEIGHT - SHEET)


def frame_of(studs: list[Mesh]) -> Frame:
    frame = read_frame(layer_of(steel_parts(studs), shapely.box(0.0, 0.0, LENGTH, HEIGHT)))
    assert frame is not None
    return frame


def voids_of(frame: Frame) -> Voids:
    layer = frame.layer
    holes = [Prism(one.outline, 0.0, layer.depth) for one in frame.openings]
    return find_voids(
        layer.outline, holes, [member.solid for member in frame.members], (0.0, layer.depth), DEFAULT_TOLERANCES
    )


PLACES = [n * SPACING for n in range(BAYS + 1)]


@pytest.mark.parametrize("shape", [slot, oblong])
def test_bays_beside_punched_studs_are_those_beside_whole_ones(shape) -> None:
    whole = voids_of(frame_of([plain_stud(x) for x in PLACES]))
    frame = frame_of([punched(x, shape) for x in PLACES])
    holed = voids_of(frame)
    assert len(holed.voids) == len(whole.voids)
    assert [void.volume for void in holed.voids] == pytest.approx([void.volume for void in whole.voids], rel=1e-9)
    (finding,) = [one for one in frame.findings if one.code == "web-holes-closed"]
    assert finding.measured == 4 * len(PLACES)
    assert [member.role for member in frame.members[:4]] == [MemberRole.STUD] * 4


def test_left_as_they_are_the_same_holes_would_join_the_bays() -> None:
    region = Prism(shapely.box(0.0, 0.0, LENGTH, HEIGHT), 0.0, DEPTH)
    solids = [solid for one in steel_parts([punched(x) for x in PLACES]) for solid in one.solids]
    # The closed-mesh boolean, which knows no rule, sees one void from the first web to the end.
    assert len(boolean_voids(region, solids, (0.0, DEPTH))) == 1


def test_a_hole_longer_than_a_punch_out_joins_the_bays_and_is_told() -> None:
    frame = frame_of([plain_stud(0.0), punched(0.6, height=0.3), plain_stud(1.2), plain_stud(1.8)])
    assert len(voids_of(frame).voids) == BAYS  # two bays are one now, and the hollow of the last stud
    (finding,) = [one for one in frame.findings if one.code == "web-hole-left-open"]
    assert "38 x 300 mm" in finding.message
    assert finding.element_id == "stud-1"


@pytest.mark.parametrize(("width", "closed"), [(0.083, 4), (0.085, 0)])
def test_a_hole_up_to_six_tenths_of_the_web_is_closed(width: float, closed: int) -> None:
    frame = frame_of([plain_stud(0.0), punched(0.6, width=width), plain_stud(1.2), plain_stud(1.8)])
    found = [one.measured for one in frame.findings if one.code == "web-holes-closed"]
    assert found == ([closed] if closed else [])
    assert ("web-hole-left-open" in codes(frame)) == (closed == 0)


def test_a_stud_of_separate_sheets_is_closed_too() -> None:
    web = cut(as_mesh(piece(0.6, 0.0012, 0.6012, 2.39)), [slot(0.6, DEPTH / 2, 1.2, 0.038, 0.1)])
    frame = read_frame(layer_of([*parts_of(plain()), part("web", web)]))
    assert frame is not None
    assert "web-holes-closed" in codes(frame)
    solid = next(member.solid for member in frame.members if member.member_id == "web")
    assert isinstance(solid, Prism)
    assert solid.volume == pytest.approx(0.0012 * DEPTH * (2.39 - 0.0012), rel=1e-9)


def test_a_hole_bored_through_a_timber_stud_for_a_pipe_is_closed() -> None:
    stud = plain()[3][1]
    x_min, _, x_max, _ = stud.outline.bounds  # type: ignore[union-attr]
    bit = trimesh.creation.cylinder(radius=0.02, height=0.1, sections=32)
    bit.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2.0, [0, 1, 0]))
    bit.apply_translation([(x_min + x_max) / 2.0, DEPTH / 2, 1.2])
    pieces = parts_of(plain())
    pieces[3] = part("stud-3", cut(as_mesh(stud), [bit]))
    frame = read_frame(layer_of(pieces))
    assert frame is not None
    assert isinstance(frame.members[3].solid, Prism)
    assert len(voids_of(frame).voids) == len(plain()) - 3


def test_a_post_of_hollow_section_holds_no_cavity() -> None:
    outer, inner = shapely.box(0.0, 0.0, 0.089, 0.089), shapely.box(0.006, 0.006, 0.083, 0.083)
    tube = upright_section(shapely.Polygon(outer.exterior, [inner.exterior]), 0.85, 0.038, HEIGHT - 0.038)
    frame = read_frame(layer_of([*parts_of(plain()), part("post", tube, ifc_class="IfcColumn")]))
    assert frame is not None
    post = next(member for member in frame.members if member.member_id == "post")
    assert volume(post.solid) == pytest.approx(0.089**2 * (HEIGHT - 0.076), rel=1e-9)


def ring(outer: float, inner: float, sections: int = 32) -> shapely.Polygon:
    angles = np.linspace(0.0, 2.0 * np.pi, sections, endpoint=False)
    circle = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return shapely.Polygon(outer * circle, [inner * circle])


def test_the_bore_of_a_pipe_is_no_cavity() -> None:
    pipe = lying_section(ring(0.03, 0.027), -0.1, 4.1, 1.2)
    pipe = Mesh(pipe.vertices + np.array([0.0, 0.07, 0.0]), pipe.faces)
    layer = layer_of([part("pipe", pipe, ifc_class="IfcPipeSegment")], shapely.box(0.0, 0.0, 4.0, HEIGHT))
    (member,) = obstructions_of(layer).members
    full = ring(0.03, 0.0275)
    assert volume(member.solid) == pytest.approx(shapely.Polygon(full.exterior).area * 4.2, rel=1e-9)
    found = find_voids(layer.outline, [], [member.solid], (0.0, DEPTH), DEFAULT_TOLERANCES)
    assert len(found.voids) == 1


def test_an_open_box_for_a_switch_is_full() -> None:
    outer = as_mesh(piece(1.0, 1.0, 1.1, 1.15, 0.0, 0.06))
    hollow = trimesh.creation.box(extents=[0.09, 0.08, 0.14])
    hollow.apply_translation([1.05, 0.01, 1.075])
    box = cut(outer, [hollow])
    assert not has_handles(box)
    layer = layer_of([part("box", box, ifc_class="IfcJunctionBox")], shapely.box(0.0, 0.0, 4.0, HEIGHT))
    (member,) = obstructions_of(layer).members
    assert isinstance(member.solid, Prism)
    assert member.solid.volume == pytest.approx(0.1 * 0.15 * 0.06, rel=1e-9)


def test_a_pipe_with_sockets_is_filled_step_by_step() -> None:
    pipe = trimesh.creation.cylinder(radius=0.05, height=1.0, sections=24)
    bore = trimesh.creation.cylinder(radius=0.03, height=1.2, sections=24)
    sockets = [trimesh.creation.cylinder(radius=0.04, height=0.2, sections=24) for _ in range(2)]
    for side, socket in zip((-0.5, 0.5), sockets, strict=True):
        socket.apply_translation([0.0, 0.0, side])
    body = Mesh(np.asarray(pipe.vertices), np.asarray(pipe.faces))
    holed = cut(body, [bore, *sockets])
    assert has_handles(holed)
    result = without_holes(holed, lambda hole: True).mesh
    assert not has_handles(result)
    assert volume(result) == pytest.approx(volume(body), rel=1e-9)


def test_a_mesh_that_does_not_close_is_left_alone() -> None:
    stud = punched(0.0)
    torn = Mesh(stud.vertices, stud.faces[1:])
    assert without_holes(torn, lambda hole: True).mesh is torn
