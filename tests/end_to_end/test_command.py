"""The command as a person runs it: whole processes on sample models, good input and bad."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from reports.files import FILE_NAMES
from takeoff.tables import TABLES

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_models"
HOUSE = SAMPLES / "two_storey_house.ifc"
STUDIO = SAMPLES / "garden_studio.ifc"
STEEL = SAMPLES / "steel_wall.ifc"
REAL = ROOT.parent / "shared" / "models"


def bayfill(*arguments: str | Path, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs the command in a fresh process, no terminal, no stdin."""
    code = "from reports.cli import main; main()"
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


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module", params=[HOUSE, STUDIO, STEEL], ids=lambda path: path.stem)
def run(request, tmp_path_factory):
    """One run of each sample model: the finished process and its result folder."""
    out = tmp_path_factory.mktemp(request.param.stem) / "out"
    return bayfill("takeoff", request.param, "--out", out, cwd=out.parent), out


def test_a_sample_model_is_taken_off_without_a_complaint(run):
    process, out = run
    assert process.returncode == 0, process.stderr
    assert process.stderr == ""
    assert sorted(path.name for path in out.iterdir()) == sorted(FILE_NAMES)


def test_every_file_has_the_columns_of_its_schema(run):
    _, out = run
    for table in TABLES:
        with (out / f"{table.name}.csv").open(newline="", encoding="utf-8") as file:
            assert tuple(next(csv.reader(file))) == table.column_names


def test_every_framed_wall_balances(run):
    _, out = run
    walls = [row for row in rows(out / "walls.csv") if row["status"] == "taken_off"]
    assert walls
    for row in walls:
        assert float(row["balance_residual"]) <= 1e-6, row["wall_id"]


def test_no_wall_failed_and_every_wall_left_out_says_why(run):
    _, out = run
    for row in rows(out / "walls.csv"):
        assert row["status"] != "failed", row["reason"]
        assert row["status"] == "taken_off" or row["reason"], row["wall_id"]


def test_cavities_of_a_wall_add_up_to_its_row(run):
    _, out = run
    cavities = rows(out / "cavities.csv")
    for wall in rows(out / "walls.csv"):
        if wall["status"] == "taken_off":
            volumes = [
                float(row["volume_m3"])
                for row in cavities
                if row["wall_id"] == wall["wall_id"] and row["kind"] not in ("sliver", "opening_gap")
            ]
            assert sum(volumes) == pytest.approx(float(wall["cavity_volume_m3"]), rel=1e-9)
            assert len(volumes) == int(wall["cavities"])


def test_ids_in_every_file_are_unique_and_point_to_a_wall(run):
    _, out = run
    walls = [row["wall_id"] for row in rows(out / "walls.csv")]
    assert len(set(walls)) == len(walls)
    for name, key in (("cavities", "cavity_id"), ("stud_layers", "layer_key")):
        ids = [row[key] for row in rows(out / f"{name}.csv")]
        assert len(set(ids)) == len(ids)
    for name in ("cavities", "members", "openings", "stud_layers"):
        assert {row["wall_id"] for row in rows(out / f"{name}.csv")} <= set(walls)


def test_the_summary_agrees_with_takeoff_json(run):
    process, out = run
    sums = json.loads((out / "takeoff.json").read_text(encoding="utf-8"))["totals"]
    assert f"{sums['walls']} wall" in process.stdout
    assert f"{sums['taken_off']} taken off" in process.stdout
    assert "Local codes" in process.stdout
    assert str(out) in process.stdout.replace("\n", "")


def test_running_again_gives_the_same_bytes_and_replaces_the_folder(run, tmp_path):
    process, out = run
    model = process.args[process.args.index("takeoff") + 1]
    assert (
        bayfill("takeoff", model, "--out", tmp_path / "again", "--quiet", cwd=tmp_path, PYTHONHASHSEED="7").stdout == ""
    )
    for name in FILE_NAMES:
        assert (tmp_path / "again" / name).read_bytes() == (out / name).read_bytes(), name
    again = bayfill("takeoff", model, "--out", tmp_path / "again", "--quiet", cwd=tmp_path)
    assert again.returncode == 0, again.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["again"]


