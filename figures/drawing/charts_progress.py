"""Charts of a learner's progress from plain arrays: how each objective stands, and the answers of each day.

Like every chart here: matplotlib is loaded when one is made, nothing is told by colour alone, and each says in words
what it shows.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

import numpy as np

from .charts import BLACK, BLUE, ORANGE, RED, SIZE, SMALL, Chart, Numbers, dress, new_figure, same_length

ROW_INCHES, AROUND_INCHES = 0.46, 2.1
MOST_DATES = 7
"""Dates written below the days; more would run into each other."""


def objectives_chart(codes: Sequence[str], right: Numbers, answers: Numbers, low: Numbers, high: Numbers, weights: Numbers,
                     must_pass: Sequence[bool], *, pass_share: float = 0.8, title: str = "") -> Chart:
    """How each objective stands: the share right with its interval, and how much it weighs in a test.

    codes: their names, first on top.  right, answers: how many were right, of how many; none is 'not asked yet'.
    low, high: ends of the interval [-].  weights [points of 100].  must_pass: to be passed whatever the total.
    pass_share: what those need [-].  Raises ValueError where the arrays differ in length or there are none.

    >>> print(objectives_chart(["R7"], [8], [10], [0.49], [0.943], [6], [True]))
    Share right of each objective.
    """
    got, of, below, above, weight = same_length(right=right, answers=answers, low=low, high=high, weights=weights)
    if len(codes) != len(got) or len(must_pass) != len(got):
        raise ValueError(f"a chart needs a name and a must-pass mark for each of {len(got)} objectives, not {len(codes)} and "
                         f"{len(must_pass)}")
    made = new_figure(10.0, AROUND_INCHES + ROW_INCHES * len(got))
    axes, beside = made.subplots(1, 2, sharey=True, width_ratios=(4.0, 1.0))
    dress(axes, "share right, %", "", title or "How each objective stands")
    dress(beside, "weight", "")
    rows = np.arange(len(got))
    asked = of > 0
    share = np.divide(got, of, out=np.zeros_like(got), where=asked)
    must = np.asarray(must_pass, dtype=bool)
    axes.axvline(100.0 * pass_share, color=RED, linewidth=2.0, linestyle=(0, (5, 2)))
    for these, marker, colour in ((asked & ~must, "o", BLUE), (asked & must, "D", RED)):
        spans = 100.0 * np.array([share - below, above - share])[:, these]
        axes.errorbar(100.0 * share[these], rows[these], xerr=np.maximum(spans, 0.0), fmt=marker, color=colour, zorder=4,
                      markersize=11, markeredgecolor=BLACK, markeredgewidth=1.2, elinewidth=3.0, capsize=6, capthick=2.0,
                      clip_on=False)
    for row in rows:
        told = f"{got[row]:.0f} of {of[row]:.0f}" if asked[row] else "not asked yet"
        axes.text(105.0, row, told, fontsize=SMALL, va="center")
    axes.set_yticks(rows, [f"◆ {code}" if needed else code for code, needed in zip(codes, must)], fontsize=SIZE)
    axes.set_xlim(0.0, 128.0)
    axes.set_xticks([0, 20, 40, 60, 80, 100])
    axes.set_ylim(len(got) - 0.4, -0.6)
    axes.grid(axis="y", visible=False)
    bars = beside.barh(rows, weight, 0.55, color="#d9d9d9", edgecolor=BLACK, linewidth=1.0)
    beside.bar_label(bars, [f"{one:g}" for one in weight], fontsize=SMALL, padding=3)
    beside.set_xlim(0.0, float(weight.max()) * 1.4 or 1.0)
    beside.set_xticks([])
    beside.grid(visible=False)
    beside.tick_params(left=False, labelleft=False)
    needed = f"◆ must be passed, with {100 * pass_share:.0f} % (dashed).  " if must.any() else ""
    made.supxlabel(f"{needed}Lines: where the true share lies, 95 times in 100.", fontsize=SMALL)
    made.draw_without_rendering()
    made.set_layout_engine("none")      # laid out once: a second time would move it by a hair
    said = [_said(code, needed, *figures) for code, needed, *figures in zip(codes, must, got, of, below, above, weight)]
    return Chart(made, "Share right of each objective.\n" + "\n".join(said))


def _said(code: str, needed: bool, right: float, answers: float, low: float, high: float, weight: float) -> str:
    name = f"{code}, weight {weight:g}{', must be passed' if needed else ''}"
    if not answers:
        return f"{name}: not asked yet."
    return (f"{name}: {right:.0f} of {answers:.0f} right, {100 * right / answers:.0f} %, "
            f"likely between {100 * low:.0f} and {100 * high:.0f} %.")


def days_chart(days: Sequence[date], answers: Numbers, right: Numbers, *, title: str = "") -> Chart:
    """The answers of each day, those that were right below the others; days without an answer stay empty.

    days: each once, oldest first.  answers, right: how many.  Raises ValueError where the arrays differ in length, are
    empty, or the days are out of order.

    >>> print(days_chart([date(2026, 3, 18), date(2026, 3, 20)], [4, 6], [2, 6]))
    Answers by day.
    """
    from matplotlib.ticker import MaxNLocator

    of, got = same_length(answers=answers, right=right)
    if len(days) != len(of) or any(later <= earlier for earlier, later in pairwise(days)):
        raise ValueError(f"a chart needs {len(of)} days, each once and oldest first")
    made = new_figure()
    axes = made.subplots()
    dress(axes, "", "answers", title or "Answers by day")
    x = np.array([(day - days[0]).days for day in days], dtype=float)
    axes.bar(x, got, 0.8, color=BLUE, edgecolor=BLACK, linewidth=1.0, label="right")
    axes.bar(x, of - got, 0.8, bottom=got, color=ORANGE, hatch="//", edgecolor=BLACK, linewidth=1.0, label="not right")
    last = int(x[-1])
    step = max(1, -(-(last + 1) // MOST_DATES))
    places = list(range(0, last + 1, step))
    axes.set_xticks(places, [_day(date.fromordinal(days[0].toordinal() + place)) for place in places], fontsize=SMALL)
    axes.set_xlim(-max(0.8, 3.0 - last / 2), last + max(0.8, 3.0 - last / 2))
    axes.set_ylim(0.0, float(of.max()) * 1.25 or 1.0)
    axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    axes.legend(fontsize=SIZE, frameon=False, loc="upper center", ncols=2)
    axes.grid(axis="x", visible=False)
    said = [f"{day.isoformat()}: {all_:.0f} answers, {well:.0f} right." for day, all_, well in zip(days, of, got)]
    return Chart(made, "Answers by day.\n" + "\n".join(said))


def _day(day: date) -> str:
    return f"{day.day} {('Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec')[day.month - 1]}"
