"""Rows of holes: heights that as many bays of a wall as possible have in common, without one hole more than needed.

A bay that one column of holes can serve is a column here: holes one above the other, each reaching from `down` below
it to `up` above it. For n holes the height of hole i may move between two limits (its slot), and two holes above one
another may be no farther apart than down + up. A row is one height that lies in a slot of many columns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.reach import Reach

FloatArray = NDArray[np.float64]

TIDY = 0.01
"""m; row heights are brought to whole centimetres where the slots leave room, to be marked with a tape."""
ALIKE = 1e-6
"""m; columns that differ by less are one."""


@dataclass(frozen=True, slots=True)
class RowWish:
    """Where holes are easy to work, m, z in wall axes."""

    comfortable: float
    """Height that a hole should be near where it is free to move."""
    standing: float
    """Highest hole that is filled standing on the floor."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Bays that one column of holes serves, each array (n,) float64, m, z in wall axes.

    bottom, top: lowest and highest point to be reached. low, high: heights at which a hole has room.
    """

    bottom: FloatArray
    top: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Slots:
    """Limits of every hole of every column.

    count: (n,) int64, holes of a column, 0 where one column of holes cannot serve it.
    low, high: (n, most) float64, m; NaN beyond the count.
    spacing: (n,) float64, m; greatest distance between two holes above one another.
    """

    count: NDArray[np.int64]
    low: FloatArray
    high: FloatArray
    spacing: FloatArray


def slots_of(columns: Columns, reach: Reach, share: float) -> Slots:
    """The fewest holes for each column and the slot of each hole.

    n holes reach n x (down + up) of the height at most, so n = ceil(share x height / (down + up)). Where n falls short
    of the whole height (by no more than 1 - share of it) the gap is spread: slots are those of a reach longer by that
    factor. With n settled, hole i (from 0) may stand no higher than bottom + down + i x (down + up), or something
    below it is missed, and no lower than top - up - (n - 1 - i) x (down + up).

    >>> import numpy as np
    >>> one = Columns(np.array([0.0]), np.array([3.0]), np.array([0.1]), np.array([2.9]))
    >>> found = slots_of(one, Reach(1.0, 1.0, 0.4), 0.999)
    >>> found.count.tolist(), found.low.tolist(), found.high.tolist()
    ([2], [[0.1, 2.0]], [[1.0, 2.9]])
    """
    height = columns.top - columns.bottom
    count = np.maximum(1, np.ceil(share * height / reach.height - 1e-9)).astype(np.int64)
    stretch = np.maximum(1.0, height / (count * reach.height))
    spacing = reach.height * stretch
    step = np.arange(int(count.max(initial=1)))
    low = (columns.top - reach.up * stretch - (count - 1) * spacing)[:, None] + step * spacing[:, None]
    high = (columns.bottom + reach.down * stretch)[:, None] + step * spacing[:, None]
    low = np.maximum(low, columns.low[:, None])
    high = np.minimum(high, columns.high[:, None])
    beyond = step >= count[:, None]
    possible = ((low <= high + ALIKE) | beyond).all(axis=1)
    low[beyond], high[beyond] = np.nan, np.nan
    return Slots(np.where(possible, count, 0), np.minimum(low, high), high, spacing)


def row_heights(slots: Slots, wish: RowWish) -> FloatArray:
    """Heights (n, most) float64, m, for the holes of every column; NaN beyond its count.

    The height that lies in the slots of most columns becomes a row, then the next, until every slot has one; between
    equals the easiest to work wins. Slots of the same column are narrowed after each choice, which keeps every later
    choice possible (difference constraints along a chain).
    """
    serve = np.flatnonzero(slots.count > 0)
    heights = np.full(slots.low.shape, np.nan)
    if not len(serve):
        return heights
    groups = _alike(np.column_stack([slots.low[serve], slots.high[serve], slots.spacing[serve]]))
    kind = serve[[columns[0] for columns in groups]]
    weight = np.array([len(columns) for columns in groups])
    chosen = _choose(slots.low[kind], slots.high[kind], slots.spacing[kind], weight, wish)
    for columns, rows in zip(groups, chosen, strict=True):
        own = serve[columns]
        heights[own] = np.clip(rows, slots.low[own], slots.high[own])
    return heights


def _alike(columns: FloatArray) -> list[list[int]]:
    """Columns (n, k) that are one to within `ALIKE`, by their numbers."""
    groups: dict[bytes, list[int]] = {}
    for number, marks in enumerate(np.nan_to_num(np.round(columns / ALIKE), nan=-1.0) + 0.0):
        groups.setdefault(marks.tobytes(), []).append(number)
    return list(groups.values())


def _choose(
    low: FloatArray, high: FloatArray, spacing: FloatArray, weight: NDArray[np.int64], wish: RowWish
) -> FloatArray:
    """Greedy choice of rows over distinct columns (g, most)."""
    low, high = low.copy(), high.copy()
    heights = np.full(low.shape, np.nan)
    step = np.arange(low.shape[1])
    while True:
        waiting = np.isnan(heights) & ~np.isnan(low)
        if not waiting.any():
            return heights
        trial = _trial_heights(low[waiting], high[waiting], wish)
        fits = waiting & (low <= trial[:, None, None]) & (high >= trial[:, None, None])
        served = fits.any(axis=2) @ weight
        best = int(np.lexsort((_effort(trial, wish), -served))[0])
        height = float(trial[best])
        columns = np.flatnonzero(fits[best].any(axis=1))
        slot = fits[best].argmax(axis=1)[columns]
        heights[columns, slot] = height
        apart = (step - slot[:, None]) * spacing[columns, None]
        high[columns] = np.where(apart > 0, np.minimum(high[columns], height + apart), high[columns])
        low[columns] = np.where(apart < 0, np.maximum(low[columns], height + apart), low[columns])
        # Rounding may leave a slot of no width with its ends crossed; it is that one height.
        low = np.minimum(low, high)


def _trial_heights(low: FloatArray, high: FloatArray, wish: RowWish) -> FloatArray:
    """Heights worth trying: ends of slots, whole centimetres just inside them, and the wished ones."""
    ends = np.concatenate([low, high, np.ceil(low / TIDY) * TIDY, np.floor(high / TIDY) * TIDY])
    return np.unique(np.append(ends, [wish.comfortable, wish.standing]))


def _effort(heights: FloatArray, wish: RowWish) -> FloatArray:
    """Smaller is easier: near the comfortable height, else within standing reach, else as low as can be."""
    away = np.abs(heights - wish.comfortable)
    untidy = np.abs(heights / TIDY - np.round(heights / TIDY)) > 1e-6
    return away + np.where(heights > wish.standing + 1e-9, 10.0, 0.0) + np.where(untidy, TIDY, 0.0)
