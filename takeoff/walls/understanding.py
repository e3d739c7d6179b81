"""A wall understood: is it framed, where are its stud layers, from which side is each filled, what stands in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, Solid, bounds, depth_range, moved, section, silhouette, to_prism
from takeoff.framing.frame_depth import depth_of_frame, is_panel
from takeoff.job import Job, insulate_decision, overrides_for
from takeoff.model import (
    Finding,
    Layer,
    Model,
    ModelOpening,
    ModelPart,
    ModelWall,
    Severity,
    Status,
    StudLayer,
    Wall,
)
from takeoff.wall_rules import WallRule
from takeoff.walls.curved import bendable_parts, on_stud_arc, ready_to_develop, rough_size
from takeoff.walls.layer_places import LayerBook, LayerPlaces, judged_layers, layer_set_name, placed_layers
from takeoff.walls.neighbours import Nearby
from takeoff.walls.sides import Sides, fill_side, sides_of
from takeoff.walls.stud_layers import (
    Reach,
    Slot,
    body_outline,
    final_axes,
    frame_outline_solid,
    frame_solids,
    layers_in,
    openings_in,
    parts_in,
    with_cut_openings_restored,
)
from takeoff.walls.surroundings import Surroundings
from takeoff.walls.wall_axes import raw_axes

_FRAMING_CLASSES = ("IfcMember", "IfcBeam", "IfcColumn", "IfcPlate", "IfcBuildingElementPart", "IfcElementAssembly")
_FEWEST_MEMBERS = 3
"""A frame has at least two uprights and something across them."""
_LOOKS = 9
"""Depths at which a body is looked at for any section."""
_ROUNDING = 1e-9
"""m; what tessellation and turning leave of a zero."""
_SAME_DEPTH = 0.002
"""m; studs and their layer are one depth within this: models round both to a millimetre."""
_LEAST_SHARED = 1e-6
"""m2; a part that shares less of the elevation only touches it."""


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """What all walls of a model share while they are being understood."""

    model: Model
    job: Job
    surroundings: Surroundings
    parts: Nearby[ModelPart]
    openings: Nearby[ModelOpening]
    layers: LayerBook


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A wall in raw axes: its box (2, 3) m, and what stands in it, in world axes."""

    wall: ModelWall
    rule: WallRule
    axes: LocalAxes
    box: NDArray[np.float64]
    body: tuple[Mesh, ...]
    """Raw axes."""
    parts: tuple[ModelPart, ...]
    loose: tuple[ModelPart, ...]
    area: float
    """m2, elevation at mid depth."""


def site_of(model: Model, job: Job) -> Site:
    """Look-ups over a whole model, made once."""
    # Members of other walls count too: a plate that laps over a corner, or the stud that closes a neighbour's end.
    parts = (*model.loose_parts, *(part for wall in model.walls for part in wall.parts))
    return Site(
        model, job, Surroundings(model.spaces, model.walls), Nearby(parts), Nearby(model.loose_openings), LayerBook(job)
    )


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
    measured = _measured(wall, rule, site)
    if isinstance(measured, str):
        return _without_layers(wall, Status.FAILED, measured)
    return _of_measured(measured, site)


def _of_measured(measured: Measured, site: Site) -> Wall:
    rule = measured.rule
    if rule.leave_out:
        return _left_out(measured, f"the job file leaves it out: {rule.leave_out}")
    if _encloses_nothing(measured):
        reason = "its body encloses no space (a mere surface, or not closed); export it as a solid"
        return replace(_left_out(measured, reason), status=Status.FAILED)
    return _with_stud_layers(measured, site)


def _measured(wall: ModelWall, rule: WallRule, site: Site) -> Measured | str:
    meshes = wall.body or tuple(frame_solids(wall.parts))
    if not meshes:
        return "it has neither a body nor parts with one; export the wall with its geometry"
    direction = wall.layers.direction if wall.layers is not None else None
    axes = raw_axes(meshes, wall.placement, direction)
    if axes is None:
        return "its body has no upright face, so no side of it can be told; check its geometry in the model"
    return _measured_in(axes, wall, rule, site)


def _measured_in(axes: LocalAxes, wall: ModelWall, rule: WallRule, site: Site) -> Measured:
    meshes = wall.body or tuple(frame_solids(wall.parts))
    local = tuple(moved(mesh, axes) for mesh in meshes)
    boxes = np.array([bounds(mesh) for mesh in local])
    box = np.stack([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])
    loose = tuple(part for part in site.parts.reaching_into(axes, box) if part.wall_id != wall.global_id)
    if isinstance(axes, Developed):
        loose = bendable_parts(loose, axes)
    body = local if wall.body else ()
    area = _mid_area(body or local, box)
    return Measured(wall, rule, axes, box, body, wall.parts, loose, area)


