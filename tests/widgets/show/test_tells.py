"""Figures in sentences: in the learner's units, and refused where one is missing."""

from __future__ import annotations

import math

import pytest

from widgets import tells
from widgets.learn.consent import choose
from widgets.show.lesson import example


def test_both_units_are_in_the_page_and_the_chosen_one_shows() -> None:
    """The bar hides one and shows the other; plain text holds the one that was chosen."""
    told = tells(None, "The supply is {supply}.", supply=(80.0, "°C"))
    assert repr(told) == "The supply is 80.0 °C." and told.us == "The supply is 176.0 °F."
    assert told._repr_markdown_() == ('The supply is <span class="lb-si">80.0 °C</span>'
                                      '<span class="lb-us" hidden>176.0 °F</span>.')
    try:
        choose(units="us")
        told = tells(None, "The supply is {supply}.", supply=(80.0, "°C"))
        assert repr(told) == "The supply is 176.0 °F." and '"lb-si" hidden' in told._repr_markdown_()
    finally:
        choose(units="si")


def test_the_names_of_a_plants_parts_can_be_used_and_cannot_become_markup() -> None:
    """As in `says`; a word that is given is text."""
    plant = example(2, "single loop", "heating only")
    assert repr(tells(plant, "{boilers} gives {heat}.", heat=(30.0, "kW"))) == "B1 gives 30 kW."
    assert "<b>" not in tells(None, "{tag}: {flow}", tag="<b>", flow=(1.0, "L/s"))._repr_markdown_()


@pytest.mark.parametrize(("values", "why"), [({}, "flow is missing"), ({"flow": (math.nan, "L/s")}, "no figure"),
                                             ({"flow": (None, "L/s")}, "no figure"), ({"flow": (1.0, "bushel")}, "no unit"),
                                             ({"flow": (1.0, "L/s"), "head": (1.0, "m")}, "head is not used")])
def test_a_sentence_without_its_figure_is_refused(values: dict[str, object], why: str) -> None:
    """A lesson with such a sentence does not run."""
    with pytest.raises(ValueError, match=why):
        tells(None, "It moves {flow}.", **values)
