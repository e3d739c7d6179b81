"""Small models that some architect's program might export, each with its answer by independent arithmetic.

The plain wall is 4.0 m long, 2.4 m high and 164.5 mm thick: gypsum board 12.5 mm, wood studs 140 mm, sheathing 12 mm.
Laid out by the built-in rules it has one plate below, two above, and studs at 16 in, all 38.1 mm (1.5 in) thick.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import pytest
import shapely

from geometry.solids import bounds, extruded
from takeoff import Takeoff, take_off
from takeoff.model import CavityKind, LayerTakeoff, Source, Status, WallTakeoff
from tests.ifc_builder import BOX_FACES, UNITS, Builder, box_corners

LAYERS = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012))
BOARD, STUDS, SHEATHING = (thickness for _, thickness in LAYERS)
THICK = BOARD + STUDS + SHEATHING
LENGTH, HEIGHT = 4.0, 2.4
PLATE = 0.0381
WINDOW = {"x": 1.0, "z": 0.9, "width": 1.0, "height": 1.2, "filling": "IfcWindow"}


def plain_framing(length: float, height: float) -> float:
    """m2 of plates and studs of a plain wall in elevation: a stud at each end and one at every 16 in between."""
    studs = 2 + math.ceil((length - PLATE) / 0.4064 - 1e-9) - 1
    return 3 * PLATE * length + studs * PLATE * (height - 3 * PLATE)


PLAIN = STUDS * (LENGTH * HEIGHT - plain_framing(LENGTH, HEIGHT))
"""m3 of cavities of the plain wall."""


def plain(model: Builder, name: str | None = "Plain", **changes: Any) -> Any:
    return model.wall(name, **{"length": LENGTH, "height": HEIGHT, "thickness": THICK, "layers": LAYERS, **changes})


def shaped(
    model: Builder, *items: Any, name: str = "Shaped", layers: Sequence[tuple[str, float]] = LAYERS, **usage: Any
) -> Any:
    """A wall with a body of its own and the plain layers."""
    made = model.element("IfcWall", list(items), name=name)
    model.layer_usage([made], model.layer_set(layers), **usage)
    return made


def only(result: Takeoff) -> WallTakeoff:
    (row,) = result.results
    return row


def layer_of(result: Takeoff) -> LayerTakeoff:
    (layer,) = only(result).layers
    return layer


def codes(result: Takeoff) -> list[str]:
    return [finding.code for finding in result.findings]


def cavities(layer: LayerTakeoff) -> float:
    assert layer.balance.residual <= 1e-9
    return sum(c.volume for c in layer.cavities if c.kind not in (CavityKind.SLIVER, CavityKind.OPENING_GAP))


def is_plain(layer: LayerTakeoff) -> None:
    """The layer is the plain wall's, without an opening."""
    assert layer.frame.layer.depth == pytest.approx(STUDS, abs=1e-6)
    assert layer.gross_area == pytest.approx(LENGTH * HEIGHT, rel=1e-6)
    assert layer.opening_area == 0.0
    assert cavities(layer) == pytest.approx(PLAIN, rel=1e-6)


def has_window(layer: LayerTakeoff, x: float = 1.0) -> None:
    """The layer is the plain wall's with the window 1.0 x 1.2 m, 0.9 m up."""
    assert layer.gross_area == pytest.approx(LENGTH * HEIGHT, rel=1e-6)
    assert layer.opening_area == pytest.approx(1.2, rel=1e-6)
    (window,) = layer.frame.openings
    assert window.outline.bounds == pytest.approx((x, 0.9, x + 1.0, 2.1), abs=1e-6)


# ---------------------------------------------------------------- units and places


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("unit", UNITS)
def test_the_answer_does_not_depend_on_unit_or_schema(run, unit, schema):
    model = Builder(schema, unit)
    model.opening(plain(model), **WINDOW)
    has_window(layer_of(run(model)))


def test_placements_nested_in_turned_wholes_are_followed(run):
    model = Builder("IFC4", "FOOT")
    turned = (math.cos(0.7), math.sin(0.7), 0.0)
    whole = model.root(
        "IfcElementAssembly",
        "A",
        ObjectPlacement=model.local_placement(model.level.ObjectPlacement, (10.0, 20.0, 1.0), turned),
    )
    wall = plain(model)
    wall.ObjectPlacement = model.local_placement(
        whole.ObjectPlacement, (1.0, 2.0, 0.0), (math.cos(0.4), math.sin(0.4), 0.0)
    )
    model.opening(wall, **WINDOW)
    layer = layer_of(run(model))
    has_window(layer)
    angle = 1.1
    x = 10.0 + math.cos(0.7) - 2.0 * math.sin(0.7) - BOARD * math.sin(angle)
    y = 20.0 + math.sin(0.7) + 2.0 * math.cos(0.7) + BOARD * math.cos(angle)
    assert layer.frame.layer.axes.origin == pytest.approx([x, y, 1.0], abs=1e-6)
    assert layer.frame.layer.axes.directions[0] == pytest.approx([math.cos(angle), math.sin(angle), 0.0], abs=1e-9)


