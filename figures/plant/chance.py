"""Sound schemes by chance: the same scheme for the same seed, the whole space in sensible weights."""

from __future__ import annotations

import random
from typing import Any, TypeVar

from .possible import ARRANGEMENTS, CONTROLS, SEPARATIONS
from .scheme import Scheme

T = TypeVar("T")

# Invented, each half and each whole: no such place is meant.
_FIRST = (
    "Alder",
    "Amber",
    "Beacon",
    "Bramble",
    "Cinder",
    "Copper",
    "Cresset",
    "Dray",
    "Ember",
    "Fallow",
    "Fennel",
    "Gannet",
    "Granary",
    "Hazel",
    "Heron",
    "Juniper",
    "Kestrel",
    "Lantern",
    "Larch",
    "Linnet",
    "Marl",
    "Merrow",
    "Oast",
    "Orchard",
    "Osier",
    "Pepper",
    "Plover",
    "Quarry",
    "Rook",
    "Rushey",
    "Saddler",
    "Sorrel",
    "Tallow",
    "Teasel",
    "Thistle",
    "Vesper",
    "Wharf",
    "Whin",
    "Willow",
    "Yarrow",
)
_SECOND = (
    "Lane school",
    "Court",
    "House",
    "Row flats",
    "Street clinic",
    "Mill",
    "Yard workshops",
    "Terrace",
    "Hall",
    "Road library",
    "Square offices",
    "Green nursery",
    "Wharf hostel",
    "Hill baths",
    "Gate surgery",
    "Park pavilion",
    "Bridge hotel",
    "Field depot",
    "Cross museum",
    "Bank studios",
)

_OUTPUTS_KW = (35.0, 50.0, 60.0, 80.0, 100.0, 120.0, 150.0, 200.0)
_TEMPERATURES = ((80.0, 65.0), (80.0, 60.0), (75.0, 65.0), (75.0, 60.0), (82.0, 71.0))
_CONDENSING_TEMPERATURES = ((70.0, 50.0), (65.0, 50.0), (75.0, 55.0), (70.0, 55.0))


def _pick(chance: random.Random, weights: dict[T, float]) -> T:
    return chance.choices(list(weights), list(weights.values()))[0]


def _title(chance: random.Random) -> str:
    number = f" {chance.randint(2, 48)}" if chance.random() < 0.4 else ""
    return f"{chance.choice(_FIRST)} {chance.choice(_SECOND)}{number}"


def random_scheme(
    seed: int,
    *,
    control: str | None = None,
    arrangement: str | None = None,
    boilers: int | tuple[int, ...] | None = None,
    size: str = "any",
) -> Scheme:
    """See `Scheme.random`."""
    tank = next((tank for tank, name in CONTROLS.items() if name == control), None)
    if control is not None and tank is None:
        raise ValueError(
            f"control is {control!r}; use one of {', '.join(repr(c) for c in CONTROLS.values())}"
        )
    if arrangement not in (None, *ARRANGEMENTS):
        raise ValueError(f"arrangement is {arrangement!r}; use 'single loop' or 'separated loops'")
    if size not in ("any", "small"):
        raise ValueError(f"size is {size!r}; use 'any' or 'small'")
    if tank == "boiler loop" and arrangement == "single loop":
        raise ValueError("a tank on the boiler loop needs separated loops; ask for one or the other")
    numbers = (boilers,) if isinstance(boilers, int) else tuple(boilers) if boilers else None
    if numbers is not None and not all(1 <= n <= 8 for n in numbers):
        raise ValueError(f"boilers is {boilers}; a scheme has 1 to 8")
    chance = random.Random(f"loopbook scheme {int(seed)}")
    if size == "small":
        if numbers is not None and 1 not in numbers:
            raise ValueError("a small plant has one boiler")
        return _small(chance, tank, arrangement)
    return _any(chance, tank, arrangement, numbers)


