"""Operation: who gets heat under every configuration and call, set rightly and wrongly.

What a control does on a call is common practice, no source; what then flows and heats is solved, not said.
"""

import json
from functools import lru_cache
from pathlib import Path

import pytest

from figures.physics.because import ENOUGH
from figures.physics.operation import ARRANGEMENTS, CALLS, CONFIGURATIONS, Operation, Operator, operate
from figures.plant import read_plant
from figures.plant.scheme import Scheme

FOLDER = Path(__file__).parents[2] / "plants"
SAMPLES = sorted(path.stem for path in FOLDER.glob("*.toml"))
HEATING, SYSTEM, BOILER = CONFIGURATIONS


@lru_cache(maxsize=64)
def operator(name: str | int) -> Operator:
    """A sample plant by name, or a random scheme by seed, ready to be operated."""
    return Operator(Scheme.random(name).plant() if isinstance(name, int) else read_plant(FOLDER / f"{name}.toml"))


def run(name: str | int, configuration: str, call: str, arrangement: str | None = None, boilers: int | None = None,
        priority: bool = False) -> Operation:
    ready = operator(name)
    return ready.operate(ready.setting(configuration, call, arrangement, boilers, priority))


def fed(found: Operation, tag: str) -> bool:
    row = found.load(tag)
    return row.given_kw >= ENOUGH * operator_load(found, tag)


def operator_load(found: Operation, tag: str) -> float:
    return found.solution.plant.load_kw(tag)


# -- one plant of each kind, read by eye -------------------------------------------------------------------

def test_a_heat_call_runs_boiler_and_system_pumps() -> None:
    """And opens the zone valve; the tank's valve stays shut."""
    found = run("tees-tank-on-system", SYSTEM, "heat")
    assert found.sequence.running == ("PB1", "PS")
    assert found.sequence.open == ("ZV1",)
    assert fed(found, "E1")
    assert found.load("IT").still


def test_a_dhw_call_on_the_system_loop_runs_the_system_pump_and_opens_the_tanks_valve() -> None:
    """The zone valve stays shut; the boiler holds the DHW setpoint."""
    found = run("tees-tank-on-system", SYSTEM, "dhw")
    assert found.sequence.running == ("PB1", "PS")
    assert found.sequence.open == ("VT",)
    assert fed(found, "IT")
    assert found.load("E1").still
    assert found.sequence.dhw_setpoint


def test_both_calls_on_the_system_loop_share_the_heat_unless_dhw_has_priority() -> None:
    """100 kW for 135 kW wanted: both go short, or with priority the building waits."""
    shared, first = run("tees-tank-on-system", SYSTEM, "both"), run("tees-tank-on-system", SYSTEM, "both", priority=True)
    assert not fed(shared, "IT")
    assert fed(first, "IT")
    assert first.load("E1").still
    assert "priority" in first.load("E1").because


def test_a_dhw_call_on_the_boiler_loop_stops_the_system_pump() -> None:
    """Tank and boiler pump run: the coil lies beyond the boiler's pump."""
    found = run("tees-tank-on-boiler", BOILER, "dhw")
    assert found.sequence.running == ("PB1", "PT")
    assert fed(found, "IT")
    assert found.load("E1").still


def test_both_calls_on_the_boiler_loop_serve_dhw_first() -> None:
    """Priority always, and the time limit is said."""
    found = run("tees-tank-on-boiler", BOILER, "both")
    assert fed(found, "IT")
    assert found.load("E1").still
    assert any("time limit" in line for line in found.warnings)


@pytest.mark.parametrize("call", ["dhw", "both"])
def test_a_tank_on_the_system_loop_told_to_be_on_the_boiler_loop_stays_cold(call: str) -> None:
    """The system pump that it needs is stopped: a trickle at most, and both the tank and the building go without."""
    found = run("tees-tank-on-system", BOILER, call)
    assert "PS" not in found.sequence.running
    row = found.load("IT")
    assert row.given_kw < 0.12 * 60.0
    assert abs(row.share) < 0.12
    assert "PS stands still" in row.because
    assert found.load("E1").given_kw < 1.0


