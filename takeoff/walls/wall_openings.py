"""Openings of a stud layer: what each opening element of a wall takes of it, a hole through it or a recess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from geometry.frames import LocalAxes
from geometry.solids import Mesh, Prism, Solid, areal, depth_range, moved, section, silhouette, to_prism
from takeoff.building import ModelOpening, ModelPart, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_depth import is_panel
from takeoff.model import Opening

_SNAP = 1e-6
"""m; depths of one face agree within this after tessellation and turning."""
_NEAR = 0.6
"""m; an opening element farther than this from the wall's body belongs to something else."""
_BEHIND = 0.02
"""m; where an opening leaves more than this of the wall behind it, and nothing fills it, it is a recess."""
_EDGE = 0.02
"""m; members may reach this far into an opening from its edges."""
_LEAST_BEYOND = 0.001
"""m2; an opening that sticks out of its wall by less is drawn flush, but for rounding."""
_LOOKS = 9
"""Depths at which the body of an odd opening is looked at within the wall."""
_EVENLY = 0.01
"""Relative; sections of an opening at equal distances from the middle of the studs that average its own area to this
change evenly with the depth."""


@dataclass(frozen=True, slots=True)
class Reach:
    """What an opening may reach in wall axes, m: depth of the studs, nearest and farthest y of the whole wall, and the
    stud layer in elevation (x_min, z_min, x_max, z_max)."""

    depth: float
    near: float
    far: float
    elevation: tuple[float, float, float, float]


def openings_in(
    wall: ModelWall, axes: LocalAxes, reach: Reach, parts: Sequence[ModelPart]
) -> tuple[tuple[Opening, ...], tuple[Finding, ...]]:
    """Openings of a stud layer in wall axes, with what was found about them.

    parts: modelled members in wall axes. Architects' programs give opening elements any depth, so one that lies before
    the studs or reaches only part of them can still mean a hole. What decides is what stays behind it: nothing where it
    goes through or something fills it, the members where the wall has a frame, else the wall's own body.
    """
    found: list[Opening] = []
    findings: list[Finding] = []
    for opening in wall.openings:
        if opening.problem or not opening.solids:
            findings.append(_unreadable(wall, opening))
            continue
        local = [moved(mesh, axes) for mesh in opening.solids]
        here = [cut for mesh in local if (cut := _cut_of(mesh, reach)) is not None and _meets(cut, reach)]
        if not here:
            findings.append(_elsewhere(wall, opening))
            continue
        shallow = [_is_shallow(opening, cut, reach, parts) for cut in here]
        through = [cut.outline for cut, flag in zip(here, shallow, strict=True) if not flag]
        if through:
            whole = areal(shapely.union_all(through))
            shape = areal(whole.intersection(shapely.box(*reach.elevation)))
            found.append(_opening(opening, shape, "opening element", None))
            if whole.area - shape.area > _LEAST_BEYOND:
                findings.append(_sticks_out(wall, opening, whole.area - shape.area))
        recesses = [_in_studs(cut, reach) for cut, flag in zip(here, shallow, strict=True) if flag]
        for number, cut in enumerate(cut for cut in recesses if cut.y_max - cut.y_min > _SNAP):
            recess = _opening(opening, cut.outline, "recess in the wall", cut)
            found.append(replace(recess, opening_id=f"{opening.global_id}/{number + 1}"))
        if recesses:
            findings.append(_shallow_finding(wall, opening, recesses))
    return tuple(found), tuple(findings)


def _meets(cut: Prism, reach: Reach) -> bool:
    """Whether a cut shows in the stud layer's elevation: a groove that runs on round a corner is not in this wall."""
    x_min, z_min, x_max, z_max = cut.outline.bounds
    left, foot, right, top = reach.elevation
    return min(x_max, right) - max(x_min, left) > _SNAP and min(z_max, top) - max(z_min, foot) > _SNAP


def _in_studs(cut: Prism, reach: Reach) -> Prism:
    return Prism(cut.outline, max(cut.y_min, 0.0), min(cut.y_max, reach.depth))


def _shallow_finding(wall: ModelWall, opening: ModelOpening, recesses: Sequence[Prism]) -> Finding:
    """What an opening that does not go through takes: part of the studs' depth, or nothing of it."""
    deepest = max(cut.y_max - cut.y_min for cut in recesses)
    if deepest <= _SNAP:
        return _before_studs(wall, opening, sum(cut.outline.area for cut in recesses))
    return _recess(wall, opening, deepest)


def _called(opening: ModelOpening) -> str:
    """What an opening is called, the word itself said once."""
    name = opening.name or opening.global_id
    return name if name.lower().startswith("opening") else f"Opening {name}"


def _opening(opening: ModelOpening, shape: Polygon | MultiPolygon, evidence: str, solid: Solid | None) -> Opening:
    return Opening(opening.global_id, shape, opening.filling_class, opening.filling_name, evidence, solid)


