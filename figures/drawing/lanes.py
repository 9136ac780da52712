"""Along each level: which nodes and pipes share a height, and which need a lane of their own.

Decided on the order of the slots alone, so that the widths found later cannot change it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict
from dataclasses import dataclass, field

from .mains import Ranked, Slot
from .rank import Ranker
from .skeleton import Chain, Hanger


@dataclass(eq=False)
class Bar:
    """A node stretched along its level: the slots at which columns join it, and what leaves it outwards."""

    name: str
    level: int
    lane: int = 0
    slots: list[int] = field(default_factory=list)
    left: Chain | None = None                              # the chain that goes on along the same lane
    right: Chain | None = None
    out: dict[int, Chain | Hanger] = field(default_factory=dict)    # slot -> riser or hanger
    drops: list[int] = field(default_factory=list)         # slots at which a riser from an inner lane ends here

    @property
    def low(self) -> int:
        """The first slot at which a column joins it; they are kept from left to right."""
        return self.slots[0]

    @property
    def high(self) -> int:
        """The last."""
        return self.slots[-1]


@dataclass(eq=False)
class Lane:
    """A main chain that runs in a lane of its own, between risers at two slots."""

    chain: Chain
    level: int
    a: int = 0                                             # slot of its u end
    b: int = 0                                             # slot of its v end
    lane: int = 1


@dataclass
class Laned:
    """Bars, fused chains and lanes over the final list of slots."""

    slots: list[Slot]
    bars: dict[str, Bar]
    fused: dict[int, tuple[int, int]]                      # id(chain) -> the slots between which it runs
    lanes: dict[int, Lane]                                 # id(chain) -> its lane
    drops: dict[int, int]                                  # id(chain) -> the slot at which it goes straight across
    depth: dict[int, int]                                  # level -> highest lane
    spans: list[tuple[int, int, int, int]]                 # level, lane, and the slots that something there spans

    def cover(self, level: int, low: int, high: int, least: int) -> int:
        """The outermost lane that something lies in between two slots, at least `least`."""
        return max([least] + [lane for at, lane, a, b in self.spans if at == level and a < high and b > low])


class Laner:
    """Finds the lanes; pins are added to the slots where a node has more to hold than places."""

    def __init__(self, ranker: Ranker, ranked: Ranked) -> None:
        self.ranker, self.ranked = ranker, ranked
        self.slots = list(ranked.slots)

    def bars(self) -> dict[str, Bar]:
        """A bar for each node, with the slots at which something joins it, from left to right."""
        out = self.ranked
        out.slots = self.slots
        found = {n: Bar(n, out.level[n]) for n in out.order}
        place = {n: k for k, n in enumerate(out.order)}
        for k, slot in enumerate(self.slots):
            if slot.what == "pin":
                found[slot.node].slots.append(k)
            elif slot.what == "vessel":
                for port in (slot.port,) if slot.port else ("supply", "return"):
                    found[f"{slot.vessel}.{slot.node}_{port}"].slots.append(k)
            elif slot.chain is not None:
                u, v = self.ranker.ends[id(slot.chain)]
                if slot.what == "column":
                    found[u].slots.append(k)
                    found[v].slots.append(k)
                else:
                    first = place[u] <= place[v]
                    found[(u if first else v) if slot.side == 0 else (v if first else u)].slots.append(k)
        return found

    def node_lanes(self, bars: dict[str, Bar]) -> None:
        """Interval colouring, ports first, so that they stay level with their vessel."""
        taken: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
        names = list(bars)
        names.sort(key=lambda n: "." not in n)
        for k, name in enumerate(names):
            bar = bars[name]
            lane = k if self.ranked.plain else 0
            while not self.is_free(taken[bar.level, lane], bar):
                lane += 1
            insort(taken[bar.level, lane], (bar.low, bar.high))
            bar.lane = lane

    @staticmethod
    def is_free(taken: list[tuple[int, int]], bar: Bar) -> bool:
        """True where none of a lane's stretches, apart from one another and in order, reaches into the bar's."""
        before = bisect_right(taken, bar.high, key=lambda stretch: stretch[0])
        return before == 0 or taken[before - 1][1] < bar.low

    def fuse(self, bars: dict[str, Bar]) -> tuple[dict[int, tuple[int, int]], list[Chain]]:
        """Chains between neighbours in one lane run straight on; the rest are left over."""
        fused: dict[int, tuple[int, int]] = {}
        rest: list[Chain] = []
        rows: dict[tuple[int, int], list[int]] = defaultdict(list)
        for bar in bars.values():
            insort(rows[bar.level, bar.lane], bar.low)
        for chain in sorted(self.ranked.mains, key=lambda c: -len(c.items)):
            u, v = (bars[n] for n in self.ranker.ends[id(chain)])
            one, two = (u, v) if u.low <= v.low else (v, u)
            if self.far_first(one, rightwards=True) or self.far_first(two, rightwards=False):
                rest.append(chain)
                continue
            row = rows[one.level, one.lane]
            between = bisect_right(row, one.high) < bisect_left(row, two.low)
            if (self.ranked.plain or one is two or (one.level, one.lane) != (two.level, two.lane) or between
                    or (chain.items and self.within_vessel(one.high, two.low))
                    or one.right or two.left or one.high >= two.low):
                rest.append(chain)
                continue
            one.right = two.left = chain
            fused[id(chain)] = (one.high, two.low)
        return fused, rest

    def within_vessel(self, low: int, high: int) -> bool:
        """True where two slots are one vessel's, next to each other: between them is no room for a part."""
        a, b = self.slots[low], self.slots[high]
        return high == low + 1 and a.what == b.what == "vessel" and a.vessel == b.vessel

    def far_first(self, bar: Bar, rightwards: bool) -> bool:
        """True where several boilers hang from one tee and, by metres of pipe, the nearest to it is the one furthest
        from where the main leaves: then the main comes home beneath them, for a straight one would show the other
        order."""
        if self.ranked.plain or bar.level == 0:
            return False
        boilers = [(k, chain) for k in bar.slots if (chain := self.slots[k].chain) is not None
                   and self.slots[k].what == "column" and self.ranker.heat(chain) == "boiler"]
        if len(boilers) < 2 or len(boilers) != len(bar.slots):
            return False
        metres = [self.ranker.metres(chain, bar.name) for _, chain in sorted(boilers, key=lambda b: b[0])]
        if not rightwards:
            metres.reverse()
        return metres[0] == min(metres) and metres[0] + 1e-6 < metres[-1]

    def free(self, bar: Bar) -> list[int]:
        """Slots of a bar from which something may leave outwards."""
        found = []
        nodes = self.ranked.bones.nodes
        for k in bar.slots:
            slot = self.slots[k]
            if slot.what == "vessel" or (nodes[bar.name].kind in ("diverting valve", "mixing valve")
                                         and slot.what != "pin"):
                continue
            if slot.what == "pin" or bar.level == 0:
                found.append(k)
            elif slot.what == "column" and slot.chain is not None:
                levels = [self.ranked.level[n] for n in self.ranker.ends[id(slot.chain)]]
                if bar.level == max(levels):
                    found.append(k)
        return found

    def laned(self) -> Laned:
        """The whole of it."""
        while True:
            bars = self.bars()
            self.node_lanes(bars)
            fused, rest = self.fuse(bars)
            wants: dict[str, list[Chain | Hanger]] = defaultdict(list)
            for chain in rest:
                for node in self.ranker.ends[id(chain)]:
                    wants[node].append(chain)
            for joint in self.ranked.bones.nodes.values():
                wants[joint.name] += joint.hangers
            short = [n for n in self.ranked.order if len(wants[n]) > len(self.free(bars[n]))]
            if not short:
                return self.give(bars, fused, rest, wants)
            pins = sorted(((self.pin_place(bars[n], wants[n], bars), n) for n in short), reverse=True)
            for where, name in pins:
                self.slots.insert(where, Slot("pin", node=name))

    def pin_place(self, bar: Bar, wants: list[Chain | Hanger], bars: dict[str, Bar]) -> int:
        """Where one more place for a node goes among the slots: beside its own, never inside a vessel."""
        where = bar.high + 1
        slot = self.slots[bar.high]
        if slot.what == "vessel" and slot.side == 0:
            where = bar.low
        elif isinstance(wants[0], Chain):
            others = [bars[n] for n in self.ranker.ends[id(wants[0])] if n != bar.name]
            if others and others[0].high < bar.low and self.slots[bar.low].what != "vessel":
                where = bar.low
        while 0 < where < len(self.slots) and self.slots[where - 1].what == self.slots[where].what == "vessel" \
                and self.slots[where - 1].vessel == self.slots[where].vessel:
            where += 1 if slot.side else -1
        return where

    def give(self, bars: dict[str, Bar], fused: dict[int, tuple[int, int]], rest: list[Chain],
             wants: dict[str, list[Chain | Hanger]]) -> Laned:
        """Slots to risers and hangers, lanes to the chains that are left."""
        spare = {n: self.free(bars[n]) for n in bars}
        drops = self.drop(bars, rest, spare)
        rest = [c for c in rest if id(c) not in drops]
        lanes = {id(c): Lane(c, bars[self.ranker.ends[id(c)][0]].level) for c in rest}
        middle = {n: (b.low + b.high) / 2 for n, b in bars.items()}
        for chain in rest:
            u, v = self.ranker.ends[id(chain)]
            lane = lanes[id(chain)]
            for node, other in ((u, v), (v, u)):
                rightwards = middle[other] > middle[node]
                if self.far_first(bars[node], rightwards):
                    rightwards = not rightwards
                k = spare[node].pop(-1 if rightwards else 0)
                bars[node].out[k] = chain
                if node == u and not (u == v and lane.a):
                    lane.a = k
                else:
                    lane.b = k
        for name, row in wants.items():
            hangers = [w for w in row if isinstance(w, Hanger)]
            for hanger in hangers:
                bars[name].out[spare[name].pop(0)] = hanger
        taken: dict[tuple[int, int], list[tuple[int, int]]] = defaultdict(list)
        for bar in bars.values():
            taken[bar.level, bar.lane].append((min([bar.low, *bar.out, *bar.drops]), max([bar.high, *bar.out, *bar.drops])))
        for chain in self.ranked.mains:
            if id(chain) in fused:
                bar = bars[self.ranker.ends[id(chain)][0]]
                taken[bar.level, bar.lane].append(fused[id(chain)])
        for lane in sorted(lanes.values(), key=lambda r: abs(r.a - r.b)):
            low, high = min(lane.a, lane.b), max(lane.a, lane.b)
            lane.lane = max(bars[n].lane for n in self.ranker.ends[id(lane.chain)]) + 1
            while any(low <= h and at <= high for at, h in taken[lane.level, lane.lane]):
                lane.lane += 1
            taken[lane.level, lane.lane].append((low, high))
        depth = dict.fromkeys(range(self.ranked.levels), 0)
        for level, lane_no in taken:
            if taken[level, lane_no]:
                depth[level] = max(depth[level], lane_no)
        spans = [(level, lane_no, a, b) for (level, lane_no), row in taken.items() for a, b in row]
        return Laned(self.slots, bars, fused, lanes, drops, depth, spans)

    def drop(self, bars: dict[str, Bar], rest: list[Chain], spare: dict[str, list[int]]) -> dict[int, int]:
        """Chains without parts between bars that lie one above the other go straight across at one slot."""
        found: dict[int, int] = {}
        if self.ranked.plain:
            return found
        for chain in rest:
            u, v = (bars[n] for n in self.ranker.ends[id(chain)])
            inner, outer = (u, v) if u.lane < v.lane else (v, u)
            if chain.items or inner.lane == outer.lane:
                continue
            places = [k for k in spare[inner.name] if outer.low < k < outer.high and k not in outer.slots]
            if places:
                k = places[0] if outer.low < inner.low else places[-1]
                spare[inner.name].remove(k)
                inner.out[k] = chain
                outer.drops.append(k)
                found[id(chain)] = k
        return found
