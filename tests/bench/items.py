"""Twenty thousand questions of the bank, judged: `python -m tests.bench.items [HOW_MANY [FILE]]`.

With a file, each is added to it, and a run that was stopped goes on from there.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from scipy.stats import chi2

from tests.widgets.learn.items import faults, places, right_options, text_only_score
from widgets.learn import MISCONCEPTIONS
from widgets.learn.bank import DIFFICULTIES, MAKERS, as_row, make_item

MANY = 20_000


def places_of(many: int) -> Iterator[tuple[str, str, int, int]]:
    """Every objective and kind in turn, difficulties by turns, each with a seed of its own."""
    seed = 1_000_000
    while True:
        for objective, kind in MAKERS:
            if many == 0:
                return
            many -= 1
            yield objective, kind, DIFFICULTIES[seed % 3], seed
        seed += 1


def judged(place: tuple[str, str, int, int]) -> dict:
    """One question, judged; of its drawings and its plant only that there are some."""
    row = as_row(make_item(*place))
    right = right_options(row)
    row |= {"faults": faults(row), "checked": right is not None, "false": right is not None and right != [row["key"]]}
    for option in row["options"]:
        option["text"] = option["text"] if len(option["text"]) < 300 else "a drawing"
    return {**row, "plant": row["plant"] and "a plant", "flows": None, "because": ""}


def all_judged(many: int, kept: Path | None = None) -> Iterator[dict]:
    """So many questions, judged. kept: a file to which each is added, so that a run that was stopped goes on from there."""
    places_ = places_of(many)
    if kept is not None and kept.exists():
        lines = kept.read_text(encoding="utf-8").splitlines(keepends=True)
        if lines and not lines[-1].endswith("\n"):
            kept.write_text("".join(lines[:-1]), encoding="utf-8")     # the last one was cut
            lines.pop()
        for line, _ in zip(lines, places_):
            yield json.loads(line)
    begun = time.monotonic()
    with open(kept or os.devnull, "a", encoding="utf-8") as file:
        for n, place in enumerate(places_, 1):
            row = judged(place)
            file.write(json.dumps(row) + "\n")
            if n % 500 == 0:
                file.flush()
                print(f"{n} made, {(time.monotonic() - begun) / n * 1000:.0f} ms each", file=sys.stderr, flush=True)
            yield row


def rows(many: int = MANY // 10, kept: Path | None = None) -> Iterator[tuple[str, float, str, str]]:
    """What was measured: (what, value, unit, note)."""
    made = list(all_judged(many, kept))
    wrong, false = [what for row in made for what in row["faults"]], [row["id"] for row in made if row["false"]]
    checked = [row for row in made if row["checked"]]
    yield "questions with something wrong with them", len(wrong), "of", f"{len(made)}; {'; '.join(wrong[:3])}"
    yield "keys that an independent check finds false", len(false), "of", f"{len(checked)}; {', '.join(false[:5])}"
    for kind in sorted({row["kind"] for row in checked}):
        some = [row for row in checked if row["kind"] == kind]
        yield f"of these, {kind}", sum(row["false"] for row in some), "of", str(len(some))
    square, free = places(made)
    yield "place of the key, chi-square", square, "", f"{free} degrees of freedom; uniform below {chi2.ppf(0.999, free):.1f}"
    made = [row for row in made if row["kind"] != "arrange"]
    half = len(made) // 2
    for name, train, test in (("first", made[:half], made[half:]), ("second", made[half:], made[:half])):
        score, chance, spread = text_only_score(train, test)
        yield f"words alone, learned on the {name} half", 100 * score, "%", \
            f"chance {100 * chance:.2f}, spread {100 * spread:.2f}"
    met = {option["misconception"] for row in made for option in row["options"]}
    yield "misconceptions that some option speaks to", len(met & set(MISCONCEPTIONS)), "of", f"{len(MISCONCEPTIONS)}"


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else MANY,
                                        Path(sys.argv[2]) if len(sys.argv) > 2 else None):
        print(f"{what}: {value:.4g} {unit} {note}", flush=True)
