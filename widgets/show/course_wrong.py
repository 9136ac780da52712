"""What the lesson on wrong settings shows: a day under any setting, beside the day that the piping asks for, and stores.

Figures come from the day that runs on the plant shown; what is taken from elsewhere names its source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import ipywidgets
import numpy as np

from figures.plant import Plant
from figures.plant.scheme import Scheme
from figures.plant.units import Units, converted, figure, unit_name
from figures.reading import CONFIGURATIONS
from widgets.learn.consent import units

from .beside import Graph
from .course_seed import MEETINGS, OUTPUTS_KW, chance_of, title_of
from .explore import CAUTION
from .given import plant_of
from .moment import moment
from .pieces import Choices, Note, box, options, swap
from .safely import safely
from .table import Cell, Table

if TYPE_CHECKING:
    from figures.drawing.plain_charts import Picture
    from figures.physics.day import Day
    from figures.physics.operation import Operator

SEASONS: dict[str, tuple[float, float]] = {"a cold day": (-8.0, 2.0), "a summer's day": (19.0, 27.0)}
"""The lowest and the highest outdoor temperature of a day [°C]. Assumed."""
LIMITS: dict[str, float | None] = {"60 min": 60.0, "none": None}
STEP_S = 30.0
HEAD = ["Set as", "Coldest room", "Taps too cold", "Hottest tank", "Heating waits", "Burners gave"]

BURNS: dict[float, str] = {60.0: "6 s", 54.0: "30 s", 49.0: "5 min"}
"""Water [°C] and the time in which it burns the skin of most adults to the third degree. US Consumer Product Safety
Commission, publication 5098 on tap water scalds, from memory. For telling the danger only, never as a limit to work to."""
GROWTH_C = (20.0, 45.0)
"""Between these legionella bacteria grow [°C]. UK HSE, HSG274 Part 2 (2014), seen."""


def hidden_by_winter(seed: int) -> Plant:
    """Two loops, the tank on the system loop, its motorised valve springing open without power: sound, if set rightly.

    >>> from figures.reading import read
    >>> read(hidden_by_winter(1)).control
    'DHW on the system loop'
    """
    chance = chance_of(seed, "hidden by winter")
    plant = Scheme(separation=chance.choice(MEETINGS), tank="system loop",
                   tank_by="motorised valve", outputs_kw=(chance.choice(OUTPUTS_KW),), fittings=(), sensors=("system supply",),
                   load_bypass=True, title=title_of(seed)).plant()
    valves = {tag: replace(part, given={**part.given, "power_off": "open"}) for tag, part in plant.parts.items() if tag == "VT"}
    return replace(plant, parts={**plant.parts, **valves})


def hottest_c(day: Day) -> float | None:
    """The hottest that a tank gets in a day [°C]; None where there is none."""
    return max((float(c.max()) for c in day.tank_c.values()), default=None)


class Days:
    """Days of one plant under any setting, each run once.

    >>> days = Days(hidden_by_winter(1))
    >>> [days.day("heating only", season).minutes_without_hot_water > 60.0 for season in SEASONS]
    [False, True]
    """

    def __init__(self, plant: object) -> None:
        from figures.physics.operation import Operator

        self.plant = plant_of(plant)
        self.operator: Operator = Operator(self.plant)
        self.right = self.operator.right("both").configuration
        self._run: dict[tuple[str, str, str], Day] = {}

    def day(self, configuration: str, season: str, limit: str = "60 min") -> Day:
        """The day under a configuration. Raises KeyError for a season or a limit that is none, ValueError for a setting."""
        from figures.physics.day import DaySettings, day

        key = (configuration, season, limit)
        if key not in self._run:
            low, high = SEASONS[season]
            self._run[key] = day(self.operator, configuration, DaySettings(
                step_s=STEP_S, outdoor_low_c=low, outdoor_high_c=high, limit_min=LIMITS[limit]))
        return self._run[key]

    def row(self, name: str, day: Day) -> list[Cell]:
        """A day as a row: coldest room, minutes without hot water, hottest tank, minutes that heating waits, burners' heat."""
        return [name, (day.coldest_room_c, "c"), f"{day.minutes_without_hot_water:.0f} min", (hottest_c(day), "c"),
                f"{day.minutes_held:.0f} min", f"{day.energy_kwh['burners']:.0f} kWh"]

    def table(self) -> Table:
        """Each configuration on each day."""
        body = [self.row(f"{season}: {told}{' (right)' if told == self.right else ''}", self.day(told, season))
                for season in SEASONS for told in CONFIGURATIONS]
        return Table(f"{self.plant.title}: a day under each setting", HEAD, body)


