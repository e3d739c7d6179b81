"""What the check tells of a model: each flaw is drawn into a small IFC file and has to be found at its element, and the
same file without the flaw raises nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from reports.statement_walls import first_page
from reports.statement_words import Room
from takeoff.envelope import walls
from takeoff.finding import Finding, Severity
from takeoff.job import read_job
from takeoff.pipeline import take_off_model
from takeoff.plans import plan_check
from takeoff.plans.comparison import Agreement
from takeoff.plans.plan_check import PlanCheck, check_plans
from takeoff.reading import read_model
from tests.ifc_builder import Builder

FRAMED = (("Gypsum board", 0.0125), ("Timber stud", 0.14), ("OSB sheathing", 0.0125), ("Wood cladding", 0.025))
THICK = sum(thickness for _, thickness in FRAMED)
BRICK = (("Brick", 0.24),)


def checked(model: Builder, tmp_path: Path, job_text: str = "") -> PlanCheck:
    read = read_model(model.save(tmp_path / "model.ifc"))
    return check_plans(read, take_off_model(read, read_job(job_text)))


def found(check: PlanCheck, code: str) -> list[Finding]:
    return [finding for finding in check.all_findings if finding.code == code]


def outside(model: Builder, wall: Any, external: bool = True) -> Any:
    model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", external)})
    return wall


def house(model: Builder, leave_out: int | None = None, layers: Sequence[tuple[str, float]] = FRAMED) -> list[Any]:
    """Four walls round a room of 4 m x 3 m, whose inner faces are its edges; layers from inside to outside.

    Wall 0 stands at y < 0, 1 at x > 4, 2 at y > 3, 3 at x < 0. leave_out: number of a wall that is missing.
    """
    total = sum(thickness for _, thickness in layers)
    places = (((4.0, 0.0, 0.0), 180.0, 4.0), ((4.0, 3.0, 0.0), 270.0, 3.0), ((0.0, 3.0, 0.0), 0.0, 4.0),
              ((0.0, 0.0, 0.0), 90.0, 3.0))  # fmt: skip
    made = []
    for number, (at, angle, length) in enumerate(places):
        if number != leave_out:
            wall = model.wall(f"Wall {number}", length=length, height=2.5, thickness=total, layers=layers, at=at,
                              angle=angle)  # fmt: skip
            made.append(outside(model, wall))
    model.space("Room", size=(4.0, 3.0, 2.4))
    return made


def test_a_sound_house_raises_nothing(tmp_path: Path) -> None:
    model = Builder()
    house(model)
    check = checked(model, tmp_path)
    assert not check.findings
    assert {part.orientation for part in check.envelope.parts} == {"S", "E", "N", "W"}
    assert [[share.room for share in part.rooms] for part in check.envelope.parts] == [["Room"]] * 4


@pytest.mark.parametrize(("number", "facing"), [(0, "S"), (1, "E"), (2, "N"), (3, "W")])
def test_a_room_with_a_missing_wall_is_told_with_the_side_and_the_length(
    tmp_path: Path, number: int, facing: str
) -> None:
    model = Builder()
    house(model, leave_out=number)
    (finding,) = found(checked(model, tmp_path), "room-without-wall")
    assert finding.element_class == "IfcSpace"
    assert finding.element_name == "Room"
    assert f"faces {facing}" in finding.message
    # The neighbours' thickness closes the corners from outside.
    assert finding.measured == pytest.approx(4.0 if number in (0, 2) else 3.0, abs=0.31)
    assert finding.place is not None
    middle = {0: (2.0, 0.0), 1: (4.0, 1.5), 2: (2.0, 3.0), 3: (0.0, 1.5)}[number]
    assert finding.place[:2] == pytest.approx(middle, abs=0.05)


def test_a_curtain_wall_closes_a_room(tmp_path: Path) -> None:
    model = Builder()
    house(model, leave_out=0)
    curtain = model.element("IfcCurtainWall", name="Glass front")
    model.element("IfcPlate", [model.box((4.0, 0.03, 2.4))], name="Pane", at=(0.0, -0.05, 0.0), whole=curtain)
    assert not found(checked(model, tmp_path), "room-without-wall")


def test_two_rooms_side_by_side_need_no_wall_between_them(tmp_path: Path) -> None:
    model = Builder()
    house(model)
    model.space("Alcove", size=(1.0, 3.0, 2.4), at=(3.0, 0.0, 0.0))
    assert not found(checked(model, tmp_path), "room-without-wall")


def test_a_turned_north_turns_the_orientations(tmp_path: Path) -> None:
    """True north along the model's x axis: what looks along +x faces north, what looks along +y faces west."""
    model = Builder()
    model.context.TrueNorth = model.file.create_entity("IfcDirection", [1.0, 0.0])
    house(model)
    facing = {part.wall.wall.name: part.orientation for part in checked(model, tmp_path).envelope.parts}
    assert facing == {"Wall 0": "E", "Wall 1": "N", "Wall 2": "W", "Wall 3": "S"}


