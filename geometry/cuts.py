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

from geometry.boxes import BoxArray, are_boxes, areas_within, as_boxes, beyond, cut_boxes
from geometry.connected import groups_of
from geometry.overlays import SAME_AREA, outside_of, parted, parted_each
from geometry.slabs import Looks
from geometry.solids import ROUNDING, Mesh, Prism, Solid, areal, distinct_faces, polygons_of, section, silhouette

Shape = Polygon | MultiPolygon

_SAME_PLACE = 1e-9
"""m; boxes that overlap by no more than this only touch."""
_CRACK = 1e-9
"""m; a strip thinner than this is rounding of two edges that are one."""


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
class _Base:
    """What prisms alone leave of a region: `look`. whole: the region. open_: its holes. solids: (n,) outlines.

    boxes: rectangles of the three, and of the pieces that are left, where all of the first three are rectangles.
    """

    whole: Shape
    open_: Shape
    solids: NDArray[np.object_]
    look: _Look
    boxes: tuple[BoxArray, BoxArray, BoxArray, BoxArray] | None = None


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


class Cutter:
    """Cuts one region at any depths, and remembers what it has cut."""

    def __init__(self, region: Solid, holes: Sequence[Solid], solids: Sequence[Solid]) -> None:
        """Region, holes and solids in one set of local axes, m."""
        self._region, self._holes, self._solids = _group([region]), _group(holes), _group(solids)
        # What a region that varies with the depth reaches anywhere, as its silhouette: the prisms are cut from this,
        # and at each look only what stands beyond the section there, at a mitred end say, is taken from the pieces.
        self._reach = [] if isinstance(region, Prism) else [_tidy(silhouette(region))]
        self._bases: dict[tuple[bytes, bytes, bytes], _Base] = {}
        self._looks: dict[float, _Look] = {}

    def cuts(self, looks: Looks) -> Cuts:
        """Everything at the looks' depths; what the solids take is measured only where a look carries weight."""
        weighty = (looks.weights > 0.0).tolist()
        found = [self._look(depth, measure) for depth, measure in zip(looks.depths.tolist(), weighty, strict=True)]
        areas = np.array([look.areas for look in found]).reshape(-1, 4)
        return Cuts([look.pieces for look in found], *areas.T)

    def _look(self, depth: float, measure: bool) -> _Look:
        if depth not in self._looks:
            base = self._base(depth)
            look = base.look
            holes = self._holes.sections_at(depth)
            if holes or self._region.meshes:
                section = _united(self._region.sections_at(depth)) if self._region.meshes else base.whole
                look = _moved(base, section, holes, measure=measure)
            self._looks[depth] = _less(look, self._solids.sections_at(depth))
        return self._looks[depth]

    def _base(self, depth: float) -> _Base:
        """What is left of all that the region reaches where only the prisms are taken away."""
        region, holes, solids = (group.prisms_at(depth) for group in (self._region, self._holes, self._solids))
        key = (region.tobytes(), holes.tobytes(), solids.tobytes())
        if key not in self._bases:
            whole = _united([*self._region.outlines[region].tolist(), *self._reach])
            self._bases[key] = _base_of(whole, self._holes.outlines[holes], self._solids.outlines[solids])
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


def _base_of(whole: Shape, holes: NDArray[np.object_], solids: NDArray[np.object_]) -> _Base:
    open_ = _united(holes.tolist())
    boxes = [as_boxes(shapes) for shapes in (np.array([whole], dtype=object), holes, solids)]
    outer, open_boxes, taken_boxes = boxes
    if outer is not None and open_boxes is not None and taken_boxes is not None and not whole.is_empty:
        cut = cut_boxes(outer[0], open_boxes, taken_boxes)
        look = _Look(cut.pieces, (cut.gross, cut.open_, cut.taken, cut.left))
        return _Base(whole, open_, solids, look, (outer, open_boxes, taken_boxes, _bounds(cut.pieces)))
    inside, clear = (open_, whole) if open_.is_empty else parted(whole, open_)
    left, taken = _without(clear, _apart(solids.tolist()))
    areas = (float(whole.area), float(inside.area), taken, float(left.area))
    return _Base(whole, open_, solids, _Look(polygons_of(left), areas))


def _moved(base: _Base, section: Shape, holes: Sequence[Shape], *, measure: bool) -> _Look:
    """What is left of a section of the region less the sections of more holes.

    section: it lies within the base's whole. measure: False where only pieces and the area left are wanted.
    """
    if base.boxes is not None and not holes and (box := as_boxes(np.array([section], dtype=object))) is not None:
        return _narrowed(base, section, box[0], measure=measure)
    gone = [] if section is base.whole else _broad(outside_of(base.whole, section))
    if not gone and not holes:
        _, open_area, solids, left = base.look.areas
        return _Look(base.look.pieces, (float(section.area), open_area, solids, left))
    gone = _united([*gone, *holes])
    pieces, _, lost = _taken_from(base.look.pieces, gone)
    open_ = _united([*polygons_of(base.open_), *holes])
    open_area = 0.0 if open_.is_empty else float(parted(section, open_)[0].area)
    taken = base.look.areas[2]
    if measure:
        # The solids that stand in what is gone count no more, but for those in openings, which never did.
        beside = gone if base.open_.is_empty else outside_of(gone, base.open_)
        near = base.solids[meeting(base.solids, beside)]
        taken -= float(parted(beside, _united(near.tolist()))[0].area) if len(near) else 0.0
    return _Look(pieces, (float(section.area), open_area, taken, base.look.areas[3] - lost))