def test_a_body_mapped_with_a_mirror_is_the_same_wall_on_the_other_side(run):
    model = Builder()
    mirrored = model.mapped(model.box((LENGTH, THICK, HEIGHT)), Axis1=(-1, 0, 0), Axis2=(0, 1, 0), Axis3=(0, 0, 1))
    shaped(model, mirrored)
    layer = layer_of(run(model))
    is_plain(layer)
    assert layer.frame.layer.axes.origin == pytest.approx([-LENGTH, BOARD, 0.0], abs=1e-6)


@pytest.mark.parametrize("angle", [0.0, 33.3])
def test_a_wall_500_km_from_the_origin_keeps_its_millimetres(run, angle):
    model = Builder("IFC4", "MILLIMETRE")
    model.opening(plain(model, at=(500e3, -700e3, -3.0), angle=angle), **WINDOW)
    layer = layer_of(run(model))
    has_window(layer)
    assert layer.frame.layer.axes.origin[2] == pytest.approx(-3.0, abs=1e-9)


def test_a_wall_below_zero_stands_on_its_own_foot(run):
    model = Builder()
    plain(model, at=(0.0, 0.0, -4.5))
    layer = layer_of(run(model))
    is_plain(layer)
    assert layer.frame.layer.axes.origin[2] == pytest.approx(-4.5)


# ---------------------------------------------------------------- layers


def test_layers_with_a_negative_sense_run_the_other_way(run):
    model = Builder()
    shaped(model, model.box((LENGTH, THICK, HEIGHT), (0.0, -THICK, 0.0)), sense="NEGATIVE")
    layer = layer_of(run(model))
    is_plain(layer)
    # the lining is at y = 0, so the fill face lies 12.5 mm below it and the wall is seen from above
    assert layer.frame.layer.axes.origin == pytest.approx([LENGTH, -BOARD, 0.0], abs=1e-6)
    assert layer.frame.layer.axes.directions[1] == pytest.approx([0.0, -1.0, 0.0])


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4"])
def test_layers_that_only_the_type_has_are_found(run, schema):
    model = Builder(schema)
    wall = plain(model, layers=())
    kind = model.type_for([wall], "IfcWallType", "T1", PredefinedType="STANDARD")
    model.material([kind], model.layer_set(LAYERS))
    is_plain(layer_of(run(model)))


@pytest.mark.parametrize("thickness", [THICK + 0.05, THICK - 0.05, STUDS, 0.1])
def test_layers_thicker_or_thinner_than_the_body_keep_their_studs_with_a_warning(run, thickness):
    model = Builder()
    plain(model, thickness=thickness)
    result = run(model)
    is_plain(layer_of(result))
    assert codes(result) == ["layers-not-as-thick-as-body"]


def test_layers_without_thickness_take_no_room(run):
    model = Builder()
    plain(model, layers=(LAYERS[0], ("Vapour barrier", 0.0), LAYERS[1], ("Paint", 0.0), LAYERS[2]))
    is_plain(layer_of(run(model)))


def test_studs_without_thickness_are_no_stud_layer(run):
    model = Builder()
    plain(model, layers=(LAYERS[0], ("Wood studs", 0.0), LAYERS[2]), thickness=BOARD + SHEATHING)
    row = only(run(model))
    assert row.status is Status.LEFT_OUT
    assert "Wood studs 0 mm" in row.reason


def test_two_stud_layers_are_two_with_the_space_between_them_told(run):
    model = Builder()
    rows = (LAYERS[0], ("Wood studs", 0.09), ("Air gap", 0.025), ("Wood studs", 0.09), LAYERS[2])
    model.opening(plain(model, layers=rows, thickness=sum(depth for _, depth in rows)), **WINDOW)
    result = run(model)
    assert [layer.frame.layer.depth for layer in only(result).layers] == pytest.approx([0.09, 0.09])
    for layer in only(result).layers:
        has_window(layer)
    assert codes(result) == ["space-between-studs"]


@pytest.mark.parametrize(
    "names",
    [
        ("Gipskartonplatte", "Holzständer", "OSB-Platte"),
        ("Plaque de plâtre", "Ossature bois", "Panneau OSB"),
        ("Placa de yeso laminado", "Montantes de madera", "Tablero OSB"),
        ("石膏ボード", "間柱", "構造用合板"),
        ("Cartongesso", "Montanti in legno", "Pannello OSB"),
        ("Gipsskiva", "Träregelstomme", "OSB-skiva"),
    ],
)
def test_layer_names_may_be_in_another_language(run, names):
    model = Builder()
    plain(model, names[1], layers=[(name, depth) for name, (_, depth) in zip(names, LAYERS, strict=True)])
    is_plain(layer_of(run(model)))


# ---------------------------------------------------------------- bodies


def faces(*, both: bool = False, mixed: bool = False) -> list[tuple[int, ...]]:
    inside_out = [tuple(reversed(face)) for face in BOX_FACES]
    if both:
        return [*BOX_FACES, *inside_out]
    return [*BOX_FACES[:2], *inside_out[2:]] if mixed else inside_out


