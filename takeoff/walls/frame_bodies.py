"""Walls whose own body is their frame: plates and studs drawn as the solids of the wall itself, without parts.

Their body says nothing of a wall around the frame, so they are taken as walls without a body that have the solids for
parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.errors import GEOSException

from geometry.solids import Mesh, moved
from takeoff.building import Model, ModelPart, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_depth import are_panels
from takeoff.framing.frame_outline import outline_around
from takeoff.framing.frame_parts import is_frame
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS
from takeoff.framing.member_shapes import Stance, joined_shapes, shapes_of
from takeoff.framing.modelled import WIDEST_SPACING
from takeoff.framing.sheets import sheet_groups
from takeoff.walls.wall_axes import raw_axes

_FEWEST_MEMBERS = 3
_OPENWORK = 0.6
"""Share of its outline that a frame covers at most, headers and posts with it; a wall in pieces covers nearly all."""


def with_frame_bodies_told(model: Model) -> Model:
    """The model with the bodies that are frames turned into parts of their walls, and findings that say so."""
    walls = [_safely_told(wall) for wall in model.walls]
    findings = [_finding(told) for wall, told in zip(model.walls, walls, strict=True) if told is not wall]
    if not findings:
        return model
    return replace(model, walls=tuple(walls), findings=(*model.findings, *findings))


def _safely_told(wall: ModelWall) -> ModelWall:
    if len(wall.body) < _FEWEST_MEMBERS or wall.problem or wall.cylinder is not None:
        return wall
    if sum(len(part.solids) for part in wall.parts) >= _FEWEST_MEMBERS:
        return wall
    try:
        is_one = _is_frame(wall.body, wall)
    except (GEOSException, ValueError, ArithmeticError):
        # Whatever is wrong with its geometry is told when the wall itself is taken off.
        return wall
    if not is_one:
        return wall
    materials = {layer.material for layer in wall.materials}
    material = materials.pop() if len(materials) == 1 else ""
    frame = ModelPart(wall.global_id, wall.ifc_class, wall.name, "", "", material, wall.body, wall.global_id)
    return replace(wall, body=(), parts=(*wall.parts, frame))


def _is_frame(body: Sequence[Mesh], wall: ModelWall) -> bool:
    """Whether solids are plates and studs with bays between them, boards on them aside."""
    axes = raw_axes(body, wall.placement, wall.layers.direction if wall.layers is not None else None)
    if axes is None:
        return False
    settings = DEFAULT_FRAME_SETTINGS
    shapes = shapes_of([moved(mesh, axes) for mesh in body])
    groups = sheet_groups(shapes, settings)
    shapes = shapes if len(groups) == len(shapes) else joined_shapes(shapes, groups)
    frame = shapes.taken((shapes.volume > settings.least_volume) & ~are_panels(shapes))
    if not is_frame(frame, np.arange(len(frame)), settings):
        return False
    upright = (frame.stance == Stance.UPRIGHT) & ~frame.round
    if frame.across[upright].max() > settings.widest_upright:
        return False
    length = float(np.ptp([frame.low[:, 0].min(), frame.high[:, 0].max()]))
    if length / (np.count_nonzero(upright) - 1) > WIDEST_SPACING:
        return False
    united = shapely.union_all(frame.silhouettes)
    return united.area <= _OPENWORK * outline_around(united, settings).area


def _finding(wall: ModelWall) -> Finding:
    count = len(wall.parts[-1].solids)
    return Finding(
        "body-is-frame", Severity.INFO,
        f"The {count} solids of its body form a frame, so they were taken for its members, and the wall is as large as "
        "they are. If it is larger, model the frame as parts of a wall that has a body.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, float(count), None, "pieces",
    )  # fmt: skip
