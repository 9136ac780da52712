"""The graph routines against networkx, an independent library; chains worked out by hand."""

import random

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures import Scheme
from figures.reading.graph import PipeGraph, blocks, on_circuits, raw_chains
from figures.reading.loops import Joint, candidates, separates

from .sketch import sketch

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


def parts_without(graph, joint):
    """By networkx: what boilers and loads each part of the piping holds once the joint's nodes are taken out."""
    net = nx.Graph()
    for n, chain in enumerate(graph.chains):
        if n not in joint.chains:
            net.add_node(n)
            net.add_edges_from((n, end) for end in chain.ends() if end not in joint.nodes)
    for part in nx.connected_components(net):
        chains = [n for n in part if isinstance(n, int)]
        yield any(graph.boilers[n] for n in chains), any(graph.loads[n] for n in chains)


@pytest.mark.parametrize("seed", range(12))
def test_a_joint_separates_where_a_boiler_is_cut_off_from_a_load(seed):
    """Every candidate of a random scheme, and pairs of its nodes at random: boilers in one part, loads in another."""
    graph = PipeGraph(Scheme.random(seed).plant())
    chance = random.Random(seed)
    nodes = sorted(graph.incident)
    pairs = [Joint(tuple(chance.sample(nodes, min(2, len(nodes))))) for _ in range(25)]
    for joint in (*candidates(graph), *pairs):
        parts = list(parts_without(graph, joint))
        assert separates(graph, joint) == any(fired and any(load for j, (_, load) in enumerate(parts) if j != k)
                                              for k, (fired, _) in enumerate(parts)), joint


def test_a_joint_beside_bare_pipe_separates_nothing():
    """Boiler and load stand on one side of the tees; on the other, longer to walk, there is nothing but pipe."""
    graph = PipeGraph(sketch("A > B1 > P1 > E1 > Z\nZ > w\nw > FS1 > v\nw > BAL1 > v\nv > u\nu > FS2 > y\nu > BAL2 > y\ny > A\nA > AS1 > Z"))
    assert not separates(graph, Joint(("A", "Z"), (graph.chain_of("AS1"),)))


def test_the_empty_graph():
    """Nothing in, nothing out."""
    assert blocks([]) == [] and on_circuits([]) == set()


def test_a_long_row_does_no_harm():
    """Ten thousand edges in a row: no recursion limit is met."""
    row = [(n, str(n), str(n + 1)) for n in range(10_000)]
    assert len(blocks(row)) == 10_000 and on_circuits(row) == set()


INSIDE_M = 0.05248     # NPS 2, ASME B36.10M schedule 40
PIECES = ["A > q : 1", "w > q : 2", "w > P1 > v : 4", "v > E1 > Z : 6", "q > DR1 : 9", "Z > B1 > A : 3", "Z > BV1 > A : 5"]


def chain_with(plant, tag):
    """The live chain that holds a part."""
    graph = PipeGraph(plant)
    return graph.chains[graph.chain_of(tag)]


@pytest.mark.parametrize("turn", range(len(PIECES)))
def test_a_pipe_cut_into_pieces_is_one_chain_told_along_its_parts(turn):
    """A piece of bare pipe written backwards (w > q) and a drain at q change neither direction nor metres; nor does the order of
    the file, of which each turn begins elsewhere."""
    chain = chain_with(sketch("\n".join(PIECES[turn:] + PIECES[:turn])), "P1")
    assert (chain.ends(), chain.parts, chain.tees, chain.row) == (
        ("A", "Z"), ("P1", "E1"), ("q", "w", "v"), ("q", "w", "P1", "v", "E1"))
    assert chain.directed and chain.length_m == 13 and chain.at_m == {"P1": 5.0, "E1": 10.0}
    assert chain.diameters == pytest.approx(13 / INSIDE_M) and len(chain.runs) == 4
    assert chain.other("A") == "Z" and chain.other("Z") == "A"


@pytest.mark.parametrize("turn", range(len(PIECES)))
def test_parts_that_face_each_other_leave_a_chain_without_direction(turn):
    """The emitter's run is written against the pump's."""
    pieces = [line.replace("v > E1 > Z : 6", "Z > E1 > v : 6") for line in PIECES]
    graph = PipeGraph(sketch("\n".join(pieces[turn:] + pieces[:turn])))
    number = graph.chain_of("P1")
    assert not graph.chains[number].directed and graph.chain_of("E1") == number
    ways = {(node, far) for node in "AZ" for n, far in graph.out_of(node) if n == number}
    assert ways == {("A", "Z"), ("Z", "A")} == {(far, node) for node in "AZ" for n, far in graph.into(node) if n == number}


