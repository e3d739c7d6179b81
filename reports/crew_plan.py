"""Plan of a storey that shows which wall is on which sheet, as primitives in millimetres on a page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.frames import Axes
from geometry.solids import areal, silhouette
from reports.crew_layers import LayerPlan
from reports.drawing import Area, Drawing, Line, On, Pen, Point, Shape, Words, areas_of, extent, shifted
from reports.drawing_labels import Taken, boxes_around, place_beside
from reports.drawing_scale import fitting_scale, scale_bar
from reports.drawing_text import shortened
from takeoff.units import UnitSystem

FloatArray = NDArray[np.float64]

SCALES = (20.0, 25.0, 50.0, 75.0, 100.0)
FILLED_GREY, OTHER_GREY = 0.55, 1.0
_MARGIN = 9.0
"""mm around the walls, for labels outside"""
NAME_TEXT = 2.2
"""mm, font of the names of rooms."""
NAME_WIDTHS = (40.0, 25.0, 15.0)
"""mm to which a name is shortened where it has no room in full."""
_ALONG = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Where along a wall its label is tried."""


@dataclass(frozen=True, slots=True, eq=False)
class _Footprint:
    """A stud layer's wall from above. shape, middle, side: page mm; side points to the fill side."""

    sheet: int | None
    shape: Polygon | MultiPolygon
    middles: FloatArray
    side: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PlanView:
    """How all storeys are shown. room: mm, mm. turn: rotation (2, 2) of world x, y onto the page."""

    room: Point
    turn: FloatArray
    system: UnitSystem
    north: tuple[float, float] | None = None
    """World xy direction of true north, where the model says it."""


def storey_plan(plans: Sequence[LayerPlan], sheets: Mapping[str, int], view: PlanView, title: str) -> Drawing:
    """The walls of one storey from above, at the largest scale at which they fit the room of the view.

    sheets: number of the sheet by key of the stud layer; walls without one are drawn empty.
    """
    room, turn, system = view.room, view.turn, view.system
    outlines = [_outline(plan) @ turn.T for plan in plans]
    every = np.concatenate(outlines)
    low, high = every.min(axis=0), every.max(axis=0)
    size = high - low
    scale = fitting_scale(size[0], size[1], (room[0] - 2 * _MARGIN, room[1] - 2 * _MARGIN), SCALES)
    factor = 1000.0 / scale
    footprints = [
        _footprint(plan, sheets.get(plan.key), (outline - low) * factor, turn)
        for plan, outline in zip(plans, outlines, strict=True)
    ]
    shapes: list[Shape] = []
    for footprint in sorted(footprints, key=lambda each: each.sheet is not None):
        grey = OTHER_GREY if footprint.sheet is None else FILLED_GREY
        shapes += areas_of(footprint.shape, On.MEMBERS, grey, Pen(0.15))
    taken = Taken()
    labels = _sheet_numbers(footprints, taken)
    names = _room_names(plans, footprints, lambda points: (points @ turn.T - low) * factor, taken)
    shapes += [*labels, *names]
    low_label = min(0.0, extent(labels)[1])
    bar = scale_bar((0.0, low_label - 5.0), scale, system, f"1:{scale:g}")
    shapes += bar
    if view.north is not None:
        shapes += _north((extent(bar)[2] + 12.0, low_label - 8.0), turn @ np.array(view.north))
    x0, y0, x1, y1 = extent(shapes)
    moved = shifted(shapes, 0.5 * (room[0] - x0 - x1), 1.0 - y0)
    return Drawing(title, room[0], y1 - y0 + 2.0, scale, moved)


def turn_of(plans: Sequence[LayerPlan]) -> FloatArray:
    """Rotation (2, 2) that brings most wall length onto the page's axes, the house's longer side across the page."""
    if not plans:
        return np.eye(2)
    angles = [np.arctan2(*plan.layer.frame.layer.axes.directions[0][1::-1]) for plan in plans]
    lengths = [plan.wall.wall.length for plan in plans]
    # Directions a quarter turn apart count as one: four times the angle is averaged.
    mean = sum(length * np.exp(4j * angle) for angle, length in zip(angles, lengths, strict=True))
    angle = float(np.angle(mean)) / 4.0 if abs(mean) > 1e-9 else 0.0
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    width, height = np.ptp(np.concatenate([_outline(plan) for plan in plans]) @ turn.T, axis=0)
    return np.array([[0.0, 1.0], [-1.0, 0.0]]) @ turn if height > width + 0.5 else turn


def _outline(plan: LayerPlan) -> FloatArray:
    """The wall from above, all its layers: world x, y of its rim (n, 2), m."""
    layer = plan.layer.frame.layer
    x0, _, x1, _ = silhouette(layer.outline).bounds
    y0 = min([0.0, *(each.y_min for each in layer.layers)])
    y1 = max([layer.depth, *(each.y_max for each in layer.layers)])
    along = np.linspace(x0, x1, 2 if isinstance(layer.axes, Axes) else 25)
    near = np.column_stack([along, np.full(len(along), y0), np.zeros(len(along))])
    far = np.column_stack([along[::-1], np.full(len(along), y1), np.zeros(len(along))])
    return layer.axes.to_world(np.concatenate([near, far]))[:, :2]


