"""SI and US units. Everything inside is SI; what is shown may be either.

A name carries its unit as its ending (`flow_lps`, `inlet_c`), and that ending is what these functions take.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Units = Literal["si", "us"]


@dataclass(frozen=True, slots=True)
class Unit:
    """One quantity: its SI name, its US name, and us = si · factor + offset."""

    si: str
    us: str
    factor: float
    offset: float = 0.0


# Factors: NIST SP 811 (2008), appendix B.8, from memory; Cv of IEC 60534: US gallons a minute at 1 psi.
UNITS: dict[str, Unit] = {
    "lps": Unit("L/s", "gpm", 15.850323),
    "m3h": Unit("m³/h", "gpm at 1 psi", 1.156),
    "l": Unit("L", "gal", 0.26417205),
    "m": Unit("m", "ft", 3.2808399),
    "mm": Unit("mm", "in", 0.039370079),
    "kpa": Unit("kPa", "psi", 0.14503774),
    "kw": Unit("kW", "Btu/h", 3412.1416),
    "c": Unit("°C", "°F", 1.8, 32.0),
    "k": Unit("K", "°F", 1.8),
}
"""By the ending that a name carries. 'k' is a difference of temperatures."""


def converted(value: float, ending: str, units: Units = "si") -> float:
    """An SI figure in the units asked for. Raises KeyError for an ending that is not in `UNITS`.

    >>> converted(80.0, "c", "us"), converted(80.0, "c")
    (176.0, 80.0)
    """
    unit = UNITS[ending]
    return value if units == "si" else value * unit.factor + unit.offset


def unit_name(ending: str, units: Units = "si") -> str:
    """What the unit is called.

    >>> unit_name("lps", "us")
    'gpm'
    """
    return UNITS[ending].si if units == "si" else UNITS[ending].us


def figure(value: float | None, ending: str, units: Units = "si") -> str:
    """A figure with its unit, as it may be shown to a technician: three digits that mean something.

    >>> figure(1.2345, "lps"), figure(100.0, "kw", "us"), figure(71.26, "c"), figure(None, "c")
    ('1.23 L/s', '341 000 Btu/h', '71.3 °C', '–')
    """
    if value is None:
        return "–"
    number = converted(value, ending, units)
    if ending in ("c", "k"):
        text = f"{number:.1f}"
    elif abs(number) >= 1000.0:
        text = f"{float(f'{number:.3g}'):,.0f}".replace(",", " ")
    else:
        text = f"{number:.3g}"
    return f"{'0' if text == '-0' else text} {unit_name(ending, units)}"
