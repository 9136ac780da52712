"""What a reading says: plain frozen records, without the work of getting there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from figures.plant.model import Plant

Arrangement = Literal["single loop", "separated loops", "undetermined"]
Role = Literal["boiler loop", "system loop", "single loop"]
Dhw = Literal["none", "system loop", "boiler loop", "undetermined"]
Control = Literal["heating only", "DHW on the system loop", "DHW on the boiler loop", "undetermined"]
Priority = Literal["not applicable", "optional", "always", "undetermined"]
ReturnOrder = Literal["single boiler", "reverse", "direct", "undetermined", "not applicable"]
Severity = Literal["must fix", "should fix", "check local code", "note"]

SEVERITIES: tuple[Severity, ...] = ("must fix", "should fix", "check local code", "note")
CONFIGURATIONS: tuple[Control, ...] = ("heating only", "DHW on the system loop", "DHW on the boiler loop")


@dataclass(frozen=True, slots=True)
class Separation:
    """Where two loops meet without pushing water through each other.

    kind: 'closely spaced tees', 'hydraulic separator' or 'buffer tank'.  parts: the two tees, or the vessel,
    and whatever stands in the common pipe.  spacing_diameters: length of the common pipe over its inside
    diameter, None for a vessel.  pipes: names of the runs that make up the common pipe.
    """

    kind: str
    parts: tuple[str, ...]
    spacing_diameters: float | None
    pipes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Loop:
    """One loop: its role, its parts (sorted tags, dead ends included) and the names of its runs.

    A part belongs to one loop or one separation, never to both; so does a run.
    """

    role: Role
    parts: tuple[str, ...]
    pipes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reason for one key of the reading: `about` names the key, `says` is a full sentence.

    parts, pipes: what to light up.  absent: kinds of part that were looked for and are not there.
    """

    about: str
    says: str
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """What one piping rule says against a plant: what is wrong on this plant, and how to mend it."""

    rule: str
    severity: Severity
    parts: tuple[str, ...]
    says: str
    fix: str
    pipes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Reading:
    """All that the classifier says of a plant. The keys are those of `loopbook read --json`.

    loads_on: for each load (emitter, tank, heat exchanger), the index in `loops` of the loop it lies in,
    None where it straddles or lies on a dead end.  tanks: tags of whatever heats DHW.
    """

    plant: Plant
    arrangement: Arrangement
    separations: tuple[Separation, ...]
    loops: tuple[Loop, ...]
    dhw: Dhw
    control: Control
    dhw_priority: Priority
    boilers: tuple[str, ...]
    lead: str | None
    return_order: ReturnOrder
    evidence: tuple[Evidence, ...]
    findings: tuple[Finding, ...]
    tanks: tuple[str, ...] = ()
    loads_on: Mapping[str, int | None] | None = None

    @property
    def title(self) -> str:
        """The plant's title."""
        return self.plant.title

    def about(self, key: str) -> tuple[Evidence, ...]:
        """The evidence for one key."""
        return tuple(e for e in self.evidence if e.about == key)

    def loop_of(self, tag: str) -> Loop | None:
        """The loop that a part lies in; None for a part of a separation, an instrument, or a straddling load."""
        return next((loop for loop in self.loops if tag in loop.parts), None)

    def as_dict(self) -> dict[str, object]:
        """What `loopbook read --json` prints: plain lists, strings and numbers."""
        return {
            "title": self.title,
            "arrangement": self.arrangement,
            "separations": [{"kind": s.kind, "parts": list(s.parts), "spacing_diameters": s.spacing_diameters}
                            for s in self.separations],
            "loops": [{"role": loop.role, "parts": list(loop.parts)} for loop in self.loops],
            "dhw": self.dhw,
            "control": self.control,
            "dhw_priority": self.dhw_priority,
            "boilers": list(self.boilers),
            "lead": self.lead,
            "return": self.return_order,
            "evidence": [e.says for e in self.evidence],
            "findings": [{"rule": f.rule, "severity": f.severity, "parts": list(f.parts), "says": f.says,
                          "fix": f.fix} for f in self.findings],
        }
