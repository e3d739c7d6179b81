"""The basis of the schedule as takeoff.json holds it, and what a quote reads back from that file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

import shapely
from shapely import MultiPolygon, Polygon
from shapely.errors import GEOSException

from takeoff.errors import TakeoffError
from takeoff.job import Job, JobError, read_job
from takeoff.records import values_of
from takeoff.schedule_basis import (
    Basis,
    BasisCavity,
    BasisFinding,
    BasisHandFill,
    BasisLayer,
    BasisOpening,
    BasisPiece,
    BasisRelease,
    BasisWall,
    parted,
)

LARGEST_FILE = 2_000_000_000
"""Bytes; a takeoff of five thousand walls stays well below."""

ROW_TYPES: Mapping[str, type[Any]] = {
    "walls": BasisWall,
    "layers": BasisLayer,
    "cavities": BasisCavity,
    "hand_fills": BasisHandFill,
    "pieces": BasisPiece,
    "releases": BasisRelease,
    "openings": BasisOpening,
    "findings": BasisFinding,
}
"""The rows of a basis by the name that they have in it and in takeoff.json."""

READABLE_FORM = 1
"""First number of the newest form of takeoff.json that is understood here."""

AGAIN = "take the model off again with this version of the program"


class StoredTakeoffError(TakeoffError, ValueError):
    """A takeoff.json that cannot be quoted."""


@dataclass(frozen=True, slots=True, eq=False)
class StoredTakeoff:
    """What a quote needs of a takeoff.json."""

    basis: Basis
    job: Job
    job_text: str
    data: Mapping[str, Any]
    """The whole file, for tables that are only handed on."""


def basis_data(basis: Basis) -> dict[str, Any]:
    """The basis as JSON can hold it: for each kind of row the names of its fields once, then the rows."""
    data: dict[str, Any] = {"model": basis.model, "project": basis.project}
    for name, kind in ROW_TYPES.items():
        names = [field.name for field in fields(kind)]
        data[name] = {"fields": names, "rows": list(map(values_of(kind), getattr(basis, name)))}
    return data


def basis_from(data: Mapping[str, Any], file: str = "takeoff.json") -> Basis:
    """The basis that `basis_data` wrote. Raises StoredTakeoffError where it is of another form."""
    try:
        rows = {name: _rows(data[name], kind) for name, kind in ROW_TYPES.items()}
        basis = Basis(model=str(data["model"]), project=str(data["project"]), **rows)
        _check_texts(basis)
        return basis
    except (KeyError, TypeError, ValueError, GEOSException) as error:
        raise StoredTakeoffError(f"{file} holds no basis that this version can read: {AGAIN}") from error


def _check_texts(basis: Basis) -> None:
    """Raises ValueError or GEOSException where a text of the basis holds no numbers or no outline."""
    for layer in basis.layers:
        parted(layer.stud_places)
        if layer.netted and not isinstance(shapely.from_wkt(layer.outline_wkt), Polygon | MultiPolygon):
            raise ValueError(f"outline of stud layer {layer.layer_key}")
    for wall in basis.walls:
        parted(wall.opening_areas)


def _rows(table: Mapping[str, Any], kind: type[Any]) -> tuple[Any, ...]:
    types = {field.name: str(field.type) for field in fields(kind)}
    if table["fields"] != list(types):
        raise ValueError(f"fields {table['fields']}")
    return tuple(
        kind(*(_value(cell, name) for cell, name in zip(row, types.values(), strict=True))) for row in table["rows"]
    )


_PLAIN: Mapping[str, tuple[type, ...]] = {"str": (str,), "int": (int,), "float": (int, float), "bool": (bool,)}


def _value(value: Any, kind: str) -> Any:
    if not isinstance(value, _PLAIN[kind]) or (isinstance(value, bool) and kind != "bool"):
        raise TypeError(f"{value!r} is no {kind}")
    return float(value) if kind == "float" else value


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no number")


def stored_takeoff(text: str, file: str = "takeoff.json") -> StoredTakeoff:
    """What a quote needs of the text of a takeoff.json. Raises StoredTakeoffError."""
    try:
        data = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise StoredTakeoffError(f"{file} is no whole JSON file: {AGAIN}") from error
    if not isinstance(data, dict) or data.get("program") != "bayfill":
        raise StoredTakeoffError(f"{file} is no takeoff.json of this program; give one, or a model")
    if _is_newer(data.get("schema_version")):
        raise StoredTakeoffError(
            f"{file} has the newer form {str(data['schema_version'])[:40]}, which this version cannot read: use the "
            "version that wrote it, or take the model off again with this one"
        )
    if not isinstance(data.get("basis"), dict) or not isinstance(data.get("job"), str):
        raise StoredTakeoffError(f"{file} comes from a version without schedules: {AGAIN}")
    try:
        job = read_job(data["job"], f"{file}, job")
    except JobError as error:
        raise StoredTakeoffError(f"{file} holds a job that this version cannot read: {AGAIN}") from error
    return StoredTakeoff(basis_from(data["basis"], file), job, data["job"], data)


def _is_newer(version: Any) -> bool:
    """Whether the first number of a version is greater than that of the forms known here."""
    first = str(version).split(".")[0]
    return first.isascii() and first.isdecimal() and (len(first) > 9 or int(first) > READABLE_FORM)


QUOTE_SECTIONS = frozenset(
    {"report", "fibre", "thermal", "plan_check", "netting", "waste", "labour", "protection", "truck", "quote", "risk"}
)
"""Sections of a job file that change no cavity and no hole: a quote may set them anew."""


def with_job(stored: StoredTakeoff, job: Job) -> StoredTakeoff:
    """The stored takeoff with what another job file sets of schedule, labour and quote.

    Raises StoredTakeoffError where the file sets something else than the takeoff was made with.
    """
    for name in sorted(job.model_fields_set - QUOTE_SECTIONS):
        if getattr(job, name) != getattr(stored.job, name):
            raise StoredTakeoffError(
                f"the job file sets [{name}] otherwise than the takeoff was made with: take the model off again with "
                "it, or leave that section out"
            )
    changes = {name: getattr(job, name) for name in job.model_fields_set & QUOTE_SECTIONS}
    return replace(stored, job=stored.job.model_copy(update=changes))


def read_stored(path: Path) -> StoredTakeoff:
    """Reads a takeoff.json. Raises StoredTakeoffError where it cannot be read or is of another form."""
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise StoredTakeoffError(f"{path} is larger than {LARGEST_FILE // 1_000_000} MB; it cannot be a takeoff")
        return stored_takeoff(path.read_text(encoding="utf-8"), str(path))
    except OSError as error:
        raise StoredTakeoffError(f"{path} cannot be read ({error.strerror or error}); give a takeoff.json") from error
    except UnicodeDecodeError as error:
        raise StoredTakeoffError(f"{path} is not UTF-8 text: {AGAIN}") from error
