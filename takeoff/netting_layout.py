"""Netting cut from rolls for a whole job: the strips of every wall, from the widths that can be bought.

Every choice of widths gives every wall a few ways to be hung (`takeoff.netting_strips`). The layout begins with the
choice that does best for all walls and then exchanges the way of single walls as long as the job takes less. How
off-cuts are used is said in `takeoff.netting_cuts`; what is left of the last roll is stock, not waste. The plain method
that it is held against is one more candidate, so no layout takes more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf

from takeoff.netting_cuts import Place, Wanted, lay_on_cuts
from takeoff.netting_rolls import MOST_TRIES, Packing, fewest_rolls
from takeoff.netting_strips import PIECE_WORTH, Cover, Face, Roll, Strip, WallStrips

MOST_WIDTHS_COMBINED = 4
"""Of more widths of roll only single ones and all together are tried."""
MOST_WORK = 60_000
"""Strips laid on cuts while ways are exchanged, all attempts together; a bound in steps, so that every machine ends
with the same layout. A house is done long before it."""

MOST_WAYS = 12
"""Ways of one wall that are exchanged: those that take the least fabric by themselves."""

Way = tuple[Strip, ...]
"""Strips that cover one wall."""
Rank = Callable[[float, float, int], tuple[float, ...]]
"""What is to be least, of m2 that are cut, m2 of whole rolls and the number of strips."""


@dataclass(frozen=True, slots=True)
class NettingLayout:
    """All strips of a job with what they take."""

    rolls: tuple[Roll, ...]
    strips: tuple[Strip, ...]
    counts: tuple[int, ...]
    """Rolls of each kind."""
    used: tuple[float, ...]
    """m2 cut from each kind."""
    fewest_proved: bool
    """True where no fewer rolls of each kind give these cuts."""
    failed: tuple[str, ...] = ()
    """Keys of faces that no roll can cover."""

    @property
    def used_area(self) -> float:
        """m2 cut from all rolls."""
        return sum(self.used)

    @property
    def net_area(self) -> float:
        """m2 of wall that is covered."""
        return sum(strip.net for strip in self.strips)

    @property
    def ordered_area(self) -> float:
        """m2 of whole rolls."""
        return sum(count * roll.area for count, roll in zip(self.counts, self.rolls, strict=True))


def plain_layout(faces: Sequence[Face], rolls: Sequence[Roll], cover: Cover) -> NettingLayout | None:
    """The plain method: every wall in courses of a roll's whole width, laps and edges as they must be, openings netted
    over and cut out on the wall, nothing of what is left used again, all from one kind of roll.

    Of the kinds of roll the one of which the fewest m2 are cut. None where no kind covers every
    wall, or there are no walls.
    """
    return _plain([WallStrips(face, cover) for face in faces], tuple(rolls))


def lay_netting(faces: Sequence[Face], rolls: Sequence[Roll], cover: Cover) -> NettingLayout:
    """The layout that takes the fewest m2 of whole rolls, then the least that is cut, `PIECE_WORTH` a strip added.

    Never more of either than the plain method. Every choice of widths is tried (of many only single ones and all
    together), each with strips charged with the whole width of their roll and with the width that they need.
    """
    walls, kinds = [WallStrips(face, cover) for face in faces], tuple(rolls)
    plain = _plain(walls, kinds)
    most = plain.used_area if plain is not None else inf

    def rank(used: float, ordered: float, strips: int) -> tuple[float, ...]:
        return max(0.0, round(used - most, 6)), round(ordered, 6), round(used + PIECE_WORTH * strips, 6)

    def whole_rank(layout: NettingLayout) -> tuple[float, ...]:
        return len(layout.failed), *rank(layout.used_area, layout.ordered_area, len(layout.strips))

    ways = {plan: [wall.ways(kinds, plan.choice, whole=plan.whole) for wall in walls] for plan in _plans(kinds)}
    found = [_cut(_least(own, kinds, plan), walls, kinds) for plan, own in ways.items()]
    found += [plain] if plain is not None else []
    if not found:
        return _cut([None] * len(walls), walls, kinds)
    best = min(found, key=whole_rank)
    options = [_options([own[number] for own in ways.values()], kinds) for number in range(len(walls))]
    exchanged = _Exchange(best, options, kinds, rank).run() if not best.failed else None
    return best if exchanged is None else min(best, _cut(exchanged, walls, kinds), key=whole_rank)


def _plain(walls: Sequence[WallStrips], rolls: tuple[Roll, ...]) -> NettingLayout | None:
    found: list[NettingLayout] = []
    for number in range(len(rolls)):
        courses = [wall.whole_courses(number, rolls) for wall in walls]
        if courses and all(each is not None for each in courses):
            found.append(_cut(courses, walls, rolls, reuse=False))
    return min(found, key=lambda each: (round(each.used_area, 6), round(each.ordered_area, 6)), default=None)


# ---------------------------------------------------------------- ways of each wall


@dataclass(frozen=True, slots=True)
class _Plan:
    """Rolls to choose from, and whether a strip is charged with the whole width of its roll."""

    choice: tuple[int, ...]
    whole: bool


def _plans(rolls: Sequence[Roll]) -> Iterator[_Plan]:
    for size in range(1, len(rolls) + 1) if len(rolls) <= MOST_WIDTHS_COMBINED else (1, len(rolls)):
        for choice in combinations(range(len(rolls)), size):
            yield _Plan(choice, whole=True)
            yield _Plan(choice, whole=False)


def _least(ways: Sequence[Sequence[Way]], rolls: Sequence[Roll], plan: _Plan) -> list[Way | None]:
    """Of every wall the way that takes the least fabric; None where there is no way."""

    def fabric(way: Way) -> float:
        return round(_fabric(way, rolls, whole=plan.whole) + PIECE_WORTH * len(way), 6)

    return [min(own, key=fabric, default=None) for own in ways]


def _fabric(way: Way, rolls: Sequence[Roll], *, whole: bool) -> float:
    return sum((rolls[strip.roll].width if whole else strip.width) * strip.length for strip in way)


def _options(ways: Sequence[Sequence[Way]], rolls: Sequence[Roll]) -> list[Way]:
    """The ways of one wall that differ, the most promising first."""
    known: dict[tuple[tuple[object, ...], ...], Way] = {}
    for way in (way for own in ways for way in own):
        known.setdefault(tuple((s.way, s.low, s.high, s.start, s.stop, s.roll) for s in way), way)

    def fabric(way: Way) -> float:
        both = _fabric(way, rolls, whole=True) + _fabric(way, rolls, whole=False)
        return round(both + 2.0 * PIECE_WORTH * len(way), 6)

    return sorted(known.values(), key=fabric)[:MOST_WAYS]


class _Exchange:
    """Takes another way for one wall after the other, as long as the whole job takes less."""

    def __init__(self, start: NettingLayout, options: Sequence[Sequence[Way]], rolls: tuple[Roll, ...], rank: Rank):
        self.rolls, self.options, self.rank, self.work = rolls, options, rank, 0
        self.keys = list(dict.fromkeys(strip.key for strip in start.strips))
        own: dict[str, list[Strip]] = {key: [] for key in self.keys}
        for strip in start.strips:
            own[strip.key].append(strip)
        self.chosen: list[Way | None] = [tuple(each) for each in own.values()]
        self.area = [self._areas(kind) for kind in range(len(rolls))]

    def run(self) -> list[Way | None]:
        """The way of every wall."""
        moved = True
        while moved and self.work < MOST_WORK:
            better = [self._improve(number) for number in range(len(self.chosen)) if self.work < MOST_WORK]
            moved = any(better)
        return self.chosen

    def _improve(self, number: int) -> bool:
        """Whether another way of one wall is better; the best is taken."""
        first, area = self.chosen[number], self.area
        best, best_area, least = first, area, self._rank(area)
        for option in self.options[number]:
            self.chosen[number] = option
            touched = {strip.roll for strip in (*(first or ()), *option)}
            new = [self._areas(kind) if kind in touched else area[kind] for kind in range(len(self.rolls))]
            rank = self._rank(new)
            if rank < least:
                best, best_area, least = option, new, rank
        self.chosen[number], self.area = best, best_area
        return best is not first

    def _rank(self, area: Sequence[tuple[float, float]]) -> tuple[float, ...]:
        strips = sum(len(way or ()) for way in self.chosen)
        return self.rank(sum(used for used, _ in area), sum(ordered for _, ordered in area), strips)

    def _areas(self, kind: int) -> tuple[float, float]:
        """m2 cut from one kind of roll and m2 of whole rolls of it."""
        strips = [strip for way in self.chosen for strip in way or () if strip.roll == kind]
        self.work += len(strips)
        _, lengths, packing = _kind(strips, self.rolls[kind], tries=0)
        return sum(lengths) * self.rolls[kind].width, packing.rolls * self.rolls[kind].area


# ---------------------------------------------------------------- cuts and rolls


def _kind(
    strips: Sequence[Strip], roll: Roll, *, reuse: bool = True, tries: int = MOST_TRIES
) -> tuple[list[Place], list[float], Packing]:
    """Places of the strips of one kind of roll, lengths of its cuts (m), and the rolls that they come from."""
    if reuse:
        places, lengths = lay_on_cuts([Wanted(each.width, each.length, each.cut_outs) for each in strips], roll.width)
    else:
        places = [Place(number, 0.0, 0.0, turned=False) for number in range(len(strips))]
        lengths = [each.length for each in strips]
    return places, lengths, fewest_rolls(lengths, roll.length, tries)


def _cut(
    ways: Sequence[Way | None], walls: Sequence[WallStrips], rolls: tuple[Roll, ...], *, reuse: bool = True
) -> NettingLayout:
    """Strips laid on cuts, and cuts taken from rolls. reuse: strips may come out of what others leave."""
    made = [strip for way in ways for strip in way or ()]
    counts, used, proved = [0] * len(rolls), [0.0] * len(rolls), True
    for kind, roll in enumerate(rolls):
        own = [index for index, strip in enumerate(made) if strip.roll == kind]
        if not own:
            continue
        places, lengths, packing = _kind([made[index] for index in own], roll, reuse=reuse)
        for index, place in zip(own, places, strict=True):
            made[index] = replace(made[index], place=place, roll_number=packing.roll_of[place.cut])
        counts[kind], used[kind] = packing.rolls, sum(lengths) * roll.width
        proved = proved and packing.proved
    failed = tuple(wall.face.key for way, wall in zip(ways, walls, strict=True) if way is None)
    return NettingLayout(rolls, tuple(made), tuple(counts), tuple(used), proved, failed)