def test_without_out_the_files_go_to_a_folder_named_after_the_model(tmp_path):
    process = bayfill("takeoff", STEEL, "--quiet", cwd=tmp_path)
    assert process.returncode == 0, process.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["steel_wall-takeoff"]


def test_the_job_file_decides_the_units_of_the_summary(tmp_path):
    (tmp_path / "job.toml").write_text('[report]\nunits = "us"\n')
    process = bayfill("takeoff", STEEL, "--job", "job.toml", "--out", "out", cwd=tmp_path)
    assert process.returncode == 0, process.stderr
    assert " ft3" in process.stdout
    assert " m3" not in process.stdout


@pytest.mark.parametrize("model", [HOUSE, STUDIO, STEEL], ids=lambda path: path.stem)
def test_a_survey_lists_types_and_its_job_file_changes_nothing_until_it_is_corrected(model, tmp_path):
    process = bayfill("survey", model, "--out", "job.toml", cwd=tmp_path)
    assert process.returncode == 0, process.stderr
    assert "stud" in process.stdout
    for arguments, out in ((("--job", "job.toml"), "with"), ((), "without")):
        run = bayfill("takeoff", model, *arguments, "--out", out, "--quiet", cwd=tmp_path)
        assert run.returncode == 0, run.stderr
    for name in ("walls.csv", "cavities.csv", "members.csv", "openings.csv"):
        assert (tmp_path / "with" / name).read_bytes() == (tmp_path / "without" / name).read_bytes(), name


BAD_MODELS = {
    "empty.ifc": b"",
    "text.ifc": b"this is a letter, not a building\n" * 100,
    "picture.ifc": bytes(range(256)) * 64,
    "zip.ifczip": b"PK\x03\x04 broken",
    "head_only.ifc": b"ISO-10303-21;\nHEADER;\n",
    "no_walls.ifc": (
        b"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
        b"FILE_SCHEMA(('IFC4'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
    ),
    "unknown_schema.ifc": (
        b"ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\nFILE_NAME('','',(''),(''),'','','');\n"
        b"FILE_SCHEMA(('IFC99'));\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n"
    ),
}


