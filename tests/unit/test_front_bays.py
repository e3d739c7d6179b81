"""Cavities whose front is parted by studs at the fill face: every bay has holes of its own.

That the crew cuts holes in each bay between the front studs of a double-stud wall is common practice, no published
source.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box

from geometry.reach import Reach
from takeoff.front_bays import place_holes_by_bays
from takeoff.hole_positions import HoleRule, Placement, place_holes
from takeoff.hole_rows import RowWish
from takeoff.job import default_job, hose_settings
from takeoff.model import Method
from takeoff.pipeline import take_off
from tests.ifc_builder import Builder

RULE = HoleRule(Reach(sideways=0.6, down=1.5, up=0.3), 0.05, 0.999, RowWish(1.2, 2.2))


def holes_in(placement: Placement, part: Polygon) -> int:
    return int(shapely.contains_xy(part, placement.points).sum())


def placed(outline: Polygon, front: Polygon | MultiPolygon) -> Placement:
    (placement,) = place_holes_by_bays([outline], [front], RULE)
    assert placement.points.tolist() == sorted(placement.points.tolist(), key=lambda point: (point[1], point[0]))
    assert len(placement.reaches) == len(placement.points)
    return placement


def test_two_bays_before_one_cavity_have_a_column_each_in_their_middle() -> None:
    parts = [box(0.0, 0.0, 0.5, 2.4), box(0.54, 0.0, 1.04, 2.4)]
    found = placed(box(0.0, 0.0, 1.04, 2.4), MultiPolygon(parts))
    assert found.points[:, 0].tolist() == pytest.approx([0.25, 0.79, 0.25, 0.79], abs=0.011)
    assert [holes_in(found, part) for part in parts] == [2, 2]
    assert (found.share, found.lower_bound) == (1.0, 4)
    # By the cavity alone one column of holes, 0.6 m to either side, would have been enough.
    assert (
        len(place_holes(*(np.array([each], dtype=object) for each in (box(0, 0, 1.04, 2.4),) * 2), RULE)[0].points) == 2
    )


def test_no_hole_is_cut_before_what_stands_close_behind_while_there_is_room_beside_it() -> None:
    outline, parts = box(0.0, 0.0, 1.04, 2.4), [box(0.0, 0.0, 0.5, 2.4), box(0.54, 0.0, 1.04, 2.4)]
    for close in (box(0.23, 0.0, 0.27, 2.4), box(0.05, 0.0, 0.45, 2.4)):
        (found,) = place_holes_by_bays([outline], [MultiPolygon(parts)], RULE, close)
        left = found.points[found.points[:, 0] < 0.52, 0]
        room = 0.23 - RULE.clearance  # beside the narrow one; beside the wide one there is none
        assert (left <= room + 1e-9).all() | (left >= 0.27 + RULE.clearance - 1e-9).all() | (close.area > 0.9)
        assert len(left) >= 2


def test_holes_of_a_bay_that_crowd_each_other_are_thinned_and_each_bay_has_its_own_lowest_hole() -> None:
    # A board across the foot of the right bay leaves an eyelet below it.
    parts = [box(0.0, 0.0, 0.5, 2.4), box(0.54, 0.0, 1.04, 0.3), box(0.54, 0.34, 1.04, 2.4)]
    found = placed(box(0.0, 0.0, 1.04, 2.4), MultiPolygon(parts))
    assert found.bays == tuple(int(x > 0.52) for x in found.points[:, 0])
    for bay in (0, 1):
        own = found.points[np.array(found.bays) == bay]
        apart = shapely.distance(shapely.points(own)[:, None], shapely.points(own)[None])
        assert (apart[~np.eye(len(own), dtype=bool)] > 2.0 * RULE.clearance).all()


def test_parts_of_a_front_above_each_other_are_one_bay_and_a_crack_is_none() -> None:
    outline = box(0.0, 0.0, 0.4, 2.4)
    blocked = MultiPolygon([box(0.0, 0.0, 0.4, 1.1), box(0.0, 1.14, 0.4, 2.4)])
    cracked = MultiPolygon([box(0.0, 0.0, 0.34, 2.4), box(0.38, 0.0, 0.4, 2.4)])
    for front in (blocked, cracked):
        as_one = place_holes(np.array([outline], dtype=object), np.array([front], dtype=object), RULE)[0]
        assert placed(outline, front).points.tolist() == as_one.points.tolist()


def test_what_the_bays_do_not_reach_by_themselves_is_reached_from_the_cavity_as_before() -> None:
    # The right bay is open at its foot only, and a hole reaches no more than 0.3 m up: what is above it is reached from
    # the left bay, and farther from its right side than from its middle.
    outline = box(0.0, 0.0, 1.6, 2.4)
    parts = [box(0.0, 0.0, 0.4, 2.4), box(1.2, 0.0, 1.6, 0.5)]
    found = placed(outline, MultiPolygon(parts))
    assert holes_in(found, parts[1]) >= 1
    alone = place_holes(np.array([outline], dtype=object), np.array([MultiPolygon(parts)], dtype=object), RULE)[0]
    assert found.share >= alone.share - 1e-9
    assert 0.5 < found.share < RULE.share
    assert found.points[:, 0].max() > 1.25
    assert holes_in(found, box(0.3, 0.0, 0.4, 2.4)) >= 1


@st.composite
def parted(draw: st.DrawFn) -> tuple[Polygon, list[Polygon]]:
    """A rectangle before which studs stand that leave bays of any width."""
    height, x, parts = draw(st.integers(600, 3000)) / 1000.0, 0.0, []
    for width in draw(st.lists(st.integers(30, 700), min_size=1, max_size=5)):
        parts.append(box(x, 0.0, x + width / 1000.0, height))
        x += width / 1000.0 + 0.038
    return box(0.0, 0.0, x - 0.038, height), parts


@settings(max_examples=40, deadline=None)
@given(parted())
def test_every_bay_that_a_hole_fits_into_has_one_and_nothing_is_reached_less(
    case: tuple[Polygon, list[Polygon]],
) -> None:
    outline, parts = case
    front = parts[0] if len(parts) == 1 else MultiPolygon(parts)
    found = placed(outline, front)
    wide = [part for part in parts if part.bounds[2] - part.bounds[0] > 2.0 * RULE.clearance + 1e-9]
    assert all(holes_in(found, part) >= 1 for part in wide)
    alone = place_holes(np.array([outline], dtype=object), np.array([front], dtype=object), RULE)[0]
    assert found.share >= min(alone.share, RULE.share) - 1e-9
    union = shapely.union_all(list(found.reaches)) if found.reaches else Polygon()
    assert found.share == pytest.approx(min(union.area / outline.area, 1.0), abs=1e-9)


@pytest.mark.parametrize(("preset", "depth"), [("double-stud", 0.241), ("staggered-stud", 0.14)])
def test_every_front_bay_of_a_wall_with_two_rows_of_studs_has_a_hole(preset, depth, tmp_path) -> None:
    model = Builder()
    layers = (("Gypsum board", 0.0125), ("Wood studs", depth), ("OSB sheathing", 0.012))
    wall = model.wall("Plain", length=4.0, height=2.7, thickness=depth + 0.0245, layers=layers)
    model.opening(wall, x=1.5, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    job = tmp_path / "job.toml"
    job.write_text(f'[framing]\nwood = "{preset}"\n[insulate]\nwalls = "all"\n', encoding="utf-8")
    result = take_off(model.save(tmp_path / "wall.ifc"), job)
    clearance = hose_settings(default_job()).clearance
    bays = 0
    for cavity in result.results[0].layers[0].cavities:
        if cavity.method is Method.BLOW and isinstance(cavity.front, MultiPolygon):
            points = np.array([(hole.x, hole.z) for hole in result.fill.holes if hole.cavity_id == cavity.cavity_id])
            full = [part for part in cavity.front.geoms if part.bounds[3] - part.bounds[1] > 2.4]
            for part in full:
                if part.bounds[2] - part.bounds[0] > 2.0 * clearance:
                    bays += 1
                    assert shapely.contains_xy(part, points).sum() >= 2, part.bounds
    assert bays >= 4
    rear = [member for member in result.results[0].layers[0].frame.members if 0.001 < member.solid.y_min < 0.076]
    assert (preset == "double-stud") or len(rear) > 4
    assert not any(
        shapely.contains_xy(member.solid.outline, hole.x, hole.z) for member in rear for hole in result.fill.holes
    )
    assert all(fill.reached_share >= 0.999 for fill in result.fill.cavities if fill.method is Method.BLOW)
