"""The one road through the house: read, understand, frame, slice, count."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import areal, bounds, depth_range, moved, silhouette
from takeoff.building import Model, ModelLayer, ModelOpening, ModelWall
from takeoff.cavities import CavityPlace, take_off_layer
from takeoff.cavity_kinds import FillLimits
from takeoff.fill_results import PlannedWall, planned
from takeoff.finding import Finding, Severity
from takeoff.framing.junctions import Junction, find_junctions
from takeoff.framing.layout import lay_out
from takeoff.framing.modelled import obstructions_of, read_frame, why_no_frame
from takeoff.job import (
    Job,
    assumptions,
    default_job,
    framing_rules_for,
    hose_settings,
    least_clear_width,
    load_job,
    overrides_for,
    tolerances,
)
from takeoff.job_rules import with_rules_told
from takeoff.layer_roles import stud_material
from takeoff.model import Frame, Layer, LayerRole, LayerTakeoff, Opening, Status, StudLayer, Wall, WallTakeoff
from takeoff.open_ends import Surrounding, with_open_sides
from takeoff.reading import read_model
from takeoff.result import Progress, Takeoff, gathered
from takeoff.shares import in_shares
from takeoff.wall_faults import WALL_FAULTS, failed, fault_text, not_taken_off
from takeoff.walls import (
    Site,
    each_place_once,
    filling_outline,
    lies_in_gap,
    notch_findings,
    restored,
    site_of,
    told_where_they_stand,
    understand,
    with_frame_bodies_told,
    with_layer_parts_told,
    without_insulation,
    without_overlaps,
)

_STANDS_IN = 0.5
"""A door or window without an opening element stands in a wall where at least this share of its depth lies there."""
_BESIDE = 0.6
"""m; doors and windows this far before or behind the studs may still stand in the wall's other layers."""
_EDGE_ON = 0.2
"""m; one that shows no broader than this in elevation is seen edge on: it belongs to a wall that meets this one."""
_TOUCH = 0.001
"""m; one that reaches less far into the wall only touches it."""


def take_off(
    path: str | Path,
    job: Job | str | Path | None = None,
    *,
    with_paths: Sequence[str | Path] = (),
    progress: Progress | None = None,
    processes: int = 1,
) -> Takeoff:
    """Take off a building model.

    path: an IFC file (.ifc or .ifczip). job: a job, or the path of a job file; the built-in job where it is None.
    with_paths: models of other disciplines whose solids are deducted where they stand in a wall.
    progress: called with the step, how many walls are done and how many there are.
    processes: among how many the work is shared out (see `takeoff.shares`); it changes no result.

    Raises ReadingError where the model cannot be read, JobError where the job file cannot. A single wall never stops
    the others: one that fails has status 'failed' and its reason.
    """
    chosen = default_job() if job is None else job if isinstance(job, Job) else load_job(job)
    others = [Path(other) for other in with_paths]
    model = read_model(Path(path), with_paths=others, progress=progress, processes=processes)
    return take_off_model(model, chosen, progress=progress, processes=processes)


def take_off_model(model: Model, job: Job, *, progress: Progress | None = None, processes: int = 1) -> Takeoff:
    """Take off a model that has been read already. See `take_off`."""
    model = without_insulation(with_frame_bodies_told(with_layer_parts_told(model)))
    site = site_of(model, job)
    understood = in_shares(lambda number: _understood(model.walls[number], site), len(model.walls), processes)
    known = told_where_they_stand(tuple(map(_with_body, understood, model.walls)))
    walls, junctions = _joined(known, model)
    hose = hose_settings(job)
    floors = tuple(sorted({wall.storey_elevation for wall in model.walls if wall.storey_elevation is not None}))

    def one(number: int) -> PlannedWall:
        return planned(_wall_takeoff(walls[number], model.walls[number], site, junctions), hose, floors)

    def begun(number: int) -> None:
        if progress is not None:
            progress("cavities", number, len(walls))

    done = in_shares(one, len(walls), processes, begun)
    begun(len(walls))
    model, told = with_rules_told(model, [wall.result for wall in done], job)
    named = [replace(wall, result=result) for wall, result in zip(done, told, strict=True)]
    return gathered(model, named, job, assumptions(job))


def _understood(wall: ModelWall, site: Site) -> Wall:
    try:
        return understand(wall, site)
    except WALL_FAULTS as fault:
        return Wall(
            wall_id=wall.global_id, ifc_class=wall.ifc_class, name=wall.name, type_name=wall.type_name,
            storey=wall.storey, storey_elevation=wall.storey_elevation, external=bool(wall.external),
            external_reason="", insulated=False, insulated_reason="", length=0.0, height=0.0, gross_area=0.0,
            stud_layers=(), status=Status.FAILED, reason=fault_text("its geometry could not be understood", fault),
            quantities=wall.quantities,
        )  # fmt: skip


