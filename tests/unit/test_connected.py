"""Items joined pair by pair, against a general-purpose graph library (networkx)."""

from __future__ import annotations

import networkx
from hypothesis import given
from hypothesis import strategies as st

from geometry.connected import groups_of, labels_of


def test_items_without_a_partner_are_groups_of_their_own() -> None:
    assert groups_of(3, []) == [[0], [1], [2]]
    assert groups_of(0, []) == []


def test_a_chain_is_one_group_however_it_comes() -> None:
    assert groups_of(5, [(3, 4), (0, 1), (1, 3)]) == [[0, 1, 3, 4], [2]]


@given(st.lists(st.tuples(st.integers(0, 19), st.integers(0, 19)), max_size=30))
def test_groups_are_the_connected_components(pairs: list[tuple[int, int]]) -> None:
    graph = networkx.Graph()
    graph.add_nodes_from(range(20))
    graph.add_edges_from(pairs)
    assert groups_of(20, pairs) == sorted(sorted(part) for part in networkx.connected_components(graph))
    labels = labels_of(20, pairs)
    assert all(labels[one] == labels[other] for one, other in pairs)
