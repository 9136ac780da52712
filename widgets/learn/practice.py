"""What to practise next: objectives come back when they are about to be forgotten, weak ones first.

When an objective is due is told by FSRS (the `fsrs` package, whose algorithm is openly specified) from the answers
in the learner's record alone, so nothing else has to be kept.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from .bank import kinds_of, make_item
from .counted import counted
from .items import Item
from .marking import Mark, mark
from .objectives import OBJECTIVES
from .record import Record, Row

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

EXERCISE = "practice"
SESSION_MINUTES = 10.0
NEW_SHARE = 0.3
"""Share of a session's questions that are about objectives never asked about, while there are any."""
RETENTION = 0.9
SURE, SHAKY = 0.9, 0.6
"""Recent share right from which on an objective is asked harder, and below which it is asked easier."""
RECENT = 6
Clock = Callable[[], datetime]


def scheduler(**settings: Any) -> Scheduler:
    """The scheduler that plans reviews: no learning steps of minutes, for a session is over by then; no chance.

    >>> scheduler().desired_retention
    0.9
    """
    from fsrs import Scheduler

    return Scheduler(**{"desired_retention": RETENTION, "learning_steps": (), "relearning_steps": (),
                        "enable_fuzzing": False, **settings})


@dataclass(frozen=True)
class Standing:
    """How one objective stands.

    answers: how many were given.  recent: share right of the newest few [-], None where there is none.
    due: when it should come back, None where it is new.  recall: share of answers expected to be right now [-],
    as FSRS foresees it; 0 where it is new.
    """

    objective: str
    answers: int
    recent: float | None
    due: datetime | None
    recall: float

    @property
    def new(self) -> bool:
        """Never asked about."""
        return self.answers == 0

    @property
    def weight(self) -> float:
        """How much there is to win: what is likely to be forgotten or wrong, times its share of a test."""
        right = min(self.recall, self.recent if self.recent is not None else 0.0)
        return OBJECTIVES[self.objective].weight * (1.0 - right)

    @property
    def difficulty(self) -> int:
        """1, 2 or 3: how hard to ask."""
        if self.recent is None or self.recent < SHAKY:
            return 1
        return 3 if self.recent >= SURE and self.answers >= RECENT else 2


def _graded(rows: Sequence[Row], now: datetime) -> list[tuple[datetime, str, float, int]]:
    """Answers that count: when, of what objective, share of the points, hints taken."""
    found = []
    for at, row in counted(rows, now).answers:
        hints = row.more.get("hints", 0)
        found.append((at, row.objective, (row.score or 0.0) / (row.of or 1.0), hints if isinstance(hints, int) else 0))
    return found


def standings(rows: Sequence[Row], now: datetime) -> dict[str, Standing]:
    """How every objective stands, from a learner's rows, oldest first: first tries, and no examination that still runs."""
    from fsrs import Card, Rating

    plan = scheduler()
    cards: dict[str, Card] = {}
    shares: dict[str, list[float]] = {code: [] for code in OBJECTIVES}
    for at, code, share, hints in _graded(rows, now):
        rating = Rating.Again if share < 1.0 - 1e-9 else Rating.Hard if hints else Rating.Good
        card = cards.get(code) or Card(card_id=list(OBJECTIVES).index(code), due=at)
        cards[code], _ = plan.review_card(card, rating, at)
        shares[code].append(share)
    found = {}
    for code, got in shares.items():
        card_ = cards.get(code)
        recall = plan.get_card_retrievability(card_, max(now, card_.last_review or now)) if card_ is not None else 0.0
        found[code] = Standing(code, len(got), sum(got[-RECENT:]) / len(got[-RECENT:]) if got else None,
                               card_.due if card_ is not None else None, float(recall))
    return found


class Practice:
    """A session of practice.  seed: of its questions; by the time unless said.  clock: the time now, UTC.

    >>> import tempfile
    >>> session = Practice(Record(tempfile.mkdtemp()), seed=3)
    >>> session.over, session.next().objective in OBJECTIVES
    (False, True)
    """

    def __init__(self, record: Record, minutes: float = SESSION_MINUTES, seed: int | None = None,
                 clock: Clock = lambda: datetime.now(UTC)) -> None:
        self.record, self.clock, self.minutes = record, clock, minutes
        self.started = clock()
        self.chance = random.Random(f"loopbook practice {int(self.started.timestamp()) if seed is None else int(seed)}")
        self.item: Item | None = None
        self.asked: list[str] = []
        self.hints = 0

    @property
    def over(self) -> bool:
        """The session's minutes are over; a question that was begun may still be answered."""
        return self.clock() >= self.started + timedelta(minutes=self.minutes)

    def choose(self) -> str:
        """The objective to ask about next: weak and due first, mixed with new ones, none twice in a row."""
        stand = standings(self.record.rows(), self.clock())
        able = [s for s in stand.values() if s.objective not in self.asked[-2:]]
        new = [s for s in able if s.new]
        now = self.clock()
        due = [s for s in able if s.due is not None and (s.due <= now or (s.recent or 0.0) < SHAKY)]
        if new and (not due or self.chance.random() < NEW_SHARE):
            return new[0].objective         # in the order of the job
        return max(due or able, key=lambda s: (s.weight, s.objective)).objective

    def next(self) -> Item:
        """The next question. The same one until it is answered."""
        if self.item is None:
            objective = self.choose()
            stand = standings(self.record.rows(), self.clock())[objective]
            self.item = make_item(objective, self.chance.choice(kinds_of(objective)), stand.difficulty,
                                  self.chance.getrandbits(31))
            self.hints = 0
        return self.item

    def hint(self) -> str:
        """The next step of help; it is remembered, and the objective comes back sooner."""
        item = self.next()
        self.hints = min(self.hints + 1, len(item.hints))
        self.record.add("hint", exercise=EXERCISE, item=item.id, objective=item.objective, seed=item.seed,
                        more={"step": self.hints})
        return item.hints[self.hints - 1].says

    def answer(self, value: str | tuple[str, ...]) -> Mark:
        """Answer the question; what comes back explains it, with parts and pipes to light up.

        Raises BadAnswer for what is no option. When this returns, the answer is on the disk.
        """
        item = self.next()
        got = mark(item, value)
        at = self.clock().isoformat(timespec="milliseconds")
        self.record.add("answer", exercise=EXERCISE, item=item.id, objective=item.objective, seed=item.seed, answer=value,
                        points=got.points, of=got.of,
                        more={"hints": self.hints, "misconception": got.misconception, "at": at})
        self.asked.append(item.objective)
        self.item = None
        return got
