"""Bays of a modelled frame that no member closes on some side: open where two walls meet, or where a plate is missing.

Such a bay counts up to the edge of its own wall. It is listed, since blown-in fibre runs out of an open side: somebody
has to say what closes it before the netting goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.frames import LocalAxes
from geometry.solids import Prism, Solid, bounds, depth_breaks, moved, section, silhouette
from takeoff.building import ModelPart
from takeoff.finding import Finding, Severity
from takeoff.framing.junctions import Junction
from takeoff.framing.role_words import is_service
from takeoff.model import Cavity, CavityKind, LayerTakeoff, Member, OpenSide, Source

OPEN = 0.012
"""m; a side that is open over no more than this is a joint between members, not an open side."""
CLOSED = 0.9
"""A side of which members of other walls cover this share is closed by them."""
REACH = 0.015
"""m; a member of another wall that stands no farther off than this closes the end (the joint gets a bead)."""
LEAST_VOLUME = 0.001
"""m3; of a bay that holds less than a litre nothing is lost through an open side."""
MOST_NAMED = 3
_ON_EDGE = 1e-6
"""m; edges of a bay and of the wall that agree to this are one."""
_PROBE = 1e-4
"""m; so far inside an edge the wall is looked for, to tell which side of a bay the edge is."""

PartsNear = Callable[[LocalAxes, NDArray[np.float64]], Sequence[ModelPart]]
"""Elements that reach into a box (2, 3), m, of some axes; their solids in world axes."""
Shape = Polygon | MultiPolygon
_KEPT_OUT = (CavityKind.SLIVER, CavityKind.OPENING_GAP)


@dataclass(frozen=True, slots=True)
class Surrounding:
    """What may close the ends of a stud layer.

    parts_near: every element of the model, found by place. junctions: walls that meet this stud layer. wall_name:
    GlobalId of a wall -> what a person calls it.
    """

    parts_near: PartsNear
    junctions: tuple[Junction, ...]
    wall_name: Callable[[str], str]


def open_sides(taken: LayerTakeoff) -> list[OpenSide]:
    """Sides on which bays reach the edge of the stud layer with no member between."""
    body = silhouette(taken.frame.layer.outline)
    cavities = _bays(taken)
    if not cavities or body.is_empty:
        return []
    band = shapely.buffer(body.boundary, _ON_EDGE, cap_style="flat", join_style="mitre")
    edges = shapely.boundary([cavity.outline for cavity in cavities])
    shared = shapely.intersection(edges, band)
    found: list[OpenSide] = []
    for row in np.flatnonzero(shapely.length(shared) > OPEN).tolist():
        found += _sides(cavities[row], shared[row], body, taken.frame.members)
    return found


def sides_at_openings(taken: LayerTakeoff) -> list[OpenSide]:
    """Bays that are open to an opening of their own wall: no member of full depth stands between."""
    holes = [
        one.outline
        for one in taken.frame.openings
        if one.solid is None and not one.beyond_frame and not one.outline.is_empty
    ]
    cavities = _bays(taken)
    if not cavities or not holes:
        return []
    # Beside a tidy opening stand its own members, so that the box of no bay comes near: nothing has to be cut.
    if not _any_meet([cavity.outline for cavity in cavities], holes):
        return []
    rims = shapely.boundary(np.array(holes, dtype=object))
    band = shapely.union_all(shapely.buffer(rims, _ON_EDGE, cap_style="flat", join_style="mitre"))
    edges = shapely.boundary([cavity.outline for cavity in cavities])
    shared = shapely.intersection(edges, band)
    found: list[OpenSide] = []
    for row in np.flatnonzero(shapely.length(shared) > OPEN).tolist():
        _, low, _, high = shared[row].bounds
        area = _open_area(shared[row], cavities[row], taken.frame.members)
        found.append(OpenSide(cavities[row].cavity_id, "opening", float(shared[row].length), low, high, area))
    return found


def _any_meet(shapes: Sequence[Shape], others: Sequence[Shape]) -> bool:
    """Whether the box of any shape comes as near as _ON_EDGE to the box of any other, with as much to spare."""
    boxes, near = shapely.bounds(shapes)[:, None], shapely.bounds(others)[None]
    slack = 2.0 * _ON_EDGE
    low, high = boxes[..., :2] - near[..., 2:], near[..., :2] - boxes[..., 2:]
    return bool(((low < slack) & (high < slack)).all(axis=2).any())


def _bays(taken: LayerTakeoff) -> list[Cavity]:
    return [one for one in taken.cavities if one.kind not in _KEPT_OUT and one.volume >= LEAST_VOLUME]


def _open_area(edge: shapely.Geometry, cavity: Cavity, members: Sequence[Member]) -> float:
    """Area of an edge of a bay where it is open, m2: at depths where a member stands on it, that closes it."""
    beside = shapely.buffer(edge, _ON_EDGE)
    near = [
        member.solid
        for member, (low, high) in ((member, bounds(member.solid)) for member in members)
        if low[1] < cavity.y_max
        and high[1] > cavity.y_min
        and shapely.box(low[0], low[2], high[0], high[2]).intersects(beside)
    ]
    inside = [depth for solid in near for depth in _depths(solid) if cavity.y_min < depth < cavity.y_max]
    depths = np.unique([cavity.y_min, *inside, cavity.y_max])
    area = 0.0
    for low, high in pairwise(depths.tolist()):
        standing = [section(solid, 0.5 * (low + high)) for solid in near]
        closed = shapely.buffer(shapely.union_all(standing), _ON_EDGE, join_style="mitre")
        area += float(shapely.difference(edge, closed).length) * (high - low)
    return area


def _depths(solid: Solid) -> list[float]:
    """Depths at which the section of a solid changes, m."""
    return [solid.y_min, solid.y_max] if isinstance(solid, Prism) else depth_breaks(solid, _ON_EDGE).tolist()


def _sides(
    cavity: Cavity, shared: shapely.Geometry, body: Polygon | MultiPolygon, members: Sequence[Member]
) -> list[OpenSide]:
    lines = [np.asarray(line.coords) for line in shapely.get_parts(shared) if len(line.coords) >= 2]
    ends = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])  # (n, end, x z)
    run = ends[:, 1] - ends[:, 0]
    lengths = np.hypot(run[:, 0], run[:, 1])
    ends, run, lengths = ends[lengths > _PROBE], run[lengths > _PROBE], lengths[lengths > _PROBE]
    upright = np.abs(run[:, 1]) > 2.0 * np.abs(run[:, 0])
    probe = ends.mean(axis=1) + np.where(upright[:, None], [_PROBE, 0.0], [0.0, _PROBE])
    inside = shapely.contains_xy(body, probe[:, 0], probe[:, 1])
    found: list[OpenSide] = []
    for side, rows, axis in (
        ("left", upright & inside, 1),
        ("right", upright & ~inside, 1),
        ("bottom", ~upright & inside, 0),
        ("top", ~upright & ~inside, 0),
    ):
        if lengths[rows].sum() > OPEN:
            places = ends[rows][:, :, axis]
            length = float(lengths[rows].sum())
            area = _open_area(shapely.MultiLineString(list(ends[rows])), cavity, members)
            found.append(OpenSide(cavity.cavity_id, side, length, float(places.min()), float(places.max()), area))
    return found


def unclosed_sides(taken: LayerTakeoff, around: Surrounding) -> list[OpenSide]:
    """Sides of the bays of a modelled frame that neither its own members nor another wall's close."""
    if taken.frame.source is not Source.MODELLED:
        return []
    return [one for one in open_sides(taken) if _closed_by_others(one, taken, around) < CLOSED]


