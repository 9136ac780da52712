"""What a simulated day is made of: the weather, the building, the draws of hot water, and what the control is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from figures.plant.model import Design

from .friction import Array

Draws = tuple[tuple[float, float, float], ...]

DWELLINGS: Draws = ((0.0, 5.5, 0.03), (5.5, 6.5, 0.07), (6.5, 8.5, 0.32), (8.5, 11.5, 0.09), (11.5, 13.5, 0.11),
                    (13.5, 17.0, 0.07), (17.0, 18.5, 0.09), (18.5, 21.0, 0.18), (21.0, 24.0, 0.04))
"""Share of a day's hot water drawn from hour to hour in a house of dwellings. Common practice, no source: a tall
peak in the morning, a lower and longer one in the evening."""

SCHOOL_SHOWERS: Draws = ((7.0, 8.0, 0.10), (10.0, 12.0, 0.45), (12.0, 14.0, 0.15), (14.0, 16.0, 0.30))
"""The same for showers after sport. Common practice, no source."""


def reset_emitter_c(outdoor_c: Array | float, design: Design) -> Array:
    """Supply temperature that just heats the building, for an emitter of exponent n [°C].

    x = (room − outdoor)/(room − design outdoor); supply = room + ΔT·x^(1/n) + x·(supply − return)/2, with ΔT the
    mean excess at design. Source: characteristic equation of EN 442-2:2014 with steady heat balances.

    >>> from figures.plant.model import Design
    >>> d = Design(outdoor_c=-18.0, supply_c=80.0, return_c=60.0)
    >>> [round(float(reset_emitter_c(t, d)), 3) for t in (-18.0, -10.0, 0.0, 10.0)]     # on paper: 80, 69.582, 55.780, 40.537
    [80.0, 69.582, 55.78, 40.537]
    """
    span = max(design.room_c - design.outdoor_c, 1e-6)
    x = np.maximum((design.room_c - np.asarray(outdoor_c, dtype=float)) / span, 0.0)
    middle = (design.supply_c + design.return_c) / 2.0 - design.room_c
    warm: Array = design.room_c + middle * x ** (1.0 / design.exponent) + x * (design.supply_c - design.return_c) / 2.0
    return warm


def reset_linear_c(outdoor_c: Array | float, design: Design, off_c: float = 18.0, least_c: float = 30.0) -> Array:
    """Supply temperature on a straight line from `least_c` at `off_c` outdoors to the design's, held between the two
    [°C]. Common practice, no source.

    >>> from figures.plant.model import Design
    >>> d = Design(outdoor_c=-18.0, supply_c=80.0)
    >>> [round(float(reset_linear_c(t, d)), 3) for t in (-25.0, -18.0, -10.0, 0.0, 10.0, 18.0, 25.0)]
    [80.0, 80.0, 68.889, 55.0, 41.111, 30.0, 30.0]
    """
    share = (off_c - np.asarray(outdoor_c, dtype=float)) / max(off_c - design.outdoor_c, 1e-6)
    line: Array = np.clip(least_c + (design.supply_c - least_c) * share, least_c, max(design.supply_c, least_c))
    return line


@dataclass(frozen=True)
class DaySettings:
    """What is put into a day. Figures without a source are common practice, and any of them may be changed.

    step_s: of the simulation, at most a minute.  days: of the same weather, one after the other.
    outdoor_low_c, outdoor_high_c: of a cosine between `coldest_hour` and twelve hours later; outdoor_hourly_c:
    instead, one figure an hour, joined by straight lines.
    reset: 'emitter', 'linear' or 'none' (the design supply temperature all day).  heat_off_c: no heat call when it is
    warmer outdoors.  boost_min: a heat call that lasts longer raises the target by boost_k_per_h, up to the design supply
    temperature; None for no boost.  room_c: what the thermostat holds, the design's unless given, within ±room_band_k/2.
    building_h: time in which an unheated building loses 63 % of what it is warmer than outdoors.
    dhw_l: hot water drawn a day, as it comes from the tap at tap_c; five times what is stored unless given.
    draws: (from hour, to hour, share of dhw_l).  mains_c: cold water.  tank_set_c: the design's unless given; a call
    begins tank_band_k below.  tank_loss_w_per_k: of each store.  exchanger_l: store behind a heat exchanger for DHW.
    priority: DHW first, where the tank is set as being on the system loop (on the boiler loop it always is).
    limit_min: longest time that DHW may hold the heating off, None for no limit; heating then has `turn_min`.
    boilers: how many may fire.  band_k: of the burners about the target.  stage_min: a further boiler is called when
    the target was missed so long.  off_min: the first burner stays off at least so long, to spare it.
    rotate_h: the lead passes on after so many hours, None for never.
    """

    step_s: float = 10.0
    days: int = 1
    outdoor_low_c: float = -8.0
    outdoor_high_c: float = 2.0
    coldest_hour: float = 5.0
    outdoor_hourly_c: Sequence[float] | None = None
    reset: str = "emitter"
    heat_off_c: float = 18.0
    boost_min: float | None = 60.0
    boost_k_per_h: float = 10.0
    room_c: float | None = None
    room_band_k: float = 0.5
    building_h: float = 40.0
    dhw_l: float | None = None
    draws: Draws = DWELLINGS
    mains_c: float = 10.0
    tap_c: float = 45.0
    tank_set_c: float | None = None
    tank_start_c: float | None = None
    tank_band_k: float = 6.0
    tank_loss_w_per_k: float = 2.5
    exchanger_l: float = 200.0
    priority: bool = False
    limit_min: float | None = 60.0
    turn_min: float = 30.0
    boilers: int | None = None
    band_k: float = 8.0
    stage_min: float = 5.0
    off_min: float = 3.0
    rotate_h: float | None = None

    def refusals(self) -> list[str]:
        """What is wrong with these figures: one sentence each."""
        limits = (("step_s", 1.0, 60.0), ("days", 1, 31), ("outdoor_low_c", -60.0, 45.0), ("outdoor_high_c", -60.0, 45.0),
                  ("coldest_hour", 0.0, 24.0), ("heat_off_c", -30.0, 40.0), ("boost_min", 1.0, 1440.0),
                  ("boost_k_per_h", 0.0, 120.0), ("room_c", 5.0, 35.0),
                  ("room_band_k", 0.1, 5.0), ("building_h", 1.0, 500.0), ("dhw_l", 0.0, 1e6), ("mains_c", 0.0, 30.0),
                  ("tap_c", 30.0, 60.0), ("tank_set_c", 30.0, 95.0), ("tank_start_c", 5.0, 95.0),
                  ("tank_band_k", 0.5, 30.0), ("tank_loss_w_per_k", 0.0, 1e3), ("exchanger_l", 10.0, 1e5),
                  ("limit_min", 1.0, 1440.0), ("turn_min", 1.0, 1440.0), ("band_k", 1.0, 30.0),
                  ("stage_min", 0.1, 240.0), ("off_min", 0.0, 60.0),
                  ("rotate_h", 0.1, 744.0))
        wrong = []
        for name, low, high in limits:
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                wrong.append(f"{name}: {value:g} is out of range; write a figure from {low:g} to {high:g}")
        if self.reset not in ("emitter", "linear", "none"):
            wrong.append(f"reset: '{self.reset}' is none of emitter, linear, none")
        if self.outdoor_hourly_c is not None and len(self.outdoor_hourly_c) < 2:
            wrong.append("outdoor_hourly_c: give two figures or more, one an hour")
        if any(not 0.0 <= a < b <= 24.0 or share < 0.0 for a, b, share in self.draws):
            wrong.append("draws: each is (from hour, to hour, share), hours from 0 to 24 and rising, no share below 0")
        return wrong

    def outdoor_c(self, hour: Array) -> Array:
        """The weather at these hours from the start [°C]."""
        if self.outdoor_hourly_c is not None:
            given = np.asarray(self.outdoor_hourly_c, dtype=float)
            return np.interp(hour % 24.0, np.arange(len(given) + 1.0), [*given, given[0]])
        middle, half = (self.outdoor_low_c + self.outdoor_high_c) / 2.0, (self.outdoor_high_c - self.outdoor_low_c) / 2.0
        found: Array = middle - half * np.cos((hour - self.coldest_hour) * np.pi / 12.0)
        return found

    def target_c(self, outdoor_c: Array, design: Design) -> Array:
        """What the heating is to be supplied with [°C]."""
        if self.reset == "none":
            return np.full(len(outdoor_c), design.supply_c)
        if self.reset == "linear":
            return reset_linear_c(outdoor_c, design, self.heat_off_c)
        return np.minimum(reset_emitter_c(outdoor_c, design), design.supply_c)

    def tap_lps(self, hour: Array, litres: float) -> Array:
        """Hot water drawn at the taps at these hours [L/s]."""
        flow, clock = np.zeros(len(hour)), hour % 24.0
        whole = sum(share for _, _, share in self.draws)
        for begin, end, share in self.draws:
            flow[(clock >= begin) & (clock < end)] += share / max(whole, 1e-12) * litres / ((end - begin) * 3600.0)
        return flow
