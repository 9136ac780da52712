"""How long a settings sheet takes, and an answer in the form of one's own plant."""

from __future__ import annotations

from collections.abc import Iterator

from figures.plant.scheme import Scheme
from figures.reading import read
from widgets import PlantForm
from widgets.paper.sheet import sheet

from .measure import Row, timed


def rows() -> Iterator[Row]:
    """Of one boiler and of eight, from a plant that is read already; the form draws and reads with every answer."""
    for count in (1, 8):
        plant = Scheme(boilers=count, tank="boiler loop", emitters=min(6, count)).plant()
        seen, boilers = read(plant), f"{count} boiler{'s' * (count > 1)}"
        yield timed(f"sheet of {boilers} as text", lambda plant=plant, seen=seen: sheet(plant, seen).text())
        yield timed(f"sheet of {boilers} as HTML", lambda plant=plant, seen=seen: sheet(plant, seen).html(), runs=10)
        yield timed(f"sheet of {boilers} as PDF", lambda plant=plant, seen=seen: sheet(plant, seen).pdf(), runs=5)
    form = PlantForm({"boilers": ("4",), "meet": ("closely spaced tees",), "tank": ("boiler loop",)})
    turn = [0]

    def answer() -> None:
        turn[0] += 1
        form.answer("output_kw", str(50 + turn[0]))
    yield timed("one answer in the form, 4 boilers: drawn and read anew", answer)