def _mid_area(solids: Sequence[Solid], box: NDArray[np.float64]) -> float:
    """Elevation of the wall's middle plane, openings ignored (the sense of GrossSideArea in the IFC quantity sets)."""
    middle = float(box[:, 1].mean())
    sections = [section(solid, middle + 1e-7) for solid in solids]
    return float(shapely.area(shapely.union_all(sections))) if sections else 0.0


def _with_stud_layers(measured: Measured, site: Site) -> Wall:
    wall, rule = measured.wall, measured.rule
    framing = _frame_candidates(measured) if rule.read_frame is not False else []
    has_frame = len(framing) >= _FEWEST_MEMBERS
    judged = judged_layers(wall, rule, site.layers, has_frame=has_frame)
    extent = (float(measured.box[0, 1]), float(measured.box[1, 1])) if measured.body else None
    places = placed_layers(wall, judged, measured.axes, extent)
    slots, notes = _slots(measured, places, framing if has_frame else [])
    if not slots:
        return _left_out(measured, _why_not_framed(wall, judged), places.findings)
    sides = sides_of(wall, measured.axes, measured.box, rule, site.surroundings)
    layers: list[StudLayer] = []
    findings = [*places.findings, *notes]
    areas: list[float] = []
    for slot in slots:
        made, said, area = _stud_layer(measured, slot, places, sides, len(layers))
        findings += said
        if made is not None:
            layers.append(made)
            areas.append(area)
    if not layers:
        return _left_out(measured, "its body does not reach into the stud layer", tuple(findings))
    insulated, why = insulate_decision(site.job, rule, sides.external, wall.acoustic_rating)
    return replace(
        _plain(measured),
        external=sides.external,
        external_reason=sides.external_reason,
        insulated=insulated,
        insulated_reason=why,
        gross_area=max(areas),
        stud_layers=tuple(layers),
        findings=tuple(findings),
    )


def _encloses_nothing(measured: Measured) -> bool:
    """Whether a wall's body has no section anywhere in its depth."""
    if not measured.body or measured.area > 0.0:
        return False
    near, far = measured.box[:, 1].tolist()
    depths = np.linspace(near, far, _LOOKS + 2)[1:-1].tolist()
    return all(section(mesh, depth).is_empty for mesh in measured.body for depth in depths)


def _frame_candidates(measured: Measured) -> list[Mesh]:
    """Solids in raw axes that may be members of a frame: aggregated ones, and loose framing classes inside the wall."""
    loose = [part for part in measured.loose if _may_frame(part)]
    inside = [
        mesh
        for part in loose
        for mesh in (moved(solid, measured.axes) for solid in part.solids)
        if _mostly_within(depth_range(mesh), measured.box[:, 1])
    ]
    own = [moved(solid, measured.axes) for solid in frame_solids(measured.parts)]
    return [mesh for mesh in (*own, *inside) if not is_panel(to_prism(mesh) or mesh)]


def _may_frame(part: ModelPart) -> bool:
    """Whether a loose element may belong to this wall's frame: a framing class of the model that no wall has."""
    return part.ifc_class in _FRAMING_CLASSES and not part.source and not part.wall_id


def _mostly_within(ranged: tuple[float, float], span: NDArray[np.float64]) -> bool:
    shared = min(ranged[1], float(span[1])) - max(ranged[0], float(span[0]))
    return shared >= 0.9 * (ranged[1] - ranged[0]) > 0.0


def _slots(measured: Measured, places: LayerPlaces, framing: list[Mesh]) -> tuple[list[Slot], list[Finding]]:
    """Depth ranges of the stud layers, in raw axes: by the job file, the layers, and the members that stand there."""
    rule = measured.rule
    numbers = places.stud_numbers
    if rule.stud_depth is not None and not numbers:
        return [_stated_slot(measured, rule)], []
    if not framing:
        return [Slot(places.layers[n].y_min, places.layers[n].y_max, n) for n in numbers], []
    if not numbers:
        # Nothing says which layer the studs are in: the members do, and any layers lie before or behind them.
        low, high = depth_of_frame(framing)
        return [Slot(low, high, _layer_at(places, (low + high) / 2.0))], []
    slots, findings = [], []
    for number in numbers:
        layer = places.layers[number]
        here = [mesh for mesh in framing if _centre_in(mesh, layer)]
        if len(here) < _FEWEST_MEMBERS:
            slots.append(Slot(layer.y_min, layer.y_max, number))
            continue
        low, high = depth_of_frame(here)
        if abs(high - low - layer.thickness) > _SAME_DEPTH:
            findings.append(_studs_not_as_layer(measured.wall, high - low, layer.thickness))
        slots.append(Slot(low, high, number))
    return slots, findings


