"""Which answers of a record count: the first try of a question, and of an examination the last answer in time.

What comes after a reason was read shows that it was read.  An examination that still runs is left out, for it gives no
result before it is over.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from .exam import FINISH, ROW, START
from .exam_form import Blueprint, Slot, parse_blueprint
from .objectives import OBJECTIVES
from .record import Row

Timed = tuple[datetime, Row]


@dataclass(frozen=True)
class Sat:
    """An examination that was begun. answers: the last one in time to each question, by number.  over: handed in, or out
    of time."""

    start: Row
    blueprint: Blueprint
    slots: list[Slot]
    begun: datetime
    answers: dict[int, Timed]
    over: bool


@dataclass(frozen=True)
class Counted:
    """What counts. answers: oldest first.  sat: every examination that was begun.  strange: rows that cannot be read."""

    answers: list[Timed]
    sat: list[Sat]
    strange: int


def counted(rows: Sequence[Row], now: datetime) -> Counted:
    """What counts of a learner's rows, which come oldest first. now: by which an examination is over or not.

    >>> counted([], datetime.now(UTC)).answers
    []
    """
    starts = [row for row in rows if row.kind == ROW and row.more.get("event") == START]
    found, strange = _outside(rows, {row.exercise for row in starts})
    sat = []
    for start in starts:
        try:
            one = _sat(start, [row for row in rows if row.exercise == start.exercise], now)
        except (ValueError, KeyError, TypeError, StopIteration):     # made by a Loopbook that kept it otherwise, or by hand
            strange += 1
            continue
        sat.append(one)
        found += one.answers.values() if one.over else []
    return Counted(sorted(found, key=lambda one: one[0]), sat, strange)


def _moment(row: Row) -> datetime:
    at = datetime.fromisoformat(str(row.more.get("at", row.at)).replace("Z", "+00:00"))
    if not 1900 < at.year < 9000:
        raise ValueError(f"{at.year}: no clock has told that")      # and nothing can be reckoned with the ends of the calendar
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def _has_mark(row: Row) -> bool:
    return row.kind == "answer" and row.objective in OBJECTIVES and row.score is not None and bool(row.of)


def _outside(rows: Iterable[Row], sittings: set[str]) -> tuple[list[Timed], int]:
    """The first tries outside examinations, and how many rows have no time that can be read."""
    found, strange = [], 0
    for row in rows:
        tries = row.more.get("try", 1)
        if _has_mark(row) and row.exercise not in sittings and not (isinstance(tries, int) and tries > 1):
            try:
                found.append((_moment(row), row))
            except ValueError:
                strange += 1
    return found, strange


def _sat(start: Row, rows: Sequence[Row], now: datetime) -> Sat:
    blueprint = parse_blueprint(str(start.more["blueprint"]))
    slots: list[Slot] = [tuple(slot) for slot in start.more["slots"]]     # type: ignore[attr-defined]
    begun = _moment(start)
    ends = begun + timedelta(minutes=blueprint.minutes)
    last = {int(str(row.more["number"])): (_moment(row), row) for row in rows if _has_mark(row) and _moment(row) <= ends}
    over = now >= ends or any(row.kind == ROW and row.more.get("event") == FINISH for row in rows)
    return Sat(start, blueprint, slots, begun, last, over)
