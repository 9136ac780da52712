"""Where the heat goes: temperatures at every junction, what boilers make and loads take.

Steady and adiabatic but for the loads; waters mix perfectly where they meet, and ρ and cp are those at the
water's set temperature. Every part turns the temperature that comes in into the one that goes out:

- a boiler adds what its outlet lacks to its setpoint, up to its output: min(T + P/C, max(T, setpoint));
- a load takes what it wants, or what its surface passes, whichever is less: max(T − L/C, T − e·(T − T_sink)),
  with e = 1 − exp(−UA/C) and C = m·cp, and UA from its design temperatures.

All of these rise with T and none by more than T does, so there is a least set of temperatures that fits, and
it is found by policy iteration: Newton's method on the loads for given boilers at full output, then the
boilers that would rather hold or rather fire. The last solve is exact, so the balance closes to rounding.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import exp, inf, log

import numpy as np

from figures.plant.model import Plant

from .elimination import Rounds
from .friction import Array
from .network import Flow
from .state import NoSolution

STILL_M3S = 1e-9
"""Flow below which water counts as still and has no temperature of its own: 1e-6 L/s."""
CARRIES_M3S = 1e-16
"""Flow from which water counts in the balance of heat: 1e-13 L/s. Creeping water between the two is told as still."""
NO_HEAT_KW = 1e-12
"""Heat told as none: rounding, and so far below what the balance closes to that leaving it out opens no gap."""
LARGEST_EFFECTIVENESS = 0.999
LEAK = 1e-9
"""Share of a junction's heat let out to the room while policies change, so that no equation is singular."""


def coil_temperatures_c(plant: Plant) -> tuple[float, float]:
    """Supply and return for which a tank's coil passes its `coil_kw` [°C]: the DHW setpoint and the plant's design
    return. A return that does not lie between store and setpoint counts as a quarter of the way up from the store,
    a setpoint that is no hotter than the store as 20 K above it: common practice, no source."""
    d = plant.design
    supply = d.dhw_setpoint_c if d.dhw_setpoint_c > d.tank_c + 1.0 else d.tank_c + 20.0
    return supply, d.return_c if d.tank_c + 1.0 < d.return_c < supply else d.tank_c + (supply - d.tank_c) / 4.0


def conductance_kw_per_k(load_kw: float, supply_c: float, return_c: float, sink_c: float) -> float:
    """UA of a load's surface [kW/K] that passes `load_kw` between these temperatures [°C], the sink's being even.

    From load = C·(supply − sink)·(1 − exp(−UA/C)), C = load/(supply − return).

    >>> round(conductance_kw_per_k(50.0, 75.0, 65.0, 20.0), 4)   # by hand: 5·ln(55/45)
    1.0034
    """
    share = min((supply_c - return_c) / max(supply_c - sink_c, 1e-9), LARGEST_EFFECTIVENESS)
    return -log(1.0 - share) * load_kw / (supply_c - return_c)


@dataclass(frozen=True)
class Load:
    """What takes heat: heat wanted [kW], conductance of its surface [kW/K], temperature beyond it [°C]."""

    wanted_kw: float
    ua_kw_per_k: float
    sink_c: float


def load_of(plant: Plant, tag: str, wanted_kw: float | None = None) -> Load:
    """The load `tag`, wanting `wanted_kw` or else its design load.

    >>> from figures.plant.scheme import Scheme
    >>> plant = Scheme().plant()
    >>> load_of(plant, "E1").wanted_kw == plant.load_kw("E1"), load_of(plant, "E1", 5.0).wanted_kw
    (True, 5.0)
    """
    part, design = plant.parts[tag], plant.design
    kw = plant.load_kw(tag)
    sink = design.tank_c if plant.is_dhw(tag) else design.room_c
    if part.kind == "indirect tank":
        supply, back = coil_temperatures_c(plant)
    else:
        supply, back = part.number("supply_c"), part.number("return_c")
    return Load(kw if wanted_kw is None else wanted_kw, conductance_kw_per_k(kw, supply, back, sink), sink)


@dataclass(frozen=True)
class _Work:
    """One boiler or load on a link: where along the link's water it comes, and its figures."""

    tag: str
    capacity_kw_per_k: float
    output_kw: float
    setpoint_c: float
    load: Load | None


@dataclass(frozen=True)
class Heat:
    """Temperatures and heats.

    junction_c: of each junction's water, NaN where it is still.  part_c: tag → temperatures at its run's start
    and end, NaN where still.  heat_kw: what each boiler gives to the water, each load takes from it.
    link_c: temperatures of each link's water where it comes in.
    """

    junction_c: Array
    link_c: Array
    part_c: dict[str, tuple[float, float]]
    heat_kw: dict[str, float]


