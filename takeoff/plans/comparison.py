"""One thing declared, held against what was found."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from takeoff.columns import Table, count, number, text


class Agreement(StrEnum):
    """Whether what is declared agrees with what was found."""

    AGREES = "agrees"
    DIFFERS = "differs"
    NOT_COMPARED = "not_compared"
    """Something is missing on one side; the reason says what."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """One line of plan_check.csv."""

    source: str
    """What declares: 'areas.csv line 3', 'Qto NetSideArea', 'Pset_WallCommon.IsExternal', ..."""
    line: int | None
    """Line of the file of declared areas."""
    subject: str
    """What is compared, e.g. 'insulated net area'."""
    scope: str
    """Of what: wall, or wall type, orientation, storey and room."""
    declared: float | None
    found: float | None
    """SI; None where one side has none, or where the things are words."""
    tolerance: float | None
    """Greatest difference that still agrees, in the same unit."""
    unit: str
    agreement: Agreement
    reason: str
    """What is told about it: words that were compared, a likely cause."""
    elements: tuple[str, ...] = ()
    """GlobalIds of the walls or openings that it rests on."""
    names: tuple[str, ...] = ()
    """Their names in the model."""

    @property
    def difference(self) -> float | None:
        """Found less declared."""
        return None if self.declared is None or self.found is None else self.found - self.declared


PLAN_CHECK: Table[Comparison] = Table(
    "plan_check",
    "One thing that the plans or the model declare, held against what was found.",
    "lines of the declared areas, then the model's own figures wall by wall",
    (
        text("source", "what declares it", lambda c: c.source),
        count("line", "line in the file of declared areas", lambda c: c.line),
        text("subject", "what is compared", lambda c: c.subject),
        text("scope", "of which wall, or wall type, orientation, storey and room", lambda c: c.scope),
        number("declared", "", "declared, SI, in the unit of the row", lambda c: c.declared),
        number("found", "", "found, in the same unit", lambda c: c.found),
        number("difference", "", "found less declared", lambda c: c.difference),
        number("tolerance", "", "greatest difference that still agrees", lambda c: c.tolerance),
        text("unit", "unit of the figures", lambda c: c.unit),
        text("verdict", "agrees, differs or not_compared", lambda c: c.agreement),
        text("reason", "what was compared, likely cause", lambda c: c.reason),
        text("elements", "GlobalIds of the elements that cause it", lambda c: "; ".join(c.elements)),
        text("element_names", "their names in the model", lambda c: "; ".join(name for name in c.names if name)),
    ),
)


def compared(declared: float, found: float, tolerance: float) -> Agreement:
    """Whether two figures agree; a rounding in the last place never decides."""
    near = abs(found - declared) <= tolerance + 1e-9 * max(abs(declared), abs(found))
    return Agreement.AGREES if near else Agreement.DIFFERS


_SLIPS: dict[str, tuple[tuple[float, float, str, str], ...]] = {
    "m2": (
        (1e6, 0.5, "mm2", "m2"), (1e4, 0.5, "cm2", "m2"), (1550.0031000062, 0.5, "in2", "m2"),
        (10.763910416709722, 0.05, "ft2", "m2"),
    ),
    "m3": (
        (1e9, 0.5, "mm3", "m3"), (1e6, 0.5, "cm3", "m3"), (35.31466672148859, 0.05, "ft3", "m3"),
        (1e3, 0.3, "litres", "m3"),
    ),
}  # fmt: skip
"""Slips by the unit that should be: factor declared over found, how far the ratio may miss it (relative; much where no
other slip lies near, since the areas may differ for other reasons too), unit of the figure, unit that it is given."""


def unit_slip(declared: float, found: float, unit: str = "m2") -> str:
    """How a slip of the unit explains a difference, in words; empty where none does.

    >>> unit_slip(12.5e6, 12.4)
    'mm2 written as m2'
    >>> unit_slip(9.3, 100.0)
    'm2 written as ft2'
    """
    slip = _slip(declared, found, unit)
    return slip[0] if slip else ""


def slip_set_right(declared: float, found: float, unit: str = "m2") -> float | None:
    """What is declared once its slip of the unit is set right; None where `unit_slip` sees none.

    >>> slip_set_right(12.5e6, 12.4)
    12.5
    """
    slip = _slip(declared, found, unit)
    return declared / slip[1] if slip else None


def _slip(declared: float, found: float, unit: str) -> tuple[str, float] | None:
    """A slip in words, and by what the figure has become too large."""
    if declared <= 0.0 or found <= 0.0:
        return None
    ratio = declared / found
    for factor, miss, small, large in _SLIPS.get(unit, ()):
        if abs(ratio / factor - 1.0) <= miss:
            return f"{small} written as {large}", factor
        if abs(ratio * factor - 1.0) <= miss:
            return f"{large} written as {small}", 1.0 / factor
    return None
