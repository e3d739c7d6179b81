"""Where to look at a finding: storey, coordinates in the model's axes, and what stands there."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from reports.check_files import check_files
from takeoff.building import Model
from takeoff.columns import column_texts, csv_text
from takeoff.finding import Finding, Severity, Spot
from takeoff.finding_places import WHOLE_MODEL, located
from takeoff.job import default_job
from takeoff.model import Status
from takeoff.pipeline import take_off_model
from takeoff.plans.plan_check import check_plans
from takeoff.reading import read_model
from takeoff.result import Takeoff
from takeoff.tables import FINDINGS
from tests.ifc_builder import Builder
from tests.odd_wall_builder import LINED, curved_wall

HOUSE = Path(__file__).resolve().parents[2] / "sample_models" / "two_storey_house.ifc"


@pytest.fixture(scope="module")
def house() -> tuple[Model, Takeoff]:
    model = read_model(HOUSE)
    return model, take_off_model(model, default_job())


def spot_of(house: tuple[Model, Takeoff], wall_id: str = "", element_id: str = "", **more: object) -> Spot:
    finding = Finding("opening-clipped", Severity.WARNING, "Made up.", wall_id, element_id, **more)  # type: ignore[arg-type]
    (found,) = located([finding], house[0], house[1].results)
    assert found == finding
    assert found.spot is not None
    return found.spot


def test_a_cavity_is_found_at_its_own_middle_on_its_storey(house):
    seen = 0
    for row in house[1].results:
        for layer in row.layers:
            for cavity in layer.cavities[::5]:
                spot = spot_of(house, row.wall.wall_id, cavity.cavity_id)
                x, y, z = layer.frame.layer.axes.to_local([spot.point])[0]
                x_min, z_min, x_max, z_max = cavity.outline.bounds
                assert (x, z) == pytest.approx(((x_min + x_max) / 2, (z_min + z_max) / 2))
                assert cavity.y_min < y < cavity.y_max
                assert spot.storey == row.wall.storey
                assert spot.look_at.startswith(
                    f"cavity {cavity.cavity_id.split('/')[-1]}, {x_min:.2f} to {x_max:.2f} m"
                )
                assert "from its fill side" in spot.look_at
                seen += 1
    assert seen > 20


def test_an_element_is_found_without_the_wall_being_named(house):
    row = next(row for row in house[1].results if row.layers and row.layers[0].frame.openings)
    opening = row.layers[0].frame.openings[0]
    assert spot_of(house, "", opening.opening_id).point == spot_of(house, row.wall.wall_id, opening.opening_id).point


def test_a_wall_is_found_at_its_middle_and_named_with_the_room_on_its_fill_side(house):
    sources = {wall.global_id: wall for wall in house[0].walls}
    for row in house[1].results:
        spot = spot_of(house, row.wall.wall_id, row.wall.wall_id)
        points = np.concatenate([mesh.vertices for mesh in sources[row.wall.wall_id].body])
        assert spot.point is not None
        assert (points.min(axis=0) <= spot.point).all()
        assert (spot.point <= points.max(axis=0)).all()
        rooms = row.layers[0].frame.layer.rooms if row.layers else ()
        expected = f", from its fill side ({rooms[0]})" if rooms else ", from its fill side" if row.layers else ""
        assert spot.look_at == f"the whole wall{expected}"


def test_a_place_that_a_finding_states_is_kept(house):
    row = next(row for row in house[1].results if row.layers)
    axes = row.layers[0].frame.layer.axes
    place = tuple(axes.to_world([[1.25, 0.03, 0.75]])[0].tolist())
    spot = spot_of(house, row.wall.wall_id, row.wall.wall_id, place=place)
    assert spot.point == place
    assert spot.look_at.startswith("1.25 m along and 0.75 m up in wall axes, from its fill side")


def test_a_room_is_found_from_inside(house):
    room = house[0].spaces[0]
    corners = np.concatenate([mesh.vertices for mesh in room.solids])
    spot = spot_of(house, "", room.global_id)
    assert spot.point == pytest.approx((corners.min(axis=0) + corners.max(axis=0)) / 2)
    assert (spot.storey, spot.look_at) == (room.storey, f"room {room.label}, from inside it")
    edge = spot_of(house, "", room.global_id, place=(1.0, 2.0, 3.0))
    assert (edge.point, edge.look_at) == ((1.0, 2.0, 3.0), f"edge of room {room.label}, from inside it")


def test_the_whole_model_has_no_point(house):
    assert spot_of(house) == Spot("", None, WHOLE_MODEL)
    unknown = spot_of(house, "", "nobody", element_class="IfcPlate", element_name="P1")
    assert unknown == Spot("", None, "IfcPlate P1")


def test_a_wall_that_is_left_out_and_a_curved_one_have_points(tmp_path):
    model = Builder("IFC4", "FOOT")
    model.wall("Brick", layers=(("Brick", 0.24),), thickness=0.24, at=(20.0, 0.0, 0.0), length=4.0, height=2.0)
    curved_wall(model, radius=4.0, sweep=1.2, height=2.5, layers=LINED)
    read = read_model(model.save(tmp_path / "model.ifc"))
    taken = take_off_model(read, default_job())
    brick, curved = sorted(taken.results, key=lambda row: row.wall.name)
    assert brick.status is Status.LEFT_OUT
    both = read, taken
    assert spot_of(both, brick.wall.wall_id).point == pytest.approx((22.0, 0.12, 1.0), abs=1e-6)
    assert spot_of(both, brick.wall.wall_id).look_at == "the whole wall"
    point = spot_of(both, curved.wall.wall_id).point
    assert point is not None
    # The centre lies 4 m along y; the studs stand 12.5 to 152.5 mm inside that radius.
    assert np.hypot(point[0], point[1] - 4.0) == pytest.approx(4.0 - 0.0125 - 0.07, abs=1e-3)


def test_the_tables_of_takeoff_and_check_have_the_places_in_metres(tmp_path):
    model = Builder("IFC4", "INCH")
    wall = model.wall("Bare", layers=(("Brick", 0.24),), thickness=0.24, at=(3.0, 1.0, 0.0), length=4.0, height=2.0)
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    read = read_model(model.save(tmp_path / "model.ifc"))
    check = check_plans(read, take_off_model(read, default_job()))
    text = check_files(read, check)["findings.csv"]
    assert isinstance(text, str)
    rows = [row for row in csv.DictReader(io.StringIO(text)) if row["code"] == "outside-wall-not-insulated"]
    (row,) = rows
    assert [float(row[name]) for name in ("x_m", "y_m", "z_m")] == pytest.approx([5.0, 1.12, 1.0])
    assert (row["storey"], row["look_at"]) == ("Ground floor", "the whole wall")


def test_a_finding_without_a_spot_has_empty_cells():
    finding = Finding("x", Severity.INFO, "No.")
    text = csv_text(FINDINGS, column_texts(FINDINGS, [finding]))
    (row,) = csv.DictReader(io.StringIO(text))
    assert [row[name] for name in ("storey", "x_m", "y_m", "z_m", "look_at")] == [""] * 5
    assert finding == replace(finding, spot=Spot("", None, "elsewhere"))


def test_every_finding_of_a_takeoff_and_of_its_check_has_been_looked_up(house):
    check = check_plans(*house)
    assert check.all_findings
    assert all(finding.spot is not None for finding in check.all_findings)
    told = [finding for finding in check.all_findings if finding.wall_id]
    assert all(finding.spot.point is not None for finding in told)
