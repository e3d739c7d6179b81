"""What each layer of a wall is: stud layer, sheathing, lining, cladding, air or other, and why.

The order of judgement: words of the job file; the material's category; words in the material's name and the layer's
name; then, for the whole layer set, its name, a frame that the model has, and the layers' places. A material alone is
no frame: a layer of 'Wood' is solid wood until a word says that it is framed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from takeoff.job import Job, StudMaterial
from takeoff.layer_words import (
    MATERIAL_GROUPS,
    NAMELESS_GROUPS,
    ROLE_GROUPS,
    WALL_GROUPS,
    WordFound,
    built_in_words,
    find_words,
    job_vocabulary,
)
from takeoff.model import LayerRole, ModelLayer
from takeoff.units import format_length
from takeoff.wall_rules import matches

Judgement = tuple[LayerRole, str]
"""A role, and a sentence that says why."""

_WORD_ORDER: tuple[tuple[str, LayerRole, str], ...] = (
    ("solid", LayerRole.OTHER, "solid or glazed, without studs"),
    ("sheathing", LayerRole.SHEATHING, "sheathing"),
    ("lining", LayerRole.LINING, "lining"),
    ("cladding", LayerRole.CLADDING, "cladding"),
    ("membrane", LayerRole.OTHER, "a membrane"),
    ("insulation", LayerRole.OTHER, "insulation, and no word says that it lies between studs"),
    ("air", LayerRole.AIR, "air"),
    ("masonry", LayerRole.OTHER, "masonry or concrete"),
    ("batten", LayerRole.AIR, "battens without insulation between them, so a space"),
    ("finish", LayerRole.LINING, "a coat or facing"),
)
"""What a name means when several groups of words are in it: the first of this list."""

_CATEGORY_GROUPS = ("stud", "weak_stud", "sheathing", "lining", "cladding", "membrane", "air", "masonry")
_JOINED = re.compile(
    r"[/+&|;]|\b(?:and|with|w|und|mit|u|et|avec|y|con|e|com|en|met|och|med|og|ja|i|z|a|s|es|si|cu|ve)\b", re.IGNORECASE
)
"""Signs and words that join two materials in one layer, such as 'Holz + Mineralwolle'."""
_NOMINAL_SIZE = re.compile(r"(?<![\d.,])2\s?[x×]\s?(?:3|4|6|8|10|12)(?![\d.,])(?!\s?(?:mm|cm))", re.IGNORECASE)
"""Lumber by its nominal size, such as 2x6."""
_SECTION = re.compile(r"(?<![\d.,])(\d{2,3})\s?[x×/*]\s?(\d{2,3})(?![\d.,])", re.IGNORECASE)
"""A member's section in mm, such as 45x195 or 60/160."""
_ON_CENTRE = re.compile(r"\bo\.?\s?c\.?(?!\w)|\bc/c\b|\bcc\s?\d{2,4}\b|@\s?\d", re.IGNORECASE)

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
DEPTH_SLACK = 0.0012
"""m; models round depths to a millimetre."""
VENEER = 0.13
"""m; masonry no thicker than this outside a stud layer is a veneer (common practice, no published source)."""


@dataclass(frozen=True, slots=True)
class LayerPlace:
    """Where a layer lies in its set, counted from 1 as the model lists them."""

    number: int = 1
    count: int = 1

    @property
    def at_end(self) -> bool:
        return self.number in (1, self.count)


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


# ---------------------------------------------------------------- one layer


def layer_role(layer: ModelLayer, job: Job, place: LayerPlace | None = None) -> Judgement:
    """Role of one layer by the job file's words, its category and its names, with the reason.

    `place` matters for coats that are inside or outside as they lie, and for the sentence; see `roles_of` for what
    only the whole set tells.
    """
    where = place or LayerPlace()
    by_job = _by_job_words(layer, job)
    if by_job is not None:
        return by_job
    text, what = _text_of(layer)
    words = built_in_words(text, ROLE_GROUPS)
    by_category = _by_category(layer, job, words)
    if by_category is not None:
        return by_category
    stud = _stud_words(layer, text, words)
    if stud:
        if _plausible(layer, job):
            return LayerRole.STUD, f"{what} says stud layer ({stud})"
        return _too_thin_or_thick(layer, job, what, words)
    for group, role, meaning in _WORD_ORDER:
        word = _first(words, group)
        if word is not None:
            return role, f"{what} says {meaning} ('{word}')"
    if layer.ventilated:
        return LayerRole.AIR, "the model calls the layer ventilated"
    return LayerRole.OTHER, _nothing_said(layer, text, what, where)


