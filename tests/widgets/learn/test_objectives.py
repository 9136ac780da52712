"""The objectives and the misconceptions, as the teachers' page has them."""

from widgets.learn.misconceptions import MISCONCEPTIONS
from widgets.learn.objectives import OBJECTIVES, PARTS


def test_the_weights_of_each_part_are_those_of_the_teachers_page() -> None:
    weights = {part: sum(o.weight for o in OBJECTIVES.values() if o.part == part) for part in PARTS}
    assert weights == {"Read": 35, "Configure": 25, "Foresee": 18, "Judge": 17, "Prove": 5}


def test_four_objectives_must_be_passed() -> None:
    assert {o.code for o in OBJECTIVES.values() if o.must_pass} == {"R7", "C1", "J1", "J4"}


def test_each_objective_completes_you_can() -> None:
    assert all(o.text[0].islower() and not o.text.endswith(".") for o in OBJECTIVES.values())


def test_twenty_two_misconceptions_each_with_what_puts_it_right() -> None:
    assert list(MISCONCEPTIONS) == list(range(1, 23))
    for mistake in MISCONCEPTIONS.values():
        assert mistake.says and mistake.why and mistake.correct_with
        assert mistake.hint.endswith(".")