def _with_body(wall: Wall, source: ModelWall) -> Wall:
    return wall if wall.stud_layers else replace(wall, body=source.body)


def _joined(walls: tuple[Wall, ...], model: Model) -> tuple[tuple[Wall, ...], Mapping[str, tuple[Junction, ...]]]:
    """The walls with their junctions, none of their stud layers reaching into another wall's."""
    try:
        once = each_place_once(walls)
        junctions = find_junctions(once, model.connections)
        apart = without_overlaps(once, junctions)
        if any(new.stud_layers != old.stud_layers for new, old in zip(apart, once, strict=True)):
            junctions = find_junctions(apart, model.connections)
        apart = tuple(map(_with_body, apart, model.walls))
    except WALL_FAULTS as fault:
        # Nothing joins then, but no wall is lost over it.
        told = Finding(
            "junctions-not-found", Severity.WARNING,
            f"{fault_text('It could not be found where walls meet', fault)}. Walls are framed as if none met another.",
        )  # fmt: skip
        return (replace(walls[0], findings=(*walls[0].findings, told)), *walls[1:]), {}
    return apart, junctions


def _wall_takeoff(
    wall: Wall, source: ModelWall, site: Site, junctions: Mapping[str, tuple[Junction, ...]]
) -> WallTakeoff:
    if wall.status is not Status.TAKEN_OFF:
        aside = (not_taken_off(wall, wall.reason),) if wall.status is Status.FAILED else ()
        return WallTakeoff(wall, (), wall.status, wall.reason, aside)
    try:
        frames = [_frame(layer, source, site, junctions.get(layer.key, ())) for layer in wall.stud_layers]
        found = [frame for frame in frames if frame is not None]
        if not found:
            reason = _why_left_out(wall)
            return WallTakeoff(replace(wall, status=Status.LEFT_OUT, reason=reason), (), Status.LEFT_OUT, reason)
        layers = tuple(_layer_takeoff(frame, wall, site, junctions.get(frame.layer.key, ())) for frame in found)
    except WALL_FAULTS as fault:
        return failed(wall, fault_text("its cavities could not be taken off", fault))
    return WallTakeoff(wall, layers, Status.TAKEN_OFF, "")


def _why_left_out(wall: Wall) -> str:
    """Why none of the stud layers that were looked for is framed."""
    layers = any(layer.layers for layer in wall.stud_layers)
    missing = "no stud layer among its layers" if layers else "the model gives it no layers"
    why = next(filter(None, map(why_no_frame, wall.stud_layers)), "")
    told = f": {why}. If it is framed, state stud_depth in the job" if why else ""
    return f"{missing}, and what stands in it is no frame{told}"


# ---------------------------------------------------------------- frames


def _frame(layer: StudLayer, source: ModelWall, site: Site, junctions: tuple[Junction, ...]) -> Frame | None:
    """The modelled frame of a stud layer, else one laid out by rule; None where nothing says that it is framed."""
    rule = overrides_for(site.job, source.global_id, source.name, source.type_name, _set_name(source))
    standing = _standing_in(layer, source, site)
    # One that stands where the body has a notch without an opening element was cut out of it.
    whole = restored(layer.outline, standing.openings, layer.depth)
    layer, standing = replace(layer, outline=whole.outline), replace(standing, openings=whole.openings)
    if rule.read_frame is not False:
        modelled = read_frame(layer, standing.openings)
        if modelled is not None:
            return replace(modelled, findings=(*modelled.findings, *standing.findings))
    studs = _layer_of_studs(layer)
    if rule.stud_depth is None and studs is None:
        return None
    without = replace(layer, openings=(*layer.openings, *standing.openings))
    names = " ".join(text for text in (_set_name(source), source.type_name) if text)
    material = stud_material(ModelLayer(studs.material, studs.category, studs.thickness), names) if studs else "unknown"
    rules = framing_rules_for(site.job, rule, material)
    frame = lay_out(without, rules, junctions)
    obstructions = obstructions_of(layer, frame_unwanted=rule.read_frame is False)
    return replace(
        frame,
        members=(*frame.members, *obstructions.members),
        findings=(
            *frame.findings,
            *obstructions.findings,
            *(_without_element(layer, each) for each in standing.openings),
            *standing.findings,
            *notch_findings(source, layer.outline),
        ),
    )


def _set_name(source: ModelWall) -> str:
    return source.layers.name if source.layers is not None else ""


