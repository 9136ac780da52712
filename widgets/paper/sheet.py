"""The settings sheet and commissioning checklist of a plant: one page set that can be ticked, written on and signed.

>>> from figures.plant.scheme import Scheme
>>> page = sheet(Scheme(tank="boiler loop", title="Lock House").plant())
>>> page
<Sheet: Lock House>
>>> [line.value for line in page.content.told if line.name == "control configuration"]
['DHW on the boiler loop']
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from figures.plant.model import Plant
from figures.plant.refusal import plain_text
from figures.plant.units import Units
from figures.reading.record import Reading

from .labels import beside, words_of
from .layout import Section, sections
from .pages import SIZES_MM, Paper
from .record import Clear, Content
from .units import figure

if TYPE_CHECKING:
    from .labels import Labels

KIND = "Settings sheet and commissioning checklist"
UNDER = "Made from a plant file, not from the boiler room: whoever signs has compared the two."
FOOT = ("Local codes, the makers' instructions and licensed people prevail over this sheet. Hot water, pressure, gas, flue gas "
        "and electricity kill.")
CAUTIONS = (
    "Scald: water at 60 °C (140 °F) burns deep within seconds (US CPSC publication 5098, from memory). A mixing valve guards the "
    "taps; its outlet is measured, not guessed.",
    "Pressure: nothing shuts off a relief valve, and nothing plugs its discharge. A closed plant without expansion"
    " tank lifts it.",
    "Gas and flue gas: leak test, firing and combustion by licensed people. On a smell of gas: out, and ring from outside.",
    "Electricity: off, locked and proved dead before a cover is opened; motors and valves can start by themselves.",
    "Where this sheet and the local code, a maker's instructions or a licensed person's judgement differ, this sheet is wrong.",
)
SIGNS = ("Commissioned by", "Gas / firing by", "Electrical by", "Handed over to")
ENDINGS = (".pdf", ".html", ".txt")


class Sheet:
    """One sheet, ready to be written as text, HTML or PDF. It shows itself in a notebook as its drawing and words."""

    def __init__(self, content: Content, paper: Paper, labels: Labels | None = None) -> None:
        self.content, self.paper, self.labels = content, paper, labels

    def __repr__(self) -> str:
        return f"<Sheet: {self.content.title}>"

    def _repr_html_(self) -> str:
        from html import escape

        return (f'<iframe title="{escape(KIND)}" style="width:100%;height:70vh;border:1px solid #888;background:#fff" '
                f'sandbox="allow-modals" srcdoc="{escape(self.html())}"></iframe>')

    @cached_property
    def sections(self) -> tuple[Section, ...]:
        """What stands on it, in order."""
        return sections(self.content, lambda word: beside(self.labels, word))

    @cached_property
    def svg(self) -> str:
        """The drawing, findings numbered as they are on the sheet; loops are told apart without colour."""
        from figures.drawing import Diagram

        reading = self.content.reading
        return Diagram(reading.plant, reading, self.content.title, words=self.labels).svg(findings=reading.findings)

    @property
    def _under(self) -> str:
        return f"{KIND}. {UNDER}"

    def text(self) -> str:
        """As plain text; the drawing as its description."""
        from .as_text import text

        return text(self.content.title, self._under, self.sections, FOOT) + "\n"

    def html(self) -> str:
        """As one HTML page."""
        from .as_html import html

        return html(self.content.title, self._under, self.sections, FOOT, self.svg, self.paper)

    def pdf(self) -> bytes:
        """As PDF. Raises `widgets.paper.as_pdf.NoFace` where the face is missing."""
        from .as_pdf import pdf

        return pdf(self.content.title, self._under, self.sections, FOOT, self.svg, self.paper)

    def save(self, path: str | Path, force: bool = False) -> Path:
        """Write it as .pdf, .html or .txt.

        Raises ValueError for another ending, FileExistsError where the file is there already and `force` is not
        said, OSError where it cannot be written.
        """
        path = Path(path)
        ending = path.suffix.lower()
        if ending not in ENDINGS:
            raise ValueError(f"{path.name}: a sheet is written as {', '.join(ENDINGS)}")
        made = self.pdf() if ending == ".pdf" else (self.html() if ending == ".html" else self.text()).encode()
        with open(path, "wb" if force else "xb") as file:
            file.write(made)
        return path


def sheet(plant: Plant, reading: Reading | None = None, *, units: Units = "si", paper: Paper = "a4",
          labels: Labels | None = None) -> Sheet:
    """The sheet of a plant. `reading`: made unless given.  labels: an instructor's own words, shown beside ours.

    Raises ValueError for units or a paper that are not known.
    """
    if units not in ("si", "us"):
        raise ValueError(f"units: '{units}' is not known; use si or us")
    if paper not in SIZES_MM:
        raise ValueError(f"paper: '{paper}' is not known; use {' or '.join(SIZES_MM)}")
    return Sheet(content(plant, reading, units, labels), paper, labels)


def content(plant: Plant, reading: Reading | None = None, units: Units = "si", labels: Labels | None = None) -> Content:
    """Everything that the sheet says, as one record."""
    from figures.drawing.describe import describe
    from figures.physics import Prepared
    from figures.physics.jobs import jobs_of
    from figures.reading import read
    from figures.reading.settings import settings

    from .reset import reset_line
    from .steps import Case, steps
    from .told import asked, read_lines, told_lines
    from .wiring import valve_rows, wires

    reading = reading or read(plant)
    told_of = settings(reading)
    jobs = jobs_of(Prepared(plant), reading)
    ports = wires(reading, jobs, told_of)
    told, ask = told_lines(reading, told_of, units), asked(reading, told_of, ports, units)
    found = tuple(Clear(n, f.rule, f.severity, f.parts, f.says, f.fix) for n, f in enumerate(reading.findings, 1))
    rows = reset_line(plant.design) if told_of.reset_allowed is not False else []
    title = plain_text(plant.title) or "A plant without a title"
    words: Mapping[str, str] = words_of(labels)
    return Content(
        title=title, units=units, reading=reading, description=describe(plant, reading, title), ask=ask,
        read=read_lines(reading, units), told=told,
        reset=tuple((figure(a, "c", units), figure(b, "c", units), figure(c, "c", units)) for a, b, c in rows),
        wires=ports, valves=valve_rows(reading, jobs, units), findings=found,
        steps=steps(Case(reading, jobs, told, ask, found, told_of, units, lambda word: beside(labels, word))),
        cautions=CAUTIONS, signs=SIGNS,
        words=tuple(words.items()), words_from=f"Words of '{labels.title}', a label sheet." if labels else "")
