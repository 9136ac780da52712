"""Plants and figures of the lesson on one loop, and what the lessons on loops share.

Each function that ends in a `Table` solves the plant it is given; nothing is written down beforehand. What a lesson claims
of a table it asserts in its proof cells, for any seed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from figures.physics import Prepared, Solution, State, solve
from figures.physics.operation import Operator
from figures.physics.water import water
from figures.plant.model import Part, Plant
from figures.plant.scheme import Scheme

from .course_seed import OUTPUTS_KW, chance_of, title_of
from .table import Cell, Table

COLD_C, WARM_C = 54.0, 60.0
"""Return of a boiler not built to condense: at or above about 54 to 60 °C. Common practice; the maker's figure rules."""
NARROW = 1.0 / 3.0
"""Flow coefficient of the boiler with little water, as a share of the other's: invented, to show what it does."""
RISE_K, WARMER_K = 30.0, 10.0
Measure = Callable[[Solution], float]


def scheme(seed: int, about: str, **fields: Any) -> Scheme:
    """A scheme with an invented name, an output by the seed, and no more parts than are asked for.

    >>> scheme(1, "example", arrangement="single loop", boilers_by="none").boilers
    1
    """
    pick = chance_of(seed, about)
    single = fields.get("arrangement") == "single loop"
    given: dict[str, Any] = {
        "title": title_of(pick.randrange(10**6)), "supply_c": 80.0, "return_c": pick.choice((60.0, 65.0)),
        "outputs_kw": (pick.choice(OUTPUTS_KW),) * fields.get("boilers", 1), "fittings": (),
        "sensors": () if single else ("system supply",)}
    return Scheme(**(given | fields))


def tagged(plant: Plant, kind: str) -> list[str]:
    """Tags of the parts of a kind, in the order of the file."""
    return [part.tag for part in plant.of_kind(kind)]


def valves(plant: Plant) -> tuple[list[str], list[str]]:
    """Motorised valves that shut a boiler off, and those that shut a zone off.

    >>> valves(two_boilers(1).plant())
    (['MV1', 'MV2'], ['ZV1', 'ZV2'])
    """
    jobs = Operator(plant).jobs
    own, zones = jobs.with_job("boiler"), jobs.with_job("zone")
    every = tagged(plant, "motorised valve")
    return [tag for tag in every if tag in own], [tag for tag in every if tag in zones]


def changed(plant: Plant, tag: str, **keys: Any) -> Plant:
    """The same plant with some figures of one part set otherwise."""
    part = plant.parts[tag]
    return replace(plant, parts={**plant.parts, tag: Part(tag, part.kind, {**part.given, **keys})})


def found(plant: Plant | Prepared, **state: Any) -> Solution:
    """The plant solved in a state; keys as for `figures.physics.State`."""
    return solve(plant, State(**state))


def hottest(solution: Solution, tags: list[str], end: str = "inlet_c") -> float | None:
    """The temperature at an end of parts through which water moves, weighed by their flow [°C]; None where all is still."""
    rows = [(abs(solution.lps(tag)), c) for tag in tags if (c := solution.parts[tag][end]) is not None]
    flow = sum(q for q, _ in rows)
    return sum(q * c for q, c in rows) / flow if flow > 1e-6 else None


def speed_for(plant: Plant, pump: str, wanted: float, measure: Measure, **state: Any) -> float:
    """The speed of a pump [share of full] at which a figure that rises with it is as wanted; 0.05 to 2.

    Raises ValueError where no such speed reaches it.

    >>> plant = scheme(1, "example").plant()
    >>> speed = speed_for(plant, "PB1", 0.4, lambda s: s.lps("B1"))
    >>> round(found(plant, speed={"PB1": speed}).lps("B1"), 3)
    0.4
    """
    prepared = Prepared(plant)

    def at(speed: float) -> float:
        return measure(found(prepared, **{**state, "speed": {**state.get("speed", {}), pump: speed}})) - wanted

    low, high = 0.05, 2.0
    if at(low) > 0.0 or at(high) < 0.0:
        raise ValueError(f"no speed of {pump} gives {wanted:g}")
    for _ in range(34):
        middle = (low + high) / 2.0
        low, high = (low, middle) if at(middle) > 0.0 else (middle, high)
    return (low + high) / 2.0


# -- one loop ----------------------------------------------------------------------------------------------

