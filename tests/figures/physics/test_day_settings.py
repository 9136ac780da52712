"""What a day is made of: limits of every figure, the weather, the curves at their ends, the draws."""

from dataclasses import asdict, replace
from itertools import count, pairwise

import numpy as np
import pytest

from figures.physics.day import DWELLINGS, SCHOOL_SHOWERS, DaySettings, reset_emitter_c, reset_linear_c
from figures.plant.model import Design

# Name, least and most: what the docstring's figures may be.
LIMITS = [("step_s", 1, 60), ("days", 1, 31), ("outdoor_low_c", -60, 45), ("outdoor_high_c", -60, 45), ("coldest_hour", 0, 24),
          ("heat_off_c", -30, 40), ("boost_min", 1, 1440), ("boost_k_per_h", 0, 120), ("room_c", 5, 35), ("room_band_k", 0.1, 5),
          ("building_h", 1, 500), ("dhw_l", 0, 1e6), ("mains_c", 0, 30), ("tap_c", 30, 60), ("tank_set_c", 30, 95),
          ("tank_start_c", 5, 95), ("tank_band_k", 0.5, 30), ("tank_loss_w_per_k", 0, 1000), ("exchanger_l", 10, 1e5),
          ("limit_min", 1, 1440), ("turn_min", 1, 1440), ("band_k", 1, 30), ("stage_min", 0.1, 240), ("off_min", 0, 60),
          ("rotate_h", 0.1, 744)]


@pytest.mark.parametrize(("name", "low", "high"), LIMITS, ids=[row[0] for row in LIMITS])
def test_a_figure_out_of_range_is_refused_with_its_range(name: str, low: float, high: float) -> None:
    """At the limits all is well; beyond them one sentence: where, what, what to write."""
    for value in (low, high):
        assert DaySettings(**{name: value}).refusals() == []
    for value in (low - 0.01, high * 1.01):
        assert DaySettings(**{name: value}).refusals() == [
            f"{name}: {value:g} is out of range; write a figure from {low:g} to {high:g}"]


def test_what_is_left_out_is_not_refused() -> None:
    """None where the docstring allows it."""
    assert DaySettings().refusals() == []
    assert DaySettings(boost_min=None, limit_min=None, rotate_h=None, room_c=None, dhw_l=None).refusals() == []


@pytest.mark.parametrize(("settings", "words"), [
    (DaySettings(reset="steep"), "reset: 'steep' is none of emitter, linear, none"),
    (DaySettings(outdoor_hourly_c=(3.0,)), "outdoor_hourly_c: give two figures or more, one an hour"),
    *((DaySettings(draws=((6.0, 9.0, 1.0), row)),
       "draws: each is (from hour, to hour, share), hours from 0 to 24 and rising, no share below 0")
      for row in ((-1.0, 8.0, 1.0), (9.0, 8.0, 1.0), (8.0, 8.0, 1.0), (8.0, 24.1, 1.0), (8.0, 9.0, -0.1)))],
    ids=map(str, count()))
def test_what_is_no_figure_is_refused_too(settings: DaySettings, words: str) -> None:
    """The curve's name, the weather by the hour, the draws."""
    assert settings.refusals() == [words]


def test_what_lies_at_the_limits_of_a_list_is_taken() -> None:
    """Two hours of weather; a draw from midnight to midnight, a share of nothing; each curve."""
    for reset in ("emitter", "linear", "none"):
        assert DaySettings(outdoor_hourly_c=(3.0, 4.0), draws=((0.0, 24.0, 0.0),), reset=reset).refusals() == []


def test_the_weather_is_a_cosine_between_the_coldest_hour_and_twelve_hours_later() -> None:
    """By hand: low, middle, high, middle; the next day the same."""
    day = DaySettings(outdoor_low_c=-8.0, outdoor_high_c=4.0, coldest_hour=5.0)
    assert day.outdoor_c(np.array([5.0, 11.0, 17.0, 23.0, 29.0])) == pytest.approx([-8.0, -2.0, 4.0, -2.0, -8.0])
    assert day.outdoor_c(np.array([9.0])) == pytest.approx([-2.0 - 6.0 * 0.5])                   # cos 60° = 0.5


def test_weather_by_the_hour_is_joined_by_straight_lines_and_begins_again() -> None:
    """Four figures stand for four hours, the fourth leading back to the first; a day later the same."""
    day = DaySettings(outdoor_hourly_c=(0.0, 10.0, -10.0, 5.0))
    assert day.outdoor_c(np.array([0.0, 0.5, 1.0, 1.5, 3.0, 3.5, 4.0, 24.5])) == pytest.approx(
        [0.0, 5.0, 10.0, 0.0, 5.0, 2.5, 0.0, 5.0])


DESIGN = Design(outdoor_c=-18.0, supply_c=80.0, return_c=60.0)


