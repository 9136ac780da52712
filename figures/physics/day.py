"""A day in a plant's life: weather, calls, burners that start and stop, tanks that cool and rooms that wait.

The flow of every way of running (which call, which boilers) is solved once by the one solver; then the temperatures
step through the day. What holds heat: each boiler's water with an equal share of the water in pipes and vessels, each
store (fully mixed), and one room behind each heating load. Loads pass what their surfaces pass, valves of rooms open
and shut together with the heat call, burners fire fully or not at all, and pipes lose nothing: a plain model, in
which every kilowatt-hour is accounted for.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from figures.plant.model import Plant

from .day_flow import Way, way_of
from .day_settings import DWELLINGS, SCHOOL_SHOWERS, DaySettings, reset_emitter_c, reset_linear_c
from .friction import Array
from .operation import Operator, Sequence, Setting, sequence
from .pressure import in_pipes_l
from .solution import settle_mixers
from .water import water

KWH_PER_KJ = 1.0 / 3600.0
WATER_C = 60.0
LIMIT_ABOVE_K = 8.0
"""A boiler's own limit stands so far above its setpoint or the DHW setpoint, whichever is higher."""
REST_ABOVE_K = 5.0
SHORT_MIN = 10.0
"""A burner that runs for less than this at a start is said to start often; common practice, no source."""
CALLS = ("", "heat", "dhw", "both")


@dataclass(frozen=True)
class Day:
    """What happened. Arrays have one entry a step; mappings are by tag.

    hour: from the start.  target_c: what the control asks for, NaN where nothing is called.  supply_c: what its sensor
    reads, NaN in still water.  calls: what the control serves: '', 'heat', 'dhw', 'both'.  held: DHW holds the heating off.
    boiler_c, burner_on, firing_kw; room_c; tank_c; load_kw: heat that each load takes, below 0 where it gives.
    tap_lps: hot water drawn; short: somebody draws and it comes colder than the tap should be.
    energy_kwh: 'burners', each load's tag, 'building' (lost through its walls), 'taps', 'tank loss', 'kept' (more at the
    end than at the start) and 'imbalance', burners less all that left or was kept.
    because: where hot water was missed, why: one sentence a tank.
    """

    plant: Plant
    setting: Setting
    settings: DaySettings
    hour: Array
    outdoor_c: Array
    target_c: Array
    supply_c: Array
    calls: tuple[str, ...]
    held: np.ndarray
    boiler_c: Mapping[str, Array]
    burner_on: Mapping[str, np.ndarray]
    firing_kw: Array
    room_c: Mapping[str, Array]
    tank_c: Mapping[str, Array]
    load_kw: Mapping[str, Array]
    tap_lps: Array
    short: np.ndarray
    energy_kwh: Mapping[str, float]
    because: tuple[str, ...]

    @cached_property
    def starts(self) -> dict[str, int]:
        """How often each burner started."""
        return {tag: int(on[0]) + int(np.sum(on[1:] & ~on[:-1])) for tag, on in self.burner_on.items()}

    @cached_property
    def hours_on(self) -> dict[str, float]:
        """How long each burner ran [h]."""
        return {tag: float(on.sum()) * self.settings.step_s / 3600.0 for tag, on in self.burner_on.items()}

    @property
    def minutes_without_hot_water(self) -> float:
        """How long somebody drew and it came too cold [min]."""
        return float(self.short.sum()) * self.settings.step_s / 60.0

    @property
    def minutes_held(self) -> float:
        """How long DHW held the heating off [min]."""
        return float(self.held.sum()) * self.settings.step_s / 60.0

    @property
    def coldest_room_c(self) -> float:
        """The lowest temperature of any room [°C]; NaN where nothing is heated."""
        return min((float(c.min()) for c in self.room_c.values()), default=float("nan"))

    @property
    def imbalance_share(self) -> float:
        """The energy that is not accounted for, as a share of what moved."""
        e = self.energy_kwh
        return abs(e["imbalance"]) / max(e["burners"] + abs(e["building"]) + e["taps"], 1e-9)

    def says(self) -> list[str]:
        """The day in plain sentences."""
        said = []
        for tag, count in self.starts.items():
            each = self.hours_on[tag] * 60.0 / count if count else 0.0
            said.append(f"{tag} started {count} time{'' if count == 1 else 's'} and ran {self.hours_on[tag]:.1f} h"
                        + (f", {each:.0f} min a start." if count else "."))
            if count and each < SHORT_MIN:
                said.append(f"That is short: {tag} makes more than was taken and holds little water, so it is soon hot enough.")
        if self.tank_c:
            low = min(float(c.min()) for c in self.tank_c.values())
            minutes = self.minutes_without_hot_water
            said.append(f"Hot water came below {self.settings.tap_c:.0f} °C for {minutes:.0f} min; the coldest that a tank "
                        f"got is {low:.0f} °C." if minutes else f"There was hot water all day; the coldest that a tank "
                        f"got is {low:.0f} °C.")
        said += self.because
        if self.minutes_held:
            said.append(f"For {self.minutes_held:.0f} min DHW came first and the heating waited.")
        if self.room_c:
            said.append(f"The coldest that a room got is {self.coldest_room_c:.1f} °C.")
        said.append(f"The burners gave {self.energy_kwh['burners']:.0f} kWh to the water.")
        return said

    def as_dict(self) -> dict[str, object]:
        """The figures of the day without its arrays: plain lists, strings and numbers."""
        return {"configuration": self.setting.configuration, "arrangement": self.setting.arrangement,
                "priority": self.setting.priority, "starts": self.starts, "hours_on": self.hours_on,
                "minutes_without_hot_water": self.minutes_without_hot_water, "minutes_held": self.minutes_held,
                "coldest_room_c": self.coldest_room_c if self.room_c else None, "energy_kwh": dict(self.energy_kwh)}


