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
from typing import TYPE_CHECKING

from figures.plant.model import Plant
from figures.reading.record import Finding, Reading

from .describe import describe
from .ink import INKS, LAYERS, STYLES, Ink
from .overlay import Overlay
from .paint import Painter
from .place import place
from .placed import Placed
from .sizes import PAPER_MM, SIZES, Size
from .views import Step, dimmed, loops, missing, trace

if TYPE_CHECKING:
    from .ghosts import Ghost

Highlight = Iterable[str] | Mapping[str, str]


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

    @cached_property
    def loops(self) -> dict[str, tuple[str, ...]]:
        """What is shown of each loop, by the loop's name: tags and run names."""
        return loops(self.plant, self.reading)

    def trace(self, to: str | None = None) -> tuple[Step, ...]:
        """The way of the water from the lead boiler to a load and back, step by step.

        >>> from figures.plant.scheme import Scheme
        >>> diagram = Diagram(Scheme(boilers=1, tank="system loop").plant())
        >>> [step.names[-1] for step in diagram.trace("E1")][::len(diagram.trace("E1")) - 1]
        ['B1', 'B1']
        >>> diagram.show(highlight=diagram.trace("E1")[1].names)
        A plant without a name: one boiler, separated loops, DHW on the system loop.
        """
        return trace(self.plant, self.reading, to)

    @cached_property
    def ghosts(self) -> list[Ghost]:
        """Parts that are missing, each where it would be; those without room for them are left out."""
        from .ghosts import place_ghosts

        return place_ghosts(self.placed, missing(self.plant, self.reading), [box for *_, box in self.painter.named])[0]

    @cached_property
    def _overlay_clear_of_ghosts(self) -> Overlay:
        return Overlay(self.plant, self.placed, [*(box for *_, box in self.painter.named), *(g.box for g in self.ghosts)])

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
            findings: Iterable[Finding] = (), blank: bool = False, loop: str | None = None, missing: bool = False,
            size: Size = "screen", ink: Ink | None = None, legend: bool = True) -> str:
        """The drawing as SVG text.

        highlight: tags and run names, or a mapping of them to 'right', 'wrong' or 'look'.
        layers: of 'tags', 'tints', 'figures', 'temperatures', 'evidence', 'findings' those that show; all, unless said.
        width: of the picture [px], kept even where the page is narrower, so that it scrolls; unless said, as wide as it is
        drawn and never wider than the page.
        flows: L/s by run name.  temperatures: °C by tag.  findings: what gets a numbered mark.
        blank: without tags and title, for tests.  loop: one of `loops`; all else is drawn faintly.
        missing: with the parts that findings ask to be fitted, dashed, with a question mark.
        size: 'screen'; 'projector', tags readable from 8 m on a picture 2 m wide, scrolled where it is wider; 'phone', no
        text under 11 px, scrolled; 'a4' or 'letter', one landscape page.  ink: 'colour' or 'black'; paper is black unless said.
        legend: below it; a wall shows the plant larger without.

        >>> from figures.plant.scheme import Scheme
        >>> diagram = Diagram(Scheme(boilers=2, faults=("relief-missing",)).plant())
        >>> 'class="part dim"' in diagram.svg(loop="boiler loop"), "relief valve at B1" in diagram.svg(missing=True)
        (True, True)
        >>> 'mm"' in diagram.svg(size="a4"), "lbk-black" in diagram.svg(size="a4"), "lbk-black" in diagram.svg(ink="black")
        (True, True, True)
        """
        shown = set(LAYERS if layers is None else layers)
        if unknown := shown - set(LAYERS):
            raise ValueError(f"no layer {', '.join(sorted(unknown))}: use {', '.join(LAYERS)}")
        if size not in SIZES:
            raise ValueError(f"no size {size!r}: use {', '.join(SIZES)}")
        ink = ink or ("black" if size in PAPER_MM else "colour")
        if ink not in INKS:
            raise ValueError(f"no ink {ink!r}: use {', '.join(INKS)}")
        marks = self.marks(highlight)
        for name in dimmed(self.plant, self.reading, loop) if loop is not None else ():
            marks[name] = f"{marks[name]} dim" if name in marks else "dim"
        over = self._overlay_clear_of_ghosts if missing else self.overlay
        overlays = over.svg(flows or {}, temperatures or {}, tuple(findings))
        if missing:
            from .ghosts import ghosts_svg

            overlays = ghosts_svg(self.ghosts) + overlays
        hidden = [name for name in LAYERS if name not in shown]
        return self.painter.svg(marks, hidden, overlays, self.description, width, blank, ink, size, legend)

    def _repr_svg_(self) -> str:
        return self.svg()

    def __repr__(self) -> str:
        return self.description.partition("\n")[0]

    def show(self, flows: Mapping[str, float] | None = None, temperatures: Mapping[str, float] | None = None,
             highlight: Highlight = (), findings: Iterable[Finding] | bool = (), layers: Iterable[str] | None = None, *,
             blank: bool = False, loop: str | None = None, missing: bool = False, size: Size = "screen",
             ink: Ink | None = None) -> Shown:
        """The drawing with figures, temperatures, highlights and findings on it, as an object that displays itself.

        findings: those to number, or True for all of the reading's.  The rest as for `svg`.
        """
        found = self.reading.findings if findings is True else (findings or ())
        return Shown(self, self.svg(highlight, layers, flows=flows, temperatures=temperatures, findings=found, blank=blank,
                                    loop=loop, missing=missing, size=size, ink=ink), size)

    def save(self, path: str | Path, highlight: Highlight = (), layers: Iterable[str] | None = None, *,
             flows: Mapping[str, float] | None = None, temperatures: Mapping[str, float] | None = None,
             findings: Iterable[Finding] = (), blank: bool = False, loop: str | None = None, missing: bool = False,
             size: Size = "screen", ink: Ink | None = None) -> Path:
        """Write the drawing as .svg, .png or .pdf; of size 'a4' or 'letter' a .pdf is one such page. Raises ValueError for
        any other ending."""
        from .paper import save

        return save(self.svg(highlight, layers, flows=flows, temperatures=temperatures, findings=findings, blank=blank,
                             loop=loop, missing=missing, size=size, ink=ink), Path(path), self.description, size)


class Shown:
    """A drawing with something on it."""

    def __init__(self, diagram: Diagram, svg: str, size: Size = "screen") -> None:
        self.diagram, self._svg, self._size = diagram, svg, size

    def _repr_svg_(self) -> str:
        return self._svg

    def __repr__(self) -> str:
        return repr(self.diagram)

    def save(self, path: str | Path) -> Path:
        """Write it as .svg, .png or .pdf."""
        from .paper import save

        return save(self._svg, Path(path), self.diagram.description, self._size)
