"""Which layouts can be: the words of a scheme's fields, and what cannot go together."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .scheme import Scheme

ARRANGEMENTS = ("single loop", "separated loops")
SEPARATIONS = (
    "closely spaced tees",
    "hydraulic separator",
    "buffer tank",
    "tees per boiler",
    "tees per load",
)
CONTROLS = {
    "none": "heating only",
    "system loop": "DHW on the system loop",
    "boiler loop": "DHW on the boiler loop",
}
FITTINGS = (
    "air separator",
    "air vent",
    "strainer",
    "drain",
    "fill",
    "flow switch",
    "low-water cut-off",
    "high limit",
    "isolation valves",
    "balancing valves",
    "expansion valve",
)
SENSORS = ("system supply", "system return", "boiler outlet", "boiler inlet", "outdoor")
"""A tank always gets a sensor of its own."""
MOST_BOILERS, MOST_EMITTERS = 8, 6
MOST_SPACING_DIAMETERS = 4.0

CHOICES: dict[str, tuple[object, ...]] = {
    "arrangement": ARRANGEMENTS,
    "separation": (None, *SEPARATIONS),
    "return_order": ("reverse", "direct"),
    "boilers_by": ("pump", "motorised valve", "none"),
    "boiler_pump_on": ("outlet", "inlet"),
    "header_ends": ("elbow", "capped", "vented"),
    "tank": tuple(CONTROLS),
    "tank_by": (None, "pump", "motorised valve", "diverting valve"),
    "tank_joins": ("branch", "own tees"),
    "dhw_by": ("indirect tank", "heat exchanger"),
    "zones_by": ("motorised valve", "pump", "none"),
    "system_pump": ("supply", "return", "none"),
    "bypass": ("none", "valve", "pipe"),
    "pipe": ("steel", "copper"),
}


def check_scheme(scheme: Scheme) -> None:
    """Raises ValueError, in plain words, where a scheme's fields are wrong or cannot go together."""
    for name, choices in CHOICES.items():
        if getattr(scheme, name) not in choices:
            known = ", ".join(f"'{choice}'" for choice in choices if choice is not None)
            raise ValueError(f"{name} is {getattr(scheme, name)!r}; use one of {known}")
    _check_numbers(scheme)
    _check_loops(scheme)
    _check_tank(scheme)
    _check_loads(scheme)


def _need(holds: bool, says: str) -> None:
    if not holds:
        raise ValueError(says)


def _check_numbers(s: Scheme) -> None:
    _need(
        isinstance(s.boilers, int) and 1 <= s.boilers <= MOST_BOILERS,
        f"boilers is {s.boilers}; a scheme has 1 to {MOST_BOILERS}",
    )
    _need(
        isinstance(s.emitters, int) and 1 <= s.emitters <= MOST_EMITTERS,
        f"emitters is {s.emitters}; a scheme has 1 to {MOST_EMITTERS}",
    )
    _need(
        1 <= s.lead <= s.boilers,
        f"lead is {s.lead}, but the boilers are numbered 1 to {s.boilers}",
    )
    _need(
        len(s.outputs_kw) == s.boilers and min(s.outputs_kw) > 0.0,
        "outputs_kw needs one positive figure for each boiler",
    )
    _need(
        len(s.loads_kw) == s.emitters and min(s.loads_kw) > 0.0,
        "loads_kw needs one positive figure for each emitter",
    )
    for name in ("exchangers", "low_temperature"):
        _need(
            all(1 <= i <= s.emitters for i in getattr(s, name)),
            f"{name} holds a number that no emitter has",
        )
    _need(
        not set(s.exchangers) & set(s.low_temperature),
        "an emitter is a heat exchanger or a heated floor, not both",
    )
    for name, known in (("fittings", FITTINGS), ("sensors", SENSORS)):
        for item in getattr(s, name):
            _need(item in known, f"{name}: '{item}' is not known; use {', '.join(known)}")
    _need(
        0.5 <= s.spacing_diameters <= MOST_SPACING_DIAMETERS,
        f"spacing_diameters is {s.spacing_diameters:g}; closely spaced tees stand at most 4 apart",
    )
    _need(
        30.0 <= s.return_c < s.supply_c <= 95.0 and s.difference_k >= 5.0,
        "supply_c and return_c need 30 °C or more, at most 95 °C, and 5 K between them",
    )
    _need(2.0 <= s.height_m <= 60.0, "height_m needs 2 m to 60 m")


