"""The learner's record in their own hands: shown, exported, backed up, forgotten.

The record is the learner's own, made on their machine; it is practice for a certificate and not one.
"""

from __future__ import annotations

import csv
import io
import math
import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path

from figures.plant.refusal import plain_json

from .cells import safe
from .record import MIGRATIONS, Record, RecordTrouble, Row
from .second_copy import sync_folder

HONEST = "This record is your own, made on your machine. It is practice for a certificate, and not one."
FIELDS = ("id", "at", "learner", "kind", "exercise", "item", "objective", "seed", "plant", "answer", "points", "of", "hand",
          "more")


def shown(record: Record, rows: list[Row] | None = None) -> list[str]:
    """The record in lines: how each objective stands, and what that is worth. The figures are those of the progress
    page: first tries only, and nothing of an examination that still runs."""
    from .progress import summed

    rows = record.rows() if rows is None else rows
    if not rows:
        return [f"Nothing is kept for {record.learner} in {record.path}.", HONEST]
    found = summed(rows, record.learner, datetime.now(UTC))
    lines = [f"{record.learner}, {len(rows)} rows from {rows[0].at[:10]} to {rows[-1].at[:10]}, in {record.path}"]
    lines += [f"{stand.code:3} {100 * stand.share:4.0f} % right of {stand.answers:4} answers  {stand.objective.text}"
              for stand in found.asked]
    return [*lines, HONEST]


def as_json_lines(rows: Iterable[Row]) -> str:
    """One JSON object a line, oldest first.

    >>> as_json_lines([])
    ''
    """
    return "".join(_as_json({name: getattr(row, name) for name in FIELDS}) + "\n" for row in rows)


def _as_json(value: object) -> str:
    try:
        return plain_json(value)
    except ValueError:
        return plain_json(_finite(value))


def _finite(value: object) -> object:
    """A value without the figures that JSON has no word for, which another program may have put there."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, list):
        return [_finite(one) for one in value]
    return {name: _finite(one) for name, one in value.items()} if isinstance(value, dict) else value


def as_csv(rows: Iterable[Row]) -> str:
    """A table with a head. Text that a spreadsheet could take for a formula gets an apostrophe before it."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(FIELDS)
    for row in rows:
        table.writerow([_cell(getattr(row, name)) for name in FIELDS])
    return out.getvalue()


def _cell(value: object) -> object:
    """An answer of several values stands in its cell as JSON."""
    return safe(_as_json(value) if isinstance(value, list | dict) else value)


def back_up(record: Record, to: str | Path) -> Path:
    """Copy the whole record, everybody's, to a file that is not there yet, while others may be writing.

    Raises RecordTrouble where there is nothing to copy, or the file cannot be made.
    """
    target = Path(to)
    if target.is_dir():
        target = target / f"record-{datetime.now(UTC):%Y-%m-%d-%H%M%S}.sqlite3"
    if target.exists():
        raise RecordTrouble(f"{target} is there already; name another file.")
    if not record.path.exists() and not record.copy.path.exists():
        raise RecordTrouble(f"There is no record in {record.path} yet.")
    half = target.with_name(target.name + ".part")
    with Record._open(record) as source:
        try:        # in there, or what is wrong with the copy would be told of the record
            half.unlink(missing_ok=True)
            with closing(sqlite3.connect(half)) as copy:
                source.backup(copy)
            half.rename(target)
        except (OSError, sqlite3.Error) as error:
            with suppress(OSError):
                half.unlink(missing_ok=True)
            raise RecordTrouble(f"{target} cannot be written: {error}. Name another file, in a folder of yours.") from error
    return target


def forget(record: Record) -> int:
    """Delete every row of this learner for good, and the plants that no one else's rows show. Returns how many.

    This is the one way in which rows go, from the database and from its second copy; it is all or nothing.  Files that were
    set aside as damaged are not touched: see `set_aside`.  Raises RecordTrouble.
    """
    if not record.path.exists() and not record.copy.path.exists():
        return 0
    rows = Record(record.path.parent, record.learner).rows()
    try:
        with Record._open(record) as connection:
            # Before the database, so that a crash in between leaves no word of it here: it is written anew from there.
            record.copy.path.unlink(missing_ok=True)
            sync_folder(record.path.parent)
            connection.execute("PRAGMA secure_delete = ON")
            connection.execute("BEGIN IMMEDIATE")
            guard = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'rows_remain'").fetchone()
            connection.execute("DROP TRIGGER IF EXISTS rows_remain")        # another program may have taken it away
            connection.execute("DELETE FROM rows WHERE learner = ?", (record.learner,))
            connection.execute("DELETE FROM plants WHERE digest NOT IN (SELECT plant FROM rows WHERE plant IS NOT NULL)")
            if guard:
                connection.execute(guard[0])
            connection.execute("COMMIT")
            connection.execute("VACUUM")
            record.copy.follow(connection, len(MIGRATIONS))
    except RecordTrouble as trouble:
        raise RecordTrouble(f"{trouble} Nothing was forgotten.") from trouble
    return len(rows)


def set_aside(record: Record) -> list[str]:
    """Names of the files beside the record that were set aside as damaged, and may hold anybody's rows."""
    return sorted(path.name for path in record.path.parent.glob("record-damaged-*"))
