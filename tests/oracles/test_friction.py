"""Friction, pipe and valves against `fluids` (Clamond's solution of Colebrook–White) and published tables."""

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from figures.physics.friction import friction_factor
from figures.physics.links import Pieces, PipeLaw, k_coefficient, kv_coefficient
from figures.physics.water import GRAVITY_MS2, water
from figures.plant import SIZES

# Re, ε/D, Darcy factor: computed with fluids.friction_factor, equal to Colebrook(tol=0) to 8 digits.
COLEBROOK = [(4e3, 0, 0.039907), (4e3, 1e-3, 0.040910), (1e4, 0, 0.030883), (1e4, 1e-3, 0.032382),
             (3e4, 5e-4, 0.024782), (5e4, 1e-3, 0.024021), (1e5, 0, 0.017990), (1e5, 1e-4, 0.018514),
             (1e5, 1e-3, 0.022175), (2e5, 3e-5, 0.015880), (5e5, 4.5e-4, 0.017344), (1e6, 1e-4, 0.013441),
             (1e7, 1e-3, 0.019667), (1e8, 1e-2, 0.037904)]


@pytest.mark.parametrize(("re", "rough", "factor"), COLEBROOK)
def test_turbulent_factor_agrees_with_the_table(re: float, rough: float, factor: float) -> None:
    """To the last digit printed."""
    assert float(friction_factor(re, rough)) == pytest.approx(factor, abs=6e-7)


@given(st.floats(4.0e3, 1e8), st.floats(0.0, 0.05))
def test_turbulent_factor_agrees_with_fluids_everywhere(re: float, rough: float) -> None:
    """fluids.friction_factor solves the same equation by another method; 1e-7 between them."""
    assert float(friction_factor(re, rough)) == pytest.approx(fluids.friction_factor(re, rough), rel=1e-7)


@pytest.mark.parametrize(("re", "factor"), [(500, 0.128), (1000, 0.064), (2000, 0.032)])
def test_laminar_factor_is_64_over_re_at_any_roughness(re: float, factor: float) -> None:
    """Hagen and Poiseuille."""
    assert friction_factor([re, re], [0.0, 0.02]) == pytest.approx([factor, factor], rel=1e-12)


@given(st.floats(0.0, 0.05), st.floats(1900.0, 4200.0))
def test_head_rises_with_flow_through_the_bridge_without_a_step(rough: float, re: float) -> None:
    """f·Re² (which head follows) rises all along from laminar to turbulent, and f never jumps."""
    near = friction_factor([re, re * 1.0001], rough)
    assert near[1] * (re * 1.0001) ** 2 > near[0] * re**2
    assert abs(near[1] - near[0]) < 5e-5


@pytest.mark.parametrize("rough", [0.0, 1e-3, 0.02])
def test_the_bridge_is_the_cubic_between_its_ends(rough: float) -> None:
    """From 64/Re at Re 2000 to Colebrook and White at 4000, value and slope at both ends (Rossman 2000, from memory): Hermite's
    cubic by hand, the slope at 4000 a difference quotient of `fluids`."""
    last = fluids.friction_factor(4000.0, rough)
    slope = (fluids.friction_factor(4002.0, rough) - last) / 2.0 * 2000.0
    for u in (0.05, 0.25, 0.5, 0.75, 0.95):
        by_hand = 0.032 * (1 + u) * (1 - u) ** 2 + last * u**2 * (3 - 2 * u) - slope * u**2 * (1 - u)
        assert float(friction_factor(2000.0 + 2000.0 * u, rough)) == pytest.approx(by_hand, rel=2e-5)


@pytest.mark.parametrize("bad", [(-1.0, 0.0), (0.0, 0.0), (1e4, 0.06), (float("nan"), 0.0)])
def test_a_bad_entry_is_named(bad: tuple[float, float]) -> None:
    """The message tells which entry, and what it may be."""
    with pytest.raises(ValueError, match="entry 1"):
        friction_factor([1e4, bad[0]], [0.0, bad[1]])


# Size, L/s, Re and Pa/m at 60 °C, ft per 100 ft at 60 °F: computed with fluids and IAPWS95 on the mm sizes.
STRAIGHT = [("NPS 1/2", 0.1262, 21506, 403.67, 4.817), ("NPS 1", 0.5047, 50892, 389.38, 4.533),
            ("NPS 1-1/4", 1.0094, 77295, 361.07, 4.163), ("NPS 1-1/2", 1.5773, 103486, 386.75, 4.423),
            ("NPS 2", 2.8391, 145315, 338.05, 3.843), ("NPS 3", 8.2017, 282738, 349.17, 3.912),
            ("NPS 4", 15.7725, 414309, 309.72, 3.450), ("CU 1", 0.5047, 52074, 354.99, 4.475),
            ("CU 2", 2.8391, 151255, 329.90, 4.072)]


