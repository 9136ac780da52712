"""Killed in practice and in an examination, and journals cut: no finished answer is lost, no damage goes unsaid.

`python -m tests.bench.kills` asks the same of 500 kills and 2,000 cuts.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

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
def test_a_journal_cut_after_the_database_was_written_loses_nothing_either(tmp_path, rows):
    """No system that keeps its word does this. Where it damages the database, that is made again from the second copy."""
    finished = hot(tmp_path / "made", rows, spilled=True)
    met = cuts(tmp_path / "made", finished, 20, 1)
    assert met["made again"] > 0 and met.total() == 20
    assert cut(tmp_path / "made", finished, os.path.getsize(tmp_path / "made" / f"{FILE_NAME}-journal")) == "whole"


def test_a_database_damaged_by_a_cut_journal_is_backed_up_whole(tmp_path):
    """It is made again first; the copy has every finished row and opens as a record."""
    finished = hot(tmp_path / "made", 20, spilled=True)
    os.truncate(tmp_path / "made" / f"{FILE_NAME}-journal", 8720)
    record = Record(tmp_path / "made")
    (tmp_path / "safe").mkdir()
    back_up(record, tmp_path / "safe" / FILE_NAME)
    assert "was damaged and was made again" in record.notice
    assert Record(tmp_path / "safe").rows()[:20] == finished


def test_a_cut_journal_without_a_second_copy_is_said_each_time(tmp_path):
    """A record of an older Loopbook: what cannot be mended is not passed over."""
    hot(tmp_path / "made", 20, spilled=True)
    os.truncate(tmp_path / "made" / f"{FILE_NAME}-journal", 8720)
    record = Record(tmp_path / "made")
    record.copy.path.unlink()
    for _ in range(2):
        with pytest.raises(RecordTrouble, match="damaged"):
            record.rows()


def test_killed_while_it_is_made_again_it_is_made_again_the_next_time(tmp_path, monkeypatch):
    """At each step of it; nothing is lost and nothing of the damaged file either."""
    finished = hot(tmp_path / "made", 20, spilled=True)
    os.truncate(tmp_path / "made" / f"{FILE_NAME}-journal", 8720)
    real = Path.rename
    for step in range(3):
        folder = tmp_path / str(step)
        shutil.copytree(tmp_path / "made", folder)
        left = [step]

        def fails(self, to, left=left):
            left[0] -= 1
            if left[0] < 0:
                raise KeyboardInterrupt
            return real(self, to)

        with monkeypatch.context() as patch:
            patch.setattr(Path, "rename", fails)
            try:
                Record(folder).rows()
            except KeyboardInterrupt:
                assert step < 2
        record = Record(folder)
        assert record.rows()[:20] == finished and whole(record.path)
        assert len(list(folder.glob("record-damaged-*.sqlite3"))) == 1


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
