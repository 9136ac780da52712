"""Circuits of a small network: what they are, and how few steps a solve takes with them."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from figures.physics import Prepared, State
from figures.physics.circuits import Circuits, Islands, forest
from figures.physics.links import PipeLaw
from figures.physics.newton import KEPT_NUMBERS, Case, Network
from figures.plant import read_plant
from figures.plant.scheme import Scheme
from tests.bench.ladder import ladder
from tests.plants import HERE


def some_network(seed: int) -> tuple[Islands, Circuits]:
    """Eight junctions, fourteen links anyhow: parallel ones, ends that are one, parts that hang apart, some shut."""
    chance = np.random.default_rng(seed)
    start, end = chance.integers(0, 8, (2, 14))
    closed = chance.random(14) < 0.3
    label, tree, chords = forest(start, end, np.flatnonzero(~closed).tolist(), 8)
    here = Islands(closed, bool(closed.any()), np.unique(label), label, np.zeros(0, dtype=np.intp), tree, chords, start, end)
    return here, here.circuits


def net(here: Islands, flow: np.ndarray) -> np.ndarray:
    """What leaves each junction less what comes in."""
    return np.bincount(here.start, flow, 8) - np.bincount(here.end, flow, 8)


@pytest.mark.parametrize("seed", range(30))
def test_water_round_a_circuit_balances_and_passes_no_shut_link(seed: int) -> None:
    """And there are as many circuits as open links beyond what joins the junctions."""
    here, circuits = some_network(seed)
    islands = len(here.ground)
    assert len(circuits.across) == int((~here.closed).sum()) - (8 - islands)
    assert np.linalg.matrix_rank(circuits.across) == len(circuits.across)
    for circuit in circuits.across:
        assert not net(here, circuit).any()
        assert not circuit[here.closed].any()


@pytest.mark.parametrize("seed", range(30))
def test_heads_along_the_tree_are_those_of_the_losses(seed: int) -> None:
    """Losses that come of heads give these heads back, over the grounded junction of each island."""
    here, circuits = some_network(seed)
    head = np.random.default_rng(seed).random(8)
    over = head - head[[int(g) for g in here.label]]
    linear = circuits.linear(np.ones(14))
    assert linear.heads(head[here.start] - head[here.end]) == pytest.approx(over)


@pytest.mark.parametrize("seed", range(30))
def test_a_step_closes_the_heads_and_takes_the_excess_away(seed: int) -> None:
    """For laws that are straight lines one step is the answer, from flows that do not balance, too."""
    here, circuits = some_network(seed)
    chance = np.random.default_rng(seed)
    slope, loss = chance.random(14) + 0.1, chance.normal(size=14)
    flow = np.where(here.closed, 0.0, chance.normal(size=14))
    step = circuits.linear(slope).step(loss, -net(here, flow))
    assert net(here, flow + step) == pytest.approx(np.zeros(8), abs=1e-12)
    assert circuits.across @ (loss + slope * step) == pytest.approx(np.zeros(len(circuits.across)), abs=1e-10)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Grows by one each time that friction is asked for."""
    count: list[int] = []
    law: Callable[..., object] = PipeLaw.__call__

    def counted(self: PipeLaw, *given: np.ndarray) -> object:
        count.append(1)
        return law(self, *given)

    monkeypatch.setattr(PipeLaw, "__call__", counted)
    return count


def test_a_plant_of_four_boilers_is_solved_in_three_steps(asked: list[int]) -> None:
    """Friction is asked for twice, for it is known where every solve starts; after a small change once."""
    prepared = Prepared(read_plant(HERE / "tees-four-boilers.toml"))
    prepared.wet(60.0)
    asked.clear()
    first = prepared.solve()
    assert len(asked) == 2
    asked.clear()
    prepared.solve(State(speed={"PS": 0.95}), start=first)
    assert len(asked) == 1


def test_a_start_from_an_answer_with_a_check_just_shut_balances() -> None:
    """Water that trickled back through a check is stopped at the end of a solve, which leaves a trace over at its ends;
    whoever goes on from there takes it away first."""
    prepared = Prepared(Scheme.random(30).plant())
    still = State(off=["PB1", "PB2", "PB3", "PB4", "PS"], shut=["HV4", "HW4", "HW2"])
    start = prepared.solve(still)
    assert start.answer.linear is None                # one was
    again = prepared.solve(replace(still, water_c=50.0), start=start)
    assert np.abs(prepared.network.algebra.net(again.answer.flow)).max() < 1e-18


def test_what_is_kept_of_valves_shut_before_is_bounded() -> None:
    """However many ways of shutting valves a middling plant is asked for, matrices of a few are kept, and answers stay."""
    prepared, chance = Prepared(ladder(90, 45)), np.random.default_rng(1)
    valves = [part.tag for part in prepared.plant.of_kind("balancing valve")]
    states = [State(shut=[tag for tag in valves if chance.random() < 0.5]) for _ in range(50)]
    first = prepared.solve(states[0]).flow
    for state in states:
        prepared.solve(state)
    network = prepared.network
    assert len(network._islands) <= KEPT_NUMBERS // (network.links * network.junctions) < len(states)
    assert prepared.solve(states[0]).flow == pytest.approx(first, abs=1e-12)


NARROW = State(shut=["CB3", "ZV2"], speed={"PB1": 0.8815560121724637}, water_c=4.0, position={
    "BL1": 0.007517894800417508, "ZV2": 0.0034280000447952895, "BL2": 0.07805866341612167, "BL3": 0.009198006135792471})
"""Balancing valves nearly shut, checks and a bypass valve that open and shut on the way to the answer."""


def test_checks_that_toggle_do_not_lead_a_warm_start_astray(asked: list[int]) -> None:
    """From the answer with all valves open, in as few steps as from nothing; a correction just after a toggle led flows away."""
    prepared = Prepared(Scheme.random(4).plant())
    first, cold = prepared.solve(), prepared.solve(NARROW)
    asked.clear()
    warm = prepared.solve(NARROW, start=first)
    assert len(asked) < 30
    assert warm.flow == pytest.approx(cold.flow, abs=1e-8)


def test_where_toggling_leads_to_no_end_one_link_at_a_time_does(monkeypatch: pytest.MonkeyPatch) -> None:
    """A matrix that cannot be inverted any more is not the end, either."""
    prepared = Prepared(Scheme.random(4).plant())
    usual, iterate = prepared.solve(NARROW).flow, Network._iterate

    def lost(self: Network, case: Case, flow: np.ndarray, root: np.ndarray, closed: np.ndarray, toggling: bool,
             *more: object) -> object:
        if toggling:
            raise np.linalg.LinAlgError
        return iterate(self, case, flow, root, closed, toggling, *more)            # type: ignore[arg-type]

    monkeypatch.setattr(Network, "_iterate", lost)
    assert prepared.solve(NARROW).flow == pytest.approx(usual, abs=1e-8)
