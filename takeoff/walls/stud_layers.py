"""Stud layers in their final axes: outline, openings and the parts that reach into them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.frames import Axes
from geometry.solids import (
    Mesh,
    Prism,
    Solid,
    areal,
    bounds,
    depth_range,
    moved,
    polygons_of,
    silhouette,
    to_prism,
)
from takeoff.framing.frame_depth import is_panel
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.model import Finding, Layer, ModelOpening, ModelPart, ModelWall, Opening, Severity

_SNAP = 1e-6
"""m; depths of one face agree within this after tessellation and turning."""
_NEAR = 0.6
"""m; an opening element farther than this from the wall's body belongs to something else."""
_BEHIND = 0.02
"""m; where an opening leaves more than this of the wall behind it, and nothing fills it, it is a recess."""
_ALREADY_CUT = 0.5
"""An opening of which less than this share is solid in the wall's body was cut out of the body already."""


@dataclass(frozen=True, slots=True)
class Slot:
    """The range of depth that one layer of studs takes, in raw axes, m, and its number among the layers (or None)."""

    low: float
    high: float
    number: int | None


def final_axes(raw: Axes, slot: Slot, side: int, meshes: Iterable[Mesh]) -> Axes:
    """Wall axes of a stud layer: y = 0 at its fill face, x = 0 and z = 0 at the lowest of the meshes (raw axes, m)."""
    low = np.min([bounds(mesh)[0] for mesh in meshes], axis=0)
    high = np.max([bounds(mesh)[1] for mesh in meshes], axis=0)
    if side == 0:
        return raw.shifted([low[0], slot.low, low[2]])
    return raw.shifted([high[0], slot.high, low[2]]).turned_about()


def body_outline(body: Sequence[Mesh], axes: Axes, depth: float) -> Solid | None:
    """The part of the wall's body at 0 <= y <= depth, or None where the body does not reach there."""
    local = [moved(mesh, axes) for mesh in body]
    solids = [to_prism(mesh, _SNAP) or mesh for mesh in local]
    inside = [solid for solid in solids if _overlap(depth_range(solid), depth) > 0.2 * depth]
    if not inside:
        return None
    if len(inside) == 1:
        solid = inside[0]
        return Prism(solid.outline, 0.0, depth) if isinstance(solid, Prism) else solid
    if all(isinstance(solid, Prism) for solid in inside):
        return Prism(areal(shapely.union_all([silhouette(solid) for solid in inside])), 0.0, depth)
    largest = max(inside, key=lambda solid: silhouette(solid).area)
    touching = [s for s in inside if s is not largest and silhouette(s).intersection(silhouette(largest)).area < 1e-6]
    return joined([largest, *touching])


def joined(solids: Sequence[Solid]) -> Solid:
    """Solids that do not overlap, as one mesh."""
    if len(solids) == 1:
        return solids[0]
    meshes = [solid for solid in solids if isinstance(solid, Mesh)]
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return Mesh(
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate([mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]),
    )


def _overlap(ranged: tuple[float, float], depth: float) -> float:
    return min(ranged[1], depth) - max(ranged[0], 0.0)


def frame_solids(parts: Iterable[ModelPart]) -> list[Mesh]:
    """All solids of parts, in the axes that the parts are in."""
    return [solid for part in parts for solid in part.solids]


def parts_in(parts: Iterable[ModelPart], axes: Axes, box: NDArray[np.float64]) -> tuple[ModelPart, ...]:
    """Parts with their solids in wall axes, those solids dropped that do not reach into the box (2, 3), m."""
    found: list[ModelPart] = []
    for part in parts:
        local = [moved(solid, axes) for solid in part.solids]
        reaching = tuple(mesh for mesh in local if _shares_space(bounds(mesh), box))
        if reaching:
            found.append(replace(part, solids=reaching))
    return tuple(found)


