"""Marks: an item and an answer in, points and the reason out. What is no answer of the item's is refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .items import Item, Option
from .misconceptions import MISCONCEPTIONS


class BadAnswer(ValueError):
    """An answer that cannot be marked; the message says what would be one."""


@dataclass(frozen=True, slots=True)
class Mark:
    """What an answer earned, and why.

    points, of: in the item's own points.  because: names the learner's answer and the parts that decide; for
    a wrong answer it does not give the right one away.  misconception: the number of the mistake that usually
    leads to this answer.  parts, pipes: what to light up.
    """

    points: float
    of: float
    because: str
    misconception: int | None = None
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()

    @property
    def right(self) -> bool:
        """Full points."""
        return self.points >= self.of


def mark(item: Item, answer: str | Iterable[str]) -> Mark:
    """The mark of one answer.

    answer: the value of an option; the values of several where the item asks for several, and of all in the
    learner's order where it asks for an order.
    Raises BadAnswer for anything else: an unknown answer gets neither full points nor none.

    >>> from figures.plant.scheme import Scheme
    >>> from widgets.learn import items_for
    >>> item, = items_for(Scheme.random(3).plant(), questions=["control"])
    >>> mark(item, item.right).points
    1.0
    >>> mark(item, "perhaps")
    Traceback (most recent call last):
    widgets.learn.marking.BadAnswer: control: 'perhaps' is no answer here; answer one of 'heating only', \
'DHW on the system loop', 'DHW on the boiler loop', 'undetermined'
    """
    chosen = _chosen(item, answer)
    if item.pick == "one":
        return _mark_one(item, item.option(chosen[0]))
    return _mark_several(item, chosen) if item.pick == "several" else _mark_order(item, chosen)


def _chosen(item: Item, answer: object) -> tuple[str, ...]:
    known = [option.value for option in item.options]
    if item.pick == "one" and isinstance(answer, list | tuple) and len(answer) == 1:
        answer = answer[0]
    given: tuple[object, ...]
    if isinstance(answer, str):
        given = (answer,)
    elif item.pick != "one" and isinstance(answer, list | tuple | set | frozenset):
        given = tuple(answer)
    else:
        given = (answer,)
    for value in given:
        if not isinstance(value, str) or value not in known:
            quoted = f"'{value[:60]}'" if isinstance(value, str) else type(value).__name__
            how = {"one": "answer one of", "several": "answer with any of", "order": "put in order"}[item.pick]
            raise BadAnswer(f"{item.name}: {quoted} is no answer here; {how} "
                            + ", ".join(f"'{value}'" for value in known))
    if item.pick == "order":
        if isinstance(answer, set | frozenset) or sorted(map(str, given)) != sorted(known):
            raise BadAnswer(f"{item.name}: put each of these in order, once: "
                            + ", ".join(f"'{value}'" for value in known))
        return tuple(map(str, given))
    return tuple(value for value in known if value in given)


_OPENERS = frozenset(("A", "Each", "No", "On", "One", "The", "There", "Two", "With", "Without"))


def _clause(sentence: str) -> str:
    """A sentence as it goes on after a colon; a tag at its head keeps its capital."""
    first = sentence.split(" ", 1)[0]
    return sentence[:1].lower() + sentence[1:] if first in _OPENERS else sentence


def _speak(said: str, option: Option) -> str:
    """The reason, with a word on the usual mistake where there is one."""
    words = f"You said {said}: {_clause(option.because)}"
    if option.misconception is not None:
        words += f" {MISCONCEPTIONS[option.misconception].hint}"
    return words


def _mark_one(item: Item, option: Option) -> Mark:
    if option.value in item.key:
        return Mark(item.of, item.of, f"Right. {item.because}", None, item.parts, item.pipes)
    return Mark(round(item.of * option.points, 6), item.of, _speak(f"“{option.label}”", option),
                option.misconception, option.parts, option.pipes)


def _mark_several(item: Item, chosen: tuple[str, ...]) -> Mark:
    """Each right tick earns its share, each wrong one takes a share away; full points for the set exactly."""
    if set(chosen) == set(item.key):
        return Mark(item.of, item.of, f"Right. {item.because}", None, item.parts, item.pipes)
    false = [item.option(value) for value in chosen if value not in item.key]
    missed = [item.option(value) for value in item.key if value not in chosen]
    earned = max(0, len(item.key) - len(missed) - len(false)) / max(1, len(item.key))
    points = round(item.of * earned, 6)
    words = [_speak(f"“{option.label}”", option) for option in false]
    if missed:
        words.append("Something that this plant needs is not ticked yet." if len(missed) == 1 else
                     f"{len(missed)} things that this plant needs are not ticked yet.")
    lit = [*false, *missed]
    misconception = next((option.misconception for option in false if option.misconception is not None), None)
    return Mark(points, item.of, " ".join(words), misconception,
                tuple(dict.fromkeys(tag for option in lit for tag in option.parts)),
                tuple(dict.fromkeys(name for option in lit for name in option.pipes)))


def _mark_order(item: Item, chosen: tuple[str, ...]) -> Mark:
    """Of all pairs those that stand the right way round count; an order turned about earns nothing."""
    if chosen == item.key:
        return Mark(item.of, item.of, f"Right. {item.because}", None, item.parts, item.pipes)
    place = {value: at for at, value in enumerate(item.key)}
    pairs = [(a, b) for at, a in enumerate(chosen) for b in chosen[at + 1:]]
    turned = [(a, b) for a, b in pairs if place[a] > place[b]]
    # Where a mistake that people make leads to one of the pairs, that is the one to speak of.
    told = next((pair for pair in turned if pair in item.turned), turned[0])
    early, late = (item.option(value) for value in told)
    mistake = item.turned.get(told, late.misconception)
    words = f"You put “{early.label}” before “{late.label}”: {_clause(late.because or early.because)}".rstrip(": ")
    if told in item.turned:
        words += f" {MISCONCEPTIONS[item.turned[told]].hint}"
    return Mark(round(item.of * (1 - len(turned) / len(pairs)), 6), item.of, words, mistake,
                (*early.parts, *late.parts), (*early.pipes, *late.pipes))
