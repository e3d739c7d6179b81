"""The solids of a stud layer's parts, sorted: what is a piece of the frame or an obstruction, what is left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.solids import Mesh, Prism, Solid, bounds, boxes_of, section, silhouette, to_prism, volume
from geometry.truing import trued
from takeoff.building import ModelPart
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_depth import are_panels
from takeoff.framing.frame_faults import member_finding
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes, shapes_of
from takeoff.framing.non_members import insulation_rows
from takeoff.framing.web_holes import Closed, hole_findings, with_holes_closed
from takeoff.model import StudLayer

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
    """A solid before it is sorted. box: (2, 3) float64, m, rows lowest and highest."""

    part: ModelPart
    member_id: str
    solid: Solid
    box: NDArray[np.float64]


def solids_in(layer: StudLayer, settings: FrameSettings) -> LayerSolids:
    """Solids of a layer's parts without those outside it, boards outside or on its faces, insulation, twins and
    remnants; each of these is told in a finding, those that only lie in other layers in one together."""
    findings: list[Finding] = []
    boxes = iter(boxes_of([mesh for part in layer.parts for mesh in part.solids]))
    candidates = [
        _Candidate(part, part.global_id if len(part.solids) == 1 else f"{part.global_id}/{n}", mesh, next(boxes))
        for part in layer.parts
        for n, mesh in enumerate(part.solids, start=1)
    ]
    near = _in_layer(candidates, layer, settings, findings)
    straight = trued([one.solid for one in near if isinstance(one.solid, Mesh)], (0.0, layer.depth))
    near = [
        one if mesh is one.solid else replace(one, solid=mesh, box=bounds(mesh))
        for one, mesh in zip(near, straight, strict=True)
    ]
    inside = _sound(near, settings, findings)
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


def _in_layer(
    candidates: Sequence[_Candidate], layer: StudLayer, settings: FrameSettings, findings: list[Finding]
) -> list[_Candidate]:
    """Candidates that reach into the depth and the elevation of the stud layer."""
    if not candidates:
        return []
    boxes = np.nan_to_num(np.array([one.box for one in candidates]))
    x_min, z_min, x_max, z_max = silhouette(layer.outline).bounds
    low, high = np.array([x_min, 0.0, z_min]), np.array([x_max, layer.depth, z_max])
    reach = np.minimum(boxes[:, 1], high) - np.maximum(boxes[:, 0], low)
    size = boxes[:, 1] - boxes[:, 0]
    # Sheet steel is thinner than that limit: half of its own thickness counts then.
    inside = (reach > np.minimum(settings.outside, 0.5 * size)).all(axis=1)
    # A solid without a thickness is not elsewhere, it is nothing: it is told as such.
    inside |= (size <= COPLANAR).any(axis=1) & (reach >= 0.0).all(axis=1)
    left_out = int(np.count_nonzero(~inside))
    if left_out:
        message = (
            f"Modelled solids outside this stud layer (boards, cladding, battens): {left_out}. They take nothing "
            "from its cavities."
        )
        findings.append(
            Finding("parts-outside-stud-layer", Severity.INFO, message, measured=float(left_out), unit="pieces")
        )
    return [candidates[row] for row in np.flatnonzero(inside).tolist()]


def _sound(candidates: Sequence[_Candidate], settings: FrameSettings, findings: list[Finding]) -> list[_Candidate]:
    """Candidates with a volume, prisms where they are ones."""
    sound: list[_Candidate] = []
    holed: list[tuple[ModelPart, str, Closed]] = []
    plain = _plain_boxes(candidates)
    for one, box in zip(candidates, plain, strict=True):
        solid = one.solid if box is None else box
        if isinstance(solid, Mesh):
            solid = to_prism(solid, COPLANAR) or solid
        if isinstance(solid, Mesh):
            closed = with_holes_closed(solid, one.part)
            holed.append((one.part, one.member_id, closed))
            solid = solid if closed.mesh is solid else to_prism(closed.mesh, COPLANAR) or closed.mesh
        if _has_volume(solid, one.box, settings):
            sound.append(replace(one, solid=solid))
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
    findings += hole_findings(holed)
    return sound


def _plain_boxes(candidates: Sequence[_Candidate]) -> list[Prism | None]:
    """Candidates that are boxes along the axes as prisms, None for the others: most members are, and need no section.

    All vertices lie in the corners of the box around them and the volume is that of the box, so it is the box.
    """
    result: list[Prism | None] = [None] * len(candidates)
    rows = [n for n, one in enumerate(candidates) if isinstance(one.solid, Mesh) and len(one.solid.faces) == 12]
    if not rows:
        return result
    meshes = [candidates[row].solid for row in rows]
    corners = np.stack([mesh.vertices[mesh.faces] for mesh in meshes if isinstance(mesh, Mesh)])  # (n, 12, 3, 3)
    low, high = np.stack([candidates[row].box for row in rows], axis=1)
    aside = np.minimum(corners - low[:, None, None], high[:, None, None] - corners).max(axis=(1, 2, 3))
    spans = corners - corners.mean(axis=(1, 2), keepdims=True)
    volumes = np.abs(np.linalg.det(spans).sum(axis=1)) / 6.0
    whole = np.prod(high - low, axis=1)
    plain = (aside <= COPLANAR) & (np.abs(volumes - whole) <= 1e-9 * whole) & (whole > 0.0)
    outlines = shapely.box(low[:, 0], low[:, 2], high[:, 0], high[:, 2])
    depths = np.stack([low[:, 1], high[:, 1]], axis=1).tolist()
    for n in np.flatnonzero(plain).tolist():
        result[rows[n]] = Prism(outlines[n], *depths[n])
    return result


def _has_volume(solid: Solid, box: NDArray[np.float64], settings: FrameSettings) -> bool:
    if not np.isfinite(box).all() or np.prod(box[1] - box[0]) < settings.least_volume:
        return False
    if volume(solid) >= settings.least_volume:
        return True
    # Faces that point both ways cancel in the volume; a section does not mind them.
    return section(solid, float(box[:, 1].mean())).area * float(box[1, 1] - box[0, 1]) >= settings.least_volume


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
    twins = _twins(candidates, shapes, settings)
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


def _middle(solid: Solid) -> tuple[float, float, float]:
    """Mean of a mesh's corners or middle of a prism, m: the same for the same solid given twice in one form."""
    if isinstance(solid, Mesh):
        x, y, z = solid.vertices[np.unique(solid.faces)].mean(axis=0).tolist()
        return x, y, z
    centre = solid.outline.centroid
    return centre.x, (solid.y_min + solid.y_max) / 2.0, centre.y


def _twins(candidates: Sequence[_Candidate], shapes: Shapes, settings: FrameSettings) -> NDArray[np.int64]:
    """For each solid the first earlier one that is the same, else -1. (n,) int.

    Told by box, volume and middle: two halves of a post that is cut along its diagonal have box and volume in common.
    """
    rows = np.concatenate([shapes.low, shapes.high, [_middle(one.solid) for one in candidates]], axis=1)
    same = (np.abs(rows[:, None] - rows[None, :]) <= settings.twin).all(axis=2)
    same &= np.abs(shapes.volume[:, None] - shapes.volume[None, :]) <= 1e-3 * shapes.volume[None, :]
    earlier = same & np.tri(len(shapes), k=-1, dtype=bool)
    return np.where(earlier.any(axis=1), np.argmax(earlier, axis=1), -1)
