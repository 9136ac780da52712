"""Outputs and inputs of the control on one plant, and how every valve stands: each from the piping, or 'not used'."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from figures.physics.jobs import Jobs
from figures.plant.kinds import SENSOR_ROLES
from figures.plant.model import Part, Plant
from figures.plant.units import Units
from figures.reading.evidence import listed
from figures.reading.record import Reading
from figures.reading.settings import Settings

from .record import Use, ValveRow, Wire
from .units import figure

OUTPUTS = ("boiler pump", "system pump", "tank pump or valve", "boiler isolation valve", "zone pumps and valves")
INPUTS = ("proof of flow or end switch", "tank sensor or aquastat", "outdoor sensor", "system-supply sensor",
          "system-return sensor", "boiler-outlet sensor", "boiler-inlet sensor")
_ROLES = {"outdoor": "outdoor sensor", "system supply": "system-supply sensor", "system return": "system-return sensor",
          "boiler outlet": "boiler-outlet sensor", "boiler inlet": "boiler-inlet sensor"}


def wires(reading: Reading, jobs: Jobs, of: Settings) -> tuple[Wire, ...]:
    """One row for every name of `OUTPUTS` and of `INPUTS`, and one for pumps whose job the piping does not tell."""
    plant = reading.plant
    made = [_boiler_pump(reading, jobs), _system_pump(reading, jobs), _tank(reading, jobs), _boiler_valve(reading, jobs),
            _zones(jobs)]
    lost = tuple(p.tag for p in plant.of_kind("pump", "motorised valve") if p.tag not in jobs.job)
    if lost:
        made.append(Wire("not placed", "output", "ask", lost,
                         f"No way from a boiler to a load and back leads through {listed(lost)}: ask what it is for."))
    made += [_proof(reading, jobs), _tank_sensor(reading, of), *(_sensor(reading, of, role) for role in _ROLES)]
    return tuple(replace(row, says=f"{row.says} {seen}") if (seen := _see(reading, row.parts)) else row for row in made)


def _see(reading: Reading, tags: Iterable[str]) -> str:
    """Which findings of weight name one of these parts, by the numbers of the drawing; '' where none does."""
    wanted = set(tags)
    found = [str(n) for n, f in enumerate(reading.findings, 1)
             if f.severity in ("must fix", "should fix") and wanted & set(f.parts)]
    return f"See finding{'s' if len(found) > 1 else ''} {listed(found)}." if found else ""


def _of(plant: Plant, tags: Iterable[str], *kinds: str) -> tuple[str, ...]:
    return tuple(tag for tag in tags if plant.parts[tag].kind in kinds)


def _boiler_pump(reading: Reading, jobs: Jobs) -> Wire:
    pumps = _of(jobs.plant, jobs.with_job("boiler"), "pump")
    if not pumps:
        return Wire(OUTPUTS[0], "output", "not used", (), "No pump serves a boiler alone"
                    + (": the system pump moves the boilers' water." if reading.arrangement == "single loop" else "."))
    each = "; ".join(f"{boiler}: {', '.join(own)}" for boiler in reading.boilers
                     if (own := _of(jobs.plant, jobs.boiler_parts.get(boiler, ()), "pump")))
    return Wire(OUTPUTS[0], "output", "used", pumps, each or f"{listed(pumps)} for the boilers together.")


def _system_pump(reading: Reading, jobs: Jobs) -> Wire:
    pumps = _of(jobs.plant, jobs.with_job("system"), "pump")
    if pumps:
        stops = " It stops on a DHW call." if reading.control == "DHW on the boiler loop" else ""
        return Wire(OUTPUTS[1], "output", "used", pumps, f"Moves the water of the whole system.{stops}")
    zones = _of(jobs.plant, jobs.with_job("zone"), "pump")
    if zones:
        return Wire(OUTPUTS[1], "output", "not used", (), f"The zones have pumps of their own: {listed(zones)}.")
    boilers = _of(jobs.plant, jobs.with_job("boiler"), "pump")
    return Wire(OUTPUTS[1], "output", "not used", (), f"{listed(boilers)} move the water of the whole loop." if boilers
                else "No pump moves the water of the whole system.")


def _tank(reading: Reading, jobs: Jobs) -> Wire:
    name, plant = OUTPUTS[2], jobs.plant
    parts = list(jobs.with_job("tank"))
    turns = {valve: port for reached in jobs.ways.values() for load, way in reached.items() if plant.is_dhw(load)
             for valve, port in way.ports.items() if _ports(jobs, valve, dhw=False) - {port}}
    parts += [valve for valve in turns if valve not in parts]
    says = "; ".join([*(f"{tag} ({plant.parts[tag].kind}) for {listed(sorted(jobs.serves.get(tag, ())))}"
                        for tag in parts if tag not in turns),
                      *(f"{valve} (diverting valve) turns to port {port} on a DHW call" for valve, port in turns.items())])
    if not reading.tanks:
        return Wire(name, "output", "not used", (), "There is no tank.")
    if reading.dhw == "undetermined":
        return Wire(name, "output", "ask", tuple(parts),
                    f"{says + '. ' if says else ''}Not to be connected before the DHW place is settled.")
    if not parts:
        both = jobs.with_job("shared")
        by = f"; {listed(both)} serves heating too" if both else ""
        return Wire(name, "output", "ask", tuple(both), f"Nothing sends water through the coil of {listed(reading.tanks)} "
                    f"alone{by}: ask what the DHW call is to work.")
    return Wire(name, "output", "used", tuple(parts), says + ".")


def _ports(jobs: Jobs, valve: str, dhw: bool) -> set[str]:
    return {way.ports[valve] for reached in jobs.ways.values() for load, way in reached.items()
            if jobs.plant.is_dhw(load) == dhw and valve in way.ports}


def _boiler_valve(reading: Reading, jobs: Jobs) -> Wire:
    plant = jobs.plant
    valves = _of(plant, jobs.with_job("boiler"), "motorised valve")
    if not valves:
        return Wire(OUTPUTS[3], "output", "not used", (), "No motorised valve closes a boiler.")
    each = "; ".join(f"{boiler}: {', '.join(own)}" for boiler in reading.boilers
                     if (own := _of(plant, jobs.boiler_parts.get(boiler, ()), "motorised valve")))
    return Wire(OUTPUTS[3], "output", "used", valves, f"Opens before its boiler fires. {each or listed(valves)}.")


def _zones(jobs: Jobs) -> Wire:
    parts = tuple(jobs.with_job("zone", "shared"))
    if not parts:
        return Wire(OUTPUTS[4], "output", "not used", (), "No zone has a pump or valve of its own.")
    shared = jobs.with_job("shared")
    more = f" {listed(shared)} serves DHW as well as heating." if shared else ""
    return Wire(OUTPUTS[4], "output", "used", parts, f"Each by its room's own controls.{more}")


# -- inputs ----------------------------------------------------------------------------------------------

def _proof(reading: Reading, jobs: Jobs) -> Wire:
    plant = reading.plant
    switches = tuple(p.tag for p in plant.of_kind("flow switch"))
    valves = _of(plant, jobs.with_job("boiler"), "motorised valve")
    if switches:
        ends = f" The end switches of {listed(valves)} go in series with it." if valves else ""
        return Wire(INPUTS[0], "input", "used", switches, "In the firing circuit: no burner fires before flow is "
                    f"proved.{ends}")
    if valves:
        return Wire(INPUTS[0], "input", "ask", valves, "No flow switch is drawn. An end switch tells that a valve is open, "
                    "not that water flows: ask what proves flow before a burner may fire.")
    return Wire(INPUTS[0], "input", "ask", (), "No flow switch is drawn: ask what proves flow before a burner may fire.")


def _tank_sensor(reading: Reading, of: Settings) -> Wire:
    tags = of.sensors.get("tank", ())
    if tags:
        return Wire(INPUTS[1], "input", "used", tags, "Makes the DHW call.")
    if reading.tanks:
        return Wire(INPUTS[1], "input", "missing", (), f"{listed(reading.tanks)} cannot call without one.")
    return Wire(INPUTS[1], "input", "not used", (), "There is no tank.")


def _sensor(reading: Reading, of: Settings, role: str) -> Wire:
    assert role in SENSOR_ROLES
    name, tags, plant = _ROLES[role], of.sensors.get(role, ()), reading.plant
    use: Use = "used" if tags else "not used"
    at = "; ".join(f"{tag} at {plant.parts[tag]['at']}" for tag in tags if plant.parts[tag]["at"])
    if role == "outdoor":
        return Wire(name, "input", use, tags, "On a wall in shade, away from vents." if tags else
                    "None is fitted: no outdoor reset.")
    if role == "system supply" and not tags and reading.arrangement == "separated loops":
        return Wire(name, "input", "missing", (), "Separated loops need one beyond the place where the waters meet: the "
                    "boiler's outlet is not what the building gets.")
    if role == "system supply" and any(f.rule == "supply-sensor" for f in reading.findings):
        return Wire(name, "input", "missing", tags, f"{at}: not where the building's supply is told.")
    without = {"system supply": "None is fitted; on a single loop the boiler's outlet is the supply."
               if reading.arrangement == "single loop" else "None is fitted.",
               "boiler outlet": "None is drawn beside what the boiler brings with it."}
    return Wire(name, "input", use, tags, f"{at}." if tags else without.get(role, "None is fitted."))


# -- valves ----------------------------------------------------------------------------------------------

def valve_rows(reading: Reading, jobs: Jobs, units: Units) -> tuple[ValveRow, ...]:
    """How every valve stands in service; those of one kind that stand alike share a row."""
    plant = reading.plant
    rows: dict[tuple[str, str, str], list[str]] = {}
    for part in plant.parts.values():
        stands = _stands(part, jobs, units)
        if stands is not None:
            position = f"{stands[0]}. {seen}" if (seen := _see(reading, (part.tag,))) else stands[0]
            rows.setdefault((part.kind, position, stands[1]), []).append(part.tag)
    return tuple(ValveRow(tuple(tags), kind, position, without) for (kind, position, without), tags in rows.items())


def _stands(part: Part, jobs: Jobs, units: Units) -> tuple[str, str] | None:
    kind = part.kind
    if kind == "motorised valve":
        power = f"goes {part['power_off']}"
        served = jobs.serves.get(part.tag, frozenset())
        where = {"boiler": "open while its boiler fires", "tank": "open on a DHW call, else shut",
                 "zone": "open when its zone calls", "shared": "open when what it serves calls"}
        return where.get(jobs.job.get(part.tag, ""), "ask what it is for" if not served else "as called"), power
    if kind == "diverting valve":
        turned = _ports(jobs, part.tag, dhw=True)
        rest = _ports(jobs, part.tag, dhw=False)
        if len(turned) == len(rest) == 1 and turned != rest:
            return f"port {min(rest)} for heating, port {min(turned)} on a DHW call", "ask; test and note"
        return "ask which port serves what", "ask; test and note"
    if kind == "isolation valve":
        return ("open and locked or sealed" if part["locked_open"] else "open"), ""
    fixed = {"check valve": "free, its arrow the way the water goes" if not part.given.get("reversed")
             else "SET AGAINST THE FLOW: turn it round", "drain": "shut and capped", "air vent": "works; its cap as made",
             "balancing valve": "set when balanced; note the turns", "fill": "shut, or as its automatic valve is set"}
    if kind in fixed:
        return fixed[kind], ""
    if kind == "bypass valve":
        return f"opens at {figure(part.number('set_kpa'), 'kpa', units)} difference", ""
    if kind == "relief valve":
        return f"shut; opens at {figure(part.number('set_kpa'), 'kpa', units)}; nothing shuts it off", ""
    if kind == "mixing valve":
        return f"set to {figure(part.number('set_c'), 'c', units)}", ""
    return None
