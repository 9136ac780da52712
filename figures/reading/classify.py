"""The classifier: a plant in, a reading out. It looks at piping, never at titles, tags or the order of a file."""

from __future__ import annotations

from figures.plant.model import Plant

from . import evidence, rules
from .dhw import is_boiler_loop
from .graph import PipeGraph
from .loops import Joint, Loops
from .record import Control, Dhw, Loop, Priority, Reading, Role, Separation
from .survey import Survey, survey


def _dhw(found: Survey) -> Dhw:
    if not found.tanks:
        return "none"
    places = set(found.tank_places.values())
    return places.pop() if len(places) == 1 else "undetermined"


def _priority(found: Survey, dhw: Dhw) -> Priority:
    if dhw == "none":
        return "not applicable"
    if dhw == "undetermined":
        return "undetermined"
    if dhw == "boiler loop" or all(tag in found.diverted for tag in found.tanks):
        return "always"
    return "optional"


_CONTROL: dict[Dhw, Control] = {
    "none": "heating only", "system loop": "DHW on the system loop", "boiler loop": "DHW on the boiler loop",
    "undetermined": "undetermined"}


def read(plant: Plant) -> Reading:
    """The reading of a plant: what is there, what is not, what the control must be told, what is wrong.

    Takes any checked plant and never raises; what the piping does not tell is 'undetermined'.

    >>> from figures.plant import parse_plant
    >>> ring = parse_plant('''
    ... format = 1
    ... [parts]
    ... B = {kind = "boiler"}
    ... P = {kind = "pump"}
    ... E = {kind = "emitter"}
    ... [[runs]]
    ... through = ["B", "P", "E", "B"]
    ... size = "NPS 1"
    ... length_m = 20.0
    ... ''')
    >>> read(ring).arrangement, read(ring).control, read(ring).lead
    ('single loop', 'heating only', 'B')
    """
    found = survey(plant)
    dhw = _dhw(found)
    partial = Reading(
        plant=plant, arrangement=found.arrangement,
        separations=tuple(sorted((_separation(found.graph, j) for j in found.loops.joints), key=lambda s: s.parts)),
        loops=tuple(_loops(found)), dhw=dhw, control=_CONTROL[dhw], dhw_priority=_priority(found, dhw),
        boilers=found.boilers, lead=found.lead, return_order=found.order.order, evidence=(), findings=(),
        tanks=found.tanks, loads_on=_loads_on(found))
    return Reading(**{**partial.__dict__, "evidence": tuple(evidence.gather(found, partial)),
                      "findings": rules.judge(found, partial)})


def _separation(graph: PipeGraph, joint: Joint) -> Separation:
    if joint.vessel:
        return Separation(graph.kind[joint.vessel], (joint.vessel,), None)
    chain = graph.chains[joint.chains[0]]
    names = graph.plant.run_names
    inside = sorted({p for n in joint.chains for p in (*graph.chains[n].parts, *graph.chains[n].tees)})
    pipes = sorted(names[r] for n in joint.chains for r in graph.chains[n].runs)
    return Separation("closely spaced tees", (*sorted(joint.nodes), *inside), round(chain.diameters, 4), tuple(pipes))


def _loops(found: Survey) -> list[Loop]:
    """Loops with all their parts; dead ends lie in the loop that they hang on."""
    loops, graph = found.loops, found.graph
    names = graph.plant.run_names
    meeting = {node for joint in loops.joints for node in joint.nodes}
    meeting |= {p for joint in loops.joints for n in joint.chains for p in (*graph.chains[n].parts, *graph.chains[n].tees)}
    parts: list[set[str]] = [set() for _ in loops.groups]
    runs: list[set[int]] = [set() for _ in loops.groups]
    home: dict[str, int] = {}
    for k, group in enumerate(loops.groups):
        for n in group:
            chain = graph.chains[n]
            parts[k] |= {*chain.parts, *chain.tees, *chain.ends()} - meeting - {"."}
            runs[k] |= chain.runs
        home.update(dict.fromkeys(parts[k], k))
    for k, joint in enumerate(loops.joints):      # what hangs at a separation goes with the boilers' loop
        for node in joint.nodes:
            if loops.touching[k]:
                home.setdefault(node, min(loops.touching[k]))
    waiting = graph.stubs
    while waiting:
        left = []
        for chain in waiting:
            known = next((home[node] for node in chain.ends() if node in home), None)
            if known is None:
                left.append(chain)
                continue
            tags = {*chain.parts, *chain.tees, *chain.ends()} - meeting - {"."}
            parts[known] |= {t for t in tags if home.setdefault(t, known) == known}
            runs[known] |= chain.runs
        if len(left) == len(waiting):
            break
        waiting = left
    single = found.arrangement == "single loop"
    return [Loop(_role(loops, k, single), tuple(sorted(parts[k])), tuple(names[r] for r in sorted(runs[k])))
            for k in range(len(loops.groups))]


def _role(loops: Loops, k: int, single: bool) -> Role:
    return "single loop" if single else "boiler loop" if is_boiler_loop(loops, k) else "system loop"


def _loads_on(found: Survey) -> dict[str, int | None]:
    where: dict[str, int | None] = {}
    for tag in sorted(found.plant.parts):
        if found.plant.is_load(tag):
            number = None if tag in found.loops.straddling else found.graph.chain_of(tag)
            where[tag] = None if number is None else found.loops.loop_of.get(number)
    return where
