"""Two pictures side by side, and a chart that follows the learner's units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Any

import ipywidgets

from figures.plant.units import Units
from figures.reading import read
from widgets.learn.consent import Chosen, on_choice, units

from .canvas import Canvas
from .given import plant_of

if TYPE_CHECKING:
    from figures.drawing.plain_charts import Picture


class Beside(ipywidgets.Box):
    """Drawings side by side, below each other where the page is narrow; what differs is lit up.

    plants: title → plant.  lit: title → names to light up.  tinted: show the loops in their tints.

    >>> from widgets.show.lesson import example
    >>> pair = Beside({"one": example(1, "single loop", "heating only"), "two": example(2, "single loop", "heating only")})
    >>> pair, len(pair.canvases)
    (<Beside: one, two>, 2)
    """

    def __init__(self, plants: Mapping[str, object], lit: Mapping[str, Iterable[str]] | None = None,
                 tinted: bool = False) -> None:
        from figures.drawing import Diagram

        self.canvases: dict[str, Canvas] = {}
        for title, given in plants.items():
            plant = plant_of(given)
            diagram = Diagram(plant, read(plant), title=title)
            canvas = Canvas(svg=diagram.svg(), description=diagram.description, hide=[] if tinted else ["tints"])
            canvas.light((lit or {}).get(title, ()))
            canvas.caption = title
            canvas.layout = ipywidgets.Layout(flex="1 1 380px", min_width="0", width="auto", margin="0")
            self.canvases[title] = canvas
        super().__init__(list(self.canvases.values()), layout={"flex_flow": "row wrap", "width": "100%", "grid_gap": "10px"})
        self.add_class("lb-exercise")
        self.add_class("lb-beside")

    def __repr__(self) -> str:
        return f"<Beside: {', '.join(self.canvases)}>"


class Graph(ipywidgets.HTML):
    """A small chart; its figures follow when other units are chosen.

    make: gives the picture in the units it is asked for.

    >>> from figures.drawing.plain_charts import bars
    >>> Graph(lambda units: bars({"boilers": [1.2, 1.3]}, unit="L/s", title="Flow"))
    <Graph: Flow>
    """

    def __init__(self, make: Callable[[Units], Picture]) -> None:
        self.make = make
        super().__init__()
        self._show(units())
        on_choice(self._follow)         # a method, so that a chart that is gone is not held for ever

    def _follow(self, now: Chosen) -> None:
        self._show(now.units)

    def _show(self, wanted: Units) -> None:
        self.picture = self.make(wanted)
        self.value = self.picture.html()

    def __repr__(self) -> str:
        return f"<Graph: {self.picture}>"

    def _repr_mimebundle_(self, **given: Any) -> dict[str, object]:
        bundle: dict[str, object] = super()._repr_mimebundle_(**given)
        bundle["text/html"] = self.picture.html()
        return bundle
