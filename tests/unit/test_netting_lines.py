"""Lines that hold the netting, and what the truck carries, on walls that can be added up by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from shapely import box

from takeoff.density import mean_depth
from takeoff.fill import plan_fill
from takeoff.job import default_job, read_job
from takeoff.model import LayerTakeoff, Member, MemberRole, Method
from takeoff.netting_lines import netting_lines
from takeoff.schedule import staples_along
from takeoff.truck_load import batt_pieces, density_table, job_masses, netted_layers, truck_load
from takeoff.units import FOOT, INCH
from tests.records_builder import cavity, layer_takeoff, left_out_wall, member, plain_wall

KEY = "WALL-A"


def layer_of(*members: Member, **frame: object) -> LayerTakeoff:
    """The plain wall's layer (2.4 x 2.4 m, door from x = 1.4 to the end, 2 m high) with these members."""
    layer = layer_takeoff(KEY)
    return replace(layer, frame=replace(layer.frame, members=members, **frame))


def upright(number: int, x0: float, x1: float, top: float = 2.35, role: MemberRole = MemberRole.STUD) -> Member:
    return member(number, role, box(x0, 0.05, x1, top), KEY)


# ---------------------------------------------------------------- edges


def test_edges_of_a_wall_with_a_door_add_up_by_hand():
    lines = netting_lines(layer_takeoff(KEY))
    assert lines.area == pytest.approx(2.4 * 2.4 - 1.0 * 2.0)
    assert lines.top_plate == pytest.approx(2.4)
    assert lines.bottom_plate == pytest.approx(1.4)
    assert lines.ends == pytest.approx(2.4 + 0.4)
    assert lines.openings == pytest.approx(2.0 + 1.0)
    assert lines.total == pytest.approx(lines.edge)  # its only stud stands at the end


def test_edges_are_the_whole_edge_of_the_netting():
    layer = layer_takeoff(KEY)
    outline = shapely.difference(box(0, 0, 2.4, 2.4), box(1.4, 0, 2.4, 2.0))
    assert netting_lines(layer).edge == pytest.approx(outline.length)


def test_all_sides_of_a_window_are_counted():
    layer = layer_takeoff(KEY)
    window = replace(layer.frame.openings[0], outline=box(0.8, 0.9, 1.6, 1.9))
    lines = netting_lines(layer_of(openings=(window,)))
    assert lines.openings == pytest.approx(2 * (0.8 + 1.0))
    assert (lines.bottom_plate, lines.ends) == pytest.approx((2.4, 4.8))


def test_a_recess_does_not_cut_the_netting():
    layer = layer_takeoff(KEY)
    solid = layer.frame.layer.outline
    recess = replace(layer.frame.openings[0], solid=solid)
    assert netting_lines(layer_of(openings=(recess,))).area == pytest.approx(5.76)


def test_a_raked_top_is_top_plate_and_not_an_end():
    layer = layer_of(openings=())
    gable = shapely.Polygon([(0, 0), (4, 0), (4, 2), (2, 3.5), (0, 2)])
    outline = replace(layer.frame.layer.outline, outline=gable)
    frame = replace(layer.frame, layer=replace(layer.frame.layer, outline=outline))
    lines = netting_lines(replace(layer, frame=frame))
    assert lines.top_plate == pytest.approx(5.0)  # two slopes of 2 : 1.5, each 2.5
    assert lines.ends == pytest.approx(4.0)


# ---------------------------------------------------------------- stud lines


def test_each_stud_inside_is_a_line():
    lines = netting_lines(layer_of(upright(1, 0.4, 0.45), upright(2, 0.8, 0.85)))
    assert (lines.n_stud_lines, lines.stud_lines) == (2, pytest.approx(2 * 2.30))


def test_studs_side_by_side_are_one_line():
    lines = netting_lines(layer_of(upright(1, 0.4, 0.45), upright(2, 0.45, 0.5), upright(3, 0.502, 0.552)))
    assert (lines.n_stud_lines, lines.stud_lines) == (1, pytest.approx(2.30))


def test_a_stud_along_an_edge_is_counted_with_the_edge():
    lines = netting_lines(layer_of(upright(1, 0.0, 0.05)))
    assert (lines.n_stud_lines, lines.stud_lines) == (0, 0.0)


def test_a_stud_beside_a_door_is_a_line_above_the_door_only():
    lines = netting_lines(layer_of(upright(1, 1.35, 1.4)))
    # 2.0 m of it lie along the door; 10 mm more pass as along its edge
    assert lines.stud_lines == pytest.approx(0.35, abs=0.011)


def test_a_stud_behind_the_face_holds_no_staple():
    behind = replace(upright(1, 0.4, 0.45), solid=replace(upright(1, 0.4, 0.45).solid, y_min=0.06))
    assert netting_lines(layer_of(behind)).n_stud_lines == 0