def test_an_outside_wall_with_neither_fill_nor_insulation_is_told(tmp_path: Path) -> None:
    model = Builder()
    wall = outside(model, model.wall("Bare", layers=BRICK, thickness=0.24))
    (finding,) = found(checked(model, tmp_path), "outside-wall-not-insulated")
    assert finding.element_id == wall.GlobalId
    assert finding.limit == pytest.approx(4.0 * 2.5)
    assert "no stud layer" in finding.message


def test_an_insulating_layer_or_a_job_that_fills_it_answers_for_an_outside_wall(tmp_path: Path) -> None:
    model = Builder()
    layers = (("Brick", 0.115), ("Mineral wool", 0.1), ("Brick", 0.115))
    outside(model, model.wall("Cavity wall", layers=layers, thickness=0.33))
    outside(model, model.wall("Framed", layers=FRAMED, thickness=THICK, at=(0.0, 5.0, 0.0)))
    assert not found(checked(model, tmp_path), "outside-wall-not-insulated")
    bare = found(checked(model, tmp_path, '[insulate]\nwalls = "none"\n'), "outside-wall-not-insulated")
    assert [finding.element_name for finding in bare] == ["Framed"]


def test_a_filled_inside_wall_is_told_as_information(tmp_path: Path) -> None:
    model = Builder()
    wall = model.wall("Quiet", layers=FRAMED[:2], thickness=0.1525)
    model.properties(
        wall, "Pset_WallCommon",
        {"IsExternal": model.value("IfcBoolean", False), "AcousticRating": model.value("IfcLabel", "Rw 50")},
    )  # fmt: skip
    check = checked(model, tmp_path)
    (finding,) = found(check, "inside-wall-insulated")
    assert finding.element_id == wall.GlobalId
    assert finding.measured == pytest.approx(10.0)
    assert check.groups[0].external is False


def test_a_wall_that_is_drawn_twice_is_told_once(tmp_path: Path) -> None:
    model = Builder()
    model.wall("First", layers=BRICK, thickness=0.24)
    second = model.wall("Second", layers=BRICK, thickness=0.24, at=(0.02, 0.0, 0.0))
    model.wall("Corner", layers=BRICK, thickness=0.24, at=(0.24, 0.24, 0.0), angle=90.0)
    (finding,) = found(checked(model, tmp_path), "wall-drawn-twice")
    assert finding.element_id == second.GlobalId
    assert "First" in finding.message
    assert finding.measured == pytest.approx(1.0 - 0.02 / 4.0)


def test_framed_walls_in_one_place_are_not_told_by_two_codes(tmp_path: Path) -> None:
    model = Builder()
    for name in ("First", "Second"):
        wall = model.wall(name, layers=FRAMED, thickness=THICK)
        model.properties(wall, "Pset_WallCommon", {"IsExternal": model.value("IfcBoolean", True)})
    check = checked(model, tmp_path)
    assert len(found(check, "walls-in-one-place")) == 1
    assert not found(check, "wall-drawn-twice")
    # The second has no studs of its own left, but the place is filled.
    assert not found(check, "outside-wall-not-insulated")
    assert [finding.code for finding in check.to_look_at if finding.code == "walls-in-one-place"]


