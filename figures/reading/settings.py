"""What the control is told about a plant, as a record: one place for exercises, sheets and drawings.

Everything follows from the reading and the parts; nothing is decided here that the classifier decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from figures.plant.kinds import SENSOR_ROLES
from figures.plant.model import Plant, port_of, tag_of

from .evidence import listed
from .record import Arrangement, Control, Evidence, Priority, Reading


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that outdoor reset needs before it may be used.

    says: what has to be so.  applies: whether this plant asks for it at all.
    met: True or False where the drawing shows it, None where it is to be settled on site.
    evidence: why it applies or does not, and what shows that it is met.
    """

    key: str
    says: str
    applies: bool
    met: bool | None
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the settings: what is set, to what, and the key of the reading's evidence for it."""

    name: str
    value: str
    about: str


@dataclass(frozen=True)
class Settings:
    """What the control is told about one plant.

    time_limit: DHW priority is in use or may be, and then never without a time limit.
    sensors: for each role of a temperature sensor the tags that have it, () where it is not fitted.
    reset: what outdoor reset needs, in the order in which it is looked for.
    """

    arrangement: Arrangement
    control: Control
    dhw_priority: Priority
    time_limit: bool
    boilers: tuple[str, ...]
    lead: str | None
    sensors: Mapping[str, tuple[str, ...]]
    reset: tuple[Need, ...]

    @property
    def reset_allowed(self) -> bool | None:
        """True: all that reset needs is shown. False: something is missing. None: to be settled on site."""
        met = [need.met for need in self.reset if need.applies]
        return False if False in met else None if None in met else True

    def lines(self) -> tuple[Line, ...]:
        """The settings as they are said aloud, in the order in which a plant is read."""
        count = len(self.boilers)
        limit = ", with a time limit" if self.time_limit else ""
        reset = {True: "may be used", False: "not yet: something that it needs is missing",
                 None: "only when what the drawing does not show is settled"}[self.reset_allowed]
        return (Line("arrangement", self.arrangement, "arrangement"),
                Line("control configuration", self.control, "control"),
                Line("DHW priority", self.dhw_priority + limit, "dhw_priority"),
                Line("boilers", str(count), "boilers"),
                Line("lead boiler", self.lead or "not settled: mark exactly one", "lead"),
                Line("outdoor reset", reset, "reset"))


def settings(reading: Reading) -> Settings:
    """What the control is told, from a reading. Never raises; what is undetermined stays so.

    >>> from figures.plant import parse_plant
    >>> from figures.reading import read
    >>> told = settings(read(parse_plant('''
    ... format = 1
    ... [parts]
    ... B = {kind = "boiler", condensing = true}
    ... P = {kind = "pump"}
    ... E = {kind = "emitter"}
    ... [[runs]]
    ... through = ["B", "P", "E", "B"]
    ... size = "NPS 1"
    ... length_m = 20.0
    ... ''')))
    >>> told.control, told.reset_allowed, [need.key for need in told.reset if need.applies]
    ('heating only', False, ['outdoor sensor'])
    """
    plant = reading.plant
    sensors = plant.of_kind("temperature sensor")
    roles = {role: tuple(s.tag for s in sensors if s["role"] == role) for role in SENSOR_ROLES}
    before = _upstream(plant)
    return Settings(
        arrangement=reading.arrangement, control=reading.control, dhw_priority=reading.dhw_priority,
        time_limit=reading.dhw_priority in ("always", "optional"), boilers=reading.boilers, lead=reading.lead,
        sensors=roles, reset=(_sensor(roles["outdoor"]), _return_guard(reading, before),
                              _own_temperature(plant, before), _override(reading)))


# -- what outdoor reset needs: common practice, no source --------------------------------------------------

def _why(says: str, parts: tuple[str, ...] = (), absent: tuple[str, ...] = ()) -> Evidence:
    return Evidence("reset", says, parts, (), absent)


def _sensor(outdoor: tuple[str, ...]) -> Need:
    if outdoor:
        why = _why(f"The outdoor sensor {listed(outdoor)} is fitted.", outdoor)
    else:
        why = _why("There is no outdoor sensor on the drawing.", (), ("outdoor sensor",))
    return Need("outdoor sensor", "an outdoor sensor is fitted", True, bool(outdoor), why)


