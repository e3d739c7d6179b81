"""Compliance by insulation instead of U-value: the walls held against the R-value options of the code.

A code that sets a U-value for wood-frame walls also complies by cavity and continuous insulation alone (IECC 2021
residential, Table R402.1.3): any one option of the zone will do, and films, boards and framing do not count.
"""

from __future__ import annotations

from collections.abc import Sequence

from takeoff.envelope.walls import WallPart
from takeoff.job import Job
from takeoff.model import CavityKind, Method
from takeoff.thermal import OptionVerdict, RValueOption, judge_option, wall_options
from takeoff.thermal.conductivities import INSULATION_BELOW

MODEL_CODE = "model code"


def options_of(job: Job) -> tuple[RValueOption, ...]:
    """The options of the job's climate zone; none where the project has its own target, or a place its own code.

    Raises ThermalError for a text that is no climate zone.
    """
    heat = job.thermal
    if heat.target is not None or heat.climate_zone is None or heat.place != MODEL_CODE:
        return ()
    return wall_options(heat.climate_zone)


def cavity_resistance(part: WallPart) -> float:
    """m2 K/W of the blown fill over the depth of the studs, as codes count it; 0 where the wall or one of its cavities
    stays empty. Gaps that are sealed, too narrow for any fill, are no such cavities."""
    if part.insulated <= 0.0 or part.heat.fill_resistance is None:
        return 0.0
    empty = any(
        cavity.method is Method.NONE and cavity.kind is not CavityKind.OPENING_GAP
        for layer in part.layers
        for cavity in layer.cavities
    )
    return 0.0 if empty else part.heat.fill_resistance


def continuous_resistance(part: WallPart) -> float:
    """m2 K/W of the insulating layers that run past the studs, inside and outside."""
    return sum(
        layer.resistance
        for layer in part.heat.layers
        if layer.conductivity is not None and layer.conductivity <= INSULATION_BELOW
    )


def option_verdict(part: WallPart, options: Sequence[RValueOption]) -> OptionVerdict | None:
    """How an outside wall of wood stands against the option that it meets, else against the one that it is nearest to.

    None for inside walls and for steel studs, of which the table says nothing, and where there are no options.
    """
    if not options or not part.wall.wall.external or part.heat.steel:
        return None
    cavity, continuous = cavity_resistance(part), continuous_resistance(part)
    verdicts = [judge_option(cavity, continuous, option) for option in options]
    return min(verdicts, key=lambda one: (not one.passes, _short(one)))


def _short(verdict: OptionVerdict) -> float:
    """m2 K/W that is missing, both kinds together; 0 where nothing is."""
    return max(0.0, -verdict.cavity_margin) + max(0.0, -verdict.continuous_margin)
