"""Small frames for the tests of modelled frames: named pieces in wall axes, and the stud layer that holds them.

Common figures: pieces 38 mm thick, a frame 2.4 m high and 140 mm deep. Piece names start with what they stand for, so
that a test can compare them with the roles found.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import Polygon, affinity

from geometry.frames import Axes
from geometry.solids import Mesh, Prism, Solid, areal, as_mesh, depth_range, silhouette
from takeoff.building import ModelPart
from takeoff.model import Frame, Opening, StudLayer

T = 0.038
HEIGHT = 2.4
DEPTH = 0.14
HEAD = 2.05
"""m, clear height of a door."""

Piece = tuple[str, Solid]


def joined(pieces: Iterable[Piece]) -> Prism:
    """All pieces as one solid through the whole depth, as where a frame is drawn as one body with cut-outs."""
    return Prism(areal(shapely.union_all([silhouette(solid) for _, solid in pieces])), 0.0, DEPTH)


def leaning(pieces: Iterable[Piece], degrees: dict[int, float]) -> list[Piece]:
    """Pieces with some, by number, turned about their middle in elevation."""
    return [
        (name, Prism(affinity.rotate(silhouette(solid), degrees[n]), *depth_range(solid)) if n in degrees else solid)
        for n, (name, solid) in enumerate(pieces)
    ]


def clipped(pieces: Iterable[Piece], top: float) -> list[Piece]:
    """Pieces cut off at a height, m."""
    return [
        (
            name,
            Prism(areal(shapely.intersection(silhouette(solid), shapely.box(-99, -99, 99, top))), *depth_range(solid)),
        )
        for name, solid in pieces
    ]


def at_depth(pieces: Iterable[Piece], near: float, far: float) -> list[Piece]:
    """The same pieces between two depths, m."""
    return [(name, Prism(silhouette(solid), near, far)) for name, solid in pieces]


def piece(x_min: float, z_min: float, x_max: float, z_max: float, near: float = 0.0, far: float = DEPTH) -> Prism:
    """A box in wall axes, m."""
    return Prism(shapely.box(x_min, z_min, x_max, z_max), near, far)


def studs(positions: Iterable[float], *, top: float = HEIGHT - T, near: float = 0.0, far: float = DEPTH) -> list[Piece]:
    """Studs whose left sides are at the given x, from the bottom plate to `top`."""
    return [("stud", piece(x, T, x + T, top, near, far)) for x in positions]


def plates(length: float, gaps: Sequence[tuple[float, float]] = (), *, height: float = HEIGHT) -> list[Piece]:
    """One bottom plate, interrupted by gaps (x, x), and one top plate."""
    found: list[Piece] = []
    start = 0.0
    for left, right in gaps:
        found.append(("bottom_plate", piece(start, 0.0, left, T)))
        start = right
    found.append(("bottom_plate", piece(start, 0.0, length, T)))
    return [*found, ("top_plate", piece(0.0, height - T, length, height))]


def plain(length: float = 4.0) -> list[Piece]:
    """Plates and studs 0.6 m apart, no opening."""
    inner = [0.6 * step for step in range(int((length - T) / 0.6) + 1)]
    return plates(length) + studs([x for x in inner if x < length - 0.3]) + studs([length - T])


def around(left: float, right: float, head: float = HEAD) -> list[Piece]:
    """King and jack studs beside an opening."""
    return [
        ("king_stud", piece(left - 2 * T, T, left - T, HEIGHT - T)),
        ("king_stud", piece(right + T, T, right + 2 * T, HEIGHT - T)),
        ("jack_stud", piece(left - T, T, left, head)),
        ("jack_stud", piece(right, T, right + T, head)),
    ]


def header(left: float, right: float, deep: float = 0.2, near: float = 0.0, far: float = DEPTH) -> Piece:
    """A header on the jack studs of `around`."""
    return "header", piece(left - T, HEAD, right + T, HEAD + deep, near, far)


def door(headers: Sequence[Piece], left: float = 1.2, right: float = 2.2) -> list[Piece]:
    """A frame 4 m long with a door as a gap: broken plate, kings, jacks and the given headers."""
    return [
        *plates(4.0, [(left, right)]),
        *studs([0.0, 0.6, 2.8, 3.4, 4.0 - T]),
        *around(left, right),
        *headers,
    ]


def window(over: Sequence[float] = (1.4, 1.8), under: Sequence[float] = (1.4, 1.8)) -> list[Piece]:
    """A frame 4 m long with a window 1.2 to 2.2 m along and 0.9 to 2.05 m up; cripples at the given x."""
    return [
        *plates(4.0),
        *studs([0.0, 0.6, 2.8, 3.4, 4.0 - T]),
        *around(1.2, 2.2),
        header(1.2, 2.2, 0.15),
        ("sill", piece(1.2, 0.9 - T, 2.2, 0.9)),
        *[("cripple", piece(x, HEAD + 0.15, x + T, HEIGHT - T)) for x in over],
        *[("cripple", piece(x, T, x + T, 0.9 - T)) for x in under],
    ]


def shifted(pieces: Iterable[Piece], along: float, up: float) -> list[Piece]:
    """The same prisms moved in elevation, m."""
    return [
        (name, Prism(affinity.translate(solid.outline, along, up), solid.y_min, solid.y_max))
        for name, solid in pieces
        if isinstance(solid, Prism)
    ]


def c_section(width: float = 0.041, depth: float = DEPTH, sheet: float = 0.0012, lip: float = 0.012) -> Polygon:
    """A lipped C open to the right, as (across, depth), m."""
    s, w, d = sheet, width, depth
    outer = [(w, lip), (w, 0.0), (0.0, 0.0), (0.0, d), (w, d), (w, d - lip)]
    inner = [(w - s, d - lip), (w - s, d - s), (s, d - s), (s, s), (w - s, s), (w - s, lip)]
    return Polygon([*outer, *inner])


def upright_section(section: Polygon, x: float, z_min: float, z_max: float) -> Mesh:
    """A section (x, y) run up from z to z, m: a cold-formed stud."""
    mesh = as_mesh(Prism(section, 0.0, 1.0))
    across, up, depth = mesh.vertices.T
    return Mesh(np.stack([x + across, depth, z_min + up * (z_max - z_min)], axis=1), mesh.faces)


def lying_section(section: Polygon, x_min: float, x_max: float, z: float, *, down: bool = False) -> Mesh:
    """A section (z, y) run along from x to x, m: a track, open upwards, or downwards from z."""
    mesh = as_mesh(Prism(section, 0.0, 1.0))
    across, along, depth = mesh.vertices.T
    up = z - across if down else z + across
    return Mesh(np.stack([x_min + along * (x_max - x_min), depth, up], axis=1), mesh.faces)


def round_pipe(x_min: float, x_max: float, y: float, z: float, radius: float) -> Mesh:
    """A pipe along the wall as a prism of 12 sides, m."""
    turn = np.linspace(0.0, 2.0 * np.pi, 13)[:-1]
    ring = np.stack([y + radius * np.cos(turn), z + radius * np.sin(turn)], axis=1)
    ends = [np.insert(ring, 0, x, axis=1) for x in (x_min, x_max)]
    vertices = np.concatenate([*ends, [[x_min, y, z], [x_max, y, z]]])
    i, j = np.arange(12), (np.arange(12) + 1) % 12
    caps = [np.stack([np.full(12, 24), j, i], axis=1), np.stack([np.full(12, 25), i + 12, j + 12], axis=1)]
    sides = [np.stack([i, j, i + 12], axis=1), np.stack([i + 12, j, j + 12], axis=1)]
    return Mesh(vertices, np.concatenate([*caps, *sides]))


def part(
    global_id: str,
    *solids: Solid,
    ifc_class: str = "IfcMember",
    name: str = "",
    material: str = "",
    wall_id: str = "wall",
    source: str = "",
) -> ModelPart:
    """An element with its solids as meshes, as the reader gives them."""
    return ModelPart(global_id, ifc_class, name, "", "", material, tuple(map(as_mesh, solids)), wall_id, source)


def parts_of(pieces: Iterable[Piece]) -> list[ModelPart]:
    """One element per piece, its id the piece's name and number."""
    return [part(f"{name}-{number}", solid) for number, (name, solid) in enumerate(pieces)]


