"""What the control does through a day, step by step, and what the masses do: read off the arrays, and by hand."""

import math
from dataclasses import replace
from itertools import groupby

import numpy as np
import pytest

from figures.physics.day import Day, DaySettings, day
from figures.physics.operation import Operator
from figures.plant import Part, Plant, Run
from figures.plant.model import Design
from figures.plant.scheme import Scheme

MINUTE = DaySettings(step_s=60.0, boost_min=None)
KJ_PER_L_K = 4.1146                          # water at 60 °C: IAPWS-95


@pytest.fixture(scope="module")
def single() -> Operator:
    """One boiler, one room, no tank."""
    return Operator(Scheme("single loop").plant())


@pytest.fixture(scope="module")
def on_system() -> Operator:
    return Operator(Scheme(tank="system loop").plant())


def runs_of(flags: np.ndarray, step_s: float = 60.0) -> list[tuple[bool, float]]:
    """Minutes for which each flag stood, one after the other."""
    return [(bool(flag), len(list(group)) * step_s / 60.0) for flag, group in groupby(flags)]


# -- calls -------------------------------------------------------------------------------------------------

@pytest.mark.parametrize("settings", [MINUTE, replace(MINUTE, room_band_k=1.0, heat_off_c=0.0, room_c=18.0)], ids=["a", "b"])
def test_the_thermostat_holds_the_room_within_half_its_band(single: Operator, settings: DaySettings) -> None:
    """It calls below set − half, until set + half is reached; never when it is warm outdoors."""
    found = day(single, settings=settings)
    room = np.mean(list(found.room_c.values()), axis=0)
    wanted = 20.0 if settings.room_c is None else settings.room_c
    half = settings.room_band_k / 2.0
    for n in range(1, len(room)):
        warm_enough = wanted + half if found.calls[n - 1] else wanted - half
        assert bool(found.calls[n]) == (found.outdoor_c[n] < settings.heat_off_c and room[n - 1] < warm_enough), n
    assert set(found.calls) == {"", "heat"}


@pytest.mark.parametrize(("band_k", "set_c"), [(6.0, None), (12.0, 55.0)])
def test_a_store_calls_a_band_below_its_setting_and_until_it_is_there(on_system: Operator, band_k: float,
                                                                      set_c: float | None) -> None:
    """60 °C is the plant's own setting."""
    found = day(on_system, settings=replace(MINUTE, tank_band_k=band_k, tank_set_c=set_c))
    wanted = 60.0 if set_c is None else set_c
    calls = [call in ("dhw", "both") for call in found.calls]
    for n in range(1, len(calls)):
        assert calls[n] == (found.tank_c["IT"][n - 1] < wanted - (0.0 if calls[n - 1] else band_k)), n
    assert {"", "heat", "dhw", "both"} >= set(found.calls) > {"", "heat"}


@pytest.mark.parametrize("reset", ["emitter", "linear"])
def test_the_target_is_the_curve_or_for_dhw_its_setpoint_at_least(on_system: Operator, reset: str) -> None:
    """The DHW setpoint of 80 °C lies above every curve here; nothing is asked for where nothing is called."""
    found = day(on_system, settings=replace(MINUTE, reset=reset))
    curve = found.settings.target_c(found.outdoor_c, found.plant.design)
    for n, call in enumerate(found.calls):
        if call == "":
            assert np.isnan(found.target_c[n]) and np.isnan(found.supply_c[n]) and not found.burner_on["B1"][n]
        else:
            assert found.target_c[n] == pytest.approx(curve[n] if call == "heat" else max(curve[n], 80.0))


def test_the_target_of_dhw_with_the_heating_held_is_its_setpoint_alone() -> None:
    """A curve above the DHW setpoint counts only where the heating is served too."""
    plant = Scheme(tank="system loop", supply_c=90.0).plant()
    plant = replace(plant, design=replace(plant.design, dhw_setpoint_c=70.0))
    for first in (True, False):
        found = day(plant, settings=replace(MINUTE, reset="none", priority=first))
        both = np.array([call == "both" for call in found.calls])
        assert both.any() and (found.held == (both & first)).all()
        assert found.target_c[both] == pytest.approx(70.0 if first else 90.0)


