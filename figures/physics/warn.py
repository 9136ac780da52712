"""What a technician should look at in a solved plant, one short sentence each."""

from __future__ import annotations

from collections.abc import Iterator
from math import pi
from typing import TYPE_CHECKING

from .heat import own_pumps

if TYPE_CHECKING:
    from .solution import Solution

COLD_RETURN_C = 54.0
"""Non-condensing boilers want their return at or above about 54 to 60 °C: common practice; dew point below."""
FAST_SMALL_MS, FAST_SMALL_UP_TO_M = 1.5, 0.0526
STEEP_PA_PER_M = 392.0
"""Sizing goes by 4 ft/s (1.2 m/s) up to 2 in and 4 ft per 100 ft (392 Pa/m) above (ASHRAE Fundamentals, pipe
sizing, from memory); a quarter more than that is told for small pipe: common practice, no source."""
NO_FLOW_LPS = 1e-4


def warnings(solution: Solution) -> Iterator[str]:
    """Boilers first, then loads, pumps and pipes, in the order of the file.

    >>> from figures.physics import State, solve
    >>> from figures.plant.scheme import Scheme
    >>> next(warnings(solve(Scheme("single loop").plant(), State(off="PS"))))
    'B1: no water passes it; its burner may not fire.'
    """
    yield from _boilers(solution)
    yield from _loads(solution)
    yield from _pumps(solution)
    yield from _pipes(solution)


def _boilers(solution: Solution) -> Iterator[str]:
    for part in solution.plant.of_kind("boiler"):
        tag, row = part.tag, solution.parts[part.tag]
        flow, made = solution.lps(tag), row["heat_kw"] or 0.0
        own = own_pumps(solution.flow, tag)
        meant = tag not in solution.state.idle and not (own and all(solution.pump_is_off(p) for p in own))
        if not meant:
            continue
        if flow < -NO_FLOW_LPS:
            yield f"{tag}: water passes it backwards ({flow:.2f} L/s); its burner may not fire."
        elif flow <= NO_FLOW_LPS:
            yield f"{tag}: no water passes it; its burner may not fire."
        elif flow < part.number("min_flow_lps"):
            yield f"{tag}: {flow:.2f} L/s is below its least flow of {part.number('min_flow_lps'):.2f} L/s."
        inlet = row["inlet_c"]
        if made > 0.0 and inlet is not None and inlet < COLD_RETURN_C and not part["condensing"]:
            yield f"{tag}: its return is {inlet:.0f} °C, too cold for a boiler that is not built to condense " \
                  f"(about {COLD_RETURN_C:.0f} °C at least; the maker's figure rules)."


def _loads(solution: Solution) -> Iterator[str]:
    for tag in solution.plant.parts:
        if solution.plant.is_load(tag):
            if solution.lps(tag) < -NO_FLOW_LPS:
                yield f"{tag}: water passes it backwards ({solution.lps(tag):.2f} L/s)."
            if solution.heat.heat_kw[tag] < -0.05:
                yield f"{tag}: it is hotter than the water and gives {-solution.heat.heat_kw[tag]:.1f} kW back to it."


def _pumps(solution: Solution) -> Iterator[str]:
    for part in solution.plant.of_kind("pump"):
        tag = part.tag
        if solution.pump_is_off(tag):
            continue
        sign = solution.flow.prepared.topology.part_sign(tag)
        flow, head = solution.lps(tag) * sign, solution.pump_head_m(tag) * sign
        if flow < -NO_FLOW_LPS:
            yield f"{tag}: it runs, but water is pushed back through it ({-flow:.2f} L/s)."
        elif flow <= NO_FLOW_LPS:
            yield f"{tag}: it runs against a closed way; no water passes it."
        elif head < 0.0:
            yield f"{tag}: {flow:.2f} L/s is past the end of its curve."


def _pipes(solution: Solution) -> Iterator[str]:
    for index, run in enumerate(solution.plant.runs):
        flow = abs(solution.flow.run_lps(index)) / 1000.0
        inside = run.bore.inside_m
        speed = flow / (pi * inside**2 / 4.0)
        name = solution.plant.run_names[index]
        if inside <= FAST_SMALL_UP_TO_M:
            if speed > FAST_SMALL_MS:
                yield f"{name}: {speed:.1f} m/s is fast for this size (about {FAST_SMALL_MS} m/s at most)."
        else:
            steep = solution.pipe_pa_per_m(index)
            if steep > STEEP_PA_PER_M:
                yield f"{name}: {steep:.0f} Pa/m is steep ({STEEP_PA_PER_M:.0f} Pa/m at most; {speed:.1f} m/s)."