def one_loop(seed: int) -> Plant:
    """One boiler, one pump, two zones that their valves can shut, and no bypass.

    >>> sorted({part.kind for part in one_loop(2).parts.values()} & {"bypass valve", "boiler", "pump"})
    ['boiler', 'pump']
    """
    return scheme(seed, "one loop", arrangement="single loop", boilers_by="none", emitters=2, return_c=65.0).plant()


def zones_close(plant: Plant) -> Table:
    """What passes the boiler while the zones' valves shut one by one and the pump goes on."""
    boiler, zones = tagged(plant, "boiler")[0], valves(plant)[1]
    rows: list[list[Cell]] = []
    for count, words in enumerate(("all zones open", "one zone shut", "all zones shut")):
        shut = zones if count == 2 else zones[:count]
        one = found(plant, shut=shut)
        flow = 0.0 if abs(one.lps(boiler)) < 1e-4 else one.lps(boiler)
        rows.append([words, (flow, "lps"), (one.heat.heat_kw[boiler] if flow else 0.0, "kw")])
    return Table(f"{plant.title}: zones shut, the pump runs on", ["what is set", f"through the boiler {boiler}",
                                                                 "heat carried away"], rows)


def little_water(plant: Plant) -> Plant:
    """The same plant with a boiler of little water and much resistance, which asks for a least flow.

    The least flow lets the water rise by 30 K at full fire. Water and resistance are invented figures; the maker's rule.
    """
    tag = tagged(plant, "boiler")[0]
    part = plant.parts[tag]
    least = part.number("output_kw") / (water(60.0).heat_kw_per_lps_k * RISE_K)
    return changed(plant, tag, water_l=round(0.15 * part.number("output_kw")), min_flow_lps=round(least, 2),
                   kv_m3h=round(part.number("kv_m3h") * NARROW, 1))


def boilers_compared(plant: Plant) -> Table:
    """The loop with its own boiler, and with one of little water and much resistance."""
    other = little_water(plant)
    tag, zones = tagged(plant, "boiler")[0], valves(plant)[1]
    pair = (plant, other)
    wide, part = [found(p) for p in pair], [found(p, shut=zones[:1]) for p in pair]
    boilers = [p.parts[tag] for p in pair]

    def row(words: str, cells: list[Cell]) -> list[Cell]:
        return [words, *cells]

    least = [b.number("min_flow_lps") for b in boilers]
    rows = [row("water in the boiler", [(b.number("water_l"), "l") for b in boilers]),
            row("pressure that the boiler takes, all zones open", [(boiler_kpa(s, tag), "kpa") for s in wide]),
            row("flow, all zones open", [(s.lps(tag), "lps") for s in wide]),
            row("flow, one zone shut", [(s.lps(tag), "lps") for s in part]),
            row("least flow that it asks for", [(q, "lps") if q else "none" for q in least]),
            row(f"burner on, no flow: {WARMER_K:.0f} K ({1.8 * WARMER_K:.0f} °F) hotter in",
                [f"{warms_s(b):.0f} s" for b in boilers])]
    return Table(f"{plant.title}: the same pipes with two kinds of boiler",
                 ["", "much water, little resistance", "little water, much resistance"], rows)


def boiler_kpa(solution: Solution, tag: str) -> float:
    """Pressure that a boiler's waterway takes [kPa], from its flow coefficient. Source: IEC 60534.

    >>> plant = one_loop(1)
    >>> boiler_kpa(found(plant), "B1") < boiler_kpa(found(little_water(plant)), "B1")
    True
    """
    share = solution.lps(tag) * 3.6 / solution.plant.parts[tag].number("kv_m3h")
    return 100.0 * share**2 * solution.flow.water.density_kgm3 / 1000.0


def warms_s(boiler: Part) -> float:
    """Time in which a boiler's burner at full fire makes its own still water 10 K hotter [s]. Its metal is left out."""
    fluid = water(70.0)
    joules = boiler.number("water_l") / 1000.0 * fluid.density_kgm3 * fluid.heat_capacity_jkgk * WARMER_K
    return joules / (boiler.number("output_kw") * 1000.0)


def two_boilers(seed: int) -> Scheme:
    """Two boilers on one loop, a valve each, and a bypass valve across them."""
    return scheme(seed, "two boilers", arrangement="single loop", boilers=2, emitters=2)


