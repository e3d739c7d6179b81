"""Scales of drawings and their scale bars."""

from __future__ import annotations

from reports.drawing import Line, On, Pen, Point, Shape, Words, rectangle
from takeoff.units import FOOT, UnitSystem

SCALES = (10.0, 20.0, 25.0, 50.0, 75.0, 100.0)
"""Scales of elevations, largest first: what a scale rule has."""
SMALL_SCALES = (150.0, 200.0, 250.0, 500.0, 1000.0, 2000.0, 5000.0)
"""Further scales for plans, and for walls too long for a page."""

_BARS = {
    "metric": (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0),
    "us": tuple(feet * FOOT for feet in (0.5, 1, 2, 4, 5, 10, 20, 50, 100, 200, 500)),
}
_LONGEST_BAR = 50.0
"""mm"""


def fitting_scale(width: float, height: float, room: Point, scales: tuple[float, ...] = SCALES) -> float:
    """The largest scale at which a width and height in m fit into room (mm, mm); beyond the list, the next of 500."""
    for scale in (*scales, *(each for each in SMALL_SCALES if each > scales[-1])):
        if width * 1000.0 / scale <= room[0] and height * 1000.0 / scale <= room[1]:
            return scale
    least = max(width * 1000.0 / max(room[0], 1.0), height * 1000.0 / max(room[1], 1.0))
    return 500.0 * (int(least / 500.0) + 1)


def scale_bar(at: Point, scale: float, system: UnitSystem, words: str) -> tuple[Shape, ...]:
    """A bar of four fields from `at` to the right, with its length, and the words that give the scale."""
    x, y = at
    length = max((each for each in _BARS[system] if each * 1000.0 / scale <= _LONGEST_BAR), default=_BARS[system][0])
    step = length * 250.0 / scale
    fields = [
        rectangle((x + n * step, y, x + (n + 1) * step, y + 1.2), On.LEGEND, 0.0 if n % 2 == 0 else 1.0, Pen(0.12))
        for n in range(4)
    ]
    end = x + 4 * step
    whole = f"{length:g} m" if system == "metric" else f"{length / FOOT:g} ft"
    ticks = [Line(((each, y), (each, y + 1.8)), On.LEGEND, Pen(0.12)) for each in (x, end)]
    return (
        *fields,
        *ticks,
        Words(end + 1.2, y + 0.8, whole, 2.4, On.LEGEND, "start"),
        Words(end + 12.0, y + 0.8, words, 2.4, On.LEGEND, "start"),
    )
