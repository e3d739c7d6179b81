"""Sheets that are one cold-formed section: web, flanges and lips given side by side."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.member_shapes import Shapes, Stance

CLOSE = 0.002
"""m. Sheets of one section touch; corners may be rounded off by their radius."""
SAME_END = 0.005
"""m. Sheets of one section end together at one end..."""
RAKED_END = 0.06
"""m. ...and nearly so at the other, where a rake cuts the section (a 2 in flange at 45 degrees)."""


def sheet_groups(shapes: Shapes, settings: FrameSettings) -> list[NDArray[np.int64]]:
    """Rows of each member: sheets that touch, run the same way and end together are one; members in the order of their
    first rows."""
    sheet = np.minimum(shapes.across, shapes.depth) <= settings.sheet
    if np.count_nonzero(sheet) < 2:
        return [np.array([row]) for row in range(len(shapes))]
    gap = np.maximum(shapes.low[:, None] - shapes.high[None, :], shapes.low[None, :] - shapes.high[:, None])
    joined = sheet[:, None] & sheet[None, :] & (gap <= CLOSE).all(axis=2) & _run_together(shapes)
    label = np.arange(len(shapes))
    while True:  # the least label spreads along touching sheets until nothing changes
        spread = np.minimum(label, np.where(joined, label[None, :], len(label)).min(axis=1))
        if (spread == label).all():
            break
        label = spread
    return [np.flatnonzero(label == one) for one in np.unique(label)]


def _run_together(shapes: Shapes) -> NDArray[np.bool_]:
    """Which pieces run the same way and end together, (n, n) bool."""
    way = np.where(shapes.stance == Stance.UPRIGHT, 2, 0)
    rows = np.arange(len(shapes))
    ends = np.stack([shapes.low[rows, way], shapes.high[rows, way]], axis=1)
    apart = np.abs(ends[:, None] - ends[None, :])
    same = (apart.min(axis=2) <= SAME_END) & (apart.max(axis=2) <= RAKED_END)
    return same & (way[:, None] == way[None, :])
