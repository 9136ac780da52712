"""Find the fault: a plant, what the piping rules have against it, and marks for pointing at the places.

The key is what the rules say must or should be fixed.  What they call a note or a matter of the local code is
never counted for anybody nor against anybody.  A plant without such a finding is sound, and then 'nothing is
wrong here' is right.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from typing import TYPE_CHECKING, Literal

from figures.plant import Plant, write_plant
from figures.plant.model import tag_of
from figures.reading import Finding, Reading
from figures.reading.evidence import listed

from .marking import BadAnswer
from .wrong import WRONG, called, suits, why_sound

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme
    from figures.reading.rules.context import Context

COUNTED = ("must fix", "should fix")
CHOICES = 9
"""How many things that can be wrong are offered, the right ones among them."""
FALSE_ALARM = 0.5
"""What a false alarm takes away, in faults: sending somebody to a sound part undoes half a find."""
SHARES = {0: 0.2, 1: 0.35, 2: 0.3, 3: 0.15}
"""How often a made plant carries so many faults."""
NOTHING = "Nothing is wrong here"

Verdict = Literal["found", "half", "false alarm", "noted", "again"]


@dataclass(frozen=True, slots=True)
class Claim:
    """What a learner says: this is wrong, and here.

    place: the tag of a part or the name of a run.  rule: which rule of piping is broken, a key of `WRONG`.
    """

    place: str
    rule: str


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, with every place that counts as pointing at it.

    finding: what the rule says.  named: the parts and pipes that the rule names.  near: further places that
    mean the same one: a pipe that touches a named part, a tee or fitting right beside it, whatever lies on the
    faulty branch.  A technician who points at the tee under a missing relief valve has found it.
    wide: places that do only together with the right words: all of the supply on which a sensor is missing, say.
    What is missing altogether stands nowhere, and there any place will do.
    """

    finding: Finding
    named: frozenset[str]
    near: frozenset[str]
    wide: frozenset[str] = frozenset()

    @property
    def pointed(self) -> frozenset[str]:
        """Places that are right whatever is said of them."""
        return self.named | self.near

    @property
    def places(self) -> frozenset[str]:
        """All that counts as its place for who says rightly what is wrong."""
        return self.named | self.near | self.wide

    @property
    def label(self) -> str:
        """What is wrong, as a technician says it."""
        return WRONG[self.finding.rule].label


@dataclass(frozen=True, slots=True)
class ClaimMark:
    """What one claim earned. fault: the place of the fault in `FindTask.faults` that it is about, else None."""

    claim: Claim
    verdict: Verdict
    because: str
    fault: int | None = None


@dataclass(frozen=True, slots=True)
class FindMark:
    """What an answer earned, fault by fault.

    points, of: one point a fault, or one for a sound plant.  shares: for each fault what of it was found, 0, ½ or 1.
    claims: one mark a claim.  because: how it stands, in a sentence that gives no place away.
    """

    points: float
    of: float
    shares: tuple[float, ...]
    claims: tuple[ClaimMark, ...]
    because: str
    misconception: int | None = None

    @property
    def right(self) -> bool:
        """Full points."""
        return self.points >= self.of

    @property
    def false_alarms(self) -> int:
        """How many claims were against sound places."""
        return sum(one.verdict == "false alarm" for one in self.claims)


@dataclass(frozen=True)
class FindTask:
    """A plant to be judged: see `find_task` and `task_of`.

    faults: what counts.  notes: findings that do not.  rules: what may be said to be wrong, in the order of
    `WRONG`.  seed: of a made plant, else None.
    """

    reading: Reading
    faults: tuple[Fault, ...]
    notes: tuple[Fault, ...]
    rules: tuple[str, ...]
    seed: int | None = None

    @property
    def plant(self) -> Plant:
        """The plant."""
        return self.reading.plant

    @property
    def sound(self) -> bool:
        """Nothing on it must or should be fixed."""
        return not self.faults

    @property
    def objective(self) -> str:
        """The objective that a mark counts for: that of the worst fault, and of reading pipes where all is sound."""
        return WRONG[self.faults[0].finding.rule].objective if self.faults else "J5"

    @property
    def places(self) -> tuple[str, ...]:
        """All that can be pointed at: parts, then pipes."""
        return (*self.plant.parts, *self.plant.run_names)

    @cached_property
    def right(self) -> tuple[Claim, ...]:
        """An answer that earns all: one claim a fault, none for a sound plant."""
        taken: list[Claim] = []
        for fault in self.faults:
            rule = fault.finding.rule
            ways = [Claim(p, rule) for p in (*fault.finding.parts, *fault.finding.pipes, *sorted(fault.places))]
            taken.append(next((way for way in ways if way not in taken), ways[0]))
        return tuple(taken)

    @cached_property
    def context(self) -> Context:
        """What the rules look at, for reasons."""
        from figures.reading.rules.context import Context
        from figures.reading.survey import survey

        return Context(survey(self.plant), self.reading)


