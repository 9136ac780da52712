"""Candidates who are not people sit forms of the given examination: `python -m tests.bench.candidates [FORMS]`.

Guessing, words alone, each misconception held, knowing all: what each is expected to score, and by how much
the forms differ at most.  Beside it stands what words alone had in these very forms, which luck makes differ by far more.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

from tests.widgets.learn.candidates import CANDIDATES, Words, chance_of, expected, held_out
from tests.widgets.learn.items import CHEAP_KINDS, TextOnly
from tests.widgets.learn.items import rows as item_rows
from widgets.learn.bank import as_row
from widgets.learn.exam_form import form, items_of, read_blueprint

FORMS = 4
LEARNED = range(900, 912)
HELD_OUT = range(800, 812)
"""Seeds of the questions from which the solver without a drawing learns, and by which its sureness is judged."""


def rows(forms: int = FORMS) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    blueprint = read_blueprint()
    slots = [form(blueprint, seed) for seed in range(1, forms + 1)]
    items = [items_of(one) for one in slots]
    solver = TextOnly()
    for row in item_rows(LEARNED, CHEAP_KINDS):
        if row["needs_drawing"]:
            solver.learn(row)
    words = Words(solver, held_out(blueprint, HELD_OUT))
    for name in CANDIDATES:
        scores = [expected(name, blueprint, s, i, words).total for s, i in zip(slots, items)]
        yield f"score, {name}", 100 * sum(scores) / forms, "%", f"{forms} forms, apart {100 * (max(scores) - min(scores)):.2f}"
    results = [expected("text, realised", blueprint, s, i, words) for s, i in zip(slots, items)]
    scores = [result.total for result in results]
    passed = sum(result.passed for result in results)
    yield "score, text, realised", 100 * sum(scores) / forms, "%", \
        f"{forms} forms, from {100 * min(scores):.0f} to {100 * max(scores):.0f}, {passed} passed"
    for says, free in (("questions that need a drawing", True), ("questions that need none", False)):
        some = [item for one in items for item in one if item.needs_drawing == free]
        share = sum(chance_of("text, realised", item, words) for item in some) / len(some)
        guess = sum(chance_of("guess", item) for item in some) / len(some)
        yield f"score, text, {says}", 100 * share, "%", f"{len(some)} questions; a guess has {100 * guess:.1f}"
    drawn = [item for one in items for item in one if item.needs_drawing and (item.kind in ("drawings", "point", "first back"))]
    right = sum(solver.answer(as_row(item)) == as_row(item)["key"] for item in drawn) / len(drawn)
    yield "score, text, answers without words (drawings, points)", 100 * right, "%", f"{len(drawn)} questions"


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else FORMS):
        print(f"{what}: {value:.1f} {unit} {note}", flush=True)
