"""What upright rectangles leave of an upright rectangle, by comparing sides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from geometry.boxes import cut_boxes
from takeoff.framing.pieces import Outline, boxes_of_outlines, outlines_of

_CLEAR = 1e-3
"""m; what is clear along a side is looked for in a strip of this breadth beside it."""


def clipped(outline: Outline, whole: Outline) -> Outline | None:
    """The part of an upright rectangle that lies in another, m; None where it has no area."""
    x_min, z_min = max(outline[0], whole[0]), max(outline[1], whole[1])
    x_max, z_max = min(outline[2], whole[2]), min(outline[3], whole[3])
    return Outline(x_min, z_min, x_max, z_max) if x_min < x_max and z_min < z_max else None


def left_of_rectangle(whole: Outline, taken: Sequence[Outline]) -> list[Outline]:
    """The connected parts that upright rectangles leave of another one, however small."""
    x_min, z_min, x_max, z_max, _ = whole
    near = [one for one in taken if one[0] < x_max and one[2] > x_min and one[1] < z_max and one[3] > z_min]
    if not near:
        return [whole]
    # Most often one goes right across, as a header does over a cripple or a stud beside a layout line. It parts what
    # is on its two sides from each other.
    level = [one for one in near if one[0] <= x_min and one[2] >= x_max]
    if level:
        free = [Outline(x_min, low, x_max, high) for low, high in _stretches(z_min, z_max, level, 1)]
        return free if len(level) == len(near) else [part for one in free for part in left_of_rectangle(one, near)]
    upright = [one for one in near if one[1] <= z_min and one[3] >= z_max]
    if upright:
        free = [Outline(low, z_min, high, z_max) for low, high in _stretches(x_min, x_max, upright, 0)]
        return free if len(upright) == len(near) else [part for one in free for part in left_of_rectangle(one, near)]
    cut = cut_boxes(np.array(whole[:4]), np.empty((0, 4)), boxes_of_outlines(near))
    rectangular = shapely.get_num_coordinates(cut.pieces) == 5
    return [
        Outline(*outline[:4]) if plain else outline
        for outline, plain in zip(outlines_of(cut.pieces), rectangular.tolist(), strict=True)
    ]


def _stretches(start: float, stop: float, taken: Sequence[Outline], axis: int) -> list[tuple[float, float]]:
    """What rectangles leave between two ends along the wall (axis 0) or in height (axis 1), m."""
    free: list[tuple[float, float]] = []
    for low, high in sorted((one[0], one[2]) if axis == 0 else (one[1], one[3]) for one in taken):
        if low > start:
            free.append((start, low))
        start = max(start, high)
    return [*free, (start, stop)] if start < stop else free


def surely_reaches(side: int, whole: Outline, taken: Sequence[Outline]) -> bool:
    """True where what is left of a rectangle is sure to reach a side of it; where it is False it may still do so.

    side: 0 to 3, as the fields of an outline. So much of the strip beside the side is clear that the rectangles taken
    cannot part all of it into scraps.
    """
    across, along = (0, 1) if side % 2 == 0 else (1, 0)
    edges: Sequence[float] = whole[:4]
    near, far = (edges[side], edges[side] + _CLEAR) if side < 2 else (edges[side] - _CLEAR, edges[side])
    low, high = edges[along], edges[along + 2]
    boxes: list[Sequence[float]] = [one[:4] for one in taken]
    beside = [box for box in boxes if box[across] < far and box[across + 2] > near]
    covered = sum(max(min(box[along + 2], high) - max(box[along], low), 0.0) for box in beside)
    return high - low - covered > _CLEAR * (len(beside) + 1)
