"""What stands on a settings sheet, as plain frozen records: no page, no file, no drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Literal

from figures.plant.units import Units
from figures.reading.record import Reading

Use = Literal["used", "not used", "missing", "ask"]
"""used: connect it.  not used: leave it unconnected.  missing: this plant needs it and the drawing lacks it.
ask: the drawing does not tell; the sheet says what to ask."""


@dataclass(frozen=True, slots=True)
class Told:
    """One thing read or told: its name, its value, why, and the parts that show it.

    open: nothing is settled yet; `why` says what to ask.  write: there is room to write the value in.
    """

    name: str
    value: str
    why: str = ""
    parts: tuple[str, ...] = ()
    open: bool = False
    write: bool = False


@dataclass(frozen=True, slots=True)
class Wire:
    """One output or input of the control: what it goes to on this plant, or why it is not used."""

    name: str
    side: Literal["output", "input"]
    use: Use
    parts: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True)
class ValveRow:
    """Valves of one kind that stand alike: how they stand in service, and without power where that matters."""

    parts: tuple[str, ...]
    kind: str
    position: str
    without_power: str = ""


@dataclass(frozen=True, slots=True)
class Clear:
    """A finding to be cleared, with the number that it has on the drawing."""

    number: int
    rule: str
    severity: str
    parts: tuple[str, ...]
    says: str
    fix: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to do and tick. `write`: what to write beside it, each with its unit, '' where it has none."""

    says: str
    parts: tuple[str, ...] = ()
    write: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One step of commissioning, in the order in which it is done."""

    number: int
    title: str
    checks: tuple[Check, ...]
    caution: str = ""


@dataclass(frozen=True)
class Content:
    """All that a settings sheet says about one plant, in the units asked for.

    ask: what is to be asked before anything is set; empty where the drawing settles everything.
    read: the reading with its evidence.  told: what the control is told.  reset: the rows of the reset line,
    (outdoor, supply, return), () where reset is not used.  words: an instructor's words beside ours, ours first.
    """

    title: str
    units: Units
    reading: Reading
    description: str
    ask: tuple[Told, ...]
    read: tuple[Told, ...]
    told: tuple[Told, ...]
    reset: tuple[tuple[str, str, str], ...]
    wires: tuple[Wire, ...]
    valves: tuple[ValveRow, ...]
    findings: tuple[Clear, ...]
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    signs: tuple[str, ...]
    words: tuple[tuple[str, str], ...] = ()
    words_from: str = ""

    def as_dict(self) -> Mapping[str, object]:
        """Plain lists, strings and numbers; the drawing and the reading itself are left out."""
        plain = {name: getattr(self, name) for name in ("title", "units", "reset", "cautions", "signs")}
        for name in ("ask", "read", "told", "wires", "valves", "findings", "steps"):
            plain[name] = [asdict(row) for row in getattr(self, name)]
        if self.words:
            plain["words"] = dict(self.words)
        return plain