def firing(flow: Flow, tag: str) -> bool:
    """True where a boiler may fire: not idle, water passes it along its run, and not all pumps of its own are off.

    A boiler's own pumps are those on its branch. A burner fires when flow is proved: common practice.

    >>> from figures.physics import Prepared, State
    >>> from figures.plant.scheme import Scheme
    >>> plant = Prepared(Scheme().plant())
    >>> [firing(plant.solve(state), "B1") for state in (State(), State(idle="B1"), State(off="PB1"))]
    [True, False, False]
    """
    prepared, state = flow.prepared, flow.state
    where = prepared.topology.where[tag]
    if tag in state.idle or where.link < 0 or flow.flow[where.link] * where.sign <= STILL_M3S:
        return False
    own = own_pumps(flow, tag)
    return not own or any(p not in state.off and state.speed.get(p, 1.0) > 0.0 for p in own)


def own_pumps(flow: Flow, tag: str) -> list[str]:
    """Pumps on the same link as the part `tag`: all its water passes them and only its water.

    >>> from figures.physics import Prepared
    >>> from figures.plant.scheme import Scheme
    >>> own_pumps(Prepared(Scheme(boilers=2).plant()).solve(), "B2")
    ['PB2']
    """
    t = flow.prepared.topology
    link = t.where[tag].link
    return [p.tag for p in t.plant.of_kind("pump") if link >= 0 and t.where[p.tag].link == link]


def heat(flow: Flow) -> Heat:
    """Temperatures and heats for a solved flow. Raises NoSolution where they do not settle (never seen).

    >>> from figures.physics import Prepared
    >>> from figures.plant.scheme import Scheme
    >>> plant = Prepared(Scheme().plant())
    >>> kw = heat(plant.solve()).heat_kw
    >>> abs(kw["B1"] - kw["E1"]) < 1e-9        # all that the boiler makes the load takes
    True
    """
    return HeatNetwork(flow).solve()


