"""Netting laid out from rolls: strips by hand, rolls packed exactly, the plain method by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely import box

from takeoff import netting_layout
from takeoff.netting_layout import lay_netting, plain_layout
from takeoff.netting_rolls import fewest_rolls
from takeoff.netting_strips import PIECE_WORTH, Cover, Face, Roll, WallStrips

PLAIN = Cover(lap=0.0, edge=0.0)
REAL = Cover(lap=0.05, edge=0.025)
STUDS = tuple(np.arange(0.4, 8.0, 0.4).round(3).tolist())


def face(outline, key: str = "W", studs=STUDS) -> Face:
    return Face(key, outline, studs)


# ---------------------------------------------------------------- strips


def test_a_wall_as_high_as_the_roll_is_wide_takes_one_run():
    layout = lay_netting([face(box(0, 0, 6, 2.4))], [Roll("r", 2.4, 50.0)], PLAIN)
    (strip,) = layout.strips
    assert (strip.way, strip.length, strip.width) == ("run", pytest.approx(6.0), pytest.approx(2.4))
    assert layout.used_area == pytest.approx(layout.net_area) == pytest.approx(14.4)
    assert layout.counts == (1,)


def test_edges_and_laps_make_a_strip_longer_and_wider():
    # 2.4 m high from rolls of 1.5 m: two runs lap by 50 mm; 25 mm hang over at every outer edge.
    layout = lay_netting([face(box(0, 0, 6, 2.4), studs=())], [Roll("r", 1.5, 50.0)], REAL)
    assert [strip.way for strip in layout.strips] == ["run", "run"]
    assert sum(strip.width for strip in layout.strips) == pytest.approx(2.4 + 2 * 0.025 + 0.05)
    assert {round(strip.length, 6) for strip in layout.strips} == {6.05}


def test_drops_are_taken_where_they_take_less_and_are_seamed_at_studs():
    # 3.2 m high, 3.2 m wide, rolls of 1.6 m: two runs or two drops take the same; 3.3 m high, runs would take three.
    layout = lay_netting([face(box(0, 0, 3.2, 3.3))], [Roll("r", 1.6, 50.0)], PLAIN)
    assert [strip.way for strip in layout.strips] == ["drop", "drop"]
    assert layout.strips[0].high in STUDS
    assert layout.used_area == pytest.approx(2 * 1.6 * 3.3)


def test_an_opening_as_wide_as_a_strip_is_left_out():
    wall = shapely.difference(box(0, 0, 6, 2.4), box(2, 0, 4, 2.0))
    layout = lay_netting([face(wall, studs=())], [Roll("r", 1.2, 50.0)], PLAIN)
    # Runs of 1.2 m: the lower one in two pieces of 2 m beside the opening, the upper one through; a seam at 2.0 would
    # take a third strip.
    assert sorted(round(strip.length, 6) for strip in layout.strips) == [2.0, 2.0, 6.0]


def test_a_gap_too_short_to_be_worth_a_cut_is_netted_over():
    wall = shapely.difference(box(0, 0, 6, 2.4), box(2, 0, 2.2, 2.4))
    layout = lay_netting([face(wall, studs=())], [Roll("r", 2.4, 50.0)], PLAIN)
    assert [round(strip.length, 6) for strip in layout.strips] == [6.0]


def test_narrow_strips_lie_side_by_side_in_one_cut():
    walls = [face(box(0, 0, 5, 0.6), f"W{n}", ()) for n in range(3)]
    layout = lay_netting(walls, [Roll("r", 1.2, 50.0)], PLAIN)
    assert len(layout.strips) == 3
    assert layout.used_area == pytest.approx(2 * 5 * 1.2)  # two side by side, one alone


def test_a_run_longer_than_the_roll_is_pieced_with_a_lap():
    layout = lay_netting([face(box(0, 0, 25, 2.4), studs=())], [Roll("r", 2.5, 10.0)], REAL)
    assert len(layout.strips) == 3
    assert sum(strip.length for strip in layout.strips) == pytest.approx(25 + 2 * 0.025 + 2 * 0.05)
    assert max(strip.length for strip in layout.strips) <= 10.0


def test_a_wall_that_no_roll_covers_is_told():
    layout = lay_netting([face(box(0, 0, 6, 2.4))], [], PLAIN)
    assert layout.failed == ("W",)
    assert layout.strips == ()


def test_net_area_of_the_strips_is_the_wall_less_its_openings():
    gable = shapely.Polygon([(0, 0), (7, 0), (7, 2.4), (3.5, 4.15), (0, 2.4)]).difference(box(1, 0.9, 2.2, 2.1))
    layout = lay_netting([face(gable)], [Roll("a", 1.5, 50.0), Roll("b", 2.6, 50.0)], REAL)
    assert layout.net_area == pytest.approx(gable.area)
    assert layout.used_area > gable.area


def test_the_same_walls_give_the_same_layout():
    walls = [face(box(0, 0, 5 + n / 7, 2.5), f"W{n}") for n in range(5)]
    rolls = [Roll("a", 1.5, 50.0), Roll("b", 2.6, 30.0)]
    assert lay_netting(walls, rolls, REAL).strips == lay_netting(walls, rolls, REAL).strips


def test_what_an_opening_leaves_serves_a_smaller_strip():
    # A run of 2.4 x 6 m over a window of 1.5 x 1.2 m; a low wall of 1 x 1.4 m comes out of the window, turned or not.
    wall = shapely.difference(box(0, 0, 6, 2.4), box(2, 0.9, 3.5, 2.1))
    layout = lay_netting([face(wall, "A", ()), face(box(0, 0, 1.4, 1.0), "B", ())], [Roll("r", 2.4, 50.0)], PLAIN)
    assert layout.used_area == pytest.approx(6 * 2.4)
    assert {strip.place.cut for strip in layout.strips} == {0}


def test_what_is_left_behind_a_short_strip_serves_another():
    walls = [face(box(0, 0, 5, 0.8), "A", ()), face(box(0, 0, 2, 0.4), "B", ()), face(box(0, 0, 3, 0.4), "C", ())]
    layout = lay_netting(walls, [Roll("r", 1.2, 50.0)], PLAIN)
    assert layout.used_area == pytest.approx(5 * 1.2)


def test_a_low_band_over_whole_courses_is_hung_as_drops():
    # 2.25 m high and 12 m long from rolls of 1.5 m, studs every 0.4 m, worked by hand. One course covers 1.475 m
    # (an edge of 25 mm at the floor). Two courses would take 2 x 12.05 m of roll = 36.15 m2; drops from floor to top
    # cover three bays each, 1.2 m: 10 x 2.30 m x 1.5 m = 34.5 m2. Over the course 0.775 m are left: 10 drops of
    # 0.775 + 0.05 lap + 0.025 edge = 0.85 m. In all 12.05 + 10 x 0.85 = 20.55 m of roll.
    wall = face(box(0, 0, 12, 2.25), studs=tuple(np.arange(0.4, 11.9, 0.4).round(3).tolist()))
    layout = lay_netting([wall], [Roll("r", 1.5, 50.0)], REAL)
    ways = [strip.way for strip in layout.strips]
    assert (ways.count("run"), ways.count("drop")) == (1, 10)
    assert {(strip.start, strip.stop) for strip in layout.strips if strip.way == "drop"} == {(1.475, 2.25)}
    assert {round(strip.length, 6) for strip in layout.strips} == {12.05, 0.85}
    assert {strip.high for strip in layout.strips if strip.way == "drop"} <= {*wall.studs, 12.0}
    assert layout.used_area == pytest.approx(20.55 * 1.5)


def test_a_strip_that_ends_at_a_sill_or_head_has_its_edge_there():
    # A window over the whole length but for 0.4 m at each end: the strips below and above end at sill and head.
    wall = shapely.difference(box(0, 0, 6, 2.4), box(0.4, 0.9, 5.6, 2.1))
    runs = WallStrips(face(wall, studs=()), REAL).ways([Roll("r", 1.25, 50.0)], (0,), whole=False)[0]
    below = next(strip for strip in runs if strip.high == 0.9)
    above = next(strip for strip in runs if strip.low == 2.1)
    assert below.width == pytest.approx(0.9 + 2 * 0.025)
    assert above.width == pytest.approx(0.3 + 0.05 + 0.025)


def test_a_run_longer_than_the_roll_is_joined_at_studs():
    studs = tuple(np.arange(0.6, 24.9, 0.6).round(3).tolist())
    layout = lay_netting([face(box(0, 0, 25, 2.4), studs=studs)], [Roll("r", 2.5, 10.0)], REAL)
    joins = [strip.stop for strip in layout.strips if strip.way == "run"][:-1]
    assert joins
    assert set(joins) <= set(studs)
    assert max(strip.length for strip in layout.strips) <= 10.0


def test_exchanging_the_way_of_single_walls_takes_less(monkeypatch):
    # By themselves, all walls are hung alike: a third run of 0.45 m of each. Two of these fit side by side in 1.2 m, so
    # that the third stands alone in its cut; the job takes less if one wall is hung another way.
    studs = tuple(np.arange(0.6, 6.0, 0.6).round(3).tolist())
    walls = [face(box(0, 0, length, 2.7), f"W{length}", studs) for length in (6.0, 4.0, 3.0)]
    rolls = [Roll("a", 1.2, 50.0), Roll("b", 1.8, 50.0)]
    layout = lay_netting(walls, rolls, REAL)
    monkeypatch.setattr(netting_layout, "MOST_WORK", 0)
    alike = lay_netting(walls, rolls, REAL)
    assert layout.used_area + PIECE_WORTH * len(layout.strips) < alike.used_area + PIECE_WORTH * len(alike.strips)
    assert layout.ordered_area <= alike.ordered_area


# ---------------------------------------------------------------- the plain method


def test_the_plain_method_by_hand():
    # Walls of 6 x 2.4 m with a window and 4 x 2.6 m, laps 50 mm, edges 25 mm. Rolls of 1.5 m: two courses each, for
    # 2 x 1.5 - 0.05 - 2 x 0.025 = 2.9 m of height: 2 x (6.05 + 4.05) x 1.5 = 30.3 m2. Rolls of 2.65 m: 2.65 m need
    # one course, so 10.1 x 2.65 = 26.765 m2, one roll of 20 m. The window is netted over.
    walls = [face(shapely.difference(box(0, 0, 6, 2.4), box(2, 0.9, 4, 2.1)), "A"), face(box(0, 0, 4, 2.6), "B")]
    rolls = [Roll("a", 1.5, 30.0), Roll("b", 2.65, 20.0)]
    plain = plain_layout(walls, rolls, REAL)
    assert plain is not None
    assert plain.used == pytest.approx((0.0, 26.765))
    assert plain.counts == (0, 1)
    assert plain.net_area == pytest.approx(6 * 2.4 - 2 * 1.2 + 4 * 2.6)
    narrow = plain_layout(walls, rolls[:1], REAL)
    assert narrow is not None
    assert narrow.used_area == pytest.approx(30.3)
    assert narrow.counts == (1,)


def test_there_is_no_plain_method_without_a_roll_that_covers_every_wall():
    assert plain_layout([face(box(0, 0, 6, 2.4))], [], REAL) is None
    assert plain_layout([face(box(0, 0, 6, 2.4))], [Roll("r", 0.08, 50.0)], REAL) is None
    assert plain_layout([], [Roll("r", 1.5, 50.0)], REAL) is None


# ---------------------------------------------------------------- rolls


@pytest.mark.parametrize(
    ("lengths", "roll", "rolls"),
    [
        ([], 10.0, 0),
        ([10.0], 10.0, 1),
        ([6.0, 4.0, 5.0, 5.0], 10.0, 2),
        ([6.0, 6.0, 6.0], 10.0, 3),
        ([4.0, 4.0, 4.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0], 10.0, 3),  # longest first would take four
    ],
)
def test_rolls_of_small_cases_are_the_fewest(lengths, roll, rolls):
    packing = fewest_rolls(lengths, roll)
    assert (packing.rolls, packing.proved) == (rolls, True)


def test_a_piece_longer_than_the_roll_is_refused():
    with pytest.raises(ValueError, match="longer than the roll"):
        fewest_rolls([11.0], 10.0)


def test_rolls_of_a_thousand_pieces_are_packed_in_a_moment_and_close_to_the_sum():
    random = np.random.default_rng(3)
    lengths = random.uniform(2.0, 9.0, 3000).tolist()
    packing = fewest_rolls(lengths, 50.0)
    assert packing.rolls <= 1.02 * sum(lengths) / 50.0 + 1
    assert np.bincount(packing.roll_of, weights=lengths).max() <= 50.0 + 1e-6


def fewest_by_solver(lengths: list[float], roll: float) -> int:
    """The same question as an integer programme for scipy's solver: an oracle from outside."""
    n = len(lengths)
    cost = np.concatenate([np.zeros(n * n), np.ones(n)])
    once = np.zeros((n, n * n + n))
    for i in range(n):
        once[i, i * n : (i + 1) * n] = 1.0
    room = np.zeros((n, n * n + n))
    for j in range(n):
        room[j, j : n * n : n] = lengths
        room[j, n * n + j] = -roll
    found = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0, 1),
        constraints=[LinearConstraint(once, 1, 1), LinearConstraint(room, -np.inf, 1e-9)],
    )
    assert found.success
    return round(found.fun)


@pytest.mark.parametrize("seed", range(12))
def test_rolls_are_as_few_as_an_outside_solver_finds(seed):
    random = np.random.default_rng(seed)
    lengths = random.uniform(1.5, 7.0, 9).round(2).tolist()
    packing = fewest_rolls(lengths, 10.0)
    assert packing.proved
    assert packing.rolls == fewest_by_solver(lengths, 10.0)
    filled = np.bincount(packing.roll_of, weights=lengths)
    assert filled.max() <= 10.0 + 1e-9
