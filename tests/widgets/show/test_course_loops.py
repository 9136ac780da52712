"""What the lessons on loops show: true for any seed, and checked by other sums than the solver's."""

from __future__ import annotations

from math import pi

import pytest

from figures.physics.water import water
from figures.reading import read
from widgets.show import course_dhw, course_loops, course_meet

SEEDS = (3, 404)
every_seed = pytest.mark.parametrize("seed", SEEDS)


@every_seed
def test_each_bypass_serves_one_moment_and_both_serve_both(seed: int) -> None:
    """None, across the boilers, across the zones, both: with the boilers shut, and with the zones shut."""
    shown = course_loops.two_bypasses(course_loops.two_boilers(seed))
    assert [[flow > 0.1 for flow in row] for row in zip(shown.column(1), shown.column(2))] == [
        [False, False], [True, False], [False, True], [True, True]]


@every_seed
def test_a_boiler_of_little_water_is_starved_sooner(seed: int) -> None:
    """One zone shut leaves the first boiler unharmed and the second below the flow that it asks for."""
    shown = course_loops.boilers_compared(course_loops.one_loop(seed))
    assert shown.value(3, 2) < shown.value(4, 2) < shown.value(2, 2) < shown.value(3, 1)


def test_a_boiler_warms_its_own_water_as_a_kettle_does() -> None:
    """110 L by 10 K at 100 kW: 110 · 0.9778 · 4.19 · 10 / 100 = 45.1 s, with the water of 70 °C."""
    plant = course_loops.changed(course_loops.one_loop(1), "B1", water_l=110.0, output_kw=100.0)
    assert course_loops.warms_s(plant.parts["B1"]) == pytest.approx(45.07, abs=0.05)


@every_seed
def test_mixing_is_what_the_rule_says_in_all_three_cases(seed: int) -> None:
    """Supply and boiler return by hand, from flows and the two temperatures that enter."""
    plant = course_meet.meeting(seed)
    for words, share in course_meet.CASES:
        one = course_meet.flow_ratio(plant, share)
        m_b, m_s, hot, back = one.lps("B1"), one.lps("E1"), one.parts["B1"]["outlet_c"], one.parts["E1"]["outlet_c"]
        supply = (m_b * hot + (m_s - m_b) * back) / m_s if m_b < m_s else hot
        home = (m_s * back + (m_b - m_s) * hot) / m_b if m_b > m_s else back
        assert (one.parts["E1"]["inlet_c"], one.parts["B1"]["inlet_c"]) == pytest.approx((supply, home), abs=0.01), words


@every_seed
def test_the_pressure_between_the_tees_is_that_of_the_pipe_alone(seed: int) -> None:
    """Darcy and Weisbach with the factor of the library `fluids`, over 4 and over 40 inside diameters."""
    fluids = pytest.importorskip("fluids")
    plant = course_meet.meeting(seed)
    shown = course_meet.spacing(plant)
    bore = plant.runs[course_meet.common_pipe(plant)].bore
    fluid = water(60.0)
    for row, apart in enumerate((4.0, 40.0)):
        there = course_meet.spaced(plant, apart)
        flow = abs(course_loops.found(there, off=("PB1",)).flow.run_lps(course_meet.common_pipe(plant))) / 1000.0
        speed = flow / (pi / 4.0 * bore.inside_m**2)
        factor = fluids.friction_factor(speed * bore.inside_m / fluid.viscosity_m2s, bore.roughness_m / bore.inside_m)
        assert shown.value(row, 2) == pytest.approx(factor * apart * fluid.density_kgm3 * speed**2 / 2000.0, rel=0.02)


@every_seed
def test_a_stronger_boiler_pump_ends_in_a_warmer_return_alone(seed: int) -> None:
    """The supply stops rising, the return does not."""
    shown = course_meet.bigger_pump(course_meet.meeting(seed))
    first, *_, before, last = shown.column(3)
    assert before == pytest.approx(last, abs=0.05) and first < last - 5.0
    assert shown.column(4)[-1] > shown.column(4)[-2] + 1.0


def test_a_speed_that_nothing_reaches_is_refused() -> None:
    """Named, with the pump."""
    with pytest.raises(ValueError, match="no speed of PB1 gives 99"):
        course_loops.speed_for(course_meet.meeting(1), "PB1", 99.0, lambda s: s.lps("B1"))
    with pytest.raises(ValueError, match="do not meet at a pair of tees"):
        course_meet.common_pipe(course_meet.bypass_twin(1))


@every_seed
def test_what_heats_dhw_decides_and_not_what_it_looks_like(seed: int) -> None:
    """Two exchangers drawn alike, and a plant without any."""
    plants = (course_dhw.hidden(seed), course_dhw.for_heating(seed), course_dhw.no_tank(seed))
    assert [read(plant).control for plant in plants] == ["DHW on the system loop", "heating only", "heating only"]


@every_seed
def test_a_check_valve_stops_no_water_that_is_pushed_forwards(seed: int) -> None:
    """Nothing, a pump that is off with a check valve, a motorised valve: only the last closes the tank's branch."""
    shown = course_dhw.ghosts(course_dhw.valved_scheme(seed))
    assert [flow > 0.1 for flow in shown.column(1)] == [True, True, False]


@every_seed
def test_no_more_heat_is_shared_than_the_boiler_makes(seed: int) -> None:
    """On every call, with priority and without; with it the building waits."""
    plant = course_dhw.valved_scheme(seed).plant()
    shown = course_dhw.calls(plant)
    made = plant.parts["B1"].number("output_kw")
    assert all(tank + building <= made + 0.01 for tank, building in zip(shown.column(2), shown.column(3)))
    assert shown.column(3)[-1] == 0.0 < shown.column(3)[-2]
