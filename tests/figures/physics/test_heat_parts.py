"""Heat part by part, by hand: boilers and loads in a row, what fires, what is still, coils, mixing valves."""

import math
from itertools import count

import numpy as np
import pytest

from figures.physics import Prepared, Solution, State, heats, solve, sweep, water
from figures.physics.heat import coil_temperatures_c, conductance_kw_per_k, load_of
from figures.plant import Part, Plant, Run, read_plant
from figures.plant.model import Design
from tests.plants import HERE

from .test_flow import plant_of, ring
from .test_heat import mixed_zone

P = Part("P", "pump")
PER_LPS_K = 4.1146                  # kW per L/s and K at 60 °C: IAPWS-95


def capacity(found: Solution, tag: str) -> float:
    return abs(found.lps(tag)) * water(60.0).heat_kw_per_lps_k


# -- in a row ----------------------------------------------------------------------------------------------

@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("cut", [False, True])
def test_loads_in_a_row_get_their_water_one_after_the_other(turned: bool, cut: bool) -> None:
    """The second what the first has left, in the direction of the water, however the run is written or cut in two."""
    parts = {p.tag: p for p in (Part("B", "boiler"), P, Part("E", "emitter", {"load_kw": 20.0}), Part("V", "isolation valve"),
                                Part("F", "emitter", {"load_kw": 30.0}), *(Part(tag, "tee") for tag in ("AZM" if cut else "AZ")))}
    loads = [("A", "E", "V", "F", "Z")] if not cut else [("A", "E", "V", "M"), ("M", "F", "Z")]
    loads = [run[::-1] for run in loads] if turned else loads
    found = solve(Plant("row", parts, tuple(Run(run, 9.0, "NPS 1-1/2") for run in (("Z", "B", "P", "A"), *loads))))
    per_k = capacity(found, "B")
    after_e, after_f = 80.0 - 20.0 / per_k, 80.0 - 50.0 / per_k
    sign = -1.0 if turned else 1.0
    assert found.lps("E") == found.lps("F") == pytest.approx(sign * found.lps("P"), abs=1e-12)
    ends = {"E": (80.0, after_e), "V": (after_e, after_e), "F": (after_e, after_f)}
    for tag, (comes, goes) in ends.items():
        told = (found.parts[tag]["inlet_c"], found.parts[tag]["outlet_c"])
        assert told == pytest.approx((goes, comes) if turned else (comes, goes), abs=1e-6), tag
    assert (found.parts["B"]["inlet_c"], found.parts["B"]["outlet_c"]) == pytest.approx((after_f, 80.0), abs=1e-6)
    assert (found.parts["P"]["inlet_c"], found.parts["P"]["outlet_c"]) == pytest.approx((80.0, 80.0), abs=1e-6)
    assert [found.heat.heat_kw[tag] for tag in "BEF"] == pytest.approx([50.0, 20.0, 30.0])
    if cut:
        assert found.nodes["M"]["temperature_c"] == pytest.approx(after_e, abs=1e-6)
    assert (found.nodes["A"]["temperature_c"], found.nodes["Z"]["temperature_c"]) == pytest.approx((80.0, after_f), abs=1e-6)


@pytest.mark.parametrize(("first", "second", "load", "wanted"), [
    ((500.0, 60.0), (500.0, 80.0), 200.0, ("rest", "rise")),       # the first lifts to 60 °C, the second to 80 °C
    ((500.0, 80.0), (500.0, 60.0), 200.0, (200.0, 0.0)),           # the second finds its water hot enough
    ((50.0, 80.0), (500.0, 80.0), 200.0, (50.0, 150.0)),           # the first gives all it has
    ((50.0, 80.0), (60.0, 80.0), 200.0, (50.0, 60.0))], ids=map(str, count()))
