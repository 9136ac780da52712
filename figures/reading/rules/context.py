"""What the rules look at, worked out once for a plant and only where a rule asks for it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from figures.plant.kinds import IN_LINE, KINDS
from figures.plant.model import Part, Plant, tag_of
from figures.reading.dhw import is_boiler_loop
from figures.reading.graph import VESSELS, Chain, PipeGraph, on_circuits
from figures.reading.loops import Loops
from figures.reading.record import Reading
from figures.reading.survey import Survey

BARRIERS = frozenset({"boiler", "emitter", "indirect tank", "heat exchanger", "pump", "balancing valve",
                      "motorised valve", "bypass valve"})
"""Kinds that change the pressure between the expansion tank's joint and a pump's inlet."""


@dataclass(slots=True)
class Branch:
    """A boiler's own branch: each part or tee on it, with the parts that stand between it and the boiler."""

    boiler: str
    between: dict[str, tuple[str, ...]] = field(default_factory=dict)


class Context:
    """A survey with the questions that several rules ask of it."""

    def __init__(self, found: Survey, reading: Reading) -> None:
        self.found = found
        self.reading = reading
        self.plant: Plant = found.plant
        self.loops: Loops = found.loops
        self.graph: PipeGraph = found.loops.graph
        self.single = reading.arrangement == "single loop"
        self.separated = reading.arrangement == "separated loops"
        self.boilers = found.boilers
        self._lost: dict[int, frozenset[int]] = {}
        self._circuits: dict[int, list[set[int]]] = {}

    def part(self, tag: str) -> Part:
        """The part of that tag."""
        return self.plant.parts[tag]

    def kind(self, tag: str) -> str:
        """Its kind."""
        return self.plant.parts[tag].kind

    def pipes(self, chains: Iterable[int]) -> tuple[str, ...]:
        """Names of the runs that make up chains."""
        return tuple(self.plant.run_names[r] for r in sorted({r for n in chains for r in self.graph.chains[n].runs}))

    # -- part by part ------------------------------------------------------------------------------------

    @cached_property
    def next_to(self) -> dict[str, list[str]]:
        """Neighbours of every part and node along the runs, ports left out."""
        found: dict[str, list[str]] = {}
        for run in self.plant.runs:
            for a, b in zip(run.through, run.through[1:]):
                found.setdefault(tag_of(a), []).append(tag_of(b))
                found.setdefault(tag_of(b), []).append(tag_of(a))
        return found

    @cached_property
    def before(self) -> dict[str, str]:
        """For every part inside a run or between two: what stands before it, along the water."""
        return {tag_of(b): tag_of(a) for run in self.plant.runs for a, b in zip(run.through, run.through[1:])}

    @cached_property
    def chain_at(self) -> dict[str, int]:
        """Number of the live chain of every part and passed tee that lies in one."""
        return {tag: n for n, chain in enumerate(self.graph.chains) for tag in (*chain.parts, *chain.tees)}

    def is_live(self, tag: str) -> bool:
        """The part or node carries water round."""
        return tag in self.chain_at or tag in self.graph.incident

    # -- branches of boilers -----------------------------------------------------------------------------

    @cached_property
    def branches(self) -> dict[str, Branch]:
        """Each boiler's own branch."""
        return {tag: self._branch(tag) for tag in self.boilers}

    @cached_property
    def _shared(self) -> set[str]:
        """Nodes where a boiler's own branch ends: other boilers' water passes, or loops meet."""
        ends = set(self.loops.merged) | {t for t, k in self.graph.kind.items() if k in VESSELS}
        if len(self.boilers) == 1:
            return ends | set(self.graph.incident)
        passed: dict[str, int] = {}
        for tag in self.boilers:
            for outward in (True, False):
                for node in self._reach(tag, outward, ends):
                    passed[f"{node}{outward}"] = passed.get(f"{node}{outward}", 0) + 1
        return ends | {node for node in self.graph.incident
                       if passed.get(f"{node}True", 0) > 1 or passed.get(f"{node}False", 0) > 1}

    def _reach(self, boiler: str, outward: bool, ends: set[str]) -> set[str]:
        number = self.chain_at.get(boiler)
        if number is None:
            return set()
        start = self.graph.chains[number].v if outward else self.graph.chains[number].u
        seen, queue = {start}, deque([start])
        while queue:
            node = queue.popleft()
            if node in ends:
                continue
            for n, far in (self.graph.out_of(node) if outward else self.graph.into(node)):
                if far not in seen and not self.graph.loads[n] and not self.graph.boilers[n] \
                        and not any(self.graph.kind[p] == "bypass valve" for p in self.graph.chains[n].parts):
                    seen.add(far)
                    queue.append(far)
        return seen

    def _branch(self, boiler: str) -> Branch:
        number = self.chain_at.get(boiler)
        chain = self.graph.chains[number] if number is not None else None
        ring = len(self.boilers) == 1 and chain is not None and chain.u == chain.v
        several = len(self.boilers) > 1
        if number is not None and len(self.graph.boilers[number]) > 1:     # in a row all pipe is shared
            return Branch(boiler, {boiler: (), **dict.fromkeys(self.by_pipe_alone(boiler), ())})
        branch = Branch(boiler, {boiler: ()})
        queue: deque[tuple[str, tuple[str, ...]]] = deque([(boiler, ())])
        while queue:
            tag, between = queue.popleft()
            for other in self.next_to[tag]:
                kind, shape = self.kind(other), KINDS[self.kind(other)].shape
                if other in branch.between or kind == "boiler" or self.plant.is_load(other) or kind in VESSELS:
                    continue
                if ring and kind == "pump" and self.is_live(other):
                    continue
                shared = other in self._shared and not (ring and chain is not None and other in chain.ends())
                if shared and several:
                    continue
                branch.between[other] = between
                if not shared and shape != "end":
                    queue.append((other, (*between, other) if shape == "two ports" else between))
        return branch

    def own(self, boiler: str, *kinds: str) -> list[str]:
        """Live two-port parts of these kinds on a boiler's own branch that close it towards the rest of the
        plant. A tank's pump may still draw through the boiler within its branch."""
        home = self.chain_at.get(boiler)
        if home is None:
            return []
        return sorted(tag for tag in self.branches[boiler].between
                      if self.kind(tag) in kinds and (n := self.chain_at.get(tag)) is not None
                      and (n == home or not self._gets_out(home, n, True) or not self._gets_out(home, n, False)))

    def _gets_out(self, home: int, shut: int, outward: bool) -> bool:
        """From a boiler's chain, along the water or against it, a shared node is reached past a shut chain."""
        start = self.graph.chains[home].v if outward else self.graph.chains[home].u
        seen, queue = {start}, deque([start])
        while queue:
            node = queue.popleft()
            if node in self._shared:
                return True
            for n, far in (self.graph.out_of(node) if outward else self.graph.into(node)):
                if n not in (home, shut) and far not in seen and not self.graph.loads[n]:
                    seen.add(far)
                    queue.append(far)
        return False

    # -- what stops when a chain is shut -----------------------------------------------------------------

    def edges(self, loop: int, without: Iterable[int] = ()) -> list[tuple[int, str, str]]:
        """A loop's chains as (number, point, point), separations drawn together."""
        gone = set(without)
        point = self.loops.point
        return [(n, point(c.u), point(c.v)) for n in self.loops.groups[loop] if n not in gone
                for c in (self.graph.chains[n],)]

    def lost(self, number: int) -> frozenset[int]:
        """Chains of the same loop in which nothing can come round once this one is shut."""
        if number not in self._lost:
            self._lost[number] = self.stopped(self.loops.loop_of[number], (number,))
        return self._lost[number]

    def stopped(self, loop: int, shut: Iterable[int]) -> frozenset[int]:
        """Chains of a loop in which nothing can come round, along the runs, once some are shut, those included."""
        return frozenset(set(self.loops.groups[loop]) - self.circling(loop, {*shut, *self._blended}) - self._blended)

    def circling(self, loop: int, shut: Iterable[int]) -> set[int]:
        """Chains of a loop in which water can come round, along the runs, while some are shut."""
        left = self.edges(loop, shut)
        back = [(n, v, u) for n, u, v in left if not self.graph.chains[n].directed]
        return on_circuits([*left, *back])

    @cached_property
    def _blended(self) -> frozenset[int]:
        """Chains by which a mixing valve takes a zone's own return back in: a small circuit that goes round by
        itself and brings no heat."""
        return frozenset(n for n, chain in enumerate(self.graph.chains)
                         if (chain.v_port == "cold" and self.kind(chain.v) == "mixing valve")
                         or (chain.u_port == "cold" and self.kind(chain.u) == "mixing valve"))

    def _behind_mixing(self, number: int) -> bool:
        """The chain starts at a mixing valve's mixed port, so its pump serves that zone alone."""
        chain = self.graph.chains[number]
        return chain.u_port == "mixed" and self.kind(chain.u) == "mixing valve"

    # -- pumps and their jobs ----------------------------------------------------------------------------

    @cached_property
    def boiler_pumps(self) -> dict[str, str]:
        """Pump → the boiler whose own branch it stands on. On a single loop with one boiler there is none:
        its pump moves the whole loop."""
        if self.single and len(self.boilers) == 1:
            return {}
        return {pump: boiler for boiler in self.boilers for pump in self.own(boiler, "pump")}

    def stopped_by(self, pump: str) -> frozenset[int]:
        """Chains of the pump's loop that get no water when it, and its twins in parallel, are shut."""
        number = self.chain_at[pump]
        loop = self.loops.loop_of[number]
        if self.graph.loads[number] or self.graph.boilers[number]:
            return self.lost(number)
        ends = {self.loops.point(e) for e in self.graph.chains[number].ends()}
        twins = [n for n in self.loops.groups[loop] if self.graph.pumps[n] and not self.graph.loads[n]
                 and not self.graph.boilers[n] and {self.loops.point(e) for e in self.graph.chains[n].ends()} == ends]
        return self.stopped(loop, twins) if len(twins) > 1 else self.lost(number)

    @cached_property
    def pump_jobs(self) -> dict[str, str]:
        """Live pump → 'boiler', 'system', 'zone' or 'tank', from the piping alone.

        A boiler pump stands on a boiler's own branch, or moves all boilers of a boiler loop. A system pump is
        one without which no emitter of its loop gets water; a zone pump serves some of them; a tank pump
        serves tanks only, so in a loop of tanks alone the pump is a tank pump.
        """
        jobs = {}
        for loop, group in enumerate(self.loops.groups):
            heating = {t for n in group for t in self.graph.loads[n] if not self.plant.is_dhw(t)}
            fired = {b for n in group for b in self.graph.boilers[n]} if self.separated else set()
            for n in group:
                for pump in self.graph.pumps[n]:
                    jobs[pump] = self._job(pump, n, loop, heating, fired)
        return jobs

    def _job(self, pump: str, number: int, loop: int, heating: set[str], fired: set[str]) -> str:
        if pump in self.boiler_pumps:
            return "boiler"
        if heating & set(self.graph.loads[number]) and not fired and self._goes_on_without(number, loop):
            return "zone"
        stopped = self.stopped_by(pump)
        served = {t for n in stopped for t in self.graph.loads[n]}
        if fired and fired <= {b for n in stopped for b in self.graph.boilers[n]}:
            return "boiler"
        if heating and heating <= served and not self._behind_mixing(number):
            return "system"
        if heating & served:
            return "zone"
        if served:
            return "tank"
        return "boiler" if self.single or is_boiler_loop(self.loops, loop) else "system"

    def _goes_on_without(self, number: int, loop: int) -> bool:
        """Some emitter of the loop surely gets water while a chain is shut: the short answer for a plant of
        thousands of zones. False says nothing."""
        if loop not in self._circuits:
            loads = [n for n in self.loops.groups[loop] if any(not self.plant.is_dhw(t) for t in self.graph.loads[n])]
            self._circuits[loop] = [c for n in loads[:2] if (c := self.circuit(n, loop))]
        return any(number not in circuit for circuit in self._circuits[loop])

    def circuit(self, number: int, loop: int) -> set[int]:
        """The chains of one way round through a chain, along the runs; empty where there is none."""
        ways: dict[str, list[tuple[int, str]]] = {}
        for n, u, v in self.edges(loop, {number, *self._blended}):
            ways.setdefault(u, []).append((n, v))
            if not self.graph.chains[n].directed:
                ways.setdefault(v, []).append((n, u))
        start, goal = (self.loops.point(e) for e in self.graph.chains[number].ends()[::-1])
        came: dict[str, tuple[int, str]] = {}
        queue = deque([start])
        while queue and goal not in came and start != goal:
            node = queue.popleft()
            for n, far in ways.get(node, ()):
                if far not in came and far != start:
                    came[far] = (n, node)
                    queue.append(far)
        if start != goal and goal not in came:
            return set()
        found, node = {number}, goal
        while node != start:
            n, node = came[node]
            found.add(n)
        return found

    def pumps_with(self, job: str) -> list[str]:
        """Pumps that do a job, in all loops."""
        return sorted(p for p, j in self.pump_jobs.items() if j == job)

    # -- ways round --------------------------------------------------------------------------------------

    def comes_round(self, number: int, shut: Iterable[int] = (), either_way: bool = False) -> bool:
        """Can water that leaves a chain reach its other end again along the runs, some chains being shut?

        either_way: a pipe without parts that give it a direction may be passed backwards.
        """
        gone = set(shut) | {number}
        chain = self.graph.chains[number]
        point = self.loops.point
        goal, start = point(chain.u), point(chain.v)
        if goal == start:
            return True
        ways: dict[str, list[str]] = {}
        for n in self.loops.groups[self.loops.loop_of[number]]:
            if n in gone:
                continue
            c = self.graph.chains[n]
            ways.setdefault(point(c.u), []).append(point(c.v))
            if not c.directed or (either_way and self._is_open_pipe(c)):
                ways.setdefault(point(c.v), []).append(point(c.u))
        seen, queue = {start}, deque([start])
        while queue:
            for far in ways.get(queue.popleft(), ()):
                if far == goal:
                    return True
                if far not in seen:
                    seen.add(far)
                    queue.append(far)
        return False

    def _is_open_pipe(self, chain: Chain) -> bool:
        return all(self.graph.kind[p] in IN_LINE | {"balancing valve", "isolation valve"} for p in chain.parts)

    # -- what hangs on a dead end --------------------------------------------------------------------------

    def hangs(self, end: str) -> tuple[str, tuple[str, ...]]:
        """Where an end part's stub joins the plant, and the two-port parts on the stub, from the end part on.

        The place is a live node or passed tee; '' where the whole plant is a dead end.
        """
        came: dict[str, tuple[str, ...]] = {end: ()}
        queue = deque([end])
        while queue:
            tag = queue.popleft()
            for other in self.next_to[tag]:
                if other in came:
                    continue
                if self.is_live(other):
                    return other, came[tag]
                came[other] = (*came[tag], other) if KINDS[self.kind(other)].shape == "two ports" else came[tag]
                queue.append(other)
        return "", ()

    def by_pipe_alone(self, tag: str) -> set[str]:
        """Whatever is joined to a part by pipes and tees alone, on this side of any separation."""
        seen, queue = {tag}, deque([tag])
        while queue:
            for other in self.next_to[queue.popleft()]:
                if other not in seen:
                    seen.add(other)
                    if self.kind(other) == "tee" and other not in self.loops.merged:
                        queue.append(other)
        return seen - {tag}

    def open_to(self, place: str) -> set[str]:
        """Parts and nodes that share the pressure of a place: reached from it with none of `BARRIERS` between.
        Separations do not count as between."""
        if not place:
            return set()
        seen, queue = {place}, deque([place])
        while queue:
            for other in self.next_to[queue.popleft()]:
                if other not in seen and self.kind(other) not in BARRIERS:
                    seen.add(other)
                    queue.append(other)
        return seen
