"""What a plant is, once its file has been read: parts joined by runs. Nothing here ever changes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from .kinds import KINDS, Kind, Value
from .pipe import SIZES, Bore


@dataclass(frozen=True, slots=True)
class Part:
    """One thing with a tag. `part["load_kw"]` is what the file says, or else the kind's default.

    >>> Part("PS", "pump", {"rated_m": 7.0})["rated_m"], Part("PS", "pump")["shutoff_m"]
    (7.0, 6.0)
    """

    tag: str
    kind: str
    given: Mapping[str, Value] = field(default_factory=dict)

    def __getitem__(self, key: str) -> Value | None:
        if key in self.given:
            return self.given[key]
        known = KINDS[self.kind].key(key)
        if known is None:
            raise KeyError(f"a {self.kind} has no key '{key}'")
        return known.default

    def number(self, key: str) -> float:
        """A number that is never missing. Raises KeyError where the kind has no such key or no default."""
        value = self[key]
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise KeyError(f"{self.tag}: no number '{key}'")
        return float(value)

    @property
    def what(self) -> Kind:
        """The row of the table of kinds that this part belongs to."""
        return KINDS[self.kind]


@dataclass(frozen=True, slots=True)
class Run:
    """Parts in a row on one size of pipe, written in the direction in which the water is meant to flow.

    through: tags in order; a port is written 'TAG.port'.  length_m: of the whole run.
    k: loss coefficients of its elbows and tees, summed, on its own inside diameter.
    size: a name of `figures.plant.pipe.SIZES`, or None where the two figures below say it.
    """

    through: tuple[str, ...]
    length_m: float
    size: str | None = None
    k: float = 0.0
    inside_mm: float | None = None
    roughness_mm: float | None = None

    @property
    def bore(self) -> Bore:
        """Inside diameter and roughness, in metres."""
        if self.size is not None:
            return SIZES[self.size]
        assert self.inside_mm is not None and self.roughness_mm is not None
        return Bore(self.inside_mm / 1000, self.roughness_mm / 1000)


def tag_of(end: str) -> str:
    """The tag in 'TAG' or 'TAG.port'.

    >>> tag_of("HS.a_supply")
    'HS'
    """
    return end.partition(".")[0]


def port_of(end: str) -> str:
    """The port in 'TAG.port', or '' where there is none."""
    return end.partition(".")[2]


@dataclass(frozen=True, slots=True)
class Design:
    """What the plant is laid out for: temperatures in °C, the emitters' EN 442 exponent."""

    outdoor_c: float = -12.0
    room_c: float = 20.0
    supply_c: float = 75.0
    return_c: float = 65.0
    exponent: float = 1.3
    dhw_setpoint_c: float = 80.0
    tank_c: float = 60.0


DESIGN_LIMITS = {"outdoor_c": (-60.0, 25.0), "room_c": (0.0, 40.0), "supply_c": (20.0, 120.0),
                 "return_c": (10.0, 115.0), "exponent": (1.0, 2.0), "dhw_setpoint_c": (40.0, 110.0),
                 "tank_c": (30.0, 95.0)}
"""What each figure of the `[design]` table may be, ends included."""


@dataclass(frozen=True)
class Plant:
    """The boilers, pumps, pipes and loads of one boiler room.

    Made by `figures.plant.file.read_plant` or `figures.plant.scheme.Scheme.plant`, both of which check it;
    everything downstream relies on what is checked there (see `figures.plant.check`).
    """

    title: str
    parts: Mapping[str, Part]
    runs: tuple[Run, ...]
    design: Design = field(default_factory=Design)

    def of_kind(self, *kinds: str) -> list[Part]:
        """Parts of these kinds, in the order of the file."""
        return [part for part in self.parts.values() if part.kind in kinds]

    @cached_property
    def run_names(self) -> tuple[str, ...]:
        """The name of each run, in file order: its end tags, 'A>Z', and 'A>Z#2' for a parallel twin."""
        seen: dict[str, int] = {}
        names = []
        for run in self.runs:
            name = f"{tag_of(run.through[0])}>{tag_of(run.through[-1])}"
            seen[name] = seen.get(name, 0) + 1
            names.append(name if seen[name] == 1 else f"{name}#{seen[name]}")
        return tuple(names)

    @cached_property
    def run_through(self) -> Mapping[str, int]:
        """For each two-port part inside or at an end of runs, the index of the first run that holds it."""
        found: dict[str, int] = {}
        for index, run in enumerate(self.runs):
            for end in run.through:
                found.setdefault(tag_of(end), index)
        return found

    def is_dhw(self, tag: str) -> bool:
        """True for an indirect tank, and for a heat exchanger that serves DHW."""
        part = self.parts[tag]
        return part.kind == "indirect tank" or (part.kind == "heat exchanger" and part["serves"] == "DHW")

    def is_load(self, tag: str) -> bool:
        """True for whatever takes heat: emitter, indirect tank, heat exchanger."""
        return self.parts[tag].kind in ("emitter", "indirect tank", "heat exchanger")

    def load_kw(self, tag: str) -> float:
        """Heat that a load wants at design [kW]."""
        part = self.parts[tag]
        return part.number("coil_kw" if part.kind == "indirect tank" else "load_kw")