def _stated_slot(measured: Measured, rule: WallRule) -> Slot:
    """A stud layer that only the job file knows, measured from the low face until the fill side is settled."""
    depth = min(rule.stud_depth or 0.0, float(measured.box[1, 1] - measured.box[0, 1]))
    low = float(measured.box[0, 1]) + (rule.stud_offset or 0.0)
    return Slot(low, low + depth, None)


def _layer_at(places: LayerPlaces, y: float) -> int | None:
    return next((n for n, layer in enumerate(places.layers) if layer.y_min <= y <= layer.y_max), None)


def _centre_in(mesh: Mesh, layer: Layer) -> bool:
    low, high = depth_range(mesh)
    return layer.y_min - 0.001 <= (low + high) / 2.0 <= layer.y_max + 0.001


def _stud_layer(
    measured: Measured, slot: Slot, places: LayerPlaces, sides: Sides, made: int
) -> tuple[StudLayer | None, list[Finding], float]:
    """A stud layer, what was found about it, and the wall's elevation without its openings, m2."""
    wall, rule = measured.wall, measured.rule
    chosen = fill_side(wall, places.layers, slot.number, sides, rule)
    slot = _offset_from(slot, chosen.side, measured)
    depth = slot.high - slot.low
    meshes = measured.body or tuple(moved(mesh, measured.axes) for mesh in frame_solids(wall.parts))
    axes = final_axes(measured.axes, slot, chosen.side, meshes)
    raw_low, raw_high = float(measured.box[0, 1]), float(measured.box[1, 1])
    body = (
        (raw_low - slot.low, raw_high - slot.low) if chosen.side == 0 else (slot.high - raw_high, slot.high - raw_low)
    )
    box = _local_box(measured, axes, depth)
    own = parts_in((*measured.parts, *(part for part in measured.loose if _may_frame(part))), axes, box)
    outline = body_outline(wall.body, axes, depth) if wall.body else frame_outline_solid(own, depth)
    if outline is None:
        return None, [*chosen.findings], 0.0
    axes, own, outline = _zeroed(axes, own, outline)
    elevation = silhouette(outline)
    parts = parts_in((*measured.parts, *measured.loose), axes, _box_of(outline, depth))
    parts = _in_elevation(parts, elevation, wall.global_id)
    openings, notes = openings_in(wall, axes, Reach(depth, *body, elevation.bounds), own)
    outline, restored = with_cut_openings_restored(outline, openings, depth)
    layer = StudLayer(
        key=wall.global_id if made == 0 else f"{wall.global_id}#{made + 1}",
        wall_id=wall.global_id,
        axes=axes,
        depth=depth,
        outline=outline,
        openings=openings,
        parts=parts,
        layers=layers_in(places.layers, slot, chosen.side),
        fill_side=chosen.reason,
        rooms=tuple(room.label for room in sides.rooms[chosen.side]),
    )
    return layer, [*chosen.findings, *notes], (measured.area if wall.body else elevation.area) + restored


def _in_elevation(
    parts: tuple[ModelPart, ...], elevation: Polygon | MultiPolygon, wall_id: str
) -> tuple[ModelPart, ...]:
    """Parts without those of other walls that only stand beside the elevation, in a notch or over a rake."""
    return tuple(
        part
        for part in parts
        if part.wall_id in ("", wall_id)
        or any(silhouette(solid).intersection(elevation).area > _LEAST_SHARED for solid in part.solids)
    )


def _offset_from(slot: Slot, side: int, measured: Measured) -> Slot:
    """A slot that the job file states is measured from the fill side."""
    if slot.number is not None or measured.rule.stud_depth is None or side == 0:
        return slot
    high = float(measured.box[1, 1]) - (measured.rule.stud_offset or 0.0)
    return Slot(high - (slot.high - slot.low), high, None)


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
    measured = _measured_in(ready.axes, ready.wall, rule, site)
    return on_stud_arc(_of_measured(measured, site), ready.axes, sense_known=ready.sense_known)


def _why_not_framed(wall: ModelWall, judged: Sequence[Layer]) -> str:
    if not judged:
        named = ", ".join(dict.fromkeys(material.material for material in wall.materials if material.material))
        if named:
            return f"no stud layer: the model gives materials without layers ({named}) and no frame"
        return "no stud layer: the model gives neither layers nor a frame; if it is framed, state stud_depth in the job"
    listed = "; ".join(f"{layer.material or 'unnamed'} {layer.thickness * 1000:.0f} mm" for layer in judged)
    return f"no stud layer among its layers: {listed}"


def _studs_not_as_layer(wall: ModelWall, studs: float, layer: float) -> Finding:
    return Finding(
        "studs-not-as-deep-as-layer", Severity.INFO,
        f"The members in the model are {studs * 1000:.1f} mm deep, their layer is {layer * 1000:.1f} mm; the members "
        "were followed.",
        wall.global_id, wall.global_id, wall.ifc_class, wall.name, studs, layer, "m",
    )  # fmt: skip
