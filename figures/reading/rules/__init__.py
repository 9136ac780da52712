"""The piping rules: one function each, gathered here and run on every plant.

A rule takes a `Context` and yields findings. To add one: write it in the file it belongs to, name its source
in its docstring, and put it in `rules`; DEVELOPERS.md, 'How to add', says what goes with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from figures.reading.record import SEVERITIES, Finding, Reading

if TYPE_CHECKING:
    from figures.reading.survey import Survey

    from .context import Context

    Rule = Callable[[Context], Iterator[Finding]]


def rules() -> dict[str, Rule]:
    """Every rule by its name."""
    from . import boilers, ghost, loads, pumps, safety, separation

    return {
        "tee-spacing": separation.tee_spacing,
        "common-pipe-blocked": separation.common_pipe_blocked,
        "loop-pump": separation.loop_pump,
        "load-straddles": separation.load_straddles,
        "ports-crossed": separation.ports_crossed,
        "boiler-isolation": boilers.boiler_isolation,
        "boiler-isolation-local": boilers.boiler_isolation_local,
        "valve-fail-position": boilers.valve_fail_position,
        "reverse-return": boilers.reverse_return,
        "lead-boiler": boilers.lead_boiler,
        "proof-of-flow": boilers.proof_of_flow,
        "low-water": boilers.low_water,
        "pump-bypass": pumps.pump_bypass,
        "zones-shut": pumps.zones_shut,
        "part-reversed": pumps.part_reversed,
        "relief-missing": safety.relief_missing,
        "relief-isolated": safety.relief_isolated,
        "expansion-missing": safety.expansion_missing,
        "expansion-isolated": safety.expansion_isolated,
        "expansion-point": safety.expansion_point,
        "supply-sensor": loads.supply_sensor,
        "tank-sensor": loads.tank_sensor,
        "mixing-valve": loads.mixing_valve,
        "low-temperature-zone": loads.low_temperature_zone,
        "ghost-flow": ghost.ghost_flow,
    }


def judge(found: Survey, reading: Reading) -> tuple[Finding, ...]:
    """Every finding, sorted by severity, then by rule, then by parts."""
    from .context import Context

    context = Context(found, reading)
    findings = [finding for rule in rules().values() for finding in rule(context)]
    return tuple(sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), f.rule, f.parts)))
