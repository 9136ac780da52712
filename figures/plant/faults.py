"""Faults on purpose: each spoils the plant of a scheme in one way that a piping rule must see.

`FAULTS` is the table. The first fault of a rule bears the rule's name. A fault edits the data of the finished
plant, so what it makes goes through the same check as any plant file.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from .spoiler import Spoiler

if TYPE_CHECKING:
    from .scheme import Scheme

Applies = Callable[["Scheme"], bool]
Spoil = Callable[[Spoiler], None]


@dataclass(frozen=True)
class Fault:
    """One way to spoil a plant.

    rule: the piping rule that must fire.  says: what is done to the plant, for an instructor.
    applies: whether a scheme can carry it.  touches: what it changes; two faults that touch the same thing
    cannot go together.  recast: parameters of the scheme that it changes before the plant is made.
    expects: keys of `Scheme.expected()` that come out otherwise.
    """

    name: str
    rule: str
    says: str
    applies: Applies
    spoil: Spoil
    touches: frozenset[str]
    recast: Mapping[str, object] = field(default_factory=dict)
    expects: Mapping[str, object] = field(default_factory=dict)


FAULTS: dict[str, Fault] = {}


def _fault(name: str, rule: str, says: str, applies: Applies, *touches: str,
           recast: Mapping[str, object] | None = None,
           expects: Mapping[str, object] | None = None) -> Callable[[Spoil], Spoil]:
    def keep(spoil: Spoil) -> Spoil:
        FAULTS[name] = Fault(name, rule, says, applies, spoil, frozenset(touches), recast or {}, expects or {})
        return spoil
    return keep


# -- what a scheme has ---------------------------------------------------------------------------------

def _several(s: Scheme) -> bool:
    return s.boilers > 1


def _single(s: Scheme) -> bool:
    return s.arrangement == "single loop"


def _separated(s: Scheme) -> bool:
    return not _single(s)


def _pumped(s: Scheme) -> bool:
    return s.boilers_by == "pump"


def _valved(s: Scheme) -> bool:
    return s.boilers_by == "motorised valve"


def _tees(s: Scheme) -> bool:
    return s.separation in ("closely spaced tees", "tees per boiler", "tees per load")


def _vessel(s: Scheme) -> bool:
    return s.separation in ("hydraulic separator", "buffer tank")


def _two_mains(s: Scheme) -> bool:
    return s.separation in ("closely spaced tees", "hydraulic separator", "buffer tank")


def _tank(s: Scheme) -> bool:
    return s.tank != "none"


def _branch_beside_zones(s: Scheme) -> bool:
    return s.tank == "system loop" and s.tank_joins == "branch" and s.tank_by != "diverting valve"


def _pushed_tank(s: Scheme) -> bool:
    return _branch_beside_zones(s) and s.tank_by == "motorised valve"


def _system_pumps(p: Spoiler) -> list[str]:
    return [tag for tag in p.parts if tag.startswith("PS") and p.parts[tag]["kind"] == "pump"]


def _has_system_pump(s: Scheme) -> bool:
    return s.system_pump != "none"


def _plain_zones(s: Scheme) -> list[int]:
    return [i for i in range(1, s.emitters + 1) if i not in s.low_temperature]


def _common(p: Spoiler) -> dict[str, Any]:
    """The common pipe of one pair of tees that touches a boiler loop."""
    s = p.scheme
    if s.separation == "closely spaced tees":
        return p.run_of("A", "Z")
    last = s.boilers if s.separation == "tees per boiler" else s.emitters
    i = p.chance.randint(1, last)
    return p.run_of(f"A{i}", f"Z{i}")


# -- where the loops meet ------------------------------------------------------------------------------

@_fault("tee-spacing", "tee-spacing", "two tees moved far apart", _tees, "common pipe", "boiler pump", "system pump",
        "zone pump", "boiler valve")
def _(p: Spoiler) -> None:
    run = _common(p)
    run["length_m"] = round(run["length_m"] / p.scheme.spacing_diameters * p.chance.uniform(7.0, 14.0), 4)


@_fault("common-pipe-blocked", "common-pipe-blocked", "a check valve in the common pipe", _tees, "common pipe")
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "check valve", "CX")


@_fault("common-pipe-valve", "common-pipe-blocked", "a hand valve in the common pipe", _tees, "common pipe")
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "isolation valve", "HX9")


@_fault("common-pipe-pump", "common-pipe-blocked", "a pump in the common pipe", _tees, "common pipe", "boiler pump",
        "system pump", "zone pump")
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "pump", "PX", shutoff_m=2.0, rated_lps=1.0, rated_m=1.0)


@_fault("ports-crossed", "ports-crossed", "supply and return swapped at the system's side of the vessel", _vessel,
        "ports", "sensor", "expansion", "system pump")
def _(p: Spoiler) -> None:
    vessel = "HS" if "HS" in p else "BT"
    side = "a" if p.scheme.vessel_turned else "b"
    swap = {f"{vessel}.{side}_supply": f"{vessel}.{side}_return", f"{vessel}.{side}_return": f"{vessel}.{side}_supply"}
    for run in p.runs:
        run["through"] = [swap.get(end, end) for end in run["through"]]


@_fault("load-straddles", "load-straddles", "the coil's return carried over to the system loop",
        lambda s: _two_mains(s) and s.tank == "boiler loop" and s.tank_joins == "branch" and s.tank_by == "pump",
        "tank", "tank sensor", expects={"dhw": "undetermined", "control": "undetermined",
                                        "dhw_priority": "undetermined"})
def _(p: Spoiler) -> None:
    back = _system_return(p)
    p.move_end(p.home("PT"), back)


@_fault("coil-straddles", "load-straddles", "the coil fed from the system loop, its return carried to the boilers",
        lambda s: _two_mains(s) and _branch_beside_zones(s), "tank", "tank sensor",
        expects={"dhw": "undetermined", "control": "undetermined", "dhw_priority": "undetermined"})
def _(p: Spoiler) -> None:
    p.move_end(p.home("IT" if "IT" in p else "DX"), _boiler_return(p))


@_fault("emitter-straddles", "load-straddles", "one emitter fed from the boilers' main",
        lambda s: _two_mains(s) and s.emitters > 1 and 1 not in s.low_temperature, "zone", "zone pump", "zone valve",
        "low-temperature zone", "system pump", "ghost")
def _(p: Spoiler) -> None:
    run = p.home("E1" if "E1" in p else "HX1")
    run["through"][0] = _boiler_supply(p)


def _system_return(p: Spoiler) -> str:
    """A new tee in the last stretch of the system's return."""
    end = "Z" if p.scheme.separation == "closely spaced tees" else _port(p, "return", boilers=False)
    run = next(r for r in p.runs if r["through"][-1] == end and r["through"][0] not in ("A",))
    return p.tee_in(run, 1)


