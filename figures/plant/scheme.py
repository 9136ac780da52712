"""A plant described by its layout alone: how many boilers, what separates the loops, where the tank hangs.

A `Scheme` holds no coordinates. It makes a checked plant, and it knows from its own parameters what that
plant was built to be, so that the reading can be tested against it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from .build import built
from .check import plant_from_data
from .model import Plant
from .possible import (
    ARRANGEMENTS,
    CHOICES,
    CONTROLS,
    FITTINGS,
    MOST_BOILERS,
    MOST_EMITTERS,
    SENSORS,
    SEPARATIONS,
    check_scheme,
)

__all__ = [
    "ARRANGEMENTS",
    "CHOICES",
    "CONTROLS",
    "FITTINGS",
    "MOST_BOILERS",
    "MOST_EMITTERS",
    "SENSORS",
    "SEPARATIONS",
    "Scheme",
]


@dataclass(frozen=True)
class Scheme:
    """The layout of one plant. Whatever is left out is chosen to suit.

    arrangement: 'single loop' or 'separated loops'; separation: one of `SEPARATIONS`, None on a single loop;
    spacing_diameters: of closely spaced tees, inside diameters, at most 4.
    boilers: 1 to 8; outputs_kw: heat of each [kW]; lead: number of the lead boiler; return_order: 'reverse' or
    'direct'; boilers_by: what closes or drives each boiler, 'pump' (with a check valve where there are several),
    'motorised valve' (with one shared pump where loops are separated) or 'none'; boiler_pump_on: 'outlet' or
    'inlet'; header_ends: 'elbow', 'capped' or 'vented'.
    tank: 'none', 'system loop' or 'boiler loop'; tank_by: 'pump', 'motorised valve' or 'diverting valve';
    tank_joins: 'branch', or 'own tees' where it has a separation of its own; coil_kw [kW]; dhw_by: 'indirect
    tank' or 'heat exchanger'.
    emitters: 1 to 6; loads_kw: heat of each [kW]; exchangers, low_temperature: numbers of those that are heat
    exchangers, or heated floors behind a mixing valve; zones_by: 'motorised valve', 'pump' or 'none'.
    system_pump: 'supply', 'return' or 'none'; bypass: across the boilers, 'valve', 'pipe' or 'none'; load_bypass:
    a second one across the loads.  vessel_turned: the boilers on a separator's a ports or on its b ports.
    fittings, sensors: names out of `FITTINGS` and `SENSORS`.  supply_c, return_c: design temperatures [°C].
    height_m: of the building, for pressures [m].  faults: names out of `figures.plant.faults.FAULTS`.

    Raises ValueError, in plain words, where the parts cannot go together.

    >>> Scheme(tank="boiler loop").expected()["control"]
    'DHW on the boiler loop'
    >>> Scheme("single loop", tank="boiler loop")
    Traceback (most recent call last):
    ValueError: a tank on the boiler loop needs separated loops; on a single loop there is no boiler loop
    """

    arrangement: str = "separated loops"
    separation: str | None = None
    boilers: int = 1
    tank: str = "none"
    emitters: int = 1
    return_order: str = "reverse"
    lead: int = 1
    tank_by: str | None = None
    tank_joins: str = ""
    dhw_by: str = "indirect tank"
    boilers_by: str = ""
    zones_by: str = "motorised valve"
    system_pump: str = ""
    bypass: str = ""
    load_bypass: bool = False
    spacing_diameters: float = 3.0
    boiler_pump_on: str = ""
    header_ends: str = "elbow"
    vessel_turned: bool = False
    exchangers: tuple[int, ...] = ()
    low_temperature: tuple[int, ...] = ()
    outputs_kw: tuple[float, ...] = ()
    loads_kw: tuple[float, ...] = ()
    coil_kw: float = 0.0
    fittings: tuple[str, ...] = ("air separator", "fill")
    sensors: tuple[str, ...] = ("system supply", "outdoor")
    condensing: bool = False
    pipe: str = "steel"
    supply_c: float = 80.0
    return_c: float = 65.0
    height_m: float = 6.0
    title: str = "A plant without a name"
    faults: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self._fill_in()
        check_scheme(self)
        if self.faults:
            from .faults import check_faults

            check_faults(self)

    # -- what was left out -----------------------------------------------------------------------------

    def _fill_in(self) -> None:
        def settle(name: str, value: object) -> None:
            if not getattr(self, name):
                object.__setattr__(self, name, value)

        for name in (
            "exchangers",
            "low_temperature",
            "outputs_kw",
            "loads_kw",
            "fittings",
            "sensors",
            "faults",
        ):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        single = self.arrangement == "single loop"
        if not single:
            settle("separation", "closely spaced tees")
        settle("boilers_by", "pump" if not single else "motorised valve")
        settle(
            "tank_joins",
            "own tees" if self.tank == "boiler loop" and self.separation == "tees per load" else "branch",
        )
        if self.tank != "none":
            settle(
                "tank_by",
                "pump"
                if self.tank == "boiler loop" or self.zones_by == "pump" or self.tank_joins == "own tees"
                else "motorised valve",
            )
        settle("boiler_pump_on", "inlet" if single and self.boilers_by == "pump" else "outlet")
        own_pumps = self.zones_by == "pump" or (single and self.boilers_by == "pump")
        settle("system_pump", "none" if own_pumps else "supply")
        settle("bypass", "valve" if single and self.boilers_by == "motorised valve" else "none")
        settle("outputs_kw", (100.0,) * max(self.boilers, 0))
        kw = sum(self.outputs_kw)
        if self.emitters:
            settle("loads_kw", (round(0.85 * kw / self.emitters, 1),) * max(self.emitters, 0))
        if self.tank != "none":
            settle("coil_kw", round(max(20.0, min(0.5 * kw, 40.0 + 0.2 * kw)), 0))

    # -- what follows ----------------------------------------------------------------------------------

    @property
    def difference_k(self) -> float:
        """Design supply less return [K]."""
        return self.supply_c - self.return_c

    @property
    def boiler_difference_k(self) -> float:
        """Rise over a boiler at full output [K]."""
        return self.difference_k

    @property
    def expansion_on(self) -> str:
        """'supply' or 'return': the main in which the expansion tank meets the pumps' inlets."""
        boiler_driven = self.arrangement == "single loop" and self.boilers_by == "pump"
        return "return" if self.system_pump == "return" or boiler_driven else "supply"

    @property
    def sole(self) -> bool:
        """One boiler, one load, one loop, and no bypass across the boiler."""
        return (
            self.arrangement == "single loop"
            and self.boilers == self.emitters == 1
            and self.tank == self.bypass == "none"
        )

    @property
    def undivided(self) -> bool:
        """One ring, in which all the water passes the boiler, the pump and the sole load."""
        return self.sole and not self.load_bypass and not self.low_temperature

    def has(self, name: str) -> bool:
        """True where the fitting or sensor of that name is fitted."""
        return name in self.fittings or name in self.sensors

    def data(self) -> dict[str, Any]:
        """The plant as a plant file's tables, faults included, not yet checked."""
        if self.faults:
            from .faults import spoiled

            return spoiled(self)
        return built(self).data

    def plant(self) -> Plant:
        """The checked plant. Made anew each time; a plant never changes."""
        return plant_from_data(self.data())

    def expected(self) -> dict[str, object]:
        """What the plant was built to be, by the keys of a reading: from the parameters, not from the plant."""
        priority = {"none": "not applicable", "system loop": "optional", "boiler loop": "always"}[self.tank]
        if self.tank_by == "diverting valve":
            priority = "always"
        order = self.return_order
        if self.boilers == 1:
            order = "single boiler"
        elif self.separation == "tees per boiler":
            order = "not applicable"
        wanted: dict[str, object] = {
            "arrangement": self.arrangement,
            "dhw": self.tank,
            "control": CONTROLS[self.tank],
            "dhw_priority": priority,
            "boilers": tuple(f"B{i}" for i in range(1, self.boilers + 1)),
            "lead": f"B{self.lead}",
            "return": order,
        }
        if self.faults:
            from .faults import expected_with_faults

            wanted = expected_with_faults(self, wanted)
        return wanted

    def sound(self) -> Scheme:
        """The same scheme without its faults."""
        return replace(self, faults=())

    # -- endless plants --------------------------------------------------------------------------------

    @staticmethod
    def random(
        seed: int,
        *,
        control: str | None = None,
        arrangement: str | None = None,
        boilers: int | tuple[int, ...] | None = None,
        size: str = "any",
    ) -> Scheme:
        """A sound scheme, the same for the same seed and filters.

        control, arrangement: only such ones.  boilers: that many, or one of those numbers.  size: 'any', or
        'small' for first lessons (one boiler, one emitter, few tags).  Raises ValueError for filters that
        nothing can meet.

        >>> Scheme.random(7) == Scheme.random(7)
        True
        """
        from .chance import random_scheme

        return random_scheme(seed, control=control, arrangement=arrangement, boilers=boilers, size=size)

    @staticmethod
    def with_random_faults(seed: int, n: int = 1, **filters: Any) -> Scheme:
        """A random scheme with `n` faults that do not hide each other (fewer where fewer apply)."""
        from .faults import pick_faults

        scheme = Scheme.random(seed, **filters)
        return replace(scheme, faults=pick_faults(scheme, seed, n))
