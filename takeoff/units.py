"""The only place that converts: text with a unit into SI floats, and SI floats into text for a report.

Inside the program there are only metres, m2, m3, kg, kelvin and watts. What a person writes is read here, exactly
(fractions of whole numbers, rounded once at the end), and anything that could be read in two ways is refused.

Base factors are exact by definition: the inch and the pound by the international yard and pound agreement of 1959,
the British thermal unit by the International Table calorie of 4.1868 J; everything else is computed from them.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Literal

from takeoff.errors import TakeoffError

UnitSystem = Literal["metric", "us"]
LONGEST_TEXT = 80
"""Characters; a quantity is shorter, and longer text is refused before it is looked at."""
LARGEST = 1e12
"""SI; no quantity of a building comes near it, so anything above is a slip of the pen."""

_INCH = Fraction(254, 10_000)
_FOOT = 12 * _INCH
_YARD = 3 * _FOOT
_POUND = Fraction(45_359_237, 100_000_000)
_HOUR = Fraction(3600)
_FAHRENHEIT_STEP = Fraction(5, 9)
_BTU = _POUND * Fraction(41_868, 10) * _FAHRENHEIT_STEP
_CM = Fraction(1, 100)
_MM = Fraction(1, 1000)
_R_US = _HOUR * _FOOT**2 * _FAHRENHEIT_STEP / _BTU

INCH = float(_INCH)
"""m"""
FOOT = float(_FOOT)
"""m"""
SQUARE_FOOT = float(_FOOT**2)
"""m2"""
CUBIC_FOOT = float(_FOOT**3)
"""m3"""
POUND = float(_POUND)
"""kg"""
BTU = float(_BTU)
"""J, International Table"""
POUND_PER_CUBIC_FOOT = float(_POUND / _FOOT**3)
"""kg/m3"""
R_US = float(_R_US)
"""m2 K/W in one h ft2 F/Btu"""


class UnitError(TakeoffError, ValueError):
    """A text that is no clear quantity. `text` is what was read, `accepted` what would be."""

    def __init__(self, text: str, problem: str, accepted: str) -> None:
        super().__init__(text, problem, accepted)
        self.text = text
        self.problem = problem
        self.accepted = accepted

    def __str__(self) -> str:
        return f"{_shown(self.text)} {self.problem}; write {self.accepted}."


# ---------------------------------------------------------------- reading text

_LENGTH_UNITS: dict[str, Fraction] = {
    "mm": _MM, "millimetre": _MM, "millimetres": _MM, "millimeter": _MM, "millimeters": _MM,
    "cm": _CM, "centimetre": _CM, "centimetres": _CM, "centimeter": _CM, "centimeters": _CM,
    "m": Fraction(1), "metre": Fraction(1), "metres": Fraction(1), "meter": Fraction(1), "meters": Fraction(1),
    '"': _INCH, "in": _INCH, "inch": _INCH, "inches": _INCH,
    "'": _FOOT, "ft": _FOOT, "foot": _FOOT, "feet": _FOOT,
    "yd": _YARD, "yard": _YARD, "yards": _YARD,
}  # fmt: skip
_AREA_UNITS: dict[str, Fraction] = {
    "mm2": _MM**2, "cm2": _CM**2, "m2": Fraction(1), "sqm": Fraction(1),
    "in2": _INCH**2, "sqin": _INCH**2, "ft2": _FOOT**2, "sqft": _FOOT**2, "sf": _FOOT**2, "yd2": _YARD**2,
}  # fmt: skip
_VOLUME_UNITS: dict[str, Fraction] = {
    "mm3": _MM**3, "cm3": _CM**3, "m3": Fraction(1), "l": _MM, "litre": _MM, "litres": _MM, "liter": _MM,
    "liters": _MM, "in3": _INCH**3, "cuin": _INCH**3, "ft3": _FOOT**3, "cuft": _FOOT**3, "cf": _FOOT**3,
    "yd3": _YARD**3, "cuyd": _YARD**3,
}  # fmt: skip
_MASS_UNITS: dict[str, Fraction] = {
    "g": _MM, "gram": _MM, "grams": _MM, "kg": Fraction(1), "t": Fraction(1000), "tonne": Fraction(1000),
    "tonnes": Fraction(1000), "oz": _POUND / 16, "ounce": _POUND / 16, "ounces": _POUND / 16, "lb": _POUND,
    "lbs": _POUND, "pound": _POUND, "pounds": _POUND,
}  # fmt: skip
_DENSITY_UNITS: dict[str, Fraction] = {
    "kg/m3": Fraction(1), "g/cm3": Fraction(1000), "g/l": Fraction(1), "kg/l": Fraction(1000),
    "lb/ft3": _POUND / _FOOT**3, "lbs/ft3": _POUND / _FOOT**3, "lb/cuft": _POUND / _FOOT**3, "pcf": _POUND / _FOOT**3,
}  # fmt: skip
_RESISTANCE_UNITS: dict[str, Fraction] = {
    "m2k/w": Fraction(1), "km2/w": Fraction(1), "m2c/w": Fraction(1),
    **{f"{order}/btu": _R_US for order in ("hft2f", "hrft2f", "ft2hf", "ft2hrf", "ft2fh", "ft2fhr", "hfft2", "fft2h")},
}  # fmt: skip
_TRANSMITTANCE_UNITS: dict[str, Fraction] = {
    "w/m2k": Fraction(1), "w/km2": Fraction(1),
    **{f"btu/{order}": 1 / _R_US for order in ("hft2f", "hrft2f", "ft2hf", "ft2hrf", "ft2fh", "ft2fhr")},
}  # fmt: skip
_CONDUCTIVITY_UNITS: dict[str, Fraction] = {
    "w/mk": Fraction(1), "w/km": Fraction(1), "mw/mk": _MM,
    **{f"btu/{order}": _FOOT / _R_US for order in ("hftf", "hrftf", "fthf")},
    **{f"btuin/{order}": _INCH / _R_US for order in ("hft2f", "hrft2f", "ft2hf", "ft2hrf")},
}  # fmt: skip

_ACCEPTED_LENGTH = "a number with its unit, such as 400 mm, 0.4 m, 16 in, 92-5/8 in or 5'-6\""
_ACCEPTED_R = "a number with its unit, such as 2.3 m2K/W, 13 h ft2 F/Btu, R-13 or RSI 2.3"

_DECIMAL = r"(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d{1,2})?"
_WHOLE_FRACTION = r"(?:(?P<whole>\d+)(?:\s+|-|\s-\s))?(?P<top>\d+)/(?P<bottom>\d+)"
_NUMBER = re.compile(rf"(?:{_WHOLE_FRACTION}|(?P<decimal>{_DECIMAL}))")
_FEET_AND_INCHES = re.compile(
    r"(?P<feet>\d+)\s*(?:'|ft\.?|feet|foot)\s*-?\s*(?P<inches>\d[\d\s./-]*?)\s*(?:\"|in\.?|inch|inches)", re.IGNORECASE
)
_R_SHORT = re.compile(rf"(?P<kind>rsi|r)\s*-?\s*(?P<number>{_DECIMAL})", re.IGNORECASE)

_REPLACED = str.maketrans(
    {
        "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "″": '"', "”": '"', "“": '"', "⁄": "/", "∕": "/",
        "−": "-", "–": "-", "—": "-", "²": "2", "³": "3", "·": " ", "⋅": " ", "°": " ", "\u00a0": " ", "\u202f": " ",
        "\u2009": " ",
    }
)  # fmt: skip


def _shown(text: str) -> str:
    """The text as an error may quote it: printable, and cut where it is long."""
    clean = "".join(char if char.isprintable() else " " for char in text)
    return f"'{clean if len(clean) <= LONGEST_TEXT else clean[:LONGEST_TEXT] + '...'}'"


def _tidy(text: str, accepted: str) -> str:
    """Plain form of what was written: straight marks, ASCII digits for vulgar fractions, no outer space."""
    if not isinstance(text, str):
        raise UnitError(str(text), "has no unit" if _is_number(text) else "is not text", f"text in quotes: {accepted}")
    if len(text) > LONGEST_TEXT:
        raise UnitError(text, f"is longer than {LONGEST_TEXT} characters", accepted)
    pieces = []
    for char in text.translate(_REPLACED):
        wide = unicodedata.normalize("NFKC", char) if unicodedata.decomposition(char).startswith("<fraction>") else ""
        pieces.append(f" {wide.replace(chr(0x2044), '/')}" if wide else char)
    plain = "".join(pieces).replace("''", '"').strip()
    if not plain:
        raise UnitError(text, "is empty", accepted)
    if "," in plain:
        raise UnitError(text, "has a comma, which could part thousands or decimals", f"a decimal point, {accepted}")
    if not plain.isascii():
        raise UnitError(text, "has characters that belong to no number or unit", accepted)
    return plain


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _number(match: re.Match[str], text: str, accepted: str) -> Fraction:
    """Exact value of a matched decimal, fraction or whole number with a fraction."""
    if match["decimal"] is not None:
        return Fraction(match["decimal"])
    top, bottom = int(match["top"]), int(match["bottom"])
    if bottom == 0:
        raise UnitError(text, "divides by zero", accepted)
    if match["whole"] is not None and top >= bottom:
        raise UnitError(text, "has a fraction of one or more beside a whole number", accepted)
    return int(match["whole"] or 0) + Fraction(top, bottom)


def _split_sign(plain: str, text: str, accepted: str, allow_negative: bool) -> tuple[int, str]:
    if not plain.startswith(("-", "+")):
        return 1, plain
    if plain[0] == "-" and not allow_negative:
        raise UnitError(text, "is negative, which makes no sense here", accepted)
    return (-1 if plain[0] == "-" else 1), plain[1:].lstrip()


def _checked(value: Fraction, text: str, accepted: str) -> float:
    if abs(value) > LARGEST:
        raise UnitError(text, "is larger than anything in a building", accepted)
    return float(value)


def _unit_key(unit: str) -> str:
    """Unit as the tables spell it, lower case: 'W/(m2 K)' and 'W/(m^2*K)' -> 'w/m2k'; unclear forms stay unknown.

    Capitals are common in drawings (MM, FT, KG/M3), but a leading M that is not part of such a word could be mega.
    """
    if unit[0] == "M" and (not unit.isupper() or unit == "M" or unit[1] in "W/"):
        return ""
    if re.search(r"[\s*.]\d|\^(?!\d)", unit):
        return ""
    # Spaces part the units of a product, not the letters of one unit: 'm m' is no millimetre.
    if re.search(r"\s", unit) and "/" not in unit and not unit.lower().startswith(("sq", "cu")):
        return ""
    squeezed = re.sub(r"[\s^*.()]", "", unit.lower())
    return squeezed.replace("deg", "").replace("hour", "h")


def _quantity(
    text: str, units: Mapping[str, Fraction], accepted: str, *, allow_negative: bool = False, plain: str | None = None
) -> float:
    """One number and one unit out of `units`. `plain` is the text if it is tidy already."""
    sign, body = _split_sign(_tidy(text, accepted) if plain is None else plain, text, accepted, allow_negative)
    match = _NUMBER.match(body)
    if match is None:
        raise UnitError(text, "does not start with a number", accepted)
    unit = body[match.end() :].strip()
    if not unit:
        raise UnitError(text, "has no unit", accepted)
    factor = units.get(_unit_key(unit)) if unit[0] not in "/.-+*^(" else None
    if factor is None:
        raise UnitError(text, f"has the unknown unit {_shown(unit)}", accepted)
    return _checked(sign * _number(match, text, accepted) * factor, text, accepted)


def parse_length(text: str, *, allow_negative: bool = False) -> float:
    """Metres from text: `5'-6"`, `8 ft 6 in`, `1 1/2 in`, `92-5/8 in`, `16"`, `400 mm`, `0.4 m`.

    Raises:
        UnitError: no unit, unknown unit, comma, empty, too long, negative where that makes no sense, feet that are
            not whole or inches of a foot or more in a feet-and-inches text.

    >>> parse_length("16 in")
    0.4064
    """
    plain = _tidy(text, _ACCEPTED_LENGTH)
    sign, body = _split_sign(plain, text, _ACCEPTED_LENGTH, allow_negative)
    both = _FEET_AND_INCHES.fullmatch(body)
    if both is None:
        return _quantity(text, _LENGTH_UNITS, _ACCEPTED_LENGTH, allow_negative=allow_negative, plain=plain)
    inches = _NUMBER.fullmatch(both["inches"].strip())
    if inches is None:
        raise UnitError(text, "is no clear number of inches", _ACCEPTED_LENGTH)
    count = _number(inches, text, _ACCEPTED_LENGTH)
    if count >= 12:
        raise UnitError(text, "has a foot or more in its inches", _ACCEPTED_LENGTH)
    return _checked(sign * (int(both["feet"]) * _FOOT + count * _INCH), text, _ACCEPTED_LENGTH)


def parse_area(text: str) -> float:
    """m2 from text such as `12 m2`, `130 ft2` or `130 sq ft`."""
    return _quantity(text, _AREA_UNITS, "a number with its unit, such as 12 m2 or 130 ft2")


def parse_volume(text: str) -> float:
    """m3 from text such as `0.12 m3`, `3 L`, `4.3 ft3` or `4.3 cu ft`."""
    return _quantity(text, _VOLUME_UNITS, "a number with its unit, such as 0.12 m3, 3 L or 4.3 ft3")


def parse_mass(text: str) -> float:
    """kg from text such as `14 kg` or `31 lb`."""
    return _quantity(text, _MASS_UNITS, "a number with its unit, such as 14 kg or 31 lb")


def parse_density(text: str) -> float:
    """kg/m3 from text such as `33 kg/m3`, `1.8 lb/ft3` or `1.8 lb/ft^3`."""
    return _quantity(text, _DENSITY_UNITS, "a number with its unit, such as 33 kg/m3 or 1.8 lb/ft3")


def parse_resistance(text: str) -> float:
    """m2 K/W from text: `2.3 m2K/W`, `13 h ft2 F/Btu`, `R-13` (which is h ft2 F/Btu) or `RSI 2.3`."""
    plain = _tidy(text, _ACCEPTED_R)
    short = _R_SHORT.fullmatch(plain)
    if short is None:
        return _quantity(text, _RESISTANCE_UNITS, _ACCEPTED_R, plain=plain)
    factor = Fraction(1) if short["kind"].lower() == "rsi" else _R_US
    return _checked(Fraction(short["number"]) * factor, text, _ACCEPTED_R)


def parse_transmittance(text: str) -> float:
    """W/(m2 K) from text such as `0.3 W/m2K` or `0.06 Btu/(h ft2 F)`."""
    accepted = "a number with its unit, such as 0.3 W/(m2 K) or 0.06 Btu/(h ft2 F)"
    return _quantity(text, _TRANSMITTANCE_UNITS, accepted)


def parse_conductivity(text: str) -> float:
    """W/(m K) from text such as `0.036 W/(m K)`, `36 mW/(m K)` or `0.25 Btu in/(h ft2 F)`."""
    accepted = "a number with its unit, such as 0.036 W/(m K) or 0.25 Btu in/(h ft2 F)"
    return _quantity(text, _CONDUCTIVITY_UNITS, accepted)


# ---------------------------------------------------------------- writing text


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise UnitError(str(value), "is not a number that can be shown", "a finite value")
    return value


def _fixed(value: float, digits: int) -> str:
    """Fixed decimals without a minus before zero."""
    shown = f"{_finite(value):.{digits}f}"
    return shown[1:] if shown.startswith("-") and not shown.strip("-0.") else shown


def feet_and_inches(length: float, parts: int = 16) -> str:
    """Feet, inches and the nearest fraction of an inch, for a length in m: 2.4384 -> `8'-0"`, 0.0381 -> `1 1/2"`."""
    steps = round(abs(_finite(length)) / INCH * parts)
    feet, rest = divmod(steps, 12 * parts)
    inches, over = divmod(rest, parts)
    fraction = Fraction(over, parts)
    words = [str(inches)] if inches or not over else []
    words += [f"{fraction.numerator}/{fraction.denominator}"] if over else []
    if feet and not inches and over:
        words.insert(0, "0")
    shown = (f"{feet}'-" if feet else "") + " ".join(words) + '"'
    return f"-{shown}" if length < 0 and steps else shown


def format_length(length: float, system: UnitSystem, *, decimal: bool = False) -> str:
    """A length in m as a report shows it.

    metric: whole millimetres below a metre, else metres to the millimetre. us: feet, inches and sixteenths, or with
    `decimal` feet to a hundredth.
    """
    if system == "metric":
        return f"{_fixed(length * 1000, 0)} mm" if abs(length) < 0.9995 else f"{_fixed(length, 3)} m"
    return f"{_fixed(length / FOOT, 2)} ft" if decimal else feet_and_inches(length)


def format_area(area: float, system: UnitSystem) -> str:
    """An area in m2 as a report shows it: m2 to a hundredth or ft2 to a tenth."""
    return f"{_fixed(area, 2)} m2" if system == "metric" else f"{_fixed(area / SQUARE_FOOT, 1)} ft2"


def format_volume(volume: float, system: UnitSystem) -> str:
    """A volume in m3 as a report shows it: m3 to the litre or ft3 to a hundredth."""
    return f"{_fixed(volume, 3)} m3" if system == "metric" else f"{_fixed(volume / CUBIC_FOOT, 2)} ft3"


def format_mass(mass: float, system: UnitSystem) -> str:
    """A mass in kg as a report shows it, to a tenth of a kg or lb."""
    return f"{_fixed(mass, 1)} kg" if system == "metric" else f"{_fixed(mass / POUND, 1)} lb"


def format_small_mass(mass: float, system: UnitSystem) -> str:
    """A mass in kg that is weighed on a small scale: grams to a tenth or ounces to a hundredth."""
    return f"{_fixed(mass * 1000, 1)} g" if system == "metric" else f"{_fixed(mass / POUND * 16, 2)} oz"


def format_density(density: float, system: UnitSystem) -> str:
    """A density in kg/m3 as a report shows it: kg/m3 to a tenth or lb/ft3 to a hundredth."""
    return (
        f"{_fixed(density, 1)} kg/m3" if system == "metric" else f"{_fixed(density / POUND_PER_CUBIC_FOOT, 2)} lb/ft3"
    )


def format_resistance(resistance: float, system: UnitSystem) -> str:
    """A thermal resistance in m2 K/W as a report shows it: m2K/W to a hundredth, or R to a tenth (h ft2 F/Btu)."""
    return f"{_fixed(resistance, 2)} m2K/W" if system == "metric" else f"R-{_fixed(resistance / R_US, 1)}"


def format_transmittance(transmittance: float, system: UnitSystem) -> str:
    """A thermal transmittance in W/(m2 K) as a report shows it, to three digits after the point."""
    if system == "metric":
        return f"{_fixed(transmittance, 3)} W/(m2 K)"
    return f"{_fixed(transmittance * R_US, 3)} Btu/(h ft2 F)"


def format_heat_loss(heat: float, system: UnitSystem) -> str:
    """Heat through a wall for each degree, W/K, as a report shows it: to a hundredth of W/K or Btu/(h F)."""
    if system == "metric":
        return f"{_fixed(heat, 2)} W/K"
    return f"{_fixed(heat * R_US / SQUARE_FOOT, 2)} Btu/(h F)"


def format_conductivity(conductivity: float, system: UnitSystem) -> str:
    """A conductivity in W/(m K) as a report shows it, to four digits after the point."""
    if system == "metric":
        return f"{_fixed(conductivity, 4)} W/(m K)"
    return f"{_fixed(conductivity * R_US / INCH, 4)} Btu in/(h ft2 F)"


_SHOWN: dict[str, dict[str, tuple[float, str, int]]] = {
    "m": {"metric": (1.0, "m", 2), "us": (FOOT, "ft", 1)},
    "m2": {"metric": (1.0, "m2", 2), "us": (SQUARE_FOOT, "ft2", 1)},
    "m3": {"metric": (1.0, "m3", 3), "us": (CUBIC_FOOT, "ft3", 2)},
    "kg": {"metric": (1.0, "kg", 1), "us": (POUND, "lb", 1)},
    "piece": {"metric": (1.0, "piece", 0), "us": (1.0, "piece", 0)},
}


def in_units(value: float, unit: str, system: UnitSystem) -> tuple[float, str]:
    """An SI number (m, m2, m3 or kg) in the units of a report, rounded as it is printed, with the unit's sign.

    Pieces are whole; another unit that is the same everywhere (hours) keeps its number, rounded to two decimals.

    >>> in_units(10.0, "m2", "us")
    (107.6, 'ft2')
    """
    factor, sign, digits = _SHOWN.get(unit, {}).get(system, (1.0, unit, 2))
    return float(_fixed(value / factor, digits)), sign


def unit_of_report(unit: str, system: UnitSystem) -> tuple[float, str]:
    """How many SI units one unit of a report is, and its sign: what `in_units` divides by.

    >>> unit_of_report("m", "us")
    (0.3048, 'ft')
    """
    factor, sign, _ = _SHOWN.get(unit, {}).get(system, (1.0, unit, 2))
    return factor, sign


_MEASURE_IN_PROSE = re.compile(r"(?<![\w.])(\d+\.\d+) (m3|m2|m)\b(?!\w)")
"""Our own words give lengths, areas and volumes with decimals in m, m2 and m3; whole numbers of mm stand in names."""
_ANY_MEASURE_IN_PROSE = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) (m3|m2|mm|m)\b(?!\w)")


def prose_in_units(text: str, system: UnitSystem, *, names: bool = True) -> str:
    """Words of our own with their measures in m, m2 and m3 in the units of a report; names in them stay as they are.

    names: whether names of the model may stand in them; without, measures in mm are turned too.

    >>> prose_in_units("clear width 0.0508 m is less than 0.096 m", "us")
    'clear width 2" is less than 3 3/4"'
    """
    if system == "metric":
        return text
    show = {"m": format_length, "m2": format_area, "m3": format_volume}

    def shown(found: re.Match[str]) -> str:
        if found[2] == "mm":
            return format_length(float(found[1]) / 1000.0, system)
        return show[found[2]](float(found[1]), system)

    return (_MEASURE_IN_PROSE if names else _ANY_MEASURE_IN_PROSE).sub(shown, text)


_PARSERS: dict[str, Callable[[str], float]] = {
    "m": lambda text: parse_length(text, allow_negative=True),
    "m2": parse_area,
    "m3": parse_volume,
    "kg": parse_mass,
    "kg/m3": parse_density,
    "m2 K/W": parse_resistance,
    "W/(m2 K)": parse_transmittance,
    "W/(m K)": parse_conductivity,
}
_WRITTEN_FORMS: dict[str, tuple[tuple[float, str], ...]] = {
    "m": ((FOOT, "ft"), (INCH, "in"), (0.001, "mm")),
    "m2": ((SQUARE_FOOT, "ft2"),),
    "m3": ((CUBIC_FOOT, "ft3"), (0.001, "L")),
    "kg": ((POUND, "lb"),),
    "kg/m3": ((POUND_PER_CUBIC_FOOT, "lb/ft3"),),
    "m2 K/W": ((R_US, "h ft2 F/Btu"),),
}


def written(value: float, unit: str, *, exact: bool = True) -> str:
    """Shortest text with a unit that is read back as this SI value, in the unit in which it is a round number.

    With `exact` the text gives the very same float; else a relative 1e-12 is near enough (for what people only read).
    `unit` is one of m, m2, m3, kg, kg/m3, m2 K/W, W/(m2 K) and W/(m K).
    """
    plain = f"{_finite(value):.12g} {unit}"
    texts = [f"{round(value / factor, 6):.10g} {name}" for factor, name in _WRITTEN_FORMS.get(unit, ())]
    if unit == "m" and 0 < value < 12 * FOOT:
        whole, over = divmod(Fraction(round(value / INCH * 64), 64), 1)
        texts.insert(0, f"{whole}-{over} in" if whole and over else f"{whole + over} in")
    texts.append(plain)
    bound = 0.0 if exact else 1e-12 * abs(value)
    fit = (text for text in sorted(texts, key=len) if abs(_PARSERS[unit](text) - value) <= bound)
    return next(fit, f"{value!r} {unit}")
