"""Plain sizing against published and computed check values.

Friction rows: fluids 1.3.1 (`friction_factor`, Colebrook) and iapws 1.5.5 at 60 °C; Swamee and Jain is within
2 % of Colebrook. Expansion: IAPWS-95 volumes at 0.3 MPa in the formula of the ASHRAE hydronic chapter.
"""

from __future__ import annotations

import pytest

from figures.plant.pipe import SIZES, STEEL_INSIDE_MM
from figures.plant.sizing import (
    FASTEST_SMALL_M_S,
    STEEPEST_PA_M,
    expansion_litres,
    fill_kpa,
    friction_factor,
    gradient_pa_m,
    kv_for,
    larger_size,
    pick_size,
    pump_figures,
    relief_kpa,
    spacing_m,
    valve_kv,
    valve_loss_m,
    velocity_m_s,
)


@pytest.mark.parametrize("reynolds, roughness, factor", [
    (4e3, 0.0, 0.040551), (1e4, 1e-3, 0.032665), (1e5, 1e-3, 0.022342), (2e5, 3e-5, 0.015804), (1e7, 1e-3, 0.019686),
    (500.0, 0.0, 0.128), (2000.0, 0.01, 0.032)])
def test_friction_factor_is_swamee_and_jain_above_the_laminar_law(reynolds, roughness, factor):
    assert friction_factor(reynolds, roughness) == pytest.approx(factor, rel=5e-5)


@pytest.mark.parametrize("size, flow, velocity, gradient", [
    ("NPS 1/2", 0.1262, 0.647, 403.67), ("NPS 1", 0.5047, 0.906, 389.38), ("NPS 1-1/2", 1.5773, 1.198, 386.75),
    ("NPS 2", 2.8391, 1.313, 338.05), ("NPS 4", 15.7725, 1.920, 309.72), ("CU 1", 0.5047, 0.948, 354.99),
    ("CU 2", 2.8391, 1.422, 329.90)])
def test_velocity_and_gradient(size, flow, velocity, gradient):
    assert velocity_m_s(flow, size) == pytest.approx(velocity, abs=6e-4)
    assert gradient_pa_m(flow, size) == pytest.approx(gradient, rel=0.02)


def test_still_water_loses_nothing():
    assert gradient_pa_m(0.0, "NPS 1") == 0.0


@pytest.mark.parametrize("pipe, first", [("steel", "NPS"), ("copper", "CU")])
def test_the_smallest_size_that_serves_is_picked(pipe, first):
    for step in range(1, 60):
        flow = 0.1 * step
        size = pick_size(flow, pipe)
        smaller = [name for name, bore in SIZES.items() if name.startswith(first) and bore.inside_m > 0.018
                   and bore.inside_m < SIZES[size].inside_m]
        assert size.startswith(first) and gradient_pa_m(flow, size) <= STEEPEST_PA_M + 1e-6
        for name in smaller:
            too_fast = velocity_m_s(flow, name) > FASTEST_SMALL_M_S - 1e-6
            assert too_fast or gradient_pa_m(flow, name) > STEEPEST_PA_M - 1e-6, (flow, size, name)


def test_copper_goes_over_to_steel_beyond_four_inches():
    assert pick_size(25.0, "copper").startswith("NPS")
    with pytest.raises(ValueError, match=f"more than NPS {[*STEEL_INSIDE_MM][-1]} carries"):
        pick_size(90.0)


def test_valves():
    assert valve_loss_m(5.12 / 3.6, 12.0) == pytest.approx(1.856, abs=1e-3)
    assert valve_loss_m(1.0, kv_for(1.0, 10.0)) == pytest.approx(10.0 / 9.80665, rel=0.1)
    for flow in (0.05, 0.4, 1.0, 7.0, 30.0):
        assert valve_loss_m(flow, valve_kv(flow, 6.0)) <= 6.0 / 9.80665 * 1.001
        assert valve_kv(flow, 6.0) < 2.0 * kv_for(flow, 6.0)


def test_pumps_have_head_in_hand_and_a_falling_curve():
    for head in (0.1, 1.0, 3.3, 9.0):
        figures = pump_figures(1.234567, head)
        assert figures["shutoff_m"] > figures["rated_m"] >= max(head, 1.0)
        assert figures["rated_lps"] == 1.23


def test_expansion_tank():
    # 1000 L from 10 °C, filled to 83 kPa under a relief valve of 207 kPa, so at most 186 kPa: computed
    # 0.026269 (80 °C) and 0.032822 (90 °C) over 1 − (82.88 + 101.325)/(186.3 + 101.325).
    room = 1.0 - (fill_kpa(5.6) + 101.325) / (0.9 * 207.0 + 101.325)
    assert expansion_litres(1000.0, 5.6, 80.0) == pytest.approx(26.269 / room, abs=10.0)
    assert expansion_litres(1000.0, 5.6, 90.0) == pytest.approx(32.822 / room, abs=10.0)
    assert expansion_litres(1000.0, 5.6) >= 26.269 / room
    assert expansion_litres(10.0, 5.6) == 8.0


def test_relief_setting_leaves_room_above_the_fill():
    assert fill_kpa(5.6) == pytest.approx(83.0, abs=0.5)
    for height in (3.0, 8.0, 15.0, 25.0, 40.0):
        assert 0.9 * relief_kpa(height) - fill_kpa(height) >= 90.0


def test_spacing_is_never_more_than_asked():
    for size, bore in SIZES.items():
        for diameters in (0.5, 2.5, 3.3, 4.0):
            assert 0.0 <= diameters * bore.inside_m - spacing_m(diameters, size) < 1.01e-4
    assert larger_size("CU 2", "NPS 2") == "NPS 2"
