"""Says in few lines what many places have in common: reasons that differ in their numbers only become one line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from reports.crew_layers import cavity_number
from takeoff.units import UnitSystem, format_length, format_volume, parse_length, parse_volume

_MEASURE = re.compile(r"(\d+(?:\.\d+)?) (m3|mm|m)\b")


def grouped(entries: Iterable[tuple[str, str]], system: UnitSystem) -> list[tuple[str, str]]:
    """(cavity id, reason) as (numbers of cavities, reason): one entry for reasons alike but for their measures.

    Measures in m, mm and m3 inside a reason are shown in the units of the report, as a range where they differ.
    """
    groups: dict[tuple[str, tuple[str, ...]], tuple[list[str], list[list[float]]]] = {}
    for cavity_id, reason in entries:
        found = _MEASURE.findall(reason)
        key = (_MEASURE.sub("\0", reason), tuple(unit for _, unit in found))
        ids, values = groups.setdefault(key, ([], []))
        ids.append(cavity_id)
        values.append([_parsed(value, unit) for value, unit in found])
    return [
        (number_list(cavity_number(each) for each in ids), _filled(key[0], key[1], values, system))
        for key, (ids, values) in groups.items()
    ]


def _parsed(value: str, unit: str) -> float:
    """SI"""
    return parse_volume(f"{value} {unit}") if unit == "m3" else parse_length(f"{value} {unit}")


def _filled(pattern: str, units: Sequence[str], values: Sequence[Sequence[float]], system: UnitSystem) -> str:
    pieces = pattern.split("\0")
    text = pieces[0]
    for index, unit in enumerate(units):
        column = [row[index] for row in values]
        show = format_volume if unit == "m3" else format_length
        low, high = show(min(column), system), show(max(column), system)
        text += (low if low == high else f"{low} to {high}") + pieces[index + 1]
    return text


def number_list(numbers: Iterable[str]) -> str:
    """Numbers in order, runs drawn together, each once.

    >>> number_list(["7", "1", "2", "3", "s1", "9", "2"])
    '1-3, 7, 9, s1'
    """
    each = list(dict.fromkeys(numbers))
    plain = sorted(int(number) for number in each if number.isdigit())
    runs: list[list[int]] = []
    for number in plain:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    words = [str(a) if a == b else f"{a}, {b}" if b == a + 1 else f"{a}-{b}" for a, b in runs]
    return ", ".join([*words, *(number for number in each if not number.isdigit())])