def day(plant: Plant | Operator, configuration: str | None = None, settings: DaySettings | None = None, *,
        arrangement: str | None = None) -> Day:
    """A day under a control configuration, set rightly or wrongly; the right one unless given.

    Raises ValueError, one line for each figure that is out of range, and NoSolution where no balance is found.

    >>> from figures.plant.scheme import Scheme
    >>> found = day(Scheme(tank="system loop").plant(), settings=DaySettings(step_s=30.0))
    >>> found.imbalance_share < 1e-6, found.minutes_without_hot_water
    (True, 0.0)
    """
    operator = plant if isinstance(plant, Operator) else Operator(plant)
    settings = DaySettings() if settings is None else settings
    if wrong := settings.refusals():
        raise ValueError("\n".join(wrong))
    chosen = operator.right("both").configuration if configuration is None else configuration
    setting = operator.setting(chosen, "both", arrangement, settings.boilers, settings.priority)
    return _Day(operator, setting, settings).run()


class _Day:
    def __init__(self, operator: Operator, setting: Setting, settings: DaySettings) -> None:
        self.operator, self.setting, self.set = operator, setting, settings
        plant = self.plant = operator.plant
        self.boilers = [part.tag for part in plant.of_kind("boiler")]
        loads = [tag for tag in plant.parts if plant.is_load(tag)]
        self.tanks = [tag for tag in loads if plant.is_dhw(tag)]
        self.rooms = [tag for tag in loads if not plant.is_dhw(tag)]
        self.states = len(self.boilers) + len(loads)
        self.b, self.t = len(self.boilers), len(self.boilers) + len(self.tanks)
        self.sinks = {tag: self.b + n for n, tag in enumerate([*self.tanks, *self.rooms])}
        self.dt = settings.step_s
        self.room_set = plant.design.room_c if settings.room_c is None else settings.room_c
        self.tank_set = plant.design.tank_c if settings.tank_set_c is None else settings.tank_set_c
        self.kj_per_k, self.loss_kw_per_k = self._masses()
        self.sensor = next((str(p["at"]) for p in plant.of_kind("temperature sensor")
                            if p["role"] == "system supply" and p["at"]), None)
        self.ways: dict[tuple[str, tuple[str, ...]], tuple[Way, Array, int]] = {}
        self.used: list[Way] = []
        self.still = np.linalg.inv(np.eye(self.states) + np.diag(self.dt * self.loss_kw_per_k / self.kj_per_k))

    def _masses(self) -> tuple[Array, Array]:
        """What holds heat [kJ/K], and what it loses to outdoors (a room) or to the boiler room (a tank) [kW/K]."""
        plant, w = self.plant, water(WATER_C)
        kj_per_l_k = w.heat_kw_per_lps_k
        each = in_pipes_l(plant) / max(self.b, 1)
        mass = [(plant.parts[tag].number("water_l") + each) * kj_per_l_k for tag in self.boilers]
        loss = [0.0] * self.b
        self.litres = []
        for tag in self.tanks:
            part = plant.parts[tag]
            self.litres.append(part.number("volume_l") if part.kind == "indirect tank" else self.set.exchanger_l)
            mass.append(self.litres[-1] * kj_per_l_k)
            loss.append(self.set.tank_loss_w_per_k / 1000.0)
        span = max(plant.design.room_c - plant.design.outdoor_c, 1.0)
        for tag in self.rooms:
            ua = max(plant.load_kw(tag), 1e-3) / span
            mass.append(ua * self.set.building_h * 3600.0)
            loss.append(ua)
        return np.maximum(np.array(mass), 1.0), np.array(loss)

    # -- ways of running -------------------------------------------------------------------------------

    def steps(self, call: str, called: tuple[str, ...], first: bool) -> Sequence:
        """What the control makes of a call with these boilers."""
        setting = replace(self.setting, call=call, boilers=called, priority=first)  # type: ignore[arg-type]
        return sequence(self.operator.jobs, self.operator.reading, setting)

    def way(self, call: str, called: tuple[str, ...], first: bool) -> tuple[Way, Array, int]:
        """The law of a way of running, its step, and its number; each is solved once."""
        key = (f"{call}{first}", tuple(sorted(called)))
        found = self.ways.get(key)
        if found is None:
            prepared = self.operator.prepared
            flow = settle_mixers(prepared, self.steps(call, called, first).state(self.plant, WATER_C), None).flow
            way = way_of(flow, self.boilers, self.sinks, self.states, self.sensor)
            law = way.kw_per_k - np.diag(self.loss_kw_per_k)
            step: Array = np.asarray(np.linalg.inv(np.eye(self.states) - self.dt * law / self.kj_per_k[:, None]), dtype=float)
            found = self.ways[key] = (way, step, len(self.used))
            self.used.append(way)
        return found

    # -- the day ---------------------------------------------------------------------------------------

    def run(self) -> Day:
        """Steps through the day."""
        s, dt, b, t = self.set, self.dt, self.b, self.t
        count = round(s.days * 86400.0 / dt)
        hour: Array = np.asarray(np.arange(count) * dt / 3600.0, dtype=float)
        outdoor, design = s.outdoor_c(hour), self.plant.design
        heating_c = s.target_c(outdoor, design)
        litres = 5.0 * sum(self.litres) if s.dhw_l is None else s.dhw_l
        tap = s.tap_lps(hour, litres) if self.tanks else np.zeros(count)
        share = np.array(self.litres) / max(sum(self.litres), 1e-9)
        kj = water(WATER_C).heat_kw_per_lps_k
        output = np.array([self.plant.parts[tag].number("output_kw") for tag in self.boilers])
        limit = np.array([max(self.plant.parts[tag].number("setpoint_c"), design.dhw_setpoint_c) + LIMIT_ABOVE_K
                          for tag in self.boilers])
        x = np.concatenate([np.full(b, float(heating_c[0])),
                            np.full(t - b, self.tank_set if s.tank_start_c is None else s.tank_start_c),
                            np.full(self.states - t, self.room_set)])
        start = x.copy()
        control = _Control(self, limit)
        kept = np.empty((count, self.states))
        on_all = np.zeros((count, b), dtype=bool)
        number = np.full(count, -1)
        target, supply = np.full(count, np.nan), np.full(count, np.nan)
        tapped = np.zeros((count, t - b))
        short, held, calls = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool), []
        gain = np.zeros(self.states)
        for n in range(count):
            control.step(n, x, float(hour[n]), float(outdoor[n]), float(heating_c[n]))
            gain[:b] = np.where(control.on, output, 0.0)
            gain[b:t] = self.loss_kw_per_k[b:t] * design.room_c
            gain[t:] = self.loss_kw_per_k[t:] * outdoor[n]
            if tap[n] > 0.0:
                tank = x[b:t]
                hot = np.clip((s.tap_c - s.mains_c) / np.maximum(tank - s.mains_c, 1e-6), 0.0, 1.0)
                tapped[n] = tap[n] * share * hot * kj * np.maximum(tank - s.mains_c, 0.0)
                gain[b:t] -= tapped[n]
                short[n] = float(tank @ share) < s.tap_c - 1e-9
            step = self.still if control.way is None else control.law
            x = step @ (x + dt * gain / self.kj_per_k)
            kept[n], on_all[n], number[n] = x, control.on, control.number
            target[n], supply[n], held[n] = control.target_c, control.sensed_c, control.held
            calls.append(control.call)
        return self._told(hour, outdoor, target, supply, calls, held, start, kept, on_all, number, output, tap, tapped, short)

    def _told(self, hour: Array, outdoor: Array, target: Array, supply: Array, calls: list[str], held: np.ndarray,
              start: Array, kept: Array, on: np.ndarray, number: np.ndarray, output: Array, tap: Array, tapped: Array,
              short: np.ndarray) -> Day:
        b, t, dt = self.b, self.t, self.dt
        load = np.zeros((len(hour), len(self.sinks)))
        for n, way in enumerate(self.used):
            load[number == n] = kept[number == n] @ way.load_kw_per_k.T
        firing = on @ output
        lost = (kept[:, t:] - outdoor[:, None]) @ self.loss_kw_per_k[t:]
        stored_loss = (kept[:, b:t] - self.plant.design.room_c) @ self.loss_kw_per_k[b:t]
        energy = {"burners": float(firing.sum()), **{tag: float(load[:, n].sum()) for n, tag in enumerate(self.sinks)},
                  "building": float(lost.sum()), "taps": float(tapped.sum()), "tank loss": float(stored_loss.sum())}
        energy = {name: kw * dt * KWH_PER_KJ for name, kw in energy.items()}
        energy["kept"] = float(self.kj_per_k @ (kept[-1] - start)) * KWH_PER_KJ
        energy["imbalance"] = energy["burners"] - sum(energy[k] for k in ("building", "taps", "tank loss", "kept"))
        column = {tag: n for n, tag in enumerate([*self.boilers, *self.sinks])}
        return Day(
            self.plant, self.setting, self.set, hour, outdoor, target, supply, tuple(calls), held,
            {tag: kept[:, column[tag]] for tag in self.boilers}, {tag: on[:, column[tag]] for tag in self.boilers}, firing,
            {tag: kept[:, column[tag]] for tag in self.rooms}, {tag: kept[:, column[tag]] for tag in self.tanks},
            {tag: load[:, n] for n, tag in enumerate(self.sinks)}, tap, short, energy,
            tuple(self._because(tag) for tag in self.tanks) if short.any() else ())

    def _because(self, tag: str) -> str:
        """Why a tank fell short: what a DHW call does to it, or, where that serves it well, the draw."""
        row = self.operator.operate(replace(self.setting, call="dhw"), WATER_C).load(tag)
        if row.given_kw >= 0.97 * row.wanted_kw > 0.0:
            return f"{tag}: on a DHW call it is heated as it should be, but more was drawn than its coil can heat and it holds."
        return f"{tag}, on a DHW call: {row.because}"


