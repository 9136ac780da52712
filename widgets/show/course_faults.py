"""What the lesson on faults shows: ghost flow and its cures, what is reversed, crossed or blocked, and what to mend first.

Faults are made on purpose on plants of a seed; what the water does with them comes from the solver.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from figures.plant import Plant
from figures.plant.faults import Fault, applicable
from figures.plant.scheme import Scheme
from figures.reading import Finding, Reading, read
from widgets.learn.wrong import WRONG

from .course_seed import MEETINGS, OUTPUTS_KW, chance_of, title_of
from .given import plant_of
from .predict import Predict
from .table import Cell, Table

# -- pressure --------------------------------------------------------------------------------------------------------

def stop_valves(seed: int) -> Plant:
    """A plant on which somebody has put stop valves where none may be: under the relief valve and at the expansion tank.

    >>> sorted(f.rule for f in by_danger(read(stop_valves(1))))
    ['expansion-isolated', 'relief-isolated']
    """
    chance = chance_of(seed, "stop valves")
    return Scheme(separation=chance.choice(MEETINGS), load_bypass=True, fittings=("fill",),
                  outputs_kw=(chance.choice(OUTPUTS_KW),), sensors=("system supply",), title=title_of(seed),
                  faults=("relief-isolated", "expansion-isolated")).plant()


def sound_plant(seed: int) -> Plant:
    """A plant with a tank and two boilers against which no rule has anything that must or should be fixed.

    >>> by_danger(read(sound_plant(1)))
    []
    """
    chance = random.Random(f"loopbook sound {int(seed)}")
    while True:
        plant = Scheme.random(chance.getrandbits(40), boilers=(1, 2)).plant()
        if not by_danger(read(plant)) and len(plant.parts) <= MOST_PARTS and read(plant).tanks:
            return plant


# -- ghost flow ----------------------------------------------------------------------------------------------------

TANK_BRANCH = {"nothing closes it": "tank-valve-missing", "a pump and a check valve": "ghost-flow", "a motorised valve": ""}
"""What stands in the branch of a tank beside the system pump's loads, and the fault that makes it so."""


def ghost_plants(seed: int) -> dict[str, Plant]:
    """One plant, its tank beside the loads of the system pump, with each thing that may stand in the tank's branch.

    >>> [[f.rule for f in read(plant).findings if f.rule == "ghost-flow"] for plant in ghost_plants(1).values()]
    [['ghost-flow'], ['ghost-flow'], []]
    """
    chance = chance_of(seed, "ghosts")
    scheme = Scheme(separation=chance.choice(MEETINGS), tank="system loop",
                    tank_by="motorised valve", outputs_kw=(chance.choice(OUTPUTS_KW),), load_bypass=True, fittings=(),
                    sensors=("system supply",), title=title_of(seed))
    return {name: replace(scheme, faults=(fault,) if fault else ()).plant() for name, fault in TANK_BRANCH.items()}


def ghost_table(seed: int) -> Table:
    """A heat call, and no DHW call: what passes the tank's branch, and what heat it takes.

    >>> flows = ghost_table(1).column(1)
    >>> flows[0] > flows[1] > 0.1 and flows[2] == 0.0
    True
    """
    from figures.physics.operation import Operator

    body: list[list[Cell]] = []
    title = ""
    for name, plant in ghost_plants(seed).items():
        operator = Operator(plant)
        tank = operator.reading.tanks[0]
        row = operator.operate(operator.right("heat")).load(tank)
        title = f"{plant.title}: a heat call, and nobody wants hot water"
        body.append([name, (abs(row.flow_lps), "lps"), (row.given_kw, "kw")])
    return Table(title, ["In the tank's branch", "Flow through the coil", "Heat that the tank takes"], body)


def idle_branch_plants(seed: int) -> dict[str, Plant]:
    """Two boilers with a pump each; in one of the plants a boiler's check valve is left out."""
    scheme = Scheme(boilers=2, outputs_kw=(chance_of(seed, "idle branch").choice(OUTPUTS_KW),) * 2, load_bypass=True, fittings=(),
                    sensors=("system supply",), title=title_of(seed))
    return {"no check valve": replace(scheme, faults=("boiler-check-missing",)).plant(), "a check valve": scheme.plant()}


