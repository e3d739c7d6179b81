"""Quantities in text are read exactly or refused; numbers are written as the trade writes them.

Sources: the inch is 25.4 mm and the pound 0.45359237 kg by the agreement of 1959; the British thermal unit
(International Table) is 1055.05585262 J (NIST SP 811, from memory); the bay of 4.2748 ft3 is in
../shared/check-values.md, section 5.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable

import pytest

from takeoff import units
from takeoff.errors import TakeoffError
from takeoff.units import (
    UnitError,
    feet_and_inches,
    format_area,
    format_conductivity,
    format_density,
    format_heat_loss,
    format_length,
    format_mass,
    format_resistance,
    format_transmittance,
    format_volume,
    parse_area,
    parse_conductivity,
    parse_density,
    parse_length,
    parse_mass,
    parse_resistance,
    parse_transmittance,
    parse_volume,
    written,
)

LENGTHS = [
    ("5'-6\"", 1.6764),
    ("5' 6\"", 1.6764),
    ("5'6\"", 1.6764),
    ("5′-6″", 1.6764),
    ("5’-6”", 1.6764),
    ("8 ft 6 in", 2.5908),
    ("8ft6in", 2.5908),
    ("8 FT 6 IN", 2.5908),
    ("8 ft. 6 in.", 2.5908),
    ("5'-6 1/2\"", 1.6891),
    ("5'-6-1/2\"", 1.6891),
    ("5'-0 1/2\"", 1.5367),
    ("5'-1/2\"", 1.5367),
    ("1 1/2 in", 0.0381),
    ('1-1/2"', 0.0381),
    ("1½ in", 0.0381),
    ('½"', 0.0127),
    ("3/4 in", 0.01905),
    ('16"', 0.4064),
    ("16''", 0.4064),
    ("16 in", 0.4064),
    ("16 inches", 0.4064),
    ("92-5/8 in", 2.352675),
    ("97 1/8 in", 2.466975),
    ("19.2 in", 0.48768),
    ("8'", 2.4384),
    ("2.5 ft", 0.762),
    ("1 yd", 0.9144),
    ("400 mm", 0.4),
    ("400mm", 0.4),
    ("400 MM", 0.4),
    ("0.4 m", 0.4),
    (".4 m", 0.4),
    ("40 cm", 0.4),
    ("1e-7 m", 1e-7),
    ("+3 m", 3.0),
    ("  12.5 mm ", 0.0125),
    ("12.5\u00a0mm", 0.0125),
    ("0 m", 0.0),
]


@pytest.mark.parametrize(("text", "metres"), LENGTHS)
def test_a_length_is_read_to_the_last_bit(text: str, metres: float) -> None:
    assert parse_length(text) == metres


UNCLEAR_LENGTHS = [
    "",
    " ",
    "5",
    "16",
    "1,200",
    "1,5 m",
    "1,200 mm",
    "m",
    "in",
    '"',
    "five feet",
    "5 furlongs",
    "5 M",
    "5 Mm",
    "5 kg",
    "5 ft2",
    "-3 mm",
    "5' 14\"",
    "5' 12\"",
    "5.5' 6\"",
    "5'6",
    "5'-",
    "8 ft 6",
    "8 6 in",
    "1/0 in",
    "1 3/2 in",
    "1/2/3 in",
    "12 in 3 ft",
    "5 m 20 cm",
    "1 000 mm",
    "1'000 mm",
    "0x10 mm",
    "nan m",
    "inf m",
    "1e999 m",
    "1e99 m",
    "--5 m",
    "5 m m",
    "5 m^",
    "5 (m)",
    "5 m 2",
    "5 .m",
    "16 in o.c.",
    "5 °",
    "٥ m",
    "५ mm",
    "5 ㎜²",
    "x" * 10_000,
    "9" * 10_000 + " m",
    "5\x00 m",
    "5\nm2",
    "5 Å",
    "1-2 in",
    "1--1/2 in",
    "5 '6\" '",
    "½½ in",
    "1 - 1/2/2 in",
]  # fmt: skip


@pytest.mark.parametrize("text", UNCLEAR_LENGTHS)
def test_an_unclear_length_is_refused_in_one_line_that_says_what_is_accepted(text: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_length(text)
    message = str(caught.value)
    assert "400 mm" in message
    assert "\n" not in message
    assert len(message) < 320


@pytest.mark.parametrize("value", [5, 0.4, None, True, ["5 m"], b"5 m"])
def test_what_is_no_text_is_refused(value: object) -> None:
    with pytest.raises(UnitError, match="quotes"):
        parse_length(value)  # type: ignore[arg-type]


def test_a_negative_length_is_read_only_where_it_makes_sense() -> None:
    assert parse_length("-5'-6\"", allow_negative=True) == -1.6764
    assert parse_length("-12.5 mm", allow_negative=True) == -0.0125


def test_an_error_of_units_keeps_its_facts_when_pickled() -> None:
    error = UnitError("5", "has no unit", "5 m")
    again = pickle.loads(pickle.dumps(error))
    assert (again.text, str(again)) == ("5", str(error))
    assert isinstance(error, TakeoffError)
    assert isinstance(error, ValueError)


OTHER_QUANTITIES: list[tuple[Callable[[str], float], str, float]] = [
    (parse_area, "12 m2", 12.0),
    (parse_area, "12 m²", 12.0),
    (parse_area, "1 ft2", 0.09290304),
    (parse_area, "1 ft^2", 0.09290304),
    (parse_area, "1 sq ft", 0.09290304),
    (parse_area, "1 SF", 0.09290304),
    (parse_volume, "1 ft3", 0.028316846592),
    (parse_volume, "1 cu ft", 0.028316846592),
    (parse_volume, "3 L", 0.003),
    (parse_volume, "0.12 m³", 0.12),
    (parse_volume, "1 yd3", 0.764554857984),
    (parse_mass, "1 lb", 0.45359237),
    (parse_mass, "16 oz", 0.45359237),
    (parse_mass, "14 kg", 14.0),
    (parse_density, "33 kg/m3", 33.0),
    (parse_density, "33 KG/M3", 33.0),
    (parse_density, "1 lb/ft3", 16.018463373960138),
    (parse_density, "1 lb/ft^3", 16.018463373960138),
    (parse_density, "1 pcf", 16.018463373960138),
    (parse_resistance, "2.3 m2K/W", 2.3),
    (parse_resistance, "2.3 m²·K/W", 2.3),
    (parse_resistance, "RSI 2.3", 2.3),
    (parse_resistance, "R-13", 13 * 0.17611018368230188),
    (parse_resistance, "R13", 13 * 0.17611018368230188),
    (parse_resistance, "13 h ft2 F/Btu", 13 * 0.17611018368230188),
    (parse_resistance, "13 h·ft²·°F/Btu", 13 * 0.17611018368230188),
    (parse_transmittance, "0.3 W/(m2 K)", 0.3),
    (parse_transmittance, "0.3 W/m2K", 0.3),
    (parse_transmittance, "1 Btu/(h ft2 F)", 5.678263341113487),
    (parse_conductivity, "0.036 W/(m K)", 0.036),
    (parse_conductivity, "36 mW/(m K)", 0.036),
    (parse_conductivity, "1 Btu in/(h ft2 F)", 0.14422788886422816),
]


@pytest.mark.parametrize(("read", "text", "value"), OTHER_QUANTITIES)
def test_areas_volumes_masses_and_thermal_values_are_read(
    read: Callable[[str], float], text: str, value: float
) -> None:
    assert read(text) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (parse_density, "1.8"),
        (parse_density, "1.8 lb"),
        (parse_density, "33 kg/m2"),
        (parse_density, "-1 kg/m3"),
        (parse_density, "1,8 kg/m3"),
        (parse_area, "3 m"),
        (parse_area, "3 m 2"),
        (parse_volume, "3 M"),
        (parse_resistance, "13"),
        (parse_resistance, "R"),
        (parse_resistance, "R--13"),
        (parse_resistance, "R-13 m2K/W"),
        (parse_conductivity, "36 MW/mK"),
        (parse_conductivity, "0.3 W/m2K"),
        (parse_transmittance, "0.3 W/mK"),
    ],
)
def test_a_quantity_of_another_kind_or_without_unit_is_refused(read: Callable[[str], float], text: str) -> None:
    with pytest.raises(UnitError):
        read(text)


def test_the_factors_follow_from_inch_pound_and_british_thermal_unit() -> None:
    assert units.INCH == 0.0254
    assert units.FOOT == 0.3048
    assert units.POUND == 0.45359237
    assert units.BTU == 1055.05585262
    assert pytest.approx(0.3048**3, rel=1e-15) == units.CUBIC_FOOT


def test_a_bay_between_2x6_studs_at_16_inches_holds_4_2748_cubic_feet() -> None:
    # Own arithmetic of ../shared/check-values.md, section 5: 5.5 x 14.5 x 92.625 in.
    bay = parse_length("5-1/2 in") * parse_length("14.5 in") * parse_length("92-5/8 in")
    assert bay / units.CUBIC_FOOT == pytest.approx(4.2748, abs=5e-5)
    assert bay == pytest.approx(0.12105, abs=5e-6)


def test_handbook_densities_agree_between_their_two_units() -> None:
    # ASHRAE Fundamentals 2021 chapter 26 Table 1 as given in ../shared/check-values.md, section 3.
    for metric, us in ((29, 1.81), (37, 2.31), (64, 4.0), (56, 3.5)):
        assert parse_density(f"{us} lb/ft3") == pytest.approx(metric, rel=0.006)


FEET_AND_INCHES = [
    (0.0, '0"'),
    (0.0254 / 2, '1/2"'),
    (0.0381, '1 1/2"'),
    (0.4064, "1'-4\""),
    (2.4384, "8'-0\""),
    (2.352675, "7'-8 5/8\""),
    (1.5367, "5'-0 1/2\""),
    (0.3048 - 1e-5, "1'-0\""),
    (-0.4064, "-1'-4\""),
    (-1e-9, '0"'),
]


@pytest.mark.parametrize(("metres", "text"), FEET_AND_INCHES)
def test_a_length_is_written_in_feet_inches_and_sixteenths(metres: float, text: str) -> None:
    assert feet_and_inches(metres) == text


def test_reports_write_both_systems() -> None:
    shown = [
        (format_length(0.4064, "metric"), "406 mm"),
        (format_length(0.9999, "metric"), "1.000 m"),
        (format_length(2.4384, "metric"), "2.438 m"),
        (format_length(2.4384, "us"), "8'-0\""),
        (format_length(2.4384, "us", decimal=True), "8.00 ft"),
        (format_area(12.0, "metric"), "12.00 m2"),
        (format_area(12.0, "us"), "129.2 ft2"),
        (format_volume(0.12105, "metric"), "0.121 m3"),
        (format_volume(0.12105, "us"), "4.27 ft3"),
        (format_mass(10.0, "us"), "22.0 lb"),
        (format_mass(10.0, "metric"), "10.0 kg"),
        (format_density(33.0, "metric"), "33.0 kg/m3"),
        (format_density(33.0, "us"), "2.06 lb/ft3"),
        (format_resistance(2.2894, "metric"), "2.29 m2K/W"),
        (format_resistance(2.2894, "us"), "R-13.0"),
        (format_transmittance(0.36, "us"), "0.063 Btu/(h ft2 F)"),
        (format_transmittance(0.36, "metric"), "0.360 W/(m2 K)"),
        (format_conductivity(0.0355, "metric"), "0.0355 W/(m K)"),
        (format_conductivity(0.0355, "us"), "0.2461 Btu in/(h ft2 F)"),
        (format_area(-1e-9, "metric"), "0.00 m2"),
    ]
    assert [have for have, _ in shown] == [want for _, want in shown]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_not_finite_is_never_written(value: float) -> None:
    for write in (format_length, format_area, format_volume, format_mass, format_density):
        for system in ("metric", "us"):
            with pytest.raises(UnitError):
                write(value, system)


def test_a_value_is_written_in_the_unit_in_which_it_is_round() -> None:
    assert written(0.4064, "m") == "16 in"
    assert written(0.045, "m") == "45 mm"
    assert written(2.352675, "m") == "92-5/8 in"
    assert written(33.0, "kg/m3") == "33 kg/m3"
    assert written(1.5 * 0.0254, "m", exact=False) == "1.5 in"


def test_heat_loss_is_shown_in_watts_or_btu_an_hour_for_each_degree() -> None:
    """1 W/K is 1.8956 Btu/(h F) (international table Btu)."""
    pint = pytest.importorskip("pint")
    units = pint.UnitRegistry()
    factor = units.Quantity(1.0, "watt / kelvin").to("Btu_it / hour / delta_degF").magnitude
    assert format_heat_loss(10.0, "metric") == "10.00 W/K"
    assert format_heat_loss(10.0, "us") == f"{10.0 * factor:.2f} Btu/(h F)"


def test_measures_in_words_are_turned_and_names_stay() -> None:
    words = "opening 0.9144 m wide in wall 'Stud 140 mm', 1.5 m2 and 0.02831684659 m3 of it"
    assert units.prose_in_units(words, "metric") == words
    turned = units.prose_in_units(words, "us")
    assert turned == "opening 3'-0\" wide in wall 'Stud 140 mm', 16.1 ft2 and 1.00 ft3 of it"
    assert units.prose_in_units("gap of 25.4 mm over 50.8 mm", "us", names=False) == 'gap of 1" over 2"'


def test_numbers_in_units_are_rounded_as_they_are_printed() -> None:
    assert units.in_units(1.0, "m3", "us") == (35.31, "ft3")
    assert units.in_units(1.23456, "m2", "metric") == (1.23, "m2")
    assert units.in_units(12.0, "piece", "us") == (12.0, "piece")
    assert units.unit_of_report("kg", "us") == (0.45359237, "lb")
