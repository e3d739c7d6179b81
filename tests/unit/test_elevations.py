"""Elevations as primitives: places, signs and labels, and what the SVG and DXF backends make of them."""

from __future__ import annotations

import io
import unicodedata
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon, box

from reports.crew_layers import LayerPlan, cavity_number, layer_plans
from reports.drawing import Area, Disc, Drawing, Line, On, Pen, Strokes, Words, extent, rectangle, shifted
from reports.drawing_dxf import to_dxf
from reports.drawing_hatch import Hatch, hatched
from reports.drawing_labels import Taken, boxes_around, place_beside, place_inside, spread
from reports.drawing_scale import SCALES, fitting_scale, scale_bar
from reports.drawing_svg import to_svg
from reports.drawing_text import _BOLD, _REGULAR, FONT, FONT_FOLDER, is_covered, shortened, text_width
from reports.elevation_shapes import wall_shapes
from reports.elevation_signs import HATCHES, filling, hole_mark, swatches
from reports.elevations import LEFT, ElevationSize, elevation
from takeoff.fill import Pass, plan_fill
from takeoff.fill_order import Preparation, PreparationKind
from takeoff.model import LayerTakeoff, MemberRole, Method, Opening, OpenSide, WallTakeoff
from tests.drawing_checks import faults, labels_off_the_page, marks_under_labels, meeting_labels
from tests.records_builder import cavity, layer_takeoff, member, plain_wall, stud_layer

DEPTH = 0.1


def plan_of(wall: WallTakeoff) -> LayerPlan:
    (plan,) = layer_plans(plan_fill([wall]), [wall]).values()
    return plan


def wall_of(outlines: list[Polygon]) -> WallTakeoff:
    """The plain wall with these cavities instead of its own and nothing else in it."""
    wall = plain_wall("WALL-A")
    cavities = tuple(cavity(number, outline, "WALL-A") for number, outline in enumerate(outlines, start=1))
    (layer,) = wall.layers
    frame = replace(layer.frame, members=(), openings=())
    return replace(wall, layers=(replace(layer, frame=frame, cavities=cavities),))


def drawn(wall: WallTakeoff, scale: float = 25.0, width: float = 192.0) -> Drawing:
    return elevation(wall_shapes(plan_of(wall)), ElevationSize(width, scale), "metric", "Sheet 1")


# ---------------------------------------------------------------- text


@pytest.mark.parametrize(("face", "widths"), [("Regular", _REGULAR), ("Bold", _BOLD)])
def test_widths_are_those_of_the_font_that_is_shipped(face, widths):
    fonts = pytest.importorskip("fontTools.ttLib", reason="the font is read by fontTools, which comes with ezdxf")
    font = fonts.TTFont(FONT_FOLDER / f"LiberationSans-{face}.ttf")
    names = font.getBestCmap()
    assert font["name"].getDebugName(1) == FONT
    assert list(widths) == [font["hmtx"][names[code]][0] for code in range(32, 127)]


def test_the_font_comes_with_its_licence():
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONT_FOLDER / "OFL.txt").read_text(encoding="utf-8")


def test_a_letter_beyond_ascii_is_never_counted_too_narrow():
    assert text_width("ü", 2.0) == 2.0


def test_a_shortened_text_fits():
    cut = shortened("Living room and kitchen", 2.0, 12.0)
    assert cut.endswith("...")
    assert text_width(cut, 2.0) <= 12.0


# ---------------------------------------------------------------- primitives


def test_shapes_move_as_one():
    shapes = (
        Line(((0.0, 0.0), (1.0, 2.0)), On.MEMBERS),
        rectangle((0.0, 0.0, 2.0, 1.0), On.MEMBERS, None, Pen()),
        Disc(1.0, 1.0, 0.5, On.HOLES),
        Words(1.0, 1.0, "1", 2.0, On.NUMBERS),
    )
    before, after = extent(shapes), extent(shifted(shapes, 10.0, -3.0))
    assert after == pytest.approx((before[0] + 10.0, before[1] - 3.0, before[2] + 10.0, before[3] - 3.0))


