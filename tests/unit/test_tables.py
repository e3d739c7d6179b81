"""Tables: columns as issue and README have them, sums of a wall, and files that agree with frames digit for digit."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace

import numpy as np
import pandas
import pytest
import shapely
from shapely import box
from shapely.affinity import rotate

from geometry.frames import Axes
from geometry.solids import Prism, extruded
from takeoff.columns import FRAME_TYPES, Kind, column_texts, csv_text, frame, json_rows, tidy_number
from takeoff.fill import plan_fill
from takeoff.fill_order import plan_preparations
from takeoff.model import MemberRole, Source
from takeoff.piece_tables import CAVITIES, MEMBERS, OPENINGS, cavity_rows, member_rows, mesh_sizes, opening_rows
from takeoff.tables import TABLES, filled_tables
from takeoff.wall_tables import BUILD_UP, STUD_LAYERS, WALLS, build_up_rows, insulated_area, layer_rows
from tests.records_builder import double_wall, failed_wall, house, left_out_wall, member, plain_wall

WALL_COLUMNS = [
    "wall_id",
    "name",
    "type",
    "storey",
    "external",
    "length_m",
    "height_m",
    "stud_depth_m",
    "gross_area_m2",
    "opening_area_m2",
    "framing_area_m2",
    "cavity_area_m2",
    "cavity_volume_m3",
    "framing_fraction",
    "framing_source",
    "balance_residual",
    "status",
    "reason",
]
CAVITY_COLUMNS = [
    "cavity_id",
    "wall_id",
    "storey",
    "room",
    "kind",
    "method",
    "x_min_m",
    "x_max_m",
    "z_min_m",
    "z_max_m",
    "centroid_x_m",
    "centroid_y_m",
    "centroid_z_m",
    "clear_width_m",
    "depth_m",
    "area_m2",
    "volume_m3",
    "outline_wkt",
]


def walls_by_id() -> dict[str, dict[str, str]]:
    filled = filled_tables(house(), (), plan_fill(house()))["walls"]
    return {row["wall_id"]: row for row in csv.DictReader(io.StringIO(csv_text(filled.table, filled.columns)))}


def test_walls_begin_with_the_agreed_columns_in_the_agreed_order():
    assert list(WALLS.column_names[: len(WALL_COLUMNS)]) == WALL_COLUMNS


def test_cavities_begin_with_the_agreed_columns_in_the_agreed_order():
    assert list(CAVITIES.column_names[: len(CAVITY_COLUMNS)]) == CAVITY_COLUMNS


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_has_a_meaning_and_its_unit_in_its_name(table):
    assert len(set(table.column_names)) == len(table.column_names)
    endings = {"m": "_m", "m2": "_m2", "m3": "_m3"}
    for column in table.columns:
        assert column.meaning, column.name
        if column.unit in endings:
            assert column.name.endswith(endings[column.unit]), column.name


def test_the_plain_wall_has_the_numbers_worked_by_hand():
    row = frame(WALLS, [plain_wall()]).iloc[0]
    # Members: bottom plate 1.4 x 0.05, top plate 2.4 x 0.05, stud 0.05 x 2.3 = 0.07 + 0.12 + 0.115 m2.
    assert row["framing_area_m2"] == pytest.approx(0.305, rel=1e-9)
    assert row["framing_fraction"] == pytest.approx(0.305 / (5.76 - 2.0), rel=1e-9)
    # Bay 1.345 x 2.3, over the door 1.0 x 0.35; the sliver of 5 mm does not count.
    assert row["cavity_area_m2"] == pytest.approx(1.345 * 2.3 + 0.35, rel=1e-9)
    assert row["cavity_volume_m3"] == pytest.approx((1.345 * 2.3 + 0.35) * 0.1, rel=1e-9)
    assert row["fill_volume_m3"] == row["cavity_volume_m3"]
    assert row["cavities"] == 2
    assert row["insulated_area_m2"] == pytest.approx(3.76, rel=1e-9)
    assert row["gross_area_difference_m2"] == pytest.approx(0.06, abs=1e-9)
    assert row["net_area_difference_m2"] == pytest.approx(0.0, abs=1e-9)
    assert row["rooms"] == "Kitchen"


def test_a_wall_with_two_stud_layers_has_one_row_with_their_sums():
    one, two = frame(WALLS, [plain_wall(), double_wall()]).to_dict("records")
    for name in ("stud_depth_m", "gross_area_m2", "opening_area_m2", "cavity_volume_m3", "gross_volume_m3"):
        assert two[name] == pytest.approx(2 * one[name], rel=1e-9)
    assert (two["length_m"], two["height_m"]) == (one["length_m"], one["height_m"])
    assert two["framing_fraction"] == pytest.approx(one["framing_fraction"], rel=1e-9)
    assert two["stud_layers"] == 2


def turned(wall, degrees: float):
    """A double wall whose second stud layer goes on from the first one's end, turned in plan."""
    first, second = wall.layers
    angle = math.radians(degrees)
    x, y = np.array([math.cos(angle), math.sin(angle), 0.0]), np.array([-math.sin(angle), math.cos(angle), 0.0])
    corner = first.frame.layer.axes.to_world(np.array([[2.4, 0.0, 0.0]]))[0]
    axes = Axes(corner, np.stack([x, y, np.array([0.0, 0.0, 1.0])]))
    bent = replace(second, frame=replace(second.frame, layer=replace(second.frame.layer, axes=axes)))
    return replace(wall, layers=(first, bent))


