"""What a job file says about single walls: blocks that select walls and say how they are to be understood."""

from __future__ import annotations

import fnmatch
import functools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, StrictBool, StrictStr, field_validator, model_validator

from takeoff.job_values import LONGEST_WORD, Length, Same, Section, SignedLength

FillSide = Literal["first_layer", "last_layer", "inside", "outside"]
SELECTORS = ("type", "name", "global_id", "layer_set")


def _layer_numbers(value: Any) -> Any:
    """A layer number or a list of them as a tuple; a pattern of a material's name stays text."""
    if isinstance(value, bool):
        raise ValueError("is neither a layer number nor a pattern of a material's name")
    if isinstance(value, int):
        value = (value,)
    if isinstance(value, list | tuple):
        numbers = tuple(value)
        if not numbers or not all(
            isinstance(each, int) and not isinstance(each, bool) and each >= 1 for each in numbers
        ):
            raise ValueError(
                "is no list of layer numbers; write such as 3 or [2, 5], counted from 1 as the model lists"
            )
        return numbers
    if not isinstance(value, str) or not value.strip():
        raise ValueError('is neither a layer number nor a pattern; write such as 3, [2, 5] or "*stud*"')
    return value


def _ids(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


class WallBlock(Section):
    """One `[[wall]]` block: which walls, and what holds for them."""

    type: StrictStr | None = Field(None, description="Pattern of the wall type's name, such as 'Exterior*'.")
    name: StrictStr | None = Field(None, description="Pattern of the wall's name.")
    global_id: Annotated[tuple[StrictStr, ...], BeforeValidator(_ids)] | None = Field(
        None, description="GlobalId of the wall, or a list of them."
    )
    layer_set: StrictStr | None = Field(None, description="Pattern of the layer set's name.")

    insulate: StrictBool | None = Field(None, description="Filled or not.")
    external: StrictBool | None = Field(None, description="An external wall or not.")
    leave_out: Annotated[StrictStr, Field(min_length=1, max_length=LONGEST_WORD)] | None = Field(
        None, description="The reason why these walls are not taken off."
    )
    stud_layer: Annotated[str | tuple[int, ...], BeforeValidator(_layer_numbers)] | None = Field(
        None,
        description="Stud layer: number(s) counted from 1 as the model lists the layers, or pattern of the material.",
    )
    stud_depth: Length | None = Field(
        None, description="Depth of the stud layer, where the model's layers are missing or wrong."
    )
    stud_offset: SignedLength | None = Field(
        None, description="From the wall's face on the fill side to the fill face of the studs."
    )
    framing: StrictStr | None = Field(None, description="Name of the framing rules.")
    fill_side: FillSide | None = Field(None, description="The side that is filled from.")
    read_frame: StrictBool | None = Field(None, description="false: the frame in the model is not used.")

    @field_validator("stud_depth", mode="after")
    @classmethod
    def _depth(cls, depth: float | None) -> float | None:
        if depth is not None and not 0.005 <= depth <= 2.0:
            raise ValueError(f"is {depth:g} m; write a depth from 5 mm to 2 m")
        return depth

    @field_validator("stud_offset", mode="after")
    @classmethod
    def _offset(cls, offset: float | None) -> float | None:
        if offset is not None and abs(offset) > 2.0:
            raise ValueError(f"is {offset:g} m; write a distance of at most 2 m")
        return offset

    @model_validator(mode="after")
    def _selects(self) -> WallBlock:
        if all(getattr(self, key) is None for key in SELECTORS):
            raise ValueError(f"selects no wall; add one of {', '.join(SELECTORS)}")
        return self


ACTIONS = tuple(name for name in WallBlock.model_fields if name not in SELECTORS)


@dataclass(frozen=True, slots=True)
class WallRule:
    """What the job file says about one wall, all matching blocks merged. None, or an empty text, where it is silent."""

    insulate: bool | None = None
    external: bool | None = None
    leave_out: str = ""
    """Reason why the wall is not taken off."""
    stud_layer: str | tuple[int, ...] | None = None
    """Pattern of a material's name, or layer numbers counted from 1 in the model's own order."""
    stud_depth: float | None = None
    """m"""
    stud_offset: float | None = None
    """m from the wall's face on the fill side to the fill face of the studs."""
    framing: str = ""
    """Name of the framing rules."""
    fill_side: FillSide | None = None
    read_frame: bool | None = None
    applied: tuple[str, ...] = ()
    """The blocks that matched, as a person would name them, in the order of the file."""
    holds: tuple[str, ...] = ()
    """The same blocks with what holds of each for this wall, such as "type 'A*': framing wood-16in, insulate true"."""


NO_RULE = WallRule()


Fits = Callable[[str], object]
"""Tells whether a casefolded text fits a pattern."""


@functools.lru_cache(maxsize=1024)
def _fits(pattern: str) -> Fits:
    folded = pattern.casefold()
    if not any(char in folded for char in "*?["):
        return folded.__eq__
    return re.compile(fnmatch.translate(folded)).match


def matches(pattern: str, text: str) -> bool:
    """Whether a text fits a pattern with `*`, `?` and `[...]`, capitals and small letters alike."""
    return bool(_fits(pattern)(text.casefold()))


def literal_pattern(text: str) -> str:
    """A pattern that fits this text and no other (but for capitals); what no file can hold fits any character."""
    escaped = re.sub(r"([*?[])", r"[\1]", text)
    return "".join("?" if "\ud800" <= char <= "\udfff" else char for char in escaped)


@dataclass(frozen=True, slots=True)
class _Selector:
    """A block ready to be asked about thousands of walls."""

    block: WallBlock
    ids: frozenset[str] | None
    tests: tuple[tuple[int, Fits], ...]
    """Place among the names (type, name, layer set) and what must fit there."""

    def selects(self, global_id: str, names: tuple[str, str, str]) -> bool:
        if self.ids is not None and global_id not in self.ids:
            return False
        return all(fits(names[place]) for place, fits in self.tests)


@functools.lru_cache(maxsize=16)
def _selectors(blocks: Same) -> tuple[_Selector, ...]:
    return tuple(
        _Selector(
            block,
            None if block.global_id is None else frozenset(block.global_id),
            tuple(
                (place, _fits(pattern))
                for place, pattern in enumerate((block.type, block.name, block.layer_set))
                if pattern is not None
            ),
        )
        for block in blocks.record
    )


def merged(blocks: Sequence[WallBlock], *, global_id: str, name: str, type_name: str, layer_set_name: str) -> WallRule:
    """All blocks that select the wall, merged in the order of the file: for each key the last one holds."""
    names = (type_name.casefold(), name.casefold(), layer_set_name.casefold())
    chosen = [each.block for each in _selectors(Same(blocks)) if each.selects(global_id, names)]
    if not chosen:
        return NO_RULE
    stated: dict[str, Any] = {}
    source: dict[str, int] = {}
    for number, block in enumerate(chosen):
        for key in ACTIONS:
            if (value := getattr(block, key)) is not None:
                stated[key], source[key] = value, number
    titles = tuple(block_title(block) for block in chosen)
    told = [[f"{key} {_shown(value)}" for key, value in stated.items() if source[key] == n] for n in range(len(chosen))]
    holds = tuple(
        f"{title}: {', '.join(keys) or 'nothing that holds'}" for title, keys in zip(titles, told, strict=True)
    )
    return WallRule(applied=titles, holds=holds, **stated)


def _shown(value: bool | float | str | tuple[int, ...]) -> str:
    """A value of a block on one line; lengths in m."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return " and ".join(str(number) for number in value)
    return value if isinstance(value, str) else f"{value:.4g} m"


def idle_blocks(blocks: Sequence[WallBlock], rules: Sequence[WallRule]) -> list[str]:
    """Titles of the blocks that no wall's rule came from, in the order of the file: mostly a misspelt name."""
    used = {title for rule in rules for title in rule.applied}
    return [title for title in dict.fromkeys(map(block_title, blocks)) if title not in used]


def block_title(block: WallBlock) -> str:
    """The selectors of a block in one line: type 'Exterior*', layer set '...'."""
    words = []
    for key in SELECTORS:
        value = getattr(block, key)
        if value is not None:
            shown = ", ".join(value) if isinstance(value, tuple) else value
            words.append(f"{key.replace('_', ' ')} '{shown}'")
    return ", ".join(words)
