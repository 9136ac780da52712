"""What is told of an operation: who gets heat and why, warnings, what comes afterwards, what is refused."""

from dataclasses import replace
from itertools import count

import pytest

from figures.physics import State, solve
from figures.physics.because import share_words
from figures.physics.operation import CALLS, CONFIGURATIONS, Operator, operate
from figures.plant import Part, Plant, Run
from figures.plant.scheme import Scheme

from .test_operation import operator, run

HEATING, SYSTEM, BOILER = CONFIGURATIONS
SINGLE, SEPARATED = "single loop", "separated loops"

# Plant, configuration, arrangement set, call, with priority, load: why it fares as it does.
WHY = [
    ("tees-tank-on-system", SYSTEM, SEPARATED, "dhw", False, "IT", "It gets the heat it wants: PB1 and PS run and VT is open."),
    ("tees-tank-on-system", SYSTEM, SEPARATED, "heat", False, "E1", "It gets the heat it wants: PB1 and PS run and ZV1 is open."),
    ("tees-diverting-valve", HEATING, SEPARATED, "heat", False, "E1",
     "It gets the heat it wants: PB1 and PS run and ZV1 is open and DV stands at its port."),
    ("tees-diverting-valve", BOILER, SEPARATED, "dhw", False, "IT",
     "It gets the heat it wants: PB1 runs and DV stands at its port."),
    ("tees-tank-on-system", SYSTEM, SEPARATED, "heat", False, "IT", "It has not called: VT is shut."),
    ("tees-diverting-valve", HEATING, SEPARATED, "heat", False, "IT", "It has not called: DV stands at the other port."),
    ("tees-tank-on-boiler", BOILER, SEPARATED, "heat", False, "IT",
     "It has not called and PT is off, yet a trickle passes it (0.10 L/s, 8.1 kW): "
     "CT gives way to water that is pushed forwards."),
    ("tees-many-findings", HEATING, SEPARATED, "heat", False, "IT",
     "It has not called and PT is off, yet water passes it (0.21 L/s, 17.2 kW): nothing closes its branch."),
    ("tees-many-findings", HEATING, SINGLE, "heat", False, "IT",
     "It has not called and PT is off, yet a trickle passes it backwards (-0.03 L/s, -4.8 kW): nothing closes its branch."),
    ("tees-tank-on-boiler", BOILER, SEPARATED, "both", False, "E1",
     "DHW comes first: it is held off until the tank is satisfied."),
    ("tees-tank-on-system", SYSTEM, SEPARATED, "both", True, "E1",
     "DHW has priority: it is held off until the tank is satisfied."),
    (31, BOILER, SEPARATED, "both", False, "E1",
     "DHW comes first, but nothing can close it: a trickle passes it (0.20 L/s, 44.3 kW)."),
    (27, BOILER, SEPARATED, "both", False, "E1",
     "DHW comes first: it is held off until the tank is satisfied; a trickle passes it (0.02 L/s, 4.4 kW)."),
    (31, SYSTEM, SEPARATED, "dhw", False, "E1",
     "It has not called, yet water passes it (12.99 L/s, 698.2 kW): the control has nothing that can close it."),
    ("tees-diverting-valve", SYSTEM, SEPARATED, "both", False, "E1",
     "DV stands at the other port, so no boiler's water comes to it: water passes it (1.75 L/s, 0.0 kW)."),
    (13, SYSTEM, SEPARATED, "both", False, "E1", "DV stands at the other port: no water moves through it."),
    ("single-loop-two-boilers-tank", BOILER, SINGLE, "dhw", False, "IT",
     "PS stands still: no water moves through it. "
     "Told that the tank is on the boiler loop, the control stops the system pump on a DHW call."),
    ("single-loop-valves-fail-closed", BOILER, SEPARATED, "dhw", False, "IT",
     "PS stands still and MV1 and MV2 are shut: no water moves through it. "
     "Set as separated loops, the control works no boiler valve."),
    ("tees-per-load", HEATING, SINGLE, "heat", False, "E1",
     "PR stands still: water comes to it at 27 °C only as others push it, and it gets 17 of 150 kW. "
     "Set as single loop, the control works no boiler pump."),
    ("tanks-on-both", BOILER, SEPARATED, "dhw", False, "IT2", "PS stands still: a trickle passes it (0.03 L/s, 2.5 kW)."),
    ("tees-no-relief-pump-reversed", BOILER, SEPARATED, "dhw", False, "IT",
     "PS stands still: a trickle passes it backwards (0.02 L/s, 1.9 kW). "
     "Told that the tank is on the boiler loop, the control stops the system pump on a DHW call."),
    ("separator-two-boilers-tank", SYSTEM, SEPARATED, "both", False, "E1",
     "B1 and B2 give all they can, and that is too little for all that call: it gets 142 of 150 kW."),
    ("tees-tank-on-system", SYSTEM, SEPARATED, "both", False, "IT",
     "B1 gives all it can, and that is too little for all that call: it gets 34 of 60 kW."),
    ("tees-tank-on-boiler", HEATING, SEPARATED, "dhw", False, "IT",
     "The control is set as heating only: it knows no tank and sends it nothing."),
    ("tees-tank-on-boiler", HEATING, SEPARATED, "both", False, "IT",
     "The control is set as heating only: it knows no tank and sends it nothing. Yet a trickle passes it (0.10 L/s, 8.1 kW)."),
    ("tees-one-boiler", HEATING, SINGLE, "heat", False, "E1",
     "Water moves through it (1.75 L/s), but B1 gives no heat: PB1 stands still. "
     "Set as single loop, the control works no boiler pump."),
    ("tees-direct-return", HEATING, SINGLE, "heat", False, "E1",
     "Water moves through it (2.90 L/s), but B3, B1 and B2 give no heat: PB1, PB2 and PB3 stand still. "
     "Set as single loop, the control works no boiler pump."),
    ("separator-two-boilers-tank", SYSTEM, SINGLE, "both", False, "IT",
     "Water moves through it (1.31 L/s), but B1 and B2 give no heat: PB1 and PB2 stand still. "
     "Its store gives 58 kW back to the water. Set as single loop, the control works no boiler pump."),
    ("tanks-on-both", SYSTEM, SINGLE, "both", False, "E1",
     "Water moves through it (1.93 L/s), but B1 and B2 give no heat: PB1 and PB2 stand still. "
     "What heat it gets (70 kW) comes out of IT and IT2. Set as single loop, the control works no boiler pump."),
    ("separator-zone-pumps", SYSTEM, SEPARATED, "both", False, "IT",
     "Water reaches it at 76 °C (1.02 L/s), which is not enough: it gets 49 of 60 kW."),
]


