"""An examination: timed, without hints, left and resumed, with a result by objective.

Everything that happens is a row of the learner's record, on the disk before the call returns: a crash, a dead
battery or a closed lid costs nothing but the time that went by, for the clock is the wall's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from .bank import make_item
from .exam_form import NEAR, Blueprint, Slot, evened, parse_blueprint, read_blueprint
from .items import Item
from .marking import mark
from .objectives import OBJECTIVES
from .record import Record, Row

ROW, START, FLAG, FINISH = "exam", "start", "flag", "finish"
HONEST = ("This result is your own, made on your machine. It is practice for a certificate, and not one.")
Clock = Callable[[], datetime]
Answer = str | tuple[str, ...]


class ExamTrouble(Exception):
    """Something that cannot be done in an examination; the message says why."""


@dataclass(frozen=True, slots=True)
class Score:
    """How one objective went. share: of its points [-].  passed: None where it is not one that must be passed."""

    objective: str
    asked: int
    points: float
    of: float
    passed: bool | None

    @property
    def share(self) -> float:
        """Share of its points [-]."""
        return self.points / self.of if self.of else 0.0


@dataclass(frozen=True)
class Result:
    """The result: total [-], whether it passes, how each objective went, and what to study, weakest first.

    strays: share of the total by which a mistake may cost more or less in this form than in the blueprint's yardstick [-].
    """

    total: float
    passed: bool
    scores: tuple[Score, ...]
    answered: int
    asked: int
    strays: float = 0.0

    @property
    def study(self) -> tuple[str, ...]:
        """Codes of objectives to study: those that must be passed and were not, then the weakest."""
        weak = [s for s in self.scores if s.share < 1.0 and (s.share < 0.8 or s.passed is False)]
        return tuple(s.objective for s in sorted(weak, key=lambda s: (s.passed is not False, s.share)))

    def lines(self) -> tuple[str, ...]:
        """The result in sentences."""
        said = [f"{'Passed' if self.passed else 'Not passed'}: {100 * self.total:.0f} % of the points, "
                f"{self.answered} of {self.asked} questions answered."]
        said += [f"{s.objective}, {OBJECTIVES[s.objective].text}: this one must be passed, and {100 * s.share:.0f} % is "
                 "too little." for s in self.scores if s.passed is False]
        if self.study:
            said.append("Study next: " + "; ".join(f"{code}, {OBJECTIVES[code].text}" for code in self.study[:5]) + ".")
        if self.strays > NEAR + 1e-9:
            said.append("This blueprint's questions are too few or too dear for forms that are equally hard: one mistake may "
                        f"cost {100 * self.strays:.0f} % of the points more or less in another form.")
        return (*said, HONEST)


def _utc() -> datetime:
    return datetime.now(UTC)


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


class Exam:
    """One sitting of an examination. Made by `begin` or `resume`.

    clock: the time now, UTC.
    """

    def __init__(self, record: Record, start: Row, clock: Clock = _utc) -> None:
        self.record, self.clock = record, clock
        more = start.more
        self.name = start.exercise
        self.blueprint: Blueprint = parse_blueprint(str(more["blueprint"]))
        self.slots: list[Slot] = [tuple(slot) for slot in more["slots"]]     # type: ignore[attr-defined]
        self.started = _time(str(more["at"]))
        self.strays = strays_of(start)
        self._items: dict[int, Item] = {}
        self.answers: dict[int, Answer] = {}
        self.flagged: set[int] = set()
        self.finished: datetime | None = None
        self._latest = self.started
        for row in record.rows(exercise=self.name):
            self._take(row)

    def __repr__(self) -> str:
        return f"Examination {self.blueprint.title}: {len(self.answers)} of {len(self.slots)} answered"

    @classmethod
    def begin(cls, record: Record, seed: int, blueprint: Blueprint | None = None, clock: Clock = _utc,
              tell: Callable[[int, int], None] | None = None) -> Exam:
        """Start a sitting: the clock runs from here on."""
        chosen = blueprint or read_blueprint()
        slots, strays = evened(chosen, seed, tell)
        now = clock()
        at = now.isoformat(timespec="milliseconds")
        name = f"exam/{int(seed)}/{at}"
        record.add(ROW, exercise=name, seed=seed, more={"event": START, "at": at, "blueprint": chosen.text, "slots": slots,
                                                            "strays": strays})
        start = next(row for row in record.rows(exercise=name, kind=ROW))
        return cls(record, start, clock)

    @classmethod
    def resume(cls, record: Record, clock: Clock = _utc) -> Exam | None:
        """The newest sitting that was begun and not handed in; None where there is none."""
        rows = record.rows(kind=ROW)
        done = {row.exercise for row in rows if row.more.get("event") == FINISH}
        for row in reversed(rows):
            if row.more.get("event") == START and row.exercise not in done:
                return cls(record, row, clock)
        return None

    def _take(self, row: Row) -> None:
        at = _time(str(row.more.get("at", row.at)))
        self._latest = max(self._latest, at)
        if row.kind == "answer" and at <= self.ends:
            said = row.answer
            self.answers[int(str(row.more["number"]))] = tuple(map(str, said)) if isinstance(said, list) else str(said)
        elif row.more.get("event") == FLAG:
            change = self.flagged.add if row.more["on"] else self.flagged.discard
            change(int(str(row.more["number"])))
        elif row.more.get("event") == FINISH:
            self.finished = at

    # -- the clock -------------------------------------------------------------------------------------------

    @property
    def ends(self) -> datetime:
        """When the time is up."""
        return self.started + timedelta(minutes=self.blueprint.minutes)

    def now(self) -> datetime:
        """The time, which never runs backwards: a clock that was set back stands still until it has caught up."""
        self._latest = max(self._latest, self.clock())
        return self._latest

    @property
    def seconds_left(self) -> float:
        """What is left of the time [s], the time that the lid was closed or the machine off counted as well."""
        return max(0.0, (self.ends - self.now()).total_seconds())

    @property
    def over(self) -> bool:
        """Handed in, or out of time."""
        return self.finished is not None or self.seconds_left <= 0.0

    # -- sitting it --------------------------------------------------------------------------------------------

    def item(self, number: int) -> Item:
        """Question `number`, from 0 on."""
        if not 0 <= number < len(self.slots):
            raise ExamTrouble(f"There are the questions 1 to {len(self.slots)}.")
        if number not in self._items:
            self._items[number] = make_item(*self.slots[number])
        return self._items[number]

    def answer(self, number: int, value: Answer) -> None:
        """Give an answer (all values in their order where one is asked for), or another one in its place; when this returns
        it is on the disk.

        Raises ExamTrouble once the time is up or it was handed in, BadAnswer for what is no option.
        """
        item = self.item(number)
        got = mark(item, value)
        if self.over:
            raise ExamTrouble("The time is up." if self.finished is None else "This examination was handed in.")
        at = self.now()
        self.record.add("answer", exercise=self.name, item=item.id, objective=item.objective, seed=item.seed, answer=value,
                        points=got.points, of=got.of, more={"number": number, "misconception": got.misconception,
                                                                "at": at.isoformat(timespec="milliseconds")})
        self.answers[number] = value

    def flag(self, number: int, on: bool = True) -> None:
        """Mark a question to come back to, or take the mark away."""
        self.item(number)
        self.record.add(ROW, exercise=self.name, more={"event": FLAG, "number": number, "on": on,
                                                       "at": self.now().isoformat(timespec="milliseconds")})
        (self.flagged.add if on else self.flagged.discard)(number)

    @property
    def open(self) -> tuple[int, ...]:
        """Questions without an answer."""
        return tuple(n for n in range(len(self.slots)) if n not in self.answers)

    def finish(self) -> Result:
        """Hand it in. A second time gives the same result."""
        if self.finished is None:
            at = min(self.now(), self.ends)
            self.record.add(ROW, exercise=self.name, more={"event": FINISH, "at": at.isoformat(timespec="milliseconds")})
            self.finished = at
        return self.result()

    def result(self) -> Result:
        """The result of the answers so far. Raises ExamTrouble before it is over: no hints."""
        if not self.over:
            raise ExamTrouble("The result comes when you have handed it in, or when the time is up.")
        points = {n: mark(self.item(n), value).points / self.item(n).of for n, value in self.answers.items()}
        return replace(result_of(self.blueprint, self.slots, points), strays=self.strays)


def strays_of(start: Row) -> float:
    """What the row by which an examination was begun says of `Result.strays`."""
    strays = start.more.get("strays", 0.0)
    return strays if isinstance(strays, float) else 0.0


def result_of(blueprint: Blueprint, slots: Iterable[Slot], points: dict[int, float]) -> Result:
    """The result of a form. points: by number of the question the share of its points earned [-]."""
    slots = list(slots)
    scores = []
    for part in blueprint.parts:
        numbers = [n for n, slot in enumerate(slots) if slot[0] == part.objective]
        got = sum(points.get(n, 0.0) for n in numbers)
        passed = got >= blueprint.must_pass_share * len(numbers) - 1e-9 if part.must_pass else None
        scores.append(Score(part.objective, len(numbers), got, float(len(numbers)), passed))
    total = sum(blueprint.part(s.objective).share * s.share for s in scores)
    passed = total >= blueprint.pass_share - 1e-9 and all(s.passed is not False for s in scores)
    return Result(total, passed, tuple(scores), len(points), len(slots))
