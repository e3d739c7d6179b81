"""What the job file says about heat, in the words of `takeoff.thermal`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.job import Job
from takeoff.job_thermal import STATED
from takeoff.model import Layer, LayerRole
from takeoff.thermal import (
    Fibre,
    FillStep,
    Grade,
    ResistanceSettings,
    Rule,
    StudLayerFill,
    Target,
    Ventilation,
    code_target,
    design_value,
    fibre_named,
    film_rule,
    names_metal,
    project_target,
)

TIMBER_KEYS = frozenset({"softwood", "hardwood", "wood"})
"""Design values that may stand for framing; a stud layer is often named after the insulation or board in it."""
FIBRE_SOURCE = "[fibre] conductivity"


@dataclass(frozen=True, slots=True)
class FramingFacts:
    """What studs are made of."""

    material: str
    """As the model names the stud layer's material."""
    steel: bool


def rule_of(job: Job) -> Rule:
    """Whose methods govern."""
    return Rule(job.thermal.method)


def grade_of(job: Job) -> Grade:
    """The grade of installation."""
    return Grade(job.thermal.grade)


def target_of(job: Job) -> Target | None:
    """What external walls have to reach: the project's own target, else the code minimum, else None.

    Raises ThermalError where the zone and place have no code minimum.
    """
    if job.thermal.target is not None:
        return project_target("the project's target", u=job.thermal.target)
    if job.thermal.climate_zone is not None:
        return code_target(job.thermal.climate_zone, "wall", job.thermal.place)
    return None


def fill_of(job: Job, framing: FramingFacts) -> StudLayerFill:
    """What stud layers of one framing are filled with.

    A step of [[fibre.by_depth]] that has a resistance gives cavities up to its depth their share of it by depth.
    """
    heat, fibre = job.thermal, job.fibre
    stated = heat.fibre == STATED
    chosen = _stated_fibre(job) if stated else fibre_named(heat.fibre)
    steps = []
    for step in fibre.by_depth:
        charted = step.resistance
        if charted is not None and stated:
            k = step.depth_to / charted
            own = Fibre(fibre.name, None, None, k, k, "the coverage chart in the job file ([[fibre.by_depth]])")
            steps.append(FillStep(step.depth_to, own))
        else:
            steps.append(FillStep(step.depth_to, chosen, None if stated else step.density))
    return StudLayerFill(
        fibre=chosen,
        density=None if stated else fibre.density,
        batt_conductivity=heat.batt_conductivity,
        framing_material=_timber_name(framing.material),
        steel=framing.steel,
        framing_conductivity=None if framing.steel else heat.framing_conductivity,
        steps=tuple(steps),
    )


def _stated_fibre(job: Job) -> Fibre:
    fibre = job.fibre
    set_here = "conductivity" in fibre.model_fields_set
    where = "stated in the job file" if set_here else "built-in: ASHRAE Handbook (SI) 2021, ch. 26 Table 1, middle"
    return Fibre(fibre.name, None, None, fibre.conductivity, fibre.conductivity, f"{FIBRE_SOURCE} ({where})")


def _timber_name(material: str) -> str:
    """The stud material's name where it names a timber, else softwood."""
    if not material or names_metal(material):
        return "softwood"
    return material if design_value(material).key in TIMBER_KEYS else "softwood"


def settings_for(
    job: Job, layers: Sequence[Layer], *, wall_id: str, external: bool, outside_far: bool
) -> ResistanceSettings:
    """How the layers around the studs of one wall are judged."""
    air = Ventilation(job.thermal.air_layers)
    if any(layer.ventilated and layer.role is LayerRole.AIR for layer in layers):
        air = Ventilation.WELL
    return ResistanceSettings(
        films=film_rule(rule_of(job)),
        external=external,
        air=air,
        outside_far=outside_far,
        wall_id=wall_id,
        stated=tuple((row.name, row.conductivity) for row in job.thermal.material),
    )
