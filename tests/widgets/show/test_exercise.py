"""The exercise, driven as a learner would, with no browser: answers, tries, hints, another plant, and a restart."""

from __future__ import annotations

from pathlib import Path

import pytest

from figures.plant import parse_plant, write_plant
from figures.plant.scheme import Scheme
from widgets import Exercise
from widgets.learn import READING_QUESTIONS, BadAnswer, Record, mark
from widgets.learn import record as record_module


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return Record(tmp_path, learner="Kim")


def exercise(**more: object) -> Exercise:
    return Exercise(**{"seed": 3, "record": False, **more})  # type: ignore[arg-type]


def solve(ex: Exercise) -> None:
    for name, item in ex.items.items():
        if not ex.choices[name].locked:
            ex.answer(name, item.right)
    ex.check()


def wrong(ex: Exercise, name: str, at: int = 0) -> str:
    """The at-th wrong option of a question."""
    return [option.value for option in ex.items[name].options if option.value not in ex.items[name].key][at]


# -- both ways ---------------------------------------------------------------------------------------------

def test_untouched_it_is_not_passed() -> None:
    ex = exercise()
    ex.check()
    assert ex.marks == {} and ex.verdict().endswith("0 of 8 right")
    assert "not answered" in ex.verdict()


@pytest.mark.parametrize("seed", range(12))
def test_the_classifiers_answers_pass(seed: int) -> None:
    ex = exercise(seed=seed)
    solve(ex)
    assert ex.verdict().splitlines() == [*(f"{name}: right" for name in READING_QUESTIONS), "8 of 8 right"]
    assert all(given.right for given in ex.marks.values())
    assert ex.report.tone == "right"


def test_each_wrong_answer_gets_its_own_words_on_screen() -> None:
    ex = exercise(seed=8)
    for name, item in ex.items.items():
        if item.pick == "several":
            continue
        told = set()
        for option in item.options:
            if option.value in item.key:
                continue
            fresh = exercise(seed=8, questions=[name])
            fresh.answer(name, option.value)
            fresh.check()
            says = fresh.choices[name].says
            assert says == mark(item, option.value).because and f"“{option.label}”" in says
            told.add(says)
        assert len(told) == len(item.options) - 1


# -- tries -------------------------------------------------------------------------------------------------

def test_a_wrong_answer_leaves_one_more_try_and_does_not_show_the_answer() -> None:
    ex = exercise(questions=["control"])
    ex.answer("control", wrong(ex, "control"))
    ex.check()
    ask = ex.choices["control"]
    assert ask.state == "again" and not ask.locked and ask.shown_key == [] and ask.can_look
    assert ex.marks["control"].points == 0
    ex.answer("control", ex.items["control"].right)
    ex.check()
    assert ask.state == "right" and ask.locked
    assert ex.verdict() == "control: right at try 2\n1 of 1 right"
    assert not ex.first["control"].right


def test_after_the_second_wrong_try_the_answer_is_shown() -> None:
    ex = exercise(questions=["control"])
    for at in (0, 1):
        ex.answer("control", wrong(ex, "control", at))
        ex.check()
    ask, item = ex.choices["control"], ex.items["control"]
    assert ask.state == "shown" and ask.locked and ask.shown_key == list(item.key)
    assert f"The answer is: {item.option(item.key[0]).label}. {item.because}" in ask.says
    assert ex.verdict() == f"control: answer shown (said {wrong(ex, 'control', 1)})\n0 of 1 right"


def test_pressing_check_twice_on_the_same_answer_costs_no_try() -> None:
    ex = exercise(questions=["control"])
    ex.answer("control", wrong(ex, "control"))
    ex.check()
    ex.check()
    assert ex.choices["control"].state == "again"


def test_a_partly_right_answer_is_said_to_be_one() -> None:
    ex = exercise(questions=["reset"])
    ex.answer("reset", ["outdoor sensor"])
    ex.check()
    assert ex.choices["reset"].state == "part" and 0 < ex.marks["reset"].points < ex.marks["reset"].of


def test_questions_that_are_not_answered_cost_no_try() -> None:
    ex = exercise()
    ex.answer("control", ex.items["control"].right)
    ex.check()
    assert set(ex.marks) == {"control"} and "7 not answered yet" in ex.report.text


