"""How the program says that something is wrong: one line on stderr and an exit code."""

from __future__ import annotations

import sys
from contextlib import suppress

NOTHING_READ = 1
BAD_INPUT = 2
INTERRUPTED = 130
STOPPED = "interrupted; nothing was written"
"""Told with the code of an interrupt."""


def complain(line: str) -> None:
    """One line on stderr, as far as somebody reads it."""
    with suppress(OSError):
        print(f"bayfill: {' '.join(line.split())}", file=sys.stderr, flush=True)
