"""What a technician is to be able to do: the objectives, their weights, and those that must be passed.

Order and weights are those of people who teach the trade (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Objective:
    """One thing to be able to do.

    code: 'R1' … 'P2'.  part: the part of the job it belongs to.  text: completes 'You can …'.
    weight: its share of a test [points of 100].  must_pass: to be passed whatever the total.
    """

    code: str
    part: str
    text: str
    weight: int
    must_pass: bool = False


PASS_SHARE = 0.8
"""Share of its own points that a must-pass objective needs [-]."""

_ROWS: tuple[tuple[str, str, str, int], ...] = (
    ("R1", "Read", "name the parts and say what each does", 3),
    ("R2", "Read", "trace supply and return", 5),
    ("R3", "Read", "find the separation and name it", 5),
    ("R4", "Read", "tell a separation from a bypass or from tees set too wide", 4),
    ("R5", "Read", "say which pump drives which loop", 4),
    ("R6", "Read", "find the indirect tank, or show that there is none", 3),
    ("R7", "Read", "say which loop feeds the coil", 6),
    ("R8", "Read", "count the boilers and say which one leads", 2),
    ("R9", "Read", "tell direct return from reverse return", 3),
    ("C1", "Configure", "derive the control configuration", 8),
    ("C2", "Configure", "set DHW priority and its time limit", 4),
    ("C3", "Configure", "place the sensors", 5),
    ("C4", "Configure", "assign outputs and the proof of flow", 5),
    ("C5", "Configure", "say what outdoor reset needs before it may be used", 3),
    ("F1", "Foresee", "list what runs on a heat call, on a DHW call, and on both", 4),
    ("F2", "Foresee", "name the damage that a wrong setting does", 5),
    ("F3", "Foresee", "compute the mixed temperature and the direction in the common pipe", 4),
    ("F4", "Foresee", "say where the last heat goes when a call ends", 2),
    ("F5", "Foresee", "judge a return temperature", 3),
    ("J1", "Judge", "judge relief valve, expansion tank and fill", 6),
    ("J2", "Judge", "judge boiler isolation and both bypasses", 3),
    ("J3", "Judge", "find ghost flow and its right cure", 3),
    ("J4", "Judge", "weigh scalding against bacterial growth", 3),
    ("J5", "Judge", "find what is reversed, crossed or blocked", 2),
    ("P1", "Prove", "put the commissioning steps in order", 3),
    ("P2", "Prove", "sign the sheet, state doubts, and know when to stop", 2),
)
_MUST_PASS = frozenset({"R7", "C1", "J1", "J4"})

OBJECTIVES: Mapping[str, Objective] = MappingProxyType(
    {code: Objective(code, part, text, weight, code in _MUST_PASS) for code, part, text, weight in _ROWS})
"""Every objective by its code, in the order of the job.

>>> sum(objective.weight for objective in OBJECTIVES.values())
100
>>> OBJECTIVES["R7"].text, OBJECTIVES["R7"].must_pass
('say which loop feeds the coil', True)
"""

PARTS: tuple[str, ...] = tuple(dict.fromkeys(objective.part for objective in OBJECTIVES.values()))
"""The parts of the job in order.

>>> PARTS
('Read', 'Configure', 'Foresee', 'Judge', 'Prove')
"""
