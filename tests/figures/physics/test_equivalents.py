"""Plants that are written differently and must do the same, in single solves and in sweeps; and what heads are made of."""

from dataclasses import replace
from itertools import count

import numpy as np
import pytest

from figures.physics import NoSolution, Prepared, Solution, State, heats, solve, sweep
from figures.plant import Part, Plant, Run

from .test_flow import plant_of, ring

B, P, E = Part("B", "boiler"), Part("P", "pump"), Part("E", "emitter")


def valve(kind: str, kv: float, tag: str = "V", **given: object) -> Part:
    return Part(tag, kind, {"kv_m3h": kv, **given})


def same(one: Plant, state: State | None, other: Plant, other_state: State | None = None, tag: str = "B") -> None:
    """Both by single solves; the first also by a sweep of one."""
    flow = solve(other, other_state).lps(tag)
    assert abs(flow) > 0.05
    assert solve(one, state).lps(tag) == pytest.approx(flow, rel=1e-6)


# -- one setting in place of another -----------------------------------------------------------------------

@pytest.mark.parametrize("kind", ["isolation valve", "motorised valve", "balancing valve"])
@pytest.mark.parametrize("share", [0.2, 0.7])
def test_a_valve_at_a_share_is_a_smaller_valve(kind: str, share: float) -> None:
    """Its Kv times the share."""
    same(ring(B, P, valve(kind, 10.0)), State(position={"V": share}), ring(B, P, valve(kind, 10.0 * share)))


def test_a_bypass_valve_at_a_share_is_a_smaller_one_and_holds_the_same() -> None:
    """Full open it falls with its Kv; while it throttles the Kv does not matter."""
    for kpa in (5.0, 25.0, 45.0):
        one, other = (ring(B, P, valve("bypass valve", kv, set_kpa=kpa)) for kv in (8.0, 4.0))
        same(one, State(position={"V": 0.5}), other)
        found = solve(one)
        assert found.runs[0]["loss_m"] == pytest.approx(found.parts["P"]["head_m"], abs=1e-7)     # round the ring, to 0.1 µm
        at = sweep(Prepared(one), position={"V": [0.5, 1.0]}).lps("B")
        assert at == pytest.approx([solve(other).lps("B"), solve(one).lps("B")], rel=1e-6)


@pytest.mark.parametrize("state", [State(off="Q"), State(speed={"Q": 0.0}), State(off="Q", speed={"Q": 0.7})],
                         ids=map(str, count()))
def test_a_pump_that_stands_still_is_an_open_valve(state: State) -> None:
    """With its own Kv; at no speed as when it is off."""
    same(ring(B, P, Part("Q", "pump", {"kv_m3h": 6.0})), state, ring(B, P, valve("isolation valve", 6.0)))


@pytest.mark.parametrize("speed", [0.5, 1.3])
def test_a_pump_at_a_share_of_its_speed_follows_the_affinity_laws(speed: float) -> None:
    """H = n²·shutoff − (shutoff − rated)·(Q/Q_rated)² (facts 4 to 6): another pump on the catalogue's page."""
    fast = Part("P", "pump", {"shutoff_m": 6.0 * speed**2, "rated_lps": 1.2, "rated_m": 6.0 * speed**2 - 1.5})
    same(ring(B, P, E), State(speed={"P": speed}), ring(B, fast, E))
    found = solve(ring(B, P, E), State(speed={"P": speed}))
    head = 6.0 * speed**2 - 1.5 * (found.lps("P") / 1.2) ** 2
    assert found.parts["P"]["head_m"] == pytest.approx(head, rel=1e-6)
    assert sweep(Prepared(ring(B, P, E)), speed={"P": [speed]}).lps("P")[0] == pytest.approx(found.lps("P"), rel=1e-6)


def test_a_reversed_pump_is_a_pump_in_a_run_written_backwards() -> None:
    """The same flow the other way round, and its head with the other sign."""
    back = Part("P", "pump", {"reversed": True})
    forwards, backwards = solve(ring(B, P, E)), solve(ring(B, back, E))
    assert backwards.lps("B") == pytest.approx(-forwards.lps("B"), rel=1e-9)
    assert backwards.parts["P"]["head_m"] == pytest.approx(-float(forwards.parts["P"]["head_m"] or 0.0), rel=1e-9)
    written = Plant("back", {p.tag: p for p in (B, P, E, Part("A", "tee"), Part("Z", "tee"))},
                    (Run(("Z", "P", "A"), 10.0, "NPS 1-1/2", 2.5), Run(("Z", "E", "B", "A"), 10.0, "NPS 1-1/2", 2.5)))
    found = solve(written)
    assert found.lps("B") == found.lps("E") == pytest.approx(-found.lps("P"), rel=1e-9)
    assert found.lps("P") == pytest.approx(forwards.lps("P"), rel=1e-4)


