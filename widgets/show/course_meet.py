"""Plants and figures of the lesson on the place where two loops meet.

Each `Table` is solved from the plant it is given; what the lesson claims of it stands in its proof cells, for any seed.
"""

from __future__ import annotations

from dataclasses import replace

from figures.physics import Prepared, Solution
from figures.physics.water import GRAVITY_MS2
from figures.plant.model import Plant
from figures.plant.scheme import Scheme
from figures.reading import Reading, read

from .course_loops import found, hottest, scheme, speed_for, tagged
from .table import Cell, Table

CASES = (("boiler loop moves more", 1.5), ("both move the same", 1.0), ("system loop moves more", 0.7))
"""Words, and the boiler loop's flow as a share of the system loop's."""


def meeting_scheme(seed: int, separation: str = "closely spaced tees") -> Scheme:
    """One boiler with its pump, one radiator with its pump, and a place where the two loops meet."""
    return scheme(seed, "meeting", separation=separation, zones_by="none", spacing_diameters=4.0, return_c=60.0)


def meeting(seed: int, separation: str = "closely spaced tees") -> Plant:
    """The plant of `meeting_scheme`.

    >>> read(meeting(3)).arrangement, read(meeting(3, "hydraulic separator")).arrangement
    ('separated loops', 'separated loops')
    """
    return meeting_scheme(seed, separation).plant()


def pumps(plant: Plant) -> tuple[str, str]:
    """The pump of the boiler loop and that of the system loop, by the reading.

    >>> pumps(meeting(1))
    ('PB1', 'PS')
    """
    reading, every = read(plant), tagged(plant, "pump")
    own = [tag for tag in every if (loop := reading.loop_of(tag)) is not None and loop.role == "boiler loop"]
    return own[0], next(tag for tag in every if tag not in own)


def common_pipe(plant: Plant, reading: Reading | None = None) -> int:
    """The index of the run between two closely spaced tees. Raises ValueError where the loops do not meet at tees."""
    places = [s for s in (reading or read(plant)).separations if len(s.pipes) == 1]
    if not places:
        raise ValueError("the loops of this plant do not meet at a pair of tees")
    return plant.run_names.index(places[0].pipes[0])


def across_lps(plant: Plant, solution: Solution) -> float:
    """Water in the common pipe [L/s], positive from the system's supply to the boiler's return: what is too much."""
    boiler, system = pumps(plant)
    return solution.lps(boiler) - solution.lps(system)


def flow_ratio(plant: Plant, share: float) -> Solution:
    """The plant with its boiler pump at the speed at which the boiler loop moves `share` times what the system loop does."""
    boiler, system = pumps(plant)
    speed = speed_for(plant, boiler, share, lambda s: s.lps(boiler) / s.lps(system))
    return found(plant, speed={boiler: speed})


def three_cases(plant: Plant) -> Table:
    """The common pipe and the temperatures while the boiler loop moves more, the same, and less."""
    boiler, system = pumps(plant)
    rows: list[list[Cell]] = []
    for words, share in CASES:
        one = flow_ratio(plant, share)
        over = across_lps(plant, one)
        way = "none" if abs(over) < 1e-3 else "supply to return" if over > 0.0 else "return to supply"
        rows.append([words, (one.lps(boiler), "lps"), (one.lps(system), "lps"), (0.0 if way == "none" else abs(over), "lps"), way,
                     *_ends(plant, one)])
    return Table(f"{plant.title}: three cases of two flows", [
        "case", "boiler loop", "system loop", "common pipe", "its direction", "the building gets", "the boiler gets back"], rows)


def _ends(plant: Plant, one: Solution) -> list[Cell]:
    return [(hottest(one, tagged(plant, "emitter")), "c"), (hottest(one, tagged(plant, "boiler")), "c")]


