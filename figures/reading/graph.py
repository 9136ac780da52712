"""The piping as a graph: what can carry water round, freed of dead ends and of how runs were cut.

A *node* is a tee, a vessel (hydraulic separator, buffer tank), a three-port valve or an end part. A *chain*
is all that stands between two nodes, parts and pipes in a row. Dead ends and single pipes that join two
circuits carry no water round; they are kept apart as *stubs*. A tee with two live ends is no node but lies
in its chain, so that cutting or joining runs changes nothing here.

Parallel chains are normal, so everything below works on chains by number, never on pairs of nodes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from figures.plant.kinds import KINDS
from figures.plant.model import Plant, port_of, tag_of

VESSELS = frozenset({"hydraulic separator", "buffer tank"})
RING = "."
"""Name of the made-up node on a ring that has no node of its own; no tag can be '.'."""


@dataclass(slots=True)
class Chain:
    """Parts and pipes in a row between two nodes.

    u, v: the nodes.  u_port, v_port: the port taken there, '' at a tee.  parts: two-port parts from u to v.
    tees: two-ended tees passed.  row: both, in order.  runs: indices of the runs it is made of.  length_m: metres of pipe.
    diameters: the same length counted in inside diameters.  at_m: metres from u to each part.
    directed: water is meant to flow from u to v; False where the runs contradict each other.
    """

    u: str
    v: str
    u_port: str = ""
    v_port: str = ""
    parts: tuple[str, ...] = ()
    tees: tuple[str, ...] = ()
    runs: frozenset[int] = frozenset()
    length_m: float = 0.0
    diameters: float = 0.0
    at_m: dict[str, float] = field(default_factory=dict)
    directed: bool = True
    row: tuple[str, ...] = ()

    def ends(self) -> tuple[str, str]:
        """Both nodes."""
        return self.u, self.v

    def other(self, node: str) -> str:
        """The node at the other end."""
        return self.v if node == self.u else self.u

    def reversed(self) -> Chain:
        """The same chain told from v to u."""
        return Chain(self.v, self.u, self.v_port, self.u_port, self.parts[::-1], self.tees[::-1], self.runs,
                     self.length_m, self.diameters, {p: self.length_m - m for p, m in self.at_m.items()},
                     self.directed, self.row[::-1])


def raw_chains(plant: Plant) -> list[Chain]:
    """Every chain between nodes as the runs write them: directed, dead ends included."""
    two_ports = {tag for tag, part in plant.parts.items() if KINDS[part.kind].shape == "two ports"}
    leaving: dict[str, tuple[int, int]] = {}
    starts: list[tuple[int, int]] = []
    for index, run in enumerate(plant.runs):
        for n, end in enumerate(run.through[:-1]):
            if end in two_ports:
                leaving[end] = (index, n)
            else:
                starts.append((index, n))
    chains, walked = [], set()

    def walk(index: int, n: int) -> Chain:
        first = plant.runs[index].through[n]
        parts: list[str] = []
        runs: set[int] = set()
        at: dict[str, float] = {}
        length = diameters = 0.0
        while True:
            run = plant.runs[index]
            piece = run.length_m / (len(run.through) - 1)
            length += piece
            diameters += piece / run.bore.inside_m
            runs.add(index)
            end = run.through[n + 1]
            if end not in two_ports or (parts and end == parts[0] and first in two_ports):
                break
            parts.append(end)
            walked.add(end)
            at[end] = length
            if end == first:     # a ring without a node comes home to the part it set out from
                break
            index, n = leaving[end]
        if first in two_ports:
            return Chain(RING, RING, "", "", tuple(parts), (), frozenset(runs), length, diameters, at,
                         row=tuple(parts))
        return Chain(tag_of(first), tag_of(end), port_of(first), port_of(end), tuple(parts), (),
                     frozenset(runs), length, diameters, at, row=tuple(parts))

    for index, n in starts:
        chains.append(walk(index, n))
    for tag in leaving:          # rings on which no node lies
        if tag not in walked:
            chains.append(walk(*leaving[tag]))
    return chains


class PipeGraph:
    """Chains and nodes that can carry water round, and the stubs that cannot.

    chains: live chains.  incident: node → numbers of its live chains (a chain from a node to itself stands
    twice).  stubs: chains that carry no water round.  `without` leaves chains out, as if taken away.
    """

    def __init__(self, plant: Plant, raw: Sequence[Chain] | None = None) -> None:
        self.plant = plant
        self.raw = list(raw if raw is not None else raw_chains(plant))
        live = _live(self.raw)
        self.stubs = [self.raw[i] for i in sorted({*range(len(self.raw))} - {*live})]
        self.chains = _join_in_series(plant, [self.raw[i] for i in live])
        self.incident: dict[str, list[int]] = {}
        for number, chain in enumerate(self.chains):
            self.incident.setdefault(chain.u, []).append(number)
            self.incident.setdefault(chain.v, []).append(number)
        kinds = {tag: part.kind for tag, part in plant.parts.items()}
        self.kind = kinds
        self.boilers = [tuple(p for p in c.parts if kinds[p] == "boiler") for c in self.chains]
        self.loads = [tuple(p for p in c.parts if plant.is_load(p)) for c in self.chains]
        self.total_boilers = sum(map(len, self.boilers))
        self.total_loads = sum(map(len, self.loads))
        self._where = {p: n for n, c in enumerate(self.chains) for p in c.parts}
        self.pumps = [tuple(p for p in c.parts if kinds[p] == "pump") for c in self.chains]

    def without(self, chains: Iterable[int]) -> PipeGraph:
        """The graph with some live chains taken away, dead ends pruned anew."""
        gone: set[int] = set()
        for number in chains:
            gone |= self.chains[number].runs
        parts = {p for number in chains for p in self.chains[number].parts}
        keep = [c for c in self.raw if not (parts & set(c.parts)) and not (c.runs <= gone and not c.parts)]
        return PipeGraph(self.plant, keep)

    def chain_of(self, tag: str) -> int | None:
        """Number of the live chain that holds a two-port part; None where it carries no water round."""
        return self._where.get(tag)

    def out_of(self, node: str) -> Iterator[tuple[int, str]]:
        """Live chains by which water may leave a node, with the node they lead to."""
        for number in self.incident.get(node, ()):
            chain = self.chains[number]
            if chain.u == node:
                yield number, chain.v
            if chain.v == node and not chain.directed:
                yield number, chain.u

    def into(self, node: str) -> Iterator[tuple[int, str]]:
        """Live chains by which water may reach a node, with the node they come from."""
        for number in self.incident.get(node, ()):
            chain = self.chains[number]
            if chain.v == node:
                yield number, chain.u
            if chain.u == node and not chain.directed:
                yield number, chain.v


def blocks(edges: Sequence[tuple[int, str, str]]) -> list[list[int]]:
    """Biconnected components of a multigraph, as lists of edge numbers.

    edges: (number, node, node). A self-loop is a block of its own; parallel edges share one, and so are
    told from a bridge. Iterative, so that a long row of nodes does no harm.
    Source: Hopcroft and Tarjan, Communications of the ACM 16, 1973.

    >>> sorted(map(sorted, blocks([(0, "a", "b"), (1, "b", "a"), (2, "b", "c"), (3, "c", "c")])))
    [[0, 1], [2], [3]]
    """
    at: dict[str, list[tuple[int, str]]] = {}
    found: list[list[int]] = []
    for n, u, v in edges:
        if u == v:
            found.append([n])
            continue
        at.setdefault(u, []).append((n, v))
        at.setdefault(v, []).append((n, u))
    order: dict[str, int] = {}
    low: dict[str, int] = {}
    for root in at:
        if root in order:
            continue
        order[root] = low[root] = len(order)
        walk: list[tuple[str, int, Iterator[tuple[int, str]]]] = [(root, -1, iter(at[root]))]
        open_edges: list[int] = []
        while walk:
            node, came_by, rest = walk[-1]
            step = next(rest, None)
            if step is None:
                walk.pop()
                if walk:
                    above = walk[-1][0]
                    low[above] = min(low[above], low[node])
                    if low[node] >= order[above]:
                        cut = open_edges.index(came_by) if open_edges[-1] != came_by else len(open_edges) - 1
                        found.append(open_edges[cut:])
                        del open_edges[cut:]
                continue
            n, other = step
            if n == came_by:
                continue
            if other not in order:
                order[other] = low[other] = len(order)
                open_edges.append(n)
                walk.append((other, n, iter(at[other])))
            elif order[other] < order[node]:
                open_edges.append(n)
                low[node] = min(low[node], order[other])
    return found


def on_circuits(edges: Iterable[tuple[int, str, str]]) -> set[int]:
    """Numbers of the edges that lie on a directed circuit: both ends in one strongly connected component.

    edges: (number, from, to); an edge that water may pass either way is given twice.
    Source: Tarjan, SIAM Journal on Computing 1, 1972; iterative.

    >>> sorted(on_circuits([(0, "a", "b"), (1, "b", "a"), (2, "b", "c"), (3, "d", "d")]))
    [0, 1, 3]
    """
    edges = list(edges)
    ways: dict[str, list[str]] = {}
    for _, u, v in edges:
        ways.setdefault(u, []).append(v)
        ways.setdefault(v, [])
    order: dict[str, int] = {}
    low: dict[str, int] = {}
    home: dict[str, int] = {}
    waiting: list[str] = []
    for root in ways:
        if root in order:
            continue
        order[root] = low[root] = len(order)
        waiting.append(root)
        walk = [(root, iter(ways[root]))]
        while walk:
            node, rest = walk[-1]
            far = next(rest, None)
            if far is None:
                walk.pop()
                if walk:
                    low[walk[-1][0]] = min(low[walk[-1][0]], low[node])
                if low[node] == order[node]:
                    while True:
                        member = waiting.pop()
                        home[member] = order[node]
                        if member == node:
                            break
            elif far not in order:
                order[far] = low[far] = len(order)
                waiting.append(far)
                walk.append((far, iter(ways[far])))
            elif far not in home:
                low[node] = min(low[node], order[far])
    return {n for n, u, v in edges if home[u] == home[v]}


def _live(chains: Sequence[Chain]) -> list[int]:
    """Numbers of the chains that lie on a circuit: all but dead ends and single chains that join two circuits."""
    bridges = {block[0] for block in blocks([(n, *chain.ends()) for n, chain in enumerate(chains)])
               if len(block) == 1 and chains[block[0]].u != chains[block[0]].v}
    return [n for n in range(len(chains)) if n not in bridges]


def _join_in_series(plant: Plant, chains: list[Chain]) -> list[Chain]:
    """Chains joined at every tee that has two live ends, so that only branching nodes are left."""
    at: dict[str, list[int]] = {}
    for n, chain in enumerate(chains):
        at.setdefault(chain.u, []).append(n)
        at.setdefault(chain.v, []).append(n)
    passed = {node for node, numbers in at.items() if len(numbers) == 2 and numbers[0] != numbers[1]
              and node != RING and plant.parts[node].kind == "tee"}
    joined: list[Chain] = []
    done: set[int] = set()

    def follow(number: int, node: str) -> Chain:
        """From `node` along chain `number` until a branching node, or back home round a ring."""
        row = []
        here = node
        while True:
            done.add(number)
            chain = chains[number]
            row.append(chain if chain.u == here else chain.reversed())
            forward = chain.u == here
            flags.append(forward)
            here = chain.other(here)
            if here not in passed or here == node:
                break
            number = next(n for n in at[here] if n != number)
        return _series(row, flags)

    for node in at:
        if node in passed:
            continue
        for number in at[node]:
            if number not in done:
                flags: list[bool] = []
                joined.append(follow(number, node))
    for node in passed:          # rings on which no node branches
        number = at[node][0]
        if number not in done:
            flags = []
            joined.append(follow(number, node))
    return joined


def _series(row: list[Chain], forward: list[bool]) -> Chain:
    """One chain of several in a row, told in the direction in which its parts, or else its pipes, are written."""
    if len(row) == 1:
        return row[0] if forward[0] else row[0].reversed()
    telling = {f for c, f in zip(row, forward) if c.parts} or set(forward)
    at: dict[str, float] = {}
    length = 0.0
    for chain in row:
        at.update({p: length + m for p, m in chain.at_m.items()})
        length += chain.length_m
    tees = tuple(t for n, c in enumerate(row) for t in (*c.tees, *((c.v,) if n < len(row) - 1 else ())))
    everything = tuple(t for n, c in enumerate(row) for t in (*c.row, *((c.v,) if n < len(row) - 1 else ())))
    runs: frozenset[int] = frozenset().union(*(c.runs for c in row))
    whole = Chain(row[0].u, row[-1].v, row[0].u_port, row[-1].v_port,
                  tuple(p for c in row for p in c.parts), tees, runs, length, sum(c.diameters for c in row), at,
                  directed=len(telling) == 1, row=everything)
    return whole.reversed() if telling == {False} else whole
