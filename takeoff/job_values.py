"""The values of a job file: how each kind is read, and what is said of one: unit, default, meaning, source and limits.

Lengths, densities and the like are text with a unit in the file and SI floats here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    field_validator,
)

from takeoff.units import (
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

PRACTICE = "common practice, no published source"
CHOICE = "our choice"
OWN = "own assumption, no published source"
LOOSE_FILL = "ASHRAE Handbook of Fundamentals (SI) 2021, chapter 26, Table 1, glass fibre in a closed wall cavity"
LONGEST_WORD = 200
"""Characters of a word, name or reason."""
MOST_ENTRIES = 500
"""Entries of one list of words."""

Length = Annotated[float, BeforeValidator(parse_length)]
"""m"""
SignedLength = Annotated[float, BeforeValidator(lambda text: parse_length(text, allow_negative=True))]
"""m"""
Area = Annotated[float, BeforeValidator(parse_area)]
"""m2"""
Volume = Annotated[float, BeforeValidator(parse_volume)]
"""m3"""
Mass = Annotated[float, BeforeValidator(parse_mass)]
"""kg"""
Resistance = Annotated[float, BeforeValidator(parse_resistance)]
"""m2 K/W"""
Transmittance = Annotated[float, BeforeValidator(parse_transmittance)]
"""W/(m2 K)"""
Density = Annotated[float, BeforeValidator(parse_density)]
"""kg/m3"""
Conductivity = Annotated[float, BeforeValidator(parse_conductivity)]
"""W/(m K)"""


def _share(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"is {value!r}; write a part of one without quotes, such as 0.9")
    return float(value)


Share = Annotated[float, BeforeValidator(_share)]
"""Part of one."""


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"is {value!r}; write a number without quotes, such as 1.5")
    return float(value)


Number = Annotated[float, BeforeValidator(_number)]
"""Minutes, hours or a factor: the name of the key says which."""
BARE = frozenset({"share", "minutes", "hours", "factor"})
"""Units of values that stand as plain numbers in a job file."""


def _one_or_more(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def clean_words(words: tuple[str, ...]) -> tuple[str, ...]:
    """The words. Raises ValueError where there are too many, or one is too long or has neither letter nor digit."""
    if len(words) > MOST_ENTRIES:
        raise ValueError(f"has more than {MOST_ENTRIES} words")
    for word in words:
        if not any(char.isalnum() for char in word) or len(word) > LONGEST_WORD:
            raise ValueError(f"{word[:40]!r} is no word; write 1 to {LONGEST_WORD} characters with a letter or digit")
    return words


Words = Annotated[tuple[str, ...], BeforeValidator(_one_or_more)]


def value_of(default: Any, unit: str, meaning: str, source: str, limits: tuple[str, str] | None = None) -> Any:
    """A field of a section. `default` is written as in the job file; `limits` are texts with units, both included."""
    extra = {"unit": unit, "source": source, "limits": list(limits or ()), "written": default}
    return Field(default=default, validate_default=True, description=meaning, json_schema_extra=extra)


def optional_value_of(example: Any, unit: str, meaning: str, source: str, limits: tuple[str, str] | None = None) -> Any:
    """A field that is not set by default; `example` is what a person might write."""
    extra = {"unit": unit, "source": source, "limits": list(limits or ()), "written": None, "example": example}
    return Field(default=None, description=meaning, json_schema_extra=extra)


def field_fact(section: type[BaseModel], name: str, fact: str) -> Any:
    """One of 'unit', 'source', 'limits', 'written', 'example' of a field; for a sub-section an empty text."""
    extra = section.model_fields[name].json_schema_extra
    return extra.get(fact, "") if isinstance(extra, dict) else ""


def number_text(value: float, unit: str, *, exact: bool = True) -> str:
    """A number of the job as a person writes it: with its unit, or bare where its key says the unit."""
    return repr(value) if unit in BARE else written(value, unit, exact=exact)


_LIMIT_PARSERS: dict[str, Callable[[str], float]] = {
    "m": lambda text: parse_length(text, allow_negative=True),
    "m2": parse_area,
    "m3": parse_volume,
    "kg/m3": parse_density,
    "W/(m K)": parse_conductivity,
    "m2 K/W": parse_resistance,
    "W/(m2 K)": parse_transmittance,
    "kg": parse_mass,
    **dict.fromkeys(BARE, float),
}


class Same:
    """A key that is equal only to itself: lets what follows from a record be worked out once for each record.

    A cached property would be carried along into changed copies of the record, where it no longer holds.
    """

    __slots__ = ("record",)

    def __init__(self, record: Any) -> None:
        self.record = record

    def __hash__(self) -> int:
        return id(self.record)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.record is other.record


class Section(BaseModel):
    """A part of the job file: misspelt keys are refused, limits of each value are kept."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @field_validator("*", mode="after")
    @classmethod
    def _within_limits(cls, value: Any, info: ValidationInfo) -> Any:
        name = info.field_name or ""
        limits = field_fact(cls, name, "limits")
        if not limits or not isinstance(value, float):
            return value
        unit = field_fact(cls, name, "unit")
        low, high = (_LIMIT_PARSERS[unit](text) for text in limits)
        if not low <= value <= high or math.isnan(value):
            raise ValueError(f"is {number_text(value, unit)}; write a value from {limits[0]} to {limits[1]}")
        return value
