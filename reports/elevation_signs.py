"""How things look on an elevation: one sign for each, all told apart in black and white. The legend shows the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import MultiPolygon, Polygon

from reports.drawing import Area, Disc, Line, On, Pen, Point, Shape, Words, areas_of, rectangle, shifted
from reports.drawing_hatch import Hatch, hatched
from reports.drawing_text import text_width
from takeoff.fill import Pass
from takeoff.model import Method

MEMBER_GREY = 0.86
THIN = Pen(0.13)
EDGE = Pen(0.2)
HIDDEN = Pen(0.18, (1.2, 0.7))
OPENING = Pen(0.3)
CROSS = Pen(0.12, (2.5, 1.0))

HATCHES = {
    Method.BLOW: Hatch((45.0,), 2.6, Pen(0.1)),
    Method.BATT: Hatch((45.0, 135.0), 1.5, Pen(0.13)),
    Method.BEFORE_SHEATHING: Hatch((0.0,), 0.8, Pen(0.16)),
}
"""Sealed places are black, places with nothing to do are blank."""

BAFFLE = Pen(0.9, (1.4, 1.8))
BLOCKER = Pen(1.2)
MARK = 1.7
"""mm, radius of a hole mark with its number inside."""
LEAST_NUMBERED = 1.4
"""mm, radius of the smallest mark that holds its number."""
SMALL_MARK = 0.8
"""mm, where larger marks would meet; its number stands beside it."""
CROSS_OUT = 0.8
"""mm by which the cross of an upper mark stands out of its ring."""
_LEGEND_TEXT = 2.3


def filling(shape: Polygon | MultiPolygon, method: Method) -> list[Shape]:
    """The hatch of a place that is filled in one way, without its outline. shape: page mm."""
    if method is Method.SEAL:
        return [*areas_of(shape, On.HATCHING, 0.0, None)]
    hatch = HATCHES.get(method)
    strokes = hatched(shape, hatch) if hatch else None
    return [strokes] if strokes else []


def hole_mark(at: Point, radius: float, fill_pass: Pass) -> list[Shape]:
    """Lower pass: a black disc. Upper pass: a white ring with a cross that stands out of it."""
    x, y = at
    if fill_pass is Pass.LOWER:
        return [Disc(x, y, radius, On.HOLES, 0.0, Pen(0.2))]
    out = radius + CROSS_OUT
    cross = [
        Line(((x - out, y), (x + out, y)), On.HOLES, Pen(0.3)),
        Line(((x, y - out), (x, y + out)), On.HOLES, Pen(0.3)),
    ]
    ring = Disc(x, y, radius, On.HOLES, 1.0, Pen(0.4))
    inner = [] if radius >= LEAST_NUMBERED else [Line(line.points, On.HOLES, Pen(0.2)) for line in cross]
    return [*cross, ring, *inner]


def mark_number(at: Point, radius: float, number: int, fill_pass: Pass) -> Words:
    """The number inside a hole mark."""
    size = min(2.4, 1.7 * radius / max(1.0, 0.72 * len(str(number))))
    return Words(at[0], at[1], str(number), size, On.HOLES, bold=True, grey=1.0 if fill_pass is Pass.LOWER else 0.0)


def opening_sign(shape: Polygon | MultiPolygon) -> list[Shape]:
    """White with its diagonals."""
    signs: list[Shape] = [*areas_of(shape, On.OPENINGS, 1.0, OPENING)]
    for part in shapely.get_parts(shape):
        x0, y0, x1, y1 = part.bounds
        for a, b in (((x0, y0), (x1, y1)), ((x0, y1), (x1, y0))):
            inside = shapely.intersection(shapely.LineString([a, b]), part)
            for piece in shapely.get_parts(inside):
                points = tuple((float(x), float(y)) for x, y in shapely.get_coordinates(piece))
                if len(points) > 1:
                    signs.append(Line(points, On.OPENINGS, CROSS))
    return signs


def swatches() -> list[tuple[str, str, list[Shape]]]:
    """Key, words and sign (in a field of 7 x 4 mm from 0, 0) of everything that a legend may name."""
    field = shapely.box(0.0, 0.0, 7.0, 4.0)
    outline = rectangle((0.0, 0.0, 7.0, 4.0), On.LEGEND, None, EDGE)

    def cavity(method: Method) -> list[Shape]:
        return [*filling(field, method), outline]

    member = Area(outline.rings, On.LEGEND, MEMBER_GREY, THIN)
    hidden = Area(outline.rings, On.LEGEND, None, HIDDEN)
    return [
        # No digit here: the one in a mark counts the holes of its cavity and says nothing of the pass.
        ("lower", "hole, lower pass (black disc)", hole_mark((3.5, 2.0), MARK, Pass.LOWER)),
        ("upper", "hole, upper pass (white, crossed)", hole_mark((3.5, 2.0), MARK, Pass.UPPER)),
        ("hole_number", "in a hole: its number in the cavity", [Words(3.5, 2.0, "1, 2", 2.4, On.LEGEND, bold=True)]),
        (Method.BLOW, "blow", cavity(Method.BLOW)),
        (Method.BATT, "batt, by hand", cavity(Method.BATT)),
        (Method.BEFORE_SHEATHING, "hidden: fill before sheathing", cavity(Method.BEFORE_SHEATHING)),
        (Method.SEAL, "seal", cavity(Method.SEAL)),
        (Method.NONE, "nothing to do", cavity(Method.NONE)),
        ("member", "member", [member]),
        ("hidden", "behind the face", [hidden]),
        ("opening", "opening", [*opening_sign(field)]),
        ("baffle", "eave baffle over it", [Line(((0.0, 2.0), (7.0, 2.0)), On.LEGEND, BAFFLE)]),
        ("blocker", "blocker", [Line(((0.0, 2.0), (7.0, 2.0)), On.LEGEND, BLOCKER)]),
    ]


def legend(keys: Sequence[str], width: float, start: float) -> tuple[Shape, ...]:
    """The legend of what a drawing shows, in rows of at most `width` mm from (0, 0) downwards.

    start: mm from the left that the first row leaves free.
    """
    shapes: list[Shape] = []
    x, y = start, -4.0
    for key, words, sign in swatches():
        if key not in keys:
            continue
        wide = 8.0 + text_width(words, _LEGEND_TEXT) + 4.0
        if x > 0.0 and x + wide - 4.0 > width:
            x, y = 0.0, y - 5.6
        shapes += shifted((replace(each, on=On.LEGEND) for each in sign), x, y)
        shapes.append(Words(x + 8.0, y + 2.0, words, _LEGEND_TEXT, On.LEGEND, "start"))
        x += wide
    return tuple(shapes)
