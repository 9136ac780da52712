"""In what order nodes and columns stand from left to right, on the levels that `mains` finds."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from functools import cached_property

from .mains import Mains, Ranked, Slot, in_turn
from .skeleton import Chain, natural


class Ranker(Mains):
    """Works out one `Ranked`."""

    def along(self, members: list[str], chains: list[Chain], key: Callable[[str], object]) -> list[str]:
        """Nodes of one main along the water: every node after all that feeds it, a branch at a time."""
        before: dict[str, list[str]] = {n: [] for n in members}
        after: dict[str, list[str]] = {n: [] for n in members}
        for chain in chains:
            u, v = self.ends[id(chain)]
            before[v].append(u)
            after[u].append(v)
        for a, b in self.pairs:
            if a in before and b in before and self.enters(a) != self.enters(b):
                first, last = (a, b) if self.enters(a) else (b, a)
                before[last].append(first)
                after[first].append(last)

        def in_order(nodes: Iterable[str]) -> list[str]:
            return sorted(dict.fromkeys(nodes), key=key)                    # type: ignore[arg-type]

        ends = [n for n in members if not after[n]]
        return in_turn([*in_order(ends), *in_order(members)], lambda node: in_order(before[node]))[0]

    def metres(self, chain: Chain, node: str) -> float:
        """Metres of pipe between a chain's boiler and one of its end nodes; where a run goes on through the boiler, half
        of it."""
        n = next(k for k, item in enumerate(chain.items) if item.kind == "boiler")
        before, after = ({link.run for link in part} for part in (chain.links[:n + 1], chain.links[n + 1:]))
        length = dict(zip(self.plant.run_names, (run.length_m for run in self.plant.runs)))
        wanted, other = (before, after) if self.ends[id(chain)][0] == node else (after, before)
        return sum(length[run] / (2 if run in other else 1) for run in wanted)

    def enters(self, port: str) -> bool:
        """True where the pipe at a port is written towards the vessel."""
        return any(c.v == port for c in self.bones.chains)

    @cached_property
    def lead(self) -> str:
        """The boiler to begin with: the lead's tag where one leads, else the first."""
        boilers = self.plant.of_kind("boiler")
        return min(boilers, key=lambda p: (not p["lead"], natural(p.tag))).tag

    def ranked(self, plain: bool = False) -> Ranked:
        """The whole order. `plain`: every node on one level, every chain on legs of its own."""
        out = Ranked(self.bones, plain=plain)
        sets = self.find_mains()
        level = self.find_levels(sets)
        out.supply, out.cut = self.colour(), self.cut
        for node in self.nodes:
            out.main_of[node] = sets.root(node)
            out.level[node] = 0 if plain else level[sets.root(node)]
        out.levels = max(out.level.values()) + 1
        first = self.first_level_of_boilers(out)
        rows: dict[str, list[str]] = defaultdict(list)
        for node in self.nodes:
            rows[sets.root(node)].append(node)
        inside = {id(c) for c in self.plains if id(c) not in self.cut}
        key = self.node_key()
        for name in sorted(rows, key=lambda m: (level[m], first.get(m, 9), natural(m))):
            chains = [c for c in self.plains if id(c) in inside and out.main_of[self.ends[id(c)][0]] == name]
            out.order += self.along(rows[name], chains, key)

        def level_way(chain: Chain) -> bool:
            u, v = self.ends[id(chain)]
            return u != v and (id(chain) in inside or out.level[u] == out.level[v]) and not (plain and chain.items)

        out.mains = [c for c in self.plains if level_way(c)]
        self.fill_slots(out)
        return out

    def node_key(self) -> Callable[[str], object]:
        """Sort key of nodes: those that lead to tanks after those that lead to boilers, then by tag."""
        boiler = {n for c in self.heats if self.heat(c) == "boiler" for n in self.ends[id(c)]}
        lead = {n for c in self.heats if any(i.tag == self.lead for i in c.items) for n in self.ends[id(c)]}
        return lambda n: (n not in lead, n not in boiler, natural(n))

    def first_level_of_boilers(self, out: Ranked) -> dict[str, int]:
        """Mains with the lead boiler's outlet first, then those of other boilers."""
        found: dict[str, int] = {}
        for chain in self.heats:
            if self.heat(chain) == "boiler":
                main = out.main_of[self.hot_cold(chain)[0]]
                lead = any(i.tag == self.lead for i in chain.items)
                found[main] = min(found.get(main, 9), 0 if lead else 1)
        return found

    def fill_slots(self, out: Ranked) -> None:
        """Slots from left to right: at each node, in order, what hangs from it; then what is left."""
        mains = {id(c) for c in out.mains}
        hung: dict[str, list[Chain]] = defaultdict(list)
        place = {n: k for k, n in enumerate(out.order)}
        for chain in self.bones.chains:
            if id(chain) in mains:
                continue
            u, v = self.ends[id(chain)]
            top = min((u, v), key=lambda n: (out.level[n], place[n]))
            hung[top].append(chain)
        vessel_at: dict[str, str] = {}
        for tag in self.bones.vessels:
            ports = [n for n in out.order if n.startswith(f"{tag}.")]
            firsts = [n for n in ports if n.endswith("_supply")] or ports
            vessel_at[firsts[0]] = tag
        weight = {"boiler": 0, "": -1 if self.keep else 1, "load": 2}
        has: set[str] = set()
        for node in out.order:
            for chain in sorted(hung[node], key=lambda c: (
                    weight[self.heat(c)],
                    -round(self.metres(c, node), 6) if self.heat(c) == "boiler" else 0.0,    # the furthest first
                    natural(c.items[0].tag if not self.heat(c) else next(
                        i.tag for i in c.items if i.kind == "boiler" or self.plant.is_load(i.tag)))
                    if c.items else (), natural(c.u), natural(c.v), natural(c.links[0].run))):
                u, v = self.ends[id(chain)]
                has.update((u, v))
                if out.level[u] == out.level[v]:
                    out.slots += [Slot("legs", chain, side=0), Slot("legs", chain, side=1)]
                else:
                    out.slots.append(Slot("column", chain))
            if node in vessel_at:
                tag = vessel_at[node]
                left = node.rpartition(".")[2][0]
                has.update(f"{tag}.{s}_{e}" for s in "ab" for e in ("supply", "return"))
                out.slots += self.vessel_slots(out, tag, left, "b" if left == "a" else "a")
        self.pin(out, has)

    def vessel_slots(self, out: Ranked, tag: str, left: str, right: str) -> list[Slot]:
        """One slot a side; two where the vessel does not stand plainly between two levels."""
        found = []
        for side, letter in enumerate((left, right)):
            if between_levels(out, tag):
                found.append(Slot("vessel", vessel=tag, node=letter, side=side))
            else:
                pair = [Slot("vessel", vessel=tag, node=letter, side=side, port=p) for p in ("supply", "return")]
                found += pair if side else pair[::-1]
        return found

    def pin(self, out: Ranked, has: set[str]) -> None:
        """A node from which nothing hangs gets a place of its own, beside its neighbours."""
        for node in out.order:
            if node in has:
                continue
            near = [self.ends[id(c)] for c in out.mains if node in self.ends[id(c)]]
            fed = [u for u, v in near if v == node]
            led = [v for u, v in near if u == node]
            where = len(out.slots)
            spots = [self.touching(out, n) for n in (fed or led)]
            flat = [k for row in spots for k in row]
            if flat:
                where = max(flat) + 1 if fed else min(flat)
                if out.level[node] > 0:
                    back = [k for n in led for k in self.touching(out, n)]
                    where = min(flat) if not back or min(back) < min(flat) else max(flat) + 1
            step = -1 if where - 1 in flat else 1
            while 0 < where < len(out.slots) and out.slots[where].vessel \
                    and out.slots[where - 1].vessel == out.slots[where].vessel:
                where += step                               # never inside a vessel
            out.slots.insert(where, Slot("pin", node=node))
            has.add(node)

    def touching(self, out: Ranked, node: str) -> list[int]:
        """Indices of the slots at which a node is joined."""
        found = []
        for k, slot in enumerate(out.slots):
            if slot.chain is not None and node in self.ends[id(slot.chain)]:
                u, v = self.ends[id(slot.chain)]
                if slot.what == "column" or u == v or node == self.leg_node(out, slot):
                    found.append(k)
            elif slot.what == "vessel":
                if node.startswith(f"{slot.vessel}.{slot.node}_{slot.port}"):
                    found.append(k)
            elif slot.what == "pin" and slot.node == node:
                found.append(k)
        return found

    def leg_node(self, out: Ranked, slot: Slot) -> str:
        """The node that one leg of a U comes down from: the left leg from the one that is first along the water."""
        assert slot.chain is not None
        u, v = self.ends[id(slot.chain)]
        first = out.order.index(u) <= out.order.index(v)
        return (u if first else v) if slot.side == 0 else (v if first else u)


def between_levels(out: Ranked, tag: str) -> bool:
    """True where a vessel's supply ports are on one level and its return ports on the next."""
    level = out.level
    return (tag not in out.apart and level[f"{tag}.a_supply"] == level[f"{tag}.b_supply"]
            and level[f"{tag}.a_return"] == level[f"{tag}.b_return"] == level[f"{tag}.a_supply"] + 1)
