"""Examinations: forms equally hard, a clock that cannot be fooled, nothing lost, a result by objective."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.widgets.learn.candidates import CANDIDATES, Words, expected, held_out
from tests.widgets.learn.items import CHEAP_KINDS, TextOnly, rows
from tests.widgets.learn.short import short_blueprint
from widgets.learn import OBJECTIVES, BadAnswer, Record
from widgets.learn.bank import make_item
from widgets.learn.exam import Exam, ExamTrouble, result_of
from widgets.learn.exam_form import NEAR, BadBlueprint, costs, evened, form, items_of, parse_blueprint, read_blueprint

TOP = Path(__file__).parents[3]
SMALL = short_blueprint("P1 = {share = 60, questions = 6, difficulty = [1, 2], must_pass = true}",
                        "R8 = {share = 40, questions = 2, difficulty = [1]}")
BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = BEGAN

    def __call__(self) -> datetime:
        return self.time

    def on(self, minutes: float) -> None:
        self.time += timedelta(minutes=minutes)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def record(tmp_path) -> Record:
    return Record(tmp_path)


@pytest.fixture
def exam(record, clock) -> Exam:
    return Exam.begin(record, 5, parse_blueprint(SMALL), clock)


@pytest.fixture(scope="module")
def forms():
    """Two forms of the given blueprint with their questions."""
    blueprint = read_blueprint()
    slots = [form(blueprint, seed) for seed in (1, 2)]
    return blueprint, slots, [items_of(one) for one in slots]


# -- blueprints and forms --------------------------------------------------------------------------------

def test_the_given_blueprint_has_the_weights_of_the_objectives():
    """Shares, must-pass objectives and at least five questions of each of these, so that 80 % can be reached."""
    blueprint = read_blueprint()
    assert {p.objective: round(p.share * sum(o.weight for o in OBJECTIVES.values()), 6) for p in blueprint.parts} == {
        code: objective.weight for code, objective in OBJECTIVES.items()}
    assert {p.objective for p in blueprint.parts if p.must_pass} == {c for c, o in OBJECTIVES.items() if o.must_pass}
    assert all(p.questions >= 5 for p in blueprint.parts if p.must_pass)


def test_two_forms_have_the_same_slots_and_other_questions(forms):
    """The same objectives, kinds and difficulties; no question twice."""
    _, slots, items = forms
    assert sorted(slot[:3] for slot in slots[0]) == sorted(slot[:3] for slot in slots[1])
    assert not {item.id for item in items[0]} & {item.id for item in items[1]}


@pytest.fixture(scope="module")
def words(forms):
    """Who sees no drawing: learned from some questions, judged by others, of the kinds that are quick to make."""
    solver = TextOnly()
    for row in rows(range(900, 903), CHEAP_KINDS):
        if row["needs_drawing"]:
            solver.learn(row)
    return Words(solver, held_out(forms[0], range(800, 804), CHEAP_KINDS))


@pytest.mark.parametrize("candidate", CANDIDATES)
def test_two_forms_are_equally_hard(forms, words, candidate):
    """Less than 3 % between the scores that each candidate is expected to have; `Words` says what that is without a drawing."""
    blueprint, slots, items = forms
    one, two = (expected(candidate, blueprint, s, i, words).total for s, i in zip(slots, items))
    assert abs(one - two) < 0.03


def test_a_form_whose_words_tell_its_keys_would_stand_out(forms):
    """The same form with the key in the same words each time: who sees no drawing is expected to have far more there."""
    blueprint, slots, items = forms
    plain = list(held_out(blueprint, [800], CHEAP_KINDS))
    told = [{**row, "options": [{"text": "the right one" if n == row["key"] else f"another {n}"}
                                for n in range(len(row["options"]))]} for row in plain]
    solver = TextOnly()
    for row in (*plain, *told):
        solver.learn(row)
    words = Words(solver, [*held_out(blueprint, [801], CHEAP_KINDS), *told])
    spoilt = [replace(item, options=tuple(replace(o, label="the right one" if o.value in item.key else f"another {n}")
                                          for n, o in enumerate(item.options))) for item in items[0]]
    sound, better = (expected("text", blueprint, slots[0], of, words).total for of in (items[0], spoilt))
    assert better - sound > 0.2


def test_candidates_score_as_they_should(forms, words):
    """Who knows all has all; who guesses or sees no drawing fails by far; no mistake costs more than two fifths, nearly
    every one costs."""
    blueprint, slots, items = forms
    results = {name: expected(name, blueprint, slots[0], items[0], words) for name in CANDIDATES}
    assert results["all"].total == pytest.approx(1.0) and results["all"].passed
    assert 0.24 < results["guess"].total < 0.30 and not results["guess"].passed
    assert 0.22 < results["text"].total < 0.36 and not results["text"].passed
    held = {name: r.total for name, r in results.items() if name.startswith("holds")}
    assert all(0.6 < total <= 1.0 + 1e-9 for total in held.values()), held
    assert sum(total < 1.0 - 1e-9 for total in held.values()) >= 20, held


def test_no_mistake_strays_far_in_a_form(forms):
    """Within 1.4 % of the yardstick for each mistake and for a guess, so that any two forms differ by less than 3 %."""
    blueprint = forms[0]
    slots, stray = evened(blueprint, 5)
    yardstick, here = ({}, {})
    for total, items in ((yardstick, [make_item(*slot, n, n) for n, slot in enumerate(blueprint.slots())]),
                         (here, items_of(slots))):
        for item in items:
            for key, cost in costs(item, blueprint.worth(item.objective)).items():
                total[key] = total.get(key, 0.0) + cost
    strays = {key: here.get(key, 0.0) - yardstick.get(key, 0.0) for key in {**here, **yardstick}}
    assert max(map(abs, strays.values())) == pytest.approx(stray) and stray <= NEAR + 1e-9 < 0.015


def test_a_blueprint_that_forms_cannot_be_held_to_is_told_in_the_result(record, clock):
    """Two questions for all: a mistake costs half the points or nothing, and the result says so."""
    text = SMALL.replace("questions = 6", "questions = 1").replace("questions = 2", "questions = 1")
    found = [Exam.begin(record, seed, parse_blueprint(text), clock) for seed in range(4)]
    far = max(found, key=lambda exam: exam.strays)
    said = " ".join(far.finish().lines())
    assert (far.strays > NEAR + 1e-9) == ("too few or too dear" in said)
    assert "too few or too dear" in " ".join(replace(far.result(), strays=0.2).lines())


def test_the_same_seed_gives_the_same_form():
    """Whoever sits form 4 anywhere sits the same."""
    blueprint = parse_blueprint(SMALL)
    assert form(blueprint, 4) == form(blueprint, 4) != form(blueprint, 6)


@pytest.mark.parametrize(("old", "new", "says"), [
    ("minutes = 10", "minutes = 0", "minutes: write a figure from 1 to 600"),
    ("minutes = 10", 'minutes = "ten"', "minutes: write a figure"),
    ("P1 =", "P9 =", "objectives.P9: is no objective; use R1"),
    ("questions = 6", "questions = 2.5", "objectives.P1.questions: write a whole number"),
    ("difficulty = [1, 2]", "difficulty = [4]", "objectives.P1.difficulty: write a list out of 1, 2 and 3"),
    ("format = 1", "format = 2", "format: write format = 1"),
    ("pass_share = 0.7\n", "pass_share = 0.7\npass = 1\n", "pass: is not known; use format"),
    ("[objectives]", "[objectives", "line 6, column 12: is not TOML"),
    ("minutes = 10", "minutes = " + "[" * 5000, "is nested too deeply; tables and lists stand one deep"),
    ("title = 'A short one'", "title = 3", "title: write a title"),
    ("[objectives]", "objectives = 3\n[other]", "other: is not known; use format"),
    ("P1 = {", "P1 = 7 # {", "objectives.P1: write share, questions, difficulty and, where wanted, must_pass and kinds"),
    ("must_pass = true", 'kinds = ["riddle"]', "objectives.P1.kinds: write a list out of missing, order, arrange, true or false"),
    ("must_pass = true", "must_pass = 1", "objectives.P1.must_pass: write true or false")])
def test_a_bad_blueprint_is_refused_with_its_place(old, new, says):
    """Where, what, and what to write."""
    with pytest.raises(BadBlueprint) as refused:
        parse_blueprint(SMALL.replace(old, new, 1), "mine.toml")
    assert says in str(refused.value) and str(refused.value).startswith("mine.toml: ")


def test_a_blueprint_that_is_not_there_is_refused(tmp_path):
    """One sentence, no traceback."""
    with pytest.raises(BadBlueprint, match=r"none\.toml: cannot be read: no such file or directory; mend the path"):
        read_blueprint(tmp_path / "none.toml")
    (tmp_path / "raw.toml").write_bytes(SMALL.encode("utf-16"))
    with pytest.raises(BadBlueprint, match=r"raw\.toml: is not UTF-8 text; save it as UTF-8"):
        read_blueprint(tmp_path / "raw.toml")


# -- sitting one -----------------------------------------------------------------------------------------

def test_answers_are_kept_changed_and_marked(exam):
    """The last answer to a question counts; what was not answered earns nothing."""
    exam.answer(0, next(o.value for o in exam.item(0).options if o.value not in exam.item(0).key))
    for n in range(len(exam.slots) - 1):
        exam.answer(n, exam.item(n).right)
    assert exam.open == (len(exam.slots) - 1,)
    result = exam.finish()
    assert result.answered == len(exam.slots) - 1
    lost = exam.slots[-1][0]
    assert result.total == pytest.approx(1.0 - exam.blueprint.worth(lost))
    assert exam.finish() == result


def test_no_result_before_the_end(exam):
    """No hints: neither the marker's word nor a result is given while it runs."""
    assert exam.answer(0, exam.item(0).right) is None
    with pytest.raises(ExamTrouble, match="handed it in"):
        exam.result()


