"""The time that written files bear: the model's own, never the clock's, so that the same model gives the same bytes."""

from __future__ import annotations

from datetime import UTC, datetime

NO_MOMENT = datetime(2000, 1, 1, tzinfo=UTC)
"""Where no time is given."""


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
