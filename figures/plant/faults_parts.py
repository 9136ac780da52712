"""Faults of boilers, safety, sensors, tank and zones. The table is `figures.plant.faults.FAULTS`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .fault import (
    fault,
    has_system_pump,
    has_tank,
    plain_zones,
    pumped,
    separated,
    several,
    single,
    system_pumps,
    valved,
)
from .spoiler import Spoiler

if TYPE_CHECKING:
    from .scheme import Scheme


# -- boilers -------------------------------------------------------------------------------------------


@fault(
    "boiler-isolation",
    "boiler-isolation",
    "one boiler's motorised valve left out",
    lambda s: single(s) and several(s) and valved(s),
    "boiler valve",
    "bypass",
)
def _(p: Spoiler) -> None:
    p.take_out(f"MV{p.boiler()}")


@fault(
    "boiler-isolation-check",
    "boiler-isolation",
    "one boiler's check valve left out",
    lambda s: single(s) and several(s) and pumped(s),
    "boiler pump",
)
def _(p: Spoiler) -> None:
    p.take_out(f"CB{p.boiler()}")


@fault(
    "boiler-isolation-local",
    "boiler-isolation-local",
    "the sole boiler's motorised valve left out",
    lambda s: single(s) and not several(s) and valved(s),
    "boiler valve",
    "bypass",
)
def _(p: Spoiler) -> None:
    p.take_out("MV1")


@fault(
    "valve-fail-position",
    "valve-fail-position",
    "one boiler's valve closes without power",
    valved,
    "boiler valve",
)
def _(p: Spoiler) -> None:
    p.parts[f"MV{p.boiler()}"]["power_off"] = "closed"


@fault(
    "valves-fail-closed",
    "valve-fail-position",
    "every boiler's valve closes without power",
    lambda s: valved(s) and several(s),
    "boiler valve",
)
def _(p: Spoiler) -> None:
    for i in range(1, p.scheme.boilers + 1):
        p.parts[f"MV{i}"]["power_off"] = "closed"


def _shut_with_bypass(s: Scheme) -> bool:
    # The pump of a heated floor alone never stands against closed pipe: its mixing valve leads round.
    return single(s) and valved(s) and s.bypass != "none" and (has_system_pump(s) or bool(plain_zones(s)))


@fault(
    "pump-bypass",
    "pump-bypass",
    "the bypass across the boilers left out",
    _shut_with_bypass,
    "bypass",
    "boiler valve",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    tag = "BV" if "BV" in p else "BAL"
    p.runs.remove(p.home(tag))
    del p.parts[tag]


@fault(
    "bypass-misplaced",
    "pump-bypass",
    "the bypass put across the loads instead of across the boilers",
    lambda s: _shut_with_bypass(s) and s.bypass == "valve" and s.system_pump == "supply",
    "bypass",
    "boiler valve",
    "system pump",
    "zone bypass",
)
def _(p: Spoiler) -> None:
    p.home("BV")["through"][:] = [p.tee_after("PS"), "BV", "Y2"]


@fault(
    "bypass-reversed",
    "pump-bypass",
    "the bypass valve set from the supply to the return",
    lambda s: _shut_with_bypass(s) and s.bypass == "valve",
    "bypass",
    "boiler valve",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    p.home("BV")["through"].reverse()


@fault(
    "reverse-return",
    "reverse-return",
    "the boilers piped on direct return",
    lambda s: several(s) and s.return_order == "reverse" and s.separation != "tees per boiler",
    "return",
    recast={"return_order": "direct"},
    expects={"return": "direct"},
)
def _(p: Spoiler) -> None:
    """The plant is made on direct return from the start."""


@fault("lead-boiler", "lead-boiler", "no boiler marked as the lead", several, "lead", expects={"lead": None})
def _(p: Spoiler) -> None:
    del p.parts[f"B{p.scheme.lead}"]["lead"]


@fault("two-leads", "lead-boiler", "two boilers marked as the lead", several, "lead", expects={"lead": None})
def _(p: Spoiler) -> None:
    p.parts[f"B{p.scheme.lead % p.scheme.boilers + 1}"]["lead"] = True


@fault("relief-missing", "relief-missing", "a boiler without a relief valve", lambda s: True, "relief")
def _(p: Spoiler) -> None:
    p.take_out(f"RV{p.boiler()}")


@fault(
    "relief-shared",
    "relief-missing",
    "one relief valve on the header in place of each boiler's own",
    lambda s: several(s) and s.separation != "tees per boiler",
    "relief",
)
def _(p: Spoiler) -> None:
    body = dict(p.parts["RV1"])
    for i in range(1, p.scheme.boilers + 1):
        p.take_out(f"RV{i}")
    p.parts["RV"] = body
    p.runs.append({"through": [f"S{p.scheme.boilers}", "RV"], "size": "NPS 1-1/2", "length_m": 0.3})


@fault("relief-isolated", "relief-isolated", "a hand valve under a relief valve", lambda s: True, "relief")
def _(p: Spoiler) -> None:
    p.put_in(p.arriving(f"RV{p.boiler()}"), 1, "isolation valve", "HVR")


@fault(
    "relief-beyond-valve",
    "relief-isolated",
    "a stop valve between a boiler and its relief valve",
    lambda s: True,
    "relief",
)
def _(p: Spoiler) -> None:
    p.put_in(p.arriving(f"TR{p.boiler()}"), 1, "isolation valve", "HVR")


# -- expansion, sensors --------------------------------------------------------------------------------


def _expansion_can_move(s: Scheme) -> bool:
    return has_system_pump(s) or (s.zones_by == "pump" and bool(plain_zones(s)))


@fault(
    "expansion-point",
    "expansion-point",
    "the expansion tank joined at a pump's outlet",
    _expansion_can_move,
    "expansion",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    pump = next(iter(system_pumps(p)), "") or f"PZ{plain_zones(p.scheme)[0]}"
    if "CZ" + pump[2:] in p and pump.startswith("PZ"):
        pump = "CZ" + pump[2:]
    p.expansion_run()["through"][0] = p.tee_after(pump)


@fault(
    "expansion-at-boiler",
    "expansion-point",
    "the expansion tank joined between a boiler and its pump",
    lambda s: separated(s) and pumped(s) and s.boiler_pump_on == "outlet" and _expansion_can_move(s),
    "expansion",
    "boiler pump",
)
def _(p: Spoiler) -> None:
    p.expansion_run()["through"][0] = f"TR{p.boiler()}"


@fault("expansion-missing", "expansion-missing", "no expansion tank", lambda s: True, "expansion")
def _(p: Spoiler) -> None:
    p.take_out("XT")


@fault(
    "expansion-behind-check",
    "expansion-missing",
    "a check valve before the expansion tank",
    lambda s: True,
    "expansion",
)
def _(p: Spoiler) -> None:
    p.put_in(p.expansion_run(), 1, "check valve", "CX")


@fault(
    "expansion-behind-valve",
    "expansion-missing",
    "a motorised valve before the expansion tank",
    lambda s: True,
    "expansion",
)
def _(p: Spoiler) -> None:
    p.put_in(p.expansion_run(), 1, "motorised valve", "MVX", power_off="closed")


@fault(
    "expansion-isolated",
    "expansion-isolated",
    "a hand valve before the expansion tank, not locked open",
    lambda s: True,
    "expansion",
)
def _(p: Spoiler) -> None:
    if "HVX" in p:
        p.parts["HVX"].pop("locked_open")
    else:
        p.put_in(p.expansion_run(), 1, "isolation valve", "HVX")


def _supply_sensors(p: Spoiler) -> list[str]:
    return [tag for tag, body in p.parts.items() if body.get("role") == "system supply"]


@fault("supply-sensor", "supply-sensor", "no system supply sensor", separated, "sensor")
def _(p: Spoiler) -> None:
    for tag in _supply_sensors(p):
        p.take_out(tag)


@fault("sensor-at-boiler", "supply-sensor", "the supply sensor fixed to a boiler", separated, "sensor")
def _(p: Spoiler) -> None:
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = f"B{p.boiler()}"


@fault(
    "sensor-before-separation",
    "supply-sensor",
    "the supply sensor before the point where the waters meet",
    lambda s: separated(s),
    "sensor",
)
def _(p: Spoiler) -> None:
    place = f"S{p.scheme.boilers}" if f"S{p.scheme.boilers}" in p else f"TR{p.boiler()}"
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = place


@fault(
    "sensor-beyond-load",
    "supply-sensor",
    "the supply sensor in the return, beyond the loads",
    lambda s: separated(s) and s.separation != "tees per load" and s.emitters > 1,
    "sensor",
    "zone",
)
def _(p: Spoiler) -> None:
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = "N1"


@fault(
    "sensor-in-vessel",
    "supply-sensor",
    "the supply sensor in the vessel's port on the boilers' side",
    lambda s: s.separation in ("hydraulic separator", "buffer tank"),
    "sensor",
    "ports",
)
def _(p: Spoiler) -> None:
    side = "b" if p.scheme.vessel_turned else "a"
    for tag in _supply_sensors(p):
        p.parts[tag]["at"] = f"{'HS' if 'HS' in p else 'BT'}.{side}_supply"


# -- tank, zones, notes --------------------------------------------------------------------------------


@fault("mixing-valve", "mixing-valve", "no mixing valve on the tank's outlet", has_tank, "taps")
def _(p: Spoiler) -> None:
    p.parts["IT" if "IT" in p else "DX"]["outlet_mixing_valve"] = False


@fault("tank-sensor", "tank-sensor", "no sensor in the tank", has_tank, "tank sensor")
def _(p: Spoiler) -> None:
    p.take_out("TT")


@fault(
    "low-temperature-zone",
    "low-temperature-zone",
    "a heated floor without a mixing valve",
    lambda s: any(i not in s.exchangers for i in plain_zones(s)),
    "zone",
)
def _(p: Spoiler) -> None:
    zones = [i for i in plain_zones(p.scheme) if i not in p.scheme.exchangers]
    p.parts[f"E{p.chance.choice(zones)}"].update(max_supply_c=45.0, supply_c=40.0, return_c=32.0)


@fault(
    "mixing-valve-left-out",
    "low-temperature-zone",
    "the mixing valve of a heated floor left out",
    lambda s: bool(s.low_temperature),
    "low-temperature zone",
    "zone pump",
    "expansion",
)
def _(p: Spoiler) -> None:
    i = p.chance.choice(p.scheme.low_temperature)
    p.runs.remove(p.run_of(f"K{i}", f"MX{i}.cold"))
    tee = p.new_tag("Q")
    p.parts[tee] = {"kind": "tee"}
    for run in p.runs:
        run["through"] = [tee if end.startswith(f"MX{i}.") else end for end in run["through"]]
    del p.parts[f"MX{i}"]


def _zones_shut_by_valves(s: Scheme) -> bool:
    """A pump that a bypass across the loads keeps a way round for."""
    return s.load_bypass and has_system_pump(s)


@fault(
    "zones-shut",
    "zones-shut",
    "the bypass across the loads left out",
    _zones_shut_by_valves,
    "zone bypass",
    "system pump",
)
def _(p: Spoiler) -> None:
    p.runs.remove(p.home("BVL"))
    del p.parts["BVL"]


@fault("proof-of-flow", "proof-of-flow", "no flow switch", lambda s: s.has("flow switch"), "flow switch")
def _(p: Spoiler) -> None:
    for tag in p.tags("flow switch"):
        p.take_out(tag)


@fault("low-water", "low-water", "no low-water cut-off", lambda s: s.has("low-water cut-off"), "low water")
def _(p: Spoiler) -> None:
    for tag in p.tags("low-water cut-off"):
        p.take_out(tag)
