"""Tables of published figures, kept as CSV files beside the code with a source in every row.

The files hold SI columns (named with their unit) and, where the source prints other units, the printed figure beside
it in a `published_...` column; a reference test converts each printed figure with an independent unit library.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from takeoff.thermal.errors import ThermalError

MEMORY = "from memory, to be confirmed"
"""Status of a row that was read nowhere; whatever uses it must pass the words on."""

_FOLDER = Path(__file__).parent / "data"


@cache
def table(name: str) -> tuple[Mapping[str, str], ...]:
    """Rows of one table, as text, in file order.

    `name` is the file name without `.csv`. Read once, at the first call.

    Raises ThermalError for a name that is no table of this package.
    """
    path = _FOLDER / f"{name}.csv"
    if not path.is_file():
        raise ThermalError(f"There is no thermal table named '{name}'; tables: {', '.join(table_names())}.")
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def table_names() -> tuple[str, ...]:
    """Names of all tables, sorted."""
    return tuple(sorted(path.stem for path in _FOLDER.glob("*.csv")))


def number(row: Mapping[str, str], column: str) -> float | None:
    """The figure in a column, None where the cell is empty."""
    text = row[column].strip()
    return float(text) if text else None


def needed(row: Mapping[str, str], column: str) -> float:
    """The figure in a column that may not be empty."""
    value = number(row, column)
    if value is None:
        raise ThermalError(f"A thermal table row has no {column}: {dict(row)}.")
    return value


def reference(row: Mapping[str, str]) -> str:
    """Source, edition and status of a row in one line, for printing beside the figure."""
    words = [row["source"]]
    if row.get("edition"):
        words.append(row["edition"])
    if row["status"]:
        words.append(row["status"])
    return "; ".join(words)
