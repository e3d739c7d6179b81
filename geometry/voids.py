"""A region less solids: its connected voids, with exact areas and volumes, and the slivers between."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.boxes import are_boxes
from geometry.cuts import Cuts, Cutter, Shape, meeting, rounded
from geometry.level_faces import LevelFaces, level_faces
from geometry.overlays import outside_of, parted
from geometry.passages import joined_cells
from geometry.slabs import Looks, doubts, looks_between, refined
from geometry.solids import HAIR, Solid, areal, polygons_of, without_idle_points
from geometry.tolerances import Tolerances

_SETTLED = 1e-9
"""Slabs are cut in two until the volume can be wrong by no more than this share of the gross volume."""
_SETTLED_ROUND = 1e-7
"""The same where finely faceted bodies are not cut at each of their corners."""
_MOST_ROUNDS = 12
_MOST_SLABS = 400
_TOUCHING = 1e-5
"""m; slivers whose sections share less than this in neighbouring slabs only touch."""
_OF_A_BOX = 5
"""Coordinates of a rectangle."""
_NOTHING = Polygon()


@dataclass(frozen=True, slots=True, eq=False)
class Void:
    """One connected void (or one sliver).

    cells: its section at each look where it exists, as (look number, polygon in (x, z)).
    outline: union of the sections in elevation. box: its bounds, x_min, z_min, x_max, z_max, m. front: the part of it
    that is open at the near face.
    volume: m3. centroid: (3,) float64, m, local. y_min, y_max: m.
    """

    cells: tuple[tuple[int, Polygon], ...]
    outline: Shape
    box: tuple[float, float, float, float]
    front: Shape
    volume: float
    centroid: NDArray[np.float64]
    y_min: float
    y_max: float


@dataclass(frozen=True, slots=True, eq=False)
class Voids:
    """What a region holds: voids, slivers, and the volumes (m3) that must add up to the gross volume of the region."""

    voids: tuple[Void, ...]
    slivers: tuple[Void, ...]
    looks: Looks
    gross: float
    holes: float
    solids: float

    @property
    def void_volume(self) -> float:
        """m3"""
        return float(sum(void.volume for void in self.voids))

    @property
    def sliver_volume(self) -> float:
        """m3"""
        return float(sum(sliver.volume for sliver in self.slivers))


def find_voids(
    region: Solid,
    holes: Sequence[Solid],
    solids: Sequence[Solid],
    depth: tuple[float, float],
    tolerances: Tolerances,
    *,
    stretch: Callable[[NDArray[np.float64]], NDArray[np.float64]] | None = None,
) -> Voids:
    """The connected voids of `region - holes - solids` between two depths.

    region, holes, solids: in one set of local axes, m; solids may overlap each other and stick out of the region.
    depth: nearest and farthest y, m. The plane y = depth[0] is the side from which voids are open ("front").
    stretch: depths (n,) m -> true volume per local volume there, a linear function of the depth (an assembly rolled out
    from a cylinder); None where the axes are flat. Gauss's two points still integrate quadratic times linear exactly.
    The four volumes come from separate overlays (intersections for what is taken, differences for what is left), so
    that their sum is a real check of the cutting.
    """
    region, holes, solids = rounded([region])[0], rounded(holes), rounded(solids)
    looks, cuts = _settled(Cutter(region, holes, solids), looks_between([region, *holes, *solids], *depth, tolerances))
    if stretch is not None:
        looks = replace(looks, weights=looks.weights * stretch(looks.depths))
    faces = level_faces([region, *holes, *solids], tolerances.coincident)
    faces = replace(faces, depths=np.concatenate([depth, faces.depths]))
    thin, left = _split_thin(cuts.pieces, looks, faces, tolerances)
    cells, narrow = split_narrow(left, tolerances)
    groups = joined_cells(cells, tolerances)
    # A sliver is one as long as it holds together at all; what is thin in depth stays apart from what is narrow.
    touching = replace(tolerances, sliver_width=_TOUCHING, least_area=_TOUCHING**2)
    slivers = [group for row in (thin, narrow) for group in joined_cells(row, touching)]
    return Voids(
        voids=_voids(groups, looks),
        slivers=_voids(slivers, looks),
        looks=looks,
        gross=float(looks.weights @ cuts.gross),
        holes=float(looks.weights @ cuts.holes),
        solids=float(looks.weights @ cuts.solids),
    )


def _settled(cutter: Cutter, looks: Looks) -> tuple[Looks, Cuts]:
    """Cuts at looks that were made finer until the volume left is known closely enough."""
    for _ in range(_MOST_ROUNDS):
        cuts = cutter.cuts(looks)
        wrong = doubts(looks, cuts.left)
        share = _SETTLED_ROUND if len(looks.spare) else _SETTLED
        allowed = share * float(looks.weights @ cuts.gross)
        if float(wrong.sum()) <= allowed:
            return looks, cuts
        if len(wrong) >= _MOST_SLABS:
            break
        # The best slabs that together stay within half of what is allowed are left alone.
        order = np.argsort(wrong)
        worse = np.zeros(len(wrong), dtype=bool)
        worse[order[np.cumsum(wrong[order]) > 0.5 * allowed]] = True
        looks = refined(looks, worse)
    return replace(looks, exact=False), cutter.cuts(looks)


def _split_thin(
    left: Sequence[list[Polygon]], looks: Looks, faces: LevelFaces, tolerances: Tolerances
) -> tuple[list[list[Polygon]], list[list[Polygon]]]:
    """Take out what is thinner across the depth than the sliver depth, between level faces before and behind it.

    Beyond the first and the last plane counts as solid: a gap of a few millimetres in front of a stud joins no bays.
    Faces that lie a few degrees out count as level, so the wedge before a twisted stud is a gap as well; the wedge
    beside a round pipe, between steep faces, stays with its void.
    """
    planes = looks.planes
    thin: list[list[Polygon]] = [[] for _ in left]
    rest = list(left)
    near = np.abs(planes[:, None] - faces.depths[None, :]) <= 10.0 * tolerances.coincident
    borders = np.flatnonzero(near.any(axis=1))
    for number, first in enumerate(borders[:-1].tolist()):
        for last in borders[number + 1 :].tolist():
            whole = first == 0 and last == len(planes) - 1
            if planes[last] - planes[first] >= tolerances.closing_depth or whole:
                break
            run = np.flatnonzero((looks.slabs >= first) & (looks.slabs < last)).tolist()
            before = left[run[0] - 1] if first > 0 else []
            behind = left[run[-1] + 1] if last < len(planes) - 1 else []
            gap = _gap([left[look] for look in run], before, behind)
            if gap.area <= tolerances.least_area:
                continue
            gap = outside_of(gap, faces.steep_between(float(planes[first]), float(planes[last])))
            if gap.area <= tolerances.least_area:
                continue
            for look in run:
                taken, kept = parted(_one(rest[look]), gap)
                thin[look] += polygons_of(taken)
                rest[look] = polygons_of(kept)
    return thin, rest


def _gap(run: Sequence[list[Polygon]], before: list[Polygon], behind: list[Polygon]) -> Shape:
    """What is void at some look of a run, and neither at the look before it nor at the one behind.

    The cells of one look overlap nowhere, so one that goes on as the same object beyond the run is no part of it.
    """
    on = {id(piece) for piece in (*before, *behind)}
    fresh = list({id(piece): piece for look in run for piece in look if id(piece) not in on}.values())
    for beyond in (before, behind):
        fresh = _uncovered(fresh, beyond)
    if not fresh:
        return Polygon()
    here = fresh[0] if len(fresh) == 1 else _one(fresh) if len(run) == 1 else areal(shapely.union_all(fresh))
    for beyond in (before, behind):
        near = [beyond[number] for number in meeting(beyond, here)]
        if near:
            here = outside_of(here, _one(near))
    return here


def _uncovered(pieces: list[Polygon], others: list[Polygon]) -> list[Polygon]:
    """Pieces that lie within none of the others: most bays go on, as wide or wider, where studs have flanges."""
    if not pieces or not others:
        return pieces
    inner, outer = shapely.bounds(pieces), shapely.bounds(others)
    low = (inner[:, None, :2] >= outer[None, :, :2]).all(axis=2)
    high = (inner[:, None, 2:] <= outer[None, :, 2:]).all(axis=2)
    one, other = np.nonzero(low & high)
    within = are_boxes(shapely.area(others), outer)[other]
    long = ~within  # where the other is no box, its own box says too little
    within[long] = shapely.covers(
        np.array(others, dtype=object)[other[long]], np.array(pieces, dtype=object)[one[long]]
    )
    covered = set(one[within].tolist())
    return [piece for number, piece in enumerate(pieces) if number not in covered]


def _one(pieces: list[Polygon]) -> Shape:
    return pieces[0] if len(pieces) == 1 else MultiPolygon(pieces)


def split_narrow(
    left: Sequence[list[Polygon]], tolerances: Tolerances
) -> tuple[list[list[Polygon]], list[list[Polygon]]]:
    """Cells that are wide enough at every look, and the narrow strips between and beside them.

    A piece that is the same object at several looks is parted once, and a list that is the same stays the same.
    """
    pieces = list({id(piece): piece for look in left for piece in look}.values())
    parted = dict(zip(map(id, pieces), _parted(pieces, tolerances), strict=True))
    wide: list[list[Polygon]] = []
    narrow: list[list[Polygon]] = []
    known: dict[int, int] = {}
    for number, look in enumerate(left):
        first = known.setdefault(id(look), number)
        wide.append(wide[first] if first < number else [one for piece in look for one in parted[id(piece)][0]])
        narrow.append(narrow[first] if first < number else [one for piece in look for one in parted[id(piece)][1]])
    return wide, narrow


def wide_parts(shape: Shape, tolerances: Tolerances) -> tuple[list[Polygon], list[Polygon]]:
    """Part a shape into pieces at least `sliver_width` wide and the strips narrower than that.

    The pieces and strips together are exactly the shape: wide pieces are found by a morphological opening (shrink and
    grow back), but they are then cut out of the shape itself, so that sharp corners, which an opening would round,
    stay with their piece. Strips shorter than a few widths (rounding at corners) also stay with it.
    """
    parted = _parted(polygons_of(shape), tolerances)
    return [piece for wide, _ in parted for piece in wide], [piece for _, strips in parted for piece in strips]


def _parted(parts: Sequence[Polygon], tolerances: Tolerances) -> list[tuple[list[Polygon], list[Polygon]]]:
    """For each polygon its wide pieces and its strips."""
    half = tolerances.closing_width / 2.0
    if not parts:
        return []
    boxes = shapely.bounds(parts)
    least = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    plain = (least >= 2.0 * half) & are_boxes(shapely.area(parts), boxes)
    found: list[tuple[list[Polygon], list[Polygon]]] = []
    for part, is_plain, side in zip(parts, plain.tolist(), least.tolist(), strict=True):
        if is_plain:
            found.append(([part], []))
        elif side < 2.0 * half:
            found.append(([], [part]))
        else:
            found.append(_opened(part, half))
    return found


def _opened(part: Polygon, half: float) -> tuple[list[Polygon], list[Polygon]]:
    cores = polygons_of(shapely.buffer(part, -half, join_style="mitre", mitre_limit=10.0))
    if not cores:
        return [], [part]
    # A hair more than was shrunk, so that rounding leaves no hairline residue along every edge.
    grown = shapely.buffer(np.array(cores, dtype=object), half * (1.0 + 1e-6), join_style="mitre", mitre_limit=10.0)
    if len(cores) == 1:
        mine, beside = parted(part, grown[0])
        if len(polygons_of(mine)) == 1 and not any(_is_strip(piece, half) for piece in polygons_of(beside)):
            return [part], []
    # Each core takes its own grown piece: two rooms that only a hairline joins come apart however thin it is.
    wide: list[Polygon] = []
    for piece in grown:
        mine, _ = parted(part, piece)
        for other in wide:
            mine = outside_of(mine, other)
        wide.append(_largest(mine))
    left: Shape = part
    for piece in wide:
        left = outside_of(left, piece)
    rest = polygons_of(left)
    strips = [piece for piece in rest if _is_strip(piece, half)]
    if len(cores) == 1 and not strips:
        return [part], []
    for crumb in (piece for piece in rest if not _is_strip(piece, half)):
        nearest = int(np.argmin(shapely.distance(wide, crumb)))
        whole = polygons_of(shapely.union(wide[nearest], crumb))
        if len(whole) == 1:
            wide[nearest] = whole[0]
        else:
            strips.append(crumb)
    return wide, strips


def _largest(shape: Any) -> Polygon:
    return max(polygons_of(shape), key=lambda piece: piece.area, default=Polygon())


def _is_strip(piece: Polygon, half: float) -> bool:
    """A strip is long for its width; what an opening leaves at a sharp corner is about as long as it is wide."""
    x_min, z_min, x_max, z_max = piece.bounds
    length = max(x_max - x_min, z_max - z_min)
    return length > 6.0 * half and piece.area < length * 2.0 * half


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """Cells, their areas, their bounds, and which of them are boxes: (n,) each, the bounds (n, 4), m."""

    cells: list[Polygon]
    areas: NDArray[np.float64]
    bounds: list[list[float]]
    boxes: list[bool]

    def union(self, rows: Sequence[int]) -> Shape:
        """The union of some of the cells."""
        if len(rows) > 1:
            rows = list({id(self.cells[row]): row for row in rows}.values())
        if len(rows) <= 1:
            return self.cells[rows[0]] if rows else _NOTHING
        # The cells of one bay mostly lie within its widest one; where that is a box, bounds settle it without an
        # overlay.
        widest = rows[int(np.argmax(self.areas[rows]))]
        if self.boxes[widest]:
            x_min, z_min, x_max, z_max = self.bounds[widest]
            beside = [
                row
                for row, box in ((row, self.bounds[row]) for row in rows)
                if box[0] < x_min or box[1] < z_min or box[2] > x_max or box[3] > z_max
            ]
            if not beside:
                return self.cells[widest]
            rows = [widest, *beside]
        return areal(shapely.union_all([self.cells[row] for row in rows]))


def _measured(cells: list[Polygon]) -> _Measured:
    areas, boxes = shapely.area(cells), shapely.bounds(cells)
    return _Measured(cells, areas, boxes.tolist(), are_boxes(areas, boxes).tolist())


def _voids(groups: list[list[tuple[int, Polygon]]], looks: Looks) -> tuple[Void, ...]:
    if not groups:
        return ()
    measured = _measured([cell for group in groups for _, cell in group])
    numbers = np.array([look for group in groups for look, _ in group])
    owners = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
    parts = measured.areas * looks.weights[numbers]
    totals = np.bincount(owners, parts)
    middles = shapely.get_coordinates(shapely.centroid(measured.cells))
    points = np.stack([middles[:, 0], looks.depths[numbers], middles[:, 1]], axis=1)
    # A group of no volume (looks without weight only) has the plain mean of its middles.
    shares = np.where(totals[owners] > 0.0, parts, 1.0)
    sums = np.bincount(owners, shares)
    centroids = np.stack([np.bincount(owners, shares * points[:, axis]) / sums for axis in range(3)], axis=1)
    starts = np.cumsum([0, *map(len, groups)]).tolist()
    outlines = _tidy([measured.union(range(first, last)) for first, last in pairwise(starts)])
    fronts = _tidy(
        [
            measured.union([first + number for number, (look, _) in enumerate(group) if look == 0])
            for group, first in zip(groups, starts[:-1], strict=True)
        ]
    )
    near, far = looks.planes[looks.slabs].tolist(), looks.planes[looks.slabs + 1].tolist()
    return tuple(
        Void(
            cells=tuple(group),
            outline=outline,
            box=(box[0], box[1], box[2], box[3]),
            front=front,
            volume=volume,
            centroid=centroid,
            y_min=near[group[0][0]],
            y_max=far[group[-1][0]],
        )
        for group, outline, front, box, volume, centroid in zip(
            groups, outlines, fronts, shapely.bounds(outlines).tolist(), totals.tolist(), centroids, strict=True
        )
    )


def _tidy(shapes: list[Shape]) -> list[Shape]:
    """The shapes without idle points: where a void grows from look to look, each look leaves points on the sides of the
    others, or a hair beside them, and a hair between two points upsets whoever draws the shape in by some distance."""
    tidy = list(shapes)
    for number in np.flatnonzero(shapely.get_num_coordinates(shapes) > _OF_A_BOX).tolist():
        plain = without_idle_points(shapes[number], HAIR)
        tidy[number] = shapes[number] if plain.is_empty else plain
    return tidy
