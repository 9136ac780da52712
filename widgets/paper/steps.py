"""The commissioning checklist: what is done, in the order in which it is done, on this plant's own parts.

The order is common practice, no source; what stands in a step with a source says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from figures.physics.jobs import Jobs
from figures.plant.kinds import SENSOR_ROLES
from figures.plant.units import Units, unit_name
from figures.reading.evidence import listed
from figures.reading.record import Reading
from figures.reading.settings import Settings

from .record import Check, Clear, Step, Told
from .told import boilers_on_dhw, firing_order
from .units import figure

ORDER = ("make safe", "flush and clean the strainer", "precharge of the expansion tank", "fill", "pressure test", "purge air",
         "pump rotation", "safeties", "configure", "fire", "each call in turn", "balance", "temperature difference",
         "sensors compared", "handover")
COLD_TOP_KPA = 28.0
RETURN_FLOOR_C = (54.0, 60.0)


@dataclass(frozen=True)
class Case:
    """What the steps are made from. beside: sets an instructor's word beside ours."""

    reading: Reading
    jobs: Jobs
    told: tuple[Told, ...]
    ask: tuple[Told, ...]
    findings: tuple[Clear, ...]
    settings: Settings
    units: Units
    beside: Callable[[str], str] = str

    def tags(self, *kinds: str) -> tuple[str, ...]:
        """Parts of these kinds, in the order of the file."""
        return tuple(part.tag for part in self.reading.plant.of_kind(*kinds))

    def show(self, value: float, ending: str) -> str:
        """A figure in the units of the sheet."""
        return figure(value, ending, self.units)


def steps(case: Case) -> tuple[Step, ...]:
    """One step for every name of `ORDER`."""
    makers = (_safe, _flush, _precharge, _fill, _pressure, _purge, _rotation, _safeties, _configure, _fire, _calls, _balance,
              _difference, _compare, _handover)
    made = []
    for number, (title, maker) in enumerate(zip(ORDER, makers, strict=True), 1):
        checks, caution = maker(case)
        made.append(Step(number, title, tuple(checks), caution))
    return tuple(made)


Made = tuple[Iterable[Check], str]


def _safe(c: Case) -> Made:
    must = [f.number for f in c.findings if f.severity == "must fix"]
    made = [Check("Fuel shut; electricity off, locked and proved dead; system cold and without pressure where it is opened."),
            Check("Permit, licence and local rules for this work seen; who is in the building knows.")]
    if must:
        numbers = listed([str(n) for n in must])
        made.append(Check(f"Finding{'s' if len(must) > 1 else ''} {numbers} (must fix) cleared and looked at again."))
    if c.ask:
        made.append(Check("Everything under 'Ask before anything is set' answered and written down."))
    return made, "Gas, electricity and flue: by licensed people only."


def _flush(c: Case) -> Made:
    strainers = c.tags("strainer")
    made = [Check("Flushed until it runs clear; water treated as the boiler's instructions ask.")]
    made.append(Check(f"Strainer {listed(strainers)} cleaned after the flush.", strainers) if strainers else
                Check("No strainer is drawn: ask where dirt is caught."))
    return made, ""


def _precharge(c: Case) -> Made:
    kpa = unit_name("kpa", c.units)
    made = []
    for tag in c.tags("expansion tank"):
        volume = c.show(c.reading.plant.parts[tag].number("volume_l"), "l")
        made.append(Check(f"{tag} ({volume}): gas side measured with no water pressure on it, set to the cold fill pressure.",
                          (tag,), (("precharge", kpa),)))
    return made or [Check("No expansion tank is drawn: a closed plant does not go on without one.")], ""


def _fill(c: Case) -> Made:
    fills, kpa, degree = c.tags("fill"), unit_name("kpa", c.units), unit_name("c", c.units)
    made = [Check(f"Filled at {listed(fills)}. Automatic fill: yes / no; backflow preventer as the code asks.", fills)
            if fills else Check("No fill is drawn: note how it is filled, and that there is no automatic fill.",
                                (), (("filled by", ""),)),
            Check(f"Cold pressure: the water's height above the gauge and {c.show(COLD_TOP_KPA, 'kpa')} at the top "
                  "(common practice).", (), (("cold pressure", kpa),)),
            Check("Glycol, where there is any: kind and strength measured, expansion and pump reckoned with it. With glycol no "
                  "automatic fill from the mains, for it thins the mixture.", (), (("glycol", "%"), ("guards to", degree)))]
    return made, "Glycol or water treatment never into a drinking-water pipe."


