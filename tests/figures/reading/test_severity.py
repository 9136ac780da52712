"""How grave each piping rule is, as the design fixed it."""

from __future__ import annotations

import pytest

from figures.plant.faults import FAULTS
from figures.plant.scheme import Scheme
from figures.reading import read

MUST = ("common-pipe-blocked", "loop-pump", "load-straddles", "boiler-isolation", "pump-bypass", "relief-missing", "relief-isolated",
        "expansion-missing", "supply-sensor", "part-reversed", "ports-crossed", "low-temperature-zone")
SHOULD = ("tee-spacing", "valve-fail-position", "lead-boiler", "expansion-point", "ghost-flow", "mixing-valve", "tank-sensor",
          "expansion-isolated")
SEVERITY = {**{key: {"must fix"} for key in MUST}, **{key: {"should fix"} for key in SHOULD},
            "reverse-return": {"should fix", "note"}, "boiler-isolation-local": {"check local code"},
            "zones-shut": {"check local code"}, "proof-of-flow": {"note"}, "low-water": {"note"}}


@pytest.fixture(scope="module")
def seen() -> dict[str, set[str]]:
    """Rule → the severities with which it fires on plants with three faults each."""
    found: dict[str, set[str]] = {}
    for seed in range(150):
        for finding in read(Scheme.with_random_faults(seed, 3).plant()).findings:
            found.setdefault(finding.rule, set()).add(finding.severity)
    return found


def test_each_rule_is_as_grave_as_the_design_says(seen: dict[str, set[str]]) -> None:
    """No rule fires with another severity, and every rule that a fault can fire was seen."""
    assert {rule: found - SEVERITY[rule] for rule, found in seen.items() if found - SEVERITY[rule]} == {}
    assert {fault.rule for fault in FAULTS.values()} - set(seen) == set()
