"""Faults where loops meet, and of pumps and check valves. The table is `figures.plant.faults.FAULTS`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .fault import (
    branch_beside_zones,
    fault,
    has_system_pump,
    has_tank,
    plain_zones,
    pumped,
    pushed_tank,
    separated,
    several,
    system_pumps,
    tees,
    two_mains,
    vessel,
)
from .spoiler import Spoiler

if TYPE_CHECKING:
    pass


def _common(p: Spoiler) -> dict[str, Any]:
    """The common pipe of one pair of tees that touches a boiler loop."""
    s = p.scheme
    if s.separation == "closely spaced tees":
        return p.run_of("A", "Z")
    last = s.boilers if s.separation == "tees per boiler" else s.emitters
    i = p.chance.randint(1, last)
    return p.run_of(f"A{i}", f"Z{i}")


# -- where the loops meet ------------------------------------------------------------------------------


@fault(
    "tee-spacing",
    "tee-spacing",
    "two tees moved far apart",
    tees,
    "common pipe",
    "boiler pump",
    "system pump",
    "zone pump",
    "boiler valve",
)
def _(p: Spoiler) -> None:
    run = _common(p)
    run["length_m"] = round(run["length_m"] / p.scheme.spacing_diameters * p.chance.uniform(7.0, 14.0), 4)


@fault("common-pipe-blocked", "common-pipe-blocked", "a check valve in the common pipe", tees, "common pipe")
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "check valve", "CX")


@fault("common-pipe-valve", "common-pipe-blocked", "a hand valve in the common pipe", tees, "common pipe")
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "isolation valve", "HX9")


@fault(
    "common-pipe-pump",
    "common-pipe-blocked",
    "a pump in the common pipe",
    tees,
    "common pipe",
    "boiler pump",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    p.put_in(_common(p), 1, "pump", "PX", shutoff_m=2.0, rated_lps=1.0, rated_m=1.0)


@fault(
    "ports-crossed",
    "ports-crossed",
    "supply and return swapped at the system's side of the vessel",
    vessel,
    "ports",
    "sensor",
    "expansion",
    "system pump",
)
def _(p: Spoiler) -> None:
    vessel = "HS" if "HS" in p else "BT"
    side = "a" if p.scheme.vessel_turned else "b"
    swap = {
        f"{vessel}.{side}_supply": f"{vessel}.{side}_return",
        f"{vessel}.{side}_return": f"{vessel}.{side}_supply",
    }
    for run in p.runs:
        run["through"] = [swap.get(end, end) for end in run["through"]]


@fault(
    "tees-crossed",
    "ports-crossed",
    "supply and return swapped at two closely spaced tees",
    lambda s: s.separation in ("closely spaced tees", "tees per boiler"),
    "ports",
    "sensor",
    "expansion",
    "system pump",
    "common pipe",
    "boiler pump",
)
def _(p: Spoiler) -> None:
    if p.scheme.separation == "closely spaced tees":
        out = next(run for run in p.runs if run["through"][0] == "A" and run["through"][-1] != "Z")
        back = next(run for run in p.runs if run["through"][-1] == "Z" and run["through"][0] != "A")
    else:
        i = p.boiler()
        back, out = p.run_of(f"TR{i}", f"Z{i}"), p.run_of(f"A{i}", f"B{i}")
    out["through"][0], back["through"][-1] = back["through"][-1], out["through"][0]


@fault(
    "load-straddles",
    "load-straddles",
    "the coil's return carried over to the system loop",
    lambda s: two_mains(s) and s.tank == "boiler loop" and s.tank_joins == "branch" and s.tank_by == "pump",
    "tank",
    "tank sensor",
    "ports",
    expects={"dhw": "undetermined", "control": "undetermined", "dhw_priority": "undetermined"},
)
def _(p: Spoiler) -> None:
    back = _system_return(p)
    p.move_end(p.home("PT"), back)


@fault(
    "coil-straddles",
    "load-straddles",
    "the coil fed from the system loop, its return carried to the boilers",
    lambda s: two_mains(s) and branch_beside_zones(s),
    "tank",
    "tank sensor",
    "ports",
    expects={"dhw": "undetermined", "control": "undetermined", "dhw_priority": "undetermined"},
)
def _(p: Spoiler) -> None:
    p.move_end(p.home("IT" if "IT" in p else "DX"), _boiler_return(p))


@fault(
    "emitter-straddles",
    "load-straddles",
    "one emitter fed from the boilers' main",
    lambda s: two_mains(s) and s.emitters > 1 and 1 not in s.low_temperature,
    "zone",
    "zone pump",
    "zone valve",
    "low-temperature zone",
    "system pump",
    "ghost",
)
def _(p: Spoiler) -> None:
    run = p.home("E1" if "E1" in p else "HX1")
    run["through"][0] = _boiler_supply(p)


def _system_return(p: Spoiler) -> str:
    """A new tee in the last stretch of the system's return."""
    end = "Z" if p.scheme.separation == "closely spaced tees" else _port(p, "return", boilers=False)
    run = next(r for r in p.runs if r["through"][-1] == end and r["through"][0] not in ("A",))
    return p.tee_in(run, len(run["through"]) - 1)


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


