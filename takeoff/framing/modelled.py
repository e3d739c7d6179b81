"""The frame of a stud layer as the model has it: its members with their roles, its openings, its flaws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, silhouette
from takeoff.finding import Finding, Severity
from takeoff.framing.beyond_frame import beyond_findings, regions_beyond
from takeoff.framing.bundles import Bundles, bundles_of
from takeoff.framing.frame_faults import (
    crossing_findings,
    depth_findings,
    incomplete_finding,
    member_finding,
    shared_part_findings,
)
from takeoff.framing.frame_outline import outline_around
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings
from takeoff.framing.gaps import Gaps, gap_openings
from takeoff.framing.layer_solids import LayerSolids, solids_in
from takeoff.framing.member_shapes import Shapes, Stance, section_text
from takeoff.framing.non_members import BOX, THROUGH, board_rows, face_pieces, obstruction_reasons
from takeoff.framing.roles import BOARD, Place, Role, assign_roles
from takeoff.model import Frame, Member, MemberRole, Opening, Source, StudLayer
from takeoff.plurals import plural

WIDEST_SPACING = 1.25
"""m. Uprights further apart than this on average are posts in a wall, not its frame."""
LEAST_STUD = 0.3
"""m. Shorter uprights are blocks or cripples and make no frame by themselves; in a low wall half its height will do."""
BROAD_STRIP = 0.12
"""m. What lies on a face across studs and is broader than this in elevation parts bays all the same: a beam."""


@dataclass(frozen=True, slots=True, eq=False)
class Obstructions:
    """Modelled parts of a stud layer whose frame is laid out by rule: each takes its own volume, none is a member."""

    members: tuple[Member, ...]
    findings: tuple[Finding, ...]


def read_frame(
    layer: StudLayer,
    loose_openings: tuple[Opening, ...] = (),
    settings: FrameSettings = DEFAULT_FRAME_SETTINGS,
) -> Frame | None:
    """Frame of a stud layer from its modelled parts, or None where they are no frame (then lay one out by rule).

    layer: its parts must be in wall axes. loose_openings: doors and windows that stand in this wall without an opening
    element, in wall axes. Boards, insulation and parts outside the stud layer are left out and said so; every other
    solid is a member.
    """
    if not layer.parts:
        return None
    pieces = solids_in(layer, settings)
    bundles = bundles_of(pieces, settings)
    reasons = obstruction_reasons(bundles.shapes, bundles.parts, layer.depth, settings)
    structural = _structural(bundles, reasons, layer.depth, settings)
    members = bundles.shapes.taken(structural)
    if _refusal(members, layer, settings):
        return None
    wall = silhouette(layer.outline)
    united = shapely.union_all(bundles.shapes.silhouettes[structural | _lapping(bundles, reasons, layer.wall_id)])
    outline = _shared_outline(united, wall, settings)
    gaps = _named(gap_openings(outline, members, layer.openings, loose_openings, settings, united=united), layer.key)
    openings = (*layer.openings, *gaps.openings)
    beyond = tuple(
        replace(one, opening_id=f"{layer.key}/{one.opening_id}")
        for one in regions_beyond(outline, wall, united, openings)
    )
    place = Place(outline, openings, layer.depth)
    roles = assign_roles(bundles.shapes, bundles.parts, place, settings, reasons=reasons)
    findings = (
        *pieces.findings,
        *gaps.findings,
        *crossing_findings(members, [bundles.ids[row] for row in np.flatnonzero(structural)], openings, settings),
        *incomplete_finding(outline, wall, settings),
        *beyond_findings(beyond, layer.depth),
        *depth_findings(pieces.shapes, pieces.parts, pieces.ids, layer, settings),
        *shared_part_findings(pieces.parts, layer.wall_id),
        *_odd_members(bundles, roles),
    )
    elements = len({part.global_id for part in pieces.parts})
    return Frame(
        layer,
        _members(pieces, bundles, roles),
        Source.MODELLED,
        f"modelled: {len(pieces.ids)} members of {elements} element{'' if elements == 1 else 's'}",
        (*openings, *beyond),
        tuple(replace(finding, wall_id=layer.wall_id) for finding in findings),
    )


def obstructions_of(
    layer: StudLayer, settings: FrameSettings = DEFAULT_FRAME_SETTINGS, *, frame_unwanted: bool = False
) -> Obstructions:
    """The modelled parts of a stud layer as obstructions, for a frame that is laid out by rule.

    frame_unwanted: what could be framing of this wall is left out, since the job file says that the model's frame is
    not to be used; else the finding 'parts-are-no-frame' says why the parts were not taken for the frame.
    """
    if not layer.parts:
        return Obstructions((), ())
    pieces = solids_in(layer, settings)
    bundles = bundles_of(pieces, settings)
    shapes = bundles.shapes
    reasons = obstruction_reasons(shapes, bundles.parts, layer.depth, settings)
    roles = [
        (MemberRole.OBSTRUCTION, reason or "a modelled part in a wall whose frame is laid out by rule")
        for reason in reasons
    ]
    members = _members(pieces, bundles, roles)
    findings = list(pieces.findings) + shared_part_findings(pieces.parts, layer.wall_id)
    if frame_unwanted:
        members, unused = _without_framing(members, bundles, reasons, layer.wall_id)
        findings += unused
    elif any(not reason for reason in reasons):
        why = _refusal(shapes.taken(_structural(bundles, reasons, layer.depth, settings)), layer, settings)
        if why:
            findings.append(
                Finding("parts-are-no-frame", Severity.INFO, f"What is modelled in the wall is no frame: {why}.")
            )
    return Obstructions(members, tuple(replace(finding, wall_id=layer.wall_id) for finding in findings))


def why_no_frame(layer: StudLayer, settings: FrameSettings = DEFAULT_FRAME_SETTINGS) -> str:
    """Why the modelled parts of a stud layer are not its frame, as `read_frame` judges; '' where they are one."""
    pieces = solids_in(layer, settings)
    bundles = bundles_of(pieces, settings)
    reasons = obstruction_reasons(bundles.shapes, bundles.parts, layer.depth, settings)
    return _refusal(bundles.shapes.taken(_structural(bundles, reasons, layer.depth, settings)), layer, settings)


def _without_framing(
    members: tuple[Member, ...], bundles: Bundles, reasons: Sequence[str], wall_id: str
) -> tuple[tuple[Member, ...], list[Finding]]:
    """Members without those that may be framing of this wall, and a finding with their number."""
    unused: set[int] = set()
    for rows, part, reason in zip(bundles.rows, bundles.parts, reasons, strict=True):
        if not reason and part.wall_id in ("", wall_id):
            unused.update(rows.tolist())
    if not unused:
        return members, []
    message = f"{len(unused)} modelled members were left out, since the job file has the frame laid out by rule."
    told = Finding("modelled-frame-left-out", Severity.INFO, message, measured=float(len(unused)), unit="pieces")
    return tuple(member for row, member in enumerate(members) if row not in unused), [told]


def _structural(bundles: Bundles, reasons: Sequence[str], depth: float, settings: FrameSettings) -> NDArray[np.bool_]:
    """Members that part the wall into bays: no obstructions, no strips on a face, no braces, (n,) bool.

    reasons: why each is an obstruction, '' where it may be framing.
    """
    shapes = bundles.shapes
    clear = np.array([not reason for reason in reasons], dtype=bool)
    rows = np.flatnonzero(clear)
    for row, role in zip(rows.tolist(), face_pieces(shapes.taken(rows), depth, settings), strict=True):
        strip = role is not None and role[0] in {MemberRole.FURRING, MemberRole.BRACE}
        if strip and (shapes.across[row] <= BROAD_STRIP or shapes.stance[row] != Stance.LEVEL):
            clear[row] = False
    clear[rows] &= ~board_rows(shapes.taken(rows))
    return clear


def _lapping(bundles: Bundles, reasons: Sequence[str], wall_id: str) -> NDArray[np.bool_]:
    """Members of another wall that run on past this one, such as a plate that laps over a corner: they close it there
    as members of its own would, (n,) bool."""
    return np.array(
        [
            reason == THROUGH and part.wall_id not in ("", wall_id)
            for part, reason in zip(bundles.parts, reasons, strict=True)
        ],
        dtype=bool,
    )


def _refusal(framing: Shapes, layer: StudLayer, settings: FrameSettings) -> str:
    """Why these pieces are not the frame of the wall, '' where they are."""
    if len(framing) == 0:
        return "it has no piece of framing shape"
    x_min, z_min, x_max, z_max = silhouette(layer.outline).bounds
    covered = min(x_max, framing.high[:, 0].max()) - max(x_min, framing.low[:, 0].min())
    if covered < settings.least_share * (x_max - x_min):
        return f"it reaches over {covered:.2f} m of a wall {x_max - x_min:.2f} m long"
    height = framing.high[:, 2] - framing.low[:, 2]
    width = framing.high[:, 0] - framing.low[:, 0]
    openwork = (framing.filled < 0.7) & (height > 1.0) & (width > 0.5 * (x_max - x_min))
    if openwork.any():
        return ""
    upright = (framing.stance == Stance.UPRIGHT) & (framing.along >= min(LEAST_STUD, 0.5 * (z_max - z_min)))
    count = int(upright.sum())
    if count < 2 or len(framing) < 3:
        return f"it has {plural(count, 'upright')} among {plural(len(framing), 'piece')}, and needs two among three"
    open_width = sum(o.outline.bounds[2] - o.outline.bounds[0] for o in layer.openings if not o.outline.is_empty)
    spacing = (covered - min(open_width, 0.8 * covered)) / (count - 1)
    if spacing > WIDEST_SPACING:
        return f"its {count} uprights stand {spacing:.2f} m apart on average, studs at most {WIDEST_SPACING} m"
    return ""


def _shared_outline(
    united: shapely.Geometry, wall: Polygon | MultiPolygon, settings: FrameSettings
) -> Polygon | MultiPolygon:
    """Outline of the frame as far as it lies in the wall. united: the members' silhouettes in one."""
    frame = outline_around(united, settings)
    inside = areal(shapely.intersection(frame, wall))
    return frame if inside.is_empty else inside


