"""The job: every assumption of a takeoff, with its unit, its default and where the default is from.

`load_job` reads a TOML file, `default_job` is what holds without one, `assumptions` lists every number in use; the
other functions answer what the job says about one wall or one cavity.
"""

from __future__ import annotations

from typing import Literal

from geometry.tolerances import Tolerances
from takeoff.assumptions import Assumption, assumptions, least_cavity_depth, least_clear_width
from takeoff.framing.rules import FramingRules
from takeoff.hose import HoseSettings
from takeoff.job_file import Job, JobError, default_job, load_job, read_job
from takeoff.wall_rules import WallRule, merged

__all__ = [
    "Assumption",
    "Job",
    "JobError",
    "StudMaterial",
    "assumptions",
    "default_job",
    "design_density",
    "framing_rules_for",
    "hose_settings",
    "insulate_decision",
    "least_cavity_depth",
    "least_clear_width",
    "load_job",
    "overrides_for",
    "read_job",
    "tolerances",
]

StudMaterial = Literal["wood", "steel", "unknown"]


def overrides_for(job: Job, global_id: str, name: str, type_name: str, layer_set_name: str) -> WallRule:
    """What the `[[wall]]` blocks say about one wall: all that match are merged, and for each key the last one holds."""
    return merged(job.wall, global_id=global_id, name=name, type_name=type_name, layer_set_name=layer_set_name)


def framing_rules_for(job: Job, rule: WallRule, material: StudMaterial) -> FramingRules:
    """The framing rules of a wall: those its block names, else those for the material of its studs."""
    return job.framing.rule_sets[rule.framing or getattr(job.framing, material)]


def insulate_decision(job: Job, rule: WallRule, external: bool, acoustic_rating: str) -> tuple[bool, str]:
    """Whether a framed wall is filled, and why."""
    if rule.insulate is not None:
        return rule.insulate, f"the job file says so ({'; '.join(rule.applied)})"
    if job.insulate.walls == "all":
        return True, "the job file fills all framed walls"
    if job.insulate.walls == "none":
        return False, "the job file fills no walls but those it names"
    if external:
        return True, "external wall"
    if acoustic_rating and job.insulate.rated_internal:
        return True, f"internal wall with acoustic rating {acoustic_rating}"
    if acoustic_rating:
        return False, f"internal wall; the job file leaves walls with an acoustic rating ({acoustic_rating}) unfilled"
    return False, "internal wall without acoustic rating"


def hose_settings(job: Job) -> HoseSettings:
    """The hose, its reach and the limits of filling by hand, as the fill plan takes them."""
    hose, batt = job.hose, job.batt
    reach = hose.short if hose.kind == "short" else hose.long
    return HoseSettings(
        name=f"{hose.kind} hose",
        outside_diameter=hose.outside_diameter,
        insertion=reach.insertion,
        throw_down=reach.throw_down,
        throw_up=reach.throw_up,
        throw_sideways=reach.throw_sideways,
        margin=hose.hole_margin,
        share=hose.least_share,
        standing_reach=hose.standing_reach,
        ladder_reach=hose.ladder_reach,
        comfortable_height=hose.comfortable_height,
        least_width=least_clear_width(job),
        least_depth=batt.depth_below,
        least_volume=batt.volume_below,
        hand_width=batt.hand_width,
        hand_front=batt.open_share,
    )


def design_density(job: Job, depth: float) -> float:
    """kg/m3; design density of the fibre in a cavity of that depth (m)."""
    return next((step.density for step in job.fibre.by_depth if depth <= step.depth_to + 1e-9), job.fibre.density)


def tolerances(job: Job) -> Tolerances:
    """The tolerances of the kernel as the job has them."""
    given = job.tolerances
    return Tolerances(coincident=given.coincident, sliver_width=given.sliver_width, sliver_depth=given.sliver_depth)
