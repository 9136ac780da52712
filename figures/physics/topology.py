"""From a plant to the network that is solved: dead ends taken off, pieces in series made one link.

Vertices are tees, ends, ports and the joints where a two-port part ends one run and starts the next. Edges are
runs and the ways through vessels and three-port valves. What stays after pruning and contraction are
*junctions*, where three or more ways meet, and *links* between them, oriented along the written runs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from figures.plant.model import Plant, port_of, tag_of

from .links import Pieces, k_coefficient, kv_coefficient

VESSELS = ("hydraulic separator", "buffer tank")
WAYS = {"diverting valve": ("common", "a", "b"), "mixing valve": ("mixed", "hot", "cold")}


@dataclass(frozen=True)
class Edge:
    """A run, or a way through a vessel or a three-port valve. `way` is '' for a run, else 'TAG' or 'TAG.port'."""

    start: int
    end: int
    run: int
    way: str
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Step:
    """One edge of a link: `sign` is +1 where it is written along the link, −1 against."""

    edge: int
    sign: int


@dataclass(frozen=True)
class Where:
    """Where a part lies: its link (−1 on a dead end), and +1 where its run is written along the link."""

    link: int
    sign: int


@dataclass
class Topology:
    """The contracted network of a plant; see `build`."""

    plant: Plant
    vertices: dict[str, int] = field(default_factory=dict)
    edges: list[Edge] = field(default_factory=list)
    pruned: list[tuple[int, int]] = field(default_factory=list)
    links: list[tuple[Step, ...]] = field(default_factory=list)
    junctions: list[int] = field(default_factory=list)
    start: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    end: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=np.intp))
    where: dict[str, Where] = field(default_factory=dict)
    edge_where: dict[int, Where] = field(default_factory=dict)
    edge_of: dict[str, int] = field(default_factory=dict)

    def vertex(self, end: str) -> int:
        """Index of the vertex that a run's end, a tee or a port stands for."""
        return self.vertices[self.vertex_name(end)]

    def vertex_name(self, end: str) -> str:
        """A vessel's two supply ports are one vertex, and so are its two return ports."""
        tag, port = tag_of(end), port_of(end)
        if self.plant.parts[tag].kind in VESSELS and port:
            return f"{tag}.{port[2:]}"
        return end

    def part_sign(self, tag: str) -> int:
        """+1 for a part along its run, −1 where it carries `reversed`."""
        return -1 if self.plant.parts[tag].given.get("reversed") else 1


def build(plant: Plant) -> Topology:
    """The contracted network of `plant`, in the order of its file, so that equal files give equal networks."""
    topology = Topology(plant)
    _edges(topology)
    alive = _prune(topology)
    _contract(topology, alive)
    return topology


def _edges(t: Topology) -> None:
    plant = t.plant

    def vertex(end: str) -> int:
        return t.vertices.setdefault(t.vertex_name(end), len(t.vertices))

    for index, run in enumerate(plant.runs):
        first, *inner, last = run.through
        own = [tag for tag in (first, *inner, last)
               if "." not in tag and plant.parts[tag].what.shape == "two ports" and plant.run_through[tag] == index]
        own = list(dict.fromkeys(own))
        for tag in own:
            t.edge_of[tag] = len(t.edges)
        t.edges.append(Edge(vertex(first), vertex(last), index, "", tuple(own)))
    for tag, part in plant.parts.items():
        if part.kind in VESSELS:
            t.edge_of[tag] = len(t.edges)
            t.edges.append(Edge(vertex(f"{tag}.a_supply"), vertex(f"{tag}.a_return"), -1, tag, (tag,)))
        elif part.kind in WAYS:
            trunk, *branches = WAYS[part.kind]
            for branch in branches:
                way = f"{tag}.{branch}"
                t.edge_of[way] = len(t.edges)
                ends = (vertex(f"{tag}.{trunk}"), vertex(way))
                if part.kind == "mixing valve":
                    ends = ends[::-1]
                t.edges.append(Edge(*ends, -1, way, (way,)))


def _prune(t: Topology) -> set[int]:
    """Edges that water can pass through; dead ends go to `pruned` as (edge, vertex that stays), outermost first."""
    at: dict[int, set[int]] = defaultdict(set)
    for index, edge in enumerate(t.edges):
        at[edge.start].add(index)
        at[edge.end].add(index)
    alive = set(range(len(t.edges)))
    loose = [v for v, around in at.items() if len(around) == 1]
    while loose:
        vertex = loose.pop()
        if len(at[vertex]) != 1:
            continue
        index = next(iter(at[vertex]))
        edge = t.edges[index]
        if edge.start == edge.end:
            continue
        stays = edge.end if edge.start == vertex else edge.start
        t.pruned.append((index, stays))
        alive.discard(index)
        at[vertex].discard(index)
        at[stays].discard(index)
        if len(at[stays]) == 1:
            loose.append(stays)
    for index, _ in t.pruned:
        for tag in t.edges[index].parts:
            t.where[tag] = Where(-1, 1)
        t.edge_where[index] = Where(-1, 1)
    return alive