def _boiler_return(p: Spoiler) -> str:
    start = "Z" if p.scheme.separation == "closely spaced tees" else _port(p, "return", boilers=True)
    return p.tee_in(next(r for r in p.runs if r["through"][0] == start), 1)


def _boiler_supply(p: Spoiler) -> str:
    end = "A" if p.scheme.separation == "closely spaced tees" else _port(p, "supply", boilers=True)
    run = p.arriving(end)
    return p.tee_in(run, len(run["through"]) - 1)


def _port(p: Spoiler, end: str, boilers: bool) -> str:
    side = "a" if boilers != p.scheme.vessel_turned else "b"
    return f"{'HS' if 'HS' in p else 'BT'}.{side}_{end}"


# -- pumps ---------------------------------------------------------------------------------------------

@_fault("loop-pump", "loop-pump", "a boiler's pump left out", lambda s: _separated(s) and _pumped(s), "boiler pump",
        "ghost boiler")
def _(p: Spoiler) -> None:
    p.take_out(f"PB{p.boiler()}")


@_fault("loop-pump-system", "loop-pump", "the system pump left out",
        lambda s: _separated(s) and _has_system_pump(s) and bool(_plain_zones(s)), "system pump", "zone pump",
        "expansion", "ghost", "zone bypass")
def _(p: Spoiler) -> None:
    p.take_out(p.chance.choice(_system_pumps(p)))


