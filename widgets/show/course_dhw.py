"""Plants and figures of the lessons on heating only, and on the tank that hangs on the system loop.

Each `Table` is made from the plant it is given; what a lesson claims of it stands in its proof cells, for any seed.
"""

from __future__ import annotations

from dataclasses import replace

from figures.physics.day_settings import reset_emitter_c
from figures.physics.flue import dew_point_c
from figures.physics.operation import Operator
from figures.plant.model import Plant
from figures.plant.scheme import Scheme
from figures.reading import read
from figures.reading.evidence import listed
from figures.reading.settings import settings

from .course_loops import COLD_C, found, hottest, scheme, tagged
from .course_meet import pumps
from .table import Cell, Table

OUTDOOR_C = (-12.0, -5.0, 0.0, 5.0, 10.0)
EXCESS_AIR = (0.1, 0.2, 0.5, 1.0)
USUAL_AIR = EXCESS_AIR[1]
"""Air beyond what the burning needs: invented examples; an analyser tells the true one."""
PUMPED = {"tank_by": "pump", "zones_by": "pump", "system_pump": "none"}
"""A tank with a pump of its own, beside zones that have theirs."""


# -- heating only ------------------------------------------------------------------------------------------

def no_tank(seed: int) -> Plant:
    """Two loops, two zones, and nothing that heats DHW.

    >>> read(no_tank(1)).control
    'heating only'
    """
    return scheme(seed, "no tank", emitters=2, separation="closely spaced tees" if seed % 2 else "hydraulic separator").plant()


def hidden(seed: int) -> Plant:
    """No tank is drawn, but a plate exchanger at the far end of the system loop heats DHW.

    >>> read(hidden(1)).control
    'DHW on the system loop'
    """
    return scheme(seed, "hidden", emitters=2, tank="system loop", dhw_by="heat exchanger").plant()


def for_heating(seed: int) -> Plant:
    """A heat exchanger that serves heating: it looks like the one of `hidden`, and is no DHW.

    >>> read(for_heating(1)).control
    'heating only'
    """
    return scheme(seed, "for heating", emitters=2, exchangers=(2,)).plant()


def what_heats_dhw(*plants: Plant) -> Table:
    """What is drawn that could heat DHW, what it serves, and what the control is told."""
    rows: list[list[Cell]] = []
    for plant in plants:
        seen = [f"{tag}, {plant.parts[tag].kind}, serves {'DHW' if plant.is_dhw(tag) else 'heating'}"
                for tag in plant.parts if plant.parts[tag].kind in ("indirect tank", "heat exchanger")]
        rows.append([plant.title, listed(seen) if seen else "neither a tank nor an exchanger", read(plant).control])
    return Table("Is there anything that heats DHW?", ["plant", "what is drawn", "the control is told"], rows)


def told_heating_only(plant: Plant) -> Table:
    """A DHW call while the control is told that there is no tank, and while it is told rightly."""
    operator = Operator(plant)
    load = operator.reading.tanks[0]
    rows: list[list[Cell]] = []
    for control in ("heating only", operator.reading.control):
        done = operator.operate(operator.setting(control, "dhw"))
        row = done.load(load)
        rows.append([control, listed(done.sequence.running) or "none", (row.wanted_kw, "kw"), (row.given_kw, "kw")])
    return Table(f"{plant.title}: somebody opens a hot tap, and {load} calls", [
        "the control is told", "pumps that run", "heat wanted", "heat given"], rows)


def reset_day(plant: Plant, outdoors_c: tuple[float, ...] = OUTDOOR_C) -> Table:
    """Supply that just heats the building, its return, and what that return is to the two kinds of boiler.

    Source: the emitter equation of EN 442-2 with steady heat balances, exponent of the plant's design; the return is the
    supply less the load's share of the design difference. Dew point: `figures.physics.flue.dew_point_c`.
    """
    design = plant.design
    dew_c = dew_point_c(USUAL_AIR)
    rows: list[list[Cell]] = []
    for outdoor in outdoors_c:
        share = max(design.room_c - outdoor, 0.0) / (design.room_c - design.outdoor_c)
        supply = float(reset_emitter_c(outdoor, design))
        back = supply - share * (design.supply_c - design.return_c)
        rows.append([(outdoor, "c"), (supply, "c"), (back, "c"), "too cold for it" if back < COLD_C else "warm enough",
                     "condenses" if back < dew_c else "runs dry"])
    return Table(f"{plant.title}: supply follows the weather", [
        "outdoors", "supply", "return", "boiler not built to condense", "boiler built to condense"], rows)


