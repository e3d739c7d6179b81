"""Faults of a job file in words: the path of the key, what is wrong with it, and what mends it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from takeoff.job_framing import KeyFaults, meant


def sentences(error: ValidationError, root: type[BaseModel]) -> list[str]:
    """All faults of a file, one sentence each; `root` is the record that was read."""
    return [sentence for each in error.errors() for sentence in _sentences_of(each, root)]


def _sentences_of(fault: ErrorDetails, root: type[BaseModel]) -> list[str]:
    """Sentences for one fault that the check of the file found: key path, what is wrong, what mends it."""
    path = fault["loc"]
    cause = fault.get("ctx", {}).get("error")
    if isinstance(cause, KeyFaults):
        return [f"{key_text(where)}: {sentence.removesuffix('.')}" for where, sentence in cause.faults]
    return [f"{key_text(path)}: {_mend(fault, cause, root)}"]


def _mend(fault: ErrorDetails, cause: object, root: type[BaseModel]) -> str:
    kind, given = fault["type"], fault["input"]
    if isinstance(cause, Exception):
        return str(cause).removesuffix(".")
    if kind == "extra_forbidden":
        return _unknown_key(fault["loc"], root)
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


def _unknown_key(path: tuple[str | int, ...], root: type[BaseModel]) -> str:
    section = _section_at(path[:-1], root)
    key = str(path[-1])
    elsewhere = [name for name, keys in _keys_of_sections(root) if key in keys]
    if elsewhere:
        return f"is no key here; it belongs to {' or '.join(f'[{name}]' for name in elsewhere)}"
    return f"is no key of a job file; {meant(key, section.model_fields)}"


def _section_at(path: tuple[str | int, ...], section: type[BaseModel]) -> type[BaseModel]:
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


def _keys_of_sections(section: type[BaseModel], path: str = "") -> Iterator[tuple[str, set[str]]]:
    for name, found in section.model_fields.items():
        inner = _model_of(found.annotation)
        if inner is not None and name not in ("wall", "by_depth", "material"):
            yield f"{path}{name}", set(inner.model_fields)
            yield from _keys_of_sections(inner, f"{path}{name}.")
