"""Strips of netting that cover one wall: runs along it, drops, or whole courses of runs with a band of drops above.

The strips are a shortest path: seams may lie at any of a set of places, and a strip between two seams costs the width
of the narrowest roll that covers it times its length. Runs may be seamed at heights where a roll ends or an opening
begins; drops only at studs, where the seam can be fastened, and so are the joins of a run that is longer than its
roll. Where courses of runs leave a band that is much narrower than a roll, drops across that band may take less. A
strip leaves out what an opening takes across its whole width. All of it is common sense of the trade; no published
source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import ceil, floor, inf

import numpy as np
import shapely

from geometry.solids import polygons_of
from takeoff.netting_cuts import NARROWEST_REST, NOWHERE, Place, Rest

LEAST_GAP = 0.30
"""m; a shorter gap in a strip is not worth cutting it in two. Own assumption."""
LEAST_STEP = 0.05
"""m; least height of a course of the plain method; a roll that covers less with laps and edges covers no wall."""
MOST_SEAMS = 60
"""Places that runs may be seamed at, for each wall; a wall has two or three seams."""
GRAIN = 4
"""Decimals of a metre to which places of seams are kept: a tenth of a millimetre."""
FEET = 2
"""Heights for each width of roll at which a band of drops is tried: above the last whole courses that fit."""
LEAST_BAND = 0.10
"""m; height of the lowest band of drops above courses of runs. Own assumption."""
PIECE_WORTH = 0.1
"""m2 of netting that one strip more has to save: it is cut, carried, lapped and fastened. Own assumption."""
MUCH_MORE = 1.1
"""A way that takes so much more fabric than another by itself is not looked at for the whole job."""
LEAST_RIM = 0.01
"""m; nearer to an end of the wall there is no seam."""
NEAR = 1e-6
"""m; places that are the same."""

Piece = tuple[float, float, float]
"""Part of a wall in a band: start, stop (m), area (m2)."""


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


@dataclass(frozen=True, slots=True, eq=False)
class _Paths:
    """The cheapest way from the first seam to every other: its cost, the seam before it, the roll of each strip."""

    seams: Sequence[float]
    cost: Sequence[float]
    back: Sequence[int]
    roll: Mapping[tuple[int, int], int]

    def to(self, place: int) -> list[tuple[int, int]]:
        """Seams of the strips from the first seam to a place."""
        path: list[tuple[int, int]] = []
        while place > 0:
            path.append((self.back[place], place))
            place = self.back[place]
        return path[::-1]


class WallStrips:
    """The face of one wall cut into bands; what was cut is kept, since every choice of rolls asks again.

    foot: height at which its drops lap onto the course below, m; None for a whole wall.
    """

    def __init__(self, face: Face, cover: Cover, foot: float | None = None) -> None:
        self.face, self.cover, self.foot = face, cover, foot
        x0, z0, x1, z1 = (float(each) for each in shapely.bounds(face.outline))
        self.box = {"run": (z0, z1, x0, x1), "drop": (x0, x1, z0, z1)}
        self.ends = {way: _outward(*sides[:2]) for way, sides in self.box.items()}
        self._pieces: dict[tuple[str, float, float], list[Piece]] = {}
        self._bands: dict[float, WallStrips] = {}
        self._cut_length: dict[tuple[str, float, float, float], tuple[float, int]] = {}
        self._left_over: dict[tuple[str, float, float, float, float], tuple[Rest, ...]] = {}

    def ways(self, rolls: Sequence[Roll], choice: Sequence[int], *, whole: bool) -> list[tuple[Strip, ...]]:
        """The strips that take the least fabric from the rolls of a choice, one tuple for each way of hanging them.

        whole: a strip is charged with the whole width of its roll, else with the width that it needs. Ways in which no
        seams allow any strips are left out.
        """
        found: list[tuple[Strip, ...]] = []
        plans = {way: self._paths(way, rolls, choice, whole=whole) for way in ("run", "drop")}
        for way, paths in plans.items():
            if paths is not None and paths.cost[-1] < inf:
                found.append(self._strips(way, paths, len(paths.seams) - 1, rolls))
        runs = plans["run"]
        if runs is not None:
            most = MUCH_MORE * min((paths.cost[-1] for paths in plans.values() if paths is not None), default=inf)
            found += self._over_courses(runs, rolls, choice, most, whole=whole)
        return found

    def whole_courses(self, number: int, rolls: Sequence[Roll]) -> tuple[Strip, ...] | None:
        """Courses along the wall of a roll's whole width, openings netted over; None where the roll cannot cover it."""
        roll, (low, high) = rolls[number], self.ends["run"]
        seams = [low]
        lap, edge = self.cover.lap, self.cover.edge
        if roll.width < lap + 2.0 * edge + LEAST_STEP or roll.length <= lap + 2.0 * edge:
            return None
        while high - seams[-1] + edge + (before := edge if len(seams) == 1 else lap) > roll.width + NEAR:
            seams.append(min(seams[-1] + roll.width - before, high - LEAST_STEP))
        bands = list(pairwise((*seams, high)))
        self._measure("run", bands)
        made: list[Strip] = []
        for band in bands:
            pieces = self._pieces["run", *band]
            if pieces:
                span = min(each[0] for each in pieces), max(each[1] for each in pieces)
                piece = *span, sum(each[2] for each in pieces)
                made += self._made("run", band, piece, (number, roll), roll.width, netted_over=True)
        return tuple(made)

    # ---------------------------------------------------------------- paths

    def _paths(self, way: str, rolls: Sequence[Roll], choice: Sequence[int], *, whole: bool) -> _Paths | None:
        widths = sorted({rolls[index].width for index in choice})
        low, high = self.ends[way]
        seams = self._run_seams(low, high, widths) if way == "run" else self._drop_seams(low, high)
        if max(rolls[index].length for index in choice) <= 2.0 * self.cover.edge + self.cover.lap:
            return None
        needs = {
            (i, j): need
            for j in range(1, len(seams))
            for i in range(j)
            if seams[j] - seams[i] <= widths[-1] and (need := self._need(way, seams[i], seams[j])) <= widths[-1] + NEAR
        }
        self._measure(way, [(seams[i], seams[j]) for i, j in needs])
        cost, back, roll_of = [0.0] + [inf] * (len(seams) - 1), [-1] * len(seams), {}
        kinds = sorted(choice, key=lambda index: (rolls[index].width, -rolls[index].length))
        reach = [rolls[index].width + NEAR for index in kinds]
        for (i, j), need in needs.items():
            roll = kinds[bisect_left(reach, need)]
            length, strips = self._length_of(way, (seams[i], seams[j]), rolls[roll].length)
            width = rolls[roll].width if whole else need
            here = cost[i] + width * length + PIECE_WORTH * strips
            if here < cost[j] - 1e-12:
                cost[j], back[j], roll_of[i, j] = here, i, roll
        return _Paths(seams, cost, back, roll_of)

    def _length_of(self, way: str, band: tuple[float, float], longest: float) -> tuple[float, int]:
        """Length cut for a band, m, and the number of its strips."""
        key = (way, *band, longest)
        if key not in self._cut_length:
            parts = [part for piece in self._pieces[way, *band] for part in self._parts(way, piece, longest)]
            self._cut_length[key] = sum(length for _, _, length in parts), len(parts)
        return self._cut_length[key]

    def _strips(self, way: str, paths: _Paths, place: int, rolls: Sequence[Roll]) -> tuple[Strip, ...]:
        """The strips of the cheapest way to a seam."""
        made: list[Strip] = []
        for i, j in paths.to(place):
            band, number = (paths.seams[i], paths.seams[j]), paths.roll[i, j]
            for piece in self._pieces[way, *band]:
                made += self._made(way, band, piece, (number, rolls[number]), self._need(way, *band))
        return tuple(made)

    def _over_courses(
        self, runs: _Paths, rolls: Sequence[Roll], choice: Sequence[int], most: float, *, whole: bool
    ) -> list[tuple[Strip, ...]]:
        """Courses of runs to a height and drops from there to the top, the cheapest of a few heights.

        most: m2 of fabric; heights that must take more are not looked at.
        """
        best: tuple[float, int, _Paths] | None = None
        for foot in self._feet(sorted({rolls[index].width for index in choice})):
            place = runs.seams.index(foot)
            if runs.cost[place] + float(shapely.area(self._above(foot).face.outline)) > most:
                continue
            drops = self._above(foot)._paths("drop", rolls, choice, whole=whole)
            if drops is not None:
                cost = runs.cost[place] + drops.cost[-1]
                if cost < inf and (best is None or cost < best[0] - 1e-12):
                    best = cost, place, drops
        if best is None:
            return []
        _, place, drops = best
        band = self._above(runs.seams[place])
        return [
            (*self._strips("run", runs, place, rolls), *band._strips("drop", drops, len(drops.seams) - 1, rolls))
        ]  # fmt: skip

    def _above(self, foot: float) -> WallStrips:
        """The part of the wall above a height, whose drops lap onto what is below."""
        if foot not in self._bands:
            x0, x1, _, z1 = self.box["drop"]
            part = shapely.intersection(self.face.outline, shapely.box(x0 - 1.0, foot, x1 + 1.0, z1 + 1.0))
            outline = shapely.union_all(polygons_of(part))
            self._bands[foot] = WallStrips(Face(self.face.key, outline, self.face.studs), self.cover, foot)
        return self._bands[foot]

    # ---------------------------------------------------------------- seams

    def _need(self, way: str, low: float, high: float) -> float:
        """Width of roll that a band needs, m: an edge where it ends at a rim, a lap where it lies on the last."""
        at_rim = high >= self.ends[way][1] or high in self._rims[way][1]
        return high - low + self._before(way, low) + (self.cover.edge if at_rim else 0.0)

    def _before(self, way: str, low: float) -> float:
        """m of a strip beyond the lower side of its band."""
        if low <= self.ends[way][0]:
            return self.cover.edge
        return max(self.cover.lap, self.cover.edge) if low in self._rims[way][0] else self.cover.lap

    @cached_property
    def _rims(self) -> Mapping[str, tuple[frozenset[float], frozenset[float]]]:
        """Places at which the netting ends against an opening or a step, by way: its lower and its upper sides."""
        starts, stops = [np.empty((0, 2))], [np.empty((0, 2))]
        for part in polygons_of(self.face.outline):
            turned = shapely.geometry.polygon.orient(part)
            for ring in (turned.exterior, *turned.interiors):
                points = shapely.get_coordinates(ring)
                starts.append(points[:-1])
                stops.append(points[1:])
        start, stop = np.round(np.concatenate(starts), GRAIN), np.round(np.concatenate(stops), GRAIN)
        step = stop - start
        found: dict[str, tuple[frozenset[float], frozenset[float]]] = {}
        # Rings run with the netting to their left: a side towards +x has it above, one towards +z has it at lower x.
        for way, along, across, sign in (("run", 0, 1, 1.0), ("drop", 1, 0, -1.0)):
            level = np.abs(step[:, across]) < NEAR
            low, high = (level & (side * step[:, along] > NEAR) for side in (sign, -sign))
            found[way] = frozenset(start[low, across].tolist()), frozenset(start[high, across].tolist())
        return found

    def _feet(self, widths: Sequence[float]) -> list[float]:
        """Heights above the last whole courses of each width that fit."""
        low, high = self.ends["run"]
        found: set[float] = set()
        for width in widths:
            courses: list[float] = []
            at = low + width - self.cover.edge
            while width - self.cover.lap >= LEAST_STEP and at < high:
                foot = min(at, high - LEAST_BAND)
                if foot > low + LEAST_BAND:
                    courses.append(round(floor(foot * 10.0**GRAIN + 1e-6) / 10.0**GRAIN, GRAIN))
                at += width - self.cover.lap
            found |= set(courses[-FEET:])
        return sorted(found)

    def _run_seams(self, low: float, high: float, widths: Sequence[float]) -> list[float]:
        """Heights at which a run may end: where a roll's width ends from below or from above, and at openings."""
        found = {low, high, *self._feet(widths)}
        for first, step, way in ((low, 1.0, widths), (high, -1.0, widths)):
            edge_of = {first}
            for _ in range(8):
                edge_of = {
                    round(at + step * (width - (self.cover.edge if at == first else self.cover.lap)), GRAIN)
                    for at in edge_of
                    for width in way
                }
                edge_of = {at for at in edge_of if low + LEAST_RIM < at < high - LEAST_RIM}
                if not edge_of or len(found) + len(edge_of) > MOST_SEAMS:
                    break
                found |= edge_of
        edges = {round(float(z), GRAIN) for z in shapely.get_coordinates(self.face.outline)[:, 1]}
        inside = sorted(at for at in edges if low + LEAST_RIM < at < high - LEAST_RIM)
        found |= set(inside[: max(0, 2 * MOST_SEAMS - len(found))])
        return sorted(found)

    def _drop_seams(self, low: float, high: float) -> list[float]:
        inside = (round(x, GRAIN) for x in self.face.studs if low + LEAST_RIM < x < high - LEAST_RIM)
        return sorted({low, high, *inside})

    # ---------------------------------------------------------------- pieces

    def _measure(self, way: str, bands: Sequence[tuple[float, float]]) -> None:
        """Pieces of the wall in each band that is not known yet."""
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
        grouped: dict[int, list[Piece]] = {}
        for side, area, index in zip(sides.tolist(), areas.tolist(), owner.tolist(), strict=True):
            if area > 1e-9:
                grouped.setdefault(index, []).append((side[axis], side[axis + 2], area))
        gap = max(LEAST_GAP, 2.0 * self.cover.edge)
        for index, band in enumerate(new):
            self._pieces[(way, *band)] = _joined(grouped.get(index, []), gap)

    def _ends(self, way: str, start: float) -> tuple[float, float]:
        """m of netting beyond the two ends of a piece: a lap where a drop ends on the course below it."""
        on_course = way == "drop" and self.foot is not None and start <= self.foot + NEAR
        return max(self.cover.lap, self.cover.edge) if on_course else self.cover.edge, self.cover.edge

    def _parts(self, way: str, piece: Piece, longest: float) -> list[tuple[float, float, float]]:
        """Start, stop and cut length of one piece, m: in several with a lap where it is longer than a roll.

        Runs are joined at the last stud that the roll reaches; where none is in reach, and for drops, in equal parts.
        """
        start, stop, _ = piece
        before, after = self._ends(way, start)
        whole = stop - start + before + after
        if whole <= longest + 1e-9:
            return [(start, stop, whole)]
        joins = self._joins(start, stop, (before, after), longest) if way == "run" else None
        if joins is None:
            lap = self.cover.lap
            n = ceil((whole - lap) / (longest - lap) - 1e-9)
            each = (whole + (n - 1) * lap) / n
            joins = [start - before + number * (each - lap) + lap for number in range(1, n)]
        made: list[tuple[float, float, float]] = []
        places = [start, *joins, stop]
        for number, (first, last) in enumerate(pairwise(places)):
            over = (before if number == 0 else self.cover.lap) + (after if number == len(joins) else 0.0)
            made.append((first, last, last - first + over))
        return made

    def _joins(self, start: float, stop: float, ends: tuple[float, float], longest: float) -> list[float] | None:
        joins: list[float] = []
        at, over = start, ends[0]
        while stop - at + over + ends[1] > longest + 1e-9:
            reach = [x for x in self.face.studs if at + LEAST_GAP < x < min(stop, at + longest - over)]
            if not reach:
                return None
            at, over = max(reach), self.cover.lap
            joins.append(at)
        return joins

    def _made(
        self, way: str, band: tuple[float, float], piece: Piece, roll: tuple[int, Roll], width: float,
        *, netted_over: bool = False,
    ) -> list[Strip]:  # fmt: skip
        """The strips of one piece. netted_over: what openings leave in it serves nothing else."""
        start, stop, area = piece
        parts = self._parts(way, piece, roll[1].length)
        cut_outs = self._cut_outs(way, (start, stop), band) if len(parts) == 1 and not netted_over else ()
        return [
            Strip(
                self.face.key, way, *band, first, last, roll[0], width, length, area * (last - first) / (stop - start),
                cut_outs,
            )
            for first, last, length in parts
        ]  # fmt: skip

    def _cut_outs(self, way: str, span: tuple[float, float], band: tuple[float, float]) -> tuple[Rest, ...]:
        """Rectangles that openings leave in one strip, an edge smaller on each side."""
        known = self._left_over.get((way, *span, *band))
        if known is not None:
            return known
        edge, beside, before = self.cover.edge, self._before(way, band[0]), self._ends(way, span[0])[0]
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
                -1, across[0] - band[0] + beside + edge, along[0] - span[0] + before + edge,
                across[1] - across[0] - 2.0 * edge, along[1] - along[0] - 2.0 * edge,
            )  # fmt: skip
            if min(rest.width, rest.length) >= NARROWEST_REST:
                found.append(rest)
        self._left_over[way, *span, *band] = tuple(found)
        return tuple(found)


def _outward(low: float, high: float) -> tuple[float, float]:
    """Ends of a wall at the grain of the seams, nothing of it outside."""
    step = 10.0**GRAIN
    return round(floor(low * step + 1e-6) / step, GRAIN), round(ceil(high * step - 1e-6) / step, GRAIN)


def _joined(spans: list[Piece], gap: float) -> list[Piece]:
    """Spans with an area each, those with a gap between them that is shorter than `gap` as one."""
    made: list[Piece] = []
    for start, stop, area in sorted(spans):
        if made and start - made[-1][1] < gap:
            made[-1] = (made[-1][0], max(made[-1][1], stop), made[-1][2] + area)
        else:
            made.append((start, stop, area))
    return made
