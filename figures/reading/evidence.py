"""Why the reading says what it says: full sentences that name the parts, absent ones included."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from .dhw import beside_another_loop, heats_building, is_boiler_loop, own_separation
from .loops import Joint, candidates, is_wide, separates
from .record import Evidence, Reading
from .survey import Survey


def listed(tags: Iterable[str]) -> str:
    """Tags as they are said aloud.

    >>> listed(["A"]), listed(["A", "Z"]), listed(["B1", "B2", "B3"])
    ('A', 'A and Z', 'B1, B2 and B3')
    """
    tags = list(tags)
    return tags[0] if len(tags) == 1 else f"{', '.join(tags[:-1])} and {tags[-1]}" if tags else "nothing"


def where(found: Survey, joint: Joint) -> str:
    """A separation in words.  'tees A and Z', 'hydraulic separator HS'."""
    if joint.vessel:
        return f"{found.plant.parts[joint.vessel].kind} {joint.vessel}"
    return f"tees {listed(sorted(joint.nodes))}"


def gather(found: Survey, reading: Reading) -> Iterator[Evidence]:
    """All evidence, in the order in which a plant is read aloud."""
    yield from _arrangement(found, reading)
    yield from _pumps(found, reading)
    yield from _dhw(found, reading)
    yield from _control(reading)
    yield from _priority(found, reading)
    yield from _boilers(found, reading)
    yield from _return(found, reading)


def _names(found: Survey, chains: Iterable[int]) -> tuple[str, ...]:
    runs = sorted({r for n in chains for r in found.graph.chains[n].runs})
    return tuple(found.plant.run_names[r] for r in runs)


def _in(found: Survey, loop: int, what: str) -> list[str]:
    graph = found.graph
    table = {"boilers": graph.boilers, "loads": graph.loads, "pumps": graph.pumps}[what]
    return sorted(tag for n in found.loops.groups[loop] for tag in table[n])


def _arrangement(found: Survey, reading: Reading) -> Iterator[Evidence]:
    loops, graph = found.loops, found.graph
    if reading.arrangement == "undetermined":
        vessels = sorted(p.tag for p in found.plant.of_kind("hydraulic separator", "buffer tank"))
        if any(graph.boilers):
            yield Evidence("arrangement", f"{listed(vessels)} does not part the boilers from the loads: trace its "
                           "four pipes again.", tuple(vessels))
        else:
            yield Evidence("arrangement", f"The water of {listed(found.boilers)} has no way round: each boiler "
                           "needs a pipe out and a pipe back.", found.boilers)
        return
    for k, joint in enumerate(loops.joints):
        fired = sorted({b for loop in loops.touching[k] if is_boiler_loop(loops, loop) for b in _in(found, loop, "boilers")})
        served = sorted({t for loop in loops.touching[k] if not is_boiler_loop(loops, loop) for t in _in(found, loop, "loads")})
        pipes = _names(found, joint.chains)
        parts = (*sorted(joint.nodes), *sorted({p for n in joint.chains for p in graph.chains[n].parts}))
        beside = f": {listed(fired)} on one side" if fired else ""
        beside += f", {listed(served)} on the other" if fired and served else f": {listed(served)} beyond it" if served else ""
        if joint.vessel:
            yield Evidence("arrangement", f"Two loops meet in the {where(found, joint)}{beside}.", parts, pipes)
        else:
            spacing = graph.chains[joint.chains[0]].diameters
            how = "closely spaced" if not is_wide(graph, joint) else "wider than the usual four, but with a pump on each side"
            yield Evidence("arrangement", f"Two loops meet at the {where(found, joint)}, {spacing:.1f} inside "
                           f"diameters apart ({how}){beside}.", parts, pipes)
    if loops.joints:
        return
    serve = sorted(t for tags in graph.loads for t in tags)
    feeds = f" and the loads {listed(serve)}" if len(serve) > 1 else f" and {serve[0]}" if serve else ""
    yield Evidence("arrangement", f"No hydraulic separator, no buffer tank and no closely spaced tees: the same water "
                   f"passes {listed(found.boilers)}{feeds}.", (*found.boilers, *serve), (),
                   ("hydraulic separator", "buffer tank", "closely spaced tees"))
    for joint in candidates(graph):
        if not joint.vessel and is_wide(graph, joint) and separates(graph, joint):
            chain = graph.chains[joint.chains[0]]
            yield Evidence("arrangement", f"The pipe between {listed(sorted(joint.nodes))} is a bypass and no "
                           f"separation: it is {chain.diameters:.1f} inside diameters long, and not both sides have "
                           "a pump that moves water through it.", (*sorted(joint.nodes), *chain.parts),
                           _names(found, joint.chains))


def _pumps(found: Survey, reading: Reading) -> Iterator[Evidence]:
    for k, loop in enumerate(reading.loops):
        pumps = _in(found, k, "pumps")
        who = {"boiler loop": f"the boiler loop of {listed(_in(found, k, 'boilers'))}",
               "system loop": f"the system loop of {listed(_in(found, k, 'loads'))}",
               "single loop": "the single loop"}[loop.role]
        if loop.role == "system loop" and not _in(found, k, "loads"):
            who = "the loop between the separations"
        if pumps:
            yield Evidence("loops", f"{listed(pumps)} {'moves' if len(pumps) == 1 else 'move'} the water of {who}.",
                           tuple(pumps), loop.pipes)
        else:
            yield Evidence("loops", f"No pump stands in {who}.", (), loop.pipes, ("pump",))


def _dhw(found: Survey, reading: Reading) -> Iterator[Evidence]:
    unsaid = sorted(p.tag for p in found.plant.of_kind("heat exchanger") if p["serves"] is None)
    if unsaid:
        yield Evidence("dhw", f"{listed(unsaid)} {'does' if len(unsaid) == 1 else 'do'} not say whether heating "
                       "or DHW is served: ask before the control is set.", tuple(unsaid))
    if not found.tanks:
        yield Evidence("dhw", "There is no indirect tank anywhere, and no heat exchanger that serves DHW.", (), (),
                       ("indirect tank",))
    for tag in found.tanks:
        yield _tank(found, tag)
    places = sorted(set(found.tank_places.values()))
    if len(places) > 1 and "undetermined" not in places:
        yield Evidence("dhw", f"{listed(found.tanks)} stand on different loops, so no one setting serves them all.",
                       found.tanks)


def _tank(found: Survey, tag: str) -> Evidence:
    loops = found.loops
    what = "coil of " + tag if found.plant.parts[tag].kind == "indirect tank" else "heat exchanger " + tag
    graph = found.whole if tag in loops.straddling else found.graph
    number = graph.chain_of(tag)
    if number is None:
        return Evidence("dhw", f"The {what} lies on a dead end: no water comes round through it.", (tag,))
    chain = graph.chains[number]
    pipes = tuple(found.plant.run_names[r] for r in sorted(chain.runs))
    ends = tuple(dict.fromkeys(e for e in chain.ends() if e != "."))
    lit = (tag, *ends)
    fed = f"The {what} is fed from {chain.u} and returns to {chain.v}" if chain.u != "." else f"The {what} lies in the ring"
    if tag in loops.straddling:
        return Evidence("dhw", f"{fed}: it joins two loops that may only meet at the separation, so neither "
                        "setting is right until the piping is mended.", lit, pipes)
    if not loops.joints:
        return Evidence("dhw", f"{fed}; there is one loop only, so the tank is on the loop that serves the system.",
                        lit, pipes)
    home = loops.loop_of[number]
    meets = [where(found, joint) for k, joint in enumerate(loops.joints) if home in loops.touching[k]]
    if is_boiler_loop(loops, home):
        return Evidence("dhw", f"{fed}, on the boiler loop: its water never crosses the {listed(meets)}.", lit, pipes)
    if beside_another_loop(loops, home):
        return Evidence("dhw", f"{fed}, at the {listed(meets)} themselves, beside another system loop: the piping does "
                        "not say which loop it belongs to.", lit, pipes)
    if (own := own_separation(loops, home)) is not None:
        others = sorted(t for k in range(len(loops.groups)) if heats_building(loops, k) for t in _in(found, k, "loads"))
        stand = "is" if len(others) == 1 else "are"
        return Evidence("dhw", f"{fed}. It hangs on the boiler loop by a separation of its own, the "
                        f"{where(found, loops.joints[own])}, and {listed(others)} {stand} behind another: its heat "
                        "never passes the loop that feeds the building.", lit, pipes)
    return Evidence("dhw", f"{fed}, on the system loop, beyond the {listed(meets)}.", lit, pipes)


def _control(reading: Reading) -> Iterator[Evidence]:
    if reading.control == "undetermined":
        yield Evidence("control", "The control cannot be told where the DHW is until the piping is mended or asked about.",
                       reading.tanks)
    elif reading.control == "heating only":
        yield Evidence("control", "With no DHW to heat, the control is told: heating only.", (), (), ("indirect tank",))
    elif reading.arrangement == "single loop":
        alike = f"heating and {listed(reading.tanks)} alike" if _other_loads(reading) else listed(reading.tanks)
        yield Evidence("control", f"One loop serves {alike}, so the control is told: "
                       "DHW on the system loop. 'On the boiler loop' is a name that needs two loops.", reading.tanks)
    else:
        are = "The tank {} is" if len(reading.tanks) == 1 else "The tanks {} are"
        yield Evidence("control", f"{are.format(listed(reading.tanks))} on the {reading.dhw}, so the control is told: "
                       f"{reading.control}.", reading.tanks)


def _priority(found: Survey, reading: Reading) -> Iterator[Evidence]:
    valves = tuple(sorted(set(found.diverted.values())))
    match reading.dhw_priority:
        case "not applicable":
            yield Evidence("dhw_priority", "Without DHW there is nothing to give priority to.", (), (), ("indirect tank",))
        case "optional" if not _other_loads(reading):
            yield Evidence("dhw_priority", f"No load but {listed(reading.tanks)} is there to wait: priority may be chosen or "
                           "left.", reading.tanks)
        case "optional":
            among = "is one load" if len(reading.tanks) == 1 else "are loads"
            yield Evidence("dhw_priority", f"{listed(reading.tanks)} {among} among others on the loop that serves "
                           "the building: priority may be chosen or left.", reading.tanks)
        case "always" if reading.dhw == "boiler loop":
            yield Evidence("dhw_priority", "On a DHW call the system pump stops, so DHW has priority always; a time "
                           "limit keeps the building from freezing.", (*reading.tanks, *valves))
        case "always":
            yield Evidence("dhw_priority", f"{listed(valves)} sends the water to the tank or to the building, never to "
                           "both, so DHW has priority always; a time limit keeps the building from freezing.",
                           (*reading.tanks, *valves))
        case _:
            yield Evidence("dhw_priority", "Priority cannot be said while it is open where the DHW is.", reading.tanks)


def _other_loads(reading: Reading) -> bool:
    """Loads besides DHW are on the plant."""
    return any(reading.plant.is_load(tag) and not reading.plant.is_dhw(tag) for tag in reading.plant.parts)


def _boilers(found: Survey, reading: Reading) -> Iterator[Evidence]:
    count = len(found.boilers)
    yield Evidence("boilers", f"There {'is 1 boiler' if count == 1 else f'are {count} boilers'}: {listed(found.boilers)}.",
                   found.boilers)
    marked = tuple(tag for tag in found.boilers if found.plant.parts[tag]["lead"])
    if count == 1:
        yield Evidence("lead", f"A sole boiler leads: {found.boilers[0]}.", found.boilers)
    elif len(marked) == 1:
        yield Evidence("lead", f"{marked[0]} is marked as the lead boiler.", marked)
    elif marked:
        yield Evidence("lead", f"{listed(marked)} are all marked as lead; only one may run the sequence.", marked)
    else:
        yield Evidence("lead", f"None of {listed(found.boilers)} is marked as lead.", found.boilers)


def _return(found: Survey, reading: Reading) -> Iterator[Evidence]:
    order = found.order
    match order.order:
        case "single boiler":
            yield Evidence("return", "One boiler has no order of return.", found.boilers)
        case "not applicable":
            yield Evidence("return", "Each boiler has a separation of its own, so there is no order of return.", found.boilers)
        case "reverse":
            yield Evidence("return", f"The water of {order.out[0]} is first out to the system and last to come back: "
                           "reverse return.", (order.out[0], order.meet_out, order.meet_back))
        case "direct":
            yield Evidence("return", f"The water of {order.out[0]} is first out to the system and first to come back: "
                           "direct return.", (order.out[0], order.meet_out, order.meet_back))
        case _:
            yield Evidence("return", "The boilers' water meets in no clear order on its way out and back.", found.boilers)