def diverting() -> Plant:
    parts = {part.tag: part for part in (B, P, E, Part("D", "diverting valve", {"kv_m3h": 9.0}), Part("F", "emitter"),
                                         Part("K", "tee"))}
    return Plant("diverting", parts, (
        Run(("K", "B", "P", "D.common"), 5.0, "NPS 1-1/2"), Run(("D.a", "E", "K"), 9.0, "NPS 1-1/4"),
        Run(("D.b", "F", "K"), 30.0, "NPS 1", 7.0)))


def test_a_diverting_valve_lets_water_to_one_port_only() -> None:
    """It stands at a; turned, at b. Its own Kv is lost either way, its flow is that at its common port."""
    plant = diverting()
    at_a, at_b = solve(plant), solve(plant, State(divert="D"))
    assert at_a.lps("F") == at_b.lps("E") == 0.0
    assert at_a.lps("D") == at_a.lps("E") == pytest.approx(at_a.lps("B"), abs=1e-12)
    assert at_b.lps("D") == at_b.lps("F") == pytest.approx(at_b.lps("B"), abs=1e-12)
    assert at_a.lps("E") > at_b.lps("F") + 0.1
    ways = sweep(Prepared(plant), divert={"D": [False, True]})
    assert ways.lps("D") == pytest.approx([at_a.lps("D"), at_b.lps("D")], rel=1e-6)
    turned = sweep(Prepared(plant), State(divert="D"), speed={"P": [1.0, 0.6]})
    slow = solve(plant, State(divert="D", speed={"P": 0.6}))
    assert turned.lps("F") == pytest.approx([at_b.lps("F"), slow.lps("F")], rel=1e-6)
    straight = Plant("straight", {p.tag: p for p in (B, P, E, valve("isolation valve", 9.0))},
                     (Run(("E", "B", "P", "V"), 5.0, "NPS 1-1/2"), Run(("V", "E"), 9.0, "NPS 1-1/4")))
    same(plant, None, straight)
    assert at_a.parts["D"]["inlet_c"] == pytest.approx(80.0) and at_a.parts["D"]["outlet_c"] == pytest.approx(80.0)


def test_a_mixing_valves_ports_are_two_valves() -> None:
    """Hot with the share of its Kv, cold with the rest; at either end one of them is shut."""
    parts = {part.tag: part for part in (B, P, E, Part("X", "mixing valve", {"kv_m3h": 10.0}), Part("Q", "pump"),
                                         *(Part(tag, "tee") for tag in "KMN"))}
    boiler, zone = Run(("K", "B", "Q", "M"), 5.0, "NPS 1-1/2"), ("P", "E", "N")
    around, back = Run(("M", "K"), 8.0, "NPS 1"), Run(("N", "K"), 1.0, "NPS 1-1/2")
    mixing = Plant("mixing", parts, (boiler, Run(("M", "X.hot"), 1.0, "NPS 1"), Run(("X.mixed", *zone), 9.0, "NPS 1"),
                                     Run(("N", "X.cold"), 2.0, "NPS 1"), around, back))
    two = parts | {"H": valve("isolation valve", 3.0, "H"), "C": valve("isolation valve", 7.0, "C"), "X": Part("X", "tee")}
    valves = Plant("two", two, (boiler, Run(("M", "H", "X"), 1.0, "NPS 1"), Run(("X", *zone), 9.0, "NPS 1"),
                                Run(("N", "C", "X"), 2.0, "NPS 1"), around, back))
    for tag in ("B", "E"):
        same(mixing, State(position={"X": 0.3}), valves, tag=tag)
    assert solve(mixing, State(position={"X": 0.3})).lps("X") == pytest.approx(solve(valves).lps("P"), rel=1e-6)
    hot, cold = (solve(mixing, State(position={"X": share})) for share in (1.0, 0.0))
    assert hot.flow.run_lps(3) == cold.flow.run_lps(1) == 0.0 < min(hot.lps("X"), cold.lps("X"))


