"""Flow: what must hold in any plant and any state."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures.physics import NoSolution, Prepared, Solution, State, solve, sweep
from figures.physics.links import PipeLaw
from figures.plant import Part, Plant, Run
from figures.plant.model import tag_of
from figures.plant.scheme import Scheme

PLANTS: dict[int, tuple[Plant, Prepared]] = {}


def plant_of(seed: int) -> tuple[Plant, Prepared]:
    """A random sound plant and the same prepared, kept between examples."""
    if seed not in PLANTS:
        plant = Scheme.random(seed).plant()
        PLANTS[seed] = plant, Prepared(plant)
    return PLANTS[seed]


@st.composite
def cases(draw: st.DrawFn) -> tuple[Plant, Prepared, State]:
    """A random plant in a random state: anything off, shut, turned, idle, slow or half open, any water."""
    plant, prepared = plant_of(draw(st.integers(0, 40)))

    def some(*kinds: str) -> list[str]:
        tags = [part.tag for part in plant.of_kind(*kinds)]
        return draw(st.lists(st.sampled_from(tags), unique=True)) if tags else []

    share = st.floats(0.0, 1.0)
    return plant, prepared, State(
        off=some("pump"), shut=some("motorised valve", "isolation valve", "check valve", "bypass valve"),
        divert=some("diverting valve"), idle=some("boiler"),
        speed={tag: draw(st.floats(0.0, 1.5)) for tag in some("pump")},
        position={tag: draw(share) for tag in [*some("balancing valve", "motorised valve"),
                                               *(part.tag for part in plant.of_kind("mixing valve"))]},
        load={tag: draw(st.floats(0.0, 500.0)) for tag in some("emitter", "indirect tank")},
        water_c=draw(st.sampled_from([4.0, 20.0, 60.0, 82.0, 110.0])))


def imbalance_lps(plant: Plant, found: Solution) -> float:
    """Largest difference between what enters and leaves a tee, vessel or three-port valve."""
    net: dict[str, float] = {}
    for index, run in enumerate(plant.runs):
        for end, sign in ((run.through[0], 1.0), (run.through[-1], -1.0)):
            if plant.parts[tag_of(end)].what.shape != "end":
                net[tag_of(end)] = net.get(tag_of(end), 0.0) + sign * found.flow.run_lps(index)
    return max(abs(value) for value in net.values())


def open_loop_m(plant: Plant, found: Solution) -> float:
    """Largest difference between the heads at a run's ends and what the run loses and its pumps add."""
    worst = 0.0
    for index, run in enumerate(plant.runs):
        first, last = (found.nodes.get(end) for end in (run.through[0], run.through[-1]))
        if first is None or last is None:
            continue
        lift = sum(found.parts[tag]["head_m"] or 0.0 for tag in run.through
                   if tag in found.parts and plant.run_through.get(tag) == index)
        gap = float(first["head_m"] or 0.0) - float(last["head_m"] or 0.0)
        worst = max(worst, abs(gap - float(found.runs[index]["loss_m"]) + lift))     # type: ignore[arg-type]
    return worst


@settings(deadline=None, max_examples=150)
@given(cases())
def test_water_and_head_balance_everywhere(case: tuple[Plant, Prepared, State]) -> None:
    """1e-6 L/s at every node and 1e-6 m along every run, whatever is set."""
    plant, prepared, state = case
    found = solve(prepared, state)
    assert imbalance_lps(plant, found) < 1e-6
    assert open_loop_m(plant, found) < 1e-6


@settings(deadline=None, max_examples=80)
@given(cases())
def test_nothing_passes_what_is_shut_or_comes_back_through_a_check(case: tuple[Plant, Prepared, State]) -> None:
    """Shut valves carry nothing, checks and bypass valves nothing backwards."""
    plant, prepared, state = case
    found = solve(prepared, state)
    for tag in state.shut:
        assert found.lps(tag) == 0.0
    for part in plant.of_kind("check valve", "bypass valve"):
        assert found.lps(part.tag) * (-1.0 if part.given.get("reversed") else 1.0) >= -1e-9


@settings(deadline=None, max_examples=60)
@given(cases())
def test_a_start_from_another_answer_changes_nothing(case: tuple[Plant, Prepared, State]) -> None:
    """Cold and warm starts agree within 1e-4 L/s."""
    _, prepared, state = case
    cold = prepared.solve(state)
    warm = prepared.solve(state, start=prepared.solve(State()))
    assert np.abs(cold.flow - warm.flow).max(initial=0.0) < 1e-7


