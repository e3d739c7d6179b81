"""What one layer of a wall is by its own words: the job file's, the category's, and those of its names.

A material alone is no frame: a layer of 'Wood' is solid wood until a word says that it is framed.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from takeoff.building import ModelLayer
from takeoff.job import Job, StudMaterial
from takeoff.layer_words import (
    MATERIAL_GROUPS,
    ROLE_GROUPS,
    WordFound,
    built_in_words,
    find_words,
    job_vocabulary,
)
from takeoff.model import LayerRole
from takeoff.units import format_length

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
    r"[/+&;]|\b(?i:and|with|und|mit|et|avec|con|com|en|met|och|med|og|ja|cu|ve)\b|(?<=\s)(?:y|e|u|z)(?=\s)"
)
"""Signs and words that join two materials in one layer, such as 'Holz + Mineralwolle'."""
NOMINAL_SIZE = re.compile(r"(?<![\d.,])2\s?[x×]\s?(?:3|4|6|8|10|12)(?![\d.,])(?!\s?(?:mm|cm))", re.IGNORECASE)
"""Lumber by its nominal size, such as 2x6."""
_SECTION = re.compile(r"(?<![\d.,])(\d{2,3})\s?[x×/*]\s?(\d{2,3})(?![\d.,])", re.IGNORECASE)
"""A member's section in mm, such as 45x195 or 60/160."""
_ON_CENTRE = re.compile(
    r"\bo\.?\s?c\.?(?!\w)|\bc/c\b|\bcc\s?=?\s?\d{2,4}\b|@\s?(?:\d{3,4}\b(?!\s?kg)|\d{1,2}\s?(?:\"|in\b))"
    r"|\b[ae]\s?=\s?\d{2,4}\b|\bs\s?(?:300|400|450|600)\b",
    re.IGNORECASE,
)
"""A spacing of members, such as o.c., c/c 600, @ 400, a = 625 or s600."""

DEPTH_SLACK = 0.0012
"""m; models round depths to a millimetre."""


@dataclass(frozen=True, slots=True)
class LayerPlace:
    """Where a layer lies in its set, counted from 1 as the model lists them."""

    number: int = 1
    count: int = 1

    @property
    def at_end(self) -> bool:
        return self.number in (1, self.count)


def layer_role(layer: ModelLayer, job: Job, place: LayerPlace | None = None) -> Judgement:
    """Role of one layer by the job file's words, its category and its names, with the reason.

    `place` matters for coats that are inside or outside as they lie, and for the sentence; see `roles_of` for what
    only the whole set tells.
    """
    where = place or LayerPlace()
    by_job = _by_job_words(layer, job)
    if by_job is not None:
        return by_job
    text, what = names_of(layer)
    words = built_in_words(text, ROLE_GROUPS)
    by_category = _by_category(layer, job, words)
    if by_category is not None:
        return by_category
    stud = _stud_words(layer, text, words)
    if stud:
        if is_plausible(layer, job):
            return LayerRole.STUD, f"{what} says stud layer ({stud})"
        return _too_thin_or_thick(layer, job, what, words)
    for group, role, meaning in _WORD_ORDER:
        word = first_word(words, group)
        if word is not None:
            return role, f"{what} says {meaning} ('{word}')"
    if layer.ventilated:
        return LayerRole.AIR, "the model calls the layer ventilated"
    return LayerRole.OTHER, _nothing_said(layer, text, what, where)


def names_of(layer: ModelLayer) -> tuple[str, str]:
    """The names that are judged, and how a sentence calls them."""
    material, name = layer.material.strip(), layer.name.strip()
    if material and name and name.casefold() != material.casefold():
        return f"{material} | {name}", f"'{brief(material)}', named '{brief(name)}',"
    if material:
        return material, f"'{brief(material)}'"
    return name, f"the layer's name '{brief(name)}'"


def brief(text: str) -> str:
    """A name as a sentence may hold it: printable, one line, cut where it is long."""
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
            return LayerRole(found[0].group), f"the job file's word '{found[0].word}' is in '{brief(text)}'"
    return None


def _by_category(layer: ModelLayer, job: Job, words: Sequence[WordFound]) -> Judgement | None:
    """Role by the material's category, where that is decisive. Wood and steel are not: they may be solid."""
    category = layer.category.strip()
    found = built_in_words(category, ROLE_GROUPS) if category else ()
    group = next((each for each in _CATEGORY_GROUPS if first_word(found, each) is not None), None)
    if group is None:
        return None
    what = f"the category '{brief(category)}'"
    if group in ("stud", "weak_stud"):
        if is_plausible(layer, job):
            return LayerRole.STUD, f"{what} says stud layer"
        return _too_thin_or_thick(layer, job, what, words)
    if group != "masonry" and first_word(words, "stud") is not None:
        return None
    role, meaning = next((role, meaning) for each, role, meaning in _WORD_ORDER if each == group)
    # A name that tells more than the category goes before it: 'exterior sheathing' in the category 'gypsum'.
    if group in ("lining", "cladding") and first_word(words, "sheathing") is not None:
        return None
    if group in ("air", "membrane") and first_word(words, "insulation") is not None:
        return None
    return role, f"{what} says {meaning}"


