"""The command on input that is empty, cut short, senseless or hostile: one line, an exit code, all files or none."""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import pytest

from reports.cli import run as run_program
from reports.files import FILE_NAMES
from tests.ifc_builder import Builder

LAYERS = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012))
THICK = 0.1645


@pytest.fixture(name="bayfill")
def _bayfill(monkeypatch, capsys, tmp_path):
    """Runs the command in this process: (exit code, stdout, stderr)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NO_COLOR", "1")

    def run(*arguments: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["bayfill", *map(str, arguments)])
        with pytest.raises(SystemExit) as stopped:
            run_program()
        out, err = capsys.readouterr()
        code = stopped.value.code
        assert isinstance(code, int | None)
        return code or 0, out, err

    return run


def plain(model: Builder, name: str | None = "Plain", **changes):
    return model.wall(name, **{"length": 4.0, "height": 2.4, "thickness": THICK, "layers": LAYERS, **changes})


@pytest.fixture(name="good")
def _good(tmp_path) -> str:
    model = Builder()
    model.opening(plain(model), x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    return model.save(tmp_path / "good.ifc").read_text()


def is_one_line(text: str) -> bool:
    return text.startswith("bayfill: ") and text.count("\n") == 1 and text.endswith("\n") and "Traceback" not in text


def rows(path: Path) -> list[dict[str, str]]:
    csv.field_size_limit(1_000_000)
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("command", ["takeoff", "survey"])
@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\n",
        b"ISO-10303-21;",
        b"\x00" * 4096,
        b"\xff\xfe" * 2000,
        b"PK\x03\x04 no zip",
        b"solid cube\nendsolid",
        "Außenwand" * 500,
    ],
    ids=["empty", "blank", "one word", "zeros", "bytes", "half a zip", "another format", "prose"],
)
def test_what_is_no_model_gets_one_line_and_no_files(bayfill, tmp_path, command, content):
    path = tmp_path / "odd.ifc"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    out = tmp_path / ("out.toml" if command == "survey" else "out")
    code, printed, said = bayfill(command, path, "--out", out)
    assert (code, printed) == (2, "")
    assert is_one_line(said)
    assert "odd.ifc" in said
    assert sorted(each.name for each in tmp_path.iterdir()) == ["odd.ifc"]


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.9, 0.995])
def test_a_model_cut_short_anywhere_gets_one_line_and_no_files(bayfill, tmp_path, good, share):
    path = tmp_path / "short.ifc"
    path.write_text(good[: int(len(good) * share)])
    code, _, said = bayfill("takeoff", path, "--out", tmp_path / "out")
    assert code == 2
    assert is_one_line(said)
    assert not (tmp_path / "out").exists()


def test_a_file_larger_than_any_model_is_refused_unread(bayfill, tmp_path):
    path = tmp_path / "huge.ifc"
    with path.open("wb") as file:  # sparse: it takes no room on the disk
        file.truncate(2 * 1024**3 + 1)
    code, _, said = bayfill("takeoff", path, "--out", tmp_path / "out")
    assert code == 2
    assert is_one_line(said)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("unit", ["MEGAMETRE", "NANOMETRE"])
def test_a_model_in_a_senseless_unit_is_refused(bayfill, tmp_path, unit):
    model = Builder("IFC4", unit)
    plain(model)
    text = model.save(tmp_path / "unit.ifc")
    code, _, said = bayfill("takeoff", text, "--out", tmp_path / "out")
    assert code == 2
    assert is_one_line(said)
    assert "unit" in said


def test_missing_files_and_folders_are_named(bayfill, tmp_path):
    for path in (tmp_path / "none.ifc", tmp_path):
        code, _, said = bayfill("takeoff", path, "--out", tmp_path / "out")
        assert code == 2
        assert is_one_line(said)
    assert not (tmp_path / "out").exists()


def test_a_model_of_which_no_wall_can_be_read_says_why_for_each_and_ends_with_1(bayfill, tmp_path):
    model = Builder()
    model.wall("No body", body=False, layers=LAYERS)
    model.wall("None either", body=False)
    code, _, said = bayfill("takeoff", model.save(tmp_path / "bad.ifc"), "--out", tmp_path / "out")
    assert code == 1
    assert is_one_line(said)
    found = rows(tmp_path / "out" / "walls.csv")
    assert [(row["name"], row["status"], bool(row["reason"])) for row in found] == [
        ("No body", "failed", True),
        ("None either", "failed", True),
    ]


def test_one_bad_wall_among_good_ones_stops_nothing(bayfill, tmp_path):
    model = Builder()
    plain(model, "good")
    model.wall("bad", body=False, layers=LAYERS)
    code, printed, said = bayfill("takeoff", model.save(tmp_path / "mixed.ifc"), "--out", tmp_path / "out")
    assert (code, said) == (0, "")
    assert printed
    assert sorted(each.name for each in (tmp_path / "out").iterdir()) == sorted(FILE_NAMES)
    assert [row["status"] for row in rows(tmp_path / "out" / "walls.csv")] == ["taken_off", "failed"]


HOSTILE = (
    'it\'s "quoted", with; commas',
    "two\r\nlines\tand a tab",
    "x" * 10_000,
    "<script>alert('1')</script>",
    "[bold red]not markup[/bold red]",
    "=1+1",
    "Außenwand – 外壁 – стена – \u202egnol",
    "null\x7f and \u0085 controls",
)


def test_hostile_names_come_through_every_file_unharmed(bayfill, tmp_path):
    model = Builder()
    for number, name in enumerate(HOSTILE):
        wall = plain(model, name, at=(0.0, 3.0 * number, 0.0))
        model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
        model.space(name, size=(4.0, 2.0, 2.4), at=(0.0, 3.0 * number - 2.0, 0.0))
    code, printed, said = bayfill("takeoff", model.save(tmp_path / "names.ifc"), "--out", tmp_path / "out")
    assert (code, said) == (0, "")
    assert "[bold red]" not in printed or "[/bold red]" in printed
    found = rows(tmp_path / "out" / "walls.csv")
    assert len(found) == len(HOSTILE)
    # what cannot be printed becomes a space each, so that every row stays on its line
    assert [row["name"] for row in found] == [
        "".join(letter if letter.isprintable() else " " for letter in name) for name in HOSTILE
    ]
    loaded = json.loads((tmp_path / "out" / "takeoff.json").read_text(encoding="utf-8"))
    assert loaded["schema_version"]
    for name in FILE_NAMES:
        if name.endswith(".csv"):
            assert all(None not in row and None not in row.values() for row in rows(tmp_path / "out" / name)), name


def test_a_survey_of_hostile_names_writes_a_job_file_that_can_be_read_back(bayfill, tmp_path):
    model = Builder()
    for number, name in enumerate(HOSTILE):
        wall = plain(model, name, at=(0.0, 3.0 * number, 0.0))
        model.type_for([wall], "IfcWallType", name, PredefinedType="STANDARD")
    path, job = model.save(tmp_path / "names.ifc"), tmp_path / "job.toml"
    code, _, said = bayfill("survey", path, "--out", job)
    assert (code, said) == (0, "")
    code, _, said = bayfill("takeoff", path, "--job", job, "--out", tmp_path / "out")
    assert (code, said) == (0, "")


@pytest.mark.parametrize("option", ["--out", "--ids"])
def test_a_survey_replaces_no_file_that_is_there(bayfill, tmp_path, good, option):
    """Neither the model itself nor a job file that was corrected."""
    assert good
    model = tmp_path / "good.ifc"
    before = model.read_bytes()
    code, _, said = bayfill("survey", model, option, model)
    assert (code, said.count("\n")) == (2, 1)
    assert "is there already and is not replaced" in said
    assert model.read_bytes() == before
    code, _, said = bayfill("survey", model, "--out", tmp_path / "both", "--ids", tmp_path / "both")
    assert code == 2
    assert not (tmp_path / "both").exists()


def test_an_out_path_that_is_a_file_is_refused_and_kept(bayfill, tmp_path, good):
    assert good
    target = tmp_path / "notes.txt"
    target.write_text("mine")
    code, _, said = bayfill("takeoff", tmp_path / "good.ifc", "--out", target)
    assert code == 2
    assert is_one_line(said)
    assert target.read_text() == "mine"


def test_a_run_that_fails_leaves_the_files_of_the_run_before(bayfill, tmp_path, good):
    assert bayfill("takeoff", tmp_path / "good.ifc", "--out", tmp_path / "out")[0] == 0
    before = {each.name: each.read_bytes() for each in (tmp_path / "out").iterdir()}
    (tmp_path / "good.ifc").write_text(good[: len(good) // 2])
    assert bayfill("takeoff", tmp_path / "good.ifc", "--out", tmp_path / "out")[0] == 2
    assert {each.name: each.read_bytes() for each in (tmp_path / "out").iterdir()} == before
