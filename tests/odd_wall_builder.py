"""Walls of odd shapes as IFC, for tests: curved, bent in plan, leaning, cut by planes. All lengths in m.

Layers are stacked along the wall's y as `Builder.wall` does; what a function returns is the wall entity.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import Mesh, extruded
from takeoff.model import WallTakeoff
from takeoff.pipeline import take_off
from takeoff.result import Takeoff
from tests.ifc_builder import Builder, Vector

LINED = (("Gypsum board", 0.0125), ("Timber studs", 0.14), ("Plywood sheathing", 0.0125))
"""Layers from the inside, with the studs between 12.5 and 152.5 mm."""
THICKNESS = 0.165
STUDS = 0.14
JOB = ""
"""Nothing stated: the built-in rules."""


def curved_wall(
    model: Builder,
    *,
    radius: float,
    sweep: float,
    height: float,
    layers: Sequence[tuple[str, float]],
    towards_centre: bool = True,
    **place: Any,
) -> Any:
    """A wall round an arc; the placement lies at its start, x along the tangent there, y the way that layers run.

    radius: of the axis, on which the first layer starts. sweep: rad. towards_centre: whether y points to the centre.
    """
    thickness = sum(depth for _, depth in layers)
    side = 1.0 if towards_centre else -1.0
    far = radius - side * thickness

    def at(reach: float, angle: float) -> tuple[float, float]:
        return reach * math.sin(angle), side * (radius - reach * math.cos(angle))

    near_arc = [at(radius, share * sweep) for share in (0.0, 0.5, 1.0)]
    far_arc = [at(far, share * sweep) for share in (1.0, 0.5, 0.0)]
    body = model.extruded_profile(_profile(model, [near_arc, far_arc]), height)
    wall = model.element("IfcWall", [body], name="Curved", **place)
    axis = model.representation([_arc(model, near_arc)], "Axis", "Curve2D")
    wall.Representation.Representations = [axis, *wall.Representation.Representations]
    model.layer_usage([wall], model.layer_set(layers))
    return wall


def _points(model: Builder, points: Sequence[Vector]) -> Any:
    scaled = [tuple(float(value) / model.scale for value in point) for point in points]
    return model.file.create_entity("IfcCartesianPointList2D", scaled)


def _arc(model: Builder, points: Sequence[Vector]) -> Any:
    return model.file.create_entity(
        "IfcIndexedPolyCurve", _points(model, points), [model.value("IfcArcIndex", (1, 2, 3))]
    )


def _profile(model: Builder, arcs: Sequence[Sequence[Vector]]) -> Any:
    """A closed profile of arcs of three points, joined by straight lines."""
    points = [point for arc in arcs for point in arc]
    segments: list[Any] = []
    for number in range(len(arcs)):
        first = 3 * number + 1
        segments.append(model.value("IfcArcIndex", (first, first + 1, first + 2)))
        segments.append(model.value("IfcLineIndex", (first + 2, (first + 2) % len(points) + 1)))
    curve = model.file.create_entity("IfcIndexedPolyCurve", _points(model, points), segments)
    return model.file.create_entity("IfcArbitraryClosedProfileDef", ProfileType="AREA", OuterCurve=curve)


def bent_wall(
    model: Builder,
    corners: Sequence[Vector],
    *,
    height: float,
    layers: Sequence[tuple[str, float]] = LINED,
    closed: bool = False,
    body: Any = None,
    **place: Any,
) -> Any:
    """One wall along a broken line in plan, its layers stacked to the left of the line."""
    plan = bent_plan(corners, sum(depth for _, depth in layers), closed=closed)
    item = model.faceted(*upright(plan, height)) if body is None else body
    wall = model.element("IfcWall", [item], name="Bent", **place)
    if layers:
        model.layer_usage([wall], model.layer_set(layers))
    return wall


def bent_plan(corners: Sequence[Vector], thickness: float, *, closed: bool = False) -> shapely.Polygon:
    """A broken line thickened to its left, mitred at its corners."""
    line = shapely.LinearRing(corners) if closed else shapely.LineString(corners)
    if closed:
        inner = shapely.Polygon(corners).buffer(-thickness, join_style="mitre", mitre_limit=20.0)
        ring = shapely.difference(shapely.Polygon(corners), inner)
        assert isinstance(ring, shapely.Polygon)
        return ring
    plan = shapely.buffer(line, thickness, single_sided=True, join_style="mitre", mitre_limit=20.0)
    assert isinstance(plan, shapely.Polygon)
    return plan


def upright(plan: shapely.Polygon, height: float) -> tuple[list[list[float]], list[list[int]]]:
    """Corners and triangles of a plan extruded upwards."""
    mesh = extruded(plan, 0.0, height)
    return mesh.vertices[:, [0, 2, 1]].tolist(), mesh.faces[:, ::-1].tolist()


def sector(inner: float, outer: float, angles: tuple[float, float], height: float, facets: int) -> Mesh:
    """An upright annulus sector about the origin, from z = 0, its corners on the true arcs."""
    turns = np.linspace(*angles, facets + 1)
    ring = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    plan = extruded(shapely.Polygon(np.concatenate([outer * ring, inner * ring[::-1]])), 0.0, height)
    return Mesh(plan.vertices[:, [0, 2, 1]], plan.faces)


def taken_off(model: Builder, folder: Path, job: str = JOB) -> Takeoff:
    """The takeoff of a model, read from the file it was written to."""
    text = folder / "job.toml"
    text.write_text(job, encoding="utf-8")
    return take_off(model.save(folder / "model.ifc"), text)


def only_wall(takeoff: Takeoff) -> WallTakeoff:
    (wall,) = takeoff.results
    return wall


# ---------------------------------------------------------------- bodies of one's own


@dataclass(frozen=True, slots=True)
class Place:
    """Where a wall stands: `at` in m, `angle` about the plumb line and `roll` about the wall's own x, degrees."""

    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    angle: float = 0.0
    roll: float = 0.0

    @property
    def directions(self) -> NDArray[np.float64]:
        """(3, 3), rows: world directions of the wall's own x, y, z."""
        turn, roll = math.radians(self.angle), math.radians(self.roll)
        x = np.array([math.cos(turn), math.sin(turn), 0.0])
        level = np.array([-math.sin(turn), math.cos(turn), 0.0])
        up = np.array([0.0, 0.0, 1.0])
        return np.stack([x, math.cos(roll) * level + math.sin(roll) * up, math.cos(roll) * up - math.sin(roll) * level])

    def world(self, mesh: Mesh) -> Mesh:
        return Mesh(mesh.vertices @ self.directions + np.array(self.at), mesh.faces)


