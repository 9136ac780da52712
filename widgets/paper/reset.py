"""The reset line of a plant from its design figures."""

from __future__ import annotations

from figures.plant.model import Design

STEPS = 5


def reset_line(design: Design, steps: int = STEPS) -> list[tuple[float, float, float]]:
    """Outdoor, supply and return temperature [°C], from the design outdoor temperature up to the room's.

    Exact for an emitter of the design's exponent n at full flow: load share
    x = (room − outdoor)/(room − design outdoor), supply = room + ΔT·x^(1/n) + x·(supply − return)/2, and the
    return with a minus, ΔT being the emitters' mean excess at design. Source: characteristic equation of
    EN 442-2:2014 with steady heat balances. The last row, where the building wants no heat, is left out.
    Gives [] where the design's figures leave no line to draw.

    >>> [tuple(round(t, 1) for t in row) for row in reset_line(Design(-18, 20, 80, 60), 3)]
    [(-18.0, 80.0, 60.0), (-5.3, 63.3, 49.9), (7.3, 44.8, 38.1)]
    """
    room, excess = design.room_c, (design.supply_c + design.return_c) / 2 - design.room_c
    span, half = room - design.outdoor_c, (design.supply_c - design.return_c) / 2
    if span <= 0.0 or excess <= 0.0 or half <= 0.0:
        return []
    rows = []
    for step in range(steps):
        share = 1.0 - step / steps
        middle = room + excess * share ** (1.0 / design.exponent)
        rows.append((room - share * span, middle + share * half, middle - share * half))
    return rows
