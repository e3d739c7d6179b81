"""The benchmark is no part of the test run, so this holds that each of its cases is there and can be measured."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import ifcopenshell
import ifcopenshell.validate
import pytest

from tests.bench import measure, run

EXPECTED = ["duplex", "100 walls", "1000 walls", "5000 walls"]


@pytest.fixture(scope="module")
def twenty_walls(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("bench") / "20-walls.ifc"
    run.generate(20, path)
    return path


def test_the_command_lists_every_case(capsys: pytest.CaptureFixture[str]) -> None:
    assert run.main(["--list"]) == 0
    assert capsys.readouterr().out.splitlines() == EXPECTED


def test_every_case_has_a_model_and_the_targets_stand_where_they_were_set() -> None:
    assert [case.name for case in run.CASES] == EXPECTED
    assert all((case.file is None) != (case.walls == 0) for case in run.CASES)
    assert [case.name for case in run.CASES if case.ratio_counts] == ["duplex", "1000 walls"]


def test_a_case_whose_file_is_absent_is_reported_as_skipped(tmp_path: Path) -> None:
    case = run.Case("nowhere", file=tmp_path / "nowhere.ifc")
    row = run.measure(case, 1, tmp_path)
    assert row == {"case": "nowhere", "skipped": f"{tmp_path / 'nowhere.ifc'} is not there"}


def test_generated_model_has_the_walls_asked_for_and_is_valid(twenty_walls: Path) -> None:
    model = ifcopenshell.open(twenty_walls)
    assert len(model.by_type("IfcWall")) == 20
    assert len({wall.Name for wall in model.by_type("IfcWall")}) == 20
    assert all(1 <= len(wall.HasOpenings) <= 2 for wall in model.by_type("IfcWall"))
    assert len(model.by_type("IfcSpace")) == 2 * 2 * 2
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(model, log)
    assert log.statements == []


def test_generated_model_is_the_same_each_time(twenty_walls: Path, tmp_path: Path) -> None:
    run.generate(20, tmp_path / "20-walls.ifc")
    assert (tmp_path / "20-walls.ifc").read_bytes() == twenty_walls.read_bytes()


def test_a_count_that_is_no_multiple_of_a_house_is_kept(tmp_path: Path) -> None:
    run.generate(13, tmp_path / "13.ifc")
    assert len(ifcopenshell.open(tmp_path / "13.ifc").by_type("IfcWall")) == 13


def test_bare_script_tessellates_every_wall(twenty_walls: Path, tmp_path: Path) -> None:
    command = run.commands(twenty_walls, tmp_path)["bare"]
    bare = measure.run_once(command, run.environment(), str(tmp_path))
    assert bare.exit_code == 0, bare.complaint
    assert json.loads(bare.output) == {"walls": 20, "shapes": 20}
    # No upper bound: a process that is forked off this test run begins with the run's own memory.
    assert bare.peak_mb > 20.0  # ifcopenshell alone takes more than 20


def test_takeoff_is_measured_as_the_command_that_people_run(tmp_path: Path) -> None:
    command = run.commands(tmp_path / "model.ifc", tmp_path)["takeoff"]
    assert command[0] == sys.executable
    assert command[3:] == ["takeoff", str(tmp_path / "model.ifc"), "--no-page", "--out", str(tmp_path / "result")]
    help_asked = [*command[:4], "--help"]
    done = subprocess.run(help_asked, capture_output=True, env=run.environment(), cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stderr.decode()


def test_a_process_that_fails_is_reported_and_not_timed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = tmp_path / "broken.ifc"
    broken.write_text("no model\n", encoding="ascii")
    failing = [sys.executable, "-c", "import sys; sys.exit('it broke')"]
    monkeypatch.setattr(run, "commands", lambda model, folder: {"bare": failing, "takeoff": failing})
    row = run.measure(run.Case("broken", file=broken), 1, tmp_path)
    assert row == {"case": "broken", "failed": "bare ended with 1: it broke"}


def test_peak_memory_is_that_of_the_child_alone(tmp_path: Path) -> None:
    # measured from a small process, as the benchmark does: a child begins with its parent's peak on record
    code = """
import os, sys
from tests.bench.measure import run_once
for megabytes in (300, 1):
    block = f"block = bytearray({megabytes} * 10**6); block[::4096] = block[::4096]"
    print(run_once([sys.executable, "-c", block], os.environ, ".").peak_mb)
"""
    done = subprocess.run(
        [sys.executable, "-c", code], env=run.environment(), cwd=tmp_path, check=True, capture_output=True
    )
    large, small = map(float, done.stdout.split())
    assert large - small == pytest.approx(299, abs=20)  # MB; what the interpreter itself takes varies by a few


def test_best_takes_the_quickest_run_and_the_largest_memory() -> None:
    runs = [measure.Measurement(3.0, 1.0, 80.0, 0, "", ""), measure.Measurement(2.0, 1.5, 90.0, 0, "", "")]
    assert measure.best(runs) == measure.Measurement(2.0, 1.0, 90.0, 0, "", "")


def test_cost_of_each_further_wall_leaves_the_start_out() -> None:
    rows = [
        {"case": "duplex", "walls": 57, "bare_s": 9.0, "takeoff_s": 9.0},
        {"case": "100 walls", "walls": 100, "bare_s": 1.0, "takeoff_s": 2.0},
        {"case": "1000 walls", "walls": 1000, "bare_s": 1.9, "takeoff_s": 3.8},
    ]
    added = run.added_cost(rows)
    assert added == [{"from": 100, "to": 1000, "bare_ms_per_wall": 1.0, "takeoff_ms_per_wall": 2.0}]