@pytest.mark.parametrize("how", [{"both": True}, {"mixed": True}, {}], ids=["both ways", "mixed", "inside out"])
def test_faces_may_point_any_way(run, how):
    model = Builder()
    shaped(model, model.faceted(box_corners((LENGTH, THICK, HEIGHT)), faces(**how)))
    is_plain(layer_of(run(model)))


@pytest.mark.parametrize("missing", range(6))
def test_a_body_that_lacks_a_face_is_mended_with_a_warning(run, missing):
    model = Builder()
    shaped(model, model.faceted_box((LENGTH, THICK, HEIGHT), leave_out=missing))
    result = run(model)
    is_plain(layer_of(result))
    assert codes(result) == ["body-mended"]


def test_a_body_of_one_solid_per_layer_is_the_same_wall(run):
    model = Builder()
    solids, y = [], 0.0
    for _, depth in LAYERS:
        solids.append(model.box((LENGTH, depth, HEIGHT), (0.0, y, 0.0)))
        y += depth
    model.opening(shaped(model, *solids), **WINDOW)
    has_window(layer_of(run(model)))


def test_of_solids_of_many_sizes_the_studs_own_counts(run):
    model = Builder()
    wall = shaped(
        model,
        model.box((4.3, BOARD, 2.7), (-0.1, 0.0, -0.1)),
        model.box((LENGTH, STUDS, HEIGHT), (0.0, BOARD, 0.0)),
        model.box((4.5, SHEATHING, 2.8), (-0.2, BOARD + STUDS, -0.3)),
    )
    model.opening(wall, **WINDOW)
    has_window(layer_of(run(model)))


def test_openings_cut_out_of_the_body_already_count_once(run):
    model = Builder()
    pieces = ((1.0, HEIGHT, 0.0, 0.0), (2.0, HEIGHT, 2.0, 0.0), (1.0, 0.9, 1.0, 0.0), (1.0, 0.3, 1.0, 2.1))
    wall = shaped(model, *(model.box((length, THICK, high), (x, 0.0, z)) for length, high, x, z in pieces))
    model.opening(wall, **WINDOW)
    result = run(model)
    has_window(layer_of(result))
    assert only(result).wall.gross_area == pytest.approx(LENGTH * HEIGHT)


CUT = (
    shapely.box(0, 0, LENGTH, HEIGHT).difference(shapely.box(1, 0.9, 2, 2.1)).difference(shapely.box(2.5, 0, 3.4, 2.1))
)
"""The plain wall's elevation with a window and a door cut out of it."""


def cut_body(model: Builder) -> Any:
    mesh = extruded(CUT, 0.0, THICK)
    return model.faceted(mesh.vertices.tolist(), mesh.faces.tolist())


@pytest.mark.parametrize("margin", [0.0, 0.05], ids=["as large as the holes", "within their reveals"])
def test_openings_cut_out_of_a_faceted_body_are_as_large_as_what_was_cut(run, margin):
    model = Builder()
    wall = shaped(model, cut_body(model))
    for x, z, width, height, kind in ((1.0, 0.9, 1.0, 1.2, "IfcWindow"), (2.5, 0.0, 0.9, 2.1, "IfcDoor")):
        foot = z + margin if z else z
        model.opening(
            wall, x=x + margin, z=foot, width=width - 2 * margin, height=z + height - margin - foot, filling=kind
        )
    result = run(model)
    assert layer_of(result).gross_area == pytest.approx(9.6)
    assert layer_of(result).opening_area == pytest.approx(1.2 + 0.9 * 2.1)
    assert codes(result) == []


def test_holes_in_a_body_without_opening_elements_are_openings_where_something_says_so(run):
    model = Builder()
    shaped(model, cut_body(model))
    bare = run(model)
    # the window is a hole; the notch at the foot might be a step, so it is only told
    assert layer_of(bare).gross_area == pytest.approx(9.6 - 0.9 * 2.1)
    assert layer_of(bare).opening_area == pytest.approx(1.2)
    assert codes(bare) == ["hole-in-outline", "notch-like-door"]
    model.element("IfcDoor", [model.box((0.9, 0.05, 2.1))], name="Door", at=(2.5, 0.05, 0.0))
    hung = run(model)
    assert layer_of(hung).gross_area == pytest.approx(9.6)
    assert layer_of(hung).opening_area == pytest.approx(1.2 + 0.9 * 2.1)
    assert codes(hung) == ["hole-in-outline", "opening-without-element"]


def half_space(model: Builder, at: Sequence[float], normal: Sequence[float]) -> Any:
    """All that lies on the side of a plane to which its normal points."""
    plane = model.file.create_entity(
        "IfcPlane", Position=model.place(at, x=(0.0, 1.0, 0.0) if normal[0] else (1.0, 0.0, 0.0), z=normal)
    )
    return model.file.create_entity("IfcHalfSpaceSolid", BaseSurface=plane, AgreementFlag=False)