# -- on the drawing ----------------------------------------------------------------------------------------

def test_a_wrong_answer_is_lit_up_on_the_drawing_that_stands() -> None:
    ex = exercise(seed=1, questions=["dhw"])
    assert ex.reading.tanks
    drawn = ex.canvas.svg
    ex.answer("dhw", "none")
    ex.check()
    assert set(ex.reading.tanks) <= set(ex.canvas.marks)
    assert ex.canvas.svg == drawn, "lit up by a patch, not by a new drawing"
    assert ex.canvas.caption.startswith("Lit up: ")


def test_every_part_that_can_be_lit_up_is_on_the_drawing() -> None:
    ex = exercise(seed=1)
    ex.show_answers()
    for name in ex.items:
        ex.look(name)
        for lit in ex.canvas.marks:
            kind = "run" if ">" in lit else "tag"
            assert f'data-{kind}="{lit.replace(">", "&gt;")}"' in ex.canvas.svg


def test_looking_before_an_answer_gives_nothing_away() -> None:
    ex = exercise(questions=["control"])
    ex.look("control")
    assert ex.canvas.marks == {} and not ex.choices["control"].can_look


def test_the_key_does_not_go_to_the_page_before_it_is_shown() -> None:
    ex = exercise(seed=1)
    for ask in ex.choices.values():
        sent = ask.get_state()
        assert sent["shown_key"] == [] and sent["says"] == "" and sent["hints"] == []


def test_neither_the_drawing_nor_its_description_reads_the_plant_for_the_learner() -> None:
    for seed in range(20):
        ex = exercise(seed=seed)
        assert "tints" in ex.canvas.svg.split('data-hide="')[1].split('"')[0].split()
        told = ex.canvas.svg.split("<desc>")[1].split("</desc>")[0].lower() + ex.canvas.description.lower()
        for word in ("single loop", "separated", "system loop", "boiler loop", "return: ", "leads"):
            assert word not in told
        assert ex.canvas.hide == ["tints"]


def test_once_all_is_done_the_drawing_shows_the_loops() -> None:
    ex = exercise(seed=1)
    ex.show_answers()
    assert ex.canvas.hide == [] and ex.reading.arrangement in ex.canvas.description
    ex.another(2)
    assert ex.canvas.hide == ["tints"] and "loop" not in ex.canvas.description


# -- hints and answers -------------------------------------------------------------------------------------

def test_hints_come_in_three_steps_and_then_no_more() -> None:
    ex = exercise(questions=["control"])
    told = [ex.hint("control") for _ in range(4)]
    assert told[3] == "" and len(set(told[:3])) == 3
    assert ex.choices["control"].hints == told[:3] and ex.choices["control"].hints_left == 0


def test_a_hint_without_a_name_is_for_the_first_question_that_is_not_done() -> None:
    ex = exercise(questions=["arrangement", "control"])
    ex.answer("arrangement", ex.items["arrangement"].right)
    ex.check()
    ex.hint()
    assert ex.choices["control"].hints and not ex.choices["arrangement"].hints


def test_the_hint_button_of_a_question_gives_its_hint() -> None:
    ex = exercise()
    ex.choices["return"].hint_pressed += 1
    assert len(ex.choices["return"].hints) == 1


def test_shown_answers_earn_nothing() -> None:
    ex = exercise(questions=["control", "boilers"])
    ex.answer("control", ex.items["control"].right)
    ex.check()
    ex.show_answers()
    assert ex.verdict() == "control: right\nboilers: answer shown\n1 of 2 right"
    assert ex.marks["boilers"].points == 0


# -- plants ------------------------------------------------------------------------------------------------

def test_the_same_seed_shows_a_class_the_same_plant() -> None:
    one, two = exercise(seed=77), exercise(seed=77)
    assert one.canvas.svg == two.canvas.svg and list(one.items.values()) == list(two.items.values())
    assert one.head.text.startswith("Plant 77")


def test_another_plant_wipes_marks_and_lights() -> None:
    ex = exercise()
    solve(ex)
    ex.another(4)
    assert ex.seed == 4 and ex.marks == {} and ex.canvas.marks == {} and ex.report.text == ""
    assert ex.verdict().endswith("0 of 8 right") and ex.seed_box.value == "4"


