"""Pipe sizes: inside diameter and roughness by name."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Bore:
    """The inside of a pipe: diameter and roughness, both in metres."""

    inside_m: float
    roughness_m: float


# ASME B36.10M schedule 40, inside diameter in mm from the standard's rounded metric outside diameter and
# wall; the same figures as `fluids.nearest_pipe(NPS=…, schedule='40')`, which tests/oracles compares.
STEEL_INSIDE_MM = {
    "1/2": 15.76, "3/4": 20.96, "1": 26.64, "1-1/4": 35.08, "1-1/2": 40.94, "2": 52.48,
    "2-1/2": 62.68, "3": 77.92, "4": 102.26, "5": 128.20, "6": 154.08,
}
# ASTM B88 type L: outside (nominal + 1/8 in) less twice the wall, in mm.
COPPER_INSIDE_MM = {
    "1/2": 13.843, "3/4": 19.939, "1": 26.035, "1-1/4": 32.131, "1-1/2": 38.227, "2": 50.419,
    "2-1/2": 62.611, "3": 74.803, "4": 98.984,
}
# Moody 1944, from memory: commercial steel 0.045 mm, drawn tubing 0.0015 mm.
STEEL_ROUGHNESS_MM = 0.045
COPPER_ROUGHNESS_MM = 0.0015

SIZES: dict[str, Bore] = {
    **{f"NPS {n}": Bore(mm / 1000, STEEL_ROUGHNESS_MM / 1000) for n, mm in STEEL_INSIDE_MM.items()},
    **{f"CU {n}": Bore(mm / 1000, COPPER_ROUGHNESS_MM / 1000) for n, mm in COPPER_INSIDE_MM.items()},
}
"""Every named size.

>>> SIZES["NPS 2"].inside_m
0.05248
"""
