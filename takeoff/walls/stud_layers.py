"""Stud layers in their final axes: outline, openings and the parts that reach into them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import (
    Mesh,
    Prism,
    Solid,
    areal,
    bounds,
    depth_breaks,
    depth_range,
    is_constant_between,
    moved,
    polygons_of,
    section,
    silhouette,
    to_prism,
)
from takeoff.framing.frame_depth import is_panel
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.framing.role_words import is_service
from takeoff.model import Finding, Layer, ModelOpening, ModelPart, ModelWall, Opening, Severity

_SNAP = 1e-6
"""m; depths of one face agree within this after tessellation and turning."""
_NEAR = 0.6
"""m; an opening element farther than this from the wall's body belongs to something else."""
_BEHIND = 0.02
"""m; where an opening leaves more than this of the wall behind it, and nothing fills it, it is a recess."""
_LOOKS = 9
"""Depths at which the body of an odd opening is looked at within the wall."""
_ALREADY_CUT = 0.5
"""An opening of which less than this share is solid in the wall's body was cut out of the body already."""


@dataclass(frozen=True, slots=True)
class Slot:
    """The range of depth that one layer of studs takes, in raw axes, m, and its number among the layers (or None)."""

    low: float
    high: float
    number: int | None


def final_axes(raw: LocalAxes, slot: Slot, side: int, meshes: Iterable[Mesh]) -> LocalAxes:
    """Wall axes of a stud layer: y = 0 at its fill face, x = 0 and z = 0 at the lowest of the meshes (raw axes, m).

    Along a curved wall x is the arc length at the middle of the studs.
    """
    low = np.min([bounds(mesh)[0] for mesh in meshes], axis=0)
    high = np.max([bounds(mesh)[1] for mesh in meshes], axis=0)
    if side == 0:
        axes = raw.shifted([low[0], slot.low, low[2]])
    else:
        axes = raw.shifted([high[0], slot.high, low[2]]).turned_about()
    return axes.true_at((slot.high - slot.low) / 2.0) if isinstance(axes, Developed) else axes


def body_outline(body: Sequence[Mesh], axes: LocalAxes, depth: float) -> Solid | None:
    """The part of the wall's body at 0 <= y <= depth, or None where the body does not reach there."""
    local = [moved(mesh, axes) for mesh in body]
    solids = [to_prism(mesh, _SNAP) or mesh for mesh in local]
    inside = [solid for solid in solids if _overlap(depth_range(solid), depth) > 0.2 * depth]
    if not inside:
        return None
    inside = [_within(solid, depth) for solid in inside]
    if len(inside) == 1:
        return inside[0]
    if all(isinstance(solid, Prism) for solid in inside):
        return Prism(areal(shapely.union_all([silhouette(solid) for solid in inside])), 0.0, depth)
    largest = max(inside, key=lambda solid: silhouette(solid).area)
    touching = [s for s in inside if s is not largest and silhouette(s).intersection(silhouette(largest)).area < 1e-6]
    return joined([largest, *touching])


def _within(solid: Solid, depth: float) -> Solid:
    """The solid as a prism over the whole depth of the studs, where its section does not change there."""
    if isinstance(solid, Prism):
        return Prism(solid.outline, 0.0, depth)
    breaks = depth_breaks(solid, _SNAP)
    stepped = bool(((breaks > _SNAP) & (breaks < depth - _SNAP)).any())
    if stepped or not is_constant_between(solid, 0.0, depth, _SNAP):
        return solid
    outline = section(solid, depth / 2.0)
    return solid if outline.is_empty else Prism(outline, 0.0, depth)


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


def parts_in(parts: Iterable[ModelPart], axes: LocalAxes, box: NDArray[np.float64]) -> tuple[ModelPart, ...]:
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
    framing = [part for part in parts if not is_service(part.ifc_class, part.name, part.type_name)]
    solids: list[Solid] = [to_prism(mesh, _SNAP) or mesh for mesh in frame_solids(framing)]
    members = [solid for solid in solids if not is_panel(solid)]
    shapes = [shape for solid in members or solids if not (shape := silhouette(solid)).is_empty]
    if not shapes:
        return None
    return Prism(outline_of_frame(shapes), 0.0, depth)


@dataclass(frozen=True, slots=True)
class Reach:
    """What an opening may reach in wall axes, m: depth of the studs, and nearest and farthest y of the whole wall."""

    depth: float
    near: float
    far: float


