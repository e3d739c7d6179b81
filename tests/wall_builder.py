"""Walls as the reader gives them, built in code for tests of how walls are understood.

The plain wall stands in the world with x along it from 0 to 4 m, y through it from 0 to 0.1645 m, z from 0 to 2.4 m;
its layers run along y: gypsum board 12.5 mm, wood studs 140 mm, sheathing 12 mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.frames import Axes
from geometry.solids import Mesh, extruded
from takeoff.building import Model, ModelLayer, ModelLayers, ModelOpening, ModelPart, ModelSpace, ModelWall
from takeoff.job import Job, default_job
from takeoff.walls import Site, site_of

Box = tuple[float, float, float, float, float, float]
"""x, y, z of the lowest corner, then of the highest, m."""

BOARD, STUDS, SHEATHING = 0.0125, 0.14, 0.012
THICKNESS = BOARD + STUDS + SHEATHING
LENGTH, HEIGHT = 4.0, 2.4
PLAIN: Box = (0.0, 0.0, 0.0, LENGTH, THICKNESS, HEIGHT)
LAYERS = (("Gypsum board", BOARD), ("Wood studs", STUDS), ("OSB sheathing", SHEATHING))
WORLD = Axes(np.zeros(3), np.eye(3))


def box(at: Box) -> Mesh:
    """An upright box."""
    x0, y0, z0, x1, y1, z1 = at
    return extruded(shapely.box(x0, z0, x1, z1), y0, y1)


def standing(plan: Polygon, z_min: float, z_max: float) -> Mesh:
    """A plan (x, y) run upwards from z to z."""
    mesh = extruded(plan, z_min, z_max)
    return Mesh(mesh.vertices[:, [0, 2, 1]], mesh.faces)


def turned(mesh: Mesh, degrees: float, at: Sequence[float] = (0.0, 0.0, 0.0)) -> Mesh:
    """A mesh turned about the upright through the zero, then moved."""
    return Mesh(mesh.vertices @ rotation(degrees).T + np.asarray(at), mesh.faces)


def rotation(degrees: float) -> NDArray[np.float64]:
    """(3, 3) about the upright, anticlockwise seen from above."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def layer_set(
    layers: Sequence[tuple[str, float]] = LAYERS,
    direction: Sequence[float] | None = (0.0, 1.0, 0.0),
    offset: float | None = 0.0,
) -> ModelLayers:
    """Layers (material, thickness) stacked along a world direction."""
    way = None if direction is None else np.asarray(direction, dtype=np.float64)
    return ModelLayers(tuple(ModelLayer(name, "", depth) for name, depth in layers), way, offset, "")


def wall(*bodies: Mesh, **changes: object) -> ModelWall:
    """The plain wall with any field changed; bodies: instead of its box."""
    made = ModelWall(
        global_id="WALL",
        ifc_class="IfcWall",
        name="Plain",
        type_name="",
        storey="Ground floor",
        storey_elevation=0.0,
        placement=np.eye(4),
        body=bodies or (box(PLAIN),),
        layers=layer_set(),
        materials=(),
        openings=(),
        parts=(),
        external=None,
        acoustic_rating="",
        thermal_transmittance=None,
        quantities=(),
        space_ids=(),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def opening(at: Box, number: int = 1, *, filling: str = "", recess: bool = False) -> ModelOpening:
    """An opening element of one box."""
    filled = {"filling_id": f"FILLING-{number}", "filling_class": filling, "filling_name": "one"} if filling else {}
    return ModelOpening(f"OPENING-{number}", "IfcOpeningElement", "hole", (box(at),), recess=recess, **filled)


def part(name: str, *boxes: Box, ifc_class: str = "IfcMember", wall_id: str = "WALL") -> ModelPart:
    """An element of some boxes."""
    return ModelPart(name, ifc_class, name, "", "", "", tuple(box(each) for each in boxes), wall_id)


def room(name: str, at: Box, *, external: bool = False) -> ModelSpace:
    """A room of one box."""
    return ModelSpace(name, name, "", "Ground floor", (box(at),), external)


def model(*walls: ModelWall, **changes: object) -> Model:
    """A model of these walls."""
    made = Model(
        path="/somewhere/model.ifc",
        schema="IFC4",
        length_unit="METRE",
        length_unit_m=1.0,
        true_north=(0.0, 1.0),
        project_name="",
        walls=walls,
        spaces=(),
        loose_parts=(),
        loose_openings=(),
        connections=(),
        findings=(),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def site(*walls: ModelWall, job: Job | None = None, **changes: object) -> Site:
    """What the walls of a model share."""
    return site_of(model(*walls, **changes), job or default_job())
