"""Lay out a frame by rule: from the outline and the openings of a stud layer to its members.

The outline is the elevation silhouette of the stud layer's body. Where that body tapers across the depth (a mitred end,
a hip roof), members follow the silhouette and reach past the body there; whoever measures volumes cuts them to it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, polygons_of, silhouette
from takeoff.finding import Finding, Severity
from takeoff.framing.backing import channel_studs, corner_studs, ladder_blocks
from takeoff.framing.blocking import blocking_rows, fire_stop_lines, fire_stops, rows_wanted
from takeoff.framing.junctions import Junction
from takeoff.framing.openings_framing import OpeningFraming, frame_openings
from takeoff.framing.pieces import (
    LEAST_AREA,
    TOUCH,
    Form,
    Outline,
    Piece,
    Place,
    boxes_of_outlines,
    meets,
    polygons_of_outlines,
)
from takeoff.framing.plates import Edges, Plates, edges_of, plates_along
from takeoff.framing.room import Room, apart, as_one, room_of, rounded, union_of, without
from takeoff.framing.rough_openings import RoughOpening, findings_of_outline, rough_openings
from takeoff.framing.rules import FramingRules
from takeoff.framing.sections import Depths, depths_of, section_text, sizes_of, solids_of
from takeoff.framing.studs import (
    end_studs,
    layout_lines,
    layout_studs,
    named_uprights,
    sill_cripples,
)
from takeoff.model import Frame, Member, MemberRole, Opening, Source, StudLayer

_SIMPLE = 1e-6
"""m; points that bend an outline less than this are rounding of the model file."""


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """One connected piece of a wall's elevation while it is framed."""

    outline: Polygon
    edges: Edges
    plates: Plates
    roughs: tuple[RoughOpening, ...]
    openings: OpeningFraming
    lines: NDArray[np.float64]
    rules: FramingRules
    junctions: tuple[Junction, ...]
    depths: Depths


def lay_out(layer: StudLayer, rules: FramingRules, junctions: tuple[Junction, ...] = ()) -> Frame:
    """Frame one stud layer by a rule set; junctions are the places where other walls meet it.

    Members come left to right, then bottom to top. Nothing is raised for an odd wall: what fits is framed and the rest
    is a finding. The layer's own openings come back first, followed by holes that its outline had by itself.
    """
    outline = areal(shapely.simplify(rounded(silhouette(layer.outline)), tolerance=_SIMPLE))
    parts = [part for part in polygons_of(_valid(outline)) if part.area > LEAST_AREA]
    known = tuple(_sound(opening) for opening in layer.openings)
    holes = _holes_of(parts, known, layer.key)
    parts = [Polygon(part.exterior) for part in parts]
    depths, findings = depths_of(layer.depth, rules)
    findings += findings_of_outline(as_one(parts), known) if parts else [_nothing_to_frame()]
    findings += [_hole_finding(hole) for hole in holes]
    datum = _datum(parts, rules, junctions)
    pieces: list[Piece] = []
    for outer in parts:
        made, notes = _frame_part(outer, (*known, *holes), rules, datum, junctions, depths)
        pieces.extend(made)
        findings.extend(notes)
    return Frame(
        layer=layer,
        members=_members(pieces, layer.key, depths, rules),
        source=Source.LAID_OUT,
        rule=rules.name,
        openings=(*layer.openings, *holes),
        findings=tuple(replace(finding, wall_id=layer.wall_id) for finding in findings),
    )


def _valid(outline: Polygon | MultiPolygon) -> Any:
    return outline if outline.is_valid else shapely.make_valid(outline)


def _sound(opening: Opening) -> Opening:
    """The opening with an outline that can be cut with, should the model's cross itself."""
    return opening if opening.outline.is_valid else replace(opening, outline=areal(_valid(opening.outline)))


def _holes_of(parts: Sequence[Polygon], openings: Sequence[Opening], key: str) -> tuple[Opening, ...]:
    """Holes of the outline itself that no opening of the layer accounts for."""
    if not any(part.interiors for part in parts):
        return ()
    known = shapely.union_all([opening.outline for opening in openings if opening.solid is None])
    holes: list[Opening] = []
    for part in parts:
        for ring in part.interiors:
            rest = Polygon(ring) if known.is_empty else shapely.difference(Polygon(ring), known)
            for hole in (part for part in polygons_of(rest) if part.area > LEAST_AREA):
                name = f"{key}/hole{len(holes) + 1}"
                holes.append(Opening(name, hole, "", "", "hole through the body of the stud layer"))
    return tuple(holes)