def test_a_tank_on_the_boiler_loop_told_to_be_on_the_system_loop_shares_with_the_building() -> None:
    """The system pump runs, priority is gone: with both calls the tank gets less than alone."""
    alone, both = run("tees-tank-on-boiler", BOILER, "both"), run("tees-tank-on-boiler", SYSTEM, "both")
    assert "PS" in both.sequence.running
    assert both.load("IT").given_kw < 0.8 * alone.load("IT").given_kw
    assert both.load("E1").given_kw > 40.0


@pytest.mark.parametrize("name", ["tees-tank-on-system", "tees-tank-on-boiler", "separator-zone-pumps",
                                  "single-loop-two-boilers-tank", "tees-diverting-valve"])
def test_heating_only_leaves_the_tank_cold(name: str) -> None:
    """Nothing runs on a DHW call; with both calls the building is heated as ever."""
    alone, both = run(name, HEATING, "dhw"), run(name, HEATING, "both")
    assert alone.sequence.running == () and alone.sequence.firing == ()
    assert alone.load("IT").still
    assert "knows no tank" in alone.load("IT").because
    assert not fed(both, "IT")
    assert all(row.given_kw > 0.8 * row.wanted_kw for row in both.loads if row.part.startswith("E"))


def test_a_diverting_valve_turns_to_the_tank() -> None:
    """On a DHW call only; the tank gets its heat by the boiler's pump."""
    assert run("tees-diverting-valve", BOILER, "heat").sequence.diverted == ()
    found = run("tees-diverting-valve", BOILER, "dhw")
    assert found.sequence.diverted == ("DV",)
    assert found.sequence.running == ("PB1",)
    assert fed(found, "IT")


def test_on_a_single_loop_the_boilers_valve_opens() -> None:
    """Of those boilers that fire, the lead first; the others' valves are shut."""
    found = run("single-loop-four-boilers", HEATING, "heat", boilers=2)
    assert found.sequence.firing == ("B2", "B1")
    assert found.sequence.open == ("MV1", "MV2", "ZV1", "ZV2")
    assert found.solution.lps("B3") == 0.0


def test_separated_loops_set_as_a_single_loop_leave_the_boiler_without_its_pump() -> None:
    """No boiler pump, no flow proved, no heat: the system pump only stirs cold water."""
    found = run("tees-one-boiler", HEATING, "heat", "single loop")
    assert found.sequence.running == ("PS",)
    assert found.load("E1").given_kw < 0.1
    assert not found.load("E1").still
    assert "works no boiler pump" in found.load("E1").because


def test_a_single_loop_set_as_separated_loops_leaves_valves_without_power() -> None:
    """Valves that spring open let water through every boiler; those that spring shut let none fire."""
    springs_open = run("single-loop-two-boilers-tank", SYSTEM, "heat", "separated loops", boilers=1)
    assert {"MV1", "MV2"} <= set(springs_open.sequence.open)
    assert springs_open.solution.lps("B2") > 0.3
    springs_shut = run("single-loop-valves-fail-closed", SYSTEM, "heat", "separated loops")
    assert springs_shut.load("E1").given_kw < 0.1


def test_zone_pumps_of_loads_that_have_not_called_stay_off() -> None:
    """On a DHW call only the tank's pump and the boilers' run."""
    assert run("separator-zone-pumps", SYSTEM, "dhw").sequence.running == ("PB1", "PB2", "PT")
    assert run("separator-zone-pumps", SYSTEM, "both", priority=True).sequence.running == ("PB1", "PB2", "PT")


def test_a_shared_boiler_loop_pump_runs_for_every_call() -> None:
    """Boilers with valves and one pump between them."""
    assert run("tees-per-load", BOILER, "dhw").sequence.running == ("PR", "PT")
    assert run("tees-per-load", BOILER, "heat").sequence.running == ("PR", "PS")


def test_a_tank_that_a_check_valve_alone_guards_is_heated_uncalled() -> None:
    """In parallel with the loads of the system pump a check valve does not stop it: ghost flow."""
    row = run("tees-tank-check-valve-only", SYSTEM, "heat").load("IT")
    assert row.wanted_kw == 0.0
    assert row.given_kw > 5.0
    assert "CT gives way to water that is pushed forwards" in row.because