class DayRun(ipywidgets.VBox):
    """Set the control, rightly or wrongly, choose the day and press: the day runs, beside the one that the piping asks for.

    plant: a `Plant`, a `Scheme` or the path of a plant file.  configuration, season, limit: what is set to begin with.
    Raises ValueError for a configuration, and KeyError for a season or a limit that is none.

    >>> run = DayRun(hidden_by_winter(1), "heating only", "a summer's day")
    >>> run.set_so.minutes_without_hot_water > run.right.minutes_without_hot_water
    True
    """

    def __init__(self, plant: object, configuration: str | None = None, season: str = "a cold day",
                 limit: str = "60 min") -> None:
        self.days = plant if isinstance(plant, Days) else Days(plant)
        start = configuration or self.days.right
        self.set_as = Choices(legend="The control is set as", options=options([(c, c) for c in CONFIGURATIONS]), value=[start])
        self.season = Choices(legend="The day", options=options([(s, _season(s)) for s in SEASONS]), value=[season])
        self.limit = Choices(legend="Time limit of DHW priority", options=options([(x, x) for x in LIMITS]), value=[limit])
        self.button = ipywidgets.Button(description="Run the day", button_style="primary")
        self.button.on_click(self._on_press)
        self.report = Note(live=True)
        self.place = ipywidgets.VBox()
        bar = box("lb-bar", self.button)
        asked = box("lb-bar", self.set_as, self.season, self.limit)
        super().__init__([asked, bar, self.report, self.place, Note(tone="caution", text=CAUTION)])
        self.add_class("lb-exercise")
        with moment("One moment, the day is running"):
            self.run()

    def __repr__(self) -> str:
        return f"<DayRun: {self.days.plant.title or 'a plant'}>"

    def choose(self, configuration: str, season: str, limit: str = "60 min") -> None:
        """Set these and run the day, as a press does."""
        self.set_as.value, self.season.value, self.limit.value = [configuration], [season], [limit]
        self.run()

    def run(self) -> None:
        """Run the day that is chosen, and the one that the piping asks for."""
        told, season, limit = self.set_as.value[0], self.season.value[0], self.limit.value[0]
        self.set_so, self.right = self.days.day(told, season, limit), self.days.day(self.days.right, season, limit)
        wrong = told != self.days.right
        pair = {"as it is set": self.set_so, **({"as the piping asks": self.right} if wrong else {})}
        rows = [self.days.row(f"{name}: {day.setting.configuration}", day) for name, day in pair.items()]
        self.report.say(self._says(), "wrong" if wrong else "right")
        charts = [Graph(lambda u: _tanks(pair, u)), Graph(lambda u: _rooms(pair, u))]
        for chart in charts:
            chart.layout = ipywidgets.Layout(flex="1 1 320px", min_width="0", width="auto", margin="0")
        swap(self.place, Table(f"{self.days.plant.title}: {season}", HEAD, rows),
             ipywidgets.Box(charts, layout={"flex_flow": "row wrap", "width": "100%", "grid_gap": "10px"}))

    def _says(self) -> str:
        told, asks = self.set_so.setting.configuration, self.days.right
        first = f"The control is set as {told}, and that is what the piping asks for." if told == asks else \
            f"The control is set as {told}; the piping asks for {asks}."
        return "\n".join([first, *self.set_so.because])

    def verdict(self) -> str:
        """What came of it, in words: the same text for the same settings."""
        day = self.set_so
        return f"{self.report.text}\nColdest room {figure(day.coldest_room_c, 'c', units())}; taps too cold for " \
               f"{day.minutes_without_hot_water:.0f} min."

    @safely(lambda day_run, text: day_run.report.say(text, "trouble"), ArithmeticError, then="Choose otherwise, and press again.")
    def _on_press(self, button: Any) -> None:
        self.report.text = "One moment, the day is running …"
        self.run()


def _season(name: str) -> str:
    low, high = SEASONS[name]
    us_low, us_high = (converted(c, "c", "us") for c in (low, high))
    return f"{name}, {low:g} to {high:g} °C outdoors ({us_low:.0f} to {us_high:.0f} °F)".replace("-", "−")


def _quarter(day: Day, values: np.ndarray) -> list[float]:
    """Means of a quarter of an hour."""
    each = round(900.0 / day.settings.step_s)
    return [float(v) for v in np.asarray(values).reshape(-1, each).mean(axis=1)]


def _hours(day: Day) -> list[float]:
    return [0.125 + 0.25 * n for n in range(round(len(day.hour) * day.settings.step_s / 900.0))]


def _spans(day: Day, flag: np.ndarray) -> list[tuple[float, float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], np.asarray(flag, dtype=bool), [False]]).astype(int)))
    step = day.settings.step_s / 3600.0
    return [(a * step, b * step) for a, b in zip(edges[::2], edges[1::2])]


def _tanks(pair: dict[str, Day], units: Units) -> Picture:
    from figures.drawing.plain_charts import lines

    first = next(iter(pair.values()))
    rows = {f"{tag}, {name}": [converted(v, "c", units) for v in _quarter(day, c)]
            for name, day in pair.items() for tag, c in day.tank_c.items()}
    told = [f"{name}: the taps are too cold for {day.minutes_without_hot_water:.0f} min." for name, day in pair.items()]
    tap = converted(first.settings.tap_c, "c", units)
    return lines(_hours(first), rows, x_name="hour of the day", y_name=f"store, {unit_name('c', units)}", title="The tank",
                 spans={"taps too cold, as it is set": _spans(first, first.short)} if first.short.any() else None,
                 level=(tap, "taps want this"), told=told, x_step=4.0, height=330.0)