def diluted(plant: Plant, supply_c: float = 75.0) -> Solution:
    """The plant with its boiler pump so slow that the building gets `supply_c` while the boiler gives 80 °C.

    >>> plant = meeting(2)
    >>> one = diluted(plant)
    >>> round(one.parts["B1"]["outlet_c"], 1), round(one.parts["E1"]["inlet_c"], 1)
    (80.0, 75.0)
    """
    boiler, _ = pumps(plant)
    speed = speed_for(plant, boiler, supply_c, lambda s: hottest(s, tagged(plant, "emitter")) or 0.0)
    return found(plant, speed={boiler: speed})


def mixture(plant: Plant, one: Solution) -> dict[str, tuple[float, str]]:
    """The figures of a mixture: flows and temperatures of both waters, and what the rule makes of them.

    mixed: (m_b·T_b + (m_s − m_b)·T_r)/m_s, perfect mixing without loss: by hand, to be held against the solved supply.
    """
    boiler, system = pumps(plant)
    m_b, m_s = one.lps(boiler), one.lps(system)
    hot, back = hottest(one, tagged(plant, "boiler"), "outlet_c"), hottest(one, tagged(plant, "emitter"), "outlet_c")
    supply = hottest(one, tagged(plant, "emitter"))
    assert hot is not None and back is not None and supply is not None
    by_hand = (m_b * hot + (m_s - m_b) * back) / m_s
    return {"boiler_flow": (m_b, "L/s"), "system_flow": (m_s, "L/s"), "short": (m_s - m_b, "L/s"), "hot": (hot, "°C"),
            "back": (back, "°C"), "supply": (supply, "°C"), "by_hand": (by_hand, "°C")}


def bigger_pump(plant: Plant, speeds: tuple[float, ...] = (0.5, 0.75, 1.0, 1.5, 2.0)) -> Table:
    """The boiler pump made stronger and stronger: the supply, and the boiler's return."""
    boiler, system = pumps(plant)
    rows: list[list[Cell]] = []
    for speed in speeds:
        one = found(plant, speed={boiler: speed})
        rows.append([f"{speed * 100:.0f} %", (one.lps(boiler), "lps"), (one.lps(system), "lps"), *_ends(plant, one)])
    return Table(f"{plant.title}: a stronger and stronger boiler pump", [
        f"speed of {boiler}", "boiler loop", "system loop", "the building gets", "the boiler gets back"], rows)


def spaced(plant: Plant, diameters: float) -> Plant:
    """The same plant with its two tees so many inside diameters apart."""
    at = common_pipe(plant)
    runs = list(plant.runs)
    runs[at] = replace(runs[at], length_m=round(diameters * runs[at].bore.inside_m, 4))
    return replace(plant, runs=tuple(runs))


def spacing(plant: Plant, diameters: tuple[float, ...] = (4.0, 40.0)) -> Table:
    """Two tees near and far: the pressure between them, and the water that it pushes where nobody asked for it.

    The boiler pump is off and the system pump runs. Tees' own losses are left out.
    """
    boiler, _ = pumps(plant)
    rows: list[list[Cell]] = []
    for apart in diameters:
        there = spaced(plant, apart)
        at = common_pipe(plant)
        one = found(there, off=(boiler,))
        lost = abs(float(one.edge_loss_m[at]))
        kpa = lost * one.flow.water.density_kgm3 * GRAVITY_MS2 / 1000.0
        rows.append([f"{apart:g} diameters", (there.runs[at].length_m, "m"), (kpa, "kpa"), (1000.0 * lost, "mm"),
                     (abs(one.lps(boiler)), "lps")])
    return Table(f"{plant.title}: the boiler pump is off, the system pump runs", [
        "tees apart", "length between them", "pressure between them", "as a height of water", "pushed through the boiler"], rows)


