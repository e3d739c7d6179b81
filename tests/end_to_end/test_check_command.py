"""`bayfill check` as it is typed: its files, its summary, its statement and its errors."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from pathlib import Path

import pypdf
import pytest
from typer.testing import CliRunner

from reports.check_files import CHECK_NAMES, CHECK_TABLES, COPY_NAME
from reports.cli import application
from reports.crew_pages import PaperName
from reports.statement import STATEMENT_NAME, statement_pdf
from takeoff import take_off
from takeoff.job import read_job
from takeoff.pipeline import take_off_model
from takeoff.plans.plan_check import check_plans
from takeoff.reading import read_model
from tests.ifc_builder import Builder
from tests.readme_tables import column_table

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_models"
SHARED = ROOT.parent / "shared" / "models"
README = (ROOT / "README.md").read_text(encoding="utf-8")
RUNNER = CliRunner()
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""mm"""


def run(*arguments: object) -> tuple[int, str, str]:
    result = RUNNER.invoke(application(), ["check", *(str(each) for each in arguments)])
    return result.exit_code, result.stdout, result.stderr


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def pages_of(pdf: bytes) -> list[str]:
    """Text of each page, without the marks that say where a line may end."""
    return [page.extract_text().replace("\u200b", "") for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def test_the_command_writes_its_files_and_says_the_main_figures(tmp_path: Path) -> None:
    out = tmp_path / "check"
    code, text, _ = run(SAMPLES / "two_storey_house.ifc", "--out", out)
    assert code == 0
    assert sorted(path.name for path in out.iterdir()) == sorted(CHECK_NAMES)
    for words in ("insulated net area of outside walls", "Outside wall 225", "comparisons", "Check files"):
        assert words in text, words
    values = rows(out / "wall_values.csv")
    assert len(values) == 12
    assert {row["method"] for row in values} == {"parallel path"}
    for row in values:
        assert float(row["u_W_m2K"]) * float(row["r_m2K_W"]) == pytest.approx(1.0, rel=1e-9)
        upper, lower, u = (
            float(row[name]) for name in ("r_upper_limit_m2K_W", "r_lower_limit_m2K_W", "u_combined_W_m2K")
        )
        assert 1.0 / upper <= u <= 1.0 / lower
    with zipfile.ZipFile(out / "findings.bcf") as topics:
        assert "bcf.version" in topics.namelist()
    again = read_model(out / COPY_NAME)
    assert len(again.walls) == 12


def test_areas_agree_between_the_groupings_and_with_the_takeoff(tmp_path: Path) -> None:
    out = tmp_path / "check"
    assert run(SAMPLES / "two_storey_house.ifc", "--out", out, "--no-ifc", "--quiet")[0] == 0
    groups = rows(out / "area_groups.csv")
    expected = take_off(SAMPLES / "two_storey_house.ifc").walls
    outside = expected[expected.external]
    for grouped_by in ("building", "wall_type", "storey", "orientation", "room"):
        mine = [row for row in groups if row["grouped_by"] == grouped_by and row["external"] == "true"]
        for column, total in (
            ("insulated_area_m2", outside.insulated_area_m2.sum()),
            ("gross_area_m2", outside.gross_area_m2.sum()),
            ("framing_area_m2", outside.framing_area_m2.sum()),
        ):
            assert sum(float(row[column]) for row in mine) == pytest.approx(total, rel=1e-6), (grouped_by, column)
        flows = [float(row["heat_flow_W_K"]) for row in mine]
        whole = next(float(row["heat_flow_W_K"]) for row in groups if row["grouped_by"] == "building")
        assert sum(flows) == pytest.approx(whole, rel=1e-6), grouped_by


def test_heat_of_the_pieces_of_a_wall_is_its_area_times_its_u(tmp_path: Path) -> None:
    """By parallel path, which governs by default."""
    out = tmp_path / "check"
    assert run(SAMPLES / "garden_studio.ifc", "--out", out, "--no-ifc", "--quiet")[0] == 0
    pieces = rows(out / "cavity_heat.csv")
    for row in rows(out / "wall_values.csv"):
        flow = sum(float(piece["heat_flow_W_K"]) for piece in pieces if piece["wall_id"] == row["wall_id"])
        net = float(row["gross_area_m2"]) - float(row["opening_area_m2"])
        assert flow == pytest.approx(net * float(row["u_W_m2K"]), rel=1e-6)


def test_who_adds_up_the_written_films_and_layers_gets_the_written_u(tmp_path: Path) -> None:
    """Parallel path by hand from the tables: every piece has the films, layers and its own resistance in a row."""
    out = tmp_path / "check"
    run(SAMPLES / "two_storey_house.ifc", "--out", out, "--no-ifc")
    layers, pieces = rows(out / "layer_values.csv"), rows(out / "cavity_heat.csv")
    for wall in rows(out / "wall_values.csv"):
        own = [row for row in layers if row["wall_id"] == wall["wall_id"]]
        beside = sum(float(row["resistance_m2K_W"]) for row in own)
        films = float(own[0]["resistance_m2K_W"]), float(own[-1]["resistance_m2K_W"])
        assert films == (float(wall["inside_film_m2K_W"]), float(wall["outside_film_m2K_W"]))
        assert own[0]["position"] == "0"
        flows = [
            (float(row["area_m2"]), float(row["resistance_m2K_W"]))
            for row in pieces
            if row["wall_id"] == wall["wall_id"]
        ]
        by_hand = sum(area / (beside + inner) for area, inner in flows) / sum(area for area, _ in flows)
        assert float(wall["u_W_m2K"]) == pytest.approx(by_hand, rel=1e-6)


def test_the_statement_names_the_films_that_were_used(tmp_path: Path) -> None:
    """Behind well ventilated air the outer face has an inside film, 0.12 m2K/W by the handbook, not 0.03."""
    out = tmp_path / "check"
    run(SAMPLES / "two_storey_house.ifc", "--out", out, "--no-ifc")
    first, second = (" ".join(text.split()) for text in pages_of((out / STATEMENT_NAME).read_bytes()))
    assert "0.12" in first[first.index("outside surface film") :][:40]
    said = second[second.index("Surface films") :][:400]
    assert "0.12 m²K/W and 0.12 m²K/W" in said
    assert not re.search(r"\bm2\b|m2K", first + second), "raised digits, as in the other sheets"
    assert "well ventilated air" in said
    assert "0.03" not in said
    assert "..." not in first + second, "texts wrap where the pages have room"


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        assert run(SAMPLES / "steel_wall.ifc", "--out", tmp_path / name, "--quiet")[0] == 0
    for name in CHECK_NAMES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_a_second_run_replaces_the_first_and_a_folder_of_others_is_refused(tmp_path: Path) -> None:
    out = tmp_path / "check"
    for _ in range(2):
        assert run(SAMPLES / "steel_wall.ifc", "--out", out, "--no-ifc", "--quiet")[0] == 0
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    code, _, error = run(SAMPLES / "steel_wall.ifc", "--out", out, "--no-ifc", "--quiet")
    assert code == 2
    assert "notes.txt" in error


def test_a_bad_file_of_areas_is_one_line_that_names_the_line(tmp_path: Path) -> None:
    areas = tmp_path / "areas.csv"
    areas.write_text("wall_type,net_area,area_unit\nW1,12,kg\n", encoding="utf-8")
    code, _, error = run(SAMPLES / "steel_wall.ifc", "--declared", areas, "--out", tmp_path / "check")
    assert code == 2
    assert error.count("\n") == 1
    assert "line 2" in error
    assert not (tmp_path / "check").exists()


def test_a_zone_without_a_code_minimum_is_one_line(tmp_path: Path) -> None:
    job = tmp_path / "job.toml"
    job.write_text('[thermal]\nclimate_zone = "5A"\nplace = "Nowhere"\n', encoding="utf-8")
    code, _, error = run(SAMPLES / "steel_wall.ifc", "--job", job, "--out", tmp_path / "check")
    assert code == 2
    assert "Nowhere" in error
    assert error.count("\n") == 1


def test_every_table_of_the_check_stands_in_the_readme() -> None:
    for table in CHECK_TABLES:
        assert f"#### {table.name}.csv\n\n{column_table(table)}" in README, "run: python -m tests.readme_tables"
    for name in CHECK_NAMES:
        assert name in README, name


# ---------------------------------------------------------------- the statement


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_statement_has_two_pages_of_its_paper_with_sources_and_cautions(tmp_path: Path, paper: str) -> None:
    job = tmp_path / "job.toml"
    job.write_text('[report]\nunits = "us"\n[thermal]\nclimate_zone = "5A"\n', encoding="utf-8")
    areas = tmp_path / "areas.csv"
    areas.write_text(
        "wall_type,orientation,net_area,area_unit,value,value_unit\nOutside wall 225,N,10,m2,0.2,W/(m2 K)\n"
        "No such wall,,10,m2,,\n", encoding="utf-8",
    )  # fmt: skip
    out = tmp_path / "check"
    code, _, _ = run(SAMPLES / "two_storey_house.ifc", "--declared", areas, "--job", job, "--out", out,
                     "--paper", paper, "--no-ifc", "--quiet")  # fmt: skip
    assert code == 0
    pdf = (out / STATEMENT_NAME).read_bytes()
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert [float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:]] == pytest.approx(PAPERS[paper], abs=0.1)
    first, second = pages_of(pdf)
    for words in ("Outside wall 225", "parallel path", "ft²", "ASHRAE", "MISS", "Local codes"):
        assert words in first, words
    for words in ("areas.csv", "DIFFERS", "No such wall", "check the edition in force locally", "no certificate"):
        assert words in second, words


