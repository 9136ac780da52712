"""Candidates who are not people: what each is expected to score in a form of an examination."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise

from tests.widgets.learn.items import TextOnly
from widgets.learn import MISCONCEPTIONS, Item, mark
from widgets.learn.bank import as_row, make_item
from widgets.learn.exam import Result, result_of
from widgets.learn.exam_form import Blueprint, Slot, guessed, turned_about


class Words:
    """A candidate who sees no drawing, and how often they are right with a question as it looks to them.

    solver: what they learned.  rows: questions of the blueprint's slots, in no form and not learned from, by which the
    solver's sureness is turned into a share right.

    Why not the score that they have in one form: 66 questions at chance have a standard error of 5 % of the total, so
    two forms differ by more than 3 % by luck alone, as a coin thrown 66 times does.  Expected is what they would
    have over all questions that look the same to them, and that is told by what they see: who is as sure is as often right.
    A form whose words tell its keys makes them surer, and stands out.
    """

    def __init__(self, solver: TextOnly, rows: Iterable[dict], classes: int = 6) -> None:
        self.solver = solver
        found: dict[int, list[tuple[float, bool]]] = defaultdict(list)
        for row in rows:
            if row["needs_drawing"]:
                found[len(row["options"])].append((max(solver.shares(row)), solver.answer(row) == row["key"]))
        self.table: dict[int, list[tuple[float, float]]] = {}
        for options, seen in found.items():
            seen.sort()
            cuts = [len(seen) * n // classes for n in range(classes + 1)]
            # Two questions at chance are added to each class, so that no class says never or always.
            self.table[options] = [(seen[b - 1][0], (sum(right for _, right in seen[a:b]) + 2.0 / options) / (b - a + 2.0))
                                   for a, b in pairwise(cuts) if b > a]

    def chance(self, row: dict) -> float:
        """Chance to be right [-] with a question that looks like this one: its key is not looked at."""
        sure, options = max(self.solver.shares(row)), len(row["options"])
        table = self.table.get(options, [(1.0, 1.0 / options)])
        return next((share for limit, share in table if sure <= limit), table[-1][1])


def held_out(blueprint: Blueprint, seeds: Iterable[int], kinds: Iterable[str] | None = None) -> Iterator[dict]:
    """Questions of every slot of a blueprint, as forms draw theirs, for each seed."""
    for seed in seeds:
        for n, (objective, kind, difficulty) in enumerate(blueprint.slots()):
            if kinds is None or kind in kinds:
                yield as_row(make_item(objective, kind, difficulty, seed, n))


def chance_of(candidate: str, item: Item, words: Words | None = None) -> float:
    """Chance that a candidate answers a question rightly [-].

    'all': knows everything.  'guess': any option.  'text': sees no drawing; where none is needed they know.
    'text, realised': the same, with 1 or 0 for the option that they take in this very question.
    'holds 7': knows everything but believes misconception 7, and so takes an option that speaks to it.
    """
    if candidate == "all":
        return 1.0
    if candidate == "guess":
        return guessed(item)
    if candidate.startswith("text"):
        assert words is not None
        row = as_row(item)
        if not item.needs_drawing:
            return 1.0
        return words.chance(row) if candidate == "text" else float(words.solver.answer(row) == row["key"])
    number = int(candidate.split()[1])
    if item.pick == "order":
        return min((mark(item, turned_about(item, *pair)).points / item.of for pair, m in item.turned.items() if m == number),
                   default=1.0)
    return 0.0 if any(option.misconception == number for option in item.options) else 1.0


CANDIDATES = ("all", "guess", "text", *(f"holds {n}" for n in MISCONCEPTIONS))


def expected(candidate: str, blueprint: Blueprint, slots: list[Slot], items: Iterable[Item],
             words: Words | None = None) -> Result:
    """The result that a candidate is expected to have, by the examination's own reckoning."""
    points: Mapping[int, float] = {n: chance_of(candidate, item, words) for n, item in enumerate(items)}
    return result_of(blueprint, slots, dict(points))
