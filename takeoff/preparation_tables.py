"""Table of what is done before the netting goes up."""

from __future__ import annotations

from takeoff.columns import Table, number, text
from takeoff.fill_order import Preparation

PREPARATIONS: Table[Preparation] = Table(
    "preparations",
    "One thing to do at one cavity before the netting goes up.",
    "as cavities.csv",
    (
        text("cavity_id", "cavity", lambda p: p.cavity_id),
        text(
            "kind",
            "before_sheathing, hand_fill, seal, blocker, eave_baffle, box or ceiling (README, preparations)",
            lambda p: p.kind,
        ),
        text("storey", "name of the storey", lambda p: p.storey),
        text("room", "room on the fill side", lambda p: p.room),
        text("reason", "why, and what is to be done", lambda p: p.reason),
        number("length_m", "m", "of a blocker or baffle; with a ceiling, the bay's width", lambda p: p.length or None),
        number("area_m2", "m2", "of a blocker", lambda p: p.area or None),
        number("volume_m3", "m3", "that is filled by hand, before sheathing, or sealed", lambda p: p.volume or None),
        text("layer_key", "stud layer", lambda p: p.layer_key),
    ),
)
