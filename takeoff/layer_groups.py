"""Which stud layers of one wall stand behind each other, and which beside each other.

Two rows of studs stand behind each other: the wall's area counts once, its depths add up. The straight lengths of a
wall that bends in plan stand beside each other: their areas add up, its depth is that of one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from geometry.solids import bounds
from takeoff.model import LayerTakeoff, StudLayer

_SLANT = 0.15
"""Tangent (8.5 degrees); layers that are turned more are lengths of a bent wall."""
_SHARED = 0.5
"""Of the shorter layer's length; those behind each other share more of it than this."""


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
    points = [[low, 0.0, level], [high, 0.0, level], [middle, 0.0, level], [middle, other.depth, level]]
    start, end, near, far = one.axes.to_local(other.axes.to_world(np.array(points)))
    if abs(far[0] - near[0]) > _SLANT * abs(far[1] - near[1]):
        return False
    left, right = sorted((float(start[0]), float(end[0])))
    shared = min(right, float(x_max)) - max(left, float(x_min))
    in_height = min(float(top), float(z_max)) > max(float(bottom), float(z_min))
    return in_height and shared > _SHARED * min(right - left, float(x_max - x_min))
