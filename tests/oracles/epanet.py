"""A plant in one state, told to EPANET 2.2 (public domain, US EPA; Rossman 2000) through wntr.

Made straight from the plant file, run by run and part by part, and shares nothing with `figures.physics` but the
plant model and the state. EPANET uses Swamee–Jain, g = 32.2 ft/s² and check valves that ignore heads under
0.15 mm, so flows are compared within 1 % or 0.015 L/s. Its fixed-drop valve hunts in closed loops and its pumps
never run backwards, so a throttling bypass is told as the flow that we found, taken out before it and put
back behind it (the head that it then holds is compared instead), and states with a pump pushed back
are left to other tests.
"""

from __future__ import annotations

import tempfile
import warnings
from dataclasses import dataclass
from pathlib import Path

import wntr

from figures.physics import Solution, State, water
from figures.plant import Plant

EPANET_G = 32.2 * 0.3048
STUB_M = 1e-3


@dataclass(frozen=True)
class Told:
    """Run name → flow [L/s] that EPANET found, and bypass valve → head across it [m]."""

    runs_lps: dict[str, float]
    held_m: dict[str, float]


class _Model:
    def __init__(self, plant: Plant, state: State, solution: Solution) -> None:
        self.plant, self.state, self.solution = plant, state, solution
        self.net = wntr.network.WaterNetworkModel()
        hydraulic = self.net.options.hydraulic
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)    # "roughness is not converted": it is given in metres
            hydraulic.headloss = "D-W"
        hydraulic.accuracy, hydraulic.trials = 1e-7, 500
        hydraulic.viscosity = water(state.water_c).viscosity_m2s / 1.02193e-6
        hydraulic.unbalanced = "CONTINUE"
        self.nodes: set[str] = set()
        self.count = 0
        self.pump_ends: dict[str, tuple[str, str]] = {}
        self.bypass_ends: dict[str, tuple[str, str]] = {}

    def node(self, name: str) -> str:
        name = name.replace(".", "_")
        if name not in self.nodes:
            self.net.add_junction(name, elevation=0.0)
            self.nodes.add(name)
        return name

    def inner(self) -> str:
        self.count += 1
        return self.node(f"i{self.count}")

    def pipe(self, name: str, a: str, b: str, length_m: float, inside_m: float, rough_m: float, minor: float,
             closed: bool = False, check: bool = False) -> None:
        self.net.add_pipe(name, a, b, length=length_m, diameter=inside_m, roughness=rough_m, minor_loss=minor,
                          initial_status="CLOSED" if closed else "OPEN", check_valve=check)

    def minor(self, kv_m3h: float, inside_m: float) -> float:
        """K on `inside_m` whose head in EPANET's g is that of the Kv: h = (Q/Kv)²·10.19716 m."""
        area = 3.141592653589793 * inside_m**2 / 4.0
        return 10.19716 * (3600.0 / kv_m3h) ** 2 * 2.0 * EPANET_G * area**2

    def run(self, index: int) -> None:
        run, plant = self.plant.runs[index], self.plant
        bore, name = run.bore, f"r{index}"
        own = [tag for tag in run.through if "." not in tag and plant.parts[tag].what.shape == "two ports"
               and plant.run_through[tag] == index]
        own = list(dict.fromkeys(own))

        def outside(end: str) -> str:
            if "." not in end and plant.parts[end].what.shape == "two ports":
                return self.node(f"{end}_joint")
            return self.node(end)

        here = outside(run.through[0])
        last = outside(run.through[-1])
        first = self.inner()
        self.pipe(name, here, first, run.length_m, bore.inside_m, bore.roughness_m, run.k * EPANET_G / 9.80665)
        here = first
        for n, tag in enumerate(own):
            there = last if n == len(own) - 1 else self.inner()
            self.part(tag, here, there, bore.inside_m)
            here = there
        if not own:
            self.pipe(f"{name}_end", here, last, STUB_M, max(bore.inside_m, 0.05), 1e-6, 0.0)

    def part(self, tag: str, a: str, b: str, inside_m: float) -> None:
        part, state = self.plant.parts[tag], self.state
        reversed_ = bool(part.given.get("reversed"))
        if reversed_:
            a, b = b, a
        kind = part.kind
        minor = self.minor(float(part.number("kv_m3h")) * state.position.get(tag, 1.0) or 1e-9, inside_m)
        if kind == "pump" and tag not in state.off and state.speed.get(tag, 1.0) > 0.0:
            shutoff, rated = part.number("shutoff_m"), part.number("rated_m")
            q = part.number("rated_lps") / 1000.0
            zero = q * (shutoff / (shutoff - rated)) ** 0.5
            q1, q2 = zero * 0.4, zero * 0.8
            points = [(x, shutoff - (shutoff - rated) * (x / q) ** 2) for x in (0.0, q1, q2)]
            self.net.add_curve(f"c{tag}", "HEAD", points)
            self.net.add_pump(f"p{tag}", a, b, "HEAD", f"c{tag}", speed=state.speed.get(tag, 1.0))
            return
        if kind == "bypass valve":
            self.bypass(tag, a, b, minor, inside_m)
            return
        self.pipe(f"q{tag}", a, b, STUB_M, inside_m, 1e-6, minor, closed=tag in state.shut,
                  check=kind == "check valve" and tag not in state.shut)

    def bypass(self, tag: str, a: str, b: str, minor: float, inside_m: float) -> None:
        flow = self.solution.lps(tag) / 1000.0
        part = self.plant.parts[tag]
        full = 10.19716 * (flow * 3600.0 / part.number("kv_m3h")) ** 2
        held = part.number("set_kpa") * 1000.0 / (water(self.state.water_c).density_kgm3 * 9.80665)
        wide = full > held
        self.pipe(f"q{tag}", a, b, STUB_M, inside_m, 1e-6, minor, closed=not wide)
        if flow > 1e-7 and not wide:
            self.net.get_node(a).add_demand(flow, None)
            self.net.get_node(b).add_demand(-flow, None)
            self.bypass_ends[tag] = (a, b)

    def ways(self, tag: str) -> None:
        part = self.plant.parts[tag]
        minor = self.minor(part.number("kv_m3h"), 0.08)
        if part.kind in ("hydraulic separator", "buffer tank"):
            for end in ("supply", "return"):
                self.pipe(f"w{tag}{end}", self.node(f"{tag}.a_{end}"), self.node(f"{tag}.b_{end}"), STUB_M, 0.3, 1e-6, 0.0)
            self.pipe(f"v{tag}", self.node(f"{tag}.a_supply"), self.node(f"{tag}.a_return"), STUB_M, 0.08, 1e-6, minor)
        elif part.kind == "diverting valve":
            turned = tag in self.state.divert
            for branch, closed in (("a", turned), ("b", not turned)):
                self.pipe(f"v{tag}{branch}", self.node(f"{tag}.common"), self.node(f"{tag}.{branch}"), STUB_M, 0.08, 1e-6, minor,
                          closed=closed)

    def told(self) -> Told:
        for index in range(len(self.plant.runs)):
            self.run(index)
        for part in self.plant.parts.values():
            if part.what.ports:
                self.ways(part.tag)
        tanks = self.plant.of_kind("expansion tank")
        at = self.node(tanks[0].tag) if tanks else sorted(self.nodes)[0]
        self.net.add_reservoir("hold", base_head=100.0)
        self.net.add_pipe("holding", "hold", at, length=0.01, diameter=0.05, roughness=1e-5)
        with tempfile.TemporaryDirectory() as folder:
            found = wntr.sim.EpanetSimulator(self.net).run_sim(file_prefix=str(Path(folder) / "t"), version=2.2)
        flow, head = found.link["flowrate"].iloc[0], found.node["head"].iloc[0]
        return Told({name: float(flow[f"r{n}"]) * 1000.0 for n, name in enumerate(self.plant.run_names)},
                    {tag: float(head[a] - head[b]) for tag, (a, b) in self.bypass_ends.items()})


