"""Ways to change a plant that most often leave it a plant: other parts, other pipes, figures at the ends of their ranges."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

from figures.plant.kinds import KINDS
from figures.plant.model import DESIGN_LIMITS
from figures.plant.pipe import SIZES

from .spoil import FIT, copied

Tree = dict[str, Any]
TAGS = ("constructor", "NaN", "script", "onload", "a_supply", "A" * 24, "b1", "B-", "E_1", "None", "true", "x-bad", "n",
        "L0ng-tag_of-24-letters__", "B10", "B1-2", "HS", "toString", "runs", "parts", "is-", "heating", "DHW")
"""Tags that a plant may have, and that a careless page, table or sorting would stumble over."""


def turned(plant: Tree, chance: random.Random) -> Tree:
    """The plant with one to three things changed."""
    plant = copied(plant)
    for _ in range(chance.choice((1, 1, 2, 3))):
        chance.choice(WAYS)(plant, chance)
    return plant


def _title(plant: Tree, chance: random.Random) -> None:
    plant["title"] = chance.choice(FIT)


def _tag(plant: Tree, chance: random.Random) -> None:
    """A part renamed wherever it stands."""
    old, new = chance.choice(list(plant["parts"])), chance.choice(TAGS)
    if new in plant["parts"]:
        return
    plant["parts"] = {new if tag == old else tag: body for tag, body in plant["parts"].items()}
    for body in plant["parts"].values():
        if isinstance(body, dict) and body.get("at") == old:
            body["at"] = new
    for run in plant["runs"]:
        run["through"] = [new + end[len(old):] if end.partition(".")[0] == old else end for end in run["through"]]


def _kind(plant: Tree, chance: random.Random) -> None:
    """A part put in place of another that pipes join in the same way."""
    body = chance.choice(list(plant["parts"].values()))
    kind = KINDS.get(body.get("kind"))
    if kind is None:
        return
    body["kind"] = chance.choice([one.name for one in KINDS.values() if one.shape == kind.shape])
    known = {key.name for key in KINDS[body["kind"]].keys}
    for key in set(body) - known - {"kind"}:
        del body[key]
    if "role" in known:
        body.setdefault("role", "tank")


def _figure(plant: Tree, chance: random.Random) -> None:
    """A figure of a part at an end of its range, at its default, or somewhere between on a logarithmic scale."""
    body = chance.choice(list(plant["parts"].values()))
    keys = KINDS[body["kind"]].keys if body.get("kind") in KINDS else ()
    if not keys:
        return
    key = chance.choice(keys)
    if key.type == "number":
        low, high = key.low or 1e-9, min(key.high, 1e6)
        body[key.name] = chance.choice((key.low, high, math.exp(chance.uniform(math.log(low), math.log(high)))))
    elif key.type == "flag":
        body[key.name] = not body.get(key.name, False)
    elif key.type == "choice":
        body[key.name] = chance.choice(key.choices)
    elif plant["parts"]:
        body[key.name] = chance.choice(list(plant["parts"]))


def _pipe(plant: Tree, chance: random.Random) -> None:
    """A run of another size or length, at the ends of what is taken."""
    run = chance.choice(plant["runs"])
    way = chance.randrange(4)
    if way == 0:
        run.pop("inside_mm", None), run.pop("roughness_mm", None)
        run["size"] = chance.choice(list(SIZES))
    elif way == 1:
        run.pop("size", None)
        run["inside_mm"], run["roughness_mm"] = chance.choice((1.0, 3.0, 50.0, 3000.0)), chance.choice((0.0, 0.05, 10.0))
    elif way == 2:
        run["length_m"] = chance.choice((0.001, 0.01, 0.1, 300.0, 10_000.0))
    else:
        run["k"] = chance.choice((0.0, 1.0, 500.0, 10_000.0))


def _design(plant: Tree, chance: random.Random) -> None:
    name, (low, high) = chance.choice(list(DESIGN_LIMITS.items()))
    plant.setdefault("design", {})[name] = chance.choice((low, high, (low + high) / 2, chance.uniform(low, high)))


def _swap(plant: Tree, chance: random.Random) -> None:
    """Two ends of runs exchanged: pipes cross over, loops join or fall apart."""
    one, two = chance.choice(plant["runs"])["through"], chance.choice(plant["runs"])["through"]
    if one and two:
        a, b = chance.choice((0, -1)), chance.choice((0, -1))
        one[a], two[b] = two[b], one[a]


def _move(plant: Tree, chance: random.Random) -> None:
    """A part moved to another place, of its run or of another."""
    run = chance.choice(plant["runs"])["through"]
    if len(run) > 2:
        part = run.pop(chance.randrange(1, len(run) - 1))
        to = chance.choice(plant["runs"])["through"]
        to.insert(chance.randrange(1, max(2, len(to))), part)


def _turn(plant: Tree, chance: random.Random) -> None:
    """A run written the other way round, or a part set against it."""
    if chance.random() < 0.5:
        chance.choice(plant["runs"])["through"].reverse()
    else:
        bodies = [body for body in plant["parts"].values() if body.get("kind") in ("pump", "check valve")]
        if bodies:
            body = chance.choice(bodies)
            body["reversed"] = not body.get("reversed", False)


def _drop(plant: Tree, chance: random.Random) -> None:
    """A part taken out, its pipe closed up; of an instrument or end part its run as well."""
    tag = chance.choice(list(plant["parts"]))
    if any(end == tag and n not in (0, len(run["through"]) - 1) for run in plant["runs"] for n, end in enumerate(run["through"])):
        for run in plant["runs"]:
            run["through"] = [end for end in run["through"] if end != tag]
    else:
        plant["runs"] = [run for run in plant["runs"] if tag not in run["through"]] or plant["runs"]
    del plant["parts"][tag]


def _fit(plant: Tree, chance: random.Random) -> None:
    """A part more: in a run, as a short cut between two tees, or at the end of a branch."""
    tees = [tag for tag, body in plant["parts"].items() if body.get("kind") == "tee"]
    tag = f"Z{len(plant['parts'])}"
    way = chance.randrange(3)
    if way == 0:
        run = chance.choice(plant["runs"])["through"]
        plant["parts"][tag] = {"kind": chance.choice([kind.name for kind in KINDS.values() if kind.shape == "two ports"])}
        run.insert(chance.randrange(1, max(2, len(run))), tag)
    elif tees:
        ends = [chance.choice(tees), chance.choice(tees)] if way == 1 else [chance.choice(tees), tag]
        if way == 2:
            plant["parts"][tag] = {"kind": chance.choice([kind.name for kind in KINDS.values() if kind.shape == "end"])}
        size = chance.choice(plant["runs"]).get("size", "NPS 1")
        plant["runs"].append({"through": ends, "size": size, "length_m": chance.choice((0.1, 1.0, 20.0))})


def _lead(plant: Tree, chance: random.Random) -> None:
    """Other boilers lead, or none does."""
    for body in plant["parts"].values():
        if body.get("kind") == "boiler":
            body["lead"] = chance.random() < 0.4


def _order(plant: Tree, chance: random.Random) -> None:
    """Parts and runs written in another order."""
    tags = list(plant["parts"])
    chance.shuffle(tags)
    plant["parts"] = {tag: plant["parts"][tag] for tag in tags}
    chance.shuffle(plant["runs"])


def _twice(plant: Tree, chance: random.Random) -> None:
    """The whole plant once more in the same file, under other tags, joined to the first by a pipe or not at all."""
    if len(plant["parts"]) > 30:
        return
    for tag, body in list(plant["parts"].items()):
        plant["parts"][f"{tag}-b"[:24]] = copied(body) | ({"at": f"{body['at']}-b"[:24]} if "at" in body else {})
    for run in list(plant["runs"]):
        ends = [f"{end.partition('.')[0]}-b"[:24] + end[len(end.partition('.')[0]):] for end in run["through"]]
        plant["runs"].append(copied(run) | {"through": ends})
    tees = [tag for tag, body in plant["parts"].items() if body.get("kind") == "tee"]
    for _ in range(chance.choice((0, 1, 2))):
        if tees:
            plant["runs"].append({"through": [chance.choice(tees), chance.choice(tees)], "size": "NPS 1", "length_m": 1.0})


WAYS: tuple[Callable[[Tree, random.Random], None], ...] = (
    _title, _title, _tag, _tag, _kind, _kind, _figure, _figure, _pipe, _design, _swap, _move, _turn, _drop, _fit, _lead, _order,
    _twice)