@pytest.mark.parametrize(("name", "configuration", "arrangement", "call", "priority", "part", "why"), WHY,
                         ids=[f"{row[0]}-{row[5]}-{n}" for n, row in enumerate(WHY)])
def test_why_a_load_fares_as_it_does(name: str | int, configuration: str, arrangement: str, call: str, priority: bool, part: str,
                                     why: str) -> None:
    """Sentences as they were read by eye beside the plant; figures as it was solved."""
    assert run(name, configuration, call, arrangement, None, priority).load(part).because == why


def test_shares_have_their_words_from_the_limits_on() -> None:
    """Under 1 % still, under 12 % a trickle, whichever way it flows."""
    assert [share_words(sign * share) for sign in (1, -1) for share in (0.0, 0.0099, 0.01, 0.1199, 0.12, 1.0)] == 2 * [
        "still", "still", "a trickle", "a trickle", "flowing", "flowing"]


def loop(*more: Part, through: tuple[str, ...] = ("B", "P", "E", "B"), emitter: dict | None = None) -> Operator:
    parts = (Part("B", "boiler", {"lead": True}), Part("P", "pump"), Part("E", "emitter", emitter or {}), *more)
    return Operator(Plant("loop", {p.tag: p for p in parts}, (Run(through, 20.0, "NPS 1-1/2"),)))


def test_what_nobody_has_called_for_and_nothing_moves() -> None:
    """A heating plant on a DHW call: no pump runs, and that is the reason."""
    found = operate(loop().plant, HEATING, "dhw")
    assert found.load("E").because in ("It has not called: P stands still.", "It has not called, and no pump runs.")
    assert found.afterwards == "Nothing ran, so nothing overruns."


def test_no_boiler_asked_for_is_no_boiler_called() -> None:
    """Pumps run, the load has called, and nobody fires."""
    ready = operator("tees-one-boiler")
    found = ready.operate(ready.setting(HEATING, "heat", boilers=0))
    assert found.sequence.firing == ()
    row = found.load("E1")
    assert row.because == f"No boiler is called to fire; water passes it ({row.flow_lps:.2f} L/s, 0.0 kW)."
    assert found.afterwards == "Nothing ran, so nothing overruns."