def test_curves_at_their_ends() -> None:
    """Facts 10 and arithmetic: no supply beyond the design's, none below the room, a line from `heat_off_c` and 30 °C."""
    outdoor = np.array([-25.0, -18.0, 0.0, 20.0, 30.0])
    assert DaySettings(reset="none").target_c(outdoor, DESIGN) == pytest.approx([80.0] * 5)
    assert DaySettings(reset="linear").target_c(outdoor, DESIGN) == pytest.approx([80.0, 80.0, 55.0, 30.0, 30.0])
    assert DaySettings(reset="linear", heat_off_c=20.0).target_c(outdoor, DESIGN)[2] == pytest.approx(30.0 + 50.0 * 20.0 / 38.0)
    assert DaySettings(reset="emitter").target_c(outdoor, DESIGN) == pytest.approx([80.0, 80.0, 55.780, 20.0, 20.0], abs=1e-3)
    assert reset_emitter_c(-25.0, DESIGN) > 85.0                       # held by the day, not by the equation
    assert reset_linear_c(0.0, DESIGN, 10.0, 40.0) == pytest.approx(40.0 + 40.0 * 10.0 / 28.0)
    assert reset_linear_c([-30.0, 30.0], DESIGN, 18.0, 90.0) == pytest.approx([90.0, 90.0])     # a floor above the design


def test_an_emitter_follows_its_own_exponent() -> None:
    """EN 442: at half load ΔT is 0.5^(1/n) of the design's; by hand for n = 1 and n = 2."""
    for exponent, share in ((1.0, 0.5), (2.0, 0.5**0.5)):
        design = replace(DESIGN, exponent=exponent)
        assert reset_emitter_c(1.0, design) == pytest.approx(20.0 + 50.0 * share + 0.5 * 10.0)
    no_winter = Design(outdoor_c=20.0, room_c=20.0, supply_c=80.0, return_c=60.0)
    assert np.isfinite(reset_emitter_c(20.0, no_winter)) and np.isfinite(reset_linear_c(18.0, no_winter, 20.0))


@pytest.mark.parametrize("draws", [DWELLINGS, SCHOOL_SHOWERS], ids=["dwellings", "school"])
def test_the_shares_of_a_day_are_one_and_in_order(draws: tuple[tuple[float, float, float], ...]) -> None:
    """Nothing drawn twice, nothing forgotten."""
    assert sum(share for *_, share in draws) == pytest.approx(1.0)
    assert all(a < b and share > 0.0 for a, b, share in draws)
    assert all(row[1] <= following[0] for row, following in pairwise(draws))
    assert DaySettings(draws=draws).refusals() == []
    assert (draws[0][0], draws[-1][1]) == ((0.0, 24.0) if draws is DWELLINGS else (7.0, 16.0))


def test_a_draw_is_its_share_of_the_litres_spread_over_its_hours() -> None:
    """3 L and 1 L of four parts, over two hours and one; the end of a draw belongs to what follows; every day again."""
    day = DaySettings(draws=((6.0, 8.0, 0.6), (8.0, 9.0, 0.2)))
    hours = np.array([5.99, 6.0, 7.99, 8.0, 8.99, 9.0, 30.0])
    assert day.tap_lps(hours, 4.0) * 3600.0 == pytest.approx([0.0, 1.5, 1.5, 1.0, 1.0, 0.0, 1.5])
    assert DaySettings(draws=((6.0, 8.0, 0.0),)).tap_lps(hours, 4.0) == pytest.approx([0.0] * 7)
    twice = DaySettings(draws=((6.0, 8.0, 0.5), (7.0, 8.0, 0.5)))
    assert twice.tap_lps(np.array([6.5, 7.5]), 2.0) * 3600.0 == pytest.approx([0.5, 1.5])


def test_what_is_assumed_of_a_day_unless_it_is_said() -> None:
    """Common practice, no source; a lesson's figures rest on them, so none changes unnoticed."""
    assert asdict(DaySettings()) == {
        "step_s": 10.0, "days": 1, "outdoor_low_c": -8.0, "outdoor_high_c": 2.0, "coldest_hour": 5.0, "outdoor_hourly_c": None,
        "reset": "emitter", "heat_off_c": 18.0, "boost_min": 60.0, "boost_k_per_h": 10.0, "room_c": None, "room_band_k": 0.5,
        "building_h": 40.0, "dhw_l": None, "draws": DWELLINGS, "mains_c": 10.0, "tap_c": 45.0, "tank_set_c": None,
        "tank_start_c": None, "tank_band_k": 6.0, "tank_loss_w_per_k": 2.5, "exchanger_l": 200.0, "priority": False,
        "limit_min": 60.0, "turn_min": 30.0, "boilers": None, "band_k": 8.0, "stage_min": 5.0, "off_min": 3.0, "rotate_h": None}
