"""What the job file says of single walls and wall types: each key does what it says, and the run shows what held."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from reports.summary import summary
from reports.takeoff_json import takeoff_json
from takeoff import take_off
from takeoff.model import Status
from takeoff.result import Takeoff
from tests.ifc_builder import Builder

LAYERS = [("Gypsum board", 0.0125), ("Material 7", 0.14), ("OSB", 0.012)]
THICK = sum(thickness for _, thickness in LAYERS)


def model(tmp_path: Path) -> Path:
    """Four walls: 'North' and 'South' of one type whose stud layer nobody can tell by its name, 'Bare' without layers,
    'Framed' with members, and a room inside."""
    made = Builder("IFC4", "MILLIMETRE")
    layer_set = made.layer_set(LAYERS)
    layer_set.LayerSetName = "Build-up 1"
    north = made.wall("North", length=4.0, height=2.5, thickness=THICK, at=(0.0, 5.0, 0.0))
    south = made.wall("South", length=4.0, height=2.5, thickness=THICK, at=(0.0, 0.0, 0.0))
    made.layer_usage([north, south], layer_set)
    made.type_for([north, south], "IfcWallType", "W-Ext 165", PredefinedType="STANDARD")
    made.wall("Bare", length=3.0, height=2.5, thickness=0.2, at=(10.0, 0.0, 0.0))
    framed = made.wall("Framed", length=3.6, height=2.4, thickness=0.14, layers=[("Timber studs", 0.14)], at=(20, 0, 0))
    made.frame(framed)
    return made.save(tmp_path / "rules.ifc")


def run(tmp_path: Path, job: str) -> Takeoff:
    file = tmp_path / "job.toml"
    file.write_text(job, encoding="utf-8")
    return take_off(model(tmp_path), file)


def walls(result: Takeoff) -> dict[str, Any]:
    return {row.wall.name: row for row in result.results}


def texts(result: Takeoff, table: str, key: str, column: str) -> dict[str, str]:
    filled = result.tables()[table]
    return dict(zip(filled.column(key), filled.column(column), strict=True))


def codes(result: Takeoff) -> list[str]:
    return [finding.code for finding in result.findings]


def test_without_a_rule_the_unknown_layer_is_left_out_and_no_rule_is_shown(tmp_path: Path) -> None:
    result = run(tmp_path, "")
    assert walls(result)["Bare"].status is Status.LEFT_OUT
    assert set(texts(result, "walls", "name", "job_rules").values()) == {""}


@pytest.mark.parametrize("value", ["2", '"Material*"'])
@pytest.mark.parametrize("selector", ['type = "W-Ext*"', 'layer_set = "Build-up ?"', 'name = "[NS]o*th"'])
def test_the_stud_layer_is_the_one_that_the_job_file_names(tmp_path: Path, selector: str, value: str) -> None:
    result = run(tmp_path, f"[[wall]]\n{selector}\nstud_layer = {value}\n")
    for name in ("North", "South"):
        row = walls(result)[name]
        assert row.status is Status.TAKEN_OFF
        (layer,) = row.layers
        assert layer.frame.layer.depth == pytest.approx(0.14)
        assert layer.balance.gross == pytest.approx(4.0 * 2.5 * 0.14, rel=1e-9)
    shown = texts(result, "walls", "name", "job_rules")
    assert shown["North"] == shown["South"] != ""
    assert "stud_layer" in shown["North"]
    assert shown["Bare"] == ""


def test_a_wall_without_layers_gets_its_studs_from_the_job_file(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "Bare"\nstud_depth = "140 mm"\nstud_offset = "30 mm"\n')
    (layer,) = walls(result)["Bare"].layers
    assert layer.frame.layer.depth == pytest.approx(0.14)
    y = layer.frame.layer.axes.origin[1]
    # The fill side is not known here: 30 mm behind either face.
    assert y == pytest.approx(0.03) or y == pytest.approx(0.2 - 0.03)
    assert texts(result, "walls", "name", "job_rules")["Bare"] == "name 'Bare': stud_depth 0.14 m, stud_offset 0.03 m"
    assert texts(result, "stud_layers", "wall_id", "job_rules") == {
        walls(result)["Bare"].wall.wall_id: "name 'Bare': stud_depth 0.14 m, stud_offset 0.03 m",
        walls(result)["Framed"].wall.wall_id: "",
        **{row.wall.wall_id: "" for name, row in walls(result).items() if name in ("North", "South") and row.layers},
    }


def test_framing_rules_hold_for_the_wall_that_is_named_by_its_global_id(tmp_path: Path) -> None:
    plain = run(tmp_path, '[[wall]]\ntype = "W-Ext*"\nstud_layer = 2\nframing = "wood-16in"\n')
    north = walls(plain)["North"].wall.wall_id
    job = (
        '[[wall]]\ntype = "W-Ext*"\nstud_layer = 2\nframing = "wood-16in"\n'
        f'[[wall]]\nglobal_id = "{north}"\nframing = "wood-24in-advanced"\n'
    )
    result = run(tmp_path, job)
    rules = texts(result, "walls", "name", "framing_rule")
    assert rules["North"] == "wood-24in-advanced"
    assert rules["South"] == "wood-16in"
    shown = texts(result, "walls", "name", "job_rules")
    assert shown["North"] == f"type 'W-Ext*': stud_layer 2; global id '{north}': framing wood-24in-advanced"
    assert shown["South"] == "type 'W-Ext*': stud_layer 2, framing wood-16in"
    assert len(walls(result)["North"].layers[0].cavities) < len(walls(result)["South"].layers[0].cavities)


@pytest.mark.parametrize(("side", "first"), [("first_layer", "Gypsum board"), ("last_layer", "OSB")])
def test_the_fill_side_is_the_one_that_is_stated(tmp_path: Path, side: str, first: str) -> None:
    result = run(tmp_path, f'[[wall]]\nname = "North"\nstud_layer = 2\nfill_side = "{side}"\n')
    (layer,) = walls(result)["North"].layers
    assert min(layer.frame.layer.layers, key=lambda one: one.y_min).material == first
    assert "job file" in layer.frame.layer.fill_side


@pytest.mark.parametrize(("stated", "source"), [("true", "modelled"), ("false", "laid_out")])
def test_the_modelled_frame_is_used_unless_the_job_file_says_no(tmp_path: Path, stated: str, source: str) -> None:
    result = run(tmp_path, f'[[wall]]\nname = "Framed"\nread_frame = {stated}\n')
    (layer,) = walls(result)["Framed"].layers
    assert layer.frame.source == source
    assert layer.balance.residual < 1e-9
    if stated == "false":
        # The model's members stay out of it altogether, and the run says how many.
        assert all(member.source == "laid_out" for member in layer.frame.members)
        (told,) = [one for one in result.findings if one.code == "modelled-frame-left-out"]
        assert told.measured == 8  # two plates and studs at 0.6 m over 3.6 m, the last one left to the next wall


def test_a_wall_that_is_left_out_says_why(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "Framed"\nleave_out = "by others"\n')
    row = walls(result)["Framed"]
    assert row.status is Status.LEFT_OUT
    assert "by others" in row.reason
    assert texts(result, "walls", "name", "job_rules")["Framed"] == "name 'Framed': leave_out by others"


@pytest.mark.parametrize("stated", [True, False])
def test_external_and_insulate_follow_the_job_file(tmp_path: Path, stated: bool) -> None:
    word = str(stated).lower()
    result = run(tmp_path, f'[[wall]]\nname = "Framed"\nexternal = {word}\ninsulate = {word}\n')
    wall = walls(result)["Framed"].wall
    assert (wall.external, wall.insulated) == (stated, stated)
    assert "job file" in wall.external_reason
    assert "job file" in wall.insulated_reason
    methods = {str(cavity.method) for layer in walls(result)["Framed"].layers for cavity in layer.cavities}
    assert ("blow" in methods) is stated


def test_a_later_block_holds_and_the_earlier_one_is_shown_as_idle_for_that_wall(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "F*"\ninsulate = true\n[[wall]]\nname = "Framed"\ninsulate = false\n')
    shown = texts(result, "walls", "name", "job_rules")["Framed"]
    assert shown == "name 'F*': nothing that holds; name 'Framed': insulate false"
    assert walls(result)["Framed"].wall.insulated is False


def test_a_block_that_fits_no_wall_is_told(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "Nroth"\ninsulate = true\n')
    (finding,) = [one for one in result.findings if one.code == "job-rule-selects-no-wall"]
    assert "name 'Nroth'" in finding.message


def test_a_key_without_effect_is_told(tmp_path: Path) -> None:
    job = (
        '[[wall]]\nname = "Framed"\nframing = "wood-16in"\n'
        '[[wall]]\nname = "North"\nstud_layer = 2\nstud_offset = "5 mm"\n'
    )
    told = [one.message for one in run(tmp_path, job).findings if one.code == "job-rule-without-effect"]
    assert len(told) == 2
    assert any("read_frame = false" in message for message in told)
    assert any("stud_depth" in message for message in told)


def test_takeoff_json_carries_the_rules(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "Framed"\ninsulate = true\n')
    written = json.loads(takeoff_json(result))
    by_name = {wall["name"]: wall["job_rules"] for wall in written["walls"]}
    assert by_name["Framed"] == "name 'Framed': insulate true"
    assert by_name["Bare"] == ""
    assert "job-rule-selects-no-wall" not in codes(result)


def test_the_summary_says_which_rule_holds_for_which_walls(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\ntype = "W-Ext*"\nstud_layer = 2\n')
    console = Console(width=160, record=True, file=io.StringIO())
    console.print(summary(result, "metric"), markup=False)
    text = console.export_text()
    (line,) = [row for row in text.splitlines() if "W-Ext*" in row]
    assert line.split()[0] == "2"
    assert "stud_layer 2" in line
    assert "North, South" in line


@pytest.mark.parametrize("stated", ["9", '"Oak*"'])
def test_a_stud_layer_that_is_none_of_the_walls_layers_is_told_with_those_that_are(tmp_path: Path, stated: str) -> None:
    result = run(tmp_path, f'[[wall]]\nname = "North"\nstud_layer = {stated}\n')
    (told,) = [finding for finding in result.findings if finding.code == "job-rule-without-effect"]
    assert told.element_name == "North"
    assert stated.strip('"') in told.message
    assert "2. Material 7" in told.message
    bare = run(tmp_path, '[[wall]]\nname = "Bare"\nstud_layer = 1\n')
    (told,) = [finding for finding in bare.findings if finding.code == "job-rule-without-effect"]
    assert "gives it no layers" in told.message


def test_a_board_named_as_stud_layer_is_taken_and_told(tmp_path: Path) -> None:
    result = run(tmp_path, '[[wall]]\nname = "North"\nstud_layer = 3\n')
    (told,) = [finding for finding in result.findings if finding.code == "stud-layer-thin"]
    assert (told.element_name, told.measured) == ("North", pytest.approx(0.012))
    assert walls(result)["North"].status is Status.TAKEN_OFF
    assert "stud-layer-thin" not in codes(run(tmp_path, '[[wall]]\nname = "North"\nstud_layer = 2\n'))