def layer_of(
    parts: Sequence[ModelPart],
    outline: Polygon | None = None,
    *,
    depth: float = DEPTH,
    openings: Sequence[Opening] = (),
) -> StudLayer:
    """A stud layer 'wall' that holds the parts; without an outline the box around them."""
    seen = [silhouette(solid) for one in parts for solid in one.solids]
    body = shapely.box(*shapely.total_bounds(seen)) if outline is None else outline
    axes = Axes(np.zeros(3), np.eye(3))
    return StudLayer(
        "wall", "wall", axes, depth, Prism(areal(body), 0.0, depth), tuple(openings), tuple(parts), (), "", ()
    )


def opening(x_min: float, z_min: float, x_max: float, z_max: float, ifc_class: str = "IfcWindow") -> Opening:
    """An opening element or a door or window by its box."""
    return Opening("opening", shapely.box(x_min, z_min, x_max, z_max), ifc_class, "one", "")


def roles_by_id(frame: Frame) -> dict[str, str]:
    """Role found for each member id."""
    return {member.member_id: str(member.role) for member in frame.members}


def wrong_roles(frame: Frame) -> dict[str, str]:
    """Members whose role is not the one that their piece's name says."""
    return {name: role for name, role in roles_by_id(frame).items() if name.rsplit("-", 1)[0] != role}


def codes(frame: Frame) -> list[str]:
    """Codes of the findings, sorted."""
    return sorted(finding.code for finding in frame.findings)
