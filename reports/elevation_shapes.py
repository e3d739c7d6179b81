"""Outlines of one stud layer in elevation, cleaned once, to be drawn at any scale."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, depth_range, silhouette
from reports.crew_layers import LayerPlan
from takeoff.model import Cavity, Method, Opening

Polygonal = Polygon | MultiPolygon
Shapes = NDArray[np.object_]

AT_FACE = 0.002
"""m; a member that begins deeper than this stands behind the face of the studs."""
FINEST = 1e-5
"""m; corners are put onto a grid of this, far below what print shows, which drops spikes on which clipping can fail."""


@dataclass(frozen=True, slots=True, eq=False)
class CavityShape:
    """A cavity in elevation."""

    cavity: Cavity
    method: Method
    shape: Polygonal
    """What is seen of it: its open front, or its whole outline where it is closed in front."""
    closed: bool
    rest: Polygonal
    """The shape without the parts that are filled otherwise."""
    parts: tuple[tuple[Polygonal, Method], ...]
    """Parts of a blown cavity that are filled otherwise."""


@dataclass(frozen=True, slots=True, eq=False)
class WallShapes:
    """What an elevation shows, m, in wall axes (x, z) moved so that the wall's lower left corner is (0, 0)."""

    plan: LayerPlan
    origin: tuple[float, float]
    """x, z of that corner"""
    face: Polygonal
    cavities: tuple[CavityShape, ...]
    front: tuple[Polygonal, ...]
    """Members at the face."""
    behind: tuple[Polygonal, ...]
    """Members and obstructions in the depth."""
    openings: tuple[tuple[Opening, Polygonal], ...]

    @property
    def length(self) -> float:
        """m"""
        return float(self.face.bounds[2])

    @property
    def height(self) -> float:
        """m"""
        return float(self.face.bounds[3])


def wall_shapes(plan: LayerPlan) -> WallShapes:
    """The outlines of one stud layer."""
    frame = plan.layer.frame
    face = areal(silhouette(frame.layer.outline))
    x, z = face.bounds[:2]

    def cleaned(shapes: Sequence[Polygonal]) -> list[Polygonal]:
        moved = shapely.transform(np.array([None, *shapes], dtype=object)[1:], lambda points: points - (x, z))
        flat = [areal(shape) for shape in shapely.make_valid(moved)]
        return [areal(shape) for shape in shapely.set_precision(np.array([None, *flat], dtype=object)[1:], FINEST)]

    members = [(silhouette(member.solid), depth_range(member.solid)[0] <= AT_FACE) for member in frame.members]
    outlines = cleaned([outline for outline, _ in members])
    at_face = [is_front for _, is_front in members]
    openings = cleaned([areal(shapely.intersection(opening.outline, face)) for opening in frame.openings])
    return WallShapes(
        plan,
        (float(x), float(z)),
        cleaned([face])[0],
        _cavities(plan, cleaned),
        tuple(outline for outline, first in zip(outlines, at_face, strict=True) if first and not outline.is_empty),
        tuple(outline for outline, first in zip(outlines, at_face, strict=True) if not first and not outline.is_empty),
        tuple(zip(frame.openings, openings, strict=True)),
    )


def _cavities(plan: LayerPlan, cleaned: Callable[[Sequence[Polygonal]], list[Polygonal]]) -> tuple[CavityShape, ...]:
    cavities = plan.cavities
    shapes = cleaned([cavity.outline if cavity.front.is_empty else cavity.front for cavity in cavities])
    parts = [part for part in plan.hand_fills if not part.whole]
    outlines = cleaned([part.outline for part in parts])
    found: list[CavityShape] = []
    for cavity, shape in zip(cavities, shapes, strict=True):
        fill = plan.fills.get(cavity.cavity_id)
        own = [
            (areal(shapely.intersection(outline, shape)), part.method)
            for part, outline in zip(parts, outlines, strict=True)
            if part.cavity_id == cavity.cavity_id
        ]
        rest = areal(shapely.difference(shape, shapely.union_all([outline for outline, _ in own]))) if own else shape
        method = fill.method if fill is not None else cavity.method
        found.append(CavityShape(cavity, method, shape, cavity.front.is_empty, rest, tuple(own)))
    return tuple(found)
