"""A wall understood: is it framed, where are its stud layers, from which side is each filled, what stands in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.frames import LocalAxes
from geometry.solids import Mesh, Prism, Solid, bounds, moved, silhouette
from takeoff.building import Cylinder, ModelPart, ModelWall
from takeoff.finding import Finding
from takeoff.job import insulate_decision, overrides_for
from takeoff.model import Layer, Status, StudLayer, Wall
from takeoff.wall_rules import WallRule
from takeoff.walls.bent_corners import put_together
from takeoff.walls.curved import on_stud_arc, ready_to_develop, rough_size
from takeoff.walls.cut_openings import hole_finding, holes_as_openings, restored
from takeoff.walls.faceted import Parted, bent_wall, plan_size
from takeoff.walls.layer_places import LayerPlaces, judged_layers, layer_set_name, placed_layers
from takeoff.walls.measured import (
    Measured,
    Site,
    encloses_nothing,
    frame_candidates,
    frame_solids,
    may_frame,
    measured_in,
    measured_wall,
)
from takeoff.walls.out_of_line import along_its_frame
from takeoff.walls.sides import Sides, fill_side, sides_of
from takeoff.walls.slots import FEWEST_MEMBERS, Slot, from_fill_side, openings_by_slot, slots_of, spaces_between
from takeoff.walls.stud_layers import (
    body_outline,
    final_axes,
    frame_outline_solid,
    layers_in,
    part_outline,
    parts_in,
    reaching_in,
)
from takeoff.walls.wall_openings import Reach, openings_in

_ROUNDING = 1e-9
"""m; what tessellation and turning leave of a zero."""


def understand(wall: ModelWall, site: Site) -> Wall:
    """One wall of the model with its stud layers, or with the reason why it has none."""
    rule = overrides_for(site.job, wall.global_id, wall.name, wall.type_name, layer_set_name(wall))
    if wall.only_groups:
        return _without_layers(wall, Status.LEFT_OUT, "it only groups other walls, which are taken by themselves")
    if wall.problem:
        return _without_layers(wall, Status.FAILED, wall.problem)
    if wall.ifc_class == "IfcCurtainWall" or wall.predefined_type == "CURTAIN_WALL":
        return _without_layers(wall, Status.LEFT_OUT, "curtain wall: it has no studs")
    if wall.cylinder is not None:
        return _curved(wall, rule, site)
    measured = measured_wall(wall, rule, site)
    if isinstance(measured, str):
        return _without_layers(wall, Status.FAILED, measured)
    bent = None if rule.leave_out else bent_wall(wall, float(measured.box[1, 1] - measured.box[0, 1]))
    if bent is not None:
        return _bent(measured, bent, site)
    measured, told = along_its_frame(measured, site)
    found = _of_measured(measured, site)
    return replace(found, findings=(*told, *found.findings)) if told else found


def _of_measured(measured: Measured, site: Site, made: int = 0) -> Wall:
    """A measured wall with its stud layers; made: how many the same wall of the model has already."""
    rule = measured.rule
    if rule.leave_out:
        return _left_out(measured, f"the job file leaves it out: {rule.leave_out}")
    if encloses_nothing(measured):
        reason = "its body encloses no space (a mere surface, or not closed); export it as a solid"
        return replace(_left_out(measured, reason), status=Status.FAILED)
    return _with_stud_layers(measured, site, made)


def _with_stud_layers(measured: Measured, site: Site, before: int) -> Wall:
    wall, rule = measured.wall, measured.rule
    framing = frame_candidates(measured) if rule.read_frame is not False else []
    has_frame = len(framing) >= FEWEST_MEMBERS
    judged = judged_layers(wall, rule, site.layers, has_frame=has_frame)
    extent = (float(measured.box[0, 1]), float(measured.box[1, 1])) if measured.body else None
    places = placed_layers(wall, judged, measured.axes, extent)
    slots, notes = slots_of(measured, places, framing if has_frame else [])
    if not slots:
        return _left_out(measured, _why_not_framed(wall, judged), places.findings)
    sides = sides_of(wall, measured.axes, measured.box, rule, site.surroundings)
    layers: list[StudLayer] = []
    findings = [*places.findings, *notes, *sides.findings]
    areas: list[float] = []
    shares = openings_by_slot(wall.openings, measured.axes, slots)
    for slot, openings in zip(slots, shares, strict=True):
        own = measured if openings == wall.openings else replace(measured, wall=replace(wall, openings=openings))
        made, said, area = _stud_layer(own, slot, places, sides, before + len(layers))
        findings += said
        if made is not None:
            layers.append(made)
            areas.append(area)
    if not layers:
        return _left_out(measured, "its body does not reach into the stud layer", tuple(findings))
    findings += spaces_between(wall, slots, places)
    insulated, why = insulate_decision(site.job, rule, sides.external, wall.acoustic_rating)
    return replace(
        _plain(measured),
        external=sides.external,
        external_reason=sides.external_reason,
        insulated=insulated,
        insulated_reason=why,
        gross_area=sum(areas) if any(slot.outline is not None for slot in slots) else max(areas),
        stud_layers=tuple(layers),
        findings=tuple(findings),
    )


def _stud_layer(
    measured: Measured, slot: Slot, places: LayerPlaces, sides: Sides, made: int
) -> tuple[StudLayer | None, list[Finding], float]:
    """A stud layer, what was found about it, and the wall's elevation without its openings, m2."""
    wall, rule = measured.wall, measured.rule
    chosen = fill_side(wall, places.layers, slot.number, sides, rule)
    slot = from_fill_side(slot, chosen.side, measured, places)
    depth = slot.high - slot.low
    solids = (
        (Prism(slot.outline, slot.low, slot.high),)
        if slot.outline is not None
        else measured.body or tuple(moved(mesh, measured.axes) for mesh in frame_solids(wall.parts))
    )
    axes = final_axes(measured.axes, slot, chosen.side, solids)
    raw_low, raw_high = float(measured.box[0, 1]), float(measured.box[1, 1])
    body = (
        (raw_low - slot.low, raw_high - slot.low) if chosen.side == 0 else (slot.high - raw_high, slot.high - raw_low)
    )
    box = _local_box(measured, axes, depth)
    own = parts_in((*measured.parts, *(part for part in measured.loose if may_frame(part))), axes, box)
    if slot.outline is not None:
        outline = part_outline(slot.outline, chosen.side, depth)
    else:
        outline = body_outline(wall.body, axes, depth) if wall.body else frame_outline_solid(own, depth)
    if outline is None:
        return None, [*chosen.findings], 0.0
    axes, own, outline = _zeroed(axes, own, outline)
    elevation = silhouette(outline)
    parts = parts_in((*measured.parts, *measured.loose), axes, _box_of(outline, depth))
    parts = reaching_in(parts, outline, elevation, wall.global_id)
    openings, notes = openings_in(wall, axes, Reach(depth, *body, elevation.bounds), own)
    key = wall.global_id if made == 0 else f"{wall.global_id}#{made + 1}"
    whole = restored(outline, openings, depth)
    outline, holes = holes_as_openings(whole.outline, key) if wall.body else (whole.outline, ())
    notes = (*notes, *(hole_finding(wall, hole) for hole in holes))
    layer = StudLayer(
        key=key,
        wall_id=wall.global_id,
        axes=axes,
        depth=depth,
        outline=outline,
        openings=(*whole.openings, *holes),
        parts=parts,
        layers=layers_in(places.layers, slot, chosen.side),
        fill_side=chosen.reason,
        rooms=tuple(room.label for room in sides.rooms[chosen.side]),
    )
    filled = whole.area + sum(hole.outline.area for hole in holes)
    return layer, [*chosen.findings, *notes], (measured.area if wall.body else elevation.area) + filled