@_fault("loop-pump-zone", "loop-pump", "a zone's pump left out",
        lambda s: _separated(s) and s.zones_by == "pump" and bool(_plain_zones(s)), "zone pump", "expansion")
def _(p: Spoiler) -> None:
    p.take_out(f"PZ{p.chance.choice(_plain_zones(p.scheme))}")


@_fault("loop-pump-tank", "loop-pump", "the pump of a tank on tees of its own left out",
        lambda s: s.tank_joins == "own tees", "tank")
def _(p: Spoiler) -> None:
    p.take_out("PT")


@_fault("part-reversed", "part-reversed", "a pump of the building set against the flow",
        lambda s: _has_system_pump(s) or s.zones_by == "pump" and bool(_plain_zones(s)), "system pump", "zone pump",
        "expansion")
def _(p: Spoiler) -> None:
    pumps = _system_pumps(p) or [f"PZ{i}" for i in _plain_zones(p.scheme)]
    p.parts[p.chance.choice(pumps)]["reversed"] = True


@_fault("boiler-pump-reversed", "part-reversed", "a boiler's pump set against the flow", _pumped, "boiler pump",
        "ghost boiler", "expansion")
def _(p: Spoiler) -> None:
    p.parts[f"PB{p.boiler()}"]["reversed"] = True


@_fault("check-reversed", "part-reversed", "a boiler's check valve set against the flow",
        lambda s: _pumped(s) and _several(s), "boiler pump", "ghost boiler")
def _(p: Spoiler) -> None:
    p.parts[f"CB{p.boiler()}"]["reversed"] = True


@_fault("tank-check-reversed", "part-reversed", "the tank's check valve set against the flow",
        lambda s: _tank(s) and s.tank_by == "pump", "tank")
def _(p: Spoiler) -> None:
    p.parts["CT"]["reversed"] = True


@_fault("ghost-flow", "ghost-flow", "the tank's motorised valve replaced by a pump and a check valve, which the "
        "system pump pushes open", _pushed_tank, "tank", "ghost", "system pump", "zone pump")
def _(p: Spoiler) -> None:
    run = p.home("VT")
    place = run["through"].index("VT")
    p.put_in(run, place, "check valve", "CT")
    p.put_in(run, place, "pump", "PT", shutoff_m=5.0, rated_lps=1.0, rated_m=3.0)
    p.take_out("VT")


@_fault("tank-valve-missing", "ghost-flow", "the tank's motorised valve left out", _pushed_tank, "tank", "ghost",
        "system pump", "zone pump")
def _(p: Spoiler) -> None:
    p.take_out("VT")


@_fault("tank-check-missing", "ghost-flow", "the tank's check valve left out", lambda s: _tank(s) and s.tank_by == "pump",
        "tank", "ghost")
def _(p: Spoiler) -> None:
    p.take_out("CT")


@_fault("boiler-check-missing", "ghost-flow", "one boiler's check valve left out",
        lambda s: _separated(s) and _pumped(s) and _several(s), "boiler pump", "ghost boiler")
def _(p: Spoiler) -> None:
    p.take_out(f"CB{p.boiler()}")


# -- boilers -------------------------------------------------------------------------------------------

@_fault("boiler-isolation", "boiler-isolation", "one boiler's motorised valve left out",
        lambda s: _single(s) and _several(s) and _valved(s), "boiler valve", "bypass")
def _(p: Spoiler) -> None:
    p.take_out(f"MV{p.boiler()}")


