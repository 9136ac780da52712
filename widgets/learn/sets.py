"""A set of questions on chosen objectives: what a lesson asks at its end, from easy to hard, on fresh plants each time."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TYPE_CHECKING

from .bank import KINDS, NoCase, kinds_of, make_item
from .bank.given import questions_about
from .items import Item, items_for
from .marking import BadAnswer, Mark, mark
from .objectives import OBJECTIVES
from .record import Record, Row

if TYPE_CHECKING:
    from figures.plant import Plant

MOST = 20
TRIES = 6


class PracticeSet:
    """Questions one after another; what was answered is found again where the set has a name.

    objectives: codes; each is asked about in turn.  seed: the same seed gives the same sets.  count: questions in a set.
    easy_to_hard: from the first of the two levels to the second; else all in the middle.  levels: difficulties of the
    bank, 0 (first lessons) to 3.  key: a name for it in the record.  kinds: only these kinds of question, all unless said.
    plant: ask about this plant instead of fresh ones.  Raises ValueError for what there is not.

    >>> asked = PracticeSet(("R2", "R7"), seed=3, count=3)
    >>> [asked.item(n).objective for n in range(3)], asked.over
    (['R2', 'R7', 'R2'], False)
    """

    def __init__(self, objectives: Sequence[str], seed: int, count: int = 4, easy_to_hard: bool = True, key: str = "",
                 levels: tuple[int, int] = (0, 2), kinds: Sequence[str] | None = None, plant: Plant | None = None,
                 record: Record | None = None) -> None:
        self.objectives, self.seed, self.count = tuple(objectives), int(seed), count
        self.levels = levels
        self.easy_to_hard, self.key, self.record, self.plant = easy_to_hard, key, record, plant
        self.kinds = tuple(kinds) if kinds is not None else KINDS
        strange = [code for code in self.objectives if code not in OBJECTIVES]
        if strange or not self.objectives:
            raise ValueError(f"objectives: {', '.join(strange) or 'none'}; name some of {', '.join(OBJECTIVES)}")
        if not 0 <= levels[0] <= levels[1] <= 3:
            raise ValueError(f"levels: {levels}; two numbers from 0 to 3, the easier one first")
        if not 1 <= count <= MOST:
            raise ValueError(f"count: {count}; a set has 1 to {MOST} questions")
        for code in self.objectives:
            if plant is None and not set(self.kinds) & set(kinds_of(code)):
                raise ValueError(f"kinds: none of {', '.join(self.kinds)} asks about {code}; {', '.join(kinds_of(code))} do")
        self._own = self._of_plant(plant) if plant is not None else ()
        self.number = 0
        self._made: dict[int, Item] = {}
        self.marks: dict[int, Mark] = {}
        self.hints = 0
        self._come_back()

    def _of_plant(self, plant: Plant) -> tuple[Item, ...]:
        asked = (*items_for(plant), *questions_about(plant, self.seed))
        found = [item for item in asked if item.objective in self.objectives and item.pick == "one"]
        if not found:
            raise ValueError(f"nothing about {', '.join(self.objectives)} can be asked of this plant")
        # Each objective in turn, as of fresh plants.
        order = {code: [item for item in found if item.objective == code] for code in self.objectives}
        found.sort(key=lambda item: order[item.objective].index(item))
        self.count = min(self.count, len(found))
        return tuple(found)

    # -- the questions ---------------------------------------------------------------------------------

    @property
    def asked(self) -> list[str]:
        """Objectives of the questions that are answered."""
        return [self.item(n).objective for n in sorted(self.marks)]

    @property
    def place(self) -> int:
        """Which question is open, from 0 on; the last one where all are answered."""
        return next((n for n in range(self.count) if n not in self.marks), self.count - 1)

    @property
    def over(self) -> bool:
        """All questions of the set are answered."""
        return len(self.marks) == self.count

    @property
    def right(self) -> int:
        """How many were answered rightly."""
        return sum(got.right for got in self.marks.values())

    def difficulty(self, place: int) -> int:
        """0 to 3: from easy to hard over the set."""
        low, high = self.levels
        share = place / max(1, self.count - 1) if self.easy_to_hard else 0.5
        return low + int((high - low) * share + 0.5)

    def item(self, place: int) -> Item:
        """One question of the set, from 0 on; the same for the same seed."""
        if place not in self._made:
            self._made[place] = self._own[(self.number + place) % len(self._own)] if self._own else self._make(place)
        return self._made[place]

    def _make(self, place: int) -> Item:
        codes = self.objectives
        code = codes[(self.number * self.count + place) % len(codes)]
        chance = random.Random(f"loopbook set {self.seed} {self.number} {place} {' '.join(codes)}")
        kinds = [kind for kind in kinds_of(code) if kind in self.kinds]
        chance.shuffle(kinds)
        # Another kind than the question before, and nobody begins with four drawings at once.
        before = self._made[place - 1].kind if place - 1 in self._made else "drawings"
        kinds.sort(key=lambda kind: kind == before)
        for n in range(TRIES):
            try:
                return make_item(code, kinds[n % len(kinds)], self.difficulty(place), chance.getrandbits(31))
            except NoCase:
                continue
        raise NoCase(f"no question on {code} was found in {TRIES} tries")

    # -- answering -------------------------------------------------------------------------------------

    def next(self) -> Item:
        """The question that is open; the same one until it is answered."""
        for before in range(self.place):
            self.item(before)       # the kind of one depends on the one before
        return self.item(self.place)

    def hint(self) -> str:
        """The next step of help for the open question."""
        item = self.next()
        self.hints = min(self.hints + 1, len(item.hints))
        self._keep("hint", item, {"step": self.hints, "place": self.place})
        return item.hints[self.hints - 1].says

    def answer(self, value: str | tuple[str, ...]) -> Mark:
        """Answer the open question. Raises BadAnswer for what is no option, RecordTrouble where it cannot be kept."""
        item, place = self.next(), self.place
        got = mark(item, value)
        self._keep("answer", item, {"try": 1, "hints": self.hints, "misconception": got.misconception, "place": place},
                   value, got)
        self.marks[place], self.hints = got, 0
        return got

    def another(self) -> None:
        """The next set: other questions on the same objectives."""
        self.number, self._made, self.marks, self.hints = self.number + 1, {}, {}, 0
        self._keep("set", None, {})

    # -- the record ------------------------------------------------------------------------------------

    @property
    def origin(self) -> str:
        """What the set is made from; answers to another are not taken for answers to this."""
        own = f" on {self._own[0].id}" if self._own else ""
        levels = f"levels {self.levels[0]} to {self.levels[1]}{'' if self.easy_to_hard else ', mixed'}"
        return f"{' '.join(self.objectives)}, seed {self.seed}, {self.count} questions, {levels}{own}"

    def _keep(self, kind: str, item: Item | None, more: dict[str, object], answer: object = None,
              got: Mark | None = None) -> None:
        if self.record is None:
            return
        self.record.add(kind, exercise=self.key, item=item.id if item else "", objective=item.objective if item else "",
                        seed=item.seed if item else None, answer=answer, points=got.points if got else None,
                        of=got.of if got else None, more={**more, "origin": self.origin, "set": self.number})

    def _come_back(self) -> None:
        if self.record is None or not self.key:
            return
        rows = [row for row in self.record.rows(exercise=self.key) if row.more.get("origin") == self.origin]
        number = rows[-1].more.get("set") if rows else None
        if isinstance(number, int):
            self.number = number
            for row in rows:
                if row.more.get("set") == number and row.kind == "answer":
                    self._answered(row)

    def _answered(self, row: Row) -> None:
        place = row.more.get("place")
        if not isinstance(place, int) or place != self.place or self.over:
            return
        item = self.next()      # a newer Loopbook may ask something else here: then it is open again
        said = row.answer
        if item.id == row.item and (isinstance(said, list) if item.pick == "order" else isinstance(said, str)):
            try:
                self.marks[place] = mark(item, said)    # type: ignore[arg-type]
            except BadAnswer:
                return
