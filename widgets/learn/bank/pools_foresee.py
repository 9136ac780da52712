"""Questions on what will happen: what runs, what gets heat, what mixes, where the last heat goes."""

from __future__ import annotations

from dataclasses import replace

from .case import Case
from .pool import Answer, Pool

LEAST_SHARE, GOOD_SHARE = 0.05, 0.4
"""Shares of what a load wants, below which it gets none to speak of, and above which it is served."""

# -- F1 ----------------------------------------------------------------------------------------------------


def _calls(c: Case) -> dict[str, str]:
    from figures.physics.operation import sequence

    o = c.operator
    if not c.reading.tanks or c.reading.dhw == "undetermined":
        return {}
    heat, dhw = (set(sequence(o.jobs, c.reading, o.right(call)).running) for call in ("heat", "dhw"))
    return {tag: "both" if tag in heat and tag in dhw else "heat" if tag in heat else "dhw"
            for tag in c.tags("pump") if tag in heat or tag in dhw}


CALLS = Pool("F1", "name", "The control is set as the piping asks. On which calls does the pump {it} run?", (
    Answer("heat", "On heat calls, not on DHW calls", "it serves the building, and no DHW water passes it",
           lambda d: d.scheme(lambda s: s.tank != "none"), 21),
    Answer("dhw", "On DHW calls, not on heat calls", "it serves the DHW and nothing else",
           lambda d: d.scheme(lambda s: s.tank != "none" and s.tank_by == "pump"), 2),
    Answer("both", "On heat calls and on DHW calls", "its water serves the building and the DHW, each when it calls",
           lambda d: d.scheme(lambda s: s.tank != "none"), 16)),
    sort=_calls, about=("dhw",))

# -- F2, F1: what gets heat --------------------------------------------------------------------------------


def _served(c: Case, configuration: str, call: str) -> str | None:
    """'T' where the tank is served, 'B' where any of the building is; None where it is neither here nor there."""
    from figures.physics import NoSolution

    o = c.operator
    if len(c.reading.tanks) != 1 or c.reading.dhw == "undetermined":
        return None
    try:
        rows = o.operate(o.setting(configuration, call)).loads
    except NoSolution:
        return None
    shares = {row.part: row.given_kw / max(c.plant.load_kw(row.part), 1e-9) for row in rows}
    tank = shares.pop(c.reading.tanks[0])
    building = max(shares.values(), default=0.0)
    if any(LEAST_SHARE < share < GOOD_SHARE for share in (tank, building)):
        return None
    return ("T" if tank >= GOOD_SHARE else "-") + ("B" if building >= GOOD_SHARE else "-")


def _both(c: Case, among: tuple[str, ...]) -> str | None:
    got = _served(c, "DHW on the system loop", "both")
    return got if got in ("T-", "-B", "TB") else None


def _explain(configuration: str, call: str):  # type: ignore[no-untyped-def]
    def why(c: Case, it: str, key: str) -> str:
        rows = c.operator.operate(c.operator.setting(configuration, call)).loads
        return " ".join(f"{row.part}: {row.because}" for row in rows)
    return why


GETS_HEAT = Pool("F2", "heat", "The control is told “DHW on the system loop”, rightly or wrongly, and heat and DHW call at once. "
                 "What gets heat?", (
    Answer("TB", "The tank, and the building too", "the pumps that run push water through the coil and the radiators",
           lambda d: d.scheme(lambda s: s.tank_by != "diverting valve", control="DHW on the system loop"), 21),
    Answer("T-", "The tank, but not the building", "all the water is turned to the coil, and the radiators get none",
           lambda d: d.scheme(lambda s: s.tank_by == "diverting valve"), 16),
    Answer("-B", "The building, but not the tank", "the pumps that run push water past the coil, not through it",
           lambda d: d.scheme(lambda s: s.separation == "tees per load", control="DHW on the boiler loop"), 21)),
    _both, why=_explain("DHW on the system loop", "both"))


def _dhw_call(c: Case, among: tuple[str, ...]) -> str | None:
    got = _served(c, "DHW on the boiler loop", "dhw")
    if got == "--":
        return "nothing"
    return None if got != "T-" else "right" if c.reading.dhw == "boiler loop" else "luck"


SUMMER = Pool("F2", "heat", "It is summer. The control is told “DHW on the boiler loop”, rightly or wrongly, and DHW calls. What "
              "gets heat?", (
    Answer("right", "The tank: that setting is right", "the coil is on the boiler loop, as the control was told",
           lambda d: d.scheme(control="DHW on the boiler loop"), 1),
    Answer("luck", "The tank, though it is set wrongly", "the tank's own pump or the boilers' still push water through the coil",
           lambda d: d.scheme(lambda s: s.tank_by == "pump" and s.tank_joins == "branch",
                              control="DHW on the system loop"), 2),
    Answer("nothing", "Nothing: nobody moves its water", "the system pump, without which the coil gets no water, stands still",
           lambda d: d.scheme(lambda s: s.tank_by != "pump", control="DHW on the system loop"), 21)),
    _dhw_call, why=_explain("DHW on the boiler loop", "dhw"))

# -- F4 ----------------------------------------------------------------------------------------------------


def _last(c: Case) -> dict[str, str]:
    found = {}
    said = c.operator.operate(c.operator.right("heat")).afterwards
    into = set(said.rpartition(" goes to ")[2].rstrip(".").split(", "))
    for tag in c.plant.parts:
        if c.plant.is_load(tag):
            limit = "max_supply_c" in c.plant.parts[tag].given
            found[tag] = "takes" if tag in into else "hot" if limit else "calm" if c.plant.is_dhw(tag) else ""
    return {tag: key for tag, key in found.items() if key}


LAST_HEAT = Pool("F4", "heat", "A heat call of the whole building ends, and the pumps overrun. Does {it} take some of the last "
                 "heat?", (
    Answer("takes", "Yes, it takes its part of it", "it called for heat, and hot water does it no harm",
           lambda d: d.scheme(), 10),
    Answer("calm", "No: it has not called for heat", "it serves DHW, which has not called",
           lambda d: d.scheme(lambda s: s.tank != "none"), 10),
    Answer("hot", "No: it may not see hot water", "it is a low-temperature zone, which hot water can harm",
           lambda d: replace(d.scheme(lambda s: s.emitters > 1 and not s.exchangers and s.separation != "tees per load"),
                             low_temperature=(1,)), 18)),
    sort=_last, why=lambda c, it, key: c.operator.operate(c.operator.right("heat")).afterwards)


POOLS = (CALLS, GETS_HEAT, SUMMER, LAST_HEAT)