class HeatNetwork:
    """The balance of one flow: what works on the water link by link, and the policies of boilers and loads."""

    def __init__(self, flow: Flow) -> None:
        self.flow = flow
        t = self.t = flow.prepared.topology
        plant, state = t.plant, flow.state
        per_m3s = flow.water.heat_kw_per_lps_k * 1000.0
        self.q = flow.flow
        self.moving = np.abs(self.q) > CARRIES_M3S
        self.capacity = np.abs(self.q) * per_m3s
        forward = self.q >= 0.0
        self.source = np.where(forward, t.start, t.end)
        self.target = np.where(forward, t.end, t.start)
        works: dict[int, list[tuple[tuple[int, int], _Work]]] = defaultdict(list)
        order = {step.edge: (n if forward[link] else -n)
                 for link, steps in enumerate(t.links) for n, step in enumerate(steps)}
        for part in plant.parts.values():
            where = t.where.get(part.tag)
            if where is None or where.link < 0 or not self.moving[where.link]:
                continue
            capacity = float(self.capacity[where.link])
            if part.kind == "boiler":
                output = part.number("output_kw") if firing(flow, part.tag) else 0.0
                setpoint = state.setpoint_c.get(part.tag, part.number("setpoint_c")) if output else -inf
                work = _Work(part.tag, capacity, output, setpoint, None)
            elif plant.is_load(part.tag):
                work = _Work(part.tag, capacity, 0.0, 0.0, load_of(plant, part.tag, state.load.get(part.tag)))
            else:
                continue
            edge = t.edge_of[part.tag]
            along = t.edges[edge].parts.index(part.tag) * (1 if self.q[where.link] * where.sign > 0.0 else -1)
            works[where.link].append(((order[edge], along), work))
        self.works = {link: [work for _, work in sorted(rows, key=lambda row: row[0])]
                      for link, rows in works.items()}
        self.full: set[str] = set()       # boilers at full output
        self.fed: set[str] = set()        # loads that get all they want
        self.hot: set[str] = set()        # boilers whose water comes in hotter than their setpoint

    def _line(self, work: _Work) -> tuple[float, float]:
        """Outlet = a·inlet + b under the present policies."""
        if work.load is None:
            if work.tag in self.full:
                return 1.0, work.output_kw / work.capacity_kw_per_k
            return (1.0, 0.0) if work.tag in self.hot or not work.output_kw else (0.0, work.setpoint_c)
        if work.tag in self.fed:
            return 1.0, -work.load.wanted_kw / work.capacity_kw_per_k
        share = 1.0 - exp(-work.load.ua_kw_per_k / work.capacity_kw_per_k)
        return 1.0 - share, share * work.load.sink_c

    def _along(self, link: int) -> tuple[float, float]:
        a, b = 1.0, 0.0
        for work in self.works.get(link, ()):
            more, plus = self._line(work)
            a, b = more * a, more * b + plus
        return a, b

    def _temperatures(self, leak: float) -> Array:
        """Junction temperatures under the present policies; NaN where nothing moves."""
        n = len(self.t.junctions)
        links = np.flatnonzero(self.moving)
        lines = np.array([self._along(int(link)) for link in links]).reshape(-1, 2)
        weight, target, source = self.capacity[links], self.target[links], self.source[links]
        into = np.bincount(target, weight, n)
        known = into > 0.0
        if not leak:
            known &= self._fixed(links, lines)
        wanted = np.bincount(target, weight * lines[:, 1], n) + leak * into * self.t.plant.design.room_c
        algebra = self.flow.prepared.network.algebra
        found = np.full(n, np.nan)
        if isinstance(algebra, Rounds):
            diagonal = np.where(known, into * (1.0 + leak), 1.0)
            pull = np.zeros(len(self.q))
            pull[links] = np.where(known[target], -weight * lines[:, 0], 0.0)
            forward = self.q >= 0.0
            solved = algebra.directed(diagonal, np.where(forward, pull, 0.0), np.where(forward, 0.0, pull),
                                      np.where(known, wanted, 0.0))
            found[known] = solved[known]
        elif known.any():
            matrix = np.diag(into * (1.0 + leak))
            np.add.at(matrix, (target, source), -weight * lines[:, 0])
            found[known] = np.linalg.solve(matrix[np.ix_(known, known)], wanted[known])
        return found

    def _fixed(self, links: np.ndarray, lines: Array) -> np.ndarray:
        """For each junction, whether anything in its water's circuit fixes a temperature: a boiler that holds its
        setpoint, or a load that passes heat to a sink."""
        label = self.flow.prepared.network.islands(~self.moving, ~self.moving).label
        holding = links[lines[:, 0] < 1.0 - 1e-12]
        return np.isin(label, label[self.source[holding]])

    def _policies(self, junction: Array, loads: bool) -> bool:
        """Changes the loads' (or the boilers') policies to what these temperatures ask for; True where any did."""
        changed = False
        for link, works in self.works.items():
            t_c = float(junction[self.source[link]])
            for work in works:
                a, b = self._line(work)
                slack = 1e-9 * (1.0 + abs(t_c))
                if work.load is not None and loads:
                    share = 1.0 - exp(-work.load.ua_kw_per_k / work.capacity_kw_per_k)
                    can = work.capacity_kw_per_k * share * (t_c - work.load.sink_c)
                    changed |= self._set(self.fed, work.tag, can, work.load.wanted_kw,
                                         slack * work.capacity_kw_per_k)
                elif work.load is None and work.output_kw:
                    if work.tag not in self.full and loads:
                        changed |= self._set(self.hot, work.tag, t_c, work.setpoint_c, slack)
                    elif not loads:
                        lacks = (max(work.setpoint_c, t_c) - t_c) * work.capacity_kw_per_k
                        changed |= self._set(self.full, work.tag, lacks, work.output_kw,
                                             slack * work.capacity_kw_per_k)
                t_c = a * t_c + b
        return changed

    @staticmethod
    def _set(policy: set[str], tag: str, value: float, limit: float, slack: float) -> bool:
        if tag in policy and value < limit - slack:
            policy.discard(tag)
            return True
        if tag not in policy and value > limit + slack:
            policy.add(tag)
            return True
        return False

    def solve(self) -> Heat:
        """Policy after policy, until none changes. Raises NoSolution where they go round for ever (never seen)."""
        rounds = 20 + 4 * sum(len(works) for works in self.works.values())
        for _ in range(rounds):
            for _ in range(rounds):
                junction = self._temperatures(LEAK)
                if not self._policies(junction, loads=True):
                    break
            if not self._policies(junction, loads=False):
                return self._told(self._temperatures(0.0))
        place = next((work.tag for works in self.works.values() for work in works), self.t.plant.title)
        raise NoSolution(place, f"The heat at {place} could not be balanced.")

    def _told(self, junction: Array) -> Heat:
        plant, t = self.t.plant, self.t
        part_c = {}
        given = {tag: 0.0 for tag in plant.parts if plant.parts[tag].kind == "boiler" or plant.is_load(tag)}
        link_c = np.where(self.moving, junction[self.source], np.nan) if len(self.source) else junction[:0]
        still = np.abs(self.q) <= STILL_M3S
        for link, works in self.works.items():
            t_c = float(link_c[link])
            for work in works:
                a, b = self._line(work)
                out = a * t_c + b
                along = self.q[link] * t.where[work.tag].sign > 0.0
                if not still[link]:
                    part_c[work.tag] = (t_c, out) if along else (out, t_c)
                if np.isfinite(out):
                    rise = work.capacity_kw_per_k * (out - t_c)
                    given[work.tag] = 0.0 if abs(rise) < NO_HEAT_KW else rise if work.load is None else -rise
                t_c = out
        passed = np.zeros(len(junction))
        np.add.at(passed, self.target, np.abs(self.q))
        return Heat(np.where(passed > STILL_M3S, junction, np.nan), np.where(still, np.nan, link_c), part_c, given)
