"""What can be wrong with a plant, in words of the trade, and why a place that somebody points at is sound.

One row a piping rule.  What is said of a sound place is looked up on the plant; the verdict itself comes from the
rules in `figures.reading.rules` and from nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from figures.plant.model import Plant, tag_of
from figures.reading import Reading
from figures.reading.evidence import listed

if TYPE_CHECKING:
    from figures.reading.rules.context import Context


@dataclass(frozen=True, slots=True)
class Wrong:
    """One thing that can be wrong.

    rule: the piping rule that sees it.  label: as a technician says it.  objective: its code.
    asked: where one has to look for it, as a sentence that is true of any plant.
    """

    rule: str
    label: str
    objective: str
    asked: str


_ROWS: tuple[tuple[str, str, str, str], ...] = (
    ("relief-missing", "The boiler has no relief valve of its own", "J1",
     "A relief valve of its own is asked of each boiler."),
    ("relief-isolated", "Something can shut between a boiler and its relief valve", "J1",
     "This is asked of the pipe between a boiler and its relief valve."),
    ("expansion-missing", "No expansion tank is always open to the plant", "J1",
     "This is asked of the expansion tank and of what stands between it and the plant."),
    ("expansion-isolated", "A hand valve at the expansion tank is not locked open", "J1",
     "This is asked of hand valves between the expansion tank and the plant."),
    ("expansion-point", "The expansion tank does not join at the pump's inlet", "J1",
     "This is asked of the place where the expansion tank joins, and of the pump that moves the building's water."),
    ("low-water", "No low-water cut-off at the boiler", "J1", "A low-water cut-off guards a boiler."),
    ("proof-of-flow", "No flow switch at the boiler", "C4", "A flow switch proves a boiler's flow."),
    ("tee-spacing", "The two tees stand too far apart", "R4",
     "The spacing counts only between two tees where loops meet; any other pipe may be as long as it likes."),
    ("common-pipe-blocked", "Something stands in the common pipe", "J5",
     "Only the pipe between two tees where loops meet must stay plain."),
    ("ports-crossed", "Supply and return are swapped where the loops meet", "J5",
     "This is asked of the place where two loops meet."),
    ("load-straddles", "Fed from one loop, returned to another", "R7",
     "This is asked of a coil or an emitter and of its two pipes."),
    ("loop-pump", "No pump moves this water round its loop", "R5",
     "This is asked, where loops are separated, of each boiler and each load."),
    ("part-reversed", "Set against the flow", "J5", "Only a pump or a check valve can be set the wrong way round."),
    ("boiler-isolation", "Nothing closes this boiler while it rests", "J2",
     "This is asked of boilers that share a single loop."),
    ("boiler-isolation-local", "No motorised valve at the only boiler", "J2",
     "This is a question for the local code, where one boiler stands on a single loop."),
    ("valve-fail-position", "This valve shuts a hot boiler in when its power fails", "J2",
     "This is asked of a boiler's own motorised valve."),
    ("pump-bypass", "The pump has no way round once the boilers' valves shut", "J2",
     "This is asked of a single loop whose boilers can all be shut off by motorised valves."),
    ("zones-shut", "The pump has no way round once the zones shut", "J2",
     "This is asked of a system pump whose loads can all be shut off."),
    ("reverse-return", "The boilers are on direct return", "R9",
     "This is asked of several boilers and of the order in which their water returns."),
    ("lead-boiler", "Not exactly one boiler is marked as lead", "R8", "This is asked of several boilers together."),
    ("supply-sensor", "The system supply has no sensor in the right place", "C3",
     "This is asked, where loops are separated, of the supply between there and the first load."),
    ("tank-sensor", "The tank has no temperature sensor", "C3", "This is asked of a tank."),
    ("mixing-valve", "No thermostatic mixing valve guards the taps", "J4", "This is asked of what heats DHW."),
    ("low-temperature-zone", "Water too hot for this zone can reach it", "C5",
     "This is asked of an emitter that may see no hot water, a floor say."),
    ("ghost-flow", "Water goes through uncalled (ghost flow)", "J3",
     "This is asked of a tank's branch and, where loops are separated, of each of several boilers' branches."),
)

WRONG: Mapping[str, Wrong] = MappingProxyType({row[0]: Wrong(*row) for row in _ROWS})
"""All that can be said to be wrong, by the name of the piping rule.