def test_the_button_takes_some_other_plant() -> None:
    ex = exercise()
    ex.another_button.click()
    assert ex.seed is not None and ex.seed != 3


def test_small_plants_and_one_arrangement_are_kept_to_and_not_taken_for_others(record: Record) -> None:
    ex = exercise(seed=7, size="small", arrangement="single loop", record=record, key="first")
    assert len(ex.reading.boilers) == 1 and ex.head.text.startswith("Small plant 7")
    ex.another(8)
    assert ex.reading.arrangement == "single loop"
    assert exercise(seed=7, size="small", arrangement="single loop", record=record, key="first").seed == 8
    assert exercise(seed=7, record=record, key="first").seed == 7


def test_a_typed_number_takes_that_plant() -> None:
    ex = exercise()
    ex.seed_box.value = " 41 "
    assert ex.seed == 41 and ex.seed_box.value == "41"


@pytest.mark.parametrize("typed", ["forty", "-1", "1000000", "4.5", "²", "1e3"])
def test_a_number_that_is_none_is_refused_in_the_widget(typed: str) -> None:
    ex = exercise()
    ex.seed_box.value = typed
    assert ex.seed == 3 and ex.report.tone == "trouble"
    assert ex.report.text == "A plant number is a whole number from 0 to 999999."


@pytest.mark.parametrize("seed", [-1, 1_000_000, "3", 2.0, True])
def test_a_seed_that_is_none_is_refused(seed: object) -> None:
    with pytest.raises(ValueError, match="whole number from 0 to 999999"):
        exercise(seed=seed)


def test_a_plant_of_ones_own_can_be_asked_about(tmp_path: Path) -> None:
    plant = Scheme.random(5).plant()
    file = tmp_path / "mine.toml"
    file.write_text(write_plant(plant))
    for given in (plant, Scheme.random(5), file, str(file)):
        ex = exercise(seed=None, plant=given)
        solve(ex)
        assert ex.verdict().endswith("8 of 8 right") and ex.head.text.startswith("This plant")


def test_a_plant_file_with_faults_is_told_in_the_widget(tmp_path: Path) -> None:
    file = tmp_path / "bad.toml"
    file.write_text('format = 1\n[parts.B]\nkind = "boyler"\n')
    ex = exercise(seed=None, plant=file)
    assert ex.report.tone == "trouble" and "boyler" in ex.report.text and "runs" in ex.report.text
    assert ex.head.text == "This plant cannot be read" and ex.items == {}
    ex.another_button.click()
    assert ex.items and ex.report.text == ""


def test_seed_and_plant_together_are_refused() -> None:
    with pytest.raises(ValueError, match="not both"):
        exercise(plant=Scheme.random(5))
    with pytest.raises(ValueError, match="not int"):
        exercise(seed=None, plant=3)


def test_text_from_a_plant_is_data() -> None:
    """The front end sets the title as text; in the drawing it is escaped."""
    plant = parse_plant('format = 1\ntitle = "R&D \\" onload=\\"x"\nparts.B.kind = "boiler"\n'
                        'parts.P.kind = "pump"\nparts.E.kind = "emitter"\n[[runs]]\n'
                        'through = ["B", "P", "E", "B"]\nsize = "NPS 1"\nlength_m = 20.0\n')
    ex = exercise(seed=None, plant=plant)
    assert ex.head.text == 'This plant: R&D " onload="x'
    assert "R&D" not in ex.canvas.svg and 'onload="x' not in ex.canvas.svg


# -- what goes wrong ---------------------------------------------------------------------------------------

def test_unknown_questions_and_answers_are_refused() -> None:
    ex = exercise(questions=["control"])
    with pytest.raises(BadAnswer, match="no question 'colour' here"):
        ex.answer("colour", "red")
    with pytest.raises(BadAnswer, match="is no answer here"):
        ex.answer("control", "red")
    assert ex.choices["control"].value == []


def test_a_value_that_only_a_tampered_page_can_send_is_told_in_plain_words() -> None:
    ex = exercise(questions=["control"])
    ex.choices["control"].value = ["red"]
    ex.check_button.click()
    assert ex.report.tone == "trouble" and "'red' is no answer here" in ex.report.text
    assert ex.marks == {}


