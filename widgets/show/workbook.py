"""The bar at the top of a lesson: whether answers are kept, which units are shown; and the glossary under the words."""

from __future__ import annotations

from typing import Any

import traitlets

from widgets.learn import RecordTrouble
from widgets.learn.consent import Chosen, choose, chosen, fixed, on_choice
from widgets.learn.glossary import words

from .given import typed_seed
from .pieces import HERE, Piece

KEPT = "Your answers are kept on this machine, and nowhere else. “loopbook record forget” deletes them."
HELD = "Nothing is kept: your answers are gone when you close this page's kernel."
ASKED = "May your answers be kept on this machine? Then you find them again when you come back. Nothing is sent anywhere."
STOPPED = "From now on nothing is kept. What was kept before stays until “loopbook record forget” deletes it."
NUMBERED = "Class number {number}. Load this page again, or run all cells, and the plants are those of your class."
UNNUMBERED = "No class number. Load this page again, or run all cells, and the plants are the lesson's own."
DECIDED = " Whoever looks after this machine has decided that."


class Workbook(Piece):
    """keep: 'yes', 'no' or '' while nobody has answered.  units: 'si' or 'us'.  says: what that means, in a sentence.
    number: the class's number as text, '' for none: with the same one everybody has the same plants.

    While it is on a page, the words of the glossary in that notebook are explained when pointed at or gone to by Tab.

    >>> Workbook()
    <Workbook>
    """

    _esm = HERE / "workbook.js"
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

    def _on_keep(self, change: Any) -> None:
        if (answer := {"yes": True, "no": False}.get(change.new)) is None or answer == chosen().keep:
            return
        before = chosen().keep
        try:
            choose(keep=answer)
        except RecordTrouble as trouble:
            self.says = str(trouble)
        else:
            self.says = STOPPED if before and not answer else self.says

    def _on_number(self, change: Any) -> None:
        now = chosen().number
        if change.new.strip() == ("" if now is None else str(now)):
            return
        try:
            choose(number=typed_seed(change.new) if change.new.strip() else -1)
            self.says = NUMBERED.format(number=chosen().number) if change.new.strip() else UNNUMBERED
        except (ValueError, RecordTrouble) as trouble:
            self.says = str(trouble)

    def _on_units(self, change: Any) -> None:
        if change.new == chosen().units:
            return
        try:
            choose(units=change.new)
        except RecordTrouble as trouble:
            self.says = str(trouble)


def your_workbook() -> Workbook:
    """The bar at the top of a lesson: see `Workbook`."""
    return Workbook()
