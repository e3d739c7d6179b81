"""A declared U-value or resistance held against what was worked out."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

from takeoff.envelope.groups import Share
from takeoff.plans.comparison import Agreement, Comparison, compared
from takeoff.plans.declared_areas import DeclaredArea
from takeoff.units import R_US


def value_comparison(line: DeclaredArea, shares: Sequence[Share], source: str, share_of_value: float) -> Comparison:
    """The value of a line against that of its filled walls (of all its walls where none is filled).

    Both stand in the form that the line has, as a U-value or as a resistance. share_of_value: difference that agrees,
    as a part of what is declared.
    """
    assert line.u is not None
    chosen = [share for share in shares if share.insulated > 0.0] or list(shares)
    found = _fill_u(chosen) if line.value_of == "fill" else _wall_u(chosen)
    subject = _subject(line)
    declared = 1.0 / line.u if line.written_as_r else line.u
    unit = "m2 K/W" if line.written_as_r else "W/(m2 K)"
    walls = {share.part.wall.wall.wall_id: share.part.wall.wall.name for share in chosen}
    if found is None:
        return Comparison(
            source, line.line, subject, line.scope, declared, None, None, unit, Agreement.NOT_COMPARED,
            _why_none(line, chosen), tuple(walls), tuple(walls.values()),
        )  # fmt: skip
    value = 1.0 / found if line.written_as_r else found
    tolerance = share_of_value * declared
    agreement = compared(declared, value, tolerance)
    causes = [] if agreement is Agreement.AGREES else _causes(line, chosen, value, share_of_value)
    missing = sorted({name for share in chosen for name in share.part.heat.missing})
    if missing and line.value_of == "wall":
        causes.append(f"counted as nothing, since not known: {', '.join(missing)}")
    return Comparison(
        source, line.line, subject, line.scope, declared, value, tolerance, unit, agreement, "; ".join(causes),
        tuple(walls), tuple(walls.values()),
    )  # fmt: skip


def _subject(line: DeclaredArea) -> str:
    kind = "resistance" if line.written_as_r else "U-value"
    return f"{kind} of the {'fill' if line.value_of == 'fill' else 'whole wall'}"


def _wall_u(shares: Sequence[Share]) -> float | None:
    known = [(share.net, share.part.governing.u) for share in shares if share.part.governing is not None]
    area = fsum(net for net, _ in known)
    return fsum(net * u for net, u in known) / area if area > 0.0 else None


def _fill_u(shares: Sequence[Share]) -> float | None:
    """1/R of the blown fill over the depth of the studs, weighted by area."""
    known = [
        (share.net, share.part.heat.fill_resistance)
        for share in shares
        if share.part.heat.fill_resistance is not None and share.part.insulated > 0.0
    ]
    area = fsum(net for net, _ in known)
    return fsum(net / resistance for net, resistance in known) / area if area > 0.0 else None


def _why_none(line: DeclaredArea, shares: Sequence[Share]) -> str:
    if not shares:
        return "the model has no such wall there"
    if line.value_of == "fill":
        return "none of these walls is blown"
    return shares[0].part.heat.reason or "these walls have no U-value"


def _causes(line: DeclaredArea, shares: Sequence[Share], found: float, share_of_value: float) -> list[str]:
    """What a value may have been taken for; written and found stand in the same form."""
    assert line.u is not None
    declared = 1.0 / line.u if line.written_as_r else line.u
    near = share_of_value + 0.02

    def is_near(value: float) -> bool:
        return abs(declared / value - 1.0) <= near

    causes = []
    if is_near(1.0 / found):
        written, meant = ("resistance", "U-value") if line.written_as_r else ("U-value", "resistance")
        causes.append(f"as if a {meant} were written as a {written}: check value_unit")
    elif is_near(found * R_US) or is_near(found / R_US):
        causes.append("as if the unit of one system were written for the other: check value_unit")
    elif is_near(R_US / found) or is_near(1.0 / (found * R_US)):
        causes.append("as if value and unit came from different systems and kinds: check value_unit")
    other = _fill_u(shares) if line.value_of == "wall" else _wall_u(shares)
    if other is not None and is_near(1.0 / other if line.written_as_r else other):
        what = "the fill alone" if line.value_of == "wall" else "the whole wall"
        causes.append(f"that is the value of {what}: check value_of")
    better = line.u < (1.0 / found if line.written_as_r else found)
    causes.append("the plan promises more than was found" if better else "the plan promises less than was found")
    return causes
