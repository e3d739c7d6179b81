"""Which elements of a model are walls, and which elements are parts of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from takeoff.reading.assemblies import FASTENERS, find_frames, is_part, surrounds
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, parts_of, wholes_of
from takeoff.reading.representations import body_representations


@dataclass(frozen=True, slots=True)
class Group:
    """A wall with the elements that make it up, in file order."""

    wall: Any
    parts: tuple[Any, ...]
    envelope: Any = None
    """A wall inside an assembly whose body surrounds the frame: it gives the assembly its body and describes it."""
    only_groups_walls: bool = False
    """True where the element has no body and only holds walls, which then stand by themselves."""

    @property
    def elements(self) -> tuple[Any, ...]:
        """All that is read as this wall: itself, its envelope, its parts."""
        return (self.wall, *(() if self.envelope is None else (self.envelope,)), *self.parts)


def find_walls(model: ModelFile) -> tuple[Group, ...]:
    """Every wall of a model, in file order: walls of all classes, curtain walls, assemblies that hold a wall frame.

    A wall that is a part of another wall or of a frame is a part of it, not a wall again; but where the whole has no
    body and no parts other than walls, these are the walls.
    """
    walls = model.of_class("IfcWall")
    curtains = model.of_class("IfcCurtainWall")
    by_id = {wall.id(): wall for wall in walls}
    groups: dict[int, Group] = {}
    frames = find_frames(model, walls)
    taken = {part.id() for frame in frames for part in all_parts_of(frame)}
    for frame in frames:
        groups[frame.id()] = _with_envelope(model, _group(model, frame))
    hollow = {key: wall for key, wall in by_id.items() if key not in taken and _only_groups_walls(wall)}
    for key, wall in by_id.items():
        if key in taken or _is_part_of_wall(wall, by_id, hollow):
            continue
        groups[key] = Group(wall, (), only_groups_walls=True) if key in hollow else _group(model, wall)
    for curtain in curtains:
        groups[curtain.id()] = Group(curtain, ())
    return tuple(groups[key] for key in sorted(groups))


def _group(model: ModelFile, wall: Any) -> Group:
    parts, fasteners = [], 0
    for part in all_parts_of(wall):
        if any(part.is_a(kind) for kind in FASTENERS):
            fasteners += 1
        elif is_part(part) and not any(is_part(inner) for inner in all_parts_of(part)):
            # A body around parts that have bodies is their envelope: it would fill the wall.
            parts.append(part)
    if fasteners:
        model.findings.add(
            "fasteners-not-read",
            f"{fasteners} fasteners or bars in it were not read, since they take no volume worth counting.",
            wall,
            model.identities.of(wall),
            warning=False,
        )
    return Group(wall, tuple(sorted(parts, key=lambda part: part.id())))


def _only_groups_walls(wall: Any) -> bool:
    if body_representations(wall):
        return False
    parts = [part for part in parts_of(wall) if part.is_a("IfcElement") and not part.is_a("IfcFeatureElement")]
    return bool(parts) and all(part.is_a("IfcWall") for part in parts)


def _is_part_of_wall(wall: Any, walls: dict[int, Any], hollow: dict[int, Any]) -> bool:
    return any(
        whole.id() in walls
        and whole.id() not in hollow
        # Two walls that hold each other, in broken data, both stay walls.
        and all(outer.id() != wall.id() for outer in wholes_of(whole))
        for whole in wholes_of(wall)
    )


def _with_envelope(model: ModelFile, frame: Group) -> Group:
    walls = [part for part in frame.parts if part.is_a("IfcWall")]
    if len(walls) != 1:
        return frame
    rest = tuple(part for part in frame.parts if part.id() != walls[0].id())
    if not surrounds(model, walls[0], rest):
        return frame
    return Group(frame.wall, rest, envelope=walls[0])
