"""A plant prepared for solving: everything that does not depend on what is set, worked out once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from figures.plant.model import Plant, tag_of

from . import topology
from .elimination import Columns, Rounds
from .friction import Array
from .links import PipeLaw
from .newton import Answer, Bypass, Case, Friction, Network, Unbalanced
from .state import SHUTS, NoSolution, State
from .topology import WAYS, PartLaw
from .water import GRAVITY_MS2, Water, water

STARTING_SPEED_MS = 1.0
ROUGH_FALL = 0.02 * 8.0 / (np.pi**2 * GRAVITY_MS2)
"""Loss per squared flow of straight pipe, times diameter⁵ over length, at a friction factor of 0.02."""
SHUT_POSITION = 1e-3
"""A valve set to less than this share of its Kv counts as shut."""


@dataclass(frozen=True)
class _Wet:
    """What the water's temperature settles: the friction law, and where every solve starts."""

    water: Water
    law: PipeLaw
    first: Friction
    constant_m: Array
    bypass: Bypass | None

    @property
    def root(self) -> Array:
        """Roots of the pieces at the first flow; see `PipeLaw`."""
        return self.first.root


class Prepared:
    """A plant ready to be solved for any state.

    >>> from figures.plant import parse_plant
    >>> ring = parse_plant('''
    ... format = 1
    ... [parts.B1]
    ... kind = "boiler"
    ... kv_m3h = 12.0
    ... [parts.P1]
    ... kind = "pump"
    ... [[runs]]
    ... through = ["B1", "P1", "B1"]
    ... size = "NPS 1-1/2"
    ... length_m = 40.0
    ... k = 12.0
    ... ''')
    >>> flow = Prepared(ring).solve(State(water_c=60.0))
    >>> round(flow.lps("P1"), 4)         # facts H1, Colebrook: 1.42291 L/s by another solver
    1.4229
    """

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.topology = topology.build(plant)
        t = self.topology
        self.laws = topology.part_laws(t)
        self.links = len(t.links)
        self._fittings = topology.fitting_losses(t)
        self.pieces = topology.pieces(t)
        self._constant, self._fall = np.zeros(self.links), self._fittings.copy()
        self.one_way = np.zeros(self.links, dtype=np.intp)
        self.never = np.zeros(self.links, dtype=bool)
        self.diverters = {part.tag: (self.laws[f"{part.tag}.a"].link, self.laws[f"{part.tag}.b"].link)
                           for part in plant.of_kind("diverting valve")}
        for name, law in self.laws.items():
            if law.link >= 0:
                self._add(name, law)
        area = np.full(self.links, np.inf)
        np.minimum.at(area, self.pieces.link, np.pi * self.pieces.inside_m**2 / 4.0)
        self.first_flow = np.where(np.isfinite(area), area * STARTING_SPEED_MS, 1e-3)
        self.first_flow[self.one_way < 0] *= -1.0
        straight = np.bincount(self.pieces.link, self.pieces.length_m / self.pieces.inside_m**5, self.links)
        self.network = Network(t.start, t.end, len(t.junctions), self.one_way, self._reference(),
                               self._fall + ROUGH_FALL * straight)
        self._wet: dict[float, _Wet] = {}
        self.pumps = frozenset(part.tag for part in plant.of_kind("pump"))
        self.shutters = frozenset(part.tag for part in plant.of_kind(*SHUTS))

    def _add(self, name: str, law: PartLaw) -> None:
        part = self.plant.parts[tag_of(name)]
        self._constant[law.link] -= law.lift_m
        if part.kind != "bypass valve":
            self._fall[law.link] += law.fall
        if law.one_way:
            if self.one_way[law.link] == -law.one_way:
                self.never[law.link] = True
            self.one_way[law.link] = law.one_way

    def _reference(self) -> int:
        """The junction nearest to the expansion tank's joint; node heads are shifted to that joint later."""
        at = self.joint_vertex()
        t = self.topology
        for link, steps in enumerate(t.links):
            for step in steps:
                edge = t.edges[step.edge]
                if at in (edge.start, edge.end):
                    return int(t.start[link])
        return 0

    def joint_vertex(self) -> int:
        """The vertex where the (first) expansion tank's branch joins water that can move."""
        t = self.topology
        for part in self.plant.of_kind("expansion tank"):
            at = t.vertex(part.tag)
            for index, stays in t.pruned:
                edge = t.edges[index]
                if at in (edge.start, edge.end) and at != stays:
                    at = stays
            return at
        return t.junctions[0] if t.junctions else 0

    def wet(self, water_c: float) -> _Wet:
        """Laws at one water temperature; kept, for sliders come back to the same figures."""
        found = self._wet.get(water_c)
        if found is None:
            properties = water(water_c)
            law = PipeLaw(self.pieces, properties.viscosity_m2s)
            constant, bypass = self._constant.copy(), None
            valves = [w for w in self.laws.values() if w.set_kpa and w.link >= 0]
            if valves:
                held = np.array([w.set_kpa for w in valves]) * 1000.0 / (properties.density_kgm3 * GRAVITY_MS2)
                bypass = Bypass(np.array([w.link for w in valves]), np.array([float(w.one_way) for w in valves]),
                                np.array([w.fall for w in valves]), held)
                np.add.at(constant, bypass.link, held * bypass.sign)
            first = Friction(self.first_flow, *law(self.first_flow, law.guess(self.first_flow)))
            found = _Wet(properties, law, first, constant, bypass)
            if len(self._wet) > 256:
                self._wet.clear()
            self._wet[water_c] = found
        return found

    def case(self, state: State, wet: _Wet) -> Case:
        """The laws of all links in `state`. Raises ValueError for a state that this plant does not have."""
        if not (self.pumps.issuperset(state.off) and self.shutters.issuperset(state.shut)
                and all(tag in self.diverters for tag in state.divert)):
            raise ValueError("\n".join(state.refusals(self.plant)))
        constant, shut, bypass = wet.constant_m.copy(), self.never.copy(), wet.bypass
        # where nothing changes them all cases share their squares, by which the solver knows them for the same
        fall = self._fall.copy() if state.off or state.position or self._mixers or 0.0 in state.speed.values() else self._fall
        for tag in state.off:
            law = self.laws[tag]
            if law.link >= 0:
                constant[law.link] += law.lift_m
                fall[law.link] += law.off_fall - law.fall
        for tag in state.shut:
            law = self.laws[tag]
            if law.link >= 0:
                shut[law.link] = True
        for tag, (a, b) in self.diverters.items():
            turned = a if tag in state.divert else b
            if turned >= 0:
                shut[turned] = True
        if state.speed or state.position or self._mixers:
            bypass = self._settings(state, constant, fall, shut, bypass)
        return Case(wet.law, constant, fall, shut, bypass)

    @cached_property
    def run_table(self) -> tuple[Array, Array, Array, Array]:
        """Length, inside diameter, roughness [m] and k of every run."""
        rows = [(run.length_m, run.bore.inside_m, run.bore.roughness_m, run.k) for run in self.plant.runs]
        length, inside, roughness, k = np.array(rows).T
        return length, inside, roughness, k

    @cached_property
    def columns(self) -> Columns:
        """Elimination for batches."""
        algebra, t = self.network.algebra, self.topology
        return Columns(algebra if isinstance(algebra, Rounds) else Rounds(t.start, t.end, len(t.junctions)))

    @cached_property
    def _mixers(self) -> list[str]:
        return [part.tag for part in self.plant.of_kind("mixing valve")]

    def _settings(self, state: State, constant: Array, fall: Array, shut: np.ndarray,
                  bypass: Bypass | None) -> Bypass | None:
        if not (self.pumps.issuperset(state.speed) and all(0.0 <= n <= 2.0 for n in state.speed.values())) or (
                state.position and state.refusals(self.plant)):
            raise ValueError("\n".join(state.refusals(self.plant)))
        for tag, speed in state.speed.items():
            law = self.laws[tag]
            if tag in state.off or law.link < 0:
                continue
            constant[law.link] += law.lift_m * (1.0 - speed * speed)
            if speed == 0.0:
                fall[law.link] += law.off_fall - law.fall
        shares = dict(state.position)
        for tag in self._mixers:
            hot = shares.pop(tag, 1.0)
            shares[f"{tag}.hot"], shares[f"{tag}.cold"] = hot, 1.0 - hot
        for name, share in shares.items():
            law = self.laws[name]
            if law.link < 0:
                continue
            if share < SHUT_POSITION:
                shut[law.link] = True
            elif not law.set_kpa:
                fall[law.link] += law.fall * (1.0 / share**2 - 1.0)
            elif bypass is not None:
                here = bypass.link == law.link
                bypass = Bypass(bypass.link, bypass.sign, np.where(here, bypass.fall / share**2, bypass.fall),
                                bypass.held_m)
        return bypass

    def solve(self, state: State | None = None, start: Flow | None = None) -> Flow:
        """Steady flow in `state`. start: an earlier answer to begin from, for speed.

        Raises ValueError for a state that this plant does not have, NoSolution where it does not balance.
        """
        state = State() if state is None else state
        wet = self.wet(state.water_c)
        case = self.case(state, wet)
        try:
            answer = self.network.solve(case, self.first_flow, wet.root, None if start is None else start.answer, wet.first)
        except Unbalanced as unbalanced:
            part = self.place(unbalanced.link)
            raise NoSolution(part, f"The flow through {part} could not be balanced.") from None
        return Flow(self, state, wet.water, case, answer)

    def place(self, link: int) -> str:
        """What to call a link in a message: its first part, or the pipe's name."""
        steps = self.topology.links[link]
        for step in steps:
            edge = self.topology.edges[step.edge]
            if edge.parts:
                return tag_of(edge.parts[0])
        return self.plant.run_names[self.topology.edges[steps[0].edge].run]


