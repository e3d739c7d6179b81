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
from geometry.frames import Axes, axes_from_directions
from geometry.solids import Mesh, areal, bounds, doubled_areas, extruded, moved, section, volume
from takeoff.model import Cylinder, Finding, ModelOpening, ModelPart, ModelWall, Severity, Wall

_SNAP = 1e-5
"""m; corners and edges of a plan agree within this after tessellation and turning."""
_PARALLEL = np.cos(np.radians(0.2))
_ALIGNED = np.cos(np.radians(3.0))
_ROUGHLY_ALIGNED = np.cos(np.radians(45.0))
"""A length more than 45 degrees off the direction that the model gives does not show which side is meant."""
_SAME_THICKNESS = 0.002
"""m; lengths of one wall are equally thick within this."""
_SHORTEST = 0.3
"""m; a length shorter than this is no facet to set studs in, but a step of a curve or a nib."""
_TESSELLATED = 0.6
"""m; steps of this length or less whose corners lie on one circle are a curve drawn in chords (our rule)."""
_FEWEST_CHORDS = 4
_ON_CIRCLE = 0.002
"""m; corners of such a curve lie on its circle within this."""
_LEAST_SHARE = 0.15
"""A wall that cannot be parted is taken for straight, with a nib or a pier, where lengths out of line with the longest
make up less than this share of its plan."""
_SHALLOW = 0.01
"""m; a body thicker than its layers by no more than this is not bent."""
_FILLED = 1e-4
"""Share of the plan that the lengths may leave or cover twice."""
_NO_WALL = 0.6
"""m; no wall without layers is thicker than this from face to face unless it is bent."""
_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """A straight length in plan: corners (4, 2) m, relative to the plan's zero; first two along one side, last two back
    along the other. Before they are sorted by side either may be the first."""

    corners: NDArray[np.float64]

    @property
    def plan(self) -> Polygon:
        return Polygon(self.corners)

    @property
    def across(self) -> NDArray[np.float64]:
        """Unit (2,) from the first side to the second."""
        along = self.corners[1] - self.corners[0]
        along = along / np.linalg.norm(along)
        return np.array([-along[1], along[0]])

    @property
    def thickness(self) -> float:
        """m"""
        return float((self.corners[2] - self.corners[0]) @ self.across)

    @property
    def length(self) -> float:
        """m, midway between its sides."""
        return float(self.plan.area) / self.thickness

    def turned(self) -> Facet:
        """The same with its sides exchanged."""
        return Facet(self.corners[[2, 3, 0, 1]])


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """The straight lengths of a bent wall as walls of their own, and the length of all along their middle, m."""

    walls: tuple[ModelWall, ...]
    length: float


def bent_wall(wall: ModelWall, extent: float) -> Parted | Cylinder | str | None:
    """What a wall is that may be bent in plan.

    extent: thickness of its body in its raw axes, m. Returns None where it is straight (or no more than odd in shape),
    its lengths where it is bent, a cylinder where it is a curve drawn in chords, or the reason why it cannot be parted.
    """
    total = sum(layer.thickness for layer in wall.layers.layers) if wall.layers is not None else 0.0
    if not wall.body or extent <= (total + _SHALLOW if total > 0.0 else _NO_WALL):
        return None
    zero = wall.body[0].vertices[0].copy()
    plan = _plan_of(wall.body, zero)
    facets = _facets(plan, total) if plan is not None else []
    aside = _share_aside(facets)
    if plan is None or aside == 0.0:
        return None
    covered = shapely.union_all([facet.plan for facet in facets])
    missed = shapely.symmetric_difference(covered, plan).area
    twice = sum(facet.plan.area for facet in facets) - covered.area
    if max(missed, twice) > _FILLED * plan.area:
        if aside < _LEAST_SHARE:
            return None
        return "bent in plan, but not into straight lengths of one thickness; draw a wall for each length in the model"
    circle = _circle(facets)
    if circle is not None:
        centre, radius = circle
        return Cylinder(np.array([*(centre + zero[:2]), zero[2]]), _UP, radius)
    if min(facet.length for facet in facets) < _SHORTEST:
        if aside < _LEAST_SHARE:
            return None
        return "bent in plan, partly in a curve or in very short lengths; draw a wall for each length in the model"
    ordered = _sorted_by_side(facets)
    sided = None if ordered is None else _towards_last_layer(ordered, wall, zero)
    if sided is None:
        return "bent in plan, and the model does not say to which side its layers run; draw a wall for each length"
    return Parted(_walls(wall, sided, plan, zero), sum(facet.length for facet in sided))