def clipped(model: Builder, solid: Any, *planes: tuple[Sequence[float], Sequence[float]]) -> Any:
    for at, normal in planes:
        solid = model.file.create_entity("IfcBooleanClippingResult", "DIFFERENCE", solid, half_space(model, at, normal))
    return solid


def test_a_gable_clipped_by_half_spaces_has_its_area(run):
    model = Builder()
    rakes = (((0.0, 0.0, 2.0), (-1.0, 0.0, 1.0)), ((LENGTH, 0.0, 2.0), (1.0, 0.0, 1.0)))
    shaped(model, clipped(model, model.box((LENGTH, THICK, 3.5)), *rakes))
    # 8 below the eaves, 4 above them, less the tip over 3.5 m
    assert layer_of(run(model)).gross_area == pytest.approx(8.0 + 4.0 - 0.25)


def test_a_top_that_slopes_across_the_depth_counts_by_its_middle(run):
    model = Builder()
    wall = shaped(model, clipped(model, model.box((LENGTH, THICK, 3.0)), ((0.0, 0.0, HEIGHT), (0.0, -1.0, 1.0))))
    model.opening(wall, **WINDOW)
    layer = layer_of(run(model))
    # 45 degrees: 2.4 m at the lining's face, so 2.4 + 0.0825 in the middle of the studs
    assert layer.gross_area == pytest.approx(LENGTH * (HEIGHT + BOARD + STUDS / 2), rel=1e-9)
    assert layer.opening_area == pytest.approx(1.2)
    assert cavities(layer) + layer.balance.slivers == pytest.approx(
        layer.balance.gross - layer.balance.openings - layer.balance.framing, rel=1e-9
    )


def test_a_body_extruded_along_the_wall_is_the_same_wall(run):
    model = Builder()
    profile = model.file.create_entity(
        "IfcRectangleProfileDef", ProfileType="AREA", XDim=HEIGHT / model.scale, YDim=THICK / model.scale
    )
    lying = model.file.create_entity(
        "IfcExtrudedAreaSolid",
        SweptArea=profile,
        Position=model.place((0.0, THICK / 2, HEIGHT / 2), x=(0.0, 0.0, 1.0), z=(1.0, 0.0, 0.0)),
        ExtrudedDirection=model.direction((0.0, 0.0, 1.0)),
        Depth=LENGTH / model.scale,
    )
    shaped(model, lying)
    is_plain(layer_of(run(model)))


@pytest.mark.parametrize("inner", [(LENGTH, THICK, HEIGHT), (1.0, THICK / 2, 1.0)], ids=["the same again", "within it"])
def test_a_solid_that_lies_in_another_counts_once(run, inner):
    model = Builder()
    shaped(model, model.box((LENGTH, THICK, HEIGHT)), model.box(inner))
    is_plain(layer_of(run(model)))


@pytest.mark.parametrize("axis", ["AXIS1", "AXIS3"])
def test_a_layer_set_stacked_along_the_wall_or_upwards_is_taken_across(run, axis):
    model = Builder()
    wall = plain(model, layers=())
    model.layer_usage([wall], model.layer_set(LAYERS), axis=axis)
    layer = layer_of(run(model))
    is_plain(layer)
    assert layer.frame.layer.axes.origin == pytest.approx([0.0, BOARD, 0.0], abs=1e-6)


def test_a_round_window_is_deducted_round(run):
    model = Builder()
    circle = model.file.create_entity("IfcCircleProfileDef", ProfileType="AREA", Radius=0.5 / model.scale)
    through = model.file.create_entity(
        "IfcExtrudedAreaSolid",
        SweptArea=circle,
        Position=model.place((0.0, 0.0, 0.0), x=(1.0, 0.0, 0.0), z=(0.0, -1.0, 0.0)),
        ExtrudedDirection=model.direction((0.0, 0.0, 1.0)),
        Depth=1.0 / model.scale,
    )
    model.opening(plain(model), x=2.0, z=1.2, width=0.0, height=0.0, y=0.5, items=[through], filling="IfcWindow")
    # a circle drawn by chords is up to 0.1 % smaller
    assert layer_of(run(model)).opening_area == pytest.approx(math.pi * 0.25, rel=1e-3)


@pytest.mark.parametrize("named", [True, False])
@pytest.mark.parametrize("given", ["body and layers", "body", "layers", "neither"])
def test_parts_that_are_whole_layers_are_no_members(run, given, named):
    model = Builder()
    wall = plain(model, body="body" in given, layers=LAYERS if "layers" in given else ())
    y = 0.0
    for name, depth in LAYERS:
        part = model.element(
            "IfcBuildingElementPart",
            [model.box((LENGTH, depth, HEIGHT))],
            name=name if named else None,
            whole=wall,
            at=(0.0, y, 0.0),
        )
        model.material([part], model.file.create_entity("IfcMaterial", Name=name))
        y += depth
    result = run(model)
    is_plain(layer_of(result))
    assert codes(result) == ["part-is-whole-layer"]


