"""Heat of many scenarios at once, on the flows of a sweep: the model and the method of `heat`, a column a scenario."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .batch import Flows
from .friction import Array
from .heat import CARRIES_M3S, LEAK, STILL_M3S, load_of
from .state import NoSolution, State
from .water import water

EXACT_LEAK = 1e-13
"""Share let out to the room in the last solve: nothing against 1e-9 of the heat, and no circuit is singular."""
ROUNDS = 60


@dataclass(frozen=True)
class Heats:
    """Heats of a sweep. kw: tag → what each boiler gives, each load takes, in every scenario.
    inlet_c: load → temperature that reaches it, NaN where its water is still."""

    kw: Mapping[str, Array]
    inlet_c: Mapping[str, Array]


def heats(flows: Flows, *, load: Mapping[str, ArrayLike] | None = None,
          setpoint_c: Mapping[str, ArrayLike] | None = None, idle: Mapping[str, ArrayLike] | None = None) -> Heats:
    """What boilers give and loads take in every scenario of a sweep.

    load: load → heat wanted [kW]; setpoint_c: boiler → outlet temperature to hold [°C]; idle: boiler → booleans; one
    entry a scenario, or one for all. Raises ValueError for a part that is none or where lengths differ, NoSolution where heat
    does not settle.

    >>> from figures.physics import Prepared, sweep
    >>> from figures.plant.scheme import Scheme
    >>> plant = Prepared(Scheme().plant())
    >>> tag = next(part.tag for part in plant.plant.of_kind("emitter"))
    >>> found = heats(sweep(plant, speed={"PS": [1.0, 1.0]}), load={tag: [10.0, 20.0]}).kw[tag]
    >>> [float(kw.round(6)) for kw in found]
    [10.0, 20.0]
    """
    given = {"load": load or {}, "setpoint_c": setpoint_c or {}, "idle": idle or {}}
    probe = State(load={tag: float(np.max(v)) for tag, v in given["load"].items()}, idle=given["idle"],
                  setpoint_c={tag: float(np.max(v)) for tag, v in given["setpoint_c"].items()})
    refused = probe.refusals(flows.prepared.plant)
    many = flows.flow_m3s.shape[1]
    refused += [f"{name} of {tag}: {np.size(v)} entries for {many} scenarios; give one for each, or one for all"
                for name, values in given.items() for tag, v in values.items() if np.size(v) not in (1, many)]
    if refused:
        raise ValueError("\n".join(refused))
    return _Many(flows, given).solve()


@dataclass
class _Row:
    """One boiler or load in all scenarios."""

    tag: str
    link: int
    boiler: bool
    capacity: Array
    wanted: Array          # of a load, kW; of a boiler, its output where it may fire, else 0
    setpoint: Array        # of a boiler; of a load, its sink's temperature
    passes: Array          # of a load, its effectiveness
    high: np.ndarray       # a load gets all it wants; a boiler gives all it can
    hot: np.ndarray        # a boiler whose water comes in hotter than its setpoint

    def line(self) -> tuple[Array, Array]:
        """Outlet = a·inlet + b under the present policies."""
        if self.boiler:
            fires = self.wanted > 0.0
            through = self.high | self.hot | ~fires
            rise = np.where(self.high, self.wanted / self.capacity, 0.0)
            return np.where(through, 1.0, 0.0), np.where(through, rise, self.setpoint)
        return (np.where(self.high, 1.0, 1.0 - self.passes),
                np.where(self.high, -self.wanted / self.capacity, self.passes * self.setpoint))


class _Many:
    def __init__(self, flows: Flows, given: Mapping[str, Mapping[str, ArrayLike]]) -> None:
        self.flows, self.t = flows, flows.prepared.topology
        self.q = flows.flow_m3s
        many = self.many = self.q.shape[1]
        per = np.array([water(float(c)).heat_kw_per_lps_k for c in np.atleast_1d(flows.water_c)]) * 1000.0
        self.moving = np.abs(self.q) > CARRIES_M3S
        self.weight = np.where(self.moving, np.abs(self.q) * per, 0.0)
        self.ahead = self.q >= 0.0
        plant = self.t.plant
        self.rows: dict[int, list[_Row]] = {}

        def figure(name: str, tag: str, other: float) -> Array:
            return np.broadcast_to(np.asarray(given[name].get(tag, other), dtype=float), many)

        for link, steps in enumerate(self.t.links):
            for step in steps:
                for tag in self.t.edges[step.edge].parts[::step.sign]:
                    part = plant.parts.get(tag)
                    if part is None or not (part.kind == "boiler" or plant.is_load(tag)):
                        continue
                    capacity = np.maximum(self.weight[link], 1e-12)
                    no = np.zeros(many, dtype=bool)
                    if part.kind == "boiler":
                        along = self.q[link] * self.t.where[tag].sign > STILL_M3S
                        fires = along & ~np.broadcast_to(np.asarray(given["idle"].get(tag, tag in flows.base.idle)), many)
                        fires &= self._driven(link)
                        setpoint = flows.base.setpoint_c.get(tag, part.number("setpoint_c"))
                        row = _Row(tag, link, True, capacity, np.where(fires, part.number("output_kw"), 0.0),
                                   figure("setpoint_c", tag, setpoint), no.astype(float), no.copy(), no.copy())
                    else:
                        one = load_of(plant, tag, flows.base.load.get(tag))
                        row = _Row(tag, link, False, capacity, figure("load", tag, one.wanted_kw), np.full(many, one.sink_c),
                                   1.0 - np.exp(-one.ua_kw_per_k / capacity), no.copy(), no.copy())
                    self.rows.setdefault(link, []).append(row)

    def _driven(self, link: int) -> np.ndarray:
        """Scenarios in which a pump of the link runs, or the link has none."""
        own = [part.tag for part in self.t.plant.of_kind("pump") if self.t.where[part.tag].link == link]
        runs = np.full(self.many, not own)
        for tag in own:
            runs |= self.flows.runs(tag)
        return runs

    def _along(self, link: int) -> tuple[Array, Array]:
        """Outlet of a link = a·inlet + b, whichever way it flows."""
        rows = self.rows.get(link, [])
        both = []
        for order in (rows, rows[::-1]):
            a, b = np.ones(self.many), np.zeros(self.many)
            for row in order:
                more, plus = row.line()
                a, b = more * a, more * b + plus
            both.append((a, b))
        return np.where(self.ahead[link], both[0][0], both[1][0]), np.where(self.ahead[link], both[0][1], both[1][1])

    def _temperatures(self, leak: float) -> Array:
        """Junctions × scenarios; the room's where nothing moves."""
        n, each, room = len(self.t.junctions), np.arange(self.many), self.t.plant.design.room_c
        matrix, wanted, into = np.zeros((self.many, n, n)), np.zeros((self.many, n)), np.zeros((self.many, n))
        for link in range(len(self.t.links)):
            w = self.weight[link]
            source = np.where(self.ahead[link], self.t.start[link], self.t.end[link])
            target = np.where(self.ahead[link], self.t.end[link], self.t.start[link])
            a, b = self._along(link) if link in self.rows else (1.0, 0.0)
            matrix[each, target, source] -= w * a
            wanted[each, target] += w * b
            into[each, target] += w
        still = into <= 0.0
        wanted += leak * into * room + np.where(still, room, 0.0)
        index = np.arange(n)
        matrix[:, index, index] += np.where(still, 1.0, into * (1.0 + leak))
        return np.asarray(np.linalg.solve(matrix, wanted[:, :, None])[:, :, 0].T, dtype=float)

    def _walk(self, junction: Array, policies: str) -> bool:
        """Goes along every link with the temperatures; sets 'loads' or 'boilers' policies, True where any changed."""
        changed = False
        each = np.arange(self.many)
        for link, rows in self.rows.items():
            start = junction[np.where(self.ahead[link], self.t.start[link], self.t.end[link]), each]
            for order, here in ((rows, self.ahead[link]), (rows[::-1], ~self.ahead[link])):
                here = here & self.moving[link]
                if not here.any():
                    continue
                t_c = start
                for row in order:
                    a, b = row.line()
                    slack = 1e-9 * (1.0 + np.abs(t_c))
                    if not row.boiler and policies == "loads":
                        changed |= _switch(row.high, row.capacity * row.passes * (t_c - row.setpoint), row.wanted,
                                           slack * row.capacity, here)
                    elif row.boiler and policies == "loads":
                        changed |= _switch(row.hot, t_c, row.setpoint, slack, here & (row.wanted > 0.0) & ~row.high)
                    elif row.boiler:
                        lacks = (np.maximum(row.setpoint, t_c) - t_c) * row.capacity
                        changed |= _switch(row.high, lacks, row.wanted, slack * row.capacity, here & (row.wanted > 0.0))
                    t_c = a * t_c + b
        return changed

    def solve(self) -> Heats:
        for _ in range(ROUNDS):
            for _ in range(ROUNDS):
                junction = self._temperatures(LEAK)
                if not self._walk(junction, "loads"):
                    break
            if not self._walk(junction, "boilers"):
                return self._told(self._temperatures(EXACT_LEAK))
        place = next(iter(self.rows.values()))[0].tag
        raise NoSolution(place, f"The heat at {place} could not be balanced.")

    def _told(self, junction: Array) -> Heats:
        plant, each = self.t.plant, np.arange(self.many)
        kw = {tag: np.zeros(self.many) for tag, part in plant.parts.items()
              if part.kind == "boiler" or plant.is_load(tag)}
        inlet = {tag: np.full(self.many, np.nan) for tag in kw if plant.is_load(tag)}
        for link, rows in self.rows.items():
            start = junction[np.where(self.ahead[link], self.t.start[link], self.t.end[link]), each]
            for order, here in ((rows, self.ahead[link]), (rows[::-1], ~self.ahead[link])):
                here, t_c = here & self.moving[link], start
                for row in order:
                    a, b = row.line()
                    out = a * t_c + b
                    rise = row.capacity * (out - t_c)
                    kw[row.tag][here] = (rise if row.boiler else -rise)[here]
                    if not row.boiler:
                        inlet[row.tag][here] = t_c[here]
                    t_c = out
        return Heats(kw, inlet)


def _switch(policy: np.ndarray, value: Array, limit: Array, slack: Array, here: np.ndarray) -> bool:
    """Sets a policy where the value lies beyond its limit, clears it where below; True where any changed."""
    on, off = here & ~policy & (value > limit + slack), here & policy & (value < limit - slack)
    policy[on], policy[off] = True, False
    return bool(on.any() or off.any())
