"""Heat: closed forms, and what must hold in any plant and any state."""

import math

import numpy as np
import pytest
from hypothesis import given, settings

from figures.physics import Prepared, State, heats, solve, sweep, water
from figures.physics.heat import conductance_kw_per_k, load_of
from figures.plant import Part, Plant, Run

from .test_flow import cases, plant_of, ring


@settings(deadline=None, max_examples=150)
@given(cases())
def test_what_boilers_give_is_what_loads_take(case: tuple[Plant, Prepared, State]) -> None:
    """The energy balance closes to 1e-9 of the boilers' heat, in any state."""
    plant, prepared, state = case
    found = solve(prepared, state)
    made = sum(found.heat.heat_kw[part.tag] for part in plant.of_kind("boiler"))
    taken = {tag: kw for tag, kw in found.heat.heat_kw.items() if plant.is_load(tag)}
    turned_over = made + sum(-kw for kw in taken.values() if kw < 0.0)
    assert made - sum(taken.values()) == pytest.approx(0.0, abs=1e-9 * max(turned_over, 1.0))


@settings(deadline=None, max_examples=100)
@given(cases())
def test_heats_stay_within_what_is_possible(case: tuple[Plant, Prepared, State]) -> None:
    """No boiler above its output or above its setpoint, none cools; no load takes more than it wants; nothing is
    hotter than the hottest source or colder than the coldest sink."""
    plant, prepared, state = case
    found = solve(prepared, state)
    sources = [part.number("setpoint_c") for part in plant.of_kind("boiler")]
    hottest = max([*sources, plant.design.tank_c, plant.design.room_c])
    for part in plant.of_kind("boiler"):
        row = found.parts[part.tag]
        assert -1e-9 <= found.heat.heat_kw[part.tag] <= part.number("output_kw") * (1 + 1e-9)
        if row["outlet_c"] is not None and found.heat.heat_kw[part.tag] > 1e-6:
            assert row["outlet_c"] <= part.number("setpoint_c") + 1e-6
    for tag in found.heat.heat_kw:
        if plant.is_load(tag):
            assert found.heat.heat_kw[tag] <= state.load.get(tag, plant.load_kw(tag)) + 1e-6
    for node in found.nodes.values():
        if node["temperature_c"] is not None:
            assert plant.design.room_c - 1e-3 <= node["temperature_c"] <= hottest + 1e-3


@settings(deadline=None, max_examples=60)
@given(cases())
def test_heat_of_a_part_is_its_flow_times_its_rise(case: tuple[Plant, Prepared, State]) -> None:
    """ρ·cp·Q·ΔT, with flow and ends both along the run; a load's is a fall."""
    plant, prepared, state = case
    found = solve(prepared, state)
    per = found.flow.water.heat_kw_per_lps_k
    for tag, kw in found.heat.heat_kw.items():
        row = found.parts[tag]
        if row["inlet_c"] is not None and row["outlet_c"] is not None and row["flow_lps"]:
            rise = per * row["flow_lps"] * (row["outlet_c"] - row["inlet_c"])
            assert (-rise if plant.is_load(tag) else rise) == pytest.approx(kw, abs=1e-6, rel=1e-6)


def separated(boiler_lps: float, system_lps: float, load_kw: float = 60.0, vessel: str = "") -> Plant:
    """One boiler, one emitter, tees or a vessel between; each loop's pump has nearly no slope."""
    def pump(tag: str, lps: float) -> Part:
        return Part(tag, "pump", {"shutoff_m": 5.0, "rated_lps": lps, "rated_m": 0.01})

    parts = {part.tag: part for part in (
        Part("B", "boiler", {"output_kw": 500.0, "kv_m3h": 1e5}), pump("PB", boiler_lps), pump("PS", system_lps),
        Part("E", "emitter", {"load_kw": load_kw, "supply_c": 75.0, "return_c": 55.0, "kv_m3h": 1e5}))}
    if vessel:
        parts["V"] = Part("V", vessel)
        ends = (("V.a_supply", "V.a_return"), ("V.b_supply", "V.b_return"))
    else:
        parts |= {tag: Part(tag, "tee") for tag in ("A", "Z")}
        ends = (("A", "Z"), ("A", "Z"))
    runs = [Run((ends[0][1], "B", "PB", ends[0][0]), 0.1, "NPS 4"), Run((ends[1][0], "PS", "E", ends[1][1]), 0.1, "NPS 4")]
    if not vessel:
        runs.append(Run(("A", "Z"), 0.1, "NPS 4"))
    return Plant("separated", parts, tuple(runs))


