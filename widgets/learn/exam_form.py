"""What an examination is made of: the blueprint, and forms of it that are equally hard.

Every form of a blueprint has the same slots: objective, kind, difficulty.  Its questions are chosen so that
every mistake can cost as much in one form as in another.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from .bank import DIFFICULTIES, kinds_of, make_item
from .items import Item
from .objectives import OBJECTIVES

GIVEN = Path(__file__).with_name("blueprint.toml")
LONGEST_MINUTES, MOST_QUESTIONS = 600, 60
NEAR = 0.0145
"""Share of the total by which the cost of a mistake may stray in a form before another question is looked for."""
DRAWS, REPAIRS = 8, 60


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
        return parse_blueprint(name.read_text(encoding="utf-8"), str(name))
    except (OSError, UnicodeDecodeError) as error:
        raise BadBlueprint(f"{name}: cannot be read; mend the path, and save it as UTF-8 text") from error


def parse_blueprint(text: str, file: str = "blueprint") -> Blueprint:
    """A blueprint from its text. Raises BadBlueprint."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadBlueprint(f"{file}: is not TOML: {error}") from None

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
    cost["guess"] = worth / len(item.options)
    return cost


@lru_cache(maxsize=8)
def _target(text: str) -> tuple[dict[object, float], ...]:
    """For each slot what mistakes can cost in a form of no choice: the yardstick of all others."""
    blueprint = parse_blueprint(text)
    return tuple(costs(make_item(*slot, n, n), blueprint.worth(slot[0])) for n, slot in enumerate(blueprint.slots()))


def form(blueprint: Blueprint, seed: int, tell: Callable[[int, int], None] | None = None) -> list[Slot]:
    """The questions of one form, the same for the same seed, in an order of its own.

    Each slot's question is drawn until the costs of all mistakes, summed so far, are as in the yardstick, or the
    nearest of some draws.  tell: told after each question how many there are of how many.
    """
    chance = random.Random(f"loopbook form {blueprint.title} {int(seed)}")
    slots, target = blueprint.slots(), _target(blueprint.text)
    worth = [blueprint.worth(slot[0]) for slot in slots]
    # The dearest come first, so that the cheap ones can make up for them.
    order = sorted(range(len(slots)), key=lambda n: -worth[n])
    chosen: dict[int, tuple[int, dict[object, float]]] = {}
    off: dict[object, float] = {}

    def with_(n: int, cost: Mapping[object, float]) -> dict[object, float]:
        """How far the costs stray with another question in slot n."""
        old = chosen[n][1] if n in chosen else target[n]
        return {key: off.get(key, 0.0) + cost.get(key, 0.0) - old.get(key, 0.0) for key in {*off, *cost, *old}}

    def worst(strayed: Mapping[object, float]) -> float:
        return max(map(abs, strayed.values()), default=0.0)

    def excess(strayed: Mapping[object, float]) -> float:
        return sum(max(0.0, abs(cost) - NEAR) for cost in strayed.values())

    def drawn(n: int) -> tuple[int, dict[object, float]]:
        number = chance.getrandbits(31)
        return number, costs(make_item(*slots[n], number, n), worth[n])

    for done, n in enumerate(order, 1):
        best = drawn(n)
        for _ in range(DRAWS):
            if worst(with_(n, best[1])) <= NEAR:
                break
            best = min(best, drawn(n), key=lambda one: worst(with_(n, one[1])))
        off = with_(n, best[1])
        chosen[n] = best
        if tell is not None:
            tell(done, len(slots))
    for _ in range(REPAIRS):
        if worst(off) <= NEAR:
            break
        key = chance.choice(sorted((key for key in off if abs(off[key]) > NEAR), key=str))
        over = off[key] > 0.0
        # A question that can pay back what strays most: one that has the mistake, or one that lacks it.
        able = [n for n in order if (key in chosen[n][1]) == over and worth[n] < 2.0 * abs(off[key])]
        if not able:
            continue
        n = chance.choice(able)
        new = drawn(n)
        # Not the worst alone: where several stray alike, mending one of them is a gain too.
        if excess(with_(n, new[1])) < excess(off):
            off = with_(n, new[1])
            chosen[n] = new
    form_ = [(*slots[n], chosen[n][0], n) for n in range(len(slots))]
    chance.shuffle(form_)
    return form_


def items_of(slots: Iterable[Slot]) -> list[Item]:
    """The questions themselves."""
    return [make_item(*slot) for slot in slots]