def test_a_tank_pump_that_draws_through_the_boiler_by_itself_needs_no_boiler_pump() -> None:
    """The coil's branch leaves before the boiler's pump and comes back behind it."""
    from figures.plant import Part, Plant, Run
    parts = {part.tag: part for part in (
        Part("B", "boiler"), Part("PB", "pump"), Part("PT", "pump"), Part("CB", "check valve"), Part("CT", "check valve"),
        Part("T", "indirect tank"), Part("PS", "pump"), Part("E", "emitter"), Part("D", "tee"), Part("R", "tee"),
        Part("A", "tee"), Part("Z", "tee"))}
    plant = Plant("draws", parts, (
        Run(("R", "B", "D"), 3.0, "NPS 1-1/2"), Run(("D", "PB", "CB", "A"), 3.0, "NPS 1-1/2"), Run(("A", "Z"), 0.1, "NPS 2"),
        Run(("Z", "R"), 3.0, "NPS 1-1/2"), Run(("D", "PT", "CT", "T", "R"), 5.0, "NPS 1-1/4"),
        Run(("A", "PS", "E", "Z"), 20.0, "NPS 1-1/2")))
    found = operate(plant, BOILER, "dhw")
    assert found.sequence.running == ("PT",)
    assert found.load("T").given_kw > 50.0
    assert found.solution.heat.heat_kw["B"] > 50.0


# -- every plant -------------------------------------------------------------------------------------------

@pytest.mark.parametrize("name", SAMPLES)
def test_every_setting_of_every_sample_can_be_operated_and_printed(name: str) -> None:
    """All configurations, arrangements and calls; the JSON has the design's keys and no NaN."""
    for configuration in CONFIGURATIONS:
        for arrangement in ARRANGEMENTS:
            for call in CALLS:
                found = run(name, configuration, call, arrangement)
                text = json.loads(json.dumps(found.as_dict(), allow_nan=False))
                assert {"configuration", "arrangement", "call", "running", "open", "loads", "solve", "warnings"} <= set(text)
                for row in text["loads"]:
                    assert set(row) == {"part", "wanted_kw", "given_kw", "flow_lps", "still", "because"}
                    assert row["because"].endswith(".") and len(row["because"]) > 10


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("call", ["heat", "dhw"])
def test_a_sound_plant_rightly_set_moves_water_through_what_called_and_through_nothing_else(seed: int, call: str) -> None:
    """Called loads flow as they are meant to; others are still, or get a trickle that a boiler pump pushes through a
    check valve on the boiler loop."""
    ready = operator(seed)
    found = ready.operate(ready.right(call))                                       # type: ignore[arg-type]
    for row in found.loads:
        if row.wanted_kw:
            assert row.share > 0.95, row
            assert row.given_kw > 0.4 * row.wanted_kw, row
        else:
            assert abs(row.share) < 0.2, row


@pytest.mark.parametrize("seed", range(60))
def test_no_load_is_fed_by_a_control_that_knows_of_none(seed: int) -> None:
    """With heating only, a DHW call runs nothing at all, so nothing moves."""
    found = run(seed, HEATING, "dhw")
    assert found.sequence.running == ()
    assert all(row.still and abs(row.given_kw) < 1e-6 for row in found.loads)


@pytest.mark.parametrize("seed", range(40))
def test_a_tank_on_the_system_loop_needs_the_system_pump(seed: int) -> None:
    """Told to be on the boiler loop, every tank whose way meets a system pump is left with little: a
    trickle, or what a vessel too small for the boilers' flow pushes over."""
    ready = operator(seed)
    if ready.reading.control == SYSTEM:
        found = run(seed, BOILER, "dhw")
        for tag in ready.reading.tanks:
            needs = [p for p in ready.jobs.with_job("system") if tag in ready.jobs.serves[p]]
            assert (abs(found.load(tag).share) < 0.35) if needs else found.load(tag).share > 0.5


def test_all_that_is_wrong_with_a_setting_is_told_at_once() -> None:
    """One line for each."""
    with pytest.raises(ValueError) as wrong:
        operator("tees-one-boiler").setting("cooling", "cold", "two loops", 7)
    assert len(str(wrong.value).splitlines()) == 4


def test_fewer_boilers_fire_when_fewer_are_asked_for() -> None:
    """The lead first, then the others in the order of the file; idle boilers give nothing."""
    found = run("tees-direct-return", HEATING, "heat", boilers=1)
    assert found.sequence.firing == ("B3",)
    assert found.sequence.running == ("PB3", "PS")
    assert found.solution.heat.heat_kw["B1"] == 0.0
    assert "gives all it can" in found.load("E1").because
