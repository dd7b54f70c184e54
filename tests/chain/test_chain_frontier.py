"""Breadth-first bookkeeping over a graph given as a dictionary: order, distances, edges, limits, small blocks."""

from collections import deque

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain import frontier as room
from interlock.chain.frontier import Frontier

graphs = st.lists(st.lists(st.integers(0, 19), max_size=4), min_size=20, max_size=20)
Graph = list[list[int]]


def walk(graph: Graph, limit: int) -> Frontier:
    frontier = Frontier(np.array([0], dtype=np.uint64), limit)
    for first, words in frontier:
        pairs = [(row, target) for row, word in enumerate(words.tolist()) for target in graph[word]]
        source = np.array([row for row, _ in pairs], dtype=np.int64)
        target = np.array([target for _, target in pairs], dtype=np.uint64)
        frontier.add(source + first, source * 0, target)
    return frontier


def plainly(graph: Graph) -> dict[int, int]:
    """Distance from 0 of each node, in the order met."""
    met, todo = {0: 0}, deque([0])
    while todo:
        node = todo.popleft()
        for target in graph[node]:
            if target not in met:
                met[target] = met[node] + 1
                todo.append(target)
    return met


@given(graphs, st.sampled_from([1, 2, 1 << 15]))
def test_words_come_in_breadth_first_order_whatever_the_block(graph: Graph, block: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "_BLOCK", block)
        frontier = walk(graph, 1000)
    assert frontier.words().tolist() == list(plainly(graph))
    assert frontier.expanded == len(plainly(graph))


@given(graphs)
def test_edges_are_all_there_and_sorted_by_source(graph: Graph) -> None:
    frontier = walk(graph, 1000)
    words = frontier.words().tolist()
    source, _, target = frontier.edges()
    assert source.tolist() == sorted(source.tolist())
    pairs = [(words[s], words[t]) for s, t in zip(source.tolist(), target.tolist(), strict=True)]
    assert pairs == [(word, target) for word in words for target in graph[word]]


@given(graphs, st.integers(0, 25))
def test_a_limit_leaves_out_only_what_is_farther(graph: Graph, limit: int) -> None:
    frontier = walk(graph, limit)
    found = frontier.words().tolist()
    assert found == list(plainly(graph))[: len(found)]
    if frontier.expanded == len(found):
        assert len(found) == len(plainly(graph))
    else:
        assert len(found) > limit


def test_a_start_without_edges_is_whole() -> None:
    frontier = walk([[]], 5)
    assert frontier.words().tolist() == [0]
    assert frontier.expanded == 1
    assert [part.tolist() for part in frontier.edges()] == [[], [], []]
