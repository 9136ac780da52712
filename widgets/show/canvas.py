"""A drawing that can be pointed at and lit up, without being drawn anew."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from html import escape
from typing import TYPE_CHECKING, Literal, get_args

import traitlets

from .pieces import Piece, script
from .safely import safely

if TYPE_CHECKING:
    from figures.drawing import Diagram

Style = Literal["look", "right", "wrong"]
captioned = safely(lambda widget, text: getattr(widget, "canvas", widget).say(text),
                   then="Choose otherwise, or run the cell again.")
"""For what a press calls in a drawing, or in a widget that has one as its `canvas`: see `safely`."""
DESCRIPTION = re.compile(r"<desc>.*?</desc>", re.DOTALL)


def unread(diagram: Diagram) -> tuple[str, str]:
    """A drawing and its description that leave the reading to the learner: loops are neither tinted nor named.

    The tints stay in the drawing, hidden, so that they can be shown once the learner is done.
    """
    from figures.drawing.describe import describe

    words = describe(diagram.plant, None, diagram.title)
    desc = f"<desc>{escape(words)}</desc>"
    return DESCRIPTION.sub(lambda found: desc, diagram.svg(layers=("tags", "evidence")), count=1), words


class Canvas(Piece):
    """Shows an SVG whose groups carry `data-tag` or `data-run`.

    pickable: a click, Enter or space on a part or pipe sets `picked` to its name and counts `n` up; arrow keys
    go from one to the next.  marks: name → 'look', 'right' or 'wrong'; patched onto the drawing that stands.
    dimmed: names of what is drawn faintly, so that the rest stands out; a mark shows all the same.
    projected: so large that tags are read from 8 m on a picture 2 m wide; the drawing scrolls where it is wider.
    come_into_view: counted up, it scrolls the drawing to where it can be seen (a phone shows one thing at a time).
    hide: layers of the drawing that do not show.  description: the drawing in words, folded below it; its
    first line is what a screen reader calls the drawing.  caption: a line below it.

    >>> canvas = Canvas(svg="<svg xmlns='http://www.w3.org/2000/svg'/>")
    >>> canvas.light(["B1", "A>Z"])
    >>> canvas.marks
    {'B1': 'look', 'A>Z': 'look'}
    >>> canvas.light([])
    >>> canvas.marks, canvas.caption
    ({}, '')
    """

    _esm = script("canvas.js")
    svg = traitlets.Unicode("").tag(sync=True)
    marks = traitlets.Dict(key_trait=traitlets.Unicode(),
                           value_trait=traitlets.Enum(get_args(Style))).tag(sync=True)
    dimmed = traitlets.List(traitlets.Unicode()).tag(sync=True)
    projected = traitlets.Bool(False).tag(sync=True)
    come_into_view = traitlets.Int(0).tag(sync=True)
    pickable = traitlets.Bool(False).tag(sync=True)
    picked = traitlets.Unicode("").tag(sync=True)
    n = traitlets.Int(0).tag(sync=True)
    hide = traitlets.List(traitlets.Unicode()).tag(sync=True)
    description = traitlets.Unicode("").tag(sync=True)
    caption = traitlets.Unicode("").tag(sync=True)

    def say(self, text: str) -> None:
        """Another caption; the marks stay."""
        self.caption = text

    def light(self, names: Iterable[str] | Mapping[str, Style], style: Style = "look") -> None:
        """Light up these parts and pipes and nothing else; a mapping gives each its own style."""
        marks = dict(names) if isinstance(names, Mapping) else dict.fromkeys(names, style)
        with self.hold_sync():
            self.marks = marks
            self.caption = f"Lit up: {', '.join(marks)}" if marks else ""
