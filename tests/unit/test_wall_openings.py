"""What each opening element of a wall takes of a stud layer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from geometry.solids import Prism, extruded
from takeoff.finding import Severity
from takeoff.walls.wall_openings import Reach, openings_in
from tests.wall_builder import BOARD, HEIGHT, LENGTH, STUDS, THICKNESS, WORLD, box, opening, part, standing, wall

AXES = WORLD.shifted([0.0, BOARD, 0.0])
REACH = Reach(STUDS, -BOARD, THICKNESS - BOARD, (0.0, 0.0, LENGTH, HEIGHT))
WINDOW = (1.0, 0.9, 2.0, 2.1)
"""x and z of all openings here, m."""


def through(y_min: float, y_max: float, **changes):
    x0, z0, x1, z1 = WINDOW
    return opening((x0, y_min, z0, x1, y_max, z1), **changes)


def found(*openings, parts=()):
    made, findings = openings_in(wall(openings=openings), AXES, REACH, parts)
    return list(made), [finding.code for finding in findings]


@pytest.mark.parametrize(
    ("y_min", "y_max"),
    [(-1.0, 1.0), (0.0, THICKNESS), (-0.1, THICKNESS - 0.01), (0.001, 0.5), (BOARD + 0.01, BOARD + STUDS - 0.01)],
)
def test_an_opening_through_the_studs_is_a_hole(y_min, y_max):
    (hole,), codes = found(through(y_min, y_max))
    assert hole.outline.bounds == pytest.approx(WINDOW)
    assert (hole.solid, codes) == (None, [])


@pytest.mark.parametrize(
    ("y_min", "y_max"), [(-0.1, BOARD / 2), (-0.3, -0.01), (THICKNESS - 0.005, 0.5), (-0.1, 0.07), (0.1, 0.5)]
)
def test_an_opening_that_a_window_fills_is_a_hole_however_shallow(y_min, y_max):
    (hole,), codes = found(through(y_min, y_max, filling="IfcWindow"))
    assert hole.outline.bounds == pytest.approx(WINDOW)
    assert (hole.solid, hole.filling_class, codes) == (None, "IfcWindow", [])


def test_what_cuts_only_the_lining_leaves_the_studs_with_a_warning():
    made, findings = openings_in(wall(openings=(through(-0.1, BOARD / 2),)), AXES, REACH, ())
    assert made == ()
    assert [(f.code, f.severity, f.measured) for f in findings] == [
        ("opening-clear-of-studs", Severity.WARNING, pytest.approx(1.2))
    ]


def test_an_unfilled_niche_is_a_recess_of_its_own_depth():
    (niche,), codes = found(through(-0.1, 0.07))
    assert isinstance(niche.solid, Prism)
    assert (niche.solid.y_min, niche.solid.y_max) == pytest.approx((0.0, 0.07 - BOARD))
    assert codes == ["recess-in-studs"]
    assert niche.opening_id == "OPENING-1/1"


def test_what_the_model_calls_a_recess_is_one_without_a_warning():
    for filling in ("", "IfcWindow"):
        _, findings = openings_in(wall(openings=(through(-0.1, 0.07, recess=True, filling=filling),)), AXES, REACH, ())
        assert [(f.code, f.severity) for f in findings] == [("recess-in-studs", Severity.INFO)]


def test_a_recess_through_the_whole_wall_is_a_hole():
    (hole,), codes = found(through(-0.1, THICKNESS, recess=True))
    assert (hole.solid, codes) == (None, [])


def test_members_that_stay_behind_an_opening_show_that_it_is_a_niche():
    stud = part("STUD", (1.4, 0.0, 0.0, 1.44, STUDS, 2.4))
    (niche,), codes = found(through(-0.1, 0.07), parts=(stud,))
    assert niche.solid is not None
    assert codes == ["recess-in-studs"]


def test_an_opening_before_a_frame_with_a_gap_behind_it_is_a_hole():
    beside = (part("STUD", (0.9, 0.0, 0.0, 0.94, STUDS, 2.4)), part("STUD-2", (2.05, 0.0, 0.0, 2.09, STUDS, 2.4)))
    (hole,), codes = found(through(-0.1, BOARD / 2), parts=beside)
    assert (hole.solid, codes) == (None, [])


def test_boards_do_not_stay_behind_an_opening():
    sheet = part("SHEET", (0.0, STUDS, 0.0, 4.0, STUDS + 0.012, 2.4), ifc_class="IfcPlate")
    (hole,), _ = found(through(-0.1, 0.07), parts=(sheet,))
    assert hole.solid is None


def test_an_opening_of_several_solids_is_one_opening():
    two = opening((1.0, -1.0, 0.0, 2.0, 1.0, 2.0))
    two = replace(two, solids=(*two.solids, box((2.0, -1.0, 0.0, 2.5, 1.0, 1.0))))
    (hole,), _ = found(two)
    assert hole.outline.area == pytest.approx(2.5)


def test_an_opening_away_from_the_wall_is_said_and_not_deducted():
    assert found(through(2.0, 3.0)) == ([], ["opening-away-from-wall"])


def test_an_opening_beyond_the_end_is_said_and_not_deducted():
    assert found(opening((4.5, -1.0, 0.0, 5.5, 1.0, 2.1), filling="IfcDoor")) == ([], ["opening-away-from-wall"])


def test_an_opening_that_sticks_out_of_the_wall_is_cut_to_it_and_told():
    (door,), codes = found(opening((3.5, -1.0, -0.2, 4.5, 1.0, 2.1), filling="IfcDoor"))
    assert door.outline.bounds == pytest.approx((3.5, 0.0, 4.0, 2.1))
    assert codes == ["opening-clipped"]


def test_an_opening_without_a_shape_is_said():
    assert found(replace(through(-1.0, 1.0), solids=(), problem="its shape is broken"))[1] == ["opening-not-read"]


@pytest.mark.parametrize(("name", "said"), [("Opening R01", "Opening R01 "), ("hole", "Opening hole ")])
def test_an_opening_is_called_one_once(name, said):
    broken = replace(through(-1.0, 1.0), name=name, solids=(), problem="its shape is broken")
    _, (finding,) = openings_in(wall(openings=(broken,)), AXES, REACH, ())
    assert finding.message.startswith(said)


def test_a_groove_that_runs_on_round_the_corner_is_told_once():
    groove = opening((-0.5, -0.1, 1.0, 4.5, 0.005, 1.02))
    round_corner = replace(groove, solids=(*groove.solids, box((4.45, -0.1, 1.0, 4.5, 3.0, 1.02))))
    assert found(round_corner) == ([], ["opening-clear-of-studs"])


def test_splayed_reveals_count_with_their_middle():
    # 1.0 m wide at the inner face, 1.4 m at the outer: in the middle of the studs as wide as there
    plan = shapely.Polygon([(1.2, 0.0), (2.2, 0.0), (2.4, THICKNESS), (1.0, THICKNESS)])
    splayed = replace(through(0.0, THICKNESS, filling="IfcWindow"), solids=(standing(plan, 0.9, 2.1),))
    (hole,), _ = found(splayed)
    middle = 1.0 + 0.4 * (BOARD + STUDS / 2) / THICKNESS
    assert hole.outline.area == pytest.approx(middle * 1.2, rel=1e-6)


def test_a_stepped_opening_takes_all_that_is_open_at_any_depth():
    wide, narrow = box((0.9, 0.0, 0.8, 2.1, 0.08, 2.2)), box((1.0, 0.08, 0.9, 2.0, THICKNESS, 2.1))
    stepped = replace(through(0.0, THICKNESS, filling="IfcWindow"), solids=(wide, narrow))
    (hole,), _ = found(stepped)
    assert hole.outline.bounds == pytest.approx((0.9, 0.8, 2.1, 2.2))


def test_a_round_opening_keeps_its_shape():
    circle = shapely.Point(2.0, 1.5).buffer(0.4)
    (hole,), _ = found(replace(through(-1.0, 1.0), solids=(extruded(circle, -1.0, 1.0),)))
    assert hole.outline.area == pytest.approx(circle.area)
    assert np.ptp(np.array(hole.outline.exterior.coords), axis=0) == pytest.approx([0.8, 0.8])