# ---------------------------------------------------------------- the plan and its lengths


def _plan_of(body: Sequence[Mesh], zero: NDArray[np.float64]) -> Polygon | None:
    """What a body covers in plan, m from zero; None where that is not one piece."""
    pieces: list[Polygon] = []
    for mesh in body:
        corners = (mesh.vertices - zero)[mesh.faces][:, :, :2]
        pieces += np.atleast_1d(np.asarray(shapely.polygons(corners[np.abs(doubled_areas(corners)) > 1e-10]))).tolist()
    whole = shapely.buffer(areal(shapely.union_all(pieces, grid_size=1e-8)), _SNAP / 10.0, join_style="mitre")
    whole = shapely.buffer(whole, -_SNAP / 10.0, join_style="mitre")
    plain = shapely.simplify(shapely.normalize(whole), _SNAP, preserve_topology=True)
    if not isinstance(plain, Polygon) or plain.is_empty:
        return None
    rings = [_without_idle_corners(np.array(ring.coords)) for ring in (plain.exterior, *plain.interiors)]
    return shapely.orient_polygons(Polygon(rings[0], rings[1:]))


def _without_idle_corners(ring: NDArray[np.float64]) -> NDArray[np.float64]:
    """A closed ring (n, 2) without corners on straight edges, its first one too, which simplifying keeps."""
    points = ring[:-1]
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    base, off = after - before, points - before
    length = np.maximum(np.linalg.norm(base, axis=1), _SNAP)
    idle = np.abs(base[:, 0] * off[:, 1] - base[:, 1] * off[:, 0]) <= _SNAP * length
    return points[~idle] if (~idle).sum() >= 3 else points


