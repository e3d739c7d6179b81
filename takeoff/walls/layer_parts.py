"""Parts that are the bodies of whole layers: a layered wall is often exported as one part per layer, or more.

They are no members. A wall without a body of its own has them for its body, and a wall that names no layers, with a
body or without, has them for its layers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.errors import GEOSException

from geometry.frames import Axes
from geometry.solids import Mesh, areal, bounds, depth_range, moved, silhouette
from takeoff.building import Model, ModelLayer, ModelLayers, ModelPart, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_depth import is_panel
from takeoff.walls.wall_axes import raw_axes

_COVERS = 0.85
"""A part that covers this share of a wall's elevation, openings aside, is a layer; a frame covers a third at most."""
_SPANS = 0.8
"""Share of the wall's length and height that a layer's body reaches over at least: a quick look first."""
_BOARD = 0.03
"""m; a thinner sheet may be a board that really parts the studs, so it stays a part."""
_FEWEST_MEMBERS = 3
_TOUCH = 0.001
"""m; wider gaps between the bodies of layers are layers of air."""


def with_layer_parts_told(model: Model) -> Model:
    """The model with the bodies of layers taken from among the parts of its walls, and findings that say so."""
    walls: list[ModelWall] = []
    findings: list[Finding] = []
    for wall in model.walls:
        told, found = _safely_told(wall)
        walls.append(told)
        findings += found
    if not findings:
        return model
    return replace(model, walls=tuple(walls), findings=(*model.findings, *findings))


@dataclass(frozen=True, slots=True, eq=False)
class _LayerPart:
    """A part with its solids, range of depth and elevation in raw axes, m."""

    part: ModelPart
    near: float
    far: float
    elevation: Polygon | MultiPolygon


def _may_have_layer_parts(wall: ModelWall) -> bool:
    solids = [*wall.body, *(solid for part in wall.parts for solid in part.solids)]
    if not any(part.solids for part in wall.parts) or wall.problem or wall.cylinder is not None:
        return False
    whole = _extent(solids)
    return any(bool((_extent(part.solids) >= _SPANS * whole).all()) for part in wall.parts if part.solids)


def _extent(solids: Sequence[Mesh]) -> NDArray[np.float64]:
    """Diagonal in plan and height of the box around solids, (2,) m."""
    points = np.concatenate([solid.vertices for solid in solids])
    spans = np.ptp(points, axis=0)
    return np.array([float(np.hypot(spans[0], spans[1])), float(spans[2])])


def _safely_told(wall: ModelWall) -> tuple[ModelWall, tuple[Finding, ...]]:
    try:
        return _told(wall) if _may_have_layer_parts(wall) else (wall, ())
    except (GEOSException, ValueError, ArithmeticError):
        # Whatever is wrong with its geometry is told when the wall itself is taken off.
        return wall, ()


def _told(wall: ModelWall) -> tuple[ModelWall, tuple[Finding, ...]]:
    meshes = wall.body or tuple(solid for part in wall.parts for solid in part.solids)
    direction = wall.layers.direction if wall.layers is not None else None
    axes = raw_axes(meshes, wall.placement, direction)
    if axes is None:
        return wall, ()
    found = _layer_parts(wall, axes, meshes)
    deep = [layer for layer in found if layer.far - layer.near >= _BOARD]
    if not deep:
        return wall, ()
    rest = _without(wall.parts, found)
    if _members(rest, axes) >= _FEWEST_MEMBERS or (wall.body and wall.layers is not None):
        # The frame is modelled: it says where the studs are, and what covers it lies before or behind it. Or the wall
        # has both a body and layers of its own, which the parts only repeat.
        return replace(wall, parts=_without(wall.parts, deep)), (_finding(wall, deep),)
    body = wall.body or tuple(solid for layer in found for solid in layer.part.solids)
    layers = wall.layers or _layers(found, axes, wall.placement)
    return replace(wall, body=body, layers=layers, parts=rest), (_finding(wall, found),)


def _without(parts: Sequence[ModelPart], layers: Sequence[_LayerPart]) -> tuple[ModelPart, ...]:
    return tuple(part for part in parts if all(part is not layer.part for layer in layers))


def _members(parts: Sequence[ModelPart], axes: Axes) -> int:
    return sum(not is_panel(moved(solid, axes)) for part in parts for solid in part.solids)


def _layer_parts(wall: ModelWall, axes: Axes, meshes: Sequence[Mesh]) -> list[_LayerPart]:
    """Parts that cover the wall's elevation, nearest first."""
    elevation = areal(shapely.union_all([silhouette(moved(mesh, axes)) for mesh in meshes]))
    if not wall.body:
        # What bays lie between members belongs to the wall, or a frame drawn as one part would cover all of it.
        elevation = areal(shapely.convex_hull(elevation))
    holes = [silhouette(moved(solid, axes)) for opening in wall.openings for solid in opening.solids]
    net = areal(shapely.difference(elevation, shapely.union_all(holes))) if holes else elevation
    found: list[_LayerPart] = []
    for part in wall.parts:
        if not part.solids:
            continue
        local = [moved(solid, axes) for solid in part.solids]
        boxes = np.array([bounds(mesh) for mesh in local])
        spans = boxes[:, 1].max(axis=0) - boxes[:, 0].min(axis=0)
        x_min, z_min, x_max, z_max = elevation.bounds
        if spans[0] < _SPANS * (x_max - x_min) or spans[2] < _SPANS * (z_max - z_min):
            continue
        shape = areal(shapely.union_all([silhouette(mesh) for mesh in local]))
        if shape.intersection(net).area >= _COVERS * net.area > 0.0:
            ranges = [depth_range(mesh) for mesh in local]
            found.append(_LayerPart(part, min(r[0] for r in ranges), max(r[1] for r in ranges), shape))
    return sorted(found, key=lambda layer: (layer.near, layer.far))


def _layers(found: Sequence[_LayerPart], axes: Axes, placement: NDArray[np.float64]) -> ModelLayers:
    """Layers as the bodies show them, with air where they leave a gap. placement: (4, 4) float64, of the wall."""
    layers: list[ModelLayer] = []
    reached = found[0].near
    for each in found:
        if each.near - reached > _TOUCH:
            layers.append(ModelLayer("air", "", each.near - reached))
        layers.append(ModelLayer(each.part.material or each.part.name, "", each.far - each.near, each.part.name))
        reached = max(reached, each.far)
    # A body of the wall's own may be thicker than its parts: the offset says where the first of them begins.
    offset = found[0].near - float(axes.to_local(placement[:3, 3][None])[0, 1])
    return ModelLayers(tuple(layers), axes.directions[1], offset)


def _finding(wall: ModelWall, layers: Sequence[_LayerPart]) -> Finding:
    named = ", ".join(layer.part.name or layer.part.global_id for layer in layers[:3])
    more = f" and {len(layers) - 3} more" if len(layers) > 3 else ""
    return Finding(
        "part-is-whole-layer", Severity.INFO,
        f"{named}{more}: such parts cover the whole wall, so they were taken for the bodies of its layers, not for "
        "members of a frame.",
        wall.global_id, layers[0].part.global_id, layers[0].part.ifc_class, layers[0].part.name,
    )  # fmt: skip
