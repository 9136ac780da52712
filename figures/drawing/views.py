"""Ways to look at one drawing: a loop at a time, the water step by step, and what is missing.

Each view is a list of names; a screen switches classes by it and never draws anew.

>>> from figures.plant.scheme import Scheme
>>> from figures.reading import read
>>> plant = Scheme(boilers=2, tank="system loop").plant()
>>> list(loops(plant, read(plant)))
['boiler loop', 'system loop']
>>> steps = trace(plant, read(plant), "E1")
>>> steps[0].says, steps[0].names == steps[-1].names[-1:]
('B1 (boiler, leads) heats the water.', True)
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from figures.plant.model import Plant, tag_of
from figures.reading.record import Reading

from .describe import row, walk
from .skeleton import natural

ABSENT = {"relief-missing": "relief valve", "expansion-missing": "expansion tank", "boiler-isolation": "motorised valve",
          "supply-sensor": "temperature sensor", "tank-sensor": "temperature sensor", "mixing-valve": "mixing valve",
          "low-temperature-zone": "mixing valve", "pump-bypass": "bypass valve", "loop-pump": "pump"}
"""Rules whose mend is to fit a part of this kind. 'ghost-flow' names its own; 'check local code' and 'note' are left out:
there the part may be inside the boiler, or not wanted at all."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step along the water: the pipe that leads there (none at the start) and the part, and what happens there."""

    names: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Missing:
    """A part that is not there: its kind, the tag beside which it would be, and the finding's rule and words."""

    kind: str
    beside: str
    rule: str
    says: str

    @property
    def name(self) -> str:
        """What it is called on the drawing."""
        return f"{self.kind} at {self.beside}"


# -- one loop at a time ----------------------------------------------------------------------------------------

def loops(plant: Plant, reading: Reading) -> dict[str, tuple[str, ...]]:
    """Names of parts and runs to show for each loop, by the loop's name: its own, the separations that it touches and the
    instruments on it. A second loop of one role is called 'system loop 2'."""
    found: dict[str, tuple[str, ...]] = {}
    ends = {name: {tag_of(e) for e in run.through} for name, run in zip(plant.run_names, plant.runs)}
    for loop in reading.loops:
        count = sum(name.startswith(loop.role) for name in found)
        names = dict.fromkeys((*loop.parts, *loop.pipes))
        touched = {tag for pipe in loop.pipes for tag in ends[pipe]}
        for separation in reading.separations:
            if touched & set(separation.parts):
                names |= dict.fromkeys((*separation.parts, *separation.pipes))
        for tag, part in plant.parts.items():
            at = part.given.get("at")
            if isinstance(at, str) and (tag_of(at) in names or at in names):
                names[tag] = None
        found[loop.role if not count else f"{loop.role} {count + 1}"] = tuple(names)
    return found


def dimmed(plant: Plant, reading: Reading, loop: str) -> tuple[str, ...]:
    """Everything but one loop: tags, names of runs, and the roles whose bands and names are not its own. Raises ValueError
    for a loop that the plant has not.

    >>> from figures.plant.scheme import Scheme
    >>> from figures.reading import read
    >>> plant = Scheme(boilers=2, tank="system loop").plant()
    >>> {"IT", "system loop"} <= set(dimmed(plant, read(plant), "boiler loop"))
    True
    """
    known = loops(plant, reading)
    if loop not in known:
        raise ValueError(f"{loop!r} is no loop of this plant: use {', '.join(known) or 'none; it has no loops'}")
    shown = set(known[loop])
    others = dict.fromkeys(x.role for x in reading.loops if x.role != loop and not loop.startswith(f"{x.role} "))
    return (*(name for name in (*plant.parts, *plant.run_names) if name not in shown), *others)


# -- trace the water -------------------------------------------------------------------------------------------

class _Ways:
    """The pipes of a plant as steps between ends, along the runs as they are written and, where need be, against them."""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.ahead: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self.behind: dict[str, list[tuple[str, str]]] = defaultdict(list)
        ports: dict[str, dict[str, None]] = defaultdict(dict)
        for name, run in zip(plant.run_names, plant.runs):
            for a, b in zip(run.through, run.through[1:]):
                self.ahead[a].append((name, b))
                self.behind[b].append((name, a))
                for end in (a, b):
                    ports[tag_of(end)][end] = None
        for ends in ports.values():                         # inside a vessel or a valve of three ports
            for a in ends:
                self.ahead[a] += [("", b) for b in ends if b != a]
                self.behind[a] += [("", b) for b in ends if b != a]

    def way(self, start: str, goal: str) -> list[tuple[str, str]]:
        """The shortest way, as (run, end), along the water; against it only where there is no other."""
        for both in (False, True):
            came: dict[str, tuple[str, str]] = {}
            queue = [start]
            for end in queue:
                onward = self.ahead[end] + (self.behind[end] if both else [])
                for run, other in sorted(onward, key=lambda o: (natural(o[1]), o[0])):
                    if other not in came and (other != start or start == goal):
                        came[other] = (run, end)
                        queue.append(other)
                if goal in came:
                    break
            if goal in came:
                found: list[tuple[str, str]] = []
                end = goal
                while not found or end != start:
                    run, before = came[end]
                    found.append((run, end))
                    end = before
                return found[::-1]
        return []

    def dead(self, run: str) -> bool:
        """True for a pipe to a dead end."""
        ends = self.plant.runs[self.plant.run_names.index(run)].through
        return any(self.plant.parts[tag_of(e)].what.shape == "end" for e in (ends[0], ends[-1]))


def lead_of(plant: Plant, reading: Reading) -> str:
    """The lead boiler; where none is named, the first."""
    return reading.lead or min((p.tag for p in plant.of_kind("boiler")), key=natural)