@pytest.mark.parametrize("vessel", ["", "hydraulic separator", "buffer tank"])
@pytest.mark.parametrize(("boiler_lps", "system_lps"), [(2.0, 1.5), (1.5, 1.5), (1.5, 2.0), (1.0, 3.0), (3.0, 1.0)])
def test_waters_mix_where_the_loops_meet(vessel: str, boiler_lps: float, system_lps: float) -> None:
    """Perfect mixing, closed form (facts, 'Separation'): surplus boiler water warms the boiler's return, surplus
    system water dilutes the supply. A buffer tank is layered, so it does the same."""
    found = solve(separated(boiler_lps, system_lps, vessel=vessel))
    m_b, m_s = found.lps("B"), found.lps("E")
    t_b, t_s = found.parts["B"]["outlet_c"], found.parts["E"]["inlet_c"]
    t_br, t_r = found.parts["B"]["inlet_c"], found.parts["E"]["outlet_c"]
    assert None not in (t_b, t_s, t_br, t_r)
    assert t_b == pytest.approx(80.0)
    if m_b >= m_s:
        assert t_s == pytest.approx(t_b)
        assert t_br == pytest.approx((m_s * t_r + (m_b - m_s) * t_b) / m_b)      # type: ignore[operator]
    else:
        assert t_s == pytest.approx((m_b * t_b + (m_s - m_b) * t_r) / m_s)       # type: ignore[operator]
        assert t_br == pytest.approx(t_r)
    if vessel:
        assert found.lps("V") == pytest.approx(m_b - m_s, abs=1e-6)


def test_an_emitter_gives_what_its_surface_passes() -> None:
    """m·cp·(T_in − T_room)·(1 − exp(−UA/(m·cp))), UA from 75/65 and a room of 20 °C: by hand 5·ln(55/45) kW/K for 50 kW."""
    plant = ring(Part("B", "boiler", {"setpoint_c": 50.0}), Part("P", "pump"), Part("E", "emitter"))
    found = solve(plant)
    capacity = found.lps("E") * water(60.0).heat_kw_per_lps_k
    by_hand = capacity * (50.0 - 20.0) * (1.0 - math.exp(-5.0 * math.log(55.0 / 45.0) / capacity))
    assert found.heat.heat_kw["E"] == pytest.approx(by_hand, rel=1e-9)


def test_an_emitter_at_its_design_gives_its_design_load() -> None:
    """UA is made so: at design flow and supply the formula returns the load."""
    capacity = 50.0 / 10.0
    ua = conductance_kw_per_k(50.0, 75.0, 65.0, 20.0)
    assert capacity * 55.0 * (1.0 - math.exp(-ua / capacity)) == pytest.approx(50.0)


def test_a_boiler_that_is_too_small_runs_full_and_the_load_goes_short() -> None:
    """Short by exactly what the boiler lacks."""
    plant = ring(Part("B", "boiler", {"output_kw": 30.0}), Part("P", "pump"), Part("E", "emitter", {"load_kw": 50.0}))
    found = solve(plant)
    assert found.heat.heat_kw["B"] == pytest.approx(30.0)
    assert found.heat.heat_kw["E"] == pytest.approx(30.0)


def test_a_store_hotter_than_the_water_heats_it() -> None:
    """Backwards through the coil, into the room."""
    plant = ring(Part("B", "boiler"), Part("P", "pump"), Part("T", "indirect tank"), Part("E", "emitter"))
    found = solve(plant, State(idle="B"))
    assert found.heat.heat_kw["T"] < -1.0
    assert found.heat.heat_kw["E"] == pytest.approx(-found.heat.heat_kw["T"])


def test_a_boiler_whose_only_pump_is_off_gives_no_heat() -> None:
    """Even where another pump pushes water through it."""
    plant = separated(2.0, 1.5)
    assert solve(plant, State(off="PB")).heat.heat_kw["B"] == 0.0


def test_still_water_has_no_temperature() -> None:
    """null, not a guess."""
    plant = ring(Part("B", "boiler"), Part("P", "pump"), Part("V", "isolation valve"), Part("E", "emitter"))
    found = solve(plant, State(shut="V"))
    assert found.parts["E"]["inlet_c"] is None
    assert found.heat.heat_kw == {"B": 0.0, "E": 0.0}


def test_water_that_nothing_heats_or_cools_has_no_temperature_of_its_own() -> None:
    """It circulates, but no part fixes a temperature."""
    plant = ring(Part("B", "boiler"), Part("P", "pump"))
    found = solve(plant, State(idle="B"))
    assert found.lps("P") > 0.5
    assert found.parts["P"]["inlet_c"] is None


