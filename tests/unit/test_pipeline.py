"""The one road: every wall has a result, one bad wall stops no other, doors and windows without openings are found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.errors import GEOSException

import takeoff.pipeline as subject
from geometry.solids import Mesh
from takeoff.building import ModelWall
from takeoff.errors import ReadingError, TakeoffError
from takeoff.finding import Severity
from takeoff.job import JobError, default_job, load_job
from takeoff.model import Source, Status, WallTakeoff
from takeoff.pipeline import take_off, take_off_model
from takeoff.result import Takeoff
from tests.ifc_builder import Builder
from tests.wall_builder import (
    BOARD,
    HEIGHT,
    LENGTH,
    PLAIN,
    STUDS,
    THICKNESS,
    box,
    model,
    opening,
    part,
    turned,
    wall,
)


def run(*walls: ModelWall, job=None, **changes: object) -> Takeoff:
    return take_off_model(model(*walls, **changes), job or default_job())


def only(result: Takeoff) -> WallTakeoff:
    (found,) = result.results
    return found


def codes(result: Takeoff) -> list[str]:
    return [finding.code for finding in result.findings]


def door(x0: float, y0: float, x1: float, y1: float, *, z0: float = 0.0, z1: float = 2.05, kind: str = "IfcDoor"):
    """A door or window that no opening element holds, by its box."""
    made = opening((x0, y0, z0, x1, y1, z1), filling=kind)
    return replace(made, global_id="LOOSE", ifc_class=kind)


# ---------------------------------------------------------------- every wall has a result


def test_a_plain_wall_is_taken_off_with_all_its_volume_accounted_for():
    (layer,) = only(run(wall())).layers
    assert layer.balance.gross == pytest.approx(LENGTH * HEIGHT * STUDS)
    assert sum(c.volume for c in layer.cavities) + layer.balance.framing == pytest.approx(layer.balance.gross)
    # plates by default: one below, two above, 38.1 mm; studs at 16 in from centre to centre, whole at both ends
    clear = HEIGHT - 3 * 0.0381
    studs = 2 + len(np.arange(0.4064, LENGTH - 0.0381, 0.4064))
    assert layer.framing_area == pytest.approx(3 * 0.0381 * LENGTH + studs * 0.0381 * clear, rel=1e-9)


def test_every_wall_has_one_result_in_the_order_of_the_model():
    others = [wall(turned(box(PLAIN), 0.0, (0.0, 5.0 * n, 0.0)), global_id=f"W{n}") for n in range(1, 4)]
    left_out = replace(others[1], layers=None)
    broken = replace(others[2], problem="its body is broken")
    result = run(wall(), others[0], left_out, broken)
    assert [(each.wall.wall_id, each.status) for each in result.results] == [
        ("WALL", Status.TAKEN_OFF),
        ("W1", Status.TAKEN_OFF),
        ("W2", Status.LEFT_OUT),
        ("W3", Status.FAILED),
    ]
    assert all(each.reason for each in result.results if each.status is not Status.TAKEN_OFF)


def test_a_failed_wall_is_an_error_among_the_findings():
    (finding,) = run(wall(problem="its body is broken")).findings
    assert (finding.code, finding.severity, finding.wall_id) == ("wall-failed", Severity.ERROR, "WALL")


@pytest.mark.parametrize("fault", [GEOSException("ring"), ValueError("shape"), ZeroDivisionError("0"), KeyError("x")])
@pytest.mark.parametrize("step", ["understand", "lay_out", "take_off_layer"])
def test_a_wall_on_which_a_step_stumbles_stops_no_other(monkeypatch, step, fault):
    real = getattr(subject, step)

    def stumbling(first, *rest):
        key = getattr(first, "global_id", None) or getattr(getattr(first, "layer", first), "wall_id", "")
        if key == "BAD":
            raise fault
        return real(first, *rest)

    monkeypatch.setattr(subject, step, stumbling)
    good = wall(turned(box(PLAIN), 0.0, (0.0, 5.0, 0.0)), global_id="GOOD")
    bad, fine = run(wall(global_id="BAD"), good).results
    assert (bad.status, bad.layers) == (Status.FAILED, ())
    assert "check its body and members in the model" in bad.reason
    assert "\n" not in bad.reason
    assert (fine.status, len(fine.layers)) == (Status.TAKEN_OFF, 1)


def test_where_meetings_cannot_be_found_walls_are_framed_alone(monkeypatch):
    def stumbling(*_):
        raise GEOSException("tree")

    monkeypatch.setattr(subject, "find_junctions", stumbling)
    result = run(wall())
    assert only(result).status is Status.TAKEN_OFF
    assert codes(result) == ["junctions-not-found"]


def test_a_bug_of_ours_is_not_taken_for_a_flaw_of_the_model(monkeypatch):
    def wrong(*_):
        raise TypeError("ours")

    monkeypatch.setattr(subject, "understand", wrong)
    with pytest.raises(TypeError):
        run(wall())


def test_what_stands_in_a_wall_without_layers_and_is_no_frame_leaves_the_wall_out():
    posts = tuple(
        part(f"P{n}", (1.3 * n, BOARD, 0.0, 1.3 * n + 0.1, 0.11, 2.4), ifc_class="IfcColumn") for n in range(4)
    )
    result = only(run(wall(layers=None, parts=posts)))
    assert result.status is Status.LEFT_OUT
    assert result.reason == (
        "the model gives it no layers, and what stands in it is no frame: its 4 uprights stand 1.33 m apart on "
        "average, studs at most 1.25 m. If it is framed, state stud_depth in the job"
    )


def test_a_frame_of_level_girts_says_why_it_is_no_frame():
    ends = [part(f"S{x}", (x, BOARD, 0.045, x + 0.045, BOARD + 0.14, 2.355)) for x in (0.0, 3.555)]
    levels = [part(f"G{z}", (0.0, BOARD, z, 3.6, BOARD + 0.14, z + 0.045)) for z in (0.0, 0.6, 1.2, 1.8, 2.355)]
    result = only(run(wall(layers=None, parts=(*ends, *levels))))
    assert result.status is Status.LEFT_OUT
    assert "its 2 uprights stand 3.60 m apart on average" in result.reason


@pytest.mark.parametrize(("apart", "severity"), [(0.015, Severity.WARNING), (0.06, Severity.INFO), (0.0, None)])
def test_two_rows_of_members_that_nothing_joins_are_told(apart, severity):
    def row(name, near, far):
        plates = [part(f"{name}{z}", (0.0, near, z, 2.4, far, z + 0.04)) for z in (0.0, HEIGHT - 0.04)]
        studs = [part(f"{name}-{x}", (x, near, 0.04, x + 0.04, far, HEIGHT - 0.04)) for x in (0.0, 0.6, 1.2, 1.8, 2.36)]
        return [*plates, *studs]

    parts = (*row("A", 0.0, 0.09), *row("B", 0.09 + apart, 0.18 + apart))
    result = only(run(wall(layers=None, body=(), parts=parts)))
    told = [one for one in result.wall.findings if one.code == "rows-taken-as-one"]
    assert [one.severity for one in told] == ([] if severity is None else [severity])
    assert [one.measured for one in told] == pytest.approx([] if severity is None else [apart])


def test_a_laid_out_frame_leaves_room_for_what_the_model_puts_in_the_wall():
    pipe = part("PIPE", (0.5, 0.06, 0.0, 0.55, 0.11, HEIGHT), ifc_class="IfcPipeSegment", wall_id="")
    bare, piped = only(run(wall())).layers[0], only(run(wall(), loose_parts=(pipe,))).layers[0]
    plates = 3 * 0.0381
    assert bare.balance.cavities - piped.balance.cavities == pytest.approx(0.05 * 0.05 * (HEIGHT - plates))
    assert piped.frame.source is Source.LAID_OUT
    assert [cavity.obstructions for cavity in piped.cavities if cavity.obstructions] == [("PIPE",)]


# ---------------------------------------------------------------- doors and windows without an opening element


def test_a_door_that_stands_in_a_wall_is_deducted_with_a_warning():
    result = run(wall(), loose_openings=(door(1.0, 0.05, 1.9, 0.1),))
    (layer,) = only(result).layers
    assert layer.opening_area == pytest.approx(0.9 * 2.05)
    assert "opening-without-element" in codes(result)


@pytest.mark.parametrize(
    ("y0", "y1"), [(-0.1, 0.2), (0.0, THICKNESS), (-0.02, 0.04), (THICKNESS - 0.04, THICKNESS + 0.02)]
)
def test_a_window_stands_in_the_wall_where_half_its_depth_does(y0, y1):
    result = run(wall(), loose_openings=(door(1.0, y0, 1.9, y1, z0=0.9, kind="IfcWindow"),))
    assert only(result).layers[0].opening_area == pytest.approx(0.9 * 1.15)


@pytest.mark.parametrize(("y0", "y1"), [(-0.1, 0.01), (THICKNESS - 0.012, THICKNESS + 0.05)])
def test_a_window_that_stands_mostly_outside_is_told_and_not_deducted(y0, y1):
    result = run(wall(), loose_openings=(door(1.0, y0, 1.9, y1, z0=0.9, kind="IfcWindow"),))
    assert only(result).layers[0].opening_area == 0.0
    assert codes(result) == ["opening-mostly-outside-wall"]


@pytest.mark.parametrize(
    "at",
    [(1.0, -0.2, 1.9, -0.1), (1.0, THICKNESS, 1.9, 0.3), (1.0, THICKNESS - 0.05, 1.06, 1.2)],
    ids=["before the wall", "behind the wall", "edge on, in a wall that meets this one"],
)
def test_a_door_of_something_else_is_passed_over(at):
    result = run(wall(), loose_openings=(door(*at),))
    assert only(result).layers[0].opening_area == 0.0
    assert codes(result) == []


def test_a_door_is_not_deducted_twice_where_it_has_its_opening_after_all():
    hole = opening((1.0, -1.0, 0.0, 2.0, 1.0, 2.1))
    result = run(wall(openings=(hole,)), loose_openings=(door(1.03, 0.0, 1.97, 0.1),))
    assert only(result).layers[0].opening_area == pytest.approx(2.1)
    assert codes(result) == []


def test_two_leaves_in_one_place_are_one_opening():
    leaves = (door(1.0, 0.05, 1.9, 0.1), replace(door(1.0, 0.05, 1.9, 0.1), global_id="LEAF-2"))
    (layer,) = only(run(wall(), loose_openings=leaves)).layers
    assert [each.opening_id for each in layer.frame.openings] == ["LOOSE"]


# ---------------------------------------------------------------- the job and the file


def test_the_job_file_frames_walls_by_its_own_rules(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text('[[wall]]\nname = "Plain"\nframing = "wood-24in-advanced"\n', encoding="utf-8")
    layer = only(run(wall(), job=load_job(path))).layers[0]
    assert layer.frame.rule == "wood-24in-advanced"
    assert layer.framing_area < only(run(wall())).layers[0].framing_area


def test_a_job_may_be_given_by_its_path_and_a_wrong_one_is_refused(tmp_path):
    source = Builder()
    source.wall(
        "North", length=4.0, height=2.4, thickness=THICKNESS, layers=(("Gypsum board", BOARD), ("Wood studs", 0.152))
    )
    path = source.save(tmp_path / "north.ifc")
    job = tmp_path / "job.toml"
    job.write_text('[[wall]]\nname = "North"\nleave_out = "by others"\n', encoding="utf-8")
    assert only(take_off(path, job)).reason.endswith("by others")
    assert only(take_off(str(path), str(job))).reason.endswith("by others")
    job.write_text("nonsense = 1\n", encoding="utf-8")
    with pytest.raises(JobError):
        take_off(path, job)
    with pytest.raises(ReadingError):
        take_off(tmp_path / "none.ifc")
    assert issubclass(JobError, TakeoffError)


def test_progress_is_told_wall_by_wall():
    told = []
    take_off_model(
        model(wall(), wall(global_id="B", layers=None)), default_job(), progress=lambda *step: told.append(step)
    )
    assert told == [("cavities", 0, 2), ("cavities", 1, 2), ("cavities", 2, 2)]


def test_the_same_model_gives_the_same_result_again():
    first, second = run(wall()), run(wall())
    assert first.tables()["cavities"].columns == second.tables()["cavities"].columns
    assert isinstance(wall().body[0], Mesh)
