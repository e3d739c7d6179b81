"""Writes a job file that an estimator can correct: every key with its meaning, unit and source, and the wall types.

Keys that keep their default are written as comments, so the file says the same as the job it was made from.
"""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from takeoff.assumptions import FROM_JOB, least_clear_width, value_text
from takeoff.framing.rules import PRESETS, rule_fields
from takeoff.job_file import Job
from takeoff.job_framing import NOT_SETTABLE, Framing
from takeoff.job_values import BARE, Section, field_fact, number_text
from takeoff.units import format_area
from takeoff.wall_rules import ACTIONS, SELECTORS, WallBlock, literal_pattern

WIDTH = 110
"""Characters of a comment line."""
MOST_EXAMPLES = 5
FIRST_LINES = """\
# Job file: every assumption of the takeoff, with its unit and where its default is from.
#
# A key behind a # keeps its default; take the # away and change the value to set it. Lengths and the like are text with
# a unit in quotes: "400 mm", "16 in", "5'-6\\"", "8 ft 6 in", "92-5/8 in". The blocks [[wall]] at the end hold the wall
# types of the model. Insulation, structure and fire safety of a building follow the local code and licensed practice;
# this file does not replace them."""
WALL_LINES = """\
# ---------------------------------------------------------------- walls
#
# One block for each wall type of the model. The first keys select walls: type, name and layer_set are patterns (* any
# text, ? any character, [*] a star; capitals do not matter), global_id is one GlobalId or a list. All keys of a block
# that select must fit. All blocks that fit a wall are merged in the order of this file: for each key the last one
# holds, so put exceptions for single walls below. A block that sets nothing changes nothing."""
ACTION_EXAMPLES: Mapping[str, str] = {
    "insulate": "true",
    "external": "true",
    "leave_out": '"by others"',
    "stud_layer": "2",
    "stud_depth": '"140 mm"',
    "stud_offset": '"12.5 mm"',
    "framing": '"wood-16in"',
    "fill_side": '"inside"',
    "read_frame": "false",
}
"""What each key of a `[[wall]]` block may look like."""
ACTION_MEANINGS: Mapping[str, str] = {
    "insulate": "true or false: filled or not",
    "external": "true or false: an external wall or not",
    "leave_out": "the reason why these walls are not taken off",
    "stud_layer": "number(s) of the stud layer as listed above, such as 2 or [2, 4], or a pattern of its material",
    "stud_depth": "depth of the stud layer, where the model's layers are missing or wrong",
    "stud_offset": "from the wall's face on the fill side to the fill face of the studs",
    "framing": "name of the framing rules",
    "fill_side": '"first_layer", "last_layer", "inside" or "outside"',
    "read_frame": "false: lay the frame out by the rules although the model has one",
}


_EXAMPLES: Mapping[str, tuple[str, ...]] = {
    "by_depth": ('depth_to = "4 in"', 'density = "1.8 lb/ft3"', 'resistance = "R-15"'),
    "material": ('name = "OSB*"', 'conductivity = "0.13 W/(m K)"'),
    "alternates": (
        'name = "Cellulose"',
        'fibre = "cellulose"',
        'density = "60 kg/m3"',
        'conductivity = "0.04 W/(m K)"',
    ),
}
"""What one entry of each list of sub-sections may look like."""

_KINDS: Mapping[str, str] = {
    "m": "A length",
    "m2": "An area",
    "m3": "A volume",
    "kg/m3": "A density",
    "W/(m K)": "A conductivity",
    "W/(m2 K)": "A U-value",
    "m2 K/W": "A resistance",
    "count": "A count",
    "share": "A part of one",
    "kg": "A mass",
    "minutes": "Minutes",
    "hours": "Hours",
    "factor": "A number",
}


@dataclass(frozen=True, slots=True)
class WallTypeSummary:
    """What was understood of the walls of one type that share a layer set."""

    type_name: str
    layer_set_name: str
    layers: tuple[str, ...]
    """One line a layer, in the model's order, without its number."""
    stud_layer: str
    """Which layer is the stud layer, as a person would say it; 'none' where there is none."""
    reason: str
    """Why it is."""
    framing: str
    """Whether the frame is in the model or laid out, and by which rules."""
    count: int
    """Walls."""
    area: float
    """m2, gross elevation of all."""
    insulated: str
    """Whether they are filled, and why."""
    examples: tuple[str, ...] = ()
    """GlobalIds of some of them, or of all."""