def test_a_heat_call_that_lasts_raises_the_target_by_and_by() -> None:
    """After an hour by 10 K an hour, or after half an hour by 20 K, up to the design supply and no further."""
    plant = Scheme("single loop", outputs_kw=(20.0,), loads_kw=(85.0,)).plant()            # never warm enough
    base = replace(MINUTE, reset="linear", outdoor_low_c=0.0, outdoor_high_c=0.0)
    low = 30.0 + (80.0 - 30.0) * 18.0 / (18.0 - plant.design.outdoor_c)
    for boost_min, per_h in ((60.0, 10.0), (30.0, 20.0)):
        found = day(plant, settings=replace(base, boost_min=boost_min, boost_k_per_h=per_h))
        called = np.flatnonzero([call == "heat" for call in found.calls])
        first = int(called[0])
        assert list(called) == list(range(first, len(found.calls)))
        hours = found.hour[first:] - found.hour[first] + 1.0 / 60.0
        expected = np.minimum(low + np.maximum(hours - boost_min / 60.0, 0.0) * per_h, 80.0)
        assert found.target_c[first:] == pytest.approx(expected, abs=1e-6)
    assert np.nanmax(day(plant, settings=base).target_c) == pytest.approx(low)


# -- DHW first, and turns ----------------------------------------------------------------------------------

@pytest.mark.parametrize(("limit", "turn"), [(60.0, 30.0), (20.0, 10.0), (None, 30.0)])
def test_dhw_may_hold_the_heating_off_no_longer_than_its_limit(on_system: Operator, limit: float | None, turn: float) -> None:
    """Set wrongly, the store stays cold and the call never ends: heating gets its turns, as long as they are set."""
    settings = replace(MINUTE, limit_min=limit, turn_min=turn, tank_start_c=20.0, room_c=30.0, dhw_l=9000.0,
                       draws=((0.0, 24.0, 1.0),))
    found = day(on_system, "DHW on the boiler loop", settings)
    periods = runs_of(found.held)
    if limit is None:
        assert len(periods) <= 2 and periods[-1][0] and periods[-1][1] > 1200.0
        assert found.minutes_held == sum(minutes for held, minutes in periods if held)
        return
    assert len(periods) > 8
    assert {minutes for held, minutes in periods[1:-1] if held} == {limit}
    assert {minutes for held, minutes in periods[1:-1] if not held} == {turn}
    began = int(np.argmax(found.held))
    assert {call for call, held in zip(found.calls[began:], found.held[began:]) if not held} == {"heat"}
    assert found.minutes_held == float(found.held.sum())


def test_a_diverting_valve_holds_the_heating_off_without_being_told() -> None:
    """It stands at the tank: DHW first, as the reading says, whatever `priority` is."""
    found = day(Scheme(tank="boiler loop", tank_by="diverting valve").plant(), settings=MINUTE)
    assert found.minutes_held > 0.0
    single = Scheme("single loop", tank="system loop", tank_by="diverting valve", boilers_by="pump").plant()
    assert day(single, settings=MINUTE).minutes_held > 0.0


def test_a_day_can_be_run_under_a_wrong_arrangement(on_system: Operator) -> None:
    """Separated loops set as a single loop: the control works no boiler pump, so no burner fires and the rooms cool."""
    found = day(on_system, settings=MINUTE, arrangement="single loop")
    assert found.setting.arrangement == "single loop" != day(on_system, settings=MINUTE).setting.arrangement
    assert found.energy_kwh["burners"] == 0.0 and found.coldest_room_c < 15.0


