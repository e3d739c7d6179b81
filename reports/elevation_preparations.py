"""Eave baffles and blockers on an elevation: where they go before the netting."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from reports.drawing import Line, On, Shape
from reports.elevation_shapes import WallShapes
from reports.elevation_signs import BAFFLE, BLOCKER
from takeoff.eaves import tops_at
from takeoff.fill_order import PreparationKind
from takeoff.model import Cavity, OpenSide

OVER = 1.0
"""mm from the top of the wall to the line of a baffle."""
_ON_RIM = 1e-5
"""m; edges of a bay and of an opening that agree to this are one."""
_SHORTEST = 1e-3
"""m; shorter pieces are the corners of rims."""

Segment = tuple[tuple[float, float], tuple[float, float]]


def preparation_signs(wall: WallShapes, factor: float) -> list[Shape]:
    """Lines over the bays with a baffle, and along the sides with a blocker. factor: page mm of one m."""
    cavities = {cavity.cavity_id: cavity for cavity in wall.plan.cavities}
    kinds = {(item.cavity_id, item.kind) for item in wall.plan.preparations}
    x0, z0 = wall.origin

    def line(ends: Segment, lift: float = 0.0) -> tuple[tuple[float, float], ...]:
        return tuple(((x - x0) * factor, (z - z0) * factor + lift) for x, z in ends)

    shapes: list[Shape] = []
    for cavity in cavities.values():
        if (cavity.cavity_id, PreparationKind.EAVE_BAFFLE) in kinds:
            left, _, right, _ = cavity.outline.bounds
            middle = np.array([0.5 * (left + right) - x0])
            top = float(tops_at(wall.face, middle)[0]) + z0
            shapes.append(Line(line(((left, top), (right, top)), OVER), On.PREPARATIONS, BAFFLE))
    for side in wall.plan.layer.open_sides:
        if (side.cavity_id, PreparationKind.BLOCKER) in kinds:
            ends = _ends(cavities[side.cavity_id], side, wall)
            shapes += [Line(line(each), On.PREPARATIONS, BLOCKER) for each in ends]
    return shapes


def _ends(cavity: Cavity, side: OpenSide, wall: WallShapes) -> list[Segment]:
    """The open side as straight pieces in wall axes, m."""
    x_min, z_min, x_max, z_max = cavity.outline.bounds
    if side.side in ("left", "right"):
        x = x_min if side.side == "left" else x_max
        return [((x, side.low), (x, side.high))]
    if side.side in ("top", "bottom"):
        z = z_min if side.side == "bottom" else z_max
        return [((side.low, z), (side.high, z))]
    holes = [opening.outline for opening, _ in wall.openings if opening.solid is None and not opening.beyond_frame]
    rims = shapely.buffer(shapely.union_all(shapely.boundary(np.array(holes, dtype=object))), _ON_RIM)
    shared = shapely.line_merge(shapely.intersection(cavity.outline.boundary, rims))
    found: list[Segment] = []
    for piece in shapely.get_parts(shared):
        points = [(float(x), float(z)) for x, z in shapely.get_coordinates(piece)]
        found += [(a, b) for a, b in pairwise(points) if abs(a[0] - b[0]) + abs(a[1] - b[1]) > _SHORTEST]
    return found