def open_end_findings(taken: LayerTakeoff, around: Surrounding) -> list[Finding]:
    """A finding for all `unclosed_sides` that the same thing would close: one for a missing plate, not one a bay."""
    return _findings(unclosed_sides(taken, around), taken, around)


def _findings(sides: Sequence[OpenSide], taken: LayerTakeoff, around: Surrounding) -> list[Finding]:
    groups: dict[tuple[str, tuple[str, ...]], list[OpenSide]] = {}
    for one in sides:
        meeting = _meeting(one, around) if one.side in ("left", "right") else ()
        groups.setdefault((one.side, meeting), []).append(one)
    return [_finding(together, meeting, taken) for (_, meeting), together in groups.items()]


def with_open_sides(taken: LayerTakeoff, around: Surrounding) -> LayerTakeoff:
    """A stud layer with its open sides told, as records and as findings."""
    ends = unclosed_sides(taken, around)
    told = _findings(ends, taken, around)
    sides = (*ends, *sides_at_openings(taken))
    return replace(taken, findings=(*taken.findings, *told), open_sides=sides) if sides else taken


def _finding(sides: Sequence[OpenSide], meeting: Sequence[str], taken: LayerTakeoff) -> Finding:
    """sides: of one kind, which the same member would close; meeting: names of the walls that meet them."""
    first, length = sides[0], sum(one.length for one in sides)
    if len(sides) == 1:
        told = f"Cavity {first.cavity_id} is open at its {first.side} over {length:.3f} m and counts"
    else:
        named = ", ".join(one.cavity_id.split("/")[-1] for one in sides[:MOST_NAMED])
        more = f" and {len(sides) - MOST_NAMED} more" if len(sides) > MOST_NAMED else ""
        told = (
            f"{len(sides)} cavities of stud layer {taken.frame.layer.key} ({named}{more}) are open at the {first.side} "
            f"over {length:.3f} m in all and count"
        )
    return Finding(
        "open-ended-bay",
        Severity.INFO if meeting else Severity.WARNING,
        f"{told} up to the wall's own edge; {_cure(first.side, meeting, 'it' if len(sides) == 1 else 'them')}.",
        taken.frame.layer.wall_id,
        first.cavity_id,
        measured=length,
        limit=OPEN,
        unit="m",
    )


