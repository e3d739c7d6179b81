"""Flaws of a model and decisions of a takeoff, as every step may find them."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    INFO = "info"
    WARNING = "warning"
    ERROR = "error"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where to look at a finding."""

    storey: str
    """Name of the storey; empty where there is none."""
    point: tuple[float, float, float] | None
    """m, world: the middle of what the finding is about; None where it has no place."""
    look_at: str
    """What stands there, and from which side to see it."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A flaw or a decision worth the estimator's eye. Findings are returned, never printed or raised."""

    code: str
    """Stable, lower case with hyphens, e.g. 'stud-layer-assumed'."""
    severity: Severity
    message: str
    """One sentence: what was found and what would mend it."""
    wall_id: str = ""
    element_id: str = ""
    element_class: str = ""
    element_name: str = ""
    measured: float | None = None
    limit: float | None = None
    unit: str = ""
    place: tuple[float, float, float] | None = None
    """m, world: where to look; None where the element itself is the place."""
    spot: Spot | None = field(default=None, compare=False)
    """Looked up once everything is gathered (`takeoff/finding_places.py`); it makes no finding another one."""