def pa_per_m(size: str, lps: float, t_c: float) -> tuple[float, float]:
    """Pa/m and m per 100 m of straight pipe, by the law that the solver uses."""
    bore, properties = SIZES[size], water(t_c)
    law = PipeLaw(Pieces(np.array([0]), np.array([1.0]), np.array([bore.inside_m]), np.array([bore.roughness_m]), 1),
                  properties.viscosity_m2s)
    flow = np.array([lps / 1000.0])
    ratio, _, _ = law(flow, law.guess(flow))
    head = float(ratio[0] * flow[0])
    return head * properties.density_kgm3 * GRAVITY_MS2, head * 100.0


@pytest.mark.parametrize(("size", "lps", "re", "pa", "feet"), STRAIGHT)
def test_straight_pipe_loss(size: str, lps: float, re: float, pa: float, feet: float) -> None:
    """Within 0.05 %: the table rounds its flows to 0.1 mL/s."""
    assert pa_per_m(size, lps, 60.0)[0] == pytest.approx(pa, rel=5e-4)
    assert pa_per_m(size, lps, (60.0 - 32.0) / 1.8)[1] == pytest.approx(feet, rel=7e-4)
    assert 4 * lps / 1000 / (np.pi * SIZES[size].inside_m * water(60.0).viscosity_m2s) == pytest.approx(re, rel=5e-4)


# Rishel, HVAC Pump Handbook (2006), Table 3.5: gpm, ft per 100 ft at 60 °F, ε = 0.00015 ft.
@pytest.mark.parametrize(("size", "gpm", "feet"), [
    ("NPS 2-1/2", 50, 1.94), ("NPS 2-1/2", 80, 4.66), ("NPS 3", 60, 0.92), ("NPS 3", 100, 2.39),
    ("NPS 3", 130, 3.92), ("NPS 4", 150, 1.32)])
def test_straight_pipe_loss_as_published(size: str, gpm: float, feet: float) -> None:
    """Within 1.5 %: ours are metric bores and 0.045 mm instead of 0.0457 mm."""
    assert pa_per_m(size, gpm * 0.0630901964, (60.0 - 32.0) / 1.8)[1] == pytest.approx(feet, rel=0.015)


@pytest.mark.parametrize("size", [name for name in SIZES if name.startswith("NPS")])
def test_steel_bores_are_the_standards(size: str) -> None:
    """ASME B36.10M schedule 40 as `fluids.nearest_pipe` holds it."""
    whole, _, part = size.removeprefix("NPS ").partition("-")
    number = sum(float(n) / float(d or 1) for n, _, d in (x.partition("/") for x in (whole, part) if x))
    assert SIZES[size].inside_m == pytest.approx(fluids.nearest_pipe(NPS=number, schedule="40")[1], abs=1e-9)


@pytest.mark.parametrize(("kv", "inside_mm"), [(4, 26.64), (12, 40.94), (25, 52.48), (100, 102.26)])
def test_kv_as_a_loss_coefficient_agrees_with_fluids(kv: float, inside_mm: float) -> None:
    """fluids.Kv_to_K rounds the constant by 0.07 %."""
    outside = k_coefficient(fluids.Kv_to_K(kv, inside_mm / 1000.0), inside_mm / 1000.0)
    assert kv_coefficient(kv) == pytest.approx(outside, rel=8e-4)


def test_kv_loss_by_hand() -> None:
    """Kv 12 at 5.12 m³/h: 18.20 kPa of cold water, 1.856 m."""
    assert kv_coefficient(12.0) * (5.12 / 3600.0) ** 2 == pytest.approx(1.856, abs=5e-4)


@given(st.sampled_from(sorted(SIZES)), st.floats(1e-7, 3e-2), st.floats(5.0, 95.0))
def test_slope_is_the_derivative_of_the_loss(size: str, flow: float, t_c: float) -> None:
    """Newton's slope against a difference quotient, in every regime."""
    bore = SIZES[size]
    law = PipeLaw(Pieces(np.array([0]), np.array([7.0]), np.array([bore.inside_m]), np.array([bore.roughness_m]), 1),
                  water(t_c).viscosity_m2s)

    def loss(q: float) -> tuple[float, float]:
        at = np.array([q])
        ratio, slope, _ = law(at, law.guess(at))
        return float(ratio[0] * q), float(slope[0])

    step = 1e-5 * flow
    quotient = (loss(flow + step)[0] - loss(flow - step)[0]) / (2.0 * step)
    assert loss(flow)[1] == pytest.approx(quotient, rel=5e-3)
