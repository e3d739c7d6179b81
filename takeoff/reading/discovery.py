"""Which elements of a model are walls, and which elements are parts of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.plurals import plural
from takeoff.reading.assemblies import FASTENERS, OwnBoxes, boxes_around, find_frames, is_part, surrounds
from takeoff.reading.faults import described
from takeoff.reading.loose_frames import find_loose_frames, is_framing
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
    axes: NDArray[np.float64] | None = None
    """(4, 4) float64, m, world: set for a frame of loose members, of which `wall` is one and stands for all."""

    @property
    def elements(self) -> tuple[Any, ...]:
        """All that is read as this wall: itself, its envelope, its parts."""
        return (self.wall, *(() if self.envelope is None else (self.envelope,)), *self.parts)


def find_walls(model: ModelFile) -> tuple[Group, ...]:
    """Every wall of a model, in file order: walls of all classes, curtain walls, assemblies that hold a wall frame, and
    frames of members that belong to none of them.

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
    for frame in _loose_frames(model, groups.values()):
        groups[frame.wall.id()] = frame
    return tuple(groups[key] for key in sorted(groups))


def _loose_frames(model: ModelFile, groups: Iterable[Group]) -> list[Group]:
    """Frames of members that no wall holds and that stand in no wall, told in a finding each."""
    groups = list(groups)
    taken = {element.id() for group in groups for element in group.elements}

    def boxes() -> OwnBoxes:
        return boxes_around(
            (group.wall.id(), [solid for element in group.elements for solid in model.bodies.of(element).solids])
            for group in groups
            if not group.wall.is_a("IfcCurtainWall")
        )

    found = find_loose_frames(model, taken, boxes)
    for frame in found:
        model.findings.add(
            "frame-of-loose-members",
            f"it belongs to no wall, but with {len(frame.members) - 1} other members it forms a wall frame, which was "
            "taken off as a wall under its GlobalId. Have them put into a wall.",
            frame.plate,
            model.identities.of(frame.plate),
        )
    return [Group(frame.plate, frame.members, axes=frame.axes) for frame in found]


def _group(model: ModelFile, wall: Any) -> Group:
    parts, fasteners, shapeless = [], 0, []
    for part in all_parts_of(wall):
        if any(part.is_a(kind) for kind in FASTENERS):
            fasteners += 1
        elif is_framing(part) and not is_part(part) and not any(True for _ in all_parts_of(part)):
            shapeless.append(part)
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
    if shapeless:
        model.findings.add(
            "part-without-shape",
            f"{plural(len(shapeless), 'member')} in it without any shape ({described(shapeless[0])}"
            f"{' and more' if len(shapeless) > 1 else ''}) could not be counted; export the 3D shape of all members.",
            wall,
            model.identities.of(wall),
        )
    return Group(wall, tuple(sorted(parts, key=lambda part: part.id())))


def _only_groups_walls(wall: Any) -> bool:
    parts = [
        part
        for part in parts_of(wall)
        if part.is_a("IfcElement") and not part.is_a("IfcFeatureElement") and part.id() != wall.id()
    ]
    return bool(parts) and all(part.is_a("IfcWall") for part in parts) and not body_representations(wall)


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