def _zeroed(
    axes: LocalAxes, parts: tuple[ModelPart, ...], outline: Solid
) -> tuple[LocalAxes, tuple[ModelPart, ...], Solid]:
    """x = 0 and z = 0 put to the stud layer's own left end and foot: cladding may run on past both, a mitre does."""
    low = bounds(outline)[0] * np.array([1.0, 0.0, 1.0])
    if np.abs(low).max() <= _ROUNDING:
        return axes, parts, outline
    parts = tuple(
        replace(part, solids=tuple(Mesh(mesh.vertices - low, mesh.faces) for mesh in part.solids)) for part in parts
    )
    if isinstance(outline, Mesh):
        return axes.shifted(low), parts, Mesh(outline.vertices - low, outline.faces)
    shape = shapely.transform(outline.outline, lambda points: points - low[[0, 2]])
    return axes.shifted(low), parts, replace(outline, outline=shape)


def _local_box(measured: Measured, axes: LocalAxes, depth: float) -> NDArray[np.float64]:
    corners = measured.axes.to_world(measured.box)
    local = axes.to_local(corners)
    low, high = local.min(axis=0), local.max(axis=0)
    low[1], high[1] = 0.0, depth
    return np.stack([low, high])


def _box_of(outline: Solid, depth: float) -> NDArray[np.float64]:
    box = bounds(outline)
    box[:, 1] = 0.0, depth
    return box


