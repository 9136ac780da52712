"""Networks whose flows are known: hydronic cases solved by brentq and EPANET, and two published networks.

'Colebrook' figures come from scipy's `brentq` or `root` on the full equations with `fluids.friction_factor` and
g = 9.80665; EPANET 2.2 through wntr. Water at 60 °C; pump written (shutoff m, rated L/s, rated m).
"""

from dataclasses import replace

import numpy as np
import pytest

from figures.physics import State, solve
from figures.physics.links import Pieces, PipeLaw
from figures.physics.newton import Case, Network
from figures.plant import Part, Plant, Run

BIG_KV = 100_000.0        # loses less than 0.02 µm at 1 L/s: a part that is there but costs nothing


def plant(parts: dict[str, Part], runs: list[tuple[list[str], str, float, float]]) -> Plant:
    """A plant from rows (through, size, metres, k); tees that are not given are made."""
    made = dict(parts)
    for through, *_ in runs:
        for tag in through:
            made.setdefault(tag, Part(tag, "tee"))
    return Plant("case", made, tuple(Run(tuple(through), metres, size, k) for through, size, metres, k in runs))


def pump(tag: str, shutoff_m: float, rated_lps: float, rated_m: float) -> Part:
    return Part(tag, "pump", {"shutoff_m": shutoff_m, "rated_lps": rated_lps, "rated_m": rated_m})


def one_loop(kv: float) -> Plant:
    return plant({"B": Part("B", "boiler", {"kv_m3h": kv}), "P": pump("P", 6.0, 1.2, 4.5)},
                 [(["B", "P", "B"], "NPS 1-1/2", 40.0, 12.0)])


def test_h1_one_loop() -> None:
    """brentq, Colebrook: 1.42291 L/s; pump 3.8910 m = pipe 1.3180 + k 0.7148 + Kv 1.8581."""
    found = solve(one_loop(12.0))
    assert found.lps("P") == pytest.approx(1.42291, rel=1e-4)
    assert found.parts["P"]["head_m"] == pytest.approx(3.8910, abs=1e-3)
    assert found.runs[0]["loss_m"] == pytest.approx(3.8910, abs=1e-3)


@pytest.mark.parametrize(("speed", "lps"), [(0.8, 1.13548), (0.5, 0.70499)])
def test_h1_at_lower_speed(speed: float, lps: float) -> None:
    """Under 0.8 and 0.5 times the full flow: the friction factor rises as Re falls."""
    assert solve(one_loop(12.0), State(speed={"P": speed})).lps("P") == pytest.approx(lps, rel=1e-4)


def test_h1_in_cold_water() -> None:
    """At 20 °C: 1.40866 L/s."""
    assert solve(one_loop(12.0), State(water_c=20.0)).lps("P") == pytest.approx(1.40866, rel=1e-4)


def test_h2_without_the_valve() -> None:
    """Colebrook 1.71709 L/s."""
    assert solve(one_loop(BIG_KV)).lps("P") == pytest.approx(1.71709, rel=1e-4)


def test_h3_all_through_the_bypass_valve() -> None:
    """It holds 20 kPa (2.0742 m); brentq: 1.38473 L/s, pump 4.0026 m, pipe with k 1.9284 m."""
    case = plant({"B": Part("B", "boiler", {"kv_m3h": BIG_KV}), "P": pump("P", 6.0, 1.2, 4.5),
                  "V": Part("V", "bypass valve", {"set_kpa": 20.0, "kv_m3h": 100.0})},
                 [(["B", "P", "V", "B"], "NPS 1-1/2", 40.0, 12.0)])
    found = solve(case)
    assert found.lps("V") == pytest.approx(1.38473, rel=1e-4)
    assert found.parts["P"]["head_m"] == pytest.approx(4.0026, abs=1e-3)


def header(mains: str, reverse: bool) -> Plant:
    """H4 and H5: four branches between a supply and a return main, 3 m between them."""
    rows = [(["R0", "P", "B", "S0"], mains, 0.001, 0.0)]
    rows += [([f"S{n}", f"S{n + 1}"], mains, 3.0, 0.0) for n in range(4)]
    rows += [([f"S{n}", f"R{n}"], "NPS 1", 6.0, 10.0) for n in range(1, 5)]
    if reverse:
        rows += [([f"R{n}", f"R{n + 1}"], mains, 3.0, 0.0) for n in range(1, 4)] + [(["R4", "R0"], mains, 12.0, 0.0)]
    else:
        rows += [([f"R{n + 1}", f"R{n}"], mains, 3.0, 0.0) for n in range(4)]
    return plant({"P": pump("P", 4.0, 2.0, 2.5), "B": Part("B", "boiler", {"kv_m3h": BIG_KV})}, rows)