def _contract(t: Topology, alive: set[int]) -> None:
    ends: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for index in sorted(alive):
        edge = t.edges[index]
        ends[edge.start].append((index, 1))
        ends[edge.end].append((index, -1))
    used: set[int] = set()
    starts: list[int] = []
    finishes: list[int] = []

    def other(index: int, sign: int) -> int:
        return t.edges[index].end if sign > 0 else t.edges[index].start

    def walk(vertex: int, index: int, sign: int) -> None:
        steps, here = [Step(index, sign)], other(index, sign)
        used.add(index)
        while len(ends[here]) == 2 and here != vertex:
            (a, a_sign), (b, b_sign) = ends[here]
            following, f_sign = (b, b_sign) if a in used and (a == steps[-1].edge) else (a, a_sign)
            steps.append(Step(following, f_sign))
            used.add(following)
            here = other(following, f_sign)
        along = sum(step.sign for step in steps)
        if along < 0 or (along == 0 and steps[0].sign < 0):
            steps = [Step(step.edge, -step.sign) for step in reversed(steps)]
            vertex, here = here, vertex
        starts.append(vertex)
        finishes.append(here)
        t.links.append(tuple(steps))

    order = [v for v in sorted(ends) if len(ends[v]) != 2]
    for vertex in order:
        for index, sign in ends[vertex]:
            if index not in used:
                walk(vertex, index, sign)
    for vertex in sorted(ends):                          # rings without a junction
        for index, sign in ends[vertex]:
            if index not in used:
                walk(vertex, index, sign)
    t.junctions = sorted(set(starts) | set(finishes))
    number = {vertex: n for n, vertex in enumerate(t.junctions)}
    t.start = np.array([number[v] for v in starts], dtype=np.intp)
    t.end = np.array([number[v] for v in finishes], dtype=np.intp)
    for link, steps in enumerate(t.links):
        for step in steps:
            t.edge_where[step.edge] = Where(link, step.sign)
            for tag in t.edges[step.edge].parts:
                t.where[tag] = Where(link, step.sign)


def pieces(t: Topology) -> Pieces:
    """Pipe of each link, one row for each bore."""
    rows: list[tuple[int, float, float, float]] = []
    for link, steps in enumerate(t.links):
        by_bore: dict[tuple[float, float], float] = defaultdict(float)
        for step in steps:
            edge = t.edges[step.edge]
            if edge.run >= 0:
                run = t.plant.runs[edge.run]
                by_bore[run.bore.inside_m, run.bore.roughness_m] += run.length_m
        rows += [(link, length, *bore) for bore, length in by_bore.items()]
    table = np.array(rows, dtype=float).reshape(-1, 4)
    return Pieces(table[:, 0].astype(np.intp), table[:, 1].copy(), table[:, 2].copy(), table[:, 3].copy(),
                  len(t.links))


@dataclass(frozen=True)
class PartLaw:
    """What one part adds to the law of its link, along that link.

    lift_m: head that a pump adds at no flow, signed; 0 for others.  fall: growth of its loss with flow squared
    while it runs (a pump), or stands open (others).  off_fall: the same for a pump that is off.
    one_way: +1 or −1 where water can pass it one way only.  set_kpa: of a bypass valve, else 0.
    """

    tag: str
    link: int
    lift_m: float
    fall: float
    off_fall: float
    one_way: int
    set_kpa: float


def part_law(t: Topology, name: str) -> PartLaw:
    """The law of the part or way `name`; its `link` is −1 on a dead end."""
    part, where = t.plant.parts[tag_of(name)], t.where[name]
    sign = where.sign * t.part_sign(part.tag)
    resistance = kv_coefficient(part.number("kv_m3h"))
    if part.kind == "pump":
        shutoff, rated = part.number("shutoff_m"), part.number("rated_m")
        fall = (shutoff - rated) / (part.number("rated_lps") / 1000.0) ** 2
        return PartLaw(name, where.link, sign * shutoff, fall, resistance, 0, 0.0)
    one_way = sign if part.kind in ("check valve", "bypass valve") else 0
    if part.kind == "bypass valve":
        return PartLaw(name, where.link, 0.0, resistance, resistance, one_way, part.number("set_kpa"))
    return PartLaw(name, where.link, 0.0, resistance, resistance, one_way, 0.0)


def part_laws(t: Topology) -> Mapping[str, PartLaw]:
    """Laws of all parts and ways, by name, in the order of the edges."""
    def names() -> Iterator[str]:
        for edge in t.edges:
            yield from edge.parts
    return {name: part_law(t, name) for name in names()}


def fitting_losses(t: Topology) -> np.ndarray:
    """Loss per squared flow of the runs' own `k`, summed for each link."""
    total = np.zeros(len(t.links))
    for link, steps in enumerate(t.links):
        for step in steps:
            edge = t.edges[step.edge]
            if edge.run >= 0 and t.plant.runs[edge.run].k:
                run = t.plant.runs[edge.run]
                total[link] += k_coefficient(run.k, run.bore.inside_m)
    return total
