"""A day: its energy closes, it does what the steady solver says, and a wrong setting shows in what people get."""

from dataclasses import replace

import numpy as np
import pytest

from figures.physics import solve
from figures.physics.day import DaySettings, day, reset_emitter_c, reset_linear_c
from figures.physics.day_flow import way_of
from figures.physics.operation import Operator, sequence
from figures.plant import parse_plant
from figures.plant.model import Design
from figures.plant.scheme import Scheme
from tests.plants import SAMPLES

COLD = DaySettings(step_s=20.0)
SUMMER = replace(COLD, outdoor_low_c=19.0, outdoor_high_c=28.0)


@pytest.fixture(scope="module")
def on_system() -> Operator:
    return Operator(Scheme(tank="system loop").plant())


@pytest.fixture(scope="module")
def on_boiler() -> Operator:
    return Operator(Scheme(tank="boiler loop").plant())


def test_reset_curves():
    """Facts 10: a straight line, held at both ends (arithmetic), and an emitter's curve (EN 442, n = 1.3)."""
    design = Design(outdoor_c=-18.0, supply_c=80.0, return_c=60.0)
    outdoor = np.array([-25.0, -18.0, -10.0, 0.0, 10.0, 18.0, 25.0])
    assert reset_linear_c(outdoor, design) == pytest.approx([80, 80, 68.889, 55, 41.111, 30, 30], abs=1e-3)
    assert reset_emitter_c(outdoor[1:5], design) == pytest.approx([80, 69.582, 55.780, 40.537], abs=1e-3)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_energy_of_any_plant_closes(path):
    """Burners give what is lost, drawn and kept, whatever the plant; right or wrong, under every configuration."""
    operator = Operator(parse_plant(path.read_text(encoding="utf-8")))
    for configuration in ("heating only", "DHW on the system loop", "DHW on the boiler loop"):
        found = day(operator, configuration, replace(COLD, step_s=60.0))
        assert found.imbalance_share < 1e-6
        taken = sum(found.energy_kwh[tag] for tag in found.load_kw)
        kept_by_boilers = found.energy_kwh["burners"] - taken
        water = sum(float(c.max() - c.min()) for c in found.boiler_c.values())
        assert abs(kept_by_boilers) <= 5.0 * water + 1e-6       # what loads did not take is in the water


@pytest.mark.parametrize("seed", range(12))
def test_a_way_of_running_is_what_the_steady_solver_says(seed):
    """Boiler outlets, stores and rooms at the solver's figures give the solver's heats and the sensor's reading."""
    operator = Operator(Scheme.random(seed).plant())
    plant = operator.plant
    call = "both" if operator.reading.tanks else "heat"
    steps = sequence(operator.jobs, operator.reading, operator.right(call))
    # Loads that want more than they can get take what their surfaces pass, as a day has it.
    loads = [tag for tag in plant.parts if plant.is_load(tag)]
    state = replace(steps.state(plant), load=dict.fromkeys(loads, 1e5))
    found = solve(operator.prepared, state)
    boilers = [part.tag for part in plant.of_kind("boiler")]
    sinks = {tag: len(boilers) + n for n, tag in enumerate(loads)}
    sensor = next((str(p["at"]) for p in plant.of_kind("temperature sensor") if p["role"] == "system supply"), None)
    way = way_of(found.flow, boilers, sinks, len(boilers) + len(loads), sensor)
    outlet = [found.parts[tag]["outlet_c"] for tag in boilers]
    sink = [plant.design.tank_c if plant.is_dhw(tag) else plant.design.room_c for tag in loads]
    x = np.array([20.0 if c is None else c for c in outlet] + sink)
    assert way.load_kw_per_k @ x == pytest.approx([found.heat.heat_kw[tag] for tag in loads], rel=1e-5, abs=1e-4)
    assert -(way.kw_per_k @ x)[:len(boilers)] == pytest.approx([found.heat.heat_kw[tag] for tag in boilers], rel=1e-5, abs=1e-4)
    seen = found.nodes.get(sensor, {}).get("temperature_c") if sensor else None
    if way.sensor is not None and seen is not None:
        assert float(way.sensor @ x) == pytest.approx(seen, abs=1e-4)


def test_a_store_cools_as_its_equation_says():
    """No calls, no draws: exp(−t·UA/C) towards the boiler room, solved by hand."""
    plant = Scheme(tank="system loop").plant()
    found = day(plant, "heating only", replace(SUMMER, dhw_l=0.0, tank_loss_w_per_k=5.0))
    litres = plant.parts["IT"]["volume_l"]
    expected = 20.0 + 40.0 * np.exp(-86400.0 * 5.0 / (litres * 4114.6))      # facts 4: 4114.6 kJ/(m³ K) at 60 °C
    assert found.tank_c["IT"][-1] == pytest.approx(expected, abs=0.02)
    assert set(found.calls) == {""} and found.energy_kwh["burners"] == 0.0


def test_draws_take_the_litres_that_were_asked_for(on_system):
    """1000 L at 45 °C from 10 °C: 40.0 kWh (facts 4)."""
    found = day(on_system, settings=replace(COLD, dhw_l=1000.0))
    assert found.energy_kwh["taps"] == pytest.approx(1000.0 * 4.1146 * 35.0 / 3600.0, rel=5e-3)
    assert float(found.tap_lps.sum()) * COLD.step_s == pytest.approx(1000.0, rel=5e-3)


def test_a_dhw_call_in_summer_shows_what_winter_hides(on_boiler):
    """A tank on the boiler loop set as heating only: in winter it is heated in passing, in summer nobody heats it."""
    winter, summer = (day(on_boiler, "heating only", s) for s in (COLD, SUMMER))
    right = day(on_boiler, settings=SUMMER)
    assert right.minutes_without_hot_water == 0.0
    assert summer.minutes_without_hot_water > 600.0
    assert winter.minutes_without_hot_water < summer.minutes_without_hot_water
    assert sum(summer.starts.values()) == 0 < sum(right.starts.values())