def test_boilers_in_a_row_share_as_their_setpoints_say(first: tuple[float, float], second: tuple[float, float], load: float,
                                                       wanted: tuple[float | str, float | str]) -> None:
    """Each lifts what comes in to its own setpoint, with what it has; none cools what is hotter."""
    boilers = [Part(tag, "boiler", {"output_kw": kw, "setpoint_c": c}) for tag, (kw, c) in (("B", first), ("C", second))]
    emitter = Part("E", "emitter", {"load_kw": 200.0, "supply_c": 60.0, "return_c": 40.0})
    found = solve(ring(*boilers, P, emitter), State(load={"E": load}))
    rise = 20.0 * capacity(found, "B")
    values = {"rise": rise, "rest": load - rise}
    assert (found.heat.heat_kw["B"], found.heat.heat_kw["C"]) == pytest.approx(tuple(values.get(w, w) for w in wanted))  # type: ignore
    assert found.heat.heat_kw["E"] == pytest.approx(found.heat.heat_kw["B"] + found.heat.heat_kw["C"])
    every = heats(sweep(Prepared(found.plant), speed={"P": [1.0, 1.0]}), load={"E": [load, load / 2]})
    assert [every.kw[tag][0] for tag in "BCE"] == pytest.approx([found.heat.heat_kw[tag] for tag in "BCE"], rel=1e-6)
    assert every.inlet_c["E"][0] == pytest.approx(found.parts["E"]["inlet_c"], abs=1e-5)


# -- what fires --------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("state", "fires"), [
    (State(), True), (State(idle="B"), False), (State(off="P"), False), (State(speed={"P": 0.0}), False),
    (State(speed={"P": 0.3}), True), (State(off="R"), True), (State(off=["P", "R"]), False),
    (State(off="P", speed={"R": 0.0}), False), (State(speed={"P": 0.0, "R": 0.5}), True)], ids=map(str, count()))
def test_a_burner_fires_when_a_pump_of_its_own_moves_its_water(state: State, fires: bool) -> None:
    """One of its pumps is enough; another loop's pump that pushes water through it is not. Common practice: flow is proved."""
    own = [P, Part("R", "pump", {"shutoff_m": 5.0})] if "R" in (*state.off, *state.speed) else [P]
    parts = {p.tag: p for p in (Part("B", "boiler"), *own, Part("E", "emitter"), Part("Q", "pump"), Part("A", "tee"),
                                Part("Z", "tee"))}
    runs = (Run(("Z", "B", *(p.tag for p in own), "A"), 5.0, "NPS 1-1/2"), Run(("A", "Q", "E", "Z"), 9.0, "NPS 1-1/2"),
            Run(("A", "Z"), 0.2, "NPS 2"))
    found = solve(Plant("fires", parts, runs), state)
    assert (found.heat.heat_kw["B"] > 1.0) == fires
    batch = heats(sweep(found.flow.prepared, state), idle={"B": ["B" in state.idle]}).kw["B"][0]
    assert batch == pytest.approx(found.heat.heat_kw["B"], abs=1e-3)


def test_a_burner_does_not_fire_into_water_that_comes_backwards() -> None:
    """Nor into still water."""
    found = solve(ring(Part("B", "boiler"), Part("P", "pump", {"reversed": True}), Part("E", "emitter")))
    assert found.lps("B") < -0.5 and found.heat.heat_kw == {"B": 0.0, "E": 0.0}
    assert heats(sweep(found.flow.prepared)).kw["B"] == [0.0]


# -- surfaces ----------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("setpoint", "tank", "back", "supply", "expected"), [
    (80.0, 60.0, 65.0, 80.0, 65.0),       # as the plant is laid out
    (76.0, 60.0, 50.0, 76.0, 64.0),       # a return below the store: a quarter of the way up from it
    (76.0, 60.0, 76.0, 76.0, 64.0),       # a return no colder than the supply
    (76.0, 60.0, 61.0, 76.0, 64.0),       # only a kelvin above the store
    (76.0, 60.0, 61.1, 76.0, 61.1),
    (61.0, 60.0, 65.0, 80.0, 65.0),       # a setpoint that is no hotter than the store: 20 K above it
    (61.1, 60.0, 65.0, 61.1, 60.275),
    (50.0, 60.0, 50.0, 80.0, 65.0)], ids=map(str, count()))
def test_a_coils_design_temperatures(setpoint: float, tank: float, back: float, supply: float, expected: float) -> None:
    """By hand from the rule in the docstring."""
    design = Design(dhw_setpoint_c=setpoint, tank_c=tank, return_c=back)
    plant = Plant("coil", {"T": Part("T", "indirect tank", {"coil_kw": 30.0})}, (), design)
    assert coil_temperatures_c(plant) == pytest.approx((supply, expected))
    share = (supply - expected) / (supply - tank)
    assert load_of(plant, "T").ua_kw_per_k == pytest.approx(-math.log(1.0 - share) * 30.0 / (supply - expected))