def test_a_valve_all_but_shut_is_shut() -> None:
    """Under a thousandth of its Kv; from there on it lets some through."""
    plant = ring(B, P, valve("balancing valve", 10.0))
    assert solve(plant, State(position={"V": 0.0009})).lps("V") == solve(plant, State(shut="V")).lps("V") == 0.0
    assert solve(plant, State(position={"V": 0.0011})).lps("V") > 1e-3
    assert (sweep(Prepared(plant), position={"V": [0.0009, 0.0011]}).lps("V") > 1e-3).tolist() == [False, True]


# -- sweeps ------------------------------------------------------------------------------------------------

def test_a_sweep_begins_from_whatever_its_base_has_set() -> None:
    """Speeds, valves, pumps off and water of the base stand where a scenario says nothing, and give way where it does."""
    bypass = valve("bypass valve", 9.0, "Y", set_kpa=3.0)
    prepared = Prepared(ring(B, P, Part("Q", "pump"), valve("balancing valve", 9.0), bypass))
    bases = (State(speed={"P": 0.6, "Q": 0.8}, position={"V": 0.4, "Y": 0.5}, water_c=20.0),
             State(off="P", position={"V": 0.0}), State(off=["P"], speed={"P": 0.5}),
             State(speed={"Q": 0.0}, position={"Y": 0.6}), State(shut="V"))
    changes = ({"speed": {"P": [1.0, 0.5]}}, {"off": {"P": [True, False]}},
               {"off": {"Q": [False, True]}, "speed": {"Q": [0.7, 0.9]}},
               {"position": {"V": [0.3, 1.0]}}, {"position": {"Y": [0.3, 0.8]}}, {"shut": {"V": [True, False]}},
               {"shut": {"Y": [True, False]}}, {"water_c": [10.0, 80.0]})
    for base in bases:
        for change in changes:
            flows = sweep(prepared, base, **change)                              # type: ignore[arg-type]
            for n in range(2):
                off, shut = set(base.off), set(base.shut)
                for tag, values in change.get("off", {}).items():                # type: ignore[union-attr]
                    (off.add if values[n] else off.discard)(tag)
                for tag, values in change.get("shut", {}).items():               # type: ignore[union-attr]
                    shut |= {tag} if values[n] else set()
                speed = {**base.speed, **{tag: v[n] for tag, v in change.get("speed", {}).items()}}          # type: ignore
                position = {**base.position, **{tag: v[n] for tag, v in change.get("position", {}).items()}}     # type: ignore
                water_c = change["water_c"][n] if "water_c" in change else base.water_c
                one = solve(prepared, State(off=off, shut=shut, speed=speed, position=position, water_c=water_c))
                if "V" in base.position and base.position["V"] == 0.0 and "position" in change and "V" in change["position"]:
                    continue                                                     # a valve shut by the base stays shut
                assert flows.lps("B")[n] == pytest.approx(one.lps("B"), abs=1e-6), (base, change, n)
                assert flows.runs("P")[n] == ("P" not in off and speed.get("P", 1.0) > 0.0)
                assert flows.runs("Q")[n] == ("Q" not in off and speed.get("Q", 1.0) > 0.0)


