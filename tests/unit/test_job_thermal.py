"""The job file's sections on heat and on the comparison with the plans."""

from __future__ import annotations

import pytest

from takeoff.assumptions import assumptions
from takeoff.envelope.settings import FramingFacts, fill_of, settings_for, target_of
from takeoff.job import JobError, default_job, read_job
from takeoff.job_writer import commented_job
from takeoff.thermal import Ventilation, blown_resistance

R_US = 0.17611018368230584
"""m2 K/W in one h ft2 F/Btu (international table Btu)"""
WOOD = FramingFacts("Spruce", False)


def fault(text: str) -> str:
    with pytest.raises(JobError) as caught:
        read_job(text)
    return str(caught.value)


def test_every_default_has_a_unit_and_a_source() -> None:
    rows = [row for row in assumptions(default_job()) if row.key.startswith(("thermal.", "plan_check."))]
    assert len(rows) == 15
    assert all(row.source for row in rows)
    assert all(row.unit for row in rows)


@pytest.mark.parametrize(
    ("text", "u"),
    [
        ("0.25 W/(m2 K)", 0.25),
        ("4 m2 K/W", 0.25),
        ("R-20", 1 / (20 * R_US)),
        ("0.05 Btu/(h ft2 F)", 0.05 / R_US),
    ],
)
def test_a_target_is_read_as_a_u_value_or_a_resistance(text: str, u: float) -> None:
    target = target_of(read_job(f'[thermal]\ntarget = "{text}"\n'))
    assert target is not None
    assert target.u == pytest.approx(u, rel=1e-9)
    assert target.warning == ""


def test_a_climate_zone_gives_the_code_minimum_with_its_warning_and_the_project_goes_before() -> None:
    text = '[thermal]\nclimate_zone = "4C"\n'
    code = target_of(read_job(text))
    assert code is not None
    assert "check the edition in force locally" in code.warning
    assert "IECC" in code.name
    own = target_of(read_job(text + 'target = "0.2 W/(m2 K)"\n'))
    assert own is not None
    assert own.u == 0.2
    assert target_of(default_job()) is None


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('fibre = "straw"', "There is no fibre 'straw'"),
        ('climate_zone = "12"', "is no climate zone"),
        ('target = "4"', "has no unit"),
        ('target = "R-0"', "above zero"),
        ('target = "200 W/(m2 K)"', "write a value from"),
        ('framing_conductivity = "12 W/(m K)"', "write a value from"),
        ("air_gaps = 3", "air_gaps"),
        ('method = "magic"', "method"),
        ('grade = "IV"', "grade"),
    ],
)
def test_a_value_that_makes_no_sense_is_refused_with_its_key(line: str, said: str) -> None:
    message = fault(f"[thermal]\n{line}\n")
    assert said in message
    assert f"thermal.{line.split(' ')[0]}" in message


def test_the_stated_fibre_is_the_default_and_a_row_of_the_table_holds_its_density() -> None:
    plain = blown_resistance(fill_of(default_job(), WOOD), 0.14)
    assert plain.value == pytest.approx(0.14 / 0.0355)
    assert "ASHRAE" in plain.source
    stated = fill_of(read_job('[fibre]\nconductivity = "0.04 W/(m K)"\n'), WOOD)
    assert blown_resistance(stated, 0.14).value == pytest.approx(3.5)
    assert "job file" in blown_resistance(stated, 0.14).source
    key = '[thermal]\nfibre = "glass_closed_cavity_2021"\n'
    assert blown_resistance(fill_of(read_job(key), WOOD), 0.14).value == pytest.approx(0.14 / 0.036)
    light = read_job(key + '[fibre]\ndensity = "20 kg/m3"\n')
    refused = blown_resistance(fill_of(light, WOOD), 0.14)
    assert refused.value is None
    assert "29 to 37" in refused.reason


def test_a_chart_by_depth_holds_up_to_its_depth_and_gives_shallower_cavities_their_share() -> None:
    job = read_job(
        '[[fibre.by_depth]]\ndepth_to = "3.5 in"\ndensity = "33 kg/m3"\nresistance = "R-15"\n'
        '[[fibre.by_depth]]\ndepth_to = "5.5 in"\ndensity = "30 kg/m3"\nresistance = "R-22"\n'
    )
    fill = fill_of(job, WOOD)
    assert blown_resistance(fill, 3.5 * 0.0254).value == pytest.approx(15 * R_US)
    assert blown_resistance(fill, 1.75 * 0.0254).value == pytest.approx(7.5 * R_US)
    assert blown_resistance(fill, 5.5 * 0.0254).value == pytest.approx(22 * R_US)
    assert blown_resistance(fill, 0.2).value == pytest.approx(0.2 / 0.0355)


def test_a_stud_layer_named_after_its_insulation_is_framed_in_softwood() -> None:
    for name in ("Mineral wool between studs", "Gypsum partition", "", "Holz"):
        assert fill_of(default_job(), FramingFacts(name, False)).framing_material in ("softwood", "Holz"), name


def test_air_layers_are_as_the_job_says_unless_a_layer_says_more() -> None:
    job = read_job('[thermal]\nair_layers = "slightly_ventilated"\n')
    settings = settings_for(job, (), wall_id="W", external=True, outside_far=True)
    assert settings.air is Ventilation.SLIGHTLY


def test_the_written_job_reads_back_the_same() -> None:
    job = read_job(
        '[thermal]\nmethod = "iso_6946"\nclimate_zone = "5A"\nair_gaps = 1\ntarget = "R-20"\n'
        '[[thermal.material]]\nname = "OSB*"\nconductivity = "0.13 W/(m K)"\n'
        '[[fibre.by_depth]]\ndepth_to = "4 in"\ndensity = "33 kg/m3"\nresistance = "R-15"\n'
        '[plan_check]\nleast_area = "2 ft2"\n'
    )
    again = read_job(commented_job(job))
    assert again == job
    assert assumptions(again) == assumptions(job)
    assert "Not set by default" in commented_job(default_job())