# -- making a task -------------------------------------------------------------------------------------------

def find_task(seed: int, faults: int | None = None, size: str = "any") -> FindTask:
    """A made plant with faults, the same for the same seed.

    faults: how many things are spoilt, 0 to 3; by chance unless said, and one plant in five is then sound.
    size: 'small' for plants of few parts.  Raises ValueError for another number of faults.

    >>> task = find_task(5, faults=1)
    >>> mark_places(task, task.right).right, mark_places(task, ()).points
    (True, 0.0)
    >>> find_task(5, faults=0).sound
    True
    """
    from figures.plant.faults import pick_faults
    from figures.plant.scheme import Scheme

    if faults is not None and (isinstance(faults, bool) or faults not in SHARES):
        raise ValueError(f"faults: a whole number from 0 to {max(SHARES)}, not {faults!r}")
    chance = random.Random(f"loopbook find {int(seed)}")
    drawn = chance.choices(list(SHARES), list(SHARES.values()))[0]
    wanted = drawn if faults is None else faults
    sound = Scheme.random(seed, size=size)
    best = task_of(_renumbered(sound), seed)
    for _ in range(12 if wanted else 0):      # some faults are only worth a note: those do not count
        spoilt = replace(sound, faults=pick_faults(sound, chance.randrange(10**6), wanted))
        task = task_of(_renumbered(spoilt), seed)
        if len(task.faults) > len(best.faults):
            best = task
        if len(best.faults) >= wanted:
            break
    return best


RENUMBERED = {"tee": "T", "isolation valve": "HV", "check valve": "CV", "motorised valve": "MV", "drain": "D"}


def _renumbered(scheme: Scheme) -> Plant:
    """The scheme's plant with its valves and tees numbered through as they lie along the runs.

    A fault that puts a valve where none belongs has to name it, and a name that no sound plant has would tell.
    """
    from figures.plant.check import plant_from_data

    data = scheme.data()
    parts, runs = data["parts"], data["runs"]
    order = dict.fromkeys(tag_of(end) for run in runs for end in run["through"])
    kept = {tag for tag, body in parts.items() if body["kind"] not in RENUMBERED}
    names: dict[str, str] = {}
    for tag in order:
        if tag not in kept:
            stem = RENUMBERED[parts[tag]["kind"]]
            names[tag] = next(name for n in count(1) if (name := f"{stem}{n}") not in kept and name not in names.values())

    def named(end: str) -> str:
        tag, dot, port = end.partition(".")
        return f"{names.get(tag, tag)}{dot}{port}"

    for body in parts.values():
        if "at" in body:
            body["at"] = named(body["at"])
    return plant_from_data({**data, "parts": {named(tag): body for tag, body in parts.items()},
                            "runs": [{**run, "through": [named(end) for end in run["through"]]} for run in runs]})


def task_of(plant: Plant, seed: int | None = None) -> FindTask:
    """The task of judging any plant: the key is what the piping rules say of it."""
    from figures.reading import read

    reading = read(plant)
    merged: dict[tuple[str, frozenset[str]], Finding] = {}
    for finding in reading.findings:
        merged.setdefault((finding.rule, frozenset(finding.parts)), finding)
    made = [_fault(reading, finding) for finding in merged.values()]
    faults = tuple(fault for fault in made if fault.finding.severity in COUNTED)
    notes = tuple(fault for fault in made if fault.finding.severity not in COUNTED)
    source = str(seed) if seed is not None else hashlib.sha256(write_plant(plant).encode()).hexdigest()
    chance = random.Random(f"loopbook words {source}")
    right = {fault.finding.rule for fault in faults}
    others = [rule for rule in WRONG if rule not in right and suits(rule, reading)]
    spare = [rule for rule in WRONG if rule not in right and rule not in others]
    chance.shuffle(others)
    chance.shuffle(spare)
    offered = right | set([*others, *spare][:max(3, CHOICES - len(right))])
    return FindTask(reading, faults, notes, tuple(rule for rule in WRONG if rule in offered), seed)


