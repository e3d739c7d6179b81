"""Every value that a takeoff rests on, with its unit, its source and who set it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel

from takeoff.framing.rules import PRESET_SOURCES, PRESETS, FramingRules, rule_fields
from takeoff.job_file import Job
from takeoff.job_framing import NO_LIMIT, Framing
from takeoff.job_values import field_fact, number_text
from takeoff.units import written
from takeoff.wall_rules import ACTIONS, block_title

FROM_JOB = "stated in the job file"


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


def least_clear_width(job: Job) -> float:
    """m; a cavity of less clear width is filled by hand."""
    if job.batt.clear_width_below is not None:
        return job.batt.clear_width_below
    return job.hose.outside_diameter + 2.0 * job.hose.hole_margin


def least_cavity_depth(job: Job) -> float:
    """m; a cavity of less depth is filled by hand."""
    return job.batt.depth_below


def assumptions(job: Job) -> tuple[Assumption, ...]:
    """Every value of the job with its unit, its source and who set it, in the order of the job file."""
    derived = {"batt.clear_width_below": least_clear_width(job)}
    rows: list[Assumption] = []
    for name in Job.model_fields:
        if name not in ("framing", "wall"):
            rows.extend(_section_rows(getattr(job, name), name))
        elif name == "framing":
            rows.extend(_framing_rows(job))
    rows.extend(_wall_rows(job))
    return tuple(
        row
        if row.value is not None or row.key not in derived
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
    for name in type(step).model_fields:
        value, unit = getattr(step, name), str(field_fact(type(step), name, "unit"))
        if value is not None:
            text = written(value, unit, exact=False) if unit else str(value)
            yield Assumption(f"{path}.{name}", value, unit, text, FROM_JOB, "job file")


def _row(key: str, value: Any, section: type[BaseModel], name: str, is_set: bool) -> Assumption:
    unit = field_fact(section, name, "unit")
    source = field_fact(section, name, "source")
    if is_set:
        default = field_fact(section, name, "written")
        source = f"{FROM_JOB} (default {value_text(default, unit) or 'not set'})"
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
        # A framing rule may say what its length is counted from: 'm along the wall'.
        plain_unit = "m" if unit.startswith("m ") else unit
        return NO_LIMIT if math.isinf(value) else number_text(value, plain_unit, exact=False)
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
