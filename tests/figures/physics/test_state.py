"""What is set: one record, and every sentence with which a state that the plant does not have is refused."""

from itertools import count

import pytest

from figures.physics import Prepared, State, heats, solve, sweep
from figures.plant import Part, Plant

from .test_flow import ring

PARTS = {part.tag: part for part in (
    Part("B", "boiler"), Part("P", "pump"), Part("C", "check valve"), Part("V", "isolation valve"), Part("M", "motorised valve"),
    Part("Y", "bypass valve"), Part("D", "diverting valve"), Part("X", "mixing valve"), Part("E", "emitter"),
    Part("T", "indirect tank"), Part("H", "heat exchanger"), Part("L", "balancing valve"))}
PLANT = Plant("parts", PARTS, ())


def test_a_tag_alone_is_a_collection_of_one() -> None:
    """And any collection will do; equal states are equal and hash alike."""
    assert State(off="PB2").off == State(off=["PB2", "PB2"]).off == frozenset({"PB2"})
    one = State(off="P", shut=("V",), divert="D", idle={"B"}, speed={"P": 0.5}, position={"V": 0.5}, load={"E": 3.0},
                water_c=50.0, setpoint_c={"B": 70.0})
    same = State(off=["P"], shut="V", divert=["D"], idle="B", speed={"P": 0.5}, position={"V": 0.5}, load={"E": 3.0},
                 water_c=50.0, setpoint_c={"B": 70.0})
    assert one == same and hash(one) == hash(same)
    assert len({State(), State(off="P"), State(shut="P"), State(speed={"P": 0.0}), State(load={"P": 0.0}), State(water_c=61.0),
                State(setpoint_c={"P": 0.0}), State(position={"P": 0.0}), State(idle="P"), State(divert="P")}) == 10


def test_a_state_keeps_what_it_was_given() -> None:
    """Whoever changes their own dictionary afterwards does not change it."""
    speeds = {"P": 0.5}
    state = State(speed=speeds)
    speeds["P"] = 1.0
    assert state.speed == {"P": 0.5}


def test_what_the_plant_has_is_not_refused() -> None:
    """Every kind that each setting takes, and every figure at its limits."""
    valves = ["C", "V", "M", "Y", "L"]
    for figure, load, setpoint, water_c, speed in ((0.0, 0.0, 5.0, 0.0, 0.0), (1.0, 1e6, 120.0, 120.0, 2.0)):
        assert State(off="P", shut=valves, divert="D", idle="B", speed={"P": speed}, load=dict.fromkeys("ETH", load),
                     position=dict.fromkeys([*valves[1:], "X"], figure), setpoint_c={"B": setpoint},
                     water_c=water_c).refusals(PLANT) == []


@pytest.mark.parametrize(("state", "words"), [
    (State(off="B"), "off: B is a boiler; name a pump"),
    (State(off="NOPE"), "off: 'NOPE' is no part of this plant; name a pump"),
    (State(off="N" * 50), f"off: '{'N' * 40}' is no part of this plant; name a pump"),
    (State(shut="B"), "shut: B is a boiler; name a valve with two ports"),
    (State(shut="D"), "shut: D is a diverting valve; name a valve with two ports"),
    (State(shut="X"), "shut: X is a mixing valve; name a valve with two ports"),
    (State(divert="P"), "divert: P is a pump; name a diverting valve"),
    (State(idle="P"), "idle: P is a pump; name a boiler"),
    (State(speed={"B": 1.0}), "speed: B is a boiler; name a pump"),
    (State(position={"C": 1.0}), "position: C is a check valve; name a valve that can be set"),
    (State(load={"B": 1.0}), "load: B is a boiler; name a load"),
    (State(setpoint_c={"P": 50.0}), "setpoint_c: P is a pump; name a boiler"),
    (State(speed={"P": -0.1}), "speed of P: -0.1 is out of range; write a figure from 0 to 2"),
    (State(speed={"P": 2.1}), "speed of P: 2.1 is out of range; write a figure from 0 to 2"),
    (State(speed={"P": float("nan")}), "speed of P: nan is out of range; write a figure from 0 to 2"),
    (State(position={"V": -0.1}), "position of V: -0.1 is out of range; write a figure from 0 to 1"),
    (State(position={"V": 1.1}), "position of V: 1.1 is out of range; write a figure from 0 to 1"),
    (State(load={"E": -1.0}), "load of E: -1 is out of range; write a figure from 0 to 1e+06"),
    (State(load={"E": 1.1e6}), "load of E: 1.1e+06 is out of range; write a figure from 0 to 1e+06"),
    (State(setpoint_c={"B": 4.9}), "setpoint_c of B: 4.9 is out of range; write a figure from 5 to 120"),
    (State(setpoint_c={"B": 121.0}), "setpoint_c of B: 121 is out of range; write a figure from 5 to 120"),
    (State(water_c=-1.0), "water_c: -1 is out of range; write a figure from 0 to 120"),
    (State(water_c=121.0), "water_c: 121 is out of range; write a figure from 0 to 120")], ids=map(str, count()))
