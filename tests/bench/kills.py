"""Practice and examination killed at any moment, journals cut: `python -m tests.bench.kills [KILLS [CUTS]]`.

A child of this process answers questions and says after each what has been kept; it is ended by the signal that cannot
be caught.  The system below goes on, so this shows what a crash of the kernel or of the browser does.  What a power cut
does is stood in for by the second part, where the journal that a transaction left behind loses its end: before the
database is written, as a disk that keeps its word may leave it, and after, as only one that does not can.  A database that
this damages is made again from the second copy.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import random
import select
import shutil
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.widgets.learn.short import short_blueprint
from widgets.learn import Record
from widgets.learn.bank import make_item
from widgets.learn.exam import ROW, Answer, Exam
from widgets.learn.exam_form import parse_blueprint
from widgets.learn.items import Item
from widgets.learn.practice import Practice
from widgets.learn.record import FILE_NAME, MIGRATIONS, RecordTrouble, Row

KILLS, CUTS, LIVES = 500, 2000, 25
LONGEST_LIFE_S = 0.3
ODD = "Kessel & Söhne's 'Ordner' %41 #1; ünï?mode=ro"
"""A folder's name that a path, an address or a statement could trip over."""
SHORT = short_blueprint("P1 = {share = 60, questions = 4, difficulty = [1]}",
                        "R8 = {share = 40, questions = 2, difficulty = [1]}")
PREPARED = (("P1", "missing"), ("P1", "true or false"), ("R1", "point"), ("R7", "loop"), ("J4", "wrong"), ("R9", "name"))
Told = list[object]


class Broken(AssertionError):
    """Something that was said to be kept is not there, or not whole."""


def prepared(seed: int = 1) -> list[Item]:
    """Questions made beforehand, so that most of a life is spent writing."""
    return [make_item(objective, kind, 1, seed) for objective, kind in PREPARED]


# -- the children ----------------------------------------------------------------------------------------

def _teller(pipe: int) -> Callable[..., None]:
    """Writes a line in one piece: it is far shorter than what a pipe takes at once."""
    def tell(*said: object) -> None:
        os.write(pipe, (json.dumps(said) + "\n").encode())
    return tell


def _any_answer(item: Item, chance: random.Random) -> Answer:
    """One of the answers that an item takes: an option, or its steps in some order."""
    if item.pick == "order":
        return tuple(chance.sample(item.key, len(item.key)))
    return chance.choice(item.options).value


def practise(folder: Path, pipe: int, turn: int, ahead_s: float, items: list[Item]) -> None:
    """Practise until killed: mostly questions made beforehand, some of the session's own choice, with hints."""
    tell, chance = _teller(pipe), random.Random(turn)
    session = Practice(Record(folder), seed=turn)
    while True:
        if chance.random() < 0.9:
            session.item, session.hints = chance.choice(items), 0
        item = session.next()
        if chance.random() < 0.2:
            session.hint()
            tell("hint", item.id, None)
        value = _any_answer(item, chance)
        session.answer(value)
        tell("answer", item.id, value)


def sit(folder: Path, pipe: int, turn: int, ahead_s: float, items: list[Item]) -> None:
    """Sit one examination after another until killed, each answer given anew several times, with flags."""
    tell, chance, record = _teller(pipe), random.Random(turn), Record(folder)
    clock = _clock(ahead_s)
    while True:
        exam = Exam.resume(record, clock)
        if exam is None:
            exam = Exam.begin(record, chance.randrange(3), parse_blueprint(SHORT), clock)
            tell(ROW, "start", exam.name)
        for _ in range(chance.randrange(5, 60)):
            number = chance.randrange(len(exam.slots))
            if chance.random() < 0.2:
                exam.flag(number)
                tell(ROW, "flag", number)
            value = _any_answer(exam.item(number), chance)
            exam.answer(number, value)
            tell("answer", exam.item(number).id, value, number, exam.seconds_left)
        exam.finish()
        tell(ROW, "finish", None)


