"""The record: what is added is on disk and stays; what cannot be kept is said in a sentence."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from widgets.learn import record as module
from widgets.learn.record import MIGRATIONS, Record, RecordTrouble

WRITER = """
import sys
from widgets.learn.record import Record
record = Record(sys.argv[1], learner="Kim")
for number in range(100_000):
    record.add("answer", exercise="which", item=f"item {number}", answer=number, points=1.0, of=1.0,
               plant="a plant " * 500 + str(number))
    print(number, flush=True)
"""


def test_a_row_reads_back_as_it_was_added(tmp_path: Path) -> None:
    record = Record(tmp_path, learner="Kim")
    record.add("plant", exercise="which", seed=41, plant="format = 1\n")
    record.add("answer", exercise="which", item="reset", objective="C5", answer=["sensor", "override"],
               points=0.5, of=1.0, more={"try": 2})
    shown, answered = record.rows()
    assert (shown.kind, shown.seed, shown.plant, shown.points) == ("plant", 41, "format = 1\n", None)
    assert answered.answer == ["sensor", "override"] and answered.more == {"try": 2}
    assert answered.score == 0.5 and answered.at.endswith("Z")


def test_the_instructors_mark_stands_beside_the_automatic_one_and_goes_first(tmp_path: Path) -> None:
    record = Record(tmp_path)
    record.add("answer", points=1.0, of=1.0, hand=0.0)
    (row,) = record.rows()
    assert (row.points, row.hand, row.score) == (1.0, 0.0, 0.0)


def test_several_learners_share_a_file_and_see_their_own(tmp_path: Path) -> None:
    Record(tmp_path, learner="Kim").add("answer", item="control")
    Record(tmp_path, learner="Ada").add("answer", item="return")
    assert [row.item for row in Record(tmp_path, learner="Ada").rows()] == ["return"]
    assert len(Record(tmp_path, learner="Ada").rows(everyone=True)) == 2
    assert Record(tmp_path).learners() == ["Ada", "Kim"]


def test_rows_can_be_asked_for_by_exercise_kind_and_number(tmp_path: Path) -> None:
    record = Record(tmp_path)
    for seed in range(5):
        record.add("plant", exercise="which", seed=seed)
    record.add("plant", exercise="other", seed=9)
    assert [row.seed for row in record.rows(exercise="which", kind="plant", last=2)] == [3, 4]
    assert record.rows(kind="hint") == []


def test_rows_are_never_changed_or_taken_away(tmp_path: Path) -> None:
    record = Record(tmp_path)
    record.add("answer", points=0.0, of=1.0)
    for statement in ("UPDATE rows SET points = 1", "DELETE FROM rows"):
        connection = sqlite3.connect(record.path)
        with pytest.raises(sqlite3.IntegrityError, match="only added"):
            connection.execute(statement)
        connection.close()
    assert record.rows()[0].points == 0.0


def test_a_plant_is_kept_once_however_often_it_is_shown(tmp_path: Path) -> None:
    record = Record(tmp_path)
    for _ in range(3):
        record.add("answer", plant="format = 1\n")
    connection = sqlite3.connect(record.path)
    assert connection.execute("SELECT count(*) FROM plants").fetchone() == (1,)
    connection.close()
    assert {row.plant for row in record.rows()} == {"format = 1\n"}


def test_a_network_home_is_served_by_a_rollback_journal(tmp_path: Path) -> None:
    record = Record(tmp_path)
    record.add("answer")
    connection = sqlite3.connect(record.path)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    connection.close()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["record.jsonl", "record.lock", "record.sqlite3"]


def test_a_record_of_an_older_version_is_lifted_and_keeps_its_rows(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Record(tmp_path).add("answer", item="control")
    monkeypatch.setattr(module, "MIGRATIONS", (*MIGRATIONS, "ALTER TABLE rows ADD COLUMN room TEXT;"))
    record = Record(tmp_path)
    record.add("answer", item="return")
    assert [row.item for row in record.rows()] == ["control", "return"]
    connection = sqlite3.connect(record.path)
    assert connection.execute("PRAGMA user_version").fetchone() == (len(MIGRATIONS) + 1,)
    connection.close()


def test_a_migration_that_fails_leaves_the_record_as_it_was(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Record(tmp_path).add("answer", item="control")
    with monkeypatch.context() as patch:
        patch.setattr(module, "MIGRATIONS", (*MIGRATIONS, "CREATE TABLE room (a);\nNONSENSE;"))
        with pytest.raises(RecordTrouble):
            Record(tmp_path).rows()
    assert [row.item for row in Record(tmp_path).rows()] == ["control"]


def test_a_record_of_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    record = Record(tmp_path)
    record.add("answer")
    connection = sqlite3.connect(record.path)
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    connection.close()
    with pytest.raises(RecordTrouble, match="newer Loopbook"):
        record.add("answer")


def test_a_damaged_file_is_said_in_a_sentence_and_not_overwritten(tmp_path: Path) -> None:
    (tmp_path / "record.sqlite3").write_bytes(b"this is no database, and 100 bytes long at the least" * 40)
    with pytest.raises(RecordTrouble, match=r"damaged\. Move it away"):
        Record(tmp_path).add("answer")
    assert (tmp_path / "record.sqlite3").read_bytes().startswith(b"this is no database")


def test_a_folder_that_cannot_be_made_is_said_in_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(RecordTrouble, match="The exercise goes on, but nothing is kept"):
        Record(tmp_path / "file" / "below").add("answer")


def test_a_file_that_may_not_be_written_is_said_in_a_sentence(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Root may write anywhere, so the database is opened read-only instead of taking the right away."""
    record = Record(tmp_path)
    record.add("answer")
    real = sqlite3.connect
    monkeypatch.setattr(module.sqlite3, "connect",
                        lambda path, **more: real(f"file:{path}?mode=ro", uri=True, **more))
    with pytest.raises(RecordTrouble, match="cannot be written there"):
        record.add("answer")
    assert len(record.rows()) == 1


