"""What an examination is made of: the blueprint, and forms of it that are equally hard.

Every form of a blueprint has the same slots: objective, kind, difficulty.  Its questions are chosen so that
every mistake can cost as much in one form as in another.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from figures.plant.toml import NotToml, read_toml

from .bank import DIFFICULTIES, RETRIES, kinds_of, make_item
from .bank.case import NoCase
from .items import Item
from .marking import mark
from .objectives import OBJECTIVES

GIVEN = Path(__file__).with_name("blueprint.toml")
LONGEST_MINUTES, MOST_QUESTIONS, LARGEST_FILE = 600, 60, 256 * 1024
NEAR = 0.014
"""Share of the total by which the cost of a mistake may stray in a form before other questions are looked for: any two
forms then differ by less than 3 %."""
DRAWS, REPAIRS, SHAKES = 3, 24, 40
"""Questions drawn for each slot, how often more are drawn, and how often a choice among them is shaken up."""


class BadBlueprint(ValueError):
    """A blueprint that cannot be used; the message says where, what, and what to write instead."""


@dataclass(frozen=True, slots=True)
class Part:
    """One objective of a blueprint. share: its part of the total [-].  kinds: of its questions, taken in turn; all there
    are unless said."""

    objective: str
    share: float
    questions: int
    difficulty: tuple[int, ...]
    must_pass: bool = False
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True)
class Blueprint:
    """An examination. minutes: for all of it.  pass_share, must_pass_share: of the total, of each must-pass
    objective [-].  text: what it was read from."""

    title: str
    minutes: float
    pass_share: float
    must_pass_share: float
    parts: tuple[Part, ...]
    text: str

    def part(self, objective: str) -> Part:
        """The part of that objective."""
        return next(part for part in self.parts if part.objective == objective)

    def slots(self) -> list[tuple[str, str, int]]:
        """Objective, kind and difficulty of every question: the same in every form."""
        found = []
        for part in self.parts:
            kinds = part.kinds or kinds_of(part.objective)
            found += [(part.objective, kinds[n % len(kinds)], part.difficulty[n % len(part.difficulty)])
                      for n in range(part.questions)]
        return found

    def worth(self, objective: str) -> float:
        """Share of the total that one question of an objective is worth [-]."""
        part = self.part(objective)
        return part.share / part.questions


def read_blueprint(path: str | Path | None = None) -> Blueprint:
    """A blueprint from a TOML file; the given one unless said. Raises BadBlueprint.

    >>> blueprint = read_blueprint()
    >>> blueprint.minutes, round(sum(part.share for part in blueprint.parts), 6)
    (90, 1.0)
    """
    name = Path(path) if path is not None else GIVEN
    try:
        with open(name, encoding="utf-8-sig") as file:
            text = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise BadBlueprint(f"{name}: cannot be read: {(error.strerror or str(error)).lower()}; mend the path") from None
    except UnicodeDecodeError:
        raise BadBlueprint(f"{name}: is not UTF-8 text; save it as UTF-8") from None
    if len(text) > LARGEST_FILE:
        raise BadBlueprint(f"{name}: is longer than {LARGEST_FILE // 1024} thousand letters; is it a blueprint?")
    return parse_blueprint(text, str(name))


def parse_blueprint(text: str, file: str = "blueprint") -> Blueprint:
    """A blueprint from its text. Raises BadBlueprint."""
    try:
        data = read_toml(text)
    except NotToml as error:
        raise BadBlueprint(f"{file}: {error}") from None

    def bad(place: str, says: str) -> BadBlueprint:
        return BadBlueprint(f"{file}: {place}: {says}")

    def figure(table: Mapping[str, object], key: str, low: float, high: float, place: str) -> float:
        value = table.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise bad(f"{place}{key}", f"write a figure from {low:g} to {high:g}")
        return value

    known = {"format", "title", "minutes", "pass_share", "must_pass_share", "objectives"}
    if strange := sorted(set(data) - known):
        raise bad(strange[0], f"is not known; use {', '.join(sorted(known))}")
    if data.get("format") != 1:
        raise bad("format", "write format = 1")
    title, table = data.get("title"), data.get("objectives")
    if not isinstance(title, str) or not title.strip():
        raise bad("title", "write a title")
    if not isinstance(table, dict) or not table:
        raise bad("objectives", "write one line for each objective that is asked about")
    parts = []
    for code, row in table.items():
        place = f"objectives.{code}."
        if code not in OBJECTIVES:
            raise bad(f"objectives.{code}", f"is no objective; use {', '.join(OBJECTIVES)}")
        if not isinstance(row, dict) or (set(row) - {"share", "questions", "difficulty", "must_pass", "kinds"}):
            raise bad(f"objectives.{code}", "write share, questions, difficulty and, where wanted, must_pass and kinds")
        questions = figure(row, "questions", 1, MOST_QUESTIONS, place)
        difficulty, kinds = row.get("difficulty", [1, 2, 3]), row.get("kinds", [])
        if int(questions) != questions:
            raise bad(f"{place}questions", "write a whole number")
        if not isinstance(difficulty, list) or not difficulty or any(d not in DIFFICULTIES for d in difficulty):
            raise bad(f"{place}difficulty", "write a list out of 1, 2 and 3")
        if not isinstance(kinds, list) or any(kind not in kinds_of(code) for kind in kinds):
            raise bad(f"{place}kinds", f"write a list out of {', '.join(kinds_of(code))}")
        if not isinstance(row.get("must_pass", False), bool):
            raise bad(f"{place}must_pass", "write true or false")
        parts.append(Part(code, figure(row, "share", 0.01, 1000.0, place), int(questions), tuple(difficulty),
                          row.get("must_pass", False), tuple(kinds)))
    whole = sum(part.share for part in parts)
    parts = [Part(p.objective, p.share / whole, p.questions, p.difficulty, p.must_pass, p.kinds) for p in parts]
    return Blueprint(title, figure(data, "minutes", 1, LONGEST_MINUTES, ""), figure(data, "pass_share", 0.01, 1.0, ""),
                     figure(data, "must_pass_share", 0.01, 1.0, ""), tuple(parts), text)


Slot = tuple[str, str, int, int, int]
"""A question of a form: objective, kind, difficulty, seed, and its number in the blueprint, by which all forms offer
the same answers there, about other plants."""


def costs(item: Item, worth: float) -> dict[object, float]:
    """What each mistake can cost in a question [share of the total]; by 'guess', what a guess can bring."""
    cost: dict[object, float] = {o.misconception: worth for o in item.options if o.misconception is not None}
    if item.pick == "order":
        for pair, mistake in item.turned.items():
            lost = worth * (1.0 - mark(item, turned_about(item, *pair)).points / item.of)
            cost[mistake] = max(lost, cost.get(mistake, 0.0))
    cost["guess"] = worth * guessed(item)
    return cost


def guessed(item: Item) -> float:
    """Share of a question's points that a guess is expected to earn [-]: of an order half the pairs stand right by chance.

    >>> guessed(make_item("R7", "loop", 1, 5)), guessed(make_item("P1", "arrange", 1, 5))
    (0.25, 0.5)
    """
    return 0.5 if item.pick == "order" else 1.0 / len(item.options)


def turned_about(item: Item, first: str, then: str) -> tuple[str, ...]:
    """The order of who knows all else, but puts `first`, which comes later, right before `then`."""
    order = [value for value in item.key if value != first]
    order.insert(order.index(then), first)
    return tuple(order)


@lru_cache(maxsize=8)
def _target(text: str) -> tuple[dict[object, float], ...]:
    """For each slot what mistakes can cost in a form of no choice: summed it is the yardstick of all others."""
    blueprint = parse_blueprint(text)
    return tuple(costs(make_item(*slot, n, n), blueprint.worth(slot[0])) for n, slot in enumerate(blueprint.slots()))


class _Draws:
    """Questions drawn for the slots of a form, and the choice among them that is nearest to the yardstick."""

    def __init__(self, blueprint: Blueprint, chance: random.Random) -> None:
        self.slots, self.chance = blueprint.slots(), chance
        self.worth = [blueprint.worth(slot[0]) for slot in self.slots]
        self.first = _target(blueprint.text)
        self.target: dict[object, float] = {}
        for cost in self.first:
            self.target = {key: self.target.get(key, 0.0) + cost.get(key, 0.0) for key in {**self.target, **cost}}
        self.drawn: list[list[tuple[int, dict[object, float]]]] = [[] for _ in self.slots]
        self.chosen = [0] * len(self.slots)

    def draw(self, n: int) -> None:
        """One question more for a slot."""
        for last in range(RETRIES, -1, -1):
            number = self.chance.getrandbits(31)
            try:
                item = make_item(*self.slots[n], number, n)
            except NoCase:
                if not last:
                    raise
                continue
            self.drawn[n].append((number, costs(item, self.worth[n])))
            return

    def strays(self) -> dict[object, float]:
        """How far the costs of the questions chosen now stray from the yardstick, by mistake [share of the total]."""
        off = {key: -cost for key, cost in self.target.items()}
        for n, at in enumerate(self.chosen):
            for key, cost in self.drawn[n][at][1].items():
                off[key] = off.get(key, 0.0) + cost
        return off

    def more(self) -> None:
        """Another question for each slot that could mend what strays most."""
        strays = self.strays()
        worst = max(sorted(strays, key=str), key=lambda key: abs(strays[key]))
        for n, some in enumerate(self.drawn):
            if worst in self.first[n] or any(worst in cost for _, cost in some):
                self.draw(n)

    def choose(self) -> float:
        """Choose anew among all that was drawn, and return the largest stray: one slot after another is changed for the
        better, and where no change is better some are changed by chance, so often as `SHAKES` says."""
        keys = sorted({*self.target, *(key for some in self.drawn for _, cost in some for key in cost)}, key=str)
        rows = [(n, at) for n, some in enumerate(self.drawn) for at in range(len(some))]
        place = {row: k for k, row in enumerate(rows)}
        slot = np.array([n for n, _ in rows])
        table = np.array([[self.drawn[n][at][1].get(key, 0.0) for key in keys] for n, at in rows])
        target = np.array([self.target.get(key, 0.0) for key in keys])
        now = [place[n, at] for n, at in enumerate(self.chosen)]

        def worth(off: np.ndarray) -> np.ndarray:
            """How bad: what strays too far above all, then how far all stray."""
            over = np.maximum(np.abs(off) - NEAR, 0.0)
            return 100.0 * over.sum(axis=-1) + np.abs(off).max(axis=-1) + (off * off).sum(axis=-1)

        best, least = list(now), np.inf
        for _ in range(SHAKES):
            off = table[now].sum(axis=0) - target
            here = float(worth(off))
            while True:
                all_ = worth(off + table - table[np.array(now)[slot]])
                k = int(all_.argmin())
                if all_[k] >= here - 1e-12:
                    break
                now[slot[k]] = k
                off, here = table[now].sum(axis=0) - target, float(all_[k])
            if here < least:
                best, least = list(now), here
            if np.abs(table[best].sum(axis=0) - target).max() <= NEAR + 1e-9:
                break
            now = list(best)
            for n in self.chance.sample(range(len(now)), min(6, len(now))):
                now[n] = place[n, self.chance.randrange(len(self.drawn[n]))]
        self.chosen = [rows[k][1] for k in best]
        return max(map(abs, self.strays().values()), default=0.0)


def evened(blueprint: Blueprint, seed: int, tell: Callable[[int, int], None] | None = None) -> tuple[list[Slot], float]:
    """The questions of one form, the same for the same seed, in an order of its own; and how far it strays at most.

    Some questions are drawn for each slot, and of these those are taken with which the costs of all mistakes, summed,
    come within `NEAR` of the yardstick; where none do, more are drawn, to a limit.  Who knows all but holds one mistake, and who
    guesses, then has an expected score within `NEAR` of the yardstick's, and any two forms differ by less than 3 %.  A blueprint
    of few or dear questions may not allow that; then the stray [share of the total] is above `NEAR`.
    tell: told after each question how many there are of how many.
    """
    chance = random.Random(f"loopbook form {blueprint.title} {int(seed)}")
    draws = _Draws(blueprint, chance)
    many = len(draws.slots)
    for n in range(many):
        for _ in range(DRAWS):
            draws.draw(n)
        if tell is not None:
            tell(n + 1, many)
    stray = draws.choose()
    for _ in range(REPAIRS):
        if stray <= NEAR + 1e-9:
            break
        draws.more()
        stray = draws.choose()
    slots = [(*draws.slots[n], draws.drawn[n][at][0], n) for n, at in enumerate(draws.chosen)]
    chance.shuffle(slots)
    return slots, stray


def form(blueprint: Blueprint, seed: int, tell: Callable[[int, int], None] | None = None) -> list[Slot]:
    """The questions of one form: see `evened`."""
    return evened(blueprint, seed, tell)[0]


def items_of(slots: Iterable[Slot]) -> list[Item]:
    """The questions themselves."""
    return [make_item(*slot) for slot in slots]
