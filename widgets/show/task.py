"""What every exercise on one plant has: its buttons, the box for a plant number, a caution, and its rows in the record."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any

import ipywidgets
from traitlets import Bunch

from figures.plant import BadPlant, Plant, write_plant
from widgets.learn import Record, RecordTrouble, Row
from widgets.learn.record import GOES_ON

from .given import plant_of, sound_seed, typed_seed
from .pieces import Note, box
from .safely import safely

TRIES = 2
CAUTION = ("This is practice on a drawing. On a real plant the local code and the boiler's instructions come first; "
           "hot water stands under pressure, and work on boilers, fuel and wiring is for licensed people.")
Act = Callable[[], None]
guarded = safely(lambda task, text: task._tell(text, "trouble"), RecordTrouble,
                 then="What you answered still stands; take another plant, or run the cell again.")
"""For what a press of a button calls: see `safely`."""


def origin_of(seed: int | None, own: Plant | None, sort: Iterable[str]) -> str:
    """What a cell asks for, by which it is known when it is run again: a plant of its own, or the number and sort of a made one.

    >>> origin_of(41, None, ["small"])
    'seed 41, small'
    """
    if own is not None:
        return "plant " + hashlib.sha256(write_plant(own).encode()).hexdigest()[:16]
    return ", ".join(["any" if seed is None else f"seed {seed}", *sort])


class PlantTask(ipywidgets.VBox):
    """The base of exercises on one plant."""

    record: Record | None
    seed: int | None
    key: str
    _origin: str

    def _build_bar(self, show: str, check: Act, reveal: Act, another: Callable[[int | None], None]) -> None:
        """The report, the caution, and the bar with its buttons. show: what the button that tells the answer says.  check,
        reveal, another: what the buttons do; the last is given a plant number, or None for any."""
        self._acts, self._another = {"check": check, "reveal": reveal}, another
        self.head = Note(heading=3)
        self.report = Note(live=True)
        self.caution = Note(tone="caution", text=CAUTION)
        self.check_button = ipywidgets.Button(description="Check", button_style="primary")
        self.show_button = ipywidgets.Button(description=show)
        self.another_button = ipywidgets.Button(description="Another plant")
        self.seed_box = ipywidgets.Text(description="Plant number", continuous_update=False,
                                        style={"description_width": "initial"})
        self.seed_box.add_class("lb-seed")
        self.check_button.on_click(self._on_check)
        self.show_button.on_click(self._on_show)
        self.another_button.on_click(self._on_another)
        self.seed_box.observe(self._on_seed, "value")
        self.bar = box("lb-bar", self.check_button, self.show_button, self.another_button, self.seed_box)

    def _tell(self, text: str, tone: str = "plain") -> None:
        self.report.say(text, tone)

    # -- which plant -------------------------------------------------------------------------------------

    def _given(self, seed: int | None, plant: object, sort: Iterable[str]) -> Plant | None:
        """The plant that somebody gives, None where one is to be made. sort: what a made one is besides its number; by all of
        it the same cell is known again. Raises ValueError for a seed that is none or one too many, and BadPlant."""
        if seed is not None and plant is not None:
            raise ValueError("say seed or plant, not both")
        if seed is not None:
            sound_seed(seed)
        own = plant_of(plant) if plant is not None else None
        self._origin = origin_of(seed, own, sort)
        return own

    def _unreadable(self, bad: BadPlant) -> None:
        self.head.text = "This plant cannot be read"
        self._tell("\n".join(bad.lines()), "trouble")

    # -- the record --------------------------------------------------------------------------------------

    def _add(self, kind: str, **row: Any) -> None:
        """A row of the record. A record that cannot be written is told of once, and on it goes without."""
        if self.record is not None:
            try:
                self.record.add(kind, exercise=self.key, seed=self.seed, **row)
                self._notice()
            except RecordTrouble as trouble:
                self._without_record(trouble)

    def _without_record(self, trouble: RecordTrouble) -> None:
        """Said once, and on it goes."""
        self.record = None
        said = str(trouble) if GOES_ON in str(trouble) else f"{trouble} {GOES_ON}"
        self.caution.text = f"{said}\n{CAUTION}"

    def _notice(self) -> None:
        """What the record has to tell: that it was damaged and was made again."""
        if self.record is not None and self.record.notice:
            self.caution.text = f"{self.record.take_notice()}\n{CAUTION}"

    def _kept(self) -> list[Row]:
        """The rows of this exercise from the plant shown last on, where the same cell was run before."""
        if self.record is None or not self.key:
            return []
        try:
            last = self.record.rows(exercise=self.key, kind="plant", last=1)
            self._notice()
            if not last or last[0].more.get("origin") != self._origin:
                return []
            if self._origin.startswith("plant ") and last[0].seed is not None:
                return []       # who asks for a plant of their own gets it, whatever they looked at since
            return [row for row in self.record.rows(exercise=self.key) if row.id >= last[0].id]
        except RecordTrouble as trouble:
            self._without_record(trouble)
            return []

    # -- presses -----------------------------------------------------------------------------------------

    @guarded
    def _on_check(self, button: object) -> None:
        self._acts["check"]()

    @guarded
    def _on_show(self, button: object) -> None:
        self._acts["reveal"]()

    @guarded
    def _on_another(self, button: object) -> None:
        self._another(None)

    @guarded
    def _on_seed(self, change: Bunch) -> None:
        text = change.new.strip()
        if text not in ("", str(self.seed)):
            self._another(typed_seed(text))
