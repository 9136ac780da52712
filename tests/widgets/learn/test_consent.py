"""Nothing of what a learner answers is written before they have agreed, and nothing is lost once they have."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from widgets.learn import Record, RecordTrouble
from widgets.learn.consent import KEEP_VARIABLE, choose, chosen, keeps, on_choice, own_record
from widgets.learn.record import FOLDER_VARIABLE


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder that is not there yet, of somebody who has not been asked."""
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv(KEEP_VARIABLE, raising=False)
    return tmp_path / "data"


def test_nothing_is_written_before_a_yes_and_what_was_answered_is_kept_after_it(home: Path) -> None:
    """Held in memory, shared by all widgets of a kernel, then handed over whole and in order."""
    own_record().add("plant", exercise="one", plant="format = 1\n")
    own_record().add("answer", exercise="one", answer=["x"], points=1.0, of=1.0)
    assert [row.kind for row in own_record().rows(exercise="one")] == ["plant", "answer"]
    assert not home.exists()
    choose(keep=True)
    assert [(row.kind, row.plant, row.answer) for row in Record(home).rows()] == [
        ("plant", "format = 1\n", None), ("answer", "", ["x"])]
    own_record().add("answer", exercise="two")
    assert len(Record(home).rows()) == 3


def test_a_no_can_be_taken_back_and_a_yes_too(home: Path) -> None:
    """After a no nothing more is written; what was kept stays until it is forgotten."""
    choose(keep=True)
    own_record().add("answer", item="kept")
    choose(keep=False)
    own_record().add("answer", item="not kept")
    assert [row.item for row in Record(home).rows()] == ["kept"]
    assert json.loads((home / "choices.json").read_text()) == {"keep": False, "units": "si"}


def test_units_are_kept_and_ask_for_no_yes_to_answers(home: Path) -> None:
    """Choosing units says nothing about answers; whoever listens is told."""
    heard: list[str] = []
    stop = on_choice(lambda now: heard.append(now.units))
    choose(units="us")
    stop()
    choose(units="si")
    assert heard == ["us"]
    assert chosen().keep is None and not keeps()


def test_a_damaged_file_of_choices_is_no_yes(home: Path) -> None:
    """Whatever stands in it, an answer is only kept by a plain true."""
    home.mkdir()
    for text in ("", "[]", '{"keep": "yes"}', '{"keep": 1, "units": "furlongs"}', "\x00\xff"):
        (home / "choices.json").write_text(text, encoding="utf-8")
        assert chosen().keep is None and chosen().units == "si"


def test_who_looks_after_a_machine_decides_for_it(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shared machine can be told to keep nothing."""
    choose(keep=True)
    monkeypatch.setenv(KEEP_VARIABLE, "no")
    own_record().add("answer")
    assert not keeps() and Record(home).rows() == []


def test_a_choice_that_cannot_be_written_holds_until_the_kernel_ends(home: Path) -> None:
    """And that is said in a sentence."""
    home.parent.mkdir(exist_ok=True)
    home.write_text("a file stands where the folder should be")
    with pytest.raises(RecordTrouble, match="until this page is closed"):
        choose(units="us")
    assert chosen().units == "us"


def test_an_examination_begins_only_after_a_yes(home: Path) -> None:
    """It asks first, writes nothing before, and is resumed after."""
    from widgets import Sitting

    sitting = Sitting(seed=1)
    assert repr(sitting) == "<Examination not begun>" and not home.exists()
    [agree] = sitting.bar.children
    agree.click()
    assert sitting.begun and Record(home).rows()
    assert Sitting(seed=2, wait=True).exam.name == sitting.exam.name


def test_an_examination_in_a_lesson_waits_for_begin(home: Path) -> None:
    """A lesson runs by itself when it is opened; nobody's clock may start by that."""
    from widgets import Sitting

    choose(keep=True)
    sitting = Sitting(seed=1, wait=True)
    assert not sitting.begun and "70 questions, 90 minutes" in sitting.head.text and Record(home).rows() == []
    [begin] = sitting.bar.children
    begin.click()
    assert sitting.begun and sitting.exam.seconds_left > 5000


def test_a_class_number_gives_everybody_the_same_plants_until_it_is_given_up(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Typed into the bar of a lesson it is found again by the next kernel; what starts the lesson goes before it."""
    from widgets.show.lesson import lesson_seed
    from widgets.show.workbook import Workbook

    monkeypatch.delenv("LOOPBOOK_SEED", raising=False)
    bar = Workbook()
    bar.number = "seven"
    assert bar.says.startswith("A plant number is a whole number") and lesson_seed(default=3) == 3
    bar.number = " 41 "
    assert lesson_seed(default=3) == 41 and "Class number 41." in bar.says and Workbook().number == "41"
    choose(units="us")
    assert chosen().number == 41
    monkeypatch.setenv("LOOPBOOK_SEED", "5")
    assert lesson_seed(default=3) == 5
    monkeypatch.delenv("LOOPBOOK_SEED")
    bar.number = ""
    assert lesson_seed(default=3) == 3
