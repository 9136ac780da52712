"""The record's second copy: one line for each row and each plant, added and on the disk before the database is touched.

Each line is JSON and carries a checksum, so that a line cut by a crash is told from a whole one.  From it the database is
made again should that ever be damaged.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

FILE_NAME = "record.jsonl"
BLOCK = 8192
LINE = re.compile(rb'\{"sum": "([0-9a-f]{16})", "(row|plant)": (\{.*\})\}')
TEXTS = {"row": ("at", "learner", "kind", "exercise", "item", "objective", "more"), "plant": ("digest", "text")}
Cells = dict[str, object]


def _line(what: str, cells: Cells) -> bytes:
    body = json.dumps(cells, default=lambda cell: cell.decode("utf-8", "replace")).encode("ascii")   # bytes of another program
    return b'{"sum": "%s", "%s": %s}\n' % (hashlib.sha256(body).hexdigest()[:16].encode(), what.encode(), body)


def _parsed(line: bytes) -> tuple[str, Cells] | None:
    """What a line says, None where it is not whole, or says what no row or plant can: then its sum was made by hand."""
    found = LINE.fullmatch(line)
    if found is None or hashlib.sha256(found[3]).hexdigest()[:16].encode() != found[1]:
        return None
    try:
        cells = json.loads(found[3])
    except (ValueError, RecursionError):
        return None
    what = found[2].decode()
    return (what, cells) if _sound(what, cells) else None


def _sound(what: str, cells: Cells) -> bool:
    """What a database can take: every cell of a type that it knows, a text where a text belongs, and a number for a row."""
    if not all(cell is None or isinstance(cell, str | float) or (isinstance(cell, int) and abs(cell) < 2**63)
               for cell in cells.values()):
        return False
    if not all(isinstance(cells.get(name), str) for name in TEXTS[what]):
        return False
    return what == "plant" or (all(type(cells.get(name)) is int for name in ("id", "version"))
                               and int(str(cells["id"])) > 0 and isinstance(cells.get("plant", 0), str | None))


def _readable(what: str, cells: Cells) -> bool:
    """A row that another program has put into the database may be none that can be read, and it follows into the copy."""
    if what != "row":
        return True
    try:
        json.loads(str(cells.get("answer", "{}")))
        return isinstance(json.loads(str(cells.get("more", "{}"))), dict)
    except (ValueError, RecursionError):
        return False


@dataclass
class Kept:
    """What the whole copy says. rows: by number.  plants: texts by digest.  damaged: lines that are not whole."""

    rows: dict[int, Cells] = field(default_factory=dict)
    plants: dict[str, str] = field(default_factory=dict)
    damaged: int = 0
    version: int = 0


class SecondCopy:
    """The second copy at a path. All of it is called with the record's lock held.

    >>> import tempfile
    >>> copy = SecondCopy(Path(tempfile.mkdtemp()) / FILE_NAME)
    >>> copy.last()
    0
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def last(self) -> int:
        """Number of the newest row that is whole, 0 where there is none. What stands after it was cut by a crash."""
        return self._end()[0]

    def _end(self) -> tuple[int, int]:
        """Number of the newest whole row, and where its line ends [bytes]."""
        try:
            file = self.path.open("rb")
        except FileNotFoundError:
            return 0, 0
        with file:
            size = start = file.seek(0, os.SEEK_END)
            while start > 0:
                start = max(0, start - (BLOCK if start == size else size - start))
                file.seek(start)
                lines = file.read(size - start).split(b"\n")
                end = size - len(lines.pop())      # what no newline ends was cut
                for n in reversed(range(0 if start == 0 else 1, len(lines))):
                    found = _parsed(lines[n])
                    if found is not None and found[0] == "row":
                        return int(str(found[1]["id"])), end
                    end -= len(lines[n]) + 1
        return 0, 0

    def read(self) -> Kept:
        """All of it that is whole."""
        kept = Kept()
        if not self.path.exists():
            return kept
        with self.path.open("rb") as file:
            for line in file:
                found = _parsed(line.rstrip(b"\n"))
                if found is None or not _readable(*found):
                    kept.damaged += line.endswith(b"\n")
                elif found[0] == "plant":
                    kept.plants[str(found[1]["digest"])] = str(found[1]["text"])
                elif found[0] == "row":
                    kept.version = max(kept.version, int(str(found[1].pop("version"))))
                    kept.rows[int(str(found[1]["id"]))] = found[1]
        return kept

    def follow(self, connection: sqlite3.Connection, version: int) -> int:
        """Add the rows of a database that are newer than the newest here, and return where the copy ended before [bytes].

        When this returns, they are on the disk.  Raises OSError, with the copy as it was.
        """
        last, end = self._end()
        new = cells_of(connection, "SELECT * FROM rows WHERE id > ? ORDER BY id", (last,))
        if not new:
            return end
        lines = []
        for digest in dict.fromkeys(row["plant"] for row in new if row["plant"] is not None):
            # A plant stands here once, before the first row that shows it.
            if not connection.execute("SELECT 1 FROM rows WHERE plant = ? AND id <= ?", (digest, last)).fetchone():
                lines += [_line("plant", cells) for cells in cells_of(
                    connection, "SELECT digest, text FROM plants WHERE digest = ?", (digest,))]
        lines += [_line("row", {"version": version, **row}) for row in new]
        fresh = not self.path.exists()
        try:
            self._write(end, lines)
        except OSError:
            self.cut(end)
            raise
        if fresh:
            sync_folder(self.path.parent)
        return end

    def _write(self, end: int, lines: Iterable[bytes]) -> None:
        with self.path.open("r+b" if self.path.exists() else "xb") as file:
            file.truncate(end)
            file.seek(end)
            file.write(b"".join(lines))
            file.flush()
            os.fsync(file.fileno())

    def cut(self, end: int) -> None:
        """Take back what stands after a place [bytes]: what it tells of was not kept. Raises OSError."""
        if self.path.exists():
            os.truncate(self.path, end)

    def newer(self, last: int) -> Kept:
        """What stands here of rows that a database whose newest row is `last` has not."""
        kept = self.read()
        kept.rows = {number: row for number, row in kept.rows.items() if number > last}
        return kept


