"""Numbered plants that a class can quote: the same number is the same plant for ever.

They are kept as they were first made, not made anew: what makes plants may change, these may not.  They go from one
boiler and one emitter to plants of ten; something is wrong with each of the last ten.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from figures.plant import Plant, parse_plant

FILE = Path(__file__).with_name("numbered.jsonl")
COUNT = 100


@lru_cache(maxsize=1)
def _texts() -> tuple[str, ...]:
    return tuple(json.loads(line)["plant"] for line in FILE.read_text(encoding="utf-8").splitlines())


def plant_text(number: int) -> str:
    """The plant file of a number, 1 to 100. Raises ValueError for a number that there is not."""
    if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= COUNT:
        raise ValueError(f"numbered plants go from 1 to {COUNT}, not {number!r}")
    return _texts()[number - 1]


def numbered_plant(number: int) -> Plant:
    """The plant of a number, 1 to 100, with which `Exercise(plant=…)` and everything else can go on.

    >>> numbered_plant(7).title
    'Plant 7'
    """
    return parse_plant(plant_text(number))
