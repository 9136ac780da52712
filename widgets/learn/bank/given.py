"""Questions of the bank about a plant that somebody gives: an instructor's own, from its file.

Only what can be asked of that plant is asked; the keys come from the classifier and the rules as ever.
"""

from __future__ import annotations

import hashlib
import random
from contextlib import suppress
from dataclasses import replace

from figures.physics import NoSolution
from figures.plant import Plant, write_plant

from ..items import Item
from .case import Case
from .pool import OFFERED, Pool, explained, ladder, options, shuffled


def questions_about(plant: Plant, seed: int = 0) -> tuple[Item, ...]:
    """Every question of choice that the bank can ask of a plant, in the order of the objectives, the same for the same seed.

    >>> from figures.plant.scheme import Scheme
    >>> asked = questions_about(Scheme.random(4).plant())
    >>> len(asked) > 10, {item.plant.title for item in asked} == {Scheme.random(4).plant().title}
    (True, True)
    """
    from . import POOLS

    case = Case.of(plant, random.Random(f"loopbook given {seed}"))
    mark = hashlib.sha256(write_plant(plant).encode()).hexdigest()[:12]
    found: list[Item | None] = []
    for n, pool in enumerate(POOLS):
        with suppress(NoSolution):      # what the water would do there cannot be asked
            found.append(_asked(pool, case, f"given/{pool.objective}/{pool.kind.replace(' ', '-')}/{n}/{mark}/{seed}", seed))
    return tuple(item for item in found if item is not None)


def _asked(pool: Pool, case: Case, ident: str, seed: int) -> Item | None:
    chance = random.Random(f"loopbook {ident}")
    it = ""
    if pool.sort is not None:
        able = sorted(pool.sort(case).items())
        if not able:
            return None
        it, key = chance.choice(able)
    elif pool.judge is not None:
        judged = pool.judge(case, tuple(answer.key for answer in pool.answers))
        if judged is None:
            return None
        key = judged
    right = pool.answer(key)
    others = [answer for answer in pool.answers if answer is not right]
    offered = [right, *chance.sample(others, min(OFFERED - 1, len(others)))]
    if pool.judge is not None and pool.judge(case, tuple(answer.key for answer in offered)) != key:
        return None
    because, parts, pipes = explained(pool, case, it, key)
    item = Item(ident, pool.kind, pool.kind, pool.objective, pool.ask.format(it=it), options(pool, case, offered, right), (key,),
                because, ladder(pool, parts, pipes), case.plant, parts, pipes, difficulty=_difficulty(case.plant))
    return replace(shuffled(item, chance), seed=seed)


def _difficulty(plant: Plant) -> int:
    """By boilers and loads together, as the bank draws its own plants."""
    count = len(plant.of_kind("boiler")) + sum(plant.is_load(tag) for tag in plant.parts)
    return 1 if count <= 3 else 2 if count <= 6 else 3
