"""Odd walls drawn at random, through IFC: volumes and numbers of cavities by booleans, and place changes nothing."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.booleans import boolean_voids
from geometry.solids import Mesh, Prism, as_mesh, moved, section
from takeoff.model import CavityKind, LayerTakeoff, Status
from tests.ifc_builder import UNITS, Builder
from tests.odd_wall_builder import (
    THICKNESS,
    Place,
    bent_plan,
    bent_wall,
    curved_wall,
    leaning,
    odd_wall,
    only_wall,
    slab,
    solid_of,
    taken_off,
)

SHARP = '[tolerances]\nsliver_width = "0.02 mm"\nsliver_depth = "0.02 mm"\n'
LAYERS = (("Gypsum board", 0.0125), ("Timber studs", 0.14), ("Plywood sheathing", 0.0125))


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(low, high).map(lambda value: value / 1000.0)


places = st.builds(
    Place,
    at=st.tuples(millimetres(-90_000, 90_000), millimetres(-90_000, 90_000), millimetres(-9_000, 9_000)),
    angle=st.integers(0, 3599).map(lambda tenth: tenth / 10.0),
    roll=st.sampled_from([0.0, 0.0, 5.0, -12.0]),
)


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A body and its openings in the wall's own axes."""

    body: Mesh
    openings: tuple[Mesh, ...]


@st.composite
def elevations(draw: st.DrawFn) -> shapely.Polygon:
    """A raked, gabled or stepped elevation on a level or stepped foot."""
    length, left, right = draw(millimetres(1500, 5000)), draw(millimetres(900, 3000)), draw(millimetres(900, 3000))
    kind = draw(st.sampled_from(["raked", "gable", "stepped", "triangle"]))
    at = round(length * draw(st.sampled_from([0.3, 0.5, 0.62])), 3)
    top = {
        "raked": [(length, right), (0.0, left)],
        "gable": [(length, right), (at, max(left, right) + 0.8), (0.0, left)],
        "stepped": [(length, right), (at, right), (at, left), (0.0, left)],
        "triangle": [(at, max(left, right))],
    }[kind]
    rise = draw(st.sampled_from([0.0, 0.0, 0.32]))
    foot = [(0.0, 0.0), (at, 0.0), (at, rise), (length, rise)] if rise and kind != "triangle" else [(0, 0), (length, 0)]
    return shapely.Polygon([*foot, *top])


@st.composite
def holes(draw: st.DrawFn) -> shapely.Polygon:
    x, z = draw(millimetres(300, 2500)), draw(st.sampled_from([0.0, 0.6, 0.9]))
    width, height = draw(millimetres(400, 1400)), draw(millimetres(500, 1600))
    kind = draw(st.sampled_from(["box", "arch", "round", "slanted sill"]))
    if kind == "box":
        return shapely.box(x, z, x + width, z + height)
    if kind == "slanted sill":
        return shapely.Polygon([(x, z), (x + width, z + 0.25), (x + width, z + height), (x, z + height)])
    turns = np.linspace(0.0, np.pi if kind == "arch" else 2.0 * np.pi, 24, endpoint=kind == "arch")
    arc = np.stack([np.cos(turns), np.sin(turns)], axis=1) * width / 2.0 + [x + width / 2.0, z + height]
    return shapely.Polygon([(x, z), (x + width, z), *arc.tolist()] if kind == "arch" else arc)


@st.composite
def odd_walls(draw: st.DrawFn) -> Drawn:
    """A slab of an odd elevation, up to two openings in it; its top may slope across the depth, or it may lean."""
    body = slab(draw(elevations()))
    across = draw(st.sampled_from([0.0, 0.0, 0.7, -2.5]))
    vertices = body.vertices.copy()
    high = vertices[:, 2] > 0.5
    vertices[high, 2] += across * vertices[high, 1]
    body = Mesh(vertices, body.faces)
    drawn = [draw(holes()) for _ in range(draw(st.integers(0, 2)))]
    # An opening mostly outside its wall shows a gap there that may have been cut for it; that is another matter.
    middle = section(body, THICKNESS / 2.0)
    inside = [shape for shape in drawn if shapely.intersection(shape, middle).area > 0.6 * shape.area]
    shapes = [solid_of(shape, -0.3, THICKNESS + 0.3) for shape in inside]
    # An opening that leans with its wall would be cut level: only walls without one lean here.
    lean = draw(st.sampled_from([0.0, 0.0, 0.11])) if not shapes else 0.0
    return Drawn(leaning(body, lean), tuple(shapes))


def layer_of(drawn: Drawn, place: Place, unit: str = "MILLIMETRE", schema: str = "IFC4") -> LayerTakeoff:
    model = Builder(schema, unit)
    odd_wall(model, drawn.body, place, drawn.openings, LAYERS)
    with tempfile.TemporaryDirectory() as folder:
        wall = only_wall(taken_off(model, Path(folder), SHARP))
    assert wall.status is Status.TAKEN_OFF, wall.reason
    (taken,) = wall.layers
    return taken


