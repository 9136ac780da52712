"""Solving for heads by elimination: the equations G·H = r, where G is the conductance matrix of the links.

`Rounds` takes junctions out in rounds of mutually independent ones of low degree, with the order and every index
worked out once; each round is a handful of numpy calls however many junctions it holds, so cost grows nearly in step
with size. `Columns` does the same junction by junction for many scenarios at once. What is quickest for one scenario of
a small plant stands in `circuits`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .circuits import Islands
from .friction import Array


@dataclass(frozen=True)
class _Sum:
    """Adding rows of an array onto targets, several to one: rows in `order`, runs that begin at `starts`."""

    order: np.ndarray
    starts: np.ndarray
    targets: np.ndarray

    @classmethod
    def onto(cls, targets: list[int]) -> _Sum:
        wanted = np.array(targets, dtype=np.intp)
        order = np.argsort(wanted, kind="stable")
        ordered = wanted[order]
        starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(ordered) else order
        return cls(order, starts, ordered[starts])

    def take(self, rows: Array, out: Array) -> None:
        """out[target] -= the sum of its rows."""
        if len(self.starts):
            out[self.targets] -= np.add.reduceat(rows[self.order], self.starts, axis=0)


@dataclass(frozen=True)
class _Round:
    """One round: junctions `gone`; entries (their slot, which of `gone`, neighbour); pairs of entries."""

    gone: np.ndarray
    slot: np.ndarray
    which: np.ndarray
    other: np.ndarray
    begins: np.ndarray
    owners: np.ndarray
    diagonal: _Sum
    first: np.ndarray
    second: np.ndarray
    fill: _Sum
    pair_slots: tuple[int, ...]


class _Kept(NamedTuple):
    """What one round leaves for later: 1/diagonal of those gone, their entries, and these divided by the diagonal."""

    inverse: Array
    entry: Array
    scaled: Array


@dataclass(frozen=True)
class Eliminated:
    """A network's equations for one set of slopes, ready for any losses; see `circuits.Linear`, whose face it has."""

    rounds: Rounds
    conductance: Array
    kept: list[_Kept]

    def step(self, loss: Array, excess: Array | None = None) -> Array:
        """Change of the links' flows that takes away the heads left over round every circuit, and `excess` [m³/s]
        at the junctions."""
        return self.conductance * (self.rounds.drop(self.heads(loss, excess)) - loss)

    def heads(self, loss: Array, excess: Array | None = None) -> Array:
        """Heads of the junctions, where links lose `loss`."""
        wanted = self.rounds.net(self.conductance * loss)
        return self.rounds.solve(self.kept, wanted if excess is None else wanted + excess)