def _footprint(plan: LayerPlan, sheet: int | None, rim: FloatArray, turn: FloatArray) -> _Footprint:
    half = len(rim) // 2
    near, far = rim[:half], rim[half:][::-1]
    steps = np.linspace(0.0, 1.0, half)
    middles = np.column_stack([np.interp(_ALONG, steps, 0.5 * (near[:, axis] + far[:, axis])) for axis in (0, 1)])
    middle = half // 2
    side = near[middle] - far[middle]
    length = float(np.hypot(*side))
    unit = side / length if length > 1e-9 else np.array([0.0, 1.0])
    return _Footprint(sheet, areal(shapely.make_valid(shapely.polygons(rim))), middles, unit)


def _north(at: Point, way: FloatArray) -> list[Shape]:
    """An arrow to true north with its letter. way: (2,) unit, on the page."""
    x, y = at
    across = np.array([-way[1], way[0]])
    tip, foot = 4.0 * way, -4.0 * way
    half = [tuple((corner + at).tolist()) for corner in (tip, foot + 1.5 * way, foot + 1.6 * across)]
    other = [tuple((corner + at).tolist()) for corner in (tip, foot + 1.5 * way, foot - 1.6 * across)]
    letter = 6.0 * way
    return [
        Area((tuple(half),), On.LEGEND, 0.0, Pen(0.13)),
        Area((tuple(other),), On.LEGEND, 1.0, Pen(0.13)),
        Words(x + float(letter[0]), y + float(letter[1]), "N", 2.6, On.LEGEND, bold=True),
    ]


def _sheet_numbers(footprints: Sequence[_Footprint], taken: Taken) -> list[Shape]:
    """The number of its sheet beside every wall that has one, on the fill side where there is room."""
    walls = areal(shapely.union_all([each.shape for each in footprints]))
    lines: list[Shape] = []
    labels: list[Shape] = []
    for footprint in footprints:
        if footprint.sheet is None:
            continue
        trial = _label(str(footprint.sheet), (0.0, 0.0))
        x0, y0, x1, y1 = trial.box
        thick = float(shapely.distance(shapely.points(footprint.middles[0]), footprint.shape.boundary))
        away = thick + 0.8 + 0.5 * np.hypot(x1 - x0, y1 - y0)
        tries = np.concatenate([footprint.middles + way * away * footprint.side for way in (1.0, -1.0)])
        boxes = boxes_around(tries, x1 - x0, y1 - y0)
        good = np.flatnonzero(taken.free(boxes) & ~shapely.intersects(shapely.box(*boxes.T), walls))
        start = footprint.middles[int(good[0]) % len(_ALONG)] if len(good) else footprint.middles[0]
        at = (float(start[0]), float(start[1]))
        point = tuple(tries[good[0]].tolist()) if len(good) else place_beside(at, x1 - x0, y1 - y0, taken, 1.5)
        label = _label(str(footprint.sheet), (point[0], point[1]))
        taken.add(label.box)
        lines.append(Line((at, (point[0], point[1])), On.NUMBERS, Pen(0.13)))
        labels.append(label)
    return [*lines, *labels]


def _label(text: str, at: Point) -> Words:
    return Words(at[0], at[1], text, 3.0, On.NUMBERS, bold=True, margin=0.6, framed=True)


def _room_names(
    plans: Sequence[LayerPlan],
    footprints: Sequence[_Footprint],
    to_page: Callable[[FloatArray], FloatArray],
    taken: Taken,
) -> list[Shape]:
    """Names of rooms amid the cavities that open to them, where they have room."""
    places: dict[str, list[FloatArray]] = {}
    for plan in plans:
        side = plan.layer.frame.layer.axes.directions[1][:2]
        for cavity in plan.cavities:
            if cavity.room:
                places.setdefault(cavity.room, []).append(np.array(cavity.centroid[:2]) - side)
    walls = areal(shapely.union_all([each.shape for each in footprints]))
    house = areal(walls.convex_hull)
    names: list[Shape] = []
    for name, points in sorted(places.items()):
        at = to_page(np.array(points).mean(axis=0)[None])[0]
        for text in dict.fromkeys([name, *(shortened(name, NAME_TEXT, width) for width in NAME_WIDTHS)]):
            words = _name_near(at, text, (house, walls), taken) if text else None
            if words is not None:
                taken.add(words.box)
                names.append(words)
                break
    return names


def _name_near(
    at: FloatArray, text: str, shapes: tuple[Polygon | MultiPolygon, Polygon | MultiPolygon], taken: Taken
) -> Words | None:
    """A name at a place or a little above or below it, inside the house and clear of its walls; None without room."""
    house, walls = shapes
    x0, y0, x1, y1 = Words(0.0, 0.0, text, NAME_TEXT, On.LEGEND).box
    for step in (0.0, 4.0, -4.0, 8.0, -8.0, 12.0, -12.0):
        box = boxes_around(np.array([[at[0], at[1] + step]]), x1 - x0, y1 - y0)
        field = shapely.box(*box[0])
        if taken.free(box)[0] and house.covers(field) and not field.intersects(walls):
            return Words(float(at[0]), float(at[1] + step), text, NAME_TEXT, On.LEGEND)
    return None
