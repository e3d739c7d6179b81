"""Tables with a row per cavity, per member and per opening, in wall axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from geometry.boxes import are_boxes
from geometry.cylinders import Developed
from geometry.frames import LocalAxes
from geometry.solids import Mesh, Prism, Solid, bounds, depth_range, volume
from takeoff.columns import Table, number, text, truth
from takeoff.model import Cavity, LayerTakeoff, Member, Opening, WallTakeoff

OUTLINE_DECIMALS = 9
"""Decimals of a metre in WKT outlines: a nanometre."""


@dataclass(frozen=True, slots=True, eq=False)
class CavityRow:
    """One cavity with what is computed for all cavities at once."""

    cavity: Cavity
    layer: LayerTakeoff
    box: tuple[float, float, float, float]
    """x_min, z_min, x_max, z_max; m"""
    outline_wkt: str
    open_area: float
    """m2 that is open at the fill face."""


@dataclass(frozen=True, slots=True, eq=False)
class MemberRow:
    """One member with its box and section."""

    member: Member
    wall_id: str
    layer_key: str
    box: tuple[float, ...]
    """x, y, z lowest, then x, y, z highest; m, wall axes."""
    sizes: tuple[float, ...]
    """thickness, width and length, m, ascending."""
    volume: float
    """m3, world"""


@dataclass(frozen=True, slots=True, eq=False)
class OpeningRow:
    """One opening of one stud layer."""

    opening: Opening
    wall_id: str
    layer_key: str
    box: tuple[float, float, float, float]
    """x_min, z_min, x_max, z_max; m"""
    outline_wkt: str


def outline_texts(outlines: Sequence[shapely.Geometry]) -> list[str]:
    """Outlines (x, z) as WKT with a nanometre's precision, in one call."""
    if not outlines:
        return []
    shapes = np.array(outlines, dtype=object)
    return shapely.to_wkt(shapes, rounding_precision=OUTLINE_DECIMALS, trim=True).tolist()


def _boxes(outlines: Sequence[shapely.Geometry]) -> list[tuple[float, float, float, float]]:
    if not outlines:
        return []
    return [tuple(row) for row in shapely.bounds(np.array(outlines, dtype=object)).tolist()]


def obstructed(cavity: Cavity) -> float | None:
    """m3 that obstructions take of a cavity; None where it cannot be told."""
    known = [volume for volume in cavity.obstruction_volumes if volume is not None]
    return sum(known) if len(known) == len(cavity.obstructions) else None


def cavity_rows(results: Sequence[WallTakeoff]) -> list[CavityRow]:
    """Every cavity, sliver and opening gap, wall by wall, in the order of their numbers."""
    pairs = [(cavity, layer) for wall in results for layer in wall.layers for cavity in layer.cavities]
    outlines = [cavity.outline for cavity, _ in pairs]
    open_areas = shapely.area(np.array([cavity.front for cavity, _ in pairs], dtype=object)).tolist() if pairs else []
    return [
        CavityRow(cavity, layer, box, wkt, open_area)
        for (cavity, layer), box, wkt, open_area in zip(
            pairs, _boxes(outlines), outline_texts(outlines), open_areas, strict=True
        )
    ]


def opening_rows(results: Sequence[WallTakeoff]) -> list[OpeningRow]:
    """Every opening of every stud layer, those found as gaps in the frame included."""
    pairs = [
        (opening, layer.frame.layer) for wall in results for layer in wall.layers for opening in layer.frame.openings
    ]
    outlines = [opening.outline for opening, _ in pairs]
    return [
        OpeningRow(opening, layer.wall_id, layer.key, box, wkt)
        for (opening, layer), box, wkt in zip(pairs, _boxes(outlines), outline_texts(outlines), strict=True)
    ]


def member_rows(results: Sequence[WallTakeoff]) -> list[MemberRow]:
    """Every member and obstruction of every stud layer."""
    pairs = [(member, layer.frame.layer) for wall in results for layer in wall.layers for member in layer.frame.members]
    shapes = _shapes([member.solid for member, _ in pairs])
    return [
        MemberRow(member, layer.wall_id, layer.key, box, sizes, volume * _growth(member.solid, layer.axes))
        for (member, layer), (box, sizes, volume) in zip(pairs, shapes, strict=True)
    ]


def _growth(solid: Solid, axes: LocalAxes) -> float:
    """By what a volume in the world is larger than in wall axes: in a bent wall lengths grow or shrink with the depth,
    which is counted at the middle depth.

    That is exact for a prism, since the growth is linear in the depth, and near enough for a mesh.
    """
    if not isinstance(axes, Developed):
        return 1.0
    near, far = depth_range(solid)
    return float(axes.stretch([(near + far) / 2.0])[0])