def _text_of(layer: ModelLayer) -> tuple[str, str]:
    """The names that are judged, and how a sentence calls them."""
    material, name = layer.material.strip(), layer.name.strip()
    if material and name and name.casefold() != material.casefold():
        return f"{material} | {name}", f"'{_brief(material)}', named '{_brief(name)}',"
    if material:
        return material, f"'{_brief(material)}'"
    return name, f"the layer's name '{_brief(name)}'"


def _brief(text: str) -> str:
    clean = " ".join("".join(char if char.isprintable() else " " for char in text).split())
    return clean if len(clean) <= 80 else clean[:77] + "..."


def _by_job_words(layer: ModelLayer, job: Job) -> Judgement | None:
    sets = {
        LayerRole.STUD: job.layers.stud_layer,
        LayerRole.SHEATHING: job.layers.sheathing,
        LayerRole.LINING: job.layers.lining,
        LayerRole.CLADDING: job.layers.cladding,
        LayerRole.AIR: job.layers.air,
        LayerRole.OTHER: job.layers.other,
    }
    pairs = tuple((role.value, word) for role, words in sets.items() for word in words)
    if not pairs:
        return None
    vocabulary = job_vocabulary(pairs)
    for text in (layer.material, layer.name, layer.category):
        # The longest word is the most exact one; the order of the roles decides between equals.
        found = sorted(find_words(text, vocabulary), key=lambda each: (each.start - each.end, -len(each.word)))
        if found:
            return LayerRole(found[0].group), f"the job file's word '{found[0].word}' is in '{_brief(text)}'"
    return None


def _by_category(layer: ModelLayer, job: Job, words: Sequence[WordFound]) -> Judgement | None:
    """Role by the material's category, where that is decisive. Wood and steel are not: they may be solid."""
    category = layer.category.strip()
    found = built_in_words(category, ROLE_GROUPS) if category else ()
    group = next((each for each in _CATEGORY_GROUPS if _first(found, each) is not None), None)
    if group is None:
        return None
    what = f"the category '{_brief(category)}'"
    if group in ("stud", "weak_stud"):
        if _plausible(layer, job):
            return LayerRole.STUD, f"{what} says stud layer"
        return _too_thin_or_thick(layer, job, what, words)
    if group != "masonry" and _first(words, "stud") is not None:
        return None
    role, meaning = next((role, meaning) for each, role, meaning in _WORD_ORDER if each == group)
    # A name that tells more than the category goes before it: 'exterior sheathing' in the category 'gypsum'.
    if group in ("lining", "cladding") and _first(words, "sheathing") is not None:
        return None
    if group in ("air", "membrane") and _first(words, "insulation") is not None:
        return None
    return role, f"{what} says {meaning}"


def _first(words: Sequence[WordFound], group: str) -> str | None:
    return next((each.word for each in words if each.group == group), None)


def _stud_words(layer: ModelLayer, text: str, words: Sequence[WordFound]) -> str:
    """What in the names says that this is a stud layer; empty where nothing does."""
    strong = _first(words, "stud")
    if strong is not None:
        return f"'{strong}'"
    groups = {each.group for each in words}
    weak = _first(words, "weak_stud")
    if weak is not None and not groups & {"masonry", "solid"}:
        return f"'{weak}'"
    if groups & {"solid", "sheathing", "lining", "cladding", "masonry", "membrane"}:
        return ""
    if groups >= {"batten", "insulation"}:
        return f"'{_first(words, 'batten')}' with '{_first(words, 'insulation')}'"
    material = _material_words(text)
    insulated = _first(words, "insulation")
    if material and insulated is not None and _JOINED.search(text):
        return f"'{material[0].word}' joined with '{insulated}'"
    return _measures_of_studs(layer, text, material)


def _measures_of_studs(layer: ModelLayer, text: str, material: Sequence[WordFound]) -> str:
    """A nominal size, a section as deep as the layer, or a spacing on centre."""
    nominal = _NOMINAL_SIZE.search(text)
    if nominal is not None:
        return f"'{nominal.group()}'"
    if not material:
        return ""
    for section in _SECTION.finditer(text):
        if abs(max(int(each) for each in section.groups()) / 1000 - layer.thickness) <= DEPTH_SLACK:
            return f"'{section.group()}' is a section as deep as the layer"
    spacing = _ON_CENTRE.search(text)
    return f"'{spacing.group()}' is a spacing" if spacing is not None else ""


def _material_words(text: str) -> tuple[WordFound, ...]:
    """Words of wood and steel that are not part of a board's, an insulation's or a cladding's name."""
    claimed = {
        index
        for each in built_in_words(text, ROLE_GROUPS)
        if each.group not in ("stud", "weak_stud", "batten")
        for index in range(each.start, each.end)
    }
    return tuple(each for each in built_in_words(text, MATERIAL_GROUPS) if each.start not in claimed)