def _cut_of(mesh: Mesh, reach: Reach) -> Prism | None:
    """What one solid of an opening element takes of the wall: its outline there, and its own range of depth.

    A body that runs on past the wall, round a corner or aslant, counts only with what lies within the wall, and with
    what lies within the studs where it reaches them. None where it keeps away from the wall.
    """
    near, far = depth_range(mesh)
    if near > reach.far + _NEAR or far < reach.near - _NEAR:
        return None
    prism = to_prism(mesh, _SNAP)
    if prism is not None:
        return prism
    low, high = max(near, reach.near), min(far, reach.far)
    if high - low <= _SNAP:
        shape = silhouette(mesh)
        return None if shape.is_empty else Prism(shape, near, far)
    depths = np.linspace(low + 1e-7, high - 1e-7, _LOOKS)
    cuts = [section(mesh, float(depth)) for depth in depths]
    present = [depth for depth, cut in zip(depths.tolist(), cuts, strict=True) if not cut.is_empty]
    if not present:
        return None
    return Prism(
        _outline_in_studs(mesh, max(low, 0.0), min(high, reach.depth)) or areal(shapely.union_all(cuts)),
        near if present[0] == depths[0] else present[0],
        far if present[-1] == depths[-1] else present[-1],
    )


def _outline_in_studs(mesh: Mesh, low: float, high: float) -> Polygon | MultiPolygon | None:
    """One outline for an opening that changes across the studs, or None where it does not reach them.

    Members around an opening are square to the wall. Where the section changes evenly (splayed reveals, a sloping sill,
    a wall that leans or bends about a straight opening) the one in the middle takes the same volume; where it changes
    in steps, all that is open at any depth is opening.
    """
    if high - low <= _SNAP:
        return None
    middle = section(mesh, 0.5 * (low + high))
    beside = [section(mesh, low + share * (high - low)) for share in (0.02, 0.25, 0.75, 0.98)]
    if middle.is_empty or any(cut.is_empty for cut in beside):
        return None
    areas = [cut.area for cut in beside]
    uneven = max(abs(areas[0] + areas[3] - 2.0 * middle.area), abs(areas[1] + areas[2] - 2.0 * middle.area))
    return middle if uneven <= _EVENLY * middle.area else areal(shapely.union_all([middle, *beside]))


def _is_shallow(opening: ModelOpening, cut: Prism, reach: Reach, parts: Sequence[ModelPart]) -> bool:
    """Whether one solid of an opening element takes only part of the depth, for good."""
    near, far = cut.y_min, cut.y_max
    if far >= reach.far - _BEHIND and near <= reach.near + _BEHIND:
        return False
    if opening.recess:
        return True
    if opening.filling_class:
        return False
    left = reach.depth - max(0.0, min(far, reach.depth) - max(near, 0.0))
    if left <= max(_BEHIND, 0.25 * reach.depth):
        return False
    # A groove narrower than a stud may well lie between two: members say nothing of it.
    if parts and not shapely.buffer(cut.outline, -_EDGE, join_style="mitre").is_empty:
        return _members_stay(cut.outline, parts)
    return min(far, reach.far) - max(near, reach.near) > _SNAP


def _members_stay(shape: Polygon | MultiPolygon, parts: Sequence[ModelPart]) -> bool:
    """Whether members of the frame stand in an opening's silhouette."""
    core = shapely.buffer(shape, -_EDGE, join_style="mitre")
    solids = [solid for part in parts for solid in part.solids]
    shapes = [outline for solid in solids if not is_panel(solid) and not (outline := silhouette(solid)).is_empty]
    return bool(shapes) and shapely.union_all(shapes).intersection(core).area > 0.02 * shape.area


def _unreadable(wall: ModelWall, opening: ModelOpening) -> Finding:
    return Finding(
        "opening-not-read", Severity.ERROR,
        f"{_called(opening)} has no usable shape ({opening.problem or 'no body'}), so the "
        "wall is counted as if it were not there; have its body mended in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name,
    )  # fmt: skip


def _elsewhere(wall: ModelWall, opening: ModelOpening) -> Finding:
    return Finding(
        "opening-away-from-wall", Severity.WARNING,
        f"{_called(opening)} lies away from the wall that it belongs to and was not deducted; "
        "have it moved or removed in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name,
    )  # fmt: skip


def _sticks_out(wall: ModelWall, opening: ModelOpening, area: float) -> Finding:
    return Finding(
        "opening-clipped", Severity.INFO,
        f"{_called(opening)} sticks out of the stud layer; it counts as far as it lies in it. "
        "If it ought to lie in the wall, have it moved in the model.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, area, None, "m2",
    )  # fmt: skip


def _before_studs(wall: ModelWall, opening: ModelOpening, area: float) -> Finding:
    return Finding(
        "opening-clear-of-studs", Severity.WARNING if area > 0.05 else Severity.INFO,
        f"{_called(opening)} cuts only layers before or behind the studs and nothing fills "
        "it, so the studs were taken to run on. If it is a door or window, have it made as deep as the wall.",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, area, None, "m2",
    )  # fmt: skip


def _recess(wall: ModelWall, opening: ModelOpening, depth: float) -> Finding:
    said = "is a recess" if opening.recess else "leaves part of the wall behind it and nothing fills it"
    advice = "" if opening.recess else " If it goes through the wall, have it made as deep as the wall in the model."
    return Finding(
        "recess-in-studs", Severity.INFO if opening.recess else Severity.WARNING,
        f"{_called(opening)} {said}; only its own depth was deducted.{advice}",
        wall.global_id, opening.global_id, opening.ifc_class, opening.name, depth, None, "m",
    )  # fmt: skip
