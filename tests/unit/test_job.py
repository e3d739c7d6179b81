"""The job file: what it holds, how faults are named, what blocks for walls mean, and that it is written as read."""

from __future__ import annotations

import dataclasses
import json
import math
import pickle
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from geometry.tolerances import DEFAULT_TOLERANCES
from takeoff.errors import TakeoffError
from takeoff.framing.rules import PRESETS, rule_fields
from takeoff.hose import LONG_HOSE, SHORT_HOSE
from takeoff.job import (
    JobError,
    assumptions,
    default_job,
    design_density,
    framing_rules_for,
    hose_settings,
    insulate_decision,
    least_cavity_depth,
    least_clear_width,
    load_job,
    overrides_for,
    read_job,
    tolerances,
)
from takeoff.job_writer import WallTypeSummary, commented_job, toml
from takeoff.wall_rules import NO_RULE, WallRule, literal_pattern, matches


def faults(text: str) -> str:
    with pytest.raises(JobError) as caught:
        read_job(text, "house.toml")
    message = str(caught.value)
    assert "house.toml" in message
    assert "\n" not in message
    return message


# ---------------------------------------------------------------- defaults


def test_an_empty_file_is_the_default_job(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text("", encoding="utf-8")
    assert load_job(path) == default_job()


def test_the_defaults_are_in_si() -> None:
    job = default_job()
    assert job.hose.outside_diameter == 0.0762
    assert job.hose.short.insertion == 0.762
    assert job.fibre.density == 33.0
    assert job.layers.least_stud_depth == 0.035
    assert job.insulate.walls == "external"


def test_the_tolerances_of_the_job_are_those_of_the_kernel() -> None:
    assert tolerances(default_job()) == DEFAULT_TOLERANCES


def test_the_default_density_lies_in_the_handbooks_range() -> None:
    # ASHRAE Fundamentals 2021 chapter 26 Table 1, ../shared/check-values.md section 3: 29 to 37 kg/m3.
    assert 29.0 <= default_job().fibre.density <= 37.0
    assert 0.035 <= default_job().fibre.conductivity <= 0.036


@pytest.mark.parametrize(
    ("kind", "clear_in", "one_hole"),
    [("short", 92.625, False), ("short", 48 - 4.5, True), ("long", 92.625, True), ("long", 104.625, False)],
)
def test_the_reach_of_the_hoses_fits_the_holes_that_crews_cut(kind: str, clear_in: float, one_hole: bool) -> None:
    # Common practice, no published source: short hose, 8 ft wall two holes, 4 ft or less one; long hose, 8 ft one,
    # 9 ft a second near the top.
    reach = hose_settings(read_job(f'[hose]\nkind = "{kind}"\n'))
    assert (reach.insertion + reach.throw_down + reach.throw_up >= clear_in * 0.0254) is one_hole


def test_the_defaults_are_those_of_the_fill_plan() -> None:
    for kind, plan in (("short", SHORT_HOSE), ("long", LONG_HOSE)):
        have = dataclasses.asdict(hose_settings(read_job(f'[hose]\nkind = "{kind}"\n')))
        want = dataclasses.asdict(plan)
        assert have.pop("name") == want.pop("name")
        assert have.pop("least_width") == pytest.approx(2.0 * plan.clearance)  # no more than what the hole needs anyway
        assert want.pop("least_width") == 0.0
        assert have == pytest.approx(want, rel=1e-12)


def test_what_a_hole_needs_follows_the_hoses_diameter_unless_it_is_stated() -> None:
    job = read_job('[hose]\noutside_diameter = "4 in"\n')
    assert least_clear_width(job) == pytest.approx(0.1216)
    stated = read_job('[batt]\nclear_width_below = "100 mm"\ndepth_below = "60 mm"\n')
    assert (least_clear_width(stated), least_cavity_depth(stated)) == (0.1, 0.06)


def test_a_job_cannot_be_changed() -> None:
    with pytest.raises(ValidationError):
        default_job().hose.kind = "long"


def test_the_density_follows_the_depth_where_the_chart_has_steps() -> None:
    job = read_job(
        '[[fibre.by_depth]]\ndepth_to = "4 in"\ndensity = "35 kg/m3"\n'
        '[[fibre.by_depth]]\ndepth_to = "6 in"\ndensity = "31 kg/m3"\n'
    )
    assert [design_density(job, depth) for depth in (0.0889, 0.1016, 0.1397, 0.2)] == [35.0, 35.0, 31.0, 33.0]
    assert "rising" in faults(
        '[[fibre.by_depth]]\ndepth_to = "6 in"\ndensity = "31 kg/m3"\n'
        '[[fibre.by_depth]]\ndepth_to = "4 in"\ndensity = "35 kg/m3"\n'
    )
    assert "fibre.by_depth[1].density" in faults('[[fibre.by_depth]]\ndepth_to = "6 in"\ndensity = "0 kg/m3"\n')


# ---------------------------------------------------------------- faults


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[hose]\noutside_diametre = '3 in'\n", ["hose.outside_diametre", "did you mean 'outside_diameter'"]),
        ("[hoze]\nkind = 'long'\n", ["hoze", "did you mean 'hose'"]),
        ("[hose]\ninsertion = '3 ft'\n", ["hose.insertion", "[hose.short]"]),
        ("[hose]\noutside_diameter = 3\n", ["hose.outside_diameter", "no unit", "quotes"]),
        ("[hose]\noutside_diameter = '3'\n", ["hose.outside_diameter", "no unit"]),
        ("[hose]\noutside_diameter = '1,200 mm'\n", ["comma"]),
        ("[hose]\noutside_diameter = '3 m'\n", ["is 3 m", "1 in to 12 in"]),
        ("[hose]\nkind = 'middle'\n", ["hose.kind", "'short' or 'long'"]),
        ("[hose]\nladder_reach = '3 ft'\n", ["ladder_reach is below"]),
        ("[hose]\nleast_share = '0.9'\n", ["hose.least_share", "without quotes"]),
        ("[hose]\nleast_share = 2\n", ["hose.least_share", "0.5 to 1"]),
        ("[hose]\nleast_share = nan\n", ["hose.least_share", "0.5 to 1"]),
        ("hose = 3\n", ["hose", "no table"]),
        ("[insulate]\nrated_internal = 'yes'\n", ["insulate.rated_internal", "true or false"]),
        ("[layers]\nstud_layer = 3\n", ["layers.stud_layer", "list"]),
        ("[layers]\nstud_layer = ['--']\n", ["is no word"]),
        ("[layers]\nleast_stud_depth = '500 mm'\n", ["least_stud_depth is not below"]),
        ("[framing]\nwood = 'wood-16'\n", ["framing.wood", "did you mean 'wood-16in'"]),
        ("[framing.values]\nspacng = '16 in'\n", ["framing.values.spacng", "did you mean 'spacing'"]),
        ("[framing.values]\nmaterial = 'steel'\n", ["framing.values.material"]),
        ("[framing.values]\nspacing = 16\n", ["framing.values.spacing", "no unit"]),
        ("[framing.values]\ntop_plates = '2'\n", ["framing.values.top_plates", "count"]),
        ("[framing.values]\ntop_plates = 99\n", ["framing.values", "0 to 6"]),
        ("[framing.values]\ncripples = 1\n", ["framing.values.cripples", "true or false"]),
        ("[framing.values]\ncorner = 'four'\n", ["framing.values.corner", "three_stud"]),
        ("[framing.values]\nblocking_heights = '4 ft'\n", ["framing.values.blocking_heights", "list"]),
        ("[framing.values]\nblocking_heights = ['4']\n", ["framing.values.blocking_heights", "no unit"]),
        ("[framing.values]\nspacing = '2 in'\n", ["twice the stud thickness"]),
        ("[framing.rules.own]\nspacing = '2 ft'\n", ["framing.rules.own", "base"]),
        ("[framing.rules.own]\nbase = 'other'\n", ["framing.rules.own.base", "other"]),
        ("[[wall]]\ninsulate = true\n", ["wall[1]", "selects no wall"]),
        ("[[wall]]\ntype = 'a'\ninsulate = 1\n", ["wall[1].insulate", "true or false"]),
        ("[[wall]]\ntype = 'a'\ninsolate = true\n", ["wall[1].insolate", "did you mean 'insulate'"]),
        ("[[wall]]\ntype = 'a'\nstud_layer = 0\n", ["wall[1].stud_layer", "counted from 1"]),
        ("[[wall]]\ntype = 'a'\nstud_layer = true\n", ["wall[1].stud_layer"]),
        ("[[wall]]\ntype = 'a'\nstud_layer = []\n", ["wall[1].stud_layer"]),
        ("[[wall]]\ntype = 'a'\nstud_depth = '5 m'\n", ["wall[1].stud_depth", "2 m"]),
        ("[[wall]]\ntype = 'a'\nframing = 'wood16in'\n", ["wall[1].framing", "did you mean 'wood-16in'"]),
        ("[[wall]]\ntype = 'a'\n[[wall]]\nname = 'b'\nfill_side = 'left'\n", ["wall[2].fill_side", "first_layer"]),
        ("[[wall]]\ntype = 'a'\nleave_out = ''\n", ["wall[1].leave_out"]),
        ("[hose\n", ["TOML", "line 1"]),
        ("a = 1\na = 2\n", ["TOML", "line 2"]),
        ("x = " + "[" * 50_000, ["nested too deeply"]),
        ("x = " + "9" * 10_000, ["TOML"]),
        ("when = 2024-01-01\n", ["when", "is no key"]),
        ("[hose]\noutside_diameter = 2024-01-01\n", ["hose.outside_diameter"]),
        ("[hose]\noutside_diameter = inf\n", ["hose.outside_diameter"]),
    ],
)
def test_a_fault_names_the_file_the_key_and_the_mend(text: str, parts: list[str]) -> None:
    message = faults(text)
    assert [part for part in parts if part not in message] == [], message


