"""What crews do, which the fill plan must arrive at by itself.

Numbers of holes: common practice, no published source. Heights of bays: precut studs of 92-5/8, 104-5/8 and 116-5/8 in
(the published lengths for 8, 9 and 10 ft walls, source read: see /work/shared/check-values.md section 5), and nominal
wall heights less three plates of 1-1/2 in.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from geometry.frames import Axes
from takeoff.fill import Pass, plan_layer
from takeoff.fill_place import FillPlace
from takeoff.hose import LONG_HOSE, SHORT_HOSE
from takeoff.model import Cavity, CavityKind, Method

INCH = 0.0254
PLATE = 1.5 * INCH
DEPTH = 5.5 * INCH
PLACE = FillPlace("wall", "wall", Axes(np.zeros(3), np.eye(3)))

PRECUT = {8: 92.625 * INCH, 9: 104.625 * INCH, 10: 116.625 * INCH}
NOMINAL = {feet: feet * 12 * INCH - 3 * PLATE for feet in (2, 3, 4, 8, 9, 10)}


def plan_of_bay(height, hose, width=14.5 * INCH):
    outline = box(0.0, PLATE, width, PLATE + height)
    bay = Cavity(
        cavity_id="wall/c01",
        wall_id="wall",
        layer_key="wall",
        storey="",
        room="",
        kind=CavityKind.FULL_HEIGHT,
        method=Method.BLOW,
        reason="",
        outline=outline,
        y_min=0.0,
        y_max=DEPTH,
        area=outline.area,
        volume=outline.area * DEPTH,
        clear_width=width,
        centroid=(0.0, 0.0, 0.0),
        front=outline,
    )
    return plan_layer([bay], PLACE, hose)


@pytest.mark.parametrize("insertion", [24 * INCH, 30 * INCH, 36 * INCH])
@pytest.mark.parametrize("diameter", [3 * INCH, 4 * INCH])
@pytest.mark.parametrize("height", [PRECUT[8], NOMINAL[8]])
@pytest.mark.parametrize("width", [14.5 * INCH, 22.5 * INCH])
def test_short_hose_takes_two_holes_in_a_bay_of_an_8_ft_wall(insertion, diameter, height, width):
    hose = replace(SHORT_HOSE, insertion=insertion, outside_diameter=diameter)
    assert len(plan_of_bay(height, hose, width).holes) == 2


@pytest.mark.parametrize("insertion", [24 * INCH, 30 * INCH, 36 * INCH])
@pytest.mark.parametrize("height", [NOMINAL[2], NOMINAL[3], NOMINAL[4], 48 * INCH])
def test_short_hose_takes_one_hole_in_a_wall_of_4_ft_or_less(insertion, height):
    assert len(plan_of_bay(height, replace(SHORT_HOSE, insertion=insertion)).holes) == 1


@pytest.mark.parametrize("height", [PRECUT[8], NOMINAL[8]])
def test_long_hose_takes_one_hole_in_an_8_ft_wall_and_it_is_cut_standing(height):
    (hole,) = plan_of_bay(height, LONG_HOSE).holes
    assert not hole.ladder
    assert hole.fill_pass is Pass.LOWER


@pytest.mark.parametrize("height", [PRECUT[9], NOMINAL[9], PRECUT[10], NOMINAL[10]])
def test_long_hose_takes_a_second_hole_near_the_top_in_9_and_10_ft_walls(height):
    lower, upper = plan_of_bay(height, LONG_HOSE).holes
    assert lower.fill_pass is Pass.LOWER
    assert upper.fill_pass is Pass.UPPER
    assert PLATE + height - upper.z <= 18.5 * INCH
    assert not lower.ladder


@pytest.mark.parametrize("height", [PRECUT[9], PRECUT[10]])
def test_the_upper_hole_of_a_9_or_10_ft_wall_is_filled_from_a_ladder_or_stilts(height):
    for hose in (SHORT_HOSE, LONG_HOSE):
        assert plan_of_bay(height, hose).holes[-1].ladder


def test_the_lower_row_lies_between_waist_and_head():
    for hose in (SHORT_HOSE, LONG_HOSE):
        for height in PRECUT.values():
            assert 0.9 <= plan_of_bay(height, hose).holes[0].height <= 2.0


def test_a_short_hose_is_inserted_2_to_3_ft_and_is_3_or_4_in_wide():
    assert 24 * INCH <= SHORT_HOSE.insertion <= 36 * INCH
    assert 3 * INCH <= SHORT_HOSE.outside_diameter <= 4 * INCH


def test_the_slit_lets_the_hose_through():
    # Two lips of the slit stretch round the hose: twice its length is the circumference (own arithmetic).
    assert 2 * SHORT_HOSE.cut == pytest.approx(np.pi * SHORT_HOSE.outside_diameter)