BYPASSES: Mapping[str, dict[str, Any]] = {
    "none": {"faults": ("pump-bypass",)},
    "across the boilers": {},
    "across the zones": {"faults": ("bypass-misplaced",)},
    "both": {"load_bypass": True}}
"""Where a bypass valve stands, and how a scheme says so."""


def two_bypasses(like: Scheme) -> Table:
    """What the pump moves when the boilers' valves are shut, and when the zones' are, for each place of a bypass."""
    rows: list[list[Cell]] = []
    for words, fields in BYPASSES.items():
        plant = replace(like, **fields).plant()
        pump, (boilers, zones) = tagged(plant, "pump")[0], valves(plant)
        flows = [found(plant, shut=shut).lps(pump) for shut in (boilers, zones)]
        rows.append([words, *((max(q, 0.0) if abs(q) > 1e-4 else 0.0, "lps") for q in flows)])
    return Table(f"{like.title}: what the pump can still move", ["bypass", "boilers' valves shut", "zones' valves shut"], rows)


def power_lost(like: Scheme) -> Table:
    """The boilers' valves lose their power while the pump runs on: which way they spring, and what then flows."""
    plant = like.plant()
    pump, (own, _) = tagged(plant, "pump")[0], valves(plant)
    boilers = tagged(plant, "boiler")
    rows: list[list[Cell]] = []
    for springs in ("open", "shut"):
        shut = own if springs == "shut" else []
        one = found(plant, shut=shut)
        flow = sum(one.lps(tag) for tag in boilers)
        rows.append([f"they spring {springs}", (flow if flow > 1e-4 else 0.0, "lps"), (one.lps(pump), "lps")])
    return Table(f"{plant.title}: the boilers' valves lose their power", [
        "the valves", "through the boilers", "through the pump"], rows)


def idle_boiler(like: Scheme) -> Table:
    """One of two boilers fires for less than half of the heat: the control is told the arrangement rightly, and wrongly."""
    operator = Operator(like.plant())
    plant = operator.plant
    emitters = tagged(plant, "emitter")
    mild = State(load={tag: 0.4 * plant.load_kw(tag) for tag in emitters})
    rows: list[list[Cell]] = []
    for arrangement in ("single loop", "separated loops"):
        setting = operator.setting("heating only", "heat", arrangement, 1)
        done = operator.operate(setting, also=mild)
        idle = next(tag for tag in tagged(plant, "boiler") if tag not in done.setting.boilers)
        fired = done.setting.boilers[0]
        round_by = max(done.solution.lps(tagged(plant, "bypass valve")[0]), 0.0)
        rows.append([arrangement, ("shut" if abs(done.solution.lps(idle)) < 1e-4 else "open"), (done.solution.lps(idle), "lps"),
                     (round_by, "lps"), (done.solution.parts[fired]["outlet_c"], "c"), (hottest(done.solution, emitters), "c")])
    return Table(f"{plant.title}: one boiler fires on a mild day", [
        "the control is set as", "valve of the idle boiler", "through the idle boiler", "through the bypass",
        "the boiler that fires gives", "the building gets"], rows)


def boiler_returns(plant: Plant, setpoints_c: tuple[float, ...] = (80.0, 70.0, 60.0)) -> Table:
    """What comes back to the boiler of one loop when it holds less and less at its outlet."""
    tag = tagged(plant, "boiler")[0]
    rows: list[list[Cell]] = []
    for setpoint in setpoints_c:
        one = found(plant, setpoint_c={tag: setpoint})
        back = one.parts[tag]["inlet_c"]
        assert back is not None
        rows.append([(setpoint, "c"), (back, "c"), judged(back)])
    return Table(f"{plant.title}: the return of the one loop", [
        "the boiler holds", "its water comes back at", "for a boiler not built to condense"], rows)


def judged(back_c: float) -> str:
    """A return, for a boiler that is not built to condense.

    >>> judged(45.0), judged(57.0), judged(65.0)
    ('too cold', 'ask its instructions', 'warm enough')
    """
    return "too cold" if back_c < COLD_C else "warm enough" if back_c >= WARM_C else "ask its instructions"


def misplaced(seed: int) -> Plant:
    """Two boilers on one loop whose only bypass valve lies across the zones: something to find.

    >>> from figures.reading import read
    >>> [finding.rule for finding in read(misplaced(1)).findings if finding.severity == "must fix"]
    ['pump-bypass']
    """
    return replace(two_boilers(seed + 500), faults=BYPASSES["across the zones"]["faults"]).plant()
