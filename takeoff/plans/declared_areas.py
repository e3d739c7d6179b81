"""The file of declared areas: what the plans say of insulated walls, as plain CSV with its units in columns.

    wall_type,orientation,storey,room,net_area,area_unit,value,value_unit,value_of
    Outside wall 225,N,Ground floor,,16.55,m2,0.35,W/(m2 K),wall
    Outside wall 225,S,Ground floor,,188.4,ft2,R-20,,fill

A cell left empty asks for nothing: without an orientation a row means the walls of all orientations together. The value
is a U-value or a resistance, as its unit says; `value_of` says of what: `wall` (from air to air, if left empty) or
`fill` (the blown fill alone).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from math import isfinite
from pathlib import Path
from typing import Literal

from takeoff.envelope.orientation import COMPASS
from takeoff.errors import TakeoffError
from takeoff.units import UnitError, parse_area, parse_resistance, parse_transmittance

COLUMNS = ("wall_type", "orientation", "storey", "room", "net_area", "area_unit", "value", "value_unit", "value_of")
NEEDED = ("net_area", "area_unit")
"""Columns without which there is nothing to compare."""
LARGEST_FILE = 4_000_000
"""Bytes; a row a wall type, orientation and storey stays far below."""
MOST_FAULTS_SHOWN = 20
ValueOf = Literal["wall", "fill"]

_NAMES: Mapping[str, str] = {
    "north": "N", "northeast": "NE", "east": "E", "southeast": "SE", "south": "S", "southwest": "SW", "west": "W",
    "northwest": "NW",
}  # fmt: skip


class DeclaredAreasError(TakeoffError, ValueError):
    """A file of declared areas that cannot be read. `faults` are one sentence each, with the line."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(path, tuple(faults))
        self.path = path
        self.faults = tuple(faults)

    def __str__(self) -> str:
        shown = self.faults[:MOST_FAULTS_SHOWN]
        more = f"; and {len(self.faults) - len(shown)} more" if len(self.faults) > len(shown) else ""
        return f"declared areas {self.path}: {'; '.join(shown)}{more}"


@dataclass(frozen=True, slots=True)
class DeclaredArea:
    """One line of the file, in SI."""

    line: int
    """As an editor counts, the head line is 1."""
    wall_type: str
    orientation: str
    """Eighth of the compass, or empty."""
    storey: str
    room: str
    net_area: float
    """m2"""
    area_text: str
    """As written, with its unit."""
    u: float | None
    """W/(m2 K), also where a resistance was written; None where the line declares no value."""
    written_as_r: bool
    value_text: str
    value_of: ValueOf

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What the line speaks of, capitals and small letters alike."""
        return (fold(self.wall_type), self.orientation, fold(self.storey), fold(self.room))

    @property
    def scope(self) -> str:
        """What the line speaks of, in words."""
        if not any((self.wall_type, *self.key[1:])):
            return "all insulated outside walls"
        # Without a type only outside walls are meant (see `shares_of`), and the reader has to know.
        named = [self.wall_type or "outside walls", self.orientation, self.storey, self.room]
        return ", ".join(text for text in named if text)

    @property
    def declares(self) -> ValueOf:
        """Of what the line declares a value; a line without one is one of the whole wall."""
        return self.value_of if self.u is not None else "wall"


def fold(text: str) -> str:
    """A name without the accidents of capitals and blanks."""
    return " ".join(text.casefold().split())


def load_declared_areas(path: Path) -> tuple[DeclaredArea, ...]:
    """Reads a file of declared areas (UTF-8, commas or semicolons, decimal point).

    Raises DeclaredAreasError, which names every fault with its line.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise DeclaredAreasError(str(path), [f"is larger than {LARGEST_FILE // 1_000_000} MB"])
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise DeclaredAreasError(str(path), [f"cannot be read ({reason}); give the path of a CSV file"]) from error
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise DeclaredAreasError(str(path), [f"is not UTF-8 text (line {line}); save it as CSV UTF-8"]) from error
    return read_declared_areas(text, str(path))


def read_declared_areas(text: str, name: str = "areas.csv") -> tuple[DeclaredArea, ...]:
    """The lines of a text in the form of the file; `name` is what errors call it. Raises DeclaredAreasError."""
    raw = text.split("\n")
    first = next((line for line in raw if line.strip()), "")
    reader = csv.reader(io.StringIO(text), delimiter=";" if first.count(";") > first.count(",") else ",", strict=True)
    lines: list[tuple[int, list[str]]] = []
    try:
        begin = 1
        for row in reader:
            # A quoted name that begins with the mark of a comment is a name.
            if not raw[begin - 1].lstrip().startswith("#"):
                lines.append((begin, row))
            begin = reader.line_num + 1
    except csv.Error as error:
        raise DeclaredAreasError(name, [f"line {reader.line_num}: is no CSV ({error}); mend the quotes"]) from error
    rows = [(number, [cell.strip() for cell in row]) for number, row in lines if any(cell.strip() for cell in row)]
    if not rows:
        raise DeclaredAreasError(name, [f"is empty; its head line is {','.join(COLUMNS)}"])
    columns = _columns(rows[0][1], name)
    found: list[DeclaredArea] = []
    faults: list[str] = []
    for number, row in rows[1:]:
        made, said = _line(number, row, columns)
        faults += [f"line {number}: {fault}" for fault in said]
        if made is not None:
            found.append(made)
    if faults:
        raise DeclaredAreasError(name, faults)
    if not found:
        raise DeclaredAreasError(name, ["has a head line, but no line with an area"])
    return tuple(found)


