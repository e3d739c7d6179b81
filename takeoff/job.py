"""The job file: every assumption of a takeoff, with its unit, its default and where the default is from.

`load_job` reads a TOML file, `default_job` is what holds without one, `assumptions` lists every number in use.
A value that the file does not set keeps its default.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from geometry.tolerances import Tolerances
from takeoff.errors import TakeoffError
from takeoff.framing.rules import PRESET_SOURCES, PRESETS, FramingRules, rule_fields
from takeoff.job_framing import NO_LIMIT, Framing, KeyFaults, meant
from takeoff.job_sections import (
    Batt,
    Fibre,
    Hose,
    HoseReach,
    Insulate,
    Layers,
    Report,
    Section,
    ToleranceSection,
    field_fact,
)
from takeoff.units import written
from takeoff.wall_rules import ACTIONS, WallBlock, WallRule, block_title, merged

LARGEST_FILE = 4_000_000
"""Bytes; a job file for a thousand wall types stays well below."""
MOST_WALL_BLOCKS = 20_000
MOST_FAULTS_SHOWN = 20
FROM_JOB = "stated in the job file"
StudMaterial = Literal["wood", "steel", "unknown"]


class JobError(TakeoffError, ValueError):
    """A job file that cannot be used. `path` is the file, `faults` one sentence each, naming key and mend."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(path, tuple(faults))
        self.path = path
        self.faults = tuple(faults)

    def __str__(self) -> str:
        shown = self.faults[:MOST_FAULTS_SHOWN]
        rest = len(self.faults) - len(shown)
        more = f"; and {rest} more" if rest else ""
        return f"job file {self.path}: {'; '.join(shown)}{more}"


class Job(Section):
    """Everything that a takeoff assumes."""

    report: Report = Report()
    insulate: Insulate = Insulate()
    framing: Framing = Framing()
    layers: Layers = Layers()
    hose: Hose = Hose()
    fibre: Fibre = Fibre()
    batt: Batt = Batt()
    tolerances: ToleranceSection = ToleranceSection()
    wall: Annotated[tuple[WallBlock, ...], Field(max_length=MOST_WALL_BLOCKS)] = ()
    """Blocks that say something; one that only selects walls says nothing and is dropped."""

    @model_validator(mode="after")
    def _framing_of_walls(self) -> Job:
        known = self.framing.rule_sets
        faults = [
            (
                ("wall", number, "framing"),
                f"no framing rules are named {block.framing!r}; {meant(block.framing, known)}",
            )
            for number, block in enumerate(self.wall)
            if block.framing is not None and block.framing not in known
        ]
        if faults:
            raise KeyFaults(faults)
        return self


@dataclass(frozen=True, slots=True)
class Assumption:
    """One value that the takeoff rests on."""

    key: str
    """Path in the job file, such as 'hose.outside_diameter'."""
    value: float | int | bool | str | None
    """SI; text for choices and lists, None where nothing is set."""
    unit: str
    text: str
    """The value as a person would write it in the job file."""
    source: str
    set_by: str
    """'default' or 'job file'."""


# ---------------------------------------------------------------- reading


@functools.cache
def default_job() -> Job:
    """The job that holds where no file says otherwise."""
    return Job()


def load_job(path: str | Path) -> Job:
    """Reads a job file.

    Raises:
        JobError: the file cannot be read, is no TOML, or holds keys or values that are not understood; all faults of
            a file are named at once.
    """
    return read_job(_text_of(Path(path)), str(path))


def read_job(text: str, name: str = "job file") -> Job:
    """The job in a TOML text; `name` is what errors call the file. Raises JobError as `load_job` does."""
    try:
        table = tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a whole number of thousands of digits
        raise JobError(name, [f"is no valid TOML: {error}; mend that line"]) from error
    except RecursionError as error:
        raise JobError(name, ["is nested too deeply; a job file needs two levels"]) from error
    try:
        job = Job.model_validate(table)
    except ValidationError as error:
        raise JobError(name, _sentences(error)) from error
    speaking = tuple(block for block in job.wall if any(getattr(block, key) is not None for key in ACTIONS))
    return job if len(speaking) == len(job.wall) else job.model_copy(update={"wall": speaking})


def _text_of(path: Path) -> str:
    try:
        if not path.is_file():
            raise JobError(str(path), ["is no file; give the path of a TOML file"])
        if path.stat().st_size > LARGEST_FILE:
            raise JobError(str(path), [f"is larger than {LARGEST_FILE // 1_000_000} MB; it cannot be a job file"])
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise JobError(str(path), [f"cannot be read ({reason}); give the path of a TOML file"]) from error
    try:
        # A mark at the start of the file, as some editors write it, is no part of the text.
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobError(str(path), [f"is not UTF-8 text (line {line}); save it as UTF-8"]) from error


