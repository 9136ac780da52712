"""What the lesson on a tank on the boiler loop shows: the same tank on either loop, a long draw, and where the last heat goes.

Plants are made from a seed and are sound; every figure comes from the solver, or from the day that runs on the plant shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from figures.plant import Plant
from figures.plant.scheme import Scheme
from figures.plant.units import Units, converted, figure, unit_name
from figures.reading import read
from figures.reading.evidence import listed

from .beside import Beside, Graph
from .course_seed import MEETINGS, OUTPUTS_KW, chance_of, title_of
from .given import plant_of
from .table import Cell, Table

if TYPE_CHECKING:
    from figures.drawing.plain_charts import Picture
    from figures.physics.day import Day

TWIN_TITLES = ("Tank on the system loop", "Tank on the boiler loop")
NO_LIMIT, LIMITS_MIN = "no limit", (None, 60.0, 30.0)
LIGHT_BUILDING_H = 20.0
"""A light building: without heat it loses 63 % of what it is warmer than outdoors in so many hours [h]. Assumed."""
NEVER_H = 24
TANK_FAULTS = ("tank-check-missing", "tank-check-reversed", "mixing-valve", "tank-sensor")


# -- a tank on one loop or the other -------------------------------------------------------------------------------

def tank_twins(seed: int) -> dict[str, Plant]:
    """Two plants with the same boiler, the same loads and the same pump at the tank; only two tees have moved.

    >>> [read(plant).control for plant in tank_twins(1).values()]
    ['DHW on the system loop', 'DHW on the boiler loop']
    """
    chance = chance_of(seed, "twins")
    scheme = Scheme(separation=chance.choice(MEETINGS), tank="system loop", tank_by="pump",
                    zones_by="pump", outputs_kw=(chance.choice(OUTPUTS_KW),), fittings=(), sensors=("system supply",),
                    title=title_of(seed))
    return {title: replace(scheme, tank=loop, system_pump="").plant()
            for title, loop in zip(TWIN_TITLES, ("system loop", "boiler loop"))}


def twins_beside(twins: dict[str, Plant]) -> Beside:
    """The two plants side by side; the pump, the tank and its two pipes are lit up on each."""
    lit = {}
    for title, plant in twins.items():
        found = [e for e in read(plant).about("dhw") if e.parts and plant.is_dhw(e.parts[0])]
        lit[title] = [name for e in found for name in (*e.parts, *e.pipes)]
    return Beside(twins, lit)


def calls_table(plant: object, configurations: Sequence[str] = (), title: str = "") -> Table:
    """What runs on each call, and what heat each load gets; under the right configuration unless others are named.

    title: what the plant is called, its own title unless said.  Raises NoSolution where the water of a state does not balance.
    """
    from figures.physics.operation import CALLS, Operator

    from .explore_scene import CALL_WORDS

    made = plant_of(plant)
    operator = Operator(made)
    right = operator.right("both").configuration
    tags = sorted((tag for tag in made.parts if made.is_load(tag)), key=made.is_dhw)
    head = [*(["Set as"] if configurations else []), "Who calls", "Pumps that run", *(f"{tag} gets" for tag in tags)]
    body: list[list[Cell]] = []
    for told in configurations or (right,):
        for call in CALLS:
            found = operator.operate(operator.setting(told, call))
            first = [f"{told} (right)" if told == right else told] if configurations else []
            runs = [tag for tag in found.sequence.running if made.parts[tag].kind == "pump"]
            body.append([*first, CALL_WORDS[call], listed(runs),
                         *((found.load(tag).given_kw, "kw") for tag in tags)])
    return Table(f"{title or made.title}: what runs, and who gets heat", head, body)


# -- DHW first, and for how long ---------------------------------------------------------------------------------------

class LongDraw:
    """Two hours of steady draw on the coldest day, DHW first, with the heating held off without a limit and with one.

    The draw takes 1.3 times what the coil gives, so that the tank calls from beginning to end. Outdoors it is as cold as the
    design says all day, and the building is a light one.

    >>> from widgets.show.lesson import example
    >>> draw = LongDraw(example(1, "separated loops", "DHW on the boiler loop"))
    >>> draw.coldest_c(None) < draw.coldest_c(60.0) < draw.coldest_c(30.0) < draw.before_c
    True
    """

    def __init__(self, plant: object, begin_h: float = 6.0, hours: float = 2.0) -> None:
        self.plant, self.begin_h, self.end_h = plant_of(plant), begin_h, begin_h + hours
        if not any(self.plant.is_dhw(tag) for tag in self.plant.parts if self.plant.is_load(tag)):
            raise ValueError("a long draw of hot water needs a plant with a tank")

    @cached_property
    def days(self) -> dict[float | None, Day]:
        """Limit [min] → the day."""
        return {limit: self._day(limit, ((self.begin_h, self.end_h, 1.0),)) for limit in LIMITS_MIN}

    @cached_property
    def never_ends(self) -> dict[float | None, Day]:
        """The same where the call never ends: a tap that is left running, or a sensor that has slipped out of its pocket."""
        return {limit: self._day(limit, ((0.0, float(NEVER_H), 1.0),)) for limit in LIMITS_MIN[:2]}

    def _day(self, limit: float | None, draws: tuple[tuple[float, float, float], ...]) -> Day:
        from figures.physics import water
        from figures.physics.day import DaySettings, day

        design = self.plant.design
        coil = sum(self.plant.load_kw(tag) for tag in self.plant.parts if self.plant.is_load(tag) and self.plant.is_dhw(tag))
        hours = sum(b - a for a, b, _ in draws)
        settings = DaySettings(step_s=60.0, outdoor_low_c=design.outdoor_c, outdoor_high_c=design.outdoor_c, draws=draws,
                               limit_min=limit, priority=True, building_h=LIGHT_BUILDING_H)
        litres = 1.3 * coil * hours * 3600.0 / (water(45.0).heat_kw_per_lps_k * (settings.tap_c - settings.mains_c))
        return day(self.plant, settings=replace(settings, dhw_l=litres))

    def _rooms(self, limit: float | None, days: dict[float | None, Day] | None = None) -> list[float]:
        day = (self.days if days is None else days)[limit]
        return [min(float(row[n]) for row in day.room_c.values()) for n in range(len(day.hour))]

    @property
    def outdoor_c(self) -> float:
        """Outdoors, all day [°C]."""
        return self.plant.design.outdoor_c

    @property
    def before_c(self) -> float:
        """The coldest room when the draw begins [°C]."""
        return self._rooms(None)[round(self.begin_h * 60.0)]

    def coldest_c(self, limit: float | None) -> float:
        """The coldest that a room gets with this limit [°C]."""
        return min(self._rooms(limit)[round(self.begin_h * 60.0):round((self.end_h + 2.0) * 60.0)])

    def at_last_c(self, limit: float | None) -> float:
        """The coldest room after a day in which the call never ends [°C]."""
        return self._rooms(limit, self.never_ends)[-1]

    def table(self) -> Table:
        """What each limit costs: the room on one hand, the hot water on the other."""
        body: list[list[Cell]] = [
            [_limit(limit), (self.before_c, "c"), (self.coldest_c(limit), "c"), f"{day.minutes_held:.0f} min",
             f"{day.minutes_without_hot_water:.0f} min"] for limit, day in self.days.items()]
        return Table(f"{self.plant.title}: two hours of draw on the coldest day",
                     ["Time limit", "Room before", "Coldest room", "Heating waits", "Taps too cold"], body)

    def chart(self) -> Graph:
        """The room over the hours about the draw, one line a limit."""
        return Graph(self._picture)

    def _picture(self, units: Units) -> Picture:
        from figures.drawing.plain_charts import lines

        a, b, step = round((self.begin_h - 1.0) * 60.0), round((self.end_h + 3.0) * 60.0), 5
        hour = [float(h) for h in self.days[None].hour[a:b:step]]
        rows = {_limit(limit): [converted(c, "c", units) for c in self._rooms(limit)[a:b:step]] for limit in LIMITS_MIN}
        told = [f"{_limit(limit)}: the room falls from {figure(self.before_c, 'c', units)} to "
                f"{figure(self.coldest_c(limit), 'c', units)}." for limit in LIMITS_MIN]
        return lines(hour, rows, x_name="hour of the day", y_name=f"room, {unit_name('c', units)}",
                     title="The room while DHW comes first", told=told,
                     spans={"hot water is drawn": [(self.begin_h, self.end_h)]})


def _limit(limit: float | None) -> str:
    return NO_LIMIT if limit is None else f"limit {limit:.0f} min"


def long_draw(plant: object) -> LongDraw:
    """Two hours of draw on the coldest day: see `LongDraw`."""
    return LongDraw(plant)


@dataclass(frozen=True)
class LastHeat:
    """What is left in the boilers when a DHW call ends, and what it is worth in the tank.

    water_l: in the boilers.  hot_c: its temperature.  store_c: of the tank.  kwh: passed on until both are equally warm.
    rise_k: by so much the tank gets warmer.  room_c: of the boiler room, where the heat goes otherwise.
    """

    water_l: float
    hot_c: float
    store_c: float
    kwh: float
    rise_k: float
    room_c: float


def last_heat(plant: object) -> LastHeat:
    """The heat that stands in the boilers' water when a DHW call ends, mixed with the store until both are equally warm.

    Metal is left out, so it is a little less than in truth. Raises ValueError for a plant without a tank.

    >>> from widgets.show.lesson import example
    >>> left = last_heat(example(1, "separated loops", "DHW on the boiler loop"))
    >>> 0.0 < left.rise_k < left.hot_c - left.store_c
    True
    """
    from figures.physics import water

    made = plant_of(plant)
    store_l = sum(part.number("volume_l") for part in made.of_kind("indirect tank"))
    if not store_l:
        raise ValueError("the last heat of a DHW call needs a tank to go to")
    boilers = made.of_kind("boiler")
    water_l = sum(part.number("water_l") for part in boilers)
    hot = max(made.design.dhw_setpoint_c, *(part.number("setpoint_c") for part in boilers))
    rise = water_l * (hot - made.design.tank_c) / (water_l + store_l)
    kwh = store_l * rise * water(made.design.tank_c).heat_kw_per_lps_k / 3600.0
    return LastHeat(water_l, hot, made.design.tank_c, kwh, rise, made.design.room_c)


# -- what is wrong with a tank ---------------------------------------------------------------------------------------

def straddling(seed: int) -> Plant:
    """A coil that is fed from one loop and returned to the other: nobody can say what the control is to be told.

    >>> read(straddling(1)).control
    'undetermined'
    """
    chance = chance_of(seed, "straddling")
    return Scheme(separation=chance.choice(MEETINGS), tank="boiler loop",
                  outputs_kw=(chance.choice(OUTPUTS_KW),), load_bypass=True, fittings=(), sensors=("system supply",),
                  title=title_of(seed), faults=("load-straddles",)).plant()


def tank_fault(seed: int) -> Plant:
    """A tank on the boiler loop with one thing wrong at the tank, by chance.

    >>> [f.severity for f in read(tank_fault(1)).findings if f.severity in ("must fix", "should fix")] != []
    True
    """
    chance = chance_of(seed, "tank fault")
    return Scheme(separation=chance.choice(MEETINGS), tank="boiler loop",
                  outputs_kw=(chance.choice(OUTPUTS_KW),), load_bypass=True, fittings=(), sensors=("system supply",),
                  title=title_of(seed), faults=(chance.choice(TANK_FAULTS),)).plant()