def _named(gaps: Gaps, key: str) -> Gaps:
    """Gaps with the key of their stud layer in the ids that are our own."""
    openings = tuple(
        replace(one, opening_id=f"{key}/{one.opening_id}") if one.opening_id.startswith("gap") else one
        for one in gaps.openings
    )
    findings = tuple(
        replace(one, element_id=f"{key}/{one.element_id}") if one.element_id.startswith("gap") else one
        for one in gaps.findings
    )
    return Gaps(openings, findings)


def _members(pieces: LayerSolids, bundles: Bundles, roles: Sequence[Role]) -> tuple[Member, ...]:
    """A member for every solid, in the order of the solids; those of one bundle share role and section."""
    made: dict[int, Member] = {}
    for number, rows in enumerate(bundles.rows):
        role, reason = roles[number]
        section = section_text(bundles.shapes, number)
        for row in rows.tolist():
            part = pieces.parts[row]
            made[row] = Member(
                pieces.ids[row],
                role,
                reason,
                Source.MODELLED,
                pieces.solids[row],
                part.global_id,
                part.ifc_class,
                part.name,
                section,
            )
    return tuple(made[row] for row in range(len(pieces.ids)))


def _odd_members(bundles: Bundles, roles: Sequence[Role]) -> list[Finding]:
    """A finding for each solid that fills a bay as insulation or a board would, but is not called so."""
    findings: list[Finding] = []
    for row, (role, reason) in enumerate(roles):
        if role is MemberRole.OBSTRUCTION and reason.endswith(BOX):
            code, advice = "box-in-frame", "If it is insulation or a lining, say so by its material or leave it out"
        elif reason == BOARD:
            code, advice = "board-in-stud-layer", "Check the depth of the stud layer"
        else:
            continue
        message = f"takes its volume from the cavities: {reason}. {advice}."
        findings.append(member_finding(code, Severity.WARNING, message, bundles.parts[row], bundles.ids[row]))
    return findings