def idle_branch_table(seed: int) -> Table:
    """The other boiler runs alone: what passes the boiler whose pump is off, with its check valve and without.

    >>> flows = idle_branch_table(1).column(1)
    >>> flows[0] > 0.01 and flows[1] == 0.0
    True
    """
    from figures.physics import Prepared, State, solve

    plants = idle_branch_plants(seed)
    bare = next(f.parts[0] for f in read(plants["no check valve"]).findings if f.rule == "ghost-flow")
    pump = f"P{bare}"
    body: list[list[Cell]] = []
    for name, plant in plants.items():
        found = solve(Prepared(plant), State(off=[pump], idle=[bare]))
        flow = found.lps(bare)
        body.append([f"{pump} is off, {name}", (abs(flow), "lps"),
                     "stands still" if abs(flow) < 1e-6 else "backwards" if flow < 0.0 else "forwards"])
    title = f"{plants['a check valve'].title}: {bare} rests, and the other boiler runs"
    return Table(title, ["Its branch", f"Flow through {bare}", "Which way"], body)


# -- reversed, crossed, blocked ------------------------------------------------------------------------------------

TURNED = {"nothing": "", "the system pump reversed": "part-reversed", "a boiler's check valve reversed": "check-reversed",
          "supply and return crossed": "tees-crossed", "a hand valve in the common pipe": "common-pipe-valve"}


def turned_plants(seed: int) -> dict[str, Plant]:
    """One plant with two close tees and two boilers, sound, and with each thing reversed, crossed or blocked."""
    scheme = Scheme(boilers=2, outputs_kw=(chance_of(seed, "turned").choice(OUTPUTS_KW),) * 2, load_bypass=True, fittings=(),
                    sensors=("system supply",), title=title_of(seed))
    return {name: replace(scheme, faults=(fault,) if fault else ()).plant() for name, fault in TURNED.items()}


def turned_table(seed: int) -> Table:
    """What each does to the building on a heat call, and where water goes once the system pump stops. The hand valve is shut.

    >>> shown = turned_table(1)
    >>> min(shown.column(1)) < shown.value(0, 1), shown.value(4, 4) > 10.0 * shown.value(0, 4)
    (True, True)
    """
    from figures.physics import Prepared, State, solve

    body: list[list[Cell]] = []
    plants = turned_plants(seed)
    for name, plant in plants.items():
        shut = [part.tag for part in plant.of_kind("isolation valve")]
        load = next(tag for tag in plant.parts if plant.is_load(tag))
        prepared = Prepared(plant)
        found = solve(prepared, State(shut=shut))
        ends = found.parts[load]
        enters = max(c for c in (ends["inlet_c"], ends["outlet_c"]) if c is not None)
        stopped = solve(prepared, State(shut=shut, off=["PS"]))
        body.append([name, (found.heat.heat_kw.get(load, 0.0), "kw"), (enters, "c"), (found.lps(load), "lps"),
                     (abs(stopped.lps(load)), "lps")])
    return Table(f"{plants['nothing'].title}: what is wrong, and what the building gets",
                 ["What is wrong", "The building gets", "Its water comes at", "Its flow", "Its flow with PS off"], body)


# -- what to mend first --------------------------------------------------------------------------------------------

@dataclass(frozen=True, slots=True)
class Danger:
    """What a fault can do. rank: 1 is the worst.  harm: in a few words."""

    rank: int
    harm: str


_PRESSURE = Danger(1, "pressure with no way out: something bursts")
_TAPS = Danger(2, "water hot enough to burn or to spoil what it reaches")
_NO_FLOW = Danger(3, "a boiler that burns without water or without flow")
_ASTRAY = Danger(4, "water that goes where nobody sent it, or nowhere")
_BLIND = Danger(5, "a control that does not see, or a plant out of balance")

DANGERS: Mapping[str, Danger] = MappingProxyType({
    "relief-missing": _PRESSURE, "relief-isolated": _PRESSURE, "expansion-missing": _PRESSURE, "expansion-isolated": _PRESSURE,
    "mixing-valve": _TAPS, "low-temperature-zone": _TAPS,
    "low-water": _NO_FLOW, "proof-of-flow": _NO_FLOW, "loop-pump": _NO_FLOW, "pump-bypass": _NO_FLOW,
    "valve-fail-position": _NO_FLOW, "boiler-isolation-local": _NO_FLOW,
    "load-straddles": _ASTRAY, "part-reversed": _ASTRAY, "ports-crossed": _ASTRAY, "common-pipe-blocked": _ASTRAY,
    "boiler-isolation": _ASTRAY, "ghost-flow": _ASTRAY, "zones-shut": _ASTRAY, "expansion-point": _ASTRAY, "tee-spacing": _ASTRAY,
    "tank-sensor": _BLIND, "supply-sensor": _BLIND, "lead-boiler": _BLIND, "reverse-return": _BLIND})
