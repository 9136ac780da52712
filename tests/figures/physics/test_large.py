"""Large plants: sparse elimination gives what the plain matrix gives, and grows gently."""

import numpy as np
import pytest

from figures.physics import Prepared, State, heats, solve, sweep
from figures.physics.elimination import Rounds
from figures.plant.scheme import Scheme
from tests.bench.ladder import ladder


@pytest.mark.parametrize("plant", [ladder(30), ladder(25, 10), *(Scheme.random(seed).plant() for seed in range(12))],
                         ids=lambda plant: plant.title)
def test_rounds_of_elimination_give_what_a_matrix_gives(plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """Flow, heads and temperatures, to rounding."""
    dense = solve(plant)
    monkeypatch.setattr("figures.physics.newton.DENSE_UP_TO", 0)
    sparse = solve(plant)
    assert isinstance(sparse.flow.prepared.network.algebra, Rounds)
    assert sparse.flow.flow == pytest.approx(dense.flow.flow, abs=1e-10)
    assert sparse.flow.answer.head == pytest.approx(dense.flow.answer.head, abs=1e-7)
    assert sparse.heat.junction_c == pytest.approx(dense.heat.junction_c, abs=1e-6, nan_ok=True)


def test_a_building_of_four_hundred_zones_is_fed_and_balances() -> None:
    """1200 runs: every node balances, every zone flows, the near ones most, and the heat closes."""
    plant = ladder(400)
    found = solve(plant)
    net = np.abs(found.flow.prepared.network.algebra.net(found.flow.flow)).max()
    assert net < 1e-12
    zones = [part.tag for part in plant.of_kind("emitter")]
    flows = np.array([found.lps(tag) for tag in zones])
    assert (flows > 0.02).all()
    assert found.lps(zones[0]) > found.lps(zones[-1])
    assert found.heat.heat_kw["B"] == pytest.approx(sum(found.heat.heat_kw[tag] for tag in zones), rel=1e-9)
    assert found.lps("P") == pytest.approx(flows.sum(), rel=1e-9)


def test_the_order_of_elimination_stays_short() -> None:
    """Rounds, each a few numpy calls, grow far slower than junctions: 2000 of them in fewer than 100 rounds."""
    algebra = Prepared(ladder(1000)).network.algebra
    assert isinstance(algebra, Rounds)
    assert len(algebra.rounds) < 100
    assert algebra.slots < 3 * algebra.junctions


def test_a_sweep_of_a_middling_plant_agrees_with_single_solves() -> None:
    """60 zones, their valves half open, some shut, and the heat with it."""
    prepared = Prepared(ladder(60, 20))
    valves = [part.tag for part in prepared.plant.of_kind("balancing valve")]
    speed, shut = np.array([0.6, 0.8, 1.0]), np.array([True, False, True])
    flows = sweep(prepared, speed={"P": speed}, shut={valves[0]: shut})
    warm = heats(flows).kw["B"]
    for n in range(3):
        one = solve(prepared, State(speed={"P": float(speed[n])}, shut=valves[:1] if shut[n] else ()))
        assert flows.flow_m3s[:, n] == pytest.approx(one.flow.flow, abs=1e-8)
        assert warm[n] == pytest.approx(one.heat.heat_kw["B"], rel=1e-5)
