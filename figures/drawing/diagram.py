"""The drawing as an object: give it a plant, look at it, save it.

>>> from figures.plant.scheme import Scheme
>>> diagram = Diagram(Scheme(boilers=2, tank="system loop").plant(), title="Weir Street")
>>> diagram
Weir Street: two boilers, separated loops, DHW on the system loop.
>>> diagram.show(highlight=["B1"])
Weir Street: two boilers, separated loops, DHW on the system loop.
>>> 'data-tag="B1"' in diagram.svg()
True
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from pathlib import Path

from figures.plant.model import Plant
from figures.reading.record import Finding, Reading

from .describe import describe
from .ink import LAYERS, STYLES
from .overlay import Overlay
from .paint import Painter
from .place import place
from .placed import Placed

Highlight = Iterable[str] | Mapping[str, str]
SHOWN = ("tags", "tints", "evidence", "findings", "figures", "temperatures")


class Diagram:
    """A drawing of a plant. The same plant gives the same drawing.

    reading: made when it is first needed, unless given.  title: the plant's own unless given.
    plain: every node a bar and every chain a column of its own, for comparison.  words: somebody's own words for
    kinds of part, which the legend shows beside ours.
    """

    def __init__(self, plant: Plant, reading: Reading | None = None, title: str | None = None, *,
                 plain: bool = False, words: Mapping[str, str] | None = None) -> None:
        self.plant, self.words = plant, words
        self.title = plant.title if title is None else title
        self._given = reading
        self._plain = plain

    @cached_property
    def reading(self) -> Reading:
        """What the classifier says of the plant."""
        if self._given is not None:
            return self._given
        from figures.reading import read

        return read(self.plant)

    @cached_property
    def placed(self) -> Placed:
        """Where everything stands."""
        return place(self.plant, [run for s in self.reading.separations for run in s.pipes], self._plain)

    @cached_property
    def painter(self) -> Painter:
        """What turns it into SVG."""
        painter = Painter(self.plant, self.placed, self.title, self.words)
        painter.set_loops(self.reading)
        return painter

    @cached_property
    def overlay(self) -> Overlay:
        """Where figures, temperatures and findings are written."""
        return Overlay(self.plant, self.placed, [box for *_, box in self.painter.named])

    @cached_property
    def description(self) -> str:
        """The plant in words, for those who cannot see it."""
        return describe(self.plant, self.reading, self.title)

    def marks(self, highlight: Highlight) -> dict[str, str]:
        """Class by tag or run name. Raises ValueError for a name or a style that is not known."""
        wanted = dict(highlight) if isinstance(highlight, Mapping) else dict.fromkeys(
            [highlight] if isinstance(highlight, str) else highlight, "look")
        names = {*self.plant.parts, *self.plant.run_names}
        for name, style in wanted.items():
            if name not in names:
                raise ValueError(f"{name!r} is neither a part nor a run of this plant")
            if style not in STYLES:
                raise ValueError(f"{style!r} is no highlight: use one of {', '.join(STYLES)}")
        return wanted

    def svg(self, highlight: Highlight = (), layers: Iterable[str] | None = None, width: float | None = None, *,
            flows: Mapping[str, float] | None = None, temperatures: Mapping[str, float] | None = None,
            findings: Iterable[Finding] = (), blank: bool = False) -> str:
        """The drawing as SVG text.

        highlight: tags and run names, or a mapping of them to 'right', 'wrong' or 'look'.
        layers: of 'tags', 'tints', 'figures', 'temperatures', 'evidence', 'findings' those that show; all, unless said.
        width: of the picture [px], kept even where the page is narrower, so that it scrolls; unless said, as wide as it is
        drawn and never wider than the page.
        flows: L/s by run name.  temperatures: °C by tag.  findings: what gets a numbered mark.
        blank: without tags and title, for tests.
        """
        shown = set(LAYERS if layers is None else layers)
        if unknown := shown - set(LAYERS):
            raise ValueError(f"no layer {', '.join(sorted(unknown))}: use {', '.join(LAYERS)}")
        marks = self.marks(highlight)
        overlays = self.overlay.svg(flows or {}, temperatures or {}, tuple(findings))
        hidden = [name for name in LAYERS if name not in shown]
        return self.painter.svg(marks, hidden, overlays, self.description, width, blank)

    def _repr_svg_(self) -> str:
        return self.svg()

    def __repr__(self) -> str:
        return self.description.partition("\n")[0]

    def show(self, flows: Mapping[str, float] | None = None, temperatures: Mapping[str, float] | None = None,
             highlight: Highlight = (), findings: Iterable[Finding] | bool = (),
             layers: Iterable[str] | None = None) -> Shown:
        """The drawing with figures, temperatures, highlights and findings on it, as an object that displays itself.

        findings: those to number, or True for all of the reading's.
        """
        found = self.reading.findings if findings is True else (findings or ())
        return Shown(self, self.svg(highlight, layers, flows=flows, temperatures=temperatures,
                                    findings=found))

    def save(self, path: str | Path, highlight: Highlight = (), layers: Iterable[str] | None = None, *,
             flows: Mapping[str, float] | None = None, temperatures: Mapping[str, float] | None = None,
             findings: Iterable[Finding] = (), blank: bool = False) -> Path:
        """Write the drawing as .svg, .png or .pdf. Raises ValueError for any other ending."""
        from .paper import save

        return save(self.svg(highlight, layers, flows=flows, temperatures=temperatures, findings=findings, blank=blank),
                    Path(path), self.description)


class Shown:
    """A drawing with something on it."""

    def __init__(self, diagram: Diagram, svg: str) -> None:
        self.diagram, self._svg = diagram, svg

    def _repr_svg_(self) -> str:
        return self._svg

    def __repr__(self) -> str:
        return repr(self.diagram)

    def save(self, path: str | Path) -> Path:
        """Write it as .svg, .png or .pdf."""
        from .paper import save

        return save(self._svg, Path(path), self.diagram.description)
