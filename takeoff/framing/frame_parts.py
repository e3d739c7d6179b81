"""Parts of one frame that stand above or beside each other and differ in depth: each is a row of studs of its own.

A wall may be framed deep below and shallow above, or deep at one end and shallow at the other. Where nothing but the
frame says how thick the wall is, there is no room behind the shallow studs: every part reaches as far as its own.
Rows of studs behind each other, and pieces of another depth within a frame (headers, blocks, braces), make no parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.solids import Solid
from takeoff.framing.frame_depth import SAME_ROW, are_panels, depth_of_shapes
from takeoff.framing.frame_outline import outline_around
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance, joined_shapes, shapes_of
from takeoff.framing.sheets import sheet_groups

_LAPS = 0.1
"""Share of the smaller outline; parts that lap more in elevation stand behind each other or are one frame."""


@dataclass(frozen=True, slots=True, eq=False)
class FramePart:
    """Members between two depths, m, with their outline in (x, z), m."""

    low: float
    high: float
    outline: Polygon


def parts_of_frame(solids: Sequence[Solid], settings: FrameSettings = DEFAULT_FRAME_SETTINGS) -> tuple[FramePart, ...]:
    """The parts of a frame that differ in depth and do not stand behind each other, from bottom to top, then from left
    to right; none where the frame is of one depth.

    solids: members in axes with y across the wall, m; boards count for nothing. A part has two uprights of stud depth,
    on edge, and a piece across them. Every other member goes to the part that it stands in or next to.
    """
    shapes = shapes_of(solids)
    groups = sheet_groups(shapes, settings)
    shapes = shapes if len(groups) == len(shapes) else joined_shapes(shapes, groups)
    frame = shapes.taken((shapes.volume > settings.least_volume) & ~are_panels(shapes))
    if len(frame) == 0 or np.ptp(frame.low[:, 1]) <= SAME_ROW >= np.ptp(frame.high[:, 1]):
        return ()
    classes = [
        [rows for rows in _touching(frame, alike, settings) if is_frame(frame, rows, settings)]
        for alike in _of_one_depth(frame)
    ]
    classes = [found for found in classes if found]
    if len(classes) < 2:
        return ()
    parts = _apart(frame, [rows for found in classes for rows in _together(frame, found, classes, settings)], settings)
    if len(parts) < 2:
        return ()
    made = [_part(frame, rows, settings) for rows in _with_the_rest(frame, parts, settings)]
    if max(np.ptp([part.low for part in made]), np.ptp([part.high for part in made])) <= SAME_ROW:
        return ()
    return tuple(sorted(made, key=lambda part: (round(part.outline.bounds[1], 3), round(part.outline.bounds[0], 3))))


def is_frame(frame: Shapes, rows: NDArray[np.int64], settings: FrameSettings) -> bool:
    """Whether members are a frame: two uprights of stud depth, most of them on edge, and a piece across them.

    rows: (k,) int64, the members that are looked at.
    """
    upright = rows[(frame.stance[rows] == Stance.UPRIGHT) & ~frame.round[rows]]
    if len(upright) < 2 or len(upright) == len(rows):
        return False
    deep = frame.depth[upright] >= settings.row_depth
    on_edge = np.count_nonzero(deep & (frame.across[upright] <= 1.05 * frame.depth[upright]))
    return bool(on_edge >= 2 and on_edge >= 0.5 * len(upright))


def _of_one_depth(frame: Shapes) -> list[NDArray[np.int64]]:
    """Rows of the members that agree in nearest and farthest depth, those of the largest member first."""
    left = np.argsort(-frame.volume, kind="stable")
    found: list[NDArray[np.int64]] = []
    while len(left):
        first = left[0]
        alike = (np.abs(frame.low[left, 1] - frame.low[first, 1]) <= SAME_ROW) & (
            np.abs(frame.high[left, 1] - frame.high[first, 1]) <= SAME_ROW
        )
        found.append(np.sort(left[alike]))
        left = left[~alike]
    return found


def _touching(frame: Shapes, rows: NDArray[np.int64], settings: FrameSettings) -> list[NDArray[np.int64]]:
    """Rows gathered into those that touch each other in elevation."""
    seen = frame.silhouettes[rows]
    tree = shapely.STRtree(seen)
    one, other = tree.query(seen, predicate="dwithin", distance=settings.touch)
    label = np.arange(len(rows))
    while True:  # the least label spreads along touching members until nothing changes
        spread = label.copy()
        np.minimum.at(spread, one, label[other])
        if (spread == label).all():
            return [rows[label == each] for each in np.unique(label)]
        label = spread


def _outline(frame: Shapes, rows: NDArray[np.int64], settings: FrameSettings) -> Polygon:
    return outline_around(shapely.union_all(frame.silhouettes[rows]), settings)


def _lap(one: Polygon, other: Polygon) -> bool:
    return one.intersection(other).area > _LAPS * min(one.area, other.area)


def _together(
    frame: Shapes,
    own: list[NDArray[np.int64]],
    classes: list[list[NDArray[np.int64]]],
    settings: FrameSettings,
) -> list[NDArray[np.int64]]:
    """Frames of one depth as one, where nothing of another depth stands between them; else each by itself."""
    if len(own) == 1:
        return own
    whole = np.sort(np.concatenate(own))
    outline = _outline(frame, whole, settings)
    others = [_outline(frame, rows, settings) for found in classes if found is not own for rows in found]
    return own if any(_lap(outline, other) for other in others) else [whole]


def _apart(frame: Shapes, parts: list[NDArray[np.int64]], settings: FrameSettings) -> list[NDArray[np.int64]]:
    """Parts with those joined that lap in elevation, until none do."""
    outlines = [_outline(frame, rows, settings) for rows in parts]
    for first in range(len(parts)):
        for second in range(first + 1, len(parts)):
            if _lap(outlines[first], outlines[second]):
                both = np.sort(np.concatenate([parts[first], parts[second]]))
                rest = [rows for number, rows in enumerate(parts) if number not in (first, second)]
                return _apart(frame, [both, *rest], settings)
    return parts


def _with_the_rest(frame: Shapes, parts: list[NDArray[np.int64]], settings: FrameSettings) -> list[NDArray[np.int64]]:
    """Parts with every other member added to the one that it stands in, touches along most or is nearest to."""
    outlines = [_outline(frame, rows, settings) for rows in parts]
    rest = np.setdiff1d(np.arange(len(frame)), np.concatenate(parts))
    reach = shapely.buffer(frame.silhouettes[rest], settings.touch, join_style="mitre")
    shared = np.stack([shapely.area(shapely.intersection(reach, outline)) for outline in outlines])
    away = np.stack([shapely.distance(reach, outline) for outline in outlines])
    home = np.where(shared.max(axis=0) > 0.0, shared.argmax(axis=0), away.argmin(axis=0))
    return [np.sort(np.concatenate([rows, rest[home == number]])) for number, rows in enumerate(parts)]


def _part(frame: Shapes, rows: NDArray[np.int64], settings: FrameSettings) -> FramePart:
    low, high = depth_of_shapes(frame.taken(rows), settings)
    return FramePart(low, high, _outline(frame, rows, settings))