def test_dhw_on_the_boiler_loop_starves_a_tank_on_the_system_loop(on_system):
    """The system pump stops on every DHW call: the tank stays cold, the call never ends, the rooms cool."""
    right, wrong = day(on_system, settings=COLD), day(on_system, "DHW on the boiler loop", COLD)
    assert right.minutes_without_hot_water == 0.0 < wrong.minutes_without_hot_water
    assert wrong.minutes_held > 600.0 and wrong.coldest_room_c < right.coldest_room_c - 2.0
    no_limit = day(on_system, "DHW on the boiler loop", replace(COLD, limit_min=None))
    assert no_limit.coldest_room_c < wrong.coldest_room_c - 1.0
    assert no_limit.energy_kwh["burners"] < wrong.energy_kwh["burners"]


def test_priority_holds_the_heating_off_for_a_while(on_system):
    """With priority the heating waits while a tank is heated, and the tank is back sooner."""
    without, having = (day(on_system, settings=replace(COLD, priority=p)) for p in (False, True))
    assert without.minutes_held == 0.0 < having.minutes_held
    assert having.coldest_room_c < without.coldest_room_c
    assert without.minutes_without_hot_water == having.minutes_without_hot_water == 0.0


def test_a_heat_call_that_lasts_raises_the_target(on_system):
    """With a curve laid too low the rooms stay cold; the boost brings the target up to the design supply, not past it."""
    low = replace(COLD, reset="linear", heat_off_c=4.0)
    without, having = (day(on_system, settings=replace(low, boost_min=m)) for m in (None, 60.0))
    assert np.nanmax(without.target_c[[call == "heat" for call in without.calls]]) < 80.0 - 1.0
    assert np.nanmean(having.room_c["E1"]) > np.nanmean(without.room_c["E1"]) + 0.2
    heating = np.array([call == "heat" for call in having.calls])
    assert np.nanmax(having.target_c[heating]) <= on_system.plant.design.supply_c + 1e-9


def test_a_shorter_step_changes_little(on_system):
    """Steps of 10 s and of 5 s: the heat that was taken within 1 %, starts within a tenth."""
    coarse, fine = (day(on_system, settings=replace(COLD, step_s=step)) for step in (10.0, 5.0))
    taken = [one.energy_kwh["burners"] - one.energy_kwh["kept"] for one in (coarse, fine)]
    assert taken[0] == pytest.approx(taken[1], rel=0.01)
    assert coarse.starts["B1"] == pytest.approx(fine.starts["B1"], rel=0.1)
    assert coarse.room_c["E1"][-1] == pytest.approx(fine.room_c["E1"][-1], abs=0.3)


def test_too_much_drawn_is_told_apart_from_a_wrong_setting(on_system):
    """Rightly set, a draw far past the coil leaves cold taps too, and the reason is another one."""
    much = day(on_system, settings=replace(COLD, dhw_l=15000.0))
    wrong = day(on_system, "DHW on the boiler loop", COLD)
    assert much.minutes_without_hot_water > 0.0
    assert [line for line in much.because if "more was drawn than its coil can heat" in line and line.startswith("IT")]
    assert not any("more was drawn" in line for line in wrong.because)
    assert "system pump" in " ".join(wrong.because)


def test_lag_boilers_come_when_they_are_wanted_and_the_lead_passes_on():
    """Mild: the lead alone. Cold: a lag boiler helps. With rotation the hours even out."""
    operator = Operator(Scheme("single loop", boilers=2, emitters=2, outputs_kw=(60.0, 60.0), loads_kw=(50.0, 50.0)).plant())
    mild = day(operator, settings=replace(COLD, outdoor_low_c=10.0, outdoor_high_c=14.0))
    cold = day(operator, settings=replace(COLD, outdoor_low_c=-12.0, outdoor_high_c=-10.0))
    assert mild.hours_on["B2"] < 0.5 and mild.starts["B1"] > 5
    assert cold.hours_on["B2"] > 6.0 and cold.hours_on["B1"] > 20.0
    turned = day(operator, settings=replace(COLD, outdoor_low_c=10.0, outdoor_high_c=14.0, rotate_h=6.0))
    assert min(turned.hours_on.values()) > 0.5 * max(turned.hours_on.values())


def test_starts_are_counted_off_to_on(on_system):
    """Against a plain loop over the burner's record."""
    found = day(on_system, settings=COLD)
    count, before = 0, False
    for now in found.burner_on["B1"]:
        count += bool(now and not before)
        before = bool(now)
    assert found.starts == {"B1": count} and count > 10
    assert found.hours_on["B1"] * 100.0 == pytest.approx(found.energy_kwh["burners"])


def test_bad_figures_are_told_all_at_once(on_system):
    """One sentence a figure."""
    with pytest.raises(ValueError) as caught:
        day(on_system, settings=DaySettings(step_s=600.0, reset="steep", draws=((9.0, 8.0, 1.0),)))
    assert [line.partition(":")[0] for line in str(caught.value).split("\n")] == ["step_s", "reset", "draws"]


def test_the_day_in_words_counts_what_the_arrays_hold(on_system):
    """Starts, minutes, the coldest room."""
    found = day(on_system, "heating only", COLD)
    words = " ".join(found.says())
    assert f"B1 started {found.starts['B1']} times" in words
    assert f"below 45 °C for {found.minutes_without_hot_water:.0f} min" in words
    assert found.as_dict()["coldest_room_c"] == found.coldest_room_c