def volumes(taken: LayerTakeoff) -> np.ndarray:
    """Of all that is open in the stud layer, largest first, m3."""
    return np.sort([c.volume for c in taken.cavities if c.kind is not CavityKind.OPENING_GAP])[::-1]


def parts_left(taken: LayerTakeoff, drawn: Drawn, place: Place, grown: float) -> list[float]:
    layer = taken.frame.layer
    members = [as_mesh(larger(member.solid, grown)) for member in taken.frame.members]
    body, *openings = (moved(place.world(mesh), layer.axes) for mesh in (drawn.body, *drawn.openings))
    return [part for part in boolean_voids(body, [*openings, *members], (0.0, layer.depth)) if part > 1e-7]


def larger(solid: Prism | Mesh, by: float) -> Prism | Mesh:
    if by == 0.0 or not isinstance(solid, Prism):
        return solid
    outline = shapely.buffer(solid.outline, by, join_style="mitre")
    assert isinstance(outline, shapely.Polygon)
    return Prism(outline, solid.y_min - by, solid.y_max + by)


@settings(max_examples=40, deadline=None)
@given(odd_walls(), places)
def test_volumes_are_those_of_closed_mesh_booleans(drawn: Drawn, place: Place):
    taken = layer_of(drawn, place)
    gross = taken.balance.gross
    found = volumes(taken)
    assert taken.balance.residual < 1e-6
    assert float(found.sum()) == pytest.approx(sum(parts_left(taken, drawn, place, 0.0)), abs=1e-6 * gross)
    # Members that end within rounding of a rake let the booleans see daylight: a hair more closes it.
    parts = parts_left(taken, drawn, place, 1e-6)
    large = [float(volume) for volume in found if volume > 1e-5 * gross]
    assert len(large) == len([part for part in parts if part > 1e-5 * gross])
    assert float(found.sum()) == pytest.approx(sum(parts), abs=1e-4 * gross)


@settings(max_examples=30, deadline=None)
@given(odd_walls(), places, st.sampled_from(sorted(UNITS)), st.sampled_from(["IFC2X3", "IFC4"]))
def test_place_unit_and_schema_change_nothing(drawn: Drawn, place: Place, unit: str, schema: str):
    here = layer_of(drawn, Place(roll=place.roll))
    there = layer_of(drawn, place, unit, schema)
    gross = here.balance.gross
    assert len(there.cavities) == len(here.cavities)
    assert there.balance.gross == pytest.approx(gross, rel=1e-9)
    assert volumes(there) == pytest.approx(volumes(here), abs=1e-9 * gross)


@settings(max_examples=20, deadline=None)
@given(
    millimetres(1200, 9000), st.integers(20, 160), millimetres(1500, 3000), st.booleans(), places,
    st.sampled_from(sorted(UNITS)),
)  # fmt: skip
def test_curved_walls_are_annulus_sectors_wherever_they_stand(
    radius: float, degrees: int, height: float, towards_centre: bool, place: Place, unit: str
):
    sweep = np.radians(degrees)
    model = Builder("IFC4", unit)
    curved_wall(
        model, radius=radius, sweep=sweep, height=height, layers=LAYERS, towards_centre=towards_centre,
        at=place.at, angle=place.angle,
    )  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        (taken,) = only_wall(taken_off(model, Path(folder), SHARP)).layers
    side = -1.0 if towards_centre else 1.0
    near, far = radius + side * 0.0125, radius + side * 0.1525
    expected = abs(far**2 - near**2) / 2.0 * sweep * height
    # The reader's kernel puts corners of arcs within 1e-7 of their circle.
    assert taken.balance.gross == pytest.approx(expected, rel=1e-6)
    assert taken.balance.residual < 1e-9


@st.composite
def bent_lines(draw: st.DrawFn) -> list[tuple[float, float]]:
    """A broken line of two to four lengths that turn by 15 to 100 degrees, always the same way or to and fro."""
    heading, points = 0.0, [(0.0, 0.0)]
    for _ in range(draw(st.integers(2, 4))):
        length = draw(millimetres(1500, 4000))
        x, y = points[-1]
        points.append((x + length * float(np.cos(heading)), y + length * float(np.sin(heading))))
        heading += np.radians(draw(st.integers(15, 85))) * draw(st.sampled_from([1.0, -1.0]))
    return points


@settings(max_examples=25, deadline=None)
@given(bent_lines(), places)
def test_bent_walls_count_every_corner_once(line: list[tuple[float, float]], place: Place):
    if not shapely.LineString(line).is_simple or bent_plan(line, THICKNESS).interiors:
        return
    model = Builder()
    bent_wall(model, line, height=2.4, layers=LAYERS, at=place.at, angle=place.angle)
    with tempfile.TemporaryDirectory() as folder:
        wall = only_wall(taken_off(model, Path(folder), SHARP))
    assert wall.status is Status.TAKEN_OFF, wall.reason
    studs = shapely.difference(bent_plan(line, 0.1525), bent_plan(line, 0.0125)).area
    assert len(wall.layers) == len(line) - 1
    assert sum(taken.balance.gross for taken in wall.layers) == pytest.approx(studs * 2.4, rel=1e-6)
