"""Explore: turn one thing, and figures, words and the plant beside it follow; never a new drawing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from figures.physics import NoSolution
from figures.plant.scheme import Scheme
from figures.reading import read
from tests.plants import SAMPLES
from widgets import Explore, explore
from widgets.show.explore_charts import branch_flows_lps, charts_of, days, ratio_point
from widgets.show.explore_scene import BY_HAND, Scene, checked

TANK = Scheme(tank="system loop")
MIXING = Scheme(outputs_kw=(200.0,), loads_kw=(100.0,), supply_c=80.0, return_c=60.0)


def events(widget: Explore) -> list[str]:
    """Names of what the canvas tells its page from now on."""
    seen: list[str] = []
    widget.canvas.observe(lambda change: seen.append(change["name"]))
    return seen


def test_a_slider_changes_figures_and_never_the_drawing():
    """The page gets texts and speeds by name; the SVG stands."""
    widget = Explore(TANK, call="heat")
    seen, before = events(widget), widget.canvas.patch
    widget.turn("speed:PS", 60.0)
    assert "svg" not in seen and "spots" not in seen and "patch" in seen
    changed = {name for name in before if before[name] != widget.canvas.patch[name]}
    assert changed and all(set(row) <= {"text", "still", "speed"} for row in widget.canvas.patch.values())
    assert len(json.dumps(widget.canvas.patch)) < len(widget.canvas.svg) / 5


@pytest.mark.parametrize(("speed", "side"), [(35.0, "below"), (100.0, "above")])
def test_the_cases_at_the_common_pipe(speed, side):
    """Facts 7, perfect mixing, from the flows and temperatures that are shown: supply diluted below, return warmed above."""
    widget = Explore(MIXING, call="heat")
    widget.turn("speed:PB1", speed)
    found = widget.seen.solution
    m_b, m_s = found.lps("PB1"), found.lps("PS")
    t_b, t_r = found.parts["B1"]["outlet_c"], found.parts["E1"]["outlet_c"]
    t_s, t_br = found.parts["E1"]["inlet_c"], found.parts["B1"]["inlet_c"]
    if side == "below":
        assert m_b < m_s
        assert t_s == pytest.approx((m_b * t_b + (m_s - m_b) * t_r) / m_s, abs=0.01) and t_br == pytest.approx(t_r, abs=0.01)
        assert "from Z to A" in widget.verdict()
    else:
        assert m_b > m_s
        assert t_br == pytest.approx((m_s * t_r + (m_b - m_s) * t_b) / m_b, abs=0.01) and t_s == pytest.approx(t_b, abs=0.01)
        assert "from A to Z" in widget.verdict()
    assert widget.canvas.patch["B1"]["text"] == f"{t_b:.0f} °C" and widget.canvas.patch["E1"]["text"] == f"{t_r:.0f} °C"


def test_equal_flows_leave_the_common_pipe_still():
    """Facts 7: boiler return is system return, supply is boiler outlet; the figure on the common pipe is 0."""
    scene = Scene(MIXING.plant())
    low, high = 35.0, 100.0
    for _ in range(40):
        middle = (low + high) / 2.0
        found = scene.solve({**scene.start("heat"), "speed:PB1": middle, "configuration": BY_HAND}).solution
        low, high = (middle, high) if found.lps("PB1") < found.lps("PS") else (low, middle)
    point = ratio_point(scene, found)
    assert point[0] == pytest.approx(1.0, abs=1e-3)
    assert point[1] == pytest.approx(point[3], abs=0.01) and point[2] == pytest.approx(point[4], abs=0.01)
    common = next(pipe for s in scene.reading.separations for pipe in s.pipes)
    assert scene.patch(found)[common] == {"text": "0", "still": True, "speed": 0.0}


def test_speed_of_the_beads_is_the_water_s():
    """Flow over the pipe's area, by hand: facts 1, NPS bores."""
    widget = Explore(MIXING, call="heat")
    plant, found = widget.scene.plant, widget.seen.solution
    for n, name in enumerate(plant.run_names):
        if name in widget.canvas.patch:
            by_hand = found.flow.run_lps(n) / 1000.0 / (3.14159265 / 4.0 * plant.runs[n].bore.inside_m**2)
            assert widget.canvas.patch[name]["speed"] == pytest.approx(by_hand, abs=1e-3)