def test_the_box_of_a_text_runs_along_it():
    lying = Words(10.0, 5.0, "2400", 2.0, On.DIMENSIONS)
    standing = replace(lying, upright=True)
    x0, y0, x1, y1 = lying.box
    assert x1 - x0 == pytest.approx(text_width("2400", 2.0))
    a0, b0, a1, b1 = standing.box
    assert (a1 - a0, b1 - b0) == pytest.approx((y1 - y0, x1 - x0))


@pytest.mark.parametrize("method", [Method.BLOW, Method.BATT, Method.BEFORE_SHEATHING])
def test_a_hatch_stays_in_its_area_and_fills_it(method):
    shape = Polygon([(0, 0), (20, 0), (20, 14), (8, 14), (8, 30), (0, 30)])
    strokes = hatched(shape, HATCHES[method])
    assert strokes is not None
    lines = shapely.linestrings(np.array(strokes.ends).reshape(-1, 2, 2))
    assert shapely.covers(shapely.buffer(shape, 1e-6), lines).all()
    # Parallel lines a spacing apart: their length times the spacing is the area, once for each direction.
    covered = shapely.length(lines).sum() * HATCHES[method].spacing / len(HATCHES[method].angles)
    assert covered == pytest.approx(shape.area, rel=0.02)


def test_every_way_of_filling_looks_different_without_colour():
    looks = {}
    for method in Method:
        signs = filling(box(0, 0, 20, 20), method)
        looks[method] = tuple(
            (sign.angles, sign.spacing) if isinstance(sign, Strokes) else sign.fill if isinstance(sign, Area) else None
            for sign in signs
        )
    assert len(set(looks.values())) == len(Method)


def test_lower_and_upper_holes_look_different_without_colour():
    (lower,) = hole_mark((0.0, 0.0), 1.7, Pass.LOWER)
    upper = hole_mark((0.0, 0.0), 1.7, Pass.UPPER)
    assert isinstance(lower, Disc)
    assert lower.fill == 0.0
    assert [shape.fill for shape in upper if isinstance(shape, Disc)] == [1.0]
    assert sum(isinstance(shape, Line) for shape in upper) == 2


def test_a_seal_is_black_and_nothing_to_do_is_blank():
    (seal,) = filling(box(0, 0, 1, 1), Method.SEAL)
    assert isinstance(seal, Area)
    assert seal.fill == 0.0
    assert filling(box(0, 0, 1, 1), Method.NONE) == []


def test_a_hatch_that_no_line_meets_is_none():
    assert hatched(box(0.1, 0.1, 0.2, 0.2), Hatch((0.0,), 5.0, Pen())) is None


# ---------------------------------------------------------------- scale


def test_the_largest_scale_that_fits_is_taken():
    assert fitting_scale(2.4, 2.4, (150.0, 130.0)) == 20.0
    assert fitting_scale(2.4, 2.4, (150.0, 119.0)) == 25.0
    assert fitting_scale(9.0, 2.5, (180.0, 60.0)) == 50.0


def test_a_wall_too_long_for_every_scale_still_gets_one():
    scale = fitting_scale(20_000.0, 3.0, (150.0, 100.0))
    assert 20_000.0 * 1000.0 / scale <= 150.0


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_scale_bar_is_as_long_as_it_says(scale, system):
    shapes = scale_bar((0.0, 0.0), scale, system, "")
    length = max(shape.rings[0][1][0] for shape in shapes if isinstance(shape, Area))
    said = next(shape.text for shape in shapes if isinstance(shape, Words))
    number, unit = said.split()
    metres = float(number) * (1.0 if unit == "m" else 0.3048)
    assert length == pytest.approx(metres * 1000.0 / scale)


# ---------------------------------------------------------------- labels


@given(
    st.lists(st.floats(0.0, 100.0), min_size=1, max_size=20),
    st.floats(0.5, 6.0),
)
def test_spread_labels_keep_their_order_and_distance(wished, spacing):
    places = spread(sorted(wished), spacing, 0.0, 100.0)
    assert (np.diff(places) >= spacing - 1e-9).all()
    assert places[0] >= -1e-9
    if spacing * len(wished) < 100.0:
        assert places[-1] <= 100.0 + 1e-9