def test_layers_that_only_parts_show_lie_where_the_parts_do(run):
    """The body is 50 mm thicker than its parts, which begin 30 mm behind its face; a window goes through all."""
    model = Builder()
    wall = plain(model, layers=(), thickness=THICK + 0.05)
    y = 0.03
    for name, depth in LAYERS:
        model.element(
            "IfcBuildingElementPart", [model.box((LENGTH, depth, HEIGHT))], name=name, whole=wall, at=(0.0, y, 0.0)
        )
        y += depth
    model.opening(wall, **WINDOW)
    result = run(model)
    layer = layer_of(result)
    assert layer.frame.layer.depth == pytest.approx(STUDS)
    # in the world the fill face of the studs lies behind the first part, on one side or the other
    near = layer.frame.layer.axes.to_world([[0.0, 0.0, 0.0], [0.0, STUDS, 0.0]])[:, 1]
    assert sorted(near) == pytest.approx([0.03 + BOARD, 0.03 + BOARD + STUDS])
    assert layer.balance.gross == pytest.approx(LENGTH * HEIGHT * STUDS)
    assert layer.balance.openings == pytest.approx(1.0 * 1.2 * STUDS)
    assert codes(result) == ["part-is-whole-layer", "layers-not-as-thick-as-body"]


def test_a_mere_surface_fails_and_stops_no_other(run):
    model = Builder()
    loop = model.file.create_entity(
        "IfcPolyLoop", [model.point(corner) for corner in ((0, 0, 0), (4, 0, 0), (4, 0, 2.4), (0, 0, 2.4))]
    )
    face = model.file.create_entity("IfcFace", [model.file.create_entity("IfcFaceOuterBound", loop, True)])
    shell = model.file.create_entity("IfcOpenShell", [face])
    shaped(model, model.file.create_entity("IfcShellBasedSurfaceModel", [shell]), name="surface")
    plain(model, at=(0.0, 5.0, 0.0))
    surface, good = run(model).results
    assert surface.status is Status.FAILED
    assert "encloses no space" in surface.reason
    is_plain(good.layers[0])


def test_a_triangular_wall_is_taken_off_as_it_is(run):
    model = Builder()
    corners = [(0, 0, 0), (4, 0, 0), (0, 0, 3), (0, THICK, 0), (4, THICK, 0), (0, THICK, 3)]
    sides = [(0, 1, 2), (3, 5, 4), (0, 3, 4, 1), (1, 4, 5, 2), (2, 5, 3, 0)]
    shaped(model, model.faceted(corners, sides))
    layer = layer_of(run(model))
    assert layer.gross_area == pytest.approx(6.0)
    assert cavities(layer) == pytest.approx(layer.balance.gross - layer.balance.framing, rel=1e-9)
    assert layer.balance.framing < 0.25 * layer.balance.gross


def test_a_wall_shorter_than_a_stud_is_all_stud(run):
    model = Builder()
    plain(model, length=0.03)
    result = run(model)
    assert cavities(layer_of(result)) == 0.0
    assert layer_of(result).balance.framing == pytest.approx(0.03 * HEIGHT * STUDS)
    assert "wall-shorter-than-studs" in codes(result)


def test_a_wall_40_m_long_has_its_hundred_bays(run):
    model = Builder()
    plain(model, length=40.0)
    layer = layer_of(run(model))
    assert cavities(layer) == pytest.approx(STUDS * (40.0 * HEIGHT - plain_framing(40.0, HEIGHT)), rel=1e-9)
    assert len(layer.cavities) == 99


def test_an_angular_wall_is_not_counted_by_one_leg_in_silence(run):
    model = Builder()
    plan = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (4.0 - THICK, 3.0), (4.0 - THICK, THICK), (0.0, THICK)]
    shaped(model, model.extrusion(plan, HEIGHT))
    row = only(run(model))
    gross = sum(layer.balance.gross for layer in row.layers)
    # the studs' layer between 12.5 and 152.5 mm from the outer faces: an L of its own
    layer_plan = STUDS * ((4.0 - BOARD) + (3.0 - BOARD) - STUDS)
    assert gross == pytest.approx(layer_plan * HEIGHT, rel=1e-9)


# ---------------------------------------------------------------- openings


@pytest.mark.parametrize(
    ("y", "depth"),
    [(-0.1, 0.11), (0.155, 0.3), (-0.1, 0.17), (-0.1, 0.1 + THICK), (-0.5, 1.5)],
    ids=["before the studs", "behind the studs", "half their depth", "to the far face", "far beyond"],
)
def test_a_window_is_a_hole_however_deep_its_opening_element_is(run, y, depth):
    model = Builder()
    model.opening(plain(model), y=y, depth=depth, **WINDOW)
    has_window(layer_of(run(model)))


def test_an_unfilled_opening_before_the_studs_leaves_them_whole_with_a_warning(run):
    model = Builder()
    model.opening(plain(model), y=-0.1, depth=0.11, **{**WINDOW, "filling": None})
    result = run(model)
    is_plain(layer_of(result))
    assert codes(result) == ["opening-clear-of-studs"]


