"""Crew sheets of the sample models and of the duplex, drawn, laid out and read back by another library."""

from __future__ import annotations

import io
import re
from collections import Counter
from functools import lru_cache
from pathlib import Path

import pytest

import takeoff
from reports.crew_layers import cavity_number
from reports.crew_pages import PAPERS
from reports.crew_sheets import (
    PDF_NAME,
    CrewWork,
    crew_sheet_files,
    crew_work,
    elevation_files,
    sheet_layout,
    storey_drawings,
)
from reports.drawing import On
from reports.elevation_shapes import wall_shapes
from reports.elevations import ElevationSize, elevation
from takeoff.job import default_job
from takeoff.model import Method
from takeoff.result import Takeoff
from takeoff.units import format_mass
from tests.drawing_checks import faults, labels_off_the_page, meeting_labels

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ("garden_studio", "steel_wall", "two_storey_house")
DUPLEX = ROOT.parent / "shared" / "models" / "duplex-architecture.ifc"
MODELS = [
    *SAMPLES,
    pytest.param(
        "duplex",
        marks=pytest.mark.skipif(not DUPLEX.exists(), reason="the duplex of ../shared/models is not here"),
    ),
]
MEGABYTES_OF_60_WALLS = 10.0
POINTS = 72.0 / 25.4
"""PDF points in a millimetre."""


@lru_cache
def taken_off(name: str, units: str = "metric") -> Takeoff:
    path = DUPLEX if name == "duplex" else ROOT / "sample_models" / f"{name}.ifc"
    job = default_job()
    report = job.report.model_copy(update={"units": units})
    return takeoff.take_off(path, job.model_copy(update={"report": report}))


@lru_cache
def work_of(name: str, units: str = "metric") -> CrewWork:
    return crew_work(taken_off(name, units))


@lru_cache
def files_of(name: str, paper: str = "a4") -> dict[str, bytes]:
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    return crew_sheet_files(taken_off(name), paper)  # type: ignore[arg-type]


def pages_of(name: str, paper: str = "a4") -> list[tuple[str, float, float]]:
    """Text, width and height (mm) of every page, as pypdf reads them."""
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    reader = pypdf.PdfReader(io.BytesIO(files_of(name, paper)[PDF_NAME]))
    return [
        (page.extract_text(), float(page.mediabox.width) / POINTS, float(page.mediabox.height) / POINTS)
        for page in reader.pages
    ]


def sheet_number(text: str) -> int | None:
    """Number in the head of a page; None on the cover."""
    found = re.search(r"Sheet (\d+), ", text.split("\n")[0])
    return int(found.group(1)) if found else None


# ---------------------------------------------------------------- drawings


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", MODELS)
def test_no_labels_meet_or_leave_the_page_on_any_sheet(name, units, paper):
    work = work_of(name, units)
    assert work.sheets
    for key in work.sheets:
        assert not faults(sheet_layout(work, key, paper).drawing), work.plans[key].wall.wall.name


@pytest.mark.parametrize("scale", [20.0, 50.0, 100.0])
@pytest.mark.parametrize("name", MODELS)
def test_no_labels_meet_at_any_scale_on_wide_paper(name, scale):
    work = work_of(name)
    for plan in work.plans.values():
        wall = wall_shapes(plan)
        width = wall.length * 1000.0 / scale + 192.0
        assert not faults(elevation(wall, ElevationSize(width, scale), "us", "")), plan.wall.wall.name


@pytest.mark.parametrize("name", MODELS)
def test_no_labels_meet_on_any_plan(name):
    for drawing in storey_drawings(work_of(name), "a4"):
        assert not meeting_labels(drawing), drawing.title
        assert not labels_off_the_page(drawing), drawing.title


@pytest.mark.parametrize("name", MODELS)
def test_every_sheet_is_found_on_a_plan(name):
    work = work_of(name)
    shown = Counter(
        words.text for drawing in storey_drawings(work, "a4") for words in drawing.words if words.on is On.NUMBERS
    )
    assert shown == Counter(str(number) for number in work.sheets.values())


@pytest.mark.parametrize("name", MODELS)
def test_every_cavity_of_a_sheet_has_its_number_on_the_elevation(name):
    work = work_of(name)
    for key in work.sheets:
        words = sheet_layout(work, key, "a4").drawing.words
        numbers = Counter(each.text for each in words if each.on is On.NUMBERS)
        assert numbers == Counter(cavity_number(cavity.cavity_id) for cavity in work.plans[key].cavities)


