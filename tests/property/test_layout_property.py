"""What holds for every laid-out frame, whatever the wall, its openings and the rules."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, affinity, box

from geometry.solids import Prism, polygons_of
from takeoff.framing.junctions import Junction
from takeoff.framing.layout import lay_out, member_number
from takeoff.framing.rules import PRESETS, FramingRules, preset, with_changes
from takeoff.framing.studs import layout_lines
from takeoff.model import Frame, MemberRole, Opening
from tests.layout_builder import opening, outlines, overlap_volume, prism_of, stud_layer

NAMES = st.sampled_from(sorted(PRESETS))


def lengths(low: float, high: float) -> st.SearchStrategy[float]:
    """Lengths as models carry them, m: to a tenth of a millimetre."""
    return st.floats(low, high, allow_subnormal=False).map(lambda value: round(value, 4))


ROUNDING = 2e-6
"""m2 or m: the layout works on a grid of 1e-9 m and drops scraps below 1e-6 m2."""


@st.composite
def wall_outlines(draw: st.DrawFn) -> Polygon:
    """Rectangles, sheds, gables, clipped and stepped tops and bottoms, round tops."""
    length = draw(lengths(0.3, 9.0))
    height = draw(lengths(0.3, 4.0))
    rise = draw(lengths(0.05, 3.0))
    share = draw(lengths(0.15, 0.85))
    kind = draw(st.sampled_from(["plain", "shed", "gable", "clipped", "step", "foot", "round", "trapezium"]))
    middle = share * length
    if kind == "shed":
        return Polygon([(0, 0), (length, 0), (length, height + rise), (0, height)])
    if kind == "gable":
        return Polygon([(0, 0), (length, 0), (length, height), (middle, height + rise), (0, height)])
    if kind == "clipped":
        return Polygon([(0, 0), (length, 0), (length, height), (middle, height + rise), (0, height + rise)])
    if kind == "step":
        top = height + rise
        return Polygon([(0, 0), (length, 0), (length, top), (middle, top), (middle, height), (0, height)])
    if kind == "foot":
        foot = -0.3 * rise
        return Polygon([(0, 0), (middle, 0), (middle, foot), (length, foot), (length, height), (0, height)])
    if kind == "round":
        angles = np.linspace(0.0, np.pi, draw(st.integers(5, 40)))
        arc = [(length / 2 * (1 + np.cos(a)), height + rise * np.sin(a)) for a in angles]
        return Polygon([(0, 0), (length, 0), *arc])
    if kind == "trapezium":
        lean = 0.2 * share * length
        return Polygon([(0, 0), (length, 0), (length - lean, height), (lean, height)])
    return box(0, 0, length, height)


@st.composite
def openings_in(draw: st.DrawFn, outline: Polygon) -> tuple[Opening, ...]:
    """Up to four holes of several shapes anywhere about the wall: overlapping, stacked, sticking out, to the floor."""
    x_min, z_min, x_max, z_max = outline.bounds
    found: list[Opening] = []
    for number in range(draw(st.integers(0, 4))):
        x = draw(lengths(x_min - 0.5, x_max))
        z = draw(st.one_of(st.just(z_min), lengths(z_min - 0.2, z_max)))
        width, height = draw(lengths(0.05, 3.0)), draw(lengths(0.05, 2.5))
        shape = box(x, z, x + width, z + height)
        if draw(st.booleans()) and number % 2:
            shape = affinity.scale(Point(x + width / 2, z + height / 2).buffer(0.5, quad_segs=6), width, height)
        found.append(opening(shape, number, door=draw(st.booleans())))
    return tuple(found)


@st.composite
def frames(draw: st.DrawFn) -> tuple[Frame, FramingRules]:
    """A wall with openings and junctions, framed by one of the presets."""
    rules = preset(draw(NAMES))
    if draw(st.booleans()):
        rules = with_changes(rules, header_depth_rule="full_depth_to_plate", blocking_heights=(1.0, 1.2))
    outline = draw(wall_outlines())
    x_min, z_min, x_max, z_max = outline.bounds
    layer = stud_layer(outline, draw(openings_in(outline)), depth=draw(st.sampled_from([0.0889, 0.1397, 0.2445])))
    junctions: list[Junction] = []
    if draw(st.booleans()):
        at = draw(lengths(x_min, x_max))
        face = draw(st.sampled_from(["fill", "far", "both"]))
        junctions.append(Junction("tee", "path", at, at + 0.0889, z_min, z_max, face, True, "other", "geometry"))
        junctions.append(Junction("corner", "start", x_min, x_min + 0.1, z_min, z_max, "fill", True, "o", "geometry"))
        junctions.append(Junction("corner", "end", x_max - 0.1, x_max, z_min, z_max, "fill", True, "o", "geometry"))
    return lay_out(layer, rules, tuple(junctions)), rules


def wall_of(frame: Frame) -> Polygon:
    assert isinstance(frame.layer.outline, Prism)
    assert isinstance(frame.layer.outline.outline, Polygon)
    return frame.layer.outline.outline


@settings(max_examples=150, deadline=None)
@given(frames())
def test_members_lie_inside_the_wall_and_outside_its_openings_and_never_in_each_other(
    made: tuple[Frame, FramingRules],
) -> None:
    frame, _ = made
    wall = wall_of(frame)
    holes = shapely.union_all([hole.outline for hole in frame.openings])
    for outline in outlines(frame):
        assert outline.is_valid
        assert shapely.difference(outline, wall).area < ROUNDING
        assert shapely.intersection(outline, holes).area < ROUNDING
    depths = [(prism_of(member).y_min, prism_of(member).y_max) for member in frame.members]
    assert all(0.0 <= near < far <= frame.layer.depth + 1e-12 for near, far in depths)
    assert overlap_volume(frame) < ROUNDING


@settings(max_examples=80, deadline=None)
@given(frames())
def test_every_layout_line_in_a_free_part_of_the_wall_is_carried_by_a_member(made: tuple[Frame, FramingRules]) -> None:
    frame, rules = made
    wall = wall_of(frame)
    if frame.members == () or rules.rows == 2:
        return
    holes = [box(*hole.outline.bounds) for hole in frame.openings]
    taken = shapely.union_all(outlines(frame))
    # What neither a member nor a rough opening takes; a line may run through it only over short heights.
    free = shapely.difference(wall, shapely.union_all([taken, *holes]), grid_size=1e-8)
    x_min, z_min, x_max, z_max = wall.bounds
    for line in layout_lines(x_min + rules.stud_thickness, x_max - rules.stud_thickness, x_min, rules.spacing):
        strip = box(line - 0.5 * rules.stud_thickness, z_min, line + 0.5 * rules.stud_thickness, z_max)
        for part in polygons_of(shapely.intersection(strip, free)):
            open_strip = part.area > 0.9 * rules.stud_thickness * (part.bounds[3] - part.bounds[1])
            assert not (open_strip and part.bounds[3] - part.bounds[1] > 2.0 * rules.stud_thickness)


@settings(max_examples=60, deadline=None)
@given(lengths(0.6, 12.0), lengths(1.0, 4.0), NAMES)
def test_no_bay_of_a_plain_wall_is_wider_than_the_spacing_rule_allows(length: float, height: float, name: str) -> None:
    rules = preset(name)
    frame = lay_out(stud_layer(box(0, 0, length, height), depth=0.2445), rules)
    studs = np.array([outline.bounds for outline in outlines(frame, MemberRole.STUD)])
    order = np.argsort(studs[:, 0])
    gaps = studs[order][1:, 0] - np.maximum.accumulate(studs[order][:-1, 2])
    # Every layout line is carried, at worst by the edge of a stud: half a stud more than the common bay.
    assert gaps.max() <= rules.spacing - 0.5 * rules.stud_thickness + 1e-6
    assert studs[:, 0].min() == 0.0
    assert abs(studs[:, 2].max() - length) < 1e-9


@settings(max_examples=60, deadline=None)
@given(frames())
def test_ids_are_unique_and_run_left_to_right_then_bottom_to_top(made: tuple[Frame, FramingRules]) -> None:
    frame, _ = made
    ids = [member.member_id for member in frame.members]
    assert len(set(ids)) == len(ids)
    firsts: dict[str, tuple[float, float]] = {}
    for member in frame.members:
        x, z = prism_of(member).outline.bounds[:2]
        name = member_number(member.member_id)
        low = firsts.get(name, (np.inf, np.inf))
        firsts[name] = (min(low[0], x), min(low[1], z))
    places = [(round(x, 5), round(z, 5)) for x, z in firsts.values()]
    assert [int(name.rsplit("/m", 1)[1]) for name in firsts] == list(range(1, len(firsts) + 1))
    assert all(a[0] <= b[0] + 1e-4 for a, b in pairwise(places))


@settings(max_examples=60, deadline=None)
@given(frames())
def test_the_same_wall_always_gives_the_same_frame(made: tuple[Frame, FramingRules]) -> None:
    frame, rules = made
    junctions: tuple[Junction, ...] = ()
    again, twice = lay_out(frame.layer, rules, junctions), lay_out(frame.layer, rules, junctions)
    assert [m.member_id for m in again.members] == [m.member_id for m in twice.members]
    assert all(
        shapely.equals_exact(prism_of(a).outline, prism_of(b).outline)
        for a, b in zip(again.members, twice.members, strict=True)
    )
    assert again.findings == twice.findings


@settings(max_examples=60, deadline=None)
@given(wall_outlines(), lengths(-50.0, 50.0), lengths(-50.0, 50.0))
def test_a_wall_framed_elsewhere_has_the_same_members(outline: Polygon, x: float, z: float) -> None:
    rules = preset("wood-16in")
    here = lay_out(stud_layer(outline), rules)
    there = lay_out(stud_layer(affinity.translate(outline, x, z)), rules)
    assert abs(sum(o.area for o in outlines(here)) - sum(o.area for o in outlines(there))) < 1e-5


@settings(max_examples=60, deadline=None)
@given(lengths(1.0, 8.0), lengths(0.1, 0.9), lengths(0.4, 2.0))
def test_a_mirrored_wall_keeps_the_framing_of_its_opening(length: float, share: float, width: float) -> None:
    # The layout starts at the left end, so studs move; what belongs to the opening does not.
    kinds = (MemberRole.KING_STUD, MemberRole.JACK_STUD, MemberRole.HEADER, MemberRole.SILL, MemberRole.BOTTOM_PLATE)
    hole = box(share * length, 0.9, share * length + width, 2.0)
    wall = box(0, 0, length, 2.5)
    rules = preset("wood-16in")
    mine = lay_out(stud_layer(wall, [opening(hole)]), rules)
    theirs = lay_out(
        stud_layer(wall, [opening(affinity.translate(affinity.scale(hole, -1, 1, origin=(0, 0)), length, 0))]), rules
    )
    for kind in kinds:
        a, b = (sum(o.area for o in outlines(frame, kind)) for frame in (mine, theirs))
        assert abs(a - b) < 1e-5
