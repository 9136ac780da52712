"""Charts of progress: published intervals in words and in place, must-pass told without colour, no matplotlib before."""

import re
import subprocess
import sys
from datetime import date
from itertools import pairwise

import pytest

from figures.drawing.charts_progress import days_chart, objectives_chart

CODES = ("R7", "R8", "C2")


def objectives(**more):
    """Facts 14: 8 of 10 lies between 0.49016 and 0.94332, 24 of 30 between 0.62694 and 0.90495."""
    given = {"right": [8, 24, 0], "answers": [10, 30, 0], "low": [0.49016, 0.62694, 0.0], "high": [0.94332, 0.90495, 1.0],
             "weights": [6, 2, 4], "must_pass": [True, False, False]} | more
    return objectives_chart(CODES, **given)


def words(svg: str) -> str:
    return " ".join(re.findall(r"<text[^>]*>([^<]*)<", svg))


def test_shares_and_intervals_are_said():
    chart = objectives()
    assert "R7, weight 6, must be passed: 8 of 10 right, 80 %, likely between 49 and 94 %." in chart.alt
    assert "R8, weight 2: 24 of 30 right, 80 %, likely between 63 and 90 %." in chart.alt
    assert "C2, weight 4: not asked yet." in chart.alt
    shown = words(chart.svg())
    assert "8 of 10" in shown and "24 of 30" in shown and "not asked yet" in shown
    assert shown == words(objectives().svg()) and chart.svg() == chart.svg() == objectives().svg()


def test_points_and_lines_stand_where_the_figures_say():
    """The ends of the lines in the drawn figure itself; what was not asked has no point."""
    axes = objectives().figure.axes[0]
    drawn = [tuple(segment[:, 0]) for c in axes.containers for segment in c.lines[2][0].get_segments()]
    assert sorted(drawn) == [pytest.approx((49.016, 94.332)), pytest.approx((62.694, 90.495))]


def test_must_pass_is_told_without_colour():
    """By the marker's form and by a sign before its name."""
    axes = objectives().figure.axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["◆ R7", "R8", "C2"]
    assert {c.lines[0].get_marker() for c in axes.containers} == {"o", "D"}
    assert "◆" not in words(objectives(must_pass=[False] * 3).svg())


def test_days_with_gaps_stand_apart():
    """Heights and places in the figure; hatching besides colour."""
    chart = days_chart([date(2026, 2, 27), date(2026, 3, 2)], [4, 6], [2, 6])
    right, rest = chart.figure.axes[0].containers
    assert [bar.get_x() + bar.get_width() / 2 for bar in right] == pytest.approx([0.0, 3.0])
    assert [bar.get_height() for bar in right] == [2, 6] and [bar.get_height() for bar in rest] == [2, 0]
    assert {bar.get_hatch() for bar in right} != {bar.get_hatch() for bar in rest}
    assert "2026-02-27: 4 answers, 2 right." in chart.alt
    assert "27 Feb" in words(chart.svg()) and "2 Mar" in words(chart.svg())


@pytest.mark.parametrize("days", [1, 8, 40, 400])
def test_dates_do_not_run_into_each_other(days):
    found = [date.fromordinal(738000 + n) for n in range(days)]
    chart = days_chart(found, [3] * days, [1] * days)
    chart.figure.canvas.draw()
    boxes = [label.get_window_extent() for label in chart.figure.axes[0].get_xticklabels()]
    assert all(a.x1 < b.x0 for a, b in pairwise(boxes))


def test_odd_arrays_are_refused():
    with pytest.raises(ValueError, match="one length"):
        objectives(right=[1])
    with pytest.raises(ValueError, match="not 3 and 1"):
        objectives(must_pass=[True])
    with pytest.raises(ValueError, match="oldest first"):
        days_chart([date(2026, 3, 2), date(2026, 3, 1)], [1, 1], [1, 1])
    with pytest.raises(ValueError, match="one length"):
        days_chart([], [], [])


def test_no_matplotlib_before_a_chart_is_made():
    code = "import sys, figures.drawing.charts_progress; print('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "False"
