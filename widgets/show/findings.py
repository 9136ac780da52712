"""What is wrong with a plant, on its drawing: numbered marks at the parts, and the list beside it."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets

from figures.plant import Plant
from figures.reading import Finding, Reading, read

from .canvas import Canvas, captioned
from .given import plant_of
from .pieces import Lines, Note, beside
from .task import CAUTION

if TYPE_CHECKING:
    from figures.plant.scheme import Scheme

LAYERS = ("tags", "findings", "evidence")
HEADINGS = {"must fix": "Must fix", "should fix": "Should fix", "check local code": "Check the local code",
            "note": "Worth a note"}


class Findings(ipywidgets.VBox):
    """The drawing of a plant with a number at each finding, and the findings as a list; each lights up its place.

    reading: where the caller has one already.  The numbers are those of `reading.findings`, from 1.  Where no widget can
    run, on paper or in a saved page, the drawing and the list stand there as plain text and picture.

    >>> from figures.plant.scheme import Scheme
    >>> shown = show_findings(Scheme(faults=("relief-missing",)))
    >>> print(shown.words().partition(" on the branch")[0])
    1 (must fix): B1 has no relief valve
    """

    def __init__(self, plant: Plant, reading: Reading | None = None) -> None:
        from figures.drawing import Diagram

        self.reading = reading or read(plant)
        self.plant = plant
        diagram = Diagram(plant, self.reading)
        self.svg = diagram.svg(layers=LAYERS, findings=self.reading.findings)
        count = len(self.found)
        self.head = Note(heading=3, text=f"{plant.title or 'A plant without a title'}: "
                         + ("nothing found" if not count else f"{count} finding{'s' if count > 1 else ''}"))
        self.canvas = Canvas(svg=self.svg, description=diagram.description, pickable=count > 0,
                             hide=["tints", "figures", "temperatures"],
                             caption="Press an entry, or a part on the drawing." if count else "")
        self.lines = Lines(lines=[{"group": HEADINGS[finding.severity], "text": _entry(number, finding)}
                                  for number, finding in enumerate(self.found, 1)])
        self.none = Note(tone="right", text="No piping rule has anything to say against this plant.")
        self.panel = ipywidgets.VBox([self.lines if count else self.none])
        self.lines.observe(self._on_line, "n")
        self.canvas.observe(self._on_pick, "n")
        super().__init__([self.head, beside(self.canvas, self.panel), Note(tone="caution", text=CAUTION)])
        self.add_class("lb-exercise")
        self.add_class("lb-findings")

    def __repr__(self) -> str:
        return f"<Findings of {self.plant.title or 'a plant'}>"

    @property
    def found(self) -> tuple[Finding, ...]:
        """The findings, in the order of their numbers."""
        return self.reading.findings

    def look(self, at: int) -> None:
        """Light up the place of a finding, by its place in the list, from 0; any other number puts the light out."""
        if not 0 <= at < len(self.found):
            self.canvas.light([])
            return
        finding = self.found[at]
        self.lines.picked = at
        self.canvas.light([*finding.parts, *finding.pipes])
        self.canvas.caption = f"{at + 1}: {', '.join((*finding.parts, *finding.pipes))}"
        self.canvas.come_into_view += 1

    @captioned
    def _on_line(self, change: object) -> None:
        self.look(self.lines.picked)

    @captioned
    def _on_pick(self, change: object) -> None:
        """A part was picked on the drawing: the next finding that names it."""
        name = self.canvas.picked
        here = [k for k, finding in enumerate(self.found) if name in finding.parts or name in finding.pipes]
        if here:
            self.look(next((k for k in here if k > self.lines.picked), here[0]))
        elif name in (*self.plant.parts, *self.plant.run_names):
            self.canvas.light([name])
            self.canvas.caption = f"Nothing is found against {name}."

    def words(self) -> str:
        """The list as text, one line a finding: number, severity, what is wrong, how to mend it."""
        return "\n".join(f"{number} ({finding.severity}): {finding.says} {finding.fix}"
                         for number, finding in enumerate(self.found, 1)) or "Nothing found."

    def html(self) -> str:
        """The drawing with its numbers above the list, for paper and saved pages: no colour and no script is needed."""
        rows = "".join(f"<li><strong>{escape(HEADINGS[f.severity])}</strong>: {escape(f.says)} <em>{escape(f.fix)}</em></li>"
                       for f in self.found)
        return f"<figure>{self.svg}<figcaption><ol>{rows or '<li>Nothing found.</li>'}</ol></figcaption></figure>"

    def _repr_mimebundle_(self, **given: Any) -> dict[str, object]:
        bundle: dict[str, object] = super()._repr_mimebundle_(**given)
        bundle["text/html"] = self.html()
        return bundle


def show_findings(plant: Plant | Scheme | str | Path, reading: Reading | None = None) -> Findings:
    """The findings of a plant on its drawing: see `Findings`.

    plant: a `Plant`, a `Scheme`, or the path of a plant file.  Raises BadPlant for a file with faults, ValueError
    for what is no plant.
    """
    return Findings(plant_of(plant), reading)


def _entry(number: int, finding: Finding) -> str:
    return f"{number}. {finding.says} → {finding.fix}"