>>> from figures.reading.rules import rules
>>> set(WRONG) == set(rules())
True
"""


def suits(rule: str, reading: Reading) -> bool:
    """Nobody would laugh at the question on this plant: it has what the rule speaks of."""
    several, separated = len(reading.boilers) > 1, reading.arrangement == "separated loops"
    if rule in ("tee-spacing", "common-pipe-blocked"):
        return any(s.kind == "closely spaced tees" for s in reading.separations) or not reading.separations
    if rule in ("lead-boiler", "reverse-return", "boiler-isolation"):
        return several and (rule != "boiler-isolation" or not separated)
    if rule in ("ports-crossed", "loop-pump", "load-straddles", "supply-sensor"):
        return separated
    if rule in ("pump-bypass", "boiler-isolation-local"):
        return not separated and (rule == "pump-bypass" or not several)
    if rule in ("tank-sensor", "mixing-valve"):
        return bool(reading.tanks)
    if rule == "ghost-flow":
        return bool(reading.tanks) or (separated and several)
    if rule == "valve-fail-position":
        return bool(reading.plant.of_kind("motorised valve"))
    return True


def called(plant: Plant, place: str) -> str:
    """'the pump PS', 'the pipe A>Z'."""
    part = plant.parts.get(place)
    return f"the {part.kind} {place}" if part else f"the pipe {place}"


def why_sound(c: Context, place: str, rule: str) -> str:
    """Why a place has not this fault: what stands there on this plant, or else where one has to look.

    Where the rule speaks against another place, nothing is said that would give that place away.
    """
    seen = _AT[rule](c, place) if rule in _AT else ""
    if not seen and rule in _OVERALL and not any(f.rule == rule for f in c.reading.findings):
        seen = _OVERALL[rule](c)
    if seen:
        return seen[0].upper() + seen[1:]
    return f"{WRONG[rule].asked} Nothing at {called(c.plant, place)} speaks for it."


# -- what stands at a place ----------------------------------------------------------------------------------

def _kind(c: Context, place: str) -> str:
    return c.plant.parts[place].kind if place in c.plant.parts else "pipe"


def _fitted(c: Context, boiler: str, kind: str) -> list[str]:
    return sorted(tag for tag in c.branches[boiler].between if c.kind(tag) == kind)


def _relief(c: Context, place: str) -> str:
    if _kind(c, place) == "boiler" and (found := _fitted(c, place, "relief valve")):
        return f"{listed(found)} stands on the branch of {place}."
    if _kind(c, place) == "relief valve":
        return f"{place} is a relief valve, and it is there."
    return ""


def _relief_open(c: Context, place: str) -> str:
    boilers = [place] if _kind(c, place) == "boiler" else [b for b in c.boilers if place in c.branches[b].between]
    if len(boilers) != 1 or (_kind(c, place) not in ("boiler", "relief valve", "pipe")):
        return ""
    between = c.branches[boilers[0]].between
    free = sorted(tag for tag, shut in between.items() if c.kind(tag) == "relief valve" and not shut)
    return f"nothing but pipe stands between {boilers[0]} and {listed(free)}." if free else ""


def _tanks(c: Context) -> list[str]:
    return sorted(part.tag for part in c.plant.of_kind("expansion tank"))


def _expansion(c: Context) -> str:
    tanks = _tanks(c)
    if not tanks:
        return ""
    joints = listed(sorted({c.hangs(tag)[0] for tag in tanks}))
    return f"{listed(tanks)} joins at {joints}, and no check or motorised valve stands between."


def _expansion_valves(c: Context) -> str:
    hand = sorted({v for tag in _tanks(c) for v in c.hangs(tag)[1] if c.kind(v) == "isolation valve"})
    return f"{listed(hand)} is locked open." if hand else "no hand valve stands between the expansion tank and the plant."


def _expansion_point(c: Context) -> str:
    pumps = c.pumps_with("system") or c.pumps_with("zone") or c.pumps_with("tank")
    if not _tanks(c) or not pumps:
        return ""
    return f"{listed(_tanks(c))} is open to the inlet of {listed(pumps)}: nothing that changes the pressure stands between."


def _separation_at(c: Context, place: str) -> tuple[str, float | None]:
    for s in c.reading.separations:
        if place in s.parts or place in s.pipes:
            return ("tees " + listed(s.parts[:2]) if s.kind == "closely spaced tees" else f"{s.kind} {s.parts[0]}",
                    s.spacing_diameters)
    return "", None


def _spacing(c: Context, place: str) -> str:
    where, far = _separation_at(c, place)
    return f"the {where} are {far:.1f} inside diameters apart; up to four is sound." if far and far <= 4 else ""


def _common(c: Context, place: str) -> str:
    where, far = _separation_at(c, place)
    return f"between the {where} there is nothing but pipe." if far is not None else ""


def _crossed(c: Context, place: str) -> str:
    where, _ = _separation_at(c, place)
    return (f"at the {where} the boilers' supply comes in where the building's supply leaves, as it should."
            if where else "")


def _straddles(c: Context, place: str) -> str:
    loop = c.reading.loop_of(place) if place in c.plant.parts and c.plant.is_load(place) else None
    return f"{place} takes its water from the {loop.role} and gives it back to the same." if loop else ""


def _pumped(c: Context, place: str) -> str:
    if not c.separated or place not in c.chain_at or not (_kind(c, place) == "boiler" or c.plant.is_load(place)):
        return ""
    loop = c.loops.loop_of.get(c.chain_at[place])
    pumps = sorted(p for p in c.pump_jobs if c.loops.loop_of.get(c.chain_at[p]) == loop)
    return f"the water of {place} cannot go round without meeting a pump; its loop has {listed(pumps)}." if pumps else ""


def _faces(c: Context, place: str) -> str:
    if _kind(c, place) in ("pump", "check valve") and not c.part(place)["reversed"]:
        return f"{place} faces along the water."
    return ""


def _closed(c: Context, place: str) -> str:
    if _kind(c, place) != "boiler" or not c.single:
        return ""
    if valves := c.own(place, "motorised valve"):
        return f"{listed(valves)} closes {place}."
    pump, check = c.own(place, "pump"), c.own(place, "check valve")
    return f"{place} has a pump of its own, {listed(pump)}, with the check valve {listed(check)}." if pump and check else ""


def _without_power(c: Context, place: str) -> str:
    if _kind(c, place) == "motorised valve":
        if c.part(place)["power_off"] == "open":
            return f"{place} springs open when its power fails."
        return f"{place} closes without power, but it is no boiler's own valve, so it shuts no hot boiler in."
    if _kind(c, place) == "boiler":
        valves = c.own(place, "motorised valve")
        return (f"{listed(valves)} at {place} springs open when its power fails." if valves else
                f"{place} has no motorised valve of its own that could shut it in.")
    return ""


def _guard(kind: str) -> Callable[[Context, str], str]:
    def seen(c: Context, place: str) -> str:
        if _kind(c, place) != "boiler":
            return ""
        found = (_fitted(c, place, kind) if kind == "flow switch" else
                 sorted(part.tag for part in c.plant.of_kind(kind) if part["at"] == place))
        return f"{listed(found)} is there, at {place}." if found else ""
    return seen


def _sensed(c: Context, place: str) -> str:
    found = sorted(p.tag for p in c.plant.of_kind("temperature sensor")
                   if p["role"] == "tank" and tag_of(str(p["at"])) == place)
    return f"{listed(found)} measures {place}." if found else ""


def _tempered(c: Context, place: str) -> str:
    return f"a thermostatic mixing valve guards the outlet of {place}." if place in c.found.tanks else ""


def _cool(c: Context, place: str) -> str:
    if _kind(c, place) != "emitter" or place in c.loops.straddling:
        return ""
    limit = c.part(place)["max_supply_c"]
    if limit is None:
        return f"no highest supply temperature is given for {place}: it takes what its loop brings."
    return f"{place} may see {float(limit):g} °C, and nothing hotter reaches it."


def _quiet(c: Context, place: str) -> str:
    if place in c.found.tanks and place not in c.loops.straddling:
        return f"when {place} does not call, something closes its branch, or nothing pushes water through it."
    if _kind(c, place) == "boiler":
        if not c.separated or len(c.boilers) < 2:
            return f"{place} is not one of several boilers beside a separation."
        return f"when {place} rests, something closes its branch, or nothing pushes water through it."
    return ""


_AT: dict[str, Callable[[Context, str], str]] = {
    "relief-missing": _relief, "relief-isolated": _relief_open, "tee-spacing": _spacing,
    "common-pipe-blocked": _common, "ports-crossed": _crossed, "load-straddles": _straddles, "loop-pump": _pumped,
    "part-reversed": _faces, "boiler-isolation": _closed, "valve-fail-position": _without_power,
    "proof-of-flow": _guard("flow switch"), "low-water": _guard("low-water cut-off"), "tank-sensor": _sensed,
    "mixing-valve": _tempered, "low-temperature-zone": _cool, "ghost-flow": _quiet,
}


# -- what is true of a whole plant on which a rule has nothing to say -----------------------------------------------

def _order(c: Context) -> str:
    return {"reverse": "the boiler whose water is first out is the last to get water back: that is reverse return.",
            "single boiler": "there is one boiler, so there is no order to speak of.",
            "not applicable": "each boiler has a separation of its own, so there is no order to speak of.",
            }.get(c.reading.return_order, "")


def _lead(c: Context) -> str:
    return f"exactly one boiler leads: {c.reading.lead}." if c.reading.lead else ""


def _bypass(c: Context) -> str:
    if c.separated:
        return "the loops are separated, so no pump of the building pushes against the boilers' valves."
    if not c.single:
        return ""
    if not all(c.own(boiler, "motorised valve") for boiler in c.boilers):
        return "not every boiler has a motorised valve of its own, so they cannot all be shut."
    return "with every boiler's valve shut the pump still has a way round."


def _zones(c: Context) -> str:
    if not c.pumps_with("system"):
        return "no system pump serves all zones, so none is left standing against closed pipe."
    return "not all loads can be shut at once, or the pump keeps a way round when they are."


def _supply(c: Context) -> str:
    if c.single:
        return "in a single loop the boiler's outlet is what the building gets; no second sensor is asked for."
    found = [p for p in c.plant.of_kind("temperature sensor") if p["role"] == "system supply"]
    return f"the system supply is measured: {listed(sorted(p.tag + ' at ' + str(p['at']) for p in found))}." if found else ""


_OVERALL: dict[str, Callable[[Context], str]] = {
    "expansion-missing": _expansion, "expansion-isolated": _expansion_valves, "expansion-point": _expansion_point,
    "reverse-return": _order, "lead-boiler": _lead, "pump-bypass": _bypass, "zones-shut": _zones,
    "supply-sensor": _supply,
}
