"""Outside walls without insulation, inside walls with it, and openings larger than what fills them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from geometry.frames import LocalAxes
from takeoff.building import Model, ModelOpening, ModelWall
from takeoff.envelope.walls import Envelope, WallPart
from takeoff.finding import Finding, Severity
from takeoff.job import Job
from takeoff.model import Status, WallTakeoff
from takeoff.thermal.conductivities import INSULATION_BELOW, PLAUSIBLE, design_value
from takeoff.units import format_area, format_length
from takeoff.walls.wall_axes import raw_axes

LEAST_INSULATION = 0.02
"""m; an insulating layer thinner than this does not make a wall insulated. Own rule."""
_ELSEWHERE = frozenset({"walls-in-one-place", "walls-overlap"})
"""Codes of a wall whose studs stand in another wall, where they are counted: if it has none left, it is drawn twice."""


def insulation_findings(
    model: Model, results: Sequence[WallTakeoff], envelope: Envelope, job: Job
) -> tuple[Finding, ...]:
    """Outside walls that nothing insulates, and inside walls that are filled."""
    sources = {wall.global_id: wall for wall in model.walls}
    by_wall = envelope.by_wall()
    found: list[Finding] = []
    for result in results:
        source = sources.get(result.wall.wall_id)
        parts = by_wall.get(result.wall.wall_id, ())
        if source is None or result.status is Status.FAILED:
            continue
        if result.wall.external:
            found += _bare(result, source, parts, job)
        elif any(part.insulated > 0.0 for part in parts):
            found.append(_filled_inside(result, parts, job))
    return tuple(found)


def _bare(result: WallTakeoff, source: ModelWall, parts: Sequence[WallPart], job: Job) -> Iterator[Finding]:
    """A finding for an outside wall that neither is filled nor has an insulating layer."""
    wall = result.wall
    if any(part.insulated > 0.0 for part in parts) or source.only_groups:
        return
    if wall.ifc_class == "IfcCurtainWall" or source.predefined_type == "CURTAIN_WALL":
        return
    if not result.layers and any(finding.code in _ELSEWHERE for finding in wall.findings):
        return
    named = insulating_layers(source)
    if named:
        return
    area = sum(part.net for part in parts) or wall.gross_area
    if area <= 0.0:
        return
    why = wall.insulated_reason if result.layers else result.reason
    where = _where(wall.storey, parts)
    yield Finding(
        "outside-wall-not-insulated", Severity.WARNING,
        f"Outside wall{where} of {format_area(area, job.report.units)} with neither fill nor an insulating layer "
        f"({why}). If it is part of the heated building, plan its insulation, or state it in the job file.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, 0.0, area, "m2",
        parts[0].centre if parts else None,
    )  # fmt: skip


def insulating_layers(source: ModelWall) -> tuple[str, ...]:
    """Names of the layers of a wall that insulate by their own conductivity or by their name."""
    layers = source.layers.layers if source.layers is not None else source.materials
    return tuple(
        layer.material or layer.name
        for layer in layers
        if (layer.thickness >= LEAST_INSULATION or source.layers is None)
        and (
            PLAUSIBLE[0] <= layer.conductivity <= INSULATION_BELOW
            if layer.conductivity is not None
            else _names_insulation(layer.material, layer.name, layer.category)
        )
    )


def _names_insulation(*texts: str) -> bool:
    """Whether a material is an insulation by the table, or one whose kind the name leaves open."""
    found = design_value(*texts)
    return found.insulation or found.key == UNNAMED_INSULATION


UNNAMED_INSULATION = "insulation"


def _filled_inside(result: WallTakeoff, parts: Sequence[WallPart], job: Job) -> Finding:
    wall = result.wall
    area = sum(part.insulated for part in parts)
    return Finding(
        "inside-wall-insulated", Severity.INFO,
        f"Inside wall{_where(wall.storey, parts)} with {format_area(area, job.report.units)} filled "
        f"({wall.insulated_reason}): it belongs to no outside area. Check that it is meant.",
        wall.wall_id, wall.wall_id, wall.ifc_class, wall.name, area, 0.0, "m2", parts[0].centre,
    )  # fmt: skip


def _where(storey: str, parts: Sequence[WallPart]) -> str:
    sides = dict.fromkeys(part.orientation for part in parts if part.azimuth is not None)
    words = [f"on storey '{storey}'"] if storey else []
    if sides:
        words.append(f"facing {' and '.join(sides)}")
    return f" {', '.join(words)}," if words else ""


# ---------------------------------------------------------------- openings


def opening_findings(model: Model, results: Sequence[WallTakeoff], job: Job) -> tuple[Finding, ...]:
    """Openings that are wider or higher than the door or window that fills them alone.

    The size of a door or window is what the model states (OverallWidth, OverallHeight); that of its opening is
    measured in the wall's elevation. A wall whose sides cannot be told is passed over.
    """
    layers: Mapping[str, LocalAxes] = {
        result.wall.wall_id: result.layers[0].frame.layer.axes for result in results if result.layers
    }
    found: list[Finding] = []
    for wall in model.walls:
        sized = [opening for opening in wall.openings if opening.filling_size is not None and opening.solids]
        if not sized:
            continue
        axes = layers.get(wall.global_id) or _own_axes(wall)
        if axes is not None:
            found += [finding for opening in sized for finding in _oversized(wall, opening, axes, job)]
    return tuple(found)


def _own_axes(wall: ModelWall) -> LocalAxes | None:
    """Axes of a straight wall that was not taken off."""
    return raw_axes(wall.body, wall.placement, None) if wall.body and wall.cylinder is None else None


def _oversized(wall: ModelWall, opening: ModelOpening, axes: LocalAxes, job: Job) -> Iterator[Finding]:
    assert opening.filling_size is not None
    slack, system = job.plan_check.window_slack, job.report.units
    points = np.concatenate([mesh.vertices for mesh in opening.solids])
    for what, measured, stated in zip(("wide", "high"), _size(points, axes), opening.filling_size, strict=True):
        if measured - stated <= slack or stated <= 0.0:
            continue
        x, y, z = points.mean(axis=0).tolist()
        yield Finding(
            "opening-larger-than-filling", Severity.WARNING,
            f"The opening is {format_length(measured, system)} {what}, but {opening.filling_name or 'its filling'} "
            f"only {format_length(stated, system)}: what lies between is deducted though it may be wall. Check both "
            "in the model.",
            wall.global_id, opening.global_id, opening.ifc_class, opening.filling_name or opening.name,
            measured, stated, "m", (x, y, z),
        )  # fmt: skip
        return


def _size(points: NDArray[np.float64], axes: LocalAxes) -> tuple[float, float]:
    """Width and height of an opening in the wall's elevation, m."""
    local = axes.to_local(points)
    width, _, height = np.ptp(local, axis=0).tolist()
    return width, height
