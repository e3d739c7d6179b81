"""Sections of a region, of holes in it and of solids at a set of depths, and what is left between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.slabs import Looks
from geometry.solids import ROUNDING, Mesh, Prism, Solid, areal, polygons_of, section

Shape = Polygon | MultiPolygon

_SAME_AREA = 1e-10
"""Share of the area that rounding of an overlay may take; an overlap of members that matters is far larger."""


_SAME_PLACE = 1e-9
"""m; boxes that overlap by no more than this only touch."""


@dataclass(frozen=True, slots=True, eq=False)
class Cuts:
    """What is left at every look, and the areas there: each (n,) float64, m2."""

    left: list[Shape]
    gross_areas: NDArray[np.float64]
    hole_areas: NDArray[np.float64]
    solid_areas: NDArray[np.float64]

    @property
    def left_areas(self) -> NDArray[np.float64]:
        """(n,) float64, m2"""
        return shapely.area(np.array(self.left, dtype=object))


def cuts_at(looks: Looks, region: Solid, holes: Sequence[Solid], solids: Sequence[Solid]) -> Cuts:
    """Cut the region at every look. Looks at which all sections are the same share one shape (the same object)."""
    of_region, of_holes, of_solids = (_pieces(looks, group) for group in ([region], holes, solids))
    left: list[Shape] = []
    areas = np.zeros((3, len(looks.depths)))
    known: dict[tuple[tuple[bytes, ...], ...], int] = {}
    clear_parts: dict[tuple[tuple[bytes, ...], ...], tuple[Shape, float, float]] = {}
    apart: dict[tuple[bytes, ...], MultiPolygon] = {}
    for number in range(len(looks.depths)):
        parts = (of_region[number], of_holes[number], of_solids[number])
        same = known.setdefault(tuple(part.key for part in parts), number)
        if same != number:
            left.append(left[same])
            areas[:, number] = areas[:, same]
            continue
        outer = (parts[0].key, parts[1].key)
        if outer not in clear_parts:
            clear_parts[outer] = _clear(parts[0].shapes, parts[1].shapes)
        clear, areas[0, number], areas[1, number] = clear_parts[outer]
        if parts[2].key not in apart:
            apart[parts[2].key] = _apart(parts[2].shapes)
        rest, areas[2, number] = _without(clear, apart[parts[2].key], measure=looks.weights[number] > 0.0)
        left.append(rest)
    return Cuts(left, areas[0], areas[1], areas[2])


def _clear(region: list[Shape], holes: list[Shape]) -> tuple[Shape, float, float]:
    """The region without its holes, its whole area and the area of the holes in it, m2."""
    whole = _united(region)
    if not holes:
        return whole, float(whole.area), 0.0
    cut = _united(holes)
    return areal(shapely.difference(whole, cut)), float(whole.area), float(shapely.intersection(whole, cut).area)


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
    slack = _SAME_AREA * clear.area
    if abs(clear.area - rest.area - total) > slack:
        if not measure and rest.is_valid:
            return areal(rest), 0.0
        total = float(shapely.intersection(clear, solids).area)
    if abs(clear.area - rest.area - total) <= slack and rest.is_valid:
        return areal(rest), total
    united = areal(shapely.union_all(polygons_of(solids)))
    return areal(shapely.difference(clear, united)), float(shapely.intersection(clear, united).area)


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


def _united(shapes: list[Shape]) -> Shape:
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


@dataclass(frozen=True, slots=True, eq=False)
class _Pieces:
    """Sections of a group of solids at one look, and a key that is the same where they are."""

    shapes: list[Shape]
    key: tuple[bytes, ...]


def _pieces(looks: Looks, solids: Sequence[Solid]) -> list[_Pieces]:
    prisms = [solid for solid in solids if isinstance(solid, Prism)]
    meshes = [solid for solid in solids if isinstance(solid, Mesh)]
    outlines = np.array([prism.outline for prism in prisms], dtype=object)
    alike = _alike(outlines) if len(looks.depths) > 1 else np.arange(len(outlines))
    spans = np.array([(prism.y_min, prism.y_max) for prism in prisms]).reshape(-1, 2)
    active = (spans[None, :, 0] < looks.depths[:, None]) & (spans[None, :, 1] > looks.depths[:, None])
    found: list[_Pieces] = []
    for look, y in enumerate(looks.depths.tolist()):
        cut = [piece for mesh in meshes if not (piece := section(mesh, y)).is_empty]
        here = np.unique(alike[active[look]])
        found.append(_Pieces([*outlines[here].tolist(), *cut], (here.tobytes(), *(piece.wkb for piece in cut))))
    return found


def _alike(outlines: NDArray[np.object_]) -> NDArray[np.int64]:
    """For each outline the number of the first one with the same corners: (n,) int64."""
    first: dict[bytes, int] = {}
    return np.array([first.setdefault(text, n) for n, text in enumerate(shapely.to_wkb(outlines))], dtype=np.int64)