def test_what_is_shut_by_hand_is_looked_for() -> None:
    """Everything runs as it should and yet nothing moves: something blocks it."""
    ready = loop(Part("V", "isolation valve"), through=("B", "P", "V", "E", "B"))
    found = ready.operate(ready.right("heat"), also=State(shut="V"))
    assert found.load("E").because == \
        "Nothing on its way stands still, yet no water moves through it: look for what blocks or bypasses it."
    assert found.load("E").still and found.solution.lps("E") == 0.0


def test_what_is_set_by_hand_is_set_beside_what_the_control_does() -> None:
    """Speed, position, load and valves; the control's own outputs stay as they are."""
    ready = operator("tees-tank-on-system")
    also = State(speed={"PS": 0.7}, position={"ZV1": 0.5}, load={"E1": 30.0}, shut="VT")
    found = ready.operate(ready.right("heat"), 50.0, also)
    state = found.solution.state
    assert (state.speed, state.position, state.load, state.water_c) == ({"PS": 0.7}, {"ZV1": 0.5}, {"E1": 30.0}, 50.0)
    assert {"VT"} <= set(state.shut) and state.off == frozenset()
    assert found.load("E1").wanted_kw == 30.0 == pytest.approx(found.load("E1").given_kw)
    assert found.load("IT").wanted_kw == 0.0
    plain = ready.operate(ready.right("heat"))
    assert plain.solution.state.water_c == 60.0 and plain.solution.state.shut == frozenset({"VT"})


def test_the_state_of_a_call_is_what_stands_and_runs() -> None:
    """Off, shut, turned, idle are what the sequence leaves out; on a DHW call firing boilers hold the DHW setpoint at least."""
    ready = operator("single-loop-two-boilers-tank")
    plant = replace(ready.plant, design=replace(ready.plant.design, dhw_setpoint_c=85.0))
    steps = Operator(plant).operate(Operator(plant).setting(SYSTEM, "dhw", boilers=1)).sequence
    state = steps.state(plant, 40.0)
    assert (state.off, state.idle, state.water_c) == (frozenset(), {"B2"}, 40.0)
    assert {"MV2", "ZV1"} <= set(state.shut) and not {"MV1", "VT"} & set(state.shut)
    assert state.setpoint_c == {"B1": 85.0}
    lower = replace(plant, design=replace(plant.design, dhw_setpoint_c=70.0))
    assert steps.state(lower).setpoint_c == {"B1": plant.parts["B1"].number("setpoint_c")}
    heat = ready.operate(ready.right("heat")).sequence
    assert heat.state(plant).setpoint_c == {} and not heat.dhw_setpoint
    turned = operator("tees-diverting-valve")
    assert turned.operate(turned.right("dhw")).solution.state.divert == {"DV"}


def test_what_comes_after_a_call() -> None:
    """What is left of the heat goes to what called and was not held; never to what may see no hot water."""
    assert run("tees-tank-on-system", SYSTEM, "heat").afterwards == \
        "When the call ends the burners stop first; the pumps overrun and what is left of the heat goes to E1."
    assert run("tees-tank-on-system", SYSTEM, "both").afterwards.endswith("goes to E1, IT.")
    assert run("tees-tank-on-system", SYSTEM, "both", priority=True).afterwards.endswith("goes to IT.")
    floor = Operator(Scheme(low_temperature=(2,), emitters=2).plant())
    assert floor.operate(floor.right("heat")).afterwards.endswith("goes to E1.")
    alone = Operator(Scheme(low_temperature=(1,)).plant())
    assert alone.operate(alone.right("heat")).afterwards.endswith("goes to nowhere but what called; mind its hottest supply.")


