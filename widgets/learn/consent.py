"""What a learner has chosen: whether answers are kept on this machine, and in which units figures are shown.

Until somebody has said yes, nothing of what they answer is written to disk: it is held in memory, and goes with the
kernel.  After a yes it is kept, and what was held so far is kept too.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import MethodType
from typing import Literal
from weakref import WeakMethod

from figures.plant.units import Units

from .record import Record, RecordTrouble, Row, data_folder
from .whole import write_whole

KEEP_VARIABLE = "LOOPBOOK_KEEP"
"""Set to yes or no by who looks after a machine, it decides in place of the choice: a school's, where each has agreed."""
FILE_NAME = "choices.json"
LARGEST_NUMBER = 999_999
UNITS_OFFERED: tuple[Units, ...] = ("si", "us")


@dataclass(frozen=True, slots=True)
class Chosen:
    """keep: True, False, or None while nobody has been asked.  units: 'si' or 'us'.

    number: the class's, by which everybody has the same plants; None for the lessons' own.
    """

    keep: bool | None = None
    units: Units = "si"
    number: int | None = None


_here: dict[Path, Chosen] = {}      # chosen where the folder cannot be written: good until the kernel ends
_heard: list[Callable[[], Callable[[Chosen], None] | None]] = []    # a widget that is gone listens no more


def _file() -> Path:
    return data_folder() / FILE_NAME


def chosen() -> Chosen:
    """What was chosen; a file that is not there or damaged counts as nothing chosen.

    >>> isinstance(chosen().units, str)
    True
    """
    kept = _here.get(_file()) or _read(_file())
    told = os.environ.get(KEEP_VARIABLE, "").strip().lower()
    return Chosen(told == "yes", kept.units, kept.number) if told in ("yes", "no") else kept


def _read(path: Path) -> Chosen:
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Chosen()
    if not isinstance(told, dict):
        return Chosen()
    keep, units, number = told.get("keep"), told.get("units"), told.get("number")
    return Chosen(keep if isinstance(keep, bool) else None, "us" if units == "us" else "si",
                  number if isinstance(number, int) and not isinstance(number, bool) and 0 <= number <= LARGEST_NUMBER else None)


def keeps() -> bool:
    """Answers may be written to disk."""
    return chosen().keep is True


def fixed() -> bool:
    """Who looks after the machine has decided by `LOOPBOOK_KEEP`, and a choice here changes nothing."""
    return os.environ.get(KEEP_VARIABLE, "").strip().lower() in ("yes", "no")


def units() -> Units:
    """The units in which figures are shown unless others are asked for."""
    return chosen().units


def choose(keep: bool | None = None, units: Units | None = None, number: int | None = None) -> Chosen:
    """Choose, and remember it in the data folder; what is None stays as it was; a number below 0 gives it up.

    Raises ValueError for units or a number that are none, and RecordTrouble where it cannot be remembered: then it holds
    until the kernel ends.
    """
    if units is not None and units not in UNITS_OFFERED:
        raise ValueError(f"units: '{units}' is neither 'si' nor 'us'")
    if number is not None and number > LARGEST_NUMBER:
        raise ValueError(f"A class number is a whole number from 0 to {LARGEST_NUMBER}.")
    path = _file()
    before = _here.get(path) or _read(path)
    now = Chosen(before.keep if keep is None else keep, units or before.units,
                 before.number if number is None else number if number >= 0 else None)
    numbered = {} if now.number is None else {"number": now.number}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps({"keep": now.keep, "units": now.units, **numbered}).encode() + b"\n")
        _here.pop(path, None)
    except OSError as error:
        _here[path] = now
        raise RecordTrouble(f"Your choice cannot be written to {path}: {error.strerror}. It holds until this page is "
                            "closed.") from error
    finally:
        if now.keep:
            own_record().hand_over()
        for known in list(_heard):
            act = known()
            if act is None:
                _heard.remove(known)
            else:
                act(chosen())
    return now


def on_choice(act: Callable[[Chosen], None]) -> Callable[[], None]:
    """Have something called whenever a choice is made; what comes back stops that. A method stops with its object."""
    known: Callable[[], Callable[[Chosen], None] | None] = WeakMethod(act) if isinstance(act, MethodType) else lambda: act
    _heard.append(known)
    return lambda: _heard.remove(known) if known in _heard else None


class OwnRecord(Record):
    """The learner's own record in the data folder; until they have agreed it is held in memory only.

    >>> import os, tempfile
    >>> from unittest import mock
    >>> with mock.patch.dict(os.environ, {"LOOPBOOK_DATA": tempfile.mkdtemp(), "LOOPBOOK_KEEP": "no"}):
    ...     record = OwnRecord()
    ...     record.add("answer", item="control"), len(record.rows()), record.path.exists()
    (1, 1, False)
    """

    def add(self, kind: str, *, exercise: str = "", item: str = "", objective: str = "", seed: int | None = None,
            plant: str = "", answer: object = None, points: float | None = None, of: float | None = None,
            hand: float | None = None, more: dict[str, object] | None = None) -> int:
        """Add one row and return its number: on disk when this returns, or held in memory where nobody has agreed."""
        if keeps():
            self.hand_over()
            return super().add(kind, exercise=exercise, item=item, objective=objective, seed=seed, plant=plant, answer=answer,
                               points=points, of=of, hand=hand, more=more)
        held = _held.setdefault(self.path, [])
        at = datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        # As the disk would give it back: what is handed over later is then the same.
        said, besides = json.loads(json.dumps([answer, more or {}]))
        held.append(Row(len(held) + 1, at, self.learner, kind, exercise, item, objective, seed, plant, said, points, of, hand,
                        besides))
        return held[-1].id

    def rows(self, *, exercise: str | None = None, kind: str | None = None, everyone: bool = False,
             last: int | None = None) -> list[Row]:
        """As `Record.rows`; of what is held in memory where nobody has agreed."""
        if keeps():
            self.hand_over()
            return super().rows(exercise=exercise, kind=kind, everyone=everyone, last=last)
        found = [row for row in _held.get(self.path, []) if (exercise is None or row.exercise == exercise)
                 and (kind is None or row.kind == kind) and (everyone or row.learner == self.learner)]
        return found if last is None else found[len(found) - last:] if last < len(found) else found

    def learners(self) -> list[str]:
        """As `Record.learners`."""
        return super().learners() if keeps() else sorted({row.learner for row in _held.get(self.path, [])})

    def hand_over(self) -> None:
        """Write to disk what was held in memory before. Raises RecordTrouble; what is not written is still held."""
        held = _held.get(self.path, [])
        while held:
            row = held[0]
            Record(self.path.parent, row.learner).add(
                row.kind, exercise=row.exercise, item=row.item, objective=row.objective, seed=row.seed, plant=row.plant,
                answer=row.answer, points=row.points, of=row.of, hand=row.hand, more={"at": row.at, **row.more})
            del held[0]


_held: dict[Path, list[Row]] = {}


def own_record() -> OwnRecord:
    """The record that answers go to where no other is named: on disk once the learner has agreed."""
    return OwnRecord()


def record_of(record: Record | Literal[False] | None) -> Record | None:
    """The record that a widget was asked to use: False keeps none, None takes the learner's own."""
    return None if record is False else record or own_record()
