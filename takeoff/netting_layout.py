"""Netting cut from rolls: runs along a wall or drops, from the widths that can be bought, with the least fabric.

Per wall the strips are a shortest path: seams may lie at any of a set of places, and a strip between two seams costs
the width of the narrowest roll that covers it times its length. Runs may be seamed at heights where a roll ends or an
opening begins; drops only at studs, where the seam can be fastened. A strip leaves out what an opening takes across
its whole width. How off-cuts are used is said in `takeoff.netting_cuts`. What is left of the last roll is stock, not
waste. All of it is common sense of the trade; no published source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil, floor, inf

import numpy as np
import shapely
from numpy.typing import NDArray

from takeoff.netting_cuts import NARROWEST_REST, NOWHERE, Place, Rest, Wanted, lay_on_cuts
from takeoff.netting_rolls import fewest_rolls

FloatArray = NDArray[np.float64]

LEAST_GAP = 0.30
"""m; a shorter gap in a strip is not worth cutting it in two. Own assumption."""
MOST_SEAMS = 60
"""Places that runs may be seamed at, for each wall; a wall has two or three seams."""
GRAIN = 4
"""Decimals of a metre to which places of seams are kept: a tenth of a millimetre."""
MOST_WIDTHS_COMBINED = 4
"""Of more widths of roll only single ones and all together are tried."""


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll of netting that can be bought."""

    name: str
    width: float
    length: float
    """m"""

    @property
    def area(self) -> float:
        """m2"""
        return self.width * self.length


@dataclass(frozen=True, slots=True, eq=False)
class Face:
    """What is to be netted in one stud layer: outline in elevation (x z), m, openings cut out; x of the studs, m."""

    key: str
    outline: shapely.Geometry
    studs: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Cover:
    """m: overlap of two pieces, netting beyond the outer edge."""

    lap: float
    edge: float


@dataclass(frozen=True, slots=True)
class Strip:
    """One piece of netting on one wall. Places in wall axes, m."""

    key: str
    way: str
    """run (along the wall) or drop"""
    low: float
    high: float
    """Band that it covers: z of a run, x of a drop."""
    start: float
    stop: float
    """The other way: x of a run, z of a drop."""
    roll: int
    """Which of the rolls given."""
    width: float
    """m that it needs of the roll's width, laps and edges included."""
    length: float
    """m that is cut, edges and laps included."""
    net: float
    """m2 of wall that it covers, openings cut out, laps counted once."""
    cut_outs: tuple[Rest, ...] = ()
    """What openings leave in it, as places from its own corner."""
    place: Place = NOWHERE
    """Where it lies on which cut of its kind of roll, from 0; several strips share a cut where they fit."""
    roll_number: int = -1
    """Number of the roll that it comes from, from 0 in its kind."""


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


def lay_netting(faces: Sequence[Face], rolls: Sequence[Roll], cover: Cover, plain_area: float = inf) -> NettingLayout:
    """The layout that takes the fewest m2 of whole rolls, then the least that is cut.

    Every choice of widths is tried (of many only single ones and all together), each with strips charged with the
    whole width of their roll and with the width that they need. plain_area: m2 that the plain method asks for; choices
    that cut more come last, and among those the one that cuts least comes first.
    """
    numbers = range(len(rolls))
    sizes = range(1, len(rolls) + 1) if len(rolls) <= MOST_WIDTHS_COMBINED else (1, len(rolls))
    planned = {face.key: _Bands(face, cover) for face in faces}
    layouts = [
        _layout(planned.values(), tuple(rolls), choice, whole)
        for size in sizes
        for choice in combinations(numbers, size)
        for whole in (True, False)
    ]

    def rank(layout: NettingLayout) -> tuple[float, ...]:
        over = max(0.0, round(layout.used_area - plain_area, 6))
        return len(layout.failed), over, round(layout.ordered_area, 6), round(layout.used_area, 6)

    return min(
        layouts,
        key=rank,
        default=NettingLayout(tuple(rolls), (), (0,) * len(rolls), (0.0,) * len(rolls), True, tuple(planned)),
    )


def _layout(faces: Iterable[_Bands], rolls: tuple[Roll, ...], choice: tuple[int, ...], whole: bool) -> NettingLayout:
    strips: list[Strip] = []
    failed: list[str] = []
    for face in faces:
        ways = [face.strips(way, rolls, choice, whole=whole) for way in ("run", "drop")]
        found = [each for each in ways if each is not None]
        if not found:
            failed.append(face.face.key)
            continue
        strips += min(found, key=lambda each: (round(_fabric(each, rolls, whole=whole), 6), len(each)))
    return _cut(strips, rolls, tuple(failed))


def _fabric(strips: Sequence[Strip], rolls: Sequence[Roll], *, whole: bool) -> float:
    return sum((rolls[strip.roll].width if whole else strip.width) * strip.length for strip in strips)


# ---------------------------------------------------------------- strips of one wall