@pytest.mark.parametrize("kind", [{}, {"PredefinedType": "RECESS"}])
def test_a_niche_takes_its_own_depth(run, kind):
    model = Builder()
    model.opening(plain(model), y=-0.1, depth=0.17, **{**WINDOW, "filling": None}, **kind)
    layer = layer_of(run(model))
    # 70 mm from the lining's face, 57.5 of them in the studs
    assert layer.balance.openings == pytest.approx(1.2 * (0.07 - BOARD))


def test_an_opening_before_a_modelled_frame_goes_by_the_frame(run):
    model = Builder()
    wall = plain(model)
    y = BOARD
    model.member(wall, size=(LENGTH, STUDS, 0.038), at=(0.0, y, 0.0), name="Bottom plate")
    model.member(wall, size=(LENGTH, STUDS, 0.038), at=(0.0, y, 2.362), name="Top plate")
    for x in (0.0, 0.5, 0.962, 2.0, 2.5, 3.0, 3.5, 3.962):
        model.member(wall, size=(0.038, STUDS, 2.324), at=(x, y, 0.038), name="Stud")
    model.member(wall, size=(1.0, STUDS, 0.15), at=(1.0, y, 2.1), name="Header")
    model.member(wall, size=(1.0, STUDS, 0.038), at=(1.0, y, 0.862), name="Sill")
    model.opening(wall, y=-0.1, depth=0.105, **{**WINDOW, "filling": None})
    layer = layer_of(run(model))
    assert layer.frame.source is Source.MODELLED
    has_window(layer)
    framing = 2 * LENGTH * 0.038 + 8 * 0.038 * 2.324 + 1.0 * 0.15 + 1.0 * 0.038
    assert layer.framing_area == pytest.approx(framing, rel=1e-9)
    assert cavities(layer) == pytest.approx(STUDS * (LENGTH * HEIGHT - 1.2 - framing), rel=1e-9)


@pytest.mark.parametrize(
    ("at", "area"),
    [
        ({"x": 3.0, "z": 0.0, "width": 1.0, "height": 2.1}, 2.1),
        ({"x": 0.0, "z": 0.0, "width": 1.0, "height": 2.1}, 2.1),
        ({"x": 3.5, "z": 0.0, "width": 1.0, "height": 2.1}, 1.05),
        ({"x": 1.0, "z": -0.2, "width": 1.0, "height": 2.3}, 2.1),
        ({"x": 1.0, "z": 1.0, "width": 1.0, "height": 3.0}, 1.4),
        ({"x": -1.0, "z": -1.0, "width": 6.0, "height": 5.0}, 9.6),
    ],
    ids=["to the end", "from the start", "beyond the end", "below the floor", "through the top", "the whole wall"],
)
def test_an_opening_counts_as_far_as_it_lies_in_the_wall(run, at, area):
    model = Builder()
    model.opening(plain(model), filling="IfcDoor", **at)
    layer = layer_of(run(model))
    assert layer.opening_area == pytest.approx(area)
    assert layer.gross_area == pytest.approx(9.6)
    assert cavities(layer) == pytest.approx(STUDS * (9.6 - area - layer.framing_area), rel=1e-9, abs=1e-12)


def test_an_opening_beside_its_wall_is_told_and_not_deducted(run):
    model = Builder()
    model.opening(plain(model), filling="IfcDoor", x=4.5, z=0.0, width=1.0, height=2.1)
    result = run(model)
    is_plain(layer_of(result))
    assert codes(result) == ["opening-away-from-wall"]


def test_openings_that_overlap_count_their_common_part_once(run):
    model = Builder()
    wall = plain(model)
    model.opening(wall, **WINDOW)
    model.opening(wall, x=1.5, z=0.0, width=1.0, height=2.1, filling="IfcDoor")
    # 1.2 + 2.1 less 0.5 x 1.2 of both
    assert layer_of(run(model)).opening_area == pytest.approx(2.7)


def test_an_opening_given_twice_counts_once(run):
    model = Builder()
    wall = plain(model)
    model.opening(wall, **WINDOW)
    model.opening(wall, **{**WINDOW, "filling": None})
    assert layer_of(run(model)).opening_area == pytest.approx(1.2)


@pytest.mark.parametrize("kind", ["IfcDoor", "IfcWindow"])
def test_a_door_or_window_without_an_opening_element_is_deducted_with_a_warning(run, kind):
    model = Builder()
    plain(model)
    model.element(kind, [model.box((0.9, 0.05, 2.05))], name="One", at=(1.0, 0.05, 0.0))
    result = run(model)
    assert layer_of(result).opening_area == pytest.approx(0.9 * 2.05)
    assert "opening-without-element" in codes(result)


def test_three_hundred_windows_are_all_deducted(run):
    model = Builder()
    wall = plain(model, length=40.0, height=6.0)
    for i in range(60):
        for j in range(5):
            model.opening(wall, x=0.2 + i * 0.66, z=0.3 + j * 1.15, width=0.4, height=0.6)
    layer = layer_of(run(model))
    assert layer.opening_area == pytest.approx(300 * 0.4 * 0.6)
    rest = STUDS * (240.0 - 72.0 - layer.framing_area)
    assert cavities(layer) + layer.balance.slivers == pytest.approx(rest, rel=1e-9)


