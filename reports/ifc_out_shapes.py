"""Solids in wall axes as IFC bodies: swept where they are prisms, faceted where nothing else is exact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.cylinders import Developed, divided
from geometry.frames import LocalAxes
from geometry.solids import Mesh, Prism, Solid, extruded, moved_to_world, polygons_of
from reports.ifc_out_target import ModelTarget

_RISE = 0.0005
"""m; chords of a bent body lie no farther inside its arc. The reader takes chords up to 1 mm for the arc itself."""
_CHORD = 0.0002
"""m; the same for bodies with slanting edges, which bend into curves that no extrusion has."""
_SQUARE = 1e-9
"""m; corners of a rectangle agree to this."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where bodies of one stud layer are drawn: wall axes, or the world's directions at a point for a bent wall.

    axes: of the stud layer. origin: (3,), m, world. directions: (3, 3), rows x, y, z of the body's own axes.
    """

    axes: LocalAxes
    origin: Points
    directions: Points

    @property
    def matrix(self) -> Points:
        """(4, 4), m: the body's axes in the world."""
        made = np.eye(4)
        made[:3, :3], made[:3, 3] = self.directions.T, self.origin
        return made

    def own(self, world: Points) -> Points:
        """World points (n, 3) in the body's axes."""
        return (world - self.origin) @ self.directions.T


def place_of(axes: LocalAxes) -> Place:
    """Where the bodies of a stud layer with these axes are drawn."""
    if isinstance(axes, Developed):
        return Place(axes, np.asarray(axes.origin), np.eye(3))
    return Place(axes, np.asarray(axes.origin), np.asarray(axes.directions))


def body(target: ModelTarget, context: Any, place: Place, solids: Sequence[Solid]) -> Any:
    """The shape of an element with these solids (wall axes, m) for its body."""
    items = [item for solid in solids for item in _items(target, place, solid)]
    kinds = {item.is_a() for item in items}
    kind = {frozenset({"IfcExtrudedAreaSolid"}): "SweptSolid", frozenset({"IfcFacetedBrep"}): "Brep"}
    representation = target.new(
        "IfcShapeRepresentation",
        ContextOfItems=context,
        RepresentationIdentifier="Body",
        RepresentationType=kind.get(frozenset(kinds), "SolidModel"),
        Items=items,
    )
    return target.new("IfcProductDefinitionShape", Representations=[representation])


def _items(target: ModelTarget, place: Place, solid: Solid) -> list[Any]:
    if isinstance(solid, Mesh):
        axes = place.axes
        world = _bent_mesh(solid, axes) if isinstance(axes, Developed) else moved_to_world(solid, axes)
        return [_brep(target, place, world)]
    parts = polygons_of(shapely.normalize(solid.outline))
    if isinstance(place.axes, Developed):
        return [_bent(target, place, place.axes, part, solid) for part in parts]
    return [_across(target, part, solid.y_min, solid.y_max) for part in parts]


def _across(target: ModelTarget, outline: Polygon, near: float, far: float) -> Any:
    """A section in elevation, drawn as it is seen, swept from its far depth towards the viewer."""
    towards = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    return target.new(
        "IfcExtrudedAreaSolid",
        SweptArea=_profile(target, outline),
        Position=target.axes(np.array([0.0, far, 0.0]), towards),
        ExtrudedDirection=target.direction(np.array([0.0, 0.0, 1.0])),
        Depth=target.length(far - near),
    )


def _profile(target: ModelTarget, outline: Polygon) -> Any:
    shape = shapely.orient_polygons(outline)
    outer = _polyline(target, shapely.get_coordinates(shape.exterior))
    if not shape.interiors:
        return target.new("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=outer)
    return target.new(
        "IfcArbitraryProfileDefWithVoids",
        ProfileType="AREA",
        OuterCurve=outer,
        InnerCurves=[_polyline(target, shapely.get_coordinates(ring)) for ring in shape.interiors],
    )


def _polyline(target: ModelTarget, ring: Points) -> Any:
    """A closed ring (n, 2), m, its last point the first one again, as one and the same entity."""
    points = [target.point(*point) for point in ring[:-1].tolist()]
    return target.new("IfcPolyline", Points=[*points, points[0]])


def _bent(target: ModelTarget, place: Place, axes: Developed, outline: Polygon, prism: Prism) -> Any:
    """A prism of a rolled-out wall where it really stands: a ring sector swept upwards, or facets."""
    x_min, z_min, x_max, z_max = outline.bounds
    if outline.interiors or abs(outline.area - (x_max - x_min) * (z_max - z_min)) > _SQUARE:
        flat = extruded(outline, prism.y_min, prism.y_max)
        return _brep(target, place, _bent_mesh(flat, axes))
    radii = axes.face + (1.0 if axes.outward else -1.0) * np.array([prism.y_min, prism.y_max])
    step = 2.0 * np.arccos(1.0 - _RISE / float(radii.max())) * axes.radius
    along = np.linspace(x_min, x_max, max(int(np.ceil((x_max - x_min) / step)), 1) + 1)
    near = np.stack([along, np.full_like(along, prism.y_min), np.full_like(along, z_min)], axis=1)
    far = near[::-1] * np.array([1.0, 0.0, 1.0]) + np.array([0.0, prism.y_max, 0.0])
    ring = place.own(axes.to_world(np.concatenate([near, far])))
    section = Polygon(ring[:, :2])
    return target.new(
        "IfcExtrudedAreaSolid",
        SweptArea=_profile(target, section),
        Position=target.axes(np.array([0.0, 0.0, float(ring[0, 2])]), np.eye(3)),
        ExtrudedDirection=target.direction(np.array([0.0, 0.0, 1.0])),
        Depth=target.length(z_max - z_min),
    )


def _bent_mesh(flat: Mesh, axes: Developed) -> Mesh:
    """A rolled-out solid in the world, with corners enough to bend."""

    def bends(ends: Points) -> NDArray[np.bool_]:
        middles = axes.to_world(ends.reshape(-1, 3)).reshape(-1, 2, 3).mean(axis=1)
        return np.linalg.norm(axes.to_world(ends.mean(axis=1)) - middles, axis=1) > _CHORD

    return moved_to_world(divided(flat, bends), axes)


def _brep(target: ModelTarget, place: Place, world: Mesh) -> Any:
    """A closed mesh in the world as a faceted solid; faces look outwards."""
    own = place.own(world.vertices)
    corners = own[world.faces] - own.mean(axis=0)
    inward = float(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum()) < 0.0
    points = [target.point(*point) for point in own.tolist()]
    faces = []
    for triangle in (world.faces[:, ::-1] if inward else world.faces).tolist():
        loop = target.new("IfcPolyLoop", Polygon=[points[corner] for corner in triangle])
        bound = target.new("IfcFaceOuterBound", Bound=loop, Orientation=True)
        faces.append(target.new("IfcFace", Bounds=[bound]))
    return target.new("IfcFacetedBrep", Outer=target.new("IfcClosedShell", CfsFaces=faces))