def test_what_is_no_option_is_refused_and_not_kept(exam):
    """Neither full points nor none."""
    with pytest.raises(BadAnswer):
        exam.answer(0, "perhaps")
    with pytest.raises(ExamTrouble, match="questions 1 to 8"):
        exam.answer(99, "perhaps")
    assert exam.answers == {} and exam.record.rows(kind="answer") == []


def test_the_clock_counts_the_time_that_the_lid_was_closed(record, exam, clock):
    """Left after two minutes, opened again after nine: one minute is left, everything answered is there."""
    clock.on(2)
    exam.answer(0, exam.item(0).right)
    exam.flag(3)
    clock.on(7)
    again = Exam.resume(record, clock)
    assert again.seconds_left == pytest.approx(60.0)
    assert again.answers == exam.answers and again.flagged == {3}
    assert again.slots == exam.slots
    clock.on(1.01)
    with pytest.raises(ExamTrouble, match="time is up"):
        again.answer(1, again.item(1).right)
    assert again.result().answered == 1


def test_a_clock_that_is_set_back_wins_no_time(record, exam, clock):
    """The time never runs backwards, in this sitting or in the next."""
    clock.on(8)
    exam.answer(0, exam.item(0).right)
    clock.on(-7)
    assert exam.seconds_left == pytest.approx(120.0)
    assert Exam.resume(record, clock).seconds_left == pytest.approx(120.0)