def _columns(head: Sequence[str], name: str) -> dict[str, int]:
    """Place of each column; refuses unknown, repeated and missing ones."""
    names = [cell.casefold().replace(" ", "_") for cell in head]
    faults = []
    for cell in dict.fromkeys(names):
        if cell and cell not in COLUMNS:
            near = get_close_matches(cell, COLUMNS, 1)
            faults.append(f"line 1: column '{cell}' is unknown" + (f"; '{near[0]}' is meant?" if near else ""))
        elif cell and names.count(cell) > 1:
            faults.append(f"line 1: column '{cell}' is there twice")
    faults += [f"line 1: column '{each}' is missing" for each in NEEDED if each not in names]
    if faults:
        raise DeclaredAreasError(name, [*faults, f"its columns are {', '.join(COLUMNS)}"])
    return {cell: place for place, cell in enumerate(names) if cell}


def _line(number: int, row: Sequence[str], columns: Mapping[str, int]) -> tuple[DeclaredArea | None, list[str]]:
    """One line as a record, or what is wrong with it."""
    if any(row[len(columns) :]):
        return None, [f"has {len(row)} cells, but the head line {len(columns)}: quote names that hold a comma"]
    cells = {name: row[place] if place < len(row) else "" for name, place in columns.items()}
    faults: list[str] = []
    area = _area(cells, faults)
    orientation = _orientation(cells.get("orientation", ""), faults)
    value_of = _value_of(cells.get("value_of", ""), faults)
    u, as_r = _value(cells, faults)
    if faults or area is None:
        return None, faults
    text = cells.get("value", "")
    return (
        DeclaredArea(
            line=number,
            wall_type=cells.get("wall_type", ""),
            orientation=orientation,
            storey=cells.get("storey", ""),
            room=cells.get("room", ""),
            net_area=area,
            area_text=f"{cells['net_area']} {cells['area_unit']}",
            u=u,
            written_as_r=as_r,
            value_text=f"{text} {cells.get('value_unit', '')}".strip() if text else "",
            value_of=value_of,
        ),
        [],
    )


def _area(cells: Mapping[str, str], faults: list[str]) -> float | None:
    if not cells["net_area"]:
        faults.append("net_area is empty")
        return None
    if not cells["area_unit"]:
        faults.append("area_unit is empty; write m2 or ft2")
        return None
    if _no_finite(cells["net_area"]):
        faults.append(f"net_area '{cells['net_area']}' is no finite number")
        return None
    try:
        area = parse_area(f"{cells['net_area']} {cells['area_unit']}")
    except UnitError as error:
        faults.append(f"net_area: {str(error).rstrip('.')}")
        return None
    return area


def _orientation(text: str, faults: list[str]) -> str:
    plain = "".join(letter for letter in text.casefold() if letter.isalpha())
    found = _NAMES.get(plain, plain.upper())
    if text and found not in COMPASS:
        faults.append(f"orientation '{text}' is none of {', '.join(COMPASS)}")
    return found


def _value_of(text: str, faults: list[str]) -> ValueOf:
    if fold(text) in ("", "wall"):
        return "wall"
    if fold(text) != "fill":
        faults.append(f"value_of '{text}' is neither wall nor fill")
    return "fill"


def _value(cells: Mapping[str, str], faults: list[str]) -> tuple[float | None, bool]:
    """The declared U-value, W/(m2 K), and whether it was written as a resistance."""
    value, unit = cells.get("value", ""), cells.get("value_unit", "")
    if not value:
        if unit:
            faults.append("value_unit is there, but value is empty")
        return None, False
    written = f"{value} {unit}".strip()
    if _no_finite(value):
        faults.append(f"value '{value}' is no finite number")
        return None, False
    try:
        u, as_r = parse_transmittance(written), False
    except UnitError:
        try:
            resistance, as_r = parse_resistance(written), True
        except UnitError as error:
            faults.append(_value_fault(written, error))
            return None, False
        u = 1.0 / resistance if resistance > 0.0 else 0.0
    if u <= 0.0:
        faults.append(f"value '{written}' is not above zero")
        return None, False
    return u, as_r


def _value_fault(written: str, error: UnitError) -> str:
    """What is wrong with a value: its number where that is at fault (a comma, a sign), else its unit."""
    if "unit" not in error.problem and not fold(written).startswith("r"):
        return f"value: {str(error).rstrip('.')}"
    return (
        f"value '{written}' has no unit of a U-value or a resistance; write W/(m2 K), Btu/(h ft2 F), m2 K/W or "
        "h ft2 F/Btu in value_unit, or R-20"
    )


def _no_finite(text: str) -> bool:
    """Whether a cell holds a number that no computer holds (1e400), or none at all (nan, inf)."""
    try:
        return not isfinite(float(text))
    except ValueError:
        return False
