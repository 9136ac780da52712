"""Faults on purpose: each spoils the plant of a scheme in one way that a piping rule must see.

`FAULTS` is the table. The first fault of a rule bears the rule's name. A fault edits the data of the finished
plant, so what it makes goes through the same check as any plant file.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from . import faults_loops, faults_parts
from .fault import FAULTS, Fault
from .spoiler import Spoiler

if TYPE_CHECKING:
    from .scheme import Scheme

__all__ = ["FAULTS", "Fault", "applicable", "check_faults", "expected_with_faults", "pick_faults", "spoiled"]

# Importing the two modules is what fills the table.
assert faults_loops and faults_parts


def check_faults(scheme: Scheme) -> None:
    """Raises ValueError where a fault is not known, does not fit the scheme, or meets another's work."""
    taken: dict[str, str] = {}
    sound = scheme.sound()
    for name in scheme.faults:
        fault = FAULTS.get(name)
        if fault is None:
            raise ValueError(f"faults: '{name}' is not known; use one of {', '.join(FAULTS)}")
        if not fault.applies(sound):
            raise ValueError(f"the fault '{name}' ({fault.says}) cannot be made on this scheme")
        for thing in sorted(fault.touches):
            if thing in taken:
                raise ValueError(
                    f"the faults '{taken[thing]}' and '{name}' both change the same thing ({thing})"
                )
            taken[thing] = name


def spoiled(scheme: Scheme) -> dict[str, Any]:
    """The data of a scheme's plant with its faults made, in the order of the table."""
    from .build import built

    faults = [fault for name, fault in FAULTS.items() if name in scheme.faults]
    changes = {key: value for fault in faults for key, value in fault.recast.items()}
    cast = replace(scheme, faults=(), **changes)  # type: ignore[arg-type]
    data = built(cast).data
    for fault in faults:
        fault.spoil(Spoiler(cast, data, fault.name))
    return data


def expected_with_faults(scheme: Scheme, wanted: Mapping[str, object]) -> dict[str, object]:
    """`wanted`, changed by what the scheme's faults make of it."""
    changed = dict(wanted)
    for name in scheme.faults:
        changed.update(FAULTS[name].expects)
    return changed


def applicable(scheme: Scheme) -> tuple[Fault, ...]:
    """The faults that a sound scheme can carry, in the order of the table."""
    return tuple(fault for fault in FAULTS.values() if fault.applies(scheme))


def pick_faults(scheme: Scheme, seed: int, n: int) -> tuple[str, ...]:
    """Up to `n` faults of different rules that can go together, the same for the same seed."""
    chance = random.Random(f"loopbook faults {int(seed)}")
    found = list(applicable(scheme))
    chance.shuffle(found)
    chosen: list[Fault] = []
    for fault in found:
        free = not any(fault.rule == other.rule or fault.touches & other.touches for other in chosen)
        if free and len(chosen) < n:
            chosen.append(fault)
    return tuple(fault.name for fault in chosen)