def _check_loops(s: Scheme) -> None:
    single, several = s.arrangement == "single loop", s.boilers > 1
    _need(not (single and s.separation), f"a single loop has no {s.separation}; leave separation out")
    _need(s.separation != "tees per boiler" or several, "tees per boiler need two boilers or more")
    _need(
        s.separation != "tees per boiler" or s.boilers_by == "pump",
        "boilers on tees of their own need a pump each",
    )
    _need(
        single or s.boilers_by != "none",
        "in separated loops each boiler needs a pump, or a motorised valve and a shared pump",
    )
    _need(
        not (several and s.boilers_by == "none"),
        "several boilers need a motorised valve or a pump each",
    )
    _need(s.bypass == "none" or single, "a bypass across the boilers belongs to a single loop")
    _need(
        s.bypass != "pipe" or s.boilers_by != "pump",
        "a plain bypass pipe beside boiler pumps would be a separation; use a bypass valve across the loads",
    )
    _need(
        s.system_pump == "none" or not (single and s.boilers_by == "pump"),
        "on a single loop the boilers' pumps are the system's; leave system_pump out",
    )
    _need(
        not (single and s.boilers_by == "pump" and s.zones_by == "pump"),
        "boiler pumps and zone pumps in one loop fight each other; separate the loops",
    )
    _need(
        single or s.system_pump != "none" or s.zones_by == "pump",
        "beyond a separation the system needs a pump",
    )
    _need(
        not single or s.boilers_by != "motorised valve" or s.bypass != "none",
        "every boiler can be shut off, so the pump needs a bypass across them (bypass); to leave it out on "
        "purpose use the fault 'pump-bypass'",
    )
    _need(
        not single or s.boilers_by != "pump" or s.boiler_pump_on == "inlet",
        "on a single loop the boilers' pumps stand at their inlets, where the expansion tank joins",
    )
    _need("system supply" in s.sensors or single, "separated loops need a system supply sensor")


def _check_tank(s: Scheme) -> None:
    tees = s.tank_joins == "own tees"
    if s.tank == "none":
        _need(
            s.tank_by is None and not tees,
            "tank_by and tank_joins say something of a tank; there is none",
        )
        return
    _need(s.coil_kw > 0.0, "coil_kw needs a positive figure")
    _need(not tees or s.tank_by == "pump", "a tank on tees of its own needs a pump of its own")
    if s.tank == "boiler loop":
        _need(
            s.arrangement == "separated loops",
            "a tank on the boiler loop needs separated loops; on a single loop there is no boiler loop",
        )
        _need(
            s.separation != "tees per boiler",
            "with tees per boiler each boiler has a loop of its own; hang the tank on the system loop",
        )
        _need(
            s.separation != "tees per load" or tees,
            "with tees per load the tank hangs on tees of its own",
        )
        return
    _need(
        not tees or (s.arrangement == "separated loops" and s.separation != "tees per load"),
        "tees of the tank's own on the system loop need separated loops (and not a tank's tees per load)",
    )
    _need(
        not tees or s.system_pump != "none",
        "a tank on tees of its own needs a system pump that brings it hot water",
    )
    _need(
        tees or s.tank_by != "pump" or s.zones_by == "pump",
        "the system pump would push through a tank "
        "that only a pump and check valve close; use a motorised or diverting valve, or own tees",
    )
    _need(
        s.tank_by == "pump" or s.zones_by != "pump",
        "where zones have pumps of their own, so must the tank",
    )
    _need(
        s.tank_by != "diverting valve" or s.separation != "tees per load",
        "with tees per load use a motorised valve for a tank beside an emitter",
    )


def _check_loads(s: Scheme) -> None:
    _need(
        s.zones_by != "none" or (s.emitters == 1 and s.tank == "none"),
        "only a sole emitter without a tank can do without a valve or pump",
    )
    _need(
        s.zones_by != "pump" or s.system_pump == "none",
        "zone pumps behind a system pump would run in series with it; leave one of them out",
    )
    _need(
        s.zones_by == "pump" or s.system_pump != "none" or s.boilers_by == "pump",
        "somebody must pump: give a system pump, or zones with pumps",
    )
    _need(
        not s.load_bypass or (s.separation != "tees per load" and s.zones_by != "pump"),
        "a bypass across the loads belongs to a system pump and its zones",
    )
    _need(
        not (s.sole and s.low_temperature and s.zones_by == "motorised valve") or s.load_bypass,
        "where a heated floor is the only load of one boiler its valve would shut the boiler in; "
        "give it a bypass across the loads (load_bypass)",
    )
    _need(
        not (set(s.low_temperature) and s.separation == "tees per load"),
        "a heated floor on tees of its own is not made here; use another separation",
    )
