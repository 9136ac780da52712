"""The kinds of part a plant can have, and the keys each kind may carry: one table, from which files are
checked, defaults taken, and `loopbook parts` printed. A new kind is added here and drawn in
`figures.drawing.symbols`; DEVELOPERS.md, 'How to add', says what else it may need.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Shape = Literal["two ports", "tee", "four ports", "three ports", "end", "instrument"]
Value = float | bool | str


@dataclass(frozen=True, slots=True)
class Key:
    """One key that a kind of part may carry in a plant file.

    type: 'number', 'flag', 'choice' or 'tag'.  unit: of a number, '' where it has none.
    default: taken when the file is silent; None means that nothing is assumed.
    low, high: a number must lie within them, ends included.
    """

    name: str
    type: Literal["number", "flag", "choice", "tag"]
    says: str
    unit: str = ""
    default: Value | None = None
    low: float = 0.0
    high: float = math.inf
    choices: tuple[str, ...] = ()
    required: bool = False


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of part: its name, how pipes join it, and its keys."""

    name: str
    shape: Shape
    says: str
    keys: tuple[Key, ...] = ()
    ports: tuple[str, ...] = ()

    def key(self, name: str) -> Key | None:
        """The key of that name, or None."""
        return _KEYS_BY_KIND[self.name].get(name)


def _number(name: str, unit: str, default: float | None, low: float, high: float, says: str) -> Key:
    return Key(name, "number", says, unit, default, low, high)


def _kv(default: float) -> Key:
    return _number("kv_m3h", "m³/h", default, 0.01, 100_000.0,
                   "flow coefficient, full open: m³/h of cold water at 1 bar (IEC 60534)")


def _flag(name: str, says: str) -> Key:
    return Key(name, "flag", says, default=False)


_REVERSED = _flag("reversed", "set against its run's direction")
SENSOR_ROLES = ("system supply", "system return", "boiler outlet", "boiler inlet", "tank", "outdoor")
_FOUR = ("a_supply", "a_return", "b_supply", "b_return")

