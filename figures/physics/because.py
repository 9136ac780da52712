"""Why a load gets its heat or does not, in one or two plain sentences that name the parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from figures.reading import Reading
from figures.reading.evidence import listed
from figures.reading.graph import PipeGraph

from .jobs import Jobs

if TYPE_CHECKING:
    from .operation import Sequence, Served, Setting
    from .solution import Solution

ENOUGH = 0.95
"""Share of the wanted heat from which a load counts as served."""
STILL_SHARE, TRICKLE_SHARE = 0.01, 0.12
"""Shares of the flow that a part has when it is meant to run, under which it is called still, and a trickle."""


def _are(tags: list[str], verb: str = "is", verbs: str = "are") -> str:
    return f"{listed(tags)} {verb if len(tags) == 1 else verbs}"


def share_words(share: float) -> str:
    """'still', 'a trickle' or 'flowing', for a share of the flow that a part has when it is meant to run.

    >>> [share_words(s) for s in (0.001, 0.05, 0.5)]
    ['still', 'a trickle', 'flowing']
    """
    return "still" if abs(share) < STILL_SHARE else "a trickle" if abs(share) < TRICKLE_SHARE else "flowing"


def because(row: Served, jobs: Jobs, reading: Reading, steps: Sequence, setting: Setting, found: Solution) -> str:
    """Why the load of `row` fares as it does."""
    if row.wanted_kw == 0.0:
        return _not_called(row, jobs, steps, setting)
    if row.part in steps.held and row.given_kw < ENOUGH * row.wanted_kw:
        return _held(row, jobs, setting)
    if row.given_kw >= ENOUGH * row.wanted_kw:
        return _served(row, jobs, steps)
    return _short(row, jobs, reading, steps, setting, found)


def _closed(row: Served, jobs: Jobs, steps: Sequence) -> list[str]:
    """What on the load's way stands still or shut, the boilers' parts last."""
    own = [tag for tag in jobs.load_parts(row.part) if tag not in steps.running and tag not in steps.open]
    ways = [loads[row.part] for boiler, loads in jobs.ways.items() if row.part in loads and boiler in steps.firing]
    if not ways:
        return own
    boilers = [{tag for tag in (*way.pumps, *way.valves)
                if jobs.job.get(tag) == "boiler" and tag not in steps.running and tag not in steps.open}
               for way in ways]
    return own + sorted(set().union(*boilers)) if all(boilers) else own


def _turned_away(row: Served, jobs: Jobs, steps: Sequence) -> list[str]:
    """Diverting valves that stand at another port than the load's."""
    away = []
    for loads in jobs.ways.values():
        if row.part in loads:
            away += [tag for tag, port in loads[row.part].ports.items()
                     if port in ("a", "b") and (port == "b") != (tag in steps.diverted)]
    return list(dict.fromkeys(away))


def _ports(row: Served, jobs: Jobs) -> list[str]:
    """Diverting valves on the ways to a load."""
    return list(dict.fromkeys(tag for loads in jobs.ways.values() if row.part in loads
                              for tag, port in loads[row.part].ports.items() if port in ("a", "b")))


def _stop_words(tags: list[str], jobs: Jobs) -> str:
    pumps = [tag for tag in tags if jobs.plant.parts[tag].kind == "pump"]
    valves = [tag for tag in tags if tag not in pumps]
    said = []
    if pumps:
        said.append(_are(pumps, "stands still", "stand still"))
    if valves:
        said.append(_are(valves, "is shut", "are shut"))
    return " and ".join(said)


def _flow_words(row: Served) -> str:
    if row.still:
        return "no water moves through it"
    word = "a trickle" if share_words(row.share) == "a trickle" else "water"
    back = " backwards" if row.share < 0.0 else ""
    return f"{word} passes it{back} ({row.flow_lps:.2f} L/s, {row.given_kw:.1f} kW)"


def _check_valves(row: Served, jobs: Jobs) -> list[str]:
    """Check valves in a row with the load, however its runs are cut."""
    graph = PipeGraph(jobs.plant)
    number = graph.chain_of(row.part)
    return [] if number is None else [tag for tag in graph.chains[number].parts if graph.kind[tag] == "check valve"]


def _not_called(row: Served, jobs: Jobs, steps: Sequence, setting: Setting) -> str:
    every = _closed(row, jobs, steps)
    stops = [tag for tag in every if jobs.job.get(tag) in ("tank", "zone", "shared")] or every
    away = _turned_away(row, jobs, steps)
    if row.still:
        if stops:
            return f"It has not called: {_stop_words(stops, jobs)}."
        if away:
            return f"It has not called: {_are(away, 'stands', 'stand')} at the other port."
        if not steps.running:
            return "It has not called, and no pump runs."
        return "It has not called, and no pump moves water through it."
    shutters = [tag for tag in stops if jobs.plant.parts[tag].kind != "pump"]
    pumps = [tag for tag in stops if tag not in shutters]
    if pumps:
        checks = _check_valves(row, jobs)
        how = (f"{_are(checks, 'gives', 'give')} way to water that is pushed forwards" if checks
               else "nothing closes its branch")
        return f"It has not called and {_are(pumps, 'is', 'are')} off, yet {_flow_words(row)}: {how}."
    if not jobs.closes(row.part):
        return f"It has not called, yet {_flow_words(row)}: the control has nothing that can close it."
    worked = [tag for tag in jobs.closes(row.part) if tag in steps.open or tag in steps.running]
    if worked and setting.configuration == "heating only":
        return f"It has not called, yet {_flow_words(row)}: a control set as heating only does not work " \
               f"{listed(worked)}, which stands open without power."
    return f"It has not called, yet {_flow_words(row)}."


