"""Sheets of walls that are hard to draw: very long, very high, raked, full of small bays, with names of every sort."""

from __future__ import annotations

import io
import re
from collections import Counter
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

import takeoff
from reports.crew_pages import PAPERS
from reports.crew_sheets import PDF_NAME, CrewWork, crew_sheet_files, crew_work, sheet_layout, storey_drawings
from takeoff.job import read_job
from takeoff.result import Takeoff
from tests.drawing_checks import faults, labels_off_the_page, meeting_labels
from tests.odd_sheet_walls import NAMES, odd_sheet_walls


@lru_cache
def taken_off(units: str = "metric") -> Takeoff:
    with TemporaryDirectory() as folder:
        path = odd_sheet_walls().save(Path(folder) / "odd.ifc")
        return takeoff.take_off(path, read_job(f'[report]\nunits = "{units}"\n[insulate]\nwalls = "all"\n'))


@lru_cache
def work_of(units: str) -> CrewWork:
    return crew_work(taken_off(units))


@lru_cache
def pages_of(paper: str) -> list[tuple[str, float, list[float]]]:
    """Text of every page, its height and the heights of all pieces of text on it, points from the foot."""
    pytest.importorskip("typst", reason="sheets are laid out by typst")
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    found = []
    for page in pypdf.PdfReader(io.BytesIO(crew_sheet_files(taken_off(), paper)[PDF_NAME])).pages:  # type: ignore[arg-type]
        heights: list[float] = []

        def visit(words: str, to_page, at, *_, into=heights) -> None:
            if words.strip():
                into.append(at[4] * to_page[1] + at[5] * to_page[3] + to_page[5])

        text = page.extract_text(visitor_text=visit)
        found.append((text, float(page.mediabox.height), heights))
    return found


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("paper", list(PAPERS))
def test_no_label_meets_another_or_leaves_its_page(paper, units):
    work = work_of(units)
    assert len(work.sheets) == len(NAMES)
    for key in work.sheets:
        assert not faults(sheet_layout(work, key, paper).drawing), work.plans[key].wall.wall.name
    for drawing in storey_drawings(work, paper):
        assert not meeting_labels(drawing)
        assert not labels_off_the_page(drawing)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_every_sheet_takes_the_pages_that_were_planned_and_its_lists_stay_on_the_first(paper):
    work = work_of("metric")
    numbers = [re.search(r"Sheet (\d+), ", text.split("\n")[0]) for text, _, _ in pages_of(paper)]
    taken = Counter(int(found.group(1)) for found in numbers if found)
    layouts = {number: sheet_layout(work, key, paper) for key, number in work.sheets.items()}
    assert taken == {number: layout.n_pages for number, layout in layouts.items()}
    assert all(layout.spilled == 0 for layout in layouts.values())


@pytest.mark.parametrize("paper", list(PAPERS))
def test_long_names_stay_on_one_line_of_the_head_and_stand_in_full_in_the_list(paper):
    pages = pages_of(paper)
    for text, height, heights in pages:
        assert min(heights) > 18.0  # the foot stands lowest, nothing beyond it
        assert max(heights) < height
        assert len(text.split("\n")[0]) < 200
    cover = "".join(text for text, _, _ in pages if "Sheet " not in text.split("\n")[0])
    assert "".join(NAMES["many"].split()) in "".join(cover.split())


def test_high_walls_ask_for_a_scaffold():
    text = " ".join(text for text, _, _ in pages_of("a4"))
    assert "Bring a scaffold or lift" in text
    assert any(finding.code == "hole-beyond-ladder-reach" for finding in taken_off().findings)


def test_a_long_name_of_a_room_is_shortened_on_the_plan_and_not_dropped():
    (drawing,) = storey_drawings(work_of("metric"), "a4")
    texts = [words.text for words in drawing.words]
    assert any(text.startswith("Wohn- und") for text in texts)
