"""Predictions, a plant read aloud, the canvas, and what importing all this may load."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
import traitlets

import widgets
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.settings import settings
from widgets import Canvas, predict, read_aloud
from widgets.learn import BadAnswer
from widgets.show import pieces
from widgets.show.aloud import ABSENT, GROUPS, THERE, TOLD

SHOW = Path(pieces.__file__).parent
ANSWERS = {"out": "", "home": "That is where it comes from."}


# -- predictions -------------------------------------------------------------------------------------------

def test_nothing_is_given_away_before_the_learner_commits() -> None:
    ask = predict("Which way?", ANSWERS, "out", "The pump pushes it out.")
    assert ask.verdict() == "no answer yet" and ask.report.text == ""
    assert ask.choices.get_state()["shown_key"] == []
    ask.button.click()
    assert "Choose an answer first" in ask.report.text and ask.committed is None


def test_a_right_prediction_gets_its_reason() -> None:
    ask = predict("Which way?", ANSWERS, "out", "The pump pushes it out.")
    ask.commit("out")
    assert ask.choices.state == "right" and ask.report.text == "The pump pushes it out."
    assert ask.verdict() == "said out; the answer is out"


def test_a_wrong_prediction_is_told_why_and_stays_as_it_was_made() -> None:
    ask = predict("Which way?", ANSWERS, "out", "The pump pushes it out.")
    ask.choices.value = ["home"]
    ask.button.click()
    assert ask.report.text == ("You said “home”; the answer is “out”. That is where it comes from. "
                               "The pump pushes it out.")
    ask.commit("out")
    assert ask.verdict() == "said home; the answer is out" and ask.choices.locked


def test_predictions_that_cannot_be_asked_are_refused() -> None:
    with pytest.raises(ValueError, match="not among the answers"):
        predict("Which way?", ["out", "home"], "up", "")
    with pytest.raises(ValueError, match="two answers or more"):
        predict("Which way?", ["out"], "out", "")
    with pytest.raises(BadAnswer, match="no answer here"):
        predict("Which way?", ["out", "home"], "out", "").commit("up")


# -- read aloud --------------------------------------------------------------------------------------------

@pytest.mark.parametrize("seed", range(15))
def test_every_plant_is_read_aloud_in_the_same_order(seed: int) -> None:
    plant = Scheme.random(seed).plant()
    aloud = read_aloud(plant)
    groups = [line.group for line in aloud.said]
    assert groups == sorted(groups, key=GROUPS.index) and TOLD in groups and THERE in groups
    reading = read(plant)
    for line in settings(reading).lines():
        assert f": {line.value}." in aloud.text()
    said = aloud.text()
    assert all(said.count(f"- {line.text}") == 1 for line in aloud.said)
    if not reading.tanks:
        assert any("no indirect tank" in line.text for line in aloud.said if line.group == ABSENT)


def test_each_sentence_lights_its_place() -> None:
    aloud = read_aloud(Scheme.random(1).plant())
    for at, line in enumerate(aloud.said):
        aloud.lines.picked, aloud.lines.n = at, aloud.lines.n + 1
        assert set(aloud.canvas.marks) == {*line.parts, *line.pipes}
        assert aloud.canvas.caption


# -- the canvas --------------------------------------------------------------------------------------------

def test_marks_have_three_styles_and_no_other() -> None:
    canvas = Canvas()
    canvas.light({"B1": "right", "PB1": "wrong"})
    assert canvas.marks == {"B1": "right", "PB1": "wrong"} and canvas.caption == "Lit up: B1, PB1"
    with pytest.raises(traitlets.TraitError):
        canvas.light({"B1": "blinking"})  # type: ignore[dict-item]


def test_what_was_picked_is_known_in_python() -> None:
    canvas, heard = Canvas(pickable=True), []
    canvas.observe(lambda change: heard.append(canvas.picked), "n")
    for _ in range(2):      # what the front end sends at a click
        canvas.set_state({"picked": "B1", "n": canvas.n + 1})
    assert heard == ["B1", "B1"]


# -- what goes to the browser ------------------------------------------------------------------------------

@pytest.mark.parametrize("file", sorted(p.name for p in SHOW.glob("*.js")))
def test_front_ends_set_text_as_text_and_ask_for_nothing(file: str) -> None:
    source = (SHOW / file).read_text(encoding="utf-8")
    for way in ("innerHTML", "outerHTML", "insertAdjacentHTML", "document.write", "eval(", "fetch(", "import("):
        assert way not in source, f"{file} uses {way}"
    assert set(re.findall(r"https?://[^\"'\s]+", source)) <= {"http://www.w3.org/2000/svg"}


def test_the_style_asks_for_nothing_outside() -> None:
    style = (SHOW / "loopbook.css").read_text(encoding="utf-8")
    assert "url(" not in style and "@import" not in style


def test_badges_and_buttons_can_be_read_on_their_own_ground() -> None:
    """WCAG 2.2 SC 1.4.3: 4.5:1 for white words on each ground that the style sheet gives them."""
    style = (SHOW / "loopbook.css").read_text(encoding="utf-8")
    grounds = [*re.findall(r"--lb-(?:right|wrong|look): (#[0-9a-f]{6})", style), "#00558a"]
    assert len(grounds) == 4 and "#00558a" in style

    def luminance(colour: str) -> float:
        parts = [int(colour[n:n + 2], 16) / 255 for n in (1, 3, 5)]
        r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    assert luminance("#767676") == pytest.approx(1.05 / 4.542 - 0.05, abs=1e-4)  # WCAG 2.2, relative luminance
    for ground in grounds:
        assert 1.05 / (luminance(ground) + 0.05) >= 4.5


def test_importing_widgets_is_light() -> None:
    script = ("import sys, json, figures, widgets; from widgets import Exercise, predict, read_aloud, Canvas\n"
              "from figures.drawing import Diagram\n"
              "print(json.dumps([m for m in ('matplotlib', 'scipy', 'pandas', 'networkx') if m in sys.modules]))")
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert json.loads(done.stdout) == []


def test_learn_needs_no_widgets() -> None:
    script = "import sys, widgets.learn\nprint('ipywidgets' in sys.modules, 'anywidget' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


def test_every_name_that_widgets_offers_is_there() -> None:
    assert all(getattr(widgets, name) is not None for name in widgets.__all__)
    with pytest.raises(AttributeError, match="no attribute 'colour'"):
        _ = widgets.colour  # type: ignore[attr-defined]