def test_plates_and_blocking_are_no_stud_lines():
    block = member(1, MemberRole.BLOCKING, box(0.4, 1.2, 0.8, 1.25), KEY)
    assert netting_lines(layer_of(block)).n_stud_lines == 0


# ---------------------------------------------------------------- staples


def test_staples_stand_an_inch_and_a_half_to_two_inches_apart():
    # common practice, no published source
    assert 6 <= staples_along(12 * INCH, 12 * INCH, False, default_job()) <= 8
    assert staples_along(0.0, 0.0, False, default_job()) == 0


def test_glued_netting_is_stapled_along_the_top_plate_every_two_feet():
    # common practice, no published source: an 8 ft wall takes 5, one at each end and every 2 ft between
    assert staples_along(100.0, 8 * FOOT, True, default_job()) == 5


def test_another_spacing_is_kept():
    job = read_job('[netting]\nstaple_spacing = "50 mm"\n', "job.toml")
    assert staples_along(1.0, 1.0, False, job) == 20


# ---------------------------------------------------------------- the load


def test_fibre_is_volume_times_the_density_of_the_job():
    wall = plain_wall()
    plan = plan_fill([wall])
    load = truck_load(plan, [wall], default_job())
    blown = sum(fill.blown_volume for fill in plan.cavities)
    assert blown > 0.0
    assert load.fibre_volume == pytest.approx(blown)
    assert load.fibre_mass == pytest.approx(blown * default_job().fibre.density)


def test_fibre_follows_the_depths_of_the_coverage_chart():
    steps = '{depth_to = "95 mm", density = "40 kg/m3"}, {depth_to = "120 mm", density = "30 kg/m3"}'
    job = read_job(f"[fibre]\nby_depth = [{steps}]\n", "job.toml")
    wall = plain_wall()
    cavities = wall.layers[0].cavities
    masses = job_masses(plan_fill([wall]), cavities, job)
    assert {round(mean_depth(each), 6) for each in cavities if each.cavity_id in masses} == {0.1}
    assert {mass.density for mass in masses.values()} == {30.0}


def test_the_table_of_the_job_says_its_limits_are_an_assumption():
    (row,) = density_table(default_job())
    assert (row.low, row.high) == pytest.approx((0.9 * row.design, 1.1 * row.design))
    assert "own assumption" in row.source


def test_only_blown_layers_are_netted():
    wall = plain_wall(insulated=False)
    plan = plan_fill([wall])
    assert netted_layers(plan, [wall]) == ()
    load = truck_load(plan, [wall, left_out_wall()], default_job())
    assert (load.netting_area, load.fibre_mass, load.fastening.staples, load.batts) == (0, 0, 0, ())


def test_batts_come_together_by_width_and_depth():
    wall = plain_wall()
    (layer,) = wall.layers
    narrow = (
        cavity(1, box(0.10, 0.05, 0.14, 2.35), KEY),
        cavity(2, box(0.20, 0.05, 0.245, 1.05), KEY),
        cavity(3, box(0.30, 0.05, 0.38, 1.05), KEY),
        cavity(4, box(0.50, 0.05, 0.504, 1.05), KEY, method=Method.SEAL),
    )
    wall = replace(wall, layers=(replace(layer, cavities=narrow),))
    batts = batt_pieces(plan_fill([wall]), narrow)
    assert [(round(b.width, 6), round(b.depth, 6), b.pieces) for b in batts] == [(0.1, 0.1, 1), (0.05, 0.1, 2)]
    assert batts[1].length == pytest.approx(2.3 + 1.0)
    assert batts[1].longest == pytest.approx(2.3)


def test_a_low_wide_place_is_measured_along_its_longer_side():
    wall = plain_wall()
    (layer,) = wall.layers
    low = (cavity(1, box(0.1, 1.0, 0.9, 1.04), KEY),)
    wall = replace(wall, layers=(replace(layer, cavities=low),))
    (batt,) = batt_pieces(plan_fill([wall]), low)
    assert (batt.width, batt.length) == pytest.approx((0.05, 0.8))


def test_staples_and_lines_are_summed_over_walls():
    walls = [plain_wall("WALL-A"), plain_wall("WALL-B")]
    load = truck_load(plan_fill(walls), walls, default_job())
    one = netting_lines(walls[0].layers[0])
    assert load.fastening.stapled_length == pytest.approx(2 * one.total)
    assert load.fastening.staples == 2 * staples_along(one.total, one.top_plate, False, default_job())
    assert (load.fastening.glued_length, load.fastening.glued_top_plate) == (0.0, 0.0)
    glued = truck_load(plan_fill(walls), walls, read_job('[netting]\nfastening = "glue"\n', "job.toml")).fastening
    assert glued.glued_top_plate == pytest.approx(4.8)
    assert (glued.stapled_length, glued.glued_length) == pytest.approx((0.0, 2 * one.total))