def _clock(ahead_s: float) -> Callable[[], datetime]:
    """The wall's clock, so far ahead as the lid is said to have been closed [s]."""
    return lambda: datetime.now(UTC) + timedelta(seconds=ahead_s)


# -- one life --------------------------------------------------------------------------------------------

def _live(reading: int, who: Callable[..., None], *words: object) -> None:
    """A child's life. Should its parent be gone, nobody reads, and telling ends it."""
    os.close(reading)
    who(*words)


def killed(who: Callable[..., None], folder: Path, turn: int, ahead_s: float, items: list[Item], life_s: float,
           speaks: bool = False) -> list[Told]:
    """What a child told in its life of `life_s` seconds, from its first word on where it `speaks`, else from its birth on."""
    reading, writing = os.pipe()
    child = multiprocessing.get_context("fork").Process(
        target=_live, args=(reading, who, folder, writing, turn, ahead_s, items), daemon=True)
    child.start()
    os.close(writing)
    if speaks:
        select.select([reading], [], [], 60.0)
    time.sleep(life_s)
    if not child.is_alive():
        os.close(reading)
        raise Broken(f"the child of turn {turn} ended by itself")
    child.kill()
    child.join()
    with os.fdopen(reading, encoding="utf-8") as pipe:
        return [json.loads(line) for line in pipe if line.endswith("\n")]


def said_by(row: Row) -> Told:
    """A row as the child tells of it."""
    if row.kind == ROW:
        event = row.more["event"]
        return [ROW, event, {"start": row.exercise, "flag": row.more.get("number")}.get(str(event))]
    return [row.kind, row.item, row.answer]


def whole(path: Path) -> bool:
    """The file passes SQLite's own check, of its indices and references too."""
    connection = sqlite3.connect(path)
    try:
        return connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)] \
            and not connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError:
        return False
    finally:
        connection.close()


def check_life(record: Record, before: list[Row], told: list[Told]) -> list[Row]:
    """The rows after a kill. Raises Broken unless they are those from before, then all that was told, then at most one."""
    rows = record.rows()
    if rows[:len(before)] != before:
        raise Broken("a row from before was lost or changed")
    new = [said_by(row) for row in rows[len(before):]]
    if new[:len(told)] != [one[:3] for one in told] or len(new) > len(told) + 1:
        raise Broken(f"told {told[-2:]}, kept {new[-2:]}; {len(told)} told, {len(new)} kept")
    if [row.id for row in rows] != list(range(1, len(rows) + 1)):
        raise Broken("the numbers of the rows have gaps")
    if not whole(record.path):
        raise Broken("the file is damaged")
    return rows


def check_clock(record: Record, rows: list[Row], told: list[Told], ahead_s: float) -> None:
    """The sitting that is resumed has its answers and no more time than the clock on the wall leaves it."""
    clock = _clock(ahead_s)
    exam = Exam.resume(record, clock)
    starts = [row for row in rows if row.more.get("event") == "start"]
    open_ = bool(starts) and not any(r.exercise == starts[-1].exercise and r.more.get("event") == "finish" for r in rows)
    if (exam is not None) != open_:
        raise Broken("the wrong sitting is resumed")
    if exam is None:
        return
    of_it = [row for row in rows if row.exercise == exam.name]
    answers = {int(str(row.more["number"])): row.answer for row in of_it if row.kind == "answer"}
    if {n: list(said) if isinstance(said, tuple) else said for n, said in exam.answers.items()} != answers:
        raise Broken("the sitting has other answers than its rows")
    left = (exam.ends - clock()).total_seconds()
    if abs(exam.seconds_left - max(0.0, left)) > 0.5:
        raise Broken(f"{exam.seconds_left} s left and not {left}")
    since = next((n for n in reversed(range(len(told))) if told[n][1] == "start"), 0)
    said = [float(str(one[4])) for one in told[since:] if len(one) == 5]
    if said and not told[-1][1] == "finish" and exam.seconds_left > min(said):
        raise Broken("time was won by the kill")


