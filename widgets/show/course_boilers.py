"""What the lesson on several boilers shows: lead and lag, idle boilers, two bypasses for two jobs, and two orders of return.

Plants are made from a seed and are sound; every figure comes from the solver on the plant shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from figures.plant import Plant
from figures.plant.pipe import STEEL_INSIDE_MM
from figures.plant.scheme import Scheme
from figures.plant.units import Units, converted, unit_name
from figures.reading import read
from figures.reading.evidence import listed

from .beside import Beside, Graph
from .course_seed import MEETINGS, OUTPUTS_KW, chance_of, title_of
from .given import plant_of
from .table import Cell, Table

if TYPE_CHECKING:
    from figures.drawing.plain_charts import Picture

MANY_LITRES, LITTLE_RESISTANCE = 200.0, 30.0
"""A boiler with much water [L] and little resistance [Kv, m³/h], whose headers decide who gets how much. Assumed."""
BYPASS_KPA = 55.0
BOILER_FAULTS = ("boiler-isolation", "pump-bypass", "lead-boiler", "two-leads", "valve-fail-position")


# -- several boilers ---------------------------------------------------------------------------------------------------

def lead_moved(seed: int) -> dict[str, Plant]:
    """The same piping twice; only the mark of the lead has moved, from the first boiler to the last.

    >>> [read(plant).lead for plant in lead_moved(1).values()]
    ['B1', 'B3']
    """
    chance = chance_of(seed, "lead")
    scheme = Scheme(separation=chance.choice(MEETINGS), boilers=3, lead=1, fittings=(),
                    sensors=("system supply",), outputs_kw=(chance.choice(OUTPUTS_KW),) * 3, title=title_of(seed))
    return {f"The mark at B{lead}": replace(scheme, lead=lead).plant() for lead in (1, 3)}


def lead_beside(plants: dict[str, Plant]) -> Beside:
    """Both, with the lead lit up."""
    return Beside(plants, {title: [read(plant).lead or ""] for title, plant in plants.items()})


def staging_table(plant: object) -> Table:
    """How many boilers fire, who they are, and what the building gets of what it wants at design."""
    from figures.physics.operation import Operator

    made = plant_of(plant)
    operator = Operator(made)
    wanted = sum(made.load_kw(tag) for tag in made.parts if made.is_load(tag) and not made.is_dhw(tag))
    body: list[list[Cell]] = []
    for count in range(1, len(operator.reading.boilers) + 1):
        found = operator.operate(operator.setting(operator.right("heat").configuration, "heat", boilers=count))
        given = sum(row.given_kw for row in found.loads if not made.is_dhw(row.part))
        body.append([str(count), listed(list(found.sequence.firing)), (given, "kw"), f"{100.0 * given / wanted:.0f} %"])
    return Table(f"{made.title}: lead and lag", ["Boilers that fire", "Who", "The building gets", "Of what it wants"], body)


def common_loop(seed: int) -> Plant:
    """Several boilers on a single loop, each with its motorised valve, with a bypass for either job.

    The bypass across the boilers is set so high that it stays shut while one boiler alone is open.
    """
    chance = chance_of(seed, "common loop")
    plant = Scheme("single loop", boilers=2, emitters=2, lead=chance.choice((1, 2)), bypass="valve", load_bypass=True,
                   fittings=(), sensors=(), outputs_kw=(chance.choice(OUTPUTS_KW),) * 2, title=title_of(seed)).plant()
    bypass = plant.parts["BV"]
    return replace(plant, parts={**plant.parts, "BV": replace(bypass, given={**bypass.given, "set_kpa": BYPASS_KPA})})


def idle_boiler_table(plant: object) -> Table:
    """A mild day: the lead fires alone. What an idle boiler does to the supply, with its valve open and shut."""
    from figures.physics import Prepared, State, solve

    made = plant_of(plant)
    reading, prepared = read(made), Prepared(made)
    idle = [tag for tag in reading.boilers if tag != reading.lead]
    loads = [tag for tag in made.parts if made.is_load(tag)]
    wanted = 0.8 * made.parts[reading.lead or reading.boilers[0]].number("output_kw") / len(loads)
    body: list[list[Cell]] = []
    for name, shut in (("open", []), ("shut", _valves(made, *idle))):
        found = solve(prepared, State(idle=idle, shut=shut, load=dict.fromkeys(loads, wanted)))
        body.append([name, (sum(abs(found.lps(tag)) for tag in idle), "lps"), (found.parts[loads[0]]["inlet_c"], "c"),
                     (found.parts[reading.lead or reading.boilers[0]]["outlet_c"], "c")])
    return Table(f"{made.title}: only {reading.lead} fires", [f"Valve of {listed(idle)}", f"Flow through {listed(idle)}",
                 "Supply to the building", f"{reading.lead} gives"], body)


def _valves(plant: Plant, *boilers: str) -> list[str]:
    """The motorised valves of these boilers; of all of them unless some are named."""
    numbers = {tag[1:] for tag in boilers}
    return [part.tag for part in plant.of_kind("motorised valve")
            if part.tag.startswith("MV") and (not boilers or part.tag[2:] in numbers)]


def _zone_valves(plant: Plant) -> list[str]:
    return [part.tag for part in plant.of_kind("motorised valve") if part.tag not in _valves(plant)]


BYPASSES = {"no bypass": (), "one across the boilers": ("BV",), "one across the zones": ("BVL",), "both": ("BV", "BVL")}


def bypass_table(plant: object) -> Table:
    """What the system pump still moves when all boilers are shut, and when all zones are, with each bypass and without.

    plant: one of `common_loop`. A bypass that is left out is shut here, which is the same to the water.

    >>> shown = bypass_table(common_loop(1))
    >>> [[f > 0.1 for f in shown.column(n)] for n in (1, 2)]
    [[False, True, False, True], [False, False, True, True]]
    """
    from figures.physics import Prepared, State, solve

    made = plant_of(plant)
    prepared, boilers = Prepared(made), list(read(made).boilers)
    pump = next(part.tag for part in made.of_kind("pump"))
    body: list[list[Cell]] = []
    for name, there in BYPASSES.items():
        gone = [part.tag for part in made.of_kind("bypass valve") if part.tag not in there]
        row: list[Cell] = [name]
        for shut in (_valves(made), _zone_valves(made)):
            found = solve(prepared, State(shut=[*shut, *gone], idle=boilers))
            row.append((abs(found.lps(pump)), "lps"))
        body.append(row)
    return Table(f"{made.title}: what {pump} still moves", ["Bypass fitted", "All boilers shut", "All zones shut"], body)


def without_power_table(plant: object) -> Table:
    """The control loses its power while the boilers are hot: what a valve does that springs open, and one that springs shut.

    The system pump has a supply of its own and runs on; the zones stand open.
    """
    from figures.physics import Prepared, State, solve

    made = plant_of(plant)
    prepared, boilers = Prepared(made), list(read(made).boilers)
    body: list[list[Cell]] = []
    for name, shut in (("springs open", []), ("springs shut", _valves(made))):
        found = solve(prepared, State(shut=shut, idle=boilers))
        flow = sum(abs(found.lps(tag)) for tag in boilers)
        body.append([name, (flow, "lps"), "to the building" if flow > 0.01 else "nowhere: it is shut in with the boiler"])
    return Table(f"{made.title}: the control has no power, the system pump runs",
                 ["The boilers' valves", "Flow through the boilers", "The heat that is left goes"], body)


@dataclass(frozen=True)
class NoFlow:
    """A boiler that burns without flow: how fast its water warms [K/min], and from its setpoint to 100 °C [min]."""

    output_kw: float
    water_l: float
    setpoint_c: float
    k_per_min: float
    minutes: float


def no_flow(plant: object) -> NoFlow:
    """What the lead boiler's water does if it burns at full output and no water passes. Metal is left out.

    >>> found = no_flow(common_loop(1))
    >>> round(found.k_per_min * found.minutes + found.setpoint_c, 6)
    100.0
    """
    from figures.physics import water

    made = plant_of(plant)
    boiler = made.parts[read(made).lead or read(made).boilers[0]]
    kw, litres, at = boiler.number("output_kw"), boiler.number("water_l"), boiler.number("setpoint_c")
    rate = kw * 60.0 / (litres * water(80.0).heat_kw_per_lps_k)
    return NoFlow(kw, litres, at, rate, (100.0 - at) / rate)


# -- direct and reverse return -----------------------------------------------------------------------------------------

class Returns:
    """Four equal boilers with much water and little resistance, on direct and on reverse return, on narrow and wide headers.

    plants: 'direct return, narrow headers' … → plant.  flows: the same → L/s of each boiler, in order.

    >>> shown = Returns(1)
    >>> shown.spread("direct return, narrow headers") > shown.spread("reverse return, narrow headers") > 1.0
    True
    """

    def __init__(self, seed: int) -> None:
        chance = chance_of(seed, "returns")
        output = chance.choice(OUTPUTS_KW)
        sizes = list(STEEL_INSIDE_MM)
        self.plants: dict[str, Plant] = {}
        for width in ("narrow", "wide"):
            for order in ("direct", "reverse"):
                plant = Scheme("single loop", boilers=4, lead=1, return_order=order, fittings=(), sensors=(),
                               outputs_kw=(output,) * 4, title=title_of(seed)).plant()
                header = _header_size(plant)
                narrow = sizes[sizes.index(header.removeprefix("NPS ")) - 2]
                size = header if width == "wide" else f"NPS {narrow}"
                self.plants[f"{order} return, {width} headers"] = _with_headers(plant, size)
        self.boilers = list(read(self.plants["direct return, wide headers"]).boilers)

    @cached_property
    def flows(self) -> dict[str, list[float]]:
        """What each boiler gets [L/s]."""
        from figures.physics import Prepared

        return {name: [Prepared(plant).solve().lps(tag) for tag in self.boilers] for name, plant in self.plants.items()}

    def spread(self, name: str) -> float:
        """The most over the least [-]."""
        return max(self.flows[name]) / min(self.flows[name])

    def header(self, width: str) -> str:
        """The pipe size of the headers, narrow or wide."""
        return _header_size(self.plants[f"direct return, {width} headers"])

    def least(self, name: str) -> list[str]:
        """The boilers that get least: more than one where they get the same."""
        low = min(self.flows[name])
        return [tag for tag, q in zip(self.boilers, self.flows[name]) if q < low * 1.001]

    def beside(self) -> Beside:
        """Direct and reverse return on narrow headers."""
        return Beside({name: self.plants[name] for name in ("direct return, narrow headers", "reverse return, narrow headers")})

    def chart(self) -> Graph:
        """A bar a boiler, a group a plant."""
        return Graph(self._picture)

    def _picture(self, units: Units) -> Picture:
        from figures.drawing.plain_charts import bars

        rows = {f"{name[0].upper()}{name[1:]} ({self.header(name.split()[2])})":
                [converted(q, "lps", units) for q in flow] for name, flow in self.flows.items()}
        return bars(rows, unit=unit_name("lps", units), names=self.boilers, title="Flow through each boiler", least="← least")

    def table(self) -> Table:
        """The most and the least of each, and one over the other."""
        body: list[list[Cell]] = [[name, (max(flow), "lps"), (min(flow), "lps"), listed(self.least(name)),
                                   f"{self.spread(name):.2f}"] for name, flow in self.flows.items()]
        return Table("Who gets how much", ["Piping", "Most", "Least", "Least at", "Most ÷ least"], body)


def _is_header(through: tuple[str, ...]) -> bool:
    """Pipe between two tees of the boilers' headers on a scheme's plant."""
    return len(through) == 2 and all(re.fullmatch(r"[SR]\d+", end) for end in through)


def _header_size(plant: Plant) -> str:
    return next(run.size for run in plant.runs if run.size is not None and _is_header(run.through))


def _with_headers(plant: Plant, size: str) -> Plant:
    runs = tuple(replace(run, size=size, length_m=2.0) if _is_header(run.through) else run for run in plant.runs)
    parts = {tag: replace(part, given={**part.given, "kv_m3h": LITTLE_RESISTANCE, "water_l": MANY_LITRES})
             if part.kind == "boiler" else part for tag, part in plant.parts.items()}
    return replace(plant, parts=parts, runs=runs)


def returns(seed: int) -> Returns:
    """Direct against reverse return on two header sizes: see `Returns`."""
    return Returns(seed)


# -- what is wrong with several boilers ------------------------------------------------------------------------------

def boiler_fault(seed: int) -> Plant:
    """Several boilers on a single loop with one thing wrong at them, by chance.

    >>> [f.rule for f in read(boiler_fault(1)).findings if f.severity in ("must fix", "should fix")] != []
    True
    """
    chance = chance_of(seed, "boiler fault")
    return Scheme("single loop", boilers=chance.choice((2, 3)), emitters=1, bypass="valve", fittings=(), sensors=(),
                  load_bypass=True, title=title_of(seed), faults=(chance.choice(BOILER_FAULTS),)).plant()
