"""Which stud layers of one wall stand behind each other, and which beside each other.

Two rows of studs stand behind each other: the wall's area counts once, its depths add up. The straight lengths of a
wall that bends in plan stand beside each other: their areas add up, its depth is that of one. So do the opposite sides
of a wall that runs round a room, and parts of a frame that stand above each other.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geometry.solids import bounds
from takeoff.model import LayerTakeoff, StudLayer

_SLANT = 0.15
"""Tangent (8.5 degrees); layers that are turned more are lengths of a bent wall."""
_SHARED = 0.5
"""Of the shorter layer's length, and of the lower one's height; those behind each other share more of it than this."""
_THICKEST = 0.6
"""m; farther before or behind a stud layer without material layers no other row of studs of its wall stands (common
practice, no published source)."""


def groups_in_depth(layers: Sequence[LayerTakeoff]) -> list[list[LayerTakeoff]]:
    """Stud layers gathered by place along the wall: those of one group stand behind each other."""
    groups: list[list[LayerTakeoff]] = []
    for layer in layers:
        home = next((group for group in groups if _behind(group[0].frame.layer, layer.frame.layer)), None)
        if home is None:
            groups.append([layer])
        else:
            home.append(layer)
    return groups


def _behind(one: StudLayer, other: StudLayer) -> bool:
    """Whether two stud layers of a wall hide each other when it is looked at square to the first."""
    (x_min, _, z_min), (x_max, _, z_max) = bounds(one.outline)
    (low, _, bottom), (high, _, top) = bounds(other.outline)
    middle, level = (low + high) / 2.0, (bottom + top) / 2.0
    points = [
        [low, 0.0, level], [high, 0.0, level], [middle, 0.0, bottom], [middle, 0.0, top],
        [middle, 0.0, level], [middle, other.depth, level],
    ]  # fmt: skip
    start, end, foot, head, near, far = one.axes.to_local(other.axes.to_world(np.array(points)))
    if abs(far[0] - near[0]) > _SLANT * abs(far[1] - near[1]):
        return False
    if not _within(one, float(near[1] + far[1]) / 2.0):
        return False
    return _share((start[0], end[0]), (x_min, x_max)) and _share((foot[2], head[2]), (z_min, z_max))


def _within(one: StudLayer, depth: float) -> bool:
    """Whether a depth in the axes of a stud layer lies in the same wall: between the faces of its layers."""
    nearest = min((layer.y_min for layer in one.layers), default=-_THICKEST)
    farthest = max((layer.y_max for layer in one.layers), default=one.depth + _THICKEST)
    return nearest <= depth <= farthest


def _share(own: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether two ranges share more than `_SHARED` of the shorter."""
    left, right = min(own), max(own)
    shared = min(right, max(other)) - max(left, min(other))
    return shared > _SHARED * min(right - left, max(other) - min(other))
