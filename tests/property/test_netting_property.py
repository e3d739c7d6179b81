"""Netting on random walls with random price books: everything is covered once, with its laps and edges, no piece is
longer or wider than its roll, no fabric is used twice, and no job takes more than the plain method."""

from __future__ import annotations

from itertools import pairwise
from math import ceil

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import box

from geometry.solids import polygons_of
from takeoff.netting_layout import NettingLayout, lay_netting, plain_layout
from takeoff.netting_strips import Cover, Face, Roll, Strip

COVER = Cover(0.05, 0.025)
WIDTHS = (1.0, 1.2, 1.5, 1.8, 2.0, 2.4, 2.6, 2.75, 3.0, 3.6)
"""m; most books of one or two of these have no roll that fits the height of the walls below."""


@st.composite
def walls(draw: st.DrawFn, most: int = 6) -> list[Face]:
    """Walls of a job: 1.0 to 4.5 m high, some with a gable, windows and doors, studs every 0.4 or 0.6 m."""
    faces = []
    for number in range(draw(st.integers(1, most))):
        length = draw(st.floats(0.5, 12.0))
        height = draw(st.one_of(st.floats(2.2, 3.0), st.floats(1.0, 4.5)))
        outline = box(0.0, 0.0, length, height)
        if draw(st.integers(0, 5)) == 0:
            top = (length / 2.0, height + 0.3 * length)
            outline = shapely.Polygon([(0, 0), (length, 0), (length, height), top, (0, height)])
        for _ in range(draw(st.integers(0, 2))):
            x, z = draw(st.floats(0.0, length)), draw(st.sampled_from([0.0, 0.9]))
            # Outlines in the program are rounded to 1e-10 m; numbers like 1e-311 upset overlays.
            hole = box(*(round(side, 10) for side in (x, z, x + draw(st.floats(0.4, 2.0)), 2.1)))
            outline = shapely.difference(outline, hole)
        if outline.area > 0.05:
            spacing = draw(st.sampled_from([0.4, 0.6]))
            studs = tuple(round(spacing * step, 3) for step in range(1, int(length / spacing) + 1))
            faces.append(Face(f"W{number}", outline, studs))
    return faces


@st.composite
def price_books(draw: st.DrawFn) -> tuple[Roll, ...]:
    """One to three widths of roll, fitting the walls or not."""
    widths = draw(st.lists(st.sampled_from(WIDTHS), min_size=1, max_size=3, unique=True))
    return tuple(Roll(f"{width} m", width, draw(st.sampled_from([15.0, 30.0, 50.0, 100.0]))) for width in widths)


@given(walls(), price_books())
@settings(max_examples=40, deadline=None)
def test_strips_cover_every_wall_once_with_laps_and_edges(faces, rolls):
    layout = lay_netting(faces, rolls, COVER)
    assert not layout.failed
    for face in faces:
        own = [strip for strip in layout.strips if strip.key == face.key]
        bands = [area_of(strip) for strip in own]
        assert shapely.difference(face.outline, shapely.union_all(bands).buffer(1e-6)).area < 1e-6
        assert sum(each.net for each in own) == pytest.approx(face.outline.area, abs=1e-6)
        # Bands meet at their seams and nowhere else: what they overlap by is in their widths and lengths.
        assert sum(band.area for band in bands) - shapely.union_all(bands).area < 1e-3
        x0, z0, x1, z1 = face.outline.bounds
        foot = min((strip.start for strip in own if strip.way == "drop"), default=z0)
        if foot > z0 + 1e-4:  # the part above courses of runs, of a gable shorter than the wall
            x0, _, x1, _ = shapely.intersection(face.outline, box(-99.0, foot, 99.0, z1)).bounds
        for strip in own:
            low, high = (z0, z1) if strip.way == "run" else (x0, x1)
            beside = (COVER.edge if strip.low <= low + 1e-4 else COVER.lap) + COVER.edge * (strip.high >= high - 1e-4)
            assert strip.width >= strip.high - strip.low + beside - 1e-4
            assert strip.length >= strip.stop - strip.start + 2.0 * COVER.edge - 1e-4
            if strip.way == "drop":
                # Seams of drops lie on studs, where they can be fastened; a drop over a course laps onto it.
                assert strip.high >= high - 1e-4 or strip.high in face.studs
                under = [each for each in own if each.way == "run" and abs(each.high - strip.start) < 1e-6]
                if any(each.start < strip.high and each.stop > strip.low for each in under):
                    assert strip.length >= strip.stop - strip.start + COVER.lap + COVER.edge - 1e-6


def area_of(strip: Strip) -> shapely.Polygon:
    """What the strip covers of its wall: x, z."""
    if strip.way == "run":
        return box(strip.start, strip.low, strip.stop, strip.high)
    return box(strip.low, strip.start, strip.high, strip.stop)


@given(walls(), price_books())
@settings(max_examples=40, deadline=None)
def test_every_piece_fits_its_roll_and_every_roll_holds_its_pieces(faces, rolls):
    check_rolls(lay_netting(faces, rolls, COVER))