def _small(chance: random.Random, tank: str | None, arrangement: str | None) -> Scheme:
    """One boiler and one emitter with as few tags as sound piping allows."""
    title = _title(chance)
    output = chance.choice(_OUTPUTS_KW[:5])
    supply_c, return_c = chance.choice(_TEMPERATURES)
    spacing = round(chance.uniform(2.5, 4.0), 1)
    if arrangement is None:
        arrangement = (
            "separated loops"
            if tank == "boiler loop"
            else _pick(chance, {"single loop": 1.0, "separated loops": 2.0})
        )
    single = arrangement == "single loop"
    if tank is None:
        tank = chance.choice(list(CONTROLS)[: 2 if single else 3])
    separation = None if single else _pick(chance, {"closely spaced tees": 3.0, "hydraulic separator": 1.0})
    return Scheme(
        arrangement=arrangement,
        separation=separation,
        tank=tank,
        title=title,
        outputs_kw=(output,),
        spacing_diameters=spacing,
        supply_c=supply_c,
        return_c=return_c,
        fittings=(),
        vessel_turned=chance.random() < 0.5 and not single,
        sensors=() if single else ("system supply",),
        boilers_by="none" if single else "pump",
        zones_by="none" if tank == "none" else "motorised valve",
    )


def _any(
    chance: random.Random, tank: str | None, arrangement: str | None, numbers: tuple[int, ...] | None
) -> Scheme:
    given: dict[str, Any] = {"title": _title(chance)}
    boilers = _pick(chance, {1: 5.0, 2: 6.0, 3: 4.0, 4: 3.0, 5: 1.2, 6: 1.0, 7: 0.6, 8: 0.8})
    if numbers is not None and boilers not in numbers:
        boilers = chance.choice(numbers)
    if arrangement is None:
        arrangement = (
            "separated loops"
            if tank == "boiler loop"
            else _pick(chance, {"single loop": 1.0, "separated loops": 2.0})
        )
    single = arrangement == "single loop"
    separation = None
    if not single:
        weights = dict(zip(SEPARATIONS, (5.0, 3.0, 1.5, 1.5, 1.5)))
        if boilers == 1 or tank == "boiler loop":
            del weights["tees per boiler"]
        separation = _pick(chance, weights)
    if tank is None:
        choices = {"none": 1.0, "system loop": 1.2, "boiler loop": 1.2}
        if single or separation == "tees per boiler":
            del choices["boiler loop"]
        tank = _pick(chance, choices)
    given |= {
        "arrangement": arrangement,
        "separation": separation,
        "boilers": boilers,
        "tank": tank,
        "lead": chance.randint(1, boilers) if chance.random() < 0.5 else 1,
    }
    _boilers(chance, given, single)
    _loads(chance, given, single)
    _tank(chance, given, single)
    _extras(chance, given, single)
    return Scheme(**given)


def _boilers(chance: random.Random, given: dict[str, Any], single: bool) -> None:
    n = given["boilers"]
    if single:
        by = (
            {"motorised valve": 6.0, "pump": 1.0}
            if n > 1
            else {"motorised valve": 3.0, "none": 2.0, "pump": 0.5}
        )
    else:
        by = {"pump": 6.0, "motorised valve": 1.0 if given["separation"] != "tees per load" else 4.0}
        if given["separation"] == "tees per boiler":
            by = {"pump": 1.0}
    given["boilers_by"] = _pick(chance, by)
    direct = n > 1 and given["boilers_by"] == "pump" and chance.random() < 0.3
    given["return_order"] = "direct" if direct else "reverse"
    given["header_ends"] = _pick(chance, {"elbow": 5.0, "capped": 1.5, "vented": 1.0})
    given["boiler_pump_on"] = "inlet" if single or chance.random() < 0.25 else "outlet"
    given["condensing"] = chance.random() < 0.35
    given["supply_c"], given["return_c"] = chance.choice(
        _CONDENSING_TEMPERATURES if given["condensing"] else _TEMPERATURES
    )
    first = chance.choice(_OUTPUTS_KW)
    outputs = [first] * n
    if n > 1 and chance.random() < 0.2:
        outputs = [chance.choice(_OUTPUTS_KW) for _ in range(n)]
    given["outputs_kw"] = tuple(outputs)