def test_a_coil_has_its_design_from_the_dhw_setpoint_and_the_design_return() -> None:
    """80 to 65 °C over a store at 60 °C: by hand UA = 60/15·ln(20/5) kW/K."""
    plant = ring(Part("B", "boiler"), Part("P", "pump"), Part("T", "indirect tank"))
    load = load_of(plant, "T")
    assert (load.wanted_kw, load.sink_c) == (60.0, 60.0)
    assert load.ua_kw_per_k == pytest.approx(4.0 * math.log(4.0))


def test_a_cold_return_to_a_boiler_that_cannot_condense_is_said() -> None:
    """And not said of one that can."""
    def words(condensing: bool) -> str:
        boiler = Part("B", "boiler", {"output_kw": 20.0, "condensing": condensing})
        return " ".join(solve(ring(boiler, Part("P", "pump"), Part("E", "emitter"))).warnings)
    assert "B: its return is" in words(False)
    assert "its return is" not in words(True)


def mixed_zone(set_c: float) -> Plant:
    """A heated floor behind a thermostatic mixing valve with a pump of its own."""
    parts = {part.tag: part for part in (
        Part("B", "boiler"), Part("P", "pump"), Part("L", "pump"), Part("X", "mixing valve", {"set_c": set_c}),
        Part("E", "emitter", {"load_kw": 20.0, "supply_c": 40.0, "return_c": 32.0}), Part("F", "emitter"),
        Part("M", "tee"), Part("N", "tee"), Part("K", "tee"))}
    return Plant("floor", parts, (
        Run(("N", "B", "P", "M"), 5.0, "NPS 1-1/2"), Run(("M", "F", "N"), 20.0, "NPS 1-1/4"),
        Run(("M", "X.hot"), 1.0, "NPS 1-1/4"), Run(("X.mixed", "L", "E", "K"), 10.0, "NPS 1-1/4"),
        Run(("K", "X.cold"), 1.0, "NPS 1-1/4"), Run(("K", "N"), 5.0, "NPS 1-1/4")))


@pytest.mark.parametrize("set_c", [35.0, 40.0, 50.0])
def test_a_mixing_valve_finds_the_share_that_gives_its_temperature(set_c: float) -> None:
    """Within 0.05 K, while the zone takes what the mixed water gives."""
    assert solve(mixed_zone(set_c)).parts["E"]["inlet_c"] == pytest.approx(set_c, abs=0.05)


def test_a_mixing_valve_held_by_hand_stays_where_it_is() -> None:
    """Full hot: the boiler's temperature comes through."""
    assert solve(mixed_zone(40.0), State(position={"X": 1.0})).parts["E"]["inlet_c"] == pytest.approx(80.0, abs=0.1)


@pytest.mark.parametrize("seed", range(30))
def test_heats_of_a_sweep_are_those_of_single_solves(seed: int) -> None:
    """Ten scenarios at once against one after the other: speeds, pumps off, loads, setpoints, idle boilers."""
    plant, prepared = plant_of(seed)
    chance, many = np.random.default_rng(seed), 10
    pumps = [part.tag for part in plant.of_kind("pump")]
    boilers = [part.tag for part in plant.of_kind("boiler")]
    speed = {tag: chance.uniform(0.3, 1.1, many) for tag in pumps}
    off = {tag: chance.random(many) < 0.2 for tag in pumps}
    load = {tag: chance.uniform(0.0, 200.0, many) for tag in plant.parts if plant.is_load(tag)}
    setpoint = {tag: chance.uniform(45.0, 90.0, many) for tag in boilers}
    idle = {tag: chance.random(many) < 0.3 for tag in boilers}
    base = State(position={part.tag: 0.4 for part in plant.of_kind("mixing valve")})
    found = heats(sweep(prepared, base, speed=speed, off=off), load=load, setpoint_c=setpoint, idle=idle)
    for n in range(many):
        one = solve(prepared, State(
            off=[tag for tag in pumps if off[tag][n]], idle=[tag for tag in boilers if idle[tag][n]],
            speed={tag: float(v[n]) for tag, v in speed.items()}, load={tag: float(v[n]) for tag, v in load.items()},
            setpoint_c={tag: float(v[n]) for tag, v in setpoint.items()}, position=base.position))
        for tag, kw in one.heat.heat_kw.items():
            assert found.kw[tag][n] == pytest.approx(kw, abs=1e-3), (n, tag)
    made = sum(found.kw[tag] for tag in boilers)
    taken = sum(found.kw[tag] for tag in load)
    turned_over = made + sum(np.maximum(-found.kw[tag], 0.0) for tag in load)
    assert np.abs(made - taken).max() < 1e-9 * max(1.0, float(np.max(turned_over)))
