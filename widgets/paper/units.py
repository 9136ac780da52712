"""Figures as they stand on paper: a figure and its unit are never parted at the end of a line."""

from __future__ import annotations

from figures.plant.units import Units
from figures.plant.units import figure as _figure

JOIN = "\u00a0"


def figure(value: float | None, ending: str, units: Units = "si") -> str:
    """A figure with its unit, on one line.

    >>> figure(207.0, "kpa", "us").replace(JOIN, " ")
    '30 psi'
    """
    return joined(_figure(value, ending, units))


def joined(words: str) -> str:
    """Words that stay on one line."""
    return words.replace(" ", JOIN)
