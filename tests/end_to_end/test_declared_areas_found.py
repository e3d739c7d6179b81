"""Declared areas against the sample house: a clean file raises no alarm, and each seeded error is caught in its line.

The clean areas are not the program's own: they follow by pencil from the house's drawing (`sample_facts.HOUSE_WALLS`,
stud layer's volume over its depth, less doors and windows). North is the model's own statement, by which the walls
called South, East, North and West face these ways. The declared U-values are the program's, rounded to three digits,
since what is tested is the comparison; the methods have their own tests.
"""

from __future__ import annotations

import csv
import functools
import io
from collections.abc import Sequence
from pathlib import Path

import pytest

from takeoff.building import Model
from takeoff.job import default_job
from takeoff.pipeline import take_off_model
from takeoff.plans.comparison import Agreement, Comparison
from takeoff.plans.declared_areas import read_declared_areas
from takeoff.plans.plan_check import PlanCheck, check_plans
from takeoff.reading import read_model
from takeoff.result import Takeoff
from tests.end_to_end.sample_facts import HOUSE_WALLS

HOUSE = Path(__file__).resolve().parents[2] / "sample_models" / "two_storey_house.ifc"
TYPE = "Outside wall 225"
HEAD = "wall_type,orientation,storey,room,net_area,area_unit,value,value_unit,value_of"
STOREYS = {"0": "Ground floor", "1": "Upper floor"}
SIDES = {"South": "S", "East": "E", "North": "N", "West": "W"}
SQUARE_FOOT = 0.09290304


@functools.cache
def read_once(path: Path) -> tuple[Model, Takeoff]:
    model = read_model(path)
    return model, take_off_model(model, default_job())


def house() -> tuple[Model, Takeoff]:
    return read_once(HOUSE)


def true_areas() -> dict[tuple[str, str], float]:
    """m2 by storey and side, by pencil."""
    found: dict[tuple[str, str], float] = {}
    for name, fact in HOUSE_WALLS.items():
        if fact.external:
            key = (STOREYS[name[-1]], SIDES[name.split()[0]])
            found[key] = found.get(key, 0.0) + fact.stud_layer_volume / fact.stud_depth - fact.opening_area
    return found


def check(lines: Sequence[str], *, head: str = HEAD) -> PlanCheck:
    model, takeoff = house()
    return check_plans(model, takeoff, read_declared_areas("\n".join([head, *lines]) + "\n"), "areas.csv")


def clean_lines() -> list[str]:
    """A line for each storey and side, with its area, and its U-value as worked out."""
    values = {
        (part.wall.wall.storey, part.orientation): part.governing.u
        for part in check([f"{TYPE},,,,142.64,m2,,,"]).envelope.parts
        if part.governing is not None
    }
    return [
        f"{TYPE},{side},{storey},,{area:.2f},m2,{values[storey, side]:.3f},W/(m2 K),wall"
        for (storey, side), area in true_areas().items()
    ]


def of_lines(found: PlanCheck) -> list[Comparison]:
    return [row for row in found.comparisons if row.line is not None or row.source == "areas.csv"]


def differing(found: PlanCheck) -> dict[int | None, list[Comparison]]:
    rows: dict[int | None, list[Comparison]] = {}
    for row in of_lines(found):
        if row.agreement is Agreement.DIFFERS:
            rows.setdefault(row.line, []).append(row)
    return rows


def test_a_clean_file_made_from_the_drawing_raises_no_alarm() -> None:
    lines = clean_lines()
    assert len(lines) == 8
    found = check(lines)
    rows = of_lines(found)
    assert {row.agreement for row in rows} == {Agreement.AGREES}
    assert len(rows) == 16  # an area and a value each
    assert not [finding for finding in found.findings if "declared" in finding.code]
    for row in rows:
        if row.unit == "m2":
            assert row.found == pytest.approx(row.declared, abs=0.006), row.scope  # two digits were written


