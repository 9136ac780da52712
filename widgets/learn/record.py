"""The learner's record: rows that are only ever added, in one SQLite file in the user's data folder.

What `Record.add` has returned from is on the disk, twice: in the database, and before that in a second copy of plain
lines, from which a damaged database is made again.  The files may lie on a network home, so the database keeps a
rollback journal and no write-ahead log.  Every call opens them anew under a lock: several kernels can share them, and
none is held between calls.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import wraps
from pathlib import Path
from typing import Any

from . import second_copy
from .one_writer import one_writer
from .second_copy import SecondCopy, agrees, poured, sync_folder

FOLDER_VARIABLE = "LOOPBOOK_DATA"
FILE_NAME = "record.sqlite3"
LOCK_NAME = "record.lock"
WAIT_S = 10.0   # another kernel may be writing; a row takes milliseconds
LONGEST_NAME = 80
HALF = re.compile("[\ud800-\udfff]")     # halves of letters, which a page may send and no file can hold but as JSON's escapes

# One script a version, applied in order; a file says in `user_version` how many it has had. Never edit one
# that was released: add the next.
MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE plants (digest TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID;
    CREATE TABLE rows (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        at TEXT NOT NULL,
        learner TEXT NOT NULL,
        kind TEXT NOT NULL,
        exercise TEXT NOT NULL,
        item TEXT NOT NULL,
        objective TEXT NOT NULL,
        seed INTEGER,
        plant TEXT REFERENCES plants (digest),
        answer TEXT,
        points REAL,
        "of" REAL,
        hand REAL,
        more TEXT NOT NULL
    );
    CREATE INDEX rows_by_exercise ON rows (exercise, learner, kind, id);
    CREATE TRIGGER rows_stay BEFORE UPDATE ON rows BEGIN SELECT RAISE(ABORT, 'rows are only added'); END;
    CREATE TRIGGER rows_remain BEFORE DELETE ON rows BEGIN SELECT RAISE(ABORT, 'rows are only added'); END;
    """,
)


class RecordTrouble(Exception):
    """The record cannot be read or written; the message is a sentence for the learner."""


class _Damaged(RecordTrouble):
    """The database was found damaged while it was used; a second try makes it again."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the record.

    at: time in UTC, ISO 8601.  kind: 'plant' (one was shown), 'answer', 'hint', 'shown' (the answer was).
    points, of: the automatic mark.  hand: an instructor's mark, None where there is none.
    plant: the text of its plant file, '' where none was kept.  more: whatever else that kind of row carries.
    """

    id: int
    at: str
    learner: str
    kind: str
    exercise: str
    item: str
    objective: str
    seed: int | None
    plant: str
    answer: object
    points: float | None
    of: float | None
    hand: float | None
    more: dict[str, object]

    @property
    def score(self) -> float | None:
        """The instructor's mark where there is one, else the automatic one; zero is a mark, None is not."""
        return self.hand if self.hand is not None else self.points


MALFORMED = "database disk image is malformed"
GOES_ON = "The exercise goes on, but nothing is kept."
NEWER = "Your record {path} was made by a newer Loopbook; open it with that."


def _damage(error: BaseException) -> bool:
    text = str(error).lower()
    return isinstance(error, UnicodeDecodeError) or (isinstance(error, sqlite3.DatabaseError) and any(
        words in text for words in ("not a database", "malformed", "no such table", "could not decode")))


def _newest(connection: sqlite3.Connection) -> int:
    return int(connection.execute("SELECT coalesce(max(id), 0) FROM rows").fetchone()[0])


def data_folder() -> Path:
    """The user's data folder: `LOOPBOOK_DATA` where that is set, else the system's usual place."""
    given = os.environ.get(FOLDER_VARIABLE, "").strip()
    if given:
        return Path(given).expanduser()
    from platformdirs import user_data_path

    return user_data_path("loopbook", appauthor=False)