def check_rolls(layout: NettingLayout) -> None:
    for kind, roll in enumerate(layout.rolls):
        cuts: dict[int, list] = {}
        for strip in layout.strips:
            if strip.roll == kind:
                cuts.setdefault(strip.place.cut, []).append(strip)
        lengths: dict[int, float] = {}
        for strips in cuts.values():
            sheets = [sheet_of(strip) for strip in strips]
            length = max(strip.length for strip in strips if not strip.place.turned)
            for sheet in sheets:
                x0, y0, x1, y1 = sheet.bounds
                assert min(x0, y0) >= -1e-6
                assert x1 <= roll.width + 1e-6
                assert y1 <= length + 1e-6
            # No fabric is used twice: strips lie apart, but for those from what an opening leaves in another.
            fabric = [
                shapely.difference(sheet, shapely.union_all(holes_of(s)))
                for s, sheet in zip(strips, sheets, strict=True)
            ]
            assert sum(each.area for each in fabric) - shapely.union_all(fabric).area < 1e-6
            number = strips[0].roll_number
            assert {strip.roll_number for strip in strips} == {number}
            lengths[number] = lengths.get(number, 0.0) + length
        assert len(lengths) == layout.counts[kind]
        assert all(length <= roll.length + 1e-6 for length in lengths.values())
        assert abs(sum(lengths.values()) * roll.width - layout.used[kind]) < 1e-6


def sheet_of(strip: Strip) -> shapely.Polygon:
    """The strip on its cut: across, along."""
    across, along = (strip.length, strip.width) if strip.place.turned else (strip.width, strip.length)
    return box(
        strip.place.across, strip.place.along, strip.place.across + across - 2e-9, strip.place.along + along - 2e-9
    )


def holes_of(strip: Strip) -> list[shapely.Polygon]:
    """What openings leave in it, on its cut; nothing of a turned strip is used again."""
    if strip.place.turned:
        return []
    return [
        box(
            strip.place.across + each.across,
            strip.place.along + each.along,
            strip.place.across + each.across + each.width,
            strip.place.along + each.along + each.length,
        )
        for each in strip.cut_outs
    ]


def in_whole_courses(faces: list[Face], roll: Roll) -> float:
    """m2 that the plain method cuts from one kind of roll, by this test's own arithmetic.

    As many courses as the height takes, with a lap between them and an edge at floor and top, each as long as the wall
    is there, with an edge at both ends, and in pieces with laps where it is longer than the roll.
    """
    total = 0.0
    for face in faces:
        _, z0, _, z1 = face.outline.bounds
        n = max(1, ceil((z1 - z0 + 2.0 * COVER.edge - COVER.lap) / (roll.width - COVER.lap) - 1e-6))
        courses = [z0 + k * (roll.width - COVER.lap) + COVER.lap - COVER.edge for k in range(1, n)]
        seams = [z0, *(min(each, z1 - 0.05) for each in courses), z1]  # of the last course at least 5 cm is seen
        for low, high in pairwise(seams):
            cut = polygons_of(shapely.intersection(face.outline, box(-99.0, low, 99.0, high)))
            parts = [each.bounds for each in cut if each.area > 1e-9]
            if not parts:
                continue
            whole = max(each[2] for each in parts) - min(each[0] for each in parts) + 2.0 * COVER.edge
            pieces = 1
            if whole > roll.length:
                # At studs pieces may be up to a bay shorter than the roll, so there may be one more.
                pieces = ceil((whole - COVER.lap) / (roll.length - COVER.lap))
            total += (whole + (pieces - 1) * COVER.lap) * roll.width
    return total


@given(walls(), price_books())
@settings(max_examples=60, deadline=None)
def test_no_job_takes_more_than_the_plain_method(faces, rolls):
    assume(faces)  # openings may take all there is
    layout, plain = lay_netting(faces, rolls, COVER), plain_layout(faces, rolls, COVER)
    assert plain is not None
    assert plain.used_area == pytest.approx(min(in_whole_courses(faces, roll) for roll in rolls), rel=1e-4)
    assert layout.used_area <= plain.used_area + 1e-6
    assert layout.ordered_area <= plain.ordered_area + 1e-6
    # What the layout does not cut is no shortage: it covers as much wall as the plain method does.
    assert layout.net_area == pytest.approx(plain.net_area, abs=1e-6)


@given(st.lists(st.floats(2.0, 12.0), min_size=2, max_size=6), st.floats(2.35, 2.55))
@settings(max_examples=30, deadline=None)
def test_a_storey_of_plain_walls_takes_less_than_area_and_fifteen_percent(lengths, height):
    # Walls no higher than the roll is wide: laps do not occur, and edges take at most 25 mm a side.
    rolls = (Roll("a", 1.5, 50.0), Roll("b", 2.6, 50.0), Roll("c", 3.0, 30.0))
    faces = [Face(f"W{n}", box(0, 0, length, height), ()) for n, length in enumerate(lengths)]
    assert lay_netting(faces, rolls, COVER).used_area <= 1.15 * sum(lengths) * height
