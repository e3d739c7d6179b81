"""What is left of a region at chosen depths, and the areas taken there.

Only what moves with the depth is cut anew at every look: the prisms that reach a depth are united and taken away once
for all looks between the same flat planes, and a mesh then cuts only the pieces that it meets. Pieces that stay the
same are the same objects at every look, so that whoever follows them through the depth need not compare their shapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.overlays import SAME_AREA, parted, parted_each
from geometry.slabs import Looks
from geometry.solids import ROUNDING, Mesh, Prism, Solid, areal, distinct_faces, polygons_of, section

Shape = Polygon | MultiPolygon

_SAME_PLACE = 1e-9
"""m; boxes that overlap by no more than this only touch."""


@dataclass(frozen=True, slots=True, eq=False)
class Cuts:
    """Pieces left at every look (the same list, or the same polygons, where nothing changes), and the areas there.

    gross, holes, solids, left: (n,) float64, m2, one per look.
    """

    pieces: list[list[Polygon]]
    gross: NDArray[np.float64]
    holes: NDArray[np.float64]
    solids: NDArray[np.float64]
    left: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """What is left at one depth, and the areas there: gross, holes, solids, left, m2."""

    pieces: list[Polygon]
    areas: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Solids that are taken together: prisms (outlines that are alike have one number) and meshes.

    outlines: (p,) object. alike: (p,) int64. spans: (p, 2) float64, m, nearest and farthest depth.
    """

    outlines: NDArray[np.object_]
    alike: NDArray[np.int64]
    spans: NDArray[np.float64]
    meshes: tuple[Mesh, ...]

    def prisms_at(self, depth: float) -> NDArray[np.int64]:
        """Numbers of the outlines that reach a depth."""
        return np.unique(self.alike[(self.spans[:, 0] < depth) & (self.spans[:, 1] > depth)])

    def sections_at(self, depth: float) -> list[Shape]:
        """Sections of the meshes that reach a depth."""
        return [cut for mesh in self.meshes if not (cut := section(mesh, depth, distinct=True)).is_empty]


_Key = tuple[bytes, bytes, tuple[bytes, ...], tuple[bytes, ...]]


class Cutter:
    """Cuts one region at any depths, and remembers what it has cut."""

    def __init__(self, region: Solid, holes: Sequence[Solid], solids: Sequence[Solid]) -> None:
        """Region, holes and solids in one set of local axes, m."""
        self._region, self._holes, self._solids = _group([region]), _group(holes), _group(solids)
        self._clear: dict[_Key, tuple[Shape, float, float]] = {}
        self._apart: dict[bytes, MultiPolygon] = {}
        self._bases: dict[tuple[_Key, bytes, bool], _Look] = {}
        self._looks: dict[float, _Look] = {}

    def cuts(self, looks: Looks) -> Cuts:
        """Everything at the looks' depths; what the solids take is measured only where a look carries weight."""
        weighty = (looks.weights > 0.0).tolist()
        found = [self._look(depth, measure) for depth, measure in zip(looks.depths.tolist(), weighty, strict=True)]
        areas = np.array([look.areas for look in found]).reshape(-1, 4)
        return Cuts([look.pieces for look in found], *areas.T)

    def _look(self, depth: float, measure: bool) -> _Look:
        if depth not in self._looks:
            self._looks[depth] = _less(self._base(depth, measure), self._solids.sections_at(depth))
        return self._looks[depth]

    def _base(self, depth: float, measure: bool) -> _Look:
        """What is left where only the prisms among the solids are taken away."""
        region, holes, solids = (group.prisms_at(depth) for group in (self._region, self._holes, self._solids))
        moving = self._region.sections_at(depth), self._holes.sections_at(depth)
        cut = [tuple(piece.wkb for piece in pieces) for pieces in moving]
        outer = (region.tobytes(), holes.tobytes(), cut[0], cut[1])
        key = (outer, solids.tobytes(), measure or not (moving[0] or moving[1]))
        if key not in self._bases:
            if outer not in self._clear:
                self._clear[outer] = _clear(
                    [*self._region.outlines[region].tolist(), *moving[0]],
                    [*self._holes.outlines[holes].tolist(), *moving[1]],
                )
            if key[1] not in self._apart:
                self._apart[key[1]] = _apart(self._solids.outlines[solids].tolist())
            clear, gross, open_area = self._clear[outer]
            left, taken = _without(clear, self._apart[key[1]], measure=key[2])
            self._bases[key] = _Look(polygons_of(left), (gross, open_area, taken, float(left.area)))
        return self._bases[key]


def _group(solids: Sequence[Solid]) -> _Group:
    prisms = [solid for solid in solids if isinstance(solid, Prism)]
    outlines = np.empty(len(prisms), dtype=object)
    outlines[:] = [prism.outline for prism in prisms]
    first: dict[bytes, int] = {}
    alike = [first.setdefault(text, n) for n, text in enumerate(shapely.to_wkb(outlines))]
    spans = np.array([(prism.y_min, prism.y_max) for prism in prisms]).reshape(-1, 2)
    meshes = tuple(distinct_faces(solid) for solid in solids if isinstance(solid, Mesh))
    return _Group(outlines, np.array(alike, dtype=np.int64), spans, meshes)


