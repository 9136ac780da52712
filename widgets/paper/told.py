"""The reading with its evidence, what the control is told, and what is to be asked first."""

from __future__ import annotations

from collections.abc import Iterable

from figures.plant.units import Units
from figures.reading.evidence import listed
from figures.reading.record import Reading
from figures.reading.settings import Settings

from .record import Told, Wire
from .reset import reset_line
from .units import figure

OPEN = "undetermined"
STORE_C = 60.0
NAMES = ("arrangement", "DHW place", "control configuration", "DHW priority", "DHW time limit", "boilers",
         "lead boiler", "boilers allowed on DHW", "DHW setpoint", "tank setpoint", "outdoor reset", "reset line",
         "freeze setpoint")
"""Everything that the control is told, in the order of the sheet."""


def read_lines(reading: Reading, units: Units) -> tuple[Told, ...]:
    """What was read and why, in the order in which a plant is read."""
    plant = reading.plant
    kinds = "; ".join(
        f"{s.kind} ({', '.join(s.parts)}" + (")" if s.spacing_diameters is None
                                             else f", {s.spacing_diameters:.1f} inside diameters apart)")
        for s in reading.separations) or "none"
    powers = [figure(plant.parts[tag].number("output_kw"), "kw", units) for tag in reading.boilers]
    outputs = f"{powers[0]}{' each' if len(powers) > 1 else ''}" if len(set(powers)) == 1 else \
        ", ".join(f"{tag} {power}" for tag, power in zip(reading.boilers, powers))
    tanks = f" ({', '.join(reading.tanks)})" if reading.tanks else ""
    rows = [("arrangement", "arrangement", reading.arrangement), ("separation", "separations", kinds),
            *((loop.role, "loops", ", ".join(t for t in loop.parts if plant.parts[t].kind != "tee") or "pipe only")
              for loop in reading.loops),
            ("DHW", "dhw", reading.dhw + tanks), ("control configuration", "control", reading.control),
            ("DHW priority", "dhw_priority", reading.dhw_priority),
            ("boilers", "boilers", f"{len(reading.boilers)}: {outputs}"),
            ("lead boiler", "lead", reading.lead or "not settled"), ("return", "return", reading.return_order)]
    said: set[str] = set()
    made = []
    for name, about, value in rows:
        why = () if about in said else reading.about(about)
        said.add(about)
        made.append(Told(name, value, " ".join(e.says for e in why),
                         tuple(dict.fromkeys(tag for e in why for tag in e.parts)),
                         open=value.startswith((OPEN, "not settled"))))
    return tuple(made)


def told_lines(reading: Reading, of: Settings, units: Units) -> tuple[Told, ...]:
    """What the control is told: every name of `NAMES`, filled in, 'not used', or with room to write."""
    made = dict(zip(NAMES[:3], (
        _plain(reading, "arrangement", "arrangement", of.arrangement), _plain(reading, "DHW place", "dhw", reading.dhw),
        _plain(reading, "control configuration", "control", of.control))))
    for line in (_priority(reading), _time_limit(of), _boilers(reading, units), _lead(reading, units),
                 _on_dhw(reading, units), *_setpoints(reading, units), _reset(of), _line(reading, of, units),
                 Told("freeze setpoint", "", "Frost guard of the water and of the building: from the site and the "
                      "boiler's instructions; no drawing shows it.", write=True)):
        made[line.name] = line
    return tuple(made[name] for name in NAMES)


def _plain(reading: Reading, name: str, about: str, value: str) -> Told:
    why = reading.about(about)
    return Told(name, value, "" if value != OPEN else " ".join(e.says for e in why),
                tuple(dict.fromkeys(tag for e in why for tag in e.parts)), open=value == OPEN)


def _priority(reading: Reading) -> Told:
    value: str = reading.dhw_priority
    says = {"not applicable": "There is no DHW to put first.",
            "optional": "May be on or off; decide and write it in. Where it is on, the heating waits while the tank is heated.",
            "always": "While the tank is heated the building gets no heat.",
            OPEN: "Follows from the DHW place, which is not settled."}[value]
    shown = {"not applicable": "not used", "optional": "optional; set to: on / off"}.get(value, value)
    return Told("DHW priority", shown, says, reading.tanks, open=value == OPEN, write=value == "optional")


