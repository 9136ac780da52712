"""*Your own plant* with its settings sheet: the form of one room, the sheet of another, joined."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from figures.plant.units import Units
from widgets.learn.consent import units as chosen_units
from widgets.paper.labels import Labels
from widgets.paper.sheet import Sheet, sheet
from widgets.show import form


class PlantForm(form.PlantForm):
    """A plant put together from answers, with its drawing, reading, findings, plant file and settings sheet.

    units: the learner's choice unless said.  paper: 'a4' or 'letter'.  labels: an instructor's own words, beside ours on
    screen and sheet.  The rest as in `widgets.show.form.PlantForm`.

    >>> PlantForm({"title": "Lock House"}).sheet()
    <Sheet: Lock House>
    """

    def __init__(self, answers: Mapping[str, Sequence[str] | str] | None = None, folder: str | Path = ".",
                 units: Units | None = None, paper: str = "a4", labels: Labels | None = None) -> None:
        def make(plant, *, units: Units) -> Sheet:  # type: ignore[no-untyped-def]
            return sheet(plant, units=units, paper=paper, labels=labels)  # type: ignore[arg-type]
        super().__init__(answers, folder, units or chosen_units(), make, labels)