# -- burners -----------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("band_k", "off_min"), [(8.0, 3.0), (4.0, 10.0)])
def test_a_burner_holds_the_target_within_its_band_and_rests(single: Operator, band_k: float, off_min: float) -> None:
    """Off above target + half a band, on below target − half, as it was between, when a call begins too; off for the least
    time in any case."""
    found = day(single, settings=replace(MINUTE, step_s=20.0, band_k=band_k, off_min=off_min))
    on, off_s = found.burner_on["B1"], off_min * 60.0
    for n in range(1, len(on)):
        off_s = 0.0 if on[n - 1] else off_s + 20.0
        if not found.calls[n] or found.supply_c[n] > found.target_c[n] + band_k / 2.0:
            assert not on[n], n
        elif found.supply_c[n] < found.target_c[n] - band_k / 2.0:
            assert on[n] == (on[n - 1] or off_s >= off_min * 60.0), n
        else:
            assert on[n] == on[n - 1], n
    rests = [minutes for burns, minutes in runs_of(on, 20.0)[1:-1] if not burns]
    assert min(rests) >= off_min and len(rests) > 20


def test_a_boiler_stops_at_its_own_limit_and_rests_until_it_has_cooled() -> None:
    """8 K above setpoint or DHW setpoint, whichever is higher; it may burn again 5 K below that."""
    plant = Scheme("single loop", outputs_kw=(100.0,)).plant()
    parts = {**plant.parts, "B1": replace(plant.parts["B1"], given={**plant.parts["B1"].given, "setpoint_c": 45.0})}
    plant = replace(plant, parts=parts, design=replace(plant.design, dhw_setpoint_c=50.0))
    found = day(plant, settings=replace(MINUTE, step_s=20.0, reset="none", off_min=0.0))
    water, on = found.boiler_c["B1"], found.burner_on["B1"]
    before = np.r_[np.nan, water[:-1]]
    assert (before[on & (found.hour > 1.0)] <= 58.0 + 1e-9).all() and np.nanmax(water[180:]) > 58.0
    starts = np.flatnonzero(on[1:] & ~on[:-1]) + 1
    restarts = starts[found.hour[starts] > 1.0]
    assert len(restarts) > 20
    called = [found.calls[n - 1] == "heat" for n in restarts]
    assert (before[restarts][called] <= 53.0 + 1e-9).all() and before[restarts].max() > 50.0


def test_lag_boilers_are_called_one_by_one_when_the_target_is_missed_long_enough() -> None:
    """After 5 minutes a second, after 10 a third; after 8 where it is set so; no more than may fire."""
    plant = Scheme("single loop", boilers=3, outputs_kw=(5.0, 5.0, 5.0), loads_kw=(90.0,)).plant()
    cold = replace(MINUTE, reset="none", outdoor_low_c=-10.0, outdoor_high_c=-10.0)
    for stage_min, boilers in ((5.0, None), (8.0, 2)):
        found = day(plant, settings=replace(cold, stage_min=stage_min, boilers=boilers))
        many = np.sum(list(found.burner_on.values()), axis=0)
        missed = found.hour[np.flatnonzero(found.supply_c < found.target_c - 4.0)[0]]
        assert many.max() == (boilers or 3)
        for number in range(2, int(many.max()) + 1):
            came = found.hour[np.flatnonzero(many == number)[0]]
            assert (came - missed) * 60.0 == pytest.approx((number - 1) * stage_min, abs=1.01)
        assert [found.hours_on[tag] for tag in ("B1", "B2", "B3")] == sorted(found.hours_on.values(), reverse=True)


