"""A drawing to get to know: pick a part or a pipe, and it is said what that is."""

from __future__ import annotations

from figures.plant import Plant

from .canvas import Canvas, captioned, unread
from .given import plant_of

ASK = "Click a part or a pipe, or go to it with Tab and the arrow keys and press Enter."


class Look(Canvas):
    """The drawing of a plant. What is picked is lit up, and the caption says what it is and what it does.

    >>> from figures.plant.scheme import Scheme
    >>> look = look_at(Scheme.random(1, size="small").plant())
    >>> look.picked, look.n = "B1", 1
    >>> look.caption
    'B1: boiler — heats the water.'
    """

    def __init__(self, plant: Plant) -> None:
        from figures.drawing import Diagram

        # Loops are neither tinted nor named: a lesson asks first and tells later.
        svg, words = unread(Diagram(plant))
        super().__init__(svg=svg, description=words, hide=["tints"], pickable=True, caption=ASK)
        self.plant = plant
        self.add_class("lb-look")
        self.observe(self._on_pick, "n")

    def tell(self, name: str) -> None:
        """Light up a part or a pipe and say what it is; an unknown name puts the light out."""
        words = what_is(self.plant, name)
        self.light([name] if words else [])
        self.caption = words or ASK

    @captioned
    def _on_pick(self, change: object) -> None:
        self.tell(self.picked)

    def __repr__(self) -> str:
        return f"<Look: {self.plant.title or 'a plant'}>"


def look_at(plant: object) -> Look:
    """The drawing of a plant whose parts say what they are: see `Look`.

    plant: a Plant, a Scheme, or the path of a plant file.
    """
    return Look(plant_of(plant))


def what_is(plant: Plant, name: str) -> str:
    """A part or a pipe in a sentence; '' where the plant has nothing of that name.

    >>> from widgets.show.lesson import example
    >>> plant = example(1, "single loop", "heating only")
    >>> what_is(plant, "XT"), what_is(plant, "ET1>B1")
    ('XT: expansion tank — takes up the water that heating swells.', 'A pipe from ET1 to B1 by way of PS, E1.')
    """
    if (part := plant.parts.get(name)) is not None:
        called = "emitter, a radiator say" if part.kind == "emitter" else part.kind
        return f"{name}: {called} — {part.what.says}."
    if name not in plant.run_names:
        return ""
    run = plant.runs[plant.run_names.index(name)]
    first, *inner, last = (end.replace(".", " at ") for end in run.through)
    by = f" by way of {', '.join(inner)}" if inner else ""
    return f"A pipe from {first} to {last}{by}."
