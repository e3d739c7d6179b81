"""Which parts are boards, and how deep the row of studs is where the wall's layers do not say."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from geometry.solids import Solid
from takeoff.framing.frame_settings import DEFAULT_FRAME_SETTINGS, FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance, joined_shapes, shapes_of
from takeoff.framing.sheets import sheet_groups

SAME_ROW = 0.008
"""m. Members whose near and far sides agree to this stand in one row: planing and crooked drawing stay below it."""


def is_panel(solid: Solid) -> bool:
    """True for sheathing, lining and other boards: thin across the wall for what they cover in elevation.

    A C-stud or a track is thin-walled, but as deep as the wall and narrow in elevation, so it is none; neither is a
    frame drawn as one solid with cut-outs, which covers too little of its own rectangle.
    """
    return bool(are_panels(shapes_of([solid]))[0])


def are_panels(shapes: Shapes) -> NDArray[np.bool_]:
    """The rule of `is_panel` for every row, (n,) bool.

    Boards up to 26 mm (plywood, gypsum, boarding) count from 0.2 m and 8 times their thickness on, thicker ones
    (wood fibre, foam) from 0.45 m and 5 times on. So a 38 x 286 mm header, a 45 x 400 mm one and a 19 x 140 mm brace
    are no boards. Limits: common practice, no published source.
    """
    depth, across = shapes.depth, shapes.across
    thin = (depth <= 0.026) & (across >= 0.20) & (across >= 8.0 * depth) & (shapes.filled >= 0.35)
    thick = (depth <= 0.12) & (across >= 0.45) & (across >= 5.0 * depth) & (shapes.filled >= 0.55)
    return thin | thick


def depth_of_frame(solids: Sequence[Solid], settings: FrameSettings = DEFAULT_FRAME_SETTINGS) -> tuple[float, float]:
    """Range of y, m, that the studs and plates of a wall take.

    It is the range of the bulk of the uprights by volume, so a ledger, a fascia, a batten or sheathing that sticks
    out does not widen it, and a brace let into the face does not narrow it. A second row of studs widens it where it
    has two uprights of stud depth and a plate of its own (or one that covers both rows).

    Raises ValueError when there is no solid with a volume that is not a board.
    """
    if len(solids) == 0:
        raise ValueError("no solid to take the depth of the stud layer from")
    return depth_of_shapes(shapes_of(solids), settings)


def depth_of_shapes(shapes: Shapes, settings: FrameSettings = DEFAULT_FRAME_SETTINGS) -> tuple[float, float]:
    """`depth_of_frame` for solids already measured."""
    groups = sheet_groups(shapes, settings)
    shapes = shapes if len(groups) == len(shapes) else joined_shapes(shapes, groups)
    sound = (shapes.volume > settings.least_volume) & ~are_panels(shapes) & (shapes.along > 2.0 * shapes.across)
    if not sound.any():
        sound = (shapes.volume > settings.least_volume) & ~are_panels(shapes)
    if not sound.any():
        raise ValueError("no solid with a volume that is not a board, to take the depth of the stud layer from")
    frame = shapes.taken(sound)
    uprights = (frame.stance == Stance.UPRIGHT) & ~frame.round
    if not uprights.any():
        uprights = np.ones(len(frame), dtype=bool)
    rows = _rows(frame, uprights)
    low, high = _row_range(frame, rows[0])
    for row in rows[1:]:
        near, far = _row_range(frame, row)
        if _is_second_row(frame, row, rows[0], settings):
            low, high = min(low, near), max(high, far)
    return low, high


def _rows(frame: Shapes, chosen: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Chosen members grouped by their range of y, the row with the most volume first."""
    left = np.flatnonzero(chosen)
    left = left[np.argsort(-frame.volume[left], kind="stable")]
    rows: list[NDArray[np.int64]] = []
    while len(left):
        first = left[0]
        alike = (np.abs(frame.low[left, 1] - frame.low[first, 1]) <= SAME_ROW) & (
            np.abs(frame.high[left, 1] - frame.high[first, 1]) <= SAME_ROW
        )
        rows.append(left[alike])
        left = left[~alike]
    return sorted(rows, key=lambda row: -float(frame.volume[row].sum()))


def _row_range(frame: Shapes, row: NDArray[np.int64]) -> tuple[float, float]:
    """Near and far side of a row: the medians by volume, which a few crooked members do not move."""
    return _weighted_median(frame.low[row, 1], frame.volume[row]), _weighted_median(
        frame.high[row, 1], frame.volume[row]
    )


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(reached, reached[-1] / 2.0)])


def _is_second_row(frame: Shapes, row: NDArray[np.int64], first: NDArray[np.int64], settings: FrameSettings) -> bool:
    """Whether a group of uprights is a row of studs: two of them, deep enough, on edge, and with a plate."""
    near, far = _row_range(frame, row)
    depth = far - near
    on_edge = np.count_nonzero(frame.across[row] <= frame.depth[row] * 1.05)
    if depth < settings.row_depth or on_edge < 2 or on_edge < 0.5 * len(row):
        return False
    if frame.volume[row].sum() < 0.15 * frame.volume[first].sum():
        return False
    shared = np.minimum(frame.high[:, 1], far) - np.maximum(frame.low[:, 1], near)
    return bool(((frame.stance != Stance.UPRIGHT) & (shared >= 0.7 * depth)).any())
