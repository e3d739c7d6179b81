"""What can go wrong with a thermal question."""

from __future__ import annotations

from takeoff.errors import TakeoffError


class ThermalError(TakeoffError, ValueError):
    """A thermal question that has no answer as it was put; the message says what to change."""


class MethodNotApplicableError(ThermalError):
    """A calculation method asked for a wall that it does not cover, such as a parallel path across steel studs."""
