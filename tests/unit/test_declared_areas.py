"""The file of declared areas: what is read, and that every fault is named with its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from takeoff.plans.declared_areas import DeclaredAreasError, load_declared_areas, read_declared_areas

HEAD = "wall_type,orientation,storey,room,net_area,area_unit,value,value_unit,value_of\n"
SQUARE_FOOT = 0.09290304
"""m2, exact by the definition of the foot"""


def faults(text: str) -> tuple[str, ...]:
    with pytest.raises(DeclaredAreasError) as caught:
        read_declared_areas(text)
    return caught.value.faults


def test_a_line_is_read_into_si_with_its_scope() -> None:
    (line,) = read_declared_areas(HEAD + "W1,N,Ground floor,Kitchen,100,ft2,0.35,W/(m2 K),\n")
    assert line.line == 2
    assert line.net_area == pytest.approx(100 * SQUARE_FOOT, rel=1e-12)
    assert (line.u, line.written_as_r, line.value_of) == (0.35, False, "wall")
    assert line.scope == "W1, N, Ground floor, Kitchen"
    assert line.area_text == "100 ft2"


@pytest.mark.parametrize(
    ("value", "unit", "resistance"),
    [("4", "m2 K/W", 4.0), ("R-20", "", 20 * 0.17611018368230584), ("20", "h ft2 F/Btu", 20 * 0.17611018368230584)],
)
def test_a_resistance_is_kept_as_a_u_value_and_as_what_it_was(value: str, unit: str, resistance: float) -> None:
    """1 h ft2 F/Btu is 0.17611 m2 K/W (international table Btu, foot and pound by definition)."""
    (line,) = read_declared_areas(HEAD + f"W1,,,,10,m2,{value},{unit},fill\n")
    assert line.u == pytest.approx(1 / resistance, rel=1e-9)
    assert line.written_as_r
    assert line.value_of == "fill"


def test_columns_may_stand_in_any_order_and_be_left_out() -> None:
    (line,) = read_declared_areas("area_unit,net_area,Wall Type\nm2,12.5,W1\n")
    assert (line.wall_type, line.net_area, line.orientation, line.u) == ("W1", 12.5, "", None)


def test_semicolons_a_mark_at_the_start_blank_lines_and_comments_are_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "areas.csv"
    path.write_bytes(b"\xef\xbb\xbfwall_type;net_area;area_unit\r\n\r\n# a note; with a semicolon\r\nW1;12.5;m2\r\n")
    (line,) = load_declared_areas(path)
    assert (line.line, line.wall_type, line.net_area) == (4, "W1", 12.5)


@pytest.mark.parametrize("text", ["north", "N", "n", "North"])
def test_orientations_are_read_as_people_write_them(text: str) -> None:
    assert read_declared_areas(HEAD + f"W1,{text},,,1,m2,,,\n")[0].orientation == "N"


def test_names_are_the_same_whatever_their_capitals_and_blanks() -> None:
    first, second = read_declared_areas(HEAD + "Outside  wall,N,,,1,m2,,,\noutside wall,north,,,1,m2,,,\n")
    assert first.key == second.key


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("W1,N,,,,m2,,,", "net_area is empty"),
        ("W1,N,,,12,,,,", "area_unit is empty"),
        ("W1,N,,,12,kg,,,", "unknown unit"),
        ("W1,N,,,-3,m2,,,", "negative"),
        ("W1,up,,,12,m2,,,", "orientation 'up'"),
        ("W1,N,,,12,m2,0.3,,", "no unit of a U-value"),
        ("W1,N,,,12,m2,0.3,W/(m K),", "no unit of a U-value"),
        ("W1,N,,,12,m2,,W/(m2 K),", "value is empty"),
        ('W1,N,,,12,m2,"0,35",W/(m2 K),', "has a comma, which could part thousands or decimals"),
        ('W1,N,,,12,m2,"3,94",m2 K/W,fill', "write a decimal point"),
        ("W1,N,,,12,m2,1e400,W/(m2 K),", "value '1e400' is no finite number"),
        ("W1,N,,,12,m2,nan,W/(m2 K),", "value 'nan' is no finite number"),
        ("W1,N,,,12,m2,-0.3,W/(m2 K),", "negative"),
        ("W1,N,,,1e400,m2,,,", "net_area '1e400' is no finite number"),
        ("W1,N,,,12,m2,0,W/(m2 K),", "not above zero"),
        ("W1,N,,,12,m2,0.3,W/(m2 K),roof", "neither wall nor fill"),
        ("W1,N,,,12,m2,0.3,W/(m2 K),wall,x", "cells"),
    ],
)
def test_a_fault_is_named_with_its_line(line: str, said: str) -> None:
    (fault,) = faults(HEAD + "W0,,,,1,m2,,,\n" + line + "\n")
    assert fault.startswith("line 3: ")
    assert said in fault


def test_a_line_without_a_type_says_that_it_means_outside_walls() -> None:
    whole, north = read_declared_areas(HEAD + ",,,,12,m2,,,\n,N,Ground floor,,12,m2,,,\n")
    assert whole.scope == "all insulated outside walls"
    assert north.scope == "outside walls, N, Ground floor"


def test_all_faults_of_a_file_are_named_at_once() -> None:
    assert [fault[:7] for fault in faults(HEAD + "W1,,,,x,m2,,,\nW2,,,,1,m2,,,\nW3,,,,1,,,,\n")] == [
        "line 2:",
        "line 4:",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        (HEAD, "no line with an area"),
        ("wall_type,net_aera,area_unit\nW,1,m2\n", "'net_area' is meant?"),
        ("wall_type,net_area\nW,1\n", "column 'area_unit' is missing"),
        ("net_area,net_area,area_unit\n1,1,m2\n", "there twice"),
        (HEAD + '"W1,N,,,1,m2\n', "no CSV"),
    ],
)
def test_a_file_that_cannot_be_used_says_why(text: str, said: str) -> None:
    assert said in str(DeclaredAreasError("areas.csv", faults(text)))


def test_a_file_that_is_no_text_or_not_there_is_refused_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(DeclaredAreasError, match="cannot be read"):
        load_declared_areas(tmp_path / "none.csv")
    (tmp_path / "latin.csv").write_bytes("net_area,area_unit\n1,m²\n".encode("latin-1"))
    with pytest.raises(DeclaredAreasError, match=r"not UTF-8 text \(line 2\)"):
        load_declared_areas(tmp_path / "latin.csv")


def test_a_quoted_name_may_begin_with_the_mark_of_a_comment_and_run_over_lines() -> None:
    first, second = read_declared_areas(HEAD + '"#3 wall",,,,1,m2,,,\n# W2,,,,1,m2,,,\n"A\nB",,,,2,m2,,,\n')
    assert (first.line, first.wall_type) == (2, "#3 wall")
    assert (second.line, second.wall_type, second.net_area) == (4, "A\nB", 2.0)