def test_labels_with_room_stay_where_they_are_wished():
    assert spread([1.0, 5.0, 9.0], 3.0, 0.0, 10.0).tolist() == [1.0, 5.0, 9.0]


def test_crowded_labels_move_as_little_as_they_can():
    # Two labels wished at 5 that must stand 2 apart: one to either side.
    assert spread([5.0, 5.0], 2.0, 0.0, 10.0).tolist() == [4.0, 6.0]


def test_a_label_goes_inside_only_where_it_fits():
    taken = Taken()
    assert place_inside(box(0, 0, 10, 10), 4.0, 3.0, taken) == (5.0, 5.0)
    assert place_inside(box(0, 0, 3.9, 10), 4.0, 3.0, taken) is None


def test_a_label_inside_avoids_what_stands():
    taken = Taken()
    taken.add((0.0, 4.0, 10.0, 6.0))
    x, y = place_inside(box(0, 0, 10, 10), 4.0, 3.0, taken) or (0.0, 0.0)
    assert taken.free(boxes_around(np.array([[x, y]]), 4.0, 3.0))[0]


def test_a_label_beside_finds_room_in_a_crowd():
    taken = Taken()
    taken.add((-20.0, -20.0, 20.0, 20.0))
    x, y = place_beside((0.0, 0.0), 3.0, 2.0, taken, 1.0)
    assert taken.free(boxes_around(np.array([[x, y]]), 3.0, 2.0))[0]


@st.composite
def walls(draw) -> WallTakeoff:
    """A wall of 2.4 m in bays and rows of any width and height, some narrower than any label."""
    widths = draw(st.lists(st.sampled_from([0.008, 0.03, 0.08, 0.12, 0.2, 0.368]), min_size=1, max_size=12))
    heights = draw(st.lists(st.sampled_from([0.05, 0.1, 0.4, 1.1]), min_size=1, max_size=4))
    outlines: list[Polygon] = []
    x = 0.05
    for width in widths:
        if x + width > 2.35:
            break
        z = 0.05
        for height in heights:
            if z + height > 2.35:
                break
            outlines.append(box(x, z, x + width, z + height))
            z += height + 0.04
        x += width + 0.04
    return wall_of(outlines)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(walls(), st.sampled_from(SCALES))
def test_no_labels_meet_in_any_wall_at_any_scale(wall, scale):
    if 2400.0 / scale > ElevationSize(192.0, scale).room:
        scale = 20.0
    assert not faults(drawn(wall, scale))


# ---------------------------------------------------------------- the elevation


def test_every_cavity_has_its_number_once():
    drawing = drawn(plain_wall())
    numbers = [words.text for words in drawing.words if words.on is On.NUMBERS]
    assert sorted(numbers) == ["1", "2", "3"]


def test_a_number_that_fits_stands_in_its_cavity():
    drawing = drawn(wall_of([box(0.05, 0.05, 0.45, 2.35)]))
    (number,) = [words for words in drawing.words if words.on is On.NUMBERS]
    left = LEFT + 0.5 * (ElevationSize(192.0, 25.0).room - 2400.0 / 25.0)
    assert left + 50.0 / 25.0 <= number.box[0]
    assert number.box[2] <= left + 450.0 / 25.0


def test_a_number_that_does_not_fit_has_a_leader_to_its_cavity():
    drawing = drawn(wall_of([box(1.0, 0.05, 1.02, 2.35)]))
    (number,) = [words for words in drawing.words if words.on is On.NUMBERS]
    (leader,) = [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.on is On.NUMBERS]
    left = LEFT + 0.5 * (ElevationSize(192.0, 25.0).room - 2400.0 / 25.0)
    assert left + 1000.0 / 25.0 <= leader.points[0][0] <= left + 1020.0 / 25.0
    assert leader.points[-1] == (number.x, number.y)


