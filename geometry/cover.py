"""Fewest sets that together hold enough weight: an exact search while it stays small, a bounded greedy one beyond.

Pure combinatorics over a membership table; what the sets and the weights are is the caller's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import ceil, log

import numpy as np
from numpy.typing import NDArray

BoolTable = NDArray[np.bool_]
FloatArray = NDArray[np.float64]

WEIGHT_TOLERANCE = 1e-12
"""Relative to the whole weight: rounding of sums of cell weights, far below any share that a caller asks for."""

_MOST_OF_TWOS, _MOST_OF_THREES = 16, 8
"""Sets in a choice of which twos, and threes, are still exchanged."""


@dataclass(frozen=True, slots=True)
class Cover:
    """A choice of sets.

    chosen: indices into the sets, ascending.
    lower_bound: no choice of fewer sets than this holds the weight that was needed.
    """

    chosen: tuple[int, ...]
    lower_bound: int

    @property
    def proved(self) -> bool:
        """True where the choice is known to be the smallest."""
        return len(self.chosen) == self.lower_bound


def fewest_sets(member: BoolTable, weight: FloatArray, needed: float, *, work_limit: int = 8_000_000) -> Cover:
    """The fewest rows of `member` whose union weighs at least `needed`.

    member: (k, c) bool, row i is a set over c atoms. weight: (c,) float64, >= 0. Sizes are tried in rising order, so a
    result found that way is the smallest. When the search has read `work_limit` table entries (some 0.2 s) it stops,
    and the greedy choice stands, made smaller by exchanges where that can be done, with the best lower bound known.

    The greedy bound is Wolsey's for submodular cover (Combinatorica 2, 1982; from memory): the greedy count is at most
    1 + ln(needed / weight missing before the last pick) times the smallest.

    Raises ValueError when all sets together weigh less than needed.

    >>> import numpy as np
    >>> table = np.array([[1, 1, 0, 0], [0, 0, 1, 1], [0, 1, 1, 0]], dtype=bool)
    >>> fewest_sets(table, np.ones(4), 4.0).chosen
    (0, 1)
    """
    member = np.asarray(member, dtype=bool)
    weight = np.asarray(weight, dtype=np.float64)
    slack = WEIGHT_TOLERANCE * max(float(weight.sum()), 1e-300)
    if needed <= slack:
        return Cover((), 0)
    if len(member) == 0 or float(weight[member.any(axis=0)].sum()) < needed - slack:
        raise ValueError("all sets together weigh less than the weight needed")
    member, weight = _merge_alike(member, weight)
    small = _one_or_two(member, weight, needed - slack)
    if small:
        return Cover(small, len(small))
    return _three_or_more(member, weight, needed - slack, work_limit)


def _merge_alike(member: BoolTable, weight: FloatArray) -> tuple[BoolTable, FloatArray]:
    """Atoms that lie in the same sets become one; atoms in no set go."""
    keep = member.any(axis=0) & (weight > 0.0)
    packed = np.packbits(member[:, keep], axis=0)
    _, first, group = np.unique(packed, axis=1, return_index=True, return_inverse=True)
    merged = np.zeros(len(first))
    np.add.at(merged, group.ravel(), weight[keep])
    return member[:, keep][:, first], merged


def _one_or_two(member: BoolTable, weight: FloatArray, needed: float) -> tuple[int, ...]:
    """The heaviest single set or pair if it is enough; else empty."""
    held = member @ weight
    best = int(np.argmax(held))
    if held[best] >= needed:
        return (best,)
    counted = member.astype(np.float64)
    both = held[:, None] + held[None, :] - (counted * weight) @ counted.T
    first, second = np.unravel_index(int(np.argmax(both)), both.shape)
    if both[first, second] < needed:
        return ()
    return int(min(first, second)), int(max(first, second))


def _three_or_more(member: BoolTable, weight: FloatArray, needed: float, work_limit: int) -> Cover:
    greedy, bound = _greedy(member, weight, needed)
    largest = np.sort(member @ weight)[::-1].cumsum()
    bound = min(len(greedy), max(3, bound, int(np.searchsorted(largest, needed)) + 1))
    search = _Search(member, weight, needed, max(1, work_limit // member.size))
    for size in range(bound, len(greedy)):
        found = search.extend(np.ones(len(weight), dtype=bool), np.ones(len(member), dtype=bool), size)
        if found is not None:
            return Cover(tuple(sorted(found)), size)
        if search.exhausted:
            return Cover(tuple(sorted(_exchanged(member, weight, needed, greedy, size))), size)
    return Cover(tuple(sorted(greedy)), len(greedy))


def _greedy(member: BoolTable, weight: FloatArray, needed: float) -> tuple[list[int], int]:
    """Largest gain first, then picks that turned out needless go. Returns the picks and the proved lower bound."""
    chosen: list[int] = []
    counted = member.astype(np.float64)
    missing, last_missing = needed, needed
    open_weight = weight.copy()
    while missing > 0.0:
        last_missing = missing
        pick = int(np.argmax(counted @ open_weight))
        chosen.append(pick)
        open_weight[member[pick]] = 0.0
        missing = needed - float(weight.sum() - open_weight.sum())
    bound = ceil(len(chosen) / (1.0 + log(max(needed / last_missing, 1.0))) - 1e-9)
    for pick in tuple(chosen):
        rest = [other for other in chosen if other != pick]
        if rest and float(weight[member[rest].any(axis=0)].sum()) >= needed:
            chosen = rest
    return chosen, min(bound, len(chosen))


def _exchanged(member: BoolTable, weight: FloatArray, needed: float, chosen: list[int], bound: int) -> list[int]:
    """The choice with two of its sets exchanged for one, or three for two, as long as that can be done.

    bound: no smaller choice is looked for. It is tried only of small choices: large ones have too many twos and threes,
    and one set more counts less there.
    """
    counted = member.astype(np.float64)
    most = {2: _MOST_OF_TWOS, 3: _MOST_OF_THREES}
    for out in (2, 3):
        if len(chosen) > most[out]:
            continue
        for gone in combinations(chosen, out) if len(chosen) > bound else ():
            kept = [index for index in chosen if index not in gone]
            open_weight = np.where(member[kept].any(axis=0), 0.0, weight) if kept else weight
            missing = needed - float(weight.sum() - open_weight.sum())
            gain = counted @ open_weight
            best = int(np.argmax(gain))
            if gain[best] >= missing:
                fewer: tuple[int, ...] = (best,)
            elif out == 3 and np.partition(gain, -2)[-2:].sum() >= missing:
                fewer = _one_or_two(member, open_weight, missing)
            else:
                continue
            if fewer:
                return _exchanged(member, weight, needed, sorted({*kept, *fewer}), bound)
    return chosen


class _Search:
    """Depth-first search for a choice of a given size.

    Of any choice of n sets that closes a gap, one alone closes at least 1/n of it: only those need be branched on, and
    a set whose branch failed is barred in the branches after it.
    """

    def __init__(self, member: BoolTable, weight: FloatArray, needed: float, node_limit: int) -> None:
        self._member = member
        self._counted = member.astype(np.float64)
        self._weight = weight
        self._allowed = float(weight.sum()) - needed
        self._nodes = node_limit

    @property
    def exhausted(self) -> bool:
        return self._nodes <= 0

    def extend(self, uncovered: BoolTable, free: BoolTable, size: int) -> list[int] | None:
        """Indices of at most `size` free sets that leave no more than the allowed weight uncovered, or None."""
        open_weight = np.where(uncovered, self._weight, 0.0)
        missing = float(open_weight.sum()) - self._allowed
        if missing <= 0.0:
            return []
        self._nodes -= 1
        if size == 0 or self._nodes <= 0:
            return None
        gain = np.where(free, self._counted @ open_weight, 0.0)
        if float(np.partition(gain, -size)[-size:].sum() if size < len(gain) else gain.sum()) < missing:
            return None
        free = free.copy()
        for index in self._branches(open_weight, gain, missing / size):
            found = self.extend(uncovered & ~self._member[index], free, size - 1)
            if found is not None:
                return [int(index), *found]
            free[index] = False
        return None

    def _branches(self, open_weight: FloatArray, gain: FloatArray, least: float) -> NDArray[np.intp]:
        """The shorter of two complete lists: sets that gain enough, or sets that hold one atom too heavy to leave."""
        enough = np.flatnonzero(gain >= least * (1.0 - 1e-12))
        heavy = np.flatnonzero(open_weight > self._allowed * (1.0 + 1e-12) + 1e-300)
        if len(heavy):
            holders = (self._member[:, heavy] & (gain > 0.0)[:, None]).sum(axis=0)
            narrow = int(np.argmin(holders))
            if int(holders[narrow]) < len(enough):
                return np.flatnonzero(self._member[:, heavy[narrow]] & (gain > 0.0))
        return enough
