"""The elevation of one stud layer as the crew sees it from inside, as primitives in millimetres on a page.

Members, openings, cavities with their numbers and how each is filled, holes with their rows measured from the floor.
Labels stand inside what they name where they fit, else in a row above or below the wall with a leader.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import areal
from reports.crew_layers import LayerPlan, cavity_number, height_words
from reports.drawing import Box, Disc, Drawing, Line, On, Pen, Point, Shape, Words, areas_of, extent, shifted
from reports.drawing_labels import Taken, leader_start, place_beside, place_inside, spread
from reports.drawing_scale import fitting_scale, scale_bar
from reports.elevation_preparations import preparation_signs
from reports.elevation_shapes import CavityShape, Polygonal, WallShapes
from reports.elevation_signs import (
    CROSS_OUT,
    EDGE,
    HIDDEN,
    LEAST_NUMBERED,
    MARK,
    MEMBER_GREY,
    SMALL_MARK,
    THIN,
    filling,
    hole_mark,
    legend,
    mark_number,
    opening_sign,
)
from takeoff.fill import Hole, Pass
from takeoff.fill_order import PreparationKind
from takeoff.units import UnitSystem, format_length

FloatArray = NDArray[np.float64]

LEFT, RIGHT = 14.0, 27.0
"""mm beside the wall, for the height of the wall and for the rows of holes."""
NUMBER_SIZES = (2.7, 2.2)
"""mm, font of cavity numbers, tried in this order."""
_ROW = 4.3
"""mm from one row of outside labels to the next."""


@dataclass(frozen=True, slots=True)
class ElevationSize:
    """width: mm of the whole drawing. scale: mm of the wall in one mm of the page."""

    width: float
    scale: float

    @property
    def room(self) -> float:
        """mm that the wall itself may be long."""
        return self.width - LEFT - RIGHT

    @classmethod
    def fitting(cls, wall: WallShapes, width: float, most: float) -> ElevationSize:
        """The largest scale at which a wall fits a drawing of that width and at most `most` mm of height."""
        return cls(width, fitting_scale(wall.length, wall.height, (width - LEFT - RIGHT, most)))


def elevation(wall: WallShapes, size: ElevationSize, system: UnitSystem, title: str) -> Drawing:
    """The elevation of one stud layer; the height of the drawing follows from what it holds."""
    plan, page = wall.plan, _Page(wall, size)
    taken = Taken()
    shapes: list[Shape] = [*_body(page)]
    marks = _marks(plan, page, taken)
    rows = _row_labels(plan, page, taken, system)
    openings = _opening_words(page, taken)
    numbers, outside = _numbers_inside(page, taken)
    beside = _small_mark_numbers(marks, taken)
    above, below, depth = _numbers_outside(outside, page, taken)
    shapes += preparation_signs(wall, page.factor)
    shapes += [*rows, *above, *below, *marks.shapes, *openings, *numbers, *beside]
    if plan.floor is not None:
        depth = max(depth, 2.0 - page.point(0.0, plan.floor)[1])
    shapes += _dimensions(page, depth, system)
    x0 = -LEFT - page.spare
    below_all = -depth - 11.5
    bar = scale_bar((x0 + 2.0, below_all - 3.0), size.scale, system, f"1:{size.scale:g}, seen from inside")
    signs = legend(_legend_keys(wall), size.width - 4.0, extent(bar)[2] - x0 + 3.0)
    shapes += [*bar, *shifted(signs, x0 + 2.0, below_all)]
    _, low, _, high = extent(shapes)
    moved = shifted(shapes, -x0, 1.5 - low)
    return Drawing(title, size.width, high - low + 3.0, size.scale, moved)


# ---------------------------------------------------------------- from the wall to the page


class _Page:
    """Turns the wall in m into page mm, with its lower left corner at (0, 0)."""

    def __init__(self, wall: WallShapes, size: ElevationSize) -> None:
        self.wall = wall
        self.factor = 1000.0 / size.scale
        self.width_mm, self.height_mm = wall.length * self.factor, wall.height * self.factor
        self.spare = max(0.0, 0.5 * (size.room - self.width_mm))
        self.cavities = [self.shape(each.shape) for each in wall.cavities]
        self.openings = [self.shape(outline) for _, outline in wall.openings]

    def shape(self, shape: Polygonal) -> Polygonal:
        """A polygon of the wall on the page."""
        return areal(shapely.transform(shape, lambda points: points * self.factor))

    def point(self, x: float, z: float) -> Point:
        """A point in wall axes on the page."""
        x0, z0 = self.wall.origin
        return (x - x0) * self.factor, (z - z0) * self.factor


# ---------------------------------------------------------------- the wall itself


def _body(page: _Page) -> list[Shape]:
    """Face, cavities, members, closed pockets and openings, from the back to the front."""
    wall = page.wall
    shapes: list[Shape] = [*areas_of(page.shape(wall.face), On.MEMBERS, 1.0, THIN)]
    places = list(zip(wall.cavities, page.cavities, strict=True))
    for cavity, outline in places:
        if not cavity.closed:
            shapes += _cavity(cavity, outline, page)
    for outline in wall.front:
        shapes += areas_of(page.shape(outline), On.MEMBERS, MEMBER_GREY, THIN)
    for outline in wall.behind:
        shapes += areas_of(page.shape(outline), On.HIDDEN, None, HIDDEN)
    for cavity, outline in places:
        if cavity.closed:
            shapes += areas_of(outline, On.CAVITIES, 1.0, None)
            shapes += filling(outline, cavity.method)
            shapes += areas_of(outline, On.CAVITIES, None, HIDDEN)
    for (opening, _), outline in zip(wall.openings, page.openings, strict=True):
        if opening.solid is None:
            shapes += opening_sign(outline)
        else:
            shapes += areas_of(outline, On.OPENINGS, None, HIDDEN)
    return shapes


def _cavity(cavity: CavityShape, outline: Polygonal, page: _Page) -> list[Shape]:
    """A cavity that is open in front: its hatch, the parts that are filled otherwise, its outline."""
    shapes = filling(page.shape(cavity.rest), cavity.method)
    for part, method in cavity.parts:
        shapes += filling(page.shape(part), method)
        shapes += areas_of(page.shape(part), On.CAVITIES, None, THIN)
    return [*shapes, *areas_of(outline, On.CAVITIES, None, EDGE)]


def _legend_keys(wall: WallShapes) -> list[str]:
    """What the drawing shows."""
    through = [opening.solid is None for opening, _ in wall.openings]
    shown = {
        "member": bool(wall.front),
        "hidden": bool(wall.behind) or any(cavity.closed for cavity in wall.cavities) or not all(through),
        "opening": any(through),
        "lower": any(hole.fill_pass is Pass.LOWER for hole in wall.plan.holes),
        "upper": any(hole.fill_pass is Pass.UPPER for hole in wall.plan.holes),
        "hole_number": bool(wall.plan.holes),
        "baffle": any(item.kind is PreparationKind.EAVE_BAFFLE for item in wall.plan.preparations),
        "blocker": any(item.kind is PreparationKind.BLOCKER for item in wall.plan.preparations),
    }
    methods = {cavity.method for cavity in wall.cavities} | {part.method for part in wall.plan.hand_fills}
    return [*(key for key, is_shown in shown.items() if is_shown), *methods]


# ---------------------------------------------------------------- holes and their rows


@dataclass(frozen=True, slots=True)
class _Marks:
    """Marks that are drawn, and those whose number has to stand beside them."""

    shapes: tuple[Shape, ...]
    small: tuple[tuple[Hole, Point], ...]


def _marks(plan: LayerPlan, page: _Page, taken: Taken) -> _Marks:
    points = np.array([page.point(hole.x, hole.z) for hole in plan.holes]).reshape(-1, 2)
    shapes: list[Shape] = []
    small: list[tuple[Hole, Point]] = []
    for hole, point, radius in zip(plan.holes, points.tolist(), _radii(points), strict=True):
        at = (point[0], point[1])
        shapes += hole_mark(at, radius, hole.fill_pass)
        if radius >= LEAST_NUMBERED:
            shapes.append(mark_number(at, radius, hole.number, hole.fill_pass))
        else:
            small.append((hole, at))
        out = radius + (CROSS_OUT if hole.fill_pass is Pass.UPPER else 0.0)
        taken.add((at[0] - out, at[1] - out, at[0] + out, at[1] + out))
    return _Marks(tuple(shapes), tuple(small))


def _radii(points: FloatArray) -> list[float]:
    """Radius of each mark: as large as its neighbours allow, small where a number has no room in it."""
    if len(points) < 2:
        return [MARK] * len(points)
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    room = 0.5 * (apart.min(axis=1) - 0.3)
    return [float(min(MARK, each)) if each >= LEAST_NUMBERED else float(min(SMALL_MARK, each)) for each in room]


def _small_mark_numbers(marks: _Marks, taken: Taken) -> list[Shape]:
    """Numbers beside marks that are too small to hold them."""
    shapes: list[Shape] = []
    for hole, at in marks.small:
        trial = Words(0.0, 0.0, str(hole.number), 2.0, On.HOLES, bold=True, margin=0.15)
        width, height = _size(trial)
        x, y = place_beside(at, width, height, taken, SMALL_MARK + 0.4)
        words = Words(x, y, trial.text, 2.0, On.HOLES, bold=True, margin=0.15)
        shapes += [Line((at, (x, y)), On.HOLES, Pen(0.1)), words]
        taken.add(words.box)
    return shapes


def _row_labels(plan: LayerPlan, page: _Page, taken: Taken, system: UnitSystem) -> list[Shape]:
    """A line along each row of holes and its height above the floor, to the right of the wall."""
    if not plan.rows or plan.floor is None:
        return []
    right = page.width_mm
    heights = [(plan.floor, "floor", Pen(0.3))]
    heights += [
        (row.z, f"{height_words(row.height, system)} ({row.n_holes})", Pen(0.1, (3.0, 0.8, 0.6, 0.8)))
        for row in plan.rows
    ]
    heights.sort(key=lambda entry: entry[0])
    wished = [page.point(0.0, z)[1] for z, _, _ in heights]
    places = spread(wished, 3.4, min(0.0, wished[0]), max(page.height_mm, wished[-1]))
    shapes: list[Shape] = []
    for (_, text, pen), y, level in zip(heights, wished, places.tolist(), strict=True):
        shapes.append(Line(((-2.0, y), (right + 2.0, y)), On.DIMENSIONS, pen))
        shapes.append(Line(((right + 2.0, y), (right + 5.0, level)), On.DIMENSIONS, Pen(0.1)))
        words = Words(right + 5.6, level, text, 2.5, On.DIMENSIONS, "start")
        shapes.append(words)
        taken.add(words.box)
    taken.add((right + 1.0, min(wished[0], places[0]), right + 5.0, max(wished[-1], places[-1])))
    return shapes


# ---------------------------------------------------------------- numbers


def _size(words: Words) -> tuple[float, float]:
    x0, y0, x1, y1 = words.box
    return x1 - x0, y1 - y0


def _number(text: str, size: float, at: Point = (0.0, 0.0)) -> Words:
    return Words(at[0], at[1], text, size, On.NUMBERS, bold=True, margin=0.45, framed=True)


def _opening_words(page: _Page, taken: Taken) -> list[Shape]:
    """What fills each opening, where there is room for the word."""
    shapes: list[Shape] = []
    for (opening, _), outline in zip(page.wall.openings, page.openings, strict=True):
        kind = opening.filling_class.removeprefix("Ifc").removesuffix("StandardCase").lower()
        text = "recess" if opening.solid is not None else kind or "opening"
        trial = Words(0.0, 0.0, text, 2.5, On.OPENINGS, margin=0.4)
        at = place_inside(outline, *_size(trial), taken)
        if at is not None:
            words = Words(at[0], at[1], text, 2.5, On.OPENINGS, margin=0.4)
            taken.add(words.box)
            shapes.append(words)
    return shapes


@dataclass(frozen=True, slots=True, eq=False)
class _Outside:
    """A cavity whose number has to stand outside the wall. shape: page mm."""

    number: str
    shape: Polygonal


def _numbers_inside(page: _Page, taken: Taken) -> tuple[list[Words], list[_Outside]]:
    """Numbers that fit into their cavity, and the cavities where none fits."""
    inside: list[Words] = []
    outside: list[_Outside] = []
    for cavity, shape in zip(page.wall.cavities, page.cavities, strict=True):
        text = cavity_number(cavity.cavity.cavity_id)
        for size in NUMBER_SIZES:
            at = place_inside(shape, *_size(_number(text, size)), taken)
            if at is not None:
                inside.append(_number(text, size, at))
                taken.add(inside[-1].box)
                break
        else:
            outside.append(_Outside(text, shape))
    return inside, outside


def _numbers_outside(outside: list[_Outside], page: _Page, taken: Taken) -> tuple[list[Shape], list[Shape], float]:
    """Rows of numbers above and below the wall with leaders, and the depth in mm that those below take."""
    ends: dict[bool, list[tuple[Point, str]]] = {True: [], False: []}
    for entry in outside:
        start, up = leader_start(entry.shape, (0.0, page.height_mm), taken)
        low, high = sorted((start[1], page.height_mm if up else 0.0))
        taken.add((start[0] - 0.3, low, start[0] + 0.3, high))
        ends[up].append((start, entry.number))
    above, _ = _leader_rows(ends[True], page, page.height_mm, 1.0)
    below, depth = _leader_rows(ends[False], page, 0.0, -1.0)
    return above, below, depth


def _leader_rows(ends: list[tuple[Point, str]], page: _Page, edge: float, way: float) -> tuple[list[Shape], float]:
    """Numbers in rows along an edge of the wall, with leaders, and how far they reach from the edge in mm.

    way: 1 upwards, -1 downwards. Leaders keep the order of their starts, so they do not cross; with more than one row
    they pass between the numbers of the rows before.
    """
    if not ends:
        return [], 0.0
    ends = sorted(ends)
    size = NUMBER_SIZES[1]
    wide = max(_size(_number(text, size))[0] for _, text in ends) + 0.9
    left, right = -LEFT + 3.0, page.width_mm + RIGHT - 6.0
    n_rows = int(np.ceil(len(ends) * wide / (right - left))) or 1
    slots = spread([start[0] for start, _ in ends], wide / n_rows, left, right)
    shapes: list[Shape] = []
    labels: list[Shape] = []
    for index, ((start, text), slot) in enumerate(zip(ends, slots.tolist(), strict=True)):
        level = edge + way * (5.0 + _ROW * (index % n_rows))
        bend, turn = edge + way * 1.0, edge + way * 3.0
        shapes.append(Line((start, (start[0], bend), (slot, turn), (slot, level)), On.NUMBERS, Pen(0.13)))
        shapes.append(Disc(start[0], start[1], 0.35, On.NUMBERS, 0.0, None))
        labels.append(_number(text, size, (slot, level)))
    return [*shapes, *labels], 5.0 + _ROW * (n_rows - 1) + 2.0


# ---------------------------------------------------------------- dimensions of the wall


def _dimensions(page: _Page, depth: float, system: UnitSystem) -> list[Shape]:
    """Length below and height to the left of the wall."""
    y, x = -depth - 6.0, -7.0
    pen = Pen(0.15)
    shapes: list[Shape] = [
        Line(((0.0, y), (page.width_mm, y)), On.DIMENSIONS, pen),
        Line(((x, 0.0), (x, page.height_mm)), On.DIMENSIONS, pen),
    ]
    for end in (0.0, page.width_mm):
        shapes.append(Line(((end, y - 1.2), (end, y + 1.2)), On.DIMENSIONS, pen))
        shapes.append(Line(((end - 0.8, y - 0.8), (end + 0.8, y + 0.8)), On.DIMENSIONS, EDGE))
    for end in (0.0, page.height_mm):
        shapes.append(Line(((x - 1.2, end), (x + 1.2, end)), On.DIMENSIONS, pen))
        shapes.append(Line(((x - 0.8, end - 0.8), (x + 0.8, end + 0.8)), On.DIMENSIONS, EDGE))
    length = format_length(page.wall.length, system)
    height = format_length(page.wall.height, system)
    beside = x - 3.0
    shapes.append(Words(0.5 * page.width_mm, y - 2.6, length, 2.5, On.DIMENSIONS))
    shapes.append(Words(beside, 0.5 * page.height_mm, height, 2.5, On.DIMENSIONS, upright=True))
    return shapes


def boxes(drawing: Drawing) -> tuple[tuple[str, Box], ...]:
    """Every label of a drawing with what it covers, for checks: no two may meet, none may leave the page."""
    return tuple((words.text, words.box) for words in drawing.words)
