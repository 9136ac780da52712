"""What has to be drawn, before any coordinate: nodes, the chains of parts between them, and what hangs on them.

Dead ends (relief valve, expansion tank …) are taken off and kept as hangers. A tee that then joins two pipes only is
an item of its chain, like a pump. A chain that would hold both boilers and loads, or too much for one column, is
parted at a tee, or at a bend where it has none.
"""

from __future__ import annotations

import itertools
import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from figures.plant.kinds import IN_LINE, VALVES
from figures.plant.model import Plant, port_of, tag_of

SMALL = VALVES | IN_LINE | {"pump", "bypass valve"}


@lru_cache(maxsize=4096)
def natural(tag: str) -> tuple[object, ...]:
    """Sort key in which B2 comes before B10.

    >>> sorted(["B10", "B2"], key=natural)
    ['B2', 'B10']
    """
    return tuple((1, int(p), "") if p.isdigit() else (0, 0, p) for p in re.split(r"(\d+)", tag) if p)


@dataclass(slots=True)
class Hanger:
    """A dead end or an instrument: tags from its host outwards. `links`: the run before each tag and whether it is
    written outwards; none for an instrument.
    """

    tags: tuple[str, ...]
    links: tuple[tuple[str, bool], ...] = ()


@dataclass(slots=True)
class Item:
    """A part (or a tee that joins two pipes) in a chain. `against`: written against the chain's direction."""

    tag: str
    kind: str
    hangers: list[Hanger] = field(default_factory=list)
    against: bool = False


@dataclass(slots=True)
class Link:
    """The pipe between two items: the run that it is a piece of, and whether it is written along the chain."""

    run: str
    forward: bool = True


@dataclass(slots=True)
class Chain:
    """Items in a row between two ends; one link more than items. Ends are tags, 'TAG.port', or '~n' for a bend."""

    u: str
    v: str
    items: list[Item]
    links: list[Link]
    length_m: float = 0.0
    side: Side | None = None

    def turn(self) -> None:
        """Make it run the other way."""
        self.u, self.v = self.v, self.u
        self.items.reverse()
        self.links.reverse()
        for link in self.links:
            link.forward = not link.forward
        for item in self.items:
            item.against = not item.against

    def holds(self, *kinds: str) -> bool:
        """True where an item is of one of these kinds."""
        return any(item.kind in kinds for item in self.items)


@dataclass(slots=True)
class Side:
    """The way round within a column: from the tee that is item `low` back to the mixing valve that is item `high`."""

    high: int
    low: int
    chain: Chain


@dataclass(slots=True)
class Node:
    """A tee, a port of a vessel, a three-port valve, or a bend ('~n')."""

    name: str
    kind: str
    hangers: list[Hanger] = field(default_factory=list)


@dataclass
class Skeleton:
    """Nodes and chains of a plant, and instruments that are fixed to nothing that is drawn."""

    plant: Plant
    nodes: dict[str, Node]
    chains: list[Chain]
    loose: list[str]
    vessels: list[str]

    def node_of(self, end: str) -> str:
        """The node that a chain's end belongs to: three ports make one node, four make four."""
        tag = tag_of(end)
        return tag if tag in self.nodes else end