def test_a_heat_exchanger_gives_to_a_store_or_to_a_room() -> None:
    """By what it serves; what it wants is its design load unless said, its surface stays that of the design."""
    parts = {"X": Part("X", "heat exchanger", {"load_kw": 40.0, "supply_c": 80.0, "return_c": 70.0, "serves": "DHW"}),
             "Y": Part("Y", "heat exchanger", {"load_kw": 40.0, "supply_c": 80.0, "return_c": 70.0, "serves": "heating"})}
    plant = Plant("exchangers", parts, (), Design(room_c=18.0, tank_c=55.0))
    store, room = load_of(plant, "X"), load_of(plant, "Y", 5.0)
    assert (store.wanted_kw, store.sink_c, room.wanted_kw, room.sink_c) == (40.0, 55.0, 5.0, 18.0)
    assert store.ua_kw_per_k == pytest.approx(4.0 * math.log(25.0 / 15.0))
    assert room.ua_kw_per_k == pytest.approx(4.0 * math.log(62.0 / 52.0))


def test_a_surface_is_never_quite_without_end() -> None:
    """A return at the sink's temperature, or below it, would ask for that: 99.9 % of what could be passed is the most."""
    for back in (20.0, 10.0):
        assert conductance_kw_per_k(30.0, 50.0, back, 20.0) == pytest.approx(-math.log(0.001) * 30.0 / (50.0 - back))
    assert conductance_kw_per_k(30.0, 50.0, 20.1, 20.0) == pytest.approx(math.log(30.0 / 0.1) * 30.0 / 29.9)


# -- still water -------------------------------------------------------------------------------------------

def test_water_in_a_shut_branch_has_no_temperature_and_its_load_no_heat() -> None:
    """None for its parts and for the tee between them, where the rest of the plant has its own; in a sweep no number."""
    parts = {p.tag: p for p in (Part("B", "boiler"), P, Part("E", "emitter"), Part("F", "emitter"), Part("V", "isolation valve"),
                                *(Part(tag, "tee") for tag in "AZM"))}
    plant = Plant("still", parts, (Run(("Z", "B", "P", "A"), 5.0, "NPS 1-1/2"), Run(("A", "E", "Z"), 9.0, "NPS 1-1/2"),
                                   Run(("A", "F", "M"), 9.0, "NPS 1"), Run(("M", "V", "Z"), 9.0, "NPS 1")))
    found = solve(plant, State(shut="V"))
    for tag in "FV":
        assert (found.parts[tag]["inlet_c"], found.parts[tag]["outlet_c"]) == (None, None)
    assert found.nodes["M"]["temperature_c"] is None
    assert found.nodes["A"]["temperature_c"] == pytest.approx(80.0)
    assert found.heat.heat_kw["F"] == 0.0 and found.heat.heat_kw["E"] == pytest.approx(50.0)
    every = heats(sweep(Prepared(plant), shut={"V": [True, False]}))
    assert np.isnan(every.inlet_c["F"]).tolist() == [True, False]
    assert every.inlet_c["F"][1] == pytest.approx(80.0)
    assert every.kw["F"][0] == 0.0 < every.kw["F"][1]


def test_water_flows_where_the_temperatures_of_a_plant_are_told() -> None:
    """Of a diverting valve the common port and the one that is open; of a vessel its ports."""
    plant = read_plant(HERE / "tees-diverting-valve.toml")
    found = solve(plant)
    inlet, outlet = found.temperature_c("DV")
    assert inlet == pytest.approx(found.nodes["DV.common"]["temperature_c"]) and outlet == pytest.approx(
        found.nodes["DV.a"]["temperature_c"])
    turned = solve(plant, State(divert="DV"))
    assert turned.temperature_c("DV")[1] == pytest.approx(turned.nodes["DV.b"]["temperature_c"])
    assert turned.nodes["DV.a"]["temperature_c"] is None
    off = solve(plant, State(off=[part.tag for part in plant.of_kind("pump")]))
    assert off.temperature_c("DV") == (None, None)


