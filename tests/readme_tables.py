"""README.md's column tables, written from the schemas: `python -m tests.readme_tables` puts them in their places."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

from reports.check_files import CHECK_TABLES
from takeoff.columns import Table
from takeoff.schedule_tables import QUOTE_TABLES
from takeoff.tables import TABLES

README = Path(__file__).resolve().parents[1] / "README.md"


def column_table(table: Table[Any]) -> str:
    """A table's columns as README shows them."""
    lines = [f"{table.row_meaning} Sorted: {table.order}.", "", "| column | unit | meaning |", "| --- | --- | --- |"]
    lines += [f"| `{column.name}` | {column.unit or column.kind} | {column.meaning} |" for column in table.columns]
    return "\n".join(lines)


def with_tables(readme: str) -> str:
    """The README with the section of each file made anew. Raises ValueError where a file has no section."""
    for marks, table in (
        *(("###", table) for table in TABLES),
        *(("####", table) for table in (*CHECK_TABLES, *QUOTE_TABLES)),
    ):
        head = rf"^{marks} {re.escape(table.name)}\.csv\n\n"
        section = re.compile(rf"(?<={head}).*?(?=\n\n^#)", re.MULTILINE | re.DOTALL)
        found = section.search(readme)
        if found is None:
            raise ValueError(f"README.md has no section '{marks} {table.name}.csv'")
        readme = readme[: found.start()] + column_table(table) + readme[found.end() :]
    return readme


if __name__ == "__main__":
    README.write_text(with_tables(README.read_text(encoding="utf-8")), encoding="utf-8")
    sys.stdout.write(f"{README.name}: {len(TABLES) + len(CHECK_TABLES) + len(QUOTE_TABLES)} tables\n")
