"""The solids of a stud layer's parts, sorted: what is a piece of the frame or an obstruction, what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import Mesh, Prism, Solid, bounds, section, silhouette, to_prism, volume
from takeoff.framing.frame_depth import are_panels
from takeoff.framing.frame_faults import member_finding
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes, shapes_of
from takeoff.framing.non_members import insulation_rows
from takeoff.model import Finding, ModelPart, Severity, StudLayer

COPLANAR = 1e-6
"""m. Vertices of one side of a member agree to this, else it is no prism."""


@dataclass(frozen=True, slots=True, eq=False)
class LayerSolids:
    """Solids that stand in a stud layer, one row each; wall axes.

    ids: `<element id>`, or `<element id>/<n>` where one element has several solids. parts: the element of each.
    """

    solids: tuple[Solid, ...]
    ids: tuple[str, ...]
    parts: tuple[ModelPart, ...]
    shapes: Shapes
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    part: ModelPart
    member_id: str
    solid: Solid


def solids_in(layer: StudLayer, settings: FrameSettings) -> LayerSolids:
    """Solids of a layer's parts without those outside it, boards outside or on its faces, insulation, twins and
    remnants; each of these is told in a finding, those that only lie in other layers in one together."""
    findings: list[Finding] = []
    candidates = [
        _Candidate(part, part.global_id if len(part.solids) == 1 else f"{part.global_id}/{number}", mesh)
        for part in layer.parts
        for number, mesh in enumerate(part.solids, start=1)
    ]
    inside = _sound(_in_layer(candidates, layer, settings, findings), settings, findings)
    shapes = shapes_of([one.solid for one in inside])
    kept = _kept(inside, shapes, layer, settings, findings)
    chosen = [one for one, keep in zip(inside, kept.tolist(), strict=True) if keep]
    return LayerSolids(
        tuple(one.solid for one in chosen),
        tuple(one.member_id for one in chosen),
        tuple(one.part for one in chosen),
        shapes.taken(kept),
        tuple(findings),
    )


def _sound(candidates: Sequence[_Candidate], settings: FrameSettings, findings: list[Finding]) -> list[_Candidate]:
    """Candidates with a volume, prisms where they are ones."""
    sound: list[_Candidate] = []
    for one in candidates:
        mesh = one.solid
        assert isinstance(mesh, Mesh)
        solid: Solid = _plain_box(mesh) or to_prism(mesh, COPLANAR) or mesh
        if _has_volume(solid, settings):
            sound.append(_Candidate(one.part, one.member_id, solid))
            continue
        findings.append(
            member_finding(
                "solid-without-volume",
                Severity.INFO,
                f"has a solid of less than {settings.least_volume * 1e6:g} cm3, which was left out; check its shape.",
                one.part,
                one.member_id,
            )
        )
    return sound


def _plain_box(mesh: Mesh) -> Prism | None:
    """A mesh that is a box along the axes as a prism, else None: most members are one, and this is the short way.

    All vertices lie in the corners of the box around it and its volume is that of the box, so it is the box.
    """
    if len(mesh.faces) != 12:
        return None
    low, high = bounds(mesh)
    aside = np.minimum(mesh.vertices - low, high - mesh.vertices)
    whole = float(np.prod(high - low))
    if aside.max() > COPLANAR or abs(volume(mesh) - whole) > 1e-9 * whole:
        return None
    return Prism(shapely.box(low[0], low[2], high[0], high[2]), float(low[1]), float(high[1]))


def _has_volume(solid: Solid, settings: FrameSettings) -> bool:
    box = bounds(solid)
    if not np.isfinite(box).all() or np.prod(box[1] - box[0]) < settings.least_volume:
        return False
    if volume(solid) >= settings.least_volume:
        return True
    # Faces that point both ways cancel in the volume; a section does not mind them.
    return section(solid, float(box[:, 1].mean())).area * float(box[1, 1] - box[0, 1]) >= settings.least_volume


def _in_layer(
    candidates: Sequence[_Candidate], layer: StudLayer, settings: FrameSettings, findings: list[Finding]
) -> list[_Candidate]:
    """Candidates that reach into the depth and the length of the stud layer."""
    if not candidates:
        return []
    boxes = np.array([bounds(one.solid) for one in candidates])
    boxes = np.where(np.isfinite(boxes), boxes, 0.0)
    reach = np.minimum(boxes[:, 1, 1], layer.depth) - np.maximum(boxes[:, 0, 1], 0.0)
    x_min, z_min, x_max, z_max = silhouette(layer.outline).bounds
    along = np.minimum(boxes[:, 1, 0], x_max) - np.maximum(boxes[:, 0, 0], x_min)
    up = np.minimum(boxes[:, 1, 2], z_max) - np.maximum(boxes[:, 0, 2], z_min)
    # Sheet steel is thinner than that limit: half of its own thickness counts then.
    least = np.minimum(settings.outside, 0.5 * (boxes[:, 1] - boxes[:, 0]))
    inside = (along > least[:, 0]) & (reach > least[:, 1]) & (up > least[:, 2])
    # A solid without a thickness is not elsewhere, it is nothing: it is told as such.
    inside |= ((boxes[:, 1] - boxes[:, 0]) <= COPLANAR).any(axis=1) & (np.minimum(along, up) >= 0.0) & (reach >= 0.0)
    left_out = int(np.count_nonzero(~inside))
    if left_out:
        message = (
            f"Modelled solids outside this stud layer (boards, cladding, battens): {left_out}. They take nothing "
            "from its cavities."
        )
        findings.append(
            Finding("parts-outside-stud-layer", Severity.INFO, message, measured=float(left_out), unit="pieces")
        )
    return [one for one, keep in zip(candidates, inside.tolist(), strict=True) if keep]


def _kept(
    candidates: Sequence[_Candidate],
    shapes: Shapes,
    layer: StudLayer,
    settings: FrameSettings,
    findings: list[Finding],
) -> NDArray[np.bool_]:
    """Which candidates stay, (n,) bool."""
    kept = np.ones(len(candidates), dtype=bool)
    if not candidates:
        return kept
    within = np.minimum(shapes.high[:, 1], layer.depth) - np.maximum(shapes.low[:, 1], 0.0)
    panels = are_panels(shapes)
    insulation = insulation_rows(shapes, [one.part for one in candidates])
    twins = _twins(shapes, settings)
    for row, one in enumerate(candidates):
        code, severity, message = "", Severity.INFO, ""
        if insulation[row]:
            code, message = "modelled-insulation-left-out", "is insulation; it takes no room from what is blown in."
        elif panels[row] and within[row] < 0.5 * shapes.depth[row]:
            code, message = "board-left-out", "is a board that only grazes the stud layer; it was left out."
        elif twins[row] >= 0:
            code, severity = "solid-given-twice", Severity.WARNING
            message = f"is the same solid as {candidates[twins[row]].member_id}; it was counted once. Delete one."
        if code:
            kept[row] = False
            findings.append(member_finding(code, severity, message, one.part, one.member_id))
    return kept
    within = np.minimum(shapes.high[:, 1], layer.depth) - np.maximum(shapes.low[:, 1], 0.0)
    panels = are_panels(shapes)
    insulation = insulation_rows(shapes, [one.part for one in candidates])
    twins = _twins(shapes, settings)
    for row, one in enumerate(candidates):
        code, severity, message = "", Severity.INFO, ""
        if insulation[row]:
            code, message = "modelled-insulation-left-out", "is insulation; it takes no room from what is blown in."
        elif panels[row] and within[row] < 0.5 * shapes.depth[row]:
            code, message = "board-left-out", "is a board that only grazes the stud layer; it was left out."
        elif twins[row] >= 0:
            code, severity = "solid-given-twice", Severity.WARNING
            message = f"is the same solid as {candidates[twins[row]].member_id}; it was counted once. Delete one."
        if code:
            kept[row] = False
            findings.append(member_finding(code, severity, message, one.part, one.member_id))
        elif panels[row]:
            message = (
                "is a board inside the stud layer; it takes its volume from the cavities. Check the layer's depth."
            )
            findings.append(member_finding("board-in-stud-layer", Severity.WARNING, message, one.part, one.member_id))
    return kept


def _twins(shapes: Shapes, settings: FrameSettings) -> NDArray[np.int64]:
    """For each solid the first earlier one that is the same, else -1. (n,) int."""
    rows = np.concatenate([shapes.low, shapes.high], axis=1)
    same = (np.abs(rows[:, None] - rows[None, :]) <= settings.twin).all(axis=2)
    same &= np.abs(shapes.volume[:, None] - shapes.volume[None, :]) <= 1e-3 * shapes.volume[None, :]
    earlier = same & np.tri(len(shapes), k=-1, dtype=bool)
    return np.where(earlier.any(axis=1), np.argmax(earlier, axis=1), -1)
