"""A drawing as plain primitives: millimetres on a page, x to the right, y up, (0, 0) at the lower left corner.

What is drawn is decided here and in the modules that build drawings; the backends (`drawing_svg`, `drawing_dxf`) only
write it down. Primitives are drawn in the order given, later ones over earlier ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely

from geometry.solids import polygons_of
from reports.drawing_text import LINE_HEIGHT, text_width

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""x_min, y_min, x_max, y_max, mm"""


class On(StrEnum):
    """What a primitive stands for: the layer of a drawing program that it goes on."""

    MEMBERS = "members"
    HIDDEN = "hidden"
    OPENINGS = "openings"
    CAVITIES = "cavities"
    HATCHING = "hatching"
    PREPARATIONS = "preparations"
    HOLES = "holes"
    DIMENSIONS = "dimensions"
    NUMBERS = "numbers"
    LEGEND = "legend"


@dataclass(frozen=True, slots=True)
class Pen:
    """width: mm. dash: lengths of strokes and gaps, mm; none is a full line. grey: 0 black to 1 white."""

    width: float = 0.18
    dash: tuple[float, ...] = ()
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """A line through two or more points."""

    points: tuple[Point, ...]
    on: On
    pen: Pen = Pen()


@dataclass(frozen=True, slots=True)
class Strokes:
    """Many straight strokes with one pen: a hatch.

    ends: x, y of the start and x, y of the end of each, mm. rings, angles, spacing: what they fill and how, for
    programs that hatch by themselves; degrees from the x axis, mm.
    """

    ends: tuple[tuple[float, float, float, float], ...]
    on: On
    pen: Pen
    rings: tuple[tuple[Point, ...], ...]
    angles: tuple[float, ...]
    spacing: float


@dataclass(frozen=True, slots=True)
class Area:
    """A polygon with its holes. rings: outer rings and holes alike, not closed; even-odd rule."""

    rings: tuple[tuple[Point, ...], ...]
    on: On
    fill: float | None = None
    """Grey, 0 black to 1 white; None for no fill."""
    pen: Pen | None = Pen()


@dataclass(frozen=True, slots=True)
class Disc:
    """A circle, filled or not."""

    x: float
    y: float
    radius: float
    on: On
    fill: float | None = None
    pen: Pen | None = Pen()


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text, its capitals centred on y, with a white field behind it where it has a margin."""

    x: float
    y: float
    text: str
    size: float
    """mm, height of the font"""
    on: On
    align: str = "middle"
    """start, middle or end: which part of it stands at x"""
    bold: bool = False
    upright: bool = False
    """Turned a quarter to the left, reading upwards; `align` then runs along y."""
    grey: float = 0.0
    margin: float | None = None
    """mm of white field around it"""
    framed: bool = False
    """The white field has an outline."""

    @property
    def box(self) -> Box:
        """What it covers, its field included."""
        along = text_width(self.text, self.size, bold=self.bold)
        across = LINE_HEIGHT * self.size
        start = {"start": 0.0, "middle": -0.5 * along, "end": -along}[self.align]
        spare = self.margin or 0.0
        if self.margin is not None and not any(letter.isalpha() for letter in self.text):
            across = 0.74 * self.size
        low, high = start - spare, start + along + spare
        half = 0.5 * across + spare
        if self.upright:
            return self.x - half, self.y + low, self.x + half, self.y + high
        return self.x + low, self.y - half, self.x + high, self.y + half


Shape = Line | Strokes | Area | Disc | Words


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing. scale: how many mm of the building one mm of the page stands for."""

    title: str
    width: float
    height: float
    scale: float
    shapes: tuple[Shape, ...]

    @property
    def words(self) -> tuple[Words, ...]:
        """Every text of it."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Words))

    @property
    def discs(self) -> tuple[Disc, ...]:
        """Every circle of it."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Disc))


def areas_of(shape: object, on: On, fill: float | None, pen: Pen | None) -> list[Area]:
    """A polygon or multipolygon in page mm as areas, one for each part."""
    return [Area(rings_of(part), on, fill, pen) for part in polygons_of(shape)]


def rings_of(shape: object) -> tuple[tuple[Point, ...], ...]:
    """Every ring of a polygon or multipolygon, outer ones and holes alike, not closed."""
    parts = polygons_of(shape)
    return tuple(_ring(ring) for part in parts for ring in (part.exterior, *part.interiors))


def _ring(ring: shapely.LinearRing) -> tuple[Point, ...]:
    points = shapely.get_coordinates(ring)[:-1]
    return tuple((float(x), float(y)) for x, y in points)


def rectangle(box: Box, on: On, fill: float | None, pen: Pen | None) -> Area:
    """An upright rectangle."""
    x0, y0, x1, y1 = box
    return Area((((x0, y0), (x1, y0), (x1, y1), (x0, y1)),), on, fill, pen)


def shifted(shapes: Iterable[Shape], dx: float, dy: float) -> tuple[Shape, ...]:
    """The same shapes moved on the page."""
    return tuple(_shifted(shape, dx, dy) for shape in shapes)


def _shifted(shape: Shape, dx: float, dy: float) -> Shape:
    match shape:
        case Line():
            return replace(shape, points=tuple((x + dx, y + dy) for x, y in shape.points))
        case Strokes():
            ends = tuple((a + dx, b + dy, c + dx, d + dy) for a, b, c, d in shape.ends)
            return replace(shape, ends=ends, rings=_moved_rings(shape.rings, dx, dy))
        case Area():
            return replace(shape, rings=_moved_rings(shape.rings, dx, dy))
        case Disc() | Words():
            return replace(shape, x=shape.x + dx, y=shape.y + dy)


def _moved_rings(rings: tuple[tuple[Point, ...], ...], dx: float, dy: float) -> tuple[tuple[Point, ...], ...]:
    return tuple(tuple((x + dx, y + dy) for x, y in ring) for ring in rings)


def extent(shapes: Sequence[Shape]) -> Box:
    """What the shapes cover together; (0, 0, 0, 0) for none. The width of pens is not counted."""
    corners = [_bounds(shape) for shape in shapes]
    if not corners:
        return 0.0, 0.0, 0.0, 0.0
    table = np.array(corners)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _bounds(shape: Shape) -> Box:
    match shape:
        case Words():
            return shape.box
        case Disc():
            r = shape.radius
            return shape.x - r, shape.y - r, shape.x + r, shape.y + r
        case Line():
            points = np.array(shape.points)
        case Area():
            points = np.array([point for ring in shape.rings for point in ring])
        case Strokes():
            points = np.array(shape.ends).reshape(-1, 2)
    if not len(points):
        return np.inf, np.inf, -np.inf, -np.inf
    return float(points[:, 0].min()), float(points[:, 1].min()), float(points[:, 0].max()), float(points[:, 1].max())