class _Bands:
    """The face of one wall cut into bands; what was cut is kept, since every choice of rolls asks again."""

    def __init__(self, face: Face, cover: Cover) -> None:
        self.face, self.cover = face, cover
        x0, z0, x1, z1 = (float(each) for each in shapely.bounds(face.outline))
        self.box = {"run": (z0, z1, x0, x1), "drop": (x0, x1, z0, z1)}
        self._pieces: dict[tuple[str, float, float], list[tuple[float, float, float]]] = {}

    def strips(self, way: str, rolls: Sequence[Roll], choice: Sequence[int], *, whole: bool) -> list[Strip] | None:
        """The strips that take the least fabric; None where no seams allow any."""
        low, high = _outward(*self.box[way][:2])
        widths = sorted({rolls[index].width for index in choice})
        seams = self._run_seams(low, high, widths) if way == "run" else self._drop_seams(low, high)
        longest = max(rolls[index].length for index in choice)
        if longest <= 2.0 * self.cover.edge + self.cover.lap:
            return None
        pairs = [
            (i, j)
            for i in range(len(seams))
            for j in range(i + 1, len(seams))
            if self._need(seams[i], seams[j], (low, high)) <= widths[-1] + 1e-6
        ]
        self._measure(way, [(seams[i], seams[j]) for i, j in pairs])
        costs: dict[tuple[int, int], tuple[float, int]] = {}
        for i, j in pairs:
            need = self._need(seams[i], seams[j], (low, high))
            roll = min(
                (index for index in choice if rolls[index].width >= need - 1e-6),
                key=lambda index: (rolls[index].width, -rolls[index].length),
            )
            lengths = [self._cut_lengths(piece, rolls[roll].length) for piece in self._of(way, seams[i], seams[j])]
            # A hair more for every piece: of two ways that take the same fabric the one with fewer pieces.
            width = rolls[roll].width if whole else need
            cost = width * sum(map(sum, lengths)) + 1e-6 * sum(map(len, lengths))
            costs[i, j] = (cost, roll)
        path = _shortest(len(seams), costs)
        if path is None:
            return None
        return [
            strip
            for i, j in path
            for strip in self._made(way, (seams[i], seams[j]), (low, high), costs[i, j][1], rolls)
        ]

    def _need(self, low: float, high: float, ends: tuple[float, float]) -> float:
        """Width of roll that a band needs, m: an edge where it ends at the rim, a lap where it lies on the last."""
        first = self.cover.edge if low <= ends[0] else self.cover.lap
        return high - low + first + (self.cover.edge if high >= ends[1] else 0.0)

    def _run_seams(self, low: float, high: float, widths: Sequence[float]) -> list[float]:
        """Heights at which a run may end: where a roll's width ends from below or from above, and at openings."""
        found = {low, high}
        for first, step, way in ((low, 1.0, widths), (high, -1.0, widths)):
            edge_of = {first}
            for _ in range(8):
                edge_of = {
                    round(at + step * (width - (self.cover.edge if at == first else self.cover.lap)), GRAIN)
                    for at in edge_of
                    for width in way
                }
                edge_of = {at for at in edge_of if low < at < high}
                if not edge_of or len(found) + len(edge_of) > MOST_SEAMS:
                    break
                found |= edge_of
        edges = {round(float(z), GRAIN) for z in shapely.get_coordinates(self.face.outline)[:, 1]}
        found |= set(sorted(at for at in edges if low < at < high)[: max(0, 2 * MOST_SEAMS - len(found))])
        return sorted(found)

    def _drop_seams(self, low: float, high: float) -> list[float]:
        return sorted({low, high, *(round(x, GRAIN) for x in self.face.studs if low < x < high)})

    def _measure(self, way: str, bands: Sequence[tuple[float, float]]) -> None:
        """Pieces of the wall in each band that is not known yet: start, stop (m), area (m2)."""
        new = [band for band in bands if (way, *band) not in self._pieces]
        if not new:
            return
        low, high = np.array(new).T
        start, stop = self.box[way][2:]
        far = np.full(len(new), stop + 1.0), np.full(len(new), start - 1.0)
        boxes = shapely.box(far[1], low, far[0], high) if way == "run" else shapely.box(low, far[1], high, far[0])
        parts, owner = shapely.get_parts(shapely.intersection(boxes, self.face.outline), return_index=True)
        axis = 0 if way == "run" else 1
        sides, areas = shapely.bounds(parts), shapely.area(parts)
        grouped: dict[int, list[tuple[float, float, float]]] = {}
        for side, area, index in zip(sides.tolist(), areas.tolist(), owner.tolist(), strict=True):
            if area > 1e-9:
                grouped.setdefault(index, []).append((side[axis], side[axis + 2], area))
        for index, band in enumerate(new):
            self._pieces[(way, *band)] = _joined(grouped.get(index, []))

    def _of(self, way: str, low: float, high: float) -> list[tuple[float, float, float]]:
        return self._pieces[way, low, high]

    def _cut_lengths(self, piece: tuple[float, float, float], longest: float) -> list[float]:
        """Lengths cut for one piece, m: in several with a lap where it is longer than a roll."""
        whole = piece[1] - piece[0] + 2.0 * self.cover.edge
        if whole <= longest + 1e-9:
            return [whole]
        parts = ceil((whole - self.cover.lap) / (longest - self.cover.lap) - 1e-9)
        return [(whole + (parts - 1) * self.cover.lap) / parts] * parts

    def _made(
        self, way: str, band: tuple[float, float], ends: tuple[float, float], roll: int, rolls: Sequence[Roll]
    ) -> list[Strip]:
        need = self._need(*band, ends)
        made: list[Strip] = []
        for start, stop, area in self._of(way, *band):
            lengths = self._cut_lengths((start, stop, area), rolls[roll].length)
            cut_outs = self._cut_outs(way, (start, stop), band, ends) if len(lengths) == 1 else ()
            for number, length in enumerate(lengths):
                step = (stop - start) / len(lengths)
                first, last = start + number * step, start + (number + 1) * step
                made.append(
                    Strip(
                        self.face.key, way, band[0], band[1], first, last, roll, need, length, area / len(lengths),
                        cut_outs,
                    )
                )  # fmt: skip
        return made

    def _cut_outs(
        self, way: str, span: tuple[float, float], band: tuple[float, float], ends: tuple[float, float]
    ) -> tuple[Rest, ...]:
        """Rectangles that openings leave in one strip, an edge smaller on each side."""
        edge, first = self.cover.edge, self.cover.edge if band[0] <= ends[0] else self.cover.lap
        sheet = shapely.box(span[0], band[0], span[1], band[1])
        if way == "drop":
            sheet = shapely.box(band[0], span[0], band[1], span[1])
        found: list[Rest] = []
        for part in shapely.get_parts(shapely.difference(sheet, self.face.outline)):
            low_x, low_z, high_x, high_z = shapely.bounds(part).tolist()
            if shapely.area(part) < 0.999 * (high_x - low_x) * (high_z - low_z):
                continue  # no rectangle, such as the triangle over a rake
            along, across = ((low_x, high_x), (low_z, high_z)) if way == "run" else ((low_z, high_z), (low_x, high_x))
            rest = Rest(
                -1, across[0] - band[0] + first + edge, along[0] - span[0] + 2.0 * edge,
                across[1] - across[0] - 2.0 * edge, along[1] - along[0] - 2.0 * edge,
            )  # fmt: skip
            if min(rest.width, rest.length) >= NARROWEST_REST:
                found.append(rest)
        return tuple(found)


