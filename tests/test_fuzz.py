"""Spoilt files go through the commands: no traceback, no markup out of words, nothing written astray."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from unittest import mock

import pytest

from figures.physics import NoSolution
from figures.plant import read_plant
from tests.bench import fuzz, fuzz_judge
from tests.bench.fuzz_judge import table_faults
from widgets.command import main
from widgets.learn import Record
from widgets.learn.bank.given import questions_about
from widgets.learn.exam import Exam
from widgets.learn.exam_form import parse_blueprint
from widgets.learn.keeping import as_csv
from widgets.learn.lessons import shipped_lessons
from widgets.learn.progress import progress_of
from widgets.learn.second_copy import _line
from widgets.paper.answers import read_folder
from widgets.serve.folder import fill
from widgets.serve.present_kept import Kept


def test_spoilt_files_end_in_plain_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """A hundred and twenty files of every kind, the same ones on every day; the long run is in tests/bench."""
    monkeypatch.setattr(fuzz, "PATIENCE_S", 60.0)       # nothing fails on a slow day
    monkeypatch.setenv("LOOPBOOK_DATA", "")             # put back when the test ends
    faults: list[str] = []
    count = fuzz.run(120, seed=1, tell=faults.append)
    assert faults == []
    assert min(count[kind] for kind in fuzz.SHARES) > 2


@pytest.mark.parametrize(("page", "wrong"), [
    ("<svg><text>&lt;x-bad&gt;</text></svg>", 0),
    ("<svg><text><x-bad/></text></svg>", 1),
    ("<svg><text>open</svg>", 1),
    ('<svg><g onload="a()"/></svg>', 1),
])
def test_markup_that_a_word_made_is_seen(page: str, wrong: int) -> None:
    """The fuzz can tell an escaped word from one that became an element or a handler."""
    assert len(fuzz_judge.markup_faults("d.svg", page)) == wrong


# -- what was found, each as small as it can be -------------------------------------------------------------

@pytest.fixture(scope="module")
def class_files() -> dict[str, bytes]:
    """A key, forms, a table and an examination: sound ones."""
    return fuzz.answer_files()


def marked(folder: Path, capsys: pytest.CaptureFixture[str], files: dict[str, bytes]) -> tuple[int, str]:
    """The exit of `mark` on such files, and all that it says."""
    for name, data in files.items():
        (folder / "all" / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / "all" / name).write_bytes(data)
    with mock.patch("widgets.paper.report.pdf", lambda *_: b""):
        code = main(["mark", str(folder / "all"), "--out", str(folder / "out")])
    told = capsys.readouterr()
    return code, told.out + told.err


@pytest.mark.parametrize(("old", "new"), [
    (b'"points": 0.0', b'"points": 1e999'), (b'"points": 0.0', b'"points": 1' + b"0" * 400), (b'"points": 0.0', b'"points": -3'),
    (b'"number": 1', b'"number": Infinity'), (b'"number": 2', b'"number": 1'), (b'"place": "R7"', b'"place": "R8"'),
])
def test_a_key_that_somebody_changed_is_refused(old: bytes, new: bytes, class_files: dict[str, bytes], tmp_path: Path,
                                                capsys: pytest.CaptureFixture[str]) -> None:
    """Figures without end, points beyond all, numbers twice, places that are not the blueprint's: a sentence, and exit 2."""
    key = class_files["key/key.json"]
    assert old in key
    code, told = marked(tmp_path, capsys, class_files | {"key/key.json": key.replace(old, new, 1)})
    assert (code, "is damaged, or no key of a test" in told) == (2, True)


@pytest.mark.parametrize(("name", "old", "new"), [
    ("answers/me.jsonl", b'"number": 0', b'"number": true'), ("answers/me.jsonl", b', 0]', b', false]'),
    ("answers/me.jsonl", b'"at": "20', b'"at": "99'), ("answers/paper-01.toml", b'1 = "a"', b"1 = 0x" + b"f" * 5000),
    ("answers/class.csv", b"\xef\xbb\xbf", b"sep=\"\n"),
])
def test_one_file_that_cannot_be_read_stops_no_other(name: str, old: bytes, new: bytes, class_files: dict[str, bytes],
                                                     tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Numbers that are none, a year beyond the calendar, figures of thousands of digits, separators that are quotes."""
    assert old in class_files[name]
    code, told = marked(tmp_path, capsys, class_files | {name: class_files[name].replace(old, new)})
    assert (code, "Traceback" in told, " marked, " in told) == (0, False, True)


def test_no_link_leads_out_of_the_folder(class_files: dict[str, bytes], tmp_path: Path,
                                         capsys: pytest.CaptureFixture[str]) -> None:
    """An answer file that is a link elsewhere is set aside; a link in the report's place is not written through."""
    for name, where in (("outside.toml", "all/answers/linked.toml"), ("kept.txt", "out/.report.html.part")):
        (tmp_path / name).write_bytes(class_files["answers/paper-01.toml"].replace(b"Ann", b"S3CRET"))
        (tmp_path / where).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / where).symlink_to(tmp_path / name)
    code, told = marked(tmp_path, capsys, class_files)
    assert code == 0 and "linked.toml: damaged: is a link that leads out of the folder" in told
    assert b"S3CRET" in (tmp_path / "kept.txt").read_bytes() and "S3CRET" not in (tmp_path / "out" / "report.html").read_text()