def test_a_full_disk_is_said_in_a_sentence_and_loses_no_earlier_row(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A largest size for the file stands in for a full disk: SQLite reports both in the same way."""
    record = Record(tmp_path)
    record.add("answer", item="kept")
    real = sqlite3.connect

    def small(path: Path, **more: object) -> sqlite3.Connection:
        connection = real(path, **more)  # type: ignore[call-overload]
        connection.execute("PRAGMA max_page_count = 12")
        return connection

    with monkeypatch.context() as patch:
        patch.setattr(module.sqlite3, "connect", small)
        with pytest.raises(RecordTrouble, match="disk is full"):
            record.add("answer", plant="x" * 100_000)
    assert [row.item for row in record.rows()] == ["kept"]


def test_another_program_that_holds_the_file_is_said_in_a_sentence(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record = Record(tmp_path)
    record.add("answer")
    monkeypatch.setattr(module, "WAIT_S", 0.05)
    holder = sqlite3.connect(record.path, isolation_level=None)
    holder.execute("BEGIN EXCLUSIVE")
    with pytest.raises(RecordTrouble, match="another program holds it"):
        record.add("answer")
    holder.execute("ROLLBACK")
    holder.close()


@pytest.mark.parametrize("name", ["", "  ", "x" * 81, "two\nlines"])
def test_a_learners_name_is_one_short_line(tmp_path: Path, name: str) -> None:
    with pytest.raises(RecordTrouble, match="one line"):
        Record(tmp_path, learner=name)


def test_the_folder_can_be_named_in_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOOPBOOK_DATA", str(tmp_path / "here"))
    Record().add("answer")
    assert (tmp_path / "here" / "record.sqlite3").exists()
    monkeypatch.delenv("LOOPBOOK_DATA")
    assert "loopbook" in str(module.data_folder()).lower()


def test_two_kernels_may_write_at_once(tmp_path: Path) -> None:
    script = ("import sys\nfrom widgets.learn.record import Record\n"
              "for n in range(20): Record(sys.argv[1], learner=sys.argv[2]).add('answer', item=str(n))")
    writers = [subprocess.Popen([sys.executable, "-c", script, str(tmp_path), name])
               for name in ("Kim", "Ada")]
    assert [writer.wait(60) for writer in writers] == [0, 0]
    for name in ("Kim", "Ada"):
        assert [row.item for row in Record(tmp_path, learner=name).rows()] == [str(n) for n in range(20)]


def test_killed_at_any_moment_no_finished_row_is_lost(tmp_path: Path) -> None:
    """Twenty kills at times drawn from a seed; what the writer had said was kept must be there, and whole."""
    dice = random.Random(20)
    for turn in range(20):
        folder = tmp_path / str(turn)
        writer = subprocess.Popen([sys.executable, "-c", WRITER, str(folder)],
                                  stdout=subprocess.PIPE, text=True)
        assert writer.stdout is not None
        begun = dice.randrange(1, 6)
        assert [writer.stdout.readline() for _ in range(begun)] == [f"{n}\n" for n in range(begun)]
        time.sleep(dice.uniform(0.0, 0.03))
        os.kill(writer.pid, 9)
        finished = begun + len(writer.stdout.read().split())
        writer.wait()
        writer.stdout.close()
        rows = Record(folder, learner="Kim").rows()
        assert len(rows) >= finished, "a row that was said to be kept is lost"
        assert [row.answer for row in rows] == list(range(len(rows)))
        assert all(row.plant == "a plant " * 500 + str(row.answer) for row in rows)
        connection = sqlite3.connect(folder / "record.sqlite3")
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        connection.close()


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-2**53, 2**53) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6)
words = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=30)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(words, words, json_values, st.integers(0, 10**6) | st.none(),
                          st.floats(0, 1) | st.none(), words), max_size=4))
def test_whatever_is_added_reads_back_in_order(
        entries: list[tuple[str, str, object, int | None, float | None, str]]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        record = Record(folder)
        for kind, item, answer, seed, points, plant in entries:
            record.add(kind, item=item, answer=answer, seed=seed, points=points, plant=plant)
        back = [(row.kind, row.item, row.answer, row.seed, row.points, row.plant) for row in record.rows()]
    assert back == [(kind, item, json.loads(json.dumps(answer)), seed, points, plant)
                    for kind, item, answer, seed, points, plant in entries]


# -- the second copy -------------------------------------------------------------------------------------

def filled(folder: Path, many: int = 6) -> Record:
    record = Record(folder, learner="Kim")
    for number in range(many):
        record.add("answer", item=f"item {number}", answer=number, points=1.0, of=1.0, plant=f"plant {number % 2}")
    return record


@pytest.mark.parametrize("spoil", [
    lambda path: path.write_bytes(b"this is no database" * 400), lambda path: path.write_bytes(b""),
    lambda path: path.write_bytes(path.read_bytes()[:4096] + b"x" * 4096 + path.read_bytes()[8192:]), Path.unlink,
    lambda path: path.write_bytes(path.read_bytes().replace(b"{}", b"{\xff", 1)),     # SQLite sees nothing amiss
    lambda path: path.write_bytes(path.read_bytes().replace(b"{}", b"{,", 1))])
def test_a_damaged_database_is_made_again_and_said_once(tmp_path: Path, spoil) -> None:
    """No row lost, the plants there, the damaged file set aside, and it goes on; for whoever opens it next as well."""
    before = filled(tmp_path).rows()
    spoiled = tmp_path / "record.sqlite3"
    spoil(spoiled)
    wreck = spoiled.read_bytes() if spoiled.exists() else b""
    record = Record(tmp_path, learner="Kim")
    assert record.rows() == before
    record.add("answer", item="it goes on")
    assert [row.item for row in Record(tmp_path, learner="Kim").rows()][-2:] == ["item 5", "it goes on"]
    aside = list(tmp_path.glob("record-damaged-*.sqlite3"))
    if wreck:
        assert "was damaged and was made again from its second copy, record.jsonl: 6 rows" in record.notice
        assert [path.read_bytes() for path in aside] == [wreck] and aside[0].name in record.notice
    assert Record(tmp_path, learner="Kim").notice == ""
    connection = sqlite3.connect(spoiled)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()


def test_a_row_that_only_the_second_copy_has_is_taken_from_it(tmp_path: Path) -> None:
    """As after a crash between the two: the database of before, the copy of after."""
    record = filled(tmp_path, 3)
    before = record.path.read_bytes()
    record.add("answer", item="the last", plant="plant 7")
    rows = record.rows()
    record.path.write_bytes(before)
    assert record.rows() == rows and record.notice == ""


def test_a_line_that_a_crash_cut_is_not_taken_for_one(tmp_path: Path) -> None:
    record = filled(tmp_path, 3)
    whole = record.copy.path.read_bytes()
    for cut in (b'{"sum": "0123456789abcdef", "row": {"id": 4', b'{"sum": "0123456789abcdef", "row": {"id": 4}}\n', b"\0" * 700):
        record.copy.path.write_bytes(whole + cut)
        assert record.copy.last() == 3
        assert len(record.rows()) == 3
    record.add("answer", item="next")
    assert record.copy.path.read_bytes().startswith(whole + b'{"sum"') and record.copy.read().damaged == 0


def test_a_second_copy_that_is_gone_or_behind_is_written_again(tmp_path: Path) -> None:
    """A record of an older Loopbook has none; with the next row it has all."""
    record = filled(tmp_path, 3)
    record.copy.path.unlink()
    record.add("answer", item="next")
    assert sorted(record.copy.read().rows) == [1, 2, 3, 4] and len(record.copy.read().plants) == 2


def test_a_line_that_rotted_costs_that_line_and_is_counted(tmp_path: Path) -> None:
    record = filled(tmp_path, 4)
    lines = record.copy.path.read_bytes().splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if b'"id": 2,' in line)
    record.copy.path.write_bytes(b"".join([*lines[:at], lines[at].replace(b"item 1", b"item 9"), *lines[at + 1:]]))
    record.path.write_bytes(b"this is no database" * 400)
    assert [row.item for row in record.rows()] == ["item 0", "item 2", "item 3"]
    assert "1 line of that could not be read" in record.notice
    assert len(list(tmp_path.glob("record-damaged-*"))) == 2 and record.copy.read().damaged == 0


def test_a_commit_that_fails_leaves_both_as_they_were(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The disk is full when the copy is written: the row is in neither, and that is said."""
    record = filled(tmp_path, 2)
    whole = record.copy.path.read_bytes()

    def full(file: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("widgets.learn.second_copy.os.fsync", full)
        with pytest.raises(RecordTrouble, match=r"disk is full.*The exercise goes on, but nothing is kept"):
            record.add("answer", item="too much")
    assert record.copy.path.read_bytes() == whole and len(record.rows()) == 2
    record.add("answer", item="next")
    assert [row.id for row in record.rows()] == [1, 2, 3]


def test_both_files_gone_bad_is_said_and_nothing_is_overwritten(tmp_path: Path) -> None:
    record = filled(tmp_path, 2)
    for path in (record.path, record.copy.path):
        path.write_bytes(b"neither of these can be read by anybody" * 200)
    with pytest.raises(RecordTrouble, match="damaged"):
        record.rows()
    assert record.path.read_bytes() == record.copy.path.read_bytes()
