"""Walls bent in plan: parted into straight lengths at their corners, each a wall of its own to the flat road.

A wall drawn as one body along a broken line shows in plan as pairs of parallel edges, one pair to each straight length.
The four ends of a pair are the corners of that length; between two lengths they lie on the bisector, so nothing is
counted twice. Where the lengths do not fill the plan the wall is not guessed at.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.booleans import common_part
from geometry.facets import Facet, circle_of, facets_of, follows, in_line, plan_of, share_aside, sorted_by_side
from geometry.frames import Axes, axes_from_directions
from geometry.solids import Mesh, bounds, extruded, moved, section, volume
from takeoff.building import Cylinder, ModelOpening, ModelPart, ModelWall

_ALIGNED = np.cos(np.radians(3.0))
_ROUGHLY_ALIGNED = np.cos(np.radians(45.0))
"""A length more than 45 degrees off the direction that the model gives does not show which side is meant."""
_SHORTEST = 0.3
"""m; a length shorter than this is no facet to set studs in, but a step of a curve or a nib."""
_TESSELLATED = 0.6
"""m; steps of this length or less whose corners lie on one circle are a curve drawn in chords (our rule)."""
_LEAST_SHARE = 0.15
"""A wall that cannot be parted is taken for straight, with a nib or a pier, where lengths out of line with the longest
make up less than this share of its plan."""
_SHALLOW = 0.01
"""m; a body thicker than its layers by no more than this is not bent."""
_FILLED = 1e-4
"""Share of the plan that the lengths may leave or cover twice."""
_SQUARE = np.sin(np.radians(1.0))
"""Lengths within a degree of a right angle meet squarely."""
_STANDS_IN = 0.1
"""Share of a member's plan that makes it one of a length's members; a plate that runs on past a corner shares less."""
_NO_WALL = 0.6
"""m; no wall without layers is thicker than this from face to face unless it is bent."""
_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """Where a length of a bent wall runs on into the next: their numbers, the place (2,) m in the world plan, and
    whether they meet at a right angle."""

    first: int
    second: int
    place: NDArray[np.float64]
    square: bool


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """The straight lengths of a bent wall as walls of their own, one after the other.

    length: m, of all along their middle. joints: where they meet.
    """

    walls: tuple[ModelWall, ...]
    length: float
    joints: tuple[Joint, ...]


def bent_wall(wall: ModelWall, extent: float) -> Parted | Cylinder | str | None:
    """What a wall is that may be bent in plan.

    extent: thickness of its body in its raw axes, m. Returns None where it is straight (or no more than odd in shape),
    its lengths where it is bent, a cylinder where it is a curve drawn in chords, or the reason why it cannot be parted.
    """
    total = sum(layer.thickness for layer in wall.layers.layers) if wall.layers is not None else 0.0
    if not wall.body or extent <= (total + _SHALLOW if total > 0.0 else _NO_WALL):
        return None
    zero = wall.body[0].vertices[0].copy()
    plan = plan_of(wall.body, zero)
    facets = facets_of(plan, total) if plan is not None else []
    aside = share_aside(facets)
    if plan is None or aside == 0.0:
        return None
    covered = shapely.union_all([facet.plan for facet in facets])
    missed = shapely.symmetric_difference(covered, plan).area
    twice = sum(facet.plan.area for facet in facets) - covered.area
    if max(missed, twice) > _FILLED * plan.area:
        if aside < _LEAST_SHARE:
            return None
        return "bent in plan, but not into straight lengths of one thickness; draw a wall for each length in the model"
    circle = circle_of(facets, _TESSELLATED)
    if circle is not None:
        centre, radius = circle
        return Cylinder(np.array([*(centre + zero[:2]), zero[2]]), _UP, radius)
    if min(facet.length for facet in facets) < _SHORTEST:
        if aside < _LEAST_SHARE:
            return None
        return "bent in plan, partly in a curve or in very short lengths; draw a wall for each length in the model"
    ordered = sorted_by_side(facets)
    sided = None if ordered is None else _towards_last_layer(ordered, wall, zero)
    if sided is None:
        return "bent in plan, and the model does not say to which side its layers run; draw a wall for each length"
    return Parted(_walls(wall, sided, plan, zero), sum(facet.length for facet in sided), _joints(sided, zero))


def _towards_last_layer(facets: Sequence[Facet], wall: ModelWall, zero: NDArray[np.float64]) -> list[Facet] | None:
    """The lengths with the first layer on their first side; None where the model's direction fits none of them.

    The direction that the model gives holds for the length along its placement; the others follow that one round.
    """
    stated = wall.layers.direction if wall.layers is not None else None
    direction = (stated if stated is not None else wall.placement[:3, 1])[:2]
    fits = [abs(float(facet.across @ direction)) for facet in facets]
    least = _ALIGNED if max(fits) > _ALIGNED else _ROUGHLY_ALIGNED
    fitting = [facet for facet, fit in zip(facets, fits, strict=True) if fit > least]
    if not fitting:
        return None if stated is not None else list(facets)
    here = shapely.points(wall.placement[:2, 3] - zero[:2])
    nearest = min(fitting, key=lambda facet: facet.plan.distance(here))
    turn = float(nearest.across @ direction) < 0.0
    return in_line([facet.turned() for facet in facets]) if turn else list(facets)


def _joints(facets: Sequence[Facet], zero: NDArray[np.float64]) -> tuple[Joint, ...]:
    """Joints between lengths that follow each other; in a ring also from the last to the first."""
    found: list[Joint] = []
    for first, facet in enumerate(facets):
        for second, other in enumerate(facets):
            if first != second and follows(facet, other):
                place = facet.corners[[1, 2]].mean(axis=0) + zero[:2]
                found.append(Joint(first, second, place, abs(float(facet.across @ other.across)) < _SQUARE))
    return tuple(found)


# ---------------------------------------------------------------- lengths as walls


def _walls(wall: ModelWall, facets: Sequence[Facet], plan: Polygon, zero: NDArray[np.float64]) -> tuple[ModelWall, ...]:
    reference = _reference_line(wall, facets, zero)
    bodies = [_body_of(wall.body, facet, plan, zero) for facet in facets]
    axes = [_axes_of(facet, zero) for facet in facets]
    openings = _shared_out(wall.openings, bodies, axes)
    walls: list[ModelWall] = []
    for facet, body, own, holes in zip(facets, bodies, axes, openings, strict=True):
        placement = np.eye(4)
        placement[:3, :3] = own.directions.T
        placement[:3, 3] = own.to_world([[0.0, reference, 0.0]])[0]
        placement[2, 3] = wall.placement[2, 3]
        layers = wall.layers
        if layers is not None and layers.direction is not None:
            layers = replace(layers, direction=own.directions[1])
        walls.append(
            replace(
                wall,
                placement=placement,
                body=body,
                layers=layers,
                openings=holes,
                parts=_parts_in(wall.parts, facet, zero),
            )
        )
    return tuple(walls)


def _axes_of(facet: Facet, zero: NDArray[np.float64]) -> Axes:
    """Axes of a length: y from its first side to its second, x = 0 at a corner of the first side."""
    across = np.array([*facet.across, 0.0])
    return axes_from_directions(np.array([*facet.corners[0], 0.0]) + zero, across, _UP)


def _reference_line(wall: ModelWall, facets: Sequence[Facet], zero: NDArray[np.float64]) -> float:
    """How far behind the first side of every length the line lies that the layers are offset from, m."""
    here = wall.placement[:2, 3] - zero[:2]
    nearest = min(facets, key=lambda facet: facet.plan.distance(shapely.points(here)))
    return float((here - nearest.corners[0]) @ nearest.across)


def _body_of(body: Sequence[Mesh], facet: Facet, plan: Polygon, zero: NDArray[np.float64]) -> tuple[Mesh, ...]:
    """The part of a body within one length, world axes, m."""
    boxes = np.array([bounds(mesh) for mesh in body])
    low, high = float(boxes[:, 0, 2].min()), float(boxes[:, 1, 2].max())
    total = sum(volume(mesh) for mesh in body)
    plain = len(body) == 1 and abs(total - plan.area * (high - low)) <= 1e-6 * total
    block = _upright(facet.plan, low if plain else low - 1.0, high if plain else high + 1.0, zero)
    return (block,) if plain else common_part(body, block)


def _upright(plan: Polygon, low: float, high: float, zero: NDArray[np.float64]) -> Mesh:
    """A plan, m from zero, as a solid between two heights of the world."""
    mesh = extruded(plan, low, high)
    vertices = mesh.vertices[:, [0, 2, 1]] + np.array([zero[0], zero[1], 0.0])
    return Mesh(vertices, mesh.faces[:, ::-1])


def _shared_out(
    openings: Sequence[ModelOpening], bodies: Sequence[tuple[Mesh, ...]], axes: Sequence[Axes]
) -> list[tuple[ModelOpening, ...]]:
    """Openings by length: each belongs where it cuts most, and to others that it cuts at least half as much."""
    shares: list[list[ModelOpening]] = [[] for _ in bodies]
    for opening in openings:
        cuts = [_cut_area(opening, body, own) for body, own in zip(bodies, axes, strict=True)]
        most = max(cuts)
        if most <= 0.0:
            shares[0].append(opening)  # it lies elsewhere; the flat road will say so
            continue
        for share, cut in zip(shares, cuts, strict=True):
            if cut >= 0.5 * most:
                share.append(opening)
    return [tuple(share) for share in shares]


def _cut_area(opening: ModelOpening, body: Sequence[Mesh], axes: Axes) -> float:
    """What an opening takes of the middle of a length in elevation, m2."""
    local = [moved(mesh, axes) for mesh in body]
    middle = 0.5 * float(min(bounds(mesh)[0, 1] for mesh in local) + max(bounds(mesh)[1, 1] for mesh in local))
    elevation = shapely.union_all([section(mesh, middle) for mesh in local])
    holes = shapely.union_all([section(moved(mesh, axes), middle) for mesh in opening.solids])
    return float(shapely.intersection(elevation, holes).area)


def _parts_in(parts: Sequence[ModelPart], facet: Facet, zero: NDArray[np.float64]) -> tuple[ModelPart, ...]:
    """Parts with those of their solids whose middle stands in a length, or that stand in it with a fair share.

    The post at the end of a length that runs through a corner stands mostly past the bisector.
    """
    plan = shapely.buffer(facet.plan, 0.02, join_style="mitre")
    found: list[ModelPart] = []
    for part in parts:
        flat = [mesh.vertices[:, :2] - zero[:2] for mesh in part.solids]
        middles = [bounds(mesh).mean(axis=0)[:2] - zero[:2] for mesh in part.solids]
        hulls = shapely.convex_hull(np.array([shapely.multipoints(points) for points in flat], dtype=object))
        shares = shapely.area(shapely.intersection(hulls, facet.plan)) > _STANDS_IN * shapely.area(hulls)
        inside = shapely.intersects(plan, shapely.points(np.array(middles).reshape(-1, 2))) | shares
        solids = tuple(mesh for mesh, keep in zip(part.solids, np.atleast_1d(inside), strict=True) if keep)
        if solids:
            found.append(replace(part, solids=solids))
    return tuple(found)


def plan_size(wall: ModelWall) -> tuple[float, float, float]:
    """Length, height (m) and area (m2) of a bent wall that cannot be parted, from its volume and its layers' thickness.

    Zero where the model gives no thickness.
    """
    boxes = np.array([bounds(mesh) for mesh in wall.body])
    height = float(boxes[:, 1, 2].max() - boxes[:, 0, 2].min())
    thickness = sum(layer.thickness for layer in wall.layers.layers) if wall.layers is not None else 0.0
    if thickness <= 0.0 or height <= 0.0:
        return 0.0, height, 0.0
    area = sum(volume(mesh) for mesh in wall.body) / thickness
    return area / height, height, area