def kills(who: Callable[..., None], many: int, seed: int, keep: Path | None = None, odd: bool = True) -> Counter[str]:
    """Kill a child so many times, some after each other on one record; what was met, counted.

    keep: a folder for copies of the files of kills that left a journal behind.  odd: every second record lies in a
    folder with an odd name.  Raises Broken.
    """
    chance, items, met = random.Random(f"kills {seed}"), prepared(), Counter[str]()
    with tempfile.TemporaryDirectory() as top:
        for turn in range(many):
            if turn % LIVES == 0:
                group = turn // LIVES
                folder = Path(top) / str(group) / (ODD if odd and group % 2 else "data")
                rows: list[Row] = []
                ahead_s = 0.0
            told = killed(who, folder, seed * 10_000 + turn, ahead_s, items, chance.uniform(0.0, LONGEST_LIFE_S),
                          speaks=turn % 2 == 1)
            journal = folder / f"{FILE_NAME}-journal"
            if journal.exists():
                met["kills that left a journal"] += 1
                if keep is not None and journal.stat().st_size > 0:
                    shutil.copytree(folder, keep / f"{who.__name__} {turn}")
            before, record = len(rows), Record(folder)
            rows = check_life(record, rows, told)
            ahead_s += chance.uniform(0.0, 15.0)
            if who is sit:
                check_clock(record, rows, told, ahead_s)
            met["kills"] += 1
            met["rows told of"] += len(told)
            met["answers told of"] += sum(one[0] == "answer" for one in told)
            met["rows kept that were not told of"] += len(rows) - before - len(told)
            record.add("shown", item="it goes on")
            rows = record.rows()
            if journal.exists() or rows[-1].item != "it goes on":
                raise Broken("the record does not go on")
    return met


# -- journals cut ----------------------------------------------------------------------------------------

def hot(folder: Path, rows: int, spilled: bool) -> list[Row]:
    """A record with a transaction under way in `folder`, its journal beside it; its finished rows.

    spilled: the transaction's pages stand in the database already, as in the moment before the commit; else only the
    journal is written.
    """
    with tempfile.TemporaryDirectory() as top:
        record = Record(top)
        for number in range(rows):
            record.add("answer", exercise=f"exercise {number % 7}", item=f"item {number}", answer="x" * (37 * number % 300))
        finished = record.rows()
        connection = sqlite3.connect(record.path, isolation_level=None)
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute(f"PRAGMA cache_size = {1 if spilled else 1000}")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO plants VALUES ('0', ?)", ("a plant " * 900,))
        connection.execute('INSERT INTO rows (at, learner, kind, exercise, item, objective, plant, answer, more) VALUES '
                           "('2026-03-02T09:00:00Z', 'me', 'answer', 'exercise 3', 'under way', 'R1', '0', ?, '{}')",
                           (json.dumps("y" * 900),))
        if spilled:
            record.copy.follow(connection, len(MIGRATIONS))     # it goes before the database
            # Reading all of it pushes the changed pages out of a cache of one page.
            connection.execute("SELECT sum(length(answer)), max(exercise) FROM rows").fetchone()
            connection.execute("SELECT sum(length(text)) FROM plants").fetchone()
        shutil.copytree(top, folder)
        connection.execute("ROLLBACK")
        connection.close()
    return finished