def test_a_clean_file_in_feet_and_by_room_raises_no_alarm() -> None:
    room = next(
        group
        for group in check([f"{TYPE},,,,142.64,m2,,,"]).groups
        if group.grouped_by == "room" and group.external and group.name.endswith("Hall")
    )
    whole = sum(true_areas().values())
    found = check([f"{TYPE},,,,{whole / SQUARE_FOOT:.1f},ft2,,,", f",,,Hall,{room.sums.insulated:.2f},m2,,,"])
    assert not differing(found)


SEEDED = {
    "wrong area": ("N", "Ground floor", lambda cells: [*cells[:4], "14.00", *cells[5:]], "insulated net area", ""),
    "openings left in": (
        "N", "Ground floor", lambda cells: [*cells[:4], f"{8.716 * 2.5:.2f}", *cells[5:]], "insulated net area",
        "with the openings in",
    ),
    "wrong orientation": (
        "N", "Upper floor", lambda cells: [cells[0], "NE", *cells[2:]], "insulated net area", "face N have this area",
    ),
    "wrong value": (
        "S", "Ground floor", lambda cells: [*cells[:6], "0.20", *cells[7:]], "U-value of the whole wall",
        "promises more",
    ),
    "value of the fill taken for the wall's": (
        "S", "Ground floor", lambda cells: [*cells[:6], "3.94", "m2 K/W", "wall"], "resistance of the whole wall",
        "the fill alone",
    ),
    "unit of the area swapped": (
        "W", "Ground floor", lambda cells: [*cells[:5], "ft2", *cells[6:]], "insulated net area", "m2 written as ft2",
    ),
    "unit of the value swapped": (
        "W", "Ground floor", lambda cells: [*cells[:7], "m2 K/W", cells[8]], "resistance of the whole wall",
        "U-value were written as a resistance",
    ),
    "type not in the model": (
        "E", "Ground floor", lambda cells: ["Outside wall 252", *cells[1:]], "place in the model",
        "nearest name is 'Outside wall 225'",
    ),
    "storey not in the model": (
        "E", "Ground floor", lambda cells: [*cells[:2], "Attic", *cells[3:]], "place in the model", "'Attic'",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SEEDED)
def test_a_seeded_error_is_caught_in_its_line_and_nowhere_else(name: str) -> None:
    side, storey, change, subject, cause = SEEDED[name]
    lines = clean_lines()
    place = next(n for n, line in enumerate(lines) if f",{side},{storey}," in line)
    lines[place] = ",".join(change(lines[place].split(",")))
    found = differing(check(lines))
    assert place + 2 in found
    rows = [row for row in found.pop(place + 2) if row.subject == subject]
    assert len(rows) == 1
    assert cause in rows[0].reason
    # What the line no longer speaks of is told as declared nowhere; no other line is touched.
    assert set(found) <= {None}


def test_all_errors_of_one_file_are_caught_line_by_line() -> None:
    lines = clean_lines()
    changes = ("wrong area", "wrong orientation", "wrong value", "unit of the area swapped", "type not in the model")
    expected = set()
    for name in changes:
        side, storey, change, _, _ = SEEDED[name]
        place = next(n for n, line in enumerate(lines) if f",{side},{storey}," in line)
        lines[place] = ",".join(change(lines[place].split(",")))
        expected.add(place + 2)
    lines.append(lines[next(n for n, line in enumerate(lines) if ",E,Upper floor," in line)])  # the same line twice
    expected.add(len(lines) + 1)
    found = check(lines)
    assert set(differing(found)) - {None} == expected
    by_code = {finding.code for finding in found.findings}
    assert by_code >= {
        "declared-area-differs", "declared-value-differs", "declared-walls-unknown", "declared-line-repeated",
        "area-not-declared",
    }  # fmt: skip
    for finding in found.findings:
        if finding.code == "declared-area-differs":
            assert any(f"areas.csv line {row} " in finding.message for row in expected)
            assert finding.limit is not None
            assert finding.unit == "m2"


def test_a_type_that_no_line_declares_is_told_with_its_area() -> None:
    lines = [line for line in clean_lines() if ",N," not in line]
    found = check(lines)
    assert set(differing(found)) == {None}
    (row,) = differing(found)[None]
    assert row.scope == f"{TYPE}, N"
    north = sum(area for (_, side), area in true_areas().items() if side == "N")
    assert row.found == pytest.approx(north, abs=1e-9)
    assert len(row.elements) == 2
    (finding,) = [finding for finding in found.findings if finding.code == "area-not-declared"]
    assert finding.wall_id in row.elements
    assert finding.place is not None


def test_a_line_for_an_inside_type_is_compared_with_inside_walls() -> None:
    sound = HOUSE_WALLS["Sound wall 0"]
    area = sound.stud_layer_volume / sound.stud_depth - sound.opening_area
    found = check([*clean_lines(), f"Sound wall 147,,,,{area:.2f},m2,,,", "Partition 121,,,,10,m2,,,"])
    (row,) = [row for rows in differing(found).values() for row in rows]
    assert row.scope == "Partition 121"
    assert row.found == 0.0
    assert "not filled" in row.reason


def test_two_lines_that_call_the_same_room_by_two_names_are_told_as_one_line_twice() -> None:
    found = differing(check([f"{TYPE},,,Hall,14.18,m2,,,", f"{TYPE},,,0.2 Hall,14.18,m2,,,"]))
    assert [row.subject for row in found[3]] == ["line"]
    assert 2 not in found


def test_the_same_walls_may_have_a_line_for_the_fill_and_one_for_the_whole_wall() -> None:
    """Both values of the type stand in the file; a third line that says one of them again is told."""
    parts = check([f"{TYPE},,,,142.64,m2,,,"]).envelope.parts
    resistance = next(part.heat.fill_resistance for part in parts if part.wall.wall.external)
    assert resistance is not None
    area = sum(true_areas().values())
    of_wall = f"{TYPE},,,,{area:.2f},m2,0.333,W/(m2 K),wall"
    of_fill = f"{TYPE},,,,{area:.2f},m2,{resistance:.3f},m2 K/W,fill"
    both = check([of_wall, of_fill])
    assert not differing(both)
    assert {row.subject for row in of_lines(both) if row.line == 3} == {
        "insulated net area", "resistance of the fill",
    }  # fmt: skip
    assert [row.subject for row in differing(check([of_wall, of_fill, of_fill]))[4]] == ["line"]


MODELS = sorted([*HOUSE.parent.glob("*.ifc"), *(HOUSE.parents[2] / "shared" / "models").glob("*.ifc")])


@pytest.mark.parametrize("path", MODELS, ids=lambda path: path.stem)
@pytest.mark.parametrize("by", ["type", "orientation", "storey", "room"])
def test_a_file_written_from_a_model_agrees_with_it_however_its_lines_are_cut(path: Path, by: str) -> None:
    """Names of real models hold colons, commas and quotes; families may be left off a type's name."""
    model, takeoff = read_once(path)
    areas: dict[tuple[str, str, str, str], float] = {}
    for part in check_plans(model, takeoff).envelope.parts:
        wall = part.wall.wall
        for share in part.rooms if part.insulated > 0.0 and wall.external else ():
            tail = part.type_label.rsplit(":", 1)[-1]
            key = {
                "type": (part.type_label, "", "", ""),
                "orientation": (tail, part.orientation, "", ""),
                "storey": ("", "", wall.storey, ""),
                "room": ("", "", "", share.room),
            }[by]
            areas[key] = areas.get(key, 0.0) + share.net
    if not areas or (by == "room" and ("", "", "", "") in areas):
        pytest.skip("no insulated outside walls, or no rooms beside them")
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(HEAD.split(",")[:6])
    writer.writerows([*key, f"{area:.2f}", "m2"] for key, area in areas.items())
    found = check_plans(model, takeoff, read_declared_areas(text.getvalue()), "areas.csv")
    assert not differing(found)
    assert len(of_lines(found)) == len(areas)