def test_set_wrongly_shows_the_right_plant_beside_it():
    """Both drawings, both lists of who gets heat; set back, the second goes."""
    widget = Explore(TANK, call="both", configuration="DHW on the boiler loop")
    assert widget.report.tone == "wrong" and len(widget.sides.children) == 2
    assert "E1: 0 kW" in widget.report.text and "DHW comes first" in widget.report.text
    assert "E1: 0 kW" not in widget.beside_report.text and widget.beside.patch != widget.canvas.patch
    widget.turn("configuration", "DHW on the system loop")
    assert len(widget.sides.children) == 1 and widget.report.tone == "plain" and widget.beside_report.text == ""


def test_a_part_worked_by_hand_leaves_the_control_behind():
    """Then nothing is 'wrongly set', and a chosen configuration takes over again."""
    widget = explore(TANK)
    widget.turn("call", "heat")
    widget.turn("open:ZV1", False)
    assert widget.values["configuration"] == BY_HAND
    assert "E1: its water stands still; it gets nothing." in widget.report.text
    widget.turn("configuration", "DHW on the system loop")
    assert widget.values["open:ZV1"] is True and "E1: its water stands still" not in widget.report.text


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_everything_can_be_turned_in_any_plant(path):
    """Every switch, choice and slider of every sample, one after the other: a figure or a plain word, never a failure."""
    widget = Explore(path, call="both")
    assert set(widget.canvas.patch) == set(widget.canvas.spots)
    for control in [c for group in widget.groups for c in group["controls"]]:
        now = widget.values[control["name"]]
        for value in {"switch": (not now, now), "slider": (control.get("min"), control.get("max"), now),
                      "choice": (*(o["value"] for o in control.get("options", ())), now)}[control["type"]]:
            widget.turn(control["name"], value)
            assert widget.report.tone in ("plain", "wrong")
        widget.reset()


@pytest.mark.parametrize("seed", range(15))
def test_the_right_setting_of_a_made_plant_is_not_called_wrong(seed):
    """To begin with everything is set as the piping asks."""
    scheme = Scheme.random(seed)
    widget = Explore(scheme)
    assert widget.scene.wrong(widget.values) == [] and len(widget.sides.children) == 1
    assert widget.values["configuration"] == read(scheme.plant()).control


def test_no_balance_is_said_in_plain_words_and_old_figures_go(monkeypatch):
    """What the page asks for may fail; nobody is left with figures that no longer hold."""
    widget = Explore(TANK, call="heat")

    def fails(values):
        raise NoSolution("PS", "The flow through PS could not be balanced.")

    monkeypatch.setattr(widget.scene, "solve", fails)
    widget.controls.values = {**widget.values, "speed:PS": 80.0}
    widget.controls.touched = "speed:PS"
    widget.controls.asked += 1
    assert widget.report.tone == "trouble" and "The flow through PS could not be balanced." in widget.report.text
    assert {row["text"] for row in widget.canvas.patch.values()} == {"–"}
    assert widget.controls.done == widget.controls.asked


def test_what_comes_from_a_page_is_held_to_its_control():
    """Out of range is cut, nonsense left out; whoever calls `turn` is told."""
    widget = Explore(TANK)
    assert checked({"speed:PS": 1e9, "run:PS": "yes", "call": "<b>", "nobody": 1}, widget.groups) == {"speed:PS": 150.0}
    for name, value in (("speed:PS", 1e9), ("nobody", 1), ("call", "cold")):
        with pytest.raises(ValueError, match="cannot be turned"):
            widget.turn(name, value)


