"""Reading, drawing and solving against size: 1 to 8 boilers, and about 10 to 10 000 pipes.

The note tells how the cost grew since the row before: its exponent is 1 where twice the plant costs twice as much.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from figures.drawing import Diagram
from figures.physics import Prepared
from figures.plant import Plant
from figures.plant.scheme import Scheme
from figures.reading import read

from .ladder import ladder
from .measure import Row, timed

BOILERS = (1, 2, 4, 8)
ZONES = (3, 33, 333, 3333)
"""Three pipes a zone."""


def works(plant: Plant) -> Iterator[tuple[str, Callable[[], object]]]:
    """What is done with a plant: (name, call). Nothing is kept from one call to the next but what is prepared once."""
    seen, prepared = read(plant), Prepared(plant)
    yield "reading", lambda: read(plant)
    yield "drawing", lambda: Diagram(plant, seen).svg()
    yield "flow prepared", lambda: Prepared(plant)
    yield "flow, cold", prepared.solve


def series(plants: list[tuple[str, Plant]]) -> Iterator[Row]:
    """For each kind of work a row for each plant, with its growth against the number of pipes."""
    before: dict[str, tuple[float, int]] = {}
    found: dict[str, list[Row]] = {}
    for title, plant in plants:
        many = len(plant.runs)
        for work, call in works(plant):
            row = timed(f"{work} of {title}, {many} pipes", call, runs=20 if many < 500 else 4)
            last, fewer = before.get(work, (row.value, many))
            growth = f"; grew with exponent {math.log(row.value / last) / math.log(many / fewer):.2f}" if many > fewer else ""
            found.setdefault(work, []).append(row._replace(note=f"{1e3 * row.value / many:.3g} µs a pipe; {row.note}{growth}"))
            before[work] = row.value, many
    for rows_of_work in found.values():
        yield from rows_of_work


def rows() -> Iterator[Row]:
    """Sound plants of so many boilers, and ladders of zones on a pair of mains."""
    yield from series([(f"{count} boiler{'s' * (count > 1)}",
                        Scheme(boilers=count, tank="system loop", emitters=min(6, count)).plant()) for count in BOILERS])
    yield from series([(f"{zones} zones", ladder(zones)) for zones in ZONES])
