"""From elevation pieces to solids: boards through the depth or a part of it, cold-formed sections as thin prisms.

Steel, by stated rule: the C-stud is as deep as the stud layer and made of five thin prisms (web, two flanges, two
lips), corners square. A track lies with its web flat against floor, head or sill; its legs wrap around the outside of
the studs, between flange and lining, so they lie outside the stud layer's depth and are not counted. Punch-outs in
webs, rounded corners, clips and screws are left out as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from shapely import Polygon

from geometry.solids import Prism
from takeoff.finding import Finding, Severity
from takeoff.framing.pieces import Form, Piece, Place, rectangle
from takeoff.framing.room import room_of
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole

Depth = tuple[float, float]

_LEAST_SHEETS = 6.0
"""A steel piece thinner than six sheets has no hollow worth the name and is taken as solid (our rule)."""
_LEAST_BEHIND = 0.025
"""m; two rows of studs that leave less are told of: fibre hardly passes there (our rule; narrower bays are sealed)."""


@dataclass(frozen=True, slots=True)
class Depths:
    """Which depths each place in the wall takes: y_min and y_max, m. Two for a piece that stands in both rows."""

    of_place: Mapping[Place, tuple[Depth, ...]]
    two_rows: bool


def depths_of(depth: float, rules: FramingRules) -> tuple[Depths, list[Finding]]:
    """Depths by place for a stud layer of a given depth, m; a finding where two rows do not fit into it."""
    # A flat board at each face has room for both, even where the wall is shallow.
    flat = min(rules.stud_thickness if rules.material == "wood" else rules.steel_thickness, 0.5 * depth)
    places: dict[Place, tuple[Depth, ...]] = {
        Place.THROUGH: ((0.0, depth),),
        Place.FIRST_ROW: ((0.0, depth),),
        Place.SECOND_ROW: (),
        Place.BETWEEN_ROWS: (),
        Place.FILL_FACE: ((0.0, flat),),
        Place.FAR_FACE: ((depth - flat, depth),),
    }
    needed = rules.row_depth if rules.rows_share_plates else 2.0 * rules.row_depth
    if rules.rows == 1:
        return Depths(places, two_rows=False), []
    if depth < needed - 1e-6 or depth <= rules.row_depth + 1e-6:
        finding = Finding(
            "stud-rows-do-not-fit",
            Severity.WARNING,
            "The stud layer is too shallow for two rows of studs and was framed with one; check the wall type's rules.",
            measured=depth,
            limit=needed,
            unit="m",
        )
        return Depths(places, two_rows=False), [finding]
    near, far = (0.0, rules.row_depth), (depth - rules.row_depth, depth)
    places[Place.FIRST_ROW], places[Place.SECOND_ROW] = (near,), (far,)
    if not rules.rows_share_plates:
        places[Place.THROUGH] = (near, far)
        if far[0] - near[1] > 1e-6:
            places[Place.BETWEEN_ROWS] = ((near[1], far[0]),)
    behind = depth - needed
    if behind >= _LEAST_BEHIND or behind <= 1e-6:
        return Depths(places, two_rows=True), []
    finding = Finding(
        "stud-rows-nearly-touch",
        Severity.WARNING,
        "Behind the studs of a row there is hardly any space, and it alone joins the bays on both sides; check how "
        "deep the studs are, and the wall type's rules.",
        measured=behind,
        limit=_LEAST_BEHIND,
        unit="m",
    )
    return Depths(places, two_rows=True), [finding]


def solids_of(piece: Piece, outline: Polygon, depths: Depths, rules: FramingRules) -> list[list[Prism]]:
    """The solids of one piece: one list per member (a piece in both rows makes two), several prisms if it is steel.

    outline: that of the piece as a polygon, made for all pieces at once.
    """
    make = _STEEL.get(piece.form, _board) if rules.material == "steel" else _board
    if rules.material == "wood" and piece.form == Form.HEADER:
        make = _wood_header
    members: list[list[Prism]] = []
    for depth in depths.of_place[piece.place]:
        prisms = [prism for prism in make(outline, depth, rules) if prism.y_max - prism.y_min > 1e-9]
        if prisms:
            members.append(prisms)
    return members


def sizes_of(role: MemberRole, narrow: float, prisms: Sequence[Prism], rules: FramingRules) -> tuple[float, float]:
    """The sides of a whole member's section, across and in depth, m. narrow: m, shorter side of its outline's box."""
    # A raked plate is as thick as the rule says, whatever box it fills.
    across = rules.plate_thickness if role in (MemberRole.BOTTOM_PLATE, MemberRole.TOP_PLATE) else narrow
    if len(prisms) == 1:
        return across, prisms[0].y_max - prisms[0].y_min
    return across, max(prism.y_max for prism in prisms) - min(prism.y_min for prism in prisms)


def section_text(across: float, deep: float, rules: FramingRules) -> str:
    """The section of a whole member in words, e.g. '38 x 140 mm' or '41 x 152 mm, thin-walled'. Sides in m."""
    small, large = sorted((across * 1000.0, deep * 1000.0))
    thin = ", thin-walled" if rules.material == "steel" else ""
    return f"{small:.0f} x {large:.0f} mm{thin}"


def _board(outline: Polygon, depth: Depth, rules: FramingRules) -> list[Prism]:
    return [Prism(outline, depth[0], depth[1])]


def _wood_header(outline: Polygon, depth: Depth, rules: FramingRules) -> list[Prism]:
    """Packed out to the whole depth, or the plies alone at one face with the rest left for insulation."""
    plies = rules.header_plies * rules.header_ply_thickness
    if not rules.insulated_header or plies >= depth[1] - depth[0] - 1e-6:
        return [Prism(outline, depth[0], depth[1])]
    if rules.header_face == "far":
        return [Prism(outline, depth[1] - plies, depth[1])]
    return [Prism(outline, depth[0], depth[0] + plies)]


def _c_stud(outline: Polygon, depth: Depth, rules: FramingRules, *, open_right: bool) -> list[Prism]:
    """Web, two flanges, two lips of an upright C; a piece of a few sheets' width is taken as solid."""
    thick = rules.steel_thickness
    low, high = depth
    x_min, z_min, x_max, z_max = outline.bounds
    if x_max - x_min < _LEAST_SHEETS * thick or high - low < _LEAST_SHEETS * thick:
        return _board(outline, depth, rules)
    lip = min(rules.lip, 0.5 * (high - low))
    web_x = (x_min, x_min + thick) if open_right else (x_max - thick, x_max)
    lip_x = (x_max - thick, x_max) if open_right else (x_min, x_min + thick)
    web = _strip(outline, web_x, (z_min, z_max))
    lips = _strip(outline, lip_x, (z_min, z_max))
    prisms = [Prism(part, low + thick, high - thick) for part in web]
    prisms += [Prism(outline, low, low + thick), Prism(outline, high - thick, high)]
    prisms += [Prism(part, low + thick, low + lip) for part in lips]
    prisms += [Prism(part, high - lip, high - thick) for part in lips]
    return prisms


