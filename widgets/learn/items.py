"""A question as data: what is asked of which plant, what may be answered, and what each answer shows.

An `Item` holds all that marking and showing need, so a new kind of question is a new maker of items and
nothing else.  Keys come from the classifier, never from what a plant was built to be.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from figures.plant import Plant
from figures.reading import Reading

from .misconceptions import MISCONCEPTIONS
from .objectives import OBJECTIVES

Pick = Literal["one", "several", "order"]


@dataclass(frozen=True, slots=True)
class Option:
    """One answer that may be given.

    value: what is stored.  label: what is shown.  misconception: the number of the mistake that leads to it,
    None where there is no usual one.  because: the reason, told to who gives this answer wrongly; it does
    not yet give the right answer away.  points: share of the item's points that it earns [-], 0 … 1.
    parts, pipes: what to light up with the reason.  plant: where the option is a drawing, its plant.
    """

    value: str
    label: str
    misconception: int | None = None
    because: str = ""
    points: float = 0.0
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    plant: Plant | None = None


@dataclass(frozen=True, slots=True)
class Hint:
    """One step of help, and what to light up with it."""

    says: str
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Item:
    """One question about one plant.

    id: the same for the same question about the same plant.  kind: the maker's name for it.  name: short, as
    in `exercise.answer("control", …)`.  objective: its code.  pick: one option is right, or a set of them, or all of
    them in one order.  key: the values that are right.  because: the full reason, given with the answer.  parts, pipes: what
    shows it.  hints: from where to look to nearly telling.  of: points it can earn.  needs_drawing: False
    for the few questions that can be answered without.  flows: figures that stand on the drawing, L/s by name
    of the pipe, along its writing; against it they are below nought.  turned: where an order is asked for, by
    two values of which the first was wrongly put before the second: the number of the mistake that leads to it.

    Raises ValueError where the key, the options or the hints cannot be what they should.
    """

    id: str
    kind: str
    name: str
    objective: str
    text: str
    options: tuple[Option, ...]
    key: tuple[str, ...]
    because: str
    hints: tuple[Hint, ...]
    plant: Plant | None = None
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    pick: Pick = "one"
    of: float = 1.0
    difficulty: int = 1
    seed: int | None = None
    needs_drawing: bool = True
    flows: Mapping[str, float] = field(default_factory=dict)
    turned: Mapping[tuple[str, str], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        values = [option.value for option in self.options]
        if len(values) < 2 or len(set(values)) != len(values):
            raise ValueError(f"{self.id}: needs two options or more, each with a value of its own")
        if len(self.key) != len(set(self.key)) or not set(self.key) <= set(values):
            raise ValueError(f"{self.id}: the key {self.key} is not among the options {values}")
        if self.pick == "order" and len(self.key) != len(values):
            raise ValueError(f"{self.id}: an order has to name every option")
        if self.pick == "one" and len(self.key) != 1:
            raise ValueError(f"{self.id}: one option has to be right, not {len(self.key)}")
        if self.objective not in OBJECTIVES:
            raise ValueError(f"{self.id}: no objective '{self.objective}'")
        if len(self.hints) != 3:
            raise ValueError(f"{self.id}: hints are a ladder of three")
        for option in self.options:
            if option.misconception is not None and option.misconception not in MISCONCEPTIONS:
                raise ValueError(f"{self.id}: no misconception {option.misconception}")

    def option(self, value: str) -> Option:
        """The option of that value. Raises KeyError."""
        for option in self.options:
            if option.value == value:
                return option
        raise KeyError(value)

    @property
    def right(self) -> str | tuple[str, ...]:
        """The right answer as `mark` takes it."""
        return self.key[0] if self.pick == "one" else self.key


def hints(item: Item) -> tuple[Hint, ...]:
    """Three steps of help: where to look, what to look for, and nearly the answer."""
    return item.hints


READING_QUESTIONS = ("arrangement", "separation", "dhw", "control", "dhw_priority", "boilers", "return",
                     "reset")
"""The names of the questions that a technician answers in front of a drawing, in the order they are asked."""


def items_for(plant: Plant, reading: Reading | None = None, *,
              questions: Sequence[str] | None = None, seed: int | None = None) -> tuple[Item, ...]:
    """The questions that a technician answers in front of a drawing, in the order of `READING_QUESTIONS`.

    reading: where the caller has one already.  questions: the names of those wanted, all unless said.
    seed: kept with the items where the plant came from one.  Raises ValueError for a name that is none.

    >>> from figures.plant.scheme import Scheme
    >>> [item.name for item in items_for(Scheme.random(3).plant(), questions=("control", "boilers"))]
    ['control', 'boilers']
    """
    from figures.reading import read

    from .ask import MAKERS

    wanted = tuple(questions) if questions is not None else READING_QUESTIONS
    for name in wanted:
        if name not in MAKERS:
            raise ValueError(f"there is no question '{name}'; there are {', '.join(READING_QUESTIONS)}")
    reading = reading or read(plant)
    return tuple(MAKERS[name](reading, seed) for name in wanted)
