"""Assemblies that are walls: those that hold a wall frame and stand in no wall already."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.solids import Mesh
from takeoff.reading.attributes import linked
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.frames import NOT_WALLS, is_wall_frame, plan_axes
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, predefined_type, wholes_of

NEVER_PARTS = ("IfcFeatureElement", "IfcDoor", "IfcWindow", "IfcVirtualElement")
"""Openings are read as openings; a door or window aggregated under a wall stands in an opening."""
FASTENERS = ("IfcFastener", "IfcMechanicalFastener", "IfcReinforcingElement")
"""Nails, screws and bars take no volume worth counting, and a model may hold thousands of them."""
OTHER_TRADES = ("IfcCurtainWall", "IfcStair", "IfcRamp", "IfcRailing", "IfcDoor", "IfcWindow")
"""Parts of these are never members of a framed wall."""
NO_WALL_HOLDS = ("IfcSlab", "IfcStairFlight", "IfcRailing", "IfcCurtainWall", "IfcRoof")
"""An assembly with one of these in it is no wall, though it may hold several."""
SHEET_ASSEMBLIES = (*OTHER_TRADES, "IfcSlab", "IfcRoof")


def is_part(element: Any) -> bool:
    """Whether an element that a wall holds is a part with a body of its own."""
    return (
        element.is_a("IfcElement")
        and bool(linked(element, "Representation", "IfcProductRepresentation"))
        and not any(element.is_a(kind) for kind in (*NEVER_PARTS, *FASTENERS))
    )


def find_frames(model: ModelFile, walls: list[Any]) -> list[Any]:
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
            model.findings.add(
                "frame-stands-in-wall", "it was taken for the frame of the wall around it.", assembly, warning=False
            )
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
    if any(part.is_a(kind) for part in parts for kind in NO_WALL_HOLDS):
        return False
    if any(whole.is_a("IfcWall") and any(map(is_part, all_parts_of(whole))) for whole in all_parts_of(assembly)):
        # The walls in it have frames of their own: it only groups them.
        return False
    if all(part.is_a("IfcWall") for part in parts):
        return False
    return is_wall_frame([solid for part in parts for solid in model.bodies.of(part).solids])


def surrounds(model: ModelFile, wall: Any, parts: tuple[Any, ...]) -> bool:
    """Whether the body of a wall surrounds the middle of some parts."""
    if not any(model.bodies.of(part).solids for part in parts):
        return False
    return _own_boxes(model, [wall]).hold(_middle(model, list(parts)))


@dataclass(frozen=True, slots=True, eq=False)
class OwnBoxes:
    """Upright boxes around walls, each turned in plan so that it is narrowest.

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
    return boxes_around((wall.id(), model.bodies.of(wall).solids) for wall in walls)


def boxes_around(walls: Iterable[tuple[int, Sequence[Mesh]]]) -> OwnBoxes:
    """Narrowest boxes in plan around walls, each given as its step number and its solids (world axes, m)."""
    ids, turns, lows, highs = [], [], [], []
    for number, solids in walls:
        if solids:
            points = np.concatenate([solid.vertices for solid in solids])
            turn = plan_axes(points)
            own = points @ turn.T
            ids.append(number)
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