def _loads(chance: random.Random, given: dict[str, Any], single: bool) -> None:
    emitters = _pick(chance, {1: 4.0, 2: 4.0, 3: 3.0, 4: 2.0, 5: 1.0, 6: 1.0})
    boiler_driven = single and given["boilers_by"] == "pump"
    given["zones_by"] = "pump" if not boiler_driven and chance.random() < 0.3 else "motorised valve"
    shares = [chance.uniform(1.0, 2.0) for _ in range(emitters)]
    wanted = sum(given["outputs_kw"]) * chance.uniform(0.72, 0.95)
    given["emitters"] = emitters
    given["loads_kw"] = tuple(round(wanted * share / sum(shares), 1) for share in shares)
    numbers = list(range(1, emitters + 1))
    exchangers = [i for i in numbers if chance.random() < 0.06]
    low = [i for i in numbers if i not in exchangers and chance.random() < 0.1]
    given["exchangers"] = tuple(exchangers)
    # Much cold return suits no boiler that must not condense, and too little flow no boiler on a single loop.
    share = sum(given["loads_kw"][i - 1] for i in low) / sum(given["loads_kw"])
    if share > 0.3 and (single or not given["condensing"]):
        low = []
    given["low_temperature"] = tuple(low) if given["separation"] != "tees per load" else ()
    if given["zones_by"] == "pump" or boiler_driven:
        given["system_pump"] = "none"
    else:
        given["system_pump"] = (
            "return" if given["separation"] != "tees per load" and chance.random() < 0.2 else "supply"
        )
    given["load_bypass"] = (
        given["zones_by"] != "pump"
        and given["separation"] != "tees per load"
        and (boiler_driven or chance.random() < 0.3)
    )
    if single:
        given["bypass"] = "none"
        if given["boilers_by"] == "motorised valve":
            given["bypass"] = "pipe" if chance.random() < 0.2 else "valve"


def _tank(chance: random.Random, given: dict[str, Any], single: bool) -> None:
    if given["tank"] == "none":
        return
    given["dhw_by"] = "heat exchanger" if chance.random() < 0.12 else "indirect tank"
    total = sum(given["outputs_kw"])
    given["coil_kw"] = float(round(min(total * chance.uniform(0.25, 0.6), 40.0 + 0.2 * total)))
    joins, by = "branch", "motorised valve"
    if given["tank"] == "boiler loop":
        if given["separation"] == "tees per load":
            joins, by = "own tees", "pump"
        else:
            by = _pick(chance, {"pump": 5.0, "diverting valve": 2.0, "motorised valve": 0.7, "own tees": 1.3})
            if by == "own tees":
                joins, by = "own tees", "pump"
    elif given["zones_by"] == "pump":
        by = "pump"
    elif given["separation"] != "tees per load":
        by = _pick(
            chance, {"motorised valve": 5.0, "diverting valve": 1.5, "own tees": 0.0 if single else 1.0}
        )
        if by == "own tees":
            joins, by = "own tees", "pump"
    given["tank_by"], given["tank_joins"] = by, joins


def _extras(chance: random.Random, given: dict[str, Any], single: bool) -> None:
    given["spacing_diameters"] = round(chance.uniform(2.0, 4.0), 2)
    given["vessel_turned"] = chance.random() < 0.5
    fittings = {
        "air separator": 0.7,
        "air vent": 0.4,
        "strainer": 0.4,
        "drain": 0.4,
        "fill": 0.85,
        "flow switch": 0.3,
        "low-water cut-off": 0.3,
        "high limit": 0.25,
        "isolation valves": 0.25,
        "balancing valves": 0.2,
        "expansion valve": 0.2,
    }
    sensors = {"system return": 0.2, "boiler outlet": 0.3, "boiler inlet": 0.15, "outdoor": 0.8}
    given["fittings"] = tuple(name for name, odds in fittings.items() if chance.random() < odds)
    chosen = [name for name, odds in sensors.items() if chance.random() < odds]
    given["sensors"] = (*(("system supply",) if not single or chance.random() < 0.8 else ()), *chosen)
    given["pipe"] = "copper" if chance.random() < 0.3 else "steel"
    given["height_m"] = round(chance.uniform(4.0, 18.0), 1)