def _less(base: _Look, sections: Sequence[Shape]) -> _Look:
    """The same with sections of meshes taken away."""
    if not sections or not base.pieces:
        return base
    taken = _united(sections)
    boxes, cut_boxes = shapely.bounds(base.pieces), shapely.bounds(polygons_of(taken)).reshape(-1, 4)
    low = np.maximum(boxes[:, None, :2], cut_boxes[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], cut_boxes[None, :, 2:])
    touched = np.unique(np.nonzero((low < high).all(axis=2))[0]).tolist()
    if not touched:
        return base
    before = [base.pieces[n] for n in touched]
    inside, rest = parted_each(before, taken)
    shared = float(shapely.area(inside).sum())
    pieces: list[Polygon] = []
    after = iter(rest.tolist())
    for number, piece in enumerate(base.pieces):
        if number in touched:
            pieces += polygons_of(next(after))
        else:
            pieces.append(piece)
    gross, holes, solids, left = base.areas
    left += float(shapely.area(rest).sum()) - float(shapely.area(before).sum())
    return _Look(pieces, (gross, holes, solids + shared, left))


def _clear(region: list[Shape], holes: list[Shape]) -> tuple[Shape, float, float]:
    """The region without its holes, its whole area and the area of the holes in it, m2."""
    whole = _united(region)
    if not holes:
        return whole, float(whole.area), 0.0
    open_, clear = parted(whole, _united(holes))
    return clear, float(whole.area), float(open_.area)


def _without(clear: Shape, solids: MultiPolygon, *, measure: bool) -> tuple[Shape, float]:
    """What is left of a shape without solids that overlap nowhere, and the area that they take of it, m2.

    measure: False where the area is not wanted, since the look carries no weight.
    """
    if solids.is_empty:
        return clear, 0.0
    # Members that only touch, as those of a tidy frame mostly do, need no union. What they take is then the sum of
    # their own areas, or of what lies inside; where the areas do not add up after all, the long way is gone.
    rest = shapely.difference(clear, solids)
    total = float(solids.area)
    slack = SAME_AREA * clear.area
    if abs(clear.area - rest.area - total) > slack:
        if not measure and rest.is_valid:
            return areal(rest), 0.0
        total = float(shapely.intersection(clear, solids).area)
    if abs(clear.area - rest.area - total) <= slack and rest.is_valid:
        return areal(rest), total
    taken, left = parted(clear, areal(shapely.union_all(polygons_of(solids))))
    return left, float(taken.area)


def _apart(shapes: list[Shape]) -> MultiPolygon:
    """Shapes as one multipolygon whose parts overlap nowhere: those whose boxes overlap are united first."""
    if not shapes:
        return MultiPolygon()
    array = np.array(shapes, dtype=object)
    boxes = shapely.bounds(array)
    order = np.argsort(boxes[:, 0], kind="stable")
    boxes, array = boxes[order], array[order]
    # Sorted by their left sides, a shape can only overlap those that begin before it ends.
    stops = np.searchsorted(boxes[:, 0], boxes[:, 2] - _SAME_PLACE)
    parents = list(range(len(array)))

    def root(item: int) -> int:
        while parents[item] != item:
            parents[item] = parents[parents[item]]
            item = parents[item]
        return item

    for one in np.flatnonzero(stops > np.arange(1, len(array) + 1)).tolist():
        others = np.arange(one + 1, stops[one])
        shared = np.minimum(boxes[others, 3], boxes[one, 3]) - np.maximum(boxes[others, 1], boxes[one, 1])
        shared = np.minimum(shared, np.minimum(boxes[others, 2], boxes[one, 2]) - boxes[others, 0])
        for other in others[shared > _SAME_PLACE].tolist():
            parents[root(one)] = root(other)
    groups: dict[int, list[Shape]] = {}
    for number, shape in enumerate(array.tolist()):
        groups.setdefault(root(number), []).append(shape)
    return shapely.multipolygons([part for group in groups.values() for part in polygons_of(_united(group))])


def _united(shapes: Sequence[Shape]) -> Shape:
    return shapes[0] if len(shapes) == 1 else areal(shapely.union_all(shapes))


def rounded(solids: Sequence[Solid]) -> list[Solid]:
    """Prisms with their corners rounded to 1e-10 m, so that noise of turning and adding opens no hairline cracks."""
    prisms = [number for number, solid in enumerate(solids) if isinstance(solid, Prism)]
    result = list(solids)
    if not prisms:
        return result
    outlines = np.array([solids[number].outline for number in prisms], dtype=object)  # type: ignore[union-attr]
    tidy = shapely.set_coordinates(outlines.copy(), np.round(shapely.get_coordinates(outlines), ROUNDING))
    for number, outline in zip(prisms, tidy, strict=True):
        prism = solids[number]
        assert isinstance(prism, Prism)
        result[number] = Prism(outline, prism.y_min, prism.y_max)
    return result
