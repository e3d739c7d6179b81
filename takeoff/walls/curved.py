"""Curved walls: rolled out flat along the arc of the studs' middle, so that the flat road can take them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geometry.cylinders import Developed, refined
from geometry.solids import Mesh, volume
from takeoff.building import Cylinder, ModelOpening, ModelPart, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.model import Wall

_OPENING_CHORD = 0.0001
"""m; straight edges of openings get corners until they lie no farther than this from where they really run."""
_PART_CHORD = 0.001
"""m; the same for members: near and far face lie off to the same side, so that the volume between them stays right."""
_TESSELLATED = 0.00105
"""m; chords of round faces come from the reader with a rise of 1 mm at most; a longer one is really straight."""
_UPRIGHT = 1.0 - 1e-9
"""Cosine; a cylinder that leans more than 45 microradians is not upright."""
_CLEAR_SENSE = 0.2
"""Share of the layers' direction that must point along the radius before it says which way they run."""


@dataclass(frozen=True, slots=True, eq=False)
class CurvedWall:
    """A curved wall made ready to be developed.

    wall: the same wall with the bodies of its openings and parts given corners enough to bend.
    axes: raw axes, y from the face of the first layer to that of the last, x true at the middle of the body.
    sense_known: whether the model says which way the layers run.
    """

    wall: ModelWall
    axes: Developed
    sense_known: bool


def ready_to_develop(wall: ModelWall) -> CurvedWall | str:
    """A curved wall with its axes, or the reason why it cannot be developed."""
    cylinder = wall.cylinder
    assert cylinder is not None
    meshes = wall.body or tuple(solid for part in wall.parts for solid in part.solids)
    if not meshes:
        return "it has neither a body nor parts with one; export the wall with its geometry"
    if abs(float(cylinder.axis[2])) < _UPRIGHT:
        return "curved wall on a leaning cylinder: it is not developed; measure it on site"
    points = np.concatenate([mesh.vertices for mesh in meshes])
    radii, angles = _polar(points, cylinder)
    nearest, farthest = float(radii.min()), float(radii.max())
    if nearest < 0.05 * farthest:
        return "curved wall that reaches its own centre: it is not developed; check its body in the model"
    first, middle = _span(angles)
    if _closes(meshes, cylinder, middle):
        return "curved wall that closes on itself: it is not developed; divide it in the model"
    outward, known = _sense(wall, cylinder)
    start = np.array([np.cos(first), np.sin(first), 0.0])
    axes = Developed(
        centre=np.array([cylinder.centre[0], cylinder.centre[1], float(points[:, 2].min())]),
        start=start,
        radius=0.5 * (nearest + farthest),
        face=nearest if outward else farthest,
        outward=outward,
        middle=(first - middle) if outward else (middle - first),
    )
    low = axes.to_local(points).min(axis=0)
    axes = axes.shifted([low[0], 0.0, low[2]])
    bent = replace(
        wall,
        openings=tuple(_bendable_opening(opening, axes) for opening in wall.openings),
        parts=bendable_parts(wall.parts, axes),
    )
    return CurvedWall(bent, axes, known)


def bendable_parts(parts: Sequence[ModelPart], axes: Developed) -> tuple[ModelPart, ...]:
    """Parts whose solids have corners enough to bend with the wall."""
    return tuple(
        replace(part, solids=tuple(refined(mesh, axes, _PART_CHORD, arc_chord=_TESSELLATED) for mesh in part.solids))
        for part in parts
    )


def _bendable_opening(opening: ModelOpening, axes: Developed) -> ModelOpening:
    solids = tuple(refined(mesh, axes, _OPENING_CHORD, arc_chord=_TESSELLATED) for mesh in opening.solids)
    return replace(opening, solids=solids)


def on_stud_arc(wall: Wall, raw: Developed, *, sense_known: bool) -> Wall:
    """The wall's length and area on the middle of its first stud layer, with a note that it was developed."""
    axes = wall.stud_layers[0].axes if wall.stud_layers else raw
    radius = axes.radius if isinstance(axes, Developed) else raw.radius
    share = radius / raw.radius
    notes = [_developed(wall, radius)] if wall.stud_layers else []
    if wall.stud_layers and not sense_known and len(wall.stud_layers[0].layers) > 1:
        notes.append(_sense_assumed(wall))
    return replace(
        wall,
        length=wall.length * share,
        gross_area=wall.gross_area * share,
        findings=(*wall.findings, *notes),
    )


