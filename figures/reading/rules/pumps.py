"""Rules about pumps and check valves: the way they face, and the way that must stay open for them."""

from __future__ import annotations

from collections.abc import Iterator

from figures.reading.dhw import fed_by_port
from figures.reading.evidence import listed
from figures.reading.record import Finding

from .context import Context


def part_reversed(c: Context) -> Iterator[Finding]:
    """A pump or check valve is set against its loop's flow.

    Source: common practice, no source: the arrow on the body shows the way.
    """
    turned = tuple(sorted(t for t, p in c.plant.parts.items() if p.kind in ("pump", "check valve") and p["reversed"]
                          and t in c.chain_at and c.chain_at[t] in c.loops.loop_of))
    if turned:
        yield Finding("part-reversed", "must fix", turned,
                      f"{listed(turned)} {'is' if len(turned) == 1 else 'are'} set against the flow.",
                      f"Turn {listed(turned)} round, arrow along the water.")


def pump_bypass(c: Context) -> Iterator[Finding]:
    """Single loop: with every boiler's motorised valve shut, the pump has no way round.

    Source: common practice, no source: a differential-pressure bypass across the boilers keeps a
    path; a bypass across the loads does another job.
    """
    if not c.single:
        return
    valves = {boiler: c.own(boiler, "motorised valve") for boiler in c.boilers}
    if not all(valves.values()):
        return
    shut = {c.chain_at[v] for tags in valves.values() for v in tags} | {c.chain_at[b] for b in c.boilers}
    pumps = c.pumps_with("system") or c.pumps_with("zone") or c.pumps_with("tank")
    stuck = [p for p in pumps if c.chain_at[p] in shut or not c.comes_round(c.chain_at[p], shut, either_way=True)]
    if stuck:
        closing = sorted(v for tags in valves.values() for v in tags)
        yield Finding("pump-bypass", "must fix", (*stuck, *closing),
                      f"With {listed(closing)} shut, {listed(stuck)} pushes against closed pipe: no bypass across the boilers "
                      "leaves it a way round.",
                      "Fit a differential-pressure bypass valve across the boilers, from return to supply.")


def zones_shut(c: Context) -> Iterator[Finding]:
    """A system pump whose loads can all be shut, with no bypass across them.

    Source: common practice, no source: a bypass across the loads serves this, one across the boilers serves
    the boilers' valves. A pump that slows or stops with the last zone answers it too.
    """
    boiler_valves = {valve for boiler in c.boilers for valve in c.own(boiler, "motorised valve")}
    for pump in c.pumps_with("system"):
        number = c.chain_at[pump]
        loop = c.loops.loop_of[number]
        zones = [n for n in c.loops.groups[loop] if c.graph.loads[n]]
        closing = {n for n in c.loops.groups[loop]
                   if any(c.kind(p) == "motorised valve" and p not in boiler_valves for p in c.graph.chains[n].parts)}
        closing |= _turned_away(c, loop)
        if not zones or not set(zones) <= c.stopped(loop, closing):
            continue
        if number not in closing and c.comes_round(number, closing, either_way=False):
            continue
        loads = sorted(t for n in zones for t in c.graph.loads[n])
        yield Finding("zones-shut", "check local code", (pump, *loads),
                      f"When {listed(loads)} {'is' if len(loads) == 1 else 'are all'} shut off, {pump} has no way round.",
                      "Check that the pump stops or slows with the last zone, or fit a bypass across the loads.")


def _turned_away(c: Context, loop: int) -> set[int]:
    """Chains at the tanks' ports of diverting valves: shut while the valves stand at the building's."""
    tanks = set(c.found.diverted)
    shut = set()
    for valve in set(c.found.diverted.values()):
        for n in c.graph.incident[valve]:
            chain = c.graph.chains[n]
            port = chain.u_port if chain.u == valve else chain.v_port
            if port in ("a", "b") and c.loops.loop_of.get(n) == loop and tanks & set(fed_by_port(c.graph, valve, port)):
                shut.add(n)
    return shut