# -- mixing valves -----------------------------------------------------------------------------------------

def test_a_mixing_valve_is_as_exact_as_it_says() -> None:
    """Within 2 mK; where its water is too cold it stays full hot, and by hand it stays where it is put."""
    for set_c in (30.0, 45.0, 60.0):
        assert solve(mixed_zone(set_c)).parts["E"]["inlet_c"] == pytest.approx(set_c, abs=2e-3)
    full = solve(mixed_zone(90.0))
    assert full.flow.state.position == {"X": 1.0}
    assert full.parts["E"]["inlet_c"] == pytest.approx(solve(mixed_zone(90.0), State(position={"X": 1.0})).parts["E"]["inlet_c"])
    still = solve(mixed_zone(40.0), State(off=["P", "L"]))
    assert still.flow.state.position == {"X": 1.0}


def test_a_mixing_valve_does_not_ask_for_long(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dozen solves at most: the rule keeps its bracket, and stops when it is near enough."""
    asked: list[State] = []
    whole = Prepared.solve
    monkeypatch.setattr(Prepared, "solve", lambda self, state=None, start=None: asked.append(state) or whole(self, state, start))
    for set_c in (25.0, 40.0, 70.0):
        asked.clear()
        solve(mixed_zone(set_c))
        assert 1 < len(asked) <= 12, set_c


def test_two_mixing_valves_settle_together() -> None:
    """On one pump, so that each moves the other's flow; each within 5 mK of its own setting."""
    parts = {p.tag: p for p in (Part("B", "boiler"), P, Part("M", "tee"), Part("N", "tee"))}
    runs = [Run(("N", "B", "P", "M"), 5.0, "NPS 1-1/2")]
    for n, set_c in (("1", 35.0), ("2", 55.0)):
        parts |= {p.tag: p for p in (Part(f"X{n}", "mixing valve", {"set_c": set_c}), Part(f"L{n}", "pump"), Part(f"K{n}", "tee"),
                                     Part(f"E{n}", "emitter", {"load_kw": 15.0, "supply_c": set_c, "return_c": set_c - 8.0}))}
        runs += [Run(("M", f"X{n}.hot"), 2.0, "NPS 1"), Run((f"X{n}.mixed", f"L{n}", f"E{n}", f"K{n}"), 9.0, "NPS 1-1/4"),
                 Run((f"K{n}", f"X{n}.cold"), 1.0, "NPS 1-1/4"), Run((f"K{n}", "N"), 4.0, "NPS 1-1/4")]
    found = solve(Plant("floors", parts, tuple(runs)), State(load={"E1": 30.0}))
    assert (found.parts["E1"]["inlet_c"], found.parts["E2"]["inlet_c"]) == pytest.approx((35.0, 55.0), abs=5e-3)
    shares = found.flow.state.position
    assert 0.0 < shares["X1"] < shares["X2"] < 1.0


# -- sweeps ------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("seed", [2, 6, 13, 21])
def test_heats_of_a_sweep_take_what_the_base_has_set(seed: int) -> None:
    """Loads, setpoints, idle boilers and water of the base, and temperatures that reach the loads, as a single solve has them."""
    plant, prepared = plant_of(seed)
    loads = [tag for tag in plant.parts if plant.is_load(tag)]
    boilers = [part.tag for part in plant.of_kind("boiler")]
    base = State(load={loads[0]: 7.0}, setpoint_c={boilers[0]: 66.0}, idle=boilers[1:], water_c=75.0,
                 position={part.tag: 0.6 for part in plant.of_kind("mixing valve")})
    one = solve(prepared, base)
    many = heats(sweep(prepared, base, speed={part.tag: [1.0, 1.0] for part in plant.of_kind("pump")}))
    for tag, kw in one.heat.heat_kw.items():
        assert many.kw[tag] == pytest.approx([kw, kw], abs=1e-3), tag
    for tag in loads:
        reached = one.parts[tag]["inlet_c"] if one.lps(tag) >= 0.0 else one.parts[tag]["outlet_c"]
        assert many.inlet_c[tag] == pytest.approx([math.nan if reached is None else reached] * 2, abs=1e-3, nan_ok=True)
