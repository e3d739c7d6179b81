"""Stud layers and walls built in code for tests of laid-out frames."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from geometry.frames import Axes, LocalAxes
from geometry.solids import Prism, areal
from takeoff.model import Frame, Layer, Member, MemberRole, Opening, Status, StudLayer, Wall

INCH = 0.0254


def opening(outline: Polygon | MultiPolygon, number: int = 1, *, door: bool = False, filled: bool = True) -> Opening:
    """A hole through the stud layer, filled by a window, a door or nothing."""
    filling = ("IfcDoor" if door else "IfcWindow") if filled else ""
    return Opening(f"opening{number}", outline, filling, "", "opening element")


def stud_layer(
    outline: BaseGeometry,
    openings: Sequence[Opening] = (),
    *,
    depth: float = 5.5 * INCH,
    key: str = "wall",
    axes: LocalAxes | None = None,
    layers: tuple[Layer, ...] = (),
) -> StudLayer:
    """A stud layer of one elevation outline."""
    place = axes or Axes(np.zeros(3), np.eye(3))
    body = Prism(areal(outline), 0.0, depth)
    return StudLayer(key, key.split("#")[0], place, depth, body, tuple(openings), (), layers, "for the test", ())


def wall_of(*layers: StudLayer) -> Wall:
    """A wall around its stud layers."""
    name = layers[0].wall_id
    sizes = (0.0, 0.0, 0.0)
    return Wall(name, "IfcWall", "", "", "", None, True, "", True, "", *sizes, tuple(layers), Status.TAKEN_OFF, "")


def prism_of(member: Member) -> Prism:
    """The solid of a laid-out member."""
    assert isinstance(member.solid, Prism)
    return member.solid


def outlines(frame: Frame, *roles: MemberRole) -> list[Polygon]:
    """Elevation outlines of the members, all or those of some roles."""
    found: list[Polygon] = []
    for member in frame.members:
        outline = prism_of(member).outline
        assert isinstance(outline, Polygon)
        if not roles or member.role in roles:
            found.append(outline)
    return found


def boxes(frame: Frame, *roles: MemberRole) -> list[tuple[float, ...]]:
    """x_min, z_min, x_max, z_max of the members, to a tenth of a millimetre, in the order of their numbers."""
    return [tuple(round(value, 4) for value in outline.bounds) for outline in outlines(frame, *roles)]


def codes(frame: Frame) -> list[str]:
    """The codes of the findings."""
    return [finding.code for finding in frame.findings]


def framing_fraction(frame: Frame) -> float:
    """Elevation of members over elevation of wall less openings, as the handbooks count it."""
    outline = frame.layer.outline
    assert isinstance(outline, Prism)
    wall = outline.outline
    holes = [hole.outline for hole in frame.openings if hole.solid is None]
    net = shapely.difference(wall, shapely.union_all(holes)).area if holes else wall.area
    return float(shapely.union_all(outlines(frame)).area / net)


def overlap_volume(frame: Frame) -> float:
    """m3 that two members both claim, summed over pairs."""
    prisms = [prism_of(member) for member in frame.members]
    sizes = np.array([[*p.outline.bounds, p.y_min, p.y_max] for p in prisms]).reshape(-1, 6)
    total = 0.0
    for first, prism in enumerate(prisms):
        lower, upper = sizes[first, [0, 1, 4]], sizes[first, [2, 3, 5]]
        meets = (sizes[first + 1 :][:, [0, 1, 4]] < upper - 1e-9).all(axis=1)
        meets &= (sizes[first + 1 :][:, [2, 3, 5]] > lower + 1e-9).all(axis=1)
        for second in np.flatnonzero(meets) + first + 1:
            other = prisms[int(second)]
            deep = min(prism.y_max, other.y_max) - max(prism.y_min, other.y_min)
            total += float(shapely.intersection(prism.outline, other.outline).area) * deep
    return total
