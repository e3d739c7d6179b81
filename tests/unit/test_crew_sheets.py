"""What crew sheets say: order, lists, tables and how they are laid on paper."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import box

from geometry.frames import Axes
from reports.crew_cover import cover_texts, sheet_order, wall_name
from reports.crew_pages import CLOSE, HEAD, PAPERS, READABLE_SCALE, Page, lay_out, lines_height, pages
from reports.crew_plan import PlanView, storey_plan, turn_of
from reports.crew_reasons import grouped, number_list
from reports.crew_rows import LOOK, before_netting, cavity_table, netting_cells, netting_words, room_words, shown
from reports.crew_sheets import (
    PDF_NAME,
    CrewSheetError,
    crew_sheet_files,
    crew_work,
    sheet_layout,
    sheet_texts,
)
from reports.drawing import Area, Drawing
from reports.files import OutputError
from reports.sheet_files import write_sheets
from takeoff.building import ModelPart
from takeoff.fill_order import Preparation, PreparationKind
from takeoff.job import read_job
from takeoff.model import MemberRole, Method
from takeoff.netting_lines import netting_lines
from takeoff.result import Takeoff
from takeoff.truck_load import fastening_of
from takeoff.units import parse_length
from tests.drawing_checks import labels_off_the_page, meeting_labels
from tests.records_builder import cavity, double_wall, failed_wall, left_out_wall, plain_wall, takeoff_of


def sheet_of(takeoff: Takeoff):
    """The work of a takeoff and the key of its first sheet."""
    work = crew_work(takeoff)
    return work, next(iter(work.sheets))


# ---------------------------------------------------------------- words


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ([], ""),
        (["3"], "3"),
        (["3", "4"], "3, 4"),
        (["5", "3", "4"], "3-5"),
        (["10", "2", "s1", "9"], "2, 9, 10, s1"),
        (["2", "2"], "2"),
    ],
)
def test_numbers_are_drawn_together(numbers, said):
    assert number_list(numbers) == said


def test_reasons_that_differ_in_a_measure_become_one_line():
    entries = [
        ("W/c01", "clear width 0.041 m is less than the 0.096 m that the hose needs"),
        ("W/c05", "clear width 0.080 m is less than the 0.096 m that the hose needs"),
        ("W/c07", "no place was found for a hole"),
    ]
    assert grouped(entries, "metric") == [
        ("1, 5", "clear width 41 mm to 80 mm is less than the 96 mm that the hose needs"),
        ("7", "no place was found for a hole"),
    ]


def test_reasons_speak_the_units_of_the_job():
    ((_, said),) = grouped([("W/c01", "volume 0.0012 m3 is less than 0.0030 m3, gap of 25.4 mm")], "us")
    assert said == 'volume 0.04 ft3 is less than 0.11 ft3, gap of 1"'


def test_raised_digits():
    assert shown("3.2 m3 on 4 ft2") == "3.2 m³ on 4 ft²"


# ---------------------------------------------------------------- lists of a sheet


def test_hand_work_blockers_and_baffles_come_first_in_their_order():
    work, key = sheet_of(takeoff_of((plain_wall(),)))
    extra = (
        Preparation(PreparationKind.EAVE_BAFFLE, "Ground floor", "Kitchen", key, "vented eave along the wall"),
        Preparation(PreparationKind.BLOCKER, "Ground floor", "Kitchen", key, "open to the stair", f"{key}/c01"),
        Preparation(PreparationKind.EAVE_BAFFLE, "Ground floor", "Kitchen", "OTHER", "not here"),
    )
    facts = replace(work.facts, preparations=(*work.facts.preparations, *extra))
    lines = before_netting(work.plans[key], facts)
    assert lines == [
        "Set eave baffles: vented eave along the wall",
        "Set blockers at 1: open to the stair",
        "Seal 3: narrow",
        "Check, protect and fill around in 1: BuildingElementProxy",
        LOOK,
    ]


def test_the_table_has_a_row_and_a_tick_for_every_cavity():
    work, key = sheet_of(takeoff_of((plain_wall(),)))
    rows = cavity_table(work.plans[key], work.facts)
    assert [row["number"] for row in rows] == ["1", "2", "3"]
    assert all(row["tick"] == "yes" for row in rows)
    assert rows[0]["width"] == "1.345 m"
    assert rows[0]["height"] == "2.300 m"
    assert rows[0]["depth"] == "100 mm"
    assert rows[0]["volume"] == "0.309 m³"
    # 1.345 x 2.3 x 0.1 m3 at 33 kg/m3
    assert rows[0]["mass"] == "10.2 kg"
    assert (rows[2]["method"], rows[2]["mass"], rows[2]["holes"]) == ("seal", "", "")


def test_a_neighbours_plate_is_nothing_to_fill_around():
    # The builder's obstruction by its class, name and wall: only framing of another wall is left out.
    def said(ifc_class: str, wall_id: str) -> bool:
        wall = plain_wall()
        (layer,) = wall.layers
        pipe = next(m for m in layer.frame.members if m.role is MemberRole.OBSTRUCTION)
        member = replace(pipe, element_id="CAP", element_class=ifc_class, element_name="Cap plate")
        members = tuple(member if each is pipe else each for each in layer.frame.members)
        part = ModelPart("CAP", ifc_class, "Cap plate", "", "", "", (), wall_id)
        frame = replace(layer.frame, members=members, layer=replace(layer.frame.layer, parts=(part,)))
        work, key = sheet_of(takeoff_of((replace(wall, layers=(replace(layer, frame=frame),)),)))
        return any("Cap plate" in line for line in before_netting(work.plans[key], work.facts))

    assert not said("IfcMember", "NEIGHBOUR")
    assert said("IfcMember", "")
    assert said("IfcPipeSegment", "NEIGHBOUR")


def test_a_cavity_with_nothing_to_do_has_no_tick():
    wall = plain_wall()
    (layer,) = wall.layers
    cavities = (layer.cavities[0], replace(layer.cavities[1], method=Method.NONE))
    work, key = sheet_of(takeoff_of((replace(wall, layers=(replace(layer, cavities=cavities),)),)))
    assert [row["tick"] for row in cavity_table(work.plans[key], work.facts)] == ["yes", ""]


def test_rooms_are_told_apart_only_where_there_are_two():
    wall = plain_wall()
    (layer,) = wall.layers
    work, key = sheet_of(takeoff_of((wall,)))
    assert room_words(work.plans[key]) == ""
    cavities = (layer.cavities[0], replace(layer.cavities[1], room="Hall"), layer.cavities[2])
    work, key = sheet_of(takeoff_of((replace(wall, layers=(replace(layer, cavities=cavities),)),)))
    assert room_words(work.plans[key]) == "Kitchen: 1, 3; Hall: 2"


def test_netting_says_its_lines_and_the_one_way_of_fastening_that_holds():
    (layer,) = plain_wall().layers
    lines = netting_lines(layer)
    assert ("all lines", "9.600 m") in netting_cells(lines, "metric")
    wood = read_job("", "job.toml")
    words = netting_words(fastening_of(layer, lines, wood), wood)
    assert "Staple along all lines" in words
    assert "216 staples" in words
    assert "lue" not in words
    glue = read_job('[netting]\nfastening = "glue"\n', "job.toml")
    words = netting_words(fastening_of(layer, lines, glue), glue)
    assert "Glue along all lines" in words
    assert "Staple along" not in words
    bare = replace(layer.frame.layer, layers=())
    steel = replace(layer, frame=replace(layer.frame, rule="steel-16in", layer=bare))
    words = netting_words(fastening_of(steel, lines, wood), wood)
    assert "Steel studs: glue along all lines" in words
    assert "Staple along" not in words
    assert "ommon practice" in words


def test_two_stud_layers_have_a_sheet_each():
    work = crew_work(takeoff_of((double_wall(),)))
    assert sorted(work.sheets.values()) == [1, 2]
    assert {wall_name(work.plans[key]) for key in work.sheets} == {
        "Wall WALL-D, stud layer 1",
        "Wall WALL-D, stud layer 2",
    }


# ---------------------------------------------------------------- cover


def test_sheets_are_numbered_in_order_of_work_and_only_where_there_is_work():
    upper = plain_wall("WALL-U", storey="Upper floor", storey_elevation=2.7)
    (layer,) = upper.layers
    cavities = tuple(replace(each, storey="Upper floor", room="Bedroom") for each in layer.cavities)
    upper = replace(upper, layers=(replace(layer, cavities=cavities),))
    walls = (upper, plain_wall("WALL-G"), plain_wall("WALL-N", insulated=False))
    work = crew_work(takeoff_of(walls))
    assert work.sheets == {"WALL-G": 1, "WALL-U": 2}
    assert sheet_order(work.steps, work.plans) == work.sheets


def test_the_cover_accounts_for_every_wall():
    walls = (plain_wall("WALL-A"), plain_wall("WALL-N", insulated=False), left_out_wall(), failed_wall())
    texts = cover_texts(crew_work(takeoff_of(walls)).cover)
    missing = texts["missing"]
    assert isinstance(missing, list)
    said = " ".join(missing)
    assert "1 framed wall with nothing to fill" in said
    assert "1 wall that is no framed wall;" in said
    assert "its body is not closed" in said
    rows = texts["sheets"]
    assert isinstance(rows, list)
    assert [row["wall"] for row in rows] == ["Wall WALL-A"]


def test_the_cover_names_what_can_hurt_and_defers_to_local_codes():
    texts = cover_texts(crew_work(takeoff_of((plain_wall(),))).cover)
    said = " ".join([str(texts["first"]), *map(str, [*texts["wear"], *texts["cautions"]])]).lower()  # type: ignore[misc]
    for word in ("eyes", "breathing", "ladder", "recessed lights", "flue", "live wiring", "eave", "codes", "licensed"):
        assert word in said, word


def test_holes_on_the_cover_are_those_of_the_plan():
    work = crew_work(takeoff_of((plain_wall("WALL-A"), plain_wall("WALL-B"))))
    order = cover_texts(work.cover)["order"]
    assert isinstance(order, list)
    counted = sum(int(row["lower"] or 0) + int(row["upper"] or 0) for row in order)
    assert counted == len(work.plan.holes)


def test_cores_say_what_they_should_weigh():
    work = crew_work(takeoff_of((plain_wall(),)))
    rows = cover_texts(work.cover)["cores"]
    assert isinstance(rows, list)
    assert rows
    # a core of 4 in through 0.1 m at 33 kg/m3
    grams = math.pi / 4 * parse_length("4 in") ** 2 * 0.1 * 33.0 * 1000.0
    assert rows[0]["mass"] == f"{grams:.1f} g"


# ---------------------------------------------------------------- plan


def turned_wall(wall_id: str, angle: float, at: tuple[float, float]):
    wall = plain_wall(wall_id)
    (layer,) = wall.layers
    c, s = math.cos(angle), math.sin(angle)
    axes = Axes(np.array([*at, 0.0]), np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]))
    frame = replace(layer.frame, layer=replace(layer.frame.layer, key=wall_id, wall_id=wall_id, axes=axes))
    return replace(wall, layers=(replace(layer, frame=frame),))


def plan_drawing(angle: float) -> Drawing:
    c, s = math.cos(angle), math.sin(angle)
    walls = [turned_wall("A", angle, (0.0, 0.0)), turned_wall("B", angle + math.pi / 2, (2.4 * c, 2.4 * s))]
    work = crew_work(takeoff_of(tuple(walls)))
    plans = list(work.plans.values())
    return storey_plan(plans, work.sheets, PlanView((190.0, 100.0), turn_of(plans), "metric"), "Ground floor")


def test_a_plan_shows_north_only_where_the_model_says_it():
    work, _ = sheet_of(takeoff_of((plain_wall(),)))
    plans = list(work.plans.values())

    def shown(north):
        view = PlanView((190.0, 100.0), np.eye(2), "metric", north)
        return storey_plan(plans, work.sheets, view, "Ground floor")

    assert "N" not in [words.text for words in shown(None).words]
    for north in ((0.0, 1.0), (0.6, -0.8), (-1.0, 0.0)):
        drawing = shown(north)
        (letter,) = [words for words in drawing.words if words.text == "N"]
        tips = [np.array(shape.rings[0]) for shape in drawing.shapes if isinstance(shape, Area)][-2:]
        middle = np.mean([ring.mean(axis=0) for ring in tips], axis=0)
        way = np.array([letter.x, letter.y]) - middle
        assert way / np.linalg.norm(way) == pytest.approx(north, abs=0.05)
        assert not meeting_labels(drawing)
        assert not labels_off_the_page(drawing)


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.2, math.pi / 2, 3.0, -2.0])
def test_a_plan_is_turned_along_the_page_and_its_labels_do_not_meet(angle):
    drawing = plan_drawing(angle)
    assert not meeting_labels(drawing)
    assert not labels_off_the_page(drawing)
    assert [words.text for words in drawing.words if words.framed] == ["1", "2"]
    rims = [shape for shape in drawing.shapes if hasattr(shape, "rings") and len(shape.rings[0]) == 4]
    for rim in rims[:2]:
        sides = np.diff(np.array([*rim.rings[0], rim.rings[0][0]]), axis=0)
        assert np.allclose(np.abs(sides).min(axis=1), 0.0, atol=1e-6)


# ---------------------------------------------------------------- paper


def blank(page: Page, height: float) -> Drawing:
    return Drawing("", page.width, height, 50.0, ())


def test_the_largest_elevation_on_one_page_is_taken():
    layout = lay_out("a4", lambda page, scale: blank(page, 4000.0 / scale), lambda page: 20.0, [{}] * 20)
    assert layout.n_pages == 1
    # at 1:10 and 1:20 the drawing of 400 and 200 mm leaves no room for 20 rows in two columns; 1:25 does
    assert layout.drawing.height == pytest.approx(160.0)
    assert not layout.page.landscape


def test_a_wall_too_long_for_upright_paper_lies_across():
    layout = lay_out(
        "a4",
        lambda page, scale: blank(page, 60.0) if page.landscape and scale >= 50.0 else None,
        lambda page: 0.0,
        [{}],
    )
    assert layout.page.landscape


def test_every_row_is_on_some_page_in_order():
    rows = [{"number": str(n)} for n in range(200)]
    layout = lay_out("letter", lambda page, scale: blank(page, 90.0), lambda page: 30.0, rows)
    placed = [row["number"] for block in layout.blocks for column in block.columns for row in column]
    assert placed == [row["number"] for row in rows]
    assert [block.new_page for block in layout.blocks][1:] == [True] * (len(layout.blocks) - 1)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_no_page_is_overfull(paper):
    for n_rows in (0, 1, 7, 35, 80, 300):
        layout = lay_out(paper, lambda page, scale: blank(page, 5000.0 / scale), lambda page: 25.0, [{}] * n_rows)
        used = HEAD + layout.drawing.height + 25.0 + CLOSE
        for block in layout.blocks:
            used = CLOSE if block.new_page else used
            used += 7.0 + block.row_height * (1 + max(map(len, block.columns)))
            assert used <= layout.page.height + 1e-6


def test_a_page_is_not_saved_by_an_unreadable_elevation():
    layout = lay_out("a4", lambda page, scale: blank(page, 9000.0 / scale), lambda page: 100.0, [{}] * 60)
    assert 9000.0 / layout.drawing.height <= READABLE_SCALE + 1e-6


def test_long_lines_are_counted_as_often_as_they_wrap():
    assert lines_height(["word " * 100], 100.0) > 2.0 * lines_height(["word"], 100.0)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_paper_stands_and_lies_on_the_same_sheet(paper):
    standing, lying = pages(paper)
    assert standing.width < lying.width
    assert standing.height > lying.height


def test_a_sheet_holds_its_texts_once(tmp_path):
    work, key = sheet_of(takeoff_of((plain_wall(),)))
    texts = sheet_texts(work, key, sheet_layout(work, key, "a4"))
    assert texts["number"] == "1"
    assert texts["closing"] == ["hand work done", "lower pass", "upper pass", "density checked", "holes closed"]
    assert re.search(r"frame laid out by rule \(wood-16in\): check on site", str(texts["facts"]))


def test_a_table_of_the_cover_has_its_heading_on_every_page():
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    takeoff = takeoff_of(tuple(plain_wall(f"WALL-{number}") for number in range(90)))
    found = {"should weigh": 0, "storey, rooms": 0}
    titles = {"should weigh": "Density check", "storey, rooms": "Sheets in order of work"}
    for page in pypdf.PdfReader(io.BytesIO(crew_sheet_files(takeoff)[PDF_NAME])).pages[:9]:
        text = page.extract_text()
        for words, title in titles.items():
            if words in text:
                found[words] += 1
                assert title in text
    assert found["storey, rooms"] > 1
    assert found["should weigh"] >= 1


# ---------------------------------------------------------------- files


def test_unknown_paper_is_refused():
    with pytest.raises(CrewSheetError, match="write one of a4, letter"):
        crew_sheet_files(takeoff_of((plain_wall(),)), "a3")  # type: ignore[arg-type]


def test_foreign_files_among_elevations_are_refused_before_any_work(tmp_path):
    (tmp_path / "elevations").mkdir()
    (tmp_path / "elevations" / "holiday.jpg").write_bytes(b"")
    with pytest.raises(OutputError, match="holds other files"):
        write_sheets(takeoff_of((plain_wall(),)), tmp_path)


def test_a_file_in_place_of_the_folder_is_refused(tmp_path):
    target = tmp_path / "out"
    target.write_text("")
    with pytest.raises(OutputError, match="is a file"):
        write_sheets(takeoff_of((plain_wall(),)), target)


def test_hostile_names_are_text_and_nothing_else(tmp_path):
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    name = '#panic("x") *bold* $x$ ] <b> \\ "quoted" 中'
    wall = plain_wall(name=name, storey="../../up")
    (layer,) = wall.layers
    cavities = tuple(replace(each, room="#let x = 1 // _") for each in layer.cavities)
    wall = replace(wall, layers=(replace(layer, cavities=cavities),))
    files = crew_sheet_files(takeoff_of((wall,), project_name="]#{1/0}"))
    assert files[PDF_NAME].startswith(b"%PDF")
    assert all(re.fullmatch(r"crew_sheets\.pdf|elevations/[a-z0-9-]+\.(svg|dxf)", file) for file in files)


def test_sheets_are_written_and_written_again(tmp_path):
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    takeoff = takeoff_of((plain_wall("WALL-A"), plain_wall("WALL-N", insulated=False)))
    folder = tmp_path / "new" / "sheets"
    first = write_sheets(takeoff, folder)
    contents = {path: path.read_bytes() for path in first}
    assert write_sheets(takeoff, folder) == first
    assert contents == {path: path.read_bytes() for path in first}
    assert [path.name for path in folder.parent.iterdir()] == ["sheets"]
    assert {path.relative_to(folder).as_posix() for path in first if path.suffix != ".dxf"} == {
        "crew_sheets.pdf",
        "elevations/001-wall-wall-a.svg",
        "elevations/unfilled-001-wall-wall-n.svg",
        "holes.csv",
        "hand_fills.csv",
        "preparations.csv",
    }
    assert sorted(path for path in folder.rglob("*") if path.is_file()) == sorted(first)


def test_a_folder_with_somebody_elses_files_is_refused_and_left_as_it_is(tmp_path):
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    takeoff = takeoff_of((plain_wall(),))
    folder = tmp_path / "sheets"
    write_sheets(takeoff, folder)
    for name in ("notes.txt", "elevations/sketch.svg"):
        (folder / name).write_text("mine")
        with pytest.raises(OutputError, match="holds other files"):
            write_sheets(takeoff, folder)
        assert (folder / name).read_text() == "mine"
        (folder / name).unlink()
    write_sheets(takeoff, folder)


def test_a_table_of_holes_by_somebody_else_is_not_overwritten(tmp_path):
    (tmp_path / "holes.csv").write_text("hole,depth\n1,2\n")
    with pytest.raises(OutputError, match="holds other files"):
        write_sheets(takeoff_of((plain_wall(),)), tmp_path)


def test_a_house_with_nothing_to_fill_still_gets_its_cover():
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    files = crew_sheet_files(takeoff_of((plain_wall(insulated=False), left_out_wall())))
    assert files[PDF_NAME].startswith(b"%PDF")


def test_the_template_is_part_of_the_package():
    data = Path(__file__).parents[2] / "reports" / "data"
    assert {path.name for path in data.rglob("*") if path.is_file()} >= {
        "crew_sheets.typ",
        "LiberationSans-Regular.ttf",
        "LiberationSans-Bold.ttf",
        "OFL.txt",
    }


def test_a_cavity_too_deep_for_the_table_of_densities_is_not_met():
    # the last row of the job's table reaches beyond any wall
    deep = cavity(1, box(0.1, 0.1, 0.5, 2.3), "WALL-A", y_max=1.5, volume=0.4 * 2.2 * 1.5)
    wall = plain_wall()
    wall = replace(wall, layers=(replace(wall.layers[0], cavities=(deep,)),))
    assert crew_work(takeoff_of((wall,))).cover.load.fibre_mass > 0.0
