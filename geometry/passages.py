"""Which sections seen at one depth after another are open to each other: the cells of a void, joined through the
depth."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import Polygon

from geometry.boxes import are_boxes
from geometry.connected import groups_of
from geometry.tolerances import Tolerances

Pairs = list[tuple[int, int]]
"""Numbers of two cells each."""


def joined_cells(cells: Sequence[list[Polygon]], tolerances: Tolerances) -> list[list[tuple[int, Polygon]]]:
    """Cells of neighbouring looks that overlap in elevation belong together: groups of (look number, cell)."""
    runs, rows = _runs(cells)
    pairs: Pairs = []
    doubtful: Pairs = []
    for near, far in pairwise(rows):
        if near is not far:
            for found, here in zip((pairs, doubtful), _meetings(runs, near, far, tolerances), strict=True):
                found += here
    # What only an overlay can tell is laid over each other for all looks at once.
    pairs += _passages(runs, doubtful, tolerances)
    groups = groups_of(len(runs), pairs)
    owners = {run: number for number, group in enumerate(groups) for run in group}
    joined: list[list[tuple[int, Polygon]]] = [[] for _ in groups]
    for look, (cells_here, runs_here) in enumerate(zip(cells, rows, strict=True)):
        for cell, run in zip(cells_here, runs_here, strict=True):
            joined[owners[run]].append((look, cell))
    return joined


def _runs(cells: Sequence[list[Polygon]]) -> tuple[list[Polygon], list[list[int]]]:
    """Every cell once that stays the same object from look to look, and for each look the numbers of its cells."""
    runs: list[Polygon] = []
    rows: list[list[int]] = []
    before: dict[int, int] = {}
    for look, row in enumerate(cells):
        if look and row is cells[look - 1]:
            rows.append(rows[-1])
            continue
        here: dict[int, int] = {}
        for cell in row:
            here[id(cell)] = before.get(id(cell), len(runs))
            if here[id(cell)] == len(runs):
                runs.append(cell)
        rows.append(list(here.values()))
        before = here
    return runs, rows


def _meetings(
    cells: Sequence[Polygon], near: Sequence[int], far: Sequence[int], tolerances: Tolerances
) -> tuple[Pairs, Pairs]:
    """Pairs of cells, by their numbers, of two neighbouring looks that are open to each other, and those that may be.

    A cell that goes on meets no other: the cells of one look do not overlap.
    """
    ended, begun = sorted(set(near) - set(far)), sorted(set(far) - set(near))
    if not ended or not begun:
        return [], []
    near_cells, far_cells = [cells[one] for one in ended], [cells[one] for one in begun]
    near_boxes, far_boxes = shapely.bounds(near_cells), shapely.bounds(far_cells)
    low = np.maximum(near_boxes[:, None, :2], far_boxes[None, :, :2])
    high = np.minimum(near_boxes[:, None, 2:], far_boxes[None, :, 2:])
    shared = (high - low).min(axis=2)
    near_plain, far_plain = (
        are_boxes(shapely.area(shapes), boxes) for shapes, boxes in ((near_cells, near_boxes), (far_cells, far_boxes))
    )
    plain = near_plain[:, None] & far_plain[None]
    sure, doubtful = plain & (shared >= tolerances.closing_width), ~plain & (shared > 0.0)
    found, maybe = (
        [(ended[one], begun[other]) for one, other in np.argwhere(mask).tolist()] for mask in (sure, doubtful)
    )
    return found, maybe


def _passages(cells: Sequence[Polygon], pairs: Pairs, tolerances: Tolerances) -> Pairs:
    """Those pairs of cells whose overlap is a passage: larger than rounding, and no strip narrower than a sliver."""
    if not pairs:
        return []
    array, (one, other) = np.array(cells, dtype=object), np.array(pairs).T
    common = shapely.intersection(array[one], array[other])
    wide = np.flatnonzero(shapely.area(common) > tolerances.least_area)
    shrunk = shapely.buffer(common[wide], -tolerances.closing_width / 2.0)
    return [pairs[number] for number in wide[~shapely.is_empty(shrunk)].tolist()]