def test_warnings_of_an_operation() -> None:
    """Heat that nobody called for, water too hot for a floor, a building that waits, a tank that nobody knows of."""
    ghost = run("tees-tank-check-valve-only", SYSTEM, "heat")
    assert [line for line in ghost.warnings if "has not called" in line] == [
        f"IT: it has not called, yet takes {ghost.load('IT').given_kw:.1f} kW."]
    for call in CALLS:
        assert not [line for line in run("tees-tank-on-system", SYSTEM, call).warnings if "has not called" in line]
    waits = "While DHW is served the heating waits: set a time limit, or the building can freeze."
    assert waits in run("tees-tank-on-boiler", BOILER, "both").warnings
    assert waits not in run("tees-tank-on-boiler", BOILER, "dhw").warnings
    nobody = "The control is set as heating only: nobody heats IT."
    for call in CALLS:
        assert (nobody in run("tees-tank-on-boiler", HEATING, call).warnings) == (call != "heat")
        assert nobody not in run("tees-tank-on-boiler", BOILER, call).warnings
        assert not [line for line in run("tees-one-boiler", HEATING, call).warnings if "nobody heats" in line]
    for most, warned in ((60.0, True), (79.5, True), (79.95, False), (85.0, False)):
        found = operate(loop(emitter={"max_supply_c": most}).plant, HEATING, "heat")
        assert [line for line in found.warnings if "may see" in line] == (
            [f"E: 80 °C reach it; it may see {most:.0f} °C at most."] if warned else [])


def test_a_load_is_measured_by_its_flow_when_it_is_meant_to_run() -> None:
    """A tank on a DHW call, an emitter on a heat call, under the right setting."""
    ready = operator("tees-tank-on-system")
    for tag, call in (("IT", "dhw"), ("E1", "heat")):
        right = ready.operate(ready.right(call))                                     # type: ignore[arg-type]
        assert ready.meant_lps(tag) == right.load(tag).flow_lps == right.solution.lps(tag)
        assert right.load(tag).share == 1.0 and not right.load(tag).still
    both = ready.operate(ready.setting(SYSTEM, "both"))
    for row in both.loads:
        assert row.share == pytest.approx(row.flow_lps / ready.meant_lps(row.part))
        assert row.wanted_kw == ready.plant.load_kw(row.part) and row.given_kw == both.solution.heat.heat_kw[row.part]
    assert [row.part for row in both.loads] == ["E1", "IT"]


def test_a_load_that_is_never_meant_to_flow_is_measured_by_a_tenth_of_its_heat() -> None:
    """Where its flow when meant to run is next to nothing, the share is that of its load at 10 K: 50 kW, 1.215 L/s at 60 °C."""
    parts = {p.tag: p for p in (Part("B", "boiler"), Part("P", "pump"), Part("C", "check valve", {"reversed": True}),
                                Part("E", "emitter"), Part("F", "emitter"), Part("A", "tee"), Part("Z", "tee"))}
    plant = Plant("blocked", parts, (Run(("Z", "B", "P", "A"), 2.0, "NPS 1-1/2"), Run(("A", "F", "Z"), 5.0, "NPS 1-1/4"),
                                     Run(("A", "C", "E", "Z"), 5.0, "NPS 1-1/4")))
    ready = Operator(plant)
    found = ready.operate(ready.right("heat"))
    assert ready.meant_lps("E") == 0.0 == found.load("E").flow_lps
    assert found.load("E").share == 0.0 and found.load("E").still
    assert found.load("F").share == 1.0


@pytest.mark.parametrize(("given", "words"), [
    ({"configuration": "cooling"},
     "configuration: 'cooling' is not one of heating only, DHW on the system loop, DHW on the boiler loop"),
    ({"call": "cold"}, "call: 'cold' is not one of heat, dhw, both"),
    ({"arrangement": "two loops"}, "arrangement: 'two loops' is not one of single loop, separated loops"),
    ({"boilers": 5}, "boilers: 5 is out of range; this plant has 4, write 0 to 4"),
    ({"boilers": -1}, "boilers: -1 is out of range; this plant has 4, write 0 to 4")], ids=map(str, count()))
def test_a_setting_that_does_not_exist_is_refused_with_what_to_write(given: dict, words: str) -> None:
    """One sentence."""
    with pytest.raises(ValueError) as caught:
        operator("tees-four-boilers").setting(**{"configuration": HEATING, "call": "heat", **given})
    assert str(caught.value) == words


def test_a_setting_has_the_lead_first_and_the_pipings_own_arrangement() -> None:
    """As many boilers as are asked for, all unless said; an arrangement that cannot be told counts as separated."""
    ready = operator("tees-direct-return")
    assert ready.reading.lead == "B3"
    assert ready.setting(HEATING, "heat").boilers == ("B3", "B1", "B2")
    assert ready.setting(HEATING, "heat", boilers=2).boilers == ("B3", "B1")
    assert ready.setting(HEATING, "heat", boilers=0).boilers == ()
    assert ready.setting(HEATING, "heat", boilers=3).boilers == ("B3", "B1", "B2")
    assert ready.setting(HEATING, "heat").arrangement == SEPARATED
    assert ready.setting(HEATING, "heat", SINGLE).arrangement == SINGLE
    assert operator("single-loop-two-boilers-tank").setting(HEATING, "heat").arrangement == SINGLE
    assert (ready.setting(SYSTEM, "dhw", priority=True).priority, ready.setting(SYSTEM, "dhw").priority) == (True, False)
    unclear = Operator(ready.plant, replace(ready.reading, arrangement="undetermined", control="undetermined"))
    assert unclear.right("heat").arrangement == SEPARATED
    assert unclear.right("heat").configuration == SYSTEM


