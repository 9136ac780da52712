"""Answers of a class: read from whatever comes back, marked, reported; nothing bad stops the rest."""

import csv
import html
import io
import json
import random
import re
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from tests.bench.marking import fill_in
from tests.widgets.learn.short import short_blueprint
from widgets.command import main
from widgets.learn import Record, keeping
from widgets.learn.exam import Exam
from widgets.learn.exam_form import parse_blueprint
from widgets.paper import report
from widgets.paper.answer_forms import class_form, toml_form
from widgets.paper.answers import read_folder
from widgets.paper.keyfile import read_key, written
from widgets.paper.marked import NothingToMark, mark_class
from widgets.paper.papers import make_test

HOSTILE = '=HYPERLINK("http://x.example";"Ann")<script>alert(1)</script>#panic()'


@pytest.fixture(scope="module")
def printed():
    """Four papers of six questions."""
    return make_test(8, 4, 6)


@pytest.fixture
def folder(printed, tmp_path):
    """A folder with the key, and blank forms in `answers`."""
    (tmp_path / "key").mkdir()
    (tmp_path / "answers").mkdir()
    (tmp_path / "key" / "key.json").write_text(written(printed), encoding="utf-8")
    for one in printed.papers:
        (tmp_path / "answers" / f"paper-{one.number:02}.toml").write_text(toml_form(one), encoding="utf-8")
    return tmp_path


def key_of(printed, number):
    """The right answers of a paper, by number of the question."""
    [paper] = [one for one in json.loads(written(printed))["papers"] if one["number"] == number]
    return {q["number"]: "".join(q["key"]) for q in paper["questions"]}


def table(printed, people, separator=",", end="\r\n"):
    """A class as a spreadsheet program saves it: name, paper, answers by number."""
    rows = [["Learner", "CODE", *map(str, range(1, 7))]]
    rows += [[name, printed.papers[number - 1].code, *(given.get(n, "") for n in range(1, 7))] for name, number, given in people]
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=end).writerows(rows)
    return out.getvalue()


def marked(folder):
    """The report of a folder."""
    return mark_class(read_folder(folder / "answers"), read_key(folder / "key"))


def clear(folder):
    """No forms in it."""
    for path in (folder / "answers").iterdir():
        path.unlink()


def test_a_class_is_marked_as_its_items_say(folder, printed):
    """Thirty invented learners: every figure is reckoned again, apart, from what they wrote."""
    fill_in(folder, 30)
    of = marked(folder)
    assert len(of.learners) == 30 and not of.aside
    papers = {p["code"]: p for p in json.loads(written(printed))["papers"]}
    right = dict.fromkeys(of.places, 0)
    for one in of.learners:
        text = (folder / one.where if "/" in one.where else folder / "answers" / one.where).read_text(encoding="utf-8")
        code, given = re.search(r'code = "(.*)"', text)[1], dict(re.findall(r'^(\d+) = "(.*)"', text, re.M))
        for q in papers[code]["questions"]:
            if given[str(q["number"])] == "".join(q["key"]):
                right[q["place"]] += 1
                assert one.scored[q["place"]].right
            else:
                assert q["place"] not in one.scored or not one.scored[q["place"]].right
    assert [q.right for q in of.questions] == [right[place] for place in of.places]
    assert {o.objective for o in of.objectives if o.must_pass} == {"R7", "C1", "J1", "J4"}
    assert of.held and all(0 < held.learners <= held.of <= 30 and held.times >= held.learners for held in of.held)
    assert 1 <= of.held[0].lesson <= 16


@pytest.mark.parametrize(("separator", "encoding", "before"), [
    (",", "utf-8", ""), (";", "utf-8-sig", ""), ("\t", "utf-16", ""), (";", "cp1252", ""), (";", "utf-8-sig", "sep=;\r\n")])