def _time_limit(of: Settings) -> Told:
    if of.time_limit:
        return Told("DHW time limit", "", "In minutes. Priority never goes without one, or on a long draw the building "
                    "can freeze. How long this building can wait is settled on site.", write=True)
    if of.dhw_priority == OPEN:
        return Told("DHW time limit", OPEN, "Follows from the DHW place, which is not settled.", open=True)
    return Told("DHW time limit", "not used", "There is no DHW.")


def _boilers(reading: Reading, units: Units) -> Told:
    kw = sum(reading.plant.parts[tag].number("output_kw") for tag in reading.boilers)
    return Told("boilers", str(len(reading.boilers)), f"{figure(kw, 'kw', units)} in all.", reading.boilers)


def _lead(reading: Reading, units: Units) -> Told:
    if reading.lead is None:
        return Told("lead boiler", "not settled", "Ask which boiler is to run the sequence, and mark exactly one.",
                    reading.boilers, open=True, write=True)
    return Told("lead boiler", reading.lead, "" if len(reading.boilers) > 1 else "The only boiler.", (reading.lead,))


def firing_order(reading: Reading) -> tuple[str, ...]:
    """The boilers, the lead first."""
    return tuple(sorted(reading.boilers, key=lambda tag: tag != reading.lead))


def boilers_on_dhw(reading: Reading) -> tuple[str, ...]:
    """As many boilers, the lead first, as give what all coils can pass."""
    plant = reading.plant
    wanted, given = sum(plant.load_kw(tag) for tag in reading.tanks), 0.0
    allowed: list[str] = []
    for tag in firing_order(reading):
        if allowed and given >= wanted:
            break
        allowed.append(tag)
        given += plant.parts[tag].number("output_kw")
    return tuple(allowed)


def _on_dhw(reading: Reading, units: Units) -> Told:
    name, plant = "boilers allowed on DHW", reading.plant
    if not reading.tanks:
        return Told(name, "not used", "There is no DHW.")
    if reading.dhw == OPEN:
        return Told(name, OPEN, "Follows from the DHW place, which is not settled.", open=True)
    wanted = sum(plant.load_kw(tag) for tag in reading.tanks)
    order = firing_order(reading)
    allowed = boilers_on_dhw(reading)
    count, given = len(allowed), sum(plant.parts[tag].number("output_kw") for tag in allowed)
    heat = f"{listed(order[:count])} {'gives' if count == 1 else 'give'} {figure(given, 'kw', units)}; the coil" \
           f"{'s pass' if len(reading.tanks) > 1 else ' passes'} {figure(wanted, 'kw', units)} at design"
    short = "" if given >= wanted else ": all of them fall short of it"
    return Told(name, f"{count} of {len(order)}", f"{heat}{short}. More than the coil can pass only short-cycles.",
                reading.tanks, write=True)


def _setpoints(reading: Reading, units: Units) -> tuple[Told, Told]:
    design = reading.plant.design
    if not reading.tanks:
        return Told("DHW setpoint", "not used", "There is no DHW."), Told("tank setpoint", "not used", "There is no DHW.")
    boiler = Told("DHW setpoint", figure(design.dhw_setpoint_c, "c", units),
                  "Boiler water on a DHW call, from the plant file; within what the boiler's and the coil's instructions "
                  "allow.", reading.boilers, write=True)
    store = Told("tank setpoint", figure(design.tank_c, "c", units),
                 f"Stored water, from the plant file. Keep the store at {figure(STORE_C, 'c', units)} or more against "
                 "bacterial growth (UK HSE, HSG274 Part 2, 2014; the local code rules) and temper at the outlet: never "
                 "lower the store to cure scalding.", reading.tanks, write=True)
    return boiler, store


