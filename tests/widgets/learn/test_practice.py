"""Practice: FSRS plans what comes back, weak objectives first, new ones mixed in, the record its only memory."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.widgets.learn.short import short_blueprint
from widgets.learn import OBJECTIVES, BadAnswer, Record
from widgets.learn.exam import Exam
from widgets.learn.exam_form import parse_blueprint
from widgets.learn.practice import Practice, scheduler, standings

BEGAN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
TOP = Path(__file__).parents[3]


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.time = BEGAN

    def __call__(self) -> datetime:
        return self.time


def given(record: Record, objective: str, points: float, days_ago: float = 1.0, hints: int = 0) -> None:
    """An answer as it stands in the record."""
    at = (BEGAN - timedelta(days=days_ago)).isoformat()
    record.add("answer", exercise="practice", item="x", objective=objective, points=points, of=1.0,
               more={"at": at, "hints": hints})


@pytest.fixture
def record(tmp_path) -> Record:
    return Record(tmp_path)


def test_retrievability_is_as_published():
    """Facts, 'Tests, spacing, screens': R after 1, 5, 10, 30, 100 days at S = 2.3065, the first answer being good."""
    from fsrs import Card, Rating

    card, _ = scheduler().review_card(Card(due=BEGAN), Rating.Good, BEGAN)
    assert card.stability == pytest.approx(2.3065)
    found = [scheduler().get_card_retrievability(card, BEGAN + timedelta(days=days)) for days in (1, 5, 10, 30, 100)]
    assert found == pytest.approx([0.946847, 0.838861, 0.774367, 0.667526, 0.558907], abs=1e-6)


def test_intervals_are_as_published():
    """Facts, the same table: 'good' five times, each when due: 2, 11, 46, 163, 497 days."""
    from fsrs import Card, Rating

    card, now, days = Card(due=BEGAN), BEGAN, []
    for _ in range(5):
        card, _ = scheduler().review_card(card, Rating.Good, now)
        days.append((card.due - now).days)
        now = card.due
    assert days == [2, 11, 46, 163, 497]


def test_standings_come_from_the_record(record):
    """Right, wrong, helped and never asked."""
    given(record, "R1", 1.0)
    given(record, "R2", 0.0)
    given(record, "R3", 1.0, hints=2)
    stand = standings(record.rows(), BEGAN)
    assert set(stand) == set(OBJECTIVES)
    assert stand["R4"].new and stand["R4"].due is None
    assert stand["R2"].due <= stand["R3"].due < stand["R1"].due
    assert stand["R2"].recall < stand["R3"].recall < stand["R1"].recall
    assert stand["R1"].recall == pytest.approx(0.946847, abs=1e-6)
    assert (stand["R1"].recent, stand["R2"].recent) == (1.0, 0.0)


def test_second_tries_and_an_examination_that_still_runs_do_not_count(record):
    """What was right only after its reason was read is not known yet; the examination counts once it is over."""
    def add(exercise, points, **more):
        record.add("answer", exercise=exercise, item="q", objective="R8", points=points, of=1.0,
                   more={"at": BEGAN.isoformat(), **more})

    add("which", 0.0, **{"try": 1})
    add("which", 1.0, **{"try": 2})
    assert (standings(record.rows(), BEGAN)["R8"].answers, standings(record.rows(), BEGAN)["R8"].recent) == (1, 0.0)
    blueprint = parse_blueprint(short_blueprint("R8 = {share = 1, questions = 1, difficulty = [1]}"))
    exam = Exam.begin(record, 1, blueprint, lambda: BEGAN)
    exam.answer(0, next(option.value for option in exam.item(0).options if option.value not in exam.item(0).key))
    exam.answer(0, exam.item(0).right)
    assert standings(record.rows(), BEGAN + timedelta(minutes=5))["R8"].answers == 1
    stand = standings(record.rows(), BEGAN + timedelta(minutes=11))["R8"]
    assert (stand.answers, stand.recent) == (2, 0.5)       # its last answer, once
    exam.finish()
    assert standings(record.rows(), BEGAN + timedelta(minutes=5))["R8"].answers == 2


def test_an_instructors_mark_of_zero_counts(record):
    """A hand mark stands before the automatic one, zero included."""
    record.add("answer", objective="R1", points=1.0, of=1.0, hand=0.0, more={"at": BEGAN.isoformat()})
    assert standings(record.rows(), BEGAN)["R1"].recent == 0.0


def test_weak_objectives_come_first(record):
    """All known, one often wrong: that one comes back before any other."""
    for code in OBJECTIVES:
        for days in (3.0, 2.0, 1.0):
            given(record, code, 0.0 if code == "J3" else 1.0, days)
    assert Practice(record, seed=1, clock=Clock()).choose() == "J3"


def test_new_objectives_are_mixed_in_in_the_order_of_the_job(record):
    """A beginner starts with the first; who has weak ones gets those and new ones."""
    assert Practice(record, seed=1, clock=Clock()).choose() == "R1"
    given(record, "R1", 0.0)
    chosen = {Practice(record, seed=seed, clock=Clock()).choose() for seed in range(30)}
    assert chosen == {"R1", "R2"}


def test_difficulty_follows_the_answers(record):
    """Easy where shaky, hard where sure."""
    for _ in range(6):
        given(record, "R1", 1.0)
        given(record, "R2", 0.0)
    given(record, "R3", 1.0)
    stand = standings(record.rows(), BEGAN)
    assert [stand[code].difficulty for code in ("R1", "R2", "R3", "R4")] == [3, 1, 2, 1]


def test_a_session_lasts_ten_minutes_and_repeats_nothing_at_once(record):
    """A question that was begun may be answered; no objective twice in a row."""
    clock = Clock()
    session = Practice(record, seed=2, clock=clock)
    for _ in range(6):
        item = session.next()
        assert session.next() is item
        got = session.answer(item.right)
        assert got.right and got.because.startswith("Right. ")
        clock.time += timedelta(minutes=1.5)
    assert not session.over
    clock.time += timedelta(minutes=1.5)
    assert session.over
    assert all(a != b for a, b in zip(session.asked, session.asked[1:]))
    assert [row.objective for row in record.rows(kind="answer")] == session.asked


def test_a_wrong_answer_is_explained_and_remembered(record):
    """The mark speaks to the mistake, names parts that are on the plant, and keeps the mistake's number."""
    session = Practice(record, seed=4, clock=Clock())
    item = session.next()
    wrong = next(option for option in item.options if option.value not in item.key)
    with pytest.raises(BadAnswer):
        session.answer("perhaps")
    said = session.hint()
    assert said == item.hints[0].says
    got = session.answer(wrong.value)
    assert got.points == 0.0 and wrong.label in got.because
    row = record.rows(kind="answer")[-1]
    assert row.more["misconception"] == wrong.misconception and row.more["hints"] == 1


def test_fsrs_is_opened_late_and_brings_nothing_heavy():
    """Neither the command line nor a lesson waits for it, and it pulls in no numbers by the gigabyte."""
    code = ("import sys, widgets.learn, widgets.learn.practice; assert 'fsrs' not in sys.modules; import fsrs;"
            "heavy = {'torch', 'pandas', 'scipy', 'matplotlib'} & set(sys.modules); assert not heavy, heavy")
    subprocess.run([sys.executable, "-c", code], check=True, cwd=TOP, timeout=60)
