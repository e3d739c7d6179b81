"""Cutting lengths from rolls: the fewest rolls that give all of them, exactly where there are few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

MOST_PIECES = 60
"""Of more pieces the longest-first packing is taken, which then wastes next to nothing."""
MOST_TRIES = 50_000
"""Steps of the exact search before the best packing found so far is taken."""
SLACK = 1e-9
"""m; a length that is longer than the rest of a roll by this still fits."""


@dataclass(frozen=True, slots=True)
class Packing:
    """Which length comes from which roll."""

    roll_of: tuple[int, ...]
    """Number of the roll, from 0, for each length as given."""
    rolls: int
    proved: bool
    """True where no fewer rolls can do."""


def fewest_rolls(lengths: Sequence[float], roll_length: float, tries: int = MOST_TRIES) -> Packing:
    """The fewest rolls of one length (m) that give all lengths (m), each in one piece.

    First the longest first, each into the first roll that holds it; where the sum of the lengths does not prove that
    no fewer rolls do, a search over all packings of up to `MOST_PIECES`, cut off after so many `tries`. Raises
    ValueError where a length is longer than the roll.

    >>> fewest_rolls([6.0, 4.0, 5.0, 5.0], 10.0).rolls
    2
    """
    if any(length > roll_length + SLACK for length in lengths):
        raise ValueError(f"a piece is longer than the roll of {roll_length} m")
    order = sorted(range(len(lengths)), key=lambda index: (-lengths[index], index))
    sizes = [lengths[index] for index in order]
    placed = _longest_first(sizes, roll_length)
    rolls = max(placed, default=-1) + 1
    least = ceil(sum(sizes) / roll_length - SLACK) if sizes else 0
    proved = rolls <= least
    if not proved and tries > 0 and len(sizes) <= MOST_PIECES:
        search = _Search(sizes, roll_length, least, placed, tries)
        search.run()
        placed, rolls, proved = search.best, search.fewest, search.proved
    roll_of = [0] * len(sizes)
    for index, roll in zip(order, placed, strict=True):
        roll_of[index] = roll
    return Packing(tuple(roll_of), rolls, proved)


def _longest_first(sizes: Sequence[float], roll_length: float) -> list[int]:
    left: list[float] = []
    placed: list[int] = []
    for size in sizes:
        home = next((index for index, rest in enumerate(left) if size <= rest + SLACK), len(left))
        if home == len(left):
            left.append(roll_length)
        left[home] -= size
        placed.append(home)
    return placed


class _Search:
    """Depth first over all packings of sizes in falling order; equal rests are tried once."""

    def __init__(self, sizes: Sequence[float], roll_length: float, least: int, first: list[int], most: int) -> None:
        self.sizes, self.length, self.least, self.most = sizes, roll_length, least, most
        self.best, self.fewest = list(first), max(first) + 1
        self.tries, self.proved = 0, True
        self.after = [0.0] * (len(sizes) + 1)
        for index in range(len(sizes) - 1, -1, -1):
            self.after[index] = self.after[index + 1] + sizes[index]

    def run(self) -> None:
        """Finds the best packing; `proved` says whether the search came to its end."""
        self._place(0, [], [])

    def _place(self, index: int, rests: list[float], placed: list[int]) -> None:
        if self.fewest == self.least or not self.proved:
            return
        self.tries += 1
        if self.tries > self.most:
            self.proved = False
            return
        if index == len(self.sizes):
            if len(rests) < self.fewest:
                self.best, self.fewest = list(placed), len(rests)
            return
        more = ceil((self.after[index] - sum(rests)) / self.length - SLACK)
        if len(rests) + max(more, 0) >= self.fewest:
            return
        size, seen = self.sizes[index], set()
        for roll, rest in enumerate(rests):
            if size <= rest + SLACK and round(rest, 9) not in seen:
                seen.add(round(rest, 9))
                rests[roll] = rest - size
                self._place(index + 1, rests, [*placed, roll])
                rests[roll] = rest
        if len(rests) + 1 < self.fewest:
            self._place(index + 1, [*rests, self.length - size], [*placed, len(rests)])