def test_water_leaves_a_node_along_its_chains_and_reaches_it_so():
    """A boiler, a load and a bypass between the same two tees: parallel chains are told apart by number."""
    graph = PipeGraph(sketch("\n".join(PIECES)))
    kinds = {n: graph.chains[n].parts for n in range(len(graph.chains))}
    assert [(kinds[n], far) for n, far in graph.out_of("A")] == [(("P1", "E1"), "Z")]
    assert sorted((kinds[n], far) for n, far in graph.into("A")) == [(("B1",), "Z"), (("BV1",), "Z")]
    assert sorted((kinds[n], far) for n, far in graph.out_of("Z")) == [(("B1",), "A"), (("BV1",), "A")]
    assert list(graph.out_of("q")) == list(graph.into("DR1")) == [] and graph.chain_of("nobody") is None
    assert [chain.ends() for chain in graph.stubs] == [("q", "DR1")]
    assert (graph.boilers, graph.total_boilers, graph.total_loads) == ([k if k == ("B1",) else () for k in kinds.values()], 1, 1)


def test_a_ring_without_a_node_comes_home_to_the_part_it_set_out_from():
    """Three runs of a ring: two parts, the pipe between and the metres to each, from where the file begins."""
    plant = sketch("B1 > P1 : 4\nP1 > E1 > ST1 : 6\nST1 > B1 : 2")
    (chain,) = raw_chains(plant)
    assert chain.ends() == (".", ".") and chain.u_port == chain.v_port == "" and chain.directed and chain.tees == ()
    assert sorted(chain.parts) == ["B1", "E1", "P1", "ST1"] == sorted(chain.row) == sorted(chain.at_m)
    assert chain.length_m == 12 and len(chain.runs) == 3 and chain.diameters == pytest.approx(12 / INSIDE_M)
    start = chain.parts.index("P1")
    assert (*chain.parts[start:], *chain.parts[:start]) == ("P1", "E1", "ST1", "B1")
    assert [(chain.at_m[b] - chain.at_m[a]) % 12 for a, b in (("B1", "P1"), ("P1", "E1"), ("E1", "ST1"))] == [4, 3, 3]


def test_a_ring_with_one_tee_is_a_chain_of_one_node():
    """A relief valve's tee on the ring: two live ends, so it lies in the chain; with a bypass it branches."""
    graph = PipeGraph(sketch("t > P1 > E1 > B1 > t : 8\nt > RV1"))
    (chain,) = graph.chains
    assert chain.ends() == ("t", "t") and chain.parts == ("P1", "E1", "B1") and chain.length_m == 8
    assert chain.at_m == {"P1": 2.0, "E1": 4.0, "B1": 6.0} and graph.incident == {"t": [0, 0]}
    branched = PipeGraph(sketch("t > P1 > v > E1 > B1 > t : 8\nv > BV1 > t"))
    assert sorted(c.ends() for c in branched.chains) == [("t", "v"), ("v", "t"), ("v", "t")]


def test_ports_stay_with_their_ends_when_a_chain_is_told_the_other_way():
    """From the separator's supply port through two pieces of pipe, one written backwards, to the hot port of a mixing valve."""
    plant = sketch("B1 > P1 > HS1.b_supply\nHS1.b_return > B1\nv > HS1.a_supply\nv > MX1.hot\nMX1.mixed > P2 > E1 > r\n"
                   "r > MX1.cold\nr > HS1.a_return")
    graph = PipeGraph(plant)
    mixed = chain_with(plant, "E1")
    assert (mixed.ends(), mixed.u_port, mixed.v_port) == (("MX1", "r"), "mixed", "")
    found = {frozenset({(c.u, c.u_port), (c.v, c.v_port)}) for c in graph.chains}
    assert frozenset({("HS1", "a_supply"), ("MX1", "hot")}) in found
    assert frozenset({("HS1", "b_supply"), ("HS1", "b_return")}) in found
    assert next(c for c in graph.chains if c.tees == ("v",)).directed is False     # nothing but two pipes that contradict


def test_taking_a_branch_away_leaves_no_dead_end_and_no_tee_of_two_pipes():
    """Without the bypass, the tees at its ends are no nodes any more and the ring is one chain."""
    graph = PipeGraph(sketch("A > P1 > E1 > Z : 6\nZ > B1 > A : 3\nZ > BV1 > w > A : 5\nw > DR1"))
    assert len(graph.chains) == 3
    less = graph.without([graph.chain_of("BV1")])
    assert len(less.chains) == 1 and less.chain_of("BV1") is None and less.chains[0].length_m == 9
    assert sorted(less.chains[0].parts) == ["B1", "E1", "P1"] and len(graph.chains) == 3


def test_a_single_pipe_between_two_circuits_carries_no_water():
    """Two rings joined by one pipe: water cannot come back by it. What hangs on it goes with it."""
    graph = PipeGraph(sketch("a > B1 > P1 > a\na > j\nj > b\nj > XT\nb > P2 > E1 > b"))
    assert sorted(c.parts for c in graph.chains) == [("B1", "P1"), ("P2", "E1")]
    assert sorted(c.ends() for c in graph.stubs) == [("a", "j"), ("j", "XT"), ("j", "b")]