def first_word(words: Sequence[WordFound], group: str) -> str | None:
    """The first word of a group among those found, None where there is none."""
    return next((each.word for each in words if each.group == group), None)


def _stud_words(layer: ModelLayer, text: str, words: Sequence[WordFound]) -> str:
    """What in the names says that this is a stud layer; empty where nothing does."""
    strong = first_word(words, "stud")
    if strong is not None:
        return f"'{strong}'"
    groups = {each.group for each in words}
    weak = first_word(words, "weak_stud")
    if weak is not None and not groups & {"masonry", "solid"}:
        return f"'{weak}'"
    if groups & {"solid", "sheathing", "lining", "cladding", "masonry", "membrane"}:
        return ""
    if groups >= {"batten", "insulation"}:
        return f"'{first_word(words, 'batten')}' with '{first_word(words, 'insulation')}'"
    material = _material_words(text)
    insulated = first_word(words, "insulation")
    if material and insulated is not None and _joins_insulation(text):
        return f"'{material[0].word}' joined with '{insulated}'"
    return _measures_of_studs(layer, text, material, insulated is not None)


def _joins_insulation(text: str) -> bool:
    """Whether wood or steel stands apart from the insulation: in 'Holz + Mineralwolle', not in 'foil / metal wool'."""
    pieces = [
        (bool(_material_words(piece)), first_word(built_in_words(piece, ROLE_GROUPS), "insulation") is not None)
        for piece in _JOINED.split(text)
    ]
    return (True, False) in pieces and any(insulated for _, insulated in pieces)


def _measures_of_studs(layer: ModelLayer, text: str, material: Sequence[WordFound], insulated: bool) -> str:
    """A nominal size, a spacing on centre of something, or a section as deep as the layer."""
    nominal = NOMINAL_SIZE.search(text)
    if nominal is not None:
        return f"'{nominal.group()}'"
    spacing = _ON_CENTRE.search(text)
    if spacing is not None and (material or insulated):
        return f"'{spacing.group()}' is a spacing"
    if spacing is None and not material:
        return ""
    for section in _SECTION.finditer(text):
        if abs(max(int(each) for each in section.groups()) / 1000 - layer.thickness) <= DEPTH_SLACK:
            return f"'{section.group()}' is a section as deep as the layer"
    return ""


def _material_words(text: str) -> tuple[WordFound, ...]:
    """Words of wood and steel that are not part of a board's, an insulation's or a cladding's name."""
    claimed = {
        index
        for each in built_in_words(text, ROLE_GROUPS)
        if each.group not in ("stud", "weak_stud", "batten")
        for index in range(each.start, each.end)
    }
    return tuple(each for each in built_in_words(text, MATERIAL_GROUPS) if each.start not in claimed)


def is_plausible(layer: ModelLayer, job: Job) -> bool:
    """Whether a layer is as deep as studs can be, by the job file."""
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
    role = next((role for group, role, _ in _WORD_ORDER if first_word(words, group) is not None), LayerRole.OTHER)
    return role, reason


def _nothing_said(layer: ModelLayer, text: str, what: str, place: LayerPlace) -> str:
    if not text:
        return f"layer {place.number} of {place.count} has no material and no name"
    material = _material_words(text)
    if material:
        return f"{what} is '{material[0].word}', and no word says that it is framed"
    if layer.category.strip():
        return f"no word for a role is known in {what} or its category '{brief(layer.category)}'"
    return f"no word for a role is known in {what}"


def stud_material(layer: ModelLayer, set_name: str = "") -> StudMaterial:
    """Whether the studs of a layer are of wood or of steel, by its names, its category, then the set's name."""
    for text in (f"{layer.material} | {layer.name}", layer.category, set_name):
        found: tuple[WordFound, ...] = _material_words(text)
        if found:
            # Where both stand there, the one next to the word for studs: 'metal clips, wood studs' is wood.
            studs = [each.start for each in built_in_words(text, ROLE_GROUPS) if each.group in ("stud", "weak_stud")]
            nearest = min(found, key=lambda each: min((abs(each.start - start) for start in studs), default=0))
            return _as_material(nearest.group)
        if NOMINAL_SIZE.search(text):
            return "wood"
    return "unknown"


def _as_material(group: str) -> Literal["wood", "steel"]:
    return "wood" if group == "wood" else "steel"
