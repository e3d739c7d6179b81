"""Rows of blocking between studs, and the upright stops that part the space between two rows of studs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from takeoff.framing.pieces import TOUCH, Form, Outline, Piece, Place, rectangle
from takeoff.framing.room import Room, apart, room_within
from takeoff.framing.rules import FramingRules
from takeoff.model import MemberRole


def blocking_rows(core: Room, bays: Room, foot: float, rules: FramingRules) -> list[Piece]:
    """Blocks between studs: rows at stated heights, and rows that part what is still higher than the rules allow.

    core: the wall between its plates. bays: what studs and openings leave of it. foot: underside of the wall, m.
    """
    stated, by_height = _levels(core, foot, rules)
    if not (stated or by_height):
        return []
    spaces = bays.parts()
    tall = [part for part in spaces if part.z_max - part.z_min > rules.blocking_above + TOUCH]
    rows = [(level, tall) for level in by_height] + [(level, spaces) for level in stated]
    return [piece for level, where in sorted(rows, key=_level_of) for piece in _row(level, where, bays.grid, rules)]


def _level_of(row: tuple[float, Sequence[Outline]]) -> float:
    return row[0]


def rows_wanted(core: Room, foot: float, rules: FramingRules) -> bool:
    """Whether a wall between its plates gets any row of blocking."""
    stated, by_height = _levels(core, foot, rules)
    return bool(stated or by_height)


def _levels(core: Room, foot: float, rules: FramingRules) -> tuple[list[float], list[float]]:
    """Middles of the stated rows, and of the rows that part the stretches between those evenly, m."""
    box = core.bounds
    if box is None:
        return [], []
    _, low, _, high = box
    stated: list[float] = []
    for level in sorted(foot + height for height in rules.blocking_heights):
        # Two rows that would lie in each other are one.
        if low < level < high and (not stated or level - stated[-1] >= rules.stud_thickness):
            stated.append(level)
    by_height: list[float] = []
    if math.isfinite(rules.blocking_above):
        for start, stop in pairwise([low, *stated, high]):
            count = max(math.ceil((stop - start) / rules.blocking_above - 1e-6) - 1, 0)
            by_height += [start + (stop - start) * number / (count + 1) for number in range(1, count + 1)]
    return stated, by_height


def _row(middle: float, spaces: Sequence[Outline], grid: float | None, rules: FramingRules) -> list[Piece]:
    """The blocks of one row: only where the whole height of the block finds room."""
    half = 0.5 * rules.stud_thickness if rules.material == "wood" else 0.5 * rules.plate_thickness
    blocks: list[Piece] = []
    for space in spaces:
        x_min, z_min, x_max, z_max, _ = space
        if not z_min + half < middle < z_max - half:
            continue
        band = rectangle(x_min - 1.0, middle - half, x_max + 1.0, middle + half)
        for part in room_within([space], grid).common(band):
            if part.z_max - part.z_min > 2.0 * half - 2.0 * TOUCH and part.x_max - part.x_min > 0.01:
                blocks.append(Piece(part, MemberRole.BLOCKING, "row of blocking by height", Form.TRACK))
    return blocks


def fire_stop_lines(lines: NDArray[np.float64], x_min: float, x_max: float, rules: FramingRules) -> NDArray[np.float64]:
    """Layout lines (n,), m, at which the space of two rows is stopped: no stretch is longer than the rule allows."""
    chosen: list[float] = []
    start = x_min
    while x_max - start > rules.fire_stop_interval + TOUCH:
        allowed = lines[(lines > start + TOUCH) & (lines <= start + rules.fire_stop_interval + TOUCH)]
        if len(allowed) == 0:
            break
        start = float(allowed[-1])
        chosen.append(start)
    return np.array(chosen, dtype=np.float64)


def fire_stops(stop_lines: NDArray[np.float64], space: Room, foot: float, rules: FramingRules) -> list[Piece]:
    """Stops between two rows of studs: upright at given lines, level at the stated heights of blocking.

    space: the wall's outline less its openings. foot: underside of the wall, m.
    """
    box = space.bounds
    if box is None:
        return []
    x_min, low, x_max, high = box
    half = 0.5 * rules.fire_stop_thickness
    strips = [rectangle(x_min, z - half, x_max, z + half) for z in _levels(space, foot, rules)[0]]
    strips += [rectangle(line - half, low, line + half, high) for line in stop_lines.tolist()]
    stops = [
        Piece(part, MemberRole.BLOCKING, "fire stop between the rows of studs", Form.BOARD, Place.BETWEEN_ROWS)
        for strip in strips
        for part in space.common(strip)
    ]
    return apart(stops, space.grid)