def _outward(low: float, high: float) -> tuple[float, float]:
    """Ends of a wall at the grain of the seams, nothing of it outside."""
    step = 10.0**GRAIN
    return round(floor(low * step + 1e-6) / step, GRAIN), round(ceil(high * step - 1e-6) / step, GRAIN)


def _joined(spans: list[tuple[float, float, float]]) -> list[tuple[float, float, float]]:
    """Spans with an area each, those with a short gap between them as one."""
    made: list[tuple[float, float, float]] = []
    for start, stop, area in sorted(spans):
        if made and start - made[-1][1] < LEAST_GAP:
            made[-1] = (made[-1][0], max(made[-1][1], stop), made[-1][2] + area)
        else:
            made.append((start, stop, area))
    return made


def _shortest(n: int, costs: Mapping[tuple[int, int], tuple[float, int]]) -> list[tuple[int, int]] | None:
    """The cheapest way from the first place to the last."""
    into: dict[int, list[int]] = {}
    for i, j in costs:
        into.setdefault(j, []).append(i)
    best, back = [0.0] + [inf] * (n - 1), [-1] * n
    for j in range(1, n):
        for i in into.get(j, ()):
            if best[i] + costs[i, j][0] < best[j] - 1e-12:
                best[j], back[j] = best[i] + costs[i, j][0], i
    if n < 2 or best[-1] == inf:
        return None
    path: list[tuple[int, int]] = []
    at = n - 1
    while at > 0:
        path.append((back[at], at))
        at = back[at]
    return path[::-1]


# ---------------------------------------------------------------- cuts and rolls


def _cut(strips: Sequence[Strip], rolls: tuple[Roll, ...], failed: tuple[str, ...]) -> NettingLayout:
    """Strips laid on cuts, and cuts taken from rolls."""
    made = list(strips)
    counts, used, proved = [0] * len(rolls), [0.0] * len(rolls), True
    for kind, roll in enumerate(rolls):
        own = [index for index, strip in enumerate(made) if strip.roll == kind]
        if not own:
            continue
        wanted = [Wanted(made[index].width, made[index].length, made[index].cut_outs) for index in own]
        places, lengths = lay_on_cuts(wanted, roll.width)
        packing = fewest_rolls(lengths, roll.length)
        for index, place in zip(own, places, strict=True):
            made[index] = replace(made[index], place=place, roll_number=packing.roll_of[place.cut])
        counts[kind], used[kind] = packing.rolls, sum(lengths) * roll.width
        proved = proved and packing.proved
    return NettingLayout(rolls, tuple(made), tuple(counts), tuple(used), proved, failed)