def _hole_finding(hole: Opening) -> Finding:
    return Finding(
        "hole-in-outline",
        Severity.INFO,
        "The wall's body has a hole that the model does not call an opening; it is framed as one.",
        element_id=hole.opening_id,
        measured=float(hole.outline.area),
        unit="m2",
    )


def _nothing_to_frame() -> Finding:
    return Finding(
        "nothing-to-frame",
        Severity.ERROR,
        "The stud layer has no elevation to frame; check the wall's body in the model.",
    )


def _datum(parts: Sequence[Polygon], rules: FramingRules, junctions: Sequence[Junction]) -> float:
    """Where the layout is measured from, m: the wall's start, or the outside of the corner at its start."""
    start = min((part.bounds[0] for part in parts), default=0.0)
    if rules.spacing_datum == "building_corner":
        corners = [junction.x_min for junction in junctions if junction.at == "start" and junction.kind == "corner"]
        return min([start, *corners])
    return start


def _frame_part(
    outer: Polygon,
    openings: Sequence[Opening],
    rules: FramingRules,
    datum: float,
    junctions: tuple[Junction, ...],
    depths: Depths,
) -> tuple[list[Piece], list[Finding]]:
    """All pieces of one connected elevation."""
    edges = edges_of(outer)
    plates = plates_along(outer, edges, rules)
    roughs, slivers, findings = rough_openings(outer, openings, rules.least_framed_hole)
    framing = frame_openings(outer, plates.core, roughs, slivers, rules)
    findings += [*framing.findings, *_size_findings(outer, plates, rules)]
    lines = layout_lines(outer.bounds[0], outer.bounds[2], datum, rules.spacing)
    part = _Part(outer, edges, plates, tuple(roughs), framing, lines, rules, junctions, depths)
    placed, cuts = _plate_pieces(part)
    findings += cuts
    pieces = [*placed, *framing.pieces, *_uprights(part)]
    return pieces, findings


def _plate_pieces(part: _Part) -> tuple[list[Piece], list[Finding]]:
    """Plates broken at doors, and a finding for each opening that cuts a top plate."""
    cuts = [*part.openings.holes, *part.openings.breaks]
    pieces: list[Piece] = []
    cut_top = 0.0
    for bands, role in ((part.plates.bottom, MemberRole.BOTTOM_PLATE), (part.plates.top, MemberRole.TOP_PLATE)):
        for number, row in enumerate(bands):
            reason = _PLATE_REASON[role][min(number, 1)]
            for band in row:
                rests = without(band, [cut for cut in cuts if meets(cut, band)])
                pieces.extend(Piece(rest, role, reason, Form.TRACK) for rest in rests)
                if role == MemberRole.TOP_PLATE:
                    cut_top += band.area - sum(rest.area for rest in rests)
    if cut_top <= LEAST_AREA:
        return pieces, []
    finding = Finding(
        "opening-cuts-top-plate",
        Severity.WARNING,
        "An opening reaches into the top plate, which is cut away there; check the opening's height.",
        measured=cut_top,
        unit="m2",
    )
    return pieces, [finding]


_PLATE_REASON = {
    MemberRole.BOTTOM_PLATE: ("plate along the lower edge", "further plate along the lower edge"),
    MemberRole.TOP_PLATE: ("plate along the upper edge", "further plate along the upper edge"),
}


def _uprights(part: _Part) -> list[Piece]:
    """End studs, corner and channel studs, layout studs, cripples, blocking and stops of one elevation."""
    rules, framing = part.rules, part.openings
    sills = [piece for piece in framing.pieces if piece.role == MemberRole.SILL]
    free = framing.free
    placed = apart([*end_studs(part.edges, free, rules), *sill_cripples(sills, free, rules)], free.grid)
    free = free.less(placed)
    pockets: list[Outline] = []
    if part.junctions:
        corners = corner_studs(part.junctions, free, rules)
        pockets = corners.pockets
        free = free.less(corners.pieces)
        channels = channel_studs(part.junctions, free, rules)
        placed += [*corners.pieces, *channels]
        free = free.less(channels)
    studs = _layout(part, free.less_outlines(pockets))
    placed += studs
    ladder = bool(part.junctions) and rules.backing == "ladder"
    if ladder or rows_wanted(part.plates.core, part.outline.bounds[1], rules):
        bays = free.less(studs)
        ladders = ladder_blocks(part.junctions, bays, rules)
        rows = blocking_rows(part.plates.core, bays.less(ladders), part.outline.bounds[1], rules)
        placed += [*ladders, *rows]
    if part.depths.two_rows and not rules.rows_share_plates:
        stops = fire_stop_lines(part.lines, part.outline.bounds[0], part.outline.bounds[2], rules)
        gap = room_of(part.outline).less_outlines(framing.holes)
        placed += fire_stops(stops, gap, part.outline.bounds[1], rules)
    return placed


