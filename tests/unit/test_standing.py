"""The storey that a wall stands on: elevations decide where the model's storey is another one."""

from __future__ import annotations

import pytest

from reports.crew_sheets import crew_work, storey_drawings
from takeoff.job import load_job
from takeoff.pipeline import take_off_model
from takeoff.result import Takeoff
from tests.wall_builder import PLAIN, box, model, wall

LOWER = {"storey": "Lower", "storey_elevation": 0.0}
UPPER = {"storey": "Upper", "storey_elevation": 3.0}


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory):
    path = tmp_path_factory.mktemp("job") / "job.toml"
    path.write_text('[insulate]\nwalls = "all"\n')
    return load_job(path)


def of(job, foot: float, storey: dict[str, object], *others: dict[str, object]) -> Takeoff:
    """A wall with its underside at a height, contained in a storey, in a house with walls on others."""
    x0, y0, z0, x1, y1, z1 = PLAIN
    placed = wall(box((x0, y0, z0 + foot, x1, y1, z1 + foot)), global_id="ODD", **storey)
    base = []
    for n, other in enumerate(others, start=1):
        up = float(str(other["storey_elevation"]))
        body = box((x0, y0 + 9.0 * n, z0 + up, x1, y1 + 9.0 * n, z1 + up))
        base.append(wall(body, global_id=f"W{n}", **other))
    return take_off_model(model(placed, *base), job)


def told(result: Takeoff) -> list[str]:
    return [each.message for each in result.findings if each.code == "storey-against-elevations"]


def storey_of(result: Takeoff) -> str:
    return next(each.wall.storey for each in result.results if each.wall.wall_id == "ODD")


@pytest.mark.parametrize("foot", [2.6, 3.0, 3.3])
def test_a_wall_drawn_from_the_storey_below_belongs_where_it_stands(job, foot):
    result = of(job, foot, LOWER, UPPER)
    assert storey_of(result) == "Upper"
    (words,) = told(result)
    assert "'Lower'" in words
    assert "'Upper'" in words


def test_a_wall_drawn_from_the_storey_above_belongs_where_it_stands(job):
    assert storey_of(of(job, 0.0, UPPER, LOWER)) == "Lower"


@pytest.mark.parametrize("foot", [-0.4, 0.0, 0.5])
def test_a_step_in_the_floor_is_no_other_storey(job, foot):
    for other in (UPPER, {"storey": "Finish", "storey_elevation": 0.1}, {"storey": "Sill", "storey_elevation": 0.9}):
        result = of(job, foot, LOWER, other)
        assert (storey_of(result), told(result)) == ("Lower", [])


def test_a_wall_near_no_other_floor_stays_where_the_model_has_it(job):
    result = of(job, 1.2, LOWER, {"storey": "Roof", "storey_elevation": 6.0})
    assert (storey_of(result), told(result)) == ("Lower", [])


def test_fill_order_of_work_tables_and_plans_have_the_wall_on_one_storey(job):
    result = of(job, 2.6, LOWER, LOWER, UPPER)
    work = crew_work(result)
    cavities = {cavity.cavity_id for each in result.results for layer in each.layers for cavity in layer.cavities}
    assert {fill.storey for fill in work.plan.cavities if fill.wall_id == "ODD"} == {"Upper"}
    assert {step.storey for step in work.steps if "ODD" in step.layer_keys} == {"Upper"}
    assert {item.storey for item in result.preparations if item.layer_key == "ODD"} <= {"Upper"}
    assert [each.title for each in storey_drawings(work, "a4")] == ["Lower", "Upper"]
    assert all(fill.cavity_id in cavities for fill in work.plan.cavities)
