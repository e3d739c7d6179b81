"""Pieces that stand in a frame without being framing: building services, boxes, pipes, pieces on its faces."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from takeoff.building import ModelPart
from takeoff.framing.contacts import runs_across
from takeoff.framing.frame_depth import are_panels
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance
from takeoff.framing.role_words import FRAMING_CLASSES, is_insulation, is_service, role_in_words
from takeoff.model import MemberRole

BOX = "a box, wider than any stud"
THROUGH = "it passes through the wall"
PART_DEPTH = 0.6
"""A piece that takes less of the depth of the frame than this takes only part of it."""


def obstruction_reasons(
    shapes: Shapes, parts: Sequence[ModelPart], depth: float, settings: FrameSettings
) -> tuple[str, ...]:
    """Why each piece is an obstruction, '' where it may be framing.

    parts: the element that each row of `shapes` belongs to. depth: of the stud layer, m.
    """
    boards = are_panels(shapes)
    through = shapes.depth > np.maximum(1.5 * depth, 2.0 * shapes.along)
    broad = (shapes.across > settings.widest_upright) & (shapes.filled > 0.5)
    beam = (shapes.stance != Stance.UPRIGHT) & (shapes.along >= 1.5 * shapes.across)
    box = broad & ~beam & ~boards
    odd = (shapes.round | through | box).tolist()
    found: list[str] = []
    for row, part in enumerate(parts):
        reason = _by_class(part.ifc_class, part.name, part.type_name, bool(part.source))
        if not reason and odd[row]:
            named = role_in_words(part.predefined_type, part.name, part.type_name)
            if shapes.round[row] and not (part.ifc_class.lower().startswith("ifccolumn") or named is not None):
                reason = "round in section: a pipe, not a stud"
            elif through[row]:
                reason = THROUGH
            elif box[row] and named is None:
                reason = f"{shapes.across[row]:.3f} m broad: {BOX}"
        found.append(reason)
    return tuple(found)


def is_framing_of_another(part: ModelPart, wall_id: str) -> bool:
    """Whether an element by its class and names is framing that another wall than this one holds."""
    return part.wall_id not in ("", wall_id) and not _by_class(part.ifc_class, part.name, part.type_name, False)


@lru_cache(maxsize=4096)
def _by_class(ifc_class: str, name: str, type_name: str, foreign: bool) -> str:
    """Why an element is an obstruction by its class or names, '' where it may be framing."""
    if is_service(ifc_class, name, type_name):
        return f"{ifc_class or 'its name'} belongs to building services or equipment, not to the frame"
    if ifc_class and ifc_class.lower() not in FRAMING_CLASSES:
        return f"{ifc_class} is no class of framing"
    if foreign and ifc_class.lower() in {"ifcbuildingelementproxy", ""}:
        return "it comes from another model and is not called framing there"
    return ""


def insulation_rows(shapes: Shapes, parts: Sequence[ModelPart]) -> NDArray[np.bool_]:
    """Pieces that are insulation modelled as a body, (n,) bool: by class or material, or by the name of what is no
    member, beam or column."""
    result = np.zeros(len(shapes), dtype=bool)
    for row, part in enumerate(parts):
        member = part.ifc_class.lower().startswith(("ifcmember", "ifcbeam", "ifccolumn"))
        names = (part.material,) if member else (part.material, part.name, part.type_name)
        broad = shapes.across[row] > 0.06 or not member
        result[row] = broad and is_insulation(part.ifc_class, part.predefined_type, *names)
    return result


def board_rows(shapes: Shapes) -> NDArray[np.bool_]:
    """Boards that lie before studs or are broader than any member, (n,) bool; the web of a box header is none."""
    result = are_panels(shapes)
    rest = shapes.silhouettes[~result]
    if result.any() and len(rest):
        covered = shapely.area(shapely.intersection(shapes.silhouettes[result], shapely.union_all(rest)))
        before = covered >= 0.1 * shapely.area(shapes.silhouettes[result])
        result[result] = before | (shapes.across[result] > 0.45)
    return result


def face_pieces(shapes: Shapes, depth: float, settings: FrameSettings) -> tuple[tuple[MemberRole, str] | None, ...]:
    """Roles of pieces that take only part of the depth and lie on or in a face: furring, let-in brace, backing.

    A board of a box header or a plate of one of two stud rows also takes part of the depth, but does not run across
    studs, so it gets None here, as every whole member does.
    """
    across = runs_across(shapes)
    partial = shapes.depth < PART_DEPTH * depth
    result: list[tuple[MemberRole, str] | None] = [None] * len(shapes)
    for row in np.flatnonzero(partial & ~shapes.round).tolist():
        crossed = int(across[row].sum())
        share = f"takes {shapes.depth[row] / depth:.0%} of the depth"
        if shapes.stance[row] == Stance.UPRIGHT:
            result[row] = _upright_on_face(shapes, row, share, settings)
        elif crossed and shapes.stance[row] == Stance.SLOPED:
            result[row] = (MemberRole.BRACE, f"sloped, runs across {_studs(crossed)} and {share}: let in")
        elif crossed:
            result[row] = (MemberRole.FURRING, f"level, runs across {_studs(crossed)} and {share}")
    return tuple(result)


def _studs(number: int) -> str:
    return f"{number} stud{'' if number == 1 else 's'}"


def _upright_on_face(shapes: Shapes, row: int, share: str, settings: FrameSettings) -> tuple[MemberRole, str] | None:
    """Furring where it stands before a stud, backing where it stands flat beside one, else None."""
    flat = shapes.across[row] > 1.2 * shapes.depth[row]
    if not flat and shapes.depth[row] >= settings.row_depth:
        return None
    others = (shapes.stance == Stance.UPRIGHT) & (shapes.depth > 1.2 * shapes.depth[row])
    others[row] = False
    covered = np.minimum(shapes.high[:, 0], shapes.high[row, 0]) - np.maximum(shapes.low[:, 0], shapes.low[row, 0])
    tall = np.minimum(shapes.high[:, 2], shapes.high[row, 2]) - np.maximum(shapes.low[:, 2], shapes.low[row, 2])
    width, height = shapes.high[row, [0, 2]] - shapes.low[row, [0, 2]]
    before = others & (covered >= 0.5 * np.minimum(width, shapes.across)) & (tall >= 0.5 * height)
    if before.any():
        return MemberRole.FURRING, f"upright, stands before a stud and {share}"
    if flat and shapes.along[row] > settings.block_length:
        return MemberRole.BACKING, f"stands flat, broader than deep, and {share}"
    return None