def test_what_it_has_not_is_refused_with_what_to_write(state: State, words: str) -> None:
    """One sentence: where, what, how to mend."""
    assert state.refusals(PLANT) == [words]


def test_refusals_come_in_a_fixed_order() -> None:
    """By setting, then by tag: never by hash."""
    state = State(off=["B", "A"], shut=["E", "B"], speed={"B": 3.0})
    assert [line.split(" is ")[0] for line in state.refusals(PLANT)] == [
        "off: 'A'", "off: B", "shut: B", "shut: E", "speed: B", "speed of B: 3"]


LOOP = ring(Part("B", "boiler"), Part("P", "pump"), Part("V", "balancing valve"), Part("E", "emitter"))


@pytest.mark.parametrize("state", [State(off="B"), State(shut="B"), State(divert="B"), State(speed={"B": 1.0}),
                                   State(speed={"P": 2.1}), State(position={"B": 0.5}), State(position={"V": 1.1})],
                         ids=map(str, count()))
def test_flow_alone_is_refused_with_the_same_words(state: State) -> None:
    """`Prepared.solve`, which callers in a hurry use, does not take what `solve` refuses."""
    with pytest.raises(ValueError) as by_flow:
        Prepared(LOOP).solve(state)
    with pytest.raises(ValueError) as by_solve:
        solve(LOOP, state)
    assert str(by_flow.value) == str(by_solve.value) == "\n".join(state.refusals(LOOP)) != ""


@pytest.mark.parametrize(("given", "words"), [
    ({"speed": {"P": [1.0, 2.1]}}, "speed of P: 2.1 is out of range; write a figure from 0 to 2"),
    ({"speed": {"P": [-0.1, 1.0]}}, "speed of P: -0.1 is out of range; write a figure from 0 to 2"),
    ({"position": {"V": [0.5, 1.5]}}, "position of V: 1.5 is out of range; write a figure from 0 to 1"),
    ({"off": {"B": [True]}}, "off: B is a boiler; name a pump"),
    ({"shut": {"B": [True]}}, "shut: B is a boiler; name a valve with two ports"),
    ({"divert": {"B": [True]}}, "divert: B is a boiler; name a diverting valve"),
    ({"speed": {"P": [1.0, 0.5]}, "off": {"P": [True, False, True]}},
     "scenarios: arrays of 2, 3 entries; give all the same length"),
    ({"water_c": [20.0, 130.0]}, "water_c: 130 °C is out of range; write a figure from 0 to 120 °C")], ids=map(str, count()))
def test_a_sweep_refuses_what_a_single_solve_refuses(given: dict, words: str) -> None:
    """In any of its scenarios, each thing once."""
    with pytest.raises(ValueError) as caught:
        sweep(Prepared(LOOP), **given)
    assert str(caught.value) == words


@pytest.mark.parametrize(("given", "words"), [
    ({"load": {"B": [1.0]}}, "load: B is a boiler; name a load"),
    ({"load": {"E": [1.0, 2.0, 3.0]}}, "load of E: 3 entries for 2 scenarios; give one for each, or one for all"),
    ({"load": {"E": [1.0, 2e6]}}, "load of E: 2e+06 is out of range; write a figure from 0 to 1e+06"),
    ({"idle": {"E": [True]}, "setpoint_c": {"P": [50.0]}},
     "idle: E is an emitter; name a boiler\nsetpoint_c: P is a pump; name a boiler"),
    ({"setpoint_c": {"B": [60.0, 130.0]}}, "setpoint_c of B: 130 is out of range; write a figure from 5 to 120")],
    ids=map(str, count()))
def test_heats_of_a_sweep_refuse_it_too(given: dict, words: str) -> None:
    """Loads, setpoints and idle boilers."""
    with pytest.raises(ValueError) as caught:
        heats(sweep(Prepared(LOOP), speed={"P": [1.0, 0.9]}), **given)
    assert str(caught.value) == words