class _Builder:
    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.ends: dict[str, list[tuple[int, bool]]] = defaultdict(list)
        for index, run in enumerate(plant.runs):
            self.ends[run.through[0]].append((index, True))
            self.ends[run.through[-1]].append((index, False))
        self.hangers: dict[str, list[Hanger]] = defaultdict(list)
        self.gone: set[int] = set()
        self.bends = 0

    def is_tee(self, end: str) -> bool:
        return end in self.plant.parts and self.plant.parts[end].kind == "tee"

    def is_node(self, end: str) -> bool:
        """A tee with other than two pipes, or a port."""
        return port_of(end) != "" or (self.is_tee(end) and len(self.ends[end]) != 2)

    def hang(self) -> None:
        """Take off the dead ends that are a plain row of parts."""
        for tag in sorted(self.plant.parts, key=natural):
            if self.plant.parts[tag].what.shape != "end" or not self.ends[tag]:
                continue
            tags = [tag]
            links: list[tuple[str, bool]] = []
            at, ((index, start),) = tag, self.ends[tag]
            used = []
            while True:
                used.append(index)
                run = self.plant.runs[index]
                row = run.through if start else run.through[::-1]
                tags += row[1:-1]
                links += [(self.plant.run_names[index], not start)] * (len(row) - 1)
                at = row[-1]
                if port_of(at) or self.plant.parts[at].what.shape != "two ports":
                    break
                tags.append(at)
                index, start = next((i, s) for i, s in self.ends[at] if i != index)
            self.gone.update(used)
            self.ends[at].remove((index, not start))
            hanger = Hanger(tuple(reversed(tags)), tuple(reversed(links)))
            if port_of(at) or self.is_tee(at):
                self.hangers[at].append(hanger)
            elif self.plant.parts[at].what.shape == "end":      # a row between two dead ends: nothing else is there
                self.hangers[self.bend()] += [hanger, Hanger((at,), ((links[-1][0], not links[-1][1]),))]

    def instruments(self) -> list[str]:
        loose = []
        for tag in sorted(self.plant.parts, key=natural):
            part = self.plant.parts[tag]
            if part.what.shape == "instrument":
                at = part.given.get("at")
                if isinstance(at, str):
                    self.hangers[at if at in self.ends else tag_of(at)].append(Hanger((tag,)))
                else:
                    loose.append(tag)
        return loose

    def walk(self, start: str, index: int, at_start: bool) -> Chain:
        """The chain that leaves `start` by one end of a run."""
        items: list[Item] = []
        links: list[Link] = []
        length = 0.0
        while True:
            self.gone.add(index)
            run, name = self.plant.runs[index], self.plant.run_names[index]
            row = run.through if at_start else run.through[::-1]
            length += run.length_m
            links.append(Link(name, at_start))
            for end in row[1:-1]:
                items.append(self.item(end, at_start))
                links.append(Link(name, at_start))
            end = row[-1]
            if end == start or self.is_node(end):
                return Chain(start, end, items, links, length)
            items.append(self.item(end, at_start))
            index, at_start = next((i, s) for i, s in self.ends[end] if (i, s) != (index, not at_start))

    def item(self, tag: str, forward: bool) -> Item:
        return Item(tag, self.plant.parts[tag].kind, self.hangers.pop(tag, []), not forward)

    def chains(self) -> list[Chain]:
        """Every chain once, in an order that hangs on tags, not on the file's order."""
        starts = sorted((end for end in self.ends if self.is_node(end)), key=natural)
        found = []
        for start in starts:
            for index, at_start in sorted(self.ends[start], key=lambda e: (natural(self.plant.run_names[e[0]]), e[1])):
                if index not in self.gone:
                    found.append(self.walk(start, index, at_start))
        left = [end for index, run in enumerate(self.plant.runs) if index not in self.gone for end in run.through[:-1]]
        if left:        # one undivided ring: cut it before its first boiler, or before any part where the boiler hangs beside it
            found.append(self.ring(min(left, key=lambda tag: (self.plant.parts[tag].kind != "boiler", natural(tag)))))
        return found

    def ring(self, tag: str) -> Chain:
        index, run = next((i, r) for i, r in enumerate(self.plant.runs) if i not in self.gone and tag in r.through[:-1])
        n = run.through.index(tag)
        name = self.plant.run_names[index]
        items = [self.item(end, True) for end in run.through[n:-1]]
        links = [Link(name) for _ in range(len(items) + 1)]
        length, end, came, at_start = run.length_m, run.through[-1], index, True
        while not (came == index and n > 0 and length > run.length_m) and end != tag:
            items.append(self.item(end, at_start))
            came, at_start = next((i, s) for i, s in self.ends[end] if (i, s) != (came, not at_start))
            self.gone.add(came)
            other, name = self.plant.runs[came], self.plant.run_names[came]
            row = other.through if at_start else other.through[::-1]
            length += other.length_m
            stop = row.index(tag) if came == index else len(row) - 1
            items += [self.item(e, at_start) for e in row[1:stop]]
            links += [Link(name, at_start) for _ in row[1:stop]] + [Link(name, at_start)]
            if came == index:
                break
            end = row[-1]
        links[0] = Link(links[-1].run, links[-1].forward)   # what enters the boiler
        return Chain("~0", "~0", items, links, length)

    def bend(self) -> str:
        self.bends += 1
        return f"~{self.bends}"


