"""Outline of a frame in elevation, for a wall that has no body of its own.

For every x between the first and the last member it reaches from the lowest to the highest material. Where a plate is
missing the line is bridged, so that a bay without its piece of plate, or a door, does not become a notch.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from geometry.solids import areal, without_idle_points
from takeoff.framing.envelopes import Envelope, lower_envelope, upper_envelope
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings

STEP = 0.001
"""m. A jump of the edge below this is drawing noise, not the end of a plate."""
SAME_LEVEL = 0.01
"""m. The two ends of a bridged gap are ends of one plate line when they agree to this..."""
NEAR_LEVEL = 0.05
"""m. ...or, where nothing better is in reach, to this (a plate that steps by its own thickness)."""


def outline_of_frame(
    silhouettes: Sequence[Polygon | MultiPolygon], settings: FrameSettings = DEFAULT_FRAME_SETTINGS
) -> Polygon:
    """Outline in (x, z), m, around the silhouettes of a frame's members; exact at their corners.

    Rakes stay rakes, frames of different height side by side give a step, frames above each other give one outline
    with the gap between them inside. The upper line is bridged over `bay_bridge` at most; the lower line also over
    doors, where what hangs above is at least `door_height` up; columns with no material at all always.

    Raises ValueError when there is no silhouette with an area.
    """
    return outline_around(shapely.union_all(np.asarray(silhouettes, dtype=object)), settings)


def outline_around(united: Any, settings: FrameSettings = DEFAULT_FRAME_SETTINGS) -> Polygon:
    """`outline_of_frame` for silhouettes that are united already. united: any geometry."""
    if united.is_empty or united.area <= 0.0:
        raise ValueError("no member with an area, to take the outline of the frame from")
    upper = _bridged(_filled(upper_envelope(united)), settings, over_doors=False)
    lower = _bridged(_filled(lower_envelope(united).negated()), settings, over_doors=True).negated()
    points = np.concatenate([_points(lower), _points(upper)[::-1]])
    outline = Polygon(points)
    if not outline.is_valid:
        outline = shapely.make_valid(outline)
    whole = without_idle_points(areal(outline))
    return whole if isinstance(whole, Polygon) else max(whole.geoms, key=lambda part: part.area)


def _points(line: Envelope) -> NDArray[np.float64]:
    """Corners of an edge from left to right: (2 m, 2) float64, m."""
    starts = np.stack([line.x[:-1], line.left], axis=1)
    ends = np.stack([line.x[1:], line.right], axis=1)
    return np.stack([starts, ends], axis=1).reshape(-1, 2)


def _filled(line: Envelope) -> Envelope:
    """Columns without material closed: straight where both sides agree, else at the lower of the two."""
    left, right = line.left.copy(), line.right.copy()
    empty = np.isnan(left)
    starts = np.flatnonzero(empty & ~np.roll(empty, 1))
    for start in starts.tolist():
        stop = start + int(np.argmin(empty[start:]))
        before, after = right[start - 1], left[stop]
        if abs(before - after) > NEAR_LEVEL and not _one_slope(line, start, stop):
            before = after = min(before, after)
        left[start:stop], right[start:stop] = _straight(line.x, start, stop, before, after)
    return Envelope(line.x, left, right)


def _one_slope(line: Envelope, start: int, stop: int) -> bool:
    """Whether the edge on both sides of an empty stretch lies on one raked line."""
    slope = _slope(line, start - 1)
    expected = line.right[start - 1] + slope * (line.x[stop] - line.x[start])
    return abs(expected - line.left[stop]) <= NEAR_LEVEL


def _slope(line: Envelope, row: int) -> float:
    slope = (line.right[row] - line.left[row]) / (line.x[row + 1] - line.x[row])
    return float(slope) if abs(slope) <= 3.0 else 0.0


def _straight(
    x: NDArray[np.float64], start: int, stop: int, before: float, after: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    heights = before + (x[start : stop + 1] - x[start]) / (x[stop] - x[start]) * (after - before)
    return heights[:-1], heights[1:]


def _bridged(line: Envelope, settings: FrameSettings, *, over_doors: bool) -> Envelope:
    """Valleys between two ends of one plate line filled, looked for from either side."""
    once = _bridged_rightwards(line, settings, over_doors=over_doors)
    return _bridged_rightwards(once.mirrored(), settings, over_doors=over_doors).mirrored()


def _bridged_rightwards(line: Envelope, settings: FrameSettings, *, over_doors: bool) -> Envelope:
    left, right = line.left.copy(), line.right.copy()
    row, count = 0, len(left)
    while row < count - 1:
        if left[row + 1] >= right[row] - STEP:
            row += 1
            continue
        stop, before, after = _far_end(line, row, settings, over_doors=over_doors)
        if stop > 0:
            starts, ends = _straight(line.x, row + 1, stop, before, after)
            left[row + 1 : stop] = np.maximum(left[row + 1 : stop], starts)
            right[row + 1 : stop] = np.maximum(right[row + 1 : stop], ends)
            row = stop
        else:
            row += 1
    return Envelope(line.x, left, right)


def _far_end(line: Envelope, row: int, settings: FrameSettings, *, over_doors: bool) -> tuple[int, float, float]:
    """Interval at which the line goes on after a drop behind `row`, and the heights to bridge from and to.

    (-1, 0, 0) where it does not go on. Where it goes on a little lower (stud heads that carry no plate), the bridge
    keeps that level, parallel to the line before.
    """
    x, start, nothing = line.x, row + 1, (-1, 0.0, 0.0)
    reach = settings.door_bridge if over_doors else settings.bay_bridge
    ahead = np.arange(start + 1, len(line.left))
    ahead = ahead[x[ahead] - x[start] <= reach + 1e-9]
    if len(ahead) == 0:
        return nothing
    level = float(line.right[row])
    targets = level + _slope(line, row) * (x[ahead] - x[start])
    for slack in (SAME_LEVEL, NEAR_LEVEL):
        hits = ahead[line.left[ahead] >= targets - slack]
        if len(hits) == 0:
            continue
        stop = int(hits[0])
        if x[stop] - x[start] > settings.bay_bridge and not _hangs_high(line, row, stop, settings):
            continue
        target, height = float(targets[stop - ahead[0]]), float(line.left[stop])
        if abs(height - target) <= SAME_LEVEL:
            return stop, level, height
        lower = min(height - target, 0.0)
        return stop, level + lower, target + lower
    return nothing


def _hangs_high(line: Envelope, row: int, stop: int, settings: FrameSettings) -> bool:
    """Whether something in a gap is as far from the line as the head of a door from the floor."""
    return bool(line.right[row] - line.left[row + 1 : stop].min() >= settings.door_height)
