"""How each cavity is filled, and why: blown, by hand, before sheathing, sealed, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from takeoff.fill_place import FillPlace
from takeoff.hole_positions import has_room
from takeoff.hose import HoseSettings
from takeoff.model import Cavity, CavityKind, Method


def decide_methods(cavities: Sequence[Cavity], place: FillPlace, hose: HoseSettings) -> list[tuple[Method, str]]:
    """How each cavity is filled, and why: the first rule that applies, in the order of `_decide`."""
    fronts = np.array([cavity.front for cavity in cavities], dtype=object)
    hole_fits, hand_fits = has_room(fronts, hose.clearance), has_room(fronts, 0.5 * hose.hand_width)
    open_area = shapely.area(fronts)
    return [
        _decide(cavity, place, hose, _Front(bool(hole), bool(hand), float(area)))
        for cavity, hole, hand, area in zip(cavities, hole_fits, hand_fits, open_area, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _Front:
    """What can be done through the open front of a cavity. open_area: m2."""

    hole_fits: bool
    hand_fits: bool
    open_area: float


def _decide(cavity: Cavity, place: FillPlace, hose: HoseSettings, front: _Front) -> tuple[Method, str]:
    if cavity.kind is CavityKind.OPENING_GAP or cavity.method is Method.NONE:
        return Method.NONE, cavity.reason
    if not place.insulated:
        return Method.NONE, f"the wall is not insulated: {place.insulated_reason or 'no reason was given'}"
    if cavity.kind is CavityKind.SLIVER or cavity.method is Method.SEAL:
        return Method.SEAL, cavity.reason
    hidden = _why_hidden(cavity, hose, front)
    if hidden:
        return Method.BEFORE_SHEATHING, hidden
    small = _why_by_hand(cavity, hose, front)
    if small:
        return Method.BATT, small
    return Method.BLOW, "the hose reaches it through the netting"


def _why_hidden(cavity: Cavity, hose: HoseSettings, front: _Front) -> str:
    """Why a cavity can only be filled before the wall is sheathed; empty where it can be filled from the front."""
    if cavity.method is Method.BEFORE_SHEATHING or cavity.kind is CavityKind.CLOSED_POCKET:
        return cavity.reason
    if front.open_area <= 0.0:
        return "no part of it is open on the fill side"
    if front.hole_fits:
        return ""
    if not front.hand_fits:
        return f"its opening on the fill side is narrower than {hose.hand_width:.3f} m, too narrow to fill by hand"
    if front.open_area < hose.hand_front * cavity.outline.area:
        return f"less than {100.0 * hose.hand_front:.0f} % of it is open on the fill side"
    return ""


def _why_by_hand(cavity: Cavity, hose: HoseSettings, front: _Front) -> str:
    """Why a cavity that is open in front is not blown; empty where it is."""
    needed = max(2.0 * hose.clearance, hose.least_width)
    depth = cavity.y_max - cavity.y_min
    if cavity.clear_width < needed - 1e-9:
        return f"clear width {cavity.clear_width:.3f} m is less than the {needed:.3f} m that the hose needs"
    if depth < hose.least_depth - 1e-9:
        return f"depth {depth:.3f} m is less than {hose.least_depth:.3f} m"
    if cavity.volume < hose.least_volume:
        return f"volume {cavity.volume:.4f} m3 is less than {hose.least_volume:.4f} m3"
    if not front.hole_fits:
        return f"its opening on the fill side is nowhere {needed:.3f} m wide, as the hole needs"
    return ""