@pytest.mark.parametrize(("mains", "reverse", "flows", "limit"), [
    ("NPS 1-1/2", False, (0.6960, 0.6088, 0.5666, 0.5547), 4e-4),      # Colebrook
    ("NPS 1-1/2", True, (0.5698, 0.5302, 0.5302, 0.5698), 4e-4),       # Colebrook
    ("NPS 2", False, (0.6887, 0.6586, 0.6443, 0.6403), 3e-3),          # EPANET, Swamee–Jain
    ("NPS 2", True, (0.6427, 0.6295, 0.6295, 0.6427), 3e-3)])          # EPANET, Swamee–Jain
def test_h4_h5_direct_and_reverse_return(mains: str, reverse: bool, flows: tuple[float, ...], limit: float) -> None:
    """Direct return starves the far branch; reverse return evens out, yet the middle branches get least."""
    found = solve(header(mains, reverse))
    assert [found.flow.run_lps(n) for n in range(5, 9)] == pytest.approx(flows, rel=limit)


def test_h6_separated_loops() -> None:
    """Colebrook: boiler 1.74128, system 1.54514, common +0.19614 L/s."""
    size = "NPS 1-1/2"
    case = plant({"PB": pump("PB", 3.0, 1.5, 2.0), "PS": pump("PS", 7.0, 1.2, 5.0),
                  "X": Part("X", "boiler", {"kv_m3h": BIG_KV})},
                 [(["B", "PB"], size, 6.0, 8.0), (["PB", "X", "A"], size, 6.0, 4.0), (["A", "B"], size, 0.2, 0.0),
                  (["A", "PS"], size, 25.0, 15.0), (["PS", "B"], size, 25.0, 10.0)])
    found = solve(case)
    assert [found.lps("PB"), found.lps("PS")] == pytest.approx([1.74128, 1.54514], rel=1e-4)
    assert found.flow.run_lps(2) == pytest.approx(0.19614, abs=2e-4)


def test_h7_ghost_flow_through_an_idle_branch() -> None:
    """Colebrook: running branch 1.37424, idle branch −0.31788, header 1.05635 L/s."""
    size = "NPS 1-1/4"
    rows = [(["B", "P", "X", "A"], size, 8.0, 10.0), (["B", "A"], size, 8.0, 15.0), (["A", "T"], "NPS 2", 4.0, 3.0),
            (["T", "U"], "NPS 2", 0.2, 0.0), (["U", "B"], "NPS 2", 4.0, 3.0)]
    case = plant({"P": pump("P", 3.0, 1.2, 2.0), "X": Part("X", "boiler", {"kv_m3h": BIG_KV})}, rows)
    found = solve(case)
    assert [found.flow.run_lps(n) for n in range(3)] == pytest.approx([1.37424, -0.31788, 1.05635], abs=2e-4)


def test_a_check_valve_stops_the_ghost_flow() -> None:
    """The same plant with a check valve in the idle branch: nothing comes back through it."""
    size = "NPS 1-1/4"
    rows = [(["B", "P", "X", "A"], size, 8.0, 10.0), (["B", "C", "A"], size, 8.0, 15.0), (["A", "B"], "NPS 2", 8.2, 6.0)]
    case = plant({"P": pump("P", 3.0, 1.2, 2.0), "X": Part("X", "boiler"), "C": Part("C", "check valve")}, rows)
    found = solve(case)
    assert found.lps("C") == 0.0
    assert found.flow.run_lps(2) == pytest.approx(found.lps("P"), abs=1e-9)
    assert found.runs[1]["loss_m"] == pytest.approx(-float(found.runs[2]["loss_m"]), abs=1e-6)


def test_pump_at_no_flow_gives_its_shutoff_head() -> None:
    """Affinity laws: at 80 % speed 0.64 of it."""
    ring = one_loop(12.0)
    parts = {**ring.parts, "V": Part("V", "isolation valve")}
    shut = replace(ring, parts=parts, runs=(Run(("B", "P", "V", "B"), 40.0, "NPS 1-1/2", 12.0),))
    assert solve(shut, State(shut="V")).parts["P"]["head_m"] == pytest.approx(6.0)
    assert solve(shut, State(shut="V", speed={"P": 0.8})).parts["P"]["head_m"] == pytest.approx(3.84)
    assert solve(shut, State(shut="V")).lps("P") == 0.0


