"""Gauge pressures, what heated water grows by, and the gas that takes it up: published figures, and Boyle's law by hand."""

from math import inf, pi

import pytest

from figures.physics import State, solve
from figures.physics.pressure import head_kpa, pressures_kpa, static_kpa, swell_l, tank_kpa, water_l
from figures.plant import Part, Plant, Run

ATMOSPHERE_KPA = 101.325


def test_a_column_of_water_presses_by_its_height() -> None:
    """ρ·g·h with IAPWS-95 densities (iapws, 200 kPa): 999.750, 983.239 and 971.835 kg/m³ at 10, 60 and 80 °C; g 9.80665 m/s²."""
    assert static_kpa(10.0) == pytest.approx(98.042, abs=1e-3)
    assert static_kpa(10.0, 60.0) == pytest.approx(96.423, abs=1e-3)
    assert static_kpa(-2.0, 80.0) == pytest.approx(-19.061, abs=1e-3)
    assert static_kpa(0.3048, (60.0 - 32.0) / 1.8) == pytest.approx(2.986, abs=1e-3)       # a foot of water at 60 °F


def stalled(joint: str) -> Plant:
    """A pump that adds 60 kPa at 60 °C against a shut valve, the expansion tank at its suction or its discharge."""
    parts = {part.tag: part for part in (
        Part("B", "boiler"), Part("P", "pump", {"shutoff_m": 60.0 / static_kpa(1.0, 60.0)}), Part("V", "isolation valve"),
        Part("SUCTION", "tee"), Part("DISCHARGE", "tee"), Part("XT", "expansion tank"))}
    return Plant("stalled", parts, (Run(("SUCTION", "P", "DISCHARGE"), 1.0, "NPS 2"),
                                    Run(("DISCHARGE", "B", "V", "SUCTION"), 9.0, "NPS 2"), Run((joint, "XT"), 1.0, "NPS 1/2")))


@pytest.mark.parametrize(("joint", "suction", "discharge"), [("SUCTION", 100.0, 160.0), ("DISCHARGE", 40.0, 100.0)])
def test_a_pump_cannot_change_the_pressure_where_the_tank_joins(joint: str, suction: float, discharge: float) -> None:
    """ASHRAE HVAC Systems and Equipment, hydronic chapter, from memory: the point of no pressure change; figures by hand."""
    at = pressures_kpa(solve(stalled(joint), State(shut="V")), 100.0)
    assert at == pytest.approx({"SUCTION": suction, "DISCHARGE": discharge, "XT": 100.0}, abs=1e-3)


def test_a_head_is_of_the_water_that_flows() -> None:
    """998.252 kg/m³ at 20 °C: 9.7896 kPa for a metre."""
    assert head_kpa(solve(stalled("SUCTION"), State(water_c=20.0)), 1.0) == pytest.approx(9.7896, abs=1e-4)


def test_the_water_of_a_plant_is_that_of_boilers_vessels_pipes_and_heating_loads() -> None:
    """By hand; a store's own water is not the plant's, and 8 L for a kW of heating load is common practice."""
    parts = {part.tag: part for part in (
        Part("B", "boiler", {"water_l": 120.0}), Part("C", "boiler", {"water_l": 30.0}),
        Part("HS", "hydraulic separator", {"volume_l": 40.0}), Part("BT", "buffer tank", {"volume_l": 200.0}),
        Part("E", "emitter", {"load_kw": 10.0}), Part("T", "indirect tank"), Part("XT", "expansion tank"),
        Part("X", "heat exchanger", {"load_kw": 5.0}), Part("Y", "heat exchanger", {"serves": "DHW"}))}
    plant = Plant("wet", parts, (Run(("B", "E", "B"), 10.0, "NPS 2"), Run(("C", "T", "C"), 4.0, None, 0.0, 20.0, 0.1)))
    pipes = pi / 4.0 * (0.05248**2 * 10.0 + 0.020**2 * 4.0) * 1000.0
    assert water_l(plant) == pytest.approx(120.0 + 30.0 + 40.0 + 200.0 + pipes + 8.0 * 15.0)


