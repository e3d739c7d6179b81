"""Tables of the fill plan: a row per hole, and a row per cavity or part that is filled by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from takeoff.columns import Table, count, number, text, truth
from takeoff.fill import HandFill, Hole
from takeoff.piece_tables import outline_texts


def layer_key_of(cavity_id: str) -> str:
    """The key of the stud layer, which every cavity's id begins with.

    >>> layer_key_of("2O2Fr$t4X7Zf8NOew3FLOH#2/c07")
    '2O2Fr$t4X7Zf8NOew3FLOH#2'
    """
    return cavity_id.rpartition("/")[0]


HOLES: Table[Hole] = Table(
    "holes",
    "One hole in the netting.",
    "as cavities.csv, then by number: bottom to top, then left to right, which is the order of filling",
    (
        text("cavity_id", "cavity that it serves", lambda h: h.cavity_id),
        count("hole", "number in its cavity, from 1", lambda h: h.number),
        text("pass", "lower or upper: lower holes are filled first", lambda h: h.fill_pass),
        number("x_m", "m", "centre in wall axes", lambda h: h.x),
        number("z_m", "m", "centre in wall axes", lambda h: h.z),
        number("height_above_floor_m", "m", "centre above the floor", lambda h: h.height),
        truth("ladder", "above standing reach: from a ladder or stilts", lambda h: h.ladder),
        number("world_x_m", "m", "centre in the model's own axes", lambda h: h.world[0]),
        number("world_y_m", "m", "centre in the model's own axes", lambda h: h.world[1]),
        number("world_z_m", "m", "centre in the model's own axes", lambda h: h.world[2]),
        number("diameter_m", "m", "what the hose needs", lambda h: h.diameter),
        number("cut_m", "m", "length of the slit", lambda h: h.cut),
        number("reached_area_m2", "m2", "part of the cavity that it reaches", lambda h: h.reached_area),
        text("layer_key", "stud layer", lambda h: layer_key_of(h.cavity_id)),
    ),
)


@dataclass(frozen=True, slots=True, eq=False)
class HandFillRow:
    """One place that is filled by hand, with what is computed for all of them at once."""

    part: HandFill
    outline_wkt: str


def hand_fill_rows(parts: Sequence[HandFill]) -> list[HandFillRow]:
    """Rows of hand_fills.csv, in the order given."""
    texts = outline_texts([part.outline for part in parts])
    return [HandFillRow(part, text) for part, text in zip(parts, texts, strict=True)]


HAND_FILLS: Table[HandFillRow] = Table(
    "hand_fills",
    "One cavity, or the part of one that no hole reaches, that is not blown.",
    "as cavities.csv",
    (
        text("cavity_id", "cavity", lambda r: r.part.cavity_id),
        text("method", "batt, seal or before_sheathing", lambda r: r.part.method),
        text("reason", "why it is not blown", lambda r: r.part.reason),
        truth("whole", "true for a whole cavity, false for a part of one", lambda r: r.part.whole),
        number("area_m2", "m2", "area in elevation", lambda r: r.part.area),
        number("volume_m3", "m3", "volume; of a part, its share by area", lambda r: r.part.volume),
        text("outline_wkt", "corners of the outline (x z) in wall axes, m, as WKT", lambda r: r.outline_wkt),
        text("layer_key", "stud layer", lambda r: layer_key_of(r.part.cavity_id)),
    ),
)
