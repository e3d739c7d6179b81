"""Result files: the same bytes each time, whole or not at all, and never over somebody else's folder."""

from __future__ import annotations

import csv
import io
import json
import math
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import box

from geometry.cylinders import Developed
from reports import files
from reports.files import FILE_NAMES, OutputError, check_target, result_texts, write_results, write_text
from reports.takeoff_json import SCHEMA_VERSION
from takeoff.model import MemberRole
from takeoff.tables import TABLES
from tests.records_builder import failed_wall, member, plain_wall, takeoff_of, wall_axes


def parsed() -> dict:
    return json.loads(result_texts(takeoff_of())["takeoff.json"])


def test_a_result_folder_holds_every_table_and_takeoff_json(tmp_path):
    paths = write_results(takeoff_of(), tmp_path / "out")
    assert sorted(path.name for path in paths) == sorted(FILE_NAMES)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(FILE_NAMES)
    assert {f"{table.name}.csv" for table in TABLES} < set(FILE_NAMES)


def test_two_runs_write_the_same_bytes(tmp_path):
    write_results(takeoff_of(), tmp_path / "one")
    write_results(takeoff_of(), tmp_path / "two")
    for name in FILE_NAMES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_no_file_names_a_folder_of_the_machine():
    for name, text in result_texts(takeoff_of()).items():
        assert "/somewhere" not in text, name