def _fault(reading: Reading, finding: Finding) -> Fault:
    plant = reading.plant
    named = {*finding.parts, *finding.pipes}
    near: set[str] = set()
    for name, run in zip(plant.run_names, plant.runs):
        tags = [tag_of(end) for end in run.through]
        if named & set(tags):
            near.add(name)
        for at, tag in enumerate(tags):
            beside = {*tags[max(0, at - 1):at], *tags[at + 1:at + 2]}
            if (name in finding.pipes or beside & set(finding.parts)) and _lesser(plant, tag):
                near.add(tag)
    for part in plant.parts.values():
        if part.what.shape == "instrument" and tag_of(str(part["at"] or "")) in named:
            near.add(part.tag)
    rule = finding.rule
    wide: set[str] = set()
    if rule == "expansion-missing" and not plant.of_kind("expansion tank"):
        return Fault(finding, frozenset(), frozenset(), frozenset((*plant.parts, *plant.run_names)))
    if rule == "supply-sensor":               # where it stands now, or where it should
        near |= {tag_of(str(plant.parts[t]["at"] or "")) for t in finding.parts if plant.parts[t].what.shape == "instrument"}
        wide |= {t for s in reading.separations for t in (*s.parts, *s.pipes)}
        for loop in reading.loops:
            if loop.role == "system loop":
                wide |= {*loop.pipes, *(t for t in loop.parts if _lesser(plant, t))}
    elif rule == "relief-missing" and set(reading.boilers) <= set(finding.parts):
        near |= {part.tag for part in plant.of_kind("relief valve")}       # the one that they share
    elif rule == "pump-bypass":
        near |= {*reading.boilers, *(part.tag for part in plant.of_kind("bypass valve"))}
    elif rule == "reverse-return":
        near |= {t for e in reading.about("return") for t in (*e.parts, *e.pipes)}
    return Fault(finding, frozenset(named), frozenset(near - named - {""}), frozenset(wide - near - named))


def _lesser(plant: Plant, tag: str) -> bool:
    """Tees, valves and fittings: what nobody points at for its own sake when the branch is meant."""
    part = plant.parts[tag]
    return part.what.shape != "four ports" and part.kind not in ("boiler", "pump") and not plant.is_load(tag)


# -- marking ---------------------------------------------------------------------------------------------------

def mark_places(task: FindTask, claims: Iterable[Claim | tuple[str, str]]) -> FindMark:
    """The mark of an answer: claims in any order, or none at all, which says that nothing is wrong.

    A fault is found by a claim with its words at its place, half found by one with other words at its place.
    A claim that is about no fault is a false alarm and takes `FALSE_ALARM` of a point; one that is about a note
    or the local code counts neither way.  Raises BadAnswer for a place or words that the task does not offer.

    >>> task = find_task(5, faults=1)
    >>> (place, rule), = [(claim.place, claim.rule) for claim in task.right]
    >>> other = next(r for r in task.rules if r != rule and r not in [n.finding.rule for n in task.notes])
    >>> mark_places(task, [(place, rule)]).points, mark_places(task, [(place, other)]).points
    (1.0, 0.5)
    """
    said = _claims(task, claims)
    full = _matched(task, said, [_fits(task, claim) for claim in said])
    left = [k for k in range(len(task.faults)) if k not in full.values()]
    half = _matched(task, said, [[] if _fits(task, claim) or _note(task, claim) else
                                 [k for k in left if claim.place in task.faults[k].pointed] for claim in said])
    marks = tuple(_mark(task, claim, full.get(at), half.get(at)) for at, claim in enumerate(said))
    shares = [0.0] * len(task.faults)
    for one in marks:
        if one.fault is not None and one.verdict in ("found", "half"):
            shares[one.fault] = max(shares[one.fault], 1.0 if one.verdict == "found" else 0.5)
    false = sum(one.verdict == "false alarm" for one in marks)
    earned = sum(shares) if task.faults else 1.0 - false
    points = max(0.0, earned - FALSE_ALARM * false) if task.faults else max(0.0, earned)
    return FindMark(points, float(max(1, len(task.faults))), tuple(shares), marks, _stands(task, said, shares, false))


