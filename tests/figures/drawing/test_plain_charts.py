"""Small charts as plain SVG: where their ink stands, and what they say."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from figures.drawing.plain_charts import bars, lines

SVG = "{http://www.w3.org/2000/svg}"


def test_a_line_stands_where_its_figures_are() -> None:
    """The highest figure is drawn highest, equal figures equally high, and hours run to the right in even steps."""
    drawn = lines([0, 1, 2, 3], {"room": [20.0, 18.0, 20.0, 15.0]}, x_name="hour", y_name="°C", title="Room")
    line = ElementTree.fromstring(drawn.svg).find(f"{SVG}polyline")
    assert line is not None
    points = [tuple(map(float, pair.split(","))) for pair in line.attrib["points"].split()]
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = points
    assert y0 == y2 < y1 < y3
    assert x1 - x0 == pytest.approx(x2 - x1, abs=0.2) and x3 > x2
    assert (y3 - y0) / (y1 - y0) == pytest.approx(2.5, abs=0.05)


def test_a_gap_in_the_figures_is_a_gap_in_the_line() -> None:
    """Still water has no temperature, and nothing is drawn for it."""
    drawn = lines([0, 1, 2, 3, 4], {"supply": [60.0, 61.0, math.nan, 62.0, 63.0]}, x_name="h", y_name="°C", title="Supply")
    assert drawn.svg.count("<polyline") == 2


def test_bars_are_as_long_as_their_figures_and_carry_them() -> None:
    """Twice the flow, twice the bar; the least of a group is named, unless all are equal."""
    drawn = bars({"one": [0.5, 1.0], "two": [0.7, 0.7]}, unit="L/s", title="Flow", least="← least")
    wide = [float(r.attrib["width"]) for r in ElementTree.fromstring(drawn.svg).findall(f"{SVG}rect")[1:]]
    assert wide[1] == pytest.approx(2.0 * wide[0], abs=0.2) and wide[2] == wide[3]
    assert drawn.svg.count("← least") == 1 and "0.50 L/s ← least" in drawn.svg


def test_words_never_become_markup_and_nothing_runs_out_of_the_picture() -> None:
    """A title is data; a long legend takes further rows, each within the width."""
    names = {f"a rather long name of line number {n} <b>": [1.0, 2.0] for n in range(6)}
    drawn = lines([0, 1], names, x_name="h", y_name="K", title="<script>", spans={"shaded": [(0.2, 0.4)]})
    page = ElementTree.fromstring(drawn.svg)
    width, height = (float(v) for v in page.attrib["viewBox"].split()[2:])
    places = [(float(t.attrib["x"]), float(t.attrib["y"])) for t in page.iter(f"{SVG}text")]
    assert all(0.0 <= x <= width and 0.0 <= y <= height for x, y in places)
    assert "<script>" not in drawn.svg and page.find(f"{SVG}title") is not None
    assert re.search(r"<text[^>]*>&lt;script&gt;", drawn.svg)


@pytest.mark.parametrize("bad", [{}, {"a": [1.0]}, {"a": [math.nan, math.nan]}])
def test_what_cannot_be_drawn_is_refused(bad: dict[str, list[float]]) -> None:
    """No line, a line of another length, no figure at all: told in words, not drawn wrongly."""
    with pytest.raises(ValueError, match="chart needs"):
        lines([0, 1], bad, x_name="h", y_name="K", title="t")
