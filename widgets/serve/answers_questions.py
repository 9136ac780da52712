"""Questions for a show of answers: from the bank, about an instructor's own plant, or typed."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from figures.plant import Plant
    from widgets.learn import Item

FEWEST, MOST = 2, 6
LONGEST_TEXT, LONGEST_OPTION = 600, 200
LETTERS = "ABCDEF"
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]+")
_DESCRIPTION = re.compile(r"<desc>.*?</desc>", re.DOTALL)


class BadQuestion(ValueError):
    """No question can be made of this. The message is one sentence for the instructor."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that may be given. mistake: what people who give it believe, and what puts it right; '' where none is usual."""

    label: str
    because: str = ""
    mistake: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """The plant of a question, as data addresses. with_key: with what decides lit up.  wall: without the legend, so that it is
    read from farther away."""

    phone: str
    phone_with_key: str
    wall: str
    wall_with_key: str


@dataclass(frozen=True, slots=True)
class Question:
    """What is put to the class.

    right: the number of the right option from 0, None where there is no key.  because: why it is.  words: the drawing in
    words.  beside: sentences that belong beside the drawing.
    """

    text: str
    options: tuple[Choice, ...]
    right: int | None = None
    because: str = ""
    drawing: Drawing | None = None
    words: str = ""
    beside: tuple[str, ...] = ()
    objective: str = ""


def plain(text: str, longest: int) -> str:
    """One line of what somebody typed: no control characters, no marks that turn the direction of writing, not too long.

    >>> plain("  a\\u202eb\\r\\n c ", 10)
    'a b c'
    """
    return " ".join(_CONTROL.sub(" ", text).split())[:longest]


def typed(text: str, options: Sequence[str], right: int | None = None, because: str = "") -> Question:
    """A question as the instructor typed it. right: from 1, as it was typed; None or 0 for none. Raises BadQuestion.

    >>> typed("Which way?", ["", "Left", "Right"], right=2).right      # an empty field counts, but is no answer
    0
    """
    asked = plain(text, LONGEST_TEXT)
    given = [plain(one, LONGEST_OPTION) for one in options]
    labels = [label for label in given if label]
    if not asked:
        raise BadQuestion("Write the question.")
    if not FEWEST <= len(labels) <= MOST:
        raise BadQuestion(f"Give {FEWEST} to {MOST} answers; there are {len(labels)}.")
    if len(set(labels)) != len(labels):
        raise BadQuestion("Two answers are the same; make each different.")
    if right and not (1 <= right <= len(given) and given[right - 1]):
        raise BadQuestion("The answer that is marked as right is empty; write it, or mark another.")
    key = labels.index(given[right - 1]) if right else None
    return Question(asked, tuple(Choice(label) for label in labels), key, plain(because, LONGEST_TEXT))


def suits(item: Item) -> bool:
    """An item that can be answered by one tap: two to six options in words, one of them right."""
    return item.pick == "one" and FEWEST <= len(item.options) <= MOST and all(o.plant is None for o in item.options)


def of_item(item: Item) -> Question:
    """A question of the bank, with its drawing, its key, its reasons and the mistakes that lead to the wrong answers.

    >>> from widgets.learn.bank import make_item
    >>> question = of_item(make_item("R7", "loop", 1, 5))
    >>> question.right is not None, question.drawing.phone.startswith("data:image/svg+xml")
    (True, True)
    """
    from widgets.learn import MISCONCEPTIONS

    if not suits(item):
        raise BadQuestion(f"{item.id}: not to be answered by one tap; take another number or kind.")
    choices = []
    for option in item.options:
        known = MISCONCEPTIONS[option.misconception] if option.misconception is not None else None
        choices.append(Choice(option.label, _sentence(option.because),
                              f"Often thought: “{known.says}”. {known.hint}" if known else ""))
    drawing, words, beside = _pictures(item) if item.plant is not None else (None, "", ())
    right = next(n for n, option in enumerate(item.options) if option.value in item.key)
    return Question(item.text, tuple(choices), right, item.because, drawing, words, beside, item.objective)


def _sentence(text: str) -> str:
    text = text.strip()
    return text and text[0].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _pictures(item: Item) -> tuple[Drawing, str, tuple[str, ...]]:
    """The drawing as it is put, and with what decides lit up; neither says in its words what the reading is."""
    from figures.drawing import Diagram
    from figures.drawing.describe import describe
    from widgets.learn.bank.schedule import schedule

    assert item.plant is not None
    diagram = Diagram(item.plant)
    words = describe(diagram.plant, None, diagram.title)
    if item.flows:
        words += "\nFlows: " + ", ".join(f"{name} {lps:.2f} L/s" for name, lps in item.flows.items()) + "."
    layers = ("tags", "evidence", *(("figures",) if item.flows else ()))

    def picture(wall: bool, highlight: Sequence[str] = (), *more: str) -> str:
        svg = diagram.svg(highlight, (*layers, *more), flows=item.flows or None, legend=not wall)
        svg = _DESCRIPTION.sub(lambda _: f"<desc>{escape(words)}</desc>", svg, count=1)
        return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()

    lit = ((*item.parts, *item.pipes), "tints")
    return Drawing(picture(False), picture(False, *lit), picture(True), picture(True, *lit)), words, schedule(item.plant)


def from_bank(objective: str, seed: int, difficulty: int = 2) -> Question:
    """A question of the bank on an objective, the same for the same seed. Raises BadQuestion for an unknown objective.

    >>> from_bank("C1", 3).objective
    'C1'
    """
    from widgets.learn import OBJECTIVES
    from widgets.learn.bank import kinds_of, make_item
    from widgets.learn.bank.case import NoCase

    code = objective.strip().upper()
    if code not in OBJECTIVES:
        raise BadQuestion(f"'{plain(objective, 20)}' is no objective; there are {', '.join(OBJECTIVES)}.")
    kinds = kinds_of(code)
    for n in range(len(kinds)):
        try:
            item = make_item(code, kinds[(seed + n) % len(kinds)], difficulty, seed)
        except NoCase:
            continue
        if suits(item):
            return of_item(item)
    raise BadQuestion(f"{code}: no question of number {seed} can be answered by one tap; take another number.")


def about_plant(plant: Plant, seed: int = 0) -> Iterator[Question]:
    """What the bank can ask of an instructor's own plant, in the order of the objectives."""
    from widgets.learn.bank.given import questions_about

    return (of_item(item) for item in questions_about(plant, seed) if suits(item))
