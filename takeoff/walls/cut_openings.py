"""Openings that a wall's body comes with: cut out already, so that the outline of its studs lacks them.

They would count as missing wall, not as openings, and the frame would be set out round a notch. So the outline is
filled in again, and what was cut is the opening, even where its opening element is smaller than the hole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely import MultiPolygon, Polygon

from geometry.solids import Mesh, Prism, Solid, areal, polygons_of, section, silhouette
from takeoff.building import ModelWall
from takeoff.finding import Finding, Severity
from takeoff.model import Opening
from takeoff.walls.stud_layers import joined

_SNAP = 1e-6
"""m; edges of what was cut and of what cut it agree within this after tessellation and turning."""
_LEAST = 1e-4
"""m2; smaller gaps in an outline are rounding."""
_MADE_FOR = 0.4
"""A gap of which openings cover this share was cut for them: reveals and linings make it larger than a window."""
_ALREADY_CUT = 0.5
"""An opening of which less than this share is solid in the wall's body was cut out of the body already."""

_DOOR = (0.5, 1.7)
"""m; width and height from which a notch at the foot may be a door."""
_UPRIGHT = 0.95
"""Share of its own box that such a notch fills at least."""

Shape = Polygon | MultiPolygon


@dataclass(frozen=True, slots=True, eq=False)
class Restored:
    """An outline with what was cut out of it filled in again, the openings as large as that, and its area, m2."""

    outline: Solid
    openings: tuple[Opening, ...]
    area: float


def restored(outline: Solid, openings: Sequence[Opening], depth: float) -> Restored:
    """Fill in what openings cut out of a stud layer's outline already. Recesses stay as they are."""
    unchanged = Restored(outline, tuple(openings), 0.0)
    shape = outline.outline if isinstance(outline, Prism) else section(outline, depth / 2.0)
    cut = [] if shape.is_empty else [opening for opening in openings if _is_cut(shape, opening)]
    if not cut:
        return unchanged
    cutting = areal(shapely.union_all([opening.outline for opening in cut]))
    gaps = _gaps_made_for(shape, cutting)
    gaps += _cut_anyway(areal(shapely.union_all([shape, *gaps])), cut)
    if not gaps:
        return unchanged
    gone = areal(shapely.union_all(gaps))
    if isinstance(outline, Mesh):
        # Under a top that slopes across the depth the body may reach into the gap before or behind its middle.
        gone = areal(shapely.difference(gone, silhouette(outline)))
        if gone.area <= _LEAST:
            return unchanged
    return Restored(_filled(outline, shape, gone, depth), _grown(openings, gaps, cutting), gone.area)


def lies_in_gap(shape: Shape, opening: Shape) -> bool:
    """Whether an elevation lacks the place where an opening lies, for that opening's sake."""
    return any(
        gap.intersection(opening).area >= _ALREADY_CUT * opening.area for gap in _gaps_made_for(shape, areal(opening))
    )


def holes_as_openings(outline: Solid, key: str) -> tuple[Solid, tuple[Opening, ...]]:
    """An outline without holes of its own, and these holes as openings that the model does not name."""
    if not isinstance(outline, Prism):
        return outline, ()
    parts = polygons_of(outline.outline)
    rings = [Polygon(ring) for part in parts for ring in part.interiors]
    if not rings:
        return outline, ()
    whole = areal(shapely.union_all([Polygon(part.exterior) for part in parts]))
    openings = tuple(
        Opening(f"{key}/hole{number}", ring, "", "", "hole through the body of the wall")
        for number, ring in enumerate(rings, start=1)
    )
    return Prism(whole, outline.y_min, outline.y_max), openings


def hole_finding(wall: ModelWall, hole: Opening) -> Finding:
    """What is said of a hole that no opening element explains."""
    return Finding(
        "hole-in-outline", Severity.INFO,
        "The wall's body has a hole that the model does not call an opening; it was taken for one.",
        wall.global_id, hole.opening_id, measured=float(hole.outline.area), unit="m2",
    )  # fmt: skip


