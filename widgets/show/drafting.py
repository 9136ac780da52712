"""From answers about a boiler room to its plant: a scheme, and on it what is missing or wrong on site."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from figures.plant.check import plant_from_data
from figures.plant.faults import FAULTS
from figures.plant.model import Plant
from figures.plant.refusal import BadPlant
from figures.plant.scheme import Scheme
from figures.plant.spoiler import Spoiler
from figures.plant.units import UNITS, Units

Answers = Mapping[str, tuple[str, ...]]
"""By the key of a question: the values chosen, or what was written."""

FILE_SAYS_MORE = ("The form cannot say this. Save the nearest plant, and change the file: `loopbook parts` lists every kind of "
                  "part and its keys, `loopbook read FILE` says what is wrong with it.")
BY_FAULT: dict[tuple[str, str], str] = {
    ("meet", "tees far apart"): "tee-spacing",
    ("common", "check valve"): "common-pipe-blocked", ("common", "hand valve"): "common-pipe-valve",
    ("common", "pump"): "common-pipe-pump",
    ("crossed", "vessel"): "ports-crossed", ("crossed", "tees"): "tees-crossed",
    ("bypass", "none"): "pump-bypass", ("bypass", "across the loads"): "bypass-misplaced",
    ("tank", "fed from the boilers"): "load-straddles", ("tank", "back to the boilers"): "coil-straddles",
    ("supply_sensor", "at a boiler"): "sensor-at-boiler",
    ("supply_sensor", "before"): "sensor-before-separation", ("supply_sensor", "return"): "sensor-beyond-load",
    ("relief", "shared"): "relief-shared",
    ("expansion", "outlet"): "expansion-point", ("expansion", "boiler"): "expansion-at-boiler",
}
"""Answers that a sound plant cannot give, and the fault that makes them."""


@dataclass(frozen=True)
class Draft:
    """A plant as answered: the scheme under it, and the plant itself."""

    scheme: Scheme
    plant: Plant


def one(answers: Answers, key: str, default: str = "") -> str:
    """The one value of an answer."""
    given = answers.get(key, ())
    return given[0] if given else default


def numbers(answers: Answers, key: str, default: float = 0.0) -> tuple[float, ...]:
    """The figures of an answer, in the units in which they were written. Raises ValueError where one is none."""
    found = []
    for word in one(answers, key).replace(";", " ").replace(", ", " ").split():
        try:
            found.append(float(word.replace(",", "")))
        except ValueError:
            raise ValueError(f"'{word[:20]}' is no figure; write for example 100, or 100 80") from None
    return tuple(found) or ((default,) if default else ())


def si(value: float, ending: str, units: Units) -> float:
    """A figure in the units asked for, as SI.

    >>> round(si(341214.16, "kw", "us"), 6), si(80.0, "c", "si")
    (100.0, 80.0)
    """
    unit = UNITS[ending]
    return value if units == "si" else (value - unit.offset) / unit.factor


def draft(answers: Answers, units: Units = "si") -> Draft:
    """The plant that was answered. Raises ValueError, in plain words, for what does not go together."""
    return _draft(tuple(sorted(answers.items())), units)


@lru_cache(maxsize=64)
def _draft(rows: tuple[tuple[str, tuple[str, ...]], ...], units: Units) -> Draft:
    answers = dict(rows)
    scheme = sound(answers, units)
    faults = [name for (key, value), name in BY_FAULT.items() if one(answers, key) == value]
    faults += _tank_faults(answers, scheme)
    faults = [name for name in faults if name != "pump-bypass" or scheme.bypass != "none"]
    for name in faults:
        if not FAULTS[name].applies(scheme):
            raise ValueError(f"{FAULTS[name].says[0].upper()}{FAULTS[name].says[1:]}: not on a plant like this. {FILE_SAYS_MORE}")
    for n, name in enumerate(faults):
        for other in faults[:n]:
            if FAULTS[name].touches & FAULTS[other].touches:
                raise ValueError(f"Two of your answers meet in one place: {FAULTS[other].says}; {FAULTS[name].says}. "
                                 f"{FILE_SAYS_MORE}")
    scheme = replace(scheme, faults=tuple(faults))
    data = edited(scheme, answers, units)
    try:
        return Draft(scheme, plant_from_data(data))
    except BadPlant as bad:
        raise ValueError(f"This does not make a plant: {'; '.join(bad.lines()[:3])}.") from None


def sound(answers: Answers, units: Units = "si") -> Scheme:
    """The layout without what is wrong with it. Raises ValueError for what does not go together."""
    count, emitters = _whole(answers, "boilers"), _whole(answers, "emitters")
    meet = one(answers, "meet", "single loop")
    single = meet == "single loop"
    by = one(answers, "boilers_by")
    bypass = one(answers, "bypass")
    if single and by == "none" and count > 1:
        by = "motorised valve"      # taken out again in `edited`
    if single and by == "motorised valve" and bypass in ("none", "across the loads"):
        bypass = "valve"            # taken out or moved by a fault
    tank = one(answers, "tank", "none")
    where = {"fed from the boilers": "boiler loop", "back to the boilers": "system loop"}.get(tank, tank)
    tank_by = one(answers, "tank_by") if where != "none" else ""
    if (where, tank_by) in (("system loop", "pushed pump"), ("system loop", "nothing")):
        tank_by = "motorised valve"
    exchangers = tuple(int(tag[1:]) for tag in answers.get("exchangers", ()))
    floors = tuple(int(tag[1:]) for tag in answers.get("floors", ()))
    sensors = [*answers.get("sensors", ()), *(["system supply"] if not single or one(answers, "supply_sensor", "none") != "none"
                                              else [])]
    lead = one(answers, "lead", "B1")
    return Scheme(
        "single loop" if single else "separated loops",
        None if single else "closely spaced tees" if meet == "tees far apart" else meet,
        boilers=count, tank=where, emitters=emitters, return_order=one(answers, "return_order", "reverse"),
        lead=int(lead[1:]) if lead != "none" else 1, tank_by=tank_by or None, tank_joins=one(answers, "tank_joins"),
        dhw_by=one(answers, "dhw_by", "indirect tank"), boilers_by=by, zones_by=one(answers, "zones_by", "motorised valve"),
        system_pump=one(answers, "system_pump"), bypass=bypass, load_bypass=one(answers, "load_bypass") == "yes",
        exchangers=exchangers, low_temperature=floors, outputs_kw=_each(answers, "output_kw", count, units),
        loads_kw=_each(answers, "load_kw", emitters, units),
        coil_kw=si(numbers(answers, "coil_kw")[0], "kw", units) if where != "none" and numbers(answers, "coil_kw") else 0.0,
        fittings=answers.get("fittings", ()), sensors=tuple(sensors), condensing=one(answers, "condensing") == "yes",
        pipe=one(answers, "pipe", "steel"), title=one(answers, "title") or "My boiler room",
        supply_c=_warm(answers, "supply_c", 80.0, units), return_c=_warm(answers, "return_c", 65.0, units))


def _warm(answers: Answers, key: str, default_c: float, units: Units) -> float:
    given = numbers(answers, key)
    return round(si(given[0], "c", units), 2) if given else default_c


def _whole(answers: Answers, key: str) -> int:
    text = one(answers, key, "1")
    if not text.isascii() or not text.isdigit() or len(text) > 3:
        raise ValueError(f"'{text[:20]}' is no whole number")
    return int(text)


def _each(answers: Answers, key: str, count: int, units: Units) -> tuple[float, ...]:
    """One figure for each, or one for all; () where none is given."""
    given = tuple(round(si(value, "kw", units), 3) for value in numbers(answers, key))
    if len(given) not in (0, 1, count):
        raise ValueError(f"{len(given)} figures were given for {count}; give one for all, or one for each")
    return given * count if len(given) == 1 else given


def _tank_faults(answers: Answers, scheme: Scheme) -> list[str]:
    if scheme.tank != "system loop":
        return []
    return {"pushed pump": ["ghost-flow"], "nothing": ["tank-valve-missing"]}.get(one(answers, "tank_by"), [])


def edited(scheme: Scheme, answers: Answers, units: Units) -> dict[str, Any]:
    """The data of the plant, with what a fault cannot say: which part is missing, turned round or set otherwise."""
    data = scheme.data()
    parts, hand = data["parts"], Spoiler(scheme, data, "form")
    boilers = [f"B{i}" for i in range(1, scheme.boilers + 1)]
    if one(answers, "boilers_by") == "none" and scheme.boilers > 1:
        for tag in [f"MV{i}" for i in range(1, scheme.boilers + 1)]:
            if tag in parts:
                hand.take_out(tag)
    if one(answers, "lead") == "none":
        for tag in boilers:
            parts[tag].pop("lead", None)
    if one(answers, "power_off") == "closed":
        for i in range(1, scheme.boilers + 1):
            if f"MV{i}" in parts:
                parts[f"MV{i}"]["power_off"] = "closed"
    if one(answers, "supply_sensor") == "none":
        for tag in [tag for tag, body in parts.items() if body.get("role") == "system supply"]:
            hand.take_out(tag)
    _expansion(hand, one(answers, "expansion"))
    for tag in answers.get("bare_floors", ()):
        if parts.get(tag, {}).get("kind") == "emitter":
            parts[tag].update(max_supply_c=45.0, supply_c=40.0, return_c=32.0)
    for body in parts.values():
        if one(answers, "taps") == "no" and (body["kind"] == "indirect tank" or body.get("serves") == "DHW"):
            body["outlet_mixing_valve"] = False
    for tag in answers.get("shut_relief", ()):
        if tag in parts:
            hand.put_in(hand.arriving(tag), 1, "isolation valve", "HVR")
    if outdoor := numbers(answers, "outdoor_c"):
        data["design"]["outdoor_c"] = round(si(outdoor[0], "c", units), 2)
    for tag in answers.get("reversed", ()):
        if tag in parts:
            parts[tag]["reversed"] = True
    for tag in answers.get("missing", ()):
        if tag in parts:
            hand.take_out(tag)
            for other in [name for name, body in parts.items() if body.get("at") == tag]:
                del parts[other]
    return data


def _expansion(hand: Spoiler, stands: str) -> None:
    if stands == "check valve":
        hand.put_in(hand.expansion_run(), 1, "check valve", "CX")
    elif stands == "hand valve":
        hand.put_in(hand.expansion_run(), 1, "isolation valve", "HVX")
    elif stands == "none":
        hand.take_out("XT")


def fits(answers: Answers, key: str, value: str) -> bool:
    """Whether an answer that needs a fault can be made on the plant answered so far."""
    fault = BY_FAULT.get((key, value))
    if fault is None:
        return True
    trial = {name: given for name, given in answers.items() if name != key}
    if key in ("bypass", "tank"):
        trial[key] = (value,)
    try:
        return FAULTS[fault].applies(sound(trial))
    except ValueError:
        return False