@pytest.mark.parametrize("name", ["tees-tank-on-system", "tees-diverting-valve", "single-loop-two-boilers-tank"])
def test_what_is_printed_of_an_operation_is_what_it_holds(name: str) -> None:
    """Key by key."""
    found = run(name, SYSTEM, "both", SEPARATED, 1, True)
    steps, told = found.sequence, found.as_dict()
    assert told == {
        "configuration": SYSTEM, "arrangement": SEPARATED, "call": "both", "running": list(steps.running),
        "open": list(steps.open), "diverted": list(steps.diverted), "firing": list(steps.firing),
        "loads": [{"part": row.part, "wanted_kw": row.wanted_kw, "given_kw": row.given_kw, "flow_lps": row.flow_lps,
                   "still": row.still, "because": row.because} for row in found.loads],
        "solve": found.solution.as_dict(), "warnings": list(found.warnings), "afterwards": found.afterwards}
    again = operate(found.solution.plant, SYSTEM, "both", arrangement=SEPARATED, boilers=1, priority=True)
    assert again.as_dict() == told
    assert solve(found.solution.plant, steps.state(found.solution.plant)).as_dict() == told["solve"]


def side_by_side() -> Operator:
    """A tank with a valve and a load that nothing but a hand can close, on one pump."""
    parts = {p.tag: p for p in (
        Part("B", "boiler", {"output_kw": 200.0}), Part("P", "pump", {"rated_lps": 3.0}), Part("V", "isolation valve"),
        Part("T", "indirect tank"), Part("M", "motorised valve", {"power_off": "closed"}), Part("A", "tee"), Part("Z", "tee"),
        Part("E", "emitter", {"load_kw": 30.0}))}
    return Operator(Plant("both", parts, (Run(("Z", "B", "P", "A"), 5.0, "NPS 2"), Run(("A", "M", "T", "Z"), 9.0, "NPS 1-1/4"),
                                          Run(("A", "V", "E", "Z"), 9.0, "NPS 1-1/4"))))


def test_a_load_that_nothing_can_close_is_said_to_be_one() -> None:
    """Uncalled, held off in vain, and shut by hand."""
    ready = side_by_side()
    assert ready.jobs.job == {"P": "system", "M": "tank"}
    dhw, first = ready.setting(SYSTEM, "dhw"), ready.setting(SYSTEM, "both", priority=True)
    open_ = ready.operate(dhw).load("E")
    assert open_.because == (f"It has not called, yet water passes it ({open_.flow_lps:.2f} L/s, 30.0 kW): "
                             "the control has nothing that can close it.")
    assert ready.operate(first).load("E").because == "It gets its 30 kW although DHW comes first: nothing can close it."
    shut = ready.operate(dhw, also=State(shut="V"))
    assert shut.load("E").because == "It has not called, and no pump moves water through it."
    assert ready.operate(ready.setting(BOILER, "heat")).load("E").because == "It gets the heat it wants: P runs."
    assert ready.operate(first, also=State(shut="V")).load("E").because == \
        "DHW has priority: it is held off until the tank is satisfied."


def test_a_valve_that_stands_open_without_power_is_named() -> None:
    """Set as heating only the control works no tank's valve: one that springs open lets the tank be heated in passing."""
    plant = Scheme(tank="system loop").plant()
    springs = replace(plant.parts["VT"], given={**plant.parts["VT"].given, "power_off": "open"})
    found = operate(replace(plant, parts={**plant.parts, "VT": springs}), HEATING, "heat")
    row = found.load("IT")
    assert found.sequence.open == ("ZV1", "VT")
    assert row.because == (f"It has not called, yet water passes it ({row.flow_lps:.2f} L/s, {row.given_kw:.1f} kW): "
                           "a control set as heating only does not work VT, which stands open without power.")