def dew_points() -> Table:
    """Dew point of the flue gas of natural gas, taken as pure methane, for several excesses of air."""
    return Table("Flue gas of natural gas: below this temperature its water condenses",
                 ["air beyond what the burning needs", "dew point"],
                 [[f"{share * 100:.0f} %", (dew_point_c(share), "c")] for share in EXCESS_AIR])


def reset_wants(plant: Plant) -> Table:
    """What outdoor reset needs, and how this plant stands."""
    words = {True: "shown on the drawing", False: "missing", None: "to be settled on site"}
    rows = [[need.says, words[need.met] if need.applies else "not asked for here", need.evidence.says]
            for need in settings(read(plant)).reset]
    return Table(f"{plant.title}: may outdoor reset be used?", ["what it needs", "here", "why"], rows)


def reset_ready(seed: int, ready: bool) -> Plant:
    """A heating-only plant that has all that outdoor reset needs, or one that lacks the sensor and guards no return.

    >>> [settings(read(reset_ready(1, ready))).reset_allowed for ready in (True, False)]
    [True, False]
    """
    sensors = ("system supply", "outdoor") if ready else ("system supply",)
    warm = {"supply_c": 70.0, "return_c": 50.0} if ready else {}
    return scheme(seed, f"reset {ready}", condensing=ready, sensors=sensors, **warm).plant()


def lacking_sensor(seed: int) -> Plant:
    """A heating-only plant whose supply sensor stands before the point where the waters meet: something to find."""
    return scheme(seed, "lacking", zones_by="none", faults=("sensor-before-separation",)).plant()


# -- a tank on the system loop -----------------------------------------------------------------------------

def pumped_tank(seed: int, on: str) -> Plant:
    """A tank with a pump of its own, on the 'system loop' or the 'boiler loop'.

    >>> [read(pumped_tank(4, on)).dhw for on in ("system loop", "boiler loop")]
    ['system loop', 'boiler loop']
    """
    return scheme(seed, "pumped", tank=on, **(PUMPED if on == "system loop" else {"tank_by": "pump"})).plant()


def valved_scheme(seed: int) -> Scheme:
    """A tank beside a radiator on the system loop, both behind a motorised valve, and one system pump."""
    return scheme(seed, "valved", tank="system loop", tank_by="motorised valve")


def coil_pipes(plant: Plant) -> tuple[str, ...]:
    """The tank, its coil's pipe and the two ends that it joins: what a drawing lights up."""
    tank = read(plant).tanks[0]
    run = plant.run_through[tank]
    return (tank, plant.run_names[run], plant.runs[run].through[0], plant.runs[run].through[-1])


def same_pump(system: Plant, boiler: Plant) -> Table:
    """For two plants the tank's own pump, the tees of its coil, the loop they are on, and what the control is told."""
    rows: list[list[Cell]] = []
    for words, plant in (("first", system), ("second", boiler)):
        reading = read(plant)
        run = plant.runs[plant.run_through[reading.tanks[0]]]
        own = [tag for tag in tagged(plant, "pump") if tag in run.through]
        rows.append([words, listed(own) or "none", f"{run.through[0]} and {run.through[-1]}", reading.dhw, reading.control,
                     reading.dhw_priority])
    return Table("The same pump at the tank, twice", [
        "plant", "the tank's pump", "its coil joins at", "which is on the", "the control is told", "priority"], rows)