def rough_size(wall: ModelWall) -> tuple[float, float, float]:
    """Length along the arc, height (m) and area (m2) of a curved wall that cannot be developed, from its volume."""
    if not wall.body or wall.cylinder is None:
        return 0.0, 0.0, 0.0
    points = np.concatenate([mesh.vertices for mesh in wall.body]) - wall.cylinder.centre
    heights = points @ wall.cylinder.axis
    height = float(np.ptp(heights))
    distances = np.linalg.norm(points - heights[:, None] * wall.cylinder.axis, axis=1)
    thickness = float(np.ptp(distances))
    if thickness <= 0.0 or height <= 0.0:
        return 0.0, height, 0.0
    area = sum(volume(mesh) for mesh in wall.body) / thickness
    return area / height, height, area


def _polar(points: NDArray[np.float64], cylinder: Cylinder) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Radii, m, and angles, rad, anticlockwise from world x, of world points (n, 3)."""
    flat = points[:, :2] - cylinder.centre[:2]
    return np.hypot(flat[:, 0], flat[:, 1]), np.arctan2(flat[:, 1], flat[:, 0])


def _span(angles: NDArray[np.float64]) -> tuple[float, float]:
    """First angle and middle angle, rad, of an arc through all angles, cut where they leave the widest gap."""
    ordered = np.unique(angles)
    gaps = np.diff(np.concatenate([ordered, ordered[:1] + 2.0 * np.pi]))
    widest = int(np.argmax(gaps))
    first = float(ordered[(widest + 1) % len(ordered)])
    return first, first + 0.5 * (2.0 * np.pi - float(gaps[widest]))


def _closes(meshes: Sequence[Mesh], cylinder: Cylinder, middle: float) -> bool:
    """Whether some triangle runs across the place where the arc is cut."""
    for mesh in meshes:
        _, angles = _polar(mesh.vertices, cylinder)
        unrolled = np.remainder(angles - middle + np.pi, 2.0 * np.pi)[mesh.faces]
        if len(unrolled) and float(np.ptp(unrolled, axis=1).max()) > np.pi:
            return True
    return False


def _sense(wall: ModelWall, cylinder: Cylinder) -> tuple[bool, bool]:
    """Whether the layers run away from the centre, and whether the model says so.

    Layers are stacked square to the wall's path, from its right to its left where their sense is positive, as along y
    of a straight wall. Some programs do not let x of the placement point along the path, so the path itself decides.
    """
    stated = wall.layers.direction if wall.layers is not None else None
    if stated is not None and cylinder.anticlockwise is not None:
        positive = float(stated @ wall.placement[:3, 1]) > 0.0
        towards_centre = cylinder.anticlockwise is (float(cylinder.axis[2]) > 0.0)
        return positive is not towards_centre, True
    direction = stated if stated is not None else wall.placement[:3, 1]
    radial = wall.placement[:2, 3] - cylinder.centre[:2]
    reach = float(np.hypot(*radial))
    if reach < 0.2 * cylinder.radius:
        return True, False
    share = float(direction[:2] @ radial) / reach
    return share >= 0.0, stated is not None and abs(share) > _CLEAR_SENSE


def _developed(wall: Wall, radius: float) -> Finding:
    return Finding(
        "curved-wall-developed", Severity.INFO,
        f"The wall is curved: its length, areas, openings and cavities are measured along the arc of radius "
        f"{radius:.3f} m through the middle of the studs.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, radius, None, "m",
    )  # fmt: skip


def _sense_assumed(wall: Wall) -> Finding:
    return Finding(
        "layer-order-assumed", Severity.WARNING,
        "The model does not tell whether the layers of this curved wall run towards its centre or away from it; they "
        "were taken to run the way its placement points. Have its layer set usage mended.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name,
    )  # fmt: skip