"""What each piping rule guards against, the worst first: common practice, no source. The local code prevails.

>>> from figures.reading.rules import rules
>>> set(DANGERS) == set(rules())
True
"""
SEVERE = ("must fix", "should fix")
MOST_PARTS = 34
"""More parts than this and a drawing is hard to look through in a lesson."""


def by_danger(reading: Reading) -> list[Finding]:
    """What must or should be fixed, what can hurt somebody soonest first."""
    found = [f for f in reading.findings if f.severity in SEVERE]
    return sorted(found, key=lambda f: (DANGERS[f.rule].rank, SEVERE.index(f.severity), f.rule))


def danger_table(plant: object) -> Table:
    """The findings of a plant in the order in which they are mended, with what each can do."""
    made = plant_of(plant)
    body: list[list[Cell]] = [[str(n), finding.says, DANGERS[finding.rule].harm, finding.fix]
                              for n, finding in enumerate(by_danger(read(made)), 1)]
    return Table(f"{made.title}: what to mend, in order", ["", "What is wrong", "What it can do", "The mend"], body)


def troubled(seed: int, faults: int = 3) -> Plant:
    """A plant with several faults, one that can burst or burn among them, each of another danger.

    >>> ranks = [DANGERS[f.rule].rank for f in by_danger(read(troubled(1)))]
    >>> ranks == sorted(set(ranks)), ranks[0] <= 2
    (True, True)
    """
    chance = random.Random(f"loopbook troubled {int(seed)}")
    for _ in range(200):
        scheme = Scheme.random(chance.getrandbits(40), boilers=(1, 2))
        if scheme.emitters > 2:
            continue
        chosen: list[Fault] = []
        for rank in (chance.choice((1, 2)), *chance.sample((3, 4, 5), 3)):
            free = [f for f in applicable(scheme) if DANGERS[f.rule].rank == rank and len(chosen) < faults
                    and not any(f.touches & other.touches for other in chosen)]
            chosen += [chance.choice(free)] if free else []
        if len(chosen) < faults:
            continue
        plant = replace(scheme, faults=tuple(f.name for f in chosen)).plant()
        ranks = [DANGERS[f.rule].rank for f in by_danger(read(plant))]
        # A fault may be worth no more than a note, and is then no fault here.
        if len(ranks) == faults == len(set(ranks)) and ranks[0] <= 2 and len(plant.parts) <= MOST_PARTS:
            return plant
    raise ValueError(f"no plant with {faults} faults of different dangers was found; ask for fewer")


def mend_first(plant: object) -> Predict:
    """Which of a plant's faults is mended first? Who errs is told what the one they chose can do.

    Raises ValueError for a plant with fewer than two faults, or where two are equally dangerous.

    >>> ask = mend_first(troubled(1))
    >>> ask.commit(ask.right)
    >>> ask.verdict().partition(";")[0] == f"said {ask.right}"
    True
    """
    made = plant_of(plant)
    found = by_danger(read(made))
    ranks = [DANGERS[f.rule].rank for f in found]
    if len(found) < 2 or ranks[0] == ranks[1]:
        raise ValueError("to ask what is mended first, one fault has to be more dangerous than the others")
    labels = {f.rule: f"{WRONG[f.rule].label} ({', '.join(f.parts[:2])})" for f in found}
    told = {labels[f.rule]: f"That can do this: {DANGERS[f.rule].harm}. Something here is worse." for f in found[1:]}
    words = {labels[rule]: told.get(labels[rule], "") for rule in sorted(labels)}
    return Predict("All of this is wrong. The boiler is off, and you may mend one thing today. Which?", words,
                   labels[found[0].rule], f"It can do this: {DANGERS[found[0].rule].harm}. That comes before everything else.")


def seed_for(seed: int, faults: int) -> int:
    """The first plant number from this one on whose made plant has so many faults and is not too large for a lesson.

    >>> from widgets.learn.find import find_task
    >>> task = find_task(seed_for(30, 2), 2)
    >>> len(task.faults), len(task.plant.parts) <= MOST_PARTS
    (2, True)
    """
    from widgets.learn.find import find_task

    for number in range(seed, seed + 200):
        task = find_task(number, faults)
        if len(task.faults) == faults and len(task.plant.parts) <= MOST_PARTS:
            return number
    raise ValueError(f"no small enough plant with {faults} faults was found from {seed} on")