def _shares_space(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    return bool((np.minimum(one[1], other[1]) - np.maximum(one[0], other[0]) > 1e-4).all())


def frame_outline_solid(parts: Sequence[ModelPart], depth: float) -> Solid | None:
    """Outline of a wall without a body, from its members in wall axes; None where there is no member."""
    solids: list[Solid] = [to_prism(mesh, _SNAP) or mesh for mesh in frame_solids(parts)]
    members = [solid for solid in solids if not is_panel(solid)]
    shapes = [shape for solid in members or solids if not (shape := silhouette(solid)).is_empty]
    if not shapes:
        return None
    return Prism(outline_of_frame(shapes), 0.0, depth)


def openings_in(
    wall: ModelWall, openings: Iterable[ModelOpening], axes: Axes, depth: float, body: tuple[float, float]
) -> tuple[tuple[Opening, ...], tuple[Finding, ...]]:
    """Openings of a stud layer in wall axes.

    body: nearest and farthest y of the whole wall, wall axes, m. The silhouette of an opening element decides, however
    little of the depth it takes; only one that nothing fills and that leaves part of the wall standing behind it (or
    that the model calls a recess) is taken for a recess.
    """
    found: list[Opening] = []
    findings: list[Finding] = []
    for opening in openings:
        if opening.problem or not opening.solids:
            findings.append(_unreadable(wall, opening))
            continue
        local = [moved(mesh, axes) for mesh in opening.solids]
        shape = areal(shapely.union_all([silhouette(mesh) for mesh in local]))
        near, far = min(depth_range(mesh)[0] for mesh in local), max(depth_range(mesh)[1] for mesh in local)
        if shape.is_empty or near > body[1] + _NEAR or far < body[0] - _NEAR:
            findings.append(_elsewhere(wall, opening))
            continue
        recess = _is_recess(opening, near, far, body, depth)
        if recess and (near >= depth - _SNAP or far <= _SNAP):
            continue  # a recess in another layer takes nothing of the studs
        solid = Prism(shape, max(near, 0.0), min(far, depth)) if recess else None
        found.append(
            Opening(
                opening.global_id, shape, opening.filling_class, opening.filling_name,
                "recess in the wall" if recess else "opening element", solid,
            )
        )  # fmt: skip
        if recess:
            findings.append(_recess(wall, opening, far - near))
    return tuple(found), tuple(findings)


def _is_recess(opening: ModelOpening, near: float, far: float, body: tuple[float, float], depth: float) -> bool:
    """Whether an opening element only takes part of the depth, for good.

    near, far: its own range of y; body: that of the wall; depth: of the studs, all m in wall axes. Architects' programs
    give openings any depth, so one that reaches a face of the wall and most of the studs, that something fills, or that
    lies clear of the studs, still means a hole. What the model calls a recess, or what leaves a good part of the studs
    and the wall standing behind it with nothing in it, is a recess.
    """
    if far >= body[1] - _BEHIND and near <= body[0] + _BEHIND:
        return False
    if opening.recess:
        return True
    if opening.filling_class or far <= _SNAP or near >= depth - _SNAP:
        return False
    left = depth - (min(far, depth) - max(near, 0.0))
    return left > max(_BEHIND, 0.25 * depth) and (far < body[1] - _BEHIND or near > body[0] + _BEHIND)


def with_cut_openings_restored(outline: Solid, openings: Sequence[Opening]) -> Solid:
    """The outline with those openings filled in again that its body already had cut out of it.

    Else they would count as missing wall, not as openings. Only a prism can be mended this way; a mesh stays as it is.
    """
    if not isinstance(outline, Prism):
        return outline
    shape: Polygon | MultiPolygon = outline.outline
    x_min, z_min, x_max, z_max = shape.bounds
    whole = shapely.box(x_min, z_min, x_max, z_max)
    hull = shapely.convex_hull(shape)
    for opening in openings:
        if opening.solid is not None or opening.outline.is_empty:
            continue
        inside = areal(opening.outline.intersection(whole).intersection(hull))
        if inside.area > 0.0 and inside.intersection(shape).area < _ALREADY_CUT * inside.area:
            shape = areal(shapely.union(shape, inside))
    if shape is outline.outline:
        return outline
    closed = shapely.buffer(shapely.buffer(shape, _SNAP, join_style="mitre"), -_SNAP, join_style="mitre")
    return Prism(areal(closed) if len(polygons_of(closed)) < len(polygons_of(shape)) else shape, 0.0, outline.y_max)


def layers_in(layers: Sequence[Layer], slot: Slot, side: int) -> tuple[Layer, ...]:
    """Layers in wall axes, from the fill side to the far side."""
    if side == 0:
        return tuple(replace(layer, y_min=layer.y_min - slot.low, y_max=layer.y_max - slot.low) for layer in layers)
    return tuple(
        replace(layer, y_min=slot.high - layer.y_max, y_max=slot.high - layer.y_min) for layer in reversed(layers)
    )


def _unreadable(wall: ModelWall, opening: ModelOpening) -> Finding:
    return Finding(
        "opening-not-read", Severity.ERROR,
        f"Opening {opening.name or opening.global_id} has no usable shape ({opening.problem or 'no body'}), so the "
        "wall is counted as if it were not there; have its body mended in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name,
    )  # fmt: skip


def _elsewhere(wall: ModelWall, opening: ModelOpening) -> Finding:
    return Finding(
        "opening-away-from-wall", Severity.WARNING,
        f"Opening {opening.name or opening.global_id} lies away from the wall that it belongs to and was not deducted; "
        "have it moved or removed in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name,
    )  # fmt: skip


def _recess(wall: ModelWall, opening: ModelOpening, depth: float) -> Finding:
    return Finding(
        "recess-in-studs", Severity.WARNING,
        f"Opening {opening.name or opening.global_id} leaves part of the wall behind it and nothing fills it; only its "
        "own depth was deducted. If it goes through the wall, have it made as deep as the wall in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, depth, None, "m",
    )  # fmt: skip
