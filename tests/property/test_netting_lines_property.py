"""Stud lines of random frames, held against general overlays of straight lines."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box
from shapely.affinity import translate

from takeoff import netting_lines as netting_module
from takeoff.model import LayerTakeoff, MemberRole
from takeoff.netting_lines import LEAST_LINE, ON_EDGE, netting_lines, netting_lines_of
from tests.records_builder import layer_takeoff, member

KEY = "WALL-A"
places, sizes = (st.integers(low, high).map(lambda steps: 0.031 * steps) for low, high in ((0, 75), (7, 50)))


@st.composite
def layers(draw: st.DrawFn) -> LayerTakeoff:
    """The plain wall's layer, 2.4 m by 2.4 m, with up to three openings, which may overlap, and studs well apart.

    Of sides on one line it is a matter of rounding which lies before the other, so studs stand on another grid.
    """
    layer = layer_takeoff(KEY)
    openings = []
    for number in range(draw(st.integers(0, 3))):
        x, z = draw(places), draw(places)
        hole = box(x, z, x + draw(sizes), z + draw(sizes))
        openings.append(replace(layer.frame.openings[0], opening_id=f"o{number}", outline=hole))
    studs = []
    for number, left in enumerate(sorted(draw(st.sets(st.integers(0, 23), max_size=8)))):
        x, foot = 0.1 * left + 0.01 * draw(st.integers(0, 3)) + 0.0037, 0.01 * draw(st.integers(0, 120)) + 0.0037
        studs.append(member(number, MemberRole.STUD, box(x, foot, x + 0.045, foot + 1.2), KEY))
    return replace(layer, frame=replace(layer.frame, members=tuple(studs), openings=tuple(openings)))


@settings(max_examples=150, deadline=None)
@given(layers())
def test_stud_lines_are_what_overlays_of_lines_leave(layer):
    """Reference: shapely (GEOS), a general-purpose geometry library: the line up the middle of a stud in the netting,
    less the stretches where it or a side of the stud runs along the edge."""
    netting = box(0, 0, 2.4, 2.4) - shapely.union_all([opening.outline for opening in layer.frame.openings])
    edge = netting.boundary.buffer(ON_EDGE, join_style="mitre", cap_style="flat")
    expected = []
    for stud in layer.frame.members:
        x0, z0, x1, z1 = stud.solid.outline.bounds
        middle = 0.5 * (x0 + x1)
        left = LineString([(middle, z0), (middle, z1)]) & netting
        for x in (x0, middle, x1):
            along = LineString([(x, z0), (x, z1)]) & edge
            left = left - translate(along, middle - x, 0.0)
        merged = shapely.line_merge(left)
        expected.append(sum(part.length for part in shapely.get_parts(merged) if part.length >= LEAST_LINE))
    lines = netting_lines(layer)
    assert lines.n_stud_lines == sum(length > 0.0 for length in expected)
    assert lines.stud_lines == pytest.approx(sum(expected), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(layers(), max_size=4))
def test_stud_layers_worked_together_come_out_as_each_alone(several):
    assert netting_lines_of(several) == [netting_lines(layer) for layer in several]


def test_lines_are_cut_alike_in_however_many_blocks(monkeypatch):
    layer = layer_takeoff(KEY)
    studs = [member(number, MemberRole.STUD, box(x, 0.1, x + 0.04, 2.3), KEY) for number, x in enumerate((0.3, 0.7))]
    layer = replace(layer, frame=replace(layer.frame, members=tuple(studs)))
    whole = netting_lines_of([layer, layer])
    assert whole[0].n_stud_lines == 2
    for pairs in (1, 5, 13):
        monkeypatch.setattr(netting_module, "PAIRS_AT_ONCE", pairs)
        assert netting_lines_of([layer, layer]) == whole
