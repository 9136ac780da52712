"""The bank's questions: one key right, wrong options that are mistakes people make, and no key told by the words.

`tests/bench/items.py` asks the same of 20,000 questions.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest
from scipy.stats import chi2

from figures.plant import parse_plant
from tests.widgets.learn.items import CHEAP_KINDS, CHECKS, faults, places, right_options, rows, text_only_score
from widgets.command import main
from widgets.learn import MISCONCEPTIONS, OBJECTIVES, mark
from widgets.learn.bank import KINDS, MAKERS, kinds_of, make_item
from widgets.learn.bank.schedule import schedule
from widgets.learn.exam_form import turned_about

TOP = Path(__file__).parents[3]


@pytest.fixture(scope="module")
def asked() -> list[dict]:
    """Some questions of every objective, kind and difficulty, and more of the kinds that are quick to make."""
    return [*rows(range(100, 103)), *rows(range(103, 113), CHEAP_KINDS)]


def test_every_objective_has_three_kinds_and_every_kind_is_used():
    """Scalding apart, each objective is asked about in at least three ways."""
    assert {code: kinds_of(code) for code in OBJECTIVES if len(kinds_of(code)) < 3} == {}
    assert {kind for _, kind in MAKERS} == set(KINDS)


def test_nothing_is_wrong_with_any_question(asked):
    """Three or four options that differ, alike in length; the key names no misconception, every other one does."""
    assert [what for row in asked for what in faults(row)] == []


def test_exactly_one_option_is_right_by_other_means(asked):
    """Found anew from the printed row and plant: networkx for return orders, the formula of perfect mixing for
    mixtures, the parts themselves for what is there or not."""
    checked = {}
    for row in asked:
        right = right_options(row)
        if right is not None:
            checked[row["id"]] = (right, [row["key"]])
    assert {name: pair for name, pair in checked.items() if pair[0] != pair[1]} == {}
    met = {tuple(name.split("/")[1:3]) for name in checked}
    assert {(o, k.replace(" ", "-")) for o, k in CHECKS} <= met
    assert sum(kind == "drawings" for _, kind in met) >= 9


def test_every_other_drawing_is_right_for_another_answer(asked):
    """Of four drawings no two are the same plant, and all of them are sound files."""
    drawn = [row for row in asked if row["kind"] == "drawings"]
    for row in drawn:
        plants = [parse_plant(option["text"]) for option in row["options"]]
        assert len({(len(p.parts), len(p.runs), tuple(sorted(x.kind for x in p.parts.values()))) for p in plants}) > 1 \
            or len({option["text"] for option in row["options"]}) == len(plants)
        assert {p.title for p in plants} == {"A plant"}
    assert len(drawn) > 50


def test_titles_and_tags_tell_nothing(asked):
    """Tags are numbers whatever the part is, in no order."""
    for row in asked:
        if row["plant"]:
            plant = parse_plant(row["plant"])
            assert plant.title == "A plant"
            assert {tag[0] for tag in plant.parts} == {"N"}


def test_the_place_of_the_key_is_uniform(asked):
    """Chi-square at the level of one in a thousand; the questions are the same each time, so it does not flicker."""
    square, free = places(asked)
    assert square < chi2.ppf(0.999, free)


def test_words_alone_score_as_chance(asked):
    """Naive Bayes over words, lengths, ranks and places, learned on half and asked about the other half."""
    half = len(asked) // 2
    for train, test in ((asked[:half], asked[half:]), (asked[half:], asked[:half])):
        score, chance, spread = text_only_score(train, test)
        assert score < chance + 3.3 * spread


def test_the_solver_without_a_drawing_does_learn():
    """It finds a key that the words do tell, so that its chance score above means something."""
    told = [{"objective": "C1", "kind": "name", "difficulty": 1, "text": "Which?", "needs_drawing": True, "key": n % 3,
             "options": [{"text": "the right one" if k == n % 3 else f"another {k}"} for k in range(3)]} for n in range(60)]
    assert text_only_score(told[:30], told[30:])[0] == 1.0


def test_every_misconception_is_met(asked):
    """Somewhere a wrong option speaks to each of them."""
    met = Counter(option["misconception"] for row in asked for option in row["options"])
    assert set(MISCONCEPTIONS) - set(met) == set()


def test_few_questions_need_no_drawing(asked):
    """Only the order of commissioning and scalding."""
    assert {row["objective"] for row in asked if not row["needs_drawing"]} == {"P1", "J4"}


@pytest.mark.parametrize(("objective", "kind"), [("R7", "loop"), ("C1", "drawings"), ("J1", "point"), ("P1", "order")])
def test_items_are_marked_and_explained(objective, kind):
    """The one marker takes them: full points for the key, none and a reason for every other option."""
    item = make_item(objective, kind, 2, 11)
    assert mark(item, item.right).right
    for option in item.options:
        if option.value not in item.key:
            got = mark(item, option.value)
            assert got.points == 0.0
            assert MISCONCEPTIONS[option.misconception].hint in got.because


@pytest.mark.parametrize("seed", range(6))
def test_steps_are_put_in_order_and_marked_by_their_pairs(seed):
    """All pairs right earn all, each pair turned about costs its share; a step put off by a mistake is told with that mistake."""
    item = make_item("P1", "arrange", 1 + seed % 3, seed)
    assert mark(item, item.key).right and mark(item, item.key[::-1]).points == 0.0
    pairs = len(item.key) * (len(item.key) - 1) / 2
    last_two = (*item.key[:-2], item.key[-1], item.key[-2])
    assert mark(item, last_two).points == pytest.approx(1.0 - 1.0 / pairs, abs=1e-6)
    for (first, then), mistake in item.turned.items():
        got = mark(item, turned_about(item, first, then))
        assert 0.0 < got.points < 1.0 and got.misconception == mistake
        assert f"“{item.option(first).label}” before “{item.option(then).label}”" in got.because
        assert MISCONCEPTIONS[mistake].hint in got.because
    assert item.turned and not item.needs_drawing


def test_no_mistake_puts_off_a_step_that_is_in_its_place():
    """With two steps of which neither is put off by habit, no mistake is named."""
    item = make_item("P1", "arrange", 3, 2)
    free = next((a, b) for a, b in pairwise(item.key) if (b, a) not in item.turned)
    assert mark(item, turned_about(item, free[1], free[0])).misconception is None


@pytest.mark.parametrize(("words", "says"), [(("X1", "loop", 1), "objective: 'X1' is not one of R1"),
                                             (("R7", "order", 1), "kind: 'order' is not one of R7's"),
                                             (("R7", "loop", 4), "difficulty: 4 is not 1, 2 or 3")])
def test_what_there_is_not_is_refused(words, says):
    """One sentence, with what to write instead."""
    with pytest.raises(ValueError, match=says.replace("'", ".")):
        make_item(*words, 1)


def test_what_a_drawing_cannot_show_stands_beside_it():
    """A return can only be judged by who knows whether the boiler condenses."""
    item = make_item("F5", "name", 1, 4)
    said = schedule(item.plant)
    assert any("uilt to condense" in line for line in said)
    assert not any(tag not in item.plant.parts for line in said for tag in line.replace(".", "").split() if tag[0] == "N"
                   and tag[1:].isdigit())


def _printed(seed: str, hash_seed: str) -> str:
    words = [sys.executable, "-m", "widgets.command", "paper", "--seed", seed, "--questions", "12", "--json"]
    return subprocess.run(words, cwd=TOP, env={**os.environ, "PYTHONHASHSEED": hash_seed}, capture_output=True, check=True,
                          text=True, timeout=120).stdout


def test_the_same_seed_prints_the_same_lines():
    """In another process, whatever the hash seed; another seed prints others."""
    lines = _printed("7", "1")
    assert lines == _printed("7", "2")
    assert lines != _printed("8", "1")
    for line in lines.splitlines():
        row = json.loads(line)
        assert {"id", "kind", "objective", "difficulty", "text", "plant", "options", "key", "because"} <= set(row)
        assert all({"text", "misconception"} <= set(option) for option in row["options"])


def test_the_paper_as_text_gives_key_and_reason(capsys):
    """For whoever reads it on a terminal."""
    assert main(["paper", "--seed", "5", "--questions", "3"]) == 0
    said = capsys.readouterr().out
    assert said.count("Key: ") == 3
    assert said.startswith("1. ")


def test_flows_on_the_drawing_are_signed_and_close_at_every_tee():
    """In and out of each tee they sum to nothing, the common pipe's direction included."""
    for kind, seed in (("name", 3), ("true or false", 4), ("name", 5)):
        item = make_item("F5", kind, 1, seed)
        left = Counter()
        for name, run in zip(item.plant.run_names, item.plant.runs):
            left[run.through[0]] -= item.flows[name]
            left[run.through[-1]] += item.flows[name]
        assert all(abs(left[part.tag]) < 0.05 for part in item.plant.of_kind("tee")), item.id