@pytest.mark.parametrize("layers", [FRAMED, BRICK])
@pytest.mark.parametrize(("window", "told"), [((1.0, 1.2), ""), ((0.94, 1.15), ""), ((0.8, 1.2), "wide"),
                                              ((1.0, 0.9), "high")])  # fmt: skip
def test_an_opening_larger_than_its_window_is_told(
    tmp_path: Path, window: tuple[float, float], told: str, layers: Sequence[tuple[str, float]]
) -> None:
    """In a wall that is taken off, and in one that has no studs."""
    model = Builder()
    wall = model.wall("Wall", layers=layers, thickness=sum(thickness for _, thickness in layers), angle=30.0)
    opening = model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    filling = model.file.by_type("IfcWindow")[0]
    filling.OverallWidth, filling.OverallHeight = (size / model.scale for size in window)
    findings = found(checked(model, tmp_path), "opening-larger-than-filling")
    if not told:
        assert not findings
        return
    (finding,) = findings
    assert told in finding.message
    assert finding.element_id == opening.GlobalId
    assert finding.wall_id == wall.GlobalId
    assert (finding.measured, finding.limit) == pytest.approx((1.0, 0.8) if told == "wide" else (1.2, 0.9))


def quantities(model: Builder, wall: Any, gross: float, net: float) -> None:
    """Areas in m2, as the builder's files have them."""
    model.quantities(
        wall, "Qto_WallBaseQuantities",
        [("IfcQuantityArea", "GrossSideArea", gross), ("IfcQuantityArea", "NetSideArea", net)],
    )  # fmt: skip


def with_window(model: Builder) -> Any:
    wall = model.wall("Wall", layers=FRAMED, thickness=THICK)
    model.opening(wall, x=1.0, z=0.9, width=1.0, height=1.2, filling="IfcWindow")
    return wall


def test_a_quantity_set_that_fits_agrees(tmp_path: Path) -> None:
    model = Builder()
    quantities(model, with_window(model), 10.0, 8.8)
    check = checked(model, tmp_path)
    assert not found(check, "quantity-disagrees")
    assert [row.agreement for row in check.comparisons] == [Agreement.AGREES] * 2


def test_a_quantity_set_that_disagrees_is_told_with_its_likely_cause(tmp_path: Path) -> None:
    model = Builder()
    wall = with_window(model)
    quantities(model, wall, 8.8, 6.0)
    first, second = found(checked(model, tmp_path), "quantity-disagrees")
    assert (first.element_id, first.measured, first.limit) == (wall.GlobalId, pytest.approx(10.0), 8.8)
    assert "openings deducted" in first.message
    assert (second.measured, second.limit) == (pytest.approx(8.8), 6.0)


def test_a_gross_volume_that_is_the_net_one_is_told_as_such(tmp_path: Path) -> None:
    model = Builder()
    model.quantities(with_window(model), "Qto_WallBaseQuantities", [("IfcQuantityVolume", "GrossVolume", 8.8 * THICK)])
    (finding,) = found(checked(model, tmp_path), "quantity-disagrees")
    assert "volume of the wall, openings deducted" in finding.message
    assert (finding.measured, finding.limit) == pytest.approx((10.0 * THICK, 8.8 * THICK))


def test_behind_a_slip_of_the_unit_the_figure_is_compared_once_more(tmp_path: Path) -> None:
    """4 m x 2.5 m with a window of 1.0 m x 1.2 m: 10 m2 gross, 8.8 m2 net; the net one is written as the gross one."""
    model = Builder()
    quantities(model, with_window(model), 10.0e6, 10.0e6)
    check = checked(model, tmp_path)
    reasons = {row.source.split()[-1]: row.reason for row in check.comparisons if row.source.startswith("quantity")}
    assert reasons["GrossSideArea"] == "as if mm2 written as m2"
    assert reasons["NetSideArea"].startswith("as if mm2 written as m2; set right it is 10.00 m2: that is the wall area")
    assert "openings not deducted" in reasons["NetSideArea"]
    assert len(found(check, "quantity-in-another-unit")) == 1


