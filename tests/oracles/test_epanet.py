"""Flows against EPANET 2.2 through wntr: every sample plant and random schemes, in several states each."""

import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from figures.physics import Prepared, Solution, State, solve
from figures.plant import Plant, read_plant
from figures.plant.scheme import Scheme

from .epanet import comparable, differences

SAMPLES = sorted((Path(__file__).parents[1] / "plants").glob("*.toml"))


def states(plant: Plant, chance: random.Random, many: int) -> Iterator[State]:
    """All running and open, then pumps off or slow, valves shut, diverting valves turned, other water."""
    yield State()
    pumps = [part.tag for part in plant.of_kind("pump")]
    valves = [part.tag for part in plant.of_kind("isolation valve", "motorised valve", "balancing valve", "check valve")]
    diverting = [part.tag for part in plant.of_kind("diverting valve")]
    for _ in range(many - 1):
        yield State(off=[tag for tag in pumps if chance.random() < 0.25],
                    shut=[tag for tag in valves if chance.random() < 0.2],
                    divert=[tag for tag in diverting if chance.random() < 0.5],
                    speed={tag: chance.uniform(0.4, 1.1) for tag in pumps if chance.random() < 0.3},
                    water_c=chance.choice([20.0, 60.0, 80.0]))


def compared(plant: Plant, chance: random.Random, many: int) -> tuple[int, list[str]]:
    """How many states EPANET could be asked about, and where it disagrees."""
    prepared, asked, wrong = Prepared(plant), 0, []
    for state in states(plant, chance, many):
        found: Solution = solve(prepared, state)
        if comparable(plant, found):
            asked += 1
            wrong += [f"{state}: {line}" for line in differences(plant, state, found)]
    return asked, wrong


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_sample_plants_flow_as_in_epanet(path: Path) -> None:
    """Every run within 1 % or 0.015 L/s, in all states that EPANET can tell."""
    asked, wrong = compared(read_plant(path), random.Random(path.stem), 5)
    assert asked >= 1
    assert not wrong


@pytest.mark.parametrize("seeds", [range(n, n + 10) for n in range(0, 100, 10)], ids=lambda seeds: f"from {seeds[0]}")
def test_random_schemes_flow_as_in_epanet(seeds: range) -> None:
    """As the samples; 100 schemes here, 200 and more states in tests/bench/oracle_epanet.py."""
    total = 0
    for seed in seeds:
        asked, wrong = compared(Scheme.random(seed).plant(), random.Random(seed), 3)
        total += asked
        assert not wrong, f"seed {seed}: {wrong[:3]}"
    assert total >= len(seeds)
