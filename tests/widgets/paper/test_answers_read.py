"""Answer files as people send them: what cannot be used is set aside with where, what and how to mend it."""

from __future__ import annotations

import pytest

from widgets.paper.answers import LARGEST, read_folder

FORM = 'format = 1\ncode = "BCDF-3467"\nlearner = "Ann (invented)"\n\n[answers]\n1 = "A"\n2 = "b c"\n'
HEAD = "learner,code,1,2\n"
FIELDS = "id,at,learner,kind,exercise,item,objective,seed,plant,answer,points,of,hand,more\n"


@pytest.mark.parametrize(("name", "text", "why"), [
    ("a.docx", "Ann: A B", "is no answer file; those end in .toml, .csv, .tsv, .jsonl"),
    ("a.xlsx", "PK", "is a spreadsheet program's own file; save it as CSV"),
    ("a.toml", " \n", "is empty"),
    ("a.toml", FORM.replace('"A"', '"A'),
     "line 6, column 7: is not TOML: a text does not end on its line; close its quotes, or start from the form again"),
    ("a.toml", FORM.encode() + b"# \xff", "is no text that can be read; save it as UTF-8"),
    ("a.toml", "name = 'Ann'\n" + FORM, "'name' is not known here; a form has format, code, learner and [answers]"),
    ("a.toml", FORM.replace("format = 1", ""), "has no line 'format = 1'"),
    ("a.toml", FORM.replace('code = "BCDF-3467"', "code = 3467"), "has no code and learner in quotes, or no [answers]"),
    ("a.toml", FORM.replace("BCDF-3467", " "), "has no code of a paper; copy it from the paper's first page"),
    ("a.toml", FORM.replace('"A"', "true"), "answers.1: write the answer in quotes"),
    ("a.toml", FORM.replace("1 = ", "first = "), "'first' is no number of a question"),
    ("a.toml", FORM.replace('"A"', f'"{"A" * 201}"'), "an answer is longer than 200 letters"),
    ("a.csv", "\0learner", "is no text"),
    ("a.csv", "sep=;\n", "is empty"),
    ("a.csv", "1;2\nA;B\n", "has neither the columns learner, code, 1, 2, … of a class nor the lines of one learner"),
    ("a.csv", "learner,code\nAnn,BCDF-3467\n", "has no columns named 1, 2, … for the questions"),
    ("a.csv", "learner,code,1,1\nAnn,BCDF-3467,A,B\n", "names a column twice"),
    ("a.csv", HEAD + "Ann,BCDF-3467,A,B,C\n", "has more cells than the head has columns"),
    ("a.csv", FIELDS + "1,,Ann,answer,practice,,,,,A,1,1,,{}\n",
     "holds no examination; export the record of somebody who has sat one"),
    ("a.jsonl", '{"kind": "exam"\n', "line 1 is not JSON; export it again"),
    ("a.jsonl", "\n[1]\n", "line 2 is no row of a record"),
])
def test_what_cannot_be_used_is_named_with_why(tmp_path, name, text, why):
    """One line for each, and the others are read all the same."""
    (tmp_path / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    (tmp_path / "good.toml").write_text(FORM, encoding="utf-8")
    found = read_folder(tmp_path)
    [aside] = found.aside
    assert aside.where.partition(",")[0] == name and aside.what == "damaged" and why in aside.why
    assert [(one.learner, one.code, dict(one.answers)) for one in found.handed] == [
        ("Ann (invented)", "BCDF-3467", {1: "A", 2: "b c"})]


def test_a_form_may_list_its_letters_and_a_file_without_end_is_not_read(tmp_path, monkeypatch):
    """Letters in a list are letters in a row."""
    (tmp_path / "a.toml").write_text(FORM.replace('"b c"', '["b", "c"]'), encoding="utf-8")
    assert read_folder(tmp_path).handed[0].answers[2] == "b c"
    monkeypatch.setattr("widgets.paper.answers.LARGEST", 10)
    assert LARGEST > 10 and [one.why for one in read_folder(tmp_path).aside] == ["is larger than 0 MB"]


def test_of_an_export_only_what_an_examination_holds_is_read(tmp_path):
    """Practice and damaged answers are passed over; an order stands in a table as a JSON list."""
    rows = ['1,,Ann,exam,exam/1/x,,,1,,,,,,"{""event"": ""start""}"', "2,,Ann,answer,practice,,,,,A,1,1,,{}",
            '3,,Ann,answer,exam/1/x,,,,,"[""2"", ""1""]",1,1,,"{""number"": 0}"',
            '4,,Ann,answer,exam/1/x,,,,,[oh,1,1,,"{""number"": 1}"',
            '5,,Ann,answer,exam/1/x,,,,,B,1,1,,not JSON', '6,,Ann,answer,exam/1/x,,,,,B,1,1,,"{""number"": 2}"',
            '7,,Ann,exam,exam/1/x,,,,,,,,,"{""event"": ""finish""}"']
    (tmp_path / "ann.csv").write_text(FIELDS + "\n".join(rows) + "\n", encoding="utf-8")
    [sat] = read_folder(tmp_path).sat
    assert (sat.learner, sat.name, sat.finished, dict(sat.answers)) == ("Ann", "exam/1/x", True, {0: ("2", "1"), 2: "B"})
