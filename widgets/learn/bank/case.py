"""The plants that questions are asked of: drawn by chance, and stripped of all names that could tell.

A question must be answered from the piping, so every tag is a number in no order and every title the same.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import cached_property

from figures.plant import Plant
from figures.plant.faults import FAULTS
from figures.plant.model import Part, port_of, tag_of
from figures.plant.scheme import Scheme
from figures.reading import Finding, Reading, read

TITLE = "A plant"
TRIES = 400
FEW = 60
FIRST = 0
"""The difficulty of first lessons, which no test asks: the smallest plants that there are."""
SIZES = {FIRST: (2, 2), 1: (2, 3), 2: (3, 6), 3: (5, 14)}
"""Boilers and emitters together, at least and at most, of a plant of each difficulty."""


class NoCase(RuntimeError):
    """No plant was found that the question can be asked of."""


def neutral(plant: Plant, chance: random.Random, keep: Mapping[str, str] | None = None) -> tuple[Plant, dict[str, str]]:
    """The same piping with numbers for tags and no title, parts and runs in no order; and the new tag of each part.

    keep: new tags that are settled already.
    """
    kept = dict(keep or {})
    stem, least = "N", 10 if len(plant.parts) < 60 else 100
    free = [f"{stem}{n}" for n in range(least, 10 * least) if f"{stem}{n}" not in kept.values()]
    others = [tag for tag in plant.parts if tag not in kept]
    tags = {**kept, **dict(zip(others, chance.sample(free, len(others))))}

    def renamed(end: str) -> str:
        port = port_of(end)
        return f"{tags[tag_of(end)]}.{port}" if port else tags[end]

    order, runs = list(plant.parts), list(plant.runs)
    chance.shuffle(order)
    chance.shuffle(runs)
    parts = {}
    for tag in order:
        given = dict(plant.parts[tag].given)
        if isinstance(given.get("at"), str):
            given["at"] = renamed(str(given["at"]))
        parts[tags[tag]] = Part(tags[tag], plant.parts[tag].kind, given)
    moved = tuple(replace(run, through=tuple(map(renamed, run.through))) for run in runs)
    return Plant(TITLE, parts, moved, plant.design), tags


class Case:
    """A plant without names, and whatever is found out about it, each thing once."""

    def __init__(self, scheme: Scheme, chance: random.Random) -> None:
        self.chance = chance
        try:
            plant = scheme.plant()
        except ValueError as error:     # one by chance may ask for more water than any pipe carries
            raise NoCase(str(error)) from error
        self.plant, _ = neutral(plant, chance)

    @classmethod
    def of(cls, plant: Plant, chance: random.Random) -> Case:
        """The case of a plant as it is: it keeps its tags."""
        case = cls.__new__(cls)
        case.chance, case.plant = chance, plant
        return case

    @cached_property
    def reading(self) -> Reading:
        """What the classifier says."""
        return read(self.plant)

    @cached_property
    def operator(self):  # type: ignore[no-untyped-def]
        """The plant ready to be operated; physics is opened only by questions that need it."""
        from figures.physics.operation import Operator

        return Operator(self.plant, self.reading)

    def findings(self, *rules: str) -> list[Finding]:
        """What these rules say."""
        return [finding for finding in self.reading.findings if finding.rule in rules]

    def broken(self, rules: Mapping[str, str]) -> set[str]:
        """For each of these rules that fires, what stands for it in the mapping."""
        return {rules[finding.rule] for finding in self.reading.findings if finding.rule in rules}

    def tags(self, *kinds: str) -> list[str]:
        """Tags of these kinds."""
        return [part.tag for part in self.plant.of_kind(*kinds)]

    def other(self, tags: Mapping[str, str]) -> Case:
        """The same plant with some tags exchanged for others."""
        keep = {tag: tag for tag in self.plant.parts}
        for old, new in tags.items():
            if new in keep:
                keep[new] = old
            keep[old] = new
        return Case.of(neutral(self.plant, self.chance, keep)[0], self.chance)


class Draw:
    """Schemes by chance, of a difficulty.

    among: the answers that the question offers.  offer: chance by which they are chosen, its own where several
    questions are to offer the same.
    """

    def __init__(self, chance: random.Random, difficulty: int, offer: random.Random | None = None) -> None:
        self.chance, self.difficulty, self.offer = chance, difficulty, offer or chance
        self.among: tuple[str, ...] = ()

    def scheme(self, where: Callable[[Scheme], bool] = lambda scheme: True, **filters: object) -> Scheme:
        """A sound scheme. where: what it must have besides the filters of `Scheme.random`.

        The size that the difficulty asks for is given up where nothing of that size is found. Raises NoCase.
        """
        small = {"size": "small"} if self.difficulty == FIRST and "boilers" not in filters else {}
        for n in range(TRIES):
            size = small if n < FEW else {}
            low, high = SIZES[max(self.difficulty, 1) if n >= FEW else self.difficulty]
            scheme = Scheme.random(self.chance.getrandbits(40), **filters, **size)  # type: ignore[arg-type]
            if where(scheme) and (n > TRIES // 3 or low <= scheme.boilers + scheme.emitters <= high):
                return scheme
        raise NoCase(f"no scheme with {filters}")

    def faulty(self, *faults: str, where: Callable[[Scheme], bool] = lambda scheme: True, **filters: object) -> Scheme:
        """A scheme with one of these faults, by chance. Raises NoCase."""
        name = self.chance.choice(faults)
        fault = FAULTS[name]
        return replace(self.scheme(lambda s: where(s) and fault.applies(s), **filters), faults=(name,))