@pytest.mark.parametrize("name", MODELS)
def test_every_hole_of_a_sheet_is_marked(name):
    work = work_of(name)
    marked = sum(
        sum(disc.on is On.HOLES for disc in sheet_layout(work, key, "a4").drawing.discs) for key in work.sheets
    )
    assert marked == len(work.plan.holes)


# ---------------------------------------------------------------- PDF


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("name", SAMPLES)
def test_each_sheet_takes_the_pages_that_were_planned(name, paper):
    work = work_of(name)
    taken = Counter(sheet_number(text) for text, _, _ in pages_of(name, paper))
    cover = taken.pop(None)
    assert cover >= 1
    assert taken == {number: sheet_layout(work, key, paper).n_pages for key, number in work.sheets.items()}


@pytest.mark.skipif(not DUPLEX.exists(), reason="the duplex of ../shared/models is not here")
def test_each_sheet_of_the_duplex_takes_the_pages_that_were_planned():
    work = work_of("duplex")
    taken = Counter(sheet_number(text) for text, _, _ in pages_of("duplex"))
    taken.pop(None)
    assert taken == {number: sheet_layout(work, key, "a4").n_pages for key, number in work.sheets.items()}


@pytest.mark.parametrize("paper", list(PAPERS))
def test_pages_have_the_size_of_the_paper(paper):
    short, long = PAPERS[paper]
    for _, width, height in pages_of("two_storey_house", paper):
        assert sorted((width, height)) == pytest.approx([short, long], abs=0.01)


@pytest.mark.parametrize("name", SAMPLES)
def test_pages_count_themselves(name):
    pages = pages_of(name)
    for number, (text, _, _) in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text


@pytest.mark.parametrize("name", SAMPLES)
def test_the_table_of_every_sheet_reads_back_with_its_masses(name):
    work = work_of(name)
    texts: dict[int, str] = {}
    for text, _, _ in pages_of(name):
        number = sheet_number(text)
        if number is not None:
            texts[number] = texts.get(number, "") + text
    for key, number in work.sheets.items():
        plan = work.plans[key]
        assert plan.wall.wall.name in texts[number]
        for cavity in plan.cavities:
            mass = work.facts.masses.get(cavity.cavity_id)
            if mass is not None:
                assert format_mass(mass.mass, "metric") in texts[number]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_cover_reads_back_with_order_load_and_cautions(name):
    work = work_of(name)
    cover = "\n".join(text for text, _, _ in pages_of(name) if sheet_number(text) is None)
    assert format_mass(work.cover.load.fibre_mass, "metric") in cover
    for words in ("Order of work", "net quantities", "Where each sheet belongs", "Density check", "Local codes"):
        assert words in cover
    for room in {cavity.room for key in work.sheets for cavity in work.plans[key].cavities if cavity.room}:
        assert room in cover


def test_only_the_font_that_is_shipped_is_used_and_it_is_embedded():
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    reader = pypdf.PdfReader(io.BytesIO(files_of("garden_studio")[PDF_NAME]))
    fonts = set()
    for page in reader.pages:
        for reference in page["/Resources"].get_object().get("/Font", {}).values():
            fonts.add(str(reference.get_object()["/BaseFont"]).partition("+")[2])
    assert fonts == {"LiberationSans", "LiberationSans-Bold"}


def test_the_same_takeoff_gives_the_same_bytes():
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    assert crew_sheet_files(taken_off("steel_wall")) == files_of("steel_wall")


@pytest.mark.parametrize("name", SAMPLES)
def test_sheets_of_sixty_walls_stay_below_ten_megabytes(name):
    bytes_a_sheet = len(files_of(name)[PDF_NAME]) / len(work_of(name).sheets)
    assert 60 * bytes_a_sheet < MEGABYTES_OF_60_WALLS * 1e6


# ---------------------------------------------------------------- elevations as files


@pytest.mark.parametrize("name", SAMPLES)
def test_every_stud_layer_has_its_elevation_as_a_file(name):
    work = work_of(name)
    names = [file for file in elevation_files(work, {}) if file.endswith(".svg")]
    assert len(names) == len(work.plans)
    assert sum(file.startswith("unfilled-") for file in names) == len(work.plans) - len(work.sheets)


@pytest.mark.parametrize("name", SAMPLES)
def test_walls_with_nothing_to_fill_have_no_sheet(name):
    work = work_of(name)
    idle = {key for key, plan in work.plans.items() if all(fill.method is Method.NONE for fill in plan.fills.values())}
    assert not idle & set(work.sheets)
    assert idle | set(work.sheets) == set(work.plans)