@pytest.mark.parametrize("seed", range(60))
def test_no_boiler_or_load_flows_against_its_run_in_a_sound_plant(seed: int) -> None:
    """All pumps on and all valves open: the water goes the way it is drawn."""
    plant, prepared = plant_of(seed)
    found = prepared.solve()
    for part in plant.parts.values():
        if part.kind == "boiler" or plant.is_load(part.tag):
            assert found.lps(part.tag) > -1e-6, part.tag


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_a_faster_pump_moves_more_of_its_own_water(seed: int) -> None:
    """Each pump's flow rises with its own speed, all else being equal."""
    plant, prepared = plant_of(seed)
    for part in plant.of_kind("pump"):
        flows = sweep(prepared, speed={part.tag: [0.4, 0.6, 0.8, 1.0]}).lps(part.tag)
        assert (np.diff(flows) > -1e-6).all()


@pytest.mark.parametrize("seed", range(20))
def test_a_sweep_gives_what_single_solves_give(seed: int) -> None:
    """Twelve scenarios of every kind at once against one after the other."""
    plant, prepared = plant_of(seed)
    chance = np.random.default_rng(seed)
    many = 12
    pumps = [part.tag for part in plant.of_kind("pump")]
    valves = [part.tag for part in plant.of_kind("motorised valve", "balancing valve")]
    speed = {tag: chance.uniform(0.0, 1.1, many) for tag in pumps}
    off = {tag: chance.random(many) < 0.2 for tag in pumps}
    shut = {tag: chance.random(many) < 0.2 for tag in valves}
    divert = {part.tag: chance.random(many) < 0.5 for part in plant.of_kind("diverting valve")}
    position = {tag: chance.uniform(0.0, 1.0, many) for tag in valves}
    warm = chance.uniform(5.0, 95.0, many)
    flows = sweep(prepared, speed=speed, off=off, shut=shut, divert=divert, position=position, water_c=warm)
    for n in range(many):
        def yes(given: dict[str, np.ndarray], n: int = n) -> list[str]:
            return [tag for tag, values in given.items() if values[n]]
        one = prepared.solve(State(off=yes(off), shut=yes(shut), divert=yes(divert), water_c=float(warm[n]),
                                   speed={tag: float(v[n]) for tag, v in speed.items()},
                                   position={tag: float(v[n]) for tag, v in position.items()}))
        assert flows.flow_m3s[:, n] == pytest.approx(one.answer.flow, abs=1e-7)


def ring(*parts: Part, size: str = "NPS 1-1/2") -> Plant:
    tags = [part.tag for part in parts]
    return Plant("ring", {part.tag: part for part in parts}, (Run((*tags, tags[0]), 20.0, size, 5.0),))


def test_pumps_in_opposition_settle() -> None:
    """A weaker pump that is set against a stronger one is pushed back, and said to be."""
    found = solve(ring(Part("B", "boiler"), Part("P", "pump", {"shutoff_m": 6.0, "rated_m": 4.0}),
                       Part("W", "pump", {"shutoff_m": 2.0, "rated_m": 1.0, "reversed": True})))
    assert found.lps("P") > 0.1
    assert any(line.startswith("W:") and "pushed back" in line for line in found.warnings)


def test_a_load_that_water_passes_backwards_is_named() -> None:
    """A reversed system pump drives it so."""
    found = solve(ring(Part("B", "boiler"), Part("P", "pump", {"reversed": True}), Part("E", "emitter")))
    assert any(line.startswith("E: water passes it backwards") for line in found.warnings)
    assert any(line.startswith("B: water passes it backwards") for line in found.warnings)


def test_equal_pumps_in_opposition_move_nothing() -> None:
    """Their heads cancel."""
    assert solve(ring(Part("B", "boiler"), Part("P", "pump"), Part("W", "pump", {"reversed": True}))).lps("B") == \
        pytest.approx(0.0, abs=1e-3)


def test_a_pump_past_the_end_of_its_curve_is_said_to_be() -> None:
    """A strong pump in series drives the weak one beyond its zero head."""
    weak = Part("W", "pump", {"shutoff_m": 1.0, "rated_lps": 0.3, "rated_m": 0.5})
    found = solve(ring(Part("B", "boiler"), Part("P", "pump", {"shutoff_m": 20.0, "rated_m": 15.0}), weak))
    assert found.parts["W"]["head_m"] < 0.0                              # type: ignore[operator]
    assert any(line.startswith("W:") and "past the end" in line for line in found.warnings)