def test_holes_are_drawn_to_scale_and_told_their_height():
    wall = plain_wall()
    plan = plan_of(wall)
    drawing = elevation(wall_shapes(plan), ElevationSize(192.0, 25.0), "metric", "")
    marks = sorted((disc.x, disc.y) for disc in drawing.discs if disc.on is On.HOLES)
    holes = sorted((hole.x, hole.z) for hole in plan.holes)
    spots = np.array(marks)
    assert np.allclose(np.ptp(spots, axis=0), np.ptp(np.array(holes), axis=0) * 1000.0 / 25.0)
    texts = [words.text for words in drawing.words]
    for row in plan.rows:
        assert any(text.endswith(f"({row.n_holes})") for text in texts)
    assert "floor" in texts


def test_wall_length_and_height_are_dimensioned_in_the_units_of_the_job():
    wall = wall_shapes(plan_of(plain_wall()))
    metric = elevation(wall, ElevationSize(192.0, 25.0), "metric", "")
    us = elevation(wall, ElevationSize(192.0, 25.0), "us", "")
    assert [words.text for words in metric.words].count("2.400 m") == 2
    assert [words.text for words in us.words].count("7'-10 1/2\"") == 2


def test_a_closed_pocket_is_hatched_behind_a_dashed_line():
    wall = plain_wall()
    (layer,) = wall.layers
    pocket = replace(layer.cavities[0], front=Polygon(), method=Method.BEFORE_SHEATHING)
    changed = replace(wall, layers=(replace(layer, cavities=(pocket, *layer.cavities[1:])),))
    drawing = drawn(changed)
    dashed = [shape for shape in drawing.shapes if isinstance(shape, Area) and shape.on is On.CAVITIES]
    assert any(shape.pen is not None and shape.pen.dash for shape in dashed)
    assert "hidden: fill before sheathing" in [words.text for words in drawing.words]


def test_what_stands_in_the_depth_is_dashed_and_the_face_is_grey():
    drawing = drawn(plain_wall())
    hidden = [shape for shape in drawing.shapes if shape.on is On.HIDDEN]
    assert hidden
    grey = [shape for shape in drawing.shapes if isinstance(shape, Area) and shape.on is On.MEMBERS and shape.fill]
    # bottom plate, top plate, stud, and the white face beneath
    assert sum(shape.fill != 1.0 for shape in grey) == 3


def test_the_legend_names_what_is_shown_and_nothing_else():
    texts = [words.text for words in drawn(plain_wall()).words]
    for words in ("hole, lower pass (black disc)", "blow", "seal", "member", "opening"):
        assert words in texts
    assert "hidden: fill before sheathing" not in texts
    assert "batt, by hand" not in texts
    assert "nothing to do" not in texts


def test_the_legend_knows_every_way_of_filling():
    assert set(Method) <= {key for key, _, _ in swatches()}


def test_the_legend_gives_no_pass_a_digit():
    signs = {key: sign for key, _, sign in swatches()}
    for key in ("lower", "upper"):
        assert not [shape for shape in signs[key] if isinstance(shape, Words)]
    kinds = {key: [type(shape).__name__ for shape in signs[key]] for key in ("lower", "upper")}
    assert kinds["lower"] != kinds["upper"]  # told apart by shape, not only by grey


def test_a_floor_below_the_wall_stays_on_the_drawing():
    plan = plan_of(plain_wall())
    rows = tuple(replace(row, height=row.z + 0.3) for row in plan.rows)
    drawing = elevation(wall_shapes(replace(plan, rows=rows)), ElevationSize(192.0, 25.0), "metric", "")
    assert not faults(drawing)
    floor = next(words for words in drawing.words if words.text == "floor")
    assert floor.y > 0.0


