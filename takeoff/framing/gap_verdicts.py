"""Which gaps of a frame are openings, which are cavities, and which are taken as a cavity with a word about it."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.frame_voids import FrameVoids
from takeoff.framing.gap_evidence import Evidence


class Verdict(IntEnum):
    CAVITY = 0
    UNSURE = 1
    """Taken as a cavity, and said so."""
    OPENING = 2


def verdicts_of(
    voids: FrameVoids, evidence: Sequence[Evidence], settled: NDArray[np.bool_], settings: FrameSettings
) -> list[Verdict]:
    """A verdict for every gap. Gaps next to one that is an opening need more than width to be one themselves."""
    first = [
        Verdict.CAVITY if settled[row] else verdict_of(voids, row, one, settings) for row, one in enumerate(evidence)
    ]
    result = list(first)
    for row, verdict in enumerate(first):
        if verdict is Verdict.CAVITY or settled[row]:
            continue
        one = evidence[row]
        opened_above = any(settled[n] or first[n] is Verdict.OPENING for n in voids.over[row])
        opened_below = any(settled[n] or first[n] is Verdict.OPENING for n in voids.under[row])
        if verdict is Verdict.UNSURE and (opened_above or opened_below) and not one.broken_plate:
            result[row] = Verdict.CAVITY
        headed = any(settled[n] or evidence[n].header or evidence[n].trimmers for n in voids.over[row])
        if verdict is Verdict.OPENING and opened_above and headed and not one.broken_plate:
            result[row] = Verdict.UNSURE if voids.height[row] >= settings.door_height else Verdict.CAVITY
    return result


def verdict_of(voids: FrameVoids, row: int, one: Evidence, settings: FrameSettings) -> Verdict:
    """What one gap is by its own evidence: two independent signs make it an opening, one alone makes it doubtful."""
    if parts_two_frames(voids, row):
        return Verdict.OPENING
    if min(voids.width[row], voids.height[row]) < settings.least_opening:
        return Verdict.CAVITY
    tall = bool(voids.height[row] >= settings.door_height)
    if one.broken_plate:
        doorlike = tall and one.width >= max(0.6, 1.1 * voids.usual)
        signs = one.header or one.trimmers > 0 or one.wide or doorlike
        return Verdict.OPENING if signs else Verdict.UNSURE
    on_plate = bool(voids.lowest[row])
    if on_plate and not tall:
        return Verdict.CAVITY if not (one.wide and one.header) else Verdict.UNSURE
    if one.trimmers == 2 and (one.header or one.sill or one.wide or not on_plate):
        return Verdict.OPENING
    if one.header and (one.wide or one.trimmers):
        return Verdict.OPENING
    if one.sill and one.wide:
        return Verdict.OPENING
    doubtful = one.trimmers == 2 or (one.wide and one.width > settings.widest_bay)
    return Verdict.UNSURE if doubtful else Verdict.CAVITY


def parts_two_frames(voids: FrameVoids, row: int) -> bool:
    """Whether a gap runs along most of the wall between the bays of a lower and of an upper frame."""
    if len(voids.under[row]) < 2 or len(voids.over[row]) < 2:
        return False
    length = voids.box[:, 2].max() - voids.box[:, 0].min()
    return bool(voids.width[row] >= max(0.8 * length, 3.0 * voids.usual) and voids.height[row] >= 0.1)