@_fault("boiler-isolation-check", "boiler-isolation", "one boiler's check valve left out",
        lambda s: _single(s) and _several(s) and _pumped(s), "boiler pump")
def _(p: Spoiler) -> None:
    p.take_out(f"CB{p.boiler()}")


@_fault("boiler-isolation-local", "boiler-isolation-local", "the sole boiler's motorised valve left out",
        lambda s: _single(s) and not _several(s) and _valved(s), "boiler valve", "bypass")
def _(p: Spoiler) -> None:
    p.take_out("MV1")


@_fault("valve-fail-position", "valve-fail-position", "one boiler's valve closes without power", _valved, "boiler valve")
def _(p: Spoiler) -> None:
    p.parts[f"MV{p.boiler()}"]["power_off"] = "closed"


@_fault("valves-fail-closed", "valve-fail-position", "every boiler's valve closes without power",
        lambda s: _valved(s) and _several(s), "boiler valve")
def _(p: Spoiler) -> None:
    for i in range(1, p.scheme.boilers + 1):
        p.parts[f"MV{i}"]["power_off"] = "closed"


def _shut_with_bypass(s: Scheme) -> bool:
    return _single(s) and _valved(s) and s.bypass != "none"


@_fault("pump-bypass", "pump-bypass", "the bypass across the boilers left out", _shut_with_bypass, "bypass",
        "boiler valve", "system pump", "zone pump")
def _(p: Spoiler) -> None:
    tag = "BV" if "BV" in p else "BAL"
    p.runs.remove(p.home(tag))
    del p.parts[tag]


@_fault("bypass-misplaced", "pump-bypass", "the bypass put across the loads instead of across the boilers",
        lambda s: _shut_with_bypass(s) and s.bypass == "valve" and s.system_pump == "supply", "bypass",
        "boiler valve", "system pump", "zone bypass")
def _(p: Spoiler) -> None:
    p.home("BV")["through"][:] = [p.tee_after("PS"), "BV", "Y2"]


@_fault("bypass-reversed", "pump-bypass", "the bypass valve set from the supply to the return",
        lambda s: _shut_with_bypass(s) and s.bypass == "valve", "bypass", "boiler valve", "system pump", "zone pump")
def _(p: Spoiler) -> None:
    p.home("BV")["through"].reverse()


@_fault("reverse-return", "reverse-return", "the boilers piped on direct return",
        lambda s: _several(s) and s.return_order == "reverse" and s.separation != "tees per boiler", "return",
        recast={"return_order": "direct"}, expects={"return": "direct"})
def _(p: Spoiler) -> None:
    """The plant is made on direct return from the start."""


@_fault("lead-boiler", "lead-boiler", "no boiler marked as the lead", _several, "lead", expects={"lead": None})
def _(p: Spoiler) -> None:
    del p.parts[f"B{p.scheme.lead}"]["lead"]


@_fault("two-leads", "lead-boiler", "two boilers marked as the lead", _several, "lead", expects={"lead": None})
def _(p: Spoiler) -> None:
    p.parts[f"B{p.scheme.lead % p.scheme.boilers + 1}"]["lead"] = True


@_fault("relief-missing", "relief-missing", "a boiler without a relief valve", lambda s: True, "relief")
def _(p: Spoiler) -> None:
    p.take_out(f"RV{p.boiler()}")


@_fault("relief-shared", "relief-missing", "one relief valve on the header in place of each boiler's own",
        lambda s: _several(s) and s.separation != "tees per boiler", "relief")
def _(p: Spoiler) -> None:
    body = dict(p.parts["RV1"])
    for i in range(1, p.scheme.boilers + 1):
        p.take_out(f"RV{i}")
    p.parts["RV"] = body
    p.runs.append({"through": [f"S{p.scheme.boilers}", "RV"], "size": "NPS 1-1/2", "length_m": 0.3})


@_fault("relief-isolated", "relief-isolated", "a hand valve under a relief valve", lambda s: True, "relief")
def _(p: Spoiler) -> None:
    p.put_in(p.arriving(f"RV{p.boiler()}"), 1, "isolation valve", "HVR")


