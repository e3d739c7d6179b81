"""The combined method of ISO 6946: between an upper and a lower limit, with its error and its air-gap correction."""

from __future__ import annotations

from dataclasses import replace
from math import floor, log10

from takeoff.thermal.assembly import Assembly, Transmittance, TransmittanceMethod, heat_paths, missing_note
from takeoff.thermal.errors import ThermalError
from takeoff.thermal.parallel_path import paths_transmittance, planes_resistance, refuse_steel

MOST_RATIO = 1.5
"""Upper over lower limit up to which the method applies. ISO 6946:2017, from memory, to be confirmed."""

GAP_ADDITION = {0: 0.0, 1: 0.01, 2: 0.04}
"""W/(m2 K) by level of air gaps: none; gaps but no air moving behind; gaps and air moving on the warm side.
ISO 6946 annex on corrections; BR 443 (2019) 4.8.1, read in a transcription."""

LEFT_OUT_BELOW = 0.03
"""Corrections that add up to less than this share of U may be left out. ISO 6946:2017, 6.5.2 (read in a
transcription)."""

SOURCE = "ISO 6946:2017 (formulas read in transcriptions of national guidance)"


def combined_method(assembly: Assembly) -> Transmittance:
    """U by the combined method: R = (upper + lower)/2, with upper from the paths and lower from the planes.

    The maximum relative error is (upper - lower)/(2 R), from memory, to be confirmed. Where the limits lie further
    apart than the method allows the result carries a note that a detailed calculation is due.

    Raises MethodNotApplicableError for steel studs, ThermalError for a wall without resistance.
    """
    refuse_steel(assembly, TransmittanceMethod.COMBINED)
    upper = 1.0 / paths_transmittance(assembly)
    lower = planes_resistance(assembly)
    if lower <= 0.0:
        raise ThermalError("The wall has no resistance at all; give the surface films.")
    resistance = 0.5 * (upper + lower)
    notes = missing_note(assembly)
    if upper / lower > MOST_RATIO:
        notes += (
            f"Upper over lower limit is {upper / lower:.2f}, above {MOST_RATIO}: outside the method (limit from "
            "memory, to be confirmed); a detailed calculation is due.",
        )
    return Transmittance(
        TransmittanceMethod.COMBINED,
        1.0 / resistance,
        resistance,
        "Wood frame or no frame, so no metal bridges the insulation.",
        SOURCE,
        upper=upper,
        lower=lower,
        max_error=(upper - lower) / (2.0 * resistance),
        paths=heat_paths(assembly),
        notes=notes,
    )


def air_gap_correction(resistance: float, insulation_resistance: float, level: int) -> float:
    """What air gaps in the insulation add to U, W/(m2 K): addition of the level x (R_insulation/R_total)^2.

    Both resistances in m2 K/W; level 0, 1 or 2. Not for floors. Raises ThermalError for another level.

    >>> round(air_gap_correction(3.877, 2.857, 1), 5)
    0.00543
    """
    if level not in GAP_ADDITION:
        raise ThermalError(f"Air gaps have level 0, 1 or 2, not {level}.")
    if resistance <= 0.0:
        raise ThermalError("An air-gap correction needs the wall's total resistance.")
    return GAP_ADDITION[level] * (insulation_resistance / resistance) ** 2


def with_air_gaps(
    plain: Transmittance, insulation_resistance: float, level: int, *, leave_out_small: bool = True
) -> Transmittance:
    """The result with its air-gap correction added, or left out where it is under 3 % of U.

    `insulation_resistance` in m2 K/W is that of the layer with the gaps. The notes say what was done.
    """
    addition = air_gap_correction(plain.resistance, insulation_resistance, level)
    if addition == 0.0:
        return plain
    share = addition / plain.u
    if leave_out_small and share < LEFT_OUT_BELOW:
        note = f"Air-gap correction of level {level} ({share:.1%} of U) left out: under 3 %."
        return replace(plain, notes=(*plain.notes, note))
    u = plain.u + addition
    note = f"Air-gap correction of level {level} added ({share:.1%} of U)."
    return replace(plain, u=u, resistance=1.0 / u, correction=plain.correction + addition, notes=(*plain.notes, note))


def reported_u(u: float) -> float:
    """U rounded to two significant figures, as ISO 6946:2017 reports it, W/(m2 K).

    >>> reported_u(0.2968)
    0.3
    """
    if u <= 0.0:
        raise ThermalError("A U-value to report must be positive.")
    return round(u, 1 - floor(log10(u)))