def test_us_units_are_shown_everywhere():
    """gpm, °F and Btu/h on the drawing, in the words and beside the sliders."""
    widget = Explore(MIXING, call="heat")
    flow = widget.seen.solution.lps("PS")
    widget.turn("units", "us")
    texts = [row["text"] for row in widget.canvas.patch.values()]
    assert f"{flow * 15.850323:.1f} gpm" in texts and "176 °F" in texts and not any("L/s" in t or "°C" in t for t in texts)
    widget.turn("load:E1", 150.0)
    widget.turn("speed:PB1", 30.0)
    assert "Btu/h" in widget.report.text and not any(unit in widget.report.text for unit in ("kW", "L/s", "°C"))
    load = next(c for g in widget.controls.groups for c in g["controls"] if c["name"] == "load:E1")
    assert load["unit"] == "Btu/h" and load["factor"] == pytest.approx(3412.14, abs=0.01)


def test_an_instructor_s_words_stand_beside_ours():
    """In the choices of the control; what is set keeps our names."""
    widget = Explore(TANK, labels={"heating only": "no cylinder <b>"})
    choice = widget.groups[0]["controls"][0]
    assert choice["options"][0] == {"value": "heating only", "label": "heating only (“no cylinder <b>”)"}
    assert widget.values["configuration"] == "DHW on the system loop"


def test_charts_follow_what_is_set():
    """Each chart of a plant with its words as alternative text; what cannot be drawn is said."""
    widget = Explore(TANK, call="heat")
    names = charts_of(widget.scene)
    assert names == ["the day", "supply against flow ratio", "pump and pipes: PB1", "pump and pipes: PS",
                     "direct against reverse return"]
    found = widget.seen.solution
    widget.show_chart("pump and pipes: PS")
    assert f"meet at {found.lps('PS'):.3g} L/s at {found.parts['PS']['head_m']:.3g} m" in widget.chart_note.text
    assert widget.chart_box.value.startswith('<img alt="Pump and system curve of PS.')
    widget.show_chart("supply against flow ratio")
    assert f"{found.parts['E1']['inlet_c']:.0f} °C go out" in widget.chart_note.text
    widget.turn("run:PS", False)
    widget.show_chart("pump and pipes: PS")
    assert widget.chart_note.tone == "trouble" and "PS is off" in widget.chart_note.text and widget.chart_box.value == ""


def test_the_day_stands_beside_the_right_one_or_beside_priority():
    """What is compared depends on what is set."""
    scene = Scene(TANK.plant())
    right = scene.start("both")
    assert [title for title, _ in days(scene, right)] == ["without priority", "with priority"]
    wrong = days(scene, {**right, "configuration": "heating only"})
    assert [title for title, _ in wrong] == ["as it is set", "as the piping asks"]
    assert any("nobody" in line or "knows" in line for line in wrong[0][1].because) and wrong[1][1].because == ()
    assert wrong[0][1].minutes_without_hot_water > wrong[1][1].minutes_without_hot_water == 0.0
    with pytest.raises(ValueError, match="choose a configuration"):
        days(scene, {**right, "configuration": BY_HAND})


def test_direct_and_reverse_return_are_those_of_the_published_case():
    """Facts H4 and H5, Colebrook."""
    assert branch_flows_lps() == pytest.approx([0.6960, 0.6088, 0.5666, 0.5547], rel=4e-4)
    assert branch_flows_lps(reverse=True) == pytest.approx([0.5698, 0.5302, 0.5302, 0.5698], rel=4e-4)


def test_a_plant_file_with_faults_is_told_of_in_the_widget(tmp_path: Path):
    """And a `what` that is none is refused."""
    bad = tmp_path / "bad.toml"
    bad.write_text('format = 1\n[parts.B1]\nkind = "kettle"\n', encoding="utf-8")
    widget = Explore(bad)
    assert widget.report.tone == "trouble" and "kettle" in widget.report.text and repr(widget) == "<Explore: no plant>"
    with pytest.raises(ValueError, match="use 'all', 'flow', 'setting' or 'calls'"):
        Explore(TANK, "everything")
