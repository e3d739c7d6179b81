"""Solids that are one member: the sheets of a cold-formed section that a model gives side by side, not as one body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.layer_solids import LayerSolids
from takeoff.framing.member_shapes import Shapes, Stance, joined_shapes
from takeoff.model import ModelPart

CLOSE = 0.002
"""m. Sheets of one section touch; corners may be rounded off by their radius."""
SAME_END = 0.005
"""m. Sheets of one section end together at one end..."""
RAKED_END = 0.06
"""m. ...and nearly so at the other, where a rake cuts the section (a 2 in flange at 45 degrees)."""


@dataclass(frozen=True, slots=True, eq=False)
class Bundles:
    """Members as the trade counts them, one row each: most are one solid, a section made of sheets is several.

    rows: the rows of the solids in each. parts: the element of its first solid. ids: its first solid's member id.
    """

    rows: tuple[NDArray[np.int64], ...]
    shapes: Shapes
    parts: tuple[ModelPart, ...]
    ids: tuple[str, ...]


def bundles_of(pieces: LayerSolids, settings: FrameSettings) -> Bundles:
    """Join sheets that touch, run the same way and end together; every other solid stays alone."""
    groups = _groups(pieces.shapes, pieces.parts, settings)
    shapes = pieces.shapes if len(groups) == len(pieces.ids) else joined_shapes(pieces.shapes, groups)
    first = [int(rows[0]) for rows in groups]
    return Bundles(
        tuple(groups), shapes, tuple(pieces.parts[row] for row in first), tuple(pieces.ids[row] for row in first)
    )


def _groups(shapes: Shapes, parts: Sequence[ModelPart], settings: FrameSettings) -> list[NDArray[np.int64]]:
    """Rows of each bundle, bundles in the order of their first rows."""
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
