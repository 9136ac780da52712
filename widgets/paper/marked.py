"""A class marked: what each learner earned, how each question went, what the class holds wrongly.

Papers of one test differ in their plants and in the order of their questions; they are compared place by place.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from widgets.learn.bank import make_item
from widgets.learn.exam import Result, result_of
from widgets.learn.exam_form import BadBlueprint, Blueprint, parse_blueprint
from widgets.learn.items import Item
from widgets.learn.marking import BadAnswer, mark
from widgets.learn.misconceptions import MISCONCEPTIONS
from widgets.learn.statistics import Question, error_of_measurement, kr20, mean, questions, spread, wilson

from .answers import Aside, Found, Handed, Sat
from .codes import sound
from .keyfile import Key

Tell = Callable[[int, int], None]
NONE_SAID = ("-", "–", "—", "0", "NONE", "X")
ALIKE = str.maketrans("АВСЕНІКМОРТХΑΒΕΖΗΙΚΜΝΟΡΤΥΧ", "ABCEHIKMOPTXABEZHIKMNOPTYX")
"""Capitals of Cyrillic and Greek that look like Latin ones, as they come off those keyboards."""


@dataclass(frozen=True)
class Scored:
    """One answer marked. share: of the question's points [-].  mistake: the misconception behind it."""

    share: float
    mistake: int | None = None
    note: str = ""

    @property
    def right(self) -> bool:
        """All points."""
        return self.share >= 1.0 - 1e-9


@dataclass(frozen=True)
class Learner:
    """One learner's result. scored: by place; a place that was left empty is not in it.  notes: what to look at."""

    name: str
    paper: str
    code: str
    where: str
    scored: Mapping[str, Scored]
    result: Result
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Held:
    """A misconception in the class: how many hold it, of how many whose papers could show it, how often it was seen."""

    number: int
    learners: int
    of: int
    times: int

    @property
    def interval(self) -> tuple[float, float]:
        """Where the share who hold it lies, 95 times in 100 [-]."""
        return wilson(self.learners, self.of)

    @property
    def lesson(self) -> int:
        """Number of the lesson that mends it."""
        return MISCONCEPTIONS[self.number].lesson


@dataclass(frozen=True)
class ByObjective:
    """How an objective went. right, answers: questions, over all learners.  reached: learners with the share that must be
    passed; share: mean share of the points [-]."""

    objective: str
    questions: int
    share: float
    right: int
    answers: int
    must_pass: bool
    reached: int

    @property
    def interval(self) -> tuple[float, float]:
        """Where the true share right lies, 95 times in 100, were answers drawn by chance alike [-]."""
        return wilson(self.right, self.answers)


@dataclass(frozen=True)
class ClassReport:
    """All that is said of a class. places, items: of each question, one that stands for it in every paper."""

    title: str
    test: str
    blueprint: Blueprint
    places: tuple[str, ...]
    kinds: Mapping[str, tuple[str, str, int]]
    learners: tuple[Learner, ...]
    questions: tuple[Question, ...]
    objectives: tuple[ByObjective, ...]
    held: tuple[Held, ...]
    kr20: float | None
    error: float | None
    aside: tuple[Aside, ...]
    papers: int

    @property
    def totals(self) -> list[float]:
        """Each learner's share of all points [-]."""
        return [learner.result.total for learner in self.learners]

    @property
    def passed(self) -> int:
        """How many passed."""
        return sum(learner.result.passed for learner in self.learners)

    @property
    def mean(self) -> float:
        """Mean share of the points [-]."""
        return mean(self.totals)

    @property
    def spread(self) -> float:
        """Standard deviation of the shares, divisor n [-]."""
        return spread(self.totals)


class NothingToMark(ValueError):
    """A folder without an answer that can be marked; `aside` says why of each."""

    def __init__(self, says: str, aside: Sequence[Aside] = ()) -> None:
        self.aside = tuple(aside)
        super().__init__(says)


# -- one answer ---------------------------------------------------------------------------------------------

def score(item: Item, written: str) -> Scored:
    """The mark of what stands in a box. What is no answer to the question earns nothing and is told.

    >>> from widgets.learn.bank import make_item
    >>> item = make_item("R8", "point", 1, 3)
    >>> score(item, f" {item.key[0].lower()} ").right, score(item, "B or C").share
    (True, 0.0)
    """
    text = unicodedata.normalize("NFKC", written).strip().upper().translate(ALIKE)
    signs = {option.value.upper(): option.value for option in item.options}
    answer: str | tuple[str, ...]
    if item.pick == "one":
        bare = re.sub(r"[\s.()\[\]]", "", text)
        if bare not in signs:
            return Scored(0.0, None, f"“{written[:30]}” is no answer there")
        answer = signs[bare]
    else:
        letters = [] if item.pick == "several" and text in NONE_SAID else re.findall(r"\w", text)
        if any(letter not in signs for letter in letters) or len(set(letters)) < len(letters):
            return Scored(0.0, None, f"“{written[:30]}” is no answer there")
        answer = tuple(signs[letter] for letter in letters)
    try:
        got = mark(item, answer)
    except BadAnswer:
        return Scored(0.0, None, f"“{written[:30]}” does not name each of them once")
    return Scored(got.points / got.of, None if got.right else got.misconception)


