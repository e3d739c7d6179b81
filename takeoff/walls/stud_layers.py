"""Stud layers in their final axes: outline, openings and the parts that reach into them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.clipping import clipped
from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import (
    Mesh,
    Prism,
    Solid,
    areal,
    as_mesh,
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
_EVENLY = 0.01
"""Relative; sections of an opening at equal distances from the middle of the studs that average its own area to this
change evenly with the depth."""
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
    """The part of the wall's body at 0 <= y <= depth, or None where the body does not reach there.

    A body that encloses nothing there (a mere surface) does not reach there either.
    """
    local = [moved(mesh, axes) for mesh in body]
    solids = [to_prism(mesh, _SNAP) or mesh for mesh in local]
    inside = [solid for solid in solids if _overlap(depth_range(solid), depth) > 0.2 * depth]
    if not inside:
        return None
    inside = [part for solid in inside if (part := _within(solid, depth)) is not None]
    if not inside:
        return None
    if len(inside) == 1:
        return inside[0]
    if all(isinstance(solid, Prism) for solid in inside):
        return Prism(areal(shapely.union_all([silhouette(solid) for solid in inside])), 0.0, depth)
    chosen: list[Solid] = []
    for solid in sorted(inside, key=lambda solid: -silhouette(solid).area):
        if all(_apart(solid, other) for other in chosen):
            chosen.append(solid)
    return joined(chosen)


def _apart(one: Solid, other: Solid) -> bool:
    """Whether two solids share no space: they lie in other depths, or beside each other in elevation."""
    (near, far), (other_near, other_far) = depth_range(one), depth_range(other)
    return min(far, other_far) - max(near, other_near) <= _SNAP or (
        silhouette(one).intersection(silhouette(other)).area < 1e-6
    )


def _within(solid: Solid, depth: float) -> Solid | None:
    """What lies in the depth of the studs: a prism over all of it where the section does not change there."""
    if isinstance(solid, Prism):
        return Prism(solid.outline, 0.0, depth)
    breaks = depth_breaks(solid, _SNAP)
    stepped = bool(((breaks > _SNAP) & (breaks < depth - _SNAP)).any())
    if not stepped and is_constant_between(solid, 0.0, depth, _SNAP):
        outline = section(solid, depth / 2.0)
        return None if outline.is_empty else Prism(outline, 0.0, depth)
    part = clipped(solid, 0.0, depth, _SNAP)
    near, far = depth_range(part) if len(part.faces) else (0.0, 0.0)
    return part if far > near and not section(part, 0.5 * (near + far)).is_empty else None


def joined(solids: Sequence[Solid]) -> Solid:
    """Solids that do not overlap, as one mesh."""
    if len(solids) == 1:
        return solids[0]
    meshes = [as_mesh(solid) for solid in solids]
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
    """What an opening may reach in wall axes, m: depth of the studs, nearest and farthest y of the whole wall, and the
    stud layer in elevation (x_min, z_min, x_max, z_max)."""

    depth: float
    near: float
    far: float
    elevation: tuple[float, float, float, float]


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
        here = [cut for mesh in local if (cut := _cut_of(mesh, reach)) is not None and _meets(cut, reach)]
        if not here:
            findings.append(_elsewhere(wall, opening))
            continue
        shallow = [_is_shallow(opening, cut, reach, parts) for cut in here]
        through = [cut.outline for cut, flag in zip(here, shallow, strict=True) if not flag]
        if through:
            found.append(_opening(opening, areal(shapely.union_all(through)), "opening element", None))
        recesses = [_in_studs(cut, reach) for cut, flag in zip(here, shallow, strict=True) if flag]
        for number, cut in enumerate(cut for cut in recesses if cut.y_max - cut.y_min > _SNAP):
            recess = _opening(opening, cut.outline, "recess in the wall", cut)
            found.append(replace(recess, opening_id=f"{opening.global_id}/{number + 1}"))
        if recesses:
            findings.append(_shallow_finding(wall, opening, recesses))
    return tuple(found), tuple(findings)


def _meets(cut: Prism, reach: Reach) -> bool:
    """Whether a cut shows in the stud layer's elevation: a groove that runs on round a corner is not in this wall."""
    x_min, z_min, x_max, z_max = cut.outline.bounds
    left, foot, right, top = reach.elevation
    return min(x_max, right) - max(x_min, left) > _SNAP and min(z_max, top) - max(z_min, foot) > _SNAP


def _in_studs(cut: Prism, reach: Reach) -> Prism:
    return Prism(cut.outline, max(cut.y_min, 0.0), min(cut.y_max, reach.depth))


def _shallow_finding(wall: ModelWall, opening: ModelOpening, recesses: Sequence[Prism]) -> Finding:
    """What an opening that does not go through takes: part of the studs' depth, or nothing of it."""
    deepest = max(cut.y_max - cut.y_min for cut in recesses)
    if deepest <= _SNAP:
        return _before_studs(wall, opening, sum(cut.outline.area for cut in recesses))
    return _recess(wall, opening, deepest)