@pytest.mark.parametrize(("factor", "words"), [(1e6, "mm2 written as m2"), (10.7639, "ft2 written as m2")])
def test_areas_in_another_unit_are_told_once_for_all_walls(tmp_path: Path, factor: float, words: str) -> None:
    model = Builder()
    quantities(model, with_window(model), 10.0 * factor, 8.8 * factor)
    other = model.wall("Other", layers=BRICK, thickness=0.24, at=(0.0, 5.0, 0.0))
    quantities(model, other, 10.0 * factor, 10.0 * factor)
    check = checked(model, tmp_path)
    (finding,) = found(check, "quantity-in-another-unit")
    assert words in finding.message
    assert "2 walls" in finding.message
    assert not found(check, "quantity-disagrees")
    assert sum(words in row.reason for row in check.comparisons) == 4


@pytest.mark.parametrize(
    ("stated", "code"),
    [(None, ""), (0.15, "transmittance-disagrees"), (250.0, "transmittance-implausible"), (0.0, "")],
)
def test_a_u_value_in_the_model_is_held_against_what_was_worked_out(
    tmp_path: Path, stated: float | None, code: str
) -> None:
    """None stands for the very value that was worked out."""
    model = Builder()
    wall = outside(model, model.wall("Wall", layers=FRAMED, thickness=THICK))
    if stated is None:
        (part,) = checked(model, tmp_path).envelope.parts
        assert part.governing is not None
        stated = round(part.governing.u, 3)
    value = model.value("IfcThermalTransmittanceMeasure", stated)
    model.properties(wall, "Pset_WallCommon", {"ThermalTransmittance": value})
    check = checked(model, tmp_path)
    (row,) = [row for row in check.comparisons if row.unit == "W/(m2 K)"]
    assert row.declared == stated
    codes = [finding.code for finding in check.findings if "transmittance" in finding.code]
    assert codes == ([code] if code else [])
    expected = Agreement.DIFFERS if code else (Agreement.NOT_COMPARED if stated == 0.0 else Agreement.AGREES)
    assert row.agreement is expected
    assert (row.agreement is Agreement.DIFFERS) <= bool(row.reason), "a difference says what to look at"


def test_a_stated_u_value_that_leaves_the_framing_out_is_told_as_such(tmp_path: Path) -> None:
    model = Builder()
    outside(model, model.wall("Wall", layers=FRAMED, thickness=THICK))
    (part,) = checked(model, tmp_path).envelope.parts
    through_fill = next(row.flow.u for row in part.heat.cavities if row.flow.kind == "filled")
    for stated, told in ((through_fill, "without the framing"), (0.1, "% framing"), (2.0, "promises less")):
        model = Builder()
        wall = outside(model, model.wall("Wall", layers=FRAMED, thickness=THICK))
        value = model.value("IfcThermalTransmittanceMeasure", stated)
        model.properties(wall, "Pset_WallCommon", {"ThermalTransmittance": value})
        (row,) = [row for row in checked(model, tmp_path).comparisons if row.unit == "W/(m2 K)"]
        assert told in row.reason


def test_space_boundaries_are_held_against_the_rooms_beside_a_wall(tmp_path: Path) -> None:
    model = Builder()
    standing = house(model)
    model.space("Far room", size=(2.0, 2.0, 2.4), at=(20.0, 20.0, 0.0), bounds=[standing[0]])
    check = checked(model, tmp_path)
    rows = [row for row in check.comparisons if row.source == "IfcRelSpaceBoundary"]
    differing = [row for row in rows if row.agreement is Agreement.DIFFERS]
    assert [row.elements for row in differing] == [(standing[0].GlobalId,)]
    assert "Far room" in differing[0].reason
    assert len(found(check, "space-boundaries-disagree")) == 1


def test_a_missed_target_is_told_once_a_type_with_the_words_that_codes_need(tmp_path: Path) -> None:
    model = Builder()
    house(model)
    check = checked(model, tmp_path, '[thermal]\nclimate_zone = "5A"\n')
    (finding,) = found(check, "target-missed")
    assert "check the edition in force locally" in finding.message
    assert finding.measured is not None
    assert finding.limit is not None
    assert finding.measured > finding.limit
    assert {row.verdict.passes for row in check.values if row.verdict} == {False}
    easy = checked(model, tmp_path, '[thermal]\ntarget = "1 W/(m2 K)"\n')
    assert not found(easy, "target-missed")
    assert easy.target is not None
    assert easy.target.warning == ""


