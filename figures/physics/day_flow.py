"""One way of running a plant as a linear law: how warm the water comes to every boiler and load, when only the
temperatures of the boilers, stores and rooms are known.

Pipes hold no heat here, so the water's way through the network is settled at once: where the flow is known, every
inlet temperature is a weighted mean of the temperatures at which boilers, stores and rooms stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from .friction import Array
from .heat import LEAK, HeatNetwork
from .network import Flow
from .topology import Step


@dataclass(frozen=True)
class Way:
    """The law of one solved flow. Columns are the states: boilers, stores, rooms.

    kw_per_k: state × state, heat that each state gains from the water [kW/K]; its rows add up to nothing.
    load_kw_per_k: load × state, heat that each load takes.  firing: of each boiler, whether it may.
    sensor: weights of the system supply sensor, None where its water is still.  inlet: boiler × state, weights of
    the water that comes into each boiler; NaN where it is still.  boiler_kw_per_k: flow of each boiler [kW/K].
    """

    kw_per_k: Array
    load_kw_per_k: Array
    firing: np.ndarray
    sensor: Array | None
    inlet: Array
    boiler_kw_per_k: Array


def way_of(flow: Flow, boilers: Sequence[str], sinks: Mapping[str, int], states: int, sensor: str | None) -> Way:
    """The law of a solved flow.

    boilers: tags; the state of each is its place here.  sinks: load → state that stands beyond its surface.
    sensor: node or part whose temperature the control sees.
    """
    return _Law(flow, boilers, sinks, states).way(sensor)


class _Law:
    def __init__(self, flow: Flow, boilers: Sequence[str], sinks: Mapping[str, int], states: int) -> None:
        self.flow, self.t, self.states = flow, flow.prepared.topology, states
        self.boilers, self.sinks = list(boilers), sinks
        self.heat = HeatNetwork(flow)
        self.works = {work.tag: work for row in self.heat.works.values() for work in row}
        self.place = {tag: n for n, tag in enumerate(self.boilers)}
        self.junction = self._junctions()

    def _walk(self, link: int) -> list[Step]:
        steps = list(self.t.links[link])
        return steps if self.flow.flow[link] >= 0.0 else [Step(s.edge, -s.sign) for s in reversed(steps)]

    def _pass(self, tag: str, a: float, b: Array) -> tuple[float, Array]:
        """What a part makes of a·(inlet of its link) + b·(states)."""
        work = self.works.get(tag)
        if work is None:
            return a, b
        if work.load is None:
            return 0.0, np.eye(self.states)[self.place[tag]]
        share = 1.0 - exp(-work.load.ua_kw_per_k / work.capacity_kw_per_k)
        b = (1.0 - share) * b
        b[self.sinks[tag]] += share
        return (1.0 - share) * a, b

    def _along(self, link: int, until_vertex: int = -1, until_part: str = "") -> tuple[float, Array]:
        a, b = 1.0, np.zeros(self.states)
        for step in self._walk(link):
            edge = self.t.edges[step.edge]
            for name in edge.parts if step.sign > 0 else edge.parts[::-1]:
                if name == until_part:
                    return a, b
                a, b = self._pass(name, a, b)
            if until_vertex == (edge.end if step.sign > 0 else edge.start):
                return a, b
        return a, b

    def _junctions(self) -> Array:
        """Weights of every junction's temperature; NaN where the water is still."""
        heat, n = self.heat, len(self.t.junctions)
        links = np.flatnonzero(heat.moving)
        found = np.full((n, self.states), np.nan)
        if not len(links):
            return found
        lines = [self._along(int(link)) for link in links]
        weight, target, source = heat.capacity[links], heat.target[links], heat.source[links]
        into = np.bincount(target, weight, n)
        wet = into > 0.0
        row = np.cumsum(wet) - 1
        matrix = np.diag(into[wet] * (1.0 + LEAK))
        np.add.at(matrix, (row[target], row[source]), -weight * np.array([a for a, _ in lines]))
        wanted = np.zeros((int(wet.sum()), self.states))
        np.add.at(wanted, row[target], weight[:, None] * np.array([b for _, b in lines]))
        wanted += (LEAK * into[wet] / self.states)[:, None]
        found[wet] = np.linalg.solve(matrix, wanted)
        return found

    def _at(self, link: int, vertex: int = -1, part: str = "") -> Array:
        a, b = self._along(link, vertex, part)
        inlet = self.junction[self.heat.source[link]]
        return b if a == 0.0 else a * inlet + b

    def _sensed(self, tag: str) -> Array | None:
        t = self.t
        if tag in t.where:
            link = t.where[tag].link
            return self._at(link, part=tag) if link >= 0 and self.heat.moving[link] else None
        vertex = t.vertices.get(tag)
        if vertex is None:
            return None
        if vertex in t.junctions:
            row = self.junction[t.junctions.index(vertex)]
            return None if np.isnan(row).any() else row
        for link, steps in enumerate(t.links):
            if self.heat.moving[link] and any(vertex in (t.edges[s.edge].start, t.edges[s.edge].end) for s in steps):
                return self._at(link, vertex=vertex)
        return None

    def way(self, sensor: str | None) -> Way:
        count = len(self.boilers)
        gains = np.zeros((self.states, self.states))
        loads = np.zeros((len(self.sinks), self.states))
        inlet, carried = np.full((count, self.states), np.nan), np.zeros(count)
        firing = np.zeros(count, dtype=bool)
        order = {tag: n for n, tag in enumerate(self.sinks)}
        for tag, work in self.works.items():
            row = self._at(self.t.where[tag].link, part=tag).copy()
            if work.load is None:
                n = self.place[tag]
                inlet[n], carried[n], firing[n] = row, work.capacity_kw_per_k, work.output_kw > 0.0
                row[n] -= 1.0
                gains[n] += work.capacity_kw_per_k * row
            else:
                share = 1.0 - exp(-work.load.ua_kw_per_k / work.capacity_kw_per_k)
                row[self.sinks[tag]] -= 1.0
                loads[order[tag]] = work.capacity_kw_per_k * share * row
                gains[self.sinks[tag]] += loads[order[tag]]
        return Way(gains, loads, firing, self._sensed(sensor) if sensor else None, inlet, carried)
