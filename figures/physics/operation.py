"""What runs, flows and gets heat under a control configuration, set rightly or wrongly, on one call.

The sequence is that of common practice (no source with authority was found): see `sequence`. A control does as it
is told, so under a wrong configuration its outputs work the same parts for the wrong reasons, and the solved
state shows what that does to the building.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from figures.plant.model import Plant
from figures.reading import CONFIGURATIONS, Reading, read

from .because import STILL_SHARE, because, share_words
from .jobs import Jobs, jobs_of
from .network import Prepared
from .solution import Solution, solve
from .state import State

Call = Literal["heat", "dhw", "both"]
CALLS: tuple[Call, ...] = ("heat", "dhw", "both")
ARRANGEMENTS = ("single loop", "separated loops")


@dataclass(frozen=True)
class Setting:
    """What the control was told, and what is called for.

    arrangement: as it is set, rightly or wrongly.  boilers: in the order in which they are called to fire.
    """

    configuration: str
    arrangement: str
    call: Call
    priority: bool
    boilers: tuple[str, ...]


@dataclass(frozen=True)
class Sequence:
    """What the control makes of a call.

    running: pumps.  open: motorised valves that stand open.  diverted: diverting valves turned to port b.
    firing: boilers called to fire.  called: loads that want heat now.  held: of these, loads held off by priority.
    dhw_setpoint: the boilers hold the DHW setpoint instead of their own.
    """

    running: tuple[str, ...]
    open: tuple[str, ...]
    diverted: tuple[str, ...]
    firing: tuple[str, ...]
    called: tuple[str, ...]
    held: tuple[str, ...]
    dhw_setpoint: bool

    def state(self, plant: Plant, water_c: float = 60.0) -> State:
        """The same as a state to solve."""
        setpoint = {}
        if self.dhw_setpoint:
            setpoint = {tag: max(plant.design.dhw_setpoint_c, plant.parts[tag].number("setpoint_c"))
                        for tag in self.firing}
        return State(
            off=[part.tag for part in plant.of_kind("pump") if part.tag not in self.running],
            shut=[part.tag for part in plant.of_kind("motorised valve") if part.tag not in self.open],
            divert=self.diverted,
            idle=[part.tag for part in plant.of_kind("boiler") if part.tag not in self.firing],
            setpoint_c=setpoint, water_c=water_c)


def sequence(jobs: Jobs, reading: Reading, setting: Setting) -> Sequence:
    """What runs and opens, as common practice has it.

    - heating only: a heat call runs boiler and system pumps; the control knows no tank, and nothing that serves only
      DHW is worked. - DHW on the system loop: a DHW call runs boiler and system pumps and the tank's pump or valve;
      with both, everything, or with priority the heating loads are held off. - DHW on the boiler loop: a DHW call runs
      the tank's pump, the boiler's where the coil lies beyond it, and no system pump; with both, DHW comes first.
    Set as a single loop the control opens a firing boiler's valve and knows no boiler pump; set as separated loops it
    runs the pump and knows no valve, so that this stands as it does without power.

    >>> from figures.plant.scheme import Scheme
    >>> operator = Operator(Scheme(tank="boiler loop").plant())
    >>> [sequence(operator.jobs, operator.reading, operator.right(call)).running for call in ("heat", "dhw")]
    [('PB1', 'PS'), ('PB1', 'PT')]
    """
    plant = jobs.plant
    heats = [tag for tag in plant.parts if plant.is_load(tag) and not plant.is_dhw(tag)]
    tanks = [tag for tag in plant.parts if plant.is_load(tag) and plant.is_dhw(tag)]
    knows_tank = setting.configuration != "heating only"
    dhw_first = setting.configuration == "DHW on the boiler loop"
    dhw = setting.call in ("dhw", "both") and knows_tank
    heat = setting.call in ("heat", "both")
    held = tuple(heats) if heat and dhw and (dhw_first or setting.priority) else ()
    heat_now = heat and not held
    called = tuple(tag for tag in plant.parts if (tag in heats and heat) or (tag in tanks and setting.call != "heat"))
    running: set[str] = set()
    opened: set[str] = set()
    if heat_now:
        running.update(jobs.with_job("system", "zone"))
        opened.update(jobs.with_job("zone", "shared"))
    if dhw:
        running.update(jobs.with_job("tank"))
        opened.update(jobs.with_job("tank", "shared"))
        if not dhw_first:
            running.update(_system_pumps_for_dhw(jobs, reading, tanks))
    if not knows_tank:
        opened.update(_springs_open(plant, jobs.with_job("tank")))
    firing = setting.boilers if heat_now or dhw else ()
    for boiler in firing:
        run, valves = _boiler_outputs(jobs, reading, setting, boiler, tanks if dhw_first and dhw else [])
        running |= run
        opened |= valves
    if setting.arrangement == "separated loops" != reading.arrangement:
        opened.update(_springs_open(plant, jobs.with_job("boiler")))
    idle_jobs = set(jobs.job)
    opened.update(part.tag for part in plant.of_kind("motorised valve")
                  if part.tag not in idle_jobs and part["power_off"] == "open")
    return Sequence(tuple(tag for tag in plant.parts if tag in running and plant.parts[tag].kind == "pump"),
                    tuple(tag for tag in plant.parts if tag in opened and plant.parts[tag].kind == "motorised valve"),
                    _diverted(jobs, tanks if dhw else [], heats if heat_now else []), tuple(firing), called, held, dhw)


def _springs_open(plant: Plant, tags: list[str]) -> list[str]:
    """Motorised valves among these that stand open when the control does not work them."""
    return [tag for tag in tags if plant.parts[tag].kind == "motorised valve"
            and plant.parts[tag]["power_off"] == "open"]


def _system_pumps_for_dhw(jobs: Jobs, reading: Reading, tanks: list[str]) -> list[str]:
    """System pumps that run on a DHW call: those that serve a tank. Where none does, and the tank is not on the system
    loop at all, every one: a control that was told so wrongly runs what is wired to it as the system pump."""
    pumps = jobs.with_job("system")
    serving = [tag for tag in pumps if jobs.serves[tag] & set(tanks)]
    return serving if serving or reading.dhw == "system loop" else pumps


def _boiler_outputs(jobs: Jobs, reading: Reading, setting: Setting, boiler: str,
                    coils: list[str]) -> tuple[set[str], set[str]]:
    """Pumps and valves that work for one firing boiler. coils: given, only what the way to a coil meets runs."""
    plant, own = jobs.plant, jobs.boiler_parts[boiler]
    pumps = {tag for tag in own if plant.parts[tag].kind == "pump"}
    valves = {tag for tag in own if plant.parts[tag].kind == "motorised valve"}
    ways = [jobs.ways[boiler][coil] for coil in coils if coil in jobs.ways[boiler]]
    if ways:
        pumps &= {tag for way in ways for tag in way.pumps}
        valves &= {tag for way in ways for tag in way.valves}
    if setting.arrangement == reading.arrangement or reading.arrangement == "undetermined":
        return pumps, valves
    if setting.arrangement == "single loop":
        return set(), valves
    return pumps, set()


def _diverted(jobs: Jobs, tanks: list[str], heats: list[str]) -> tuple[str, ...]:
    """Diverting valves turned to port b: to a called tank first, else to the called heating loads; an unworked one
    stands at a."""
    turned = []
    for part in jobs.plant.of_kind("diverting valve"):
        for loads in (tanks, heats):
            ports = [way.ports[part.tag] for ways in jobs.ways.values() for load, way in ways.items()
                     if load in loads and part.tag in way.ports]
            if ports:
                turned += [part.tag] if ports[0] == "b" else []
                break
    return tuple(turned)


@dataclass(frozen=True)
class Served:
    """How one load fares. given_kw: heat it gets, called or not.  still: less than 1 % of the flow it has when it is
    meant to run.  share: of that flow.  because: why, a full sentence."""

    part: str
    wanted_kw: float
    given_kw: float
    flow_lps: float
    still: bool
    share: float
    because: str


@dataclass(frozen=True)
class Operation:
    """What runs under a setting, the solved state, and how each load fares."""

    setting: Setting
    sequence: Sequence
    solution: Solution
    loads: tuple[Served, ...]
    warnings: tuple[str, ...]

    def load(self, tag: str) -> Served:
        """How that load fares."""
        return next(row for row in self.loads if row.part == tag)

    @property
    def afterwards(self) -> str:
        """What happens when the call ends."""
        into = [tag for tag in self.sequence.called if tag not in self.sequence.held]
        if not self.sequence.firing or not into:
            return "Nothing ran, so nothing overruns."
        cool = [tag for tag in into if "max_supply_c" not in self.solution.plant.parts[tag].given]
        where = ", ".join(cool) if cool else "nowhere but what called; mind its hottest supply"
        return f"When the call ends the burners stop first; the pumps overrun and what is left of the heat goes " \
               f"to {where}."

    def as_dict(self) -> dict[str, object]:
        """What `loopbook operate --json` prints."""
        return {"configuration": self.setting.configuration, "arrangement": self.setting.arrangement,
                "call": self.setting.call, "running": list(self.sequence.running), "open": list(self.sequence.open),
                "diverted": list(self.sequence.diverted), "firing": list(self.sequence.firing),
                "loads": [{"part": row.part, "wanted_kw": row.wanted_kw, "given_kw": row.given_kw,
                           "flow_lps": row.flow_lps, "still": row.still, "because": row.because}
                          for row in self.loads],
                "solve": self.solution.as_dict(), "warnings": list(self.warnings), "afterwards": self.afterwards}


class Operator:
    """A plant ready to be operated under any setting; the exercises and the command line share it.

    >>> from figures.plant.scheme import Scheme
    >>> operator = Operator(Scheme(tank="boiler loop").plant())
    >>> right = operator.right("dhw")
    >>> wrong = operator.setting("heating only", "dhw")
    >>> [operator.operate(setting).load("IT").given_kw > 1.0 for setting in (right, wrong)]
    [True, False]
    """

    def __init__(self, plant: Plant, reading: Reading | None = None) -> None:
        self.plant = plant
        self.reading = read(plant) if reading is None else reading
        self.prepared = Prepared(plant)
        self.jobs = jobs_of(self.prepared, self.reading)
        self._meant: dict[Call, Solution] = {}

    def setting(self, configuration: str, call: str, arrangement: str | None = None, boilers: int | None = None,
                priority: bool = False) -> Setting:
        """A checked setting. Raises ValueError, one line for each thing that is wrong."""
        wrong = []
        if configuration not in CONFIGURATIONS:
            wrong.append(f"configuration: '{configuration}' is not one of {', '.join(CONFIGURATIONS)}")
        if call not in CALLS:
            wrong.append(f"call: '{call}' is not one of {', '.join(CALLS)}")
        if arrangement is not None and arrangement not in ARRANGEMENTS:
            wrong.append(f"arrangement: '{arrangement}' is not one of {', '.join(ARRANGEMENTS)}")
        tags = [part.tag for part in self.plant.of_kind("boiler")]
        if boilers is not None and not 0 <= boilers <= len(tags):
            wrong.append(f"boilers: {boilers} is out of range; this plant has {len(tags)}, write 0 to {len(tags)}")
        if wrong:
            raise ValueError("\n".join(wrong))
        if self.reading.lead in tags:
            tags.remove(str(self.reading.lead))
            tags.insert(0, str(self.reading.lead))
        found = self.reading.arrangement
        right = found if found in ARRANGEMENTS else "separated loops"
        return Setting(configuration, arrangement or right, call, priority,     # type: ignore[arg-type]
                       tuple(tags if boilers is None else tags[:boilers]))

    def right(self, call: Call) -> Setting:
        """The setting that the piping asks for; a tank whose place is undetermined counts as on the system loop."""
        control = self.reading.control
        return self.setting(control if control in CONFIGURATIONS else "DHW on the system loop", call)

    def meant_lps(self, tag: str) -> float:
        """Flow of a load when it is meant to run: under the right setting, on the call that serves it."""
        call: Call = "dhw" if self.plant.is_dhw(tag) else "heat"
        if call not in self._meant:
            steps = sequence(self.jobs, self.reading, self.right(call))
            self._meant[call] = solve(self.prepared, steps.state(self.plant))
        return self._meant[call].lps(tag)

    def operate(self, setting: Setting, water_c: float = 60.0, also: State | None = None) -> Operation:
        """What happens under a setting. Raises NoSolution where the state does not balance.

        also: speeds, positions, loads and valves shut by hand that are set beside what the control does."""
        steps = sequence(self.jobs, self.reading, setting)
        state = steps.state(self.plant, water_c)
        if also is not None:
            state = replace(state, speed=also.speed, position=also.position, load=also.load,
                            shut=frozenset(state.shut) | frozenset(also.shut))
        found = solve(self.prepared, state)
        rows = tuple(self._served(tag, steps, setting, found) for tag in self.plant.parts if self.plant.is_load(tag))
        return Operation(setting, steps, found, rows, tuple(self._warnings(steps, setting, found, rows)))

    def _served(self, tag: str, steps: Sequence, setting: Setting, found: Solution) -> Served:
        flow, meant = found.lps(tag), self.meant_lps(tag)
        least = 0.01 * self.plant.load_kw(tag) / (found.flow.water.heat_kw_per_lps_k * 10.0)
        share = flow / meant if abs(meant) > max(least, 1e-6) else (flow / max(least * 100.0, 1e-6))
        wanted = found.state.load.get(tag, self.plant.load_kw(tag))
        row = Served(tag, wanted if tag in steps.called else 0.0, found.heat.heat_kw.get(tag, 0.0),
                     flow + 0.0, abs(share) < STILL_SHARE, share, "")
        return replace(row, because=because(row, self.jobs, self.reading, steps, setting, found))

    def _warnings(self, steps: Sequence, setting: Setting, found: Solution, rows: tuple[Served, ...]) -> list[str]:
        said = list(found.warnings)
        for row in rows:
            if row.wanted_kw == 0.0 and row.given_kw > 0.5 and not row.still:
                said.append(f"{row.part}: it has not called, yet takes {row.given_kw:.1f} kW.")
            most = self.plant.parts[row.part].given.get("max_supply_c")
            inlet = found.parts[row.part]["inlet_c"]
            if isinstance(most, float) and inlet is not None and inlet > most + 0.1 and not row.still:
                said.append(f"{row.part}: {inlet:.0f} °C reach it; it may see {most:.0f} °C at most.")
        if steps.held:
            said.append("While DHW is served the heating waits: set a time limit, or the building can freeze.")
        if setting.call != "heat" and setting.configuration == "heating only" and self.reading.tanks:
            said.append(f"The control is set as heating only: nobody heats {', '.join(self.reading.tanks)}.")
        return said


def operate(plant: Plant, configuration: str, call: str, *, arrangement: str | None = None,
            boilers: int | None = None, priority: bool = False, reading: Reading | None = None) -> Operation:
    """What runs and who gets heat when the control of `plant` is set as `configuration`.

    call: 'heat', 'dhw' or 'both'.  arrangement: as the control is set; the piping's own unless given.
    boilers: how many fire, the lead first; all unless given.  priority: of DHW, where the tank is set as being on the
    system loop.  Raises ValueError for a setting that does not exist, NoSolution where no balance is found.
    """
    operator = Operator(plant, reading)
    return operator.operate(operator.setting(configuration, call, arrangement, boilers, priority))


__all__ = ["ARRANGEMENTS", "CALLS", "CONFIGURATIONS", "Operation", "Operator", "Sequence", "Served",
           "Setting", "operate", "sequence", "share_words"]
