"""Bodies of cavities that are written into a model."""

from __future__ import annotations

from shapely import box

from reports.ifc_out_cavities import Likeness, cavity_body
from tests.records_builder import cavity, layer_takeoff


def test_a_cavity_without_volume_is_drawn_as_its_outline():
    # What rounding leaves between two faces that all but touch has an outline, but encloses nothing.
    film = cavity(1, box(0.05, 0.05, 0.45, 2.35), "W", volume=0.0)
    assert cavity_body(film, layer_takeoff("W")).likeness is Likeness.OUTLINE


def test_a_plain_cavity_is_drawn_exactly():
    assert cavity_body(cavity(1, box(0.05, 0.05, 0.45, 2.35), "W"), layer_takeoff("W")).likeness is Likeness.EXACT
