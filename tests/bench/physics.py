"""Flow: one solve, many in one call, and how cost grows, beside other programs on the same plant and machine.

EPANET 2.2 in C, loaded once (a set of pump speeds, a run, all flows read) and as a whole run through wntr; scipy's
`root` on the same equations in numpy with an analytic Jacobian; pandapipes where it is installed.
"""

from __future__ import annotations

import statistics
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from figures.physics import Prepared, State, heats, solve, sweep
from figures.physics.operation import Operator
from figures.plant import Plant, read_plant
from tests.oracles.epanet import _Model

from .ladder import ladder
from .measure import Row

SAMPLE = Path(__file__).parents[1] / "plants" / "tees-four-boilers.toml"
MANY = 1000


def quickest_us(call: Callable[[], object], bursts: int = 60, each: int = 5) -> tuple[float, float]:
    """Microseconds that one call works the processor, which others on the machine change little: the quickest burst, and
    the median."""
    call()
    seconds = []
    for _ in range(bursts):
        begin = time.process_time()
        for _ in range(each):
            call()
        seconds.append((time.process_time() - begin) / each)
    return min(seconds) * 1e6, statistics.median(seconds) * 1e6


def row(what: str, call: Callable[[], object], note: str, per: float = 1.0, bursts: int = 60, each: int = 5,
        at_most_us: float | None = None) -> Row:
    """A row in µs; `per` divides by the scenarios in a call."""
    least, median = quickest_us(call, bursts, each)
    limit = "" if at_most_us is None else f"at most {at_most_us:g}"
    return Row(what, least / per, "µs", "; ".join(filter(None, ("quickest", f"median {median / per:.3g}", note, limit))),
               None if at_most_us is None else least / per / at_most_us)


