"""What each layer of a wall is: stud layer, sheathing, lining, cladding, air or other, and why.

The order of judgement: words of the job file; the material's category; words in the material's name and the layer's
name; then, for the whole layer set, its name, a frame that the model has, and the layers' places.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.building import ModelLayer
from takeoff.job import Job
from takeoff.layer_judgement import (
    DEPTH_SLACK,
    NOMINAL_SIZE,
    Judgement,
    LayerPlace,
    brief,
    first_word,
    is_plausible,
    layer_role,
    names_of,
    stud_material,
)
from takeoff.layer_words import NAMELESS_GROUPS, ROLE_GROUPS, WALL_GROUPS, built_in_words
from takeoff.model import LayerRole
from takeoff.wall_rules import matches

__all__ = ["Judgement", "LayerPlace", "LayerSetFacts", "layer_role", "roles_of", "stud_material"]

USUAL_DEPTHS_MM = (
    *(38.1, 63.5, 88.9, 139.7, 184.15, 190.5, 235.0, 241.3, 285.75),
    *(41.3, 92.1, 101.6, 152.4, 203.2, 254.0),
    *(
        48,
        50,
        60,
        63,
        70,
        75,
        80,
        89,
        90,
        92,
        94,
        95,
        98,
        100,
        120,
        125,
        138,
        140,
        145,
        147,
        148,
        150,
        160,
        170,
        172,
        173,
    ),
    *(180, 184, 195, 197, 198, 200, 219, 220, 223, 225, 235, 240, 245, 280, 300),
)
"""mm. Depths in which studs are sold: dry lumber and cold-formed sizes in inches, then metric timber and steel sections
(common practice, no published source)."""
VENEER = 0.13
"""m; masonry no thicker than this outside a stud layer is a veneer (common practice, no published source)."""


@dataclass(frozen=True, slots=True)
class LayerSetFacts:
    """What is known about a layer set beside its layers."""

    set_name: str = ""
    """Name of the layer set; the wall type's name may be added."""
    has_frame: bool = False
    """The model has members of a frame in this wall."""
    chosen: str | tuple[int, ...] | None = None
    """Stud layer as a `[[wall]]` block states it: numbers counted from 1, or a pattern of the material's name."""


NO_FACTS = LayerSetFacts()


def roles_of(layers: Sequence[ModelLayer], job: Job, facts: LayerSetFacts = NO_FACTS) -> tuple[Judgement, ...]:
    """Role and reason of every layer of a set, in the model's order.

    Several layers may be stud layers. A stud layer that a `[[wall]]` block states goes before everything. Where no
    layer says that it is one, the set's name or a frame in the model may point to the one layer that can be.
    """
    count = len(layers)
    if facts.chosen is not None:
        return _as_chosen(layers, job, facts.chosen)
    roles = [layer_role(layer, job, LayerPlace(number, count)) for number, layer in enumerate(layers, start=1)]
    if all(role is not LayerRole.STUD for role, _ in roles):
        _find_by_set(layers, roles, job, facts)
    _place_coats(layers, roles)
    return tuple(roles)


def chosen_layers(layers: Sequence[ModelLayer], chosen: str | tuple[int, ...]) -> list[bool]:
    """Of each layer whether a job file means it, by numbers from 1 or by a pattern of its material or name."""
    return [
        number in chosen if isinstance(chosen, tuple) else matches(chosen, layer.material or layer.name)
        for number, layer in enumerate(layers, start=1)
    ]


def _as_chosen(layers: Sequence[ModelLayer], job: Job, chosen: str | tuple[int, ...]) -> tuple[Judgement, ...]:
    count = len(layers)
    stated = chosen_layers(layers, chosen)
    roles: list[Judgement] = []
    for number, layer in enumerate(layers, start=1):
        role, reason = layer_role(layer, job, LayerPlace(number, count))
        if stated[number - 1]:
            role, reason = LayerRole.STUD, f"the job file names layer {number} as stud layer"
        elif not any(stated):
            shown = chosen if isinstance(chosen, str) else ", ".join(str(each) for each in chosen)
            reason = f"the stud_layer '{shown}' of the job file is none of these {count} layers ({reason})"
            role = LayerRole.OTHER if role is LayerRole.STUD else role
        elif role is LayerRole.STUD:
            role, reason = LayerRole.OTHER, f"the job file names another stud layer ({reason})"
        roles.append((role, reason))
    _place_coats(layers, roles)
    return tuple(roles)


