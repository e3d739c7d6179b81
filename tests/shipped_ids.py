"""Makes the shipped IDS file anew: `python -m tests.shipped_ids`."""

from __future__ import annotations

from reports.files import write_bytes
from reports.ids_out import SHIPPED, made_ids

if __name__ == "__main__":
    write_bytes(SHIPPED, made_ids())
