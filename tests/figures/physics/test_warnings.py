"""What a technician is warned of in a solved plant: each sentence, and the figure from which it is said."""

from dataclasses import replace
from math import pi

import fluids
import pytest

from figures.physics import State, solve, water
from figures.plant import Part, Plant, Run
from figures.plant.model import Design

from .test_flow import ring

B, P, E, V = Part("B", "boiler"), Part("P", "pump"), Part("E", "emitter"), Part("V", "isolation valve")
KIND = "too cold for a boiler that is not built to condense (about 54 °C at least; the maker's figure rules)."


def said(plant: Plant, state: State | None = None) -> list[str]:
    return list(solve(plant, state).warnings)


def test_a_sound_ring_is_not_warned_of() -> None:
    """1.3 L/s in NPS 1-1/2 is 1 m/s; the return is 70 °C."""
    assert said(ring(B, P, E)) == []


def test_a_shut_valve_stops_boiler_and_pump() -> None:
    """Both are named, boilers first; a load in still water is not worth a word."""
    assert said(ring(B, P, V, E), State(shut="V")) == [
        "B: no water passes it; its burner may not fire.", "P: it runs against a closed way; no water passes it."]


def test_who_is_not_meant_to_run_is_not_warned_of() -> None:
    """An idle boiler, one whose own pump is off or at no speed; a pump that is off. One of two own pumps is enough."""
    plant = ring(B, P, V, E)
    assert said(plant, State(shut="V", idle="B")) == ["P: it runs against a closed way; no water passes it."]
    assert said(plant, State(off="P")) == said(plant, State(speed={"P": 0.0})) == []
    two = ring(B, P, Part("Q", "pump"), V)
    assert said(two, State(shut="V", off="Q"))[0] == "B: no water passes it; its burner may not fire."
    assert said(two, State(off=["P", "Q"])) == []


def test_the_least_flow_of_a_boiler_is_held() -> None:
    """Said below it, with both figures; not at it."""
    flow = solve(ring(B, P, E)).lps("B")
    at, above = (ring(replace(B, given={"min_flow_lps": least}), P, E) for least in (flow, flow + 1.0))
    assert said(at) == []
    assert said(above) == [f"B: {flow:.2f} L/s is below its least flow of {flow + 1.0:.2f} L/s."]


def test_water_that_goes_backwards_is_told_with_its_flow() -> None:
    """A reversed pump drives boiler and load so, and is itself content."""
    found = solve(ring(B, replace(P, given={"reversed": True}), E))
    flow = found.lps("B")
    assert flow < -0.5
    assert list(found.warnings) == [f"B: water passes it backwards ({flow:.2f} L/s); its burner may not fire.",
                                    f"E: water passes it backwards ({flow:.2f} L/s)."]


@pytest.mark.parametrize(("return_c", "cold"), [(54.1, False), (53.9, True)])
def test_a_return_under_54_c_is_cold_for_a_boiler_that_cannot_condense(return_c: float, cold: bool) -> None:
    """54 °C: common practice; the dew point of the flue gas lies just below. Not said of one that makes no heat."""
    great = {"output_kw": 1000.0, "setpoint_c": 80.0}
    plant = ring(replace(B, given=great), P, replace(E, given={"load_kw": 1000.0}))
    per_k = solve(plant).lps("B") * water(60.0).heat_kw_per_lps_k
    state = State(load={"E": per_k * (80.0 - return_c)})
    assert solve(plant, state).parts["B"]["inlet_c"] == pytest.approx(return_c, abs=1e-6)
    assert said(plant, state) == ([f"B: its return is 54 °C, {KIND}"] if cold else [])
    assert said(replace(plant, parts={**plant.parts, "B": replace(B, given={**great, "condensing": True})}), state) == []
    store = Part("T", "indirect tank")
    cool = Plant("cool", ring(B, P, store).parts, ring(B, P, store).runs, Design(tank_c=40.0, dhw_setpoint_c=60.0))
    assert said(cool, State(idle="B")) == []


