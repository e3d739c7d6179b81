"""Walls whose bodies stand in one place."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, bounds
from takeoff.building import Model, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.model import WallTakeoff
from takeoff.walls.surroundings import plan_of

_SHARED = 0.5
"""Of the smaller body, in plan and in height, that lies within the other before it is told. Own rule: joined walls
share a corner, a wall drawn twice most of itself."""
_KNOWN = "walls-in-one-place"


def drawn_twice(model: Model, results: Sequence[WallTakeoff]) -> tuple[Finding, ...]:
    """Pairs of walls that share most of their place. Pairs that the takeoff has told of already are passed over."""
    walls = [wall for wall in model.walls if wall.body and not wall.only_groups]
    if len(walls) < 2:
        return ()
    told = {
        frozenset((result.wall.wall_id, other.global_id))
        for result in results
        for finding in result.wall.findings
        if finding.code == _KNOWN
        for other in walls
        if other.global_id in finding.message
    }
    plans = [_plan(wall) for wall in walls]
    heights = np.array([_height(wall) for wall in walls])
    first, second = shapely.STRtree(plans).query(plans, predicate="intersects")
    findings = []
    for one, other in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        if one >= other or frozenset((walls[one].global_id, walls[other].global_id)) in told:
            continue
        share = min(_shared_plan(plans[one], plans[other]), _shared_height(heights[one], heights[other]))
        if share > _SHARED:
            findings.append(_finding(walls[other], walls[one], share))
    return tuple(findings)


def _plan(wall: ModelWall) -> Polygon | MultiPolygon:
    return areal(shapely.union_all([plan_of(mesh) for mesh in wall.body]))


def _height(wall: ModelWall) -> tuple[float, float]:
    boxes = np.array([bounds(mesh)[:, 2] for mesh in wall.body])
    return float(boxes[:, 0].min()), float(boxes[:, 1].max())


def _shared_plan(one: Polygon | MultiPolygon, other: Polygon | MultiPolygon) -> float:
    smaller = min(one.area, other.area)
    return float(one.intersection(other).area / smaller) if smaller > 0.0 else 0.0


def _shared_height(one: np.ndarray, other: np.ndarray) -> float:
    smaller = float(min(one[1] - one[0], other[1] - other[0]))
    shared = float(min(one[1], other[1]) - max(one[0], other[0]))
    return shared / smaller if smaller > 0.0 else 0.0


def _finding(wall: ModelWall, other: ModelWall, share: float) -> Finding:
    named = f"{other.name} ({other.global_id})" if other.name else other.global_id
    x, y, z = np.concatenate([mesh.vertices for mesh in wall.body]).mean(axis=0).tolist()
    return Finding(
        "wall-drawn-twice", Severity.WARNING,
        f"It stands in the same place as wall {named}: one of the two is drawn twice, or belongs to another stage. "
        "Delete one in the model, or leave it out in the job file.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, share, _SHARED, "of the smaller", (x, y, z),
    )  # fmt: skip