def calls(plant: Plant) -> Table:
    """What runs and who gets heat on each call, and with DHW priority, as the piping asks."""
    operator = Operator(plant)
    tank = operator.reading.tanks[0]
    emitters = [tag for tag in plant.parts if plant.is_load(tag) and tag != tank]
    rows: list[list[Cell]] = []
    for words, call, priority in (("heat", "heat", False), ("DHW", "dhw", False), ("both, no priority", "both", False),
                                  ("both, DHW priority", "both", True)):
        done = operator.operate(operator.setting(operator.reading.control, call, priority=priority))
        rows.append([words, listed(done.sequence.running), (max(done.load(tank).given_kw, 0.0), "kw"),
                     (sum(max(done.load(tag).given_kw, 0.0) for tag in emitters), "kw")])
    return Table(f"{plant.title}: who runs, who gets heat", [
        "who calls", "pumps that run", f"the tank {tank} gets", "the building gets"], rows)


WAYS = (("tank-valve-missing", "nothing"), ("ghost-flow", "a pump that is off, and a check valve"),
        ("", "a motorised valve, shut"))
"""How a tank's branch is closed while it does not call: the fault that makes it so, and words."""


def ghosts(like: Scheme) -> Table:
    """A heat call; the tank does not call. What closes its branch, and what passes its coil."""
    rows: list[list[Cell]] = []
    for fault, words in WAYS:
        operator = Operator(replace(like, faults=(fault,) if fault else ()).plant())
        row = operator.operate(operator.right("heat")).load(operator.reading.tanks[0])
        rows.append([words, (max(row.flow_lps, 0.0), "lps"), (max(row.given_kw, 0.0), "kw")])
    return Table(f"{like.title}: only the building calls", [
        "what closes the tank's branch", "through its coil", "heat that it takes"], rows)


def idle_pump_scheme(seed: int) -> Scheme:
    """Two boilers with a pump and a check valve each."""
    return scheme(seed, "idle pump", boilers=2, zones_by="none")


def idle_pump(like: Scheme) -> Table:
    """One boiler rests, its pump is off: with its check valve, and without."""
    bare = replace(like, faults=("boiler-check-missing",)).plant()
    idle = next(tag for finding in read(bare).findings if finding.rule == "ghost-flow" for tag in finding.parts
                if bare.parts[tag].kind == "boiler")
    rows: list[list[Cell]] = []
    for words, plant in (("pump and check valve", like.plant()), ("pump alone, no check valve", bare)):
        off = [tag for tag in Operator(plant).jobs.boiler_parts[idle] if plant.parts[tag].kind == "pump"]
        emitters = tagged(plant, "emitter")
        one = found(plant, off=off, idle=(idle,), load={tag: 0.4 * plant.load_kw(tag) for tag in emitters})
        flow = one.lps(idle)
        still = abs(flow) < 1e-4
        rows.append([words, (0.0 if still else abs(flow), "lps"), "none" if still else "backwards" if flow < 0.0 else "forwards",
                     (hottest(one, emitters), "c")])
    return Table(f"{like.title}: {idle} rests, its pump is off", [
        "on its branch", f"water through {idle}", "direction", "the building gets"], rows)


def sensor_places(plant: Plant, speed: float = 0.6) -> Table:
    """What a sensor would tell at three places while the boiler loop moves less than the system loop."""
    boiler, _ = pumps(plant)
    sensor = next(part for part in plant.of_kind("temperature sensor") if part["role"] == "system supply")
    one = found(plant, speed={boiler: speed})
    at = str(sensor["at"])
    rows: list[list[Cell]] = [
        ["at the boiler's outlet", (hottest(one, tagged(plant, "boiler"), "outlet_c"), "c")],
        [f"beyond the place where the waters meet: {sensor.tag} at {at}", (one.nodes[at]["temperature_c"], "c")],
        ["in the system's return", (hottest(one, tagged(plant, "emitter"), "outlet_c"), "c")]]
    return Table(f"{plant.title}: the boiler pump {boiler} runs at {speed * 100:.0f} %", [
        "where a sensor stands", "it tells"], rows)


def haunted(seed: int) -> Plant:
    """A tank whose branch only a pump and a check valve close, beside the system pump's radiator: something to find.

    >>> [finding.rule for finding in read(haunted(1)).findings if "fix" in finding.severity]
    ['ghost-flow']
    """
    return replace(valved_scheme(seed + 500), faults=("ghost-flow",)).plant()


def exchangers(plant: Plant) -> tuple[str, ...]:
    """Heat exchangers, to be lit up."""
    return tuple(tagged(plant, "heat exchanger"))