# -- a class --------------------------------------------------------------------------------------------------

def mark_class(found: Found, key: Key | None, tell: Tell | None = None, now: datetime | None = None) -> ClassReport:
    """Mark all that was found. key: the instructor's, without which only examinations from a screen can be marked.

    tell: told how many learners were marked, of how many.  now: the time, by which an examination not handed in is over.
    Raises NothingToMark.
    """
    aside = list(found.aside)
    learners: list[Learner] = []
    met: list[Mapping[str, Item]] = []
    blueprint, places, title, test = _test_of(found, key)
    seen: dict[tuple[str, str], Handed | Sat] = {}
    every: list[Handed | Sat] = [*found.handed, *found.sat]
    for n, one in enumerate(every, 1):
        if tell is not None:
            tell(n, len(every))
        items = _paper_of(one, key, blueprint, now or datetime.now(UTC)) if isinstance(one, Handed) or blueprint else None
        if items is None or isinstance(items, Aside):
            aside.append(items or Aside(one.where, "foreign", "an examination of another test"))
            continue
        who = (one.learner.casefold() or "", one.code if isinstance(one, Handed) else one.name.split("/")[0])
        if who in seen:
            aside.append(_double(one, seen[who]))
            continue
        seen[who] = one
        learners.append(_marked(one, items, key, blueprint, places))
        met.append(items)
    if not learners or blueprint is None:
        raise NothingToMark("there is no answer here that can be marked", aside)
    learners = _with_notes(learners)
    rows = [[int(place in one.scored and one.scored[place].right) for place in places] for one in learners]
    first = met[0]
    kinds = {place: (first[place].objective, first[place].kind, first[place].difficulty) for place in places}
    return ClassReport(title, test, blueprint, places, kinds,
                       tuple(learners), questions(rows), tuple(_objectives(learners, first, blueprint)),
                       tuple(_held(learners, met)), kr20(rows), error_of_measurement(rows), tuple(aside),
                       len({one.paper for one in learners}))


def _test_of(found: Found, key: Key | None) -> tuple[Blueprint | None, tuple[str, ...], str, str]:
    """Which test is marked: that of the key; without one, the examination that most of the screens hold."""
    if key is not None:
        return key.blueprint, key.places, key.title, f"Test {key.test}"
    texts = Counter(str(one.more.get("blueprint", "")) for one in found.sat)
    for text, _ in texts.most_common():
        try:
            blueprint = parse_blueprint(text, "the examination's blueprint")
        except BadBlueprint:
            continue
        return blueprint, tuple(_screen_places(blueprint)), blueprint.title, "Examination on a screen"
    return None, (), "", ""


def _screen_places(blueprint: Blueprint) -> list[str]:
    from .papers import place_name

    codes = [slot[0] for slot in blueprint.slots()]
    return [place_name(code, codes[:n].count(code), codes.count(code)) for n, code in enumerate(codes)]


def _paper_of(one: Handed | Sat, key: Key | None, blueprint: Blueprint | None, now: datetime) -> Mapping[str, Item] | Aside:
    """The questions that were answered, by place; or why they cannot be had."""
    if isinstance(one, Sat):
        return _screen_of(one, blueprint, now)
    if not any(one.answers.values()):
        return Aside(one.where, "not filled in", "there is no answer in it" + (f", of {one.learner}" if one.learner else ""),
                     one.code)
    if key is None:
        return Aside(one.where, "foreign", "a printed paper; name the key of its test with --key")
    paper = key.papers.get(one.code)
    if paper is None:
        if not sound(one.code):
            return Aside(one.where, "foreign", f"'{one.code[:20]}' is no code of a paper: is it mistyped?")
        if one.code.startswith(f"{key.test}-"):
            return Aside(one.where, "foreign", f"{one.code} is no paper of this key: was it printed after the key was written?")
        return Aside(one.where, "foreign", f"{one.code} is a paper of another test, not of {key.test}")
    beyond = sorted(number for number, text in one.answers.items() if text and number not in paper.numbers)
    if beyond:
        return Aside(one.where, "damaged", f"answers question {beyond[0]}, and paper {paper.number} ends at {max(paper.numbers)}")
    return paper.items


