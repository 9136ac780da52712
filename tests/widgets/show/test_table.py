"""Tables of figures: in the learner's units, as text, and refused where they do not fit."""

from __future__ import annotations

import pytest

from widgets.learn.consent import choose
from widgets.show.table import Table

ROWS = [["slow", (0.5, "lps"), (None, "c")], ["fast <b>", (1.0, "lps"), (80.0, "c")]]


def test_figures_follow_the_units_and_words_stay() -> None:
    """The table on the page changes when the bar is used; no cell is run again."""
    shown = Table("Two speeds", ["pump", "flow", "supply"], ROWS)
    assert shown.rows == [["slow", "0.5 L/s", "–"], ["fast <b>", "1 L/s", "80.0 °C"]]
    try:
        choose(units="us")
        assert shown.rows == [["slow", "7.93 gpm", "–"], ["fast <b>", "15.9 gpm", "176.0 °F"]]
        assert Table("Two speeds", ["pump", "flow", "supply"], ROWS).rows == shown.rows
    finally:
        choose(units="si")
    assert shown.rows[1] == ["fast <b>", "1 L/s", "80.0 °C"]


def test_a_saved_page_holds_the_table_without_markup_of_its_words() -> None:
    """A name from a plant file is text."""
    page = Table("Plant <i>", ["pump", "flow", "supply"], ROWS).html()
    assert "fast &lt;b&gt;" in page and "Plant &lt;i&gt;" in page and '<th scope="row">slow</th>' in page


def test_a_row_that_does_not_fit_is_refused() -> None:
    """Told with the row, so that it is found."""
    with pytest.raises(ValueError, match="the row 'slow' has 3 cells; the table has 2 columns"):
        Table("Two speeds", ["pump", "flow"], ROWS)
    with pytest.raises(ValueError, match="'furlong' is no unit"):
        Table("Two speeds", ["pump", "way"], [["slow", (1.0, "furlong")]])


def test_words_are_no_figure() -> None:
    """A proof that asks a cell for its figure is told where there is none."""
    shown = Table("Two speeds", ["pump", "flow", "supply"], ROWS)
    assert shown.column(1) == [0.5, 1.0]
    with pytest.raises(ValueError, match="no figure stands in row 0, column 2"):
        shown.value(0, 2)