def cut(sample: Path, finished: list[Row], at: int) -> str:
    """What becomes of a copy of a record whose journal ends at a byte: 'whole', or 'made again' where the database was
    damaged, is set aside, and this was told. Raises Broken where a finished row is lost or changed, and for anything else."""
    with tempfile.TemporaryDirectory() as top:
        folder = Path(top) / "copy"
        shutil.copytree(sample, folder)
        os.truncate(folder / f"{FILE_NAME}-journal", at)
        record = Record(folder)
        try:
            rows = record.rows()
            record.add("shown", item="it goes on")
            again = Record(folder).rows()
        except RecordTrouble as trouble:
            raise Broken(f"{sample.name} cut at {at}: {trouble}") from trouble
        if rows[:len(finished)] != finished or len(rows) > len(finished) + 1:
            raise Broken(f"{sample.name} cut at {at}: {len(finished)} finished, {len(rows)} kept")
        if again[:-1] != rows or again[-1].item != "it goes on":
            raise Broken(f"{sample.name} cut at {at}: it does not go on")
        if not whole(record.path):
            raise Broken(f"{sample.name} cut at {at}: damaged, and nothing was said")
        if bool(record.notice) != any(folder.glob("record-damaged-*.sqlite3")):
            raise Broken(f"{sample.name} cut at {at}: {record.notice or 'set aside, and nothing was said'}")
        return "made again" if record.notice else "whole"


def cuts(sample: Path, finished: list[Row], many: int, seed: int) -> Counter[str]:
    """So many cuts, half of them at the ends or at seams between records, half anywhere; what was met, counted."""
    size, chance = (sample / f"{FILE_NAME}-journal").stat().st_size, random.Random(f"cuts {seed}")
    seams = [0, size, 27, 28, 511, 512, *range(512, size, 4096 + 8)]
    seams = [at for at in seams if at <= size]
    places = [chance.choice(seams) if n % 2 else chance.randrange(size + 1) for n in range(many)]
    return Counter(cut(sample, finished, at) for at in places)


def answer_ms(rows: int) -> float:
    """What keeping one answer costs where so many rows stand already [ms]."""
    with tempfile.TemporaryDirectory() as top:
        record = Record(top)
        record.add("plant", plant="a plant " * 400)
        with record._open() as connection, record.transaction(connection):
            for number in range(rows - 1):
                connection.execute('INSERT INTO rows (at, learner, kind, exercise, item, objective, answer, more) VALUES '
                                   "('2026-03-02T09:00:00Z', 'me', 'answer', ?, ?, 'R1', '\"x\"', '{}')",
                                   (f"exercise {number % 7}", f"item {number}"))
        took = []
        for number in range(100):
            begun = time.perf_counter()
            record.add("answer", exercise="practice", item=f"item {number}", answer="x", points=1.0, of=1.0)
            took.append(1000.0 * (time.perf_counter() - begun))
        return sorted(took)[50]


def rows(many: int = KILLS // 10, cut_times: int = CUTS // 10) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    with tempfile.TemporaryDirectory() as top:
        keep = Path(top)
        for who, says in ((practise, "practice"), (sit, "examination")):
            met = kills(who, many // 2, 1, keep)
            yield f"{says}: kills that lost or damaged nothing", met["kills"], "of", \
                ", ".join(f"{n} {what}" for what, n in met.items() if what != "kills")
        real = sorted(path for path in keep.iterdir())
        for spilled, says in ((False, "before the database is written"), (True, "as the database is written")):
            total = Counter[str]()
            sizes = range(20, 60, 4)
            for n, size in enumerate(sizes):
                sample = keep / f"made {spilled} {size}"
                total += cuts(sample, hot(sample, size, spilled), cut_times // 3 // len(sizes), n)
            yield f"journal cut, {says}: nothing lost", total.total(), "of", \
                f"{total.total()}; {total['made again']} made again from the second copy"
        total = Counter[str]()
        for n, sample in enumerate(real):
            copy = keep / f"copy {n}"
            shutil.copytree(sample, copy)
            finished = Record(copy).rows()
            total += cuts(sample, finished, max(1, cut_times // 3 // len(real)), n)
        yield "journal cut, left by kills: nothing lost", total.total(), "of", \
            f"{total.total()}; {total['made again']} made again from the second copy; {len(real)} journals"
        for sized in (100, 5000):
            yield f"one answer kept, {sized} rows before it", answer_ms(sized), "ms", "median of 100, with both files synced"


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]] or [KILLS]
    for what, value, unit, note in rows(given[0], given[1] if len(given) > 1 else CUTS):
        print(f"{what}: {value:g} {unit} {note}", flush=True)