def mended(act: Callable[..., Any]) -> Callable[..., Any]:
    """Once more where the database was found damaged: the second try makes it again from the second copy."""
    @wraps(act)
    def twice(*given: Any, **named: Any) -> Any:
        try:
            return act(*given, **named)
        except _Damaged:
            return act(*given, **named)
    return twice


class Record:
    """The record of one learner or of several who share a machine.

    folder: where the file lies; the user's data folder unless said.  learner: whose rows are added.
    Every method raises RecordTrouble, with a sentence for the learner, where the file cannot be used.
    notice: a sentence for the learner where the database was damaged and has been made again, '' otherwise.

    >>> import tempfile
    >>> record = Record(tempfile.mkdtemp(), learner="Kim (invented)")
    >>> record.add("answer", exercise="which", item="control", answer="heating only", points=1.0, of=1.0)
    1
    >>> [(row.item, row.score) for row in record.rows()]
    [('control', 1.0)]
    """

    def __init__(self, folder: str | Path | None = None, learner: str = "me") -> None:
        if not learner.strip() or len(learner) > LONGEST_NAME or any(ord(c) < 32 or 0xD800 <= ord(c) < 0xE000 for c in learner):
            raise RecordTrouble(f"A learner's name is one line of 1 to {LONGEST_NAME} characters.")
        self.path = (Path(folder) if folder is not None else data_folder()) / FILE_NAME
        self.copy = SecondCopy(self.path.with_name(second_copy.FILE_NAME))
        self.learner = learner.strip()
        self.notice = ""

    def __repr__(self) -> str:
        return f"Record of {self.learner}"

    def take_notice(self) -> str:
        """What there is to be told, once: see `notice`."""
        said, self.notice = self.notice, ""
        return said

    # -- the file --------------------------------------------------------------------------------------

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with one_writer(self.path.with_name(LOCK_NAME), WAIT_S):
                if not self.path.exists() and self.copy.last():
                    self._made_again("is not there")
                connection = self._sound()
                try:
                    yield connection
                finally:
                    connection.close()
        except (OSError, sqlite3.Error, UnicodeDecodeError) as error:       # the last where SQLite's own complaint is damaged
            if _damage(error) and self.copy.path.exists():
                self._mark.touch()
                raise _Damaged(str(self._trouble(error))) from error
            raise self._trouble(error) from error

    @property
    def _mark(self) -> Path:
        """Stands there from when the database is suspected to be damaged until it has passed a check."""
        return self.path.with_name(FILE_NAME + "-check")

    def _sound(self) -> sqlite3.Connection:
        """The database, open, whole, of the newest version, and with every row of the second copy.

        SQLite takes a journal that has lost its end for one of a transaction that had not begun to write, and goes
        on with half-written pages if it had.  So whatever a journal was played back into is checked: under the lock
        a journal is always one that a crash left behind.
        """
        if self.path.with_name(FILE_NAME + "-journal").exists():
            self._mark.touch()
        suspect = self._mark.exists()
        connection = None
        try:
            connection = self._connect(self.path)
            if suspect:
                self._check(connection)
            self._migrate(connection)
            newest = _newest(connection)
            if self.copy.last() > newest:       # written there, and then came the crash
                connection.execute("BEGIN IMMEDIATE")
                poured(connection, self.copy.newer(newest))
                connection.execute("COMMIT")
        except BaseException as error:
            if connection is not None:
                connection.close()
            if not _damage(error) or not self.copy.last():
                raise
            self._made_again("was damaged")
            return self._connect(self.path)
        return connection

    def _connect(self, path: Path) -> sqlite3.Connection:
        connection = sqlite3.connect(path, timeout=WAIT_S, isolation_level=None)
        try:
            connection.execute("PRAGMA journal_mode = DELETE")
            # EXTRA is FULL, and syncs the folder too once the journal is gone: without that a power cut just
            # after a commit could bring the journal back, and with it the state before.
            connection.execute("PRAGMA synchronous = EXTRA")
        except BaseException:
            connection.close()
            raise
        return connection

    def _check(self, connection: sqlite3.Connection) -> None:
        if connection.execute("PRAGMA integrity_check(1)").fetchall() != [("ok",)] \
                or connection.execute("PRAGMA foreign_key_check").fetchone() \
                or (connection.execute("PRAGMA user_version").fetchone()[0]
                    and not agrees(connection, self.copy.read())):
            raise sqlite3.DatabaseError(MALFORMED)
        self._mark.unlink(missing_ok=True)

    def _made_again(self, why: str) -> None:
        """Make the database anew from the second copy, and set the old one aside. A crash in between leaves the old
        one, or none: then it is made again the next time."""
        kept = self.copy.read()
        if kept.version > len(MIGRATIONS):
            raise RecordTrouble(NEWER.format(path=self.path))
        new = self.path.with_name(FILE_NAME + ".new")
        for left in (new, new.with_name(new.name + "-journal")):
            left.unlink(missing_ok=True)
        with closing(self._connect(new)) as connection:
            self._migrate(connection)
            connection.execute("BEGIN IMMEDIATE")
            poured(connection, kept)
            connection.execute("COMMIT")
        aside = self._aside(".sqlite3")
        for end in ("-journal", ""):            # the journal belongs to the old one, and goes with it
            old = self.path.with_name(FILE_NAME + end)
            if old.exists():
                old.rename(aside.with_name(aside.name + end))
        new.rename(self.path)
        if kept.damaged:
            self.copy.path.rename(self._aside(".jsonl"))
            with closing(self._connect(self.path)) as connection:
                self.copy.follow(connection, len(MIGRATIONS))
        sync_folder(self.path.parent)
        self._mark.unlink(missing_ok=True)
        held = f" What was damaged is set aside as {aside.name}." if aside.exists() else ""
        lost = f"; {kept.damaged} line{'s' if kept.damaged > 1 else ''} of that could not be read" if kept.damaged else ""
        self.notice = (f"Your record {self.path.name} {why} and was made again from its second copy, "
                       f"{self.copy.path.name}: {len(kept.rows)} rows{lost}.{held}")

    def _aside(self, ending: str) -> Path:
        """A name that nothing has yet."""
        stem = f"record-damaged-{datetime.now(UTC):%Y-%m-%d-%H%M%S}"
        names = (f"{stem}{'' if n == 1 else f'-{n}'}{ending}" for n in range(1, 10_000))
        return next(path for path in map(self.path.with_name, names) if not path.exists())

    @contextmanager
    def transaction(self, connection: sqlite3.Connection) -> Iterator[None]:
        """Changes that are made all or not at all; new rows stand in the second copy before they are in the database."""
        connection.execute("BEGIN IMMEDIATE")
        end = None
        try:
            yield
            if connection.execute("PRAGMA database_list").fetchone()[2]:    # a database in memory has no second copy
                end = self.copy.follow(connection, len(MIGRATIONS))
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            if end is not None:
                self.copy.cut(end)
            raise

    def _migrate(self, connection: sqlite3.Connection) -> None:
        version = connection.execute("PRAGMA user_version").fetchone()[0]
        if version == len(MIGRATIONS):
            return
        if version > len(MIGRATIONS):
            raise RecordTrouble(NEWER.format(path=self.path))
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Read again: another kernel may have done it while this one waited for the lock.
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            for step in MIGRATIONS[version:]:
                for statement in _statements(step):
                    connection.execute(statement)
            connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

    def _trouble(self, error: Exception) -> RecordTrouble:
        text = str(error).lower()
        if "full" in text or "no space" in text:
            why = "the disk is full. Make room on it"
        elif any(word in text for word in ("readonly", "read-only", "permission", "unable to open")):
            why = "it cannot be written there. Ask for the right to write to that folder, or name another " \
                  f"folder in {FOLDER_VARIABLE}"
        elif "locked" in text:
            why = "another program holds it. Close that program"
        elif _damage(error):
            why = "the file is damaged. Move it away, and a new one is begun"
        else:
            why = f"of this: {error}"
        return RecordTrouble(f"Your record {self.path} cannot be used because {why}.")

    # -- adding and reading ----------------------------------------------------------------------------

    @mended
    def add(self, kind: str, *, exercise: str = "", item: str = "", objective: str = "",
            seed: int | None = None, plant: str = "", answer: object = None, points: float | None = None,
            of: float | None = None, hand: float | None = None, more: dict[str, object] | None = None) -> int:
        """Add one row and return its number; when this returns, the row is on the disk.

        plant: the text of a plant file; each text is kept once.  answer: anything that JSON can say.
        points, of, hand: marks, in the item's own points.
        """
        digest = hashlib.sha256(plant.encode()).hexdigest() if plant else None
        at = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        said, besides = (HALF.sub(lambda found: f"\\u{ord(found[0]):04x}", json.dumps(thing, ensure_ascii=False))
                         for thing in (answer, more or {}))
        row = (at, self.learner, kind, exercise, item, objective, seed, digest, said, points, of, hand,
               besides)
        try:
            with self._open() as connection, self.transaction(connection):
                if digest:
                    connection.execute("INSERT OR IGNORE INTO plants VALUES (?, ?)", (digest, plant))
                number = connection.execute(
                    'INSERT INTO rows (at, learner, kind, exercise, item, objective, seed, plant, answer,'
                    ' points, "of", hand, more)'
                    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row).lastrowid
        except RecordTrouble as trouble:
            raise type(trouble)(f"{trouble} {GOES_ON}") from trouble
        assert number is not None
        return number

    @mended
    def rows(self, *, exercise: str | None = None, kind: str | None = None, everyone: bool = False,
             last: int | None = None) -> list[Row]:
        """This learner's rows (or everyone's), oldest first.

        exercise, kind: only of these.  last: only that many of the newest.
        """
        asked = [("exercise", exercise), ("kind", kind), ("learner", None if everyone else self.learner)]
        asked = [(name, value) for name, value in asked if value is not None]
        where = " AND ".join(f"{name} = ?" for name, _ in asked) or "1"
        values = [value for _, value in asked]
        with self._open() as connection:
            found = connection.execute(
                "SELECT id, at, learner, kind, exercise, item, objective, seed, coalesce(text, ''), answer,"
                f' points, "of", hand, more FROM rows LEFT JOIN plants ON digest = plant WHERE {where}'
                " ORDER BY id DESC LIMIT ?", (*values, -1 if last is None else last)).fetchall()
            return [_row(list(values)) for values in reversed(found)]

    @mended
    def learners(self) -> list[str]:
        """Everybody who has a row here, by name."""
        with self._open() as connection:
            found = connection.execute("SELECT DISTINCT learner FROM rows ORDER BY learner")
            return [name for (name,) in found]


def _row(values: list[Any]) -> Row:
    """A row as it was kept. A byte that has changed within a text is damage that SQLite does not see."""
    texts, numbers = (1, 2, 3, 4, 5, 6, 8, 9, 13), (7, 10, 11, 12)
    try:
        if not all(isinstance(values[at], str) for at in texts) \
                or not all(values[at] is None or isinstance(values[at], int | float) for at in numbers):
            raise ValueError("a text or a number is none")
        values[9], values[13] = json.loads(values[9]), json.loads(values[13])
        if not isinstance(values[13], dict):
            raise ValueError("what else a row carries is no table")
    except (ValueError, RecursionError) as error:
        raise sqlite3.DatabaseError(MALFORMED) from error
    return Row(*values)


def _statements(script: str) -> Iterator[str]:
    """The statements of a script: `executescript` would commit first, and a migration is all or nothing."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""
