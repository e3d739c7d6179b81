"""What a wall's own geometry can make a step raise, and the wall as it stands in the result after that."""

from __future__ import annotations

from dataclasses import replace

from shapely.errors import GEOSException

from takeoff.errors import TakeoffError
from takeoff.finding import Finding, Severity
from takeoff.model import Status, Wall, WallTakeoff

WALL_FAULTS = (TakeoffError, GEOSException, ValueError, ArithmeticError, LookupError)
"""Such a wall is reported and the others go on."""


def fault_text(what: str, fault: BaseException) -> str:
    """What could not be done, why, and the mend."""
    detail = " ".join(str(fault).split())[:160]
    return f"{what} ({detail or type(fault).__name__}); check its body and members in the model"


def failed(wall: Wall, reason: str) -> WallTakeoff:
    """A wall on which a step went wrong: nothing of it is counted, and a finding says so."""
    return WallTakeoff(
        replace(wall, status=Status.FAILED, reason=reason), (), Status.FAILED, reason, (not_taken_off(wall, reason),)
    )


def not_taken_off(wall: Wall, reason: str) -> Finding:
    """The finding about a failed wall."""
    return Finding(
        "wall-failed", Severity.ERROR, f"Wall not taken off: {reason}.", wall.wall_id, wall.wall_id,
        wall.ifc_class, wall.name,
    )  # fmt: skip
