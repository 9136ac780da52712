"""The answer with names: flows, heads, temperatures and heats of every part, node and run, and warnings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from math import isnan, pi

import numpy as np

from figures.plant.model import Part, Plant, tag_of

from .friction import Array, friction_factor
from .heat import Heat, heat
from .links import LEAST_SLOPE
from .network import SHUT_POSITION, Flow, Prepared
from .state import NoSolution, State
from .topology import WAYS, Step
from .warn import warnings
from .water import GRAVITY_MS2

MIXED_WITHIN_K = 1e-3


def _plain(value: float) -> float | None:
    """A figure as JSON takes it: None for NaN, no negative zero."""
    return None if isnan(value) else float(value) + 0.0


@dataclass(frozen=True)
class Solution:
    """A plant solved in one state. `as_dict()` is what `loopbook solve --json` prints."""

    flow: Flow
    heat: Heat

    @property
    def plant(self) -> Plant:
        """The plant that was solved."""
        return self.flow.prepared.plant

    @property
    def state(self) -> State:
        """What was set."""
        return self.flow.state

    def lps(self, tag: str) -> float:
        """Flow through a part [L/s], along its run."""
        return self.flow.lps(tag)

    @cached_property
    def edge_loss_m(self) -> np.ndarray:
        """Head that each edge (run, or way through a vessel or valve) loses along its writing, pumps' lift not in it.

        Where a shut valve or check holds a difference of head back, that difference counts as its edge's loss."""
        t, answer, case = self.flow.prepared.topology, self.flow.answer, self.flow.case
        loss = np.zeros(len(t.edges))
        pipes = self.pipe_loss_m + self.fitting_loss_m
        for link, steps in enumerate(t.links):
            q = float(answer.flow[link])
            for n, step in enumerate(steps):
                edge = t.edges[step.edge]
                along = q * step.sign
                if edge.run >= 0:
                    loss[step.edge] = pipes[edge.run]
                loss[step.edge] += LEAST_SLOPE * along if n == 0 else 0.0
                for name in edge.parts:
                    loss[step.edge] += self._part_loss_m(name, along * abs(along))
            if answer.closed[link]:
                held = answer.head[t.start[link]] - answer.head[t.end[link]] - self._lost_m(link, steps, loss)
                step = self._closed_step(steps, case.shut[link])
                loss[step.edge] += held * step.sign
        return loss

    def _lost_m(self, link: int, steps: tuple[Step, ...], loss: np.ndarray) -> float:
        return float(sum(step.sign * (loss[step.edge] - self._lift_m(step.edge, 0.0)) for step in steps))

    def _closed_step(self, steps: tuple[Step, ...], shut: bool) -> Step:
        """The step of a shut link that shuts it."""
        t, state = self.flow.prepared.topology, self.state
        kinds = ("check valve", "bypass valve")
        for step in steps:
            for name in t.edges[step.edge].parts:
                tag = tag_of(name)
                kind = t.plant.parts[tag].kind
                by_hand = tag in state.shut or kind in WAYS or state.position.get(tag, 1.0) < SHUT_POSITION
                if by_hand if shut else kind in kinds:
                    return step
        for step in steps:
            if any(t.plant.parts[tag_of(name)].kind in kinds for name in t.edges[step.edge].parts):
                return step
        return steps[0]

    @cached_property
    def pipe_loss_m(self) -> Array:
        """Friction of every run's straight pipe, along its writing [m]."""
        length, inside, roughness, _ = self.flow.prepared.run_table
        q = self.run_m3s
        re = np.maximum(4.0 * np.abs(q) / (pi * inside * self.flow.water.viscosity_m2s), 1e-9)
        area = pi * inside**2 / 4.0
        return friction_factor(re, roughness / inside) * length / inside * q * np.abs(q) / (2.0 * GRAVITY_MS2 * area**2)

    @cached_property
    def fitting_loss_m(self) -> Array:
        """Loss of every run's own `k`, along its writing [m]."""
        _, inside, _, k = self.flow.prepared.run_table
        return k * self.run_m3s * np.abs(self.run_m3s) / (2.0 * GRAVITY_MS2 * (pi * inside**2 / 4.0) ** 2)

    @cached_property
    def run_m3s(self) -> Array:
        """Flow in every run along its writing [m³/s], as the solver left it."""
        where = self.flow.prepared.topology.edge_where
        flow = self.flow.answer.flow
        return np.array([flow[w.link] * w.sign if (w := where[n]).link >= 0 else 0.0
                         for n in range(len(self.plant.runs))])

    def pipe_pa_per_m(self, run: int) -> float:
        """Friction of a run's straight pipe [Pa/m], its fittings not in it."""
        return abs(float(self.pipe_loss_m[run])) / self.plant.runs[run].length_m \
            * self.flow.water.density_kgm3 * GRAVITY_MS2

    def _part_loss_m(self, name: str, square: float) -> float:
        """Loss along the run of a part or way at this flow squared, signed; a running pump's is in its head."""
        law, part, state = self.flow.prepared.laws[name], self.plant.parts[tag_of(name)], self.state
        if part.kind == "pump":
            return law.off_fall * square if self.pump_is_off(part.tag) else 0.0
        share = state.position.get(part.tag, 1.0)
        if part.kind == "mixing valve" and not name.endswith(".hot"):
            share = 1.0 - share
        fall = law.fall / max(share, SHUT_POSITION) ** 2
        if law.set_kpa and not self.flow.answer.closed[law.link]:      # it holds its head at no flow, too
            held = law.set_kpa * 1000.0 / (self.flow.water.density_kgm3 * GRAVITY_MS2)
            return law.one_way * self.flow.prepared.topology.where[name].sign * max(held, fall * abs(square))
        return fall * square

    def pump_is_off(self, tag: str) -> bool:
        """True for a pump that stands still."""
        return tag in self.state.off or self.state.speed.get(tag, 1.0) == 0.0

    def pump_head_m(self, tag: str, q_m3s: float | None = None) -> float:
        """Head that a running pump adds along its run [m]; 0 where it is off."""
        if self.pump_is_off(tag):
            return 0.0
        part = self.plant.parts[tag]
        sign = self.flow.prepared.topology.part_sign(tag)
        law = self.flow.prepared.laws[tag]
        q = self.lps(tag) / 1000.0 if q_m3s is None else q_m3s
        speed = self.state.speed.get(tag, 1.0)
        return sign * speed**2 * part.number("shutoff_m") - law.fall * q * abs(q)

    def _lift_m(self, edge: int, q: float | None = None) -> float:
        t = self.flow.prepared.topology
        return sum(self.pump_head_m(tag, q) for tag in t.edges[edge].parts
                   if tag in t.plant.parts and t.plant.parts[tag].kind == "pump")

    @cached_property
    def vertex_head_m(self) -> np.ndarray:
        """Head at every vertex, 0 at the expansion tank's joint."""
        t, answer = self.flow.prepared.topology, self.flow.answer
        head = np.zeros(len(t.vertices))
        for junction, vertex in enumerate(t.junctions):
            head[vertex] = answer.head[junction]
        for link, steps in enumerate(t.links):
            here = float(answer.head[t.start[link]])
            for step in steps[:-1]:
                here -= step.sign * (self.edge_loss_m[step.edge] - self._lift_m(step.edge))
                edge = t.edges[step.edge]
                head[edge.end if step.sign > 0 else edge.start] = here
        for index, stays in reversed(t.pruned):
            edge = t.edges[index]
            rise = self._lift_m(index, 0.0)
            if edge.start == stays:
                head[edge.end] = head[stays] + rise
            else:
                head[edge.start] = head[stays] - rise
        return head - head[self.flow.prepared.joint_vertex()] if len(head) else head

    @cached_property
    def _temperatures(self) -> tuple[np.ndarray, dict[str, tuple[float, float]]]:
        """Of every vertex, and of every part at its run's start and end; NaN where the water is still."""
        t = self.flow.prepared.topology
        at = np.full(len(t.vertices), np.nan)
        for junction, vertex in enumerate(t.junctions):
            at[vertex] = self.heat.junction_c[junction]
        parts = dict(self.heat.part_c)
        for link, steps in enumerate(t.links):
            here = float(self.heat.link_c[link])
            if isnan(here):
                continue
            forward = self.flow.flow[link] >= 0.0
            walk = list(steps) if forward else [Step(s.edge, -s.sign) for s in reversed(steps)]
            for n, step in enumerate(walk):
                edge = t.edges[step.edge]
                for name in edge.parts if step.sign > 0 else edge.parts[::-1]:
                    if name in parts:
                        here = parts[name][1 if step.sign > 0 else 0]
                    else:
                        parts[name] = (here, here)
                if n < len(walk) - 1:
                    at[edge.end if step.sign > 0 else edge.start] = here
        return at, parts

    def temperature_c(self, tag: str) -> tuple[float | None, float | None]:
        """Temperatures of a part at its run's start and end [°C]; None where the water is still."""
        kind = self.plant.parts[tag].kind
        if kind in WAYS:
            trunk, *branches = WAYS[kind]
            at, parts = self._temperatures
            t = self.flow.prepared.topology
            common = at[t.vertex(f"{tag}.{trunk}")]
            moving = [at[t.vertex(f"{tag}.{b}")] for b in branches if f"{tag}.{b}" in parts]
            return _plain(common), _plain(moving[0]) if moving else None
        found = self._temperatures[1].get(tag)
        return (None, None) if found is None else (_plain(found[0]), _plain(found[1]))

    @cached_property
    def parts(self) -> Mapping[str, dict[str, float | None]]:
        """Every part that water passes: flow, head that a pump adds, temperatures at its ends, heat.

        Flow and ends are as its run is written. Heat is what a boiler gives to the water, a load takes from it."""
        rows = {}
        for tag, part in self.plant.parts.items():
            if part.what.shape in ("two ports", "four ports", "three ports"):
                inlet, outlet = self.temperature_c(tag)
                lift = self.pump_head_m(tag) if part.kind == "pump" else 0.0
                rows[tag] = {"flow_lps": self.lps(tag) + 0.0, "head_m": lift + 0.0, "inlet_c": inlet,
                             "outlet_c": outlet, "heat_kw": self.heat.heat_kw.get(tag, 0.0) + 0.0}
        return rows

    @cached_property
    def nodes(self) -> Mapping[str, dict[str, float | None]]:
        """Every tee, port and end: head above the expansion tank's joint, and temperature."""
        return {name: {"head_m": float(self.vertex_head_m[v]) + 0.0, "temperature_c": _plain(self._temperatures[0][v])}
                for name, v in self._node_names()}

    def _node_names(self) -> Iterator[tuple[str, int]]:
        t = self.flow.prepared.topology
        for tag, part in self.plant.parts.items():
            shape = part.what.shape
            if shape in ("tee", "end"):
                yield tag, t.vertex(tag)
            elif shape in ("four ports", "three ports"):
                for port in part.what.ports:
                    yield f"{tag}.{port}", t.vertex(f"{tag}.{port}")

    @cached_property
    def runs(self) -> tuple[dict[str, object], ...]:
        """Every run in file order: its parts, its flow and the head it loses, both along its writing."""
        return tuple({"through": list(run.through), "flow_lps": self.flow.run_lps(n) + 0.0,
                      "loss_m": float(self.edge_loss_m[n]) + 0.0} for n, run in enumerate(self.plant.runs))

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What a technician should look at, one short sentence each."""
        return tuple(warnings(self))

    def as_dict(self) -> dict[str, object]:
        """What `loopbook solve --json` prints: plain lists, strings and numbers."""
        return {"parts": {tag: dict(row) for tag, row in self.parts.items()},
                "nodes": {name: dict(row) for name, row in self.nodes.items()},
                "runs": [dict(row) for row in self.runs], "warnings": list(self.warnings)}


def solve(plant: Plant | Prepared, state: State | None = None, start: Flow | None = None) -> Solution:
    """Flow and heat of a plant in one state.

    plant: a plant, or one prepared before (quicker when it is solved often).  start: see `Prepared.solve`.
    Raises ValueError for a state that the plant does not have, NoSolution where no balance is found.

    >>> from figures.plant.scheme import Scheme
    >>> plant = Scheme().plant()
    >>> found = solve(plant, State(speed={"PS": 0.8}))
    >>> found.lps("PS") < solve(plant).lps("PS"), abs(found.heat.heat_kw["B1"] - found.heat.heat_kw["E1"]) < 1e-9
    (True, True)
    """
    prepared = plant if isinstance(plant, Prepared) else Prepared(plant)
    state = State() if state is None else state
    refused = state.refusals(prepared.plant)
    if refused:
        raise ValueError("\n".join(refused))
    return settle_mixers(prepared, state, start)


def settle_mixers(prepared: Prepared, state: State, start: Flow | None) -> Solution:
    """The answer with every thermostatic mixing valve at the share of hot water that gives its `set_c`.

    A valve's share is found by the Illinois rule (a secant that keeps its bracket; each try is a whole solve), one
    valve after the other until all stand. One whose hot port is too cold stays full hot.
    """
    mixers = [part for part in prepared.plant.of_kind("mixing valve") if part.tag not in state.position]
    if not mixers:
        flow = prepared.solve(state, start)
        return Solution(flow, heat(flow))
    share = {part.tag: 1.0 for part in mixers}
    found = _with_shares(prepared, state, share, start)
    for _ in range(6):
        for part in mixers:
            found = _settle_one(prepared, state, share, part, found)
        off = [_above(found, part) for part in mixers]
        if all(abs(k) < 2 * MIXED_WITHIN_K or (k < 0.0 and share[part.tag] == 1.0) for k, part in zip(off, mixers)):
            break
    return found


def _above(found: Solution, part: Part) -> float:
    """How far a valve's mixed water is above its setting [K]; 0 where it is still."""
    mixed = found.temperature_c(part.tag)[0]
    return 0.0 if mixed is None else mixed - part.number("set_c")


