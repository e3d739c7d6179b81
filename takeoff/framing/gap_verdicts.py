"""Which gaps of a frame are openings, which are cavities, and which are taken as a cavity with a word about it."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from takeoff.framing.frame_settings import FrameSettings
from takeoff.framing.frame_voids import FrameVoids
from takeoff.framing.gap_evidence import Evidence

STAGGER = 0.15
"""m. Blockings of one row are staggered by no more than this, to be nailed through the studs (common practice)."""
THREE_STUDS = 0.2
"""m. Two short studs with the long one between them are no broader than this."""


class Verdict(IntEnum):
    CAVITY = 0
    UNSURE = 1
    """Taken as a cavity, and said so."""
    OPENING = 2


def verdicts_of(
    voids: FrameVoids, evidence: Sequence[Evidence], settled: NDArray[np.bool_], settings: FrameSettings
) -> list[Verdict]:
    """A verdict for every gap. Gaps next to one that is an opening need more than width to be one themselves.

    settled: (n,) bool, gaps that an opening element, a door or a window takes.
    """
    first = [
        Verdict.CAVITY if settled[row] else verdict_of(voids, row, one, settings) for row, one in enumerate(evidence)
    ]
    opened = settled | np.array([verdict is Verdict.OPENING for verdict in first], dtype=bool)
    asked = [row for row, one in enumerate(evidence) if not settled[row] and (one.spanned or first[row])]
    result = list(first)
    for row in asked:
        if not evidence[row].broken_plate:
            result[row] = _beside_others(voids, row, first[row], (evidence, settled, opened), settings)
    return result


def _beside_others(
    voids: FrameVoids,
    row: int,
    verdict: Verdict,
    others: tuple[Sequence[Evidence], NDArray[np.bool_], NDArray[np.bool_]],
    settings: FrameSettings,
) -> Verdict:
    """The verdict about a gap over a whole plate once the gaps around it are known.

    others: evidence of all gaps; those that openings of the model take; those that are openings by themselves, too.
    """
    evidence, settled, opened = others
    one, over = evidence[row], list(voids.over[row])
    tall = bool(voids.height[row] >= settings.door_height)
    # A door under a fanlight, or one whose header is nailed between two studs; where the light over it is modelled, so
    # would be the door.
    doorway = tall and one.doorlike and bool(voids.lowest[row]) and not settled[over].any()
    if verdict is Verdict.CAVITY:
        return Verdict.UNSURE if doorway and not _blocked_alike(voids, row, evidence) else Verdict.CAVITY
    if verdict is Verdict.UNSURE and (opened[over].any() or opened[list(voids.under[row])].any()):
        return Verdict.UNSURE if doorway else Verdict.CAVITY
    headed = any(settled[n] or evidence[n].header or evidence[n].trimmers for n in over)
    if verdict is Verdict.OPENING and opened[over].any() and headed:
        return Verdict.UNSURE if tall else Verdict.CAVITY
    return Verdict.UNSURE if verdict is Verdict.OPENING and _in_a_row(voids, row, evidence) else verdict


def _blocked_alike(voids: FrameVoids, row: int, evidence: Sequence[Evidence]) -> bool:
    """Whether the piece over a gap is one of a row of blockings: a plain bay beside it has one at its level, too."""
    plain = np.array([one.spanned and not one.doorlike and not one.trimmers for one in evidence], dtype=bool)
    return bool((plain & _at_level(voids, row)).any())


def _at_level(voids: FrameVoids, row: int) -> NDArray[np.bool_]:
    """Gaps on the plate right beside one, closed above at about its level, (n,) bool."""
    apart = np.maximum(voids.box[:, 0] - voids.box[row, 2], voids.box[row, 0] - voids.box[:, 2])
    level = voids.lowest & (np.abs(voids.ceiling - voids.ceiling[row]) <= STAGGER)
    return level & (apart > 0.0) & (apart <= THREE_STUDS)


def _in_a_row(voids: FrameVoids, row: int, evidence: Sequence[Evidence]) -> bool:
    """Whether a gap on the plate and the one beside it, too narrow for doors, are closed alike at one level.

    So are the bays under a row of blockings that stand on short studs.
    """
    if not voids.lowest[row]:
        return False
    narrow = np.array([one.header and one.trimmers == 2 and not one.doorlike for one in evidence], dtype=bool)
    return bool(narrow[row] and (narrow & _at_level(voids, row)).any())


def verdict_of(voids: FrameVoids, row: int, one: Evidence, settings: FrameSettings) -> Verdict:
    """What one gap is by its own evidence: two independent signs make it an opening, one alone makes it doubtful.

    A header that rests on trimmers on both sides, longer studs behind them, is two signs at any width. Where such a
    gap is too low for a door it may be the space under a sill or a shelf, and is doubtful.
    """
    if parts_two_frames(voids, row):
        return Verdict.OPENING
    if min(voids.width[row], voids.height[row]) < settings.least_opening:
        return Verdict.CAVITY
    tall = bool(voids.height[row] >= settings.door_height)
    if one.broken_plate:
        signs = one.header or one.trimmers > 0 or one.wide or (tall and one.doorlike)
        return Verdict.OPENING if signs else Verdict.UNSURE
    on_plate = bool(voids.lowest[row])
    framed = one.header and one.trimmers == 2
    if on_plate and not tall:
        return Verdict.UNSURE if one.header and (one.wide or framed) else Verdict.CAVITY
    if framed or (one.trimmers == 2 and (one.sill or one.wide or not on_plate)):
        return Verdict.OPENING
    if one.header and (one.wide or one.trimmers or one.sill):
        return Verdict.OPENING
    if one.sill and one.wide and not _over_a_beam(voids, row, settings):
        return Verdict.OPENING
    return Verdict.UNSURE if _doubtful(one, settings, on_plate=on_plate) else Verdict.CAVITY


def _doubtful(one: Evidence, settings: FrameSettings, *, on_plate: bool) -> bool:
    """Whether a gap high enough for a door, or one between two lying pieces, shows a single sign of an opening."""
    if one.trimmers == 2 or one.resting or (one.wide and one.width > settings.widest_bay):
        return True
    return on_plate and one.doorlike and (one.header or one.trimmers > 0)


def _over_a_beam(voids: FrameVoids, row: int, settings: FrameSettings) -> bool:
    """Whether a gap under the top line starts so high that what closes it below is as well a beam on studs."""
    return bool(voids.highest[row] and voids.floor[row] - voids.box[:, 1].min() >= settings.door_height)


def parts_two_frames(voids: FrameVoids, row: int) -> bool:
    """Whether a gap runs along most of the wall between the bays of a lower and of an upper frame."""
    if len(voids.under[row]) < 2 or len(voids.over[row]) < 2:
        return False
    length = voids.box[:, 2].max() - voids.box[:, 0].min()
    return bool(voids.width[row] >= max(0.8 * length, 3.0 * voids.usual) and voids.height[row] >= 0.1)
