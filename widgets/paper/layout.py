"""A sheet as sections of paragraphs, tables and drawings: laid out once, then written as text, HTML or PDF."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from .record import Content, Told
from .units import joined

LINE = "________"
MUST = "must fix"
ROOMY = ("Site", "Signed")      # tables whose rows are high enough to write in
MOST_TOGETHER = 15     # rows that are kept on one page


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph. tone: 'plain', 'strong' or 'caution'."""

    text: str
    tone: Literal["plain", "strong", "caution"] = "plain"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head. shares: widths against each other.  tick: a box to tick stands before every row.

    whole: kept on one page.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    tick: bool = False
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """The place of the drawing, with its description."""

    description: str


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands below it. level: 1, or 2 for a step within one. whole: kept on one page."""

    title: str
    blocks: tuple[Para | Table | Picture, ...]
    level: int = 1
    whole: bool = False


def sections(of: Content, beside: Callable[[str], str]) -> tuple[Section, ...]:
    """The whole sheet. `beside` puts an instructor's word beside ours."""
    site = Table(("site", "control fitted", "date"), (("", "", ""),), (4, 4, 2), whole=True)
    found = [Section("Site", (site,), whole=True), *_first(of), _drawing(of, beside), *_findings(of),
             _read(of, beside), _told(of, beside)]
    if of.reset:
        found.append(Section("Reset line", (
            Table(("outdoors", "supply", "return"), of.reset, (1, 1, 1), whole=True),
            Para("Points of the design's own line, for emitters at full flow (after EN 442). Where a boiler is not built to "
                 "condense, its return may not get as cold as this: its instructions rule.")), 2, True))
    found += [_wires(of, beside), _valves(of, beside)]
    if of.words:
        half = (len(of.words) + 1) // 2
        pairs = tuple((*left, *right) for left, right in zip(of.words[:half], (*of.words[half:], ("", ""))))
        found.append(Section("Other words for the same", (Para(of.words_from), Table(
            ("here", "there", "here", "there"), pairs, (1, 1, 1, 1), whole=len(pairs) <= MOST_TOGETHER))))
    found.append(Section("Commissioning checklist", (
        Para("In this order. A step is done when all of it is ticked; what cannot be ticked is written under 'handover'."),)))
    for step in of.steps:
        rows = tuple((check.says, "   ".join(_write(label, unit) for label, unit in check.write)) for check in step.checks)
        blocks: list[Para | Table] = [Table(("done", "written"), rows, (6.6, 3.4), tick=True, whole=len(rows) <= MOST_TOGETHER)]
        if step.caution:
            blocks.insert(0, Para(step.caution, "caution"))
        title = f"{step.number}  {step.title[0].upper()}{step.title[1:]}"
        found.append(Section(title, tuple(blocks), 2, len(rows) <= MOST_TOGETHER))
    found.append(Section("Cautions", tuple(Para(text, "caution") for text in of.cautions), whole=True))
    found.append(Section("Signed", (Table(("", "name and licence", "signature", "date"), tuple(
        (who, "", "", "") for who in of.signs), (2, 3, 3, 2), whole=True),), whole=True))
    return tuple(found)


def _write(label: str, unit: str) -> str:
    return joined(f"{label} {LINE}{f' {unit}' if unit else ''}".strip())


def _first(of: Content) -> list[Section]:
    must = [f for f in of.findings if f.severity == MUST]
    words = [f"{len(must)} finding{'s' if len(must) != 1 else ''} must be fixed before this plant is fired: "
             f"number{'s' if len(must) != 1 else ''} {', '.join(str(f.number) for f in must)} on the drawing."] if must else []
    blocks: list[Para | Table] = [Para(text, "strong") for text in words]
    if of.ask:
        blocks.append(Table(("what", "how it stands", "what to ask"), tuple(
            (line.name, line.value, line.why) for line in of.ask), (2, 2, 7)))
        return [Section("Ask before anything is set", tuple(blocks))]
    return [Section("Before anything is set", tuple(blocks))] if blocks else []


def _drawing(of: Content, beside: Callable[[str], str]) -> Section:
    return Section("Drawing", (Picture(of.description), Para(
        "Supply solid, return dashed. Numbers in black discs are the findings below." if of.findings else
        "Supply solid, return dashed.")))


def _findings(of: Content) -> list[Section]:
    if not of.findings:
        return [Section("Findings to clear first", (Para("None: every piping rule that was looked at holds."),))]
    rows = tuple((str(f.number), f.severity.upper() if f.severity == MUST else f.severity, f"{f.says} — {f.fix}",
                  "") for f in of.findings)
    return [Section("Findings to clear first", (Table(("no.", "weight", "what is wrong — how to mend it", "cleared, by"), rows,
                                                      (0.7, 1.8, 8, 2), tick=True),))]


def _read(of: Content, beside: Callable[[str], str]) -> Section:
    return Section("What was read, and why", (Table(("", "reading", "evidence"), tuple(
        (beside(line.name), _value(line, beside), line.why) for line in of.read), (2.5, 3.2, 5.7)),))


def _told(of: Content, beside: Callable[[str], str]) -> Section:
    rows = tuple((beside(line.name), _value(line, beside), line.why, LINE if line.write else "") for line in of.told)
    return Section("What the control is told", (Table(("setting", "value", "remarks", "as left"), rows, (2.4, 2.8, 5, 1.6)),))


def _value(line: Told, beside: Callable[[str], str]) -> str:
    if line.open:
        return f"{line.value.upper()}: ask"
    return beside(line.value) or LINE


def _wires(of: Content, beside: Callable[[str], str]) -> Section:
    def rows(side: str) -> tuple[tuple[str, ...], ...]:
        return tuple((beside(wire.name), {"missing": "MISSING", "ask": "ASK"}.get(wire.use, wire.use), ", ".join(wire.parts),
                      wire.says) for wire in of.wires if wire.side == side)

    head, shares = ("", "use", "goes to", "remarks"), (2.4, 1.2, 2.2, 5)
    return Section("Outputs and inputs", (Table(("output", *head[1:]), rows("output"), shares, whole=True),
                                          Table(("input", *head[1:]), rows("input"), shares, whole=True)))


def _valves(of: Content, beside: Callable[[str], str]) -> Section:
    rows = tuple((", ".join(row.parts), beside(row.kind), row.position, row.without_power) for row in of.valves)
    if not rows:
        return Section("Valve positions", (Para("No valve is drawn."),))
    return Section("Valve positions", (Table(("valves", "kind", "in service", "without power"), rows, (3, 2.2, 4, 1.8),
                                             tick=True, whole=len(rows) <= MOST_TOGETHER),))