@pytest.mark.parametrize("seed", [3, 7, 11, 18])
def test_what_does_not_settle_together_is_solved_alone(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same answers; more scenarios than are worked on together are cut in parts."""
    plant, prepared = plant_of(seed)
    pumps = [part.tag for part in plant.of_kind("pump")]
    chance = np.random.default_rng(seed)
    speed = {tag: chance.uniform(0.4, 1.1, 7) for tag in pumps}
    warm = chance.uniform(10.0, 90.0, 7)
    together = sweep(prepared, speed=speed, water_c=warm)
    monkeypatch.setattr("figures.physics.batch.AT_ONCE", 3)
    assert sweep(prepared, speed=speed, water_c=warm).flow_m3s == pytest.approx(together.flow_m3s, abs=1e-9)
    monkeypatch.setattr("figures.physics.batch.ITERATIONS", 0)
    alone = sweep(prepared, speed=speed, water_c=warm)
    assert alone.flow_m3s == pytest.approx(together.flow_m3s, abs=1e-8)
    assert alone.head_m == pytest.approx(together.head_m, abs=1e-5)
    assert (alone.closed == together.closed).all()


def test_who_does_not_balance_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """A full sentence with the part; in a sweep with the scenario; in heat with a part that makes or takes it."""
    loop = Prepared(ring(B, P, E))
    flows = sweep(loop, speed={"P": [1.0, 0.8]})
    with monkeypatch.context() as patch:
        patch.setattr("figures.physics.batch_heat.ROUNDS", 0)
        with pytest.raises(NoSolution) as none:
            heats(flows)
        assert (none.value.part, none.value.says) == ("B", "The heat at B could not be balanced.")
    with monkeypatch.context() as patch:
        patch.setattr("figures.physics.newton.ITERATIONS", 1)
        with pytest.raises(NoSolution) as none:
            loop.solve(State(speed={"P": 0.7}))
        assert (none.value.part, none.value.says) == ("B", "The flow through B could not be balanced.") == (
            none.value.part, str(none.value))
        small = tuple(Run(ends, metres, size) for ends, metres, size in (
            (("A", "E", "Z"), 60.0, "NPS 1/2"), (("A", "F", "Z"), 2.0, "NPS 4"), (("Z", "B", "P", "A"), 2.0, "NPS 4")))
        parts = {part.tag: part for part in (B, P, E, Part("F", "emitter"), Part("A", "tee"), Part("Z", "tee"))}
        with pytest.raises(NoSolution) as none:
            solve(Plant("small first", parts, small))
        assert none.value.part in ("F", "B")                  # where most water still moves, not what stands first in the file
    no_parts = Prepared(Plant("bare", {p.tag: p for p in (P, Part("A", "tee"), Part("Z", "tee"))},
                              (Run(("A", "P", "Z"), 1.0, "NPS 1"), Run(("Z", "A"), 5.0, "NPS 1"), Run(("Z", "A"), 7.0, "NPS 1"))))
    assert [no_parts.place(link) for link in range(3)] == ["P", "Z>A", "Z>A#2"]


# -- heads -------------------------------------------------------------------------------------------------

def test_what_a_run_loses_is_its_pipe_its_fittings_and_its_parts() -> None:
    """H1 of the facts, brentq: pipe 1.3180 m, k 0.7148 m, Kv 1.8581 m of the pump's 3.8910 m."""
    parts = {"B": Part("B", "boiler", {"kv_m3h": 12.0}), "P": P}
    h1 = solve(Plant("h1", parts, (Run(("B", "P", "B"), 40.0, "NPS 1-1/2", 12.0),)))
    assert h1.pipe_loss_m[0] == pytest.approx(1.3180, abs=5e-4)
    assert h1.fitting_loss_m[0] == pytest.approx(0.7148, abs=5e-4)
    assert h1.runs[0]["loss_m"] == pytest.approx(3.8910, abs=1e-3)
    assert h1.run_m3s[0] * 1000.0 == pytest.approx(1.42291, rel=1e-4)
    assert h1.pump_head_m("P", 0.0) == pytest.approx(6.0)
    assert h1.pump_head_m("P", 0.0012) == pytest.approx(4.5)
    assert solve(h1.plant, State(off="P")).pump_head_m("P") == 0.0


def chain(*middle: Part) -> Plant:
    """A pump between tees S and D, and one run a part back from D to S."""
    tees = [Part("S", "tee"), Part("D", "tee"), *(Part(f"T{n}", "tee") for n in range(1, len(middle)))]
    ends = ["D", *(f"T{n}" for n in range(1, len(middle))), "S"]
    runs = [Run(("S", "P", "D"), 2.0, "NPS 1-1/2")]
    runs += [Run((ends[n], part.tag, ends[n + 1]), 2.0, "NPS 1-1/2") for n, part in enumerate(middle)]
    return Plant("chain", {p.tag: p for p in (P, *tees, *middle)}, tuple(runs))


CHECK = Part("C", "check valve", {"reversed": True})


@pytest.mark.parametrize(("middle", "state", "holds"), [
    ((B, valve("isolation valve", 9.0), E), State(shut="V"), "V"),
    ((B, valve("motorised valve", 9.0), E), State(position={"V": 0.0}), "V"),
    ((valve("isolation valve", 9.0), B, CHECK, E), None, "C"),
    ((Part("C", "check valve"), valve("isolation valve", 9.0), B), State(shut="V"), "V"),
    ((B, Part("C", "check valve"), valve("isolation valve", 9.0)), State(shut="C"), "C"),
    ((B, valve("bypass valve", 9.0, set_kpa=100.0), E), None, "V")], ids=map(str, count()))
def test_whatever_shuts_a_way_holds_the_whole_difference(middle: tuple[Part, ...], state: State | None, holds: str) -> None:
    """The run in which it lies loses the pump's 6 m, the others nothing; heads step there and nowhere else."""
    found = solve(chain(*middle), state)
    assert found.lps("P") == 0.0
    assert [row["loss_m"] for row in found.runs] == pytest.approx(
        [0.0, *(6.0 if part.tag == holds else 0.0 for part in middle)], abs=1e-6)
    heads = [found.nodes[end]["head_m"] for end in ("D", *(f"T{n}" for n in range(1, len(middle))), "S")]
    place = [part.tag for part in middle].index(holds)
    steps = -np.diff(np.array(heads, dtype=float))
    assert steps == pytest.approx([6.0 if n == place else 0.0 for n in range(len(middle))], abs=1e-6)


@pytest.mark.parametrize(("through", "reversed_", "rise"), [(("A", "Q", "X"), False, 3.0), (("A", "Q", "X"), True, -3.0),
                                                            (("X", "Q", "A"), False, -3.0), (("X", "Q", "A"), True, 3.0)])
def test_a_pump_on_a_dead_end_presses_and_moves_nothing(through: tuple[str, ...], reversed_: bool, rise: float) -> None:
    """Its shutoff head stands at the end of the branch, with the sign of its direction; nothing at the expansion joint."""
    parts = {p.tag: p for p in (B, P, *(Part(tag, "tee") for tag in "AZY"), Part("X", "drain"), Part("XT", "expansion tank"),
                                Part("Q", "pump", {"shutoff_m": 3.0, "reversed": reversed_}))}
    ends = (("A", "B", "Z"), ("Z", "P", "A"), through, ("Y", "XT"), ("Z", "Y"))
    found = solve(Plant("dead end", parts, tuple(Run(end, 3.0, "NPS 1") for end in ends)))
    assert found.lps("Q") == found.flow.run_lps(2) == 0.0
    assert found.nodes["X"]["head_m"] == pytest.approx(float(found.nodes["A"]["head_m"] or 0.0) + rise)
    assert found.nodes["XT"]["head_m"] == found.nodes["Y"]["head_m"] == found.nodes["Z"]["head_m"] == 0.0
    assert found.parts["Q"] == {"flow_lps": 0.0, "head_m": -3.0 if reversed_ else 3.0, "inlet_c": None, "outlet_c": None,
                                "heat_kw": 0.0}


def test_what_is_printed_has_every_part_node_and_run() -> None:
    """Ports by name; a vessel's two supply ports have one head, so do its returns; figures are plain numbers."""
    plant, _ = plant_of(0)
    found: Solution = solve(plant)
    told = found.as_dict()
    assert set(told) == {"parts", "nodes", "runs", "warnings"}
    wet = [tag for tag, part in plant.parts.items() if part.what.shape in ("two ports", "three ports", "four ports")]
    assert list(found.parts) == wet
    ends = [tag for tag, part in plant.parts.items() if part.what.shape in ("tee", "end")]
    assert set(ends) <= set(found.nodes)
    assert [row["through"] for row in found.runs] == [list(run.through) for run in plant.runs]
    parts = {p.tag: p for p in (B, P, E, Part("V", "hydraulic separator"), Part("Q", "pump"))}
    vessel = solve(Plant("v", parts, (Run(("V.a_return", "B", "P", "V.a_supply"), 3.0, "NPS 1"),
                                      Run(("V.b_supply", "Q", "E", "V.b_return"), 9.0, "NPS 1"))))
    assert list(vessel.nodes) == ["V.a_supply", "V.a_return", "V.b_supply", "V.b_return"]
    head = {port: row["head_m"] for port, row in vessel.nodes.items()}
    assert head["V.a_supply"] == head["V.b_supply"] and head["V.a_return"] == head["V.b_return"]
    assert vessel.lps("V") == pytest.approx(vessel.lps("B") - vessel.lps("E"), abs=1e-9)
    assert replace(vessel).as_dict() == vessel.as_dict()
