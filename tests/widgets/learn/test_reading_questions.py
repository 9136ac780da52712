"""The questions asked in front of a drawing: one right answer each, and every mistake gets its own words."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations

import pytest

from figures.plant import Plant
from figures.plant.scheme import Scheme
from figures.reading import read
from widgets.learn import READING_QUESTIONS, BadAnswer, Hint, Item, Mark, Option, hints, items_for, mark

from .plants import BOILER, EMITTER, PUMP, TANK, TEE, build, ring, two_loops

SEEDS = range(100)


def ask(plant: Plant, name: str) -> Item:
    (item,) = items_for(plant, questions=[name])
    return item


def every_answer(item: Item) -> list[tuple[str, ...]]:
    values = [option.value for option in item.options]
    if item.pick == "one":
        return [(value,) for value in values]
    return [chosen for n in range(len(values) + 1) for chosen in combinations(values, n)]


@cache
def plants() -> list[Plant]:
    """Schemes of many kinds, and plants whose reading stays open."""
    vessel_beside = build({"K": BOILER, "P": PUMP, "Q": TEE, "W": TEE, "H": EMITTER, "V": '"buffer tank"'},
                          [(["K", "P", "Q"], 3.0), (["Q", "H", "W"], 9.0), (["W", "K"], 3.0),
                           (["Q", "V.a_supply"], 1.0), (["V.a_return", "W"], 1.0),
                           (["V.b_supply", "V.b_return"], 1.0)])
    return [*(Scheme.random(seed).plant() for seed in SEEDS), two_loops("both"), vessel_beside]


# -- what holds for every plant ----------------------------------------------------------------------------

def test_the_right_answer_is_full_and_every_other_is_not() -> None:
    for plant in plants():
        for item in items_for(plant):
            for chosen in every_answer(item):
                answer = chosen[0] if item.pick == "one" else chosen
                given = mark(item, answer)
                assert 0 <= given.points <= given.of
                assert given.right == (set(chosen) == set(item.key)), (item.id, chosen)
                assert given.because.strip()


def test_the_key_is_the_classifiers_word_and_not_the_layouts() -> None:
    for seed in SEEDS:
        plant = Scheme.random(seed).plant()
        reading = read(plant)
        right = {item.name: item.right for item in items_for(plant, seed=seed)}
        assert right["arrangement"] == reading.arrangement
        assert right["dhw"] == reading.dhw
        assert right["control"] == reading.control
        assert right["dhw_priority"] == reading.dhw_priority
        assert right["return"] == reading.return_order
        assert isinstance(right["boilers"], str)
        assert right["boilers"].startswith(f"{len(reading.boilers)} boiler")
        assert right["boilers"].endswith(f"{reading.lead} leads" if reading.lead else "lead not settled")


def test_another_reading_of_the_same_plant_turns_the_key() -> None:
    """Marks follow the reading that is handed over, so nothing else can be asked for the key."""
    plant = two_loops("boiler")
    other = replace(read(plant), control="heating only")
    (item,) = items_for(plant, other, questions=["control"])
    assert item.key == ("heating only",)


def test_a_first_wrong_answer_is_explained_without_naming_the_right_one() -> None:
    for plant in plants():
        for item in items_for(plant, questions=("dhw", "control", "dhw_priority", "return")):
            if item.key == ("undetermined",):
                continue
            right = item.option(item.key[0]).label.lower()
            for option in item.options:
                if option.value not in item.key:
                    said = mark(item, option.value).because.lower().replace(option.label.lower(), "")
                    assert right not in said


def test_a_wrong_answer_names_the_answer_and_lights_parts_that_are_there() -> None:
    for plant in plants():
        for item in items_for(plant):
            for option in item.options:
                given = mark(item, option.value if item.pick == "one" else [option.value])
                assert set(given.parts) <= set(plant.parts) and set(given.pipes) <= set(plant.run_names)
                if option.value not in item.key:
                    assert f"“{option.label}”" in given.because
            for hint in hints(item):
                assert hint.says and set(hint.parts) <= set(plant.parts)
                assert set(hint.pipes) <= set(plant.run_names)


def test_hints_never_say_the_whole_answer() -> None:
    for plant in plants():
        for item in items_for(plant, questions=("arrangement", "dhw", "dhw_priority", "boilers")):
            said = " ".join(hint.says for hint in hints(item)).lower()
            assert item.key == ("undetermined",) or item.option(item.key[0]).label.lower() not in said


def test_the_same_plant_gives_the_same_items() -> None:
    assert items_for(Scheme.random(7).plant(), seed=7) == items_for(Scheme.random(7).plant(), seed=7)
    assert items_for(Scheme.random(7).plant(), seed=7)[0].id == "reading/arrangement/7"


def test_questions_come_in_the_order_in_which_a_plant_is_read() -> None:
    assert tuple(item.name for item in items_for(ring())) == READING_QUESTIONS
    with pytest.raises(ValueError, match="no question 'colour'"):
        items_for(ring(), questions=["colour"])


# -- mistakes ----------------------------------------------------------------------------------------------

def test_a_tank_on_the_system_loop_taken_for_the_boiler_loop() -> None:
    given = mark(ask(two_loops("system", pump=False), "control"), "DHW on the boiler loop")
    assert given.misconception == 1 and given.points == 0
    assert "fed from M and returns to N, which lie beyond the tees Q and W" in given.because
    assert {"T", "M", "N", "Q", "W"} <= set(given.parts)


def test_a_tank_with_its_own_pump_taken_for_the_boiler_loop() -> None:
    given = mark(ask(two_loops("system"), "control"), "DHW on the boiler loop")
    assert given.misconception == 2
    assert "A tank's own pump can stand on either side" in given.because


def test_a_tank_on_the_boiler_loop_taken_for_the_system_loop() -> None:
    given = mark(ask(two_loops("boiler"), "dhw"), "system loop")
    assert "the boilers' water reaches both of them without crossing the tees Q and W" in given.because
    assert given.points == pytest.approx(1 / 3, abs=1e-6), "the tank was found"


def test_a_tank_that_was_not_found() -> None:
    given = mark(ask(two_loops("system"), "dhw"), "none")
    assert given.misconception == 20 and given.points == 0
    assert "there is. The coil of T" in given.because


def test_heating_only_on_a_plant_with_a_tank() -> None:
    given = mark(ask(two_loops("boiler"), "control"), "heating only")
    assert given.misconception == 21 and "never answers a DHW call" in given.because


def test_a_tank_that_is_not_there() -> None:
    given = mark(ask(two_loops(), "dhw"), "boiler loop")
    assert "there is no indirect tank anywhere" in given.because and given.misconception is None


def test_on_a_single_loop_nothing_can_be_on_the_boiler_loop() -> None:
    plant = ring(H=TANK)
    given = mark(ask(plant, "control"), "DHW on the boiler loop")
    assert "no separation stands between there and the boilers" in given.because
    assert "needs two loops" in mark(ask(plant, "control"), "DHW on the system loop").because


def test_priority_taken_as_a_choice_where_the_system_pump_stops() -> None:
    given = mark(ask(two_loops("boiler"), "dhw_priority"), "optional")
    assert given.misconception == 16 and "the building gets no heat while T calls" in given.because


def test_priority_taken_as_given_where_it_is_a_choice() -> None:
    given = mark(ask(two_loops("system"), "dhw_priority"), "always")
    assert given.misconception == 16 and "fed like any load" in given.because


def test_a_separator_taken_for_something_that_is_not_on_the_drawing() -> None:
    given = mark(ask(two_loops(), "separation"), "hydraulic separator")
    assert "there is no hydraulic separator on this drawing" in given.because
    assert set(given.parts) == {"Q", "W"} and given.pipes == ("Q>W",)


def test_a_bypass_taken_for_a_separation() -> None:
    plant = build({"K": BOILER, "PS": PUMP, "Q": TEE, "W": TEE, "H": EMITTER},
                  [(["K", "Q"], 2.0), (["Q", "W"], 3.0), (["Q", "PS", "H", "W"], 20.0), (["W", "K"], 2.0)])
    given = mark(ask(plant, "arrangement"), "separated loops")
    assert given.misconception == 3 and "ask whose pump moves water through it" in given.because
    assert mark(ask(plant, "separation"), "closely spaced tees").misconception == 3
    assert ask(plant, "separation").key == ("nothing",)


def cascade(lead: str) -> Plant:
    """Two boilers on direct return; U is the first out to the system and the first to get water back."""
    parts = {tag: f'"boiler", lead = {str(tag == lead).lower()}' for tag in ("U", "V")}
    parts |= {"PU": PUMP, "PV": PUMP, "Q": TEE, "W": TEE, "S": TEE, "R": TEE, "PS": PUMP, "H": EMITTER}
    return build(parts, [(["Q", "W"], 0.15), (["U", "PU", "S"], 2.0), (["V", "PV", "S"], 6.0),
                         (["S", "Q"], 1.0), (["W", "R"], 1.0), (["R", "U"], 2.0), (["R", "V"], 6.0),
                         (["Q", "PS", "H", "W"], 20.0)])


def test_the_count_is_right_and_the_lead_is_not() -> None:
    given = mark(ask(cascade("V"), "boilers"), "2 boilers, U leads")
    assert given.points == 0.5 and given.misconception == 19
    assert "U does not carry the lead mark" in given.because


def test_the_count_is_wrong() -> None:
    given = mark(ask(cascade("V"), "boilers"), "3 boilers, V leads")
    assert given.points == 0 and "count the burners once more" in given.because


def test_no_boiler_is_marked_as_lead() -> None:
    item = ask(cascade("nobody"), "boilers")
    assert item.key == ("2 boilers, lead not settled",)
    assert mark(item, "2 boilers, U leads").points == 0.5
    assert "exactly one boiler may carry it" in mark(item, "2 boilers, U leads").because


def test_direct_return_taken_for_reverse() -> None:
    given = mark(ask(cascade("U"), "return"), "reverse")
    assert "the water of U is the first out to the system" in given.because
    assert "it is the first to come back" in given.because


# -- what cannot be told -----------------------------------------------------------------------------------

@pytest.mark.parametrize("name", ["dhw", "control", "dhw_priority"])
def test_a_coil_across_the_separation_cannot_be_told(name: str) -> None:
    item = ask(two_loops("both"), name)
    assert item.key == ("undetermined",)
    assert mark(item, "undetermined").right
    wrong = mark(item, item.options[1].value)
    assert not wrong.right and "joins two loops that may only meet at the separation" in wrong.because


def test_a_plant_that_can_be_told_is_not_one_that_cannot() -> None:
    assert not mark(ask(two_loops("boiler"), "control"), "undetermined").right


# -- outdoor reset -----------------------------------------------------------------------------------------

def test_outdoor_reset_asks_only_for_what_the_plant_needs() -> None:
    bare = ask(ring(K='"boiler", condensing = true'), "reset")
    assert bare.key == ("outdoor sensor",)
    assert ask(ring(), "reset").key == ("outdoor sensor", "return guard")
    assert ask(two_loops("system"), "reset").key == ("outdoor sensor", "return guard", "DHW override")
    cool = two_loops(H='"emitter", max_supply_c = 45.0')
    assert ask(cool, "reset").key == ("outdoor sensor", "return guard", "own temperature")


def test_half_of_what_outdoor_reset_needs_earns_half() -> None:
    item = ask(ring(), "reset")
    assert mark(item, ["outdoor sensor"]).points == 0.5
    assert "not ticked yet" in mark(item, ["outdoor sensor"]).because
    assert mark(item, []).points == 0 and mark(item, [option.value for option in item.options]).points == 0


@pytest.mark.parametrize(("tick", "number"), [
    ("tank follows", 17), ("all condensing", 18), ("reverse return", 14)])
def test_ticks_that_come_from_a_usual_mistake_are_spoken_to(tick: str, number: int) -> None:
    item = ask(two_loops("system"), "reset")
    given = mark(item, [*item.key, tick])
    assert given.misconception == number and 0 < given.points < given.of


# -- refusals ----------------------------------------------------------------------------------------------

@pytest.mark.parametrize("answer", ["", "heating", 3, None, True, ["heating only", "undetermined"], [], {"a": 1},
                                    ["heating only", 3]])
def test_what_is_no_answer_is_refused_with_a_reason(answer: object) -> None:
    with pytest.raises(BadAnswer, match=r"control: .* is no answer here; answer one of 'heating only'"):
        mark(ask(ring(), "control"), answer)  # type: ignore[arg-type]


def test_an_unknown_tick_is_refused_too() -> None:
    with pytest.raises(BadAnswer, match="'luck' is no answer here; answer with any of 'outdoor sensor'"):
        mark(ask(ring(), "reset"), ["outdoor sensor", "luck"])


def test_an_item_with_a_key_that_is_no_option_cannot_be_made() -> None:
    item = ask(ring(), "control")
    for broken in ({"key": ("luck",)}, {"key": ()}, {"key": ("heating only", "undetermined")},
                   {"options": item.options[:1]}, {"options": (*item.options, item.options[0])},
                   {"objective": "X1"}, {"hints": item.hints[:2]},
                   {"options": (replace(item.options[0], misconception=23), *item.options[1:])}):
        with pytest.raises(ValueError, match=item.id):
            replace(item, **broken)


def test_a_mark_that_is_not_full_is_not_right() -> None:
    assert not Mark(0.5, 1.0, "half").right and Mark(1.0, 1.0, "all").right


# -- other ways to answer ----------------------------------------------------------------------------------

STEPS = Item("order/1", "order", "steps", "P1", "In what order?",
             (Option("fire", "Fire"), Option("fill", "Fill", because="A dry boiler cracks."), Option("safe", "Make safe")),
             ("safe", "fill", "fire"), "Safe first, fire last.", (Hint("a"), Hint("b"), Hint("c")), pick="order")


def test_steps_in_order_earn_by_the_pairs_that_stand_right() -> None:
    assert mark(STEPS, ("safe", "fill", "fire")).right
    half = mark(STEPS, ["safe", "fire", "fill"])
    assert half.points == pytest.approx(2 / 3, abs=1e-6)
    assert half.because == "You put “Fire” before “Fill”: a dry boiler cracks."
    assert mark(STEPS, ["fire", "fill", "safe"]).points == 0


@pytest.mark.parametrize("answer", ["safe", ["safe", "fill"], ["safe", "safe", "fill"], {"safe", "fill", "fire"}])
def test_an_order_that_leaves_out_or_repeats_is_refused(answer: object) -> None:
    with pytest.raises(BadAnswer, match="put each of these in order, once"):
        mark(STEPS, answer)  # type: ignore[arg-type]


def test_an_order_has_to_name_every_option() -> None:
    with pytest.raises(ValueError, match="name every option"):
        replace(STEPS, key=("safe", "fire"))