def _find_by_set(layers: Sequence[ModelLayer], roles: list[Judgement], job: Job, facts: LayerSetFacts) -> None:
    """Gives one layer the role of stud layer where the set's name or a frame in the model points to it."""
    candidates = [index for index in range(len(layers)) if _may_be_studs(layers[index], roles[index], job)]
    for index in candidates:
        if _named_structure(layers[index]) and (facts.has_frame or _is_usual(layers[index].thickness)):
            name = brief(layers[index].name)
            roles[index] = LayerRole.STUD, f"assumed: no material, and the layer's name '{name}' means the structure"
            return
    if not candidates:
        return
    best = max(candidates, key=lambda index: (layers[index].thickness, -index))
    said = _set_says_studs(facts.set_name)
    why = f"the wall's name says studs ('{said}')" if said else "the model has a frame in this wall" * facts.has_frame
    if why and _stands_alone(layers, best, candidates):
        roles[best] = LayerRole.STUD, f"assumed: {why}, and this is the one layer as deep as studs"
    elif _between_boards(roles, best):
        role, reason = roles[best]
        hint = "it lies between boards, so it may be a stud layer: if so, name it in the job file"
        roles[best] = role, f"{reason}; {hint}"


def _may_be_studs(layer: ModelLayer, judged: Judgement, job: Job) -> bool:
    """Whether a layer could be studs for all its words say: insulation, air, wood, steel or nothing known."""
    role, reason = judged
    if not is_plausible(layer, job) or reason.startswith("the job file's word"):
        return False
    if role is LayerRole.AIR:
        return True
    words = {each.group for each in built_in_words(f"{names_of(layer)[0]} | {layer.category}", ROLE_GROUPS)}
    return role is LayerRole.OTHER and not words & {"masonry", "solid", "membrane"}


def _named_structure(layer: ModelLayer) -> bool:
    return not layer.material.strip() and bool(built_in_words(layer.name, NAMELESS_GROUPS))


def _set_says_studs(set_name: str) -> str:
    words = (*built_in_words(set_name, ROLE_GROUPS), *built_in_words(set_name, WALL_GROUPS))
    found = next((each.word for each in words if each.group in ("stud", "framed_wall")), None)
    if found is None and not any(each.group in ("masonry", "solid") for each in words):
        found = first_word(words, "weak_stud")
    size = NOMINAL_SIZE.search(set_name)
    return found or (size.group() if size is not None else "")


def _is_usual(thickness: float) -> bool:
    return any(abs(thickness - depth / 1000) <= DEPTH_SLACK for depth in USUAL_DEPTHS_MM)


def _stands_alone(layers: Sequence[ModelLayer], index: int, candidates: Sequence[int]) -> bool:
    """Whether nothing else in the set could as well be the studs.

    A single layer is the whole wall, boards and all, and a layer without any name may be anything: both must have a
    depth in which studs are sold, and a nameless one must lie between two thinner layers.
    """
    layer = layers[index]
    rivals = [each for each in candidates if each != index and layers[each].thickness > 0.6 * layer.thickness]
    if rivals:
        return False
    if len(layers) == 1:
        return _is_usual(layer.thickness) and bool(names_of(layer)[0])
    if names_of(layer)[0]:
        return True
    inside = 0 < index < len(layers) - 1
    thinner = inside and max(layers[index - 1].thickness, layers[index + 1].thickness) < layer.thickness
    return thinner and _is_usual(layer.thickness)


def _between_boards(roles: Sequence[Judgement], index: int) -> bool:
    boards = (LayerRole.LINING, LayerRole.SHEATHING)
    return 0 < index < len(roles) - 1 and roles[index - 1][0] in boards and roles[index + 1][0] in boards


def _place_coats(layers: Sequence[ModelLayer], roles: list[Judgement]) -> None:
    """Coats and veneers at the end away from the lining are cladding."""
    last = len(roles) - 1
    if last < 1 or all(role is not LayerRole.STUD for role, _ in roles):
        return
    for index, other in ((0, last), (last, 0)):
        words = {each.group for each in built_in_words(names_of(layers[index])[0], ROLE_GROUPS)}
        role, reason = roles[index]
        if role is LayerRole.LINING and words == {"finish"} and roles[other][0] is LayerRole.LINING:
            opposite = {each.group for each in built_in_words(names_of(layers[other])[0], ROLE_GROUPS)}
            if "lining" in opposite:
                roles[index] = LayerRole.CLADDING, f"{reason}, on the side away from the lining"
        elif role is LayerRole.OTHER and "masonry" in words and layers[index].thickness <= VENEER:
            roles[index] = LayerRole.CLADDING, f"{reason}, as thin as a veneer and outside the stud layer"
