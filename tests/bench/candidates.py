"""Candidates who are not people sit forms of the given examination: `python -m tests.bench.candidates [FORMS]`.

Guessing, words alone, each misconception held, knowing all: what each is expected to score, and by how much
the forms differ at most.  Beside it stands what words alone had in these very forms, which luck makes differ by far more.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from tests.widgets.learn.candidates import CANDIDATES, Words, chance_of, expected, held_out
from tests.widgets.learn.items import CHEAP_KINDS, TextOnly
from tests.widgets.learn.items import rows as item_rows
from widgets.learn.exam_form import NEAR, Blueprint, evened, items_of, read_blueprint

FORMS = 4
LEARNED = range(900, 912)
HELD_OUT = range(800, 812)
"""Seeds of the questions from which the solver without a drawing learns, and by which its sureness is judged."""


def _judge(blueprint: Blueprint) -> Words:
    """Who sees no drawing, taught and judged by questions that are in no form."""
    solver = TextOnly()
    for row in item_rows(LEARNED, CHEAP_KINDS):
        if row["needs_drawing"]:
            solver.learn(row)
    return Words(solver, held_out(blueprint, HELD_OUT))


def rows(forms: int = FORMS) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    blueprint = read_blueprint()
    words = _judge(blueprint)
    scores: dict[str, list[float]] = {name: [] for name in (*CANDIDATES, "text, realised")}
    strays: list[float] = []
    passed = 0
    some: dict[str, list[tuple[float, float]]] = {"that need a drawing": [], "that need none": [],
                                                  "with answers without words (drawings, points)": []}
    begun = time.monotonic()
    for seed in range(1, forms + 1):
        try:
            slots, stray = evened(blueprint, seed)
            items = items_of(slots)
        except KeyboardInterrupt:       # told of the forms there are
            break
        strays.append(stray)
        for name, found in scores.items():
            result = expected(name, blueprint, slots, items, words)
            found.append(result.total)
            passed += name == "text, realised" and result.passed
        for item in items:
            told = (chance_of("text, realised", item, words), chance_of("guess", item))
            some["that need a drawing" if item.needs_drawing else "that need none"].append(told)
            if item.needs_drawing and item.kind in ("drawings", "point", "first back"):
                some["with answers without words (drawings, points)"].append(told)
        print(f"form {seed} of {forms}: strays {100 * stray:.2f} %, {time.monotonic() - begun:.0f} s", file=sys.stderr,
              flush=True)
    forms = len(strays)
    apart = {name: max(found) - min(found) for name, found in scores.items()}
    for name in CANDIDATES:
        mean = sum(scores[name]) / forms
        yield f"score, {name}", 100 * mean, "%", f"{forms} forms, the farthest two apart {100 * apart[name]:.2f}, " \
            f"the farthest from the mean {100 * max(abs(one - mean) for one in scores[name]):.2f}"
    found = scores["text, realised"]
    yield "score, text, realised", 100 * sum(found) / forms, "%", \
        f"{forms} forms, from {100 * min(found):.0f} to {100 * max(found):.0f}, {passed} passed"
    for says, told in some.items():
        yield f"score, text, questions {says}", 100 * sum(one for one, _ in told) / len(told), "%", \
            f"{len(told)} questions; a guess has {100 * sum(guess for _, guess in told) / len(told):.1f}"
    worst = max(CANDIDATES, key=lambda name: apart[name])
    yield "two forms apart at most", 100 * apart[worst], "%", f"{forms * (forms - 1) // 2} pairs, {worst}"
    yield "forms that could not be held within the yardstick", sum(one > NEAR + 1e-9 for one in strays), "of", \
        f"{forms}; the farthest strays {100 * max(strays):.2f} %"


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else FORMS):
        print(f"{what}: {value:.1f} {unit} {note}", flush=True)