class Rounds:
    """Heads by elimination in rounds, for one scenario."""

    keeps_balance = False

    def __init__(self, start: np.ndarray, end: np.ndarray, junctions: int) -> None:
        self.start, self.end, self.junctions = start, end, junctions
        links = np.arange(len(start))
        node, link = np.r_[start, end], np.r_[links, links]
        order = np.argsort(node, kind="stable")
        self._inc_link = link[order]
        self._inc_sign = np.where(order < len(start), 1.0, -1.0)
        ordered = node[order]
        self._inc_starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(ordered) else order
        real = start != end
        self._inc_real, self._is_real = real[self._inc_link].astype(float), real
        pairs: dict[tuple[int, int], int] = {}
        around: list[set[int]] = [set() for _ in range(junctions)]
        slot_of_link = []
        for a, b in zip(start[real].tolist(), end[real].tolist()):
            around[a].add(b)
            around[b].add(a)
            slot_of_link.append(pairs.setdefault((min(a, b), max(a, b)), len(pairs)))
        self.real, self.slot_of_link = np.flatnonzero(real), slot_of_link
        self._into_slots = _Sum.onto(slot_of_link)
        self.rounds = self._plan(around, pairs)
        self.slots = len(pairs)

    def _plan(self, around: list[set[int]], pairs: dict[tuple[int, int], int]) -> list[_Round]:
        left = set(range(self.junctions))
        rounds = []
        while left:
            least = min(len(around[p]) for p in left)
            limit = max(least, 3)
            chosen: list[int] = []
            barred: set[int] = set()
            for p in sorted((q for q in left if len(around[q]) <= limit), key=lambda q: (len(around[q]), q)):
                if p not in barred:
                    chosen.append(p)
                    barred.add(p)
                    barred |= around[p]
            rounds.append(self._round(chosen, around, pairs))
            left.difference_update(chosen)
        return rounds

    def _round(self, chosen: list[int], around: list[set[int]], pairs: dict[tuple[int, int], int]) -> _Round:
        slot: list[int] = []
        which: list[int] = []
        other: list[int] = []
        first: list[int] = []
        second: list[int] = []
        begins: list[int] = []
        owners: list[int] = []
        fill: list[int] = []
        for n, p in enumerate(chosen):
            beside = sorted(around[p])
            base = len(slot)
            if beside:
                begins.append(base)
                owners.append(n)
            for i, a in enumerate(beside):
                slot.append(pairs[min(p, a), max(p, a)])
                which.append(n)
                other.append(a)
                for j in range(i):
                    b = beside[j]
                    first.append(base + i)
                    second.append(base + j)
                    fill.append(pairs.setdefault((min(a, b), max(a, b)), len(pairs)))
                around[a].discard(p)
                around[a].update(b for b in beside if b != a)
        index = np.intp
        return _Round(np.array(chosen, dtype=index), np.array(slot, dtype=index), np.array(which, dtype=index),
                      np.array(other, dtype=index), np.array(begins, dtype=index), np.array(owners, dtype=index),
                      _Sum.onto(other), np.array(first, dtype=index), np.array(second, dtype=index),
                      _Sum.onto(fill), tuple(fill))

    def net(self, flow: Array) -> Array:
        """What leaves each junction by its links, less what comes in."""
        return np.add.reduceat(flow[self._inc_link] * self._inc_sign, self._inc_starts, axis=0)

    def drop(self, head: Array) -> Array:
        """Head at each link's start less head at its end."""
        return head[self.start] - head[self.end]

    def linear(self, slope: Array, here: Islands) -> Eliminated:
        """The equations for these slopes of the links. An island lets out nothing in sum, so no water passes where
        it is held at 0, and how strongly that is done does not matter."""
        conductance = np.where(here.closed, 0.0, 1.0 / slope)
        return Eliminated(self, conductance, self._eliminated(conductance, here.ground))

    def settled(self, flow: Array, excess: Array, here: Islands) -> Array:
        """Flows with what is left over at the junctions shared out along the open links, most where most flows."""
        conductance = np.where(here.closed, 0.0, np.abs(flow) + 1e-9)
        kept = self._eliminated(conductance, here.ground)
        for _ in range(2):
            more = conductance * self.drop(self.solve(kept, excess))
            flow, excess = flow + more, excess - self.net(more)
        return flow

    def _eliminated(self, conductance: Array, ground: np.ndarray) -> list[_Kept]:
        diagonal = np.add.reduceat(conductance[self._inc_link] * self._inc_real, self._inc_starts, axis=0)
        diagonal[ground] += 1.0
        value = np.zeros(self.slots)
        self._into_slots.take(conductance[self.real], value)
        kept = []
        for r in self.rounds:
            inverse = 1.0 / diagonal[r.gone]
            entry = value[r.slot]
            scaled = entry * inverse[r.which]
            kept.append(_Kept(inverse, entry, scaled))
            if len(r.slot):
                r.diagonal.take(entry * scaled, diagonal)
                r.fill.take(entry[r.first] * scaled[r.second], value)
        return kept

    def solve(self, kept: list[_Kept], wanted: Array) -> Array:
        """Heads with which the links let out `wanted` at each junction."""
        head = wanted.copy()
        for r, of in zip(self.rounds, kept):
            if len(r.slot):
                r.diagonal.take(of.scaled * head[r.gone][r.which], head)
        for r, of in zip(reversed(self.rounds), reversed(kept)):
            here = head[r.gone]
            if len(r.slot):
                here[r.owners] -= np.add.reduceat(of.entry * head[r.other], r.begins, axis=0)
            head[r.gone] = here * of.inverse
        return head

    def directed(self, diagonal: Array, onward: Array, backward: Array, wanted: Array) -> Array:
        """Solves a system with the links' pattern that need not be symmetric, for one scenario.

        diagonal: of each junction.  onward: coefficient in the equation of a link's end, for its start; backward:
        the other way round.  Needs a diagonal that outweighs its row, so that no pivoting is called for."""
        d, x = diagonal.copy(), wanted.copy()
        up, down = np.zeros(self.slots), np.zeros(self.slots)     # in the row of the lesser index, of the greater
        falls = self.start[self.real] < self.end[self.real]
        slots = np.array(self.slot_of_link, dtype=np.intp)
        np.add.at(up, slots, np.where(falls, backward[self.real], onward[self.real]))
        np.add.at(down, slots, np.where(falls, onward[self.real], backward[self.real]))
        np.add.at(d, self.start[~self._is_real], (onward + backward)[~self._is_real])
        kept = []
        for r in self.rounds:
            inverse = 1.0 / d[r.gone]
            gone = r.gone[r.which]
            lesser = gone < r.other
            row = np.where(lesser, up[r.slot], down[r.slot])
            column = np.where(lesser, down[r.slot], up[r.slot]) * inverse[r.which]
            kept.append((inverse, row))
            if len(r.slot):
                r.diagonal.take(column * row, d)
                r.diagonal.take(column * x[gone], x)
                a, b = r.first, r.second
                rises = r.other[a] < r.other[b]
                ab, ba = column[a] * row[b], column[b] * row[a]
                r.fill.take(np.where(rises, ab, ba), up)
                r.fill.take(np.where(rises, ba, ab), down)
        for r, (inverse, row) in zip(reversed(self.rounds), reversed(kept)):
            here = x[r.gone]
            if len(r.slot):
                here[r.owners] -= np.add.reduceat(row * x[r.other], r.begins)
            x[r.gone] = here * inverse
        return x


