"""`bayfill sheets` as a person runs it: whole processes, good input and bad."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reports.sheet_files import SHEET_TABLES
from tests.ifc_builder import Builder

ROOT = Path(__file__).resolve().parents[2]
STEEL = ROOT / "sample_models" / "steel_wall.ifc"
STUDIO = ROOT / "sample_models" / "garden_studio.ifc"
POINTS = 72.0 / 25.4


def bayfill(*arguments: str | Path, cwd: Path, before: str = "", **environment: str):
    """Runs the command in a fresh process, no terminal, no stdin. before: code that runs first."""
    code = f"{before}\nfrom reports.cli import main; main()"
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), "NO_COLOR": "1", **environment},
        timeout=300,
    )


@pytest.fixture(scope="module", name="made")
def _made(tmp_path_factory):
    out = tmp_path_factory.mktemp("sheets") / "out"
    return bayfill("sheets", STUDIO, "--out", out, "--paper", "letter", cwd=out.parent), out


def test_the_folder_holds_sheets_elevations_and_tables(made):
    process, out = made
    assert process.returncode == 0, process.stderr
    assert process.stderr == ""
    names = sorted(path.name for path in out.iterdir())
    assert names == sorted(["crew_sheets.pdf", "elevations", *(f"{table.name}.csv" for table in SHEET_TABLES)])
    assert len(list((out / "elevations").glob("*.svg"))) == 4
    assert str(out / "crew_sheets.pdf") in process.stdout.replace("\n", "")


def test_the_pdf_reads_back_on_the_paper_asked_for(made):
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    pages = pypdf.PdfReader(io.BytesIO((made[1] / "crew_sheets.pdf").read_bytes())).pages
    sizes = {tuple(sorted((round(float(p.mediabox.width)), round(float(p.mediabox.height))))) for p in pages}
    assert sizes == {(612, 792)}
    assert f"page {len(pages)} of {len(pages)}" in pages[-1].extract_text()


def test_tables_of_the_sheets_are_those_of_the_takeoff(made, tmp_path):
    assert bayfill("takeoff", STUDIO, "--out", tmp_path / "out", "--quiet", cwd=tmp_path).returncode == 0
    for table in SHEET_TABLES:
        name = f"{table.name}.csv"
        assert (tmp_path / "out" / name).read_bytes() == (made[1] / name).read_bytes()
        with (made[1] / name).open(newline="", encoding="utf-8") as file:
            assert tuple(next(csv.reader(file))) == table.column_names


def test_running_again_gives_the_same_bytes_and_replaces_the_folder(made, tmp_path):
    again = tmp_path / "again"
    for seed in ("7", "8"):
        process = bayfill(
            "sheets", STUDIO, "--out", again, "--paper", "Letter", "--quiet", cwd=tmp_path, PYTHONHASHSEED=seed
        )
        assert (process.returncode, process.stdout) == (0, ""), process.stderr
    old = {path.relative_to(made[1]): path.read_bytes() for path in made[1].rglob("*") if path.is_file()}
    new = {path.relative_to(again): path.read_bytes() for path in again.rglob("*") if path.is_file()}
    assert old == new
    assert [path.name for path in tmp_path.iterdir()] == ["again"]


def test_without_out_the_sheets_go_to_a_folder_named_after_the_model(tmp_path):
    assert bayfill("sheets", STEEL, "--quiet", cwd=tmp_path).returncode == 0
    assert [path.name for path in tmp_path.iterdir()] == ["steel_wall-sheets"]


def test_where_the_dxf_library_is_missing_one_line_says_so(tmp_path):
    process = bayfill("sheets", STEEL, "--out", "out", cwd=tmp_path, before="import sys; sys.modules['ezdxf'] = None")
    assert process.returncode == 0, process.stderr
    assert [line for line in process.stdout.split("\n") if "ezdxf" in line] == [
        "Elevations are SVG only; for DXF too, install the package ezdxf: pip install ezdxf"
    ]
    assert {path.suffix for path in (tmp_path / "out" / "elevations").iterdir()} == {".svg"}


def test_names_in_letters_that_the_font_has_not_are_told(tmp_path):
    model = Builder()
    model.frame(model.wall("外壁", body=False))
    path = model.save(tmp_path / "m.ifc")
    process = bayfill("sheets", path, "--out", tmp_path / "out", cwd=tmp_path)
    assert process.returncode == 0, process.stderr
    assert "needs a font of this machine for the letters of '外壁': look" in process.stdout
    assert "needs a font" not in bayfill("sheets", STEEL, "--out", tmp_path / "steel", cwd=tmp_path).stdout


def test_a_folder_of_somebody_else_is_refused_before_the_work_begins(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "plans.pdf").write_text("mine")
    process = bayfill("sheets", STEEL, "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert process.stderr.count("\n") == 1
    assert "holds other files" in process.stderr
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["plans.pdf"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nothing.ifc"], "nothing.ifc"),
        ([STEEL, "--job", "nothing.toml"], "nothing.toml"),
        ([STEEL, "--paper", "a3"], "letter"),
    ],
)
def test_bad_input_ends_with_2_and_leaves_nothing(arguments, says, tmp_path):
    process = bayfill("sheets", *arguments, "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert says in process.stderr
    assert "Traceback" not in process.stderr
    assert not list(tmp_path.iterdir())


def test_a_job_file_decides_what_the_sheets_are_about(tmp_path):
    job = '[report]\nunits = "us"\n[insulate]\nwalls = "all"\n[hose]\nkind = "long"\n'
    (tmp_path / "job.toml").write_text(job)
    assert bayfill("sheets", STEEL, "--job", "job.toml", "--out", "out", cwd=tmp_path).returncode == 0
    assert not list((tmp_path / "out" / "elevations").glob("unfilled-*"))
    pypdf = pytest.importorskip("pypdf", reason="sheets are read back by pypdf")
    text = pypdf.PdfReader(io.BytesIO((tmp_path / "out" / "crew_sheets.pdf").read_bytes())).pages[0].extract_text()
    assert "Hose: long" in text
    assert " lb" in text
