"""The page of progress: published figures, everything escaped, nothing of an open examination, copies, kind words."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import pytest

from tests.widgets.learn.short import short_blueprint
from widgets.learn import Record
from widgets.learn.keeping import HONEST
from widgets.show.progress import ProgressPage, page_of, progress

NOW = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)
NASTY = '<img src=x onerror="alert(1)">'


@pytest.fixture
def record(tmp_path) -> Record:
    """24 of 30 on R7, the must-pass one, and 8 of 10 on R8 with one mistake made twice."""
    record = Record(tmp_path / "data")
    for code, right, n in (("R7", 24, 30), ("R8", 8, 10)):
        for turn in range(n):
            record.add("answer", exercise="practice", item="q", objective=code, answer="=1+1", points=float(turn < right), of=1.0,
                       more={"at": (NOW - timedelta(days=1, minutes=n - turn)).isoformat(),
                             "misconception": 19 if code == "R8" and turn >= right else None})
    return record


def page(record: Record, folder: object = ".") -> ProgressPage:
    return ProgressPage(record, lambda: NOW, str(folder))


class Cells(HTMLParser):
    """Rows of a table as texts, and every tag that there is."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th") and self.rows:
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data


def test_the_table_says_the_published_intervals(record):
    """Facts 14: 24 of 30 lies between 0.62694 and 0.90495, 8 of 10 between 0.49016 and 0.94332."""
    shown = page(record)
    rows = Cells(shown.page.value.split("</table>")[0]).rows
    assert rows[0] == ["Objective", "Weight", "Right", "Likely between", "Last seen", "Next due"]
    assert [row[1:4] for row in rows[1:]] == [["6", "24 of 30, 80 %", "63 and 90 %"], ["2", "8 of 10, 80 %", "49 and 94 %"]]
    assert "must be passed" in rows[1][0] and "must be passed" not in rows[2][0]
    assert "“The lead is the nearest boiler”</strong>, 2 times" in shown.page.value
    assert repr(shown) == "<Progress: 40 answers>"
    assert shown.children[-1].text == HONEST


def test_a_lesson_is_named_only_where_it_is_there(record):
    """A book that has it points to it."""
    found = page(record).progress
    assert "Lesson 11, “Several boilers”" in page_of(found, NOW, {11})
    assert "Lesson" not in page_of(found, NOW, {12})


def test_what_a_file_or_a_learner_wrote_stays_text(tmp_path):
    """The title of a blueprint, and a learner's name."""
    record = Record(tmp_path, NASTY)
    blueprint = short_blueprint("R8 = {share = 100, questions = 1, difficulty = [1]}", title=NASTY)
    record.add("exam", exercise="exam/1/x", seed=1, more={"event": "start", "at": (NOW - timedelta(days=1)).isoformat(),
                                                         "blueprint": blueprint, "slots": [["R8", "point", 1, 3, 0]]})
    shown = page(record)
    assert "img" not in Cells(shown.page.value).tags and "&lt;img src=x" in shown.page.value
    assert "Not passed: 0 % of the points, 0 of 1 questions answered." in shown.page.value
    assert NASTY in shown.head.text, "a note sets its words as text"


def test_an_open_examination_shows_no_result(tmp_path):
    """Only that it runs, and how to go on."""
    record = Record(tmp_path)
    blueprint = short_blueprint("R8 = {share = 100, questions = 1, difficulty = [1]}")
    at = (NOW - timedelta(minutes=3)).isoformat()
    record.add("exam", exercise="e", seed=1, more={"event": "start", "at": at, "blueprint": blueprint,
                                                   "slots": [["R8", "point", 1, 3, 0]]})
    record.add("answer", exercise="e", objective="R8", points=0.0, of=1.0, more={"number": 0, "at": at, "misconception": 19})
    shown = page(record)
    assert "it still runs, 1 of 1 questions answered" in shown.page.value
    assert "%" not in shown.page.value and "nearest boiler" not in shown.page.value
    assert shown.buttons["Chart of objectives"].disabled and not shown.buttons["Save as CSV"].disabled


def test_an_empty_record_says_what_to_do_first(tmp_path):
    shown = page(Record(tmp_path))
    assert shown.report.text.startswith("Nothing is kept for you yet. Do this first:") and "Quiz()" in shown.report.text
    assert shown.page.value == "" and shown.report.tone == "plain"
    assert [name for name, button in shown.buttons.items() if not button.disabled] == ["Read again"]
    assert shown.bar.children == (shown.buttons["Read again"],)


