"""Faults on purpose: each can be made, its rule fires there, and not on the sound twin."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from itertools import zip_longest

import pytest

from figures.plant import parse_plant, write_plant
from figures.plant.faults import FAULTS, applicable
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.rules import rules
from tests.figures.plant.disguise import disguise

FIRST_RULES = {
    "tee-spacing", "common-pipe-blocked", "loop-pump", "load-straddles", "boiler-isolation", "boiler-isolation-local",
    "valve-fail-position", "pump-bypass", "reverse-return", "lead-boiler", "relief-missing", "relief-isolated",
    "expansion-point", "expansion-missing", "supply-sensor", "part-reversed", "ghost-flow", "mixing-valve",
    "ports-crossed", "low-temperature-zone", "zones-shut", "tank-sensor", "proof-of-flow", "low-water",
    "expansion-isolated"}
"""Rules that Loopbook has had from the beginning; none of them may get lost."""
EACH = 5
"""Schemes on which each fault is tried."""


@cache
def carriers() -> dict[str, list[Scheme]]:
    """For each fault, random sound schemes that can carry it, of as many separations as there are."""
    found: dict[str, dict[str | None, list[Scheme]]] = {name: {} for name in FAULTS}
    for seed in range(600):
        scheme = Scheme.random(seed)
        for fault in applicable(scheme):
            alike = found[fault.name].setdefault(scheme.separation, [])
            if len(alike) < EACH:
                alike.append(scheme)
    rounds = {name: zip_longest(*kinds.values()) for name, kinds in found.items()}
    return {name: [scheme for row in rows for scheme in row if scheme][:EACH] for name, rows in rounds.items()}


def rules_of(scheme: Scheme) -> set[str]:
    return {finding.rule for finding in read(scheme.plant()).findings}


def test_every_rule_has_a_fault_of_its_name():
    assert {fault.rule for fault in FAULTS.values()} == set(rules()) >= FIRST_RULES
    assert all(FAULTS[rule].rule == rule for rule in rules())


@pytest.mark.parametrize("name", FAULTS)
def test_the_rule_fires_on_the_fault_and_not_on_its_sound_twin(name):
    schemes = carriers()[name]
    assert len(schemes) >= 3
    for scheme in schemes:
        rule = FAULTS[name].rule
        twin = {f.rule for f in read(scheme.plant()).findings}
        assert rule not in twin, (name, scheme)
        assert rule in rules_of(replace(scheme, faults=(name,))), (name, scheme)


@pytest.mark.parametrize("name", FAULTS)
def test_a_faulty_plant_is_written_read_and_expected_like_any_other(name):
    for scheme in carriers()[name][:3]:
        faulty = replace(scheme, faults=(name,))
        plant = faulty.plant()
        assert plant != scheme.plant()
        assert parse_plant(write_plant(plant)) == plant
        assert plant == faulty.plant()
        expected, said = faulty.expected(), read(plant).as_dict()
        for key in ("arrangement", "dhw", "control", "dhw_priority", "lead", "return"):
            assert expected[key] == said[key], (name, key, scheme)


def test_the_fault_is_seen_behind_any_disguise():
    for number, (name, schemes) in enumerate(carriers().items()):
        faulty = replace(schemes[0], faults=(name,))
        other, tags = disguise(faulty.plant(), number)
        before = [f for f in read(faulty.plant()).findings if f.rule == FAULTS[name].rule]
        after = [f for f in read(other).findings if f.rule == FAULTS[name].rule]
        assert len(before) == len(after) > 0, (name, faulty)
        kept = set(tags.values())
        assert (sorted(sorted(tags[tag] for tag in f.parts if tag in tags) for f in before)
                == sorted(sorted(tag for tag in f.parts if tag in kept) for f in after)), (name, faulty)


def test_several_faults_at_once_are_all_seen():
    together: Counter[str] = Counter()
    for seed in range(150):
        scheme = Scheme.with_random_faults(seed, 3)
        missed = [name for name in scheme.faults if FAULTS[name].rule not in rules_of(scheme)]
        assert missed == [], (seed, scheme)
        together.update(scheme.faults)
    assert len(together) > len(FAULTS) * 0.8


def test_random_faults_are_the_same_for_the_same_seed_and_of_different_rules():
    for seed in range(40):
        scheme = Scheme.with_random_faults(seed, 3)
        assert scheme == Scheme.with_random_faults(seed, 3)
        assert len({FAULTS[name].rule for name in scheme.faults}) == len(scheme.faults) == 3
    assert Scheme.with_random_faults(5, 0).faults == ()
    assert Scheme.with_random_faults(5, 1, control="heating only").tank == "none"


@pytest.mark.parametrize("fields, says", [
    ({"faults": ("gremlin",)}, "'gremlin' is not known"),
    ({"faults": ("mixing-valve",)}, "cannot be made on this scheme"),
    ({"faults": ("relief-missing", "relief-isolated")}, "both change the same thing"),
    ({"arrangement": "single loop", "faults": ("tee-spacing",)}, "cannot be made on this scheme"),
])
def test_faults_that_do_not_fit_are_refused(fields, says):
    with pytest.raises(ValueError, match=says):
        Scheme(**fields)


def test_a_fault_spoils_one_boiler_of_several_and_the_finding_names_it():
    scheme = Scheme(boilers=4, faults=("relief-missing",))
    plant = scheme.plant()
    kept = {part.tag for part in plant.of_kind("relief valve")}
    (missing,) = {f"RV{i}" for i in range(1, 5)} - kept
    (finding,) = [f for f in read(plant).findings if f.rule == "relief-missing"]
    assert finding.parts == (missing.replace("RV", "B"),)


def test_every_fault_tells_what_was_done():
    for fault in FAULTS.values():
        assert len(fault.says) > 10 and fault.touches