def _reset(of: Settings) -> Told:
    value = {True: "may be used: yes / no", False: "no, not yet", None: "ask first"}[of.reset_allowed]
    wanted = [need for need in of.reset if need.applies and need.met is not True]
    why = " ".join(need.evidence.says for need in wanted) or "All that it needs is on the drawing."
    return Told("outdoor reset", value, why, tuple(dict.fromkeys(t for n in wanted for t in n.evidence.parts)),
                open=of.reset_allowed is None, write=of.reset_allowed is not False)


def _line(reading: Reading, of: Settings, units: Units) -> Told:
    design = reading.plant.design
    if of.reset_allowed is False:
        return Told("reset line", "not used", "Outdoor reset is not to be used yet.")
    if not reset_line(design):
        return Told("reset line", "", "The design figures of the plant file give no line.", write=True)
    return Told("reset line", f"{figure(design.supply_c, 'c', units)} at {figure(design.outdoor_c, 'c', units)} outdoors",
                f"Design return {figure(design.return_c, 'c', units)}, room {figure(design.room_c, 'c', units)}, emitter "
                f"exponent {design.exponent:g}; points below.", write=True)


# -- what to ask -----------------------------------------------------------------------------------------

def asked(reading: Reading, of: Settings, wires: Iterable[Wire], units: Units = "si") -> tuple[Told, ...]:
    """Everything that the drawing leaves open, with what to ask; nothing is set before it is answered."""
    plant, found = reading.plant, []

    def why(about: str) -> str:
        return " ".join(e.says for e in reading.about(about))

    if reading.arrangement == OPEN:
        found.append(Told("arrangement", OPEN, f"{why('arrangement')} Ask where the boilers' water and the building's "
                          "water meet: trace both mains on site until you stand at that place."))
    if reading.dhw == OPEN:
        found.append(Told("DHW place and configuration", OPEN, f"{why('dhw')} Ask which loop is to feed each tank, and "
                          f"trace both coil pipes of {listed(reading.tanks)} to where they join. Until that is settled "
                          "leave DHW out of the control.", reading.tanks))
    elif reading.control == OPEN or reading.dhw_priority == OPEN:
        found.append(Told("control configuration", OPEN, f"{why('control')} {why('dhw_priority')}".strip()
                          + " Ask the designer before the control is set."))
    if reading.lead is None:
        found.append(Told("lead boiler", "not settled", f"{why('lead')} Ask which boiler is to run the sequence.".strip(),
                          reading.boilers))
    if reading.return_order == OPEN:
        found.append(Told("return", OPEN, f"{why('return')} Ask for the pipe routes and lengths between boilers; flows "
                          "must be balanced by measurement."))
    if reading.tanks:
        found += _setpoints_to_ask(reading, units)
    silent = tuple(p.tag for p in plant.of_kind("heat exchanger") if p["serves"] is None)
    if silent:
        found.append(Told("heat exchanger", "not said", f"Ask what {listed(silent)} heats. The plant file does not say; it "
                          "was read as heating. If it heats DHW, say so in the file and make this sheet anew.", silent))
    for need in of.reset:
        if need.applies and need.met is None and need.key != "DHW override":
            found.append(Told("outdoor reset", "not settled", need.evidence.says, need.evidence.parts))
    found += [Told(wire.name[0].lower() + wire.name[1:], "not on the drawing" if not wire.parts else "not settled", wire.says,
                   wire.parts) for wire in wires if wire.use == "ask"]
    return tuple(found)


def _setpoints_to_ask(reading: Reading, units: Units) -> list[Told]:
    """DHW temperatures of the plant file that cannot be left as they are."""
    design, found = reading.plant.design, []
    if design.tank_c < STORE_C:
        found.append(Told("tank setpoint", figure(design.tank_c, "c", units), "The plant file stores colder than "
                          f"{figure(STORE_C, 'c', units)}, where bacteria grow. Ask who answers for water safety here, and "
                          "temper at the outlet instead.", reading.tanks))
    if design.dhw_setpoint_c <= design.tank_c:
        found.append(Told("DHW setpoint", figure(design.dhw_setpoint_c, "c", units), "Boiler water no hotter than the store "
                          "cannot heat it. Ask for both setpoints.", reading.boilers))
    return found