def many_types(path: Path) -> Path:
    """Sixty wall types with long names without a blank, each facing another way, on as many storeys."""
    model = Builder()
    layers = [("Gypsum board", 0.0125), ("Timber stud", 0.14), ("A panel of nothing that anybody knows" * 3, 0.02)]
    for number in range(60):
        model.level = model.storey(f"Level_with_a_long_name_and_no_blank_{number}", 3.0 * number)
        wall = model.wall(f"Wall {number}", layers=layers, thickness=0.1725, at=(0.0, 10.0, 0.0), angle=6.0 * number)
        model.type_for([wall], "IfcWallType", f"A_wall_type_with_a_very_long_name_without_any_blank_in_it_{number}",
                       PredefinedType="STANDARD")  # fmt: skip
        model.properties(
            wall, "Pset_WallCommon",
            {"IsExternal": model.value("IfcBoolean", True),
             "ThermalTransmittance": model.value("IfcThermalTransmittanceMeasure", 0.1)},
        )  # fmt: skip
        model.quantities(wall, "Qto_WallBaseQuantities", [("IfcQuantityArea", "GrossSideArea", 1.0 + number)])
    return model.save(path)


def test_a_model_with_many_types_and_flaws_still_has_two_pages_that_say_what_they_leave_out(tmp_path: Path) -> None:
    model = read_model(many_types(tmp_path / "many.ifc"))
    check = check_plans(model, take_off_model(model, read_job('[thermal]\nclimate_zone = "6"\n')))
    assert len(check.groups) == 130  # building, 60 types, 60 storeys, 8 sides, no room
    for paper in ("a4", "letter"):
        pages = pages_of(statement_pdf(model, check, paper))
        assert len(pages) == 2
        assert "more wall types: area_groups.csv" in pages[0].replace("\n", " ")
        # Names that wrap may cost some rows, but not most of them.
        left_out = re.search(r"and (\d+) more wall types", pages[0].replace("\n", " "))
        assert left_out is not None
        assert int(left_out[1]) <= 60 - 4


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_long_names_of_types_and_walls_wrap_whole_where_two_pages_hold_them(tmp_path: Path, paper: PaperName) -> None:
    model = Builder()
    layers = (("Gypsum board", 0.0125), ("Timber stud", 0.14), ("OSB sheathing", 0.0125))
    told = ["Outside wall of the north wing with timber studs and a cladding of larch boards, kind 1 of 2",
            "Outside wall of the north wing with timber studs and a cladding of larch boards, kind 2 of 2",
            "Basic Wall:Ext_102Bwk-75Ins-100Block-12Plaster-as-built-on-the-garden-side-second-ed:285330"]  # fmt: skip
    for number, name in enumerate(told):
        wall = model.wall(f"{name}, wall {number}", layers=layers, thickness=0.165, at=(0.0, 3.0 * number, 0.0))
        model.type_for([wall], "IfcWallType", name, PredefinedType="STANDARD")
        model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    read = read_model(model.save(tmp_path / "names.ifc"))
    check = check_plans(read, take_off_model(read, read_job('[thermal]\nclimate_zone = "6"\n')))
    pages = [re.sub(r"\s", "", text) for text in pages_of(statement_pdf(read, check, paper))]
    assert len(pages) == 2
    for name in told:
        # The worst wall of each type is looked at on page 2.
        assert name.replace(" ", "") in pages[0], name
    assert f"{told[0]}, wall 0".replace(" ", "") in pages[1]
    assert "..." not in pages[0]


