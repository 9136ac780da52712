"""A lesson's plants are what it asks for, and what it says of them is checked first."""

import pytest

from figures.reading import read
from widgets.show.aloud import read_aloud
from widgets.show.exercise import Exercise
from widgets.show.lesson import Untrue, example, lesson_seed, says
from widgets.show.look import ASK, look_at, what_is

FIVE = [
    ("single loop", "heating only"),
    ("single loop", "DHW on the system loop"),
    ("separated loops", "heating only"),
    ("separated loops", "DHW on the system loop"),
    ("separated loops", "DHW on the boiler loop"),
]


@pytest.mark.parametrize("boilers", ["one", "several"])
@pytest.mark.parametrize(("arrangement", "control"), FIVE)
def test_an_example_is_read_as_what_was_asked_for(arrangement: str, control: str, boilers: str) -> None:
    """By the reading, for thirty seeds; and the same seed gives the same plant."""
    for seed in range(30):
        plant = example(seed, arrangement, control, boilers)
        reading = read(plant)
        assert (arrangement, control) == (reading.arrangement, reading.control), seed
        assert (len(reading.boilers) > 1) == (boilers == "several"), seed
        assert plant == example(seed, arrangement, control, boilers)


def test_the_first_plant_of_all_has_at_most_eight_tags() -> None:
    """A cascade of tags on the first page is what makes people stop."""
    assert all(len(example(seed, "single loop", "heating only").parts) <= 8 for seed in range(100))


@pytest.mark.parametrize(("arrangement", "control", "boilers"), [
    ("single loop", "DHW on the boiler loop", "one"), ("single loop", "heating only", "many"),
    ("two loops", "heating only", "one"), ("single loop", "mode", "several"),
])
def test_what_cannot_be_is_refused(arrangement: str, control: str, boilers: str) -> None:
    """With a ValueError in plain words."""
    with pytest.raises(ValueError, match=r"loop|control|boilers"):
        example(1, arrangement, control, boilers)


@pytest.mark.parametrize(("fact", "value"), [
    ("arrangement", "separated loops"), ("control", "heating only"), ("dhw", "boiler loop"),
    ("dhw_priority", "always"), ("boilers", "several"), ("boilers", 2), ("lead", "B2"),
    ("return_order", "reverse"), ("separation", "hydraulic separator"),
])
def test_a_sentence_does_not_show_where_one_of_its_facts_is_otherwise(fact: str, value: object) -> None:
    """Each fact by itself, on a single loop with one boiler and a tank."""
    plant = example(1, "single loop", "DHW on the system loop")
    with pytest.raises(Untrue, match=fact):
        says(plant, "It is so.", **{fact: value})


def test_a_sentence_shows_the_plants_own_tags() -> None:
    """Places in it are filled from the reading."""
    plant = example(1, "single loop", "DHW on the system loop")
    said = says(plant, "{boilers} feeds {loads}; {tanks} is the tank.", arrangement="single loop", boilers="one",
                control="DHW on the system loop", dhw_priority="optional", separation="none", lead="B1")
    assert str(said) == said._repr_markdown_() == "B1 feeds E1 and IT; IT is the tank."


def test_a_sentence_without_a_fact_is_refused() -> None:
    """Otherwise it would hold for any plant without anybody having looked."""
    plant = example(1, "single loop", "heating only")
    with pytest.raises(ValueError, match="rests on no fact"):
        says(plant, "It is so.")
    with pytest.raises(ValueError, match="'colour' is no fact"):
        says(plant, "It is so.", colour="red")


def test_the_seed_comes_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """A whole number, or one clear line."""
    monkeypatch.setenv("LOOPBOOK_SEED", " 41 ")
    assert lesson_seed(3) == 41
    monkeypatch.setenv("LOOPBOOK_SEED", "")
    assert lesson_seed(3) == 3
    monkeypatch.setenv("LOOPBOOK_SEED", "four")
    with pytest.raises(ValueError, match="LOOPBOOK_SEED is 'four'; it has to be a whole number"):
        lesson_seed()


def test_a_look_says_what_is_picked_and_gives_no_loop_away() -> None:
    """Every part and every pipe has its words; the drawing names no loop, for a lesson asks that first."""
    plant = example(2, "separated loops", "DHW on the boiler loop", "several")
    look = look_at(plant)
    for name in (*plant.parts, *plant.run_names):
        look.picked, look.n = name, look.n + 1
        assert look.marks == {name: "look"}
        assert look.caption == what_is(plant, name) != ""
    look.tell("NOT-THERE")
    assert (look.marks, look.caption) == ({}, ASK)
    assert "boiler loop" not in look.description
    assert look.hide == ["tints"]


def test_an_exercise_of_small_plants_stays_small() -> None:
    """Another plant is as small as the first, and the same number gives the same plant."""
    exercise = Exercise(seed=11, size="small", record=False)
    assert len(exercise.reading.boilers) == 1
    assert exercise.head.text.startswith("Small plant 11: ")
    for seed in range(20):
        exercise.another(seed)
        assert len(exercise.reading.boilers) == 1
        assert sum(exercise.plant.is_load(tag) for tag in exercise.plant.parts) <= 2


def test_an_exercise_of_one_arrangement_keeps_to_it() -> None:
    """The first lesson asks of single loops only, for it has taught nothing else."""
    exercise = Exercise(seed=1, size="small", arrangement="single loop", record=False)
    for seed in range(20):
        assert exercise.reading.arrangement == "single loop"
        exercise.another(seed)


def test_what_is_not_spoken_of_yet_is_left_out() -> None:
    """The first lesson reads a plant without reset, return and lead."""
    plant = example(1, "single loop", "heating only")
    whole, part = read_aloud(plant).text(), read_aloud(plant, leave_out=("reset", "return", "lead")).text()
    for words in ("Outdoor reset", "order of return", "A sole boiler leads"):
        assert words in whole
        assert words not in part