@_fault("relief-beyond-valve", "relief-isolated", "a stop valve between a boiler and its relief valve",
        lambda s: True, "relief")
def _(p: Spoiler) -> None:
    p.put_in(p.arriving(f"TR{p.boiler()}"), 1, "isolation valve", "HVR")


# -- expansion, sensors --------------------------------------------------------------------------------

def _expansion_can_move(s: Scheme) -> bool:
    return _has_system_pump(s) or (s.zones_by == "pump" and bool(_plain_zones(s)))


@_fault("expansion-point", "expansion-point", "the expansion tank joined at a pump's outlet", _expansion_can_move,
        "expansion", "system pump", "zone pump")
def _(p: Spoiler) -> None:
    pump = next(iter(_system_pumps(p)), "") or f"PZ{_plain_zones(p.scheme)[0]}"
    if "CZ" + pump[2:] in p and pump.startswith("PZ"):
        pump = "CZ" + pump[2:]
    p.expansion_run()["through"][0] = p.tee_after(pump)


@_fault("expansion-at-boiler", "expansion-point", "the expansion tank joined between a boiler and its pump",
        lambda s: _separated(s) and _pumped(s) and s.boiler_pump_on == "outlet" and _expansion_can_move(s),
        "expansion", "boiler pump")
def _(p: Spoiler) -> None:
    p.expansion_run()["through"][0] = f"TR{p.boiler()}"


@_fault("expansion-missing", "expansion-missing", "no expansion tank", lambda s: True, "expansion")
def _(p: Spoiler) -> None:
    p.take_out("XT")


@_fault("expansion-behind-check", "expansion-missing", "a check valve before the expansion tank", lambda s: True,
        "expansion")
def _(p: Spoiler) -> None:
    p.put_in(p.expansion_run(), 1, "check valve", "CX")


@_fault("expansion-isolated", "expansion-isolated", "a hand valve before the expansion tank, not locked open",
        lambda s: True, "expansion")
def _(p: Spoiler) -> None:
    if "HVX" in p:
        p.parts["HVX"].pop("locked_open")
    else:
        p.put_in(p.expansion_run(), 1, "isolation valve", "HVX")


def _supply_sensors(p: Spoiler) -> list[str]:
    return [tag for tag, body in p.parts.items() if body.get("role") == "system supply"]


@_fault("supply-sensor", "supply-sensor", "no system supply sensor", _separated, "sensor")
def _(p: Spoiler) -> None:
    for tag in _supply_sensors(p):
        p.take_out(tag)


@_fault("sensor-at-boiler", "supply-sensor", "the supply sensor fixed to a boiler", _separated, "sensor")
def _(p: Spoiler) -> None:
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = f"B{p.boiler()}"


@_fault("sensor-before-separation", "supply-sensor", "the supply sensor before the point where the waters meet",
        lambda s: _separated(s), "sensor")
def _(p: Spoiler) -> None:
    place = f"S{p.scheme.boilers}" if f"S{p.scheme.boilers}" in p else f"TR{p.boiler()}"
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = place


# -- tank, zones, notes --------------------------------------------------------------------------------

@_fault("mixing-valve", "mixing-valve", "no mixing valve on the tank's outlet", _tank, "taps")
def _(p: Spoiler) -> None:
    p.parts["IT" if "IT" in p else "DX"]["outlet_mixing_valve"] = False


@_fault("tank-sensor", "tank-sensor", "no sensor in the tank", _tank, "tank sensor")
def _(p: Spoiler) -> None:
    p.take_out("TT")


@_fault("low-temperature-zone", "low-temperature-zone", "a heated floor without a mixing valve",
        lambda s: any(i not in s.exchangers for i in _plain_zones(s)), "zone")