def _sentences(error: ValidationError) -> list[str]:
    return [sentence for each in error.errors() for sentence in _sentences_of(each)]


def _sentences_of(fault: ErrorDetails) -> list[str]:
    """Sentences for one fault that the check of the file found: key path, what is wrong, what mends it."""
    path = fault["loc"]
    cause = fault.get("ctx", {}).get("error")
    if isinstance(cause, KeyFaults):
        return [f"{key_text(where)}: {sentence.removesuffix('.')}" for where, sentence in cause.faults]
    return [f"{key_text(path)}: {_mend(fault, path, cause)}"]


def _mend(fault: ErrorDetails, path: tuple[str | int, ...], cause: object) -> str:
    kind, given = fault["type"], fault["input"]
    if isinstance(cause, Exception):
        return str(cause).removesuffix(".")
    if kind == "extra_forbidden":
        return _unknown_key(path)
    if kind == "literal_error":
        return f"is {given!r}; write one of {fault.get('ctx', {}).get('expected', '')}"
    if kind in ("bool_type", "bool_parsing"):
        return f"is {_short(given)}; write true or false, without quotes"
    if kind in ("model_type", "model_attributes_type", "dict_type", "mapping_type"):
        return "is no table; write its keys below a line with the section's name in brackets"
    if kind in ("tuple_type", "list_type"):
        return f"is {_short(given)}; write a list in brackets"
    if kind == "string_type":
        return f"is {_short(given)}; write text in quotes"
    if kind == "missing":
        return "is missing; add it"
    return f"is {_short(given)}: {fault['msg'][0].lower()}{fault['msg'][1:]}"


def _short(value: object) -> str:
    shown = repr(value)
    return shown if len(shown) <= 60 else shown[:57] + "..."


def key_text(path: Sequence[str | int]) -> str:
    """A key's path as a person reads it: hose.outside_diameter, wall[2].type (counted from 1)."""
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f"{'.' if text else ''}{step}"
    return text or "the file"


def _unknown_key(path: tuple[str | int, ...]) -> str:
    section = _section_at(path[:-1])
    key = str(path[-1])
    elsewhere = [name for name, keys in _keys_of_sections() if key in keys]
    if elsewhere:
        return f"is no key here; it belongs to {' or '.join(f'[{name}]' for name in elsewhere)}"
    return f"is no key of a job file; {meant(key, section.model_fields)}"


def _section_at(path: tuple[str | int, ...]) -> type[BaseModel]:
    section: type[BaseModel] = Job
    for step in path:
        if isinstance(step, int):
            continue
        found = section.model_fields.get(step)
        inner = None if found is None else _model_of(found.annotation)
        if inner is None:
            break
        section = inner
    return section


def _model_of(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for each in get_args(annotation) if (found := _model_of(each)) is not None), None)


def _keys_of_sections(section: type[BaseModel] = Job, path: str = "") -> Iterator[tuple[str, set[str]]]:
    for name, found in section.model_fields.items():
        inner = _model_of(found.annotation)
        if inner is not None and name not in ("wall", "by_depth"):
            yield f"{path}{name}", set(inner.model_fields)
            yield from _keys_of_sections(inner, f"{path}{name}.")


# ---------------------------------------------------------------- what the job says


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


def hose_reach(job: Job) -> HoseReach:
    """How far the job's hose places fibre from a hole."""
    return job.hose.short if job.hose.kind == "short" else job.hose.long


def least_clear_width(job: Job) -> float:
    """m; a cavity of less clear width is filled by hand."""
    if job.batt.clear_width_below is not None:
        return job.batt.clear_width_below
    return job.hose.outside_diameter + job.hose.width_clearance


def least_cavity_depth(job: Job) -> float:
    """m; a cavity of less depth is filled by hand."""
    if job.batt.depth_below is not None:
        return job.batt.depth_below
    return job.hose.outside_diameter + job.hose.depth_clearance


def design_density(job: Job, depth: float) -> float:
    """kg/m3; design density of the fibre in a cavity of that depth (m)."""
    return next((step.density for step in job.fibre.by_depth if depth <= step.depth_to + 1e-9), job.fibre.density)


def tolerances(job: Job) -> Tolerances:
    """The tolerances of the kernel as the job has them."""
    given = job.tolerances
    return Tolerances(coincident=given.coincident, sliver_width=given.sliver_width, sliver_depth=given.sliver_depth)


# ---------------------------------------------------------------- every number in use