def _layout(part: _Part, free: Room) -> list[Piece]:
    """Studs on the layout, in one row or in two."""
    rules, reaches = part.rules, part.openings.reaches
    if not part.depths.two_rows or (not rules.rows_share_plates and rules.row_offset == 0.0):
        return named_uprights(layout_studs(part.lines, free, rules), part.roughs, reaches, rules)
    stops = fire_stop_lines(part.lines, part.outline.bounds[0], part.outline.bounds[2], rules)
    pieces: list[Piece] = []
    for place, lines in ((Place.FIRST_ROW, part.lines), (Place.SECOND_ROW, part.lines - rules.row_offset)):
        row = named_uprights(layout_studs(lines, free, rules), part.roughs, reaches, rules)
        pieces += [replace(piece, place=place) for piece in row]
    if rules.rows_share_plates:
        # A stud through the whole depth stops the shared space, and stands in the way of the other row's stud.
        full = named_uprights(layout_studs(stops, free, rules), part.roughs, reaches, rules)
        pieces = _beside(pieces, full)
        pieces += [replace(piece, reason="fire stop: stud through both rows") for piece in full]
    return pieces


def _beside(pieces: Sequence[Piece], full: Sequence[Piece]) -> list[Piece]:
    """The pieces that none of the full-depth ones overlaps."""
    if not full:
        return list(pieces)
    taken = union_of([piece.outline for piece in full])
    shared = shapely.area(shapely.intersection(polygons_of_outlines([piece.outline for piece in pieces]), taken))
    return [piece for piece, area in zip(pieces, shared.tolist(), strict=True) if area < LEAST_AREA]


def _size_findings(outer: Polygon, plates: Plates, rules: FramingRules) -> list[Finding]:
    """Walls too short for a stud, or too low for their plates."""
    x_min, z_min, x_max, z_max = outer.bounds
    findings: list[Finding] = []
    needed = 2.0 * rules.stud_thickness if rules.end_studs else rules.stud_thickness
    if x_max - x_min < needed - TOUCH:
        findings.append(
            Finding(
                "wall-shorter-than-studs",
                Severity.WARNING,
                "The wall is shorter than the studs at its ends are thick; what fits was framed.",
                measured=x_max - x_min,
                limit=needed,
                unit="m",
            )
        )
    if not plates.complete:
        findings.append(
            Finding(
                "wall-lower-than-plates",
                Severity.WARNING,
                "The wall is too low or too ragged for all of its plates; what fits was framed.",
                measured=z_max - z_min,
                limit=(rules.bottom_plates + rules.top_plates) * rules.plate_thickness,
                unit="m",
            )
        )
    return findings


_ROLE_RANK = {role: rank for rank, role in enumerate(MemberRole)}
"""Members in one place are numbered in the order in which the roles are declared."""


def _members(pieces: Sequence[Piece], key: str, depths: Depths, rules: FramingRules) -> tuple[Member, ...]:
    """Members numbered left to right, then bottom to top; the thin prisms of one steel section share its number."""
    if not pieces:
        return ()
    boxes = boxes_of_outlines([piece.outline for piece in pieces])
    polygons = polygons_of_outlines([piece.outline for piece in pieces])
    corners = np.round(boxes[:, :2], 6).tolist()
    narrow = np.min(boxes[:, 2:] - boxes[:, :2], axis=1).tolist()
    rank = [(*corner, _ROLE_RANK[p.role], p.place) for corner, p in zip(corners, pieces, strict=True)]
    order = sorted(range(len(pieces)), key=rank.__getitem__)
    members: list[Member] = []
    sections: dict[tuple[float, float], str] = {}
    number = 0
    for index in order:
        piece = pieces[index]
        for prisms in solids_of(piece, polygons[index], depths, rules):
            number += 1
            sizes = sizes_of(piece.role, narrow[index], prisms, rules)
            section = sections.get(sizes) or sections.setdefault(sizes, section_text(*sizes, rules))
            for place, prism in enumerate(prisms):
                name = f"{key}/m{number}" if len(prisms) == 1 else f"{key}/m{number}{_letter(place)}"
                members.append(Member(name, piece.role, piece.reason, Source.LAID_OUT, prism, section=section))
    return tuple(members)


def _letter(index: int) -> str:
    return chr(ord("a") + index) if index < 26 else f"a{_letter(index - 26)}"


def member_number(member_id: str) -> str:
    """The id of the whole member that a prism belongs to: `k/m12c`, a lip of a steel stud, belongs to `k/m12`."""
    return re.sub(r"(/m\d+)[a-z]+$", r"\1", member_id)