def test_an_outline_that_touches_itself_is_drawn_all_the_same():
    bow = Polygon([(0.1, 0.1), (0.4, 0.1), (0.4, 2.0), (0.25, 2.0), (0.25, 2.3), (0.25, 2.0), (0.1, 2.0)])
    assert not bow.is_valid
    wall = wall_of([bow])
    drawing = elevation(
        wall_shapes(LayerPlan(wall, wall.layers[0], {}, (), (), ())), ElevationSize(192.0, 25.0), "metric", ""
    )
    assert not labels_off_the_page(drawing)


def test_cavity_numbers_are_those_of_their_ids():
    assert cavity_number("2O2Fr$t4X7Zf8NOew3FLOH#2/c07") == "7"
    assert cavity_number("2O2Fr$t4X7Zf8NOew3FLOH/s02") == "s2"
    assert cavity_number("odd") == "odd"


def test_a_wall_without_cavities_is_drawn():
    wall = wall_of([])
    drawing = elevation(
        wall_shapes(LayerPlan(wall, wall.layers[0], {}, (), (), ())), ElevationSize(192.0, 50.0), "us", "empty"
    )
    assert not meeting_labels(drawing)
    assert not marks_under_labels(drawing)


def many_bays() -> WallTakeoff:
    """Twenty bays of 8 mm: none holds its number, and one row does not hold them all at 1:100."""
    layer: LayerTakeoff = layer_takeoff("WALL-A")
    cavities = tuple(cavity(n, box(0.05 + 0.02 * n, 0.1, 0.058 + 0.02 * n, 2.3), "WALL-A") for n in range(1, 100))
    frame = replace(
        layer.frame,
        layer=stud_layer("WALL-A"),
        members=(member(1, MemberRole.TOP_PLATE, box(0, 2.35, 2.4, 2.4), "WALL-A"),),
        openings=(),
    )
    return replace(plain_wall("WALL-A"), layers=(replace(layer, cavities=cavities, frame=frame),))


def test_numbers_that_fill_more_than_one_row_outside_still_do_not_meet():
    drawing = drawn(many_bays(), 100.0)
    numbers = [words for words in drawing.words if words.on is On.NUMBERS]
    assert len(numbers) == 99
    assert len({round(words.y, 3) for words in numbers}) > 2
    assert not faults(drawing)


# ---------------------------------------------------------------- backends

HOSTILE = 'Wall <b>"A" & \x07 \u202e#*] ü'


def test_svg_is_well_formed_and_carries_hostile_names_as_text():
    drawing = replace(drawn(plain_wall()), title=HOSTILE)
    root = ElementTree.fromstring(to_svg(drawing))
    assert root[0].text is not None
    assert root[0].text.startswith('Wall <b>"A" &')
    assert "\x07" not in root[0].text


def test_svg_has_the_size_of_the_page_and_names_the_font():
    drawing = drawn(plain_wall())
    root = ElementTree.fromstring(to_svg(drawing))
    assert root.attrib["width"] == "192mm"
    assert root.attrib["font-family"].startswith(f"'{FONT}'")


def test_svg_holds_every_text_of_the_drawing():
    drawing = drawn(plain_wall())
    root = ElementTree.fromstring(to_svg(drawing))
    texts = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert texts == [words.text for words in drawing.words]


def test_svg_is_the_same_each_time():
    assert to_svg(drawn(plain_wall())) == to_svg(drawn(plain_wall()))


def test_dxf_is_sound_at_full_size_and_the_same_each_time():
    ezdxf = pytest.importorskip("ezdxf", reason="DXF needs the extra 'dxf'")
    drawing = drawn(plain_wall(), 25.0)
    first, second = to_dxf(drawing), to_dxf(drawing)
    assert first == second
    document = ezdxf.read(io.StringIO(first.decode("utf-8")))
    assert not document.audit().errors
    assert document.header["$INSUNITS"] == 4  # millimetres
    assert document.header["$MEASUREMENT"] == 1
    faces = [
        shape for shape in document.modelspace().query("LWPOLYLINE") if shape.dxf.layer == "members" and shape.closed
    ]
    wide = max(max(point[0] for point in face) - min(point[0] for point in face) for face in faces)
    assert wide == pytest.approx(2400.0, abs=0.1)