@pytest.mark.parametrize("cells", [
    {"id": "x"}, {"id": True}, {"id": -1}, {"id": 2**70}, {"version": None}, {"plant": ["x"]}, {"answer": "]"}, {"more": "[1]"},
    {"seed": 2**70}, {"at": None},
])
def test_a_line_of_the_second_copy_that_no_row_can_be_counts_as_damaged(cells: dict[str, object], tmp_path: Path,
                                                                        capsys: pytest.CaptureFixture[str]) -> None:
    """Its sum is right, so somebody made it; the rows beside it are there all the same."""
    record = Record(tmp_path)
    for n in range(3):
        record.add("answer", item=f"item {n}")
    lines = record.copy.path.read_bytes().splitlines(keepends=True)
    lines[1] = _line("row", json.loads(lines[1])["row"] | cells)
    record.copy.path.write_bytes(b"".join(lines))
    record.path.unlink()
    assert main(["record", "export", "--folder", str(tmp_path)]) == 0
    assert [json.loads(line)["item"] for line in capsys.readouterr().out.splitlines()] == ["item 0", "item 2"]


def test_a_row_whose_more_is_no_table_is_damage_and_no_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another program wrote it; there is no second copy to make the record again from."""
    record = Record(tmp_path)
    record.add("answer", item="control")
    with closing(sqlite3.connect(record.path, isolation_level=None)) as database:
        database.execute("DROP TRIGGER rows_stay")
        database.execute("UPDATE rows SET more = '5'")
    record.copy.path.unlink()
    assert main(["record", "show", "--folder", str(tmp_path)]) == 2
    assert "the file is damaged" in capsys.readouterr().err


def test_what_a_learner_wrote_leaves_the_record_as_plain_json_and_no_formula(tmp_path: Path,
                                                                             capsys: pytest.CaptureFixture[str]) -> None:
    """Half a letter, an escape for a terminal, a figure without end, a formula after a semicolon."""
    Record(tmp_path).add("answer", item="a;=1+1", answer=["\ud83d", "\x9b2J\u202e", float("inf")])
    assert main(["record", "export", "--folder", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    row = json.loads(told, parse_constant=lambda _: pytest.fail("no JSON"))
    assert "\x9b" not in told and row["answer"][1:] == ["\x9b2J\u202e", None]
    assert main(["record", "export", "--folder", str(tmp_path), "--format", "csv"]) == 0
    assert table_faults("printed", capsys.readouterr().out) == []


def test_the_fuzz_sees_formulas_links_and_what_a_pdf_must_not_hold() -> None:
    """What judges the outputs can say no."""
    assert table_faults("t", "name,points\nKim,-0.5\n") == []
    assert len(table_faults("t", "name\nKim;=1+1\n")) == 1 and len(table_faults("t", "name\n@SUM(1)\n")) == 3
    assert fuzz_judge.markup_faults("d.svg", '<svg><use href="javascript:a()"/></svg>') != []
    assert fuzz_judge.markup_faults("p.htm", "<p><b>x</p>") != [] and fuzz_judge.markup_faults("p.htm", "<p><b>x</b></p>") == []
    assert fuzz_judge.pdf_faults("p.pdf", b"%PDF-1.7\n1 0 obj <</OpenAction 2 0 R>> endobj\n%%EOF") != []
    assert fuzz_judge.pdf_faults("p.pdf", rb"%PDF-1.7 <</T(\) Tj /JS \()>> %%EOF") == []
    assert fuzz_judge.pdf_faults("p.pdf", rb"%PDF-1.7 <</T(\\)/JS (run me)>> %%EOF") != []
    assert fuzz_judge.json_faults("j", ['{"a": NaN}', "[]"]) != [] and fuzz_judge.control_faults("c", "a\x1b[2J") != []


def test_a_record_without_its_guard_can_be_forgotten(tmp_path: Path) -> None:
    """Another program took away the trigger that keeps rows from being deleted."""
    record = Record(tmp_path)
    record.add("answer", item="control")
    with closing(sqlite3.connect(record.path, isolation_level=None)) as database:
        database.execute("DROP TRIGGER rows_remain")
    assert main(["record", "forget", "--folder", str(tmp_path), "--yes"]) == 0
    assert record.rows() == []


@pytest.mark.parametrize("command", [("draw", "d.svg"), ("sheet", "s.txt")])
def test_the_name_of_a_file_cannot_move_the_cursor(command: tuple[str, str], tmp_path: Path,
                                                   capsys: pytest.CaptureFixture[str]) -> None:
    """An escape for a terminal in a plant file's name is shown as '?' where the command says what it has written."""
    file = tmp_path / "\x1b[31m.toml"
    file.write_bytes(fuzz.SAMPLES[0].read_bytes())
    assert main([command[0], str(file), "--out", str(tmp_path / command[1])]) == 0
    assert "?[31m.toml" in capsys.readouterr().out


