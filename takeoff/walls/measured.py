"""Walls in axes of their own before anything is judged: box, body, what stands in them, and what may be their frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, Solid, bounds, depth_range, moved, section, to_prism
from takeoff.building import Model, ModelOpening, ModelPart, ModelWall
from takeoff.framing.frame_depth import is_panel
from takeoff.job import Job
from takeoff.wall_rules import WallRule
from takeoff.walls.curved import bendable_parts
from takeoff.walls.layer_places import LayerBook
from takeoff.walls.neighbours import Nearby
from takeoff.walls.surroundings import Surroundings
from takeoff.walls.wall_axes import raw_axes

_FRAMING_CLASSES = ("IfcMember", "IfcBeam", "IfcColumn", "IfcPlate", "IfcBuildingElementPart", "IfcElementAssembly")
_LOOKS = 9
"""Depths at which a body is looked at for any section."""


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """What all walls of a model share while they are being understood."""

    model: Model
    job: Job
    surroundings: Surroundings
    parts: Nearby[ModelPart]
    openings: Nearby[ModelOpening]
    layers: LayerBook


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A wall in raw axes: its box (2, 3) m, and what stands in it, in world axes."""

    wall: ModelWall
    rule: WallRule
    axes: LocalAxes
    box: NDArray[np.float64]
    body: tuple[Mesh, ...]
    """Raw axes."""
    parts: tuple[ModelPart, ...]
    loose: tuple[ModelPart, ...]
    area: float
    """m2, elevation at mid depth."""


def site_of(model: Model, job: Job) -> Site:
    """Look-ups over a whole model, made once."""
    # Members of other walls count too: a plate that laps over a corner, or the stud that closes a neighbour's end.
    parts = (*model.loose_parts, *(part for wall in model.walls for part in wall.parts))
    return Site(
        model, job, Surroundings(model.spaces, model.walls), Nearby(parts), Nearby(model.loose_openings), LayerBook(job)
    )


def measured_wall(wall: ModelWall, rule: WallRule, site: Site) -> Measured | str:
    """A straight wall in raw axes, or the reason why it has none."""
    meshes = wall.body or tuple(frame_solids(wall.parts))
    if not meshes:
        return "it has neither a body nor parts with one; export the wall with its geometry"
    direction = wall.layers.direction if wall.layers is not None else None
    axes = raw_axes(meshes, wall.placement, direction)
    if axes is None:
        return "its body has no upright face, so no side of it can be told; check its geometry in the model"
    return measured_in(axes, wall, rule, site)


def measured_in(axes: LocalAxes, wall: ModelWall, rule: WallRule, site: Site) -> Measured:
    """A wall in axes already chosen, with the parts of other elements that reach into its box."""
    meshes = wall.body or tuple(frame_solids(wall.parts))
    local = tuple(moved(mesh, axes) for mesh in meshes)
    boxes = np.array([bounds(mesh) for mesh in local])
    box = np.stack([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
    loose = tuple(part for part in site.parts.reaching_into(axes, box) if part.wall_id != wall.global_id)
    if isinstance(axes, Developed):
        loose = bendable_parts(loose, axes)
    body = local if wall.body else ()
    area = _mid_area(body or local, box)
    return Measured(wall, rule, axes, box, body, wall.parts, loose, area)


def _mid_area(solids: Sequence[Solid], box: NDArray[np.float64]) -> float:
    """Elevation of the wall's middle plane, openings ignored (the sense of GrossSideArea in the IFC quantity sets)."""
    middle = float(box[:, 1].mean())
    sections = [section(solid, middle + 1e-7) for solid in solids]
    return float(shapely.area(shapely.union_all(sections))) if sections else 0.0


def frame_solids(parts: Iterable[ModelPart]) -> list[Mesh]:
    """All solids of parts, in the axes that the parts are in."""
    return [solid for part in parts for solid in part.solids]


def encloses_nothing(measured: Measured) -> bool:
    """Whether a wall's body has no section anywhere in its depth."""
    if not measured.body or measured.area > 0.0:
        return False
    near, far = measured.box[:, 1].tolist()
    depths = np.linspace(near, far, _LOOKS + 2)[1:-1].tolist()
    return all(section(mesh, depth).is_empty for mesh in measured.body for depth in depths)


def frame_candidates(measured: Measured) -> list[Mesh]:
    """Solids in raw axes that may be members of a frame: aggregated ones, and loose framing classes inside the wall."""
    loose = [part for part in measured.loose if may_frame(part)]
    inside = [
        mesh
        for part in loose
        for mesh in (moved(solid, measured.axes) for solid in part.solids)
        if _mostly_within(depth_range(mesh), measured.box[:, 1])
    ]
    own = [moved(solid, measured.axes) for solid in frame_solids(measured.parts)]
    return [mesh for mesh in (*own, *inside) if not is_panel(to_prism(mesh) or mesh)]


def may_frame(part: ModelPart) -> bool:
    """Whether a loose element may belong to this wall's frame: a framing class of the model that no wall has."""
    return part.ifc_class in _FRAMING_CLASSES and not part.source and not part.wall_id


def _mostly_within(ranged: tuple[float, float], span: NDArray[np.float64]) -> bool:
    shared = min(ranged[1], float(span[1])) - max(ranged[0], float(span[0]))
    return shared >= 0.9 * (ranged[1] - ranged[0]) > 0.0