def _plausible(layer: ModelLayer, job: Job) -> bool:
    low, high = job.layers.least_stud_depth, job.layers.greatest_stud_depth
    return low - 1e-9 <= layer.thickness <= high + 1e-9


def _too_thin_or_thick(layer: ModelLayer, job: Job, what: str, words: Sequence[WordFound]) -> Judgement:
    thin = layer.thickness < job.layers.least_stud_depth
    limit = job.layers.least_stud_depth if thin else job.layers.greatest_stud_depth
    reason = (
        f"{what} speaks of studs, but {format_length(layer.thickness, 'metric')} is "
        f"{'less' if thin else 'more'} than the {'least' if thin else 'greatest'} depth of "
        f"{format_length(limit, 'metric')} ([layers] in the job file)"
    )
    # Boards 'on studs' are boards, and so on: the role that the other words give.
    role = next((role for group, role, _ in _WORD_ORDER if _first(words, group) is not None), LayerRole.OTHER)
    return role, reason


def _nothing_said(layer: ModelLayer, text: str, what: str, place: LayerPlace) -> str:
    if not text:
        return f"layer {place.number} of {place.count} has no material and no name"
    material = _material_words(text)
    if material:
        return f"{what} is '{material[0].word}', and no word says that it is framed"
    if layer.category.strip():
        return f"no word for a role is known in {what} or its category '{_brief(layer.category)}'"
    return f"no word for a role is known in {what}"


# ---------------------------------------------------------------- the whole set


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


def _as_chosen(layers: Sequence[ModelLayer], job: Job, chosen: str | tuple[int, ...]) -> tuple[Judgement, ...]:
    roles: list[Judgement] = []
    for number, layer in enumerate(layers, start=1):
        stated = number in chosen if isinstance(chosen, tuple) else matches(chosen, layer.material or layer.name)
        role, reason = layer_role(layer, job, LayerPlace(number, len(layers)))
        if stated:
            role, reason = LayerRole.STUD, f"the job file names layer {number} as stud layer"
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
            name = _brief(layers[index].name)
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
    if not _plausible(layer, job) or reason.startswith("the job file's word"):
        return False
    if role is LayerRole.AIR:
        return True
    words = {each.group for each in built_in_words(f"{_text_of(layer)[0]} | {layer.category}", ROLE_GROUPS)}
    return role is LayerRole.OTHER and not words & {"masonry", "solid", "membrane"}


def _named_structure(layer: ModelLayer) -> bool:
    return not layer.material.strip() and bool(built_in_words(layer.name, NAMELESS_GROUPS))


def _set_says_studs(set_name: str) -> str:
    words = (*built_in_words(set_name, ROLE_GROUPS), *built_in_words(set_name, WALL_GROUPS))
    found = next((each.word for each in words if each.group in ("stud", "framed_wall")), None)
    if found is None and not any(each.group in ("masonry", "solid") for each in words):
        found = _first(words, "weak_stud")
    size = _NOMINAL_SIZE.search(set_name)
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
        return _is_usual(layer.thickness) and bool(_text_of(layer)[0])
    if _text_of(layer)[0]:
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
        words = {each.group for each in built_in_words(_text_of(layers[index])[0], ROLE_GROUPS)}
        role, reason = roles[index]
        if role is LayerRole.LINING and words == {"finish"} and roles[other][0] is LayerRole.LINING:
            opposite = {each.group for each in built_in_words(_text_of(layers[other])[0], ROLE_GROUPS)}
            if "lining" in opposite:
                roles[index] = LayerRole.CLADDING, f"{reason}, on the side away from the lining"
        elif role is LayerRole.OTHER and "masonry" in words and layers[index].thickness <= VENEER:
            roles[index] = LayerRole.CLADDING, f"{reason}, as thin as a veneer and outside the stud layer"


# ---------------------------------------------------------------- wood or steel


def stud_material(layer: ModelLayer, set_name: str = "") -> StudMaterial:
    """Whether the studs of a layer are of wood or of steel, by its names, its category, then the set's name."""
    for text in (f"{layer.material} | {layer.name}", layer.category, set_name):
        found: tuple[WordFound, ...] = _material_words(text)
        if found:
            # Where both stand there, the one next to the word for studs: 'metal clips, wood studs' is wood.
            studs = [each.start for each in built_in_words(text, ROLE_GROUPS) if each.group in ("stud", "weak_stud")]
            nearest = min(found, key=lambda each: min((abs(each.start - start) for start in studs), default=0))
            return _as_material(nearest.group)
        if _NOMINAL_SIZE.search(text):
            return "wood"
    return "unknown"


def _as_material(group: str) -> Literal["wood", "steel"]:
    return "wood" if group == "wood" else "steel"
