"""A plant read aloud, always in the same order: what is there, what is not, so what the control is told."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import ipywidgets

from figures.plant import Plant
from figures.reading import Evidence, Reading, read
from figures.reading.settings import settings

from .canvas import Canvas, captioned
from .given import plant_of
from .pieces import Lines, beside

THERE, ABSENT, TOLD = "What is there", "What is not there", "So the control is told"
GROUPS = (THERE, ABSENT, TOLD)
_SEEN = ("arrangement", "loops", "dhw", "boilers", "lead", "return")


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence of a reading, and what it points at."""

    group: str
    text: str
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()


def sentences(reading: Reading, leave_out: Sequence[str] = ()) -> tuple[Said, ...]:
    """The reading of a plant, sentence by sentence, in the order in which it is said aloud.

    leave_out: keys of the reading that are not spoken of yet, 'return' say; 'reset' is outdoor reset.

    >>> from figures.plant.scheme import Scheme
    >>> said = sentences(read(Scheme.random(3).plant()))
    >>> sorted({line.group for line in said}, key=GROUPS.index)[-1], said[-1].text.split(":")[0]
    ('So the control is told', 'Outdoor reset')
    """
    seen = [evidence for key in _SEEN if key not in leave_out for evidence in reading.about(key)]
    return (*(_said(THERE, e) for e in seen if not e.absent), *(_said(ABSENT, e) for e in seen if e.absent),
            *_told(reading, leave_out))


def _said(group: str, evidence: Evidence) -> Said:
    return Said(group, evidence.says, evidence.parts, evidence.pipes)


def _told(reading: Reading, leave_out: Sequence[str]) -> Iterator[Said]:
    told = settings(reading)
    needs = tuple(need.evidence for need in told.reset if need.applies)
    for line in told.lines():
        if line.about in leave_out:
            continue
        found: Sequence[Evidence] = needs if line.about == "reset" else reading.about(line.about)
        name = line.name if line.name.startswith("DHW") else line.name[0].upper() + line.name[1:]
        # What is said in the first two groups already is not said twice.
        why = "" if line.about in _SEEN else " ".join(evidence.says for evidence in found)
        yield Said(TOLD, f"{name}: {line.value}.{' ' if why else ''}{why}",
                   tuple(dict.fromkeys(tag for e in found for tag in e.parts)),
                   tuple(dict.fromkeys(pipe for e in found for pipe in e.pipes)))


class Aloud(ipywidgets.VBox):
    """The drawing of a plant beside its reading; each sentence lights up its place.

    >>> aloud = read_aloud(_ring())
    >>> aloud.light(0)
    >>> aloud.canvas.caption
    'Lit up: P, B>B'
    """

    def __init__(self, plant: Plant, reading: Reading | None = None, leave_out: Sequence[str] = ()) -> None:
        from figures.drawing import Diagram

        self.plant = plant
        self.reading = reading or read(plant)
        self.said = sentences(self.reading, leave_out)
        diagram = Diagram(plant, self.reading)
        self.canvas = Canvas(svg=diagram.svg(), description=diagram.description)
        self.lines = Lines(lines=[{"group": line.group, "text": line.text} for line in self.said])
        self.lines.observe(self._on_line, "n")
        super().__init__([beside(self.canvas, ipywidgets.VBox([self.lines]))])
        self.add_class("lb-aloud")

    def __repr__(self) -> str:
        return f"<Aloud: {self.plant.title or 'a plant'}>"

    @captioned
    def _on_line(self, change: object) -> None:
        self.light(self.lines.picked)

    def light(self, at: int) -> None:
        """Light up what one sentence points at, by its place in `said`."""
        line = self.said[at]
        self.lines.picked = at
        self.canvas.light([*line.parts, *line.pipes])
        if not self.canvas.marks:
            self.canvas.caption = "Nothing to point at: that is what the sentence says."
        self.canvas.come_into_view += 1

    def text(self) -> str:
        """The whole reading as lines of text, headings included."""
        lines: list[str] = []
        for group in GROUPS:
            mine = [f"- {line.text}" for line in self.said if line.group == group]
            lines += [f"{group}:", *mine] if mine else []
        return "\n".join(lines)


def read_aloud(plant: object, reading: Reading | None = None, leave_out: Sequence[str] = ()) -> Aloud:
    """The drawing of a plant beside its reading: see `Aloud` and `sentences`.

    plant: a Plant, a Scheme, or the path of a plant file.
    """
    return Aloud(plant_of(plant), reading, leave_out)


def _ring() -> Plant:
    """The smallest plant, for the example above."""
    from figures.plant import parse_plant

    return parse_plant('format = 1\nparts.B.kind = "boiler"\nparts.P.kind = "pump"\nparts.E.kind = "emitter"\n'
                       '[[runs]]\nthrough = ["B", "P", "E", "B"]\nsize = "NPS 1"\nlength_m = 20.0\n')
