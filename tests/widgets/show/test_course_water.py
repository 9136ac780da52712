"""The course's pieces on parts, water, pressure and calls: what they show is what the plant and the solver say."""

from __future__ import annotations

import math
import re
from xml.etree import ElementTree

import pytest

from figures.drawing.worn import LOOKS, worn
from figures.physics.pressure import static_kpa, swell_l, tank_kpa
from figures.plant.scheme import Scheme
from figures.reading import read
from widgets.learn import Record
from widgets.show.course_walk import Walk, who_runs
from widgets.show.course_warm import WarmUp
from widgets.show.course_water import Symbols, TwoJoints, joints
from widgets.show.explore import Explore
from widgets.show.lesson import example

SEEDS = range(1, 13)


def test_water_swells_and_a_tank_takes_it_up_as_the_sized_examples_say():
    """1000 L from 10 to 80 and to 90 °C in steel, 100 kPa cold and 270 hot, and 12 and 27 psi: sizes computed with IAPWS95
    at 0.3 MPa by the ASHRAE formula (second-hand)."""
    for hot_c, litres, tank_l in ((80.0, 26.269, 57.38), (90.0, 32.822, 71.69)):
        assert swell_l(1000.0, hot_c) == pytest.approx(litres, abs=0.02)
        assert tank_kpa(tank_l, litres, 100.0) == pytest.approx(270.0, abs=0.1)
    psi = 6.894757
    assert tank_kpa(73.02, 26.269, 12 * psi) == pytest.approx(27 * psi, abs=0.3)     # at 14.696 psi of atmosphere
    assert static_kpa(5.6) + 28.0 == pytest.approx(83.0, abs=0.5)                    # 18 ft and 4 psi: 12 psi


def test_a_precharge_that_is_too_low_or_too_high_leaves_less_room():
    """Too low, the tank is part full when cold; too high, it takes nothing before the plant has reached its gas."""
    sound = tank_kpa(60.0, 20.0, 100.0)
    assert tank_kpa(60.0, 20.0, 100.0, 40.0) > sound and tank_kpa(60.0, 20.0, 100.0, 140.0) > sound
    assert tank_kpa(60.0, 0.0, 100.0, 140.0) == pytest.approx(100.0)
    assert tank_kpa(60.0, 70.0, 100.0) == math.inf


@pytest.mark.parametrize("seed", SEEDS)
def test_one_tank_at_two_joints_gives_suction_at_a_hundred_and_at_forty(seed: int):
    """The misconception's picture: the joint keeps its pressure, so the pump adds on one side or takes on the other."""
    pair = joints(seed)
    assert pair.added_kpa == pytest.approx(60.0, abs=0.5)
    assert pair.suction_kpa("inlet") == pytest.approx(100.0, abs=0.01)
    assert pair.discharge_kpa("inlet") == pytest.approx(160.0, abs=1.0)
    assert pair.suction_kpa("outlet") == pytest.approx(40.0, abs=1.0)
    assert pair.discharge_kpa("outlet") == pytest.approx(100.0, abs=0.01)
    still = pair.kpa("outlet", runs=False)
    assert still[pair.before] == pytest.approx(still[pair.after])
    rules = [{f.rule for f in read(plant).findings} for plant in (pair.at_inlet, pair.at_outlet)]
    assert "expansion-point" not in rules[0] and "expansion-point" in rules[1]


def test_both_gauges_follow_the_controls_and_a_low_fill_is_told_of():
    """With 30 kPa at a tank on the wrong side the pump's inlet is below the air outside."""
    shown = TwoJoints(joints(2))
    assert shown.canvases["outlet"].patch[shown.pair.before]["text"] == "40 kPa"
    shown.turn("fill", 30.0)
    assert shown.notes["outlet"].tone == "wrong" and "-30 kPa" in shown.notes["outlet"].text
    assert shown.notes["inlet"].tone == "plain"
    with pytest.raises(ValueError, match="cannot be turned"):
        shown.turn("fill", "full")


def test_a_warmed_plant_keeps_its_relief_valve_shut_only_with_a_tank_that_has_room():
    """The made plants' tanks are sized for it; without the tank, or with its gas lost, the valve opens."""
    for seed in SEEDS:
        shown = WarmUp(example(seed, "single loop", "heating only"), precharge=True)
        assert not shown.opens and shown.gauge_kpa > 95.0
        shown.turn("gas", 0.0)
        assert shown.opens
        shown.turn("gas", 100.0)
        shown.turn("tank", "none")
        assert shown.opens and "no tank" in shown.verdict()
        shown.turn("warm", "10")
        assert not shown.opens


