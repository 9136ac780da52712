"""Find the fault: marks for pointing at places, against plants whose faults are known from how they were spoilt."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from figures.plant import read_plant
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.rules import rules
from tests.plants import SAMPLES
from tests.widgets.learn.plants import ring
from widgets.learn import OBJECTIVES, BadAnswer
from widgets.learn.find import COUNTED, Claim, FindTask, find_task, mark_places, missed, task_of
from widgets.learn.wrong import WRONG, why_sound

BASE = Scheme(boilers=2, tank="system loop", emitters=2)


def spoilt(*faults: str, base: Scheme = BASE) -> FindTask:
    return task_of(replace(base, faults=faults).plant(), seed=1)


def other_rule(task: FindTask) -> str:
    """Words that nothing on the plant bears out."""
    fired = {f.finding.rule for f in (*task.faults, *task.notes)}
    return next(rule for rule in task.rules if rule not in fired)


# -- both ways -----------------------------------------------------------------------------------------------

def test_untouched_a_spoilt_plant_earns_nothing() -> None:
    mark = mark_places(spoilt("relief-missing"), ())
    assert (mark.points, mark.of, mark.right) == (0.0, 1.0, False)
    assert "not to be signed off" in mark.because


def test_nothing_is_wrong_is_right_of_a_sound_plant_only() -> None:
    task = spoilt()
    assert task.sound and mark_places(task, ()).right and "nothing is wrong" in mark_places(task, ()).because


def test_place_and_words_are_a_find() -> None:
    task = spoilt("relief-isolated")
    fault, = task.faults
    mark = mark_places(task, [("HVR1", "relief-isolated")])
    assert mark.right and mark.shares == (1.0,) and mark.false_alarms == 0
    assert mark.claims[0].verdict == "found" and fault.finding.fix in mark.claims[0].because


def test_the_right_place_with_the_wrong_words_is_half() -> None:
    task = spoilt("relief-isolated")
    mark = mark_places(task, [("HVR1", other_rule(task))])
    assert mark.points == 0.5 and mark.claims[0].verdict == "half"
    assert "Something is wrong at the isolation valve HVR1, but not this." in mark.claims[0].because
    assert task.faults[0].finding.says not in mark.claims[0].because


def test_a_neighbour_that_means_the_same_place_counts_and_another_boiler_does_not() -> None:
    task = spoilt("relief-missing")
    bare, = task.faults[0].finding.parts
    tee, other = f"TR{bare[1:]}", "B1" if bare == "B2" else "B2"
    pipe = next(name for name in task.plant.run_names if name.startswith(f"{bare}>") or name.endswith(f">{bare}"))
    for place in (bare, tee, pipe):
        assert mark_places(task, [(place, "relief-missing")]).right, place
    mark = mark_places(task, [(other, "relief-missing")])
    assert mark.points == 0 and mark.false_alarms == 1
    assert mark.claims[0].because == f"RV{other[1:]} stands on the branch of {other}."


def test_a_false_alarm_takes_half_a_find_away_and_says_why_the_place_is_sound() -> None:
    task = spoilt("part-reversed", "relief-missing")
    turned = next(f for f in task.faults if f.finding.rule == "part-reversed")
    found = (turned.finding.parts[0], "part-reversed")
    sound = next(tag for tag, part in task.plant.parts.items()
                 if part.kind == "pump" and tag not in turned.finding.parts)
    mark = mark_places(task, [found, (sound, "part-reversed")])
    assert (mark.points, mark.of, mark.false_alarms) == (0.5, 2.0, 1)
    assert mark.claims[1].because == f"{sound} faces along the water."
    assert mark.because == "1 of 2 found. 1 false alarm. One is still to be found."


def test_pointing_everywhere_with_everything_earns_nothing() -> None:
    for task in (spoilt("relief-missing"), spoilt()):
        everything = [(place, rule) for place in task.places for rule in task.rules]
        assert mark_places(task, everything).points == 0


def test_many_words_at_one_place_are_one_guess_and_false_alarms() -> None:
    task = spoilt("relief-isolated")
    wrong = [rule for rule in task.rules if rule != "relief-isolated"
             and rule not in {note.finding.rule for note in task.notes}]
    mark = mark_places(task, [("HVR1", rule) for rule in wrong])
    assert mark.points == 0 and mark.false_alarms == len(wrong) - 1


def test_the_same_fault_said_twice_counts_once_and_is_no_false_alarm() -> None:
    task = spoilt("relief-isolated")
    named = task.faults[0].finding.parts
    mark = mark_places(task, [(named[0], "relief-isolated"), (named[1], "relief-isolated")])
    assert mark.right and [one.verdict for one in mark.claims] == ["found", "again"]


def test_notes_and_local_code_count_for_nobody_and_against_nobody() -> None:
    task = spoilt()
    note = task.notes[0].finding
    task = replace(task, rules=(*task.rules, note.rule))
    mark = mark_places(task, [(note.parts[0], note.rule)])
    assert mark.right and mark.claims[0].verdict == "noted" and note.says in mark.claims[0].because
    task = spoilt("relief-missing")
    task = replace(task, rules=(*task.rules, note.rule))
    assert mark_places(task, [*task.right, (note.parts[0], note.rule)]).right
    assert mark_places(task, [(note.parts[0], note.rule)]).points == 0


def test_what_is_missing_altogether_has_no_place_so_the_words_decide() -> None:
    task = spoilt("expansion-missing")
    assert mark_places(task, [("PS", "expansion-missing")]).right
    assert mark_places(task, [("PS", other_rule(task))]).points == 0, "no half for any place at all"


def test_a_missing_supply_sensor_is_missing_on_all_of_the_supply_but_not_at_a_boiler() -> None:
    task = spoilt("supply-sensor")
    supply = next(loop for loop in task.reading.loops if loop.role == "system loop")
    assert mark_places(task, [(supply.pipes[0], "supply-sensor")]).right
    assert mark_places(task, [("B1", "supply-sensor")]).points == 0


def test_nothing_wrong_and_any_claim_against_a_sound_plant_earn_all_and_nothing() -> None:
    task = spoilt()
    mark = mark_places(task, [("PS", other_rule(task))])
    assert (mark.points, mark.of, mark.false_alarms) == (0.0, 1.0, 1) and "is sound" in mark.because


def test_what_was_missed_is_told_with_its_cure() -> None:
    task = spoilt("relief-missing", "part-reversed")
    told = missed(task, mark_places(task, task.right[:1]))
    assert task.faults[1].finding.fix in told and task.faults[0].finding.fix not in told


@pytest.mark.parametrize("claim", [("nowhere", "relief-missing"), ("PS", "colour"), ("PS",), "PS", 3, (1, 2)])
def test_what_is_no_claim_is_refused(claim: object) -> None:
    with pytest.raises(BadAnswer):
        mark_places(spoilt(), [claim])  # type: ignore[list-item]


def test_a_sentence_is_refused_no_longer_than_it_need_be() -> None:
    with pytest.raises(BadAnswer) as told:
        mark_places(spoilt(), [("x" * 5000, "relief-missing")])
    assert len(str(told.value)) < 200


# -- any plant -----------------------------------------------------------------------------------------------

@settings(max_examples=25, deadline=None)
@given(st.integers(0, 999_999), st.sampled_from([None, 0, 1, 2, 3]), st.randoms())
def test_the_model_answer_earns_all_and_the_empty_one_only_where_all_is_sound(
        seed: int, faults: int | None, chance: object) -> None:
    task = find_task(seed, faults)
    counted = [f for f in read(task.plant).findings if f.severity in COUNTED]
    assert task.sound == (not counted) and {f.finding.rule for f in task.faults} == {f.rule for f in counted}
    assert {f.finding.rule for f in task.faults} <= set(task.rules) and len(task.rules) >= 9
    right = list(task.right)
    chance.shuffle(right)  # type: ignore[attr-defined]
    mark = mark_places(task, right)
    assert mark.right and mark.false_alarms == 0 and missed(task, mark) == ""
    assert mark_places(task, ()).right == task.sound
    assert mark_places(task, ()).points == float(task.sound)
    if faults:
        assert len(task.faults) >= 1


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 999_999))
def test_any_claim_on_any_plant_is_marked_with_a_reason(seed: int) -> None:
    """No place and no words make the marking fail, and no reason for one place gives another fault away."""
    task = find_task(seed)
    for rule in WRONG:
        asked = replace(task, rules=(*task.rules, rule))
        for place in task.places[::3]:
            one, = mark_places(asked, [(place, rule)]).claims
            assert one.because and one.because[0] != " "
            if one.verdict in ("half", "false alarm"):
                assert "None" not in one.because and "nothing stands" not in one.because
                assert not any(f.finding.says in one.because or f.finding.fix in one.because for f in task.faults)


def test_made_plants_are_sound_one_time_in_five_and_the_same_for_the_same_seed() -> None:
    found = Counter(len(find_task(seed).faults) for seed in range(100))
    assert 10 <= found[0] <= 32 and found[1] and found[2] and found[3]
    assert find_task(8).right == find_task(8).right and find_task(8).rules == find_task(8).rules


def test_no_tag_tells_where_a_fault_was_made() -> None:
    """The valves and tees of a made plant are numbered through, with none that a sound plant would not have."""
    stems: dict[bool, set[tuple[str, str]]] = {True: set(), False: set()}
    for seed in range(40):
        for faults in (0, 3):
            task = find_task(seed, faults)
            for part in task.plant.parts.values():
                if part.kind in ("tee", "check valve", "isolation valve", "motorised valve", "drain"):
                    stems[bool(faults)].add((part.kind, part.tag.rstrip("0123456789")))
    assert stems[False] == {("tee", "T"), ("check valve", "CV"), ("isolation valve", "HV"), ("motorised valve", "MV")} | (
        stems[False] & {("drain", "D")})
    assert stems[True] <= stems[False] | {("drain", "D")}


def test_the_number_of_faults_is_checked() -> None:
    for bad in (-1, 4, True, "2"):
        with pytest.raises(ValueError, match="from 0 to 3"):
            find_task(1, faults=bad)  # type: ignore[arg-type]


def test_a_plant_of_ones_own_is_judged_by_the_same_rules() -> None:
    task = task_of(ring())
    assert {f.finding.rule for f in task.faults} >= {"relief-missing", "expansion-missing"}
    assert mark_places(task, task.right).right and task.seed is None
    assert task.rules == task_of(ring()).rules


# -- words ---------------------------------------------------------------------------------------------------

def test_every_rule_has_words_an_objective_and_a_place_to_look() -> None:
    assert set(WRONG) == set(rules())
    for wrong in WRONG.values():
        assert wrong.objective in OBJECTIVES and len(wrong.label) < 60 and wrong.asked.endswith(".")


def test_the_objectives_are_those_of_the_developers_table() -> None:
    table = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8")
    rows = re.findall(r"^\| `([a-z-]+)` \|.*\| ([A-Z]\d) \|$", table, re.MULTILINE)
    assert dict(rows) == {rule: wrong.objective for rule, wrong in WRONG.items()}


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_plant_file_is_a_task_like_any_other(path: Path) -> None:
    task = task_of(read_plant(path))
    mark = mark_places(task, task.right)
    assert mark.right and mark_places(task, ()).right == task.sound
    for place in task.places[::4]:
        for rule in task.rules:
            assert mark_places(task, [(place, rule)]).claims[0].because


@pytest.mark.parametrize(("place", "rule", "says"), [
    ("PS", "part-reversed", "PS faces along the water."),
    ("B1", "lead-boiler", "Exactly one boiler leads: B1."),
    ("IT", "mixing-valve", "A thermostatic mixing valve guards the outlet of IT."),
    ("IT", "tank-sensor", "TT measures IT."),
    ("A>Z", "tee-spacing", "The tees A and Z are 3.0 inside diameters apart; up to four is sound."),
    ("A>Z", "common-pipe-blocked", "Between the tees A and Z there is nothing but pipe."),
    ("E1", "low-temperature-zone",
     "No highest supply temperature is given for E1: it takes what its loop brings."),
    ("E1", "part-reversed",
     "Only a pump or a check valve can be set the wrong way round. Nothing at the emitter E1 speaks for it."),
])
def test_why_a_place_is_sound_is_read_off_the_plant(place: str, rule: str, says: str) -> None:
    assert why_sound(spoilt().context, place, rule) == says


def test_a_claim_is_a_plain_pair() -> None:
    task = spoilt("relief-isolated")
    assert mark_places(task, [Claim("HVR1", "relief-isolated")]) == mark_places(task, [["HVR1", "relief-isolated"]])  # type: ignore[list-item]
