"""Ways to look at one drawing: its layers, one loop at a time, the water step by step, and what is missing.

The drawing is put on the page once; every control switches classes on it.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets
from traitlets import Bunch

from figures.plant import Plant
from figures.reading import Reading, read

from .canvas import Canvas, captioned
from .given import plant_of
from .pieces import Note, box
from .task import CAUTION

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme

ALL = "all loops"
OFF = "the water stands still"
LAYERS = {"tags": "Tags", "tints": "Loops tinted", "evidence": "Highlights"}
ASK = "Choose a loop, or a load and then “Next step” to go with the water from the lead boiler and back."


class Views(ipywidgets.VBox):
    """The drawing of a plant with controls beside it.

    projected: tags are read from 8 m on a picture 2 m wide; the drawing scrolls along with the steps.
    layers: tags, tints and highlights, each on or off.  loop: all else is drawn faintly.  to: the load to which the water is
    followed, step by step.  missing: what findings ask to be fitted, dashed where it would be.  All of it is reached by
    keyboard, and each step is read out below the drawing.

    >>> from figures.plant.scheme import Scheme
    >>> shown = views(Scheme(boilers=2, tank="boiler loop"))
    >>> shown.loop.options
    ('all loops', 'boiler loop', 'system loop')
    >>> shown.to.value = "IT"
    >>> shown.go(1)
    >>> shown.canvas.caption
    'Step 1 of 12. B1 (boiler, leads) heats the water.'
    """

    def __init__(self, plant: Plant, reading: Reading | None = None) -> None:
        from figures.drawing import Diagram
        from figures.drawing.views import dimmed, loads, missing

        self.plant, self.reading = plant, reading or read(plant)
        self.diagram = Diagram(plant, self.reading)
        self.gone = missing(plant, self.reading)
        self._dimmed = {name: list(dimmed(plant, self.reading, name)) for name in self.diagram.loops}
        self.at = 0                                         # 0 before the first step
        self.canvas = Canvas(svg=self.diagram.svg(missing=True), description=self.diagram.description,
                             hide=["missing"], caption=ASK)
        self.layers = {name: _switch(words, True) for name, words in LAYERS.items()}
        self.missing = _switch(f"What is missing ({len(self.gone)})", False)
        self.missing.disabled = not self.gone
        self.loop = ipywidgets.Dropdown(options=[ALL, *self.diagram.loops], description="Loop",
                                        layout={"width": "15em"}, style={"description_width": "3em"})
        self.to = ipywidgets.Dropdown(options=[OFF, *loads(plant)], description="Water to", layout={"width": "17em"},
                                      style={"description_width": "5em"})
        self.back = ipywidgets.Button(description="Step back", disabled=True)
        self.next = ipywidgets.Button(description="Next step", disabled=True)
        self.projected = _switch("For a projector", False)
        self.projected.observe(self._on_projected, "value")
        for switch in (*self.layers.values(), self.missing):
            switch.observe(self._on_layer, "value")
        self.loop.observe(self._on_loop, "value")
        self.to.observe(self._on_load, "value")
        self.back.on_click(self._on_back)
        self.next.on_click(self._on_next)
        super().__init__([Note(heading=3, text=plant.title or "A plant without a title"),
                          box("lb-bar", *self.layers.values(), self.missing, self.projected),
                          box("lb-bar", self.loop, self.to, self.back, self.next), self.canvas,
                          Note(tone="caution", text=CAUTION)])
        self.add_class("lb-exercise")
        self.add_class("lb-views")

    def __repr__(self) -> str:
        return f"<Views of {self.plant.title or 'a plant'}>"

    @property
    def steps(self) -> tuple[Any, ...]:
        """The way of the water to the load that is chosen and back; none where none is chosen."""
        return () if self.to.value == OFF else self.diagram.trace(self.to.value)

    def go(self, at: int) -> None:
        """Go to a step, from 1; a number beyond the ends stays at the end."""
        steps = self.steps
        self.at = max(0, min(at, len(steps)))
        self.back.disabled, self.next.disabled = self.at <= 1, self.at >= len(steps)
        if self.at == 0:
            self.canvas.light([])
            self.canvas.caption = self._says()
            return
        step = steps[self.at - 1]
        self.canvas.light(step.names)
        self.canvas.caption = f"Step {self.at} of {len(steps)}. {step.says}"

    def _says(self) -> str:
        """What the drawing shows while no step is taken."""
        if self.missing.value:
            return "Missing: " + "; ".join(one.name for one in self.gone) + "."
        if self.loop.value != ALL:
            return f"The {self.loop.value}; all else is drawn faintly."
        return ASK

    # -- presses -----------------------------------------------------------------------------------------

    @captioned
    def _on_projected(self, change: Bunch) -> None:
        self.canvas.projected = change.new

    @captioned
    def _on_back(self, button: object) -> None:
        self.go(self.at - 1)

    @captioned
    def _on_next(self, button: object) -> None:
        self.go(self.at + 1)

    @captioned
    def _on_load(self, change: Bunch) -> None:
        self.go(1)
        if self.to.value != OFF and not self.steps:
            self.canvas.caption = f"No pipe leads from the lead boiler to {self.to.value} and back."

    @captioned
    def _on_layer(self, change: Bunch) -> None:
        hidden = [name for name, box in self.layers.items() if not box.value]
        self.canvas.hide = hidden + ([] if self.missing.value else ["missing"])
        if self.at == 0:
            self.canvas.caption = self._says()

    @captioned
    def _on_loop(self, change: Bunch) -> None:
        self.canvas.dimmed = self._dimmed.get(self.loop.value, [])
        if self.at == 0:
            self.canvas.caption = self._says()


def _switch(words: str, on: bool) -> ipywidgets.Checkbox:
    return ipywidgets.Checkbox(on, description=words, indent=False, layout={"width": "auto"})


def views(plant: Plant | Scheme | str | Path, reading: Reading | None = None) -> Views:
    """Ways to look at the drawing of a plant: see `Views`.

    plant: a `Plant`, a `Scheme`, or the path of a plant file.  Raises BadPlant for a file with faults, ValueError for what is
    no plant.
    """
    return Views(plant_of(plant), reading)
