"""What is set in a plant: which pumps are off, which valves shut, and so on. One record for every caller."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from figures.plant.kinds import VALVES
from figures.plant.model import Plant
from figures.plant.refusal import a

from .water import COLDEST_C, HOTTEST_C

SHUTS = VALVES | {"bypass valve"}
"""Kinds of part that `shut` can shut."""


class NoSolution(ArithmeticError):
    """A plant that could not be balanced. `part` names the place, `says` is a full sentence."""

    def __init__(self, part: str, says: str) -> None:
        super().__init__(says)
        self.part = part
        self.says = says


@dataclass(frozen=True)
class State:
    """What is set. A tag may be given alone or in any collection.

    off: pumps that stand still (all others run).  shut: valves that are shut (all others are open).
    divert: diverting valves turned to port b (they stand at a).  idle: boilers that give no heat.
    speed: pump → share of full speed, 0 to 2.  position: valve → share of its full Kv, 0 to 1; of a mixing
    valve the share of its hot port (found from `set_c` unless given).  load: load → heat wanted [kW].
    water_c: temperature at which the water's properties are taken [°C], 0 to 120.
    setpoint_c: boiler → outlet temperature to hold [°C] in place of its own.

    >>> State(off="PB2").off
    frozenset({'PB2'})
    """

    off: Collection[str] = frozenset()
    shut: Collection[str] = frozenset()
    divert: Collection[str] = frozenset()
    idle: Collection[str] = frozenset()
    speed: Mapping[str, float] = field(default_factory=dict)
    position: Mapping[str, float] = field(default_factory=dict)
    load: Mapping[str, float] = field(default_factory=dict)
    water_c: float = 60.0
    setpoint_c: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("off", "shut", "divert", "idle"):
            given = getattr(self, name)
            if type(given) is not frozenset:
                object.__setattr__(self, name, frozenset([given] if isinstance(given, str) else given))
        for name in ("speed", "position", "load", "setpoint_c"):
            object.__setattr__(self, name, dict(getattr(self, name)))

    def __hash__(self) -> int:
        return hash((self.off, self.shut, self.divert, self.idle, self.water_c, *(
            frozenset(getattr(self, name).items()) for name in ("speed", "position", "load", "setpoint_c"))))

    def refusals(self, plant: Plant) -> list[str]:
        """Why this state cannot be set in `plant`: one sentence for each fault, none where all is well."""
        return list(self._refusals(plant))

    def _refusals(self, plant: Plant) -> Iterator[str]:
        wanted: tuple[tuple[str, Collection[str], Collection[str], str], ...] = (
            ("off", self.off, ("pump",), "a pump"),
            ("shut", self.shut, SHUTS, "a valve with two ports"),
            ("divert", self.divert, ("diverting valve",), "a diverting valve"),
            ("idle", self.idle, ("boiler",), "a boiler"),
            ("speed", self.speed, ("pump",), "a pump"),
            ("position", self.position, SHUTS - {"check valve"} | {"mixing valve"}, "a valve that can be set"),
            ("load", self.load, ("emitter", "indirect tank", "heat exchanger"), "a load"),
            ("setpoint_c", self.setpoint_c, ("boiler",), "a boiler"))
        for name, tags, kinds, what in wanted:
            for tag in sorted(tags):
                part = plant.parts.get(tag)
                if part is None:
                    yield f"{name}: '{tag[:40]}' is no part of this plant; name {what}"
                elif part.kind not in kinds:
                    yield f"{name}: {tag} is {a(part.kind)}; name {what}"
        limits = (("speed", self.speed, 0.0, 2.0), ("position", self.position, 0.0, 1.0),
                  ("load", self.load, 0.0, 1e6), ("setpoint_c", self.setpoint_c, 5.0, HOTTEST_C),
                  ("water_c", {"": self.water_c}, COLDEST_C, HOTTEST_C))
        for name, figures, low, high in limits:
            for tag, value in figures.items():
                if not low <= value <= high:
                    yield f"{name}{' of ' if tag else ''}{tag}: {value:g} is out of range; " \
                          f"write a figure from {low:g} to {high:g}"