def _plain(measured: Measured) -> Wall:
    size = measured.box[1] - measured.box[0]
    wall = measured.wall
    return Wall(
        wall_id=wall.global_id,
        ifc_class=wall.ifc_class,
        name=wall.name,
        type_name=wall.type_name,
        storey=wall.storey,
        storey_elevation=wall.storey_elevation,
        external=bool(wall.external),
        external_reason="",
        insulated=False,
        insulated_reason="",
        length=float(size[0]),
        height=float(size[2]),
        gross_area=measured.area,
        stud_layers=(),
        status=Status.TAKEN_OFF,
        reason="",
        quantities=wall.quantities,
    )


def _left_out(measured: Measured, reason: str, findings: tuple[Finding, ...] = ()) -> Wall:
    stated = measured.wall.external
    return replace(
        _plain(measured),
        status=Status.LEFT_OUT,
        reason=reason,
        external_reason="" if stated is None else "the model says so (Pset_WallCommon.IsExternal)",
        findings=findings,
    )


def _without_layers(wall: ModelWall, status: Status, reason: str) -> Wall:
    return Wall(
        wall_id=wall.global_id, ifc_class=wall.ifc_class, name=wall.name, type_name=wall.type_name, storey=wall.storey,
        storey_elevation=wall.storey_elevation, external=bool(wall.external), external_reason="", insulated=False,
        insulated_reason="", length=0.0, height=0.0, gross_area=0.0, stud_layers=(), status=status, reason=reason,
        quantities=wall.quantities,
    )  # fmt: skip


def _curved(wall: ModelWall, rule: WallRule, site: Site) -> Wall:
    """A curved wall, developed along the arc of its studs; with its rough size where it cannot be."""
    ready = ready_to_develop(wall)
    if isinstance(ready, str):
        plain = _without_layers(wall, Status.LEFT_OUT, ready)
        length, height, area = rough_size(wall)
        return replace(plain, length=length, height=height, gross_area=area)
    measured = measured_in(ready.axes, ready.wall, rule, site)
    return on_stud_arc(_of_measured(measured, site), ready.axes, sense_known=ready.sense_known)


def _bent(measured: Measured, bent: Parted | Cylinder | str, site: Site) -> Wall:
    """A wall bent in plan: its straight lengths put together, or developed where it is a curve drawn in chords."""
    wall, rule = measured.wall, measured.rule
    if isinstance(bent, Cylinder):
        return _curved(replace(wall, cylinder=bent), rule, site)
    if isinstance(bent, str):
        length, height, area = plan_size(wall)
        return replace(_left_out(measured, bent), length=length, height=height, gross_area=area)
    done: list[Wall] = []
    for part in bent.walls:
        own = measured_wall(part, rule, site)
        if isinstance(own, str):
            return _without_layers(wall, Status.FAILED, own)
        done.append(_of_measured(own, site, sum(len(each.stud_layers) for each in done)))
    return put_together(done, bent)


def _why_not_framed(wall: ModelWall, judged: Sequence[Layer]) -> str:
    if not judged:
        named = ", ".join(dict.fromkeys(material.material for material in wall.materials if material.material))
        if named:
            return f"no stud layer: the model gives materials without layers ({named}) and no frame"
        return "no stud layer: the model gives neither layers nor a frame; if it is framed, state stud_depth in the job"
    listed = "; ".join(f"{layer.material or 'unnamed'} {layer.thickness * 1000:.0f} mm" for layer in judged)
    return f"no stud layer among its layers: {listed}"
