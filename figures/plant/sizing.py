"""Plain sizing as a designer does it on paper: pipes, valves, pumps and the expansion tank from the loads.

Only what is needed to make plants that look right; what the water really does is worked out elsewhere, by
the solver, from the finished plant. Water is taken at 60 °C throughout (IAPWS-95: 983.2 kg/m³, 0.474 mm²/s).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping
from functools import cache

from .pipe import SIZES

KW_PER_LPS_K = 4.115
"""Heat carried by 1 L/s cooled by 1 K at 60 °C: density times heat capacity [kW], IAPWS-95."""
DENSITY_KG_M3 = 983.2
VISCOSITY_M2_S = 0.474e-6
GRAVITY_M_S2 = 9.80665
ATMOSPHERE_KPA = 101.325
FASTEST_SMALL_M_S = 1.2
"""In pipes up to 2 in: ASHRAE Fundamentals, pipe sizing chapter (4 ft/s), from memory."""
FASTEST_LARGE_M_S = 2.4
"""In larger pipes: common practice, no source."""
STEEPEST_PA_M = 330.0
"""ASHRAE Fundamentals, pipe sizing chapter, from memory, has 4 ft per 100 ft (about 390 Pa/m) at most. Some is
left in hand, for pumps are a little large and the nearest branches take more than their share."""
SMALL_M = 0.0533
"""Largest inside diameter to which `FASTEST_SMALL_M_S` holds (NPS 2 and type L 2)."""

# The Kv of valves on sale runs in steps of about 1.6 (preferred numbers, ISO 3, R5): 1, 1.6, 2.5, 4, 6.3.
_KV_STEPS = tuple(
    round(step * 10.0**power, 3) for power in range(-1, 4) for step in (1.0, 1.6, 2.5, 4.0, 6.3)
)
RELIEF_SETTINGS_KPA = (207.0, 310.0, 414.0, 517.0, 690.0, 862.0)
"""30 psi and upwards: the usual settings of heating relief valves (common practice)."""


def flow_lps(heat_kw: float, difference_k: float) -> float:
    """Flow that carries `heat_kw` at a temperature difference of `difference_k`, in L/s.

    >>> round(flow_lps(100.0, 20.0), 3)
    1.215
    """
    return heat_kw / (KW_PER_LPS_K * difference_k)


def velocity_m_s(flow: float, size: str) -> float:
    """Mean velocity of a flow [L/s] in a named pipe size, in m/s.

    >>> round(velocity_m_s(2.8391, "NPS 2"), 3)
    1.313
    """
    return flow / 1000.0 / (math.pi / 4.0 * SIZES[size].inside_m ** 2)


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor: 64/Re below 2000, Swamee and Jain (1976) above.

    >>> round(friction_factor(1e5, 1e-3), 6)
    0.022342
    """
    if reynolds <= 2000.0:
        return 64.0 / max(reynolds, 1e-9)
    return 0.25 / math.log10(relative_roughness / 3.7 + 5.74 / reynolds**0.9) ** 2


def gradient_pa_m(flow: float, size: str) -> float:
    """Friction loss of a flow [L/s] in a metre of a named pipe size, in Pa/m (Darcy–Weisbach).

    >>> round(gradient_pa_m(2.8391, "NPS 2"))
    341
    """
    if flow <= 0.0:
        return 0.0
    bore = SIZES[size]
    speed = velocity_m_s(flow, size)
    factor = friction_factor(speed * bore.inside_m / VISCOSITY_M2_S, bore.roughness_m / bore.inside_m)
    return factor / bore.inside_m * DENSITY_KG_M3 * speed**2 / 2.0


@cache
def _most_flow(size: str) -> float:
    """The largest flow [L/s] that a size may carry under the limits above."""
    low, high = 0.0, 200.0
    fastest = FASTEST_SMALL_M_S if SIZES[size].inside_m <= SMALL_M else FASTEST_LARGE_M_S
    for _ in range(50):
        middle = (low + high) / 2.0
        fits = velocity_m_s(middle, size) <= fastest and gradient_pa_m(middle, size) <= STEEPEST_PA_M
        low, high = (middle, high) if fits else (low, middle)
    return low


@cache
def _ladder(pipe: str) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """The sizes a main or branch may take, smallest first, and the most flow of each. None under 3/4 in."""
    names = [name for name in SIZES if name.startswith("NPS ")]
    if pipe == "copper":
        copper = [name for name in SIZES if name.startswith("CU ")]
        names = copper + [name for name in names if SIZES[name].inside_m > SIZES[copper[-1]].inside_m + 0.01]
    names = [name for name in names if SIZES[name].inside_m > 0.018]
    return tuple(_most_flow(name) for name in names), tuple(names)


def pick_size(flow: float, pipe: str = "steel") -> str:
    """The smallest pipe size that carries `flow` [L/s] within the limits on velocity and friction.

    pipe: 'steel' (ASME B36.10M schedule 40) or 'copper' (ASTM B88 type L, and steel beyond 4 in).
    Raises ValueError where even the largest size is too small.

    >>> pick_size(1.3), pick_size(1.3, "copper")
    ('NPS 1-1/2', 'CU 1-1/2')
    """
    most, names = _ladder(pipe)
    place = bisect_left(most, flow)
    if place == len(names):
        raise ValueError(
            f"{flow:.1f} L/s is more than {names[-1]} carries; use less load or a larger temperature "
            "difference"
        )
    return names[place]