def _return_guard(reading: Reading, before: Upstream) -> Need:
    plant = reading.plant
    says = "the return of a boiler that is not built to condense is protected from cold water"
    plain = tuple(tag for tag in reading.boilers if not plant.parts[tag]["condensing"])
    if not plain:
        return Need("return guard", says, False, None, _why(
            f"{listed(reading.boilers)} {_is(reading.boilers)} built to condense: cold return does no harm.",
            reading.boilers))
    guards = {tag: valves for tag in plain if (valves := _mixed_by(plant, before, tag))}
    bare = tuple(tag for tag in plain if tag not in guards)
    if bare:
        return Need("return guard", says, True, None, _why(
            f"{listed(bare)} {_is(bare)} not built to condense, and no mixing valve on the drawing guards "
            "the return: settle with the boiler's instructions how it is kept warm.", bare, ("mixing valve",)))
    valves = _all(guards)
    holds = "holds" if len(valves) == 1 else "hold"
    return Need("return guard", says, True, True, _why(
        f"{listed(valves)} {holds} the return of {listed(plain)} warm.", (*plain, *valves)))


def _own_temperature(plant: Plant, before: Upstream) -> Need:
    says = "a load that needs a temperature of its own has a way to it"
    limited = tuple(sorted(p.tag for p in plant.of_kind("emitter") if p["max_supply_c"] is not None))
    beyond = tuple(sorted(p.tag for p in plant.of_kind("heat exchanger") if not plant.is_dhw(p.tag)))
    if not limited and not beyond:
        return Need("own temperature", says, False, None, _why(
            "No load on the drawing asks for a temperature of its own.", (),
            ("heat exchanger", "emitter with a highest supply")))
    valves = {tag: _mixed_by(plant, before, tag) for tag in limited}
    bare = tuple(tag for tag in limited if not valves[tag])
    if bare:
        return Need("own temperature", says, True, False, _why(
            f"No mixing valve keeps the supply of {listed(bare)} below the highest that it may see.", bare,
            ("mixing valve",)))
    if beyond:
        return Need("own temperature", says, True, None, _why(
            f"What {listed(beyond)} needs on its far side is not drawn: ask whether it can follow the "
            "outdoor temperature.", beyond))
    held = _all(valves)
    give = "gives" if len(held) == 1 else "give"
    own = "a temperature of its own" if len(limited) == 1 else "temperatures of their own"
    return Need("own temperature", says, True, True, _why(
        f"{listed(held)} {give} {listed(limited)} {own}.", (*limited, *held)))


def _override(reading: Reading) -> Need:
    says = "a DHW call lifts the supply above the reset temperature"
    if not reading.tanks:
        return Need("DHW override", says, False, None, _why(
            "There is no DHW whose call would have to override the reset.", (), ("indirect tank",)))
    need = "needs" if len(reading.tanks) == 1 else "need"
    return Need("DHW override", says, True, None, _why(
        f"{listed(reading.tanks)} {need} hot water on the mildest day: the DHW call must override reset.",
        reading.tanks))


def _is(tags: tuple[str, ...]) -> str:
    return "is" if len(tags) == 1 else "are"


def _all(valves: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(sorted({valve for found in valves.values() for valve in found}))


# -- where a part's water comes from -----------------------------------------------------------------------

Upstream = Mapping[str, list[str]]
"""For each part, node or port what stands before it, on every run that leads to it."""


def _upstream(plant: Plant) -> Upstream:
    before: dict[str, list[str]] = {}
    for run in plant.runs:
        for here, there in zip(run.through, run.through[1:]):
            before.setdefault(there, []).append(here)
    return before


def _mixed_by(plant: Plant, before: Upstream, tag: str) -> tuple[str, ...]:
    """Mixing valves that temper all the water a part gets; () where some of it comes by another way.

    Walks against the written runs from the part up to the first mixing valve, load, boiler, vessel or
    diverting valve on each way. Dead ends (vents, expansion tanks, relief valves) give no water.
    """
    valves: set[str] = set()
    seen = {tag}
    ways = list(before.get(tag, ()))
    while ways:
        end = ways.pop()
        name = tag_of(end)
        part = plant.parts[name]
        if part.kind == "mixing valve" and port_of(end) == "mixed":
            valves.add(name)
        elif part.kind == "boiler" or plant.is_load(name) or port_of(end):
            return ()
        elif name not in seen:
            seen.add(name)
            ways.extend(before.get(name, ()))
    return tuple(sorted(valves))
