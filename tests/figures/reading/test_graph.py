"""The graph routines against networkx, an independent library."""

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from figures.reading.graph import blocks, on_circuits

EDGES = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=16).map(
    lambda pairs: [(n, str(u), str(v)) for n, (u, v) in enumerate(pairs)])


@given(EDGES)
def test_blocks_are_the_biconnected_components(edges):
    """Each edge is a node of its own for networkx, which takes parallel edges for one; self-loops stand alone."""
    graph = nx.Graph()
    for n, u, v in edges:
        if u != v:
            graph.add_edge(u, f"edge {n} a")
            graph.add_edge(f"edge {n} a", f"edge {n} b")
            graph.add_edge(f"edge {n} b", v)
    expected = {frozenset(int(node.split()[1]) for node in block if " " in node)
                for block in nx.biconnected_components(graph)}
    merged = {block for block in expected if len(block) > 1}
    alone = {frozenset([n]) for n, _, _ in edges} - {frozenset([n]) for block in merged for n in block}
    assert {frozenset(block) for block in blocks(edges)} == merged | alone


@given(EDGES)
def test_circuits_are_the_strongly_connected_components(edges):
    """An edge lies on a circuit where both its ends are in one component."""
    graph = nx.DiGraph([(u, v) for _, u, v in edges])
    home = {node: k for k, part in enumerate(nx.strongly_connected_components(graph)) for node in part}
    assert on_circuits(edges) == {n for n, u, v in edges if home[u] == home[v]}


def test_the_empty_graph():
    """Nothing in, nothing out."""
    assert blocks([]) == [] and on_circuits([]) == set()


def test_a_long_row_does_no_harm():
    """Ten thousand edges in a row: no recursion limit is met."""
    row = [(n, str(n), str(n + 1)) for n in range(10_000)]
    assert len(blocks(row)) == 10_000 and on_circuits(row) == set()
