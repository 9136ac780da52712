"""The same piping, written otherwise: other tags and title, other order, runs cut and joined, sides swapped.

Nothing here changes what the water meets, so a reading must come out the same but for the tags.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

from figures.plant.model import Part, Plant, Run, port_of, tag_of

VESSELS = ("hydraulic separator", "buffer tank")
TITLES = ("Boiler loop DHW", "Single loop, heating only", "No tank here", "Four boilers, reverse return", "x")


def disguise(plant: Plant, seed: int) -> tuple[Plant, dict[str, str]]:
    """The plant in disguise, and the new tag of every part that it still has.

    A two-ended tee may be gone (its two runs are then one), and new ones may stand in mid-pipe.
    """
    chance = random.Random(f"disguise {seed}")
    parts = dict(plant.parts)
    runs = list(plant.runs)
    runs = _joined_at_parts(chance, parts, runs)
    runs = _joined_at_tees(chance, parts, runs)
    runs = _cut_at_parts(chance, parts, runs)
    runs = _cut_in_mid_pipe(chance, parts, runs)
    runs = _sides_swapped(chance, parts, runs)
    tags = _new_tags(chance, parts)
    chance.shuffle(runs)
    order = list(parts)
    chance.shuffle(order)
    renamed = {tags[tag]: _renamed(parts[tag], tags) for tag in order}
    moved = tuple(replace(run, through=tuple(_end(end, tags) for end in run.through)) for run in runs)
    return Plant(chance.choice(TITLES), renamed, moved, plant.design), {
        tag: tags[tag] for tag in parts if tag in plant.parts}


def cut(run: Run, place: int, share: float) -> tuple[Run, Run]:
    """A run in two, at the part that stands at `place`; `share` of its length and k goes to the first."""
    return (replace(run, through=run.through[: place + 1], length_m=run.length_m * share, k=run.k * share),
            replace(run, through=run.through[place:], length_m=run.length_m * (1 - share), k=run.k * (1 - share)))


def _like(a: Run, b: Run) -> bool:
    return (a.size, a.inside_mm, a.roughness_mm) == (b.size, b.inside_mm, b.roughness_mm)


def _one(a: Run, b: Run, keep: bool) -> Run:
    """Two runs in a row as one, the part between them kept or not."""
    return replace(a, through=(*a.through[: None if keep else -1], *b.through[1:]),
                   length_m=a.length_m + b.length_m, k=a.k + b.k)


def _joined(runs: list[Run], end: str, keep: bool) -> list[Run]:
    """The runs, those that end and start at `end` made one where they are of one size."""
    into = [run for run in runs if run.through[-1] == end]
    out = [run for run in runs if run.through[0] == end]
    if len(into) != 1 or len(out) != 1 or into[0] is out[0] or not _like(into[0], out[0]):
        return runs
    one = _one(into[0], out[0], keep)
    # A run must not pass a node twice as an inner part, nor shrink to a ring of nothing.
    if len(one.through) < 2:
        return runs
    return [run for run in runs if run is not into[0] and run is not out[0]] + [one]


def _joined_at_parts(chance: random.Random, parts: dict[str, Part], runs: list[Run]) -> list[Run]:
    for tag, part in parts.items():
        # Not at a boiler: how many metres lie on either side of it tells the order of return.
        if part.what.shape == "two ports" and part.kind != "boiler" and chance.random() < 0.5:
            runs = _joined(runs, tag, keep=True)
    return runs


def _joined_at_tees(chance: random.Random, parts: dict[str, Part], runs: list[Run]) -> list[Run]:
    watched = {tag_of(str(part["at"])) for part in parts.values()
               if part.what.shape == "instrument" and part["at"] is not None}
    ends = Counter(tag_of(end) for run in runs for end in (run.through[0], run.through[-1]))
    for tag in [t for t, part in parts.items() if part.kind == "tee"]:
        if ends[tag] == 2 and tag not in watched and chance.random() < 0.5:
            fewer = _joined(runs, tag, keep=False)
            if len(fewer) < len(runs):
                runs = fewer
                del parts[tag]
    return runs


def _cut_at_parts(chance: random.Random, parts: dict[str, Part], runs: list[Run]) -> list[Run]:
    how_often = chance.choice((0.0, 0.3, 1.0))
    done: list[Run] = []
    for run in runs:
        rest = run
        while len(rest.through) > 2:
            if chance.random() < how_often:
                first, rest = cut(rest, 1, chance.uniform(0.2, 0.8))
                done.append(first)
            else:
                inner = [n for n in range(2, len(rest.through) - 1) if chance.random() < how_often]
                if not inner:
                    break
                first, rest = cut(rest, inner[0], chance.uniform(0.2, 0.8))
                done.append(first)
        done.append(rest)
    return done


def _cut_in_mid_pipe(chance: random.Random, parts: dict[str, Part], runs: list[Run]) -> list[Run]:
    how_often = chance.choice((0.0, 0.2, 0.6))
    done: list[Run] = []
    for run in runs:
        if chance.random() >= how_often or run.length_m < 0.01:
            done.append(run)
            continue
        tee = _free(parts, "cut")
        parts[tee] = Part(tee, "tee")
        place = chance.randint(1, len(run.through) - 1)
        longer = replace(run, through=(*run.through[:place], tee, *run.through[place:]))
        done += cut(longer, place, chance.uniform(0.2, 0.8))
    return done


def _sides_swapped(chance: random.Random, parts: dict[str, Part], runs: list[Run]) -> list[Run]:
    other = {"a_supply": "b_supply", "b_supply": "a_supply", "a_return": "b_return", "b_return": "a_return"}
    turned = {tag for tag, part in parts.items() if part.kind in VESSELS and chance.random() < 0.5}

    def swap(end: str) -> str:
        tag, port = tag_of(end), port_of(end)
        return f"{tag}.{other[port]}" if tag in turned and port else end

    for tag, part in list(parts.items()):
        if part.what.shape == "instrument" and isinstance(part["at"], str):
            parts[tag] = replace(part, given={**part.given, "at": swap(str(part["at"]))})
    return [replace(run, through=tuple(swap(end) for end in run.through)) for run in runs]


def _free(parts: dict[str, Part], stem: str) -> str:
    return next(tag for n in range(1, 10_000) if (tag := f"{stem}{n}") not in parts)


def _new_tags(chance: random.Random, parts: dict[str, Part]) -> dict[str, str]:
    """Every tag anew: dealt out among the parts, so that a pump may be called B1; or numbers in no order."""
    olds = list(parts)
    if chance.random() < 0.5:
        news = olds[:]
        chance.shuffle(news)
    else:
        news = [f"{chance.choice('BPEIZ')}{n}" for n in chance.sample(range(1000, 9999), len(olds))]
    return dict(zip(olds, news))


def _end(end: str, tags: dict[str, str]) -> str:
    port = port_of(end)
    return f"{tags[tag_of(end)]}.{port}" if port else tags[end]


def _renamed(part: Part, tags: dict[str, str]) -> Part:
    given = dict(part.given)
    if isinstance(given.get("at"), str):
        given["at"] = _end(str(given["at"]), tags)
    return Part(tags[part.tag], part.kind, given)