def _facets(plan: Polygon, total: float) -> list[Facet]:
    """Straight lengths: pairs of parallel edges that face each other through the wall at its thickness."""
    starts, stops = _edges(plan)
    along = stops - starts
    lengths = np.linalg.norm(along, axis=1)
    along = along / lengths[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    apart = ((starts[None] - starts[:, None]) * inward[:, None]).sum(axis=2)
    first = ((stops[None] - starts[:, None]) * along[:, None]).sum(axis=2)
    last = ((starts[None] - starts[:, None]) * along[:, None]).sum(axis=2)
    shared = np.minimum(last, lengths[:, None]) - np.maximum(first, 0.0)
    facing = (along @ along.T < -_PARALLEL) & (apart > _SNAP) & (shared > 0.5 * np.minimum(lengths[:, None], lengths))
    if not facing.any():
        return []
    nearest = np.where(facing, apart, np.inf).min(axis=1)
    seen = np.isfinite(nearest)
    thickness = _weighted_median(nearest[seen], lengths[seen])
    if total > 0.0 and (facing & (np.abs(apart - total) <= _SAME_THICKNESS)).any():
        thickness = total
    pairs = np.argwhere(np.triu(facing & (np.abs(apart - thickness) <= _SAME_THICKNESS)))
    return [Facet(np.array([starts[i], stops[i], starts[j], stops[j]])) for i, j in pairs]


def _edges(plan: Polygon) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Starts and stops (n, 2) of the edges of all rings, the inside to their left, m."""
    rings = [np.array(ring.coords) for ring in (plan.exterior, *plan.interiors)]
    return np.concatenate([ring[:-1] for ring in rings]), np.concatenate([ring[1:] for ring in rings])


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values, kind="stable")
    sums = np.cumsum(weights[order])
    return float(values[order][int(np.searchsorted(sums, 0.5 * sums[-1]))])


def _share_aside(facets: Sequence[Facet]) -> float:
    """Share of the lengths' plan that lies out of line with the longest; 0 for a straight wall."""
    if len(facets) < 2:
        return 0.0
    areas = np.array([facet.plan.area for facet in facets])
    across = np.array([facet.across for facet in facets])
    aside = np.abs(across @ across[int(np.argmax(areas))]) < _PARALLEL
    return float(areas[aside].sum() / areas.sum())


def _circle(facets: Sequence[Facet]) -> tuple[NDArray[np.float64], float] | None:
    """Centre (2,) and middle radius of the circle in whose chords the lengths are drawn, m; None where they are not."""
    if len(facets) < _FEWEST_CHORDS or max(facet.length for facet in facets) > _TESSELLATED:
        return None
    ordered = _sorted_by_side(facets)
    if ordered is None:
        return None
    sides = [np.concatenate([facet.corners[rows] for facet in ordered]) for rows in ([0, 1], [2, 3])]
    points = np.concatenate(sides)
    # Circles about one centre: x^2 + y^2 = 2 x cx + 2 y cy + k, with a k for each side.
    owner = np.repeat([[1.0, 0.0], [0.0, 1.0]], [len(sides[0]), len(sides[1])], axis=0)
    found, *_ = np.linalg.lstsq(np.hstack([2.0 * points, owner]), (points**2).sum(axis=1), rcond=None)
    centre = found[:2]
    radii = [np.linalg.norm(side - centre, axis=1) for side in sides]
    if max(float(np.ptp(each)) for each in radii) > _ON_CIRCLE:
        return None
    return centre, 0.5 * float(radii[0].mean() + radii[1].mean())


def _sorted_by_side(facets: Sequence[Facet]) -> list[Facet] | None:
    """The lengths with their first sides all on one side of the wall; None where they do not hang together."""
    known = {0: facets[0]}
    waiting = [0]
    while waiting:
        here = known[waiting.pop()]
        for number, facet in enumerate(facets):
            if number in known:
                continue
            for turned in (facet, facet.turned()):
                if _joined(here, turned):
                    known[number] = turned
                    waiting.append(number)
                    break
    return [known[number] for number in range(len(facets))] if len(known) == len(facets) else None


def _joined(one: Facet, other: Facet) -> bool:
    """Whether one length runs on into another, first side into first side."""
    a, b = one.corners, other.corners

    def same(p: NDArray[np.float64], q: NDArray[np.float64]) -> bool:
        return float(np.linalg.norm(p - q)) <= 10.0 * _SNAP

    return (same(a[1], b[0]) and same(a[2], b[3])) or (same(a[0], b[1]) and same(a[3], b[2]))


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
    return [facet.turned() if turn else facet for facet in facets]


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
    """Parts with those of their solids whose middle stands in a length."""
    plan = shapely.buffer(facet.plan, 0.02, join_style="mitre")
    found: list[ModelPart] = []
    for part in parts:
        middles = [bounds(mesh).mean(axis=0)[:2] - zero[:2] for mesh in part.solids]
        inside = shapely.intersects(plan, shapely.points(np.array(middles).reshape(-1, 2)))
        solids = tuple(mesh for mesh, keep in zip(part.solids, np.atleast_1d(inside), strict=True) if keep)
        if solids:
            found.append(replace(part, solids=solids))
    return tuple(found)


def put_together(walls: Sequence[Wall], length: float) -> Wall:
    """One wall of the model from its straight lengths."""
    outside = next((wall for wall in walls if wall.external), walls[0])
    filled = next((wall for wall in walls if wall.insulated), walls[0])
    taken = next((wall for wall in walls if wall.stud_layers), walls[0])
    layers = tuple(layer for wall in walls for layer in wall.stud_layers)
    findings = tuple(dict.fromkeys(finding for wall in walls for finding in wall.findings))
    note = (_parted(taken, len(walls)),) if layers else ()
    return replace(
        taken,
        external=outside.external,
        external_reason=outside.external_reason,
        insulated=filled.insulated,
        insulated_reason=filled.insulated_reason,
        length=length,
        height=max(wall.height for wall in walls),
        gross_area=sum(wall.gross_area for wall in walls),
        stud_layers=layers,
        findings=(*findings, *note),
    )


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


def _parted(wall: Wall, lengths: int) -> Finding:
    return Finding(
        "bent-wall-parted", Severity.INFO,
        f"The wall is bent in plan: each of its {lengths} straight lengths is a stud layer of its own, and they are "
        "parted at the corners along the bisector.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, float(lengths), None, "",
    )  # fmt: skip
