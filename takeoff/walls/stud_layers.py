"""Stud layers in their final axes: outline, parts that reach into them, and the material layers around them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, affinity

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
    section,
    silhouette,
    to_prism,
)
from takeoff.building import ModelPart
from takeoff.framing.frame_depth import is_panel
from takeoff.framing.frame_outline import outline_of_frame
from takeoff.framing.role_words import is_service
from takeoff.model import Layer, StudLayer
from takeoff.walls.measured import frame_solids
from takeoff.walls.slots import Slot

_SNAP = 1e-6
"""m; depths of one face agree within this after tessellation and turning."""
_ROUNDING = 1e-9
"""m; what tessellation and turning leave of a zero."""
_LOOKS = 7
"""Depths at which a part of another wall is held against a body that is no prism."""
_LEAST_SHARED = 1e-6
"""m2; a part that shares less of the elevation only touches it."""


def final_axes(raw: LocalAxes, slot: Slot, side: int, solids: Iterable[Solid]) -> LocalAxes:
    """Wall axes of a stud layer: y = 0 at its fill face, x = 0 and z = 0 at the lowest of the solids (raw axes, m).

    Along a curved wall x is the arc length at the middle of the studs.
    """
    boxes = np.array([bounds(solid) for solid in solids])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
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


def reaching_in(
    parts: tuple[ModelPart, ...], outline: Solid, elevation: Polygon | MultiPolygon, wall_id: str
) -> tuple[ModelPart, ...]:
    """Parts without those of other walls that only stand beside the layer: in a notch, over a rake, past a mitre."""
    return tuple(
        part
        for part in parts
        if part.wall_id in ("", wall_id) or any(_shares(solid, outline, elevation) for solid in part.solids)
    )


def _shares(solid: Mesh, outline: Solid, elevation: Polygon | MultiPolygon) -> bool:
    """Whether a solid shares elevation with a stud layer; at one depth, where its body changes with the depth."""
    if silhouette(solid).intersection(elevation).area <= _LEAST_SHARED:
        return False
    if isinstance(outline, Prism):
        return True
    (near, far), (own_near, own_far) = depth_range(solid), depth_range(outline)
    near, far = max(near, own_near), min(far, own_far)
    depths = np.linspace(near, far, _LOOKS + 2)[1:-1].tolist()
    return any(section(solid, y).intersection(section(outline, y)).area > _LEAST_SHARED for y in depths)


def frame_outline_solid(parts: Sequence[ModelPart], depth: float) -> Solid | None:
    """Outline of a wall without a body, from its members in wall axes; None where there is no member."""
    framing = [part for part in parts if not is_service(part.ifc_class, part.name, part.type_name)]
    solids: list[Solid] = [to_prism(mesh, _SNAP) or mesh for mesh in frame_solids(framing)]
    members = [solid for solid in solids if not is_panel(solid)]
    shapes = [shape for solid in members or solids if not (shape := silhouette(solid)).is_empty]
    if not shapes:
        return None
    return Prism(outline_of_frame(shapes), 0.0, depth)


def part_outline(outline: Polygon, side: int, depth: float) -> Prism:
    """Outline of a part of a frame that has a depth of its own, in its wall axes. outline: raw (x, z), m."""
    x_min, z_min, x_max, _ = outline.bounds
    zero, way = (np.array([x_min, z_min]), 1.0) if side == 0 else (np.array([x_max, z_min]), -1.0)
    return Prism(shapely.transform(outline, lambda points: (points - zero) * np.array([way, 1.0])), 0.0, depth)


def layers_in(layers: Sequence[Layer], slot: Slot, side: int) -> tuple[Layer, ...]:
    """Layers in wall axes, from the fill side to the far side."""
    if side == 0:
        return tuple(replace(layer, y_min=layer.y_min - slot.low, y_max=layer.y_max - slot.low) for layer in layers)
    return tuple(
        replace(layer, y_min=slot.high - layer.y_max, y_max=slot.high - layer.y_min) for layer in reversed(layers)
    )


def with_zero_moved(layer: StudLayer, along: float, up: float) -> StudLayer:
    """A stud layer with its zero moved along and up, m, so that x = 0 and z = 0 are its own ends after a cut."""
    if abs(along) < _ROUNDING and abs(up) < _ROUNDING:
        return layer
    step = np.array([along, 0.0, up])
    return replace(
        layer,
        axes=layer.axes.shifted(step),
        outline=_stepped_back(layer.outline, step),
        openings=tuple(
            replace(
                opening,
                outline=affinity.translate(opening.outline, -along, -up),
                solid=None if opening.solid is None else _stepped_back(opening.solid, step),
            )
            for opening in layer.openings
        ),
        parts=tuple(
            replace(part, solids=tuple(Mesh(mesh.vertices - step, mesh.faces) for mesh in part.solids))
            for part in layer.parts
        ),
    )


def _stepped_back(solid: Solid, step: NDArray[np.float64]) -> Solid:
    if isinstance(solid, Mesh):
        return Mesh(solid.vertices - step, solid.faces)
    return Prism(affinity.translate(solid.outline, -step[0], -step[2]), solid.y_min, solid.y_max)