@pytest.mark.parametrize("looks", LOOKS)
def test_a_worn_drawing_is_sound_svg_with_every_part_to_be_picked(looks: str):
    """And it names no loop: the learner is to find them."""
    plant = Scheme(boilers=2, tank="boiler loop").plant()
    svg = worn(plant, looks)
    found = {node.get("data-tag") for node in ElementTree.fromstring(svg).iter() if node.get("data-tag")}
    assert set(plant.parts) <= found
    assert (">B1<" in svg) == (looks != "untagged")


@pytest.mark.parametrize("looks", LOOKS)
def test_a_walk_is_gone_rightly_for_many_plants(looks: str):
    """Every made plant can be walked round; a click back or off the way is a slip and says why."""
    for seed in SEEDS:
        walk = Walk(seed=seed, looks=looks, size="any" if seed % 2 else "small", record=False)
        assert not walk.press(walk.stops and walk.steps[0].names[-1]) and walk.slips in (0, 1)
        walk.walk_home()
        assert walk.home and walk.report.tone == "right" and walk.slips <= 1


def test_an_untagged_walk_is_told_without_a_tag():
    """Nobody can look for a tag that is not drawn: the goal is framed, and parts are called by what they are."""
    for seed in SEEDS:
        walk = Walk(seed=seed, looks="untagged", size="any", record=False)
        said = [walk.report.text, walk.canvas.caption]
        walk.press("XT")
        said.append(walk.report.text)
        while walk.next:
            walk.press(walk.next)
            said += [walk.report.text, walk.canvas.caption]
        assert walk.canvas.marks[walk.to] == "right"
        words = set(re.findall(r"[\w.>#-]+", " ".join(said)))
        assert not words & ({*walk.plant.parts} - {"A", "Z"}) and not words & {*walk.plant.run_names}


def test_a_walk_comes_back_as_it_was_left_and_keeps_its_mark(tmp_path):
    """Half-way, with a slip and a part that was shown; then home."""
    record = Record(tmp_path)
    first = Walk(seed=3, looks="lagged", key="the walk", record=record)
    first.press("XT")
    first.show_next()
    again = Walk(seed=3, looks="lagged", key="the walk", record=record)
    assert (again.plant, again.next, again.slips) == (first.plant, first.next, 2)
    other = Walk(seed=9, looks="lagged", key="the walk", record=record)     # the number of a class was typed in since
    assert other.plant == Walk(seed=9, looks="lagged", record=False).plant and other.slips == 0
    again.walk_home()
    row = record.rows(exercise="the walk")[-1]
    assert (row.kind, row.objective, row.points, row.of) == ("answer", "R2", 0.5, 1.0)


def test_who_runs_says_what_the_sequence_does_on_each_call():
    """On a DHW call the system pump stops where the tank is on the boiler loop, and runs where it is not."""
    for seed in SEEDS:
        for control, dhw in (("DHW on the boiler loop", "stands still"), ("DHW on the system loop", "runs")):
            shown = who_runs(example(seed, "separated loops", control))
            system = [row[1:] for row in shown.rows if row[0].endswith("the system pump")]
            assert system and all(row[:2] == ["runs", dhw] for row in system), (seed, control)


def test_calls_alone_can_be_explored_without_a_word_of_configurations():
    """The lesson on calls comes before the names of the configurations mean anything."""
    shown = Explore(example(1, "separated loops", "DHW on the boiler loop"), "calls", call="dhw")
    names = [control["name"] for group in shown.groups for control in group["controls"]]
    assert names == ["call", "figures", "temperatures", "units"]
    shown.turn("call", "heat")
    assert "E1" in shown.verdict()
    chosen = Explore(example(1, "separated loops", "DHW on the system loop"), "calls").groups[0]["controls"]
    assert [control["name"] for control in chosen] == ["call", "priority"]        # there it may be chosen


def test_symbols_are_cards_with_words_and_plain_text_elsewhere():
    """A kind that is none is refused."""
    cards = Symbols(["boiler", "hydraulic separator"], {"boiler": "<b>hot</b>"})
    assert "&lt;b&gt;hot" in cards._repr_html_() and "<b>hot" not in cards._repr_html_()
    assert repr(cards).startswith("boiler: heats the water.")
    with pytest.raises(ValueError, match="kettle"):
        Symbols(["kettle"])
