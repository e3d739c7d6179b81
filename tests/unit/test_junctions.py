"""Where walls meet: four walls of a plain room, partitions, crossings, storeys, and what is no meeting."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from geometry.frames import Axes
from takeoff.building import ModelConnection
from takeoff.framing.junctions import Junction, find_junctions
from takeoff.framing.layout import lay_out
from takeoff.framing.rules import preset, with_changes
from takeoff.model import Layer, LayerRole, MemberRole, StudLayer
from tests.layout_builder import boxes, outlines, prism_of, stud_layer, wall_of

DEPTH = 0.1


def placed(key: str, start: tuple[float, float], turn: float, length: float, **place: float) -> StudLayer:
    """A stud layer that starts at a point of the plan and runs at an angle (degrees); its depth lies to the left.

    place: foot, height and reach (the thickness of lining and cladding beside the studs), m.
    """
    angle = np.radians(turn)
    x = np.array([np.cos(angle), np.sin(angle), 0.0])
    axes = Axes(np.array([*start, place.get("foot", 0.0)]), np.stack([x, [-x[1], x[0], 0.0], [0.0, 0.0, 1.0]]))
    lining = place.get("lining", 0.0)
    layers = (
        Layer("board", "", lining, LayerRole.LINING, "", -lining, 0.0),
        Layer("wood", "", DEPTH, LayerRole.STUD, "", 0.0, DEPTH),
        Layer("board", "", lining, LayerRole.SHEATHING, "", DEPTH, DEPTH + lining),
    )
    outline = box(0, 0, length, place.get("height", 2.5))
    return stud_layer(outline, depth=DEPTH, key=key, axes=axes, layers=layers if lining else ())


def met(*layers: StudLayer, connections: tuple[ModelConnection, ...] = ()) -> dict[str, tuple[Junction, ...]]:
    return dict(find_junctions([wall_of(layer) for layer in layers], connections))


def test_wall_that_runs_to_the_outer_corner_carries_it_and_the_butting_one_does_not() -> None:
    # a along the world's x with its depth from y = 0 to 0.1; b starts at its inner face at the right end.
    a, b = placed("a", (0, 0), 0, 4), placed("b", (4, 0.1), 90, 3)
    found = met(a, b)
    assert len(found["a"]) == len(found["b"]) == 1
    mine, other = found["a"][0], found["b"][0]
    assert (mine.kind, mine.at, mine.face, mine.through) == ("corner", "end", "far", True)
    assert (mine.x_min, mine.x_max) == pytest.approx((3.9, 4.0))
    assert (mine.z_min, mine.z_max) == pytest.approx((0.0, 2.5))
    assert (other.kind, other.at, other.through) == ("corner", "start", False)
    assert (other.x_min, other.x_max) == pytest.approx((-0.1, 0.0))
    assert mine.evidence == other.evidence == "geometry"
    assert (mine.other_key, other.other_key) == ("b", "a")


def test_mitred_corner_is_carried_by_one_wall_only() -> None:
    # Both silhouettes run to the outer corner.
    a, b = placed("a", (0, 0), 0, 4), placed("b", (4, 0.0), 90, 3)
    found = met(a, b)
    assert [found["a"][0].through, found["b"][0].through] == [True, False]
    assert found["a"][0].kind == "corner"


def test_room_of_four_walls_has_a_corner_at_each_end_of_each_wall() -> None:
    walls = [
        placed("s", (0, 0), 0, 4),
        placed("e", (4, 0), 90, 3),
        placed("n", (4, 3), 180, 4),
        placed("w", (0, 3), 270, 3),
    ]
    found = met(*walls)
    for key in "senw":
        assert [(j.kind, j.at) for j in found[key]] == [("corner", "start"), ("corner", "end")]
    assert sum(j.through for key in "senw" for j in found[key]) == 4


def test_partition_makes_a_tee_on_the_face_that_it_meets() -> None:
    wall = placed("wall", (0, 0), 0, 6)
    near, far = placed("near", (2, -3), 90, 3), placed("far", (4, 0.1), 90, 3)
    found = met(wall, near, far)
    assert [(j.kind, j.at, j.face, j.other_key) for j in found["wall"]] == [
        ("tee", "path", "fill", "near"),
        ("tee", "path", "far", "far"),
    ]
    assert (found["wall"][0].x_min, found["wall"][0].x_max) == pytest.approx((1.9, 2.0))
    assert [(j.kind, j.at, j.through) for j in found["near"]] == [("tee", "end", False)]


def test_walls_that_run_through_each_other_cross() -> None:
    found = met(placed("a", (0, 0), 0, 6), placed("b", (3, -2), 90, 4))
    assert [(j.kind, j.at, j.face) for j in found["a"]] == [("cross", "path", "both")]
    assert [(j.kind, j.at, j.face) for j in found["b"]] == [("cross", "path", "both")]


def test_lining_between_two_walls_does_not_keep_them_apart() -> None:
    # The partition stops at the lining of the wall, 40 mm before its studs.
    wall = placed("wall", (0, 0), 0, 6, lining=0.04)
    partition = placed("part", (2, -3), 90, 2.96, lining=0.015)
    assert [j.kind for j in met(wall, partition)["wall"]] == ["tee"]
    assert met(placed("wall", (0, 0), 0, 6), placed("part", (2, -3), 90, 2.9))["wall"] == ()


def test_partition_at_a_wall_of_two_stud_layers_meets_the_near_one_only() -> None:
    near = placed("twin", (0, 0), 0, 6, lining=0.02)
    far_axes = near.axes.shifted((0.0, 0.15, 0.0))
    layers = (
        Layer("wood", "", DEPTH, LayerRole.STUD, "", -0.15, -0.05),
        Layer("air", "", 0.05, LayerRole.AIR, "", -0.05, 0.0),
        Layer("wood", "", DEPTH, LayerRole.STUD, "", 0.0, DEPTH),
    )
    far = stud_layer(box(0, 0, 6, 2.5), depth=DEPTH, key="twin#2", axes=far_axes, layers=layers)
    found = find_junctions([wall_of(near, far), wall_of(placed("part", (2, -3), 90, 2.98))])
    assert len(found["twin"]) == 1
    assert found["twin#2"] == ()


def test_walls_of_different_storeys_do_not_meet_even_if_they_overlap_by_a_slab() -> None:
    low, high = placed("low", (0, 0), 0, 4), placed("high", (2, -3), 90, 3, foot=2.3)
    assert met(low, high) == {"low": (), "high": ()}
    connected = ModelConnection("low", "ATPATH", "high", "ATEND")
    assert met(low, high, connections=(connected,)) == {"low": (), "high": ()}


def test_junction_covers_the_height_in_which_both_walls_stand() -> None:
    found = met(placed("tall", (0, 0), 0, 4, height=5.0), placed("part", (2, -3), 90, 3, foot=2.6, height=2.2))
    assert (found["tall"][0].z_min, found["tall"][0].z_max) == pytest.approx((2.6, 4.8))
    assert (found["part"][0].z_min, found["part"][0].z_max) == pytest.approx((0.0, 2.2))


def test_connection_of_the_model_bridges_a_gap_in_plan() -> None:
    wall, short = placed("wall", (0, 0), 0, 6), placed("short", (2, -3), 90, 2.7)
    assert met(wall, short)["wall"] == ()
    connected = ModelConnection("short", "ATEND", "wall", "ATPATH")
    (junction,) = met(wall, short, connections=(connected,))["wall"]
    assert (junction.kind, junction.evidence) == ("tee", "connection")


def test_walls_in_one_line_and_walls_side_by_side_do_not_meet() -> None:
    assert met(placed("a", (0, 0), 0, 4), placed("b", (4, 0), 0, 4))["a"] == ()
    assert met(placed("a", (0, 0), 0, 4), placed("b", (0, 0.1), 0, 4))["a"] == ()


def test_oblique_partition_takes_more_of_the_wall_than_its_depth() -> None:
    angle = 45.0
    found = met(placed("wall", (0, 0), 0, 6), placed("part", (1, -2), angle, 2 * np.sqrt(2)))
    (junction,) = found["wall"]
    assert junction.x_max - junction.x_min == pytest.approx(DEPTH * np.sqrt(2))


def test_turning_and_moving_the_house_changes_no_junction() -> None:
    def house(turn: float, at: tuple[float, float]) -> dict[str, tuple[Junction, ...]]:
        angle = np.radians(turn)
        spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

        def wall(key: str, start: tuple[float, float], run: float, length: float) -> StudLayer:
            x, y = spin @ np.array(start) + np.array(at)
            return placed(key, (float(x), float(y)), run + turn, length)

        return met(wall("a", (0, 0), 0, 6), wall("b", (6, 0.1), 90, 3), wall("p", (3, 0.1), 90, 2))

    here, there = house(0, (0, 0)), house(33, (1200.0, -800.0))
    for key in "abp":
        for first, second in zip(here[key], there[key], strict=True):
            assert (first.kind, first.at, first.face, first.through) == (
                second.kind,
                second.at,
                second.face,
                second.through,
            )
            assert (first.x_min, first.x_max) == pytest.approx((second.x_min, second.x_max), abs=1e-9)


def test_empty_layers_meet_nothing() -> None:
    empty = stud_layer(box(0, 0, 0, 0), key="none")
    assert find_junctions([wall_of(empty)]) == {"none": ()}
    assert find_junctions([]) == {}


RULES = with_changes(preset("wood-16in"), spacing=0.5, stud_thickness=0.05, plate_thickness=0.05, backing_nailing=0.025)


def junction(kind: str, at: str, x_min: float, face: str = "fill", *, through: bool = True) -> Junction:
    return Junction(kind, at, x_min, x_min + 0.1, 0.0, 2.5, face, through, "other", "geometry")


def test_three_stud_corner_leaves_a_pocket_with_spacers_behind_the_end_stud() -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    frame = lay_out(layer, RULES, (junction("corner", "start", 0.0),))
    # The third stud shows 25 mm beside the other wall, which takes 0 to 0.1.
    assert [b[::2] for b in boxes(frame, MemberRole.BACKING)] == [(0.075, 0.125)]
    assert [b[::2] for b in boxes(frame, MemberRole.BLOCKING)] == [(0.05, 0.075)] * 3
    mirrored = lay_out(layer, RULES, (junction("corner", "end", 2.9),))
    assert [b[::2] for b in boxes(mirrored, MemberRole.BACKING)] == [(2.875, 2.925)]


@pytest.mark.parametrize("material", ["wood", "steel"])
@pytest.mark.parametrize("at", ["start", "end"])
def test_no_layout_stud_stands_in_the_pocket_of_a_corner(material: str, at: str) -> None:
    """The other wall takes 0.35 m of the corner, so the third stud shows up to 0.375 m and the pocket is 0.275 m
    wide; a line of the layout falls into it."""
    rules = with_changes(RULES, spacing=0.2, material=material)
    far = 3.0
    place = (0.0, 0.35) if at == "start" else (far - 0.35, far)
    meeting = Junction("corner", at, *place, 0.0, 2.5, "fill", True, "other", "geometry")
    frame = lay_out(stud_layer(box(0, 0, far, 2.5), depth=0.14), rules, (meeting,))
    pocket = (0.05, 0.325) if at == "start" else (far - 0.325, far - 0.05)
    third = pocket[1] if at == "start" else pocket[0] - 0.05
    sides = [side for b in boxes(frame, MemberRole.BACKING) for side in b[::2]]
    assert (min(sides), max(sides)) == pytest.approx((third, third + 0.05))
    studs = [outline.bounds for outline in outlines(frame, MemberRole.STUD)]
    assert [b for b in studs if b[0] < pocket[1] - 1e-6 and b[2] > pocket[0] + 1e-6] == []
    # beyond the corner the layout goes on, with centres at whole spacings
    assert any(b[0] <= (0.6 if at == "start" else 2.4) <= b[2] for b in studs)


@pytest.mark.parametrize(("corner", "through"), [("two_stud_clips", True), ("none", True), ("three_stud", False)])
def test_corner_without_a_third_stud_has_its_end_stud_only(corner: str, through: bool) -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    frame = lay_out(layer, with_changes(RULES, corner=corner), (junction("corner", "start", 0.0, through=through),))
    assert boxes(frame, MemberRole.BACKING, MemberRole.BLOCKING) == []


def test_channel_has_a_flat_stud_at_the_face_of_the_partition_between_two_on_edge() -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    frame = lay_out(layer, RULES, (junction("tee", "path", 1.2, "far"),))
    backing = [m for m in frame.members if m.role == MemberRole.BACKING]
    solids = [prism_of(member) for member in backing]
    places = [(*(round(v, 4) for v in p.outline.bounds[::2]), p.y_min, p.y_max) for p in solids]
    assert places == [
        (1.15, 1.2, 0.0, 0.14),
        (1.2, 1.3, pytest.approx(0.09), 0.14),
        (1.3, 1.35, 0.0, 0.14),
    ]


def test_ladder_has_flat_blocks_between_the_neighbouring_studs() -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    rules = with_changes(RULES, backing="ladder", ladder_spacing=0.6, ladder_block_height=0.09)
    frame = lay_out(layer, rules, (junction("tee", "path", 1.2),))
    rungs = [m for m in frame.members if m.role == MemberRole.BACKING]
    assert {b[::2] for b in boxes(frame, MemberRole.BACKING)} == {(1.025, 1.475)}
    assert [round(b[1] + 0.045, 4) for b in boxes(frame, MemberRole.BACKING)] == [0.35, 0.95, 1.55, 2.15]
    assert {prism_of(m).y_max for m in rungs} == {0.05}


def test_crossing_wall_has_backing_at_both_faces() -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    rules = with_changes(RULES, backing="ladder")
    rungs = lay_out(layer, rules, (junction("cross", "path", 1.2, "both"),)).members
    assert {round(prism_of(m).y_min, 6) for m in rungs if m.role == MemberRole.BACKING} == {0.0, 0.09}


def test_layout_from_the_building_corner_starts_at_the_outside_of_the_other_wall() -> None:
    layer = stud_layer(box(0, 0, 3, 2.5), depth=0.14)
    rules = with_changes(RULES, spacing_datum="building_corner", corner="none")
    frame = lay_out(layer, rules, (junction("corner", "start", -0.1, through=False),))
    centres = [round((b[0] + b[2]) / 2, 4) for b in boxes(frame, MemberRole.STUD)]
    assert centres == [0.025, 0.4, 0.9, 1.4, 1.9, 2.4, 2.9, 2.975]