def _held(row: Served, jobs: Jobs, setting: Setting) -> str:
    reason = "DHW comes first" if setting.configuration == "DHW on the boiler loop" else "DHW has priority"
    if row.still:
        return f"{reason}: it is held off until the tank is satisfied."
    closes = jobs.closes(row.part)
    if not closes:
        return f"{reason}, but nothing can close it: {_flow_words(row)}."
    return f"{reason}: it is held off until the tank is satisfied; {_flow_words(row)}."


def _served(row: Served, jobs: Jobs, steps: Sequence) -> str:
    own = [tag for tag in jobs.load_parts(row.part) if tag in steps.running or tag in steps.open]
    pumps = [tag for tag in steps.running if jobs.job.get(tag) == "boiler"]
    if row.part in steps.held:
        return f"It gets its {row.given_kw:.0f} kW although DHW comes first: nothing can close it."
    moved = list(dict.fromkeys([*pumps, *(tag for tag in own if jobs.plant.parts[tag].kind == "pump")]))
    opened = [tag for tag in own if jobs.plant.parts[tag].kind != "pump"]
    said = _are(moved, "runs", "run") if moved else ""
    if opened:
        said += (" and " if said else "") + _are(opened, "is open", "are open")
    turned = [tag for tag in _ports(row, jobs) if tag not in _turned_away(row, jobs, steps)]
    if turned:
        said += (" and " if said else "") + _are(turned, "stands", "stand") + " at its port"
    return f"It gets the heat it wants: {said or 'the water reaches it'}."


def _short(row: Served, jobs: Jobs, reading: Reading, steps: Sequence, setting: Setting, found: Solution) -> str:
    plant = jobs.plant
    if plant.is_dhw(row.part) and setting.configuration == "heating only":
        more = "" if row.still else f" Yet {_flow_words(row)}."
        return f"The control is set as heating only: it knows no tank and sends it nothing.{more}"
    stops, away = _closed(row, jobs, steps), _turned_away(row, jobs, steps)
    if not steps.firing:
        return f"No boiler is called to fire; {_flow_words(row)}."
    if share_words(row.share) != "flowing" or row.share < 0.0:
        if stops:
            return f"{_stop_words(stops, jobs)}: {_flow_words(row)}.{_misset(row, jobs, reading, setting, stops)}"
        if away:
            return f"{_are(away, 'stands', 'stand')} at the other port: {_flow_words(row)}."
        if not steps.running:
            return f"No pump runs: {_flow_words(row)}."
        return f"Nothing on its way stands still, yet {_flow_words(row)}: look for what blocks or bypasses it."
    fired = [tag for tag in steps.firing if found.heat.heat_kw.get(tag, 0.0) > 0.0]
    if not fired:
        idle = [tag for tag in steps.firing if tag not in fired]
        boiler_stops = [tag for tag in stops if jobs.job.get(tag) == "boiler"]
        why = f": {_stop_words(boiler_stops, jobs)}" if boiler_stops else ""
        return f"Water moves through it ({row.flow_lps:.2f} L/s), but {_are(idle, 'gives', 'give')} no heat{why}." \
               f"{_store_words(row, found)}{_misset(row, jobs, reading, setting, stops)}"
    if away:
        return f"{_are(away, 'stands', 'stand')} at the other port, so no boiler's water comes to it: {_flow_words(row)}."
    full = all(found.heat.heat_kw[tag] >= 0.999 * plant.parts[tag].number("output_kw") for tag in fired)
    inlet = found.parts[row.part]["inlet_c"]
    at = "" if inlet is None else f" at {inlet:.0f} °C"
    ends = f"it gets {row.given_kw:.0f} of {row.wanted_kw:.0f} kW"
    if full:
        return f"{_are(fired, 'gives', 'give')} all they can, and that is too little for all that call: {ends}." \
            if len(fired) > 1 else f"{fired[0]} gives all it can, and that is too little for all that call: {ends}."
    if stops:
        return f"{_stop_words(stops, jobs)}: water comes to it{at} only as others push it, and {ends}." \
               f"{_misset(row, jobs, reading, setting, stops)}"
    return f"Water reaches it{at} ({row.flow_lps:.2f} L/s), which is not enough: {ends}."


def _store_words(row: Served, found: Solution) -> str:
    """A sentence where a tank's store heats the water instead of a boiler."""
    if row.given_kw < -0.05:
        return f" Its store gives {-row.given_kw:.0f} kW back to the water."
    givers = [tag for tag, kw in found.heat.heat_kw.items() if kw < -0.05 and found.plant.is_load(tag)]
    return f" What heat it gets ({row.given_kw:.0f} kW) comes out of {listed(givers)}." if givers else ""


def _misset(row: Served, jobs: Jobs, reading: Reading, setting: Setting, stops: list[str]) -> str:
    """A second sentence where the setting differs from the piping in the way that stops this load."""
    boiler_stops = [tag for tag in stops if jobs.job.get(tag) == "boiler"]
    if boiler_stops and setting.arrangement != reading.arrangement and reading.arrangement != "undetermined":
        kinds = {jobs.plant.parts[tag].kind for tag in boiler_stops}
        what = "boiler pump" if "pump" in kinds else "boiler valve"
        return f" Set as {setting.arrangement}, the control works no {what}."
    if setting.configuration == reading.control or reading.control == "undetermined":
        return ""
    if setting.configuration == "DHW on the boiler loop" and any(jobs.job.get(tag) in ("system", "zone")
                                                                  for tag in stops):
        return " Told that the tank is on the boiler loop, the control stops the system pump on a DHW call."
    return ""
