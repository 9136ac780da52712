"""Killed in practice and in an examination, and journals cut: no finished answer is lost, no damage goes unsaid.

`python -m tests.bench.kills` asks the same of 500 kills and 2,000 cuts.
"""

from __future__ import annotations

import os
import shutil
import sqlite3

import pytest

from tests.bench.kills import Broken, check_life, cut, cuts, hot, kills, practise, sit, whole
from widgets.learn import Record
from widgets.learn.keeping import back_up
from widgets.learn.record import FILE_NAME, RecordTrouble


@pytest.mark.parametrize("who", [practise, sit])
def test_killed_at_any_moment_nothing_told_is_lost(who):
    """Ten kills each, by the signal that cannot be caught; what was told of stands there, and at most one row more."""
    met = kills(who, 10, 7)
    assert met["kills"] == 10 and met["rows told of"] >= 5
    assert met["rows kept that were not told of"] <= 10


def test_a_record_in_a_folder_with_an_odd_name_is_as_safe(tmp_path, monkeypatch):
    """Quotes, question marks, percent and hash signs, letters of other languages."""
    monkeypatch.setattr("tests.bench.kills.LIVES", 1)
    assert kills(practise, 4, 8)["rows told of"] >= 2


def test_a_journal_cut_before_the_database_is_written_loses_nothing(tmp_path):
    """Wherever it is cut: this is what a power cut leaves behind."""
    finished = hot(tmp_path / "made", 24, spilled=False)
    assert cuts(tmp_path / "made", finished, 20, 1) == {"whole": 20}


@pytest.mark.parametrize("rows", [20, 55])
def test_a_journal_cut_after_the_database_was_written_is_said(tmp_path, rows):
    """No system that keeps its word does this. Uncut it loses nothing; cut it is whole, or is told to be damaged, each time."""
    finished = hot(tmp_path / "made", rows, spilled=True)
    met = cuts(tmp_path / "made", finished, 20, 1)
    assert met["said"] > 0 and met.total() == 20
    assert cut(tmp_path / "made", finished, os.path.getsize(tmp_path / "made" / f"{FILE_NAME}-journal")) == "whole"


def test_a_damaged_record_is_not_backed_up_and_a_new_one_can_be_begun(tmp_path):
    """As the sentence says: move it away, and a new one is begun; no mark stays behind."""
    hot(tmp_path / "made", 20, spilled=True)
    os.truncate(tmp_path / "made" / f"{FILE_NAME}-journal", 8720)
    record = Record(tmp_path / "made")
    with pytest.raises(RecordTrouble, match="damaged"):
        back_up(record, tmp_path / "copy.sqlite3")
    assert not (tmp_path / "copy.sqlite3").exists()
    shutil.move(record.path, tmp_path / "away.sqlite3")
    record.add("answer", item="a new one")
    assert [path.name for path in record.path.parent.iterdir()] == [FILE_NAME]


def test_these_checks_see_a_loss(tmp_path):
    """A row taken away, one told of that is not there, and an index that lacks one are all found."""
    record = Record(tmp_path)
    record.add("answer", item="a", answer="1")
    rows = record.rows()
    assert check_life(record, [], [["answer", "a", "1"]]) == rows
    with pytest.raises(Broken, match="2 told, 1 kept"):
        check_life(record, [], [["answer", "a", "1"], ["answer", "b", "2"]])
    connection = sqlite3.connect(record.path)
    connection.execute("DROP TRIGGER rows_remain")
    connection.execute("DELETE FROM rows")
    connection.commit()
    connection.execute("PRAGMA writable_schema = ON")
    connection.execute("INSERT INTO rows (at, learner, kind, exercise, item, objective, answer, more)"
                       " VALUES ('', 'me', '', '', '', '', 'null', '{}')")
    connection.execute("DELETE FROM sqlite_master WHERE name = 'rows_by_exercise'")
    connection.commit()
    connection.close()
    assert not whole(record.path)
    with pytest.raises(Broken, match="lost or changed"):
        check_life(record, rows, [])
