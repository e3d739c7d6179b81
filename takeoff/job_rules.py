"""Which `[[wall]]` blocks of the job file held for which wall, and which of them came to nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from takeoff.job import Job, overrides_for
from takeoff.model import Finding, Model, ModelWall, Severity, Source, WallTakeoff
from takeoff.wall_rules import WallRule, idle_blocks
from takeoff.walls.layer_places import layer_set_name


@dataclass(frozen=True, slots=True)
class RuleGroup:
    """One block of the job file as it holds, and names of the walls that it holds for (ids where they have none)."""

    text: str
    walls: tuple[str, ...]


def rule_groups(results: Sequence[WallTakeoff]) -> tuple[RuleGroup, ...]:
    """Blocks that hold for some wall, in the order of the walls that they hold for first."""
    groups: dict[str, list[str]] = {}
    for result in results:
        for text in result.wall.job_rules:
            groups.setdefault(text, []).append(result.wall.name or result.wall.wall_id)
    return tuple(RuleGroup(text, tuple(walls)) for text, walls in groups.items())


def rule_of(wall: ModelWall, job: Job) -> WallRule:
    """What the job file says about a wall of the model."""
    return overrides_for(job, wall.global_id, wall.name, wall.type_name, layer_set_name(wall))


def with_rules_told(model: Model, results: Sequence[WallTakeoff], job: Job) -> tuple[Model, tuple[WallTakeoff, ...]]:
    """The model and its results with the rules that held for each wall, and findings about those without effect.

    results: one for each wall, in the order of the model.
    """
    if not job.wall:
        return model, tuple(results)
    rules = [rule_of(wall, job) for wall in model.walls]
    idle = tuple(_selects_nothing(title) for title in idle_blocks(job.wall, rules))
    told = [_told(result, rule) if rule.applied else result for result, rule in zip(results, rules, strict=True)]
    return replace(model, findings=(*model.findings, *idle)), tuple(told)


def _told(result: WallTakeoff, rule: WallRule) -> WallTakeoff:
    result = replace(result, wall=replace(result.wall, job_rules=rule.holds))
    findings = [*result.findings]
    if rule.stud_offset is not None and rule.stud_depth is None:
        findings.append(_without_effect(result, "stud_offset", "it counts only together with stud_depth"))
    modelled = bool(result.layers) and all(layer.frame.source is Source.MODELLED for layer in result.layers)
    if rule.framing and modelled:
        reason = "the frame in the model was used; state read_frame = false to have it laid out"
        findings.append(_without_effect(result, f"framing '{rule.framing}'", reason))
    return replace(result, findings=tuple(findings))


def _without_effect(result: WallTakeoff, what: str, why: str) -> Finding:
    wall = result.wall
    return Finding(
        "job-rule-without-effect", Severity.WARNING,
        f"The job file states {what} for this wall ({'; '.join(wall.job_rules)}), without effect: {why}.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name,
    )  # fmt: skip


def _selects_nothing(title: str) -> Finding:
    return Finding(
        "job-rule-selects-no-wall", Severity.WARNING,
        f"The [[wall]] block of the job file with {title} fits no wall of the model; mend its patterns or drop it.",
    )  # fmt: skip
