"""How a learner stands: intervals against published figures, what counts, and what an open examination keeps back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.widgets.learn.short import short_blueprint
from widgets.learn import OBJECTIVES, Record, RecordTrouble, mark
from widgets.learn.exam import Exam
from widgets.learn.exam_form import parse_blueprint
from widgets.learn.lessons import titles
from widgets.learn.practice import standings
from widgets.learn.progress import progress_of, wilson

NOW = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)


@pytest.fixture
def record(tmp_path) -> Record:
    return Record(tmp_path)


def answer(record: Record, code: str, right: bool, days_ago: float = 0.0, **more: object) -> None:
    at = (NOW - timedelta(days=days_ago)).isoformat()
    record.add("answer", exercise="practice", item="q", objective=code, answer="a", points=float(right), of=1.0,
               more={"at": at, **more})


@pytest.mark.parametrize(("right", "n", "low", "high"), [
    (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718),
    (8, 10, 0.49016, 0.94332), (24, 30, 0.62694, 0.90495), (30, 30, 0.88649, 1.0), (40, 50, 0.66963, 0.88756)])
def test_wilson_as_published(right, n, low, high):
    """Newcombe, Stat. Med. 17, 1998 (the first four, from memory); the others computed by statsmodels."""
    assert wilson(right, n) == pytest.approx((low, high), abs=6e-5)


@pytest.mark.parametrize(("right", "n"), [(1, 0), (-1, 3), (4, 3)])
def test_no_such_share(right, n):
    with pytest.raises(ValueError, match="there is no such share"):
        wilson(right, n)


def test_objectives_days_and_mistakes(record):
    """Eight of ten over two days; the mistake twice, named with its lesson; whose days is the zone's affair."""
    for n in range(10):
        answer(record, "R7", n >= 2, days_ago=2 if n < 4 else 1, misconception=1 if n < 2 else None)
    found = progress_of(record, NOW, UTC)
    (stand,) = found.asked
    assert (stand.code, stand.right, stand.answers, stand.objective.must_pass) == ("R7", 8, 10, True)
    assert stand.interval == pytest.approx((0.49016, 0.94332), abs=1e-5)
    assert stand.last == NOW - timedelta(days=1)
    assert stand.due == standings(record.rows(), NOW)["R7"].due
    assert [(d.day, d.answers, d.right) for d in found.days] == [(date(2026, 3, 18), 4, 2), (date(2026, 3, 19), 6, 6)]
    (held,) = found.held
    assert (held.number, held.times, titles()[held.lesson]) == (1, 2, "Tank on the boiler loop")


def test_a_second_try_tells_nothing(record):
    """After the reason was read; partial points are not right; an instructor's mark stands before the automatic one."""
    answer(record, "C1", False, **{"try": 1})
    answer(record, "C1", True, **{"try": 2})
    record.add("answer", objective="C1", points=1.0, of=2.0, more={"at": NOW.isoformat()})
    record.add("answer", objective="C1", points=0.0, of=2.0, hand=2.0, more={"at": NOW.isoformat()})
    (stand,) = progress_of(record, NOW).asked
    assert (stand.right, stand.answers) == (1, 3)


def test_what_to_practise_next(record):
    """Weak by weight, then what is about to be forgotten, then new in the order of the job; not what is fresh."""
    for code, right, days in (("R8", False, 1), ("C1", False, 1), ("F1", True, 30), ("R1", True, 0)):
        answer(record, code, right, days)
    found = progress_of(record, NOW).next
    assert [one.code for one in found[:4]] == ["C1", "R8", "F1", "R2"]
    why = {one.code: one.why for one in found}
    assert why["C1"] == "the one answer was not right" and why["F1"] == "it is about to be forgotten"
    assert why["R2"] == "not asked yet" and "R1" not in why


def test_an_open_examination_gives_nothing_away(record):
    """Before it is over there is no result and no share; then both, with the last answer to each question."""
    start = NOW - timedelta(minutes=5)
    exam = Exam.begin(record, 4, parse_blueprint(short_blueprint()), clock=lambda: start)
    for n in range(4):
        exam.answer(n, next(o.value for o in exam.item(n).options if o.value not in exam.item(n).key))
    exam.answer(0, exam.item(0).right)
    running = progress_of(record, NOW)
    assert running.asked == () and running.held == () and running.days == () and not running.empty
    assert [(t.title, t.answered, t.asked, t.result) for t in running.examinations] == [("A short one", 4, 4, None)]
    exam.finish()
    after = progress_of(record, NOW)
    (taken,) = after.examinations
    assert taken.result == exam.result()
    first = exam.slots[0][0]
    assert [(s.code, s.right, s.answers) for s in after.asked] == [("R8", first == "R8", 2), ("P1", first == "P1", 2)]
    named = {mark(exam.item(n), exam.answers[n]).misconception for n in (1, 2, 3)} - {None}
    assert named and {held.number for held in after.held} == named


def test_out_of_time_is_over(record):
    """What came too late does not count, handed in or not."""
    clock = [NOW - timedelta(minutes=30)]
    exam = Exam.begin(record, 4, parse_blueprint(short_blueprint()), clock=lambda: clock[0])
    exam.answer(1, exam.item(1).right)
    record.add("answer", exercise=exam.name, objective=exam.slots[2][0], points=1.0, of=1.0,
               more={"number": 2, "at": NOW.isoformat()})
    (taken,) = progress_of(record, NOW).examinations
    assert (taken.answered, taken.result.answered) == (1, 1)


def test_an_examination_that_cannot_be_read_is_left_out_and_counted(record):
    record.add("exam", exercise="exam/1/x", more={"event": "start", "at": NOW.isoformat(), "blueprint": "odd", "slots": []})
    record.add("answer", objective="R1", points=1.0, of=1.0, more={"at": "yesterday"})
    answer(record, "R1", True)
    found = progress_of(record, NOW)
    assert found.examinations == () and found.not_understood == 2 and len(found.asked) == 1


def test_a_damaged_record_says_so(record):
    record.path.write_bytes(b"no database at all " * 100)
    with pytest.raises(RecordTrouble, match="the file is damaged"):
        progress_of(record, NOW)


def test_an_empty_record(record):
    found = progress_of(record, NOW)
    assert found.empty and [s.code for s in found.objectives] == list(OBJECTIVES)
    assert found.objectives[0].interval == (0.0, 1.0) and found.next[0].code == "R1"
