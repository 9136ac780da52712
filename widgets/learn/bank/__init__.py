"""The question bank: made, not written. Endless questions of every objective, the same for the same seed.

Keys come from the classifier, the rules and the solver; nothing is asked that they do not answer.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

from ..items import Item
from ..objectives import OBJECTIVES
from . import flows, plain, points, pools_configure, pools_foresee, pools_judge, pools_read
from .case import FIRST, Draw, NoCase
from .pool import Pool, choose, drawings, shuffled, true_or_false

KINDS = ("name", "configuration", "point", "loop", "missing", "wrong", "drawings", "heat", "temperature", "first back",
         "order", "arrange", "true or false")
"""The kinds of question."""
DIFFICULTIES = (1, 2, 3)
RETRIES = 8

Maker = Callable[[Draw, str], Item]
POOLS: tuple[Pool, ...] = (*pools_read.POOLS, *pools_configure.POOLS, *pools_foresee.POOLS, *pools_judge.POOLS)


def _makers() -> dict[tuple[str, str], list[Maker]]:
    found: dict[tuple[str, str], list[Maker]] = {}
    for pool in POOLS:
        for kind, of_pool in ((pool.kind, choose), ("true or false", true_or_false), ("drawings", drawings)):
            if kind != "drawings" or pool.drawings:
                found.setdefault((pool.objective, kind), []).append(partial(of_pool, pool))
    for (objective, kind), maker in points.POINTS.items():
        found.setdefault((objective, kind), []).append(partial(points.point, objective, kind, maker))
    for table in (flows.FLOWS, plain.PLAIN):
        for place, make in table.items():
            found.setdefault(place, []).append(make)
    return found


MAKERS = _makers()


def kinds_of(objective: str) -> tuple[str, ...]:
    """The kinds of question there are for an objective.

    >>> kinds_of("P1")
    ('missing', 'order', 'arrange', 'true or false')
    """
    return tuple(kind for kind in KINDS if (objective, kind) in MAKERS)


def make_item(objective: str, kind: str, difficulty: int, seed: int, like: int | None = None) -> Item:
    """One question, the same for the same seed.

    objective: a code of `OBJECTIVES`.  kind: one of `kinds_of(objective)`.  difficulty: 1, 2 or 3: how large the
    plant is; 0 in first lessons.  like: questions of the same number here offer the same answers, of other plants.  Raises
    ValueError for what there is not.

    >>> item = make_item("R7", "loop", 1, 5)
    >>> len(item.options), len(item.key), item == make_item("R7", "loop", 1, 5)
    (4, 1, True)
    """
    if objective not in OBJECTIVES:
        raise ValueError(f"objective: '{objective}' is not one of {', '.join(OBJECTIVES)}")
    if kind not in kinds_of(objective):
        raise ValueError(f"kind: '{kind}' is not one of {objective}'s, {', '.join(kinds_of(objective))}")
    if difficulty not in (FIRST, *DIFFICULTIES):
        raise ValueError(f"difficulty: {difficulty} is not 1, 2 or 3")
    ident = f"bank/{objective}/{kind.replace(' ', '-')}/{difficulty}/{seed}" + (f"/{like}" if like is not None else "")
    for n in range(RETRIES):
        chance = random.Random(f"loopbook {ident} {n}")
        offer = chance if like is None else random.Random(f"loopbook offer {objective} {kind} {like}")
        try:
            item = offer.choice(MAKERS[objective, kind])(Draw(chance, difficulty, offer), ident)
        except NoCase:
            continue
        return replace(shuffled(item, chance), seed=seed)
    raise NoCase(f"{ident}: no plant was found in {RETRIES} tries")


def paper(seed: int, questions: int) -> list[tuple[str, str, int, int]]:
    """Objective, kind, difficulty and seed of each question of a test, objectives by their weights.

    >>> paper(4, 2) == paper(4, 3)[:2]
    True
    """
    chance = random.Random(f"loopbook paper {int(seed)}")
    rows = []
    for _ in range(questions):
        objective = chance.choices(list(OBJECTIVES), [o.weight for o in OBJECTIVES.values()])[0]
        rows.append((objective, chance.choice(kinds_of(objective)), chance.choice(DIFFICULTIES), chance.getrandbits(31)))
    return rows


def paper_items(seed: int, questions: int) -> Iterator[Item]:
    """The questions of a test, one after another."""
    for row in paper(seed, questions):
        yield make_item(*row)


def as_row(item: Item) -> dict[str, object]:
    """A question as `loopbook paper --json` prints it. Keys count the options from 0; where an order is asked for (pick:
    'order') the key is a list of all of them as they belong, and turned names the mistakes that turn two of them about.

    plant: the text of a plant file, None where the options are drawings or none is needed; of an option that is a
    drawing its text is the plant file's.  flows: figures on the drawing, L/s by pipe, where there are any.
    """
    from figures.plant import write_plant

    options: list[dict[str, object]] = [
        {"text": o.label if o.plant is None else write_plant(o.plant), "misconception": o.misconception} for o in item.options]
    row: dict[str, object] = {
        "id": item.id, "kind": item.kind, "objective": item.objective, "difficulty": item.difficulty, "text": item.text,
        "plant": write_plant(item.plant) if item.plant is not None else None, "options": options,
        "key": next(n for n, option in enumerate(item.options) if option.value in item.key), "because": item.because,
        "needs_drawing": item.needs_drawing}
    if item.pick == "order":
        place = {option.value: n for n, option in enumerate(item.options)}
        row |= {"pick": "order", "key": [place[value] for value in item.key],
                "turned": [{"first": place[a], "then": place[b], "misconception": m} for (a, b), m in item.turned.items()]}
    if item.flows:
        row["flows"] = dict(item.flows)
    return row
