"""Frames drawn at random, written as IFC and taken off: volumes and numbers of cavities against closed-mesh booleans,
and nothing that changes with the place, the turn or the unit of the model."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box, transform

from geometry.booleans import boolean_voids
from geometry.solids import Prism, Solid
from takeoff import take_off
from takeoff.model import CavityKind, LayerTakeoff, Source
from takeoff.obstructions import holes_of
from tests.elevation_builder import ElevationModel, Setting

T = 0.038
NO_SLIVERS = '[tolerances]\nsliver_width = "0.02 mm"\nsliver_depth = "0.02 mm"\n'
CRUMB = 1e-7
"""m3; smaller parts are neither expected nor counted: rounding alone can make one of two."""
QUICK = settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(low, high).map(lambda value: value / 1000.0)


@dataclass(frozen=True)
class Drawn:
    """A wall's elevation, its depth, its members, what else stands in it, and its opening elements (x, z, w, h)."""

    outline: Polygon
    depth: float
    members: tuple[Prism, ...]
    obstructions: tuple[Prism, ...]
    openings: tuple[tuple[float, float, float, float], ...]


@st.composite
def frames(draw: st.DrawFn) -> Drawn:
    """Studs at one spacing under a level or raked plate, an opening or none, blockings, boxes and ducts."""
    depth = draw(st.sampled_from([0.089, 0.14, 0.184, 0.235]))
    spacing = draw(st.sampled_from([0.4, 0.4064, 0.6, 0.6096]))
    bays = draw(st.integers(3, 6))
    left, right = draw(millimetres(2300, 2900)), draw(st.sampled_from([0.0, 0.0, 0.4, -0.35, 0.9]))
    length = spacing * bays + T
    slope = right / length

    def top(x: float) -> float:
        return left + slope * x

    def under(x_min: float, x_max: float, z_min: float, below: float) -> Polygon:
        """An upright strip that ends `below` under the top of the wall."""
        return Polygon([(x_min, z_min), (x_max, z_min), (x_max, top(x_max) - below), (x_min, top(x_min) - below)])

    # Under a rake studs run a millimetre into the plate: numbers cannot write a sloping joint without a hairline.
    plate = T * float(np.hypot(1.0, slope))
    joint = plate - (0.001 if slope else 0.0)
    outline = Polygon([(0, 0), (length, 0), (length, top(length)), (0, top(0))])
    solids = [
        Prism(
            Polygon([(0, top(0) - plate), (length, top(length) - plate), (length, top(length)), (0, top(0))]), 0, depth
        )
    ]
    opening = draw(st.sampled_from(["none", "door", "window"]))
    first = draw(st.integers(1, bays - 2))
    lower, upper = first * spacing + T, (first + 2) * spacing
    studs = [n * spacing for n in range(bays + 1) if opening == "none" or n != first + 1]
    solids += [Prism(under(x, x + T, T, joint), 0.0, depth) for x in studs]
    holes: list[tuple[float, float, float, float]] = []
    if opening != "none":
        sill, head, clear = (0.0 if opening == "door" else 0.9), 1.9, (lower + T, upper - T)
        solids += [Prism(box(x, T, x + T, head), 0.0, depth) for x in (lower, upper - T)]
        solids.append(Prism(box(lower, head, upper, head + 0.15), 0.0, draw(st.sampled_from([depth, depth / 2.0]))))
        solids.append(
            Prism(under(first * spacing + spacing, first * spacing + spacing + T, head + 0.15, joint), 0.0, depth)
        )
        if opening == "window":
            solids.append(Prism(box(clear[0], sill - T, clear[1], sill), 0.0, depth))
        if draw(st.booleans()):
            holes.append((clear[0], sill, clear[1] - clear[0], head - sill))
    parts = [(0.0, lower + T), (upper - T, length)] if opening == "door" else [(0.0, length)]
    solids += [Prism(box(x_min, 0.0, x_max, T), 0.0, depth) for x_min, x_max in parts]
    free = [n for n in range(bays) if opening == "none" or n not in (first, first + 1)]
    for bay in draw(st.lists(st.sampled_from(free), max_size=3, unique=True)):
        z, near = draw(millimetres(300, 1900)), draw(st.sampled_from([0.0, 0.0, depth / 2.0]))
        far = draw(st.sampled_from([depth, near + depth / 3.0]))
        solids.append(Prism(box(bay * spacing + T, z, (bay + 1) * spacing, z + T), near, far))
    return Drawn(outline, depth, tuple(solids), draw(obstructions(length, depth)), tuple(holes))


@st.composite
def obstructions(draw: st.DrawFn, length: float, depth: float) -> tuple[Prism, ...]:
    """Boxes and ducts anywhere in the wall, across studs or from face to face."""
    found: list[Prism] = []
    for _ in range(draw(st.integers(0, 2))):
        x, z = draw(millimetres(0, int(length * 1000) - 100)), draw(millimetres(100, 2000))
        near = draw(st.sampled_from([0.0, 0.02, depth / 2.0]))
        far = draw(st.sampled_from([depth, min(depth, near + 0.05)]))
        width, height = draw(millimetres(50, 700)), draw(millimetres(50, 300))
        found.append(Prism(box(x, z, min(x + width, length), z + height), near, far))
    return tuple(found)


