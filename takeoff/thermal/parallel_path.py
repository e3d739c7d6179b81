"""The two handbook methods for walls without metal: parallel path and isothermal planes."""

from __future__ import annotations

from math import fsum

from takeoff.thermal.assembly import (
    Assembly,
    Transmittance,
    TransmittanceMethod,
    crossed_by_steel,
    heat_paths,
    missing_note,
    plane_resistance,
)
from takeoff.thermal.errors import MethodNotApplicableError, ThermalError

HANDBOOK = "ASHRAE Handbook-Fundamentals (SI) 2021, chapter 27 (read in a transcription)"


def refuse_steel(assembly: Assembly, method: TransmittanceMethod) -> None:
    """Raise MethodNotApplicableError where steel framing crosses the wall.

    Steel conducts some 400 times better than wood and its flanges gather heat from a wide strip, so a method that
    keeps each path to its own width gives a U-value far too low or too high.
    """
    if crossed_by_steel(assembly):
        raise MethodNotApplicableError(
            f"The {method} does not cover steel studs; use a published correction for steel (table or zone method)."
        )


def paths_transmittance(assembly: Assembly) -> float:
    """U of the paths side by side, W/(m2 K): sum of f/R over every path, air to air."""
    paths = heat_paths(assembly)
    if any(path.resistance <= 0.0 for path in paths if path.fraction > 0.0):
        raise ThermalError("A path through the wall has no resistance at all; give the surface films.")
    return fsum(path.fraction / path.resistance for path in paths if path.fraction > 0.0)


def planes_resistance(assembly: Assembly) -> float:
    """R of the planes one behind the other, m2 K/W, each with one temperature over each face."""
    return fsum(plane_resistance(plane) for plane in assembly.planes)


def parallel_path(assembly: Assembly) -> Transmittance:
    """U by the parallel path method: U = sum of f/R over the paths. The lowest U of the methods for wood.

    Source: ASHRAE Handbook-Fundamentals, chapter 27, which uses it for wood frames.
    Raises MethodNotApplicableError for steel studs, ThermalError for a path without resistance.
    """
    refuse_steel(assembly, TransmittanceMethod.PARALLEL_PATH)
    u = paths_transmittance(assembly)
    return Transmittance(
        TransmittanceMethod.PARALLEL_PATH,
        u,
        1.0 / u,
        "Wood frame or no frame: neighbouring paths differ little enough that heat hardly crosses between them.",
        HANDBOOK,
        paths=heat_paths(assembly),
        notes=missing_note(assembly),
    )


def isothermal_planes(assembly: Assembly) -> Transmittance:
    """U by isothermal planes: bridged layers are averaged first, then all layers add. The highest U of the methods.

    Source: ASHRAE Handbook-Fundamentals, chapter 27, which uses it for masonry.
    Raises MethodNotApplicableError for steel studs, ThermalError for a wall without resistance.
    """
    refuse_steel(assembly, TransmittanceMethod.ISOTHERMAL_PLANES)
    resistance = planes_resistance(assembly)
    if resistance <= 0.0:
        raise ThermalError("The wall has no resistance at all; give the surface films.")
    return Transmittance(
        TransmittanceMethod.ISOTHERMAL_PLANES,
        1.0 / resistance,
        resistance,
        "Heat spreads freely along the layers (masonry); for a wood frame it is the safe-side bound.",
        HANDBOOK,
        paths=heat_paths(assembly),
        notes=missing_note(assembly),
    )