def cells_of(connection: sqlite3.Connection, statement: str, values: tuple[object, ...] = ()) -> list[Cells]:
    """Rows by the names of their columns."""
    found = connection.execute(statement, values)
    names = [column[0] for column in found.description]
    return [dict(zip(names, row)) for row in found]


def poured(connection: sqlite3.Connection, kept: Kept) -> None:
    """Put rows and their plants into a database, in a transaction that somebody else has begun."""
    known = {str(row[1]) for row in connection.execute("PRAGMA table_info(rows)")}
    wanted = {row["plant"] for row in kept.rows.values()}
    connection.executemany("INSERT OR IGNORE INTO plants VALUES (?, ?)",
                           [pair for pair in kept.plants.items() if pair[0] in wanted])
    for number in sorted(kept.rows):
        row = {name: value for name, value in kept.rows[number].items() if name in known}
        if row["plant"] is not None and not connection.execute("SELECT 1 FROM plants WHERE digest = ?",
                                                               (row["plant"],)).fetchone():
            row["plant"] = None     # its line is damaged; the answer stands all the same
        names = ", ".join(f'"{name}"' for name in row)
        connection.execute(f"INSERT INTO rows ({names}) VALUES ({', '.join('?' * len(row))})", tuple(row.values()))


def agrees(connection: sqlite3.Connection, kept: Kept) -> bool:
    """A database has each row that stands here as it stands here, with its plant, and no row that cannot be read; newer
    ones apart, which it may not have had the time for."""
    there = {int(str(row["id"])): row for row in cells_of(connection, "SELECT * FROM rows")}
    newest = max(there, default=0)
    if not all(_readable("row", cells) for cells in there.values()):
        return False
    if any(number not in there or any(there[number].get(name, value) != value for name, value in row.items())
           for number, row in kept.rows.items() if number <= newest):
        return False
    texts = dict(connection.execute("SELECT digest, text FROM plants").fetchall())
    wanted = {str(row["plant"]) for number, row in kept.rows.items() if row["plant"] is not None and number <= newest}
    return all(texts.get(digest) == kept.plants.get(digest, texts.get(digest)) for digest in wanted)


def sync_folder(folder: Path) -> None:
    """Have a new or renamed file's name on the disk, where the system can be asked for that."""
    if os.name == "posix":
        file = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(file)
        finally:
            os.close(file)
