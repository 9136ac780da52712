"""The record in the learner's own hands: shown, exported, backed up while others write, forgotten for good."""

from __future__ import annotations

import csv
import io
import json
import sqlite3

import pytest

from widgets.command import main
from widgets.learn import Record, RecordTrouble
from widgets.learn.keeping import HONEST, as_csv, as_json_lines, back_up, forget, shown

KIM, SAM = "Kim (invented)", "Sam (invented)"


@pytest.fixture
def kim(tmp_path) -> Record:
    """Two learners on one machine; Kim has three answers, one of them marked by hand."""
    record, other = Record(tmp_path, KIM), Record(tmp_path, SAM)
    record.add("answer", item="a", objective="R7", answer="boiler loop", points=1.0, of=1.0, plant="plant one")
    record.add("answer", item="b", objective="R7", answer="=cmd()", points=0.0, of=1.0, plant="plant two")
    record.add("answer", item="c", objective="C1", answer="x", points=1.0, of=2.0, hand=0.0)
    other.add("answer", item="a", objective="R7", answer="system loop", points=0.0, of=1.0, plant="plant one")
    return record


def test_shown_by_objective_with_honest_words(kim):
    """Hand marks stand before automatic ones; whose it is, and what it is worth, is said."""
    said = shown(kim)
    assert said[0].startswith(f"{KIM}, 3 rows from ")
    assert [" ".join(line.split()[:6]) for line in said[1:3]] == ["R7 50 % right of 2", "C1 0 % right of 1"]
    assert said[-1] == HONEST


def test_json_lines_hold_every_row_whole(kim):
    """What went in comes out."""
    rows = [json.loads(line) for line in as_json_lines(kim.rows()).splitlines()]
    assert [(row["item"], row["answer"], row["plant"], row["hand"]) for row in rows] == [
        ("a", "boiler loop", "plant one", None), ("b", "=cmd()", "plant two", None), ("c", "x", "", 0.0)]


def test_csv_gives_a_spreadsheet_no_formula(kim):
    """A learner's words are data."""
    rows = list(csv.DictReader(io.StringIO(as_csv(kim.rows()))))
    assert [row["answer"] for row in rows] == ["boiler loop", "'=cmd()", "x"]


def test_a_back_up_is_a_record(kim, tmp_path):
    """It holds everybody's rows, opens as a record, and never goes over another file."""
    folder = tmp_path / "safe"
    folder.mkdir()
    copied = back_up(kim, folder / "record.sqlite3")
    assert [row.item for row in Record(folder, KIM).rows()] == ["a", "b", "c"]
    assert Record(folder, SAM).learners() == [KIM, SAM]
    with pytest.raises(RecordTrouble, match="is there already"):
        back_up(kim, copied)
    assert back_up(kim, folder).name.startswith("record-")


def test_a_back_up_that_cannot_be_made_is_told_of_its_own_place(kim, tmp_path):
    """Not of the record, which is sound; and no half of a copy is left."""
    (tmp_path / "copy.sqlite3.part").mkdir()
    for place in (tmp_path / "none" / "copy.sqlite3", tmp_path / "copy.sqlite3"):
        with pytest.raises(RecordTrouble, match=r"copy\.sqlite3 cannot be written"):
            back_up(kim, place)
        assert not place.exists()
    assert len(kim.rows()) == 3 and kim.take_notice() == ""


def test_forgotten_is_gone_and_the_others_stay(kim, tmp_path):
    """Not a word of it is left in the file; rows can still only be added."""
    assert forget(kim) == 3
    assert kim.rows() == []
    assert [row.plant for row in Record(tmp_path, SAM).rows()] == ["plant one"]
    for raw in (kim.path.read_bytes(), kim.copy.path.read_bytes()):
        assert b"=cmd()" not in raw and b"plant two" not in raw and b"Kim" not in raw and b"plant one" in raw
    with sqlite3.connect(kim.path) as connection, pytest.raises(sqlite3.IntegrityError, match="only added"):
        connection.execute("DELETE FROM rows")
    kim.add("answer", item="d", points=1.0, of=1.0)
    assert [row.item for row in kim.rows()] == ["d"]


def test_forgotten_stays_forgotten_when_the_database_is_made_again(kim, tmp_path, capsys):
    """From the second copy, which has not a word of it either; what is set aside is told of."""
    assert forget(kim) == 3
    kim.path.write_bytes(b"no database at all" * 300)
    assert [row.item for row in Record(tmp_path, SAM).rows()] == ["a"] and kim.rows() == []
    where = ["--folder", str(tmp_path), "--learner", SAM]
    assert main(["record", "forget", *where, "--yes"]) == 0
    assert "delete them yourself: record-damaged-" in capsys.readouterr().out
    assert not kim.copy.path.exists()


def test_the_command_tells_of_a_database_that_was_made_again(kim, tmp_path, capsys):
    """In one sentence, before what was asked for."""
    kim.path.write_bytes(b"no database at all" * 300)
    assert main(["record", "show", "--folder", str(tmp_path), "--learner", KIM]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0].startswith("Your record record.sqlite3 was damaged and was made again")
    assert said[1].startswith(f"{KIM}, 3 rows")


def test_the_command_does_all_four(kim, tmp_path, capsys):
    """Show, export, back up, forget; forgetting only with --yes."""
    where = ["--folder", str(tmp_path), "--learner", KIM]
    assert main(["record", "show", *where]) == 0
    assert "R7" in capsys.readouterr().out
    assert main(["record", "export", *where, "--format", "csv"]) == 0
    assert capsys.readouterr().out.count("\n") == 4
    out = tmp_path / "rows.jsonl"
    assert main(["record", "export", *where, "--everyone", "--out", str(out)]) == 0
    assert len(out.read_text(encoding="utf-8").splitlines()) == 4
    assert main(["record", "export", *where, "--out", str(out)]) == 2
    assert main(["record", "back-up", *where, "--out", str(tmp_path / "copy.sqlite3")]) == 0
    assert main(["record", "forget", *where]) == 2
    assert "--yes" in capsys.readouterr().err
    assert main(["record", "forget", *where, "--yes"]) == 0
    assert Record(tmp_path, KIM).rows() == []


def test_an_empty_record_is_no_trouble(tmp_path, capsys):
    """Nothing to show, nothing to forget, nothing to copy."""
    assert shown(Record(tmp_path))[0].startswith("Nothing is kept for me")
    assert forget(Record(tmp_path / "none")) == 0
    assert main(["record", "back-up", "--folder", str(tmp_path / "no"), "--out", str(tmp_path / "c")]) == 2
    assert "There is no record" in capsys.readouterr().err