def _shapes(solids: Sequence[Solid]) -> list[tuple[tuple[float, ...], tuple[float, ...], float]]:
    """Box (x, y, z lowest, then highest), ascending sizes, m, and volume, m3, of each solid; all prisms at once."""
    prisms = [solid for solid in solids if isinstance(solid, Prism)]
    outlines = np.array([prism.outline for prism in prisms], dtype=object)
    depths = np.array([(prism.y_min, prism.y_max) for prism in prisms]).reshape(-1, 2)
    x_min, z_min, x_max, z_max = shapely.bounds(outlines).reshape(-1, 4).T
    boxes = np.stack([x_min, depths[:, 0], z_min, x_max, depths[:, 1], z_max], axis=1)
    areas, deep = shapely.area(outlines), depths[:, 1] - depths[:, 0]
    sizes = np.sort(np.column_stack([_rectangle_sides(outlines, areas), deep]), axis=1)
    of_prisms = zip(map(tuple, boxes.tolist()), map(tuple, sizes.tolist()), (areas * deep).tolist(), strict=True)
    return [
        next(of_prisms)
        if isinstance(solid, Prism)
        else (tuple(bounds(solid).reshape(-1).tolist()), mesh_sizes(solid), volume(solid))
        for solid in solids
    ]


def _rectangle_sides(outlines: NDArray[np.object_], areas: NDArray[np.float64]) -> NDArray[np.float64]:
    """Short and long side of the smallest rectangle, at any angle, round each outline: (n, 2) m. areas: (n,) m2."""
    boxes = shapely.bounds(outlines).reshape(-1, 4)
    sides = boxes[:, 2:] - boxes[:, :2]
    # Studs and plates fill their boxes; only for what does not is the rectangle looked for.
    odd = np.flatnonzero(~are_boxes(areas, boxes))
    corners, owner = shapely.get_coordinates(shapely.oriented_envelope(outlines[odd]), return_index=True)
    sides[odd] = 0.0
    first = np.searchsorted(owner, np.arange(len(odd)))
    whole = np.bincount(owner, minlength=len(odd)) >= 4
    start = first[whole]
    sides[odd[whole], 0] = np.linalg.norm(corners[start + 1] - corners[start], axis=1)
    sides[odd[whole], 1] = np.linalg.norm(corners[start + 2] - corners[start + 1], axis=1)
    return np.sort(sides, axis=1)


def mesh_sizes(mesh: Mesh) -> tuple[float, float, float]:
    """Thickness, width and length of a mesh, m: of the smaller of its box in wall axes and the box along its own axes.

    Its own axes are the principal axes of its vertices, exact for a straight piece with a rectangular section.
    """
    if len(mesh.vertices) == 0:
        return 0.0, 0.0, 0.0
    points = mesh.vertices - mesh.vertices.mean(axis=0)
    _, directions = np.linalg.eigh(points.T @ points)
    own, upright = np.ptp(points @ directions, axis=0), np.ptp(points, axis=0)
    best = own if np.prod(own) < np.prod(upright) * (1.0 - 1e-9) else upright
    low, middle, high = np.sort(best).tolist()
    return low, middle, high


CAVITIES: Table[CavityRow] = Table(
    "cavities",
    "One connected void of a stud layer; slivers and gaps that are openings stand here too, told apart by kind.",
    "as walls.csv, then by number: left to right, bottom to top",
    (
        text("cavity_id", "stud layer's key and number", lambda r: r.cavity.cavity_id),
        text("wall_id", "GlobalId of the wall", lambda r: r.cavity.wall_id),
        text("storey", "name of the storey", lambda r: r.cavity.storey),
        text("room", "room on the fill side", lambda r: r.cavity.room),
        text("kind", "kind of cavity (README, kinds of cavity)", lambda r: r.cavity.kind),
        text("method", "blow, batt, seal, before_sheathing or none", lambda r: r.cavity.method),
        number("x_min_m", "m", "left end in wall axes", lambda r: r.box[0]),
        number("x_max_m", "m", "right end in wall axes", lambda r: r.box[2]),
        number("z_min_m", "m", "lower end in wall axes", lambda r: r.box[1]),
        number("z_max_m", "m", "upper end in wall axes", lambda r: r.box[3]),
        number("centroid_x_m", "m", "centre of the volume, world", lambda r: r.cavity.centroid[0]),
        number("centroid_y_m", "m", "centre of the volume, world", lambda r: r.cavity.centroid[1]),
        number("centroid_z_m", "m", "centre of the volume, world", lambda r: r.cavity.centroid[2]),
        number("clear_width_m", "m", "diameter of the largest circle in the outline", lambda r: r.cavity.clear_width),
        number("depth_m", "m", "nearest to farthest depth it reaches", lambda r: r.cavity.y_max - r.cavity.y_min),
        number("area_m2", "m2", "area of the outline", lambda r: r.cavity.area),
        number("volume_m3", "m3", "exact volume, members and obstructions deducted", lambda r: r.cavity.volume),
        text("outline_wkt", "corners of the elevation outline (x z), m, as WKT", lambda r: r.outline_wkt),
        text("reason", "why this kind and method", lambda r: r.cavity.reason),
        text("layer_key", "stud layer", lambda r: r.cavity.layer_key),
        text("framing_source", "modelled or laid_out: what the frame round it is", lambda r: r.layer.frame.source),
        number("y_min_m", "m", "nearest depth in wall axes", lambda r: r.cavity.y_min),
        number("y_max_m", "m", "farthest depth in wall axes", lambda r: r.cavity.y_max),
        number("open_area_m2", "m2", "part of the outline that is open at the fill face", lambda r: r.open_area),
        text(
            "obstructions",
            "ids of the obstructions that take volume from it or bound it",
            lambda r: "; ".join(r.cavity.obstructions),
        ),
        number(
            "obstruction_volume_m3",
            "m3",
            "volume that they take of the bay (overlaps not deducted); empty where one parts the bay",
            lambda r: obstructed(r.cavity),
        ),
    ),
)