def loads(plant: Plant) -> tuple[str, ...]:
    """What takes heat, in the order in which the water reaches it."""
    return tuple(tag for tag in walk(plant)[0] if plant.is_load(tag))


def trace(plant: Plant, reading: Reading, to: str | None = None) -> tuple[Step, ...]:
    """The way of the water from the lead boiler to a load and back, part by part.

    to: tag of the load; the first that the water reaches, unless said.  A step's names are the run that leads there and
    the part. Empty where no pipe leads there and back.  Raises ValueError where `to` is no load.
    """
    known = loads(plant)
    if to is None:
        if not known:
            return ()
        to = known[0]
    if to not in known:
        raise ValueError(f"{to!r} takes no heat in this plant: use {', '.join(known) or 'none; it has no load'}")
    lead = lead_of(plant, reading)
    ways = _Ways(plant)
    out, home = ways.way(lead, to), ways.way(to, lead)
    if not out or not home:
        return ()
    row_: list[tuple[str, str]] = [("", lead), *out, *home]
    path: list[tuple[str, str]] = []
    for run, end in row_:                                   # two ports of one vessel are one step
        if run or not path:
            path.append((run, tag_of(end)))
    used = {run for run, _ in path}
    steps = []
    loop = None
    for at, (run, tag) in enumerate(path):
        words = _says(plant, ways, path, at, used)
        here = reading.loop_of(tag) or next((x for x in reading.loops if run in x.pipes), None)
        if here is not None and here is not loop:
            words += f" The water is in the {here.role} now." if at else ""
            loop = here
        steps.append(Step((run, tag) if run else (tag,), words))
    return tuple(steps)


def _says(plant: Plant, ways: _Ways, path: list[tuple[str, str]], at: int, used: set[str]) -> str:
    """What happens at one step."""
    tag, part = path[at][1], plant.parts[path[at][1]]
    if at == 0:
        return f"{tag} ({part.kind}{', leads' if part['lead'] else ''}) heats the water."
    if at == len(path) - 1:
        return f"Back at {tag}: the water has been round."
    if plant.is_load(tag):
        return f"{tag} ({part.kind}) takes heat; from here on the water is return."
    if part.kind in ("tee", "diverting valve", "mixing valve", "hydraulic separator", "buffer tank"):
        ends = [e for e in ways.ahead if tag_of(e) == tag] + [e for e in ways.behind if tag_of(e) == tag]
        leave = {tag_of(o) for e in ends for run, o in ways.ahead[e] if run and run not in used and not ways.dead(run)}
        come = {tag_of(o) for e in ends for run, o in ways.behind[e] if run and run not in used and not ways.dead(run)}
        hang = {tag_of(o) for e in ends for run, o in (*ways.ahead[e], *ways.behind[e]) if run and ways.dead(run)}
        said = []
        if leave:
            said.append(f"the water divides: some goes on to {row(sorted(leave, key=natural))}; follow it to {path[at + 1][1]}")
        if come:
            said.append(f"water from {row(sorted(come, key=natural))} joins")
        if hang and not said:
            verb = "hangs" if len(hang) == 1 else "hang"
            said.append(f"{row(sorted(hang, key=natural))} {verb} on the pipe; the water goes by")
        return f"{tag} ({part.kind}): {'; '.join(said) or 'the water passes'}."
    if part.kind == "boiler":
        return f"{tag} (boiler) heats the water again."
    return f"{tag} ({part.kind}): {part.what.says}."


# -- what is missing -------------------------------------------------------------------------------------------

def missing(plant: Plant, reading: Reading) -> tuple[Missing, ...]:
    """Parts that are not there and ought to be: those that a finding which must or should be mended asks to be fitted.

    >>> from figures.plant.scheme import Scheme
    >>> from figures.reading import read
    >>> plant = Scheme(faults=("relief-missing",)).plant()
    >>> [m.name for m in missing(plant, read(plant))]
    ['relief valve at B1']
    """
    found: dict[tuple[str, str], Missing] = {}
    for finding in reading.findings:
        kind = ABSENT.get(finding.rule, "")
        if finding.rule == "ghost-flow":
            kind = next((k for k in ("check valve", "motorised valve") if f"Fit a {k}" in finding.fix
                         or f"Fit a spring-loaded {k}" in finding.fix), "")
        fits = finding.fix.startswith("Fit ") or " fit " in finding.fix
        if finding.severity not in ("must fix", "should fix") or not kind or not fits:
            continue
        for tag in _beside(plant, reading, finding.rule, finding.parts):
            found.setdefault((kind, tag), Missing(kind, tag, finding.rule, f"{finding.says} {finding.fix}"))
    return tuple(found.values())


def _beside(plant: Plant, reading: Reading, rule: str, parts: tuple[str, ...]) -> tuple[str, ...]:
    """The parts beside which what is missing would be."""
    if rule == "ghost-flow":
        return parts[1:2] or parts[:1]
    if rule == "loop-pump":
        return parts[:1]
    if rule == "pump-bypass":
        return (lead_of(plant, reading),)
    if rule not in ("expansion-missing", "supply-sensor"):
        return parts
    lead = lead_of(plant, reading)
    systems = [t for loop in reading.loops if loop.role != "boiler loop" for t in loop.parts]
    fed = [t for t in loads(plant) if t in systems] or list(loads(plant))
    tags = [step.names[-1] for step in trace(plant, reading, fed[0])] if fed else []
    if rule == "supply-sensor":
        joints = {t for s in reading.separations for t in s.parts}
        return tuple([t for t in tags[:tags.index(fed[0])] if t in joints][-1:]) if tags else parts[:1]
    pumps = [t for t in tags if plant.parts[t].kind == "pump"]
    return tuple([t for t in pumps if t in systems][:1] or pumps[:1] or [lead])