def test_a_damaged_record_says_so_and_can_be_read_again(record):
    """In one sentence; the page stands empty, and fills once the file is back."""
    whole, copy = record.path.read_bytes(), record.copy.path.read_bytes()
    for path in (record.path, record.copy.path):
        path.write_bytes(b"this is not a data base " * 400)
    shown = page(record)
    assert "the file is damaged" in shown.report.text and shown.report.tone == "trouble"
    assert shown.page.value == "" and repr(shown) == "<Progress: 0 answers>"
    record.path.write_bytes(whole)
    record.copy.path.write_bytes(copy)
    shown.buttons["Read again"].click()
    assert "24 of 30" in shown.page.value and shown.report.text == ""


def test_a_record_made_again_is_told_of_once(record):
    """The page stands, and says what was damaged and where it is."""
    record.path.write_bytes(b"this is not a data base " * 400)
    shown = page(record)
    assert "24 of 30" in shown.page.value
    assert "was damaged and was made again" in shown.report.text and "record-damaged-" in shown.report.text
    shown.buttons["Read again"].click()
    assert shown.report.text == ""


def test_a_row_that_is_no_json_is_left_out_and_told_of(record):
    """Another program put it there: at once, and when it has followed into the second copy. The rest of the record stays."""
    import sqlite3

    with sqlite3.connect(record.path) as connection:
        connection.execute("INSERT INTO rows (at, learner, kind, exercise, item, objective, answer, more)"
                           " VALUES ('2026-03-19T00:00:00Z', 'me', 'answer', '', '', 'R1', '{', '{}')")
    connection.close()
    following = record.path.read_bytes()
    shown = page(record)
    assert "was damaged and was made again from its second copy, record.jsonl: 40 rows." in shown.report.text
    assert "24 of 30" in shown.page.value
    record.path.write_bytes(following)
    record.add("answer", objective="R7", points=1.0, of=1.0, more={"at": NOW.isoformat()})
    shown = page(record)
    assert "41 rows; 1 line of that could not be read." in shown.report.text
    assert "25 of 31" in shown.page.value


def test_charts_come_when_they_are_asked_for(record):
    """With what they show in words below; the same figures as the table."""
    shown = page(record)
    assert shown.chart_box.value == ""
    shown.buttons["Chart of objectives"].click()
    assert "data:image/svg+xml;base64," in shown.chart_box.value
    assert "R7, weight 6, must be passed: 24 of 30 right, 80 %, likely between 63 and 90 %." in shown.charted.text
    shown.buttons["Chart of days"].click()
    assert "40 answers, 32 right." in shown.charted.text and 'alt="Answers by day.' in shown.chart_box.value


def test_copies_never_go_over_one_another(record, tmp_path):
    """JSON Lines and CSV as the command line exports them."""
    shown = page(record, tmp_path)
    for _ in range(2):
        shown.buttons["Save as CSV"].click()
    shown.buttons["Save as JSON Lines"].click()
    first, second = sorted(tmp_path.glob("*.csv"))
    with first.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 40 and {row["answer"] for row in rows} == {"'=1+1"}
    assert first.read_text() == second.read_text()
    (lines,) = tmp_path.glob("*.jsonl")
    assert [json.loads(line)["answer"] for line in lines.read_text("utf-8").splitlines()] == ["=1+1"] * 40
    assert shown.report.text == f"Saved as {lines}."


def test_where_nothing_can_be_written_it_is_said(record, tmp_path):
    shown = page(record, tmp_path / "nowhere")
    shown.buttons["Save as CSV"].click()
    assert "cannot be written here" in shown.report.text and shown.report.tone == "trouble"


def test_no_matplotlib_until_a_chart_is_asked_for(tmp_path):
    """In a kernel of its own, with one answer in the record."""
    code = ("import sys; from widgets import Record, progress; r = Record(sys.argv[1]);"
            "r.add('answer', objective='R7', points=1.0, of=1.0); p = progress(r); print('matplotlib' in sys.modules);"
            "p.buttons['Chart of days'].click(); print('matplotlib' in sys.modules, p.report.text)")
    said = subprocess.run([sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True).stdout
    assert said.splitlines() == ["False", "True "]


def test_one_line_in_a_notebook(record):
    assert isinstance(progress(record), ProgressPage)
