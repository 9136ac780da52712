"""Plants that no scheme makes: random ones, changed in ways that must not change how they are read.

Each change leaves the loops, the tank's place and the order of return as they were, and harms nothing.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from figures.plant.check import plant_from_data
from figures.plant.scheme import Scheme
from figures.reading import read

KEYS = ("arrangement", "dhw", "control", "dhw_priority", "lead", "return")
Data = dict[str, Any]
COMMON = {("A", "Z"), ("DA", "DZ"), *((f"A{i}", f"Z{i}") for i in range(1, 9))}
"""The common pipes of schemes."""


def is_tee(data: Data, tag: str) -> bool:
    return data["parts"].get(tag, {}).get("kind") == "tee"


def kinds_in(data: Data, run: Data) -> set[str]:
    return {data["parts"][end.partition(".")[0]]["kind"] for end in run["through"]}


def open_runs(data: Data) -> list[Data]:
    """Runs into which a valve or strainer may go: no common pipe, and nothing that relief or expansion needs."""
    return [run for run in data["runs"] if tuple(run["through"]) not in COMMON
            and not kinds_in(data, run) & {"relief valve", "expansion tank"}
            and not (run["through"][0].startswith("B") and run["through"][-1].startswith("TR"))]


def twin_main(data: Data, chance: random.Random) -> None:
    """A second pipe of the same length beside one that joins two tees."""
    plain = [run for run in open_runs(data) if len(run["through"]) == 2 and all(is_tee(data, t) for t in run["through"])]
    if plain:
        data["runs"].append(dict(chance.choice(plain)))


def dead_leg(data: Data, chance: random.Random) -> None:
    """A branched stub with a hand valve, a drain and a vent, anywhere."""
    run = chance.choice(data["runs"])
    place = chance.randint(1, len(run["through"]) - 1)
    data["parts"] |= {"QQ": {"kind": "tee"}, "QT": {"kind": "tee"}, "QH": {"kind": "isolation valve"},
                      "QD": {"kind": "drain"}, "QV": {"kind": "air vent"}}
    length = run["length_m"] / 2
    data["runs"].append({**run, "through": ["QQ", *run["through"][place:]], "length_m": length})
    run |= {"through": [*run["through"][:place], "QQ"], "length_m": length}
    for through in (["QQ", "QH", "QT"], ["QT", "QD"], ["QT", "QV"]):
        data["runs"].append({"through": through, "size": "NPS 1", "length_m": 0.5})


def stop_valves_everywhere(data: Data, chance: random.Random) -> None:
    """A hand valve in every run that bears one."""
    for n, run in enumerate(open_runs(data)):
        data["parts"][f"QH{n}"] = {"kind": "isolation valve"}
        run["through"].insert(chance.randint(1, len(run["through"]) - 1), f"QH{n}")


def strainers_everywhere(data: Data, chance: random.Random) -> None:
    """A strainer in every run that bears one."""
    for n, run in enumerate(open_runs(data)):
        data["parts"][f"QS{n}"] = {"kind": "strainer"}
        run["through"].insert(chance.randint(1, len(run["through"]) - 1), f"QS{n}")


def cut_everywhere(data: Data, chance: random.Random) -> None:
    """Every run cut between any two parts by a two-ended tee, the common pipes too."""
    pieces = []
    for run in data["runs"]:
        through = run["through"]
        share = 2 * (len(through) - 1)
        part = {**run, "length_m": run["length_m"] / share, "k": run.get("k", 0.0) / share}
        for a, b in pairwise(through):
            tee = f"q{len(pieces)}"
            data["parts"][tee] = {"kind": "tee"}
            pieces += [{**part, "through": [a, tee]}, {**part, "through": [tee, b]}]
    data["runs"] = pieces


def double(data: Data, load: str) -> None:
    """The branch of a load a second time, between the same tees."""
    bearing = {"pump", "check valve", "motorised valve", "emitter", "indirect tank", "heat exchanger", "balancing valve"}
    run = next((r for r in data["runs"] if load in r["through"][1:-1]), None)
    if run is None:
        return
    inner = run["through"][1:-1]
    branch = all(is_tee(data, run["through"][end]) for end in (0, -1)) and not any(t.startswith("PS") for t in inner)
    if not branch or any(data["parts"][tag]["kind"] not in bearing for tag in inner):
        return
    for tag in inner:
        data["parts"][f"{tag}x"] = dict(data["parts"][tag])
    data["runs"].append({**run, "through": [run["through"][0], *(f"{tag}x" for tag in inner), run["through"][-1]]})
    for tag, body in list(data["parts"].items()):
        if body.get("at") in inner:
            data["parts"][f"{tag}x"] = {**body, "at": f"{body['at']}x"}


def second_tank(data: Data, chance: random.Random) -> None:
    """A second tank beside the first."""
    double(data, "IT")


def second_emitter(data: Data, chance: random.Random) -> None:
    """A second emitter beside the first."""
    double(data, "E1")


CHANGES: tuple[Callable[[Data, random.Random], None], ...] = (
    twin_main, dead_leg, stop_valves_everywhere, strainers_everywhere, cut_everywhere, second_tank, second_emitter)


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
def test_the_reading_does_not_mind(change):
    changed = 0
    for seed in range(2000, 2070):
        scheme = Scheme.random(seed)
        data, plain = scheme.data(), scheme.plant()
        change(data, random.Random(seed))
        plant = plant_from_data(data)
        changed += plant != plain
        reading = read(plant)
        said, built = reading.as_dict(), scheme.expected()
        assert {key: said[key] for key in KEYS} == {key: built[key] for key in KEYS}, (seed, scheme)
        grave = [finding for finding in reading.findings if finding.severity in ("must fix", "should fix")]
        assert grave == [], (seed, scheme)
    assert changed >= 15


def test_an_emitter_on_the_boiler_loop_leaves_the_tank_there():
    data = Scheme(boilers=2, tank="boiler loop").data()
    data["parts"] |= {"EB": {"kind": "emitter"}, "PEB": {"kind": "pump"}, "CEB": {"kind": "check valve"}}
    data["runs"].append({"through": ["D1", "PEB", "CEB", "EB", "D2"], "size": "NPS 1-1/4", "length_m": 9.0})
    reading = read(plant_from_data(data))
    assert (reading.arrangement, reading.dhw, reading.dhw_priority) == ("separated loops", "boiler loop", "always")
    boiler_loop = reading.loop_of("B1")
    assert boiler_loop is not None and {"EB", "IT"} <= set(boiler_loop.parts)
