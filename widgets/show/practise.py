"""The questions at the end of a lesson: a few on its objectives, from easy to hard, and another set whenever wanted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import ipywidgets

from widgets.learn import OBJECTIVES, Mark, Record, RecordTrouble
from widgets.learn.consent import record_of
from widgets.learn.sets import PracticeSet

from .given import plant_of
from .quiz import Quiz, told

HARDNESS = ("easy", "a little harder", "hard", "hardest")


class Practise(Quiz):
    """A set of questions, one at a time, each explained on the drawing once it is answered: see `practise`."""

    session: PracticeSet

    def __init__(self, session: PracticeSet) -> None:
        self.another_button = ipywidgets.Button(description="Another set")
        self.another_button.on_click(self._on_another)
        self._open(session, "")      # made at once
        self.add_class("lb-practise")
        self._said_so()

    def __repr__(self) -> str:
        return f"<Practise: {', '.join(self.session.objectives)}, {self.session.count} questions>"

    # -- what Quiz leaves open -------------------------------------------------------------------------

    def _buttons(self) -> tuple[ipywidgets.Button, ...]:
        return (*super()._buttons(), self.another_button)

    def _title(self) -> str:
        place = self.session.place
        hard = f", {HARDNESS[self.session.item(place).difficulty]}" if self.session.plant is None else ""
        return f"Question {place + 1} of {self.session.count}{hard}"

    def _standing(self) -> str:
        return f"{self.session.right} of {len(self.session.marks)} right."

    def _finished(self) -> str:
        lines = [f"{self.session.right} of {self.session.count} right."]
        again = dict.fromkeys(self.session.item(n).objective for n, got in sorted(self.session.marks.items()) if not got.right)
        lines += [f"To look at once more: {OBJECTIVES[code].text}." for code in again]
        return "\n".join([*lines, "“Another set” asks about the same things, on other plants."])

    def _said_so(self) -> None:
        """Come back to a set that was begun: how it stands."""
        if self.session.over:
            last = self.session.marks[self.session.place]
            self.question.ask.value = []
            self.question.explain(last)
            self.tell(self._finished(), "right" if self.session.right == self.session.count else "plain")
        elif self.session.marks:
            self.tell(f"You were here before. {self._standing()}")

    def check(self) -> Mark | None:
        """Mark the answer that is chosen and explain it; None where none is."""
        got = super().check()
        if got is not None:
            # No mark of failure before the first success: the reason is enough.
            tone: Literal["right", "wrong", "plain"] = "right" if got.right else "wrong" if self.session.right else "plain"
            self.tell(self._finished() if self.session.over else self._standing(), tone)
        return got

    # -- for a lesson's proofs, and for buttons ----------------------------------------------------------

    def another(self) -> None:
        """Another set of questions."""
        self.session.another()
        self._ask()

    def answer_all_right(self) -> None:
        """Answer every question of this set that is open with its key, as a learner would who knows."""
        while not self.session.over:
            if self.question.ask.locked:
                self.next()
            key = self.question.item.right
            self.question.ask.value = [key] if isinstance(key, str) else list(key)
            self.check()

    def verdict(self) -> str:
        """How it stands, one line: the same text for the same answers."""
        return f"{self.session.right} of {self.session.count} right"

    @told
    def _on_another(self, button: object) -> None:
        self.another()


def practise(*objectives: str, seed: int, count: int = 4, easy_to_hard: bool = True, key: str = "", plant: object = None,
             levels: tuple[int, int] = (0, 2), kinds: Sequence[str] | None = None,
             record: Record | Literal[False] | None = None) -> Practise:
    """Graded questions of the bank on some objectives, on fresh plants, from easy to hard.

    objectives: codes, R7 say; each is asked about in turn.  seed: the same seed gives the same questions.  count: how many
    in a set, 1 to 20.  levels: how hard the first and the last are, 0 (first lessons) to 3.  key: a name for it; with one, the
    set comes back as it was left when the notebook is run again.  plant: ask about this plant (a Plant, a Scheme, or the path of
    a plant file) instead of fresh ones.  kinds: only these kinds of question.  record: where answers are kept, the
    learner's own unless said; False keeps none.  Raises ValueError for what there is not.

    >>> asked = practise("R2", "R7", seed=3, count=2, record=False)
    >>> asked.answer_all_right()
    >>> asked, asked.verdict()
    (<Practise: R2, R7, 2 questions>, '2 of 2 right')
    """
    own = plant_of(plant) if plant is not None else None

    def made(kept: Record | None) -> PracticeSet:
        return PracticeSet(objectives, seed, count, easy_to_hard, key, levels, kinds, own, kept)
    kept = record_of(record)
    try:
        return Practise(made(kept))
    except RecordTrouble as trouble:
        asked = Practise(made(None))
        asked.tell(str(trouble), "trouble")
        return asked