def _claims(task: FindTask, claims: Iterable[Claim | tuple[str, str]]) -> tuple[Claim, ...]:
    said: list[Claim] = []
    known = set(task.places)
    for given in claims:
        if isinstance(given, Claim):
            claim = given
        elif isinstance(given, tuple | list) and len(given) == 2 and all(isinstance(one, str) for one in given):
            claim = Claim(*given)
        else:
            raise BadAnswer("a claim is the name of a part or a pipe, and what is wrong with it")
        if claim.place not in known:
            raise BadAnswer(f"there is no part or pipe '{claim.place[:60]}' on this plant")
        if claim.rule not in task.rules:
            raise BadAnswer(f"'{claim.rule[:60]}' is not offered here; say one of {', '.join(task.rules)}")
        if claim not in said:
            said.append(claim)
    return tuple(said)


def _fits(task: FindTask, claim: Claim) -> list[int]:
    """Faults that a claim names rightly, those that the rule itself names there first."""
    fits = [k for k, fault in enumerate(task.faults) if fault.finding.rule == claim.rule and claim.place in fault.places]
    return sorted(fits, key=lambda k: claim.place not in task.faults[k].named)


def _note(task: FindTask, claim: Claim) -> Finding | None:
    """What a claim names rightly that is not counted."""
    return next((note.finding for note in task.notes
                 if note.finding.rule == claim.rule and claim.place in note.places), None)


def _matched(task: FindTask, said: tuple[Claim, ...], ways: list[list[int]]) -> dict[int, int]:
    """Claims shared out over faults so that as many faults as can be have one, whatever the order of the claims."""
    holder: dict[int, int] = {}

    def settle(at: int, tried: set[int]) -> bool:
        for k in ways[at]:
            if k not in tried:
                tried.add(k)
                if k not in holder or settle(holder[k], tried):
                    holder[k] = at
                    return True
        return False

    # Those that point at a named part choose first, so that a neighbour does not take their fault.
    for at in sorted(range(len(said)), key=lambda a: not any(said[a].place in task.faults[k].named for k in ways[a])):
        settle(at, set())
    return {at: k for k, at in holder.items()}


def _mark(task: FindTask, claim: Claim, full: int | None, half: int | None) -> ClaimMark:
    if full is not None:
        finding = task.faults[full].finding
        return ClaimMark(claim, "found", f"{finding.says} {finding.fix}", full)
    if fits := _fits(task, claim):
        return ClaimMark(claim, "again", "You have said so already; it counts once.", fits[0])
    if note := _note(task, claim):
        counts = "worth a note" if note.severity == "note" else "a matter of the local code"
        return ClaimMark(claim, "noted", f"{note.says} That is {counts}, and is not counted here.")
    sound = why_sound(task.context, claim.place, claim.rule)
    if half is not None:
        return ClaimMark(claim, "half", f"Something is wrong at {called(task.plant, claim.place)}, but not this. {sound}", half)
    return ClaimMark(claim, "false alarm", sound)


def _stands(task: FindTask, said: tuple[Claim, ...], shares: list[float], false: int) -> str:
    alarms = f" {false} false alarm{'s' if false > 1 else ''}." if false else ""
    if task.sound:
        return ("Right: nothing is wrong here that must or should be mended." if not false else
                f"What you point at is sound.{alarms}")
    found, half = shares.count(1.0), shares.count(0.5)
    if not said:
        return "Something is wrong here: this plant is not to be signed off."
    words = f"{found} of {len(shares)} found" + (f", {half} half found" if half else "") + "."
    missed = shares.count(0.0)
    more = f" {'One is' if missed == 1 else f'{missed} are'} still to be found." if missed else ""
    return words + alarms + more


def missed(task: FindTask, given: FindMark) -> str:
    """What was not found, or not wholly, with its place and its cure: for the end."""
    lines = [f"{listed((*f.finding.parts, *f.finding.pipes)[:4])}: {f.finding.says} {f.finding.fix}"
             for f, share in zip(task.faults, given.shares) if share < 1]
    return "\n".join(lines)