@pytest.mark.parametrize("degrees", [0.0, 30.0, 90.0, -45.0])
def test_the_lengths_of_a_wall_that_bends_add_up_and_keep_their_depth(degrees):
    one, bent = plain_wall(), turned(double_wall(), degrees)
    assert insulated_area(bent) == pytest.approx(2 * insulated_area(one), rel=1e-12)
    assert frame(WALLS, [bent]).iloc[0]["stud_depth_m"] == pytest.approx(0.1, rel=1e-12)


def test_the_insulated_area_of_a_double_wall_counts_once():
    assert insulated_area(double_wall()) == pytest.approx(insulated_area(plain_wall()), rel=1e-12)


def test_a_wall_that_is_not_insulated_has_no_insulated_area():
    assert insulated_area(plain_wall(insulated=False)) == 0.0


def test_a_wall_left_out_has_its_area_and_empty_cells_for_what_nobody_knows():
    row = walls_by_id()["WALL-L"]
    assert row["gross_area_m2"] == "5.76"
    unknown = [
        "stud_depth_m",
        "opening_area_m2",
        "framing_area_m2",
        "cavity_area_m2",
        "cavity_volume_m3",
        "framing_fraction",
    ]
    assert {row[name] for name in (*unknown, "framing_source", "balance_residual", "insulated_area_m2")} == {""}
    assert (row["status"], row["reason"]) == ("left_out", "no stud layer among its layers")


def test_a_wall_that_could_not_be_measured_has_no_zeros():
    row = walls_by_id()["WALL-F"]
    assert {row[name] for name in ("length_m", "height_m", "gross_area_m2", "cavities")} == {""}


def test_nobody_is_told_that_a_wall_is_inside_where_nothing_says_so():
    silent = left_out_wall()
    silent = replace(silent, wall=replace(silent.wall, external_reason="", insulated_reason=""))
    row = frame(WALLS, [silent]).iloc[0]
    assert pandas.isna(row["external"])
    assert pandas.isna(row["insulated"])


def test_every_wall_has_a_row():
    assert set(walls_by_id()) == {result.wall.wall_id for result in house()}


def test_a_wall_counts_as_laid_out_as_soon_as_one_stud_layer_is():
    mixed = plain_wall(source=Source.MODELLED)
    pair = type(mixed)(mixed.wall, (*mixed.layers, *plain_wall().layers), mixed.status, "")
    rows = frame(WALLS, [mixed, pair])
    assert list(rows["framing_source"]) == ["modelled", "laid_out"]


def test_cavities_carry_their_box_outline_and_depth():
    row = frame(CAVITIES, cavity_rows([plain_wall()])).iloc[0]
    assert (row["x_min_m"], row["x_max_m"], row["z_min_m"], row["z_max_m"]) == (0.05, 1.395, 0.05, 2.35)
    outline = shapely.from_wkt(row["outline_wkt"])
    assert outline.equals(box(0.05, 0.05, 1.395, 2.35))
    assert row["depth_m"] == 0.1
    assert row["open_area_m2"] == row["area_m2"] == pytest.approx(outline.area, rel=1e-9)
    assert row["obstructions"] == "PIPE"


def test_slivers_stand_in_the_cavity_table_told_apart_by_kind():
    rows = frame(CAVITIES, cavity_rows([plain_wall()]))
    assert list(rows["kind"]) == ["full_height_bay", "bay_over_header", "sliver"]
    assert list(rows["method"]) == ["blow", "batt", "seal"]


def test_a_closed_pocket_has_no_open_area():
    pocket = cavity_rows([_with_pocket()])[0]
    assert pocket.open_area == 0.0


def _with_pocket():
    wall = plain_wall()
    layer = wall.layers[0]
    closed = replace(layer.cavities[0], front=shapely.Polygon())
    return replace(wall, layers=(replace(layer, cavities=(closed,)),))


