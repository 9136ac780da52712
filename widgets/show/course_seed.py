"""What the plants of all lessons share: chance that is the same for the same seed, invented names, usual outputs."""

from __future__ import annotations

import random

from figures.plant.scheme import Scheme

OUTPUTS_KW = (60.0, 80.0, 100.0, 120.0)
MEETINGS = ("closely spaced tees", "hydraulic separator")
"""Where the loops of most lessons' plants meet."""


def chance_of(seed: int, what: str) -> random.Random:
    """Chance for one picture of a lesson, the same for the same seed and subject.

    >>> chance_of(1, "twins").random() == chance_of(1, "twins").random()
    True
    """
    return random.Random(f"loopbook course {what} {int(seed)}")


def title_of(seed: int) -> str:
    """An invented name for a plant."""
    return Scheme.random(seed).title
