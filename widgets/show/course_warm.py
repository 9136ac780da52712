"""A plant that is warmed up: what its water grows by, what its expansion tank takes up, and what the gauge shows.

Every figure is computed on the plant shown, and follows the units that the learner has chosen.
"""

from __future__ import annotations

import math
from html import escape

import ipywidgets

from figures.physics.pressure import swell_l, tank_kpa, water_l
from figures.plant.sizing import ATMOSPHERE_KPA
from figures.plant.units import Units, converted, figure, unit_name

from .course_water import CAUTION, kpa_words
from .given import plant_of
from .pieces import Note, box
from .turned import Turned

COLD_C = 10.0
"""What the water had when the plant was filled: common practice, no source."""


class WarmUp(Turned):
    """Heat the water of a plant, and see what its expansion tank and its gauge do.

    What can be turned: 'warm' ('10' to '90' °C), 'tank' ('there' or 'none'), 'fill' [kPa].  precharge: the tank's gas too, 'gas',
    its pressure when it was set [% of the fill pressure].  warm_c: the water to begin with.

    >>> from widgets.show.lesson import example
    >>> shown = WarmUp(example(1, "single loop", "heating only"))
    >>> shown.turn("tank", "none")
    >>> shown.opens
    True
    """

    def __init__(self, plant: object, warm_c: float = 80.0, precharge: bool = False) -> None:
        self.plant, self.precharge = plant_of(plant), precharge
        tanks = self.plant.of_kind("expansion tank")
        if not tanks:
            raise ValueError("this plant has no expansion tank")
        self.tank_l = sum(tank.number("volume_l") for tank in tanks)
        self.relief_kpa = min((valve.number("set_kpa") for valve in self.plant.of_kind("relief valve")), default=207.0)
        self.holds_l = water_l(self.plant)
        fill = round(min(100.0, 0.45 * self.relief_kpa) / 5.0) * 5.0
        self.picture, self.report = ipywidgets.HTML(), Note(live=True)
        self._stand(f"Warm it up: {self.plant.title}", {"warm": f"{warm_c:.0f}", "tank": "there", "fill": fill, "gas": 100.0},
                    [box("lb-explore-side", self.picture, self.report)], CAUTION)

    def __repr__(self) -> str:
        return f"<Warm it up: {self.plant.title}>"

    @property
    def fill_kpa(self) -> float:
        """Gauge pressure of the cold, filled plant [kPa]."""
        return float(self._values["fill"])

    @property
    def swells_l(self) -> float:
        """By so much the water has grown [L]."""
        return swell_l(self.holds_l, float(self._values["warm"]), COLD_C)

    @property
    def gauge_kpa(self) -> float:
        """What the gauge would show [kPa] if no relief valve opened; `inf` where there is no room."""
        fill = float(self._values["fill"])
        if self._values["tank"] == "none":
            return math.inf if self.swells_l > 0.0 else fill
        return tank_kpa(self.tank_l, self.swells_l, fill, fill * float(self._values["gas"]) / 100.0)

    @property
    def opens(self) -> bool:
        """The relief valve opens."""
        return self.gauge_kpa >= self.relief_kpa

    def verdict(self) -> str:
        """What is shown, in words."""
        return self.report.text

    def _groups(self, which: Units) -> list[dict[str, object]]:
        kpa, factor = unit_name("kpa", which), converted(1.0, "kpa", which)
        warm = [{"value": f"{c}", "label": figure(float(c), "c", which)} for c in (10, 20, 40, 60, 70, 80, 90)]
        groups: list[dict[str, object]] = [
            {"title": "The water", "controls": [
                {"name": "warm", "label": "It is heated to", "type": "choice", "options": warm},
                {"name": "fill", "label": "Filled cold to", "type": "slider", "min": 30, "max": 180, "step": 5, "unit": kpa,
                 "factor": factor}]},
            {"title": "The expansion tank", "controls": [
                {"name": "tank", "label": "It is", "type": "choice", "options": [
                    {"value": "there", "label": "fitted"}, {"value": "none", "label": "not there"}]}]}]
        if self.precharge:
            groups[1]["controls"] += [  # type: ignore[operator]
                {"name": "gas", "label": "Its gas was set to, of the fill pressure", "type": "slider", "min": 0, "max": 160,
                 "step": 10, "unit": "%"}]
        return groups

    def _show(self, which: Units) -> None:
        self.picture.value = self._drawn(which)
        self.report.say(self._says(which), "wrong" if self.opens else "plain")

    def _says(self, which: Units) -> str:
        fill, grown = float(self._values["fill"]), self.swells_l
        says = (f"The plant holds {figure(self.holds_l, 'l', which)} of water. From {figure(COLD_C, 'c', which)} to "
                f"{figure(float(self._values['warm']), 'c', which)} it grows by {figure(max(grown, 0.0), 'l', which)}. ")
        relief = f"the relief valve opens, at {kpa_words(self.relief_kpa, which)}, and hot water comes out"
        if self._values["tank"] == "none":
            return says + (f"Water cannot be pressed together, and there is no tank to take it up: {relief}." if grown > 0.0
                           else f"Cold as it was filled, the gauge shows {kpa_words(fill, which)}.")
        if self.opens:
            return says + f"The tank has not enough room left: {relief}."
        return says + (f"The tank takes it up, and the gauge goes from {kpa_words(fill, which)} to "
                       f"{kpa_words(self.gauge_kpa, which)}. The relief valve opens at {kpa_words(self.relief_kpa, which)}: "
                       "it stays shut.")

    def _drawn(self, which: Units) -> str:
        """A gauge as a scale, and the tank with its water below and its gas above: two pictures, which wrap on a phone."""
        fill, top = float(self._values["fill"]), 1.25 * self.relief_kpa
        now = min(self.gauge_kpa, self.relief_kpa)

        def x(kpa: float) -> float:
            return 40.0 + 400.0 * kpa / top

        marks = ("<path d='M40 80H440' stroke='#1a1a1a' stroke-width='3'/>"
                 f"<rect x='40' y='68' width='{x(now) - 40:.1f}' height='24' fill='#{'d55e00' if self.opens else '56b4e9'}' "
                 "stroke='#1a1a1a'/>")
        for kpa, words, y in ((fill, "filled cold", 24), (self.relief_kpa, "relief valve opens", 24), (now, "now", 126)):
            marks += (f"<path d='M{x(kpa):.1f} 80V{54 if y < 80 else 106}' stroke='#1a1a1a' stroke-width='2'/>"
                      f"<text x='{x(kpa):.1f}' y='{y}' text-anchor='middle'>{escape(words)}</text>"
                      f"<text x='{x(kpa):.1f}' y='{y + 21}' text-anchor='middle' font-weight='700'>"
                      f"{kpa_words(kpa, which)}</text>")
        tank = ""
        if self._values["tank"] == "there":
            gas = fill * float(self._values["gas"]) / 100.0
            cold = 0.0 if gas >= fill else 1.0 - (gas + ATMOSPHERE_KPA) / (fill + ATMOSPHERE_KPA)
            high = 116.0 * min(1.0, cold + max(self.swells_l, 0.0) / self.tank_l)
            inside = "<rect x='12' y='12' width='76' height='116' rx='22'/>"
            tank = ("<rect x='10' y='10' width='80' height='120' rx='24' fill='#fff' stroke='#1a1a1a' stroke-width='2'/>"
                    f"<clipPath id='lb-{id(self)}'>{inside}</clipPath>"
                    f"<rect x='12' y='{128 - high:.1f}' width='76' height='{high:.1f}' "
                    f"fill='#56b4e9' clip-path='url(#lb-{id(self)})'/>"
                    f"<path d='M12 {128 - high:.1f}H88' stroke='#1a1a1a' stroke-dasharray='5 3'/>"
                    "<text x='100' y='34'>gas</text><text x='100' y='124'>water</text>")
        pictures = (("0 0 480 154", 480, "the gauge", marks), ("0 0 160 154", 160, "the expansion tank", tank))
        drawn = "".join(
            f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='{view}' role='img' aria-label='{name}' width='{px}' "
            f"style='flex:0 1 {px}px;min-width:0;height:auto;background:#fff' "
            f"font-family='Arial, Helvetica, sans-serif' font-size='17' fill='#1a1a1a'>"
            f"{body}</svg>" for view, px, name, body in pictures if body)
        return f"<div style='display:flex;flex-wrap:wrap;gap:8px;background:#fff'>{drawn}</div>"


def warm_up(plant: object, warm_c: float = 80.0, precharge: bool = False) -> WarmUp:
    """Heat a plant's water and look at its gauge: see `WarmUp`."""
    return WarmUp(plant, warm_c, precharge)
