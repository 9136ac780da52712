"""How a learner stands: their record as figures, by objective, by mistake, by day and by examination.

The first try of a question counts, and of an examination the last answer in time: what comes after a reason was read
shows that it was read.  An examination that still runs is left out, for it gives no result before it is over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, tzinfo

from .counted import Sat, counted
from .exam import Result, result_of, strays_of
from .misconceptions import MISCONCEPTIONS, Misconception
from .objectives import OBJECTIVES, Objective
from .practice import RECENT, SHAKY, Standing, standings
from .record import Record, Row

Z_95 = 1.96
"""Standard deviations on either side that hold 95 % of a normal distribution."""


def wilson(right: float, answers: int, z: float = Z_95) -> tuple[float, float]:
    """The interval that holds the true share right, were the answers drawn by chance alike [-].

    right: how many were right.  answers: of how many, 1 or more.  z: 1.96 for 95 %.  Raises ValueError where right is
    not between 0 and answers.  Source: Wilson, J. Am. Stat. Assoc. 22, 1927; the case is Newcombe, Stat. Med. 17, 1998.

    >>> [round(end, 4) for end in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    if answers < 1 or not 0.0 <= right <= answers:
        raise ValueError(f"{right:g} right of {answers} answers: there is no such share")
    p, n = right / answers, answers
    middle, half = p + z * z / (2 * n), z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    scale = 1 + z * z / n
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


@dataclass(frozen=True, slots=True)
class Stand:
    """How one objective stands.

    answers, right: how many were given, and how many earned all their points.  last: when the newest was given.
    due: when it should come back, by the plan of practice.  Both None where it was never asked about.
    """

    code: str
    answers: int
    right: int
    last: datetime | None
    due: datetime | None

    @property
    def objective(self) -> Objective:
        """What one is to be able to do."""
        return OBJECTIVES[self.code]

    @property
    def share(self) -> float:
        """Share right [-]; 0 where there is no answer."""
        return self.right / self.answers if self.answers else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Where the true share lies, 95 times in 100 [-]; anywhere while there is no answer."""
        return wilson(self.right, self.answers) if self.answers else (0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Held:
    """A mistake that was made. times: how often.  last: when.  lesson: number of the lesson that mends it."""

    number: int
    times: int
    last: datetime
    lesson: int

    @property
    def misconception(self) -> Misconception:
        """What people say who make it, and what shows that it is not so."""
        return MISCONCEPTIONS[self.number]


@dataclass(frozen=True, slots=True)
class OneDay:
    """The answers of one day."""

    day: date
    answers: int
    right: int


@dataclass(frozen=True, slots=True)
class Taken:
    """An examination that was begun. result: None while it still runs; answered, asked: questions."""

    name: str
    title: str
    seed: int | None
    begun: datetime
    answered: int
    asked: int
    result: Result | None


@dataclass(frozen=True, slots=True)
class Next:
    """What to practise, and why, in words."""

    code: str
    why: str


@dataclass(frozen=True)
class Progress:
    """How a learner stands. objectives: all, in the order of the job.  held: the most frequent first.  days: oldest
    first, only those with an answer.  examinations: newest first.  next: what to practise, most worth first.
    not_understood: rows that this Loopbook cannot read and has left out."""

    learner: str
    objectives: tuple[Stand, ...]
    held: tuple[Held, ...]
    days: tuple[OneDay, ...]
    examinations: tuple[Taken, ...]
    next: tuple[Next, ...]
    not_understood: int = 0

    @property
    def asked(self) -> tuple[Stand, ...]:
        """The objectives that were asked about."""
        return tuple(stand for stand in self.objectives if stand.answers)

    @property
    def empty(self) -> bool:
        """Nothing was answered and no examination begun."""
        return not self.asked and not self.examinations


def progress_of(record: Record, now: datetime | None = None, zone: tzinfo | None = None) -> Progress:
    """How the learner of a record stands. now: the present unless given.  zone: whose days; this machine's unless given.

    Raises RecordTrouble, with a sentence for the learner, where the record cannot be read.

    >>> import tempfile
    >>> progress_of(Record(tempfile.mkdtemp())).empty
    True
    """
    return summed(record.rows(), record.learner, now or datetime.now(UTC), zone)


def summed(rows: Sequence[Row], learner: str, now: datetime, zone: tzinfo | None = None) -> Progress:
    """How a learner stands, from their rows, oldest first. now, zone: as `progress_of`."""
    found = counted(rows, now)
    graded, examinations, strange = found.answers, [], found.strange
    for sat in found.sat:
        try:
            examinations.append(_taken(sat))
        except (ValueError, KeyError, TypeError, StopIteration):     # its slots are not those of its blueprint
            strange += 1
    plan = standings([row for _, row in graded], now)
    days: dict[date, list[bool]] = {}
    by_code: dict[str, list[tuple[datetime, bool]]] = {}
    held: dict[int, list[datetime]] = {}
    for at, row in graded:
        right = _right(row)
        days.setdefault(at.astimezone(zone).date(), []).append(right)
        by_code.setdefault(row.objective, []).append((at, right))
        mistake = row.more.get("misconception")
        if isinstance(mistake, int) and mistake in MISCONCEPTIONS and not right:
            held.setdefault(mistake, []).append(at)
    stands = []
    for code in OBJECTIVES:
        got = by_code.get(code, [])
        stands.append(Stand(code, len(got), sum(right for _, right in got), max((at for at, _ in got), default=None),
                            plan[code].due))
    mistakes = [Held(number, len(times), max(times), MISCONCEPTIONS[number].lesson) for number, times in held.items()]
    return Progress(learner, tuple(stands), tuple(sorted(mistakes, key=lambda held: (-held.times, held.number))),
                    tuple(OneDay(day, len(got), sum(got)) for day, got in sorted(days.items())),
                    tuple(reversed(examinations)), _next(plan, now), strange)


def _right(row: Row) -> bool:
    return (row.score or 0.0) >= (row.of or 0.0) - 1e-9


def _taken(sat: Sat) -> Taken:
    """An examination with its result, once it is over."""
    points = {number: (row.score or 0.0) / (row.of or 1.0) for number, (_, row) in sat.answers.items()}
    result = replace(result_of(sat.blueprint, sat.slots, points), strays=strays_of(sat.start)) if sat.over else None
    return Taken(sat.start.exercise, sat.blueprint.title, sat.start.seed, sat.begun, len(sat.answers), len(sat.slots), result)


def _next(plan: dict[str, Standing], now: datetime) -> tuple[Next, ...]:
    """What practice asks about next: weak and due first, by what there is to win; then what was never asked about."""
    due = [stand for stand in plan.values() if stand.due is not None and (stand.due <= now or (stand.recent or 0.0) < SHAKY)]
    found = []
    for stand in sorted(due, key=lambda stand: (stand.weight, stand.objective), reverse=True):
        shaky = (stand.recent or 0.0) < SHAKY
        of = min(stand.answers, RECENT)
        why = f"{100 * (stand.recent or 0.0):.0f} % of the newest {of} answers" if shaky and of > 1 else \
            "the one answer was not right" if shaky else "it is about to be forgotten"
        found.append(Next(stand.objective, why))
    return (*found, *(Next(stand.objective, "not asked yet") for stand in plan.values() if stand.new))
