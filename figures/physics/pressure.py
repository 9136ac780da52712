"""Gauge pressures: at each point of a plant whose pumps run, and in a closed expansion tank whose water is heated.

All points count as standing at one height; what height does is said by `static_kpa`. Gauge pressure is what a gauge on the
wall shows, over that of the air outside.
"""

from __future__ import annotations

from math import inf, pi

from figures.plant.build import EMITTER_L_KW
from figures.plant.model import Plant
from figures.plant.sizing import ATMOSPHERE_KPA

from .solution import Solution
from .water import GRAVITY_MS2, water

STEEL_PER_K = 11.7e-6
"""How much steel grows in length for each kelvin: 6.5e-6 per °F (ASHRAE HVAC Systems and Equipment, hydronic chapter,
second-hand)."""


def static_kpa(height_m: float, water_c: float = 10.0) -> float:
    """Pressure [kPa] under a column of water [m] that stands still.

    >>> round(static_kpa(10.0), 1)
    98.0
    """
    return water(water_c).density_kgm3 * GRAVITY_MS2 * height_m / 1000.0


def head_kpa(found: Solution, head_m: float) -> float:
    """A head [m of the water that flows] as pressure [kPa].

    >>> from figures.plant.scheme import Scheme
    >>> from figures.physics import State, solve
    >>> round(head_kpa(solve(Scheme().plant(), State(water_c=60.0)), 2.0742), 2)     # tests/oracles, H3: 20 kPa
    20.0
    """
    return static_kpa(head_m, found.flow.water.temperature_c)


def pressures_kpa(found: Solution, joint_kpa: float) -> dict[str, float]:
    """Gauge pressure [kPa] at each tee, port and end of a solved plant, by its name.

    joint_kpa: gauge pressure where the expansion tank joins. A pump cannot change it, for it could only do so by moving water
    into the tank or out of it, and the plant is full: the point of no pressure change (ASHRAE HVAC Systems and Equipment,
    hydronic chapter, from memory).

    >>> from figures.plant.scheme import Scheme
    >>> from figures.physics import solve
    >>> at = pressures_kpa(solve(Scheme("single loop", faults=("expansion-point",)).plant()), 100.0)
    >>> round(at["XT"]), at["ET1"] < 90.0
    (100, True)
    """
    return {name: joint_kpa + head_kpa(found, float(row["head_m"] or 0.0)) for name, row in found.nodes.items()}


def in_pipes_l(plant: Plant) -> float:
    """Water in a plant's pipes, separators and buffer tanks [L].

    >>> from figures.plant.scheme import Scheme
    >>> round(in_pipes_l(Scheme(separation="buffer tank").plant()) - in_pipes_l(Scheme().plant())) > 100
    True
    """
    vessels = sum(part.number("volume_l") for part in plant.of_kind("hydraulic separator", "buffer tank"))
    return vessels + sum(pi / 4.0 * run.bore.inside_m**2 * run.length_m * 1000.0 for run in plant.runs)


def water_l(plant: Plant) -> float:
    """Water in a plant [L]: in boilers, vessels and pipes, and beyond them 8 L per kW of heating load (common practice, no
    source).

    >>> from figures.plant.scheme import Scheme
    >>> plant = Scheme().plant()
    >>> water_l(plant) > in_pipes_l(plant) + plant.parts["B1"].number("water_l")
    True
    """
    held = sum(part.number("water_l") for part in plant.of_kind("boiler")) + in_pipes_l(plant)
    return held + EMITTER_L_KW * sum(plant.load_kw(tag) for tag in plant.parts if plant.is_load(tag) and not plant.is_dhw(tag))


def swell_l(litres: float, hot_c: float, cold_c: float = 10.0) -> float:
    """What water of so many litres grows by when it is heated in steel pipes, which grow too [L].

    Source: ASHRAE HVAC Systems and Equipment, hydronic chapter, second-hand: V·(v₂/v₁ − 1 − 3αΔt).

    >>> round(swell_l(1000.0, 80.0), 1)     # 26.27, computed with IAPWS95
    26.3
    """
    ratio = water(cold_c).density_kgm3 / water(hot_c).density_kgm3
    return litres * (ratio - 1.0 - 3.0 * STEEL_PER_K * (hot_c - cold_c))


def tank_kpa(tank_l: float, swelled_l: float, fill_kpa: float, precharge_kpa: float | None = None) -> float:
    """Gauge pressure [kPa] in a closed plant whose water has grown, by the gas that is left in its expansion tank.

    tank_l: its size [L].  swelled_l: what it has to take up [L].  fill_kpa: gauge pressure of the cold, filled plant.
    precharge_kpa: gauge pressure of the tank's gas before there was any water on it; the fill pressure unless said. A lower one
    lets water in on filling; a higher one lets none in before the plant has reached it. Gas at one temperature: pressure times
    volume stays (Boyle). `inf` where the gas has no room left.

    >>> round(tank_kpa(57.38, 26.269, 100.0))     # sized for 270 kPa
    270
    >>> tank_kpa(57.38, 26.269, 100.0, 0.0) > 1000.0
    True
    """
    fill, gas = fill_kpa + ATMOSPHERE_KPA, (fill_kpa if precharge_kpa is None else precharge_kpa) + ATMOSPHERE_KPA
    if gas >= fill:
        start, room = (fill if swelled_l <= 0.0 else gas), tank_l
    else:
        start, room = fill, tank_l * gas / fill
    if swelled_l >= room:
        return inf
    return start * room / (room - max(swelled_l, 0.0)) - ATMOSPHERE_KPA