def test_an_earlier_result_is_replaced_and_nothing_else_is_left(tmp_path):
    out = tmp_path / "out"
    write_results(takeoff_of(), out)
    write_results(takeoff_of((plain_wall("OTHER"),)), out)
    assert "OTHER" in (out / "walls.csv").read_text()
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_is_taken(tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    write_results(takeoff_of(), out)
    assert (out / "walls.csv").is_file()


def test_a_folder_with_other_files_is_refused_and_kept(tmp_path):
    (tmp_path / "letter.txt").write_text("dear reader")
    with pytest.raises(OutputError, match=r"holds other files \(letter\.txt\).*--out"):
        write_results(takeoff_of(), tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_a_folder_with_files_of_our_names_but_not_by_us_is_refused(tmp_path):
    (tmp_path / "walls.csv").write_text("somebody's own walls")
    with pytest.raises(OutputError, match="holds other files"):
        write_results(takeoff_of(), tmp_path)
    assert (tmp_path / "walls.csv").read_text() == "somebody's own walls"


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "out").write_text("")
    with pytest.raises(OutputError, match="is a file"):
        check_target(tmp_path / "out")
    with pytest.raises(OutputError, match="is a file"):
        check_target(tmp_path / "out" / "deeper")


def test_missing_parents_are_made(tmp_path):
    write_results(takeoff_of(), tmp_path / "a" / "b" / "out")
    assert (tmp_path / "a" / "b" / "out" / "walls.csv").is_file()


def test_when_writing_fails_the_old_result_stays_and_no_draft_is_left(tmp_path, monkeypatch):
    out = tmp_path / "out"
    write_results(takeoff_of(), out)
    before = (out / "walls.csv").read_bytes()
    written = Path.write_bytes

    def full_disk(path: Path, data: bytes) -> int:
        if path.name.endswith("takeoff.json"):
            raise OSError(28, "No space left on device")
        return written(path, data)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    with pytest.raises(OutputError, match="No space left on device"):
        write_results(takeoff_of((plain_wall("NEW"),)), out)
    assert (out / "walls.csv").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_when_the_last_rename_fails_the_old_result_is_put_back(tmp_path, monkeypatch):
    out = tmp_path / "out"
    write_results(takeoff_of(), out)
    rename = Path.rename

    def stubborn(path: Path, target: Path) -> Path:
        if Path(target) == out and path.name != "old":
            raise OSError(13, "Permission denied")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", stubborn)
    with pytest.raises(OutputError, match="Permission denied"):
        write_results(takeoff_of(), out)
    assert sorted(path.name for path in out.iterdir()) == sorted(FILE_NAMES)


def test_result_files_get_the_rights_that_the_user_gives_to_new_files(tmp_path):
    mask = os.umask(0o022)
    try:
        write_results(takeoff_of(), tmp_path / "out")
        assert (tmp_path / "out").stat().st_mode & 0o777 == 0o755
        assert (tmp_path / "out" / "walls.csv").stat().st_mode & 0o777 == 0o644
    finally:
        os.umask(mask)


def test_a_single_file_is_written_whole_or_not_at_all(tmp_path):
    target = tmp_path / "job.toml"
    write_text(target, "one")
    write_text(target, "two")
    assert target.read_text() == "two"
    with pytest.raises(OutputError):
        write_text(tmp_path / "job.toml" / "deeper", "three")
    assert [path.name for path in tmp_path.iterdir()] == ["job.toml"]


def test_takeoff_json_says_its_version_and_where_it_comes_from():
    data = parsed()
    assert data["program"] == "bayfill"
    assert data["schema_version"] == SCHEMA_VERSION
    assert data["model"] == {
        "file": "house.ifc",
        "project": "Invented house",
        "schema": "IFC4",
        "length_unit": "MILLIMETRE",
        "length_unit_m": 0.001,
    }


def test_takeoff_json_holds_every_wall_with_its_layers_members_and_cavities():
    walls = {wall["wall_id"]: wall for wall in parsed()["walls"]}
    assert list(walls) == ["WALL-A", "WALL-D", "WALL-F", "WALL-M", "WALL-L"]
    layer = walls["WALL-A"]["layers"][0]
    assert [row["role"] for row in layer["build_up"]] == ["lining", "stud_layer", "sheathing"]
    assert [row["kind"] for row in layer["cavities"]] == ["full_height_bay", "bay_over_header", "sliver"]
    assert layer["axes"]["origin_m"] == wall_axes().origin.tolist()
    assert layer["body"]["shape"] == "prism"
    assert len(walls["WALL-D"]["layers"]) == 2
    assert walls["WALL-L"]["layers"] == []
    assert walls["WALL-L"]["reason"] == "no stud layer among its layers"


def test_members_in_takeoff_json_have_their_solid_and_its_volume_agrees():
    members = parsed()["walls"][0]["layers"][0]["members"]
    for row in members:
        solid = row["solid"]
        if solid["shape"] == "prism":
            area = shapely.from_wkt(solid["outline_wkt"]).area
            assert area * (solid["y_max_m"] - solid["y_min_m"]) == pytest.approx(row["volume_m3"], rel=1e-9)
        else:
            assert len(solid["vertices_m"]) == 8
            assert len(solid["faces"]) == 12
    assert [row["solid"]["shape"] for row in members] == ["prism", "prism", "prism", "mesh"]


def test_takeoff_json_and_the_csv_files_agree():
    texts = result_texts(takeoff_of())
    data = json.loads(texts["takeoff.json"])
    flat = [row for wall in data["walls"] for layer in wall["layers"] for row in layer["cavities"]]
    rows = list(csv.DictReader(io.StringIO(texts["cavities.csv"])))
    assert len(rows) == len(flat)
    for row, held in zip(rows, flat, strict=True):
        assert row["cavity_id"] == held["cavity_id"]
        assert float(row["volume_m3"]) == held["volume_m3"]
        assert row["outline_wkt"] == held["outline_wkt"]


def test_takeoff_json_lists_each_assumption_with_unit_and_source():
    rows = parsed()["assumptions"]
    assert rows
    for row in rows:
        assert {"key", "value", "unit", "source", "set_by"} <= set(row)
        assert row["source"], row["key"]


def test_takeoff_json_sums_what_the_walls_hold():
    data = parsed()
    volumes = [row["volume_m3"] for wall in data["walls"] for layer in wall["layers"] for row in layer["cavities"]]
    slivers = [
        row["volume_m3"]
        for wall in data["walls"]
        for layer in wall["layers"]
        for row in layer["cavities"]
        if row["kind"] == "sliver"
    ]
    assert data["totals"]["fill_volume"] == pytest.approx(sum(volumes) - sum(slivers), rel=1e-9)
    assert data["totals"]["walls"] == len(data["walls"])


def test_findings_of_model_wall_and_layer_are_all_listed_once():
    codes = [finding["code"] for finding in parsed()["findings"]]
    assert codes == ["unit-guessed", "gap-sealed", "gap-sealed", "wall-not-readable", "gap-sealed"]


def test_text_that_is_no_utf8_can_still_be_written(tmp_path):
    write_results(takeoff_of((plain_wall(name="broken \udc80 name"),)), tmp_path / "out")
    assert json.loads((tmp_path / "out" / "takeoff.json").read_text())["walls"]


def test_a_wall_that_failed_keeps_its_stud_layers_in_the_file():
    failed = failed_wall()
    result = replace(failed, wall=replace(failed.wall, stud_layers=plain_wall().wall.stud_layers))
    data = json.loads(result_texts(takeoff_of((result,)))["takeoff.json"])
    assert data["walls"][0]["layers"] == []
    assert data["walls"][0]["stud_layers_not_taken_off"][0]["build_up"]


def test_files_module_lists_what_it_writes():
    assert set(result_texts(takeoff_of())) == set(files.FILE_NAMES)


def test_a_curved_wall_tells_its_arc_and_its_members_have_their_true_volume():
    # A quarter of a ring, fill face at radius 2 m, middle of the studs at 2.05 m: a plate along all of it.
    axes = Developed(np.zeros(3), np.array([1.0, 0.0, 0.0]), 2.05, 2.0, True, 0.0)
    length = 2.05 * math.pi / 2
    wall = plain_wall()
    layer = wall.layers[0]
    plate = member(1, MemberRole.BOTTOM_PLATE, box(0.0, 0.0, length, 0.05), "WALL-A")
    frame = replace(layer.frame, layer=replace(layer.frame.layer, axes=axes), members=(plate,))
    texts = result_texts(takeoff_of((replace(wall, layers=(replace(layer, frame=frame),)),)))
    row = next(csv.DictReader(io.StringIO(texts["members.csv"])))
    ring = math.pi / 4 * (2.1**2 - 2.0**2) * 0.05
    assert float(row["volume_m3"]) == pytest.approx(ring, rel=1e-9)
    arc = json.loads(texts["takeoff.json"])["walls"][0]["layers"][0]["axes"]["arc"]
    assert arc == {"centre_m": [0.0, 0.0, 0.0], "radius_of_x_m": 2.05, "radius_of_fill_face_m": 2.0}