def _(p: Spoiler) -> None:
    zones = [i for i in _plain_zones(p.scheme) if i not in p.scheme.exchangers]
    p.parts[f"E{p.chance.choice(zones)}"].update(max_supply_c=45.0, supply_c=40.0, return_c=32.0)


@_fault("mixing-valve-left-out", "low-temperature-zone", "the mixing valve of a heated floor left out",
        lambda s: bool(s.low_temperature), "low-temperature zone", "zone pump", "expansion")
def _(p: Spoiler) -> None:
    i = p.chance.choice(p.scheme.low_temperature)
    p.runs.remove(p.run_of(f"K{i}", f"MX{i}.cold"))
    tee = p.new_tag("Q")
    p.parts[tee] = {"kind": "tee"}
    for run in p.runs:
        run["through"] = [tee if end.startswith(f"MX{i}.") else end for end in run["through"]]
    del p.parts[f"MX{i}"]


@_fault("zones-shut", "zones-shut", "the bypass across the loads left out",
        lambda s: s.load_bypass and _has_system_pump(s), "zone bypass", "system pump")
def _(p: Spoiler) -> None:
    p.runs.remove(p.home("BVL"))
    del p.parts["BVL"]


@_fault("proof-of-flow", "proof-of-flow", "no flow switch", lambda s: s.has("flow switch"), "flow switch")
def _(p: Spoiler) -> None:
    for tag in p.tags("flow switch"):
        p.take_out(tag)


@_fault("low-water", "low-water", "no low-water cut-off", lambda s: s.has("low-water cut-off"), "low water")
def _(p: Spoiler) -> None:
    for tag in p.tags("low-water cut-off"):
        p.take_out(tag)


# -- schemes with faults -------------------------------------------------------------------------------

def check_faults(scheme: Scheme) -> None:
    """Raises ValueError where a fault is not known, does not fit the scheme, or meets another's work."""
    taken: dict[str, str] = {}
    sound = scheme.sound()
    for name in scheme.faults:
        fault = FAULTS.get(name)
        if fault is None:
            raise ValueError(f"faults: '{name}' is not known; use one of {', '.join(FAULTS)}")
        if not fault.applies(sound):
            raise ValueError(f"the fault '{name}' ({fault.says}) cannot be made on this scheme")
        for thing in sorted(fault.touches):
            if thing in taken:
                raise ValueError(f"the faults '{taken[thing]}' and '{name}' both change the same thing ({thing})")
            taken[thing] = name


def spoiled(scheme: Scheme) -> dict[str, Any]:
    """The data of a scheme's plant with its faults made, in the order of the table."""
    from .build import built
    faults = [fault for name, fault in FAULTS.items() if name in scheme.faults]
    changes = {key: value for fault in faults for key, value in fault.recast.items()}
    cast = replace(scheme, faults=(), **changes)  # type: ignore[arg-type]
    data = built(cast).data
    for fault in faults:
        fault.spoil(Spoiler(cast, data, fault.name))
    return data


def expected_with_faults(scheme: Scheme, wanted: Mapping[str, object]) -> dict[str, object]:
    """`wanted`, changed by what the scheme's faults make of it."""
    changed = dict(wanted)
    for name in scheme.faults:
        changed.update(FAULTS[name].expects)
    return changed


def applicable(scheme: Scheme) -> tuple[Fault, ...]:
    """The faults that a sound scheme can carry, in the order of the table."""
    return tuple(fault for fault in FAULTS.values() if fault.applies(scheme))


def pick_faults(scheme: Scheme, seed: int, n: int) -> tuple[str, ...]:
    """Up to `n` faults of different rules that can go together, the same for the same seed."""
    chance = random.Random(f"loopbook faults {int(seed)}")
    found = list(applicable(scheme))
    chance.shuffle(found)
    chosen: list[Fault] = []
    for fault in found:
        free = not any(fault.rule == other.rule or fault.touches & other.touches for other in chosen)
        if free and len(chosen) < n:
            chosen.append(fault)
    return tuple(fault.name for fault in chosen)
