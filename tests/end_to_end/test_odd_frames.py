"""Small models with frames that are modelled in odd ways, each with its answer by independent arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from takeoff import Takeoff, take_off
from tests.ifc_builder import Builder


@pytest.fixture(name="run")
def _run(tmp_path: Path) -> Callable[..., Takeoff]:
    def run(model: Builder, **options: Any) -> Takeoff:
        return take_off(model.save(tmp_path / "model.ifc"), **options)

    return run


def table(result: Takeoff) -> Any:
    (row,) = result.walls.itertuples()
    return row


# ---------------------------------------------------------------- a wall that runs round a room


def test_opposite_sides_of_a_ring_are_no_rows_of_studs_behind_each_other(run):
    """5 x 4 m outside, 12.5 mm lining, 140 mm studs, 12.5 mm sheathing, 2.7 m high: the studs' ring is 4.975 x 3.975 m
    outside and 4.695 x 3.695 m inside."""
    model = Builder()
    points = [
        [(0.0, 0.0), (5.0, 0.0), (5.0, 4.0), (0.0, 4.0)],
        [(0.165, 0.165), (4.835, 0.165), (4.835, 3.835), (0.165, 3.835)],
    ]
    rings = [[model.point(point) for point in ring] for ring in points]
    curves = [model.file.create_entity("IfcPolyline", [*ring, ring[0]]) for ring in rings]
    profile = model.file.create_entity("IfcArbitraryProfileDefWithVoids", "AREA", None, curves[0], [curves[1]])
    wall = model.element("IfcWall", [model.extruded_profile(profile, 2.7)], name="Ring")
    model.layer_usage([wall], model.layer_set([("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB", 0.0125)]))
    result = run(model)
    row = table(result)
    studs = (4.975 * 3.975 - 4.695 * 3.695) * 2.7
    assert row.gross_volume_m3 == pytest.approx(studs, rel=1e-6)
    assert row.stud_depth_m == pytest.approx(0.14)
    assert row.insulated_area_m2 == pytest.approx(studs / 0.14, rel=1e-6)
    assert row.stud_layers == 4
