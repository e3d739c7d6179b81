"""Openings that are only a gap in a modelled frame, each with its evidence, and the gaps that might be one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, without_idle_points
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings
from takeoff.framing.frame_voids import FrameVoids, voids_of
from takeoff.framing.gap_evidence import Evidence, evidence_of
from takeoff.framing.gap_verdicts import Verdict, parts_two_frames, verdict_of, verdicts_of
from takeoff.framing.member_shapes import Shapes, Stance
from takeoff.model import Opening

RIM = "/rim"
"""Ends the id of what is left around an opening; before it stands the id of that opening."""
FRAMES_APART = "it parts two frames that stand above each other"
"""Evidence of a gap that is no door or window but the edge of a floor."""
LEAST_RIM = 1e-6
"""m2. What is left around an opening element below this is rounding."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """Openings found as gaps in a frame, and what was decided about the doubtful ones."""

    openings: tuple[Opening, ...]
    findings: tuple[Finding, ...]


def gap_openings(
    outline: Polygon | MultiPolygon,
    shapes: Shapes,
    known: Sequence[Opening] = (),
    standing: Sequence[Opening] = (),
    settings: FrameSettings = DEFAULT_FRAME_SETTINGS,
    *,
    united: shapely.Geometry | None = None,
) -> Gaps:
    """Find the openings that nobody cut: gaps in the frame that are doors or windows.

    outline: of the frame, in (x, z), m. shapes: its members, without obstructions, furring and braces. known:
    openings of the stud layer. standing: doors and windows that stand in the wall without an opening element.
    A gap's outline is the clear region between the members. Ids are 'gap1', 'gap2', ... from left to right, or the id
    of the door or window. A recess among the known openings is no gap and is passed over. united: the union of the
    silhouettes, where the caller has it already.
    """
    through = [opening for opening in known if opening.solid is None]
    taken = shapely.union_all(shapes.silhouettes) if united is None else united
    voids = voids_of(outline, taken, settings)
    voids = replace(voids, usual=_usual_in_one_row(outline, shapes, voids.usual, settings))
    evidence = evidence_of(outline, voids, shapes, settings)
    settled = np.zeros(len(voids), dtype=bool)
    cut = shapely.union_all([opening.outline for opening in through]) if through else Polygon()
    rims, rim_findings = _rims(voids, evidence, through, settled, settings)
    doors, door_findings = _standing_in(voids, _in_frame(standing, outline, cut), settled, settings)
    verdicts = verdicts_of(voids, evidence, settled, settings)
    found, findings = _from_the_frame(voids, evidence, verdicts, settled, cut)
    openings = (*rims, *doors, *found)
    return Gaps(openings, (*rim_findings, *door_findings, *findings))


def _usual_in_one_row(outline: Polygon | MultiPolygon, shapes: Shapes, usual: float, settings: FrameSettings) -> float:
    """Clear width of the usual bay, m, of the first row of studs where there are several.

    Seen from the front, staggered studs stand twice as close as they are set out.
    """
    upright = shapes.stance == Stance.UPRIGHT
    if not upright.any():
        return usual
    first = int(np.argmax(np.where(upright, shapes.volume, 0.0)))
    middle = (shapes.low[first, 1] + shapes.high[first, 1]) / 2.0
    row = (shapes.low[:, 1] < middle) & (shapes.high[:, 1] > middle)
    if not (upright & ~row).sum() >= 0.25 * upright.sum():
        return usual
    return voids_of(outline, shapely.union_all(shapes.silhouettes[row]), settings).usual


def _rims(
    voids: FrameVoids,
    evidence: Sequence[Evidence],
    known: Sequence[Opening],
    settled: NDArray[np.bool_],
    settings: FrameSettings,
) -> tuple[list[Opening], list[Finding]]:
    """What is left of a gap around an opening element that fills most of it; marks the gaps that are taken.

    Packing belongs to the opening, and so does the rest of a gap that is framed as an opening. Of any other gap the
    rest stays a cavity.
    """
    rims: list[Opening] = []
    findings: list[Finding] = []
    if not known or len(voids) == 0:
        return rims, findings
    cut = shapely.union_all([opening.outline for opening in known])
    for opening in known:
        shared = shapely.area(shapely.intersection(voids.shapes, opening.outline))
        for row in np.flatnonzero(shared >= 0.3 * shapely.area(voids.shapes)).tolist():
            settled[row] = True
            rest = areal(shapely.difference(voids.shapes[row], cut))
            reach = shapely.buffer(opening.outline, settings.shim, join_style="mitre")
            spare = shapely.difference(rest, reach).area
            framed = verdict_of(voids, row, evidence[row], settings) is Verdict.OPENING
            one_gap = shared[row] >= 0.8 * opening.outline.area
            if rest.area < LEAST_RIM or (spare > LEAST_RIM and not one_gap):
                continue
            if spare > LEAST_RIM:
                findings.append(_larger_gap(opening, voids, row, spare, "an opening" if framed else "a cavity"))
            if spare <= LEAST_RIM or framed:
                rims.append(_rim(opening, rest))
    return rims, findings


def _rim(opening: Opening, rest: Polygon | MultiPolygon) -> Opening:
    evidence = "left between an opening element and the members around it"
    name = f"{opening.opening_id}{RIM}"
    return Opening(name, rest, opening.filling_class, opening.filling_name, evidence)


def _larger_gap(opening: Opening, voids: FrameVoids, row: int, spare: float, taken_as: str) -> Finding:
    return Finding(
        "gap-larger-than-opening",
        Severity.WARNING,
        f"The opening {_name(opening)} stands in a gap of the frame {_place(voids, row)} that is larger than it, with "
        f"no member between; the rest was taken as {taken_as}. Check the opening or model the missing member.",
        element_id=opening.opening_id,
        measured=spare,
        unit="m2",
    )


def _in_frame(standing: Sequence[Opening], outline: Polygon | MultiPolygon, cut: shapely.Geometry) -> list[Opening]:
    """Doors and windows that stand in the frame and not in an opening that is cut already."""
    found: list[Opening] = []
    for door in standing:
        whole = door.outline.area
        inside = shapely.intersection(door.outline, outline).area
        if whole > 0.0 and inside >= 0.5 * whole and shapely.intersection(door.outline, cut).area <= 0.5 * whole:
            found.append(door)
    return found


def _standing_in(
    voids: FrameVoids, standing: Sequence[Opening], settled: NDArray[np.bool_], settings: FrameSettings
) -> tuple[list[Opening], list[Finding]]:
    """Openings for doors and windows that stand in the frame; marks the gaps that they take."""
    found: list[Opening] = []
    findings: list[Finding] = []
    for door in standing:
        kind = "window" if "window" in door.filling_class.lower() else "door"
        evidence = door.evidence or f"a {kind} stands in the frame"
        rows = _gaps_of(door, voids, settled, settings)
        if len(rows) == 0:
            found.append(Opening(door.opening_id, door.outline, door.filling_class, door.filling_name, evidence))
        for number, row in enumerate(rows):
            settled[row] = True
            clear, rest = _clear_region(areal(voids.shapes[row]), door.outline, settings.shim)
            name = door.opening_id if number == 0 else f"{door.opening_id}/{number + 1}"
            found.append(Opening(name, clear, door.filling_class, door.filling_name, evidence))
            if rest > LEAST_RIM:
                findings.append(_larger_gap(door, voids, int(row), rest, "a cavity"))
    return found, findings


def _gaps_of(
    door: Opening, voids: FrameVoids, settled: NDArray[np.bool_], settings: FrameSettings
) -> NDArray[np.int64]:
    """Rows of the gaps that a door or window stands in: one that holds most of it, or several that it holds.

    Several are a door with side lights between posts. Where members that go on past the door cross it, the frame was
    not cut for it, and no gap is its own.
    """
    if len(voids) == 0:
        return np.empty(0, dtype=np.int64)
    shared = shapely.area(shapely.intersection(voids.shapes, door.outline))
    holding = (shared >= 0.75 * door.outline.area) & ~settled
    if holding.any():
        return np.flatnonzero(holding)
    reach = shapely.buffer(door.outline, settings.shim, join_style="mitre")
    held = shapely.area(shapely.intersection(voids.shapes, reach)) >= 0.9 * shapely.area(voids.shapes)
    held &= (shared >= 0.05 * door.outline.area) & ~settled
    return np.flatnonzero(held & (shared[held].sum() >= 0.75 * door.outline.area))


def _clear_region(
    void: Polygon | MultiPolygon, door: Polygon | MultiPolygon, shim: float
) -> tuple[Polygon | MultiPolygon, float]:
    """The part of a gap that a door takes, out to the members where they are near, and the area (m2) left over."""
    gap, leaf = np.array(void.bounds), np.array(door.bounds)
    outward = np.array([-1.0, -1.0, 1.0, 1.0])
    far = (gap - leaf) * outward > shim
    sides = np.where(far, leaf, gap)
    if not far.any():
        return void, 0.0
    clear = areal(shapely.intersection(void, shapely.box(*sides)))
    return clear, void.area - clear.area


def _from_the_frame(
    voids: FrameVoids,
    evidence: Sequence[Evidence],
    verdicts: Sequence[Verdict],
    settled: NDArray[np.bool_],
    cut: shapely.Geometry,
) -> tuple[list[Opening], list[Finding]]:
    """Openings and findings for the gaps that only the frame itself speaks about."""
    found: list[Opening] = []
    findings: list[Finding] = []
    for row, verdict in enumerate(verdicts):
        if settled[row] or verdict is Verdict.CAVITY:
            continue
        one = evidence[row]
        if verdict is Verdict.UNSURE:
            findings.append(_doubt(voids, row, one))
            continue
        name = f"gap{len(found) + 1}"
        apart = parts_two_frames(voids, row)
        words = FRAMES_APART if apart else one.sentence()
        found.append(
            Opening(name, without_idle_points(areal(shapely.difference(voids.shapes[row], cut))), "", "", words)
        )
        findings.append(_between_frames(voids, row, name) if apart else _taken_as_opening(voids, row, one, name))
    return found, findings


def _taken_as_opening(voids: FrameVoids, row: int, one: Evidence, name: str) -> Finding:
    message = (
        f"The gap {_place(voids, row)} has no opening element, but {one.sentence()}; it was taken as an opening and is "
        "not insulated. Add an opening, a door or a window to the model to settle it."
    )
    # A usual bay may be framed like this under a shelf or a short beam, too.
    sure = one.signs >= 2 and (one.broken_plate or one.wide or one.doorlike)
    severity = Severity.INFO if sure else Severity.WARNING
    return Finding("opening-is-a-gap", severity, message, element_id=name, measured=one.width, unit="m")


def _between_frames(voids: FrameVoids, row: int, name: str) -> Finding:
    message = (
        f"The gap {_place(voids, row)} parts two frames that stand above each other; it was taken for the edge of a "
        "floor and is not insulated. Model a frame there if it is to be filled."
    )
    height = float(voids.height[row])
    return Finding("gap-between-frames", Severity.WARNING, message, element_id=name, measured=height, unit="m")


def _doubt(voids: FrameVoids, row: int, one: Evidence) -> Finding:
    message = (
        f"The gap {_place(voids, row)} may be an opening: {one.sentence()}; nothing else says so, and it was taken as "
        "a cavity. Add an opening, a door or a window to the model if it is one."
    )
    return Finding("gap-may-be-opening", Severity.WARNING, message, measured=one.width, unit="m")


def _place(voids: FrameVoids, row: int) -> str:
    x_min, z_min, x_max, z_max = voids.box[row]
    area = voids.shapes[row].area
    return f"from {x_min:.3f} to {x_max:.3f} m along the wall, {z_min:.3f} to {z_max:.3f} m up ({area:.3f} m2),"


def _name(opening: Opening) -> str:
    return f"'{opening.filling_name}'" if opening.filling_name else opening.opening_id
