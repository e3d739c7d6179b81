"""Framing rules of a job file: presets, values changed for all of them, and rule sets of the job's own."""

from __future__ import annotations

import difflib
import functools
import math
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, StrictBool, StrictInt, StrictStr, model_validator

from takeoff.framing.rules import CHOICES, PRESETS, FramingRules, RuleError, rule_fields, with_changes
from takeoff.job_values import PRACTICE, Same, Section, value_of
from takeoff.units import UnitError, parse_length

RuleValue = StrictBool | StrictInt | StrictStr | tuple[StrictStr, ...]
"""As written in the job file: text with unit, true or false, a count, a word or a list of texts with unit."""
NOT_SETTABLE = ("name", "material")
"""Rules that come from the base: the key of the table is the name, and a stud keeps its material."""
NO_LIMIT = "none"
"""Written for a length without end, such as no rows of blocking at any height."""
MOST_RULE_SETS = 200
LEAST_LIKENESS = 0.6
"""Share of letters that two words have in common, in order, to be taken for a slip."""


class KeyFaults(ValueError):
    """Faults found inside a section, each with the path of its key. `faults` are pairs of (path, sentence)."""

    def __init__(self, faults: Iterable[tuple[tuple[str | int, ...], str]]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(sentence for _, sentence in self.faults))


def meant(word: str, known: Iterable[str]) -> str:
    """'did you mean ...' for a misspelt word, else a list of what is known."""
    words = list(known)
    near = max(words, key=lambda each: _likeness(word, each), default="")
    if near and _likeness(word, near) >= LEAST_LIKENESS:
        return f"did you mean '{near}'?"
    return f"known are {', '.join(words)}"


def _likeness(word: str, known: str) -> float:
    """0 to 1: how alike two keys are, or a key and one of the words of another."""
    word, known = (each.lower().replace("-", "_") for each in (word, known))
    return max(difflib.SequenceMatcher(None, word, each).ratio() for each in (known, *known.split("_")))


def _plain_mapping(value: Any) -> Any:
    """A TOML table with its lists as tuples, so that a job cannot be changed by the list it came from."""
    if not isinstance(value, dict):
        return value
    return {key: tuple(each) if isinstance(each, list) else each for key, each in value.items()}


RuleTable = Annotated[Mapping[str, RuleValue], BeforeValidator(_plain_mapping)]


class Framing(Section):
    """Rule sets for walls whose frame is not in the model."""

    wood: StrictStr = value_of(
        "wood-16in", "rule set", "Rules for a stud layer of wood.", PRACTICE + ": 16 in is the usual spacing"
    )
    steel: StrictStr = value_of(
        "steel-16in", "rule set", "Rules for a stud layer of steel.", PRACTICE + ": 16 in is the usual spacing"
    )
    unknown: StrictStr = value_of(
        "wood-16in", "rule set", "Rules for a stud layer whose material the model does not tell.", PRACTICE
    )
    values: RuleTable = Field(default_factory=dict, description="Rules changed in every preset.")
    rules: Annotated[Mapping[str, RuleTable], Field(max_length=MOST_RULE_SETS)] = Field(
        default_factory=dict, description="Rule sets of this job: a base and what differs from it."
    )

    @property
    def rule_sets(self) -> Mapping[str, FramingRules]:
        """Presets with `values` applied, then the job's own rule sets, by name."""
        return _sound_rule_sets(Same(self))

    @model_validator(mode="after")
    def _all_can_be_framed(self) -> Framing:
        made, faults = _rule_sets(self)
        for key in ("wood", "steel", "unknown"):
            name = getattr(self, key)
            if name not in made and not any(fault[0][:2] == ("rules", name) for fault in faults):
                faults.append(((key,), f"no framing rules are named {name!r}; {meant(name, made)}"))
        if faults:
            raise KeyFaults((("framing", *path), sentence) for path, sentence in faults)
        return self


@functools.lru_cache(maxsize=16)
def _sound_rule_sets(section: Same) -> Mapping[str, FramingRules]:
    made, faults = _rule_sets(section.record)
    if faults:
        raise KeyFaults(faults)
    return MappingProxyType(made)


Fault = tuple[tuple[str | int, ...], str]


def _rule_sets(section: Framing) -> tuple[dict[str, FramingRules], list[Fault]]:
    changes, faults = _read_rules(section.values, ("values",))
    made: dict[str, FramingRules] = {}
    for name, rules in PRESETS.items():
        try:
            made[name] = with_changes(rules, **changes)
        except RuleError as error:
            faults.append((("values",), f"{error} (in {name})"))
            made[name] = rules
    for name, table in section.rules.items():
        rules, found = _own_rules(name, table, made)
        faults.extend(found)
        if rules is not None:
            made[name] = rules
    return made, faults


def _own_rules(
    name: str, table: Mapping[str, RuleValue], made: Mapping[str, FramingRules]
) -> tuple[FramingRules | None, list[Fault]]:
    path = ("rules", name)
    base = table.get("base", name if name in PRESETS else None)
    if base is None:
        return None, [(path, f'has no base; add base = "wood-16in" or another of {", ".join(made)}')]
    if not isinstance(base, str) or base not in made:
        return None, [((*path, "base"), f"no framing rules are named {base!r} above here; {meant(str(base), made)}")]
    changes, faults = _read_rules({key: value for key, value in table.items() if key != "base"}, path)
    if faults:
        return None, faults
    try:
        return with_changes(made[base], name=name, **changes), []
    except RuleError as error:
        return None, [(path, str(error))]


def _read_rules(table: Mapping[str, RuleValue], path: tuple[str, ...]) -> tuple[dict[str, Any], list[Fault]]:
    units = {rule.name: str(rule.metadata["unit"]) for rule in rule_fields() if rule.name not in NOT_SETTABLE}
    defaults = {rule.name: rule.default for rule in rule_fields()}
    changes: dict[str, Any] = {}
    faults: list[Fault] = []
    for key, value in table.items():
        if key not in units:
            faults.append(((*path, key), f"is no framing rule; {meant(key, units)}"))
            continue
        try:
            changes[key] = _rule_value(key, value, defaults[key])
        except UnitError as error:
            faults.append(((*path, key), str(error)))
        except RuleError as error:
            faults.append(((*path, key), str(error)))
    return changes, faults


def _rule_value(key: str, value: RuleValue, default: Any) -> Any:
    """The value of one rule in SI, read as its default's type asks."""
    if key in CHOICES:
        if value not in CHOICES[key]:
            raise RuleError(f"is {value!r}; write one of {', '.join(CHOICES[key])}")
        return value
    if isinstance(default, bool):
        if not isinstance(value, bool):
            raise RuleError(f"is {value!r}; write true or false")
        return value
    if isinstance(default, int):
        if not isinstance(value, int) or isinstance(value, bool):
            raise RuleError(f"is {value!r}; write a count without quotes")
        return value
    if isinstance(default, tuple):
        if not isinstance(value, tuple):
            raise RuleError('is no list; write lengths such as ["4 ft", "8 ft"]')
        return tuple(parse_length(each) for each in value)
    if value == NO_LIMIT:
        return math.inf
    return parse_length(value)  # type: ignore[arg-type]  # refuses what is not text, in a sentence of its own
