"""What a learner has chosen: whether answers are kept on this machine, and in which units figures are shown.

Until somebody has said yes, nothing of what they answer is written to disk: it is held in memory, and goes with the
kernel.  After a yes it is kept, and what was held so far is kept too.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from figures.plant.units import Units

from .record import Record, RecordTrouble, data_folder

KEEP_VARIABLE = "LOOPBOOK_KEEP"
"""Set to yes or no by who looks after a machine, it decides in place of the choice: a school's, where each has agreed."""
FILE_NAME = "choices.json"
UNITS_OFFERED: tuple[Units, ...] = ("si", "us")


@dataclass(frozen=True, slots=True)
class Chosen:
    """keep: True, False, or None while nobody has been asked.  units: 'si' or 'us'."""

    keep: bool | None = None
    units: Units = "si"


_here: dict[Path, Chosen] = {}      # chosen where the folder cannot be written: good until the kernel ends
_heard: list[Callable[[Chosen], None]] = []


def _file() -> Path:
    return data_folder() / FILE_NAME


def chosen() -> Chosen:
    """What was chosen; a file that is not there or damaged counts as nothing chosen.

    >>> isinstance(chosen().units, str)
    True
    """
    kept = _here.get(_file()) or _read(_file())
    told = os.environ.get(KEEP_VARIABLE, "").strip().lower()
    return Chosen(told == "yes", kept.units) if told in ("yes", "no") else kept


def _read(path: Path) -> Chosen:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Chosen()
    if not isinstance(told, dict):
        return Chosen()
    keep, units = told.get("keep"), told.get("units")
    return Chosen(keep if isinstance(keep, bool) else None, "us" if units == "us" else "si")


def keeps() -> bool:
    """Answers may be written to disk."""
    return chosen().keep is True


def fixed() -> bool:
    """Who looks after the machine has decided by `LOOPBOOK_KEEP`, and a choice here changes nothing."""
    return os.environ.get(KEEP_VARIABLE, "").strip().lower() in ("yes", "no")


def units() -> Units:
    """The units in which figures are shown unless others are asked for."""
    return chosen().units


def choose(keep: bool | None = None, units: Units | None = None) -> Chosen:
    """Choose, and remember it in the data folder; what is None stays as it was.

    Raises ValueError for units that are none, and RecordTrouble where it cannot be remembered: then it holds until the
    kernel ends.
    """
    if units is not None and units not in UNITS_OFFERED:
        raise ValueError(f"units: '{units}' is neither 'si' nor 'us'")
    path = _file()
    before = _here.get(path) or _read(path)
    now = Chosen(before.keep if keep is None else keep, units or before.units)
    half = path.with_name(f"{FILE_NAME}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        half.write_text(json.dumps({"keep": now.keep, "units": now.units}) + "\n", encoding="utf-8")
        half.replace(path)
        _here.pop(path, None)
    except OSError as error:
        _here[path] = now
        raise RecordTrouble(f"Your choice cannot be written to {path}: {error.strerror}. It holds until this page is "
                            "closed.") from error
    finally:
        if now.keep:
            own_record().hand_over()
        for act in list(_heard):
            act(chosen())
    return now


def on_choice(act: Callable[[Chosen], None]) -> Callable[[], None]:
    """Have something called whenever a choice is made; what comes back stops that."""
    _heard.append(act)
    return lambda: _heard.remove(act) if act in _heard else None


class OwnRecord(Record):
    """The learner's own record in the data folder; until they have agreed it is held in memory only.

    >>> import os, tempfile
    >>> from unittest import mock
    >>> with mock.patch.dict(os.environ, {"LOOPBOOK_DATA": tempfile.mkdtemp(), "LOOPBOOK_KEEP": "no"}):
    ...     record = OwnRecord()
    ...     record.add("answer", item="control"), len(record.rows()), record.path.exists()
    (1, 1, False)
    """

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        if keeps():
            self.hand_over()
            with super()._open() as connection:
                yield connection
            return
        if self.path not in _held:
            _held[self.path] = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        try:
            self._migrate(_held[self.path])
            yield _held[self.path]
        except sqlite3.Error as error:
            raise self._trouble(error) from error

    def hand_over(self) -> None:
        """Write to disk what was held in memory before. Raises RecordTrouble, and then it is still held."""
        held = _held.get(self.path)
        if held is None:
            return
        with super()._open() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                for row in held.execute("SELECT digest, text FROM plants"):
                    connection.execute("INSERT OR IGNORE INTO plants VALUES (?, ?)", row)
                for row in held.execute(f"SELECT {COLUMNS} FROM rows ORDER BY id"):
                    connection.execute(f"INSERT INTO rows ({COLUMNS}) VALUES ({', '.join('?' * len(row))})", row)
                connection.execute("COMMIT")
            except BaseException:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                raise
        del _held[self.path]
        held.close()


COLUMNS = 'at, learner, kind, exercise, item, objective, seed, plant, answer, points, "of", hand, more'
_held: dict[Path, sqlite3.Connection] = {}


def own_record() -> OwnRecord:
    """The record that answers go to where no other is named: on disk once the learner has agreed."""
    return OwnRecord()


def record_of(record: Record | Literal[False] | None) -> Record | None:
    """The record that a widget was asked to use: False keeps none, None takes the learner's own."""
    return None if record is False else record or own_record()