R_20, R_5 = 20 * 0.1761101838, 5 * 0.1761101838
"""m2 K/W of R-20 and R-5 in ft2 F h/Btu."""


@pytest.mark.parametrize(("board", "met"), [(0.026, True), (0.023, False)])
def test_walls_of_wood_may_comply_by_their_insulation_alone(tmp_path: Path, board: float, met: bool) -> None:
    """Climate zone 5: R-30 in the cavity, or R-20 with R-5, or R-13 with R-10, or R-20 outside (IECC 2021 residential,
    Table R402.1.3, read in a transcription). 140 mm of fill at 0.035 W/(m K) are 4.0 m2 K/W; boards of 0.028 W/(m K)
    are R-5 from 24.7 mm on.
    """
    insulated = (*FRAMED[:3], ("Rigid foam", board), FRAMED[3])
    model = Builder()
    house(model, layers=insulated)
    job = (
        '[thermal]\nclimate_zone = "5A"\n[[thermal.material]]\nname = "Rigid foam"\nconductivity = "0.028 W/(m K)"\n'
        '[fibre]\nconductivity = "0.035 W/(m K)"\n'
    )
    check = checked(model, tmp_path, job)
    for row in check.values:
        assert row.option is not None
        assert row.option.option.published == "20&5ci"
        assert row.option.passes is met
        assert row.option.cavity_margin == pytest.approx(0.14 / 0.035 - R_20, abs=1e-6)
        assert row.option.continuous_margin == pytest.approx(board / 0.028 - R_5, abs=1e-6)
    words = " ".join(first_page(check, Room())["methods"])  # type: ignore[arg-type]
    assert "check the edition in force locally" in words
    assert ("meets 20&5ci" in words) is met
    assert f": 4.00 m2K/W in the cavity, {board / 0.028:.2f} m2K/W past the studs" in words
    assert ("MISSES all, nearest 20&5ci" in words) is not met


@pytest.mark.parametrize(("board", "severity"), [(0.026, Severity.INFO), (0.02, Severity.WARNING)])
def test_a_wall_that_misses_by_u_but_meets_an_option_is_told_as_complying(
    tmp_path: Path, board: float, severity: Severity
) -> None:
    """Short walls are mostly studs: their U-value misses the code's although the insulation is what it asks for."""
    model = Builder()
    layers = (*FRAMED[:2], ("Rigid foam", board), FRAMED[3])
    for number in range(2):
        wall = model.wall(f"Pier {number}", length=0.3, height=2.5, layers=layers, at=(2.0 * number, 0.0, 0.0),
                          thickness=sum(depth for _, depth in layers))  # fmt: skip
        outside(model, wall)
    material = '[[thermal.material]]\nname = "Rigid foam"\nconductivity = "0.028 W/(m K)"\n'
    (finding,) = found(checked(model, tmp_path, f'[thermal]\nclimate_zone = "5A"\n{material}'), "target-missed")
    assert finding.severity is severity
    assert ("meets the same code's R-value option 20&5ci" in finding.message) is (severity is Severity.INFO)


@pytest.mark.parametrize(
    "job",
    ['[thermal]\ntarget = "R-22"\nclimate_zone = "5A"\n',
     '[thermal]\nclimate_zone = "5"\nplace = "Washington State"\n', ""],
)  # fmt: skip
def test_r_value_options_are_those_of_the_model_code_only(tmp_path: Path, job: str) -> None:
    model = Builder()
    house(model)
    check = checked(model, tmp_path, job)
    assert {row.option for row in check.values} == {None}
    assert "By R-value" not in " ".join(first_page(check, Room())["methods"])  # type: ignore[arg-type]


