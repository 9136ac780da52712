"""Charts: figures from published cases, units, words for those who cannot see them, and no global state."""

import re
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest

from figures.drawing.charts import Chart, pump_and_system, returns_by_branch, supply_against_ratio
from figures.drawing.charts_day import day_chart

FLOW = np.linspace(0.0, 2.4, 25)


def pump_chart(**more) -> Chart:
    """Facts H1: pump (6.0, 1.2, 4.5) meets its pipe at 1.42291 L/s and 3.8910 m."""
    return pump_and_system(FLOW, 6.0 - 1.5 * (FLOW / 1.2) ** 2, 3.891 * (FLOW / 1.42291) ** 2, 1.42291, 3.8910, pump="PS", **more)


def words(svg: str) -> str:
    return " ".join(re.findall(r"<text[^>]*>([^<]*)<", svg))


def test_the_operating_point_is_named_in_either_unit():
    """Facts 11, H1: 1.42291 L/s = 22.554 gpm; 3.8910 m = 12.77 ft."""
    assert "1.42 L/s at 3.89 m" in words(pump_chart().svg())
    us = pump_chart(units="us")
    assert "22.6 gpm at 12.8 ft" in words(us.svg()) and "22.6 gpm at 12.8 ft" in us.alt
    assert "head, ft" in words(us.svg())


def test_mixing_at_the_common_pipe():
    """Facts 7: 1.5 and 2.0 kg/s at 80 and 60 °C give 75 and 60 °C; as US figures 167 and 140 °F."""
    ratio = np.array([0.5, 0.75, 1.0, 4 / 3])
    chart = supply_against_ratio(ratio, [70, 75, 80, 80], [60, 60, 60, 65], boiler_c=80.0, return_c=60.0, at=0.75)
    assert "75 °C go out and 60 °C come back" in chart.alt
    assert {"now 75 °C", "now 60 °C"} <= set(re.findall(r"now \d+ °C", words(chart.svg())))
    us = supply_against_ratio(ratio, [70, 75, 80, 80], [60, 60, 60, 65], boiler_c=80.0, return_c=60.0, at=0.75, units="us")
    assert "167 °F go out and 140 °F come back" in us.alt


def test_direct_against_reverse_return():
    """Facts H4 and H5, Colebrook: the spread is 1.255 against 1.075 times."""
    chart = returns_by_branch([0.6960, 0.6088, 0.5666, 0.5547], [0.5698, 0.5302, 0.5302, 0.5698])
    assert "1.25 times" in chart.alt and "1.07 times" in chart.alt
    assert "0.696" in words(chart.svg()) and "reverse return" in words(chart.svg())


def a_day(low: float, held: bool) -> SimpleNamespace:
    hour = np.arange(0.0, 24.0, 0.25)
    tank = 60.0 - (60.0 - low) * np.sin(hour * np.pi / 24.0)
    supply = np.where(hour < 12.0, 70.0, np.nan)
    return SimpleNamespace(hour=hour, outdoor_c=-5.0 + 0 * hour, supply_c=supply, room_c={"E1": 20.0 + 0 * hour},
                           tank_c={"T": tank}, firing_kw=50.0 + 0 * hour, held=np.full(len(hour), held), short=tank < 45.0)


def test_days_beside_each_other_share_their_scales():
    """What is cold in one is on the scale of both; every day is told in words."""
    chart = day_chart({"right": a_day(55.0, False), "wrong": a_day(20.0, True)})
    left, right = chart.figure.axes[0], chart.figure.axes[1]
    assert left.get_ylim() == right.get_ylim() and left.get_ylim()[0] < 20.0 + 1e-9
    first, second = chart.alt.split("\n")[1:]
    assert first.startswith("right: ") and "missed for 0 min" in first and "nothing holds" in first
    assert "20.0 °C" in second and "holds the heating off for 1440 min" in second
    assert "hot water missed" in words(chart.svg()) and "DHW first, heating waits" in words(chart.svg())


def test_lines_differ_by_more_than_colour():
    """Each pair of lines that could be taken for each other has another dash, and bars another hatch."""
    for chart in (pump_chart(), supply_against_ratio([0.5, 1.5], [70, 80], [60, 67], boiler_c=80, return_c=60)):
        first, second = chart.figure.axes[0].get_lines()[:2]
        assert first.get_linestyle() != second.get_linestyle()
    bars = returns_by_branch([1.0], [1.0]).figure.axes[0].patches
    assert bars[0].get_hatch() != bars[1].get_hatch()


def test_letters_can_be_read_from_the_back_row():
    """At least 14 points on ten inches of width: 1/50 of the chart's width and more, so a screen of 2 m shows 39 mm."""
    for chart in (pump_chart(), returns_by_branch([1.0, 2.0], [1.0, 1.0])):
        letters = chart.figure.findobj(match=lambda a: hasattr(a, "get_fontsize"))
        small = min(text.get_fontsize() for text in letters if text.get_text())
        assert small / 72.0 / chart.figure.get_size_inches()[0] >= 0.019


def test_the_same_chart_is_the_same_text_and_any_ending_saves(tmp_path):
    """No date, no chance; .svg, .png and .pdf, and a word about anything else."""
    assert pump_chart().svg() == pump_chart().svg()
    for ending, start in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        assert pump_chart().save(tmp_path / f"c.{ending}").read_bytes().startswith(start)
    with pytest.raises(ValueError, match=r"c\.bmp: a chart is saved as \.svg, \.png, \.pdf"):
        pump_chart().save(tmp_path / "c.bmp")


def test_arrays_of_two_lengths_are_refused():
    """Told with the names and the lengths."""
    with pytest.raises(ValueError, match="flow_lps has 3, pump_m has 2"):
        pump_and_system([0, 1, 2], [6, 5], [0, 1, 4], 1.0, 5.0)
    with pytest.raises(ValueError, match="label for each of 2"):
        returns_by_branch([1, 2], [1, 2], labels=["a"])


def test_matplotlib_is_loaded_for_a_chart_and_pyplot_never():
    """In a process of its own."""
    code = """
import sys
import figures.drawing.charts as c, figures.drawing.charts_day
print("matplotlib" in sys.modules)
c.returns_by_branch([1.0], [1.0]).svg()
print("matplotlib" in sys.modules, "matplotlib.pyplot" in sys.modules)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120)
    assert done.stdout.split() == ["False", "True", "False"]