def pumps_off(plant: Plant) -> Table:
    """A vessel between two loops, with both pumps, one, and none: what moves."""
    boiler, system = pumps(plant)
    prepared = Prepared(plant)
    rows: list[list[Cell]] = []
    for words, off in (("both run", ()), (f"only {boiler} (boiler loop)", (system,)), (f"only {system} (system loop)", (boiler,)),
                       ("none runs", (boiler, system))):
        one = found(prepared, off=off)
        rows.append([words, *((abs(one.lps(tag)) if abs(one.lps(tag)) > 1e-4 else 0.0, "lps") for tag in (boiler, system))])
    return Table(f"{plant.title}: who moves the water?", ["pumps", "boiler loop", "system loop"], rows)


def blocked(like: Scheme) -> Table:
    """The same plant with its common pipe open, and with a valve in it that is shut: does one loop push the other?"""
    plant = replace(like, faults=("common-pipe-valve",)).plant()
    valve = tagged(plant, "isolation valve")
    boiler, system = tagged(plant, "boiler")[0], tagged(plant, "emitter")[0]
    own, other = pumps(like.plant())
    rows: list[list[Cell]] = []
    for words, shut in (("open", []), ("a valve in it, shut", valve)):
        for pump, off, speed in (("runs", (), 1.0), ("at half speed", (), 0.5), ("is off", (other,), 1.0)):
            one = found(plant, shut=shut, off=off, speed={other: speed})
            rows.append([words, pump, (one.lps(boiler), "lps"), (one.lps(system), "lps")])
    return Table(f"{plant.title}: the boiler pump {own} always runs at full speed", [
        "common pipe", f"system pump {other}", "boiler loop", "system loop"], rows)


def bypass_twin(seed: int) -> Plant:
    """One loop with a bypass across its boiler, a balancing valve in it: a short pipe that is no separation.

    >>> read(bypass_twin(2)).arrangement
    'single loop'
    """
    return scheme(seed, "bypass", arrangement="single loop", boilers_by="motorised valve", bypass="pipe", zones_by="none").plant()


def whose_pump(tees: Plant, single: Plant) -> Table:
    """Two short pipes that look alike: how many pumps there are, and who moves water through each pipe."""
    at = common_pipe(tees)
    boiler, system = pumps(tees)
    rows: list[list[Cell]] = []
    for words, off in ((f"{boiler} and {system} run", ()), (f"only {boiler} runs", (system,)),
                       (f"only {system} runs", (boiler,))):
        rows.append([f"two loops meet: {words}", *_way(found(tees, off=off).flow.run_lps(at))])
    short, pump = bypass_run(single), tagged(single, "pump")[0]
    for words, off in ((f"{pump} runs", ()), (f"{pump} is off", (pump,))):
        rows.append([f"a bypass: {words}", *_way(-found(single, off=off).flow.run_lps(short))])
    return Table("Two short pipes between supply and return", ["plant, and what runs", "water in the pipe", "direction"], rows)


def _way(flow_lps: float) -> list[Cell]:
    """How much, and which way: positive is from supply to return."""
    if abs(flow_lps) < 1e-4:
        return [(0.0, "lps"), "none"]
    return [(abs(flow_lps), "lps"), "supply to return" if flow_lps > 0.0 else "return to supply"]


def bypass_run(plant: Plant) -> int:
    """The index of the run that is the bypass of `bypass_twin`: the one that holds the balancing valve."""
    valve = tagged(plant, "balancing valve")[0]
    return plant.run_through[valve]


def lit_pipe(plant: Plant) -> tuple[str, ...]:
    """The short pipe between supply and return with its two tees, to be lit up: the common pipe, or the bypass."""
    at = common_pipe(plant) if read(plant).separations else bypass_run(plant)
    return (plant.run_names[at], *plant.runs[at].through)


def tidy(seed: int) -> Plant:
    """Two loops with a hand valve in the common pipe: something to find.

    >>> [finding.rule for finding in read(tidy(1)).findings if finding.severity == "must fix"]
    ['common-pipe-blocked']
    """
    return replace(meeting_scheme(seed + 500), faults=("common-pipe-valve",)).plant()