def openings_in(
    wall: ModelWall, axes: LocalAxes, reach: Reach, parts: Sequence[ModelPart]
) -> tuple[tuple[Opening, ...], tuple[Finding, ...]]:
    """Openings of a stud layer in wall axes, with what was found about them.

    parts: modelled members in wall axes. Architects' programs give opening elements any depth, so one that lies before
    the studs or reaches only part of them can still mean a hole. What decides is what stays behind it: nothing where it
    goes through or something fills it, the members where the wall has a frame, else the wall's own body.
    """
    found: list[Opening] = []
    findings: list[Finding] = []
    for opening in wall.openings:
        if opening.problem or not opening.solids:
            findings.append(_unreadable(wall, opening))
            continue
        local = [moved(mesh, axes) for mesh in opening.solids]
        here = [cut for mesh in local if (cut := _cut_of(mesh, reach)) is not None]
        if not here:
            findings.append(_elsewhere(wall, opening))
            continue
        shallow = [_is_shallow(opening, cut, reach, parts) for cut in here]
        through = [cut.outline for cut, flag in zip(here, shallow, strict=True) if not flag]
        if through:
            found.append(_opening(opening, areal(shapely.union_all(through)), "opening element", None))
        for number, cut in enumerate(cut for cut, flag in zip(here, shallow, strict=True) if flag):
            low, high = max(cut.y_min, 0.0), min(cut.y_max, reach.depth)
            if high - low <= _SNAP:
                findings.append(_before_studs(wall, opening, cut.outline.area))
                continue
            recess = _opening(opening, cut.outline, "recess in the wall", Prism(cut.outline, low, high))
            found.append(replace(recess, opening_id=f"{opening.global_id}/{number + 1}"))
            findings.append(_recess(wall, opening, high - low))
    return tuple(found), tuple(findings)


def _opening(opening: ModelOpening, shape: Polygon | MultiPolygon, evidence: str, solid: Solid | None) -> Opening:
    return Opening(opening.global_id, shape, opening.filling_class, opening.filling_name, evidence, solid)


def _cut_of(mesh: Mesh, reach: Reach) -> Prism | None:
    """What one solid of an opening element takes of the wall: its silhouette there, and its own range of depth.

    A body that runs on past the wall, round a corner or aslant, counts only with what lies within the wall. None where
    it keeps away from it.
    """
    near, far = depth_range(mesh)
    if near > reach.far + _NEAR or far < reach.near - _NEAR:
        return None
    prism = to_prism(mesh, _SNAP)
    if prism is not None:
        return prism
    low, high = max(near, reach.near), min(far, reach.far)
    if high - low <= _SNAP:
        shape = silhouette(mesh)
        return None if shape.is_empty else Prism(shape, near, far)
    depths = np.linspace(low + 1e-7, high - 1e-7, _LOOKS)
    cuts = [section(mesh, float(depth)) for depth in depths]
    present = [depth for depth, cut in zip(depths.tolist(), cuts, strict=True) if not cut.is_empty]
    if not present:
        return None
    shape = areal(shapely.union_all(cuts))
    return Prism(
        shape, near if present[0] == depths[0] else present[0], far if present[-1] == depths[-1] else present[-1]
    )


def _is_shallow(opening: ModelOpening, cut: Prism, reach: Reach, parts: Sequence[ModelPart]) -> bool:
    """Whether one solid of an opening element takes only part of the depth, for good."""
    near, far = cut.y_min, cut.y_max
    if far >= reach.far - _BEHIND and near <= reach.near + _BEHIND:
        return False
    if opening.recess:
        return True
    if opening.filling_class:
        return False
    left = reach.depth - max(0.0, min(far, reach.depth) - max(near, 0.0))
    if left <= max(_BEHIND, 0.25 * reach.depth):
        return False
    if parts:
        return _members_stay(cut.outline, parts)
    return min(far, reach.far) - max(near, reach.near) > _SNAP


def _members_stay(shape: Polygon | MultiPolygon, parts: Sequence[ModelPart]) -> bool:
    """Whether members of the frame stand in an opening's silhouette."""
    core = shapely.buffer(shape, -0.02, join_style="mitre")
    solids = [solid for part in parts for solid in part.solids]
    shapes = [outline for solid in solids if not is_panel(solid) and not (outline := silhouette(solid)).is_empty]
    return bool(shapes) and shapely.union_all(shapes).intersection(core).area > 0.02 * shape.area


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


def _before_studs(wall: ModelWall, opening: ModelOpening, area: float) -> Finding:
    return Finding(
        "opening-clear-of-studs", Severity.WARNING if area > 0.05 else Severity.INFO,
        f"Opening {opening.name or opening.global_id} cuts only layers before or behind the studs and nothing fills "
        "it, so the studs were taken to run on. If it is a door or window, have it made as deep as the wall.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, area, None, "m2",
    )  # fmt: skip


def _recess(wall: ModelWall, opening: ModelOpening, depth: float) -> Finding:
    return Finding(
        "recess-in-studs", Severity.WARNING,
        f"Opening {opening.name or opening.global_id} leaves part of the wall behind it and nothing fills it; only its "
        "own depth was deducted. If it goes through the wall, have it made as deep as the wall in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, depth, None, "m",
    )  # fmt: skip