def test_all_faults_are_named_at_once() -> None:
    message = faults("[hose]\nkind = 'x'\nwidth = '3 in'\n[fibre]\ndensity = 3\n[report]\nunits = 'feet'\n")
    assert all(key in message for key in ("hose.kind", "hose.width", "fibre.density", "report.units"))


def test_an_error_of_the_job_keeps_its_facts_when_pickled() -> None:
    error = JobError("a.toml", ["x: is wrong", "y: too"])
    again = pickle.loads(pickle.dumps(error))
    assert (again.path, again.faults, str(again)) == (error.path, error.faults, str(error))
    assert isinstance(error, TakeoffError)
    assert isinstance(error, ValueError)


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"[hose]\n\xff\xfe\n")
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * 5_000_000)
    for path, part in (
        (tmp_path / "none.toml", "is no file"),
        (tmp_path, "is no file"),
        (binary, "line 2"),
        (huge, "larger than"),
    ):
        with pytest.raises(JobError, match=part) as caught:
            load_job(path)
        assert str(path) in str(caught.value)


def test_a_mark_at_the_start_of_the_file_and_dos_line_ends_are_no_fault(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf[hose]\r\nkind = 'long'\r\n")
    assert load_job(path).hose.kind == "long"


# ---------------------------------------------------------------- framing rules


def test_the_studs_material_picks_the_rules_unless_a_block_names_them() -> None:
    job = read_job("[framing]\nwood = 'wood-24in-advanced'\nunknown = 'wood-600mm'\n")
    names = [framing_rules_for(job, NO_RULE, material).name for material in ("wood", "steel", "unknown")]  # type: ignore[arg-type]
    assert names == ["wood-24in-advanced", "steel-16in", "wood-600mm"]
    assert framing_rules_for(job, WallRule(framing="double-stud"), "steel").name == "double-stud"


def test_own_rules_change_their_base_and_nothing_else() -> None:
    job = read_job(
        "[framing]\nwood = 'own'\n[framing.rules.own]\nbase = 'wood-24in-advanced'\nspacing = '19.2 in'\n"
        "blocking_heights = ['4 ft', '8 ft']\nfire_stop_interval = 'none'\ncripples = false\n"
    )
    own = framing_rules_for(job, NO_RULE, "wood")
    base = PRESETS["wood-24in-advanced"]
    assert own == dataclasses.replace(
        base,
        name="own",
        spacing=0.48768,
        blocking_heights=(1.2192, 2.4384),
        fire_stop_interval=math.inf,
        cripples=False,
    )


def test_values_change_every_preset_and_what_is_based_on_it() -> None:
    job = read_job("[framing.values]\ntop_plates = 1\n[framing.rules.own]\nbase = 'wood-16in'\nspacing = '1 ft'\n")
    assert {rules.top_plates for rules in job.framing.rule_sets.values()} == {1}
    assert job.framing.rule_sets["own"].spacing == 0.3048


def test_a_rule_set_may_stand_on_one_above_it_and_change_a_preset_in_place() -> None:
    job = read_job(
        "[framing.rules.wood-16in]\nspacing = '15 in'\n[framing.rules.own]\nbase = 'wood-16in'\ntop_plates = 1\n"
    )
    assert job.framing.rule_sets["own"].spacing == pytest.approx(0.381)
    assert framing_rules_for(job, NO_RULE, "wood").spacing == pytest.approx(0.381)


# ---------------------------------------------------------------- walls


BLOCKS = """
[[wall]]
type = "Exterior*"
insulate = true
stud_layer = [2]
[[wall]]
name = "*garage*"
insulate = false
framing = "wood-600mm"
[[wall]]
global_id = ["1abc", "2abc"]
leave_out = "by others"
stud_depth = "5-1/2 in"
stud_offset = "-1/2 in"
fill_side = "outside"
read_frame = false
external = false
"""


def test_all_blocks_that_fit_are_merged_and_the_last_holds_for_each_key() -> None:
    rule = overrides_for(read_job(BLOCKS), "9zzz", "Garage wall 3", "EXTERIOR - wood", "")
    assert (rule.insulate, rule.stud_layer, rule.framing) == (False, (2,), "wood-600mm")
    assert rule.applied == ("type 'Exterior*'", "name '*garage*'")


def test_a_block_with_ids_fits_those_walls_only() -> None:
    job = read_job(BLOCKS)
    rule = overrides_for(job, "2abc", "", "", "")
    assert rule.leave_out == "by others"
    assert rule.stud_depth == 0.1397
    assert rule.stud_offset == -0.0127
    assert (rule.fill_side, rule.read_frame, rule.external) == ("outside", False, False)
    assert overrides_for(job, "2ABC", "", "", "") == NO_RULE


def test_all_selectors_of_a_block_must_fit() -> None:
    job = read_job("[[wall]]\ntype = 'A*'\nlayer_set = 'B?'\ninsulate = true\n")
    assert overrides_for(job, "", "", "A1", "B2").insulate is True
    assert overrides_for(job, "", "", "A1", "B22").insulate is None
    assert overrides_for(job, "", "", "", "B2").insulate is None


def test_a_stud_layer_may_be_a_number_a_list_or_a_pattern() -> None:
    for text, expected in (("2", (2,)), ("[2, 4]", (2, 4)), ("'*stud*'", "*stud*")):
        job = read_job(f"[[wall]]\ntype = '*'\nstud_layer = {text}\n")
        assert overrides_for(job, "", "", "", "").stud_layer == expected


def test_a_wall_without_a_type_is_selected_by_an_empty_text() -> None:
    job = read_job("[[wall]]\ntype = ''\ninsulate = true\n")
    assert overrides_for(job, "", "", "", "").insulate is True
    assert overrides_for(job, "", "", "x", "").insulate is None


@given(st.text(), st.text())
def test_a_literal_pattern_fits_its_text_and_no_other(text: str, other: str) -> None:
    assert matches(literal_pattern(text), text)
    assert matches(literal_pattern(text), other) == (text.casefold() == other.casefold())


def test_who_is_filled_and_why() -> None:
    rated = "STC 50"
    cases = [
        ("", True, "", True, "external"),
        ("", False, "", False, "without acoustic rating"),
        ("", False, rated, True, rated),
        ("rated_internal = false", False, rated, False, rated),
        ("walls = 'all'", False, "", True, "all framed walls"),
        ("walls = 'none'", True, rated, False, "no walls"),
    ]
    for text, external, rating, expected, word in cases:
        decision, reason = insulate_decision(read_job(f"[insulate]\n{text}\n"), NO_RULE, external, rating)
        assert decision is expected, text
        assert word in reason
    stated = WallRule(insulate=False, applied=("type 'A'",))
    assert insulate_decision(default_job(), stated, True, "") == (False, "the job file says so (type 'A')")


# ---------------------------------------------------------------- every number in use


def test_every_value_has_a_unit_a_text_a_source_and_who_set_it() -> None:
    rows = assumptions(default_job())
    assert len({row.key for row in rows}) == len(rows)
    assert all(row.source and row.set_by == "default" for row in rows)
    assert all(row.unit for row in rows)
    assert {"hose.outside_diameter", "fibre.density", "tolerances.sliver_width", "framing.wood"} <= {
        r.key for r in rows
    }
    assert f"framing.rules.wood-16in.{rule_fields()[2].name}" in {row.key for row in rows}


def test_assumptions_fit_into_json() -> None:
    rows = assumptions(read_job(BLOCKS))
    assert json.loads(json.dumps([dataclasses.asdict(row) for row in rows], allow_nan=False))


def test_what_the_job_file_sets_is_told_from_what_it_leaves() -> None:
    job = read_job(
        "[hose]\noutside_diameter = '4 in'\n[framing]\nwood = 'own'\n[framing.values]\ntop_plates = 1\n"
        "[framing.rules.own]\nbase = 'wood-24in-advanced'\nspacing = '19.2 in'\n"
        "[[wall]]\ntype = 'A'\nstud_depth = '90 mm'\n"
    )
    rows = {row.key: row for row in assumptions(job)}
    stated = {key for key, row in rows.items() if row.set_by == "job file"}
    assert stated == {
        "hose.outside_diameter",
        "framing.wood",
        "framing.rules.own.spacing",
        "framing.rules.own.top_plates",
        "framing.rules.steel-16in.top_plates",
        "framing.rules.wood-16in.top_plates",
        "wall[1].stud_depth",
    }
    assert rows["hose.outside_diameter"].text == "4 in"
    assert "default 3 in" in rows["hose.outside_diameter"].source
    assert rows["framing.rules.own.spacing"].value == 0.48768
    assert "wood-24in-advanced" in rows["framing.rules.own.corner"].source
    assert rows["batt.clear_width_below"].value == pytest.approx(0.1216)


# ---------------------------------------------------------------- writing


def summary(type_name: str, layer_set: str = "", **changes: object) -> WallTypeSummary:
    given = WallTypeSummary(
        type_name=type_name,
        layer_set_name=layer_set,
        layers=("brick, 90 mm: cladding", "wood stud, 140 mm: stud layer"),
        stud_layer="layer 2",
        reason="'wood stud' says stud layer",
        framing="laid out by wood-16in",
        count=3,
        area=41.5,
        insulated="yes: external wall",
        examples=("0aaa", "0bbb"),
    )
    return dataclasses.replace(given, **changes)  # type: ignore[arg-type]


AWKWARD = (
    'Ext "A" \\ wall',
    "two\nlines\r\n[[wall]]\ninsulate = true",
    "[x] *?# stars",
    "tab\tnull\x00bell\x07del\x7f",
    "'''",
    '"""',
    "\u2028\u0085\u00a0",
    "Wände größer 木 🏠",
    "half \ud83d pair",
    "",
    " ",
    "]",
    "[!a]",
)


def test_the_written_default_reads_back_as_the_default() -> None:
    text = commented_job(default_job(), [summary(name, name) for name in AWKWARD])
    assert read_job(text) == default_job()


def test_names_reach_no_further_than_their_line_and_block() -> None:
    text = commented_job(default_job(), [summary(name, name, reason=name, layers=(name,)) for name in AWKWARD])
    text.encode("utf-8")
    assert text.count("\n[[wall]]\n") == len(AWKWARD)
    assert all(char == "\n" or char.isprintable() for char in text)


@pytest.mark.parametrize("name", AWKWARD)
def test_a_block_for_a_wall_type_selects_that_type_and_no_other(name: str) -> None:
    text = commented_job(default_job(), [summary(name)]).replace("# insulate = true", "insulate = true", 1)
    job = read_job(text)
    for other in (*AWKWARD, "x"):
        layer_set = "" if name == other else "s"
        assert overrides_for(job, "", "", other, layer_set).insulate is (True if other == name else None)


@given(st.lists(st.text(max_size=30), max_size=4, unique_by=str.casefold), st.text(max_size=30))
def test_any_names_can_be_written_and_read(names: list[str], note: str) -> None:
    text = commented_job(default_job(), [summary(name, note, reason=note, examples=(note,)) for name in names])
    assert read_job(text) == default_job()


def test_types_that_share_a_name_are_told_apart_by_layer_set_or_id() -> None:
    kinds = [summary("A", "one"), summary("A", "two"), summary("B", "s", count=2), summary("B", "s", count=5)]
    text = commented_job(default_job(), kinds)
    blocks = [block.split("\n# insulate")[0] for block in text.split("\n[[wall]]\n")[1:]]
    assert blocks[0] == 'type = "A"\nlayer_set = "one"'
    assert blocks[2] == 'type = "B"\nlayer_set = "s"\nglobal_id = ["0aaa", "0bbb"]'
    assert "add global_id" in blocks[3]


def test_each_key_that_is_uncommented_keeps_its_default() -> None:
    text = commented_job(default_job())
    uncommented = re.sub(r"^# (\[|[a-z_]+ = )", r"\1", text, flags=re.MULTILINE)
    assert uncommented != text
    job = read_job(uncommented)
    for name in ("report", "insulate", "layers", "hose", "batt", "tolerances"):
        have, want = getattr(job, name).model_dump(), getattr(default_job(), name).model_dump()
        if name == "batt":
            assert have["clear_width_below"] == pytest.approx(least_clear_width(default_job()))
            have, want = have["volume_below"], want["volume_below"]
        assert have == want
    wood, default = job.framing.rule_sets["wood-16in"], PRESETS["wood-16in"]
    for rule in rule_fields():
        have, want = getattr(wood, rule.name), getattr(default, rule.name)
        assert have == (pytest.approx(want, rel=1e-12) if isinstance(want, float) else want), rule.name


def test_every_key_of_a_wall_block_can_be_uncommented() -> None:
    text = commented_job(default_job(), [summary("A")])
    head, block = text.split("\n[[wall]]\n")
    rule = overrides_for(
        read_job(head + "\n[[wall]]\n" + re.sub(r"^# ", "", block, flags=re.MULTILINE)), "", "", "A", ""
    )
    assert rule.stud_layer == (2,)
    assert rule.stud_depth == 0.14
    assert all(getattr(rule, each.name) not in (None, "", ()) for each in dataclasses.fields(rule))


STATED = """
[report]
units = "us"
[insulate]
walls = "all"
[framing]
wood = "own walls"
[framing.values]
top_plates = 1
blocking_heights = ["4 ft"]
[framing.rules."own walls"]
base = "wood-16in"
spacing = "19.2 in"
cripples = false
[layers]
stud_layer = ["kernlage", "x*"]
[hose]
kind = "long"
least_share = 0.99
[hose.long]
throw_up = "0.3333333333333333 m"
[fibre]
name = "a \\"fibre\\""
[[fibre.by_depth]]
depth_to = "4 in"
density = "2 lb/ft3"
[batt]
clear_width_below = "90 mm"
[tolerances]
coincident = "1e-6 m"
"""


def test_a_job_that_sets_values_is_written_and_read_back_the_same() -> None:
    job = read_job(STATED + BLOCKS)
    again = read_job(commented_job(job, [summary("A")]))
    assert again == job
    assert assumptions(again) == assumptions(job)


@pytest.mark.parametrize("value", [True, False, 0, -3, "", 'a"b\\c', ("a", "b"), "\x00", "é"])
def test_words_and_counts_are_written_as_toml_reads_them(value: object) -> None:
    read = tomllib.loads(f"x = {toml(value)}")["x"]
    assert read == (list(value) if isinstance(value, tuple) else value)


def test_a_changed_copy_of_a_job_keeps_nothing_of_the_old_one() -> None:
    job = read_job("[[wall]]\ntype = 'A'\ninsulate = true\n")
    assert overrides_for(job, "", "", "A", "").insulate is True
    assert framing_rules_for(job, NO_RULE, "wood").top_plates == 2
    framing = read_job("[framing.values]\ntop_plates = 1\n").framing
    copy = job.model_copy(update={"wall": (), "framing": framing})
    assert overrides_for(copy, "", "", "A", "") == NO_RULE
    assert framing_rules_for(copy, NO_RULE, "wood").top_plates == 1