def commented_job(job: Job, wall_types: Sequence[WallTypeSummary] = ()) -> str:
    """A complete job file as TOML text: it reads back as the same job.

    Values that the job sets are written as keys, all others as comments; each wall type gets a block with what was
    understood, ready for corrections.
    """
    blocks = [FIRST_LINES]
    for name in Job.model_fields:
        if name == "framing":
            blocks.extend(_framing(job.framing))
        elif name != "wall":
            blocks.extend(_section(job, getattr(job, name), name))
    blocks.append(WALL_LINES)
    blocks.extend(_stated_block(block) for block in job.wall)
    blocks.extend(_type_block(each, wall_types) for each in wall_types)
    return "\n\n".join(blocks) + "\n"


def stated_job(job: Job) -> str:
    """What the job file sets, as TOML text without comments: it reads back as the same job."""
    lines = commented_job(job).splitlines()
    return "".join(f"{line}\n" for line in lines if line and not line.startswith("#"))


# ---------------------------------------------------------------- plain sections


def _section(job: Job, section: Section, path: str) -> Iterator[str]:
    lines = [f"[{path}]"]
    inner: list[tuple[str, Section]] = []
    steps: list[str] = []
    for name, info in type(section).model_fields.items():
        value = getattr(section, name)
        if isinstance(value, Section):
            inner.append((name, value))
        elif name in _EXAMPLES:
            steps.extend(_listed(value, info.description or "", f"{path}.{name}", _EXAMPLES[name]))
        else:
            lines.extend(_key_lines(job, section, path, name))
    yield "\n".join(lines)
    yield from steps
    for name, each in inner:
        yield from _section(job, each, f"{path}.{name}")


def _key_lines(job: Job, section: Section, path: str, name: str) -> list[str]:
    kind = type(section)
    unit, source = (str(field_fact(kind, name, fact)) for fact in ("unit", "source"))
    meaning = kind.model_fields[name].description or ""
    limits = field_fact(kind, name, "limits")
    allowed = f" From {limits[0]} to {limits[1]}." if limits else ""
    about = f"{meaning} {_kind(unit)}{allowed} Source: {source}."
    default = field_fact(kind, name, "written")
    value = getattr(section, name)
    if name in section.model_fields_set and value is not None:
        return [*_comment(f"{about} Default: {toml(default) if default is not None else 'not set'}."),
                f"{name} = {_value(value, unit)}"]  # fmt: skip
    if default is None and (example := field_fact(kind, name, "example")):
        return [*_comment(f"{about} Not set by default; such as"), f"# {name} = {toml(example)}"]
    if default is None:
        # Only what the hole needs follows from other keys; it is shown as it is now.
        default = number_text(least_clear_width(job), unit, exact=False)
    return [*_comment(about), f"# {name} = {toml(default)}"]


def _kind(unit: str) -> str:
    """What is to be written for a value of this unit, as a sentence."""
    if unit in ("true | false", "yes | no"):
        return "true or false."
    if "|" in unit:
        return f"One of {unit}."
    if unit in _KINDS:
        return f"{_KINDS[unit]}."
    first, _, rest = unit.partition(" ")
    return f"{_KINDS[first]} {rest}." if first in _KINDS else ""


def _listed(rows: Sequence[BaseModel], meaning: str, path: str, example: Sequence[str]) -> Iterator[str]:
    """A list of sub-sections, or an example of one where the job has none."""
    if not rows:
        yield "\n".join((*_comment(f"{meaning} Example:"), *(f"# {line}" for line in (f"[[{path}]]", *example))))
    for row in rows:
        kind = type(row)
        pairs = [(name, getattr(row, name), str(field_fact(kind, name, "unit"))) for name in kind.model_fields]
        lines = [f"{name} = {_value(value, unit)}" for name, value, unit in pairs if value is not None]
        yield "\n".join((f"[[{path}]]", *lines))


def _comment(text: str, indent: str = "") -> list[str]:
    lines = textwrap.wrap(_one_line(text), WIDTH, break_long_words=False, break_on_hyphens=False) or [""]
    return [f"# {indent}{line}" for line in lines]


# ---------------------------------------------------------------- framing


def _framing(section: Framing) -> Iterator[str]:
    lines = ["[framing]"]
    for name in ("wood", "steel", "unknown"):
        source = field_fact(Framing, name, "source")
        lines.extend(_comment(f"{Framing.model_fields[name].description} Source: {source}."))
        mark = "" if name in section.model_fields_set else "# "
        lines.append(f"{mark}{name} = {toml(getattr(section, name))}")
    lines.extend(_comment(f"Presets: {', '.join(PRESETS)}."))
    yield "\n".join(lines)
    yield "\n".join(_changed_in_all(section))
    for name, table in section.rules.items():
        rows = [f"[framing.rules.{toml(name)}]", *(f"{key} = {toml(value)}" for key, value in table.items())]
        yield "\n".join(rows)
    example = ('[framing.rules."my walls"]', 'base = "wood-16in"', 'spacing = "19.2 in"')
    yield "\n".join(
        (*_comment("A rule set of your own: a base, and what differs from it."), *(f"# {x}" for x in example))
    )


