"""What widgets are given: a plant in one of several forms, and the number by which a class has the same one."""

from __future__ import annotations

import random
from pathlib import Path

from figures.plant import Plant, read_plant

LARGEST_SEED = 999_999
"""The largest plant number: six digits can be called out in a class."""


def any_seed() -> int:
    """A plant number that nobody can guess."""
    return random.SystemRandom().randrange(LARGEST_SEED + 1)


def sound_seed(seed: object) -> int:
    """The same number. Raises ValueError with a sentence for the learner where it is none.

    >>> sound_seed(41)
    41
    """
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed <= LARGEST_SEED:
        raise ValueError(f"A plant number is a whole number from 0 to {LARGEST_SEED}.")
    return seed


def typed_seed(text: str) -> int:
    """The plant number that somebody typed. Raises ValueError as `sound_seed` does."""
    text = text.strip()
    if not (text.isascii() and text.isdigit()) or len(text) > len(str(LARGEST_SEED)):
        raise ValueError(f"A plant number is a whole number from 0 to {LARGEST_SEED}.")
    return int(text)


def plant_of(plant: object) -> Plant:
    """A plant, from a Plant, a Scheme or the path of a plant file. Raises ValueError or BadPlant."""
    if isinstance(plant, Plant):
        return plant
    if isinstance(plant, str | Path):
        return read_plant(plant)
    make = getattr(plant, "plant", None)
    made = make() if callable(make) else None
    if not isinstance(made, Plant):
        raise ValueError(f"plant: a Plant, a Scheme or the path of a plant file, not {type(plant).__name__}")
    return made