def epanet(plant: Plant, state: State, solution: Solution) -> Told:
    """What EPANET finds. `solution` is asked only for the flow of a throttling bypass valve."""
    return _Model(plant, state, solution).told()


def comparable(plant: Plant, solution: Solution) -> bool:
    """False where a pump is pushed back or stalled, or a mixing valve takes its share by temperature."""
    if plant.of_kind("mixing valve"):
        return False
    for part in plant.of_kind("pump"):
        if not solution.pump_is_off(part.tag):
            sign = -1.0 if part.given.get("reversed") else 1.0
            if solution.lps(part.tag) * sign < -1e-6:
                return False
    return True


def differences(plant: Plant, state: State, solution: Solution) -> list[str]:
    """Runs whose flows differ by more than 1 % and 0.015 L/s, and bypass valves whose head differs by 1 % and 1 cm."""
    told = epanet(plant, state, solution)
    out = []
    for n, name in enumerate(plant.run_names):
        ours, theirs = solution.flow.run_lps(n), told.runs_lps[name]
        if abs(ours - theirs) > max(0.015, 0.01 * abs(theirs)):
            out.append(f"{name}: {ours:.4f} L/s, EPANET {theirs:.4f}")
    for tag, theirs in told.held_m.items():
        held = plant.parts[tag].number("set_kpa") * 1000.0 / (water(state.water_c).density_kgm3 * 9.80665)
        if abs(theirs - held) > max(0.01, 0.01 * held):
            out.append(f"{tag}: holds {held:.3f} m, EPANET {theirs:.3f}")
    return out


__all__ = ["Told", "comparable", "differences", "epanet"]