def _screen_of(one: Sat, blueprint: Blueprint | None, now: datetime) -> Mapping[str, Item] | Aside:
    if blueprint is None or one.more.get("blueprint") != blueprint.text:
        return Aside(one.where, "foreign", f"an examination of another test, of {one.learner or 'nobody'}")
    try:
        slots = [tuple(slot) for slot in one.more["slots"]]   # type: ignore[attr-defined]
        begun = datetime.fromisoformat(str(one.more["at"]).replace("Z", "+00:00"))
        wanted = blueprint.slots()
        if any(type(number) is not int for slot in slots for number in slot[2:]) \
                or sorted(slot[4] for slot in slots) != list(range(len(wanted))) \
                or any(tuple(s[:3]) != wanted[s[4]] for s in slots):
            return Aside(one.where, "foreign", "asks other questions than its blueprint")
        if not one.finished and now < begun + timedelta(minutes=blueprint.minutes):
            return Aside(one.where, "not filled in", f"the examination of {one.learner or 'nobody'} still runs")
        places = _screen_places(blueprint)
        return {places[slot[4]]: make_item(*slot) for slot in slots}
    except (KeyError, TypeError, ValueError, IndexError, RuntimeError, OverflowError) as error:
        return Aside(one.where, "damaged", f"its questions cannot be made again: {str(error)[:100]}")


def _double(one: Handed | Sat, first: Handed | Sat) -> Aside:
    whose = f"the answers of {one.learner}" if one.learner else "nameless answers"
    if isinstance(one, Sat) or isinstance(first, Sat):
        return Aside(one.where, "double", f"{whose} were counted from {first.where} already")
    said, before = one.answers, first.answers
    differ = [str(n) for n in sorted({*said, *before}) if said.get(n, "").casefold() != before.get(n, "").casefold()]
    how = ", the same ones" if not differ else (f"; they differ in question {', '.join(differ[:8])}: move away whichever should "
                                                "not count")
    return Aside(one.where, "double", f"{whose} to paper {one.code} were counted from {first.where} already{how}")


def _marked(one: Handed | Sat, items: Mapping[str, Item], key: Key | None, blueprint: Blueprint | None,
            places: Sequence[str]) -> Learner:
    scored: dict[str, Scored] = {}
    notes = []
    if isinstance(one, Handed):
        assert key is not None
        paper = key.papers[one.code]
        number = f"paper {paper.number}"
        for n, place in paper.numbers.items():
            if one.answers.get(n):
                scored[place] = score(items[place], one.answers[n])
                if scored[place].note:
                    notes.append(f"question {n}: {scored[place].note}")
    else:
        number = one.name[:60]
        slots: Iterable[Sequence[object]] = one.more["slots"]   # type: ignore[assignment]
        for n, slot in enumerate(slots):
            place = places[int(str(slot[4]))]
            if n in one.answers:
                try:
                    got = mark(items[place], one.answers[n])
                except BadAnswer:
                    scored[place] = Scored(0.0, None, "no answer of that question")
                    continue
                scored[place] = Scored(got.points / got.of, None if got.right else got.misconception)
    assert blueprint is not None
    codes = [(items[place].objective, "", 0, 0, n) for n, place in enumerate(places)]
    shares = {n: scored[place].share for n, place in enumerate(places) if place in scored}
    name = one.learner or f"nameless, {number}"
    return Learner(name, number, one.code if isinstance(one, Handed) else "", one.where, scored,
                   result_of(blueprint, codes, shares), tuple(notes))


def _with_notes(learners: Sequence[Learner]) -> list[Learner]:
    """In the order of their names, those with the same name told apart."""
    count = Counter(one.name.casefold() for one in learners)
    noted = [one if count[one.name.casefold()] == 1 else
             replace(one, notes=(*one.notes, f"another {one.name} stands in this report")) for one in learners]
    return sorted(noted, key=lambda one: (_letters(one.name), one.paper, one.where))


def _letters(name: str) -> str:
    """A name as it is put in order: accents aside."""
    return "".join(c for c in unicodedata.normalize("NFD", name.casefold()) if not unicodedata.combining(c))


def _objectives(learners: Sequence[Learner], items: Mapping[str, Item], blueprint: Blueprint) -> Iterable[ByObjective]:
    for part in blueprint.parts:
        places = [place for place, item in items.items() if item.objective == part.objective]
        scores = [next(s for s in one.result.scores if s.objective == part.objective) for one in learners]
        right = sum(place in one.scored and one.scored[place].right for one in learners for place in places)
        reached = sum(score.share >= blueprint.must_pass_share - 1e-9 for score in scores)
        yield ByObjective(part.objective, len(places), mean([score.share for score in scores]), right,
                          len(places) * len(learners), part.must_pass, reached)


def _held(learners: Sequence[Learner], met: Sequence[Mapping[str, Item]]) -> Iterable[Held]:
    """Misconceptions seen in wrong answers, those that most of the class hold first."""
    who: Counter[int] = Counter()
    times: Counter[int] = Counter()
    could: Counter[int] = Counter()
    chances: dict[int, set[int]] = {}
    for items in met:
        mark_ = id(items)
        if mark_ not in chances:
            chances[mark_] = {mistake for item in items.values() for mistake in (
                *(option.misconception for option in item.options), *item.turned.values()) if mistake is not None}
        could.update(chances[mark_])
    for one in learners:
        mistakes = [scored.mistake for scored in one.scored.values() if scored.mistake is not None]
        who.update(set(mistakes))
        times.update(mistakes)
    found = [Held(number, who[number], max(could[number], who[number]), times[number]) for number in who]
    return sorted(found, key=lambda held: (-held.learners / held.of, -held.learners, held.number))
