"""Bodies of members and cavities as they lie in their stud layer, cut where its body has ends that slant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely

from geometry.booleans import common_part
from geometry.cylinders import Developed
from geometry.solids import (
    Mesh,
    Prism,
    Solid,
    areal,
    bounds,
    depth_breaks,
    depth_range,
    polygons_of,
    section,
    to_prism,
    volume,
)
from takeoff.model import Cavity, LayerTakeoff, Opening

_ALIKE = 1e-6
"""Share of the cavity's volume by which its body may differ from it and still be its true shape."""
_SLIVERS = 0.1
"""Share of a cavity by which its surroundings may hold more: slivers beside it, which are no part of it."""
_THIN = 1e-7
"""m; slabs thinner than this are rounding."""
_AROUND = 1e-5
"""m; an outline is widened by this before a cavity is cut out of its surroundings, so that no film is left over."""
_SPECK = 1e-9
"""m3; pieces smaller than this are rounding."""
_SCRAP = 1e-8
"""m2; pieces of a section smaller than this are rounding."""


def member_body(solid: Solid, outline: Solid) -> tuple[Solid, ...]:
    """The part of a member that lies in its stud layer's body: at a mitred corner the rest belongs to the next wall.

    Wall axes, m. Nothing where it lies wholly outside; the member as it is where one of the two is not closed.
    """
    if isinstance(outline, Prism) or _stands_within(solid, outline):
        return (solid,)
    try:
        pieces = common_part([solid], outline)
    except ValueError:
        return (solid,)
    if sum(volume(piece) for piece in pieces) >= (1.0 - _ALIKE) * volume(solid):
        return (solid,)
    return tuple(to_prism(piece) or piece for piece in pieces if volume(piece) > _SPECK)


def _stands_within(solid: Solid, outline: Mesh) -> bool:
    """Whether a prism lies in a body whose upright faces are plane, told from the body's sections: a quick look."""
    if not isinstance(solid, Prism):
        return False
    breaks = depth_breaks(outline, _THIN)
    inside = breaks[(breaks > solid.y_min) & (breaks < solid.y_max)]
    looks = [solid.y_min + _THIN, solid.y_max - _THIN, *(inside - _THIN), *(inside + _THIN)]
    room = solid.outline.buffer(-_AROUND, join_style="mitre")
    return not room.is_empty and all(section(outline, float(depth)).covers(room) for depth in looks)


class Likeness(StrEnum):
    """How a drawn body and the cavity that it stands for agree; the cavity's quantities hold in any case."""

    EXACT = "exact"
    WITH_SLIVERS = "with the slivers in it, which are sealed and do not count"
    OUTLINE = "outline over the depth, obstructions not cut out"


@dataclass(frozen=True, slots=True, eq=False)
class CavityBody:
    """The body of a cavity in wall axes.

    solids: prisms that touch, or one mesh. likeness: how near it comes to the cavity's own volume.
    """

    solids: tuple[Solid, ...]
    likeness: Likeness


def cavity_body(cavity: Cavity, layer: LayerTakeoff) -> CavityBody:
    """A cavity as prisms: its outline between its nearest and farthest depth, less the members there."""
    envelope = Prism(cavity.outline, cavity.y_min, cavity.y_max)
    if _is_volume(cavity, layer, [envelope]):
        return CavityBody((envelope,), Likeness.EXACT)
    members = [member.solid for member in layer.frame.members if isinstance(member.solid, Prism)]
    prisms = [one for one in (*members, *_recesses(layer.frame.openings)) if _meets(one, cavity)]
    pieces = _slabs(cavity, prisms)
    if _is_volume(cavity, layer, pieces):
        return CavityBody(tuple(pieces), Likeness.EXACT)
    mesh = _cut_from_body(cavity, layer)
    if mesh is None:
        return CavityBody((envelope,), Likeness.OUTLINE)
    same = abs(volume(mesh) - cavity.volume) <= _ALIKE * cavity.volume
    return CavityBody((mesh,), Likeness.EXACT if same else Likeness.WITH_SLIVERS)


def _cut_from_body(cavity: Cavity, layer: LayerTakeoff) -> Mesh | None:
    """A cavity as one closed mesh, cut from the body of its stud layer; None where no one piece has its volume."""
    if isinstance(layer.frame.layer.axes, Developed):
        return None
    envelope = Prism(cavity.outline.buffer(_AROUND, join_style="mitre"), cavity.y_min, cavity.y_max)
    taken = [member.solid for member in layer.frame.members]
    taken += [_through(opening, layer.frame.layer.depth) for opening in layer.frame.openings]
    near_by = [solid for solid in taken if _boxes_meet(solid, envelope)]
    try:
        pieces = common_part([envelope], layer.frame.layer.outline, near_by)
    except ValueError:
        return None
    if cavity.volume <= 0.0:
        # The rounding between two faces: it has an outline, but nothing to cut out.
        return None
    fitting = [piece for piece in pieces if -_ALIKE <= volume(piece) / cavity.volume - 1.0 <= _SLIVERS]
    return fitting[0] if len(fitting) == 1 else None


def _through(opening: Opening, depth: float) -> Solid:
    return opening.solid if opening.solid is not None else Prism(opening.outline, -depth, 2.0 * depth)


def _boxes_meet(solid: Solid, other: Solid) -> bool:
    one, two = bounds(solid), bounds(other)
    return bool((np.minimum(one[1], two[1]) > np.maximum(one[0], two[0])).all())


def _recesses(openings: Sequence[Opening]) -> list[Prism]:
    return [opening.solid for opening in openings if isinstance(opening.solid, Prism)]


def _meets(prism: Prism, cavity: Cavity) -> bool:
    near, far = depth_range(prism)
    return near < cavity.y_max and far > cavity.y_min and bool(prism.outline.intersects(cavity.outline))


def _slabs(cavity: Cavity, prisms: Sequence[Prism]) -> list[Prism]:
    """The outline in each slab between the depths at which a member begins or ends, less the members in it."""
    ends = [depth for prism in prisms for depth in (prism.y_min, prism.y_max)]
    planes = np.unique(np.clip([cavity.y_min, *ends, cavity.y_max], cavity.y_min, cavity.y_max))
    found: list[Prism] = []
    for near, far in zip(planes[:-1].tolist(), planes[1:].tolist(), strict=True):
        if far - near <= _THIN:
            continue
        middle = (near + far) / 2.0
        standing = [prism.outline for prism in prisms if prism.y_min < middle < prism.y_max]
        left = shapely.difference(cavity.outline, shapely.union_all(standing)) if standing else cavity.outline
        parts = [part for part in polygons_of(left) if part.area > _SCRAP]
        if parts:
            found.append(Prism(areal(shapely.MultiPolygon(parts)), near, far))
    return found


def _is_volume(cavity: Cavity, layer: LayerTakeoff, prisms: Sequence[Prism]) -> bool:
    axes = layer.frame.layer.axes
    total = 0.0
    for prism in prisms:
        # A rolled-out volume counts by its arc length, which grows evenly with the depth.
        middle = [(prism.y_min + prism.y_max) / 2.0]
        total += prism.volume * (float(axes.stretch(middle)[0]) if isinstance(axes, Developed) else 1.0)
    return abs(total - cavity.volume) <= _ALIKE * cavity.volume