def test_a_plant_without_a_pump_is_said_to_have_none_that_runs() -> None:
    """Called or not."""
    bare = Plant("bare", {"B": Part("B", "boiler"), "E": Part("E", "emitter")}, (Run(("B", "E", "B"), 9.0, "NPS 1"),))
    assert operate(bare, HEATING, "heat").load("E").because == "No pump runs: no water moves through it."
    assert operate(bare, HEATING, "dhw").load("E").because == "It has not called, and no pump runs."


def test_several_of_a_kind_are_told_in_the_plural() -> None:
    """Two diverting valves one behind the other, two motorised valves and two checks on the tank's branch."""
    kinds = {"B": "boiler", "P": "pump", "D1": "diverting valve", "D2": "diverting valve", "E": "emitter", "F": "emitter",
             "M": "motorised valve", "W": "motorised valve", "T": "indirect tank", "Z": "tee"}
    ends = (("Z", "B", "P", "D1.common"), ("D1.a", "E", "Z"), ("D1.b", "D2.common"), ("D2.a", "F", "Z"),
            ("D2.b", "M", "W", "T", "Z"))
    plant = Plant("two", {tag: Part(tag, kind) for tag, kind in kinds.items()}, tuple(Run(end, 5.0, "NPS 1-1/4") for end in ends))
    heat, dhw = operate(plant, SYSTEM, "heat"), operate(plant, SYSTEM, "dhw")
    assert dhw.sequence.diverted == ("D1", "D2") and heat.sequence.diverted == ()
    assert dhw.load("T").because == "It gets the heat it wants: P runs and M and W are open and D1 and D2 stand at its port."
    assert heat.load("T").because == "It has not called: M and W are shut."
    assert heat.load("F").because == "D1 stands at the other port: no water moves through it."
    assert dhw.load("F").because == "It has not called: D2 stands at the other port."
    bare = replace(plant, parts={tag: part for tag, part in plant.parts.items() if tag not in "MW"},
                   runs=(*plant.runs[:-1], Run(("D2.b", "T", "Z"), 5.0, "NPS 1-1/4")))
    assert operate(bare, SYSTEM, "heat").load("T").because == "It has not called: D1 and D2 stand at the other port."
    heated = replace(bare, parts={**bare.parts, "T": Part("T", "emitter")})
    assert operate(heated, HEATING, "heat").load("T").because == \
        "D1 and D2 stand at the other port: no water moves through it."
    ghost = run("tees-tank-check-valve-only", SYSTEM, "heat").solution.plant
    runs = tuple(replace(one, through=tuple(tag for end in one.through for tag in ((end, "CU") if end == "CT" else (end,))))
                 for one in ghost.runs)
    two = operate(replace(ghost, parts={**ghost.parts, "CU": replace(ghost.parts["CT"], tag="CU")}, runs=runs), SYSTEM, "heat")
    assert two.load("IT").because.endswith(": CT and CU give way to water that is pushed forwards.")


@pytest.mark.parametrize(("output_kw", "served"), [(47.6, True), (47.4, False)])
def test_a_load_counts_as_served_from_95_per_cent_of_what_it_wants(output_kw: float, served: bool) -> None:
    """50 kW are wanted; common practice, no source."""
    plant = loop().plant
    small = replace(plant, parts={**plant.parts, "B": Part("B", "boiler", {"output_kw": output_kw})})
    assert operate(small, HEATING, "heat").load("E").because == (
        "It gets the heat it wants: P runs." if served else
        "B gives all it can, and that is too little for all that call: it gets 47 of 50 kW.")


@pytest.mark.parametrize(("power_off", "stands"), [("open", ("W",)), ("closed", ())])
def test_a_valve_that_no_way_meets_stands_as_it_does_without_power(power_off: str, stands: tuple[str, ...]) -> None:
    """On a pipe across the loads: no job, and the control does not work it, whatever is called."""
    parts = {p.tag: p for p in (Part("B", "boiler"), Part("P", "pump"), Part("W", "motorised valve", {"power_off": power_off}),
                                Part("E", "emitter"), Part("A", "tee"), Part("Z", "tee"))}
    ends = (("Z", "B", "P", "A"), ("A", "E", "Z"), ("A", "W", "Z"))
    ready = Operator(Plant("across", parts, tuple(Run(end, 5.0, "NPS 1") for end in ends)))
    assert ready.jobs.job == {"P": "system"}
    for call in CALLS:
        assert ready.operate(ready.setting(HEATING, call)).sequence.open == stands
