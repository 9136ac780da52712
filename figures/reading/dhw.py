"""On which loop the indirect tank is, and whether DHW priority follows from the piping."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from .graph import PipeGraph
from .loops import Loops
from .record import Dhw


def place_of_tank(loops: Loops, tag: str) -> Dhw:
    """Where one coil lies, the plant having separated loops: 'boiler loop', 'system loop', 'undetermined'."""
    if tag in loops.straddling:
        return "undetermined"
    number = loops.graph.chain_of(tag)
    home = loops.loop_of.get(number) if number is not None else None
    if home is None:
        return "undetermined"
    if is_boiler_loop(loops, home):
        return "boiler loop"
    if beside_another_loop(loops, home):
        return "undetermined"
    return "boiler loop" if own_separation(loops, home) is not None else "system loop"


def is_boiler_loop(loops: Loops, loop: int) -> bool:
    """A loop with a boiler is a boiler loop; every other is a system loop."""
    return loops.fired[loop]


def heats_building(loops: Loops, loop: int) -> bool:
    """The loop holds a load that is not DHW."""
    return any(not loops.graph.plant.is_dhw(tag) for n in loops.groups[loop] for tag in loops.graph.loads[n])


def beside_another_loop(loops: Loops, home: int) -> bool:
    """A loop of tanks alone that joins by both pipes where a boiler loop and another system loop meet."""
    if heats_building(loops, home):
        return False
    return any(home in touching and not loops.joints[k].vessel
               and any(is_boiler_loop(loops, other) for other in touching)
               and any(not is_boiler_loop(loops, other) and heats_building(loops, other) for other in touching)
               for k, touching in enumerate(loops.touching))


def own_separation(loops: Loops, home: int) -> int | None:
    """The separation by which a loop of tanks alone hangs on a boiler loop, the building's loads standing
    behind another: its heat never passes the loop that feeds them. None where it is not so."""
    if heats_building(loops, home):
        return None
    building = [k for k in range(len(loops.groups)) if heats_building(loops, k)]
    if not building or any(is_boiler_loop(loops, k) for k in building):
        return None
    joints = [k for k, touching in enumerate(loops.touching) if home in touching]
    if len(joints) != 1 or any(k in loops.touching[joints[0]] for k in building):
        return None
    return joints[0] if any(is_boiler_loop(loops, k) for k in loops.touching[joints[0]]) else None


def on_diverting_port(graph: PipeGraph, tank: str) -> str | None:
    """The diverting valve that has the tank, and no emitter, behind one of its ports; or None."""
    for tag, kind in graph.kind.items():
        if kind != "diverting valve" or tag not in graph.incident:
            continue
        for port in ("a", "b"):
            fed = set(fed_by_port(graph, tag, port))
            if tank in fed and all(graph.plant.is_dhw(load) for load in fed):
                return tag
    return None


def fed_by_port(graph: PipeGraph, valve: str, port: str) -> Iterator[str]:
    """Loads that water leaving by a diverting valve's port meets first; where it arrives by that port, the
    loads that it passed last."""
    for number in graph.incident[valve]:
        chain = graph.chains[number]
        for node, taken, far, outward in ((chain.u, chain.u_port, chain.v, True), (chain.v, chain.v_port, chain.u, False)):
            if node != valve or taken != port:
                continue
            if graph.loads[number]:
                yield from graph.loads[number]
                continue
            seen, queue = {valve, far}, deque([far])
            while queue:
                here = queue.popleft()
                for n, there in (graph.out_of(here) if outward else graph.into(here)):
                    if graph.boilers[n]:
                        continue
                    if graph.loads[n]:
                        yield from graph.loads[n]
                    elif there not in seen:
                        seen.add(there)
                        queue.append(there)
