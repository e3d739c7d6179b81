"""Words, lengths and figures of the consultant's statement that both its pages share."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from takeoff.plans.comparison import Agreement
from takeoff.units import UnitSystem, format_area, format_length, format_resistance, format_transmittance

AGREEMENTS = {Agreement.AGREES: "agrees", Agreement.DIFFERS: "DIFFERS", Agreement.NOT_COMPARED: "not compared"}
LONGEST = 46
"""Characters of a name in a table."""
WHOLE_NAME = 255
"""Characters that a label of the standard (IfcLabel) may have, so that a whole name is never cut."""
LONGEST_REASON = 150
_LONGEST_WORD = 14
"""Letters of a word that any column holds."""
NO_CERTIFICATE = (
    "Worked out from the building model; it is no certificate and replaces neither a look at the walls nor the proof "
    "that the local code asks for. Code figures: check the edition in force locally."
)


@dataclass(frozen=True, slots=True)
class Room:
    """How many rows each table may have, so that the statement keeps to two pages."""

    types: int = 12
    sides: int = 8
    storeys: int = 12
    rooms: int = 14
    layers: int = 14
    aside: int = 6
    lines: int = 24
    claims: int = 10
    findings: int = 16
    notes: int = 10
    whole_names: bool = True
    """Whether names of types and walls wrap to their end; else long ones lose their middle."""

    def scaled(self, share: float) -> Room:
        """The same with fewer rows where a model may have many, at least one each; the others stay."""
        return replace(self, **{name: max(1, int(getattr(self, name) * share)) for name in _MANY})

    def named(self, name: str, longest: int) -> str:
        """A name as the statement prints it. longest: characters where names are shortened."""
        return cut(name, WHOLE_NAME) if self.whole_names else name_cut(name, longest)

    def told(self, words: str, longest: int) -> str:
        """A sentence with names in it, as the statement prints it; its end goes where it has to be shortened."""
        return cut(words, 2 * longest if self.whole_names else longest)


_MANY = ("types", "storeys", "rooms", "layers", "aside", "lines", "findings")


def cut(text: str, longest: int = LONGEST) -> str:
    """A text that keeps to a length, its end replaced by dots where it does not."""
    line = " ".join(text.split())
    kept = line if len(line) <= longest else line[: longest - 3].rstrip() + "..."
    return " ".join(_breakable(word) for word in kept.split(" "))


def name_cut(name: str, longest: int = LONGEST) -> str:
    """A name that keeps to a length, its middle replaced by dots: names often differ in their ends.

    >>> name_cut("Basic Wall: Interior - Furring (38 mm)", 24)
    'Basic Wall:...ng (38 mm)'
    """
    line = " ".join(name.split())
    if len(line) <= longest:
        return cut(line, longest)
    tail = (longest - 3) // 2
    return cut(f"{line[: longest - 3 - tail].rstrip()}...{line[len(line) - tail :].lstrip()}", longest)


def _breakable(word: str) -> str:
    """A long word with places where a line may end: after the marks in it, else every so many letters."""
    if len(word) <= _LONGEST_WORD:
        return word
    parts = re.findall(rf".{{1,{_LONGEST_WORD}}}?(?:[._:/-]+|$)|.{{1,{_LONGEST_WORD}}}", word)
    return "\u200b".join(parts)


def more(rest: Sequence[object], what: str, file: str) -> str:
    """How many rows stand in a file only; empty where none do."""
    return f"and {len(rest)} more {what}: {file}" if rest else ""


def figure(value: float | None, unit: str, system: UnitSystem) -> str:
    """A figure of a comparison or finding in the reader's units.

    >>> figure(0.25, "W/(m2 K)", "metric")
    '0.250 W/(m2 K)'
    """
    if value is None:
        return ""
    if unit == "m2":
        return format_area(value, system)
    if unit == "m":
        return format_length(value, system)
    if unit == "W/(m2 K)":
        return format_transmittance(value, system)
    if unit == "m2 K/W":
        return format_resistance(value, system)
    return f"{value:.3g} {unit}".strip()


_RAISED = {"2": "\u00b2", "3": "\u00b3"}
_UNIT = re.compile(r"(?<![A-Za-z0-9_.-])(m|mm|cm|in|ft)([23])(?=K/|\.?(?:[^A-Za-z0-9_.-]|$))")
NAMES = frozenset({"project", "model", "file"})
"""Texts that are names only."""


def raised(texts: object) -> object:
    """Texts of a page with the digits of areas and volumes raised; names of projects, models and files stay.

    >>> raised(["35.27 m2", "0.12 m2K/W", "W/(m2 K)", "areas_m2.csv"])
    ['35.27 m²', '0.12 m²K/W', 'W/(m² K)', 'areas_m2.csv']
    """
    if isinstance(texts, str):
        return _UNIT.sub(lambda found: found[1] + _RAISED[found[2]], texts)
    if isinstance(texts, list):
        return [raised(each) for each in texts]
    if isinstance(texts, dict):
        return {name: each if name in NAMES else raised(each) for name, each in texts.items()}
    return texts


def unbroken(number: str) -> str:
    """A figure that stays on one line with its unit."""
    return number.replace(" ", "\u00a0").replace("/", "/\u2060")
