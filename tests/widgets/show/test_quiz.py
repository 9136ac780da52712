"""Practice and examination on screen: nothing is given away, all is kept, and what was left is found again."""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace

import pytest

from tests.widgets.learn.short import short_blueprint
from widgets.learn import Record
from widgets.learn.bank import make_item
from widgets.show.exam import Sitting
from widgets.show.moment import moment
from widgets.show.quiz import Question, Quiz


@pytest.fixture
def record(tmp_path) -> Record:
    return Record(tmp_path)


@pytest.fixture
def blueprint(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(short_blueprint(), encoding="utf-8")
    return path


def test_the_page_is_not_sent_the_key_before_the_answer():
    """Neither the key, nor the reason, nor loops named or tinted."""
    question = Question(make_item("R7", "loop", 1, 3))
    assert question.ask.shown_key == [] and question.ask.says == ""
    assert question.item.because not in str(question.canvases[""].get_state())
    assert question.canvases[""].hide == ["tints"]
    assert "separated loops" not in question.canvases[""].description.lower()


def test_a_click_on_a_part_chooses_it_and_a_click_elsewhere_nothing():
    """Where the answers are parts; others stay without effect."""
    seen: list[str] = []
    question = Question(make_item("R8", "point", 3, 3), seen.append)
    canvas, wanted = question.canvases[""], question.item.options[1].value
    other = next(tag for tag in question.item.plant.parts if tag not in {o.value for o in question.item.options})
    for picked in (other, wanted):
        canvas.picked = picked
        canvas.n += 1
    assert question.ask.value == [wanted] and seen == [wanted]


def test_four_drawings_stand_side_by_side_under_their_names():
    """Each answer is a drawing, and its name stands on it."""
    question = Question(make_item("C1", "drawings", 1, 3))
    assert [canvas.caption for canvas in question.canvases.values()] == [o.label for o in question.item.options]
    assert all("<svg" in canvas.svg for canvas in question.canvases.values())


def test_flows_stand_on_the_drawing_and_in_its_words():
    """What a judgment needs can be seen, and be heard."""
    question = Question(make_item("F5", "name", 1, 3))
    assert "L/s" in question.canvases[""].description
    assert "condense" in question.beside.text


def test_practice_explains_and_goes_on(record):
    """Check, explanation with the drawing lit up, next; nothing without an answer."""
    quiz = Quiz(record=record, seed=5)
    quiz.check_button.click()
    assert quiz.report.text == "Nothing is answered yet."
    quiz.next_button.click()
    assert quiz.report.text == "Answer this one first, and press Check."
    first = quiz.question
    first.ask.hint_pressed += 1
    assert first.ask.hints == [first.item.hints[0].says]
    wrong = next(o for o in first.item.options if o.value not in first.item.key)
    first.ask.value = [wrong.value]
    quiz.check_button.click()
    assert first.ask.state == "shown" and first.item.because in first.ask.says
    assert first.ask.shown_key == list(first.item.key)
    quiz.next_button.click()
    assert quiz.question is not first
    assert [row.kind for row in record.rows()] == ["hint", "answer"]
    assert repr(quiz) == "<Quiz: 1 answered>"


def test_an_examination_from_start_to_result(record, blueprint):
    """Answers are kept at once; flags, moving about, handing in with a second press, a result in words."""
    sitting = Sitting(4, blueprint, record)
    for n in range(4):
        sitting.go(n)
        sitting.question.ask.value = [sitting.question.item.right]
        assert sitting.report.text == "Kept."
        assert sitting.question.ask.says == ""
    sitting.buttons["Flag"].click()
    assert "flagged" in sitting.head.text
    sitting.buttons["Next"].click()
    assert "question 1 of 4" in sitting.head.text
    sitting.buttons["Hand in"].click()
    assert "once more" in sitting.report.text and sitting.exam.finished is None
    sitting.buttons["Hand in"].click()
    assert sitting.report.text.startswith("Passed: 100 % of the points, 4 of 4")
    assert "practice for a certificate" in sitting.report.text


def test_an_examination_that_was_left_is_found_again(record, blueprint):
    """The same questions, the answer chosen, the next open one shown, and told that the clock went on."""
    first = Sitting(4, blueprint, record)
    first.go(2)
    chosen = first.question.item.options[0].value
    first.question.ask.value = [chosen]
    again = Sitting(9, blueprint, record)
    assert again.exam.slots == first.exam.slots
    assert again.exam.answers == {2: chosen}
    assert "clock went on" in again.report.text
    again.go(2)
    assert again.question.ask.value == [chosen]
    again.lines.picked = 0
    again.lines.n += 1
    assert again.number == again._listed()[0]


def test_the_clock_is_the_kernels_and_time_runs_out_without_a_press(record, blueprint):
    """The page asks; what it is told is what the examination's own clock says. Once it is over all is locked."""
    sitting = Sitting(4, blueprint, record)
    started, later = sitting.exam.started, [60.0]
    sitting.exam.clock = lambda: started + timedelta(seconds=later[0])
    sitting.clock.asked += 1
    assert sitting.clock.left_s == pytest.approx(540.0)
    before = sitting.clock.n
    sitting.clock.asked += 1
    assert sitting.clock.n == before + 1, "told anew, even where nothing has changed"
    later[0] = 599.5
    sitting.clock.asked += 1
    assert sitting.clock.left_s == pytest.approx(0.5) and not sitting.question.ask.locked
    later[0] = 600.0
    sitting.clock.asked += 1
    assert sitting.clock.left_s < 0.0 and sitting.question.ask.locked
    assert sitting.report.text.startswith("The time is up.") and sitting.time.text == "It is over."
    sitting.buttons["Hand in"].click()
    assert "0 of 4 questions answered" in sitting.report.text
    sitting.clock.asked += 1
    assert "0 of 4 questions answered" in sitting.report.text, "the result stays when the page asks once more"


def test_whoever_waits_for_questions_is_told(monkeypatch, record, blueprint):
    """In a kernel a sentence stands below the cell, counts, and goes; what is in it stays text."""
    said: list[str] = []

    class Handle:
        def update(self, html: object) -> None:
            said.append(html.data)

    def display(html: object, display_id: bool) -> Handle:
        said.append(html.data)
        return Handle()

    monkeypatch.setattr("IPython.display.display", display)
    monkeypatch.setattr("IPython.core.getipython.get_ipython", lambda: SimpleNamespace(kernel=object()))
    Sitting(4, blueprint, record)
    assert said[0] == '<p role="status">One moment, the questions are being made …</p>'
    assert any("made, 4 of 4 …" in text for text in said) and said[-1] == ""
    with pytest.raises(ZeroDivisionError), moment("<b>"):
        1 / 0       # noqa: B018
    assert said[-2:] == ['<p role="status">&lt;b&gt; …</p>', ""]