def _opening(opening: ModelOpening, shape: Polygon | MultiPolygon, evidence: str, solid: Solid | None) -> Opening:
    return Opening(opening.global_id, shape, opening.filling_class, opening.filling_name, evidence, solid)


def _cut_of(mesh: Mesh, reach: Reach) -> Prism | None:
    """What one solid of an opening element takes of the wall: its outline there, and its own range of depth.

    A body that runs on past the wall, round a corner or aslant, counts only with what lies within the wall, and with
    what lies within the studs where it reaches them. None where it keeps away from the wall.
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
    return Prism(
        _outline_in_studs(mesh, max(low, 0.0), min(high, reach.depth)) or areal(shapely.union_all(cuts)),
        near if present[0] == depths[0] else present[0],
        far if present[-1] == depths[-1] else present[-1],
    )


def _outline_in_studs(mesh: Mesh, low: float, high: float) -> Polygon | MultiPolygon | None:
    """One outline for an opening that changes across the studs, or None where it does not reach them.

    Members around an opening are square to the wall. Where the section changes evenly (splayed reveals, a sloping sill,
    a wall that leans or bends about a straight opening) the one in the middle takes the same volume; where it changes
    in steps, all that is open at any depth is opening.
    """
    if high - low <= _SNAP:
        return None
    middle = section(mesh, 0.5 * (low + high))
    beside = [section(mesh, low + share * (high - low)) for share in (0.02, 0.25, 0.75, 0.98)]
    if middle.is_empty or any(cut.is_empty for cut in beside):
        return None
    areas = [cut.area for cut in beside]
    uneven = max(abs(areas[0] + areas[3] - 2.0 * middle.area), abs(areas[1] + areas[2] - 2.0 * middle.area))
    return middle if uneven <= _EVENLY * middle.area else areal(shapely.union_all([middle, *beside]))


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


def with_cut_openings_restored(outline: Solid, openings: Sequence[Opening], depth: float) -> tuple[Solid, float]:
    """The outline with those openings filled in again that its body already had cut out of it, and their area, m2.

    Else they would count as missing wall, not as openings.
    """
    shape = outline.outline if isinstance(outline, Prism) else section(outline, depth / 2.0)
    if shape.is_empty:
        return outline, 0.0
    missing = [
        gone
        for opening in openings
        if opening.solid is None and not opening.outline.is_empty
        if not (gone := _cut_away(shape, opening.outline)).is_empty
    ]
    if not missing:
        return outline, 0.0
    gone = areal(shapely.union_all(missing))
    if isinstance(outline, Mesh):
        return joined([outline, Prism(gone, 0.0, depth)]), gone.area
    whole = areal(shapely.union(shape, gone))
    closed = shapely.buffer(shapely.buffer(whole, _SNAP, join_style="mitre"), -_SNAP, join_style="mitre")
    return Prism(areal(closed) if len(polygons_of(closed)) < len(polygons_of(whole)) else whole, 0.0, depth), gone.area


def _cut_away(shape: Polygon | MultiPolygon, opening: Polygon | MultiPolygon) -> Polygon | MultiPolygon:
    """What an opening took of an elevation that already lacks it; empty where the elevation is whole there."""
    x_min, z_min, x_max, z_max = shape.bounds
    inside = areal(opening.intersection(shapely.box(x_min, z_min, x_max, z_max)))
    if inside.area <= 0.0 or inside.intersection(shape).area >= _ALREADY_CUT * inside.area:
        return Polygon()
    if not _cut_along(shape, inside):
        # A gable or a stepped wall may have been open there anyway: no more than lies between its own parts.
        inside = areal(inside.intersection(shapely.convex_hull(shape)))
    return areal(inside.difference(shape))


def _cut_along(shape: Polygon | MultiPolygon, opening: Polygon | MultiPolygon) -> bool:
    """Whether an elevation ends along the opening's edges, wherever these lie within the box around it."""
    x_min, z_min, x_max, z_max = shape.bounds
    core = shapely.box(x_min + _SNAP, z_min + _SNAP, x_max - _SNAP, z_max - _SNAP)
    edges = shapely.intersection(opening.boundary, core)
    shared = shapely.intersection(edges, shapely.buffer(shape.boundary, 10.0 * _SNAP))
    return edges.length > 0.0 and shared.length >= 0.9 * edges.length


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
    said = "is a recess" if opening.recess else "leaves part of the wall behind it and nothing fills it"
    advice = "" if opening.recess else " If it goes through the wall, have it made as deep as the wall in the model."
    return Finding(
        "recess-in-studs", Severity.INFO if opening.recess else Severity.WARNING,
        f"Opening {opening.name or opening.global_id} {said}; only its own depth was deducted.{advice}",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, depth, None, "m",
    )  # fmt: skip
