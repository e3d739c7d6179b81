"""Gaps between the members of a frame in elevation: where they are, how wide, what lies above and below them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.overlays import outside_of
from geometry.solids import ROUNDING, areal, polygons_of
from takeoff.framing.envelopes import lower_envelope, upper_envelope
from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import columns_of

PASSAGE = 0.04
"""m. Gaps joined by a narrower passage are seen as two: a header that stops short of its stud joins no bays here."""
SHAVING = 0.001
"""m. What is thinner than this beside a gap belongs to it: it comes of crooked edges, no member is so thin."""
SAME_WIDTH = 0.015
"""m. Bays whose clear widths agree to this count as equally wide when the usual bay is sought."""
NEXT_LEVEL = 0.05
"""m. Gaps above one rail start within this of each other."""


@dataclass(frozen=True, slots=True, eq=False)
class FrameVoids:
    """Gaps of a frame, one row each, sorted left to right, then bottom to top; wall axes, m.

    shapes: (n,) object, Polygon. box: (n, 4) float64, x_min, z_min, x_max, z_max, without shavings that run on.
    floor, ceiling: (n,) float64, z on the plumb line through the middle of each box.
    below, above: (n,) float64, thickness of material from there to the outline of the frame or the next gap.
    lowest, highest: (n,) bool, nothing but material down (up) to the outline of the frame.
    under, over: per gap, rows of the gaps next below (above) its floor (ceiling), left to right.
    usual: clear width of the usual bay.
    """

    shapes: NDArray[np.object_]
    box: NDArray[np.float64]
    floor: NDArray[np.float64]
    ceiling: NDArray[np.float64]
    below: NDArray[np.float64]
    above: NDArray[np.float64]
    lowest: NDArray[np.bool_]
    highest: NDArray[np.bool_]
    under: tuple[tuple[int, ...], ...]
    over: tuple[tuple[int, ...], ...]
    usual: float

    def __len__(self) -> int:
        return len(self.shapes)

    @property
    def width(self) -> NDArray[np.float64]:
        """(n,) float64, m, of the box."""
        return self.box[:, 2] - self.box[:, 0]

    @property
    def height(self) -> NDArray[np.float64]:
        """(n,) float64, m, on the plumb line through the middle."""
        return self.ceiling - self.floor


def voids_of(outline: Polygon | MultiPolygon, taken: shapely.Geometry, settings: FrameSettings) -> FrameVoids:
    """The gaps of `outline` less what is taken (union of the members' silhouettes), both in (x, z)."""
    shapes, bare = _parted(outside_of(outline, areal(taken)))
    box, core = shapely.bounds(shapes).reshape(-1, 4), shapely.bounds(bare).reshape(-1, 4)
    box = np.where(np.abs(core - box) > PASSAGE / 4.0, core, box)
    order = np.lexsort((np.round(box[:, 1], 6), np.round(box[:, 0], 6)))
    shapes, bare, box = shapes[order], bare[order], box[order]
    middle = (box[:, 0] + box[:, 2]) / 2.0
    columns = columns_of(bare, middle)
    if len(shapes) == 0:
        empty, none = np.empty(0), np.empty(0, dtype=bool)
        return FrameVoids(shapes, box, empty, empty, empty, empty, none, none, (), (), settings.usual_bay)
    bottom, top = lower_envelope(outline).at(middle), upper_envelope(outline).at(middle)
    over = _neighbours(box, columns[:, 1], columns[:, 0])
    under = _neighbours(box * np.array([1.0, -1.0, 1.0, -1.0]), -columns[:, 0], -columns[:, 1])
    above = np.array([(min(columns[list(o), 0]) if o else top[row]) - columns[row, 1] for row, o in enumerate(over)])
    below = np.array(
        [columns[row, 0] - (max(columns[list(u), 1]) if u else bottom[row]) for row, u in enumerate(under)]
    )
    return FrameVoids(
        shapes,
        box,
        columns[:, 0],
        columns[:, 1],
        below,
        above,
        np.array([not u for u in under]),
        np.array([not o for o in over]),
        under,
        over,
        usual_bay(box[:, 2] - box[:, 0], columns[:, 1] - columns[:, 0], settings),
    )


def usual_bay(widths: NDArray[np.float64], heights: NDArray[np.float64], settings: FrameSettings) -> float:
    """Clear width, m, that most of the bays of a frame have, by height; the widest of equals.

    widths, heights: (n,) float64, m, of the gaps. Without a gap between 0.2 m and `widest_bay` it is `usual_bay`.
    """
    sound = (widths >= 0.2) & (widths <= settings.widest_bay) & (heights >= 0.2)
    if not sound.any():
        return settings.usual_bay
    widths, heights = widths[sound], heights[sound]
    alike = np.abs(widths[:, None] - widths[None, :]) <= SAME_WIDTH
    support = np.round(alike @ heights, 3)
    best = support >= support.max() - 1e-9
    return float(widths[best].max())


def _parted(free: Polygon | MultiPolygon) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """Gaps that no passage narrower than PASSAGE joins; pieces narrower than that are left out.

    Returns the gaps with and without their shavings, (n,) object each. A shaving may run on past its gap, as over a
    stud that is a little short, and round the member beside it.
    """
    parts = np.array([*polygons_of(free), None], dtype=object)[:-1]
    if len(parts) == 0:
        return parts, parts
    box = shapely.bounds(parts).reshape(-1, 4)
    width, height = box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]
    plain = shapely.area(parts) >= width * height * (1.0 - 1e-9)
    found: list[Polygon] = list(parts[plain & (np.minimum(width, height) > PASSAGE)])
    bare = list(found)
    half = PASSAGE / 2.0
    for part in parts[~plain]:
        cores = polygons_of(shapely.buffer(part, -half, join_style="mitre", mitre_limit=10.0))
        own: list[Polygon] = []
        for core in cores:
            grown = shapely.buffer(core, half, join_style="mitre", mitre_limit=10.0)
            pieces = polygons_of(shapely.intersection(grown, part))
            if pieces:
                own.append(max(pieces, key=lambda piece: piece.area))
        bare += [_squared(piece) for piece in own]
        if len(own) == 1 and own[0].area >= part.area * (1.0 - 1e-6):
            found.append(part)  # shrinking and growing back loses next to nothing: it has no arms
        else:
            found += [_squared(piece) for piece in _with_shavings(part, own)]
    result = np.empty((2, len(found)), dtype=object)
    result[0], result[1] = found, bare
    return result[0], result[1]