def test_dxf_puts_each_sort_of_thing_on_its_layer():
    ezdxf = pytest.importorskip("ezdxf", reason="DXF needs the extra 'dxf'")
    document = ezdxf.read(io.StringIO(to_dxf(drawn(plain_wall())).decode("utf-8")))
    space = document.modelspace()
    assert {entity.dxf.layer for entity in space} <= {str(on) for on in On}
    assert {entity.dxf.layer for entity in space.query("CIRCLE")} >= {"holes"}
    assert {entity.dxf.layer for entity in space.query("HATCH")} >= {"hatching"}


def test_what_counts_as_covered_is_in_the_font_that_is_shipped():
    fonts = pytest.importorskip("fontTools.ttLib", reason="fonts are read by fonttools")
    for name in ("Regular", "Bold"):
        letters = set(fonts.TTFont(str(FONT_FOLDER / f"LiberationSans-{name}.ttf")).getBestCmap())
        claimed = {c for c in map(chr, range(0x20, 0x2300)) if is_covered(c) and unicodedata.category(c)[0] != "C"}
        assert not {c for c in claimed if ord(c) not in letters}
    assert is_covered("Küche, Εξωτερικός, Склад № 12, Łódź, 3 m² · ½ × 2")
    assert not is_covered("客厅")
    assert not is_covered("चौड़ी")


# ---------------------------------------------------------------- preparations


def lines_before(wall: WallTakeoff, *items: Preparation) -> list[tuple[tuple[float, float], ...]]:
    """Lines of baffles and blockers, page mm, in a drawing at 1:25."""
    (plan,) = layer_plans(plan_fill([wall]), [wall], items).values()
    drawing = elevation(wall_shapes(plan), ElevationSize(192.0, 25.0), "metric", "")
    assert not faults(drawing)
    return [shape.points for shape in drawing.shapes if isinstance(shape, Line) and shape.on is On.PREPARATIONS]


def to_do(kind: PreparationKind, number: int = 1) -> Preparation:
    return Preparation(kind, "Ground floor", "Kitchen", "WALL-A", "", f"WALL-A/c{number:02d}")


def with_open_side(side: OpenSide) -> WallTakeoff:
    wall = wall_of([box(0.05, 0.05, 0.45, 2.35), box(0.5, 0.05, 0.9, 2.35)])
    (layer,) = wall.layers
    return replace(wall, layers=(replace(layer, open_sides=(side,)),))


def test_a_baffle_is_drawn_over_its_bay_and_over_no_other():
    wall = wall_of([box(0.05, 0.05, 0.45, 2.35), box(0.5, 0.05, 0.9, 2.35)])
    ((start, end),) = lines_before(wall, to_do(PreparationKind.EAVE_BAFFLE, 2))
    assert end[0] - start[0] == pytest.approx(0.4 * 40.0)
    assert start[1] == end[1]
    assert lines_before(wall) == []


def test_a_blocker_is_drawn_along_the_side_that_it_closes():
    wall = with_open_side(OpenSide("WALL-A/c02", "right", 2.3, 0.05, 2.35, 0.23))
    ((start, end),) = lines_before(wall, to_do(PreparationKind.BLOCKER, 2))
    assert start[0] == end[0]
    assert abs(end[1] - start[1]) == pytest.approx(2.3 * 40.0)
    assert lines_before(wall) == []


def test_a_blocker_at_an_opening_runs_along_the_edge_that_both_share():
    wall = with_open_side(OpenSide("WALL-A/c02", "opening", 0.8, 0.6, 1.4, 0.08))
    (layer,) = wall.layers
    hole = Opening("O", box(0.9, 0.6, 1.5, 1.4), "IfcWindow", "", "opening element")
    wall = replace(wall, layers=(replace(layer, frame=replace(layer.frame, openings=(hole,))),))
    ((start, end),) = lines_before(wall, to_do(PreparationKind.BLOCKER, 2))
    assert abs(end[0] - start[0]) < 0.01
    assert abs(end[1] - start[1]) == pytest.approx(0.8 * 40.0, abs=0.01)