class _Control:
    """The control's memory from step to step. What it decides is common practice."""

    def __init__(self, day: _Day, limit: Array) -> None:
        self.day, self.limit = day, limit
        self.on = np.zeros(day.b, dtype=bool)
        self.tripped = np.zeros(day.b, dtype=bool)
        self.heat = self.dhw = self.held = False
        self.fire, self.below_s, self.above_s, self.off_s = 0, 0.0, 0.0, day.set.off_min * 60.0
        self.held_s, self.turn_s, self.heat_s = 0.0, 0.0, 0.0
        self.call, self.way, self.law, self.number = "", None, day.still, -1
        self.target_c = self.sensed_c = float("nan")
        config = day.setting.configuration
        self.knows = config != "heating only" and bool(day.tanks)
        reading = day.operator.reading
        # A diverting valve that stands at the tank holds the heating off whatever the control says.
        diverts = config == reading.control and reading.dhw_priority == "always"
        self.first = config == "DHW on the boiler loop" or (self.knows and (day.set.priority or diverts))
        self.order = list(day.setting.boilers)

    way: Way | None

    def step(self, n: int, x: Array, hour: float, outdoor_c: float, heating_c: float) -> None:
        """Decides what runs in the step that begins now."""
        day, s = self.day, self.day.set
        self.off_s = 0.0 if self.on.any() else self.off_s + day.dt
        self._calls(x, outdoor_c)
        self.call = ("both" if self.heat else "dhw") if self.dhw else ("heat" if self.heat else "")
        self.call = self._turns(self.call)
        if s.rotate_h is not None and len(self.order) > 1:
            turns = int(hour // s.rotate_h) % len(day.setting.boilers)
            self.order = [*day.setting.boilers[turns:], *day.setting.boilers[:turns]]
        if not self.call or not self.order:
            self.heat_s = 0.0
            self._rest()
            return
        heating_c = self._boosted(heating_c)
        serves_dhw = self.call in ("dhw", "both")
        self.target_c = heating_c if not serves_dhw else max(heating_c, day.plant.design.dhw_setpoint_c)
        if self.call == "dhw" or self.held:
            self.target_c = day.plant.design.dhw_setpoint_c
        self._run(x)
        self._stage(self.sensed_c)
        self._run(x)
        ready = np.zeros(day.b, dtype=bool)
        for tag in self.order[:self.fire]:
            ready[day.boilers.index(tag)] = True
        self.tripped = np.where(x[:day.b] > self.limit, True, self.tripped & (x[:day.b] > self.limit - REST_ABOVE_K))
        self.on = ready & self.way.firing & ~self.tripped       # type: ignore[union-attr]

    def _calls(self, x: Array, outdoor_c: float) -> None:
        day, s = self.day, self.day.set
        if day.rooms:
            mean, half = float(x[day.t:].mean()), s.room_band_k / 2.0
            self.heat = outdoor_c < s.heat_off_c and (mean < day.room_set + half if self.heat else mean < day.room_set - half)
        if self.knows:
            coldest = float(x[day.b:day.t].min())
            self.dhw = coldest < day.tank_set - (0.0 if self.dhw else s.tank_band_k)

    def _boosted(self, heating_c: float) -> float:
        """The target of a heat call that has not been satisfied for long."""
        s = self.day.set
        if not self.heat:
            self.heat_s = 0.0
        elif not self.held:
            self.heat_s += self.day.dt
        if s.boost_min is None or self.heat_s <= s.boost_min * 60.0:
            return heating_c
        more = (self.heat_s / 3600.0 - s.boost_min / 60.0) * s.boost_k_per_h
        return max(heating_c, min(heating_c + more, self.day.plant.design.supply_c))

    def _turns(self, call: str) -> str:
        """DHW first, but not for longer than the limit; then the heating has its turn."""
        s, dt = self.day.set, self.day.dt
        self.held = call == "both" and self.first
        if not self.held:
            self.held_s = self.turn_s = 0.0
            return call
        if self.turn_s > 0.0:
            self.turn_s -= dt
            self.held = False
            return "heat"
        self.held_s += dt
        if s.limit_min is not None and self.held_s >= s.limit_min * 60.0:
            self.held_s, self.turn_s = 0.0, s.turn_min * 60.0
        return call

    def _rest(self) -> None:
        self.on = np.zeros(self.day.b, dtype=bool)
        self.fire, self.below_s, self.above_s = 0, 0.0, 0.0
        self.way, self.number = None, -1
        self.target_c = self.sensed_c = float("nan")

    def _run(self, x: Array) -> None:
        called = tuple(self.order[:max(1, self.fire)])
        self.way, self.law, self.number = self.day.way(self.call, called, self.first)
        self.sensed_c = float("nan")
        if self.way.sensor is not None:
            self.sensed_c = float(self.way.sensor @ x)
            return
        carried = self.way.boiler_kw_per_k
        if carried.any():
            self.sensed_c = float(carried @ x[:self.day.b]) / float(carried.sum())

    def _stage(self, sensed_c: float) -> None:
        """One boiler more where the target was missed long enough, one less where it is passed."""
        s, dt = self.day.set, self.day.dt
        low, high = self.target_c - s.band_k / 2.0, self.target_c + s.band_k / 2.0
        if sensed_c < low or np.isnan(sensed_c):
            self.below_s, self.above_s = self.below_s + dt, 0.0
            if self.fire == 0:
                self.fire = int(self.off_s >= s.off_min * 60.0)
            elif self.below_s >= s.stage_min * 60.0 and self.fire < len(self.order):
                self.fire, self.below_s = self.fire + 1, 0.0
        elif sensed_c > high:
            self.above_s, self.below_s = self.above_s + dt, 0.0
            if sensed_c > high + s.band_k / 2.0:
                self.fire = 0
            elif self.fire and (self.fire == 1 or self.above_s >= 60.0):
                self.fire, self.above_s = self.fire - 1, 0.0
        else:
            self.below_s = self.above_s = 0.0


__all__ = ["DWELLINGS", "SCHOOL_SHOWERS", "Day", "DaySettings", "day", "reset_emitter_c", "reset_linear_c"]
