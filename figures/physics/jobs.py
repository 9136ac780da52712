"""What each pump and motorised valve of a plant is for: the piping tells, never a tag.

For every boiler and load the way of the water is looked for: out of the boiler, to the load, and back, along the
runs as they are written, crossing from loop to loop where the reading finds a separation. What stands on the
ways says what must run and open for whom.

The piping rules ask of pumps alone what stops without them (`figures.reading.rules.context`, `pump_jobs`); a control has to know
whom each pump and valve serves. The two come to the same, which tests/figures/physics/test_jobs_agree.py holds, but
where only a control makes a difference: a pump of all emitters beside a tank with its own rests on a DHW call.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from figures.plant.model import Plant, tag_of
from figures.reading import Reading

from .network import Prepared

Job = Literal["boiler", "system", "tank", "zone", "shared"]
"""boiler: serves one boiler or a row of them.  system: moves the water of a whole loop.  tank: serves only DHW.
zone: serves only emitters.  shared (of a valve): serves both kinds of load."""

FOREIGN_BOILER, FOREIGN_LOAD, AGAINST, BYPASS = 1e4, 1e3, 50.0, 1e5


@dataclass(frozen=True)
class Way:
    """Out of a boiler, to a load and back: pumps, motorised valves and diverting ports met, in that order.

    ports: diverting valve → port that the water takes.  tempered: parts met after a mixing valve's outlet."""

    pumps: tuple[str, ...]
    valves: tuple[str, ...]
    ports: Mapping[str, str]
    tempered: frozenset[str]


@dataclass(frozen=True)
class Jobs:
    """The jobs of a plant's pumps and motorised valves.

    ways: boiler → load → its way; a load that no boiler reaches is left out.  boiler_parts: boiler → pumps and
    valves of its own (or of a row of boilers).  job: of every pump and valve that stands on a way.
    serves: pump or valve → loads whose way it stands on.
    """

    plant: Plant
    ways: Mapping[str, Mapping[str, Way]]
    boiler_parts: Mapping[str, tuple[str, ...]]
    job: Mapping[str, Job]
    serves: Mapping[str, frozenset[str]]

    def with_job(self, *jobs: Job) -> list[str]:
        """Parts that have one of these jobs, in the order of the file."""
        return [tag for tag in self.plant.parts if self.job.get(tag) in jobs]

    def load_parts(self, load: str) -> list[str]:
        """Pumps and valves on the ways to a load that are not a boiler's."""
        met = dict.fromkeys(tag for loads in self.ways.values() if load in loads
                            for tag in (*loads[load].pumps, *loads[load].valves))
        return [tag for tag in met if self.job.get(tag) != "boiler"]

    def closes(self, load: str) -> list[str]:
        """Pumps and motorised valves by which the control can keep water from this load alone, or from its kind."""
        want = "tank" if self.plant.is_dhw(load) else "zone"
        return [tag for tag in self.load_parts(load) if self.job.get(tag) == want]