def test_checks_that_face_each_other_stop_everything() -> None:
    """No water can pass both."""
    found = solve(ring(Part("B", "boiler"), Part("P", "pump"), Part("C", "check valve"),
                       Part("D", "check valve", {"reversed": True})))
    assert found.lps("B") == 0.0


def test_a_pump_against_its_own_check_valve_stalls() -> None:
    """It adds its shutoff head and moves nothing."""
    found = solve(ring(Part("B", "boiler"), Part("P", "pump", {"reversed": True}), Part("C", "check valve")))
    assert found.lps("P") == 0.0
    assert found.parts["P"]["head_m"] == pytest.approx(-6.0)


@pytest.mark.parametrize("slow", [0.1, 0.02, 0.004])
def test_nearly_zero_flow_settles(slow: float) -> None:
    """Creeping, laminar, down to some mL/s: it still balances and still flows forwards."""
    plant = ring(Part("B", "boiler"), Part("P", "pump"), Part("E", "emitter"))
    found = solve(plant, State(speed={"P": slow}))
    assert 0.0 < found.lps("P") < 0.3
    assert open_loop_m(plant, found) < 1e-6


@pytest.mark.parametrize("seed", range(30))
def test_the_active_set_by_single_changes_gives_the_same_answer(seed: int) -> None:
    """Murty's rule, which the solver falls back on, agrees with toggling many checks at once."""
    plant, prepared = plant_of(seed)
    state = State(off=[part.tag for part in plant.of_kind("pump")][:2])
    wet = prepared.wet(60.0)
    case = prepared.case(state, wet)
    slow = prepared.network._one_at_a_time(case, prepared.first_flow, wet.root)
    assert slow.flow == pytest.approx(prepared.solve(state).answer.flow, abs=1e-7)


def test_all_that_is_wrong_with_a_state_is_told_at_once() -> None:
    """One line each, with what to write instead."""
    plant, _ = plant_of(1)
    with pytest.raises(ValueError) as wrong:
        solve(plant, State(off=["NOPE"], shut=["B1"], water_c=130.0, idle="E1"))
    lines = str(wrong.value).splitlines()
    assert len(lines) == 4
    assert any("'NOPE' is no part" in line for line in lines)
    assert any("B1 is a boiler; name a valve" in line for line in lines)


def test_a_solve_that_does_not_settle_names_the_place(monkeypatch: pytest.MonkeyPatch) -> None:
    """No figures are given away: one sentence that names a part."""
    monkeypatch.setattr("figures.physics.newton.ITERATIONS", 1)
    plant, prepared = plant_of(2)
    with pytest.raises(NoSolution) as none:
        prepared.solve()
    assert tag_of(none.value.part.partition(">")[0]) in plant.parts
    assert none.value.part in none.value.says


def test_equal_files_give_equal_answers() -> None:
    """Nothing depends on hash order: the same plant prepared twice gives the same bits."""
    plant, prepared = plant_of(3)
    assert (Prepared(plant).solve().answer.flow == prepared.solve().answer.flow).all()


@pytest.mark.parametrize(("set_", "most", "in_all"), [("nothing", 4, 65), ("off", 14, 120), ("shut", 4, 62), ("slow", 30, 220)])
def test_a_solve_takes_few_steps(set_: str, most: int, in_all: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Friction is asked for once a step. Answers of a solver that hardly converges are right as well, so its steps are counted:
    24 plants as they stand, with pumps off, with valves shut, with water that creeps."""
    count: list[int] = []
    law = PipeLaw.__call__
    monkeypatch.setattr(PipeLaw, "__call__", lambda self, *given: count.append(1) or law(self, *given))
    total = 0
    for seed in range(24):
        plant, prepared = plant_of(seed)
        chance = np.random.default_rng(seed)
        pumps = [part.tag for part in plant.of_kind("pump")]
        valves = [part.tag for part in plant.of_kind("motorised valve", "isolation valve", "balancing valve")]
        state = {"nothing": State(), "off": State(off=[tag for tag in pumps if chance.random() < 0.4]),
                 "shut": State(shut=[tag for tag in valves if chance.random() < 0.3]),
                 "slow": State(speed=dict.fromkeys(pumps, 0.05))}[set_]
        prepared.wet(60.0)
        count.clear()
        prepared.solve(state)
        assert len(count) <= most, seed
        total += len(count)
    assert total <= in_all