def _with_shavings(part: Polygon, pieces: list[Polygon]) -> list[Polygon]:
    """Pieces with what shrinking and growing back has shaved off beside crooked edges."""
    rest = polygons_of(shapely.difference(part, shapely.union_all(pieces))) if pieces else []
    for shaving in rest:
        x_min, z_min, x_max, z_max = shaving.bounds
        if shaving.area >= SHAVING * max(x_max - x_min, z_max - z_min):
            continue
        nearest = int(np.argmin(shapely.distance(pieces, shaving)))
        own = pieces[nearest].bounds
        # A hairline that runs on along a plate, past the piece, belongs to none.
        lying = x_max - x_min >= z_max - z_min
        beside = shapely.box(own[0], z_min, own[2], z_max) if lying else shapely.box(x_min, own[1], x_max, own[3])
        whole = polygons_of(shapely.union(pieces[nearest], shapely.intersection(shaving, beside)))
        if len(whole) == 1:
            pieces[nearest] = whole[0]
    return pieces


def _squared(piece: Polygon) -> Polygon:
    """A rectangle that rounding has left with extra corners, as a plain one."""
    x_min, z_min, x_max, z_max = np.round(piece.bounds, ROUNDING).tolist()
    whole = (x_max - x_min) * (z_max - z_min)
    return shapely.box(x_min, z_min, x_max, z_max) if abs(whole - piece.area) <= 1e-8 * whole else piece


def _neighbours(
    box: NDArray[np.float64], ceiling: NDArray[np.float64], floor: NDArray[np.float64]
) -> tuple[tuple[int, ...], ...]:
    """For each gap the rows of the gaps that start next above its ceiling and lie mostly within its width."""
    shared = np.minimum(box[:, None, 2], box[None, :, 2]) - np.maximum(box[:, None, 0], box[None, :, 0])
    width = box[:, 2] - box[:, 0]
    within = shared >= 0.5 * np.minimum(width[None, :], width[:, None])
    higher = within & (floor[None, :] >= ceiling[:, None] - 1e-6)
    np.fill_diagonal(higher, False)
    result: list[tuple[int, ...]] = [()] * len(box)
    for row in np.flatnonzero(higher.any(axis=1)).tolist():
        rows = np.flatnonzero(higher[row])
        result[row] = tuple(rows[floor[rows] <= floor[rows].min() + NEXT_LEVEL].tolist())
    return tuple(result)
