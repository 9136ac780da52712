"""What the lessons on the boiler loop's tank, several boilers, wrong settings and faults show, for many seeds."""

from __future__ import annotations

import math

import pytest

from figures.physics import water
from figures.reading import read
from widgets.learn.consent import choose
from widgets.show import course_boilers, course_faults, course_tank, course_wrong
from widgets.show.lesson import example

SEEDS = (1, 7, 23)


@pytest.mark.parametrize("seed", SEEDS)
def test_twins_differ_by_two_tees_and_by_nothing_else(seed: int) -> None:
    """Same parts with the same numbers; the configuration is another."""
    near, far = course_tank.tank_twins(seed).values()
    kinds = [sorted((p.kind, tuple(sorted(p.given.items()))) for p in plant.parts.values()
                    if p.kind in ("boiler", "emitter", "indirect tank")) for plant in (near, far)]
    assert kinds[0] == kinds[1]
    assert (read(near).control, read(far).control) == ("DHW on the system loop", "DHW on the boiler loop")
    assert sorted(p.kind for p in near.parts.values()) == sorted(p.kind for p in far.parts.values())


@pytest.mark.parametrize("seed", SEEDS)
def test_the_last_heat_is_a_mixture(seed: int) -> None:
    """Checked by energy: what the boilers' water loses is what the store gains, and both end equally warm."""
    plant = example(seed, "separated loops", "DHW on the boiler loop")
    left = course_tank.last_heat(plant)
    store_l = sum(part.number("volume_l") for part in plant.of_kind("indirect tank"))
    end = left.store_c + left.rise_k
    assert left.water_l * (left.hot_c - end) == pytest.approx(store_l * (end - left.store_c))
    assert left.kwh == pytest.approx(store_l * left.rise_k * water(left.store_c).heat_kw_per_lps_k / 3600.0)


def test_a_draw_of_two_hours_costs_the_room_and_a_limit_costs_the_taps() -> None:
    """A light building at 20 h falls at most as its own exponential does; with a limit less, and then the taps run cold."""
    draw = course_tank.LongDraw(example(7, "separated loops", "DHW on the boiler loop"))
    free = draw.outdoor_c + (draw.before_c - draw.outdoor_c) * math.exp(-2.2 / course_tank.LIGHT_BUILDING_H)
    assert free < draw.coldest_c(None) < draw.coldest_c(60.0) < draw.before_c
    assert draw.days[None].minutes_without_hot_water < draw.days[60.0].minutes_without_hot_water
    with pytest.raises(ValueError, match="tank"):
        course_tank.LongDraw(example(1, "single loop", "heating only"))


@pytest.mark.parametrize("seed", SEEDS)
def test_headers_decide_on_direct_return_and_the_middle_gets_least_on_reverse(seed: int) -> None:
    """The case of the trade with four branches behaves so too (direct 1.26, reverse 1.08, wide mains 1.08: EPANET)."""
    shown = course_boilers.Returns(seed)
    direct, reverse, wide = (shown.spread(f"{name} headers") for name in
                             ("direct return, narrow", "reverse return, narrow", "direct return, wide"))
    assert direct > reverse > 1.0 and direct - 1.0 > 2.0 * (wide - 1.0)
    assert shown.least("reverse return, narrow headers") == ["B2", "B3"]
    assert [read(plant).return_order for plant in shown.plants.values()] == ["direct", "reverse", "direct", "reverse"]


@pytest.mark.parametrize("seed", SEEDS)
def test_plants_of_the_lessons_are_sound_or_have_just_the_fault_that_is_spoken_of(seed: int) -> None:
    """Nothing else on them must or should be fixed."""
    sound = [*course_tank.tank_twins(seed).values(), *course_boilers.lead_moved(seed).values(), course_boilers.common_loop(seed),
             course_wrong.hidden_by_winter(seed), course_wrong.floor_plant(seed), course_faults.sound_plant(seed)]
    assert [course_faults.by_danger(read(plant)) for plant in sound] == [[]] * len(sound)
    spoilt = [course_tank.straddling(seed), course_tank.tank_fault(seed), course_boilers.boiler_fault(seed)]
    assert [len(course_faults.by_danger(read(plant))) for plant in spoilt] == [1, 1, 1]


def test_a_day_set_wrongly_stands_beside_the_right_one_and_follows_the_units() -> None:
    """Winter hides the setting, a summer's day shows it; charts and tables are told in the learner's units."""
    run = course_wrong.DayRun(course_wrong.hidden_by_winter(7), "heating only", "a cold day")
    assert run.set_so.minutes_without_hot_water == 0.0 and run.report.tone == "wrong"
    run.choose("heating only", "a summer's day")
    assert run.set_so.minutes_without_hot_water > 600.0 and run.right.minutes_without_hot_water == 0.0
    table, charts = run.place.children
    tanks = charts.children[0]
    assert [row[1] for row in table.rows] == ["20.0 °C", "20.0 °C"] and "store, °C" in tanks.value
    try:
        choose(units="us")
        assert table.rows[0][1] == f"{table.value(0, 1) * 1.8 + 32.0:.1f} °F" and "store, °F" in tanks.value
    finally:
        choose(units="si")
    run.choose(run.days.right, "a summer's day")
    assert run.report.tone == "right" and len(run.place.children[0].rows) == 1


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_mended_first_can_hurt_soonest(seed: int) -> None:
    """The worst is the answer; who takes another is told what theirs can do, not which is worse."""
    plant = course_faults.troubled(seed)
    ask = course_faults.mend_first(plant)
    first = course_faults.by_danger(read(plant))[0]
    assert course_faults.DANGERS[first.rule].rank <= 2 and len(ask.words) == 3
    wrong = next(words for words in ask.words if words != ask.right)
    ask.commit(wrong)
    assert "worse" in ask.report.text and course_faults.DANGERS[first.rule].harm in ask.report.text
    with pytest.raises(ValueError, match="more dangerous"):
        course_faults.mend_first(course_faults.sound_plant(seed))