@fault(
    "loop-pump",
    "loop-pump",
    "a boiler's pump left out",
    lambda s: separated(s) and pumped(s),
    "boiler pump",
    "ghost boiler",
)
def _(p: Spoiler) -> None:
    p.take_out(f"PB{p.boiler()}")


@fault(
    "loop-pump-system",
    "loop-pump",
    "the system pump left out",
    lambda s: separated(s) and has_system_pump(s) and bool(plain_zones(s)),
    "system pump",
    "zone pump",
    "expansion",
    "ghost",
    "zone bypass",
)
def _(p: Spoiler) -> None:
    p.take_out(p.chance.choice(system_pumps(p)))


@fault(
    "loop-pump-zone",
    "loop-pump",
    "a zone's pump left out",
    lambda s: separated(s) and s.zones_by == "pump" and bool(plain_zones(s)),
    "zone pump",
    "expansion",
)
def _(p: Spoiler) -> None:
    p.take_out(f"PZ{p.chance.choice(plain_zones(p.scheme))}")


@fault(
    "loop-pump-tank",
    "loop-pump",
    "the pump of a tank on tees of its own left out",
    lambda s: s.tank_joins == "own tees",
    "tank",
)
def _(p: Spoiler) -> None:
    p.take_out("PT")


@fault(
    "part-reversed",
    "part-reversed",
    "a pump of the building set against the flow",
    lambda s: has_system_pump(s) or (s.zones_by == "pump" and bool(plain_zones(s))),
    "system pump",
    "zone pump",
    "expansion",
)
def _(p: Spoiler) -> None:
    pumps = system_pumps(p) or [f"PZ{i}" for i in plain_zones(p.scheme)]
    p.parts[p.chance.choice(pumps)]["reversed"] = True


@fault(
    "boiler-pump-reversed",
    "part-reversed",
    "a boiler's pump set against the flow",
    pumped,
    "boiler pump",
    "ghost boiler",
    "expansion",
)
def _(p: Spoiler) -> None:
    p.parts[f"PB{p.boiler()}"]["reversed"] = True


@fault(
    "check-reversed",
    "part-reversed",
    "a boiler's check valve set against the flow",
    lambda s: pumped(s) and several(s),
    "boiler pump",
    "ghost boiler",
)
def _(p: Spoiler) -> None:
    p.parts[f"CB{p.boiler()}"]["reversed"] = True


@fault(
    "tank-check-reversed",
    "part-reversed",
    "the tank's check valve set against the flow",
    lambda s: has_tank(s) and s.tank_by == "pump",
    "tank",
)
def _(p: Spoiler) -> None:
    p.parts["CT"]["reversed"] = True


@fault(
    "ghost-flow",
    "ghost-flow",
    "the tank's motorised valve replaced by a pump and a check valve, which the system pump pushes open",
    pushed_tank,
    "tank",
    "ghost",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    run = p.home("VT")
    place = run["through"].index("VT")
    p.put_in(run, place, "check valve", "CT")
    p.put_in(run, place, "pump", "PT", shutoff_m=5.0, rated_lps=1.0, rated_m=3.0)
    p.take_out("VT")


@fault(
    "tank-valve-missing",
    "ghost-flow",
    "the tank's motorised valve left out",
    pushed_tank,
    "tank",
    "ghost",
    "system pump",
    "zone pump",
)
def _(p: Spoiler) -> None:
    p.take_out("VT")


@fault(
    "tank-check-missing",
    "ghost-flow",
    "the tank's check valve left out",
    lambda s: has_tank(s) and s.tank_by == "pump",
    "tank",
    "ghost",
)
def _(p: Spoiler) -> None:
    p.take_out("CT")


@fault(
    "boiler-check-missing",
    "ghost-flow",
    "one boiler's check valve left out",
    lambda s: separated(s) and pumped(s) and several(s),
    "boiler pump",
    "ghost boiler",
)
def _(p: Spoiler) -> None:
    p.take_out(f"CB{p.boiler()}")