def _heats(plant: Plant, chain: Chain) -> list[int]:
    return [n for n, item in enumerate(chain.items) if item.kind == "boiler" or plant.is_load(item.tag)]


def _cuts(plant: Plant, chain: Chain) -> list[tuple[int, bool]]:
    """Where to part a chain: (n, True) at the tee that is item n, (n, False) at a bend in link n."""
    heats = _heats(plant, chain)
    items = chain.items
    if not heats:
        return []
    cuts: list[tuple[int, bool]] = []

    def before(stop: int, start: int, alone: bool) -> None:
        """What stands before a heat part: a column takes three, and of tees one."""
        gap = items[start:stop]
        tees = [n for n in range(start, stop) if items[n].kind == "tee"]
        if not alone and ((len(gap) <= 3 and len(tees) <= 1 and not (tees and len(gap) == 3))
                          or (items[stop].kind == "boiler" and len(gap) <= 4 and len(tees) <= 2)):
            return
        near = [n for n in tees if stop - 1 - n <= 3]
        cuts.append((near[-1], True) if near else (max(start, stop - 3), False))

    def after(start: int, stop: int, boiler: bool, alone: bool) -> None:
        """What stands behind it: a boiler's column takes seven."""
        most = 7 if boiler else 3
        gap = items[start:stop]
        tees = [n for n in range(start, stop) if items[n].kind == "tee"]
        if not alone and len(gap) <= most and len(tees) <= (2 if boiler else 1):
            return
        if boiler and alone and tees:
            reliefs = [n for n in tees if any(plant.parts[h.tags[-1]].kind == "relief valve" for h in items[n].hangers)]
            first = reliefs[0] + 1 if reliefs and reliefs[0] - start <= 1 else start
            while first < stop and items[first].kind in SMALL and first - start < 3 and not boiler:
                first += 1
            cuts.append((first, False) if first >= stop or items[first].kind != "tee" else (first, True))
            return
        near = [n for n in tees if n - start <= most and (not boiler or n > start)]
        cuts.append((near[0], True) if near else (min(start + most, stop), False))

    def group(n: int) -> str:
        return "boiler" if items[n].kind == "boiler" else "load"

    first, last = heats[0], heats[-1]
    before(first, 0, alone=False)
    for a, b in itertools.pairwise(heats):
        if group(a) != group(b):
            after(a + 1, b, group(a) == "boiler", alone=True)
            before(b, a + 1, alone=True)
    after(last + 1, len(items), group(last) == "boiler", alone=False)
    return sorted(set(cuts))


def _part(builder: _Builder, chain: Chain, nodes: dict[str, Node]) -> Iterable[Chain]:
    """The pieces of a chain."""
    cuts = _cuts(builder.plant, chain)
    if chain.u == chain.v == "~0":
        cuts = [c for c in cuts if c != (0, False) and c != (len(chain.items), False)]
        end = "~0"
        nodes[end] = Node(end, "bend")
    at, name = 0, chain.u
    for n, tee in cuts:
        if n < at:
            continue
        if tee:
            item = chain.items[n]
            nodes[item.tag] = Node(item.tag, "tee", item.hangers)
            yield Chain(name, item.tag, chain.items[at:n], chain.links[at:n + 1], chain.length_m)
            at, name = n + 1, item.tag
        else:
            bend = builder.bend()
            nodes[bend] = Node(bend, "bend")
            links = [Link(k.run, k.forward) for k in chain.links[at:n + 1]]
            yield Chain(name, bend, chain.items[at:n], links, chain.length_m)
            at, name = n, bend
    yield Chain(name, chain.v, chain.items[at:], chain.links[at:], chain.length_m)


def _orient(plant: Plant, chain: Chain) -> None:
    """Turn a chain along the way in which most of it is written; what heats or cools decides alone."""
    heats = _heats(plant, chain)
    votes = [-1 if chain.items[n].against else 1 for n in heats] or [1 if k.forward else -1 for k in chain.links]
    if sum(votes) < 0:
        chain.turn()