@dataclass(frozen=True)
class Flow:
    """An answer in arrays; names come when asked for.

    answer.flow: m³/s of each link.  answer.head: m at each junction, before the shift to the expansion joint.
    """

    prepared: Prepared
    state: State
    water: Water
    case: Case
    answer: Answer

    def lps(self, tag: str) -> float:
        """Flow through a part [L/s], along its run; 0 on a dead end."""
        t = self.prepared.topology
        kind = self.prepared.plant.parts[tag].kind
        if kind in WAYS:
            return self._trunk_lps(tag, WAYS[kind][0])
        where = t.where[tag]
        return 0.0 if where.link < 0 else float(self.flow[where.link]) * where.sign * 1000.0

    def _trunk_lps(self, tag: str, trunk: str) -> float:
        for index, run in enumerate(self.prepared.plant.runs):
            if f"{tag}.{trunk}" in (run.through[0], run.through[-1]):
                return self.run_lps(index)
        return 0.0

    def run_lps(self, run: int) -> float:
        """Flow in the run of that index [L/s], along its writing."""
        where = self.prepared.topology.edge_where[run]
        return 0.0 if where.link < 0 else float(self.flow[where.link]) * where.sign * 1000.0

    @cached_property
    def flow(self) -> Array:
        """m³/s of each link, balanced at every junction to rounding."""
        return self.prepared.network.settled(self.answer.flow, self.answer.closed, self.case.inflow)
