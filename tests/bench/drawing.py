"""How long a drawing takes."""

from __future__ import annotations

from collections.abc import Iterator

from figures.drawing import Diagram
from figures.plant.scheme import Scheme
from figures.reading import read

from .measure import Row, timed


def rows() -> Iterator[Row]:
    """From a plant that is read already to the text of its SVG, nothing kept from the run before."""
    for count in (1, 4, 8):
        plant = Scheme(boilers=count, tank="system loop", emitters=min(6, count)).plant()
        seen = read(plant)
        yield timed(f"drawing of {count} boiler{'s' * (count > 1)}, {len(plant.parts)} parts, as SVG",
                    lambda plant=plant, seen=seen: Diagram(plant, seen).svg(), at_most_ms=30.0 if count == 8 else None)