def notch_findings(wall: ModelWall, outline: Solid) -> tuple[Finding, ...]:
    """What is said of notches at a wall's foot that are as large as doors, with nothing to say that they are."""
    if not isinstance(outline, Prism):
        return ()
    shape = outline.outline
    foot = shape.bounds[1]
    found: list[Finding] = []
    for gap in polygons_of(shapely.convex_hull(shape).difference(shape)):
        x_min, z_min, x_max, z_max = gap.bounds
        upright = gap.area >= _UPRIGHT * (x_max - x_min) * (z_max - z_min)
        if upright and z_min - foot <= _SNAP and x_max - x_min >= _DOOR[0] and z_max - z_min >= _DOOR[1]:
            found.append(_notch(wall, x_max - x_min, z_max - z_min))
    return tuple(found)


def _notch(wall: ModelWall, width: float, height: float) -> Finding:
    return Finding(
        "notch-like-door", Severity.WARNING,
        f"Its body has a notch {width:.2f} m wide and {height:.2f} m high at the foot, as large as a door, but no "
        "opening: it is not counted as wall, and no header or jacks were set round it. Have the opening modelled.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, width, None, "m",
    )  # fmt: skip


def _is_cut(shape: Shape, opening: Opening) -> bool:
    """Whether an elevation lacks most of what an opening takes within the box around it; a recess is never cut so."""
    if opening.solid is not None or opening.outline.is_empty:
        return False
    x_min, z_min, x_max, z_max = opening.outline.bounds
    low, foot, high, top = shape.bounds
    # Nearly every opening lies within the box, and then there is nothing to cut off.
    within = low <= x_min and foot <= z_min and x_max <= high and z_max <= top
    inside = opening.outline if within else areal(opening.outline.intersection(shapely.box(low, foot, high, top)))
    return inside.intersection(shape).area < _ALREADY_CUT * inside.area


def _gaps_made_for(shape: Shape, cutting: Shape) -> list[Polygon]:
    """What an elevation lacks of the box around it, else of its hull, wherever openings cover most of the gap."""
    found: list[Polygon] = []
    whole: Any = shape
    for around in (shapely.box(*shape.bounds), shapely.convex_hull(shape)):
        for gap in polygons_of(around.difference(whole)):
            if gap.area > _LEAST and gap.intersection(cutting).area >= _MADE_FOR * gap.area:
                found.append(gap)
        whole = shapely.union_all([shape, *found])
    return found


def _cut_anyway(shape: Shape, openings: Sequence[Opening]) -> list[Polygon]:
    """What openings took that run out of the wall, such as over a rake: no more than lies between its own parts."""
    hull = shapely.convex_hull(shape)
    box = shapely.box(*shape.bounds)
    found: list[Polygon] = []
    for opening in openings:
        inside = areal(opening.outline.intersection(box).intersection(hull))
        found += [gap for gap in polygons_of(inside.difference(shape)) if gap.area > _LEAST]
    return found


def _filled(outline: Solid, shape: Shape, gone: Shape, depth: float) -> Solid:
    if isinstance(outline, Mesh):
        return joined([outline, Prism(gone, 0.0, depth)])
    whole = areal(shapely.union(shape, gone))
    closed = shapely.buffer(shapely.buffer(whole, _SNAP, join_style="mitre"), -_SNAP, join_style="mitre")
    return Prism(areal(closed) if len(polygons_of(closed)) < len(polygons_of(whole)) else whole, 0.0, depth)


def _grown(openings: Sequence[Opening], gaps: Sequence[Polygon], cutting: Shape) -> tuple[Opening, ...]:
    """Openings with what their gaps are larger than they, each gap for the opening that takes most of it."""
    grown = list(openings)
    for gap in gaps:
        extra = areal(shapely.difference(gap, cutting))
        if extra.area <= _LEAST:
            continue
        shares = [0.0 if opening.solid is not None else opening.outline.intersection(gap).area for opening in openings]
        first = shares.index(max(shares))
        grown[first] = replace(grown[first], outline=areal(shapely.union(grown[first].outline, extra)))
    return tuple(grown)