def _changed_in_all(section: Framing) -> Iterator[str]:
    yield from _comment("Rules changed in every preset. The defaults shown are those of wood-16in.")
    yield "[framing.values]"
    for rule in rule_fields():
        if rule.name in NOT_SETTABLE:
            continue
        unit, source = str(rule.metadata["unit"]), str(rule.metadata["source"])
        yield from _comment(f"{_kind(unit)} Source: {source}.".lstrip())
        if rule.name in section.values:
            yield f"{rule.name} = {toml(section.values[rule.name])}"
        else:
            yield f"# {rule.name} = {_rule_default(rule.default, unit)}"


def _rule_default(value: Any, unit: str) -> str:
    if isinstance(value, float):
        return toml(value_text(value, unit))
    return toml(value)


# ---------------------------------------------------------------- walls


def _stated_block(block: WallBlock) -> str:
    units = {"stud_depth": "m", "stud_offset": "m"}
    lines = [f"# {FROM_JOB.capitalize()}:", "[[wall]]"]
    for name in (*SELECTORS, *ACTIONS):
        value = getattr(block, name)
        if value is not None:
            lines.append(f"{name} = {_value(value, units.get(name, ''))}")
    return "\n".join(lines)


def _type_block(summary: WallTypeSummary, all_types: Sequence[WallTypeSummary]) -> str:
    lines = [*_about(summary), "[[wall]]", *_selectors(summary, all_types)]
    for name in ACTIONS:
        lines.append(f"# {name} = {ACTION_EXAMPLES[name]}  # {ACTION_MEANINGS[name]}")
    return "\n".join(lines)


def _about(summary: WallTypeSummary) -> Iterator[str]:
    walls = "1 wall" if summary.count == 1 else f"{summary.count} walls"
    yield from _comment(
        f"{summary.type_name or 'walls without a type'}: {walls}, {format_area(summary.area, 'metric')}"
    )
    if summary.layer_set_name:
        yield from _comment(f"layer set: {summary.layer_set_name}")
    yield from _comment("layers as the model lists them:" if summary.layers else "the model has no layers")
    for number, line in enumerate(summary.layers, start=1):
        yield from _comment(f"{number}. {line}", "  ")
    yield from _comment(
        f"stud layer: {summary.stud_layer or 'none'}" + (f" ({summary.reason})" if summary.reason else "")
    )
    for label, text in (("framing", summary.framing), ("filled", summary.insulated)):
        if text:
            yield from _comment(f"{label}: {text}")
    if summary.examples:
        shown = ", ".join(summary.examples[:MOST_EXAMPLES])
        yield from _comment(f"such as {shown}")


def _selectors(summary: WallTypeSummary, all_types: Sequence[WallTypeSummary]) -> Iterator[str]:
    """The type's name; the layer set's where types share a name; GlobalIds where both do and all are known."""
    same_type = Counter(each.type_name.casefold() for each in all_types)[summary.type_name.casefold()]
    yield f"type = {toml(literal_pattern(summary.type_name))}"
    if same_type < 2 and summary.type_name:
        return
    yield f"layer_set = {toml(literal_pattern(summary.layer_set_name))}"
    both = (summary.type_name.casefold(), summary.layer_set_name.casefold())
    if Counter((each.type_name.casefold(), each.layer_set_name.casefold()) for each in all_types)[both] < 2:
        return
    if summary.examples and len(summary.examples) >= summary.count:
        yield f"global_id = {toml(summary.examples)}"
    else:
        yield from _comment("Other walls have these names too, with other layers: add global_id to tell them apart.")


# ---------------------------------------------------------------- TOML


def _value(value: Any, unit: str) -> str:
    """A value of the job as TOML: SI numbers as text that reads back as the very same number."""
    if not isinstance(value, float):
        return toml(value)
    text = number_text(value, unit)
    return text if unit in BARE else toml(text)


def toml(value: Any) -> str:
    """A word, truth, number or list as TOML writes it.

    >>> toml('5\\'-6"')
    '"5\\'-6\\\\""'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, tuple | list):
        return f"[{', '.join(toml(each) for each in value)}]"
    return f'"{"".join(_escaped(char) for char in str(value))}"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return f"\\{char}"
    if char.isprintable():
        return char
    code = ord(char)
    # Half a surrogate pair is no character: no text file can hold it, so a mark stands in its place.
    if 0xD800 <= code <= 0xDFFF:
        return "?"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def _one_line(text: str) -> str:
    """Text that a comment can hold: what is not printable, line ends included, becomes a space."""
    return "".join(char if char.isprintable() else " " for char in text)