def _pressure(c: Case) -> Made:
    kpa = unit_name("kpa", c.units)
    lowest = min((c.reading.plant.parts[tag].number("set_kpa") for tag in c.tags("relief valve")), default=None)
    says = "Tested with water at the pressure and for the time that the local code asks; weaker parts taken off first."
    if lowest is not None:
        says += f" Lowest relief setting {c.show(lowest, 'kpa')}."
    return [Check(says, (), (("test", kpa), ("for", "min"))), Check("No drop, no leak; relief valves back in place.")], \
        "Never with air or gas unless the code allows it and all stand clear."


def _purge(c: Case) -> Made:
    vents = c.tags("air separator", "air vent")
    loads = tuple(tag for tag in c.reading.plant.parts if c.reading.plant.is_load(tag))
    by = f" at {listed(vents)}" if vents else "; no air vent or separator is drawn: ask where air goes out"
    return [Check(f"Air let out{by}.", vents), Check(f"Branch by branch through {listed(loads)}.", loads)], ""


def _rotation(c: Case) -> Made:
    pumps = c.tags("pump")
    against = tuple(tag for tag in pumps if c.reading.plant.parts[tag].given.get("reversed"))
    made = [Check(f"{listed(pumps)}: arrow the way the water goes, shaft turning the right way, no noise.", pumps)]
    if against:
        made.append(Check(f"{listed(against)} {'is' if len(against) == 1 else 'are'} drawn against the flow: turned round "
                          "before the pump runs.", against))
    return (made if pumps else [Check("No pump is drawn.")]), "Moving parts and live terminals: guards on."


def _safeties(c: Case) -> Made:
    plant, made = c.reading.plant, []
    relief = c.tags("relief valve")
    made.append(Check(f"Relief valve {listed(relief)}: setting at or below the boiler's rating, nothing shuts it off, discharge "
                      "piped to a safe place, lifted as its maker says.", relief) if relief else
                Check("No relief valve is drawn: the boiler does not fire."))
    for kind, says in (("low-water cut-off", "stops the burner"), ("high limit", "stops the burner"),
                       ("flow switch", "no flow, no fire")):
        tags = c.tags(kind)
        made.append(Check(f"{kind.capitalize()} {listed(tags)}: tried, {says}.", tags) if tags else
                    Check(f"No {kind} is drawn: found on site and tried, or why none is needed.", (), (("where", ""),)))
    tanks = [tag for tag in c.reading.tanks if plant.parts[tag]["outlet_mixing_valve"]]
    bare = [tag for tag in c.reading.tanks if tag not in tanks]
    if tanks:
        made.append(Check(f"Mixing valve at the outlet of {listed(tanks)}: set and measured at the nearest tap.", tuple(tanks),
                          (("outlet", unit_name("c", c.units)), ("tap", unit_name("c", c.units)))))
    if bare:
        made.append(Check(f"No mixing valve at the outlet of {listed(bare)}: no DHW is let to the taps before one is fitted.",
                          tuple(bare)))
    return made, "No safety is ever bridged to make a plant run."


def _configure(c: Case) -> Made:
    made = []
    for line in c.told:
        if line.value == "not used":
            continue
        value = "not before it is settled" if line.open else c.beside(line.value) or "as settled on site"
        made.append(Check(f"{c.beside(line.name)}: {value}", line.parts, (("set to", ""),) if line.write or line.open else ()))
    made.append(Check("What is not used is switched off in the control, its terminals left free."))
    return made, ""


def _fire(c: Case) -> Made:
    order = firing_order(c.reading)
    proof = "flow proved before the burner, safeties in the firing circuit"
    return [Check(f"{tag}{' (lead)' if tag == c.reading.lead else ''}: {proof}; combustion measured.", (tag,),
                  (("CO", "ppm"), ("flue", unit_name("c", c.units)))) for tag in order], \
        "First firing, gas pressure and combustion: by licensed people, with the boiler's instructions."


