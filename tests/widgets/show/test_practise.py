"""The questions at a lesson's end: graded, from easy to hard, and found again as they were left."""

from __future__ import annotations

from pathlib import Path

import pytest

from widgets import practise
from widgets.learn import OBJECTIVES, Record
from widgets.show.lesson import example


def wrong(asked) -> str:
    return next(o.value for o in asked.question.item.options if o.value not in asked.question.item.key)


@pytest.mark.parametrize("code", OBJECTIVES)
def test_every_objective_can_be_practised_from_easy_to_hard(code: str) -> None:
    """Three questions, each harder than the one before, no two of one kind in a row, and all keys are right."""
    asked = practise(code, seed=11, count=3, record=False)
    items = [asked.session.item(n) for n in range(3)]
    assert [item.difficulty for item in items] == [0, 1, 2]
    assert items[0].kind != items[1].kind != items[2].kind
    assert all(item.objective == code for item in items)
    asked.answer_all_right()
    assert asked.verdict() == "3 of 3 right"


def test_leaving_and_coming_back_loses_nothing(tmp_path: Path) -> None:
    """The same set, the same marks, at the question that was open; and after 'Another set' that one."""
    def opened():
        return practise("R2", "R5", seed=4, count=3, key="here", record=Record(tmp_path))
    asked = opened()
    asked.question.ask.value = [wrong(asked)]
    asked.check_button.click()
    asked.next_button.click()
    asked.question.ask.value = [asked.question.item.key[0]]
    asked.check_button.click()
    back = opened()
    assert [mark.right for mark in back.session.marks.values()] == [False, True]
    assert back.head.text.startswith("Question 3 of 3") and "1 of 2 right" in back.report.text
    back.answer_all_right()
    over = opened()
    assert over.verdict() == "2 of 3 right" and OBJECTIVES["R2"].text in over.report.text
    over.another_button.click()
    assert opened().session.number == 1 and opened().verdict() == "0 of 3 right"
    assert practise("R2", "R5", seed=5, count=3, key="here", record=Record(tmp_path)).session.marks == {}


def test_no_mark_of_failure_stands_before_the_first_success() -> None:
    """The reason is told, in a plain tone; after a success a miss may look like one."""
    asked = practise("R2", seed=4, count=3, record=False)
    for tone, right in (("plain", False), ("right", True), ("wrong", False)):
        asked.question.ask.value = [asked.question.item.key[0] if right else wrong(asked)]
        asked.check_button.click()
        if not asked.session.over:
            assert asked.report.tone == tone
        assert asked.question.ask.says and asked.question.ask.state == ("right" if right else "shown")
        asked.next_button.click()


def test_questions_can_be_about_a_plant_of_ones_own() -> None:
    """Those that can be asked of any plant, on the objectives named."""
    plant = example(3, "separated loops", "DHW on the boiler loop")
    asked = practise("R7", "C1", seed=1, plant=plant, record=False)
    asked.answer_all_right()
    assert {asked.session.item(n).objective for n in range(asked.session.count)} == {"R7", "C1"}
    assert all(asked.session.item(n).plant is plant for n in range(asked.session.count))


def test_what_there_is_not_is_refused_in_a_sentence() -> None:
    """An objective, a kind, a count."""
    for given, said in ((("X1",), "name some of R1"), ((), "none; name some"),):
        with pytest.raises(ValueError, match=said):
            practise(*given, seed=1, record=False)
    with pytest.raises(ValueError, match="none of order asks about R1"):
        practise("R1", seed=1, kinds=["order"], record=False)
    with pytest.raises(ValueError, match="1 to 20"):
        practise("R1", seed=1, count=0, record=False)
