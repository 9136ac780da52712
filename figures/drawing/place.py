"""The only placer: from a plant to coordinates, for schemes and plant files alike.

Levels stand one above another with a zone between; every column has an x of its own; along a level, what overlaps
goes to another lane. So pipes meet only where they join or cross square, and a crossing gets a bridge.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from figures.plant.model import Plant

from .lanes import Bar, Lane, Laned, Laner
from .mains import Ranked
from .placed import Placed, Point, Style
from .rank import Ranker, between_levels
from .room import CLEAR, GAP, PITCH, RISE, Room, wide
from .skeleton import Chain, Hanger, skeleton
from .symbols import shape


class Placer(Room):
    """Places one plant."""

    def __init__(self, plant: Plant, common: frozenset[str] = frozenset(), plain: bool = False) -> None:
        self.plant = plant
        self.bones = skeleton(plant)
        self.ranker = Ranker(self.bones, common)
        self.ranked: Ranked = self.ranker.ranked(plain)
        self.laned: Laned = Laner(self.ranker, self.ranked).laned()
        if crossed := {tag for tag in self.bones.vessels if self.crossed(tag)}:
            self.ranked.apart, self.ranked.slots = crossed, []
            self.ranker.fill_slots(self.ranked)
            self.laned = Laner(self.ranker, self.ranked).laned()
        self.slots = self.laned.slots
        self.joints: dict[Bar, list[int]] = {}
        self.out = Placed(plain=plain)
        self.at_gap: dict[int, list[tuple[Chain, int]]] = defaultdict(list)    # slot m -> chains with items behind it

    def crossed(self, tag: str) -> bool:
        """True where something would run through a vessel that stands between two levels."""
        zone = self.vessel_zone(tag)
        at = [k for k, s in enumerate(self.laned.slots) if s.vessel == tag]
        across = {(level, lane) for level, lane, a, b in self.laned.spans if a <= min(at) and b >= max(at)}
        return between_levels(self.ranked, tag) and any(
            (level == zone and (lane == 0 or zone > 0)) or (level == zone + 1 and lane == 0) for level, lane in across)

    # -- room ----------------------------------------------------------------------------------------------------

    def slot_sides(self) -> list[tuple[float, float, float, float]]:
        """For each slot: left and right over all, and left and right near its levels."""
        found = []
        for k, slot in enumerate(self.slots):
            left = right = near_left = near_right = 14.0
            if slot.chain is not None and (slot.what == "column" or self.parts_leg(k)):
                for item in slot.chain.items:
                    a, b = self.item_sides(item)
                    left, right = max(left, a), max(right, b)
                left = max(left, self.side_way(slot.chain) + 6)
            for bar in self.bars_at[k]:
                if bar.name[0] != "~" and "." not in bar.name and k == self.label_slot(bar):
                    room = 10 + wide(bar.name)
                    if self.bones.nodes[bar.name].kind != "tee":
                        room += 16
                    near_right = max(near_right, room)
                hung = bar.out.get(k)
                if isinstance(hung, Hanger):
                    a, b = self.hanger_side(hung)
                    near_left, near_right = max(near_left, a), max(near_right, b)
            if any(self.is_valve(b) for b in self.bars_at[k]):
                near_left, near_right = max(near_left, 22), max(near_right, 22)
            found.append((max(left, near_left), max(right, near_right), near_left, near_right))
        return found

    def parts_leg(self, k: int) -> bool:
        """Of a U, the leg that carries the parts: boilers on the right, else on the left."""
        slot = self.slots[k]
        assert slot.chain is not None
        return slot.what == "legs" and slot.side == (1 if self.ranker.heat(slot.chain) == "boiler" else 0)

    def label_slot(self, bar: Bar) -> int:
        """The slot beside which a node's tag is written."""
        nearest = self.inner_slots(bar)
        return nearest[0]

    def inner_slots(self, bar: Bar) -> list[int]:
        """The slots between which a node is one stretched joint: all but the outermost pipe on each side. Found once,
        for a header is asked at each of its slots."""
        if bar not in self.joints:
            self.joints[bar] = self.find_inner_slots(bar)
        return self.joints[bar]

    def find_inner_slots(self, bar: Bar) -> list[int]:
        """See `inner_slots`."""
        row = [(float(k), False) for k in (*(k for k in bar.slots if self.joins(bar, k)), *bar.drops)]
        row += [(float(k), isinstance(hung, Hanger) and not hung.links) for k, hung in bar.out.items()]
        row.sort()
        if bar.left:
            row.insert(0, (-1.0, False))
        if bar.right:
            row.append((1e9, False))
        while len(row) > 1 and row[0][1]:                   # an instrument beyond the last pipe lengthens no joint
            row.pop(0)
        while len(row) > 1 and row[-1][1]:
            row.pop()
        if self.is_valve(bar):                              # it hangs on the valve itself, not on its pipes
            row = [place for place in row if not place[1]]
        if len(row) >= 3:
            return [int(row[1][0]), int(row[-2][0])]
        found = [int(k) for k, _ in row if 0 <= k < 1e9] or [bar.slots[0]]
        return [found[0]] * 2

    def is_valve(self, bar: Bar) -> bool:
        """True for a three-port valve."""
        return self.bones.nodes[bar.name].kind in ("diverting valve", "mixing valve")

    def valve_up(self, bar: Bar) -> bool:
        """True where a three-port valve's actuator points up: away from its third pipe."""
        k = self.label_slot(bar)
        if k in bar.out:
            return bar.level > 0
        slot = self.slots[k]
        if k in bar.drops or slot.chain is None:
            return bar.level == 0
        return slot.what == "legs" or max(self.ranked.level[n] for n in self.ranker.ends[id(slot.chain)]) > bar.level

    def joins(self, bar: Bar, k: int) -> bool:
        """True where something joins a bar from its column side at a slot (a pin is only a place)."""
        return self.slots[k].what != "pin"

    # -- x -------------------------------------------------------------------------------------------------------

    def choose_gaps(self, sides: Sequence[tuple[float, float, float, float]]) -> None:
        """Chains along a level put their parts between two neighbouring slots."""
        for chain in self.ranked.mains:
            if not chain.items:
                continue
            if id(chain) in self.laned.fused:
                low, high = self.laned.fused[id(chain)]
            else:
                lane = self.laned.lanes[id(chain)]
                low, high = min(lane.a, lane.b), max(lane.a, lane.b)
            spans = [m for m in range(low, high) if not self.inside_vessel(m)]
            if id(chain) in self.laned.lanes:
                m = max(spans, key=lambda m: (sides[m][1] + sides[m + 1][0] - 30 * len(self.at_gap[m]), m))
            else:
                u = self.laned.bars[self.ranker.ends[id(chain)][0]]
                m = spans[0] if u.high <= low else spans[-1]
            level = self.laned.bars[self.ranker.ends[id(chain)][0]].level
            self.at_gap[m].append((chain, level))

    def inside_vessel(self, m: int) -> bool:
        """True where slot m and the next are one vessel's."""
        a, b = self.slots[m], self.slots[m + 1]
        return a.what == b.what == "vessel" and a.vessel == b.vessel

    def find_x(self) -> None:
        """x of every slot: as far left as its neighbours allow."""
        self.bars_at: dict[int, list[Bar]] = defaultdict(list)
        for bar in self.laned.bars.values():
            for k in dict.fromkeys([*bar.slots, *bar.out, *bar.drops]):
                self.bars_at[k].append(bar)
        self.sides = sides = self.slot_sides()
        self.choose_gaps(sides)
        self.x: list[float] = []
        at = 0.0
        for k in range(len(self.slots)):
            if k:
                at += self.gap_width(k - 1, sides)
            else:
                at = 24 + sides[0][0]
            self.x.append(at)
        self.width = self.x[-1] + sides[-1][1] + 24

    def gap_width(self, m: int, sides: Sequence[tuple[float, float, float, float]]) -> float:
        """Least distance between two neighbouring slots."""
        if self.inside_vessel(m):
            a, b = self.slots[m], self.slots[m + 1]
            wide_one = self.plant.parts[a.vessel].kind == "buffer tank"
            name = wide(a.vessel) + 12
            return (max(104.0 if wide_one else 84.0, name + 40) if a.side != b.side else 20.0)
        need = sides[m][1] + sides[m + 1][0] + 14
        rooms: dict[int, float] = defaultdict(float)
        for chain, level in self.at_gap[m]:
            rooms[level] += sum(self.item_width(i) for i in chain.items) + GAP
        return max([need] + [sum(self.gap_sides(m, level, sides)) + room for level, room in rooms.items()])

    def gap_sides(self, m: int, level: int, sides: Sequence[tuple[float, float, float, float]]) -> tuple[float, float]:
        """What two neighbouring slots keep to themselves of the gap between them, along a level: all that stands in
        their columns, where something hangs from the level into the zone below."""
        hangs = level > 0 and any(i.hangers for c, at in self.at_gap[m] if at == level for i in c.items)
        return (sides[m][1], sides[m + 1][0]) if hangs else (sides[m][3], sides[m + 1][2])

    # -- y -------------------------------------------------------------------------------------------------------

    def find_y(self) -> None:
        """y of every lane of every level, and of the zones between them."""
        levels = self.ranked.levels
        self.lane_y: dict[tuple[int, int], float] = {}
        inner: dict[tuple[int, int], float] = defaultdict(float)
        outer: dict[tuple[int, int], float] = defaultdict(float)
        for chain in self.ranked.mains:
            if chain.items:
                u = self.laned.bars[self.ranker.ends[id(chain)][0]]
                lane = self.laned.lanes[id(chain)].lane if id(chain) in self.laned.lanes else u.lane
                inner[u.level, lane] = max([inner[u.level, lane]] + [shape(i.kind).down + 18 for i in chain.items])
                outer[u.level, lane] = max([outer[u.level, lane]] + [shape(i.kind).up for i in chain.items])
        for bar in self.laned.bars.values():
            if self.is_valve(bar):
                inner[bar.level, bar.lane] = max(inner[bar.level, bar.lane], 36.0)
                outer[bar.level, bar.lane] = max(outer[bar.level, bar.lane], 36.0)
        depth = self.laned.depth
        self.offset: dict[tuple[int, int], float] = {}
        for level in range(levels):
            far = 0.0
            for lane in range(depth[level] + 1):
                if lane:
                    far += PITCH + inner[level, lane] + outer[level, lane - 1]
                self.offset[level, lane] = far
        self.outer = outer
        roof = max([0.0] + [e + self.hanger_reach(h, False) + 18 for h, e in self.outs(0)])
        y = 66.0 + max(roof, self.offset[0, depth[0]] + max(outer[0, depth[0]] + 10, 30.0))
        for lane in range(depth[0] + 1):
            self.lane_y[0, lane] = y - self.offset[0, lane]
        self.zone: dict[int, tuple[float, float]] = {}
        below: dict[int, float] = defaultdict(float)
        above: dict[int, float] = defaultdict(float)
        for k, slot in enumerate(self.slots):
            if slot.chain is None or (slot.what == "legs" and not self.parts_leg(k)):
                continue
            a, b, heat = self.stack(slot.chain)
            zone = self.zone_of(slot.chain)
            if heat:
                above[zone], below[zone] = max(above[zone], a), max(below[zone], b)
            else:
                above[zone], below[zone] = max(above[zone], (a + b) / 2), max(below[zone], (a + b) / 2)
        self.middle: dict[int, float] = {}
        for level in range(levels):
            legs = any(s.what == "legs" and s.chain is not None and self.zone_of(s.chain) == level for s in self.slots)
            vessel = level in self.vessel_zones()
            top = self.lane_y[level, 0 if level == 0 else depth[level]]
            hang = max([0.0] + [e + self.hanger_reach(h, False) + 20 - self.offset[level, depth[level]]
                                for h, e in self.outs(level)]) if level else 0.0
            skirt = CLEAR if level == 0 else max(CLEAR, outer[level, depth[level]] + 16)
            if level < levels - 1 or legs or vessel:
                room = max(above[level] + below[level], 60.0 if not vessel else 160.0)
                bottom = top + max(skirt + room + CLEAR, hang + 30, 150.0) + (20.0 if legs else 0.0)
                self.middle[level] = bottom - CLEAR - (20.0 if legs else 0.0) - max(below[level], 30.0)
            else:
                bottom = top + max(hang, outer[level, depth[level]] + 10, 26.0)
            self.zone[level] = (top, bottom)
            if level < levels - 1:
                for lane in range(depth[level + 1] + 1):
                    self.lane_y[level + 1, lane] = bottom + self.offset[level + 1, lane]
        self.bottom = self.zone[levels - 1][1]

    def vessel_zones(self) -> set[int]:
        """Zones in which a vessel stands that does not plainly join two levels: below its highest port."""
        return {self.vessel_zone(tag) for tag in self.bones.vessels if not between_levels(self.ranked, tag)}

    def vessel_zone(self, tag: str) -> int:
        """The level of a vessel's highest port."""
        return min(self.ranked.level[f"{tag}.{a}_{b}"] for a in "ab" for b in ("supply", "return"))

    def outs(self, level: int) -> list[tuple[Hanger, float]]:
        """Everything that hangs outwards from a level, and how far from its first lane its symbols begin."""
        found = [(h, self.eaves(bar.level, k - 1, k + 1, bar.lane)) for bar in self.laned.bars.values()
                 if bar.level == level for k, h in bar.out.items() if isinstance(h, Hanger)]
        for m, rows in self.at_gap.items():
            for chain, at in rows:
                if at == level:
                    found += [(h, self.chain_eaves(chain, m)) for item in chain.items for h in item.hangers]
        return found

    def lane_of(self, chain: Chain) -> int:
        """The lane that a chain along a level runs in."""
        if id(chain) in self.laned.lanes:
            return self.laned.lanes[id(chain)].lane
        return self.laned.bars[self.ranker.ends[id(chain)][0]].lane

    def chain_eaves(self, chain: Chain, m: int) -> float:
        """How far from the first lane what hangs from a chain's parts in gap m begins."""
        level = self.laned.bars[self.ranker.ends[id(chain)][0]].level
        return self.eaves(level, m, m + 1, self.lane_of(chain))

    def eaves(self, level: int, low: int, high: int, least: int) -> float:
        """How far from a level's first lane symbols may begin between two slots, clear of all that runs there."""
        lane = self.laned.cover(level, low, high, least)
        return self.offset[level, lane] + max(RISE, self.outer[level, lane] + 8)

    def zone_of(self, chain: Chain) -> int:
        """The zone in which a chain's parts stand: the lowest that it passes."""
        u, v = (self.ranked.level[n] for n in self.ranker.ends[id(chain)])
        return u if u == v else max(u, v) - 1

    def downwards(self, chain: Chain) -> bool:
        """True where a column is written from its upper node to its lower."""
        u, v = self.ranker.ends[id(chain)]
        if self.ranked.level[u] != self.ranked.level[v]:
            return self.ranked.level[u] < self.ranked.level[v]
        return self.leg_of_u(chain, next(k for k, s in enumerate(self.slots) if s.chain is chain and self.parts_leg(k)))

    def stack(self, chain: Chain) -> tuple[float, float, bool]:
        """Room above and below the middle of a column's heat part (of its middle, where it has none)."""
        items = chain.items if self.downwards(chain) else chain.items[::-1]
        if not items:
            return 0.0, 0.0, False
        heats = [n for n, i in enumerate(items) if i.kind == "boiler" or self.plant.is_load(i.tag)]
        n = heats[-1] if heats else 0
        sizes = [2 * self.item_half(i) + GAP for i in items]
        if not heats:
            return sum(sizes), 0.0, False
        return sum(sizes[:n]) + sizes[n] / 2, sum(sizes[n + 1:]) + sizes[n] / 2, True

    # -- pipes ---------------------------------------------------------------------------------------------------

    def inner(self, bar: Bar) -> tuple[float, float]:
        """x of the two ends of a node's stretched joint."""
        a, b = self.inner_slots(bar)
        return self.x[a], self.x[b]

    def start(self, bar: Bar, x: float) -> float:
        """Where, on a node, a pipe that joins it at x begins."""
        low, high = self.inner(bar)
        return min(max(x, low), high)

    def y_of(self, bar: Bar) -> float:
        """The height of a node's lane."""
        return self.lane_y[bar.level, bar.lane]

    def column_points(self, k: int) -> list[Point]:
        """The way of a column, or of a U, from its u end to its v end."""
        slot = self.slots[k]
        assert slot.chain is not None
        u, v = (self.laned.bars[n] for n in self.ranker.ends[id(slot.chain)])
        yu, yv = self.y_of(u), self.y_of(v)
        if slot.what == "column":
            x = self.x[k]
            return [(self.start(u, x), yu), (x, yu), (x, yv), (self.start(v, x), yv)]
        other = next(j for j, s in enumerate(self.slots) if s.chain is slot.chain and j != k)
        ku, kv = (k, other) if self.leg_of_u(slot.chain, k) else (other, k)
        low = self.zone[self.zone_of(slot.chain)][1] - 48.0
        return [(self.start(u, self.x[ku]), yu), (self.x[ku], yu), (self.x[ku], low), (self.x[kv], low),
                (self.x[kv], yv), (self.start(v, self.x[kv]), yv)]

    def leg_of_u(self, chain: Chain, k: int) -> bool:
        """True where a leg of a U comes down from the chain's u end."""
        u, v = self.ranker.ends[id(chain)]
        if u == v:
            return self.slots[k].side == 0
        return self.ranker.leg_node(self.ranked, self.slots[k]) == u

    def level_points(self, chain: Chain) -> list[Point]:
        """The way of a chain along a level."""
        u, v = (self.laned.bars[n] for n in self.ranker.ends[id(chain)])
        if id(chain) in self.laned.fused:
            left = u if u.right is chain else v
            ends = {}
            for bar in (u, v):
                low, high = self.inner(bar)
                ends[bar.name] = high if bar is left else low
            return [(ends[u.name], self.y_of(u)), (ends[v.name], self.y_of(v))]
        if id(chain) in self.laned.drops:
            x = self.x[self.laned.drops[id(chain)]]
            return [(self.start(u, x), self.y_of(u)), (x, self.y_of(u)), (x, self.y_of(v)), (self.start(v, x), self.y_of(v))]
        lane: Lane = self.laned.lanes[id(chain)]
        y = self.lane_y[lane.level, lane.lane]
        xa, xb = self.x[lane.a], self.x[lane.b]
        return [(self.start(u, xa), self.y_of(u)), (xa, self.y_of(u)), (xa, y), (xb, y), (xb, self.y_of(v)),
                (self.start(v, xb), self.y_of(v))]

    def style(self, chain: Chain, n: int) -> Style:
        """Supply or return, of the link n of a chain."""
        heats = [k for k, i in enumerate(chain.items) if i.kind == "boiler" or self.plant.is_load(i.tag)]
        if heats:
            boiler = self.ranker.heat(chain) == "boiler"
            behind = n > (heats[0] if boiler else heats[-1])
            return "supply" if behind == boiler else "return"
        return "supply" if self.ranker.ends[id(chain)][0] in self.ranked.supply else "return"


def place(plant: Plant, common: Iterable[str] = (), plain: bool = False) -> Placed:
    """Everything at its place, the same for the same plant.

    common: runs that are common pipes of a separation, which then hang between two levels.
    plain: every node a bar, every chain on its own legs.
    """
    from .fill import Filler

    placer = Placer(plant, frozenset(common), plain)
    placer.find_x()
    placer.find_y()
    return Filler(placer).placed()

