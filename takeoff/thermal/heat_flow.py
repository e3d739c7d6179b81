"""Where a wall loses its heat: flow through each cavity, what a missed one costs, and values weighted by area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, isfinite

from takeoff.thermal.assembly import Assembly, PartKind, Patch, Plane, SteelStuds, plane_resistance
from takeoff.thermal.errors import ThermalError
from takeoff.thermal.steel import effective_resistance


@dataclass(frozen=True, slots=True)
class CavityHeatFlow:
    """Heat through one piece of the stud layer's elevation."""

    name: str
    kind: PartKind
    area: float
    """m2"""
    u: float
    """W/(m2 K) as it is"""
    heat_flow: float
    """W/K as it is"""
    filled_u: float | None
    """W/(m2 K) if it were filled; None for framing, which cannot be."""
    excess: float
    """W/K above what it would be if filled; 0 for framing."""


@dataclass(frozen=True, slots=True)
class Weighted:
    """A value for several walls together."""

    area: float
    """m2"""
    u: float
    """W/(m2 K), weighted by area"""
    resistance: float
    """m2 K/W: 1/u, not a mean of resistances"""
    heat_flow: float
    """W/K"""


def resistance_beside(assembly: Assembly, stud_plane: Plane) -> float:
    """Resistance of everything but one stud layer, m2 K/W; other bridged layers as isothermal planes.

    Raises ThermalError where `stud_plane` is not one of the assembly's planes.
    """
    rest = list(assembly.planes)
    if stud_plane not in rest:
        raise ThermalError(f"Layer '{stud_plane.name}' is not part of the wall.")
    rest.remove(stud_plane)
    return fsum(plane_resistance(plane) for plane in rest)


def cavity_heat_flows(
    patches: Sequence[Patch], beside: float, filled_resistance: float, studs: SteelStuds | None = None
) -> tuple[CavityHeatFlow, ...]:
    """Heat through every patch and what it would save if it were filled, in the order given.

    `beside` is the resistance of all other layers with the films (see `resistance_beside`), `filled_resistance` that
    of the blown fill at the stud layer's depth, both m2 K/W. Between steel studs the resistance of a cavity is its
    effective one (ASHRAE 90.1 table). A patch that insulates better than the blown fill has a negative excess.

    Raises ThermalError for a negative area, or where a patch has no resistance at all, films included.
    """
    flows = []
    for patch in patches:
        if not isfinite(patch.area) or patch.area < 0.0:
            raise ThermalError(f"'{patch.name}' has the area {patch.area}.")
        cavity = patch.kind in (PartKind.FILLED, PartKind.BATT, PartKind.UNFILLED)
        if patch.kind is PartKind.STEEL:
            raise ThermalError(f"'{patch.name}' is steel: its heat flow is in the cavities beside it; leave it out.")
        own = _own_resistance(patch.kind, patch.resistance, studs) if cavity else patch.resistance
        u = _transmittance(patch.name, beside + own)
        filled_u = None
        if cavity:
            filled_u = _transmittance(patch.name, beside + _own_resistance(PartKind.FILLED, filled_resistance, studs))
        excess = patch.area * (u - filled_u) if filled_u is not None else 0.0
        flows.append(CavityHeatFlow(patch.name, patch.kind, patch.area, u, patch.area * u, filled_u, excess))
    return tuple(flows)


def area_weighted(walls: Sequence[tuple[float, float]]) -> Weighted:
    """The value of several walls together from (area m2, U W/(m2 K)): U = sum(A U)/sum(A).

    Raises ThermalError where no area is left or a figure is negative.

    >>> area_weighted([(30.0, 0.2), (10.0, 0.6)]).u.__round__(9)
    0.3
    """
    if any(not (isfinite(area) and isfinite(u)) or area < 0.0 or u <= 0.0 for area, u in walls):
        raise ThermalError("An area or a U-value is not a positive number.")
    area = fsum(area for area, _ in walls)
    if area <= 0.0:
        raise ThermalError("There is no wall area to weight by.")
    flow = fsum(area * u for area, u in walls)
    return Weighted(area, flow / area, area / flow, flow)


def _own_resistance(kind: PartKind, resistance: float, studs: SteelStuds | None) -> float:
    if studs is None:
        return resistance
    return effective_resistance(studs, 0.0 if kind is PartKind.UNFILLED else resistance).value


def _transmittance(name: str, resistance: float) -> float:
    if resistance <= 0.0:
        raise ThermalError(f"'{name}' has no resistance at all; give the surface films.")
    return 1.0 / resistance
