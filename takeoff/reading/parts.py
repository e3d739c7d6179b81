"""Parts of walls, and loose elements that may stand in one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from takeoff.building import ModelPart, ModelWall
from takeoff.reading.assemblies import OTHER_TRADES, is_part
from takeoff.reading.attributes import word
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.loose_frames import note_members_in_no_wall
from takeoff.reading.model_file import ModelFile
from takeoff.reading.related import all_parts_of, is_within, predefined_type, type_name

LOOSE_CLASSES = (
    "IfcMember",
    "IfcBeam",
    "IfcColumn",
    "IfcPlate",
    "IfcBuildingElementPart",
    "IfcBuildingElementProxy",
    "IfcElementAssembly",
    "IfcDiscreteAccessory",
    "IfcDistributionElement",
)
"""Classes whose elements may stand in a wall though nothing in the model says so."""
TOUCHING = 0.01
"""m; boxes nearer than this touch: frames drawn in another program stop short by millimetres."""


def read_part(model: ModelFile, element: Any, wall_id: str = "", source: str = "") -> ModelPart | None:
    """A part with its body; None, with a finding, where it has no shape that can be read."""
    body = model.bodies.of(element)
    if body.fault:
        missing = "a part of its shape" if body.solids else "its shape"
        model.findings.add("part-shape-unreadable", f"{missing} is missing: {body.fault}.", element, wall_id)
    if body.n_open:
        model.findings.add(
            "body-not-closed", f"{body.n_open} of its solids do not close; model it as solids.", element, wall_id
        )
    if not body.solids:
        return None
    try:
        kind, predefined, material = type_name(element), predefined_type(element), model.materials.names(element)
    except BROKEN_ENTITY as error:
        kind = predefined = material = ""
        model.findings.add(
            "part-data-unreadable",
            f"its type or material is broken ({error}); export the model again.",
            element,
            wall_id,
        )
    return ModelPart(
        global_id=model.identities.of(element),
        ifc_class=element.is_a(),
        name=word(element, "Name"),
        type_name=kind,
        predefined_type=predefined,
        material=material,
        solids=body.solids,
        wall_id=wall_id,
        source=source,
    )


@dataclass(frozen=True, slots=True, eq=False)
class WallBoxes:
    """Boxes around walls, each along the axes of its own wall, for asking what stands near.

    low, high: (n, 3) float64, m, world. turns: (n, 3, 3) float64, rows are the axes of each wall. own_low, own_high:
    (n, 3) float64, m, along these axes.
    """

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    turns: NDArray[np.float64]
    own_low: NDArray[np.float64]
    own_high: NDArray[np.float64]

    def touch(self, points: NDArray[np.float64]) -> bool:
        """Whether the box of points (n, 3), m, world touches the box of some wall."""
        low, high = points.min(axis=0) - TOUCHING, points.max(axis=0) + TOUCHING
        near = np.flatnonzero(((self.low <= high) & (self.high >= low)).all(axis=1))
        if not len(near):
            return False
        # In the axes of a wall that stands askew its box is thin, and most of what the world box caught falls away.
        own = np.einsum("wij,pj->wpi", self.turns[near], points)
        return bool(
            ((own.min(axis=1) - TOUCHING <= self.own_high[near]) & (own.max(axis=1) + TOUCHING >= self.own_low[near]))
            .all(axis=1)
            .any()
        )


def boxes_of(walls: Iterable[ModelWall]) -> WallBoxes | None:
    """Boxes around the walls with a body or parts, curtain walls left out; None where there are none."""
    turns, worlds, owns = [], [], []
    for wall in walls:
        solids = (*wall.body, *(solid for part in wall.parts for solid in part.solids))
        if not solids or wall.ifc_class == "IfcCurtainWall":
            continue
        points = np.concatenate([solid.vertices for solid in solids])
        turn = wall.placement[:3, :3].T / np.linalg.norm(wall.placement[:3, :3], axis=0)[:, None]
        own = points @ turn.T
        turns.append(turn)
        worlds.append((points.min(axis=0), points.max(axis=0)))
        owns.append((own.min(axis=0), own.max(axis=0)))
    if not turns:
        return None
    return WallBoxes(
        np.array([low for low, _ in worlds]),
        np.array([high for _, high in worlds]),
        np.array(turns),
        np.array([low for low, _ in owns]),
        np.array([high for _, high in owns]),
    )


def read_loose_parts(
    model: ModelFile, taken: set[int], boxes: WallBoxes | None, source: str = ""
) -> tuple[ModelPart, ...]:
    """Elements that no wall holds and whose box touches the box of a wall; framing that touches none is told.

    taken: step numbers of walls and their parts. source: file name, where it is not the main model.
    """
    found, apart = [], []
    candidates = [element for element in model.of_class(*LOOSE_CLASSES) if element.id() not in taken]
    stage = f"elements of {source}" if source else "loose elements"
    for done, element in enumerate(candidates):
        model.report(stage, done + 1, len(candidates))
        try:
            if not _may_stand_in_wall(element):
                continue
            points = model.bodies.rough_box(element)
        except BROKEN_ENTITY as error:
            model.findings.add("part-data-unreadable", f"it is broken ({error}); export the model again.", element)
            continue
        if points is None or boxes is None or not boxes.touch(points):
            apart.append((element, points))
            model.bodies.forget(element)
            continue
        body = model.bodies.of(element)
        if not body.solids:
            model.findings.add("part-shape-unreadable", f"its shape is missing: {body.fault}.", element)
        elif boxes.touch(np.concatenate([solid.vertices for solid in body.solids])):
            part = read_part(model, element, source=source)
            if part is not None:
                found.append(part)
        else:
            apart.append((element, points))
        model.bodies.forget(element)
    if not source:
        note_members_in_no_wall(model, [(element, points) for element, points in apart if points is not None])
    return tuple(found)


def _may_stand_in_wall(element: Any) -> bool:
    if not is_part(element) or is_within(element, OTHER_TRADES):
        return False
    # The parts of an assembly stand for it.
    return not any(is_part(inner) for inner in all_parts_of(element))
