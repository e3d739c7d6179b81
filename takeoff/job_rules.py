"""Which `[[wall]]` blocks of the job file held for which wall, and which of them came to nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from takeoff.building import Model, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.job import Job, overrides_for
from takeoff.layer_roles import chosen_layers
from takeoff.model import Source, WallTakeoff
from takeoff.wall_rules import WallRule, idle_blocks
from takeoff.walls.layer_places import layer_set_name

_THIN_STUDS = 0.03
"""m; furring of 38 mm is about the least that is filled (common practice, no published source)."""


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
    told = [
        _told(result, rule, source) if rule.applied else result
        for result, rule, source in zip(results, rules, model.walls, strict=True)
    ]
    return replace(model, findings=(*model.findings, *idle)), tuple(told)


def _told(result: WallTakeoff, rule: WallRule, source: ModelWall) -> WallTakeoff:
    result = replace(result, wall=replace(result.wall, job_rules=rule.holds))
    findings = [*result.findings, *_of_stud_layer(result, rule, source)]
    if rule.stud_offset is not None and rule.stud_depth is None:
        findings.append(_without_effect(result, "stud_offset", "it counts only together with stud_depth"))
    modelled = bool(result.layers) and all(layer.frame.source is Source.MODELLED for layer in result.layers)
    if rule.framing and modelled:
        reason = "the frame in the model was used; state read_frame = false to have it laid out"
        findings.append(_without_effect(result, f"framing '{rule.framing}'", reason))
    return replace(result, findings=tuple(findings))


def _of_stud_layer(result: WallTakeoff, rule: WallRule, source: ModelWall) -> tuple[Finding, ...]:
    """What is said where the layer that the job file names is not there, or no studs can be that thin."""
    if rule.stud_layer is None:
        return ()
    layers = source.layers.layers if source.layers is not None else ()
    stated = chosen_layers(layers, rule.stud_layer)
    named = rule.stud_layer if isinstance(rule.stud_layer, str) else ", ".join(str(each) for each in rule.stud_layer)
    if not any(stated):
        names = "; ".join(f"{number}. {layer.material or layer.name}" for number, layer in enumerate(layers, start=1))
        there = f"its layers are {names}" if names else "the model gives it no layers"
        return (_without_effect(result, f"stud_layer '{named}'", there),)
    thinnest = min(layer.thickness for layer, one in zip(layers, stated, strict=True) if one)
    if thinnest >= _THIN_STUDS:
        return ()
    wall = result.wall
    return (
        Finding(
            "stud-layer-thin", Severity.WARNING,
            f"The job file names stud_layer '{named}' for this wall ({'; '.join(wall.job_rules)}), and that layer is "
            f"only {thinnest * 1000:.0f} mm thick: see whether it is a board.",
            wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, thinnest, _THIN_STUDS, "m",
        ),
    )  # fmt: skip


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
