"""Strips of netting laid out on cuts of a roll, and what is left of a cut used for other strips.

A cut is a length of the whole roll. Strips are taken longest first. Each goes into the smallest rest that holds it,
along the roll or turned; what is then left of that rest is parted in two by one straight cut, so that the larger part
stays whole. Rests are what a strip leaves beside and behind it, and what is cut out of a strip for an opening: strips
from such a piece are hung last. Where no rest holds a strip, it begins a new cut.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NARROWEST_REST = 0.05
"""m; a narrower rest serves nothing."""
SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Rest:
    """A rectangle of netting: its place across and along its cut, its width across and its length along. m"""

    cut: int
    across: float
    along: float
    width: float
    length: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """A strip: its width across and length along the roll, m, and the rectangles that openings leave in it."""

    width: float
    length: float
    cut_outs: tuple[Rest, ...] = ()
    """Places from the strip's own corner; `cut` means nothing here."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a strip lies."""

    cut: int
    across: float
    along: float
    turned: bool
    """True where its length lies across the roll."""


NOWHERE = Place(-1, 0.0, 0.0, False)
"""Of a strip that is not laid on a cut yet."""


def lay_on_cuts(wanted: Sequence[Wanted], roll_width: float) -> tuple[list[Place], list[float]]:
    """The place of every strip as given, and the length of every cut, m."""
    places: dict[int, Place] = {}
    lengths: list[float] = []
    rests = _Rests()
    for index in sorted(range(len(wanted)), key=lambda each: (-wanted[each].length, -wanted[each].width, each)):
        strip = wanted[index]
        found = rests.take_smallest(strip)
        if found is None:
            rest, turned = Rest(len(lengths), 0.0, 0.0, roll_width, strip.length), False
            lengths.append(strip.length)
        else:
            rest, turned = found
        places[index] = Place(rest.cut, rest.across, rest.along, turned)
        size = (strip.length, strip.width) if turned else (strip.width, strip.length)
        rests.add(_left(rest, *size))
        if not turned:
            rests.add(
                Rest(rest.cut, rest.across + each.across, rest.along + each.along, each.width, each.length)
                for each in strip.cut_outs
            )
    return [places[index] for index in range(len(wanted))], lengths


class _Rests:
    """Rests by rising area, those of one area in the order in which they were made."""

    def __init__(self) -> None:
        self._kept: list[tuple[float, int, Rest]] = []
        self._made = 0

    def add(self, rests: Iterable[Rest]) -> None:
        """Keeps more rests."""
        for rest in rests:
            insort(self._kept, (rest.width * rest.length, self._made, rest))
            self._made += 1

    def take_smallest(self, strip: Wanted) -> tuple[Rest, bool] | None:
        """The smallest rest that holds a strip, no longer kept, and whether the strip has to be turned."""
        width, length = strip.width - SLACK, strip.length - SLACK
        first = bisect_left(self._kept, (width * length - SLACK, -1))
        for place in range(first, len(self._kept)):
            rest = self._kept[place][2]
            along = width <= rest.width and length <= rest.length
            if along or (length <= rest.width and width <= rest.length):
                del self._kept[place]
                return rest, not along
        return None


def _left(rest: Rest, width: float, length: float) -> list[Rest]:
    """What a piece leaves of a rest, parted by one straight cut."""
    beside, behind = rest.width - width, rest.length - length
    at_side, at_end = rest.across + width, rest.along + length
    if beside * rest.length >= behind * rest.width:
        parts = (
            Rest(rest.cut, at_side, rest.along, beside, rest.length),
            Rest(rest.cut, rest.across, at_end, width, behind),
        )
    else:
        parts = (
            Rest(rest.cut, at_side, rest.along, beside, length),
            Rest(rest.cut, rest.across, at_end, rest.width, behind),
        )
    return [each for each in parts if min(each.width, each.length) >= NARROWEST_REST]