class _Graph:
    """Links as directed ways between junctions, those of one separation drawn together."""

    def __init__(self, prepared: Prepared, reading: Reading) -> None:
        self.prepared, self.plant = prepared, prepared.plant
        t = self.t = prepared.topology
        point = {junction: junction for junction in range(len(t.junctions))}
        number = {vertex: n for n, vertex in enumerate(t.junctions)}
        names: dict[str, list[int]] = {}
        for name, vertex in t.vertices.items():
            if vertex in number:
                names.setdefault(tag_of(name), []).append(number[vertex])
        for separation in reading.separations:
            meeting = [n for tag in separation.parts for n in names.get(tag, ())]
            if meeting:
                goal = min(point[n] for n in meeting)
                olds = {point[n] for n in meeting}
                point = {n: goal if p in olds else p for n, p in point.items()}
        self.start = [point[int(n)] for n in t.start]
        self.end = [point[int(n)] for n in t.end]
        self.names: list[tuple[str, ...]] = []
        self.leaving: dict[int, list[tuple[int, int]]] = {}
        self.boilers: list[set[str]] = []
        self.loads: list[set[str]] = []
        for link, steps in enumerate(t.links):
            walked = [name for step in steps
                      for name in (t.edges[step.edge].parts[::step.sign])]
            self.names.append(tuple(walked))
            tags = {tag_of(name) for name in walked}
            self.boilers.append({tag for tag in tags if self.plant.parts[tag].kind == "boiler"})
            self.loads.append({tag for tag in tags if self.plant.is_load(tag)})
            self.leaving.setdefault(self.start[link], []).append((link, 1))
            self.leaving.setdefault(self.end[link], []).append((link, -1))

    def cost(self, link: int, sign: int, boiler: str, load: str) -> float | None:
        """What it costs to go along a link; None where a check valve forbids it."""
        total = 0.01 * len(self.t.links[link]) + (AGAINST if self._against(link, sign) else 0.0)
        one_way = int(self.prepared.one_way[link])
        if one_way == -sign or self.prepared.never[link]:
            return None
        for name in self.names[link]:
            kind = self.plant.parts[tag_of(name)].kind
            total += BYPASS if kind == "bypass valve" else 1.0 if kind == "pump" else 0.0
        total += FOREIGN_BOILER * len(self.boilers[link] - {boiler})
        return total + FOREIGN_LOAD * len(self.loads[link] - {load})

    def _against(self, link: int, sign: int) -> bool:
        """Whether that way along a link is against its runs as they are written; a three-way valve in it may be passed either
        way, as it divides water or joins it."""
        steps = self.t.links[link]
        written = sum(step.sign for step in steps if self.t.edges[step.edge].run >= 0)
        return (written or 1) * sign < 0

    def path(self, start: int, goal: int, boiler: str, load: str) -> list[tuple[int, int]] | None:
        """The cheapest way between two points, as (link, direction)."""
        best: dict[int, float] = {start: 0.0}
        came: dict[int, tuple[int, tuple[int, int]]] = {}
        queue = [(0.0, start)]
        while queue:
            spent, here = heapq.heappop(queue)
            if here == goal:
                steps = []
                while here != start:
                    here, step = came[here]
                    steps.append(step)
                return steps[::-1]
            if spent > best[here]:
                continue
            for link, sign in self.leaving.get(here, ()):
                there = self.end[link] if sign > 0 else self.start[link]
                more = self.cost(link, sign, boiler, load)
                if more is not None and there != here and spent + more < best.get(there, float("inf")):
                    best[there] = spent + more
                    came[there] = (here, (link, sign))
                    heapq.heappush(queue, (spent + more, there))
        return None

    def way(self, boiler: str, load: str) -> Way | None:
        """The way from a boiler to a load and back, or None where there is none."""
        at_boiler, at_load = self.t.where[boiler], self.t.where[load]
        if at_boiler.link < 0 or at_load.link < 0:
            return None
        first, last = (at_boiler.link, at_boiler.sign), (at_load.link, at_load.sign)
        if first[0] == last[0]:
            return self._met([first])
        out = self.path(self._far(first), self._near(last), boiler, load)
        back = self.path(self._far(last), self._near(first), boiler, load)
        if out is None or back is None:
            return None
        return self._met([first, *out, last, *back])

    def _far(self, step: tuple[int, int]) -> int:
        return self.end[step[0]] if step[1] > 0 else self.start[step[0]]

    def _near(self, step: tuple[int, int]) -> int:
        return self.start[step[0]] if step[1] > 0 else self.end[step[0]]

    def _met(self, steps: Iterable[tuple[int, int]]) -> Way:
        pumps: list[str] = []
        valves: list[str] = []
        ports: dict[str, str] = {}
        tempered: set[str] = set()
        mixed = False
        for link, sign in steps:
            for name in self.names[link][::sign]:
                tag = tag_of(name)
                kind = self.plant.parts[tag].kind
                if kind == "mixing valve":
                    mixed = True
                elif mixed:
                    tempered.add(tag)
                    mixed = not self.plant.is_load(tag)
                if kind == "pump":
                    pumps.append(tag)
                elif kind == "motorised valve":
                    valves.append(tag)
                elif kind == "diverting valve":
                    ports[tag] = name.partition(".")[2]
        return Way(tuple(dict.fromkeys(pumps)), tuple(dict.fromkeys(valves)), ports, frozenset(tempered))


