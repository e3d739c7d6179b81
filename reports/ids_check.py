"""A model held against the wishes: what to ask the architect for, in plain words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reports.ids_out import specifications
from reports.ids_wishes import IFC2X3, IFC4, IFC4X3, WISHES, Wish
from takeoff.building import Model, ModelWall
from takeoff.reading.assemblies import OTHER_TRADES
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.opening_file import open_model_file
from takeoff.reading.related import all_parts_of, is_within, wholes_of

MOST_NAMES = 3
"""Elements that a request names; a list of all is in findings.csv or in the report of an IDS program."""
_SCHEMAS = {"IFC2X3": IFC2X3, "IFC4X3": IFC4X3}
"""By the name that a file gives; what else there is (IFC4X1, IFC4X2) has the classes of IFC4 that are asked for."""


@dataclass(frozen=True, slots=True)
class Request:
    """One thing to ask the architect for. count: elements that lack it, of `total`; both 0 where there are none."""

    key: str
    text: str
    count: int
    total: int


def requests_of(path: Path, model: Model) -> tuple[Request, ...]:
    """What to ask the architect for, nothing where all is well.

    path: the file that `model` was read from; it is opened once more, since the check asks the file itself. Raises
    ReadingError where that fails.
    """
    file, _ = open_model_file(path)
    schema = _SCHEMAS.get(file.schema, IFC4)
    walls = {wall.global_id: wall for wall in model.walls if _counts(wall)}
    found: list[Request] = []
    for wish, specification in zip(WISHES, specifications((schema,), WISHES).specifications, strict=True):
        try:
            specification.validate(file)
        except (AssertionError, *BROKEN_ENTITY):
            # A file whose data are broken has findings that say so; a wish that cannot be checked is no request.
            continue
        request = _request(wish, specification, walls)
        if request is not None:
            found.append(request)
    if any(request.key == "storeys" and not request.total for request in found):
        # Where there are no storeys at all, no wall can stand in one.
        found = [request for request in found if request.key != "walls_in_storeys"]
    return tuple(found)


def _counts(wall: ModelWall) -> bool:
    """Walls that a takeoff wants to know: curtain walls and those that only group others have nothing to say."""
    return wall.ifc_class != "IfcCurtainWall" and wall.predefined_type != "CURTAIN_WALL" and not wall.only_groups


def _request(wish: Wish, specification: Any, walls: Mapping[str, ModelWall]) -> Request | None:
    applicable = [element for element in specification.applicable_entities if _concerns(wish, element, walls)]
    if wish.at_least_one and not specification.applicable_entities:
        return Request(wish.key, wish.none, 0, 0)
    lacking = {element.id(): element for element in specification.failed_entities}
    names = [element.Name or element.GlobalId for element in applicable if element.id() in lacking]
    total = len(applicable)
    if wish.key in _OF_RECORDS:
        total = len(walls)
        names = [wall.name or wall.global_id for wall in walls.values() if _OF_RECORDS[wish.key](wall)]
    if not names:
        return None
    return Request(wish.key, _sentence(wish, names, total), len(names), total)


def _concerns(wish: Wish, element: Any, walls: Mapping[str, ModelWall]) -> bool:
    """Whether the takeoff cares for an element: no mullion, no door of a curtain wall, no wall that is a part."""
    if wish.what == "walls":
        return element.GlobalId in walls
    if is_within(element, OTHER_TRADES):
        return False
    if wish.key != "members_have_bodies":
        return True
    # A member that is drawn piece by piece, or is a piece of one that is drawn whole, needs no body of its own; one
    # without a place only serves a type as a pattern.
    return element.ObjectPlacement is not None and not any(map(_is_drawn, _kin_of(element)))


def _kin_of(element: Any) -> list[Any]:
    """Parts of an element, and what it is a part of short of its wall."""
    wholes = [whole for whole in wholes_of(element) if not whole.is_a("IfcWall")]
    return [*all_parts_of(element), *wholes]


def _is_drawn(element: Any) -> bool:
    return getattr(element, "Representation", None) is not None


def _has_no_layers(wall: ModelWall) -> bool:
    layers = () if wall.layers is None else wall.layers.layers
    return not wall.parts and not any(layer.thickness > 0.0 for layer in (*layers, *wall.materials))


def _has_no_type(wall: ModelWall) -> bool:
    """A named layer set serves as well: rules of the job file can name it."""
    return not wall.type_name and not (wall.layers is not None and wall.layers.name)


_OF_RECORDS: Mapping[str, Callable[[ModelWall], bool]] = {
    "walls_of_layers": _has_no_layers,
    "walls_typed": _has_no_type,
}
"""What IDS cannot say in full, asked of the walls as they were read."""


def _sentence(wish: Wish, names: list[str], total: int) -> str:
    distinct = list(dict.fromkeys(names))
    shown = ", ".join(distinct[:MOST_NAMES])
    such = f", such as {shown}" if len(distinct) > MOST_NAMES else f" ({shown})"
    number = f"all {total}" if len(names) == total > 1 else f"{len(names)} of {total}"
    return f"{wish.what.capitalize()} that {wish.lacks}: {number}{such}. {wish.ask}"