# ---------------------------------------------------------------- frames

MEMBERS = (
    ((3.6, STUDS, 0.038), (0.0, BOARD, 0.0)),
    ((3.6, STUDS, 0.038), (0.0, BOARD, 2.362)),
    *(((0.038, STUDS, 2.324), (x, BOARD, 0.038)) for x in (0.0, 0.6, 1.2, 1.8, 2.4, 3.0, 3.562)),
)
FRAMING = 2 * 3.6 * 0.038 + 7 * 0.038 * 2.324


def is_framed(layer: LayerTakeoff) -> None:
    assert layer.frame.source is Source.MODELLED
    assert layer.framing_area == pytest.approx(FRAMING, rel=1e-6)
    assert cavities(layer) == pytest.approx(STUDS * (3.6 * 2.4 - FRAMING), rel=1e-6)
    assert len(layer.cavities) == 6


def test_loose_members_with_no_relation_are_the_frame_of_the_wall_around_them(run):
    model = Builder()
    plain(model, length=3.6)
    for number, (size, at) in enumerate(MEMBERS):
        model.member(None, size=size, at=at, name=f"M{number}")
    is_framed(layer_of(run(model)))


@pytest.mark.parametrize("unit", ["INCH", "FOOT", "MILLIMETRE"])
def test_a_frame_in_another_file_and_unit_fits_into_its_wall(run, tmp_path, unit):
    model, other = Builder("IFC4", "METRE"), Builder("IFC2X3", unit)
    plain(model, length=3.6)
    for number, (size, at) in enumerate(MEMBERS):
        other.member(None, size=size, at=at, name=f"M{number}")
    result = run(model, with_paths=[other.save(tmp_path / "frame.ifc")])
    is_framed(layer_of(result))
    assert codes(result) == ["shared-origin-assumed"]


def test_a_wall_without_a_body_is_as_large_as_its_frame(run):
    model = Builder()
    wall = model.wall("Frame", body=False)
    for number, (size, at) in enumerate(MEMBERS):
        model.member(wall, size=size, at=at, name=f"M{number}")
    result = run(model)
    is_framed(layer_of(result))
    assert only(result).wall.gross_area == pytest.approx(3.6 * 2.4)


def test_an_assembly_on_its_own_is_a_wall(run):
    model = Builder("IFC4", "INCH")
    panel = model.element("IfcElementAssembly", name="Panel", at=(3.0, 4.0, 1.0), angle=20.0)
    for number, (size, at) in enumerate(MEMBERS):
        model.member(panel, size=size, at=at, name=f"M{number}")
    result = run(model)
    is_framed(layer_of(result))
    assert only(result).wall.ifc_class == "IfcElementAssembly"


def test_a_duct_of_another_trade_takes_its_room(run, tmp_path):
    model, other = Builder("IFC4", "METRE"), Builder("IFC4", "FOOT")
    plain(model)
    other.element("IfcDuctSegment", [other.box((0.1, 0.06, 2.0))], name="Duct", at=(0.5, 0.04, 0.2))
    layer = layer_of(run(model, with_paths=[other.save(tmp_path / "ducts.ifc")]))
    assert cavities(layer) == pytest.approx(PLAIN - 0.1 * 0.06 * 2.0, rel=1e-6)


# ---------------------------------------------------------------- walls among walls


def test_a_corner_that_two_walls_both_take_is_counted_once(run):
    model = Builder()
    plain(model, "A")
    plain(model, "B", length=3.0, at=(4.0, 0.0, 0.0), angle=90.0)
    result = run(model)
    first, second = (row.layers[0] for row in result.results)
    assert first.gross_area == pytest.approx(9.6)
    # B begins behind A's studs
    assert second.gross_area == pytest.approx((3.0 - BOARD - STUDS) * HEIGHT)
    assert codes(result) == ["walls-overlap"]


def test_no_stud_of_the_layout_stands_in_a_three_stud_corner(run):
    """4.14 m long, so that the tenth line of the layout, at 4.064 m, falls between the end stud and the third stud.

    That one shows 1 in beside the lining of the other wall, so the pocket is 1 in and 152.5 mm less two studs wide, and
    three spacer blocks of 12 in stand in it.
    """
    model = Builder()
    plain(model, "Through", length=4.14)
    plain(model, "Butting", at=(4.14, THICK, 0.0), angle=90.0)
    through = next(row for row in run(model).results if row.wall.name == "Through")
    (layer,) = through.layers
    pocket = BOARD + STUDS + 0.0254 - 2 * PLATE
    ends = [bounds(member.solid)[:, 0] for member in layer.frame.members if member.reason == "stud on the layout"]
    assert max(high for _, high in ends) < 4.14 - PLATE - pocket
    free = HEIGHT - 3 * PLATE - 3 * 0.3048
    beyond = [one for one in layer.cavities if one.outline.bounds[0] > 4.14 - 2 * PLATE - pocket]
    assert sum(one.volume for one in beyond) == pytest.approx(pocket * free * STUDS, rel=1e-6)