def test_the_lead_passes_on_by_the_clock() -> None:
    """Every 4 hours, in the order of the file, and round again; in mild weather nobody else burns."""
    plant = Scheme("single loop", boilers=2, outputs_kw=(60.0, 60.0), loads_kw=(50.0,)).plant()
    found = day(plant, settings=replace(MINUTE, outdoor_low_c=10.0, outdoor_high_c=10.0, rotate_h=4.0))
    for tag, turn in (("B1", 0), ("B2", 1)):
        assert found.hours_on[tag] > 0.3
        burns = found.hour[found.burner_on[tag]]
        assert {int(hour // 4.0) % 2 for hour in burns} == {turn}


# -- masses, and the sums ----------------------------------------------------------------------------------

def test_a_room_cools_as_its_equation_says() -> None:
    """No heat: outdoors + (room − outdoors)·exp(−t/building_h), solved by hand."""
    for hours in (40.0, 10.0):
        settings = replace(MINUTE, heat_off_c=-30.0, outdoor_low_c=-10.0, outdoor_high_c=-10.0, building_h=hours, room_c=22.0)
        found = day(Scheme("single loop", emitters=2).plant(), settings=settings)
        for room in found.room_c.values():
            assert room[-1] == pytest.approx(-10.0 + 32.0 * math.exp(-24.0 / hours), abs=0.03)
        assert found.energy_kwh["burners"] == 0.0 and set(found.calls) == {""}


def exchanger() -> Plant:
    """A boiler, a room and a heat exchanger that serves DHW, each with its own pump, on wide short pipes."""
    parts = {part.tag: part for part in (
        Part("B", "boiler", {"water_l": 80.0, "output_kw": 60.0}), Part("P", "pump"), Part("PT", "pump"), Part("A", "tee"),
        Part("Z", "tee"), Part("E", "emitter", {"load_kw": 40.0}), Part("C", "check valve"), Part("D", "check valve"),
        Part("X", "heat exchanger", {"serves": "DHW", "load_kw": 30.0, "supply_c": 80.0, "return_c": 65.0}))}
    return Plant("exchanger", parts, (Run(("Z", "B", "A"), 2.0, "NPS 1-1/2"), Run(("A", "P", "C", "E", "Z"), 10.0, "NPS 1-1/4"),
                                      Run(("A", "PT", "D", "X", "Z"), 4.0, "NPS 1")), Design(outdoor_c=-12.0, room_c=20.0))


@pytest.fixture(scope="module")
def summed() -> Day:
    return day(exchanger(), settings=replace(MINUTE, dhw_l=900.0, tank_loss_w_per_k=50.0, exchanger_l=150.0, tank_start_c=58.0))


def test_a_day_begins_where_it_is_told_to(summed: Day) -> None:
    """Boilers on the curve, stores and rooms at their figures; within one step of it."""
    curve = summed.settings.target_c(summed.outdoor_c[:1], summed.plant.design)[0]
    assert summed.boiler_c["B"][0] == pytest.approx(curve, abs=12.0)
    assert summed.tank_c["X"][0] == pytest.approx(58.0, abs=0.7)
    assert summed.room_c["E"][0] == pytest.approx(20.0, abs=0.1)
    assert len(summed.hour) == 1440 and summed.hour[-1] == pytest.approx(24.0 - 1.0 / 60.0)
    assert len(day(exchanger(), settings=replace(MINUTE, days=2)).hour) == 2880


def test_the_sums_of_a_day_are_those_of_its_arrays(summed: Day) -> None:
    """By hand from temperatures: walls by load/(room − outdoors), the store's loss, the taps, what is kept; kWh."""
    e, minute_h = summed.energy_kwh, 1.0 / 60.0
    assert e["building"] == pytest.approx(float(np.sum(summed.room_c["E"] - summed.outdoor_c)) * 40.0 / 32.0 * minute_h)
    assert e["tank loss"] == pytest.approx(float(np.sum(summed.tank_c["X"] - 20.0)) * 0.050 * minute_h)
    assert e["burners"] == pytest.approx(float(summed.burner_on["B"].sum()) * 60.0 * minute_h)
    assert summed.firing_kw == pytest.approx(summed.burner_on["B"] * 60.0)
    assert e["E"] == pytest.approx(float(summed.load_kw["E"].sum()) * minute_h)
    assert e["X"] == pytest.approx(float(summed.load_kw["X"].sum()) * minute_h)
    store = np.r_[58.0, summed.tank_c["X"][:-1]]
    taps = summed.tap_lps * KJ_PER_L_K * (np.minimum(store, 45.0) - 10.0)
    assert e["taps"] == pytest.approx(float(taps.sum()) * minute_h, rel=1e-4)
    pipes = math.pi / 4.0 * (0.04094**2 * 2.0 + 0.03508**2 * 10.0 + 0.02664**2 * 4.0) * 1000.0
    start = summed.settings.target_c(summed.outdoor_c[:1], summed.plant.design)[0]
    kept = (80.0 + pipes) * KJ_PER_L_K * (summed.boiler_c["B"][-1] - start)
    kept += 150.0 * KJ_PER_L_K * (summed.tank_c["X"][-1] - 58.0)
    kept += 40.0 / 32.0 * 40.0 * 3600.0 * (summed.room_c["E"][-1] - 20.0)
    assert e["kept"] == pytest.approx(kept / 3600.0, rel=1e-3, abs=0.01)
    assert abs(e["imbalance"]) < 1e-6 * e["burners"]
    left = e["burners"] - e["building"] - e["taps"] - e["tank loss"] - e["kept"]
    assert e["imbalance"] == pytest.approx(left, abs=1e-9)
    assert summed.imbalance_share == pytest.approx(abs(left) / (e["burners"] + e["building"] + e["taps"]), abs=1e-12)


@pytest.mark.parametrize("separation", ["hydraulic separator", "buffer tank"])
def test_each_boiler_holds_its_water_and_a_share_of_that_in_pipes_and_vessels(separation: str) -> None:
    """What the burners gave and the loads did not take is in it: by hand, for two boilers."""
    plant = Scheme(separation=separation, boilers=2).plant()
    found = day(plant, settings=MINUTE)
    shared = sum(math.pi / 4.0 * run.bore.inside_m**2 * run.length_m * 1000.0 for run in plant.runs)
    shared += sum(part.number("volume_l") for part in plant.of_kind(separation))
    start = found.settings.target_c(found.outdoor_c[:1], plant.design)[0]
    kept = sum((plant.parts[tag].number("water_l") + shared / 2.0) * KJ_PER_L_K * (found.boiler_c[tag][-1] - start)
               for tag in ("B1", "B2")) / 3600.0
    assert abs(kept) > 0.5
    assert found.energy_kwh["burners"] - found.energy_kwh["E1"] == pytest.approx(kept, rel=1e-3)


def test_cold_taps_are_those_that_draw_from_a_store_below_the_tap() -> None:
    """Somebody draws, and the store was below 45 °C: both, or it does not count."""
    found = day(exchanger(), "heating only", replace(MINUTE, dhw_l=900.0, exchanger_l=150.0))
    store = np.r_[60.0, found.tank_c["X"][:-1]]
    assert (found.short == ((found.tap_lps > 0.0) & (store < 45.0))).all()
    assert found.minutes_without_hot_water == float(found.short.sum()) > 60.0
    early = replace(MINUTE, dhw_l=900.0, exchanger_l=150.0, draws=((6.0, 7.0, 1.0),))
    assert day(exchanger(), "heating only", early).short.sum() <= 60


def test_the_draw_of_a_day_is_five_times_what_is_stored_unless_said(on_system: Operator) -> None:
    """Litres of 45 °C at the taps."""
    found = day(on_system, settings=MINUTE)
    assert float(found.tap_lps.sum()) * 60.0 == pytest.approx(5.0 * found.plant.parts["IT"].number("volume_l"), rel=1e-3)
    assert not day(Scheme("single loop").plant(), settings=MINUTE).tap_lps.any()


def test_the_supply_is_that_of_the_sensor_or_else_of_the_boilers_mixed(single: Operator) -> None:
    """Without a system-supply sensor the control sees its boilers, each weighed by its flow."""
    plant = Scheme("single loop", boilers=2, sensors=("outdoor",), outputs_kw=(40.0, 40.0), loads_kw=(70.0,)).plant()
    found = day(plant, settings=replace(MINUTE, outdoor_low_c=-10.0, outdoor_high_c=-10.0))
    seen = ~np.isnan(found.supply_c)
    low, high = (f(np.array([np.r_[np.nan, c[:-1]] for c in found.boiler_c.values()]), axis=0) for f in (np.min, np.max))
    inside = (found.supply_c >= low - 1e-6) & (found.supply_c <= high + 1e-6)
    assert inside[seen & (found.hour > 0.1)].all() and seen.any()
    sensed = day(single, settings=MINUTE)
    before = np.r_[np.nan, sensed.boiler_c["B1"][:-1]]
    seen = ~np.isnan(sensed.supply_c) & (sensed.hour > 0.1)
    assert sensed.supply_c[seen] == pytest.approx(before[seen], abs=1e-3)


# -- words -------------------------------------------------------------------------------------------------

def made(tanks: bool = True, rooms: bool = True, minutes: int = 0, on: str = "1101", held: int = 0, step_s: float = 60.0) -> Day:
    """A day made of a few steps, whose figures are plain to see."""
    n = len(on)
    flags = np.array([c == "1" for c in on])
    operator = Operator(Scheme(tank="system loop").plant())
    return Day(operator.plant, operator.right("both"),
               DaySettings(step_s=step_s), np.arange(n) / 60.0, np.zeros(n), np.zeros(n), np.zeros(n), ("",) * n,
               np.arange(n) < held, {"B1": np.zeros(n)}, {"B1": flags}, flags * 100.0,
               {"E1": np.array([19.0, *[20.0] * (n - 1)]), "E2": np.full(n, 18.44)} if rooms else {},
               {"IT": np.array([44.4, *[50.0] * (n - 1)])} if tanks else {}, {}, np.zeros(n), np.arange(n) < minutes,
               {"burners": 123.4, "building": 100.0, "taps": 20.0, "imbalance": -0.5}, ("IT: because.",) if minutes else ())


def test_a_day_in_words() -> None:
    """Every sentence, with its figures."""
    short = "That is short: B1 makes more than was taken and holds little water, so it is soon hot enough."
    found = made(minutes=2, held=3)
    assert found.says() == [
        "B1 started 2 times and ran 0.1 h, 2 min a start.", short,
        "Hot water came below 45 °C for 2 min; the coldest that a tank got is 44 °C.", "IT: because.",
        "For 3 min DHW came first and the heating waited.", "The coldest that a room got is 18.4 °C.",
        "The burners gave 123 kWh to the water."]
    assert made(on="01110", step_s=200.0).says()[:2] == ["B1 started 1 time and ran 0.2 h, 10 min a start.",
                                                          "There was hot water all day; the coldest that a tank got is 44 °C."]
    assert made(tanks=False, rooms=False, on="0000").says() == ["B1 started 0 times and ran 0.0 h.",
                                                                "The burners gave 123 kWh to the water."]
    assert found.starts == {"B1": 2} and found.hours_on == {"B1": pytest.approx(0.05)}
    assert (found.minutes_without_hot_water, found.minutes_held, found.coldest_room_c) == (2.0, 3.0, 18.44)
    assert found.imbalance_share == pytest.approx(0.5 / 243.4)


def test_a_day_in_figures() -> None:
    """What is kept of it, ready for JSON; no room, no coldest one."""
    found = made(minutes=1, held=2)
    assert found.as_dict() == {
        "configuration": "DHW on the system loop", "arrangement": "separated loops", "priority": False, "starts": {"B1": 2},
        "hours_on": {"B1": pytest.approx(0.05)}, "minutes_without_hot_water": 1.0, "minutes_held": 2.0, "coldest_room_c": 18.44,
        "energy_kwh": {"burners": 123.4, "building": 100.0, "taps": 20.0, "imbalance": -0.5}}
    assert made(rooms=False).as_dict()["coldest_room_c"] is None and math.isnan(made(rooms=False).coldest_room_c)