@st.composite
def untidy(draw: st.DrawFn) -> Drawn:
    """The same with every member moved by up to 3 mm along and up and its faces off by up to 2 mm, in tenths of a mm,
    and some left out."""
    drawn = draw(frames())
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    moved: list[Prism] = []
    for prism in drawn.members:
        x, z, near, far = (rng.integers([-30, -30, -20, -20], [31, 31, 21, 21]) / 10000.0).tolist()
        moved.append(Prism(affinity.translate(prism.outline, x, z), prism.y_min + near, prism.y_max + far))
    gone = draw(st.sets(st.integers(0, len(moved) - 1), max_size=1))
    return replace(drawn, members=tuple(prism for number, prism in enumerate(moved) if number not in gone))


PLACES = st.builds(
    Setting,
    st.sampled_from(["METRE", "MILLIMETRE", "FOOT", "INCH", "CENTIMETRE"]),
    st.tuples(*[st.floats(-2000.0, 2000.0)] * 2, st.floats(-10.0, 200.0)),
    st.floats(-180.0, 180.0),
    st.sampled_from(["IFC2X3", "IFC4"]),
)


def taken(drawn: Drawn, setting: Setting, job: str = "") -> LayerTakeoff:
    model = ElevationModel(drawn.outline, drawn.depth, setting)
    for x, z, width, height in drawn.openings:
        model.opening(x, z, width, height, "IfcWindow")
    for prism in drawn.members:
        model.add([prism])
    for prism in drawn.obstructions:
        model.add([prism], ifc_class="IfcFlowSegment")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "job.toml"
        file.write_text(job, encoding="utf-8")
        result = take_off(model.made.save(Path(folder) / "wall.ifc"), file)
    (row,) = result.results
    assert row.layers, (row.reason, [finding.message for finding in result.findings])
    (layer,) = row.layers
    return layer


def cavities(layer: LayerTakeoff) -> list[float]:
    kept = (CavityKind.SLIVER, CavityKind.OPENING_GAP)
    return sorted((cavity.volume for cavity in layer.cavities if cavity.kind not in kept), reverse=True)


def parts_by_boolean(layer: LayerTakeoff) -> Sequence[float]:
    """Connected parts that the boolean engine leaves of the same solids.

    Rounded to 1e-7 m: members that touch as drawn lie 1e-13 m apart after turning, and the engine sees every hairline.
    """
    frame = layer.frame
    solids = [*holes_of(frame), *(member.solid for member in frame.members)]
    return boolean_voids(
        _snapped(frame.layer.outline), [_snapped(solid) for solid in solids], (0.0, round(frame.layer.depth, 7))
    )


def _snapped(solid: Solid) -> Prism:
    assert isinstance(solid, Prism)
    outline = transform(solid.outline, lambda points: np.round(points, 7))
    return Prism(outline, round(solid.y_min, 7), round(solid.y_max, 7))


@QUICK
@given(untidy(), PLACES)
def test_cavities_add_up_to_the_closed_mesh_boolean_of_the_same_wall(drawn: Drawn, setting: Setting) -> None:
    layer = taken(drawn, setting)
    assert layer.balance.residual < 1e-9
    assert sum(cavities(layer)) == pytest.approx(layer.balance.cavities, rel=1e-12)
    empty = layer.balance.cavities + layer.balance.slivers
    assert empty == pytest.approx(sum(parts_by_boolean(layer)), abs=1e-7 * layer.balance.gross)


@QUICK
@given(frames(), PLACES)
def test_each_connected_part_of_a_tidy_wall_is_one_cavity(drawn: Drawn, setting: Setting) -> None:
    layer = taken(drawn, setting, NO_SLIVERS)
    expected = [volume for volume in parts_by_boolean(layer) if volume > CRUMB]
    found = [volume for volume in cavities(layer) if volume > CRUMB]
    assert found == pytest.approx(expected, abs=1e-7 * layer.balance.gross)


@QUICK
@given(untidy(), PLACES)
def test_each_connected_part_of_an_untidy_wall_is_one_cavity(drawn: Drawn, setting: Setting) -> None:
    layer = taken(drawn, setting, NO_SLIVERS)
    expected = [volume for volume in parts_by_boolean(layer) if volume > CRUMB]
    found = [volume for volume in cavities(layer) if volume > CRUMB]
    assert found == pytest.approx(expected, abs=1e-7 * layer.balance.gross)


@QUICK
@given(untidy(), PLACES, PLACES)
def test_place_turn_unit_and_schema_of_the_model_change_nothing(drawn: Drawn, one: Setting, other: Setting) -> None:
    here, there = taken(drawn, one), taken(drawn, other)
    assert there.frame.source is here.frame.source is Source.MODELLED
    assert [str(member.role) for member in there.frame.members] == [str(member.role) for member in here.frame.members]
    assert len(there.cavities) == len(here.cavities)
    slack = 1e-9 * here.balance.gross
    for mine, yours in zip(here.cavities, there.cavities, strict=True):
        assert (yours.kind, yours.method) == (mine.kind, mine.method)
        assert yours.volume == pytest.approx(mine.volume, abs=slack)
        assert yours.area == pytest.approx(mine.area, abs=1e-9 * here.gross_area)
        assert yours.outline.bounds == pytest.approx(mine.outline.bounds, abs=1e-8)
    assert [round(one.outline.area, 7) for one in there.frame.openings] == [
        round(one.outline.area, 7) for one in here.frame.openings
    ]
    assert there.balance.framing == pytest.approx(here.balance.framing, abs=slack)
