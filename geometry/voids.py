"""A region less solids: its connected voids, with exact areas and volumes, and the slivers between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.slabs import Looks, departure_from_quadratic, flat_depths, halved, looks_between
from geometry.solids import ROUNDING, Prism, Solid, areal, polygons_of, section
from geometry.tolerances import Tolerances

Shape = Polygon | MultiPolygon

_SETTLED = 1e-8
"""Halving stops where the volume can be wrong by no more than this share of the gross volume."""
_MOST_HALVINGS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Void:
    """One connected void (or one sliver).

    cells: its section at each look where it exists, as (look number, polygon in (x, z)).
    outline: union of the sections in elevation. front: the part of it that is open at the near face.
    volume: m3. centroid: (3,) float64, m, local. y_min, y_max: m.
    """

    cells: tuple[tuple[int, Polygon], ...]
    outline: Shape
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
    region: Solid, holes: Sequence[Solid], solids: Sequence[Solid], depth: tuple[float, float], tolerances: Tolerances
) -> Voids:
    """The connected voids of `region - holes - solids` between two depths.

    region, holes, solids: in one set of local axes, m; solids may overlap each other and stick out of the region.
    depth: nearest and farthest y, m. The plane y = depth[0] is the side from which voids are open ("front").
    The four volumes come from separate overlays (intersections for what is taken, differences for what is left), so
    that their sum is a real check of the cutting.
    """
    region, holes, solids = _rounded([region])[0], _rounded(holes), _rounded(solids)
    looks = looks_between([region, *holes, *solids], depth[0], depth[1], tolerances)
    cuts = _cuts(looks, region, holes, solids)
    for _ in range(_MOST_HALVINGS):
        wrong = departure_from_quadratic(looks, cuts.left_areas)
        if float(wrong.sum()) <= _SETTLED * float(looks.weights @ cuts.gross_areas):
            break
        looks = halved(looks, wrong > 0.1 * wrong.max())
        cuts = _cuts(looks, region, holes, solids)
    left = cuts.left
    flats = flat_depths([region, *holes, *solids], tolerances.coincident)
    thin, left = _split_thin(left, looks, np.concatenate([depth, flats]), tolerances)
    cells, narrow = _split_narrow(left, tolerances)
    groups = _joined(cells, looks, tolerances)
    slivers = _joined([a + b for a, b in zip(thin, narrow, strict=True)], looks, tolerances)
    return Voids(
        voids=tuple(_void(group, looks) for group in groups),
        slivers=tuple(_void(group, looks) for group in slivers),
        looks=looks,
        gross=float(looks.weights @ cuts.gross_areas),
        holes=float(looks.weights @ cuts.hole_areas),
        solids=float(looks.weights @ cuts.solid_areas),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Cuts:
    """What is left at every look, and the areas there: each (n,) float64, m2."""

    left: list[Shape]
    gross_areas: NDArray[np.float64]
    hole_areas: NDArray[np.float64]
    solid_areas: NDArray[np.float64]

    @property
    def left_areas(self) -> NDArray[np.float64]:
        return shapely.area(np.array(self.left, dtype=object))


def _cuts(looks: Looks, region: Solid, holes: Sequence[Solid], solids: Sequence[Solid]) -> _Cuts:
    taken = [_sections(looks, group) for group in ([region], holes, solids)]
    left: list[Shape] = []
    areas = np.zeros((3, len(looks.depths)))
    previous: tuple[Shape, ...] = ()
    for number, current in enumerate(zip(*taken, strict=True)):
        if previous and all(a is b for a, b in zip(current, previous, strict=True)):
            left.append(left[-1])
            areas[:, number] = areas[:, number - 1]
            continue
        previous = current
        region_section, hole_section, solid_section = current
        clear = areal(shapely.difference(region_section, hole_section))
        left.append(areal(shapely.difference(clear, solid_section)))
        areas[:, number] = (
            region_section.area,
            shapely.area(shapely.intersection(region_section, hole_section)),
            shapely.area(shapely.intersection(clear, solid_section)),
        )
    return _Cuts(left, areas[0], areas[1], areas[2])


def _rounded(solids: Sequence[Solid]) -> list[Solid]:
    """Prisms with their corners rounded to 1e-10 m, so that noise of turning and adding opens no hairline cracks."""
    prisms = [number for number, solid in enumerate(solids) if isinstance(solid, Prism)]
    result = list(solids)
    if not prisms:
        return result
    outlines = np.array([solids[number].outline for number in prisms], dtype=object)  # type: ignore[union-attr]
    rounded = shapely.set_coordinates(outlines.copy(), np.round(shapely.get_coordinates(outlines), ROUNDING))
    for number, outline in zip(prisms, rounded, strict=True):
        prism = solids[number]
        assert isinstance(prism, Prism)
        result[number] = Prism(outline, prism.y_min, prism.y_max)
    return result


def _sections(looks: Looks, solids: Sequence[Solid]) -> list[Shape]:
    """Union of the solids' sections at every look. The same object is repeated where nothing has changed."""
    spans = np.array([(s.y_min, s.y_max) if isinstance(s, Prism) else (-np.inf, np.inf) for s in solids])
    meshes = [number for number, solid in enumerate(solids) if not isinstance(solid, Prism)]
    found: list[Shape] = []
    last_key: tuple[object, ...] | None = None
    for y in looks.depths.tolist():
        active = [n for n, (low, high) in enumerate(spans.tolist()) if low < y < high]
        pieces = [section(solids[n], y) for n in active]
        key = (*active, *(pieces[active.index(n)].wkb for n in meshes)) if active else ()
        if found and key == last_key:
            found.append(found[-1])
            continue
        last_key = key
        found.append(pieces[0] if len(pieces) == 1 else areal(shapely.union_all(pieces)))
    return found


