"""Surface films and air layers: the resistances that no material gives."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from takeoff.thermal.errors import ThermalError
from takeoff.thermal.tables import needed, reference, table


class HeatFlowDirection(StrEnum):
    UP = "up"
    HORIZONTAL = "horizontal"
    """Within 30 degrees of the horizontal: every wall."""
    DOWN = "down"


class FilmRule(StrEnum):
    """Whose surface films are used."""

    ISO = "iso_6946"
    HANDBOOK = "ashrae_handbook"


class Ventilation(StrEnum):
    """How much outside air passes through an air layer."""

    UNVENTILATED = "unventilated"
    SLIGHTLY = "slightly_ventilated"
    WELL = "well_ventilated"


@dataclass(frozen=True, slots=True)
class Film:
    """A surface film."""

    name: str
    resistance: float
    """m2 K/W"""
    source: str


SLIGHT_FROM = 500.0e-6
WELL_FROM = 1500.0e-6
"""m2 of opening per m of length from which a vertical air layer counts as slightly or well ventilated. ISO 6946, read
in a transcription that itself marks the two limits as unverified."""

HIGH_EMISSIVITY = 0.9
"""Emissivity of ordinary building surfaces, the case that the ISO 6946 table is made for."""

RADIATIVE_AT_10_C = 5.1
"""W/(m2 K), black-body radiative coefficient at 10 C. ISO 6946, from memory, to be confirmed."""


def surface_film(rule: FilmRule, *, inside: bool, direction: HeatFlowDirection = HeatFlowDirection.HORIZONTAL) -> Film:
    """The film on the inside or the outside face.

    Source: ISO 6946 conventional surface resistances, or the handbook films; named in each row of `films.csv`.

    >>> surface_film(FilmRule.ISO, inside=True).resistance
    0.13
    """
    place = "inside" if inside else "outside"
    for row in table("films"):
        if row["rule"] == rule and row["place"] == place and row["direction"] == direction:
            return Film(f"{place} surface film", needed(row, "resistance_m2k_w"), reference(row))
    raise ThermalError(f"No {place} surface film is tabulated for {rule} with heat flowing {direction}.")


def air_layer_resistance(thickness: float, direction: HeatFlowDirection = HeatFlowDirection.HORIZONTAL) -> float:
    """Resistance of an unventilated air layer between ordinary faces, m2 K/W; linear between the table's rows.

    `thickness` in m, measured along the heat flow, 0 to 0.3. Source: ISO 6946:2007 Table 2 (`air_layers.csv`).
    The table's first row (nothing at no thickness) is from memory, to be confirmed.

    Raises ThermalError for a negative thickness or one over 0.3 m, which is a room rather than a layer.

    >>> air_layer_resistance(0.05)
    0.18
    """
    rows = table("air_layers")
    depths = np.array([needed(row, "thickness_m") for row in rows])
    values = np.array([needed(row, f"{direction}_m2k_w") for row in rows])
    if not 0.0 <= thickness <= depths[-1] + 1e-9:
        raise ThermalError(
            f"An air layer of {thickness:g} m is outside the ISO 6946 table, 0 to {depths[-1]:g} m; take it as a room."
        )
    return float(np.interp(thickness, depths, values))


def air_layer_by_formula(
    thickness: float,
    direction: HeatFlowDirection = HeatFlowDirection.HORIZONTAL,
    emissivities: tuple[float, float] = (HIGH_EMISSIVITY, HIGH_EMISSIVITY),
) -> float:
    """Resistance of an unventilated air layer whose faces have the given emissivities, m2 K/W.

    R = 1/(h_a + 5.1 E), E = 1/(1/e1 + 1/e2 - 1), h_a = max(1.95 up | 1.25 horizontal | 0.12 d^-0.44 down, 0.025/d).
    Source: ISO 6946, formula from memory, to be confirmed; it gives all 24 table values for ordinary faces. For a
    foil-faced layer only: dust and age spoil a foil, so the emissivities are the caller's to answer for.

    Raises ThermalError for a thickness that is not positive or an emissivity outside 0 to 1.
    """
    first, second = emissivities
    if thickness <= 0.0:
        raise ThermalError(f"An air layer needs a positive thickness, not {thickness:g} m.")
    if not (0.0 < first <= 1.0 and 0.0 < second <= 1.0):
        raise ThermalError(f"Emissivities lie between 0 and 1, not {first:g} and {second:g}.")
    convective = {
        HeatFlowDirection.UP: 1.95,
        HeatFlowDirection.HORIZONTAL: 1.25,
        HeatFlowDirection.DOWN: 0.12 * thickness**-0.44,
    }[direction]
    exchange = 1.0 / (1.0 / first + 1.0 / second - 1.0)
    return 1.0 / (max(convective, 0.025 / thickness) + RADIATIVE_AT_10_C * exchange)


def ventilation_class(opening_area_per_metre: float) -> Ventilation:
    """Class of a vertical air layer from its openings to the outside, m2 per m of horizontal length."""
    if opening_area_per_metre < SLIGHT_FROM:
        return Ventilation.UNVENTILATED
    return Ventilation.SLIGHTLY if opening_area_per_metre < WELL_FROM else Ventilation.WELL
