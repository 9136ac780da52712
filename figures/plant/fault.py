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
    def keep(spoil: Spoil) -> Spoil:
        FAULTS[name] = Fault(
            name, rule, says, applies, spoil, frozenset(touches), recast or {}, expects or {}
        )
        return spoil

    return keep


# -- what a scheme has ---------------------------------------------------------------------------------


def several(s: Scheme) -> bool:
    return s.boilers > 1


def single(s: Scheme) -> bool:
    return s.arrangement == "single loop"


def separated(s: Scheme) -> bool:
    return not single(s)


def pumped(s: Scheme) -> bool:
    return s.boilers_by == "pump"


def valved(s: Scheme) -> bool:
    return s.boilers_by == "motorised valve"


def tees(s: Scheme) -> bool:
    return s.separation in ("closely spaced tees", "tees per boiler", "tees per load")


def vessel(s: Scheme) -> bool:
    return s.separation in ("hydraulic separator", "buffer tank")


def two_mains(s: Scheme) -> bool:
    return s.separation in ("closely spaced tees", "hydraulic separator", "buffer tank")


def has_tank(s: Scheme) -> bool:
    return s.tank != "none"


def branch_beside_zones(s: Scheme) -> bool:
    return s.tank == "system loop" and s.tank_joins == "branch" and s.tank_by != "diverting valve"


def pushed_tank(s: Scheme) -> bool:
    return branch_beside_zones(s) and s.tank_by == "motorised valve"


def system_pumps(p: Spoiler) -> list[str]:
    return [tag for tag in p.parts if tag.startswith("PS") and p.parts[tag]["kind"] == "pump"]


def has_system_pump(s: Scheme) -> bool:
    return s.system_pump != "none"


def plain_zones(s: Scheme) -> list[int]:
    return [i for i in range(1, s.emitters + 1) if i not in s.low_temperature]