def published(rows: list[tuple[int, int, float, float]], constant: dict[int, float], square: dict[int, float],
              demand: dict[int, float], junctions: int, roughness_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Flows [m³/s] and heads [m] of pipes (from, to, m, m in diameter); fixed heads are junction 0 with constants."""
    table = np.array([row[2:] for row in rows], dtype=float)
    start, end = (np.array([row[k] for row in rows]) for k in (0, 1))
    n = len(rows)
    law = PipeLaw(Pieces(np.arange(n), table[:, 0], table[:, 1], np.full(n, roughness_m), n), 1.02193e-6)
    fixed, fall = np.zeros(n), np.zeros(n)
    for link, value in constant.items():
        fixed[link] = value
    for link, value in square.items():
        fall[link] = value
    inflow = np.zeros(junctions)
    for junction, value in demand.items():
        inflow[junction] = -value
    inflow[0] = -inflow.sum()
    no = np.zeros(n, dtype=np.intp)
    network = Network(start, end, junctions, no)
    flow = np.full(n, 0.01)
    answer = network.solve(Case(law, fixed, fall, np.zeros(n, dtype=bool), None, inflow), flow, law.guess(flow))
    return answer.flow, answer.head


def test_n1_two_loops() -> None:
    """Alperovits and Shamir (1977), Darcy–Weisbach with ε = 0.25 mm, water of EPANET's viscosity; scipy, Colebrook.

    Node 1 is the reservoir at 210 m."""
    inch = 0.0254
    pipes = [(0, 1, 18), (1, 2, 10), (1, 3, 16), (3, 4, 4), (3, 5, 16), (5, 6, 10), (2, 4, 10), (4, 6, 1)]
    flow, head = published([(a, b, 1000.0, d * inch) for a, b, d in pipes], {}, {},
                           {n: q / 3600 for n, q in zip(range(1, 7), (100, 100, 120, 270, 330, 200))}, 7, 0.25e-3)
    assert flow * 3600 == pytest.approx([1120, 337.278, 682.722, 32.178, 530.544, 200.544, 237.278, -0.5442],
                                        rel=1e-4, abs=1e-3)
    assert head[1:] + 210.0 == pytest.approx([202.953, 189.080, 198.064, 182.127, 195.080, 190.076], abs=2e-3)


def test_n2_epanet_example_net1() -> None:
    """Rossman (2000), first hour, Darcy–Weisbach with ε = 0.25 mm; scipy, Colebrook. Flows gpm, heads ft.

    Reservoir 9 at 800 ft behind a pump H = (4/3)·250 − (250/3)·(Q/1500)² ft, tank 2 at 970 ft."""
    foot, gpm = 0.3048, 0.0630901964e-3
    names = {9: 0, 2: 0, 10: 1, 11: 2, 12: 3, 13: 4, 21: 5, 22: 6, 23: 7, 31: 8, 32: 9}
    pipes = {10: (10, 11, 10530, 18), 11: (11, 12, 5280, 14), 12: (12, 13, 5280, 10), 21: (21, 22, 5280, 10),
             22: (22, 23, 5280, 12), 31: (31, 32, 5280, 6), 110: (2, 12, 200, 18), 111: (11, 21, 5280, 10),
             112: (12, 22, 5280, 12), 113: (13, 23, 5280, 8), 121: (21, 31, 5280, 8), 122: (22, 32, 5280, 6)}
    rows = [(names[a], names[b], length * foot, d * 0.0254) for a, b, length, d in pipes.values()]
    rows.append((0, 1, 1e-6, 1.0))                                       # the pump, on no pipe to speak of
    order = list(pipes)
    demand = {10: 0, 11: 150, 12: 150, 13: 100, 21: 150, 22: 200, 23: 150, 31: 100, 32: 100}
    flow, head = published(rows, {order.index(110): -970 * foot, 12: -(800 + 4 / 3 * 250) * foot},
                           {12: 250 / 3 * foot / (1500 * gpm) ** 2},
                           {names[n]: q * gpm for n, q in demand.items()}, 10, 0.25e-3)
    assert flow[:12] / gpm == pytest.approx([1952.37, 1301.04, 124.775, 208.814, 125.225, 42.514, -852.365, 501.329,
                                             173.896, 24.775, 142.514, 57.486], rel=1e-4, abs=0.01)
    assert head[1:] / foot == pytest.approx([992.158, 980.038, 970.047, 969.410, 971.231, 969.570, 969.308, 968.752,
                                             967.656], abs=5e-3)
