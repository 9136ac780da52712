"""Rules about tanks, low-temperature zones and sensors."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from figures.plant.model import port_of, tag_of
from figures.reading.dhw import is_boiler_loop
from figures.reading.evidence import listed
from figures.reading.record import Finding

from .context import Context


def mixing_valve(c: Context) -> Iterator[Finding]:
    """A tank has no thermostatic mixing valve on its outlet.

    Source: store at 60 °C or more (UK HSE HSG274 Part 2), and guard the taps: ASSE 1017 at the source, ASSE 1070
    at fixtures (both from memory). Never lower the store to cure scalding: bacteria grow from 20 to 45 °C.
    """
    bare = tuple(t for t in c.found.tanks if not c.part(t)["outlet_mixing_valve"])
    if bare:
        yield Finding("mixing-valve", "should fix", bare,
                      f"{listed(bare)} has no thermostatic mixing valve on its outlet: water hot enough to keep bacteria down "
                      "scalds at the tap.",
                      "Have a licensed person fit one at the outlet; taps may need their own. Do not lower the store instead.")


def tank_sensor(c: Context) -> Iterator[Finding]:
    """A tank has no temperature sensor.

    Source: common practice, no source: without one the control cannot know when to call.
    """
    sensed = {tag_of(str(p["at"])) for p in c.plant.of_kind("temperature sensor") if p["role"] == "tank"}
    bare = tuple(t for t in c.found.tanks if t not in sensed and t not in c.loops.straddling)
    if bare:
        yield Finding("tank-sensor", "should fix", bare, f"No temperature sensor is drawn in {listed(bare)}.",
                      f"Fit a tank sensor or an aquastat in {listed(bare)}, and wire it to the control.")


def low_temperature_zone(c: Context) -> Iterator[Finding]:
    """An emitter with a highest supply temperature gets hotter water, and no mixing valve stands before it.

    Source: common practice, no source: the maker of a floor or panel gives the figure.
    """
    hottest = max(c.part(b).number("setpoint_c") for b in c.boilers)
    for part in c.plant.of_kind("emitter"):
        limit, number = part["max_supply_c"], c.chain_at.get(part.tag)
        if limit is None or number is None:
            continue
        reach = hottest
        if c.found.tanks and not (c.reading.dhw == "boiler loop" and not is_boiler_loop(c.loops, c.loops.loop_of[number])):
            reach = max(reach, c.plant.design.dhw_setpoint_c)
        mixed = _mixed_to(c, number)
        if (reach if mixed is None else min(mixed, reach)) <= float(limit):
            continue
        how = "no mixing valve stands before it" if mixed is None else f"its mixing valve is set to {mixed:g} °C"
        yield Finding("low-temperature-zone", "must fix", (part.tag,),
                      f"{part.tag} may see at most {float(limit):g} °C, its loop reaches {reach:g} °C, and {how}.",
                      f"Fit a thermostatic mixing valve before {part.tag}, set at or below {float(limit):g} °C.",
                      c.pipes([number]))


def _mixed_to(c: Context, number: int) -> float | None:
    """The hottest that mixing valves let through to a chain; None where some way to it passes none."""
    seen = {c.graph.chains[number].u}
    queue = deque([(c.graph.chains[number].u, c.graph.chains[number].u_port)])
    hottest = 0.0
    while queue:
        node, port = queue.popleft()
        if c.graph.kind.get(node) == "mixing valve":
            if port == "mixed":
                hottest = max(hottest, c.part(node).number("set_c"))
                continue
            return None
        if node in c.loops.merged:
            return None
        ways = [(n, far) for n, far in c.graph.into(node) if n != number and not c.graph.loads[n]]
        if not ways or any(c.graph.boilers[n] for n, _ in ways):
            return None
        for n, far in ways:
            if far not in seen:
                seen.add(far)
                chain = c.graph.chains[n]
                queue.append((far, chain.u_port if chain.u == far else chain.v_port))
    return hottest or None


def supply_sensor(c: Context) -> Iterator[Finding]:
    """Separated loops, and no system-supply sensor between the separation and the first load of a system loop.

    Source: common practice, no source: where the flows of the loops differ, the boiler's outlet is
    not what the building gets. The sensor stands beyond the tee where the waters meet.
    """
    if not c.separated:
        return
    sensors = [p for p in c.plant.of_kind("temperature sensor") if p["role"] == "system supply"]
    if any(_on_system_supply(c, str(p["at"])) for p in sensors):
        return
    misplaced = tuple(sorted(p.tag for p in sensors))
    yield Finding("supply-sensor", "must fix", misplaced or tuple(sorted({n for j in c.loops.joints for n in j.nodes})),
                  (f"{listed(misplaced)} does not stand" if misplaced else "No system-supply sensor stands")
                  + " between the separation and the first load: the control would hold a temperature that the building "
                  "does not get.",
                  "Fit the sensor on the system supply, beyond the point where the two loops' waters meet.")


def _on_system_supply(c: Context, at: str) -> bool:
    """A place on a system loop that a separation from the boilers feeds and no load has cooled, and from which
    water goes on to a load without meeting boiler water again."""
    meeting = {node for k, joint in enumerate(c.loops.joints) for node in joint.nodes
               if any(is_boiler_loop(c.loops, loop) for loop in c.loops.touching[k])}
    tag, port = tag_of(at), port_of(at)
    if port and tag in c.loops.merged:
        for n in c.graph.incident[tag]:
            chain = c.graph.chains[n]
            if (chain.u == tag and chain.u_port == port and chain.directed and port.endswith("supply")
                    and c.loops.loop_of.get(n) is not None and not is_boiler_loop(c.loops, c.loops.loop_of[n])):
                return bool(c.graph.loads[n]) or _leads_to_load(c, chain.v, meeting)
        return False
    if tag in c.loops.merged:
        return False
    if tag in c.graph.incident:
        if any(n in c.loops.loop_of and is_boiler_loop(c.loops, c.loops.loop_of[n]) for n in c.graph.incident[tag]):
            return False
        return _comes_from(c, tag, meeting) and _leads_to_load(c, tag, meeting)
    number = c.chain_at.get(tag)
    if number is None:
        place = c.hangs(tag)[0]
        return bool(place) and _on_system_supply(c, place)
    loop = c.loops.loop_of.get(number)
    if loop is None or is_boiler_loop(c.loops, loop):
        return False
    chain = c.graph.chains[number]
    if _passed_load(c, number, tag):
        return False
    return _comes_from(c, chain.u, meeting) and (bool(c.graph.loads[number]) or _leads_to_load(c, chain.v, meeting))


def _passed_load(c: Context, number: int, tag: str) -> bool:
    """In its own chain, the place lies at or behind a load."""
    row = c.graph.chains[number].row
    return any(c.plant.is_load(t) for t in row[:row.index(tag) + 1])


def _comes_from(c: Context, node: str, meeting: set[str]) -> bool:
    """Against the water, a place where boiler water meets is reached before a load."""
    seen, queue = {node}, deque([node])
    while queue:
        here = queue.popleft()
        if here in meeting:
            return True
        for n, far in c.graph.into(here):
            if far not in seen and not c.graph.loads[n]:
                seen.add(far)
                queue.append(far)
    return False


def _leads_to_load(c: Context, node: str, meeting: set[str]) -> bool:
    """With the water, a load is reached before boiler water meets again."""
    seen, queue = {node}, deque([node])
    while queue:
        here = queue.popleft()
        if here in meeting:
            continue
        for n, far in c.graph.out_of(here):
            if c.graph.loads[n]:
                return True
            if far not in seen:
                seen.add(far)
                queue.append(far)
    return False