@pytest.mark.parametrize("command", ["takeoff", "survey"])
@pytest.mark.parametrize("name", [*BAD_MODELS, "missing.ifc", "folder.ifc"])
def test_a_model_that_cannot_be_read_gets_one_line_and_no_folder(name, command, tmp_path):
    if name in BAD_MODELS:
        (tmp_path / name).write_bytes(BAD_MODELS[name])
    elif name == "folder.ifc":
        (tmp_path / name).mkdir()
    before = sorted(tmp_path.iterdir())
    process = bayfill(command, name, "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert process.stderr.startswith("bayfill: ")
    assert name in process.stderr
    assert process.stderr.count("\n") == 1
    assert sorted(tmp_path.iterdir()) == before


def test_a_truncated_model_gets_one_line_and_no_folder(tmp_path):
    text = HOUSE.read_bytes()
    (tmp_path / "half.ifc").write_bytes(text[: len(text) // 2])
    process = bayfill("takeoff", "half.ifc", "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert process.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[report]\nunit = 'us'\n", "unit"),
        ("[hose]\noutside_diameter = 3\n", "hose.outside_diameter"),
        ("this is no toml", "TOML"),
    ],
)
def test_a_job_file_that_is_wrong_gets_one_line_that_names_the_key(text, words, tmp_path):
    (tmp_path / "job.toml").write_text(text)
    process = bayfill("takeoff", STEEL, "--job", "job.toml", "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert words in process.stderr
    assert process.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_a_folder_with_other_files_is_refused_before_any_work(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("dear reader")
    process = bayfill("takeoff", STEEL, "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert "letter.txt" in process.stderr
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["letter.txt"]


def test_another_model_that_cannot_be_read_is_named(tmp_path):
    (tmp_path / "pipes.ifc").write_bytes(b"")
    process = bayfill("takeoff", STEEL, "--with", "pipes.ifc", "--out", "out", cwd=tmp_path)
    assert process.returncode == 2
    assert "pipes.ifc" in process.stderr
    assert not (tmp_path / "out").exists()


def test_help_and_version_are_shown_without_a_model(tmp_path):
    for arguments in (("--help",), ("takeoff", "--help"), ("survey", "--help"), ("--version",)):
        process = bayfill(*arguments, cwd=tmp_path)
        assert process.returncode == 0, arguments
        assert "bayfill" in process.stdout


def test_help_loads_none_of_the_slow_packages():
    code = (
        "import sys\nfrom reports.cli import application\napplication()\n"
        "print(sorted({'pandas', 'trimesh', 'scipy', 'manifold3d', 'networkx'} & set(sys.modules)))"
    )
    process = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT, stdin=subprocess.DEVNULL
    )
    assert process.stdout.strip() == "[]"


@pytest.mark.parametrize(
    "name",
    [
        "curved-wall.ifc",
        "duplex-architecture.ifc",
        "many-simple-walls.ifc",
        "sample-house.ifc",
        "timber-house-layered.ifc",
        "two-stud-layers.ifc",
        "wall-elemented-case.ifc",
    ],
)
def test_a_real_model_runs_to_its_end_and_balances(name, tmp_path):
    if not (REAL / name).is_file():
        pytest.skip(f"{name} is not beside the clone (../shared/models)")
    process = bayfill("takeoff", REAL / name, "--out", "out", cwd=tmp_path)
    assert process.returncode == 0, process.stderr
    walls = rows(tmp_path / "out" / "walls.csv")
    assert walls
    for row in walls:
        assert row["status"] in ("taken_off", "left_out", "failed")
        assert row["status"] == "taken_off" or row["reason"]
        assert not row["balance_residual"] or float(row["balance_residual"]) <= 1e-6, row["wall_id"]


def started(*arguments: str | Path, cwd: Path, **streams: Any) -> subprocess.Popen[str]:
    """The command in a fresh process, its streams as given."""
    return subprocess.Popen(
        [sys.executable, "-c", "from reports.cli import main; main()", *map(str, arguments)],
        cwd=cwd,
        stdin=subprocess.DEVNULL,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "NO_COLOR": "1"},
        **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **streams},
    )


def test_a_reader_that_goes_away_does_not_make_the_run_a_failure(tmp_path):
    process = started("takeoff", STEEL, "--no-page", "--out", "out", cwd=tmp_path, stderr=subprocess.DEVNULL)
    assert process.stdout is not None
    process.stdout.close()
    assert process.wait(timeout=300) == 0
    assert (tmp_path / "out" / "takeoff.json").is_file()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_output_that_cannot_be_written_is_one_line(tmp_path):
    with open("/dev/full", "w") as full:
        process = started("takeoff", STEEL, "--no-page", "--out", "out", cwd=tmp_path, stdout=full)
        _, complaint = process.communicate(timeout=300)
    assert process.returncode == 2
    assert complaint.count("\n") == 1
    assert "No space left" in complaint


def test_an_interrupt_at_any_time_is_one_line(tmp_path):
    for seconds in (0.1, 0.3, 0.6):
        process = started("takeoff", HOUSE, "--out", "out", cwd=tmp_path)
        time.sleep(seconds)
        process.send_signal(signal.SIGINT)
        _, complaint = process.communicate(timeout=300)
        # Before `main` runs nobody can answer but Python itself.
        assert "in main" not in complaint
        if process.returncode == 130:
            assert complaint == "bayfill: interrupted; nothing was written\n"
        assert not (tmp_path / "out").exists() or process.returncode == 0


def test_the_folder_that_one_stands_in_is_not_replaced(tmp_path):
    inside = tmp_path / "here" / "inside"
    inside.mkdir(parents=True)
    for out in (".", "..", ""):
        process = bayfill("takeoff", STEEL, "--no-page", "--out", out, cwd=inside)
        assert process.returncode == 2
        assert "the folder that you stand in" in process.stderr
    assert inside.is_dir()
