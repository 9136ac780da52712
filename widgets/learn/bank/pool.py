"""A pool of answers that exclude one another, and the questions made from it.

One question with its answers gives three kinds of item: choose the answer; true or false with the reason;
which of four drawings it is true of.  Some of the answers are offered, each as likely as any other to be
right, and a plant is looked for on which it is: so the words alone never tell.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from figures.plant.scheme import Scheme

from ..items import Hint, Item, Option
from .case import Case, Draw, NoCase
from .hints import HINTS

OFFERED = 4
FINDS = 60


@dataclass(frozen=True)
class Answer:
    """One answer.

    label: as it is offered.  reason: a clause that holds on a plant if and only if this answer is right.
    make: a scheme of which it is probably right; the judge has the last word.  mistake: the number of the
    misconception that leads to this answer where it is wrong.
    """

    key: str
    label: str
    reason: str
    make: Callable[[Draw], Scheme]
    mistake: int | None = None


@dataclass(frozen=True)
class Pool:
    """A question and its answers.

    ask: the question; '{it}' stands for the part or pipe that is asked about.  judge: the answer that is right
    of a plant, or None where the question cannot be asked of it.  sort: in its place, of questions about one
    part or pipe: the answer for each of those that can be asked about.  about, rules: keys of the evidence and
    rules whose findings explain the answer; why: in their place.  mistakes: misconceptions that depend on the
    plant, by answer.
    """

    objective: str
    kind: str
    ask: str
    answers: tuple[Answer, ...]
    judge: Callable[[Case, tuple[str, ...]], str | None] | None = None
    sort: Callable[[Case], Mapping[str, str]] | None = None
    about: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
    why: Callable[[Case, str, str], str] | None = None
    mistakes: Callable[[Case, str], Mapping[str, int]] | None = None
    drawings: bool = True

    def answer(self, key: str) -> Answer:
        """The answer of that key."""
        return next(answer for answer in self.answers if answer.key == key)


def _offer(pool: Pool, draw: Draw) -> tuple[list[Answer], Answer]:
    """Some of the answers, in no order, and the one that is to be right."""
    offered = draw.offer.sample(pool.answers, min(OFFERED, len(pool.answers)))
    return offered, draw.chance.choice(offered)


def find(pool: Pool, draw: Draw, wanted: Answer) -> tuple[Case, str]:
    """A plant of which the answer is right, and the part or pipe asked about. Raises NoCase."""
    for _ in range(FINDS):
        case = Case(wanted.make(draw), draw.chance)
        if pool.sort is not None:
            able = sorted(it for it, key in pool.sort(case).items() if key == wanted.key)
            if able:
                return case, draw.chance.choice(able)
        elif pool.judge is not None and pool.judge(case, draw.among) == wanted.key:
            return case, ""
    raise NoCase(f"{pool.objective}: no plant for “{wanted.label}”")


def explained(pool: Pool, case: Case, it: str, key: str) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """The full reason of the right answer, and the parts and pipes that show it."""
    evidence = [e for about in pool.about for e in case.reading.about(about)]
    findings = case.findings(*pool.rules)
    says = [e.says for e in evidence] + [f"{f.says} {f.fix}" for f in findings]
    shown = [(e.parts, e.pipes) for e in evidence] + [(f.parts, f.pipes) for f in findings]
    parts = dict.fromkeys(tag for tags, _ in shown for tag in tags)
    pipes = dict.fromkeys(name for _, names in shown for name in names)
    if pool.why is not None:
        says = [pool.why(case, it, key), *says]
    if not says:
        says = [f"Here {pool.answer(key).reason}."]
    if it in case.plant.parts:
        parts[it] = None
    elif it in case.plant.run_names:
        pipes[it] = None
    return " ".join(says), tuple(parts), tuple(pipes)


def ladder(pool: Pool, parts: tuple[str, ...], pipes: tuple[str, ...]) -> tuple[Hint, Hint, Hint]:
    """Three hints: the two of the objective, then the parts and pipes that decide."""
    first, second = HINTS[pool.objective]
    return Hint(first), Hint(second), Hint("What is lit up now decides.", parts, pipes)


def _wrong(pool: Pool, case: Case, right: str, answer: Answer) -> int | None:
    """The misconception of a wrong answer on this plant."""
    special = pool.mistakes(case, right) if pool.mistakes is not None else {}
    return special.get(answer.key, answer.mistake)


def options(pool: Pool, case: Case, offered: Iterable[Answer], right: Answer) -> tuple[Option, ...]:
    """The answers as they are offered: each wrong one names its misconception and says when it would be right."""
    return tuple(Option(a.key, a.label, None if a is right else _wrong(pool, case, right.key, a),
                        "" if a is right else f"that would be right if {a.reason}.") for a in offered)


def choose(pool: Pool, draw: Draw, ident: str) -> Item:
    """Choose the answer."""
    offered, wanted = _offer(pool, draw)
    draw.among = tuple(answer.key for answer in offered)
    case, it = find(pool, draw, wanted)
    because, parts, pipes = explained(pool, case, it, wanted.key)
    return Item(ident, pool.kind, pool.kind, pool.objective, pool.ask.format(it=it), options(pool, case, offered, wanted),
                (wanted.key,), because, ladder(pool, parts, pipes), case.plant, parts, pipes, difficulty=draw.difficulty)


def true_or_false(pool: Pool, draw: Draw, ident: str) -> Item:
    """Somebody gives an answer: true or false, and why."""
    offered, wanted = _offer(pool, draw)
    draw.among = tuple(answer.key for answer in offered)
    said = draw.chance.choice(offered)
    case, it = find(pool, draw, wanted)
    because, parts, pipes = explained(pool, case, it, wanted.key)
    options = tuple(Option(a.key, f"{'True' if a is said else 'False'}: {a.reason}",
                           None if a is wanted else _wrong(pool, case, wanted.key, a),
                           "" if a is wanted else f"on this plant it is not so that {a.reason}.") for a in offered)
    text = f"{pool.ask.format(it=it)} Somebody answers: “{said.label}”. Is that true or false, and why?"
    return Item(ident, "true or false", "true or false", pool.objective, text, options, (wanted.key,), because,
                ladder(pool, parts, pipes), case.plant, parts, pipes, difficulty=draw.difficulty)


def drawings(pool: Pool, draw: Draw, ident: str) -> Item:
    """Which of four drawings the answer is true of; each other one is right for another answer."""
    offered, wanted = _offer(pool, draw)
    draw.among = tuple(answer.key for answer in offered)
    named = f"N{draw.chance.randint(10, 99)}"
    options, told = [], ""
    for number, answer in enumerate(offered, 1):
        case, it = find(pool, draw, answer)
        if it:
            case = case.other({it: named})
        if answer is wanted:
            told = explained(pool, case, named if it else "", answer.key)[0]
            mistake, why = None, ""
        else:
            mistake = _wrong(pool, case, answer.key, wanted)
            why = f"on this drawing {answer.reason}."
        options.append(Option(str(number), f"Drawing {number}", mistake, why, plant=case.plant))
    key = str(offered.index(wanted) + 1)
    text = f"{pool.ask.format(it=named)} On which drawing is the answer “{wanted.label}”?"
    return Item(ident, "drawings", "drawings", pool.objective, text, tuple(options), (key,),
                told, ladder(pool, (), ()), None, difficulty=draw.difficulty)


def shuffled(item: Item, chance: random.Random) -> Item:
    """The same item with its options in no order; drawings are numbered as they then stand."""
    options = list(item.options)
    chance.shuffle(options)
    while item.pick == "order" and tuple(option.value for option in options) == item.key:
        chance.shuffle(options)     # it is to be put in order, and does not stand so
    if options[0].plant is None:
        return replace(item, options=tuple(options))
    key = next(n for n, option in enumerate(options, 1) if option.value in item.key)
    numbered = (replace(option, value=str(n), label=f"Drawing {n}") for n, option in enumerate(options, 1))
    return replace(item, options=tuple(numbered), key=(str(key),))
