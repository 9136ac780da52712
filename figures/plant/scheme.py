"""A plant described by its layout alone: how many boilers, what separates the loops, where the tank hangs.

A `Scheme` holds no coordinates. It makes a checked plant, and it knows from its own parameters what that
plant was built to be, so that the reading can be tested against it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from .build import built
from .check import plant_from_data
from .model import Plant

ARRANGEMENTS = ("single loop", "separated loops")
SEPARATIONS = ("closely spaced tees", "hydraulic separator", "buffer tank", "tees per boiler", "tees per load")
CONTROLS = {"none": "heating only", "system loop": "DHW on the system loop", "boiler loop": "DHW on the boiler loop"}
FITTINGS = ("air separator", "air vent", "strainer", "drain", "fill", "flow switch", "low-water cut-off",
            "high limit", "isolation valves", "balancing valves", "expansion valve")
SENSORS = ("system supply", "system return", "boiler outlet", "boiler inlet", "outdoor")
"""A tank always gets a sensor of its own."""
MOST_BOILERS, MOST_EMITTERS = 8, 6
MOST_SPACING_DIAMETERS = 4.0

CHOICES: dict[str, tuple[object, ...]] = {
    "arrangement": ARRANGEMENTS, "separation": (None, *SEPARATIONS), "return_order": ("reverse", "direct"),
    "boilers_by": ("pump", "motorised valve", "none"), "boiler_pump_on": ("outlet", "inlet"),
    "header_ends": ("elbow", "capped", "vented"), "tank": tuple(CONTROLS),
    "tank_by": (None, "pump", "motorised valve", "diverting valve"), "tank_joins": ("branch", "own tees"),
    "dhw_by": ("indirect tank", "heat exchanger"), "zones_by": ("motorised valve", "pump", "none"),
    "system_pump": ("supply", "return", "none"), "bypass": ("none", "valve", "pipe"), "pipe": ("steel", "copper")}


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
    boiler_pump_on: str = "outlet"
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
        for name, choices in CHOICES.items():
            if getattr(self, name) not in choices:
                known = ", ".join(f"'{c}'" for c in choices if c is not None)
                raise ValueError(f"{name} is {getattr(self, name)!r}; use one of {known}")
        self._check_numbers()
        self._check_loops()
        self._check_tank()
        self._check_loads()
        self._check_faults()

    # -- what was left out -----------------------------------------------------------------------------

    def _fill_in(self) -> None:
        def settle(name: str, value: object) -> None:
            if not getattr(self, name):
                object.__setattr__(self, name, value)

        for name in ("exchangers", "low_temperature", "outputs_kw", "loads_kw", "fittings", "sensors", "faults"):
            object.__setattr__(self, name, tuple(getattr(self, name)))
        single = self.arrangement == "single loop"
        if not single:
            settle("separation", "closely spaced tees")
        settle("boilers_by", "pump" if not single else "motorised valve")
        settle("tank_joins", "own tees" if self.tank == "boiler loop" and self.separation == "tees per load"
               else "branch")
        if self.tank != "none":
            settle("tank_by", "pump" if self.tank == "boiler loop" or self.zones_by == "pump"
                   or self.tank_joins == "own tees" else "motorised valve")
        own_pumps = self.zones_by == "pump" or (single and self.boilers_by == "pump")
        settle("system_pump", "none" if own_pumps else "supply")
        settle("bypass", "valve" if single and self.boilers_by == "motorised valve" else "none")
        settle("outputs_kw", (100.0,) * max(self.boilers, 0))
        kw = sum(self.outputs_kw)
        if self.emitters:
            settle("loads_kw", (round(0.85 * kw / self.emitters, 1),) * max(self.emitters, 0))
        if self.tank != "none":
            settle("coil_kw", round(max(20.0, min(0.5 * kw, 40.0 + 0.2 * kw)), 0))

    # -- what cannot be --------------------------------------------------------------------------------

    def _check_numbers(self) -> None:
        _need(isinstance(self.boilers, int) and 1 <= self.boilers <= MOST_BOILERS,
              f"boilers is {self.boilers}; a scheme has 1 to {MOST_BOILERS}")
        _need(isinstance(self.emitters, int) and 1 <= self.emitters <= MOST_EMITTERS,
              f"emitters is {self.emitters}; a scheme has 1 to {MOST_EMITTERS}")
        _need(1 <= self.lead <= self.boilers, f"lead is {self.lead}, but the boilers are numbered 1 to {self.boilers}")
        _need(len(self.outputs_kw) == self.boilers and min(self.outputs_kw) > 0.0,
              "outputs_kw needs one positive figure for each boiler")
        _need(len(self.loads_kw) == self.emitters and min(self.loads_kw) > 0.0,
              "loads_kw needs one positive figure for each emitter")
        for name in ("exchangers", "low_temperature"):
            _need(all(1 <= i <= self.emitters for i in getattr(self, name)),
                  f"{name} holds a number that no emitter has")
        _need(not set(self.exchangers) & set(self.low_temperature), "an emitter is a heat exchanger or a heated "
              "floor, not both")
        for name, known in (("fittings", FITTINGS), ("sensors", SENSORS)):
            for item in getattr(self, name):
                _need(item in known, f"{name}: '{item}' is not known; use {', '.join(known)}")
        _need(0.5 <= self.spacing_diameters <= MOST_SPACING_DIAMETERS,
              f"spacing_diameters is {self.spacing_diameters:g}; closely spaced tees stand at most 4 apart")
        _need(30.0 <= self.return_c < self.supply_c <= 95.0 and self.difference_k >= 5.0,
              "supply_c and return_c need 30 °C or more, at most 95 °C, and 5 K between them")
        _need(2.0 <= self.height_m <= 60.0, "height_m needs 2 m to 60 m")

    def _check_loops(self) -> None:
        single, several = self.arrangement == "single loop", self.boilers > 1
        _need(not (single and self.separation), f"a single loop has no {self.separation}; leave separation out")
        _need(self.separation != "tees per boiler" or several, "tees per boiler need two boilers or more")
        _need(self.separation != "tees per boiler" or self.boilers_by == "pump",
              "boilers on tees of their own need a pump each")
        _need(single or self.boilers_by != "none", "in separated loops each boiler needs a pump, or a motorised valve "
              "and a shared pump")
        _need(not (several and self.boilers_by == "none"), "several boilers need a motorised valve or a pump each")
        _need(self.bypass == "none" or single, "a bypass across the boilers belongs to a single loop")
        _need(self.bypass != "pipe" or self.boilers_by != "pump", "a plain bypass pipe beside boiler pumps would "
              "be a separation; use a bypass valve across the loads")
        _need(self.system_pump == "none" or not (single and self.boilers_by == "pump"),
              "on a single loop the boilers' pumps are the system's; leave system_pump out")
        _need(not (single and self.boilers_by == "pump" and self.zones_by == "pump"),
              "boiler pumps and zone pumps in one loop fight each other; separate the loops")
        _need(self.separation not in ("closely spaced tees", "hydraulic separator", "buffer tank")
              or self.system_pump != "none" or self.zones_by == "pump", "beyond a separation the system needs a pump")
        _need("system supply" in self.sensors or single, "separated loops need a system supply sensor")

    def _check_tank(self) -> None:
        tees = self.tank_joins == "own tees"
        if self.tank == "none":
            _need(self.tank_by is None and not tees, "tank_by and tank_joins say something of a tank; there is none")
            return
        _need(self.coil_kw > 0.0, "coil_kw needs a positive figure")
        _need(not tees or self.tank_by == "pump", "a tank on tees of its own needs a pump of its own")
        if self.tank == "boiler loop":
            _need(self.arrangement == "separated loops", "a tank on the boiler loop needs separated loops; on a single "
                  "loop there is no boiler loop")
            _need(self.separation != "tees per boiler", "with tees per boiler each boiler has a loop of its own; hang "
                  "the tank on the system loop")
            _need(self.separation != "tees per load" or tees, "with tees per load the tank hangs on tees of its own")
            return
        _need(not tees or (self.arrangement == "separated loops" and self.separation != "tees per load"),
              "tees of the tank's own on the system loop need separated loops (and not a tank's tees per load)")
        _need(not tees or self.system_pump != "none", "a tank on tees of its own needs a system pump that brings it "
              "hot water")
        _need(tees or self.tank_by != "pump" or self.zones_by == "pump", "the system pump would push through a tank "
              "that only a pump and check valve close; use a motorised or diverting valve, or own tees")
        _need(self.tank_by == "pump" or self.system_pump != "none" or self.boilers_by == "pump" or tees,
              "a tank behind a valve needs a system pump that pushes through it")
        _need(self.tank_by == "pump" or self.zones_by != "pump", "where zones have pumps of their own, so must the tank")
        _need(self.tank_by != "diverting valve" or self.separation != "tees per load",
              "with tees per load use a motorised valve for a tank beside an emitter")

    def _check_loads(self) -> None:
        _need(self.zones_by != "none" or (self.emitters == 1 and self.tank == "none"),
              "only a sole emitter without a tank can do without a valve or pump")
        _need(self.zones_by != "pump" or self.system_pump == "none", "zone pumps behind a system pump would run in "
              "series with it; leave one of them out")
        _need(self.zones_by == "pump" or self.system_pump != "none" or self.boilers_by == "pump",
              "somebody must pump: give a system pump, or zones with pumps")
        _need(not self.load_bypass or (self.separation != "tees per load" and self.zones_by != "pump"),
              "a bypass across the loads belongs to a system pump and its zones")
        _need(not (set(self.low_temperature) and self.separation == "tees per load"),
              "a heated floor on tees of its own is not made here; use another separation")

    def _check_faults(self) -> None:
        if self.faults:
            from .faults import check_faults
            check_faults(self)

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
            "arrangement": self.arrangement, "dhw": self.tank, "control": CONTROLS[self.tank],
            "dhw_priority": priority, "boilers": tuple(f"B{i}" for i in range(1, self.boilers + 1)),
            "lead": f"B{self.lead}", "return": order}
        if self.faults:
            from .faults import expected_with_faults
            wanted = expected_with_faults(self, wanted)
        return wanted

    def sound(self) -> Scheme:
        """The same scheme without its faults."""
        return replace(self, faults=())

    # -- endless plants --------------------------------------------------------------------------------

    @staticmethod
    def random(seed: int, *, control: str | None = None, arrangement: str | None = None,
               boilers: int | tuple[int, ...] | None = None, size: str = "any") -> Scheme:
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


def _need(holds: bool, says: str) -> None:
    if not holds:
        raise ValueError(says)


@lru_cache(maxsize=256)
def plant_of(scheme: Scheme) -> Plant:
    """`scheme.plant()`, kept: for widgets that ask for the same plant again and again."""
    return scheme.plant()