def test_who_hands_in_a_key_does_not_choose_it(class_files: dict[str, bytes], tmp_path: Path,
                                               capsys: pytest.CaptureFixture[str]) -> None:
    """Two keys that differ are asked about; one that lies there twice is the key."""
    key = class_files["key/key.json"]
    assert marked(tmp_path / "same", capsys, class_files | {"key.json": key})[0] == 0
    code, told = marked(tmp_path / "other", capsys, class_files | {"key.json": key.replace(b'"A"', b'"B"')})
    assert code == 2 and "there are several keys" in told


def test_a_database_whose_very_complaint_cannot_be_read_is_made_again(tmp_path: Path) -> None:
    """A byte that is no UTF-8 in the database's own table of contents: SQLite quotes it in its message."""
    record = Record(tmp_path)
    record.add("answer", item="control")
    whole = record.path.read_bytes()
    record.path.write_bytes(whole.replace(b"triggerrows_stay", b"trigger\xf5ows_stay").replace(b"ER rows_stay", b"ER rows stay"))
    with pytest.raises(UnicodeDecodeError), closing(sqlite3.connect(record.path)) as database:
        database.execute("PRAGMA journal_mode = DELETE")
    assert [row.item for row in record.rows()] == ["control"] and "made again from its second copy" in record.notice


def test_what_study_and_present_remember_may_be_nested_without_end(tmp_path: Path) -> None:
    """A list of lessons, a lesson and a presenter's state that no reader of JSON can take count as damaged, and stay."""
    deep = b"[" * 100_000
    (tmp_path / ".loopbook.json").write_bytes(deep)
    lesson = shipped_lessons()[0]
    (tmp_path / lesson.name).write_bytes(deep)
    fill(tmp_path, (lesson,))
    assert (tmp_path / lesson.name).read_bytes() == deep
    (tmp_path / "present.json").write_bytes(deep)
    assert Kept(tmp_path / "present.json").seed == 1


@pytest.mark.parametrize("at", ["9999-12-31T23:59:59Z", "0001-01-01T00:00:00+14:00"])
def test_a_row_from_an_end_of_the_calendar_is_left_out(at: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An answer and an examination of that day: nothing can be added to it, and nothing taken away."""
    record = Record(tmp_path)
    record.add("answer", item="control", objective="R7", points=1.0, of=1.0, more={"at": at})
    record.add("exam", exercise="exam/1/x", more={"event": "start", "at": at, "blueprint": fuzz.FEW_QUESTIONS, "slots": []})
    assert main(["record", "show", "--folder", str(tmp_path)]) == 0
    assert progress_of(record).not_understood == 2


def test_a_plant_whose_water_cannot_be_reckoned_is_asked_about_all_the_same() -> None:
    """What needs the flow is not asked; what the piping shows is."""
    plant = read_plant(fuzz.SAMPLES[0])
    every = {item.objective for item in questions_about(plant)}
    with mock.patch("figures.physics.operation.solve", side_effect=NoSolution("A>Z", "could not be balanced")):
        asked = {item.objective for item in questions_about(plant)}
    assert asked < every and {"R3", "C1"} <= asked and "F4" in every - asked


def test_bytes_that_another_program_put_into_a_row_stop_nobody_from_being_forgotten(tmp_path: Path) -> None:
    """Kim is forgotten though a row of Ann's holds no text."""
    for learner in ("Kim", "Ann"):
        Record(tmp_path, learner).add("answer", item="control")
    with closing(sqlite3.connect(Record(tmp_path).path, isolation_level=None)) as database:
        database.execute("DROP TRIGGER rows_stay")
        database.execute("UPDATE rows SET item = x'ff00' WHERE learner = 'Ann'")
    assert main(["record", "forget", "--folder", str(tmp_path), "--learner", "Kim", "--yes"]) == 0
    assert Record(tmp_path).learners() == ["Ann"]


def test_an_examination_comes_home_from_a_table_whatever_its_title_holds(tmp_path: Path,
                                                                         capsys: pytest.CaptureFixture[str]) -> None:
    """What `safe` changes in a cell, and what cannot be seen, is read back as it was: the blueprint is still the same one."""
    text = fuzz.FEW_QUESTIONS.replace("Three questions", "Three;=1+1;\\t-2\u200b questions")
    exam = Exam.begin(Record(tmp_path / "data", "Kim"), 1, parse_blueprint(text))
    exam.answer(0, exam.item(0).right)
    exam.finish()
    (tmp_path / "kim.csv").write_text(as_csv(exam.record.rows()), "utf-8")
    assert table_faults("kim.csv", (tmp_path / "kim.csv").read_text("utf-8")) == []
    with mock.patch("widgets.paper.report.pdf", lambda *_: b""):
        assert main(["mark", str(tmp_path / "kim.csv"), "--out", str(tmp_path / "out")]) == 0
    assert "1 marked" in capsys.readouterr().out
    assert read_folder(tmp_path / "kim.csv").sat[0].more["blueprint"] == text