def test_a_wall_given_twice_is_counted_once_and_told(run):
    model = Builder()
    plain(model, "A")
    plain(model, "A again")
    result = run(model)
    assert codes(result) == ["walls-in-one-place"]
    first, again = result.results
    is_plain(first.layers[0])
    assert (again.status, again.layers) == (Status.LEFT_OUT, ())
    assert "its studs would stand where those of wall A" in again.reason
    # It can still be shown, as other walls that are left out.
    assert again.wall.body


def test_a_wall_that_holds_its_own_core_as_a_wall_is_one_wall(run):
    model = Builder()
    outer = plain(model, "outer")
    model.wall("core", length=LENGTH, height=HEIGHT, thickness=STUDS, whole=outer, at=(0.0, BOARD, 0.0))
    is_plain(layer_of(run(model)))


def test_a_wall_that_only_groups_walls_is_left_out_and_they_are_taken(run):
    model = Builder()
    group = model.wall("group", body=False)
    plain(model, "one", whole=group)
    plain(model, "other", whole=group, at=(0.0, 3.0, 0.0))
    rows = run(model).results
    assert [row.status for row in rows] == [Status.LEFT_OUT, Status.TAKEN_OFF, Status.TAKEN_OFF]
    assert "only groups" in rows[0].reason


@pytest.mark.parametrize(
    ("stated", "rooms", "external"),
    [
        (None, (), True),
        (None, (-3.0,), True),
        (None, (-3.0, THICK), False),
        (True, (-3.0, THICK), True),
        (False, (-3.0,), False),
    ],
)
def test_external_is_what_the_model_says_else_what_the_rooms_show(run, stated, rooms, external):
    model = Builder()
    wall = plain(model)
    if stated is not None:
        model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", stated)})
    for number, y in enumerate(rooms):
        model.space(f"R{number}", size=(LENGTH, 3.0, HEIGHT), at=(0.0, y, 0.0))
    row = only(run(model))
    assert row.wall.external is external
    assert row.wall.insulated is external
    is_plain(row.layers[0])


def test_a_wall_with_its_lining_outside_is_filled_from_the_room(run):
    model = Builder()
    plain(model)
    model.space("Kitchen", size=(LENGTH, 3.0, HEIGHT), at=(0.0, THICK, 0.0))
    result = run(model)
    layer = layer_of(result)
    assert layer.frame.layer.axes.directions[1] == pytest.approx([0.0, -1.0, 0.0])
    assert layer.frame.layer.rooms == ("Kitchen",)
    assert codes(result) == ["layers-face-the-other-way"]


# ---------------------------------------------------------------- broken among good


@pytest.mark.parametrize("value", ["NAN", "1.E300", "-1.E300", "1.E12", "0.", "-2345."])
def test_a_senseless_height_spoils_only_the_wall_that_has_it(run, tmp_path, value):
    model = Builder()
    plain(model, "good")
    plain(model, "bad", height=2.345, at=(0.0, 7.0, 0.0))
    path = model.save(tmp_path / "model.ifc")
    path.write_text(path.read_text().replace("2345.", value))
    good, bad = take_off(path).results
    is_plain(good.layers[0])
    assert bad.status is Status.FAILED
    assert bad.reason


def test_a_senseless_place_spoils_only_the_wall_that_has_it(tmp_path):
    model = Builder()
    plain(model, "good")
    plain(model, "bad", at=(0.0, 7.125, 0.0))
    path = model.save(tmp_path / "model.ifc")
    path.write_text(path.read_text().replace("7125.", "1.E300"))
    good, bad = take_off(path).results
    is_plain(good.layers[0])
    assert bad.status is Status.FAILED


def test_a_loose_member_of_a_senseless_size_is_told(tmp_path):
    model = Builder()
    plain(model)
    model.member(None, size=(0.05, 0.05, 1.317), at=(1.0, 0.05, 0.2))
    path = model.save(tmp_path / "model.ifc")
    path.write_text(path.read_text().replace("1317.", "1.E300"))
    result = take_off(path)
    is_plain(layer_of(result))
    assert codes(result) == ["part-shape-unreadable"]


@pytest.mark.parametrize(
    "name",
    [
        'it\'s "quoted"',
        "line\nbreak\ttab",
        "x" * 10_000,
        "<script>alert(1)</script>",
        "Außenwand – 外壁 – стена",
        "",
        None,
    ],
    ids=["quotes", "newline", "long", "markup", "languages", "empty", "none"],
)
def test_any_name_is_kept_as_it_is(run, name):
    model = Builder()
    plain(model, name)
    result = run(model)
    is_plain(layer_of(result))
    assert only(result).wall.name == (name or "")
    assert list(result.tables()["walls"].column("wall_id")) == [only(result).wall.wall_id]


def test_bounds_of_every_stud_layer_begin_at_zero(run):
    model = Builder()
    plain(model, at=(3.0, 4.0, 5.0), angle=123.0)
    low, high = bounds(layer_of(run(model)).frame.layer.outline)
    assert low == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    assert high == pytest.approx([LENGTH, STUDS, HEIGHT], abs=1e-9)
