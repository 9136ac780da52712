"""Which nodes stand at one height, and which chains hang between two heights.

A *main* is a set of nodes that pipes join without passing a boiler or a load, or crossing from supply to return. Mains
get levels: the hottest on top. What joins two levels is a column: boilers, loads, common pipes, bypasses.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from .skeleton import Chain, Node, Skeleton, natural


@dataclass(slots=True, eq=False)
class Slot:
    """One place along x. `what`: 'column', 'legs' (both ends on one level), 'vessel', 'pin' (only a node stands here).

    chain: of a column or legs.  node: of a pin; of a vessel 'a' or 'b', its side.  side: 0 is left, 1 right.
    port: of a vessel, '' where both ports of that side stand here, else 'supply' or 'return'.
    """

    what: str
    chain: Chain | None = None
    node: str = ""
    vessel: str = ""
    side: int = 0
    port: str = ""


@dataclass
class Ranked:
    """Levels, order and colours of a skeleton."""

    bones: Skeleton
    level: dict[str, int] = field(default_factory=dict)        # node -> level, 0 on top
    levels: int = 1
    main_of: dict[str, str] = field(default_factory=dict)      # node -> its main
    mains: list[Chain] = field(default_factory=list)           # chains along one level
    slots: list[Slot] = field(default_factory=list)
    supply: set[str] = field(default_factory=set)              # nodes that carry supply water
    order: list[str] = field(default_factory=list)             # all nodes, along the water
    cut: set[int] = field(default_factory=set)                 # ids of the chains between levels without heat parts
    plain: bool = False
    apart: set[str] = field(default_factory=set)               # vessels that stand in a zone, clear of all levels


class _Sets:
    """Union-find on names."""

    def __init__(self, names: Iterable[str]) -> None:
        self.up = {name: name for name in names}

    def root(self, name: str) -> str:
        while self.up[name] != name:
            self.up[name] = self.up[self.up[name]]
            name = self.up[name]
        return name

    def join(self, a: str, b: str) -> None:
        self.up[self.root(b)] = self.root(a)


def in_turn(starts: Iterable[str], onward: Callable[[str], Iterable[str]]) -> tuple[list[str], list[tuple[str, str]]]:
    """Names, each after all that it leads on to, a branch at a time; and the steps that led back to one whose turn had not come.

    No recursion, for a header of a thousand tees is a thousand steps deep.

    >>> in_turn("a", {"a": "bc", "b": "c", "c": "a"}.__getitem__)
    (['c', 'b', 'a'], [('c', 'a')])
    """
    done: dict[str, None] = {}
    seen: set[str] = set()
    back: list[tuple[str, str]] = []
    for start in starts:
        if start in seen:
            continue
        seen.add(start)
        row = [(start, iter(onward(start)))]
        while row:
            name, rest = row[-1]
            for other in rest:
                if other not in seen:
                    seen.add(other)
                    row.append((other, iter(onward(other))))
                    break
                if other not in done:
                    back.append((name, other))
            else:
                done[name] = None
                row.pop()
    return list(done), back


class Mains:
    """Finds the mains of a skeleton, their levels and their colours."""

    def __init__(self, bones: Skeleton, common: frozenset[str] = frozenset()) -> None:
        self.common = self.common_pipes = common            # runs that are common pipes of a separation
        self.bones, self.plant = bones, bones.plant
        self.nodes = sorted(bones.nodes, key=natural)
        self.ends = {id(c): (bones.node_of(c.u), bones.node_of(c.v)) for c in bones.chains}
        self.heats = [c for c in bones.chains if self.heat(c)]
        self.plains = [c for c in bones.chains if not self.heat(c)]
        self.keep: set[int] = set()
        self.cut: set[int] = set()

    def heat(self, chain: Chain) -> str:
        """'boiler', 'load' or ''."""
        for item in chain.items:
            if item.kind == "boiler":
                return "boiler"
            if self.plant.is_load(item.tag):
                return "load"
        return ""

    def hot_cold(self, chain: Chain) -> tuple[str, str]:
        """The nodes at the hot and at the cold end of a chain with a boiler or a load."""
        u, v = self.ends[id(chain)]
        return (v, u) if self.heat(chain) == "boiler" else (u, v)

    # -- mains ---------------------------------------------------------------------------------------------------

    def path(self, start: str, goal: str) -> list[Chain]:
        """The way with the fewest pipes from one node to another that passes no boiler, load or cut."""
        way: dict[str, Chain | None] = {start: None}
        row = [start]
        for node in row:
            if node == goal:
                break
            for chain in self.joined[node]:
                if id(chain) in self.cut:
                    continue
                u, v = self.ends[id(chain)]
                other = v if node == u else u
                if other not in way:
                    way[other] = chain
                    row.append(other)
        if goal not in way:
            return []
        found, node = [], goal
        while (back := way[node]) is not None:
            found.append(back)
            u, v = self.ends[id(back)]
            node = u if node == v else v
        return found[::-1]

    def mixing(self, without: Chain, heats: list[Chain]) -> int:
        """How many hot and cold ends still meet in one main when one more chain is cut."""
        sets = _Sets(self.nodes)
        for chain in self.plains:
            if chain is not without and id(chain) not in self.cut:
                sets.join(*self.ends[id(chain)])
        count: dict[str, list[int]] = defaultdict(lambda: [0, 0])
        for chain in heats:
            hot, cold = self.hot_cold(chain)
            count[sets.root(hot)][0] += 1
            count[sets.root(cold)][1] += 1
        return sum(min(row) for row in count.values())

    def cross_cuts(self) -> None:
        """Cut the chains that lead from supply to return, until no boiler or load is bridged by a main."""
        self.cut = {id(c) for c in self.plains if id(c) not in self.keep and (
            c.holds("bypass valve") or c.u.endswith(".cold") or c.v.endswith(".cold")
            or (self.common and all(link.run in self.common for link in c.links)))}
        heats = [c for c in self.heats if not (self.heat(c) == "boiler" and self.keep
                                               and any(set(self.ends[k]) == set(self.ends[id(c)]) for k in self.keep))]
        sets = self.sets()                       # a search that cannot get there looks everywhere first
        ways = {id(c): self.path(*ends) if sets.root(ends[0]) == sets.root(ends[1]) else []
                for c in heats for ends in (self.hot_cold(c),)}
        while open_ := [c for c in heats if any(id(p) not in self.keep for p in ways[id(c)])]:
            way = ways[id(min(open_, key=lambda c: len(ways[id(c)])))]      # the nearest bridge first
            far = {id(c): -n if self.keep else 0 for n, c in enumerate(way)}
            best = min((c for c in way if id(c) not in self.keep), key=lambda c: (
                self.mixing(c, heats), far[id(c)], c.length_m + 0.3 * len(c.items), natural(c.u), natural(c.v)))
            self.cut.add(id(best))
            for chain in heats:
                if any(c is best for c in ways[id(chain)]):
                    ways[id(chain)] = self.path(*self.hot_cold(chain))

    def find_mains(self) -> _Sets:
        """The mains, a vessel's supply ports counted as one, its return ports as another, where that bridges nothing."""
        self.joined: dict[str, list[Chain]] = defaultdict(list)
        for chain in self.plains:
            for node in dict.fromkeys(self.ends[id(chain)]):
                self.joined[node].append(chain)
        self.cross_cuts()
        sets = self.sets()
        beside = [c for c in self.heats if self.heat(c) == "boiler" and any(
            set(self.ends[id(p)]) == set(self.ends[id(c)]) for p in self.plains)]
        beside = [c for c in beside if not any(p.holds("bypass valve") for p in self.plains
                                               if set(self.ends[id(p)]) == set(self.ends[id(c)]))]
        level = self.find_levels(sets)
        if len(beside) > 1 and len({level[sets.root(self.hot_cold(c)[0])] for c in beside}) > 1:
            pairs = [set(self.ends[id(c)]) for c in beside]          # each boiler on tees of its own: along one main
            self.keep = {id(p) for p in self.plains if set(self.ends[id(p)]) in pairs}
            self.homes({n for pair in pairs for n in pair})
            self.cross_cuts()
            sets = self.sets()
        elif self.common and max(level.values()) > 2:
            self.common = frozenset()                                # too tall: loads on tees of their own in a row
            self.cross_cuts()
            sets = self.sets()
        self.pairs: list[tuple[str, str]] = []
        for tag in self.bones.vessels:
            plainly = [(f"{tag}.a_{end}", f"{tag}.b_{end}") for end in ("supply", "return")]
            swapped = [(f"{tag}.a_supply", f"{tag}.b_return"), (f"{tag}.a_return", f"{tag}.b_supply")]
            for choice in (plainly, swapped, plainly[:1], plainly[1:]):
                trial = self.sets(sets)
                for a, b in choice:
                    trial.join(a, b)
                if not self.shorted(trial) and not self.circular(trial):
                    sets = trial
                    self.pairs += choice
                    break
        return sets

    def homes(self, taken: set[str]) -> None:
        """A load that returns straight to a boiler's tee gets a bend before it, so that its return can stand below."""
        for chain in [c for c in self.heats if self.heat(c) == "load"]:
            u, v = self.ends[id(chain)]
            if v not in taken:
                continue
            bend = f"~home{len(self.bones.nodes)}"
            self.bones.nodes[bend] = Node(bend, "bend")
            home = Chain(bend, chain.v, [], [chain.links[-1]])
            chain.v = bend
            self.bones.chains.append(home)
            self.plains.append(home)
            self.nodes.append(bend)
            self.ends[id(chain)], self.ends[id(home)] = (u, bend), (bend, v)
            self.joined[bend].append(home)
            self.joined[v].append(home)

    def sets(self, base: _Sets | None = None) -> _Sets:
        """Nodes that pipes join, the cut ones left out; or a copy of `base`."""
        sets = _Sets(self.nodes)
        if base is not None:
            sets.up = dict(base.up)
            return sets
        for chain in self.plains:
            if id(chain) not in self.cut:
                sets.join(*self.ends[id(chain)])
        return sets

    def shorted(self, sets: _Sets) -> bool:
        """True where a boiler or a load has both ends in one main that it had not before."""
        return any(sets.root(h) == sets.root(c) for h, c in map(self.hot_cold, self.heats)
                   if h != c and not self.keep)

    def circular(self, sets: _Sets) -> bool:
        """True where a way down through boilers and loads leads back to the main that it came from."""
        down: dict[str, list[str]] = defaultdict(list)
        for hot, cold in map(self.hot_cold, self.heats):
            if (low := sets.root(cold)) != (high := sets.root(hot)):
                down[high].append(low)
        return bool(in_turn(list(down), down.__getitem__)[1])

    # -- levels --------------------------------------------------------------------------------------------------

    def find_levels(self, sets: _Sets) -> dict[str, int]:
        """Level of each main: the longest way down to it through boilers and loads."""
        down: dict[str, list[str]] = defaultdict(list)
        for chain in self.heats:
            hot, cold = (sets.root(n) for n in self.hot_cold(chain))
            if hot != cold and cold not in down[hot]:
                down[hot].append(cold)
        level: dict[str, int] = {}
        firsts = [sets.root(self.hot_cold(c)[0]) for c in sorted(
            self.heats, key=lambda c: (self.heat(c) != "boiler", natural(c.items[0].tag)))]
        order, back = in_turn([*firsts, *map(sets.root, self.nodes)], down.__getitem__)
        for name, other in back:
            down[name].remove(other)                        # written against all the rest: drawn upside down
        for name in reversed(order):
            level.setdefault(name, 0)
            for other in down[name]:
                level[other] = max(level.get(other, 0), level[name] + 1)
        heated = {sets.root(n) for c in self.heats for n in self.hot_cold(c)}
        for _ in range(3):                                  # a main without heat parts stands where it is joined
            for chain in self.plains:
                if id(chain) in self.cut:
                    a, b = (sets.root(n) for n in self.ends[id(chain)])
                    for one, other in ((a, b), (b, a)):
                        if one not in heated and other in heated:
                            level[one] = level[other] + (1 if level[other] == 0 else 0)
                            heated.add(one)
        return level

    # -- colours -------------------------------------------------------------------------------------------------

    def colour(self) -> set[str]:
        """Supply: reached from a boiler's outlet, or leading to a load, along the runs as written."""
        ahead: dict[str, list[str]] = defaultdict(list)
        behind: dict[str, list[str]] = defaultdict(list)
        inflow: dict[str, int] = defaultdict(int)
        for chain in self.bones.chains:
            inflow[self.ends[id(chain)][1]] += 1
        for chain in self.plains:
            u, v = self.ends[id(chain)]
            feeds = inflow[v] == 1 and id(chain) not in self.keep and not chain.holds("bypass valve") \
                and not all(link.run in self.common_pipes for link in chain.links)    # all that v gets comes by it
            if (id(chain) not in self.cut or feeds) and id(chain) not in self.keep:
                ahead[u].append(v)
                behind[v].append(u)
        for a, b in self.pairs:
            ahead[a].append(b)
            ahead[b].append(a)

        def reach(starts: Iterable[str], way: dict[str, list[str]]) -> set[str]:
            seen = dict.fromkeys(starts)
            row = list(seen)
            for node in row:
                for other in way[node]:
                    if other not in seen:
                        seen[other] = None
                        row.append(other)
            return set(seen)

        hots = [self.hot_cold(c)[0] for c in self.heats if self.heat(c) == "boiler"]
        loads = [self.hot_cold(c)[0] for c in self.heats if self.heat(c) == "load"]
        return reach(hots, ahead) | reach(loads, behind)