KINDS: dict[str, Kind] = {kind.name: kind for kind in (
    Kind("boiler", "two ports", "heats the water", (
        _number("output_kw", "kW", 100.0, 0.1, 100_000.0, "heat it can give to the water"),
        _number("water_l", "L", 100.0, 0.0, 1_000_000.0, "water it holds"),
        _kv(12.0),
        _number("min_flow_lps", "L/s", 0.0, 0.0, 10_000.0, "least flow it may fire with"),
        _number("setpoint_c", "°C", 80.0, 5.0, 120.0, "outlet temperature it holds"),
        _flag("lead", "runs the sequence"),
        _flag("condensing", "built to condense its flue gas"))),
    Kind("pump", "two ports", "moves the water", (
        _number("shutoff_m", "m", 6.0, 0.01, 1_000.0, "head at no flow"),
        _number("rated_lps", "L/s", 1.2, 0.001, 10_000.0, "flow at its rated point"),
        _number("rated_m", "m", 4.5, 0.0, 1_000.0, "head at its rated point"),
        _kv(20.0), _REVERSED)),
    Kind("check valve", "two ports", "lets water through one way only", (_kv(20.0), _REVERSED)),
    Kind("isolation valve", "two ports", "a stop valve worked by hand", (
        _kv(40.0), _flag("locked_open", "locked or sealed open"))),
    Kind("motorised valve", "two ports", "opened and shut by the control", (
        _kv(15.0),
        Key("power_off", "choice", "where it goes without power", default="open", choices=("open", "closed")))),
    Kind("balancing valve", "two ports", "set once to share out the flow", (_kv(15.0),)),
    Kind("bypass valve", "two ports", "opens when the pressure across it rises to its setting", (
        _number("set_kpa", "kPa", 30.0, 0.1, 1_000.0, "pressure difference it holds"), _kv(16.0))),
    Kind("emitter", "two ports", "gives heat to the building", (
        _number("load_kw", "kW", 50.0, 0.0, 100_000.0, "heat wanted at design"),
        _number("supply_c", "°C", 75.0, 10.0, 120.0, "design supply temperature"),
        _number("return_c", "°C", 65.0, 10.0, 120.0, "design return temperature"),
        _number("max_supply_c", "°C", None, 10.0, 120.0, "hottest supply it may see"),
        _kv(9.0))),
    Kind("indirect tank", "two ports", "heats domestic hot water through a coil", (
        _number("coil_kw", "kW", 60.0, 0.0, 100_000.0, "heat its coil passes at design"),
        _number("volume_l", "L", 300.0, 1.0, 1_000_000.0, "hot water it stores"),
        _flag("outlet_mixing_valve", "a thermostatic mixing valve guards the taps"), _kv(8.0))),
    Kind("air separator", "two ports", "takes air out of the water", (_kv(60.0),)),
    Kind("strainer", "two ports", "catches dirt", (_kv(40.0),)),
    Kind("flow switch", "two ports", "proves that water flows", (_kv(60.0),)),
    Kind("heat exchanger", "two ports", "passes heat to another circuit; one side of it is drawn", (
        _number("load_kw", "kW", 50.0, 0.0, 100_000.0, "heat wanted at design"),
        _number("supply_c", "°C", 75.0, 10.0, 120.0, "design supply temperature"),
        _number("return_c", "°C", 65.0, 10.0, 120.0, "design return temperature"),
        Key("serves", "choice", "what it heats", choices=("heating", "DHW")),
        _flag("outlet_mixing_valve", "a thermostatic mixing valve guards the taps (DHW)"), _kv(8.0))),
    Kind("tee", "tee", "joins two or more pipes"),
    Kind("hydraulic separator", "four ports", "a vessel in which two loops meet; also: low-loss header", (
        _number("volume_l", "L", 60.0, 0.1, 1_000_000.0, "water it holds"), _kv(200.0)), _FOUR),
    Kind("buffer tank", "four ports", "a larger vessel in which two loops meet, and which stores heat", (
        _number("volume_l", "L", 500.0, 0.1, 1_000_000.0, "water it holds"), _kv(200.0)), _FOUR),
    Kind("diverting valve", "three ports", "sends the water one way or the other", (_kv(20.0),),
         ("common", "a", "b")),
    Kind("mixing valve", "three ports", "thermostatic: mixes hot and cold to one temperature", (
        _number("set_c", "°C", 45.0, 5.0, 110.0, "temperature it mixes to"), _kv(10.0)),
        ("hot", "cold", "mixed")),
    Kind("relief valve", "end", "opens before the pressure gets dangerous", (
        _number("set_kpa", "kPa", 207.0, 10.0, 2_500.0, "gauge pressure at which it opens"),)),
    Kind("expansion tank", "end", "takes up the water that heating swells", (
        _number("volume_l", "L", 80.0, 0.1, 1_000_000.0, "size of the vessel"),)),
    Kind("fill", "end", "where water is let in"),
    Kind("air vent", "end", "lets air out"),
    Kind("drain", "end", "lets water out"),
    Kind("temperature sensor", "instrument", "tells the control a temperature", (
        Key("role", "choice", "what it measures", choices=SENSOR_ROLES, required=True),
        Key("at", "tag", "the node or part it is fixed to; an outdoor sensor has none"))),
    Kind("low-water cut-off", "instrument", "stops the burner when the water is low", (
        Key("at", "tag", "the boiler it guards", required=True),)),
    Kind("high limit", "instrument", "stops the burner when the water is too hot", (
        Key("at", "tag", "the boiler it guards", required=True),)),
)}

_KEYS_BY_KIND = {kind.name: {key.name: key for key in kind.keys} for kind in KINDS.values()}

VALVES = frozenset({"check valve", "isolation valve", "motorised valve", "balancing valve"})
"""Two-port valves; a bypass valve is left out, for it is meant to stand between supply and return."""

IN_LINE = frozenset({"air separator", "strainer", "flow switch"})
"""Two-port kinds that serve the water or watch it, and never stop it: with nothing else in it a pipe is an open pipe."""


def describe_kinds() -> Iterator[dict[str, object]]:
    """One plain record a kind: name, shape, ports, what it is, and its keys with units, defaults, ranges.

    >>> next(describe_kinds())["kind"]
    'boiler'
    """
    for kind in KINDS.values():
        keys = []
        for key in kind.keys:
            row: dict[str, object] = {"key": key.name, "type": key.type, "unit": key.unit,
                                      "default": key.default, "says": key.says}
            if key.type == "number":
                row["low"], row["high"] = key.low, None if math.isinf(key.high) else key.high
            if key.choices:
                row["choices"] = list(key.choices)
            if key.required:
                row["required"] = True
            keys.append(row)
        yield {"kind": kind.name, "shape": kind.shape, "ports": list(kind.ports), "says": kind.says, "keys": keys}
