"""Twenty thousand questions of the bank, judged: `python -m tests.bench.items [HOW_MANY]`."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from scipy.stats import chi2

from tests.widgets.learn.items import faults, places, right_options, text_only_score
from widgets.learn import MISCONCEPTIONS
from widgets.learn.bank import DIFFICULTIES, MAKERS, as_row, make_item

MANY = 20_000


def questions(many: int) -> Iterator[dict]:
    """Every objective, kind and difficulty in turn, each with a seed of its own."""
    seed = 1_000_000
    while True:
        for objective, kind in MAKERS:
            if many == 0:
                return
            many -= 1
            yield as_row(make_item(objective, kind, DIFFICULTIES[seed % 3], seed))
        seed += 1


def rows(many: int = MANY // 10) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    made, wrong, checked, false = [], [], 0, []
    for row in questions(many):
        wrong += faults(row)
        right = right_options(row)
        if right is not None:
            checked += 1
            false += [] if right == [row["key"]] else [row["id"]]
        for option in row["options"]:
            option["text"] = option["text"] if len(option["text"]) < 300 else "a drawing"
        row["plant"] = row["plant"] and "a plant"
        made.append(row)
    yield "questions with something wrong with them", len(wrong), "of", f"{many}; {'; '.join(wrong[:3])}"
    yield "keys that an independent check finds false", len(false), "of", f"{checked}; {', '.join(false[:5])}"
    square, free = places(made)
    yield "place of the key, chi-square", square, "", f"{free} degrees of freedom; uniform below {chi2.ppf(0.999, free):.1f}"
    half = len(made) // 2
    for name, train, test in (("first", made[:half], made[half:]), ("second", made[half:], made[:half])):
        score, chance, spread = text_only_score(train, test)
        yield f"words alone, learned on the {name} half", 100 * score, "%", \
            f"chance {100 * chance:.2f}, spread {100 * spread:.2f}"
    met = {option["misconception"] for row in made for option in row["options"]}
    yield "misconceptions that some option speaks to", len(met & set(MISCONCEPTIONS)), "of", f"{len(MISCONCEPTIONS)}"


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else MANY):
        print(f"{what}: {value:.4g} {unit} {note}", flush=True)