def _layer_of_studs(layer: StudLayer) -> Layer | None:
    """The material layer that this stud layer is, where the model's layers say so."""
    middle = layer.depth / 2.0
    return next((row for row in layer.layers if row.role is LayerRole.STUD and row.y_min <= middle <= row.y_max), None)


@dataclass(frozen=True, slots=True, eq=False)
class _Standing:
    """Doors and windows that stand in a wall without an opening element, and findings about those that hardly do."""

    openings: tuple[Opening, ...] = ()
    findings: tuple[Finding, ...] = ()


def _standing_in(layer: StudLayer, source: ModelWall, site: Site) -> _Standing:
    """Doors and windows that stand in a wall without an opening element, in wall axes."""
    box = bounds(layer.outline)
    box[:, 1] = -_BESIDE, layer.depth + _BESIDE
    near_by = site.openings.reaching_into(layer.axes, box)
    if not near_by:
        return _Standing()
    ranges = [depth_range(moved(mesh, layer.axes)) for mesh in source.body] or [(0.0, layer.depth)]
    wall = min(low for low, _ in ranges), max(high for _, high in ranges)
    openings: list[Opening] = []
    findings: list[Finding] = []
    for element in near_by:
        opening, share = _standing(element, layer, wall)
        if opening is None or _is_known(opening, (*layer.openings, *openings)):
            continue
        if share >= _STANDS_IN:
            openings.append(opening)
        else:
            findings.append(_beside(layer, opening))
    return _Standing(tuple(openings), tuple(findings))


def _standing(element: ModelOpening, layer: StudLayer, wall: tuple[float, float]) -> tuple[Opening | None, float]:
    """A door or window as the opening that it would be, and the share of its depth that lies in the wall.

    wall: nearest and farthest y of the whole wall, m. None where it is not seen in the wall's elevation, or edge on.
    """
    local = [moved(mesh, layer.axes) for mesh in element.solids]
    shape = areal(shapely.union_all([silhouette(mesh) for mesh in local]))
    if shape.is_empty:
        return None, 0.0
    shape = filling_outline(shape)
    x_min, z_min, x_max, z_max = shape.bounds
    near = min(depth_range(mesh)[0] for mesh in local)
    far = max(depth_range(mesh)[1] for mesh in local)
    shared = min(far, wall[1]) - max(near, wall[0])
    if shared <= _TOUCH or min(x_max - x_min, z_max - z_min) < _EDGE_ON:
        return None, 0.0
    elevation = silhouette(layer.outline)
    if shape.intersection(elevation).area < _STANDS_IN * shape.area and not lies_in_gap(elevation, shape):
        return None, 0.0
    kind = "door" if "Door" in element.ifc_class else "window"
    evidence = f"{kind} stands in the wall without an opening element"
    opening = Opening(element.global_id, shape, element.ifc_class, element.name, evidence)
    return opening, shared / min(far - near, wall[1] - wall[0])


def _is_known(opening: Opening, others: Sequence[Opening]) -> bool:
    return any(other.outline.intersection(opening.outline).area > 0.5 * opening.outline.area for other in others)


def _without_element(layer: StudLayer, opening: Opening) -> Finding:
    return Finding(
        "opening-without-element", Severity.WARNING,
        f"{opening.filling_name or opening.opening_id} stands in the wall without an opening element; the outline of "
        "its frame was deducted as the opening. Have the opening modelled.",
        layer.wall_id, opening.opening_id, opening.filling_class, opening.filling_name,
    )  # fmt: skip


def _beside(layer: StudLayer, opening: Opening) -> Finding:
    return Finding(
        "opening-mostly-outside-wall", Severity.WARNING,
        f"{opening.filling_name or opening.opening_id} reaches into the wall but stands mostly outside it and has no "
        "opening element, so nothing was deducted. If it is a door or window of this wall, have its opening modelled.",
        layer.wall_id, opening.opening_id, opening.filling_class, opening.filling_name,
    )  # fmt: skip


# ---------------------------------------------------------------- cavities


def _layer_takeoff(frame: Frame, wall: Wall, site: Site, junctions: tuple[Junction, ...]) -> LayerTakeoff:
    limits = FillLimits(least_clear_width(site.job), site.job.batt.hand_width, wall.insulated, wall.insulated_reason)

    def room_of(points: NDArray[np.float64]) -> list[str]:
        return ["" if room is None else room.label for room in site.surroundings.rooms_at(points)]

    def wall_name(wall_id: str) -> str:
        name = next((other.name for other in site.model.walls if other.global_id == wall_id), "")
        return f"wall '{name}'" if name else f"wall {wall_id}"

    taken = take_off_layer(frame, CavityPlace(wall.storey, limits, room_of), tolerances(site.job))
    return with_open_sides(taken, Surrounding(site.parts.reaching_into, junctions, wall_name))