MEMBERS: Table[MemberRow] = Table(
    "members",
    "One solid piece of a frame, or an obstruction in it.",
    "as stud_layers.csv, then as the frame lists them",
    (
        text("member_id", "id of the element, with /n where it has several solids", lambda r: r.member.member_id),
        text("wall_id", "GlobalId of the wall", lambda r: r.wall_id),
        text("layer_key", "stud layer", lambda r: r.layer_key),
        text("role", "role in the frame (README, roles of members)", lambda r: r.member.role),
        text("reason", "how the role was told", lambda r: r.member.reason),
        text("source", "modelled or laid_out", lambda r: r.member.source),
        text("section", "section in words, empty where nobody measured it", lambda r: r.member.section),
        number("thickness_m", "m", "smallest size", lambda r: r.sizes[0]),
        number("width_m", "m", "middle size", lambda r: r.sizes[1]),
        number("length_m", "m", "largest size", lambda r: r.sizes[2]),
        number("volume_m3", "m3", "volume of the solid (overlaps not deducted)", lambda r: r.volume),
        number("x_min_m", "m", "left end in wall axes", lambda r: r.box[0]),
        number("x_max_m", "m", "right end in wall axes", lambda r: r.box[3]),
        number("y_min_m", "m", "near face in wall axes", lambda r: r.box[1]),
        number("y_max_m", "m", "far face in wall axes", lambda r: r.box[4]),
        number("z_min_m", "m", "lower end in wall axes", lambda r: r.box[2]),
        number("z_max_m", "m", "upper end in wall axes", lambda r: r.box[5]),
        text("element_id", "GlobalId of the element", lambda r: r.member.element_id),
        text("element_class", "class in the model", lambda r: r.member.element_class),
        text("element_name", "name in the model", lambda r: r.member.element_name),
    ),
)


OPENINGS: Table[OpeningRow] = Table(
    "openings",
    "One hole through a stud layer.",
    "as stud_layers.csv, then as the frame lists them",
    (
        text("opening_id", "GlobalId, or an id of our own for a gap in the frame", lambda r: r.opening.opening_id),
        text("wall_id", "GlobalId of the wall", lambda r: r.wall_id),
        text("layer_key", "stud layer", lambda r: r.layer_key),
        number("x_min_m", "m", "left end in wall axes", lambda r: r.box[0]),
        number("x_max_m", "m", "right end in wall axes", lambda r: r.box[2]),
        number("z_min_m", "m", "lower end in wall axes", lambda r: r.box[1]),
        number("z_max_m", "m", "upper end in wall axes", lambda r: r.box[3]),
        number("width_m", "m", "width", lambda r: r.box[2] - r.box[0]),
        number("height_m", "m", "height", lambda r: r.box[3] - r.box[1]),
        number("area_m2", "m2", "area of the outline", lambda r: r.opening.outline.area),
        truth("recess", "true where it takes only part of the depth", lambda r: r.opening.solid is not None),
        text("filling_class", "class of the door or window in it", lambda r: r.opening.filling_class),
        text("filling_name", "name of the door or window in it", lambda r: r.opening.filling_name),
        text("evidence", "what shows that it is an opening", lambda r: r.opening.evidence),
        text("outline_wkt", "corners of the elevation outline (x z), m, as WKT", lambda r: r.outline_wkt),
    ),
)