def test_a_table_from_any_spreadsheet_is_read(folder, printed, separator, encoding, before):
    """Semicolons, tabs, byte order marks, line ends, other encodings, a row that is shorter, small letters and spaces."""
    clear(folder)
    keys = {n: key_of(printed, n) for n in (1, 2)}
    text = before + table(printed, [("Jörg Ünal (invented)", 1, keys[1]), ("Zoë (invented)", 2, {
        n: f" {letters.lower()} " for n, letters in keys[2].items()}), ("", 3, {})], separator)
    (folder / "answers" / "class.csv").write_bytes(text.encode(encoding))
    of = marked(folder)
    assert [(one.name, one.result.total) for one in of.learners] == [
        ("Jörg Ünal (invented)", pytest.approx(1.0)), ("Zoë (invented)", pytest.approx(1.0))]
    assert [one.what for one in of.aside] == ["not filled in"] and all(one.result.passed for one in of.learners)


def test_one_learners_table_has_a_question_a_row(folder, printed):
    """Code and name above, then number and answer; letters that only look Latin are taken for what they look like."""
    clear(folder)
    key = key_of(printed, 1)
    rows = "".join(f"{n};{a.replace('A', 'А').replace('B', 'В')}\n" for n, a in key.items())
    text = f"code;{printed.papers[0].code.lower()}\nlearner;Ким (invented)\n{rows}"
    (folder / "answers" / "one.csv").write_text(text, encoding="utf-8")
    [one] = marked(folder).learners
    assert one.name == "Ким (invented)" and one.result.total == pytest.approx(1.0)


def test_what_is_bad_is_named_and_the_rest_is_marked(folder, printed):
    """Damaged, double, foreign: each with its file and why; the good ones count."""
    answers = folder / "answers"
    fill_in(folder, 4)
    shutil.copy(answers / "paper-01.toml", answers / "paper-01b.toml")
    (answers / "paper-02b.toml").write_text(re.sub(r'^1 = ".*"', '1 = "Q"', (answers / "paper-02.toml").read_text(), flags=re.M))
    (answers / "cut.toml").write_text((answers / "paper-03.toml").read_text()[:70])
    (answers / "noise.csv").write_bytes(bytes(range(256)))
    (answers / "book.xlsx").write_bytes(b"PK")
    (answers / "none.toml").write_bytes(b"")
    other = make_test(9, 1, 4)
    (answers / "other.toml").write_text(toml_form(other.papers[0]).replace('1 = ""', '1 = "A"'))
    (answers / "slip.toml").write_text(toml_form(printed.papers[3]).replace(printed.papers[3].code, "BCDF-BCDZ")
                                       .replace('1 = ""', '1 = "A"'))
    (answers / "long.toml").write_text(toml_form(printed.papers[3]) + '99 = "A"\n')
    (answers / "class.csv").write_text(class_form(printed) + f"Ann (invented),{printed.papers[0].code},A,B,C,D,A,B,extra\r\n")
    of = marked(folder)
    assert len(of.learners) == 4
    told = {one.where: (one.what, one.why) for one in of.aside if one.what != "not filled in"}
    assert {name: what for name, (what, _) in told.items()} == {
        "paper-01b.toml": "double", "paper-02b.toml": "double", "cut.toml": "damaged", "noise.csv": "damaged",
        "book.xlsx": "damaged", "none.toml": "damaged", "other.toml": "foreign", "slip.toml": "foreign", "long.toml": "damaged",
        "class.csv, row 6": "damaged"}
    assert "the same ones" in told["paper-01b.toml"][1] and "differ in question 1" in told["paper-02b.toml"][1]
    assert "CSV" in told["book.xlsx"][1] and "mistyped" in told["slip.toml"][1] and "another test" in told["other.toml"][1]


def test_what_is_no_answer_earns_nothing_and_is_told(folder, printed):
    """A letter that is not offered: no points, a note with the number; the same name twice is told, both count."""
    clear(folder)
    key = key_of(printed, 1)
    people = [("Bo (invented)", 1, {**key, 2: "Q"}), ("Bo (invented)", 2, key_of(printed, 2))]
    (folder / "answers" / "class.csv").write_text(table(printed, people), encoding="utf-8")
    first, second = marked(folder).learners
    assert "question 2: “Q” is no answer there" in first.notes and sum(s.right for s in first.scored.values()) == 5
    assert second.result.total == pytest.approx(1.0) and any("another Bo" in note for note in second.notes)


