"""What a fault is, the table of all of them, and what a scheme must have so that one can be made on it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from .spoiler import Spoiler

if TYPE_CHECKING:
    from .scheme import Scheme

Applies = Callable[["Scheme"], bool]
Spoil = Callable[[Spoiler], None]


@dataclass(frozen=True)
class Fault:
    """One way to spoil a plant.

    rule: the piping rule that must fire.  says: what is done to the plant, for an instructor.
    applies: whether a scheme can carry it.  touches: what it changes; two faults that touch the same thing
    cannot go together.  recast: parameters of the scheme that it changes before the plant is made.
    expects: keys of `Scheme.expected()` that come out otherwise.
    """

    name: str
    rule: str
    says: str
    applies: Applies
    spoil: Spoil
    touches: frozenset[str]
    recast: Mapping[str, object] = field(default_factory=dict)
    expects: Mapping[str, object] = field(default_factory=dict)


FAULTS: dict[str, Fault] = {}


def fault(
    name: str,
    rule: str,
    says: str,
    applies: Applies,
    *touches: str,
    recast: Mapping[str, object] | None = None,
    expects: Mapping[str, object] | None = None,
) -> Callable[[Spoil], Spoil]:
    """Enter the function below in the table; the arguments are `Fault`'s."""

    def keep(spoil: Spoil) -> Spoil:
        FAULTS[name] = Fault(
            name, rule, says, applies, spoil, frozenset(touches), recast or {}, expects or {}
        )
        return spoil

    return keep


# -- what a scheme has ---------------------------------------------------------------------------------


def several(s: Scheme) -> bool:
    """More than one boiler."""
    return s.boilers > 1


def single(s: Scheme) -> bool:
    """One loop only."""
    return s.arrangement == "single loop"


def separated(s: Scheme) -> bool:
    """Two loops or more."""
    return not single(s)


def pumped(s: Scheme) -> bool:
    """Each boiler has a pump of its own."""
    return s.boilers_by == "pump"


def valved(s: Scheme) -> bool:
    """Each boiler has a motorised valve."""
    return s.boilers_by == "motorised valve"


def tees(s: Scheme) -> bool:
    """Loops meet at closely spaced tees."""
    return s.separation in ("closely spaced tees", "tees per boiler", "tees per load")


def vessel(s: Scheme) -> bool:
    """Loops meet in a hydraulic separator or a buffer tank."""
    return s.separation in ("hydraulic separator", "buffer tank")


def two_mains(s: Scheme) -> bool:
    """One separation between the boilers' main and the building's."""
    return s.separation in ("closely spaced tees", "hydraulic separator", "buffer tank")


def has_tank(s: Scheme) -> bool:
    """Something heats DHW."""
    return s.tank != "none"


def branch_beside_zones(s: Scheme) -> bool:
    """The tank hangs between the same mains as the zones."""
    return s.tank == "system loop" and s.tank_joins == "branch" and s.tank_by != "diverting valve"


def pushed_tank(s: Scheme) -> bool:
    """The pump that serves the zones pushes through the tank too."""
    return branch_beside_zones(s) and s.tank_by == "motorised valve"


def system_pumps(p: Spoiler) -> list[str]:
    """Tags of the system pumps: one, or one a load."""
    return [tag for tag in p.parts if tag.startswith("PS") and p.parts[tag]["kind"] == "pump"]


def has_system_pump(s: Scheme) -> bool:
    """A pump moves the building's water for all zones of a loop."""
    return s.system_pump != "none"


def plain_zones(s: Scheme) -> list[int]:
    """Numbers of the emitters that stand behind no mixing valve."""
    return [i for i in range(1, s.emitters + 1) if i not in s.low_temperature]
