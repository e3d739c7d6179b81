"""The layers of a wall from face to face, with the stud layers that were taken off in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

import numpy as np

from geometry.solids import bounds, volume
from takeoff.building import ModelLayer
from takeoff.envelope.settings import FramingFacts
from takeoff.framing.rules import FramingRules
from takeoff.job import Job
from takeoff.layer_roles import stud_material
from takeoff.model import Layer, LayerRole, LayerTakeoff, Member, MemberRole, Source, StudLayer, WallTakeoff
from takeoff.thermal import SteelStuds, names_metal
from takeoff.units import INCH
from takeoff.wall_tables import stud_material as material_name

_THIN_WALLED = 0.4
"""Share of its box that the metal of a cold-formed stud stays far below and a piece of wood far above. Own rule."""
_LEAST_SPACING = 0.2
_MOST_SPACING = 1.0
"""m; centres of neighbouring studs of a layout. Closer ones are doubled, wider ones have an opening between them."""
_STUDS = frozenset({MemberRole.STUD, MemberRole.KING_STUD})


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A stud layer in the wall axes of the first of its wall's."""

    taken: LayerTakeoff
    y_min: float
    y_max: float


def placed_in_depth(group: Sequence[LayerTakeoff]) -> tuple[Placed, ...]:
    """Stud layers behind each other, from the fill side of the first outwards, in its wall axes, m."""
    first = group[0].frame.layer
    found = [Placed(group[0], 0.0, first.depth)]
    for taken in group[1:]:
        layer = taken.frame.layer
        (x_min, _, z_min), (x_max, _, z_max) = bounds(layer.outline)
        middle = [(x_min + x_max) / 2.0, 0.0, (z_min + z_max) / 2.0]
        ends = first.axes.to_local(layer.axes.to_world(np.array([middle, [middle[0], layer.depth, middle[2]]])))[:, 1]
        found.append(Placed(taken, float(ends.min()), float(ends.max())))
    return tuple(sorted(found, key=lambda each: each.y_min))


def stacked(first: StudLayer, placed: Sequence[Placed]) -> tuple[Layer, ...]:
    """All layers of a wall in the axes of `first`, where exactly the layers that were taken off are stud layers.

    A model may have no layers, a stud layer may be deeper than its material layer, and one of two may have been left
    out by the job file: what was taken off decides. A material layer whose middle lies in a taken stud layer is that
    stud layer; one that calls itself a stud layer without having been taken off is judged by its material.
    """
    rest = [
        replace(layer, role=LayerRole.OTHER) if layer.role is LayerRole.STUD else layer
        for layer in first.layers
        if not any(_inside(layer, each) for each in placed)
    ]
    studs = [
        Layer(
            material_name(each.taken.frame.layer), "", each.y_max - each.y_min, LayerRole.STUD, "taken off",
            each.y_min, each.y_max,
        )
        for each in placed
    ]  # fmt: skip
    return tuple(sorted((*rest, *studs), key=lambda layer: layer.y_min))


def _inside(layer: Layer, placed: Placed) -> bool:
    middle = 0.5 * (layer.y_min + layer.y_max)
    holds = layer.role is LayerRole.STUD and layer.y_min <= 0.5 * (placed.y_min + placed.y_max) <= layer.y_max
    return placed.y_min < middle < placed.y_max or holds


# ---------------------------------------------------------------- what the studs are


def framing_facts(wall: WallTakeoff, taken: LayerTakeoff, job: Job) -> FramingFacts:
    """Material of the studs, and whether they are steel.

    A laid-out frame is what its rule set says. A modelled one is steel where its members' materials are metal, or
    where its studs are thin-walled; else what the names of the stud layer and the wall type say.
    """
    material = material_name(taken.frame.layer)
    rules = _rules(taken, job)
    if rules is not None:
        return FramingFacts(material, rules.material == "steel")
    parts = {part.global_id: part.material for part in taken.frame.layer.parts}
    named = [parts.get(member.element_id, "") for member in taken.frame.members if _is_framing(member)]
    told = [name for name in named if name]
    if told and sum(names_metal(name) for name in told) > len(told) / 2:
        return FramingFacts(material, True)
    if told and not any(names_metal(name) for name in told):
        return FramingFacts(material, False)
    thin = [_is_thin_walled(member) for member in taken.frame.members if member.role in _STUDS]
    if thin:
        return FramingFacts(material, sum(thin) > len(thin) / 2)
    return FramingFacts(material, stud_material(ModelLayer(material, "", 0.0), wall.wall.type_name) == "steel")


def steel_studs(taken: LayerTakeoff, job: Job) -> SteelStuds | None:
    """Spacing and section of steel studs; None where a modelled frame shows no spacing.

    A laid-out frame has those of its rules. Of a modelled one the spacing is the middle of the distances between
    neighbouring studs, and the flange their middle width; its steel's thickness nobody states, so the usual 43 mil
    is taken.
    """
    depth = taken.frame.layer.depth
    rules = _rules(taken, job)
    if rules is not None:
        return SteelStuds(rules.spacing, depth, rules.flange, _designation(rules.steel_thickness))
    ends = [bounds(member.solid)[:, 0].tolist() for member in taken.frame.members if member.role in _STUDS]
    centres = sorted((left + right) / 2.0 for left, right in ends)
    steps = [after - before for before, after in pairwise(centres)]
    steps = [step for step in steps if _LEAST_SPACING <= step <= _MOST_SPACING]
    if not steps:
        return None
    return SteelStuds(median(steps), depth, median(right - left for left, right in ends))


def _designation(design_thickness: float) -> float:
    """Designation thickness in whole mils (0.001 in), by which tables go: 95 % of the design thickness.

    The rule of the section designators, from memory; 0.0346, 0.0451, 0.0566 and 0.0713 in give 33, 43, 54 and 68 mil.
    """
    mil = INCH / 1000.0
    return round(0.95 * design_thickness / mil) * mil


def _rules(taken: LayerTakeoff, job: Job) -> FramingRules | None:
    return job.framing.rule_sets.get(taken.frame.rule) if taken.frame.source is Source.LAID_OUT else None


def _is_framing(member: Member) -> bool:
    return member.role is not MemberRole.OBSTRUCTION


def _is_thin_walled(member: Member) -> bool:
    low, high = bounds(member.solid)
    box = float(np.prod(high - low))
    return box > 0.0 and volume(member.solid) < _THIN_WALLED * box
