"""Bays that nothing closes at an end: counted up to the wall's own edge, listed, or closed by a neighbour's member."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from shapely import Polygon, box

from geometry.tolerances import DEFAULT_TOLERANCES
from takeoff import take_off
from takeoff.building import ModelPart
from takeoff.cavities import CavityPlace, take_off_layer
from takeoff.cavity_kinds import FillLimits
from takeoff.finding import Finding, Severity
from takeoff.framing.junctions import Junction
from takeoff.framing.layout import lay_out
from takeoff.framing.modelled import read_frame
from takeoff.framing.rules import PRESETS
from takeoff.model import LayerTakeoff
from takeoff.open_ends import Surrounding, open_end_findings, open_sides, sides_at_openings
from takeoff.result import Takeoff
from tests.frame_builder import (
    DEPTH,
    HEIGHT,
    Piece,
    T,
    door,
    header,
    layer_of,
    part,
    parts_of,
    piece,
    plain,
    plates,
    studs,
)
from tests.ifc_builder import Builder

PLACE = CavityPlace("", FillLimits(0.089, 0.025, True, ""), lambda points: [""] * len(points))
ALONE = Surrounding(lambda axes, box: [], (), str)
OPEN_RIGHT = [*plates(3.0), *studs([0.0, 0.6, 1.2, 1.8, 2.4])]
"""Plates run on to 3 m, the last stud stands at 2.4 m."""
LAST = (0.6 - T) * (HEIGHT - 2 * T) * DEPTH


def taken(pieces: Sequence[Piece | ModelPart], body: Polygon | None = None) -> LayerTakeoff:
    parts = [one for one in pieces if isinstance(one, ModelPart)]
    parts += parts_of([one for one in pieces if not isinstance(one, ModelPart)])
    frame = read_frame(layer_of(parts, body))
    assert frame is not None
    return take_off_layer(frame, PLACE, DEFAULT_TOLERANCES)


def test_a_bay_without_an_end_stud_counts_up_to_the_end_and_is_listed() -> None:
    one = taken(OPEN_RIGHT)
    assert one.cavities[-1].volume == pytest.approx(LAST, rel=1e-9)
    (finding,) = open_end_findings(one, ALONE)
    assert finding.code == "open-ended-bay"
    assert finding.element_id == one.cavities[-1].cavity_id
    assert "right" in finding.message
    assert finding.measured == pytest.approx(HEIGHT - 2 * T)
    assert finding.severity is Severity.WARNING


def test_a_closed_frame_has_no_open_side() -> None:
    assert open_sides(taken(plain())) == []


def test_both_ends_are_told_apart() -> None:
    one = taken([*plates(3.0), *studs([0.6, 1.2, 1.8, 2.4])])
    assert [(side.side, side.cavity_id[-3:]) for side in open_sides(one)] == [("left", "c01"), ("right", "c05")]


def test_a_missing_piece_of_plate_leaves_the_bay_open_at_its_top() -> None:
    pieces = [one for one in plain() if one[0] != "top_plate"]
    pieces += [("top_plate", piece(0, HEIGHT - T, 1.2, HEIGHT)), ("top_plate", piece(1.8, HEIGHT - T, 4.0, HEIGHT))]
    (side,) = open_sides(taken(pieces, box(0, 0, 4, HEIGHT)))
    assert side.side == "top"
    assert (side.low, side.high) == pytest.approx((1.2, 1.8))


@pytest.mark.parametrize(
    ("boards", "depth"),
    [(((0.0, 0.04), (0.11, 0.14)), 0.07), (((0.08, 0.14),), 0.08), (((0.0, 0.06), (0.06, 0.12)), 0.02)],
    ids=["a hollow box header", "a header of part of the depth", "two plies flush in front"],
)
def test_the_face_to_an_opening_is_open_only_where_no_header_stands_on_it(boards, depth) -> None:
    one = taken(door([header(1.2, 2.2, 0.2, *board) for board in boards]))
    sides = sides_at_openings(one)
    assert [side.length for side in sides] == pytest.approx([1.0], abs=1e-5)
    assert [side.area for side in sides] == pytest.approx([1.0 * depth], abs=1e-5)


def test_an_open_end_is_open_over_its_length_and_the_whole_depth() -> None:
    (side,) = open_sides(taken(OPEN_RIGHT))
    assert side.area == pytest.approx((HEIGHT - 2 * T) * DEPTH)


def test_a_stud_of_the_next_wall_right_behind_the_end_closes_it() -> None:
    stud = part("other", piece(3.0, 0.0, 3.038, HEIGHT), wall_id="next")
    around = Surrounding(lambda axes, box: [stud], (), str)
    assert open_end_findings(taken(OPEN_RIGHT), around) == []


@pytest.mark.parametrize("other", [piece(3.0, 0.0, 3.038, 1.2), piece(3.0, 0.0, 3.038, HEIGHT, 0.09, 0.13)])
def test_a_member_that_covers_only_part_of_the_end_does_not_close_it(other) -> None:
    around = Surrounding(lambda axes, box: [part("other", other, wall_id="next")], (), str)
    assert len(open_end_findings(taken(OPEN_RIGHT), around)) == 1


def test_a_pipe_behind_the_end_does_not_close_it() -> None:
    pipe = part("pipe", piece(3.0, 0.0, 3.1, HEIGHT), ifc_class="IfcPipeSegment")
    assert len(open_end_findings(taken(OPEN_RIGHT), Surrounding(lambda axes, box: [pipe], (), str))) == 1


def test_a_neighbour_s_member_that_reaches_into_the_wall_ends_the_bay() -> None:
    stud = part("other", piece(3.0 - T, T, 3.0, HEIGHT - T), wall_id="next")
    one = taken([stud, *OPEN_RIGHT])
    assert open_end_findings(one, ALONE) == []
    assert one.cavities[-1].volume == pytest.approx((0.6 - 2 * T) * (HEIGHT - 2 * T) * DEPTH, rel=1e-9)


def test_the_wall_that_meets_the_open_end_is_named() -> None:
    corner = Junction("corner", "end", 3.0, 3.1, 0.0, HEIGHT, "fill", False, "next#2", "geometry")
    elsewhere = replace(corner, at="start", other_key="far")
    (finding,) = open_end_findings(taken(OPEN_RIGHT), Surrounding(lambda axes, box: [], (corner, elsewhere), str))
    assert finding.severity is Severity.INFO
    assert "next, which meets it there" in finding.message


def test_a_missing_plate_is_told_once_for_all_bays_over_it() -> None:
    one = taken([piece for piece in plain(3.0) if piece[0] != "bottom_plate"], box(0, T, 3, HEIGHT))
    (finding,) = open_end_findings(one, ALONE)
    assert "5 cavities" in finding.message
    assert "(c01, c02, c03 and 2 more) are open at the bottom" in finding.message
    assert "no bottom plate closes them" in finding.message
    assert finding.measured == pytest.approx(3.0 - 6 * T, abs=1e-5)


def test_a_frame_laid_out_by_rule_closes_its_own_ends() -> None:
    laid = lay_out(layer_of([], box(0, 0, 3.3, HEIGHT)), PRESETS["wood-16in"])
    one = take_off_layer(laid, PLACE, DEFAULT_TOLERANCES)
    assert open_sides(one) == []
    assert open_end_findings(one, ALONE) == []


# ---------------------------------------------------------------- through the whole program


def two_walls(tmp_path: Path, *, end_stud: bool, angle: float) -> Takeoff:
    """Wall A runs into wall B, which stands across its end; A has no end stud, B perhaps one where A meets it."""
    model = Builder("IFC4", "MILLIMETRE")
    a = model.wall("A", length=3.0, height=2.4, thickness=0.14, layers=[("Timber studs", 0.14)], angle=angle)
    for name, size, at in [
        ("plate", (3.0, 0.14, 0.038), (0.0, 0.0, 0.0)),
        ("plate", (3.0, 0.14, 0.038), (0.0, 0.0, 2.362)),
        *[("stud", (0.038, 0.14, 2.324), (x, 0.0, 0.038)) for x in (0.0, 0.6, 1.2, 1.8, 2.4)],
    ]:
        model.member(a, size=size, at=at, name=name)
    b = model.element(
        "IfcWall", [model.box((0.14, 3.0, 2.4), (3.0, -1.5, 0.0))], name="B", at=(0.0, 0.0, 0.0), angle=angle
    )
    model.layer_usage([b], model.layer_set([("Timber studs", 0.14)]), axis="AXIS2")
    ys = [-1.5, -0.9, -0.3, 0.3, 0.9, 1.462]
    for y in ys:
        model.member(b, size=(0.14, 0.038, 2.324), at=(3.0, y, 0.038), name="stud")
    for z in (0.0, 2.362):
        model.member(b, size=(0.14, 3.0, 0.038), at=(3.0, -1.5, z), name="plate")
    if end_stud:
        model.member(b, size=(0.038, 0.14, 2.324), at=(3.0, 0.0, 0.038), name="backing")
    return take_off(model.save(tmp_path / "two.ifc"))


def open_bays(result: Takeoff) -> list[Finding]:
    return [finding for finding in result.findings if finding.code == "open-ended-bay"]


@pytest.mark.parametrize("angle", [0.0, 33.0])
def test_an_end_closed_by_the_other_wall_s_backing_is_not_listed(tmp_path: Path, angle: float) -> None:
    assert open_bays(two_walls(tmp_path, end_stud=True, angle=angle)) == []


@pytest.mark.parametrize("angle", [0.0, 33.0])
def test_an_end_that_nothing_closes_is_listed_with_the_wall_that_meets_it(tmp_path: Path, angle: float) -> None:
    result = two_walls(tmp_path, end_stud=False, angle=angle)
    (finding,) = open_bays(result)
    assert "wall 'B'" in finding.message
    cavity = next(
        one
        for row in result.results
        for layer in row.layers
        for one in layer.cavities
        if one.cavity_id == finding.element_id
    )
    assert cavity.volume == pytest.approx(0.562 * 2.324 * 0.14, rel=1e-6)