def assumptions(job: Job) -> tuple[Assumption, ...]:
    """Every value of the job with its unit, its source and who set it, in the order of the job file."""
    derived = {"batt.clear_width_below": least_clear_width(job), "batt.depth_below": least_cavity_depth(job)}
    rows: list[Assumption] = []
    for name in Job.model_fields:
        if name not in ("framing", "wall"):
            rows.extend(_section_rows(getattr(job, name), name))
        elif name == "framing":
            rows.extend(_framing_rows(job))
    rows.extend(_wall_rows(job))
    return tuple(
        row
        if row.value is not None
        else replace(row, value=derived[row.key], text=value_text(derived[row.key], row.unit))
        for row in rows
    )


def _section_rows(section: BaseModel, path: str) -> Iterator[Assumption]:
    for name, info in type(section).model_fields.items():
        value = getattr(section, name)
        if isinstance(value, BaseModel):
            yield from _section_rows(value, f"{path}.{name}")
        elif isinstance(value, tuple) and value and isinstance(value[0], BaseModel):
            for number, each in enumerate(value, start=1):
                yield from _step_rows(each, f"{path}.{name}[{number}]")
        elif isinstance(info.json_schema_extra, dict):
            yield _row(f"{path}.{name}", value, type(section), name, name in section.model_fields_set)


def _step_rows(step: BaseModel, path: str) -> Iterator[Assumption]:
    for name, unit in (("depth_to", "m"), ("density", "kg/m3")):
        value = getattr(step, name)
        yield Assumption(f"{path}.{name}", value, unit, written(value, unit, exact=False), FROM_JOB, "job file")


def _row(key: str, value: Any, section: type[BaseModel], name: str, is_set: bool) -> Assumption:
    unit = field_fact(section, name, "unit")
    source = field_fact(section, name, "source")
    if is_set:
        default = field_fact(section, name, "written")
        source = f"{FROM_JOB} (default {value_text(default, '') or 'not set'})"
    return Assumption(key, _plain(value), unit, value_text(value, unit), source, "job file" if is_set else "default")


def _plain(value: Any) -> float | int | bool | str | None:
    """A value as a table or a JSON file can hold it."""
    if isinstance(value, tuple | list):
        return ", ".join(str(each) for each in value)
    if isinstance(value, float) and math.isinf(value):
        return NO_LIMIT
    return value


def value_text(value: Any, unit: str) -> str:
    """A value as a person would write it in the job file, without quotes. Empty where nothing is set."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return (
            NO_LIMIT
            if math.isinf(value)
            else written(value, unit.split()[0] if unit.startswith("m ") else unit, exact=False)
        )
    if isinstance(value, tuple | list):
        return ", ".join(value_text(each, unit) for each in value)
    return str(value)


def _framing_rows(job: Job) -> Iterator[Assumption]:
    section = job.framing
    for name in ("wood", "steel", "unknown"):
        yield _row(f"framing.{name}", getattr(section, name), Framing, name, name in section.model_fields_set)
    used = {section.wood, section.steel, section.unknown, *(block.framing for block in job.wall if block.framing)}
    for name, rules in section.rule_sets.items():
        if name in used:
            yield from _rule_rows(job, name, rules)


def _rule_rows(job: Job, name: str, rules: FramingRules) -> Iterator[Assumption]:
    stated = set(job.framing.values) | set(job.framing.rules.get(name, {}))
    base = _preset_below(job, name, stated)
    for rule in rule_fields():
        if rule.name == "name":
            continue
        value = getattr(rules, rule.name)
        unit = str(rule.metadata["unit"])
        if rule.name in stated:
            source = f"{FROM_JOB} (default {value_text(getattr(PRESETS[base], rule.name), unit) or 'none'})"
        elif value == rule.default:
            source = str(rule.metadata["source"])
        else:
            source = f"{base}: {PRESET_SOURCES[base]}"
        set_by = "job file" if rule.name in stated else "default"
        yield Assumption(
            f"framing.rules.{name}.{rule.name}", _plain(value), unit, value_text(value, unit), source, set_by
        )


def _preset_below(job: Job, name: str, stated: set[str]) -> str:
    """The preset at the bottom of a rule set; adds to `stated` what the rule sets on the way set."""
    while name in job.framing.rules:
        table = job.framing.rules[name]
        stated |= set(table)
        base = str(table.get("base", name))
        if base == name:
            break
        name = base
    return name


def _wall_rows(job: Job) -> Iterator[Assumption]:
    units = {"stud_depth": "m", "stud_offset": "m"}
    for number, block in enumerate(job.wall, start=1):
        for name in ACTIONS:
            value = getattr(block, name)
            if value is not None:
                text = value_text(value, units.get(name, ""))
                source = f"{FROM_JOB} for {block_title(block)}"
                key = f"wall[{number}].{name}"
                yield Assumption(key, _plain(value), units.get(name, ""), text, source, "job file")
