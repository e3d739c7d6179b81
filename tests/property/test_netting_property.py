"""Netting on random walls: everything is covered once, no piece is longer or wider than its roll, and the layout never
takes more than the plain method where the price book's rolls fit usual walls."""

from __future__ import annotations

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from takeoff.netting_layout import Cover, Face, NettingLayout, Roll, lay_netting

ROLLS = (Roll("a", 1.5, 50.0), Roll("b", 2.6, 50.0), Roll("c", 3.0, 30.0))
COVER = Cover(0.05, 0.025)


@st.composite
def walls(draw: st.DrawFn, most: int = 6) -> list[Face]:
    """Walls of a house: 2.2 to 3.0 m high, with windows and doors, studs every 0.4 m."""
    faces = []
    for number in range(draw(st.integers(1, most))):
        length = draw(st.floats(0.5, 12.0))
        height = draw(st.floats(2.2, 3.0))
        outline = box(0.0, 0.0, length, height)
        for _ in range(draw(st.integers(0, 2))):
            x, z = draw(st.floats(0.0, length)), draw(st.sampled_from([0.0, 0.9]))
            hole = box(x, z, x + draw(st.floats(0.4, 2.0)), 2.1)
            outline = shapely.difference(outline, hole)
        if outline.area > 0.05:
            studs = tuple(round(0.4 * step, 3) for step in range(1, int(length / 0.4) + 1))
            faces.append(Face(f"W{number}", outline, studs))
    return faces


@given(walls())
@settings(max_examples=30, deadline=None)
def test_strips_cover_every_wall_once(faces):
    layout = lay_netting(faces, ROLLS, COVER)
    assert not layout.failed
    for face in faces:
        own = [strip for strip in layout.strips if strip.key == face.key]
        bands = [
            box(each.start, each.low, each.stop, each.high)
            if each.way == "run"
            else box(each.low, each.start, each.high, each.stop)
            for each in own
        ]
        assert shapely.difference(face.outline, shapely.union_all(bands).buffer(1e-6)).area < 1e-6
        assert abs(sum(each.net for each in own) - face.outline.area) < 1e-6
        assert sum(band.area for band in bands) - shapely.union_all(bands).area < 1e-3


@given(walls())
@settings(max_examples=30, deadline=None)
def test_every_piece_fits_its_roll_and_every_roll_holds_its_pieces(faces):
    layout = lay_netting(faces, ROLLS, COVER)
    check_rolls(layout)


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


def sheet_of(strip) -> shapely.Polygon:
    """The strip on its cut: across, along."""
    across, along = (strip.length, strip.width) if strip.place.turned else (strip.width, strip.length)
    return box(
        strip.place.across, strip.place.along, strip.place.across + across - 2e-9, strip.place.along + along - 2e-9
    )


def holes_of(strip) -> list[shapely.Polygon]:
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


@given(walls(most=4))
@settings(max_examples=25, deadline=None)
def test_knowing_the_plain_method_never_makes_the_layout_worse(faces):
    gross = sum(face.outline.envelope.area for face in faces)
    plain = 1.15 * gross
    free, bound = lay_netting(faces, ROLLS, COVER), lay_netting(faces, ROLLS, COVER, plain)
    assert max(0.0, bound.used_area - plain) <= max(0.0, free.used_area - plain) + 1e-6


@given(st.lists(st.floats(2.0, 12.0), min_size=2, max_size=6), st.floats(2.35, 2.55))
@settings(max_examples=30, deadline=None)
def test_a_storey_of_plain_walls_takes_less_than_the_plain_method(lengths, height):
    # Walls no higher than the roll is wide: laps do not occur, and edges take at most 25 mm a side.
    faces = [Face(f"W{n}", box(0, 0, length, height), ()) for n, length in enumerate(lengths)]
    plain = 1.15 * sum(lengths) * height
    assert lay_netting(faces, ROLLS, COVER, plain).used_area <= plain
