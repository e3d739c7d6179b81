"""Which elements of a model are walls, and which elements are parts of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.reading.attributes import linked
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.frames import NOT_WALLS, is_wall_frame
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, parts_of, predefined_type, wholes_of
from takeoff.reading.representations import body_representations

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
    frames = _frames(model, walls)
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


def is_part(element: Any) -> bool:
    """Whether an element that a wall holds is a part with a body of its own."""
    return (
        element.is_a("IfcElement")
        and bool(linked(element, "Representation", "IfcProductRepresentation"))
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


def _frames(model: ModelFile, walls: list[Any]) -> list[Any]:
    """Assemblies that hold a wall frame, the outermost that does; those within a wall are its parts.

    A frame that stands in the body of a wall is no wall of its own, though no relation joins the two: it would be
    counted twice. Its members are found as loose ones then.
    """
    found: list[Any] = []
    boxes: OwnBoxes | None = None
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
        if not holds:
            continue
        boxes = _own_boxes(model, walls) if boxes is None else boxes
        inside = {part.id() for part in all_parts_of(assembly)}
        if boxes.hold(_middle(model, [part for part in all_parts_of(assembly) if is_part(part)]), but=inside):
            model.findings.add("frame-stands-in-wall", "it was taken for the frame of the wall around it.", assembly,
                               warning=False)  # fmt: skip
            continue
        found.append(assembly)
        taken |= inside
    return found


def _holds_frame(model: ModelFile, assembly: Any) -> bool:
    if predefined_type(assembly).upper() in NOT_WALLS:
        return False
    if any(whole.is_a(kind) for whole in wholes_of(assembly) for kind in ("IfcWall", *SHEET_ASSEMBLIES)):
        return False
    parts = [part for part in all_parts_of(assembly) if is_part(part)]
    if any(part.is_a(kind) for part in parts for kind in ("IfcSlab", "IfcStairFlight", "IfcCurtainWall", "IfcRoof")):
        return False
    if any(whole.is_a("IfcWall") and any(map(is_part, all_parts_of(whole))) for whole in all_parts_of(assembly)):
        # The walls in it have frames of their own: it only groups them.
        return False
    if sum(part.is_a("IfcWall") for part in parts) > 1 and not any(part.is_a("IfcMember") for part in parts):
        return False
    return is_wall_frame([solid for part in parts for solid in model.bodies.of(part).solids])


def _with_envelope(model: ModelFile, frame: Group) -> Group:
    walls = [part for part in frame.parts if part.is_a("IfcWall")]
    if len(walls) != 1:
        return frame
    rest = tuple(part for part in frame.parts if part.id() != walls[0].id())
    if not _own_boxes(model, walls).hold(_middle(model, list(rest))):
        return frame
    return Group(frame.wall, rest, envelope=walls[0])


@dataclass(frozen=True, slots=True, eq=False)
class OwnBoxes:
    """Boxes around the bodies of walls along their own axes.

    ids: (n,) step numbers of the walls. turns: (n, 3, 3) float64, axes as rows. low, high: (n, 3) float64, m.
    """

    ids: NDArray[np.int64]
    turns: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def hold(self, point: NDArray[np.float64], but: set[int] | None = None) -> bool:
        """Whether a world point (3,), m, lies in one of the boxes, those of the walls `but` left out."""
        own = self.turns @ point
        inside = np.all((self.low <= own) & (own <= self.high), axis=1)
        return any(number not in (but or ()) for number in self.ids[inside].tolist())


def _own_boxes(model: ModelFile, walls: list[Any]) -> OwnBoxes:
    ids, turns, lows, highs = [], [], [], []
    for wall in walls:
        solids = model.bodies.of(wall).solids
        if solids:
            turn = model.placements.of(wall)[:3, :3].T
            own = np.concatenate([solid.vertices for solid in solids]) @ turn.T
            ids.append(wall.id())
            turns.append(turn)
            lows.append(own.min(axis=0))
            highs.append(own.max(axis=0))
    size = len(ids)
    return OwnBoxes(
        np.array(ids, dtype=np.int64),
        np.array(turns).reshape(size, 3, 3),
        np.array(lows).reshape(size, 3),
        np.array(highs).reshape(size, 3),
    )


def _middle(model: ModelFile, parts: list[Any]) -> NDArray[np.float64]:
    """(3,) mean of the corners of all solids of the parts, m, world."""
    return np.concatenate([solid.vertices for part in parts for solid in model.bodies.of(part).solids]).mean(axis=0)
