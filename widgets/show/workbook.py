"""The bar at the top of a lesson: whether answers are kept, which units are shown; and the glossary under the words."""

from __future__ import annotations

from typing import Any

import traitlets

from widgets.learn import RecordTrouble
from widgets.learn.consent import Chosen, choose, chosen, fixed, on_choice
from widgets.learn.glossary import words

from .given import typed_seed
from .pieces import Piece, script
from .safely import safely

KEPT = "Your answers are kept on this machine, and nowhere else. “loopbook record forget” deletes them."
HELD = "Nothing is kept: your answers are gone when you close this page's kernel."
ASKED = "May your answers be kept on this machine? Then you find them again when you come back. Nothing is sent anywhere."
STOPPED = "From now on nothing is kept. What was kept before stays until “loopbook record forget” deletes it."
NUMBERED = "Class number {number}. Load this page again, or run all cells, and the plants are those of your class."
UNNUMBERED = "No class number. Load this page again, or run all cells, and the plants are the lesson's own."
DECIDED = " Whoever looks after this machine has decided that."
told = safely(lambda bar, text: setattr(bar, "says", text), RecordTrouble, then="Load this page again.")
"""For what a choice in the bar calls: see `safely`."""


class Workbook(Piece):
    """keep: 'yes', 'no' or '' while nobody has answered.  units: 'si' or 'us'.  says: what that means, in a sentence.
    number: the class's number as text, '' for none: with the same one everybody has the same plants.

    While it is on a page, the words of the glossary in that notebook are explained when pointed at or gone to by Tab.

    >>> Workbook()
    <Workbook>
    """

    _esm = script("workbook.js")
    keep = traitlets.Enum(["", "yes", "no"], "").tag(sync=True)
    units = traitlets.Enum(["si", "us"], "si").tag(sync=True)
    number = traitlets.Unicode("").tag(sync=True)
    says = traitlets.Unicode("").tag(sync=True)
    fixed = traitlets.Bool(False).tag(sync=True)
    words = traitlets.Dict(value_trait=traitlets.Unicode(), key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self) -> None:
        super().__init__(words=dict(words()), fixed=fixed())
        self._take(chosen())
        self.observe(self._on_keep, "keep")
        self.observe(self._on_units, "units")
        self.observe(self._on_number, "number")
        on_choice(self._take)

    def _take(self, now: Chosen) -> None:
        """What was chosen here or on another page."""
        with self.hold_trait_notifications():
            self.keep = {True: "yes", False: "no", None: ""}[now.keep]
            self.units = now.units
            self.number = "" if now.number is None else str(now.number)
        self.says = {True: KEPT, False: HELD, None: ASKED}[now.keep] + (DECIDED if self.fixed else "")

    @told
    def _on_keep(self, change: Any) -> None:
        before, answer = chosen().keep, {"yes": True, "no": False}.get(change.new)
        if answer is not None and answer != before:
            choose(keep=answer)
            self.says = STOPPED if before and not answer else self.says

    @told
    def _on_number(self, change: Any) -> None:
        now, typed = chosen().number, change.new.strip()
        if typed != ("" if now is None else str(now)):
            choose(number=typed_seed(typed) if typed else -1)
            self.says = NUMBERED.format(number=chosen().number) if typed else UNNUMBERED

    @told
    def _on_units(self, change: Any) -> None:
        if change.new != chosen().units:
            choose(units=change.new)


def your_workbook() -> Workbook:
    """The bar at the top of a lesson: see `Workbook`."""
    return Workbook()