def _calls(c: Case) -> Made:
    control = c.reading.control
    if control == "undetermined":
        return [Check("Heat call only; no DHW call before the DHW place is settled."),
                Check("All calls off: burners stop, pumps overrun, then stand.")], ""
    from figures.physics.operation import Call, Setting, sequence

    made = []
    order, allowed, always = firing_order(c.reading), boilers_on_dhw(c.reading), c.reading.dhw_priority == "always"
    calls: list[tuple[Call, str]] = [("heat", "Heat call")]
    if control != "heating only":
        calls += [("dhw", "DHW call alone, the heating off"), ("both", "Both calls")]
    for call, name in calls:
        boilers = allowed if call == "dhw" or (call == "both" and always) else order
        done = sequence(c.jobs, c.reading, Setting(control, c.reading.arrangement, call, always, boilers))
        works = [f"{listed(done.firing)} fire" + ("s" if len(done.firing) == 1 else "")] if done.firing else []
        works += [f"{listed(done.running)} run" + ("s" if len(done.running) == 1 else "")] if done.running else []
        works += [f"{listed(done.open)} open" + ("s" if len(done.open) == 1 else "")] if done.open else []
        works += [f"{listed(done.diverted)} turned to port b"] if done.diverted else []
        still = [tag for tag in c.tags("pump") if tag not in done.running]
        works += [f"{listed(still)} stand{'s' if len(still) == 1 else ''} still"] if still else []
        held = f"; {listed(done.held)} held off" if done.held else ""
        made.append(Check(f"{name}: {'; '.join(works) or 'nothing works'}{held}."))
    if c.settings.time_limit:
        made.append(Check("DHW priority gives way to heating when its time limit is reached.", (), (("after", "min"),)))
    made.append(Check("All calls off: burners stop, pumps overrun, then stand; no low-temperature zone gets the rest."))
    return made, ""


def _balance(c: Case) -> Made:
    valves, several = c.tags("balancing valve"), len(c.reading.boilers) > 1
    made = [Check(f"{listed(valves)}: set; turns noted.", valves, (("turns", ""),))] if valves else []
    if several:
        made.append(Check("Flow or rise of the boilers compared with each other.", c.reading.boilers,
                          (("most", ""), ("least", ""))))
    zones = tuple(tag for tag in c.reading.plant.parts if c.reading.plant.is_load(tag))
    made.append(Check(f"{listed(zones)}: {'each gets its heat with all calling' if len(zones) > 1 else 'gets its heat'}.", zones))
    return made, ""


def _difference(c: Case) -> Made:
    design, degree = c.reading.plant.design, unit_name("c", c.units)
    rise = c.show(design.supply_c - design.return_c, "k")
    made = [Check(f"{tag}: in and out at full fire; design difference {rise}.", (tag,), (("in", degree), ("out", degree)))
            for tag in c.reading.boilers]
    plain = tuple(tag for tag in c.reading.boilers if not c.reading.plant.parts[tag]["condensing"])
    if plain:
        low, high = (c.show(t, "c") for t in RETURN_FLOOR_C)
        made.append(Check(f"{listed(plain)} not built to condense: return stays above {low} to {high} (common practice; the "
                          "boiler's instructions rule).", plain))
    return made, ""


def _compare(c: Case) -> Made:
    degree, made = unit_name("c", c.units), []
    for role in SENSOR_ROLES:
        tags = c.settings.sensors.get(role, ())
        made += [Check(f"{tag} ({role}): beside a thermometer.", (tag,), (("sensor", degree), ("thermometer", degree)))
                 for tag in tags]
    none = Check("No sensor is drawn: those of the boiler compared.", (), (("sensor", degree), ("thermometer", degree)))
    return made or [none], ""


def _handover(c: Case) -> Made:
    return [Check("Settings as left written on this sheet; a copy stays in the boiler room."),
            Check("Operator shown: calls, limits, what to do without heat, whom to ring.", (), (("who", ""),)),
            Check("Left open, with a date:", (), (("what", ""), ("by", "")))], ""