@pytest.mark.parametrize("name", sorted(path.name for path in SHARED.glob("*.ifc")) or ["none"])
def test_real_models_are_checked_in_two_pages_without_a_false_alarm_about_rooms(name: str) -> None:
    """The shared models are whole houses or single walls: no room of theirs lacks a wall (looked at by eye)."""
    if name == "none":
        pytest.skip("the shared folder with real models is absent")
    model = read_model(SHARED / name)
    check = check_plans(model, take_off_model(model, read_job('[thermal]\nclimate_zone = "5A"\n')))
    assert not [finding for finding in check.findings if finding.code in ("room-without-wall", "wall-drawn-twice")]
    for value in check.values:
        answers = value.part.heat.transmittances
        assert answers or value.part.heat.reason
        if value.part.heat.steel:
            assert all("parallel" not in answer.method for answer in answers)
    assert len(pages_of(statement_pdf(model, check))) == 2


def test_a_real_model_that_declares_square_millimetres_as_square_metres_is_told() -> None:
    path = SHARED / "many-simple-walls.ifc"
    if not path.is_file():
        pytest.skip("the shared folder with real models is absent")
    model = read_model(path)
    check = check_plans(model, take_off_model(model, read_job("")))
    (finding,) = [finding for finding in check.findings if finding.code == "quantity-in-another-unit"]
    assert "mm2 written as m2" in finding.message
    assert "3 walls" in finding.message