def test_members_carry_their_section_whatever_way_they_lie():
    rows = frame(MEMBERS, member_rows([plain_wall()]))
    plate = rows.iloc[0]
    assert (plate["thickness_m"], plate["width_m"], plate["length_m"]) == (0.05, 0.1, 1.4)
    assert plate["volume_m3"] == pytest.approx(0.05 * 0.1 * 1.4, rel=1e-9)
    pipe = rows.iloc[3]
    assert (pipe["thickness_m"], pipe["width_m"], pipe["length_m"]) == pytest.approx((0.02, 0.04, 0.06), rel=1e-9)
    assert (plate["role"], pipe["role"]) == ("bottom_plate", "obstruction")


@pytest.mark.parametrize("degrees", [0.0, 12.5, 45.0, 80.0])
def test_the_section_of_a_raked_member_is_that_of_the_same_member_upright(degrees):
    upright = box(0.0, 0.0, 0.05, 2.0)
    layer = plain_wall().layers[0]
    raked = member(1, MemberRole.BRACE, rotate(upright, degrees), "WALL-A")
    wall = replace(plain_wall(), layers=(replace(layer, frame=replace(layer.frame, members=(raked,))),))
    row = member_rows([wall])[0]
    assert row.sizes == pytest.approx((0.05, 0.1, 2.0), rel=1e-9)


def test_the_section_of_a_raked_mesh_is_found_along_its_own_axes():
    mesh = extruded(rotate(box(0.0, 0.0, 0.05, 2.0), 30.0), 0.0, 0.1)
    assert mesh_sizes(mesh) == pytest.approx((0.05, 0.1, 2.0), rel=1e-6)


def test_openings_carry_their_size_and_evidence():
    row = frame(OPENINGS, opening_rows([plain_wall()])).iloc[0]
    assert (row["width_m"], row["height_m"], row["area_m2"]) == pytest.approx((1.0, 2.0, 2.0), rel=1e-12)
    assert row["evidence"] == "opening element"
    assert not row["recess"]


def test_the_stud_layer_table_gives_each_layer_of_a_double_wall():
    rows = frame(STUD_LAYERS, layer_rows([double_wall()]))
    assert list(rows["layer_key"]) == ["WALL-D", "WALL-D#2"]
    assert list(rows["depth_m"]) == [0.1, 0.1]


def test_the_build_up_runs_from_the_fill_side_into_the_wall():
    rows = frame(BUILD_UP, build_up_rows([plain_wall()]))
    assert list(rows["role"]) == ["lining", "stud_layer", "sheathing"]
    assert list(rows["position"]) == [1, 2, 3]


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_the_frame_and_the_csv_file_agree(table):
    findings = failed_wall().findings
    plan = plan_fill(house())
    filled = filled_tables(house(), findings, plan, plan_preparations(plan))[table.name]
    assert filled.records
    values = frame(table, filled.records)
    rows = list(csv.DictReader(io.StringIO(csv_text(table, filled.columns))))
    assert len(rows) == len(values)
    for column in table.columns:
        assert str(values[column.name].dtype) == FRAME_TYPES[column.kind]
        read = [_AS_READ[column.kind](row[column.name]) for row in rows]
        held = [None if pandas.isna(value) else value for value in values[column.name]]
        assert read == held, column.name


_AS_READ = {
    Kind.TEXT: str,
    Kind.NUMBER: lambda cell: float(cell) if cell else None,
    Kind.COUNT: lambda cell: int(cell) if cell else None,
    Kind.TRUTH: lambda cell: {"": None, "true": True, "false": False}[cell],
}


def test_frames_of_nothing_keep_their_columns_and_types():
    for name, filled in filled_tables((), (), plan_fill(())).items():
        empty = frame(filled.table, filled.records)
        assert len(empty) == 0, name
        assert tuple(empty.columns) == filled.table.column_names
        assert csv_text(filled.table, filled.columns).count("\n") == 1


def test_numbers_are_written_without_the_noise_of_floats():
    assert tidy_number(0.1 + 0.2) == 0.3
    assert tidy_number(-1e-15) == 0.0
    assert math.copysign(1.0, tidy_number(-1e-15) or 0.0) == 1.0
    assert tidy_number(math.nan) is None
    assert tidy_number(math.inf) is None
    assert tidy_number(4_500_000.123456) == 4_500_000.12346


def test_names_with_commas_quotes_and_line_breaks_survive_the_csv_file():
    name = 'Wall "A", 2x6\nnorth'
    table = csv_text(WALLS, column_texts(WALLS, [plain_wall(name=name)]))
    row = next(csv.DictReader(io.StringIO(table)))
    assert row["name"] == 'Wall "A", 2x6 north'


def test_json_rows_hold_unknown_numbers_as_null():
    row = json.loads("{" + json_rows(WALLS, column_texts(WALLS, [left_out_wall()]))[0] + "}")
    assert tuple(row) == WALLS.column_names
    assert row["stud_depth_m"] is None
    assert row["external"] is False
    assert row["gross_area_m2"] == 5.76


def test_a_prism_member_needs_no_mesh():
    assert isinstance(plain_wall().layers[0].frame.members[0].solid, Prism)