def _mixed(builder: _Builder, nodes: dict[str, Node], chains: list[Chain]) -> list[Chain]:
    """A mixing valve that takes its cold water from the return of its own load goes into that load's column."""
    plant = builder.plant
    for tag in sorted((n.name for n in nodes.values() if n.kind == "mixing valve"), key=natural):
        at = {c.u if c.u.startswith(f"{tag}.") else c.v: c for c in chains
              if c.u.startswith(f"{tag}.") or c.v.startswith(f"{tag}.")}
        if len(at) != 3 or nodes[tag].hangers:
            continue
        hot, cold, mixed = at[f"{tag}.hot"], at[f"{tag}.cold"], at[f"{tag}.mixed"]
        tee = mixed.v
        if mixed.u != f"{tag}.mixed" or hot.v != f"{tag}.hot" or tee not in nodes or nodes[tee].kind != "tee":
            continue
        if tee not in (cold.u, cold.v) or cold.items or not any(plant.is_load(i.tag) for i in mixed.items):
            continue
        others = [c for c in chains if tee in (c.u, c.v) and c not in (cold, mixed)]
        if len(others) != 1 or nodes[tee].hangers or others[0].u == others[0].v or others[0] is hot:
            continue
        rest = others[0]
        if rest.v == tee:
            rest.turn()
        if cold.v == tee:
            cold.turn()
        for old in (hot, cold, mixed, rest):
            chains.remove(old)
        if len(hot.items) > 2 or hot.holds("tee"):
            hot = _bent(builder, nodes, chains, hot, last=True)
        if len(rest.items) > 2 or rest.holds("tee", "boiler") or any(plant.is_load(i.tag) for i in rest.items):
            rest = _bent(builder, nodes, chains, rest, last=False)
        items = [*hot.items, Item(tag, "mixing valve"), *mixed.items, Item(tee, "tee"), *rest.items]
        whole = Chain(hot.u, rest.v, items, [*hot.links, *mixed.links, *rest.links],
                      hot.length_m + mixed.length_m + rest.length_m)
        whole.side = Side(len(hot.items), len(hot.items) + 1 + len(mixed.items), cold)
        chains.append(whole)
        del nodes[tag], nodes[tee]
    return chains


def _bent(builder: _Builder, nodes: dict[str, Node], chains: list[Chain], chain: Chain, last: bool) -> Chain:
    """Leave a chain's parts on the level and give back the plain pipe that goes on from them."""
    bend = builder.bend()
    nodes[bend] = Node(bend, "bend")
    if last:
        chains.append(Chain(chain.u, bend, chain.items, chain.links, chain.length_m))
        return Chain(bend, chain.v, [], [chain.links[-1]])
    chains.append(Chain(bend, chain.v, chain.items, chain.links, chain.length_m))
    return Chain(chain.u, bend, [], [chain.links[0]])


def skeleton(plant: Plant) -> Skeleton:
    """Nodes, chains and hangers of any plant.

    >>> from figures.plant.scheme import Scheme
    >>> bones = skeleton(Scheme().plant())
    >>> [item.tag for chain in bones.chains for item in chain.items if item.kind == "boiler"]
    ['B1']
    """
    builder = _Builder(plant)
    builder.hang()
    loose = builder.instruments()
    whole = builder.chains()
    nodes: dict[str, Node] = {}
    for end in sorted(builder.ends, key=natural):
        if not builder.is_node(end):
            continue
        tag = tag_of(end)
        kind = plant.parts[tag].kind
        name = tag if kind in ("tee", "diverting valve", "mixing valve") else end
        node = nodes.setdefault(name, Node(name, kind))
        node.hangers += builder.hangers.pop(end, []) + (builder.hangers.pop(tag, []) if name == tag else [])
    for name in [name for name in builder.hangers if name.startswith("~")]:
        nodes[name] = Node(name, "bend", builder.hangers.pop(name))
    chains = []
    for chain in whole:
        _orient(plant, chain)
        for piece in _part(builder, chain, nodes):
            _orient(plant, piece)
            chains.append(piece)
    chains = _mixed(builder, nodes, chains)
    vessels = sorted((p.tag for p in plant.of_kind("hydraulic separator", "buffer tank")), key=natural)
    for tag in vessels:                                     # an instrument fixed to the vessel itself
        if tag in builder.hangers:
            nodes[f"{tag}.a_supply"].hangers += builder.hangers.pop(tag)
    for end, rest in sorted(builder.hangers.items()):       # an instrument on a part that is itself a dead end
        loose += [hanger.tags[0] for hanger in rest if end]
    return Skeleton(plant, nodes, chains, loose, vessels)
