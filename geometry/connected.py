"""What hangs together: items joined pair by pair fall into groups."""

from __future__ import annotations

from collections.abc import Iterable


def labels_of(count: int, pairs: Iterable[tuple[int, int]]) -> list[int]:
    """For each of `count` items the number of one item of its group, the same for all of a group (union-find).

    pairs: numbers of items that belong together, in any order and as often as they come.
    """
    parents = list(range(count))

    def root(item: int) -> int:
        while parents[item] != item:
            parents[item] = parents[parents[item]]
            item = parents[item]
        return item

    for one, other in pairs:
        parents[root(other)] = root(one)
    return [root(item) for item in range(count)]


def groups_of(count: int, pairs: Iterable[tuple[int, int]]) -> list[list[int]]:
    """The items group by group, each group and its items in rising order of their first."""
    groups: dict[int, list[int]] = {}
    for item, label in enumerate(labels_of(count, pairs)):
        groups.setdefault(label, []).append(item)
    return list(groups.values())
