"""A copy of the model with the takeoff written back: laid-out members, cavities, and quantities of every wall.

Nothing of the original is changed but its header; what is added bears sets of its own (`Bayfill_...`), GlobalIds that
follow from the model's, and the time of the model's own header, so that the same model and job give the same bytes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

from reports.files import OutputError, write_bytes
from reports.ifc_out_elements import CAVITY_SET, ElementWriter
from reports.ifc_out_target import PROGRAM, ModelTarget
from reports.moments import moment_of
from takeoff.columns import Column, Kind, tidy_number
from takeoff.errors import ReadingError
from takeoff.fill import Hole
from takeoff.model import WallTakeoff
from takeoff.piece_tables import member_rows
from takeoff.reading.loose_frames import FRAMING
from takeoff.reading.opening_file import open_model_file
from takeoff.reading.units_of_file import read_units
from takeoff.result import Takeoff
from takeoff.wall_tables import WALLS

WALL_SET = "Bayfill_Wall"
WALL_QUANTITIES = "Bayfill_WallQuantities"
_KNOWN = {"wall_id", "name", "type", "storey", "ifc_class"}
"""Columns of walls.csv that the model says itself."""
_KINDS = {"m": "Length", "m2": "Area", "m3": "Volume"}
_WALL_CLASSES = ("IfcWall", "IfcCurtainWall", "IfcElementAssembly", *FRAMING)
"""Of a frame of loose members one member stands for the wall."""


def write_ifc(model_path: Path, takeoff: Takeoff, target: Path) -> dict[str, int]:
    """Writes a copy of a model with its takeoff and returns how many elements of each class were added.

    model_path: the file that was taken off; it stays as it is. target: an .ifc file, replaced where it exists.
    Raises OutputError where target is the model itself or cannot be written, ReadingError where the model cannot be
    read again.
    """
    if target.exists() and target.resolve() == model_path.resolve():
        raise OutputError(f"{target} is the model itself, which is never written over: choose another name")
    content, added = ifc_bytes(model_path, takeoff, target.name)
    write_bytes(target, content)
    return added


def ifc_bytes(model_path: Path, takeoff: Takeoff, name: str) -> tuple[bytes, dict[str, int]]:
    """The file that `write_ifc` writes under a name, and how many elements of each class were added."""
    file, _ = open_model_file(model_path)
    moment = moment_of(str(file.header.file_name.time_stamp or ""))
    _without_earlier(file)
    added = _add(ModelTarget(file, read_units(file, str(model_path)), moment), takeoff, str(model_path))
    _tell_header(file, name, moment)
    return _text_of(file), added


def _add(target: ModelTarget, takeoff: Takeoff, model_path: str) -> dict[str, int]:
    """Adds everything to an opened file: wall by wall, in the takeoff's order."""
    holes: dict[str, list[Hole]] = {}
    for hole in takeoff.fill.holes:
        holes.setdefault(hole.cavity_id, []).append(hole)
    writer = ElementWriter(target, holes, {row.member.member_id: row for row in member_rows(takeoff.results)})
    walls = _walls_by_id(target.file)
    added: dict[str, int] = {}
    for row in takeoff.results:
        wall = walls.get(row.wall.wall_id)
        if wall is None:
            told = f"{row.wall.ifc_class} {row.wall.wall_id}"
            raise ReadingError(model_path, "this is not the model that was taken off", "take it off again", told)
        parts = [part for layer in row.layers for part in writer.parts_of(wall, layer)]
        if parts:
            target.aggregate(wall, parts)
        for part in parts:
            added[part.is_a()] = added.get(part.is_a(), 0) + 1
        target.properties(wall, WALL_SET, _wall_properties(row))
        target.quantities(wall, WALL_QUANTITIES, _wall_quantities(row))
    writer.finish()
    return added


def _walls_by_id(file: Any) -> dict[str, Any]:
    """Walls by the id that the takeoff gives them: the GlobalId, with the step number where that is not given once."""
    found: dict[str, Any] = {}
    for element in sorted(_of_classes(file, _WALL_CLASSES), key=lambda one: one.id()):
        found.setdefault(element.GlobalId or "", element)
        found[f"{element.GlobalId or ''}#{element.id()}"] = element
    return found


def _of_classes(file: Any, names: Iterable[str]) -> list[Any]:
    return [element for name in names for element in file.by_type(name)]


# ---------------------------------------------------------------- what is said of a wall


def _wall_properties(row: WallTakeoff) -> dict[str, Any]:
    """Words, truths, counts and ratios of walls.csv."""
    return {
        _set_name(column): _plain(column.value(row))
        for column in WALLS.columns
        if column.name not in _KNOWN and column.unit not in _KINDS
    }


def _wall_quantities(row: WallTakeoff) -> dict[str, tuple[str, float | None]]:
    """Lengths, areas and volumes of walls.csv that were measured; what the model declares stands in its own sets."""
    return {
        _set_name(column): (_KINDS[column.unit], tidy_number(_number(column.value, row)))
        for column in WALLS.columns
        if column.unit in _KINDS and not _is_comparison(column.name)
    }


def _is_comparison(name: str) -> bool:
    """A difference may be negative, which no quantity of IFC is."""
    return name.startswith("declared_") or "_difference_" in name


def _number(value: Callable[[WallTakeoff], Any], row: WallTakeoff) -> float | None:
    found = value(row)
    return None if found is None else float(found)


def _plain(value: Any) -> Any:
    return tidy_number(value) if isinstance(value, float) else value


def _set_name(column: Column[WallTakeoff]) -> str:
    """A column's name as names of properties are written, its unit left to the file: gross_area_m2 is GrossArea."""
    words = column.name.split("_")
    if column.kind is Kind.NUMBER and words[-1] in _KINDS:
        words = words[:-1]
    return "".join(word.capitalize() for word in words)


# ---------------------------------------------------------------- the file


def _without_earlier(file: Any) -> None:
    """Takes out what an earlier run added, so that nothing stands in the model twice; members stay: they were read."""
    import ifcopenshell.api.root

    cavities = [
        element
        for definition in file.by_type("IfcPropertySet")
        if definition.Name == CAVITY_SET
        for element in _elements_of(file, definition)
    ]
    for element in cavities:
        ifcopenshell.api.root.remove_product(file, product=element)
    for definition in _of_classes(file, ("IfcPropertySet", "IfcElementQuantity")):
        if definition.Name in (WALL_SET, WALL_QUANTITIES):
            for relation in _relations_of(file, definition):
                file.remove(relation)
            for value in getattr(definition, "HasProperties", None) or definition.Quantities:
                file.remove(value)
            file.remove(definition)


def _relations_of(file: Any, definition: Any) -> list[Any]:
    return [one for one in file.get_inverse(definition) if one.is_a("IfcRelDefinesByProperties")]


def _elements_of(file: Any, definition: Any) -> list[Any]:
    return [element for relation in _relations_of(file, definition) for element in relation.RelatedObjects]


def _tell_header(file: Any, name: str, moment: datetime) -> None:
    """The header says what wrote the copy; who made the model stays in it."""
    header = file.header.file_name
    header.name = name
    header.preprocessor_version = PROGRAM
    header.time_stamp = moment.strftime("%Y-%m-%dT%H:%M:%S")


def _text_of(file: Any) -> bytes:
    """The whole file as bytes. It is written to a temporary file, since a text in memory would be held twice."""
    with tempfile.TemporaryDirectory(prefix=f"{PROGRAM}-") as folder:
        path = Path(folder) / "model.ifc"
        file.write(str(path))
        return path.read_bytes()
