"""Which elements of a model are walls, and which elements are parts of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.frames import NOT_WALLS, is_wall_frame
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, parts_of, predefined_type, wholes_of

NEVER_PARTS = ("IfcFeatureElement", "IfcDoor", "IfcWindow", "IfcVirtualElement")
"""Openings are read as openings; a door or window aggregated under a wall stands in an opening."""
FASTENERS = ("IfcFastener", "IfcMechanicalFastener", "IfcReinforcingElement")
"""Nails, screws and bars take no volume worth counting, and a model may hold thousands of them."""
OTHER_TRADES = ("IfcCurtainWall", "IfcStair", "IfcRamp", "IfcRailing", "IfcDoor", "IfcWindow")
"""Parts of these are never members of a framed wall."""
SHEET_ASSEMBLIES = (*OTHER_TRADES, "IfcSlab", "IfcRoof")


@dataclass(frozen=True, slots=True)
class Group:
    """A wall with the elements that make it up, in file order."""

    wall: Any
    parts: tuple[Any, ...]
    only_groups_walls: bool = False
    """True where the element has no body and only holds walls, which then stand by themselves."""


def find_walls(model: ModelFile) -> tuple[Group, ...]:
    """Every wall of a model, in file order: walls of all classes, curtain walls, assemblies that hold a wall frame.

    A wall that is a part of another wall or of a frame is a part of it, not a wall again; but where the whole has no
    body and no parts other than walls, these are the walls.
    """
    walls = model.of_class("IfcWall")
    curtains = model.of_class("IfcCurtainWall")
    by_id = {wall.id(): wall for wall in walls}
    groups: dict[int, Group] = {}
    frames = _frames(model)
    taken = {part.id() for frame in frames for part in all_parts_of(frame)}
    for frame in frames:
        groups[frame.id()] = _group(model, frame)
    hollow = {key: wall for key, wall in by_id.items() if key not in taken and _only_groups_walls(wall)}
    for key, wall in by_id.items():
        if key in taken or _is_part_of_wall(wall, by_id, hollow):
            continue
        groups[key] = Group(wall, (), only_groups_walls=True) if key in hollow else _group(model, wall)
    for curtain in curtains:
        groups[curtain.id()] = Group(curtain, ())
    return tuple(groups[key] for key in sorted(groups))


def is_part(element: Any) -> bool:
    """Whether an element that a wall holds is a part with a body of its own."""
    return (
        element.is_a("IfcElement")
        and element.Representation is not None
        and not any(element.is_a(kind) for kind in (*NEVER_PARTS, *FASTENERS))
    )


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
    if wall.Representation is not None and any(
        (item.RepresentationIdentifier or "") == "Body" for item in wall.Representation.Representations or ()
    ):
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


def _frames(model: ModelFile) -> list[Any]:
    """Assemblies that hold a wall frame, the outermost that does; those within a wall are its parts."""
    found: list[Any] = []
    taken: set[int] = set()
    assemblies = model.of_class("IfcElementAssembly")
    outer_first = sorted(assemblies, key=lambda assembly: (sum(1 for _ in wholes_of(assembly)), assembly.id()))
    for done, assembly in enumerate(outer_first):
        model.report("assemblies", done + 1, len(outer_first))
        if assembly.id() in taken:
            continue
        try:
            holds = _holds_frame(model, assembly)
        except BROKEN_ENTITY as error:
            model.findings.add(
                "assembly-unreadable", f"it could not be looked into ({error}); export the model again.", assembly
            )
            continue
        if holds:
            found.append(assembly)
            taken.update(part.id() for part in all_parts_of(assembly))
    return found


def _holds_frame(model: ModelFile, assembly: Any) -> bool:
    if predefined_type(assembly).upper() in NOT_WALLS:
        return False
    if any(whole.is_a(kind) for whole in wholes_of(assembly) for kind in ("IfcWall", *SHEET_ASSEMBLIES)):
        return False
    parts = [part for part in all_parts_of(assembly) if is_part(part)]
    if any(part.is_a(kind) for part in parts for kind in ("IfcSlab", "IfcStairFlight", "IfcCurtainWall", "IfcRoof")):
        return False
    if sum(part.is_a("IfcWall") for part in parts) > 1 and not any(part.is_a("IfcMember") for part in parts):
        return False
    return is_wall_frame([solid for part in parts for solid in model.bodies.of(part).solids])