def test_steel_studs_and_empty_walls_meet_no_option_of_the_table_for_wood(tmp_path: Path) -> None:
    model = Builder()
    steel = (("Gypsum board", 0.0125), ("Metal stud", 0.14), ("OSB sheathing", 0.0125))
    outside(model, model.wall("Steel", layers=steel, thickness=0.165))
    empty = model.wall("Empty", layers=FRAMED, thickness=THICK, at=(0.0, 9.0, 0.0))
    outside(model, empty)
    job = '[thermal]\nclimate_zone = "1"\n[[wall]]\nname = "Empty"\ninsulate = false\n'
    values = {row.part.wall.wall.name: row for row in checked(model, tmp_path, job).values}
    assert values["Steel"].option is None
    option = values["Empty"].option
    assert option is not None
    # Nearest is nothing in the cavity and R-10 outside, or R-13 in it: R-10 is less.
    assert (option.passes, option.option.published) == (False, "0&10ci")
    assert option.cavity_margin == 0.0


def test_a_material_of_the_job_file_goes_before_the_model(tmp_path: Path) -> None:
    model = Builder()
    layers = (*FRAMED[:2], ("Mystery board", 0.05))
    outside(model, model.wall("Wall", layers=layers, thickness=0.2025))
    (unknown,) = checked(model, tmp_path).envelope.parts
    assert unknown.heat.missing == ("Mystery board",)
    text = '[[thermal.material]]\nname = "mystery*"\nconductivity = "0.05 W/(m K)"\n'
    (known,) = checked(model, tmp_path, text).envelope.parts
    assert not known.heat.missing
    (row,) = [row for row in known.heat.layers if row.name == "Mystery board"]
    assert (row.resistance, row.source) == (pytest.approx(1.0), "the job file")


def test_a_resistance_by_depth_in_the_job_file_is_what_the_fill_is_worth(tmp_path: Path) -> None:
    """A cavity shallower than the charted depth gets its share of it."""
    model = Builder()
    outside(model, model.wall("Wall", layers=FRAMED, thickness=THICK))
    text = '[[fibre.by_depth]]\ndepth_to = "0.28 m"\ndensity = "33 kg/m3"\nresistance = "8 m2 K/W"\n'
    (part,) = checked(model, tmp_path, text).envelope.parts
    assert part.heat.fill_resistance == pytest.approx(8.0 * 0.14 / 0.28)
    filled = [row for row in part.heat.cavities if row.flow.kind == "filled"]
    assert {row.source for row in filled} == {"the coverage chart in the job file ([[fibre.by_depth]])"}


def test_a_part_of_the_check_that_odd_geometry_stops_does_not_stop_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ValueError("a ring of three equal points")

    model = Builder()
    house(model, leave_out=0)
    monkeypatch.setattr(plan_check, "drawn_twice", broken)
    check = checked(model, tmp_path)
    (finding,) = found(check, "check-step-failed")
    assert "walls drawn twice (a ring of three equal points)" in finding.message
    assert found(check, "room-without-wall")


def test_a_wall_whose_u_value_fails_does_not_stop_the_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = walls.heat_of

    def broken(result: Any, *rest: Any, **more: Any) -> Any:
        if result.wall.name == "Wall 1":
            raise ValueError("odd")
        return real(result, *rest, **more)

    model = Builder()
    house(model)
    monkeypatch.setattr(walls, "heat_of", broken)
    check = checked(model, tmp_path)
    assert [part.wall.wall.name for part in check.envelope.parts] == ["Wall 0", "Wall 2", "Wall 3"]
    assert [finding.element_name for finding in found(check, "no-u-value")] == ["Wall 1"]


def test_air_gaps_raise_the_u_value_of_the_combined_method_by_their_correction(tmp_path: Path) -> None:
    """Level 2 adds 0.04 (R of the insulated layer / R of the wall)^2 W/(m2 K): ISO 6946, BR 443 (2019) 4.8.1."""
    model = Builder()
    outside(model, model.wall("Wall", layers=FRAMED, thickness=THICK))
    (plain,) = checked(model, tmp_path, '[thermal]\nmethod = "iso_6946"\n').envelope.parts
    (gapped,) = checked(model, tmp_path, '[thermal]\nmethod = "iso_6946"\nair_gaps = 2\n').envelope.parts
    assert plain.governing is not None
    assert gapped.governing is not None
    films_and_layers = 0.13 + 0.04 + sum(row.resistance for row in plain.heat.layers)
    assert plain.governing.lower is not None
    share = (plain.governing.lower - films_and_layers) / plain.governing.resistance
    assert gapped.governing.u - plain.governing.u == pytest.approx(0.04 * share**2)