def _split_thin(
    left: list[Shape], looks: Looks, flats: NDArray[np.float64], tolerances: Tolerances
) -> tuple[list[list[Polygon]], list[Shape]]:
    """Take out what is thinner across the depth than the sliver depth, between flat faces before and behind it.

    flats: depths of all faces that lie across the depth. Beyond the first and the last plane counts as solid: a gap of
    a few millimetres in front of a stud joins no bays. The wedge beside a round pipe has no flat face and stays.
    """
    planes = looks.planes
    thin: list[list[Polygon]] = [[] for _ in left]
    rest = list(left)
    flat = np.flatnonzero((np.abs(planes[:, None] - flats[None, :]) <= 10.0 * tolerances.coincident).any(axis=1))
    for number, first in enumerate(flat[:-1].tolist()):
        opened: Shape | None = None
        for last in flat[number + 1 :].tolist():
            whole = first == 0 and last == len(planes) - 1
            if planes[last] - planes[first] >= tolerances.closing_depth or whole:
                break
            run = np.flatnonzero((looks.slabs >= first) & (looks.slabs < last))
            if opened is None:
                before = left[run[0] - 1] if first > 0 else Polygon()
                opened = areal(shapely.difference(left[run[0]], before))
            if opened.area <= tolerances.least_area:
                break
            behind = left[run[-1] + 1] if last < len(planes) - 1 else Polygon()
            gap = areal(shapely.difference(shapely.intersection_all([opened, *(left[look] for look in run)]), behind))
            if gap.area <= tolerances.least_area:
                continue
            for look in run.tolist():
                thin[look] += polygons_of(shapely.intersection(gap, rest[look]))
                rest[look] = areal(shapely.difference(rest[look], gap))
    return thin, rest


def _split_narrow(left: list[Shape], tolerances: Tolerances) -> tuple[list[list[Polygon]], list[list[Polygon]]]:
    """Cells that are wide enough at every look, and the narrow strips between and beside them."""
    cells: list[list[Polygon]] = []
    narrow: list[list[Polygon]] = []
    for number, shape in enumerate(left):
        if number and shape is left[number - 1]:
            cells.append(cells[-1])
            narrow.append(narrow[-1])
            continue
        wide, strips = wide_parts(shape, tolerances)
        cells.append(wide)
        narrow.append(strips)
    return cells, narrow


def wide_parts(shape: Shape, tolerances: Tolerances) -> tuple[list[Polygon], list[Polygon]]:
    """Part a shape into pieces at least `sliver_width` wide and the strips narrower than that.

    The pieces and strips together are exactly the shape: wide pieces are found by a morphological opening (shrink and
    grow back), but they are then cut out of the shape itself, so that sharp corners, which an opening would round,
    stay with their piece. Strips shorter than a few widths (rounding at corners) also stay with it.
    """
    parts = polygons_of(shape)
    wide: list[Polygon] = []
    strips: list[Polygon] = []
    half = tolerances.closing_width / 2.0
    boxes = shapely.bounds(parts).reshape(-1, 4) if parts else np.empty((0, 4))
    least = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    plain = (least >= 2.0 * half) & _is_box(parts, boxes)
    for part, is_plain, side in zip(parts, plain.tolist(), least.tolist(), strict=True):
        if is_plain:
            wide.append(part)
        elif side < 2.0 * half:
            strips.append(part)
        else:
            pieces, residue = _opened(part, half)
            wide += pieces
            strips += residue
    return wide, strips


