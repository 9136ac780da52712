"""What the checker counts over many random plants: `python -m tests.bench.overlaps [HOW_MANY]`."""

from __future__ import annotations

import sys
from collections.abc import Iterator

from figures.drawing import Diagram
from figures.plant.scheme import Scheme
from tests.figures.drawing.checker import Counts, check

from .measure import Row


def counted(many: int) -> list[tuple[int, Counts]]:
    """The counts of `many` random schemes, by seed."""
    found = []
    for seed in range(many):
        plant = Scheme.random(seed).plant()
        found.append((seed, check(Diagram(plant).placed, plant)))
    return found


def rows(many: int = 200) -> Iterator[Row]:
    """Faults, crossings and bends over all, and the smallest text on a screen 1280 px wide."""
    found = counted(many)
    wrong = {seed: counts.wrong for seed, counts in found if counts.wrong}
    yield Row(f"overlaps and false joints in {many} random drawings", float(sum(map(len, wrong.values()))), "",
           f"none allowed {list(wrong)[:5] if wrong else ''}")
    crossed = sorted(((c.crossings, s) for s, c in found), reverse=True)
    yield Row("crossings, all with a bridge, a drawing", sum(n for n, _ in crossed) / many, "", f"most: seeds {crossed[:3]}")
    yield Row("bends a drawing", sum(c.bends for _, c in found) / many, "", f"most {max(c.bends for _, c in found)}")
    small = sorted((c.smallest_text, s) for s, c in found)
    yield Row("smallest tag at 1280 px, middle drawing", small[many // 2][0], "px", f"least: seeds {small[:3]}")
    yield Row("width over height, middle drawing", sorted(c.aspect for _, c in found)[many // 2], "", "")


if __name__ == "__main__":
    for what, value, unit, note in rows(int(sys.argv[1]) if len(sys.argv) > 1 else 2000):
        print(f"{what:58} {value:9.3g}  {unit:4}  {note}")
