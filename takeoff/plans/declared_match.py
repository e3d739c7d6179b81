"""Which walls a line of the declared areas speaks of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from takeoff.building import Model
from takeoff.envelope.groups import Share, whole
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.model import Status, WallTakeoff
from takeoff.plans.declared_areas import DeclaredArea, fold
from takeoff.wall_tables import type_label


@dataclass(frozen=True, slots=True, eq=False)
class Names:
    """The names that the model knows, folded, with how the model writes them."""

    types: dict[str, str]
    """Also the last part of a type's name that families are written before ('Family:Type')."""
    storeys: dict[str, str]
    rooms: dict[str, frozenset[str]]
    """A room's name, its long name, or both: the labels of the rooms that are called so."""


def names_of(model: Model, results: Sequence[WallTakeoff], envelope: Envelope) -> Names:
    """Every type, storey and room by which a line may call its walls."""
    types: dict[str, str] = {}
    labels = list(dict.fromkeys(type_label(result.wall) for result in results))
    for label in labels:
        types.setdefault(fold(label), label)
    tails = [fold(label.rsplit(":", 1)[-1]) for label in labels]
    for label, tail in zip(labels, tails, strict=True):
        if tails.count(tail) == 1:
            types.setdefault(tail, label)
    storeys = {fold(result.wall.storey): result.wall.storey for result in results}
    seen = {share.room for part in envelope.parts for share in part.rooms if share.room}
    rooms: dict[str, set[str]] = {}
    for space in model.spaces:
        label = space.label
        for name in (label, space.name, space.long_name):
            if name and label in seen:
                rooms.setdefault(fold(name), set()).add(label)
    return Names(types, storeys, {name: frozenset(found) for name, found in rooms.items()})


def meant_by(line: DeclaredArea, names: Names) -> tuple[object, ...]:
    """What a line speaks of in the model's own names: equal for two lines that speak of the same walls."""
    wall_type, orientation, storey, room = line.key
    return names.types.get(wall_type, wall_type), orientation, storey, names.rooms.get(room, room)


def unknown_names(line: DeclaredArea, names: Names) -> tuple[str, ...]:
    """What a line names that the model does not have, one sentence each."""
    faults = []
    for what, text, known in (
        ("wall type", line.wall_type, names.types),
        ("storey", line.storey, names.storeys),
        ("room", line.room, names.rooms),
    ):
        if text and fold(text) not in known:
            near = get_close_matches(fold(text), list(known), 1, 0.6)
            meant = f"; the nearest name is '{_written(near[0], known)}'" if near else ""
            faults.append(f"{what} '{text}' is not in the model{meant}")
    return tuple(faults)


def _written(name: str, known: dict[str, str] | dict[str, frozenset[str]]) -> str:
    found = known[name]
    return found if isinstance(found, str) else min(found)


def shares_of(line: DeclaredArea, envelope: Envelope, names: Names) -> tuple[Share, ...]:
    """The pieces of wall that a line speaks of, filled or not. Inside walls only where it names their type."""
    found: list[Share] = []
    for part in envelope.parts:
        if _fits(line, part, names):
            found += _in_room(part, line.room, names)
    return tuple(found)


def _fits(line: DeclaredArea, part: WallPart, names: Names) -> bool:
    wall = part.wall.wall
    if line.wall_type:
        if part.type_label != names.types.get(fold(line.wall_type)):
            return False
    elif not wall.external:
        return False
    return line.orientation in ("", part.orientation) and fold(line.storey) in ("", fold(wall.storey))


def _in_room(part: WallPart, room: str, names: Names) -> list[Share]:
    if not room:
        return [whole(part)]
    labels = names.rooms.get(fold(room), frozenset())
    return [Share(part, row.gross, row.opening, row.framing) for row in part.rooms if row.room in labels]


def set_aside(line: DeclaredArea, results: Iterable[WallTakeoff], names: Names) -> tuple[WallTakeoff, ...]:
    """Walls of the line's type and storey that were not taken off."""
    wanted = names.types.get(fold(line.wall_type))
    return tuple(
        result
        for result in results
        if result.status is not Status.TAKEN_OFF
        and (type_label(result.wall) == wanted if line.wall_type else result.wall.external)
        and fold(line.storey) in ("", fold(result.wall.storey))
    )