@pytest.mark.parametrize(("hot_c", "cold_c", "litres"), [(80.0, 10.0, 26.269), (90.0, 10.0, 32.822), (80.0, 20.0, 25.077)])
def test_heated_water_grows_more_than_its_steel(hot_c: float, cold_c: float, litres: float) -> None:
    """1000 L: v₂/v₁ − 1 − 3αΔt, α 11.7e-6/K (6.5e-6 per °F: ASHRAE, hydronic chapter, second-hand), IAPWS95 densities."""
    assert swell_l(1000.0, hot_c, cold_c) == pytest.approx(litres, abs=0.01)
    assert swell_l(10.0, hot_c, cold_c) == pytest.approx(swell_l(1000.0, hot_c, cold_c) / 100.0)
    assert swell_l(1000.0, 80.0) == swell_l(1000.0, 80.0, 10.0)


@pytest.mark.parametrize(("tank_l", "swelled_l", "fill_kpa", "hot_kpa"), [
    (57.38, 26.269, 100.0, 270.0), (71.69, 32.822, 100.0, 270.0), (73.02, 26.269, 82.737, 186.158)])
def test_a_tank_of_the_published_size_ends_at_the_published_pressure(tank_l: float, swelled_l: float, fill_kpa: float,
                                                                     hot_kpa: float) -> None:
    """V = swell/(1 − P₁/P₂), absolute pressures (ASHRAE, hydronic chapter, second-hand); the last 12 and 27 psi."""
    assert tank_kpa(tank_l, swelled_l, fill_kpa) == pytest.approx(hot_kpa, abs=0.1)


def test_a_precharge_that_is_too_low_or_too_high_costs_room() -> None:
    """Boyle: too low, and cold water stands in the tank before any has grown; too high, and it starts from the gas's pressure."""
    gas = ATMOSPHERE_KPA * 100.0                                              # kPa·L of gas at 0 kPa gauge in 100 L
    left = gas / (100.0 + ATMOSPHERE_KPA)                                     # L of it under a fill of 100 kPa
    assert tank_kpa(100.0, 20.0, 100.0, 0.0) == pytest.approx(gas / (left - 20.0) - ATMOSPHERE_KPA)
    assert tank_kpa(100.0, 20.0, 100.0, 150.0) == pytest.approx((150.0 + ATMOSPHERE_KPA) / 0.8 - ATMOSPHERE_KPA)
    assert tank_kpa(100.0, 20.0, 100.0, 100.0) == tank_kpa(100.0, 20.0, 100.0)


@pytest.mark.parametrize("precharge_kpa", [None, 40.0, 100.0, 150.0])
@pytest.mark.parametrize("swelled_l", [0.0, -5.0])
def test_water_that_has_not_grown_leaves_the_fill_pressure(precharge_kpa: float | None, swelled_l: float) -> None:
    """Whatever the gas was set to; water that shrinks is made up by nobody here."""
    assert tank_kpa(60.0, swelled_l, 100.0, precharge_kpa) == pytest.approx(100.0)


def test_a_tank_without_room_left_has_no_pressure_to_tell() -> None:
    """Full to the last litre, or past it; a little less is a very high pressure."""
    assert tank_kpa(60.0, 60.0, 100.0) == tank_kpa(60.0, 61.0, 100.0, 150.0) == inf
    assert tank_kpa(60.0, 59.0, 100.0) == pytest.approx(60.0 * (100.0 + ATMOSPHERE_KPA) - ATMOSPHERE_KPA)
    half = 60.0 * (0.0 + ATMOSPHERE_KPA) / (100.0 + ATMOSPHERE_KPA)
    assert tank_kpa(60.0, half, 100.0, 0.0) == inf > tank_kpa(60.0, half - 1.0, 100.0, 0.0)