def odd_wall(
    model: Builder,
    body: Mesh,
    place: Place,
    openings: Sequence[Mesh] = (),
    layers: Sequence[tuple[str, float]] = LINED,
) -> Any:
    """A wall with a body of one's own, and openings, all in the wall's axes: x along, y through, z up."""
    wall = model.element("IfcWall", [_faceted(model, body)], name="Odd")
    x, _, z = place.directions.tolist()
    wall.ObjectPlacement.RelativePlacement = model.place(place.at, x=x, z=z)
    for mesh in openings:
        model.opening(wall, x=0.0, y=0.0, z=0.0, width=0.0, height=0.0, items=[_faceted(model, mesh)])
    if layers:
        model.layer_usage([wall], model.layer_set(layers))
    return wall


def _faceted(model: Builder, mesh: Mesh) -> Any:
    return model.faceted(mesh.vertices.tolist(), mesh.faces.tolist())


def solid_of(shape: shapely.Geometry, near: float, far: float) -> Mesh:
    """An outline (x, z) as a solid between two depths."""
    assert isinstance(shape, shapely.Polygon)
    return extruded(shape, near, far)


def slab(shape: shapely.Geometry) -> Mesh:
    """An elevation through the whole thickness of the wall."""
    return solid_of(shape, 0.0, THICKNESS)


def leaning(mesh: Mesh, lean: float) -> Mesh:
    """The same sheared: every metre of height moves it by `lean` metres across the wall."""
    return Mesh(mesh.vertices + mesh.vertices[:, 2:] * np.array([0.0, lean, 0.0]), mesh.faces)


def bent_top(length: float, top: Callable[[float, float], float]) -> Mesh:
    """A wall whose top is a plane z = top(x, y) from x = 0 to length."""
    block = slab(shapely.box(0.0, 0.0, length, 1.0))
    return with_heights(block, top)


def with_heights(block: Mesh, top: Callable[[float, float], float]) -> Mesh:
    """A block from z = 0 to 1 with its top moved to z = top(x, y)."""
    vertices = block.vertices.copy()
    for number, (x, y, z) in enumerate(vertices.tolist()):
        if z > 0.5:
            vertices[number, 2] = top(x, y)
    return Mesh(vertices, block.faces)


def splayed(
    shape: shapely.Polygon, *, sill: float = 0.0, head: float = 0.0, left: float = 0.0, right: float = 0.0
) -> Mesh:
    """A box-shaped opening whose sides move with the depth y, m per m, from where they are at y = 0."""
    x_min, z_min, x_max, z_max = shape.bounds
    made = solid_of(shape, -0.05, THICKNESS + 0.05)
    vertices = made.vertices.copy()
    y = made.vertices[:, 1]
    vertices[:, 0] += np.where(made.vertices[:, 0] < 0.5 * (x_min + x_max), left, right) * y
    vertices[:, 2] += np.where(made.vertices[:, 2] < 0.5 * (z_min + z_max), sill, head) * y
    return Mesh(vertices, made.faces)