class Columns:
    """Heads by elimination, junction after junction, each step on a row of all scenarios at once.

    For batches: the order is that of `Rounds`, and every step is plain arithmetic on rows, so its cost is spread
    over the scenarios."""

    def __init__(self, rounds: Rounds) -> None:
        self.rounds = rounds
        start, end = rounds.start.tolist(), rounds.end.tolist()
        slot = {int(link): int(s) for link, s in zip(rounds.real, rounds.slot_of_link)}
        self._links = [(link, a, b, slot.get(link, -1)) for link, (a, b) in enumerate(zip(start, end))]
        self._steps: list[tuple[int, list[tuple[int, int]], list[tuple[int, int, int]]]] = []
        for r in rounds.rounds:
            entries: dict[int, list[int]] = {n: [] for n in range(len(r.gone))}
            for e, n in enumerate(r.which.tolist()):
                entries[n].append(e)
            pairs: dict[int, list[tuple[int, int, int]]] = {n: [] for n in range(len(r.gone))}
            for first, second, target in zip(r.first.tolist(), r.second.tolist(), r.pair_slots):
                pairs[int(r.which[first])].append((first, second, target))
            for n, p in enumerate(r.gone.tolist()):
                place = {e: k for k, e in enumerate(entries[n])}
                self._steps.append((p, [(int(r.slot[e]), int(r.other[e])) for e in entries[n]],
                                    [(place[a], place[b], target) for a, b, target in pairs[n]]))

    def net(self, flow: Array) -> Array:
        """What leaves each junction by its links, less what comes in."""
        out = np.zeros((self.rounds.junctions, flow.shape[1]))
        for link, a, b, _ in self._links:
            row = flow[link]
            out[a] += row
            out[b] -= row
        return out

    def drop(self, head: Array) -> Array:
        """Head at each link's start less head at its end."""
        return head[self.rounds.start] - head[self.rounds.end]

    def heads(self, conductance: Array, wanted: Array, anchor: tuple[np.ndarray, np.ndarray]) -> Array:
        """Heads with which the links let out `wanted`; anchor: junctions held at 0, and in which column."""
        many = conductance.shape[1]
        diagonal = np.zeros((self.rounds.junctions, many))
        value = np.zeros((self.rounds.slots, many))
        for link, a, b, slot in self._links:
            if slot >= 0:
                row = conductance[link]
                diagonal[a] += row
                diagonal[b] += row
                value[slot] -= row
        diagonal[anchor] += 1.0
        head = wanted
        spare = np.empty(many)
        for p, entries, pairs in self._steps:
            inverse = np.divide(1.0, diagonal[p], out=diagonal[p])
            rows = [value[slot] for slot, _ in entries]
            scaled = [row * inverse for row in rows]
            here = head[p]
            for row, share, (_, i) in zip(rows, scaled, entries):
                diagonal[i] -= np.multiply(row, share, out=spare)
                head[i] -= np.multiply(share, here, out=spare)
            for a, b, target in pairs:
                value[target] -= np.multiply(rows[a], scaled[b], out=spare)
        for p, entries, _ in reversed(self._steps):
            here = head[p]
            for slot, i in entries:
                here -= np.multiply(value[slot], head[i], out=spare)
            here *= diagonal[p]
        return head