def test_a_store_that_heats_the_water_is_told_with_its_heat() -> None:
    """From 0.05 kW."""
    plant = ring(B, P, Part("T", "indirect tank"), E)
    found = solve(plant, State(idle="B"))
    given = -found.heat.heat_kw["T"]
    assert given > 10.0
    assert list(found.warnings) == [f"T: it is hotter than the water and gives {given:.1f} kW back to it."]
    assert said(plant, State(idle="B", load={"E": 0.04})) == []
    assert len(said(plant, State(idle="B", load={"E": 0.06}))) == 1


def test_pumps_that_fight_are_told_apart() -> None:
    """The weak one is pushed back, or driven past the end of its curve, as it is set."""
    strong = Part("P", "pump", {"shutoff_m": 6.0, "rated_m": 4.0})
    against = solve(ring(B, strong, Part("W", "pump", {"shutoff_m": 2.0, "rated_m": 1.0, "reversed": True})))
    assert list(against.warnings) == [f"W: it runs, but water is pushed back through it ({against.lps('W'):.2f} L/s)."]
    along = solve(ring(B, strong, Part("W", "pump", {"shutoff_m": 1.0, "rated_lps": 0.3, "rated_m": 0.5})))
    assert list(along.warnings) == [f"W: {along.lps('W'):.2f} L/s is past the end of its curve."]
    back = solve(ring(Part("W", "pump", {"shutoff_m": 1.0, "rated_lps": 0.3, "rated_m": 0.5, "reversed": True}),
                      Part("P", "pump", {"shutoff_m": 6.0, "rated_m": 4.0, "reversed": True})))
    assert back.lps("W") < -0.5
    assert list(back.warnings)[:1] == [f"W: {-back.lps('W'):.2f} L/s is past the end of its curve."]


def driven(size: str, shutoff_m: float) -> Plant:
    """Two runs between a pump and nothing else, the first of them in `size`."""
    strong = Part("P", "pump", {"shutoff_m": shutoff_m, "rated_lps": 20.0, "rated_m": shutoff_m * 0.9})
    parts = {"P": strong, "A": Part("A", "tee"), "Z": Part("Z", "tee")}
    return Plant("driven", parts, (Run(("A", "Z"), 10.0, size), Run(("Z", "P", "A"), 1.0, "NPS 6")))


@pytest.mark.parametrize(("size", "inside_m"), [("NPS 1", 0.02664), ("NPS 2", 0.05248), ("CU 2", 0.050419)])
def test_a_small_pipe_may_be_no_faster_than_one_and_a_half_metres_a_second(size: str, inside_m: float) -> None:
    """A quarter more than the 4 ft/s of ASHRAE Fundamentals, pipe sizing (from memory), up to 2 in."""
    for shutoff_m in (0.2, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0):
        found = solve(driven(size, shutoff_m))
        speed = abs(found.flow.run_lps(0)) / 1000.0 / (pi / 4.0 * inside_m**2)
        assert list(found.warnings) == ([f"A>Z: {speed:.1f} m/s is fast for this size (about 1.5 m/s at most)."]
                                        if speed > 1.5 else [])


@pytest.mark.parametrize(("size", "inside_m"), [("NPS 2-1/2", 0.06268), ("NPS 4", 0.10226)])
def test_a_large_pipe_may_be_no_steeper_than_4_ft_in_100(size: str, inside_m: float) -> None:
    """392 Pa/m, above 2 in (ASHRAE Fundamentals, pipe sizing, from memory); friction by `fluids`, water of IAPWS-95, 60 °C."""
    told = []
    for shutoff_m in (0.1, 0.2, 0.3, 0.38, 0.42, 0.5, 0.8):
        found = solve(driven(size, shutoff_m))
        speed = abs(found.flow.run_lps(0)) / 1000.0 / (pi / 4.0 * inside_m**2)
        factor = fluids.friction_factor(speed * inside_m / 4.74004e-7, 0.045e-3 / inside_m)
        steep = factor / inside_m * 983.239 * speed**2 / 2.0
        assert found.pipe_pa_per_m(0) == pytest.approx(steep, rel=1e-4)
        told.append(steep > 392.0)
        assert list(found.warnings) == ([f"A>Z: {steep:.0f} Pa/m is steep (392 Pa/m at most; {speed:.1f} m/s)."]
                                        if steep > 392.0 else [])
    assert set(told) == {False, True}