def _closed_by_others(one: OpenSide, taken: LayerTakeoff, around: Surrounding) -> float:
    """Share of an open side that solids standing right before it cover.

    Of a foot or a head only members of the same wall are looked for: another part of its frame may carry it, while a
    slab below or above is there in every building and replaces no plate.
    """
    layer = taken.frame.layer
    cavity = next(each for each in taken.cavities if each.cavity_id == one.cavity_id)
    x_min, z_min, x_max, z_max = cavity.outline.bounds
    across, along = (0, 2) if one.side in ("left", "right") else (2, 0)
    edges = {"left": x_min - REACH, "right": x_max, "bottom": z_min - REACH, "top": z_max}
    at = (edges[one.side], edges[one.side] + REACH)
    box = np.empty((2, 3))
    box[:, across], box[:, 1], box[:, along] = at, (cavity.y_min, cavity.y_max), (one.low, one.high)
    face = shapely.box(box[0, 1], box[0, along], box[1, 1], box[1, along])
    covers: list[Polygon] = []
    for part in around.parts_near(layer.axes, box):
        if is_service(part.ifc_class, part.name, part.type_name) or (across == 2 and part.wall_id != layer.wall_id):
            continue
        for solid in part.solids:
            low, high = bounds(moved(solid, layer.axes))
            if low[across] < at[1] and high[across] > at[0]:
                covers.append(shapely.box(low[1], low[along], high[1], high[along]))
    if not covers or face.area <= 0.0:
        return 0.0
    return float(shapely.intersection(shapely.union_all(covers), face).area / face.area)


def _meeting(one: OpenSide, around: Surrounding) -> tuple[str, ...]:
    """Names of the walls that meet a stud layer at the end that a bay is open to."""
    at = "start" if one.side == "left" else "end"
    here = [
        junction
        for junction in around.junctions
        if junction.at == at and junction.z_min < one.high and junction.z_max > one.low
    ]
    return tuple(dict.fromkeys(around.wall_name(junction.other_key.split("#")[0]) for junction in here))


def _cure(side: str, meeting: Sequence[str], them: str) -> str:
    if side in ("top", "bottom"):
        return f"no {side} plate closes {them}. Model the plate, or have a blocker set before the netting"
    if meeting:
        names = " and ".join(meeting)
        return f"a member of {names}, which meets it there, would close {them}. Model that, or an end stud"
    return f"an end stud would close {them}, or a member of a wall that meets it there. Model it, or have a blocker set"
