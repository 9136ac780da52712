"""Candidates who are not people: what each is expected to score in a form of an examination."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from tests.widgets.learn.items import TextOnly
from widgets.learn import MISCONCEPTIONS, Item
from widgets.learn.bank import as_row
from widgets.learn.exam import Result, result_of
from widgets.learn.exam_form import Blueprint, Slot


def chance_of(candidate: str, item: Item, solver: TextOnly | None = None) -> float:
    """Chance that a candidate answers a question rightly [-].

    'all': knows everything.  'guess': any option.  'text': sees no drawing; where none is needed they know.
    'holds 7': knows everything but believes misconception 7, and so takes an option that speaks to it.
    """
    if candidate == "all":
        return 1.0
    if candidate == "guess":
        return 1.0 / len(item.options)
    if candidate == "text":
        assert solver is not None
        row = as_row(item)
        return float(solver.answer(row) == row["key"]) if item.needs_drawing else 1.0
    number = int(candidate.split()[1])
    return 0.0 if any(option.misconception == number for option in item.options) else 1.0


CANDIDATES = ("all", "guess", *(f"holds {n}" for n in MISCONCEPTIONS))


def expected(candidate: str, blueprint: Blueprint, slots: list[Slot], items: Iterable[Item],
             solver: TextOnly | None = None) -> Result:
    """The result that a candidate is expected to have, by the examination's own reckoning."""
    points: Mapping[int, float] = {n: chance_of(candidate, item, solver) for n, item in enumerate(items)}
    return result_of(blueprint, slots, dict(points))