def jobs_of(prepared: Prepared, reading: Reading) -> Jobs:
    """The jobs of the pumps and motorised valves of a plant. Never raises; a part on no way has no job.

    >>> from figures.plant.scheme import Scheme
    >>> from figures.reading import read
    >>> plant = Scheme(tank="boiler loop").plant()
    >>> jobs = jobs_of(Prepared(plant), read(plant))
    >>> [jobs.job[tag] for tag in ("PB1", "PS", "PT")], sorted(jobs.serves["PS"])
    (['boiler', 'system', 'tank'], ['E1'])
    """
    plant, graph = prepared.plant, _Graph(prepared, reading)
    loads = [tag for tag in plant.parts if plant.is_load(tag)]
    boilers = [part.tag for part in plant.of_kind("boiler")]
    ways = {boiler: {load: way for load in loads if (way := graph.way(boiler, load)) is not None}
            for boiler in boilers}
    serves: dict[str, set[str]] = {}
    for reached in ways.values():
        for load, way in reached.items():
            for tag in (*way.pumps, *way.valves):
                serves.setdefault(tag, set()).add(load)
    own = {b: _boiler_parts(prepared, reading, b, reached) for b, reached in ways.items()}
    boiler_side = {tag for tags in own.values() for tag in tags}
    tempered = {tag for reached in ways.values() for way in reached.values() for tag in way.tempered}
    job: dict[str, Job] = {}
    for tag, served in serves.items():
        if tag in boiler_side:
            job[tag] = "boiler"
        elif all(plant.is_dhw(load) for load in served):
            job[tag] = "tank"
        elif plant.parts[tag].kind == "pump":
            whole = _loads_beside(reading, tag) <= served and tag not in tempered
            job[tag] = "system" if whole else "zone"
        else:
            job[tag] = "shared" if any(plant.is_dhw(load) for load in served) else "zone"
    return Jobs(plant, ways, own, job, {tag: frozenset(served) for tag, served in serves.items()})


def _boiler_parts(prepared: Prepared, reading: Reading, boiler: str, ways: Mapping[str, Way]) -> tuple[str, ...]:
    """Pumps and valves of a boiler. In separated loops those of its loop that its way to the building meets; on a
    single loop those on its own branch, unless the only pump of all ways stands there, which is the system's."""
    plant, t = prepared.plant, prepared.topology
    met = dict.fromkeys(tag for way in ways.values() for tag in (*way.pumps, *way.valves))
    if reading.arrangement == "separated loops":
        loop = reading.loop_of(boiler)
        if loop is None:
            return ()
        beyond = [way for load, way in ways.items() if load not in loop.parts] or list(ways.values())
        return tuple(tag for tag in met if tag in loop.parts
                     and all(tag in way.pumps or tag in way.valves for way in beyond)
                     and not (t.where[tag].link != t.where[boiler].link and _only_dhw(plant, tag, ways)))
    if t.where[boiler].link < 0:        # on a dead end, where no water moves
        return ()
    branch = [tag for tag in met if t.where[tag].link == t.where[boiler].link]
    pumps = {tag for way in ways.values() for tag in way.pumps}
    sole = pumps <= set(branch) and len(plant.of_kind("boiler")) == 1
    on_load = {tag for tag in plant.parts if plant.is_load(tag) and t.where[tag].link == t.where[boiler].link}
    if on_load:
        names = [tag_of(n) for step in t.links[t.where[boiler].link] for n in t.edges[step.edge].parts]
        stops = on_load | {tag for tag in names if plant.parts[tag].kind == "pump"}
        return tuple(tag for tag in branch if plant.parts[tag].kind != "pump"
                     and _between_boiler_and_load(names, tag, boiler, stops))
    return tuple(tag for tag in branch if not (sole and plant.parts[tag].kind == "pump"))


def _between_boiler_and_load(names: list[str], tag: str, boiler: str, stops: set[str]) -> bool:
    """On an undivided ring: a valve is the boiler's where no pump or load stands between the two."""
    ring = names[names.index(boiler):] + names[:names.index(boiler)]
    for order in (ring[1:], ring[:0:-1]):
        for name in order:
            if name == tag:
                return True
            if name in stops:
                break
    return False


def _only_dhw(plant: Plant, tag: str, ways: Mapping[str, Way]) -> bool:
    """The part serves DHW alone although other loads are there."""
    served = [load for load, way in ways.items() if tag in way.pumps or tag in way.valves]
    return all(plant.is_dhw(load) for load in served) and len(served) < len(ways)


def _loads_beside(reading: Reading, tag: str) -> set[str]:
    """Loads of the loop that a part lies in."""
    loop = reading.loop_of(tag)
    if loop is None:
        return set()
    return {part for part in loop.parts if reading.plant.is_load(part)}