def test_flags_come_and_go(record, exam, clock):
    """Flag and return."""
    exam.flag(1)
    exam.flag(2)
    exam.flag(1, False)
    assert exam.flagged == Exam.resume(record, clock).flagged == {2}


def test_what_was_handed_in_is_not_resumed(record, exam, clock):
    """Nor another learner's, nor where nothing was begun."""
    other = Record(record.path.parent, learner="Sam (invented)")
    assert Exam.resume(other, clock) is None
    exam.finish()
    assert Exam.resume(record, clock) is None
    with pytest.raises(ExamTrouble, match="handed in"):
        exam.answer(0, exam.item(0).right)


def test_the_sitting_that_was_begun_is_resumed_in_the_form_it_had(record, exam, clock):
    """The questions are those of the sitting's own row, whatever blueprints say meanwhile."""
    assert [item.id for item in map(Exam.resume(record, clock).item, range(8))] == [
        item.id for item in map(exam.item, range(8))]


def test_a_must_pass_objective_fails_the_whole(exam):
    """All else right, and still not passed; it is what to study first."""
    points = dict.fromkeys(range(len(exam.slots)), 1.0)
    first = [n for n, slot in enumerate(exam.slots) if slot[0] == "P1"]
    points[first[0]] = points[first[1]] = 0.0
    result = result_of(exam.blueprint, exam.slots, points)
    assert result.total == pytest.approx(0.8)
    assert not result.passed and result.study[0] == "P1"
    said = " ".join(result.lines())
    assert "P1, put the commissioning steps in order: this one must be passed, and 67 % is too little." in said
    assert said.endswith("It is practice for a certificate, and not one.")


# -- killed ----------------------------------------------------------------------------------------------

SITTING = """
import sys
from widgets.learn import Record
from widgets.learn.exam import Exam
exam = Exam.resume(Record(sys.argv[1]))
print("ready", flush=True)
while True:
    for n in range(len(exam.slots)):
        exam.answer(n, exam.item(n).options[(n + len(exam.answers)) % 3].value)
        print(n, exam.answers[n], flush=True)
"""


def test_killed_at_any_moment_it_loses_no_finished_answer(tmp_path):
    """Killed with the signal that cannot be caught, between 0 and 0.2 s after a sitting was resumed."""
    record, chance = Record(tmp_path), random.Random(8)
    Exam.begin(record, 5, parse_blueprint(SMALL))
    told: dict[int, str] = {}
    for _ in range(6):
        child = subprocess.Popen([sys.executable, "-c", SITTING, str(tmp_path)], cwd=TOP, stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None and child.stdout.readline() == "ready\n"
        time.sleep(chance.uniform(0.0, 0.2))
        child.send_signal(signal.SIGKILL)
        out, _ = child.communicate()
        lines = out.splitlines() if out.endswith("\n") else out.splitlines()[:-1]
        told.update({int(line.split(" ", 1)[0]): line.split(" ", 1)[1] for line in lines})
        kept = Exam.resume(record).answers
        # One answer may be on the disk that the child had no time to tell of.
        assert sum(kept.get(n) != value for n, value in told.items()) <= 1
        assert set(told) <= set(kept)
        told = dict(kept)
    assert told
