"""A plant in words, in the order in which one reads it: what is there, what is not, part by part along the water."""

from __future__ import annotations

from collections import defaultdict

from figures.plant.kinds import KINDS
from figures.plant.model import Plant, tag_of
from figures.reading.record import Reading

from .skeleton import natural

LOOKED_FOR = ("indirect tank", "motorised valve", "bypass valve", "relief valve", "expansion tank")
ONES = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def plural(kind: str) -> str:
    """More than one of a kind.

    >>> plural("low-water cut-off"), plural("emitter")
    ('low-water cut-offs', 'emitters')
    """
    return kind + "s"


def count(number: int, kind: str) -> str:
    """A number of parts in words.

    >>> count(2, "boiler")
    'two boilers'
    """
    return f"{ONES[number] if number < len(ONES) else number} {kind if number == 1 else plural(kind)}"


def row(words: list[str]) -> str:
    """Words with commas and an 'and'.

    >>> row(["A", "B", "C"])
    'A, B and C'
    """
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def walk(plant: Plant) -> tuple[list[str], list[int]]:
    """Tags and indices of runs in the order in which the water meets them, from the lead boiler on: a branch at a
    time, an instrument after what it is fixed to.

    >>> from figures.plant.scheme import Scheme
    >>> walk(Scheme().plant())[0][0]
    'B1'
    """
    leaves: dict[str, list[int]] = defaultdict(list)
    for index in sorted(range(len(plant.runs)), key=lambda i: natural(plant.run_names[i])):
        for end in plant.runs[index].through[:-1]:
            leaves[tag_of(end)].append(index)
    fixed: dict[str, list[str]] = defaultdict(list)
    for tag in sorted(plant.parts, key=natural):
        at = plant.parts[tag].given.get("at")
        if isinstance(at, str):
            fixed[tag_of(at)].append(tag)
    tags: dict[str, None] = {}
    runs: dict[int, None] = {}
    boilers = sorted(plant.of_kind("boiler"), key=lambda p: (not p["lead"], natural(p.tag)))
    for first in [*(p.tag for p in boilers), *sorted(plant.parts, key=natural)]:
        ahead = [first]
        while ahead:
            tag = ahead.pop()
            if tag not in tags:
                tags[tag] = None
                tags |= dict.fromkeys(fixed[tag])
            onward = [i for i in leaves[tag] if i not in runs]
            onward.sort(key=lambda i: plant.parts[tag_of(plant.runs[i].through[-1])].what.shape != "end")
            runs |= dict.fromkeys(onward)                   # dead ends first, then on with the water
            for index in reversed(onward):
                ahead += reversed([t for t in map(tag_of, plant.runs[index].through) if t not in tags])
    return list(tags), list(runs)


def describe(plant: Plant, reading: Reading | None, title: str) -> str:
    """The description. Its first line stands alone: title, boilers, arrangement, tank."""
    boilers = sorted((p.tag for p in plant.of_kind("boiler")), key=natural)
    tanks = sorted((t for t in plant.parts if plant.is_dhw(t)), key=natural)
    first = f"{title or 'A plant without a title'}: {count(len(boilers), 'boiler')}"
    if reading is not None:
        first += f", {reading.arrangement}"
        first += {"none": ", no indirect tank", "undetermined": ", DHW undetermined"}.get(
            reading.dhw, f", DHW on the {reading.dhw}")
    else:
        first += f", {count(len(tanks), 'DHW tank')}"
    lines = [first + "."]
    there = []
    for kind in KINDS:
        tags = sorted((p.tag for p in plant.of_kind(kind)), key=natural)
        if tags and kind != "tee":
            there.append(f"{count(len(tags), kind)} ({row(tags)})")
    lines.append("There are " + row(there) + ".")
    absent = [kind for kind in LOOKED_FOR if not plant.of_kind(kind)]
    if absent:
        lines.append("There is no " + ", no ".join(absent) + ".")
    if reading is not None:
        for s in reading.separations:
            spacing = f", {s.spacing_diameters:.1f} inside diameters apart" if s.spacing_diameters else ""
            lines.append(f"Separation: {s.kind} ({row(list(s.parts))}{spacing}).")
        for loop in reading.loops:
            inside = [t for t in sorted(loop.parts, key=natural) if plant.parts[t].kind != "tee"]
            if inside:
                lines.append(f"{loop.role.capitalize()}: {row(inside)}.")
        if len(boilers) > 1:
            lead = f"{reading.lead} leads" if reading.lead else "no single lead boiler"
            lines.append(f"{lead[0].upper()}{lead[1:]}; return: {reading.return_order}.")
    against = [t for t, p in plant.parts.items() if p.given.get("reversed")]
    if against:
        lines.append(f"Set against its run: {row(sorted(against, key=natural))}.")
    for name, run in ((plant.run_names[i], plant.runs[i]) for i in walk(plant)[1]):
        inside = [tag_of(e) for e in run.through[1:-1]]
        via = f" through {row([f'{plant.parts[t].kind} {t}' for t in inside])}" if inside else ""
        lines.append(f"Pipe {name}: from {run.through[0]}{via} to {run.through[-1]}.")
    return "\n".join(lines)