def _open_right(outline: Polygon, depth: Depth, rules: FramingRules) -> list[Prism]:
    return _c_stud(outline, depth, rules, open_right=True)


def _open_left(outline: Polygon, depth: Depth, rules: FramingRules) -> list[Prism]:
    return _c_stud(outline, depth, rules, open_right=False)


def _strip(outline: Polygon, x: tuple[float, float], z: tuple[float, float]) -> Sequence[Polygon]:
    """The part of an outline between two x; exact without a boolean where the outline is an upright rectangle."""
    strip = rectangle(x[0], z[0], x[1], z[1])
    bounds = outline.bounds
    if abs(outline.area - (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])) < 1e-12:
        return [strip.polygon]
    return [part.polygon for part in room_of(outline).common(strip)]


def _box_header(outline: Polygon, depth: Depth, rules: FramingRules) -> list[Prism]:
    """Two joists on edge, lips together, capped by a track above and below; the hollow inside is a closed pocket."""
    thick = rules.steel_thickness
    low, high = depth
    _, z_min, _, z_max = outline.bounds
    flange = min(rules.flange, 0.5 * (high - low))
    if z_max - z_min < _LEAST_SHEETS * thick or flange < _LEAST_SHEETS * thick:
        return _board(outline, depth, rules)
    # Where an opening above leaves little height, the lips are as short as that makes them.
    lip = min(rules.lip, 0.5 * (z_max - z_min) - thick)
    caps = [
        *_level(outline, z_min, z_min + thick),
        *_level(outline, z_max - thick, z_max),
    ]
    prisms = [Prism(part, low, high) for part in caps]
    inner = _level(outline, z_min + thick, z_max - thick)
    flanges = [
        *_level(outline, z_min + thick, z_min + 2.0 * thick),
        *_level(outline, z_max - 2.0 * thick, z_max - thick),
    ]
    lips = [
        *_level(outline, z_min + 2.0 * thick, z_min + thick + lip),
        *_level(outline, max(z_max - thick - lip, z_min + thick + lip), z_max - 2.0 * thick),
    ]
    for web, start, stop, lip_start, lip_stop in (
        ((low, low + thick), low + thick, low + flange, low + flange - thick, low + flange),
        ((high - thick, high), high - flange, high - thick, high - flange, high - flange + thick),
    ):
        prisms += [Prism(part, *web) for part in inner]
        prisms += [Prism(part, start, stop) for part in flanges]
        prisms += [Prism(part, lip_start, lip_stop) for part in lips]
    return prisms


def _level(outline: Polygon, z_min: float, z_max: float) -> Sequence[Polygon]:
    bounds = outline.bounds
    strip = rectangle(bounds[0], z_min, bounds[2], z_max)
    if abs(outline.area - (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])) < 1e-12:
        return [strip.polygon]
    return [part.polygon for part in room_of(outline).common(strip)]


_STEEL: Mapping[Form, Callable[[Polygon, Depth, FramingRules], list[Prism]]] = {
    Form.STUD_OPEN_RIGHT: _open_right,
    Form.STUD_OPEN_LEFT: _open_left,
    Form.HEADER: _box_header,
}