def _rooms(pair: dict[str, Day], units: Units) -> Picture:
    from figures.drawing.plain_charts import lines

    first = next(iter(pair.values()))
    rows = {f"coldest room, {name}": [converted(v, "c", units) for v in _quarter(day, np.min(list(day.room_c.values()), axis=0))]
            for name, day in pair.items()}
    told = [f"{name}: the coldest room gets {figure(day.coldest_room_c, 'c', units)}." for name, day in pair.items()]
    return lines(_hours(first), rows, x_name="hour of the day", y_name=f"room, {unit_name('c', units)}", title="The building",
                 spans={"DHW first: heating waits": _spans(first, first.held)} if first.held.any() else None, told=told,
                 x_step=4.0, height=320.0)


def run_a_day(plant: object, configuration: str | None = None, season: str = "a cold day", limit: str = "60 min") -> DayRun:
    """Set the control and run a day: see `DayRun`."""
    return DayRun(plant, configuration, season, limit)


class Stores:
    """One plant, rightly set, with the store kept at three temperatures on a summer's day.

    >>> stores = Stores(hidden_by_winter(1))
    >>> stores.growth_h(60.0) < stores.growth_h(49.0)
    True
    """

    def __init__(self, plant: object) -> None:
        from figures.physics.day import DaySettings, day

        made = plant_of(plant)
        low, high = SEASONS["a summer's day"]
        self.title = made.title
        self.days = {at: day(made, settings=DaySettings(step_s=STEP_S, tank_set_c=at, tank_start_c=at, outdoor_low_c=low,
                                                         outdoor_high_c=high)) for at in BURNS}

    def growth_h(self, at: float) -> float:
        """How long the store stands where bacteria grow, on one day [h]."""
        coldest = np.min(list(self.days[at].tank_c.values()), axis=0)
        low, high = GROWTH_C
        return float(np.sum((coldest >= low) & (coldest <= high))) * STEP_S / 3600.0

    def coldest_c(self, at: float) -> float:
        """The coldest that the store gets [°C]."""
        return min(float(c.min()) for c in self.days[at].tank_c.values())

    def table(self) -> Table:
        """What is gained by a cooler store, and what is lost."""
        body: list[list[Cell]] = [[f"{at:.0f} °C ({converted(at, 'c', 'us'):.0f} °F)", BURNS[at], (self.coldest_c(at), "c"),
                                   f"{self.growth_h(at):.1f} h", f"{day.minutes_without_hot_water:.0f} min"]
                                  for at, day in self.days.items()]
        return Table(f"{self.title}: a summer's day with the store at three temperatures",
                     ["Store kept at", "A bare tap burns in", "Coldest store", "Where bacteria grow", "Taps too cold"], body)


def stores(plant: object) -> Stores:
    """A store kept at three temperatures: see `Stores`."""
    return Stores(plant)


# -- where the last heat goes, and what is wrong at the taps ---------------------------------------------------------

def floor_plant(seed: int) -> Plant:
    """A plant with a tank on the system loop, radiators, and a heated floor behind its mixing valve."""
    chance = chance_of(seed, "floor")
    return Scheme(separation=chance.choice(MEETINGS), tank="system loop", emitters=2,
                  low_temperature=(2,), outputs_kw=(100.0,), load_bypass=True, fittings=(), sensors=("system supply",),
                  title=title_of(seed)).plant()


def afterwards_table(plant: object) -> Table:
    """Where the last heat of each call goes under the right configuration.

    >>> shown = afterwards_table(floor_plant(1))
    >>> [row[1] for row in shown.body]
    ['E1', 'IT', 'E1, IT']
    """
    from figures.physics.operation import CALLS, Operator

    from .explore_scene import CALL_WORDS

    made = plant_of(plant)
    operator = Operator(made)
    body: list[list[Cell]] = []
    for call in CALLS:
        said = operator.operate(operator.right(call)).afterwards
        body.append([CALL_WORDS[call], said.rpartition(" goes to ")[2].rstrip(".")])
    return Table(f"{made.title}: when a call ends", ["Who called", "The last heat goes to"], body)


def tap_fault(seed: int) -> Plant:
    """A plant with a tank, with one thing wrong that touches the taps, or with nothing wrong, by chance."""
    chance = chance_of(seed, "taps")
    fault = chance.choice(("mixing-valve", "tank-sensor", ""))
    return Scheme(separation=chance.choice(MEETINGS),
                  tank=chance.choice(("system loop", "boiler loop")), load_bypass=True, fittings=(), sensors=("system supply",),
                  title=title_of(seed), faults=(fault,) if fault else ()).plant()