def test_hostile_names_are_data(folder, printed):
    """No tag in the page, no formula in a table, no command to typst; the name is there as it was written."""
    clear(folder)
    (folder / "answers" / "class.csv").write_text(table(printed, [(HOSTILE, 1, key_of(printed, 1)), ("-1+1", 2, {1: "=2+2"})]))
    of = marked(folder)
    page = report.html(of)
    assert "<script" not in page and html.escape(HOSTILE) in page
    for text in (report.learners_csv(of), report.questions_csv(of), report.mistakes_csv(of)):
        for row in csv.reader(io.StringIO(text.removeprefix("\ufeff"))):
            assert not any(cell[:1] in ("=", "+", "-", "@") and not re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell) for cell in row)
    assert report.pdf(of).startswith(b"%PDF")       # typst would have stopped at the name's #panic()


def test_an_examination_on_a_screen_is_marked_from_its_export(tmp_path):
    """JSON lines and CSV, of two learners; one that still runs and one of another test are set aside."""
    short = parse_blueprint(short_blueprint("R8 = {share = 1, questions = 2}",
                                            'P1 = {share = 1, questions = 1, kinds = ["arrange"]}', title="Short", minutes=30))
    other = parse_blueprint(short.text.replace("Short", "Other"))
    answers = tmp_path / "answers"
    answers.mkdir()
    sat = (("Ann (invented)", short, True), ("Bo (invented)", short, True), ("Cy (invented)", other, True),
           ("Di (invented)", short, False))
    for name, blueprint, hand_in in sat:
        record = Record(tmp_path / "data", name)
        exam = Exam.begin(record, 4, blueprint)
        for n in range(3):
            item = exam.item(n)
            wrong = next(o.value for o in item.options if o.value not in item.key[:1])
            exam.answer(n, item.right if name[0] == "A" or n else tuple(reversed(item.key)) if item.pick == "order" else wrong)
        if hand_in:
            exam.finish()
        rows = record.rows()
        as_text = keeping.as_csv if name[0] == "B" else keeping.as_json_lines
        (answers / f"{name[:2]}{'.csv' if name[0] == 'B' else '.jsonl'}").write_text(as_text(rows), encoding="utf-8")
    of = mark_class(read_folder(answers), None)
    rights = [(one.name, sum(s.right for s in one.scored.values())) for one in of.learners]
    assert rights == [("Ann (invented)", 3), ("Bo (invented)", 2)]
    assert sorted(one.what for one in of.aside) == ["foreign", "not filled in"]
    late = mark_class(read_folder(answers), None, now=datetime.now(UTC) + timedelta(minutes=31))
    assert len(late.learners) == 3


def test_the_command_reports_and_overwrites_nothing(folder, capsys):
    """Exit 0 with a report in three forms; 2 where it is there already, where nothing can be marked, or no key is found."""
    fill_in(folder, 4)
    assert main(["mark", str(folder)]) == 0
    assert "4 marked" in capsys.readouterr().out
    made = {path.name for path in (folder / "report").iterdir()}
    assert made == {"report.html", "report.pdf", "learners.csv", "questions.csv", "mistakes.csv"}
    assert (folder / "report" / "report.pdf").read_bytes().startswith(b"%PDF")
    assert main(["mark", str(folder)]) == 2 and "--force" in capsys.readouterr().err
    assert main(["mark", str(folder), "--force"]) == 0
    (folder / "key" / "key.json").rename(folder / "answers" / "hidden.txt")
    assert main(["mark", str(folder), "--out", str(folder / "x")]) == 2
    said = capsys.readouterr().err
    assert "--key" in said and "Traceback" not in said and not (folder / "x").exists()
    assert main(["mark", str(folder / "nowhere")]) == 2


def test_noise_in_any_file_never_stops_the_marking(folder):
    """Forms spoilt by chance: each is marked or set aside, and nothing else may come of them."""
    fill_in(folder, 4)
    chance = random.Random(1)
    good = (folder / "answers" / "paper-01.toml").read_bytes()
    for n in range(150):
        raw = bytearray(good)
        for _ in range(chance.randint(1, 6)):
            raw[chance.randrange(len(raw))] = chance.randrange(256)
        (folder / "answers" / f"spoilt-{n}{chance.choice(['.toml', '.csv', '.jsonl'])}").write_bytes(bytes(raw))
    of = marked(folder)
    assert len(of.learners) >= 4 and len(of.learners) + len(of.aside) >= 154
    clear(folder)
    with pytest.raises(NothingToMark):
        marked(folder)
