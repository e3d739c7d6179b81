"""The summary says what an estimator has to know, in the units that the job asks for, and its sums are the tables'."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from reports.cautions import CAUTIONS, FIRST
from reports.summary import MOST_ROWS, summary
from takeoff.finding import Finding, Severity
from takeoff.model import CavityKind, Method, Source, Status
from takeoff.totals import cavity_groups, finding_groups, outcomes, storey_sums, totals
from tests.records_builder import failed_wall, house, left_out_wall, plain_wall, takeoff_of


def printed(takeoff=None, system="metric", width=110) -> str:
    out = io.StringIO()
    console = Console(file=out, width=width, markup=False, emoji=False, highlight=False)
    console.print(summary(takeoff or takeoff_of(), system))
    return out.getvalue()


def test_totals_are_the_sums_worked_by_hand():
    sums = totals(house())
    # Three walls taken off: a plain one, one with two stud layers, a plain one with a modelled frame.
    assert (sums.walls, sums.taken_off, sums.left_out, sums.failed) == (5, 3, 1, 1)
    assert sums.gross_area == pytest.approx(4 * 5.76, rel=1e-12)
    assert sums.insulated_area == pytest.approx(3 * 3.76, rel=1e-12)
    assert sums.insulated_area_modelled == pytest.approx(3.76, rel=1e-12)
    assert sums.fill_volume == pytest.approx(4 * (1.345 * 2.3 + 0.35) * 0.1, rel=1e-12)
    assert sums.framing_fraction == pytest.approx(0.305 / 3.76, rel=1e-12)
    assert sums.cavities == sums.fill_cavities == 8
    assert sums.worst_residual is not None
    assert sums.worst_residual < 1e-12


def test_totals_of_nothing_are_zero_or_unknown_never_an_error():
    sums = totals(())
    assert (sums.walls, sums.insulated_area, sums.framing_fraction, sums.worst_residual) == (0, 0, None, None)


def test_the_worst_wall_is_named():
    wall = plain_wall("BAD")
    layer = replace(wall.layers[0], balance=replace(wall.layers[0].balance, framing=0.02))
    sums = totals([plain_wall(), replace(wall, layers=(layer,))])
    assert sums.worst_wall == "BAD"
    assert sums.worst_residual == pytest.approx(0.0105 / 0.576, rel=1e-9)


def test_cavities_are_grouped_by_kind_and_method():
    groups = {(group.kind, group.method): group for group in cavity_groups(house())}
    assert groups[CavityKind.FULL_HEIGHT, Method.BLOW].count == 4
    assert groups[CavityKind.SLIVER, Method.SEAL].volume == pytest.approx(4 * 0.00115, rel=1e-9)


def test_walls_not_taken_off_are_grouped_by_reason_failures_first():
    walls = [left_out_wall("L1"), failed_wall("F1"), left_out_wall("L2"), left_out_wall("L3", "curved")]
    rows = outcomes(walls)
    assert [(row.status, row.count) for row in rows] == [
        (Status.FAILED, 1),
        (Status.LEFT_OUT, 2),
        (Status.LEFT_OUT, 1),
    ]
    assert rows[1].area == pytest.approx(2 * 5.76)
    assert rows[1].names == ("W9 concrete",)


def test_findings_are_grouped_by_code_the_worst_first():
    findings = takeoff_of().findings
    assert [(row.severity, row.code, row.count) for row in finding_groups(findings)] == [
        (Severity.ERROR, "wall-not-readable", 1),
        (Severity.WARNING, "unit-guessed", 1),
        (Severity.INFO, "gap-sealed", 3),
    ]


def test_storeys_come_from_the_lowest_up():
    rows = storey_sums(takeoff_of().results)
    assert [(row.storey, row.fill_cavities) for row in rows] == [("Ground floor", 8), ("Upper floor", 0)]


def test_the_summary_says_what_was_taken_off_and_why_the_rest_was_not():
    words = printed()
    for fact in (
        "house.ifc: IFC4",
        "5 walls in the model: 3 taken off, 1 left out, 1 failed",
        "11.28 m2",
        "1.377 m3 in 8 cavities",
        "33 % of that area modelled, 67 % laid out by rule",
        "full height bay",
        "no stud layer among its layers",
        "failed: its body is not closed",
        "gap-sealed",
    ):
        assert fact in words, fact


def test_the_summary_shows_us_units_where_the_job_asks_for_them():
    words = printed(system="us")
    assert "121.4 ft2" in words  # 11.28 m2 / 0.09290304
    assert " m2" not in words.replace("ft2", "")


def test_the_cautions_are_always_shown_local_code_first():
    words = " ".join(printed(width=300).split())
    assert words.index(FIRST) < min(words.index(caution) for caution in CAUTIONS)
    for subject in ("goggles", "respirator", "ladder", "recessed lights", "flues", "wiring"):
        assert subject in words.lower(), subject


def test_a_model_with_nothing_framed_still_gets_its_reasons():
    words = printed(takeoff_of((left_out_wall(),)))
    assert "1 wall in the model: 0 taken off, 1 left out" in words
    assert "insulated area" not in words
    assert "no stud layer among its layers" in words


def test_long_lists_are_cut_and_the_rest_is_counted():
    walls = tuple(left_out_wall(f"L{n}", f"reason {n}") for n in range(MOST_ROWS + 5))
    words = printed(takeoff_of(walls))
    assert "5 other reasons" in words


def test_names_with_brackets_are_printed_as_they_are():
    words = printed(takeoff_of((replace(left_out_wall(), reason="type [bold]W9[/bold] :smile:"),)))
    assert "[bold]W9[/bold] :smile:" in words


@pytest.mark.parametrize("width", [60, 80, 200])
def test_no_line_is_wider_than_the_terminal(width):
    long = Finding("a-code", Severity.INFO, "A long sentence about a wall. " * 20)
    words = printed(takeoff_of(findings=(long,)), width=width)
    assert max(len(line) for line in words.splitlines()) <= width


def test_all_modelled_frames_say_so():
    assert "100 % of that area modelled" in printed(takeoff_of((plain_wall(source=Source.MODELLED),)))
