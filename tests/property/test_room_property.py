"""The room left in a wall of rectangles alone, by comparing sides, against general overlays (shapely's) of the same."""

from __future__ import annotations

import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from takeoff.framing.pieces import TOUCH, Outline, polygons_of_outlines, rectangle
from takeoff.framing.room import PlainRoom, ShapedRoom, without

WALL = rectangle(0.0, 0.0, 4.0, 2.4)


@st.composite
def rectangles(draw: st.DrawFn) -> Outline:
    """On a coarse raster, so that sides often lie on each other, or a fine one; none leaves a scrap, some stick out."""
    step = draw(st.sampled_from([2, 100]))
    x, z = draw(st.integers(-500 // step, 4400 // step)), draw(st.integers(-500 // step, 2800 // step))
    breadth, height = draw(st.integers(1, 1500 // step)), draw(st.integers(1, 3000 // step))
    return rectangle(*(value * step / 1000.0 for value in (x, z, x + breadth, z + height)))


def rooms(taken: list[Outline]) -> tuple[PlainRoom, ShapedRoom]:
    plain = PlainRoom(WALL).less_outlines(taken)
    assert isinstance(plain, PlainRoom)
    return plain, ShapedRoom(WALL.polygon, None).less_outlines(taken)


def assert_same(found: list[Outline], expected: list[Outline]) -> None:
    assert sorted(one[:4] for one in found) == sorted(one[:4] for one in expected)
    one, other = (shapely.MultiPolygon(polygons_of_outlines(each).tolist()) for each in (found, expected))
    assert shapely.area(shapely.symmetric_difference(one, other)) < 1e-12


@settings(max_examples=200, deadline=None)
@given(st.lists(rectangles(), max_size=8), st.lists(rectangles(), min_size=1, max_size=4))
def test_the_same_of_a_strip_finds_place(taken: list[Outline], strips: list[Outline]) -> None:
    plain, shaped = rooms(taken)
    for found, expected in zip(plain.common_of_each(strips), shaped.common_of_each(strips), strict=True):
        assert_same(found, expected)


@settings(max_examples=200, deadline=None)
@given(st.lists(rectangles(), max_size=8))
def test_the_same_is_left(taken: list[Outline]) -> None:
    plain, shaped = rooms(taken)
    assert plain.bounds == shaped.bounds
    assert_same(plain.parts(), shaped.parts())


@settings(max_examples=200, deadline=None)
@given(rectangles(), st.lists(rectangles(), max_size=5))
def test_the_same_of_a_piece_is_left(whole: Outline, taken: list[Outline]) -> None:
    as_shapes = [Outline(*one[:4], one.polygon) for one in taken]
    assert_same(without(whole, taken), without(whole._replace(shape=whole.polygon), as_shapes))


@settings(max_examples=200, deadline=None)
@given(st.lists(rectangles(), max_size=8), st.integers(0, 39))
def test_a_plumb_line_finds_the_same_feet(taken: list[Outline], place: int) -> None:
    plain, shaped = rooms(taken)
    x = 0.05 + 0.1 * place + TOUCH  # on no side of any rectangle
    assert sorted(plain.feet_at(x)) == sorted(shaped.feet_at(x))
