"""The base of pictures with a few things to turn beside them: what is set, what the page sends, and the learner's units."""

from __future__ import annotations

from collections.abc import Sequence

import ipywidgets

from figures.plant.units import Units
from widgets.learn.consent import Chosen, on_choice, units

from .explore import Controls, told
from .explore_scene import Value, checked
from .pieces import Note, box


class Turned(ipywidgets.VBox):
    """A heading, controls, and a picture beside them that follows what is turned and the units that are chosen.

    A picture of its own kind says in `_groups` what can be turned, as `Controls` takes it, and in `_show` what that does; it
    calls `_stand` once. What goes wrong is told below it.
    """

    def _groups(self, which: Units) -> list[dict[str, object]]:
        raise TypeError(f"{type(self).__name__} does not say what can be turned")

    def _show(self, which: Units) -> None:
        raise TypeError(f"{type(self).__name__} does not say what is shown")

    def _stand(self, head: str, values: dict[str, Value], picture: Sequence[ipywidgets.Widget], caution: str) -> None:
        """Build it. values: what is set to begin with.  picture: what stands beside the controls."""
        self._values = values
        self.controls = Controls()
        self.controls.observe(self._on_asked, "asked")
        self.trouble = Note(live=True)
        body = box("lb-explore-body", box("lb-explore-panel", self.controls), box("lb-explore-view", *picture))
        ipywidgets.VBox.__init__(self, [Note(heading=3, text=head), body, self.trouble,
                                             Note(tone="caution", text=caution)])
        self.add_class("lb-explore")
        self._again(units())
        on_choice(self._on_units)

    def turn(self, name: str, value: Value) -> None:
        """Turn one thing, as the page does. Raises ValueError for a name or a value that is none."""
        given = checked({name: value}, self._groups("si"))
        if name not in given:
            raise ValueError(f"'{name}' cannot be turned to {value!r} here")
        self._values |= given
        self._again(units())

    def _again(self, which: Units) -> None:
        self.controls.groups = self._groups(which)
        self.controls.values = dict(self._values)
        self._show(which)
        self.trouble.say("")

    def _lost(self, words: str) -> None:
        self.trouble.say(words, "trouble")

    @told
    def _on_asked(self, change: object) -> None:
        self._values |= checked(dict(self.controls.values), self._groups("si"))
        try:
            self._again(units())
        finally:
            self.controls.done = self.controls.asked

    @told
    def _on_units(self, now: Chosen) -> None:
        self._again(now.units)
