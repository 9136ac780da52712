"""The bar at a lesson's top and the card at its end."""

from __future__ import annotations

from pathlib import Path

import pytest

from widgets import Exercise, card, tells, your_workbook
from widgets.learn.consent import KEEP_VARIABLE
from widgets.learn.record import FOLDER_VARIABLE


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "data"))
    monkeypatch.delenv(KEEP_VARIABLE, raising=False)
    return tmp_path / "data"


def test_what_was_answered_before_the_yes_comes_back_after_it(home: Path) -> None:
    """An exercise answered, the yes later, the notebook run again: nothing is lost, and nothing was on disk before."""
    def opened() -> Exercise:
        return Exercise(seed=3, questions=["control"], key="kit")
    bar, exercise = your_workbook(), opened()
    exercise.answer("control", exercise.items["control"].right)
    exercise.check()
    assert not home.exists() and bar.keep == "" and "Nothing is sent anywhere" in bar.says
    bar.keep = "yes"
    assert (home / "record.sqlite3").exists() and "kept on this machine" in bar.says
    assert opened().verdict().endswith("1 of 1 right")
    bar.keep = "no"
    assert "From now on nothing is kept" in bar.says and your_workbook().keep == "no"


def test_units_chosen_in_one_bar_are_those_of_every_bar_and_card(home: Path) -> None:
    """And of the pages opened next."""
    bar, other = your_workbook(), your_workbook()
    recap = card("Supply", tells(None, "The supply is {warm}.", warm=(80.0, "°C")), "Plain **words**.")
    bar.units = "us"
    assert other.units == your_workbook().units == "us"
    assert recap.lines == ["The supply is 176.0 °F.", "Plain **words**."]


def test_a_card_is_text_where_no_widget_can_run() -> None:
    """A saved page shows it as a list; a card of nothing is refused."""
    bundle, _ = card("Supply", "Out by the **supply**.")._repr_mimebundle_()
    assert bundle["text/markdown"].startswith("**Supply**\n\n- Out by the **supply**.")
    with pytest.raises(ValueError, match="at least one line"):
        card("Supply")