def larger_size(*sizes: str) -> str:
    """The size with the widest bore.

    >>> larger_size("NPS 1", "NPS 2", "CU 2")
    'NPS 2'
    """
    return max(sizes, key=lambda size: SIZES[size].inside_m)


def spacing_m(diameters: float, size: str) -> float:
    """Length of pipe between two tees, to a tenth of a millimetre, never more than asked for.

    >>> spacing_m(4.0, "NPS 2")
    0.2099
    """
    return math.floor(diameters * SIZES[size].inside_m * 1e4) / 1e4


def pipe_loss_m(flow: float, size: str, length_m: float, k: float) -> float:
    """Head lost by a flow [L/s] in a run of pipe and its fittings, in m of the water flowing."""
    head = velocity_m_s(flow, size) ** 2 / (2.0 * GRAVITY_M_S2)
    return gradient_pa_m(flow, size) * length_m / (DENSITY_KG_M3 * GRAVITY_M_S2) + k * head


def valve_loss_m(flow: float, kv_m3h: float) -> float:
    """Head lost by a flow [L/s] in a part of that Kv, in m (IEC 60534: 1 bar of cold water at Kv m³/h).

    >>> round(valve_loss_m(5.12 / 3.6, 12.0), 3)
    1.856
    """
    return 10.19716 * (3.6 * flow / kv_m3h) ** 2


def kv_for(flow: float, drop_kpa: float) -> float:
    """Kv [m³/h] at which a flow [L/s] loses `drop_kpa`, to two figures.

    >>> kv_for(1.0, 10.0)
    11.0
    """
    return _two_figures(3.6 * flow / math.sqrt(drop_kpa / 100.0))


def valve_kv(flow: float, drop_kpa: float) -> float:
    """The next Kv on sale [m³/h] with which a flow [L/s] loses at most `drop_kpa`.

    >>> valve_kv(1.0, 10.0)
    16.0
    """
    wanted = 3.6 * flow / math.sqrt(drop_kpa / 100.0)
    return _KV_STEPS[min(bisect_left(_KV_STEPS, wanted), len(_KV_STEPS) - 1)]


def _two_figures(value: float) -> float:
    return float(f"{value:.2g}")


def pump_figures(flow: float, head_m: float) -> dict[str, float]:
    """The curve of a pump for a flow [L/s] and a head [m]: a tenth of head in hand, a third more at no flow.

    >>> pump_figures(1.6, 3.7)
    {'shutoff_m': 5.5, 'rated_lps': 1.6, 'rated_m': 4.1}
    """
    rated = math.ceil(max(head_m * 1.1, 1.0) * 10.0) / 10.0
    return {"shutoff_m": math.ceil(rated * 13.3) / 10.0, "rated_lps": float(f"{flow:.3g}"), "rated_m": rated}


def fill_kpa(height_m: float) -> float:
    """Cold fill pressure at the tank [kPa gauge] under `height_m` of water: static height and 28 kPa at the top.

    Common practice (4 psi at the highest point).
    """
    return 9.8 * height_m + 28.0


def relief_kpa(height_m: float) -> float:
    """A relief setting [kPa gauge] that leaves the expansion tank room to work in.

    >>> relief_kpa(5.6), relief_kpa(20.0)
    (207.0, 414.0)
    """
    least = (fill_kpa(height_m) + 90.0) / 0.9
    return next((setting for setting in RELIEF_SETTINGS_KPA if setting >= least), RELIEF_SETTINGS_KPA[-1])


def expansion_litres(water_l: float, height_m: float, hot_c: float = 80.0) -> float:
    """Size of a closed diaphragm tank [L] for `water_l` of water heated from 10 °C to `hot_c` in steel pipe.

    ASHRAE HVAC Systems and Equipment, hydronic chapter (second-hand): V = Vs·(v₂/v₁ − 1 − 3αΔt)/(1 − P₁/P₂),
    P₂ a tenth under the relief setting. v₂/v₁ − 1 is fitted to IAPWS-95 (0.028726 at 80 °C, 0.035630 at 90 °C).

    >>> 60 < expansion_litres(1000.0, 5.6) < 90
    True
    """
    swell = 0.028726 * ((hot_c - 4.0) / 76.0) ** 1.74 - 3.0 * 11.7e-6 * (hot_c - 10.0)
    p_1 = fill_kpa(height_m) + ATMOSPHERE_KPA
    p_2 = 0.9 * relief_kpa(height_m) + ATMOSPHERE_KPA
    litres = water_l * swell / (1.0 - p_1 / p_2)
    step = 5.0 if litres < 50.0 else 10.0 if litres < 200.0 else 50.0
    return max(8.0, math.ceil(litres / step) * step)


def run_litres(run: Mapping[str, object]) -> float:
    """Water in a run of a plant file's data, in L."""
    size, length = run["size"], run["length_m"]
    assert isinstance(size, str) and isinstance(length, float)
    return math.pi / 4.0 * SIZES[size].inside_m ** 2 * length * 1000.0
