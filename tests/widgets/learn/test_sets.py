"""Sets of questions at a lesson's end: what cannot be asked is refused, and what was answered is found again."""

from __future__ import annotations

import pytest

from figures.plant.scheme import Scheme
from widgets.learn import Record
from widgets.learn.sets import PracticeSet


@pytest.mark.parametrize(("codes", "given", "says"), [
    (("R7", "X1"), {}, "objectives: X1; name some of R1"),
    ((), {}, "objectives: none; name some of R1"),
    (("R7",), {"levels": (2, 1)}, "two numbers from 0 to 3, the easier one first"),
    (("R7",), {"count": 21}, "count: 21; a set has 1 to 20 questions"),
    (("R7",), {"kinds": ("order",)}, "kinds: none of order asks about R7; loop, drawings, true or false do"),
    (("P1",), {"plant": Scheme().plant()}, "nothing about P1 can be asked of this plant")])
def test_what_cannot_be_asked_is_refused(codes, given, says):
    """Where, and what there is."""
    with pytest.raises(ValueError, match=says):
        PracticeSet(codes, seed=1, **given)


def test_a_set_is_found_again_as_it_was_left(tmp_path):
    """The same questions with their answers; another seed's are another set's, and the next set is remembered."""
    record = Record(tmp_path)

    def opened(seed: int = 4) -> PracticeSet:
        return PracticeSet(("R8", "R9"), seed=seed, count=3, key="own", record=record)

    first = opened()
    assert first.hint() == first.item(0).hints[0].says and first.hint() == first.item(0).hints[1].says
    first.answer(first.next().right)
    first.answer(next(option.value for option in first.next().options if option.value not in first.next().key))
    again = opened()
    assert (again.place, again.right, again.asked) == (2, 1, ["R8", "R9"]) and again.item(2) == first.item(2)
    again.answer(again.next().right)
    assert again.over and (again.place, again.right) == (2, 2) and opened().over and opened(5).place == 0
    again.another()
    assert (opened().number, opened().place, opened().item(0) == first.item(0)) == (1, 0, False)
    assert [row.more["hints"] for row in record.rows(kind="answer")] == [2, 0, 0]


def test_an_answer_to_a_question_that_is_asked_no_more_leaves_it_open(tmp_path):
    """A newer Loopbook may ask something else in that place; what was said to another question is no answer to it."""
    record = Record(tmp_path)
    origin = PracticeSet(("R8",), seed=4, count=2).origin
    for item, answer in (("bank/another", "1"), (PracticeSet(("R8",), seed=4, count=2).item(0).id, "no such answer")):
        record.add("answer", exercise="own", item=item, objective="R8", answer=answer, points=1.0, of=1.0,
                   more={"origin": origin, "set": 0, "place": 0})
    assert PracticeSet(("R8",), seed=4, count=2, key="own", record=record).place == 0


def test_of_a_given_plant_each_objective_is_asked_in_turn():
    """As many questions as there are, and of that plant alone."""
    plant = Scheme(boilers=2, tank="system loop").plant()
    asked = PracticeSet(("R8", "R7"), seed=1, count=20, plant=plant)
    codes = [asked.item(n).objective for n in range(4)]
    assert set(codes[:2]) == {"R7", "R8"} and codes[2:] == codes[:2] and 4 <= asked.count < 20
    assert all(asked.item(n).plant == plant for n in range(asked.count))
