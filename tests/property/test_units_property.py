"""Conversions hold for any number, and agree with pint on the forms that pint reads right.

Reference: pint, a general-purpose library of units (tests only).
"""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from takeoff.units import (
    INCH,
    UnitError,
    feet_and_inches,
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

DECIMALS = st.decimals(min_value=0, max_value=100_000, places=4, allow_nan=False, allow_infinity=False)
PAIRS = [
    (parse_length, ["mm", "cm", "m", "in", "ft", "yd"], "m"),
    (parse_area, ["mm^2", "cm^2", "m^2", "in^2", "ft^2", "yd^2"], "m^2"),
    (parse_volume, ["m^3", "L", "in^3", "ft^3", "yd^3"], "m^3"),
    (parse_mass, ["g", "kg", "oz", "lb"], "kg"),
    (parse_density, ["kg/m^3", "g/cm^3", "lb/ft^3"], "kg/m^3"),
]
THERMAL = [
    (parse_resistance, "h ft2 F/Btu", "hour*foot**2*delta_degF/Btu_it", "m**2*kelvin/watt"),
    (parse_resistance, "m2K/W", "m**2*kelvin/watt", "m**2*kelvin/watt"),
    (parse_transmittance, "Btu/(h ft2 F)", "Btu_it/(hour*foot**2*delta_degF)", "watt/m**2/kelvin"),
    (parse_conductivity, "Btu in/(h ft2 F)", "Btu_it*inch/(hour*foot**2*delta_degF)", "watt/m/kelvin"),
    (parse_conductivity, "Btu/(h ft F)", "Btu_it/(hour*foot*delta_degF)", "watt/m/kelvin"),
    (parse_conductivity, "W/(m K)", "watt/m/kelvin", "watt/m/kelvin"),
]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize(("read", "unit", "si"), [(read, unit, si) for read, names, si in PAIRS for unit in names])
def test_decimal_quantities_agree_with_pint(read, unit, si, registry) -> None:
    for number in ("0", "0.0001", "1", "3.5", "19.2", "12345.678"):
        expected = registry.Quantity(f"{number} {unit}").to(si).magnitude
        assert read(f"{number} {unit}") == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("read", "unit", "theirs", "si"), THERMAL)
def test_thermal_quantities_agree_with_pint(read, unit, theirs, si, registry) -> None:
    for number in (0.036, 1.0, 13.0, 19.0):
        expected = registry.Quantity(number, theirs).to(si).magnitude
        assert read(f"{number} {unit}") == pytest.approx(expected, rel=1e-12)


@given(DECIMALS)
def test_a_decimal_in_millimetres_is_the_nearest_float(number) -> None:
    assert parse_length(f"{number} mm") == float(Fraction(str(number)) / 1000)


@given(st.integers(0, 500), st.integers(0, 11), st.integers(0, 15))
def test_what_is_written_in_feet_and_inches_reads_back(feet: int, inches: int, sixteenths: int) -> None:
    length = ((feet * 12 + inches) * 16 + sixteenths) / 16 * INCH
    assert parse_length(feet_and_inches(length)) == pytest.approx(length, rel=1e-12, abs=1e-12)


@given(st.floats(-1000, 1000))
def test_feet_and_inches_are_never_off_by_more_than_a_thirtysecond(length: float) -> None:
    again = parse_length(feet_and_inches(length), allow_negative=True)
    assert abs(again - length) <= INCH / 32 * (1 + 1e-9)


@given(
    st.floats(1e-9, 1e9),
    st.sampled_from(["m", "m2", "m3", "kg", "kg/m3", "m2 K/W", "W/(m2 K)", "W/(m K)"]),
)
@example(0.1 + 0.2, "m")
@example(1.5 * 0.0254, "m")
def test_an_exact_text_reads_back_as_the_same_float(value: float, unit: str) -> None:
    readers = {
        "m": parse_length,
        "m2": parse_area,
        "m3": parse_volume,
        "kg": parse_mass,
        "kg/m3": parse_density,
        "m2 K/W": parse_resistance,
        "W/(m2 K)": parse_transmittance,
        "W/(m K)": parse_conductivity,
    }
    assert readers[unit](written(value, unit)) == value


def _value_or_refusal(read, text: str) -> float | str:
    try:
        return read(text)
    except UnitError as error:
        return str(error)


@given(st.text(max_size=120))
@example("1" * 60 + "/" + "3" * 18 + "m")
@example("1 1/2-3/4 in")
def test_any_text_is_read_or_refused_in_one_line_but_never_breaks(text: str) -> None:
    for read in (parse_length, parse_density, parse_resistance, parse_conductivity):
        got = _value_or_refusal(read, text)
        assert "\n" not in got if isinstance(got, str) else got >= 0.0


@given(st.text("0123456789 /-.'\"inftm", max_size=14))
def test_text_of_digits_and_marks_never_breaks(text: str) -> None:
    got = _value_or_refusal(parse_length, text)
    assert isinstance(got, str) or got >= 0.0