def _is_box(parts: Sequence[Polygon], boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
    box_areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    return shapely.area(parts) >= box_areas * (1.0 - 1e-12) if len(parts) else np.empty(0, dtype=bool)


def _opened(part: Polygon, half: float) -> tuple[list[Polygon], list[Polygon]]:
    core = shapely.buffer(part, -half, join_style="mitre", mitre_limit=10.0)
    if core.is_empty:
        return [], [part]
    grown = shapely.buffer(core, half * (1.0 + 1e-6), join_style="mitre", mitre_limit=10.0)
    residue = [piece for piece in polygons_of(shapely.difference(part, grown)) if _is_strip(piece, half)]
    if not residue:
        return [part], []
    strips = areal(shapely.intersection(shapely.union_all(residue), part))
    pieces = polygons_of(shapely.difference(part, strips))
    real = [piece for piece in pieces if shapely.intersects(piece, core)]
    crumbs = [piece for piece in pieces if not shapely.intersects(piece, core)]
    return real, polygons_of(strips) + crumbs


def _is_strip(piece: Polygon, half: float) -> bool:
    """A strip is long for its width; what an opening leaves at a sharp corner is about as long as it is wide."""
    x_min, z_min, x_max, z_max = piece.bounds
    length = max(x_max - x_min, z_max - z_min)
    return length > 6.0 * half and piece.area < length * 2.0 * half


def _joined(cells: Sequence[list[Polygon]], looks: Looks, tolerances: Tolerances) -> list[list[tuple[int, Polygon]]]:
    """Cells of neighbouring looks that overlap in elevation belong together (union-find)."""
    flat = [(look, cell) for look, row in enumerate(cells) for cell in row]
    parents = list(range(len(flat)))

    def root(item: int) -> int:
        while parents[item] != item:
            parents[item] = parents[parents[item]]
            item = parents[item]
        return item

    starts = np.cumsum([0, *(len(row) for row in cells)])
    for look in range(len(cells) - 1):
        near, far = cells[look], cells[look + 1]
        pairs = [(n, n) for n in range(len(near))] if near is far else _overlaps(near, far, tolerances)
        for a, b in pairs:
            parents[root(int(starts[look]) + a)] = root(int(starts[look + 1]) + b)
    groups: dict[int, list[tuple[int, Polygon]]] = {}
    for number, entry in enumerate(flat):
        groups.setdefault(root(number), []).append(entry)
    return list(groups.values())


def _overlaps(near: list[Polygon], far: list[Polygon], tolerances: Tolerances) -> list[tuple[int, int]]:
    """Pairs whose overlap is a passage: larger than rounding, and no strip narrower than a sliver."""
    if not near or not far:
        return []
    far_index, near_index = shapely.STRtree(near).query(far, predicate="intersects")
    common = shapely.intersection(np.array(near)[near_index], np.array(far)[far_index])
    areas = shapely.area(common)
    wide = areas > 100.0 * tolerances.sliver_width**2
    doubtful = np.flatnonzero((areas > tolerances.least_area) & ~wide)
    wide[doubtful] = ~shapely.is_empty(shapely.buffer(common[doubtful], -tolerances.closing_width / 2.0))
    # A long thin overlap can have area enough; a passage needs width too.
    thin = np.flatnonzero(wide & (areas < 0.5 * tolerances.sliver_width * shapely.length(common)))
    wide[thin] = ~shapely.is_empty(shapely.buffer(common[thin], -tolerances.closing_width / 2.0))
    return [(int(a), int(b)) for a, b in zip(near_index[wide], far_index[wide], strict=True)]


def _void(cells: list[tuple[int, Polygon]], looks: Looks) -> Void:
    numbers = np.array([look for look, _ in cells])
    polygons = np.array([cell for _, cell in cells], dtype=object)
    parts = shapely.area(polygons) * looks.weights[numbers]
    middles = shapely.get_coordinates(shapely.centroid(polygons))
    total = float(parts.sum())
    shares = parts / total if total > 0.0 else np.full(len(parts), 1.0 / len(parts))
    centroid = np.array([shares @ middles[:, 0], shares @ looks.depths[numbers], shares @ middles[:, 1]])
    distinct = {id(cell): cell for _, cell in cells}
    outline = _union(list(distinct.values()))
    slabs = looks.slabs[numbers]
    in_front = [cell for (_, cell), look in zip(cells, numbers.tolist(), strict=True) if look == 0]
    return Void(
        cells=tuple(cells),
        outline=outline,
        front=_union(in_front),
        volume=total,
        centroid=centroid,
        y_min=float(looks.planes[slabs.min()]),
        y_max=float(looks.planes[slabs.max() + 1]),
    )


def _union(polygons: list[Polygon]) -> Shape:
    if not polygons:
        return Polygon()
    return polygons[0] if len(polygons) == 1 else areal(shapely.union_all(polygons))
