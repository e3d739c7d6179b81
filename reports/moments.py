"""The time that written files bear: the model's own, never the clock's, so that the same model gives the same bytes."""

from __future__ import annotations

import re
import zipfile
from datetime import UTC, datetime
from pathlib import Path

NO_MOMENT = datetime(2000, 1, 1, tzinfo=UTC)
"""Where no time is given."""
_HEAD = 64 * 1024
"""Bytes at the beginning of a file in which its header stands."""
_FILE_NAME = re.compile(rb"FILE_NAME\s*\(\s*'(?:[^']|'')*'\s*,\s*'([^']*)'")


def moment_of(time_stamp: str) -> datetime:
    """The moment in the time stamp of an IFC file's header (ISO 8601); `NO_MOMENT` where it is none.

    >>> moment_of("2011-09-07T12:28:29").isoformat()
    '2011-09-07T12:28:29+00:00'
    """
    try:
        found = datetime.fromisoformat(time_stamp.strip())
    except ValueError:
        return NO_MOMENT
    # Zip archives know no year before 1980, IFC's own time stamps none before 1970.
    return found.replace(tzinfo=found.tzinfo or UTC) if found.year >= 1980 else NO_MOMENT


def moment_in(path: Path) -> datetime:
    """The moment that the header of a model file states, read from its beginning; `NO_MOMENT` where it states none."""
    try:
        head = _head_of(path)
    except (OSError, zipfile.BadZipFile, RuntimeError):
        return NO_MOMENT
    found = _FILE_NAME.search(head)
    return moment_of(found.group(1).decode("ascii", "replace")) if found is not None else NO_MOMENT


def _head_of(path: Path) -> bytes:
    """The first bytes of a model, that of the one in a zip where it is packed."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as packed:
            name = next((one for one in packed.namelist() if one.lower().endswith(".ifc")), None)
            if name is None:
                return b""
            with packed.open(name) as file:
                return file.read(_HEAD)
    with path.open("rb") as file:
        return file.read(_HEAD)
