"""Loose-fill fibre: density, conductivity and resistance by depth, each row with its source and edition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from takeoff.thermal.errors import ThermalError
from takeoff.thermal.tables import needed, number, reference, table

DENSITY_SLACK = 0.5
"""kg/m3 by which a density may miss the tabulated range: the tables print whole kg/m3."""


@dataclass(frozen=True, slots=True)
class Fibre:
    """A loose-fill material. Either a conductivity range or a chart of resistance by depth (both may be given)."""

    name: str
    density_min: float | None
    """kg/m3; None where the source gives none."""
    density_max: float | None
    conductivity_min: float | None
    """W/(m K)"""
    conductivity_max: float | None
    source: str
    chart: tuple[tuple[float, float], ...] = ()
    """(depth m, resistance m2 K/W) as a label or a code prints it, by rising depth."""
    key: str = ""

    def __post_init__(self) -> None:
        if self.conductivity_max is None and not self.chart:
            raise ThermalError(f"Fibre '{self.name}' has neither a conductivity nor a chart of resistances.")
        depths = [depth for depth, _ in self.chart]
        if depths != sorted(set(depths)) or any(depth <= 0.0 or r <= 0.0 for depth, r in self.chart):
            raise ThermalError(f"The chart of fibre '{self.name}' must rise in depth with positive figures.")


@dataclass(frozen=True, slots=True)
class FibreResistance:
    """What a depth of fibre is worth, or why no figure can be given."""

    value: float | None
    """m2 K/W"""
    source: str
    reason: str


def fibre_table() -> tuple[Fibre, ...]:
    """The package's own fibres, in table order; a job file may bring others."""
    charts: dict[str, list[tuple[float, float]]] = {}
    for row in table("loose_fill_charts"):
        charts.setdefault(row["key"], []).append((needed(row, "depth_m"), needed(row, "resistance_m2k_w")))
    return tuple(
        Fibre(
            row["description"],
            number(row, "density_min_kg_m3"),
            number(row, "density_max_kg_m3"),
            number(row, "conductivity_min_w_mk"),
            number(row, "conductivity_max_w_mk"),
            reference(row),
            tuple(charts.get(row["key"], ())),
            row["key"],
        )
        for row in table("loose_fill_fibre")
    )


def fibre_named(key: str, fibres: Sequence[Fibre] | None = None) -> Fibre:
    """The fibre of that key. Raises ThermalError, naming the keys there are."""
    known = fibre_table() if fibres is None else tuple(fibres)
    for fibre in known:
        if fibre.key == key:
            return fibre
    raise ThermalError(f"There is no fibre '{key}'; known: {', '.join(fibre.key for fibre in known)}.")


def fibre_resistance(fibre: Fibre, depth: float, density: float | None = None) -> FibreResistance:
    """Resistance of a depth of fibre blown to a density.

    Depth in m, density in kg/m3 (None: the density of the source is taken as met). A charted resistance comes first;
    between charted depths it is interpolated, beyond them nothing is given. Else depth over the HIGHEST conductivity
    of the source, the safe side. A density outside the source's range has no value: neither table nor label covers it.

    Raises ThermalError for a depth or density that is not positive.

    >>> fibre_resistance(fibre_named('glass_closed_cavity_2021'), 0.0889).value.__round__(3)
    2.469
    """
    if depth <= 0.0 or (density is not None and density <= 0.0):
        raise ThermalError(f"Fibre '{fibre.name}' needs a positive depth and density.")
    if density is not None and fibre.density_min is not None and fibre.density_max is not None:
        low, high = fibre.density_min - DENSITY_SLACK, fibre.density_max + DENSITY_SLACK
        if not low <= density <= high:
            return FibreResistance(
                None,
                fibre.source,
                f"{fibre.name}: {density:.1f} kg/m3 is outside the {fibre.density_min:g} to {fibre.density_max:g} "
                "kg/m3 that the source covers",
            )
    if fibre.chart:
        return _charted(fibre, depth)
    assert fibre.conductivity_max is not None
    reason = f"{depth * 1000:.0f} mm over the highest conductivity of the source, {fibre.conductivity_max:g} W/(m K)"
    return FibreResistance(depth / fibre.conductivity_max, fibre.source, reason)


def _charted(fibre: Fibre, depth: float) -> FibreResistance:
    depths, values = (np.array(column) for column in zip(*fibre.chart, strict=True))
    if not depths[0] - 5e-4 <= depth <= depths[-1] + 5e-4:
        span = f"{depths[0] * 1000:.0f} to {depths[-1] * 1000:.0f} mm"
        return FibreResistance(None, fibre.source, f"{fibre.name}: the chart covers {span}, not {depth * 1000:.0f} mm")
    exact = bool(np.any(np.abs(depths - depth) <= 5e-4))
    reason = "charted depth" if exact else "between charted depths, interpolated"
    return FibreResistance(float(np.interp(depth, depths, values)), fibre.source, reason)
