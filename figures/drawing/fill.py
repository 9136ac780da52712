"""Symbols, pipes and tags, once every slot has its x and every lane its y."""

from __future__ import annotations

import itertools
import math

from figures.plant.model import port_of, tag_of

from .lanes import Bar
from .place import Placer
from .placed import Box, Mark, Piece, Placed, Point, Words, hops, meet, obstacles, shifted, turned
from .rank import between_levels
from .room import CLEAR, GAP, LINK, TAG_SIZE, wide
from .skeleton import Chain, Hanger, Item
from .symbols import shape


def _length(points: list[Point]) -> list[float]:
    """Distance along a way of each of its points."""
    total = [0.0]
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        total.append(total[-1] + math.hypot(x1 - x0, y1 - y0))
    return total


def _at(points: list[Point], x: float, y: float) -> tuple[float, int]:
    """Distance along a way of a point that lies on it, and the direction there (0, 90, 180, 270)."""
    total = _length(points)
    for n, ((x0, y0), (x1, y1)) in enumerate(itertools.pairwise(points)):
        if (x0 == x1 == x and min(y0, y1) - 0.01 <= y <= max(y0, y1) + 0.01 and y0 != y1) or \
                (y0 == y1 == y and min(x0, x1) - 0.01 <= x <= max(x0, x1) + 0.01 and x0 != x1):
            turn = (90 if y1 > y0 else 270) if x0 == x1 else (0 if x1 > x0 else 180)
            return total[n] + math.hypot(x - x0, y - y0), turn
    raise AssertionError("a part beside its pipe")


def _between(points: list[Point], start: float, stop: float) -> list[Point]:
    """The stretch of a way between two distances along it."""
    total = _length(points)
    found: list[Point] = []
    for n, ((x0, y0), (x1, y1)) in enumerate(itertools.pairwise(points)):
        a, b = total[n], total[n + 1]
        if b <= start or a >= stop or b == a:
            continue
        for s in (max(start, a), min(stop, b)):
            point = (x0 + (x1 - x0) * (s - a) / (b - a), y0 + (y1 - y0) * (s - a) / (b - a))
            if not found or found[-1] != point:
                found.append(point)
    return found


