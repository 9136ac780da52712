"""Sentences with figures: computed, never typed, and shown in the units that the learner has chosen.

A sentence is set once with both figures, and the bar `your_workbook()` shows one or the other: no cell need be run again.
"""

from __future__ import annotations

import math
from html import escape
from string import Formatter
from typing import TYPE_CHECKING

from figures.plant.units import Units, figure
from figures.reading import read
from widgets.learn.consent import units

from .lesson import Said, named

if TYPE_CHECKING:
    from figures.plant import Plant

ENDINGS = {"kW": "kw", "L/s": "lps", "l/s": "lps", "°C": "c", "K": "k", "kPa": "kpa", "m": "m", "mm": "mm", "L": "l", "l": "l",
           "m³/h": "m3h"}
"""Units as a sentence names them, and the endings by which they are known."""
SAME = ("%", "h", "min", "s", "W", "diameters", "")
"""What is said alike by everybody."""
FEET_IN_METRE = 3.2808399

Value = tuple[float, str]


class Told(Said):
    """A sentence with figures in two kinds of unit; as plain text it is in those that were chosen."""

    def __init__(self, si: str, us: str, marked: str) -> None:
        super().__init__(us if units() == "us" else si)
        self.si, self.us, self.marked = si, us, marked

    def _repr_markdown_(self) -> str:
        return self.marked


def said(value: Value, which: Units = "si") -> str:
    """A figure with its unit. value: a number in SI, and the name of its unit.

    Raises ValueError where the number is none, or the unit is not known.

    >>> said((70.0, "°C")), said((70.0, "°C"), "us"), said((2.0, "h"), "us"), said((1.0, "m/s"), "us")
    ('70.0 °C', '158.0 °F', '2 h', '3.28 ft/s')
    """
    number, unit = value
    if not isinstance(number, int | float) or isinstance(number, bool) or not math.isfinite(number):
        raise ValueError(f"{number!r} is no figure")
    # What only rounding left of nothing is nothing; a flow of 1e-9 L/s is no flow.
    number = 0.0 if abs(number) < 1e-6 else float(number)
    if unit in ENDINGS:
        return figure(number, ENDINGS[unit], which)
    if unit == "m/s":
        return f"{number:.3g} m/s" if which == "si" else f"{number * FEET_IN_METRE:.3g} ft/s"
    if unit in SAME:
        return f"{number:.3g} {unit}".strip() if abs(number) < 1000 else f"{number:,.0f} {unit}".replace(",", " ").strip()
    raise ValueError(f"'{unit}' is no unit here; use one of {', '.join(filter(None, (*ENDINGS, *SAME)))}, or m/s")


def tells(plant: Plant | None, text: str, **values: Value | str) -> Told:
    """A sentence with figures about a plant, shown in the learner's units.

    text: holds the name of each value in braces; and {boilers}, {lead}, {tanks}, {loads} and {meet} as in `says`, where a
    plant is given.  values: a number in SI and its unit, `flow=(1.2, "L/s")`, or a word, a tag say.
    Raises ValueError where a value is missing, not used, or no figure.

    >>> tells(None, "The pump moves {flow}.", flow=(1.234, "L/s"))
    The pump moves 1.23 L/s.
    >>> tells(None, "The pump moves {flow}.")
    Traceback (most recent call last):
    ValueError: 'The pump moves {flow}.': flow is missing
    """
    wanted = {name for _, name, _, _ in Formatter().parse(text) if name is not None}
    known: dict[str, str] = named(plant, read(plant)) if plant is not None else {}
    missing, unused = sorted(wanted - set(values) - set(known)), sorted(set(values) - wanted)
    if missing or unused:
        raise ValueError(f"'{text}': " + (f"{', '.join(missing)} is missing" if missing else f"{', '.join(unused)} is not used"))
    plain = {**known, **{name: value for name, value in values.items() if isinstance(value, str)}}
    given = {name: value for name, value in values.items() if not isinstance(value, str)}
    try:
        both = {which: {name: said(value, which) for name, value in given.items()} for which in ("si", "us")}
    except ValueError as error:
        raise ValueError(f"'{text}': {error}") from None
    marked = {name: _marked(both["si"][name], both["us"][name]) for name in given}
    words = {name: escape(word) for name, word in plain.items()}
    return Told(text.format(**plain, **both["si"]), text.format(**plain, **both["us"]), text.format(**words, **marked))


def _marked(si: str, us: str) -> str:
    """Both figures, one of them hidden; where the page knows no more, the one that was chosen stays."""
    si, us = ("−" + text[1:] if text.startswith("-") else text for text in (si, us))
    if si == us:
        return escape(si)
    now = units()
    hidden = {"si": "" if now == "si" else " hidden", "us": "" if now == "us" else " hidden"}
    return (f'<span class="lb-si"{hidden["si"]}>{escape(si)}</span>'
            f'<span class="lb-us"{hidden["us"]}>{escape(us)}</span>')