def rows() -> Iterator[Row]:
    """Single solves, batches, other programs, cost against size, operation."""
    plant = read_plant(SAMPLE)
    prepared = Prepared(plant)
    first = prepared.solve()
    slower = State(speed={"PS": 0.95})
    cold = row("flow of 4 boilers, cold", prepared.solve, "", bursts=200, at_most_us=150.0)
    yield cold
    yield row("  after a small change (pump at 95 %)", lambda: prepared.solve(slower, start=first), "", bursts=200,
              at_most_us=80.0)
    valve = next(part.tag for part in plant.of_kind("balancing valve", "motorised valve"))
    throttled, still = State(position={valve: 0.9}), State(off=["PB1"])
    yield row(f"  after another ({valve} at 90 % of its Kv)", lambda: prepared.solve(throttled, start=first), "", bursts=200)
    yield row("  cold, a boiler's pump off and its check shut", lambda: prepared.solve(still), "", bursts=200)
    yield row("  with heat", lambda: solve(prepared), "flow, then heat")
    yield row("  with heat and every name (as_dict)", lambda: solve(prepared).as_dict(), "", each=2)
    yield row("prepare a 4-boiler plant", lambda: Prepared(plant), "", each=2)
    chance = np.random.default_rng(4)
    speeds = {part.tag: chance.uniform(0.6, 1.0, MANY) for part in plant.of_kind("pump")}
    batch = row(f"{MANY} scenarios in one call, each", lambda: sweep(prepared, speed=speeds), "all pumps' speeds", MANY, 12, 1,
                at_most_us=10.0)
    yield batch
    off = {tag: chance.random(MANY) < 0.2 for tag in speeds}
    yield row("  with pumps off and other water", lambda: sweep(prepared, speed=speeds, off=off, water_c=np.repeat(
        chance.uniform(40.0, 80.0, MANY // 20), 20)), "50 temperatures", MANY, 8, 1)
    flows = sweep(prepared, speed=speeds)
    load = {part.tag: chance.uniform(20.0, 120.0, MANY) for part in plant.of_kind("emitter")}
    yield row("  their heat, each", lambda: heats(flows, load=load), "loads differ, too", MANY, 4, 1)
    yield from _epanet(plant, cold.value, batch.value, speeds)
    yield _scipy(prepared, cold.value)
    yield _pandapipes(plant, cold.value)
    yield from _sizes()
    ready = Operator(plant)
    yield row("operate a plant that is ready, heat call", lambda: ready.operate(ready.right("heat")), "sequence to reasons",
              each=2)


def _epanet(plant: Plant, cold_us: float, batch_us: float, speeds: dict[str, np.ndarray]) -> Iterator[Row]:
    from wntr.epanet.toolkit import ENepanet
    from wntr.network.io import write_inpfile
    state = State()
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as folder:
        warnings.simplefilter("ignore")
        model = _Model(plant, state, solve(plant, state))
        model.told()
        write_inpfile(model.net, f"{folder}/plant.inp", version=2.2)
        engine = ENepanet(f"{folder}/plant.inp", f"{folder}/plant.rpt", f"{folder}/plant.bin", version=2.2)
        engine.ENopen(f"{folder}/plant.inp", f"{folder}/plant.rpt", f"{folder}/plant.bin")
        engine.ENopenH()
        pumps = [engine.ENgetlinkindex(f"p{tag}") for tag in speeds]
        runs = [engine.ENgetlinkindex(f"r{n}") for n in range(len(plant.runs))]
        count = 0

        def again() -> list[float]:
            nonlocal count
            count += 1
            for pump, values in zip(pumps, speeds.values()):
                engine.ENsetlinkvalue(pump, 5, float(values[count % MANY]))        # 5: initial setting
            engine.ENinitH(10)                                                        # 10: flows start anew
            engine.ENrunH()
            return [engine.ENgetlinkvalue(link, 8) for link in runs]                  # 8: flow

        def run_only() -> None:
            engine.ENinitH(10)
            engine.ENrunH()

        least, median = quickest_us(run_only)
        yield Row("EPANET, loaded engine, one run", least, "µs", f"quickest; median {median:.3g}", cold_us / least)
        least, median = quickest_us(again)
        yield Row("EPANET, loaded engine, speeds set and flows read", least, "µs",
                  f"quickest; median {median:.3g}; ratio of our batch", batch_us / least)
        engine.ENcloseH()
        engine.ENclose()
        least, median = quickest_us(lambda: _Model(plant, state, solve(plant, state)).told(), 5, 1)
        yield Row("EPANET, a whole run through wntr", least, "µs", f"quickest; median {median:.3g}", cold_us / least)


def _scipy(prepared: Prepared, cold_us: float) -> Row:
    """Flows and heads together, F = (loss − drop, net), Jacobian given."""
    from scipy.optimize import root

    wet = prepared.wet(60.0)
    case = prepared.case(State(), wet)
    t, network = prepared.topology, prepared.network
    incidence = np.zeros((len(t.junctions), prepared.links))
    incidence[t.start, np.arange(prepared.links)] += 1.0
    incidence[t.end, np.arange(prepared.links)] -= 1.0
    links, loose = prepared.links, incidence[1:]

    def equations(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        flow, head = x[:links] / 1000.0, x[links:]
        ratio, slope, _ = case.law(flow, case.law.guess(flow))
        ratio, slope = ratio + case.fall * np.abs(flow), slope + 2.0 * case.fall * np.abs(flow)
        value = np.r_[ratio * flow + case.constant_m - head @ loose, 1000.0 * (loose @ flow)]
        jacobian = np.zeros((len(x), len(x)))
        jacobian[:links, :links] = np.diag(slope / 1000.0)
        jacobian[:links, links:] = -loose.T
        jacobian[links:, :links] = loose
        return value, jacobian

    start = np.r_[prepared.first_flow * 1000.0, np.zeros(len(loose))]
    found = root(equations, start, jac=True, method="hybr", tol=1e-10)
    ours = network.solve(case, prepared.first_flow, wet.root).flow
    agree = float(np.abs(found.x[:links] / 1000.0 - ours).max()) * 1000.0
    least, median = quickest_us(lambda: root(equations, start, jac=True, method="hybr", tol=1e-10), 20, 1)
    return Row("scipy.optimize.root on the same equations", least, "µs",
               f"quickest; median {median:.3g}; flows within {agree:.1g} L/s", cold_us / least)


def _pandapipes(plant: Plant, cold_us: float) -> Row:
    """A ring of one pipe is enough to see the cost of its call."""
    what = "pandapipes, one pipe between two pressures"
    try:
        import pandapipes
    except ImportError:
        return Row(what, float("nan"), "µs", "not installed")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        net = pandapipes.create_empty_network(fluid="water")
        a, b = (pandapipes.create_junction(net, pn_bar=2.0, tfluid_k=333.0) for _ in range(2))
        pandapipes.create_ext_grid(net, a, p_bar=2.0, t_k=333.0)
        pandapipes.create_sink(net, b, mdot_kg_per_s=1.0)
        pandapipes.create_pipe_from_parameters(net, a, b, length_km=0.02, inner_diameter_mm=50.0, k_mm=0.05)
        try:
            least, median = quickest_us(lambda: pandapipes.pipeflow(net), 5, 1)
        except Exception as error:                     # another program's trouble is told, not ours to mend
            return Row(what, float("nan"), "µs", f"fails here: {type(error).__name__}")
    return Row(what, least, "µs", f"quickest; median {median:.3g}; ratio of our 4 boilers", cold_us / least)


def _sizes() -> Iterator[Row]:
    """Cold flow against the number of runs; near linear is what is wanted."""
    for zones in (3, 33, 333, 1000, 3333):
        prepared = Prepared(ladder(zones))
        many = len(prepared.plant.runs)
        least, median = quickest_us(prepared.solve, 8 if zones > 100 else 40, 1)
        yield Row(f"flow of {many} runs, cold", least, "µs", f"quickest; median {median:.3g}; {least / many:.2g} a run")


if __name__ == "__main__":
    for line in rows():
        print(f"{line.what:52} {line.value:10.3g} {line.unit}  {line.note}", flush=True)