class Filler:
    """Fills a `Placed` from a `Placer` whose x and y stand."""

    def __init__(self, placer: Placer) -> None:
        self.p = placer
        self.plant = placer.plant
        self.out: Placed = placer.out

    # -- small things --------------------------------------------------------------------------------------------

    def write(self, text: str, x: float, y: float, anchor: str, tag: str) -> None:
        """A tag with its baseline at y."""
        width = wide(text)
        left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
        self.out.words.append(Words(text, x, y, anchor, TAG_SIZE, (left, y - 10.5, left + width, y + 3.0), tag))

    def mark(self, tag: str, x: float, y: float, turn: int, wide_side: str = "") -> Mark:
        """A symbol about (x, y). `wide_side`: where its actuator or body goes ('left', 'right', 'up', 'down')."""
        kind = self.plant.parts[tag].kind
        form = shape(kind)
        natural_side = {0: "up", 90: "right", 180: "down", 270: "left"}[turn]
        flip = bool(wide_side) and natural_side != wide_side
        back = 0.0 if self.plant.parts[tag].what.shape in ("end", "instrument") else form.ahead
        box = shifted(turned(form.ahead, back, form.up, form.down, turn, flip), x, y)
        made = Mark(tag, kind, x, y, turn, flip, box)
        self.out.marks.append(made)
        return made

    def turn_of(self, item: Item, turn: int) -> int:
        """The way of the water through an item, where the chain goes the way `turn`."""
        part = self.plant.parts[item.tag]
        back = bool(part.given.get("reversed", False))
        return (turn + 180) % 360 if item.against != back else turn

    def tee(self, tag: str, dots: list[Point]) -> Mark:
        """The dots of a tee."""
        xs, ys = [d[0] for d in dots], [d[1] for d in dots]
        box: Box = (min(xs) - 4, min(ys) - 4, max(xs) + 4, max(ys) + 4)
        made = Mark(tag, "tee", dots[0][0], dots[0][1], 0, False, box, dots)
        self.out.marks.append(made)
        return made

    # -- hangers -------------------------------------------------------------------------------------------------

    def hang(self, hanger: Hanger, points: list[Point], turn: int, labelled: bool) -> None:
        """A dead end or an instrument. `points`: the way from its host to where its symbols begin; `labelled`: in a
        row, its tags written above; else upright, the last tag beyond its end and the others to the right.
        """
        way = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[turn]
        x, y = points[-1]
        pipes = bool(hanger.links)
        path = list(points)
        for n, tag in enumerate(hanger.tags):
            part = self.plant.parts[tag]
            form = shape(part.kind)
            last = n == len(hanger.tags) - 1
            long = form.ahead if last else 2 * form.ahead + 8
            room = max(long, wide(tag) + 6) if labelled else long
            lead = (room - form.ahead if last else room - 2 * form.ahead) / (1 if last else 2) if labelled else (
                0 if last else 4)
            if labelled and last:
                lead = min(lead, lead / 2)
            at = (x + way[0] * lead, y + way[1] * lead)
            path.append(at)
            if pipes:
                run, outward = hanger.links[n]
                self.pipe(run, path, "stub", outward)
            else:
                self.out.wires.append((tag, path))
            if last:
                self.mark(tag, *at, turn, "left" if not labelled else "up")
                if not labelled:
                    end = at[1] + way[1] * form.ahead
                    self.write(tag, x, end - 5 if turn == 270 else end + 14, "middle", tag)
            else:
                outward = hanger.links[n][1]
                back = bool(part.given.get("reversed", False))
                middle = (at[0] + way[0] * form.ahead, at[1] + way[1] * form.ahead)
                self.mark(tag, *middle, turn if outward != back else (turn + 180) % 360, "left" if not labelled else "up")
                if not labelled:
                    self.write(tag, x + form.down + 6, middle[1] + 4, "start", tag)
                path = [(at[0] + way[0] * 2 * form.ahead, at[1] + way[1] * 2 * form.ahead)]
            if labelled:
                self.write(tag, x + way[0] * room / 2, y - max(
                    shape(self.plant.parts[t].kind).up for t in hanger.tags) - 5, "middle", tag)
            x, y = x + way[0] * room, y + way[1] * room
            if not last:
                path.append((x, y))

    def pipe(self, run: str, points: list[Point], style: str, along: bool, tag: str = "") -> None:
        """A piece of pipe; points that fall together are dropped."""
        clean = [p for n, p in enumerate(points) if n == 0 or p != points[n - 1]]
        if len(clean) > 1:
            self.out.pieces.append(Piece(run, clean, style, tag, along))  # type: ignore[arg-type]

    # -- chains --------------------------------------------------------------------------------------------------

    def chain(self, chain: Chain, points: list[Point], spots: list[Point]) -> None:
        """The pipes of a chain, cut where its items stand."""
        ends = _length(points)[-1]
        at = 0.0
        for n, link in enumerate(chain.links):
            if n < len(chain.items):
                form = shape(chain.items[n].kind)
                s, _ = _at(points, *spots[n])
                half = 0.0 if chain.items[n].kind == "tee" else form.ahead
                stop, after = s - half, s + half
            else:
                stop = after = ends
            self.pipe(link.run, _between(points, at, stop), self.p.style(chain, n), link.forward)
            at = after

    def column(self, k: int) -> None:
        """A column or a U with all that stands in it."""
        p = self.p
        slot = p.slots[k]
        assert slot.chain is not None
        chain, x = slot.chain, p.x[k]
        points = p.column_points(k)
        down = p.downwards(chain)
        items = chain.items if down else chain.items[::-1]
        ys = self.heights(chain, items)
        spots = [(x, y) for y in ys]
        for item, y in zip(items, ys):
            self.column_item(item, x, y, 90 if down else 270)
        self.chain(chain, points, spots if down else spots[::-1])
        if chain.side is not None:
            side, at = chain.side, spots if down else spots[::-1]
            (x0, y0), (x1, y1) = at[side.low], at[side.high]
            far = x - p.side_way(chain)
            link = side.chain.links[0]
            self.pipe(link.run, [(x0, y0), (far, y0), (far, y1), (x1 - 16, y1)], "return", link.forward)

    def heights(self, chain: Chain, items: list[Item]) -> list[float]:
        """y of the items of a column, from top to bottom: heat parts in line, the rest spread evenly."""
        p = self.p
        zone = p.zone_of(chain)
        top, bottom = p.zone[zone]
        top += CLEAR if zone == 0 else max(CLEAR, p.outer[zone, p.laned.depth[zone]] + 16)
        bottom -= CLEAR + (20 if any(s.what == "legs" and s.chain is not None and p.zone_of(s.chain) == zone
                                     for s in p.slots) else 0)
        heats = [n for n, i in enumerate(items) if i.kind == "boiler" or self.plant.is_load(i.tag)]
        halves = [p.item_half(i) for i in items]

        def spread(row: list[float], low: float, high: float) -> list[float]:
            spare = (high - low - 2 * sum(row)) / (len(row) + 1)
            found, at = [], low + spare
            for half in row:
                found.append(at + half)
                at += 2 * half + spare
            return found

        if not items:
            return []
        if not heats:
            return spread(halves, top, bottom)
        n = heats[-1]
        y = p.middle[zone]
        return [*spread(halves[:n], top - GAP / 2, y - halves[n]), y,
                *spread(halves[n + 1:], y + halves[n], bottom + GAP / 2)]

    def column_item(self, item: Item, x: float, y: float, turn: int) -> None:
        """One item of a column, its hangers to the left, its tag to the right."""
        p = self.p
        form = shape(item.kind)
        tee = item.kind == "tee"
        if tee:
            right, edge = 4.0, 0.0
        else:
            side = "right" if p.bodied(item) else "left"
            made = self.mark(item.tag, x, y, self.turn_of(item, turn), side)
            right, edge = made.box[2] - x, form.down
        dots = []
        at = y - sum(sum(p.hanger_row(h)) for h in item.hangers) / 2
        for hanger in item.hangers:
            up, down = p.hanger_row(hanger)
            line = at + up if len(item.hangers) > 1 or not tee else y
            dots.append((x, line))
            host = x + 9 if item.kind == "indirect tank" and not hanger.links else x - edge
            self.hang(hanger, [(host, line), (x - edge - LINK, line)], 180, True)
            at += up + down
        if tee:
            self.tee(item.tag, dots or [(x, y)])
        self.write(item.tag, x + right + (6 if tee else 10), y + 4.5, "start", item.tag)

    def level_chains(self) -> None:
        """Chains along a level, their parts in the gaps that were kept for them."""
        p = self.p
        spots: dict[int, list[Point]] = {}
        for m, rows in p.at_gap.items():
            for level in {level for _, level in rows}:
                chains = [c for c, at in rows if at == level]
                left, right = p.gap_sides(m, level, p.sides)
                low, high = p.x[m] + left, p.x[m + 1] - right
                count = sum(len(c.items) for c in chains)
                need = sum(p.item_width(i) for c in chains for i in c.items)
                spare = (high - low - need) / (count + 1)
                at = low + spare
                for chain in chains:
                    points = p.level_points(chain)
                    y = points[len(points) // 2][1]
                    if len(points) == 2:
                        rightwards = points[1][0] > points[0][0]
                    else:
                        rightwards = points[3][0] > points[2][0]
                    found = []
                    for item in chain.items if rightwards else chain.items[::-1]:
                        room = p.item_width(item)
                        found.append((at + room / 2, y))
                        self.level_item(item, at + room / 2, y, 0 if rightwards else 180, level, p.chain_eaves(chain, m))
                        at += room + spare
                    spots[id(chain)] = found if rightwards else found[::-1]
        for chain in p.ranked.mains:
            self.chain(chain, p.level_points(chain), spots.get(id(chain), []))

    def level_item(self, item: Item, x: float, y: float, turn: int, level: int, far: float) -> None:
        """One item along a level: its hangers outwards, its tag inwards."""
        p = self.p
        out = -1 if level == 0 else 1
        eaves = p.lane_y[level, 0] + out * far
        form = shape(item.kind)
        xs = [x + at for at in p.hanger_spots(item)] if item.hangers else []
        if item.kind == "tee":
            self.tee(item.tag, [(at, y) for at in xs] or [(x, y)])
        else:
            self.mark(item.tag, x, y, self.turn_of(item, turn), "up" if level == 0 else "down")
        for at, hanger in zip(xs, item.hangers):
            points = [(at, y), (at, eaves)]
            if item.kind != "tee":
                edge = y + out * form.up
                mid = (edge + eaves) / 2
                points = [(x, edge), (at, eaves)] if at == x else [(x, edge), (x, mid), (at, mid), (at, eaves)]
            self.hang(hanger, points, 270 if level == 0 else 90, False)
        inner = form.down if item.kind != "tee" else 4.0
        gap = 4.0 if item.kind == "tee" else 8.0
        self.write(item.tag, x, y + inner + gap + 10 if level == 0 else y - inner - gap - 2, "middle", item.tag)

    # -- nodes ---------------------------------------------------------------------------------------------------

    def bar(self, bar: Bar) -> None:
        """A node: its stretched joint, its dots or its valve, its tag, and what hangs outwards."""
        p = self.p
        node = p.bones.nodes[bar.name]
        y = p.y_of(bar)
        low, high = p.inner(bar)
        style = "supply" if bar.name in p.ranked.supply else "return"
        tag = tag_of(bar.name)
        out = bar.level == 0
        for k, hung in bar.out.items():
            if isinstance(hung, Hanger):
                x = p.x[k]
                eaves = p.eaves(bar.level, k - 1, k + 1, bar.lane)
                far = p.lane_y[bar.level, 0] + (-eaves if out else eaves)
                points = [(p.start(bar, x), y), (x, y), (x, far)]
                if p.is_valve(bar) and not hung.links:
                    edge = y - 36 if p.valve_up(bar) else y + 36
                    points = [(low, edge), (x, edge), (x, far)]
                self.hang(hung, points, 270 if out else 90, False)
        if bar.name.startswith("~"):
            return
        if node.kind == "tee":
            if low < high:
                self.pipe("", [(low, y), (high, y)], style, True, tag)
            joints = [p.x[k] for k in bar.slots if p.joins(bar, k)] + [p.x[k] for k in (*bar.out, *bar.drops)]
            dots = sorted({x for x in joints if low <= x <= high}) or [low]
            self.tee(tag, [(x, y) for x in dots])
            self.write(tag, p.x[p.label_slot(bar)] + 6, y - 6 if out else y + 15, "start", tag)
        elif not port_of(bar.name):
            self.valve(bar, low, y)

    def valve(self, bar: Bar, x: float, y: float) -> None:
        """A three-port valve: its third port points to the column, its actuator away from it."""
        p = self.p
        ends = sorted(((self.toward(bar, c, u), c.u if u else c.v) for c in p.bones.chains for u in (True, False)
                       if p.ranker.ends[id(c)][0 if u else 1] == bar.name), key=lambda e: e[0])
        up = p.valve_up(bar)
        made = self.mark(bar.name, x, y, 0, "up" if up else "down")
        made.ports = tuple(port_of(end) for _, end in ends)
        self.write(bar.name, x + 20, y - 14 if up else y + 23, "start", bar.name)

    def toward(self, bar: Bar, chain: Chain, u: bool) -> float:
        """Where along x a chain leaves a node."""
        p = self.p
        if id(chain) in p.laned.fused:
            return -1.0 if bar.left is chain else 1e9
        if id(chain) in p.laned.lanes:
            lane = p.laned.lanes[id(chain)]
            return p.x[lane.a if u else lane.b]
        if id(chain) in p.laned.drops:
            return p.x[p.laned.drops[id(chain)]]
        k = next(k for k in bar.slots if p.slots[k].chain is chain)
        return p.x[k]

    def vessel(self, tag: str) -> None:
        """A separator or buffer: a box between its slots, supply ports on top, return ports below."""
        p = self.p
        slots = [(k, s) for k, s in enumerate(p.slots) if s.vessel == tag]
        left = max(p.x[k] for k, s in slots if s.side == 0) + 16
        right = min(p.x[k] for k, s in slots if s.side == 1) - 16
        zone = p.vessel_zone(tag)
        if between_levels(p.ranked, tag):
            top, bottom = p.lane_y[zone, 0], p.lane_y[zone + 1, 0]
        else:
            top = p.zone[zone][0] + max(CLEAR, p.outer[zone, p.laned.depth[zone]] + 16) + 18
            bottom = p.zone[zone][1] - CLEAR - 40
        kind = self.plant.parts[tag].kind
        made = Mark(tag, kind, (left + right) / 2, (top + bottom) / 2, 0, False, (left, top - 18, right, bottom + 18))
        self.out.marks.append(made)
        self.write(tag, (left + right) / 2, (top + bottom) / 2 + 4.5, "middle", tag)
        for k, slot in slots:
            for port in (slot.port,) if slot.port else ("supply", "return"):
                end = f"{tag}.{slot.node}_{port}"
                bar = p.laned.bars[end]
                y = top if port == "supply" else bottom
                chain = next((c for c in p.bones.chains if end in (c.u, c.v)), None)
                if chain is None:                           # a dead end hangs on this port
                    first, style = True, "stub"
                    run, along = next(h.links[0] for h in p.bones.nodes[end].hangers if h.links)
                else:
                    first = chain.u == end
                    link = chain.links[0 if first else -1]
                    run, along = link.run, link.forward
                    style = p.style(chain, 0 if first else len(chain.items))
                points = [(left if slot.side == 0 else right, y), (p.x[k], y), (p.x[k], p.y_of(bar)),
                          (p.start(bar, p.x[k]), p.y_of(bar))]
                self.pipe(run, points if first else points[::-1], style, along)
                near, far = p.inner(bar)
                if near < far:
                    self.pipe(run, [(near, p.y_of(bar)), (far, p.y_of(bar))], style, along)

    # -- all -----------------------------------------------------------------------------------------------------

    def placed(self) -> Placed:
        """Everything."""
        p, out = self.p, self.out
        done: set[int] = set()
        for k, slot in enumerate(p.slots):
            if slot.chain is not None and (slot.what == "column" or p.parts_leg(k)) and id(slot.chain) not in done:
                done.add(id(slot.chain))
                self.column(k)
        self.level_chains()
        for bar in p.laned.bars.values():
            self.bar(bar)
        for tag in p.bones.vessels:
            self.vessel(tag)
        self.trim()
        hops(out.pieces)
        out.width, out.height = p.width, p.bottom + 14
        self.loose()
        return out

    def trim(self) -> None:
        """Pipes stop at the faces of three-port valves."""
        for mark in self.out.marks:
            if mark.kind not in ("diverting valve", "mixing valve"):
                continue
            for piece in self.out.pieces:
                for end, other in ((0, 1), (-1, -2)):
                    x, y = piece.points[end]
                    if abs(x - mark.x) < 0.01 and abs(y - mark.y) < 0.01:
                        x1, y1 = piece.points[other]
                        piece.points[end] = (x + max(-16.0, min(16.0, x1 - x)), y + max(-16.0, min(16.0, y1 - y)))

    def loose(self) -> None:
        """Instruments that lie on nothing: the outdoor sensor, top right."""
        tags = self.p.bones.loose
        taken = obstacles(self.out)
        x = self.out.width - 20
        for tag in tags:
            half = max(12.0, wide(tag) / 2)
            x -= half
            while any(meet((x - half - 6, 38, x + half + 6, 90), box) for box in taken):
                x += 10
            self.out.width = max(self.out.width, x + half + 20)
            taken.append((x - half, 38, x + half, 90))
            self.mark(tag, x, 42, 90, "left")
            self.write(tag, x, 80, "middle", tag)
            x -= half + 10