def test_check_with_nothing_answered_says_so() -> None:
    ex = exercise()
    ex.check_button.click()
    assert ex.report.text == "Nothing is answered yet."


def test_a_failure_is_told_in_plain_words(monkeypatch: pytest.MonkeyPatch) -> None:
    ex = exercise()

    def fail(*given: object) -> None:
        raise RuntimeError("no plant today")

    monkeypatch.setattr("widgets.show.exercise._made", fail)
    ex.another_button.click()
    assert ex.report.tone == "trouble"
    assert "This did not work: RuntimeError: no plant today" in ex.report.text


def test_a_record_that_fails_is_said_once_and_the_exercise_goes_on(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    ex = exercise(record=Record(tmp_path / "file" / "below"), key="which")
    assert "nothing is kept" in ex.caution.text and ex.record is None
    solve(ex)
    assert ex.verdict().endswith("8 of 8 right")


# -- the record and a restart ------------------------------------------------------------------------------

def test_every_try_is_kept_before_the_screen_says_so(
        record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    ex = exercise(record=record, questions=["control"])
    ask = ex.choices["control"]
    states = []
    add = Record.add

    def watch(self: Record, kind: str, **more: object) -> int:
        number = add(self, kind, **more)  # type: ignore[arg-type]
        states.append((kind, ask.state))
        return number

    monkeypatch.setattr(record_module.Record, "add", watch)
    said = wrong(ex, "control")
    ex.answer("control", said)
    ex.check()
    solve(ex)
    assert states == [("answer", ""), ("answer", "again")]
    first, second = record.rows(kind="answer")
    assert (first.item, first.objective, first.answer, first.points) == ("control", "C1", [said], 0.0)
    assert first.more["try"] == 1 and second.more["try"] == 2 and second.points == 1.0
    assert second.seed == 3 and parse_plant(second.plant) == ex.plant


def test_a_restart_finds_the_plant_and_the_answers_again(record: Record) -> None:
    ex = exercise(record=record, key="which")
    ex.another(19)
    ex.answer("arrangement", ex.items["arrangement"].right)
    ex.answer("control", wrong(ex, "control"))
    ex.hint("return")
    ex.check()
    again = exercise(record=record, key="which")
    assert again.seed == 19 and again.canvas.svg == ex.canvas.svg
    assert again.verdict() == ex.verdict()
    assert again.choices["return"].hints == ex.choices["return"].hints
    assert len(record.rows(kind="answer")) == 2, "finding them again adds nothing"
    solve(again)
    assert "control: right at try 2" in again.verdict()


def test_a_restart_finds_the_plant_itself_even_where_its_seed_makes_another_by_now(
        record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    ex = exercise(record=record, key="which")
    monkeypatch.setattr("widgets.show.exercise._made", lambda *given: Scheme.random(99).plant())
    assert exercise(record=record, key="which").plant == ex.plant
    assert exercise(record=record, key="other").plant == Scheme.random(99).plant()


def test_a_restart_finds_a_plant_of_ones_own_again(record: Record) -> None:
    plant = Scheme.random(5)
    solve(exercise(seed=None, plant=plant, record=record, key="mine"))
    again = exercise(seed=None, plant=plant, record=record, key="mine")
    assert again.verdict().endswith("8 of 8 right") and again.seed is None
    again.another(4)
    assert exercise(seed=None, plant=plant, record=record, key="mine").plant == plant.plant()


def test_an_exercise_begun_without_a_seed_keeps_its_plant_over_a_restart(record: Record) -> None:
    ex = exercise(seed=None, record=record, key="any")
    assert exercise(seed=None, record=record, key="any").seed == ex.seed


def test_another_exercise_another_learner_and_another_beginning_find_nothing(
        record: Record, tmp_path: Path) -> None:
    solve(exercise(record=record, key="which"))
    for fresh in (exercise(record=record, key="other"), exercise(record=record, key="which", seed=4),
                  exercise(record=Record(tmp_path, learner="Ada"), key="which"), exercise(record=record)):
        assert fresh.verdict().endswith("0 of 8 right")


def test_its_repr_is_short_and_stable() -> None:
    ex = exercise()
    assert repr(ex) == f"<Exercise on Plant 3: {ex.plant.title}>"
    assert repr(ex.canvas) == "<Canvas>" and repr(ex.report) == "<Note>"