def _settle_one(prepared: Prepared, state: State, share: dict[str, float], part: Part, found: Solution) -> Solution:
    """Moves one valve until its mixed water has its temperature; changes `share`, returns the solve at it."""
    tag, here = part.tag, _above(found, part)
    if abs(here) < MIXED_WITHIN_K or (here < 0.0 and share[tag] == 1.0):
        return found

    def at(value: float) -> float:
        nonlocal found
        share[tag] = value
        found = _with_shares(prepared, state, share, found.flow)
        return _above(found, part)

    low, high = 0.0, 1.0
    below, above = -part.number("set_c"), here if share[tag] == 1.0 else at(1.0)
    if above < MIXED_WITHIN_K:
        return found
    side = 0
    for _ in range(40):
        middle = at(low + (high - low) * min(max(below / (below - above), 0.02), 0.98))
        if abs(middle) < MIXED_WITHIN_K or high - low < 1e-9:
            break
        if middle > 0.0:
            high, above = share[tag], middle
            below *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            low, below = share[tag], middle
            above *= 0.5 if side < 0 else 1.0
            side = -1
    return found


def _with_shares(prepared: Prepared, state: State, share: Mapping[str, float], start: Flow | None) -> Solution:
    whole = State(state.off, state.shut, state.divert, state.idle, state.speed, {**state.position, **share},
                  state.load, state.water_c, state.setpoint_c)
    flow = prepared.solve(whole, start)
    return Solution(flow, heat(flow))


__all__ = ["NoSolution", "Solution", "State", "solve"]