def _narrowed(base: _Base, section: Shape, box: BoxArray, *, measure: bool) -> _Look:
    """The same where all there is are rectangles: pieces are cut off at the sides of the section, a mitred end's say.

    box: (4,) of the section.
    """
    assert base.boxes is not None
    (whole,), open_, solids, pieces = base.boxes
    box = np.where(np.abs(box - whole) <= 2.0 * _CRACK, whole, box)
    _, open_area, taken, left = base.look.areas
    if measure:
        strips = np.array([areas_within(strip, open_, solids) for strip in beyond(whole, box)]).reshape(-1, 2)
        open_area, taken = open_area - float(strips[:, 0].sum()), taken - float(strips[:, 1].sum())
    out = np.flatnonzero((pieces[:, :2] < box[:2]).any(axis=1) | (pieces[:, 2:] > box[2:]).any(axis=1))
    if not len(out):
        return _Look(base.look.pieces, (float(section.area), open_area, taken, left))
    before = [base.look.pieces[number] for number in out.tolist()]
    rests = _in_box(before, pieces[out], box)
    lost = float(shapely.area(before).sum()) - float(shapely.area([one for rest in rests for one in rest]).sum())
    kept = dict(zip(out.tolist(), rests, strict=True))
    cut = [one for number, piece in enumerate(base.look.pieces) for one in kept.get(number, (piece,))]
    return _Look(cut, (float(section.area), open_area, taken, left - lost))


def _in_box(pieces: list[Polygon], boxes: BoxArray, box: BoxArray) -> list[list[Polygon]]:
    """What of each piece lies in a rectangle (4,). boxes: (n, 4), the pieces' bounds."""
    low, high = np.maximum(boxes[:, :2], box[:2]), np.minimum(boxes[:, 2:], box[2:])
    clipped: list[Polygon] = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]).tolist()
    found = [[one] for one in clipped]
    meets = (low < high).all(axis=1)
    for number in np.flatnonzero(~meets).tolist():
        found[number] = []
    for number in np.flatnonzero(meets & ~are_boxes(shapely.area(pieces), boxes)).tolist():
        found[number] = polygons_of(parted(pieces[number], clipped[number])[0])
    return found


def _broad(shape: Shape) -> list[Polygon]:
    """Parts of a shape that are more than a crack of rounding along an edge."""
    return [part for part in polygons_of(shape) if part.area > _CRACK * part.length]


def _bounds(shapes: Sequence[Shape] | NDArray[np.object_]) -> BoxArray:
    return shapely.bounds(shapes).reshape(-1, 4)


def meeting(shapes: Sequence[Shape] | NDArray[np.object_], other: Shape) -> list[int]:
    """Numbers of those whose boxes overlap the box of some part of another shape."""
    boxes, others = (_bounds(each) for each in (shapes, polygons_of(other)))
    low = np.maximum(boxes[:, None, :2], others[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    return np.unique(np.nonzero((low < high).all(axis=2))[0]).tolist()


def _taken_from(pieces: list[Polygon], taken: Shape) -> tuple[list[Polygon], float, float]:
    """Pieces with a shape taken away, the area that it takes inside them and the area that they lose, m2.

    Both areas are measured; they are the same but for rounding. Pieces that it does not meet stay the same objects.
    """
    touched = meeting(pieces, taken)
    if not touched:
        return pieces, 0.0, 0.0
    before = [pieces[number] for number in touched]
    inside, rest = parted_each(before, taken)
    left = dict(zip(touched, rest.tolist(), strict=True))
    kept = [one for number, piece in enumerate(pieces) for one in polygons_of(left.get(number, piece))]
    lost = float(shapely.area(before).sum()) - float(shapely.area(rest).sum())
    return kept, float(shapely.area(inside).sum()), lost


def _less(base: _Look, sections: Sequence[Shape]) -> _Look:
    """The same with sections of meshes taken away."""
    if not sections or not base.pieces:
        return base
    pieces, shared, lost = _taken_from(base.pieces, _united(sections))
    gross, holes, solids, left = base.areas
    return base if pieces is base.pieces else _Look(pieces, (gross, holes, solids + shared, left - lost))


def _without(clear: Shape, solids: MultiPolygon) -> tuple[Shape, float]:
    """What is left of a shape without solids that overlap nowhere, and the area that they take of it, m2."""
    if solids.is_empty:
        return clear, 0.0
    # Members that only touch, as those of a tidy frame mostly do, need no union. What they take is then the sum of
    # their own areas, or of what lies inside; where the areas do not add up after all, the long way is gone.
    rest = shapely.difference(clear, solids)
    total = float(solids.area)
    slack = SAME_AREA * clear.area
    if abs(clear.area - rest.area - total) > slack:
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
    pairs: list[tuple[int, int]] = []
    for one in np.flatnonzero(stops > np.arange(1, len(array) + 1)).tolist():
        others = np.arange(one + 1, stops[one])
        shared = np.minimum(boxes[others, 3], boxes[one, 3]) - np.maximum(boxes[others, 1], boxes[one, 1])
        shared = np.minimum(shared, np.minimum(boxes[others, 2], boxes[one, 2]) - boxes[others, 0])
        pairs += [(one, other) for other in others[shared > _SAME_PLACE].tolist()]
    groups = [array[group].tolist() for group in groups_of(len(array), pairs)]
    return shapely.multipolygons([part for group in groups for part in polygons_of(_united(group))])


def _united(shapes: Sequence[Shape]) -> Shape:
    if not shapes:
        return Polygon()
    return shapes[0] if len(shapes) == 1 else areal(shapely.union_all(shapes))


def _tidy(shape: Shape) -> Shape:
    """A shape with its corners rounded as those of sections are."""
    return areal(shapely.transform(shape, lambda points: np.round(points, ROUNDING)))


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
